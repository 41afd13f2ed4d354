//! Help of the options that name a guitar.

pub const GUITAR: &str = "Guitar known from soundcheck: its tuning, microphone";
pub const GUITARS: &str = "Folder of guitars, instead of the usual one";
