//! The program killed while it writes: what an earlier run left must be whole afterwards, and a later run
//! must come to its end. Takes minutes; `scripts/kills` starts it.
#![cfg(unix)]

use crate::common::command;
use crate::common::playing;
use crate::common::song;
use crate::common::tape;

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use command::Desk;
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::{read_all, write_wav};
use ringtrue::listening::saved;
use ringtrue::practice::diary::{Diary, Entry, Filter};
use ringtrue::synth::notes::NOTE_RATE_HZ;
use song::{BAR_S, COUNT_IN_S, SONG};
use tape::Tape;

/// Kills where the environment (`KILLS`) does not say how many; `KILLS_OF` says of which command alone.
const KILLS: usize = 500;
/// The folder that all commands write into.
const OUT: &str = "out";
/// How long after the first sign of writing the kill may come: most files are written in less.
const WRITING: Duration = Duration::from_millis(3);

/// What must hold of the folder after a kill.
#[derive(Clone, Copy)]
enum KillRule {
    /// Each file is what it was before, or what it would have become.
    OldOrNew,
    /// What was there is as it was, and what is new is whole.
    Added,
    /// The diary holds what it held, besides perhaps some of what it would have come to hold.
    DiaryGrows,
    /// The diary holds what it held or what it would have come to hold, nothing between.
    DiaryOldOrNew,
}

/// A command that writes.
struct Work {
    name: &'static str,
    /// What was there before: made by these commands.
    before: Vec<Vec<&'static str>>,
    /// The one that is killed.
    killed: Vec<&'static str>,
    rule: KillRule,
}

fn works() -> Vec<Work> {
    let words = |line: &'static str| -> Vec<&'static str> { line.split(' ').collect() };
    let work = |name, before: &[&'static str], killed, rule| Work {
        name,
        before: before.iter().map(|line| words(line)).collect(),
        killed: words(killed),
        rule,
    };
    let along = |line| [&words(line)[..], &SONG].concat();
    vec![
        work(
            "demo",
            &["demo --chord Bb --out out/a.wav"],
            "demo --chord Bb --out out/a.wav --seed 1",
            KillRule::OldOrNew,
        ),
        work(
            "backing",
            &["backing G --out out/a.wav --midi out/a.mid"],
            "backing Am --out out/a.wav --midi out/a.mid --loops 8",
            KillRule::OldOrNew,
        ),
        work(
            "plot, PNG",
            &["plot take.wav --chord Bb --out out/a.png"],
            "plot take.wav --chord Bb --out out/a.png --width 3000",
            KillRule::OldOrNew,
        ),
        work(
            "plot, SVG",
            &["plot take.wav --chord Bb --out out/a.svg"],
            "plot take.wav --chord Bb --out out/a.svg --width 3000",
            KillRule::OldOrNew,
        ),
        work(
            "report",
            &["report take.wav --chord Bb --out out/a.html"],
            "report take.wav --chord Bb --out out/a.html --title Another",
            KillRule::OldOrNew,
        ),
        work(
            "soundcheck",
            &["soundcheck --from open.wav --guitar mine --guitars out"],
            "soundcheck --from open.wav --guitar mine --guitars out --a4 441",
            KillRule::OldOrNew,
        ),
        work(
            "progress --picture",
            &["progress --diary old.sqlite --picture out/a.svg"],
            "progress --diary both.sqlite --picture out/a.svg",
            KillRule::OldOrNew,
        ),
        work(
            "progress --import",
            &["progress --diary out/d.sqlite --import old.jsonl"],
            "progress --diary out/d.sqlite --import new.jsonl",
            KillRule::DiaryOldOrNew,
        ),
        work(
            "progress --forget",
            &[
                "practice lesson.toml --from evening.wav --diary out/d.sqlite --save --recorded-at 2026-11-01T18:00:00Z",
            ],
            "progress --diary out/d.sqlite --forget --yes",
            KillRule::DiaryOldOrNew,
        ),
        work(
            "listen --save",
            &["listen --from take.wav --chord Bb --save out"],
            "listen --from evening.wav --frets 320003 --save out",
            KillRule::Added,
        ),
        work(
            "practice",
            &[
                "practice lesson.toml --from evening.wav --diary out/d.sqlite --save --recorded-at 2026-11-01T18:00:00Z",
            ],
            "practice lesson.toml --from evening.wav --diary out/d.sqlite --save --recorded-at 2026-11-02T18:00:00Z",
            KillRule::DiaryGrows,
        ),
        Work {
            name: "play",
            before: vec![along(
                "play --from along.wav --diary out/d.sqlite --recorded-at 2026-11-01T18:00:00Z",
            )],
            killed: along(
                "play --from along.wav --diary out/d.sqlite --recorded-at 2026-11-02T18:00:00Z",
            ),
            rule: KillRule::DiaryGrows,
        },
    ]
}

/// A desk with all that the commands read.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.recording("take.wav", &command::bb());
    let lesson = "title = \"Evening\"\n[[step]]\nkind = \"place\"\nchord = \"G\"\nclean = 99\n";
    fs::write(desk.path("lesson.toml"), lesson).unwrap();
    let mut tape = Tape::new();
    for _ in 0..4 {
        tape.play("320003", &[]);
    }
    desk.recording("evening.wav", &tape.samples);
    desk.recording("open.wav", &command::open_strings(&[0.0; 6]));
    let length_s = 0.5 + COUNT_IN_S + 8.0 * BAR_S + 1.0;
    let (strikes, manner) = (song::strikes(0.5), playing::PlayingStyle::usual());
    let mut rng = SmallRng::seed_from_u64(5);
    let (samples, _) = playing::play(song::guitar(), &strikes, &manner, length_s, &mut rng);
    write_wav(&desk.path("along.wav"), NOTE_RATE_HZ, &samples).unwrap();
    let practise = |diary: &str, day: &str| {
        let at = format!("2026-11-{day}T18:00:00Z");
        desk.succeeds(&[
            "practice",
            "lesson.toml",
            "--from",
            "evening.wav",
            "--diary",
            diary,
            "--recorded-at",
            &at,
        ]);
    };
    practise("old.sqlite", "01");
    practise("new.sqlite", "02");
    for day in ["01", "02"] {
        practise("both.sqlite", day);
    }
    for name in ["old", "new"] {
        let diary = format!("{name}.sqlite");
        let run = desk.run(&["progress", "--diary", &diary, "--json"]);
        fs::write(desk.path(&format!("{name}.jsonl")), run.out).unwrap();
    }
    desk
}

/// Files by their paths within a folder.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn files(folder: &Path) -> Files {
    let mut files = Files::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if let Ok(bytes) = fs::read(&path) {
                files.insert(path.strip_prefix(folder).unwrap().to_owned(), bytes);
            }
        }
    }
    files
}

fn put_back(folder: &Path, before: &Files) {
    let _ = fs::remove_dir_all(folder);
    fs::create_dir_all(folder).unwrap();
    for (path, bytes) in before {
        let path = folder.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// What tells that something was written in a folder: names, sizes, times.
fn signs(folder: &Path) -> Vec<(PathBuf, u64, Option<std::time::SystemTime>)> {
    let mut signs = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).into_iter().flatten().flatten() {
            let Ok(about) = entry.metadata() else {
                continue;
            };
            if about.is_dir() {
                folders.push(entry.path());
            }
            signs.push((entry.path(), about.len(), about.modified().ok()));
        }
    }
    signs.sort();
    signs
}

/// The takes of the diary in a folder, in order; what was kept of their sound apart.
fn takes(folder: &Path) -> Result<Vec<Entry>, String> {
    let diary = Diary::open_existing(&folder.join("d.sqlite")).map_err(|e| e.to_string())?;
    let mut entries = diary
        .entries(&Filter::default())
        .map_err(|e| e.to_string())?;
    for entry in &mut entries {
        if let Some(name) = entry.sound.take() {
            let sound = diary.sounds().join(name);
            let read = read_all(&sound, 100.0).map_err(|e| e.to_string())?;
            if read.health.cut_off {
                return Err(format!("{}: breaks off", sound.display()));
            }
        }
    }
    Ok(entries)
}

/// The folder as it was before, and what it comes to where nothing is killed.
struct Known {
    before: Files,
    after: Files,
    takes_before: Vec<Entry>,
    takes_after: Vec<Entry>,
}

/// What is wrong with the folder after a kill, if something is.
fn wrong(rule: KillRule, folder: &Path, known: &Known) -> Result<(), String> {
    let now = files(folder);
    let same = |path: &Path, of: &Files| of.get(path) == now.get(path);
    let kept = |path: &Path| match same(path, &known.before) {
        true => Ok(()),
        false => Err(format!("{}: is not as it was", path.display())),
    };
    match rule {
        KillRule::OldOrNew => {
            for path in known.before.keys() {
                if !same(path, &known.after) {
                    kept(path)?;
                }
            }
        }
        KillRule::Added => {
            for path in known.before.keys() {
                kept(path)?;
            }
            for path in now.keys().filter(|path| !known.before.contains_key(*path)) {
                let whole = folder.join(path);
                match path.extension().and_then(|e| e.to_str()) {
                    Some("json") => drop(saved::read(&whole).map_err(|e| format!("{e:#}"))?),
                    Some("wav") => {
                        let read = read_all(&whole, 100.0).map_err(|e| e.to_string())?;
                        if read.health.cut_off {
                            return Err(format!("{}: breaks off", path.display()));
                        }
                    }
                    _ => {}
                }
            }
        }
        KillRule::DiaryGrows | KillRule::DiaryOldOrNew => {
            let takes = takes(folder)?;
            let lost = known.takes_before.iter().any(|take| !takes.contains(take));
            let foreign = takes.iter().any(|take| {
                !known.takes_before.contains(take) && !known.takes_after.contains(take)
            });
            let between = takes != known.takes_before && takes != known.takes_after;
            let (grows, told) = (matches!(rule, KillRule::DiaryGrows), takes.len());
            if foreign || grows && lost || !grows && between {
                return Err(format!(
                    "{told} takes: {} were there, {} were to be",
                    known.takes_before.len(),
                    known.takes_after.len()
                ));
            }
            // Sounds of takes that were there.
            for path in known
                .before
                .keys()
                .filter(|p| grows && p.extension().is_some_and(|e| e == "wav"))
            {
                kept(path)?;
            }
        }
    }
    Ok(())
}

fn run(desk: &Desk, arguments: &[&str]) {
    let run = desk.run(arguments);
    // 1: strings were heard that are not as they should be.
    assert!(run.status < 2, "{arguments:?}: {}", run.err);
}

/// Starts the command and kills it; false where it had ended by itself.
fn kill(desk: &Desk, work: &Work, usual: Duration, on_writing: bool, rng: &mut SmallRng) -> bool {
    let folder = desk.path(OUT);
    let before = signs(&folder);
    let mut child = Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
        .current_dir(desk.path(""))
        .env("XDG_DATA_HOME", desk.path("data"))
        .args(&work.killed)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let wait = if on_writing {
        while signs(&folder) == before && child.try_wait().unwrap().is_none() {
            std::thread::yield_now();
        }
        WRITING
    } else {
        usual
    };
    sleep(wait.mul_f64(rng.random_range(0.0..1.0)));
    let _ = child.kill();
    child.wait().unwrap().signal() == Some(9)
}

#[test]
#[ignore = "takes minutes; scripts/kills starts it"]
fn what_was_there_is_whole_after_a_kill() {
    let kills = std::env::var("KILLS").map_or(KILLS, |n| n.parse().expect("KILLS is a number"));
    let of = std::env::var("KILLS_OF").unwrap_or_default();
    let mut works = works();
    works.retain(|work| work.name.starts_with(&of));
    let desk = desk();
    let folder = desk.path(OUT);
    let mut rng = SmallRng::seed_from_u64(1);
    let mut all_wrong = 0;
    for (index, work) in works.iter().enumerate() {
        put_back(&folder, &Files::new());
        work.before
            .iter()
            .for_each(|arguments| run(&desk, arguments));
        let before = files(&folder);
        let is_diary = matches!(work.rule, KillRule::DiaryGrows | KillRule::DiaryOldOrNew);
        let now = || {
            if is_diary {
                takes(&folder).unwrap()
            } else {
                Vec::new()
            }
        };
        let takes_before = now();
        let begun = Instant::now();
        run(&desk, &work.killed);
        let usual = begun.elapsed();
        let known = Known {
            takes_before,
            takes_after: now(),
            after: files(&folder),
            before,
        };
        assert_ne!(known.before, known.after, "{} writes", work.name);
        let wanted = kills / works.len() + usize::from(index < kills % works.len());
        let (mut killed, mut tried, mut faults) = (0, 0, Vec::new());
        while killed < wanted {
            put_back(&folder, &known.before);
            tried += 1;
            assert!(
                tried < 20 * wanted,
                "{} ends before it is killed",
                work.name
            );
            if !kill(&desk, work, usual, tried % 2 == 1, &mut rng) {
                continue;
            }
            killed += 1;
            faults.extend(wrong(work.rule, &folder, &known).err());
            // Whatever the kill left, the command does its work the next time.
            run(&desk, &work.killed);
            if matches!(work.rule, KillRule::OldOrNew) {
                let now = files(&folder);
                let done = |path: &PathBuf| now.get(path) == known.after.get(path);
                assert!(known.after.keys().all(done), "{}: not done anew", work.name);
            } else if is_diary {
                assert_eq!(
                    takes(&folder).as_ref(),
                    Ok(&known.takes_after),
                    "{}",
                    work.name
                );
            }
        }
        println!(
            "{}: {killed} kills, {} with something not whole",
            work.name,
            faults.len()
        );
        if let Some(first) = faults.first() {
            println!("    the first: {first}");
        }
        all_wrong += faults.len();
    }
    assert_eq!(all_wrong, 0, "kills left something that is not whole");
}
