//! A picked pass: each string read at its own moment, on what is new since it was plucked.
//!
//! One string alone has no octave beside it that starts with it, only what the strings before it still
//! sound. So the question is simpler than in a strum, and needs no trained model: which note is new, on
//! which string can it be, and how does it die away?

mod course;
mod dying;
mod missed;
mod note;
mod series;
mod stroke;
mod tone;
mod turns;

pub use note::Sounded;

use course::Course;
use dying::{Dying, Expected};
use missed::Heard;
use series::Series;
use stroke::{Reader, Stroke};

use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::Decimator;

/// Reads picked passes: planned once.
pub struct Picked {
    decimator: Decimator,
    sound: Vec<f32>,
    reader: Reader,
    strokes: Vec<Stroke>,
    dying: Dying,
}

/// What one string of a pass did after it was plucked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plucked {
    /// The note that it sounds, as far as one is heard.
    pub note: Sounded,
    /// 0 to 1: how probable it is that this note is what sounds.
    pub known: f32,
    /// 0 to 1: how probable it is that the note is heard and rings on.
    pub rings: f32,
    /// 0 to 1: how probable it is that what sounds rings on, whatever it is.
    pub lasts: f32,
    /// 0 to 1: where it does not ring on, how probable it is that it rang for some tenths of a second.
    pub choked: f32,
    /// Whether there was sound for long enough to tell.
    pub told: bool,
}

/// What a pass over the strings says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// Common offset of the guitar, in cents.
    pub tuning_cents: f64,
    /// Share of the strokes that a note of the voicing, or one near it, explains.
    pub explained: f32,
    /// Strings 6 to 1; `None` where no stroke fell on it.
    pub strings: [Option<Plucked>; STRINGS],
}

/// A note that explains this much is heard: of 1,700 notes that rang, 1 in 100 lay below 0.37, of 440
/// dead ones 1 in 100 above 0.32 (composed passes, all guitars).
const KNOWN_FIT: f32 = 0.30;
const FIT_STEEPNESS: f32 = 30.0;
/// More strokes than this are no pass over six strings.
const MOST_STROKES: usize = 9;

/// What could be sounding after each stroke, string by string, and which stroke fell on each string.
struct Strokes {
    notes: Vec<[Sounded; STRINGS]>,
    struck: [Option<usize>; STRINGS],
}

impl Picked {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let decimator = Decimator::new(rate_hz);
        Picked {
            sound: Vec::new(),
            reader: Reader::new(decimator.rate_hz()),
            strokes: Vec::new(),
            dying: Dying::default(),
            decimator,
        }
    }

    /// Reads what is new after each of `onsets`, indices into `samples`.
    pub fn fill(&mut self, samples: &[f32], onsets: &[usize]) {
        self.decimator.run(samples, &mut self.sound);
        let factor = self.decimator.factor();
        let onsets: Vec<usize> = onsets
            .iter()
            .map(|onset| (onset / factor).min(self.sound.len()))
            .collect();
        self.reader.read(&self.sound, &onsets, &mut self.strokes);
    }

    /// The common offset of the guitar, and what each string did.
    pub fn hear(&mut self, tuning: &Tuning, frets: &Frets) -> Pass {
        let tuning_cents = note::common_cents(&self.strokes, tuning, frets);
        let Strokes { notes, struck } = self.place(tuning, frets, tuning_cents);
        let rate_hz = self.decimator.rate_hz();
        let courses: [Option<Course>; STRINGS] = std::array::from_fn(|s| {
            let stroke = struck[s]?;
            let note = &notes[stroke][s];
            let cents = tuning_cents + f64::from(note.cents);
            let series = Series::of(tuning, note.string, note.fret, cents);
            let stroke = &self.strokes[stroke];
            Some(Course::read(&self.sound, rate_hz, stroke, series))
        });
        // How loud a ringing string of this pass begins: the middle one.
        let mut peaks: Vec<f32> = courses
            .iter()
            .flatten()
            .filter(|c| c.lasts() > 0.0)
            .map(|c| c.peak_db)
            .collect();
        peaks.sort_by(f32::total_cmp);
        let usual_db = peaks.get(peaks.len() / 2).copied();
        let explained = notes
            .iter()
            .map(|of| of.iter().map(|n| n.fit).fold(0.0, f32::max))
            .filter(|&fit| fit >= KNOWN_FIT)
            .count();
        let strings = std::array::from_fn(|s| {
            let (stroke, course) = (struck[s]?, courses[s]?);
            let note = notes[stroke][s];
            let known = logistic((note.fit - KNOWN_FIT) * FIT_STEEPNESS);
            let lasts = course.lasts();
            let choked = match lasts > 0.0 {
                true => 1.0,
                false => {
                    let fret = frets.0[s].unwrap_or(note.fret);
                    let series = Series::of(tuning, s, fret, tuning_cents);
                    let stroke = &self.strokes[stroke];
                    let expected = Expected {
                        series,
                        fit: note::fit(stroke, series),
                        above_usual_db: usual_db.map(|usual| course.peak_db - usual),
                    };
                    let sound = &self.sound;
                    logistic(self.dying.choked(sound, rate_hz, stroke, expected))
                }
            };
            Some(Plucked {
                note,
                known,
                rings: known.min(logistic(lasts)),
                lasts: logistic(lasts),
                choked,
                told: !lasts.is_nan(),
            })
        });
        Pass {
            tuning_cents,
            explained: explained as f32 / notes.len().max(1) as f32,
            strings,
        }
    }

    /// Gives each string its stroke; where one has none, strokes that nobody heard are looked for.
    fn place(&mut self, tuning: &Tuning, frets: &Frets, common_cents: f64) -> Strokes {
        loop {
            let best = |stroke: &Stroke| {
                std::array::from_fn(|s| note::best(stroke, s, tuning, frets, common_cents))
            };
            let notes: Vec<[Sounded; STRINGS]> = self.strokes.iter().map(best).collect();
            let struck = turns::assign(&notes, frets);
            let heard = Heard {
                sound: &self.sound,
                rate_hz: self.decimator.rate_hz(),
                strokes: &self.strokes,
                tuning,
                common_cents,
            };
            match heard.missed(frets, &struck) {
                Some(at) if self.strokes.len() < MOST_STROKES => {
                    let mut onsets: Vec<usize> = self.strokes.iter().map(|s| s.from).collect();
                    onsets.push(at);
                    onsets.sort_unstable();
                    self.reader.read(&self.sound, &onsets, &mut self.strokes);
                }
                _ => return Strokes { notes, struck },
            }
        }
    }
}

fn logistic(log_odds: f32) -> f32 {
    1.0 / (1.0 + (-log_odds).exp())
}
