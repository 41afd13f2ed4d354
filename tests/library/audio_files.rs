//! What a user can hand in: every format, channel count and rate gives the same sound.

use crate::common::audio as audio_files;

use std::f64::consts::TAU;
use std::fs;
use std::path::Path;

use audio_files::*;
use ringtrue::audio::{AudioError, BLOCK_FRAMES, Reader, Recording, read_all, write_wav};
use tempfile::TempDir;

/// The sound of `fixtures/formats`: silence to 0.1 s, then 440 Hz at 0.25 and 1500 Hz at 0.1.
pub fn two_tones(rate_hz: u32, seconds: f64) -> Vec<f64> {
    (0..(seconds * f64::from(rate_hz)) as usize)
        .map(|i| {
            let t = i as f64 / f64::from(rate_hz);
            if t < 0.1 {
                return 0.0;
            }
            0.25 * (TAU * 440.0 * t).sin() + 0.1 * (TAU * 1500.0 * t).sin()
        })
        .collect()
}

/// Holds a recording of [`two_tones`] against what was written: pitch within 0.05 Hz, level within
/// 0.2 dB of `scale` times the original's, start `late_s` after its place within 2 ms (coders smear
/// an abrupt start by as much).
fn assert_two_tones_coded(name: &str, recording: &Recording, late_s: f64, scale: f64) {
    let rate = f64::from(recording.rate_hz);
    let start = recording.samples.iter().position(|x| x.abs() > 0.06);
    let start_s = start.unwrap_or_else(|| panic!("{name}: silent")) as f64 / rate;
    assert!(
        (start_s - 0.1 - late_s).abs() < 0.002,
        "{name}: starts at {start_s:.4} s, expected {:.4}",
        0.1 + late_s
    );
    let sounding = &recording.samples[(0.2 * rate) as usize..(0.75 * rate) as usize];
    for (hz, amplitude) in [(440.0, 0.25), (1500.0, 0.1)] {
        let found_hz = frequency_near(sounding, recording.rate_hz, hz);
        assert!((found_hz - hz).abs() < 0.05, "{name}: {found_hz:.3} Hz");
        let level_db =
            20.0 * (amplitude_at(sounding, recording.rate_hz, hz) / (scale * amplitude)).log10();
        assert!(
            level_db.abs() < 0.2,
            "{name}: {hz} Hz off by {level_db:.2} dB"
        );
    }
    assert_eq!(recording.health.clipped_samples, 0, "{name}");
    assert_eq!(recording.health.lost_frames, 0, "{name}");
    assert!(!recording.health.cut_off, "{name}");
}

fn assert_two_tones(name: &str, recording: &Recording) {
    assert_two_tones_coded(name, recording, 0.0, 1.0);
}

fn read(path: &Path) -> Recording {
    read_all(path, 60.0).unwrap_or_else(|error| panic!("{error}"))
}

fn read_bytes(folder: &TempDir, bytes: &[u8]) -> Result<Recording, AudioError> {
    let path = folder.path().join("sound.wav");
    fs::write(&path, bytes).unwrap();
    read_all(&path, 60.0)
}

#[test]
fn every_compressed_format_gives_the_same_sound() {
    // What the encoder put before the sound and did not say in a way that is read: 1024 samples of
    // AAC; 1105 of an untagged MP3. The scale is the MP3 encoder's (fixtures/formats/README.md).
    for (name, rate_hz, late_s, scale) in [
        ("flac-16.flac", 44_100, 0.0, 1.0),
        ("flac-24.flac", 44_100, 0.0, 1.0),
        ("flac-96k.flac", 48_000, 0.0, 1.0),
        ("flac.ogg", 44_100, 0.0, 1.0),
        ("vorbis.ogg", 44_100, 0.0, 1.0),
        ("m4a-alac.m4a", 44_100, 0.0, 1.0),
        ("mp3.mp3", 44_100, 0.0, 0.95),
        ("mp3-stereo.mp3", 44_100, 0.0, 0.95),
        ("mp3-untagged.mp3", 44_100, 1105.0 / 44_100.0, 0.95),
        ("m4a-aac.m4a", 44_100, 1024.0 / 44_100.0, 1.0),
        ("m4a-aac-index-first.m4a", 44_100, 1024.0 / 44_100.0, 1.0),
        ("m4a-aac-8k.m4a", 8_000, 1024.0 / 8_000.0, 1.0),
        ("film.mp4", 44_100, 1024.0 / 44_100.0, 1.0),
        ("film.mov", 44_100, 1024.0 / 44_100.0, 1.0),
        ("aac.aac", 44_100, 1024.0 / 44_100.0, 1.0),
    ] {
        let path = fixture("formats").join(name);
        let stated_s = Reader::open(&path).unwrap().duration_s().unwrap();
        let recording = read(&path);
        let length_s = recording.samples.len() as f64 / f64::from(recording.rate_hz);
        // To a packet of AAC at 8 kHz; an MP3 without a tag is only estimated.
        assert!(
            (stated_s - length_s).abs() < 0.13,
            "{name}: {stated_s} for {length_s} s"
        );
        assert_eq!(recording.rate_hz, rate_hz, "{name}");
        assert_two_tones_coded(name, &recording, late_s, scale);
    }
}

/// At 32 kbit/s Opus itself moves and weakens tones a little: what counts is that it is read as libopus reads it.
#[test]
fn opus_in_ogg_and_in_webm_gives_what_the_reference_decoder_gives() {
    // By Chromium's libopus: frequencies in Hz and amplitudes between 0.2 and 0.75 s.
    let reference = [(440.0, 439.9141, 0.250_091), (1500.0, 1499.6931, 0.097_300)];
    for name in ["opus.ogg", "opus.webm"] {
        let recording = read(&fixture("formats").join(name));
        assert_eq!(recording.rate_hz, 48_000, "{name}");
        let start = recording.samples.iter().position(|x| x.abs() > 0.06);
        let start_s = start.unwrap_or_else(|| panic!("{name}: silent")) as f64 / 48_000.0;
        assert!(
            (start_s - 0.1).abs() < 0.002,
            "{name}: starts at {start_s} s"
        );
        let sounding = &recording.samples[9_600..36_000];
        for (near_hz, hz, amplitude) in reference {
            let found_hz = frequency_near(sounding, 48_000, near_hz);
            assert!((found_hz - hz).abs() < 0.002, "{name}: {found_hz:.4} Hz");
            let found = amplitude_at(sounding, 48_000, near_hz);
            assert!(
                (found / amplitude - 1.0).abs() < 0.002,
                "{name}: {near_hz} Hz at {found:.5}"
            );
        }
        assert_eq!(recording.health.lost_frames, 0, "{name}");
        assert!(!recording.health.cut_off, "{name}");
    }
}

/// All that `Reader` gives, or its error's kind.
fn all_of(reader: Result<Reader, AudioError>) -> Result<(u32, Vec<f32>), String> {
    let mut reader = reader.map_err(|error| error.to_string())?;
    let (mut samples, mut block) = (Vec::new(), Vec::new());
    while reader.read(&mut block).map_err(|error| error.to_string())? {
        samples.extend_from_slice(&block);
    }
    Ok((reader.rate_hz(), samples))
}

#[test]
fn a_file_in_memory_is_read_as_one_on_the_disk() {
    let mut read = 0;
    for folder in ["fixtures/formats", "fixtures/hostile"] {
        for file in fs::read_dir(folder).unwrap() {
            let path = file.unwrap().path();
            if !path.is_file() {
                continue;
            }
            let bytes = fs::read(&path).unwrap();
            let in_memory = all_of(Reader::from_bytes(&path, bytes.into()));
            assert_eq!(in_memory, all_of(Reader::open(&path)), "{}", path.display());
            read += 1;
        }
    }
    assert!(read > 20, "{read} files");
}

#[test]
fn every_sample_format_of_wav_gives_the_same_sound() {
    let folder = TempDir::new().unwrap();
    let sound = two_tones(44_100, 0.8);
    let integer = |bits: u32| -> Vec<u8> {
        let scale = f64::from(1u32 << (bits - 1));
        let value = |x: &f64| (x * scale).round() as i32 + if bits == 8 { 128 } else { 0 };
        let bytes = (bits / 8) as usize;
        sound
            .iter()
            .flat_map(|x| value(x).to_le_bytes()[..bytes].to_vec())
            .collect()
    };
    let float32: Vec<u8> = sound
        .iter()
        .flat_map(|&x| (x as f32).to_le_bytes())
        .collect();
    let float64: Vec<u8> = sound.iter().flat_map(|x| x.to_le_bytes()).collect();
    for (code, bits, samples) in [
        (1, 8, integer(8)),
        (1, 16, integer(16)),
        (1, 24, integer(24)),
        (1, 32, integer(32)),
        (3, 32, float32),
        (3, 64, float64),
    ] {
        let name = format!("code {code}, {bits} bits");
        let format = wav_format(code, 1, 44_100, bits);
        let recording = read_bytes(&folder, &wav_file(&format, &samples)).unwrap();
        assert_eq!(recording.samples.len(), sound.len(), "{name}");
        assert_two_tones(&name, &recording);

        // The same behind WAVE_FORMAT_EXTENSIBLE: sub-format identifier as in mmreg.h.
        let mut extensible = wav_format(0xfffe, 1, 44_100, bits);
        extensible.extend_from_slice(&22u16.to_le_bytes());
        extensible.extend_from_slice(&bits.to_le_bytes());
        extensible.extend_from_slice(&4u32.to_le_bytes());
        extensible.extend_from_slice(&u16::to_le_bytes(code));
        extensible.extend_from_slice(b"\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71");
        let again = read_bytes(&folder, &wav_file(&extensible, &samples)).unwrap();
        assert_eq!(again.samples, recording.samples, "{name}, extensible");
    }
}

#[test]
fn one_to_eighteen_channels_give_the_same_sound() {
    let folder = TempDir::new().unwrap();
    let sound = two_tones(16_000, 0.8);
    for channels in [1u16, 2, 3, 4, 6, 8, 18] {
        let samples: Vec<u8> = sound
            .iter()
            .flat_map(|&x| (x as f32).to_le_bytes().repeat(channels.into()))
            .collect();
        let file = wav_file(&wav_format(3, channels, 16_000, 32), &samples);
        assert_two_tones(
            &format!("{channels} channels"),
            &read_bytes(&folder, &file).unwrap(),
        );
    }
    let file = wav_file(&wav_format(1, 19, 16_000, 16), &[0; 38]);
    let error = read_bytes(&folder, &file).unwrap_err().to_string();
    assert!(error.contains("19 channels (1 to 18"), "{error}");
}

#[test]
fn stereo_with_the_guitar_in_one_channel_or_turned_in_phase_keeps_its_level() {
    let folder = TempDir::new().unwrap();
    let sound = two_tones(16_000, 0.8);
    for (name, other) in [("silent", 0.0), ("opposite", -1.0), ("far quieter", 0.1)] {
        for guitar_first in [true, false] {
            let samples: Vec<u8> = sound
                .iter()
                .flat_map(|&x| {
                    let pair = [x as f32, (other * x) as f32];
                    let pair = if guitar_first {
                        pair
                    } else {
                        [pair[1], pair[0]]
                    };
                    pair.map(f32::to_le_bytes).concat()
                })
                .collect();
            let file = wav_file(&wav_format(3, 2, 16_000, 32), &samples);
            assert_two_tones(name, &read_bytes(&folder, &file).unwrap());
        }
    }
}

#[test]
fn rates_from_8_to_192_khz_are_read_and_fast_ones_brought_down() {
    let folder = TempDir::new().unwrap();
    for (rate_hz, given_hz) in [
        (8_000, 8_000),
        (11_025, 11_025),
        (22_050, 22_050),
        (44_100, 44_100),
        (48_000, 48_000),
        (64_000, 48_000),
        (88_200, 44_100),
        (96_000, 48_000),
        (176_400, 44_100),
        (192_000, 48_000),
    ] {
        let sound = two_tones(rate_hz, 0.8);
        let samples: Vec<u8> = sound
            .iter()
            .flat_map(|&x| (x as f32).to_le_bytes())
            .collect();
        let file = wav_file(&wav_format(3, 1, rate_hz, 32), &samples);
        let recording = read_bytes(&folder, &file).unwrap();
        assert_eq!(recording.rate_hz, given_hz);
        let length_s = recording.samples.len() as f64 / f64::from(given_hz);
        assert!((length_s - 0.8).abs() < 2e-4, "{rate_hz}: {length_s} s");
        assert_two_tones(&format!("{rate_hz} Hz"), &recording);
    }
    for rate_hz in [0, 7_999, 192_001, u32::MAX] {
        let file = wav_file(&wav_format(1, 1, rate_hz, 16), &[0; 64]);
        let error = read_bytes(&folder, &file).unwrap_err();
        assert!(matches!(error, AudioError::Rate { rate_hz: found, .. } if found == rate_hz));
        assert!(error.to_string().contains("8000 to 192000"), "{error}");
    }
}

#[test]
fn what_is_written_is_read_back_to_the_bit() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("out.wav");
    let samples: Vec<f32> = two_tones(44_100, 0.5).iter().map(|&x| x as f32).collect();
    write_wav(&path, 44_100, &samples).unwrap();
    let recording = read(&path);
    assert_eq!(recording.rate_hz, 44_100);
    assert_eq!(recording.samples, samples);

    let error = write_wav(&folder.path().join("no/such/folder.wav"), 44_100, &samples).unwrap_err();
    assert!(error.to_string().contains("cannot be written"), "{error}");
}

#[test]
fn twenty_minutes_are_read_without_holding_more_than_blocks() {
    const RATE_HZ: u32 = 44_100;
    const MINUTES: u64 = 20;
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("practice.wav");
    let frames = u64::from(RATE_HZ) * 60 * MINUTES;
    // A header and a hole: the file system gives zeros that take no space.
    let mut header = wav_file(&wav_format(1, 2, RATE_HZ, 16), &[]);
    let data_bytes = (frames * 4) as u32;
    header[40..44].copy_from_slice(&data_bytes.to_le_bytes());
    fs::write(&path, &header).unwrap();
    let file = fs::OpenOptions::new().write(true).open(&path).unwrap();
    file.set_len(header.len() as u64 + u64::from(data_bytes))
        .unwrap();

    let mut reader = Reader::open(&path).unwrap();
    assert_eq!(reader.duration_s(), Some(60.0 * MINUTES as f64));
    let (mut block, mut total, mut buffer) = (Vec::with_capacity(BLOCK_FRAMES), 0, None);
    while reader.read(&mut block).unwrap() {
        total += block.len() as u64;
        assert!(block.len() == BLOCK_FRAMES || total == frames);
        // The caller's memory is used again, never grown.
        assert_eq!(*buffer.get_or_insert(block.as_ptr()), block.as_ptr());
    }
    assert_eq!(total, frames);
    assert!(reader.health().is_all_zero());
    assert!(matches!(
        read_all(&path, 60.0),
        Err(AudioError::TooLong { .. })
    ));
}

#[test]
fn recordings_of_more_than_four_gigabytes_are_opened_as_whole_ones() {
    const RATE_HZ: u32 = 192_000;
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("long.wav");
    // 5 GiB of 8 channels, each of 4 bytes: holes that take no space.
    let data_bytes = 5u64 << 30;
    let format = wav_format(3, 8, RATE_HZ, 32);
    for size in [u32::MAX, data_bytes as u32] {
        let mut header = wav_file(&format, &[]);
        header[4..8].copy_from_slice(&size.wrapping_add(36).to_le_bytes());
        header[40..44].copy_from_slice(&size.to_le_bytes());
        fs::write(&path, &header).unwrap();
        let file = fs::OpenOptions::new().write(true).open(&path).unwrap();
        file.set_len(header.len() as u64 + data_bytes).unwrap();
        let mut reader = Reader::open(&path).unwrap();
        let seconds = (data_bytes / 32) as f64 / f64::from(RATE_HZ);
        assert_eq!(reader.duration_s(), Some(seconds));
        assert!(reader.read(&mut Vec::new()).unwrap());
        assert!(!reader.health().cut_off);
        assert_eq!(reader.health().lost_frames, 0);
    }
}

#[test]
fn a_kind_that_is_not_read_is_named_with_the_way_out() {
    let folder = TempDir::new().unwrap();
    for (name, kind, bytes) in [
        ("memo.amr", "AMR", &b"#!AMR\n0123456789"[..]),
        ("sound.caf", "CAF", &b"caff\0\x01\0\0desc"[..]),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        let error = read_all(&path, 60.0).unwrap_err();
        assert!(matches!(error, AudioError::Unsupported { .. }));
        let text = error.to_string();
        for part in [name, kind, "save it as WAV or M4A"] {
            assert!(text.contains(part), "{text}");
        }
    }
}

#[test]
fn a_name_that_is_no_file_is_told_apart() {
    let folder = TempDir::new().unwrap();
    let missing = folder.path().join("strum.wav");
    let error = Reader::open(&missing).err().unwrap();
    assert!(matches!(error, AudioError::Missing { .. }));
    assert!(error.to_string().contains("strum.wav"), "{error}");
    let error = Reader::open(folder.path()).err().unwrap();
    assert!(matches!(error, AudioError::Folder { .. }));
}
