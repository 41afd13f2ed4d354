//! `ringtrue play`: playing along with a backing, judged in time and string by string.

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Result, bail};

use super::backing::{HEARING, Pace, START_VOLUME_DB, volume};
use super::diary::{self, DiaryArgs};
use super::guitar::{GuitarArgs, tuning_of};
use super::route::{Hand, Song, wrapped};
use super::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::audio::live::{Came, Sink, Source, open_input, open_output};
use crate::audio::{read_all, write_wav};
use crate::fretboard::Frets;
use crate::practice::diary::Entry;
use crate::practice::entries;
use crate::progression::backing::{Hit, arrangement};
use crate::progression::band::sound;
use crate::progression::grid::LONGEST_S;
use crate::progression::session::{Beginning, Part, Session, judge};
use crate::progression::timing::{Strums, beats};
use crate::report::along::{Along, draw, last};
use crate::report::live::{Key, Stage};
use crate::report::playing;
use crate::verdict::{Expected, Heard, Listener, Settings, Voicing};

/// A recording may be so much longer than the longest backing, in seconds.
const MORE_S: f64 = 600.0;

/// Said where nothing tells how late sound is heard.
pub const DELAY_UNKNOWN: &str = "How late sound reaches this program is not known: run ringtrue soundcheck \
    and name the guitar with --guitar. Until then early and late are as the microphone hears them.";

/// Play along with a backing and see whether each chord landed in time and clean
///
/// Wear headphones: the microphone should hear the guitar alone. On a terminal the screen shows bar,
/// beat, chord and what comes next; at the end come a table by bar and by change, how steady it was
/// and which change to drill. Every strum that was judged goes into the diary. With --from the same is
/// said of a recording.
#[derive(Debug, Clone, clap::Args)]
pub struct Args {
    #[command(flatten)]
    song: Song,
    #[command(flatten)]
    pace: Pace,
    #[command(flatten)]
    hand: Hand,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[command(flatten)]
    diary: DiaryArgs,
    /// Where strums are wanted: chord (once for each), beat or eighth
    #[arg(long, value_parser = strums, default_value = "chord")]
    strum: Strums,
    /// The way over the neck as for a loop
    #[arg(long = "loop")]
    closed: bool,
    /// Judge this recording of somebody playing along
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Where the count-in starts in that recording; found if left out
    #[arg(
        long,
        value_name = "SECONDS",
        requires = "from",
        allow_negative_numbers = true
    )]
    start: Option<f64>,
    /// Microphone: its name or a part of it; soundcheck lists them
    #[arg(long, value_name = "NAME")]
    input: Option<String>,
    /// Keep what the microphone heard in this file, WAV
    #[arg(long, value_name = "FILE", conflicts_with = "from")]
    save: Option<PathBuf>,
    /// Volume of the backing in dB, 0 as loud as a file
    #[arg(long, value_name = "DB", default_value_t = START_VOLUME_DB, allow_negative_numbers = true)]
    volume: f64,
    /// Write lines, also on a terminal
    #[arg(long)]
    plain: bool,
    /// Print JSON for programs
    #[arg(long)]
    json: bool,
}

fn strums(text: &str) -> Result<Strums, String> {
    let text = text.trim().to_lowercase();
    let found = Strums::ALL.into_iter().find(|strums| strums.word() == text);
    found.ok_or_else(|| "strums are wanted once a chord, a beat or an eighth".to_owned())
}

/// Runs the command.
///
/// # Errors
/// A progression that cannot be read, put in time or played within the limits; a recording, a
/// microphone or a loudspeaker that cannot be used.
pub fn run(args: &Args, console: &mut Console) -> Result<ExitCode> {
    let song = args.song.read()?;
    let profile = args.guitar.profile()?;
    let tuning = args.hand.tuning(&song, profile.as_ref().map(tuning_of))?;
    let plan = args.pace.plan(&song)?;
    let style = args.pace.style()?;
    let beats = beats(&plan, &style, args.strum);
    let (limits, weights) = (args.hand.limits(), args.hand.weights()?);
    let part = Part::new(plan, beats, &limits, &weights, args.closed, tuning)?;
    let hits = arrangement(&part.plan, &style, &tuning);
    let mut began = args.diary.began(None, 0.0)?;
    let session = match &args.from {
        Some(file) => {
            let recording = read_all(file, LONGEST_S + MORE_S)?;
            let length_s = recording.samples.len() as f64 / f64::from(recording.rate_hz);
            began = args.diary.began(Some(file), length_s)?;
            let backing = sound(&hits, &part.plan, 1.0, recording.rate_hz);
            let beginning = args.start.map_or(Beginning::Unknown, Beginning::At);
            judge(
                &recording.samples,
                recording.rate_hz,
                &part,
                beginning,
                Some(&backing),
            )
        }
        None => {
            let input = args
                .input
                .as_deref()
                .or(profile.as_ref().and_then(|p| p.input.as_deref()));
            let delay_s = profile.as_ref().and_then(|p| p.delay_s);
            live(args, &part, &hits, input, delay_s, console)?
        }
    };
    let Some(session) = session else {
        let of = args
            .from
            .as_ref()
            .map_or(String::new(), |file| format!("{}: ", file.display()));
        console.complain(&format!(
            "{of}no strum was found; play along once more, nearer to the microphone"
        ));
        return Ok(NOT_JUDGED.into());
    };
    if args.json {
        serde_json::to_writer(&mut *console.out, &playing::value(&session))?;
        writeln!(console.out)?;
    } else {
        playing::text(&session, console.out)?;
    }
    if let Some(mut keeper) = args.diary.keeper() {
        for (_, entry) in entries(&session, &part, began) {
            keeper.keep(&Entry {
                guitar: profile.as_ref().map(|p| p.guitar.clone()),
                began: Some(began),
                ..entry
            });
        }
        diary::close(&keeper, console)?;
    }
    Ok(AS_IT_SHOULD_BE.into())
}

/// What the microphone heard.
struct Listened {
    samples: Vec<f32>,
    lost: u64,
}

/// Plays the backing, shows the way and listens; then judges what was heard.
fn live(
    args: &Args,
    part: &Part,
    hits: &[Hit],
    input: Option<&str>,
    delay_s: Option<f64>,
    console: &mut Console,
) -> Result<Option<Session>> {
    let gain = volume(args.volume)?;
    let mut source = open_input(input)?;
    let mut sink = open_output()?;
    let rate_hz = source.rate_hz();
    let backing = sound(hits, &part.plan, gain, sink.rate_hz());
    // Programs read what goes to `out`.
    let words: &mut dyn Write = if args.json { console.err } else { console.out };
    wrapped(words, "", HEARING)?;
    if delay_s.is_none() {
        wrapped(words, "", DELAY_UNKNOWN)?;
    }
    let full = io::stdout().is_terminal() && !args.plain && !args.json;
    let mut stage = if full { Some(Stage::open()?) } else { None };
    let mut run = Run {
        part,
        listener: Listener::new(
            Settings {
                tuning: part.tuning,
                rate_hz,
            },
            expected(part, 0),
        ),
        delay_s: delay_s.unwrap_or(0.0),
        heard: Listened {
            samples: Vec::new(),
            lost: 0,
        },
        last: String::new(),
        notice: String::new(),
        meant: 0,
    };
    // What waited in the microphone's ring is old.
    let mut block = Vec::new();
    source.read(&mut block)?;
    let ended = run.play(
        &mut *source,
        &mut *sink,
        &backing,
        &mut stage,
        args,
        console,
    );
    drop(stage);
    sink.stop();
    ended?;
    if let Some(file) = &args.save {
        write_wav(file, rate_hz, &run.heard.samples)?;
    }
    if run.heard.lost > 0 {
        console.complain(&format!(
            "{:.2} s of sound were lost on the way; strums there may be missed or wrong",
            run.heard.lost as f64 / f64::from(rate_hz)
        ));
    }
    let level = sound(hits, &part.plan, 1.0, rate_hz);
    Ok(judge(
        &run.heard.samples,
        rate_hz,
        part,
        Beginning::At(run.delay_s),
        Some(&level),
    ))
}

/// The chord of a plan as what takes are held against; nothing where nothing is played.
fn expected(part: &Part, placed: usize) -> Expected {
    let nothing = || Expected::Named(Voicing::usual(Frets([None; 6]), None, &part.tuning));
    part.expected(placed).unwrap_or_else(nothing)
}

/// One time through.
struct Run<'a> {
    part: &'a Part,
    listener: Listener,
    delay_s: f64,
    heard: Listened,
    last: String,
    notice: String,
    /// The chord of the plan that the listener holds strums against.
    meant: usize,
}

impl Run<'_> {
    fn play(
        &mut self,
        source: &mut dyn Source,
        sink: &mut dyn Sink,
        backing: &[f32],
        stage: &mut Option<Stage>,
        args: &Args,
        console: &mut Console,
    ) -> Result<()> {
        let rate = f64::from(source.rate_hz());
        let (mut queued, mut shown, mut bar) = (0, 0usize, None);
        let (mut block, mut told) = (Vec::new(), Vec::new());
        let end_s = self.part.plan.grid.end_s() + self.delay_s + 1.5;
        loop {
            queued += sink.queue(&backing[queued..]);
            if !sink.works() {
                bail!("the loudspeaker is gone: unplugged, or the sound system has stopped");
            }
            match source.read(&mut block) {
                Ok(Came::Sound) => {
                    self.heard.samples.extend_from_slice(&block);
                    self.listener.push(&block, &mut told);
                }
                Ok(Came::Lost(samples)) => {
                    self.heard
                        .samples
                        .resize(self.heard.samples.len() + samples as usize, 0.0);
                    self.heard.lost += samples;
                    self.listener.lost(samples, &mut told);
                    self.notice = "sound was lost on the way".to_owned();
                }
                Ok(Came::End) => return Ok(()),
                Err(error) => {
                    console.complain(&format!("{error}; what was heard until then is judged"));
                    return Ok(());
                }
            }
            let now_s = self.heard.samples.len() as f64 / rate - self.delay_s;
            for heard in told.drain(..) {
                if let Heard::Settled { take, .. } = heard {
                    self.tell(&take);
                }
            }
            self.mean(now_s);
            let along = Along {
                part: self.part,
                now_s,
                last: &self.last,
                notice: &self.notice,
                keys: "q ends",
                left: false,
            };
            match stage {
                Some(stage) => {
                    stage.draw(|frame| draw(frame, &along))?;
                    if stage.key()? == Some(Key::Quit) {
                        return Ok(());
                    }
                }
                None if !args.json => {
                    let here = (now_s > 0.0).then(|| {
                        (self.part.plan.grid.beat_at(now_s) / f64::from(self.part.plan.grid.beats))
                            .floor() as i64
                    });
                    if here.is_some() && here != bar {
                        writeln!(console.out, "{}", along.line())?;
                        bar = here;
                    }
                    if shown != self.last.len() && !self.last.is_empty() {
                        writeln!(console.out, "    {}", self.last)?;
                        shown = self.last.len();
                    }
                    console.out.flush()?;
                }
                None => {}
            }
            if now_s + self.delay_s > end_s {
                return Ok(());
            }
        }
    }

    /// From half-way to the next chord on, that one is meant.
    fn mean(&mut self, now_s: f64) {
        let nearest = self.part.nearest(now_s);
        if let Some(beat) = nearest.filter(|beat| beat.placed != self.meant) {
            self.meant = beat.placed;
            self.listener.expect(expected(self.part, beat.placed));
        }
    }

    /// The last strum in words.
    fn tell(&mut self, take: &crate::verdict::Take) {
        let at_s = take.start_s - self.delay_s;
        self.last = last(self.part, take, at_s);
    }
}
