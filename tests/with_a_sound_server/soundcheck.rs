//! A soundcheck made by plucks through the sound server.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::write_wav;

use crate::server::{PATIENCE, RATE_HZ, Server};

/// The six open strings, 6 to 1, in Hz.
const OPEN_HZ: [f64; 6] = [
    82.406_889,
    110.0,
    146.832_384,
    195.997_718,
    246.941_651,
    329.627_557,
];

/// A string of this pitch with a few partials, plucked once.
fn plucked(hz: f64) -> Vec<f32> {
    let rate = f64::from(RATE_HZ);
    let sound = (0..(1.9 * rate) as usize).map(|i| {
        let t = i as f64 / rate;
        let sum: f64 = (1..=12)
            .map(|n| {
                let n = f64::from(n);
                (std::f64::consts::TAU * n * hz * (1.0 + 5e-5 * n * n).sqrt() * t).sin() / n
            })
            .sum();
        let fades = ((1.9 - t) / 0.1).min(1.0);
        (0.15 * 10f64.powf(-t) * sum * fades) as f32
    });
    sound.chain(vec![0.0; RATE_HZ as usize / 2]).collect()
}

/// A string that was asked for and not heard after so long is plucked again, as a player would.
const PLUCKED_AGAIN: Duration = Duration::from_secs(5);

/// Makes a soundcheck of the guitar "mine" in the folder `guitars`: what it says, and the delay that it keeps, in
/// seconds. Each string is plucked when it is asked for.
pub fn soundcheck(server: &Server, guitars: &Path) -> (String, f64) {
    let folder = server.folder.path();
    let plucks = OPEN_HZ.map(|hz| {
        let wav = folder.join(format!("{hz:.0}.wav"));
        write_wav(&wav, RATE_HZ, &plucked(hz)).unwrap();
        wav
    });
    // A room that is not exactly silent, so that the microphone counts as switched on.
    let mut rng = SmallRng::seed_from_u64(3);
    let room: Vec<f32> = (0..RATE_HZ as usize * 300)
        .map(|_| rng.random_range(-1e-4..1e-4))
        .collect();
    let quiet = folder.join("room.wav");
    write_wav(&quiet, RATE_HZ, &room).unwrap();
    let mut quiet = server.command("paplay").arg(&quiet).spawn().unwrap();
    let arguments = ["soundcheck", "--delay", "--guitar", "mine", "--guitars"];
    let mut child = server
        .ringtrue(&arguments)
        .arg(guitars)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let (sender, lines) = channel();
    let out = BufReader::new(child.stdout.take().unwrap());
    thread::spawn(move || {
        for line in out.lines().map_while(Result::ok) {
            let _ = sender.send(line);
        }
    });
    let mut said = Vec::new();
    let mut asked_for: Option<usize> = None;
    let begun = Instant::now();
    loop {
        let pluck = match lines.recv_timeout(PLUCKED_AGAIN) {
            Ok(line) => {
                let asks = line.strip_prefix("Pluck open string ");
                let number = asks.and_then(|rest| rest[..1].parse::<usize>().ok());
                let now = number.map(|number| OPEN_HZ.len() - number);
                if now.is_some() || line.contains("clicks") {
                    asked_for = now;
                }
                said.push(line);
                now
            }
            Err(RecvTimeoutError::Timeout) => asked_for,
            Err(RecvTimeoutError::Disconnected) => break,
        };
        if let Some(index) = pluck {
            server.play(&plucks[index]);
        }
        if begun.elapsed() > PATIENCE {
            child.kill().unwrap();
        }
    }
    let _ = quiet.kill();
    let _ = quiet.wait();
    let text = said.join("\n");
    assert!(child.wait().unwrap().success(), "{text}");
    let kept = std::fs::read_to_string(guitars.join("mine.toml")).unwrap();
    let kept: toml::Table = kept.parse().unwrap();
    (text, kept["delay_s"].as_float().unwrap())
}
