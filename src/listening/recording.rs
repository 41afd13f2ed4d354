//! Recordings: their strums, each judged, and what is wrong with a recording.
//!
//! Strums are found on a thread of their own while those before are judged, side by side where several are found
//! already.

use std::collections::{HashMap, VecDeque};
use std::panic;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread::{self, JoinHandle};

use rayon::prelude::*;

use crate::audio::{AudioError, Health, Reader};
use crate::decibels;
use crate::fretboard::Tuning;
use crate::strings::{Learnt, Networks};
use crate::take::{Finder, Take};
use crate::verdict::{Analyser, AnalyserSettings, Expected, History, JudgedTake};
use crate::words;

/// Missing sound shorter than this is not worth a word, in seconds: players and encoders drop a
/// packet at a file's ends.
const LOST_S: f64 = 0.1;
/// Below this peak a recording without a take is called too quiet, in dBFS: strums down to -35 are
/// found, so this one holds hardly more than its noise.
const HARDLY_ANY_SOUND_DBFS: f32 = -45.0;

/// So many blocks (85 ms each) are read ahead at most: two or three strums, so that finding the next ones
/// goes on while one is judged, and memory stays small however long the recording is.
const AHEAD_BLOCKS: usize = 96;

/// A take, and what was said of it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardTake {
    /// Sound of the take, with its onsets.
    pub sound: Take,
    /// Verdicts on the take.
    pub take: JudgedTake,
}

/// Judges recordings: planned once for each sample rate, used for many files.
pub struct Judge {
    tuning: Tuning,
    networks: Networks,
    /// Those that have worked so far, by sample rate in Hz.
    analysers: HashMap<u32, Team>,
}

/// Analysers for one rate, as many as worked side by side so far.
struct Team {
    settings: AnalyserSettings,
    networks: Networks,
    analysers: Vec<Analyser>,
}

impl Team {
    /// So many analysers.
    fn of(&mut self, count: usize) -> &mut [Analyser] {
        while self.analysers.len() < count {
            let analyser = Analyser::with_networks(self.settings, self.networks.clone());
            self.analysers.push(analyser);
        }
        &mut self.analysers[..count]
    }

    /// Judges strums side by side; `history` are the takes before them, and these after that.
    fn judge(
        &mut self,
        strums: Vec<Take>,
        expected: &Expected,
        history: &mut History,
    ) -> Vec<HeardTake> {
        if expected.looks_back() {
            let analyser = &mut self.of(1)[0];
            let judged = strums.into_iter().map(|sound| {
                let take = expected.judge(analyser, &sound, history);
                history.remember(take.clone());
                HeardTake { sound, take }
            });
            return judged.collect();
        }
        let takes: Vec<JudgedTake> = (self.of(strums.len()).par_iter_mut().zip(&strums))
            .map(|(analyser, strum)| expected.judge(analyser, strum, &[]))
            .collect();
        let judged = strums.into_iter().zip(takes).map(|(sound, mut take)| {
            expected.explain(&mut take, history);
            history.remember(take.clone());
            HeardTake { sound, take }
        });
        judged.collect()
    }
}

impl Judge {
    /// A judge of guitars in this tuning.
    pub fn new(tuning: Tuning) -> Self {
        Self::with_networks(tuning, Networks::built_in())
    }

    /// A judge of one guitar, by what was learnt of it too.
    pub fn of_guitar(tuning: Tuning, learnt: Learnt) -> Self {
        Self::with_networks(tuning, Networks::built_in().with(learnt))
    }

    /// A judge with networks of one's own, as measuring needs.
    pub fn with_networks(tuning: Tuning, networks: Networks) -> Self {
        Judge {
            tuning,
            networks,
            analysers: HashMap::new(),
        }
    }

    /// Tuning of the guitars that it judges.
    pub fn tuning(&self) -> &Tuning {
        &self.tuning
    }

    fn team(&mut self, rate_hz: u32) -> &mut Team {
        let (tuning, networks) = (self.tuning, &self.networks);
        self.analysers.entry(rate_hz).or_insert_with(|| Team {
            settings: AnalyserSettings { tuning, rate_hz },
            networks: networks.clone(),
            analysers: Vec::new(),
        })
    }

    /// Opens a recording whose takes are held against `expected`.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn recording<'a>(
        &'a mut self,
        path: &Path,
        expected: &'a Expected,
    ) -> Result<Takes<'a>, AudioError> {
        let strums = FoundTakes::open(path, &self.tuning, expected)?;
        let team = self.team(strums.rate_hz);
        // Planned while the first strum is sought.
        team.of(1);
        Ok(Takes {
            team,
            strums,
            expected,
            judged: VecDeque::new(),
            history: History::default(),
        })
    }

    /// All takes of mono samples at a rate in Hz, in order, held against `expected`.
    pub fn samples(
        &mut self,
        samples: &[f32],
        rate_hz: u32,
        expected: &Expected,
    ) -> Vec<HeardTake> {
        let mut finder = expected.finder(rate_hz, &self.tuning);
        let mut strums = Vec::new();
        finder.push(samples, &mut strums);
        finder.finish(&mut strums);
        let mut history = History::default();
        let mut judged = Vec::new();
        while !strums.is_empty() {
            let rest = strums.split_off(strums.len().min(rayon::current_num_threads()));
            let some = std::mem::replace(&mut strums, rest);
            judged.extend(self.team(rate_hz).judge(some, expected, &mut history));
        }
        judged
    }

    /// Judges one strum by itself, without the takes before it.
    pub fn strum(&mut self, strum: &Take, expected: &Expected) -> JudgedTake {
        let team = self.team(strum.rate_hz);
        expected.judge(&mut team.of(1)[0], strum, &[])
    }
}

/// Judges sound that comes block by block, each take as soon as it is certain and on the thread that calls: for where
/// there is no other. Says what [`Judge`] says of the same sound.
pub struct InTurn {
    finder: Finder,
    analyser: Analyser,
    expected: Expected,
    strums: Vec<Take>,
    history: History,
}

impl InTurn {
    /// Makes one for sound at the rate and in the tuning of `settings`, held against `expected`.
    pub fn new(settings: AnalyserSettings, expected: Expected) -> Self {
        InTurn {
            finder: expected.finder(settings.rate_hz, &settings.tuning),
            analyser: Analyser::new(settings),
            expected,
            strums: Vec::new(),
            history: History::default(),
        }
    }

    /// Takes the next mono samples and adds the takes that are certain now to `judged`.
    pub fn push(&mut self, samples: &[f32], judged: &mut Vec<HeardTake>) {
        self.finder.push(samples, &mut self.strums);
        self.judge(judged);
    }

    /// The sound is over: adds the takes that were still sounding to `judged`.
    pub fn finish(&mut self, judged: &mut Vec<HeardTake>) {
        self.finder.finish(&mut self.strums);
        self.judge(judged);
    }

    fn judge(&mut self, judged: &mut Vec<HeardTake>) {
        for sound in self.strums.drain(..) {
            let take = (self.expected).judge(&mut self.analyser, &sound, &self.history);
            self.history.remember(take.clone());
            judged.push(HeardTake { sound, take });
        }
    }
}

/// The judged takes of a recording, in order, each as soon as it is certain. Finding goes on beside judging, and
/// strums that are found already are judged side by side.
pub struct Takes<'a> {
    strums: FoundTakes,
    expected: &'a Expected,
    team: &'a mut Team,
    judged: VecDeque<HeardTake>,
    history: History,
}

impl Takes<'_> {
    /// Length in seconds as the file states it, where it does.
    pub fn duration_s(&self) -> Option<f64> {
        self.strums.duration_s
    }

    /// Tells how far the recording has been listened to, in seconds.
    pub fn position_s(&self) -> f64 {
        self.strums.samples as f64 / f64::from(self.strums.rate_hz)
    }

    /// Gives what is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        self.strums.problem()
    }

    /// Judges the next strum and those that are found already.
    fn judge_next(&mut self) -> Option<()> {
        let mut found = vec![self.strums.next()?];
        while found.len() < rayon::current_num_threads()
            && let Some(strum) = self.strums.next_found()
        {
            found.push(strum);
        }
        let judged = self.team.judge(found, self.expected, &mut self.history);
        self.judged.extend(judged);
        Some(())
    }
}

impl Iterator for Takes<'_> {
    type Item = HeardTake;

    fn next(&mut self) -> Option<HeardTake> {
        if self.judged.is_empty() {
            self.judge_next()?;
        }
        self.judged.pop_front()
    }
}

/// The strums of a recording, each as soon as it is certain; found on a thread of its own. Reading stops where the
/// recording ends or cannot be read on: [`problem`](FoundTakes::problem) says so.
pub struct FoundTakes {
    path: PathBuf,
    rate_hz: u32,
    duration_s: Option<f64>,
    pieces: Receiver<ReadPiece>,
    /// Until it has ended.
    reading: Option<JoinHandle<Ended>>,
    found: VecDeque<Take>,
    /// Strums given so far.
    count: usize,
    /// Samples listened to so far.
    samples: u64,
    health: Health,
    error: Option<AudioError>,
}

/// What a block has brought.
struct ReadPiece {
    found: Vec<Take>,
    /// Samples up to its end.
    samples: u64,
}

/// How reading ended.
struct Ended {
    health: Health,
    error: Option<AudioError>,
}

impl FoundTakes {
    /// Opens a recording in which `expected` is played.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn open(
        path: &Path,
        tuning: &Tuning,
        expected: &Expected,
    ) -> Result<FoundTakes, AudioError> {
        let reader = Reader::open(path)?;
        let finder = expected.finder(reader.rate_hz(), tuning);
        let (sender, pieces) = sync_channel(AHEAD_BLOCKS);
        Ok(FoundTakes {
            path: path.to_owned(),
            rate_hz: reader.rate_hz(),
            duration_s: reader.duration_s(),
            pieces,
            reading: Some(thread::spawn(move || read(reader, finder, &sender))),
            found: VecDeque::new(),
            count: 0,
            samples: 0,
            health: Health::default(),
            error: None,
        })
    }

    /// Reason why reading stopped before the end, if it did.
    pub fn error(&self) -> Option<&AudioError> {
        self.error.as_ref()
    }

    /// Says why there is no strum with a number, counted from 1, and what to do; to be asked at the end.
    pub fn no_such_take(&self, number: usize) -> String {
        let name = self.path.display();
        match self.count {
            0 => nothing_found(&self.path, &self.health),
            1 => words::recording::one_strum(&name, number),
            count => words::recording::takes_found(&name, count, number),
        }
    }

    /// Gives what is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        let error = self.error.as_ref().map(AudioError::to_string);
        problem(&self.path, error, &self.health, self.rate_hz, self.count)
    }

    fn take_piece(&mut self, piece: ReadPiece) {
        self.found.extend(piece.found);
        self.samples = piece.samples;
    }

    /// Joins the reading thread once it has ended.
    fn end(&mut self) {
        if let Some(reading) = self.reading.take() {
            let ended = reading.join();
            let ended = ended.unwrap_or_else(|why| panic::resume_unwind(why));
            (self.health, self.error) = (ended.health, ended.error);
        }
    }

    /// The next strum, where it is found already.
    fn next_found(&mut self) -> Option<Take> {
        while self.found.is_empty() {
            match self.pieces.try_recv() {
                Ok(piece) => self.take_piece(piece),
                Err(TryRecvError::Empty | TryRecvError::Disconnected) => return None,
            }
        }
        self.give()
    }

    fn give(&mut self) -> Option<Take> {
        let strum = self.found.pop_front()?;
        self.count += 1;
        Some(strum)
    }
}

impl Iterator for FoundTakes {
    type Item = Take;

    fn next(&mut self) -> Option<Take> {
        while self.found.is_empty() {
            match self.pieces.recv() {
                Ok(piece) => self.take_piece(piece),
                Err(_) => {
                    self.end();
                    break;
                }
            }
        }
        self.give()
    }
}

/// Reads to the end and hands over what each block brings, until nobody takes it any more.
fn read(mut reader: Reader, mut finder: Finder, pieces: &SyncSender<ReadPiece>) -> Ended {
    let (mut block, mut samples) = (Vec::new(), 0);
    let error = loop {
        let mut found = Vec::new();
        let outcome = reader.read(&mut block);
        match &outcome {
            Ok(true) => finder.push(&block, &mut found),
            _ => finder.finish(&mut found),
        }
        samples += block.len() as u64;
        let taken = pieces.send(ReadPiece { found, samples });
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

/// Gives what is wrong with a recording that was read as far as it could be, where that is worth a word:
/// why it could not be read on (`error`), what of it is missing or no sound, why no strum was found.
pub fn problem(
    file: &Path,
    error: Option<String>,
    health: &Health,
    rate_hz: u32,
    strums: usize,
) -> Option<String> {
    let damage = damage(file, health, rate_hz).map(|damage| match strums {
        0 => words::recording::nothing_in_what_is_there(&damage),
        _ => damage,
    });
    error
        .or(damage)
        .or_else(|| (strums == 0).then(|| nothing_found(file, health)))
}

/// Gives what of the file is missing or no sound, where that is worth a word.
pub fn damage(file: &Path, health: &Health, rate_hz: u32) -> Option<String> {
    let name = file.display();
    let lost_s = health.lost_frames as f64 / f64::from(rate_hz);
    if health.cut_off {
        Some(words::recording::breaks_off(&name))
    } else if lost_s >= LOST_S {
        Some(words::recording::damaged(&name, lost_s))
    } else if health.unusable_samples > 0 {
        Some(words::recording::not_numbers(
            &name,
            health.unusable_samples,
        ))
    } else {
        None
    }
}

/// Why no take was found, and what to do.
fn nothing_found(file: &Path, health: &Health) -> String {
    let name = file.display();
    if health.is_all_zero() {
        words::recording::complete_silence(&name)
    } else if decibels::of_amplitude(health.peak) < HARDLY_ANY_SOUND_DBFS {
        words::recording::hardly_any_sound(&name)
    } else {
        words::recording::no_strum(&name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::{read_all, write_wav};
    use crate::take;
    use crate::verdict::ExpectedVoicing;

    /// The bundled strum, struck so many times.
    fn struck(times: usize, folder: &Path) -> (PathBuf, Vec<f32>, u32) {
        let one = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
        let one = read_all(one, 10.0).expect("the bundled strum");
        let (samples, path) = (one.samples.repeat(times), folder.join("strums.wav"));
        write_wav(&path, one.rate_hz, &samples).expect("a file");
        (path, samples, one.rate_hz)
    }

    fn meant() -> Expected {
        let frets = "x13331".parse().expect("frets");
        Expected::Named(ExpectedVoicing::usual(frets, None, &Tuning::default()))
    }

    fn opened(path: &Path) -> FoundTakes {
        FoundTakes::open(path, &Tuning::default(), &meant()).expect("a recording")
    }

    #[test]
    fn strums_of_a_file_are_those_found_in_all_its_sound_at_once() {
        let folder = tempfile::tempdir().expect("a folder");
        // More than is read ahead.
        let (path, samples, rate_hz) = struck(20, folder.path());
        assert!(samples.len() > (AHEAD_BLOCKS + 2) * crate::audio::BLOCK_FRAMES);
        let mut strums = opened(&path);
        let found: Vec<(u64, usize)> = (&mut strums).map(|s| (s.first, s.samples.len())).collect();
        let read = read_all(&path, 100.0).expect("it");
        let frets = meant().named().expect("a voicing").frets;
        let at_once = take::strums_of(&read.samples, rate_hz, &Tuning::default(), &frets);
        let at_once: Vec<_> = at_once.iter().map(|s| (s.first, s.samples.len())).collect();
        assert_eq!(found, at_once);
        assert_eq!(strums.count, found.len());
        assert!(found.len() > 10, "{}", found.len());
        assert_eq!(strums.problem(), None);
        assert!(strums.next().is_none());
    }

    #[test]
    fn judged_in_turn_takes_are_those_of_all_threads() {
        let folder = tempfile::tempdir().expect("a folder");
        let (_, samples, rate_hz) = struck(4, folder.path());
        let tuning = Tuning::default();
        let all = Judge::new(tuning).samples(&samples, rate_hz, &meant());
        let mut judged = Vec::new();
        let mut in_turn = InTurn::new(AnalyserSettings { tuning, rate_hz }, meant());
        for block in samples.chunks(1_000) {
            in_turn.push(block, &mut judged);
        }
        in_turn.finish(&mut judged);
        assert_eq!(judged.len(), 4);
        assert_eq!(judged, all);
    }

    #[test]
    fn reading_ends_when_nobody_asks_for_more() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, ..) = struck(20, folder.path());
        let mut strums = opened(&path);
        assert!(strums.next().is_some());
        let reading = strums.reading.take().expect("it goes on");
        drop(strums);
        assert!(reading.join().expect("no panic").error.is_none());
    }
}
