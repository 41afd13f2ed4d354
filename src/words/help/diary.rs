//! Help of the options that name a diary.

pub const DIARY: &str = "The diary, a file; the usual one if left out";
pub const NO_DIARY: &str = "Keep nothing";
pub const RECORDED_AT: &str =
    "When the recording began, as in 2026-11-25T17:00:00Z; the time of the file if left out";
