//! The table that the network is fitted on.

use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::synth::buzz::contact::RattlingNote;
use ringtrue::synth::buzz::laid::{self, RealStrum};
use ringtrue::synth::buzz::{BuzzTake, BuzzTruth, Maker, Material};
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::{mixed, modal};
use ringtrue::take::Take;

use crate::ears::Eyes;
use crate::real::learnt_strums;
use crate::takes::{heard_moments, is_picked, seed_of, take, to_stroke};
use crate::treble;

/// Share of learnt takes that end where a strum is judged live, and how long after its beginning a swell is heard by then, in
/// seconds.
const CUT: f64 = 0.4;
const SWELL_HEARD_S: f64 = 0.2;

/// Seed of the first guitar that nobody built.
const DRAWN_SEED: u64 = 5000;
/// Takes that are composed before they are written.
const AT_ONCE: usize = 2048;

/// How many takes, of each recorded guitar, of so many drawn ones each, of several guitars' strings, and of real strums.
pub struct Counts {
    pub takes: usize,
    pub drawn: usize,
    pub drawn_takes: usize,
    pub mixed: usize,
    pub laid: usize,
}

/// What a take of the table is made of.
#[derive(Clone, Copy)]
enum Kind {
    Guitar(usize),
    Mixed,
    Laid,
}

/// What tables call a guitar and a maker that there is none of.
const NO_GUITAR: f32 = 1000.0;
const NO_MAKER: f32 = 9.0;
/// Share of laid takes that have contact.
const LAID: f64 = 0.6;

/// Writes the table to `out`.
pub fn table(
    mut guitars: Vec<Guitar>,
    contact: &[RattlingNote],
    (out, train): (&str, bool),
    counts: Counts,
    seed: u64,
) -> anyhow::Result<()> {
    let recorded = guitars.len();
    guitars.par_extend(
        (0..counts.drawn as u64)
            .into_par_iter()
            .map(|n| modal::guitar(DRAWN_SEED + n)),
    );
    let strums = match counts.laid {
        0 => Vec::new(),
        _ => learnt_strums()?,
    };
    eprintln!("{} real strums to lay contact onto", strums.len());
    let jobs = counts.jobs(recorded, guitars.len());
    let stock = Stock {
        guitars: &guitars,
        recorded,
        contact,
        strums: &strums,
        train,
    };
    let mut table = treble::create(Path::new(out))?;
    for (part, of_part) in jobs.chunks(AT_ONCE).enumerate() {
        let rows: Vec<Vec<f32>> = of_part
            .par_iter()
            .enumerate()
            .map_init(Eyes::new, |eyes, (i, &(kind, number))| {
                let seed = seed_of(seed, part * AT_ONCE + i);
                stock.rows(eyes, kind, number, seed)
            })
            .collect();
        for rows in &rows {
            table.push(rows)?;
        }
        let written = part * AT_ONCE + of_part.len();
        eprintln!("{written} of {} takes written", jobs.len());
    }
    eprintln!("{} rows written", table.finish()?);
    Ok(())
}

impl Counts {
    /// What each take is made of, and its number among those alike.
    fn jobs(&self, recorded: usize, guitars: usize) -> Vec<(Kind, usize)> {
        (0..guitars)
            .flat_map(|which| {
                let takes = match which < recorded {
                    true => self.takes,
                    false => self.drawn_takes,
                };
                (0..takes).map(move |take| (Kind::Guitar(which), take))
            })
            .chain((0..self.mixed).map(|take| (Kind::Mixed, take)))
            .chain((0..self.laid).map(|take| (Kind::Laid, take)))
            .collect()
    }
}

/// What all takes are drawn from: recorded guitars and then drawn ones.
struct Stock<'a> {
    guitars: &'a [Guitar],
    recorded: usize,
    contact: &'a [RattlingNote],
    strums: &'a [RealStrum],
    train: bool,
}

/// A take, and what its rows call it.
struct Labelled {
    take: BuzzTake,
    guitar: f32,
    maker: f32,
}

impl Stock<'_> {
    /// The row of a take, and that of its twin without the fret; none where nothing is seen.
    fn rows(&self, eyes: &mut Eyes, kind: Kind, number: usize, seed: u64) -> Vec<f32> {
        let mut rng = SmallRng::seed_from_u64(seed);
        let wide = self.train && !seed.is_multiple_of(3);
        let Labelled {
            mut take,
            guitar,
            maker,
        } = self.draw(kind, wide, &mut rng);
        let mut rows = Vec::new();
        let rate = f64::from(notes::NOTE_RATE_HZ);
        let moments = match is_picked(&take) {
            true => to_stroke(&mut take, &mut rng),
            false => heard_moments(&take.made, &mut rng),
        };
        let Some(mut moments) = moments else {
            return rows;
        };
        if rng.random_bool(CUT) {
            moments.end = (moments.first + (Take::JUDGED_S * rate) as usize).min(moments.end);
        }
        let free = take.free.as_ref().map(|free| (true, free));
        for (free, made) in [(false, &take.made)].into_iter().chain(free) {
            // A twin without its take would be taken for that of the take before.
            let Some(seen) = eyes.see(made, &take.frets, moments) else {
                break;
            };
            rows.extend([guitar, number as f32, maker]);
            rows.extend([free, wide].map(|b| f32::from(u8::from(b))));
            rows.extend([seen.available_s, seen.spread_s]);
            let heard_s = f64::from(seen.available_s) - SWELL_HEARD_S;
            put_truth(&mut rows, &take, free, heard_s);
            treble::put_seen(&mut rows, &seen);
        }
        rows
    }

    fn draw(&self, kind: Kind, wide: bool, rng: &mut SmallRng) -> Labelled {
        let of = match kind {
            Kind::Guitar(which) => [which; STRINGS],
            Kind::Mixed => mixed::draw(self.recorded, rng),
            Kind::Laid => [rng.random_range(0..self.guitars.len()); STRINGS],
        };
        let material = Material {
            guitars: of.map(|g| &self.guitars[g]),
            contact: self.contact,
        };
        // Drawn for laid takes too, whose makers are others.
        let maker = Maker::LEARNT[rng.random_range(0..Maker::LEARNT.len())];
        let (take, maker) = match kind {
            Kind::Guitar(_) | Kind::Mixed => {
                let take = take(&material, maker, (wide, self.train), rng);
                (take, Some(maker))
            }
            Kind::Laid => {
                let maker = rng
                    .random_bool(LAID)
                    .then(|| laid::MAKERS[rng.random_range(0..laid::MAKERS.len())]);
                let strum = &self.strums[rng.random_range(0..self.strums.len())];
                let take = laid::lay(strum, maker, &material, &Tuning::default(), rng);
                // A strum alone is of no maker.
                let maker = maker.filter(|_| take.free.is_some());
                (take, maker)
            }
        };
        let guitar = match kind {
            Kind::Mixed => mixed::number(&of),
            // ... and of no guitar.
            Kind::Laid if take.free.is_none() => NO_GUITAR,
            Kind::Guitar(_) | Kind::Laid => of[0] as f32,
        };
        Labelled {
            take,
            guitar,
            maker: maker.map_or(NO_MAKER, |maker| maker as usize as f32),
        }
    }
}

/// Appends what is known of a take, as the columns of [`treble`] say. What swells later than `heard_s` is not known.
fn put_truth(row: &mut Vec<f32>, take: &BuzzTake, free: bool, heard_s: f64) {
    row.push(f32::from(u8::from(take.met_a_fret && !free)));
    row.push(match take.distractor {
        None => 0.0,
        Some(Distractor::Rattle) => match take.rattles() {
            Some(true) => 1.0,
            Some(false) => 0.0,
            None => 4.0,
        },
        Some(Distractor::Squeak) => 2.0,
        Some(Distractor::Bright) => 3.0,
    });
    let struck = if free { 0.0 } else { 1.0 };
    row.extend(take.lifts_db.map(|lift| struck * lift as f32));
    let hits_s = take.hits_s.into_iter().fold(0.0, f64::max);
    row.push(struck * hits_s as f32);
    for string in 0..STRINGS {
        let (truth, excess_db) = match take.truth[string] {
            _ if free => (0.0, 0.0),
            BuzzTruth::Buzzes { .. } if take.swells[string].is_some_and(|s| s.from_s > heard_s) => {
                (-1.0, 0.0)
            }
            BuzzTruth::Buzzes { excess_db } => (1.0, excess_db),
            BuzzTruth::Between => (-1.0, 0.0),
            BuzzTruth::Clean => (0.0, 0.0),
        };
        row.extend([
            take.frets.0[string].map_or(-1.0, f32::from),
            truth,
            f32::from(u8::from(take.computed[string])),
            excess_db as f32,
            take.swells[string].map_or(0.0, |swell| struck * swell.from_s as f32),
        ]);
    }
}
