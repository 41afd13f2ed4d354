//! Takes in which strings strike a fret, and takes in which none does though it may seem so: truth for
//! learning to hear buzz.
//!
//! Takes are composed from recorded notes. What strikes a fret comes from one [`Maker`], and makers are unlike each
//! other: a network that knows one of them has not yet heard buzz.
//!
//! | maker | the string | its contact |
//! | --- | --- | --- |
//! | modal | computed, a sum of modes | with the next fret, or its own under a half-pressing finger |
//! | grid | computed, by finite differences in two directions | with any fret of an uneven fingerboard |
//! | waves | computed, waves in delay lines in two directions | as of the grid; the fret turns the waves back |
//! | bursts | recorded | real, from a bass, moved in pitch and in time |
//! | limited | recorded | its swing is cut off on one side |
//! | hits | recorded | drawn bursts, one a period |
//!
//! Hits are there to be learnt from: they are like no real string, and as varied as no other maker. No network learns
//! waves: they are there to measure all of them.
//!
//! As many clean strings come from the same maker: computed ones, some struck hard enough to meet a fret for a moment,
//! and recorded ones with contact that nobody hears. Every string that strikes a fret has a twin without it.
//!
//! A string counts as buzzing by its twin at the same loudness. An octave of the treble (above 1.5 kHz) must lie at least
//! 6 dB over the twin's. Half a second is judged from 0.1 s after the stroke on, and another from where a late swell
//! begins. Contact from the attack on must last 0.15 s. The string must lift some octave of the whole take by 1 dB, were
//! it the only one that strikes a fret. Below 3 dB in every octave the string is clean. What lies between is neither
//! learnt nor measured.
//!
//! Distractors are squeaks, a bright plectrum, new strings that keep their treble, and a loose thing that leaps on
//! a panel moved by all strings.

mod bursts;
pub mod contact;
mod hand;
mod hits;
pub mod laid;
mod limited;
mod modal;
mod neck;
mod real;
mod recorded;
mod twins;

use rand::Rng;
use rand::rngs::SmallRng;

use super::compose::{Composed, Conditions, Given, StringSound, compose_with};
use super::distractor::Distractor;
use super::notes::Guitar;
use super::voicings;
use crate::fretboard::{Frets, STRINGS, Tuning};
use contact::RattlingNote;
use recorded::RecordedGuitars;
use twins::{ATTACK_S, JUDGED_S, LATEST_S, Twins, at, octaves_db};
pub use twins::{OCTAVES_HZ, Swell};

/// Maker of contact between the strings of a take and frets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Maker {
    /// A computed string, the sum of its modes, over one fret.
    Modal,
    /// A computed string on a grid, over a whole fingerboard.
    Grid,
    /// Real contact of a bass, laid onto recorded notes.
    Bursts,
    /// Recorded notes whose swing is cut off on one side.
    Limited,
    /// Drawn bursts, one a period, laid onto recorded notes.
    Hits,
    /// A computed string of waves in delay lines, over a whole fingerboard. Only measured.
    Waves,
}

impl Maker {
    /// All of them. Tables know a maker by its place in this list.
    pub const ALL: [Maker; 6] = [
        Maker::Modal,
        Maker::Grid,
        Maker::Bursts,
        Maker::Limited,
        Maker::Hits,
        Maker::Waves,
    ];

    /// Makers that networks learn.
    pub const LEARNT: [Maker; 5] = [
        Maker::Modal,
        Maker::Grid,
        Maker::Bursts,
        Maker::Limited,
        Maker::Hits,
    ];

    /// One of its strings or hands, on notes of these guitars.
    fn drawn<'a>(
        self,
        notes: RecordedGuitars<'a>,
        contact: &'a [RattlingNote],
        rng: &mut SmallRng,
    ) -> Box<dyn Make + 'a> {
        match self {
            Maker::Modal => Box::new(modal::Modal::drawn(notes.tuning, rng)),
            Maker::Grid => Box::new(neck::Neck::of_grids(notes.tuning, rng)),
            Maker::Waves => Box::new(neck::Neck::of_waves(notes.tuning, rng)),
            Maker::Bursts => Box::new(bursts::Bursts { notes, contact }),
            Maker::Limited => Box::new(limited::Limited { notes }),
            Maker::Hits => Box::new(hits::Hits { notes }),
        }
    }
}

/// Sounds that takes are made of.
#[derive(Debug, Clone, Copy)]
pub struct Material<'a> {
    /// The recorded guitar of each string, 6 to 1. Their notes stand for clean ones:
    /// [`leave_contact_out`](super::notes::leave_contact_out) first.
    pub guitars: [&'a Guitar; STRINGS],
    /// Real contact. Pitches are left out by [`contact::without`].
    pub contact: &'a [RattlingNote],
}

/// Truth of one string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BuzzTruth {
    /// Strikes no fret, or so little that it is no fault.
    Clean,
    /// Buzzes: in some octave of the treble the take has this much more than without the fret, in dB.
    Buzzes {
        /// Lift of the octave of [`OCTAVES_HZ`] that it lifts most, in dB: the take with this string alone
        /// striking a fret, against the take with none. The greatest of both half seconds that are judged.
        excess_db: f64,
    },
    /// Between the two: not for learning, not for measuring.
    Between,
}

/// A take and its truth.
#[derive(Debug, Clone)]
pub struct BuzzTake {
    /// The take as sound.
    pub made: Composed,
    /// The voicing that was meant.
    pub frets: Frets,
    /// Truth of each string, 6 to 1.
    pub truth: [BuzzTruth; STRINGS],
    /// True for strings that come from the maker: computed, or recorded and processed, or real contact.
    pub computed: [bool; STRINGS],
    /// True where clean strings of the maker met a fret for a moment, or so lightly that nobody hears it.
    pub met_a_fret: bool,
    /// Lift of [`OCTAVES_HZ`] of the take by the strings made to strike a fret, if any, in dB: the
    /// greatest of the half seconds that are judged, of any of these strings.
    pub lifts_db: [f64; OCTAVES_HZ.len()],
    /// Time for which each of these strings strikes the fret, in seconds; 0 for the others.
    pub hits_s: [f64; STRINGS],
    /// Place at which the treble of each of these strings stands out most.
    pub swells: [Option<Swell>; STRINGS],
    /// The same take with none of them striking a fret, if any was made to.
    pub free: Option<Composed>,
    /// The sound beside the strings, if any.
    pub distractor: Option<Distractor>,
    /// Lift by something loose that rattles of the octave of the treble that it lifts most, in dB; 0 where none does.
    pub rattle_db: f64,
}

/// A buzz that lifts no octave of the recorded chord's treble by this much is drowned by the other strings
/// and the noise: about the least change of level that is noticed (from memory).
const AUDIBLE_DB: f64 = 1.0;
/// Something loose that lifts an octave by this much rattles plainly, in dB; what lies between is not known. As of strings.
const PLAIN_DB: f64 = 3.0;
/// Length of a computed note in seconds.
const SECONDS: f64 = 2.65;
/// Length of a take after its last stroke, in seconds: what is judged, and a little more.
const TAIL_S: f64 = LATEST_S + 0.1;
/// Less than this is not judged, in seconds.
const LEAST_JUDGED_S: f64 = 0.1;

/// What a string is to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Aim {
    Buzz,
    Clean,
}

impl Aim {
    /// How near a fret is to a computed string, from none (0) to lying on it (1). Where it does not buzz at first, it
    /// hits harder.
    fn strengths(self, rng: &mut SmallRng) -> Vec<f64> {
        let strengths = match self {
            Aim::Buzz => {
                let first: f64 = rng.random_range(0.4..0.9);
                (0..3)
                    .map(|n| 1.0 - (1.0 - first) * 0.4f64.powi(n))
                    .collect()
            }
            Aim::Clean => vec![rng.random_range(-1.0..0.6)],
        };
        strengths.into_iter().filter(|s| *s > 0.0).collect()
    }
}

impl BuzzTake {
    /// Tells whether something loose rattles; `None` where it can hardly be heard.
    pub fn rattles(&self) -> Option<bool> {
        match self.rattle_db {
            db if db >= PLAIN_DB => Some(true),
            db if db < AUDIBLE_DB => Some(false),
            _ => None,
        }
    }
}

/// Makes strings that meet a fret.
trait Make {
    /// Tells whether it has a string at this fret.
    fn can(&self, _string: usize, _fret: u8) -> bool {
        true
    }

    /// A string at a fret, with a fret in its way and without.
    fn twins(&self, at: (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins;
}

/// The sound of one string at a fret that a maker lets buzz, scaled as recorded notes are; `None` where what it made is no
/// buzz by its twin. Whether it can be heard beside a chord is another matter.
pub fn voice(
    maker: Maker,
    material: &Material<'_>,
    tuning: &Tuning,
    at: (usize, u8),
    rng: &mut SmallRng,
) -> Option<Vec<f32>> {
    let notes = RecordedGuitars {
        guitars: material.guitars,
        tuning,
        transpose: 0.0,
        varied: false,
    };
    let make = maker.drawn(notes, material.contact, rng);
    if !make.can(at.0, at.1) {
        return None;
    }
    let twins = make.twins(at, Aim::Buzz, rng);
    matches!(twins.truth, BuzzTruth::Buzzes { .. }).then_some(twins.struck)
}

/// Subject of the take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Strings that strike a fret, or as many that ring.
    Buzz {
        /// Number of strings, 1 to 6.
        strings: usize,
    },
    /// No string strikes a fret so that it matters.
    Clean,
    /// Something else than a string rattles.
    Rattle,
}

/// Share of takes about buzz in which one string alone buzzes. A choice.
const ALONE: f64 = 0.75;

impl Subject {
    /// Buzz of one string, mostly; of two to six in the others.
    pub fn buzz(rng: &mut SmallRng) -> Self {
        let strings = match rng.random_bool(ALONE) {
            true => 1,
            false => rng.random_range(2..=STRINGS),
        };
        Subject::Buzz { strings }
    }

    /// How many strings are to buzz.
    fn strings(self) -> usize {
        match self {
            Subject::Buzz { strings } => strings,
            Subject::Clean | Subject::Rattle => 0,
        }
    }
}

/// Share of takes whose other strings have faults too. A choice.
const FAULTY: f64 = 0.3;

/// Draws a take about `subject` by `maker`. Its other strings are recorded ones of one guitar, or of several.
pub fn draw(
    material: &Material<'_>,
    tuning: &Tuning,
    (subject, maker): (Subject, Maker),
    conditions: &Conditions,
    wide: bool,
    rng: &mut SmallRng,
) -> BuzzTake {
    let transpose = rng.random_range(-1.0..=1.0) * conditions.transpose;
    let contact = material.contact;
    let notes = RecordedGuitars {
        guitars: material.guitars,
        tuning,
        transpose,
        varied: wide,
    };
    let make = maker.drawn(notes, contact, rng);
    let chord = Chord {
        guitars: material.guitars,
        tuning,
        transpose,
        conditions,
        wide,
    };
    let (frets, barre) = voicings::draw(rng, wide);
    let sounds = if rng.random_bool(FAULTY) {
        voicings::faults(&frets, barre, rng, wide)
    } else {
        ringing(&frets)
    };
    chord.take(frets, &sounds, subject, make.as_ref(), rng)
}

/// Most voicings that are drawn to find one with a note that a real one is near to.
const MOST_DRAWN: usize = 200;

/// Draws a take for measuring: one string is a whole recorded note of real contact, the others are recorded notes of
/// guitars. `free` is the take with that contact taken out. `None` where no note of `material.contact` lies within four
/// semitones of any chord's.
pub fn draw_real(
    material: &Material<'_>,
    tuning: &Tuning,
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> Option<BuzzTake> {
    let whole = real::Whole {
        contact: material.contact,
        tuning,
    };
    let chord = Chord {
        guitars: material.guitars,
        tuning,
        transpose: rng.random_range(-1.0..=1.0) * conditions.transpose,
        conditions,
        wide: false,
    };
    let frets = (0..MOST_DRAWN)
        .map(|_| voicings::draw(rng, false).0)
        .find(|frets| (0..STRINGS).any(|s| frets.0[s].is_some_and(|fret| whole.can(s, fret))))?;
    let subject = Subject::Buzz { strings: 1 };
    Some(chord.take(frets, &ringing(&frets), subject, &whole, rng))
}

/// Every string of a voicing rings.
fn ringing(frets: &Frets) -> [StringSound; STRINGS] {
    frets
        .0
        .map(|f| f.map_or(StringSound::Nothing, StringSound::Rings))
}

/// What a take's strings have in common.
struct Chord<'a> {
    guitars: [&'a Guitar; STRINGS],
    tuning: &'a Tuning,
    transpose: f64,
    conditions: &'a Conditions,
    /// Whether strings of the maker may be louder than the others.
    wide: bool,
}

/// By how much a string of the maker is louder than the others at most, where takes are varied widely, in dB, and in which
/// share of takes. Whether it buzzes or not: else half of all buzz is drowned by the chord.
const LOUDER_DB: f64 = 9.0;
const LOUDER: f64 = 0.6;

/// Share of takes in which no string is the maker's, of those where none need be. A choice.
const NONE_COMPUTED: f64 = 0.33;
/// Shares of the other strings that are the maker's, each as often as it stands here: one string of the maker among recorded
/// ones, some, or all, alike whether any buzzes or not.
const COMPUTED: [f64; 10] = [0.0, 0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 1.0, 1.0, 1.0];
/// Shares of takes without a rattle in which a finger squeaks, and of the others in which the plectrum is bright. A choice.
const SQUEAKS: f64 = 0.2;
const BRIGHT: f64 = 0.2;

/// What the maker's strings do, before they are heard.
#[derive(Default)]
struct Parts {
    /// The sounds of the maker's strings.
    voices: [Option<Vec<f32>>; STRINGS],
    /// ... and what those that buzz would sound like without the fret.
    free: [Option<Vec<f32>>; STRINGS],
    truth: [Option<BuzzTruth>; STRINGS],
    swells: [Option<Swell>; STRINGS],
    hits_s: [f64; STRINGS],
    met_a_fret: bool,
}

/// What strings that were made to strike a fret come to in the take.
struct Judged {
    truth: [BuzzTruth; STRINGS],
    lifts_db: [f64; OCTAVES_HZ.len()],
    free: Option<Composed>,
}

impl Chord<'_> {
    fn take(
        &self,
        frets: Frets,
        sounds: &[StringSound; STRINGS],
        subject: Subject,
        make: &dyn Make,
        rng: &mut SmallRng,
    ) -> BuzzTake {
        let able = (0..STRINGS)
            .filter_map(|s| Some((s, frets.0[s]?)))
            .filter(|&(s, fret)| sounds[s] == StringSound::Rings(fret) && make.can(s, fret))
            .collect();
        let parts = self.parts(shuffled(able, rng), subject, make, rng);
        let given = Given {
            voices: parts.voices.clone(),
            guitars: self.guitars.map(Some),
            transpose: Some(self.transpose),
            tail_s: Some(TAIL_S),
            distractor: distractor(subject, rng),
            free: frets.0.map(|fret| fret.is_none().then_some(0)),
            ..Given::default()
        };
        // Twins are composed with the same draws as the take.
        let before = rng.clone();
        let made = self.compose(sounds, &given, rng);
        let twin = |given: &Given<'_>| self.compose(sounds, given, &mut before.clone());
        let rattle_db = match subject {
            Subject::Rattle => {
                let quiet = twin(&Given {
                    without_distractor: true,
                    ..given.clone()
                });
                rattle_lift_db(&made, &quiet)
            }
            Subject::Buzz { .. } | Subject::Clean => 0.0,
        };
        let distractor = given.distractor;
        let judged = parts.judged(&made, given, twin);
        BuzzTake {
            made,
            frets,
            truth: judged.truth,
            computed: parts.voices.each_ref().map(Option::is_some),
            met_a_fret: parts.met_a_fret,
            lifts_db: judged.lifts_db,
            hits_s: parts.hits_s,
            swells: parts.swells,
            free: judged.free,
            distractor,
            rattle_db,
        }
    }

    /// Has the maker make its strings: of those that it can, the first are to buzz.
    fn parts(
        &self,
        able: Vec<(usize, u8)>,
        subject: Subject,
        make: &dyn Make,
        rng: &mut SmallRng,
    ) -> Parts {
        let share = COMPUTED[rng.random_range(0..COMPUTED.len() as i32) as usize];
        let none = subject.strings() == 0 && rng.random_bool(NONE_COMPUTED);
        let louder = match self.wide && rng.random_bool(LOUDER) {
            true => 10f32.powf(rng.random_range(0.0..LOUDER_DB) as f32 / 20.0),
            false => 1.0,
        };
        let mut parts = Parts::default();
        for (place, (string, fret)) in able.into_iter().enumerate() {
            let aim = match place < subject.strings() {
                true => Aim::Buzz,
                false => Aim::Clean,
            };
            if none || (place >= subject.strings().max(1) && !rng.random_bool(share)) {
                continue;
            }
            let mut twins = make.twins((string, fret), aim, rng);
            let voices = twins.struck.iter_mut().chain(&mut twins.free);
            voices.for_each(|s| *s *= louder);
            parts.put(string, aim, twins);
        }
        parts
    }

    fn compose(
        &self,
        sounds: &[StringSound; STRINGS],
        given: &Given<'_>,
        rng: &mut SmallRng,
    ) -> Composed {
        let (guitar, conditions) = (self.guitars[0], self.conditions);
        compose_with(guitar, self.tuning, sounds, given, conditions, rng)
    }
}

/// These in any order.
fn shuffled<T>(mut all: Vec<T>, rng: &mut SmallRng) -> Vec<T> {
    for i in 0..all.len() {
        let with = rng.random_range(i..all.len());
        all.swap(i, with);
    }
    all
}

/// A sound beside the strings: what the take is about, or one that must not be taken for buzz.
fn distractor(subject: Subject, rng: &mut SmallRng) -> Option<Distractor> {
    match subject {
        Subject::Rattle => Some(Distractor::Rattle),
        _ if rng.random_bool(SQUEAKS) => Some(Distractor::Squeak),
        _ if rng.random_bool(BRIGHT) => Some(Distractor::Bright),
        _ => None,
    }
}

impl Parts {
    /// Takes in a string as the maker made it.
    fn put(&mut self, string: usize, aim: Aim, twins: Twins) {
        let clean = twins.truth == BuzzTruth::Clean;
        self.met_a_fret |= clean && twins.hits_s > 0.0;
        match aim {
            Aim::Buzz => {
                self.voices[string] = Some(twins.struck);
                self.free[string] = Some(twins.free);
                self.truth[string] = Some(twins.truth);
                self.hits_s[string] = twins.hits_s;
                self.swells[string] = Some(twins.swell);
            }
            Aim::Clean if clean => self.voices[string] = Some(twins.struck),
            Aim::Clean => self.voices[string] = Some(twins.free),
        }
    }

    /// What these parts do in a take that was composed of `given`, against the same take but for the frets: what the buzz
    /// does to the chord as it was recorded. `twin` composes the same take of others.
    fn judged(
        &self,
        made: &Composed,
        given: Given<'_>,
        twin: impl Fn(&Given<'_>) -> Composed,
    ) -> Judged {
        let mut judged = Judged {
            truth: self.truth.map(|truth| truth.unwrap_or(BuzzTruth::Clean)),
            lifts_db: [0.0; OCTAVES_HZ.len()],
            free: None,
        };
        let buzzing: Vec<(usize, Swell)> = (self.swells.iter().enumerate())
            .filter_map(|(string, swell)| Some((string, (*swell)?)))
            .collect();
        if buzzing.is_empty() {
            return judged;
        }
        let mut without = given;
        for &(string, _) in &buzzing {
            without.voices[string].clone_from(&self.free[string]);
        }
        let none = twin(&without);
        for &(string, swell) in &buzzing {
            let together = lifts(made, &none, string, &swell);
            for (most, lift) in judged.lifts_db.iter_mut().zip(together) {
                *most = lift.max(*most);
            }
            let alone = match buzzing.len() {
                1 => together,
                _ => {
                    without.voices[string].clone_from(&self.voices[string]);
                    let alone = twin(&without);
                    without.voices[string].clone_from(&self.free[string]);
                    lifts(&alone, &none, string, &swell)
                }
            };
            let excess_db = alone.into_iter().fold(0.0, f64::max);
            let truth = &mut judged.truth[string];
            *truth = match *truth {
                BuzzTruth::Buzzes { .. } if excess_db < AUDIBLE_DB => BuzzTruth::Between,
                BuzzTruth::Buzzes { .. } => BuzzTruth::Buzzes { excess_db },
                other => other,
            };
        }
        judged.free = Some(none);
        judged
    }
}

/// By how much an octave of the treble is louder in `a` than in `b` at most, in any half second from the last stroke on.
fn rattle_lift_db(a: &Composed, b: &Composed) -> f64 {
    let last = a.onsets.iter().flatten().max().copied().unwrap_or(0);
    let gained_db = 20.0 * f64::from(a.gain / b.gain).log10();
    let end = a.end.min(b.end).min(last + at(LATEST_S));
    (last + at(ATTACK_S)..end.saturating_sub(at(JUDGED_S)))
        .step_by(at(JUDGED_S))
        .flat_map(|from| {
            let octaves = |take: &Composed| octaves_db(&take.samples, from..from + at(JUDGED_S));
            let (a, b) = (octaves(a), octaves(b));
            (0..OCTAVES_HZ.len()).map(move |k| a[k] - b[k] - gained_db)
        })
        .fold(0.0, f64::max)
}

/// By how much each octave of the treble is louder in `a` than in `b` where `string` is judged, the gain that brought each
/// to its final level taken out. What comes after the chord's end is not judged.
fn lifts(a: &Composed, b: &Composed, string: usize, swell: &Swell) -> [f64; OCTAVES_HZ.len()] {
    let first = a.onsets.iter().flatten().min().copied().unwrap_or(0);
    let onset = a.onsets[string].unwrap_or(first);
    let last = (onset + at(LATEST_S)).min(a.end).min(b.end);
    let gained_db = 20.0 * f64::from(a.gain / b.gain).log10();
    let mut lifts_db = [0.0; OCTAVES_HZ.len()];
    for from_s in swell.windows_s() {
        let from = onset + at(from_s);
        let to = (from + at(JUDGED_S)).min(last);
        if to < from + at(LEAST_JUDGED_S) {
            continue;
        }
        let octaves = |take: &Composed| octaves_db(&take.samples, from..to);
        let (a, b) = (octaves(a), octaves(b));
        for k in 0..OCTAVES_HZ.len() {
            lifts_db[k] = f64::max(lifts_db[k], a[k] - b[k] - gained_db);
        }
    }
    lifts_db
}

#[cfg(test)]
mod tests;
