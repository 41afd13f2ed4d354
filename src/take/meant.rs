//! Sounds that hardly ring where a chord is meant: the chord all the same, or plainly not.

use super::expected::ChordFit;
use super::ringing::RingingMeasures;

/// A chord has so many strings at least.
pub(super) const STRINGS: usize = 3;
/// A chord that hardly rings is heard in so long after its last string, in seconds: the shortest stretch that two windows see.
pub(super) const BRIEF_S: f64 = 0.135;
// Too short or too unclear to ring by itself, what rings is the chord where these hold. Of 132 composed strums that a hand stops
// within 0.3 s and that do not ring by themselves they hold of 43, of 20 real ones of 16; of 924 words and hums, 447 knocks and
// touches of a hand, and 355 strings picked that are taken for thuds, of 2 (scripts/found.rs, the half to develop on).
const LEAST_LINES: usize = 4;
const LEAST_CLARITY: f64 = 0.13;
const ONE_SERIES: f64 = 0.9;
const MOST_HUM: f64 = 0.7;
const LOSS_DB: (f64, f64) = (-3.0, 6.0);
const LEAST_SHARE: f64 = 0.6;
const LEAST_PRESENT: f64 = 0.33;
/// Beside music a bass that plays the chord's root is a third of its notes, as heard: of four composed times through, backing 10
/// dB down, its notes hid three strums of eight. They hid one at this limit, as many as without the rule.
const LEAST_PRESENT_BESIDE_MUSIC: f64 = 0.67;
// A hand laid on the strings leaves lines, too, but not the chord's, and they die soon: of 18 such touches that ring 16, of 713
// strums with strings at fault none.
const TOUCH_LOSS_DB: f64 = 2.4;
const TOUCH_PRESENT: f64 = 0.45;
const TOUCH_FIT: f64 = 0.25;

// What a hand stops is plainly several strings where these hold: a word may stop as soon.
const PLAIN_LINES: usize = 8;
const PLAIN_SERIES: f64 = 0.7;

/// Is what a hand stopped plainly several strings, whichever chord is meant?
pub(super) fn is_plain(h: &RingingMeasures) -> bool {
    h.lines >= PLAIN_LINES && h.one_series < PLAIN_SERIES
}

/// Is what rings the chord that is meant, whose notes explain so much of it?
pub(super) fn is_chord(h: &RingingMeasures, fit: ChordFit, beside_music: bool) -> bool {
    let least_present = match beside_music {
        true => LEAST_PRESENT_BESIDE_MUSIC,
        false => LEAST_PRESENT,
    };
    h.lines >= LEAST_LINES
        && h.clarity() >= LEAST_CLARITY
        && h.one_series < ONE_SERIES
        && h.hum < MOST_HUM
        && (LOSS_DB.0..LOSS_DB.1).contains(&h.loss_db)
        && fit.share >= LEAST_SHARE
        && fit.present >= least_present
}

/// Is it a touch of a hand, of which the notes of the chord that is meant explain so much, and the best of them so much by itself?
pub(super) fn is_touch(h: &RingingMeasures, fit: ChordFit, note: f64) -> bool {
    h.loss_db > TOUCH_LOSS_DB && fit.present < TOUCH_PRESENT && note < TOUCH_FIT
}
