//! A practice in lines: what is asked, what each take brought, and at the end what came out.

use std::io::{self, Write};

use super::neck::{self, NeckTable};
use super::picture::{clock, paragraph, symbol};
use super::playing;
use super::voicings::{abreast, each_once};
use super::{bar, median};
use crate::fretboard::library::voicing_of;
use crate::fretboard::{STRINGS, Voicing, string_number};
#[cfg(feature = "diary")]
use crate::practice::diary::DiaryKeeper;
use crate::practice::exercise::{
    Ask, Change, ChangeTimes, Findings, Landing, Placement, Progress, RootFindings, StageFindings,
    SwitchFindings, SwitchKind, VoicingTally,
};
use crate::practice::{Drill, Event, Lesson, Session, Step, StepResult, TakeEvent, wording};
use crate::progression::performance::Performance;
use crate::verdict::wording as verdicts;
use crate::words;

/// Writes the lesson's title and what the teacher says first.
///
/// # Errors
/// Where `out` cannot be written, as all of these.
pub fn opening(out: &mut dyn Write, lesson: &Lesson) -> io::Result<()> {
    paragraph(out, &lesson.title)?;
    if let Some(about) = &lesson.about {
        paragraph(out, about)?;
    }
    Ok(())
}

/// Writes what a lesson asks for, step by step.
///
/// # Errors
/// Where `out` cannot be written.
pub fn plan(out: &mut dyn Write, lesson: &Lesson) -> io::Result<()> {
    opening(out, lesson)?;
    for (step, Step { say, .. }) in lesson.steps.iter().enumerate() {
        writeln!(out)?;
        paragraph(out, &wording::step(lesson, step))?;
        if let Some(say) = say {
            paragraph(out, say)?;
        }
    }
    Ok(())
}

/// Cells of the bar that shows how far a step has come.
const PROGRESS_CELLS: usize = 10;

/// Writes what has happened; `left`: chord pictures as a left-handed player sees the neck.
pub fn event(out: &mut dyn Write, lesson: &Lesson, event: &Event, left: bool) -> io::Result<()> {
    match event {
        Event::Step { step } => {
            writeln!(out)?;
            paragraph(out, &wording::step(lesson, *step))?;
            if let Some(say) = &lesson.steps[*step].say {
                paragraph(out, say)?;
            }
            pictures(out, lesson, *step, left)?;
        }
        Event::Asked(ask) => asked(out, ask)?,
        Event::Take(take) => self::take(out, take)?,
        Event::Along(along) => {
            playing::brief_text(&along.played, out)?;
            paragraph(out, &wording::landed(lesson, along))?;
        }
        Event::Withdrawn { .. } => {
            writeln!(out, "{}", words::lesson::LAST_BELONGS_TO_ANOTHER)?;
        }
        Event::Over { outcome, .. } => paragraph(out, &capital(wording::outcome(*outcome)))?,
        Event::Break => {
            writeln!(out)?;
            paragraph(out, wording::BREAK)?;
            writeln!(out)?;
        }
        Event::End => {}
    }
    out.flush()
}

/// One line for a screen: the step, how far it has come, the time left.
pub fn status(lesson: &Lesson, session: &Session, now_s: f64) -> String {
    let Some((step, progress)) = session.step().zip(session.progress()) else {
        return String::new();
    };
    let count = lesson.steps.len();
    let kind = wording::kind_in_words(&lesson.steps[step].drill);
    let left = match session.left_s(now_s) {
        Some(left_s) => words::lesson::time_left(left_s as u64 / 60, left_s as u64 % 60),
        None if session.is_paused() => words::lesson::PAUSED.to_owned(),
        None => words::lesson::TIME_WAITS.to_owned(),
    };
    let Progress { done, of } = progress;
    let share = f64::from(done) / f64::from(of.max(1));
    let bar = bar(share as f32, PROGRESS_CELLS);
    words::lesson::step_line(step + 1, count, kind, &bar, done, of, &left)
}

fn asked(out: &mut dyn Write, ask: &Ask) -> io::Result<()> {
    paragraph(out, &format!("> {}", ask.text))
}

fn take(out: &mut dyn Write, event: &TakeEvent) -> io::Result<()> {
    let take = &event.take;
    let symbols: Vec<&str> = (take.strings.iter())
        .map(|s| {
            if take.judged() {
                symbol(s.verdict)
            } else {
                "-"
            }
        })
        .collect();
    let Progress { done, of } = event.progress;
    writeln!(
        out,
        "{:>9}  {}  {:<32}{done}/{of}",
        clock(take.start_s),
        symbols.join(" "),
        verdicts::brief(take)
    )?;
    let mut more: Vec<String> = wording::note(&event.reply.note).into_iter().collect();
    if let Some(gap_s) = event.reply.gap_s {
        more.push(words::lesson::gap_from_chord(gap_s));
    }
    if let Some(advice) = take
        .advice
        .first()
        .filter(|_| event.reply.clean == Some(false))
    {
        more.push(words::take::try_first(&advice.try_first));
    }
    if !more.is_empty() {
        paragraph(out, &more.join(" "))?;
    }
    Ok(())
}

/// Writes what came out of each step that was begun.
pub fn results(out: &mut dyn Write, lesson: &Lesson, results: &[StepResult]) -> io::Result<()> {
    writeln!(out)?;
    paragraph(out, &words::lesson::results_of(&lesson.title))?;
    for result in results {
        let drill = &lesson.steps[result.step].drill;
        writeln!(out)?;
        let head = format!(
            "{}. {}, {}: {}.",
            result.step + 1,
            drill.kind(),
            wording::subject(drill),
            wording::outcome(result.outcome)
        );
        paragraph(out, &head)?;
        match &result.findings {
            Findings::Build(stages) => build(out, stages)?,
            Findings::Place(placements) => place(out, placements)?,
            Findings::Climb(places) => climb(out, places)?,
            Findings::Name(roots) => name(out, roots)?,
            Findings::Switch(found) => switch(out, found)?,
            Findings::Hold(chords) => hold(out, chords)?,
            Findings::Route(landings) => landings_of(out, landings)?,
            Findings::Play(times) => times_through(out, times)?,
        }
    }
    let open = lesson.steps.len() - results.len();
    if open > 0 {
        let steps = match open {
            1 => words::lesson::ONE_MORE_STEP.to_owned(),
            n => words::lesson::more_steps(n),
        };
        writeln!(out)?;
        paragraph(out, &words::lesson::not_begun(&steps))?;
    }
    writeln!(out)?;
    paragraph(out, wording::CARE)
}

/// "string 2 (3), string 1 (1)": the strings that most often had a fault, two at most.
fn worst(faults: &[u32; STRINGS]) -> String {
    let mut strings: Vec<(u32, u8)> = (faults.iter().enumerate())
        .filter(|(_, n)| **n > 0)
        .map(|(i, n)| (*n, string_number(i)))
        .collect();
    strings.sort_by_key(|&(n, string)| (std::cmp::Reverse(n), std::cmp::Reverse(string)));
    let texts: Vec<String> = strings
        .iter()
        .take(2)
        .map(|(n, s)| format!("{s} ({n})"))
        .collect();
    texts.join(", ")
}

fn build(out: &mut dyn Write, stages: &[StageFindings]) -> io::Result<()> {
    let begun: Vec<&StageFindings> = stages.iter().filter(|s| s.takes > 0).collect();
    if begun.is_empty() {
        return writeln!(out, "{}", words::lesson::NOTHING_HEARD);
    }
    writeln!(out, "{}", words::lesson::STAGES_HEAD)?;
    for s in begun {
        let clean = format!("{}/{}", s.clean, s.wanted);
        let line = format!(
            "{:<17} {:>5}  {clean:>5}   {}",
            s.stage.word(),
            s.takes,
            worst(&s.faults)
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// Placements that fit a line.
const PLACEMENTS: usize = 16;

fn place(out: &mut dyn Write, placements: &[Placement]) -> io::Result<()> {
    if placements.is_empty() {
        return writeln!(out, "{}", words::lesson::NO_PLACEMENT);
    }
    let first = placements.len().saturating_sub(PLACEMENTS);
    let shown = &placements[first..];
    let numbers: String = (first..placements.len())
        .map(|i| format!("{:>3}", i + 1))
        .collect();
    writeln!(out, "{}", words::lesson::placements_head(&numbers))?;
    for string in 0..STRINGS {
        let symbols: String = shown
            .iter()
            .map(|p| format!("  {}", symbol(p.verdicts[string])))
            .collect();
        let right = |placement: &usize| {
            let right = placements[*placement].right[string];
            (right > 0.0).then_some(right)
        };
        let surest = (0..placements.len())
            .filter(|placement| right(placement).is_some())
            .max_by(|a, b| {
                let (one, other) = (right(a).unwrap_or(0.0), right(b).unwrap_or(0.0));
                one.total_cmp(&other).then(b.cmp(a))
            });
        // Where it never did what it should, none is.
        let surest = surest.map_or_else(|| "-".to_owned(), |best| (best + 1).to_string());
        writeln!(
            out,
            "{}",
            words::lesson::string_line(string_number(string), symbols, surest)
        )?;
    }
    match Placement::best(placements) {
        Some(best) => writeln!(out, "{}", words::lesson::placement_rang_best(best + 1)),
        None => writeln!(out, "{}", words::lesson::ONE_PLACEMENT),
    }
}

fn climb(out: &mut dyn Write, places: &[VoicingTally]) -> io::Result<()> {
    let columns: Vec<neck::NeckColumn> = places
        .iter()
        .map(|place| {
            let count = |clean: u32| match place.takes {
                0 => "·".to_owned(),
                takes => format!("{clean}/{takes}"),
            };
            neck::NeckColumn {
                name: place
                    .target
                    .chord
                    .map_or_else(String::new, |c| c.root.to_string()),
                fret: place.target.voicing.as_ref().map_or(0, |v| v.at),
                strings: std::array::from_fn(|i| count(place.takes - place.faults[i])),
                all: count(place.clean),
            }
        })
        .collect();
    writeln!(out, "{}", words::lesson::STRINGS_RIGHT_HEAD)?;
    NeckTable { columns: &columns }.draw(out)
}

fn name(out: &mut dyn Write, roots: &[RootFindings]) -> io::Result<()> {
    writeln!(out, "{}", words::lesson::ROOTS_HEAD)?;
    for root in roots
        .iter()
        .filter(|r| r.asked > 0 || !r.instead.is_empty())
    {
        let seconds = median(&root.seconds).map_or_else(|| "-".to_owned(), |s| format!("{s:.1}"));
        let line = format!(
            "{:<4}  {:>5}  {:>7}  {seconds:>7}  {}",
            root.root.to_string(),
            root.asked,
            root.at_once,
            root.instead.join(", ")
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

fn switch(out: &mut dyn Write, found: &SwitchFindings) -> io::Result<()> {
    let changes = found.changes.len();
    let clean = |changes: &[&Change]| {
        changes
            .iter()
            .filter(|c| c.landed_clean == Some(true))
            .count()
    };
    let all: Vec<&Change> = found.changes.iter().collect();
    let gaps: Vec<f64> = all.iter().filter_map(|c| c.gap_s).collect();
    let takes = match change_time(&gaps) {
        Some(takes) => words::lesson::time_for_a_change(&takes),
        None => String::new(),
    };
    paragraph(
        out,
        &words::lesson::changes_landed(changes, clean(&all), &takes),
    )?;
    if changes == 0 {
        return Ok(());
    }
    writeln!(
        out,
        "{}",
        words::lesson::changes_head(words::lesson::WHAT_CHANGES)
    )?;
    for kind in [
        SwitchKind::Shape,
        SwitchKind::Slide,
        SwitchKind::Both,
        SwitchKind::Other,
    ] {
        let these: Vec<&Change> = all.iter().copied().filter(|c| c.kind == kind).collect();
        if these.is_empty() {
            continue;
        }
        let gaps: Vec<f64> = these.iter().filter_map(|c| c.gap_s).collect();
        let takes = change_time(&gaps).unwrap_or_else(|| "-".to_owned());
        writeln!(
            out,
            "{:<26}  {:>7}  {:>5}  {takes}",
            kind.phrase(),
            these.len(),
            clean(&these)
        )?;
    }
    Ok(())
}

fn hold(out: &mut dyn Write, chords: &[VoicingTally]) -> io::Result<()> {
    writeln!(out, "{}", words::lesson::CHORDS_HEAD)?;
    for chord in chords {
        let line = format!(
            "{:<20} {:>5}  {:>5}  {}",
            chord.target.to_string(),
            chord.takes,
            chord.clean,
            worst(&chord.faults)
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

fn landings_of(out: &mut dyn Write, landings: &[Landing]) -> io::Result<()> {
    writeln!(out, "{}", words::lesson::ROUTE_HEAD)?;
    for landing in landings {
        let way = match &landing.from {
            Some(from) => format!("{from}, {}", landing.to),
            None => words::lesson::begin_at(&landing.to),
        };
        writeln!(out, "{way:<40} {:>5}  {:>5}", landing.times, landing.clean)?;
    }
    Ok(())
}

/// The last time through, and how many there were.
fn times_through(out: &mut dyn Write, times: &[Performance]) -> io::Result<()> {
    match times {
        [] => writeln!(out, "{}", words::lesson::NOT_PLAYED_THROUGH),
        [only] => playing::text(only, out),
        [.., last] => {
            writeln!(out, "{}", words::lesson::times_through(times.len()))?;
            playing::text(last, out)
        }
    }
}

/// The pictures of the chords that the program has found for a step, each once.
fn pictures(out: &mut dyn Write, lesson: &Lesson, step: usize, left: bool) -> io::Result<()> {
    let tuning = &lesson.tuning;
    let voicings: Vec<Voicing> = match &lesson.steps[step].drill {
        Drill::Route { way, .. } => way.steps.iter().map(|s| s.voicing.clone()).collect(),
        Drill::Play { part, .. } => (part.voicings.iter().flatten())
            .filter_map(|frets| voicing_of(frets, tuning))
            .collect(),
        _ => return Ok(()),
    };
    writeln!(out)?;
    abreast(out, &each_once(&voicings), left, tuning)?;
    writeln!(out)
}

/// Says where what the diary could not take is; without a file the lines themselves.
#[cfg(feature = "diary")]
pub fn left_over(out: &mut dyn Write, keeper: &DiaryKeeper) -> io::Result<()> {
    let count = keeper.lines().len();
    if count == 0 {
        return Ok(());
    }
    let takes = words::lesson::takes_are(count);
    writeln!(out)?;
    match keeper.file() {
        Some(file) => {
            paragraph(out, &words::lesson::not_in_diary(takes))?;
            writeln!(out, "{}", super::terminal::shown(file))?;
        }
        None => {
            paragraph(out, &words::lesson::not_in_diary_keep(takes))?;
            for line in keeper.lines() {
                writeln!(out, "{line}")?;
            }
        }
    }
    paragraph(out, words::lesson::IMPORT_THEM)
}

/// Says how long changes take: "0.8 ± 0.2 s", the middle one and its spread; `None` of none.
pub(super) fn change_time(gaps_s: &[f64]) -> Option<String> {
    let times = ChangeTimes::of(gaps_s)?;
    let digits = usize::from(times.middle_s < 10.0);
    Some(format!(
        "{:.digits$} ± {:.digits$} s",
        times.middle_s, times.spread_s
    ))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first
            .to_uppercase()
            .chain(letters)
            .chain(".".chars())
            .collect()
    })
}
