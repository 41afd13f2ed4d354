//! Takes of recorded guitars, each heard by networks that never heard it.

use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::strings::{Networks, buzz};
use ringtrue::synth::buzz::contact::RattlingNote;
use ringtrue::synth::buzz::{BuzzTruth, Maker, Material, OCTAVES_HZ, draw_real};
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::notes::Guitar;
use ringtrue::synth::voicings;

use crate::ears::Ears;
use crate::judged::Judged;
use crate::takes::{HELD_OUT, seed_of, take};

/// Guitars that no network heard which never heard one maker, as scripts/tools.sh has them trained.
pub const LEFT_OUT: [(Maker, &[usize]); 4] = [
    (Maker::Modal, &[0, 4, 8]),
    (Maker::Grid, &[1, 5, 9]),
    (Maker::Bursts, &[2, 6, 7]),
    (Maker::Limited, &[3, 10]),
];

/// Seeds of takes that are reported, and of those that thresholds are chosen by; none of them trains.
pub const REPORTED: u64 = 0xB077_0000_0000;
pub const CHOSEN_BY: u64 = 0xB077_1000_0000;

/// What takes are made of beside what a maker computes.
#[derive(Clone, Copy)]
pub struct Recorded<'a> {
    pub guitars: &'a [Guitar],
    pub contact: &'a [RattlingNote],
    pub folder: &'a Path,
    pub takes: usize,
}

impl Recorded<'_> {
    /// What `hear` makes of so many takes of a guitar, with ears that never heard it; it is given the take's number.
    pub fn each<T: Send>(
        &self,
        guitar: usize,
        hear: impl Fn(&mut Ears<'_>, usize) -> Option<T> + Sync,
    ) -> anyhow::Result<Vec<T>> {
        let networks = Networks::without(guitar, self.folder)?;
        let heard = (0..self.takes)
            .into_par_iter()
            .map_init(|| Ears::new(&networks), |ears, index| hear(ears, index));
        Ok(heard.flatten().collect())
    }

    /// Takes by the maker that the guitar's network never heard.
    pub fn of_maker(&self, maker: Maker, guitar: usize, seed: u64) -> anyhow::Result<Vec<Judged>> {
        let material = Material {
            guitars: [&self.guitars[guitar]; STRINGS],
            contact: self.contact,
        };
        self.each(guitar, |ears, index| {
            let mut rng = SmallRng::seed_from_u64(seed_of(seed, guitar * self.takes + index));
            let take = take(&material, maker, (false, false), &mut rng);
            Some(Judged::of(&take, ears.hear(&take.made, &take.frets)?))
        })
    }

    /// Real contact of the pitches that nothing is learnt from, as one string of a recorded chord, and the same take without
    /// it.
    pub fn of_real_contact(&self, guitar: usize, seed: u64) -> anyhow::Result<Vec<Judged>> {
        let held_out: Vec<RattlingNote> = (self.contact.iter())
            .filter(|note| HELD_OUT.contains(&note.midi))
            .cloned()
            .collect();
        let material = Material {
            guitars: [&self.guitars[guitar]; STRINGS],
            contact: &held_out,
        };
        let twins = self.each(guitar, |ears, index| {
            let mut rng =
                SmallRng::seed_from_u64(seed_of(seed ^ 0xBA55, guitar * self.takes + index));
            let conditions = Conditions::measuring();
            let mut take = draw_real(&material, &Tuning::default(), &conditions, &mut rng)?;
            let struck = Judged::of(&take, ears.hear(&take.made, &take.frets)?);
            let free = take.free.take()?;
            take.truth = [BuzzTruth::Clean; STRINGS];
            take.lifts_db = [0.0; OCTAVES_HZ.len()];
            Some([struck, Judged::of(&take, ears.hear(&free, &take.frets)?)])
        });
        Ok(twins?.into_iter().flatten().collect())
    }

    /// Takes of recorded notes alone, as scripts/accuracy composes them: none buzzes. Every string of some is clean.
    pub fn alone(
        &self,
        guitar: usize,
        seed: u64,
    ) -> anyhow::Result<Vec<(bool, buzz::BuzzProbabilities)>> {
        let tuning = Tuning::default();
        self.each(guitar, |ears, index| {
            let mut rng = SmallRng::seed_from_u64(seed + (guitar * 1_000_000 + index) as u64);
            let (frets, barre) = voicings::draw(&mut rng, false);
            let sounds = voicings::faults(&frets, barre, &mut rng, false);
            let conditions = Conditions::measuring();
            let made = compose(
                &self.guitars[guitar],
                &tuning,
                &sounds,
                &conditions,
                &mut rng,
            );
            let all_clean = (0..STRINGS).all(|s| match frets.0[s] {
                Some(fret) => sounds[s] == StringSound::Rings(fret),
                None => !matches!(sounds[s], StringSound::Rings(_)),
            });
            Some((all_clean, ears.hear(&made, &frets)?.0))
        })
    }

    /// All makers' takes with a name for each group, real contact last.
    pub fn all(&self, seed: u64) -> anyhow::Result<Vec<(String, Vec<Judged>)>> {
        let mut all = Vec::new();
        let mut real = Vec::new();
        for (maker, guitars) in LEFT_OUT {
            let mut judged = Vec::new();
            for &guitar in guitars {
                judged.extend(self.of_maker(maker, guitar, seed)?);
                real.push((maker, self.of_real_contact(guitar, seed)?));
            }
            all.push((format!("{maker:?}"), judged));
        }
        let (never, heard): (Vec<_>, Vec<_>) =
            (real.into_iter()).partition(|(m, _)| *m == Maker::Bursts);
        let both = [
            ("real contact, bursts learnt from", heard),
            ("real contact, bursts left out", never),
        ];
        for (name, judged) in both {
            let judged = judged.into_iter().flat_map(|(_, judged)| judged);
            all.push((name.to_owned(), judged.collect()));
        }
        Ok(all)
    }
}
