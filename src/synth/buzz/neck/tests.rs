use super::build::Bridge;
use super::*;
use proptest::prelude::*;

/// A fret that two newtons dent by some hundredths of a millimetre.
const HARD: Hardness = Hardness {
    stiffness: 2e7,
    exponent: 1.5,
    hysteresis: 0.0,
};

/// An A string, its bridge askew to the frets.
fn a_string(lossless: bool) -> Build {
    let length_m = 0.65;
    let tension_n = 6.4e-3 * (2.0 * length_m * 110.0f64).powi(2);
    let softer = tension_n / length_m / 0.003;
    let with_loss = |loss: f64| if lossless { 0.0 } else { loss };
    Build {
        length_m,
        density_kg_m: 6.4e-3,
        f1_hz: 110.0,
        b: 1e-4,
        stretch_n: 2e4,
        loss_db_s: with_loss(9.0),
        loss_db_s_at_1_khz: with_loss(4.0),
        bridge: Bridge {
            stiffness: [softer, 4.0 * softer],
            own_hz: 10_000.0,
            resistance: with_loss(0.5),
            askew: 0.6,
        },
    }
}

/// Draws the string aside with so many newtons, lets go, and gives its energy in joules from then on.
fn energies(string: &mut GridString, force_n: f64, steps: usize) -> Vec<f64> {
    for i in 0..400 {
        let share = i as f64 / 400.0;
        let draw = Draw {
            at_m: 0.52,
            force_n: [0.6, 0.8].map(|part| part * share * force_n),
        };
        string.step(Some(&draw));
    }
    (0..steps)
        .map(|_| {
            string.step(None);
            string.energy_j()
        })
        .collect()
}

#[test]
fn without_losses_and_frets_energy_stays() {
    let mut string = GridString::new(&a_string(true), &[], HARD);
    let energies = energies(&mut string, 4.0, 10_000);
    let first = energies[0];
    let off = energies.iter().map(|e| (e / first - 1.0).abs());
    assert!(off.fold(0.0, f64::max) < 1e-9);
}

#[test]
fn energy_falls_evenly_and_never_rises() {
    let mut string = GridString::new(&a_string(false), &[], HARD);
    let energies = energies(&mut string, 4.0, 44_100);
    assert!(energies.windows(2).all(|pair| pair[1] <= pair[0]));
    // From tenth to tenth of a second the loss nears the fundamental's own and never grows again.
    let parts: Vec<f64> = energies.iter().step_by(8_820).copied().collect();
    let losses_db: Vec<f64> = parts
        .windows(2)
        .map(|pair| 10.0 * (pair[0] / pair[1]).log10())
        .collect();
    assert!(
        losses_db.windows(2).all(|pair| pair[1] < 1.05 * pair[0]),
        "{losses_db:?}"
    );
    assert!(
        (0.8..2.0).contains(losses_db.last().expect("some")),
        "{losses_db:?}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]
    #[test]
    fn frets_soft_or_hard_never_give_energy(
        gap_m in 2e-5..4e-4f64, exponent in 1.3..2.4f64, gives_m in 2e-6..6e-5f64, hysteresis in 0.0..0.8f64,
    ) {
        let hardness = Hardness { stiffness: 2.0 / gives_m.powf(exponent), exponent, hysteresis };
        let frets = [0.0365, 0.0709, 0.1034].map(|at_m| Fret { at_m, gap_m });
        let mut string = GridString::new(&a_string(false), &frets, hardness);
        let energies = energies(&mut string, 6.0, 8_820);
        let rounding = energies[0] * 1e-7;
        prop_assert!(energies.windows(2).all(|pair| pair[1] <= pair[0] + rounding));
        prop_assert!(energies.last().expect("some") < &energies[0]);
    }
}

/// By how many cents a calm string's fundamental is off, from the turn of its phase within a twentieth of a second.
fn off_cents(build: &Build) -> f64 {
    let mut string = GridString::new(build, &[], HARD);
    let draw = Draw {
        at_m: 0.75 * build.length_m,
        force_n: [0.01, 0.01],
    };
    let sound: Vec<f64> = (0..50_000)
        .map(|i| string.step((i < 100).then_some(&draw)).iter().sum())
        .collect();
    let phase = |from: usize| {
        let count = 22_050;
        let (mut re, mut im) = (0.0, 0.0);
        for i in 0..count {
            let turn = std::f64::consts::TAU * i as f64 / count as f64;
            let window = 0.5 - 0.5 * turn.cos();
            let angle = std::f64::consts::TAU * build.f1_hz * (from + i) as f64 / STEP_RATE_HZ;
            re += window * sound[from + i] * angle.cos();
            im -= window * sound[from + i] * angle.sin();
        }
        im.atan2(re)
    };
    let turned = phase(24_410) - phase(20_000);
    let turn = std::f64::consts::TAU;
    let turned = turned - turn * (turned / turn).round();
    let off_hz = turned / turn / (4_410.0 / STEP_RATE_HZ);
    1200.0 * (1.0 + off_hz / build.f1_hz).log2()
}

#[test]
fn a_string_without_contact_rings_at_its_pitch_within_three_cents() {
    for (f1_hz, length_m) in [(82.4, 0.65), (110.0, 0.65), (329.6, 0.65), (659.3, 0.325)] {
        let mut build = a_string(false);
        build.f1_hz = f1_hz;
        build.length_m = length_m;
        build.density_kg_m = 70.0 / (2.0 * length_m * f1_hz).powi(2);
        let softer = 70.0 / length_m / 0.002;
        build.bridge.stiffness = [softer, 3.0 * softer];
        let off = off_cents(&build);
        assert!(off.abs() < 3.0, "{f1_hz} Hz: {off} cents off");
    }
}

#[test]
fn halving_the_rate_keeps_what_is_heard_and_takes_out_what_would_fold() {
    let tone = |hz: f64| -> f32 {
        let samples: Vec<f32> = (0..8_820)
            .map(|i| (std::f64::consts::TAU * hz * f64::from(i) / STEP_RATE_HZ).sin() as f32)
            .collect();
        let half = halved(&samples);
        half[100..4_300]
            .iter()
            .fold(0f32, |most, s| most.max(s.abs()))
    };
    assert!((tone(1_000.0) - 1.0).abs() < 0.01);
    assert!((tone(15_000.0) - 1.0).abs() < 0.02);
    assert!(tone(26_000.0) < 0.01);
}
