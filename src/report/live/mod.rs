//! A sitting at the guitar as it is shown: [`Screen`] is a [`Board`] on a whole terminal, [`LineFace`]
//! writes lines for people or programs.

#[cfg(feature = "terminal")]
pub mod along;
#[cfg(feature = "terminal")]
pub mod asked;
mod board;
#[cfg(feature = "terminal")]
pub mod choice;
mod chord_picture;
#[cfg(feature = "terminal")]
mod face;
#[cfg_attr(
    not(feature = "terminal"),
    allow(dead_code, reason = "large letters are for whole screens")
)]
pub(super) mod font;
#[cfg(feature = "diary")]
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
pub use chord_picture::ChordPicture;
#[cfg(feature = "terminal")]
pub use face::{Following, LineFace, Screen};
#[cfg(feature = "diary")]
pub use guide::Guide;
pub use lines::{JsonLines, LineForm, Plain};
#[cfg(feature = "terminal")]
pub use pages::Pages;
#[cfg(feature = "terminal")]
pub use stage::{Key, Stage};
#[cfg(feature = "terminal")]
pub use tuner::Tuner;
