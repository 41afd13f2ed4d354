//! Takes in which a string strikes a fret, and takes in which none does though it may seem so: truth for
//! learning to hear buzz. The strings that buzz are computed, so as many of those that do not are.
//!
//! Takes are composed from recorded notes in which one string, some, or all are computed. A computed one strikes
//! the next fret, or its own under a half-pressing finger. As many clean strings come from the same generator, some
//! struck hard enough to meet a fret for a moment. Every string that buzzes has a twin without the fret.
//!
//! A string counts as buzzing by its twin at the same loudness. An octave of the treble (above 1.5 kHz, 0.1 to 0.6
//! s) must lie at least 6 dB over the twin's, contact must last 0.15 s, and the whole take must have 1 dB more in
//! some octave. Below 3 dB in every octave the string is clean. What lies between is neither learnt nor measured.
//!
//! Distractors are squeaks, a bright plectrum, new strings that keep their treble, and a loose thing that leaps on
//! a panel moved by all strings.

use rand::Rng;
use rand::rngs::SmallRng;

use super::compose::{Composed, Conditions, Given, Sound, compose_with};
use super::distractor::Distractor;
use super::effects::filter_by;
use super::instrument::Instrument;
use super::notes::{Guitar, NOTE_RATE_HZ, NOTE_RMS};
use super::random::gauss;
use super::string::{Pluck, Touch};
use super::strum::{Deed, Part, Stroke, voices};
use super::voicings;
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::take::Manner;

/// Truth on one string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Truth {
    /// Strikes no fret, or so little that it is no fault.
    Clean,
    /// Buzzes: in some octave of the treble the take has this much more than without the fret, in dB.
    Buzzes {
        /// Greatest excess over the octaves [`OCTAVES_HZ`], in dB.
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
    /// Truth on each string, 6 to 1.
    pub truth: [Truth; STRINGS],
    /// Which strings are computed.
    pub computed: [bool; STRINGS],
    /// True where clean computed strings were struck hard enough to meet a fret for a moment.
    pub met_a_fret: bool,
    /// Effect of the string that was made to strike a fret, if any, on [`OCTAVES_HZ`] of the take, in dB.
    pub lifts_db: [f64; OCTAVES_HZ.len()],
    /// Time in which that string strikes the fret, in seconds.
    pub hits_s: f64,
    /// The same take without the fret, if any string was made to strike one.
    pub free: Option<Composed>,
    /// The sound beside the strings, if any.
    pub distractor: Option<Distractor>,
}

/// A string that struck a fret (the first of several strengths that buzzes) and its twin that did not,
/// both scaled like notes.
struct Twins {
    struck: Vec<f32>,
    free: Vec<f32>,
    truth: Truth,
    /// How long the fret was struck, in seconds.
    hits_s: f64,
}

/// Octaves of the treble, each from here to twice that, in Hz. Each is judged by itself: hearing does, and
/// the level of all treble is that of its lowest octave, where the string's own partials lie.
pub const OCTAVES_HZ: [f64; 3] = [1_500.0, 3_000.0, 6_000.0];
/// Where buzz is told from mild contact, by the level of an octave of the treble from 0.1 to 0.6 s after the
/// stroke, against the same string without the fret at the same loudness: from 6 dB up it buzzes, below 3 dB
/// it does not. No published limit is known; twice the amplitude is plainly heard, a tenth of that is not.
const BUZZES_DB: f64 = 6.0;
const CLEAN_DB: f64 = 3.0;
/// Buzz also goes on for some time; contact over within some periods is the click of a hard stroke.
const BUZZES_S: f64 = 0.15;
/// An octave with less than this against all the sound of the string is not heard, whatever the excess, in dB.
const HEARD_DB: f64 = -40.0;
/// A buzz that lifts no octave of the recorded chord's treble by this much is drowned by the other strings
/// and the noise: about the least change of level that is noticed (from memory).
const AUDIBLE_DB: f64 = 1.0;
/// Length of a computed note in seconds.
const SECONDS: f64 = 1.95;

fn level_db(samples: &[f32]) -> f64 {
    let power: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
    10.0 * (power / samples.len().max(1) as f64 + 1e-20).log10()
}

/// Levels in dB of the octaves of the treble.
fn octaves_db(part: &[f32]) -> [f64; OCTAVES_HZ.len()] {
    OCTAVES_HZ.map(|low| {
        let mut octave = part.to_vec();
        filter_by(&mut octave, |hz| {
            f32::from(u8::from((low..2.0 * low).contains(&hz)))
        });
        level_db(&octave)
    })
}

/// The part of a computed string that is judged: 0.1 to 0.6 s.
fn judged(samples: &[f32]) -> &[f32] {
    let rate = f64::from(NOTE_RATE_HZ);
    &samples[(0.1 * rate) as usize..(0.6 * rate) as usize]
}

/// By how much each octave of the treble is louder in `a` than in `b`, over half a second from `from`, the
/// gain that brought each to its final level taken out.
fn lifts_db(a: &Composed, b: &Composed, from: usize) -> [f64; OCTAVES_HZ.len()] {
    let to = (from + NOTE_RATE_HZ as usize / 2)
        .min(a.samples.len())
        .min(b.samples.len());
    let gained_db = 20.0 * f64::from(a.gain / b.gain).log10();
    let octaves = |take: &Composed| octaves_db(&take.samples[from.min(to)..to]);
    let (a, b) = (octaves(a), octaves(b));
    std::array::from_fn(|k| a[k] - b[k] - gained_db)
}

/// Brings a computed string to the level of a recorded note.
fn scale(samples: &mut [f32]) {
    let head = &samples[..NOTE_RATE_HZ as usize / 2];
    let gain = NOTE_RMS / 10f32.powf(level_db(head) as f32 / 20.0);
    samples.iter_mut().for_each(|s| *s *= gain);
}

fn twins(
    guitar: &Instrument,
    string: usize,
    fret: u8,
    deed: fn(f64, f64) -> Deed,
    (strengths, flesh_db_s): (&[f64], f64),
    stroke: &Stroke,
) -> Twins {
    // A fret ten times as far away as the string swings is none.
    let free = std::iter::once(-10.0);
    let parts = free
        .chain(strengths.iter().copied().filter(|s| *s > 0.0))
        .map(|strength| Part {
            fret,
            deed: deed(strength, flesh_db_s),
        });
    let parts: Vec<Part> = parts.collect();
    let mut sounds = voices(guitar, string, parts, stroke, SECONDS).map(|(force, last_hit_s)| {
        (
            guitar.body.radiate(&force),
            last_hit_s - stroke.pluck.draw_s,
        )
    });
    let (mut free, _) = sounds.next().expect("the first one");
    scale(&mut free);
    let free_db = octaves_db(judged(&free));
    let mut twins = Twins {
        struck: free.clone(),
        free: Vec::new(),
        truth: Truth::Clean,
        hits_s: 0.0,
    };
    for (mut struck, hits_s) in sounds {
        scale(&mut struck);
        let all_db = level_db(judged(&struck));
        let excess_db = std::iter::zip(octaves_db(judged(&struck)), free_db)
            .filter(|(struck, _)| struck - all_db > HEARD_DB)
            .map(|(struck, free)| struck - free)
            .fold(0.0, f64::max);
        twins.truth = if excess_db >= BUZZES_DB && hits_s >= BUZZES_S {
            Truth::Buzzes { excess_db }
        } else if excess_db < CLEAN_DB {
            Truth::Clean
        } else {
            Truth::Between
        };
        twins.struck = struck;
        twins.hits_s = hits_s;
        if matches!(twins.truth, Truth::Buzzes { .. }) {
            break;
        }
    }
    twins.free = free;
    twins
}

/// A stroke of any hand.
fn stroke(rng: &mut SmallRng) -> Stroke {
    Stroke {
        manner: Manner::Strummed,
        down: true,
        step_s: 0.0,
        pluck: Pluck {
            from_bridge: rng.random_range(0.07..0.35),
            aside_m: 0.000_6 * 2f64.powf(rng.random_range(0.0..2.3)),
            touch: if rng.random_bool(0.7) {
                Touch::Plectrum
            } else {
                Touch::Finger
            },
            draw_s: rng.random_range(0.002..0.010),
        },
        towards_frets: rng.random_range(0.25..0.9),
    }
}

/// Subject of the take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// One string strikes a fret.
    Buzz,
    /// No string strikes a fret so that it matters.
    Clean,
    /// Something else than a string rattles.
    Rattle,
}

/// Draws a take about `subject` whose strings, but for the computed ones, are of recorded guitars: of one, or
/// of several.
pub fn draw(
    guitars: [&Guitar; STRINGS],
    tuning: &Tuning,
    subject: Subject,
    conditions: &Conditions,
    wide: bool,
    rng: &mut SmallRng,
) -> BuzzTake {
    let (frets, barre) = voicings::draw(rng, wide);
    let sounds = if rng.random_bool(0.3) {
        voicings::faults(&frets, barre, rng, wide)
    } else {
        frets.0.map(|f| f.map_or(Sound::Nothing, Sound::Rings))
    };
    let ringing: Vec<usize> = (0..STRINGS)
        .filter(|&s| frets.0[s].is_some_and(|f| sounds[s] == Sound::Rings(f)))
        .collect();
    let chosen = ringing
        .get(rng.random_range(0..ringing.len().max(1)))
        .copied();
    // One computed string among recorded ones, some, or all: alike whether any buzzes or not; of takes
    // where none need be computed, a third have none.
    let share = match rng.random_range(0..10) {
        0..4 => 0.0,
        4..7 => 0.5,
        _ => 1.0,
    };
    let none = subject != Subject::Buzz && rng.random_bool(0.33);
    let instrument = Instrument::drawn(tuning, rng);
    let hand = stroke(rng);
    let mut given = Given {
        guitars: guitars.map(Some),
        ..Given::default()
    };
    let mut take_truth = [Truth::Clean; STRINGS];
    let mut computed = [false; STRINGS];
    let mut met_a_fret = false;
    let mut free_twin = None;
    let (mut lifts, mut hits_s) = ([0.0; OCTAVES_HZ.len()], 0.0);
    for &string in &ringing {
        if none || (Some(string) != chosen && !rng.random_bool(share)) {
            continue;
        }
        let buzzes = subject == Subject::Buzz && Some(string) == chosen;
        let fret = frets.0[string].expect("it rings");
        let mut own = hand;
        // The hand stays at its place: on a shorter string that is a larger share.
        own.pluck.from_bridge =
            (hand.pluck.from_bridge * 2f64.powf(f64::from(fret) / 12.0)).min(0.5);
        own.pluck.aside_m *= 2f64.powf(0.3 * gauss(rng));
        let half = fret > 0 && rng.random_bool(0.4);
        let deed: fn(f64, f64) -> Deed = if half {
            |strength, flesh_db_s| Deed::Rattles {
                strength,
                flesh_db_s,
            }
        } else {
            |strength, _| Deed::Buzzes { strength }
        };
        let flesh_db_s = 60.0 * rng.random_range(0.0f64..1.0).powi(2);
        // Where it does not buzz at first, it hits harder.
        let strengths: Vec<f64> = if buzzes {
            let first: f64 = rng.random_range(0.4..0.9);
            (0..3)
                .map(|n| 1.0 - (1.0 - first) * 0.4f64.powi(n))
                .collect()
        } else {
            vec![rng.random_range(-1.0..0.6)]
        };
        let twins = twins(
            &instrument,
            string,
            fret,
            deed,
            (&strengths, flesh_db_s),
            &own,
        );
        let (voice, truth, met) = match (buzzes, twins.truth) {
            (true, truth) => (
                twins.struck,
                truth,
                truth == Truth::Clean && twins.hits_s > 0.0,
            ),
            (false, Truth::Clean) => (twins.struck, Truth::Clean, twins.hits_s > 0.0),
            (false, _) => (twins.free.clone(), Truth::Clean, false),
        };
        met_a_fret |= met;
        if buzzes {
            hits_s = twins.hits_s;
            free_twin = Some((string, twins.free));
        }
        take_truth[string] = truth;
        computed[string] = true;
        given.voices[string] = Some(voice);
    }
    given.distractor = match subject {
        Subject::Rattle => Some(Distractor::Rattle),
        _ if rng.random_bool(0.2) => Some(Distractor::Squeak),
        _ if rng.random_bool(0.2) => Some(Distractor::Bright),
        _ => None,
    };
    let before = rng.clone();
    let made = compose_with(guitars[0], tuning, &sounds, &given, conditions, rng);
    // The same take but for the fret: what the buzz does to the chord as it was recorded.
    let mut free_take = None;
    if let Some((string, free)) = free_twin {
        given.voices[string] = Some(free);
        let mut again = before;
        let free = compose_with(guitars[0], tuning, &sounds, &given, conditions, &mut again);
        let from = made.onsets[string].unwrap_or(0) + NOTE_RATE_HZ as usize / 20;
        lifts = lifts_db(&made, &free, from);
        let excess_db = lifts.into_iter().fold(0.0, f64::max);
        take_truth[string] = match take_truth[string] {
            Truth::Buzzes { .. } if excess_db < AUDIBLE_DB => Truth::Between,
            Truth::Buzzes { .. } => Truth::Buzzes { excess_db },
            other => other,
        };
        free_take = Some(free);
    }
    BuzzTake {
        made,
        frets,
        truth: take_truth,
        computed,
        met_a_fret,
        lifts_db: lifts,
        hits_s,
        free: free_take,
        distractor: given.distractor,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::modal;
    use rand::SeedableRng;

    #[test]
    fn takes_about_buzz_hold_one_buzzing_string_or_an_unclear_one_and_clean_ones_none() {
        let guitar = modal::guitar(5);
        let tuning = Tuning::default();
        let (mut buzzing, mut clean_computed) = (0, 0);
        for seed in 0..12 {
            let mut rng = SmallRng::seed_from_u64(seed);
            let subject = if seed % 2 == 0 {
                Subject::Buzz
            } else {
                Subject::Clean
            };
            let take = draw(
                [&guitar; STRINGS],
                &tuning,
                subject,
                &Conditions::measuring(),
                false,
                &mut rng,
            );
            let count = take
                .truth
                .iter()
                .filter(|t| matches!(t, Truth::Buzzes { .. }))
                .count();
            let bound = usize::from(subject == Subject::Buzz);
            assert!(count <= bound, "seed {seed}: {:?}", take.truth);
            buzzing += count;
            clean_computed += (0..STRINGS)
                .filter(|&s| take.computed[s] && take.truth[s] == Truth::Clean)
                .count();
            assert!(take.made.samples.iter().all(|s| s.is_finite()));
        }
        assert!(
            buzzing >= 2 && clean_computed >= 5,
            "{buzzing} and {clean_computed}"
        );
    }
}
