//! `ringtrue practice`: leads through a lesson.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use anyhow::{anyhow, bail};
use jiff::Timestamp;

use super::check::{damage, nothing_found};
use super::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::audio::live::{Source, open_input, open_output};
use crate::audio::recorded::{Recorded, State};
use crate::fretboard::Tuning;
use crate::practice::diary::{self, Keeper};
use crate::practice::{Circumstances, Event, Lesson, Practice, wording};
use crate::report::live::{Board, Face, Notice, Screen, Session, Sounds, Stage, Wish};
use crate::report::practice as screen;
use crate::verdict::{Ear, Expected, Heard};

/// How long the words on a break stay on the screen.
const BREAK_SHOWN: Duration = Duration::from_secs(30);

/// Lead through a lesson, with both hands on the guitar
///
/// A lesson is a TOML file that a teacher writes: its steps are build, place, climb,
/// name, switch and hold. Every take is judged string by string and kept in the diary.
/// Stopping at any moment loses nothing. On a terminal it fills the screen: n goes on
/// to the next step, q ends. With --from the same lesson runs over a recording.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    after_help = "\
Exit status:
  0  the practice has ended
  2  it could not begin: an argument or the lesson is wrong, there is no
     microphone, or nothing was heard in the recording"
)]
pub struct Args {
    /// The lesson, a TOML file
    lesson: PathBuf,
    /// Run the lesson over a recording
    #[arg(long, value_name = "RECORDING")]
    from: Option<PathBuf>,
    /// When the recording began, as in 2026-11-25T17:00:00Z; by the file's own time if
    /// left out
    #[arg(long, value_name = "TIME", requires = "from")]
    recorded_at: Option<String>,
    /// The diary, a file; the usual one if left out
    #[arg(long, value_name = "FILE", conflicts_with = "no_diary")]
    diary: Option<PathBuf>,
    /// Keep nothing
    #[arg(long)]
    no_diary: bool,
    /// The guitar's name, for the diary
    #[arg(long, value_name = "NAME")]
    guitar: Option<String>,
    /// Keep the sound of each take too, in a folder beside the diary
    #[arg(long, conflicts_with = "no_diary")]
    keep_sound: bool,
    /// Let the steps take turns
    #[arg(long)]
    alternate: bool,
    /// Draw what the lesson leaves to chance from this number
    #[arg(long, value_name = "NUMBER")]
    seed: Option<u64>,
    /// Microphone: its name or a part of it; soundcheck lists them
    #[arg(long, value_name = "NAME", conflicts_with = "from")]
    input: Option<String>,
    /// Play a tone for each verdict: one high, as it should be; two low, look at it
    #[arg(long, conflicts_with = "from")]
    tones: bool,
    /// Write lines, also on a terminal
    #[arg(long)]
    plain: bool,
    /// Mirror the picture for a left-handed guitar
    #[arg(long)]
    left: bool,
}

/// Runs the lesson to its end, to the recording's, or until the learner stops.
///
/// # Errors
/// Arguments or a lesson that make no sense, a recording or microphone that cannot be had, as a
/// sentence; output that cannot be written, as an [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let mut lesson = Lesson::open(&args.lesson)?;
    lesson.alternate |= args.alternate;
    let sound = Sound::open(args)?;
    let began = began(args, &sound)?;
    let keeper = keeper(args);
    if let Some(trouble) = keeper.as_ref().and_then(Keeper::trouble) {
        console.complain(&format!("{trouble}. Practice goes on without it."));
    }
    let tuning = lesson.tuning;
    let seed = args.seed.unwrap_or(began.as_millisecond() as u64);
    let circumstances = Circumstances {
        began,
        guitar: args.guitar.clone(),
        sounds: args.keep_sound,
    };
    let mut practice = Practice::new(lesson, seed, keeper, circumstances);
    let mut events = Vec::new();
    practice.begin(&mut events);
    let Some(first) = practice.session().ask().map(|ask| ask.expected(&tuning)) else {
        bail!("the lesson has no step");
    };
    let sounds = sounds(args, tuning, console);
    let can_play = sounds.is_some();
    let ear = Ear::new(sound.source, args.input.clone(), tuning, first.clone());
    let mut sitting = Session::new(ear, sounds, args.tones);
    let whole_screen = !args.plain && args.from.is_none() && io::stdout().is_terminal();
    let takes = if whole_screen {
        // Devices are open by now: sound systems write on the terminal.
        let mut board = Board::new(&first);
        board.keys = match can_play {
            true => "h hear it clean   n next step   q quit".to_owned(),
            false => "n next step   q quit".to_owned(),
        };
        let mut face = Whole::new(Screen::new(Stage::open()?, board));
        lead(&mut practice, &mut sitting, &mut face, events)?
    } else {
        screen::opening(console.out, practice.lesson())?;
        let mut face = InLines { out: console.out };
        lead(&mut practice, &mut sitting, &mut face, events)?
    };
    screen::results(console.out, practice.lesson(), &practice.results())?;
    if let Some(keeper) = practice.keeper() {
        if let Some(trouble) = keeper.trouble() {
            console.complain(&trouble.to_string());
        }
        screen::left_over(console.out, keeper)?;
    }
    let state = sound
        .state
        .map(|s| s.lock().unwrap_or_else(PoisonError::into_inner).clone());
    let problem = state.zip(args.from.as_deref()).and_then(|(state, file)| {
        (state.error)
            .or_else(|| damage(file, &state.health, sitting.ear.rate_hz()))
            .or_else(|| (takes == 0).then(|| nothing_found(file, &state.health)))
    });
    Ok(match problem {
        Some(problem) => {
            console.complain(&problem);
            NOT_JUDGED.into()
        }
        None => AS_IT_SHOULD_BE.into(),
    })
}

/// Where a practice is shown.
trait Led: Face {
    /// Something has happened in the lesson.
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()>;
    /// Time goes on.
    fn clock(&mut self, practice: &Practice, now_s: f64);
}

fn lead(
    practice: &mut Practice,
    sitting: &mut Session,
    face: &mut dyn Led,
    mut events: Vec<Event>,
) -> anyhow::Result<usize> {
    let mut takes = 0;
    loop {
        let mut over = false;
        for event in events.drain(..) {
            face.event(practice, &event)?;
            takes += usize::from(matches!(event, Event::Take(_)));
            match &event {
                Event::Asked(ask) => sitting.expect(ask.expected(&practice.lesson().tuning), face)?,
                Event::End => over = true,
                _ => {}
            }
        }
        if over {
            break;
        }
        let step = sitting.step(face)?;
        let now_s = sitting.ear.now_s();
        for heard in &step.heard {
            practice.hear(heard, now_s, &mut events);
        }
        practice.tick(now_s, &mut events);
        face.clock(practice, now_s);
        match step.wish {
            Some(Wish::Quit) => break,
            Some(Wish::Next) => practice.leave(now_s, &mut events),
            _ => {}
        }
        if step.ended {
            break;
        }
    }
    // The last take may still be sounding, and what it brings is kept and told.
    let mut heard = Vec::new();
    sitting.ear.finish(&mut heard);
    let now_s = sitting.ear.now_s();
    for heard in &heard {
        practice.hear(heard, now_s, &mut events);
    }
    for event in &events {
        takes += usize::from(matches!(event, Event::Take(_)));
        if !matches!(event, Event::Step { .. } | Event::Asked(_)) {
            face.event(practice, event)?;
        }
    }
    Ok(takes)
}

/// A practice in lines.
struct InLines<'a> {
    out: &'a mut dyn Write,
}

impl Face for InLines<'_> {
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, _heard: &Heard) -> io::Result<()> {
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        writeln!(self.out, "{}", notice.sentence())?;
        self.out.flush()
    }

    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

impl Led for InLines<'_> {
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()> {
        screen::event(self.out, practice.lesson(), event)
    }

    fn clock(&mut self, _practice: &Practice, _now_s: f64) {}
}

/// A practice on a whole terminal: the board of `listen`, with what the lesson asks above it.
struct Whole {
    screen: Screen,
    note: Option<String>,
    /// When the words on a break go away.
    break_ends: Option<Instant>,
}

impl Whole {
    fn new(screen: Screen) -> Self {
        Whole {
            screen,
            note: None,
            break_ends: None,
        }
    }
}

impl Face for Whole {
    /// What was heard last stays to be read until the next strum, though another chord is asked.
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, heard: &Heard) -> io::Result<()> {
        self.screen.hear(heard)
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.screen.notice(notice)
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        if self.break_ends.is_some_and(|end| Instant::now() > end) {
            self.break_ends = None;
            self.screen.board.trouble = None;
        }
        self.screen.tick(ear)
    }
}

impl Led for Whole {
    fn event(&mut self, _practice: &Practice, event: &Event) -> io::Result<()> {
        match event {
            Event::Asked(ask) => self.screen.board.goal = ask.text.clone(),
            // The strings below are of the take heard last, whatever is asked by now.
            Event::Take(event) => {
                let note = wording::note(&event.reply.note).unwrap_or_default();
                let heard = wording::heard(&event.take);
                self.note = Some(format!("{heard}   {note}").trim_end().to_owned());
            }
            Event::Over { outcome, .. } => self.note = Some(wording::outcome(*outcome).to_owned()),
            Event::Break => {
                self.screen.board.trouble = Some(wording::BREAK.to_owned());
                self.break_ends = Some(Instant::now() + BREAK_SHOWN);
            }
            Event::Step { .. } | Event::Withdrawn { .. } | Event::End => {}
        }
        Ok(())
    }

    fn clock(&mut self, practice: &Practice, now_s: f64) {
        self.screen.board.under_goal = screen::status(practice, now_s, self.note.as_deref());
    }
}

/// What is listened to.
struct Sound {
    source: Box<dyn Source>,
    /// Of a recording: how its reading goes, and how long it is.
    state: Option<Arc<Mutex<State>>>,
    length_s: Option<f64>,
}

impl Sound {
    fn open(args: &Args) -> anyhow::Result<Sound> {
        Ok(match &args.from {
            Some(file) => {
                let recording = Recorded::open(file)?;
                Sound {
                    state: Some(recording.state()),
                    length_s: recording.duration_s(),
                    source: Box::new(recording),
                }
            }
            None => Sound {
                source: open_input(args.input.as_deref())?,
                state: None,
                length_s: None,
            },
        })
    }
}

/// When the sound begins: now, or when the recording was made. A recorder writes a file's time when it
/// ends.
fn began(args: &Args, sound: &Sound) -> anyhow::Result<Timestamp> {
    if let Some(text) = &args.recorded_at {
        return text.parse().map_err(|_| {
            anyhow!("--recorded-at: a time with its zone was expected, as in 2026-11-25T17:00:00Z; {text:?} is none")
        });
    }
    let Some(file) = &args.from else {
        return Ok(Timestamp::now());
    };
    let modified = file.metadata().and_then(|about| about.modified());
    let ended = Timestamp::try_from(modified.unwrap_or_else(|_| SystemTime::now()))?;
    let length = Duration::from_secs_f64(sound.length_s.unwrap_or(0.0).clamp(0.0, 1e6));
    Ok(ended.checked_sub(length).unwrap_or(ended))
}

/// Where takes go.
fn keeper(args: &Args) -> Option<Keeper> {
    (!args.no_diary).then(|| diary(args.diary.as_deref()))
}

/// The diary named or the usual one to keep takes in; what it cannot take goes into a file of lines
/// where the program was started, or in the folder for passing things.
pub(super) fn diary(path: Option<&Path>) -> Keeper {
    let folders = [std::env::current_dir().ok(), Some(std::env::temp_dir())];
    Keeper::new(diary::open(path), folders.into_iter().flatten().collect())
}

/// The loudspeaker. Without one, practice goes on all the same.
fn sounds(args: &Args, tuning: Tuning, console: &mut Console) -> Option<Sounds> {
    if args.from.is_some() {
        return None;
    }
    match open_output() {
        Ok(sink) => Some(Sounds::new(sink, tuning)),
        Err(error) => {
            if args.tones {
                console.complain(&format!("{error}; practice goes on without sounds"));
            }
            None
        }
    }
}
