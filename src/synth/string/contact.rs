//! Things that a string may touch: a fret, one-sided and stiff, or flesh that takes its motion away.

/// Most rounds in which several contacts find their common solution; two to six are usual.
pub(super) const MOST_ROUNDS: usize = 60;
/// Forces that change by less than this between rounds have settled, in newtons.
pub(super) const SETTLED_N: f64 = 1e-11;
/// How the force of a fret grows with compression: force = stiffness · compression^EXPONENT. Hertz's law
/// for round bodies; 1 to 3 are used for strings (Bilbao and Torin, JAES 63(5) 2015).
const EXPONENT: f64 = 1.5;
/// Steps of Newton's method; it settles in four to eight.
const MOST_STEPS: usize = 40;

/// An obstacle below the string that it can hit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Obstacle {
    /// Distance from the string's stopped end in metres.
    pub at_m: f64,
    /// Clearance between the resting string and the obstacle in metres.
    pub gap_m: f64,
    /// Force in newtons when compressed by 1 m, a number that says how hard the obstacle is.
    pub stiffness: f64,
}

/// A finger's flesh on the string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flesh {
    /// Distance of its middle from the string's stopped end in metres.
    pub at_m: f64,
    /// Length of string that it covers, in metres.
    pub width_m: f64,
    /// Force per speed in N s/m.
    pub resistance: f64,
}

/// Something that touches the string at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Contact {
    /// A fret: pushes back on one side.
    Fret(Obstacle),
    /// A fingertip: damps.
    Flesh(Flesh),
}

impl Contact {
    /// Tells whether this is a fret, which only motion towards it meets.
    pub fn is_fret(&self) -> bool {
        matches!(self, Contact::Fret(_))
    }

    pub(super) fn at_m(&self) -> f64 {
        match self {
            Contact::Fret(o) => o.at_m,
            Contact::Flesh(f) => f.at_m,
        }
    }

    pub(super) fn width_m(&self) -> f64 {
        match self {
            Contact::Fret(_) => 0.0,
            Contact::Flesh(f) => f.width_m,
        }
    }

    /// Force on the string in newtons, upwards. `free_m` is where the string would be next without it,
    /// `before_m` where it was one step ago, `mobility` metres per newton in this step.
    pub(super) fn force_n(&self, free_m: f64, before_m: f64, mobility: f64, step_s: f64) -> f64 {
        match self {
            Contact::Flesh(f) => {
                let per_speed = f.resistance / (2.0 * step_s);
                -per_speed * (free_m - before_m) / (1.0 + per_speed * mobility)
            }
            Contact::Fret(o) => o.force_n(free_m, before_m, mobility),
        }
    }

    /// Energy held by compression with the string at `at_m`, in joules.
    pub(super) fn held_j(&self, at_m: f64) -> f64 {
        match self {
            Contact::Fret(o) => o.potential_j(-o.gap_m - at_m),
            Contact::Flesh(_) => 0.0,
        }
    }
}

impl Obstacle {
    /// Energy at a compression, which may be negative: then there is none.
    fn potential_j(&self, compression_m: f64) -> f64 {
        self.stiffness / (EXPONENT + 1.0) * compression_m.max(0.0).powf(EXPONENT + 1.0)
    }

    fn press_n(&self, compression_m: f64) -> f64 {
        self.stiffness * compression_m.max(0.0).powf(EXPONENT)
    }

    /// The force is the potential's difference quotient over two steps, so that what the spring takes up
    /// it gives back to the last digit. r + mobility · F(r) = r_free is solved for the step r.
    fn force_n(&self, free_m: f64, before_m: f64, mobility: f64) -> f64 {
        let before = -self.gap_m - before_m;
        let free = -self.gap_m - free_m;
        if before <= 0.0 && free <= 0.0 {
            return 0.0;
        }
        let free_step = free - before;
        let held = self.potential_j(before);
        let quotient = |r: f64| {
            if r.abs() < 1e-12 {
                (self.press_n(before), 0.0)
            } else {
                let force = (self.potential_j(before + r) - held) / r;
                (force, (self.press_n(before + r) - force) / r)
            }
        };
        // F grows with r and is at most the press at the deeper end: the solution lies in between.
        let deepest = before.max(free);
        let (mut low, mut high) = (free_step - mobility * self.press_n(deepest), free_step);
        let mut r = if before > 0.0 {
            0.0f64.clamp(low, high)
        } else {
            high
        };
        for _ in 0..MOST_STEPS {
            let (force, slope) = quotient(r);
            let off = r + mobility * force - free_step;
            if off > 0.0 {
                high = r;
            } else {
                low = r;
            }
            let newton = r - off / (1.0 + mobility * slope);
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            if (next - r).abs() <= 1e-15 + 1e-13 * deepest.abs() {
                r = next;
                break;
            }
            r = next;
        }
        quotient(r).0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_fret_pushes_as_its_potential_says(
            before in -1e-3..1e-4f64, step in -2e-4..2e-4f64, mobility in 1e-9..1e-6f64,
        ) {
            let fret = Obstacle { at_m: 0.03, gap_m: 0.0, stiffness: 1e7 };
            let free_m = -(before + step);
            let force = fret.force_n(free_m, -before, mobility);
            prop_assert!(force >= -1e-12, "a fret never pulls");
            let next = -free_m - mobility * force;
            if (next - before).abs() > 1e-9 {
                let quotient = (fret.potential_j(next) - fret.potential_j(before)) / (next - before);
                prop_assert!((quotient - force).abs() <= 1e-6 * force.abs() + 1e-9, "{quotient} {force}");
            }
        }
    }

    #[test]
    fn nothing_pushes_across_a_gap() {
        let fret = Obstacle {
            at_m: 0.03,
            gap_m: 1e-3,
            stiffness: 1e7,
        };
        assert_eq!(fret.force_n(-0.9e-3, 0.0, 1e-7), 0.0);
        assert!(fret.force_n(-1.1e-3, -0.9e-3, 1e-7) > 0.0);
    }
}
