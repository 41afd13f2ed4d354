//! The way over the neck on which the hand works least: an exact optimum by dynamic programming.

use super::hand::{HandWeights, Move};
use crate::fretboard::library::{HIGHEST_LISTED, voicings};
use crate::fretboard::{ChordName, Quality, Shape, Tuning, Voicing};
use crate::words;

/// Shapes and root strings that barre chords are learned on first (common practice): all that a
/// route uses where a chord has them.
const USUAL_SHAPES: [Shape; 2] = [Shape::E, Shape::A];
const USUAL_ROOT_STRINGS: [u8; 2] = [6, 5];

/// Shapes, strings and frets that a route may use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// The shapes known so far. `None`: the E and A shapes, and others for chords that have neither.
    pub shapes: Option<Vec<Shape>>,
    /// Strings (6 to 4) that the root may be on. `None`: 6 and 5, others where a chord has neither.
    pub root_strings: Option<Vec<u8>>,
    /// Highest fret at which a shape may stand (its lowest fret, that of the barre).
    pub highest_fret: u8,
    /// True where open chords may be used.
    pub open_chords: bool,
    /// Root and fifth alone, whatever the chords are.
    pub power_only: bool,
    /// The A shape's major form with the ring finger across strings 4 to 2, instead of with four fingers.
    pub ring_barre: bool,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            shapes: None,
            root_strings: None,
            highest_fret: HIGHEST_LISTED,
            open_chords: false,
            power_only: false,
            ring_barre: false,
        }
    }
}

/// Reason why there is no route.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RouteError {
    /// No chord to go to.
    #[error("{}", words::route::ONE_CHORD_AT_LEAST)]
    Empty,
    /// The library has nothing for the chord.
    #[error("{}", words::route::no_shape(chord))]
    Unknown {
        /// The chord as written.
        chord: ChordName,
    },
    /// The chord exists, but not within the limits.
    #[error("{}", words::route::not_within_limits(chord, hint))]
    Limits {
        /// The chord as written.
        chord: ChordName,
        /// Advice what to change, as the end of a sentence.
        hint: String,
    },
    /// A power chord would hold a note that is not the chord's.
    #[error("{}", words::route::no_fifth(chord))]
    NoFifth {
        /// The chord as written.
        chord: ChordName,
    },
}

/// One chord of a route.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteChord {
    /// Name of the chord as written.
    pub chord: ChordName,
    /// Voicing as it is played.
    pub voicing: Voicing,
}

/// The same progression with one shape alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OneShape {
    /// The shape that all chords are played in.
    pub shape: Shape,
    /// Frets that the hand travels in all.
    pub travel_frets: u32,
}

/// A way over the neck.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// One step for each chord, in order.
    pub steps: Vec<RouteChord>,
    /// True where the last chord leads back to the first.
    pub closed: bool,
    /// The one shape that gets through the progression with the least travel, within the same limits
    /// but for those on shapes and root strings; `None` where no shape has all chords.
    pub one_shape: Option<OneShape>,
}

impl Route {
    /// Each move: from the first step to the second, and so on; back to the first at the end where
    /// the route is closed.
    pub fn moves(&self) -> Vec<Move> {
        let voicings: Vec<&Voicing> = self.steps.iter().map(|step| &step.voicing).collect();
        moves(&voicings, self.closed)
    }

    /// Frets that the hand travels in all.
    pub fn travel_frets(&self) -> u32 {
        travel(&self.moves())
    }
}

fn moves(voicings: &[&Voicing], closed: bool) -> Vec<Move> {
    let back = (closed && voicings.len() > 1).then(|| (voicings[voicings.len() - 1], voicings[0]));
    let pairs = voicings.windows(2).map(|pair| (pair[0], pair[1]));
    pairs
        .chain(back)
        .map(|(from, to)| Move::between(from, to))
        .collect()
}

fn travel(moves: &[Move]) -> u32 {
    moves
        .iter()
        .map(|step| u32::from(step.travel_frets.unsigned_abs()))
        .sum()
}

/// Finds the route of least cost. `closed`: the progression is a loop, and the way back counts.
///
/// # Errors
/// [`RouteError`] where a chord cannot be played within the limits, and for no chords at all.
pub fn route(
    chords: &[ChordName],
    limits: &Limits,
    weights: &HandWeights,
    closed: bool,
    tuning: &Tuning,
) -> Result<Route, RouteError> {
    let mut known: Vec<(ChordName, Vec<Voicing>)> = Vec::new();
    for chord in chords {
        if known.iter().all(|(c, _)| c != chord) {
            known.push((*chord, limits.candidates(chord, tuning)?));
        }
    }
    let layers = layers(chords, &known);
    let (_, picks) = least(&layers, weights, closed).ok_or(RouteError::Empty)?;
    let steps = chords.iter().zip(picks.iter().zip(&layers));
    Ok(Route {
        steps: steps
            .map(|(chord, (&pick, layer))| RouteChord {
                chord: *chord,
                voicing: layer[pick].clone(),
            })
            .collect(),
        closed,
        one_shape: one_shape(chords, limits, closed, tuning),
    })
}

/// The candidates of each chord in turn.
fn layers<'a>(chords: &[ChordName], known: &'a [(ChordName, Vec<Voicing>)]) -> Vec<&'a [Voicing]> {
    let of = |chord: &ChordName| known.iter().find(|(c, _)| c == chord);
    (chords.iter())
        .filter_map(|chord| of(chord).map(|(_, voicings)| voicings.as_slice()))
        .collect()
}

/// The picks (one candidate of each layer) of least cost: the best way to each candidate of a layer
/// is the best over those of the layer before. For a loop this is done once for each beginning.
fn least(layers: &[&[Voicing]], weights: &HandWeights, closed: bool) -> Option<(f64, Vec<usize>)> {
    let first = layers.first()?;
    let edge = |from: &Voicing, to: &Voicing| weights.moving(&Move::between(from, to));
    // The first candidate alone is open where the route is a loop.
    let beginnings: Vec<Vec<usize>> = match closed {
        true => (0..first.len()).map(|begin| vec![begin]).collect(),
        false => vec![(0..first.len()).collect()],
    };
    let mut best: Option<(f64, Vec<usize>)> = None;
    for beginning in beginnings {
        let mut costs: Vec<f64> = (first.iter().enumerate())
            .map(|(i, v)| match beginning.contains(&i) {
                true => weights.holding(v),
                false => f64::INFINITY,
            })
            .collect();
        let mut came_from: Vec<Vec<usize>> = Vec::new();
        for pair in layers.windows(2) {
            let (mut next, mut from) = (Vec::new(), Vec::new());
            for to in pair[1] {
                let ways = pair[0]
                    .iter()
                    .zip(&costs)
                    .map(|(v, cost)| cost + edge(v, to));
                let (before, cost) = smallest(ways)?;
                next.push(cost + weights.holding(to));
                from.push(before);
            }
            costs = next;
            came_from.push(from);
        }
        if closed && layers.len() > 1 {
            let home = &first[beginning[0]];
            for (cost, last) in costs.iter_mut().zip(layers[layers.len() - 1]) {
                *cost += edge(last, home);
            }
        }
        let (mut pick, cost) = smallest(costs.iter().copied())?;
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            let mut picks = vec![pick];
            for from in came_from.iter().rev() {
                pick = from[pick];
                picks.push(pick);
            }
            picks.reverse();
            best = Some((cost, picks));
        }
    }
    best
}

/// The smallest with its index, the first of equals.
fn smallest(costs: impl Iterator<Item = f64>) -> Option<(usize, f64)> {
    costs.enumerate().min_by(|a, b| a.1.total_cmp(&b.1))
}

/// The best that can be done with one shape alone: least travel, any root string.
fn one_shape(
    chords: &[ChordName],
    limits: &Limits,
    closed: bool,
    tuning: &Tuning,
) -> Option<OneShape> {
    let travel_alone = HandWeights {
        travel: 1.0,
        shape_change: 0.0,
        finger_lifted: 0.0,
        stretch: 0.0,
        barre: 0.0,
        height: 0.0,
    };
    let with = |shape: Shape| {
        let alone = Limits {
            shapes: Some(vec![shape]),
            ..limits.clone()
        };
        let mut known: Vec<(ChordName, Vec<Voicing>)> = Vec::new();
        for chord in chords {
            if known.iter().all(|(c, _)| c != chord) {
                let mut voicings = alone.candidates(chord, tuning).ok()?;
                // Open chords of other shapes are no way to stay with this one.
                voicings.retain(|v| v.shape == Some(shape));
                known.push((*chord, voicings));
            }
        }
        let (cost, _) = least(&layers(chords, &known), &travel_alone, closed)?;
        Some(OneShape {
            shape,
            travel_frets: cost.round() as u32,
        })
    };
    let shapes = match &limits.shapes {
        Some(shapes) => shapes.clone(),
        None => USUAL_SHAPES.to_vec(),
    };
    (shapes.into_iter().filter_map(with)).min_by_key(|one| one.travel_frets)
}

impl Limits {
    /// The voicings of a chord within these limits, in order up the neck.
    fn candidates(&self, chord: &ChordName, tuning: &Tuning) -> Result<Vec<Voicing>, RouteError> {
        let played = match self.power_only {
            true => power(chord)?,
            false => *chord,
        };
        let mut all = voicings(&played, tuning);
        if all.is_empty() {
            return Err(RouteError::Unknown { chord: *chord });
        }
        // One voicing for each shape and place: the fullest, in the form that the hand prefers.
        all.sort_by_key(|v| (v.at, v.shape, std::cmp::Reverse(v.frets.sounding().count())));
        all.retain(|v| v.at <= self.highest_fret && (v.at > 0 || self.open_chords));
        if all.is_empty() {
            return Err(self.refused(chord, &played, tuning));
        }
        let allowed = |v: &&Voicing, shapes: &[Shape], roots: &[u8]| {
            // A chord over another bass has left its lowest strings out: its root may be anywhere.
            let root = roots.contains(&v.root_string) || played.bass.is_some();
            // An open chord that comes from no shape is allowed with open chords.
            root && v.shape.is_none_or(|shape| shapes.contains(&shape))
        };
        let every_root = [6, 5, 4, 3, 2, 1];
        // At the nut every chord is an open chord: shapes do not limit it.
        let at_nut = |v: &&Voicing| v.at == 0;
        let shapes = self.shapes.as_deref().unwrap_or(&USUAL_SHAPES);
        let roots = self.root_strings.as_deref().unwrap_or(&USUAL_ROOT_STRINGS);
        let open_roots = self.root_strings.as_deref().unwrap_or(&every_root);
        let pick = |shapes: &[Shape], roots: &[u8]| -> Vec<Voicing> {
            (all.iter())
                .filter(|v| {
                    allowed(v, shapes, roots) || at_nut(v) && allowed(v, &Shape::ALL, open_roots)
                })
                .cloned()
                .collect()
        };
        let mut fitting = pick(shapes, roots);
        if fitting.is_empty() {
            let more_shapes = self.shapes.as_deref().unwrap_or(&Shape::ALL);
            let more_roots = self.root_strings.as_deref().unwrap_or(&every_root);
            fitting = pick(more_shapes, more_roots);
        }
        if fitting.is_empty() {
            return Err(self.refused(chord, &played, tuning));
        }
        self.one_form_each(&mut fitting);
        Ok(fitting)
    }

    /// Keeps one voicing for each shape and place.
    fn one_form_each(&self, voicings: &mut Vec<Voicing>) {
        let mut kept: Vec<Voicing> = Vec::new();
        for voicing in voicings.drain(..) {
            let same = |v: &&mut Voicing| {
                v.shape.is_some() && (v.shape, v.at) == (voicing.shape, voicing.at)
            };
            match kept.iter_mut().find(same) {
                Some(other) => {
                    let same_frets = other.frets == voicing.frets;
                    if same_frets && self.ring_barre && voicing.may_go_quiet.is_some() {
                        *other = voicing;
                    }
                }
                None => kept.push(voicing),
            }
        }
        *voicings = kept;
    }

    fn refused(&self, chord: &ChordName, played: &ChordName, tuning: &Tuning) -> RouteError {
        let mut places: Vec<String> = voicings(played, tuning)
            .iter()
            .map(|v| words::route::shape_with_root(v.frets, v.describe(), v.root_string))
            .collect();
        places.dedup();
        RouteError::Limits {
            chord: *chord,
            hint: words::route::allow_one_of_these(places.join("; ")),
        }
    }
}

/// Root and fifth of a chord.
fn power(chord: &ChordName) -> Result<ChordName, RouteError> {
    let fifth = 7;
    if chord.quality.intervals().all(|interval| interval != fifth) {
        return Err(RouteError::NoFifth { chord: *chord });
    }
    Ok(ChordName {
        quality: Quality::Power,
        bass: None,
        ..*chord
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progression::Progression;
    use proptest::prelude::*;

    fn go(text: &str, limits: &Limits, closed: bool) -> Result<Route, RouteError> {
        let chords = Progression::read(text).unwrap().chords();
        route(
            &chords,
            limits,
            &HandWeights::default(),
            closed,
            &Tuning::default(),
        )
    }

    fn frets(route: &Route) -> Vec<String> {
        route
            .steps
            .iter()
            .map(|s| s.voicing.frets.to_string())
            .collect()
    }

    #[test]
    fn one_four_five_changes_the_string_and_then_goes_two_frets_up() {
        // Common practice: from the shape on string 6 to that on string 5 at the same fret, then up
        // two frets. In every key whose E shape lies on the neck with two frets to spare.
        let keys = [
            ("F Bb C", 1),
            ("F# B C#", 2),
            ("G C D", 3),
            ("Ab Db Eb", 4),
            ("A D E", 5),
            ("Bb Eb F", 6),
            ("B E F#", 7),
            ("C F G", 8),
            ("Db Gb Ab", 9),
            ("D G A", 10),
        ];
        for (text, fret) in keys {
            let route = go(text, &Limits::default(), false).unwrap();
            let places: Vec<_> = (route.steps.iter())
                .map(|s| (s.voicing.shape.unwrap(), s.voicing.at))
                .collect();
            let wanted = [(Shape::E, fret), (Shape::A, fret), (Shape::A, fret + 2)];
            assert_eq!(places, wanted, "{text}");
            assert_eq!(route.travel_frets(), 2);
        }
    }

    #[test]
    fn the_route_is_held_against_staying_with_one_shape() {
        let route = go("A D E", &Limits::default(), false).unwrap();
        assert_eq!(frets(&route), ["577655", "x57775", "x79997"]);
        let one = route.one_shape.unwrap();
        assert_eq!((one.shape, one.travel_frets), (Shape::E, 7));
        assert_eq!(
            go("Bdim7", &Limits::default(), false).unwrap().one_shape,
            None
        );
    }

    #[test]
    fn a_minor_second_degree_goes_from_string_five_to_string_five() {
        // ii-V-I on barre chords (common practice): Dm on string 5 at fret 5, G on string 6 at
        // fret 3 and C on string 5 at fret 3.
        let route = go("Dm G C", &Limits::default(), false).unwrap();
        assert_eq!(frets(&route), ["x57765", "355433", "x35553"]);
    }

    #[test]
    fn a_loop_counts_the_way_back() {
        let open = go("F Bb C", &Limits::default(), false).unwrap();
        let closed = go("F Bb C", &Limits::default(), true).unwrap();
        assert_eq!(open.travel_frets(), 2);
        assert_eq!(closed.travel_frets(), 4);
        assert_eq!(closed.moves().len(), 3);
        assert_eq!(go("F", &Limits::default(), true).unwrap().travel_frets(), 0);
    }

    #[test]
    fn limits_are_kept() {
        let only = |limits: Limits, text: &str| frets(&go(text, &limits, false).unwrap());
        let shapes = |shapes: &[Shape]| Limits {
            shapes: Some(shapes.to_vec()),
            ..Limits::default()
        };
        assert_eq!(only(shapes(&[Shape::E]), "F Bb"), ["133211", "688766"]);
        assert_eq!(only(shapes(&[Shape::A]), "C D"), ["x35553", "x57775"]);
        let sixth = Limits {
            root_strings: Some(vec![6]),
            ..Limits::default()
        };
        assert_eq!(only(sixth, "G C"), ["355433", "8 10 10 9 8 8"]);
        let open = Limits {
            open_chords: true,
            ..Limits::default()
        };
        assert_eq!(
            only(open, "C Am G D"),
            // G with the ring finger on string 2, where it stays for D.
            ["x32010", "x02210", "320033", "xx0232"]
        );
        let power = Limits {
            power_only: true,
            ..Limits::default()
        };
        assert_eq!(only(power, "F Bbm"), ["133xxx", "x133xx"]);
        let ring = Limits {
            ring_barre: true,
            ..Limits::default()
        };
        let route = go("C", &ring, false).unwrap();
        assert_eq!(route.steps[0].voicing.may_go_quiet, Some(1));
    }

    #[test]
    fn what_cannot_be_played_is_said_with_what_would_allow_it() {
        let error = |limits: Limits, text: &str| go(text, &limits, false).unwrap_err().to_string();
        let low = Limits {
            highest_fret: 2,
            ..Limits::default()
        };
        let said = error(low, "F C");
        assert!(
            said.starts_with("C cannot be played within these limits"),
            "{said}"
        );
        assert!(said.contains("x35553"), "{said}");
        let power = Limits {
            power_only: true,
            ..Limits::default()
        };
        assert!(error(power, "Bdim").contains("no perfect fifth"));
        let empty = route(
            &[],
            &Limits::default(),
            &HandWeights::default(),
            false,
            &Tuning::default(),
        );
        assert_eq!(empty, Err(RouteError::Empty));
    }

    /// Every way there is, tried one by one.
    fn brute_force(layers: &[Vec<Voicing>], weights: &HandWeights, closed: bool) -> f64 {
        let mut best = f64::INFINITY;
        let mut picks = vec![0; layers.len()];
        loop {
            let way: Vec<&Voicing> = picks.iter().zip(layers).map(|(&p, l)| &l[p]).collect();
            let held: f64 = way.iter().map(|v| weights.holding(v)).sum();
            let moved: f64 = moves(&way, closed).iter().map(|m| weights.moving(m)).sum();
            best = best.min(held + moved);
            let mut at = 0;
            while at < layers.len() {
                picks[at] += 1;
                if picks[at] < layers[at].len() {
                    break;
                }
                picks[at] = 0;
                at += 1;
            }
            if at == layers.len() {
                return best;
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn no_way_is_shorter_than_the_route(
            roots in prop::collection::vec((0u8..12, 0usize..8), 1..5),
            closed in any::<bool>(),
            open_chords in any::<bool>(),
            every_shape in any::<bool>(),
            values in prop::array::uniform6(0.0f64..3.0),
        ) {
            let mut weights = HandWeights::default();
            for ((_, weight), value) in weights.named().into_iter().zip(values) {
                *weight = value;
            }
            let limits = Limits {
                open_chords,
                shapes: every_shape.then(|| Shape::ALL.to_vec()),
                root_strings: every_shape.then(|| vec![6, 5, 4]),
                ..Limits::default()
            };
            let chords: Vec<ChordName> = (roots.iter())
                .map(|&(root, quality)| ChordName::on(root, Quality::ALL[quality]))
                .collect();
            let tuning = Tuning::default();
            let found = route(&chords, &limits, &weights, closed, &tuning).unwrap();
            let layers: Vec<Vec<Voicing>> = (chords.iter())
                .map(|chord| limits.candidates(chord, &tuning).unwrap())
                .collect();
            let least = brute_force(&layers, &weights, closed);
            let held: f64 = found.steps.iter().map(|s| weights.holding(&s.voicing)).sum();
            let moved: f64 = found.moves().iter().map(|m| weights.moving(m)).sum();
            let cost = held + moved;
            prop_assert!((cost - least).abs() < 1e-9, "{cost} {least}");
        }
    }
}
