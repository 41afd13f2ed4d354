//! A recording of somebody who does what a trial asks.

use ringtrue::fretboard::Tuning;
use ringtrue::synth::compose::StringSound;
use ringtrue::trial::plan::TrialPlan;
use ringtrue::trial::{Choice, Deed, PlannedStrum};
use ringtrue::verdict::ExpectedVoicing;

use super::tape::Tape;

/// Chords of the trials here, as an option has them.
pub const CHORDS: &str = "133211 x13331 x32010";
/// Their faults; buzz is not composed here.
pub const FAULTS: &str = "touched high rings missed";
pub const SEED: u64 = 7;

/// The plan of three minutes that the program draws from these.
pub fn plan() -> TrialPlan {
    let tuning = Tuning::default();
    let voicing = |frets: &str| ExpectedVoicing::usual(frets.parse().unwrap(), None, &tuning);
    let choice = Choice {
        chords: CHORDS.split(' ').map(voicing).collect(),
        deeds: vec![Deed::Touched, Deed::High, Deed::Rings, Deed::Missed],
    };
    TrialPlan::draw(&choice, 3, SEED)
}

/// What the strings of a step do when it is done as asked.
pub fn sounds(step: &PlannedStrum) -> Vec<(u8, StringSound)> {
    let fault = step.string.map(|index| {
        let fret = step.voicing.frets.0[index];
        let sound = match (step.deed, fret) {
            (Deed::Rings, _) => StringSound::Rings(0),
            (Deed::High, Some(fret)) => StringSound::Rings(fret + 1),
            (Deed::Missed, _) => StringSound::Nothing,
            (_, Some(fret)) => StringSound::Thud(fret),
            other => panic!("{other:?}"),
        };
        (6 - index as u8, sound)
    });
    fault.into_iter().collect()
}

/// Plays these steps (from 0) of the plan, and waits as long as a strum needs to be kept.
pub fn play(tape: &mut Tape, plan: &TrialPlan, steps: impl IntoIterator<Item = usize>) {
    for step in steps {
        let step = &plan.steps[step];
        tape.strum(&step.voicing.frets.to_string(), &sounds(step), 1.4);
        tape.wait(1.5);
    }
}
