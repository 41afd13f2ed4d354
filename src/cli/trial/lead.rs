//! `ringtrue trial` itself: announces strums, listens, keeps what was played, and says how right the verdicts were.

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, bail};

use super::choice::{self, WantedTrial};
use super::faces::{Leads, THROW_AWAY, TrialLines, TrialScreen, Unseen, Waits};
use super::keep::{KeptTrial, folder_of, trials_of};
use crate::audio::live::Source;
use crate::cli::guitar::{GuitarArgs, NamedGuitar};
use crate::cli::hands::{PAUSE, Rest};
use crate::cli::sound::{self, SoundInput};
use crate::cli::stop::Stop;
use crate::cli::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::fretboard::Tuning;
use crate::listening::{Ear, Sitting, Stream, Wish};
use crate::report::live::Stage;
use crate::report::trial::{self, TrialOutcome};
use crate::strings::Learnt;
use crate::strings::profile::{Profile, ProfileError};
use crate::trial::begun::About;
use crate::trial::plan::{FAULTS, MINUTES};
use crate::trial::range::{Before, ToldTake, range};
use crate::trial::run::{TrialEvent, Why};
use crate::trial::{Begun, Choice, Run, learning};
use crate::verdict::Expected;
use crate::words;
use crate::words::foreign::shown;
use crate::words::help::trial as help;

/// The key that says that a strum was done as asked.
const AS_ASKED: char = 'y';

/// Subject of a trial.
#[derive(Debug, clap::Args)]
pub struct Leading {
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, value_name = "MINUTES", default_value_t = 5, value_parser = minutes, help = help::MINUTES)]
    minutes: u8,
    #[arg(long, value_name = "CHORDS", help = help::CHORDS)]
    chords: Option<String>,
    #[arg(long, value_name = "FAULTS", help = help::FAULTS)]
    faults: Option<String>,
    #[arg(long, value_name = "LICENCE", help = help::LICENCE)]
    licence: Option<String>,
    #[arg(long, value_name = "FOLDER", help = help::OUT)]
    out: Option<PathBuf>,
    #[arg(long, help = help::ANEW)]
    anew: bool,
    #[arg(long, value_name = "NUMBER", help = help::SEED)]
    seed: Option<u64>,
    #[arg(long, requires = "guitar", help = help::FORGET)]
    forget: bool,
    #[arg(long, help = help::PLAN)]
    plan: bool,
    #[arg(long, value_name = "FILE", help = help::FROM)]
    from: Option<PathBuf>,
    #[arg(long, value_name = "NAME", help = help::INPUT)]
    input: Option<String>,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::PLAIN)]
    plain: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

fn minutes(text: &str) -> Result<u8, String> {
    let minutes = text.trim().parse().ok();
    let known = minutes.filter(|minutes| MINUTES.contains(minutes));
    known.ok_or_else(|| words::trial::minutes_expected(text))
}

/// Leads through the trial, or through what is left of it.
///
/// # Errors
/// Arguments that make no sense, a trial that is damaged, no microphone, as a sentence; output that cannot be written,
/// as an [`io::Error`].
pub fn run(args: &Leading, console: &mut Console) -> anyhow::Result<ExitCode> {
    // Who makes no soundcheck still has a trial; the guitar's name is then only a name.
    let guitar = NamedGuitar(match args.guitar.profiles_and_name()? {
        Some((profiles, name)) => match profiles.load(name) {
            Ok(profile) => Some(profile),
            Err(ProfileError::Missing { .. }) => None,
            Err(error) => return Err(error).context("--guitar"),
        },
        None => None,
    });
    if args.forget {
        return forget(guitar.0, args, console);
    }
    let usual = guitar.tuning();
    let left = guitar.is_left(args.left);
    let from = args.from.as_deref();
    let input = guitar.input(args.input.as_deref(), from);
    let folder = folder(args)?;
    let (begun, is_new) = match KeptTrial::open(&folder)? {
        Some(kept) if args.anew && args.out.is_some() => {
            bail!(words::trial::there_already(shown(kept.set.folder())))
        }
        Some(kept) => (Some(kept), false),
        None => (None, true),
    };
    let whole_screen = !args.plain && from.is_none() && io::stdout().is_terminal();
    let wanted = wanted(args, &usual)?;
    let about = About {
        guitar: args.guitar.name().unwrap_or_default().trim().to_owned(),
        microphone: input.clone().unwrap_or_default(),
        licence: wanted.licence.clone(),
    };
    let seed = args
        .seed
        .unwrap_or_else(|| jiff::Timestamp::now().as_millisecond() as u64);
    let new = |wanted: &WantedTrial| {
        let about = About {
            licence: wanted.licence.clone(),
            ..about.clone()
        };
        Begun::new(&wanted.choice, wanted.minutes, seed, about, &usual)
    };
    if args.plan {
        let begun = begun.map_or_else(|| new(&wanted), |kept| kept.begun);
        trial::plan(console.out, &begun.plan())?;
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let tuning = begun.as_ref().map_or(usual, |kept| kept.begun.tuning());
    let SoundInput {
        mut source,
        recording,
    } = SoundInput::open(from, input.as_deref())?;
    // Devices are open by now: sound systems write on the terminal.
    let mut stage = match whole_screen {
        true => Some(Stage::open()?),
        false => None,
    };
    let mut kept = match begun {
        Some(kept) => kept,
        None => {
            let offered = match &args.chords {
                Some(_) => wanted.choice.chords.clone(),
                None => choice::offered(&usual),
            };
            let wanted = match &mut stage {
                Some(stage) => choice::ask(stage, &offered, wanted)?,
                None => Some(wanted),
            };
            let Some(wanted) = wanted else {
                return Ok(AS_IT_SHOULD_BE.into());
            };
            if stage.is_some() {
                let_go(&mut *source);
            }
            KeptTrial::begin(&folder, new(&wanted))?
        }
    };
    let mut run = Run::new(kept.begun.plan(), kept.done());
    if whole_screen {
        run = run.answered();
    }
    let first = run.plan().steps[0].voicing.clone();
    let ear = Ear::new(source, input, tuning, Expected::Named(first));
    let mut sitting = Sitting::new(ear, None, false);
    let mut face: Box<dyn Leads> = match stage {
        Some(stage) => Box::new(TrialScreen::new(stage, tuning, left)),
        None if args.json => Box::new(Unseen),
        None => {
            if is_new {
                trial::opening(console.out)?;
            } else {
                let of = run.plan().steps.len();
                writeln!(console.out, "{}", words::trial::goes_on(run.kept(), of))?;
            }
            Box::new(TrialLines { out: console.out })
        }
    };
    let trouble = lead(
        &mut run,
        &mut sitting,
        &mut *face,
        &mut kept,
        from.is_some(),
    )?;
    // The terminal is given back before anything is written on it.
    drop(face);
    if let Some(trouble) = &trouble {
        console.complain(trouble);
    }
    let told = tell(args, &run, &kept, guitar.0, console)?;
    let ended = sound::ended(recording, run.kept(), console);
    Ok(match trouble.is_some() || !told {
        true => NOT_JUDGED.into(),
        false => ended,
    })
}

/// Lets go what came while the choice was read: it is of no strum, and what was lost of it is no fault of the sound.
fn let_go(source: &mut dyn Source) {
    // What waits comes first, what was lost after it. A microphone that has gone says so again.
    for _ in 0..2 {
        let _ = source.read(&mut Vec::new());
    }
}

/// Where the strums are kept.
fn folder(args: &Leading) -> anyhow::Result<PathBuf> {
    match (&args.out, args.guitar.name()) {
        (Some(out), _) => Ok(out.clone()),
        (None, Some(name)) => {
            let trials = trials_of(&args.guitar)?.context(words::trial::GUITAR_OR_OUT)?;
            folder_of(&trials, name.trim(), args.anew)
        }
        (None, None) => bail!(words::trial::GUITAR_OR_OUT),
    }
}

/// What the options say that the player can do.
fn wanted(args: &Leading, tuning: &Tuning) -> anyhow::Result<WantedTrial> {
    let chords = match &args.chords {
        Some(text) => choice::chords(text, tuning)?,
        None => choice::offered(tuning),
    };
    if chords.is_empty() {
        bail!(words::commands::NO_SHAPES_KNOWN);
    }
    let deeds = match &args.faults {
        Some(text) => choice::faults(text)?,
        None => FAULTS.to_vec(),
    };
    let usual = words::trial::LICENCES[0].0;
    Ok(WantedTrial {
        choice: Choice { chords, deeds },
        minutes: args.minutes,
        licence: args.licence.clone().unwrap_or_else(|| usual.to_owned()),
    })
}

/// Leads through the trial, live or over a recording, which knows no rest; gives what was wrong with keeping, where something was.
fn lead(
    run: &mut Run,
    sitting: &mut Sitting,
    face: &mut dyn Leads,
    kept: &mut KeptTrial,
    recorded: bool,
) -> anyhow::Result<Option<String>> {
    let stop = Stop::new()?;
    let (mut events, mut heard) = (Vec::new(), Vec::new());
    let mut rest = Rest::default();
    let mut desk = Desk {
        kept,
        trouble: None,
        said: "",
    };
    run.begin(0.0, &mut events);
    loop {
        let now_s = sitting.ear.now_s();
        let mut over = false;
        for event in std::mem::take(&mut events) {
            match &event {
                TrialEvent::Announced { step } => {
                    let voicing = run.plan().steps[*step].voicing.clone();
                    sitting.expect(Expected::Named(voicing), face)?;
                }
                TrialEvent::Rest if recorded => continue,
                TrialEvent::Rest => rest.begin(now_s, true),
                TrialEvent::End => over = true,
                _ => {}
            }
            desk.event(run, face, &event)?;
        }
        if over {
            break;
        }
        let polled = sitting.poll(face, &mut heard)?;
        let now_s = sitting.ear.now_s();
        run.sound(sitting.ear.block(), sitting.ear.rate_hz(), now_s);
        if matches!(polled.stream, Stream::Lost(_) | Stream::Gone(_)) {
            run.lost(&mut events);
        }
        let mut wish = polled.wish;
        if rest.is_over(&heard, &mut wish) {
            rest.end(now_s);
            run.go_on(now_s);
            face.rests(run, None)?;
        } else if wish == Some(Wish::Key(PAUSE)) {
            rest.begin(now_s, false);
            face.rests(run, Some(Waits::Pause))?;
        }
        for heard in heard.iter().filter(|heard| rest.counts(heard)) {
            run.hear(heard, now_s, &mut events);
        }
        run.tick(now_s, &mut events);
        match wish {
            Some(Wish::Quit) => break,
            Some(Wish::Next | Wish::Key(AS_ASKED)) if run.is_asking() => {
                run.as_asked(now_s, &mut events);
            }
            Some(Wish::Next) => run.leave_out(now_s, &mut events),
            Some(Wish::Key(THROW_AWAY)) => run.throw_away(now_s, &mut events),
            _ => {}
        }
        if polled.stream == Stream::Ended || stop.is_asked() {
            break;
        }
    }
    let now_s = sitting.finish(&mut heard);
    for heard in heard.iter().filter(|heard| rest.counts(heard)) {
        run.hear(heard, now_s, &mut events);
    }
    run.finish(now_s, &mut events);
    for event in &events {
        if !matches!(event, TrialEvent::Announced { .. } | TrialEvent::Rest) {
            desk.event(run, face, event)?;
        }
    }
    Ok(desk.trouble)
}

/// Keeps what is to be kept and tells what has happened.
struct Desk<'a> {
    kept: &'a mut KeptTrial,
    /// The first thing that was wrong with keeping.
    trouble: Option<String>,
    /// What became of the last strum, to be told with the next announcement.
    said: &'static str,
}

impl Desk<'_> {
    fn event(
        &mut self,
        run: &mut Run,
        face: &mut dyn Leads,
        event: &TrialEvent,
    ) -> anyhow::Result<()> {
        match event {
            TrialEvent::Announced { step } => {
                face.announce(run, *step, std::mem::take(&mut self.said))?;
            }
            TrialEvent::Struck => face.tell(words::trial::STRUCK, false)?,
            TrialEvent::NotStruck => face.tell(words::trial::NOT_STRUCK, false)?,
            TrialEvent::Kept {
                step,
                samples,
                rate_hz,
            } => {
                let of_plan = run.plan().steps[*step].clone();
                match self.kept.keep(*step, &of_plan, samples, *rate_hz) {
                    Ok(()) => self.said = words::trial::KEPT,
                    Err(error) => {
                        let trouble = words::trial::cannot_be_kept(error);
                        face.tell(&trouble, true)?;
                        run.not_kept(*step);
                        self.trouble.get_or_insert(trouble);
                    }
                }
            }
            TrialEvent::ThrownAway { why, kept } => {
                if kept.is_some()
                    && let Err(error) = self.kept.set.take_back()
                {
                    self.trouble.get_or_insert(error.to_string());
                }
                let said = match why {
                    Why::Twice => words::trial::TWICE,
                    Why::Said => words::trial::SAID,
                    Why::Lost => words::trial::LOST,
                };
                match kept {
                    // It is announced again.
                    Some(_) => self.said = said,
                    None => face.tell(said, true)?,
                }
            }
            TrialEvent::AskedBack => face.ask_back(run)?,
            TrialEvent::Rest => face.rests(run, Some(Waits::Rest))?,
            TrialEvent::End => {}
        }
        Ok(())
    }
}

/// Says how right the verdicts were and what was learnt; gives whether anything was to be said.
fn tell(
    args: &Leading,
    run: &Run,
    kept: &KeptTrial,
    profile: Option<Profile>,
    console: &mut Console,
) -> anyhow::Result<bool> {
    if kept.set.rows().is_empty() {
        console.complain(words::trial::NOTHING_KEPT);
        return Ok(false);
    }
    if !args.json {
        writeln!(console.out, "{}", words::trial::LISTENING_AGAIN)?;
        console.out.flush()?;
    }
    let takes = learning::known(&kept.set, &kept.begun.tuning())?;
    let told: Vec<(ToldTake, ToldTake)> =
        takes.iter().map(|t| t.told(&Learnt::default())).collect();
    let range_of = |of: fn(&(ToldTake, ToldTake)) -> ToldTake, before| {
        let told: Vec<ToldTake> = told.iter().map(of).collect();
        range(&told, before).1
    };
    let outcome = TrialOutcome {
        ranges: [
            range_of(|told| told.1, &Before::OF_TAKES),
            range_of(|told| told.0, &Before::OF_STRINGS),
        ],
        set: shown(kept.set.folder()),
        score: learning::score(&takes, &Learnt::default()),
        lesson: (takes.len() >= learning::FEWEST).then(|| learning::learn(&takes)),
        asked_back: run.asks_back(),
        kept: run.kept(),
        of: run.plan().steps.len(),
    };
    kept.write_result(&outcome)?;
    match args.json {
        true => trial::json(console.out, &outcome)?,
        false => trial::text(console.out, &outcome)?,
    }
    let Some(lesson) = outcome.lesson else {
        return Ok(true);
    };
    match profile {
        Some(profile) => {
            let guitar = profile.guitar.clone();
            args.guitar.profiles()?.keep(&Profile {
                learnt: lesson.learnt,
                ..profile
            })?;
            if !lesson.learnt.is_nothing() && !args.json {
                writeln!(console.out, "{}", words::trial::used_from_now_on(&guitar))?;
            }
        }
        None if !lesson.learnt.is_nothing() && !args.json => {
            writeln!(console.out, "{}", words::trial::NOT_USED)?;
        }
        None => {}
    }
    Ok(true)
}

/// Takes back what a trial learnt of the guitar.
fn forget(
    profile: Option<Profile>,
    args: &Leading,
    console: &mut Console,
) -> anyhow::Result<ExitCode> {
    let Some(profile) = profile else {
        bail!(words::trial::FORGET_NEEDS_A_GUITAR);
    };
    let said = match profile.learnt.is_nothing() {
        true => words::trial::nothing_to_forget(&profile.guitar),
        false => {
            args.guitar.profiles()?.keep(&Profile {
                learnt: Learnt::default(),
                ..profile.clone()
            })?;
            words::trial::forgotten(&profile.guitar)
        }
    };
    writeln!(console.out, "{said}")?;
    Ok(AS_IT_SHOULD_BE.into())
}
