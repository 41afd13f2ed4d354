//! What was said about a recording, read back: the object that `check --json` and `listen --save`
//! write, with the guitar and the moment where they were noted.

use std::path::{Path, PathBuf};

use anyhow::Context;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use serde::Deserialize;

use crate::fretboard::{Frets, STRINGS};
use crate::take::Manner;

use super::{Advice, StringVerdict, Take};
use crate::disk;

/// No file beside a recording is longer, in bytes: 16,000 takes of 2 kB, some ten hours of strumming.
const LONGEST_SAVED: u64 = 32 * 1024 * 1024;

/// A recording's takes as they were judged.
#[derive(Debug, Clone, Deserialize)]
pub struct Saved {
    pub takes: Vec<SavedTake>,
    /// What the player calls the guitar.
    pub guitar: Option<String>,
    pub recorded_at: Option<Moment>,
}

/// A moment by RFC 3339, or by the clock on the wall alone.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(try_from = "String")]
pub struct Moment {
    /// By the clock on the wall there: its own where it names an offset, this computer's where it is in
    /// UTC.
    pub on_the_wall: DateTime,
    /// Everywhere.
    pub at: Timestamp,
}

impl TryFrom<String> for Moment {
    type Error = jiff::Error;

    fn try_from(text: String) -> Result<Moment, jiff::Error> {
        let here = TimeZone::system();
        let at = text.parse::<Timestamp>();
        // Text in UTC is no date and time of a wall; without any offset it is no moment.
        match (text.parse::<DateTime>(), at) {
            (Ok(on_the_wall), Ok(at)) => Ok(Moment { on_the_wall, at }),
            (Ok(on_the_wall), Err(_)) => Ok(Moment {
                on_the_wall,
                at: here.to_timestamp(on_the_wall)?,
            }),
            (Err(_), at) => at.map(|at| Moment {
                on_the_wall: here.to_datetime(at),
                at,
            }),
        }
    }
}

/// One take as it was judged.
#[derive(Debug, Clone, Deserialize)]
pub struct SavedTake {
    #[serde(default)]
    pub start_s: f64,
    #[serde(default = "strummed")]
    pub manner: Manner,
    pub chord: Option<String>,
    pub frets: Frets,
    pub tuning_cents: Option<f32>,
    #[serde(default)]
    pub warnings: Vec<SavedWarning>,
    /// String 6 to string 1.
    pub strings: [StringVerdict; STRINGS],
    #[serde(default)]
    pub advice: Vec<Advice>,
}

/// What was wrong with a take as a whole, in words.
#[derive(Debug, Clone, Deserialize)]
pub struct SavedWarning {
    /// As "too-quiet".
    pub kind: String,
    pub text: String,
}

/// How far a take may stand from where it was saved to be the same one, in seconds: the same sound in
/// another kind of file begins up to 48 ms later.
pub const SAME_TAKE_S: f64 = 0.2;

impl Saved {
    /// The take at a moment of the recording, in seconds.
    pub fn nearest(&self, start_s: f64) -> Option<&SavedTake> {
        let off = |take: &&SavedTake| (take.start_s - start_s).abs();
        let nearest = self.takes.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        (off(&nearest) <= SAME_TAKE_S).then_some(nearest)
    }
}

impl SavedTake {
    /// The take; what was wrong with it as a whole is only in [`Self::warnings`].
    pub fn take(&self) -> Take {
        Take {
            start_s: self.start_s,
            manner: self.manner,
            chord: self.chord.clone(),
            frets: self.frets,
            tuning_cents: self.tuning_cents.unwrap_or(0.0),
            warnings: Vec::new(),
            strings: self.strings,
            advice: self.advice.clone(),
        }
    }
}

/// Where the file beside a recording would be.
pub fn path_beside(recording: &Path) -> PathBuf {
    recording.with_extension("json")
}

/// Reads the file beside a recording; `None` where there is none.
///
/// # Errors
/// As [`read`].
pub fn beside(recording: &Path) -> anyhow::Result<Option<Saved>> {
    let path = path_beside(recording);
    match path.exists() {
        true => read(&path).map(Some),
        false => Ok(None),
    }
}

/// Reads what was saved.
///
/// # Errors
/// A file that cannot be read, or that holds something else, as a sentence.
pub fn read(path: &Path) -> anyhow::Result<Saved> {
    let name = path.display();
    let text = disk::read_text(path, LONGEST_SAVED)?;
    serde_json::from_str(&text).with_context(|| {
        format!(
            "{name}: what check --json prints for one recording was expected; move this file away, \
             or name the chord"
        )
    })
}

fn strummed() -> Manner {
    Manner::Strummed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Form;
    use crate::report::json::Json;
    use crate::verdict::Verdict;
    use crate::verdict::examples::{bb, with};

    fn written() -> String {
        let mut json = Json::default();
        let mut out = Vec::new();
        json.begin(Path::new("a.wav"));
        json.take(&mut out, with(bb(), 3, Verdict::Muted, 0.9))
            .unwrap();
        json.end(&mut out, None).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_was_written_is_read_back() {
        let saved: Saved = serde_json::from_str(&written()).unwrap();
        let take = saved.nearest(0.4).unwrap();
        assert_eq!(take.frets.to_string(), "x13331");
        assert_eq!(take.chord.as_deref(), Some("Bb"));
        assert_eq!(take.strings[3].verdict, Verdict::Muted);
        assert!(saved.nearest(1.0).is_none(), "that is another take");
    }

    #[test]
    fn guitar_and_moment_are_read_where_they_are_noted() {
        let read = |extra: &str| -> Result<Saved, _> {
            serde_json::from_str(&written().replacen('{', &format!("{{{extra},"), 1))
        };
        let local =
            read(r#""guitar":"old one","recorded_at":"2026-03-02T18:30:00+05:00""#).unwrap();
        assert_eq!(
            local.recorded_at.unwrap().on_the_wall.to_string(),
            "2026-03-02T18:30:00"
        );
        assert_eq!(local.guitar.as_deref(), Some("old one"));
        assert!(
            read(r#""recorded_at":"2026-03-02T18:30:00Z""#)
                .unwrap()
                .recorded_at
                .is_some()
        );
        assert!(read(r#""recorded_at":"yesterday""#).is_err());
    }
}
