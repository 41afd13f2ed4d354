//! `ringtrue` without a word more: what to do next, by what is plugged in and what the diary holds.

use std::ffi::OsString;
use std::io::{self, IsTerminal};
use std::process::ExitCode;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::guitar::GuitarArgs;
use super::{AS_IT_SHOULD_BE, Console};
use crate::audio::live::inputs;
use crate::fretboard::Frets;
use crate::practice::diary::{Diary, Filter};
use crate::practice::progress::{Next, ProgressGatherer, ProgressReport};
use crate::report::picture::paragraph;
use crate::words;

/// What is played where the diary has no better idea: the first barre chord that most learn.
const FIRST: &str = "133211";

/// Says what to type next; on a terminal it asks for a chord and gives the arguments that listen to it.
///
/// # Errors
/// Where the output cannot be written.
pub fn run(console: &mut Console) -> anyhow::Result<Result<ExitCode, Vec<OsString>>> {
    let out = &mut *console.out;
    paragraph(out, words::start::WHAT_IT_IS)?;
    writeln!(out)?;
    let microphone = usual_microphone();
    match &microphone {
        Some(name) => paragraph(out, &words::start::microphone(name))?,
        None => {
            paragraph(out, words::start::NO_MICROPHONE)?;
            writeln!(out, "{}", words::start::check_command(FIRST))?;
        }
    }
    let guitars = GuitarArgs::default();
    let guitars = guitars.profiles().map(|p| p.names()).unwrap_or_default();
    if guitars.is_empty() && microphone.is_some() {
        paragraph(out, words::start::TUNE_ONCE)?;
        writeln!(out, "{}", words::start::SOUNDCHECK_COMMAND)?;
    }
    let guitar = guitars.first().filter(|_| guitars.len() == 1);
    let report = of_diary();
    let next = report.as_ref().and_then(|report| report.next.first());
    if let Some(report) = report.as_ref().filter(|report| report.takes > 0) {
        let last = report.days.last();
        let last = last.map_or(String::new(), |day| words::start::last_on(day.date));
        let next = next.map_or(String::new(), |next| {
            words::start::take_up(&next.chord, next.exercise)
        });
        let takes = report.takes;
        paragraph(out, &words::start::diary_holds(takes, &last, &next))?;
        writeln!(out, "{}", words::start::PROGRESS_COMMAND)?;
    }
    let frets = next.and_then(Next::frets);
    let frets = frets.map_or(FIRST.to_owned(), |frets| frets.to_string());
    paragraph(out, words::start::ONE_CHORD)?;
    let with = guitar.map_or(String::new(), |name| format!(" --guitar {name:?}"));
    writeln!(out, "{}", words::start::listen_command(&frets, &with))?;
    paragraph(out, words::start::A_LESSON)?;
    writeln!(out, "{}", words::start::practice_command(&with))?;
    paragraph(out, words::start::EVERYTHING_ELSE)?;
    out.flush()?;
    let asks = io::stdin().is_terminal() && io::stdout().is_terminal();
    if !asks || microphone.is_none() {
        return Ok(Ok(AS_IT_SHOULD_BE.into()));
    }
    write!(console.out, "{}", words::start::which_chord(&frets))?;
    console.out.flush()?;
    let mut answer = String::new();
    io::stdin().read_line(&mut answer)?;
    Ok(
        match listen_to(&answer, &frets, guitar.map(String::as_str)) {
            Some(arguments) => Err(arguments),
            None => Ok(AS_IT_SHOULD_BE.into()),
        },
    )
}

/// The arguments that listen to what was answered; `None` where nothing is to be played.
fn listen_to(answer: &str, usual: &str, guitar: Option<&str>) -> Option<Vec<OsString>> {
    let answer = match answer.trim() {
        "" => usual,
        "q" | "Q" => return None,
        answer => answer,
    };
    let option = match answer.parse::<Frets>() {
        Ok(_) => "--frets",
        Err(_) => "--chord",
    };
    let mut arguments = vec!["ringtrue", "listen", "--diary", option, answer];
    arguments.extend(guitar.into_iter().flat_map(|name| ["--guitar", name]));
    Some(arguments.into_iter().map(OsString::from).collect())
}

/// The name of the microphone that would be listened to.
fn usual_microphone() -> Option<String> {
    let devices = inputs().ok()?;
    let usual = devices.iter().find(|device| device.usual);
    Some(usual.or(devices.first())?.name.clone())
}

/// What the usual diary tells, where there is one.
fn of_diary() -> Option<ProgressReport> {
    let diary = Diary::open_existing(&Diary::usual_path()?).ok()?;
    let zone = TimeZone::try_system().unwrap_or(TimeZone::UTC);
    let mut gatherer = ProgressGatherer::new(Timestamp::now(), zone);
    diary
        .scan(&Filter::default(), |row| gatherer.add(row))
        .ok()?;
    Some(gatherer.report())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_frets_or_a_name_and_enter_means_what_was_proposed() {
        let words = |answer: &str| {
            listen_to(answer, "x13331", None).map(|a| {
                let words: Vec<String> = a.iter().map(|w| w.to_string_lossy().into()).collect();
                words[3..].join(" ")
            })
        };
        assert_eq!(words("\n").as_deref(), Some("--frets x13331"));
        assert_eq!(words(" 133211\n").as_deref(), Some("--frets 133211"));
        assert_eq!(words("Bbm7\n").as_deref(), Some("--chord Bbm7"));
        assert_eq!(words("q\n"), None);
        let mine = listen_to("", "x13331", Some("mine")).unwrap();
        assert_eq!(mine[5..], ["--guitar", "mine"].map(OsString::from));
    }
}
