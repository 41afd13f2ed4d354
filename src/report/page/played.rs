//! Takes as a report takes them: of a diary, of a recording that is judged now, of one that was saved with its verdicts.

use std::path::PathBuf;

use jiff::civil::DateTime;
use jiff::tz::TimeZone;

use super::timing::TimedStrum;
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::listening::saved::SavedTake;
use crate::practice::diary::Entry;
use crate::take::Take;
use crate::verdict::{ALL_STRINGS, Advice, Cause, Hand, JudgedTake, Warning, clean, wording};
use crate::words;

/// The kinds of warning that say that a chord was guessed.
const GUESSED: [&str; 2] = ["chord-guessed", "voicing-guessed"];

/// A take that somebody played, for a report.
#[derive(Debug, Clone)]
pub struct PlayedTake {
    /// Moment by the clock on the wall there; where nobody noted it, `None`.
    pub when: Option<DateTime>,
    /// Name that the player gives the guitar.
    pub guitar: Option<String>,
    /// The recording's name, or what else it is called.
    pub name: String,
    /// The take, judged.
    pub take: JudgedTake,
    /// True where every string that counted did what it should; `None` where that could not be told.
    pub clean: Option<bool>,
    /// Reason why the take was not judged, in words, where it was not.
    pub why_not: Option<String>,
    /// Timing of it, where it was played along with a backing.
    pub kept: Option<TimedStrum>,
    /// The file that its sound is in, where there is one.
    pub sound: Option<PathBuf>,
}

impl PlayedTake {
    /// Makes one of a take of a diary on a guitar in `tuning`; its sound is only a name as yet. `name_of` names the chord
    /// that is left for another.
    pub fn of_entry(
        entry: Entry,
        tuning: &Tuning,
        name_of: &dyn Fn(&Frets) -> String,
    ) -> PlayedTake {
        // The diary keeps kinds, not sentences: the rules say them again of the same strings.
        let cause = |kind: String| serde_json::from_value::<Cause>(kind.into()).ok();
        let causes: Vec<Cause> = entry.causes.into_iter().filter_map(cause).collect();
        let mut take = JudgedTake {
            // Where it begins in the sound kept of it.
            start_s: Take::PRE_ROLL_S,
            manner: entry.manner,
            chord: entry.chord,
            frets: entry.frets,
            tuning_cents: entry.tuning_cents,
            warnings: Vec::new(),
            strings: entry.strings,
            advice: Vec::new(),
        };
        take.explain(&Hand::usual(&take.frets, tuning), &[]);
        let said = std::mem::take(&mut take.advice);
        take.advice = (causes.into_iter())
            .map(|cause| {
                let advice = said.iter().find(|advice| advice.cause == cause);
                advice.cloned().unwrap_or(Advice {
                    cause,
                    strings: Vec::new(),
                    what: String::new(),
                    try_first: String::new(),
                })
            })
            .collect();
        let is_guess = is_guess(entry.warnings.iter().map(String::as_str));
        let why_not = entry.warnings.last().map(|kind| kind.replace('-', " "));
        let name = entry
            .sound
            .clone()
            .unwrap_or_else(|| words::page::A_TAKE.to_owned());
        PlayedTake {
            when: Some(TimeZone::system().to_datetime(entry.at)),
            guitar: entry.guitar,
            clean: entry.clean,
            kept: entry.off_ms.map(|off_ms| TimedStrum {
                off_ms,
                tempo_bpm: entry.tempo_bpm,
                from: entry.from.map(|frets| name_of(&frets)),
            }),
            sound: entry.sound.map(PathBuf::from),
            ..PlayedTake::of(take, name, is_guess, why_not)
        }
    }

    /// Makes one of a take of the recording `name` that is judged now.
    pub fn of_judged(take: JudgedTake, name: String) -> PlayedTake {
        use Warning::{ChordGuessed, VoicingGuessed};
        let guess = |w: &Warning| matches!(w, ChordGuessed { .. } | VoicingGuessed { .. });
        let is_guess = take.warnings.iter().any(guess);
        let why_not = take.warnings.last().map(wording::general_warning);
        PlayedTake::of(take, name, is_guess, why_not)
    }

    /// Makes one of a take of the recording `name` as it was saved.
    pub fn of_saved(saved: &SavedTake, name: String) -> PlayedTake {
        let is_guess = is_guess(saved.warnings.iter().map(|w| &*w.kind));
        let why_not = saved.warnings.last().map(|w| w.text.clone());
        PlayedTake::of(saved.take(), name, is_guess, why_not)
    }

    fn of(
        mut take: JudgedTake,
        name: String,
        is_guess: bool,
        why_not: Option<String>,
    ) -> PlayedTake {
        let is_judged = take.judged();
        let clean = clean(&take, &ALL_STRINGS);
        if is_guess && !is_judged {
            // A guess that the take was not judged by is no chord that was practised.
            take.chord = None;
            take.frets = Frets([None; STRINGS]);
        }
        PlayedTake {
            when: None,
            guitar: None,
            name,
            clean,
            take,
            why_not: why_not.filter(|_| !is_judged),
            kept: None,
            sound: None,
        }
    }

    pub(super) fn is_clean(&self) -> bool {
        self.clean == Some(true)
    }
}

/// Whether one of these kinds of warnings says that the chord was guessed.
fn is_guess<'a>(mut kinds: impl Iterator<Item = &'a str>) -> bool {
    kinds.any(|kind| GUESSED.contains(&kind))
}
