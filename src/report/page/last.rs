//! The report before: each page carries its numbers, so that the next one can say what has changed.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::summary::Summary;
use super::{attribute, of_attribute};
use crate::report::terminal::visible;
use crate::words;

/// Where the numbers stand in a page, before and behind them.
const BEFORE: &str = "<meta name=\"practice-numbers\" content=\"";
const BEHIND: &str = "\">";
/// A chord is better or worse where its share of clean takes differs by so much. A choice: of ten takes it is two.
const DIFFERS: f64 = 0.15;
/// ... and it was judged so often in both. A choice.
const LEAST_TAKES: usize = 5;

/// The numbers of a report that the next one is held against.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Last {
    first: Option<Date>,
    last: Option<Date>,
    judged: usize,
    clean: usize,
    chords: Vec<Chord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Chord {
    name: String,
    judged: usize,
    clean: usize,
}

impl Last {
    /// Numbers of a summary, for the next report.
    pub fn of(summary: &Summary) -> Last {
        Last {
            first: summary.first.map(|first| first.date()),
            last: summary.last.map(|last| last.date()),
            judged: summary.judged,
            clean: summary.clean,
            chords: (summary.chords.iter())
                .map(|chord| Chord {
                    name: chord.name(),
                    judged: chord.judged,
                    clean: chord.clean,
                })
                .collect(),
        }
    }

    /// Numbers that a page carries; `None` where it carries none, or what cannot be.
    pub fn in_page(page: &str) -> Option<Last> {
        let (_, rest) = page.split_once(BEFORE)?;
        let (text, _) = rest.split_once(BEHIND)?;
        let last: Last = serde_json::from_str(&of_attribute(text)).ok()?;
        let fine = |judged: usize, clean: usize| clean <= judged;
        let all = last.chords.iter().all(|c| fine(c.judged, c.clean));
        (all && fine(last.judged, last.clean)).then_some(last)
    }

    /// Gives the element that a page carries them in.
    pub fn element(&self) -> String {
        let text = serde_json::to_string(self).expect("numbers and names are JSON");
        format!("{BEFORE}{}{BEHIND}", attribute(&text))
    }

    /// Says what has changed from this one to `now`, in a sentence or three; `None` where either has no take that was judged.
    pub(super) fn to(&self, now: &Last) -> Option<String> {
        if self.judged == 0 || now.judged == 0 || self == now {
            return None;
        }
        let share = |clean: usize, judged: usize| 100.0 * clean as f64 / judged as f64;
        let mut text = words::page::since_the_last(
            self.in_brackets().unwrap_or_default(),
            share(now.clean, now.judged),
            share(self.clean, self.judged),
        );
        let changed = |way: f64| -> Vec<String> {
            let pairs = now.chords.iter().filter_map(|chord| {
                let before = self.chords.iter().find(|c| c.name == chord.name)?;
                Some((before, chord))
            });
            pairs
                .filter(|(a, b)| a.judged.min(b.judged) >= LEAST_TAKES)
                .filter(|(a, b)| {
                    let by = share(b.clean, b.judged) - share(a.clean, a.judged);
                    way * by >= 100.0 * DIFFERS
                })
                .map(|(a, b)| {
                    let name = visible(&b.name);
                    words::page::from_to_clean(&name, a.clean, a.judged, b.clean, b.judged)
                })
                .collect()
        };
        for (word, way) in [(words::page::BETTER, 1.0), (words::page::WORSE, -1.0)] {
            let chords = changed(way);
            if !chords.is_empty() {
                text += &format!(" {word}: {}.", chords.join(", "));
            }
        }
        Some(text)
    }

    /// First and last day of its takes.
    pub(super) fn days(&self) -> Option<(Date, Date)> {
        Some((self.first?, self.last?))
    }

    /// " (2 March to 8 March)".
    fn in_brackets(&self) -> Option<String> {
        let (first, last) = self.days()?;
        let days = words::dates::days(first, last, words::dates::day);
        Some(format!(" ({days})"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(name: &str, clean: usize) -> Last {
        let chord = Chord {
            name: name.to_owned(),
            judged: 10,
            clean,
        };
        Last {
            first: Some(jiff::civil::date(2026, 3, 2)),
            last: Some(jiff::civil::date(2026, 3, 8)),
            judged: 10,
            clean,
            chords: vec![chord],
        }
    }

    #[test]
    fn a_page_gives_its_numbers_back_whatever_a_chord_is_called() {
        for name in ["F (133211)", "<b>\"&quot;&amp;\"</b>", "\\"] {
            let last = numbers(name, 3);
            let page = format!("<head>{}</head>", last.element());
            assert_eq!(Last::in_page(&page), Some(last), "{name}");
        }
        assert_eq!(Last::in_page("<p>nothing</p>"), None);
        let more_clean_than_judged = numbers("F", 11).element();
        assert_eq!(Last::in_page(&more_clean_than_judged), None);
    }

    #[test]
    fn the_change_names_the_chords_that_are_better_or_worse() {
        let said = numbers("F", 3).to(&numbers("F", 8)).unwrap();
        assert_eq!(
            said,
            "Since the last report (2 March to 8 March): 80 % of the judged takes were clean, 30 % before. \
             Better: F (from 3 of 10 clean to 8 of 10)."
        );
        assert!(
            numbers("F", 8)
                .to(&numbers("F", 3))
                .unwrap()
                .contains("Worse: F")
        );
        assert!(
            !numbers("F", 8)
                .to(&numbers("F", 7))
                .unwrap()
                .contains("Worse")
        );
        assert_eq!(numbers("F", 8).to(&numbers("F", 8)), None);
    }
}
