//! A sitting at the guitar as it is shown: [`Screen`] is a [`Board`] on a whole terminal, [`LineFace`]
//! writes lines for people or programs.

mod board;
mod face;
mod font;
mod lines;
mod stage;
pub mod view;

pub use board::{Board, HISTORY};
pub use face::{Following, LineFace, Screen};
pub use lines::{JsonLines, Lines, Plain};
pub use stage::{Key, Stage};
