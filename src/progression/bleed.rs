//! The backing in the microphone: how loud it is, and a recording without it.
//!
//! The backing is taken out by Wiener's filter of a short path, since the backing is known. It is read between the
//! partials that are played: each place of the spectrum counts by how little of the playing lies within 25 Hz.

use std::sync::Arc;

use fourier::num_complex::{Complex32, Complex64};
use fourier::{ComplexToReal, RealToComplex};

use crate::audio::{Mono, PIECE};
use crate::decibels;

/// Frames of this length, in seconds, half overlapping.
const FRAME_S: f64 = 0.15;
/// How loud the playing is at a place of a frame's spectrum is read this far around it, in Hz: the place
/// itself, alone, would count for least where it holds the backing.
const AROUND_HZ: f64 = 25.0;
/// ... and is never less than this share of the frame's mean.
const LEAST_AROUND: f64 = 1e-6;
/// Below this mean power (full scale 1) a frame holds no sound: no microphone is so quiet.
const HOLE: f64 = 1e-12;
/// The way from loudspeaker to microphone: sound of the backing that comes so long before and after the
/// lag found, in seconds.
const PATH_BEFORE_S: f64 = 0.005;
const PATH_AFTER_S: f64 = 0.03;
/// Where the backing has strokes and the guitar least, in Hz: the bass, whose partials lie on the
/// guitar's, says nothing of the level.
const LOWEST_HZ: f64 = 2_000.0;
const HIGHEST_HZ: f64 = 12_000.0;
/// Louder than this against the playing, the backing may be taken for strings, in dB.
pub const TOO_LOUD_DB: f64 = -20.0;
/// Softer than this it cannot be told from nothing, in dB.
pub const NOTHING_DB: f64 = -40.0;

/// Share of a known backing in a recording.
pub struct Bleed<'a> {
    /// Level of the backing against the whole recording, in dB, RMS over the stretch that both have.
    pub level_db: f64,
    /// The recording without it.
    pub without: Without<'a>,
}

/// Finds the backing in a recording. `start_s`: where it starts there. `None` where they hardly meet.
///
/// The path is the filter that takes the backing to what of the recording goes with it: the cross
/// spectrum over the backing's own (Wiener's filter), kept short so that chance cannot fill it.
pub fn bleed<'a>(
    recording: &'a dyn Mono,
    backing: &'a dyn Mono,
    start_s: f64,
    rate_hz: u32,
) -> Option<Bleed<'a>> {
    let rate = f64::from(rate_hz);
    let lag = (start_s * rate).round() as i64;
    let (skip_recording, skip_backing) = (lag.max(0) as usize, (-lag).max(0) as usize);
    let left = recording.len().checked_sub(skip_recording)?;
    let length = left.min(backing.len().checked_sub(skip_backing)?);
    let size = ((FRAME_S * rate) as usize).next_power_of_two();
    if length < 8 * size {
        return None;
    }
    let sound = Stretch::of(recording, skip_recording, length);
    let wanted = Stretch::of(backing, skip_backing, length);
    let plan = FrameFft::new(size);
    let (path, chance) = plan.path(&sound, &wanted, rate);
    let bins = |hz: f64| ((hz * size as f64 / rate) as usize).min(size / 2);
    let strokes = bins(LOWEST_HZ)..bins(HIGHEST_HZ.min(0.45 * rate));
    let strength = |path: &[Complex32]| {
        let all: f64 = path[strokes.clone()]
            .iter()
            .map(|p| f64::from(p.norm_sqr()))
            .sum();
        all / strokes.len().max(1) as f64
    };
    // What chance puts into any stretch of that length is no backing.
    let gain = strength(&path) - strength(&chance);
    let level_db = decibels::of_power(
        (gain * wanted.power() / sound.power().max(1e-20)).max(decibels::SILENCE),
    );
    let without = Without {
        recording,
        from: skip_recording,
        backing: wanted,
        plan,
        path,
    };
    Some(Bleed { level_db, without })
}

/// A stretch of a sound.
struct Stretch<'a> {
    sound: &'a dyn Mono,
    from: usize,
    length: usize,
}

impl<'a> Stretch<'a> {
    fn of(sound: &'a dyn Mono, from: usize, length: usize) -> Self {
        Stretch {
            sound,
            from,
            length,
        }
    }

    /// Fills `into` from a place in the stretch on; silence follows its end.
    fn read(&self, from: usize, into: &mut [f32]) {
        let count = self.length.saturating_sub(from).min(into.len());
        self.sound.read(self.from + from, &mut into[..count]);
        into[count..].fill(0.0);
    }

    /// Its mean power, full scale 1.
    fn power(&self) -> f64 {
        let mut sum = 0.0;
        let range = self.from..self.from + self.length;
        self.sound.pieces(range, PIECE, &mut |piece| {
            piece.iter().for_each(|s| sum += f64::from(*s).powi(2));
        });
        sum / self.length as f64
    }
}

/// A recording without its backing, which is taken out where it is read.
pub struct Without<'a> {
    recording: &'a dyn Mono,
    /// Where the backing's stretch begins in the recording.
    from: usize,
    backing: Stretch<'a>,
    plan: FrameFft,
    /// From the loudspeaker to the microphone.
    path: Vec<Complex32>,
}

impl Mono for Without<'_> {
    fn len(&self) -> usize {
        self.recording.len()
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        self.recording.read(from, into);
        let ahead = self.from.saturating_sub(from).min(into.len());
        let into = &mut into[ahead..];
        let mut part = vec![0.0; into.len()];
        let from = (from + ahead).saturating_sub(self.from);
        self.plan
            .filtered(&self.backing, &self.path, from, &mut part);
        for (s, b) in into.iter_mut().zip(&part) {
            *s -= b;
        }
    }
}

/// Sound that was taken out of a recording.
pub(super) struct TakenOut<'a> {
    pub recording: &'a dyn Mono,
    /// The recording without it.
    pub without: &'a dyn Mono,
}

impl Mono for TakenOut<'_> {
    fn len(&self) -> usize {
        self.recording.len()
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        self.recording.read(from, into);
        let mut without = vec![0.0; into.len()];
        self.without.read(from, &mut without);
        for (s, w) in into.iter_mut().zip(&without) {
            *s -= w;
        }
    }
}

/// Frames of one length, planned once.
struct FrameFft {
    size: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    window: Vec<f32>,
}

impl FrameFft {
    fn new(size: usize) -> Self {
        FrameFft {
            size,
            forward: fourier::forward(size),
            inverse: fourier::inverse(size),
            window: (0..size)
                .map(|i| {
                    (std::f32::consts::PI * (i as f32 + 0.5) / size as f32)
                        .sin()
                        .powi(2)
                })
                .collect(),
        }
    }

    /// Spectrum of the first `count` samples from a place on, which no more than a frame holds; zeros stand behind them.
    fn spectrum(
        &self,
        sound: &Stretch,
        from: usize,
        count: usize,
        out: &mut [Complex32],
        windowed: bool,
    ) {
        let mut input = vec![0f32; self.size];
        sound.read(from, &mut input[..count]);
        if windowed {
            (input.iter_mut().zip(&self.window)).for_each(|(s, w)| *s *= w);
        }
        // The lengths are the plan's own, so this cannot fail.
        let _ = self.forward.process(&mut input, out);
    }

    /// The filter from `wanted` to its share in `sound`, as a spectrum; and what chance gives instead:
    /// the same from a stretch of the response where no path can be, half a frame away.
    fn path(
        &self,
        sound: &Stretch,
        wanted: &Stretch,
        rate: f64,
    ) -> (Vec<Complex32>, Vec<Complex32>) {
        let bins = self.size / 2 + 1;
        let mut cross = vec![Complex64::default(); bins];
        let mut own = vec![0f64; bins];
        let (mut a, mut b) = (
            self.forward.make_output_vec(),
            self.forward.make_output_vec(),
        );
        let mut sums = Vec::with_capacity(bins + 1);
        let near = (AROUND_HZ * self.size as f64 / rate).round() as usize;
        for from in (0..sound.length - self.size).step_by(self.size / 2) {
            self.spectrum(sound, from, self.size, &mut a, true);
            self.spectrum(wanted, from, self.size, &mut b, true);
            // Each place counts by how softly it is played over: loud playing is loud chance, and a
            // guitar is loud at its partials only.
            sums.clear();
            sums.push(0.0);
            for c in &a {
                sums.push(sums[sums.len() - 1] + f64::from(c.norm_sqr()));
            }
            // A hole in the recording says nothing of the path.
            if sums[bins] < HOLE * (self.size * self.size) as f64 {
                continue;
            }
            let least = sums[bins] / bins as f64 * LEAST_AROUND;
            for k in 0..bins {
                let around = k.saturating_sub(near)..bins.min(k + near + 1);
                let playing = (sums[around.end] - sums[around.start]) / around.len() as f64;
                let weight = 1.0 / (playing + least);
                let c = a[k] * b[k].conj();
                cross[k] += Complex64::new(c.re.into(), c.im.into()) * weight;
                own[k] += f64::from(b[k].norm_sqr()) * weight;
            }
        }
        let usual = own.iter().sum::<f64>() / bins as f64;
        let mut path: Vec<Complex32> = (cross.iter().zip(&own))
            .map(|(c, o)| {
                let h = c / (o + 1e-3 * usual);
                Complex32::new(h.re as f32, h.im as f32)
            })
            .collect();
        let mut chance = path.clone();
        // Turned by half a frame: every second bin changes its sign.
        chance.iter_mut().skip(1).step_by(2).for_each(|h| *h = -*h);
        self.shorten(&mut path, rate);
        self.shorten(&mut chance, rate);
        (path, chance)
    }

    /// Keeps what of a filter's response lies within the path's length.
    fn shorten(&self, path: &mut [Complex32], rate: f64) {
        let mut response = self.inverse.make_output_vec();
        // Both ends of a real signal's spectrum are real.
        path[0].im = 0.0;
        path[self.size / 2].im = 0.0;
        let _ = self.inverse.process(path, &mut response);
        let (before, after) = (
            (PATH_BEFORE_S * rate) as usize,
            (PATH_AFTER_S * rate) as usize,
        );
        for (i, r) in response.iter_mut().enumerate() {
            let kept = i < after || i >= self.size - before;
            *r = if kept { *r / self.size as f32 } else { 0.0 };
        }
        let _ = self.forward.process(&mut response, path);
    }

    /// Adds what comes out of the filter from a place of `sound` on to `out`: pieces of half a frame, laid over each
    /// other.
    fn filtered(&self, sound: &Stretch, path: &[Complex32], begin: usize, out: &mut [f32]) {
        let mut spectrum = self.forward.make_output_vec();
        let mut piece = self.inverse.make_output_vec();
        let half = self.size / 2;
        // What a piece gives: the last quarter holds what the filter puts before it.
        let (before, after) = (self.size / 4, self.size * 3 / 4);
        let end = sound.length.min(begin + out.len());
        let first = (begin + 1).saturating_sub(after).next_multiple_of(half);
        for from in (first..sound.length.min(end + before)).step_by(half) {
            let count = half.min(sound.length - from);
            self.spectrum(sound, from, count, &mut spectrum, false);
            spectrum.iter_mut().zip(path).for_each(|(s, p)| *s *= p);
            spectrum[0].im = 0.0;
            spectrum[half].im = 0.0;
            let _ = self.inverse.process(&mut spectrum, &mut piece);
            for (i, value) in piece.iter().enumerate() {
                let at = match i < after {
                    true => Some(from + i),
                    false => (from + i).checked_sub(self.size),
                };
                let Some(at) = at.filter(|at| (begin..end).contains(at)) else {
                    continue;
                };
                out[at - begin] += value / self.size as f32;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};

    #[test]
    fn a_backing_through_a_short_path_is_measured_and_taken_out() {
        let mut rng = SmallRng::seed_from_u64(3);
        let mut noise =
            |n: usize| -> Vec<f32> { (0..n).map(|_| rng.random_range(-0.1..0.1)).collect() };
        let (rate_hz, seconds) = (16_000, 30);
        let backing = noise(rate_hz * seconds);
        let playing = noise(rate_hz * seconds);
        let lag = 4_000;
        let mut recording = playing.clone();
        // Direct sound and an echo: -20 dB in all.
        for (at, s) in recording.iter_mut().enumerate().skip(lag + 40) {
            *s += 0.08 * backing[at - lag] + 0.06 * backing[at - lag - 40];
        }
        let found = bleed(
            &recording,
            &backing,
            lag as f64 / rate_hz as f64,
            rate_hz as u32,
        )
        .unwrap();
        assert!((found.level_db + 20.0).abs() < 1.5, "{}", found.level_db);
        let power = |a: &[f32]| a.iter().map(|s| s * s).sum::<f32>();
        let without = found.without.part(0..recording.len());
        let left: Vec<f32> = without.iter().zip(&playing).map(|(a, b)| a - b).collect();
        let was: Vec<f32> = recording.iter().zip(&playing).map(|(a, b)| a - b).collect();
        // Half a minute of equally loud chance leaves about a tenth: 233 frames, of each of which the
        // path keeps a seventh, against a backing of a hundredth.
        assert!(power(&left[lag..]) < 0.2 * power(&was[lag..]));
        // Whoever reads pieces reads the same.
        let mut read = Vec::new();
        (found.without).pieces(0..recording.len(), 1_717, &mut |piece| {
            read.extend_from_slice(piece);
        });
        assert_eq!(read, without);
    }

    #[test]
    fn where_there_is_no_backing_hardly_any_is_found() {
        let mut rng = SmallRng::seed_from_u64(4);
        let mut noise =
            |n: usize| -> Vec<f32> { (0..n).map(|_| rng.random_range(-0.1..0.1)).collect() };
        let (backing, playing) = (noise(480_000), noise(480_000));
        let found = bleed(&playing, &backing, 0.0, 16_000).unwrap();
        assert!(found.level_db < -20.0, "{}", found.level_db);
        assert!(bleed(&playing, &backing, 29.9, 16_000).is_none());
    }
}
