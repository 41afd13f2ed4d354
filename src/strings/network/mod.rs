//! The trained network: what became of every note, from all their partials together.
//!
//! Each partial's amplitudes become a row of numbers; in a few rounds every partial listens to those of
//! the expected notes, most to those near it in frequency, and to its own note's. What a note's partials
//! have become is put together, the notes listen to each other, and each says what became of it.
//!
//! The network is a transformer of 540,000 weights (attention; Vaswani and others, 2017). In four rounds every
//! partial attends to all others. Trained weights depend on how many hertz lie between two partials, so that
//! octaves find each other, and on whether they are of one note or one string. In two more rounds the notes attend
//! to each other. Each expected note gets four probabilities (rings, choked, gone, another fret) and the moment of
//! its stroke. Each other note gets the probability that it sounds.

use super::partials::{self, Seen, SeenNote};
use crate::fretboard::STRINGS;
use crate::layers::{
    AttentionPool, Embed, Heeded, Layer, LayerScratch, Linear, NetworkError, PLACES, Relations,
    RowPair, Ruler, Weights, add, joined, relate, to_shares, trained,
};

/// Fate of an expected note, in the order of the network's scores.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoteOutcome {
    /// Rings on.
    Rings,
    /// Sounds, but dies early.
    Choked,
    /// No sound.
    Gone,
    /// Rings at another fret instead.
    OtherFret,
}

/// Number of outcomes.
pub const OUTCOMES: usize = 4;

const FRETS: usize = 26;
const DISTANCES: usize = 51;
/// The table of distances between partials.
const RULER: Ruler = Ruler {
    unit_hz: 1.0,
    per_e: 1.5,
};
const NOTE_LAYERS: usize = 2;
/// More seconds than this after the last onset count as this many, and what seconds from the first onset to the
/// last are multiplied by: as the network was trained.
const LONGEST_S: f32 = 1.5;
const SPREAD: f32 = 5.0;
/// Numbers that are learnt beside what became of a string, and what seconds of the first are multiplied by.
const BESIDE: usize = 3;
const ONSET: f32 = 10.0;

/// Layout of the weights, and what they are fitted by.
pub const LAYOUT: &str = "strings";
/// See [`LAYOUT`].
pub const CONSTANTS: &[(&str, f32)] = &joined::<_, _, 27>(
    [
        ("strings", STRINGS as f32),
        ("frets", FRETS as f32),
        ("distances", DISTANCES as f32),
        ("places", PLACES as f32),
        ("unit_hz", RULER.unit_hz),
        ("places_per_e", RULER.per_e),
        ("note_layers", NOTE_LAYERS as f32),
        ("outcomes", OUTCOMES as f32),
        ("beside", BESIDE as f32),
        ("longest_s", LONGEST_S),
        ("spread_factor", SPREAD),
        ("onset_factor", ONSET),
    ],
    partials::CONSTANTS,
);

/// Weights that `scripts/train` has fitted.
#[derive(Debug, Clone)]
pub struct Network {
    width: usize,
    embed: Embed,
    kinds: Vec<f32>,
    frets: Vec<f32>,
    strings: Vec<f32>,
    distances: Vec<f32>,
    whole: Linear,
    layers: Vec<Layer>,
    /// Kinship 0: of one note; 1: of one string; 2: neither.
    relations: Relations,
    pool: AttentionPool,
    notes: Vec<Layer>,
    outcome: Linear,
    sounds: Linear,
    /// What else is known of a string: when it is struck, its level, how fast it dies.
    beside: Linear,
}

/// Buffers for one strum, used again for the next.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    inputs: Vec<f32>,
    rows: Vec<f32>,
    wide: Vec<f32>,
    pairs: Vec<RowPair>,
    layer: LayerScratch,
}

/// Scores of a note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoteProbabilities {
    /// Probability of each [`NoteOutcome`] of an expected one, and when its string is struck, in seconds after the
    /// first onset that was heard.
    Expected {
        /// Probability of each [`NoteOutcome`], 0 to 1.
        outcomes: [f32; OUTCOMES],
        /// Moment at which its string is struck, in seconds after the first onset that was heard.
        onset_s: f32,
    },
    /// Probability that another one sounds.
    Other(f32),
}

impl Network {
    /// The network for strums that is built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn of_strums() -> Network {
        Network::read(trained::STRUMS).expect("the built-in networks are checked by a test")
    }

    /// The network for the strokes of picked passes that is built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn of_strokes() -> Network {
        Network::read(trained::STROKES).expect("the built-in networks are checked by a test")
    }

    /// Reads a network's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let mut from = Weights::of(bytes, LAYOUT, CONSTANTS)?;
        let [width, heads, layers] = [
            from.size("size")?,
            from.size("heads")?,
            from.size("layers")?,
        ];
        let network = Network {
            width,
            embed: Embed::read(&mut from, "embed", partials::WIDTH, width)?,
            kinds: from.take("kinds.weight", &[2, width])?,
            frets: from.take("frets.weight", &[FRETS, width])?,
            strings: from.take("strings.weight", &[STRINGS, width])?,
            distances: from.take("distances.weight", &[DISTANCES, width])?,
            whole: Linear::read(&mut from, "whole", 2, width)?,
            layers: Layer::read_each(&mut from, "layers", layers, width, heads)?,
            relations: relations(&mut from, (layers, heads))?,
            pool: AttentionPool::read(&mut from, "pool", width, heads)?,
            notes: Layer::read_each(&mut from, "notes", NOTE_LAYERS, width, heads)?,
            outcome: Linear::read(&mut from, "outcome", width, OUTCOMES)?,
            sounds: Linear::read(&mut from, "sounds", width, 1)?,
            beside: Linear::read(&mut from, "beside", width, BESIDE)?,
        };
        from.end()?;
        Ok(network)
    }

    /// Gives what became of each note of `seen`.
    pub fn hear(&self, seen: &Seen, scratch: &mut Scratch) -> Vec<NoteProbabilities> {
        let width = self.width;
        let notes = &seen.notes;
        let places = self.places(seen);
        let Scratch {
            inputs,
            rows,
            wide,
            pairs,
            layer: scratch,
        } = scratch;

        inputs.clear();
        notes.iter().for_each(|n| inputs.extend(&n.rows));
        rows.clear();
        self.embed.append(inputs, wide, rows);
        let mut left = &mut rows[..];
        for (note, place) in notes.iter().zip(places.chunks_exact(width)) {
            let (own, rest) = left.split_at_mut(note.hz.len() * width);
            own.chunks_exact_mut(width).for_each(|row| add(row, place));
            left = rest;
        }
        put_pairs(notes, pairs);
        for (number, layer) in self.layers.iter().enumerate() {
            let heeded = Heeded::Related {
                relations: &self.relations,
                layer: number,
                pairs,
            };
            layer.run(rows, heeded, scratch);
        }

        let (mut left, mut whole) = (&rows[..], places);
        for (note, onto) in notes.iter().zip(whole.chunks_exact_mut(width)) {
            let (own, rest) = left.split_at(note.hz.len() * width);
            self.pool.run_onto(own, onto, scratch);
            left = rest;
        }
        for layer in &self.notes {
            layer.run(&mut whole, Heeded::Alike, scratch);
        }
        let mut said = Vec::new();
        notes
            .iter()
            .zip(whole.chunks_exact(width))
            .map(|(note, row)| {
                if note.instead_of.is_none() {
                    self.outcome.run(row, &mut said);
                    to_shares(&mut said);
                    let outcomes = std::array::from_fn(|i| said[i]);
                    self.beside.run(row, &mut said);
                    NoteProbabilities::Expected {
                        outcomes,
                        onset_s: said[0] / ONSET,
                    }
                } else {
                    self.sounds.run(row, &mut said);
                    NoteProbabilities::Other(1.0 / (1.0 + (-said[0]).exp()))
                }
            })
            .collect()
    }

    /// What each note's place on the fretboard says, and the strum as a whole.
    fn places(&self, seen: &Seen) -> Vec<f32> {
        let width = self.width;
        let mut whole = Vec::new();
        let lengths = [seen.available_s.min(LONGEST_S), SPREAD * seen.spread_s];
        self.whole.run(&lengths, &mut whole);
        let mut places = Vec::with_capacity(seen.notes.len() * width);
        for note in &seen.notes {
            let start = places.len();
            places.extend_from_slice(&whole);
            let mut put = |table: &[f32], at: usize| {
                add(&mut places[start..], &table[at * width..(at + 1) * width]);
            };
            put(&self.frets, usize::from(note.fret).min(FRETS - 1));
            put(&self.strings, note.string);
            put(&self.kinds, usize::from(note.instead_of.is_some()));
            if let Some(expected) = note.instead_of {
                let away = i32::from(note.fret) - i32::from(expected.unwrap_or(0));
                let middle = DISTANCES as i32 / 2;
                put(
                    &self.distances,
                    (away.clamp(-middle, middle) + middle) as usize,
                );
            }
        }
        places
    }
}

/// Reads what distances count, and being of one note and of one string, which the file holds side by side.
fn relations(from: &mut Weights, shape: (usize, usize)) -> Result<Relations, NetworkError> {
    let all = shape.0 * shape.1;
    let near = from.take("near", &[PLACES, all])?;
    let mut kin = from.take("same", &[2, all])?;
    let (note, string) = kin.split_at_mut(all);
    add(note, string);
    kin.resize(3 * all, 0.0);
    Ok(Relations::new(shape, near, kin))
}

/// How every partial stands to every partial.
fn put_pairs(notes: &[SeenNote], pairs: &mut Vec<RowPair>) {
    let hz: Vec<f32> = notes.iter().flat_map(|n| n.hz.iter().copied()).collect();
    let of: Vec<(usize, usize)> = (notes.iter().enumerate())
        .flat_map(|(k, n)| n.hz.iter().map(move |_| (k, n.string)))
        .collect();
    let kinship = |i: usize, j: usize| {
        let ((note, string), (other, other_string)) = (of[i], of[j]);
        u8::from(note != other) + u8::from(string != other_string)
    };
    relate(RULER, &hz, kinship, pairs);
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::*;
    use crate::fretboard::MOST_BESIDE;
    use crate::layers::testing::{far_off, golden, refuses_what_is_damaged};
    use crate::strings::partials::{MOST_EXPECTED, MOST_OTHER, MOST_ROWS, WIDTH};

    /// Probabilities and seconds are at most so far from PyTorch's. Measured: 6e-8; other processors round otherwise.
    const NEAR: f32 = 1e-5;

    /// What a row of a table has seen: the expected notes, then all others; each with its place in the row.
    fn seen_of(row: &HashMap<String, Vec<f32>>) -> (Seen, Vec<(usize, usize)>) {
        let note = |string: usize, k: usize| {
            &row["seen.notes"][2 * ((1 + MOST_BESIDE) * string + k)..][..2]
        };
        let is_there = |string: usize, k: usize| note(string, k)[1] != -1.0;
        let expected = (0..STRINGS).map(|string| (string, 0));
        let others = (0..STRINGS).flat_map(|string| (1..=MOST_BESIDE).map(move |k| (string, k)));
        let places: Vec<_> = expected
            .chain(others)
            .filter(|&(s, k)| is_there(s, k))
            .collect();
        let notes = places.iter().map(|&(string, k)| {
            let from = if k == 0 {
                0
            } else {
                MOST_EXPECTED + (k - 1) * MOST_OTHER
            };
            let most = if k == 0 { MOST_EXPECTED } else { MOST_OTHER };
            let partials = &row["seen.partials"][(1 + WIDTH) * (MOST_ROWS * string + from)..];
            let partials = partials.chunks_exact(1 + WIDTH).take(most);
            let heard: Vec<&[f32]> = partials.filter(|partial| partial[0] > 0.0).collect();
            let meant = is_there(string, 0).then(|| note(string, 0)[0] as u8);
            SeenNote {
                string,
                fret: note(string, k)[0] as u8,
                instead_of: (k > 0).then_some(meant),
                hz: heard.iter().map(|partial| partial[0]).collect(),
                rows: heard
                    .iter()
                    .flat_map(|partial| &partial[1..])
                    .copied()
                    .collect(),
            }
        });
        let seen = Seen {
            notes: notes.collect(),
            available_s: row["seen.available_s"][0],
            spread_s: row["seen.spread_s"][0],
        };
        (seen, places)
    }

    #[test]
    fn what_is_said_of_notes_is_what_pytorch_says() {
        for (name, network) in [
            ("strums", Network::of_strums()),
            ("strokes", Network::of_strokes()),
        ] {
            let golden = golden(name);
            let (seen, places) = seen_of(&golden);
            assert!(seen.notes.len() > 20, "{name}");
            let said = network.hear(&seen, &mut Scratch::default());
            for ((string, k), said) in places.into_iter().zip(said) {
                let off = match said {
                    NoteProbabilities::Expected { outcomes, onset_s } => {
                        let wanted = &golden["outcomes"][OUTCOMES * string..][..OUTCOMES];
                        far_off(&outcomes, wanted, NEAR).or(far_off(
                            &[onset_s],
                            &golden["onset_s"][string..=string],
                            NEAR,
                        ))
                    }
                    NoteProbabilities::Other(sounds) => {
                        let place = MOST_BESIDE * string + k - 1;
                        far_off(&[sounds], &golden["sounds"][place..=place], NEAR)
                    }
                };
                assert_eq!(off, None, "{name}: string {string}, note {k}");
            }
        }
    }

    /// A note whose partials all say the same.
    fn note(string: usize, fret: u8, instead_of: Option<Option<u8>>, partials: usize) -> SeenNote {
        SeenNote {
            string,
            fret,
            instead_of,
            hz: (1..=partials).map(|n| 110.0 * n as f32).collect(),
            rows: vec![0.1; partials * partials::WIDTH],
        }
    }

    fn seen(notes: Vec<SeenNote>) -> Seen {
        Seen {
            notes,
            available_s: 1.2,
            spread_s: 0.05,
        }
    }

    #[test]
    fn a_damaged_network_is_refused() {
        for bytes in [trained::STRUMS, trained::STROKES] {
            refuses_what_is_damaged(bytes, CONSTANTS, Network::read);
        }
    }

    #[test]
    fn every_note_is_answered_in_its_own_way() {
        let network = Network::of_strums();
        let seen = seen(vec![
            note(1, 3, None, 12),
            note(2, 2, None, 1),
            note(0, 0, Some(None), 8),
            note(1, 2, Some(Some(3)), 8),
        ]);
        let said = network.hear(&seen, &mut Scratch::default());
        assert_eq!(said.len(), 4);
        for (note, said) in seen.notes.iter().zip(said) {
            match said {
                NoteProbabilities::Expected { outcomes, onset_s } => {
                    assert!(note.instead_of.is_none());
                    assert!(onset_s.is_finite());
                    assert!((outcomes.iter().sum::<f32>() - 1.0).abs() < 1e-5);
                }
                NoteProbabilities::Other(sounds) => {
                    assert!(note.instead_of.is_some());
                    assert!((0.0..=1.0).contains(&sounds));
                }
            }
        }
    }

    #[test]
    fn what_was_heard_before_leaves_nothing_behind() {
        let network = Network::of_strums();
        let (small, large) = (
            seen(vec![note(3, 0, None, 5)]),
            seen((0..6).map(|s| note(s, 1, None, 16)).collect()),
        );
        let mut scratch = Scratch::default();
        let alone = network.hear(&small, &mut scratch);
        network.hear(&large, &mut scratch);
        assert_eq!(network.hear(&small, &mut scratch), alone);
    }

    #[test]
    fn nothing_to_hear_is_no_mishap() {
        let said = Network::of_strums().hear(&seen(Vec::new()), &mut Scratch::default());
        assert!(said.is_empty());
    }
}
