//! A strum taken apart: how much of its first half second each expected string brings, and how that
//! lasts.
//!
//! Strings are struck one after the other, 5 to 25 ms apart. So even a string whose every partial
//! coincides with another's (an octave) begins at another moment, and what begins then, at its
//! partials, is its own. [`lines`] puts the partials that ring on to where they really are, [`struck`]
//! finds when each string was struck, and here the sound is written as a sum over all strings' partials,
//! each beginning with its string, each in three kinds: one that rings on, one that is choked, one that
//! is dead. Least squares share the sound out among them.

mod exponential;
mod lines;
mod struck;
mod system;

use realfft::num_complex::Complex64;

use super::fit::Fit;
use crate::fretboard::STRINGS;
use exponential::{Line, overlap, project};
use system::System;

/// Highest partial looked at, in Hz and by number: where choked and dead strings still have some.
const HIGHEST_HZ: f64 = 2_600.0;
/// Partials of a string that may be choked or dead.
pub const PARTIALS: usize = 8;
/// Decay rates in 1/s of a choked string and a dead one: T60 of 0.3 s and 0.09 s, the middle of what
/// composed takes have; one more kind between ringing and choked changed nothing.
const DYING: [f64; 2] = [23.0, 77.0];
/// Stretch that is shared out, in seconds before the first onset and after the last: what is choked is
/// gone by then. With 0.7 s after it choked strings were found no better.
const LEAD_S: f64 = 0.03;
const AFTER_S: f64 = 0.45;
/// Amplitudes are held small by this part of a line's own power.
const RIDGE: f64 = 1e-3;
/// Lines farther apart than this, in Hz, are taken not to touch each other; nearer ones do less the
/// farther they are apart. Twice as much changed nothing.
const TOUCH_HZ: f64 = 150.0;
/// Moments after a string's onset at which its level is read, in seconds.
pub const MOMENTS_S: [f64; 6] = [0.01, 0.04, 0.08, 0.15, 0.25, 0.4];

/// What one partial of one string brings.
#[derive(Debug, Clone, Copy)]
pub struct PartialPart {
    /// 1 is the fundamental.
    pub n: usize,
    /// Power at [`MOMENTS_S`].
    pub power: [f64; MOMENTS_S.len()],
    /// Energy that stays unexplained without it.
    pub brought: f64,
    /// The same of what rings on alone.
    pub ringing: f64,
}

/// The sound taken apart.
#[derive(Debug, Clone, Default)]
pub struct Parts {
    /// Partials of each expected string, lowest first; empty for the others.
    pub partials: [Vec<PartialPart>; STRINGS],
    /// Share of the energy that nobody explains.
    pub unexplained: f64,
}

/// One line of one string, of one kind, from its onset on.
struct Voice {
    string: usize,
    n: usize,
    line: Line,
    onset: usize,
}

/// Takes `samples` apart, at `rate_hz`, in which the strum begins at `first` and its last string is
/// struck at `last`. `None` where there is too little sound after it.
pub fn take_apart(
    samples: &[f32],
    rate_hz: f64,
    (first, last): (usize, usize),
    fits: &[Option<Fit>; STRINGS],
) -> Option<Parts> {
    let partials = lines::ringing(samples, rate_hz, last, fits);
    let struck = struck::moments(samples, rate_hz, first, &partials)?;
    let start = first.saturating_sub((LEAD_S * rate_hz) as usize);
    let end = samples.len().min(last + (AFTER_S * rate_hz) as usize);
    let sound = samples.get(start..end).filter(|s| !s.is_empty())?;

    let mut voices = Vec::new();
    for partial in &partials {
        let onset = struck[partial.string]
            .saturating_sub(start)
            .min(sound.len());
        let mut voice = |line: Line| {
            voices.push(Voice {
                string: partial.string,
                n: partial.n,
                line,
                onset,
            });
        };
        voice(partial.ringing);
        if partial.n <= PARTIALS {
            for fall in DYING {
                voice(Line::new(partial.hz, fall, rate_hz));
            }
        }
    }
    voices.sort_by(|a, b| a.line.hz.total_cmp(&b.line.hz));

    let mut scratch = Vec::new();
    let on: Vec<Complex64> = voices
        .iter()
        .map(|v| project(&sound[v.onset..], v.line.pole, &mut scratch).0)
        .collect();
    let hz: Vec<f64> = voices.iter().map(|v| v.line.hz).collect();
    let mut system = System::new(&hz, TOUCH_HZ, |i, j, apart| {
        let (a, b) = (&voices[i], &voices[j]);
        let weight = 1.0 - apart / TOUCH_HZ + if i == j { RIDGE } else { 0.0 };
        overlap((a.line.pole, a.onset), (b.line.pole, b.onset), sound.len()) * weight
    });
    system.factor();
    let mut amplitudes = on.clone();
    system.solve(&mut amplitudes);

    let energy: f64 = sound.iter().map(|s| f64::from(s * s)).sum();
    let explained: f64 = amplitudes
        .iter()
        .zip(&on)
        .map(|(a, r)| (a.conj() * r).re)
        .sum();
    let mut parts = Parts {
        partials: Default::default(),
        unexplained: 1.0 - 0.5 * explained / energy.max(1e-20),
    };
    for partial in partials.iter().filter(|p| p.n <= PARTIALS) {
        let of: Vec<usize> = (0..voices.len())
            .filter(|&i| voices[i].string == partial.string && voices[i].n == partial.n)
            .collect();
        parts.partials[partial.string].push(read(&system, &voices, &amplitudes, &of, rate_hz));
    }
    Some(parts)
}

/// What the voices `of` one partial bring together.
fn read(
    system: &System,
    voices: &[Voice],
    amplitudes: &[Complex64],
    of: &[usize],
    rate_hz: f64,
) -> PartialPart {
    let power = MOMENTS_S.map(|moment| {
        let sum: Complex64 = of
            .iter()
            .map(|&i| amplitudes[i] * (voices[i].line.pole.re * rate_hz * moment).exp())
            .sum();
        sum.norm_sqr()
    });
    // Leaving unknowns out of least squares costs a^H S^-1 a, S being their part of the inverse.
    let columns: Vec<Vec<Complex64>> = of.iter().map(|&i| system.half_column(i)).collect();
    let product = |a: usize, b: usize| -> Complex64 {
        let from = of[a].max(of[b]);
        let (x, y) = (&columns[a][from - of[a]..], &columns[b][from - of[b]..]);
        x.iter().zip(y).map(|(x, y)| x.conj() * y).sum()
    };
    let mut inverse = System::new(&vec![0.0; of.len()], 1.0, |a, b, _| product(a, b));
    inverse.factor();
    let mut solved: Vec<Complex64> = of.iter().map(|&i| amplitudes[i]).collect();
    inverse.solve(&mut solved);
    let brought = of
        .iter()
        .zip(&solved)
        .map(|(&i, s)| (amplitudes[i].conj() * s).re);
    // The voice that rings on falls slowest.
    let ringing = (0..of.len())
        .max_by(|&a, &b| {
            let fall = |k: usize| voices[of[k]].line.pole.re;
            fall(a).total_cmp(&fall(b))
        })
        .unwrap_or(0);
    PartialPart {
        n: voices[of[0]].n,
        power,
        brought: brought.sum(),
        ringing: amplitudes[of[ringing]].norm_sqr() / product(ringing, ringing).re.max(1e-30),
    }
}
