//! What a session shows, whatever it is shown on.

use std::collections::VecDeque;

use crate::fretboard::STRINGS;
use crate::listening::Heard;
use crate::verdict::{Expected, Take, Verdict, Warning, wording};

/// Takes kept beside each string.
pub const HISTORY: usize = 10;
/// A strum at this level or louder is judged well; under it the meter says so, in dBFS: 20 dB
/// above what is refused.
const QUIET_DBFS: f32 = -35.0;
/// From here a strum is next to clipping, in dBFS (common practice).
const LOUD_DBFS: f32 = -1.0;

/// What a session shows. Feed it with [`hear`](Board::hear), draw it with
/// [`draw`](super::view::draw). The texts at top and bottom are the session's own.
#[derive(Debug, Clone)]
pub struct Board {
    /// What to play, large at the top: "Bb  x13331".
    pub goal: String,
    /// A line below it, where the session has more to say: the exercise, the time left.
    pub under_goal: String,
    /// Keys, at the bottom.
    pub keys: String,
    /// What is wrong with the sound itself: shown instead of the advice.
    pub trouble: Option<String>,
    /// The picture of what to play, line by line, where it is to be shown.
    pub picture: Vec<String>,
    /// Peak at the microphone in dBFS; `None` where there is none.
    pub level_dbfs: Option<f32>,
    take: Option<Shown>,
    history: VecDeque<(u64, [Verdict; STRINGS])>,
}

#[derive(Debug, Clone)]
struct Shown {
    number: u64,
    take: Take,
    settled: bool,
}

impl Board {
    /// An empty board for what is to be played.
    pub fn new(expected: &Expected) -> Self {
        Board {
            goal: goal(expected),
            under_goal: String::new(),
            keys: String::new(),
            trouble: None,
            picture: Vec::new(),
            level_dbfs: None,
            take: None,
            history: VecDeque::with_capacity(HISTORY + 1),
        }
    }

    /// From now on this is to be played; what was heard of another chord is taken down.
    pub fn expect(&mut self, expected: &Expected) {
        self.goal = goal(expected);
        self.take = None;
        self.history.clear();
    }

    /// Shows what was heard. Gives whether anything changed.
    pub fn hear(&mut self, heard: &Heard) -> bool {
        match heard {
            Heard::First { number, take } => {
                self.forget(*number);
                self.show(*number, take, false);
            }
            Heard::Settled { number, take } => {
                self.forget(*number);
                if take.judged() {
                    let verdicts = std::array::from_fn(|i| take.strings[i].verdict);
                    self.history.push_back((*number, verdicts));
                    if self.history.len() > HISTORY {
                        self.history.pop_front();
                    }
                }
                // An older take that is settled late does not push the newest away.
                if self.take.as_ref().is_none_or(|t| t.number <= *number) {
                    self.show(*number, take, true);
                }
            }
            Heard::Withdrawn { number } => {
                self.forget(*number);
                if self.take.as_ref().is_some_and(|t| t.number == *number) {
                    self.take = None;
                }
            }
            Heard::Cut { .. } | Heard::Over { .. } => return false,
        }
        true
    }

    fn show(&mut self, number: u64, take: &Take, settled: bool) {
        self.take = Some(Shown {
            number,
            take: take.clone(),
            settled,
        });
    }

    fn forget(&mut self, number: u64) {
        self.history.retain(|(n, _)| *n != number);
    }

    /// The take that is shown, and whether its verdict is settled.
    pub fn take(&self) -> Option<(&Take, bool)> {
        self.take.as_ref().map(|t| (&t.take, t.settled))
    }

    /// The verdicts on one string (0 = string 6) in the last takes, oldest first.
    pub fn history(&self, string: usize) -> impl Iterator<Item = Verdict> + '_ {
        self.history.iter().map(move |(_, v)| v[string])
    }

    /// What to read after the strings: the one thing to try, or what stands in the way.
    pub fn advice(&self) -> String {
        if let Some(trouble) = &self.trouble {
            return trouble.clone();
        }
        match &self.take {
            None => "Strum the chord once and let it ring.".to_owned(),
            Some(Shown { take, settled, .. }) => match take.advice.first() {
                _ if !take.judged() => wording::headline(take),
                _ if !settled => "Still listening ...".to_owned(),
                Some(advice) => format!(
                    "{}: {}",
                    wording::strings_named(&advice.strings),
                    advice.try_first
                ),
                None => wording::headline(take),
            },
        }
    }

    /// What the tuning of the take shown asks for, where it does.
    pub fn tuning_warning(&self) -> Option<String> {
        let take = &self.take.as_ref()?.take;
        let out = take
            .warnings
            .iter()
            .find(|w| matches!(w, Warning::OutOfTune { .. }));
        out.map(|w| wording::warning(w, take))
            .or_else(|| wording::tuning_note(take))
    }

    /// What the meter says in words.
    pub fn level_word(&self) -> &'static str {
        match self.level_dbfs {
            None => "no microphone",
            Some(level) if level >= LOUD_DBFS => "too loud",
            Some(level) if level >= QUIET_DBFS => "good",
            Some(_) => "quiet",
        }
    }
}

fn goal(expected: &Expected) -> String {
    match (expected.named(), expected.example()) {
        (Some(voicing), _) => match &voicing.chord {
            Some(chord) => format!("{chord}  {}", voicing.frets),
            None => voicing.frets.to_string(),
        },
        (None, Some(example)) => match &example.chord {
            Some(chord) => format!("{chord}, any shape"),
            None => example.frets.to_string(),
        },
        (None, None) => "any chord known here".to_owned(),
    }
}
