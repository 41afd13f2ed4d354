//! The trained network: which string buzzes, from all strings' lines and pulses and the shared bands together.
//!
//! Each row of a string's lines, each band's pulse at its pitch, and each shared band becomes a row of the
//! network; in a few rounds all listen to each other. What a string's rows have become is put together,
//! and what the shared bands have; these listen to each other too. Then each string has a probability of its own, so that
//! several may buzz. The bands say how probable it is that any string buzzes, and that something loose rattles.
//!
//! It is a transformer of 310,000 weights: three rounds over all rows, two over the strings and the bands.

use super::treble::{self, BAND_WIDTH, PULSE_WIDTH, PULSES, ROW_WIDTH, SeenString, SeenTreble};
use crate::fretboard::STRINGS;
use crate::layers::{
    AttentionPool, Embed, Heeded, Layer, LayerScratch, Linear, NetworkError, Norm, PLACES,
    Relations, RowPair, Ruler, Weights, add, joined, relate, trained,
};

const FRETS: usize = 26;
const NOTE_LAYERS: usize = 2;
/// Kinds of rows: a string's lines and pulses, and the bands that all share.
const KINDS: usize = 3;
const LINES: usize = 0;
const PULSED: usize = 1;
const SHARED: usize = 2;
/// The table of distances between lines.
const RULER: Ruler = Ruler {
    unit_hz: 3.0,
    per_e: 1.3,
};
/// More seconds than this after the last onset count as this many, and what seconds from the first onset to the
/// last are multiplied by: as the network was trained.
const LONGEST_S: f32 = 2.5;
const SPREAD: f32 = 5.0;

/// Layout of the weights, and what they are fitted by.
pub const LAYOUT: &str = "buzz";
/// See [`LAYOUT`].
pub const CONSTANTS: &[(&str, f32)] = &joined::<_, _, 29>(
    [
        ("strings", STRINGS as f32),
        ("frets", FRETS as f32),
        ("places", PLACES as f32),
        ("unit_hz", RULER.unit_hz),
        ("places_per_e", RULER.per_e),
        ("kinds", KINDS as f32),
        ("note_layers", NOTE_LAYERS as f32),
        ("longest_s", LONGEST_S),
        ("spread_factor", SPREAD),
    ],
    treble::CONSTANTS,
);

/// Weights that `scripts/train buzz` has fitted.
#[derive(Debug, Clone)]
pub struct Network {
    width: usize,
    lines: Embed,
    pulses: Embed,
    bands: Embed,
    kinds: Vec<f32>,
    pulse_bands: Vec<f32>,
    frets: Vec<f32>,
    strings: Vec<f32>,
    whole: Linear,
    layers: Vec<Layer>,
    /// Kinship: kind by kind; then the same of rows that are not of one string.
    relations: Relations,
    of_string: AttentionPool,
    of_take: AttentionPool,
    notes: Vec<Layer>,
    end: Norm,
    buzzes: Linear,
    /// Of the take: whether any string buzzes, and whether something rattles.
    take: Linear,
}

/// Buffers for one strum, used again for the next.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    between: Vec<f32>,
    rows: Vec<f32>,
    pairs: Vec<RowPair>,
    layer: LayerScratch,
}

/// Probability that strings buzz or that something rattles, each by itself from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BuzzProbabilities {
    /// Probability for each string that has a note.
    pub buzzes: [Option<f32>; STRINGS],
    /// Probability that any string buzzes, whichever it is.
    pub any: f32,
    /// Probability of a rattle that follows no single string.
    pub rattles: f32,
}

impl Network {
    /// The network built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn built_in() -> Network {
        Network::read(trained::BUZZ).expect("the built-in network is checked by a test")
    }

    /// Reads a network's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let from = &mut Weights::of(bytes, LAYOUT, CONSTANTS)?;
        let [width, heads, layers] = [
            from.size("size")?,
            from.size("heads")?,
            from.size("layers")?,
        ];
        let all = layers * heads;
        let network = Network {
            width,
            lines: Embed::read(from, "lines", ROW_WIDTH, width)?,
            pulses: Embed::read(from, "pulses", PULSE_WIDTH, width)?,
            bands: Embed::read(from, "bands", BAND_WIDTH, width)?,
            kinds: from.take("kinds.weight", &[KINDS, width])?,
            pulse_bands: from.take("pulse_bands.weight", &[PULSES, width])?,
            frets: from.take("frets.weight", &[FRETS, width])?,
            strings: from.take("strings.weight", &[STRINGS, width])?,
            whole: Linear::read(from, "whole", 3, width)?,
            layers: Layer::read_each(from, "layers", layers, width, heads)?,
            relations: Relations::new(
                (layers, heads),
                from.take("near", &[PLACES, all])?,
                from.take("kin", &[2 * KINDS * KINDS, all])?,
            ),
            of_string: AttentionPool::read(from, "of_string", width, heads)?,
            of_take: AttentionPool::read(from, "of_take", width, heads)?,
            notes: Layer::read_each(from, "notes", NOTE_LAYERS, width, heads)?,
            end: Norm::read(from, "end", width)?,
            buzzes: Linear::read(from, "buzzes", width, 1)?,
            take: Linear::read(from, "take", width, 2)?,
        };
        from.end()?;
        Ok(network)
    }

    /// Gives what buzzes in a strum: nothing, where a click makes all strings seem to.
    pub fn hear(&self, seen: &SeenTreble, scratch: &mut Scratch) -> BuzzProbabilities {
        if seen.has_click {
            return BuzzProbabilities {
                buzzes: seen.strings.each_ref().map(|s| s.as_ref().map(|_| 0.0)),
                ..BuzzProbabilities::default()
            };
        }
        let width = self.width;
        let strings: Vec<(usize, &SeenString)> = (seen.strings.iter().enumerate())
            .filter_map(|(s, string)| Some((s, string.as_ref()?)))
            .collect();
        let mut whole = Vec::new();
        let available_s = seen.available_s.min(LONGEST_S);
        let share = strings.len() as f32 / STRINGS as f32;
        self.whole
            .run(&[available_s, SPREAD * seen.spread_s, share], &mut whole);
        let mut notes = self.places(&strings, &whole);
        self.embed(seen, &strings, &notes, &whole, scratch);
        put_pairs(seen, &strings, &mut scratch.pairs);
        let Scratch {
            rows,
            pairs,
            layer: scratch,
            ..
        } = scratch;
        for (number, layer) in self.layers.iter().enumerate() {
            let heeded = Heeded::Related {
                relations: &self.relations,
                layer: number,
                pairs,
            };
            layer.run(rows, heeded, scratch);
        }

        let mut left = &rows[..];
        for ((_, string), onto) in strings.iter().zip(notes.chunks_exact_mut(width)) {
            let (own, rest) = left.split_at(count_of(string) * width);
            self.of_string.run_onto(own, onto, scratch);
            left = rest;
        }
        notes.extend_from_slice(&whole);
        let take = strings.len() * width;
        self.of_take.run_onto(left, &mut notes[take..], scratch);
        for layer in &self.notes {
            layer.run(&mut notes, Heeded::Alike, scratch);
        }
        self.end.run(&notes, rows);
        self.judge(&strings, rows)
    }

    /// What each string's place on the fretboard says, and the strum as a whole.
    fn places(&self, strings: &[(usize, &SeenString)], whole: &[f32]) -> Vec<f32> {
        let width = self.width;
        let mut places = Vec::with_capacity((strings.len() + 1) * width);
        for (number, string) in strings {
            let start = places.len();
            places.extend_from_slice(whole);
            let mut put = |table: &[f32], at: usize| {
                add(&mut places[start..], &table[at * width..(at + 1) * width]);
            };
            put(&self.strings, *number);
            put(&self.frets, usize::from(string.fret).min(FRETS - 1));
        }
        places
    }

    /// Replaces the rows by what is seen: string by string its lines and pulses, then the bands.
    fn embed(
        &self,
        seen: &SeenTreble,
        strings: &[(usize, &SeenString)],
        places: &[f32],
        whole: &[f32],
        scratch: &mut Scratch,
    ) {
        let Scratch { between, rows, .. } = scratch;
        let width = self.width;
        let put = |rows: &mut [f32], place: &[f32], kind: usize| {
            for row in rows.chunks_exact_mut(width) {
                add(row, place);
                add(row, &self.kinds[kind * width..(kind + 1) * width]);
            }
        };
        rows.clear();
        for ((_, string), place) in strings.iter().zip(places.chunks_exact(width)) {
            let start = rows.len();
            self.lines.append(&string.rows, between, rows);
            put(&mut rows[start..], place, LINES);
            let start = rows.len();
            self.pulses.append(&string.pulses, between, rows);
            put(&mut rows[start..], place, PULSED);
            add(&mut rows[start..], &self.pulse_bands);
        }
        let start = rows.len();
        self.bands.append(&seen.bands, between, rows);
        put(&mut rows[start..], whole, SHARED);
    }

    /// Scores to probabilities.
    fn judge(&self, strings: &[(usize, &SeenString)], notes: &[f32]) -> BuzzProbabilities {
        let probability = |score: f32| 1.0 / (1.0 + (-score).exp());
        let (own, take) = notes.split_at(strings.len() * self.width);
        let mut scores = Vec::new();
        self.take.run(take, &mut scores);
        let mut said = BuzzProbabilities {
            any: probability(scores[0]),
            rattles: probability(scores[1]),
            ..BuzzProbabilities::default()
        };
        self.buzzes.run(own, &mut scores);
        for ((string, _), score) in strings.iter().zip(&scores) {
            said.buzzes[*string] = Some(probability(*score));
        }
        said
    }
}

/// Rows that a string has.
fn count_of(string: &SeenString) -> usize {
    string.hz.len() + string.pulses.len() / PULSE_WIDTH
}

/// How every row stands to every row.
fn put_pairs(seen: &SeenTreble, strings: &[(usize, &SeenString)], pairs: &mut Vec<RowPair>) {
    let (mut hz, mut of) = (Vec::new(), Vec::new());
    for &(string, seen) in strings {
        hz.extend(&seen.hz);
        of.resize(hz.len(), (LINES, string));
        hz.resize(hz.len() + seen.pulses.len() / PULSE_WIDTH, f32::NAN);
        of.resize(hz.len(), (PULSED, string));
    }
    hz.resize(hz.len() + seen.bands.len() / BAND_WIDTH, f32::NAN);
    of.resize(hz.len(), (SHARED, STRINGS));
    let kinship = |i: usize, j: usize| {
        let ((kind, string), (other, other_string)) = (of[i], of[j]);
        let apart = KINDS * KINDS * usize::from(string != other_string);
        (KINDS * kind + other + apart) as u8
    };
    relate(RULER, &hz, kinship, pairs);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layers::testing::{far_off, golden, refuses_what_is_damaged};
    use crate::strings::buzz::treble::{BANDS, ROWS};

    /// Probabilities are at most so far from PyTorch's. Measured: 3e-8; other processors round otherwise.
    const NEAR: f32 = 1e-5;

    #[test]
    fn what_is_said_of_strings_is_what_pytorch_says() {
        let golden = golden("buzz");
        let string = |s: usize| {
            let fret = golden["seen.strings"][5 * s];
            let lines = &golden["seen.lines"][ROWS * (1 + ROW_WIDTH) * s..];
            let lines = lines.chunks_exact(1 + ROW_WIDTH).take(ROWS);
            let lines: Vec<&[f32]> = lines.filter(|line| line[0] > 0.0).collect();
            let pulses = &golden["seen.pulses"][PULSES * PULSE_WIDTH * s..];
            (fret >= 0.0).then(|| SeenString {
                fret: fret as u8,
                hz: lines.iter().map(|line| line[0]).collect(),
                rows: lines.iter().flat_map(|line| &line[1..]).copied().collect(),
                pulses: pulses[..PULSES * PULSE_WIDTH].to_vec(),
            })
        };
        let seen = SeenTreble {
            strings: std::array::from_fn(string),
            bands: golden["seen.bands"].clone(),
            available_s: golden["seen.available_s"][0],
            spread_s: golden["seen.spread_s"][0],
            has_click: false,
        };
        assert_eq!(seen.strings.iter().flatten().count(), 5);
        let said = Network::built_in().hear(&seen, &mut Scratch::default());
        assert_eq!(
            far_off(&[said.any, said.rattles], &golden["take"], NEAR),
            None
        );
        for (string, said) in said.buzzes.iter().enumerate() {
            assert_eq!(said.is_some(), seen.strings[string].is_some());
            let wanted = &golden["buzzes"][string..=string];
            let off = said.and_then(|said| far_off(&[said], wanted, NEAR));
            assert_eq!(off, None, "string {string}");
        }
    }

    /// Strings whose rows all say the same.
    fn seen(strings: &[usize], lines: usize, pulses: usize) -> SeenTreble {
        let string = |s: usize| SeenString {
            fret: s as u8,
            hz: (1..=lines).map(|n| 110.0 * (n + s) as f32).collect(),
            rows: vec![0.1 * s as f32; lines * ROW_WIDTH],
            pulses: vec![0.2; pulses * PULSE_WIDTH],
        };
        SeenTreble {
            strings: std::array::from_fn(|s| strings.contains(&s).then(|| string(s))),
            bands: vec![0.3; BANDS * BAND_WIDTH],
            available_s: 1.1,
            spread_s: 0.05,
            has_click: false,
        }
    }

    #[test]
    fn a_damaged_network_is_refused() {
        refuses_what_is_damaged(trained::BUZZ, CONSTANTS, Network::read);
    }

    #[test]
    fn every_string_with_a_note_is_answered_by_a_probability() {
        let network = Network::built_in();
        for strings in [&[0, 1, 2, 3, 4, 5][..], &[1, 4], &[]] {
            let said = network.hear(&seen(strings, 20, PULSES), &mut Scratch::default());
            for string in 0..STRINGS {
                assert_eq!(said.buzzes[string].is_some(), strings.contains(&string));
            }
            let mut all = said
                .buzzes
                .iter()
                .flatten()
                .chain([&said.any, &said.rattles]);
            assert!(all.all(|p| (0.0..=1.0).contains(p)), "{said:?}");
        }
    }

    #[test]
    fn what_was_heard_before_leaves_nothing_behind() {
        let network = Network::built_in();
        let mut scratch = Scratch::default();
        let small = seen(&[3], 5, 6);
        let alone = network.hear(&small, &mut scratch);
        network.hear(&seen(&[0, 1, 2, 3, 4, 5], 32, PULSES), &mut scratch);
        assert_eq!(network.hear(&small, &mut scratch), alone);
    }
}
