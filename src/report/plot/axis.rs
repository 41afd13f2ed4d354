//! Scales and their ticks.

use super::drawing::{Anchor, Area, Colour, Drawing, HAIR, text_width};

/// A scale from values to pixels along one side of an area.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    from: f32,
    to: f32,
    start: f32,
    length: f32,
    logarithmic: bool,
}

impl Scale {
    /// Values `from` to `to` over an area's width.
    pub fn across(area: &Area, from: f32, to: f32) -> Self {
        Scale {
            from,
            to,
            start: area.x,
            length: area.width,
            logarithmic: false,
        }
    }

    /// Values `from` to `to` up an area's height.
    pub fn up(area: &Area, from: f32, to: f32) -> Self {
        Scale {
            from,
            to,
            start: area.bottom(),
            length: -area.height,
            logarithmic: false,
        }
    }

    /// The same scale, equal ratios equally long.
    pub fn in_octaves(self) -> Self {
        Scale {
            logarithmic: true,
            ..self
        }
    }

    /// Tells where a value stands, in pixels; values outside stand at the nearer end.
    pub fn at(&self, value: f32) -> f32 {
        let share = if self.logarithmic {
            (value / self.from).ln() / (self.to / self.from).ln()
        } else {
            (value - self.from) / (self.to - self.from)
        };
        self.start + self.length * share.clamp(0.0, 1.0)
    }

    /// The value that stands at a pixel.
    pub fn value(&self, pixel: f32) -> f32 {
        let share = (pixel - self.start) / self.length;
        if self.logarithmic {
            self.from * (self.to / self.from).powf(share)
        } else {
            self.from + (self.to - self.from) * share
        }
    }

    fn holds(&self, value: f32) -> bool {
        let slack = (self.to - self.from) * 1e-4;
        (self.from - slack..=self.to + slack).contains(&value)
    }
}

/// Ticks under an area with their labels and the axis's name, as many as fit. `grid` draws
/// lines across the area, too.
pub fn under(
    drawing: &mut Drawing,
    area: &Area,
    scale: &Scale,
    ticks: &[(f32, String)],
    name: &str,
    em: f32,
) {
    let y = area.bottom() + 0.95 * em;
    let mut free_from = f32::MIN;
    drawing.line(
        vec![(area.x, area.bottom()), (area.right(), area.bottom())],
        HAIR * em,
        Colour::Grey,
    );
    for (value, label) in ticks.iter().filter(|(value, _)| scale.holds(*value)) {
        let x = scale.at(*value);
        let half = text_width(label, em) / 2.0;
        if x - half < free_from {
            continue;
        }
        free_from = x + half + 0.6 * em;
        drawing.line(
            vec![(x, area.bottom()), (x, area.bottom() + 0.3 * em)],
            HAIR * em,
            Colour::Grey,
        );
        drawing.text((x, y), Anchor::Middle, em, Colour::Ink, label.as_str());
    }
    let middle = area.x + area.width / 2.0;
    drawing.text(
        (middle, y + 1.2 * em),
        Anchor::Middle,
        em,
        Colour::Ink,
        name,
    );
}

/// Height that [`under`] needs below its area.
pub fn height_under(em: f32) -> f32 {
    2.8 * em
}

/// Ticks beside an area, on its left, each with a pale line across.
pub fn beside(drawing: &mut Drawing, area: &Area, scale: &Scale, values: &[f32], em: f32) {
    for &value in values {
        let y = scale.at(value);
        drawing.line(
            vec![(area.x, y), (area.right(), y)],
            HAIR * em,
            Colour::Pale,
        );
        // The minus sign of print, not the hyphen.
        let label = format!("{value:.0}").replace('-', "−");
        drawing.text(
            (area.x - 0.4 * em, y),
            Anchor::Right,
            em,
            Colour::Ink,
            label,
        );
    }
}

/// Round steps from a first value to a last one with their labels, at most so many.
pub fn steps(from: f32, to: f32, most: f32) -> Vec<(f32, String)> {
    let rough = (to - from) / most.max(1.0);
    let power = 10f32.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|s| s * power)
        .find(|&s| s >= rough * 0.999)
        .unwrap_or(10.0 * power);
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    let first = (from / step - 1e-3).ceil() as i32;
    (first..)
        .map(|i| i as f32 * step)
        .take_while(|&v| v <= to + step * 1e-3)
        .map(|v| (v, format!("{:.decimals$}", v + 0.0).replace('-', "−")))
        .collect()
}

/// Ticks in Hz for an axis of octaves.
pub fn hertz() -> Vec<(f32, String)> {
    [
        50.0, 70.0, 100.0, 150.0, 200.0, 300.0, 500.0, 700.0, 1000.0, 1500.0, 2000.0, 3000.0,
        5000.0,
    ]
    .into_iter()
    .map(|hz| (hz, format!("{hz:.0}")))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_cover_the_range() {
        let labels = |from, to, most| -> Vec<String> {
            steps(from, to, most).into_iter().map(|s| s.1).collect()
        };
        assert_eq!(labels(-0.1, 2.0, 5.0), ["0.0", "0.5", "1.0", "1.5", "2.0"]);
        assert_eq!(labels(0.0, 100.0, 4.0), ["0", "50", "100"]);
        assert_eq!(labels(-60.0, 0.0, 2.0), ["−50", "0"]);
    }

    #[test]
    fn a_scale_gives_back_what_it_took() {
        let area = Area {
            x: 10.0,
            y: 0.0,
            width: 200.0,
            height: 50.0,
        };
        let scale = Scale::across(&area, 70.0, 5000.0).in_octaves();
        assert!((scale.value(scale.at(440.0)) - 440.0).abs() < 0.1);
        assert_eq!(scale.at(1.0), 10.0, "what is outside stands at the end");
        let up = Scale::up(&area, -60.0, 0.0);
        assert_eq!((up.at(0.0), up.at(-60.0)), (0.0, 50.0));
    }
}
