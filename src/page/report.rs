//! The page for the teacher, made in the browser: the very page of `ringtrue report`.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Serialize;
use wasm_bindgen::prelude::*;

use super::check::Check;
use super::meant::Meant;
use super::{PageResult, json, told};
use crate::audio::Reader;
use crate::fretboard::{Frets, Tuning};
use crate::practice::diary::{Entry, exchange};
use crate::report::page::{
    self, Exhibit, Head, Last, LeftOut, PlayedTake, Summary, SummaryGatherer,
};
use crate::words;

/// A page for the teacher in the making: takes in, then the sounds that it asks for, then the page.
#[wasm_bindgen]
pub struct Report {
    tuning: Tuning,
    head: Head,
    gatherer: SummaryGatherer,
    summary: Summary,
    played: HashMap<usize, PlayedTake>,
    exhibits: HashMap<usize, Exhibit>,
}

/// Sound of a take that the page wants to show.
#[derive(Debug, Serialize)]
struct Wanted<'a> {
    take: usize,
    /// The name that the take had, or of a checked one its recording's number and its own.
    sound: &'a Path,
}

#[wasm_bindgen]
impl Report {
    /// Begins a page about `learner`, who may be nobody. `meant` tells how the guitar is tuned; `last` holds the numbers of the
    /// page before, as [`numbers`](Self::numbers) gave them, or nothing.
    ///
    /// # Errors
    /// A tuning that makes no sense, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(meant: &str, learner: &str, last: &str) -> PageResult<Report> {
        let learner = learner.trim();
        Ok(Report {
            tuning: Meant::read(meant)?.tuning()?,
            head: Head {
                title: words::page::TITLE.to_owned(),
                learner: (!learner.is_empty()).then(|| learner.to_owned()),
                last: Last::in_page(last),
                // The browser keeps a page's numbers alone, no page with notes typed into it.
                notes: Vec::new(),
                trial: Vec::new(),
            },
            gatherer: SummaryGatherer::default(),
            summary: Summary::of(&[]),
            played: HashMap::new(),
            exhibits: HashMap::new(),
        })
    }

    /// Adds takes of a diary, a JSON object each, one a line, the oldest first.
    ///
    /// # Errors
    /// As [`import`](super::diary::import).
    pub fn add_diary(&mut self, lines: &str) -> PageResult<()> {
        let mut entries: Vec<Entry> = Vec::new();
        exchange::read_text("diary", lines, &mut |entry| {
            entries.push(entry.clone());
            Ok(())
        })
        .map_err(told)?;
        let named = entries.iter().map(|e| (e.frets, e.chord.clone()));
        let names: HashMap<Frets, Option<String>> = named.collect();
        let name_of = |frets: &Frets| {
            let name = names.get(frets).cloned().flatten();
            name.unwrap_or_else(|| frets.to_string())
        };
        for entry in entries.into_iter().filter_map(Entry::standing) {
            let played = PlayedTake::of_entry(entry, &self.tuning, &name_of);
            self.gatherer.add(played);
        }
        Ok(())
    }

    /// Adds all takes of a recording that was checked under `number`.
    pub fn add_checked(&mut self, check: &Check, number: u32) {
        let mut any = false;
        for (take, played) in check.played().enumerate() {
            any = true;
            let sound = Some(PathBuf::from(format!("{number}/{take}")));
            self.gatherer.add(PlayedTake { sound, ..played });
        }
        let Some(why) = check.problem() else { return };
        let file = check.file_name();
        match any {
            true => self.gatherer.leave_out(LeftOut {
                file,
                at_s: None,
                why,
            }),
            false => self.gatherer.unread(file, why),
        }
    }

    /// Counts a recording that could not be read, and notes why.
    pub fn leave_out(&mut self, file: &str, why: &str) {
        self.gatherer.unread(file.to_owned(), why.to_owned());
    }

    /// Sums up; gives the takes whose sound the page wants, as JSON.
    ///
    /// # Errors
    /// Where there is no take, as a sentence.
    pub fn gather(&mut self) -> PageResult<String> {
        let (summary, played) = std::mem::take(&mut self.gatherer).finish();
        if summary.takes == 0 {
            return Err(JsError::new(words::site::NO_TAKE));
        }
        (self.summary, self.played) = (summary, played);
        let wanted: Vec<Wanted> = page::wanted(&self.summary)
            .into_iter()
            .filter_map(|take| {
                let sound = self.played[&take].sound.as_deref()?;
                Some(Wanted { take, sound })
            })
            .collect();
        Ok(json(&wanted))
    }

    /// Shows a take by the file that its sound is kept in.
    ///
    /// # Errors
    /// A file that cannot be read, as a sentence; the page is then without it.
    pub fn show(&mut self, take: usize, bytes: Vec<u8>) -> PageResult<()> {
        let Some(played) = self.played.get(&take) else {
            return Ok(());
        };
        let mut reader =
            Reader::from_bytes(Path::new(&played.name), Arc::from(bytes)).map_err(told)?;
        let meant = page::meant(std::iter::once(played), &self.tuning);
        let mut finder = meant.finder(reader.rate_hz(), &self.tuning);
        let (mut block, mut strums) = (Vec::new(), Vec::new());
        while reader.read(&mut block).map_err(told)? {
            finder.push(&block, &mut strums);
        }
        finder.finish(&mut strums);
        let found = page::nearest(strums.into_iter(), &[played]);
        for strum in found.into_iter().flatten() {
            let exhibit = Exhibit::of(strum, played, &self.tuning);
            self.exhibits.insert(take, exhibit);
        }
        Ok(())
    }

    /// Shows a take as it was checked, the `index`-th of its recording, where its sound is still held.
    pub fn show_checked(&mut self, take: usize, check: &Check, index: usize) {
        if let (Some(played), Some(strum)) = (self.played.get(&take), check.strum(index)) {
            let exhibit = Exhibit::of(strum, played, &check.tuning());
            self.exhibits.insert(take, exhibit);
        }
    }

    /// Gives the numbers that the next page is held against.
    pub fn numbers(&self) -> String {
        Last::of(&self.summary).element()
    }

    /// Gives the page.
    pub fn page(&self) -> String {
        page::html(&self.head, &self.played, &self.summary, &self.exhibits)
    }
}
