//! Takes as they are drawn for learning and for measuring, and the moments at which they are heard.

use rand::Rng;
use rand::rngs::SmallRng;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::strings::Moments;
use ringtrue::synth::buzz::{BuzzTake, BuzzTruth, Maker, Material, Subject, draw};
use ringtrue::synth::compose::{Composed, Conditions};
use ringtrue::synth::notes;
use ringtrue::synth::random::gauss;
use ringtrue::take::Manner;

/// How far off the moments of the first and of the last string are in use, in seconds (standard deviations): the
/// finder puts the one, the network for the strings the other (off by 6 to 12 ms in the middle).
pub const FIRST_OFF_S: f64 = 0.005;
pub const LAST_OFF_S: f64 = 0.012;

/// When the strings are heard to be struck: not quite when they are, as in use.
pub fn heard_moments(made: &Composed, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let struck = || made.onsets.iter().flatten().copied();
    let (first, last) = (struck().min()?, struck().max()?);
    let mut jitter = |s: f64| (gauss(rng) * s * rate) as isize;
    let first = first.saturating_add_signed(jitter(FIRST_OFF_S));
    let last = last.saturating_add_signed(jitter(LAST_OFF_S)).max(first);
    Some(Moments {
        first,
        last,
        end: made.end,
    })
}

/// Share of learnt takes that are picked string by string.
pub const PICKED: f64 = 0.15;
/// Strings struck further apart than this are picked, in seconds.
pub const APART_S: f64 = 0.3;

/// Makes a picked pass a take of one of its strokes, as it is judged: the strings that have been struck by then, from this
/// stroke to the next one. What was struck before and buzzes may still do so: that is not known. Gives the stroke's moments.
pub fn to_stroke(take: &mut BuzzTake, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let mut struck: Vec<(usize, usize)> = (0..STRINGS)
        .filter_map(|s| {
            Some((
                take.made.onsets[s].filter(|_| take.frets.0[s].is_some())?,
                s,
            ))
        })
        .collect();
    struck.sort_unstable();
    let buzzing = struck.iter().position(|(_, s)| take.swells[*s].is_some());
    let drawn = rng.random_range(0..struck.len().max(1));
    let stroke = buzzing.filter(|_| rng.random_bool(0.6)).unwrap_or(drawn);
    let &(onset, own) = struck.get(stroke)?;
    let next = struck
        .get(stroke + 1)
        .map_or(take.made.end, |(onset, _)| *onset);
    for (at, string) in struck {
        if at > onset {
            take.frets.0[string] = None;
        } else if string != own && take.swells[string].is_some() {
            take.truth[string] = BuzzTruth::Between;
        }
    }
    let onset = onset.saturating_add_signed((gauss(rng) * FIRST_OFF_S * rate) as isize);
    Some(Moments {
        first: onset,
        last: onset,
        end: next.min(take.made.end).max(onset),
    })
}

/// Tells whether a take is a picked pass.
pub fn is_picked(take: &BuzzTake) -> bool {
    let struck = || take.made.onsets.iter().flatten();
    let apart = (APART_S * f64::from(notes::NOTE_RATE_HZ)) as usize;
    struck().max() > struck().min().map(|first| first + apart).as_ref()
}

/// Shares of learnt takes whose recording is overdriven, and in which sound is lost or something knocks.
pub const CLIPPED: f64 = 0.12;
pub const TORN: f64 = 0.08;

/// How often a take about buzz that is to be learnt from is drawn until it buzzes plainly: two in three do not.
pub const TRIES: usize = 3;

/// Composes a take on the guitar of each string.
pub fn take(
    material: &Material<'_>,
    maker: Maker,
    (wide, learnt): (bool, bool),
    rng: &mut SmallRng,
) -> BuzzTake {
    let subject = match rng.random_range(0..20) {
        0..9 => Subject::buzz(rng),
        9..12 => Subject::Rattle,
        _ => Subject::Clean,
    };
    let mut conditions = if wide {
        Conditions::training()
    } else {
        Conditions::measuring()
    };
    conditions.transpose *= 0.5;
    if wide {
        (conditions.clipped, conditions.torn) = (CLIPPED, TORN);
    }
    if learnt && rng.random_bool(PICKED) {
        conditions.manner = Manner::Picked;
    }
    let tuning = Tuning::default();
    let mut drawn = || draw(material, &tuning, (subject, maker), &conditions, wide, rng);
    let plain = |take: &BuzzTake| {
        take.truth
            .iter()
            .any(|t| matches!(t, BuzzTruth::Buzzes { .. }))
    };
    let mut take = drawn();
    for _ in 1..if learnt { TRIES } else { 1 } {
        if !matches!(subject, Subject::Buzz { .. }) || plain(&take) {
            break;
        }
        take = drawn();
    }
    take
}

/// Pitches of real contact that nothing is learnt from: one that swells late and one that rattles from the attack on.
pub const HELD_OUT: [u8; 2] = [39, 60];
/// A number that takes are drawn by, from that of all and the take's own.
pub fn seed_of(seed: u64, take: usize) -> u64 {
    seed ^ (take as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}
