//! Measures trials on simulated players, and prints the tables of fixtures/measured/trial.md.
//! trial FOLDER develop|report|GUITARS VARIANTS SEED [PULL:GAIN ...]: composes the strums of guitars (GUITARS: their places in
//! `synth::notes::all`, as in 0,8), has networks judge them that never heard the guitar (FOLDER, as scripts/accuracy has them
//! trained), and measures hundreds of trials drawn from them. Each guitar is told by itself, then all together.

use std::collections::HashMap;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::practice::Share;
use ringtrue::strings::{Learnt, Networks};
use ringtrue::synth::buzz::{Maker, Material, contact};
use ringtrue::synth::compose::Conditions;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::trial::learning::{HOLDING, Holding, Known, Lesson, learn_holding};
use ringtrue::trial::plan::{FAULTS, can};
use ringtrue::trial::range::{Told, range};
use ringtrue::trial::simulated::{Player, done};
use ringtrue::trial::{Choice, Deed, Plan, Score, Step, sum};
use ringtrue::verdict::{Analyser, Evidence, Settings, Voicing};

/// Chords of every trial, with a barre and without.
const CHORDS: [&str; 5] = ["022100", "x32010", "xx0232", "133211", "x13331"];
/// Guitars by their place in `synth::notes::all`; one of a sound bank goes with the recorded one of its kind. What is chosen by
/// measuring is to be chosen on the first group alone.
const DEVELOP: [usize; 5] = [1, 9, 3, 10, 5];
const REPORT: [usize; 6] = [0, 8, 2, 7, 4, 6];
/// Share of the deeds that are done late, wrongly or not at all.
const WRONG: f64 = 0.1;
/// Trials of each guitar and length: for the ranges, for learning, and those that what was learnt is tried on.
const TRIALS: usize = 400;
const LESSONS: usize = 100;
const REST_TRIALS: usize = 20;
/// Lengths of trials, in minutes.
const MINUTES: [u8; 3] = [3, 5, 10];

/// A strum that was composed.
struct Pooled {
    step: Step,
    evidence: Option<Evidence>,
}

/// All strums of a guitar, by what is done: half of them to draw trials from, half to try on what was learnt.
struct Pool {
    name: String,
    strums: HashMap<(usize, Deed, Option<usize>), [Vec<Pooled>; 2]>,
}

fn choice() -> Choice {
    let tuning = Tuning::default();
    Choice {
        chords: CHORDS
            .map(|f| Voicing::usual(f.parse().expect("frets"), None, &tuning))
            .to_vec(),
        deeds: FAULTS.to_vec(),
    }
}

fn place(step: &Step) -> (usize, Deed, Option<usize>) {
    let frets = step.voicing.frets.to_string();
    let chord = CHORDS
        .iter()
        .position(|known| *known == frets)
        .expect("a chord of the list");
    (chord, step.deed, step.string)
}

/// Everything that a plan can ask.
fn all_steps(choice: &Choice) -> Vec<Step> {
    let mut steps = Vec::new();
    for voicing in &choice.chords {
        let step = |deed, string| Step {
            voicing: voicing.clone(),
            deed,
            string,
        };
        steps.push(step(Deed::Clean, None));
        for deed in FAULTS {
            let strings = (0..STRINGS).filter(|string| can(voicing, deed, *string));
            steps.extend(strings.map(|string| step(deed, Some(string))));
        }
    }
    steps
}

impl Pool {
    fn compose(
        which: usize,
        guitars: &[Guitar],
        notes_left_out: &[contact::RattlingNote],
        folder: &Path,
        variants: usize,
        seed: u64,
    ) -> anyhow::Result<Pool> {
        let networks = Networks::without(which, folder)?;
        let guitar = &guitars[which];
        let tuning = Tuning::default();
        let settings = Settings {
            tuning,
            rate_hz: NOTE_RATE_HZ,
        };
        let maker = unheard_maker(which);
        let material = Material {
            guitars: [guitar; STRINGS],
            contact: notes_left_out,
        };
        let player = Player {
            guitar,
            tuning: &tuning,
            maker,
            material: &material,
        };
        // One guitar in one room through one microphone: what differs from strum to strum is the hand.
        let mut rng = SmallRng::seed_from_u64(seed + 1_000_003 * which as u64);
        let usual = Conditions::measuring();
        let room_s = rng.random_range(usual.room_t60_s.0..usual.room_t60_s.1);
        let room_db = rng.random_range(usual.room_db.0..usual.room_db.1);
        let noise_db = rng.random_range(usual.noise_db.0..usual.noise_db.1);
        let conditions = Conditions {
            room_t60_s: (room_s, room_s + 1e-6),
            room_db: (room_db, room_db + 1e-6),
            noise_db: (noise_db, noise_db + 1e-6),
            phone: f64::from(u8::from(rng.random_bool(usual.phone))),
            ..usual
        };
        let steps = all_steps(&choice());
        // A clean strum is drawn often.
        let times = |step: &Step| {
            if step.string.is_none() {
                6 * variants
            } else {
                2 * variants
            }
        };
        let jobs: Vec<(usize, usize)> = (steps.iter().enumerate())
            .flat_map(|(at, step)| (0..times(step)).map(move |take| (at, take)))
            .collect();
        let made: Vec<(usize, usize, Pooled)> = jobs
            .into_par_iter()
            .map_init(
                || Analyser::with_networks(settings, networks.clone()),
                |analyser, (at, take)| {
                    let step = &steps[at];
                    let own = seed + (which as u64) * 10_000_000 + (at * 1000 + take) as u64;
                    let mut rng = SmallRng::seed_from_u64(own);
                    let made = player.play(step, &conditions, &mut rng)?;
                    let strum = made.found(&tuning, &step.voicing.frets);
                    let evidence =
                        strum.map(|strum| analyser.evidence(&strum, &step.voicing.frets));
                    let pooled = Pooled {
                        step: step.clone(),
                        evidence,
                    };
                    Some((at, take, pooled))
                },
            )
            .flatten()
            .collect();
        let mut strums: HashMap<_, [Vec<Pooled>; 2]> = HashMap::new();
        for (_, take, pooled) in made {
            strums.entry(place(&pooled.step)).or_default()[take % 2].push(pooled);
        }
        Ok(Pool {
            name: guitar.name.clone(),
            strums,
        })
    }

    /// A strum of what is done, from one half.
    fn draw(&self, step: &Step, half: usize, rng: &mut SmallRng) -> Option<&Pooled> {
        let some = &self.strums.get(&place(step))?[half];
        (!some.is_empty()).then(|| &some[rng.random_range(0..some.len())])
    }

    /// A trial: what the player believes, and what was really done, of each strum.
    fn trial(
        &self,
        minutes: u8,
        half: usize,
        wrong: f64,
        rng: &mut SmallRng,
    ) -> Vec<(Known, [Deed; STRINGS])> {
        let plan = Plan::draw(&choice(), minutes, rng.random());
        let mut takes = Vec::new();
        for asked in &plan.steps {
            let really = done(asked, wrong, rng);
            let Some(pooled) = self.draw(&really, half, rng) else {
                continue;
            };
            let known = Known {
                deeds: asked.deeds(),
                evidence: pooled.evidence.clone(),
            };
            takes.push((known, really.deeds()));
        }
        takes
    }
}

/// The maker of buzz that the networks without this guitar never heard: by its group in scripts/tools.sh.
fn unheard_maker(guitar: usize) -> Maker {
    const GROUPS: [&[usize]; 4] = [&[0, 4, 8], &[1, 5, 9], &[2, 6, 7], &[3, 10]];
    let group = GROUPS.iter().position(|group| group.contains(&guitar));
    Maker::ALL[group.expect("every guitar is in a group")]
}

fn score<'a>(
    takes: impl IntoIterator<Item = (&'a Known, &'a [Deed; STRINGS])>,
    learnt: &Learnt,
) -> Score {
    let mut score = Score::default();
    for (known, deeds) in takes {
        let take = known
            .evidence
            .as_ref()
            .map(|evidence| evidence.take(learnt));
        score.add(deeds, take.as_ref());
    }
    score
}

fn share(share: Share) -> f64 {
    share.share().unwrap_or(f64::NAN)
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (four, more) = arguments.split_at(arguments.len().min(4));
    let [folder, group, variants, seed] = four else {
        anyhow::bail!("four arguments expected: FOLDER develop|report VARIANTS SEED");
    };
    let which: Vec<usize> = match &**group {
        "develop" => DEVELOP.to_vec(),
        "report" => REPORT.to_vec(),
        others => others
            .split(',')
            .map(str::parse)
            .collect::<Result<_, _>>()?,
    };
    let (variants, seed): (usize, u64) = (variants.parse()?, seed.parse()?);
    // PULL:GAIN, as in 0.5:2: other ways to hold to what is built in.
    let mut holdings = Vec::new();
    for text in more {
        let (pull, gain) = text.split_once(':').unwrap_or((text, "2"));
        holdings.push(Holding {
            pull: pull.parse()?,
            least_gain: gain.parse()?,
        });
    }
    if holdings.is_empty() {
        holdings.push(HOLDING);
    }
    let mut guitars = notes::all(Path::new("fixtures"))?;
    notes::leave_contact_out(&mut guitars);
    let contact = contact::load(Path::new("fixtures/contact"))?;
    let mut pools = Vec::new();
    for which in which {
        let began = std::time::Instant::now();
        let folder = Path::new(folder);
        let pool = Pool::compose(which, &guitars, &contact, folder, variants, seed)?;
        eprintln!("{}: {:.0} s", pool.name, began.elapsed().as_secs_f64());
        println!("\n## {}\n", pool.name);
        for holding in &holdings {
            println!("Held with {holding:?}\n");
            gains(&pool, seed, *holding);
        }
        coverage(std::slice::from_ref(&pool), seed);
        pools.push(pool);
    }
    println!("\n## All\n");
    coverage(&pools, seed);
    Ok(())
}

/// What one trial reports, of takes and of strings, and what was really done, of both.
struct Reported {
    takes: (Share, (f64, f64)),
    strings: (Share, (f64, f64)),
    really: Score,
}

fn reported(takes: &[(Known, [Deed; STRINGS])]) -> Reported {
    let nothing = Learnt::default();
    let told: Vec<(Told, Told)> = takes.iter().map(|take| take.0.told(&nothing)).collect();
    let strings: Vec<Told> = told.iter().map(|told| told.0).collect();
    let whole: Vec<Told> = told.iter().map(|told| told.1).collect();
    Reported {
        takes: range(&whole),
        strings: range(&strings),
        really: score(
            takes.iter().map(|(known, really)| (known, really)),
            &nothing,
        ),
    }
}

/// How often the reported share lies where its own range says. "Labelled": against what trials with the same player come to
/// in the long run; "done": against what the player really did. Wilson's interval beside it, as labelled.
fn coverage(pools: &[Pool], seed: u64) {
    println!(
        "| minutes | deeds not as asked | trials | takes, labelled | takes, done | strings, labelled | strings, done | takes, Wilson | strings, Wilson |"
    );
    println!("|{}", " --- |".repeat(9));
    for minutes in MINUTES {
        for wrong in [0.0, WRONG] {
            let (mut hit, mut all) = ([0usize; 6], 0usize);
            for (number, pool) in pools.iter().enumerate() {
                let trials: Vec<Reported> = (0..TRIALS)
                    .into_par_iter()
                    .map(|trial| {
                        let own = seed
                            ^ (((number * TRIALS + trial) as u64) << 8)
                            ^ (u64::from(minutes) << 40);
                        let mut rng = SmallRng::seed_from_u64(own);
                        reported(&pool.trial(minutes, 0, wrong, &mut rng))
                    })
                    .collect();
                // What so many trials come to together is the truth that one of them is held against.
                let mut labelled = [Share::default(); 2];
                let mut really = Score::default();
                for trial in &trials {
                    labelled[0].add_all(trial.takes.0);
                    labelled[1].add_all(trial.strings.0);
                    really.add_all(&trial.really);
                }
                for trial in &trials {
                    all += 1;
                    let said = [trial.takes, trial.strings];
                    for (place, (within, truth)) in [
                        (said[0].1, labelled[0]),
                        (said[0].1, really.takes),
                        (said[1].1, labelled[1]),
                        (said[1].1, really.strings),
                        (said[0].0.interval(), labelled[0]),
                        (said[1].0.interval(), labelled[1]),
                    ]
                    .into_iter()
                    .enumerate()
                    {
                        let is_in = (within.0..=within.1).contains(&share(truth));
                        hit[place] += usize::from(is_in);
                    }
                }
            }
            let percent = hit.map(|hit| format!("{:.1} %", 100.0 * hit as f64 / all as f64));
            println!("| {minutes} | {wrong} | {all} | {} |", percent.join(" | "));
        }
    }
}

/// What learning brings on strums that no trial drew.
fn gains(pool: &Pool, seed: u64, holding: Holding) {
    println!(
        "| minutes | strings right, built in | with what was learnt | gained of what is missing | worst trial | trials that learnt | that lose more than 0.005 | false alarms, built in / learnt | faults called, built in / learnt | mean offsets |"
    );
    println!("|{}", " --- |".repeat(10));
    let mut rng = SmallRng::seed_from_u64(seed + 77);
    // All that is not drawn, as often as plans ask for it.
    let rest: Vec<(Known, [Deed; STRINGS])> = (0..REST_TRIALS)
        .flat_map(|_| pool.trial(10, 1, 0.0, &mut rng))
        .collect();
    let of_rest = |learnt: &Learnt| score(rest.iter().map(|(k, d)| (k, d)), learnt);
    let before = of_rest(&Learnt::default());
    let base = share(before.strings);
    for minutes in MINUTES {
        let lessons: Vec<(Lesson, Score)> = (0..LESSONS)
            .into_par_iter()
            .map(|trial| {
                let own = seed + 991 * (trial as u64 + 1) + u64::from(minutes);
                let mut rng = SmallRng::seed_from_u64(own);
                let takes = pool.trial(minutes, 0, WRONG, &mut rng);
                let takes: Vec<Known> = takes.into_iter().map(|take| take.0).collect();
                let lesson = learn_holding(&takes, holding);
                let after = match lesson.learnt.is_nothing() {
                    true => before.clone(),
                    false => of_rest(&lesson.learnt),
                };
                (lesson, after)
            })
            .collect();
        let count = lessons.len() as f64;
        let mean = |of: &dyn Fn(&Lesson, &Score) -> f64| {
            let all = lessons.iter().map(|(lesson, after)| of(lesson, after));
            all.sum::<f64>() / count
        };
        let after = mean(&|_, after| share(after.strings));
        let losses = lessons.iter().map(|(_, after)| share(after.strings) - base);
        let worst = losses.clone().fold(0.0, f64::min);
        let losing = losses.filter(|loss| *loss < -0.005).count();
        let learning = lessons.iter().filter(|(l, _)| !l.learnt.is_nothing());
        let learning = learning.count();
        let alarms = |score: &Score| share(sum(&score.false_alarms()));
        let found = |score: &Score| share(sum(&score.found()));
        println!(
            "| {minutes} | {base:.4} | {after:.4} | {:.2} | {worst:+.4} | {learning} of {LESSONS} | {losing} | {:.4} / {:.4} | {:.3} / {:.3} | {:+.2} {:+.2} {:+.2} |",
            (after - base) / (1.0 - base).max(1e-9),
            alarms(&before),
            mean(&|_, after| alarms(after)),
            found(&before),
            mean(&|_, after| found(after)),
            mean(&|lesson, _| f64::from(lesson.learnt.rings)),
            mean(&|lesson, _| f64::from(lesson.learnt.unwanted)),
            mean(&|lesson, _| f64::from(lesson.learnt.buzzes)),
        );
    }
    println!();
}
