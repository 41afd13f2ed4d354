//! The report for people: a picture for each of a few takes, a line for each of many.

use std::io::{self, Write};
use std::path::Path;

pub use super::picture::Look;
use super::picture::{LIST_HEADING, Picture, clock, paragraph, symbol};
use super::terminal::shown;
use super::{Form, RecordingOutcome, TakeTally};
use crate::fretboard::Tuning;
use crate::verdict::{Advice, JudgedTake, wording};
use crate::words;

/// Up to this many takes of a recording get a picture each, and up to this many recordings; more
/// get a line each. What fits a screen of 24 lines two or three times over.
const FEW: usize = 3;
/// Of a list, so many things to try are told: the most frequent ones.
const MOST_CAUSES: usize = 2;

/// The text form.
#[derive(Debug)]
pub struct Text {
    picture: Picture,
    /// How many recordings there are to come.
    files: usize,
    file: String,
    /// Takes kept back until it is clear whether there are few enough for pictures.
    held: Vec<JudgedTake>,
    listing: bool,
    /// What to do about takes of a list that were not judged, once for each reason.
    remedies: Vec<String>,
    /// What was said of the takes of a list, and of how many of them.
    causes: Vec<(usize, Advice)>,
    /// Whether anything to try was told so far.
    proposed: bool,
    /// Whether what to bear in mind is to be said; asked once, where anything was proposed.
    care_is_due: fn() -> bool,
    tally: TakeTally,
    total: TakeTally,
    outcomes: Vec<RecordingOutcome>,
}

impl Text {
    /// A report on `files` recordings of a guitar in `tuning`.
    pub fn new(look: Look, tuning: Tuning, files: usize) -> Self {
        Text {
            picture: Picture { look, tuning },
            files,
            file: String::new(),
            held: Vec::new(),
            listing: false,
            remedies: Vec::new(),
            causes: Vec::new(),
            proposed: false,
            care_is_due: || true,
            tally: TakeTally::default(),
            total: TakeTally::default(),
            outcomes: Vec::new(),
        }
    }

    /// The same report, which says what to bear in mind only where it is due.
    pub fn with_care_where(self, care_is_due: fn() -> bool) -> Self {
        Text {
            care_is_due,
            ..self
        }
    }

    /// Takes of this recording shown so far, with those held back left out.
    fn shown(&self) -> usize {
        self.tally.takes - self.held.len()
    }

    /// What comes before the first line about a recording: its name, where there are several, and
    /// the heading of a list.
    fn open(&mut self, out: &mut dyn Write) -> io::Result<()> {
        // In a list of many recordings one heading serves all.
        if self.listing && self.total.takes == 0 && self.files > FEW {
            writeln!(out, "{LIST_HEADING}")?;
        }
        if self.files > 1 {
            writeln!(out, "{}", self.file)?;
        }
        if self.listing && self.files <= FEW {
            writeln!(out, "{LIST_HEADING}")?;
        }
        Ok(())
    }

    fn list_line(
        &mut self,
        out: &mut dyn Write,
        number: usize,
        take: &JudgedTake,
    ) -> io::Result<()> {
        let symbols: Vec<String> = take
            .strings
            .iter()
            .map(|s| match take.judged() {
                true => self.picture.paint(s.verdict, symbol(s.verdict)),
                false => "-".to_owned(),
            })
            .collect();
        if let (false, Some(reason)) = (take.judged(), take.warnings.last()) {
            let remedy = wording::general_warning(reason);
            if !self.remedies.contains(&remedy) {
                self.remedies.push(remedy);
            }
        }
        for advice in &take.advice {
            let same = |a: &Advice| (a.cause, &a.strings) == (advice.cause, &advice.strings);
            match self.causes.iter_mut().find(|(_, a)| same(a)) {
                Some((count, _)) => *count += 1,
                None => self.causes.push((1, advice.clone())),
            }
        }
        writeln!(
            out,
            "{number:>4} {:>9}  {}  {}",
            clock(take.start_s),
            symbols.join(" "),
            wording::brief(take)
        )?;
        out.flush()
    }

    /// What to do about the takes listed so far: what was said most often, and about those that were
    /// not judged.
    fn advise(&mut self, out: &mut dyn Write) -> io::Result<()> {
        let mut causes = std::mem::take(&mut self.causes);
        causes.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
        for (count, advice) in causes.iter().take(MOST_CAUSES) {
            paragraph(out, &words::summary::in_takes(*count, &advice.what))?;
            paragraph(out, &words::take::try_first(&advice.try_first))?;
            writeln!(out)?;
        }
        for remedy in self.remedies.drain(..) {
            paragraph(out, &remedy)?;
        }
        Ok(())
    }

    /// Closes the report: what to bear in mind, once, where anything was proposed to try.
    fn care(&self, out: &mut dyn Write) -> io::Result<()> {
        if self.proposed && (self.care_is_due)() {
            writeln!(out)?;
            paragraph(out, wording::CARE)?;
        }
        Ok(())
    }

    /// How often each string did what, with an empty line after it; nothing where no take was judged.
    fn table(&self, out: &mut dyn Write, tally: &TakeTally) -> io::Result<()> {
        if tally.rows().next().is_none() {
            return Ok(());
        }
        writeln!(
            out,
            "{:<18}6    5    4    3    2    1",
            words::summary::HOW_OFTEN_STRING
        )?;
        for (verdict, counts) in tally.rows() {
            let mut line = format!("{} {:<12}", symbol(verdict), verdict.word());
            for &count in counts {
                let count = if count == 0 {
                    String::new()
                } else {
                    count.to_string()
                };
                line += &format!("{count:>5}");
            }
            writeln!(out, "{}", self.picture.paint(verdict, line.trim_end()))?;
        }
        writeln!(out)
    }
}

impl Form for Text {
    fn begin(&mut self, file: &Path) {
        self.file = shown(file);
        self.held.clear();
        self.listing = false;
        self.tally = TakeTally::default();
    }

    fn take(&mut self, out: &mut dyn Write, take: JudgedTake) -> io::Result<()> {
        self.tally.add(&take);
        self.proposed |= !take.advice.is_empty();
        self.held.push(take);
        if !self.listing && (self.held.len() > FEW || self.files > FEW) {
            self.listing = true;
            self.open(out)?;
        }
        if self.listing {
            let first = self.shown() + 1;
            for (i, take) in std::mem::take(&mut self.held).iter().enumerate() {
                self.list_line(out, first + i, take)?;
            }
        }
        Ok(())
    }

    fn end(&mut self, out: &mut dyn Write, problem: Option<&str>) -> io::Result<()> {
        let held = std::mem::take(&mut self.held);
        if !held.is_empty() {
            self.open(out)?;
        }
        for (i, take) in held.iter().enumerate() {
            if held.len() > 1 {
                writeln!(out, "{}", words::summary::take_of(i + 1, held.len()))?;
            }
            self.picture.draw(out, take)?;
            if i + 1 < held.len() {
                writeln!(out)?;
            }
        }
        if self.listing && self.files <= FEW {
            writeln!(out)?;
            self.table(out, &self.tally)?;
            self.advise(out)?;
            paragraph(out, &takes_sentence(&self.tally))?;
        }
        if (2..=FEW).contains(&self.files) && self.tally.takes > 0 {
            writeln!(out)?;
        }
        self.total.add_all(&self.tally);
        self.outcomes.push(match problem {
            Some(_) => RecordingOutcome::NotJudged,
            None => self.tally.outcome(),
        });
        out.flush()
    }

    fn summary(&mut self, out: &mut dyn Write) -> io::Result<()> {
        if self.files < 2 {
            return self.care(out);
        }
        if self.total.takes > 0 {
            if self.files > FEW {
                writeln!(out)?;
            }
            self.table(out, &self.total)?;
        }
        self.advise(out)?;
        let count = |wanted| self.outcomes.iter().filter(|&&o| o == wanted).count();
        paragraph(
            out,
            &words::summary::recordings(
                self.outcomes.len(),
                count(RecordingOutcome::AsItShouldBe),
                count(RecordingOutcome::Fault),
                count(RecordingOutcome::NotJudged),
            ),
        )?;
        self.care(out)
    }
}

fn takes_sentence(tally: &TakeTally) -> String {
    let fine = tally.takes - tally.faulty - tally.not_judged;
    words::summary::takes(tally.takes, fine, tally.faulty, tally.not_judged)
}

#[cfg(test)]
mod tests;
