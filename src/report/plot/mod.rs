//! Pictures of a take: what happened to which string, for people who were not there.
//!
//! A picture is laid out as a [`Drawing`] and painted as SVG or PNG. Sizes are in pixels; all text
//! and signs grow with the width, so that a picture looks the same at 600 and at 3000 pixels.
//!
//! The layout comes before the painting, so that a test can hold every two texts against each other at ten widths.
//! Letters that the embedded font lacks (`font/LICENSE`) show as boxes in PNG and in the reader's own font in SVG.

mod axis;
mod chroma;
pub mod drawing;
mod paint;
mod ringdown;
mod spectrogram;
mod spectrum;

pub use drawing::{Drawing, FONT, FONT_NAME};
pub use ringdown::{LOWEST_DB, Lane, lanes};

use drawing::{Anchor, Area, Colour, cut_middle, text_width, wrapped};

use super::picture::{clock, manner};
use crate::fretboard::{ChordName, NoteName, STRINGS, Tuning};
use crate::strings::view::{View, Viewer};
use crate::take::{Manner, Take};
use crate::verdict::{JudgedTake, Verdict, Warning, wording};
use crate::words;

/// Narrowest and widest picture, in pixels.
pub const WIDTHS: std::ops::RangeInclusive<u32> = 600..=3000;
/// Text is this share of a picture's width high, but at least so many pixels.
const EM_PER_WIDTH: f32 = 1.0 / 80.0;
const SMALLEST_EM: f32 = 11.0;
/// A picture needs this many ems across; two takes stand side by side where both have them, else one
/// under the other.
const COLUMN_EMS: f32 = 54.0;
/// Most sound of a strummed take shown over time, in seconds: a string that rings this long rings.
const LONGEST_S: f32 = 3.0;

/// Subject of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureKind {
    /// Level of each string's own partials over time.
    Ringdown,
    /// Spectrum of the ringing part with each string's partials.
    Spectrum,
    /// Level over time and frequency with the onsets.
    Spectrogram,
    /// Pitch classes expected and heard.
    Chroma,
}

impl PictureKind {
    /// All of them, in the order of the sheet.
    pub const ALL: [PictureKind; 4] = [
        PictureKind::Ringdown,
        PictureKind::Spectrum,
        PictureKind::Spectrogram,
        PictureKind::Chroma,
    ];

    /// Height in pixels, of a take or more of which the chord is known, or of takes of which it is not.
    fn height(self, em: f32, width: f32, is_chord_known: bool) -> f32 {
        match self {
            PictureKind::Ringdown => ringdown::height(em, width, is_chord_known),
            PictureKind::Spectrum => spectrum::height(em, width, is_chord_known),
            PictureKind::Spectrogram => spectrogram::height(em, width),
            PictureKind::Chroma => chroma::height(em, width),
        }
    }
}

/// A judged take with its sound, ready to be shown.
#[derive(Debug, Clone)]
pub struct PlottedTake {
    /// Name of the recording, as people may read it.
    pub name: String,
    /// The take, judged.
    pub take: JudgedTake,
    /// Capo and tuning that the take was judged in.
    pub tuning: Tuning,
    view: Option<View>,
    samples: Vec<f32>,
    rate_hz: u32,
    /// First stroke, as an index into `samples`.
    first: usize,
    onsets_s: Vec<f32>,
}

impl PlottedTake {
    /// Looks at the strum that `take` is the judgement of.
    pub fn new(
        viewer: &mut Viewer,
        strum: Take,
        take: JudgedTake,
        tuning: Tuning,
        name: String,
    ) -> Self {
        let mut heard = [None; STRINGS];
        for (string, heard) in take.strings.iter().zip(&mut heard) {
            let sounds = matches!(string.verdict, Verdict::WrongFret | Verdict::Ringing);
            *heard = string.heard_fret.filter(|_| sounds);
        }
        let view = viewer.look(&strum, &take.frets, &heard);
        let first = strum.onsets[0].min(strum.samples.len());
        PlottedTake {
            name,
            take,
            tuning,
            view,
            first,
            onsets_s: strum
                .onsets
                .iter()
                .map(|&onset| (onset - first) as f32 / strum.rate_hz as f32)
                .collect(),
            rate_hz: strum.rate_hz,
            samples: strum.samples,
        }
    }

    /// Whether the chord of the take's frets is what sounds, as far as is known. Where it is not, nothing is drawn string by
    /// string: it would show one chord's sound under the names of another one's strings.
    fn is_chord_known(&self) -> bool {
        let of_chord = |w: &Warning| {
            matches!(
                w,
                Warning::ChordGuessed { .. }
                    | Warning::VoicingGuessed { .. }
                    | Warning::WrongChord { .. }
            )
        };
        let is_named = self.take.frets.sounding().next().is_some();
        self.take.judged() || is_named && !self.take.warnings.iter().any(of_chord)
    }

    /// Sound after the first stroke, as far as it is shown, in seconds: as far as levels are known.
    fn seconds(&self) -> f32 {
        let all = (self.samples.len() - self.first) as f32 / self.rate_hz as f32;
        let known = self.view.as_ref().and_then(|v| v.times_s.last().copied());
        let seconds = known.unwrap_or(all);
        match self.take.manner {
            Manner::Strummed => seconds.min(LONGEST_S),
            Manner::Picked => seconds,
        }
        .max(0.1)
    }

    /// Chord, frets, moment and file.
    fn title(&self) -> String {
        let take = &self.take;
        let played = match (&take.chord, take.frets.sounding().next()) {
            (_, None) => words::picture::NO_CHORD_KNOWN.to_owned(),
            (Some(chord), _) => format!("{chord} ({})", take.frets),
            (None, _) => take.frets.to_string(),
        };
        let played = match take.frets.sounding().next() {
            Some(_) if take.is_another_chord() => words::picture::expected(played),
            Some(_) if !self.is_chord_known() => words::picture::perhaps(played),
            _ => played,
        };
        let capo = match self.tuning.capo {
            0 => String::new(),
            capo => words::picture::capo_at(capo),
        };
        let played = format!("{played}{capo}");
        words::picture::played(played, manner(take.manner), clock(take.start_s))
    }
}

/// Draws the kinds asked for, under each other, of one take or of two to compare; `width` in pixels
/// should lie within [`WIDTHS`].
pub fn draw(kinds: &[PictureKind], takes: &[PlottedTake], width: u32) -> Drawing {
    draw_under(headings, kinds, takes, width)
}

/// The same of one take without its chord, moment and file over it, for where they are told anyway.
pub fn draw_bare(kinds: &[PictureKind], take: &PlottedTake, width: u32) -> Drawing {
    let nothing = |_: &PlottedTake, _: f32, _: f32| Vec::new();
    draw_under(nothing, kinds, std::slice::from_ref(take), width)
}

/// Draws takes under headings: lines with their sizes, from the take, the size of text and the width.
fn draw_under(
    headings: impl Fn(&PlottedTake, f32, f32) -> Vec<(f32, String)>,
    kinds: &[PictureKind],
    takes: &[PlottedTake],
    width: u32,
) -> Drawing {
    let width = width as f32;
    let each = width / takes.len().max(1) as f32;
    let (across, em) = if takes.len() > 1 && each >= COLUMN_EMS * SMALLEST_EM {
        (takes.len() as f32, each / COLUMN_EMS)
    } else {
        (1.0, (width * EM_PER_WIDTH).max(SMALLEST_EM))
    };
    let margin = 1.2 * em;
    let column = (width - margin * (across + 1.0)) / across;
    let head = takes
        .iter()
        .map(|shown| headings(shown, em, column).len())
        .max()
        .unwrap_or(0) as f32;
    let head = if head > 0.0 { 1.5 * head + 1.0 } else { 0.0 } * em;
    let gap = 1.4 * em;
    let is_chord_known = takes.iter().any(PlottedTake::is_chord_known);
    let height = |kind: &PictureKind| kind.height(em, column, is_chord_known);
    let body: f32 = kinds.iter().map(|kind| height(kind) + gap).sum();
    let rows = (takes.len() as f32 / across).ceil();
    let mut drawing = Drawing::new(width, (rows * (head + body) - gap + 2.0 * margin).ceil());
    let seconds = takes.iter().map(PlottedTake::seconds).fold(0.1, f32::max);
    for (i, shown) in takes.iter().enumerate() {
        let (row, place) = (i / across as usize, i % across as usize);
        let mut area = Area {
            x: margin + place as f32 * (column + margin),
            y: margin + row as f32 * (head + body),
            width: column,
            height: head,
        };
        for (line, (size, text)) in headings(shown, em, column).into_iter().enumerate() {
            let at = (area.x, area.y + (0.8 + 1.5 * line as f32) * em);
            drawing.text(at, Anchor::Left, size, Colour::Ink, text);
        }
        area.y += head;
        for kind in kinds {
            area.height = height(kind);
            if shown.view.is_none() && *kind != PictureKind::Spectrogram {
                let at = (area.x, area.y + em);
                drawing.text(
                    at,
                    Anchor::Left,
                    em,
                    Colour::Ink,
                    words::picture::TOO_LITTLE_SOUND,
                );
            }
            match kind {
                PictureKind::Ringdown => ringdown::draw(&mut drawing, &area, em, shown, seconds),
                PictureKind::Spectrum => spectrum::draw(&mut drawing, &area, em, shown),
                PictureKind::Spectrogram => {
                    spectrogram::draw(&mut drawing, &area, em, shown, seconds)
                }
                PictureKind::Chroma => chroma::draw(&mut drawing, &area, em, shown),
            }
            area.y += area.height + gap;
        }
    }
    drawing
}

/// The lines over a take's pictures, with their size: chord, frets and moment; file; what was heard.
fn headings(shown: &PlottedTake, em: f32, width: f32) -> Vec<(f32, String)> {
    let mut lines = Vec::new();
    let big = 1.25 * em;
    let (title, name) = (shown.title(), &shown.name);
    let both = format!("{title}: {name}");
    if text_width(&both, big) <= width {
        lines.push((big, both));
    } else {
        lines.push((big, cut_middle(&title, big, width)));
        lines.push((em, cut_middle(name, em, width)));
    }
    let said = wrapped(&wording::headline(&shown.take), em, width);
    lines.extend(said.into_iter().map(|line| (em, line)));
    lines
}

/// Writes a string's name and below it its note, to the left of the middle of its lane.
fn label(
    drawing: &mut Drawing,
    (left, middle): (f32, f32),
    em: f32,
    shown: &PlottedTake,
    index: usize,
) {
    let string = &shown.take.strings[index];
    // Of a string that must not sound, the note that is looked at.
    let seen = shown.view.as_ref().map(|v| v.strings[index].note.fret);
    let fret = string.expected_fret.or(seen).unwrap_or(0);
    let pitch_class = shown.tuning.open[index].saturating_add(fret) % 12;
    let note = match shown.take.chord.as_deref().map(str::parse::<ChordName>) {
        Some(Ok(chord)) => chord.spell(pitch_class),
        _ => NoteName::usual(pitch_class),
    };
    let place = match (string.expected_fret, fret) {
        (None, _) => words::picture::note_not_played(note),
        (Some(0), _) => words::picture::note_open(note),
        (Some(fret), _) => words::picture::note_at_fret(note, fret),
    };
    let lines = [(words::grammar::string(string.string), -0.6), (place, 0.6)];
    for (text, below) in lines {
        drawing.text(
            (left, middle + below * em),
            Anchor::Left,
            em,
            Colour::Ink,
            text,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::drawing::Mark;
    use super::*;
    use crate::fretboard::Frets;
    use crate::verdict::examples::{bb, not_judged, with};

    const RATE_HZ: u32 = 22_050;

    /// Bb as x13331 with 10 ms from string to string, 1.5 s long.
    fn strum() -> Take {
        let hz = [116.54, 174.61, 233.08, 293.66, 349.23];
        let start = RATE_HZ as usize / 4;
        let samples = (0..RATE_HZ as usize * 7 / 4).map(|i| {
            let t = (i as f64 - start as f64) / f64::from(RATE_HZ);
            let tone = |(k, hz): (usize, &f64)| {
                let t = t - 0.01 * k as f64;
                let wave = |n: i32| (std::f64::consts::TAU * hz * f64::from(n) * t).sin();
                let partials = (1..=8).map(|n| wave(n) / f64::from(n) * (-t * f64::from(n)).exp());
                if t > 0.0 {
                    0.1 * partials.sum::<f64>()
                } else {
                    0.0
                }
            };
            let hiss = f64::from((i as u32).wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 24);
            (hz.iter().enumerate().map(tone).sum::<f64>() + 1e-4 * (hiss - 0.5)) as f32
        });
        Take {
            samples: samples.collect(),
            rate_hz: RATE_HZ,
            first: 0,
            onsets: vec![start, start + 400, start + 800],
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: false,
        }
    }

    fn shown(take: JudgedTake, name: &str) -> PlottedTake {
        let mut viewer = Viewer::new(RATE_HZ, Tuning::default());
        PlottedTake::new(
            &mut viewer,
            strum(),
            take,
            Tuning::default(),
            name.to_owned(),
        )
    }

    fn takes() -> Vec<PlottedTake> {
        use Verdict::*;
        let all = |verdict| (1..=6).fold(bb(), |take, s| with(take, s, verdict, 0.6));
        let mut worst = with(with(all(Muted), 6, Ringing, 0.7), 2, WrongFret, 0.7);
        for string in &mut worst.strings {
            string.cents = Some(-45.0);
        }
        worst.chord = Some("Bbmaj7".to_owned());
        let long =
            "a recording with a very long name, made on a rainy afternoon in the kitchen.m4a";
        vec![
            shown(bb(), "a.wav"),
            shown(worst, long),
            shown(all(Unsure), "<b>&\"quoted\"'.wav"),
            shown(not_judged(Warning::TooNoisy { snr_db: 4.0 }), "dźwięk.wav"),
        ]
    }

    /// What each text of a drawing covers. Letters are about an em high; lines of one label stand
    /// 1.03 em apart.
    fn texts(drawing: &Drawing) -> Vec<(Area, &str)> {
        let texts = drawing.marks.iter().filter_map(|mark| match mark {
            Mark::Text {
                at: (x, y),
                anchor,
                em,
                text,
                ..
            } => {
                let width = text_width(text, *em);
                let x = match anchor {
                    Anchor::Left => *x,
                    Anchor::Middle => x - width / 2.0,
                    Anchor::Right => x - width,
                };
                let area = Area {
                    x,
                    y: y - 0.5 * em,
                    width,
                    height: *em,
                };
                Some((area, text.as_str()))
            }
            _ => None,
        });
        texts.collect()
    }

    /// What is wrong with where texts stand.
    fn misplaced(drawing: &Drawing) -> Option<String> {
        let texts = texts(drawing);
        for (i, (area, text)) in texts.iter().enumerate() {
            let inside = area.x >= 0.0
                && area.y >= 0.0
                && area.right() <= drawing.width
                && area.bottom() <= drawing.height;
            if !inside {
                return Some(format!("{text:?} is cut off"));
            }
            if let Some((_, with)) = texts[i + 1..]
                .iter()
                .find(|(other, _)| area.overlaps(other))
            {
                return Some(format!("{text:?} and {with:?} overlap"));
            }
        }
        None
    }

    #[test]
    fn no_two_texts_overlap_and_none_is_cut_off_at_any_size() {
        let takes = takes();
        for width in [600, 700, 850, 1000, 1187, 1188, 1200, 1500, 2200, 3000] {
            for count in [1, 2] {
                for some in takes.windows(count) {
                    let drawing = draw(&PictureKind::ALL, some, width);
                    assert!(texts(&drawing).len() > 60 * count);
                    assert_eq!(misplaced(&drawing), None, "at {width}");
                }
            }
        }
    }

    #[test]
    fn texts_that_overlap_or_are_cut_off_would_be_noticed() {
        let mut drawing = Drawing::new(200.0, 100.0);
        drawing.text((10.0, 50.0), Anchor::Left, 12.0, Colour::Ink, "one");
        assert_eq!(misplaced(&drawing), None);
        let mut over = drawing.clone();
        over.text((20.0, 55.0), Anchor::Middle, 12.0, Colour::Ink, "two");
        assert!(misplaced(&over).is_some());
        drawing.text((195.0, 20.0), Anchor::Left, 12.0, Colour::Ink, "out");
        assert!(misplaced(&drawing).is_some());
    }

    #[test]
    fn every_kind_is_drawn_alone_as_both_kinds_of_file() {
        let takes = &takes()[..1];
        for kind in PictureKind::ALL {
            let drawing = draw(&[kind], takes, 600);
            let svg = drawing.svg();
            assert!(svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"));
            assert!(svg.contains("@font-face") && svg.contains("Bb (x13331)"));
            let png = image::load_from_memory(&drawing.png()).unwrap().to_luma8();
            assert_eq!(png.dimensions(), (600, drawing.height as u32));
            let dark = png.pixels().filter(|p| p.0[0] < 100).count();
            assert!(dark > 500, "{kind:?} shows something: {dark}");
        }
    }

    #[test]
    fn without_a_known_chord_nothing_is_drawn_string_by_string() {
        let guessed = Warning::ChordGuessed { sure: 0.08 };
        let mut unknown = not_judged(guessed);
        unknown.frets = Frets([None; STRINGS]);
        unknown.warnings.clear();
        let another = not_judged(Warning::WrongChord { heard: None });
        for take in [not_judged(guessed), unknown, another] {
            let shown = shown(take, "a.wav");
            assert!(lanes(&shown).is_none());
            let drawing = draw(&PictureKind::ALL, std::slice::from_ref(&shown), 1200);
            let said: Vec<&str> = texts(&drawing).into_iter().map(|(_, text)| text).collect();
            for of_strings in [
                "string 5",
                "unsure: not judged",
                words::picture::BOX_EXPECTED,
            ] {
                assert!(!said.contains(&of_strings), "{said:?}");
            }
            assert!(said.contains(&words::picture::CHORD_NOT_KNOWN), "{said:?}");
            assert_eq!(misplaced(&drawing), None);
        }
        // A guess that is sure is judged, and drawn.
        let mut sure = bb();
        sure.warnings.push(Warning::ChordGuessed { sure: 0.99 });
        assert!(lanes(&shown(sure, "a.wav")).is_some());
    }

    #[test]
    fn a_name_cannot_break_out_of_a_picture() {
        let drawing = draw(&[PictureKind::Chroma], &takes()[2..3], 1200);
        let svg = drawing.bare_svg();
        assert!(
            svg.contains("&lt;b&gt;&amp;&quot;quoted&quot;&apos;.wav"),
            "{svg}"
        );
        assert!(!svg.contains("<b>"));
        let mut odd = Drawing::new(10.0, 10.0);
        odd.text((0.0, 0.0), Anchor::Left, 11.0, Colour::Ink, "a\u{1}b\nc");
        assert!(odd.bare_svg().contains("a\u{fffd}b\u{fffd}c"));
    }

    #[test]
    fn two_takes_stand_side_by_side_where_there_is_room() {
        let takes = takes();
        let height = |takes: &[PlottedTake], width| draw(&PictureKind::ALL, takes, width).height;
        assert!(height(&takes[..2], 600) > 1.9 * height(&takes[..1], 600));
        assert!(height(&takes[..2], 1200) < 1.3 * height(&takes[..1], 1200));
    }
}
