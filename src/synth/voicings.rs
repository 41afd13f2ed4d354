//! Voicings and faults that composed takes are made of.

use rand::Rng;
use rand::rngs::SmallRng;

use super::compose::StringSound;
use crate::fretboard::{Frets, STRINGS, frets_beside};

/// Movable shapes at fret 0; every number is moved up by the barre's fret.
const MOVABLE: [&str; 16] = [
    "022100", "022000", "020100", "021100", "020000", "022200", "x02220", "x02210", "x02020",
    "x02120", "x02010", "x02200", "x02230", "022xxx", "x022xx", "02xxxx",
];
/// Open chords of common practice.
const OPEN: [&str; 24] = [
    "x32010", "x02220", "320003", "022100", "xx0232", "x02210", "022000", "xx0231", "x32310",
    "x02020", "x21202", "xx0212", "020100", "320001", "x32000", "xx0222", "x02120", "x02010",
    "020000", "xx0211", "xx0233", "xx0230", "x02230", "xx3211",
];

/// A voicing as learners play them: movable shapes at frets 1 to 12, open chords; in training also
/// with strings left out.
pub fn draw(rng: &mut SmallRng, wide: bool) -> (Frets, Option<u8>) {
    let (mut frets, barre) = if rng.random_bool(0.65) {
        let at = rng.random_range(1..=if wide { 12 } else { 10 });
        let base: Frets = MOVABLE[rng.random_range(0..if wide { MOVABLE.len() } else { 13 })]
            .parse()
            .expect("table");
        (Frets(base.0.map(|f| f.map(|f| f + at))), Some(at))
    } else {
        (
            OPEN[rng.random_range(0..OPEN.len())]
                .parse()
                .expect("table"),
            None,
        )
    };
    if wide {
        match rng.random_range(0..10) {
            // Strings left out at random, two at least kept.
            0..3 => {
                let mut order: Vec<usize> = frets.sounding().map(|(i, _)| i).collect();
                let keep = rng.random_range(2..=order.len());
                while order.len() > keep {
                    let out = order.swap_remove(rng.random_range(0..order.len()));
                    frets.0[out] = None;
                }
            }
            // Free frets within a hand's reach.
            3 => {
                let low = rng.random_range(0..10);
                for f in &mut frets.0 {
                    *f = rng.random_bool(0.75).then(|| {
                        if rng.random_bool(0.2) {
                            0
                        } else {
                            rng.random_range(low..low + 4)
                        }
                    });
                }
                if frets.sounding().count() < 2 {
                    return draw(rng, wide);
                }
            }
            _ => {}
        }
    }
    (frets, barre)
}

/// Another chord than sounds: no string of it stands at the fret at which it sounds.
pub fn another(sounds: &[StringSound; STRINGS], rng: &mut SmallRng) -> Frets {
    loop {
        let (frets, _) = draw(rng, false);
        let sounds_it = |(string, fret)| sounds[string] == StringSound::Rings(fret);
        if !frets.sounding().any(sounds_it) {
            return frets;
        }
    }
}

/// Gives what the strings do when a learner plays `frets`: a third of the takes all clean, the others
/// with one or two faults (`wide`: up to three, and chords of which much is missing).
pub fn faults(
    frets: &Frets,
    barre: Option<u8>,
    rng: &mut SmallRng,
    wide: bool,
) -> [StringSound; STRINGS] {
    let mut sounds = frets.0.map(|f| match f {
        Some(fret) => StringSound::Rings(fret),
        None => StringSound::Nothing,
    });
    for (i, sound) in sounds.iter_mut().enumerate() {
        if frets.0[i].is_none() && rng.random_bool(if wide { 0.35 } else { 0.25 }) {
            *sound = StringSound::Thud(rng.random_range(0..3));
        }
    }
    if rng.random_bool(1.0 / 3.0) {
        return sounds;
    }
    let count = rng.random_range(1..=if wide { 3 } else { 2 });
    let mut hit = [false; STRINGS];
    for _ in 0..count {
        let string = rng.random_range(0..STRINGS);
        if std::mem::replace(&mut hit[string], true) {
            continue;
        }
        sounds[string] = match frets.0[string] {
            None => {
                let fret = match barre {
                    Some(at) if rng.random_bool(0.25) => at,
                    _ => 0,
                };
                StringSound::Rings(fret)
            }
            Some(fret) => match rng.random_range(0..10) {
                0..4 => {
                    if rng.random_bool(0.25) {
                        StringSound::Nothing
                    } else {
                        StringSound::Thud(fret)
                    }
                }
                4..7 => StringSound::Choked(fret),
                _ => match frets_beside(Some(fret), barre).as_slice() {
                    [] => StringSound::Thud(fret),
                    others => StringSound::Rings(others[rng.random_range(0..others.len())]),
                },
            },
        };
    }
    sounds
}
