//! A picture as a list of marks, laid out before anything is painted: what is written where can be
//! measured and tested.

use crate::report::picture::filled;
#[cfg(not(target_arch = "wasm32"))]
use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};

/// The font of all pictures, under its own licence (`font/LICENSE`).
pub const FONT: &[u8] = include_bytes!("font/DejaVuSans-subset.ttf");
/// Its name in pictures and on pages.
pub const FONT_NAME: &str = "DejaVu Sans";
/// Size of a font, as plotters has it, in its ems.
pub(super) const SIZE_PER_EM: f32 = 1.24;

/// Tones that stay apart in grey and to colour-blind people: blue and orange differ in lightness, and
/// shape says the same everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// Text and axes.
    Ink,
    /// Less important text and lines.
    Grey,
    /// Grid lines.
    Pale,
    /// Ground of a lane.
    Ground,
    /// Colour of what was heard and is as it should be.
    Blue,
    /// Colour of what differs.
    Orange,
}

/// Width of the thinnest lines, in ems.
pub const HAIR: f32 = 0.07;

/// Place of a text against its point, which is half way up its height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The text begins at the point.
    Left,
    /// The point is in its middle.
    Middle,
    /// The text ends at the point.
    Right,
}

/// A rectangle, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: f32,
    /// Upper edge.
    pub y: f32,
    /// Width.
    pub width: f32,
    /// Height.
    pub height: f32,
}

/// One thing to paint; positions in pixels from the top left.
#[derive(Debug, Clone)]
pub enum Mark {
    /// A line from point to point.
    Line {
        /// Its points, in order.
        points: Vec<(f32, f32)>,
        /// Width of the stroke.
        width: f32,
        /// Colour.
        colour: Colour,
    },
    /// A circle.
    Dot {
        /// Its centre.
        at: (f32, f32),
        /// Radius.
        radius: f32,
        /// Colour.
        colour: Colour,
        /// True where it is filled; else only its edge is drawn.
        filled: bool,
    },
    /// A filled rectangle.
    Fill {
        /// The rectangle.
        area: Area,
        /// Colour.
        colour: Colour,
    },
    /// A line of text.
    Text {
        /// The point that it stands against.
        at: (f32, f32),
        /// Side on which it stands against that point.
        anchor: Anchor,
        /// Size of the letters.
        em: f32,
        /// Colour.
        colour: Colour,
        /// The text, without control characters.
        text: String,
    },
    /// Grey levels, row by row from the top, 0 black.
    Image {
        /// Its upper left corner.
        at: (f32, f32),
        /// Grey levels in a row.
        width: usize,
        /// Number of rows.
        height: usize,
        /// `width` times `height` grey levels.
        grey: Vec<u8>,
    },
}

/// A picture laid out.
#[derive(Debug, Clone)]
pub struct Drawing {
    /// Width in pixels.
    pub width: f32,
    /// Height in pixels.
    pub height: f32,
    /// Marks that are painted, in this order.
    pub marks: Vec<Mark>,
}

impl Area {
    /// Gives the right edge.
    pub fn right(&self) -> f32 {
        self.x + self.width
    }

    /// Gives the lower edge.
    pub fn bottom(&self) -> f32 {
        self.y + self.height
    }

    /// Gives the height half way down.
    pub fn middle(&self) -> f32 {
        self.y + self.height / 2.0
    }

    /// Area without so much on each side.
    pub fn inset(&self, left: f32, top: f32, right: f32, bottom: f32) -> Area {
        Area {
            x: self.x + left,
            y: self.y + top,
            width: self.width - left - right,
            height: self.height - top - bottom,
        }
    }

    /// Tells whether both share any point inside their edges.
    #[cfg(test)]
    pub fn overlaps(&self, other: &Area) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }
}

impl Drawing {
    /// Makes an empty picture, so many pixels wide and high.
    pub fn new(width: f32, height: f32) -> Self {
        Drawing {
            width,
            height,
            marks: Vec::new(),
        }
    }

    /// Adds a line through `points`, `width` pixels wide.
    pub fn line(&mut self, points: Vec<(f32, f32)>, width: f32, colour: Colour) {
        self.marks.push(Mark::Line {
            points,
            width,
            colour,
        });
    }

    /// A line of dashes: `dash` pixels of line, as much of gap.
    pub fn dashed(&mut self, points: &[(f32, f32)], width: f32, dash: f32, colour: Colour) {
        let (mut drawn, mut piece) = (0.0, Vec::new());
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let length = (x1 - x0).hypot(y1 - y0).max(1e-3);
            let mut from = 0.0;
            while from < length {
                let on = (drawn / dash) as i64 % 2 == 0;
                let to = (from + dash - drawn % dash).min(length);
                let at = |t: f32| (x0 + (x1 - x0) * t / length, y0 + (y1 - y0) * t / length);
                if on {
                    if piece.is_empty() {
                        piece.push(at(from));
                    }
                    piece.push(at(to));
                } else if !piece.is_empty() {
                    self.line(std::mem::take(&mut piece), width, colour);
                }
                drawn += (to - from).max(1e-3);
                from = to.max(from + 1e-3);
            }
        }
        if piece.len() > 1 {
            self.line(piece, width, colour);
        }
    }

    /// Adds a circle of so many pixels' radius around `at`.
    pub fn dot(&mut self, at: (f32, f32), radius: f32, colour: Colour, filled: bool) {
        self.marks.push(Mark::Dot {
            at,
            radius,
            colour,
            filled,
        });
    }

    /// A cross, centred.
    pub fn cross(&mut self, (x, y): (f32, f32), reach: f32, width: f32, colour: Colour) {
        self.line(
            vec![(x - reach, y - reach), (x + reach, y + reach)],
            width,
            colour,
        );
        self.line(
            vec![(x - reach, y + reach), (x + reach, y - reach)],
            width,
            colour,
        );
    }

    /// A diamond, centred.
    pub fn diamond(&mut self, (x, y): (f32, f32), reach: f32, width: f32, colour: Colour) {
        let corners = vec![
            (x - reach, y),
            (x, y - reach),
            (x + reach, y),
            (x, y + reach),
            (x - reach, y),
        ];
        self.line(corners, width, colour);
    }

    /// Adds a filled rectangle.
    pub fn fill(&mut self, area: Area, colour: Colour) {
        self.marks.push(Mark::Fill { area, colour });
    }

    /// Adds a line of text; control characters in it are replaced.
    pub fn text(
        &mut self,
        at: (f32, f32),
        anchor: Anchor,
        em: f32,
        colour: Colour,
        text: impl Into<String>,
    ) {
        // Control characters, which a file name may hold, are not allowed in an SVG file.
        let text = text.into().replace(char::is_control, "\u{fffd}");
        self.marks.push(Mark::Text {
            at,
            anchor,
            em,
            colour,
            text,
        });
    }

    /// The first of the wordings that fits, else the last one cut.
    pub fn text_within(
        &mut self,
        at: (f32, f32),
        em: f32,
        colour: Colour,
        wordings: &[&str],
        width: f32,
    ) {
        let fits = wordings.iter().find(|w| text_width(w, em) <= width);
        match fits {
            Some(wording) => self.text(at, Anchor::Left, em, colour, *wording),
            None => {
                let last = wordings.last().copied().unwrap_or_default();
                self.text(at, Anchor::Left, em, colour, cut_middle(last, em, width));
            }
        }
    }
}

/// Width of a text in pixels: where plotters has no fonts of its own.
#[cfg(target_arch = "wasm32")]
pub fn text_width(text: &str, em: f32) -> f32 {
    use ab_glyph::{Font, FontRef};
    let font = FontRef::try_from_slice(FONT).expect("the embedded font is a font");
    let units = font.units_per_em().expect("it says how large it is drawn");
    let advance = |letter| font.h_advance_unscaled(font.glyph_id(letter));
    text.chars().map(advance).sum::<f32>() * em / units + 1.0
}

/// Width of a text in pixels.
#[cfg(not(target_arch = "wasm32"))]
pub fn text_width(text: &str, em: f32) -> f32 {
    use_font();
    let font = FontDesc::new(
        FontFamily::Name(FONT_NAME),
        f64::from(em * SIZE_PER_EM),
        FontStyle::Normal,
    );
    let (width, _) = font.box_size(text).expect("the font is registered");
    // The size is cut to whole pixels.
    width as f32 + 1.0
}

/// Makes the embedded font known to plotters. In a page the browser has it.
pub(super) fn use_font() {
    #[cfg(not(target_arch = "wasm32"))]
    register();
}

#[cfg(not(target_arch = "wasm32"))]
fn register() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        if register_font(FONT_NAME, FontStyle::Normal, FONT).is_err() {
            unreachable!("the embedded font is a font");
        }
    });
}

/// The text with its middle left out so far that it fits: of a file name, beginning and end say most.
pub fn cut_middle(text: &str, em: f32, width: f32) -> String {
    if text_width(text, em) <= width {
        return text.to_owned();
    }
    let letters: Vec<char> = text.chars().collect();
    let cut = |keep: usize| -> String {
        let head = keep.div_ceil(2);
        let tail = letters.len() - (keep - head);
        let ends = letters[..head].iter().chain(['…'].iter());
        ends.chain(&letters[tail..]).collect()
    };
    let (mut fits, mut too_long) = (0, letters.len());
    while too_long - fits > 1 {
        let middle = (fits + too_long) / 2;
        if text_width(&cut(middle), em) <= width {
            fits = middle;
        } else {
            too_long = middle;
        }
    }
    cut(fits)
}

/// The text in lines of at most so many pixels, broken between words; a word that is too long alone
/// loses its middle.
pub fn wrapped(text: &str, em: f32, width: f32) -> Vec<String> {
    let words = text.split_whitespace();
    let words = words.map(|word| cut_middle(word, em, width));
    filled(words, |line| text_width(line, em) <= width)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_keeps_its_ends_and_fits() {
        let name = "a-very-long-name-of-a-recording-made-on-a-rainy-afternoon.wav";
        let cut = cut_middle(name, 12.0, 150.0);
        assert!(text_width(&cut, 12.0) <= 150.0, "{cut}");
        assert!(cut.starts_with("a-very") && cut.ends_with(".wav"), "{cut}");
        assert_eq!(cut_middle("a.wav", 12.0, 150.0), "a.wav");
        assert_eq!(cut_middle("żółć", 12.0, 1.0), "…");
    }

    #[test]
    fn words_are_wrapped_to_the_room() {
        let lines = wrapped("one two three four", 12.0, 60.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| text_width(l, 12.0) <= 60.0));
        assert_eq!(lines.join(" "), "one two three four");
        assert!(wrapped("", 12.0, 60.0).is_empty());
    }

    #[test]
    fn dashes_cover_half_of_a_line() {
        let mut drawing = Drawing::new(100.0, 10.0);
        drawing.dashed(
            &[(0.0, 0.0), (40.0, 0.0), (100.0, 0.0)],
            1.0,
            5.0,
            Colour::Ink,
        );
        let drawn: f32 = drawing
            .marks
            .iter()
            .map(|mark| match mark {
                Mark::Line { points, .. } => points[points.len() - 1].0 - points[0].0,
                _ => 0.0,
            })
            .sum();
        assert!((drawn - 50.0).abs() < 1.0, "{drawn}");
    }
}
