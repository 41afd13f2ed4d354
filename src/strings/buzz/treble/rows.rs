//! A string's lines as rows of numbers: their levels frame by frame, and how the power lies from line to line.

use std::ops::Range;

use super::level;
use super::lines::StringLines;
use super::spectrum::Spectrum;
use crate::strings::fit::distance_hz;

/// Lines below this are low: a few are looked at one by one, for what the treble is held against.
const TREBLE_HZ: f32 = 900.0;
const LOW_LINES: usize = 4;
/// Lines of the treble are taken together where their numbers lie within this ratio.
const TOGETHER: f64 = 1.1;
/// Most rows of a string.
pub const ROWS: usize = 32;
/// A line may be this far off in a short frame and in a long window, in Hz.
const SHORT_REACH_HZ: f32 = 10.0;
const LONG_REACH_HZ: f32 = 8.0;
/// Lines nearer than this to another string's are not this string's own, in Hz.
const OWN_HZ: f32 = 8.0;
/// From line to line: bounds in shares of the distance, and places in Hz from the line.
const SHARES: [f32; 8] = [-0.5, -0.35, -0.2, -0.08, 0.08, 0.2, 0.35, 0.5];
const OFFSETS_HZ: [f32; 6] = [-8.0, -4.0, 0.0, 4.0, 8.0, 16.0];
pub const PROFILE: usize = SHARES.len() - 1 + OFFSETS_HZ.len() + 1;
/// Halfway to the next line, in shares of the distance.
const BETWEEN: (f32, f32) = (0.35, 0.65);
/// Numbers that say where lines lie.
pub const PLACES: usize = 9;

/// Numbers of a row, for so many frames and windows.
pub const fn width(frames: usize, windows: usize) -> usize {
    2 * frames + 2 * windows * PROFILE + PLACES
}

/// Spectra that the lines of a string are read from.
pub struct TrebleSpectra<'a> {
    pub frames: &'a [Spectrum],
    pub windows: &'a [Spectrum],
    /// Level that levels are held against.
    pub low: f32,
}

/// The mean frequency in Hz of the lines of each row, and their numbers, of a string with `own` lines and
/// a pitch of `f1_hz`; `others` are the other strings' lines, ascending.
pub fn describe(
    sound: &TrebleSpectra,
    own: &StringLines,
    f1_hz: f32,
    others: &[f32],
) -> (Vec<f32>, Vec<f32>) {
    let (mut hz, mut rows) = (Vec::new(), Vec::new());
    for group in groups(own) {
        let distance = |n: usize| distance_hz(others, own.hz[n]);
        hz.push(mean(group.clone().map(|n| own.hz[n])));
        let alone: Vec<usize> = group.clone().filter(|&n| distance(n) > OWN_HZ).collect();
        let share = alone.len() as f32 / group.len() as f32;
        let read = match alone.is_empty() {
            true => group.clone().collect(),
            false => alone,
        };
        sound.put_frames(&mut rows, own, &read);
        let lines = read.iter().map(|&n| (own.hz[n], own.spacing_hz(n)));
        sound.put_profiles(&mut rows, &lines.collect::<Vec<_>>());
        // What strikes once a period drives it at whole multiples of its pitch, wherever its own partials are.
        let whole = |n: usize| (own.hz[n] / f1_hz).round() as usize;
        let multiples = whole(group.start)..=whole(group.end - 1);
        let multiples = multiples.map(|k| (k as f32 * f1_hz, f1_hz));
        sound.put_profiles(&mut rows, &multiples.collect::<Vec<_>>());
        let middle = group.start + group.len() / 2;
        let spacing_hz = own.spacing_hz(middle);
        rows.extend([
            (own.hz[middle] / 2_000.0).log2(),
            (middle + 1) as f32 / 32.0,
            (group.len() as f32).ln(),
            (spacing_hz / 200.0).log2(),
            mean(group.clone().map(|n| distance(n).min(300.0).ln_1p())) / 4.0,
            share,
            4.0 * (spacing_hz / own.hz[0] - 1.0),
            f32::from(u8::from(own.hz[middle] < TREBLE_HZ)),
            own.decades * 4.0,
        ]);
    }
    (hz, rows)
}

/// Lines that are taken together, as indices into [`StringLines::hz`].
fn groups(lines: &StringLines) -> Vec<Range<usize>> {
    let low = lines.hz.iter().take_while(|hz| **hz < TREBLE_HZ).count();
    let mut groups: Vec<_> = (0..low.min(LOW_LINES)).map(|n| n..n + 1).collect();
    let mut from = low;
    while from < lines.hz.len() && groups.len() < ROWS {
        let next = (((from + 1) as f64 * TOGETHER) as usize).saturating_sub(1);
        let to = next.max(from + 1).min(lines.hz.len());
        groups.push(from..to);
        from = to;
    }
    groups
}

fn mean(values: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), v| (sum + v, count + 1.0));
    sum / f32::max(count, 1.0)
}

impl TrebleSpectra<'_> {
    /// Levels on the lines and between them, frame by frame.
    fn put_frames(&self, row: &mut Vec<f32>, lines: &StringLines, read: &[usize]) {
        let mut put = |of: &dyn Fn(&Spectrum, usize) -> f32| {
            row.extend(self.frames.iter().map(|f| match f.is_filled() {
                true => mean(read.iter().map(|&n| level(of(f, n), self.low))),
                false => 0.0,
            }));
        };
        put(&|f, n| f.highest(lines.hz[n] - SHORT_REACH_HZ, lines.hz[n] + SHORT_REACH_HZ));
        put(&|f, n| {
            let (hz, step_hz) = (lines.hz[n], lines.spacing_hz(n));
            f.mean(hz + BETWEEN.0 * step_hz, hz + BETWEEN.1 * step_hz)
        });
    }

    /// Levels from halfway below `lines` (each with the distance to the next) to halfway above, window by window.
    fn put_profiles(&self, row: &mut Vec<f32>, lines: &[(f32, f32)]) {
        for window in self.windows {
            if !window.is_filled() {
                row.extend([0.0; PROFILE]);
                continue;
            }
            let mut put = |of: &dyn Fn(f32, f32) -> f32| {
                let levels = lines
                    .iter()
                    .map(|&(hz, step_hz)| level(of(hz, step_hz), self.low));
                row.push(mean(levels));
            };
            for bounds in SHARES.windows(2) {
                put(&|hz, step| window.mean(hz + bounds[0] * step, hz + bounds[1] * step));
            }
            for offset_hz in OFFSETS_HZ {
                put(&|hz, _| window.at(hz + offset_hz));
            }
            put(&|hz, _| window.highest(hz - LONG_REACH_HZ, hz + LONG_REACH_HZ));
        }
    }
}
