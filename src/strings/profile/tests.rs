use super::*;
use crate::spectrum::partials::{flexible_hz, partial_hz};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};

const RATE_HZ: u32 = 44_100;

/// A string of known pitch, stiffness and decay after 0.3 s of a quiet room.
fn plucked(f1_hz: f64, b: f64, t60_s: f64, rng: &mut SmallRng) -> Vec<f32> {
    let rate = f64::from(RATE_HZ);
    let f0 = flexible_hz(f1_hz, b);
    (0..(1.8 * rate) as usize)
        .map(|i| {
            let noise = rng.random_range(-1e-4..1e-4);
            let t = i as f64 / rate - 0.3;
            if t < 0.0 {
                return noise as f32;
            }
            let fall = 10f64.powf(-3.0 * t / t60_s);
            let sum: f64 = (1..=20)
                .map(|n| {
                    let hz = partial_hz(f0, b, n);
                    (std::f64::consts::TAU * hz * t).sin() / n as f64
                })
                .sum();
            (0.2 * fall * sum + noise) as f32
        })
        .collect()
}

fn reader() -> StringReader {
    StringReader::new(RATE_HZ)
}

#[test]
fn the_pitch_of_a_plucked_stiff_string_is_read_to_a_cent() {
    let tuning = Tuning::default();
    let mut rng = SmallRng::seed_from_u64(1);
    let mut reader = reader();
    for (index, off, b, t60_s) in [
        (0, -32.0, 1.3e-4, 5.0),
        (1, 0.0, 8e-5, 4.0),
        (2, 120.0, 5e-5, 3.0),
        (3, -210.0, 9e-5, 3.0),
        (4, 4.0, 7e-5, 2.0),
        (5, 41.0, 2.5e-5, 2.0),
    ] {
        let hz = shifted_hz(tuning.hz(index, 0), off);
        let sound = plucked(hz, b, t60_s, &mut rng);
        let pluck = Plucks::new(RATE_HZ).push(&sound).expect("a pluck");
        let string = reader.read(&pluck, &tuning, index).string();
        let string = string.expect("a string");
        assert_eq!(usize::from(string.string), STRINGS - index);
        assert!((f64::from(string.cents) - off).abs() < 1.0, "{string:?}");
    }
}

/// Hum of the mains and of anything else, 60 dB below the string, each a whole series of partials.
#[test]
fn a_hum_that_hardly_anybody_hears_is_not_taken_for_the_string() {
    let tuning = Tuning::default();
    let mut rng = SmallRng::seed_from_u64(4);
    for hum_hz in [50.0, 60.0, 200.0, 221.6] {
        let hz = tuning.hz(3, 0);
        let mut sound = plucked(hz, 9e-5, 3.0, &mut rng);
        for (i, sample) in sound.iter_mut().enumerate() {
            let t = i as f64 / f64::from(RATE_HZ);
            let hum = |n: i32| (std::f64::consts::TAU * hum_hz * f64::from(n) * t).sin();
            *sample += (2e-4 * (1..=20).map(hum).sum::<f64>()) as f32;
        }
        let pluck = Plucks::new(RATE_HZ).push(&sound).expect("a pluck");
        let string = reader().read(&pluck, &tuning, 3).string();
        let string = string.unwrap_or_else(|| panic!("a string over {hum_hz} Hz"));
        assert!(string.cents.abs() < 1.0, "{hum_hz} Hz: {string:?}");
    }
}

#[test]
fn neither_noise_nor_another_string_is_taken_for_the_one_asked_for() {
    let tuning = Tuning::default();
    let mut rng = SmallRng::seed_from_u64(2);
    let noise: Vec<f32> = (0..60_000).map(|_| rng.random_range(-0.1..0.1)).collect();
    let mut reader = reader();
    for index in 0..STRINGS {
        assert_eq!(reader.read(&noise, &tuning, index).string(), None);
        let other = (index + 1) % STRINGS;
        let sound = plucked(tuning.hz(other, 0), 6e-5, 3.0, &mut rng);
        let pluck = Plucks::new(RATE_HZ).push(&sound).expect("a pluck");
        assert_eq!(
            reader.read(&pluck, &tuning, index).string(),
            None,
            "{other} as {index}"
        );
        assert!(reader.read(&pluck, &tuning, other).string().is_some());
    }
}

#[test]
fn the_running_pitch_follows_a_peg_that_turns() {
    let tuning = Tuning::default();
    let mut rng = SmallRng::seed_from_u64(3);
    let mut reader = reader();
    for (index, off) in [(0, -60.0), (2, 25.0), (5, -8.0)] {
        let hz = shifted_hz(tuning.hz(index, 0), off);
        let sound = plucked(hz, 6e-5, 4.0, &mut rng);
        let last = &sound[sound.len() - (RUNNING_S * f64::from(RATE_HZ)) as usize..];
        let cents = reader.running_cents(last, &tuning, index).expect("a pitch");
        assert!((f64::from(cents) - off).abs() < 2.0, "{index}: {cents}");
    }
    let quiet = vec![0.0; RATE_HZ as usize / 2];
    assert_eq!(reader.running_cents(&quiet, &tuning, 0), None);
}

fn profile(guitar: &str) -> Profile {
    let strings = (0..STRINGS).map(|index| OpenString {
        string: string_number(index),
        cents: -1.5 - index as f32,
        level_dbfs: -20.3,
    });
    Profile {
        guitar: guitar.to_owned(),
        open: Tuning::default().open,
        capo: 0,
        a4_hz: 440.0,
        floor_dbfs: -61.5,
        input: None,
        delay_s: Some(0.043),
        left: false,
        strings: strings.collect(),
        learnt: Learnt::default(),
    }
}

#[test]
fn a_profile_with_a_number_out_of_range_is_refused_with_the_range() {
    let profile = Profile {
        learnt: Learnt {
            rings: -0.75,
            unwanted: 0.0,
            buzzes: 1.5,
        },
        ..profile("mine")
    };
    let folder = tempfile::tempdir().unwrap();
    let profiles = Profiles::new(folder.path());
    let path = profiles.keep(&profile).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(profiles.load("mine").unwrap(), profile);
    for (from, to, said) in [
        (
            "a4_hz = 440.0",
            "a4_hz = nan",
            "a4_hz is a number from 415 to 466; NaN",
        ),
        ("a4_hz = 440.0", "a4_hz = inf", "from 415 to 466; inf"),
        ("a4_hz = 440.0", "a4_hz = 1e300", "from 415 to 466; 1000"),
        ("    40,", "    255,", "from 28 to 76; 255"),
        ("    40,", "    -1,", "from 28 to 76; -1"),
        (
            "    40,",
            "",
            "six MIDI notes, strings 6 to 1, were expected; 5 came",
        ),
        ("capo = 0", "capo = 13", "capo is a number from 0 to 12; 13"),
        ("capo = 0", "capo = 4294967296", "from 0 to 12; 4294967296"),
        ("floor_dbfs = -61.5", "floor_dbfs = 1e9", "floor_dbfs"),
        ("floor_dbfs = -61.5", "floor_dbfs = nan", "floor_dbfs"),
        (
            "delay_s = 0.043",
            "delay_s = -inf",
            "delay_s is a number from -0.15 to 0.6",
        ),
        ("delay_s = 0.043", "delay_s = 3600.0", "delay_s"),
        ("string = 6", "string = 5", "numbered 6 to 1 in that order"),
        (
            "string = 1",
            "string = 300",
            "numbered 6 to 1 in that order",
        ),
        (
            "cents = -1.5",
            "cents = nan",
            "cents is a number from -300 to 300",
        ),
        ("cents = -1.5", "cents = 1e30", "cents"),
        ("level_dbfs = -20.3", "level_dbfs = inf", "level_dbfs"),
        (
            "rings = -0.75",
            "rings = nan",
            "rings is a number from -3 to 3",
        ),
        ("buzzes = 1.5", "buzzes = 30.0", "buzzes"),
        (
            "guitar = \"mine\"",
            &format!("guitar = \"{}\"", "m".repeat(61)),
            "at most 60",
        ),
    ] {
        let wrong = text.replacen(from, to, 1);
        assert_ne!(wrong, text, "{from}");
        fs::write(&path, wrong).unwrap();
        let error = profiles.load("mine").expect_err(to).to_string();
        assert!(error.contains(said), "{to}: {error}");
        assert!(error.contains("make the soundcheck again"), "{to}: {error}");
    }
}

#[test]
fn a_profile_from_before_there_were_trials_has_learnt_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let profiles = Profiles::new(folder.path());
    let old = "guitar = \"mine\"\nopen = [40, 45, 50, 55, 59, 64]\ncapo = 0\na4_hz = 440.0\nfloor_dbfs = -61.5\nstrings = []\n";
    fs::write(folder.path().join("mine.toml"), old).unwrap();
    let profile = profiles.load("mine").unwrap();
    assert!(profile.learnt.is_nothing());
    // Where nothing was learnt nothing is written of it: programs from before read the file.
    let path = profiles.keep(&profile).unwrap();
    assert!(!fs::read_to_string(path).unwrap().contains("learnt"));
}

#[test]
fn a_profile_is_kept_and_found_again_under_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let profiles = Profiles::new(&folder.path().join("guitars"));
    let profile = Profile {
        capo: 2,
        a4_hz: 442.0,
        ..profile("old dreadnought")
    };
    profiles.keep(&profile).unwrap();
    assert_eq!(profiles.load(" old dreadnought ").unwrap(), profile);
    let missing = profiles.load("new one").unwrap_err().to_string();
    assert!(missing.contains("there is old dreadnought"), "{missing}");
    for name in ["", "../x", "a/b", "a\0b"] {
        assert!(matches!(
            profiles.load(name),
            Err(ProfileError::Name { .. })
        ));
    }
    fs::write(folder.path().join("guitars/bad.toml"), "guitar = 3").unwrap();
    let damaged = profiles.load("bad").unwrap_err();
    assert!(damaged.to_string().contains("make the soundcheck again"));
}
