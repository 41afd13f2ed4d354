//! End to end: sound goes through a sound server into the program, as from a microphone.
//!
//! Needs PulseAudio and Linux, so `scripts/test` asks for it: `cargo test --test with_a_sound_server
//! -- --ignored`.
#![cfg(all(target_os = "linux", feature = "mic"))]

mod along;
#[path = "../common/mod.rs"]
mod common;
mod server;
mod soundcheck;

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::thread;
use std::time::Duration;

use along::{
    ALONE_MS, Broken, LATE_QUEUE_MS, LEVEL_DB, LOUD, OVER_A_BACKING_MS, SOFT, START_MS, TOLD_MS,
    TRIES, Truth, Tune, both, level_db, seconds, through,
};
use common::placed::place;
use common::song::{BAR_S, COUNT_IN_S, STRUCK_MS};
use ringtrue::audio::{read_all, write_wav};
use serde_json::Value;
use server::{APART, Listening, RATE_HZ, Server, signal};
use soundcheck::soundcheck;

/// A fixture after a second and a half of a quiet room, and some more of that behind it.
fn recorded(folder: &Path, fixture: &str) -> PathBuf {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/strums")
        .join(fixture);
    let strum = read_all(&file, 60.0).unwrap();
    assert_eq!(strum.rate_hz, RATE_HZ);
    // The room before and after is as loud as in the recording: a step in the noise is no strum.
    let lead = &strum.samples[..RATE_HZ as usize / 4];
    let floor = (lead.iter().map(|s| s * s).sum::<f32>() / lead.len() as f32).sqrt();
    let room = |samples: usize| {
        (0..samples as u32).map(move |i| {
            let hashed = (i ^ 0x5bd1).wrapping_mul(2_654_435_761) ^ (i.wrapping_mul(40_503) << 7);
            floor
                * 3f32.sqrt()
                * (hashed.wrapping_mul(1_664_525) as f32 / u32::MAX as f32 * 2.0 - 1.0)
        })
    };
    let second = RATE_HZ as usize;
    let fade = second / 5;
    let length = strum.samples.len();
    let faded = strum.samples.iter().enumerate().map(|(i, s)| {
        let left = (length - i).min(fade) as f32 / fade as f32;
        s * left
    });
    let all: Vec<f32> = room(second * 3 / 2)
        .chain(faded)
        .chain(room(second * 4))
        .collect();
    let path = folder.join(fixture);
    write_wav(&path, RATE_HZ, &all).unwrap();
    path
}

fn verdicts(take: &Value) -> Vec<String> {
    let strings = take["strings"].as_array().unwrap();
    strings
        .iter()
        .map(|s| format!("{} {} {}", s["string"], s["verdict"], s["heard_fret"]))
        .collect()
}

fn checked(server: &Server, wav: &Path, frets: &str) -> Value {
    let wav = wav.to_str().unwrap();
    let output = server
        .ringtrue(&["check", wav, "--frets", frets, "--json"])
        .output()
        .unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

const FIXTURES: [(&str, &str); 3] = [
    ("x13331-all-strings-ring.wav", "x13331"),
    ("133211-string-3-dead-string-1-choked.wav", "133211"),
    (
        "x35553-low-string-rings-string-2-at-the-barre.wav",
        "x35553",
    ),
];

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn what_is_played_into_the_microphone_is_judged_as_check_judges_the_file() {
    let server = Server::start();
    let mut held = 0;
    for (fixture, frets) in FIXTURES {
        let wav = recorded(server.folder.path(), fixture);
        let heard = whole(|| {
            let kept = tempfile::tempdir_in(server.folder.path()).unwrap();
            let folder = kept.path().to_str().unwrap();
            let mut listening = server.listen(&["--frets", frets, "--save", folder]);
            server.play(&wav);
            let first = listening.wait_for("first");
            let settled = listening.wait_for("settled");
            is_whole(&takes_kept(kept.path(), 1)[0], &wav).then_some((first, settled))
        });
        let (first, settled) = heard;
        assert_eq!(first["number"], settled["number"]);
        // A microphone begins at any sample. Where two verdicts are as good as equally probable that can
        // decide; what is said whatever sample a file begins at must be said live too.
        let files = BEGINS.map(|later| {
            let mut samples = read_all(&wav, 60.0).unwrap().samples;
            samples.drain(..later);
            let path = server.folder.path().join(format!("{later}.wav"));
            write_wav(&path, RATE_HZ, &samples).unwrap();
            let file = checked(&server, &path, frets);
            assert_eq!(file["takes"].as_array().unwrap().len(), 1);
            file
        });
        let said = files.each_ref().map(|file| verdicts(&file["takes"][0]));
        let live = verdicts(&settled["take"]);
        for (string, live) in live.iter().enumerate() {
            if said.iter().all(|other| other[string] == said[0][string]) {
                assert_eq!(*live, said[0][string]);
                held += 1;
            } else {
                assert!(said.iter().any(|said| said[string] == *live), "{live}");
            }
        }
        let advice = files.each_ref().map(|file| &file["takes"][0]["advice"]);
        if let Some(alike) = said.iter().position(|said| *said == live) {
            assert_eq!(settled["take"]["advice"], *advice[alike]);
        }
    }
    // Of eighteen strings, or nothing is held at all.
    assert!(held >= 15, "{held}");
}

/// What was played until it arrived whole: a sound server on a busy computer leaves sound out.
fn whole<T>(mut played: impl FnMut() -> Option<T>) -> T {
    (0..TRIES)
        .find_map(|_| played())
        .expect("the sound server lets something through whole")
}

/// The sound of the takes kept in a folder, in order, once there are so many.
fn takes_kept(folder: &Path, count: usize) -> Vec<PathBuf> {
    for _ in 0..12_000 {
        let files = std::fs::read_dir(folder).unwrap();
        let paths = files.map(|file| file.unwrap().path());
        // The judgement is written after the sound.
        let mut takes: Vec<PathBuf> = paths
            .filter(|path| path.extension().is_some_and(|end| end == "json"))
            .collect();
        if takes.len() >= count {
            takes.sort_by_key(|path| path.metadata().unwrap().modified().unwrap());
            return takes
                .iter()
                .map(|path| path.with_extension("wav"))
                .collect();
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("no take is kept");
}

/// Whether a take is sound as it was played, without a hole.
fn is_whole(take: &Path, played: &Path) -> bool {
    let [take, played] = [take, played].map(|path| read_all(path, 60.0).unwrap().samples);
    let whole = place(&played, &take, 0..played.len()).is_some();
    if !whole {
        println!("played again: the sound server left some of it out");
    }
    whole
}

/// Samples left out at a file's beginning: other phases of the finder's blocks.
const BEGINS: [usize; 4] = [0, 37, 181, 470];

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn a_sound_server_that_dies_is_noticed_and_taken_up_again_when_it_is_back() {
    let mut server = Server::start();
    let (fixture, frets) = FIXTURES[0];
    let wav = recorded(server.folder.path(), fixture);
    let kept = server.folder.path().join("kept");
    let folder = kept.to_str().unwrap();
    let mut listening = server.listen(&["--frets", frets, "--save", folder]);
    let heard = |server: &Server, listening: &mut Listening| {
        whole(|| {
            server.play(&wav);
            let settled = listening.wait_for("settled");
            let number = settled["number"].as_u64().unwrap() as usize;
            is_whole(&takes_kept(&kept, number)[number - 1], &wav).then_some(settled)
        })
    };
    let before = heard(&server, &mut listening);
    server.kill();
    let gone = listening.wait_for("microphone-gone");
    assert!(
        gone["text"]
            .as_str()
            .unwrap()
            .contains("microphone is gone")
    );
    server.restart();
    listening.wait_for("microphone-back");
    let after = heard(&server, &mut listening);
    assert_eq!(verdicts(&before["take"]), verdicts(&after["take"]));
    assert!(after["number"].as_u64() > before["number"].as_u64());
    let start = |event: &Value| event["take"]["start_s"].as_f64().unwrap();
    assert!(start(&after) > start(&before));
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn a_kept_take_is_judged_by_check_as_it_was_live() {
    let server = Server::start();
    let (fixture, frets) = FIXTURES[2];
    let wav = recorded(server.folder.path(), fixture);
    let kept = server.folder.path().join("kept");
    let arguments = ["--frets", frets, "--takes", "1", "--save"];
    let mut arguments = arguments.to_vec();
    arguments.push(kept.to_str().unwrap());
    let mut listening = server.listen(&arguments);
    server.play(&wav);
    let settled = listening.wait_for("settled");
    assert!(listening.child.wait().unwrap().success());
    let mut files: Vec<PathBuf> = std::fs::read_dir(&kept)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    assert_eq!(files.len(), 2, "{files:?}");
    let object: Value = serde_json::from_slice(&std::fs::read(&files[0]).unwrap()).unwrap();
    let file = checked(&server, &files[1], frets);
    for takes in [&object["takes"], &file["takes"]] {
        assert_eq!(takes.as_array().unwrap().len(), 1);
        assert_eq!(verdicts(&takes[0]), verdicts(&settled["take"]));
    }
    assert_eq!(
        Some(object["file"].as_str().unwrap()),
        files[1].file_name().unwrap().to_str()
    );
    object["recorded_at"]
        .as_str()
        .unwrap()
        .parse::<jiff::Timestamp>()
        .unwrap();
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn playing_along_live_is_judged_by_what_was_played() {
    let mut server = Server::with(&APART);
    server.control(&["set-default-sink", "speaker"]);
    server.control(&["set-default-source", "middle"]);
    let tune = Tune::new(&server);
    for _ in 0..TRIES {
        let through = through(&mut server, &tune, SOFT, &[], None);
        let truth = Truth::of(&through, &tune, &both(&through));
        if !truth.is_enough() || !truth.is_steady() {
            println!("played again: the sound server lost too much");
            continue;
        }
        let session = &through.session;
        assert_eq!(session["start"]["found"], "count-in");
        truth.hold(session, START_MS, OVER_A_BACKING_MS);
        let start_s = session["start"]["at_s"].as_f64().unwrap();
        let played_db = level_db(&through, start_s, truth.recorded.unwrap());
        let found_db = session["backing_db"].as_f64().unwrap();
        println!("backing {found_db:.1} dB, {played_db:.1} played");
        assert!(
            (found_db - played_db).abs() < LEVEL_DB,
            "{found_db} {played_db}"
        );
        return;
    }
    panic!("the sound server lost too much each time");
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn a_soundcheck_hears_the_open_strings_and_with_headphones_its_delay_puts_strums_to_their_beats() {
    let mut server = Server::with(&APART);
    let guitars = server.folder.path().join("guitars");
    server.control(&["set-default-sink", "speaker"]);
    server.control(&["set-default-source", "room"]);
    let (said, delay_s) = soundcheck(&server, &guitars);
    assert_eq!(said.matches("in tune").count(), 6, "{said}");
    assert!(said.contains("From playing to hearing"), "{said}");
    assert!((0.0..0.5).contains(&delay_s), "{delay_s}");
    println!("delay {:.2} ms", 1e3 * delay_s);
    let listed = server.ringtrue(&["soundcheck", "--list"]).output().unwrap();
    assert!(String::from_utf8_lossy(&listed.stdout).contains("(usual)"));
    // From now on the microphone hears the guitar alone.
    server.control(&["set-default-source", "pickup"]);
    let tune = Tune::new(&server);
    let guitar = ["--guitar", "mine", "--guitars", guitars.to_str().unwrap()];
    // Twice: blocks have another phase each time.
    let mut times = 0;
    for _ in 0..TRIES {
        let through = through(&mut server, &tune, SOFT, &guitar, None);
        let truth = Truth::of(&through, &tune, &through.guitar);
        if !truth.is_enough() {
            println!("played again: the sound server lost too much");
            continue;
        }
        assert_eq!(through.session["start"]["found"], "told");
        let off_ms = truth.start_off_ms(&through.session);
        if off_ms.abs() > LATE_QUEUE_MS {
            println!(
                "played again: told {off_ms:.0} ms off, a server that ran late keeps a longer queue"
            );
            continue;
        }
        truth.hold(&through.session, TOLD_MS, ALONE_MS);
        times += 1;
        if times == 2 {
            return;
        }
    }
    panic!("the sound server lost too much each time");
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn playing_that_is_broken_off_or_loses_the_microphone_is_judged_so_far_and_a_leak_is_said() {
    for interrupted in [true, false] {
        let held = (0..TRIES).any(|attempt| breaks_off(interrupted, attempt as f64 * 0.5));
        assert!(held, "the sound server lost too much each time");
    }
}

/// Plays and breaks off in the fourth bar or so much later; false where the sound server lost too much of it to
/// hold anything against.
fn breaks_off(interrupted: bool, later_s: f64) -> bool {
    let mut server = Server::with(&APART);
    server.control(&["set-default-sink", "speaker"]);
    server.control(&["set-default-source", "middle"]);
    let tune = Tune::new(&server);
    let after_s = 6.5 + later_s;
    let (broken, why) = match interrupted {
        true => (Broken::ByTheUser(after_s), "stopped early"),
        false => (Broken::ByTheServer(after_s), "is gone"),
    };
    let through = through(&mut server, &tune, LOUD, &[], Some(broken));
    let mut truth = Truth::of(&through, &tune, &both(&through));
    let session = &through.session;
    assert!(through.said.contains(why), "{}", through.said);
    if session.is_null() {
        let arrived = truth.strums.iter().flatten().flatten().count();
        assert_eq!(arrived, 0, "{}", through.said);
        println!("played again: of no strum anything arrived whole");
        return false;
    }
    let judged = session["strums"].as_array().unwrap().len();
    let not_reached = session["not_reached"].as_u64().unwrap() as usize;
    assert_eq!(judged + not_reached, STRUCK_MS.len());
    // Strums near the end may be found or not.
    let length_s = seconds(through.heard.len());
    let is_early = |at: &Option<f64>| at.is_some_and(|at_s| at_s + 1.0 < length_s);
    let early = |bar: &Vec<Option<f64>>| bar.is_empty() || bar.iter().all(is_early);
    let whole = truth.strums.iter().take_while(|bar| early(bar)).count();
    println!("{length_s:.2} s heard, {whole} bars whole, {judged} judged");
    let is_enough = whole >= 2 && truth.is_steady_until(length_s);
    let Some(recorded_s) = truth.recorded.filter(|_| is_enough) else {
        println!("played again: the sound server lost too much");
        return false;
    };
    // Of a backing so loud single strokes may be taken for strums, which the program says.
    truth.strums.clear();
    truth.hold(session, START_MS, OVER_A_BACKING_MS);
    let found = session["strums"].as_array().unwrap().iter();
    assert!(found.filter(|strum| !strum["off_ms"].is_null()).count() >= 2);
    let start_s = session["start"]["at_s"].as_f64().unwrap();
    let reached = |at_s: f64| {
        let beats = (0..STRUCK_MS.len()).map(|bar| start_s + COUNT_IN_S + BAR_S * bar as f64);
        beats.filter(|beat_s| *beat_s < at_s).count()
    };
    assert!(
        (reached(length_s - 0.1)..=reached(length_s)).contains(&judged),
        "{session}"
    );
    let played_db = level_db(&through, start_s, recorded_s);
    let found_db = session["backing_db"].as_f64().unwrap();
    println!("backing {found_db:.1} dB, {played_db:.1} played");
    assert!(
        (found_db - played_db).abs() < LEVEL_DB,
        "{found_db} {played_db}"
    );
    assert_eq!(session["backing_too_loud"], true, "{session}");
    true
}

/// Threads and open files of a process.
fn held(pid: u32) -> (usize, usize) {
    let count = |what: &str| {
        std::fs::read_dir(format!("/proc/{pid}/{what}"))
            .unwrap()
            .count()
    };
    (count("task"), count("fd"))
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn a_sound_server_that_hangs_is_waited_for_and_no_threads_or_files_pile_up() {
    let server = Server::start();
    let mut command = server.ringtrue(&["listen", "--json", "--frets", "x13331"]);
    command
        .env("RINGTRUE_LOG", "ringtrue=info")
        .stderr(Stdio::piped());
    let mut listening = Listening::of(&mut command);
    let (pid, hanging) = (listening.child.id(), server.child.as_ref().unwrap());
    let begun = held(pid);
    let mut log = BufReader::new(listening.child.stderr.take().unwrap()).lines();
    signal(hanging, "-STOP");
    listening.wait_for("microphone-gone");
    // Each try that comes to nothing is logged.
    let counts: Vec<(usize, usize)> = (0..16)
        .map(|_| {
            let tried = log
                .by_ref()
                .map_while(Result::ok)
                .find(|line| line.contains("not yet"));
            assert!(tried.is_some());
            held(pid)
        })
        .collect();
    signal(hanging, "-CONT");
    println!("threads and files: {begun:?}, then {counts:?}");
    // What the first tries leave waiting is all that ever waits.
    let (settled, rest) = counts.split_at(4);
    let most = |held: fn(&(usize, usize)) -> usize| settled.iter().map(held).max().unwrap();
    let (threads, files) = (most(|held| held.0), most(|held| held.1));
    assert!(
        rest.iter().all(|held| held.0 <= threads && held.1 <= files),
        "{counts:?}"
    );
    listening.wait_for("microphone-back");
    // What waited ends by and by.
    for _ in 0..12_000 {
        if held(pid).0 <= begun.0 && held(pid).1 <= begun.1 {
            return;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("{begun:?} before, {:?} for ever after", held(pid));
}
