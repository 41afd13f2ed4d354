//! Progress as the diary tells it: how practice went, where it is worst, what to take up next.
//!
//! # What comes next
//! Every chord has a need between 0 and 1.5: the share of its last [`RECENT`] takes that were not clean,
//! with one clean and one other take imagined so that few takes say little; and half a point more the
//! longer it has not been played, all of it after [`FORGOTTEN_DAYS`]. The greatest need comes first.
//! Less than [`BUILD_BELOW`] clean asks for build; else, where one string is at fault in most of the
//! takes that were not clean, for place; else for climb.

use std::collections::{BTreeMap, HashMap, VecDeque};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::chance::Share;
use super::diary::DiaryRow;
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::verdict::Verdict;
use crate::words;

/// Number of takes that are "recent". A choice: one good practice of a chord.
pub const RECENT: usize = 20;
/// After so many days a chord's need has grown by its half point. A choice.
pub const FORGOTTEN_DAYS: f64 = 14.0;
const FORGOTTEN_NEED: f64 = 0.5;
/// Below this share of clean recent takes a chord is to be built up anew. A choice.
pub const BUILD_BELOW: f64 = 0.4;
/// Days that tables set against all before.
pub const LATELY_DAYS: i64 = 7;
/// Gaps longer than this are pauses, in seconds, and no changes of chord. A choice.
const LONGEST_CHANGE_S: f64 = 30.0;
/// Tempos that are told together, in beats a minute. A choice.
const TEMPO_STEP: u32 = 10;

/// The least tempo of the step that a tempo in beats a minute falls into.
pub fn tempo_from(bpm: f64) -> u32 {
    bpm.max(0.0) as u32 / TEMPO_STEP * TEMPO_STEP
}

/// A step by its least tempo, as "70 to 79".
pub fn tempo_range(from: u32) -> String {
    words::grammar::from_to(from, from.saturating_add(TEMPO_STEP - 1))
}
const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// One line of a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ProgressLine {
    /// Name of the chord or the shape.
    pub name: String,
    /// Takes that could be told clean or not, and the clean ones.
    pub clean: Share,
    /// The same of the last [`LATELY_DAYS`] days.
    pub lately: Share,
    /// Milliseconds since 1970 of the last take.
    pub last_ms: i64,
    /// The string (6 to 1) that was most often at fault, what it did most, and how often it was.
    pub worst: Option<(u8, Verdict, u32)>,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// The day, in the time zone that the report was asked for.
    pub date: Date,
    /// Takes that were clean, of those that could be told.
    pub clean: Share,
    /// Times of changes that were made as fast as they would go, from the old chord's end to the new
    /// one's clean sound, each, in seconds.
    pub gaps_s: Vec<f64>,
    /// Lateness of strums that were played along, in ms.
    pub offs_ms: Vec<f64>,
}

/// Changes from one chord to another.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ChordChanges {
    /// Name of the chord left.
    pub from: String,
    /// Name of the chord reached.
    pub to: String,
    /// Changes in all.
    pub changes: u32,
    /// Landings that were clean, of those that could be told.
    pub clean: Share,
    /// Times from the old chord's end to the new one's clean sound, in seconds.
    pub gaps_s: Vec<f64>,
    /// Lateness of strums that were played along, in ms.
    pub offs_ms: Vec<f64>,
}

impl ChordChanges {
    /// "F, Bb"; with their frets where these alone differ.
    pub fn names(&self) -> String {
        let name = |text: &str| text.split(" (").next().unwrap_or_default().to_owned();
        match name(&self.from) == name(&self.to) {
            true => format!("{}, {}", self.from, self.to),
            false => format!("{}, {}", name(&self.from), name(&self.to)),
        }
    }
}

/// State of each string at one fret of the neck.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FretProgress {
    /// String 6 to string 1: what was as it should be, of what could be told.
    pub strings: [Share; STRINGS],
    /// The strings together.
    pub all: Share,
}

/// Chord to take up next, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// Name of the chord.
    pub chord: String,
    /// build, place or climb.
    pub exercise: &'static str,
    /// Need, 0 to 1.5, by the rule at the top of this module.
    pub need: f64,
    /// Clean takes of the last [`RECENT`].
    pub recent: Share,
    /// Whole days since it was last played.
    pub days_unseen: i64,
    /// The string (6 to 1) most often at fault in these takes, its commonest fault, and how often it had that.
    pub worst: Option<(u8, Verdict, u32)>,
}

impl Next {
    /// Frets of the chord, as its name gives them.
    pub fn frets(&self) -> Option<Frets> {
        let within = self.chord.split(['(', ')']).nth(1);
        within.unwrap_or(&self.chord).parse().ok()
    }
}

/// Numbers that the diary tells.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ProgressReport {
    /// Takes in all.
    pub takes: u64,
    /// Takes of which it could not be told whether they were clean.
    pub open: u64,
    /// Takes that the player has put right, those among them that count for nothing.
    pub put_right: u64,
    /// Takes that were clean, of those that could be told.
    pub clean: Share,
    /// Day by day, in the order of the diary.
    pub days: Vec<Day>,
    /// Chord by chord, the one with most takes first.
    pub chords: Vec<ProgressLine>,
    /// Shape by shape, the one with most takes first.
    pub shapes: Vec<ProgressLine>,
    /// Results by the fret at which a shape stands.
    pub neck: Vec<(u8, FretProgress)>,
    /// Number of times that each string (6 to 1) got each verdict, in the order of [`Verdict::ALL`].
    pub strings: [[u32; Verdict::ALL.len()]; STRINGS],
    /// Changes, the commonest pair first.
    pub pairs: Vec<ChordChanges>,
    /// Lateness of strums that were played along, in ms, by tempo: from so many beats a minute up to the
    /// next [`TEMPO_STEP`].
    pub tempos: Vec<(u32, Vec<f64>)>,
    /// The greatest need first.
    pub next: Vec<Next>,
}

/// All that is counted of one voicing.
#[derive(Debug, Default)]
struct VoicingProgress {
    frets: String,
    chord: Option<String>,
    shape: Option<String>,
    fret: Option<u8>,
    clean: Share,
    lately: Share,
    last_ms: i64,
    verdicts: [[u32; Verdict::ALL.len()]; STRINGS],
    /// Of the last takes: clean, and which strings were at fault.
    recent: VecDeque<(bool, [Option<Verdict>; STRINGS])>,
}

/// Takes the diary's rows in their order and tells what they amount to.
#[derive(Debug)]
pub struct ProgressGatherer {
    now: Timestamp,
    zone: TimeZone,
    takes: u64,
    open: u64,
    put_right: u64,
    voicings: Vec<VoicingProgress>,
    by_frets: HashMap<String, usize>,
    days: Vec<Day>,
    /// Up to when the last day lasts.
    day_ends_ms: i64,
    pairs: HashMap<(usize, usize), ChordChanges>,
    tempos: BTreeMap<u32, Vec<f64>>,
    /// Practice, step and time of the take before.
    before: Option<(i64, u32, i64)>,
}

fn column(verdict: Verdict) -> usize {
    Verdict::ALL.iter().position(|v| *v == verdict).unwrap_or(0)
}

impl ProgressGatherer {
    /// Days are those of `zone`; `now` tells what is lately.
    pub fn new(now: Timestamp, zone: TimeZone) -> ProgressGatherer {
        ProgressGatherer {
            now,
            zone,
            takes: 0,
            open: 0,
            put_right: 0,
            voicings: Vec::new(),
            by_frets: HashMap::new(),
            days: Vec::new(),
            day_ends_ms: i64::MIN,
            pairs: HashMap::new(),
            tempos: BTreeMap::new(),
            before: None,
        }
    }

    fn voicing(&mut self, frets: &str) -> usize {
        if let Some(&index) = self.by_frets.get(frets) {
            return index;
        }
        self.voicings.push(VoicingProgress {
            frets: frets.to_owned(),
            ..VoicingProgress::default()
        });
        self.by_frets
            .insert(frets.to_owned(), self.voicings.len() - 1);
        self.voicings.len() - 1
    }

    fn day(&mut self, at_ms: i64) -> Option<&mut Day> {
        if at_ms >= self.day_ends_ms {
            let at = Timestamp::from_millisecond(at_ms).ok()?;
            let date = self.zone.to_datetime(at).date();
            let ends = date
                .tomorrow()
                .ok()?
                .to_zoned_datetime(self.zone.clone())
                .ok()?;
            self.day_ends_ms = ends.timestamp().as_millisecond();
            self.days.push(Day {
                date,
                clean: Share::default(),
                gaps_s: Vec::new(),
                offs_ms: Vec::new(),
            });
        }
        self.days.last_mut()
    }

    /// Takes the next row.
    pub fn add(&mut self, row: &DiaryRow) {
        self.put_right += u64::from(row.put_right);
        if !row.counts {
            return;
        }
        self.takes += 1;
        let lately = row.at_ms >= self.now.as_millisecond() - LATELY_DAYS * DAY_MS;
        let index = self.voicing(row.frets);
        let voicing = &mut self.voicings[index];
        voicing.last_ms = voicing.last_ms.max(row.at_ms);
        if voicing.chord.is_none() {
            voicing.chord = row.chord.map(str::to_owned);
            voicing.shape = row.shape.map(str::to_owned);
            voicing.fret = row.fret;
        }
        match row.clean {
            Some(clean) => {
                voicing.clean.add(clean);
                if lately {
                    voicing.lately.add(clean);
                }
                let faults = row.verdicts.map(|v| v.is_fault().then_some(v));
                voicing.recent.push_back((clean, faults));
                if voicing.recent.len() > RECENT {
                    voicing.recent.pop_front();
                }
                for (counts, verdict) in voicing.verdicts.iter_mut().zip(row.verdicts) {
                    counts[column(verdict)] += 1;
                }
            }
            None => self.open += 1,
        }
        let before = self.before.take();
        self.before = row
            .began_ms
            .zip(row.step)
            .map(|(began, step)| (began, step, row.at_ms));
        let took_s = match (before, self.before) {
            (Some(a), Some(b)) if (a.0, a.1) == (b.0, b.1) => (b.2 - a.2) as f64 / 1000.0,
            _ => f64::INFINITY,
        };
        // Along a route the learner takes the time, along with a backing the tempo does.
        let timed = !matches!(row.exercise, Some("route" | "play"));
        let change = row.from.filter(|_| !timed || took_s <= LONGEST_CHANGE_S);
        if let (Some(off_ms), Some(bpm)) = (row.off_ms, row.tempo_bpm) {
            self.tempos.entry(tempo_from(bpm)).or_default().push(off_ms);
        }
        let Some(day) = self.day(row.at_ms) else {
            return;
        };
        if let Some(clean) = row.clean {
            day.clean.add(clean);
        }
        day.offs_ms.extend(row.off_ms);
        if let Some(from) = change {
            if timed {
                day.gaps_s.extend(row.gap_s);
            }
            let from = self.voicing(from);
            let pair = self.pairs.entry((from, index)).or_default();
            pair.changes += 1;
            pair.offs_ms.extend(row.off_ms);
            if let Some(clean) = row.clean {
                pair.clean.add(clean);
            }
            pair.gaps_s.extend(row.gap_s);
        }
    }

    /// Gives what it all amounts to.
    pub fn report(self) -> ProgressReport {
        let mut report = ProgressReport {
            takes: self.takes,
            open: self.open,
            put_right: self.put_right,
            ..ProgressReport::default()
        };
        // A voicing may be there only as one that was left.
        let played = || self.voicings.iter().filter(|v| v.last_ms > 0);
        let mut shapes: HashMap<String, Vec<&VoicingProgress>> = HashMap::new();
        let mut neck: HashMap<u8, FretProgress> = HashMap::new();
        for voicing in played() {
            report.clean.add_all(voicing.clean);
            for (total, counts) in report.strings.iter_mut().zip(&voicing.verdicts) {
                for (total, count) in total.iter_mut().zip(counts) {
                    *total += count;
                }
            }
            report.chords.push(line(voicing.name(), &[voicing]));
            if let Some(shape) = &voicing.shape {
                shapes.entry(shape.clone()).or_default().push(voicing);
            }
            if let (Some(at), Some(_)) = (voicing.fret, &voicing.shape) {
                let fret = neck.entry(at).or_default();
                fret.all.add_all(voicing.clean);
                for (share, counts) in fret.strings.iter_mut().zip(&voicing.verdicts) {
                    share.add_all(as_it_should_be(counts));
                }
            }
            if voicing.chord.is_some() {
                report.next.extend(next(voicing, self.now));
            }
        }
        report.shapes = shapes
            .into_iter()
            .map(|(name, of)| line(name, &of))
            .collect();
        for lines in [&mut report.chords, &mut report.shapes] {
            lines.sort_by(|a, b| b.clean.of.cmp(&a.clean.of).then(a.name.cmp(&b.name)));
        }
        report.neck = neck.into_iter().collect();
        report.neck.sort_by_key(|(fret, _)| *fret);
        report
            .next
            .sort_by(|a, b| b.need.total_cmp(&a.need).then(a.chord.cmp(&b.chord)));
        report.pairs = (self.pairs.into_iter())
            .map(|((from, to), pair)| ChordChanges {
                from: self.voicings[from].name(),
                to: self.voicings[to].name(),
                ..pair
            })
            .collect();
        report.pairs.sort_by(|a, b| {
            b.changes
                .cmp(&a.changes)
                .then((&a.from, &a.to).cmp(&(&b.from, &b.to)))
        });
        report.days = self.days;
        report.tempos = self.tempos.into_iter().collect();
        report
    }
}

impl VoicingProgress {
    /// `Bb (x13331)`, the barre that it is, or the frets alone.
    fn name(&self) -> String {
        let barre = || self.frets.parse::<Frets>().ok()?.barre_name();
        match &self.chord {
            Some(chord) => format!("{chord} ({})", self.frets),
            None => barre().unwrap_or_else(|| self.frets.clone()),
        }
    }
}

fn as_it_should_be(counts: &[u32; Verdict::ALL.len()]) -> Share {
    let mut share = Share::default();
    for (verdict, &count) in Verdict::ALL.iter().zip(counts) {
        if *verdict != Verdict::Unsure {
            share.of += count;
            share.part += if verdict.is_fault() { 0 } else { count };
        }
    }
    share
}

/// The string most often at fault, what it did most, and how often it was.
fn worst(count: impl Fn(usize, Verdict) -> u32) -> Option<(u8, Verdict, u32)> {
    let faults = || Verdict::ALL.into_iter().filter(|v| v.is_fault());
    let sum = |string: usize| faults().map(|v| count(string, v)).sum::<u32>();
    // Of equals the lower string.
    let string = (0..STRINGS).rev().max_by_key(|&s| sum(s))?;
    let most = faults().max_by_key(|&v| count(string, v))?;
    (sum(string) > 0).then(|| (string_number(string), most, sum(string)))
}

fn line(name: String, voicings: &[&VoicingProgress]) -> ProgressLine {
    let mut line = ProgressLine {
        name,
        ..ProgressLine::default()
    };
    for voicing in voicings {
        line.clean.add_all(voicing.clean);
        line.lately.add_all(voicing.lately);
        line.last_ms = line.last_ms.max(voicing.last_ms);
    }
    line.worst = worst(|string, verdict| {
        let of = |v: &&VoicingProgress| v.verdicts[string][column(verdict)];
        voicings.iter().map(of).sum()
    });
    line
}

/// How much a chord is needed: see the top of this file.
fn next(voicing: &VoicingProgress, now: Timestamp) -> Option<Next> {
    let mut recent = Share::default();
    for (clean, _) in &voicing.recent {
        recent.add(*clean);
    }
    recent.share()?;
    let weak = 1.0 - f64::from(recent.part + 1) / f64::from(recent.of + 2);
    let unseen_ms = (now.as_millisecond() - voicing.last_ms).max(0);
    let days_unseen = unseen_ms as f64 / DAY_MS as f64;
    let need = weak + FORGOTTEN_NEED * (days_unseen / FORGOTTEN_DAYS).min(1.0);
    let worst = worst(|string, verdict| {
        let faults = voicing
            .recent
            .iter()
            .filter(|(_, f)| f[string] == Some(verdict));
        faults.count() as u32
    });
    let faulty = recent.of - recent.part;
    let one_string = worst.is_some_and(|(_, _, times)| 2 * times > faulty && faulty > 1);
    let exercise = match recent.share()? {
        share if share < BUILD_BELOW => "build",
        _ if one_string => "place",
        _ => "climb",
    };
    Some(Next {
        chord: voicing.name(),
        exercise,
        need,
        recent,
        days_unseen: unseen_ms / DAY_MS,
        worst,
    })
}

#[cfg(test)]
mod tests;
