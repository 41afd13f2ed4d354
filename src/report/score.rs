//! Accuracy of verdicts on labelled sets: as text, and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::json::json_line;
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::practice::Share;
use crate::trial::{Deed, KnownBy, LabelledTake, Score, sum};
use crate::verdict::{JudgedTake, Verdict, wording};
use crate::words;

/// Score of the takes of one set that are known in one way.
#[derive(Debug, Clone)]
pub struct Scored {
    /// The set's name.
    pub set: String,
    /// Way in which the deeds are known.
    pub known_by: KnownBy,
    /// The verdicts against the deeds.
    pub score: Score,
    /// Files that hold one take, and in which more were found.
    pub further: u32,
}

/// A take that is not right.
#[derive(Debug, Clone)]
pub struct Wrong {
    /// Name of its set.
    pub set: String,
    /// Its file.
    pub file: String,
    /// Beginning in its file, in seconds, where that holds several.
    pub at_s: Option<f64>,
    /// Frets that were meant.
    pub frets: Frets,
    /// Deeds done to its strings, 6 to 1.
    pub deeds: [Deed; STRINGS],
    /// Take as it was judged; `None` where no strum was found.
    pub said: Option<JudgedTake>,
}

impl Wrong {
    /// A take of a set with what was said of it, where it is not right.
    pub fn of(set: &str, labelled: &LabelledTake, said: Option<&JudgedTake>) -> Option<Wrong> {
        let wrong = Wrong {
            set: set.to_owned(),
            file: labelled.file.clone(),
            at_s: labelled.at_s,
            frets: labelled.frets,
            deeds: labelled.deeds,
            said: said.cloned(),
        };
        let is_wrong = wrong.strings().next().is_some();
        is_wrong.then_some(wrong)
    }

    /// The strings that are not told, with what was done and what was said; `None` where nothing was.
    fn strings(&self) -> impl Iterator<Item = (u8, Deed, Option<Verdict>)> {
        let judged = self.said.as_ref().filter(|take| take.judged());
        (0..STRINGS).filter_map(move |string| {
            let said = judged.map(|take| &take.strings[string]);
            let deed = self.deeds[string];
            let told = said.is_some_and(|said| deed.told_in(said));
            let is_wrong = deed != Deed::Unknown && !told;
            is_wrong.then(|| (string_number(string), deed, said.map(|said| said.verdict)))
        })
    }

    /// "set/long.flac at 3.2 s, x13331: string 3 as written, said muted".
    fn line(&self) -> String {
        let name = words::labelled::take(&self.file, self.at_s, self.frets);
        let what = match &self.said {
            None => words::labelled::NO_STRUM_FOUND.to_owned(),
            Some(take) if !take.judged() => {
                let why = take.warnings.iter().map(|w| wording::warning(w, take));
                words::labelled::refused(why.collect::<Vec<_>>().join(" "))
            }
            Some(_) => {
                let strings = self.strings().map(|(string, deed, said)| {
                    let said = said.map_or("", Verdict::word);
                    words::labelled::string(string, deed.phrase(), said)
                });
                strings.collect::<Vec<_>>().join("; ")
            }
        };
        format!("{}/{name}: {what}", self.set)
    }
}

/// Scores that belong together, and their sum.
fn together(scored: &[Scored], known_by: KnownBy) -> Option<(Vec<&Scored>, Score)> {
    let parts: Vec<&Scored> = scored.iter().filter(|s| s.known_by == known_by).collect();
    let mut all = Score::default();
    parts.iter().for_each(|part| all.add_all(&part.score));
    (!parts.is_empty()).then_some((parts, all))
}

/// Writes a section for each way of knowing, real sound first: by set, by deed, by string.
///
/// # Errors
/// Where `out` cannot be written.
pub fn text(out: &mut dyn Write, scored: &[Scored]) -> io::Result<()> {
    for known_by in KnownBy::ALL {
        let Some((parts, all)) = together(scored, known_by) else {
            continue;
        };
        let (heading, remark) = match known_by {
            KnownBy::Deed => (words::labelled::REAL, None),
            KnownBy::Pickup => (words::labelled::MEASURED, None),
            KnownBy::Word => (
                words::labelled::PUT_RIGHT,
                Some(words::labelled::CHOSEN_BY_FAULTS),
            ),
            KnownBy::Composed => (words::labelled::COMPOSED, None),
        };
        writeln!(out, "{heading}")?;
        if let Some(remark) = remark {
            writeln!(out, "{remark}")?;
        }
        let mut rows = vec![words::labelled::BY_SET.map(str::to_owned).to_vec()];
        rows.extend(parts.iter().map(|part| set_row(&part.set, &part.score)));
        if parts.len() > 1 {
            rows.push(set_row(words::labelled::TOGETHER, &all));
        }
        table(out, &rows)?;
        by_deed_and_string(out, &all)?;
        let further: u32 = parts.iter().map(|part| part.further).sum();
        if further > 0 {
            writeln!(out, "{}\n", words::labelled::further(further))?;
        }
    }
    writeln!(out, "{}", words::labelled::RANGES)
}

/// Writes a score by deed and by string, no wider than a small window.
///
/// # Errors
/// Where `out` cannot be written.
pub fn by_deed_and_string(out: &mut dyn Write, score: &Score) -> io::Result<()> {
    let share = |of: Share| {
        let (low, high) = of.interval();
        match of.of {
            0 => "-".to_owned(),
            _ => words::labelled::share_in_short(of.part, of.of, (100.0 * low, 100.0 * high)),
        }
    };
    let mut rows = vec![words::labelled::BY_DEED.map(str::to_owned).to_vec()];
    for (deed, counts) in &score.deeds {
        let (told, called_faulty) = counts.together();
        rows.push(vec![
            deed.phrase().to_owned(),
            share(told),
            share(called_faulty),
        ]);
    }
    table(out, &rows)?;
    let mut rows = vec![words::labelled::BY_STRING.map(str::to_owned).to_vec()];
    let (found, alarms) = (score.found(), score.false_alarms());
    for string in 0..STRINGS {
        let number = string_number(string).to_string();
        rows.push(vec![number, share(found[string]), share(alarms[string])]);
    }
    table(out, &rows)
}

/// Lists the takes that are not right, a line each.
///
/// # Errors
/// Where `out` cannot be written.
pub fn list(out: &mut dyn Write, wrong: &[Wrong]) -> io::Result<()> {
    writeln!(out)?;
    wrong
        .iter()
        .try_for_each(|take| writeln!(out, "{}", take.line()))
}

fn set_row(name: &str, score: &Score) -> Vec<String> {
    vec![
        name.to_owned(),
        share(score.takes),
        share(score.strings),
        score.not_found.to_string(),
        score.refused.to_string(),
    ]
}

/// "19 of 20, 95 % (76 to 99)"; a dash of nothing.
fn share(share: Share) -> String {
    let Some(value) = share.share() else {
        return "-".to_owned();
    };
    let (low, high) = share.interval();
    let percent = |value: f64| 100.0 * value;
    words::labelled::share(
        share.part,
        share.of,
        percent(value),
        (percent(low), percent(high)),
    )
}

/// Rows in columns, the heading first, and an empty line.
fn table(out: &mut dyn Write, rows: &[Vec<String>]) -> io::Result<()> {
    let columns = rows.first().map_or(0, Vec::len);
    let width = |column: usize| {
        let widths = rows.iter().map(|row| row[column].chars().count());
        widths.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    for row in rows {
        let cells: Vec<String> = (row.iter().zip(&widths))
            .map(|(cell, &width)| format!("{cell:width$}"))
            .collect();
        writeln!(out, "  {}", cells.join("  ").trim_end())?;
    }
    writeln!(out)
}

#[derive(Serialize)]
struct ShareObject {
    part: u32,
    of: u32,
    share: Option<f64>,
    low: f64,
    high: f64,
}

impl From<Share> for ShareObject {
    fn from(share: Share) -> Self {
        let (low, high) = share.interval();
        ShareObject {
            part: share.part,
            of: share.of,
            share: share.share(),
            low,
            high,
        }
    }
}

#[derive(Serialize)]
struct StringObject {
    string: u8,
    found: ShareObject,
    false_alarms: ShareObject,
}

#[derive(Serialize)]
struct DeedObject {
    deed: &'static str,
    told: ShareObject,
    called_faulty: ShareObject,
}

/// A score as JSON has it.
#[derive(Serialize)]
pub struct ScoreObject {
    takes: ShareObject,
    strings: ShareObject,
    found: ShareObject,
    false_alarms: ShareObject,
    not_found: u32,
    refused: u32,
    deeds: Vec<DeedObject>,
    by_string: Vec<StringObject>,
}

impl From<&Score> for ScoreObject {
    fn from(score: &Score) -> Self {
        let (found, alarms) = (score.found(), score.false_alarms());
        let deeds = score.deeds.iter().map(|(deed, counts)| {
            let (told, called_faulty) = counts.together();
            DeedObject {
                deed: deed.word(),
                told: told.into(),
                called_faulty: called_faulty.into(),
            }
        });
        let by_string = (0..STRINGS).map(|string| StringObject {
            string: string_number(string),
            found: found[string].into(),
            false_alarms: alarms[string].into(),
        });
        ScoreObject {
            takes: score.takes.into(),
            strings: score.strings.into(),
            found: sum(&found).into(),
            false_alarms: sum(&alarms).into(),
            not_found: score.not_found,
            refused: score.refused,
            deeds: deeds.collect(),
            by_string: by_string.collect(),
        }
    }
}

#[derive(Serialize)]
struct PartObject<'a> {
    /// `None` for all sets together.
    set: Option<&'a str>,
    known_by: &'static str,
    #[serde(flatten)]
    score: ScoreObject,
}

#[derive(Serialize)]
struct WrongObject<'a> {
    set: &'a str,
    file: &'a str,
    at_s: Option<f64>,
    frets: String,
    found: bool,
    strings: Vec<WrongString>,
}

#[derive(Serialize)]
struct WrongString {
    string: u8,
    deed: &'static str,
    verdict: Option<&'static str>,
}

impl<'a> From<&'a Wrong> for WrongObject<'a> {
    fn from(wrong: &'a Wrong) -> Self {
        let strings = wrong.strings().map(|(string, deed, said)| WrongString {
            string,
            deed: deed.word(),
            verdict: said.map(Verdict::word),
        });
        WrongObject {
            set: &wrong.set,
            file: &wrong.file,
            at_s: wrong.at_s,
            frets: wrong.frets.to_string(),
            found: wrong.said.is_some(),
            strings: strings.collect(),
        }
    }
}

/// Writes one object: each set by itself, then all together, for each way of knowing, real sound first. Takes that
/// are not right are listed where they are given.
///
/// # Errors
/// Where `out` cannot be written.
pub fn json(out: &mut dyn Write, scored: &[Scored], wrong: Option<&[Wrong]>) -> io::Result<()> {
    let (mut sets, mut sums) = (Vec::new(), Vec::new());
    for known_by in KnownBy::ALL {
        let Some((parts, all)) = together(scored, known_by) else {
            continue;
        };
        sets.extend(parts.iter().map(|part| PartObject {
            set: Some(&part.set),
            known_by: known_by.word(),
            score: (&part.score).into(),
        }));
        sums.push(PartObject {
            set: None,
            known_by: known_by.word(),
            score: (&all).into(),
        });
    }
    let mut object = serde_json::json!({ "sets": sets, "together": sums });
    if let Some(wrong) = wrong {
        let wrong: Vec<WrongObject> = wrong.iter().map(WrongObject::from).collect();
        object["wrong"] = serde_json::to_value(wrong).map_err(io::Error::from)?;
    }
    json_line(out, &object)
}
