//! Notes of the chord that is meant, or that a hand not quite right makes of it, against what an attack
//! left ringing.

use super::ringing::HIGHEST_HZ;
use crate::fretboard::{Frets, STRINGS, Tuning, other_frets, usual_b};
use crate::spectrum::WeighedLines;
use crate::spectrum::partials::{flexible_hz, offsets_cents, partial_hz, shifted_hz};

/// The guitar may be off by somewhat less than half a fret, tried in steps; a place that explains the same is rather
/// the one nearer to in tune.
const REACH_CENTS: f64 = 42.0;
const STEP_CENTS: f64 = 7.0;
const PER_CENT_OFF: f64 = 0.0005;
/// A note at another fret than the expected one explains by chance more often.
const OTHER_FRET: f64 = 0.1;
/// A line belongs to a partial this near, as a share of its frequency, beyond what the window leaves open.
const NEAR: f64 = 0.005;

/// Lines up to here tell a chord, in Hz: above them partials of some string lie nearly everywhere.
const CHORD_TO_HZ: f64 = 1_000.0;

/// Offsets of the guitar that are tried, in cents.
fn offsets() -> impl Iterator<Item = f64> {
    offsets_cents(REACH_CENTS, STEP_CENTS)
}

/// Notes of a chord, as its strings sound them one at a time.
#[derive(Debug, Clone, Default)]
pub(super) struct ExpectedNotes(Vec<ExpectedNote>);

/// A note: as it sounds in Hz, its flexible string's fundamental in Hz, its stiffness, and what its fit is taken down by.
#[derive(Debug, Clone)]
struct ExpectedNote {
    hz: f64,
    f0_hz: f64,
    b: f64,
    less: f64,
}

/// The note that explains most, in Hz, and how much: 0 to 1, its share of the lines times how complete it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Explained {
    pub hz: f64,
    pub fit: f64,
}

impl ExpectedNotes {
    /// Lists those of the strings that should sound, and of all strings at the frets where a hand not quite right puts them.
    pub fn of(tuning: &Tuning, frets: &Frets) -> Self {
        let note = |string, fret, less| {
            let hz = tuning.hz(string, fret);
            let b = usual_b(string, fret + tuning.capo);
            ExpectedNote {
                hz,
                f0_hz: flexible_hz(hz, b),
                b,
                less,
            }
        };
        let expected = frets.sounding().map(|(s, fret)| note(s, fret, 0.0));
        let others = (0..STRINGS)
            .flat_map(|s| other_frets(frets, s).into_iter().map(move |fret| (s, fret)))
            .map(|(s, fret)| note(s, fret, OTHER_FRET));
        ExpectedNotes(expected.chain(others).collect())
    }

    /// The note that explains most of `lines` (frequency in Hz, power), which are known to `near_hz`. `None` where nothing is
    /// expected or nothing explained.
    pub fn best(&self, lines: &[(f64, f64)], near_hz: f64) -> Option<Explained> {
        let lines = lines.iter().map(|&(hz, power)| (hz as f32, power as f32));
        let lines = WeighedLines::new(lines);
        let places = (self.0.iter()).flat_map(|note| offsets().map(move |cents| (note, cents)));
        let fits = places.map(|(note, cents)| {
            let f0_hz = shifted_hz(note.f0_hz, cents);
            let partial = |n| partial_hz(f0_hz, note.b, n);
            let share = lines.explained(partial, HIGHEST_HZ, (near_hz, NEAR));
            let fit = f64::from(share) - PER_CENT_OFF * cents.abs();
            Explained {
                hz: note.hz,
                fit: fit - note.less,
            }
        });
        fits.filter(|e| e.fit > 0.0)
            .max_by(|a, b| a.fit.total_cmp(&b.fit))
    }
}

/// How much of what rings the notes of a chord explain together.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct ChordFit {
    /// Share of the lines' weight up to [`CHORD_TO_HZ`], 0 to 1.
    pub share: f64,
    /// Share of the notes of which the first or second partial is there, 0 to 1.
    pub present: f64,
}

impl ExpectedNotes {
    /// Share of `lines` (frequency in Hz, power) that the notes of the strings that should sound explain together.
    pub fn chord_fit(&self, lines: &[(f64, f64)], near_hz: f64) -> ChordFit {
        let notes: Vec<&ExpectedNote> = self.0.iter().filter(|n| n.less == 0.0).collect();
        let lines: Vec<(f64, f64)> = (lines.iter())
            .filter(|l| l.0 <= CHORD_TO_HZ)
            .map(|&(hz, power)| (hz, power.powf(0.25)))
            .collect();
        let all: f64 = lines.iter().map(|l| l.1).sum();
        if notes.is_empty() || all <= 0.0 {
            return ChordFit::default();
        }
        let near = |line: f64, hz: f64| (line - hz).abs() < near_hz + NEAR * hz;
        let fits = offsets().map(|cents| {
            let partial =
                |note: &ExpectedNote, n| partial_hz(shifted_hz(note.f0_hz, cents), note.b, n);
            let belongs = |line: f64| {
                notes.iter().any(|note| {
                    let n = (line / partial(note, 1)).round().max(1.0) as usize;
                    near(line, partial(note, n))
                })
            };
            let known: f64 = lines.iter().filter(|l| belongs(l.0)).map(|l| l.1).sum();
            let there = |note: &&&ExpectedNote| {
                (1..=2).any(|n| lines.iter().any(|l| near(l.0, partial(note, n))))
            };
            let present = notes.iter().filter(there).count() as f64 / notes.len() as f64;
            let less = PER_CENT_OFF * cents.abs();
            (
                ChordFit {
                    share: known / all,
                    present,
                },
                known / all + 0.2 * present - less,
            )
        });
        (fits.max_by(|a, b| a.1.total_cmp(&b.1))).map_or(ChordFit::default(), |f| f.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(notes_hz: &[f64]) -> Vec<(f64, f64)> {
        let partials = |hz: &f64| {
            let hz = *hz;
            (1..=8).map(move |n| (hz * f64::from(n), 1.0 / f64::from(n)))
        };
        notes_hz.iter().flat_map(partials).collect()
    }

    #[test]
    fn a_note_of_the_chord_explains_itself_on_a_guitar_that_is_off_but_no_other_note_and_no_chord()
    {
        let bb = ExpectedNotes::of(&Tuning::default(), &"x13331".parse().unwrap());
        let flat = 116.54 * 0.985;
        let one = bb.best(&lines(&[flat]), 2.0).unwrap();
        assert!((one.hz - 116.54).abs() < 0.01 && one.fit > 0.9, "{one:?}");
        let beside = bb.best(&lines(&[138.6]), 2.0);
        assert!(beside.is_none_or(|e| e.fit < 0.3), "{beside:?}");
        let chord = bb.best(&lines(&[116.54, 174.6, 233.1, 293.7, 349.2]), 2.0);
        assert!(chord.is_some_and(|e| e.fit < 0.5), "{chord:?}");
    }

    #[test]
    fn without_lines_or_a_chord_nothing_is_explained() {
        let bb = ExpectedNotes::of(&Tuning::default(), &"x13331".parse().unwrap());
        assert_eq!(bb.best(&[], 2.0), None);
        assert_eq!(ExpectedNotes::default().best(&lines(&[110.0]), 2.0), None);
    }
}
