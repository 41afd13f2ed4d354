//! The conditions under which takes are made.

use crate::synth::room::{SMALL_ROOM_DB, SMALL_ROOM_S};
use crate::take::Manner;

/// The conditions under which takes are made.
#[derive(Debug, Clone)]
pub struct Conditions {
    /// Standard deviation of a string's own level, in dB.
    pub level_db: f64,
    /// Standard deviation of a string's own detuning, in cents.
    pub detune_cents: f64,
    /// Range of the guitar's common offset, in cents.
    pub tuning_cents: f64,
    /// Range of the step from string to string in a strum, in seconds.
    pub step_s: (f64, f64),
    /// Depth of a random smooth equaliser, in dB.
    pub equaliser_db: f64,
    /// Range by which the whole guitar may be moved in pitch, in semitones: a way to more guitars.
    pub transpose: f64,
    /// Ranges of the room's T60 in seconds, and of how far its sound is below the direct one, in dB.
    pub room_t60_s: (f64, f64),
    /// Range of how far the room's sound is below the direct one, in dB.
    pub room_db: (f32, f32),
    /// Range of the background below the strum's peak, in dB.
    pub noise_db: (f64, f64),
    /// Probability that the chord ends early because the next one comes.
    pub ends_early: f64,
    /// Probability that another chord was ringing before.
    pub after_another: f64,
    /// Probability of a phone's band limits.
    pub phone: f64,
    /// Probability that what records evens out loud and soft.
    pub compressed: f64,
    /// Probability that what records is overdriven.
    pub clipped: f64,
    /// Probability that sound is lost on its way, or something knocks.
    pub torn: f64,
    /// Probability that the notes are made into another guitar's.
    pub disguised: f64,
    /// Probability that free strings resonate (`synth::coupled`).
    pub along: f64,
    /// Strummed or picked.
    pub manner: Manner,
}

impl Conditions {
    /// Conditions for measuring: moderate levels and equaliser, nothing moved.
    pub fn measuring() -> Self {
        Conditions {
            level_db: 2.5,
            detune_cents: 3.0,
            tuning_cents: 15.0,
            step_s: (0.005, 0.025),
            equaliser_db: 0.0,
            transpose: 0.0,
            room_t60_s: SMALL_ROOM_S,
            room_db: SMALL_ROOM_DB,
            noise_db: (30.0, 55.0),
            ends_early: 0.0,
            after_another: 0.0,
            phone: 0.2,
            compressed: 0.0,
            clipped: 0.0,
            torn: 0.0,
            disguised: 0.0,
            along: 0.0,
            manner: Manner::Strummed,
        }
    }

    /// Conditions for measuring: a room that rings long and loud, as a bare one does a metre or two from the guitar.
    pub fn bare_room() -> Self {
        Conditions {
            room_t60_s: (0.4, 0.8),
            room_db: (0.0, 8.0),
            ..Self::measuring()
        }
    }

    /// Conditions for measuring: through what evens out loud and soft, as phones do.
    pub fn compressing() -> Self {
        Conditions {
            compressed: 1.0,
            ..Self::measuring()
        }
    }

    /// Conditions for training: varied much more widely than any measurement, since variety is what carries
    /// over to guitars and hands never heard.
    pub fn training() -> Self {
        Conditions {
            level_db: 5.0,
            detune_cents: 4.0,
            tuning_cents: 25.0,
            step_s: (0.002, 0.04),
            equaliser_db: 5.0,
            transpose: 3.0,
            room_t60_s: (0.1, 0.8),
            room_db: (0.0, 20.0),
            noise_db: (25.0, 60.0),
            ends_early: 0.35,
            after_another: 0.25,
            phone: 0.25,
            compressed: 0.15,
            clipped: 0.0,
            torn: 0.0,
            disguised: 0.5,
            along: 0.5,
            manner: Manner::Strummed,
        }
    }
}
