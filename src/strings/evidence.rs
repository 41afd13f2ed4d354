//! What a take says about one note on one string: the numbers that the model decides by.

use super::courses::{Courses, KINDS};
use super::fit::{Fit, Occupied, PARTIALS, distance_hz, fit, own_hz};
use super::shared::{SharedEvidence, SharedPartials};
use super::spectra::Spectra;
use super::stiffness::usual_b;
use super::traces::{LAGS_S, Trace, traces};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::LineSpectrum;
use crate::spectrum::partials::{cents, partial_hz, shifted_hz};

/// Farthest common offset of the guitar that is followed, in cents.
pub const REACH_TUNING_CENTS: f64 = 60.0;
/// Partials that the common tuning is read from: low ones, which stiffness hardly moves.
const TUNING_PARTIALS: usize = 6;
/// Rounds in which strings are fitted on what the others leave.
const ROUNDS: usize = 2;
/// Single partials that the model sees one by one.
const LISTED: usize = 10;
/// How far the level of neighbours in frequency is averaged, in octaves (standard deviation).
const ENVELOPE_OCTAVES: f32 = 0.4;

/// Evidence on one note.
#[derive(Debug, Clone)]
pub struct NoteEvidence {
    /// String index (0 = string 6).
    pub string: usize,
    pub fret: u8,
    pub fit: Fit,
    /// As named by [`feature_names`]; NaN where the take has nothing to say.
    pub features: Vec<f32>,
}

/// Evidence on all notes that matter for a voicing.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// Common offset of the guitar from the reference, in cents.
    pub tuning_cents: f64,
    /// Sum of levels at the expected notes' partials at that offset, per partial looked at, in dB.
    pub tuning_score: f32,
    /// How far the strongest line below 1.5 kHz stands above its surroundings, in dB.
    pub strongest_db: f32,
    /// Share of the lines heard, weighted by how far they stand out, that belong to the expected notes
    /// or to others that the same strings may be sounding.
    pub explained: f32,
    /// The expected note of each string.
    pub expected: [Option<NoteEvidence>; STRINGS],
    /// Other notes that a string may be sounding instead, per string.
    pub others: [Vec<NoteEvidence>; STRINGS],
}

/// The fret of the barre (or of the index finger) of a voicing without open strings: its lowest.
pub fn barre_fret(frets: &Frets) -> Option<u8> {
    let lowest = frets.sounding().map(|(_, f)| f).min()?;
    (lowest > 0).then_some(lowest)
}

/// The frets other than the expected one that a string is likely to sound at when the hand is not
/// quite right: open, the barre's, one down, one up.
pub fn other_frets(frets: &Frets, string: usize) -> Vec<u8> {
    let mut others = vec![0];
    others.extend(barre_fret(frets));
    if let Some(fret) = frets.0[string] {
        others.extend(fret.checked_sub(1));
        others.push(fret + 1);
        others.retain(|&f| f != fret);
    }
    others.sort_unstable();
    others.dedup();
    others
}

/// Gathers the evidence on `frets` from the spectra of one strum.
pub fn gather(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> Evidence {
    let (tuning_cents, tuning_score) = common_tuning(&spectra.long, tuning, frets);
    let note_hz = |string: usize, fret: u8| shifted_hz(tuning.hz(string, fret), tuning_cents);
    let stiffness = |string: usize, fret: u8| usual_b(string, fret + tuning.capo);

    // Alone first, then each string on the partials that the others leave to it.
    let long = &spectra.long;
    let mut fits: [Option<Fit>; STRINGS] = [None; STRINGS];
    let mut bits = Occupied::new(long);
    for (string, fret) in frets.sounding() {
        let alone = fit(
            long,
            note_hz(string, fret),
            stiffness(string, fret),
            None,
            None,
        );
        bits.place(long, string, Some(&alone));
        fits[string] = Some(alone);
    }
    let free = fits;
    for _ in 0..ROUNDS {
        for (string, fret) in frets.sounding() {
            let among = fit(
                long,
                note_hz(string, fret),
                stiffness(string, fret),
                Some(&bits),
                Some(string),
            );
            bits.place(long, string, Some(&among));
            fits[string] = Some(among);
        }
    }
    let mut occupied = Vec::new();

    let chord = Chord::new(spectra, &fits);
    let courses = Courses::new(&spectra.bands, &fits);
    let (first, last) = spectra.onsets;
    let traced = traces(&spectra.low, spectra.rate_hz(), first, last, &fits);
    let mut expected: [Option<NoteEvidence>; STRINGS] = Default::default();
    let mut others: [Vec<NoteEvidence>; STRINGS] = Default::default();
    for string in 0..STRINGS {
        if let (Some(fret), Some(among), Some(alone)) =
            (frets.0[string], fits[string], free[string])
        {
            partials_of(&fits, Some(string), &mut occupied);
            let asked = Asked {
                string,
                midi: tuning.midi(string, fret),
                fret,
                expected: true,
                among,
                alone,
                traces: &traced,
            };
            expected[string] = Some(chord.evidence(spectra, &fits, &courses, asked, &occupied));
        }
        for fret in other_frets(frets, string) {
            partials_of(&fits, None, &mut occupied);
            let alone = fit(
                long,
                note_hz(string, fret),
                stiffness(string, fret),
                None,
                None,
            );
            let among = fit(
                long,
                note_hz(string, fret),
                stiffness(string, fret),
                Some(&bits),
                None,
            );
            let asked = Asked {
                string,
                midi: tuning.midi(string, fret),
                fret,
                expected: false,
                among,
                alone,
                traces: &[None; STRINGS],
            };
            others[string].push(chord.evidence(spectra, &fits, &courses, asked, &occupied));
        }
    }
    let (strongest_db, explained) = explained(long, &expected);
    Evidence {
        tuning_cents,
        tuning_score,
        strongest_db,
        explained,
        expected,
        others,
    }
}

/// Names of the features, in order.
pub fn feature_names() -> Vec<String> {
    let spectra = Spectra::new(44_100);
    let fit = Fit::nominal(220.0, 1e-4, 5000.0);
    let chord = Chord {
        reference_db: 0.0,
        peaks: Vec::new(),
        own: [[false; PARTIALS]; STRINGS],
        shared: SharedPartials::new(&spectra, &[None; STRINGS], &[[false; PARTIALS]; STRINGS]),
    };
    let mut sheet = Sheet {
        names: Some(Vec::new()),
        values: Vec::new(),
    };
    let asked = Asked {
        string: 0,
        fret: 0,
        midi: 40,
        expected: true,
        among: fit,
        alone: fit,
        traces: &[None; STRINGS],
    };
    let nobody = [None; STRINGS];
    let courses = Courses::new(&spectra.bands, &nobody);
    chord.fill(&mut sheet, &spectra, &nobody, &courses, &asked, &[]);
    sheet.names.expect("asked for")
}

/// The note asked about and its two fits.
struct Asked<'a> {
    string: usize,
    fret: u8,
    midi: u8,
    expected: bool,
    /// Fitted on what the other strings leave.
    among: Fit,
    /// Fitted as if there were no others.
    alone: Fit,
    /// Of all expected strings; nobody's for a note that is not expected.
    traces: &'a [Option<Trace>; STRINGS],
}

/// The common offset that puts most sound on the expected notes' low partials, and how much that is.
fn common_tuning(spectrum: &LineSpectrum, tuning: &Tuning, frets: &Frets) -> (f64, f32) {
    const STEP: f64 = 2.0;
    let steps = (REACH_TUNING_CENTS / STEP) as i32;
    let notes: Vec<Fit> = frets
        .sounding()
        .map(|(s, f)| {
            Fit::nominal(
                tuning.hz(s, f),
                usual_b(s, f + tuning.capo),
                f64::from(spectrum.top_hz()),
            )
        })
        .collect();
    let score = |cents: f64| -> f32 {
        let ratio = (cents / 1200.0).exp2() as f32;
        let mut sum = 0.0;
        for note in &notes {
            for n in 1..=TUNING_PARTIALS.min(note.count) {
                let hz = note.hz(n) * ratio;
                sum += spectrum.standing_db(hz).clamp(0.0, 30.0);
            }
        }
        sum
    };
    let best = (-steps..=steps)
        .map(|i| f64::from(i) * STEP)
        .map(|c| (c, score(c) - 0.02 * c.abs() as f32))
        .fold((0.0, f32::MIN), |a, b| if b.1 > a.1 { b } else { a });
    (
        best.0,
        best.1 / (notes.len() * TUNING_PARTIALS).max(1) as f32,
    )
}

/// Range in which lines are counted, in Hz: fundamentals and the partials next to them.
const LINES_HZ: (f32, f32) = (75.0, 1500.0);
/// A line stands at least this far above its surroundings, in dB, and at most [`LINE_RANGE_DB`] below
/// the strongest.
const LINE_DB: f32 = 15.0;
const LINE_RANGE_DB: f32 = 35.0;
/// A line belongs to a partial at most this far off, in cents.
const LINE_CENTS: f64 = 25.0;

/// How far the strongest line stands out, and the share of lines that the expected notes explain.
fn explained(spectrum: &LineSpectrum, expected: &[Option<NoteEvidence>; STRINGS]) -> (f32, f32) {
    let lines = spectrum.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB);
    let strongest = spectrum.standing_max_db(LINES_HZ);
    let (mut all, mut known) = (0f32, 0f32);
    for (hz, weight) in lines {
        all += weight;
        let near = |f1_hz: f64, b: f64| {
            let n = (f64::from(hz) / f1_hz).round().max(1.0) as usize;
            cents(partial_hz(f1_hz, b, n), f64::from(hz)).abs() <= LINE_CENTS
        };
        if expected
            .iter()
            .flatten()
            .any(|note| near(note.fit.f0_hz, note.fit.b))
        {
            known += weight;
        }
    }
    (strongest, if all > 0.0 { known / all } else { 0.0 })
}

/// How well a voicing's notes match the lines of a strum, roughly and fast: mean standing of their low
/// partials in dB, and what share of the lines they explain. For a shortlist only.
pub fn rough_fit(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> f32 {
    let long = &spectra.long;
    let (mut standing, mut count) = (0f32, 0f32);
    let notes: Vec<f64> = frets.sounding().map(|(s, f)| tuning.hz(s, f)).collect();
    for &hz in &notes {
        for n in 1..=3 {
            let at = (hz * f64::from(n)) as f32;
            standing += long.standing_near_db(at, at * 0.012).clamp(0.0, 30.0);
            count += 1.0;
        }
    }
    let (mut all, mut known) = (1e-6f32, 0f32);
    for (hz, weight) in long.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB) {
        all += weight;
        if notes.iter().any(|&f1| {
            cents((f64::from(hz) / f1).round().max(1.0) * f1, f64::from(hz)).abs() <= 40.0
        }) {
            known += weight;
        }
    }
    standing / count.max(1.0) / 30.0 + known / all
}

/// Collects the partials of all `fits` but that of string `without`, ascending.
fn partials_of(fits: &[Option<Fit>; STRINGS], without: Option<usize>, into: &mut Vec<f32>) {
    into.clear();
    for (string, fit) in fits.iter().enumerate() {
        if let Some(fit) = fit
            && Some(string) != without
        {
            into.extend((1..=fit.count).map(|n| fit.hz(n)));
        }
    }
    into.sort_unstable_by(f32::total_cmp);
}

/// Named numbers, in order.
struct Sheet {
    names: Option<Vec<String>>,
    values: Vec<f32>,
}

impl Sheet {
    fn put(&mut self, name: &str, value: f32) {
        if let Some(names) = &mut self.names {
            names.push(name.to_owned());
        }
        self.values.push(value);
    }

    fn put_numbered(&mut self, name: &str, n: usize, value: f32) {
        if let Some(names) = &mut self.names {
            names.push(format!("{name}_{n}"));
        }
        self.values.push(value);
    }
}

/// What all strings of a chord share.
struct Chord {
    /// Highest level of any expected partial, in dB.
    reference_db: f32,
    /// Frequency, level and string of every expected partial.
    peaks: Vec<(f32, f32, usize)>,
    /// Which partials no other expected string shares, per string.
    own: [[bool; PARTIALS]; STRINGS],
    shared: SharedPartials,
}

/// Half the width in Hz within which a partial's level is looked for, given the window's length.
pub fn reach_hz(spectrum: &LineSpectrum) -> f32 {
    (0.6 / spectrum.seconds().max(0.05)).max(0.7)
}

impl Chord {
    fn new(spectra: &Spectra, fits: &[Option<Fit>; STRINGS]) -> Self {
        let long = &spectra.long;
        let mut chord = Chord {
            reference_db: -160.0,
            peaks: Vec::new(),
            own: [[false; PARTIALS]; STRINGS],
            shared: SharedPartials::new(spectra, &[None; STRINGS], &[[false; PARTIALS]; STRINGS]),
        };
        let mut occupied = Vec::new();
        for (string, fit) in fits.iter().enumerate() {
            let Some(fit) = fit else { continue };
            partials_of(fits, Some(string), &mut occupied);
            for n in 1..=fit.count {
                let hz = fit.hz(n);
                let level = long.peak_db(hz, reach_hz(long));
                chord.own[string][n - 1] = distance_hz(&occupied, hz) >= own_hz(long);
                chord.peaks.push((hz, level, string));
                chord.reference_db = chord.reference_db.max(level);
            }
        }
        chord.shared = SharedPartials::new(spectra, fits, &chord.own);
        chord
    }

    /// Mean level of the other strings' partials near `hz`, in dB.
    fn envelope_db(&self, hz: f32, without: usize) -> f32 {
        let (mut sum, mut weight) = (0.0, 1e-9);
        for &(other_hz, level, string) in &self.peaks {
            if string != without {
                let octaves = (other_hz / hz).log2() / ENVELOPE_OCTAVES;
                if octaves.abs() < 3.0 {
                    let w = (-0.5 * octaves * octaves).exp();
                    sum += w * level;
                    weight += w;
                }
            }
        }
        if weight > 1e-3 {
            sum / weight
        } else {
            f32::NAN
        }
    }

    fn evidence(
        &self,
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        courses: &Courses,
        asked: Asked,
        occupied: &[f32],
    ) -> NoteEvidence {
        let mut sheet = Sheet {
            names: None,
            values: Vec::with_capacity(160),
        };
        self.fill(&mut sheet, spectra, fits, courses, &asked, occupied);
        NoteEvidence {
            string: asked.string,
            fret: asked.fret,
            fit: asked.among,
            features: sheet.values,
        }
    }

    fn fill(
        &self,
        sheet: &mut Sheet,
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        courses: &Courses,
        asked: &Asked,
        occupied: &[f32],
    ) {
        let Asked {
            string,
            fret,
            midi,
            expected,
            among: fit,
            alone,
            traces,
        } = asked;
        let (string, fret, expected) = (*string, *fret, *expected);
        let own_set = Partials::read(spectra, fit, occupied);

        // The note and its neighbours.
        sheet.put("midi", f32::from(*midi));
        sheet.put("string", string as f32);
        sheet.put("fret", f32::from(fret));
        sheet.put("expected", f32::from(u8::from(expected)));
        sheet.put("available_s", spectra.available_s);
        sheet.put("spread_s", spectra.spread_s);
        sheet.put("chord_size", fits.iter().flatten().count() as f32);
        sheet.put(
            "chord_over_pre",
            if spectra.pre.is_filled() {
                self.reference_db
                    - (self
                        .peaks
                        .iter()
                        .map(|p| spectra.pre.at_db(p.0))
                        .fold(-160.0, f32::max))
            } else {
                f32::NAN
            },
        );

        // The fit.
        let others: Vec<&Fit> = fits
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != string)
            .filter_map(|(_, f)| f.as_ref())
            .collect();
        let mean_cents = others.iter().map(|f| f.cents).sum::<f32>() / others.len().max(1) as f32;
        sheet.put("cents", fit.cents - mean_cents);
        sheet.put("decades", fit.decades);
        sheet.put("score", fit.score / fit.used.max(1) as f32);
        sheet.put("score_sum", fit.score);
        sheet.put("alone_score", alone.score / alone.count.max(1) as f32);
        sheet.put("alone_cents", alone.cents - mean_cents);
        sheet.put("alone_decades", alone.decades);
        sheet.put(
            "alone_apart_hz",
            (1..=fit.count.min(12))
                .map(|n| (fit.hz(n) - alone.hz(n)).abs())
                .fold(0.0, f32::max),
        );
        sheet.put("used", fit.used as f32);
        sheet.put("count", fit.count as f32);

        // Levels over the floor and against the chord, window by window, own partials only.
        own_set.put_levels(
            sheet,
            "long",
            spectra,
            &own_set.long,
            &spectra.long,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "mid",
            spectra,
            &own_set.mid,
            &spectra.mid,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "late",
            spectra,
            &own_set.late,
            &spectra.late,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "early",
            spectra,
            &own_set.early,
            &spectra.early,
            self.reference_db,
        );

        // Against the other strings' partials nearby.
        let mut relative: Vec<f32> = Vec::with_capacity(PARTIALS);
        for n in 1..=LISTED.max(fit.count) {
            let mut rel = f32::NAN;
            if n <= fit.count && own_set.separation[n - 1] >= own_hz(&spectra.long) {
                rel = own_set.long[n - 1] - self.envelope_db(fit.hz(n), string);
                relative.push(rel);
            }
            if n <= LISTED {
                sheet.put_numbered("relative", n, rel);
            }
        }
        sheet.put("relative_mean", mean(&relative));
        sheet.put("relative_best5", mean_of_best(&mut relative, 5));
        sheet.put("relative_median", median(&mut relative));
        let shared = self.shared.on(spectra, fits, string, fit);
        put_shared(sheet, "among", &shared);
        // The fit that hides from the others may have fled from where the string really is.
        put_shared(
            sheet,
            "alone",
            &self.shared.on(spectra, fits, string, alone),
        );

        // How near relatives stand: an octave, a twelfth, a double octave, unison, below and above.
        for (name, interval) in [
            ("unison", 0.0),
            ("octave_below", -12.0),
            ("twelfth_below", -19.0),
            ("two_octaves_below", -24.0),
            ("octave_above", 12.0),
            ("twelfth_above", 19.0),
            ("fifth_below", -7.0),
            ("fourth_below", -5.0),
        ] {
            let there = fits.iter().enumerate().any(|(i, f)| {
                i != string
                    && f.is_some_and(|f| {
                        ((12.0 * (f.f0_hz / fit.f0_hz).log2()) as f32 - interval).abs() < 0.5
                    })
            });
            sheet.put(name, f32::from(u8::from(there)));
        }
        // Could the fit be a mirror of the string an octave below: same offset, four times its stiffness?
        let mirror = fits
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != string)
            .filter_map(|(_, f)| *f)
            .find(|f| ((12.0 * (fit.f0_hz / f.f0_hz).log2()) - 12.0).abs() < 0.5);
        sheet.put(
            "mirror_cents",
            mirror.map_or(f32::NAN, |f| fit.cents - f.cents),
        );
        sheet.put(
            "mirror_decades",
            mirror.map_or(f32::NAN, |f| (fit.b / (4.0 * f.b)).log10() as f32),
        );

        own_set.put_decay(sheet, spectra);
        put_courses(sheet, courses, string, fit);
        put_trace(sheet, traces, string);
    }
}

fn put_trace(sheet: &mut Sheet, traces: &[Option<Trace>; STRINGS], string: usize) {
    let own = &traces[string];
    let of = |read: &dyn Fn(&Trace) -> f32| own.as_ref().map_or(f32::NAN, read);
    sheet.put("trace_count", of(&|t| t.count as f32));
    sheet.put("trace_height", of(&|t| t.height_db));
    sheet.put("trace_height_s", of(&|t| t.height_s));
    sheet.put("trace_rise", of(&|t| t.rise_db));
    sheet.put("trace_flattest", of(&|t| t.flattest_db));
    sheet.put("trace_steepest", of(&|t| t.steepest_db));
    for (i, lag) in LAGS_S.iter().enumerate() {
        let ms = (lag * 1000.0).round() as usize;
        sheet.put_numbered("trace_fall", ms, of(&|t| t.fall_db[i]));
        sheet.put_numbered("trace_strongest_fall", ms, of(&|t| t.strongest_fall_db[i]));
        // Against the other strings of the same strum: a dull guitar's all fall fast.
        let mut others: Vec<f32> = traces
            .iter()
            .enumerate()
            .filter(|(s, _)| *s != string)
            .filter_map(|(_, t)| t.as_ref().map(|t| t.fall_db[i]))
            .filter(|f| f.is_finite())
            .collect();
        let usual = median(&mut others);
        sheet.put_numbered("trace_fall_against", ms, of(&|t| t.fall_db[i]) - usual);
    }
}

fn put_courses(sheet: &mut Sheet, courses: &Courses, string: usize, fit: &Fit) {
    const NAMES: [&str; KINDS] = ["single", "gain", "fall1", "fall2", "fall3"];
    let found = courses.on(string, fit);
    sheet.put("course_own", found.own.len() as f32);
    for (k, kind) in NAMES.iter().enumerate() {
        let known = |most: usize| -> Vec<f32> {
            found
                .own
                .iter()
                .filter(|(n, _)| *n <= most)
                .map(|(_, c)| c[k])
                .filter(|v| v.is_finite())
                .collect()
        };
        sheet.put(&format!("course_own_{kind}_low"), mean(&known(4)));
        sheet.put(&format!("course_own_{kind}_median"), median(&mut known(99)));
        sheet.put(
            &format!("course_own_{kind}_best"),
            mean_of_best(&mut known(99), 2),
        );
    }
    sheet.put("course_shared", found.shared.len() as f32);
    for (k, kind) in NAMES.iter().enumerate() {
        let mut known: Vec<f32> = found
            .shared
            .iter()
            .map(|(_, c)| c[k])
            .filter(|v| v.is_finite())
            .collect();
        sheet.put(
            &format!("course_shared_{kind}_low"),
            mean(&known[..known.len().min(2)]),
        );
        sheet.put(&format!("course_shared_{kind}_mean"), mean(&known));
        sheet.put(
            &format!("course_shared_{kind}_best"),
            mean_of_best(&mut known, 2),
        );
        // Ascending from the other end: known is sorted downwards now.
        sheet.put(
            &format!("course_shared_{kind}_least"),
            mean(&known[known.len().saturating_sub(2)..]),
        );
    }
    let mut weaker: Vec<f32> = found.pairs.iter().map(|p| p.0).collect();
    let mut split: Vec<f32> = found.pairs.iter().map(|p| p.1).collect();
    sheet.put("course_weaker_mean", mean(&weaker));
    sheet.put("course_weaker_best", mean_of_best(&mut weaker, 2));
    sheet.put("course_split_median", median(&mut split));
}

fn put_shared(sheet: &mut Sheet, name: &str, shared: &SharedEvidence) {
    for (window, values) in ["early", "mid", "long", "late"]
        .into_iter()
        .zip(&shared.excess_db)
    {
        let mut known: Vec<f32> = values.iter().copied().filter(|v| v.is_finite()).collect();
        sheet.put(&format!("{name}_excess_{window}_mean"), mean(&known));
        sheet.put(
            &format!("{name}_excess_{window}_low"),
            mean(&known[..known.len().min(3)]),
        );
        sheet.put(
            &format!("{name}_excess_{window}_best3"),
            mean_of_best(&mut known, 3),
        );
        if window == "long" {
            for (i, v) in values.iter().take(6).enumerate() {
                sheet.put_numbered(&format!("{name}_excess"), i + 1, *v);
            }
        }
    }
    let known =
        |values: &[f32]| -> Vec<f32> { values.iter().copied().filter(|v| v.is_finite()).collect() };
    for (span, from, to) in [
        ("early_mid", 0, 1),
        ("mid_late", 1, 3),
        ("early_late", 0, 3),
    ] {
        let change: Vec<f32> = shared.excess_db[to]
            .iter()
            .zip(&shared.excess_db[from])
            .map(|(b, a)| b - a)
            .collect();
        let mut change = known(&change);
        sheet.put(&format!("{name}_excess_{span}_mean"), mean(&change));
        sheet.put(
            &format!("{name}_excess_{span}_low"),
            mean(&change[..change.len().min(3)]),
        );
        sheet.put(&format!("{name}_excess_{span}_median"), median(&mut change));
    }
    let mut off: Vec<f32> = known(&shared.off_scatter).iter().map(|v| v.abs()).collect();
    sheet.put(&format!("{name}_off_count"), off.len() as f32);
    sheet.put(&format!("{name}_off_scatter_mean"), mean(&off));
    sheet.put(&format!("{name}_off_scatter_median"), median(&mut off));
    sheet.put(
        &format!("{name}_off_scatter_best3"),
        mean_of_best(&mut off, 3),
    );
    let cents = known(&shared.off_cents);
    sheet.put(&format!("{name}_off_cents_mean"), mean(&cents).abs());
    let mut size: Vec<f32> = cents.iter().map(|v| v.abs()).collect();
    sheet.put(&format!("{name}_off_cents_median"), median(&mut size));
    for n in 0..4 {
        sheet.put_numbered(&format!("{name}_off_cents"), n + 1, shared.off_cents[n]);
    }
}

/// Levels of one note's partials in every window.
struct Partials {
    hz: Vec<f32>,
    /// Distance in Hz to the nearest partial of another string.
    separation: Vec<f32>,
    pre: Vec<f32>,
    early: Vec<f32>,
    mid: Vec<f32>,
    long: Vec<f32>,
    late: Vec<f32>,
}

impl Partials {
    fn read(spectra: &Spectra, fit: &Fit, occupied: &[f32]) -> Self {
        let hz: Vec<f32> = (1..=fit.count).map(|n| fit.hz(n)).collect();
        let levels = |s: &LineSpectrum| {
            hz.iter()
                .map(|&h| {
                    if s.is_filled() {
                        s.peak_db(h, reach_hz(s))
                    } else {
                        f32::NAN
                    }
                })
                .collect()
        };
        Partials {
            separation: hz.iter().map(|&h| distance_hz(occupied, h)).collect(),
            pre: levels(&spectra.pre),
            early: levels(&spectra.early),
            mid: levels(&spectra.mid),
            long: levels(&spectra.long),
            late: levels(&spectra.late),
            hz,
        }
    }

    fn put_levels(
        &self,
        sheet: &mut Sheet,
        window: &str,
        spectra: &Spectra,
        levels: &[f32],
        spectrum: &LineSpectrum,
        reference_db: f32,
    ) {
        let limit = own_hz(spectrum);
        let (mut over, mut against, mut rise) = (Vec::new(), Vec::new(), Vec::new());
        let mut listed = [f32::NAN; LISTED];
        if spectrum.is_filled() {
            for (i, &level) in levels.iter().enumerate() {
                if self.separation[i] >= limit {
                    let o = spectrum.standing_near_db(self.hz[i], reach_hz(spectrum));
                    over.push(o);
                    against.push(level - reference_db);
                    if spectra.pre.is_filled() {
                        rise.push(level - self.pre[i]);
                    }
                    if i < LISTED {
                        listed[i] = o;
                    }
                }
            }
        }
        let name = |what: &str| format!("{window}_{what}");
        sheet.put(&name("own"), over.len() as f32);
        sheet.put(
            &name("standing"),
            over.iter().filter(|o| **o > 10.0).count() as f32 / over.len().max(1) as f32,
        );
        sheet.put(&name("mean"), mean(&over));
        sheet.put(&name("median"), median(&mut over));
        sheet.put(&name("best3"), mean_of_best(&mut over, 3));
        sheet.put(&name("best5"), mean_of_best(&mut over, 5));
        sheet.put(&name("against_best1"), mean_of_best(&mut against, 1));
        sheet.put(&name("against_best3"), mean_of_best(&mut against, 3));
        sheet.put(&name("rise_median"), median(&mut rise));
        if window == "long" || window == "mid" {
            for (i, o) in listed.iter().enumerate() {
                sheet.put_numbered(window, i + 1, *o);
            }
        }
    }

    /// How the note's own partials fall: between windows, and frame by frame from their height.
    fn put_decay(&self, sheet: &mut Sheet, spectra: &Spectra) {
        for (name, from, to, spectrum) in [
            ("early_mid", &self.early, &self.mid, &spectra.early),
            ("early_late", &self.early, &self.late, &spectra.early),
            ("mid_late", &self.mid, &self.late, &spectra.mid),
        ] {
            let limit = own_hz(spectrum);
            let fall = |range: std::ops::Range<usize>| -> Vec<f32> {
                range
                    .filter(|&i| i < self.hz.len() && self.separation[i] >= limit)
                    .map(|i| to[i] - from[i])
                    .filter(|f| f.is_finite())
                    .collect()
            };
            sheet.put(&format!("{name}_low"), mean(&fall(0..4)));
            sheet.put(&format!("{name}_high"), mean(&fall(4..12)));
            sheet.put(&format!("{name}_median"), median(&mut fall(0..PARTIALS)));
        }
        let frames = &spectra.frames;
        let wide: Vec<f32> = self
            .hz
            .iter()
            .zip(&self.separation)
            .filter(|(_, s)| **s >= 20.0)
            .map(|(h, _)| *h)
            .take(12)
            .collect();
        let lags = [0.12f32, 0.25, 0.4, 0.6, 0.9];
        let mut sums = Vec::new();
        if !wide.is_empty() {
            for frame in 0..frames.count() {
                let power: f32 = wide
                    .iter()
                    .map(|&h| 10f32.powf(frames.at_db(frame, h) / 10.0))
                    .sum();
                sums.push(10.0 * (power + 1e-16).log10());
            }
        }
        let rise_frames = ((0.2 + spectra.spread_s) / frames.step_s()) as usize;
        let top =
            (0..sums.len().min(rise_frames.max(1))).max_by(|&a, &b| sums[a].total_cmp(&sums[b]));
        sheet.put("frames_own", wide.len() as f32);
        sheet.put("rise_db", top.map_or(f32::NAN, |t| sums[t] - sums[0]));
        for lag in lags {
            let value = top
                .and_then(|t| {
                    sums.get(t + (lag / frames.step_s()) as usize)
                        .map(|s| s - sums[t])
                })
                .unwrap_or(f32::NAN);
            sheet.put_numbered("fall", (lag * 100.0) as usize, value);
        }
        // The steepest fall over 0.1 s after the height, in dB.
        let span = (0.1 / frames.step_s()) as usize;
        let steepest = top.map_or(f32::NAN, |t| {
            sums[t..]
                .windows(span + 1)
                .map(|w| w[span] - w[0])
                .fold(f32::NAN, f32::min)
        });
        sheet.put("steepest", steepest);
    }
}

fn mean(values: &[f32]) -> f32 {
    if values.is_empty() {
        f32::NAN
    } else {
        values.iter().sum::<f32>() / values.len() as f32
    }
}

fn median(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return f32::NAN;
    }
    let at = values.len() / 2;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

fn mean_of_best(values: &mut [f32], count: usize) -> f32 {
    if values.is_empty() {
        return f32::NAN;
    }
    values.sort_unstable_by(|a, b| b.total_cmp(a));
    mean(&values[..count.min(values.len())])
}
