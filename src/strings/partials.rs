//! View of each partial of each note for the network: its complex amplitude, frame by frame.

use std::ops::Range;

use fourier::num_complex::{Complex32, Complex64};
use rayon::prelude::*;

use super::fit::Fit;
use super::notes::{CandidateNote, CandidateNotes};
use super::spectra::Spectra;
use crate::decibels;
use crate::fretboard::MOST_BESIDE;
use crate::layers::{Matrix, add_product};
use crate::spectrum::hann;

/// Frames around the attack: length of one in seconds, the first one's centre after the first onset,
/// the step, and how many. They show when a string is struck and how fast it dies.
const SHORT: Stretch = Stretch {
    length_s: 0.06,
    from_s: -0.05,
    step_s: 0.02,
    count: 24,
};
/// Longer ones, after the last onset: they tell nearer partials apart, by their beating too.
const LONG: Stretch = Stretch {
    length_s: 0.3,
    from_s: 0.19,
    step_s: 0.15,
    count: 6,
};
const FRAMES: usize = SHORT.count + LONG.count;
/// Line spectra in which a partial's standing is read.
const WINDOWS: usize = 4;

/// Numbers a partial is described by: level in every frame, the short ones' over their highest, real
/// and imaginary part, standing and peak in every line spectrum, place, fit.
pub const WIDTH: usize = 3 * FRAMES + SHORT.count + 2 * WINDOWS + 3 + 4;

/// Partials of an expected note that are looked at, and of another one.
pub const MOST_EXPECTED: usize = 16;
/// Partials of a note that is not expected.
pub const MOST_OTHER: usize = 8;
/// Rows of a string: its expected note's partials, then those of [`MOST_BESIDE`] others.
pub const MOST_ROWS: usize = MOST_EXPECTED + MOST_BESIDE * MOST_OTHER;

/// What a network that sees partials is fitted by.
pub(super) const CONSTANTS: [(&str, f32); 15] = [
    ("expected", MOST_EXPECTED as f32),
    ("other", MOST_OTHER as f32),
    ("others", MOST_BESIDE as f32),
    ("frames", FRAMES as f32),
    ("short_frames", SHORT.count as f32),
    ("short_length_s", SHORT.length_s as f32),
    ("short_from_s", SHORT.from_s as f32),
    ("short_step_s", SHORT.step_s as f32),
    ("long_length_s", LONG.length_s as f32),
    ("long_from_s", LONG.from_s as f32),
    ("long_step_s", LONG.step_s as f32),
    ("windows", WINDOWS as f32),
    ("partial_numbers", WIDTH as f32),
    ("compressed", COMPRESSED),
    ("least", LEAST),
];

/// Amplitudes are raised to this power, phases kept: quiet frames are seen beside loud ones.
const COMPRESSED: f32 = 0.3;
/// What is lower than this part of the loudest counts as nothing.
const LEAST: f32 = 1e-5;
/// No amplitude counts as less loud than this, so that silence is divided by something.
const QUIETEST: f32 = 1e-6;

#[derive(Clone, Copy)]
struct Stretch {
    length_s: f64,
    from_s: f64,
    step_s: f64,
    count: usize,
}

/// A note as the network sees it.
#[derive(Debug, Clone)]
pub struct SeenNote {
    /// String index (0 = string 6).
    pub string: usize,
    /// Fret, counted from the nut or the capo.
    pub fret: u8,
    /// The fret expected of that string, where that is another one or none.
    pub instead_of: Option<Option<u8>>,
    /// Frequency of each partial in Hz.
    pub hz: Vec<f32>,
    /// [`WIDTH`] numbers a partial.
    pub rows: Vec<f32>,
}

/// A strum as the network sees it.
#[derive(Debug, Clone)]
pub struct Seen {
    /// The expected notes first.
    pub notes: Vec<SeenNote>,
    /// Seconds from the last onset to the end, and from the first to the last.
    pub available_s: f32,
    /// Seconds from the first onset to the last.
    pub spread_s: f32,
}

/// Looks at all partials of `notes`.
pub fn see(spectra: &Spectra, notes: &CandidateNotes) -> Seen {
    let framed = Framed::new(spectra);
    let expected = notes
        .expected
        .iter()
        .flatten()
        .map(|n| (n, None, MOST_EXPECTED));
    let others = notes.others.iter().flatten().map(|n| {
        let instead_of = notes.expected[n.string].map(|e| e.fret);
        (n, Some(instead_of), MOST_OTHER)
    });
    let all: Vec<_> = expected.chain(others).collect();
    let looked_at: Vec<_> = all
        .into_par_iter()
        .map(|(note, instead_of, most)| (note, instead_of, framed.partials(&note.fit, most)))
        .collect();
    let loudest = (looked_at
        .iter()
        .filter(|(_, instead_of, _)| instead_of.is_none()))
    .flat_map(|(_, _, partials)| partials)
    .map(Partial::highest)
    .fold(QUIETEST, f32::max);
    let seen =
        |(note, instead_of, partials): &(&CandidateNote, Option<Option<u8>>, Vec<Partial>)| {
            let mut rows = Vec::with_capacity(partials.len() * WIDTH);
            for partial in partials {
                partial.describe(spectra, &note.fit, loudest, &mut rows);
            }
            SeenNote {
                string: note.string,
                fret: note.fret,
                instead_of: *instead_of,
                hz: partials.iter().map(|p| p.hz).collect(),
                rows,
            }
        };
    Seen {
        notes: looked_at.par_iter().map(seen).collect(),
        available_s: spectra.available_s,
        spread_s: spectra.spread_s,
    }
}

/// The frames of one strum, cut into blocks, so that all blocks are multiplied with all of a note's lines at once.
struct Framed {
    frames: Vec<Frame>,
    /// Samples under the windows, scaled so that a line's amplitude comes out: block after block, [`BLOCK`] each.
    samples: Vec<f32>,
    rate_hz: f64,
}

struct Frame {
    /// Its blocks, the last one filled up with zeros; none where the strum does not reach.
    blocks: Range<usize>,
    /// First sample, counted from the first onset.
    begin: f64,
}

/// Samples of a block: as many as keep the table of a note's lines small.
const BLOCK: usize = 128;

/// One partial of a note.
struct Partial {
    hz: f32,
    /// Complex amplitude in every frame.
    amplitudes: [Complex32; FRAMES],
    /// 1 is the fundamental.
    n: usize,
}

impl Framed {
    /// Windows the strum that `spectra` holds.
    fn new(spectra: &Spectra) -> Framed {
        let rate_hz = spectra.rate_hz();
        let (first, last) = spectra.onsets;
        let mut frames = Vec::with_capacity(FRAMES);
        let mut samples: Vec<f32> = Vec::new();
        for (stretch, onset) in [(SHORT, first), (LONG, last)] {
            // A line of amplitude 1 sums to 1.
            let mut window = hann((stretch.length_s * rate_hz) as usize);
            let gain = 2.0 / window.iter().sum::<f32>();
            window.iter_mut().for_each(|w| *w *= gain);
            for k in 0..stretch.count {
                let centre = onset as f64 + (stretch.from_s + stretch.step_s * k as f64) * rate_hz;
                let begin = centre as isize - (window.len() / 2) as isize;
                let reached = usize::try_from(begin).ok();
                let part = reached.and_then(|b| spectra.low.get(b..b + window.len()));
                let from = samples.len();
                if let Some(part) = part {
                    samples.extend(part.iter().zip(&window).map(|(s, w)| s * w));
                    samples.resize(samples.len().next_multiple_of(BLOCK), 0.0);
                }
                frames.push(Frame {
                    blocks: from / BLOCK..samples.len() / BLOCK,
                    begin: begin as f64 - first as f64,
                });
            }
        }
        Framed {
            frames,
            samples,
            rate_hz,
        }
    }

    /// The first `most` partials of a note.
    fn partials(&self, fit: &Fit, most: usize) -> Vec<Partial> {
        let count = fit.count.min(most);
        let turn = |n: usize| -std::f64::consts::TAU * f64::from(fit.hz(n)) / self.rate_hz;
        // Real and imaginary part of each line's turning, from sample to sample of a block.
        let width = 2 * count;
        let mut turning = vec![0.0; BLOCK * width];
        for n in 1..=count {
            let (step, mut z) = (Complex64::cis(turn(n)), Complex64::new(1.0, 0.0));
            for at in turning.chunks_exact_mut(width) {
                at[2 * n - 2..2 * n].copy_from_slice(&[z.re as f32, z.im as f32]);
                z *= step;
            }
        }
        let blocks = self.samples.len() / BLOCK;
        let mut sums = vec![0.0; blocks * width];
        let samples = Matrix {
            values: &self.samples,
            row: BLOCK,
            column: 1,
        };
        let lines = Matrix {
            values: &turning,
            row: width,
            column: 1,
        };
        let shape = (blocks, BLOCK, width);
        add_product(shape, samples, lines, 1.0, (&mut sums, width));
        let (sums, _) = sums.as_chunks::<2>();
        (1..=count)
            .map(|n| Partial {
                hz: fit.hz(n),
                amplitudes: self.amplitudes(turn(n), |block| sums[block * count + n - 1]),
                n,
            })
            .collect()
    }

    /// Complex amplitude in every frame of a line that turns by `turn` from sample to sample: real and imaginary part
    /// of what it comes to in each block are in `sums`.
    fn amplitudes(&self, turn: f64, sums: impl Fn(usize) -> [f32; 2]) -> [Complex32; FRAMES] {
        let step = Complex64::cis(turn * BLOCK as f64);
        std::array::from_fn(|k| {
            let frame = &self.frames[k];
            let mut ahead = Complex64::cis(turn * frame.begin);
            let mut sum = Complex64::default();
            for block in frame.blocks.clone() {
                let [re, im] = sums(block).map(f64::from);
                sum += Complex64::new(re, im) * ahead;
                ahead *= step;
            }
            Complex32::new(sum.re as f32, sum.im as f32)
        })
    }
}

impl Partial {
    /// Highest magnitude in any frame.
    fn highest(&self) -> f32 {
        self.amplitudes.iter().map(|a| a.norm()).fold(0.0, f32::max)
    }

    /// Appends [`WIDTH`] numbers to `row`, levels against `loudest`, the loudest partial's highest magnitude.
    fn describe(&self, spectra: &Spectra, fit: &Fit, loudest: f32, row: &mut Vec<f32>) {
        let magnitudes = self.amplitudes.map(|a| a.norm() / loudest);
        let level = |m: f32| {
            if m > 0.0 {
                (m + LEAST).log10() + 2.0
            } else {
                0.0
            }
        };
        let levels = magnitudes.map(level);
        row.extend(levels);
        let top = levels[..SHORT.count]
            .iter()
            .copied()
            .fold(f32::MIN, f32::max);
        row.extend(
            magnitudes[..SHORT.count]
                .iter()
                .zip(&levels)
                .map(|(&m, l)| if m > 0.0 { (l - top).max(-4.0) } else { 0.0 }),
        );
        // Phases against the mean one, which depends on when the string was struck.
        let mean: Complex32 = (self.amplitudes[..SHORT.count].iter().zip(&magnitudes))
            .map(|(a, m)| a * *m)
            .sum();
        let turned = self.amplitudes.iter().zip(&magnitudes).map(|(a, m)| {
            a * mean.conj() / (mean.norm() + 1e-12 * loudest) / loudest
                * (m + LEAST).powf(COMPRESSED - 1.0)
        });
        row.extend(turned.clone().map(|c| c.re));
        row.extend(turned.map(|c| c.im));
        let windows = [&spectra.early, &spectra.mid, &spectra.long, &spectra.late];
        let reference_db = decibels::of_amplitude(loudest);
        row.extend(windows.map(|s| match s.is_filled() {
            true => s.standing_near_db(self.hz, s.reach_hz()) / 20.0,
            false => 0.0,
        }));
        row.extend(windows.map(|s| match s.is_filled() {
            true => ((s.peak_db(self.hz, s.reach_hz()) - reference_db) / 20.0).clamp(-6.0, 2.0),
            false => 0.0,
        }));
        row.extend([
            (self.hz / 440.0).log2(),
            self.n as f32 / 8.0,
            1.0 / self.n as f32,
        ]);
        row.extend([
            fit.cents / 25.0,
            fit.decades,
            fit.score / 100.0,
            fit.used as f32 / 28.0,
        ]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectrum::partials::partial_hz;
    use crate::strings::Moments;

    const RATE_HZ: u32 = 44_100;

    /// A string struck at 0.3 s that falls at `fall` a second.
    fn seen(fall: f64) -> (Fit, Partial) {
        let fit = Fit::nominal(220.0, 5e-5, 5_000.0);
        let samples: Vec<f32> = (0..66_150)
            .map(|i| {
                let t = f64::from(i) / f64::from(RATE_HZ) - 0.3;
                let on = if t < 0.0 { 0.0 } else { (-fall * t).exp() };
                (1..=4)
                    .map(|n| {
                        on * (std::f64::consts::TAU * partial_hz(fit.f0_hz, fit.b, n) * t).sin()
                    })
                    .sum::<f64>() as f32
            })
            .collect();
        let mut spectra = Spectra::new(RATE_HZ);
        let at = (0.3 * f64::from(RATE_HZ)) as usize;
        spectra.fill(
            &samples,
            Moments {
                first: at,
                last: at,
                end: samples.len(),
            },
        );
        let partial = Framed::new(&spectra).partials(&fit, 2).pop().expect("two");
        (fit, partial)
    }

    #[test]
    fn a_line_is_seen_with_its_own_amplitude_and_nothing_before_it() {
        let (_, partial) = seen(0.0);
        assert!(
            partial.amplitudes[0].norm() < 1e-3,
            "{}",
            partial.amplitudes[0]
        );
        for frame in &partial.amplitudes[6..FRAMES] {
            assert!((frame.norm() - 1.0).abs() < 0.01, "{frame}");
        }
    }

    #[test]
    fn a_line_that_dies_is_seen_to_die() {
        let (_, partial) = seen(10.0);
        let fall = (partial.amplitudes[20].norm() / partial.amplitudes[10].norm()).ln();
        // Ten steps of 20 ms.
        assert!((fall + 2.0).abs() < 0.02, "{fall}");
    }

    #[test]
    fn the_phase_of_a_line_that_stands_where_it_should_does_not_turn() {
        let (_, partial) = seen(0.0);
        let turned = partial.amplitudes[29] * partial.amplitudes[8].conj();
        assert!(turned.arg().abs() < 0.02, "{}", turned.arg());
    }

    #[test]
    fn a_partial_is_described_by_as_many_numbers_as_it_should_be() {
        let (fit, partial) = seen(1.0);
        let mut row = Vec::new();
        partial.describe(&Spectra::new(RATE_HZ), &fit, 1.0, &mut row);
        assert_eq!(row.len(), WIDTH);
        assert!(row.iter().all(|v| v.is_finite()), "{row:?}");
    }
}
