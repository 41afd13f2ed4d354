//! A stiff string on a grid, over frets: finite differences in time and space.
//!
//! The string swings in two directions, towards the frets and along them. Its far end is fixed; its near end is the
//! bridge, a mass on springs and dampers along two directions that lie askew to the frets, so that the bridge hands
//! swing from one direction to the other. Tension rises with the swing of both (Kirchhoff and Carrier), kept as in
//! Bilbao, Numerical Sound Synthesis (2009), ch. 8. Loss grows with the square of frequency.
//!
//! Frets push on one side by a power law with hysteresis (Hunt and Crossley). Contact is solved implicitly, so that
//! energy never rises: Bilbao and Torin, JAES 63(5) 2015; Issanchou, Bilbao, Le Carrou, Touze, Doare, J. Sound Vib. 393
//! (2017) 229-251. Contact with a whole fingerboard in two directions follows Evangelista and Eckerholm, IEEE TASLP 18(4)
//! 2010 822-832.

use multiversion::multiversion;

use super::build::{Bridge, Build, Fret};
use super::{STEP_RATE_HZ, TOWARDS};

/// How all frets push back: force = stiffness · compression^exponent · (1 + hysteresis · speed of compression).
#[derive(Debug, Clone, Copy)]
pub(super) struct Hardness {
    pub stiffness: f64,
    pub exponent: f64,
    /// Hysteresis in s/m.
    pub hysteresis: f64,
}

/// A force that draws the string aside at one place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Draw {
    /// Distance from the fixed end in metres.
    pub at_m: f64,
    /// Force in both directions, in newtons.
    pub force_n: [f64; 2],
}

/// A place between two points of the grid.
#[derive(Debug, Clone, Copy)]
struct GridPlace {
    point: usize,
    share: f64,
}

#[derive(Debug, Clone, Copy)]
struct GridContact {
    place: GridPlace,
    gap_m: f64,
    /// Metres that a newton moves the string here in one step.
    mobility: f64,
    /// Compression one step ago and now, in metres; negative where there is none.
    before_m: f64,
    now_m: f64,
}

/// One direction of swing.
#[derive(Debug, Clone)]
struct Swing {
    now: Vec<f64>,
    before: Vec<f64>,
    /// Second difference in space, zero at both ends, now and one step ago.
    bend: Vec<f64>,
    bend_before: Vec<f64>,
}

/// Factors of one step.
#[derive(Debug, Clone, Copy)]
struct Factors {
    now: f64,
    before: f64,
    bend: f64,
    bend_before: f64,
    stiff: f64,
    /// What a relative rise of tension does to a point, by its bend.
    rise: f64,
}

/// The string.
#[derive(Debug, Clone)]
pub(super) struct GridString {
    swings: [Swing; 2],
    factors: Factors,
    contacts: Vec<GridContact>,
    hardness: Hardness,
    bridge: Bridge,
    bridge_kg: f64,
    tension_n: f64,
    bending: f64,
    spacing_m: f64,
    density_kg_m: f64,
    /// Loss that grows with frequency, in m²/s.
    viscous: f64,
    damping: f64,
    /// Relative rise of tension for a mean squared slope sum of 1 m.
    rise: f64,
    touches: bool,
    /// How much further away all frets are held than where they stand, in metres.
    off_m: f64,
}

const STEP_S: f64 = 1.0 / STEP_RATE_HZ;
/// Margin left under the limit of stability, for the rise of tension.
const MARGIN: f64 = 1.03;
/// Steps of Newton's method in contact, and what may be left of a step, as a share of it, once it has settled.
const MOST_STEPS: usize = 40;
const SETTLED: f64 = 1e-13;

impl GridString {
    pub fn new(build: &Build, frets: &[Fret], hardness: Hardness) -> Self {
        let k = STEP_S;
        let (length, density) = (build.length_m, build.density_kg_m);
        let damping = build.loss_db_s / (20.0 / std::f64::consts::LN_10);
        // As the stiff-string formula has it: f1 = f0 sqrt(1 + B).
        let flexible_hz = build.f1_hz / (1.0 + build.b).sqrt();
        let mut speed2 = (2.0 * length * flexible_hz).powi(2);
        let stiff2 = build.b * speed2 * (length / std::f64::consts::PI).powi(2);
        let wave_at_1_khz = 2_000.0 * std::f64::consts::PI / speed2.sqrt();
        let viscous =
            build.loss_db_s_at_1_khz / (20.0 / std::f64::consts::LN_10) / wave_at_1_khz.powi(2);
        let a = MARGIN * speed2 * k * k + 4.0 * viscous * k;
        let least_m = (0.5 * (a + (a * a + 16.0 * stiff2 * k * k).sqrt())).sqrt();
        let count = (length / least_m).floor().max(8.0) as usize;
        let h = length / count as f64;
        // The grid's own first mode is brought to the wanted frequency, and the bridge's giving way made up for.
        let half = (0.5 * std::f64::consts::PI / count as f64).sin() / h;
        let tension = density * speed2;
        let give: f64 = build
            .bridge
            .stiffness
            .iter()
            .map(|s| 0.5 * tension / (s * length))
            .sum();
        let wanted =
            ((std::f64::consts::PI * build.f1_hz * k).sin() / k).powi(2) * (1.0 + give).powi(2);
        speed2 = (wanted - 4.0 * stiff2 * half.powi(4)) / half.powi(2);
        let tension = density * speed2;
        let over = 1.0 / (1.0 + damping * k);
        let factors = Factors {
            now: 2.0 * over,
            before: -(1.0 - damping * k) * over,
            bend: (k * k * speed2 + 2.0 * viscous * k) * over,
            bend_before: -2.0 * viscous * k * over,
            stiff: -k * k * stiff2 / (h * h) * over,
            rise: k * k * speed2 * over,
        };
        let stiffer = build.bridge.stiffness[0].max(build.bridge.stiffness[1]);
        let own = std::f64::consts::TAU * build.bridge.own_hz;
        let swing = Swing {
            now: vec![0.0; count + 1],
            before: vec![0.0; count + 1],
            bend: vec![0.0; count + 1],
            bend_before: vec![0.0; count + 1],
        };
        let mut string = GridString {
            swings: [swing.clone(), swing],
            factors,
            contacts: Vec::new(),
            hardness,
            bridge: build.bridge,
            bridge_kg: stiffer / (own * own) + 0.5 * density * h,
            tension_n: tension,
            bending: density * stiff2,
            spacing_m: h,
            density_kg_m: density,
            viscous,
            damping,
            rise: build.stretch_n / (2.0 * length * tension),
            touches: false,
            off_m: 0.0,
        };
        for fret in frets {
            let place = string.place(fret.at_m);
            // Two frets on the same points would not see each other: the grid is too coarse for them there.
            let taken = |c: &GridContact| c.place.point + 1 >= place.point;
            if string.contacts.iter().any(taken) || place.point + 2 >= count {
                continue;
            }
            string.contacts.push(GridContact {
                place,
                gap_m: fret.gap_m,
                mobility: string.mobility(place),
                before_m: -fret.gap_m,
                now_m: -fret.gap_m,
            });
        }
        string
    }

    /// The place `at_m` from the fixed end. Frets have to come in order of place.
    fn place(&self, at_m: f64) -> GridPlace {
        let at = (at_m / self.spacing_m).max(0.0);
        let point = (at as usize).min(self.swings[0].now.len() - 3);
        GridPlace {
            point,
            share: (at - point as f64).clamp(0.0, 1.0),
        }
    }

    /// What a newton does to each of a place's two points in one step.
    fn give(&self) -> f64 {
        STEP_S * STEP_S / (self.density_kg_m * self.spacing_m * (1.0 + self.damping * STEP_S))
    }

    fn mobility(&self, place: GridPlace) -> f64 {
        let first = if place.point == 0 {
            0.0
        } else {
            1.0 - place.share
        };
        self.give() * (first * first + place.share * place.share)
    }

    /// Goes one step on under the force of `draw`; gives the forces on the bridge in newtons.
    pub fn step(&mut self, draw: Option<&Draw>) -> [f64; 2] {
        let last = self.swings[0].now.len() - 1;
        let h = self.spacing_m;
        let (mut along_bend, mut bend2) = (0.0, 0.0);
        let mut slopes = [0.0; 2];
        let mut slopes_before = [0.0; 2];
        let mut ends = [0.0; 2];
        let mut ends_before = [0.0; 2];
        for (d, swing) in self.swings.iter_mut().enumerate() {
            ends[d] = swing.now[last];
            ends_before[d] = swing.before[last];
            slopes[d] = (swing.now[last] - swing.now[last - 1]) / h;
            slopes_before[d] = (swing.before[last] - swing.before[last - 1]) / h;
            bend(&swing.now, &mut swing.bend, 1.0 / (h * h));
            along_bend += dot(&swing.bend, &swing.before);
            advance(
                &swing.now,
                &mut swing.before,
                &swing.bend,
                &swing.bend_before,
                self.factors,
            );
            along_bend += dot(&swing.bend, &swing.before);
            bend2 += dot(&swing.bend, &swing.bend);
        }
        // The bridge: its own directions lie askew.
        let mut pull = [0.0; 2];
        for d in 0..2 {
            let bend = self.swings[d].bend[last - 1];
            pull[d] = -self.tension_n * slopes[d] - self.bending * bend / h;
        }
        let losing: [f64; 2] = std::array::from_fn(|d| {
            -2.0 * self.density_kg_m * self.viscous * (slopes[d] - slopes_before[d]) / STEP_S
        });
        let forces: [f64; 2] = std::array::from_fn(|d| pull[d] + losing[d]);
        let (turned, now, before) = (
            self.turned(forces),
            self.turned(ends),
            self.turned(ends_before),
        );
        let inertia = self.bridge_kg / (STEP_S * STEP_S);
        let drag = self.bridge.resistance / (2.0 * STEP_S);
        let ends_next: [f64; 2] = std::array::from_fn(|d| {
            let force = turned[d] - self.bridge.stiffness[d] * now[d];
            (inertia * (2.0 * now[d] - before[d]) + drag * before[d] + force) / (inertia + drag)
        });
        let ends_next = self.turned_back(ends_next);
        // The rise of tension, from what it does to this very step.
        let end_rise = self.tension_n / (inertia + drag);
        let mut product = -h * along_bend;
        let mut own = h * self.factors.rise * bend2;
        for d in 0..2 {
            product += slopes[d] * (ends_next[d] + ends_before[d]);
            own += end_rise * slopes[d] * slopes[d];
        }
        let per_product = 0.5 * self.rise / (1.0 + 0.5 * self.rise * own);
        let mut rise = per_product * product;
        for (d, swing) in self.swings.iter_mut().enumerate() {
            push(&mut swing.before, &swing.bend, rise * self.factors.rise);
            swing.before[last] = ends_next[d] - rise * end_rise * slopes[d];
            std::mem::swap(&mut swing.now, &mut swing.before);
            std::mem::swap(&mut swing.bend, &mut swing.bend_before);
        }
        if let Some(draw) = draw {
            let (place, give) = (self.place(draw.at_m), self.give());
            for (swing, force) in self.swings.iter_mut().zip(draw.force_n) {
                swing.now[place.point] += give * force * (1.0 - place.share);
                swing.now[place.point + 1] += give * force * place.share;
            }
        }
        let met = self.meet();
        if met != 0.0 {
            // The frets' push is part of the step that tension rises by.
            let more = -per_product * h * met;
            for (swing, slope) in self.swings.iter_mut().zip(slopes) {
                push(&mut swing.now, &swing.bend_before, more * self.factors.rise);
                swing.now[last] -= more * end_rise * slope;
            }
            rise += more;
        }
        for contact in &mut self.contacts {
            let GridPlace { point, share } = contact.place;
            let now = &self.swings[TOWARDS].now;
            contact.before_m = contact.now_m;
            let gap_m = contact.gap_m + self.off_m;
            contact.now_m = -gap_m - (1.0 - share) * now[point] - share * now[point + 1];
        }
        std::array::from_fn(|d| pull[d] - rise * self.tension_n * slopes[d])
    }

    /// Lets the frets act on the step just made; gives the sum of what they moved, each times the bend there.
    fn meet(&mut self) -> f64 {
        let give = self.give();
        let Swing {
            now, bend_before, ..
        } = &mut self.swings[TOWARDS];
        let mut met = 0.0;
        self.touches = false;
        for contact in &self.contacts {
            let GridPlace { point, share } = contact.place;
            let gap_m = contact.gap_m + self.off_m;
            let free_m = -gap_m - (1.0 - share) * now[point] - share * now[point + 1];
            let force =
                self.hardness
                    .force_n(free_m, contact.now_m, contact.before_m, contact.mobility);
            if force > 0.0 {
                self.touches = true;
                let moved_m = [give * force * (1.0 - share), give * force * share];
                if point > 0 {
                    now[point] += moved_m[0];
                }
                now[point + 1] += moved_m[1];
                met += moved_m[0] * bend_before[point] + moved_m[1] * bend_before[point + 1];
            }
        }
        met
    }

    /// Holds all frets this much further away from now on, in metres.
    pub fn hold_off(&mut self, off_m: f64) {
        self.off_m = off_m;
    }

    /// Tells whether the string pressed on a fret in the last step.
    pub fn touches_fret(&self) -> bool {
        self.touches
    }

    fn turned(&self, [towards, along]: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.bridge.askew.sin_cos();
        [cos * towards + sin * along, cos * along - sin * towards]
    }

    fn turned_back(&self, [first, second]: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.bridge.askew.sin_cos();
        [cos * first - sin * second, cos * second + sin * first]
    }

    /// Energy in joules, as the scheme keeps it: without losses it stays, with them it falls, but while the string is
    /// drawn.
    #[cfg(test)]
    pub fn energy_j(&self) -> f64 {
        let h = self.spacing_m;
        let last = self.swings[0].now.len() - 1;
        let mass = self.density_kg_m * h;
        let (mut energy, mut slopes) = (0.0, 0.0);
        for swing in &self.swings {
            for l in 1..=last {
                let mass = if l == last { self.bridge_kg } else { mass };
                energy += 0.5 * mass * ((swing.now[l] - swing.before[l]) / STEP_S).powi(2);
                let slope = |u: &[f64]| (u[l] - u[l - 1]) / h;
                let (now, before) = (slope(&swing.now), slope(&swing.before));
                slopes += h * now * before;
                energy += 0.5 * self.tension_n * h * now * before;
                let speed = (now - before) / STEP_S;
                energy -= 0.5 * STEP_S * self.density_kg_m * self.viscous * h * speed * speed;
                if l < last {
                    let bend = |u: &[f64]| (u[l + 1] - 2.0 * u[l] + u[l - 1]) / (h * h);
                    energy += 0.5 * self.bending * h * bend(&swing.now) * bend(&swing.before);
                }
            }
        }
        energy += 0.25 * self.rise * self.tension_n * slopes * slopes;
        let now = self.turned([0, 1].map(|d: usize| self.swings[d].now[last]));
        let before = self.turned([0, 1].map(|d: usize| self.swings[d].before[last]));
        for d in 0..2 {
            energy += 0.5 * self.bridge.stiffness[d] * now[d] * before[d];
        }
        let held: f64 = self
            .contacts
            .iter()
            .map(|c| self.hardness.potential_j(c.now_m) + self.hardness.potential_j(c.before_m))
            .sum();
        energy + 0.5 * held
    }
}

impl Hardness {
    fn press_n(&self, compression_m: f64) -> f64 {
        self.stiffness * compression_m.max(0.0).powf(self.exponent)
    }

    fn potential_j(&self, compression_m: f64) -> f64 {
        let power = self.exponent + 1.0;
        self.stiffness / power * compression_m.max(0.0).powf(power)
    }

    /// Force of a fret in newtons. The spring's part is its potential's difference quotient over two steps, so that it
    /// gives back what it took. `free_m` would be the compression without it. A fret never pulls.
    fn force_n(&self, free_m: f64, now_m: f64, before_m: f64, mobility: f64) -> f64 {
        if before_m <= 0.0 && free_m <= 0.0 && now_m <= 0.0 {
            return 0.0;
        }
        let held = self.potential_j(before_m);
        let drag = self.press_n(now_m) * self.hysteresis / (2.0 * STEP_S);
        let spring = |r: f64| {
            if r.abs() < 1e-13 {
                return (self.press_n(before_m), 0.0);
            }
            let force = (self.potential_j(before_m + r) - held) / r;
            (force, (self.press_n(before_m + r) - force) / r)
        };
        let free_step = free_m - before_m;
        // The step lies between none at all of the force and the greatest there can be.
        let most = self.press_n(before_m.max(free_m)) + drag * free_step.abs();
        let (mut low, mut high) = (
            free_step - mobility * most,
            free_step + mobility * drag * free_step.abs(),
        );
        let mut r = free_step.clamp(low, high);
        for _ in 0..MOST_STEPS {
            let (force, slope) = spring(r);
            let off = r + mobility * (force + drag * r) - free_step;
            if off > 0.0 {
                high = r;
            } else {
                low = r;
            }
            let newton = r - off / (1.0 + mobility * (slope + drag));
            if off.abs() <= SETTLED * free_step.abs() {
                break;
            }
            r = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
        }
        (spring(r).0 + drag * r).max(0.0)
    }
}

/// Second difference in space of what lies between both ends.
#[multiversion(targets("x86_64+avx2+fma"))]
fn bend(now: &[f64], bend: &mut [f64], per_m2: f64) {
    let count = now.len() - 2;
    let sides = now[..count].iter().zip(&now[2..]);
    let bend = bend[1..=count].iter_mut();
    for ((b, m), (l, r)) in bend.zip(&now[1..=count]).zip(sides) {
        *b = per_m2 * ((l - m) + (r - m));
    }
}

/// Puts the next displacement in the place of the one before, but for the rise of tension.
#[multiversion(targets("x86_64+avx2+fma"))]
fn advance(now: &[f64], before: &mut [f64], bend: &[f64], bend_before: &[f64], factors: Factors) {
    let count = now.len() - 2;
    let sides = bend[..count].iter().zip(&bend[2..]);
    let middle = bend[1..=count].iter().zip(&bend_before[1..=count]);
    let points = before[1..=count].iter_mut().zip(&now[1..=count]);
    let Factors {
        now: a,
        before: b,
        bend: c,
        bend_before: d,
        stiff: e,
        ..
    } = factors;
    for (((u, n), (m, o)), (l, r)) in points.zip(middle).zip(sides) {
        *u = a * n + b * *u + (c - 2.0 * e) * m + d * o + e * (l + r);
    }
}

#[multiversion(targets("x86_64+avx2+fma"))]
fn push(next: &mut [f64], bend: &[f64], factor: f64) {
    for (n, b) in next.iter_mut().zip(bend) {
        *n += factor * b;
    }
}

#[multiversion(targets("x86_64+avx2+fma"))]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0f64; LANES];
    let (a, b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest = a.remainder().iter().zip(b.remainder());
    let rest: f64 = rest.map(|(a, b)| a * b).sum();
    for (a, b) in a.zip(b) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    rest + sums.iter().sum::<f64>()
}
