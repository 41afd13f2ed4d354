//! Real recordings that strums are found in, whole and cut.

use std::path::Path;

use ringtrue::audio::{Recording, read_all};

use crate::counts::APART_S;
use crate::{Case, Half};

/// A cut strum is followed by the next stroke no sooner than this, in seconds, so that it can be judged at all.
pub const CUT_S: f64 = 0.5;
/// A cut ends this long before the next stroke, in seconds.
pub const BEFORE_NEXT_S: f64 = 0.03;
/// Silence after a cut that has some, in seconds.
pub const SILENCE_S: f64 = 0.7;
/// Files are cut so long after the first stroke (before it where negative), in seconds.
pub const CUTS_S: [f64; 6] = [-0.02, -0.01, 0.0, 0.01, 0.02, 0.03];
/// ... or so long before it, while the chord before rings.
pub const EARLY_CUTS_S: [f64; 3] = [-0.22, -0.19, -0.16];
/// No recording lasts longer, in seconds.
pub const LONGEST_S: f64 = 120.0;

pub fn read(path: &Path) -> anyhow::Result<Recording> {
    Ok(read_all(path, LONGEST_S)?)
}

/// First column of a table, in seconds.
pub fn seconds_of(path: &Path) -> anyhow::Result<Vec<f64>> {
    let mut rows = csv::Reader::from_path(path)?;
    let seconds: Result<Vec<f64>, anyhow::Error> =
        rows.records().map(|r| Ok(r?[0].parse()?)).collect();
    let mut seconds = seconds?;
    seconds.sort_by(f64::total_cmp);
    Ok(seconds)
}

pub fn runs(half: &Half, through: &str) -> anyhow::Result<Vec<Case>> {
    let folder = Path::new("fixtures/strums/phone-strums");
    let mut cases = Vec::new();
    for run in half.runs {
        let sound = read(&folder.join(format!("run-{run}-{through}.flac")))?;
        cases.push(Case {
            name: format!("run {run} {through}"),
            samples: sound.samples,
            rate_hz: sound.rate_hz,
            meant: Some("x32010".parse()?),
            strokes_s: seconds_of(&folder.join(format!("run-{run}-strokes.csv")))?,
            pass: false,
        });
    }
    Ok(cases)
}

/// Strokes before which the one before rings for a while.
pub fn rung_before(strokes_s: &[f64]) -> Vec<f64> {
    let pairs = strokes_s.windows(2);
    let apart = pairs.filter(|pair| pair[1] - pair[0] > APART_S);
    apart.map(|pair| pair[1]).collect()
}

/// Files cut out of a recording at these times from a stroke, each with this one strum, with silence after it or not. `all_s` are
/// the times of all strokes.
pub fn cut(whole: &Case, strokes_s: &[f64], all_s: &[f64], cuts_s: &[f64]) -> Vec<Case> {
    let rate = f64::from(whole.rate_hz);
    let mut cases = Vec::new();
    for stroke in strokes_s {
        let next = all_s.iter().copied().find(|s| s > &(stroke + 0.06));
        let end_s = next.unwrap_or(whole.samples.len() as f64 / rate);
        let before = all_s
            .iter()
            .copied()
            .filter(|s| s < &(stroke - 0.001))
            .fold(f64::MIN, f64::max);
        if end_s - stroke < CUT_S || stroke - before < 0.15 {
            continue;
        }
        for &from_s in cuts_s {
            let at = |s: f64| ((s * rate).max(0.0) as usize).min(whole.samples.len());
            let (from, to) = (at(stroke + from_s), at(end_s - BEFORE_NEXT_S));
            for silence_s in [0.0, SILENCE_S] {
                let mut samples = whole.samples[from..to].to_vec();
                samples.resize(samples.len() + (silence_s * rate) as usize, 0.0);
                cases.push(Case {
                    name: format!(
                        "{} at {stroke:.2} from {from_s} silence {silence_s}",
                        whole.name
                    ),
                    samples,
                    rate_hz: whole.rate_hz,
                    meant: whole.meant,
                    strokes_s: vec![(-from_s).max(0.0)],
                    pass: false,
                });
            }
        }
    }
    cases
}

/// Chords of three strings or more of a labelled recording, the times at which they begin, and all notes.
pub fn comped(half: &Half) -> anyhow::Result<(Case, Vec<f64>, Vec<f64>)> {
    let folder = Path::new("fixtures/strums/guitarset");
    let sound = read(&folder.join(format!("{}_mic.flac", half.comped)))?;
    let notes = seconds_of(&folder.join(format!("{}_notes.csv", half.comped)))?;
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for t in &notes {
        match groups.last_mut() {
            Some(g) if t - g[0] < 0.06 => g.push(*t),
            _ => groups.push(vec![*t]),
        }
    }
    let chords = groups
        .iter()
        .filter(|g| g.len() >= 3)
        .map(|g| g[0])
        .collect();
    let case = Case {
        name: half.comped.into(),
        samples: sound.samples,
        rate_hz: sound.rate_hz,
        meant: None,
        strokes_s: Vec::new(),
        pass: false,
    };
    Ok((case, chords, notes))
}
