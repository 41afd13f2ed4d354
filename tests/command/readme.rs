//! README's commands run as they stand, and print what it says they print.

use crate::common;

use std::fs;
use std::path::Path;

use common::command::{Desk, Finished, RATE_HZ, hiss, open_strings};

const README: &str = include_str!("../../README.md");

/// What begins a line with a command, inside a block of code.
const PROMPT: &str = "    $ ";
/// A line of output that stands for all that follows.
const AND_SO_ON: &str = "...";

/// A command of README, and what it is said to print.
struct Shown {
    command: &'static str,
    output: Vec<&'static str>,
}

fn shown() -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    let mut open = false;
    for line in README.lines() {
        if let Some(command) = line.strip_prefix(PROMPT) {
            let output = Vec::new();
            all.push(Shown { command, output });
            open = true;
        } else if let (true, Some(printed)) = (
            open,
            line.strip_prefix("    ").or(line.is_empty().then_some("")),
        ) {
            all.last_mut().expect("a command").output.push(printed);
        } else {
            open = false;
        }
    }
    for one in &mut all {
        while one.output.last() == Some(&"") {
            one.output.pop();
        }
    }
    all
}

/// The words of a command line; double quotes keep words together.
fn words(command: &str) -> Vec<String> {
    let parts = command.split('"').enumerate();
    parts
        .flat_map(|(i, part)| match i % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect(),
            _ => vec![part.to_owned()],
        })
        .collect()
}

/// A folder with what a copy of the project has and README's commands read.
fn project() -> Desk {
    let desk = Desk::new();
    for folder in ["strums", "lessons"] {
        let from = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures")
            .join(folder);
        let to = desk.path("fixtures").join(folder);
        fs::create_dir_all(&to).unwrap();
        for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
            if entry.path().is_file() {
                fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
            }
        }
    }
    desk
}

/// Sound that the program's own `demo` made.
fn demo(desk: &Desk, arguments: &[&str], name: &str) -> Vec<f32> {
    let run = desk.run(&[&["demo"], arguments, &["--out", name]].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    let made = ringtrue::audio::read_all(&desk.path(name), 60.0).unwrap();
    assert_eq!(made.rate_hz, RATE_HZ);
    made.samples
}

/// Four chords, the first at `first_s`, then one every `step_s` seconds.
fn four_chords(desk: &Desk, first_s: f64, step_s: f64) -> Vec<f32> {
    let at = |s: f64| (s * f64::from(RATE_HZ)) as usize;
    let mut all = hiss(first_s + 5.0 * step_s, 1e-4);
    for (i, frets) in ["133211", "x13331", "x35553", "x57765"].iter().enumerate() {
        let chord = demo(desk, &["--frets", frets], "chord.wav");
        let begin = at(first_s + step_s * i as f64);
        // It is let go when the next one comes.
        for (sum, sample) in all[begin..].iter_mut().zip(chord).take(at(step_s - 0.1)) {
            *sum += sample;
        }
    }
    all
}

/// What takes the microphone's place: the command, and the recording that it is told to hear instead.
const WITHOUT_A_MICROPHONE: [(&str, &str); 4] = [
    ("soundcheck", "open.wav"),
    (
        "listen",
        "fixtures/strums/133211-string-3-dead-string-1-choked.wav",
    ),
    ("play", "played.wav"),
    ("practice", "evening.wav"),
];

fn recordings(desk: &Desk) {
    desk.recording("open.wav", &open_strings(&[0.0; 6]));
    // A bar at 72 beats a minute lasts 10/3 s; one is counted in.
    let bar_s = 10.0 / 3.0;
    desk.recording("played.wav", &four_chords(desk, bar_s, bar_s));
    desk.recording("evening.wav", &four_chords(desk, 0.5, 3.0));
}

#[test]
fn every_command_runs_as_it_stands_and_prints_what_is_shown() {
    let desk = project();
    recordings(&desk);
    let commands = shown();
    assert!(
        commands.len() >= 12,
        "README shows {} commands",
        commands.len()
    );
    for Shown { command, output } in commands {
        let mut arguments = words(command);
        if arguments.remove(0) != "ringtrue" {
            assert_eq!(
                command, "cargo install --path .",
                "another command of the shell"
            );
            println!("not run: `{command}` builds the program anew");
            continue;
        }
        let name = arguments[0].clone();
        if let Some((_, heard)) = WITHOUT_A_MICROPHONE.iter().find(|(with, _)| *with == name) {
            println!("`{command}` hears {heard}, since a test has no microphone");
            arguments.extend(["--from".to_owned(), (*heard).to_owned()]);
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let Finished { status, out, err } = desk.run(&arguments);
        assert!(
            status == 0 || status == 1,
            "`{command}` ended with {status}: {err}"
        );
        if !output.is_empty() {
            let printed: Vec<&str> = out.lines().collect();
            let (expected, printed) = match output.split_last() {
                Some((&AND_SO_ON, before)) => (before, &printed[..before.len().min(printed.len())]),
                _ => (output.as_slice(), printed.as_slice()),
            };
            assert_eq!(expected, printed, "`{command}` prints something else");
        }
        if let Some(at) = arguments.iter().position(|word| *word == "--out") {
            assert!(
                desk.path(arguments[at + 1]).is_file(),
                "`{command}` writes its file"
            );
        }
    }
}

#[test]
fn the_screen_shown_is_one_that_the_screens_tests_draw() {
    let block = README
        .split("The screen of `ringtrue listen`")
        .nth(1)
        .expect("README shows a screen");
    let lines: Vec<&str> = (block.lines().skip(2))
        .map_while(|line| line.strip_prefix("    ").or(line.is_empty().then_some("")))
        .collect();
    let screen = lines.join("\n");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/library/snapshots");
    let drawn = fs::read_dir(folder).unwrap().any(|entry| {
        let text = fs::read_to_string(entry.unwrap().path()).unwrap();
        text.contains(screen.trim())
    });
    assert!(
        drawn && lines.len() > 6,
        "copy a screen from tests/library/snapshots into README:\n{screen}"
    );
}

#[test]
fn every_command_has_its_lines_and_every_figure_its_file() {
    let help = Desk::new().run(&["--help"]).out;
    let commands = help.split("Commands:").nth(1).expect("commands");
    let names = (commands
        .lines()
        .take_while(|line| !line.starts_with("Options")))
    .filter_map(|line| line.strip_prefix("  ")?.split(' ').next());
    let mut count = 0;
    for name in names.filter(|name| !name.is_empty() && *name != "help") {
        assert!(
            README.contains(&format!("\n- `{name}` "))
                || README.contains(&format!("`{name}` prints")),
            "{name}"
        );
        count += 1;
    }
    assert!(count > 10);
    let rows = README
        .lines()
        .filter(|line| line.starts_with('|') && line.ends_with(".md` |"));
    let mut figures = 0;
    for row in rows {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        let [_, _, _, result, file, _] = cells[..] else {
            panic!("four columns were expected: {row}");
        };
        let file = format!("fixtures/measured/{}", file.trim_matches('`'));
        let measured =
            fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(&file)).unwrap();
        // Shares in percent are reckoned from a table of counts: `report::page::accuracy` holds them to it.
        for figure in result.split(" / ").filter(|figure| !figure.ends_with('%')) {
            assert!(measured.contains(figure), "{file} has {figure}: {row}");
            figures += 1;
        }
    }
    assert!(figures >= 6, "README's table has figures");
}

#[test]
fn the_library_example_is_the_front_pages() {
    let front = include_str!("../../src/lib.rs");
    let block = README
        .split("## As a library")
        .nth(1)
        .expect("README shows the library");
    let lines = block
        .lines()
        .filter_map(|line| line.strip_prefix("    "))
        .take(5);
    let mut count = 0;
    for line in lines {
        assert!(front.contains(line.trim()), "{line}");
        count += 1;
    }
    assert!(count >= 3);
}

#[test]
fn readme_and_the_manual_are_short() {
    assert!(README.lines().count() <= 150);
    assert!(include_str!("../../DEVELOPERS.md").lines().count() <= 220);
}
