//! What many takes come to: the numbers of the page, of `--csv` and of `--json`.

use jiff::civil::{Date, DateTime, Weekday};
use serde::Serialize;

use super::timing::{Kept, Timing};
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::verdict::{Cause, Take, Verdict};

/// A take that somebody played, for a report.
#[derive(Debug, Clone)]
pub struct Played {
    /// When, by the clock on the wall there; where nobody noted it, `None`.
    pub when: Option<DateTime>,
    /// What the player calls the guitar.
    pub guitar: Option<String>,
    /// The recording's name, or what else it is called.
    pub name: String,
    pub take: Take,
    /// Whether every string that counted did what it should; `None` where that could not be told.
    pub clean: Option<bool>,
    /// Why the take was not judged, in words, where it was not.
    pub why_not: Option<String>,
    /// How it kept time, where it was played along with a backing.
    pub kept: Option<Kept>,
}

impl Played {
    fn is_clean(&self) -> bool {
        self.clean == Some(true)
    }
}

/// Time is told in so many parts at most: days, else weeks, months or years.
const MOST_PARTS: usize = 8;
/// Without dates, takes are told in so many equal parts at most, of so many takes at least.
const PARTS: usize = 6;
const PART_TAKES: usize = 3;

/// The numbers of a report.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    pub takes: usize,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
    pub first: Option<DateTime>,
    pub last: Option<DateTime>,
    pub guitars: Vec<String>,
    /// By how often they were played.
    pub chords: Vec<ChordSummary>,
    /// The commonest first.
    pub causes: Vec<CauseSummary>,
    /// Why takes were not judged and how often, the commonest first.
    pub not_judged: Vec<(String, usize)>,
    /// Of what was played along with a backing.
    pub timing: Option<Timing>,
}

/// One voicing.
#[derive(Debug, Clone, Serialize)]
pub struct ChordSummary {
    pub chord: Option<String>,
    pub frets: Frets,
    pub takes: usize,
    pub judged: usize,
    pub clean: usize,
    /// String 6 to string 1.
    pub strings: Vec<StringSummary>,
    /// In the order of time, or of the files where no dates were noted.
    pub over_time: Vec<Part>,
    pub causes: Vec<CauseSummary>,
    /// The takes with most and with fewest faults, as positions in the list summed up; `None` where
    /// nothing was judged, and of a single take only the worst.
    pub worst: Option<usize>,
    pub best: Option<usize>,
}

/// One string of a voicing: how often it did what.
#[derive(Debug, Clone, Serialize)]
pub struct StringSummary {
    pub string: u8,
    pub expected_fret: Option<u8>,
    /// Takes in which the sound told what the string did.
    pub told: usize,
    /// Of these, the ones in which it did what it should.
    pub as_it_should: usize,
    pub muted: usize,
    pub choked: usize,
    pub buzzing: usize,
    pub wrong_fret: usize,
    pub ringing: usize,
    pub unsure: usize,
}

/// One part of the time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// "2 March", "week of 2 March", "March 2026", "takes 1 to 5".
    pub label: String,
    pub judged: usize,
    pub clean: usize,
}

/// One likely cause.
#[derive(Debug, Clone, Serialize)]
pub struct CauseSummary {
    pub cause: Cause,
    /// Takes that it was named for.
    pub takes: usize,
    /// How often each string was concerned, string 6 to string 1.
    pub strings: [usize; STRINGS],
    /// What was said and what to try, as in the last take that it was named for.
    pub what: String,
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

impl Summary {
    /// Sums up takes, which should be in the order of time.
    pub fn of(takes: &[Played]) -> Self {
        let all: Vec<usize> = (0..takes.len()).collect();
        let mut voicings: Vec<(Frets, Vec<usize>)> = Vec::new();
        for (i, played) in takes.iter().enumerate() {
            let frets = played.take.frets;
            if frets.sounding().next().is_none() {
                continue;
            }
            match voicings.iter_mut().find(|(known, _)| *known == frets) {
                Some((_, those)) => those.push(i),
                None => voicings.push((frets, vec![i])),
            }
        }
        // As they came where they were played equally often.
        voicings.sort_by_key(|(_, those)| std::cmp::Reverse(those.len()));
        let mut guitars: Vec<String> = takes.iter().filter_map(|t| t.guitar.clone()).collect();
        guitars.sort();
        guitars.dedup();
        Summary {
            takes: takes.len(),
            judged: count(takes, &all, |t| t.take.judged()),
            clean: count(takes, &all, Played::is_clean),
            first: takes.iter().filter_map(|t| t.when).min(),
            last: takes.iter().filter_map(|t| t.when).max(),
            guitars,
            chords: voicings
                .into_iter()
                .map(|(frets, those)| ChordSummary::of(takes, frets, &those))
                .collect(),
            causes: causes(takes, &all),
            not_judged: not_judged(takes),
            timing: Timing::of(takes),
        }
    }

    /// The numbers per voicing and string as a table of comma-separated values with a heading.
    pub fn csv(&self) -> String {
        let mut table = csv::Writer::from_writer(Vec::new());
        let heading = [
            "chord",
            "frets",
            "string",
            "expected_fret",
            "takes",
            "told",
            "as_it_should",
            "muted",
            "choked",
            "buzzing",
            "wrong_fret",
            "ringing",
            "unsure",
        ];
        let mut rows = vec![heading.map(str::to_owned)];
        for chord in &self.chords {
            for s in &chord.strings {
                rows.push([
                    harmless(chord.chord.as_deref().unwrap_or_default()),
                    harmless(&chord.frets.to_string()),
                    s.string.to_string(),
                    s.expected_fret.map_or("x".to_owned(), |f| f.to_string()),
                    chord.takes.to_string(),
                    s.told.to_string(),
                    s.as_it_should.to_string(),
                    s.muted.to_string(),
                    s.choked.to_string(),
                    s.buzzing.to_string(),
                    s.wrong_fret.to_string(),
                    s.ringing.to_string(),
                    s.unsure.to_string(),
                ]);
            }
        }
        for row in rows {
            table
                .write_record(row)
                .expect("rows of one length, into memory");
        }
        let bytes = table.into_inner().expect("memory takes all");
        String::from_utf8(bytes).expect("made of text")
    }
}

/// A text that no spreadsheet takes for a formula.
fn harmless(text: &str) -> String {
    match text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        true => format!("'{text}"),
        false => text.to_owned(),
    }
}

impl ChordSummary {
    fn of(takes: &[Played], frets: Frets, those: &[usize]) -> Self {
        let judged: Vec<usize> = those
            .iter()
            .copied()
            .filter(|&i| takes[i].take.judged())
            .collect();
        // Of two with as many faults, the one of which less is known, or whose strings rang less, is
        // the worse.
        let goodness = |i: usize| {
            let take = &takes[i].take;
            let rang = take.strings.iter().map(|s| match s.expected_fret {
                Some(_) => s.rings,
                None => 1.0 - s.rings,
            });
            let wrong = (faults(take), unsure(take));
            (std::cmp::Reverse(wrong), rang.sum::<f32>())
        };
        let order = |&a: &usize, &b: &usize| {
            let (a, b) = (goodness(a), goodness(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        };
        let worst = judged.iter().copied().min_by(|a, b| order(a, b));
        let best = judged.iter().copied().max_by(|a, b| order(a, b));
        let name = those.iter().find_map(|&i| takes[i].take.chord.clone());
        ChordSummary {
            chord: name,
            frets,
            takes: those.len(),
            judged: judged.len(),
            clean: count(takes, those, Played::is_clean),
            strings: (0..STRINGS)
                .map(|index| StringSummary::of(takes, frets, &judged, index))
                .collect(),
            over_time: over_time(takes, &judged),
            causes: causes(takes, those),
            worst,
            best: best.filter(|_| judged.len() > 1 && best != worst),
        }
    }

    /// "Bb (x13331)", or the frets alone.
    pub fn name(&self) -> String {
        match &self.chord {
            Some(chord) => format!("{chord} ({})", self.frets),
            None => self.frets.to_string(),
        }
    }
}

impl StringSummary {
    fn of(takes: &[Played], frets: Frets, judged: &[usize], index: usize) -> Self {
        let times = |wanted: &[Verdict]| {
            let verdicts = judged.iter().map(|&i| takes[i].take.strings[index].verdict);
            verdicts.filter(|v| wanted.contains(v)).count()
        };
        let unsure = times(&[Verdict::Unsure]);
        StringSummary {
            string: string_number(index),
            expected_fret: frets.0[index],
            told: judged.len() - unsure,
            as_it_should: times(&[Verdict::Clean, Verdict::Silent]),
            muted: times(&[Verdict::Muted]),
            choked: times(&[Verdict::Choked]),
            buzzing: times(&[Verdict::Buzzing]),
            wrong_fret: times(&[Verdict::WrongFret]),
            ringing: times(&[Verdict::Ringing]),
            unsure,
        }
    }
}

fn count(takes: &[Played], those: &[usize], keep: impl Fn(&Played) -> bool) -> usize {
    those.iter().filter(|&&i| keep(&takes[i])).count()
}

fn causes(takes: &[Played], those: &[usize]) -> Vec<CauseSummary> {
    let mut found: Vec<CauseSummary> = Vec::new();
    for &i in those {
        for advice in &takes[i].take.advice {
            let at = found.iter().position(|f| f.cause == advice.cause);
            let at = at.unwrap_or_else(|| {
                found.push(CauseSummary {
                    cause: advice.cause,
                    takes: 0,
                    strings: [0; STRINGS],
                    what: String::new(),
                    try_first: String::new(),
                });
                found.len() - 1
            });
            let cause = &mut found[at];
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
    found.sort_by_key(|f| std::cmp::Reverse(f.takes));
    found
}

fn not_judged(takes: &[Played]) -> Vec<(String, usize)> {
    let mut reasons: Vec<(String, usize)> = Vec::new();
    for played in takes.iter().filter(|t| !t.take.judged()) {
        let why = played.why_not.as_deref().unwrap_or("No reason was noted.");
        match reasons.iter_mut().find(|(known, _)| known == why) {
            Some((_, count)) => *count += 1,
            None => reasons.push((why.to_owned(), 1)),
        }
    }
    reasons.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    reasons
}

/// Judged takes of one voicing, part by part of the time.
fn over_time(takes: &[Played], judged: &[usize]) -> Vec<Part> {
    let days: Option<Vec<Date>> = judged
        .iter()
        .map(|&i| takes[i].when.map(|when| when.date()))
        .collect();
    let labels: Vec<String> = match days {
        Some(days) if different(&days, said) > 1 => {
            let units = [said, week, month, year];
            let unit = units
                .into_iter()
                .find(|u| different(&days, u) <= MOST_PARTS);
            days.into_iter().map(unit.unwrap_or(year)).collect()
        }
        _ => {
            let each = judged.len().div_ceil(PARTS).max(PART_TAKES);
            let label = |k: usize| {
                let first = k / each * each;
                match (first + each).min(judged.len()) {
                    last if last == first + 1 => format!("take {last}"),
                    last => format!("takes {} to {last}", first + 1),
                }
            };
            (0..judged.len()).map(label).collect()
        }
    };
    let mut parts: Vec<Part> = Vec::new();
    for (label, &i) in labels.into_iter().zip(judged) {
        let clean = usize::from(takes[i].is_clean());
        match parts.last_mut().filter(|p| p.label == label) {
            Some(part) => {
                part.judged += 1;
                part.clean += clean;
            }
            None => parts.push(Part {
                label,
                judged: 1,
                clean,
            }),
        }
    }
    parts
}

/// How many parts of the time days fall into.
fn different(days: &[Date], unit: impl Fn(Date) -> String) -> usize {
    let mut labels: Vec<String> = days.iter().map(|&day| unit(day)).collect();
    labels.dedup();
    labels.len()
}

fn week(day: Date) -> String {
    format!("week of {}", said(monday(day)))
}

fn month(day: Date) -> String {
    day.strftime("%B %Y").to_string()
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

/// "2 March".
fn said(day: Date) -> String {
    day.strftime("%-d %B").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
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
        let chord = &Summary::of(&[played(bb(), None)]).chords[0];
        assert_eq!((chord.worst, chord.best), (Some(0), None));
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
        let table = Summary::of(&[played(odd, None)]).csv();
        let lines: Vec<&str> = table.lines().collect();
        assert_eq!(lines.len(), 7);
        assert_eq!(lines[1], "'=1+1,x13331,6,x,1,1,1,0,0,0,0,0,0");
    }

    #[test]
    fn nothing_sums_up_to_nothing() {
        let summary = Summary::of(&[]);
        assert_eq!((summary.takes, summary.chords.len()), (0, 0));
    }
}
