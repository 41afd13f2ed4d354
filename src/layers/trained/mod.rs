//! The networks built into the program. `networks.toml` says of each how it was made; `scripts/train` makes them.

use std::sync::LazyLock;

/// Tells what the strings of a strum did.
pub static STRUMS: &[u8] = include_bytes!("strums.safetensors");
/// Tells what the string of one stroke did.
pub static STROKES: &[u8] = include_bytes!("strokes.safetensors");
/// Tells which string buzzes.
pub static BUZZ: &[u8] = include_bytes!("buzz.safetensors");
/// Tells when the first stroke of a strum fell.
pub static FIRST_STROKE: &[u8] = include_bytes!("first_string.safetensors");
/// Tells when a hand sweeps over the strings.
pub static SWEEP: &[u8] = include_bytes!("sweep.safetensors");

/// What is known of them. A test holds the sums in it against the files.
static LISTED: &str = include_str!("networks.toml");

/// Tells the built-in networks from earlier and later ones: eight hexadecimal digits.
pub fn mark() -> String {
    static MARK: LazyLock<String> = LazyLock::new(|| mark_of(LISTED));
    MARK.clone()
}

/// The FNV-1a sum (Fowler, Noll, Vo; constants from memory) over the files' SHA-256 sums: so a page that does without a network
/// need not carry it for its mark.
fn mark_of(listed: &str) -> String {
    let sums = listed.lines().filter(|line| line.starts_with("sha256"));
    let sum = sums
        .flat_map(str::bytes)
        .fold(0x811c_9dc5_u32, |sum, byte| {
            (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193)
        });
    format!("{sum:08x}")
}

#[cfg(test)]
mod tests;
