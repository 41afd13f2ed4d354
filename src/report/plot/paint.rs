//! Marks onto plotters' two backends: SVG and PNG from one list.

use std::io::Cursor;

use base64::{Engine, engine::general_purpose::STANDARD as BASE64};
use image::{ColorType, ImageEncoder, codecs::png::PngEncoder};
use plotters::prelude::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle, WHITE,
};

use super::drawing::{Anchor, Colour, Drawing, FONT, FONT_NAME, Mark, SIZE_PER_EM, use_font};

/// Widest picture that is painted larger first, in pixels.
const LARGEST_SCALED: u32 = 1600;

impl Colour {
    fn rgb(self) -> RGBColor {
        match self {
            Colour::Ink => RGBColor(0x1a, 0x1a, 0x1a),
            Colour::Grey => RGBColor(0x59, 0x59, 0x59),
            Colour::Pale => RGBColor(0xc4, 0xc4, 0xc4),
            Colour::Ground => RGBColor(0xf4, 0xf4, 0xf4),
            Colour::Blue => RGBColor(0x0b, 0x4f, 0x8a),
            Colour::Orange => RGBColor(0xb8, 0x4a, 0x00),
        }
    }
}

impl Drawing {
    /// The picture as an SVG document that brings its font along.
    pub fn svg(&self) -> String {
        let font = format!(
            "<style>@font-face{{font-family:\"{FONT_NAME}\";src:url(data:font/ttf;base64,{})}}</style>",
            BASE64.encode(FONT)
        );
        let bare = self.bare_svg();
        let end = bare.find('>').map_or(0, |at| at + 1);
        format!("{}{font}{}", &bare[..end], &bare[end..])
    }

    /// The picture as an SVG element for a page that brings the font along.
    pub fn bare_svg(&self) -> String {
        let mut text = String::new();
        let mut backend = SVGBackend::with_string(&mut text, self.pixels());
        self.paint(&mut backend, 1.0);
        drop(backend);
        text
    }

    /// The picture as a PNG file. All but the largest are painted twice as large and brought down:
    /// plotters sets letters and lines on whole pixels.
    pub fn png(&self) -> Vec<u8> {
        let (width, height) = self.pixels();
        let scale = if width <= LARGEST_SCALED { 2 } else { 1 };
        let mut pixels = vec![255; (width * scale * height * scale * 3) as usize];
        let size = (width * scale, height * scale);
        let mut backend = BitMapBackend::with_buffer(&mut pixels, size);
        self.paint(&mut backend, scale as f32);
        drop(backend);
        let pixels = brought_down(&pixels, width as usize, scale as usize);
        let mut file = Cursor::new(Vec::new());
        PngEncoder::new(&mut file)
            .write_image(&pixels, width, height, ColorType::Rgb8)
            .expect("as many pixels as said, into memory");
        file.into_inner()
    }

    fn pixels(&self) -> (u32, u32) {
        (self.width.ceil() as u32, self.height.ceil() as u32)
    }

    fn paint<B: DrawingBackend>(&self, backend: &mut B, scale: f32) {
        use_font();
        // Both backends write to memory, and the font is there.
        let done =
            self.marks.iter().all(|mark| paint(mark, backend, scale)) && backend.present().is_ok();
        assert!(done, "painting to memory cannot fail");
    }
}

/// Paints one mark; false where the backend failed.
fn paint<B: DrawingBackend>(mark: &Mark, backend: &mut B, scale: f32) -> bool {
    let whole = |(x, y): (f32, f32)| ((x * scale).round() as i32, (y * scale).round() as i32);
    let done = match mark {
        Mark::Line {
            points,
            width,
            colour,
        } => {
            let style = ShapeStyle {
                color: colour.rgb().to_rgba(),
                filled: false,
                stroke_width: (width * scale).round().max(1.0) as u32,
            };
            backend.draw_path(points.iter().map(|&p| whole(p)), &style)
        }
        Mark::Dot {
            at,
            radius,
            colour,
            filled,
        } => {
            let outer = (radius * scale).round().max(2.0) as u32;
            let inner = outer - (outer / 4).max(1);
            let done = backend.draw_circle(whole(*at), outer, &colour.rgb(), true);
            // An outlined one is opaque, so that a stem ends at it.
            match done {
                Ok(()) if !filled => backend.draw_circle(whole(*at), inner, &WHITE, true),
                done => done,
            }
        }
        Mark::Fill { area, colour } => backend.draw_rect(
            whole((area.x, area.y)),
            whole((area.right(), area.bottom())),
            &colour.rgb(),
            true,
        ),
        Mark::Text {
            at,
            anchor,
            em,
            colour,
            text,
        } => {
            let font = FontDesc::new(
                FontFamily::Name(FONT_NAME),
                f64::from(em * scale * SIZE_PER_EM),
                FontStyle::Normal,
            );
            let side = match anchor {
                Anchor::Left => HPos::Left,
                Anchor::Middle => HPos::Center,
                Anchor::Right => HPos::Right,
            };
            let colour = colour.rgb();
            let style = TextStyle::from(font)
                .color(&colour)
                .pos(Pos::new(side, VPos::Center));
            backend.draw_text(text, &style, whole(*at))
        }
        Mark::Image {
            at,
            width,
            height,
            grey,
        } => {
            let scale = scale as usize;
            let (wide, high) = (width * scale, height * scale);
            let grey = (0..high).flat_map(|y| {
                let row = &grey[y / scale * width..];
                (0..wide).map(move |x| row[x / scale])
            });
            let rgb: Vec<u8> = grey.flat_map(|g| [g, g, g]).collect();
            backend.blit_bitmap(whole(*at), (wide as u32, high as u32), &rgb)
        }
    };
    done.is_ok()
}

/// Each pixel the mean of `scale` by `scale` ones.
fn brought_down(pixels: &[u8], width: usize, scale: usize) -> Vec<u8> {
    if scale == 1 {
        return pixels.to_vec();
    }
    let row = width * scale * 3;
    let rows = pixels.chunks_exact(row * scale);
    let count = (scale * scale) as u32;
    rows.flat_map(|rows| {
        (0..width * 3).map(move |i| {
            let (x, channel) = (i / 3, i % 3);
            let at = |dx: usize, dy: usize| dy * row + (x * scale + dx) * 3 + channel;
            let all = (0..count as usize).map(|k| u32::from(rows[at(k % scale, k / scale)]));
            (all.sum::<u32>() / count) as u8
        })
    })
    .collect()
}
