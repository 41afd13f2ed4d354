//! Players that are composed: they do what a trial asks, mostly.
//!
//! A deed done late, after what is judged, sounds like one that is not done at all: the strum is clean. One done
//! wrongly is done to another string that the hand can do it to. A simulated player notices neither, and throws nothing
//! away.

use rand::Rng;
use rand::rngs::SmallRng;

use super::plan::can;
use super::{Deed, PlannedStrum};
use crate::fretboard::{STRINGS, Tuning};
use crate::synth::buzz::{self, Maker, Material};
use crate::synth::compose::{Composed, Conditions, Given, StringSound, compose_with};
use crate::synth::notes::Guitar;

/// Share of the damped strings that die early, the others being dead: what a finger does that leans or is lifted.
const DIES_EARLY: f64 = 0.45;
/// Share of the strings under a slackened barre that stop to ring beside the one that is meant.
const BARRE_LETS_GO: f64 = 0.3;
/// Share of the quiet strings that are struck and damped.
const DAMPED: f64 = 0.25;
/// A buzz that a maker cannot make at once is tried so often.
const TRIES: usize = 8;
/// Sound after the last string is struck, in seconds: a strum of a trial is left to ring.
const TAIL_S: f64 = 2.6;

/// A player and the guitar.
#[derive(Debug, Clone, Copy)]
pub struct Player<'a> {
    /// Recorded notes of the guitar.
    pub guitar: &'a Guitar,
    /// Its tuning.
    pub tuning: &'a Tuning,
    /// Makes its buzz.
    pub maker: Maker,
    /// Material that buzz is made of.
    pub material: &'a Material<'a>,
}

/// Gives what is really done where a step is asked: with the probability `wrong` it is late, wrong or left out, each as often.
pub fn done(step: &PlannedStrum, wrong: f64, rng: &mut SmallRng) -> PlannedStrum {
    if step.string.is_none() || !rng.random_bool(wrong) {
        return step.clone();
    }
    let clean = PlannedStrum {
        deed: Deed::Clean,
        string: None,
        ..step.clone()
    };
    if rng.random_bool(2.0 / 3.0) {
        return clean;
    }
    let others: Vec<usize> = (0..STRINGS)
        .filter(|string| Some(*string) != step.string && can(&step.voicing, step.deed, *string))
        .collect();
    match others.as_slice() {
        [] => clean,
        others => PlannedStrum {
            string: Some(others[rng.random_range(0..others.len())]),
            ..step.clone()
        },
    }
}

impl Player<'_> {
    /// Plays a step; `None` where its buzz cannot be made.
    pub fn play(
        &self,
        step: &PlannedStrum,
        conditions: &Conditions,
        rng: &mut SmallRng,
    ) -> Option<Composed> {
        let frets = step.voicing.frets;
        let damped = |fret: u8, rng: &mut SmallRng| match rng.random_bool(DIES_EARLY) {
            true => StringSound::Choked(fret),
            false => StringSound::Thud(fret),
        };
        let mut given = Given {
            tail_s: Some(TAIL_S),
            ..Given::default()
        };
        let mut sounds = [StringSound::Nothing; STRINGS];
        for (string, deed) in step.deeds().into_iter().enumerate() {
            sounds[string] = match (frets.0[string], deed) {
                (None, Deed::Rings) => StringSound::Rings(0),
                (None, _) if rng.random_bool(DAMPED) => StringSound::Thud(0),
                (None, _) | (Some(_), Deed::Missed) => StringSound::Nothing,
                (Some(fret), Deed::High) => StringSound::Rings(fret + 1),
                (Some(fret), Deed::Touched | Deed::Lifted | Deed::Slack) => damped(fret, rng),
                (Some(fret), Deed::Unknown) if rng.random_bool(BARRE_LETS_GO) => damped(fret, rng),
                (Some(fret), Deed::Buzzes) => {
                    given.voices[string] = Some(self.buzz((string, fret), rng)?);
                    StringSound::Rings(fret)
                }
                (Some(fret), _) => StringSound::Rings(fret),
            };
        }
        Some(compose_with(
            self.guitar,
            self.tuning,
            &sounds,
            &given,
            conditions,
            rng,
        ))
    }

    fn buzz(&self, at: (usize, u8), rng: &mut SmallRng) -> Option<Vec<f32>> {
        let mut tries = 0..TRIES;
        tries.find_map(|_| buzz::voice(self.maker, self.material, self.tuning, at, rng))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::ExpectedVoicing;
    use rand::SeedableRng;

    #[test]
    fn one_deed_in_ten_is_not_done_as_asked_and_a_clean_strum_always_is() {
        let voicing = ExpectedVoicing::usual("133211".parse().unwrap(), None, &Tuning::default());
        let step = PlannedStrum {
            voicing,
            deed: Deed::Lifted,
            string: Some(2),
        };
        let mut rng = SmallRng::seed_from_u64(1);
        let mut count = |of: &PlannedStrum| {
            let played: Vec<PlannedStrum> = (0..3000).map(|_| done(of, 0.1, &mut rng)).collect();
            let wrong = played.iter().filter(|done| *done != of).count();
            let elsewhere = |done: &&PlannedStrum| done.string.is_some() && *done != of;
            (wrong, played.iter().filter(elsewhere).count())
        };
        let (wrong, elsewhere) = count(&step);
        assert!((240..360).contains(&wrong), "{wrong}");
        assert!((60..140).contains(&elsewhere), "{elsewhere}");
        let clean = PlannedStrum {
            deed: Deed::Clean,
            string: None,
            ..step.clone()
        };
        assert_eq!(count(&clean), (0, 0));
    }
}
