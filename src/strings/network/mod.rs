//! The trained network: what became of every note, from all their partials together.
//!
//! Each partial's amplitudes become a row of numbers; in a few rounds every partial listens to those of
//! the expected notes, most to those near it in frequency, and to its own note's. What a note's partials
//! have become is put together, the notes listen to each other, and each says what became of it.

mod file;
mod layers;

pub use file::NetworkError;
use file::Numbers;
use layers::{Hearers, Layer, Linear, Scratch, gelu};

use super::joint::OUTCOMES;
use super::partials;
use crate::fretboard::STRINGS;

const FRETS: usize = 26;
const DISTANCES: usize = 51;
/// Rows of the table of distances in Hz, and how many there are to a factor of e, far from 0.
const PLACES: usize = 17;
const PLACES_PER_E: f32 = 1.5;
const NOTE_LAYERS: usize = 2;

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
    same_string: Vec<f32>,
    gather: Linear,
    mix: Linear,
    notes: Vec<Layer>,
    outcome: Linear,
    sounds: Linear,
}

/// A note to be heard.
#[derive(Debug, Clone, Default)]
pub struct Note {
    pub string: usize,
    pub fret: u8,
    pub expected: bool,
    /// Frequency in Hz of each partial.
    pub hz: Vec<f32>,
    /// [`partials::WIDTH`] numbers for each.
    pub rows: Vec<f32>,
}

/// Room for one strum.
#[derive(Debug, Clone, Default)]
pub struct Room {
    rows: Vec<f32>,
    wide: Vec<f32>,
    biases: Vec<f32>,
    scratch: Scratch,
}

/// What a note's last row says: scores of the outcomes of an expected note, or log odds that another sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Said {
    Expected([f32; OUTCOMES]),
    Other(f32),
}

impl Network {
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let (head, rest) = bytes.split_first_chunk::<8>().ok_or(NetworkError("it is too short"))?;
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
            same_string: from.take(2 * layers * heads)?,
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

    /// What became of `notes`, the expected ones first, in a strum that lasts `available_s` seconds after
    /// its last string and takes `spread_s` from the first to the last.
    pub fn hear(&self, notes: &[Note], (available_s, spread_s): (f32, f32), room: &mut Room) -> Vec<Said> {
        let width = self.width;
        let mut whole = Vec::new();
        self.whole.run(&[available_s.min(1.5), 5.0 * spread_s], &mut whole);
        let places = self.places(notes, &whole);

        room.rows.clear();
        let all: Vec<f32> = notes.iter().flat_map(|n| &n.rows).copied().collect();
        self.embed[0].run(&all, &mut room.wide);
        room.wide.iter_mut().for_each(gelu);
        self.embed[1].run(&room.wide, &mut room.rows);
        let mut ranges = Vec::new();
        let mut at = 0;
        for (note, place) in notes.iter().zip(places.chunks_exact(width)) {
            ranges.push(at..at + note.hz.len());
            at += note.hz.len();
            for row in room.rows[ranges[ranges.len() - 1].start * width..at * width].chunks_exact_mut(width) {
                row.iter_mut().zip(place).for_each(|(x, p)| *x += p);
            }
        }
        let expected = notes.iter().take_while(|n| n.expected).count();
        let common = ranges[..expected].last().map_or(0, |r| r.end);
        let offsets = self.offsets(notes, common);
        for (number, layer) in self.layers.iter().enumerate() {
            self.put_biases(number, &offsets, &mut room.biases);
            let hearers = Hearers { common, groups: &ranges[expected..], biases: &room.biases };
            layer.run(&mut room.rows, &hearers, &mut room.scratch);
        }

        let mut gathered = Vec::with_capacity(notes.len() * self.heads * width);
        let mut shares = Vec::new();
        for range in &ranges {
            let rows = &room.rows[range.start * width..range.end * width];
            self.gather.run(rows, &mut shares);
            for head in 0..self.heads {
                let of = |row: usize| shares[row * self.heads + head];
                let top = (0..range.len()).map(of).fold(f32::MIN, f32::max);
                let weights: Vec<f32> = (0..range.len()).map(|r| (of(r) - top).exp()).collect();
                let sum: f32 = weights.iter().sum();
                let start = gathered.len();
                gathered.resize(start + width, 0.0);
                for (row, weight) in rows.chunks_exact(width).zip(&weights) {
                    gathered[start..].iter_mut().zip(row).for_each(|(g, x)| *g += weight / sum * x);
                }
            }
        }
        let mut rows = places;
        self.mix.run_onto(&gathered, &mut rows);
        room.biases.clear();
        room.biases.resize(self.heads * notes.len() * notes.len(), 0.0);
        let hearers = Hearers { common: notes.len(), groups: &[], biases: &room.biases };
        for layer in &self.notes {
            layer.run(&mut rows, &hearers, &mut room.scratch);
        }
        let mut said = Vec::new();
        notes
            .iter()
            .zip(rows.chunks_exact(width))
            .map(|(note, row)| {
                if note.expected {
                    self.outcome.run(row, &mut said);
                    Said::Expected(std::array::from_fn(|i| said[i]))
                } else {
                    self.sounds.run(row, &mut said);
                    Said::Other(said[0])
                }
            })
            .collect()
    }

    /// What each note's place on the fretboard says, and the strum as a whole.
    fn places(&self, notes: &[Note], whole: &[f32]) -> Vec<f32> {
        let width = self.width;
        let row = |table: &'_ [f32], at: usize| table[at * width..(at + 1) * width].to_vec();
        let mut places = Vec::with_capacity(notes.len() * width);
        for note in notes {
            let mut parts = vec![
                row(&self.frets, usize::from(note.fret).min(FRETS - 1)),
                row(&self.strings, note.string),
                row(&self.kinds, usize::from(!note.expected)),
                whole.to_vec(),
            ];
            if !note.expected {
                let expected = (notes.iter().find(|n| n.expected && n.string == note.string)).map_or(0, |n| n.fret);
                let away = i32::from(note.fret) - i32::from(expected) + (DISTANCES / 2) as i32;
                parts.push(row(&self.distances, away.clamp(0, DISTANCES as i32 - 1) as usize));
            }
            places.extend((0..width).map(|i| parts.iter().map(|p| p[i]).sum::<f32>()));
        }
        places
    }

    /// For every partial and every common one: place in the table, share of the next place, and what
    /// they have in common: 0 the string, of expected notes both; 1 the string; 2 nothing.
    fn offsets(&self, notes: &[Note], common: usize) -> Vec<(u8, f32, u8)> {
        let partials: Vec<(f32, usize, bool)> = notes
            .iter()
            .flat_map(|n| n.hz.iter().map(|&hz| (hz, n.string, n.expected)))
            .collect();
        let mut offsets = Vec::with_capacity(partials.len() * common);
        for &(hz, string, expected) in &partials {
            for &(other_hz, other_string, _) in &partials[..common] {
                let at = (hz - other_hz).asinh() * PLACES_PER_E + (PLACES / 2) as f32;
                let at = at.clamp(0.0, (PLACES - 1) as f32);
                let place = (at as usize).min(PLACES - 2);
                let same = match string == other_string {
                    true => u8::from(!expected),
                    false => 2,
                };
                offsets.push((place as u8, at - place as f32, same));
            }
        }
        offsets
    }

    fn put_biases(&self, layer: usize, offsets: &[(u8, f32, u8)], into: &mut Vec<f32>) {
        let all = self.layers.len() * self.heads;
        into.clear();
        for head in 0..self.heads {
            let at = layer * self.heads + head;
            let near: [f32; PLACES] = std::array::from_fn(|p| self.near[p * all + at]);
            let same = [self.same_string[at], self.same_string[all + at], 0.0];
            into.extend(offsets.iter().map(|&(place, next, s)| {
                let place = usize::from(place);
                near[place] + (near[place + 1] - near[place]) * next + same[usize::from(s)]
            }));
        }
    }
}
