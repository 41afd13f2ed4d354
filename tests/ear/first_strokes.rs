//! When the first stroke of a strum fell, on recorded notes whose beginning is known.

use crate::common::{guitars, playing};

use playing::trimmed;
use ringtrue::progression::first_stroke::{Network, first_strokes};
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};

/// A note: MIDI number, when it is struck in seconds, level.
type Struck = (u8, f64, f32);

/// A chord that rings when the next is struck.
const RINGING: [Struck; 3] = [(40, 0.3, 1.0), (47, 0.31, 1.0), (52, 0.32, 1.0)];

fn guitar() -> Guitar {
    trimmed(vec![guitars::guitar("steel-acoustic").clone()]).remove(0)
}

/// Two seconds of notes, and of faint noise; a hand stops those before it at `let_go_s`.
fn sound(guitar: &Guitar, struck: &[Struck], let_go_s: f64) -> Vec<f32> {
    let rate = f64::from(NOTE_RATE_HZ);
    let mut noise = 1u32;
    let mut samples: Vec<f32> = (0..2 * NOTE_RATE_HZ)
        .map(|_| {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            1e-4 * ((noise >> 16) as f32 / 65_536.0 - 0.5)
        })
        .collect();
    for &(midi, at_s, level) in struck {
        let note = guitar
            .notes
            .iter()
            .find(|n| n.midi == midi)
            .expect("a note");
        let at = (at_s * rate) as usize;
        for (i, (into, s)) in samples.iter_mut().skip(at).zip(&note.samples).enumerate() {
            let t = at_s + i as f64 / rate;
            let stopped_s = if at_s < let_go_s {
                (t - let_go_s).max(0.0)
            } else {
                0.0
            };
            *into += level * (-60.0 * stopped_s).exp() as f32 * s;
        }
    }
    samples
}

/// Where the first stroke is put of the strum that the finder would have begin at so many seconds.
fn found(samples: &[f32], at_s: f64, longest_s: f64) -> f64 {
    let network = Network::built_in();
    first_strokes(&network, &samples, NOTE_RATE_HZ, &[at_s], longest_s, None)[0]
}

#[test]
fn the_soft_first_stroke_of_a_slow_strum_is_found_though_another_chord_rings() {
    let new = [(45, 1.2, 0.4), (50, 1.24, 0.4), (55, 1.28, 1.5)];
    let samples = sound(&guitar(), &[&RINGING[..], &new[..]].concat(), f64::INFINITY);
    let at_s = found(&samples, 1.28, 0.2);
    assert!((at_s - 1.2).abs() < 0.003, "{at_s}");
    // No strum takes so long where strums are wanted in quick succession.
    let at_s = found(&samples, 1.28, 0.06);
    assert!(at_s > 1.22, "{at_s}");
}

#[test]
fn a_hand_that_lets_go_is_no_string() {
    let new = [(45, 1.2, 0.5), (50, 1.22, 1.0)];
    let samples = sound(&guitar(), &[&RINGING[..], &new[..]].concat(), 1.05);
    let at_s = found(&samples, 1.2, 0.2);
    assert!((at_s - 1.2).abs() < 0.003, "{at_s}");
}
