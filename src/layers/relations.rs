//! Weight in listening of how two rows stand to each other: how far apart they lie in Hz, and how
//! they are akin.

use multiversion::multiversion;

use super::curves::asinh;

/// Rows of a table of distances.
pub const PLACES: usize = 17;
/// Where pairs lie that no distance is known of.
const NOWHERE: u8 = PLACES as u8;
/// No table has so many rows.
const MOST: usize = 32;
/// Places by kinships, by which a pair's cell is counted.
const CELLS: usize = MOST * MOST;

/// Distances that a table is for.
#[derive(Debug, Clone, Copy)]
pub struct Ruler {
    /// Distances well below this are told apart evenly, those above it by their ratio.
    pub unit_hz: f32,
    /// Places to a factor of e, far from 0.
    pub per_e: f32,
}

/// Distance and kinship of one row to another.
#[derive(Debug, Clone, Copy)]
pub struct RowPair {
    /// Row of the table of distances and kinship, as [`cell`] has them.
    cell: u16,
    /// How far on towards the next row of the table.
    part: f32,
}

/// Where what a place and a kinship count is found.
fn cell(place: u8, kinship: u8) -> u16 {
    u16::from(place) * MOST as u16 + u16::from(kinship)
}

/// Replaces `into` by how every row stands to every row, given where each lies in Hz (NaN: not known) and
/// which kinship one row has to another.
pub fn relate(
    ruler: Ruler,
    hz: &[f32],
    kinship: impl Fn(usize, usize) -> u8,
    into: &mut Vec<RowPair>,
) {
    into.clear();
    let mut places = vec![0.0; hz.len()];
    for (i, &own_hz) in hz.iter().enumerate() {
        put_places(ruler, own_hz, hz, &mut places);
        into.extend(hz.iter().zip(&places).enumerate().map(|(j, (hz, at))| {
            let known = !(own_hz.is_nan() || hz.is_nan());
            let place = (*at as usize).min(PLACES - 2);
            let (place, part) = match known {
                true => (place as u8, at - place as f32),
                false => (NOWHERE, 0.0),
            };
            RowPair {
                cell: cell(place, kinship(i, j)),
                part,
            }
        }));
    }
}

/// Where in the table of distances a row stands to each of others.
#[multiversion(targets("x86_64+avx2"))]
fn put_places(ruler: Ruler, own_hz: f32, others_hz: &[f32], into: &mut [f32]) {
    for (place, hz) in into.iter_mut().zip(others_hz) {
        let away = asinh((own_hz - hz) / ruler.unit_hz) * ruler.per_e;
        *place = (away + (PLACES / 2) as f32).clamp(0.0, (PLACES - 1) as f32);
    }
}

/// Weights of distances and kinships, each for all heads of all layers.
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
    ///
    /// # Panics
    /// When there are 32 kinships or more.
    pub fn new((layers, heads): (usize, usize), near: Vec<f32>, kin: Vec<f32>) -> Relations {
        assert!(kin.len() < MOST * (layers * heads).max(1));
        Relations {
            layers,
            heads,
            near,
            kin,
        }
    }

    /// Appends what `pairs` count for a head of a layer.
    pub fn put(&self, layer: usize, head: usize, pairs: &[RowPair], into: &mut Vec<f32>) {
        let column = |table: &[f32]| {
            let mut column = [0.0; MOST];
            let of_head = table.iter().skip(layer * self.heads + head);
            let of_head = of_head.step_by(self.layers * self.heads);
            (column.iter_mut().zip(of_head)).for_each(|(c, v)| *c = *v);
            column
        };
        let (near, kin) = (column(&self.near), column(&self.kin));
        // Start and slope of each stretch of the table, kinship added; lying nowhere counts nothing.
        let mut cells = [(0.0, 0.0); CELLS];
        let places = usize::from(NOWHERE) + 1;
        for (place, cells) in cells.chunks_exact_mut(MOST).take(places).enumerate() {
            let (start, slope) = match place < PLACES - 1 {
                true => (near[place], near[place + 1] - near[place]),
                false => (0.0, 0.0),
            };
            for (cell, kin) in cells.iter_mut().zip(kin) {
                *cell = (start + kin, slope);
            }
        }
        into.extend(pairs.iter().map(|pair| {
            let (start, slope) = cells[usize::from(pair.cell) % CELLS];
            start + slope * pair.part
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
        let (mut pairs, mut counts) = (Vec::new(), Vec::new());
        let hz = [100.0, 102.0, 1e6, f32::NAN];
        relate(RULER, &hz, |i, j| u8::from(i > j), &mut pairs);
        relations.put(0, 0, &pairs, &mut counts);
        let off = 1.5 * 1f32.asinh();
        let expected = [
            [8.0, 8.0 - off, 0.0, 0.0],
            [108.0 + off, 8.0, 0.0, 0.0],
            [116.0, 116.0, 8.0, 0.0],
            [100.0, 100.0, 100.0, 0.0],
        ];
        for (count, expected) in counts.iter().zip(expected.as_flattened()) {
            assert!((count - expected).abs() < 1e-4, "{counts:?}");
        }
    }

    #[test]
    fn every_head_of_every_layer_has_its_own_numbers() {
        let kin = (0..2 * 6).map(|n| n as f32).collect();
        let relations = Relations::new((3, 2), vec![0.0; PLACES * 6], kin);
        let (mut pairs, mut counts) = (Vec::new(), Vec::new());
        relate(RULER, &[f32::NAN; 2], |i, j| (i + j) as u8 / 2, &mut pairs);
        for head in 0..2 {
            relations.put(2, head, &pairs, &mut counts);
        }
        assert_eq!(counts, [4.0, 4.0, 4.0, 10.0, 5.0, 5.0, 5.0, 11.0]);
    }
}
