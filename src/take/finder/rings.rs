//! Rules for what rings after an attack.

use crate::take::attack::{Brought, SURE};
use crate::take::expected::Explained;
use crate::take::onset::Onset;
use crate::take::ringing::RingingMeasures;
use crate::take::several;

// What is heard rings where these hold. Chosen on the scenes of tests/ear/finding_takes/measure.rs: of
// composed strums 1.5 s apart, 2 % lie below a clarity of 0.55, of knocks on a body 2 % above 0.34;
// strums lose at most 3 dB, knocks mostly more than 4.
pub(super) const LEAST_LINES: usize = 2;
const LEAST_CLARITY: f64 = 0.45;
pub(super) const MOST_HUM: f64 = 0.8;
pub(super) const MOST_LOSS_DB: f64 = 5.0;
/// Among many lines of more than one series less clarity will do.
const MANY_LINES: usize = 8;
const MANY_CLARITY: f64 = 0.28;
/// Noise and hum have no more clarity, or more of mains hum, than this. With how steady they are: of 320 composed files of noise,
/// a fourth of them with hum, that begin in it, 39 were strums and none is; of 600 composed strums in which a file begins three
/// are lost.
const NOISE_CLARITY: f64 = 0.55;
const NOISE_HUM: f64 = 0.45;
/// An attack that leaves less sound than there was, by this much, is no strum.
const LEAST_GAIN_DB: f64 = -6.0;
/// A chord struck again while it rings brings little that is new, but it is all lines, and louder.
const AGAIN_TONAL_DB: f64 = -3.0;
pub(super) const AGAIN_GAIN_DB: f64 = 1.0;
const AGAIN_STEADY: f64 = 0.75;
/// Struck again at about the level at which it rings, a chord brings hardly a line that is new; but what rang does not go on as
/// it did. Of 18 strokes of running accompaniment that were taken for thuds 14 move so much of it, of 54 dead strokes beside
/// ringing strings none; touches of a hand leave less that rings, or less sound.
const AGAIN_MOVED: f64 = 0.55;
const AGAIN_ALL_TONAL_DB: f64 = -1.5;
const AGAIN_GAINS_DB: (f64, f64) = (-2.0, 6.0);
const AGAIN_RISE_DB: f64 = 2.3;
/// Several strings leave at least this many lines.
pub(super) const CHORD_LINES: usize = 5;
/// Several onsets with a single series after them are a syllable, unless it is rich and clear.
const ONE_SERIES: f64 = 0.85;
pub(super) const RICH_CLARITY: f64 = 0.75;
const RICH_LINES: usize = 9;

/// An expected note explains what rings where it fits so well. Of 2,092 strings picked in composed passes (seed 9700) the best
/// expected note fits 86 % so well, and is the right one in 996 of 1,000 of these; of 658 strums 8 %. It says nothing about
/// one string or several that the log odds do not say, so they stay as they are.
pub(super) const EXPLAINED: f64 = 0.5;

/// The long windows tell the pitch where they are at least this share as clear as the short ones.
const AS_CLEAR: f64 = 0.5;

/// A sweep this likely begins an attack (chosen on runs 1 and 2 of phone-strums: at 1 it loses two strokes of 64, at 0 it makes
/// up one more) ...
pub(super) const SWEPT: f64 = 0.5;
pub(super) const NO_SWEEP: f64 = -5.0;
/// What sounds after a sweep over strings that ring is mostly lines, new or not, and goes on.
const SWEPT_TONAL_DB: f64 = -6.0;
/// ... and is not much louder than what rang: a thud out of noise is. Nor is it much softer: of 20 attacks of runs 1 and 2 of
/// phone-strums that are told by a sweep alone 19 lose at most 2.2 dB, a hand that stops the strings, and the ends of two passes,
/// 4.2 to 5.4.
const SWEPT_GAINS_DB: (f64, f64) = (-3.2, 10.0);
/// ... but where a sweep is at least this likely a softer stroke may lose so many dB. Of what is told by a sweep alone and loses more
/// than 3.2 dB (runs 1 and 2, comping 00, composed passes and chords struck again of the half to develop on, seeds 1 and 3 to 5)
/// two are chords struck again, at log odds of 1.4 and 2.2, and ten are none, at 1.1 at most.
const SOFTER_SWEPT: f64 = 1.25;
const SOFTER_GAIN_DB: f64 = -9.0;

/// Are strings that rang swept over again, by an attack with these onsets and log odds of a sweep?
pub(super) fn is_swept(h: &RingingMeasures, onsets: &[Onset], sweep: f64) -> bool {
    let (mut least, most) = SWEPT_GAINS_DB;
    if sweep >= SOFTER_SWEPT {
        least = SOFTER_GAIN_DB;
    }
    h.lines > 0
        && h.something_rang()
        && several::swept(h, onsets, sweep) > 0.0
        && h.tonal_all_db >= SWEPT_TONAL_DB
        && !h.is_one_voice()
        && h.loss_db < MOST_LOSS_DB
        && (least..most).contains(&h.gain_db)
}

/// May it be the noise or the hum of a room?
pub(super) fn is_unclear(h: &RingingMeasures) -> bool {
    h.clarity() < NOISE_CLARITY || h.hum > NOISE_HUM
}

fn is_one_series(h: &RingingMeasures) -> bool {
    h.one_series >= ONE_SERIES
}

/// Is what rang before struck again, by an attack with these onsets?
pub(super) fn is_struck_again(h: &RingingMeasures, onsets: &[Onset]) -> bool {
    let (least, most) = AGAIN_GAINS_DB;
    h.lines > 0
        && !h.is_one_voice()
        && h.something_rang()
        && h.moved >= AGAIN_MOVED
        && h.tonal_all_db >= AGAIN_ALL_TONAL_DB
        && (least..most).contains(&h.gain_db)
        && h.loss_db < MOST_LOSS_DB
        && onsets.iter().any(|o| o.rise_db >= AGAIN_RISE_DB)
}

/// Does something ring after an attack with so many onsets?
pub(super) fn rings(h: &RingingMeasures, onsets: usize) -> bool {
    let one = is_one_series(h);
    let plain = h.lines >= LEAST_LINES && h.clarity() >= LEAST_CLARITY;
    let again = h.lines >= CHORD_LINES
        && h.steady_share >= AGAIN_STEADY
        && h.tonal_all_db >= AGAIN_TONAL_DB
        && h.gain_db >= AGAIN_GAIN_DB;
    let rich = h.lines >= RICH_LINES && h.clarity() >= RICH_CLARITY;
    let many = !one && h.lines >= MANY_LINES && h.clarity() >= MANY_CLARITY;
    (plain || again || many)
        && h.hum < MOST_HUM
        && h.loss_db < MOST_LOSS_DB
        && h.gain_db > LEAST_GAIN_DB
        && (onsets == 1 || !one || rich)
}

/// What rings after an attack with these onsets, heard with short windows and with long ones; and which expected note
/// explains it best. `sweep`: log odds of a sweep, where nothing else tells that something rings; `is_chord`: it rings no longer
/// than a moment, and was told by being a chord.
pub(super) fn strings(
    h: &RingingMeasures,
    long: &RingingMeasures,
    onsets: &[Onset],
    expected: Option<Explained>,
    sweep: Option<f64>,
    is_chord: bool,
) -> Brought {
    let several = several::log_odds(h, long, onsets);
    let several = sweep.map_or(several, |odds| several.max(several::swept(h, onsets, odds)));
    let few = h.lines < CHORD_LINES && !is_struck_again(h, onsets) && sweep.is_none();
    let several = match (is_chord, few) {
        (true, _) => several.max(SURE),
        (false, true) => several.min(-SURE),
        (false, false) => several,
    };
    let pitch_hz = |h: &RingingMeasures| is_one_series(h).then_some(h.fundamental_hz);
    let resolved = long.lines >= LEAST_LINES && long.clarity() >= AS_CLEAR * h.clarity();
    let heard_hz = pitch_hz(long).filter(|_| resolved).or(pitch_hz(h));
    let expected = expected.filter(|e| e.fit >= EXPLAINED);
    Brought::Strings {
        several,
        hz: expected.map(|e| e.hz).or(heard_hz),
        lines: h.lines,
        expected: expected.is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Measures of few lines, all of them steady, at this clarity.
    fn as_clear_as(clarity: f64) -> RingingMeasures {
        RingingMeasures {
            lines: LEAST_LINES,
            steady_share: clarity,
            ..RingingMeasures::default()
        }
    }

    #[test]
    fn all_but_the_least_clear_strums_ring_and_all_but_the_clearest_knocks_do_not() {
        assert!(rings(&as_clear_as(0.55), 1));
        assert!(!rings(&as_clear_as(0.34), 1));
    }

    #[test]
    fn a_sweep_over_strings_that_ring_on_is_one_and_a_hand_that_stops_them_is_none() {
        for (gain_db, sweep, expected) in [(-2.2, 1.0, true), (-4.2, 1.0, false), (-7.0, 1.4, true)]
        {
            let heard = RingingMeasures {
                gain_db,
                moved: 0.6,
                ..as_clear_as(1.0)
            };
            let onset = Onset {
                at: 0,
                rise_db: 1.5,
                faint: false,
            };
            assert_eq!(is_swept(&heard, &[onset], sweep), expected, "{gain_db} dB");
        }
    }

    #[test]
    fn what_loses_as_much_as_any_strum_rings_and_what_loses_twice_as_much_does_not() {
        for (loss_db, expected) in [(3.0, true), (6.0, false)] {
            let heard = RingingMeasures {
                loss_db,
                ..as_clear_as(1.0)
            };
            assert_eq!(rings(&heard, 1), expected, "{loss_db} dB");
        }
    }
}
