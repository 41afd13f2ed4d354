//! Buzz of the modal string: it strikes the next fret, or its own under a half-pressing finger.

use rand::Rng;
use rand::rngs::SmallRng;

use super::hand::StrikingHand;
use super::twins::{Attempt, Twins, noise, scale};
use super::{Aim, Make, SECONDS};
use crate::fretboard::Tuning;
use crate::synth::effects::add;
use crate::synth::instrument::Instrument;
use crate::synth::strum::{Behaviour, StringPart, voices};

/// A guitar of modal strings and the hand that strikes it.
pub(super) struct Modal {
    instrument: Instrument,
    hand: StrikingHand,
}

impl Modal {
    pub fn drawn(tuning: &Tuning, rng: &mut SmallRng) -> Self {
        Modal {
            instrument: Instrument::drawn(tuning, rng),
            hand: StrikingHand::drawn(rng),
        }
    }
}

impl Make for Modal {
    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let stroke = self.hand.on(fret, rng);
        let half = fret > 0 && rng.random_bool(0.4);
        let flesh_db_s = 60.0 * rng.random_range(0.0f64..1.0).powi(2);
        let behaviour = |strength| match half {
            true => Behaviour::Rattles {
                strength,
                flesh_db_s,
            },
            false => Behaviour::Buzzes { strength },
        };
        // A fret ten times as far away as the string swings is none.
        let strengths = std::iter::once(-10.0).chain(aim.strengths(rng));
        let parts = strengths.map(|strength| StringPart {
            fret,
            behaviour: behaviour(strength),
        });
        let noise = noise(super::twins::at(SECONDS), rng);
        let mut sounds =
            voices(&self.instrument, string, parts, &stroke, SECONDS).map(|(force, last_hit_s)| {
                let mut samples = self.instrument.body.radiate(&force);
                scale(&mut samples);
                add(&mut samples, &noise, 1.0);
                Attempt {
                    samples,
                    hits_s: (last_hit_s - stroke.pluck.draw_s).max(0.0),
                }
            });
        let free = sounds.next().expect("the first one").samples;
        Twins::judged(free, sounds)
    }
}
