//! The one way from sound to judged takes: a source or a recording in, takes with their verdicts out.
//!
//! - [`Judge`] judges recordings and sounds in memory: every take, in order, once. [`InTurn`] does it where there are
//!   no threads.
//! - [`Listener`] judges a stream: a first guess, the verdict, and what was withdrawn ([`Message`]).
//! - [`Ear`] feeds a listener from a [`Source`](crate::audio::live::Source) and waits for one that has gone.
//! - [`Sitting`] joins an ear, what is played back ([`Sounds`]) and where it is shown ([`Face`]).
//! - [`FolderKeeper`] keeps takes as files, [`saved`] writes and reads what was said of them.
//!
//! All of them find strums with [`take::Finder`](crate::take::Finder), told the chord that is meant, and judge them
//! with [`Expected::judge`](crate::verdict::Expected::judge). So a file, a microphone and a test are told the same of the same sound.

mod delay;
mod ear;
mod keep;
mod listener;
mod recording;
pub mod saved;
mod sitting;
mod sounds;

pub use delay::{RoundTrip, caught_up, round_trip};
pub use ear::{Ear, Stream};
pub use keep::FolderKeeper;
pub use listener::{Listener, Message};
pub use recording::{FoundTakes, HeardTake, InTurn, Judge, Takes, damage, problem};
pub use sitting::{Face, Notice, Polled, Sitting, Wish};
pub use sounds::{Sounds, reference};
