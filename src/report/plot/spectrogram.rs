//! The sound over time and frequency, with the onsets of the strum.

use super::PlottedTake;
use super::axis::{self, Scale};
use super::drawing::{Anchor, Area, Colour, Drawing, HAIR, Mark};
use crate::spectrum::Frames;
use crate::words;

/// Frequencies shown, in Hz.
const RANGE_HZ: (f32, f32) = (60.0, 5_000.0);
/// Levels shown, in dB under the loudest: white to black.
const RANGE_DB: f32 = 60.0;
/// Sound shown before the first stroke, in seconds.
const LEAD_S: f32 = 0.15;

/// Height in pixels.
pub fn height(em: f32, width: f32) -> f32 {
    (16.0 * em).max(width * 0.22) + 3.6 * em + axis::height_under(em)
}

/// Draws the sound of one take, to `seconds` after the first stroke.
pub fn draw(drawing: &mut Drawing, area: &Area, em: f32, shown: &PlottedTake, seconds: f32) {
    drawing.text_within(
        (area.x, area.y + 0.8 * em),
        em,
        Colour::Ink,
        &words::picture::SPECTROGRAM_TITLES,
        area.width,
    );
    let inner = area.inset(
        8.2 * em,
        3.2 * em,
        1.2 * em,
        axis::height_under(em) + 0.4 * em,
    );
    let first = shown.first as f32 / shown.rate_hz as f32;
    let lead = LEAD_S.min(first);
    let time = Scale::across(&inner, -lead, seconds);
    let pitch = Scale::up(&inner, RANGE_HZ.0, RANGE_HZ.1).in_octaves();
    image(drawing, &inner, shown, &time, &pitch, first);
    for (hz, label) in axis::hertz() {
        let y = pitch.at(hz);
        let inside = (RANGE_HZ.0..=RANGE_HZ.1).contains(&hz);
        // The ones between would stand too near to each other.
        let round = ["100", "200", "500", "1000", "2000", "5000"].contains(&label.as_str());
        if inside && round {
            drawing.line(
                vec![(inner.x - 0.3 * em, y), (inner.x, y)],
                HAIR * em,
                Colour::Grey,
            );
            let at = (inner.x - 0.5 * em, y);
            drawing.text(at, Anchor::Right, 0.9 * em, Colour::Ink, label);
        }
    }
    drawing.text(
        (area.x, inner.middle()),
        Anchor::Left,
        em,
        Colour::Ink,
        "Hz",
    );
    for &onset in &shown.onsets_s {
        if onset > seconds {
            continue;
        }
        let (x, y) = (time.at(onset), inner.y - 0.2 * em);
        let reach = 0.35 * em;
        let triangle = vec![
            (x, y),
            (x - reach, y - 2.0 * reach),
            (x + reach, y - 2.0 * reach),
            (x, y),
        ];
        drawing.line(triangle, 0.14 * em, Colour::Orange);
    }
    let ticks = axis::steps(-lead, seconds, inner.width / (4.5 * em));
    axis::under(
        drawing,
        &inner,
        &time,
        &ticks,
        words::picture::SECONDS_AFTER_FIRST,
        em,
    );
}

fn image(
    drawing: &mut Drawing,
    inner: &Area,
    shown: &PlottedTake,
    time: &Scale,
    pitch: &Scale,
    first_s: f32,
) {
    let mut frames = Frames::new(f64::from(shown.rate_hz));
    frames.fill(&shown.samples, usize::MAX);
    let (width, height) = (inner.width as usize, inner.height as usize);
    if frames.count() == 0 {
        return;
    }
    let top_hz = shown.rate_hz as f32 / 2.0;
    let half_s = frames.length_s() / 2.0;
    let mut levels = vec![f32::MIN; width * height];
    for row in 0..height {
        let hz = pitch.value(inner.y + row as f32 + 0.5);
        if hz >= top_hz {
            continue;
        }
        for column in 0..width {
            let at_s = time.value(inner.x + column as f32 + 0.5) + first_s - half_s;
            let frame = at_s / frames.step_s();
            if frame < 0.0 || frame as usize >= frames.count() {
                continue;
            }
            let (i, t) = (frame as usize, frame.fract());
            let next = (i + 1).min(frames.count() - 1);
            let (a, b) = (frames.at_db(i, hz), frames.at_db(next, hz));
            levels[row * width + column] = a + (b - a) * t;
        }
    }
    let loudest = levels.iter().copied().fold(f32::MIN, f32::max);
    let grey = levels
        .iter()
        .map(|db| (255.0 * ((loudest - db) / RANGE_DB).clamp(0.0, 1.0)) as u8)
        .collect();
    drawing.marks.push(Mark::Image {
        at: (inner.x, inner.y),
        width,
        height,
        grey,
    });
}
