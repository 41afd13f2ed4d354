//! The screen while playing along: where in the bar, which chord, what comes next and how it is held.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};

use super::{ChordPicture, font};
use crate::fretboard::Frets;
use crate::progression::Grid;
use crate::progression::performance::Part;
use crate::report::playing::late;
use crate::verdict::JudgedTake;
use crate::verdict::wording::brief;
use crate::words::screen;

/// View of one moment.
pub struct AlongView<'a> {
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

/// A strum in words: `F: 12 ms late, as it should be`. `at_s`: since the start of the count-in; where it is not
/// known how late sound is heard (`delay_known`), only the strings are told.
pub fn last(part: &Part, take: &JudgedTake, at_s: f64, delay_known: bool) -> String {
    let chord = take.chord.clone().unwrap_or_default();
    if !delay_known {
        return format!("{chord}: {}", brief(take));
    }
    let off_ms = part
        .nearest(at_s)
        .map_or(0.0, |beat| (at_s - beat.at_s) * 1e3);
    format!("{chord}: {}, {}", late(off_ms), brief(take))
}

impl AlongView<'_> {
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
            None => (screen::NOTHING.to_owned(), None),
        }
    }

    /// How many beats a bar has, and which one it is, from 0.
    fn beats(&self) -> (u32, u32) {
        let grid: &Grid = &self.part.plan.grid;
        let beat = grid.beat_at(self.now_s);
        let in_bar = (beat.floor() as i64).rem_euclid(i64::from(grid.beats)) as u32;
        (grid.beats, in_bar)
    }

    /// `Bar 3 of 8   1 [2] 3 4`.
    pub fn place(&self) -> String {
        let (beats, in_bar) = self.beats();
        let counted: Vec<String> = (0..beats)
            .map(|b| match b == in_bar {
                true => format!("[{}]", b + 1),
                false => format!(" {} ", b + 1),
            })
            .collect();
        format!("{:<14}{}", self.bar(), counted.join(""))
    }

    /// `Bar 3 of 8`.
    fn bar(&self) -> String {
        let grid: &Grid = &self.part.plan.grid;
        let beat = grid.beat_at(self.now_s);
        match beat {
            before if before < 0.0 => screen::COUNT_IN.to_owned(),
            past if past >= grid.length_beats() => screen::THE_END.to_owned(),
            within => screen::bar((within / f64::from(grid.beats)) as usize + 1, grid.bars),
        }
    }

    /// `F  133211, then Bb  x13331`, for a line of text.
    pub fn line(&self) -> String {
        let (now, next) = self.chords();
        let (now, next) = (self.named(now).0, self.named(next).0);
        let then = match next.is_empty() {
            true => String::new(),
            false => screen::then(next),
        };
        format!("{:<34}{now:<22}{then}", self.place())
            .trim_end()
            .to_owned()
    }
}

/// From this size on everything that moves stands in letters of half blocks.
const USUAL: (u16, u16) = (60, 20);
/// From this size on the words on the last strum do too.
const LARGE: (u16, u16) = (100, 34);
/// Columns between the chord that sounds and the next one.
const GAP: u16 = 6;
/// Lines of a letter of half blocks with the gap below it.
const LETTER: u16 = 4;

/// Draws the screen. Pictures that do not fit whole are left out: the names have the frets.
pub fn draw(frame: &mut Frame, along: &AlongView) {
    let area = frame.area();
    let (now, next) = along.chords();
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let dim = Style::new().add_modifier(Modifier::DIM);
    let fits = |(width, height): (u16, u16)| area.width >= width && area.height >= height;
    let last = match along.last.is_empty() {
        true => String::new(),
        false => screen::last_strum(along.last),
    };
    if !fits(USUAL) {
        draw_small(frame, along, &last);
        return;
    }
    let pixels = match fits(LARGE) && !along.last.is_empty() {
        true => font::lines(&last, area.width, 2),
        false => None,
    };
    let told = pixels.as_ref().map_or(1, |lines| lines.len() as u16);
    let [place, beats, names, pictures, last_strum, notice, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(LETTER),
        Constraint::Length(LETTER),
        Constraint::Min(0),
        Constraint::Length(told),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    frame.render_widget(Line::styled(along.bar(), bold), place);
    draw_beats(frame, beats, along);
    let picture = |placed: Option<usize>| {
        let frets = placed.and_then(|i| along.part.voicings[i]);
        frets.map(|frets| ChordPicture::of(&frets, None, along.left, &along.part.tuning))
    };
    let both = [picture(now), picture(next)];
    let lines = drawn(&both, pictures.width, pictures.height);
    let column = lines.as_ref().map_or(area.width / 2, |lines| {
        (widest(lines) + GAP).max(area.width / 3)
    });
    let halves = [Constraint::Length(column), Constraint::Min(10)];
    for (area, (placed, look)) in Layout::horizontal(halves)
        .split(names)
        .iter()
        .zip([(now, bold), (next, dim)])
    {
        draw_name(
            frame,
            *area,
            along,
            placed,
            look,
            placed == next && placed != now,
        );
    }
    if let Some(lines) = lines {
        let areas = Layout::horizontal(halves).split(pictures);
        for (lines, area) in lines.into_iter().zip(areas.iter()) {
            frame.render_widget(Paragraph::new(lines.join("\n")), *area);
        }
    }
    let told = match pixels {
        Some(lines) => Paragraph::new(lines.join("\n")),
        None => Paragraph::new(last),
    };
    frame.render_widget(told.style(bold), last_strum);
    frame.render_widget(Paragraph::new(along.notice), notice);
    frame.render_widget(Line::styled(along.keys, dim), keys);
}

/// Columns of the longest line of either picture.
fn widest(pictures: &[Vec<String>; 2]) -> u16 {
    let widths = pictures.iter().flatten().map(|line| line.chars().count());
    widths.max().unwrap_or(0) as u16
}

/// The pictures in the largest form in which both fit side by side.
fn drawn(both: &[Option<ChordPicture>; 2], width: u16, height: u16) -> Option<[Vec<String>; 2]> {
    let form = |large: bool| {
        both.each_ref().map(|picture| match picture {
            Some(picture) if large => picture.large.clone(),
            Some(picture) => picture.small.clone(),
            None => Vec::new(),
        })
    };
    [form(true), form(false)].into_iter().find(|lines| {
        let highest = lines.iter().map(Vec::len).max();
        2 * (widest(lines) + GAP) <= width && highest.unwrap_or(0) <= usize::from(height)
    })
}

/// The beats of the bar, the one that sounds alone in full light.
fn draw_beats(frame: &mut Frame, area: Rect, along: &AlongView) {
    let (beats, in_bar) = along.beats();
    let mut lines: Vec<Vec<Span>> = vec![Vec::new(); 3];
    for beat in 0..beats {
        let look = match beat == in_bar {
            true => Style::new().add_modifier(Modifier::REVERSED | Modifier::BOLD),
            false => Style::new().add_modifier(Modifier::DIM),
        };
        let number = font::small(&font::text(&(beat + 1).to_string()));
        for (line, pixels) in lines.iter_mut().zip(number) {
            line.push(Span::styled(format!(" {pixels} "), look));
            line.push(Span::raw("  "));
        }
    }
    let lines: Vec<Line> = lines.into_iter().map(Line::from).collect();
    frame.render_widget(Paragraph::new(lines), area);
}

/// A chord's name in large letters, its frets beside it.
fn draw_name(
    frame: &mut Frame,
    area: Rect,
    along: &AlongView,
    placed: Option<usize>,
    look: Style,
    next: bool,
) {
    let Some(index) = placed else { return };
    let frets = along.part.voicings[index].map_or(String::new(), |f| f.to_string());
    let name = match along.part.plan.placed[index].chord {
        Some(chord) => font::lines(&chord.to_string(), area.width, 1),
        None => None,
    };
    let name =
        name.unwrap_or_else(|| vec![String::new(), screen::NOTHING.to_owned(), String::new()]);
    let beside = [
        if next { screen::NEXT } else { screen::NOW },
        frets.as_str(),
        "",
    ];
    let lines = name.iter().zip(beside).map(|(name, beside)| {
        Line::from(vec![
            Span::styled(name.clone(), look),
            Span::raw(format!("  {beside}")),
        ])
    });
    frame.render_widget(Paragraph::new(lines.collect::<Vec<_>>()), area);
}

/// A few lines of text, where there is no space for more.
fn draw_small(frame: &mut Frame, along: &AlongView, last: &str) {
    let (now, next) = along.chords();
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let [place, now_area, next_area, last_strum, notice, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Min(1),
        Constraint::Length(1),
    ])
    .areas(frame.area());
    frame.render_widget(Line::styled(along.place(), bold), place);
    let now = Line::from(vec![
        Span::raw(format!("{:<6}", screen::NOW)),
        Span::styled(along.named(now).0, bold),
    ]);
    frame.render_widget(now, now_area);
    frame.render_widget(
        Line::raw(format!("{:<6}{}", screen::NEXT, along.named(next).0)),
        next_area,
    );
    frame.render_widget(Line::styled(last, bold), last_strum);
    let words = Paragraph::new(along.notice).wrap(Wrap { trim: true });
    frame.render_widget(words, notice);
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled(along.keys, dim), keys);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::progression::timing::{StrumPlaces, beats};
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
            beats: beats(&plan, &manner, StrumPlaces::Chord),
            plan,
            voicings: vec!["133211".parse().ok(), "x13331".parse().ok()],
            tuning: Tuning::default(),
            learnt: crate::strings::Learnt::default(),
        }
    }

    fn shown(along: &AlongView, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| draw(frame, along)).unwrap();
        let lines = terminal.backend().to_string();
        let bare = lines.lines().map(|line| line.trim_matches('"').trim_end());
        bare.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn how_late_a_strum_was_is_told_only_where_the_delay_is_known() {
        let take = crate::verdict::examples::bb();
        let at_s = part().beats[0].at_s + 0.012;
        assert!(last(&part(), &take, at_s, true).contains("12 ms late"));
        assert_eq!(last(&part(), &take, at_s, false), "Bb: as it should be");
    }

    #[test]
    fn the_screen_shows_bar_beat_chord_and_what_comes_next() {
        let part = part();
        let along = AlongView {
            part: &part,
            now_s: 5.2,
            last: "12 ms late, as it should be",
            notice: "",
            keys: "q ends",
            left: false,
        };
        let usual = shown(&along, 80, 24);
        for wanted in [
            "Bar 1 of 2",
            "▀▀█",
            "now",
            "133211",
            "next",
            "x13331",
            "1: 1━━━━━━━━━━━━━━━1━━━1",
            "last strum: 12 ms late, as it should be",
        ] {
            assert!(usual.contains(wanted), "{wanted}\n{usual}");
        }
        // Fingers and the last strum in letters that read from a metre.
        insta::assert_snapshot!("playing_along_at_120_by_40", shown(&along, 120, 40));
        let small = shown(&along, 40, 12);
        for wanted in ["Bar 1 of 2     1 [2] 3  4", "F  133211", "Bb  x13331"] {
            assert!(small.contains(wanted), "{wanted}\n{small}");
        }
        for (width, height) in [(1, 1), (10, 3), (60, 20), (200, 7), (300, 100)] {
            shown(&along, width, height);
        }
        insta::assert_snapshot!(along.line(), @"Bar 1 of 2     1 [2] 3  4         F  133211             then Bb  x13331");
    }

    #[test]
    fn the_count_in_and_the_end_are_told() {
        let part = part();
        let at = |now_s: f64| {
            let along = AlongView {
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
