//! Files that no reader of recordings wants to meet: always sound or a clear sentence, never a
//! panic, never memory on a header's say-so.

use crate::common::audio as audio_files;
use crate::fuzz_corpus::inputs::watchman;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use audio_files::*;
use proptest::prelude::*;
use ringtrue::audio::{AudioError, Recording, read_all};
use watchman::watched;

/// The most that reading any of these files may ask for in one piece, bytes. One second of eighteen
/// channels at 192 kHz waits for the mixer's decision: 14 MB; growing vectors double.
const MOST_BYTES_AT_ONCE: usize = 32 << 20;

/// Reads a file and holds what comes of it against what holds for every file.
fn read(path: &Path) -> Result<Recording, AudioError> {
    let (result, largest) = watched(|| read_all(path, 600.0));
    assert!(
        largest < MOST_BYTES_AT_ONCE,
        "{}: {largest} bytes at once",
        path.display()
    );
    match &result {
        Ok(recording) => {
            assert!(!recording.samples.is_empty());
            assert!(recording.samples.iter().all(|x| x.is_finite()));
            assert!((8_000..=50_000).contains(&recording.rate_hz));
            assert!(recording.health.peak.is_finite());
        }
        Err(error) => {
            let text = error.to_string();
            let name = path.file_name().unwrap().to_str().unwrap();
            // The file, what is wrong, and what to do after it.
            assert!(text.contains(name), "{text}");
            assert!(text.contains("; "), "{text}");
            assert_eq!(error.path(), path);
        }
    }
    result
}

fn hostile(name: &str) -> Result<Recording, AudioError> {
    read(&fixture("hostile").join(name))
}

/// Expected outcome of a file that gives no sound: words that its sentence must hold.
const REFUSED: &[(&str, &[&str])] = &[
    (
        "header-cut-before-samples.wav",
        &["damaged", "ends before the first sample"],
    ),
    ("adpcm.wav", &["compressed samples", "save it as WAV"]),
    ("amr-named.m4a", &["AMR", "save it as WAV or M4A"]),
    ("bits-0.wav", &["damaged", "0 bits a sample"]),
    ("bits-65535.wav", &["damaged", "65535 bits a sample"]),
    ("channels-0.wav", &["damaged", "0 channels"]),
    ("channels-65535.wav", &["65535 channels", "1 to 18"]),
    ("cut-before-index-alac.m4a", &["damaged", "missing"]),
    ("cut-before-index.m4a", &["damaged", "missing"]),
    ("cut-in-first-frame.mp3", &["damaged", "copy it again"]),
    ("cut-opus.webm", &["damaged", "copy it again"]),
    ("cut-in-header.flac", &["breaks off before the first sound"]),
    ("cut-in-header.ogg", &["breaks off before the first sound"]),
    ("data-before-format.wav", &["before the description"]),
    (
        "empty.wav",
        &["empty (0 bytes)", "record it or copy it again"],
    ),
    ("flac-claims-18-days.flac", &["damaged", "breaks off"]),
    ("format-of-4-bytes.wav", &["4 bytes, expected 16"]),
    (
        "header-cut-in-format.wav",
        &["ends before the first sample"],
    ),
    ("header-only-riff.wav", &["ends before the first sample"]),
    ("list-claims-4-gb.wav", &["ends before the first sample"]),
    ("no-data.wav", &["ends before the first sample"]),
    (
        "png-named.mp3",
        &["expected a recording", "a picture (PNG)"],
    ),
    ("rate-0.wav", &["8000 to 192000", "the file says 0"]),
    ("rate-4-ghz.wav", &["8000 to 192000", "4294967295"]),
    ("riff-but-not-wave.wav", &["expected a recording", "RIFF"]),
    ("text-named.wav", &["expected a recording", "holds text"]),
    (
        "zero-length-data.wav",
        &["no sound (0 samples)", "record it again"],
    ),
    ("zeros-named.mp3", &["expected a recording", "unknown data"]),
];

/// Files that are odd but whole: the plain tone of 0.2 s at 16 kHz comes out.
const WHOLE: &[&str] = &[
    "list-before-data.wav",
    "odd-chunk-padded.wav",
    "odd-chunk-unpadded.wav",
    "odd-data-size.wav",
    "rf64.wav",
    "unfinished-sizes-unknown.wav",
];

/// Files of which a part can be read: frames that come out.
const PARTLY: &[(&str, u64)] = &[
    ("cut.flac", 9_216),
    ("cut.m4a", 21_504),
    ("cut.mp3", 19_631),
    ("cut.ogg", 14_272),
    ("cut-opus.ogg", 24_648),
    ("cut.wav", 1_478),
    ("data-claims-4-gb.wav", 3_200),
    ("unfinished-sizes-0.wav", 3_200),
];

/// Files with bytes overwritten in the middle: sound comes out on both sides of the hole.
const OVERWRITTEN: &[&str] = &[
    "overwritten.flac",
    "overwritten.m4a",
    "overwritten.mp3",
    "overwritten.ogg",
    "overwritten-opus.ogg",
];

/// Files that have a test of their own below.
const OTHERS: &[&str] = &[
    "192-khz.wav",
    "8-khz.wav",
    "all-nan.wav",
    "all-zero.wav",
    "clipped.wav",
    "dc-full-scale.wav",
    "five-point-one.wav",
    "nan-and-infinity.wav",
    "one-sample.wav",
];

#[test]
fn every_hostile_file_has_an_expected_outcome() {
    let there: BTreeSet<String> = fs::read_dir(fixture("hostile"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let expected: BTreeSet<String> = (REFUSED.iter().map(|(name, _)| *name))
        .chain(PARTLY.iter().map(|(name, _)| *name))
        .chain([WHOLE, OVERWRITTEN, OTHERS].into_iter().flatten().copied())
        .map(str::to_owned)
        .collect();
    assert_eq!(there, expected);
}

#[test]
fn what_cannot_be_read_is_refused_in_a_clear_sentence() {
    for (name, words) in REFUSED {
        let text = match hostile(name) {
            Ok(_) => panic!("{name}: sound came out"),
            Err(error) => error.to_string(),
        };
        for word in *words {
            assert!(text.contains(word), "{text}: no '{word}'");
        }
    }
}

#[test]
fn odd_but_whole_files_give_all_their_sound() {
    for name in WHOLE {
        let recording = hostile(name).unwrap();
        assert_eq!(recording.samples.len(), 3_200, "{name}");
        let hz = frequency_near(&recording.samples, 16_000, 440.0);
        assert!((hz - 440.0).abs() < 0.05, "{name}: {hz} Hz");
        assert!(
            !recording.health.cut_off && recording.health.lost_frames == 0,
            "{name}"
        );
    }
}

#[test]
fn files_that_break_off_give_what_is_there_and_say_so() {
    for &(name, frames) in PARTLY {
        let recording = hostile(name).unwrap();
        assert_eq!(recording.health.frames, frames, "{name}");
        assert!(recording.health.cut_off, "{name}");
    }
    let claims = hostile("data-claims-4-gb.wav").unwrap();
    assert_eq!(claims.health.lost_frames, (0xffff_fff0 - 6_400) / 2);
}

#[test]
fn a_hole_in_the_middle_costs_that_part_only() {
    for name in OVERWRITTEN {
        let recording = hostile(name).unwrap();
        // 0.8 s of sound, of which at most 0.25 s are lost.
        assert!(
            recording.samples.len() > 24_000,
            "{name}: {}",
            recording.samples.len()
        );
        let end = &recording.samples[recording.samples.len() - 4_000..];
        let level_db = 20.0 * (amplitude_at(end, recording.rate_hz, 440.0) / 0.25).log10();
        assert!(level_db.abs() < 1.0, "{name}: {level_db:.2} dB at the end");
    }
    // MP3 frames without checksums do not tell; the others count what they lost.
    for name in [
        "overwritten.flac",
        "overwritten.m4a",
        "overwritten.ogg",
        "overwritten-opus.ogg",
    ] {
        assert!(hostile(name).unwrap().health.lost_frames > 0, "{name}");
    }
}

#[test]
fn samples_that_are_no_numbers_become_silence_and_are_counted() {
    let some = hostile("nan-and-infinity.wav").unwrap();
    assert_eq!(some.health.unusable_samples, 4);
    assert_eq!(some.samples[100..104], [0.0; 4]);
    let all = hostile("all-nan.wav").unwrap();
    assert_eq!(all.health.unusable_samples, 400);
    assert!(all.health.is_all_zero());
}

#[test]
fn exact_silence_and_clipping_are_seen() {
    let zero = hostile("all-zero.wav").unwrap();
    assert!(zero.health.is_all_zero());
    // A sine of twice full scale lies over it for two thirds of the time.
    let clipped = hostile("clipped.wav").unwrap().health;
    assert!((0.6..0.7).contains(&(clipped.clipped_samples as f64 / 3_200.0)));
    assert_eq!(
        hostile("dc-full-scale.wav").unwrap().health.clipped_samples,
        1_600
    );
}

#[test]
fn ordinary_sound_in_unusual_clothes_is_read() {
    assert_eq!(hostile("one-sample.wav").unwrap().samples.len(), 1);
    for (name, rate_hz, frames) in [
        ("five-point-one.wav", 16_000, 1_600),
        ("8-khz.wav", 8_000, 1_600),
        ("192-khz.wav", 48_000, 4_800),
    ] {
        let recording = hostile(name).unwrap();
        assert_eq!(
            (recording.rate_hz, recording.samples.len()),
            (rate_hz, frames),
            "{name}"
        );
        let level_db = 20.0 * (amplitude_at(&recording.samples, rate_hz, 440.0) / 0.5).log10();
        assert!(level_db.abs() < 0.2, "{name}: {level_db:.2} dB");
    }
}

/// A valid start and what follows it, so that random bytes get past the first look.
fn beginnings() -> impl Strategy<Value = Vec<u8>> {
    prop::sample::select(vec![
        Vec::new(),
        b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0".to_vec(),
        b"RF64\xff\xff\xff\xffWAVEds64".to_vec(),
        b"fLaC\0\0\0\x22".to_vec(),
        b"\xff\xfb\x90\x64".to_vec(),
        b"\xff\xf1\x50\x80".to_vec(),
        b"ID3\x04\0\0\0\0\0\x0a".to_vec(),
        b"OggS\0\x02\0\0\0\0\0\0\0\0".to_vec(),
        b"\x1a\x45\xdf\xa3".to_vec(),
        b"\0\0\0\x10ftypM4A \0\0\0\0".to_vec(),
    ])
}

/// Small valid files of every kind.
fn valid_files() -> Vec<Vec<u8>> {
    let formats = [
        "cut.flac",
        "cut.mp3",
        "cut.ogg",
        "cut-opus.ogg",
        "cut.m4a",
        "cut.wav",
        "rf64.wav",
    ];
    let whole = [
        "aac.aac",
        "m4a-alac.m4a",
        "m4a-aac-8k.m4a",
        "mp3-untagged.mp3",
        "flac.ogg",
        "opus.ogg",
        "opus.webm",
    ];
    (formats.iter().map(|name| fixture("hostile").join(name)))
        .chain(whole.iter().map(|name| fixture("formats").join(name)))
        .map(|path| fs::read(path).unwrap())
        .collect()
}

fn read_bytes(bytes: &[u8]) -> Result<Recording, AudioError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("take.wav");
    fs::write(&path, bytes).unwrap();
    read(&path)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..Default::default() })]

    #[test]
    fn random_bytes_never_panic(
        start in beginnings(),
        rest in prop::collection::vec(any::<u8>(), 0..2_000),
    ) {
        let _ = read_bytes(&[start, rest].concat());
    }

    #[test]
    fn mutated_files_never_panic(
        which in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..20),
        in_header in any::<bool>(),
        keep in 1..=100usize,
    ) {
        let files = valid_files();
        let mut bytes = which.get(&files).clone();
        // Half of the time only the headers are hit: that is where sizes stand.
        let reach = if in_header { bytes.len().min(200) } else { bytes.len() };
        for (place, value) in changes {
            bytes[place.index(reach)] = value;
        }
        bytes.truncate((bytes.len() * keep).div_ceil(100));
        let _ = read_bytes(&bytes);
    }

    #[test]
    fn random_samples_in_a_valid_wav_always_give_finite_sound(
        samples in prop::collection::vec(any::<u32>(), 1..500),
        channels in 1..=6u16,
    ) {
        let bytes: Vec<u8> = samples.iter().flat_map(|x| x.to_le_bytes()).collect();
        let whole_frames = samples.len() / usize::from(channels);
        let file = wav_file(&wav_format(3, channels, 44_100, 32), &bytes);
        match read_bytes(&file) {
            Ok(recording) => prop_assert_eq!(recording.samples.len(), whole_frames),
            Err(error) => {
                prop_assert_eq!(whole_frames, 0);
                let no_sound = matches!(error, AudioError::NoSound { .. });
                prop_assert!(no_sound);
            }
        }
    }
}
