//! Content of a session's screen, whatever it is shown on.

use std::collections::VecDeque;

use super::chord_picture::ChordPicture;
use crate::fretboard::{Fingering, Frets, STRINGS, Tuning};
use crate::listening::Message;
use crate::practice::diary::Correction;
use crate::verdict::{Expected, JudgedTake, Verdict, Warning, wording};
use crate::words;

/// Takes kept beside each string.
pub const HISTORY: usize = 10;
/// A strum at this level or louder is judged well; under it the meter says so, in dBFS: 20 dB
/// above what is refused.
const QUIET_DBFS: f32 = -35.0;
/// From here a strum is next to clipping, in dBFS (common practice).
const LOUD_DBFS: f32 = -1.0;

/// Sentence that asks for a strum where nothing was heard yet.
pub(super) const STRUM: &str = words::screen::STRUM_THE_CHORD;
const PAUSED: &str = words::screen::PAUSED;

/// Content of a session's screen. Feed it with [`hear`](Board::hear), draw it with
/// [`draw`](super::view::draw). The texts at top and bottom are the session's own.
#[derive(Debug, Clone)]
pub struct Board {
    /// Progress of the session, in a line at the top; empty where there is nothing to tell.
    pub status: String,
    /// Chord to play, large: "Bb  x13331".
    pub goal: String,
    /// Word of a teacher on it, below.
    pub say: String,
    /// Judgement of the session on the last take, over the strings.
    pub note: String,
    /// Judgement of the session where something else was played than was asked: shown instead of advice.
    pub instead: Option<String>,
    /// Text in place of advice while nothing was heard.
    pub prompt: String,
    /// Question to the player just now, instead of advice.
    pub question: Option<&'static str>,
    /// True where there are strings to be seen: not before the session has begun.
    pub begun: bool,
    /// True where the session waits: what is played is not shown.
    pub paused: bool,
    /// Keys, at the bottom.
    pub keys: String,
    /// Fault of the sound itself: shown instead of the advice.
    pub trouble: Option<String>,
    /// The picture of what to play, where there is one.
    pub picture: Option<ChordPicture>,
    /// Peak at the microphone in dBFS; `None` where there is none.
    pub level_dbfs: Option<f32>,
    /// Tuning of the guitar, for the notes of pictures.
    tuning: Tuning,
    /// Whether pictures are as a left-handed player sees the neck.
    left: bool,
    take: Option<Shown>,
    history: VecDeque<(u64, [Verdict; STRINGS])>,
}

#[derive(Debug, Clone)]
struct Shown {
    number: u64,
    take: JudgedTake,
    settled: bool,
}

impl Board {
    /// An empty board for what is to be played on a guitar tuned so; `left`: its pictures are as a
    /// left-handed player sees the neck.
    pub fn new(expected: &Expected, tuning: &Tuning, left: bool) -> Self {
        let mut board = Board {
            status: String::new(),
            goal: String::new(),
            say: String::new(),
            note: String::new(),
            instead: None,
            prompt: STRUM.to_owned(),
            question: None,
            begun: true,
            paused: false,
            keys: String::new(),
            trouble: None,
            picture: None,
            level_dbfs: None,
            tuning: *tuning,
            left,
            take: None,
            history: VecDeque::with_capacity(HISTORY + 1),
        };
        board.expect(expected);
        board
    }

    /// Shows what is to be played from now on; what was heard of another chord is taken down.
    pub fn expect(&mut self, expected: &Expected) {
        self.goal = goal(expected);
        self.picture = None;
        if let Some(voicing) = expected.named() {
            self.draw_picture(&voicing.frets, Some(&voicing.hand.fingers));
        }
        self.clear();
    }

    /// Takes down what was heard.
    pub fn clear(&mut self) {
        self.take = None;
        self.instead = None;
        self.history.clear();
    }

    /// Shows the picture of these frets, with these fingers or the usual ones.
    pub fn draw_picture(&mut self, frets: &Frets, fingers: Option<&Fingering>) {
        let picture = ChordPicture::of(frets, fingers, self.left, &self.tuning);
        self.picture = Some(picture);
    }

    /// Shows no picture.
    pub fn take_picture_down(&mut self) {
        self.picture = None;
    }

    /// Shows what was heard. Gives whether anything changed.
    pub fn hear(&mut self, heard: &Message) -> bool {
        if self.paused {
            return false;
        }
        match heard {
            Message::First { number, take } => {
                self.forget(*number);
                self.instead = None;
                self.show(*number, take, false);
            }
            Message::Settled { number, take } => {
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
            Message::Withdrawn { number } => {
                self.forget(*number);
                if self.take.as_ref().is_some_and(|t| t.number == *number) {
                    self.take = None;
                    self.instead = None;
                }
            }
            Message::Cut { .. } | Message::Over { .. } => return false,
        }
        true
    }

    fn show(&mut self, number: u64, take: &JudgedTake, settled: bool) {
        self.take = Some(Shown {
            number,
            take: take.clone(),
            settled,
        });
    }

    fn forget(&mut self, number: u64) {
        self.history.retain(|(n, _)| *n != number);
    }

    /// Shows the take as it stands with what the player said of it; one that counts for nothing is taken down.
    pub fn put_right(&mut self, said: &Correction) {
        let Some(shown) = &mut self.take else { return };
        let number = shown.number;
        if !said.counts() {
            self.take = None;
            self.forget(number);
            return;
        }
        said.stand(&mut shown.take.strings);
        shown.take.advice.clear();
        let verdicts = std::array::from_fn(|i| shown.take.strings[i].verdict);
        if let Some((_, known)) = self.history.iter_mut().find(|(n, _)| *n == number) {
            *known = verdicts;
        }
    }

    /// The take that is shown, and whether its verdict is settled.
    pub fn take(&self) -> Option<(&JudgedTake, bool)> {
        self.take.as_ref().map(|t| (&t.take, t.settled))
    }

    /// The verdicts on one string (0 = string 6) in the last takes, oldest first.
    pub fn history(&self, string: usize) -> impl Iterator<Item = Verdict> + '_ {
        self.history.iter().map(move |(_, v)| v[string])
    }

    /// Gives what to read after the strings: the one thing to try, or what stands in the way.
    pub fn advice(&self) -> String {
        if let Some(question) = self.question {
            return question.to_owned();
        }
        if let Some(trouble) = &self.trouble {
            return trouble.clone();
        }
        if self.paused {
            return PAUSED.to_owned();
        }
        if let Some(instead) = &self.instead {
            return instead.clone();
        }
        match &self.take {
            None => self.prompt.clone(),
            Some(Shown { take, settled, .. }) => {
                let advice = match take.advice.first() {
                    _ if !take.judged() => wording::headline(take),
                    _ if !settled => words::screen::STILL_LISTENING.to_owned(),
                    Some(advice) => format!(
                        "{}: {}",
                        wording::strings_named(&advice.strings),
                        advice.try_first
                    ),
                    None => wording::headline(take),
                };
                match self.tuning_warning() {
                    Some(warning) => format!("{advice} {warning}"),
                    None => advice,
                }
            }
        }
    }

    /// The beginning of what there is to try, up to the first stop: what can stand in larger letters than
    /// all of it.
    pub fn advice_in_short(&self) -> Option<String> {
        let shown = self.take.as_ref().filter(|t| t.settled)?;
        let advice = shown.take.advice.first().filter(|_| shown.take.judged())?;
        if self.trouble.is_some()
            || self.paused
            || self.question.is_some()
            || self.instead.is_some()
        {
            return None;
        }
        let first = advice.try_first.split(['.', ',', ';', ':']).next()?;
        Some(first.trim().to_owned()).filter(|first| !first.is_empty())
    }

    /// What the tuning of the take shown asks for, where it does.
    fn tuning_warning(&self) -> Option<String> {
        let take = &self.take.as_ref()?.take;
        let out = take
            .warnings
            .iter()
            .find(|w| matches!(w, Warning::OutOfTune { .. }));
        out.map(|w| wording::warning(w, take))
            .or_else(|| wording::tuning_note(take))
    }

    /// Gives what the meter says in words.
    pub fn level_word(&self) -> &'static str {
        level_word(self.level_dbfs)
    }
}

/// Gives what is to be said of a peak in dBFS; of `None`, that there is no microphone.
pub fn level_word(peak_dbfs: Option<f32>) -> &'static str {
    match peak_dbfs {
        None => words::screen::NO_MICROPHONE,
        Some(level) if level >= LOUD_DBFS => words::screen::TOO_LOUD,
        Some(level) if level >= QUIET_DBFS => words::screen::GOOD,
        Some(_) => words::screen::QUIET,
    }
}

fn goal(expected: &Expected) -> String {
    match (expected.named(), expected.example()) {
        (Some(voicing), _) => match &voicing.chord {
            Some(chord) => format!("{chord}  {}", voicing.frets),
            None => voicing.frets.to_string(),
        },
        (None, Some(example)) => match &example.chord {
            Some(chord) => words::screen::any_shape(chord),
            None => example.frets.to_string(),
        },
        (None, None) => words::screen::ANY_CHORD.to_owned(),
    }
}
