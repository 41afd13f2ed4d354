//! The screen while playing along: where in the bar, which chord, what comes next and how it is held.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span, Text};
use ratatui::widgets::{Paragraph, Wrap};

use crate::fretboard::{Diagram, Frets};
use crate::progression::Grid;
use crate::progression::session::Part;
use crate::report::playing::late;
use crate::report::voicings::picture;
use crate::verdict::Take;
use crate::verdict::wording::brief;

/// What is to be seen at one moment.
pub struct Along<'a> {
    /// Beats and voicings.
    pub part: &'a Part,
    /// Seconds since the start of the count-in, as the player hears it.
    pub now_s: f64,
    /// The last strum in words, empty before the first.
    pub last: &'a str,
    /// A word on the sound itself, mostly empty.
    pub notice: &'a str,
    /// The keys that do something.
    pub keys: &'a str,
    /// Chord pictures as a left-handed player sees the neck.
    pub left: bool,
}

/// A strum in words: `F: 12 ms late, as it should be`. `at_s`: since the start of the count-in.
pub fn last(part: &Part, take: &Take, at_s: f64) -> String {
    let off_ms = part
        .nearest(at_s)
        .map_or(0.0, |beat| (at_s - beat.at_s) * 1e3);
    let chord = take.chord.clone().unwrap_or_default();
    format!("{chord}: {}, {}", late(off_ms), brief(take))
}

impl Along<'_> {
    /// Chord of the plan that sounds now and the one after it; before the first beat the first is next.
    fn chords(&self) -> (Option<usize>, Option<usize>) {
        let plan = &self.part.plan;
        let beat = plan.grid.beat_at(self.now_s);
        let begun = plan
            .placed
            .partition_point(|p| plan.beat_of(p) <= beat + 1e-6);
        let now = begun.checked_sub(1);
        (now, Some(begun).filter(|next| *next < plan.placed.len()))
    }

    fn named(&self, placed: Option<usize>) -> (String, Option<Frets>) {
        let Some(index) = placed else {
            return (String::new(), None);
        };
        let frets = self.part.voicings[index];
        match self.part.plan.placed[index].chord {
            Some(chord) => (
                format!(
                    "{chord}  {}",
                    frets.map_or(String::new(), |f| f.to_string())
                ),
                frets,
            ),
            None => ("nothing".to_owned(), None),
        }
    }

    /// `Bar 3 of 8   1 [2] 3 4`.
    pub fn place(&self) -> String {
        let grid: &Grid = &self.part.plan.grid;
        let beat = grid.beat_at(self.now_s);
        let in_bar = (beat.floor() as i64).rem_euclid(i64::from(grid.beats)) as u32;
        let counted: Vec<String> = (0..grid.beats)
            .map(|b| match b == in_bar {
                true => format!("[{}]", b + 1),
                false => format!(" {} ", b + 1),
            })
            .collect();
        let bar = match beat {
            before if before < 0.0 => "Count-in".to_owned(),
            past if past >= grid.length_beats() => "The end".to_owned(),
            within => format!(
                "Bar {} of {}",
                (within / f64::from(grid.beats)) as usize + 1,
                grid.bars
            ),
        };
        format!("{bar:<14}{}", counted.join(""))
    }

    /// `F  133211, then Bb  x13331`, for a line of text.
    pub fn line(&self) -> String {
        let (now, next) = self.chords();
        let (now, next) = (self.named(now).0, self.named(next).0);
        let then = match next.is_empty() {
            true => String::new(),
            false => format!("then {next}"),
        };
        format!("{:<34}{now:<22}{then}", self.place())
            .trim_end()
            .to_owned()
    }
}

/// Lines that are no picture: place, two names, the last strum, a notice, keys.
const REST: u16 = 7;

/// Draws the screen. Pictures that do not fit whole are left out: the names have the frets.
pub fn draw(frame: &mut Frame, along: &Along) {
    let area = frame.area();
    let (now, next) = along.chords();
    let ((now, now_frets), (next, next_frets)) = (along.named(now), along.named(next));
    let tuning = &along.part.tuning;
    let drawn = |frets: Option<Frets>| {
        frets.map_or(Vec::new(), |frets| picture(&frets, along.left, tuning))
    };
    let (now_lines, next_lines) = (drawn(now_frets), drawn(next_frets));
    let column = Diagram::WIDTH as u16 + 6;
    let abreast = area.width >= 2 * column;
    let height = now_lines.len().max(next_lines.len()) as u16;
    let pictures = match abreast && area.height >= height + REST {
        true => height,
        false => 0,
    };
    let [place, _, names, pictures, last, notice, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(2),
        Constraint::Length(pictures),
        Constraint::Length(1),
        Constraint::Min(1),
        Constraint::Length(1),
    ])
    .areas(area);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    frame.render_widget(Line::styled(along.place(), bold), place);
    if abreast {
        let halves = [Constraint::Length(column), Constraint::Min(10)];
        let [left, right] = Layout::horizontal(halves).areas(names);
        let now = vec![Line::raw("now"), Line::styled(now, bold)];
        frame.render_widget(Text::from(now), left);
        frame.render_widget(Text::from(vec![Line::raw("next"), Line::raw(next)]), right);
        let [left, right] = Layout::horizontal(halves).areas(pictures);
        for (lines, area) in [(now_lines, left), (next_lines, right)] {
            frame.render_widget(Paragraph::new(lines.join("\n")), area);
        }
    } else {
        let now = Line::from(vec![Span::raw("now   "), Span::styled(now, bold)]);
        let next = Line::from(vec![Span::raw("next  "), Span::raw(next)]);
        frame.render_widget(Text::from(vec![now, next]), names);
    }
    let told = Line::from(vec![
        Span::raw("last strum: "),
        Span::styled(along.last, bold),
    ]);
    frame.render_widget(told, last);
    let words = Paragraph::new(along.notice).wrap(Wrap { trim: true });
    frame.render_widget(words, notice);
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled(along.keys, dim), keys);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::progression::timing::{Strums, beats};
    use crate::progression::{Feel, Plan, Progression, Style as Manner, Timing};
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    fn part() -> Part {
        let timing = Timing {
            from_bpm: 60.0,
            to_bpm: 60.0,
            beats: 4,
            bars_each: 1,
            loops: 1,
            count_in_bars: 1,
        };
        let plan = Plan::new(&Progression::read("F Bb").unwrap(), &timing).unwrap();
        let manner = Manner {
            feel: Feel::Quarters,
            swing: 50.0,
        };
        Part {
            beats: beats(&plan, &manner, Strums::Chord),
            plan,
            voicings: vec!["133211".parse().ok(), "x13331".parse().ok()],
            tuning: Tuning::default(),
        }
    }

    #[test]
    fn the_screen_shows_bar_beat_chord_and_what_comes_next() {
        let part = part();
        let along = Along {
            part: &part,
            now_s: 5.2,
            last: "12 ms late, as it should be",
            notice: "",
            keys: "q ends",
            left: false,
        };
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        terminal.draw(|frame| draw(frame, &along)).unwrap();
        let screen = terminal.backend().to_string();
        for wanted in [
            "Bar 1 of 2     1 [2] 3  4",
            "F  133211",
            "Bb  x13331",
            " 1: 1━━━━━━━━━━━━━━━1━━━1",
            "last strum: 12 ms late, as it should be",
        ] {
            assert!(screen.contains(wanted), "{wanted}\n{screen}");
        }
        insta::assert_snapshot!(along.line(), @"Bar 1 of 2     1 [2] 3  4         F  133211             then Bb  x13331");
    }

    #[test]
    fn the_count_in_and_the_end_are_told() {
        let part = part();
        let at = |now_s: f64| {
            let along = Along {
                part: &part,
                now_s,
                last: "",
                notice: "",
                keys: "q ends",
                left: false,
            };
            along.line()
        };
        assert!(
            at(1.5).starts_with("Count-in       1 [2] 3  4"),
            "{}",
            at(1.5)
        );
        assert!(at(1.5).contains("then F  133211"));
        assert!(at(12.5).starts_with("The end"));
    }
}
