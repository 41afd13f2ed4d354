//! The trained network: what became of every note, from all their partials together.
//!
//! Each partial's amplitudes become a row of numbers; in a few rounds every partial listens to those of
//! the expected notes, most to those near it in frequency, and to its own note's. What a note's partials
//! have become is put together, the notes listen to each other, and each says what became of it.

mod file;
mod layers;

pub use file::NetworkError;
use file::Numbers;
use layers::{Heeded, Layer, LayerScratch, Linear, gelu, to_shares};

use std::sync::LazyLock;

use super::partials::{self, Seen, SeenNote};
use crate::fretboard::STRINGS;

/// What became of an expected note, in the order of the network's scores.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    Rings,
    Choked,
    Gone,
    OtherFret,
}

/// Number of outcomes.
pub const OUTCOMES: usize = 4;

const FRETS: usize = 26;
const DISTANCES: usize = 51;
/// Rows of the table of distances in Hz, and how many there are to a factor of e, far from 0.
const PLACES: usize = 17;
const PLACES_PER_E: f32 = 1.5;
const NOTE_LAYERS: usize = 2;
/// More seconds than this after the last onset count as this many, and what seconds from the first onset to the
/// last are multiplied by: as the network was trained.
const LONGEST_S: f32 = 1.5;
const SPREAD: f32 = 5.0;

/// The network built into the program.
const BUILT_IN: &[u8] = include_bytes!("network.bin");

/// What `scripts/train` has fitted.
#[derive(Debug, Clone)]
pub struct Network {
    width: usize,
    heads: usize,
    embed: [Linear; 2],
    kinds: Vec<f32>,
    frets: Vec<f32>,
    strings: Vec<f32>,
    distances: Vec<f32>,
    whole: Linear,
    layers: Vec<Layer>,
    /// Place by place, then layer by layer and head by head.
    near: Vec<f32>,
    /// What being of one note counts, then of one string; each layer by layer and head by head.
    same: Vec<f32>,
    gather: Linear,
    mix: Linear,
    notes: Vec<Layer>,
    outcome: Linear,
    sounds: Linear,
}

/// Room for one strum.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    inputs: Vec<f32>,
    rows: Vec<f32>,
    wide: Vec<f32>,
    biases: Vec<f32>,
    layer: LayerScratch,
}

/// What is said of a note: how probable each [`Outcome`] of an expected one is, or that another one sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Said {
    Expected([f32; OUTCOMES]),
    Other(f32),
}

impl Network {
    /// The network built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn built_in() -> Network {
        Network::read(BUILT_IN).expect("the built-in network is checked by a test")
    }

    /// Tells the built-in network from earlier and later ones: eight hexadecimal digits, of the FNV-1a
    /// sum over its bytes (Fowler, Noll, Vo; constants from memory).
    pub fn built_in_id() -> String {
        static SUM: LazyLock<u32> = LazyLock::new(|| {
            BUILT_IN.iter().fold(0x811c_9dc5, |sum, &byte| {
                (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193)
            })
        });
        format!("{:08x}", *SUM)
    }

    /// Reads a network's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let (head, rest) = bytes
            .split_first_chunk::<8>()
            .ok_or(NetworkError("it is too short"))?;
        let [b'R', b'T', b'N', b'1', width, heads, layers, inputs] = *head else {
            return Err(NetworkError("it does not begin with RTN1"));
        };
        let [width, heads, layers, inputs] = [width, heads, layers, inputs].map(usize::from);
        if inputs != partials::WIDTH || heads == 0 || width % heads != 0 {
            return Err(NetworkError("it takes in other numbers"));
        }
        let mut from = Numbers(rest);
        let network = Network {
            width,
            heads,
            embed: [
                Linear::read(&mut from, inputs, 2 * width)?,
                Linear::read(&mut from, 2 * width, width)?,
            ],
            kinds: from.take(2 * width)?,
            frets: from.take(FRETS * width)?,
            strings: from.take(STRINGS * width)?,
            distances: from.take(DISTANCES * width)?,
            whole: Linear::read(&mut from, 2, width)?,
            layers: (0..layers)
                .map(|_| Layer::read(&mut from, width, heads))
                .collect::<Result<_, _>>()?,
            near: from.take(PLACES * layers * heads)?,
            same: from.take(2 * layers * heads)?,
            gather: Linear::read(&mut from, width, heads)?,
            mix: Linear::read(&mut from, heads * width, width)?,
            notes: (0..NOTE_LAYERS)
                .map(|_| Layer::read(&mut from, width, heads))
                .collect::<Result<_, _>>()?,
            outcome: Linear::read(&mut from, width, OUTCOMES)?,
            sounds: Linear::read(&mut from, width, 1)?,
        };
        if from.0.is_empty() {
            Ok(network)
        } else {
            Err(NetworkError("bytes are left over"))
        }
    }

    /// What became of each note of `seen`.
    pub fn hear(&self, seen: &Seen, scratch: &mut Scratch) -> Vec<Said> {
        let width = self.width;
        let notes = &seen.notes;
        let places = self.places(seen);
        let Scratch {
            inputs,
            rows,
            wide,
            biases,
            layer: room,
        } = scratch;

        inputs.clear();
        notes.iter().for_each(|n| inputs.extend(&n.rows));
        self.embed[0].run(inputs, wide);
        wide.iter_mut().for_each(gelu);
        self.embed[1].run(wide, rows);
        let mut left = &mut rows[..];
        for (note, place) in notes.iter().zip(places.chunks_exact(width)) {
            let (own, rest) = left.split_at_mut(note.hz.len() * width);
            own.chunks_exact_mut(width).for_each(|row| add(row, place));
            left = rest;
        }
        let offsets = offsets(notes);
        for (number, layer) in self.layers.iter().enumerate() {
            self.put_biases(number, &offsets, biases);
            let heeded = Heeded {
                count: rows.len() / width,
                biases,
            };
            layer.run(rows, &heeded, room);
        }

        let gathered = self.gathered(notes, rows);
        let mut rows = places;
        self.mix.run_onto(&gathered, &mut rows);
        biases.clear();
        biases.resize(self.heads * notes.len() * notes.len(), 0.0);
        let heeded = Heeded {
            count: notes.len(),
            biases,
        };
        for layer in &self.notes {
            layer.run(&mut rows, &heeded, room);
        }
        let mut said = Vec::new();
        notes
            .iter()
            .zip(rows.chunks_exact(width))
            .map(|(note, row)| {
                if note.instead_of.is_none() {
                    self.outcome.run(row, &mut said);
                    to_shares(&mut said);
                    Said::Expected(std::array::from_fn(|i| said[i]))
                } else {
                    self.sounds.run(row, &mut said);
                    Said::Other(1.0 / (1.0 + (-said[0]).exp()))
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

    /// What the partials of each note have become, put together once for each head.
    fn gathered(&self, notes: &[SeenNote], mut rows: &[f32]) -> Vec<f32> {
        let width = self.width;
        let mut gathered = vec![0.0; notes.len() * self.heads * width];
        let (mut scores, mut shares) = (Vec::new(), Vec::new());
        for (note, into) in notes
            .iter()
            .zip(gathered.chunks_exact_mut(self.heads * width))
        {
            let (own, rest) = rows.split_at(note.hz.len() * width);
            rows = rest;
            self.gather.run(own, &mut scores);
            for (head, into) in into.chunks_exact_mut(width).enumerate() {
                shares.clear();
                shares.extend(scores.iter().skip(head).step_by(self.heads));
                to_shares(&mut shares);
                for (row, share) in own.chunks_exact(width).zip(&shares) {
                    into.iter_mut().zip(row).for_each(|(g, x)| *g += share * x);
                }
            }
        }
        gathered
    }

    /// What two partials' distance counts for each head of a layer, and whether note or string are the same.
    fn put_biases(&self, layer: usize, offsets: &[Offset], into: &mut Vec<f32>) {
        let all = self.layers.len() * self.heads;
        into.clear();
        for head in 0..self.heads {
            let at = layer * self.heads + head;
            let near: [f32; PLACES] = std::array::from_fn(|p| self.near[p * all + at]);
            let (note, string) = (self.same[at], self.same[all + at]);
            let same = [note + string, string, 0.0];
            into.extend(offsets.iter().map(|offset| {
                let place = usize::from(offset.place);
                let step = near[place + 1] - near[place];
                near[place] + step * offset.part + same[usize::from(offset.kinship)]
            }));
        }
    }
}

/// How two partials stand to each other.
#[derive(Clone, Copy, Default)]
struct Offset {
    /// Row of the table of distances, and how far on towards the next one.
    place: u8,
    part: f32,
    /// 0: of one note; 1: of one string; 2: neither.
    kinship: u8,
}

impl Offset {
    /// `away` in rows of the table of distances, from its middle one.
    fn at(away: f32, kinship: u8) -> Offset {
        let at = (away + (PLACES / 2) as f32).clamp(0.0, (PLACES - 1) as f32);
        let place = (at as usize).min(PLACES - 2);
        Offset {
            place: place as u8,
            part: at - place as f32,
            kinship,
        }
    }
}

/// How every partial stands to every partial.
fn offsets(notes: &[SeenNote]) -> Vec<Offset> {
    let partials: Vec<(f32, usize, usize)> = (notes.iter().enumerate())
        .flat_map(|(k, n)| n.hz.iter().map(move |&hz| (hz, k, n.string)))
        .collect();
    let count = partials.len();
    let mut offsets = vec![Offset::default(); count * count];
    for (i, &(hz, note, string)) in partials.iter().enumerate() {
        for (j, &(other_hz, other, other_string)) in partials[..=i].iter().enumerate() {
            let away = PLACES_PER_E * asinh(hz - other_hz);
            let kinship = u8::from(note != other) + u8::from(string != other_string);
            offsets[i * count + j] = Offset::at(away, kinship);
            offsets[j * count + i] = Offset::at(-away, kinship);
        }
    }
    offsets
}

/// Inverse hyperbolic sine, quicker than the standard library's where x is large.
fn asinh(x: f32) -> f32 {
    (x.abs() + (x * x + 1.0).sqrt()).ln().copysign(x)
}

fn add(onto: &mut [f32], more: &[f32]) {
    onto.iter_mut().zip(more).for_each(|(x, m)| *x += m);
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert!(Network::read(BUILT_IN).is_ok());
        assert!(Network::read(&BUILT_IN[..BUILT_IN.len() - 1]).is_err());
        assert!(Network::read(&[BUILT_IN, &[0; 4]].concat()).is_err());
        assert!(Network::read(b"RTM1").is_err());
        assert!(Network::read(b"RTN1\0\0\0\0").is_err());
        assert!(Network::read(&[]).is_err());
    }

    #[test]
    fn every_note_is_answered_in_its_own_way() {
        let network = Network::built_in();
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
                Said::Expected(outcomes) => {
                    assert!(note.instead_of.is_none());
                    assert!((outcomes.iter().sum::<f32>() - 1.0).abs() < 1e-5);
                }
                Said::Other(sounds) => {
                    assert!(note.instead_of.is_some());
                    assert!((0.0..=1.0).contains(&sounds));
                }
            }
        }
    }

    #[test]
    fn what_was_heard_before_leaves_nothing_behind() {
        let network = Network::built_in();
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
        let said = Network::built_in().hear(&seen(Vec::new()), &mut Scratch::default());
        assert!(said.is_empty());
    }
}
