//! Deeds: what was done to one string, as a label has it.

use crate::verdict::{StringVerdict, Verdict};
use crate::words;

/// Deed done on purpose to one string, or known of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Deed {
    /// Played as written: it rings, or it is quiet where it must be.
    Clean,
    /// Touched by the finger on the string beside it.
    Touched,
    /// Its finger lifted until it only touches the string.
    Lifted,
    /// Held by a barre that was slackened.
    Slack,
    /// Passed by: the strum did not strike it.
    Missed,
    /// Known to be dead, however that came about.
    Muted,
    /// Known to die early, however that came about.
    Choked,
    /// Held a fret too high.
    High,
    /// Known to sound at another fret, however that came about.
    OtherFret,
    /// Made to buzz: pressed far from its fret.
    Buzzes,
    /// Left to ring though it must be quiet.
    Rings,
    /// Unknown: the string is not counted.
    Unknown,
}

impl Deed {
    /// All of them, in the order in which they are told.
    pub const ALL: [Deed; 12] = [
        Deed::Clean,
        Deed::Touched,
        Deed::Lifted,
        Deed::Slack,
        Deed::Missed,
        Deed::Muted,
        Deed::Choked,
        Deed::High,
        Deed::OtherFret,
        Deed::Buzzes,
        Deed::Rings,
        Deed::Unknown,
    ];

    /// The word that stands for it in `truth.csv` and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Deed::Clean => "clean",
            Deed::Touched => "touched",
            Deed::Lifted => "lifted",
            Deed::Slack => "slack",
            Deed::Missed => "missed",
            Deed::Muted => "muted",
            Deed::Choked => "choked",
            Deed::High => "high",
            Deed::OtherFret => "other-fret",
            Deed::Buzzes => "buzzes",
            Deed::Rings => "rings",
            Deed::Unknown => "unknown",
        }
    }

    /// Reads its word, in small letters or capitals; `None` where it is another one.
    pub fn parse(word: &str) -> Option<Deed> {
        let is = |deed: &Deed| deed.word().eq_ignore_ascii_case(word);
        Deed::ALL.into_iter().find(is)
    }

    /// Says what it is, in a few words: "finger a fret too high".
    pub fn phrase(self) -> &'static str {
        use words::labelled as said;
        match self {
            Deed::Clean => said::CLEAN,
            Deed::Touched => said::TOUCHED,
            Deed::Lifted => said::LIFTED,
            Deed::Slack => said::SLACK,
            Deed::Missed => said::MISSED,
            Deed::Muted => said::MUTED,
            Deed::Choked => said::CHOKED,
            Deed::High => said::HIGH,
            Deed::OtherFret => said::OTHER_FRET,
            Deed::Buzzes => said::BUZZES,
            Deed::Rings => said::RINGS,
            Deed::Unknown => said::UNKNOWN,
        }
    }

    /// Tells whether the string then does something else than is written.
    pub fn is_fault(self) -> bool {
        !matches!(self, Deed::Clean | Deed::Unknown)
    }

    /// Tells whether a string that is to sound rings on at its fret then; `None` where that is not known or beside the point.
    pub fn rings(self) -> Option<bool> {
        match self {
            Deed::Clean => Some(true),
            Deed::Touched
            | Deed::Lifted
            | Deed::Slack
            | Deed::Missed
            | Deed::Muted
            | Deed::Choked
            | Deed::High
            | Deed::OtherFret => Some(false),
            Deed::Buzzes | Deed::Rings | Deed::Unknown => None,
        }
    }

    /// Tells whether a verdict tells this deed. Damping and a slack finger leave a string dead or dying early, and
    /// which of the two no hand can choose; a slack barre may buzz too. Nothing tells what is not known.
    pub fn told_by(self, verdict: Verdict) -> bool {
        let damped = matches!(verdict, Verdict::Muted | Verdict::Choked);
        match self {
            Deed::Clean => matches!(verdict, Verdict::Clean | Verdict::Silent),
            Deed::Touched | Deed::Lifted | Deed::Missed => damped,
            Deed::Slack => damped || verdict == Verdict::Buzzing,
            Deed::Muted => verdict == Verdict::Muted,
            Deed::Choked => verdict == Verdict::Choked,
            Deed::High | Deed::OtherFret => verdict == Verdict::WrongFret,
            Deed::Buzzes => verdict == Verdict::Buzzing,
            Deed::Rings => verdict == Verdict::Ringing,
            Deed::Unknown => false,
        }
    }

    /// Tells as [`told_by`](Self::told_by), by all that is said of a string: of one that is dead or dies early, and it is open
    /// which, both are told.
    pub fn told_in(self, said: &StringVerdict) -> bool {
        let either = said.dead_or_dying() && matches!(self, Deed::Muted | Deed::Choked);
        either || self.told_by(said.verdict)
    }

    /// Tells whether it can be done to a string at this fret; `None` is a string that must be quiet.
    pub fn can_be_done(self, fret: Option<u8>) -> bool {
        match self {
            Deed::Clean | Deed::Unknown => true,
            Deed::Rings => fret.is_none(),
            Deed::Touched | Deed::Missed | Deed::Muted | Deed::Choked | Deed::OtherFret => {
                fret.is_some()
            }
            // What takes a finger of its own.
            Deed::Lifted | Deed::Slack | Deed::High | Deed::Buzzes => {
                fret.is_some_and(|fret| fret > 0)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_deed_has_a_word_of_its_own_that_is_read_back() {
        for deed in Deed::ALL {
            assert_eq!(Deed::parse(deed.word()), Some(deed));
            assert_eq!(Deed::parse(&deed.word().to_uppercase()), Some(deed));
        }
        assert_eq!(Deed::parse("dead"), None);
        assert_eq!(Deed::parse(""), None);
    }

    #[test]
    fn faults_are_told_by_faults_and_what_is_right_by_what_is_no_fault() {
        for deed in Deed::ALL {
            let told = Verdict::ALL.into_iter().filter(|v| deed.told_by(*v));
            let told: Vec<Verdict> = told.collect();
            assert_eq!(told.is_empty(), deed == Deed::Unknown, "{deed:?}");
            assert!(told.iter().all(|v| v.is_fault() == deed.is_fault()));
            assert!(!deed.told_by(Verdict::Unsure));
        }
    }

    #[test]
    fn a_deed_needs_the_string_and_the_finger_that_it_is_done_with() {
        let possible = |fret| Deed::ALL.into_iter().filter(move |d| d.can_be_done(fret));
        let quiet: Vec<Deed> = possible(None).collect();
        assert_eq!(quiet, [Deed::Clean, Deed::Rings, Deed::Unknown]);
        assert!(!possible(Some(0)).any(|d| matches!(d, Deed::Lifted | Deed::High | Deed::Rings)));
        assert_eq!(possible(Some(3)).count(), Deed::ALL.len() - 1);
    }
}
