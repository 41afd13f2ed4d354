//! Lines that an attack leaves ringing: narrow and steady ones in the spectrum that were not there before.

use std::sync::Arc;

use fourier::RealToComplex;
use fourier::num_complex::Complex;

use super::around::Around;
use crate::decibels;
use crate::spectrum::{hann, peak_shift};

/// Length of the windows compared; tells lines 22 Hz apart, and fits between strums 0.3 s apart.
pub(super) const WINDOW_S: f64 = 0.09;
/// Where there is time, windows this long tell lines 10 Hz apart: neighbouring strings, octaves.
pub(super) const LONG_WINDOW_S: f64 = 0.2;
/// Sound before an attack that is listened to, in seconds.
pub(super) const BEFORE_S: f64 = LONG_WINDOW_S + GUARD_S;
/// The attack itself is left out.
const AFTER_ATTACK_S: f64 = 0.015;
/// The windows stand as late as the next attack lets them, and end at most this long after the
/// last onset: knocks have died by then, and onsets too soft to be found are over.
pub(super) const LATEST_S: f64 = 0.35;
/// Time from the early to the late window, where the next attack leaves time for it.
const APART_S: f64 = 0.06;
const LEAST_APART_S: f64 = 0.02;
/// Windows end this long before the next attack, and the one before ends this long before the
/// attack.
const GUARD_S: f64 = 0.004;
/// Places of the windows are tried in steps of this.
const PLACE_STEP_S: f64 = 0.04;
/// Lines are sought between these, in Hz: fundamentals of a guitar and their lower partials.
const LOWEST_HZ: f64 = 65.0;
pub(super) const HIGHEST_HZ: f64 = 2_000.0;
/// Lines this far below the strongest are left out.
const WEAKEST_DB: f64 = -40.0;
/// A line stands this far above the valleys on both sides of it.
const VALLEY_DB: f64 = 6.0;
/// A line is new where it is this much stronger than what was there.
const NEW_DB: f64 = 4.0;
/// A line is steady where it moves no further than this between the windows.
const STEADY_HZ: f64 = 1.5;
/// ... and loses no more than this; T60 of 0.36 s.
const STEADY_LOSS_DB: f64 = 10.0;
const STEADY_GAIN_DB: f64 = 3.0;
/// Many new lines of a single series are a voice that has changed its pitch, not a chord struck again.
const ONE_VOICE: f64 = 0.85;
const VOICE_LINES: usize = 9;
/// Added to the share of a power that lines make up: none is -90 dB. The bounds of shares were set with it.
const NO_SHARE: f64 = 1e-9;
/// What was there before says nothing where it lies this far below what is new.
const BEFORE_MATTERS_DB: f64 = 20.0;
/// What rang before an attack is followed over this long, which tells where its lines would have gone on to.
const FOLLOWED_S: f64 = 0.04;
/// Lines this far below the strongest are not followed.
const FOLLOWED_DB: f64 = -25.0;
/// The most and the least that is left of a line's amplitude after [`FOLLOWED_S`].
const LEFT: (f64, f64) = (0.6, 1.02);
/// What rings on changes by this many dB while a string is picked beside it.
const KEPT_DB: (f64, f64) = (-8.0, 2.5);
/// A partial lies this near to its place, by the window's error; stiff strings place it higher.
const PARTIAL_TOLERANCE_HZ: f64 = 3.0;
/// Upper end of the stiffness of strings (published: 2e-5 to 1e-4 open, doubled six frets up).
const STIFFEST: f64 = 2e-4;
/// One series may also be a low voice's, in Hz.
const LOWEST_VOICE_HZ: f64 = 45.0;
/// Partials 3, 5 and 7.
const PRIME_PARTIALS: u32 = 1 << 3 | 1 << 5 | 1 << 7;
/// Above this stiffness blurs which partial belongs to which string.
const HIGHEST_PARTIAL_HZ: f64 = 1_200.0;
/// Mains hum stands this near to multiples of 50 or 60 Hz.
const HUM_TOLERANCE_HZ: f64 = 0.8;

/// One line of a spectrum.
#[derive(Debug, Clone, Copy)]
struct Line {
    hz: f64,
    power: f64,
    steady: bool,
    new: bool,
}

/// What was measured after an attack.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct RingingMeasures {
    /// New steady lines.
    pub lines: usize,
    /// Their share of the amplitude of all new lines.
    pub steady_share: f64,
    /// Their power against that of all sound in the window, in dB.
    pub tonal_db: f64,
    /// The same for all steady lines, new or not.
    pub tonal_all_db: f64,
    /// All sound against all sound before, in dB.
    pub gain_db: f64,
    /// Their power against what sounded before, in dB.
    pub lift_db: f64,
    /// Share of their amplitude that one harmonic series explains, and its fundamental.
    pub one_series: f64,
    pub fundamental_hz: f64,
    /// Share of what rang before that rings on as if nothing had happened.
    pub kept: f64,
    /// Share of what rang before that does not go on where its phase and decay would have taken it: struck anew, or
    /// stopped. A string that rings on undisturbed adds nothing, however its level beats.
    pub moved: f64,
    /// Share of their amplitude that is mains hum.
    pub hum: f64,
    /// Loss of all sound from the early to the late window, in dB per 60 ms.
    pub loss_db: f64,
}

impl RingingMeasures {
    /// Tells how plainly something rings: the share of the sound in new steady lines.
    pub fn clarity(&self) -> f64 {
        self.steady_share * decibels::to_amplitude(self.tonal_db)
    }

    /// Tells whether the new lines are those of a voice, which has many, of a single series.
    pub fn is_one_voice(&self) -> bool {
        self.one_series >= ONE_VOICE && self.lines >= VOICE_LINES
    }

    /// Tells whether what sounded before lies near enough to what is new for it to matter.
    pub fn something_rang(&self) -> bool {
        self.lift_db <= BEFORE_MATTERS_DB
    }
}

/// Three windows around an attack, planned once.
pub(super) struct Ringing {
    /// Samples a second of the recording, and of what is listened to.
    source_hz: f64,
    rate_hz: f64,
    length: usize,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    before: Vec<f64>,
    early: Vec<f64>,
    late: Vec<f64>,
    /// Spectra of two windows before the attack.
    followed: [Vec<Complex<f32>>; 2],
    lines: Vec<Line>,
    best_lines: Vec<(f64, f64)>,
}

impl Ringing {
    /// Plans for what `around` reads, with windows of `window_s`.
    pub fn new(around: &Around, window_s: f64) -> Self {
        let rate_hz = around.rate_hz();
        let length = (window_s * rate_hz).round() as usize;
        let size = (3 * length).next_power_of_two();
        let fft = fourier::forward(size);
        let bins = size / 2 + 1;
        Ringing {
            source_hz: rate_hz * around.factor() as f64,
            rate_hz,
            length,
            window: hann(length),
            input: fft.make_input_vec(),
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            followed: [fft.make_output_vec(), fft.make_output_vec()],
            fft,
            before: vec![0.0; bins],
            early: vec![0.0; bins],
            late: vec![0.0; bins],
            lines: Vec::new(),
            best_lines: Vec::new(),
        }
    }

    /// Sound needed after the last onset of an attack for a full hearing, in samples.
    pub fn reach(&self) -> u64 {
        self.samples(LATEST_S)
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * self.source_hz).round() as u64
    }

    /// Compares the sound after the attack with the sound before it. The attack's onsets lie
    /// between `first` and `last`; `until` is where the next attack or the end of the sound is: positions
    /// in the recording.
    pub fn hear(&mut self, around: &Around, first: u64, last: u64, until: u64) -> RingingMeasures {
        let length = self.length as u64 * around.factor();
        let guard = self.samples(GUARD_S);
        let mut before = std::mem::take(&mut self.before);
        let mut now = std::mem::take(&mut self.early);
        let mut late = std::mem::take(&mut self.late);
        // Before the recording began there was silence.
        match first.checked_sub(guard + length) {
            Some(from) => self.powers(around, from, &mut before),
            None => before.fill(0.0),
        }
        let soonest = last + self.samples(AFTER_ATTACK_S);
        let latest = until.saturating_sub(guard).min(last + self.reach());
        let spare = latest.saturating_sub(soonest + length);
        let apart = spare.clamp(self.samples(LEAST_APART_S), self.samples(APART_S));
        let mut early = soonest.max(latest.saturating_sub(length + apart));
        let mut best = RingingMeasures::default();
        self.best_lines.clear();
        // The chord may be damped before the next attack: then an earlier moment says more.
        loop {
            self.powers(around, early, &mut now);
            self.powers(around, early + apart, &mut late);
            let hearing = self.compare(&before, &now, &late, apart as f64 / self.source_hz);
            if hearing.clarity() > best.clarity() {
                best = hearing;
                self.best_lines.clear();
                self.best_lines
                    .extend(self.lines.iter().map(|l| (l.hz, l.power)));
            }
            let earlier = early.saturating_sub(self.samples(PLACE_STEP_S));
            if earlier < soonest {
                break;
            }
            early = earlier;
        }
        self.before = before;
        self.early = now;
        self.late = late;
        self.best_lines.sort_by(|a, b| b.1.total_cmp(&a.1));
        best
    }

    /// Share of the amplitude of the lines before an attack that does not go on: see [`RingingMeasures::moved`]. Everything is new
    /// where too little is known of what was before.
    pub fn moved(&mut self, around: &Around, first: u64, last: u64) -> f64 {
        let (length, follow) = (
            self.length as u64 * around.factor(),
            self.samples(FOLLOWED_S),
        );
        let Some(from) = first.checked_sub(self.samples(GUARD_S) + length + follow) else {
            return 1.0;
        };
        let places = [from, from + follow, last + self.samples(AFTER_ATTACK_S)];
        let mut power = std::mem::take(&mut self.before);
        for (at, place) in places[..2].iter().enumerate() {
            self.powers(around, *place, &mut power);
            std::mem::swap(&mut self.spectrum, &mut self.followed[at]);
        }
        let mut now = std::mem::take(&mut self.early);
        self.powers(around, places[2], &mut now);
        let seconds = |from, to| around.between(from, to) as f64 / self.source_hz;
        let (followed_s, ahead_s) = (seconds(places[0], places[1]), seconds(places[1], places[2]));
        let bin_hz = self.rate_hz / ((self.spectrum.len() - 1) * 2) as f64;
        let bin = |hz: f64| (hz / bin_hz).round() as usize;
        let range = bin(LOWEST_HZ)..bin(HIGHEST_HZ.min(0.45 * self.rate_hz));
        let strongest = power[range.clone()].iter().fold(0.0, |m: f64, p| m.max(*p));
        let (mut all, mut moved) = (1e-12, 0.0);
        for b in range {
            if !is_line(
                &power,
                b,
                bin(25.0),
                strongest * decibels::to_power(FOLLOWED_DB),
            ) {
                continue;
            }
            let [was, is, came] = [self.followed[0][b], self.followed[1][b], self.spectrum[b]]
                .map(|c| Complex::new(f64::from(c.re), f64::from(c.im)));
            let turn = std::f64::consts::TAU * interpolate(&power, b) * bin_hz;
            let step = is / (was + 1e-12);
            let off = (step * Complex::from_polar(1.0, -turn * followed_s)).arg();
            let times = ahead_s / followed_s;
            let decay = step.norm().clamp(LEFT.0, LEFT.1).powf(times);
            let due = is * Complex::from_polar(decay, turn * ahead_s + off * times);
            let error = (came - due).norm() / came.norm().max(due.norm()).max(1e-12);
            all += is.norm();
            moved += is.norm() * error.min(1.0);
        }
        self.before = power;
        self.early = now;
        moved / all
    }

    /// The new steady lines of the last hearing: frequency in Hz and power, strongest first.
    pub fn lines(&self) -> &[(f64, f64)] {
        &self.best_lines
    }

    fn powers(&mut self, around: &Around, from: u64, into: &mut [f64]) {
        self.input.fill(0.0);
        let sound = around.from(from).iter().zip(&self.window);
        for (input, (s, w)) in self.input.iter_mut().zip(sound) {
            *input = s * w;
        }
        // The lengths are the plan's own, so this cannot fail.
        let _ =
            self.fft
                .process_with_scratch(&mut self.input, &mut self.spectrum, &mut self.scratch);
        // A full-scale sine reads 1.
        let norm = (4.0 / self.length as f64).powi(2);
        for (p, c) in into.iter_mut().zip(&self.spectrum) {
            *p = f64::from(c.norm_sqr()) * norm;
        }
    }

    fn compare(
        &mut self,
        before: &[f64],
        early: &[f64],
        late: &[f64],
        apart_s: f64,
    ) -> RingingMeasures {
        let bin_hz = self.rate_hz / ((self.spectrum.len() - 1) * 2) as f64;
        let bin = |hz: f64| (hz / bin_hz).round() as usize;
        let range = bin(LOWEST_HZ)..bin(HIGHEST_HZ.min(0.45 * self.rate_hz));
        let strongest = early[range.clone()].iter().fold(0.0, |m: f64, p| m.max(*p));
        if strongest <= 1e-12 {
            return RingingMeasures::default();
        }
        let db = decibels::to_power::<f64>;
        let valley = bin(25.0);
        // Losses are judged over the time that really lies between the windows.
        let loss = db(-STEADY_LOSS_DB * apart_s / APART_S);
        self.lines.clear();
        for b in range.clone() {
            if !is_line(early, b, valley, strongest * db(WEAKEST_DB)) {
                continue;
            }
            let was = before[b - 1].max(before[b]).max(before[b + 1]);
            let new = early[b] >= was * db(NEW_DB);
            let hz = interpolate(early, b) * bin_hz;
            let reach = (STEADY_HZ / bin_hz).ceil() as usize + 1;
            let then = (b - reach..=b + reach)
                .filter(|&c| late[c] >= late[c - 1] && late[c] > late[c + 1])
                .max_by(|&c, &d| late[c].total_cmp(&late[d]));
            let steady = then.is_some_and(|c| {
                let moved = (interpolate(late, c) * bin_hz - hz).abs();
                moved < STEADY_HZ
                    && late[c] > early[b] * loss
                    && late[c] < early[b] * db(STEADY_GAIN_DB)
            });
            self.lines.push(Line {
                hz,
                power: early[b],
                steady,
                new,
            });
        }
        let kept = kept(before, early, range.clone(), valley);
        let sum = |f: &dyn Fn(&Line) -> f64| self.lines.iter().map(f).sum::<f64>();
        let all = sum(&|l| if l.new { l.power.sqrt() } else { 0.0 });
        let old_power = sum(&|l| if l.steady && !l.new { l.power } else { 0.0 });
        self.lines.retain(|l| l.steady && l.new);
        let sum = |f: &dyn Fn(&Line) -> f64| self.lines.iter().map(f).sum::<f64>();
        let amplitude = sum(&|l| l.power.sqrt());
        let power = sum(&|l| l.power);
        let total = |s: &[f64]| {
            let lobe = 1.5 * self.rate_hz / self.length as f64 / bin_hz;
            s[range.clone()].iter().sum::<f64>() / lobe + 1e-15
        };
        let (one_series, fundamental_hz) = best_series(&self.lines);
        let hum = [50.0, 60.0]
            .map(|mains| {
                sum(&|l| {
                    let off = (l.hz - mains * (l.hz / mains).round()).abs();
                    if off < HUM_TOLERANCE_HZ {
                        l.power.sqrt()
                    } else {
                        0.0
                    }
                })
            })
            .into_iter()
            .fold(0.0, f64::max);
        RingingMeasures {
            lines: self.lines.len(),
            steady_share: amplitude / all.max(1e-12),
            tonal_db: decibels::of_power(power / total(early) + NO_SHARE),
            tonal_all_db: decibels::of_power((power + old_power) / total(early) + NO_SHARE),
            gain_db: decibels::of_power(total(early) / total(before)),
            lift_db: decibels::of_power(power / total(before) + NO_SHARE),
            one_series,
            fundamental_hz,
            kept,
            moved: 1.0,
            hum: hum / amplitude.max(1e-12),
            loss_db: decibels::of_power(total(early) / total(late)) * APART_S / apart_s,
        }
    }
}

/// Share of the amplitude of the lines before that is still there, hardly weaker and no stronger.
fn kept(before: &[f64], now: &[f64], range: std::ops::Range<usize>, valley: usize) -> f64 {
    let strongest = before[range.clone()]
        .iter()
        .fold(0.0, |m: f64, p| m.max(*p));
    let (mut all, mut same) = (1e-12, 0.0);
    for b in range {
        if !is_line(before, b, valley, strongest * 1e-3) {
            continue;
        }
        let amplitude = before[b].sqrt();
        all += amplitude;
        let change_db = decibels::of_power(now[b].max(now[b - 1]).max(now[b + 1]) / before[b]);
        if (KEPT_DB.0..KEPT_DB.1).contains(&change_db) {
            same += amplitude;
        }
    }
    same / all
}

/// A local maximum above `least` with valleys on both sides.
fn is_line(power: &[f64], b: usize, valley: usize, least: f64) -> bool {
    if power[b] < least || power[b] < power[b - 1] || power[b] <= power[b + 1] {
        return false;
    }
    let deep = power[b] * decibels::to_power(-VALLEY_DB);
    let side = |mut bins: Box<dyn Iterator<Item = usize>>| {
        bins.find_map(|c| {
            if power[c] > power[b] {
                Some(false)
            } else if power[c] < deep {
                Some(true)
            } else {
                None
            }
        })
        .unwrap_or(false)
    };
    side(Box::new((b.saturating_sub(valley)..b).rev())) && side(Box::new(b + 1..b + valley + 1))
}

/// Position of a maximum between bins, from a parabola through the decibels.
fn interpolate(power: &[f64], b: usize) -> f64 {
    let levels = [power[b - 1], power[b], power[b + 1]].map(|p| (p + 1e-30).ln());
    b as f64 + peak_shift(levels)
}

/// The harmonic series that explains most of the lines' amplitude: its share and fundamental.
fn best_series(lines: &[Line]) -> (f64, f64) {
    let low = lines.iter().take_while(|l| l.hz < HIGHEST_PARTIAL_HZ);
    let all: f64 = low.clone().map(|l| l.power.sqrt()).sum();
    let mut best = (0.0, 0.0, 0.0);
    for line in low.clone() {
        for part in [1.0, 2.0, 3.0, 4.0] {
            let f0 = line.hz / part;
            if !(LOWEST_VOICE_HZ..=1_000.0).contains(&f0) {
                continue;
            }
            let mut explained = 0.0;
            let mut present = 0u32;
            for l in low.clone() {
                let n = (l.hz / f0).round().max(1.0);
                let sharp = l.hz - n * f0;
                let stiff = 0.5 * STIFFEST * n * n * l.hz;
                let slack = 0.2 * f0;
                if sharp > -PARTIAL_TOLERANCE_HZ.min(slack)
                    && sharp < (PARTIAL_TOLERANCE_HZ + stiff).min(slack)
                {
                    explained += l.power.sqrt();
                    present |= 1 << (n as u32).min(31);
                }
            }
            // A low string may hide its fundamental. But chords, too, stand on a common
            // fundamental that nobody plays; they lack its seventh partial.
            if part > 1.0 && present & PRIME_PARTIALS != PRIME_PARTIALS {
                continue;
            }
            // Of two that explain the same, the higher.
            let share = explained / all.max(1e-12);
            let score = share + 0.03 * (f0 / LOWEST_VOICE_HZ).log2();
            if score > best.0 {
                best = (score, share, f0);
            }
        }
    }
    (best.1, best.2)
}
