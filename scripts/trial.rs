//! Measures trials on simulated players, and prints the tables of fixtures/measured/trial.md.
//! trial FOLDER develop|report|GUITARS VARIANTS SEED [dump | SPREAD ...]: composes the strums of guitars (GUITARS: their places in
//! `synth::notes::all`, as in 0,8), has networks judge them that never heard the guitar (FOLDER, as scripts/accuracy has them
//! trained), and measures hundreds of trials drawn from them. Each guitar is told by itself, then all together.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning, string_number};
use ringtrue::practice::Share;
use ringtrue::strings::{Learnt, Networks};
use ringtrue::synth::buzz::{Maker, Material, contact};
use ringtrue::synth::compose::Conditions;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::trial::learning::{KnownTake, Learning, SPREAD, learn_within};
use ringtrue::trial::plan::{FAULTS, can};
use ringtrue::trial::range::{Before, ToldTake, range};
use ringtrue::trial::run::is_asked_about;
use ringtrue::trial::simulated::{Player, done};
use ringtrue::trial::{Choice, Deed, PlannedStrum, Score, TrialPlan, sum};
use ringtrue::verdict::{
    Analyser, AnalyserSettings, Evidence, ExpectedVoicing, JudgedTake, Verdict,
};

/// Chords of every trial, with a barre and without.
const CHORDS: [&str; 5] = ["022100", "x32010", "xx0232", "133211", "x13331"];
/// Guitars by their place in `synth::notes::all`; one of a sound bank goes with the recorded one of its kind. What is chosen by
/// measuring is to be chosen on the first group alone.
const DEVELOP: [usize; 5] = [1, 9, 3, 10, 5];
const REPORT: [usize; 6] = [0, 8, 2, 7, 4, 6];
/// Share of the deeds that are done late, wrongly or not at all.
const WRONG: f64 = 0.1;
/// Players: as asked always; not always; not always, but asked back, and answering rightly so often.
const PLAYERS: [(f64, Option<f64>); 4] = [
    (0.0, None),
    (WRONG, None),
    (WRONG, Some(1.0)),
    (WRONG, Some(0.9)),
];
/// A step is played so often before it is left out.
const TRIES: usize = 4;
/// Trials of each guitar and length: for the ranges, for learning, and those that what was learnt is tried on.
const TRIALS: usize = 400;
const LESSONS: usize = 100;
const REST_TRIALS: usize = 20;
/// Lengths of trials, in minutes.
const MINUTES: [u8; 3] = [3, 5, 10];

/// A strum that was composed.
struct Pooled {
    step: PlannedStrum,
    evidence: Option<Evidence>,
}

impl Pooled {
    /// What is known of it, done as asked.
    fn known(&self) -> KnownTake {
        KnownTake {
            deeds: self.step.deeds(),
            evidence: self.evidence.clone(),
        }
    }
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
            .map(|f| ExpectedVoicing::usual(f.parse().expect("frets"), None, &tuning))
            .to_vec(),
        deeds: FAULTS.to_vec(),
    }
}

fn place(step: &PlannedStrum) -> (usize, Deed, Option<usize>) {
    let frets = step.voicing.frets.to_string();
    let chord = CHORDS
        .iter()
        .position(|known| *known == frets)
        .expect("a chord of the list");
    (chord, step.deed, step.string)
}

/// Everything that a plan can ask.
fn all_steps(choice: &Choice) -> Vec<PlannedStrum> {
    let mut steps = Vec::new();
    for voicing in &choice.chords {
        let step = |deed, string| PlannedStrum {
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
        let settings = AnalyserSettings {
            tuning,
            rate_hz: NOTE_RATE_HZ,
        };
        let maker = unheard_maker(which, folder)?;
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
        let times = |step: &PlannedStrum| {
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

    /// All strums, each with its half.
    fn all(&self) -> impl Iterator<Item = (usize, &Pooled)> {
        let halves = self
            .strums
            .values()
            .flat_map(|halves| halves.iter().enumerate());
        halves.flat_map(|(half, some)| some.iter().map(move |pooled| (half, pooled)))
    }

    /// Writes a line for each strum: guitar, half of the pool, chord, deed and string of the step, then deed and verdict of each
    /// string, 6 to 1.
    fn dump(&self) {
        for (half, pooled) in self.all() {
            let step = &pooled.step;
            let string = step
                .string
                .map_or(String::new(), |index| string_number(index).to_string());
            let take = pooled.evidence.as_ref().map(|e| e.take(&Learnt::default()));
            let said = take
                .filter(JudgedTake::judged)
                .map(|take| take.strings.map(|string| string.verdict.word()));
            let said = said.unwrap_or(["not judged"; STRINGS]);
            let strings = step.deeds().into_iter().zip(said);
            let strings: Vec<String> = strings
                .map(|(deed, said)| format!("{},{said}", deed.word()))
                .collect();
            let (frets, deed) = (&step.voicing.frets, step.deed.word());
            println!(
                "{},{half},{frets},{deed},{string},{}",
                self.name,
                strings.join(",")
            );
        }
    }

    /// A strum of what is done, from one half or from all.
    fn draw(
        &self,
        step: &PlannedStrum,
        half: Option<usize>,
        rng: &mut SmallRng,
    ) -> Option<&Pooled> {
        let halves = self.strums.get(&place(step))?;
        let some: Vec<&Pooled> = match half {
            Some(half) => halves[half].iter().collect(),
            None => halves.iter().flatten().collect(),
        };
        (!some.is_empty()).then(|| some[rng.random_range(0..some.len())])
    }

    /// A trial: what the player believes, and what was really done, of each strum that is kept.
    fn trial(
        &self,
        minutes: u8,
        half: Option<usize>,
        (wrong, answers): (f64, Option<f64>),
        rng: &mut SmallRng,
    ) -> Vec<(KnownTake, [Deed; STRINGS])> {
        let plan = TrialPlan::draw(&choice(), minutes, rng.random());
        let mut takes = Vec::new();
        for (number, asked) in plan.steps.iter().enumerate() {
            for _ in 0..TRIES {
                let really = done(asked, wrong, rng);
                let Some(pooled) = self.draw(&really, half, rng) else {
                    continue;
                };
                if let Some(rightly) = answers {
                    let take = pooled.evidence.as_ref().map(|e| e.take(&Learnt::default()));
                    let told = take.is_some_and(|take| asked.is_told_by(&take));
                    let as_asked = (really == *asked) == rng.random_bool(rightly);
                    if is_asked_about(number, told) && !as_asked {
                        continue;
                    }
                }
                let known = KnownTake {
                    deeds: asked.deeds(),
                    evidence: pooled.evidence.clone(),
                };
                takes.push((known, really.deeds()));
                break;
            }
        }
        takes
    }
}

/// The maker of buzz that the network without this guitar never heard, as scripts/tools.sh has it: the one whose number is the
/// first guitar's of the group that the network's file names.
fn unheard_maker(guitar: usize, folder: &Path) -> anyhow::Result<Maker> {
    for entry in std::fs::read_dir(folder)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        let group = name
            .strip_prefix("buzz.")
            .and_then(|name| name.strip_suffix(".safetensors"));
        let numbers = group.into_iter().flat_map(|group| group.split(','));
        let group: Vec<usize> = numbers.filter_map(|number| number.parse().ok()).collect();
        if group.contains(&guitar) {
            return Ok(Maker::LEARNT[group[0]]);
        }
    }
    anyhow::bail!("no network for buzz without guitar {guitar}")
}

fn score<'a>(
    takes: impl IntoIterator<Item = (&'a KnownTake, &'a [Deed; STRINGS])>,
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
    let dumps = more.first().is_some_and(|word| word == "dump");
    // Other spreads of the guitars, with which learning is tried.
    let mut spreads = vec![SPREAD];
    if !dumps && !more.is_empty() {
        spreads = more
            .iter()
            .map(|text| text.parse())
            .collect::<Result<_, _>>()?;
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
        if dumps {
            pool.dump();
            continue;
        }
        println!("\n## {}\n", pool.name);
        let mut rng = SmallRng::seed_from_u64(seed + 77);
        // All that learning does not draw, as often as plans ask for it.
        let rest: Vec<(KnownTake, [Deed; STRINGS])> = (0..REST_TRIALS)
            .flat_map(|_| pool.trial(10, Some(1), PLAYERS[0], &mut rng))
            .collect();
        kinds(&rest);
        hindsight(&rest);
        for spread in &spreads {
            println!("Learnt with a spread of {spread}:\n");
            gains(&pool, &rest, seed, *spread);
        }
        coverage(std::slice::from_ref(&pool), seed);
        pools.push(pool);
    }
    if dumps {
        return Ok(());
    }
    println!("\n## All\n");
    before(&pools);
    coverage(&pools, seed);
    Ok(())
}

/// How often a player who is asked back answers rightly, in a word.
fn answered((_, answers): (f64, Option<f64>)) -> String {
    answers.map_or("no".to_owned(), |rightly| rightly.to_string())
}

/// What one trial reports: of takes and of strings, the share and its range.
type Reported = [(Share, (f64, f64)); 2];

fn reported(takes: &[(KnownTake, [Deed; STRINGS])]) -> Reported {
    let nothing = Learnt::default();
    let told: Vec<(ToldTake, ToldTake)> = takes.iter().map(|take| take.0.told(&nothing)).collect();
    let strings: Vec<ToldTake> = told.iter().map(|told| told.0).collect();
    let whole: Vec<ToldTake> = told.iter().map(|told| told.1).collect();
    [
        range(&whole, &Before::OF_TAKES),
        range(&strings, &Before::OF_STRINGS),
    ]
}

/// What is known of a take before it is heard, as `range::Before` has it, every kind of deed on every guitar counted alike.
fn before(pools: &[Pool]) {
    println!("| cases | wrong ones of a take | squared | takes that this counts as much as |");
    println!("|{}", " --- |".repeat(4));
    type Pick = fn((ToldTake, ToldTake)) -> ToldTake;
    let cases: [(&str, Pick); 2] = [("takes", |told| told.1), ("strings", |told| told.0)];
    for (name, pick) in cases {
        let mut kinds: BTreeMap<(usize, Deed), Vec<f64>> = BTreeMap::new();
        for (guitar, pool) in pools.iter().enumerate() {
            for (_, pooled) in pool.all() {
                let told = pick(pooled.known().told(&Learnt::default()));
                let kind = kinds.entry((guitar, told.kind)).or_default();
                kind.push(f64::from(told.of - told.right));
            }
        }
        let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
        let over = |of: &dyn Fn(&[f64]) -> f64| {
            mean(&kinds.values().map(|kind| of(kind)).collect::<Vec<_>>())
        };
        let squared = |of: &[f64]| mean(&of.iter().map(|x| x * x).collect::<Vec<_>>());
        let count = |of: &[f64]| of.len() as f64;
        let variance =
            |of: &[f64]| (squared(of) - mean(of).powi(2)) * count(of) / (count(of) - 1.0);
        let means: Vec<f64> = kinds.values().map(|kind| mean(kind)).collect();
        // What lies between kinds, less the luck of so few strums of each.
        let between = variance(&means) - over(&|kind| variance(kind) / count(kind));
        println!(
            "| {name} | {:.3} | {:.3} | {:.2} |",
            over(&mean),
            over(&squared),
            over(&variance) / between
        );
    }
    println!();
}

/// How often the true share lies where the range of a trial says, trials drawn from all strums: a pool of few makes the luck of a
/// trial smaller than that of a player. "Labelled": against what trials with the same player come to
/// in the long run; "true": against what trials with a player come to who does everything as asked.
fn coverage(pools: &[Pool], seed: u64) {
    println!(
        "| minutes | deeds not as asked | asked back, answered rightly | trials | takes, labelled | takes, true | strings, labelled | strings, true |"
    );
    println!("|{}", " --- |".repeat(8));
    for minutes in MINUTES {
        // What the first player's trials come to, for each guitar: takes, strings.
        let mut truths: Vec<[Share; 2]> = Vec::new();
        for player in PLAYERS {
            let (mut hit, mut all) = ([0usize; 4], 0usize);
            for (number, pool) in pools.iter().enumerate() {
                let trials: Vec<Reported> = (0..TRIALS)
                    .into_par_iter()
                    .map(|trial| {
                        let own = seed
                            ^ (((number * TRIALS + trial) as u64) << 8)
                            ^ (u64::from(minutes) << 40);
                        let mut rng = SmallRng::seed_from_u64(own);
                        reported(&pool.trial(minutes, None, player, &mut rng))
                    })
                    .collect();
                let mut labelled = [Share::default(); 2];
                for trial in &trials {
                    for (sum, (share, _)) in labelled.iter_mut().zip(trial) {
                        sum.add_all(*share);
                    }
                }
                if player == PLAYERS[0] {
                    truths.push(labelled);
                }
                for trial in &trials {
                    all += 1;
                    for (of, (_, (low, high))) in trial.iter().enumerate() {
                        for (against, truth) in
                            [labelled[of], truths[number][of]].into_iter().enumerate()
                        {
                            let is_in = (*low..=*high).contains(&share(truth));
                            hit[2 * of + against] += usize::from(is_in);
                        }
                    }
                }
            }
            let percent = hit.map(|hit| format!("{:.1} %", 100.0 * hit as f64 / all as f64));
            println!(
                "| {minutes} | {} | {} | {all} | {} |",
                player.0,
                answered(player),
                percent.join(" | ")
            );
        }
    }
}

/// What is missing, by deed: strings that are not told right in takes with this deed.
fn kinds(rest: &[(KnownTake, [Deed; STRINGS])]) {
    println!(
        "| deed | takes | wrong strings | of which: whole take not judged | the string itself: said to be right | unsure | another fault | other strings |"
    );
    println!("|{}", " --- |".repeat(8));
    let mut by: BTreeMap<Deed, [usize; 7]> = BTreeMap::new();
    for (known, _) in rest {
        let done = known.deeds.iter().copied().find(|deed| deed.is_fault());
        let counts = by.entry(done.unwrap_or(Deed::Clean)).or_default();
        counts[0] += 1;
        let take = known.evidence.as_ref().map(|e| e.take(&Learnt::default()));
        let Some(take) = take.filter(|take| take.judged()) else {
            counts[1] += known.counted() as usize;
            counts[2] += known.counted() as usize;
            continue;
        };
        for (deed, said) in known.deeds.iter().zip(&take.strings) {
            if *deed == Deed::Unknown || deed.told_in(said) {
                continue;
            }
            counts[1] += 1;
            let why = match (deed.is_fault(), said.verdict) {
                (false, _) => 6,
                (true, Verdict::Clean | Verdict::Silent) => 3,
                (true, Verdict::Unsure) => 4,
                (true, _) => 5,
            };
            counts[why] += 1;
        }
    }
    for (deed, counts) in by {
        let counts = counts.map(|count| count.to_string());
        println!("| {} | {} |", deed.word(), counts.join(" | "));
    }
    println!();
}

/// What the best numbers would gain, chosen with hindsight on the very strums that they are tried on: one offset of each kind for
/// the guitar, and one of each kind for every string. No way to learn the same numbers can gain more.
fn hindsight(rest: &[(KnownTake, [Deed; STRINGS])]) {
    let set: [fn(&mut Learnt, f32); 3] = [
        |learnt, to| learnt.rings = to,
        |learnt, to| learnt.unwanted = to,
        |learnt, to| learnt.buzzes = to,
    ];
    // Right strings by string, with each offset alone; the first place is none.
    let offsets: Vec<f32> = std::iter::once(0.0)
        .chain((-24..=24).map(|n| n as f32 / 4.0))
        .collect();
    let right = |learnt: &Learnt| {
        let mut right = [0i64; STRINGS];
        for (known, _) in rest {
            let take = known.evidence.as_ref().map(|e| e.take(learnt));
            let Some(take) = take.filter(|take| take.judged()) else {
                continue;
            };
            for (string, (deed, said)) in known.deeds.iter().zip(&take.strings).enumerate() {
                right[string] += i64::from(deed.told_in(said));
            }
        }
        right
    };
    let before: i64 = right(&Learnt::default()).iter().sum();
    let of: i64 = rest
        .iter()
        .map(|(known, _)| i64::from(known.counted()))
        .sum();
    let missing = (of - before).max(1) as f64;
    let mut row = Vec::new();
    let (mut together, mut each) = (Learnt::default(), 0);
    for set in set {
        let by: Vec<[i64; STRINGS]> = (offsets.par_iter())
            .map(|offset| {
                let mut learnt = Learnt::default();
                set(&mut learnt, *offset);
                right(&learnt)
            })
            .collect();
        let all = |by: &[i64; STRINGS]| by.iter().sum::<i64>();
        let best = (0..by.len()).max_by_key(|place| (all(&by[*place]), usize::MAX - place));
        let best = best.expect("an offset");
        set(&mut together, offsets[best]);
        row.push(format!(
            "{:+.2}: {:.3}",
            offsets[best],
            (all(&by[best]) - before) as f64 / missing
        ));
        each += (0..STRINGS)
            .map(|string| by.iter().map(|by| by[string]).max().unwrap_or(0) - by[0][string])
            .sum::<i64>();
    }
    let together: i64 = right(&together).iter().sum();
    println!("Hindsight, share of what is missing that offsets would gain:\n");
    println!(
        "| wrong strings | rings | unwanted | buzzes | these three | three for each string, at the most |"
    );
    println!("|{}", " --- |".repeat(6));
    println!(
        "| {} of {of} | {} | {:.3} | {:.3} |\n",
        of - before,
        row.join(" | "),
        (together - before) as f64 / missing,
        each as f64 / missing,
    );
}

/// What learning brings on strums that no trial drew.
fn gains(pool: &Pool, rest: &[(KnownTake, [Deed; STRINGS])], seed: u64, spread: f32) {
    println!(
        "| minutes | asked back, answered rightly | strings right, built in | with what was learnt | gained of what is missing | worst trial | trials that learnt | that lose more than 0.005 | false alarms, built in / learnt | faults called, built in / learnt | mean offset |"
    );
    println!("|{}", " --- |".repeat(11));
    let of_rest = |learnt: &Learnt| score(rest.iter().map(|(k, d)| (k, d)), learnt);
    let before = of_rest(&Learnt::default());
    let base = share(before.strings);
    let players = [PLAYERS[1], PLAYERS[3]];
    for (minutes, player) in MINUTES
        .into_iter()
        .flat_map(|minutes| players.map(|player| (minutes, player)))
    {
        let lessons: Vec<(Learning, Score)> = (0..LESSONS)
            .into_par_iter()
            .map(|trial| {
                let own = seed + 991 * (trial as u64 + 1) + u64::from(minutes);
                let mut rng = SmallRng::seed_from_u64(own);
                let takes = pool.trial(minutes, Some(0), player, &mut rng);
                let takes: Vec<KnownTake> = takes.into_iter().map(|take| take.0).collect();
                let lesson = learn_within(&takes, spread);
                let after = match lesson.learnt.is_nothing() {
                    true => before.clone(),
                    false => of_rest(&lesson.learnt),
                };
                (lesson, after)
            })
            .collect();
        let count = lessons.len() as f64;
        let mean = |of: &dyn Fn(&Learning, &Score) -> f64| {
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
            "| {minutes} | {} | {base:.4} | {after:.4} | {:.2} | {worst:+.4} | {learning} of {LESSONS} | {losing} | {:.4} / {:.4} | {:.3} / {:.3} | {:+.2} |",
            answered(player),
            (after - base) / (1.0 - base).max(1e-9),
            alarms(&before),
            mean(&|_, after| alarms(after)),
            found(&before),
            mean(&|_, after| found(after)),
            mean(&|lesson, _| f64::from(lesson.learnt.rings)),
        );
    }
    println!();
}
