//! The six strings of one take as they sounded, drawn low to high in symbols and words that read the
//! same without colour.

use std::io::{self, Write};

use crate::fretboard::{ChordName, NoteName, STRINGS, Tuning};
use crate::take::Manner;
use crate::verdict::{JudgedTake, Verdict, Warning, wording};
use crate::words;
use crate::words::foreign::visible;

/// Longest line, in characters: fits a narrow terminal beside another window.
pub const WIDTH: usize = 60;
/// Over lines of one take each.
pub const LIST_HEADING: &str = words::picture::LIST_HEAD;
/// Cells of a string's line in the picture.
const LINE: usize = 6;

// Of the 256 colours that terminals have in common, those that read on dark and light ground.
const BLUE: &str = "\x1b[38;5;33m";
const BOLD_ORANGE: &str = "\x1b[1;38;5;208m";
const BOLD: &str = "\x1b[1m";
const PLAIN: &str = "\x1b[0m";
/// All that this program ever asks of a terminal.
pub const COLOURS: [&str; 4] = [BLUE, BOLD_ORANGE, BOLD, PLAIN];

/// Way to show it.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    /// Colour besides words and symbols.
    pub colour: bool,
    /// Mirrored for a left-handed guitar: the fretting hand is on the right of the picture.
    pub left: bool,
}

/// Draws takes of one guitar.
#[derive(Debug)]
pub struct Picture {
    pub look: Look,
    /// Tuning of the guitar, for the names of its notes.
    pub tuning: Tuning,
}

impl Picture {
    /// Draws a take: the sentence to read first, the picture, what else there is to say.
    ///
    /// # Errors
    /// Where `out` cannot be written.
    pub fn draw(&self, out: &mut dyn Write, take: &JudgedTake) -> io::Result<()> {
        if self.look.colour {
            write!(out, "{BOLD}")?;
        }
        paragraph(out, &wording::headline(take))?;
        if self.look.colour {
            write!(out, "{PLAIN}")?;
        }
        if take.judged() {
            writeln!(out)?;
            let neck = if self.look.left {
                format!("{:LINE$}   {}", "", words::picture::FRET)
            } else {
                words::picture::FRET.to_owned()
            };
            writeln!(out, "{}", words::picture::take_head(&neck))?;
            for index in 0..STRINGS {
                self.row(out, take, index)?;
            }
            writeln!(out)?;
            for advice in &take.advice {
                paragraph(out, &advice.what)?;
                paragraph(out, &words::take::try_first(&advice.try_first))?;
                writeln!(out)?;
            }
            for warning in &take.warnings {
                paragraph(out, &wording::warning(warning, take))?;
            }
            if let Some(note) = wording::tuning_note(take) {
                paragraph(out, &note)?;
            }
        } else {
            writeln!(out)?;
        }
        paragraph(out, &self.circumstances(take))
    }

    fn row(&self, out: &mut dyn Write, take: &JudgedTake, index: usize) -> io::Result<()> {
        let string = &take.strings[index];
        let fret = string
            .expected_fret
            .map_or_else(|| "x".to_owned(), |f| f.to_string());
        let note = self.note(take, index);
        let sign = symbol(string.verdict);
        let line = sounding_line(string.verdict);
        let neck = if self.look.left {
            let line = format!("{line:>LINE$} {sign}");
            format!(" {} {fret:>3}", self.paint(string.verdict, &line))
        } else {
            let line = format!("{sign} {line:<LINE$}");
            format!("{fret:>3}  {}", self.paint(string.verdict, &line))
        };
        let phrase = self.paint(string.verdict, &wording::string_phrase(string));
        writeln!(out, "   {}   {note:<4}{neck}  {phrase}", string.string)
    }

    /// The note that a string should sound, or its open one, as it is called in the chord. As the
    /// frets are, it is counted from the capo.
    pub fn note(&self, take: &JudgedTake, index: usize) -> NoteName {
        let fret = take.strings[index].expected_fret.unwrap_or(0);
        let pitch_class = self.tuning.open[index].saturating_add(fret) % 12;
        match take.chord.as_deref().map(str::parse::<ChordName>) {
            Some(Ok(chord)) => chord.spell(pitch_class),
            _ => NoteName::usual(pitch_class),
        }
    }

    /// What the take was held against, and where in the recording it is.
    fn circumstances(&self, take: &JudgedTake) -> String {
        let expected = match &take.chord {
            Some(chord) => format!("{chord} ({})", take.frets),
            None => take.frets.to_string(),
        };
        let capo = match self.tuning.capo {
            0 => String::new(),
            capo => words::picture::with_a_capo(capo),
        };
        let manner = manner(take.manner);
        let guessed = |w: &Warning| {
            matches!(
                w,
                Warning::ChordGuessed { .. } | Warning::VoicingGuessed { .. }
            )
        };
        let held_against = match take.warnings.iter().any(guessed) {
            true => words::picture::BEST_FIT,
            false => words::picture::EXPECTED,
        };
        let at = clock(take.start_s);
        if take.frets.sounding().next().is_none() {
            return words::picture::played_at(manner, &at);
        }
        words::picture::held_against(held_against, format!("{expected}{capo}"), manner, at)
    }

    /// Blue for what is as it should be, bold orange for a fault: the pair that all common forms of
    /// colour blindness keep apart (common practice). What is open has no colour.
    pub fn paint(&self, verdict: Verdict, text: &str) -> String {
        let code = match verdict {
            _ if !self.look.colour => return text.to_owned(),
            Verdict::Unsure => return text.to_owned(),
            v if v.is_fault() => BOLD_ORANGE,
            _ => BLUE,
        };
        format!("{code}{text}{PLAIN}")
    }
}

/// Says how a take was played, in a word.
pub fn manner(manner: Manner) -> &'static str {
    match manner {
        Manner::Strummed => words::picture::STRUMMED,
        Manner::Picked => words::picture::PICKED,
    }
}

/// One character for each verdict. Round: as it should be; the others: not.
pub fn symbol(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clean => "●",
        Verdict::Silent => "○",
        Verdict::Muted => "■",
        Verdict::Choked => "▼",
        Verdict::Buzzing => "≈",
        Verdict::WrongFret => "≠",
        Verdict::Ringing => "▲",
        Verdict::Unsure => "?",
    }
}

/// The string drawn as it sounds: as long as it rings, rough where it buzzes.
fn sounding_line(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clean | Verdict::Ringing | Verdict::WrongFret => "━━━━━━",
        Verdict::Choked => "━━━",
        Verdict::Muted => "━",
        Verdict::Buzzing => "≈≈≈≈≈≈",
        Verdict::Silent | Verdict::Unsure => "",
    }
}

/// Minutes and seconds to a tenth, with hours where there are any: "2:05.3".
pub fn clock(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round() as u64;
    let (hours, minutes) = (tenths / 36_000, tenths / 600 % 60);
    let rest = format!("{:02}.{}", tenths / 10 % 60, tenths % 10);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{rest}")
    } else {
        format!("{minutes}:{rest}")
    }
}

/// Writes the text in lines of at most [`WIDTH`] characters, broken between words.
pub fn paragraph(out: &mut dyn Write, text: &str) -> io::Result<()> {
    for line in lines(visible(text).split(' '), WIDTH) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// Columns of a terminal.
#[cfg(feature = "cli")]
const TERMINAL: usize = 80;

/// Writes a line whose last part goes on below itself where it is too long for a terminal.
///
/// # Errors
/// Where `out` cannot be written.
#[cfg(feature = "cli")]
pub fn wrapped(out: &mut dyn Write, line: &str, last: &str) -> io::Result<()> {
    let indent = line.chars().count();
    let lines = lines(last.split(' '), TERMINAL.saturating_sub(indent));
    for (index, part) in lines.iter().enumerate() {
        let before = if index == 0 { line } else { "" };
        let text = format!("{before:indent$}{part}");
        writeln!(out, "{}", text.trim_end())?;
    }
    Ok(())
}

/// Words in lines of at most `width` characters; a longer word has a line of its own.
pub fn lines<'a>(words: impl Iterator<Item = &'a str>, width: usize) -> Vec<String> {
    filled(words, |line| line.chars().count() <= width)
}

/// Words in lines, as many in each as fit; a word that does not has a line of its own.
pub fn filled<W: Into<String>>(
    words: impl Iterator<Item = W>,
    fits: impl Fn(&str) -> bool,
) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.map(Into::into) {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match longer.filter(|longer| fits(longer)) {
            Some(longer) => *lines.last_mut().expect("there is a line") = longer,
            None => lines.push(word),
        }
    }
    lines
}
