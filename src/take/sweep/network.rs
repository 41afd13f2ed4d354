//! The trained network that hears sweeps: rounds of gated convolutions (van den Oord and others, 2016), each further
//! apart; the first ones look ahead, the others only back. It hears a stream frame by frame.

use super::CONSTANTS;
use crate::layers::{Linear, NetworkError, Weights, add, trained};

/// Levels of so many bands, and as many changes, are what a frame is.
pub const BANDS: usize = 19;
const SEEN: usize = 2 * BANDS;
/// Frames that one takes in.
pub(super) const TAKEN_IN: usize = 3;
/// Number of rounds: the frames are twice as far apart in each as in the one before.
pub(super) const ROUNDS: usize = 5;
/// Rounds in which the middle frame is what comes of it. In the others it is the last one.
pub(super) const AHEAD: usize = 3;

/// How far apart the frames of each round are, and whether the middle one is what comes of it.
fn rounds() -> impl Iterator<Item = (usize, bool)> {
    (0..ROUNDS).map(|round| (1 << round, round < AHEAD))
}

/// Layout of the weights.
pub const LAYOUT: &str = "sweep";

/// Weights that `scripts/train sweeps` has fitted.
#[derive(Debug, Clone)]
pub struct Network {
    width: usize,
    begin: Linear,
    rounds: Vec<Linear>,
    end: Linear,
}

/// Memory of the network of a stream.
#[derive(Debug, Clone)]
pub struct StreamMemory {
    begin: Line,
    rounds: Vec<Line>,
    near: Vec<f32>,
    both: Vec<f32>,
    row: Vec<f32>,
}

/// The last rows of a stream; before it there are zeros.
#[derive(Debug, Clone)]
struct Line {
    width: usize,
    apart: usize,
    /// Whether what comes of three rows stands in the middle one's place.
    middle: bool,
    rows: Vec<f32>,
    /// Rows that have come.
    count: usize,
}

impl Line {
    fn new(width: usize, apart: usize, middle: bool) -> Self {
        Line {
            width,
            apart,
            middle,
            rows: vec![0.0; (2 * apart + 1) * width],
            count: 0,
        }
    }

    /// Takes in a row; puts three rows into `near` and gives the one in whose place it stands; `None` where that lies before the
    /// stream.
    fn push(&mut self, row: &[f32], near: &mut Vec<f32>) -> Option<&[f32]> {
        let width = self.width;
        self.rows.copy_within(width.., 0);
        let last = self.rows.len() - width;
        self.rows[last..].copy_from_slice(row);
        self.count += 1;
        near.clear();
        for k in 0..TAKEN_IN {
            let at = k * self.apart * width;
            near.extend_from_slice(&self.rows[at..at + width]);
        }
        let place = if self.middle {
            self.apart * width
        } else {
            last
        };
        (!self.middle || self.count > self.apart).then(|| &self.rows[place..place + width])
    }
}

impl Network {
    /// The network built into the program.
    ///
    /// # Panics
    /// When it is damaged, which a test rules out.
    pub fn built_in() -> Network {
        Network::read(trained::SWEEP).expect("the built-in network is checked by a test")
    }

    /// Reads a network's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one network.
    pub fn read(bytes: &[u8]) -> Result<Network, NetworkError> {
        let from = &mut Weights::of(bytes, LAYOUT, CONSTANTS)?;
        let width = from.size("size")?;
        let network = Network {
            width,
            begin: Linear::read_frames(from, "begin", (SEEN, TAKEN_IN), width)?,
            rounds: (0..ROUNDS)
                .map(|number| {
                    let name = format!("rounds.{number}");
                    Linear::read_frames(from, &name, (width, TAKEN_IN), 2 * width)
                })
                .collect::<Result<_, NetworkError>>()?,
            end: Linear::read_frames(from, "end", (width, 1), 1)?,
        };
        from.end()?;
        Ok(network)
    }

    /// The state in which a stream begins.
    pub fn running(&self) -> StreamMemory {
        StreamMemory {
            begin: Line::new(SEEN, 1, true),
            rounds: rounds()
                .map(|(apart, middle)| Line::new(self.width, apart, middle))
                .collect(),
            near: Vec::new(),
            both: Vec::new(),
            row: Vec::new(),
        }
    }

    /// Takes the next frame; gives the log odds of a sweep eight frames before it, which the rounds look ahead; `None`
    /// before the first.
    pub fn step(&self, seen: &[f32], state: &mut StreamMemory) -> Option<f32> {
        let StreamMemory {
            begin,
            rounds,
            near,
            both,
            row,
        } = state;
        begin.push(seen, near)?;
        self.begin.run(near, row);
        for (line, weights) in rounds.iter_mut().zip(&self.rounds) {
            let place = line.push(row, near)?;
            weights.run(near, both);
            row.clear();
            row.extend_from_slice(place);
            let (values, gates) = both.split_at_mut(self.width);
            for (value, gate) in values.iter_mut().zip(gates) {
                *value /= 1.0 + (-*gate).exp();
            }
            add(row, values);
        }
        self.end.run(row, both);
        both.first().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layers::testing::refuses_what_is_damaged;

    #[test]
    fn the_built_in_network_reads_and_bytes_that_are_none_do_not() {
        refuses_what_is_damaged(trained::SWEEP, CONSTANTS, Network::read);
    }
}
