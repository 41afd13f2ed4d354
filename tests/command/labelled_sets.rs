//! Labelled sets: written, read, refused where they claim what their sounds do not hold, scored, packed and added to.

use crate::common;

use std::fs;
use std::io::Read;
use std::path::Path;

use common::command::{Desk, RATE_HZ, bb, hiss, strum};
use ringtrue::audio::write_wav;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::listening::saved::SAME_TAKE_S;
use ringtrue::listening::{FoundTakes, Judge};
use ringtrue::strings::Networks;
use ringtrue::synth::labelled;
use ringtrue::take::Take;
use ringtrue::trial::{Deed, KnownBy, LabelledTake, Set, hear_file};
use ringtrue::verdict::{Expected, ExpectedVoicing};

fn frets(text: &str) -> Frets {
    text.parse().expect("frets")
}

/// A set of two takes of [`bb`]: as written, and said to have string 3 muted, which it has not.
fn two_takes(folder: &Path) -> Set {
    let mut set = Set::create(folder).expect("a folder");
    let clean = LabelledTake {
        chord: Some("Bb".to_owned()),
        guitar: "tones of a computer".to_owned(),
        microphone: "none".to_owned(),
        licence: "CC0 1.0".to_owned(),
        ..LabelledTake::clean(&set.next_file(), frets("x13331"))
    };
    set.add(&clean, &bb(), RATE_HZ).expect("a take");
    let mut faulty = LabelledTake {
        file: set.next_file(),
        ..clean
    };
    faulty.deeds[3] = Deed::Muted;
    set.add(&faulty, &bb(), RATE_HZ).expect("a take");
    set
}

#[test]
fn takes_that_share_a_file_are_heard_as_if_it_were_read_for_each() {
    let desk = Desk::new();
    let f = strum(&[87.31, 130.81, 174.61, 220.0, 261.63, 349.23], 2.0);
    let path = desk.path("all.wav");
    write_wav(&path, RATE_HZ, &[bb(), f, bb(), bb()].concat()).expect("a sound");
    // In no order; where the third is said to be there is no strum.
    let labelled: Vec<LabelledTake> = [
        ("133211", 2.6),
        ("x13331", 4.9),
        ("x13331", 3.9),
        ("x13331", 0.3),
        ("133211", 7.2),
    ]
    .map(|(of, at_s)| LabelledTake {
        at_s: Some(at_s),
        ..LabelledTake::clean("all.wav", frets(of))
    })
    .to_vec();
    let tuning = Tuning::default();
    let mut judge = Judge::new(tuning);
    let networks = Networks::built_in();
    let labels: Vec<&LabelledTake> = labelled.iter().collect();
    let heard = hear_file(
        &path,
        &labels,
        &tuning,
        &networks,
        |analyser, strum, expected| expected.judge(analyser, strum, &[]),
    );
    let heard = heard.expect("a sound");
    let starts: Vec<bool> = heard.iter().map(|heard| heard.said.is_some()).collect();
    assert_eq!(starts, [true, true, false, true, true]);
    for (heard, of) in heard.iter().zip(&labelled) {
        let expected = Expected::Named(ExpectedVoicing::usual(of.frets, None, &tuning));
        let off = |strum: &Take| (strum.start_s() - of.at_s.unwrap()).abs();
        let strums = FoundTakes::open(&path, &tuning, &expected).expect("a sound");
        let nearest = strums.min_by(|a, b| off(a).total_cmp(&off(b)));
        let nearest = nearest.filter(|strum| off(strum) <= SAME_TAKE_S);
        let take = nearest.map(|strum| judge.strum(&strum, &expected));
        assert_eq!(heard.said, take);
    }
}

/// The sentences with which a set is refused.
fn refused(folder: &Path) -> Vec<String> {
    let refusals = Set::open(folder).expect_err("it is refused");
    refusals.iter().map(ToString::to_string).collect()
}

#[test]
fn a_set_that_was_written_is_read_back() {
    let desk = Desk::new();
    let set = two_takes(&desk.path("set"));
    let read = Set::open(&desk.path("set")).expect("a set");
    assert_eq!(read.rows(), set.rows());
    assert_eq!(read.rows().len(), 2);
    assert!(read.left_over().is_empty());
    assert_eq!(read.next_file(), "003.wav");
    let again = Set::create(&desk.path("set")).expect_err("a set is there");
    assert!(again.to_string().contains("already"), "{again}");
}

#[test]
fn a_sound_that_was_written_before_the_program_was_ended_is_left_out_and_told() {
    let desk = Desk::new();
    two_takes(&desk.path("set"));
    // As it lies there when the table was not reached any more.
    write_wav(&desk.path("set/003.wav"), RATE_HZ, &bb()).expect("a sound");
    let mut set = Set::open(&desk.path("set")).expect("a set");
    assert_eq!(set.left_over(), ["003.wav"]);
    assert_eq!(set.next_file(), "004.wav");
    let next = LabelledTake::clean(&set.next_file(), frets("x13331"));
    set.add(&next, &bb(), RATE_HZ).expect("a take");
    assert_eq!(Set::open(&desk.path("set")).expect("a set").rows().len(), 3);
    let run = desk.succeeds(&["trial", "score", "set"]);
    assert!(
        run.err.contains("003.wav is not in the table"),
        "{}",
        run.err
    );
}

#[test]
fn the_last_take_can_be_taken_back() {
    let desk = Desk::new();
    let mut set = two_takes(&desk.path("set"));
    let last = set.take_back().expect("it can be written");
    assert_eq!(last.map(|take| take.file).as_deref(), Some("002.wav"));
    assert!(!desk.path("set/002.wav").exists());
    let read = Set::open(&desk.path("set")).expect("a set");
    assert_eq!((read.rows().len(), read.left_over().len()), (1, 0));
}

#[test]
fn what_the_sounds_do_not_hold_is_refused_line_by_line() {
    let desk = Desk::new();
    let set = desk.path("set");
    let table = set.join("truth.csv");
    let with = |change: &dyn Fn()| {
        let _ = fs::remove_dir_all(&set);
        two_takes(&set);
        change();
        refused(&set)
    };
    let replace = |from: &str, to: &str| {
        let text = fs::read_to_string(&table).unwrap();
        assert!(text.contains(from), "{from} in {text}");
        fs::write(&table, text.replacen(from, to, 1)).unwrap();
    };
    // Two takes of 2.3 s: the first in line 2, the second in line 3.
    type Change<'a> = (&'a str, &'a dyn Fn(), &'a [&'a str]);
    let wav = set.join("002.wav");
    let all: [Change; 10] = [
        (
            "missing",
            &|| fs::remove_file(&wav).unwrap(),
            &["line 3", "no such file"],
        ),
        (
            "another length",
            &|| replace("2.3,", "4.5,"),
            &["line 2", "holds 2.30 s", "says 4.50"],
        ),
        (
            "another rate",
            &|| replace("44100", "48000"),
            &["line 2", "44100 samples", "says 48000"],
        ),
        (
            "cut",
            &|| {
                let bytes = fs::read(&wav).unwrap();
                fs::write(&wav, &bytes[..bytes.len() / 2]).unwrap();
            },
            &["line 3", "breaks off"],
        ),
        (
            "cut, with a header that fits",
            &|| write_wav(&wav, RATE_HZ, &bb()[..RATE_HZ as usize]).unwrap(),
            &["line 3", "holds 1.00 s"],
        ),
        (
            "no sound",
            &|| fs::write(&wav, "a text").unwrap(),
            &["line 3", "holds text"],
        ),
        (
            "another rate in the file's header",
            &|| write_wav(&wav, 22_050, &bb()).unwrap(),
            &["line 3", "22050 samples"],
        ),
        (
            "no numbers",
            &|| write_wav(&wav, RATE_HZ, &[f32::NAN; 101_430]).unwrap(),
            &["line 3"],
        ),
        (
            "after the end",
            &|| replace("002.wav,,", "002.wav,9,"),
            &["line 3", "ends at 2.30 s"],
        ),
        (
            "no table",
            &|| fs::remove_file(&table).unwrap(),
            &["truth.csv", "no such file"],
        ),
    ];
    for (what, change, words) in all {
        let said = with(change);
        assert_eq!(said.len(), 1, "{what}: {said:?}");
        for word in words {
            assert!(said[0].contains(word), "{what}: {word} in {said:?}");
        }
    }
    // Every line that is wrong is told, in order.
    let said = with(&|| {
        replace("x13331,3,muted", "x1333,3,muted");
        replace("44100", "48000");
    });
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(
        said[0].contains("line 2") && said[1].contains("line 3"),
        "{said:?}"
    );
}

#[cfg(unix)]
#[test]
fn a_link_and_a_huge_file_are_not_opened() {
    let desk = Desk::new();
    two_takes(&desk.path("set"));
    let wav = desk.path("set/002.wav");
    fs::remove_file(&wav).unwrap();
    std::os::unix::fs::symlink("/dev/zero", &wav).unwrap();
    let said = refused(&desk.path("set"));
    assert!(said.len() == 1 && said[0].contains("is a link"), "{said:?}");
    fs::remove_file(&wav).unwrap();
    // A file of holes: as long as it says, and without a block on the disk.
    fs::File::create(&wav).unwrap().set_len(1 << 40).unwrap();
    let said = refused(&desk.path("set"));
    assert!(
        said.len() == 1 && said[0].contains("1099511627776 bytes"),
        "{said:?}"
    );
}

#[test]
fn score_counts_both_takes_and_says_so_as_text_and_json() {
    let desk = Desk::new();
    two_takes(&desk.path("set"));
    let run = desk.succeeds(&["trial", "score", "set"]);
    assert!(run.out.contains("set  1 of 2, 50 %"), "{}", run.out);
    assert!(run.out.contains("11 of 12"), "{}", run.out);
    assert!(run.out.contains("dead           0 of 1"), "{}", run.out);
    let run = desk.run(&["trial", "score", "set", "--json"]);
    let object = &run.json()[0];
    let set = &object["sets"][0];
    assert_eq!(set["set"], "set");
    assert_eq!(set["known_by"], "deed");
    assert_eq!(set["strings"]["part"], 11);
    assert_eq!(set["strings"]["of"], 12);
    assert_eq!(set["takes"]["part"], 1);
    assert_eq!(set["false_alarms"]["part"], 0);
    assert_eq!(set["false_alarms"]["of"], 11);
    assert_eq!(set["by_string"][3]["string"], 3);
    assert_eq!(set["by_string"][3]["found"]["of"], 1);
    assert!(set["takes"]["low"].as_f64().unwrap() < 0.5);
    assert_eq!(object["together"][0]["strings"]["of"], 12);
    assert!(object.get("wrong").is_none());
    let run = desk.run(&["trial", "score", "set", "--json", "--wrong"]);
    let wrong = &run.json()[0]["wrong"];
    assert_eq!(wrong.as_array().map(Vec::len), Some(1), "{wrong}");
    assert_eq!(
        (&wrong[0]["file"], &wrong[0]["set"]),
        (&"002.wav".into(), &"set".into())
    );
    let string = &wrong[0]["strings"][0];
    assert_eq!(
        (&string["string"], &string["deed"], &string["verdict"]),
        (&3.into(), &"muted".into(), &"clean".into())
    );
    let run = desk.run(&["trial", "score", "set", "--wrong"]);
    let line = "set/002.wav, x13331: string 3 dead, said clean";
    assert!(run.out.lines().any(|l| l == line), "{}", run.out);
}

#[test]
fn refusals_and_sounds_without_a_strum_count_as_wrong() {
    let desk = Desk::new();
    let mut set = Set::create(&desk.path("set")).expect("a folder");
    let quiet = LabelledTake::clean(&set.next_file(), frets("x13331"));
    set.add(&quiet, &hiss(2.0, 1e-3), RATE_HZ).expect("a take");
    // Another chord than sounds: no string of it can be judged.
    let other = LabelledTake::clean(&set.next_file(), frets("022100"));
    set.add(&other, &bb(), RATE_HZ).expect("a take");
    let run = desk.run(&["trial", "score", "set", "--json"]);
    let set = &run.json()[0]["sets"][0];
    assert_eq!((&set["not_found"], &set["refused"]), (&1.into(), &1.into()));
    assert_eq!(
        (&set["takes"]["part"], &set["takes"]["of"]),
        (&0.into(), &2.into())
    );
    assert_eq!(
        (&set["strings"]["part"], &set["strings"]["of"]),
        (&0.into(), &12.into())
    );
}

#[test]
fn a_set_that_is_refused_leaves_the_others_scored() {
    let desk = Desk::new();
    two_takes(&desk.path("good"));
    two_takes(&desk.path("bad"));
    fs::remove_file(desk.path("bad/001.wav")).unwrap();
    let run = desk.run(&["trial", "score", "bad", "good", "none", "--json"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("truth.csv, line 2"), "{}", run.err);
    assert!(run.err.contains("none"), "{}", run.err);
    assert_eq!(run.json()[0]["sets"].as_array().map(Vec::len), Some(1));
}

#[test]
fn sounds_are_kept_apart_by_how_their_truth_is_known() {
    let desk = Desk::new();
    let mut set = Set::create(&desk.path("set")).expect("a folder");
    for known_by in [KnownBy::Composed, KnownBy::Word, KnownBy::Deed] {
        let take = LabelledTake {
            known_by,
            ..LabelledTake::clean(&set.next_file(), frets("x13331"))
        };
        set.add(&take, &bb(), RATE_HZ).expect("a take");
    }
    let run = desk.run(&["trial", "score", "set"]);
    let place = |words: &str| {
        run.out
            .find(words)
            .unwrap_or_else(|| panic!("{words} in {}", run.out))
    };
    assert!(place("done on purpose") < place("put right by players"));
    assert!(place("put right by players") < place("Composed sound"));
    assert!(
        run.out.contains("because a verdict was wrong"),
        "{}",
        run.out
    );
}

#[test]
fn the_tables_of_fixtures_say_what_the_labels_say() {
    let folder = Path::new("fixtures/strums/guitarset");
    let set = Set::open(folder).expect("a set");
    let mut rows = set.rows().iter();
    for name in ["00_BN1-129-Eb_comp", "03_Jazz2-110-Bb_comp"] {
        let file = |end: &str| folder.join(format!("{name}_{end}"));
        let (mic, notes) = (file("mic.flac"), file("notes.csv"));
        let real = labelled::strums(&mic, &notes, 0.3, &Tuning::default()).expect("labels");
        assert!(real.len() > 5);
        for real in real {
            let row = rows.next().expect("a row for each chord");
            assert_eq!((row.frets, row.known_by), (real.frets, KnownBy::Pickup));
            assert!((row.at_s.unwrap() - real.strum.start_s()).abs() < 1e-3);
            for string in 0..STRINGS {
                let is_known = real.frets.0[string].is_some() || real.quiet.contains(&string);
                assert_eq!(row.deeds[string] == Deed::Clean, is_known);
            }
        }
    }
    assert!(rows.next().is_none());
    let phones = Set::open(Path::new("fixtures/strums/phone-strings")).expect("a set");
    assert_eq!(phones.rows().len(), 36);
    let bundled = Set::open(Path::new("fixtures/strums")).expect("a set");
    assert!(bundled.left_over().is_empty());
}

/// What a packed set's table says, read out of its bytes.
fn table_in(archive: &[u8]) -> String {
    let mut archive = tar::Archive::new(archive);
    for entry in archive.entries().expect("an archive") {
        let mut entry = entry.expect("an entry");
        if entry.path().expect("a path").ends_with("truth.csv") {
            let mut text = String::new();
            entry.read_to_string(&mut text).expect("text");
            return text;
        }
    }
    panic!("no table is in the archive");
}

#[test]
fn a_packed_set_names_nobody_and_is_scored_as_its_folder_is() {
    let desk = Desk::new();
    let folder = desk.path("Anna-Example");
    two_takes(&folder);
    // Names of persons in the name of a file and in the tags of a recording.
    let spoken = folder.join("anna sings.wav");
    let mut bytes = fs::read(folder.join("002.wav")).unwrap();
    let tag = b"Artist: Anna Example, Long Street 1 ";
    bytes.extend(b"LIST");
    bytes.extend((tag.len() as u32).to_le_bytes());
    bytes.extend(tag);
    let length = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&length.to_le_bytes());
    fs::write(&spoken, bytes).unwrap();
    let table = fs::read_to_string(folder.join("truth.csv")).unwrap();
    fs::write(
        folder.join("truth.csv"),
        table.replace("002.wav", "anna sings.wav"),
    )
    .unwrap();
    fs::remove_file(folder.join("002.wav")).unwrap();

    let run = desk.run(&["trial", "pack", "Anna-Example", "--out", "set.tar"]);
    assert_eq!(run.status, 2);
    assert!(!desk.path("set.tar").exists(), "nobody said yes");
    assert!(
        run.out.contains("guitar: tones of a computer"),
        "{}",
        run.out
    );
    assert!(run.err.contains("--yes"), "{}", run.err);
    let run = desk.succeeds(&[
        "trial",
        "pack",
        "Anna-Example",
        "--out",
        "set.tar",
        "--guitar-words",
        "my guitar",
        "--yes",
    ]);
    assert!(run.out.contains("guitar: my guitar"), "{}", run.out);
    let archive = fs::read(desk.path("set.tar")).unwrap();
    let text = String::from_utf8_lossy(&archive).to_lowercase();
    assert!(text.contains("002.wav"), "files are numbered");
    let user = std::env::var("USER").unwrap_or_default().to_lowercase();
    let here = desk.path("").to_string_lossy().to_lowercase();
    for name in [
        "anna", "example", "street", "artist", "computer", &*here, &*user,
    ] {
        assert!(
            name.is_empty() || !text.contains(name),
            "{name} is in the file"
        );
    }
    let mut entries = tar::Archive::new(archive.as_slice());
    for entry in entries.entries().unwrap() {
        let header = entry.unwrap().header().clone();
        assert_eq!(
            (
                header.mtime().unwrap(),
                header.uid().unwrap(),
                header.gid().unwrap()
            ),
            (0, 0, 0)
        );
        assert_eq!(header.username().unwrap().unwrap_or_default(), "");
        assert_eq!(header.groupname().unwrap().unwrap_or_default(), "");
    }
    let table = table_in(&archive);
    assert!(
        table.contains("my guitar") && table.contains("Bb"),
        "{table}"
    );

    let score = |of: &str| {
        let run = desk.succeeds(&["trial", "score", of, "--json"]);
        run.json()[0]["together"].clone()
    };
    assert_eq!(score("set.tar"), score("Anna-Example"));
    assert_eq!(score("set.tar")[0]["strings"]["of"], 12);
}

#[test]
fn a_set_that_is_not_as_it_should_be_or_has_no_licence_is_not_packed() {
    let desk = Desk::new();
    let mut set = two_takes(&desk.path("set"));
    let pack = |more: &[&str]| {
        let run = desk.run(&[&["trial", "pack", "set", "--yes"][..], more].concat());
        (run.status, run.err)
    };
    let (status, err) = pack(&["--out", "set/001.wav"]);
    assert!(status == 2 && err.contains("would be lost"), "{err}");
    let free = LabelledTake::clean(&set.next_file(), frets("x13331"));
    set.add(&free, &bb(), RATE_HZ).expect("a take");
    let (status, err) = pack(&["--out", "set.tar"]);
    assert!(status == 2 && err.contains("without a licence: 1"), "{err}");
    assert_eq!(pack(&["--out", "set.tar", "--licence", "CC BY 4.0"]).0, 0);
    fs::remove_file(desk.path("set/003.wav")).unwrap();
    let (status, err) = pack(&["--out", "other.tar", "--licence", "CC0 1.0"]);
    assert!(status == 2 && err.contains("line 4"), "{err}");
    assert!(!desk.path("other.tar").exists());
}

#[test]
fn an_archive_that_pack_did_not_write_is_refused() {
    let desk = Desk::new();
    let archive = |kind: tar::EntryType, name: &[u8], size: u64, content: &[u8]| {
        let mut header = tar::Header::new_ustar();
        header.set_entry_type(kind);
        header.set_mode(0o644);
        header.set_size(size);
        // As no writer would set it.
        header.as_old_mut().name[..name.len()].copy_from_slice(name);
        header.set_cksum();
        let mut bytes = header.as_bytes().to_vec();
        bytes.extend(content);
        bytes.resize(bytes.len().next_multiple_of(512) + 1024, 0);
        bytes
    };
    use tar::EntryType::{Directory, GNULongName, Link, Regular, Symlink};
    let twice = {
        let mut one = archive(Regular, b"labelled-set/a.wav", 3, b"abc");
        one.truncate(1024);
        [one.clone(), one, vec![0; 1024]].concat()
    };
    let elsewhere = [
        &b"../truth.csv"[..],
        b"/truth.csv",
        b"labelled-set/../../truth.csv",
        b"labelled-set/..",
        b"labelled-set/.hidden",
        b"labelled-set/a\\b.wav",
        b"labelled-set/\xff.wav",
    ];
    let elsewhere = elsewhere.map(|name| (archive(Regular, name, 3, b"abc"), "leads elsewhere"));
    let no_files = [Symlink, Link, Directory].map(|kind| {
        (
            archive(kind, b"labelled-set/a.wav", 0, b""),
            "no plain file",
        )
    });
    let others = [
        (
            archive(GNULongName, b"labelled-set/a.wav", 3, b"abc"),
            "no plain file",
        ),
        (
            archive(Regular, b"labelled-set/a.wav", 1 << 32, b"abc"),
            "230400000 at most",
        ),
        (
            archive(Regular, b"labelled-set/a.wav", 5000, b"abc"),
            "breaks off",
        ),
        (twice, "there twice"),
        (vec![0; 1024], "no file is in it"),
        (vec![7; 1024], "a packed set was expected"),
        (b"a text".to_vec(), "a packed set was expected"),
        (
            archive(Regular, b"labelled-set/a.wav", 3, b"abc"),
            "truth.csv",
        ),
    ];
    for (bytes, words) in elsewhere.into_iter().chain(no_files).chain(others) {
        fs::write(desk.path("hostile.tar"), bytes).unwrap();
        let run = desk.run(&["trial", "score", "hostile.tar"]);
        assert_eq!(run.status, 2, "{words}: {}", run.out);
        assert!(run.err.contains(words), "{words}: {}", run.err);
        assert!(!run.err.contains("panicked"), "{}", run.err);
        assert!(!desk.path("truth.csv").exists() && !Path::new("/truth.csv").exists());
    }
}

#[test]
fn what_was_put_right_after_listening_becomes_part_of_a_set() {
    let desk = Desk::new();
    // The tones of Bb without that of string 3.
    desk.recording("one.wav", &strum(&[116.54, 174.61, 293.66, 349.23], 2.0));
    let run = desk.run(&[
        "listen", "--from", "one.wav", "--frets", "x13331", "--save", "kept", "--diary",
        "d.sqlite", "--json",
    ]);
    assert!(run.status < 2, "{}", run.err);
    let add = |more: &[&str]| {
        let run = desk.run(&[&["trial", "add", "set", "--diary", "d.sqlite"][..], more].concat());
        assert_eq!(run.status, 0, "{}", run.err);
        run.out
    };
    let none = add(&[]);
    assert!(none.contains("Nothing was put right"), "{none}");
    assert!(!desk.path("set").exists());
    desk.succeeds(&["put-right", "--diary", "d.sqlite", "--string", "3"]);
    let without = add(&[]);
    assert!(without.contains("without their sound: 1"), "{without}");
    let saved = [
        "--saved",
        "kept",
        "--licence",
        "CC0 1.0",
        "--guitar-words",
        "a small one",
    ];
    assert!(add(&saved).contains("1 take added"));
    let set = Set::open(&desk.path("set")).expect("a set");
    let [take] = set.rows() else {
        panic!("{:?}", set.rows())
    };
    assert_eq!(
        (take.known_by, take.guitar.as_str()),
        (KnownBy::Word, "a small one")
    );
    let known = take.deeds.map(|deed| deed == Deed::Clean);
    assert_eq!(known, [false, false, false, true, false, false]);
    assert!(add(&saved).contains("0 takes added, 1 there already"));
    // What is said later is added to it.
    desk.succeeds(&["put-right", "--diary", "d.sqlite", "--string", "6"]);
    assert!(add(&saved).contains("1 take added"));
    let set = Set::open(&desk.path("set")).expect("a set");
    assert_eq!(set.rows().len(), 1);
    assert_eq!(set.rows()[0].deeds[0], Deed::Clean);
    let run = desk.run(&["trial", "score", "set", "--json"]);
    let object = &run.json()[0]["sets"][0];
    assert_eq!(
        (&object["known_by"], &object["strings"]["of"]),
        (&"word".into(), &2.into())
    );
}
