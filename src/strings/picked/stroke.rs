//! One pluck, and the lines that are new since it.

use crate::decibels;
use crate::spectrum::{LinePlan, LineSpectrum, WeighedLines};

/// The stretch before a pluck that tells what sounded already, and the one after it that tells what is
/// new, in seconds from the pluck.
const BEFORE_S: (f64, f64) = (-0.28, -0.012);
const AFTER_S: (f64, f64) = (0.02, 0.30);
/// Shorter than this a stretch says nothing, in seconds.
const SHORTEST_S: f64 = 0.06;
/// Lines are looked for between these, in Hz: fundamentals and lower partials.
pub const LINES_HZ: (f32, f32) = (65.0, 2_500.0);
/// A line stands at least this far above its surroundings, and at most so far below the strongest, in dB.
const LINE_DB: f32 = 8.0;
const LINE_RANGE_DB: f32 = 45.0;
/// A line is new where it is this much stronger than what was there, in dB.
const NEW_DB: f32 = 3.0;
/// A line before moves no further than this, in Hz.
const SAME_HZ: f32 = 4.0;

/// One pluck and what was new after it.
#[derive(Debug, Clone)]
pub struct Stroke {
    /// New lines.
    pub lines: WeighedLines,
    /// The pluck, and where what was before begins, in samples.
    pub from: usize,
    pub before: usize,
}

/// Reads strokes: planned once.
pub struct StrokeReader {
    rate_hz: f64,
    plan: LinePlan,
    before: LineSpectrum,
    after: LineSpectrum,
}

impl StrokeReader {
    /// Plans for sound at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let plan = LinePlan::new(rate_hz);
        StrokeReader {
            rate_hz,
            before: plan.spectrum(),
            after: plan.spectrum(),
            plan,
        }
    }

    /// Reads what is new in `sound` after each of `onsets`, rising indices into it.
    pub fn read(&mut self, sound: &[f32], onsets: &[usize], strokes: &mut Vec<Stroke>) {
        strokes.clear();
        for (k, &at) in onsets.iter().enumerate() {
            let to = onsets.get(k + 1).copied().unwrap_or(sound.len());
            let previous = if k == 0 { 0 } else { onsets[k - 1] };
            let moment = |s: f64| (at as f64 + s * self.rate_hz).max(0.0) as usize;
            let before = moment(BEFORE_S.0).max(previous);
            let (until, since) = (moment(BEFORE_S.1), moment(AFTER_S.0));
            let late = moment(AFTER_S.1).min(to);
            let shortest = SHORTEST_S * self.rate_hz;
            fill(
                &mut self.plan,
                sound,
                before,
                until,
                shortest,
                &mut self.before,
            );
            fill(
                &mut self.plan,
                sound,
                since,
                late,
                shortest,
                &mut self.after,
            );
            strokes.push(Stroke {
                lines: self.new_lines(),
                from: at,
                before,
            });
        }
    }

    /// Lines after a stroke that were not there before it.
    fn new_lines(&self) -> WeighedLines {
        if !self.after.is_filled() {
            return WeighedLines::default();
        }
        let lines = self.after.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB);
        WeighedLines::new(lines.into_iter().filter_map(|(hz, _)| {
            let now = self.after.at_db(hz);
            let was = match self.before.is_filled() {
                true => self.before.peak_db(hz, SAME_HZ),
                false => f32::MIN,
            };
            let new = decibels::to_power(now) - decibels::to_power(was);
            (now >= was + NEW_DB).then_some((hz, new))
        }))
    }
}

/// The spectrum of a stretch, where it is long enough.
fn fill(
    plan: &mut LinePlan,
    sound: &[f32],
    from: usize,
    to: usize,
    shortest: f64,
    into: &mut LineSpectrum,
) {
    let to = to.min(sound.len());
    if (to.saturating_sub(from)) as f64 >= shortest {
        plan.fill(&sound[from..to], into);
    } else {
        into.clear();
    }
}
