//! Sums of many takes: the numbers of the page, of `--csv` and of `--json`.

use std::cmp::Ordering;
use std::collections::{BTreeSet, HashMap};

use jiff::civil::{Date, DateTime, Weekday};
use serde::Serialize;

use super::played::Played;
use super::timing::{self, Timing};
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::practice::practised_s;
use crate::verdict::{Cause, Take, Verdict};
use crate::words;

/// Time is told in so many parts at most: days, else weeks, months or years.
const MOST_PARTS: usize = 8;
/// Without dates, takes are told in so many equal parts at most, of so many takes at least.
const PARTS: usize = 6;
const PART_TAKES: usize = 3;

/// The numbers of a report.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    /// Takes in all.
    pub takes: usize,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
    /// Minutes from take to take, without [rests](crate::practice::REST_S); `None` where no two takes have a moment.
    pub minutes: Option<usize>,
    /// The earliest moment that was noted.
    pub first: Option<DateTime>,
    /// The latest moment that was noted.
    pub last: Option<DateTime>,
    /// The names of the guitars, each once.
    pub guitars: Vec<String>,
    /// Chords, by how often they were played.
    pub chords: Vec<ChordSummary>,
    /// The commonest first.
    pub causes: Vec<CauseSummary>,
    /// Reasons why takes were not judged and how often, the commonest first.
    pub not_judged: Vec<(String, usize)>,
    /// Recordings of which nothing could be read.
    pub unread: usize,
    /// List of what could not be judged, by name, in order: at most [`MOST_LISTED`] of them.
    pub left_out: Vec<LeftOut>,
    /// Timing of what was played along with a backing.
    pub timing: Option<Timing>,
}

/// Take or recording that could not be judged: a take, or a recording as a whole.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The recording's name.
    pub file: String,
    /// Moment at which its take begins, in seconds; `None` of a recording as a whole.
    pub at_s: Option<f64>,
    /// Reason, in a sentence.
    pub why: String,
}

/// Most takes that are listed by name as not judged; the reasons are counted in any case. A choice.
pub const MOST_LISTED: usize = 200;

/// One voicing.
#[derive(Debug, Clone, Serialize)]
pub struct ChordSummary {
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The frets that the takes were judged against.
    pub frets: Frets,
    /// Takes in all.
    pub takes: usize,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
    /// String 6 to string 1.
    pub strings: Vec<StringSummary>,
    /// Parts in the order of time, or of the files where no dates were noted.
    pub over_time: Vec<Part>,
    /// Likely causes, the commonest first.
    pub causes: Vec<CauseSummary>,
    /// The take with most faults, as a position in the list summed up; `None` where nothing was judged, and where every
    /// take was clean.
    pub worst: Option<usize>,
    /// The take with fewest faults, as a position in the list summed up; `None` where it is the worst, too.
    pub best: Option<usize>,
}

/// One string of a voicing: how often it did what.
#[derive(Debug, Clone, Serialize)]
pub struct StringSummary {
    /// String number, 6 to 1.
    pub string: u8,
    /// The fret it should sound at; `None` where it must not sound.
    pub expected_fret: Option<u8>,
    /// Takes in which the sound told what the string did.
    pub told: usize,
    /// Takes of these in which it did what it should.
    pub as_it_should: usize,
    /// Takes in which it was muted.
    pub muted: usize,
    /// Takes in which it was choked.
    pub choked: usize,
    /// Takes in which it buzzed.
    pub buzzing: usize,
    /// Takes in which it rang at another fret.
    pub wrong_fret: usize,
    /// Takes in which it sounded though it should not.
    pub ringing: usize,
    /// Takes in which the recording could not tell.
    pub unsure: usize,
}

/// One part of the time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// "2 March", "week of 2 March", "March 2026", "takes 1 to 5".
    pub label: String,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
}

/// One likely cause.
#[derive(Debug, Clone, Serialize)]
pub struct CauseSummary {
    /// The cause.
    pub cause: Cause,
    /// Takes that it was named for.
    pub takes: usize,
    /// Number of times that each string was concerned, string 6 to string 1.
    pub strings: [usize; STRINGS],
    /// Sentence that was said and what to try, as in the last take that it was named for.
    pub what: String,
    /// Advice to try first, as in the last take that it was named for.
    #[serde(rename = "try")]
    pub try_first: String,
}

fn unsure(take: &Take) -> usize {
    let verdicts = take.strings.iter().map(|s| s.verdict);
    verdicts.filter(|&v| v == Verdict::Unsure).count()
}

fn faults(take: &Take) -> usize {
    take.strings.iter().filter(|s| s.verdict.is_fault()).count()
}

/// Takes one after the other and sums them up; of the takes themselves it keeps those alone that a page may
/// show.
#[derive(Debug, Default)]
pub struct Gatherer {
    takes: usize,
    judged: usize,
    clean: usize,
    /// Seconds from take to take, of those that have a moment.
    practised_s: Option<f64>,
    first: Option<DateTime>,
    last: Option<DateTime>,
    guitars: BTreeSet<String>,
    /// As they came, and where each one is.
    voicings: Vec<Voicing>,
    by_frets: HashMap<Frets, usize>,
    causes: Causes,
    not_judged: Counts,
    unread: usize,
    left_out: Vec<LeftOut>,
    timing: timing::Gatherer,
}

impl Gatherer {
    /// Takes the next take, which should be in the order of time.
    pub fn add(&mut self, played: Played) {
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
            self.voicings.push(Voicing::new(frets));
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
    pub fn finish(mut self) -> (Summary, HashMap<usize, Played>) {
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

impl Summary {
    /// Sums up takes, which should be in the order of time.
    pub fn of(takes: &[Played]) -> Self {
        let mut gatherer = Gatherer::default();
        takes.iter().cloned().for_each(|take| gatherer.add(take));
        gatherer.finish().0
    }
}

/// How good a take is: of two with as many faults, the one of which less is known, or whose strings rang less,
/// is the worse.
type Goodness = (std::cmp::Reverse<(usize, usize)>, f32);

fn goodness(take: &Take) -> Goodness {
    let rang = take.strings.iter().map(|s| match s.expected_fret {
        Some(_) => s.rings,
        None => 1.0 - s.rings,
    });
    let wrong = (faults(take), unsure(take));
    (std::cmp::Reverse(wrong), rang.sum::<f32>())
}

fn order(a: &Goodness, b: &Goodness) -> Ordering {
    a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
}

/// A take that stands for others.
#[derive(Debug)]
struct Example {
    goodness: Goodness,
    at: usize,
    played: Played,
}

/// What is counted of one voicing.
#[derive(Debug)]
struct Voicing {
    frets: Frets,
    chord: Option<String>,
    takes: usize,
    judged: usize,
    clean: usize,
    /// How often each string of judged takes got each verdict, in the order of [`Verdict::ALL`].
    verdicts: [[usize; Verdict::ALL.len()]; STRINGS],
    over_time: OverTime,
    causes: Causes,
    worst: Option<Example>,
    best: Option<Example>,
}

impl Voicing {
    fn new(frets: Frets) -> Self {
        Voicing {
            frets,
            chord: None,
            takes: 0,
            judged: 0,
            clean: 0,
            verdicts: Default::default(),
            over_time: OverTime::default(),
            causes: Causes::default(),
            worst: None,
            best: None,
        }
    }

    fn add(&mut self, at: usize, played: Played) {
        let take = &played.take;
        self.takes += 1;
        self.clean += usize::from(played.is_clean());
        if self.chord.is_none() {
            self.chord.clone_from(&take.chord);
        }
        self.causes.add(take);
        if !take.judged() {
            return;
        }
        self.judged += 1;
        for (counts, string) in self.verdicts.iter_mut().zip(&take.strings) {
            counts[column(string.verdict)] += 1;
        }
        self.over_time
            .add(played.when.map(|when| when.date()), played.is_clean());
        let goodness = goodness(take);
        let is_best = (self.best.as_ref()).is_none_or(|e| order(&goodness, &e.goodness).is_ge());
        let is_worst = (self.worst.as_ref()).is_none_or(|e| order(&goodness, &e.goodness).is_lt());
        let example = |played| {
            Some(Example {
                goodness,
                at,
                played,
            })
        };
        match (is_worst, is_best) {
            (true, true) => {
                self.worst = example(played.clone());
                self.best = example(played);
            }
            (true, false) => self.worst = example(played),
            (false, true) => self.best = example(played),
            (false, false) => {}
        }
    }

    fn finish(self, named: &mut HashMap<usize, Played>) -> ChordSummary {
        let mut name = |example: Option<Example>| {
            let Example { at, played, .. } = example?;
            named.insert(at, played);
            Some(at)
        };
        let some_fault = self.clean < self.judged;
        let worst = name(self.worst.filter(|_| some_fault));
        let best = name(self.best);
        ChordSummary {
            chord: self.chord,
            frets: self.frets,
            takes: self.takes,
            judged: self.judged,
            clean: self.clean,
            strings: (self.verdicts.iter().enumerate())
                .map(|(index, counts)| StringSummary::of(index, self.frets, counts))
                .collect(),
            over_time: self.over_time.finish(),
            causes: self.causes.finish(),
            worst,
            best: best.filter(|_| best != worst),
        }
    }
}

impl ChordSummary {
    /// "Bb (x13331)", the barre that it is, or the frets alone.
    pub fn name(&self) -> String {
        let frets = self.frets;
        match &self.chord {
            Some(chord) => format!("{chord} ({frets})"),
            None => frets.barre_name().unwrap_or_else(|| frets.to_string()),
        }
    }
}

/// Where a verdict is counted.
fn column(verdict: Verdict) -> usize {
    Verdict::ALL.iter().position(|v| *v == verdict).unwrap_or(0)
}

impl StringSummary {
    fn of(index: usize, frets: Frets, counts: &[usize; Verdict::ALL.len()]) -> Self {
        let times = |verdict: Verdict| counts[column(verdict)];
        let unsure = times(Verdict::Unsure);
        StringSummary {
            string: string_number(index),
            expected_fret: frets.0[index],
            told: counts.iter().sum::<usize>() - unsure,
            as_it_should: times(Verdict::Clean) + times(Verdict::Silent),
            muted: times(Verdict::Muted),
            choked: times(Verdict::Choked),
            buzzing: times(Verdict::Buzzing),
            wrong_fret: times(Verdict::WrongFret),
            ringing: times(Verdict::Ringing),
            unsure,
        }
    }
}

/// Likely causes as they are named, one by one.
#[derive(Debug, Default)]
struct Causes(Vec<CauseSummary>);

impl Causes {
    fn add(&mut self, take: &Take) {
        for advice in &take.advice {
            let at = self.0.iter().position(|f| f.cause == advice.cause);
            let at = at.unwrap_or_else(|| {
                self.0.push(CauseSummary {
                    cause: advice.cause,
                    takes: 0,
                    strings: [0; STRINGS],
                    what: String::new(),
                    try_first: String::new(),
                });
                self.0.len() - 1
            });
            let cause = &mut self.0[at];
            cause.takes += 1;
            for &string in &advice.strings {
                if let Some(count) = STRINGS
                    .checked_sub(usize::from(string))
                    .and_then(|index| cause.strings.get_mut(index))
                {
                    *count += 1;
                }
            }
            cause.what.clone_from(&advice.what);
            cause.try_first.clone_from(&advice.try_first);
        }
    }

    fn finish(mut self) -> Vec<CauseSummary> {
        self.0.sort_by_key(|f| std::cmp::Reverse(f.takes));
        self.0
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

/// Judged takes of one voicing in the order of time.
#[derive(Debug, Default)]
struct OverTime {
    /// How many were judged and clean, day after day; of no day where nobody noted one.
    days: Vec<(Option<Date>, usize, usize)>,
    /// Whether each was clean.
    cleans: Vec<bool>,
}

impl OverTime {
    fn add(&mut self, day: Option<Date>, clean: bool) {
        self.cleans.push(clean);
        if self.days.last().is_none_or(|last| last.0 != day) {
            self.days.push((day, 0, 0));
        }
        if let Some((_, judged, cleans)) = self.days.last_mut() {
            *judged += 1;
            *cleans += usize::from(clean);
        }
    }

    /// Part by part of the time.
    fn finish(self) -> Vec<Part> {
        let days: Option<Vec<Date>> = self.days.iter().map(|(day, ..)| *day).collect();
        let labelled: Vec<(String, usize, usize)> = match days {
            Some(days) if different(&days, words::dates::day) > 1 => {
                let units = [words::dates::day, week, words::dates::month, year];
                let unit = (units.into_iter()).find(|u| different(&days, u) <= MOST_PARTS);
                let labels = days.into_iter().map(unit.unwrap_or(year));
                let counts = self.days.iter();
                labels.zip(counts).map(|(l, c)| (l, c.1, c.2)).collect()
            }
            _ => {
                let each = self.cleans.len().div_ceil(PARTS).max(PART_TAKES);
                let part = |(part, cleans): (usize, &[bool])| {
                    let first = part * each;
                    let label = match first + cleans.len() {
                        last if last == first + 1 => words::page::take(last),
                        last => words::page::takes_from_to(first + 1, last),
                    };
                    let clean = cleans.iter().filter(|clean| **clean).count();
                    (label, cleans.len(), clean)
                };
                self.cleans.chunks(each).enumerate().map(part).collect()
            }
        };
        let mut parts: Vec<Part> = Vec::new();
        for (label, judged, clean) in labelled {
            match parts.last_mut().filter(|p| p.label == label) {
                Some(part) => {
                    part.judged += judged;
                    part.clean += clean;
                }
                None => parts.push(Part {
                    label,
                    judged,
                    clean,
                }),
            }
        }
        parts
    }
}

/// How many parts of the time days fall into.
fn different(days: &[Date], unit: impl Fn(Date) -> String) -> usize {
    let mut labels: Vec<String> = days.iter().map(|&day| unit(day)).collect();
    labels.dedup();
    labels.len()
}

fn week(day: Date) -> String {
    words::page::week_of(words::dates::day(monday(day)))
}

fn year(day: Date) -> String {
    day.strftime("%Y").to_string()
}

fn monday(day: Date) -> Date {
    if day.weekday() == Weekday::Monday {
        return day;
    }
    day.nth_weekday(-1, Weekday::Monday).unwrap_or(day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::csv;
    use crate::verdict::examples::{bb, not_judged, with};
    use crate::verdict::{ALL_STRINGS, Advice, Warning, clean};

    fn played(take: Take, when: Option<&str>) -> Played {
        Played {
            when: when.map(|w| w.parse().unwrap()),
            guitar: None,
            name: "a.wav".to_owned(),
            clean: clean(&take, &ALL_STRINGS),
            why_not: (!take.judged()).then(|| "Too quiet.".to_owned()),
            kept: None,
            sound: None,
            take,
        }
    }

    fn dead(string: u8) -> Take {
        with(bb(), string, Verdict::Muted, 0.9)
    }

    #[test]
    fn a_take_is_clean_where_it_was_called_so_when_it_was_played() {
        // In a part of a chord not every string counts.
        let counted = Played {
            clean: Some(true),
            ..played(dead(3), None)
        };
        let summary = Summary::of(&[counted, played(dead(3), None)]);
        assert_eq!((summary.judged, summary.clean), (2, 1));
        assert_eq!(summary.chords[0].clean, 1);
    }

    #[test]
    fn strings_are_counted_where_the_sound_told() {
        let takes = [
            played(bb(), None),
            played(dead(3), None),
            played(with(bb(), 3, Verdict::Unsure, 0.5), None),
            played(not_judged(Warning::WrongChord { heard: None }), None),
        ];
        let summary = Summary::of(&takes);
        assert_eq!((summary.takes, summary.judged, summary.clean), (4, 3, 2));
        let chord = &summary.chords[0];
        assert_eq!((chord.takes, chord.judged, chord.clean), (4, 3, 2));
        let third = &chord.strings[3];
        assert_eq!(
            (third.told, third.as_it_should, third.muted, third.unsure),
            (2, 1, 1, 1)
        );
        assert_eq!(
            chord.strings[0].as_it_should, 3,
            "silent is as it should be"
        );
        assert_eq!((chord.worst, chord.best), (Some(1), Some(0)));
        assert_eq!(summary.not_judged, [("Too quiet.".to_owned(), 1)]);
    }

    #[test]
    fn a_single_take_is_not_shown_twice() {
        let chord = &Summary::of(&[played(dead(3), None)]).chords[0];
        assert_eq!((chord.worst, chord.best), (Some(0), None));
    }

    #[test]
    fn no_take_is_the_worst_where_all_are_clean() {
        for count in [1, 3] {
            let clean = || played(bb(), None);
            let takes = Vec::from_iter(std::iter::repeat_with(clean).take(count));
            let chord = &Summary::of(&takes).chords[0];
            assert_eq!((chord.worst, chord.best), (None, Some(count - 1)));
        }
    }

    #[test]
    fn time_is_told_by_days_weeks_or_takes() {
        let on = |days: &[&str]| {
            let takes: Vec<Played> = days
                .iter()
                .map(|day| played(bb(), Some(&format!("{day}T18:00:00"))))
                .collect();
            let parts = Summary::of(&takes).chords[0].over_time.clone();
            parts
                .into_iter()
                .map(|p| (p.label, p.judged))
                .collect::<Vec<_>>()
        };
        let part = |label: &str, judged| (label.to_owned(), judged);
        assert_eq!(
            on(&["2026-03-02", "2026-03-02", "2026-03-04"]),
            [part("2 March", 2), part("4 March", 1)]
        );
        let march: Vec<String> = (1..=20).map(|d| format!("2026-03-{d:02}")).collect();
        let march: Vec<&str> = march.iter().map(String::as_str).collect();
        assert_eq!(
            on(&march)[..2],
            [part("week of 23 February", 1), part("week of 2 March", 7)]
        );
        let year: Vec<String> = (1..=12).map(|m| format!("2025-{m:02}-01")).collect();
        let mut year: Vec<&str> = year.iter().map(String::as_str).collect();
        assert_eq!(on(&year[..3])[2], part("1 March", 1));
        assert_eq!(on(&year), [part("2025", 12)]);
        year.drain(..5);
        year.extend(["2025-12-02", "2025-12-10", "2025-12-30"]);
        assert_eq!(on(&year)[6], part("December 2025", 4));
        assert_eq!(
            on(&["2026-03-02"; 7]),
            [
                part("takes 1 to 3", 3),
                part("takes 4 to 6", 3),
                part("take 7", 1)
            ]
        );
    }

    #[test]
    fn causes_are_counted_with_their_strings() {
        let mut slack = dead(1);
        slack.advice.push(Advice {
            cause: Cause::BarreSlack,
            strings: vec![2, 1],
            what: "W.".to_owned(),
            try_first: "T.".to_owned(),
        });
        let summary = Summary::of(&[played(slack.clone(), None), played(slack, None)]);
        let cause = &summary.causes[0];
        assert_eq!((cause.cause, cause.takes), (Cause::BarreSlack, 2));
        assert_eq!(cause.strings, [0, 0, 0, 0, 2, 2]);
    }

    #[test]
    fn the_table_has_a_row_for_each_string_and_no_formulas() {
        let mut odd = bb();
        odd.chord = Some("=1+1".to_owned());
        let mut table = Vec::new();
        csv::summary(&mut table, &Summary::of(&[played(odd, None)])).unwrap();
        let table = String::from_utf8(table).unwrap();
        let lines: Vec<&str> = table.lines().collect();
        assert_eq!(lines.len(), 7);
        assert_eq!(lines[1], "'=1+1,x13331,6,x,1,1,1,0,0,0,0,0,0,,,");
    }

    #[test]
    fn nothing_sums_up_to_nothing() {
        let summary = Summary::of(&[]);
        assert_eq!((summary.takes, summary.chords.len()), (0, 0));
    }
}
