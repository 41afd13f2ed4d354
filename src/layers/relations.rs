//! What it counts for listening how two rows stand to each other: how far apart they lie in Hz, and how
//! they are akin.

use super::curves::asinh;

/// Rows of a table of distances.
pub const PLACES: usize = 17;
/// Where pairs lie that no distance is known of.
const NOWHERE: u8 = PLACES as u8;

/// Which distances a table is for.
#[derive(Debug, Clone, Copy)]
pub struct Ruler {
    /// Distances well below this are told apart evenly, those above it by their ratio.
    pub unit_hz: f32,
    /// Places to a factor of e, far from 0.
    pub per_e: f32,
}

/// How one row stands to another.
#[derive(Debug, Clone, Copy)]
pub struct Pair {
    /// Row of the table of distances, and how far on towards the next one.
    place: u8,
    part: f32,
    kinship: u8,
}

impl Pair {
    /// Of rows that no distance is known of.
    pub fn akin(kinship: u8) -> Pair {
        Pair {
            place: NOWHERE,
            part: 0.0,
            kinship,
        }
    }

    /// Of rows that lie `apart_hz` from each other.
    pub fn apart(ruler: Ruler, apart_hz: f32, kinship: u8) -> Pair {
        let at = asinh(apart_hz / ruler.unit_hz) * ruler.per_e + (PLACES / 2) as f32;
        let at = at.clamp(0.0, (PLACES - 1) as f32);
        let place = (at as usize).min(PLACES - 2);
        Pair {
            place: place as u8,
            part: at - place as f32,
            kinship,
        }
    }
}

/// What distances and kinships count, each for all heads of all layers.
#[derive(Debug, Clone)]
pub struct Relations {
    layers: usize,
    heads: usize,
    /// Place by place, then layer by layer and head by head.
    near: Vec<f32>,
    /// Kinship by kinship, then likewise.
    kin: Vec<f32>,
}

impl Relations {
    /// `near` and `kin` hold `layers` times `heads` numbers for each place and each kinship.
    pub fn new((layers, heads): (usize, usize), near: Vec<f32>, kin: Vec<f32>) -> Relations {
        Relations {
            layers,
            heads,
            near,
            kin,
        }
    }

    /// Appends what `pairs` count for a head of a layer.
    pub fn put(&self, layer: usize, head: usize, pairs: &[Pair], into: &mut Vec<f32>) {
        let column = |table: &[f32]| -> Vec<f32> {
            let of_head = table.iter().skip(layer * self.heads + head);
            of_head.step_by(self.layers * self.heads).copied().collect()
        };
        let (near, kin) = (column(&self.near), column(&self.kin));
        // Start and slope of each stretch of the table; what lies nowhere counts nothing.
        let mut stretches = [(0.0, 0.0); NOWHERE as usize + 1];
        for (stretch, ends) in stretches.iter_mut().zip(near.windows(2)) {
            *stretch = (ends[0], ends[1] - ends[0]);
        }
        into.extend(pairs.iter().map(|pair| {
            let (start, slope) = stretches[usize::from(pair.place)];
            start + slope * pair.part + kin[usize::from(pair.kinship)]
        }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULER: Ruler = Ruler {
        unit_hz: 2.0,
        per_e: 1.5,
    };

    #[test]
    fn distances_are_read_between_the_rows_of_the_table_and_beyond_its_ends_as_there() {
        // One head of one layer: the table counts up from row to row, so that it tells the place.
        let near = (0..PLACES).map(|p| p as f32).collect();
        let relations = Relations::new((1, 1), near, vec![0.0, 100.0]);
        let pairs = [
            Pair::apart(RULER, 0.0, 0),
            Pair::apart(RULER, 2.0, 1),
            Pair::apart(RULER, -2.0, 0),
            Pair::apart(RULER, 1e6, 0),
            Pair::apart(RULER, -1e6, 0),
            Pair::akin(1),
        ];
        let mut counts = Vec::new();
        relations.put(0, 0, &pairs, &mut counts);
        let off = 1.5 * 1f32.asinh();
        let expected = [8.0, 108.0 + off, 8.0 - off, 16.0, 0.0, 100.0];
        for (count, expected) in counts.iter().zip(expected) {
            assert!((count - expected).abs() < 1e-4, "{counts:?}");
        }
    }

    #[test]
    fn every_head_of_every_layer_has_its_own_numbers() {
        let kin = (0..2 * 6).map(|n| n as f32).collect();
        let relations = Relations::new((3, 2), vec![0.0; PLACES * 6], kin);
        let mut counts = Vec::new();
        for head in 0..2 {
            relations.put(2, head, &[Pair::akin(0), Pair::akin(1)], &mut counts);
        }
        assert_eq!(counts, [4.0, 10.0, 5.0, 11.0]);
    }
}
