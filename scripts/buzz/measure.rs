//! The tables that are published.

use ringtrue::strings::buzz::{self, BuzzProbabilities};
use ringtrue::synth::buzz::Maker;

use crate::ears::CUES;
use crate::judged::{Judged, Truly, share};
use crate::real::real_strums;
use crate::recorded::{LEFT_OUT, REPORTED, Recorded};

/// Bounds of the lifts that are reported, in dB: from faint to plain.
pub const LIFTS_DB: [(f64, f64); 3] = [(1.0, 3.0), (3.0, 6.0), (6.0, f64::INFINITY)];
/// The maker that no network learns, on all guitars, each by networks that never heard it.
pub fn unlearnt(recorded: &Recorded<'_>) -> anyhow::Result<()> {
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

pub fn measure(recorded: &Recorded<'_>) -> anyhow::Result<()> {
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
    let mut alone = Vec::new();
    for guitar in 0..recorded.guitars.len() {
        alone.push(recorded.alone(guitar, REPORTED_ALONE)?);
    }
    let any: Vec<f32> = alone.iter().flatten().map(|(_, said)| said.any).collect();
    possible(&makers, &any);
    cues(&makers);
    recorded_only(recorded, &alone);
    real_strums(recorded.folder)
}

/// Bounds of the probability that something buzzes, up to where it is told.
const POSSIBLE: [f32; 5] = [0.2, 0.3, 0.5, 0.7, 0.9];

/// How many takes lie between which probabilities, and how many of them buzz; `alone`: what is said of recorded notes alone.
pub fn possible(makers: &[&Judged], alone: &[f32]) {
    println!(
        "\n| something buzzes, probability | takes that buzz, of those so told | the likeliest string does, of those | one string over 6 dB | 3-6 dB | 1-3 dB | several | clean | hard clean | rattle | recorded notes alone |"
    );
    println!("|{}", " --- |".repeat(11));
    for bounds in POSSIBLE.windows(2) {
        let within = |any: f32| (bounds[0]..bounds[1]).contains(&any);
        let so = |j: &Judged| within(j.said.any);
        let all = || makers.iter().copied();
        let clean =
            |j: &Judged| matches!(j.subject, Truly::Clean | Truly::HardClean | Truly::Rattle);
        let buzzes = |j: &Judged| matches!(j.subject, Truly::Buzz { .. });
        let [faint, middle, plain] =
            LIFTS_DB.map(|(low, high)| share(all(), |j| j.is_one(low, high), so));
        println!(
            "| {} to {} | {} | {} | {plain} | {middle} | {faint} | {} | {} | {} | {} | {} of {} |",
            bounds[0],
            bounds[1],
            share(all(), |j| so(j) && (buzzes(j) || clean(j)), buzzes),
            share(all(), |j| so(j) && buzzes(j), Judged::is_likeliest_right),
            share(all(), Judged::is_several, so),
            share(all(), |j| j.subject == Truly::Clean, so),
            share(all(), |j| j.subject == Truly::HardClean, so),
            share(all(), |j| j.subject == Truly::Rattle, so),
            alone.iter().filter(|any| within(**any)).count(),
            alone.len(),
        );
    }
}

/// What is found, and called so falsely, where one cue is hidden from the network.
pub fn cues(makers: &[&Judged]) {
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
pub const REPORTED_ALONE: u64 = 0x5EED_0B77;
pub const CHOSEN_BY_ALONE: u64 = 0x5EED_1B77_0000;

/// Takes of recorded notes alone that are said to buzz.
pub fn recorded_only(recorded: &Recorded<'_>, alone: &[Vec<(bool, BuzzProbabilities)>]) {
    println!(
        "\n| recorded notes alone of | clean takes called buzzing | takes with other faults called buzzing |"
    );
    println!("|{}", " --- |".repeat(3));
    let (mut all, mut called) = ([0; 2], [0; 2]);
    for (of, takes) in recorded.guitars.iter().zip(alone) {
        let (mut own, mut own_called) = ([0; 2], [0; 2]);
        for (clean, said) in takes {
            own[usize::from(!*clean)] += 1;
            own_called[usize::from(!*clean)] += usize::from(buzz::found(said).is_any());
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
}

pub fn row(name: &str, takes: &[&Judged]) -> String {
    let all = || takes.iter().copied();
    let told = |j: &Judged| j.found().is_any();
    let one = |j: &Judged| j.is_one(1.0, f64::INFINITY);
    let is = |subject: Truly| move |j: &Judged| j.subject == subject;
    let found = LIFTS_DB.map(|(low, high)| share(all(), |j| j.is_one(low, high), told));
    let silent = |j: &Judged| {
        let found = j.found();
        !found.is_any() && found.rattle.is_none() && found.possible.is_none()
    };
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
