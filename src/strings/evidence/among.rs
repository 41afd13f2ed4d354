//! What stands on one note's partials that others share, and how it and they run over time.

use super::sheet::{Sheet, mean, mean_of_best, median};
use crate::fretboard::STRINGS;
use crate::strings::apart::{MOMENTS_S, PARTIALS, PartialPart, Parts};
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

pub(super) fn put_parts(sheet: &mut Sheet, parts: &Parts, string: usize) {
    let db = |energy: f64| (10.0 * energy.max(1e-20).log10()) as f32;
    let sum = |of: &[PartialPart], read: &dyn Fn(&PartialPart) -> f64| -> f32 {
        if of.is_empty() {
            f32::NAN
        } else {
            db(of.iter().map(read).sum())
        }
    };
    let usual = |read: &dyn Fn(&PartialPart) -> f64| {
        let all = parts.partials.iter().filter(|p| !p.is_empty());
        median(&mut all.map(|p| sum(p, read)).collect::<Vec<f32>>())
    };
    let own = &parts.partials[string];
    let level = |k: usize| sum(own, &|p| p.power[k]);
    sheet.put("part_level", level(1) - usual(&|p| p.power[1]));
    for (k, moment) in MOMENTS_S.iter().enumerate().skip(1) {
        let ms = (moment * 1000.0).round() as usize;
        sheet.put_numbered("part_fall", ms, level(k) - level(0));
    }
    let (brought, ringing) = (sum(own, &|p| p.brought), sum(own, &|p| p.ringing));
    let usual_brought = usual(&|p| p.brought);
    sheet.put("part_brought", brought - usual_brought);
    sheet.put("part_ringing", ringing - usual(&|p| p.ringing));
    sheet.put("part_ringing_share", ringing - brought);
    let share = |p: &PartialPart| db(p.ringing) - db(p.brought);
    let fall = |p: &PartialPart, from: usize, to: usize| db(p.power[to]) - db(p.power[from]);
    for n in 1..=PARTIALS {
        let partial = own.iter().find(|p| p.n == n);
        let of = |read: &dyn Fn(&PartialPart) -> f32| partial.map_or(f32::NAN, read);
        sheet.put_numbered("part_brought", n, of(&|p| db(p.brought) - usual_brought));
        sheet.put_numbered("part_ringing_share", n, of(&share));
        sheet.put_numbered("part_early_fall", n, of(&|p| fall(p, 1, 3)));
        sheet.put_numbered("part_late_fall", n, of(&|p| fall(p, 2, 5)));
    }
    let mut shares: Vec<f32> = own.iter().map(share).collect();
    let mut falls: Vec<f32> = own.iter().map(|p| fall(p, 1, 4)).collect();
    sheet.put("part_ringing_share_median", median(&mut shares));
    sheet.put("part_fall_median", median(&mut falls));
    let unexplained = if own.is_empty() {
        f32::NAN
    } else {
        db(parts.unexplained)
    };
    sheet.put("part_unexplained", unexplained);
}
