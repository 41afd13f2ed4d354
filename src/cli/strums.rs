//! The strums of a recording, for commands that look at the sound itself.

use std::path::Path;

use anyhow::bail;

use crate::audio::Reader;
use crate::take::{Finder, Strum};

/// Finds the strums of a recording and hands over each as soon as it is certain. Gives how many there
/// were.
///
/// # Errors
/// A recording that cannot be read to its end, or what `each` gives.
pub fn each(
    file: &Path,
    mut each: impl FnMut(Strum) -> anyhow::Result<()>,
) -> anyhow::Result<usize> {
    let mut reader = Reader::open(file)?;
    let mut finder = Finder::new(reader.rate_hz());
    let (mut block, mut found, mut count) = (Vec::new(), Vec::new(), 0);
    loop {
        let more = reader.read(&mut block)?;
        match more {
            true => finder.push(&block, &mut found),
            false => finder.finish(&mut found),
        }
        for strum in found.drain(..) {
            count += 1;
            each(strum)?;
        }
        if !more {
            return Ok(count);
        }
    }
}

/// The strum with a number, counted from 1, and how many there are.
///
/// # Errors
/// A recording that cannot be read, or that has no such strum.
pub fn nth(file: &Path, number: usize) -> anyhow::Result<(Strum, usize)> {
    let (mut kept, mut at) = (None, 0);
    let count = each(file, |strum| {
        at += 1;
        if at == number {
            kept = Some(strum);
        }
        Ok(())
    })?;
    let name = file.display();
    match (kept, count) {
        (Some(strum), _) => Ok((strum, count)),
        (None, 0) => bail!(
            "{name}: no strum was found; strum the chord once, let it ring for two seconds, and \
             record again"
        ),
        (None, 1) => {
            bail!("{name}: there is one strum, so take {number} was not found; leave --take out")
        }
        (None, _) => {
            bail!("{name}: takes 1 to {count} were found, take {number} was not; name one of them")
        }
    }
}
