//! `ringtrue play`: playing along with a backing, judged in time and string by string.

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use anyhow::{Result, bail};
use ratatui::widgets::Paragraph;

use super::diary::{self, DiaryArgs};
use super::guitar::{GuitarArgs, NamedGuitar};
use super::picture::check_ending;
use super::song::{HandLimits, Pace, ProgressionArgs, VolumeArgs, warn};
use super::spool::Spool;
use super::stop::Stop;
use super::{AS_IT_SHOULD_BE, Console, NOT_JUDGED, decimal};
use crate::audio::live::{Came, DeviceError, Direction, Source, open_input, open_output};
use crate::audio::{Meter, Mono, write_wav};
use crate::disk;
use crate::fretboard::Frets;
use crate::listening::{
    Ear, Face, Listener, Message, Notice, Sitting, Sounds, Stream, Wish, caught_up, damage,
};
use crate::practice::diary::Entry;
use crate::practice::entries;
use crate::progression::backing::{Hit, arrangement};
use crate::progression::band::{Backing, sound};
use crate::progression::bleed::TOO_LOUD_DB;
use crate::progression::grid::LONGEST_S;
use crate::progression::live::Live;
use crate::progression::performance::{Beginning, Part, Performance, judge};
use crate::progression::timing::{StrumPlaces, beats};
use crate::report::json::json_line;
use crate::report::live::along::{AlongView, draw, last};
use crate::report::live::{Board, Key, Pages, Stage, view};
use crate::report::playing;
use crate::strings::profile::Plucks;
use crate::verdict::{Expected, ExpectedVoicing};
use crate::words;
use crate::words::help::play as help;

/// A recording may be so much longer than the longest backing, in seconds.
const MORE_S: f64 = 600.0;
/// Sound that is waited for after the last bar, in seconds: the last strum rings.
const TAIL_S: f64 = 1.5;
/// Keys are asked for this often while a text is read.
const MOMENT: Duration = Duration::from_millis(40);
/// Whether the microphone hears the backing is looked at after so much playing, in seconds.
const CHECKED_AFTER_S: f64 = 8.0;

/// Arguments of `ringtrue play`.
#[derive(Debug, Clone, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[command(flatten)]
    song: ProgressionArgs,
    #[command(flatten)]
    pace: Pace,
    #[command(flatten)]
    hand: HandLimits,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[command(flatten)]
    diary: DiaryArgs,
    #[arg(long, value_parser = strums, default_value = "chord", help = help::STRUM)]
    strum: StrumPlaces,
    #[arg(long = "loop", help = help::CLOSED)]
    closed: bool,
    #[arg(long, value_name = "FILE", help = help::FROM)]
    from: Option<PathBuf>,
    #[arg(
        long,
        value_name = "SECONDS",
        requires = "from",
        allow_negative_numbers = true,
        value_parser = decimal,
        help = help::START
    )]
    start: Option<f64>,
    #[arg(long, value_name = "NAME", help = help::INPUT)]
    input: Option<String>,
    #[arg(long, value_name = "FILE", conflicts_with = "from", help = help::SAVE)]
    save: Option<PathBuf>,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[command(flatten)]
    volume: VolumeArgs,
    #[arg(long, help = help::PLAIN)]
    plain: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

fn strums(text: &str) -> Result<StrumPlaces, String> {
    let text = text.trim().to_lowercase();
    let found = StrumPlaces::ALL
        .into_iter()
        .find(|strums| strums.word() == text);
    found.ok_or_else(|| words::playing::STRUMS_WANTED.to_owned())
}

/// Runs the command.
///
/// # Errors
/// A progression that cannot be read, put in time or played within the limits; a recording, a
/// microphone or a loudspeaker that cannot be used.
pub fn run(args: &Args, console: &mut Console) -> Result<ExitCode> {
    if let Some(file) = &args.save {
        disk::keep_apart(file, args.song.file())?;
        disk::keep_apart(file, args.guitar.file()?)?;
        disk::keep_apart(file, args.diary.files())?;
        check_ending("--save", file, &["wav"])?;
    }
    let song = args.song.read()?;
    let guitar = args.guitar.guitar()?;
    let tuning = args.hand.tuning(&song, guitar.tuning())?;
    let plan = args.pace.plan(&song)?;
    let style = args.pace.style()?;
    let beats = beats(&plan, &style, args.strum);
    let (limits, weights) = (args.hand.limits(), args.hand.weights()?);
    let part = Part {
        learnt: guitar.learnt(),
        ..Part::new(plan, beats, &limits, &weights, args.closed, tuning)?
    };
    let hits = arrangement(&part.plan, &style, &tuning);
    let mut began = args.diary.began(None, 0.0)?;
    let mut damaged = None;
    let (mut stage, mut too_loud) = (None, false);
    let performance = match &args.from {
        Some(file) => {
            let recording = Spool::of(file, LONGEST_S + MORE_S)?;
            let rate_hz = recording.rate_hz;
            damaged = damage(file, &recording.health, rate_hz);
            let length_s = recording.len() as f64 / f64::from(rate_hz);
            began = args.diary.began(Some(file), length_s)?;
            let backing = Backing::new(&hits, &part.plan, 1.0, rate_hz);
            let beginning = args.start.map_or(Beginning::UNKNOWN, Beginning::At);
            let performance = judged(&recording, rate_hz, &part, beginning, &backing);
            recording.check()?;
            performance
        }
        None => {
            let played = live(args, &part, &hits, &guitar, console)?;
            (stage, too_loud) = (played.stage, played.too_loud);
            played.performance
        }
    };
    if let Some(damaged) = &damaged {
        console.complain(damaged);
    }
    let Some(performance) = performance else {
        drop(stage);
        let of = args
            .from
            .as_ref()
            .map_or(String::new(), |file| format!("{}: ", file.display()));
        let why = match too_loud {
            true => words::playing::NO_STRUM_OVER_THE_BACKING,
            false => words::playing::NO_STRUM,
        };
        console.complain(&format!("{of}{why}"));
        return Ok(NOT_JUDGED.into());
    };
    // What was heard is kept before anybody is asked to read.
    let mut keeper = args.diary.keeper();
    if let Some(keeper) = &mut keeper {
        for (_, entry) in entries(&performance, &part, began) {
            keeper.keep(&Entry {
                guitar: guitar.name(),
                began: Some(began),
                ..entry
            });
        }
    }
    if let Some(stage) = &mut stage {
        let mut text = Vec::new();
        playing::text(&performance, &mut text)?;
        read(stage, &String::from_utf8_lossy(&text))?;
    }
    drop(stage);
    if args.json {
        json_line(console.out, &playing::value(&performance))?;
    } else {
        playing::text(&performance, console.out)?;
    }
    if let Some(keeper) = &keeper {
        diary::close(keeper, console)?;
    }
    // Of a damaged recording not all was judged.
    Ok(damaged.map_or(AS_IT_SHOULD_BE, |_| NOT_JUDGED).into())
}

/// Shows a text page by page until the player has read it.
fn read(stage: &mut Stage, text: &str) -> Result<()> {
    let stop = Stop::new()?;
    let mut pages = Pages::new(text);
    loop {
        stage.draw(|frame| pages.draw(frame))?;
        match stage.key()? {
            Some(Key::Forward | Key::Letter(' ')) => pages.forward(stage.height()),
            Some(Key::Back) => pages.back(stage.height()),
            Some(Key::Quit) => return Ok(()),
            _ if stop.is_asked() => return Ok(()),
            _ => thread::sleep(MOMENT),
        }
    }
}

/// Shows what is to be read before any music, until the player strums or presses a key. Gives whether it
/// is to begin.
fn wait(
    stage: &mut Stage,
    source: &mut dyn Source,
    part: &Part,
    left: bool,
    delay_known: bool,
) -> Result<bool> {
    let stop = Stop::new()?;
    let grid = &part.plan.grid;
    let mut board = Board::new(&expected(part, 0), &part.tuning, left);
    board.goal = words::playing::bars_to_come(grid.bars, grid.tempo_bpm(0.0), grid.count_in);
    board.say = words::playing::HEARING.to_owned();
    if !delay_known {
        board.say += "\n";
        board.say += words::playing::DELAY_UNKNOWN;
    }
    board.prompt = words::playing::STRUM_TO_BEGIN.to_owned();
    board.begun = false;
    board.keys = words::playing::KEYS_TO_BEGIN.to_owned();
    let mut meter = Meter::new(source.rate_hz());
    let mut plucks = Plucks::new(source.rate_hz());
    let mut block = Vec::new();
    loop {
        board.level_dbfs = Some(meter.peak_dbfs());
        stage.draw(|frame| view::draw(frame, &board))?;
        block.clear();
        if source.read(&mut block)? == Came::Sound {
            meter.push(&block);
            if plucks.push(&block).is_some() {
                return Ok(true);
            }
        }
        match stage.key()? {
            Some(Key::Quit) => return Ok(false),
            Some(Key::Resized) => {}
            Some(_) => return Ok(true),
            None if stop.is_asked() => return Ok(false),
            None => {}
        }
    }
}

/// How a time through ended.
enum Ended {
    Played,
    /// The player broke it off.
    Stopped,
    Gone(DeviceError),
}

/// A time through, judged.
struct Played {
    /// `None` where no strum was found.
    performance: Option<Performance>,
    /// Whether the backing was too loud in the microphone at the end.
    too_loud: bool,
    /// The terminal, where it was taken over.
    stage: Option<Stage>,
}

/// Plays the backing, shows the way and listens; then judges what was heard.
fn live(
    args: &Args,
    part: &Part,
    hits: &[Hit],
    guitar: &NamedGuitar,
    console: &mut Console,
) -> Result<Played> {
    let (delay_s, left) = (guitar.delay_s(), guitar.is_left(args.left));
    let gain = args.volume.gain()?;
    let input = guitar.input(args.input.as_deref(), None);
    let mut source = open_input(input.as_deref())?;
    let mut sounds = Sounds::new(open_output, part.tuning)?;
    let no_loudspeaker = DeviceError::None(Direction::Loudspeaker);
    let backing = sound(
        hits,
        &part.plan,
        gain,
        sounds.rate_hz().ok_or(no_loudspeaker)?,
    );
    let rate_hz = source.rate_hz();
    // Programs read what goes to `out`.
    let words: &mut dyn Write = if args.json { console.err } else { console.out };
    let full = io::stdout().is_terminal() && !args.plain && !args.json;
    if !full {
        warn(words, delay_s.is_some())?;
        words.flush()?;
    }
    let shown = match (full, args.json) {
        (true, _) => {
            let mut stage = Stage::open()?;
            if !wait(&mut stage, &mut *source, part, left, delay_s.is_some())? {
                drop(stage);
                bail!(words::playing::NOT_BEGUN);
            }
            Shown::Stage(stage)
        }
        (false, true) => Shown::Nothing,
        (false, false) => Shown::Lines(console.out),
    };
    let mut run = TimeThrough {
        part,
        delay_s,
        began_s: 0.0,
        samples: Vec::new(),
        lost_s: 0.0,
        live: Live::new(sound(hits, &part.plan, 1.0, rate_hz), rate_hz),
        checked: false,
        last: String::new(),
        told: None,
        fresh: false,
        notice: String::new(),
        meant: 0,
        bar: None,
        left,
        shown,
    };
    caught_up(&mut *source)?;
    sounds.backing(backing);
    let ear = Ear::new(source, input, part.tuning, expected(part, 0))
        .refined(part.learnt)
        .beside_music();
    let ended = run.play(&mut Sitting::new(ear, Some(sounds), false));
    let TimeThrough {
        samples,
        lost_s,
        began_s,
        mut live,
        shown,
        ..
    } = run;
    let mut stage = match shown {
        Shown::Stage(stage) => Some(stage),
        Shown::Lines(_) | Shown::Nothing => None,
    };
    // Complaints come on a terminal that was given back.
    if matches!(ended, Ok(Ended::Played)) && lost_s == 0.0 {
        if let Some(stage) = &mut stage {
            let words = Paragraph::new(words::playing::GOING_THROUGH);
            stage.draw(|frame| frame.render_widget(words, frame.area()))?;
        }
    } else {
        stage = None;
    }
    // Whatever ended it, what was heard is kept first.
    if let Some(file) = &args.save {
        write_wav(file, rate_hz, &samples)?;
    }
    match ended? {
        Ended::Played => {}
        Ended::Stopped => console.complain(words::playing::JUDGED_UNTIL_THEN),
        Ended::Gone(error) => {
            console.complain(&words::playing::judged_until_error(&error));
        }
    }
    if lost_s > 0.0 {
        console.complain(&words::playing::sound_lost(lost_s));
    }
    let beginning = Beginning::live(began_s, delay_s);
    let level_db = live.level_db(&samples, beginning);
    Ok(Played {
        performance: judged(&samples, rate_hz, part, beginning, live.backing()),
        too_loud: level_db.is_some_and(|db| db > TOO_LOUD_DB),
        stage,
    })
}

/// What was recorded, judged as far as it goes.
fn judged(
    recording: &dyn Mono,
    rate_hz: u32,
    part: &Part,
    beginning: Beginning,
    backing: &dyn Mono,
) -> Option<Performance> {
    let mut performance = judge(recording, rate_hz, part, beginning, Some(backing))?;
    performance.end_at(recording.len() as f64 / f64::from(rate_hz));
    Some(performance)
}

/// The chord of a plan as what takes are held against; nothing where nothing is played.
fn expected(part: &Part, placed: usize) -> Expected {
    let nothing = || Expected::Named(ExpectedVoicing::usual(Frets([None; 6]), None, &part.tuning));
    part.expected(placed).unwrap_or_else(nothing)
}

/// Where a time through is shown.
enum Shown<'a> {
    Stage(Stage),
    Lines(&'a mut dyn Write),
    Nothing,
}

/// One time through.
struct TimeThrough<'a> {
    part: &'a Part,
    /// From playing to hearing, in seconds, where that was measured.
    delay_s: Option<f64>,
    /// When the backing began, in seconds from the first sample.
    began_s: f64,
    /// What the microphone heard.
    samples: Vec<f32>,
    lost_s: f64,
    /// What is heard against the backing.
    live: Live,
    checked: bool,
    last: String,
    /// The listener's number for the strum told last.
    told: Option<u64>,
    /// Whether the last strum is still to be told.
    fresh: bool,
    notice: String,
    /// The chord of the plan that the listener holds strums against.
    meant: usize,
    /// The bar told of last.
    bar: Option<i64>,
    /// Whether pictures are as a left-handed player sees the neck.
    left: bool,
    shown: Shown<'a>,
}

impl Face for TimeThrough<'_> {
    fn hear(&mut self, heard: &Message) -> io::Result<()> {
        match heard {
            Message::Settled { number, take } => {
                let beginning = Beginning::live(self.began_s, self.delay_s);
                let at_s = take.start_s;
                if (self.live).counts(&self.samples, self.part, beginning, at_s) {
                    let at_s = at_s - self.count_in_s();
                    self.last = last(self.part, take, at_s, self.delay_s.is_some());
                    self.told = Some(*number);
                    self.fresh = true;
                }
            }
            Message::Withdrawn { number } if self.told == Some(*number) => {
                self.last.clear();
                self.fresh = false;
            }
            _ => {}
        }
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.notice = notice.sentence();
        Ok(())
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        let along = AlongView {
            part: self.part,
            now_s: ear.now_s() - self.count_in_s(),
            last: &self.last,
            notice: &self.notice,
            keys: words::screen::ENDS,
            left: self.left,
        };
        match &mut self.shown {
            Shown::Stage(stage) => {
                stage.draw(|frame| draw(frame, &along))?;
                return Ok((stage.key()? == Some(Key::Quit)).then_some(Wish::Quit));
            }
            Shown::Lines(out) => {
                let here = self.part.plan.grid.bar_at(along.now_s);
                if along.now_s > 0.0 && self.bar != Some(here) {
                    writeln!(out, "{}", along.line())?;
                    self.bar = Some(here);
                }
                if std::mem::take(&mut self.fresh) {
                    writeln!(out, "    {}", self.last)?;
                }
                out.flush()?;
            }
            Shown::Nothing => {}
        }
        Ok(None)
    }
}

impl TimeThrough<'_> {
    /// Listens until the music is over, the player has had enough or a device is gone.
    fn play(&mut self, sitting: &mut Sitting) -> Result<Ended> {
        // Ctrl-C where the terminal does not give it as a key.
        let stop = Stop::new()?;
        let end_s = self.part.plan.grid.end_s() + TAIL_S;
        let mut heard = Vec::new();
        loop {
            let polled = sitting.poll(self, &mut heard)?;
            self.samples.extend_from_slice(sitting.ear.block());
            // Silence stands for what was lost.
            let length = sitting.ear.listener().position() as usize;
            self.samples.resize(length, 0.0);
            match polled.stream {
                Stream::Flows | Stream::Back => {}
                Stream::Lost(seconds) => self.lost_s += seconds,
                Stream::Gone(error) => return Ok(Ended::Gone(error)),
                Stream::Ended => return Ok(Ended::Played),
            }
            if sitting.sounds.as_ref().is_some_and(Sounds::is_broken_off) {
                return Ok(Ended::Gone(DeviceError::Gone(Direction::Loudspeaker)));
            }
            if let Some(began_s) = sitting.backing_began_s() {
                self.began_s = began_s;
            }
            let now_s = sitting.ear.now_s() - self.count_in_s();
            self.mean(now_s - Listener::SETTLES_S, sitting.ear.listener());
            self.check_level(now_s);
            if polled.wish == Some(Wish::Quit) || stop.is_asked() {
                return Ok(Ended::Stopped);
            }
            if now_s > end_s {
                return Ok(Ended::Played);
            }
        }
    }

    /// When the count-in starts as the microphone hears it, in seconds from the first sample.
    fn count_in_s(&self) -> f64 {
        self.began_s + self.delay_s.unwrap_or(0.0)
    }

    /// Once enough was played, says whether the backing is too loud in the microphone.
    fn check_level(&mut self, now_s: f64) {
        if self.checked || now_s < self.part.plan.grid.seconds(0.0) + CHECKED_AFTER_S {
            return;
        }
        self.checked = true;
        let beginning = Beginning::live(self.began_s, self.delay_s);
        let level_db = self.live.level_db(&self.samples, beginning);
        if level_db.is_some_and(|db| db > TOO_LOUD_DB) {
            self.notice = words::playing::USE_HEADPHONES.to_owned();
        }
    }

    /// From half-way to the next chord on, that one is meant. `at_s`: when the strum was struck that is
    /// judged next.
    fn mean(&mut self, at_s: f64, listener: &mut Listener) {
        let nearest = self.part.nearest(at_s);
        if let Some(beat) = nearest.filter(|beat| beat.placed != self.meant) {
            self.meant = beat.placed;
            listener.expect(expected(self.part, beat.placed));
        }
    }
}
