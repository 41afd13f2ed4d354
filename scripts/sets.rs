//! Labels the strums of fixtures whose truth is known, and composes further sets: sets [FOLDER].
//! Writes the tables of fixtures/strums, and under FOLDER (target/sets if left out) the sets that are composed from a seed.
//! `ringtrue trial score fixtures/strums fixtures/strums/guitarset fixtures/strums/phone-strings FOLDER/*` scores them all.

use std::fs;
use std::path::{Path, PathBuf};

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::{Recording, read_all};
use ringtrue::fretboard::library::name_voicing;
use ringtrue::fretboard::{Frets, STRINGS, Tuning, string_number};
use ringtrue::synth::compose::{Composed, Conditions, StringSound, compose};
use ringtrue::synth::labelled;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::synth::random::gauss;
use ringtrue::synth::voicings;
use ringtrue::trial::{Deed, KnownBy, LabelledTake, Set};

use StringSound::{Choked, Nothing, Rings, Thud};

/// Seeds of the bundled strums, and of the sets that are composed.
const BUNDLED_SEED: u64 = 40;
const HEARD_SEED: u64 = 0x5E75_0001;
const LEFT_OUT_SEED: u64 = 0x5E75_1001;
const FREE_SEED: u64 = 0x5E75_2001;
/// Composed strums of each guitar that the built-in networks have heard.
const HEARD_TAKES: usize = 12;
/// Real chords that last so long are labelled, in seconds (`fixtures/measured/real-strums.md`).
const LASTS_S: f64 = 0.3;
/// Guitars before phones.
const PHONES: usize = 6;
/// A note is plucked where its loudest stretch of so many seconds, within so many from its beginning, is neared to so many dB:
/// in these recordings 0.09 to 0.38 s after their beginning. A choice, by looking at all of them.
const STRETCH_S: f64 = 0.01;
const BEGINNING_S: f64 = 0.6;
const NEAR_DB: f32 = 12.0;
/// So much before it that its attack is whole, faded in, in seconds.
const ATTACK_S: f64 = 0.02;
/// No recording of a phone lasts longer, in seconds.
const LONGEST_S: f64 = 10.0;
/// Step from string to string of an open strum, in seconds, and the spread of levels, in dB: as composed takes are measured
/// (`Conditions::measuring`).
const STEP_S: (f64, f64) = (0.005, 0.025);
const LEVEL_DB: f64 = 2.5;
/// How much more softly than the others a string is struck that a strum only brushes, in dB.
const BRUSHED_DB: f64 = 15.0;
/// Peak that an open strum is brought to.
const PEAK: f32 = 0.5;

const STRUMS: &str = "fixtures/strums";

fn main() -> anyhow::Result<()> {
    let folder = std::env::args().nth(1);
    let folder = PathBuf::from(folder.unwrap_or_else(|| "target/sets".to_owned()));
    let guitars = notes::all(Path::new("fixtures"))?;
    bundled(&guitars)?;
    guitarset()?;
    phone_strings()?;
    left_out(&anew(&folder.join("phone-left-out"))?)?;
    free(&anew(&folder.join("phone-free"))?)?;
    heard(&guitars, &anew(&folder.join("heard-guitars"))?)
}

/// A folder with nothing in it.
fn anew(folder: &Path) -> anyhow::Result<PathBuf> {
    if folder.exists() {
        fs::remove_dir_all(folder)?;
    }
    Ok(folder.to_owned())
}

/// A set whose sounds are there already: its table is made anew.
fn labels_in(folder: &Path) -> anyhow::Result<Set> {
    let table = folder.join(ringtrue::trial::set::TABLE);
    if table.exists() {
        fs::remove_file(table)?;
    }
    create(folder)
}

fn create(folder: &Path) -> anyhow::Result<Set> {
    Set::create(folder).map_err(|refusal| anyhow::anyhow!("{refusal}"))
}

fn label(set: &mut Set, take: &LabelledTake) -> anyhow::Result<()> {
    set.label(take)
        .map_err(|refusal| anyhow::anyhow!("{refusal}"))
}

/// What the strings of a composed take did, as deeds.
fn deeds(frets: &Frets, sounds: &[StringSound; STRINGS]) -> [Deed; STRINGS] {
    std::array::from_fn(|string| match (frets.0[string], sounds[string]) {
        (Some(fret), Rings(at)) if fret == at => Deed::Clean,
        (Some(_), Rings(_)) => Deed::OtherFret,
        (Some(_), Thud(_)) => Deed::Muted,
        (Some(_), Choked(_)) => Deed::Choked,
        (Some(_), Nothing) => Deed::Missed,
        (None, Rings(_)) => Deed::Rings,
        (None, _) => Deed::Clean,
    })
}

/// A take of `frets` with what is known of it.
fn take(file: &str, frets: Frets, about: [&str; 3], known_by: KnownBy) -> LabelledTake {
    let [guitar, microphone, licence] = about.map(str::to_owned);
    let tuning = Tuning::default();
    LabelledTake {
        chord: name_voicing(&frets, &tuning).map(|named| named.chord.to_string()),
        guitar,
        microphone,
        licence,
        known_by,
        ..LabelledTake::clean(file, frets)
    }
}

fn composed(guitar: &Guitar, sounds: &[StringSound; STRINGS], rng: &mut SmallRng) -> Composed {
    let conditions = Conditions::measuring();
    compose(guitar, &Tuning::default(), sounds, &conditions, rng)
}

/// Composes the bundled demonstration strums from recorded notes.
fn bundled(guitars: &[Guitar]) -> anyhow::Result<()> {
    let takes = [
        (
            "x13331-all-strings-ring",
            "archtop",
            "CC0 1.0",
            [Nothing, Rings(1), Rings(3), Rings(3), Rings(3), Rings(1)],
        ),
        (
            "133211-string-3-dead-string-1-choked",
            "solid-electric",
            "MIT, (c) 2022 Gestalt LUR",
            [Rings(1), Rings(3), Rings(3), Thud(2), Rings(1), Choked(1)],
        ),
        (
            "x35553-low-string-rings-string-2-at-the-barre",
            "archtop",
            "CC0 1.0",
            [Rings(0), Rings(3), Rings(5), Rings(5), Rings(3), Rings(3)],
        ),
    ];
    let mut set = labels_in(Path::new(STRUMS))?;
    for (seed, (name, guitar, licence, sounds)) in takes.into_iter().enumerate() {
        let of_it = guitars.iter().find(|g| g.name == guitar);
        let of_it = of_it.ok_or_else(|| anyhow::anyhow!("no guitar {guitar}"))?;
        let mut rng = SmallRng::seed_from_u64(BUNDLED_SEED + seed as u64);
        let made = composed(of_it, &sounds, &mut rng);
        let frets: Frets = name.split_once('-').expect("frets first").0.parse()?;
        let about = [guitar, "", licence];
        let labelled = LabelledTake {
            deeds: deeds(&frets, &sounds),
            ..take(&format!("{name}.wav"), frets, about, KnownBy::Composed)
        };
        set.add(&labelled, &made.samples, NOTE_RATE_HZ)?;
    }
    Ok(())
}

/// Labels the real chords that a pickup for each string measured.
fn guitarset() -> anyhow::Result<()> {
    let folder = Path::new(STRUMS).join("guitarset");
    let mut set = labels_in(&folder)?;
    let licence = "CC BY 4.0, Xi, Bittner, Pauwels, Ye, Bello: GuitarSet";
    let about = ["steel-string acoustic", "studio microphone", licence];
    for name in ["00_BN1-129-Eb_comp", "03_Jazz2-110-Bb_comp"] {
        let file = format!("{name}_mic.flac");
        let notes = folder.join(format!("{name}_notes.csv"));
        let tuning = Tuning::default();
        for real in labelled::strums(&folder.join(&file), &notes, LASTS_S, &tuning)? {
            let mut labelled = take(&file, real.frets, about, KnownBy::Pickup);
            labelled.at_s = Some((real.strum.start_s() * 1000.0).round() / 1000.0);
            // What rings over from the chord before is neither quiet nor played.
            labelled.deeds = std::array::from_fn(|string| {
                let is_known = real.frets.0[string].is_some() || real.quiet.contains(&string);
                if is_known { Deed::Clean } else { Deed::Unknown }
            });
            label(&mut set, &labelled)?;
        }
    }
    Ok(())
}

fn phone_file(phone: usize, string: usize) -> String {
    format!("phone-{phone}-string-{}.flac", string_number(string))
}

const PHONE_LICENCE: &str = "MIT, (c) 2026 Matthieu Hodgkinson";

/// Labels open strings plucked one by one before phones, the other strings free.
fn phone_strings() -> anyhow::Result<()> {
    let folder = Path::new(STRUMS).join("phone-strings");
    let mut set = labels_in(&folder)?;
    for phone in 1..=PHONES {
        for string in 0..STRINGS {
            let mut frets = [None; STRINGS];
            frets[string] = Some(0);
            let guitar = format!("guitar {phone} of six, strings not plucked are free");
            let about = [&*guitar, "phone", PHONE_LICENCE];
            let file = phone_file(phone, string);
            label(&mut set, &take(&file, Frets(frets), about, KnownBy::Deed))?;
        }
    }
    Ok(())
}

/// The six open strings before a phone, at one rate.
fn strings_of(phone: usize) -> anyhow::Result<(Vec<Recording>, u32)> {
    let from = Path::new(STRUMS).join("phone-strings");
    let notes: Vec<Recording> = (0..STRINGS)
        .map(|string| Ok(read_all(&from.join(phone_file(phone, string)), LONGEST_S)?))
        .collect::<anyhow::Result<_>>()?;
    let rate_hz = notes[0].rate_hz;
    let one_rate = notes.iter().all(|note| note.rate_hz == rate_hz);
    anyhow::ensure!(one_rate, "the strings of phone {phone} have several rates");
    Ok((notes, rate_hz))
}

/// Open strums put together from the strings before each phone, whole and with each string left out once. The networks never
/// heard these guitars.
fn left_out(folder: &Path) -> anyhow::Result<()> {
    let mut set = create(folder)?;
    let frets: Frets = "000000".parse()?;
    for phone in 1..=PHONES {
        let (notes, rate_hz) = strings_of(phone)?;
        for out in [None].into_iter().chain((0..STRINGS).map(Some)) {
            let number = (phone * (STRINGS + 1) + out.map_or(STRINGS, |out| out)) as u64;
            let mut rng = SmallRng::seed_from_u64(LEFT_OUT_SEED + number);
            let gains = std::array::from_fn(|string| (Some(string) != out).then_some(0.0));
            let samples = open_strum(&notes, rate_hz, gains, &mut rng);
            let guitar = format!("guitar {phone} of six, put together from its strings");
            let about = [&*guitar, "phone", PHONE_LICENCE];
            let mut labelled = take(&set.next_file(), frets, about, KnownBy::Composed);
            if let Some(out) = out {
                labelled.deeds[out] = Deed::Missed;
            }
            set.add(&labelled, &samples, rate_hz)?;
        }
    }
    Ok(())
}

/// The same strums, where one string is not meant: it resonates with the five others, as it does in their recordings, or is
/// brushed.
fn free(folder: &Path) -> anyhow::Result<()> {
    let mut set = create(folder)?;
    for phone in 1..=PHONES {
        let (notes, rate_hz) = strings_of(phone)?;
        for free in 0..STRINGS {
            for brushed in [false, true] {
                let number = ((phone * STRINGS + free) * 2 + usize::from(brushed)) as u64;
                let mut rng = SmallRng::seed_from_u64(FREE_SEED + number);
                let gains = std::array::from_fn(|string| match string == free {
                    true => brushed.then_some(-BRUSHED_DB),
                    false => Some(0.0),
                });
                let samples = open_strum(&notes, rate_hz, gains, &mut rng);
                let mut frets = [Some(0); STRINGS];
                frets[free] = None;
                let guitar = format!("guitar {phone} of six, put together from its strings");
                let about = [&*guitar, "phone", PHONE_LICENCE];
                let mut labelled = take(&set.next_file(), Frets(frets), about, KnownBy::Composed);
                if brushed {
                    labelled.deeds[free] = Deed::Rings;
                }
                set.add(&labelled, &samples, rate_hz)?;
            }
        }
    }
    Ok(())
}

/// The six strings, each so much louder in dB than it is, or left out, struck one after another. The room before is that of the
/// first one's recording: six rooms at once would be louder than any.
fn open_strum(
    notes: &[Recording],
    rate_hz: u32,
    gains_db: [Option<f64>; STRINGS],
    rng: &mut SmallRng,
) -> Vec<f32> {
    let samples = |seconds: f64| (seconds * f64::from(rate_hz)) as usize;
    let down = rng.random_bool(0.5);
    let step_s = rng.random_range(STEP_S.0..STEP_S.1);
    let mut order: Vec<usize> = (0..STRINGS).collect();
    if !down {
        order.reverse();
    }
    let attack = samples(ATTACK_S);
    let mut sum: Vec<f32> = Vec::new();
    let mut begins = None;
    for (place, string) in order.into_iter().enumerate() {
        let level_db = gauss(rng) * LEVEL_DB;
        let Some(gain_db) = gains_db[string] else {
            continue;
        };
        let gain = 10f64.powf((gain_db + level_db) / 20.0) as f32;
        let plucked = plucked(&notes[string]);
        let before = match begins {
            None => plucked,
            Some(_) => plucked.min(attack),
        };
        let at = *begins.get_or_insert(plucked) + samples(place as f64 * step_s) - before;
        let note = &notes[string].samples[plucked - before..];
        sum.resize(sum.len().max(at + note.len()), 0.0);
        for (index, (sample, note)) in sum[at..].iter_mut().zip(note).enumerate() {
            let fade = (index as f32 / attack as f32).min(1.0);
            *sample += gain * fade * note;
        }
    }
    let peak = sum.iter().fold(1e-9f32, |peak, s| peak.max(s.abs()));
    sum.iter().map(|s| s * PEAK / peak).collect()
}

/// The sample at which a note is plucked.
fn plucked(note: &Recording) -> usize {
    let samples = |seconds: f64| (seconds * f64::from(note.rate_hz)) as usize;
    let stretch = samples(STRETCH_S);
    let beginning = &note.samples[..samples(BEGINNING_S).min(note.samples.len())];
    let powers: Vec<f32> = beginning
        .chunks_exact(stretch)
        .map(|part| part.iter().map(|s| s * s).sum())
        .collect();
    let near = powers.iter().copied().fold(0.0, f32::max) * 10f32.powf(-NEAR_DB / 10.0);
    let first = powers.iter().position(|power| *power >= near);
    stretch * first.expect("the loudest one is near itself")
}

/// Composed strums of the guitars that the built-in networks were trained on: they show that nothing broke, not how it goes on a
/// guitar never heard.
fn heard(guitars: &[Guitar], folder: &Path) -> anyhow::Result<()> {
    let mut set = create(folder)?;
    for (which, guitar) in guitars.iter().enumerate() {
        for number in 0..HEARD_TAKES {
            let seed = HEARD_SEED + (which * HEARD_TAKES + number) as u64;
            let mut rng = SmallRng::seed_from_u64(seed);
            let (frets, barre) = voicings::draw(&mut rng, false);
            let sounds = voicings::faults(&frets, barre, &mut rng, false);
            let made = composed(guitar, &sounds, &mut rng);
            let about = [&*guitar.name, "", "as the notes (fixtures/SOURCES.md)"];
            let labelled = LabelledTake {
                deeds: deeds(&frets, &sounds),
                ..take(&set.next_file(), frets, about, KnownBy::Composed)
            };
            set.add(&labelled, &made.samples, NOTE_RATE_HZ)?;
        }
    }
    Ok(())
}
