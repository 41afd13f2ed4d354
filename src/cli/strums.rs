//! The strums of recordings, and what is wrong with a recording.

use std::collections::VecDeque;
use std::panic;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::{self, JoinHandle};

use anyhow::bail;
use indicatif::ProgressBar;

use crate::audio::{AudioError, Health, Reader};
use crate::fretboard::{Frets, Tuning};
use crate::take::{Finder, Strum};

/// Missing sound shorter than this is not worth a word, in seconds: players and encoders drop a
/// packet at a file's ends.
const LOST_S: f64 = 0.1;
/// Below this peak a recording without a take is called too quiet, in dBFS: strums down to -35 are
/// found, so this one holds hardly more than its noise.
const HARDLY_ANY_SOUND_DBFS: f32 = -45.0;

/// So many blocks (85 ms each) are read ahead at most: two or three strums, so that finding the next ones
/// goes on while one is judged, and memory stays small however long the recording is.
const AHEAD_BLOCKS: usize = 96;

/// The strums of a recording, each as soon as it is certain; found on a thread of its own while the ones before are
/// looked at. Reading stops where the recording ends or cannot be read on: [`problem`](Strums::problem) says so.
pub struct Strums {
    path: PathBuf,
    rate_hz: u32,
    duration_s: Option<f64>,
    pieces: Receiver<Piece>,
    /// Until it has ended.
    reading: Option<JoinHandle<Ended>>,
    found: VecDeque<Strum>,
    /// Strums given so far.
    pub count: usize,
    health: Health,
    /// Why reading stopped before the end, if it did.
    pub error: Option<AudioError>,
    /// Goes on with every second whose strums have been given.
    pub bar: ProgressBar,
}

/// What a block has brought.
struct Piece {
    found: Vec<Strum>,
    /// Samples up to its end.
    samples: u64,
}

/// How reading ended.
struct Ended {
    health: Health,
    error: Option<AudioError>,
}

impl Strums {
    /// Opens a recording; where these frets are meant, in this tuning, more of them is found.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn of(path: &Path, tuning: &Tuning, meant: Option<&Frets>) -> Result<Strums, AudioError> {
        let reader = Reader::open(path)?;
        let mut finder = Finder::new(reader.rate_hz());
        finder.expect(tuning, meant);
        let (sender, pieces) = sync_channel(AHEAD_BLOCKS);
        Ok(Strums {
            path: path.to_owned(),
            rate_hz: reader.rate_hz(),
            duration_s: reader.duration_s(),
            pieces,
            reading: Some(thread::spawn(move || read(reader, finder, &sender))),
            found: VecDeque::new(),
            count: 0,
            health: Health::default(),
            error: None,
            bar: ProgressBar::hidden(),
        })
    }

    /// Length in seconds as the file states it, where it does.
    pub fn duration_s(&self) -> Option<f64> {
        self.duration_s
    }

    /// What is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        let error = self.error.as_ref().map(AudioError::to_string);
        problem(&self.path, error, &self.health, self.rate_hz, self.count)
    }

    /// Takes what the next block has brought; false after the last one.
    fn take_piece(&mut self) -> bool {
        if let Ok(piece) = self.pieces.recv() {
            self.found.extend(piece.found);
            self.bar
                .set_position(piece.samples / u64::from(self.rate_hz));
            return true;
        }
        if let Some(reading) = self.reading.take() {
            let ended = reading.join();
            let ended = ended.unwrap_or_else(|why| panic::resume_unwind(why));
            (self.health, self.error) = (ended.health, ended.error);
        }
        false
    }
}

impl Iterator for Strums {
    type Item = Strum;

    fn next(&mut self) -> Option<Strum> {
        while self.found.is_empty() && self.take_piece() {}
        let strum = self.found.pop_front()?;
        self.count += 1;
        Some(strum)
    }
}

/// Reads to the end and hands over what each block brings, until nobody takes it any more.
fn read(mut reader: Reader, mut finder: Finder, pieces: &SyncSender<Piece>) -> Ended {
    let (mut block, mut samples) = (Vec::new(), 0);
    let error = loop {
        let mut found = Vec::new();
        let outcome = reader.read(&mut block);
        match &outcome {
            Ok(true) => finder.push(&block, &mut found),
            _ => finder.finish(&mut found),
        }
        samples += block.len() as u64;
        let taken = pieces.send(Piece { found, samples });
        match outcome {
            Ok(true) if taken.is_ok() => {}
            other => break other.err(),
        }
    };
    Ended {
        health: reader.health(),
        error,
    }
}

/// The strum with a number, counted from 1, and how many there are.
///
/// # Errors
/// A recording that cannot be read, or that has no such strum.
pub fn nth(
    file: &Path,
    number: usize,
    tuning: &Tuning,
    meant: Option<&Frets>,
) -> anyhow::Result<(Strum, usize)> {
    let mut strums = Strums::of(file, tuning, meant)?;
    let mut kept = None;
    while let Some(strum) = strums.next() {
        if strums.count == number {
            kept = Some(strum);
        }
    }
    if let Some(error) = strums.error {
        bail!(error);
    }
    let name = file.display();
    match (kept, strums.count) {
        (Some(strum), count) => Ok((strum, count)),
        (None, 0) => bail!(nothing_found(file, &strums.health)),
        (None, 1) => {
            bail!("{name}: there is one strum, so take {number} was not found; leave --take out")
        }
        (None, count) => {
            bail!("{name}: takes 1 to {count} were found, take {number} was not; name one of them")
        }
    }
}

/// What is wrong with a recording that was read as far as it could be, where that is worth a word:
/// why it could not be read on (`error`), what of it is missing or no sound, why no strum was found.
pub fn problem(
    file: &Path,
    error: Option<String>,
    health: &Health,
    rate_hz: u32,
    strums: usize,
) -> Option<String> {
    let damage = damage(file, health, rate_hz).map(|damage| match strums {
        0 => format!("{damage}; in what is there no strum was found"),
        _ => damage,
    });
    error
        .or(damage)
        .or_else(|| (strums == 0).then(|| nothing_found(file, health)))
}

/// What of the file is missing or no sound, where that is worth a word.
pub fn damage(file: &Path, health: &Health, rate_hz: u32) -> Option<String> {
    let name = file.display();
    let lost_s = health.lost_frames as f64 / f64::from(rate_hz);
    if health.cut_off {
        Some(format!(
            "{name}: the file breaks off before its end; what is there was used; for the rest, copy or export it again"
        ))
    } else if lost_s >= LOST_S {
        Some(format!(
            "{name}: {lost_s:.1} s of the file are damaged and were left out; copy or export it again"
        ))
    } else if health.unusable_samples > 0 {
        Some(format!(
            "{name}: {} samples are not numbers and were taken as silence; export the file again",
            health.unusable_samples
        ))
    } else {
        None
    }
}

/// Why no take was found, and what to do.
fn nothing_found(file: &Path, health: &Health) -> String {
    let name = file.display();
    if health.is_all_zero() {
        format!(
            "{name}: complete silence, as from a microphone that is muted or not allowed; \
             switch it on and record again"
        )
    } else if 20.0 * health.peak.log10() < HARDLY_ANY_SOUND_DBFS {
        format!(
            "{name}: no strum was found, there is hardly any sound; move the microphone nearer \
             or turn its level up, and record again"
        )
    } else {
        format!(
            "{name}: no strum was found; strum the chord once, let it ring for two seconds, \
             and record again"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::{read_all, write_wav};
    use crate::take;

    /// The bundled strum, struck so many times.
    fn struck(times: usize, folder: &Path) -> (PathBuf, Vec<f32>, u32) {
        let one = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
        let one = read_all(one, 10.0).expect("the bundled strum");
        let (samples, path) = (one.samples.repeat(times), folder.join("strums.wav"));
        write_wav(&path, one.rate_hz, &samples).expect("a file");
        (path, samples, one.rate_hz)
    }

    #[test]
    fn strums_of_a_file_are_those_found_in_all_its_sound_at_once() {
        let folder = tempfile::tempdir().expect("a folder");
        // More than is read ahead.
        let (path, samples, rate_hz) = struck(20, folder.path());
        assert!(samples.len() > (AHEAD_BLOCKS + 2) * crate::audio::BLOCK_FRAMES);
        let mut strums = Strums::of(&path, &Tuning::default(), None).expect("a recording");
        let found: Vec<(u64, usize)> = (&mut strums).map(|s| (s.first, s.samples.len())).collect();
        let at_once = take::strums(&read_all(&path, 100.0).expect("it").samples, rate_hz);
        let at_once: Vec<_> = at_once.iter().map(|s| (s.first, s.samples.len())).collect();
        assert_eq!(found, at_once);
        assert_eq!(strums.count, found.len());
        assert!(found.len() > 10, "{}", found.len());
        assert_eq!(strums.problem(), None);
        assert!(strums.next().is_none());
    }

    #[test]
    fn reading_ends_when_nobody_asks_for_more() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, ..) = struck(20, folder.path());
        let mut strums = Strums::of(&path, &Tuning::default(), None).expect("a recording");
        assert!(strums.next().is_some());
        let reading = strums.reading.take().expect("it goes on");
        drop(strums);
        assert!(reading.join().expect("no panic").error.is_none());
    }
}
