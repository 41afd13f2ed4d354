//! A sitting at the guitar as it is shown: [`Screen`] is a [`Board`] on a whole terminal, [`LineFace`]
//! writes lines for people or programs.

mod board;
mod chord_picture;
mod face;
pub(super) mod font;
mod guide;
mod lines;
mod pages;
mod stage;
pub mod tuner;
pub mod view;

pub use board::{Board, HISTORY};
pub use chord_picture::ChordPicture;
pub use face::{Following, LineFace, Screen};
pub use guide::Guide;
pub use lines::{JsonLines, Lines, Plain};
pub use pages::Pages;
pub use stage::{Key, Stage};
pub use tuner::Tuner;
