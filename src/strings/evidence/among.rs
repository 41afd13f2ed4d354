//! What stands on one note's partials that others share, and how it and they run over time.

use super::sheet::{Sheet, mean, mean_of_best, median};
use crate::fretboard::STRINGS;
use crate::strings::courses::{Courses, KINDS};
use crate::strings::fit::Fit;
use crate::strings::shared::SharedEvidence;
use crate::strings::traces::{LAGS_S, Trace};

pub(super) fn put_shared(sheet: &mut Sheet, name: &str, shared: &SharedEvidence) {
    for (window, values) in ["early", "mid", "long", "late"]
        .into_iter()
        .zip(&shared.excess_db)
    {
        let mut known: Vec<f32> = values.iter().copied().filter(|v| v.is_finite()).collect();
        sheet.put(format_args!("{name}_excess_{window}_mean"), mean(&known));
        sheet.put(
            format_args!("{name}_excess_{window}_low"),
            mean(&known[..known.len().min(3)]),
        );
        sheet.put(
            format_args!("{name}_excess_{window}_best3"),
            mean_of_best(&mut known, 3),
        );
        if window == "long" {
            for (i, v) in values.iter().take(6).enumerate() {
                sheet.put_numbered(format_args!("{name}_excess"), i + 1, *v);
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
        sheet.put(format_args!("{name}_excess_{span}_mean"), mean(&change));
        sheet.put(
            format_args!("{name}_excess_{span}_low"),
            mean(&change[..change.len().min(3)]),
        );
        sheet.put(
            format_args!("{name}_excess_{span}_median"),
            median(&mut change),
        );
    }
    let mut off: Vec<f32> = known(&shared.off_scatter).iter().map(|v| v.abs()).collect();
    sheet.put(format_args!("{name}_off_count"), off.len() as f32);
    sheet.put(format_args!("{name}_off_scatter_mean"), mean(&off));
    sheet.put(format_args!("{name}_off_scatter_median"), median(&mut off));
    sheet.put(
        format_args!("{name}_off_scatter_best3"),
        mean_of_best(&mut off, 3),
    );
    let cents = known(&shared.off_cents);
    sheet.put(format_args!("{name}_off_cents_mean"), mean(&cents).abs());
    let mut size: Vec<f32> = cents.iter().map(|v| v.abs()).collect();
    sheet.put(format_args!("{name}_off_cents_median"), median(&mut size));
    for n in 0..4 {
        sheet.put_numbered(format_args!("{name}_off_cents"), n + 1, shared.off_cents[n]);
    }
}

pub(super) fn put_courses(sheet: &mut Sheet, courses: &Courses, string: usize, fit: &Fit) {
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
        sheet.put(format_args!("course_own_{kind}_low"), mean(&known(4)));
        sheet.put(
            format_args!("course_own_{kind}_median"),
            median(&mut known(99)),
        );
        sheet.put(
            format_args!("course_own_{kind}_best"),
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
            format_args!("course_shared_{kind}_low"),
            mean(&known[..known.len().min(2)]),
        );
        sheet.put(format_args!("course_shared_{kind}_mean"), mean(&known));
        sheet.put(
            format_args!("course_shared_{kind}_best"),
            mean_of_best(&mut known, 2),
        );
        // Ascending from the other end: known is sorted downwards now.
        sheet.put(
            format_args!("course_shared_{kind}_least"),
            mean(&known[known.len().saturating_sub(2)..]),
        );
    }
    let mut weaker: Vec<f32> = found.pairs.iter().map(|p| p.0).collect();
    let mut split: Vec<f32> = found.pairs.iter().map(|p| p.1).collect();
    sheet.put("course_weaker_mean", mean(&weaker));
    sheet.put("course_weaker_best", mean_of_best(&mut weaker, 2));
    sheet.put("course_split_median", median(&mut split));
}

pub(super) fn put_trace(sheet: &mut Sheet, traces: &[Option<Trace>; STRINGS], string: usize) {
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
