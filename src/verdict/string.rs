//! Verdict of one string from what was heard of it.

use super::{Reason, StringVerdict, Verdict};
use crate::fretboard::string_number;
use crate::strings::{Estimate, Learnt, OUTCOMES};

/// A fault is told only from this probability up, and a string called clean from this one up; between
/// lies `unsure`. A choice: a false alarm is held twice as bad as a fault not told.
const FAULT: f32 = 0.67;
pub(super) const CLEAN: f32 = 0.40;
/// A string that must not sound is called ringing from this probability up: the likelier of the two.
const RINGING: f32 = 0.50;
/// Below this it is called silent; between lies `unsure`.
const SILENT: f32 = 0.35;
/// A string that sounds more faintly than this beside the chord only resonates, in dB: nobody plucked it. Free strings that were not
/// plucked lie lower in most cases (medians of -39 to -54 dB by pair, nine in ten below -29 to -45, phone recordings of open
/// strings); of open strings struck at -15 dB the weakest, whose strongest partials the chord has too, still has -34.8.
const FAINT_DB: f32 = -35.0;
/// How sure it is that what is so faint was not struck. A choice.
const FAINT_SURE: f32 = 0.9;
/// From this probability up a verdict is quite sure: below, more than one in five is wrong, and it is worded as "probably". What is
/// surely either dead or dies early is not said to be one of them.
pub(super) const QUITE_SURE: f32 = 0.8;
/// What choked against clean needs: a string with a T60 of 0.4 s has lost 60 dB by then.
const CHOKED_S: f32 = 0.40;

/// Gives what is said of a string that nothing was heard of: nothing.
pub(super) fn not_judged(string: usize, fret: Option<u8>) -> StringVerdict {
    StringVerdict {
        string: string_number(string),
        expected_fret: fret,
        verdict: Verdict::Unsure,
        heard_fret: None,
        rings: 0.5,
        confidence: 0.0,
        cents: None,
        level_db: None,
        reason: Some(Reason::NotJudged),
    }
}

/// Judges a string that should sound at `fret` and was heard for so many `seconds`.
pub(super) fn judge_expected(
    heard: &Estimate,
    string: usize,
    fret: u8,
    seconds: f32,
    learnt: &Learnt,
) -> StringVerdict {
    let outcomes = heard.outcomes[string].expect("expected strings have outcomes");
    let [rings, choked, gone, other]: [f32; OUTCOMES] = learnt.outcomes(outcomes);
    let fault = 1.0 - rings;
    let (mut verdict, confidence) = if rings >= CLEAN {
        (Verdict::Clean, rings)
    } else if fault < FAULT {
        (Verdict::Unsure, fault.max(rings))
    } else if other >= choked.max(gone) {
        (Verdict::WrongFret, other)
    } else if choked >= gone {
        (Verdict::Choked, choked)
    } else {
        (Verdict::Muted, gone)
    };
    let mut reason = match verdict {
        Verdict::Unsure => Some(Reason::Balanced),
        Verdict::Muted | Verdict::Choked
            if confidence < QUITE_SURE && choked + gone >= QUITE_SURE =>
        {
            Some(Reason::MutedOrChoked)
        }
        _ => None,
    };
    if seconds < CHOKED_S && verdict == Verdict::Choked {
        (verdict, reason) = (Verdict::Unsure, Some(Reason::TooShort));
    }
    let note = heard.notes.expected[string]
        .as_ref()
        .expect("expected strings have evidence");
    StringVerdict {
        string: string_number(string),
        expected_fret: Some(fret),
        verdict,
        heard_fret: (verdict == Verdict::WrongFret)
            .then(|| heard.best_other(string).map_or(0, |o| o.0)),
        rings,
        confidence,
        cents: (verdict == Verdict::Clean && note.fit.used > 0).then_some(note.fit.cents),
        // Of a dead string what stands where its partials would be is another's.
        level_db: heard.levels_db[string].filter(|_| verdict != Verdict::Muted),
        reason,
    }
}

/// Probability that a string sounds that must not, and the fret it then sounds at.
pub(super) fn unwanted(heard: &Estimate, string: usize) -> (f32, Option<u8>) {
    let best = heard.best_other(string);
    (best.map_or(0.0, |b| b.1), best.map(|b| b.0))
}

/// Judges a string that must not sound.
pub(super) fn judge_unwanted(heard: &Estimate, string: usize, learnt: &Learnt) -> StringVerdict {
    let (sounds, fret) = unwanted(heard, string);
    let rings = learnt.unwanted(sounds);
    let level_db = heard.levels_db[string];
    let faint = level_db.is_some_and(|db| db < FAINT_DB);
    let (verdict, confidence, reason) = if rings < SILENT {
        (Verdict::Silent, 1.0 - rings, None)
    } else if faint {
        (Verdict::Silent, FAINT_SURE, Some(Reason::Faint))
    } else if rings >= RINGING {
        (Verdict::Ringing, rings, None)
    } else {
        (Verdict::Unsure, rings, Some(Reason::Balanced))
    };
    StringVerdict {
        string: string_number(string),
        expected_fret: None,
        verdict,
        heard_fret: fret.filter(|_| verdict == Verdict::Ringing),
        rings,
        confidence,
        cents: None,
        level_db: level_db.filter(|_| rings >= SILENT),
        reason,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strings::examples::of_one_string;

    #[test]
    fn a_fault_is_told_where_a_false_alarm_twice_as_bad_still_costs_less_than_silence() {
        for rings in [0.0, 0.1, 0.2, 0.3, 0.32, 0.34, 0.36, 0.39] {
            let gone = 1.0 - rings;
            let said = judge_expected(
                &of_one_string([rings, 0.0, gone, 0.0], 1.0),
                0,
                0,
                1.0,
                &Learnt::default(),
            );
            let expected = match 2.0 * rings < gone {
                true => Verdict::Muted,
                false => Verdict::Unsure,
            };
            assert_eq!(said.verdict, expected, "rings by {rings}");
        }
    }

    #[test]
    fn a_free_string_struck_softly_rings_and_one_that_resonates_does_not() {
        // The weakest of those struck at -15 dB, and the strongest pair's median of those not plucked.
        for (level_db, expected) in [(-34.8, Verdict::Ringing), (-39.0, Verdict::Silent)] {
            let mut heard = of_one_string([1.0, 0.0, 0.0, 0.0], 1.0);
            heard.others[1] = vec![(0, 0.9)];
            heard.levels_db[1] = Some(level_db);
            let said = judge_unwanted(&heard, 1, &Learnt::default());
            assert_eq!(said.verdict, expected, "{level_db} dB");
        }
    }
}
