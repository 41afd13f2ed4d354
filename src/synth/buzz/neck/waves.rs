//! A string as two waves that travel along it in delay lines, and frets that turn them back.
//!
//! Each direction of swing has two delay lines, there and back: a digital waveguide (Smith, Computer Music Journal 16(4)
//! 1992 74-91). The far end turns a wave over. At the bridge a low-pass takes what is lost in a period, all-passes bend
//! the pitch of high partials (stiffness), and the two directions, which lie askew to the bridge's own, mix.
//!
//! A fret holds the string where it would go through: what is missing is added to both waves there. So a hard fret
//! turns the waves back, and a soft one lets a part of them pass. That is how a slapped bass has been computed (Rank and
//! Kubin, ICASSP 1997 443-446; from memory).

use std::f64::consts::{PI, TAU};

use rand::Rng;
use rand::rngs::SmallRng;

use super::build::{Build, Fret};
use super::{ALONG, OverFrets, STEP_RATE_HZ, TOWARDS};
use crate::synth::string::Pluck;
use crate::synth::strum::Gesture;

/// Share of what goes beyond a fret that it turns back in one step, softest and hardest. A choice.
const FIRM: (f64, f64) = (0.15, 1.0);
/// All-passes in a row for stiffness: enough that twenty partials of a thick string lie within some cents.
const ALL_PASSES: usize = 8;
/// The partial at which stiffness is set. A choice.
const SET_AT: f64 = 20.0;
/// Where the loss that grows with frequency is as the string's own, in Hz. A choice.
const LOSS_AT_HZ: f64 = 2_500.0;
/// Shortest delay line in samples: a string that is shorter has no place for frets.
const SHORTEST: usize = 8;

/// What all strings of a guitar have in common.
pub(super) struct Waves {
    firm: f64,
}

impl Waves {
    pub fn drawn(rng: &mut SmallRng) -> Self {
        Waves {
            firm: FIRM.0 * (FIRM.1 / FIRM.0).powf(rng.random_range(0.0..1.0)),
        }
    }
}

/// A wave on its way: a ring of samples whose beginning moves one step at a time.
struct Line {
    samples: Vec<f64>,
    first: usize,
}

impl Line {
    fn at(&self, place: usize) -> f64 {
        self.samples[self.index(place)]
    }

    fn add(&mut self, place: usize, by: f64) {
        let index = self.index(place);
        self.samples[index] += by;
    }

    fn index(&self, place: usize) -> usize {
        let index = self.first + place;
        match index.checked_sub(self.samples.len()) {
            Some(index) => index,
            None => index,
        }
    }

    /// Moves all samples one place away from the beginning, where `new` comes in; gives what leaves at the end.
    fn away(&mut self, new: f64) -> f64 {
        self.first = self.first.checked_sub(1).unwrap_or(self.samples.len() - 1);
        std::mem::replace(&mut self.samples[self.first], new)
    }

    /// Moves all samples one place towards the beginning, `new` comes in at the end; gives what leaves at the beginning.
    fn back(&mut self, new: f64) -> f64 {
        let out = std::mem::replace(&mut self.samples[self.first], new);
        self.first = (self.first + 1) % self.samples.len();
        out
    }
}

/// A first-order all-pass, `a + z⁻¹ over 1 + a z⁻¹`.
#[derive(Debug, Clone, Copy, Default)]
struct AllPass {
    a: f64,
    state: f64,
}

impl AllPass {
    fn next(&mut self, sample: f64) -> f64 {
        let out = self.a * sample + self.state;
        self.state = sample - self.a * out;
        out
    }

    /// Delay in samples of its phase at `turn` radians a sample.
    fn delay(a: f64, turn: f64) -> f64 {
        (turn.sin().atan2(a + turn.cos()) - (a * turn.sin()).atan2(1.0 + a * turn.cos())) / turn
    }
}

/// What a direction of the bridge makes of a wave that comes to it: losses, stiffness, and the rest of the period.
struct End {
    gain: f64,
    pole: f64,
    low: f64,
    stiff: [AllPass; ALL_PASSES],
    rest: AllPass,
}

impl End {
    fn next(&mut self, sample: f64) -> f64 {
        self.low = (1.0 - self.pole) * self.gain * sample + self.pole * self.low;
        let bent = self.stiff.iter_mut().fold(self.low, |s, a| a.next(s));
        -self.rest.next(bent)
    }
}

/// One direction of swing.
struct Swing {
    away: Line,
    back: Line,
}

/// A fret at a place of the delay lines.
struct FretStop {
    place: usize,
    gap_m: f64,
}

/// The string.
pub(super) struct WaveString {
    swings: [Swing; 2],
    ends: [End; 2],
    askew: f64,
    stops: Vec<FretStop>,
    firm: f64,
    off_m: f64,
    before: [f64; 2],
    touches: bool,
}

impl WaveString {
    /// A string that is let go where a hand has drawn it.
    pub fn plucked(build: &Build, frets: &[Fret], waves: &Waves, stroke: &Gesture) -> Self {
        let turn = TAU * build.f1_hz / STEP_RATE_HZ;
        let period = STEP_RATE_HZ / build.f1_hz;
        let a = stiff(build);
        let (gain, pole) = losses(build);
        let low = (pole * turn.sin()).atan2(1.0 - pole * turn.cos()) / turn;
        let bent = ALL_PASSES as f64 * AllPass::delay(a, turn);
        // The far end turns the wave round within a step.
        let lines = period - low - bent - 1.0;
        let length = ((0.5 * (lines - 1.0)).floor() as usize).max(SHORTEST);
        let apart = build.apart_hz() / build.f1_hz * period;
        let ends = [0.0, apart].map(|more| {
            let rest = (lines + more - 2.0 * length as f64).max(0.1);
            End {
                gain,
                pole,
                low: 0.0,
                stiff: [AllPass { a, state: 0.0 }; ALL_PASSES],
                // At low frequencies an all-pass delays by (1 - a) / (1 + a) samples.
                rest: AllPass {
                    a: (1.0 - rest) / (1.0 + rest),
                    state: 0.0,
                },
            }
        });
        let shape = shape(build, &stroke.pluck, length);
        let shares = [
            stroke.towards_frets,
            (1.0 - stroke.towards_frets.powi(2)).sqrt(),
        ];
        let swings = shares.map(|share| {
            let line = || Line {
                samples: shape.iter().map(|s| 0.5 * share * s).collect(),
                first: 0,
            };
            Swing {
                away: line(),
                back: line(),
            }
        });
        let mut stops: Vec<FretStop> = Vec::new();
        for fret in frets {
            let place = (fret.at_m / build.length_m * length as f64).round() as usize;
            if place + 1 < length && stops.last().is_none_or(|last| last.place < place) {
                stops.push(FretStop {
                    place: place.max(1),
                    gap_m: fret.gap_m,
                });
            }
        }
        WaveString {
            swings,
            ends,
            askew: build.bridge.askew,
            stops,
            firm: waves.firm,
            off_m: 0.0,
            before: [0.0; 2],
            touches: false,
        }
    }
}

impl OverFrets for WaveString {
    fn step(&mut self) -> [f64; 2] {
        let (sin, cos) = self.askew.sin_cos();
        let last = self.swings[0].away.samples.len() - 1;
        let [t, a] = [TOWARDS, ALONG].map(|d| self.swings[d].away.at(last));
        let returned = [
            self.ends[0].next(cos * t + sin * a),
            self.ends[1].next(cos * a - sin * t),
        ];
        let back = [
            cos * returned[0] - sin * returned[1],
            cos * returned[1] + sin * returned[0],
        ];
        let come = [t, a];
        let force = std::array::from_fn(|d| {
            let turned = -self.swings[d].back.back(back[d]);
            self.swings[d].away.away(turned);
            // The slope at the end: what comes and what returns, as speeds.
            let now = come[d] - back[d];
            now - std::mem::replace(&mut self.before[d], now)
        });
        self.touches = false;
        let Swing { away, back } = &mut self.swings[TOWARDS];
        for stop in &self.stops {
            let beyond = -(stop.gap_m + self.off_m) - away.at(stop.place) - back.at(stop.place);
            if beyond > 0.0 {
                self.touches = true;
                away.add(stop.place, self.firm * beyond);
                back.add(stop.place, self.firm * beyond);
            }
        }
        force
    }

    fn hold_off(&mut self, off_m: f64) {
        self.off_m = off_m;
    }

    fn touches_fret(&self) -> bool {
        self.touches
    }
}

/// The all-passes' coefficient that puts one high partial where stiffness has it.
fn stiff(build: &Build) -> f64 {
    let number = SET_AT.min(0.3 * STEP_RATE_HZ / build.f1_hz);
    let ratio = number * ((1.0 + build.b * number * number) / (1.0 + build.b)).sqrt();
    let turn = TAU * build.f1_hz / STEP_RATE_HZ;
    // A stiff string's high partials come round sooner than its first.
    let wanted = STEP_RATE_HZ / build.f1_hz * (1.0 - number / ratio);
    let sooner = |a: f64| {
        ALL_PASSES as f64 * (AllPass::delay(a, turn) - AllPass::delay(a, (ratio * turn).min(PI)))
    };
    let (mut low, mut high) = (-0.95, 0.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        // Nearer to -1 it delays low frequencies more.
        if sooner(middle) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Gain and pole of the low-pass that takes a period's losses.
fn losses(build: &Build) -> (f64, f64) {
    let gain = 10f64.powf(-build.loss_db_s / build.f1_hz / 20.0);
    let khz = LOSS_AT_HZ / 1_000.0;
    let more_db = build.loss_db_s_at_1_khz * khz * khz / build.f1_hz;
    let turn = TAU * LOSS_AT_HZ / STEP_RATE_HZ;
    // |1 - p|² / |1 - p z⁻¹|² = 1 / (1 + 4 p / (1 - p)² sin²(turn / 2))
    let ratio = (10f64.powf(more_db / 10.0) - 1.0) / (4.0 * (0.5 * turn).sin().powi(2));
    let half = 1.0 + 0.5 / ratio.max(1e-9);
    (gain, half - (half * half - 1.0).sqrt())
}

/// The string drawn aside, from its fixed end on, as round as what draws it is wide.
fn shape(build: &Build, pluck: &Pluck, length: usize) -> Vec<f64> {
    let peak = (1.0 - pluck.from_bridge.clamp(0.03, 0.97)) * length as f64;
    let corner = |place: f64| {
        let share = match place < peak {
            true => place / peak,
            false => (length as f64 - place) / (length as f64 - peak),
        };
        pluck.aside_m * share.max(0.0)
    };
    let wide = pluck.touch.width_m() / build.length_m * length as f64;
    // What lets go slowly rounds the corner by how far a wave runs meanwhile.
    let slow = 0.25 * pluck.touch.release_s() * STEP_RATE_HZ;
    let half = 0.5 * (wide + slow).min(0.2 * length as f64);
    (0..length)
        .map(|i| {
            let part = |k: i32| corner(i as f64 + half * f64::from(k) / 8.0);
            // A hand cannot draw the fixed end aside.
            let most = pluck.aside_m * i as f64 / peak;
            ((-8..=8).map(part).sum::<f64>() / 17.0).min(most)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::build::Bridge;
    use super::*;
    use crate::synth::strum::Gesture;

    fn a_string() -> Build {
        Build {
            length_m: 0.65,
            density_kg_m: 6.4e-3,
            f1_hz: 110.0,
            b: 1e-4,
            stretch_n: 2e4,
            loss_db_s: 9.0,
            loss_db_s_at_1_khz: 4.0,
            bridge: Bridge {
                stiffness: [4e5, 16e5],
                own_hz: 10_000.0,
                resistance: 0.5,
                askew: 0.6,
            },
        }
    }

    /// Force towards the frets over so many seconds, and how many steps touched a fret.
    fn force(frets: &[Fret], firm: f64, seconds: f64) -> (Vec<f64>, usize) {
        let waves = Waves { firm };
        let mut string = WaveString::plucked(&a_string(), frets, &waves, &Gesture::usual());
        let mut touches = 0;
        let force = (0..(seconds * STEP_RATE_HZ) as usize)
            .map(|_| {
                let force = string.step()[TOWARDS];
                touches += usize::from(string.touches_fret());
                force
            })
            .collect();
        (force, touches)
    }

    /// Frequency in Hz at which there is most within a semitone about `hz`, and how much.
    fn peak(force: &[f64], hz: f64) -> (f64, f64) {
        (-1000..=1000)
            .map(|step| {
                let hz = hz * 2f64.powf(f64::from(step) / 12_000.0);
                let turn = TAU * hz / STEP_RATE_HZ;
                let (mut re, mut im) = (0.0, 0.0);
                for (i, s) in force.iter().enumerate() {
                    let window = 0.5 - 0.5 * (TAU * i as f64 / force.len() as f64).cos();
                    re += window * s * (turn * i as f64).cos();
                    im += window * s * (turn * i as f64).sin();
                }
                (hz, re * re + im * im)
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .expect("some")
    }

    #[test]
    fn partials_lie_near_the_stiff_string_formula() {
        let (force, _) = force(&[], 1.0, 0.4);
        for n in [1.0, 5.0, 12.0, 20.0] {
            let b: f64 = 1e-4;
            let wanted = 110.0 * n * ((1.0 + b * n * n) / (1.0 + b)).sqrt();
            let (found, _) = peak(&force, wanted);
            let cents = 1200.0 * (found / wanted).log2();
            // Half a cent is what a window of 0.4 s tells of the first; the bridge puts it some tenths of a hertz apart.
            assert!(cents.abs() < 8.0, "partial {n}: {cents} cents off");
        }
    }

    #[test]
    fn a_free_string_falls_as_told_and_no_fret_adds_energy() {
        let energy = |part: &[f64]| part.iter().map(|s| s * s).sum::<f64>();
        let tenth = (0.1 * STEP_RATE_HZ) as usize;
        let (free, touches) = force(&[], 1.0, 1.2);
        assert_eq!(touches, 0);
        let fallen_db =
            10.0 * (energy(&free[..tenth]) / energy(&free[10 * tenth..11 * tenth])).log10();
        // A second at 9 dB and what high partials lose.
        assert!((8.0..40.0).contains(&fallen_db), "{fallen_db} dB");
        for firm in [0.15, 0.5, 1.0] {
            let fret = Fret {
                at_m: 0.65 * (1.0 - 2f64.powf(-1.0 / 12.0)),
                gap_m: 0.000_1,
            };
            let (struck, touches) = force(&[fret], firm, 1.2);
            assert!(touches > 100, "{touches}");
            assert!(struck.iter().all(|s| s.is_finite()));
            let late = |force: &[f64]| energy(&force[8 * tenth..]);
            assert!(late(&struck) < 3.0 * late(&free), "firm {firm}");
        }
    }
}
