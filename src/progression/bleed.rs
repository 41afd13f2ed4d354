//! How much of the backing the microphone hears.

use realfft::RealFftPlanner;

/// Frames of this length, in seconds, half overlapping.
const FRAME_S: f64 = 0.09;
/// Where the backing has strokes and the guitar least, in Hz: the bass, whose partials lie on the
/// guitar's, is left out.
const LOWEST_HZ: f64 = 2_000.0;
const HIGHEST_HZ: f64 = 12_000.0;
/// Louder than this against the playing, the backing may be taken for strings, in dB. Measured: up to
/// here verdicts stay as they are (`scripts/timing.rs`).
pub const TOO_LOUD_DB: f64 = -20.0;
/// Softer than this it cannot be told from nothing, in dB.
pub const NOTHING_DB: f64 = -45.0;

/// Level of the backing in a recording against all that is in it, in dB (RMS over the stretch in which
/// both are there). `start_s`: where the backing starts in the recording. `None` where they hardly meet.
///
/// What of each frame goes with the backing's frame (their cross spectrum, at the strokes' high
/// frequencies) gives the factor by which it is heard.
pub fn bleed_db(recording: &[f32], backing: &[f32], start_s: f64, rate_hz: u32) -> Option<f64> {
    let rate = f64::from(rate_hz);
    let lag = (start_s * rate).round() as i64;
    let (skip_recording, skip_backing) = (lag.max(0) as usize, (-lag).max(0) as usize);
    let sound = recording.get(skip_recording..)?;
    let wanted = backing.get(skip_backing..)?;
    let length = sound.len().min(wanted.len());
    let (sound, wanted) = (&sound[..length], &wanted[..length]);
    let size = ((FRAME_S * rate) as usize).next_power_of_two();
    if length < 8 * size {
        return None;
    }
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
    let window: Vec<f32> = (0..size)
        .map(|i| {
            (std::f32::consts::PI * (i as f32 + 0.5) / size as f32)
                .sin()
                .powi(2)
        })
        .collect();
    let (mut a, mut b) = (fft.make_output_vec(), fft.make_output_vec());
    let mut input = fft.make_input_vec();
    let bin = |hz: f64| ((hz * size as f64 / rate) as usize).min(size / 2);
    let bins = bin(LOWEST_HZ)..bin(HIGHEST_HZ.min(0.45 * rate));
    let mut cross = vec![(0.0f64, 0.0f64); size / 2 + 1];
    let (mut own, mut frames) = (0.0, 0usize);
    let mut power = vec![0.0f64; size / 2 + 1];
    for from in (0..length - size).step_by(size / 2) {
        for (samples, spectrum) in [(sound, &mut a), (wanted, &mut b)] {
            let frame = samples[from..from + size].iter().zip(&window);
            input
                .iter_mut()
                .zip(frame)
                .for_each(|(to, (s, w))| *to = s * w);
            // The lengths are the plan's own, so this cannot fail.
            let _ = fft.process(&mut input, spectrum);
        }
        frames += 1;
        for k in bins.clone() {
            let c = a[k] * b[k].conj();
            cross[k].0 += f64::from(c.re);
            cross[k].1 += f64::from(c.im);
            power[k] += f64::from(b[k].norm_sqr());
        }
    }
    // The path is short: neighbouring bins have nearly one phase, and their sum loses what is chance.
    let mut with = 0.0;
    for part in bins.collect::<Vec<_>>().chunks(8) {
        let (re, im) = part
            .iter()
            .fold((0.0, 0.0), |s, k| (s.0 + cross[*k].0, s.1 + cross[*k].1));
        with += re.hypot(im);
        own += part.iter().map(|k| power[*k]).sum::<f64>();
    }
    if frames == 0 || own <= 0.0 {
        return None;
    }
    let factor = with / own;
    let mean = |samples: &[f32]| {
        samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / length as f64
    };
    let ratio = factor * factor * mean(wanted) / mean(sound).max(1e-20);
    Some(10.0 * ratio.max(1e-12).log10())
}
