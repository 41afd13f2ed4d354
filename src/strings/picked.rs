//! A picked pass: each string read at its own moment, on what is new since it was plucked.
//!
//! One string alone has no octave beside it that starts with it, only what the strings before it still
//! sound. So the question is simpler than in a strum, and needs no trained model: which note is new, on
//! which string can it be, and how does it die away?

use super::dying::{Dying, Note};
use super::notes::other_frets;
use super::stiffness::usual_b;
use super::whole::REACH_TUNING_CENTS;
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::partials::{flexible_hz, partial_hz, shifted_hz};
use crate::spectrum::{Decimator, LinePlan, LineSpectrum};

/// The stretch before a pluck that tells what sounded already, and the one after it that tells what is
/// new, in seconds from the pluck.
const BEFORE_S: (f64, f64) = (-0.28, -0.012);
const AFTER_S: (f64, f64) = (0.02, 0.30);
/// Shorter than this a stretch says nothing, in seconds.
const SHORTEST_S: f64 = 0.06;
/// Lines are looked for between these, in Hz: fundamentals and lower partials.
const LINES_HZ: (f32, f32) = (65.0, 2_500.0);
/// A line stands at least this far above its surroundings, and at most so far below the strongest, in dB.
const LINE_DB: f32 = 8.0;
const LINE_RANGE_DB: f32 = 45.0;
/// A line is new where it is this much stronger than what was there, in dB.
const NEW_DB: f32 = 3.0;
/// A line before moves no further than this, in Hz.
const SAME_HZ: f32 = 4.0;
/// Lines count by their amplitude to this power: the strongest lead, but do not decide alone.
const WEIGHT_POWER: f32 = 0.5;
/// Partials looked at of one note.
const PARTIALS: usize = 16;
/// Of these at least some must be there, or the note is another one's overtone series.
const LOW_PARTIALS: usize = 6;
/// A line belongs to a partial this near, in Hz and in cents of it.
const NEAR_HZ: f64 = 1.5;
const NEAR_CENTS: f64 = 12.0;
/// A string may be off the guitar's own tuning by less than half a fret.
const REACH_CENTS: f64 = 45.0;
const STEP_CENTS: f64 = 3.0;
/// Of places that explain the same the one nearest to in tune.
const PER_CENT_OFF: f32 = 0.0005;

/// One pluck and what was new after it.
#[derive(Debug, Clone)]
struct Stroke {
    /// New lines: frequency in Hz, weight; rising.
    lines: Vec<(f32, f32)>,
    /// Sum of their weights.
    total: f32,
    /// The pluck, the next one or the end, and where what was before begins, in samples.
    from: usize,
    to: usize,
    before: usize,
}

/// A note on a string as a stroke sounds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounded {
    pub string: usize,
    pub fret: u8,
    /// Off the guitar's common tuning.
    pub cents: f32,
    /// 0 to 1: how much of what is new the note explains, times how complete it is.
    pub fit: f32,
}

/// Reads picked passes: planned once.
pub struct Picked {
    decimator: Decimator,
    plan: LinePlan,
    low: Vec<f32>,
    before: LineSpectrum,
    after: LineSpectrum,
    strokes: Vec<Stroke>,
    dying: Dying,
}

/// What one string of a pass did after it was plucked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plucked {
    /// The note that it sounds, as far as one is heard.
    pub note: Sounded,
    /// 0 to 1: how probable it is that this note is what sounds.
    pub known: f32,
    /// 0 to 1: how probable it is that the note is heard and rings on.
    pub rings: f32,
    /// 0 to 1: how probable it is that what sounds rings on, whatever it is.
    pub lasts: f32,
    /// 0 to 1: where it does not ring on, how probable it is that it rang for some tenths of a second.
    pub choked: f32,
    /// Whether there was sound for long enough to tell.
    pub told: bool,
}

/// What a pass over the strings says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// Common offset of the guitar, in cents.
    pub tuning_cents: f64,
    /// Share of the strokes that a note of the voicing, or one near it, explains.
    pub explained: f32,
    /// Strings 6 to 1; `None` where no stroke fell on it.
    pub strings: [Option<Plucked>; STRINGS],
}

/// A note that explains this much is heard: of 1,700 notes that rang, 1 in 100 lay below 0.37, of 440
/// dead ones 1 in 100 above 0.32 (composed passes, all guitars).
const KNOWN_FIT: f32 = 0.30;
const FIT_STEEPNESS: f32 = 30.0;

impl Picked {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let decimator = Decimator::new(rate_hz);
        let plan = LinePlan::new(decimator.rate_hz());
        Picked {
            low: Vec::new(),
            before: plan.spectrum(),
            after: plan.spectrum(),
            strokes: Vec::new(),
            dying: Dying::default(),
            plan,
            decimator,
        }
    }

    /// Reads what is new after each of `onsets`, indices into `samples`.
    pub fn fill(&mut self, samples: &[f32], onsets: &[usize]) {
        self.decimator.run(samples, &mut self.low);
        let factor = self.decimator.factor();
        let onsets: Vec<usize> = onsets
            .iter()
            .map(|onset| (onset / factor).min(self.low.len()))
            .collect();
        self.read_strokes(&onsets);
    }

    /// Reads what is new after each onset, an index into the decimated samples.
    fn read_strokes(&mut self, onsets: &[usize]) {
        let rate = self.decimator.rate_hz();
        let end = self.low.len();
        self.strokes.clear();
        for (k, &at) in onsets.iter().enumerate() {
            let next = onsets.get(k + 1).copied().unwrap_or(end);
            let previous = if k == 0 { 0 } else { onsets[k - 1] };
            let moment = |s: f64| (at as f64 + s * rate).max(0.0) as usize;
            let from = moment(BEFORE_S.0).max(previous);
            read(
                &mut self.plan,
                &self.low,
                from,
                moment(BEFORE_S.1),
                &mut self.before,
                rate,
            );
            let to = moment(AFTER_S.1).min(next);
            read(
                &mut self.plan,
                &self.low,
                moment(AFTER_S.0),
                to,
                &mut self.after,
                rate,
            );
            let mut lines = Vec::new();
            if self.after.is_filled() {
                for (hz, _) in self.after.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB) {
                    let now = self.after.at_db(hz);
                    let was = match self.before.is_filled() {
                        true => self.before.peak_db(hz, SAME_HZ),
                        false => f32::MIN,
                    };
                    if now >= was + NEW_DB {
                        let new = 10f32.powf(now / 10.0) - 10f32.powf(was / 10.0);
                        lines.push((hz, new.powf(0.5 * WEIGHT_POWER)));
                    }
                }
            }
            self.strokes.push(Stroke {
                total: lines.iter().map(|l| l.1).sum(),
                lines,
                from: at,
                to: next,
                before: from,
            });
        }
    }

    /// The common offset of the guitar, in cents: where the expected notes explain most.
    fn tuning_cents(&self, tuning: &Tuning, frets: &Frets) -> f64 {
        let steps = (REACH_TUNING_CENTS / STEP_CENTS) as i32;
        let score = |cents: f64| -> f32 {
            self.strokes
                .iter()
                .map(|stroke| {
                    frets
                        .sounding()
                        .map(|(s, f)| stroke.fit(tuning, s, f, cents))
                        .fold(0.0, f32::max)
                })
                .sum()
        };
        (-steps..=steps)
            .map(|i| f64::from(i) * STEP_CENTS)
            .map(|cents| (cents, score(cents) - PER_CENT_OFF * cents.abs() as f32))
            .fold((0.0, f32::MIN), |a, b| if b.1 > a.1 { b } else { a })
            .0
    }

    /// The common offset of the guitar, and what each string did.
    pub fn hear(&mut self, tuning: &Tuning, frets: &Frets) -> Pass {
        let tuning_cents = self.tuning_cents(tuning, frets);
        let (notes, struck) = loop {
            let best = |stroke: &Stroke| {
                std::array::from_fn(|s| stroke.best_note(s, tuning, frets, tuning_cents))
            };
            let notes: Vec<[Sounded; STRINGS]> = self.strokes.iter().map(best).collect();
            let struck = assign(&notes, frets);
            // A soft pluck under strings that ring is easily missed where nobody knows what to expect.
            let missed = (0..STRINGS)
                .filter(|&s| struck[s].is_none())
                .flat_map(|s| {
                    let others = other_frets(frets, s)
                        .into_iter()
                        .map(|f| (f, OTHER_FRET_DB));
                    let notes = frets.0[s].map(|f| (f, 0.0)).into_iter().chain(others);
                    notes.map(move |(fret, more_db)| (s, fret, more_db))
                })
                .filter_map(|(s, fret, more_db)| {
                    self.missed(s, fret, more_db, tuning, tuning_cents)
                })
                .max_by(|a, b| a.1.total_cmp(&b.1));
            match missed {
                Some((at, _)) if self.strokes.len() < MOST_STROKES => {
                    let mut onsets: Vec<usize> = self.strokes.iter().map(|s| s.from).collect();
                    onsets.push(at);
                    onsets.sort_unstable();
                    self.read_strokes(&onsets);
                }
                _ => break (notes, struck),
            }
        };
        let courses: [Option<Course>; STRINGS] = std::array::from_fn(|s| {
            let note = &notes[struck[s]?][s];
            Some(self.course(struck[s]?, note, tuning, tuning_cents))
        });
        // How loud a ringing string of this pass begins: the middle one.
        let mut peaks: Vec<f32> = courses
            .iter()
            .flatten()
            .filter(|c| c.lasts() > 0.0)
            .map(|c| c.peak_db)
            .collect();
        peaks.sort_by(f32::total_cmp);
        let usual_db = peaks.get(peaks.len() / 2).copied();
        let explained = notes
            .iter()
            .map(|of| of.iter().map(|n| n.fit).fold(0.0, f32::max))
            .filter(|&fit| fit >= KNOWN_FIT)
            .count();
        let strings = std::array::from_fn(|s| {
            let (stroke, course) = (struck[s]?, courses[s]?);
            let note = notes[stroke][s];
            let known = logistic((note.fit - KNOWN_FIT) * FIT_STEEPNESS);
            let lasts = course.lasts();
            let choked = match lasts > 0.0 {
                true => 1.0,
                false => {
                    let fret = frets.0[s].unwrap_or(note.fret);
                    let above_usual_db = usual_db.map(|usual| course.peak_db - usual);
                    logistic(self.choked(stroke, (s, fret), above_usual_db, tuning, tuning_cents))
                }
            };
            Some(Plucked {
                note,
                known,
                rings: known.min(logistic(lasts)),
                lasts: logistic(lasts),
                choked,
                told: !lasts.is_nan(),
            })
        });
        Pass {
            tuning_cents,
            explained: explained as f32 / notes.len().max(1) as f32,
            strings,
        }
    }

    /// Log odds for choked against dead of a string that dies, by the fret it should sound at.
    fn choked(
        &mut self,
        stroke: usize,
        (string, fret): (usize, u8),
        above_usual_db: Option<f32>,
        tuning: &Tuning,
        common_cents: f64,
    ) -> f32 {
        let stroke = &self.strokes[stroke];
        let b = usual_b(string, fret + tuning.capo);
        let note = Note {
            f0_hz: flexible_hz(shifted_hz(tuning.hz(string, fret), common_cents), b),
            b,
            fit: stroke.fit(tuning, string, fret, common_cents),
            above_usual_db,
        };
        let moments = (stroke.before, stroke.from, stroke.to);
        self.dying
            .choked(&self.low, self.decimator.rate_hz(), moments, note)
    }

    /// Where a note's partials rise together though no stroke was heard, and by how much in dB more
    /// than it takes; it takes `more_db` more than usual.
    fn missed(
        &self,
        string: usize,
        fret: u8,
        more_db: f32,
        tuning: &Tuning,
        common_cents: f64,
    ) -> Option<(usize, f32)> {
        let rate = self.decimator.rate_hz();
        let b = usual_b(string, fret + tuning.capo);
        let f0 = flexible_hz(shifted_hz(tuning.hz(string, fret), common_cents), b);
        let length = (FRAME_S * rate) as usize;
        let hop = (HOP_S * rate) as usize;
        let begin = self.strokes.first()?.before;
        let starts: Vec<usize> = (begin..self.low.len().saturating_sub(length))
            .step_by(hop)
            .collect();
        // From the frames that end before a stroke to those that lie after it.
        let (apart, after) = (length.div_ceil(hop) + 1, 4);
        let mut rises = vec![0f32; starts.len()];
        for n in 1..=LOW_PARTIALS {
            let tone = Tone::new(partial_hz(f0, b, n), rate, length);
            let powers: Vec<f32> = starts
                .iter()
                .map(|&at| tone.power(&self.low[at..]))
                .collect();
            let faint = powers.iter().copied().fold(0.0, f32::max) * FAINT + 1e-12;
            for at in apart + 2..starts.len().saturating_sub(after) {
                let was = powers[at - apart - 2..=at - apart].iter().sum::<f32>() / 3.0;
                let now = powers[at..at + after].iter().sum::<f32>() / after as f32;
                let rise_db = 10.0 * ((now + faint) / (was + faint)).log10();
                rises[at] += rise_db.clamp(-RISE_CAP_DB, RISE_CAP_DB) / LOW_PARTIALS as f32;
            }
        }
        let far = (FAR_S * rate) as usize;
        let alone = |at: usize| self.strokes.iter().all(|s| s.from.abs_diff(at) > far);
        let usual = self.usual_gap();
        (0..starts.len())
            .filter(|&i| alone(starts[i]))
            .map(|i| {
                let due = usual.is_some_and(|usual| self.is_due(starts[i], usual));
                let enough = if due { DUE_RISE_DB } else { MISSED_RISE_DB };
                (starts[i], rises[i] - enough - more_db)
            })
            .filter(|&(_, over_db)| over_db >= 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The middle one of the gaps between strokes, where there are several.
    fn usual_gap(&self) -> Option<usize> {
        let mut gaps: Vec<usize> = (self.strokes.windows(2))
            .map(|pair| pair[1].from - pair[0].from)
            .collect();
        gaps.sort_unstable();
        gaps.get(gaps.len() / 2).copied().filter(|_| gaps.len() > 1)
    }

    /// Would a stroke here keep the time of the pass, whose usual gap this is?
    fn is_due(&self, at: usize, usual: usize) -> bool {
        let mut gaps = self.strokes.iter().map(|s| s.from.abs_diff(at));
        let within = DUE_WITHIN * usual as f64;
        let nearest = gaps.clone().map(|gap| gap.abs_diff(usual)).min();
        nearest.is_some_and(|off| (off as f64) < within)
            && gaps.all(|gap| gap as f64 > usual as f64 - within)
    }

    /// Energy of a note's new partials over time after a stroke, in dB under its peak.
    fn course(&self, stroke: usize, note: &Sounded, tuning: &Tuning, common_cents: f64) -> Course {
        let rate = self.decimator.rate_hz();
        let stroke = &self.strokes[stroke];
        let length = (FRAME_S * rate) as usize;
        let hop = (HOP_S * rate) as usize;
        let f1 = shifted_hz(
            tuning.hz(note.string, note.fret),
            common_cents + f64::from(note.cents),
        );
        let b = usual_b(note.string, note.fret + tuning.capo);
        let f0 = flexible_hz(f1, b);
        let mut course: Vec<f32> = Vec::new();
        let frames = |from: usize, to: usize| (from..to.saturating_sub(length)).step_by(hop);
        for n in 1..=COURSE_PARTIALS {
            let hz = partial_hz(f0, b, n);
            if hz > 0.45 * rate || hz > f64::from(LINES_HZ.1) {
                break;
            }
            let tone = Tone::new(hz, rate, length);
            let before: Vec<f32> = frames(
                stroke.before.max(stroke.from.saturating_sub(4 * length)),
                stroke.from.saturating_sub((0.008 * rate) as usize),
            )
            .map(|at| tone.power(&self.low[at..]))
            .collect();
            let was = before.iter().sum::<f32>() / before.len().max(1) as f32;
            let powers: Vec<f32> = frames(stroke.from, stroke.to.min(self.low.len()))
                .take((LONGEST_COURSE_S / HOP_S) as usize)
                .map(|at| tone.power(&self.low[at..]))
                .collect();
            let top = powers.iter().take(8).copied().fold(0.0, f32::max);
            if top < NEW_PARTIAL * was {
                continue;
            }
            course.resize(course.len().max(powers.len()), 0.0);
            for (sum, power) in course.iter_mut().zip(&powers) {
                *sum += (power - was).max(0.0);
            }
        }
        let peak = course.iter().take(8).copied().fold(1e-12, f32::max);
        let db = |p: f32| 10.0 * (p / peak + 1e-7).log10();
        Course {
            levels_db: TIMES_S.map(|t| {
                let at = (t / HOP_S).round() as usize;
                course.get(at).map_or(f32::NAN, |p| db(*p))
            }),
            peak_db: 10.0 * peak.log10(),
        }
    }
}

/// More strokes than this are no pass over six strings.
const MOST_STROKES: usize = 9;
/// A missed stroke lies at least this far from those heard, in seconds.
const FAR_S: f64 = 0.15;
/// It lifts the note's low partials by this much on average, each counted up to a cap, in dB; below
/// this share of its greatest power a partial is faint.
const MISSED_RISE_DB: f32 = 6.0;
/// Less will do where a stroke is due: this share of the usual gap around one such gap from another. A
/// fret that is not expected takes more.
const DUE_RISE_DB: f32 = 3.5;
const DUE_WITHIN: f64 = 0.3;
const OTHER_FRET_DB: f32 = 2.0;
const RISE_CAP_DB: f32 = 18.0;
const FAINT: f32 = 3e-3;
/// Frames of a course and the step between them, in seconds.
const FRAME_S: f64 = 0.04;
const HOP_S: f64 = 0.01;
const LONGEST_COURSE_S: f64 = 0.6;
const COURSE_PARTIALS: usize = 10;
/// A partial is followed where it is this many times as strong as what was there.
const NEW_PARTIAL: f32 = 3.0;
/// When the course is read, in seconds after the stroke.
const TIMES_S: [f64; 3] = [0.13, 0.16, 0.20];

/// How a note died away.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Course {
    /// Level at [`TIMES_S`] under its peak; NaN beyond the next stroke.
    levels_db: [f32; TIMES_S.len()],
    peak_db: f32,
}

/// Between 0.13 and 0.2 s what rings has lost less than this, what is choked more: of 8,400 ringing
/// notes 1 in 100 had lost 12 dB, of 430 with a T60 of 0.2 to 0.4 s 1 in 100 less than 16.
const RINGING_LOSS_DB: f32 = -14.2;
/// Log odds per dB of that loss. A choice: certain at 4 dB.
const PER_DB: f32 = 1.0;

impl Course {
    /// Log odds for ringing on against dying; NaN where the next stroke comes too soon to tell.
    fn lasts(&self) -> f32 {
        let late = self.levels_db.iter().filter(|l| !l.is_nan());
        let count = late.clone().count() as f32;
        PER_DB * (late.sum::<f32>() / count - RINGING_LOSS_DB)
    }
}

fn logistic(log_odds: f32) -> f32 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// A stroke whose note is not heard belongs to a string in its turn; this much speaks for it, less
/// where the string should not sound.
const TURN: f32 = 0.03;
const TURN_DAMPED: f32 = 0.02;
/// What it costs that a stroke goes back against the direction of the pass.
const TURN_BACK: f32 = 0.15;

/// Which stroke fell on each string: the assignment, one stroke a string at most, that explains most
/// while it follows one direction.
fn assign(notes: &[[Sounded; STRINGS]], frets: &Frets) -> [Option<usize>; STRINGS] {
    let mut best = (f32::MIN, [None; STRINGS]);
    for down in [true, false] {
        // By the strings taken so far and the last of them: score and assignment.
        let mut states: Vec<Option<(f32, [Option<usize>; STRINGS])>> =
            vec![None; (1 << STRINGS) * (STRINGS + 1)];
        states[STRINGS] = Some((0.0, [None; STRINGS]));
        for (stroke, of) in notes.iter().enumerate() {
            // Fuller sets first, so that no stroke is used twice.
            for taken in (0..1usize << STRINGS).rev() {
                for last in 0..=STRINGS {
                    let Some((score, struck)) = states[taken * (STRINGS + 1) + last] else {
                        continue;
                    };
                    for string in (0..STRINGS).filter(|s| taken & 1 << s == 0) {
                        let turn = match frets.0[string] {
                            Some(_) => TURN,
                            None => TURN_DAMPED,
                        };
                        let back = last < STRINGS && (string > last) != down;
                        let cost = if back { TURN_BACK } else { 0.0 };
                        let score = score + of[string].fit.max(turn) - cost;
                        let to = (taken | 1 << string) * (STRINGS + 1) + string;
                        if states[to].is_none_or(|(so_far, _)| score > so_far) {
                            let mut struck = struck;
                            struck[string] = Some(stroke);
                            states[to] = Some((score, struck));
                        }
                    }
                }
            }
        }
        for state in states.into_iter().flatten() {
            if state.0 > best.0 {
                best = state;
            }
        }
    }
    best.1
}

/// A windowed tone to compare a stretch of sound with.
pub(super) struct Tone {
    re: Vec<f32>,
    im: Vec<f32>,
}

impl Tone {
    /// Of so many samples at `rate_hz`.
    pub fn new(hz: f64, rate_hz: f64, length: usize) -> Self {
        let turn = std::f64::consts::TAU / length as f64;
        let wave = |i: usize| {
            let window = 0.5 - 0.5 * (turn * (i as f64 + 0.5)).cos();
            let phase = std::f64::consts::TAU * hz * i as f64 / rate_hz;
            (
                (window * phase.cos() / length as f64) as f32,
                (window * phase.sin() / length as f64) as f32,
            )
        };
        let (re, im) = (0..length).map(wave).unzip();
        Tone { re, im }
    }

    pub fn len(&self) -> usize {
        self.re.len()
    }

    /// Of a stretch of that length; a tone of amplitude 1 gives 1/16.
    pub fn power(&self, samples: &[f32]) -> f32 {
        let dot = |wave: &[f32]| -> f32 { wave.iter().zip(samples).map(|(w, s)| w * s).sum() };
        dot(&self.re).powi(2) + dot(&self.im).powi(2)
    }
}

fn read(
    plan: &mut LinePlan,
    low: &[f32],
    from: usize,
    to: usize,
    into: &mut LineSpectrum,
    rate_hz: f64,
) {
    let to = to.min(low.len());
    if (to.saturating_sub(from)) as f64 >= SHORTEST_S * rate_hz {
        plan.fill(&low[from..to], into);
    } else {
        into.clear();
    }
}

impl Stroke {
    /// The note that `string` most likely sounds here: the expected one, unless another fits better.
    fn best_note(&self, string: usize, tuning: &Tuning, frets: &Frets, common: f64) -> Sounded {
        let mut notes: Vec<u8> = frets.0[string].into_iter().collect();
        notes.extend(other_frets(frets, string));
        let steps = (REACH_CENTS / STEP_CENTS) as i32;
        let mut best: Option<Sounded> = None;
        for fret in notes {
            for i in -steps..=steps {
                let cents = f64::from(i) * STEP_CENTS;
                let fit = self.fit(tuning, string, fret, common + cents)
                    - PER_CENT_OFF * cents.abs() as f32;
                if best.is_none_or(|b| fit > b.fit) {
                    best = Some(Sounded {
                        string,
                        fret,
                        cents: cents as f32,
                        fit,
                    });
                }
            }
        }
        best.unwrap_or(Sounded {
            string,
            fret: 0,
            cents: 0.0,
            fit: 0.0,
        })
    }

    /// How much of the new lines a note explains, times how complete its low partials are.
    fn fit(&self, tuning: &Tuning, string: usize, fret: u8, cents: f64) -> f32 {
        if self.total <= 0.0 {
            return 0.0;
        }
        let b = usual_b(string, fret + tuning.capo);
        let f0 = flexible_hz(shifted_hz(tuning.hz(string, fret), cents), b);
        let (mut explained, mut present, mut wanted) = (0f32, 0f32, 0f32);
        let reach = 2f64.powf(NEAR_CENTS / 1200.0) - 1.0;
        for n in 1..=PARTIALS {
            let hz = partial_hz(f0, b, n);
            if hz > f64::from(LINES_HZ.1) {
                break;
            }
            let near = (NEAR_HZ + hz * reach) as f32;
            let hz = hz as f32;
            let first = self.lines.partition_point(|l| l.0 < hz - near);
            let strongest = self.lines[first..]
                .iter()
                .take_while(|l| l.0 <= hz + near)
                .map(|l| l.1)
                .fold(0.0, f32::max);
            explained += strongest;
            if n <= LOW_PARTIALS {
                let weight = 1.0 / (n as f32).sqrt();
                wanted += weight;
                if strongest > 0.0 {
                    present += weight;
                }
            }
        }
        explained / self.total * present / wanted
    }
}
