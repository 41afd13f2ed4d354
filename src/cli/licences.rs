//! `ringtrue licences`: the licences of the program and of all that is built into it.

use std::io::Write;
use std::process::ExitCode;

use super::AS_IT_SHOULD_BE;

/// In this order. `scripts/notices` writes the last one.
const PARTS: [&str; 5] = [
    include_str!("../../LICENSE"),
    include_str!("licences/built-in.txt"),
    include_str!("../../fixtures/SOURCES.md"),
    include_str!("../report/plot/font/LICENSE"),
    include_str!("licences/crates.txt"),
];

/// Prints them all.
///
/// # Errors
/// Output that cannot be written, as an [`std::io::Error`].
pub fn run(out: &mut dyn Write) -> anyhow::Result<ExitCode> {
    let line = "=".repeat(80);
    for (index, part) in PARTS.iter().enumerate() {
        if index > 0 {
            writeln!(out, "\n{line}\n")?;
        }
        writeln!(out, "{}", part.trim_end())?;
    }
    Ok(AS_IT_SHOULD_BE.into())
}
