//! `ringtrue listen`: judges strums as they are played.

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;

use jiff::Timestamp;

use super::chord::ChordArgs;
use super::guitar::GuitarArgs;
use super::hands::{InARow, PAUSE, PutRight, Quiet, Rest, WHAT, silence};
use super::sound::{self, SoundInput};
use super::stop::Stop;
use super::{Console, NOT_JUDGED};
use crate::fretboard::Tuning;
use crate::listening::{Ear, Face, FolderKeeper, Message, Notice, Sitting, Sounds, Stream, Wish};
use crate::practice::diary::{Correction, DiaryKeeper, Entry, KeptIn, moment};
use crate::report::live::{Board, JsonLines, LineFace, LineForm, Plain, Screen, Stage};
use crate::report::sitting::{self, ChordTally};
use crate::verdict::Expected;
use crate::words;
use crate::words::help::listen as help;

/// Arguments of `ringtrue listen`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    override_usage = "ringtrue listen --frets FRETS [OPTIONS]
       ringtrue listen --chord NAME [--shape SHAPE] [--at FRET] [OPTIONS]
       ringtrue listen [OPTIONS]",
    after_help = help::AFTER
)]
pub struct Args {
    #[command(flatten)]
    chord: ChordArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, value_name = "CHORD", help = help::THEN)]
    then: Vec<String>,
    #[arg(long, value_name = "NUMBER", default_value_t = 3, requires = "then", help = help::CLEAN)]
    clean: usize,
    #[arg(long, value_name = "SECONDS", value_parser = silence, requires = "then", help = help::SILENCE)]
    silence: Option<f64>,
    #[arg(long, value_name = "NAME", help = help::INPUT)]
    input: Option<String>,
    #[arg(long, value_name = "FILE", help = help::FROM)]
    from: Option<PathBuf>,
    #[arg(long, value_name = "FOLDER", help = help::SAVE)]
    save: Option<PathBuf>,
    #[arg(long, value_name = "FILE", num_args = 0..=1, help = help::DIARY)]
    diary: Option<Option<PathBuf>>,
    #[arg(long, help = help::TONES)]
    tones: bool,
    #[arg(long, help = help::REFERENCE)]
    reference: bool,
    #[arg(long, value_name = "NUMBER", help = help::TAKES)]
    takes: Option<usize>,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::PLAIN)]
    plain: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// Listens until the player has had enough, the recording is over or so many takes were heard.
///
/// # Errors
/// Arguments that make no sense, a microphone or a file that cannot be opened, as a sentence;
/// output that cannot be written, as an [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let guitar = args.guitar.guitar()?;
    let tuning = args.chord.tuning(&guitar)?;
    let from = args.from.as_deref();
    let input = guitar.input(args.input.as_deref(), from);
    let mut goals = vec![args.chord.expected(&tuning)?];
    for text in &args.then {
        goals.push(super::chord::further(text, &tuning)?);
    }
    let left = guitar.is_left(args.left);
    let learnt = guitar.learnt();
    let guitar = guitar.name();
    let folder = match &args.save {
        Some(folder) => Some(FolderKeeper::new(folder, guitar.clone())?),
        None => None,
    };
    let mut keeper = Keeping {
        folder,
        diary: args
            .diary
            .as_ref()
            .map(|path| super::diary::keeper(path.as_deref())),
        guitar,
        tuning,
        began: Timestamp::now(),
        last: None,
        tallies: Vec::new(),
        trouble: None,
        fresh: false,
    };
    if let Some(trouble) = keeper.diary.as_ref().and_then(DiaryKeeper::trouble) {
        console.complain(&words::commands::listening_without_diary(trouble));
    }
    let stop = Stop::new()?;
    let SoundInput { source, recording } = SoundInput::open(from, input.as_deref())?;
    let sounds = sounds(args, tuning, console);
    let can_play = sounds.is_some();
    let ear = Ear::new(source, input, tuning, goals[0].clone()).refined(learnt);
    let mut sitting = Sitting::new(ear, sounds, args.tones);
    if args.reference {
        sitting.reference();
    }
    let whole_screen =
        !args.plain && !args.json && args.from.is_none() && io::stdout().is_terminal();
    let takes = if whole_screen {
        // Devices are open by now: sound systems write on the terminal.
        let mut board = Board::new(&goals[0], &tuning, left);
        board.keys = keys(goals.len(), can_play, args.diary.is_some());
        let mut screen = Screen::new(Stage::open()?, board);
        listen(&mut sitting, &mut screen, &goals, args, &stop, &mut keeper)
    } else {
        let lines: Box<dyn LineForm> = match args.json {
            true => Box::new(JsonLines),
            false => Box::new(Plain),
        };
        let mut face = LineFace {
            out: console.out,
            lines,
        };
        listen(&mut sitting, &mut face, &goals, args, &stop, &mut keeper)
    };
    let takes = takes?;
    if !args.json {
        sitting::summary(console.out, &keeper.tallies)?;
        if !keeper.tallies.is_empty() {
            let next = match keeper.diary {
                Some(_) => words::commands::DAY_TO_DAY,
                None => words::commands::STEP_BY_STEP,
            };
            writeln!(console.out, "{next}")?;
        }
    }
    if let (Some(trouble), true) = (&keeper.trouble, whole_screen) {
        // The screen that told it is gone.
        console.complain(trouble);
    }
    if let Some(diary) = &keeper.diary {
        super::diary::close(diary, console)?;
    }
    let status = sound::ended(recording, takes, console);
    Ok(keeper.trouble.map_or(status, |_| NOT_JUDGED.into()))
}

/// Listens to the end; gives how many takes there were. However it ends, what was heard is kept.
fn listen(
    sitting: &mut Sitting,
    face: &mut dyn WaitingFace,
    goals: &[Expected],
    args: &Args,
    stop: &Stop,
    keeper: &mut Keeping,
) -> anyhow::Result<usize> {
    let mut takes = 0;
    let mut gate = Gate {
        face,
        most: args.takes.unwrap_or(usize::MAX),
        numbers: Vec::new(),
    };
    let face = &mut gate;
    let mut shown = go_on(sitting, face, goals, args, stop, keeper, &mut takes);
    let mut heard = Vec::new();
    sitting.finish(&mut heard);
    for heard in &heard {
        if !face.is_wanted(heard) {
            continue;
        }
        takes += usize::from(keeper.keep(heard));
        shown = shown.and_then(|()| Ok(face.hear(heard)?));
    }
    shown.and_then(|()| keeper.tell(face)).map(|()| takes)
}

/// Listens until there is a reason to end.
fn go_on(
    sitting: &mut Sitting,
    face: &mut Gate,
    goals: &[Expected],
    args: &Args,
    stop: &Stop,
    keeper: &mut Keeping,
    takes: &mut usize,
) -> anyhow::Result<()> {
    let (mut at, mut heard) = (0, Vec::new());
    let mut rest = Rest::default();
    let mut right = PutRight::default();
    let mut row = InARow::new(args.clean);
    let mut quiet = Quiet::new(args.silence);
    sitting.expect(goals[at].clone(), face)?;
    loop {
        let polled = sitting.poll(face, &mut heard);
        let now_s = sitting.ear.now_s();
        for heard in heard.iter().filter(|heard| rest.counts(heard)) {
            quiet.heard(now_s);
            if !face.is_wanted(heard) {
                continue;
            }
            row.hear(heard);
            *takes += usize::from(keeper.keep(heard));
        }
        let polled = polled?;
        keeper.tell(face)?;
        let mut wish = polled.wish;
        if keeper.diary.is_some() {
            if let Some(said) = right.key(&mut wish) {
                face.face.put_right(keeper.put_right(said).as_ref());
            }
            face.face.asks(right.is_asking());
        }
        if rest.is_over(&[], &mut wish) {
            rest.end(now_s);
            quiet.heard(now_s);
            face.face.rests(false);
        } else if wish == Some(Wish::Key(PAUSE)) {
            rest.begin(now_s, false);
            face.face.rests(true);
        }
        let several = goals.len() > 1;
        let by_itself = row.is_enough() || !rest.is_on() && quiet.is_long(now_s);
        if several && by_itself {
            wish = Some(Wish::Next);
        }
        let enough = args.takes.is_some_and(|most| *takes >= most);
        if polled.stream == Stream::Ended || enough || wish == Some(Wish::Quit) || stop.is_asked() {
            return Ok(());
        }
        if wish == Some(Wish::Next) {
            quiet.heard(now_s);
            row.begin();
            at = (at + 1) % goals.len();
            sitting.expect(goals[at].clone(), face)?;
        }
    }
}

/// Lets so many takes through and no more: the next one may be settled before the last one wanted is over.
struct Gate<'a> {
    face: &'a mut dyn WaitingFace,
    most: usize,
    /// The listener's numbers of those let through.
    numbers: Vec<u64>,
}

impl Gate<'_> {
    /// Whether what was heard is of a take that is let through, or may still be.
    fn is_wanted(&self, heard: &Message) -> bool {
        match heard {
            Message::Withdrawn { number } => self.numbers.contains(number),
            Message::First { number, .. }
            | Message::Settled { number, .. }
            | Message::Cut { number, .. }
            | Message::Over { number, .. } => {
                self.numbers.contains(number) || self.numbers.len() < self.most
            }
        }
    }
}

impl Face for Gate<'_> {
    fn expect(&mut self, expected: &Expected) -> io::Result<()> {
        self.face.expect(expected)
    }

    fn hear(&mut self, heard: &Message) -> io::Result<()> {
        if !self.is_wanted(heard) {
            return Ok(());
        }
        match heard {
            Message::Settled { number, .. } if !self.numbers.contains(number) => {
                self.numbers.push(*number);
            }
            Message::Withdrawn { number } => self.numbers.retain(|known| known != number),
            _ => {}
        }
        self.face.hear(heard)
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.face.notice(notice)
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        self.face.tick(ear)
    }
}

/// A face that can wait for the player, where keys can be pressed.
trait WaitingFace: Face {
    /// What is played is not shown from now on, or shown again.
    fn rests(&mut self, _on: bool) {}
    /// Whether the player is being asked how the last take really was.
    fn asks(&mut self, _on: bool) {}
    /// The last take is put right so; `None`: there is none that can be.
    fn put_right(&mut self, _said: Option<&Correction>) {}
}

impl WaitingFace for Screen {
    fn rests(&mut self, on: bool) {
        self.board.paused = on;
    }

    fn asks(&mut self, on: bool) {
        self.board.question = on.then_some(WHAT);
    }

    fn put_right(&mut self, said: Option<&Correction>) {
        match said {
            Some(said) => {
                self.board.put_right(said);
                self.board.note = words::commands::put_right(said.words());
            }
            None => self.board.note = words::commands::NOTHING_TO_PUT_RIGHT.to_owned(),
        }
    }
}

impl WaitingFace for LineFace<'_> {}

/// Where takes are kept.
struct Keeping {
    folder: Option<FolderKeeper>,
    diary: Option<DiaryKeeper>,
    guitar: Option<String>,
    tuning: Tuning,
    began: Timestamp,
    /// Where the last take was put, and what was said of it.
    last: Option<(KeptIn, Option<Correction>)>,
    /// What came of each chord that was meant, in the order of its first take.
    tallies: Vec<ChordTally>,
    /// The first thing that was wrong with the folder.
    trouble: Option<String>,
    /// Whether that is still to be told.
    fresh: bool,
}

impl Keeping {
    /// Keeps a take that is over, where takes are kept; gives whether it was one. What the folder cannot take the
    /// diary still gets.
    fn keep(&mut self, heard: &Message) -> bool {
        let Message::Over { take, strum, .. } = heard else {
            return false;
        };
        ChordTally::count(&mut self.tallies, take);
        let kept = self.folder.as_ref().map(|folder| folder.keep(take, strum));
        if let (Some(Err(error)), None) = (kept, &self.trouble) {
            (self.trouble, self.fresh) = (Some(format!("{error:#}")), true);
        }
        if let Some(diary) = &mut self.diary {
            let at = moment(self.began, take.start_s);
            let kept = diary.keep(&Entry {
                guitar: self.guitar.clone(),
                ..Entry::of(take, at, &self.tuning)
            });
            self.last = Some((kept, None));
        }
        true
    }

    /// Puts the take kept last right; gives what then stands, if there is such a take.
    fn put_right(&mut self, said: Correction) -> Option<Correction> {
        let (kept, before) = self.last.take()?;
        let said = said.after(before.as_ref());
        let is_kept = self.diary.as_mut()?.put_right(kept, &said);
        self.last = Some((kept, Some(said.clone()).filter(|_| is_kept).or(before)));
        is_kept.then_some(said)
    }

    /// Tells once what is wrong with the folder.
    fn tell(&mut self, face: &mut dyn Face) -> anyhow::Result<()> {
        if let (Some(trouble), true) = (&self.trouble, std::mem::take(&mut self.fresh)) {
            face.notice(&Notice::NotKept(trouble.clone()))?;
        }
        Ok(())
    }
}

/// The loudspeaker, where a recording is not heard through without sounds.
fn sounds(args: &Args, tuning: Tuning, console: &mut Console) -> Option<Sounds> {
    let asked = args.tones || args.reference;
    match args.from {
        Some(_) if !asked => None,
        _ => sound::loudspeaker(tuning, asked, "listening", console),
    }
}

fn keys(goals: usize, can_play: bool, diary: bool) -> String {
    let mut keys = Vec::new();
    if can_play {
        keys.push(words::commands::KEY_HEAR);
    }
    if goals > 1 {
        keys.push(words::commands::KEY_NEXT);
    }
    keys.push(words::screen::PAUSE);
    if diary {
        keys.push(words::commands::KEY_PUT_RIGHT);
    }
    keys.push(words::screen::QUIT);
    keys.join("   ")
}
