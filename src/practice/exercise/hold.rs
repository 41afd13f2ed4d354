//! Hold: a progression at the learner's own pace.

use super::climb::{Walk, Walked};
use super::{Findings, Progress};
use crate::practice::lesson::Target;
use crate::words;

/// Holds the chords in their order, `rounds` times; each wants so many clean takes and gets so many tries.
pub fn hold(chords: &[Target], rounds: u32, wanted: u32, tries: u32) -> Walked {
    let (distinct, once) = once_each(chords);
    Walked {
        walk: Walk::new(&distinct, once.repeat(rounds as usize), wanted, tries),
        text: |walk| {
            let Progress { done, of } = walk.progress();
            words::lesson::chord_of_all(walk.target(), (done + 1).min(of), of)
        },
        findings: Findings::Hold,
    }
}

/// Each voicing once, and for each chord which of them it is: a chord that comes twice is one place.
pub(super) fn once_each(chords: &[Target]) -> (Vec<Target>, Vec<usize>) {
    let mut distinct: Vec<Target> = Vec::new();
    let mut once = Vec::new();
    for chord in chords {
        let at = distinct.iter().position(|known| known.frets == chord.frets);
        once.push(at.unwrap_or(distinct.len()));
        if at.is_none() {
            distinct.push(chord.clone());
        }
    }
    (distinct, once)
}
