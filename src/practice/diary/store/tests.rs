use super::*;
use crate::fretboard::Tuning;
use crate::practice::diary::{Correction, DiaryKeeper, KeptIn};
use crate::verdict::examples::{bb, with};
use crate::verdict::{Advice, Cause, Verdict};

fn at(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(1_760_000_000_000 + ms).unwrap()
}

fn entry(ms: i64) -> Entry {
    let mut take = with(bb(), 3, Verdict::Muted, 0.75);
    take.advice.push(Advice {
        cause: Cause::BarreSlack,
        strings: vec![3],
        what: "…".into(),
        try_first: "…".into(),
    });
    Entry {
        guitar: Some("the brown one".into()),
        lesson: Some("First barre".into()),
        began: Some(at(0)),
        step: Some(2),
        exercise: Some("switch".into()),
        from: Some("133211".parse().unwrap()),
        gap_s: Some(0.75),
        ..Entry::of(&take, at(ms), &Tuning::default())
    }
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn what_is_kept_is_read_back_whole() {
    let folder = folder();
    let path = folder.path().join("deeper/still/diary.sqlite");
    let kept = entry(5);
    assert_eq!(kept.shape.as_deref(), Some("A shape"));
    assert_eq!(kept.fret, Some(1));
    assert_eq!(kept.clean, Some(false));
    assert_eq!(kept.causes, ["barre-slack"]);
    assert_eq!(kept.model, crate::layers::trained::mark());
    let diary = Diary::open(&path).unwrap();
    assert!(diary.keep(&kept).unwrap().is_some());
    drop(diary);
    let diary = Diary::open_existing(&path).unwrap();
    assert_eq!(
        diary.entries(&Filter::default()).unwrap(),
        std::slice::from_ref(&kept)
    );
    let mut seen = 0;
    diary
        .scan(&Filter::default(), |row| {
            seen += 1;
            assert_eq!(row.frets, "x13331");
            assert_eq!(row.from, Some("133211"));
            assert_eq!(row.clean, Some(false));
            assert_eq!(row.verdicts[3], Verdict::Muted);
            let (frets, from) = (kept.frets.to_string(), kept.from.map(|f| f.to_string()));
            assert_eq!(*row, DiaryRow::of(&kept, &frets, from.as_deref()));
        })
        .unwrap();
    assert_eq!(seen, 1);
    let line = serde_json::to_string(&kept).unwrap();
    assert_eq!(serde_json::from_str::<Entry>(&line).unwrap(), kept);
}

#[test]
fn what_is_no_number_does_not_keep_a_take_from_being_read_back() {
    let mut take = bb();
    take.tuning_cents = f32::NAN;
    take.strings[1].rings = f32::INFINITY;
    take.strings[1].cents = Some(f32::NAN);
    let entry = Entry::of(&take, at(1), &Tuning::default());
    let line = serde_json::to_string(&entry).unwrap();
    assert_eq!(serde_json::from_str::<Entry>(&line).unwrap(), entry);
}

#[test]
fn a_take_is_kept_once() {
    let folder = folder();
    let mut diary = Diary::open(&folder.path().join("d")).unwrap();
    assert!(diary.keep(&entry(1)).unwrap().is_some());
    assert!(diary.keep(&entry(1)).unwrap().is_none());
    assert_eq!(diary.keep_all(&[entry(1), entry(2)]).unwrap(), 1);
    assert_eq!(diary.count(&Filter::default()).unwrap(), 2);
}

#[test]
fn a_filter_narrows_what_is_counted_and_forgotten() {
    let folder = folder();
    let mut diary = Diary::open(&folder.path().join("d")).unwrap();
    let mut other = entry(30);
    other.chord = Some("Bbm".into());
    other.guitar = None;
    diary.keep_all(&[entry(10), entry(20), other]).unwrap();
    let count = |diary: &Diary, filter: &Filter| diary.count(filter).unwrap();
    let since = Filter {
        since: Some(at(20)),
        ..Filter::default()
    };
    let before = Filter {
        before: Some(at(20)),
        ..Filter::default()
    };
    let chord = Filter {
        chord: Some("Bb".into()),
        ..Filter::default()
    };
    let guitar = Filter {
        guitar: Some("the brown one".into()),
        since: Some(at(20)),
        ..Filter::default()
    };
    assert_eq!(
        [&since, &before, &chord, &guitar].map(|f| count(&diary, f)),
        [2, 1, 2, 1]
    );
    assert_eq!(diary.forget(&chord).unwrap(), 2);
    assert_eq!(count(&diary, &Filter::default()), 1);
    assert_eq!(diary.forget(&Filter::default()).unwrap(), 1);
}

#[test]
fn what_is_forgotten_is_gone_from_the_disk() {
    let folder = folder();
    let path = folder.path().join("d.sqlite");
    let mut diary = Diary::open(&path).unwrap();
    let mut secret = entry(1);
    secret.guitar = Some("a-guitar-nobody-may-know".into());
    secret.sound = Some("one.wav".into());
    diary.keep(&secret).unwrap();
    std::fs::create_dir_all(diary.sounds()).unwrap();
    std::fs::write(diary.sounds().join("one.wav"), "sound").unwrap();
    assert_eq!(diary.forget(&Filter::default()).unwrap(), 1);
    assert!(!diary.sounds().join("one.wav").exists());
    drop(diary);
    for file in std::fs::read_dir(folder.path()).unwrap() {
        let file = file.unwrap().path();
        if file.is_file() {
            let bytes = std::fs::read(&file).unwrap();
            assert!(
                !bytes.windows(24).any(|w| w == b"a-guitar-nobody-may-know"),
                "{file:?}"
            );
        }
    }
}

#[test]
fn forgetting_never_reaches_outside_the_folder_of_sounds() {
    let folder = folder();
    let mut diary = Diary::open(&folder.path().join("d.sqlite")).unwrap();
    let outside = folder.path().join("letter.txt");
    std::fs::write(&outside, "mine").unwrap();
    let mut entry = entry(1);
    entry.sound = Some("../letter.txt".into());
    diary.keep(&entry).unwrap();
    std::fs::create_dir_all(diary.sounds()).unwrap();
    diary.forget(&Filter::default()).unwrap();
    assert!(outside.exists());
}

#[test]
fn another_kind_of_file_is_left_as_it_is() {
    let folder = folder();
    let text = folder.path().join("text");
    std::fs::write(&text, "Dear diary, ".repeat(200)).unwrap();
    let before = std::fs::read(&text).unwrap();
    assert!(matches!(
        Diary::open(&text),
        Err(DiaryError::NoDiary { .. })
    ));
    assert_eq!(std::fs::read(&text).unwrap(), before);
    let foreign = folder.path().join("foreign");
    Connection::open(&foreign)
        .unwrap()
        .execute_batch("CREATE TABLE letters (x)")
        .unwrap();
    assert!(matches!(
        Diary::open(&foreign),
        Err(DiaryError::NoDiary { .. })
    ));
}

#[test]
fn a_diary_of_the_first_form_is_brought_up_to_date_with_what_it_holds() {
    let folder = folder();
    let path = folder.path().join("d");
    let mut old = Connection::open(&path).unwrap();
    schema::migrate(&mut old, &schema::migrations()[..1]).unwrap();
    old.execute(
        "INSERT INTO take (at_ms, frets, clean, exercise, chord, manner, warnings, causes, program, model,
            verdict_6, verdict_5, verdict_4, verdict_3, verdict_2, verdict_1)
         VALUES (1760000000000, 'x13331', 1, 'hold', 'Bb', 'strummed', '', '', '0.1.0', 'm',
            'silent', 'clean', 'clean', 'clean', 'clean', 'clean')",
        [],
    )
    .unwrap();
    drop(old);
    // It cannot be read without being rewritten.
    let diary = Diary::open_existing(&path).unwrap();
    assert_eq!(schema::form(&diary.connection).unwrap(), 3);
    let mut timed = entry(5);
    (timed.off_ms, timed.tempo_bpm) = (Some(-12.5), Some(72.0));
    diary.keep(&timed).unwrap();
    let entries = diary.entries(&Filter::default()).unwrap();
    assert_eq!(entries[0].chord.as_deref(), Some("Bb"));
    assert_eq!((entries[0].clean, entries[0].off_ms), (Some(true), None));
    assert_eq!(entries[1], timed);
}

#[test]
fn what_the_player_said_is_kept_beside_what_was_heard_and_goes_out_and_in() {
    let folder = folder();
    let diary = Diary::open(&folder.path().join("d")).unwrap();
    let mut wrong = entry(1);
    wrong.strings[3].verdict = Verdict::Muted;
    wrong.clean = Some(false);
    let number = diary.keep(&wrong).unwrap().unwrap();
    diary.keep(&entry(2)).unwrap();
    let said = Correction::Right(vec![3]);
    assert!(diary.put_right(number, Some(&said)).unwrap());
    assert!(!diary.put_right(number + 100, Some(&said)).unwrap());
    let latest = diary.latest(10).unwrap();
    assert_eq!(latest.len(), 2);
    assert_eq!(latest[1].0, number);
    let kept = &latest[1].1;
    assert_eq!(kept.said, Some(said));
    assert_eq!(kept.strings[3].verdict, Verdict::Muted);
    let line = serde_json::to_string(kept).unwrap();
    assert_eq!(Entry::from_json(&line).unwrap(), *kept);
    assert!(Entry::from_json(&line.replace("[3]", "[9]")).is_err());
    // Lines of before say nothing of it.
    let before = serde_json::to_string(&latest[0].1).unwrap();
    assert!(!before.contains("said"), "{before}");
    let mut rows = Vec::new();
    let see = |row: &DiaryRow| rows.push((row.clean, row.verdicts[3], row.put_right, row.counts));
    diary.scan(&Filter::default(), see).unwrap();
    assert_eq!(rows[0], (Some(true), Verdict::Clean, true, true));
    diary.put_right(number, Some(&Correction::Forget)).unwrap();
    let mut counts = Vec::new();
    diary
        .scan(&Filter::default(), |row| counts.push(row.counts))
        .unwrap();
    assert_eq!(counts, [false, true]);
    diary.put_right(number, None).unwrap();
    assert_eq!(diary.latest(2).unwrap()[1].1.said, None);
}

#[test]
fn what_was_preliminary_gives_way_to_what_was_judged() {
    let folder = folder();
    let path = folder.path().join("d");
    let mut keeper = DiaryKeeper::new(Diary::open(&path), vec![]);
    keeper.keep(&entry(1));
    let preliminary = [2, 3].map(|ms| keeper.keep(&entry(ms)));
    // One of them at the very millisecond of before.
    let kept = keeper.replace(&preliminary, &[entry(2), entry(4), entry(1)]);
    assert!(matches!(
        kept[..],
        [KeptIn::Diary(_), KeptIn::Diary(_), KeptIn::Before]
    ));
    drop(keeper);
    let entries = Diary::open(&path)
        .unwrap()
        .entries(&Filter::default())
        .unwrap();
    assert_eq!(entries, [entry(1), entry(2), entry(4)]);
    let nowhere = Err(DiaryError::ReadOnly { path: "d".into() });
    let mut keeper = DiaryKeeper::new(nowhere, vec![folder.path().to_owned()]);
    keeper.keep(&entry(1));
    let preliminary = [2, 3].map(|ms| keeper.keep(&entry(ms)));
    keeper.replace(&preliminary, &[entry(4)]);
    let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
    assert_eq!(text.lines().collect::<Vec<_>>(), keeper.lines());
    assert_eq!(keeper.lines().len(), 2);
}

#[test]
fn a_newer_diary_is_left_as_it_is() {
    let folder = folder();
    let path = folder.path().join("d");
    let diary = Diary::open(&path).unwrap();
    diary.keep(&entry(1)).unwrap();
    diary
        .connection
        .pragma_update(None, "user_version", 99)
        .unwrap();
    drop(diary);
    let error = Diary::open(&path).unwrap_err();
    assert!(
        matches!(error, DiaryError::Newer { found: 99, .. }),
        "{error}"
    );
    assert!(error.to_string().contains("newer ringtrue"), "{error}");
}

#[test]
fn a_damaged_diary_says_so() {
    let folder = folder();
    let path = folder.path().join("d");
    let mut diary = Diary::open(&path).unwrap();
    diary
        .keep_all(&(0..300).map(entry).collect::<Vec<_>>())
        .unwrap();
    diary
        .connection
        .execute_batch("PRAGMA wal_checkpoint(TRUNCATE)")
        .unwrap();
    drop(diary);
    let mut bytes = std::fs::read(&path).unwrap();
    let length = bytes.len();
    for byte in &mut bytes[4096 * 3..length - 4096] {
        *byte = 0xa5;
    }
    std::fs::write(&path, &bytes).unwrap();
    let outcome = Diary::open(&path).and_then(|diary| diary.entries(&Filter::default()));
    assert!(
        matches!(outcome, Err(DiaryError::Damaged { .. })),
        "{outcome:?}"
    );
    // Cut short.
    std::fs::write(&path, &bytes[..3000]).unwrap();
    let outcome = Diary::open(&path).and_then(|diary| diary.entries(&Filter::default()));
    assert!(
        matches!(
            outcome,
            Err(DiaryError::Damaged { .. } | DiaryError::NoDiary { .. })
        ),
        "{outcome:?}"
    );
}

#[test]
fn practice_goes_on_when_the_disk_is_full_and_nothing_is_lost() {
    let folder = folder();
    let diary = Diary::open(&folder.path().join("d")).unwrap();
    diary.keep(&entry(0)).unwrap();
    // No page more than there are: what a full disk answers.
    let pages: i64 = diary
        .connection
        .pragma_query_value(None, "page_count", |row| row.get(0))
        .unwrap();
    diary
        .connection
        .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
        .unwrap();
    let mut keeper = DiaryKeeper::new(Ok(diary), vec![folder.path().to_owned()]);
    let kept: Vec<KeptIn> = (1..200).map(|i| keeper.keep(&entry(i))).collect();
    assert!(
        matches!(keeper.trouble(), Some(DiaryError::Full { .. })),
        "{:?}",
        keeper.trouble()
    );
    let diary = Diary::open(&folder.path().join("d")).unwrap();
    let stored = diary.entries(&Filter::default()).unwrap();
    let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
    let lines: Vec<Entry> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert!(!lines.is_empty());
    assert_eq!(stored.len() + lines.len(), 200);
    assert_eq!(
        kept.iter().filter(|k| matches!(k, KeptIn::Line(_))).count(),
        lines.len()
    );
    // Taken in later, all are there.
    let mut diary = diary;
    assert_eq!(diary.keep_all(&lines).unwrap(), lines.len());
    assert_eq!(diary.count(&Filter::default()).unwrap(), 200);
}

#[test]
fn without_a_diary_takes_become_lines_in_the_first_folder_that_takes_them() {
    let folder = folder();
    let missing = folder.path().join("not there");
    let diary = Err(DiaryError::ReadOnly { path: "d".into() });
    let mut keeper = DiaryKeeper::new(diary, vec![missing, folder.path().to_owned()]);
    keeper.keep(&entry(1));
    let last = keeper.keep(&entry(2));
    keeper.remove(last);
    keeper.keep(&entry(3));
    assert_eq!(keeper.lines().len(), 2);
    let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
    assert_eq!(text.lines().collect::<Vec<_>>(), keeper.lines());
    let mut nowhere = DiaryKeeper::new(Err(DiaryError::ReadOnly { path: "d".into() }), vec![]);
    nowhere.keep(&entry(1));
    assert_eq!((nowhere.file(), nowhere.lines().len()), (None, 1));
}

#[test]
fn a_withdrawn_take_leaves_the_diary() {
    let folder = folder();
    let mut keeper = DiaryKeeper::new(Diary::open(&folder.path().join("d")), vec![]);
    keeper.keep(&entry(1));
    let second = keeper.keep(&entry(2));
    keeper.remove(second);
    drop(keeper);
    let diary = Diary::open(&folder.path().join("d")).unwrap();
    assert_eq!(diary.count(&Filter::default()).unwrap(), 1);
}

#[test]
fn two_writers_at_once_lose_nothing() {
    let folder = folder();
    let path = folder.path().join("d");
    std::thread::scope(|scope| {
        for writer in 0..2 {
            let path = &path;
            scope.spawn(move || {
                let diary = Diary::open(path).unwrap();
                for i in 0..50 {
                    assert!(diary.keep(&entry(2 * i + writer)).unwrap().is_some());
                }
            });
        }
    });
    let diary = Diary::open(&path).unwrap();
    assert_eq!(diary.count(&Filter::default()).unwrap(), 100);
}

#[test]
fn what_no_calendar_knows_is_not_written_and_where_it_was_the_rest_can_be_read() {
    let last = *MOMENTS_MS.end();
    for known in [*MOMENTS_MS.start(), last] {
        assert!(Timestamp::from_millisecond(known).is_ok());
    }
    assert!(Timestamp::from_millisecond(last + 1).is_err());
    let folder = folder();
    let path = folder.path().join("d");
    let mut keeper = DiaryKeeper::new(Diary::open(&path), vec![folder.path().to_owned()]);
    let mut late = entry(1);
    late.at = "9999-12-30T22:00:00.5Z".parse().unwrap();
    assert_eq!(keeper.keep(&late), KeptIn::Line(0));
    assert!(matches!(keeper.keep(&entry(2)), KeptIn::Diary(_)));
    let said = keeper.trouble().unwrap().to_string();
    assert!(said.contains("set the computer's clock"), "{said}");
    let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
    assert_eq!(serde_json::from_str::<Entry>(&text).unwrap(), late);
    // As it was written before.
    let mut diary = Diary::open(&path).unwrap();
    assert!(diary.keep_all(&[entry(3), late]).is_err());
    assert_eq!(diary.count(&Filter::default()).unwrap(), 1);
    diary.keep(&entry(4)).unwrap();
    diary
        .connection
        .execute(
            "UPDATE take SET at_ms = ?, began_ms = ? WHERE at_ms = ?",
            [last + 500, i64::MAX, at(4).as_millisecond()],
        )
        .unwrap();
    let entries = diary.entries(&Filter::default()).unwrap();
    assert_eq!(entries[0], entry(2));
    assert_eq!(entries[1].at.as_millisecond(), last);
    assert_eq!(diary.misdated(&Filter::default()).unwrap(), 1);
    let mut moments = Vec::new();
    let each = |row: &DiaryRow| moments.push(row.at_ms);
    diary.scan(&Filter::default(), each).unwrap();
    assert_eq!(moments, [at(2).as_millisecond(), last]);
}

/// A diary of that name with a take that has a sound of that name.
fn with_sound(folder: &Path, name: &str, sound: &str) -> Diary {
    let diary = Diary::open(&folder.join(name)).unwrap();
    let mut heard = entry(1);
    heard.sound = Some(sound.into());
    diary.keep(&heard).unwrap();
    diary
}

#[test]
fn diaries_that_differ_in_the_ending_alone_have_sounds_of_their_own() {
    let folder = folder();
    let mut diaries =
        ["x.sqlite", "x.db", "x"].map(|name| with_sound(folder.path(), name, "one.wav"));
    for diary in &diaries {
        std::fs::create_dir(diary.sounds()).unwrap();
        std::fs::write(diary.sound("one.wav").unwrap(), "sound").unwrap();
    }
    for i in 0..diaries.len() {
        diaries[i].forget(&Filter::default()).unwrap();
        let there = diaries
            .each_ref()
            .map(|d| d.sounds().join("one.wav").exists());
        assert_eq!(there, [false, i < 1, i < 2]);
    }
}

#[test]
fn sounds_in_a_folder_once_shared_are_found_and_removed_by_their_last_owner() {
    let folder = folder();
    let shared = folder.path().join("x-sounds");
    std::fs::create_dir(&shared).unwrap();
    let mut diaries = ["x.sqlite", "x.db"].map(|name| with_sound(folder.path(), name, "both.wav"));
    let mut own = entry(2);
    own.sound = Some("own.wav".into());
    diaries[0].keep(&own).unwrap();
    for name in ["both.wav", "own.wav", "nobody's.wav"] {
        std::fs::write(shared.join(name), "sound").unwrap();
        assert_eq!(diaries[0].sound(name), Some(shared.join(name)));
    }
    assert_eq!(diaries[0].sound("../x-sounds/own.wav"), None);
    // No diary, though it has the name of one.
    std::fs::write(folder.path().join("x.txt"), "own.wav both.wav").unwrap();
    let there = || ["both.wav", "own.wav", "nobody's.wav"].map(|name| shared.join(name).exists());
    diaries[0].forget(&Filter::default()).unwrap();
    assert_eq!(there(), [true, false, true]);
    diaries[1].forget(&Filter::default()).unwrap();
    assert_eq!(there(), [false, false, true]);
}
