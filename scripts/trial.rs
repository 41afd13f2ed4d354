//! Measures trials on simulated players, and prints the tables of fixtures/measured/trial.md.
//! trial pool FOLDER OUT develop|report VARIANTS SEED: composes the strums of guitars, has networks judge them that never heard
//! the guitar (FOLDER, as scripts/accuracy has them trained), and measures hundreds of trials drawn from them.

use std::collections::HashMap;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::strings::{Learnt, Networks};
use ringtrue::synth::buzz::{Maker, Material, contact};
use ringtrue::synth::compose::Conditions;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::trial::learning::{Known, Lesson, learn};
use ringtrue::trial::plan::{FAULTS, can};
use ringtrue::trial::simulated::{Player, done};
use ringtrue::trial::{Choice, Deed, Plan, Score, Step, sum};
use ringtrue::verdict::{Analyser, Evidence, Settings, Voicing};

/// Chords of every trial: as many with a barre as without.
const CHORDS: [&str; 8] = [
    "022100", "x02220", "x32010", "xx0232", "133211", "x13331", "x24432", "355333",
];
/// Guitars by their place in `synth::notes::all`; one of a sound bank goes with the recorded one of its kind. What learning
/// rests on was chosen on the first group alone.
const DEVELOP: [usize; 5] = [1, 9, 3, 10, 5];
const REPORT: [usize; 6] = [0, 8, 2, 7, 4, 6];
/// Share of the deeds that are done late, wrongly or not at all.
const WRONG: f64 = 0.1;
/// Trials of each guitar and length.
const TRIALS: usize = 400;
/// Share of a pool that trials are drawn from; what they teach is tried on the rest.
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

fn share(share: ringtrue::practice::Share) -> f64 {
    share.share().unwrap_or(f64::NAN)
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, group, variants, seed] = &arguments[..] else {
        anyhow::bail!("four arguments expected: FOLDER develop|report VARIANTS SEED");
    };
    let which: &[usize] = match &**group {
        "develop" => &DEVELOP,
        "report" => &REPORT,
        other => anyhow::bail!("develop or report expected, not {other}"),
    };
    let (variants, seed): (usize, u64) = (variants.parse()?, seed.parse()?);
    let mut guitars = notes::all(Path::new("fixtures"))?;
    notes::leave_contact_out(&mut guitars);
    let contact = contact::load(Path::new("fixtures/contact"))?;
    let mut pools = Vec::new();
    for &which in which {
        let began = std::time::Instant::now();
        pools.push(Pool::compose(
            which,
            &guitars,
            &contact,
            Path::new(folder),
            variants,
            seed,
        )?);
        eprintln!(
            "{}: {:.0} s",
            guitars[which].name,
            began.elapsed().as_secs_f64()
        );
    }
    coverage(&pools, seed);
    gains(&pools, seed);
    Ok(())
}

/// How often the reported share lies where its own range says.
fn coverage(pools: &[Pool], seed: u64) {
    println!(
        "| minutes | deeds not as asked | trials | takes, as labelled | takes, as done | strings, as labelled | strings, as done |"
    );
    println!("|{}", " --- |".repeat(7));
    for minutes in MINUTES {
        for wrong in [0.0, WRONG] {
            let (mut hit, mut all) = ([0usize; 4], 0usize);
            for (number, pool) in pools.iter().enumerate() {
                let scores: Vec<[Score; 2]> = (0..TRIALS)
                    .into_par_iter()
                    .map(|trial| {
                        let own = seed
                            ^ ((number * TRIALS + trial) as u64) << 8
                            ^ u64::from(minutes) << 40;
                        let mut rng = SmallRng::seed_from_u64(own);
                        let takes = pool.trial(minutes, 0, wrong, &mut rng);
                        let nothing = Learnt::default();
                        [
                            score(
                                takes.iter().map(|(known, _)| (known, &known.deeds)),
                                &nothing,
                            ),
                            score(
                                takes.iter().map(|(known, really)| (known, really)),
                                &nothing,
                            ),
                        ]
                    })
                    .collect();
                // What so many trials come to together is the truth that one of them is held against.
                let mut truth = [Score::default(), Score::default()];
                for score in &scores {
                    truth[0].add_all(&score[0]);
                    truth[1].add_all(&score[1]);
                }
                for [said, _] in &scores {
                    all += 1;
                    for (place, (share_of, truth)) in [
                        (said.takes, truth[0].takes),
                        (said.takes, truth[1].takes),
                        (said.strings, truth[0].strings),
                        (said.strings, truth[1].strings),
                    ]
                    .into_iter()
                    .enumerate()
                    {
                        let (low, high) = share_of.interval();
                        hit[place] += usize::from((low..=high).contains(&share(truth)));
                    }
                }
            }
            let percent = hit.map(|hit| format!("{:.1} %", 100.0 * hit as f64 / all as f64));
            println!("| {minutes} | {wrong} | {all} | {} |", percent.join(" | "));
        }
    }
}

/// What learning brings on strums that no trial drew.
fn gains(pools: &[Pool], seed: u64) {
    for minutes in MINUTES {
        println!("\n{minutes} minutes\n");
        println!(
            "| guitar | strings right, built in | with what was learnt | gained of what is missing | worst trial | trials that learnt | loses more than 0.005 | false alarms, built in / learnt | faults called, built in / learnt | mean offsets |"
        );
        println!("|{}", " --- |".repeat(10));
        for (number, pool) in pools.iter().enumerate() {
            let mut rng = SmallRng::seed_from_u64(seed + 77 + number as u64);
            // All that is not drawn, as often as plans ask for it.
            let rest: Vec<(Known, [Deed; STRINGS])> = (0..40)
                .flat_map(|_| pool.trial(10, 1, 0.0, &mut rng))
                .collect();
            let of_rest = |learnt: &Learnt| score(rest.iter().map(|(k, d)| (k, d)), learnt);
            let before = of_rest(&Learnt::default());
            let lessons: Vec<(Lesson, Score)> = (0..TRIALS / 4)
                .into_par_iter()
                .map(|trial| {
                    let mut rng = SmallRng::seed_from_u64(
                        seed + 991 * (trial as u64 + 1) + u64::from(minutes),
                    );
                    let takes: Vec<Known> = pool
                        .trial(minutes, 0, WRONG, &mut rng)
                        .into_iter()
                        .map(|t| t.0)
                        .collect();
                    let lesson = learn(&takes);
                    let after = match lesson.learnt.is_nothing() {
                        true => before.clone(),
                        false => of_rest(&lesson.learnt),
                    };
                    (lesson, after)
                })
                .collect();
            let base = share(before.strings);
            let after: Vec<f64> = lessons.iter().map(|l| share(l.1.strings)).collect();
            let mean = after.iter().sum::<f64>() / after.len() as f64;
            let worst = after.iter().copied().fold(1.0, f64::min);
            let learning = lessons.iter().filter(|l| !l.0.learnt.is_nothing()).count();
            let losing = after.iter().filter(|after| **after < base - 0.005).count();
            let mean_of = |of: fn(&Score) -> f64| {
                lessons.iter().map(|l| of(&l.1)).sum::<f64>() / lessons.len() as f64
            };
            let alarms = |s: &Score| share(sum(&s.false_alarms()));
            let found = |s: &Score| share(sum(&s.found()));
            let offset = |of: fn(&Learnt) -> f32| {
                lessons.iter().map(|l| of(&l.0.learnt)).sum::<f32>() / lessons.len() as f32
            };
            println!(
                "| {} | {base:.4} | {mean:.4} | {:.2} | {:+.4} | {learning} of {} | {losing} | {:.4} / {:.4} | {:.3} / {:.3} | {:+.2} {:+.2} {:+.2} |",
                pool.name,
                (mean - base) / (1.0 - base).max(1e-9),
                worst - base,
                lessons.len(),
                alarms(&before),
                mean_of(alarms),
                found(&before),
                mean_of(found),
                offset(|l| l.rings),
                offset(|l| l.unwanted),
                offset(|l| l.buzzes),
            );
        }
    }
}
