//! Both hands on the guitar: going on after clean takes in a row or after a silence, and waiting.

use crate::listening::{Message, Wish};
use crate::practice::diary::Correction;
use crate::verdict::{ALL_STRINGS, clean};
use crate::words;

/// Shortest and longest silence that may be asked for, in seconds.
const SILENCE_S: std::ops::RangeInclusive<f64> = 3.0..=3600.0;

/// Reads the seconds of `--silence`.
pub fn silence(text: &str) -> Result<f64, String> {
    let seconds: Option<f64> = text.trim().parse().ok();
    let seconds = seconds.filter(|seconds| SILENCE_S.contains(seconds));
    seconds.ok_or_else(|| words::commands::SILENCE_EXPECTED.to_owned())
}

/// Time in which nothing was struck.
#[derive(Debug)]
pub struct Quiet {
    most_s: Option<f64>,
    since_s: f64,
}

impl Quiet {
    /// Counts from the beginning; `most_s`: a silence so long, in seconds, goes on.
    pub fn new(most_s: Option<f64>) -> Quiet {
        Quiet {
            most_s,
            since_s: 0.0,
        }
    }

    /// Something was struck, or gone on to.
    pub fn heard(&mut self, now_s: f64) {
        self.since_s = now_s;
    }

    /// Tells whether it has been quiet for long enough.
    pub fn is_long(&self, now_s: f64) -> bool {
        self.most_s
            .is_some_and(|most_s| now_s - self.since_s >= most_s)
    }
}

/// Clean takes in a row.
#[derive(Debug)]
pub struct InARow {
    wanted: usize,
    /// The listener's numbers of the clean takes since the last other one.
    clean: Vec<u64>,
}

impl InARow {
    /// Waits for so many; none at all are never enough.
    pub fn new(wanted: usize) -> InARow {
        InARow {
            wanted,
            clean: Vec::new(),
        }
    }

    /// Counts what was heard in.
    pub fn hear(&mut self, heard: &Message) {
        match heard {
            Message::Settled { number, take } => {
                self.clean.retain(|known| known != number);
                match clean(take, &ALL_STRINGS) {
                    Some(true) => self.clean.push(*number),
                    Some(false) => self.clean.clear(),
                    // What could not be judged neither counts nor breaks the row.
                    None => {}
                }
            }
            Message::Withdrawn { number } => self.clean.retain(|known| known != number),
            _ => {}
        }
    }

    /// Tells whether there are enough; if so it begins anew.
    pub fn is_enough(&mut self) -> bool {
        let enough = self.wanted > 0 && self.clean.len() >= self.wanted;
        if enough {
            self.clean.clear();
        }
        enough
    }

    /// Another chord is meant: it begins anew.
    pub fn begin(&mut self) {
        self.clean.clear();
    }
}

/// The key that pauses, and goes on.
pub const PAUSE: char = 'p';

/// The key after which the player says how the last take really was.
pub const PUT_RIGHT: char = 'r';
/// Question that is asked then.
pub const WHAT: &str = words::commands::WHAT_REALLY;

/// Question to the player how the last take really was, while it is open.
#[derive(Debug, Default)]
pub struct PutRight {
    asking: bool,
}

impl PutRight {
    /// Tells whether it is being asked.
    pub fn is_asking(&self) -> bool {
        self.asking
    }

    /// Takes a key: the question, or its answer. A key that belongs to either means nothing else then.
    pub fn key(&mut self, wish: &mut Option<Wish>) -> Option<Correction> {
        let key = (*wish)?;
        if !self.asking {
            if key == Wish::Key(PUT_RIGHT) {
                self.asking = true;
                *wish = None;
            }
            return None;
        }
        self.asking = false;
        if key == Wish::Quit {
            return None;
        }
        *wish = None;
        match key {
            Wish::Key(c @ '1'..='6') => Some(Correction::Right(vec![c as u8 - b'0'])),
            Wish::Key('c') => Some(Correction::AnotherChord),
            Wish::Key('f') => Some(Correction::Forget),
            _ => None,
        }
    }
}

/// Times at which nothing counts: while the opening is read, and while the learner has paused.
#[derive(Debug, Default)]
pub struct Rest {
    /// Since when, in seconds since the sound began, and whether a strum ends it.
    on: Option<(f64, bool)>,
    /// What was struck between these does not count, the one on apart.
    over: Vec<(f64, f64)>,
}

impl Rest {
    /// Begins to wait; a strum may end it (`by_strum`), else a key alone does.
    pub fn begin(&mut self, now_s: f64, by_strum: bool) {
        self.on = Some((now_s, by_strum));
    }

    /// Tells whether nothing counts now.
    pub fn is_on(&self) -> bool {
        self.on.is_some()
    }

    /// Tells whether what came ends it. A key that does so means nothing else; but whoever wants to end everything may.
    pub fn is_over(&self, heard: &[Message], wish: &mut Option<Wish>) -> bool {
        let Some((_, by_strum)) = self.on else {
            return false;
        };
        let struck = by_strum
            && heard
                .iter()
                .any(|h| matches!(h, Message::First { .. } | Message::Settled { .. }));
        match wish {
            Some(Wish::Quit | Wish::Reference) => false,
            Some(_) => {
                *wish = None;
                true
            }
            None => struck,
        }
    }

    /// Ends the wait.
    pub fn end(&mut self, now_s: f64) {
        if let Some((since_s, _)) = self.on.take() {
            self.over.push((since_s, now_s));
        }
    }

    /// Tells whether what was heard counts. What a withdrawn take was cannot be told; nothing hangs on it.
    pub fn counts(&self, heard: &Message) -> bool {
        let (Message::First { take, .. }
        | Message::Settled { take, .. }
        | Message::Cut { take, .. }
        | Message::Over { take, .. }) = heard
        else {
            return true;
        };
        let at_s = take.start_s;
        let in_this = self.on.is_some_and(|(since_s, _)| at_s >= since_s);
        let in_one = |(from_s, to_s): &(f64, f64)| (*from_s..*to_s).contains(&at_s);
        !in_this && !self.over.iter().any(in_one)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::{bb, with};
    use crate::verdict::{JudgedTake, Verdict};

    fn settled(number: u64, fault: bool) -> Message {
        let take = match fault {
            true => with(bb(), 4, Verdict::Muted, 0.9),
            false => bb(),
        };
        Message::Settled { number, take }
    }

    #[test]
    fn clean_takes_count_only_in_a_row() {
        let mut row = InARow::new(2);
        for (number, fault, enough) in [
            (1, false, false),
            (2, true, false),
            (3, false, false),
            (4, false, true),
        ] {
            row.hear(&settled(number, fault));
            assert_eq!(row.is_enough(), enough, "{number}");
        }
        row.hear(&settled(5, false));
        row.hear(&settled(6, false));
        row.hear(&Message::Withdrawn { number: 6 });
        assert!(!row.is_enough());
        let mut never = InARow::new(0);
        never.hear(&settled(1, false));
        assert!(!never.is_enough());
    }

    #[test]
    fn after_its_key_one_key_says_what_the_last_take_really_was() {
        let mut right = PutRight::default();
        let press = |right: &mut PutRight, key: Wish| {
            let mut wish = Some(key);
            (right.key(&mut wish), wish)
        };
        assert_eq!(
            press(&mut right, Wish::Key('2')),
            (None, Some(Wish::Key('2')))
        );
        assert_eq!(press(&mut right, Wish::Key('r')), (None, None));
        assert!(right.is_asking());
        assert_eq!(
            press(&mut right, Wish::Key('2')),
            (Some(Correction::Right(vec![2])), None)
        );
        press(&mut right, Wish::Key('r'));
        assert_eq!(
            press(&mut right, Wish::Key('f')),
            (Some(Correction::Forget), None)
        );
        press(&mut right, Wish::Key('r'));
        assert_eq!(press(&mut right, Wish::Next), (None, None));
        press(&mut right, Wish::Key('r'));
        assert_eq!(press(&mut right, Wish::Quit), (None, Some(Wish::Quit)));
        assert!(!right.is_asking());
    }

    #[test]
    fn a_silence_counts_from_the_last_strum() {
        let mut quiet = Quiet::new(Some(5.0));
        quiet.heard(10.0);
        assert!(!quiet.is_long(14.0) && quiet.is_long(15.0));
        assert!(!Quiet::new(None).is_long(1e6));
        assert!(silence("0").is_err() && silence("NaN").is_err() && silence(" 20 ") == Ok(20.0));
    }

    fn struck(start_s: f64) -> Message {
        let take = JudgedTake { start_s, ..bb() };
        Message::Settled { number: 1, take }
    }

    #[test]
    fn what_is_struck_in_a_pause_never_counts_and_what_was_struck_before_does() {
        let mut rest = Rest::default();
        rest.begin(10.0, false);
        assert!(rest.counts(&struck(9.9)) && !rest.counts(&struck(10.1)));
        let mut wish = None;
        assert!(!rest.is_over(&[struck(12.0)], &mut wish));
        let mut wish = Some(Wish::Next);
        assert!(rest.is_over(&[], &mut wish) && wish.is_none());
        rest.end(20.0);
        assert!(!rest.counts(&struck(19.5)) && rest.counts(&struck(20.5)));
    }

    #[test]
    fn the_opening_is_left_by_a_strum_and_everything_can_be_ended_from_it() {
        let mut rest = Rest::default();
        rest.begin(0.0, true);
        assert!(rest.is_over(&[struck(3.0)], &mut None));
        let mut wish = Some(Wish::Quit);
        assert!(!rest.is_over(&[], &mut wish) && wish == Some(Wish::Quit));
    }
}
