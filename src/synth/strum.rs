//! A strum of six physical strings: the sound of a chord with any fault on any string.

use rand::Rng;
use rand::rngs::SmallRng;

use super::instrument::Instrument;
use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use super::room::{SMALL_ROOM_DB, SMALL_ROOM_S, room};
use super::string::{Finger, HeldString, PhysicalString, Pluck, STEP_RATE_HZ, Touch};
use crate::decibels;
use crate::fretboard::STRINGS;
use crate::take::Manner;

/// Behaviour of a struck string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Behaviour {
    /// Rings.
    Rings,
    /// Hits the next fret: `strength` 0 (not at all) to 1 (it lies on it).
    Buzzes {
        /// Strength from 0 (not at all) to 1 (it lies on the fret).
        strength: f64,
    },
    /// The finger is half down: the string rattles on its own fret and dies sooner, by `flesh_db_s` dB
    /// a second. `strength` as above.
    Rattles {
        /// Strength from 0 (not at all) to 1 (it lies on the fret).
        strength: f64,
        /// Loss in the flesh, in dB per second.
        flesh_db_s: f64,
    },
    /// The finger is half down with clearance over the fret: it dies within some tenths of a second.
    Choked {
        /// Seconds in which the string loses 60 dB.
        t60_s: f64,
    },
    /// The finger only touches: a thud.
    Muted,
}

/// One string's part in a strum: its fret, counted from nut or capo, and what it does there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringPart {
    /// Fret, counted from the nut or the capo.
    pub fret: u8,
    /// Behaviour of the string there.
    pub behaviour: Behaviour,
}

/// Way in which the strings are struck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gesture {
    /// Strummed or picked.
    pub manner: Manner,
    /// True from string 6 to string 1.
    pub down: bool,
    /// Time from one string to the next, in seconds.
    pub step_s: f64,
    /// Way in which each string is plucked.
    pub pluck: Pluck,
    /// Share of the motion that goes towards the frets, 0 to 1; the rest goes along them.
    pub towards_frets: f64,
}

impl Gesture {
    /// How far the string is drawn towards the frets, in metres.
    fn towards_m(&self) -> f64 {
        self.pluck.aside_m * self.towards_frets
    }

    /// How far it is drawn along them, in metres.
    fn along_m(&self) -> f64 {
        self.pluck.aside_m * (1.0 - self.towards_frets * self.towards_frets).sqrt()
    }

    /// A calm stroke of a plectrum over the strings.
    pub fn usual() -> Self {
        Gesture {
            manner: Manner::Strummed,
            down: true,
            step_s: 0.015,
            pluck: Pluck {
                from_bridge: 0.2,
                aside_m: 0.001,
                touch: Touch::Plectrum,
                draw_s: 0.005,
            },
            towards_frets: 0.5,
        }
    }
}

/// A strum as sound.
#[derive(Debug, Clone)]
pub struct StrumSound {
    /// Mono samples at [`NOTE_RATE_HZ`].
    pub samples: Vec<f32>,
    /// Place where each string is let go, in samples, about; `None` where it is not struck.
    pub onsets: [Option<usize>; STRINGS],
}

/// Silence before the first stroke, in seconds.
const LEAD_S: f64 = 0.3;
/// How far behind the fret a half-pressed string ends, in metres: from memory.
const BEHIND_M: f64 = 0.005;
/// Clearance over the fret under a choked string, in metres: too much for it to rattle.
const CLEAR_M: f64 = 0.002;
/// Force per speed of a finger that only touches, in N s/m: about the strings' own impedances, 0.25
/// (string 1) to 1 (string 6), times two.
const TOUCH_RESISTANCE: f64 = 2.0;
/// How much of the motion along the frets the bridge hands to the body. A choice.
const SIDEWAYS: f64 = 0.4;
/// A string swinging along the frets is this much higher in pitch, in cents: the two beat slowly. A choice.
const SIDEWAYS_CENTS: f64 = 0.6;

/// The string held as its part says. The corner that runs along a plucked string turns over at its end:
/// what is drawn aside at a share p from the bridge swings out by 1/p times its distance from the
/// stopped end there, and that is the strength 0 of a contact.
fn held(instrument: &Instrument, string: usize, part: StringPart, stroke: &Gesture) -> HeldString {
    let pressed = || instrument.held(string, part.fret, Finger::Pressed);
    let reach_m =
        |from_end: f64| stroke.towards_m() * (from_end / stroke.pluck.from_bridge).min(1.0);
    let half = |gap_m: f64, flesh_db_s: f64| {
        let finger = Finger::Half {
            behind_m: BEHIND_M,
            gap_m,
            flesh_db_s,
        };
        instrument.held(string, part.fret, finger)
    };
    let next_fret = 1.0 - 2f64.powf(-1.0 / 12.0);
    match part.behaviour {
        Behaviour::Rings => pressed().over(1, instrument.room_over_next_fret_m()),
        Behaviour::Buzzes { strength } => pressed().over(1, (1.0 - strength) * reach_m(next_fret)),
        Behaviour::Rattles {
            strength,
            flesh_db_s,
        } => {
            let length_m = pressed().spec.length_m;
            half((1.0 - strength) * reach_m(BEHIND_M / length_m), flesh_db_s)
        }
        Behaviour::Choked { t60_s } => half(CLEAR_M, 60.0 / t60_s),
        Behaviour::Muted => {
            let resistance = TOUCH_RESISTANCE;
            instrument.held(string, part.fret, Finger::Touching { resistance })
        }
    }
}

/// One string's force on the bridge at [`NOTE_RATE_HZ`], over `seconds` from the start of its pluck, once
/// for each of `parts`, which differ in nothing but how near the fret is; and when the string last struck
/// a fret, in seconds.
pub fn voices<'a>(
    instrument: &'a Instrument,
    string: usize,
    parts: impl IntoIterator<Item = StringPart> + 'a,
    stroke: &'a Gesture,
    seconds: f64,
) -> impl Iterator<Item = (Vec<f32>, f64)> + 'a {
    let mut beside: Option<Vec<f32>> = None;
    parts.into_iter().map(move |part| {
        let held = held(instrument, string, part, stroke);
        let (mut samples, last_hit_s) = towards(&held, &stroke.pluck, stroke.towards_m(), seconds);
        let beside =
            beside.get_or_insert_with(|| along(&held, &stroke.pluck, stroke.along_m(), seconds));
        samples.iter_mut().zip(beside).for_each(|(t, a)| *t += *a);
        (samples, last_hit_s)
    })
}

/// Force on the bridge of what swings towards the frets, and when a fret was last struck.
fn towards(held: &HeldString, pluck: &Pluck, aside_m: f64, seconds: f64) -> (Vec<f32>, f64) {
    let mut string = PhysicalString::new(held.spec, &held.contacts, STEP_RATE_HZ);
    string.pluck(&Pluck { aside_m, ..*pluck });
    let rate = f64::from(NOTE_RATE_HZ);
    let mut last_hit = 0;
    let samples = (0..(seconds * rate) as usize)
        .map(|i| {
            let mut force = 0.0;
            for _ in 0..(STEP_RATE_HZ / rate) as usize {
                force = string.step();
                if string.touches_fret() {
                    last_hit = i;
                }
            }
            force as f32
        })
        .collect();
    (samples, last_hit as f64 / rate)
}

/// What the body hears of what swings along the frets, which meets flesh only: free modes are exact at
/// any rate.
fn along(held: &HeldString, pluck: &Pluck, aside_m: f64, seconds: f64) -> Vec<f32> {
    let mut spec = held.spec;
    spec.f1_hz *= 2f64.powf(SIDEWAYS_CENTS / 1200.0);
    let contacts: Vec<_> = held
        .contacts
        .iter()
        .copied()
        .filter(|c| !c.is_fret())
        .collect();
    let rate = f64::from(NOTE_RATE_HZ);
    let mut string = PhysicalString::new(spec, &contacts, rate);
    string.pluck(&Pluck { aside_m, ..*pluck });
    (0..(seconds * rate) as usize)
        .map(|_| (SIDEWAYS * string.step()) as f32)
        .collect()
}

/// Strums `parts` (strings 6 to 1, `None` where a string is not struck) and lets them sound for
/// `seconds` after the last one, in a small room. The same `rng` gives the same sound.
pub fn strum(
    instrument: &Instrument,
    parts: &[Option<StringPart>; STRINGS],
    stroke: &Gesture,
    seconds: f64,
    rng: &mut SmallRng,
) -> StrumSound {
    let rate = f64::from(NOTE_RATE_HZ);
    let mut onsets = [None; STRINGS];
    let mut at_s = LEAD_S;
    for i in 0..STRINGS {
        let string = if stroke.down { i } else { STRINGS - 1 - i };
        if parts[string].is_some() {
            onsets[string] = Some((at_s * rate) as usize);
            at_s += stroke.step_s * rng.random_range(0.8..1.2);
        }
    }
    let last = onsets.iter().flatten().max().copied().unwrap_or(0);
    let length = last + (seconds * rate) as usize;
    let mut force = vec![0f32; length];
    for string in 0..STRINGS {
        let (Some(part), Some(onset)) = (parts[string], onsets[string]) else {
            continue;
        };
        // The pluck draws the string for a while before it lets go.
        let begin = onset.saturating_sub((stroke.pluck.draw_s * rate) as usize);
        let mut own = *stroke;
        own.pluck.aside_m *= decibels::to_amplitude(gauss(rng));
        own.pluck.from_bridge *= rng.random_range(0.95..1.05);
        let seconds = (length - begin) as f64 / rate;
        let (sound, _) = voices(instrument, string, [part], &own, seconds)
            .next()
            .expect("one part, one voice");
        force[begin..]
            .iter_mut()
            .zip(&sound)
            .for_each(|(f, s)| *f += s);
    }
    let mut samples = instrument.body.radiate(&force);
    room(&mut samples, SMALL_ROOM_S, SMALL_ROOM_DB, rng);
    StrumSound { samples, onsets }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;

    fn level_db(samples: &[f32]) -> f32 {
        decibels::level(samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32)
    }

    fn alone(behaviour: Behaviour) -> (Vec<f32>, f64) {
        let guitar = Instrument::usual(&Tuning::default());
        let part = StringPart { fret: 3, behaviour };
        voices(&guitar, 1, [part], &Gesture::usual(), 0.8)
            .next()
            .expect("one part, one voice")
    }

    /// Level above 2 kHz against all, in dB.
    fn bright_db(samples: &[f32]) -> f32 {
        let mut above = samples.to_vec();
        super::super::effects::filter_by(&mut above, |hz| f32::from(u8::from(hz > 2000.0)));
        level_db(&above) - level_db(samples)
    }

    #[test]
    fn a_buzzing_string_is_brighter_for_long_and_a_calm_clean_one_hits_nothing() {
        let (clean, clean_hits_s) = alone(Behaviour::Rings);
        let (buzzing, buzzing_hits_s) = alone(Behaviour::Buzzes { strength: 0.8 });
        assert_eq!(clean_hits_s, 0.0);
        assert!(buzzing_hits_s > 0.2, "{buzzing_hits_s} s");
        let later = 8_820..17_640;
        let (clean, buzzing) = (bright_db(&clean[later.clone()]), bright_db(&buzzing[later]));
        assert!(buzzing > clean + 6.0, "{clean:.1} dB and {buzzing:.1} dB");
    }

    #[test]
    fn a_strum_strikes_its_strings_in_order_and_repeats_itself() {
        use rand::SeedableRng;
        let guitar = Instrument::usual(&Tuning::default());
        let parts = [None, Some(0), Some(2), Some(2), Some(2), Some(0)].map(|f: Option<u8>| {
            f.map(|fret| StringPart {
                fret,
                behaviour: Behaviour::Rings,
            })
        });
        let stroke = Gesture {
            down: false,
            ..Gesture::usual()
        };
        let strum = |seed| {
            strum(
                &guitar,
                &parts,
                &stroke,
                0.3,
                &mut SmallRng::seed_from_u64(seed),
            )
        };
        let (a, b, other) = (strum(1), strum(1), strum(2));
        assert!(a.onsets[0].is_none());
        assert!(
            a.onsets[1..].is_sorted_by(|low, high| low > high),
            "{:?}",
            a.onsets
        );
        assert_eq!(a.samples, b.samples);
        assert_ne!(a.samples, other.samples);
        assert!(a.samples.iter().all(|s| s.is_finite()));
    }
}
