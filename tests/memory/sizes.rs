//! A diary of years, a folder of thousands of takes and a long recording need no more memory than short ones, and work
//! that grows as they do.

use crate::common::command;
use crate::common::takes;
use crate::counting::{HELD, MOST, TIMES, TURN};

use std::ffi::OsString;
use std::io::{BufWriter, Write, sink};
use std::process::ExitCode;
use std::sync::atomic::Ordering;

use command::{Desk, bb};
use ringtrue::audio::{at_rate, read_all, write_wav};
use ringtrue::cli::Console;

/// What a command took: bytes held at the most, and how often memory was asked for.
struct Took {
    most: isize,
    times: isize,
}

fn run(desk: &Desk, arguments: &[&str]) -> Took {
    let (held, times) = (HELD.load(Ordering::Relaxed), TIMES.load(Ordering::Relaxed));
    MOST.store(held, Ordering::Relaxed);
    let inside = |text: &str| match text.strip_prefix("@") {
        Some(name) => desk.path(name).into(),
        None => OsString::from(text),
    };
    let all = ["ringtrue"].iter().chain(arguments);
    let mut err = Vec::new();
    let console = Console {
        out: &mut sink(),
        err: &mut err,
        colour: false,
    };
    let status = ringtrue::cli::run_on(console, all.map(|text| inside(text)));
    let err = String::from_utf8_lossy(&err).into_owned();
    assert_eq!(status, ExitCode::SUCCESS, "{arguments:?}: {err}");
    Took {
        most: MOST.load(Ordering::Relaxed) - held,
        times: TIMES.load(Ordering::Relaxed) - times,
    }
}

#[test]
fn four_times_as_many_takes_need_no_more_memory() {
    let _turn = TURN.lock();
    let commands: [&[&str]; 6] = [
        &[
            "progress",
            "--diary",
            "@d.sqlite",
            "--import",
            "@takes.jsonl",
        ],
        &["progress", "--diary", "@d.sqlite", "--json"],
        &["progress", "--diary", "@d.sqlite", "--csv"],
        &["progress", "--diary", "@d.sqlite"],
        &["report", "--diary", "@d.sqlite", "--csv"],
        &["report", "--diary", "@d.sqlite", "--out", "@page.html"],
    ];
    let took = [2_500, 10_000].map(|count| {
        let desk = Desk::new();
        let mut file = BufWriter::new(std::fs::File::create(desk.path("takes.jsonl")).unwrap());
        takes::write(&mut file, count);
        file.flush().unwrap();
        commands.map(|command| run(&desk, command).most)
    });
    // A take held whole is a kilobyte: 7,500 more are 7.5 MB. What is kept of each are a byte that says whether it
    // was clean, and where it was played along four numbers.
    for (command, (few, many)) in commands.iter().zip(took[0].iter().zip(&took[1])) {
        assert!(many - few < 500_000, "{command:?}: {few} and {many} bytes");
    }
}

#[test]
fn twice_as_many_saved_takes_are_twice_the_work() {
    let _turn = TURN.lock();
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    let saved = desk
        .run(&["check", "bb.wav", "--frets", "x13331", "--json"])
        .out;
    let took = [700, 1_400].map(|count| {
        let folder = format!("of {count}");
        std::fs::create_dir(desk.path(&folder)).unwrap();
        for index in 0..count {
            std::fs::write(desk.path(&format!("{folder}/{index}.json")), &saved).unwrap();
        }
        run(&desk, &["report", &format!("@{folder}"), "--csv"]).times as f64
    });
    assert!(
        took[1] < 2.3 * took[0],
        "{took:?} times memory was asked for"
    );
}

/// A recording held whole is 4 bytes a sample, which the recording without its backing, the backing, and what strums
/// are found by would be again.
#[test]
fn four_times_as_long_a_recording_of_playing_along_needs_no_more_memory() {
    let _turn = TURN.lock();
    /// A fifth of the rate at which the strum is made.
    const RATE_HZ: u32 = 8_820;
    const BAR_S: usize = 4;
    let mut bar: Vec<f32> = bb().into_iter().step_by(5).collect();
    bar.resize(BAR_S * RATE_HZ as usize, 0.0);
    let bars = [20, 80];
    let took = bars.map(|bars| {
        let desk = Desk::new();
        let loops = format!("--loops={bars}");
        let song = ["Bb", "--tempo=60", "--count-in=1", &loops];
        let made = desk.run(&[&["backing", "--out", "backing.wav"][..], &song].concat());
        assert_eq!(made.status, 0, "{}", made.err);
        let backing = read_all(&desk.path("backing.wav"), 1_000.0).unwrap();
        let backing = at_rate(&backing.samples, backing.rate_hz, RATE_HZ);
        // The count-in first, and the backing in the microphone, so that it is taken out.
        let playing = [vec![0.0; bar.len()], bar.repeat(bars)].concat();
        let samples = playing.iter().zip(&backing).map(|(p, b)| p + 0.1 * b);
        let samples: Vec<f32> = samples.collect();
        write_wav(&desk.path("playing.wav"), RATE_HZ, &samples).unwrap();
        let play = ["play", "--from", "@playing.wav", "--diary", "@d.sqlite"];
        run(&desk, &[&play[..], &song].concat()).most
    });
    let samples = ((bars[1] - bars[0]) * BAR_S * RATE_HZ as usize) as isize;
    assert!(
        took[1] - took[0] < samples / 2,
        "{took:?} bytes, {samples} samples more"
    );
}
