//! Makes the material that the network for buzz is fitted on, and measures it.
//! buzz table OUT train|measure TAKES_PER_GUITAR SEED [DRAWN_GUITARS TAKES_PER_DRAWN_GUITAR MIXED_TAKES LAID_TAKES]: a table
//! as scripts/training/treble.rs has it, a row a take, and one for the same take without the fret where strings were made to strike one. Laid takes are real
//! strums, the half of them that is developed on, with and without contact laid onto them.
//! buzz measure FOLDER TAKES_PER_GUITAR: prints the tables of fixtures/measured/buzz.md. FOLDER holds networks that never heard
//! some guitars and one maker, as scripts/accuracy has them trained.
//! buzz real FOLDER: its last table alone, of real strums.
//! buzz unlearnt FOLDER TAKES_PER_GUITAR: its row of the maker that no network learns alone.
//! buzz thresholds FOLDER TAKES_PER_GUITAR: what thresholds give with these networks, on other takes.

#[path = "training/file.rs"]
mod file;
#[path = "training/treble.rs"]
mod treble;

use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::audio::{at_rate, read_all};
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::buzz::treble::{BAND_WIDTH, SeenTreble, Treble};
use ringtrue::strings::buzz::{self, Found};
use ringtrue::strings::{self, Moments, Networks, Notes, Spectra};
use ringtrue::synth::buzz::contact::{self, RattlingNote};
use ringtrue::synth::buzz::laid::{self, RealStrum};
use ringtrue::synth::buzz::{
    BuzzTake, Maker, Material, OCTAVES_HZ, Subject, Truth, draw, draw_real,
};
use ringtrue::synth::compose::{Composed, Conditions, Sound, compose};
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::random::gauss;
use ringtrue::synth::{labelled, mixed, modal, voicings};
use ringtrue::take::{Manner, Strum, strums_of};
use ringtrue::verdict::{Analyser, Settings, Verdict};

/// Sees the treble of composed takes.
struct Eyes {
    spectra: Spectra,
    treble: Treble,
}

impl Eyes {
    fn new() -> Self {
        Eyes::at(notes::NOTE_RATE_HZ)
    }

    fn at(rate_hz: u32) -> Self {
        Eyes {
            spectra: Spectra::new(rate_hz),
            treble: Treble::new(rate_hz),
        }
    }

    /// What is seen of a composed take, whose strings are known to be struck at `moments`.
    fn see(&mut self, made: &Composed, frets: &Frets, moments: Moments) -> Option<SeenTreble> {
        self.spectra.fill(&made.samples, moments);
        let notes = Notes::fit(&self.spectra, &Tuning::default(), frets);
        self.treble.see(&made.samples, moments, &notes)
    }
}

/// What the network goes by, one of which is hidden from it in turn.
const CUES: [&str; 3] = ["lines", "pulses", "bands"];

/// What is seen without a cue.
fn without(seen: &SeenTreble, cue: usize) -> SeenTreble {
    let mut seen = seen.clone();
    for string in seen.strings.iter_mut().flatten() {
        match CUES[cue] {
            "lines" => (string.hz, string.rows) = (Vec::new(), Vec::new()),
            "pulses" => string.pulses = Vec::new(),
            _ => {}
        }
    }
    if CUES[cue] == "bands" {
        // Without any the take could not be judged at all: they stay, with nothing in them.
        for band in seen.bands.chunks_exact_mut(BAND_WIDTH) {
            band[..BAND_WIDTH - 1].fill(0.0);
        }
    }
    seen
}

/// What is said of a take; and were one of the cues hidden.
type Said = (buzz::Said, [buzz::Said; CUES.len()]);

/// What the program itself goes through, from a recording to what is said of buzz.
struct Ears<'a> {
    eyes: Eyes,
    networks: &'a Networks,
    room: strings::Scratch,
    buzz_room: buzz::Scratch,
}

impl<'a> Ears<'a> {
    fn new(networks: &'a Networks) -> Self {
        Ears::at(networks, notes::NOTE_RATE_HZ)
    }

    fn at(networks: &'a Networks, rate_hz: u32) -> Self {
        Ears {
            eyes: Eyes::at(rate_hz),
            networks,
            room: strings::Scratch::default(),
            buzz_room: buzz::Scratch::default(),
        }
    }

    /// What is said of the take as it is found; nothing where it is not.
    fn hear(&mut self, made: &Composed, frets: &Frets) -> Option<Said> {
        let strum = made.found(&Tuning::default(), frets)?;
        Some(self.hear_strum(&strum, frets))
    }

    /// What is said of a strum at the rate of these ears.
    fn hear_strum(&mut self, strum: &Strum, frets: &Frets) -> Said {
        let found = Moments::of(strum);
        let Eyes { spectra, treble } = &mut self.eyes;
        spectra.fill(&strum.samples, found);
        let heard = strings::hear(
            &self.networks.strums,
            spectra,
            &Tuning::default(),
            frets,
            &mut self.room,
        );
        let moments = heard.moments(found, f64::from(strum.rate_hz));
        let Some(seen) = treble.see(&strum.samples, moments, &heard.notes) else {
            return Said::default();
        };
        let mut hear = |seen: &SeenTreble| self.networks.buzz.hear(seen, &mut self.buzz_room);
        let hidden = std::array::from_fn(|cue| hear(&without(&seen, cue)));
        (hear(&seen), hidden)
    }
}

/// How far off the moments of the first and of the last string are in use, in seconds (standard deviations): the
/// finder puts the one, the network for the strings the other (off by 6 to 12 ms in the middle).
const FIRST_OFF_S: f64 = 0.005;
const LAST_OFF_S: f64 = 0.012;

/// When the strings are heard to be struck: not quite when they are, as in use.
fn heard_moments(made: &Composed, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let struck = || made.onsets.iter().flatten().copied();
    let (first, last) = (struck().min()?, struck().max()?);
    let mut jitter = |s: f64| (gauss(rng) * s * rate) as isize;
    let first = first.saturating_add_signed(jitter(FIRST_OFF_S));
    let last = last.saturating_add_signed(jitter(LAST_OFF_S)).max(first);
    Some(Moments {
        first,
        last,
        end: made.end,
    })
}

/// Share of learnt takes that are picked string by string.
const PICKED: f64 = 0.15;
/// Strings struck further apart than this are picked, in seconds.
const APART_S: f64 = 0.3;

/// Makes a picked pass a take of one of its strokes, as it is judged: the strings that have been struck by then, from this
/// stroke to the next one. What was struck before and buzzes may still do so: that is not known. Gives the stroke's moments.
fn to_stroke(take: &mut BuzzTake, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let mut struck: Vec<(usize, usize)> = (0..STRINGS)
        .filter_map(|s| {
            Some((
                take.made.onsets[s].filter(|_| take.frets.0[s].is_some())?,
                s,
            ))
        })
        .collect();
    struck.sort_unstable();
    let buzzing = struck.iter().position(|(_, s)| take.swells[*s].is_some());
    let drawn = rng.random_range(0..struck.len().max(1));
    let stroke = buzzing.filter(|_| rng.random_bool(0.6)).unwrap_or(drawn);
    let &(onset, own) = struck.get(stroke)?;
    let next = struck
        .get(stroke + 1)
        .map_or(take.made.end, |(onset, _)| *onset);
    for (at, string) in struck {
        if at > onset {
            take.frets.0[string] = None;
        } else if string != own && take.swells[string].is_some() {
            take.truth[string] = Truth::Between;
        }
    }
    let onset = onset.saturating_add_signed((gauss(rng) * FIRST_OFF_S * rate) as isize);
    Some(Moments {
        first: onset,
        last: onset,
        end: next.min(take.made.end).max(onset),
    })
}

/// Tells whether a take is a picked pass.
fn is_picked(take: &BuzzTake) -> bool {
    let struck = || take.made.onsets.iter().flatten();
    let apart = (APART_S * f64::from(notes::NOTE_RATE_HZ)) as usize;
    struck().max() > struck().min().map(|first| first + apart).as_ref()
}

/// Shares of learnt takes whose recording is overdriven, and in which sound is lost or something knocks.
const CLIPPED: f64 = 0.12;
const TORN: f64 = 0.08;

/// How often a take about buzz that is to be learnt from is drawn until it buzzes plainly: two in three do not.
const TRIES: usize = 3;

/// Composes a take on the guitar of each string.
fn take(
    material: &Material<'_>,
    maker: Maker,
    (wide, learnt): (bool, bool),
    rng: &mut SmallRng,
) -> BuzzTake {
    let subject = match rng.random_range(0..20) {
        0..9 => Subject::buzz(rng),
        9..12 => Subject::Rattle,
        _ => Subject::Clean,
    };
    let mut conditions = if wide {
        Conditions::training()
    } else {
        Conditions::measuring()
    };
    conditions.transpose *= 0.5;
    if wide {
        (conditions.clipped, conditions.torn) = (CLIPPED, TORN);
    }
    if learnt && rng.random_bool(PICKED) {
        conditions.manner = Manner::Picked;
    }
    let tuning = Tuning::default();
    let mut drawn = || draw(material, &tuning, (subject, maker), &conditions, wide, rng);
    let plain = |take: &BuzzTake| take.truth.iter().any(|t| matches!(t, Truth::Buzzes { .. }));
    let mut take = drawn();
    for _ in 1..if learnt { TRIES } else { 1 } {
        if !matches!(subject, Subject::Buzz { .. }) || plain(&take) {
            break;
        }
        take = drawn();
    }
    take
}

/// Pitches of real contact that nothing is learnt from: one that swells late and one that rattles from the attack on.
const HELD_OUT: [u8; 2] = [39, 60];
/// Share of learnt takes that end where a strum is judged live, and how long after its beginning a swell is heard by then, in
/// seconds.
const CUT: f64 = 0.4;
const SWELL_HEARD_S: f64 = 0.2;

/// A number that takes are drawn by, from that of all and the take's own.
fn seed_of(seed: u64, take: usize) -> u64 {
    seed ^ (take as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut guitars = notes::all(Path::new("fixtures"))?;
    notes::leave_contact_out(&mut guitars);
    let contact = contact::load(Path::new("fixtures/contact"))?;
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["table", out, conditions, takes, seed, ref more @ ..] if more.len() < 5 => {
            let number = |at: usize| more.get(at).map_or(Ok(0), |a| a.parse::<usize>());
            let counts = Counts {
                takes: takes.parse()?,
                drawn: number(0)?,
                drawn_takes: number(1)?,
                mixed: number(2)?,
                laid: number(3)?,
            };
            table(
                guitars,
                &contact::without(&contact, &HELD_OUT),
                (out, conditions == "train"),
                counts,
                seed.parse()?,
            )
        }
        ["real", folder] => real_strums(Path::new(folder)),
        [
            what @ ("measure" | "thresholds" | "unlearnt"),
            folder,
            takes,
        ] => {
            let recorded = Recorded {
                guitars: &guitars,
                contact: &contact,
                folder: Path::new(folder),
                takes: takes.parse()?,
            };
            match what {
                "measure" => measure(&recorded),
                "unlearnt" => unlearnt(&recorded),
                _ => thresholds(&recorded),
            }
        }
        _ => anyhow::bail!(
            "table, measure, unlearnt or thresholds expected, and what scripts/buzz.rs says"
        ),
    }
}

/// Seed of the first guitar that nobody built.
const DRAWN_SEED: u64 = 5000;
/// Takes that are composed before they are written.
const AT_ONCE: usize = 2048;

/// How many takes, of each recorded guitar, of so many drawn ones each, of several guitars' strings, and of real strums.
struct Counts {
    takes: usize,
    drawn: usize,
    drawn_takes: usize,
    mixed: usize,
    laid: usize,
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

fn table(
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
    let jobs: Vec<(Kind, usize)> = (0..guitars.len())
        .flat_map(|which| {
            let takes = match which < recorded {
                true => counts.takes,
                false => counts.drawn_takes,
            };
            (0..takes).map(move |take| (Kind::Guitar(which), take))
        })
        .chain((0..counts.mixed).map(|take| (Kind::Mixed, take)))
        .chain((0..counts.laid).map(|take| (Kind::Laid, take)))
        .collect();
    let all = jobs.len();
    let mut table = treble::create(Path::new(out))?;
    for (part, jobs) in jobs.chunks(AT_ONCE).enumerate() {
        let rows: Vec<Vec<f32>> = jobs
            .par_iter()
            .enumerate()
            .map_init(Eyes::new, |eyes, (i, &(kind, number))| {
                let seed = seed_of(seed, part * AT_ONCE + i);
                let mut rng = SmallRng::seed_from_u64(seed);
                let of = match kind {
                    Kind::Guitar(which) => [which; STRINGS],
                    Kind::Mixed => mixed::draw(recorded, &mut rng),
                    Kind::Laid => [rng.random_range(0..guitars.len()); STRINGS],
                };
                let mut label = match kind {
                    Kind::Guitar(_) | Kind::Laid => of[0] as f32,
                    Kind::Mixed => mixed::number(&of),
                };
                let wide = train && !seed.is_multiple_of(3);
                let material = Material {
                    guitars: of.map(|g| &guitars[g]),
                    contact,
                };
                let mut maker = Some(Maker::LEARNT[rng.random_range(0..Maker::LEARNT.len())]);
                let mut take = match (kind, maker) {
                    (Kind::Guitar(_) | Kind::Mixed, Some(maker)) => {
                        take(&material, maker, (wide, train), &mut rng)
                    }
                    _ => {
                        maker = rng
                            .random_bool(LAID)
                            .then(|| laid::MAKERS[rng.random_range(0..laid::MAKERS.len())]);
                        let strum = &strums[rng.random_range(0..strums.len())];
                        let take = laid::lay(strum, maker, &material, &Tuning::default(), &mut rng);
                        // A strum alone is of no guitar and no maker.
                        if take.free.is_none() {
                            (maker, label) = (None, NO_GUITAR);
                        }
                        take
                    }
                };
                let maker = maker.map_or(NO_MAKER, |maker| maker as usize as f32);
                let mut rows = Vec::new();
                let rate = f64::from(notes::NOTE_RATE_HZ);
                let picked = is_picked(&take);
                let moments = match picked {
                    true => to_stroke(&mut take, &mut rng),
                    false => heard_moments(&take.made, &mut rng),
                };
                let Some(mut moments) = moments else {
                    return rows;
                };
                if rng.random_bool(CUT) {
                    moments.end =
                        (moments.first + (Strum::JUDGED_S * rate) as usize).min(moments.end);
                }
                let free = take.free.as_ref().map(|free| (true, free));
                for (free, made) in [(false, &take.made)].into_iter().chain(free) {
                    // A twin without its take would be taken for that of the take before.
                    let Some(seen) = eyes.see(made, &take.frets, moments) else {
                        break;
                    };
                    rows.extend([label, number as f32, maker]);
                    rows.extend([free, wide].map(|b| f32::from(u8::from(b))));
                    rows.extend([seen.available_s, seen.spread_s]);
                    let heard_s = f64::from(seen.available_s) - SWELL_HEARD_S;
                    put_truth(&mut rows, &take, free, heard_s);
                    treble::put_seen(&mut rows, &seen);
                }
                rows
            })
            .collect();
        for rows in &rows {
            table.push(rows)?;
        }
        eprintln!("{} of {} takes written", part * AT_ONCE + jobs.len(), all);
    }
    eprintln!("{} rows written", table.finish()?);
    Ok(())
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
            Truth::Buzzes { .. } if take.swells[string].is_some_and(|s| s.from_s > heard_s) => {
                (-1.0, 0.0)
            }
            Truth::Buzzes { excess_db } => (1.0, excess_db),
            Truth::Between => (-1.0, 0.0),
            Truth::Clean => (0.0, 0.0),
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

/// Runs of fixtures/strums/phone-strums that are learnt from, and those that thresholds are chosen by; the others are reported.
const LEARNT_RUNS: [&str; 1] = ["1"];
const CHOSEN_BY_RUNS: [&str; 1] = ["2"];
const REPORTED_RUNS: [&str; 4] = ["0", "4", "6", "8"];
/// The chords of those runs, as their maker names them, in open shapes.
const CHORDS: [&str; 4] = ["x32010", "320003", "133211", "x02210"];
/// No such recording lasts longer, in seconds.
const LONGEST_S: f64 = 60.0;
/// A strum is one of a chord where at least so many of its strings are as they should be.
const CLEAN_STRINGS: usize = 4;
/// Strums that begin this near to each other are one, in seconds.
const SAME_S: f64 = 0.1;

/// A running strum of a chord that the program takes it for.
struct Running {
    strum: Strum,
    frets: Frets,
    /// The recording that it comes from.
    file: String,
}

/// The strums of these runs, by line and by phone, that one of the chords is heard in: of the chords the one with most strings
/// as they should be.
fn running(runs: &[&str]) -> anyhow::Result<Vec<Running>> {
    let tuning = Tuning::default();
    let of = |run: &str| {
        ["line", "phone"].map(|by| format!("fixtures/strums/phone-strums/run-{run}-{by}.flac"))
    };
    let mut all = Vec::new();
    for file in runs.iter().flat_map(|run| of(run)) {
        let recording = read_all(Path::new(&file), LONGEST_S)?;
        let rate_hz = recording.rate_hz;
        let by_chord: Vec<Vec<(usize, Running)>> = CHORDS
            .par_iter()
            .map(|chord| {
                let frets: Frets = chord.parse().expect("a voicing");
                let mut analyser = Analyser::new(Settings { tuning, rate_hz });
                strums_of(&recording.samples, rate_hz, &tuning, &frets)
                    .into_iter()
                    .filter_map(|strum| {
                        let take = analyser.analyse(&strum, &frets);
                        // A string that is said to buzz is as it should be, but for that.
                        let clean = std::iter::zip(&frets.0, &take.strings)
                            .filter(|(fret, _)| fret.is_some())
                            .filter(|(_, s)| matches!(s.verdict, Verdict::Clean | Verdict::Buzzing))
                            .count();
                        let heard = !take.is_another_chord() && clean >= CLEAN_STRINGS;
                        let file = file.clone();
                        heard.then_some((clean, Running { strum, frets, file }))
                    })
                    .collect()
            })
            .collect();
        let mut best: Vec<(usize, Running)> = Vec::new();
        for (clean, heard) in by_chord.into_iter().flatten() {
            let start_s = heard.strum.start_s();
            let near =
                |(_, other): &(usize, Running)| (other.strum.start_s() - start_s).abs() < SAME_S;
            match best.iter().position(near) {
                Some(at) if best[at].0 < clean => best[at] = (clean, heard),
                Some(_) => {}
                None => best.push((clean, heard)),
            }
        }
        all.extend(best.into_iter().map(|(_, running)| running));
    }
    Ok(all)
}

/// Labelled comping that is learnt from, and that which is reported; seconds that all strings of a chord last.
const LEARNT_COMPING: &str = "00_BN1-129-Eb_comp";
const REPORTED_COMPING: &str = "03_Jazz2-110-Bb_comp";
const COMPED_S: f64 = 0.3;

fn comped(name: &str) -> anyhow::Result<Vec<labelled::LabelledStrum>> {
    let file = |end: &str| Path::new("fixtures/strums/guitarset").join(format!("{name}_{end}"));
    labelled::strums(
        &file("mic.flac"),
        &file("notes.csv"),
        COMPED_S,
        &Tuning::default(),
    )
}

/// The real strums that are learnt from, at the notes' rate.
fn learnt_strums() -> anyhow::Result<Vec<RealStrum>> {
    let networks = Networks::built_in();
    let mut ears = Ears::new(&networks);
    let running = running(&LEARNT_RUNS)?;
    let running = running.into_iter().map(|r| (r.strum, r.frets));
    let comped = comped(LEARNT_COMPING)?;
    let all = running.chain(comped.into_iter().map(|c| (c.strum, c.frets)));
    let strums = all.map(|(mut strum, frets)| {
        let ratio = f64::from(notes::NOTE_RATE_HZ) / f64::from(strum.rate_hz);
        strum.samples = at_rate(&strum.samples, strum.rate_hz, notes::NOTE_RATE_HZ);
        for onset in &mut strum.onsets {
            *onset = (*onset as f64 * ratio) as usize;
        }
        strum.rate_hz = notes::NOTE_RATE_HZ;
        let found = Moments::of(&strum);
        let Eyes { spectra, .. } = &mut ears.eyes;
        spectra.fill(&strum.samples, found);
        let heard = strings::hear(
            &networks.strums,
            spectra,
            &Tuning::default(),
            &frets,
            &mut ears.room,
        );
        RealStrum {
            moments: heard.moments(found, f64::from(notes::NOTE_RATE_HZ)),
            samples: strum.samples,
            frets,
        }
    });
    Ok(strums.collect())
}

/// Guitars that no network heard which never heard one maker, as scripts/tools.sh has them trained.
const LEFT_OUT: [(Maker, &[usize]); 4] = [
    (Maker::Modal, &[0, 4, 8]),
    (Maker::Grid, &[1, 5, 9]),
    (Maker::Bursts, &[2, 6, 7]),
    (Maker::Limited, &[3, 10]),
];

/// Seeds of takes that are reported, and of those that thresholds are chosen by; none of them trains.
const REPORTED: u64 = 0xB077_0000_0000;
const CHOSEN_BY: u64 = 0xB077_1000_0000;

/// What takes are made of beside what a maker computes.
#[derive(Clone, Copy)]
struct Recorded<'a> {
    guitars: &'a [Guitar],
    contact: &'a [RattlingNote],
    folder: &'a Path,
    takes: usize,
}

impl Recorded<'_> {
    /// What `hear` makes of so many takes of a guitar, with ears that never heard it; it is given the take's number.
    fn each<T: Send>(
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
    fn of_maker(&self, maker: Maker, guitar: usize, seed: u64) -> anyhow::Result<Vec<Judged>> {
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
    fn of_real_contact(&self, guitar: usize, seed: u64) -> anyhow::Result<Vec<Judged>> {
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
            take.truth = [Truth::Clean; STRINGS];
            take.lifts_db = [0.0; OCTAVES_HZ.len()];
            Some([struck, Judged::of(&take, ears.hear(&free, &take.frets)?)])
        });
        Ok(twins?.into_iter().flatten().collect())
    }

    /// Takes of recorded notes alone, as scripts/accuracy composes them: none buzzes. Every string of some is clean.
    fn alone(&self, guitar: usize, seed: u64) -> anyhow::Result<Vec<(bool, buzz::Said)>> {
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
                Some(fret) => sounds[s] == Sound::Rings(fret),
                None => !matches!(sounds[s], Sound::Rings(_)),
            });
            Some((all_clean, ears.hear(&made, &frets)?.0))
        })
    }

    /// All makers' takes with a name for each group, real contact last.
    fn all(&self, seed: u64) -> anyhow::Result<Vec<(String, Vec<Judged>)>> {
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

/// What was said of a take, and what is true of it.
struct Judged {
    subject: Truly,
    said: buzz::Said,
    /// What would be said were a cue hidden.
    hidden: [buzz::Said; CUES.len()],
}

#[derive(Clone, Copy, PartialEq)]
enum Truly {
    Buzz {
        strings: [bool; STRINGS],
        /// Of the octave of the take's treble that is lifted most.
        lift_db: f64,
    },
    /// Clean strings of the maker, one of which met a fret.
    HardClean,
    Clean,
    Rattle,
    Between,
}

impl Truly {
    fn of(take: &BuzzTake) -> Self {
        let strings = take.truth.map(|t| matches!(t, Truth::Buzzes { .. }));
        if strings.contains(&true) {
            let lift_db = take.lifts_db.into_iter().fold(0.0, f64::max);
            return Truly::Buzz { strings, lift_db };
        }
        if take.truth.contains(&Truth::Between) {
            return Truly::Between;
        }
        match take.distractor {
            Some(Distractor::Rattle) if take.rattles() == Some(true) => Truly::Rattle,
            Some(Distractor::Rattle) if take.rattles().is_none() => Truly::Between,
            _ if take.met_a_fret => Truly::HardClean,
            _ => Truly::Clean,
        }
    }
}

impl Judged {
    fn of(take: &BuzzTake, (said, hidden): Said) -> Self {
        Judged {
            subject: Truly::of(take),
            said,
            hidden,
        }
    }

    fn found(&self) -> Found {
        buzz::found(&self.said)
    }

    /// Whether a string that is named, or one of two, is one that buzzes.
    fn is_right(&self) -> bool {
        let Truly::Buzz { strings, .. } = self.subject else {
            return false;
        };
        let found = self.found();
        let named = (0..STRINGS).filter(|&s| found.strings[s].is_some());
        named
            .chain(found.either.into_iter().flatten())
            .any(|s| strings[s])
    }

    /// Whether one string buzzes whose lift lies within these bounds in dB.
    fn is_one(&self, from_db: f64, to_db: f64) -> bool {
        matches!(self.subject, Truly::Buzz { strings, lift_db }
            if strings.iter().filter(|s| **s).count() == 1 && (from_db..to_db).contains(&lift_db))
    }

    fn is_several(&self) -> bool {
        matches!(self.subject, Truly::Buzz { strings, .. } if strings.iter().filter(|s| **s).count() > 1)
    }
}

/// How many of those of which `of` is true are so.
fn share<'a>(
    all: impl IntoIterator<Item = &'a Judged>,
    of: impl Fn(&Judged) -> bool,
    so: impl Fn(&Judged) -> bool,
) -> String {
    let of: Vec<bool> = all.into_iter().filter(|j| of(j)).map(so).collect();
    let part = of.iter().filter(|so| **so).count();
    match of.len() {
        0 => "-".to_owned(),
        count => format!("{:.3} of {count}", part as f64 / count as f64),
    }
}

/// The least of `values` that no more than `share` of them are over.
fn limit(values: &[f32], share: f32) -> f32 {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let at = (share * sorted.len() as f32) as usize;
    sorted.get(at).copied().unwrap_or(1.0)
}

/// Bounds of the lifts that are reported, in dB: from faint to plain.
const LIFTS_DB: [(f64, f64); 3] = [(1.0, 3.0), (3.0, 6.0), (6.0, f64::INFINITY)];
/// Shares of clean takes that may be called buzzing.
const CALLED: [f32; 4] = [0.002, 0.005, 0.01, 0.02];

/// Thresholds that are tried.
const FROM: [f32; 8] = [0.2, 0.3, 0.4, 0.5, 0.7, 0.8, 0.9, 0.95];

/// What the constants of src/strings/buzz/mod.rs give, on takes that neither train nor are reported.
fn thresholds(recorded: &Recorded<'_>) -> anyhow::Result<()> {
    let chosen = running(&CHOSEN_BY_RUNS)?;
    let all = recorded.all(CHOSEN_BY)?;
    let mut alone = Vec::new();
    for guitar in 0..recorded.guitars.len() {
        let heard = recorded.alone(guitar, CHOSEN_BY_ALONE)?;
        alone.extend(heard.into_iter().map(|(_, said)| said.any));
    }
    println!(
        "| maker left out | share of its clean takes, and of recorded notes alone, over | any from | found at 1-3 / 3-6 / over 6 dB | hard clean | recorded notes alone |"
    );
    println!("|{}", " --- |".repeat(6));
    for (name, judged) in &all {
        let any = |is: &dyn Fn(&Judged) -> bool| -> Vec<f32> {
            judged
                .iter()
                .filter(|j| is(j))
                .map(|j| j.said.any)
                .collect()
        };
        let clean = any(&|j| matches!(j.subject, Truly::Clean | Truly::HardClean));
        let grid = CALLED.map(|share| (share.to_string(), limit(&clean, share)));
        let fixed = FROM.map(|from| ("-".to_owned(), from));
        for (called, from) in grid.into_iter().chain(fixed) {
            let over = |values: &[f32]| {
                let count = values.iter().filter(|v| **v >= from).count();
                format!(
                    "{:.3} of {}",
                    count as f32 / values.len().max(1) as f32,
                    values.len()
                )
            };
            let found = LIFTS_DB.map(|(low, high)| over(&any(&|j| j.is_one(low, high))));
            let hard = over(&any(&|j| j.subject == Truly::HardClean));
            println!(
                "| {name} | {called} ({}) | {from:.3} | {} | {hard} | {} |",
                over(&clean),
                found.join(" / "),
                over(&alone)
            );
        }
    }
    println!(
        "\n| real strums (runs that thresholds are chosen by), of {} takes, over | {} |",
        chosen.len(),
        FROM.map(|from| from.to_string()).join(" | ")
    );
    println!("|{}", " --- |".repeat(1 + FROM.len()));
    let mut folds: Vec<(String, Networks)> = Vec::new();
    for (maker, guitars) in LEFT_OUT {
        let networks = Networks::without(guitars[0], recorded.folder)?;
        folds.push((format!("without {maker:?}"), networks));
    }
    folds.push(("all makers".to_owned(), all_makers(recorded.folder)?));
    for (name, networks) in &folds {
        let said = said_of(&chosen, networks);
        let over = FROM.map(|from| said.iter().filter(|s| s.any >= from).count().to_string());
        println!("| {name} | {} |", over.join(" | "));
    }
    println!(
        "\n| maker left out | string named from | named alone | right of those named | right, named or one of two |"
    );
    println!("|{}", " --- |".repeat(5));
    for (name, judged) in &all {
        let told: Vec<&Judged> = judged
            .iter()
            .filter(|j| j.is_one(1.0, f64::INFINITY) && j.found().is_any())
            .collect();
        for from in [0.3, 0.5, 0.6, 0.7, 0.8, 0.9] {
            let top = |j: &Judged| {
                j.said
                    .buzzes
                    .iter()
                    .enumerate()
                    .filter_map(|(s, p)| Some((s, (*p)?)))
                    .max_by(|a, b| a.1.total_cmp(&b.1))
            };
            let sure: Vec<bool> = told
                .iter()
                .filter_map(|j| {
                    let (string, p) = top(j)?;
                    (p >= from).then(
                        || matches!(j.subject, Truly::Buzz { strings, .. } if strings[string]),
                    )
                })
                .collect();
            let right = sure.iter().filter(|r| **r).count();
            println!(
                "| {name} | {from} | {} of {} | {right} | {} |",
                sure.len(),
                told.len(),
                share(told.iter().copied(), |_| true, Judged::is_right)
            );
        }
    }
    println!(
        "\n| maker left out | told to rattle from | rattles found | clean so called | buzzing so called |"
    );
    println!("|{}", " --- |".repeat(5));
    for (name, judged) in &all {
        for from in [0.5, 0.7, 0.8, 0.9, 0.95] {
            let rattles = |j: &Judged| !j.found().is_any() && j.said.rattles >= from;
            println!(
                "| {name} | {from} | {} | {} | {} |",
                share(judged, |j| j.subject == Truly::Rattle, rattles),
                share(
                    judged,
                    |j| matches!(j.subject, Truly::Clean | Truly::HardClean),
                    rattles
                ),
                share(judged, |j| matches!(j.subject, Truly::Buzz { .. }), rattles)
            );
        }
    }
    Ok(())
}

/// The maker that no network learns, on all guitars, each by networks that never heard it.
fn unlearnt(recorded: &Recorded<'_>) -> anyhow::Result<()> {
    let mut judged = Vec::new();
    for guitar in 0..recorded.guitars.len() {
        judged.extend(recorded.of_maker(Maker::Waves, guitar, REPORTED)?);
    }
    println!(
        "{}",
        row("Waves, learnt by none", &judged.iter().collect::<Vec<_>>())
    );
    Ok(())
}

fn measure(recorded: &Recorded<'_>) -> anyhow::Result<()> {
    println!(
        "| left out with its guitars | found at 1-3 / 3-6 / over 6 dB | the right string, or one of two, of those | several buzz: told / all as it should be | clean called buzzing | hard clean called buzzing | rattle told | rattle called buzzing |"
    );
    println!("|{}", " --- |".repeat(8));
    let all = recorded.all(REPORTED)?;
    for (name, judged) in &all {
        println!("{}", row(name, &judged.iter().collect::<Vec<_>>()));
    }
    let makers = all
        .iter()
        .take(LEFT_OUT.len())
        .flat_map(|(_, judged)| judged);
    let makers: Vec<&Judged> = makers.collect();
    println!("{}", row("all makers", &makers));
    unlearnt(recorded)?;
    cues(&makers);
    recorded_only(recorded)?;
    real_strums(recorded.folder)
}

/// What is found, and called so falsely, where one cue is hidden from the network.
fn cues(makers: &[&Judged]) {
    println!(
        "\n| hidden | found at 1-3 / 3-6 / over 6 dB | clean called buzzing | hard clean called buzzing |"
    );
    println!("|{}", " --- |".repeat(4));
    for hidden in [None, Some(0), Some(1), Some(2)] {
        let told = |j: &Judged| {
            let said = hidden.map_or(&j.said, |cue: usize| &j.hidden[cue]);
            buzz::found(said).is_any()
        };
        let of = |is: &dyn Fn(&Judged) -> bool| share(makers.iter().copied(), is, told);
        let found = LIFTS_DB.map(|(low, high)| of(&|j| j.is_one(low, high)));
        println!(
            "| {} | {} | {} | {} |",
            hidden.map_or("nothing", |cue| CUES[cue]),
            found.join(" / "),
            of(&|j| j.subject == Truly::Clean),
            of(&|j| j.subject == Truly::HardClean)
        );
    }
}

/// Seeds of takes of recorded notes alone: of those that are reported, and of those that thresholds are chosen by.
const REPORTED_ALONE: u64 = 0x5EED_0B77;
const CHOSEN_BY_ALONE: u64 = 0x5EED_1B77_0000;

/// Takes of recorded notes alone that are said to buzz.
fn recorded_only(recorded: &Recorded<'_>) -> anyhow::Result<()> {
    println!(
        "\n| recorded notes alone of | clean takes called buzzing | takes with other faults called buzzing |"
    );
    println!("|{}", " --- |".repeat(3));
    let (mut all, mut called) = ([0; 2], [0; 2]);
    for (guitar, of) in recorded.guitars.iter().enumerate() {
        let (mut own, mut own_called) = ([0; 2], [0; 2]);
        for (clean, said) in recorded.alone(guitar, REPORTED_ALONE)? {
            own[usize::from(!clean)] += 1;
            own_called[usize::from(!clean)] += usize::from(buzz::found(&said).is_any());
        }
        println!(
            "| {} | {} of {} | {} of {} |",
            of.name, own_called[0], own[0], own_called[1], own[1]
        );
        for kind in 0..2 {
            all[kind] += own[kind];
            called[kind] += own_called[kind];
        }
    }
    println!(
        "| all | {} of {} | {} of {} |",
        called[0], all[0], called[1], all[1]
    );
    Ok(())
}

/// Real strums: chords of comping, and running strums of four chords by line and by phone.
fn real_strums(folder: &Path) -> anyhow::Result<()> {
    let networks = all_makers(folder)?;
    println!(
        "\n| real strums | takes called buzzing | strings named | takes said to rattle | by line and by phone: heard in both, called in one, called in both, the same string named |"
    );
    println!("|{}", " --- |".repeat(5));
    for name in [LEARNT_COMPING, REPORTED_COMPING] {
        let strums: Vec<Running> = comped(name)?
            .into_iter()
            .map(|c| Running {
                strum: c.strum,
                frets: c.frets,
                file: name.to_owned(),
            })
            .collect();
        called(&format!("comping {}", &name[..2]), &strums, &networks);
    }
    let all = [&LEARNT_RUNS[..], &CHOSEN_BY_RUNS, &REPORTED_RUNS].concat();
    for run in all {
        called(&format!("run {run}"), &running(&[run])?, &networks);
    }
    called(
        "runs that are reported",
        &running(&REPORTED_RUNS)?,
        &networks,
    );
    Ok(())
}

/// The built-in networks, but for the one for buzz where the folder has another that knows all makers.
fn all_makers(folder: &Path) -> anyhow::Result<Networks> {
    let mut networks = Networks::built_in();
    let file = folder.join("buzz.safetensors");
    if file.exists() {
        networks.buzz = buzz::Network::read(&std::fs::read(file)?)?;
    }
    Ok(networks)
}

/// What is said of strums.
fn said_of(strums: &[Running], networks: &Networks) -> Vec<buzz::Said> {
    // They are recorded at one rate.
    let rate_hz = strums
        .first()
        .map_or(notes::NOTE_RATE_HZ, |r| r.strum.rate_hz);
    let ears = || Ears::at(networks, rate_hz);
    strums
        .par_iter()
        .map_init(ears, |ears, r| ears.hear_strum(&r.strum, &r.frets).0)
        .collect()
}

/// A row of takes that are said to buzz.
fn called(name: &str, strums: &[Running], networks: &Networks) {
    let said = said_of(strums, networks);
    let found: Vec<Found> = said.iter().map(buzz::found).collect();
    let count = |is: &dyn Fn(&Found) -> bool| found.iter().filter(|f| is(f)).count();
    println!(
        "| {name} | {} of {} | {} | {} | {} |",
        count(&Found::is_any),
        strums.len(),
        found.iter().flat_map(|f| f.strings).flatten().count(),
        count(&|f| f.rattle.is_some()),
        in_both(strums, &found)
    );
}

/// Of strums that two recordings of the same playing have: how many, and how many are said to buzz in one, in both, and on
/// the same string. What only a recording adds is not in both.
fn in_both(strums: &[Running], found: &[Found]) -> String {
    let all: Vec<(&Running, &Found)> = std::iter::zip(strums, found).collect();
    let (mut heard, mut one, mut both, mut same) = (0, 0, 0, 0);
    for (place, (strum, said)) in all.iter().enumerate() {
        let twin = all[place + 1..].iter().find(|(other, _)| {
            let (run, by) = strum.file.rsplit_once('-').unwrap_or_default();
            let (other_run, other_by) = other.file.rsplit_once('-').unwrap_or_default();
            let apart_s = (strum.strum.start_s() - other.strum.start_s()).abs();
            run == other_run && by != other_by && apart_s < SAME_S && strum.frets == other.frets
        });
        let Some((_, other)) = twin else { continue };
        heard += 1;
        one += usize::from(said.is_any() != other.is_any());
        both += usize::from(said.is_any() && other.is_any());
        same += usize::from(
            (0..STRINGS).any(|s| said.strings[s].is_some() && other.strings[s].is_some()),
        );
    }
    format!("{heard}, {one}, {both}, {same}")
}

fn row(name: &str, takes: &[&Judged]) -> String {
    let all = || takes.iter().copied();
    let told = |j: &Judged| j.found().is_any();
    let one = |j: &Judged| j.is_one(1.0, f64::INFINITY);
    let is = |subject: Truly| move |j: &Judged| j.subject == subject;
    let found = LIFTS_DB.map(|(low, high)| share(all(), |j| j.is_one(low, high), told));
    let silent = |j: &Judged| !told(j) && j.found().rattle.is_none();
    format!(
        "| {name} | {} | {} | {} / {} | {} | {} | {} | {} |",
        found.join(" / "),
        share(all(), |j| one(j) && told(j), Judged::is_right),
        share(all(), Judged::is_several, told),
        share(all(), Judged::is_several, silent),
        share(all(), is(Truly::Clean), told),
        share(all(), is(Truly::HardClean), told),
        share(all(), is(Truly::Rattle), |j| j.found().rattle.is_some()),
        share(all(), is(Truly::Rattle), told),
    )
}
