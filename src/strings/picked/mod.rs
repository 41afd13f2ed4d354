//! A picked pass: which stroke fell on which string, and how far each string is off.
//!
//! One string alone has no octave beside it that starts with it, only what the strings before it still
//! sound. So which note is new tells the string; what became of it, a network of its own hears from
//! the string's own moment.
//!
//! # How a picked pass is heard
//!
//! 1. Lines that are new since each stroke are found.
//! 2. For each string, the note that explains most of them is named: the expected one, or one at a neighbouring
//!    fret.
//! 3. Strokes are put to strings so that they follow one direction.
//! 4. A stroke of an expected string that the finder missed is looked for where its partials rise together.
//! 5. A network of its own tells what became of the string. It hears from a little before the stroke to the next
//!    one on another string, with each string fitted around where it was plain to hear. So a string 45 cents off is
//!    followed.
//!
//! Where few of the plain strokes are a note of the expected chord, another chord is said to sound
//! ([`verdict`](crate::verdict)). Where nobody named a chord, each voicing of the library is weighed by how rarely
//! a hand that plays it makes of it what is heard.

mod guess;
mod missed;
mod note;
mod series;
mod stroke;
mod tone;
mod turns;

use missed::HeardPass;
use note::Sounded;
use stroke::{Stroke, StrokeReader};

use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::Decimator;
use crate::strings::{CandidateNotes, Moments, SHORTEST_S, Spectra};

/// Reads picked passes: planned once.
pub struct Picked {
    decimator: Decimator,
    sound: Vec<f32>,
    reader: StrokeReader,
    strokes: Vec<Stroke>,
}

/// The stroke on one string of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringStroke {
    /// The stroke and the next one on another string, or the end, as indices into the samples.
    pub from: usize,
    /// Index of the first sample after the stroke's sound.
    pub to: usize,
    /// Distance by which the string is off beyond the guitar as a whole, in cents, where a note on it was plain to hear.
    pub off_cents: Option<f64>,
}

/// Findings of a pass over the strings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// Common offset of the guitar, in cents.
    pub tuning_cents: f64,
    /// Share of the strokes that are plainly a note which are one of the voicing's; `None` where too few are plain.
    pub of_voicing: Option<f32>,
    /// Strings 6 to 1; `None` where no stroke fell on it.
    pub strings: [Option<StringStroke>; STRINGS],
}

/// Sound before a stroke that is read with it, in seconds: the network looks back 0.08 s, and what brings the
/// rate down needs some before that.
const BEFORE_S: f64 = 0.2;

impl Pass {
    /// Reads the sound of one stroke in `samples` (those of the pass, at `rate_hz`) and fits the notes that matter for
    /// `frets` to it.
    pub fn notes(
        &self,
        stroke: StringStroke,
        (samples, rate_hz): (&[f32], u32),
        tuning: &Tuning,
        frets: &Frets,
        spectra: &mut Spectra,
    ) -> CandidateNotes {
        let before = (BEFORE_S * f64::from(rate_hz)) as usize;
        let begin = stroke.from.saturating_sub(before);
        let at = stroke.from - begin;
        let moments = Moments {
            first: at,
            last: at,
            end: stroke.to - begin,
        };
        spectra.fill(&samples[begin..], moments);
        let off_cents = self
            .strings
            .map(|s| s.and_then(|s| s.off_cents).unwrap_or(0.0));
        CandidateNotes::fit_near(spectra, tuning, frets, (self.tuning_cents, 0.0), &off_cents)
    }

    /// Keeps those of `notes` whose strings are struck by this stroke or were before.
    pub fn struck_by(&self, stroke: StringStroke, notes: &CandidateNotes) -> CandidateNotes {
        let mut struck = notes.clone();
        for (note, own) in struck.expected.iter_mut().zip(&self.strings) {
            if own.is_none_or(|own| own.from > stroke.from) {
                *note = None;
            }
        }
        struck
    }
}

/// A stroke is explained where a note explains this much of what is new: of 1,700 notes that rang, 1 in 100
/// lay below 0.37, of 440 dead ones 1 in 100 above 0.32 (composed passes, all guitars).
const KNOWN_FIT: f32 = 0.30;
/// With fewer plain strokes than this nothing is said of the pass as a whole. A choice.
const FEWEST_PLAIN: usize = 3;
/// More strokes than this are no pass over six strings.
const MOST_STROKES: usize = 9;

/// What could be sounding after each stroke, string by string, and which stroke fell on each string.
struct Strokes {
    notes: Vec<[Sounded; STRINGS]>,
    struck: [Option<usize>; STRINGS],
}

impl Picked {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let decimator = Decimator::new(rate_hz);
        Picked {
            sound: Vec::new(),
            reader: StrokeReader::new(decimator.rate_hz()),
            strokes: Vec::new(),
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

    /// The common offset of the guitar, and the strings' strokes.
    pub fn hear(&mut self, tuning: &Tuning, frets: &Frets) -> Pass {
        let expected: Vec<(usize, u8)> = frets.sounding().collect();
        let tuning_cents = note::common_cents(&self.strokes, tuning, &expected);
        let Strokes { notes, struck } = self.place(tuning, frets, tuning_cents);
        let factor = self.decimator.factor();
        let begin = |stroke: usize| self.strokes[stroke].from;
        let cut = self.strokes.get(self.long()).map(|cut| cut.from);
        let strings = std::array::from_fn(|string| {
            let stroke = struck[string]?;
            let from = begin(stroke);
            let later = struck.iter().flatten().map(|&s| begin(s));
            let next = later.chain(cut).filter(|&at| at > from).min();
            let note = notes[stroke][string];
            Some(StringStroke {
                from: from * factor,
                to: next.unwrap_or(self.sound.len()) * factor,
                off_cents: (note.fit >= KNOWN_FIT).then_some(f64::from(note.cents)),
            })
        });
        Pass {
            tuning_cents,
            of_voicing: self.of_voicing(tuning, frets, tuning_cents),
            strings,
        }
    }

    /// Tells how probable each of `library` is, 0 to 1; what is left of 1 is that it was none of them.
    pub fn voicings(&self, tuning: &Tuning, library: &[Frets]) -> Vec<f32> {
        guess::probabilities(&self.strokes, tuning, library)
    }

    /// Share of the strokes that are plainly a note which are one of the voicing's.
    fn of_voicing(&self, tuning: &Tuning, frets: &Frets, tuning_cents: f64) -> Option<f32> {
        let (mut plain, mut own) = (0, 0);
        for stroke in &self.strokes {
            let any = note::any(stroke);
            if note::is_plain(any) {
                let fits = note::picked(frets)
                    .map(|note| note::fit_near(stroke, tuning, note, tuning_cents));
                plain += 1;
                own += usize::from(note::is_it(fits.fold(0.0, f32::max), any));
            }
        }
        (plain >= FEWEST_PLAIN).then(|| own as f32 / plain as f32)
    }

    /// Which stroke fell on each string. One too short to be judged, at the very end, may be the next chord: it falls only on
    /// a string that should sound, that no other fell on, and where a note of that string is heard.
    fn assign(&self, notes: &[[Sounded; STRINGS]], frets: &Frets) -> [Option<usize>; STRINGS] {
        let long = self.long();
        let mut struck = turns::assign(&notes[..long], frets);
        for (stroke, of) in notes.iter().enumerate().skip(long) {
            let is_left = |s: usize| frets.0[s].is_some() && struck[s].is_none();
            let left = of.iter().filter(|n| is_left(n.string));
            let best = left.max_by(|a, b| a.fit.total_cmp(&b.fit));
            if let Some(note) = best.filter(|n| n.fit >= KNOWN_FIT) {
                struck[note.string] = Some(stroke);
            }
        }
        struck
    }

    /// How many strokes, from the first, are long enough to be judged.
    fn long(&self) -> usize {
        let shortest = (f64::from(SHORTEST_S) * self.decimator.rate_hz()) as usize;
        let is_long = |stroke: &&Stroke| stroke.from + shortest <= self.sound.len();
        self.strokes.iter().take_while(is_long).count()
    }

    /// Gives each string its stroke; where one has none, strokes that nobody heard are looked for.
    fn place(&mut self, tuning: &Tuning, frets: &Frets, common_cents: f64) -> Strokes {
        loop {
            let best = |stroke: &Stroke| {
                std::array::from_fn(|s| note::best(stroke, s, tuning, frets, common_cents))
            };
            let notes: Vec<[Sounded; STRINGS]> = self.strokes.iter().map(best).collect();
            let struck = self.assign(&notes, frets);
            let heard = HeardPass {
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
