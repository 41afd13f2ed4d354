//! Choice of what the player can do: as options say it, or as the screen before a trial asks for it.

use anyhow::{Context, anyhow, bail};

use crate::cli::chord::ChordArgs;
use crate::fretboard::Tuning;
use crate::report::live::choice::{self, Choosing, Item};
use crate::report::live::{Key, Stage};
use crate::trial::plan::{FAULTS, MINUTES, PER_MINUTE};
use crate::trial::{Choice, Deed};
use crate::verdict::ExpectedVoicing;
use crate::words;

/// Chords that are offered: those that rhythm guitar begins with (common practice).
const OFFERED: [&str; 10] = ["E", "A", "D", "C", "G", "Am", "Em", "F", "Bb", "Bm"];
/// Keys of the chords; none of them means anything else on that screen.
const CHORD_KEYS: &str = "abcdefghij";

/// Beginning of a trial, as it is asked for.
#[derive(Debug, Clone)]
pub struct WantedTrial {
    pub choice: Choice,
    pub minutes: u8,
    pub licence: String,
}

/// The chords that a text names, in their usual shapes.
///
/// # Errors
/// One that is not known, as a sentence.
pub fn chords(text: &str, tuning: &Tuning) -> anyhow::Result<Vec<ExpectedVoicing>> {
    let words = text.split([' ', ',']).filter(|word| !word.is_empty());
    let voicing = |word: &str| -> anyhow::Result<ExpectedVoicing> {
        let expected = ChordArgs::of(word, None)
            .expected(tuning)
            .with_context(|| words::trial::no_such_chord(word))?;
        let example = expected.example().cloned();
        example.ok_or_else(|| anyhow!(words::trial::no_such_chord(word)))
    };
    let chords: Vec<ExpectedVoicing> = words.map(voicing).collect::<Result<_, _>>()?;
    if chords.is_empty() {
        bail!(words::trial::no_such_chord(text));
    }
    Ok(chords)
}

/// Chords of the offered ones that a tuning has.
pub fn offered(tuning: &Tuning) -> Vec<ExpectedVoicing> {
    let chords = OFFERED.map(|name| chords(name, tuning)).into_iter();
    chords.flatten().flatten().collect()
}

/// The faults that a text names by their words; "none" is none.
///
/// # Errors
/// One that is not known, as a sentence.
pub fn faults(text: &str) -> anyhow::Result<Vec<Deed>> {
    let words = text.split([' ', ',']).filter(|word| !word.is_empty());
    let words: Vec<&str> = words.filter(|word| *word != "none").collect();
    let fault = |word: &&str| {
        let deed = Deed::parse(word).filter(|deed| FAULTS.contains(deed));
        let known = FAULTS.map(Deed::word).join(", ");
        deed.ok_or_else(|| anyhow!(words::trial::faults_expected(word, known)))
    };
    words.iter().map(fault).collect()
}

/// Asks on the screen; `None` where the player does not want to begin.
///
/// # Errors
/// Where the terminal is gone.
pub fn ask(
    stage: &mut Stage,
    offered: &[ExpectedVoicing],
    wanted: WantedTrial,
) -> anyhow::Result<Option<WantedTrial>> {
    let chord_name = |v: &ExpectedVoicing| v.chord.clone().unwrap_or_else(|| v.frets.to_string());
    let mut chords: Vec<(&ExpectedVoicing, bool)> = (offered.iter().take(CHORD_KEYS.len()))
        .map(|voicing| (voicing, wanted.choice.chords.contains(voicing)))
        .collect();
    let mut deeds = FAULTS.map(|deed| (deed, wanted.choice.deeds.contains(&deed)));
    let (mut minutes, mut licence) = (wanted.minutes, wanted.licence);
    loop {
        let chosen = Choice {
            chords: chords.iter().filter(|c| c.1).map(|c| c.0.clone()).collect(),
            deeds: deeds.iter().filter(|d| d.1).map(|d| d.0).collect(),
        };
        let strums = usize::from(minutes) * PER_MINUTE;
        let named = words::trial::LICENCES
            .iter()
            .find(|known| known.0 == licence);
        let choosing = Choosing {
            title: words::trial::title(words::trial::length(strums, minutes)),
            said: [
                words::trial::WHAT_HAPPENS,
                words::trial::NOT_AS_ASKED,
                words::trial::CAUTION,
                "",
            ]
            .map(str::to_owned)
            .to_vec(),
            lists: vec![
                (
                    words::trial::CHORDS.to_owned(),
                    (CHORD_KEYS.chars().zip(&chords))
                        .map(|(key, (voicing, chosen))| Item {
                            key,
                            name: chord_name(voicing),
                            chosen: *chosen,
                        })
                        .collect(),
                ),
                (
                    words::trial::FAULTS.to_owned(),
                    ('1'..='9')
                        .zip(&deeds)
                        .map(|(key, (deed, chosen))| Item {
                            key,
                            name: deed.phrase().to_owned(),
                            chosen: *chosen,
                        })
                        .collect(),
                ),
            ],
            further: words::trial::choice_keys(minutes, named.map_or(&*licence, |known| known.1)),
            wrong: match (chosen.chords.is_empty(), chosen.deeds.is_empty()) {
                (true, _) => words::trial::ONE_CHORD_AT_LEAST.to_owned(),
                (false, true) => words::trial::SEVERAL_FAULTS.to_owned(),
                (false, false) => String::new(),
            },
            keys: words::trial::CHOICE_BEGINS.to_owned(),
        };
        stage.draw(|frame| choice::draw(frame, &choosing))?;
        match stage.wait()? {
            Key::Quit => return Ok(None),
            Key::Letter('n' | ' ') | Key::Forward if !chosen.chords.is_empty() => {
                return Ok(Some(WantedTrial {
                    choice: chosen,
                    minutes,
                    licence,
                }));
            }
            Key::Letter('m') => minutes = next(&MINUTES, &minutes),
            Key::Letter('l') => {
                let known = words::trial::LICENCES.map(|known| known.0);
                licence = next(&known, &&*licence).to_owned();
            }
            Key::Letter(key) => {
                if let Some(at) = CHORD_KEYS.find(key).filter(|at| *at < chords.len()) {
                    chords[at].1 ^= true;
                }
                let number = key.to_digit(10).and_then(|n| (n as usize).checked_sub(1));
                if let Some(deed) = number.and_then(|at| deeds.get_mut(at)) {
                    deed.1 ^= true;
                }
            }
            _ => {}
        }
    }
}

/// The one after `now`; the first after the last, and where it is none of them.
fn next<T: Copy + PartialEq>(all: &[T], now: &T) -> T {
    let at = all.iter().position(|one| one == now);
    all[at.map_or(0, |at| (at + 1) % all.len())]
}
