//! Help of the options that name a guitar.

pub const GUITAR: &str = "Guitar, by the name that you gave it in soundcheck";
pub const GUITARS: &str = "Folder in which guitars are kept; the usual one if left out";
