//! A trial: led through, broken off, gone on with, and what it leaves behind.

use crate::common::command;
use crate::common::tape;
use crate::common::trial;

use command::{Desk, Finished};
use ringtrue::trial::{Deed, KnownBy, Set};
use tape::Tape;
use trial::{CHORDS, FAULTS, SEED, plan, play};

/// A desk with a recording of these steps, made by `strums`.
fn desk(name: &str, strums: impl FnOnce(&mut Tape)) -> Desk {
    let desk = Desk::new();
    let mut tape = Tape::new();
    strums(&mut tape);
    desk.recording(name, &tape.samples);
    desk
}

fn run(desk: &Desk, more: &[&str]) -> Finished {
    let seed = SEED.to_string();
    let usual = [
        "trial",
        "--guitar",
        "mine",
        "--guitars",
        "guitars",
        "--minutes",
        "3",
        "--chords",
        CHORDS,
        "--faults",
        FAULTS,
        "--seed",
        &seed,
        "--licence",
        "CC0-1.0",
    ];
    desk.run(&[&usual, more].concat())
}

#[test]
fn a_trial_from_a_recording_says_how_right_it_is_and_leaves_a_set() {
    let plan = plan();
    let desk = desk("all.wav", |tape| play(tape, &plan, 0..18));
    let done = run(&desk, &["--from", "all.wav"]);
    assert_eq!(done.status, 0, "{}{}", done.out, done.err);
    for words in [
        "Of 18 strums",
        "told right on every string",
        "1 of 18  ",
        "Kept.",
        "touched by the finger beside it",
        "called faulty",
        "All this holds where every strum",
        "trials/mine",
    ] {
        assert!(done.out.contains(words), "{words}\n{}", done.out);
    }
    // The result fits a small window.
    let result = done.out.split_once("listened to once more").expect("it").1;
    for line in result.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let set = Set::open(&desk.path("trials/mine")).expect("a whole set");
    assert_eq!(set.rows().len(), 18);
    for (row, step) in set.rows().iter().zip(&plan.steps) {
        assert_eq!((row.frets, row.deeds), (step.voicing.frets, step.deeds()));
        assert_eq!(row.known_by, KnownBy::Deed);
        assert_eq!((&*row.guitar, &*row.licence), ("mine", "CC0-1.0"));
    }
    let kinds: std::collections::BTreeSet<Deed> =
        set.rows().iter().flat_map(|row| row.deeds).collect();
    assert_eq!(kinds.len(), 5, "{kinds:?}");
    // Another command says the same of the same set.
    let again = run(
        &desk,
        &["--from", "all.wav", "--json", "--out", "trials/mine"],
    );
    let said = &again.json()[0];
    let scored = desk.run(&["trial", "score", "trials/mine", "--json"]);
    let scored = &scored.json()[0]["together"][0];
    assert_eq!(said["score"]["strings"], scored["strings"]);
    assert_eq!(said["score"]["deeds"], scored["deeds"]);
    assert_eq!((&said["kept"], &said["of"]), (&18.into(), &18.into()));
    // On composed strums of a guitar that the networks were trained on.
    let share = said["score"]["strings"]["share"].as_f64().expect("a share");
    assert!(share > 0.9, "{share}");
}

#[test]
fn what_was_learnt_is_used_wherever_the_guitar_is_named_until_it_is_forgotten() {
    let plan = plan();
    let desk = desk("one.wav", |tape| play(tape, &plan, 0..1));
    desk.recording("open.wav", &command::open_strings(&[0.0; 6]));
    // String 1 dies early; that it rings has a probability that is neither 0 nor 1.
    let choked = "fixtures/strums/133211-string-3-dead-string-1-choked.wav";
    let choked = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(choked);
    std::fs::copy(choked, desk.path("choked.wav")).unwrap();
    let guitar = ["--guitar", "mine", "--guitars", "guitars"];
    let with = |arguments: &[&str]| desk.run(&[arguments, &guitar[..]].concat());
    assert_eq!(with(&["soundcheck", "--from", "open.wav"]).status, 0);
    let check = ["check", "choked.wav", "--frets", "133211", "--json"];
    let rings = |take: &serde_json::Value| take["strings"][5]["rings"].as_f64().expect("a number");
    let checked = |run: Finished| rings(&run.json()[0]["takes"][0]);
    let built_in = checked(desk.run(&check));
    assert_eq!(checked(with(&check)), built_in);
    // As a trial keeps it.
    let profile = desk.path("guitars/mine.toml");
    let text = std::fs::read_to_string(&profile).unwrap();
    let more = "\n[learnt]\nrings = 3.0\nunwanted = 0.0\nbuzzes = 0.0\n";
    std::fs::write(&profile, format!("{text}{more}")).unwrap();
    let learnt = checked(with(&check));
    let logit = |p: f64| (p / (1.0 - p)).ln();
    assert!(
        (logit(learnt) - logit(built_in) - 3.0).abs() < 0.2,
        "{learnt} {built_in}"
    );
    // Heard as a stream it is the same.
    let listen = [
        "listen",
        "--from",
        "choked.wav",
        "--frets",
        "133211",
        "--json",
    ];
    let lines = with(&listen).json();
    let settled = lines.iter().rfind(|line| line["event"] == "settled");
    assert_eq!(rings(&settled.expect("a verdict")["take"]), learnt);
    // Sets are scored by it.
    let set = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/strums/guitarset");
    let score = ["trial", "score", set.to_str().unwrap(), "--json"];
    let right = |run: Finished| {
        run.json()[0]["sets"][0]["strings"]["part"]
            .as_u64()
            .expect("a number")
    };
    assert_ne!(right(desk.run(&score)), right(with(&score)));
    // A soundcheck made again keeps it, and forgetting takes it back.
    assert_eq!(with(&["soundcheck", "--from", "open.wav"]).status, 0);
    assert_eq!(checked(with(&check)), learnt);
    let forgotten = with(&["trial", "--forget"]);
    assert!(
        forgotten.out.contains("is forgotten"),
        "{}{}",
        forgotten.out,
        forgotten.err
    );
    assert_eq!(checked(with(&check)), built_in);
    assert_eq!(std::fs::read_to_string(&profile).unwrap(), text);
    let frets = plan.steps[0].voicing.frets.to_string();
    // A trial of one strum says so on the teacher's page, and teaches nothing.
    assert_eq!(run(&desk, &["--from", "one.wav"]).status, 0);
    let report = ["report", "one.wav", "--frets", &frets, "--out", "page.html"];
    assert!(with(&report).status < 2);
    let page = std::fs::read_to_string(desk.path("page.html")).unwrap();
    assert!(page.contains("in a trial in which the player did faults on purpose: Of 1 strums"));
}

#[test]
fn broken_off_it_goes_on_and_what_was_struck_twice_is_asked_again() {
    let plan = plan();
    let desk = desk("first.wav", |tape| {
        play(tape, &plan, 0..2);
        // Step 3 goes wrong, and is struck twice.
        tape.strum(&plan.steps[2].voicing.frets.to_string(), &[], 0.9);
        tape.strum(&plan.steps[2].voicing.frets.to_string(), &[], 1.4);
        tape.wait(1.5);
        play(tape, &plan, 2..5);
    });
    let done = run(&desk, &["--from", "first.wav"]);
    assert_eq!(done.status, 0, "{}{}", done.out, done.err);
    assert!(
        done.out.contains("Struck twice: thrown away."),
        "{}",
        done.out
    );
    assert!(
        done.out.contains("5 of 18 strums are kept."),
        "{}",
        done.out
    );
    let folder = desk.path("trials/mine");
    assert_eq!(Set::open(&folder).unwrap().rows().len(), 5);
    let mut tape = Tape::new();
    play(&mut tape, &plan, 5..18);
    desk.recording("rest.wav", &tape.samples);
    // What it was begun with stands in the folder, whatever options say now.
    let done = desk.run(&[
        "trial",
        "--guitar",
        "mine",
        "--guitars",
        "guitars",
        "--from",
        "rest.wav",
    ]);
    assert!(
        done.out.contains("5 of 18 strums are kept. --anew"),
        "{}",
        done.out
    );
    let set = Set::open(&folder).unwrap();
    assert_eq!(set.rows().len(), 18);
    for (row, step) in set.rows().iter().zip(&plan.steps) {
        assert_eq!((row.frets, row.deeds), (step.voicing.frets, step.deeds()));
    }
    // The next one is another.
    let next = run(&desk, &["--from", "first.wav"]);
    assert!(next.out.contains("mine-2"), "{}", next.out);
}

#[test]
fn the_plan_can_be_read_beforehand() {
    let desk = Desk::new();
    let written = run(&desk, &["--plan"]);
    assert_eq!(written.status, 0, "{}", written.err);
    let lines: Vec<&str> = written.out.lines().collect();
    assert_eq!(lines.len(), 18);
    assert!(
        lines[0].ends_with("play it clean. Every string as it should be."),
        "{}",
        lines[0]
    );
    assert!(!desk.path("trials").exists());
}

#[test]
fn what_makes_no_sense_is_said_and_nothing_is_begun() {
    let desk = desk("none.wav", |tape| tape.wait(2.0));
    for (arguments, said) in [
        (&["trial", "--plan"][..], "name the guitar"),
        (
            &["trial", "--out", "t", "--minutes", "4", "--plan"],
            "3, 5 or 10 minutes",
        ),
        (
            &["trial", "--out", "t", "--chords", "H", "--plan"],
            "\"H\" is not known",
        ),
        (
            &["trial", "--out", "t", "--faults", "kicked", "--plan"],
            "touched, lifted",
        ),
        (
            &["trial", "--guitar", "../mine", "--plan"],
            "cannot be a guitar's name",
        ),
        (&["trial", "--out", "t", "--from", "gone.wav"], "gone.wav"),
    ] {
        let run = desk.run(arguments);
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
    }
    assert!(!desk.path("t").exists());
    let silent = run(&desk, &["--from", "none.wav"]);
    assert_eq!(silent.status, 2);
    assert!(silent.err.contains("no strum was kept"), "{}", silent.err);
    // A set that no trial made is left alone.
    std::fs::create_dir(desk.path("other")).unwrap();
    Set::create(&desk.path("other/set")).unwrap();
    let other = desk.run(&["trial", "--out", "other/set", "--from", "none.wav"]);
    assert!(other.err.contains("no trial made"), "{}", other.err);
}

/// Kills where the environment (`TRIAL_KILLS`) does not say how many, drawn with a seed that it may say too (`KILLS_SEED`).
#[cfg(unix)]
const KILLS: usize = 20;
#[cfg(unix)]
const KILLS_SEED: u64 = 3;
/// Strums of the trial that is killed.
#[cfg(unix)]
const KILLED_OF: usize = 6;

#[cfg(unix)]
#[test]
fn a_kill_at_any_moment_loses_at_most_the_running_strum() {
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};
    use std::io::Read;
    use std::os::unix::process::ExitStatusExt;
    use std::process::{Command, Stdio};
    use std::time::Instant;

    let kills = std::env::var("TRIAL_KILLS").map_or(KILLS, |n| n.parse().expect("a number"));
    let plan = plan();
    let desk = desk("some.wav", |tape| play(tape, &plan, 0..KILLED_OF));
    let (seed, folder) = (SEED.to_string(), desk.path("t"));
    let arguments = [
        "trial",
        "--out",
        "t",
        "--minutes",
        "3",
        "--chords",
        CHORDS,
        "--faults",
        FAULTS,
        "--seed",
        &seed,
        "--from",
        "some.wav",
    ];
    let begun = Instant::now();
    assert_eq!(desk.run(&arguments).status, 0);
    let usual = begun.elapsed();
    assert_eq!(Set::open(&folder).unwrap().rows().len(), KILLED_OF);
    let drawn = std::env::var("KILLS_SEED").map_or(KILLS_SEED, |n| n.parse().expect("a number"));
    let mut rng = SmallRng::seed_from_u64(drawn);
    let (mut killed, mut tried, mut kept_then) = (0, 0, Vec::new());
    while killed < kills {
        tried += 1;
        assert!(tried < 20 * kills, "it ends before it is killed");
        let _ = std::fs::remove_dir_all(&folder);
        let mut child = Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
            .current_dir(desk.path(""))
            .env("XDG_DATA_HOME", desk.path("data"))
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(usual.mul_f64(rng.random_range(0.0..1.0)));
        let _ = child.kill();
        if child.wait().unwrap().signal() != Some(9) {
            continue;
        }
        killed += 1;
        let mut told = String::new();
        child
            .stdout
            .take()
            .unwrap()
            .read_to_string(&mut told)
            .unwrap();
        let told = told.lines().filter(|line| *line == "Kept.").count();
        let kept = match folder.join("truth.csv").exists() {
            true => {
                let set = Set::open(&folder);
                let set = set.unwrap_or_else(|refusals| panic!("{}", refusals[0]));
                for (row, step) in set.rows().iter().zip(&plan.steps) {
                    assert_eq!((row.frets, row.deeds), (step.voicing.frets, step.deeds()));
                }
                set.rows().len()
            }
            false => 0,
        };
        // What was said to be kept is there; the one more was kept and not said yet.
        assert!(
            (told..=told + 1).contains(&kept),
            "{kept} are kept, {told} were told"
        );
        kept_then.push(kept);
        // Whatever the kill left, the trial goes on.
        let goes_on = desk.run(&["trial", "--out", "t", "--plan"]);
        assert_eq!(goes_on.status, 0, "{}", goes_on.err);
    }
    println!("{killed} kills, with so many strums kept: {kept_then:?}");
    let Some(&kept) = kept_then.last() else {
        return;
    };
    let mut tape = Tape::new();
    play(&mut tape, &plan, kept..KILLED_OF);
    desk.recording("some.wav", &tape.samples);
    assert!(desk.run(&arguments).status < 2 || kept == KILLED_OF);
    assert_eq!(Set::open(&folder).unwrap().rows().len(), KILLED_OF);
}
