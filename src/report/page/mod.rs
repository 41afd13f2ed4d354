//! A page for the teacher: one HTML file with its pictures and sounds in it. No script, no network.
//!
//! The page is fed judged takes ([`PlayedTake`]) one by one: from files, from what was saved beside them, or from the
//! diary. It keeps the worst and the best take of each chord, and counts of the others. Its numbers ([`Summary`])
//! are the same in page, CSV and JSON.

pub(super) mod accuracy;
mod exhibit;
mod last;
mod notes;
mod pictures;
mod played;
mod sound;
mod summary;
mod timing;

use std::collections::HashMap;

use base64::{Engine, engine::general_purpose::STANDARD as BASE64};
use jiff::civil::Date;
use minijinja::value::Serde;
use minijinja::{Environment, UndefinedBehavior};
use serde::Serialize;

pub use exhibit::{Exhibit, meant, nearest};
pub use last::Last;
pub use notes::TypedNote;
pub use played::PlayedTake;
pub use sound::wav;
pub use summary::{
    CauseSummary, ChordSummary, LeftOut, Period, StringSummary, Summary, SummaryGatherer,
};
pub use timing::{StrumTiming, TimeSummary, TimedStrum};

use super::plot::{self, Drawing, FONT, FONT_NAME, PictureKind};
use crate::fretboard::STRINGS;
use crate::practice::REST_S;
use crate::progression::timing::IN_TIME_MS;
use crate::verdict::wording;
use crate::words;

/// Width of a take's pictures in a page, in pixels: what a sheet of A4 or Letter holds.
const PLOT_WIDTH: u32 = 640;
/// Chords whose worst and best take are shown and can be heard; the others have their numbers.
/// 30 chords, two takes each, are about 14 MB.
pub const SHOWN_CHORDS: usize = 30;
/// Beginning of every page.
pub const START: &str = "<!doctype html>";
/// Causes named for one chord, and for all takes.
const CHORD_CAUSES: usize = 2;
const CAUSES: usize = 6;

#[derive(Serialize)]
struct PageView<'a> {
    words: HashMap<&'static str, &'static str>,
    title: &'a str,
    learner: Option<&'a str>,
    /// Elements that carry the numbers, and the notes of earlier pages.
    numbers: String,
    carried: String,
    notes: Vec<(String, &'a str)>,
    font_name: &'a str,
    font: String,
    when: Option<String>,
    guitars: String,
    summary: &'a Summary,
    short: Vec<String>,
    chords: Vec<ChordView<'a>>,
    timing: Vec<TimeView<'a>>,
    in_time_ms: u32,
    causes: Vec<CauseView<'a>>,
    care: Vec<&'a str>,
    trust: Vec<String>,
}

#[derive(Serialize)]
struct ChordView<'a> {
    name: String,
    numbers: &'a ChordSummary,
    weakest: String,
    strings: String,
    over_time: Option<String>,
    causes: Vec<CauseView<'a>>,
    takes: Vec<TakeCard>,
}

#[derive(Serialize)]
struct CauseView<'a> {
    name: String,
    takes: usize,
    strings: String,
    what: &'a str,
    try_first: &'a str,
}

#[derive(Serialize)]
struct TimeView<'a> {
    name: &'a str,
    strums: usize,
    in_time: usize,
    usually: &'a str,
    steady: String,
}

#[derive(Serialize)]
struct TakeCard {
    heading: &'static str,
    name: String,
    when: Option<String>,
    headline: String,
    advice: Vec<(String, String)>,
    ringdown: Option<String>,
    more: Option<String>,
    sound: Option<String>,
}

/// What the page says about hands and ears. Pain and breaks: British Association for Performing Arts
/// Medicine; loudness: NIOSH, 85 dB(A) for 8 hours and half as long for each 3 dB more.
const CARE: [&str; 3] = [
    words::page::CARE_FOR_HANDS,
    words::page::CARE_BY_REST,
    words::page::CARE_FOR_EARS,
];

/// How far to trust the page: what was measured on this guitar first.
fn trust(trial: &[String]) -> Vec<String> {
    let here = (!trial.is_empty())
        .then(|| format!("{} {}", words::trial::ON_THIS_GUITAR, trial.join(" ")));
    here.into_iter().chain(accuracy::statements()).collect()
}

/// The takes that a page shows more of than numbers, as positions in the list summed up: the worst and
/// the best of the chords played most.
pub fn wanted(summary: &Summary) -> Vec<usize> {
    let chords = summary.chords.iter().take(SHOWN_CHORDS);
    chords.flat_map(|c| [c.worst, c.best]).flatten().collect()
}

/// Head of a page, above its numbers.
#[derive(Debug, Clone, Default)]
pub struct Head {
    /// Title of the page.
    pub title: String,
    /// Name of whoever practised.
    pub learner: Option<String>,
    /// The report before, where there is one.
    pub last: Option<Last>,
    /// Notes that were typed into earlier pages.
    pub notes: Vec<TypedNote>,
    /// Result of a trial of the guitar, in sentences; none where there was none.
    pub trial: Vec<String>,
}

/// Writes the page. `takes` holds those that the summary names, `exhibits` what there is to show of those
/// [`wanted`].
///
/// # Panics
/// When a take that the summary names is not among `takes`.
pub fn html(
    head: &Head,
    takes: &HashMap<usize, PlayedTake>,
    summary: &Summary,
    exhibits: &HashMap<usize, Exhibit>,
) -> String {
    let chords: Vec<ChordView> = summary
        .chords
        .iter()
        .enumerate()
        .map(|(i, chord)| chord_view(chord, takes, i < SHOWN_CHORDS, exhibits))
        .collect();
    let numbers = Last::of(summary);
    let view = PageView {
        words: words::page::FIXED.into_iter().collect(),
        title: &head.title,
        learner: head.learner.as_deref(),
        numbers: numbers.element(),
        carried: TypedNote::element(&head.notes),
        notes: (head.notes.iter())
            .map(|note| (note.heading(), note.text()))
            .collect(),
        font_name: FONT_NAME,
        font: BASE64.encode(FONT),
        when: span(summary),
        guitars: summary.guitars.join(", "),
        short: in_short(
            summary,
            head.last.as_ref().and_then(|last| last.to(&numbers)),
        ),
        causes: summary.causes.iter().take(CAUSES).map(cause_view).collect(),
        chords,
        timing: summary.timing.as_ref().map(time_views).unwrap_or_default(),
        in_time_ms: IN_TIME_MS as u32,
        summary,
        care: CARE.to_vec(),
        trust: trust(&head.trial),
    };
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    add_sentences(&mut environment);
    // The name's ending switches escaping on.
    environment
        .add_template("page.html", include_str!("page.html"))
        .and_then(|()| environment.get_template("page.html")?.render(Serde(&view)))
        .unwrap_or_else(|error| {
            unreachable!("the page's template is part of the program: {error:#}")
        })
}

/// Gives the template the sentences that have gaps.
fn add_sentences(environment: &mut Environment) {
    use words::page;
    environment.add_function("a_table", page::a_table);
    environment.add_function("strings_table", page::strings_table);
    environment.add_function("in_time_means", page::in_time_means);
    environment.add_function("cause_in_takes", page::cause_in_takes);
    environment.add_function("cause_here", page::cause_here);
    environment.add_function("cause_strings", page::cause_strings);
    environment.add_function("chord_takes", page::chord_takes);
    environment.add_function("part_of", page::part_of);
    environment.add_function("sound_of", page::sound_of);
    environment.add_function("ringdown_of", page::ringdown_of);
    environment.add_function("spectrum_of", page::spectrum_of);
    environment.add_function("not_judged_since", page::not_judged_since);
    environment.add_function("not_judged_at", page::not_judged_at);
}

fn chord_view<'a>(
    chord: &'a ChordSummary,
    takes: &HashMap<usize, PlayedTake>,
    with_takes: bool,
    exhibits: &HashMap<usize, Exhibit>,
) -> ChordView<'a> {
    let name = chord.name();
    let strings = pictures::strings(chord);
    let label = words::page::strings_right(&name);
    let over_time = (chord.over_time.len() > 1).then(|| {
        let label = words::page::clean_by_time(&name);
        labelled(&pictures::over_time(&chord.over_time), &label)
    });
    let mut shown = Vec::new();
    if with_takes {
        for (heading, at) in [
            (words::page::WORST_TAKE, chord.worst),
            (words::page::BEST_TAKE, chord.best),
        ] {
            if let Some(at) = at {
                let heading = match (chord.worst, chord.best) {
                    (Some(_), Some(_)) => heading,
                    (None, _) if chord.judged > 1 => words::page::CLEAN_TAKE,
                    _ => words::page::ONE_TAKE,
                };
                shown.push(take_view(heading, &takes[&at], exhibits.get(&at)));
            }
        }
    }
    ChordView {
        weakest: weakest(chord).unwrap_or_default(),
        strings: labelled(&strings, &label),
        over_time,
        causes: chord
            .causes
            .iter()
            .take(CHORD_CAUSES)
            .map(cause_view)
            .collect(),
        takes: shown,
        numbers: chord,
        name,
    }
}

fn take_view(heading: &'static str, played: &PlayedTake, exhibit: Option<&Exhibit>) -> TakeCard {
    let take = &played.take;
    let advice = take.advice.iter();
    let drawn = |kinds: &[PictureKind], what: &str| {
        let exhibit = exhibit?;
        let drawing = plot::draw_bare(kinds, &exhibit.shown, PLOT_WIDTH);
        Some(labelled(
            &drawing,
            &words::page::picture_of(what, &played.name),
        ))
    };
    TakeCard {
        heading,
        name: played.name.clone(),
        when: played.when.map(words::dates::minute),
        headline: wording::headline(take),
        advice: advice
            .map(|a| (a.what.clone(), a.try_first.clone()))
            .collect(),
        ringdown: drawn(&[PictureKind::Ringdown], words::page::RINGDOWN_IN_SHORT),
        more: drawn(
            &[PictureKind::Spectrum, PictureKind::Chroma],
            words::page::SPECTRUM_IN_SHORT,
        ),
        sound: exhibit.map(|e| BASE64.encode(&e.sound)),
    }
}

fn cause_view(cause: &CauseSummary) -> CauseView<'_> {
    let strings = (0..STRINGS).filter(|&i| cause.strings[i] > 0);
    let strings: Vec<String> = strings
        .map(|i| format!("{} ({})", STRINGS - i, cause.strings[i]))
        .collect();
    CauseView {
        name: wording::capital(wording::cause(cause.cause)),
        takes: cause.takes,
        strings: strings.join(", "),
        what: &cause.what,
        try_first: &cause.try_first,
    }
}

/// The drawing as an element of the page that a screen reader calls `label`.
fn labelled(drawing: &Drawing, label: &str) -> String {
    let label = attribute(label);
    drawing.bare_svg().replacen(
        "<svg ",
        &format!("<svg role=\"img\" aria-label=\"{label}\" "),
        1,
    )
}

/// Letters that mean something within an attribute of an element, and how they stand there; [`attribute`] writes them.
const REFERENCES: [(char, &str); 4] = [
    ('&', "&amp;"),
    ('<', "&lt;"),
    ('>', "&gt;"),
    ('"', "&quot;"),
];

/// Text as the value of an attribute, to stand between double quotes.
fn attribute(text: &str) -> String {
    (REFERENCES.iter()).fold(text.to_owned(), |text, &(letter, reference)| {
        text.replace(letter, reference)
    })
}

/// Text of which [`attribute`] made `value`.
fn of_attribute(value: &str) -> String {
    (REFERENCES.iter().rev()).fold(value.to_owned(), |text, &(letter, reference)| {
        text.replace(reference, &letter.to_string())
    })
}

fn time_views(timing: &StrumTiming) -> Vec<TimeView<'_>> {
    let all = std::iter::once(&timing.all);
    all.chain(&timing.tempos)
        .chain(&timing.changes)
        .map(|line| TimeView {
            name: &line.name,
            strums: line.strums,
            in_time: line.in_time,
            usually: &line.said,
            steady: format!("{:.0} ms", line.steady_ms),
        })
        .collect()
}

/// What to read where there is no time to read more; `change` says what is other than in the report before.
fn in_short(summary: &Summary, change: Option<String>) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(words::page::takes_of_chords(
        words::grammar::takes(summary.takes),
        words::page::chords(summary.chords.len()),
        summary.judged,
        summary.clean,
    ));
    if let Some(minutes) = summary.minutes {
        lines.push(words::page::minutes_practised(
            words::page::minutes(minutes),
            REST_S / 60.0,
        ));
    }
    if summary.unread > 0 {
        lines.push(words::page::unread(words::page::recordings(summary.unread)));
    }
    lines.extend(change);
    let mut hardest: Vec<(&ChordSummary, f32)> = summary
        .chords
        .iter()
        .filter(|c| c.judged > 0 && c.clean < c.judged)
        .map(|c| (c, c.clean as f32 / c.judged as f32))
        .collect();
    hardest.sort_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((chord, _)) = hardest.first() {
        let string = match weakest(chord) {
            Some(weakest) => words::page::weakest_there(&weakest),
            None => String::new(),
        };
        lines.push(words::page::hardest(
            chord.name(),
            chord.clean,
            chord.judged,
            &string,
        ));
        let first = chord.causes.first().map(|cause| cause.try_first.trim());
        lines.push(match first.filter(|first| !first.is_empty()) {
            Some(first) => words::page::take_up_next(chord.name(), first),
            None => words::page::take_up_next_bare(chord.name()),
        });
    }
    if let Some(cause) = summary.causes.first() {
        lines.push(words::page::commonest_cause(
            words::grammar::takes(cause.takes),
            wording::cause(cause.cause),
            &cause.what,
        ));
    }
    lines
}

/// The string that did least often what it should: "string 3, right in 2 of 9 takes".
fn weakest(chord: &ChordSummary) -> Option<String> {
    let share = |s: &&StringSummary| s.as_it_should as f32 / s.told.max(1) as f32;
    let told = chord.strings.iter().filter(|s| s.told > s.as_it_should);
    let string = told.min_by(|a, b| share(a).total_cmp(&share(b)))?;
    Some(words::page::string_right(
        string.string,
        string.as_it_should,
        string.told,
    ))
}

fn span(summary: &Summary) -> Option<String> {
    Some(days(summary.first?.date(), summary.last?.date()))
}

/// "2 March 2026 to 8 March 2026".
fn days(first: Date, last: Date) -> String {
    words::dates::days(first, last, words::dates::day_and_year)
}
