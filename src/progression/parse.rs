//! Reading a progression: chord names with or without bar lines, a plain list, or a song sheet with the
//! chords on lines of their own above the words.

use crate::fretboard::{ChordError, ChordName};
use crate::words;

/// Bars that one progression may have once its repeats are written out: an hour and more of music.
pub const MOST_BARS: usize = 2000;
/// Times that one thing may be repeated.
const MOST_TIMES: usize = 64;

/// One bar: its chords in equal parts, as nearly as its beats allow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// `None` where nothing is played.
    pub chords: Vec<Option<ChordName>>,
}

/// A progression, its repeats written out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Progression {
    /// The bars in order.
    pub bars: Vec<Bar>,
    /// True where the text had bar lines; where it had none, each chord is a bar of its own.
    pub barred: bool,
    /// The capo that the text asks for, if it does.
    pub capo: Option<u8>,
}

/// A chord and where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// `None` where nothing is played.
    pub chord: Option<ChordName>,
    /// Bar, counted from 0.
    pub bar: usize,
    /// First beat within the bar, counted from 0.
    pub beat: u32,
    /// Number of beats that it lasts.
    pub beats: u32,
}

/// Reason why a text is no progression.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProgressionError {
    /// No chord at all.
    #[error("{}", words::progression::NO_CHORD)]
    Empty,
    /// Something in one line of the text.
    #[error("{}", words::progression::in_line(line, error))]
    Line {
        /// Line of the text, from 1.
        line: usize,
        /// Fault of the line.
        error: LineError,
    },
    /// Longer than anybody plays.
    #[error("{}", words::progression::TOO_MANY_BARS)]
    TooLong,
    /// More chords in a bar than beats.
    #[error("{}", words::progression::bar_crowded(bar, chords, beats))]
    Crowded {
        /// Number of the bar, from 1.
        bar: usize,
        /// Number of its chords.
        chords: usize,
        /// Number of its beats.
        beats: u32,
    },
}

/// Fault of one line of a progression.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LineError {
    /// One of the words is no chord.
    #[error(transparent)]
    Chord(#[from] ChordError),
    /// Chords among the words.
    #[error("{}", words::progression::SQUARE_BRACKETS)]
    Bracket,
    /// A repeat sign without its partner.
    #[error("{}", words::progression::REPEAT_OPEN)]
    Repeat,
    /// `%`, `.` or `x2` with nothing before it.
    #[error("{}", words::progression::nothing_to_repeat(mark))]
    NothingToRepeat {
        /// The sign as written.
        mark: String,
    },
    /// A number of times that makes no sense.
    #[error("{}", words::progression::how_often(mark))]
    Times {
        /// The sign as written.
        mark: String,
    },
}

impl LineError {
    fn at(self, line: usize) -> ProgressionError {
        ProgressionError::Line { line, error: self }
    }
}

impl ProgressionError {
    /// Says it of a text: with the number of the line where the text has several, and without it where it has one.
    pub fn said_of(&self, text: &str) -> String {
        match self {
            ProgressionError::Line { error, .. } if text.lines().count() <= 1 => error.to_string(),
            other => other.to_string(),
        }
    }
}

impl Progression {
    /// Reads a progression. Every word is a chord or a sign:
    ///
    /// - `|` a bar line; `|:` and `:|` a repeat, twice, or as often as `x3` after it says;
    /// - `%` the bar before again; `.` or `/` within a bar the chord before for one more part;
    /// - `x2` after a chord: so many bars of it; `N.C.` nothing is played;
    /// - `#` and what follows on its line is a remark. Commas and dashes between chords are spaces.
    ///
    /// Where there are lines of chords and lines of words, it is a song sheet, and the words are left out.
    /// Before its chords a line may say what it is (`Chorus:`), chords may stand in round brackets, and `Capo 2` on
    /// a line of its own is heeded. A line in which half the words are chords, and not all, is refused.
    ///
    /// # Errors
    /// [`ProgressionError`] names the line and what was expected there.
    pub fn read(text: &str) -> Result<Progression, ProgressionError> {
        let lines = || (text.lines().enumerate()).filter(|(_, line)| !is_remark(line));
        let has = |kind: Content| lines().any(|(_, line)| Content::of(line) == kind);
        let sheet = has(Content::Chords) && has(Content::Words);
        let mut found = Signs::default();
        for (number, line) in lines() {
            found.line = number + 1;
            let words = sheet && matches!(Content::of(line), Content::Words | Content::Word);
            if in_brackets(line) {
                return Err(LineError::Bracket.at(found.line));
            }
            match capo(line) {
                Some(fret) => found.capo = Some(fret),
                None if words => {}
                None => found.signs(if sheet { chords_of(line) } else { line })?,
            }
        }
        written_out(&found)
    }

    /// The same with each bar played `times` times before the next.
    pub fn each_bar(&self, times: u32) -> Progression {
        Progression {
            bars: (self.bars.iter())
                .flat_map(|bar| std::iter::repeat_n(bar.clone(), times as usize))
                .collect(),
            ..*self
        }
    }

    /// All chords as written, without the places where nothing is played.
    pub fn chords(&self) -> Vec<ChordName> {
        let chords = self.bars.iter().flat_map(|bar| &bar.chords);
        chords.copied().flatten().collect()
    }

    /// Tells where each chord stands in bars of `beats` beats: a bar's chords share it evenly, the first
    /// ones taking what is left over. The same chord again within a bar is one longer chord.
    ///
    /// # Errors
    /// [`ProgressionError::Crowded`] where a bar has more chords than beats.
    pub fn placed(&self, beats: u32) -> Result<Vec<Placed>, ProgressionError> {
        let mut placed: Vec<Placed> = Vec::new();
        for (bar, Bar { chords }) in self.bars.iter().enumerate() {
            let parts = chords.len() as u32;
            if parts > beats {
                return Err(ProgressionError::Crowded {
                    bar: bar + 1,
                    chords: chords.len(),
                    beats,
                });
            }
            let begin = |part: u32| (part * beats).div_ceil(parts.max(1));
            for (part, chord) in (0..parts).zip(chords) {
                let (beat, end) = (begin(part), begin(part + 1));
                match placed.last_mut() {
                    Some(last) if last.bar == bar && last.chord == *chord => {
                        last.beats += end - beat;
                    }
                    _ => placed.push(Placed {
                        chord: *chord,
                        bar,
                        beat,
                        beats: end - beat,
                    }),
                }
            }
        }
        Ok(placed)
    }
}

fn is_remark(line: &str) -> bool {
    line.trim_start().starts_with('#')
}

/// What a line of a song sheet holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Content {
    /// Chords and signs alone, a chord among them.
    Chords,
    /// Several words, hardly a chord among them.
    Words,
    /// A single word that is no chord, or signs alone, or nothing: it says nothing of the other lines.
    Word,
    /// Chords, and something that is none.
    Mixed,
}

/// Chords that are words as well.
const ALSO_WORDS: [&str; 4] = ["A", "Am", "Do", "Go"];

impl Content {
    fn of(line: &str) -> Content {
        let spaced = spaced(chords_of(line));
        let words: Vec<&str> = words_of(&spaced).collect();
        // Among words small letters are words: "do" and "go" would be diminished chords.
        let is_chord = |word: &str| {
            word.starts_with(|c: char| c.is_ascii_uppercase()) && word.parse::<ChordName>().is_ok()
        };
        let chords = words.iter().filter(|word| is_chord(word)).count();
        let other = (words.iter())
            .filter(|word| !is_chord(word) && !is_sign(word))
            .count();
        let also_words = words
            .iter()
            .filter(|word| ALSO_WORDS.contains(word))
            .count();
        match (chords, other) {
            (1.., 0) => Content::Chords,
            (_, 1..) if 2 * (chords - also_words) >= words.len() => Content::Mixed,
            (_, 1..) if words.len() > 1 => Content::Words,
            _ => Content::Word,
        }
    }
}

/// Whether a word of a line of chords is a sign.
fn is_sign(word: &str) -> bool {
    let times = || {
        word.strip_prefix(['x', 'X', '×'])
            .is_some_and(|n| n.parse::<usize>().is_ok())
    };
    matches!(word, "|" | "|:" | ":|" | "%" | "." | "/" | "-") || is_silence(word) || times()
}

/// Whether a word says that nothing is played.
fn is_silence(word: &str) -> bool {
    (["N.C.", "N.C", "NC"].iter()).any(|n| word.eq_ignore_ascii_case(n))
}

/// A line without the word before its chords that says what it is, as in `Chorus: F Bb`.
fn chords_of(line: &str) -> &str {
    match line.split_once(':') {
        Some((what, rest))
            if what.trim().starts_with(char::is_alphabetic)
                && !what.contains('|')
                && !rest.starts_with('|') =>
        {
            rest
        }
        _ => line,
    }
}

/// The fret of a line that says no more than where the capo sits.
fn capo(line: &str) -> Option<u8> {
    let line = line.trim().to_lowercase();
    let fret = line.strip_prefix("capo")?;
    let fret = fret.trim_start_matches([':', ' ']);
    fret.trim_start_matches("fret ").trim().parse().ok()
}

/// Whether a chord stands in square brackets among the words.
fn in_brackets(line: &str) -> bool {
    let inside = line
        .split('[')
        .skip(1)
        .filter_map(|rest| rest.split_once(']'));
    inside
        .into_iter()
        .any(|(inside, _)| inside.trim().parse::<ChordName>().is_ok())
}

/// A line of chords with spaces around its signs.
fn spaced(line: &str) -> String {
    let mut spaced = String::with_capacity(line.len() + 16);
    for c in line.chars() {
        match c {
            // What belongs to a repeat stays with its bar line.
            '|' if spaced.ends_with(':') => {
                spaced.pop();
                spaced.push_str(" :| ");
            }
            '|' => spaced.push_str(" |"),
            ':' if spaced.ends_with('|') && !spaced.ends_with(":|") => spaced.push_str(": "),
            ',' | ';' | '–' | '—' | '→' => spaced.push(' '),
            c => {
                if spaced.ends_with('|') {
                    spaced.push(' ');
                }
                spaced.push(c);
            }
        }
    }
    spaced
}

/// The words of such a line up to a remark, those in round brackets without them.
fn words_of(spaced: &str) -> impl Iterator<Item = &str> {
    let words = spaced
        .split_whitespace()
        .take_while(|w| !w.starts_with('#'));
    words
        .map(|word| {
            let inside = word.strip_prefix('(').and_then(|w| w.strip_suffix(')'));
            inside.unwrap_or(word)
        })
        .filter(|word| !word.is_empty())
}

/// What stands in a text.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Sign {
    /// A chord; `None` for a place where nothing is played.
    Chord(Option<ChordName>),
    /// A bar line, or the end of a line of text where bars are written.
    BarLine,
    RepeatFrom,
    RepeatTo,
    /// The bar before again.
    SameBar,
    /// The chord before for one more part of the bar.
    SameChord,
    /// What stands before, so many times in all.
    Times(usize),
    /// The end of a line of text.
    LineEnd,
}

/// The signs of a text with their lines.
#[derive(Debug, Default)]
struct Signs {
    line: usize,
    signs: Vec<(usize, Sign)>,
    capo: Option<u8>,
}

impl Signs {
    fn add(&mut self, sign: Sign) {
        self.signs.push((self.line, sign));
    }

    /// A line of chords and signs.
    fn signs(&mut self, line: &str) -> Result<(), ProgressionError> {
        let spaced = spaced(line);
        for word in words_of(&spaced) {
            match word {
                "|" => self.add(Sign::BarLine),
                "|:" => self.add(Sign::RepeatFrom),
                ":|" => self.add(Sign::RepeatTo),
                "%" => self.add(Sign::SameBar),
                "." | "/" => self.add(Sign::SameChord),
                "-" => {}
                _ => {
                    let sign = match word.strip_prefix(['x', 'X', '×']) {
                        Some(count) => Sign::Times(self.times(word, count)?),
                        None => Sign::Chord(self.name(word)?),
                    };
                    self.add(sign);
                }
            }
        }
        self.add(Sign::LineEnd);
        Ok(())
    }

    fn times(&self, word: &str, count: &str) -> Result<usize, ProgressionError> {
        let count = count.parse().ok();
        count
            .filter(|n| (1..=MOST_TIMES).contains(n))
            .ok_or_else(|| {
                let mark = shortened(word);
                LineError::Times { mark }.at(self.line)
            })
    }

    /// A chord's name; `None` where it says that nothing is played.
    fn name(&self, word: &str) -> Result<Option<ChordName>, ProgressionError> {
        if is_silence(word) {
            return Ok(None);
        }
        let chord = word
            .parse()
            .map_err(|error| LineError::Chord(error).at(self.line))?;
        Ok(Some(chord))
    }
}

/// A word, cut where it is too long for a sentence, without what a terminal would obey.
fn shortened(word: &str) -> String {
    let shown = |c: char| {
        if c.is_control() {
            char::REPLACEMENT_CHARACTER
        } else {
            c
        }
    };
    word.chars().take(20).map(shown).collect()
}

/// Writes out bars and repeats.
fn written_out(found: &Signs) -> Result<Progression, ProgressionError> {
    use Sign::*;
    let barred =
        (found.signs.iter()).any(|(_, sign)| matches!(sign, BarLine | RepeatFrom | RepeatTo));
    let mut bars: Vec<Bar> = Vec::new();
    let mut open: Vec<Option<ChordName>> = Vec::new();
    let mut repeat_from = None;
    let mut signs = found.signs.iter().peekable();
    while let Some(&(line, sign)) = signs.next() {
        let nothing = |mark: &str| {
            let mark = mark.to_owned();
            LineError::NothingToRepeat { mark }.at(line)
        };
        let ends_bar = !matches!(sign, Chord(_) | SameChord | SameBar);
        if (ends_bar || !barred) && !open.is_empty() {
            bars.push(Bar {
                chords: std::mem::take(&mut open),
            });
        }
        match sign {
            Chord(chord) => open.push(chord),
            BarLine | LineEnd => {}
            RepeatFrom => {
                if repeat_from.replace((bars.len(), line)).is_some() {
                    return Err(LineError::Repeat.at(line));
                }
            }
            RepeatTo => {
                let (from, _) = repeat_from.take().ok_or(LineError::Repeat.at(line))?;
                let count = match signs.peek() {
                    Some((_, Times(count))) => {
                        signs.next();
                        *count
                    }
                    _ => 2,
                };
                let section = bars[from..].to_vec();
                if section.is_empty() {
                    return Err(nothing(":|"));
                }
                for _ in 1..count {
                    bars.extend_from_slice(&section);
                    check_length(&bars)?;
                }
            }
            SameBar if open.is_empty() => {
                let last = bars.last().cloned().ok_or_else(|| nothing("%"))?;
                bars.push(last);
            }
            SameBar | SameChord => {
                let before = open
                    .last()
                    .or(bars.last().and_then(|bar| bar.chords.last()));
                let chord = *before.ok_or_else(|| nothing("."))?;
                open.push(chord);
            }
            Times(count) => {
                let last = bars.last().cloned().ok_or_else(|| nothing("x2"))?;
                bars.extend(std::iter::repeat_n(last, count - 1));
            }
        }
        check_length(&bars)?;
    }
    if let Some((_, line)) = repeat_from {
        return Err(LineError::Repeat.at(line));
    }
    if !open.is_empty() {
        bars.push(Bar { chords: open });
    }
    check_length(&bars)?;
    if bars
        .iter()
        .all(|bar| bar.chords.iter().all(Option::is_none))
    {
        return Err(ProgressionError::Empty);
    }
    Ok(Progression {
        bars,
        barred,
        capo: found.capo,
    })
}

fn check_length(bars: &[Bar]) -> Result<(), ProgressionError> {
    match bars.len() {
        n if n > MOST_BARS => Err(ProgressionError::TooLong),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> Progression {
        Progression::read(text).unwrap()
    }

    #[test]
    fn what_a_terminal_would_obey_stays_out_of_the_sentence() {
        let error = Progression::read("x\u{1b}31m").unwrap_err().to_string();
        assert!(
            error.starts_with("line 1: x\u{fffd}31m must say"),
            "{error}"
        );
    }

    /// Bars as text: chords of a bar with spaces, bars with bar lines.
    fn shown(progression: &Progression) -> String {
        let bar = |bar: &Bar| {
            let name = |c: &Option<ChordName>| c.map_or("N.C.".to_owned(), |c| c.to_string());
            bar.chords.iter().map(name).collect::<Vec<_>>().join(" ")
        };
        progression
            .bars
            .iter()
            .map(bar)
            .collect::<Vec<_>>()
            .join(" | ")
    }

    #[test]
    fn names_alone_are_a_bar_each() {
        assert_eq!(shown(&read("F Bb C Dm")), "F | Bb | C | Dm");
        assert_eq!(
            shown(&read("F, Bb - C\nDm # the end\n# nothing\n")),
            "F | Bb | C | Dm"
        );
        assert_eq!(
            shown(&read("F x2 Bb % N.C. C")),
            "F | F | Bb | Bb | N.C. | C"
        );
        assert!(!read("F Bb").barred);
    }

    #[test]
    fn bar_lines_hold_chords_together_and_repeats_are_written_out() {
        assert_eq!(
            shown(&read("|F Bb|C . . Dm|%|")),
            "F Bb | C C C Dm | C C C Dm"
        );
        assert_eq!(shown(&read("|: F | Bb :|")), "F | Bb | F | Bb");
        assert_eq!(
            shown(&read("|:F|Bb:| x3 |C|")),
            "F | Bb | F | Bb | F | Bb | C"
        );
        assert_eq!(shown(&read("|: F :| C x2 |")), "F | F | C | C");
        assert_eq!(
            shown(&read("F |: Bb :| |: C :| || Dm ||")),
            "F | Bb | Bb | C | C | Dm"
        );
        assert_eq!(shown(&read("| F | Bb\nC | Dm")), "F | Bb | C | Dm");
    }

    #[test]
    fn a_song_sheet_has_its_chords_above_the_words() {
        let song = read(
            "A walk\nCapo 2\n# slowly\n\nVerse 1\n F      Bb\nUp the hill I go,\n C       (Dm)\ndown again\nA\nChorus:\nOutro: F % x2\n",
        );
        assert_eq!(shown(&song), "F | Bb | C | Dm | A | F | F | F");
        assert_eq!(song.capo, Some(2));
        assert_eq!(
            shown(&read("Intro: |: F | Bb :|\nGo up, go down\n| C |\n")),
            "F | Bb | F | Bb | C"
        );
        assert_eq!(
            shown(&read("Am      F\nAm I a fool?\n  Dm\nA go, a do\n")),
            "Am | F | Dm"
        );
    }

    #[test]
    fn a_slip_of_the_pen_in_a_line_of_chords_is_said_and_never_taken_for_words() {
        let error = |text: &str| Progression::read(text).unwrap_err().to_string();
        let text = "F Bb C\nUp the hill I go\nF Bbb Qx C\ndown again\n";
        assert!(error(text).starts_with("line 3: "), "{}", error(text));
        assert!(error("F C\nUp the hill\nQx C\n").starts_with("line 3: "));
        assert!(error("F Bb\nQx\n").starts_with("line 2: "));
    }

    #[test]
    fn chords_in_square_brackets_are_refused_with_what_to_do() {
        let error = |text: &str| Progression::read(text).unwrap_err().to_string();
        let text = error("F\nUp the [Bb]hill I go\n");
        assert!(
            text.starts_with("line 2: chords in square brackets are not read"),
            "{text}"
        );
        assert!(error("[F]Up the [Bb]hill I go,\n[C]down\n").contains("a line of their own"));
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_line() {
        let error = |text: &str| Progression::read(text).unwrap_err().to_string();
        assert!(
            error("F\nQx").starts_with("line 2: a chord begins with its root"),
            "{}",
            error("F\nQx")
        );
        assert!(error("| F :|").contains("repeat begins with |:"));
        assert!(error("|: F |").contains("repeat begins with |:"));
        assert!(error("F x0").contains("from x1 to x64"));
        assert!(error("x2 F").contains("nothing does"));
        assert!(error("% F").contains("nothing does"));
        assert!(error("").contains("no chord was found"));
        assert!(error("N.C.").contains("no chord was found"));
        let long = "|: ".to_owned() + &"F | ".repeat(100) + ":| x64";
        assert!(error(&long).contains("more than 2000 bars"));
    }

    #[test]
    fn a_bar_shares_its_beats_out_and_a_crowded_one_is_refused() {
        let beats = |text: &str| -> Vec<(usize, u32, u32)> {
            let placed = read(text).placed(4).unwrap();
            placed.iter().map(|p| (p.bar, p.beat, p.beats)).collect()
        };
        assert_eq!(beats("| F | Bb C |"), [(0, 0, 4), (1, 0, 2), (1, 2, 2)]);
        assert_eq!(beats("| F Bb C |"), [(0, 0, 2), (0, 2, 1), (0, 3, 1)]);
        assert_eq!(beats("| F . . C |"), [(0, 0, 3), (0, 3, 1)]);
        assert_eq!(
            beats("F F"),
            [(0, 0, 4), (1, 0, 4)],
            "struck anew in the next bar"
        );
        let crowded = read("| F Bb C Dm F |").placed(4).unwrap_err();
        assert!(crowded.to_string().contains("5 chords but 4 beats"));
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[A-G#bm7|:%x0-9/.\\[\\] \\n-]{0,60}") {
            if let Ok(read) = Progression::read(&text) {
                prop_assert!(!read.chords().is_empty());
                prop_assert!(read.bars.iter().all(|bar| !bar.chords.is_empty()));
            }
        }

        #[test]
        fn the_beats_of_a_bar_are_all_given_out(parts in 1usize..8, beats in 1u32..12) {
            let names = ["F", "Bb", "C", "Dm", "Am", "G", "Em", "D"];
            let text = format!("| {} |", names[..parts].join(" "));
            let placed = read(&text).placed(beats);
            prop_assert_eq!(placed.is_err(), parts as u32 > beats);
            if let Ok(placed) = placed {
                prop_assert_eq!(placed.iter().map(|p| p.beats).sum::<u32>(), beats);
                prop_assert!(placed.iter().all(|p| p.beats > 0));
            }
        }
    }
}
