//! What the networks for strings are fitted to: composed takes, their strums and strokes as the program finds them.
//!
//! Of a mixed take the guitar is `synth::mixed::number`. For each string its expected note and four others have a fret and a
//! truth. Of an expected one that is what became of it, in the order of `strings::NoteOutcome`, -2 where that is not asked; of
//! another one 1 where it sounds; -1: no such note. What else is known of a string is its onset in seconds after the one
//! heard, its level in dB, and log10 of the T60 in seconds that it dies by. A partial has its frequency in Hz (0: none), then
//! `strings::partials::WIDTH` numbers; those of the expected note come first.

use std::ops::Range;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, MOST_BESIDE, STRINGS, Tuning};
use ringtrue::strings::partials::{MOST_EXPECTED, MOST_OTHER, MOST_ROWS, SeenNote, WIDTH, see};
use ringtrue::strings::picked::Picked;
use ringtrue::strings::{CandidateNotes, Moments, NoteOutcome, Spectra, network};
use ringtrue::synth::compose::{Composed, Conditions, Given, StringSound, compose_with};
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::{mixed, modal, voicings};
use ringtrue::take::{Manner, Take};

use crate::file::{Column, FeatureTable};

/// How many takes, and from which seed.
#[derive(clap::Args)]
pub struct Counts {
    /// Seed of all draws
    #[arg(long)]
    seed: u64,
    /// Takes of each recorded guitar
    #[arg(long)]
    takes: usize,
    /// Guitars that are drawn, computed by their modes
    #[arg(long)]
    drawn: usize,
    /// Takes of each drawn guitar
    #[arg(long)]
    drawn_takes: usize,
    /// Takes whose strings are of several recorded guitars
    #[arg(long)]
    mixed: usize,
}

/// Among strums one take in so many is a picked pass, which has a stroke for nearly every string.
pub const AMONG_STRUMS: usize = 16;
/// Picked passes alone.
pub const PASSES: usize = 1;

/// Seed of the first guitar that nobody built.
const DRAWN_SEED: u64 = 1000;
/// Instead of a truth, where none is asked and where there is no such note.
const NOT_ASKED: f32 = -2.0;
const NO_NOTE: f32 = -1.0;
/// What is known of a string that rings on, where another dies by a T60: log10 of about 3 s.
const RINGS_LOG_S: f32 = 0.5;
/// A stroke this far from where a string was struck, in seconds, is another's.
const SAME_STROKE_S: f64 = 0.06;
/// Share of the strings not meant that no hand touches, so that they resonate. A choice.
const FREE: f64 = 0.5;
/// Share of the strings that sound though not meant which a strum only brushes, and by how much they are softer, in dB. A
/// choice: down to where a listener hardly hears them beside the chord.
const SOFTER: f64 = 0.5;
const SOFTER_DB: Range<f64> = 0.0..20.0;
/// Takes that are composed before they are written.
const AT_ONCE: usize = 4096;

/// Columns of the table.
pub const COLUMNS: [Column; 7] = [
    ("guitar", &[]),
    ("take", &[]),
    ("available_s", &[]),
    ("spread_s", &[]),
    ("notes", &[STRINGS, 1 + MOST_BESIDE, 2]),
    ("beside", &[STRINGS, 3]),
    ("partials", &[STRINGS, MOST_ROWS, 1 + WIDTH]),
];

/// Begins a table for a network of strings.
pub fn create(out: &Path) -> anyhow::Result<FeatureTable> {
    FeatureTable::create(out, network::LAYOUT, network::CONSTANTS, &COLUMNS)
}

/// Writes the table: one take in `picked_every` is a picked pass, which gives a row a stroke.
pub fn write(out: &Path, picked_every: usize, counts: &Counts) -> anyhow::Result<usize> {
    let mut guitars = notes::all(Path::new("fixtures"))?;
    let recorded = guitars.len();
    guitars.par_extend(
        (0..counts.drawn as u64)
            .into_par_iter()
            .map(|n| modal::guitar(DRAWN_SEED + n)),
    );
    let jobs: Vec<(Option<usize>, usize)> = (0..guitars.len())
        .flat_map(|which| {
            let takes = match which < recorded {
                true => counts.takes,
                false => counts.drawn_takes,
            };
            (0..takes).map(move |take| (Some(which), take))
        })
        .chain((0..counts.mixed).map(|take| (None, take)))
        .collect();
    let mut table = create(out)?;
    for (part, jobs) in jobs.chunks(AT_ONCE).enumerate() {
        let rows: Vec<Vec<f32>> = jobs
            .par_iter()
            .enumerate()
            .map_init(
                || {
                    let rate_hz = notes::NOTE_RATE_HZ;
                    (Spectra::new(rate_hz), Picked::new(rate_hz))
                },
                |(spectra, picked), (i, &(which, take))| {
                    let index = (part * AT_ONCE + i) as u64;
                    let seed = counts.seed ^ index.wrapping_mul(0x9E37_79B9_7F4A_7C15);
                    let mut rng = SmallRng::seed_from_u64(seed);
                    let of: [usize; STRINGS] = match which {
                        Some(which) => [which; STRINGS],
                        None => mixed::draw(recorded, &mut rng),
                    };
                    let label = match which {
                        Some(which) => which as f32,
                        None => mixed::number(&of),
                    };
                    let head = [label, take as f32];
                    let strings = of.map(|g| &guitars[g]);
                    match take % picked_every {
                        0 => strokes(strings, &mut rng, (spectra, picked), head),
                        _ => strum(strings, &mut rng, spectra, head),
                    }
                },
            )
            .collect();
        for rows in &rows {
            table.push(rows)?;
        }
    }
    table.finish()
}

/// The row of a strum of which no truth is asked.
pub fn row_of(strum: &Take, tuning: &Tuning, frets: &Frets) -> Vec<f32> {
    let mut spectra = Spectra::new(strum.rate_hz);
    spectra.fill(&strum.samples, Moments::of(strum));
    let seen = see(&spectra, &CandidateNotes::fit(&spectra, tuning, frets));
    let mut row = vec![0.0, 0.0, seen.available_s, seen.spread_s];
    let nothing = [StringSound::Nothing; STRINGS];
    put_truth(&seen.notes, &nothing, |_| false, |_, _| false, &mut row);
    row.extend([f32::NAN; 3 * STRINGS]);
    put_partials(&seen.notes, &mut row);
    row
}

/// Composes a take on the guitar of each string and says what is seen of it.
fn strum(
    guitars: [&Guitar; STRINGS],
    rng: &mut SmallRng,
    spectra: &mut Spectra,
    head: [f32; 2],
) -> Vec<f32> {
    let tuning = Tuning::default();
    // A take in which no string is struck at all, or no strum is found (a picked pass may be), tells nothing: another one
    // is drawn.
    let (frets, sounds, made, strum) = loop {
        let (frets, sounds, made) = take(guitars, Manner::Strummed, rng);
        if let Some(strum) = made
            .found(&tuning, &frets)
            .filter(|s| s.manner == Manner::Strummed)
        {
            break (frets, sounds, made, strum);
        }
    };
    // As in use, where the finder hears one onset of most strums, that of the first stroke or one near it.
    let moments = Moments::of(&strum);
    let first = strum.first as usize + moments.first;
    spectra.fill(&strum.samples, moments);
    let seen = see(spectra, &CandidateNotes::fit(spectra, &tuning, &frets));
    let mut row = head.to_vec();
    row.extend([seen.available_s, seen.spread_s]);
    let asked = |_: usize| true;
    let sounding =
        |string: usize, fret: u8| matches!(sounds[string], StringSound::Rings(f) if f == fret);
    put_truth(&seen.notes, &sounds, asked, sounding, &mut row);
    for (string, &sound) in sounds.iter().enumerate() {
        row.extend(known(&made, first, string, sound, &frets));
    }
    put_partials(&seen.notes, &mut row);
    row
}

/// Composes a picked pass and says what is seen of each stroke, where the program itself finds it; asked is what became of
/// the string struck.
fn strokes(
    guitars: [&Guitar; STRINGS],
    rng: &mut SmallRng,
    (spectra, picked): (&mut Spectra, &mut Picked),
    head: [f32; 2],
) -> Vec<f32> {
    let (tuning, rate_hz) = (Tuning::default(), notes::NOTE_RATE_HZ);
    let (frets, sounds, made) = take(guitars, Manner::Picked, rng);
    let longest = made.found_longest(&tuning, &frets);
    let Some(strum) = longest.filter(|s| s.manner == Manner::Picked) else {
        return Vec::new();
    };
    let samples = &strum.samples[..strum.judged_end()];
    picked.fill(samples, &strum.onsets);
    let pass = picked.hear(&tuning, &frets);
    let mut rows = Vec::new();
    for (struck, stroke) in pass.strings.iter().enumerate() {
        let (Some(stroke), Some(onset)) = (stroke, made.onsets[struck]) else {
            continue;
        };
        let first = strum.first as usize + stroke.from;
        if first.abs_diff(onset) as f64 > SAME_STROKE_S * f64::from(rate_hz) {
            continue;
        }
        let sound = (samples, rate_hz);
        let notes = pass.notes(*stroke, sound, &tuning, &frets, spectra);
        let seen = see(spectra, &notes);
        rows.extend(head);
        rows.extend([seen.available_s, seen.spread_s]);
        let asked = |string: usize| string == struck;
        // What was struck before may still sound; what comes later does not.
        let sounding = |string: usize, fret: u8| {
            let begun = made.onsets[string].is_some_and(|o| o <= onset);
            begun && matches!(sounds[string], StringSound::Rings(f) if f == fret)
        };
        put_truth(&seen.notes, &sounds, asked, sounding, &mut rows);
        for (string, &sound) in sounds.iter().enumerate() {
            rows.extend(match asked(string) {
                true => known(&made, first, string, sound, &frets),
                false => [f32::NAN; 3],
            });
        }
        put_partials(&seen.notes, &mut rows);
    }
    rows
}

/// A take on the guitar of each string: what was meant, what the strings did, and the sound.
fn take(
    guitars: [&Guitar; STRINGS],
    manner: Manner,
    rng: &mut SmallRng,
) -> (Frets, [StringSound; STRINGS], Composed) {
    let (frets, barre) = voicings::draw(rng, true);
    let sounds = voicings::faults(&frets, barre, rng, true);
    let conditions = Conditions {
        manner,
        ..Conditions::training()
    };
    // A string that is not meant lies free, unless the hand touches it. One that is meant and missed is held where it is meant.
    let free = frets
        .0
        .map(|fret| fret.or_else(|| rng.random_bool(FREE).then_some(0)));
    let softer_db = frets.0.map(|fret| match fret {
        None if rng.random_bool(SOFTER) => rng.random_range(SOFTER_DB),
        _ => 0.0,
    });
    let given = Given {
        guitars: guitars.map(Some),
        free,
        softer_db,
        ..Given::default()
    };
    let tuning = Tuning::default();
    let made = compose_with(guitars[0], &tuning, &sounds, &given, &conditions, rng);
    (frets, sounds, made)
}

/// For each string its notes and their truth: what became of the expected one, where that is asked, and whether each
/// other one is sounding.
fn put_truth(
    notes: &[SeenNote],
    sounds: &[StringSound; STRINGS],
    asked: impl Fn(usize) -> bool,
    sounding: impl Fn(usize, u8) -> bool,
    row: &mut Vec<f32>,
) {
    for (string, &sound) in sounds.iter().enumerate() {
        for (k, note) in notes_of(notes, string).iter().enumerate() {
            row.extend(match note {
                Some(note) if k == 0 && asked(string) => {
                    [f32::from(note.fret), truth(sound, note.fret)]
                }
                Some(note) if k == 0 => [f32::from(note.fret), NOT_ASKED],
                Some(note) => {
                    let sounds = sounding(string, note.fret);
                    [f32::from(note.fret), f32::from(u8::from(sounds))]
                }
                None => [0.0, NO_NOTE],
            });
        }
    }
}

/// For each string the partials of its notes, each at its place.
fn put_partials(notes: &[SeenNote], row: &mut Vec<f32>) {
    for string in 0..STRINGS {
        let start = row.len();
        for (k, note) in notes_of(notes, string).into_iter().enumerate() {
            let most = if k == 0 { MOST_EXPECTED } else { MOST_OTHER };
            let end = row.len() + most * (1 + WIDTH);
            for (hz, numbers) in note
                .iter()
                .flat_map(|n| n.hz.iter().zip(n.rows.chunks_exact(WIDTH)))
            {
                row.push(*hz);
                row.extend(numbers);
            }
            row.resize(end, 0.0);
        }
        assert_eq!(row.len() - start, MOST_ROWS * (1 + WIDTH));
    }
}

/// The expected note of a string and the others, each at its place.
fn notes_of(notes: &[SeenNote], string: usize) -> [Option<&SeenNote>; 1 + MOST_BESIDE] {
    let mut found = [None; 1 + MOST_BESIDE];
    let mut next = 1;
    for note in notes.iter().filter(|n| n.string == string) {
        if note.instead_of.is_none() {
            found[0] = Some(note);
        } else {
            found[next] = Some(note);
            next += 1;
        }
    }
    found
}

fn truth(sound: StringSound, expected: u8) -> f32 {
    let outcome = match sound {
        StringSound::Rings(fret) if fret == expected => NoteOutcome::Rings,
        StringSound::Rings(_) => NoteOutcome::OtherFret,
        StringSound::Choked(_) => NoteOutcome::Choked,
        StringSound::Thud(_) | StringSound::Nothing => NoteOutcome::Gone,
    };
    outcome as usize as f32
}

/// Onset after the one heard in seconds, level in dB, log10 of the T60 in seconds; NaN where not known.
fn known(
    made: &Composed,
    first: usize,
    string: usize,
    sound: StringSound,
    frets: &Frets,
) -> [f32; 3] {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let onset = made.onsets[string];
    let onset_s = onset.map_or(f32::NAN, |o| ((o as f64 - first as f64) / rate) as f32);
    let dies = match (sound, made.dies_s[string]) {
        (StringSound::Rings(fret), _) if frets.0[string] == Some(fret) => RINGS_LOG_S,
        (StringSound::Thud(_) | StringSound::Choked(_), Some(t60_s)) => t60_s.log10() as f32,
        _ => f32::NAN,
    };
    [onset_s, made.level_db[string] as f32, dies]
}
