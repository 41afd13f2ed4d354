//! Strums that were not found as takes: the same chord struck again while it rings changes its sound
//! little. Among strums that were found, attacks as strong as theirs are taken for strums too; outside
//! of playing along, where nobody says when a strum is due, that would be rash.

use realfft::RealFftPlanner;

use crate::take::{Manner, Strum};

/// Frames, and the step from one to the next, in seconds.
const FRAME_S: f64 = 0.02;
const HOP_S: f64 = 0.005;
/// Bands of a third of an octave between these, in Hz.
const LOWEST_HZ: f64 = 100.0;
const HIGHEST_HZ: f64 = 8_000.0;
/// A frame is held against the loudest of those that ended so many frames before.
const LAGS: std::ops::RangeInclusive<usize> = 4..=6;
/// One band's rise counts up to this, in dB.
const RISE_CAP_DB: f64 = 24.0;
/// An attack must rise by this share of what the strums found do (the middle one) ...
const RISE_SHARE: f64 = 0.4;
/// ... and its sound be no softer than this below theirs, in dB.
const SOFTER_DB: f64 = 12.0;
/// How loud it is, is read over this long after it, in seconds.
const LOUD_S: f64 = 0.1;
/// Nearer than this to another it is the same strum, in seconds: the strings of one strum span as much.
const APART_S: f64 = 0.2;
/// A take ends this long before the next one's first onset, in seconds.
const MARGIN_S: f64 = 0.003;

/// Adds to `strums`, which were found in `samples`, the attacks between them that are as strong.
pub fn with_attacks(samples: &[f32], rate_hz: u32, mut strums: Vec<Strum>) -> Vec<Strum> {
    let rate = f64::from(rate_hz);
    let rises = rises(samples, rate);
    let frame = |s: f64| (s / HOP_S).round().max(0.0) as usize;
    let around = |s: f64| {
        let (from, to) = (
            frame(s - FRAME_S),
            frame(s + 3.0 * FRAME_S).min(rises.len()),
        );
        rises
            .get(from..to)
            .unwrap_or(&[])
            .iter()
            .fold(0.0, |p: f64, r| p.max(*r))
    };
    let loud_db = |s: f64| {
        let from = ((s * rate) as usize).min(samples.len());
        let to = (from + (LOUD_S * rate) as usize).min(samples.len());
        let power: f64 = samples[from..to]
            .iter()
            .map(|x| f64::from(*x).powi(2))
            .sum();
        10.0 * (power + 1e-12).log10()
    };
    let middle = |values: Vec<f64>| super::timing::quantile(values, 0.5);
    let mut times: Vec<f64> = strums.iter().map(Strum::start_s).collect();
    let (Some(rise), Some(loud)) = (
        middle(times.iter().map(|t| around(*t)).collect()),
        middle(times.iter().map(|t| loud_db(*t)).collect()),
    ) else {
        return strums;
    };
    let reach = frame(APART_S) / 2;
    let mut more: Vec<f64> = Vec::new();
    for (index, value) in rises.iter().enumerate() {
        let near = &rises[index.saturating_sub(reach)..(index + reach).min(rises.len())];
        if *value < RISE_SHARE * rise || near.iter().any(|other| other > value) {
            continue;
        }
        // The frame that rises most holds the attack in its middle.
        let at = index as f64 * HOP_S + FRAME_S / 2.0;
        let alone = times.iter().all(|t| (t - at).abs() > APART_S);
        if alone && loud_db(at) > loud - SOFTER_DB {
            more.push(at);
            times.push(at);
        }
    }
    more.sort_by(f64::total_cmp);
    for at in more {
        let onset = (at * rate) as usize;
        let next = strums
            .iter()
            .map(|s| s.first as usize + s.onsets[0])
            .filter(|o| *o > onset)
            .min();
        let end = next.map_or(samples.len(), |n| {
            n.saturating_sub((MARGIN_S * rate) as usize)
        });
        // The strum before ends where this one begins.
        if let Some(before) = (strums.iter_mut())
            .filter(|s| s.first as usize + s.onsets[0] < onset)
            .max_by_key(|s| s.first + s.onsets[0] as u64)
        {
            let keep = onset.saturating_sub((MARGIN_S * rate) as usize)
                - (before.first as usize).min(onset);
            if keep < before.samples.len() {
                before.samples.truncate(keep);
                before.onsets.retain(|o| *o < keep);
                before.cut_by_next = true;
            }
        }
        let first = onset.saturating_sub((Strum::PRE_ROLL_S * rate) as usize);
        strums.push(Strum {
            samples: samples[first..end.max(onset)].to_vec(),
            rate_hz,
            first: first as u64,
            onsets: vec![onset - first],
            manner: Manner::Strummed,
            cut_by_next: next.is_some(),
        });
        strums.sort_by_key(|s| s.first + s.onsets[0] as u64);
    }
    strums
}

/// How much the bands rise at each frame, in dB: the mean over all bands.
fn rises(samples: &[f32], rate: f64) -> Vec<f64> {
    let (frame, hop) = ((FRAME_S * rate) as usize, HOP_S * rate);
    let size = (2 * frame).next_power_of_two();
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
    let (mut input, mut spectrum) = (fft.make_input_vec(), fft.make_output_vec());
    let window: Vec<f32> = (0..frame)
        .map(|i| {
            (std::f32::consts::PI * (i as f32 + 0.5) / frame as f32)
                .sin()
                .powi(2)
        })
        .collect();
    let mut edges = vec![];
    let mut hz = LOWEST_HZ;
    while hz < HIGHEST_HZ.min(0.45 * rate) {
        edges.push((hz * size as f64 / rate).round() as usize);
        hz = (hz * 2f64.powf(1.0 / 3.0)).max(hz + 1.5 * rate / size as f64);
    }
    let frames = (samples.len().saturating_sub(frame) as f64 / hop) as usize;
    let mut powers: Vec<Vec<f64>> = Vec::with_capacity(frames);
    for index in 0..frames {
        let from = (index as f64 * hop) as usize;
        input.fill(0.0);
        for ((to, sample), w) in input.iter_mut().zip(&samples[from..]).zip(&window) {
            *to = sample * w;
        }
        // The lengths are the plan's own, so this cannot fail.
        let _ = fft.process(&mut input, &mut spectrum);
        let band = |pair: &[usize]| -> f64 {
            spectrum[pair[0]..pair[1]]
                .iter()
                .map(|c| f64::from(c.norm_sqr()))
                .sum()
        };
        powers.push(edges.windows(2).map(band).collect());
    }
    let bands = edges.len().saturating_sub(1);
    // A band's floor: what it holds in its quietest tenth, with some room.
    let floors: Vec<f64> = (0..bands)
        .map(|b| {
            let all = powers.iter().map(|p| p[b]).collect();
            3.0 * super::timing::quantile(all, 0.1).unwrap_or(0.0) + 1e-9
        })
        .collect();
    (0..frames)
        .map(|index| {
            if index < *LAGS.end() {
                return 0.0;
            }
            let rise = |b: usize| {
                let before = LAGS.map(|lag| powers[index - lag][b]).fold(0.0, f64::max);
                let ratio = (powers[index][b] + floors[b]) / (before + floors[b]);
                (10.0 * ratio.log10()).clamp(0.0, RISE_CAP_DB)
            };
            (0..bands).map(rise).sum::<f64>() / bands.max(1) as f64
        })
        .collect()
}
