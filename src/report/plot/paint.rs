//! Marks onto plotters' two backends: SVG and PNG from one list.

use std::io::Cursor;

use base64::{Engine, engine::general_purpose::STANDARD as BASE64};
use image::{ColorType, ImageEncoder, codecs::png::PngEncoder};
use plotters::prelude::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle, WHITE,
};

use super::drawing::{Anchor, Drawing, FONT, FONT_NAME, Mark, SIZE_PER_EM, Tone, use_font};

impl Tone {
    fn colour(self) -> RGBColor {
        match self {
            Tone::Ink => RGBColor(0x1a, 0x1a, 0x1a),
            Tone::Grey => RGBColor(0x59, 0x59, 0x59),
            Tone::Pale => RGBColor(0xc4, 0xc4, 0xc4),
            Tone::Ground => RGBColor(0xf4, 0xf4, 0xf4),
            Tone::Blue => RGBColor(0x0b, 0x4f, 0x8a),
            Tone::Orange => RGBColor(0xb8, 0x4a, 0x00),
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
        self.paint(&mut backend);
        drop(backend);
        text
    }

    /// The picture as a PNG file.
    pub fn png(&self) -> Vec<u8> {
        let (width, height) = self.pixels();
        let mut pixels = vec![255; (width * height * 3) as usize];
        let mut backend = BitMapBackend::with_buffer(&mut pixels, (width, height));
        self.paint(&mut backend);
        drop(backend);
        let mut file = Cursor::new(Vec::new());
        PngEncoder::new(&mut file)
            .write_image(&pixels, width, height, ColorType::Rgb8)
            .expect("as many pixels as said, into memory");
        file.into_inner()
    }

    fn pixels(&self) -> (u32, u32) {
        (self.width.ceil() as u32, self.height.ceil() as u32)
    }

    fn paint<B: DrawingBackend>(&self, backend: &mut B) {
        use_font();
        // Both backends write to memory, and the font is there.
        let done = self.marks.iter().all(|mark| paint(mark, backend)) && backend.present().is_ok();
        assert!(done, "painting to memory cannot fail");
    }
}

/// Paints one mark; false where the backend failed.
fn paint<B: DrawingBackend>(mark: &Mark, backend: &mut B) -> bool {
    let whole = |(x, y): (f32, f32)| (x.round() as i32, y.round() as i32);
    let done = match mark {
        Mark::Line {
            points,
            width,
            tone,
        } => {
            let style = ShapeStyle {
                color: tone.colour().to_rgba(),
                filled: false,
                stroke_width: width.round().max(1.0) as u32,
            };
            backend.draw_path(points.iter().map(|&p| whole(p)), &style)
        }
        Mark::Dot {
            at,
            radius,
            tone,
            filled,
        } => {
            let radius = radius.round().max(1.0) as u32;
            // An outlined one is opaque, so that a stem ends at it.
            if !filled {
                let ground = backend.draw_circle(whole(*at), radius, &WHITE, true);
                if ground.is_err() {
                    return false;
                }
            }
            backend.draw_circle(whole(*at), radius, &tone.colour(), *filled)
        }
        Mark::Fill { area, tone } => backend.draw_rect(
            whole((area.x, area.y)),
            whole((area.right(), area.bottom())),
            &tone.colour(),
            true,
        ),
        Mark::Text {
            at,
            anchor,
            em,
            tone,
            text,
        } => {
            let font = FontDesc::new(
                FontFamily::Name(FONT_NAME),
                f64::from(em * SIZE_PER_EM),
                FontStyle::Normal,
            );
            let side = match anchor {
                Anchor::Left => HPos::Left,
                Anchor::Middle => HPos::Center,
                Anchor::Right => HPos::Right,
            };
            let colour = tone.colour();
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
            let rgb: Vec<u8> = grey.iter().flat_map(|&g| [g, g, g]).collect();
            backend.blit_bitmap(whole(*at), (*width as u32, *height as u32), &rgb)
        }
    };
    done.is_ok()
}
