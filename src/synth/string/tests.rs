use super::*;
use crate::decibels;
use crate::spectrum::LinePlan;
use proptest::prelude::*;

/// An A string of a steel-string guitar, from memory.
const A: Spec = Spec {
    length_m: 0.65,
    density_kg_m: 6.4e-3,
    f1_hz: 110.0,
    b: 1e-4,
    loss: Loss {
        db_s: 9.0,
        db_s_khz: 12.0,
    },
};
const PLUCK: Pluck = Pluck {
    from_bridge: 0.19,
    aside_m: 0.002,
    touch: Touch::Plectrum,
    draw_s: 0.006,
};
const FRET: Contact = Contact::Fret(Obstacle {
    at_m: 0.036,
    gap_m: 0.000_2,
    stiffness: finger::FRET_STIFFNESS,
});

/// The force on the bridge at 44.1 kHz, by `per_sample` steps a sample.
fn sound(
    spec: Spec,
    contacts: &[Contact],
    pluck: Pluck,
    per_sample: usize,
    seconds: f64,
) -> Vec<f32> {
    let mut string = PhysicalString::new(spec, contacts, 44_100.0 * per_sample as f64);
    string.pluck(&pluck);
    (0..(seconds * 44_100.0) as usize)
        .map(|_| (0..per_sample).fold(0.0, |_, _| string.step()) as f32)
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn energy_never_grows_without_a_pluck(
        fret in 0u8..13, aside_m in 0.000_5..0.004f64, gap_m in 0.0..0.000_5f64, which in 0..4,
    ) {
        let held = match which {
            0 => HeldString::new(&A, fret, Finger::Pressed, A.loss).over(1, gap_m).over(2, 2.0 * gap_m),
            1 => HeldString::new(&A, fret, Finger::Half { behind_m: 0.006, gap_m, flesh_db_s: 60.0 }, A.loss),
            2 => HeldString::new(&A, fret.max(1), Finger::Touching { resistance: 2.0 }, A.loss),
            _ => HeldString::new(&A, fret, Finger::Pressed, A.loss),
        };
        let mut string = PhysicalString::new(held.spec, &held.contacts, STEP_RATE_HZ);
        string.pluck(&Pluck { aside_m, ..PLUCK });
        while string.is_driven() {
            string.step();
        }
        let given = string.energy_j();
        prop_assert!(given > 1e-6, "the pluck gave nothing");
        let mut energy = given;
        for _ in 0..8000 {
            string.step();
            let now = string.energy_j();
            prop_assert!(now <= energy + 1e-10 * given, "{energy} J grew to {now} J");
            energy = now;
        }
        prop_assert!(energy < given);
    }
}

#[test]
fn a_string_without_losses_keeps_its_energy_though_it_hits_a_fret() {
    let loss = Loss {
        db_s: 0.0,
        db_s_khz: 0.0,
    };
    let mut string = PhysicalString::new(Spec { loss, ..A }, &[FRET], STEP_RATE_HZ);
    string.pluck(&PLUCK);
    while string.is_driven() {
        string.step();
    }
    let given = string.energy_j();
    let mut hits = 0;
    for _ in 0..40_000 {
        string.step();
        hits += usize::from(string.touches_fret());
    }
    assert!(hits > 100, "it hit the fret in {hits} steps only");
    let off = (string.energy_j() / given - 1.0).abs();
    assert!(off < 1e-7, "off by {off:e}");
}

#[test]
fn partials_agree_with_the_stiff_string_formula_to_a_cent() {
    // f_n = n f0 sqrt(1 + B n²): Fletcher, JASA 36 (1964) 203-209.
    let samples = sound(A, &[], PLUCK, 2, 1.3);
    let mut plan = LinePlan::new(44_100.0);
    let mut spectrum = plan.spectrum();
    plan.fill(&samples[2_000..], &mut spectrum);
    let f0 = flexible_hz(A.f1_hz, A.b);
    for n in 1..=30 {
        let wanted = partial_hz(f0, A.b, n);
        let (heard, standing_db) = spectrum.line_near(wanted as f32, 8.0);
        assert!(
            standing_db > 10.0,
            "partial {n} is not there: {standing_db} dB"
        );
        let cents = 1200.0 * (heard / wanted).log2();
        assert!(cents.abs() < 1.0, "partial {n}: {cents:.2} cents");
    }
}

#[test]
fn partials_die_with_the_time_set() {
    let loss = Loss {
        db_s: 12.0,
        db_s_khz: 25.0,
    };
    let spec = Spec { loss, ..A };
    let samples = sound(spec, &[], PLUCK, 2, 1.6);
    let mut plan = LinePlan::new(44_100.0);
    let (mut early, mut late) = (plan.spectrum(), plan.spectrum());
    plan.fill(&samples[4_410..26_460], &mut early);
    plan.fill(&samples[39_690..61_740], &mut late);
    let f0 = flexible_hz(A.f1_hz, A.b);
    for n in [1, 2, 3, 4, 6, 8, 12, 15] {
        let hz = partial_hz(f0, A.b, n);
        let fall_db = early.peak_db(hz as f32, 2.0) - late.peak_db(hz as f32, 2.0);
        let heard_s = 60.0 * 0.8 / f64::from(fall_db);
        let set_s = loss.t60_s(hz);
        assert!(
            (heard_s / set_s - 1.0).abs() < 0.02,
            "partial {n}: T60 {heard_s:.2} s, set {set_s:.2} s"
        );
    }
}

#[test]
fn a_touching_finger_leaves_a_thud_and_half_a_press_a_short_note() {
    let held = |finger| HeldString::new(&A, 3, finger, A.loss);
    let level_db = |held: &HeldString, at_s: f64| {
        let samples = sound(held.spec, &held.contacts, PLUCK, 2, at_s + 0.1);
        let part = &samples[(at_s * 44_100.0) as usize..];
        decibels::of_power(part.iter().map(|s| s * s).sum::<f32>() / part.len() as f32)
    };
    let pressed = held(Finger::Pressed);
    let half = held(Finger::Half {
        behind_m: 0.006,
        gap_m: 0.000_1,
        flesh_db_s: 150.0,
    });
    let touching = held(Finger::Touching { resistance: 2.0 });
    let fall_db = |held: &HeldString| level_db(held, 0.02) - level_db(held, 0.42);
    let (pressed, half, touching) = (fall_db(&pressed), fall_db(&half), fall_db(&touching));
    assert!(pressed < 10.0, "pressed: {pressed:.0} dB in 0.4 s");
    assert!((40.0..90.0).contains(&half), "half: {half:.0} dB");
    assert!(touching > 35.0, "touching: {touching:.0} dB");
}

/// Root mean square of the difference over that of the sound, in dB.
fn difference_db(a: &[f32], b: &[f32]) -> f64 {
    let power = |x: &mut dyn Iterator<Item = f32>| x.map(|v| f64::from(v).powi(2)).sum::<f64>();
    let apart = power(&mut a.iter().zip(b).map(|(a, b)| a - b));
    decibels::of_power(apart / power(&mut a.iter().copied()))
}

/// Levels in dB of the octaves from 80 Hz to 10 kHz.
fn bands_db(samples: &[f32]) -> Vec<f64> {
    let mut plan = LinePlan::new(44_100.0);
    let mut spectrum = plan.spectrum();
    plan.fill(samples, &mut spectrum);
    (0..7)
        .map(|band| {
            let low = 80.0 * 2f32.powi(band);
            let steps = 600;
            let power: f64 = (0..steps)
                .map(|i| low * 2f32.powf(i as f32 / steps as f32))
                .map(|hz| decibels::to_power(f64::from(spectrum.at_db(hz))))
                .sum();
            decibels::of_power(power)
        })
        .collect()
}

#[test]
fn halving_the_time_step_changes_little() {
    let at =
        |contacts: &[Contact], per_sample, seconds| sound(A, contacts, PLUCK, per_sample, seconds);
    let change_db = |contacts: &[Contact], from, seconds| {
        difference_db(
            &at(contacts, 2 * from, seconds),
            &at(contacts, from, seconds),
        )
    };
    // Free, only the pluck's force is sampled more finely.
    let free = change_db(&[], 2, 0.3);
    assert!(free < -65.0, "free: {free:.1} dB");
    // Against a fret the sound of the first tenths of a second is the same to a few per cent, and each
    // further halving makes the difference four times smaller: the scheme is of second order.
    let (once, twice) = (change_db(&[FRET], 2, 0.05), change_db(&[FRET], 4, 0.05));
    assert!(once < -30.0, "{once:.1} dB");
    assert!(
        (-14.0..-10.0).contains(&(twice - once)),
        "{once:.1}, then {twice:.1} dB"
    );
    // Every hit moves the next a little, so that waveforms part later; the spectrum stays, least so in
    // its last octave.
    let (coarse, fine) = (at(&[FRET], 2, 0.4), at(&[FRET], 4, 0.4));
    for (band, (a, b)) in bands_db(&coarse).iter().zip(bands_db(&fine)).enumerate() {
        assert!(
            (a - b).abs() < if band < 6 { 1.0 } else { 2.0 },
            "octave {band}: {a:.1} and {b:.1} dB"
        );
    }
}
