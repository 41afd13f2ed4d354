//! `ringtrue practice`: leads through a lesson.

mod faces;

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::bail;

use self::faces::{Led, PracticeLines, PracticeScreen};
use super::diary::{self, DiaryArgs};
use super::guitar::GuitarArgs;
use super::hands::{PAUSE, PutRight, Quiet, Rest, silence};
use super::song::{VolumeArgs, warn};
use super::sound::{self, SoundInput};
use super::stop::Stop;
use super::{AS_IT_SHOULD_BE, Console};
use crate::disk;
use crate::fretboard::Tuning;
use crate::listening::{Ear, Sitting, Sounds, Stream, Wish};
use crate::practice::diary::DiaryKeeper;
use crate::practice::{
    BUNDLED, Bundled, Circumstances, Drill, Event, Lesson, LessonError, Practice, TEMPLATE,
};
use crate::progression::backing::arrangement;
use crate::progression::band;
use crate::report::live::{Board, Screen, Stage};
use crate::report::picture::wrapped;
use crate::report::practice as screen;
use crate::report::terminal::shown;
use crate::words;
use crate::words::help::practice as help;

/// The same as [`words::playing::HEARING`], as short as a screen asks for.
const SOFTLY: &str = words::commands::SOFTLY;

/// A file so called is standard output, as in other commands of a shell.
const STANDARD_OUTPUT: &str = "-";

/// The keys that always do something; foot pedals that send page down and up stand for n and p.
const KEYS: &str = words::commands::PRACTICE_KEYS;

/// Arguments of `ringtrue practice`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(required_unless_present_any = ["list", "new"], help = help::LESSON)]
    lesson: Option<PathBuf>,
    #[arg(long, conflicts_with_all = ["lesson", "new", "check", "from"], help = help::LIST)]
    list: bool,
    #[arg(long, value_name = "FILE", conflicts_with_all = ["lesson", "check", "from"], help = help::NEW)]
    new: Option<PathBuf>,
    #[arg(long, conflicts_with = "from", help = help::CHECK)]
    check: bool,
    #[arg(long, value_name = "FILE", help = help::FROM)]
    from: Option<PathBuf>,
    #[command(flatten)]
    diary: DiaryArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, conflicts_with = "no_diary", help = help::SAVE)]
    save: bool,
    #[arg(
        long,
        value_name = "SECONDS",
        value_parser = silence,
        conflicts_with = "from",
        help = help::SILENCE,
    )]
    silence: Option<f64>,
    #[arg(long, help = help::ALTERNATE)]
    alternate: bool,
    #[arg(long, value_name = "NUMBER", help = help::SEED)]
    seed: Option<u64>,
    #[arg(long, value_name = "NAME", conflicts_with = "from", help = help::INPUT)]
    input: Option<String>,
    #[arg(long, conflicts_with = "from", help = help::TONES)]
    tones: bool,
    #[arg(long, help = help::PLAIN)]
    plain: bool,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[command(flatten)]
    volume: VolumeArgs,
}

/// Runs the lesson to its end, to the recording's, or until the learner stops.
///
/// # Errors
/// Arguments or a lesson that make no sense, a recording or microphone that cannot be had, as a
/// sentence; output that cannot be written, as an [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    if args.list {
        return list(console);
    }
    if let Some(file) = &args.new {
        return write_new(file, console);
    }
    let guitar = args.guitar.guitar()?;
    let left = guitar.is_left(args.left);
    let Some(path) = &args.lesson else {
        bail!(words::commands::NAME_A_LESSON);
    };
    let mut lesson = open(path, guitar.tuning())?;
    lesson.alternate |= args.alternate;
    let learnt = guitar.learnt();
    for step in &mut lesson.steps {
        if let Drill::Play { part, .. } = &mut step.drill {
            part.learnt = learnt;
        }
    }
    if args.check {
        screen::plan(console.out, &lesson)?;
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let from = args.from.as_deref();
    let input = guitar.input(args.input.as_deref(), from);
    let SoundInput { source, recording } = SoundInput::open(from, input.as_deref())?;
    let length_s = recording.as_ref().and_then(|r| r.length_s);
    let began = args
        .diary
        .began(args.from.as_deref(), length_s.unwrap_or(0.0))?;
    let keeper = args.diary.keeper();
    if let Some(trouble) = keeper.as_ref().and_then(DiaryKeeper::trouble) {
        console.complain(&words::commands::practice_without_diary(trouble));
    }
    let tuning = lesson.tuning;
    let seed = args.seed.unwrap_or(began.as_millisecond() as u64);
    let circumstances = Circumstances {
        began,
        guitar: guitar.name(),
        sounds: args.save,
        recorded: args.from.is_some(),
    };
    let plays_along = (lesson.steps.iter()).any(|s| matches!(s.drill, Drill::Play { .. }));
    let delay_s = guitar.delay_s();
    let mut band = Band {
        volume: args.volume.gain()?,
        delay_s,
        ready: Vec::new(),
    };
    let mut practice = Practice::new(lesson, seed, keeper, circumstances);
    let mut events = Vec::new();
    practice.begin(&mut events);
    let Some(first) = practice.session().ask().map(|ask| ask.expected(&tuning)) else {
        bail!(words::commands::NO_STEP);
    };
    let sounds = match args.from {
        Some(_) => None,
        None => sound::loudspeaker(tuning, args.tones, "practice", console),
    };
    let can_play = sounds.is_some();
    let ear = Ear::new(source, input, tuning, first.clone()).refined(learnt);
    let mut sitting = Sitting::new(ear, sounds, args.tones);
    if plays_along && args.from.is_none() {
        warn(console.out, delay_s.is_some())?;
        if !can_play {
            console.complain(words::commands::NO_LOUDSPEAKER);
        }
    }
    let whole_screen = !args.plain && args.from.is_none() && io::stdout().is_terminal();
    let mut face: Box<dyn Led> = if whole_screen {
        // Devices are open by now: sound systems write on the terminal.
        let mut board = Board::new(&first, &tuning, left);
        board.keys = match can_play {
            true => words::commands::key_hear_and(KEYS),
            false => KEYS.to_owned(),
        };
        let screen = Screen::new(Stage::open()?, board);
        Box::new(PracticeScreen::new(screen, left, delay_s.is_some()))
    } else {
        screen::opening(console.out, practice.lesson())?;
        Box::new(PracticeLines {
            out: console.out,
            left,
            bar: None,
        })
    };
    let takes = lead(
        &mut practice,
        &mut sitting,
        &mut band,
        &mut *face,
        events,
        args,
    )?;
    // The terminal is given back before anything is written on it.
    drop(face);
    screen::results(console.out, practice.lesson(), &practice.results())?;
    if practice.keeper().is_some() {
        writeln!(console.out, "{}", words::commands::DAY_TO_DAY_AFTER)?;
    }
    if let Some(keeper) = practice.keeper() {
        diary::close(keeper, console)?;
    }
    Ok(sound::ended(recording, takes, console))
}

/// The lesson in a file, or the bundled one of that name where there is no such file.
fn open(path: &Path, usual: Tuning) -> anyhow::Result<Lesson> {
    let bundled = path.to_str().and_then(Bundled::named);
    match bundled.filter(|_| !path.exists()) {
        Some(bundled) => bundled.read(usual).map_err(|problems| {
            let path = bundled.name.to_owned();
            LessonError::Lines { path, problems }.into()
        }),
        None => Ok(Lesson::open_for(path, usual)?),
    }
}

/// Lists what comes with the program.
fn list(console: &mut Console) -> anyhow::Result<ExitCode> {
    for bundled in BUNDLED {
        if let Ok(lesson) = bundled.read(Tuning::default()) {
            let steps = lesson.steps.len();
            writeln!(
                console.out,
                "{:<16}{}",
                bundled.name,
                words::commands::lesson_steps(&lesson.title, steps)
            )?;
            for line in lesson.about.iter() {
                wrapped(console.out, "                ", line)?;
            }
        }
    }
    writeln!(console.out, "{}", words::commands::LESSON_BY_NAME)?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// Writes the template for a lesson; what is there already stays.
fn write_new(file: &Path, console: &mut Console) -> anyhow::Result<ExitCode> {
    if file == Path::new(STANDARD_OUTPUT) {
        write!(console.out, "{TEMPLATE}")?;
        return Ok(AS_IT_SHOULD_BE.into());
    }
    if file.exists() {
        bail!(words::commands::there_already(file.display()));
    }
    disk::write_bytes(file, TEMPLATE.as_bytes())?;
    writeln!(
        console.out,
        "{}",
        words::commands::template_written(shown(file))
    )?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// What is played along with, in a lesson.
struct Band {
    volume: f32,
    /// From playing to hearing, in seconds, where that was measured.
    delay_s: Option<f64>,
    /// The backing of the step that is on, made beforehand, so that it begins at once.
    ready: Vec<f32>,
}

impl Band {
    /// Makes the backing of a step, where it has one.
    fn prepare(&mut self, practice: &Practice, step: usize, rate_hz: Option<u32>) {
        self.ready = match (&practice.lesson().steps[step].drill, rate_hz) {
            (Drill::Play { part, style, .. }, Some(rate_hz)) => {
                let hits = arrangement(&part.plan, style, &part.tuning);
                band::sound(&hits, &part.plan, self.volume, rate_hz)
            }
            _ => Vec::new(),
        };
    }
}

fn lead(
    practice: &mut Practice,
    sitting: &mut Sitting,
    band: &mut Band,
    face: &mut dyn Led,
    mut events: Vec<Event>,
    args: &Args,
) -> anyhow::Result<usize> {
    let (mut takes, mut heard) = (0, Vec::new());
    let stop = Stop::new()?;
    let mut rest = Rest::default();
    let mut right = PutRight::default();
    let mut quiet = Quiet::new(args.silence);
    if face.opens(practice) {
        practice.pause(0.0);
        rest.begin(0.0, true);
    }
    loop {
        let mut over = false;
        for event in events.drain(..) {
            face.event(practice, &event)?;
            takes += takes_of(&event);
            match &event {
                Event::Step { step } => {
                    let plays = matches!(practice.lesson().steps[*step].drill, Drill::Play { .. });
                    let sounds = sitting.sounds.as_mut().filter(|_| plays);
                    let rate_hz = sounds.and_then(Sounds::rate_hz);
                    band.prepare(practice, *step, rate_hz);
                }
                Event::Asked(ask) => {
                    sitting.expect(ask.expected(&practice.lesson().tuning), face)?
                }
                Event::End => over = true,
                _ => {}
            }
        }
        if over {
            break;
        }
        let polled = sitting.poll(face, &mut heard)?;
        let now_s = sitting.ear.now_s();
        practice.sound(sitting.ear.block(), sitting.ear.rate_hz(), now_s);
        let mut wish = polled.wish;
        if let Some(said) = right.key(&mut wish) {
            let is_kept = practice.put_right(said.clone(), now_s, &mut events);
            face.put_right(is_kept.then_some(&said));
        }
        face.asks(right.is_asking());
        if rest.is_over(&heard, &mut wish) {
            rest.end(now_s);
            practice.go_on(now_s);
            face.rests(practice, false);
            quiet.heard(now_s);
        } else if wish == Some(Wish::Key(PAUSE)) {
            practice.pause(now_s);
            if practice.session().is_paused() {
                rest.begin(now_s, false);
                face.rests(practice, true);
            }
        }
        for heard in heard.iter().filter(|heard| rest.counts(heard)) {
            quiet.heard(now_s);
            if let Some(take) = practice.told(heard) {
                face.strum(take);
            }
            practice.hear(heard, now_s, &mut events);
        }
        if !rest.is_on() && practice.along().is_none() && quiet.is_long(now_s) {
            wish = Some(Wish::Next);
        }
        if practice.is_ready() {
            if let Some(sounds) = &mut sitting.sounds {
                sounds.backing(band.ready.clone());
            }
            practice.count_in(now_s + sitting.ear.since_s(), band.delay_s);
        }
        if let Some(began_s) = sitting.backing_began_s() {
            practice.count_in(began_s, band.delay_s);
        }
        if let Some(expected) = practice.expects(now_s) {
            sitting.ear.listener().expect(expected);
        }
        practice.tick(now_s, &mut events);
        face.clock(practice, now_s)?;
        match wish {
            Some(Wish::Quit) => break,
            Some(Wish::Next) => {
                quiet.heard(now_s);
                if let Some(sounds) = &mut sitting.sounds {
                    sounds.end_backing();
                }
                practice.leave(now_s, &mut events);
            }
            _ => {}
        }
        if polled.stream == Stream::Ended || stop.is_asked() {
            break;
        }
    }
    let now_s = sitting.finish(&mut heard);
    for heard in heard.iter().filter(|heard| rest.counts(heard)) {
        practice.hear(heard, now_s, &mut events);
    }
    practice.finish(now_s, &mut events);
    for event in &events {
        takes += takes_of(event);
        if !matches!(event, Event::Step { .. } | Event::Asked(_)) {
            face.event(practice, event)?;
        }
    }
    Ok(takes)
}

fn takes_of(event: &Event) -> usize {
    match event {
        Event::Take(_) => 1,
        Event::Along(along) => along.played.takes.iter().flatten().count(),
        _ => 0,
    }
}
