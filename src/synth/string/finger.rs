//! Fretting finger: it presses fully, half, or only touches.

use super::{Contact, Flesh, Loss, Obstacle, Spec};

/// Way in which a string is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finger {
    /// Down on the fret, or no finger at all: the string ends at the fret or the nut.
    Pressed,
    /// Half down: the string ends at the flesh a little behind the fret, and the fret stands in its way.
    Half {
        /// Distance behind the fret, in metres.
        behind_m: f64,
        /// Clearance over the fret, in metres.
        gap_m: f64,
        /// Loss in the flesh, in dB per second.
        flesh_db_s: f64,
    },
    /// Only touching: the whole string, with flesh on it at the fret.
    Touching {
        /// Force per speed, in N s/m.
        resistance: f64,
    },
}

/// A string that is held, ready to be plucked: its vibrating part and what touches it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldString {
    /// The part of the string that vibrates.
    pub spec: Spec,
    /// Things that touch it, and where.
    pub contacts: Vec<Contact>,
}

/// How much of the string a fingertip covers in metres: from memory.
const FINGERTIP_M: f64 = 0.012;
/// A touching finger damps at this many places, so that no mode escapes between them.
const PLACES: usize = 3;
/// Hardness of a fret, the string's own winding and skin included; see [`Obstacle::stiffness`]. Soft
/// enough to be followed at the step used, hard enough that 2 N dent it by less than a tenth of a
/// millimetre. A choice.
pub const FRET_STIFFNESS: f64 = 3e6;

impl HeldString {
    /// Holds `open` (the open string) at `fret` with `finger`. `loss` is the stopped string's own.
    pub fn new(open: &Spec, fret: u8, finger: Finger, loss: Loss) -> Self {
        let share = 2f64.powf(-f64::from(fret) / 12.0);
        let stopped = |length_m: f64| {
            let ratio = open.length_m / length_m;
            // The same tension on less string: pitch rises as 1/L, stiffness as 1/L².
            Spec {
                length_m,
                f1_hz: open.f1_hz * ratio,
                b: open.b * ratio * ratio,
                loss,
                ..*open
            }
        };
        let length_m = open.length_m * share;
        match finger {
            Finger::Pressed => HeldString {
                spec: stopped(length_m),
                contacts: Vec::new(),
            },
            Finger::Half {
                behind_m,
                gap_m,
                flesh_db_s,
            } => {
                let mut spec = stopped(length_m + behind_m);
                spec.loss.db_s += flesh_db_s;
                HeldString {
                    spec,
                    contacts: vec![Contact::Fret(Obstacle {
                        at_m: behind_m,
                        gap_m,
                        stiffness: FRET_STIFFNESS,
                    })],
                }
            }
            Finger::Touching { resistance } => {
                // On an open string the finger lies a little way up.
                let middle_m = (open.length_m - length_m).max(FINGERTIP_M);
                let contacts = (0..PLACES).map(|i| {
                    let off = (i as f64 + 0.5) / PLACES as f64 - 0.5;
                    Contact::Flesh(Flesh {
                        at_m: middle_m + off * FINGERTIP_M,
                        width_m: FINGERTIP_M / PLACES as f64,
                        resistance: resistance / PLACES as f64,
                    })
                });
                HeldString {
                    spec: Spec { loss, ..*open },
                    contacts: contacts.collect(),
                }
            }
        }
    }

    /// Puts a further fret in the string's way, `frets_up` above the stopped one, `gap_m` below it.
    pub fn over(mut self, frets_up: u8, gap_m: f64) -> Self {
        let from_end = 1.0 - 2f64.powf(-f64::from(frets_up) / 12.0);
        self.contacts.push(Contact::Fret(Obstacle {
            at_m: self.spec.length_m * from_end,
            gap_m,
            stiffness: FRET_STIFFNESS,
        }));
        self
    }
}
