//! Reading a progression: chord names with or without bar lines, a plain list, or lyrics with the
//! chords in square brackets.

use crate::fretboard::{ChordError, ChordName};

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
    /// Whether the text had bar lines; where it had none, each chord is a bar of its own.
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
    /// How many beats it lasts.
    pub beats: u32,
}

/// Why a text is no progression.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProgressionError {
    /// No chord at all.
    #[error(
        "no chord was found; write chord names, as in \"F Bb C Dm\", with bar lines, as in \"| F | Bb C |\", or in square brackets over lyrics"
    )]
    Empty,
    /// One of the words is no chord.
    #[error("line {line}: {error}")]
    Chord {
        /// Line of the text, from 1.
        line: usize,
        /// Why the word is no chord.
        error: ChordError,
    },
    /// A bracket that is not closed.
    #[error(
        "line {line}: a chord in square brackets needs both of them, as in [Bb]; one has no end"
    )]
    Bracket {
        /// Line of the text, from 1.
        line: usize,
    },
    /// A repeat sign without its partner.
    #[error(
        "line {line}: a repeat begins with |: and ends with :| as in \"|: F | Bb :| x2\"; here one of the two is missing"
    )]
    Repeat {
        /// Line of the text, from 1.
        line: usize,
    },
    /// `%`, `.` or `x2` with nothing before it.
    #[error("line {line}: {mark} repeats what stands before it, and nothing does")]
    NothingToRepeat {
        /// Line of the text, from 1.
        line: usize,
        /// The sign as written.
        mark: String,
    },
    /// A number of times that makes no sense.
    #[error("line {line}: {mark} must say how often, from x1 to x64")]
    Times {
        /// Line of the text, from 1.
        line: usize,
        /// The sign as written.
        mark: String,
    },
    /// Longer than anybody plays.
    #[error("the progression has more than 2000 bars with its repeats written out; leave some out")]
    TooLong,
    /// More chords in a bar than beats.
    #[error(
        "bar {bar} has {chords} chords but {beats} beats; use more beats (--beats) or another bar line"
    )]
    Crowded {
        /// Number of the bar, from 1.
        bar: usize,
        /// How many chords it has.
        chords: usize,
        /// How many beats it has.
        beats: u32,
    },
}

impl Progression {
    /// Reads a progression. Chords in square brackets anywhere make it lyrics with chords: all else
    /// is then words. Otherwise every word is a chord or a sign:
    ///
    /// - `|` a bar line; `|:` and `:|` a repeat, twice, or as often as `x3` after it says;
    /// - `%` the bar before again; `.` or `/` within a bar the chord before for one more part;
    /// - `x2` after a chord: so many bars of it; `N.C.` nothing is played;
    /// - `#` and what follows on its line is a remark. Commas and dashes between chords are spaces.
    ///
    /// In lyrics, `{...}` lines say something about the song, of which `{capo: 2}` is heeded, and
    /// `[*...]` is a remark.
    ///
    /// # Errors
    /// [`ProgressionError`] names the line and what was expected there.
    pub fn read(text: &str) -> Result<Progression, ProgressionError> {
        let bracketed = text.lines().any(|line| {
            !is_remark(line) && line.contains('[') && !line.trim_start().starts_with('{')
        });
        let mut found = Found::default();
        for (number, line) in text
            .lines()
            .enumerate()
            .filter(|(_, line)| !is_remark(line))
        {
            found.line = number + 1;
            if bracketed {
                found.lyrics(line)?;
            } else {
                found.signs(line)?;
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

    /// Where each chord stands in bars of `beats` beats: a bar's chords share it evenly, the first
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
struct Found {
    line: usize,
    signs: Vec<(usize, Sign)>,
    capo: Option<u8>,
}

impl Found {
    fn add(&mut self, sign: Sign) {
        self.signs.push((self.line, sign));
    }

    /// A line of chords and signs.
    fn signs(&mut self, line: &str) -> Result<(), ProgressionError> {
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
        for word in spaced
            .split_whitespace()
            .take_while(|w| !w.starts_with('#'))
        {
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

    /// A line of lyrics with chords in square brackets.
    fn lyrics(&mut self, line: &str) -> Result<(), ProgressionError> {
        if let Some(said) = line.trim().strip_prefix('{') {
            let said = said.trim_end_matches('}');
            if let Some(fret) = said
                .strip_prefix("capo")
                .and_then(|s| s.trim().strip_prefix(':'))
            {
                self.capo = fret.trim().parse().ok();
            }
            return Ok(());
        }
        let mut rest = line;
        while let Some((_, bracket)) = rest.split_once('[') {
            let (inside, after) = bracket
                .split_once(']')
                .ok_or(ProgressionError::Bracket { line: self.line })?;
            if !inside.trim().starts_with('*') && !inside.trim().is_empty() {
                let chord = self.name(inside.trim())?;
                self.add(Sign::Chord(chord));
            }
            rest = after;
        }
        Ok(())
    }

    fn times(&self, word: &str, count: &str) -> Result<usize, ProgressionError> {
        let count = count.parse().ok();
        count
            .filter(|n| (1..=MOST_TIMES).contains(n))
            .ok_or_else(|| ProgressionError::Times {
                line: self.line,
                mark: shortened(word),
            })
    }

    /// A chord's name; `None` where it says that nothing is played.
    fn name(&self, word: &str) -> Result<Option<ChordName>, ProgressionError> {
        if ["N.C.", "N.C", "NC"]
            .iter()
            .any(|n| word.eq_ignore_ascii_case(n))
        {
            return Ok(None);
        }
        let chord = word.parse().map_err(|error| ProgressionError::Chord {
            line: self.line,
            error,
        })?;
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
fn written_out(found: &Found) -> Result<Progression, ProgressionError> {
    use Sign::*;
    let barred =
        (found.signs.iter()).any(|(_, sign)| matches!(sign, BarLine | RepeatFrom | RepeatTo));
    let mut bars: Vec<Bar> = Vec::new();
    let mut open: Vec<Option<ChordName>> = Vec::new();
    let mut repeat_from = None;
    let mut signs = found.signs.iter().peekable();
    while let Some(&(line, sign)) = signs.next() {
        let nothing = |mark: &str| ProgressionError::NothingToRepeat {
            line,
            mark: mark.to_owned(),
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
                    return Err(ProgressionError::Repeat { line });
                }
            }
            RepeatTo => {
                let (from, _) = repeat_from
                    .take()
                    .ok_or(ProgressionError::Repeat { line })?;
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
        return Err(ProgressionError::Repeat { line });
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
    fn chords_in_brackets_are_read_from_between_the_words() {
        let song = read(
            "{title: A walk}\n{capo: 2}\n# slowly\n[F]Up the [Bb]hill I go,\n[*twice][C]down A [Dm]gain\n",
        );
        assert_eq!(shown(&song), "F | Bb | C | Dm");
        assert_eq!(song.capo, Some(2));
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_line() {
        let error = |text: &str| Progression::read(text).unwrap_err().to_string();
        assert!(
            error("F\nQx").starts_with("line 2: a chord begins with its root"),
            "{}",
            error("F\nQx")
        );
        assert!(error("[F]la [Bb la").contains("one has no end"));
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
