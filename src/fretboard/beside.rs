//! Frets at which a string sounds when the hand is not quite right.

use super::Frets;

/// The fret of the barre (or of the index finger) of a voicing without open strings: its lowest.
fn barre_fret(frets: &Frets) -> Option<u8> {
    let lowest = frets.sounding().map(|(_, f)| f).min()?;
    (lowest > 0).then_some(lowest)
}

/// The frets other than the expected one that a string is likely to sound at when the hand is not
/// quite right: see [`frets_beside`].
pub fn other_frets(frets: &Frets, string: usize) -> Vec<u8> {
    frets_beside(frets.0[string], barre_fret(frets))
}

/// Open, the barre's fret, one below and one above `fret`; ascending, without `fret` itself. At most
/// [`MOST_BESIDE`].
pub fn frets_beside(fret: Option<u8>, barre: Option<u8>) -> Vec<u8> {
    let mut others = vec![0];
    others.extend(barre);
    if let Some(fret) = fret {
        others.extend(fret.checked_sub(1));
        others.push(fret + 1);
        others.retain(|&f| f != fret);
    }
    others.sort_unstable();
    others.dedup();
    others
}

/// Most frets beside one.
pub const MOST_BESIDE: usize = 4;
