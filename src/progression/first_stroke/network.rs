//! The trained network that points at the moment the first stroke of a strum falls.
//!
//! Filters turn the sound into powers, a millisecond a frame; in a few rounds each frame takes in others,
//! ever further away; what each has become says how likely it is that the string is struck there.
//!
//! It hears 0.27 s before the finder's onset and 0.11 s after it: the playing, the backing that was taken out, and
//! what linear prediction leaves of the playing (96 coefficients, learnt anew every 6 ms from what came just
//! before). 103,000 weights turn that into 48 filters' powers. Eight rounds of dilated convolutions with gates
//! follow (van den Oord and others, 2016), up to 0.13 s away in one round. The likeliest frame and its neighbours
//! say when. It never points before the strum that came before.

use crate::layers::{Linear, NetworkError, Norm, Weights, add, trained};

/// Samples a second of what the network hears.
pub const RATE_HZ: u32 = 11_025;
/// Stretch of a strum that it hears: samples before the onset that the finder gave, and all.
pub const BEFORE: usize = 3_000;
/// Samples that it hears of a strum in all.
pub const HEARD: usize = 4_200;
/// Sounds that it hears side by side: the playing, the backing that was taken out of it, and what prediction
/// leaves of the playing.
pub const SOUNDS: usize = 3;

/// Samples of a frame, and how many frames there are.
const HOP: usize = 11;
const FRAMES: usize = HEARD / HOP;
/// Samples of a filter, and how many of them lie before a frame.
const FILTER: usize = 33;
const FILTER_BEFORE: usize = 11;
/// Frames that one takes in, itself in the middle; after so many rounds they are near each other again.
const TAKEN_IN: usize = 5;
const ROUNDS_OF_DISTANCES: usize = 7;
/// What keeps a logarithm finite, of powers of filters and of samples, and what is added to every logarithm: as
/// the network was trained.
const LEAST_FILTERED: f32 = 1e-7;
const LEAST: f32 = 1e-9;
const RAISED: f32 = 3.0;
/// The string is struck at the mean of so many frames around the likeliest, by how likely they are.
const AROUND: usize = 5;

/// Layout of the weights, and what they are fitted by.
pub const LAYOUT: &str = "first_string";
/// See [`LAYOUT`].
pub const CONSTANTS: &[(&str, f32)] = &[
    ("rate_hz", RATE_HZ as f32),
    ("before", BEFORE as f32),
    ("heard", HEARD as f32),
    ("sounds", SOUNDS as f32),
    ("hop", HOP as f32),
    ("filter", FILTER as f32),
    ("filter_before", FILTER_BEFORE as f32),
    ("taken_in", TAKEN_IN as f32),
    ("rounds_of_distances", ROUNDS_OF_DISTANCES as f32),
    ("least_filtered", LEAST_FILTERED),
    ("least", LEAST),
    ("raised", RAISED),
];

/// Weights that `scripts/train first-string` has fitted.
#[derive(Debug, Clone)]
pub struct Network {
    filters: usize,
    width: usize,
    front: Linear,
    begin: Linear,
    rounds: Vec<Round>,
    end: Linear,
}

/// A round in which every frame takes in others.
#[derive(Debug, Clone)]
struct Round {
    before: Norm,
    take_in: Linear,
    mix: Linear,
}

impl Network {
    /// The network built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn built_in() -> Network {
        Network::read(trained::FIRST_STROKE).expect("the built-in network is checked by a test")
    }

    /// Reads a network's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let from = &mut Weights::of(bytes, LAYOUT, CONSTANTS)?;
        let [filters, width, rounds] = [
            from.size("filters")?,
            from.size("size")?,
            from.size("rounds")?,
        ];
        let seen = filters + 2 * SOUNDS;
        let network = Network {
            filters,
            width,
            front: Linear::read_filters(from, "front", (SOUNDS, FILTER), 2 * filters)?,
            begin: Linear::read_frames(from, "begin", (seen, 1), width)?,
            rounds: (0..rounds)
                .map(|number| {
                    let named = |part: &str| format!("{part}.{number}");
                    Ok(Round {
                        before: Norm::read(from, &named("before"), width)?,
                        take_in: Linear::read_frames(
                            from,
                            &named("take_in"),
                            (width, TAKEN_IN),
                            2 * width,
                        )?,
                        mix: Linear::read_frames(from, &named("mix"), (width, 1), width)?,
                    })
                })
                .collect::<Result<_, NetworkError>>()?,
            end: Linear::read_frames(from, "end", (width, 1), 1)?,
        };
        from.end()?;
        Ok(network)
    }

    /// The sample of `sounds`, each of [`HEARD`], at which the first stroke falls, none before `from`; any
    /// scale will do.
    pub fn point(&self, sounds: [&[f32]; SOUNDS], from: usize) -> f32 {
        HOP as f32 * (middle(&self.scores(sounds), from / HOP) + 0.5)
    }

    /// The score of each frame.
    fn scores(&self, sounds: [&[f32]; SOUNDS]) -> Vec<f32> {
        let loudest = sounds[0].iter().fold(0f32, |p, s| p.max(s.abs())) + LEAST;
        let scaled = sounds.map(|s| s.iter().map(|x| x / loudest).collect::<Vec<f32>>());
        let mut rows = Vec::new();
        self.begin.run(&self.seen(&scaled), &mut rows);
        let (mut normed, mut near) = (Vec::new(), Vec::new());
        let (mut both, mut kept) = (Vec::new(), Vec::new());
        for (number, round) in self.rounds.iter().enumerate() {
            round.before.run_over_all(&rows, &mut normed);
            let apart = 1 << (number % ROUNDS_OF_DISTANCES);
            gather(&normed, self.width, apart, &mut near);
            round.take_in.run(&near, &mut both);
            let halves = both.chunks_exact(2 * self.width);
            kept_of(halves, self.width, &mut kept);
            round.mix.run(&kept, &mut normed);
            add(&mut rows, &normed);
        }
        let mut scores = Vec::new();
        self.end.run(&rows, &mut scores);
        scores
    }

    /// What is seen of each frame: power of each filter, and of each sound the mean and the highest.
    fn seen(&self, sounds: &[Vec<f32>; SOUNDS]) -> Vec<f32> {
        let mut pieces = vec![0.0; FRAMES * SOUNDS * FILTER];
        for (frame, piece) in pieces.chunks_exact_mut(SOUNDS * FILTER).enumerate() {
            for (sound, part) in sounds.iter().zip(piece.chunks_exact_mut(FILTER)) {
                let from = (frame * HOP) as isize - FILTER_BEFORE as isize;
                for (k, into) in part.iter_mut().enumerate() {
                    // Frames make up a little less than all that is heard.
                    let at = usize::try_from(from + k as isize);
                    let at = at.ok().filter(|at| *at < FRAMES * HOP);
                    *into = at.map_or(0.0, |at| sound[at]);
                }
            }
        }
        let mut filtered = Vec::new();
        self.front.run(&pieces, &mut filtered);
        let mut seen = Vec::with_capacity(FRAMES * (self.filters + 2 * SOUNDS));
        for (frame, both) in filtered.chunks_exact(2 * self.filters).enumerate() {
            let (cosine, sine) = both.split_at(self.filters);
            let powers = cosine.iter().zip(sine).map(|(c, s)| c * c + s * s);
            seen.extend(powers.map(|p| (p + LEAST_FILTERED).log10() + RAISED));
            let parts = sounds
                .each_ref()
                .map(|s| &s[frame * HOP..(frame + 1) * HOP]);
            let mean = |s: &[f32]| s.iter().map(|x| x * x).sum::<f32>() / HOP as f32;
            let highest = |s: &[f32]| s.iter().fold(0f32, |p, x| p.max(x * x));
            let level = |power: f32| 0.5 * (power + LEAST).log10() + RAISED;
            seen.extend(parts.iter().map(|s| level(mean(s))));
            seen.extend(parts.iter().map(|s| level(highest(s))));
        }
        seen
    }
}

/// Puts side by side what each frame takes in: frames `apart` from each other, itself in the middle; what lies
/// outside is 0.
fn gather(rows: &[f32], width: usize, apart: usize, into: &mut Vec<f32>) {
    into.clear();
    into.resize(rows.len() * TAKEN_IN, 0.0);
    let frames = rows.len() / width;
    for (frame, row) in into.chunks_exact_mut(TAKEN_IN * width).enumerate() {
        for (k, part) in row.chunks_exact_mut(width).enumerate() {
            let at = (frame + k * apart).checked_sub(TAKEN_IN / 2 * apart);
            if let Some(at) = at.filter(|at| *at < frames) {
                part.copy_from_slice(&rows[at * width..(at + 1) * width]);
            }
        }
    }
}

/// The first half of each row, as much of each number as the second half lets through.
fn kept_of<'a>(rows: impl Iterator<Item = &'a [f32]>, width: usize, into: &mut Vec<f32>) {
    into.clear();
    for row in rows {
        let (values, gates) = row.split_at(width);
        let open = |gate: f32| 1.0 / (1.0 + (-gate).exp());
        into.extend(values.iter().zip(gates).map(|(v, g)| v * open(*g)));
    }
}

/// Where the likeliest frame from number `first` on and those around it have their middle.
fn middle(scores: &[f32], first: usize) -> f32 {
    let likeliest = (first..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b]));
    let most = scores.len().saturating_sub(AROUND);
    let from = likeliest.unwrap_or(0).saturating_sub(AROUND / 2);
    let from = from.min(most).max(first.min(most));
    let around = &scores[from..scores.len().min(from + AROUND)];
    let top = around.iter().fold(f32::MIN, |t, s| t.max(*s));
    let weights = around.iter().map(|s| (s - top).exp());
    let (sum, all) = weights.enumerate().fold((0.0, 0.0), |(sum, all), (k, w)| {
        (sum + w * (from + k) as f32, all + w)
    });
    sum / all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layers::testing::{far_off, golden, refuses_what_is_damaged};

    /// Scores, which are natural logarithms, are at most so far from PyTorch's. Measured: 8e-6; other processors round otherwise.
    const NEAR: f32 = 2e-4;

    #[test]
    fn scores_of_frames_are_those_of_pytorch() {
        let golden = golden("first_string");
        let sounds: Vec<&[f32]> = golden["seen.sounds"].chunks_exact(HEARD).collect();
        let sounds: [&[f32]; SOUNDS] = sounds.try_into().expect("one strum");
        let scores = Network::built_in().scores(sounds);
        assert_eq!(scores.len(), FRAMES);
        assert_eq!(far_off(&scores, &golden["scores"], NEAR), None);
    }

    #[test]
    fn a_damaged_network_is_refused() {
        refuses_what_is_damaged(trained::FIRST_STROKE, CONSTANTS, Network::read);
    }

    #[test]
    fn a_frame_takes_in_others_as_far_apart_as_asked_and_nothing_outside() {
        let mut into = Vec::new();
        gather(&[1.0, 2.0, 3.0, 4.0], 1, 2, &mut into);
        assert_eq!(into[..5], [0.0, 0.0, 1.0, 3.0, 0.0]);
        assert_eq!(into[15..], [0.0, 2.0, 4.0, 0.0, 0.0]);
    }

    #[test]
    fn the_middle_lies_between_frames_that_are_alike() {
        let mut scores = vec![-9.0; 20];
        scores[7] = 5.0;
        assert!((middle(&scores, 0) - 7.0).abs() < 1e-3);
        scores[8] = 5.0;
        assert!((middle(&scores, 0) - 7.5).abs() < 1e-3);
        scores[19] = 9.0;
        assert!((middle(&scores, 0) - 19.0).abs() < 1e-3);
        // What lies before is left out.
        scores[12] = 11.0;
        scores[11] = 30.0;
        assert!((middle(&scores, 12) - 12.0).abs() < 1e-3);
    }

    #[test]
    fn loudness_moves_no_moment() {
        let network = Network::built_in();
        let sound: Vec<f32> = (0..HEARD)
            .map(|i| {
                if i < 2_500 {
                    0.0
                } else {
                    (0.3 * i as f32).sin() * (-(i as f32 - 2_500.0) / 3_000.0).exp()
                }
            })
            .collect();
        let soft: Vec<f32> = sound.iter().map(|s| s / 64.0).collect();
        let nothing = vec![0.0; HEARD];
        let at = network.point([&sound, &nothing, &sound], 0);
        assert!((at - 2_500.0).abs() < 3.0 * HOP as f32, "{at}");
        assert!((network.point([&soft, &nothing, &soft], 0) - at).abs() < 0.1);
    }
}
