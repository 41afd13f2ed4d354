//! Course of takes over time, part by part.

use jiff::civil::{Date, Weekday};

use super::Period;
use crate::words;

/// Time is told in so many parts at most: days, else weeks, months or years.
const MOST_PARTS: usize = 8;
/// Without dates, takes are told in so many equal parts at most, of so many takes at least.
const PARTS: usize = 6;
const PART_TAKES: usize = 3;

/// Judged takes of one voicing in the order of time.
#[derive(Debug, Default)]
pub(super) struct OverTime {
    /// How many were judged and clean, day after day; of no day where nobody noted one.
    days: Vec<(Option<Date>, usize, usize)>,
    /// Whether each was clean.
    cleans: Vec<bool>,
}

impl OverTime {
    pub(super) fn add(&mut self, day: Option<Date>, clean: bool) {
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
    pub(super) fn finish(self) -> Vec<Period> {
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
        let mut parts: Vec<Period> = Vec::new();
        for (label, judged, clean) in labelled {
            match parts.last_mut().filter(|p| p.label == label) {
                Some(part) => {
                    part.judged += judged;
                    part.clean += clean;
                }
                None => parts.push(Period {
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
