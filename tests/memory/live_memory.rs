//! Hours of listening need no more memory than minutes.

use std::path::Path;
use std::sync::atomic::Ordering;

use ringtrue::audio::read_all;
use ringtrue::fretboard::Tuning;
use ringtrue::listening::{Listener, Message};
use ringtrue::verdict::{AnalyserSettings, Expected, ExpectedVoicing};

use crate::counting::{HELD, TURN};

#[test]
fn many_takes_in_a_row_leave_nothing_behind() {
    let _turn = TURN.lock();
    let file = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
    let mut strum = read_all(file, 60.0).unwrap();
    let rate_hz = strum.rate_hz;
    let second = rate_hz as usize;
    let fade = second / 5;
    let length = strum.samples.len();
    for (i, s) in strum.samples[length - fade..].iter_mut().enumerate() {
        *s *= 1.0 - i as f32 / fade as f32;
    }
    strum
        .samples
        .extend((0..second).map(|i| 1e-4 * ((i * 7919 % 199) as f32 / 99.5 - 1.0)));
    let tuning = Tuning::default();
    let frets = "x13331".parse().unwrap();
    let expected = Expected::Named(ExpectedVoicing::usual(frets, None, &tuning));
    let mut listener = Listener::new(AnalyserSettings { tuning, rate_hz }, expected);
    let mut heard = Vec::with_capacity(100);
    let mut takes = 0;
    let mut held = Vec::with_capacity(20);
    // Ten rounds of six strums each.
    for _ in 0..10 {
        for _ in 0..6 {
            for block in strum.samples.chunks(441) {
                listener.push(block, &mut heard);
                takes += heard
                    .drain(..)
                    .filter(|h| matches!(h, Message::Over { .. }))
                    .count();
            }
        }
        held.push(HELD.load(Ordering::Relaxed));
    }
    assert!((55..=60).contains(&takes), "{takes} takes");
    // After two rounds every buffer has its size.
    let (settled, end) = (held[1], held[9]);
    assert!(
        (end - settled).abs() < 100_000,
        "held after each round: {held:?}"
    );
}
