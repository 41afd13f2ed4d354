//! View of a take: the sound where each string's partials stand, for pictures.
//!
//! The places are those that judging fits ([`CandidateNotes::fit`]); nothing here decides anything.
//!
//! The level of a partial is read under a Blackman window, just long enough to part it from the nearest partial of
//! another string: 0.08 to 0.4 s. So an attack looks up to 0.2 s wide.

use super::fit::{Fit, distance_hz, own_hz};
use super::notes::{CandidateNote, CandidateNotes};
use super::spectra::{Moments, Spectra};
use crate::decibels;
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::{Decimator, LineSpectrum, blackman_at, db};
use crate::take::{Manner, Take};

/// A partial counts as found from this far above its surroundings on, in dB: what noise alone reaches
/// at the best of many places is about 12 (`TOLL_DB` of the fit).
pub const FOUND_DB: f32 = 12.0;
/// Most partials followed over time per string, and the highest one looked at: higher ones die within
/// the attack on a good string, too.
const FOLLOWED: usize = 4;
const HIGHEST_FOLLOWED: usize = 10;
/// Half the main lobe of a Blackman window of length T, in units of 1/T; beyond it lies -58 dB (Harris,
/// Proc. IEEE 66 (1978) 51-83, from memory).
const MAIN_LOBE: f32 = 3.0;
/// Shortest and longest window that a partial is followed with, in seconds.
const WINDOW_S: (f32, f32) = (0.08, 0.4);
/// A partial is followed alone where every other string's stay this far off, in Hz: the longest window
/// parts them.
const APART_HZ: f32 = MAIN_LOBE / WINDOW_S.1;
/// The floor is a low quantile of the noise: its mean power lies this much higher, in dB (computed for
/// the quantile 0.35 of an exponential distribution).
const MEAN_OVER_FLOOR_DB: f32 = 3.66;
/// Levels over time begin this long before the first stroke, in seconds, and have this step at least.
const LEAD_S: f64 = 0.15;
const STEP_S: f64 = 0.02;
/// Most levels over time.
const MOST_STEPS: usize = 200;

/// One partial of one string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartialView {
    /// 1 is the fundamental.
    pub n: usize,
    /// Frequency in Hz.
    pub hz: f32,
    /// True where every other expected string's partials are far enough away for it to be read alone.
    pub own: bool,
    /// Level in dB below full scale.
    pub level_db: f32,
    /// Height above its surroundings, in dB.
    pub standing_db: f32,
}

impl PartialView {
    /// Tells whether something stands where the partial is expected.
    pub fn found(&self) -> bool {
        self.standing_db >= FOUND_DB
    }
}

/// A note's partials.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteView {
    /// Fret, counted from the nut or the capo.
    pub fret: u8,
    /// Its partials, the lowest first.
    pub partials: Vec<PartialView>,
}

/// View of one string.
#[derive(Debug, Clone, PartialEq)]
pub struct StringView {
    /// The expected note; of a string that must not sound, the one it would sound at.
    pub note: NoteView,
    /// The note heard instead of the expected one, where there is one.
    pub heard: Option<NoteView>,
    /// The string's own partials over time, of the note heard: the loudest, or where none is found the
    /// lowest.
    pub own: Vec<Followed>,
    /// Partials shared with other strings, which may be any string's: the loudest.
    pub shared: Vec<Followed>,
}

/// One partial over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    /// 1 is the fundamental.
    pub n: usize,
    /// Level in dB below full scale, at [`View::times_s`].
    pub levels_db: Vec<f32>,
    /// Level that noise would give here, in dB below full scale.
    pub noise_db: f32,
}

/// View of a take.
#[derive(Debug, Clone)]
pub struct View {
    /// Common offset of the guitar from the reference, in cents.
    pub tuning_cents: f64,
    /// Spectrum of the ringing part; of a picked pass one per stroke.
    pub spectra: Vec<LineSpectrum>,
    /// String 6 to string 1.
    pub strings: [StringView; STRINGS],
    /// Times of the levels, in seconds from the first stroke.
    pub times_s: Vec<f32>,
    /// Onsets, in seconds from the first stroke.
    pub onsets_s: Vec<f32>,
    /// Sound after the first stroke, in seconds.
    pub seconds: f32,
}

impl View {
    /// Highest level between two frequencies in Hz, in dB below full scale.
    pub fn level_db(&self, from_hz: f32, to_hz: f32) -> f32 {
        let (centre, reach) = ((from_hz + to_hz) / 2.0, (to_hz - from_hz) / 2.0);
        let levels = self.spectra.iter().map(|s| s.peak_db(centre, reach));
        levels.fold(f32::MIN, f32::max)
    }

    /// The local noise floor at a frequency in Hz, in dB below full scale.
    pub fn floor_db(&self, hz: f32) -> f32 {
        let floors = self.spectra.iter().map(|s| s.floor_db(hz));
        floors.fold(f32::MIN, f32::max)
    }

    /// Highest frequency in Hz that there is sound of.
    pub fn top_hz(&self) -> f32 {
        self.spectra.first().map_or(0.0, LineSpectrum::top_hz)
    }

    /// Level of the loudest partial of any string, in dB below full scale.
    pub fn loudest_db(&self) -> f32 {
        let all = self.strings.iter().flat_map(|s| &s.note.partials);
        all.map(|p| p.level_db).fold(-120.0, f32::max)
    }
}

/// Looks at takes of one guitar: planned once.
pub struct Viewer {
    spectra: Spectra,
    decimator: Decimator,
    tuning: Tuning,
    low: Vec<f32>,
}

impl Viewer {
    /// Plans for sound at `rate_hz` and a guitar so tuned.
    pub fn new(rate_hz: u32, tuning: Tuning) -> Self {
        Viewer {
            spectra: Spectra::new(rate_hz),
            decimator: Decimator::new(rate_hz),
            tuning,
            low: Vec::new(),
        }
    }

    /// Looks at a strum that was meant as `frets`. `heard` names the frets that strings were heard at
    /// instead; a string that must not sound is looked at open where none is named.
    ///
    /// `None` where the strum is too short to have a spectrum.
    pub fn look(
        &mut self,
        strum: &Take,
        frets: &Frets,
        heard: &[Option<u8>; STRINGS],
    ) -> Option<View> {
        let first = *strum.onsets.first()?;
        let rate_hz = f64::from(strum.rate_hz);
        let seconds = (strum.samples.len() - first.min(strum.samples.len())) as f64 / rate_hz;
        self.decimator.run(&strum.samples, &mut self.low);
        let start_s = first as f64 / rate_hz;
        // Where the sound breaks off, a window over the break would show a rise that is none.
        let whole_s = (seconds - f64::from(WINDOW_S.1) / 2.0).max(seconds / 2.0);
        let span_s = whole_s + LEAD_S.min(start_s);
        let step_s = STEP_S.max(span_s / MOST_STEPS as f64);
        let times: Vec<f64> = (0..=(span_s / step_s) as usize)
            .map(|i| i as f64 * step_s - LEAD_S.min(start_s))
            .collect();
        let mut spectra = Vec::new();
        let mut strings: [Option<StringView>; STRINGS] = Default::default();
        let mut tuning = (f32::MIN, 0.0);
        for moments in strokes(strum) {
            self.spectra.fill(&strum.samples, moments);
            if !self.spectra.long.is_filled() {
                continue;
            }
            let notes = CandidateNotes::fit(&self.spectra, &self.tuning, frets);
            tuning = if notes.tuning_score > tuning.0 {
                (notes.tuning_score, notes.tuning_cents)
            } else {
                tuning
            };
            let long = &self.spectra.long;
            for (string, best) in strings.iter_mut().enumerate() {
                let other = |fret: u8| notes.others[string].iter().find(|note| note.fret == fret);
                let expected = notes.expected[string].as_ref();
                let instead = heard[string].and_then(other);
                let Some(note) = expected.or(instead).or_else(|| other(0)) else {
                    continue;
                };
                let foreign = notes.foreign(heard, string);
                let view = |note: &CandidateNote| NoteView {
                    fret: note.fret,
                    partials: partials(long, &note.fit, &foreign),
                };
                let note = view(note);
                let heard = expected.and(instead).map(view);
                let (own, mut shared) = to_follow(heard.as_ref().unwrap_or(&note), &foreign);
                if expected.is_none() || heard.is_some() {
                    // They are what is expected of the others.
                    shared.clear();
                }
                let follow = |partials: &[PartialView]| {
                    let followed = partials.iter().map(|p| {
                        let window_s =
                            (MAIN_LOBE / distance_hz(&foreign, p.hz)).clamp(WINDOW_S.0, WINDOW_S.1);
                        // The shorter the window, the more noise falls into it.
                        let shorter = decibels::of_power(long.seconds() / window_s);
                        Followed {
                            n: p.n,
                            levels_db: self.over_time(p.hz, window_s, start_s, &times),
                            noise_db: long.floor_db(p.hz) + MEAN_OVER_FLOOR_DB + shorter,
                        }
                    });
                    followed.collect()
                };
                let seen = StringView {
                    own: follow(&own),
                    shared: follow(&shared),
                    note,
                    heard,
                };
                // Of a picked pass, the stroke that brought most of the string.
                if best.as_ref().is_none_or(|b| standing(&seen) > standing(b)) {
                    *best = Some(seen);
                }
            }
            spectra.push(long.clone());
        }
        let mut found = strings.into_iter().flatten();
        let strings: [StringView; STRINGS] = [
            found.next()?,
            found.next()?,
            found.next()?,
            found.next()?,
            found.next()?,
            found.next()?,
        ];
        Some(View {
            tuning_cents: tuning.1,
            spectra,
            strings,
            times_s: times.iter().map(|&t| t as f32).collect(),
            onsets_s: strum
                .onsets
                .iter()
                .map(|&o| ((o - first) as f64 / rate_hz) as f32)
                .collect(),
            seconds: seconds as f32,
        })
    }

    /// Level in dB at a frequency under a Blackman window centred on each time.
    fn over_time(&self, hz: f32, window_s: f32, start_s: f64, times: &[f64]) -> Vec<f32> {
        let rate_hz = self.decimator.rate_hz();
        let length = (f64::from(window_s) * rate_hz) as usize;
        let turn = std::f64::consts::TAU / length as f64;
        let window: Vec<f64> = (0..length)
            .map(|i| blackman_at(turn * (i as f64 + 0.5)))
            .collect();
        let (sin, cos) = (std::f64::consts::TAU * f64::from(hz) / rate_hz).sin_cos();
        let scale = 2.0 / window.iter().sum::<f64>();
        let level = |time: f64| {
            let from = ((start_s + time) * rate_hz) as isize - length as isize / 2;
            let (mut re, mut im, mut c, mut s) = (0.0, 0.0, 1.0, 0.0);
            for (i, w) in window.iter().enumerate() {
                let at = usize::try_from(from + i as isize).ok();
                let value = at.and_then(|at| self.low.get(at)).copied().unwrap_or(0.0);
                let value = f64::from(value) * w;
                re += value * c;
                im += value * s;
                (c, s) = (c * cos - s * sin, c * sin + s * cos);
            }
            db((scale * scale * (re * re + im * im)) as f32)
        };
        times.iter().map(|&t| level(t)).collect()
    }
}

/// The parts of a strum that are read by themselves: the whole of it, or each stroke of a picked pass.
fn strokes(strum: &Take) -> Vec<Moments> {
    let (first, end) = (strum.onsets[0], strum.samples.len());
    if strum.manner == Manner::Strummed {
        let last = *strum.onsets.last().expect("a strum has an onset");
        return vec![Moments { first, last, end }];
    }
    let next = strum.onsets.iter().skip(1).copied().chain([end]);
    let strokes = strum.onsets.iter().copied().zip(next);
    strokes
        .map(|(onset, end)| Moments {
            first: onset,
            last: onset,
            end,
        })
        .collect()
}

fn partials(spectrum: &LineSpectrum, fit: &Fit, foreign: &[f32]) -> Vec<PartialView> {
    let reach = spectrum.reach_hz();
    (1..=fit.count)
        .map(|n| {
            let hz = fit.hz(n);
            PartialView {
                n,
                hz,
                own: distance_hz(foreign, hz) >= own_hz(spectrum),
                level_db: spectrum.peak_db(hz, reach),
                standing_db: spectrum.standing_near_db(hz, reach),
            }
        })
        .collect()
}

/// The partials to follow over time: the string's own, the loudest of those that are found, else the lowest; and the loudest of
/// those that it shares.
fn to_follow(note: &NoteView, foreign: &[f32]) -> (Vec<PartialView>, Vec<PartialView>) {
    let low = note.partials.iter().take(HIGHEST_FOLLOWED).copied();
    let (mut own, mut shared): (Vec<PartialView>, Vec<PartialView>) =
        low.partition(|p| distance_hz(foreign, p.hz) >= APART_HZ);
    if own.iter().any(PartialView::found) {
        own.retain(PartialView::found);
        own.sort_by(|a, b| b.level_db.total_cmp(&a.level_db));
    }
    own.truncate(FOLLOWED);
    // Beside a partial of another string none stands out of its surroundings, however loud it is.
    shared.sort_by(|a, b| b.level_db.total_cmp(&a.level_db));
    shared.truncate(FOLLOWED);
    (own, shared)
}

fn standing(string: &StringView) -> f32 {
    let own = string.note.partials.iter().filter(|p| p.own);
    own.map(|p| p.standing_db.clamp(0.0, 30.0)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 44_100;

    /// Harmonic tones, `(fundamental in Hz, fall in dB per second)`, from 0.3 s to 2 s.
    fn strum(tones: &[(f64, f64)]) -> Take {
        let mut state = 1u32;
        let samples = (0..RATE_HZ * 2)
            .map(|i| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let hiss = 1e-4 * ((state >> 8) as f32 / (1 << 23) as f32 - 1.0);
                let t = f64::from(i) / f64::from(RATE_HZ) - 0.3;
                if t < 0.0 {
                    return hiss;
                }
                let sum: f64 = tones
                    .iter()
                    .map(|&(hz, fall)| {
                        let level = decibels::to_amplitude(-fall * t);
                        let wave = |n: i32| {
                            (std::f64::consts::TAU * f64::from(n) * hz * t).sin() / f64::from(n)
                        };
                        0.05 * level * (1..=10).map(wave).sum::<f64>()
                    })
                    .sum();
                hiss + sum as f32
            })
            .collect();
        Take {
            samples,
            rate_hz: RATE_HZ,
            first: 0,
            onsets: vec![(0.3 * f64::from(RATE_HZ)) as usize],
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: false,
        }
    }

    fn look(strum: &Take, frets: &str) -> View {
        let mut viewer = Viewer::new(RATE_HZ, Tuning::default());
        viewer
            .look(strum, &frets.parse().unwrap(), &[None; STRINGS])
            .unwrap()
    }

    /// Strings 6, 5 and 4 open, string 5 as told.
    fn three(fifth: Option<f64>) -> Take {
        let mut tones = vec![(82.41, 12.0), (146.83, 12.0)];
        tones.extend(fifth.map(|fall| (110.0, fall)));
        strum(&tones)
    }

    #[test]
    fn partials_stand_where_a_string_rings_and_not_where_it_is_dead() {
        let found = |view: &View| {
            let own = view.strings[1].note.partials.iter();
            let own: Vec<_> = own.filter(|p| p.own && p.n <= 8).collect();
            assert!(!own.is_empty());
            own.iter().filter(|p| p.found()).count() as f32 / own.len() as f32
        };
        assert!(found(&look(&three(Some(12.0)), "000xxx")) > 0.8);
        assert!(found(&look(&three(None), "000xxx")) < 0.3);
    }

    #[test]
    fn a_choked_string_falls_as_fast_as_it_was_made_to() {
        for fall in [12.0, 100.0] {
            let view = look(&three(Some(fall)), "000xxx");
            let string = &view.strings[1];
            let at = |t: f32| view.times_s.iter().position(|&s| s >= t).unwrap();
            let (a, b) = (at(0.2), at(0.5));
            let levels = &string.own[0].levels_db;
            let drop = levels[a] - levels[b];
            let slope = f64::from(drop / (view.times_s[b] - view.times_s[a]));
            assert!(
                (slope - fall).abs() < 0.15 * fall + 2.0,
                "{slope} for {fall}"
            );
        }
    }

    #[test]
    fn an_octave_shares_every_second_partial() {
        // A 2nd and an octave over it, of equal stiffness in the sound: strings 5 and 3 at fret 2.
        let view = look(&strum(&[(110.0, 12.0), (220.0, 12.0)]), "x0x2xx");
        let shared: Vec<usize> = view.strings[1]
            .note
            .partials
            .iter()
            .filter(|p| !p.own && p.n <= 6)
            .map(|p| p.n)
            .collect();
        assert_eq!(shared, [2, 4, 6]);
    }

    #[test]
    fn every_level_has_its_time() {
        let view = look(&three(Some(12.0)), "000xxx");
        for string in &view.strings[..3] {
            assert!(!string.own.is_empty());
            let all = string.own.iter().chain(&string.shared);
            assert!(
                all.map(|f| f.levels_db.len())
                    .all(|n| n == view.times_s.len())
            );
        }
        assert!((view.times_s[0] + 0.15).abs() < 1e-3);
    }
}
