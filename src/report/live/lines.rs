//! A session in lines: for people whose terminal shows no full screen, and for programs.

use std::io::{self, Write};

use serde_json::{Value, json};

use crate::fretboard::STRINGS;
use crate::listening::Message;
use crate::listening::saved::take_object;
use crate::report::json::json_line;
use crate::report::picture::{LIST_HEADING, clock, symbol};
use crate::verdict::{Expected, JudgedTake, wording};
use crate::words;

/// One form of lines. Every method fails only where `out` cannot be written.
pub trait LineForm {
    /// Listening begins, or another chord is meant.
    fn expect(&mut self, out: &mut dyn Write, expected: &Expected) -> io::Result<()>;
    /// Something was heard.
    fn hear(&mut self, out: &mut dyn Write, heard: &Message) -> io::Result<()>;
    /// Something happened to the sound: `word` for programs, `sentence` for people.
    fn notice(&mut self, out: &mut dyn Write, word: &str, sentence: &str) -> io::Result<()>;
}

/// Lines for people: one for each take, once it is settled, and the advice below it.
#[derive(Debug, Default)]
pub struct Plain;

impl LineForm for Plain {
    fn expect(&mut self, out: &mut dyn Write, expected: &Expected) -> io::Result<()> {
        match (expected.named(), expected.example()) {
            (Some(voicing), _) => match &voicing.chord {
                Some(chord) => writeln!(
                    out,
                    "{}",
                    words::screen::listening_for_chord(chord, voicing.frets)
                )?,
                None => writeln!(out, "{}", words::screen::listening_for_frets(voicing.frets))?,
            },
            (None, Some(example)) => {
                let chord = example.chord.as_deref().unwrap_or_default();
                writeln!(out, "{}", words::screen::listening_for(chord))?;
            }
            (None, None) => writeln!(out, "{}", words::screen::LISTENING_FOR_ANY)?,
        }
        writeln!(out, "{LIST_HEADING}")?;
        out.flush()
    }

    fn hear(&mut self, out: &mut dyn Write, heard: &Message) -> io::Result<()> {
        match heard {
            Message::Settled { number, take } => {
                let symbols: Vec<&str> = (0..STRINGS)
                    .map(|i| match take.judged() {
                        true => symbol(take.strings[i].verdict),
                        false => "-",
                    })
                    .collect();
                writeln!(
                    out,
                    "{number:>4} {:>9}  {}  {}",
                    clock(take.start_s),
                    symbols.join(" "),
                    wording::headline(take)
                )?;
                if let Some(advice) = take.advice.first().filter(|_| take.judged()) {
                    writeln!(
                        out,
                        "                {}",
                        words::take::try_first(&advice.try_first)
                    )?;
                }
                if let Some(note) = wording::tuning_note(take) {
                    writeln!(out, "                {note}")?;
                }
            }
            Message::Withdrawn { number } => {
                writeln!(out, "{}", words::screen::belongs_to_another(number))?;
            }
            Message::First { .. } | Message::Cut { .. } | Message::Over { .. } => return Ok(()),
        }
        out.flush()
    }

    fn notice(&mut self, out: &mut dyn Write, _word: &str, sentence: &str) -> io::Result<()> {
        writeln!(out, "{sentence}")?;
        out.flush()
    }
}

/// Lines for programs: one JSON object each, told apart by "event".
#[derive(Debug, Default)]
pub struct JsonLines;

impl JsonLines {
    fn put(out: &mut dyn Write, value: &Value) -> io::Result<()> {
        json_line(out, value)?;
        out.flush()
    }

    fn take(event: &str, number: u64, take: &JudgedTake) -> Value {
        json!({ "event": event, "number": number, "take": take_object(take) })
    }
}

impl LineForm for JsonLines {
    fn expect(&mut self, out: &mut dyn Write, expected: &Expected) -> io::Result<()> {
        let (chord, frets) = match expected.named() {
            Some(v) => (v.chord.clone(), Some(v.frets.to_string())),
            None => (expected.example().and_then(|v| v.chord.clone()), None),
        };
        let value = json!({ "event": "listening", "chord": chord, "frets": frets });
        Self::put(out, &value)
    }

    fn hear(&mut self, out: &mut dyn Write, heard: &Message) -> io::Result<()> {
        let value = match heard {
            Message::First { number, take } => Self::take("first", *number, take),
            Message::Settled { number, take } => Self::take("settled", *number, take),
            Message::Withdrawn { number } => json!({ "event": "withdrawn", "number": number }),
            Message::Cut { .. } | Message::Over { .. } => return Ok(()),
        };
        Self::put(out, &value)
    }

    fn notice(&mut self, out: &mut dyn Write, word: &str, sentence: &str) -> io::Result<()> {
        Self::put(out, &json!({ "event": word, "text": sentence }))
    }
}
