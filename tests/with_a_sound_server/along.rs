//! Playing along through the sound server, and where each sound truly lay in what the program's microphone heard.

use std::path::Path;
use std::process::Stdio;
use std::thread;
use std::time::Duration;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::{read_all, write_wav};
use serde_json::Value;

use crate::common::placed::place;
use crate::common::playing::{PlayingStyle, play};
use crate::common::song::{self, BAR_S, COUNT_IN_S, SONG, STRUCK_MS, strikes};
use crate::server::{RATE_HZ, Server, signal};

/// The strums of [`SONG`] begin so long after those of their recording, in seconds.
const LEAD_S: f64 = 0.3;
/// Volumes at which the backing is some 20 and 12 dB below these strums.
pub const SOFT: &str = "--volume=-22";
pub const LOUD: &str = "--volume=-14";
/// A strum is sought from so long before its first stroke to so long after, in seconds.
const BEFORE_S: f64 = 0.02;
const AFTER_S: f64 = 0.4;
/// The player comes in before this, in seconds: a little later, of a bar struck twice the second strum is nearer to the
/// next bar's beat than that one's own.
const LATEST_S: f64 = 0.3;
/// The guitar's sound sets in so long before its first strum at least, in seconds.
const AHEAD_S: f64 = 0.3;
/// A time through is played again where the sound server lost much of it, but no more often than this.
pub const TRIES: usize = 6;

fn samples(seconds: f64) -> usize {
    (seconds * f64::from(RATE_HZ)).round() as usize
}

pub fn seconds(samples: usize) -> f64 {
    samples as f64 / f64::from(RATE_HZ)
}

/// What is played: the backing by the program, the strums beside it.
pub struct Tune {
    backing: Vec<f32>,
    strums: Vec<f32>,
}

impl Tune {
    pub fn new(server: &Server) -> Self {
        let folder = server.folder.path();
        let file = folder.join("backing.wav");
        let mut making = vec!["backing", "--out", file.to_str().unwrap()];
        making.extend(SONG);
        assert!(server.ringtrue(&making).output().unwrap().status.success());
        let mut rng = SmallRng::seed_from_u64(5);
        let (strikes, manner) = (strikes(LEAD_S), PlayingStyle::usual());
        let (strums, _) = play(song::guitar(), &strikes, &manner, 11.0 * BAR_S, &mut rng);
        Tune {
            backing: read_all(&file, 60.0).unwrap().samples,
            strums,
        }
    }
}

/// What ends a time through before its end, once so many seconds of the backing were played.
pub enum Broken {
    ByTheUser(f64),
    ByTheServer(f64),
}

/// One time through: what the loudspeaker and the guitar gave, what the program's microphone heard, and what the
/// program says.
pub struct Through {
    pub backing: Vec<f32>,
    pub guitar: Vec<f32>,
    pub heard: Vec<f32>,
    pub said: String,
    /// Null where no strum was found.
    pub session: Value,
}

/// `ringtrue play` of [`SONG`] so loud, with more arguments, while the strums are played on the guitar.
pub fn through(
    server: &mut Server,
    tune: &Tune,
    volume: &str,
    more: &[&str],
    broken: Option<Broken>,
) -> Through {
    let folder = server.folder.path().to_owned();
    let (heard, truth) = (folder.join("heard.wav"), folder.join("both.raw"));
    let mut recorder = server.command("parec");
    let mut recorder = recorder
        .args(["--raw", "--device=both.monitor", "--format=float32le"])
        .args(["--rate=44100", "--channels=2", "--latency-msec=100"])
        .stdout(std::fs::File::create(&truth).unwrap())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut arguments = vec!["play", volume, "--json"];
    arguments.extend(more);
    arguments.extend(SONG);
    arguments.extend(["--save", heard.to_str().unwrap()]);
    let mut command = server.ringtrue(&arguments);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let child = command.spawn().unwrap();
    // The player comes in where the backing is by now: late by what it takes to start.
    let missed = samples(LEAD_S) + wait_for_sound(&truth, 0.0);
    let strums = folder.join("strums.wav");
    write_wav(
        &strums,
        RATE_HZ,
        tune.strums.get(missed..).unwrap_or_default(),
    )
    .unwrap();
    let mut player = server.command("paplay");
    let mut player = player
        .arg("--device=guitar")
        .arg(&strums)
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    match broken {
        Some(Broken::ByTheUser(after_s)) => {
            wait_for_sound(&truth, after_s);
            signal(&child, "-INT");
        }
        Some(Broken::ByTheServer(after_s)) => {
            wait_for_sound(&truth, after_s);
            server.kill();
        }
        None => {}
    }
    let output = child.wait_with_output().unwrap();
    let _ = player.kill();
    player.wait().unwrap();
    let _ = recorder.kill();
    recorder.wait().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let has_strums = !said.contains("no strum was found");
    assert_eq!(output.status.success(), has_strums, "{said}");
    let [backing, guitar] = sides(&truth);
    Through {
        backing,
        guitar,
        heard: read_all(&heard, 60.0).unwrap().samples,
        session: match has_strums {
            true => serde_json::from_slice(&output.stdout).unwrap(),
            false => Value::Null,
        },
        said,
    }
}

/// Left and right of what was recorded so far.
fn sides(raw: &Path) -> [Vec<f32>; 2] {
    let both = std::fs::read(raw).unwrap();
    [0, 4].map(|side| {
        let frames = both.chunks_exact(8).map(|frame| &frame[side..side + 4]);
        frames
            .map(|sample| f32::from_le_bytes(sample.try_into().unwrap()))
            .collect()
    })
}

/// Waits until the loudspeaker has played for so long, as recorded; gives how many samples it has by then.
fn wait_for_sound(raw: &Path, played_s: f64) -> usize {
    // A sound server that plays nothing for ten minutes plays nothing.
    for _ in 0..12_000 {
        let [left, _] = sides(raw);
        let began = left.iter().position(|sample| *sample != 0.0);
        let played = began.map_or(0, |began| left.len() - began);
        if played > samples(played_s) {
            return played;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("nothing is played");
}

/// Where sound truly lies in what the microphone heard, in seconds; `None` of what the sound server did not let
/// through whole.
pub struct Truth {
    /// Each strum, bar by bar.
    pub strums: Vec<Vec<Option<f64>>>,
    /// Where the count-in starts by each bar of the backing: the same place, unless some sound was lost between.
    pub starts: Vec<Option<f64>>,
    /// Where what was recorded begins.
    pub recorded: Option<f64>,
    /// How long before the first strum that was played whole the guitar's sound sets in.
    ahead: Option<f64>,
}

impl Truth {
    /// `sounds`: what the microphone was to hear.
    pub fn of(through: &Through, tune: &Tune, sounds: &[f32]) -> Self {
        let heard = |at: usize| {
            let piece = sounds.get(at..at + samples(BEFORE_S + AFTER_S))?;
            place(&through.heard, piece, 0..through.heard.len())
        };
        let mut strikes = strikes(LEAD_S).into_iter();
        let mut recorded = None;
        let mut ahead = None;
        let sets_in = through.guitar.iter().position(|sample| *sample != 0.0);
        let strums = STRUCK_MS.iter().map(|bar| {
            let places = bar.iter().map(|_| {
                let from = samples(strikes.next()?.at_s - BEFORE_S);
                let piece = &tune.strums[from..from + samples(BEFORE_S + AFTER_S)];
                let played = place(&through.guitar, piece, 0..through.guitar.len())?;
                ahead = ahead.or(sets_in.map(|from| seconds(played.saturating_sub(from))));
                let heard = heard(played)?;
                recorded = Some(seconds(heard) - seconds(played));
                Some(seconds(heard) + BEFORE_S)
            });
            places.collect()
        });
        let strums = strums.collect();
        let count_in = &tune.backing[..samples(COUNT_IN_S)];
        let begun = place(&through.backing, count_in, 0..through.backing.len());
        let starts = (0..STRUCK_MS.len()).map(|bar| {
            let from = samples(COUNT_IN_S + BAR_S * bar as f64);
            let piece = &tune.backing[from..from + samples(BAR_S)];
            // The second time through the chords the bars sound the same again.
            let range = begun? + from..begun? + from + samples(2.0 * BAR_S);
            let played = place(&through.backing, piece, range)?;
            Some(seconds(heard(played)?) - seconds(from))
        });
        let truth = Truth {
            strums,
            starts: starts.collect(),
            recorded,
            ahead,
        };
        println!(
            "strums at {:.4?} s, starts {:.4?} s",
            truth.strums, truth.starts
        );
        truth
    }

    /// Whether enough came whole, of the nine strums and the eight bars all but two each, and the player was there in
    /// time.
    pub fn is_enough(&self) -> bool {
        let strums = self.strums.iter().flatten().flatten().count();
        // The guitar's sound sets in with a step of its own, which may be taken for the first stroke.
        let sets_in_before = self.ahead.is_some_and(|ahead_s| ahead_s > AHEAD_S);
        strums >= 7
            && self.starts.iter().flatten().count() >= 6
            && self.is_in_time()
            && sets_in_before
    }

    /// Whether no strum is nearer to another bar's beat than that bar's own: so late is nobody who plays along.
    pub fn is_in_time(&self) -> bool {
        let starts: Vec<f64> = self.starts.iter().flatten().copied().collect();
        self.strums.iter().enumerate().all(|(bar, strums)| {
            let late = |(at_s, ms): (&Option<f64>, &f64)| {
                let beat_s = starts.first()? + COUNT_IN_S + BAR_S * bar as f64;
                Some((*at_s)? - beat_s - ms / 1e3)
            };
            let mut lates = strums.iter().zip(STRUCK_MS[bar]).filter_map(late);
            lates.all(|late| (-0.2..LATEST_S).contains(&late))
        })
    }

    /// Whether nothing was lost between the bars of the backing: it then would have two starts.
    pub fn is_steady(&self) -> bool {
        let mut starts = self.starts.iter().flatten();
        starts
            .next()
            .is_some_and(|first| starts.all(|start| (start - first).abs() < 1e-3))
    }

    /// Whether all bars of the backing that are over by then came whole, and none later or earlier than another: what is
    /// torn is no measure of a level.
    pub fn is_steady_until(&self, end_s: f64) -> bool {
        let Some(first) = self.starts.iter().flatten().next() else {
            return false;
        };
        let over = (0..self.starts.len())
            .take_while(|bar| first + COUNT_IN_S + BAR_S * (bar + 1) as f64 <= end_s)
            .count();
        over >= 2 && self.starts[..over].iter().all(Option::is_some) && self.is_steady()
    }

    pub fn is_whole(&self) -> bool {
        self.strums.iter().flatten().all(Option::is_some)
    }

    /// How far off the start is that the program tells, in ms.
    pub fn start_off_ms(&self, session: &Value) -> f64 {
        let start_s = session["start"]["at_s"].as_f64().unwrap();
        let first = self.starts.iter().flatten().next();
        first.map_or(0.0, |at_s| 1e3 * (start_s - at_s))
    }

    /// Holds what the program says against where sound lay: the start to so many ms, each strum to so many.
    pub fn hold(&self, session: &Value, start_ms: f64, strum_ms: f64) {
        let start_s = session["start"]["at_s"].as_f64().unwrap();
        let off = |at_s: &f64| 1e3 * (start_s - at_s);
        let starts: Vec<f64> = self.starts.iter().flatten().map(off).collect();
        let is_near = |off: &f64| off.abs() < start_ms;
        println!("start off by {starts:.2?} ms");
        assert!(starts.iter().any(is_near), "{starts:?}");
        assert!(
            !self.is_steady() || starts.iter().all(is_near),
            "{starts:?}"
        );
        let extra: Vec<f64> = numbers(&session["extra_s"]);
        let strums = session["strums"].as_array().unwrap();
        let mut offs = Vec::new();
        for (bar, (strum, played)) in strums.iter().zip(&self.strums).enumerate() {
            let beat_s = start_s + COUNT_IN_S + BAR_S * bar as f64;
            let found = strum["off_ms"].as_f64().map(|off| beat_s + off / 1e3);
            let near = |a: f64, b: f64| (a - b).abs() < strum_ms / 1e3;
            match (found, &played[..]) {
                (found, [Some(at_s)]) => {
                    offs.push(found.map(|found| 1e3 * (found - at_s)));
                    assert!(
                        found.is_some_and(|found| near(found, *at_s)),
                        "bar {bar}: {found:?}, {at_s}"
                    );
                }
                // The nearer one is the beat's, the other belongs to none.
                (found, [Some(one), Some(two)]) => {
                    let (nearer, other) = match (two - beat_s).abs() < (one - beat_s).abs() {
                        true => (two, one),
                        false => (one, two),
                    };
                    offs.push(found.map(|found| 1e3 * (found - nearer)));
                    assert!(
                        found.is_some_and(|found| near(found, *nearer)),
                        "bar {bar}: {found:?}, {nearer}"
                    );
                    assert!(
                        extra.iter().any(|at_s| near(*at_s, *other)),
                        "{extra:?}, {other}"
                    );
                }
                (found, []) => assert!(found.is_none() || !self.is_whole(), "bar {bar}: {found:?}"),
                _ => {}
            }
        }
        println!("strums off by {offs:.2?} ms");
        if self.is_whole() && strums.len() == STRUCK_MS.len() {
            assert_eq!(extra.len(), 1, "{extra:?}");
        }
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

/// Loudspeaker and guitar as both reach a microphone.
pub fn both(through: &Through) -> Vec<f32> {
    let pairs = through.backing.iter().zip(&through.guitar);
    pairs.map(|(one, other)| one + other).collect()
}

/// The backing's level in what the microphone heard, as it was played, in dB.
pub fn level_db(through: &Through, start_s: f64, recorded_s: f64) -> f64 {
    let sounds = both(through);
    let from = samples((start_s - recorded_s).max(0.0));
    let to = samples(seconds(through.heard.len()) - recorded_s).min(sounds.len());
    let power = |samples: &[f32]| {
        samples[from..to]
            .iter()
            .map(|s| f64::from(*s).powi(2))
            .sum::<f64>()
    };
    10.0 * (power(&through.backing) / power(&sounds)).log10()
}

/// The level that the program measures is right within this, in dB, as of composed playing (`playing_along`).
pub const LEVEL_DB: f64 = 3.0;
/// Where the backing is heard its place is right within this, in ms, as of composed playing.
pub const START_MS: f64 = 2.0;
/// Over a backing strums are right within this, in ms, as of composed playing.
pub const OVER_A_BACKING_MS: f64 = 10.0;
/// With headphones on, strums are right within 7 ms: their own place takes no more than one of them (0.3 measured in
/// thirty strums), the rest is left to the delay's place. A choice.
pub const TOLD_MS: f64 = 6.0;
/// A sound server that had to wait for the program once keeps more sound in hand from then on, by 117 to 222 ms where it was
/// seen (four times on a computer with five processes waiting and more). No soundcheck before can know that: such a time
/// through is played again. Two must hold.
pub const LATE_QUEUE_MS: f64 = 50.0;
pub const ALONE_MS: f64 = 1.0;
