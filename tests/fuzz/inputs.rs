//! What holds for every input, whatever its bytes: a function for each kind of it. The fuzzer looks for
//! inputs for which it does not hold; `tests/library/fuzz_corpus.rs` replays those that are kept.

#[path = "../common/watchman.rs"]
pub mod watchman;

use std::collections::HashMap;
use std::fmt::Display;
use std::fs;
use std::path::Path;
use std::str::FromStr;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use ringtrue::audio::{AudioError, MIN_RATE_HZ, read_all};
use ringtrue::fretboard::{
    ChordName, Fingering, Frets, NoteName, STRINGS, Shape, Tuning, library, string_number,
};
use ringtrue::listening::saved;
use ringtrue::practice::diary::{Diary, Entry, Filter, exchange};
use ringtrue::practice::progress::ProgressGatherer;
use ringtrue::practice::{Lesson, Session};
use ringtrue::progression::{MOST_BARS, Progression, ProgressionError};
use ringtrue::report::json::Json;
use ringtrue::report::page::{self, PlayedTake};
use ringtrue::report::text::Text;
use ringtrue::report::{self, Form, progress_picture};
use ringtrue::strings::profile::Profiles;
use ringtrue::verdict::{ALL_STRINGS, StringVerdict, clean};
use tempfile::TempDir;
use watchman::watched;

/// The most of a recording that is read, in seconds: some formats say an hour of silence in a few bytes.
const MOST_S: f64 = 20.0;
/// The most that reading a recording may ask for in one piece, bytes. One second of eighteen channels at
/// 192 kHz waits for the mixer's decision: 14 MB; growing vectors double.
const MOST_BYTES_AT_ONCE: usize = 32 << 20;
/// Longest sentence of an error, in characters: the longest fixed text, 300, and two pieces quoted in it, each of 40
/// characters that are written out in up to 10.
const LONGEST_SENTENCE: usize = 1100;

/// A recording of any kind: finite sound at a usual rate, or a sentence.
pub fn decode(bytes: &[u8]) {
    let desk = Desk::with("take.wav", bytes);
    let path = desk.path("take.wav");
    let (read, largest) = watched(|| read_all(&path, MOST_S));
    assert!(largest < MOST_BYTES_AT_ONCE, "{largest} bytes at once");
    match read {
        Ok(recording) => {
            assert!(!recording.samples.is_empty());
            assert!(recording.samples.iter().all(|sample| sample.is_finite()));
            assert!((MIN_RATE_HZ..=50_000).contains(&recording.rate_hz));
            assert!(recording.health.peak.is_finite());
        }
        Err(AudioError::TooLong { .. }) => {}
        Err(error) => {
            assert!(error.to_string().contains("; "), "what to do: {error}");
            assert_eq!(error.path(), path);
        }
    }
}

/// A text as every kind of name that the command line and lessons take.
pub fn parse(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Some(note) = read::<NoteName>(text) {
        assert_eq!(read(&note.to_string()), Some(note));
    }
    if let Some(frets) = read::<Frets>(text) {
        assert_eq!(read(&frets.to_string()), Some(frets));
        assert!(frets.highest() <= Frets::HIGHEST);
        library::name_voicing(&frets, &Tuning::default());
    }
    if let Some(tuning) = read::<Tuning>(text) {
        assert!(tuning.open.iter().all(|m| Tuning::OPEN_RANGE.contains(m)));
    }
    if let Some(shape) = read::<Shape>(text) {
        assert_eq!(read(&shape.to_string()), Some(shape));
    }
    if let Some(Fingering(fingers)) = read(text) {
        assert!(fingers.iter().flatten().all(|f| (1..=4).contains(f)));
    }
    if let Some(chord) = read::<ChordName>(text) {
        assert_eq!(read(&chord.to_string()), Some(chord));
        assert!(chord.transposed(12).sounds_like(&chord));
        assert_eq!(chord.spell(chord.root.pitch_class()), chord.root);
    }
    match Progression::read(text) {
        Ok(progression) => {
            assert!((1..=MOST_BARS).contains(&progression.bars.len()));
            whole_bars(&progression, 4);
        }
        Err(error) => is_a_sentence(&error.to_string()),
    }
}

/// What the text means, if it means that; else the error is a sentence.
fn read<T: FromStr<Err: Display>>(text: &str) -> Option<T> {
    let read = text.parse::<T>();
    if let Err(error) = &read {
        is_a_sentence(&error.to_string());
    }
    read.ok()
}

/// Chords put to beats fill every bar that has a chord.
fn whole_bars(progression: &Progression, beats: u32) {
    match progression.placed(beats) {
        Ok(placed) => {
            let filled: u32 = placed.iter().map(|p| p.beats).sum();
            let bars = progression.bars.iter().filter(|b| !b.chords.is_empty());
            assert_eq!(filled, beats * bars.count() as u32);
        }
        Err(error) => assert!(matches!(error, ProgressionError::Crowded { .. })),
    }
}

/// One line that a terminal shows as it is.
fn is_a_sentence(text: &str) {
    assert!(!text.contains(char::is_control), "{text:?}");
    assert!(text.chars().count() <= LONGEST_SENTENCE, "{text:?}");
}

/// A lesson: one that can begin and be told of, or problems with their lines.
pub fn lesson(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    match Lesson::read(text) {
        Ok(lesson) => {
            assert!(!lesson.steps.is_empty());
            for step in &lesson.steps {
                assert!(step.limit_s.is_finite() && step.limit_s > 0.0);
                assert!(step.clean > 0);
            }
            let mut events = Vec::new();
            let mut session = Session::new(&lesson, 0);
            session.begin(0.0, &mut events);
            let mut out = Vec::new();
            report::practice::opening(&mut out, &lesson).expect("memory takes all");
            for event in &events {
                report::practice::event(&mut out, &lesson, event, false).expect("memory takes all");
            }
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            let lines = text.lines().count().max(1);
            for problem in problems {
                // What is missing at the end may be said of the line after it.
                assert!((1..=lines + 1).contains(&problem.line), "{problem}");
                is_a_sentence(&problem.to_string());
            }
        }
    }
}

/// A guitar's profile: one that a soundcheck could have written, or an error.
pub fn profile(bytes: &[u8]) {
    let desk = Desk::with("guitar.toml", bytes);
    let profiles = Profiles::new(&desk.path(""));
    match profiles.load("guitar") {
        Ok(profile) => {
            let open = profile.open.iter();
            assert!(open.clone().all(|midi| Tuning::OPEN_RANGE.contains(midi)));
            let tuning = Tuning {
                open: profile.open,
                ..Tuning::default()
            };
            let tuning = tuning.with_capo(profile.capo).expect("a capo on the neck");
            tuning.with_a4_hz(profile.a4_hz).expect("a usual A4");
            assert!(profile.delay_s.is_none_or(f64::is_finite));
            assert!(profile.floor_dbfs.is_finite());
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

/// Takes for the diary: kept, read, written and summed up, or an error.
pub fn import(bytes: &[u8]) {
    let desk = Desk::with("takes.jsonl", bytes);
    let entries = match taken_in(&desk.path("takes.jsonl")) {
        Ok(entries) if entries.is_empty() => return,
        Ok(entries) => entries,
        Err(why) => return assert!(!why.is_empty()),
    };
    for entry in &entries {
        of_these_frets(&entry.frets, &entry.strings);
    }
    let mut lines = Vec::new();
    for entry in &entries {
        exchange::write_json(&mut lines, entry).expect("memory takes all");
    }
    fs::write(desk.path("again.jsonl"), lines).expect("a file");
    let again = taken_in(&desk.path("again.jsonl"));
    assert_eq!(again.as_ref(), Ok(&entries), "what is written is read back");

    let mut diary = Diary::open(&desk.path("diary.sqlite")).expect("a new diary");
    diary.keep_all(&entries).expect("takes that were read");
    let kept = diary.entries(&Filter::default()).expect("takes kept");
    // The diary rounds moments to the millisecond, and causes and warnings are words to it.
    let told = |e: &Entry| (e.frets, e.strings, e.chord.clone(), e.clean);
    let entries: Vec<_> = entries.iter().map(told).collect();
    assert!(kept.iter().all(|entry| entries.contains(&told(entry))));
    let mut table = report::csv::takes(Vec::new()).expect("memory takes all");
    for entry in &kept {
        let row = report::csv::take(entry);
        table.row(row).expect("memory takes all");
    }
    table.end().expect("memory takes all");
    let mut out = Vec::new();
    // A day after the year of the made-up takes; all zones sum up alike.
    let now: Timestamp = "2026-11-25T18:00:00Z".parse().expect("a moment");
    let mut gatherer = ProgressGatherer::new(now, TimeZone::UTC);
    let all = diary.scan(&Filter::default(), |row| gatherer.add(row));
    all.expect("takes kept");
    let progress = gatherer.report();
    report::progress::write(&mut out, &progress).expect("memory takes all");
    progress_picture::draw(&progress, 1000);
}

/// The takes of a file, or what is wrong with it.
fn taken_in(file: &Path) -> Result<Vec<Entry>, String> {
    let mut entries = Vec::new();
    let read = exchange::read(file, &mut |entry| {
        entries.push(entry.clone());
        Ok(())
    });
    read.map(|()| entries).map_err(|error| error.to_string())
}

/// What was saved beside a recording: shown in every form, or an error.
pub fn saved(bytes: &[u8]) {
    let desk = Desk::with("take.json", bytes);
    let saved = match saved::read(&desk.path("take.json")) {
        Ok(saved) => saved,
        Err(error) => return assert!(!format!("{error:#}").is_empty()),
    };
    for take in &saved.takes {
        of_these_frets(&take.frets, &take.strings);
    }
    let plain = report::text::Look {
        colour: false,
        left: false,
    };
    let mut forms: [Box<dyn Form>; 2] = [
        Box::new(Json::default()),
        Box::new(Text::new(plain, Tuning::default(), 1)),
    ];
    let mut out = Vec::new();
    for form in &mut forms {
        form.begin(Path::new("take.wav"));
        for take in &saved.takes {
            form.take(&mut out, take.take()).expect("memory takes all");
        }
        form.end(&mut out, None).expect("memory takes all");
        form.summary(&mut out).expect("memory takes all");
    }
    let played: Vec<PlayedTake> = (saved.takes.iter())
        .map(|take| PlayedTake {
            when: saved.recorded_at.map(|moment| moment.on_the_wall),
            guitar: saved.guitar.clone(),
            name: "take.wav".to_owned(),
            clean: clean(&take.take(), &ALL_STRINGS),
            take: take.take(),
            why_not: take.warnings.last().map(|warning| warning.text.clone()),
            kept: None,
            sound: None,
        })
        .collect();
    let mut gatherer = page::SummaryGatherer::default();
    played.into_iter().for_each(|take| gatherer.add(take));
    let (summary, named) = gatherer.finish();
    report::csv::summary(&mut out, &summary).expect("memory takes all");
    let html = page::html(&page::Head::default(), &named, &summary, &HashMap::new());
    assert!(html.trim_end().ends_with("</html>"));
}

/// The verdicts are on strings 6 to 1, each on what the frets ask of it.
fn of_these_frets(frets: &Frets, strings: &[StringVerdict; STRINGS]) {
    for (index, string) in strings.iter().enumerate() {
        assert_eq!(string.string, string_number(index));
        assert_eq!(string.expected_fret, frets.0[index]);
        assert!(string.rings.is_finite() && string.confidence.is_finite());
        assert!(string.cents.is_none_or(f32::is_finite));
    }
}

/// A folder that goes away, with one file in it.
struct Desk(TempDir);

impl Desk {
    fn with(name: &str, bytes: &[u8]) -> Desk {
        let desk = Desk(TempDir::new().expect("a temporary folder"));
        fs::write(desk.path(name), bytes).expect("a file");
        desk
    }

    fn path(&self, name: &str) -> std::path::PathBuf {
        self.0.path().join(name)
    }
}
