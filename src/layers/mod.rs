//! The layers of trained networks and the files they are read from.
//!
//! They are the project's own: a ready-made crate on the same matrix product took 7.5 times as long for the network for buzz, and
//! has no [`Relations`] (`fixtures/measured/trials.md`, Speed).

mod attention;
mod curves;
mod file;
mod linear;
mod product;
mod relations;
pub mod trained;

pub use attention::{AttentionPool, Heeded, Layer, LayerScratch};
pub use curves::to_shares;
#[cfg(test)]
pub use file::testing;
pub use file::{Constants, NetworkError, Weights, joined};
pub use linear::{Embed, Linear, Norm};
pub use product::{Matrix, add_product};
pub use relations::{PLACES, Relations, RowPair, Ruler, relate};

/// Adds `more` to `onto`, number by number.
pub fn add(onto: &mut [f32], more: &[f32]) {
    onto.iter_mut().zip(more).for_each(|(x, m)| *x += m);
}
