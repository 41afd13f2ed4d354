//! One strum in, six verdicts out: the same analysis for a file, a microphone and a test.

mod one_string;

use std::sync::LazyLock;

use super::chord::{is_another_chord_picked, not_the_chord};
use super::string::{judge_expected, judge_unwanted, not_judged, unwanted};
use super::{Hand, JudgedTake, Reason, SURE_ENOUGH, StringVerdict, Verdict, Warning, picked};
use crate::decibels;
use crate::fretboard::{Frets, NamedFrets, STRINGS, Tuning, library};
use crate::strings::buzz::treble::Treble;
use crate::strings::buzz::{self, BuzzProbabilities};
use crate::strings::picked::{Pass, Picked, StringStroke};
use crate::strings::which::of_unexplained;
use crate::strings::{
    self, Estimate, Learnt, Moments, Networks, SHORTEST_S, SHORTEST_STOPPED_S, Spectra,
};
use crate::take::{Manner, Take};

/// Quieter than this nothing is judged, in dBFS: 20 dB under what counts as an ordinary quiet recording.
const TOO_QUIET_DBFS: f32 = -55.0;
/// Added to a peak, so that digital silence has a level: -180 dBFS.
const SILENT_PEAK: f32 = 1e-9;
/// Share of samples at full scale, of the first half second, above which partials cannot be trusted. A choice.
const CLIPPED: f32 = 0.02;
/// Samples this near to the take's peak, three or more in a row, are clipped.
const FULL_SCALE: f32 = 0.985;
/// A strum of which no string lasts falls by this much from its attack to what is left 0.2 to 0.4 s after, in dB: where all strings
/// are dead by 15 at least, of other chords by 9 at most (22 each, of eleven guitars).
const NOTHING_LASTS_DB: f32 = 12.0;

/// Tuning and rate that an analyser is planned for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnalyserSettings {
    /// Tuning, capo and reference pitch.
    pub tuning: Tuning,
    /// Rate of the strums' samples, in Hz.
    pub rate_hz: u32,
}

/// Judges strums: planned once, run many times.
pub struct Analyser {
    settings: AnalyserSettings,
    networks: Networks,
    spectra: Spectra,
    picked: Picked,
    treble: Treble,
    scratch: strings::Scratch,
    buzz_room: buzz::Scratch,
}

impl Analyser {
    /// Plans with the networks built into the program.
    pub fn new(settings: AnalyserSettings) -> Self {
        Self::with_networks(settings, Networks::built_in())
    }

    /// Plans with networks of one's own, as measuring needs.
    pub fn with_networks(settings: AnalyserSettings, networks: Networks) -> Self {
        // What nearly every strum needs is read before the first one comes.
        LazyLock::force(&networks.strums);
        LazyLock::force(&networks.buzz);
        Analyser {
            spectra: Spectra::new(settings.rate_hz),
            picked: Picked::new(settings.rate_hz),
            treble: Treble::new(settings.rate_hz),
            scratch: strings::Scratch::default(),
            buzz_room: buzz::Scratch::default(),
            settings,
            networks,
        }
    }

    /// Gives what it was planned for.
    pub fn settings(&self) -> AnalyserSettings {
        self.settings
    }

    /// Judges one strum against the voicing that was meant, and explains it by the usual fingering;
    /// [`JudgedTake::explain`] does so by another one, or in view of the takes before.
    pub fn analyse(&mut self, strum: &Take, expected: &Frets) -> JudgedTake {
        let mut take = self.judge(strum, expected);
        self.name_other_chord(strum, &[*expected], &mut take);
        take.explain(&Hand::usual(expected, &self.settings.tuning), &[]);
        take
    }

    /// Moves what the networks say from now on by what was learnt of a guitar.
    pub fn refine(&mut self, learnt: Learnt) {
        self.networks.learnt = learnt;
    }

    /// Judges one strum and explains nothing.
    pub(super) fn judge(&mut self, strum: &Take, expected: &Frets) -> JudgedTake {
        let learnt = self.networks.learnt;
        self.evidence(strum, expected).take(&learnt)
    }

    /// Hears one strum against the voicing that was meant, and decides nothing yet. Of a picked pass, and of what is not judged,
    /// all is decided: what was learnt by then counts.
    pub fn evidence(&mut self, strum: &Take, expected: &Frets) -> Evidence {
        let decided = |take| Evidence { take, open: None };
        let mut take = unheard(strum, *expected);
        let first = strum.onsets[0];
        let end = strum.judged_end();
        let body = &strum.samples[first.min(end)..end];
        let peak = body.iter().fold(0f32, |p, s| p.max(s.abs()));
        let peak_dbfs = decibels::of_amplitude(peak + SILENT_PEAK);
        if peak_dbfs < TOO_QUIET_DBFS {
            take.warnings.push(Warning::TooQuiet { peak_dbfs });
            return decided(take);
        }
        let share = clipped_share(body, peak, self.settings.rate_hz);
        if share > CLIPPED {
            take.warnings.push(Warning::Clipped { share });
            return decided(take);
        }
        if strum.manner == Manner::Picked {
            self.read(strum);
            let pass = self.picked.hear(&self.settings.tuning, expected);
            if is_another_chord_picked(&pass) {
                take.warnings.push(Warning::WrongChord { heard: None });
                return decided(take);
            }
            let (rate_hz, learnt) = (self.settings.rate_hz, self.networks.learnt);
            picked::judge(&mut take, &pass, rate_hz, &learnt, |stroke| {
                self.hear_stroke(&strum.samples[..end], stroke, &pass, expected)
            });
            return decided(take);
        }
        let last = *strum.onsets.last().expect("a strum has an onset");
        let lasts_s = |end: usize| end.saturating_sub(last) as f32 / self.settings.rate_hz as f32;
        let (mut seconds, shortest) = match strum.stopped() {
            Some(stop) => (lasts_s(stop), SHORTEST_STOPPED_S),
            None => (lasts_s(end), SHORTEST_S),
        };
        let whole_s = lasts_s(end);
        if seconds < shortest {
            take.warnings.push(Warning::TooShort { seconds });
            return decided(take);
        }
        self.read(strum);
        let mut heard = self.hear(expected);
        // Dead strings fall silent as if a hand had stopped them; then nothing tells the chord but what is left.
        if seconds < whole_s && not_the_chord(&heard, expected).is_some() {
            self.spectra.fill(&strum.samples, Moments::of(strum));
            heard = self.hear(expected);
            seconds = whole_s;
        }
        // Of strings that are all dead nothing is left by which noise, another chord or the tuning could be told.
        let lasts = strings::fallen_db(&self.spectra) < NOTHING_LASTS_DB;
        let elsewhere = match lasts {
            true => one_string::elsewhere(self, expected, &heard),
            false => None,
        };
        let of_all = elsewhere.as_ref().map_or(&heard, |other| &other.heard);
        if lasts && let Some(why) = not_the_chord(of_all, expected) {
            take.tuning_cents = of_all.notes.tuning_cents as f32;
            take.warnings.push(why);
            return decided(take);
        }
        if lasts {
            take.tuning_cents = of_all.notes.tuning_cents as f32;
        }
        let moments = of_all.moments(Moments::of(strum), f64::from(strum.rate_hz));
        let seen = self.treble.see(&strum.samples, moments, &of_all.notes);
        let buzz = seen.map(|seen| self.networks.buzz.hear(&seen, &mut self.buzz_room));
        Evidence {
            take,
            open: Some(Box::new(Open {
                heard,
                elsewhere,
                seconds,
                buzz,
            })),
        }
    }

    /// Finds which of `library` fits best, and how probable that is, 0 to 1. `None` where `library` is empty.
    ///
    /// A best fit that itself fits badly is improbable, however far ahead of the others: any chord may have been meant.
    pub fn best_voicing(&mut self, strum: &Take, library: &[Frets]) -> Option<(usize, f32)> {
        self.read(strum);
        if strum.manner == Manner::Picked {
            let probable = self.picked.voicings(&self.settings.tuning, library);
            return (probable.into_iter().enumerate()).max_by(|a, b| a.1.total_cmp(&b.1));
        }
        let mut close: Vec<(usize, f32)> = self
            .look_closely(library)
            .iter()
            .map(|(i, heard)| (*i, fit(heard)))
            .collect();
        close.sort_by(|a, b| b.1.total_cmp(&a.1));
        let &(best, top) = close.first()?;
        let odds: f32 = close.iter().map(|(_, fit)| (fit - top).exp()).sum();
        Some((best, well(top) / odds))
    }

    /// Tells how probable each of `voicings` is, 0 to 1, where it is known that one of them is meant, whatever its strings do: their
    /// places in `voicings`, the most probable first. `prior` says how probable each was before it was heard, in any unit.
    pub fn which_voicing(
        &mut self,
        strum: &Take,
        voicings: &[Frets],
        prior: &[f32],
    ) -> Vec<(usize, f32)> {
        self.read(strum);
        let mut odds: Vec<(usize, f32)> = match strum.manner {
            Manner::Picked => {
                let probable = self.picked.voicings(&self.settings.tuning, voicings);
                probable.into_iter().enumerate().collect()
            }
            Manner::Strummed => {
                let (places, heard): (Vec<usize>, Vec<Estimate>) =
                    self.look_closely(voicings).into_iter().unzip();
                let fits = strings::which::fits(&heard);
                let top = fits.iter().copied().fold(f32::MIN, f32::max);
                let odds = fits.iter().map(|fit| (fit - top).exp());
                places.into_iter().zip(odds).collect()
            }
        };
        odds.iter_mut().for_each(|(i, odds)| *odds *= prior[*i]);
        let sum: f32 = odds.iter().map(|o| o.1).sum();
        odds.iter_mut()
            .for_each(|o| o.1 /= sum.max(f32::MIN_POSITIVE));
        odds.sort_by(|a, b| b.1.total_cmp(&a.1));
        odds
    }

    /// Names the chord of a take that is said to be none of `expected`, where that is sure: one of these a fret higher or
    /// lower, or any that is known.
    pub(super) fn name_other_chord(
        &mut self,
        strum: &Take,
        expected: &[Frets],
        take: &mut JudgedTake,
    ) {
        if !take.is_another_chord() {
            return;
        }
        let tuning = self.settings.tuning;
        let within_reach =
            |frets: &Frets| !expected.contains(frets) && tuning.reaches(frets).is_ok();
        let beside = |frets: &Frets| [-1, 1].map(|by| frets.moved(by));
        let mut moved: Vec<Frets> = expected.iter().flat_map(beside).flatten().collect();
        moved.retain(within_reach);
        let mut known: Vec<Frets> = library::all(&tuning).iter().map(|v| v.frets).collect();
        known.retain(within_reach);
        let sounds = self.as_it_should(strum, &moved).or_else(|| {
            let (best, sure) = self.best_voicing(strum, &known)?;
            (sure >= SURE_ENOUGH).then(|| known[best])
        });
        for warning in &mut take.warnings {
            if let Warning::WrongChord { heard } = warning {
                *heard = sounds.map(|frets| NamedFrets::of(&frets, &tuning));
            }
        }
    }

    /// That of a few voicings of which every string does what it should in a strum, where there is one.
    fn as_it_should(&mut self, strum: &Take, voicings: &[Frets]) -> Option<Frets> {
        if strum.manner == Manner::Picked {
            return None;
        }
        self.read(strum);
        let heard = self.look_closely(voicings);
        let fits = heard.iter().map(|(i, heard)| (voicings[*i], fit(heard)));
        let (frets, best) = fits.max_by(|a, b| a.1.total_cmp(&b.1))?;
        (well(best) >= AS_IT_SHOULD).then_some(frets)
    }

    /// Gives what was heard of those of `library` that fit best at a first look, and their places in it.
    pub(super) fn look_closely(&mut self, library: &[Frets]) -> Vec<(usize, Estimate)> {
        let tuning = &self.settings.tuning;
        let mut rough: Vec<(f32, usize)> = library
            .iter()
            .enumerate()
            .map(|(i, f)| (strings::rough_fit(&self.spectra, tuning, f), i))
            .collect();
        rough.sort_by(|a, b| b.0.total_cmp(&a.0));
        rough.truncate(SHORTLIST);
        let mut hear = |frets: &Frets| {
            strings::hear(
                &self.networks.strums,
                &self.spectra,
                tuning,
                frets,
                &mut self.scratch,
            )
        };
        (rough.into_iter())
            .map(|(_, i)| (i, hear(&library[i])))
            .collect()
    }

    /// What became of the strings of the strum that was read.
    fn hear(&mut self, expected: &Frets) -> Estimate {
        strings::hear(
            &self.networks.strums,
            &self.spectra,
            &self.settings.tuning,
            expected,
            &mut self.scratch,
        )
    }

    /// What became of the strings at a stroke of a picked pass, and what is said of buzz there.
    fn hear_stroke(
        &mut self,
        samples: &[f32],
        stroke: StringStroke,
        pass: &Pass,
        frets: &Frets,
    ) -> (Estimate, Option<BuzzProbabilities>) {
        let sound = (samples, self.settings.rate_hz);
        let tuning = &self.settings.tuning;
        let notes = pass.notes(stroke, sound, tuning, frets, &mut self.spectra);
        let network = &self.networks.strokes;
        let heard = strings::hear_notes(network, &self.spectra, notes, &mut self.scratch);
        let moments = Moments {
            first: stroke.from,
            last: stroke.from,
            end: stroke.to,
        };
        let sounding = pass.struck_by(stroke, &heard.notes);
        let seen = self.treble.see(samples, moments, &sounding);
        let said = seen.map(|seen| self.networks.buzz.hear(&seen, &mut self.buzz_room));
        (heard, said)
    }

    fn read(&mut self, strum: &Take) {
        match strum.manner {
            Manner::Strummed => {
                let moments = Moments::of(strum);
                let end = strum.stopped().unwrap_or(moments.end);
                self.spectra
                    .fill(&strum.samples, Moments { end, ..moments });
            }
            Manner::Picked => {
                let judged = &strum.samples[..strum.judged_end()];
                self.picked.fill(judged, &strum.onsets);
            }
        }
    }
}

/// Evidence of one strum, before it is decided what is said of its strings.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// What is decided: all but the strings and their buzz, where these are open.
    take: JudgedTake,
    open: Option<Box<Open>>,
}

/// What the verdicts of a strum rest on.
#[derive(Debug, Clone)]
struct Open {
    heard: Estimate,
    /// A single string that was heard at another fret.
    elsewhere: Option<one_string::Elsewhere>,
    /// Sound after the last onset, in seconds.
    seconds: f32,
    /// What is said of buzz, where it can be heard.
    buzz: Option<BuzzProbabilities>,
}

impl Evidence {
    /// Decides on every string; nothing is explained.
    pub fn take(&self, learnt: &Learnt) -> JudgedTake {
        let mut take = self.take.clone();
        let Some(open) = &self.open else {
            return take;
        };
        let heard = (open.elsewhere.as_ref()).map_or(&open.heard, |other| &other.heard);
        take.strings = std::array::from_fn(|i| match (take.frets.0[i], &open.elsewhere) {
            (Some(fret), Some(other)) => other.verdict(i, fret),
            (Some(fret), None) => judge_expected(heard, i, fret, open.seconds, learnt),
            (None, _) => judge_unwanted(heard, i, learnt),
        });
        if let Some(said) = &open.buzz {
            add_buzz(&mut take, &learnt.buzz(said));
        }
        take
    }
}

/// The shape meant is taken for held a fret off where it does what it should there so well, 0 to 1. Of 22 shapes so held by eleven
/// guitars the least is 0.89.
pub(super) const AS_IT_SHOULD: f32 = 0.85;
/// Voicings looked at closely, of many.
const SHORTLIST: usize = 12;

/// Tells how well a string of a voicing fits in the mean, 0 to 1, where the voicing as a whole does by so much.
pub(super) fn well(fit: f32) -> f32 {
    (fit / STRINGS as f32).exp().min(1.0)
}

/// Tells how well a voicing fits, where any chord may be meant: whether every string does what it should.
pub(super) fn fit(heard: &Estimate) -> f32 {
    let of_string = |string: usize| match heard.outcomes[string] {
        Some(outcomes) => outcomes[0].max(1e-3).ln(),
        None => (1.0 - unwanted(heard, string).0).max(1e-3).ln(),
    };
    of_unexplained(heard) + (0..STRINGS).map(of_string).sum::<f32>()
}

/// A take of which nothing has been heard yet: no string is judged.
pub(super) fn unheard(strum: &Take, expected: Frets) -> JudgedTake {
    JudgedTake {
        start_s: strum.start_s(),
        manner: strum.manner,
        chord: None,
        frets: expected,
        tuning_cents: 0.0,
        warnings: Vec::new(),
        strings: std::array::from_fn(|i| not_judged(i, expected.0[i])),
        advice: Vec::new(),
    }
}

/// Where it may be one of two strings that buzzes, neither is clean.
fn add_buzz(take: &mut JudgedTake, said: &BuzzProbabilities) {
    let found = buzz::found(said);
    for (said, buzzes) in take.strings.iter_mut().zip(found.strings) {
        if let Some(sure) = buzzes {
            said.buzzes(sure);
        }
    }
    // The evidence lies between the lines that are expected; a string at another fret puts its own there.
    let elsewhere = |s: &StringVerdict| matches!(s.verdict, Verdict::WrongFret | Verdict::Ringing);
    if take.strings.iter().any(elsewhere) {
        return;
    }
    if let Some(two) = found.either {
        for place in two {
            let string = &mut take.strings[place];
            if string.verdict == Verdict::Clean {
                string.verdict = Verdict::Unsure;
                string.reason = Some(Reason::MayBuzz);
            }
        }
        let sure = found.any;
        let strings = two.map(|s| take.strings[s].string);
        take.warnings.push(Warning::Buzz { strings, sure });
    }
    let possible = found.possible.map(|place| &take.strings[place]);
    if let Some(clean) = possible.filter(|s| s.verdict == Verdict::Clean) {
        let (string, sure) = (clean.string, found.any);
        take.warnings.push(Warning::PossibleBuzz { string, sure });
    }
    if let Some(sure) = found.rattle {
        take.warnings.push(Warning::Rattle { sure });
    }
}

/// Share of the samples of the first half second that sit at the take's peak in runs of three or more.
fn clipped_share(body: &[f32], peak: f32, rate_hz: u32) -> f32 {
    let head = &body[..body.len().min(rate_hz as usize / 2)];
    let limit = peak * FULL_SCALE;
    let flat: usize = head
        .chunk_by(|a, b| (a.abs() >= limit) == (b.abs() >= limit))
        .filter(|run| run.len() >= 3 && run[0].abs() >= limit)
        .map(<[f32]>::len)
        .sum();
    flat as f32 / head.len().max(1) as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::{bb, with};
    use crate::verdict::wording::headline;

    /// Any string buzzes, and each of these so probably.
    fn said(strings: &[(usize, f32)]) -> BuzzProbabilities {
        let mut said = BuzzProbabilities {
            buzzes: [Some(0.01); STRINGS],
            any: 0.99,
            rattles: 0.0,
        };
        for &(string, sure) in strings {
            said.buzzes[string] = Some(sure);
        }
        said
    }

    #[test]
    fn a_string_that_surely_buzzes_is_named_and_others_stay_as_they_are() {
        let mut take = with(bb(), 3, Verdict::Muted, 0.9);
        add_buzz(&mut take, &said(&[(2, 0.97), (3, 0.95)]));
        assert_eq!(take.strings[2].verdict, Verdict::Buzzing);
        assert_eq!(take.strings[3].verdict, Verdict::Muted);
        assert_eq!(take.warnings, []);
    }

    #[test]
    fn where_one_of_two_buzzes_neither_is_clean_and_both_are_named() {
        let mut take = bb();
        add_buzz(&mut take, &said(&[(1, 0.3), (2, 0.4)]));
        assert_eq!(
            take.warnings,
            [Warning::Buzz {
                strings: [4, 5],
                sure: 0.99
            }]
        );
        for place in [1, 2] {
            assert_eq!(take.strings[place].verdict, Verdict::Unsure);
        }
        assert_eq!(
            headline(&take),
            "Something buzzes: string 4 or string 5; the others are as they should be."
        );
    }

    #[test]
    fn a_string_that_may_buzz_stays_clean_and_is_not_called_as_it_should_be() {
        let possible = BuzzProbabilities {
            any: 0.7,
            ..said(&[(2, 0.4)])
        };
        let mut take = bb();
        add_buzz(&mut take, &possible);
        assert_eq!(
            take.warnings,
            [Warning::PossibleBuzz {
                string: 4,
                sure: 0.7
            }]
        );
        assert_eq!(take.strings, bb().strings);
        assert_eq!(
            headline(&take),
            "String 4 may buzz; apart from that every string is as it should be."
        );
        // Of a string that is dead another thing is told.
        let dead = with(bb(), 4, Verdict::Muted, 0.9);
        let mut take = dead.clone();
        add_buzz(&mut take, &possible);
        assert_eq!(take, dead);
    }

    #[test]
    fn beside_a_string_at_another_fret_a_buzz_of_no_sure_string_is_not_told() {
        let mut take = with(bb(), 3, Verdict::WrongFret, 0.9);
        let before = take.clone();
        add_buzz(&mut take, &said(&[(1, 0.3), (2, 0.4)]));
        assert_eq!(take, before);
    }
}
