//! Faces of a trial: in lines, or on a whole terminal.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use crate::fretboard::Tuning;
use crate::listening::{Ear, Face, Message, Notice, Wish};
use crate::report::live::asked::{self, AskedScreen};
use crate::report::live::{ChordPicture, Key, Stage};
use crate::trial::{Run, wording};
use crate::verdict::Expected;
use crate::words;

/// The key that throws away what was struck last.
pub(super) const THROW_AWAY: char = 'x';
/// The level is drawn anew this often.
const REFRESH: Duration = Duration::from_millis(100);
/// A notice that does not stay is shown this long.
const NOTICE: Duration = Duration::from_secs(4);

/// Screen or lines that show a trial.
pub trait Leads: Face {
    /// Shows the step that is to be played now; `said` is what became of the last strum.
    fn announce(&mut self, run: &Run, step: usize, said: &str) -> io::Result<()>;
    /// Tells what became of the last strum; `alarms`: it is to be looked at.
    fn tell(&mut self, said: &str, alarms: bool) -> io::Result<()>;
    /// The player is asked whether what was struck last was done as asked.
    fn ask_back(&mut self, run: &Run) -> io::Result<()>;
    /// The trial waits for the player: why, or that it goes on.
    fn rests(&mut self, run: &Run, why: Option<Waits>) -> io::Result<()>;
}

/// Reason why nothing counts for a while.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Waits {
    /// The hand is to rest.
    Rest,
    /// The player has paused.
    Pause,
}

/// A trial in lines.
pub struct TrialLines<'a> {
    pub out: &'a mut dyn Write,
}

impl TrialLines<'_> {
    fn line(&mut self, said: &str) -> io::Result<()> {
        writeln!(self.out, "{said}")?;
        self.out.flush()
    }
}

impl Face for TrialLines<'_> {
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, _heard: &Message) -> io::Result<()> {
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.line(&notice.sentence())
    }

    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

impl Leads for TrialLines<'_> {
    fn announce(&mut self, run: &Run, step: usize, said: &str) -> io::Result<()> {
        if !said.is_empty() {
            self.line(said)?;
        }
        let of = run.plan().steps.len();
        let step_of_plan = &run.plan().steps[step];
        let asked = wording::asked(step_of_plan);
        let chord = wording::chord(step_of_plan);
        self.line(&words::trial::asked(
            step + 1,
            of,
            chord,
            asked.large,
            asked.in_full,
        ))
    }

    fn tell(&mut self, said: &str, _alarms: bool) -> io::Result<()> {
        self.line(said)
    }

    fn ask_back(&mut self, _run: &Run) -> io::Result<()> {
        Ok(())
    }

    fn rests(&mut self, _run: &Run, why: Option<Waits>) -> io::Result<()> {
        match why {
            Some(Waits::Rest) => self.line(words::trial::REST),
            Some(Waits::Pause) => self.line(words::trial::PAUSED),
            None => Ok(()),
        }
    }
}

/// A trial that is shown nowhere: what it comes to is written at the end.
pub struct Unseen;

impl Face for Unseen {
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, _heard: &Message) -> io::Result<()> {
        Ok(())
    }

    fn notice(&mut self, _notice: &Notice) -> io::Result<()> {
        Ok(())
    }

    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

impl Leads for Unseen {
    fn announce(&mut self, _run: &Run, _step: usize, _said: &str) -> io::Result<()> {
        Ok(())
    }

    fn tell(&mut self, _said: &str, _alarms: bool) -> io::Result<()> {
        Ok(())
    }

    fn ask_back(&mut self, _run: &Run) -> io::Result<()> {
        Ok(())
    }

    fn rests(&mut self, _run: &Run, _why: Option<Waits>) -> io::Result<()> {
        Ok(())
    }
}

/// A trial on a whole terminal.
pub struct TrialScreen {
    stage: Stage,
    asked: AskedScreen,
    tuning: Tuning,
    /// Chord pictures as a left-handed player sees the neck.
    left: bool,
    drawn: Option<Instant>,
    /// An answer is waited for.
    asking: bool,
    /// A fault of the sound: shown above the state, until then where it passes.
    trouble: Option<(String, Option<Instant>)>,
}

impl TrialScreen {
    /// Takes the terminal.
    pub fn new(stage: Stage, tuning: Tuning, left: bool) -> TrialScreen {
        TrialScreen {
            stage,
            asked: AskedScreen::default(),
            tuning,
            left,
            drawn: None,
            asking: false,
            trouble: None,
        }
    }

    fn say(&mut self, said: &str, alarms: bool) {
        said.clone_into(&mut self.asked.state);
        self.asked.alarms = alarms;
        self.drawn = None;
    }
}

impl Face for TrialScreen {
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    /// What is made of a strum is not shown: the player alone says whether it was done as asked.
    fn hear(&mut self, _heard: &Message) -> io::Result<()> {
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        let shown = notice.lasts_s().map_or(NOTICE, Duration::from_secs_f64);
        let ends = (!notice.stays()).then(|| Instant::now() + shown);
        self.trouble = Some((notice.sentence(), ends));
        // Sound systems write on the screen when they come and go.
        self.stage.clear()?;
        self.drawn = None;
        Ok(())
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        let passes =
            |(_, ends): &(String, Option<Instant>)| ends.is_some_and(|e| Instant::now() > e);
        if self.trouble.as_ref().is_some_and(passes) {
            self.trouble = None;
            self.drawn = None;
        }
        let wish = match self.stage.key()? {
            Some(Key::Back | Key::Letter('n')) if self.asking => Some(Wish::Key(THROW_AWAY)),
            // Elsewhere it is struck without looking; here it would leave out what is announced.
            Some(Key::Letter(' ')) => None,
            Some(Key::Resized) => {
                self.drawn = None;
                None
            }
            key => key.and_then(Key::wish),
        };
        if self.drawn.is_none_or(|at| at.elapsed() >= REFRESH) {
            let peak = ear.has_microphone().then(|| ear.meter().peak_dbfs());
            self.asked.level_dbfs = peak;
            let shown = match &self.trouble {
                Some((trouble, _)) => &beside(trouble, &self.asked),
                None => &self.asked,
            };
            self.stage.draw(|frame| asked::draw(frame, shown))?;
            self.drawn = Some(Instant::now());
        }
        Ok(wish)
    }
}

/// A fault of the sound above the state: what is waited for stays to be read.
fn beside(trouble: &str, asked: &AskedScreen) -> AskedScreen {
    AskedScreen {
        state: format!("{trouble}\n{}", asked.state),
        alarms: true,
        ..asked.clone()
    }
}

impl Leads for TrialScreen {
    fn announce(&mut self, run: &Run, step: usize, said: &str) -> io::Result<()> {
        self.asking = false;
        words::trial::KEYS.clone_into(&mut self.asked.keys);
        let step_of_plan = &run.plan().steps[step];
        let asked = wording::asked(step_of_plan);
        let voicing = &step_of_plan.voicing;
        let fingers = Some(&voicing.hand.fingers);
        self.asked.status = words::trial::strum_of(step + 1, run.plan().steps.len());
        self.asked.chord = match &voicing.chord {
            Some(chord) => format!("{chord}  {}", voicing.frets),
            None => voicing.frets.to_string(),
        };
        self.asked.ask = asked.large;
        self.asked.in_full = asked.in_full;
        self.asked.picture = Some(ChordPicture::of(
            &voicing.frets,
            fingers,
            self.left,
            &self.tuning,
        ));
        let state = match said.is_empty() {
            true => words::trial::LISTENING.to_owned(),
            false => format!("{said} {}", words::trial::LISTENING),
        };
        self.say(&state, false);
        Ok(())
    }

    fn tell(&mut self, said: &str, alarms: bool) -> io::Result<()> {
        self.say(said, alarms);
        Ok(())
    }

    fn ask_back(&mut self, run: &Run) -> io::Result<()> {
        self.asking = true;
        words::trial::KEYS_ASKING.clone_into(&mut self.asked.keys);
        if let Some(step) = run.step() {
            self.asked.in_full = words::trial::you_were_asked(wording::asked(step).large);
        }
        words::trial::AS_ASKED.clone_into(&mut self.asked.ask);
        self.say(words::trial::ANSWER, true);
        Ok(())
    }

    fn rests(&mut self, run: &Run, why: Option<Waits>) -> io::Result<()> {
        let Some(why) = why else {
            return match (run.is_asking(), run.current()) {
                (true, _) => self.ask_back(run),
                (false, Some(step)) => self.announce(run, step, ""),
                (false, None) => Ok(()),
            };
        };
        let (large, said) = match why {
            Waits::Rest => (words::trial::REST_LARGE, words::trial::REST),
            Waits::Pause => (words::trial::PAUSED_LARGE, words::trial::PAUSED),
        };
        if matches!(why, Waits::Pause) {
            words::trial::KEYS_PAUSED.clone_into(&mut self.asked.keys);
        }
        large.clone_into(&mut self.asked.ask);
        self.asked.in_full.clear();
        self.say(said, true);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    #[test]
    fn beside_a_fault_of_the_sound_it_is_still_said_what_to_do() {
        let asked = AskedScreen {
            ask: words::trial::AS_ASKED.to_owned(),
            in_full: words::trial::you_were_asked(words::trial::SLACKEN),
            state: words::trial::ANSWER.to_owned(),
            ..AskedScreen::default()
        };
        let trouble = words::devices::NO_SOUND_AT_ALL;
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        (terminal.draw(|frame| asked::draw(frame, &beside(trouble, &asked)))).unwrap();
        let screen = terminal.backend().to_string();
        for word in ["microphone", "Press y", "asked for again"] {
            assert!(screen.contains(word), "{word}\n{screen}");
        }
    }
}
