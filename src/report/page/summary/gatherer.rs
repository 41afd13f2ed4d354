//! Takes one after the other, summed up.

use std::collections::{BTreeSet, HashMap};

use jiff::civil::DateTime;

use super::causes::Causes;
use super::voicing::VoicingCounts;
use super::{LeftOut, MOST_LISTED, Summary};
use crate::fretboard::Frets;
use crate::practice::practised_s;
use crate::report::page::played::PlayedTake;
use crate::report::page::timing;
use crate::words;

/// Takes one after the other and sums them up; of the takes themselves it keeps those alone that a page may
/// show.
#[derive(Debug, Default)]
pub struct SummaryGatherer {
    takes: usize,
    judged: usize,
    clean: usize,
    /// Seconds from take to take, of those that have a moment.
    practised_s: Option<f64>,
    first: Option<DateTime>,
    last: Option<DateTime>,
    guitars: BTreeSet<String>,
    /// As they came, and where each one is.
    voicings: Vec<VoicingCounts>,
    by_frets: HashMap<Frets, usize>,
    causes: Causes,
    not_judged: Counts,
    unread: usize,
    left_out: Vec<LeftOut>,
    timing: timing::TimingGatherer,
}

impl SummaryGatherer {
    /// Takes the next take, which should be in the order of time.
    pub fn add(&mut self, played: PlayedTake) {
        let at = self.takes;
        self.takes += 1;
        self.clean += usize::from(played.is_clean());
        if let Some(when) = played.when {
            if let Some(before) = self.last {
                let apart_s = when.duration_since(before).as_secs_f64();
                let so_far = self.practised_s.unwrap_or(0.0);
                self.practised_s = Some(so_far + practised_s(apart_s).unwrap_or(0.0));
            }
            self.first = Some(self.first.map_or(when, |first| first.min(when)));
            self.last = Some(self.last.map_or(when, |last| last.max(when)));
        }
        if let Some(guitar) = &played.guitar
            && !self.guitars.contains(guitar)
        {
            self.guitars.insert(guitar.clone());
        }
        self.causes.add(&played.take);
        match played.take.judged() {
            true => self.judged += 1,
            false => {
                let why = played.why_not.as_deref();
                let why = why.unwrap_or(words::page::NO_REASON);
                self.not_judged.add(why);
                self.leave_out(LeftOut {
                    file: played.name.clone(),
                    at_s: Some(played.take.start_s),
                    why: why.to_owned(),
                });
            }
        }
        self.timing.add(&played);
        let frets = played.take.frets;
        if frets.sounding().next().is_none() {
            return;
        }
        let index = *self.by_frets.entry(frets).or_insert_with(|| {
            self.voicings.push(VoicingCounts::new(frets));
            self.voicings.len() - 1
        });
        self.voicings[index].add(at, played);
    }

    /// Counts a recording of which nothing could be read, and notes why.
    pub fn unread(&mut self, file: String, why: String) {
        self.unread += 1;
        self.leave_out(LeftOut {
            file,
            at_s: None,
            why,
        });
    }

    /// Notes what could not be judged.
    pub fn leave_out(&mut self, what: LeftOut) {
        if self.left_out.len() < MOST_LISTED {
            self.left_out.push(what);
        }
    }

    /// Gives what it all comes to, and the takes that it names, by their positions among all.
    pub fn finish(mut self) -> (Summary, HashMap<usize, PlayedTake>) {
        // As they came where they were played equally often.
        self.voicings.sort_by_key(|v| std::cmp::Reverse(v.takes));
        let mut named = HashMap::new();
        let chords = self.voicings.into_iter().map(|v| v.finish(&mut named));
        let summary = Summary {
            takes: self.takes,
            judged: self.judged,
            clean: self.clean,
            minutes: (self.practised_s).map(|s| (s / 60.0).ceil() as usize),
            unread: self.unread,
            first: self.first,
            last: self.last,
            guitars: self.guitars.into_iter().collect(),
            chords: chords.collect(),
            causes: self.causes.finish(),
            not_judged: self.not_judged.finish(),
            left_out: self.left_out,
            timing: self.timing.finish(),
        };
        (summary, named)
    }
}

/// How often each text came; the commonest first, in the order in which they came where equally often.
#[derive(Debug, Default)]
struct Counts {
    counts: Vec<(String, usize)>,
    by_text: HashMap<String, usize>,
}

impl Counts {
    fn add(&mut self, text: &str) {
        match self.by_text.get(text) {
            Some(&index) => self.counts[index].1 += 1,
            None => {
                self.by_text.insert(text.to_owned(), self.counts.len());
                self.counts.push((text.to_owned(), 1));
            }
        }
    }

    fn finish(mut self) -> Vec<(String, usize)> {
        self.counts
            .sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        self.counts
    }
}
