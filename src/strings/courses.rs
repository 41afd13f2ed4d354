//! The courses of a chord's partials: how a note's own ones fall, and how those it shares with another
//! string run against that string's free ones. Two strings on one line beat, and where one of the two
//! dies, the line falls when its neighbours do not.

use super::course::Course;
use super::fit::{Fit, OWN_HZ, PARTIALS};
use super::shared::nearest_partial;
use crate::fretboard::STRINGS;
use crate::spectrum::Bands;

/// Partials of a note that are looked at.
const LOOKED_AT: usize = 14;
/// A partial of another string nearer than this is in the band too, in Hz.
const CLEAR_HZ: f32 = 10.0;
/// How far to either side, in partials, a string's own course is looked for.
const NEIGHBOURS: usize = 4;

/// What is compared: unexplained by one line, gain by two, falls to three moments.
pub const KINDS: usize = 5;

fn kinds(course: &Course) -> [f32; KINDS] {
    let [a, b, c] = course.fall_db;
    [course.single_db, course.gain_db, a, b, c]
}

/// Courses of all expected strings' partials.
pub struct Courses<'a> {
    bands: &'a Bands,
    fits: &'a [Option<Fit>; STRINGS],
    known: [[Option<Course>; PARTIALS]; STRINGS],
}

/// What the courses say about one note.
#[derive(Debug, Clone, Default)]
pub struct CourseEvidence {
    /// Partials that are alone in their band: number and course.
    pub own: Vec<(usize, [f32; KINDS])>,
    /// Partials shared with one other string and nobody else: number, excess of each kind over that
    /// string's free neighbours (NaN where it has none).
    pub shared: Vec<(usize, [f32; KINDS])>,
    /// Of the same: the weaker line's level in dB, its split in Hz per partial number.
    pub pairs: Vec<(f32, f32)>,
}

impl<'a> Courses<'a> {
    /// Reads all partials of `fits`.
    pub fn new(bands: &'a Bands, fits: &'a [Option<Fit>; STRINGS]) -> Self {
        let mut known = [[None; PARTIALS]; STRINGS];
        for (string, fit) in fits.iter().enumerate() {
            let Some(fit) = fit else { continue };
            for n in 1..=fit.count {
                known[string][n - 1] = Course::of(&bands.track(fit.hz(n)), bands.step_s());
            }
        }
        Courses { bands, fits, known }
    }

    /// Distance in Hz from `hz` to the nearest partial of any string but `a` and `b`.
    fn clear_of_others(&self, hz: f32, a: usize, b: usize) -> f32 {
        self.fits
            .iter()
            .enumerate()
            .filter(|(s, _)| *s != a && *s != b)
            .filter_map(|(_, f)| f.as_ref())
            .map(|f| (f.hz(nearest_partial(f, hz)) - hz).abs())
            .fold(f32::MAX, f32::min)
    }

    /// Looks at the note `fit` on `string`.
    pub fn on(&self, string: usize, fit: &Fit) -> CourseEvidence {
        let mut evidence = CourseEvidence::default();
        for n in 1..=LOOKED_AT.min(fit.count) {
            let hz = fit.hz(n);
            let nearest = self
                .fits
                .iter()
                .enumerate()
                .filter(|(s, _)| *s != string)
                .filter_map(|(s, f)| f.as_ref().map(|f| (s, f, nearest_partial(f, hz))))
                .map(|(s, f, m)| (s, m, (f.hz(m) - hz).abs()))
                .min_by(|a, b| a.2.total_cmp(&b.2));
            match nearest {
                Some((other, m, off)) if off < OWN_HZ => {
                    if self.clear_of_others(hz, string, other) >= CLEAR_HZ
                        && let Some(course) = &self.known[other][m - 1]
                    {
                        let usual = self.usual(other, m, string, fit);
                        let here = kinds(course);
                        evidence
                            .shared
                            .push((n, std::array::from_fn(|k| here[k] - usual[k])));
                        evidence
                            .pairs
                            .push((course.weaker_db, course.split_hz.abs() / n as f32));
                    }
                }
                Some((_, _, off)) if off < CLEAR_HZ => {}
                _ => {
                    // An expected note as fitted among the others has been read already.
                    let course = if self.fits[string].as_ref() == Some(fit) {
                        self.known[string][n - 1]
                    } else {
                        Course::of(&self.bands.track(hz), self.bands.step_s())
                    };
                    evidence.own.extend(course.map(|c| (n, kinds(&c))));
                }
            }
        }
        evidence
    }

    /// The mean course of string `other`'s nearest partials below and above its `m` that the note
    /// `asked` on `string` does not share, nor anybody else.
    fn usual(&self, other: usize, m: usize, string: usize, asked: &Fit) -> [f32; KINDS] {
        let Some(fit) = &self.fits[other] else {
            return [f32::NAN; KINDS];
        };
        let free = |k: &usize| {
            let hz = fit.hz(*k);
            (asked.hz(nearest_partial(asked, hz)) - hz).abs() >= CLEAR_HZ
                && self.clear_of_others(hz, other, string) >= CLEAR_HZ
                && self.known[other][*k - 1].is_some()
        };
        let below = (m.saturating_sub(NEIGHBOURS).max(1)..m).rev().find(free);
        let above = (m + 1..=(m + NEIGHBOURS).min(fit.count)).find(free);
        let courses: Vec<[f32; KINDS]> = [below, above]
            .into_iter()
            .flatten()
            .filter_map(|k| self.known[other][k - 1].as_ref().map(kinds))
            .collect();
        std::array::from_fn(|k| courses.iter().map(|c| c[k]).sum::<f32>() / courses.len() as f32)
    }
}
