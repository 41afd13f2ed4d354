//! A sitting at the guitar as it is shown: [`Screen`] is a [`Board`] on a whole terminal, [`LineFace`]
//! writes lines for people or programs.

mod board;
#[cfg(feature = "terminal")]
mod chord_picture;
#[cfg(feature = "terminal")]
mod face;
#[cfg(feature = "terminal")]
pub(super) mod font;
mod guide;
mod lines;
#[cfg(feature = "terminal")]
mod pages;
#[cfg(feature = "terminal")]
mod stage;
#[cfg(feature = "terminal")]
pub mod tuner;
#[cfg(feature = "terminal")]
pub mod view;

pub use board::{Board, HISTORY};
#[cfg(feature = "terminal")]
pub use chord_picture::ChordPicture;
#[cfg(feature = "terminal")]
pub use face::{Following, LineFace, Screen};
pub use guide::Guide;
pub use lines::{JsonLines, Lines, Plain};
#[cfg(feature = "terminal")]
pub use pages::Pages;
#[cfg(feature = "terminal")]
pub use stage::{Key, Stage};
pub use tuner::Tuner;
