//! Buzz of a computed string over a whole fingerboard: a string that may meet any fret it swings over.
//!
//! The string is one of two that have nothing in common but what they are made of: a [`grid`] of finite differences, or
//! [`waves`] in delay lines.
//!
//! Frets stand unevenly, the neck bends, and the string lies as high as its guitar's bridge holds it. To strike a fret it
//! is given a fault: one fret stands too high, or the whole string lies too low, or a half-pressing finger leaves it over
//! its own fret. Some strokes go along the frets. The bridge turns the swing towards them later, and the string meets the
//! fret then.

mod build;
mod grid;
mod waves;

use std::f64::consts::PI;

use rand::Rng;
use rand::rngs::SmallRng;

use self::build::{Build, Fret};
use self::grid::{Draw, GridString, Hardness};
use self::waves::{WaveString, Waves};
use super::hand::StrikingHand;
use super::twins::{Attempt, Twins, at, noise, scale};
use super::{Aim, Make, SECONDS};
use crate::fretboard::Tuning;
use crate::synth::effects::add;
use crate::synth::instrument::Instrument;
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::random::gauss;
use crate::synth::string::{Pluck, Spec};
use crate::synth::strum::Gesture;

/// Frets of a neck.
const FRETS: usize = 20;
/// How unevenly frets stand, in metres (standard deviation), and how far a neck bends back under the strings. From memory.
const UNEVEN_M: (f64, f64) = (0.000_01, 0.000_06);
const RELIEF_M: (f64, f64) = (-0.000_05, 0.000_4);
/// How high the nut stands over the line of the frets, in metres. From memory.
const NUT_M: (f64, f64) = (0.000_2, 0.000_6);
/// Least clearance over a fret, in metres: a string that lies on one sounds another note.
const LEAST_GAP_M: f64 = 0.000_02;
/// Where a fret is met by a calm stroke, the clean string's lies this much further than it swings.
const CLEAR: f64 = 1.2;
/// Of a fault's kinds: one high fret, a low string, a half-pressing finger. A choice.
const ONE_HIGH: f64 = 0.45;
const LOW: f64 = 0.3;
/// Which of the next frets may stand too high.
const NEXT: usize = 9;
/// How far behind the fret a half-pressed string ends, in metres. From memory.
const BEHIND_M: (f64, f64) = (0.003, 0.009);
/// A soft fret gives way by this much under two newtons, a hard one by that, in metres. Finger-thick windings, worn
/// frets and steel lie between. A choice.
const GIVES_M: (f64, f64) = (2e-6, 6e-5);
const PRESS_N: f64 = 2.0;
/// Exponents of the force; 1 to 3 are used for strings (Bilbao and Torin, JAES 63(5) 2015).
const EXPONENT: (f64, f64) = (1.3, 2.4);
/// Hysteresis in s/m: at 1 m/s it adds up to this share. A choice.
const HYSTERESIS: (f64, f64) = (0.0, 0.8);
/// Share of strokes that go along the frets.
const ALONG_THE_FRETS: f64 = 0.45;
/// Where the gap lies then, as a share of how far the turned swing reaches; each attempt brings it nearer by a factor. The
/// wider, the later the string meets the fret.
const TURNED_GAP: (f64, f64) = (0.3, 0.9);
const NEARER: f64 = 0.75;
/// Share of the other strings that buzz under a hand that slackens: when it does, how fast, and for how long, in seconds.
/// A choice.
const SLACKENS: f64 = 0.6;
const SLACK_FROM_S: (f64, f64) = (0.1, 1.7);
const SINKS_S: (f64, f64) = (0.02, 0.3);
const SLACK_S: (f64, f64) = (0.1, 1.0);
/// How much of the motion along the frets the bridge hands to the body.
const SIDEWAYS: (f64, f64) = (0.2, 0.7);

/// Steps per second: twice the rate of notes. With it a grid reaches beyond 20 kHz.
const STEP_RATE_HZ: f64 = 88_200.0;

/// Directions of swing: towards the frets (they lie on the negative side), and along them.
const TOWARDS: usize = 0;
const ALONG: usize = 1;

/// How strings are computed.
enum Kind {
    Grid(Hardness),
    Waves(Waves),
}

/// A plucked string over frets.
trait OverFrets {
    /// Goes one step on; gives the forces on the bridge in both directions.
    fn step(&mut self) -> [f64; 2];

    /// Holds all frets this much further away from now on, in metres: a hand that presses harder or slackens. It must move
    /// slowly against the string.
    fn hold_off(&mut self, off_m: f64);

    /// Tells whether the string pressed on a fret in the last step.
    fn touches_fret(&self) -> bool;
}

/// A guitar of such strings and the hand that strikes it.
pub(super) struct Neck {
    instrument: Instrument,
    hand: StrikingHand,
    /// How high each fret stands over the line of the frets, from the first on; the nut's height.
    heights_m: [f64; FRETS],
    nut_m: f64,
    kind: Kind,
    sideways: f64,
}

/// How a string is held and where its frets lie.
struct Held {
    spec: Spec,
    frets: Vec<Fret>,
}

impl Neck {
    /// A guitar of strings on a grid.
    pub fn of_grids(tuning: &Tuning, rng: &mut SmallRng) -> Self {
        let heights_m = heights_m(rng);
        let exponent = rng.random_range(EXPONENT.0..EXPONENT.1);
        let gives_m = GIVES_M.0 * (GIVES_M.1 / GIVES_M.0).powf(rng.random_range(0.0..1.0));
        Neck {
            instrument: Instrument::drawn(tuning, rng),
            hand: StrikingHand::drawn(rng),
            heights_m,
            nut_m: rng.random_range(NUT_M.0..NUT_M.1),
            kind: Kind::Grid(Hardness {
                stiffness: PRESS_N / gives_m.powf(exponent),
                exponent,
                hysteresis: rng.random_range(HYSTERESIS.0..HYSTERESIS.1),
            }),
            sideways: rng.random_range(SIDEWAYS.0..SIDEWAYS.1),
        }
    }

    /// A guitar of strings that are waves in delay lines.
    pub fn of_waves(tuning: &Tuning, rng: &mut SmallRng) -> Self {
        Neck {
            kind: Kind::Waves(Waves::drawn(rng)),
            heights_m: heights_m(rng),
            instrument: Instrument::drawn(tuning, rng),
            hand: StrikingHand::drawn(rng),
            nut_m: rng.random_range(NUT_M.0..NUT_M.1),
            sideways: rng.random_range(SIDEWAYS.0..SIDEWAYS.1),
        }
    }

    /// The string pressed down at a fret and the frets that lie under it, as they are.
    fn held(&self, string: usize, fret: u8) -> Held {
        let open = &self.instrument.strings[string];
        let spec = self
            .instrument
            .held(string, fret, crate::synth::string::Finger::Pressed)
            .spec;
        let from = usize::from(fret);
        let end_m = match from {
            0 => self.nut_m,
            fret => self.heights_m.get(fret - 1).copied().unwrap_or(0.0),
        };
        let frets = (from + 1..=FRETS).map(|next| {
            let at_m = open.length_m * (share(next) - share(from));
            let line_m = end_m + (self.instrument.bridge_height_m - end_m) * at_m / spec.length_m;
            Fret {
                at_m,
                gap_m: line_m - self.heights_m[next - 1],
            }
        });
        Held {
            spec,
            frets: frets.collect(),
        }
    }
}

/// How high the frets of a neck stand over their line, in metres.
fn heights_m(rng: &mut SmallRng) -> [f64; FRETS] {
    let uneven_m = rng.random_range(UNEVEN_M.0..UNEVEN_M.1);
    let relief_m = rng.random_range(RELIEF_M.0..RELIEF_M.1);
    std::array::from_fn(|fret| {
        // The neck bends as a bow from the nut to where it meets the body, about fret 14.
        let along = share(fret + 1) / share(14);
        uneven_m * gauss(rng) - relief_m * (4.0 * along * (1.0 - along)).max(0.0)
    })
}

/// Where a fret stands, as a share of the open string.
fn share(fret: usize) -> f64 {
    1.0 - 2f64.powf(-(fret as f64) / 12.0)
}

/// What is wrong with a string that strikes a fret.
#[derive(Debug, Clone, Copy)]
enum Fault {
    /// The fret this many further on stands too high.
    OneHigh(usize),
    /// It lies too low over this many frets, these so unevenly that their gaps differ by such a factor.
    Low { frets: usize, factor: f64 },
    /// The finger is half down, the string ends so far behind the fret, and the flesh takes so much in dB per second.
    Half { behind_m: f64, flesh_db_s: f64 },
}

impl Fault {
    fn drawn(fret: u8, rng: &mut SmallRng) -> Self {
        match rng.random_range(0.0..1.0) {
            kind if kind < ONE_HIGH => {
                // Near frets are met more easily than far ones.
                Fault::OneHigh((NEXT as f64 * rng.random_range(0.0f64..1.0).powi(2)) as usize)
            }
            kind if kind < ONE_HIGH + LOW || fret == 0 => Fault::Low {
                frets: rng.random_range(2..NEXT),
                factor: rng.random_range(1.0..1.5),
            },
            _ => Fault::Half {
                behind_m: rng.random_range(BEHIND_M.0..BEHIND_M.1),
                flesh_db_s: 60.0 * rng.random_range(0.0f64..1.0).powi(2),
            },
        }
    }

    /// Brings frets near to the string, so near as `strength` says: from 0 (just met) to 1 (it lies on it).
    fn put(self, held: &mut Held, strength: f64, reach: impl Fn(f64, f64) -> f64) {
        let length_m = held.spec.length_m;
        let wanted = |at_m: f64| (1.0 - strength) * reach(at_m, length_m);
        match self {
            Fault::OneHigh(next) => {
                let next = next.min(held.frets.len().saturating_sub(1));
                if let Some(fret) = held.frets.get_mut(next) {
                    fret.gap_m = wanted(fret.at_m);
                }
            }
            Fault::Low { frets, factor } => {
                for (next, fret) in held.frets.iter_mut().take(frets).enumerate() {
                    // Golden steps spread unevenly and never repeat.
                    let uneven = (next as f64 * 0.618).fract();
                    fret.gap_m = wanted(fret.at_m) * factor.powf(uneven);
                }
            }
            Fault::Half { behind_m, .. } => {
                let own = Fret {
                    at_m: behind_m,
                    gap_m: wanted(behind_m),
                };
                for fret in &mut held.frets {
                    fret.at_m += behind_m;
                }
                held.frets.insert(0, own);
            }
        }
        for fret in &mut held.frets {
            fret.gap_m = fret.gap_m.max(LEAST_GAP_M);
        }
    }
}

/// A hand that slackens for a while.
#[derive(Debug, Clone, Copy)]
struct Slack {
    from_s: f64,
    sinks_s: f64,
    lasts_s: f64,
    /// How far off the frets are before and after, in metres.
    off_m: f64,
}

impl Slack {
    fn drawn(off_m: f64, rng: &mut SmallRng) -> Self {
        let mut range = |(low, high): (f64, f64)| rng.random_range(low..high);
        Slack {
            from_s: range(SLACK_FROM_S),
            sinks_s: range(SINKS_S),
            lasts_s: range(SLACK_S),
            off_m,
        }
    }

    /// How far off the frets are at some moment, in metres.
    fn off_m(&self, at_s: f64) -> f64 {
        let sunk = (at_s - self.from_s) / self.sinks_s;
        let risen = (self.from_s + self.lasts_s + self.sinks_s - at_s) / self.sinks_s;
        let near = sunk.min(risen).clamp(0.0, 1.0);
        self.off_m * (0.5 + 0.5 * (PI * near).cos())
    }
}

impl Make for Neck {
    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let mut stroke = self.hand.on(fret, rng);
        let along = rng.random_bool(ALONG_THE_FRETS);
        if along {
            stroke.towards_frets = rng.random_range(0.0..0.25);
        }
        let fault = Fault::drawn(fret, rng);
        let held = self.held(string, fret);
        let mut build = Build::drawn(&held.spec, rng);
        if let Fault::Half {
            behind_m,
            flesh_db_s,
        } = fault
        {
            // The same string, a little longer.
            let longer = (held.spec.length_m + behind_m) / held.spec.length_m;
            build.length_m *= longer;
            build.f1_hz /= longer;
            build.b /= longer * longer;
            build.loss_db_s += flesh_db_s;
        }
        let turned = build.turned(&stroke);
        let Gesture { pluck, .. } = stroke;
        // At first a corner runs along the string; what is turned later is the fundamental alone, as of a plucked string.
        let p = pluck.from_bridge;
        let fundamental = 2.0 * (PI * p).sin() / (PI * PI * p * (1.0 - p));
        let slackens = aim == Aim::Buzz && !along && rng.random_bool(SLACKENS);
        let slack = slackens.then(|| Slack::drawn(CLEAR * pluck.aside_m, rng));
        let fallen = slack.map_or(1.0, |slack| {
            10f64.powf(-build.loss_db_s * slack.from_s / 20.0)
        });
        let reach = |at_m: f64, length_m: f64| {
            let x = at_m / length_m;
            if slackens {
                let late = stroke.towards_frets * fallen * fundamental * (PI * x).sin();
                return pluck.aside_m * late;
            }
            let corner = stroke.towards_frets * (x / p).min(1.0);
            pluck.aside_m * corner.max(turned * fundamental * (PI * x).sin())
        };
        let noise = noise(at(SECONDS), rng);
        let sound = |frets: &[Fret]| {
            let (force, hits_s) = self.force(&build, frets, (&stroke, slack));
            let mut samples = self.instrument.body.radiate(&force);
            scale(&mut samples);
            add(&mut samples, &noise, 1.0);
            Attempt { samples, hits_s }
        };
        let free = sound(&[]).samples;
        let mut strengths = aim.strengths(rng);
        if along && aim == Aim::Buzz {
            let first = rng.random_range(TURNED_GAP.0..TURNED_GAP.1);
            strengths = (0..3).map(|n| 1.0 - first * NEARER.powi(n)).collect();
        }
        let attempts = strengths.into_iter().map(|strength| {
            let mut held = self.held(string, fret);
            let length_m = held.spec.length_m;
            for fret in &mut held.frets {
                fret.gap_m = fret.gap_m.max(CLEAR * reach(fret.at_m, length_m));
            }
            fault.put(&mut held, strength, reach);
            sound(&held.frets)
        });
        Twins::judged(free, attempts)
    }
}

impl Neck {
    /// What the bridge hands to the body, at the rate of notes, and from the first to the last contact in seconds.
    fn force(
        &self,
        build: &Build,
        frets: &[Fret],
        (stroke, slack): (&Gesture, Option<Slack>),
    ) -> (Vec<f32>, f64) {
        let mut string: Box<dyn OverFrets> = match &self.kind {
            Kind::Grid(hardness) => Box::new(Plucked {
                string: GridString::new(build, frets, *hardness),
                hand: Drawn::new(build, stroke),
            }),
            Kind::Waves(waves) => Box::new(WaveString::plucked(build, frets, waves, stroke)),
        };
        let steps = (SECONDS * STEP_RATE_HZ) as usize;
        let (mut first, mut last) = (None, 0);
        let force: Vec<f32> = (0..steps)
            .map(|i| {
                if let Some(slack) = slack {
                    string.hold_off(slack.off_m(i as f64 / STEP_RATE_HZ));
                }
                let force = string.step();
                if string.touches_fret() {
                    first.get_or_insert(i);
                    last = i;
                }
                (force[TOWARDS] + self.sideways * force[ALONG]) as f32
            })
            .collect();
        let hits_s = first.map_or(0.0, |first| (last - first) as f64 / STEP_RATE_HZ);
        (halved(&force), hits_s)
    }
}

/// A grid string and what draws it.
struct Plucked {
    string: GridString,
    hand: Drawn,
}

impl OverFrets for Plucked {
    fn step(&mut self) -> [f64; 2] {
        self.string.step(self.hand.next().as_ref())
    }

    fn hold_off(&mut self, off_m: f64) {
        self.string.hold_off(off_m);
    }

    fn touches_fret(&self) -> bool {
        self.string.touches_fret()
    }
}

/// A pluck under way: the string is drawn aside slowly and let go quickly.
struct Drawn {
    full: Draw,
    step: usize,
    draw_steps: f64,
    release_steps: f64,
}

impl Drawn {
    fn new(build: &Build, stroke: &Gesture) -> Self {
        let Pluck {
            from_bridge,
            aside_m,
            touch,
            draw_s,
        } = stroke.pluck;
        let share = from_bridge.clamp(0.03, 0.97);
        let force_n = aside_m * build.tension_n() / (share * (1.0 - share) * build.length_m);
        let towards = stroke.towards_frets;
        Drawn {
            full: Draw {
                at_m: (1.0 - share) * build.length_m,
                // Drawn away from the frets or towards them, it swings to both sides.
                force_n: [
                    force_n * towards,
                    force_n * (1.0 - towards * towards).sqrt(),
                ],
            },
            step: 0,
            draw_steps: draw_s * STEP_RATE_HZ,
            release_steps: touch.release_s() * STEP_RATE_HZ,
        }
    }

    fn next(&mut self) -> Option<Draw> {
        let step = self.step as f64;
        self.step += 1;
        let rise = (step / self.draw_steps).min(1.0);
        let fall = ((step - self.draw_steps) / self.release_steps).clamp(0.0, 1.0);
        let smooth = |x: f64| 0.5 - 0.5 * (PI * x).cos();
        (fall < 1.0).then(|| Draw {
            force_n: self
                .full
                .force_n
                .map(|force| force * smooth(rise) * (1.0 - smooth(fall))),
            ..self.full
        })
    }
}

/// Every other sample, what lies above the rate of notes taken out before: a windowed sinc of 64 points, corner 20 kHz.
fn halved(samples: &[f32]) -> Vec<f32> {
    const HALF: isize = 32;
    let corner = 2.0 * 20_000.0 / STEP_RATE_HZ;
    let taps: Vec<f64> = (-HALF..=HALF)
        .map(|i| {
            let x = PI * i as f64;
            let sinc = if i == 0 {
                corner
            } else {
                (corner * x).sin() / x
            };
            sinc * (0.5 + 0.5 * (x / HALF as f64).cos())
        })
        .collect();
    let count = samples.len() / (STEP_RATE_HZ as usize / NOTE_RATE_HZ as usize);
    (0..count as isize)
        .map(|i| {
            let from = (2 * i - HALF).max(0);
            let to = (2 * i + HALF + 1).min(samples.len() as isize);
            let taps = &taps[(from - (2 * i - HALF)) as usize..];
            let part = samples[from as usize..to as usize].iter().zip(taps);
            part.map(|(s, t)| f64::from(*s) * t).sum::<f64>() as f32
        })
        .collect()
}

#[cfg(test)]
mod tests;
