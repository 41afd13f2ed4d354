//! Loudness of each string beside the chord.

use super::fit::{distance_hz, own_hz};
use super::notes::{CandidateNote, CandidateNotes};
use super::view::FOUND_DB;
use crate::spectrum::LineSpectrum;

/// Partials that a note's level is read from: higher ones are never its strongest.
const PARTIALS: usize = 8;

/// Level of a note in dB: its strongest partial that is not within reach of another expected string's, against the strongest
/// partial of all expected notes. `None` where no such partial stands out.
pub fn level_db(
    spectrum: &LineSpectrum,
    notes: &CandidateNotes,
    note: &CandidateNote,
) -> Option<f32> {
    let expected = || notes.expected.iter().flatten();
    let mut foreign: Vec<f32> = expected()
        .filter(|other| other.string != note.string)
        .flat_map(partials_hz)
        .collect();
    foreign.sort_unstable_by(f32::total_cmp);
    let peak_db = |hz: f32| spectrum.peak_db(hz, spectrum.reach_hz());
    let strongest_db = expected().flat_map(partials_hz).map(peak_db);
    let strongest_db = strongest_db.reduce(f32::max)?;
    partials_hz(note)
        .take(PARTIALS)
        .filter(|&hz| distance_hz(&foreign, hz) >= own_hz(spectrum))
        .filter(|&hz| spectrum.standing_near_db(hz, spectrum.reach_hz()) >= FOUND_DB)
        .map(peak_db)
        .reduce(f32::max)
        .map(|db| db - strongest_db)
}

fn partials_hz(note: &CandidateNote) -> impl Iterator<Item = f32> + '_ {
    (1..=note.fit.count).map(|n| note.fit.hz(n))
}
