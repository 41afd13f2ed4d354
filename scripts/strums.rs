//! Composes the bundled demonstration strums of fixtures/strums from recorded notes: strums FOLDER.

use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::write_wav;
use ringtrue::fretboard::Tuning;
use ringtrue::synth::compose::{Conditions, Sound, compose};
use ringtrue::synth::notes;

use Sound::{Choked, Nothing, Rings, Thud};

fn main() -> anyhow::Result<()> {
    let folder = std::env::args()
        .nth(1)
        .ok_or_else(|| anyhow::anyhow!("one argument expected: FOLDER"))?;
    let guitars = notes::load(Path::new("fixtures/notes"))?;
    let takes = [
        (
            "x13331-all-strings-ring",
            "archtop",
            [Nothing, Rings(1), Rings(3), Rings(3), Rings(3), Rings(1)],
        ),
        (
            "133211-string-3-dead-string-1-choked",
            "solid-electric",
            [Rings(1), Rings(3), Rings(3), Thud(2), Rings(1), Choked(1)],
        ),
        (
            "x35553-low-string-rings-string-2-at-the-barre",
            "archtop",
            [Rings(0), Rings(3), Rings(5), Rings(5), Rings(3), Rings(3)],
        ),
    ];
    for (seed, (name, guitar, sounds)) in takes.into_iter().enumerate() {
        let guitar = guitars
            .iter()
            .find(|g| g.name == guitar)
            .ok_or_else(|| anyhow::anyhow!("no guitar {guitar}"))?;
        let mut rng = SmallRng::seed_from_u64(40 + seed as u64);
        let made = compose(
            guitar,
            &Tuning::default(),
            &sounds,
            &Conditions::measuring(),
            &mut rng,
        );
        write_wav(
            &Path::new(&folder).join(format!("{name}.wav")),
            notes::NOTE_RATE_HZ,
            &made.samples,
        )?;
    }
    Ok(())
}
