//! End to end: sound goes through a sound server into the program, as from a microphone.
//!
//! Needs PulseAudio and Linux, so `scripts/test` asks for it: `cargo test --test with_a_sound_server
//! -- --ignored`.
#![cfg(all(target_os = "linux", feature = "mic"))]

#[path = "common/playing.rs"]
#[allow(dead_code)]
mod playing;
#[path = "common/song.rs"]
#[allow(dead_code)]
mod song;

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::Duration;

use playing::{Manner, play};
use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::{read_all, write_wav};
use ringtrue::progression::start::from_backing;
use serde_json::Value;
use song::{BAR_S, SONG, STRUCK_MS, strikes};
use tempfile::TempDir;

/// Whatever is waited for comes within this, or the test fails.
const PATIENCE: Duration = Duration::from_secs(20);
const RATE_HZ: u32 = 44_100;

/// A loudspeaker that is the microphone.
const ONE: [&str; 1] = ["module-null-sink sink_name=speaker rate=44100 channels=1 \
    channel_map=mono format=float32le norewinds=1"];
/// A loudspeaker and a guitar that nobody hears but their own microphone, `room` and `pickup`; `both`, left
/// and right, move by one clock.
const APART: [&str; 5] = [
    "module-null-sink sink_name=both rate=44100 channels=2 channel_map=front-left,front-right \
     format=float32le norewinds=1",
    "module-remap-sink sink_name=guitar master=both channels=1 channel_map=mono \
     master_channel_map=front-right remix=no",
    "module-remap-sink sink_name=speaker master=both channels=1 channel_map=mono \
     master_channel_map=front-left remix=no",
    "module-remap-source source_name=room master=both.monitor channels=1 channel_map=mono \
     master_channel_map=front-left remix=no",
    "module-remap-source source_name=pickup master=both.monitor channels=1 channel_map=mono \
     master_channel_map=front-right remix=no",
];

/// A private PulseAudio.
struct Server {
    folder: TempDir,
    /// What it consists of.
    modules: &'static [&'static str],
    child: Option<Child>,
}

impl Server {
    /// Its only loudspeaker is its only microphone.
    fn start() -> Self {
        Server::with(&ONE)
    }

    fn with(modules: &'static [&'static str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(
            folder.path().join("alsa.conf"),
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n",
        )
        .unwrap();
        let mut server = Server {
            folder,
            modules,
            child: None,
        };
        server.restart();
        server
    }

    fn restart(&mut self) {
        let pulse = self.folder.path().join("pulse");
        let _ = std::fs::remove_dir_all(&pulse);
        std::fs::create_dir(&pulse).unwrap();
        let mut command = self.command("pulseaudio");
        command
            .args(["-n", "--daemonize=no", "--use-pid-file=no"])
            .args(["--exit-idle-time=-1", "--log-level=error"])
            .arg("--load=module-native-protocol-unix auth-anonymous=1")
            .args(self.modules.iter().map(|module| format!("--load={module}")))
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        self.child = Some(command.spawn().expect("pulseaudio is installed"));
        for _ in 0..100 {
            let asked = self.command("pactl").arg("info").output().unwrap();
            if asked.status.success() {
                return;
            }
            thread::sleep(Duration::from_millis(100));
        }
        panic!("the sound server does not start");
    }

    fn kill(&mut self) {
        if let Some(mut child) = self.child.take() {
            child.kill().unwrap();
            child.wait().unwrap();
        }
    }

    fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let folder = self.folder.path();
        let socket = folder.join("pulse/native");
        let mut command = Command::new(program);
        command
            .env("XDG_RUNTIME_DIR", folder)
            .env("PULSE_RUNTIME_PATH", folder.join("pulse"))
            .env("HOME", folder)
            .env("PULSE_SERVER", format!("unix:{}", socket.display()))
            .env("ALSA_CONFIG_PATH", folder.join("alsa.conf"))
            .env_remove("RINGTRUE_LOG")
            .stdin(Stdio::null());
        command
    }

    /// `pactl` with these arguments; what it says.
    fn control(&self, arguments: &[&str]) -> String {
        let output = self.command("pactl").args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn play(&self, wav: &Path) {
        let mut command = self.command("paplay");
        let played = command.arg("--latency-msec=20").arg(wav).status().unwrap();
        assert!(played.success());
    }

    fn ringtrue(&self, arguments: &[&str]) -> Command {
        let mut command = self.command(env!("CARGO_BIN_EXE_ringtrue"));
        command.args(arguments);
        command
    }

    /// `ringtrue listen --json` with these arguments, once it listens.
    fn listen(&self, arguments: &[&str]) -> Listening {
        let mut command = self.ringtrue(&["listen", "--json"]);
        let mut child = command
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .unwrap();
        let (sender, events) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                let _ = sender.send(serde_json::from_str(&line).unwrap());
            }
        });
        let mut listening = Listening { child, events };
        listening.wait_for("listening");
        listening
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.kill();
    }
}

struct Listening {
    child: Child,
    events: Receiver<Value>,
}

impl Listening {
    /// The next event of this kind; others on the way are left out.
    fn wait_for(&mut self, event: &str) -> Value {
        let mut passed = Vec::new();
        loop {
            match self.events.recv_timeout(PATIENCE) {
                Ok(value) if value["event"] == event => return value,
                Ok(value) => passed.push(value["event"].clone()),
                Err(_) => panic!("no {event} came, only {passed:?}"),
            }
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

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
        let mut listening = server.listen(&["--frets", frets]);
        server.play(&wav);
        let first = listening.wait_for("first");
        let settled = listening.wait_for("settled");
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

/// Samples left out at a file's beginning: other phases of the finder's blocks.
const BEGINS: [usize; 4] = [0, 37, 181, 470];

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn a_sound_server_that_dies_is_noticed_and_taken_up_again_when_it_is_back() {
    let mut server = Server::start();
    let (fixture, frets) = FIXTURES[0];
    let wav = recorded(server.folder.path(), fixture);
    let mut listening = server.listen(&["--frets", frets]);
    server.play(&wav);
    let before = listening.wait_for("settled");
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
    server.play(&wav);
    let after = listening.wait_for("settled");
    assert_eq!(verdicts(&before["take"]), verdicts(&after["take"]));
    assert_eq!(after["number"], 2);
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

/// Six open strings with a few partials each, one after another.
fn open_strings() -> Vec<f32> {
    let rate = f64::from(RATE_HZ);
    let mut samples = Vec::new();
    for hz in [
        82.406_889,
        110.0,
        146.832_384,
        195.997_718,
        246.941_651,
        329.627_557,
    ] {
        samples.extend((0..(1.9 * rate) as usize).map(|i| {
            let t = i as f64 / rate;
            let sum: f64 = (1..=12)
                .map(|n| {
                    let n = f64::from(n);
                    (std::f64::consts::TAU * n * hz * (1.0 + 5e-5 * n * n).sqrt() * t).sin() / n
                })
                .sum();
            let fades = ((1.9 - t) / 0.1).min(1.0);
            (0.15 * 10f64.powf(-t) * sum * fades) as f32
        }));
        samples.extend(vec![0.0; RATE_HZ as usize / 2]);
    }
    samples
}

/// Makes a soundcheck of the guitar "mine" in the folder `guitars`: what it says, and the delay that it keeps, in
/// seconds.
fn soundcheck(server: &Server, guitars: &Path) -> (String, f64) {
    let wav = server.folder.path().join("open.wav");
    write_wav(&wav, RATE_HZ, &open_strings()).unwrap();
    let arguments = ["soundcheck", "--delay", "--guitar", "mine", "--guitars"];
    let mut child = server
        .ringtrue(&arguments)
        .arg(guitars)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // A room that is not exactly silent, so that the microphone counts as switched on.
    let room: Vec<f32> = (0..RATE_HZ as usize * 4)
        .map(|i| 1e-4 * ((i * 7919 % 199) as f32 / 99.5 - 1.0))
        .collect();
    let quiet = server.folder.path().join("room.wav");
    write_wav(&quiet, RATE_HZ, &room).unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(lines.next().unwrap().unwrap().starts_with("Keep quiet"));
    server.play(&quiet);
    server.play(&wav);
    let rest: Vec<String> = lines.map_while(Result::ok).collect();
    let text = rest.join("\n");
    assert!(child.wait().unwrap().success(), "{text}");
    let kept = std::fs::read_to_string(guitars.join("mine.toml")).unwrap();
    let kept: toml::Table = kept.parse().unwrap();
    (text, kept["delay_s"].as_float().unwrap())
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn soundcheck_hears_the_open_strings_measures_the_delay_and_keeps_the_guitar() {
    let server = Server::start();
    let (text, delay_s) = soundcheck(&server, &server.folder.path().join("guitars"));
    assert_eq!(text.matches("in tune").count(), 6, "{text}");
    assert!(text.contains("From playing to hearing"), "{text}");
    let listed = server.ringtrue(&["soundcheck", "--list"]).output().unwrap();
    assert!(String::from_utf8_lossy(&listed.stdout).contains("(usual)"));
    assert!((0.0..0.5).contains(&delay_s), "{delay_s}");
}

/// The program plays so long after its stream is there, in seconds.
const LEAD_S: f64 = 0.3;
/// Volumes at which the backing is some 20 and 12 dB below these strums.
const SOFT: &str = "--volume=-22";
const LOUD: &str = "--volume=-14";

/// The strums of [`SONG`] alone, [`LEAD_S`] before the start of the count-in on.
fn strummed(folder: &Path) -> PathBuf {
    let mut rng = SmallRng::seed_from_u64(5);
    let (strikes, manner) = (strikes(LEAD_S), Manner::usual());
    let (samples, _) = play(&song::guitar(), &strikes, &manner, 11.0 * BAR_S, &mut rng);
    let path = folder.join("strummed.wav");
    write_wav(&path, RATE_HZ, &samples).unwrap();
    path
}

/// `ringtrue play` of [`SONG`] so loud, with more arguments; what the microphone hears goes to heard.wav.
fn playing(server: &Server, volume: &str, more: &[&str]) -> Child {
    let mut arguments = vec!["play", volume, "--json"];
    arguments.extend(more);
    arguments.extend(SONG);
    let heard = server.folder.path().join("heard.wav");
    arguments.extend(["--save", heard.to_str().unwrap()]);
    let mut command = server.ringtrue(&arguments);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().unwrap()
}

/// Waits until the program plays: a stream of it waits at the loudspeaker.
fn wait_until_it_plays(server: &Server) {
    for _ in 0..200 {
        // Streams of programs, as against those that join the server's own parts.
        let streams = server.control(&["list", "short", "sink-inputs"]);
        if streams.contains("protocol-native") {
            return;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("nothing is played");
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn playing_along_live_is_judged_by_what_was_played() {
    let server = Server::start();
    let strums = strummed(server.folder.path());
    let child = playing(&server, SOFT, &[]);
    wait_until_it_plays(&server);
    // The loudspeaker is the microphone: backing and strums reach it alike.
    let mut player = server.command("paplay").arg(&strums).spawn().unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(player.wait().unwrap().success());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let session: Value = serde_json::from_slice(&output.stdout).unwrap();
    let level_db = session["backing_db"].as_f64().unwrap();
    assert!((-30.0..-15.0).contains(&level_db), "{level_db}");
    // When the strums began is known from the recording alone.
    let heard = read_all(&server.folder.path().join("heard.wav"), 60.0).unwrap();
    let alone = read_all(&strums, 60.0).unwrap();
    let anywhere = f64::NEG_INFINITY..=f64::INFINITY;
    let begun = from_backing(&heard.samples, &alone.samples, RATE_HZ, anywhere).unwrap();
    let begun_s = begun.at_s + LEAD_S;
    let late_ms = 1e3 * (begun_s - session["start"]["at_s"].as_f64().unwrap());
    assert_eq!(session["start"]["found"], "count-in");
    let found: Vec<Option<f64>> = (session["strums"].as_array().unwrap().iter())
        .map(|strum| strum["off_ms"].as_f64().map(|off| off - late_ms))
        .collect();
    let played: Vec<Option<f64>> = STRUCK_MS.iter().map(|s| s.first().copied()).collect();
    let right = found.iter().zip(&played).all(|pair| match pair {
        (Some(found), Some(played)) => (found - played).abs() < 10.0,
        (found, played) => found == played,
    });
    assert!(right, "{found:?}, played {played:?}");
    assert_eq!(session["extra_s"].as_array().unwrap().len(), 1, "{session}");
}

/// With headphones on, strums are right within this, in ms. Onsets of composed strums lie within 5 (996 of 1000,
/// DEVELOPERS.md); the rest is left to the delay's place. A choice.
const WITH_HEADPHONES_MS: f64 = 7.0;

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn with_headphones_the_delay_of_the_soundcheck_puts_strums_to_their_beats() {
    let server = Server::with(&APART);
    let folder = server.folder.path();
    let guitars = folder.join("guitars");
    server.control(&["set-default-sink", "speaker"]);
    server.control(&["set-default-source", "room"]);
    let (_, delay_s) = soundcheck(&server, &guitars);
    // From now on the microphone hears the guitar alone.
    server.control(&["set-default-source", "pickup"]);
    let strums = strummed(folder);
    let backing = folder.join("backing.wav");
    let mut making = vec!["backing", "--out", backing.to_str().unwrap()];
    making.extend(SONG);
    assert!(server.ringtrue(&making).output().unwrap().status.success());
    let wanted = [&backing, &strums].map(|path| read_all(path, 60.0).unwrap().samples);
    // Twice: blocks have another phase each time.
    for _ in 0..2 {
        let truth = folder.join("both.raw");
        let mut recorder = server.command("parec");
        let mut recorder = recorder
            .args(["--raw", "--device=both.monitor", "--format=float32le"])
            .args(["--rate=44100", "--channels=2", "--latency-msec=20"])
            .stdout(std::fs::File::create(&truth).unwrap())
            .spawn()
            .unwrap();
        let guitar = ["--guitar", "mine", "--guitars", guitars.to_str().unwrap()];
        let child = playing(&server, SOFT, &guitar);
        wait_until_it_plays(&server);
        let mut player = server.command("paplay");
        let mut player = player.arg("--device=guitar").arg(&strums).spawn().unwrap();
        let output = child.wait_with_output().unwrap();
        assert!(player.wait().unwrap().success());
        recorder.kill().unwrap();
        recorder.wait().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{said}");
        let session: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(session["start"]["found"], "told", "{session}");
        // Left and right say when what was played was struck.
        let both = std::fs::read(&truth).unwrap();
        let sides = [0, 4].map(|side| {
            let frames = both.chunks_exact(8).map(|frame| &frame[side..side + 4]);
            frames
                .map(|sample| f32::from_le_bytes(sample.try_into().unwrap()))
                .collect::<Vec<f32>>()
        });
        let anywhere = f64::NEG_INFINITY..=f64::INFINITY;
        let [backing_s, strums_s] = [0, 1].map(|i| {
            from_backing(&sides[i], &wanted[i], RATE_HZ, anywhere.clone())
                .unwrap()
                .at_s
        });
        let late_ms = 1e3 * (strums_s + LEAD_S - backing_s);
        let found: Vec<Option<f64>> = (session["strums"].as_array().unwrap().iter())
            .map(|strum| strum["off_ms"].as_f64().map(|off| off - late_ms))
            .collect();
        println!(
            "delay {:.2} ms, late {late_ms:.2} ms, found {found:?}",
            1e3 * delay_s
        );
        let right =
            found
                .iter()
                .zip(STRUCK_MS)
                .all(|(found, played)| match (found, played.first()) {
                    (Some(found), Some(played)) => (found - played).abs() < WITH_HEADPHONES_MS,
                    (found, played) => found.is_none() && played.is_none(),
                });
        assert!(right, "{found:?}, played {STRUCK_MS:?}");
    }
}

#[test]
#[ignore = "needs PulseAudio; scripts/test runs it"]
fn playing_that_is_broken_off_or_loses_the_microphone_is_judged_so_far_and_a_leak_is_said() {
    for interrupted in [true, false] {
        let mut server = Server::start();
        let strums = strummed(server.folder.path());
        let child = playing(&server, LOUD, &[]);
        wait_until_it_plays(&server);
        let mut player = server.command("paplay");
        let mut player = player
            .arg("--latency-msec=20")
            .arg(&strums)
            .spawn()
            .unwrap();
        thread::sleep(Duration::from_millis(6_500));
        let why = if interrupted {
            let pid = child.id().to_string();
            let sent = Command::new("kill").args(["-INT", &pid]).status().unwrap();
            assert!(sent.success());
            "broken off"
        } else {
            server.kill();
            "is gone"
        };
        let output = child.wait_with_output().unwrap();
        let _ = player.kill();
        let _ = player.wait();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{said}");
        assert!(said.contains(why), "{said}");
        let session: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(session["backing_too_loud"], true, "{session}");
        let judged = session["strums"].as_array().unwrap();
        let not_reached = session["not_reached"].as_u64().unwrap() as usize;
        assert_eq!(judged.len() + not_reached, STRUCK_MS.len());
        assert!(not_reached >= 3, "{session}");
        assert!(
            judged.iter().filter(|s| !s["off_ms"].is_null()).count() >= 2,
            "{session}"
        );
        let heard = read_all(&server.folder.path().join("heard.wav"), 60.0).unwrap();
        assert!(heard.samples.len() > 4 * RATE_HZ as usize);
    }
}
