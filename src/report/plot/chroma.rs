//! Notes that sound, in whatever octave: expected against heard, and which string each comes from.

use super::PlottedTake;
use super::axis::Scale;
use super::drawing::{Anchor, Area, Colour, Drawing, HAIR, text_width};
use crate::fretboard::{ChordName, NoteName, string_number};
use crate::spectrum::chroma::{PITCH_CLASSES, expected, heard};
use crate::words;

/// Semitones from a string's own note to its third and fifth partial, octaves left out: the overtones that are other
/// notes. The sixth is the third's octave; higher ones are weak.
const OVERTONES: [usize; 2] = [7, 4];
/// A note so much weaker than the strongest is not traced to its strings, as a share.
const TRACED: f32 = 0.1;

/// Height in pixels.
pub fn height(em: f32, width: f32) -> f32 {
    (11.0 * em).max(width * 0.14) + 7.4 * em
}

/// Draws the pitch classes of one take.
pub fn draw(drawing: &mut Drawing, area: &Area, em: f32, shown: &PlottedTake) {
    let Some(view) = &shown.view else { return };
    let is_chord_known = shown.is_chord_known();
    let mut titles = words::picture::CHROMA_TITLES;
    if !is_chord_known {
        titles[0] = words::picture::CHROMA_HEARD_TITLE;
    }
    drawing.text_within(
        (area.x, area.y + 0.8 * em),
        em,
        Colour::Ink,
        &titles,
        area.width,
    );
    let inner = area.inset(8.2 * em, 3.4 * em, 1.2 * em, 4.0 * em);
    let share = Scale::up(&inner, 0.0, 1.0);
    drawing.fill(inner, Colour::Ground);
    for value in [0.0, 0.5, 1.0] {
        let y = share.at(value);
        drawing.line(
            vec![(inner.x, y), (inner.right(), y)],
            HAIR * em,
            Colour::Pale,
        );
        let at = (inner.x - 0.4 * em, y);
        drawing.text(
            at,
            Anchor::Right,
            0.8 * em,
            Colour::Ink,
            format!("{value:.1}"),
        );
    }
    if is_chord_known {
        legend(drawing, (area.x, area.y + 2.2 * em), em);
    }
    let tuning = &shown.tuning;
    let sounding_strings = || shown.take.frets.sounding().filter(|_| is_chord_known);
    let fundamentals: Vec<f64> = sounding_strings()
        .map(|(string, fret)| tuning.hz(string, fret))
        .collect();
    // Strings whose own note a pitch class is, and whose overtone.
    let own = |class: usize, (string, fret): (usize, u8)| {
        let sounds =
            usize::from(tuning.open[string]) + usize::from(tuning.capo) + usize::from(fret);
        (class + PITCH_CLASSES - sounds % PITCH_CLASSES) % PITCH_CLASSES
    };
    let strings_at = |class: usize, away: &[usize]| -> String {
        let of = sounding_strings().filter(|&held| away.contains(&own(class, held)));
        let numbers: Vec<String> = of
            .map(|(string, _)| string_number(string).to_string())
            .collect();
        numbers.join(" ")
    };
    let wanted = expected(&fundamentals, tuning.a4_hz);
    let mut sounding = [0f32; PITCH_CLASSES];
    for spectrum in &view.spectra {
        let of_stroke = heard(spectrum, tuning.a4_hz, view.tuning_cents);
        for (sum, one) in sounding.iter_mut().zip(of_stroke) {
            *sum += one / view.spectra.len() as f32;
        }
    }
    let most = sounding.iter().copied().fold(1e-6, f32::max);
    let chord: Option<ChordName> = shown.take.chord.as_ref().and_then(|c| c.parse().ok());
    let step = inner.width / PITCH_CLASSES as f32;
    // Names are counted from the capo, sound is not.
    let capo = usize::from(tuning.capo);
    for class in 0..PITCH_CLASSES {
        let centre = inner.x + step * (class as f32 + 0.5);
        let bar = |left: f32, value: f32| Area {
            x: centre + left,
            y: share.at(value),
            width: 0.3 * step,
            height: inner.bottom() - share.at(value),
        };
        outline(drawing, &bar(-0.34 * step, wanted[class]), em);
        drawing.fill(bar(0.04 * step, sounding[class] / most), Colour::Blue);
        let named = ((class + PITCH_CLASSES - capo % PITCH_CLASSES) % PITCH_CLASSES) as u8;
        let note = match &chord {
            Some(chord) => chord.spell(named),
            None => NoteName::usual(named),
        };
        let at = (centre, inner.bottom() + 0.9 * em);
        drawing.text(at, Anchor::Middle, em, Colour::Ink, note.to_string());
        if wanted[class].max(sounding[class] / most) < TRACED {
            continue;
        }
        for (line, away) in [&[0][..], &OVERTONES].into_iter().enumerate() {
            let at = (centre, inner.bottom() + (2.2 + 1.2 * line as f32) * em);
            drawing.text(
                at,
                Anchor::Middle,
                0.7 * em,
                Colour::Ink,
                strings_at(class, away),
            );
        }
    }
    let traces = [
        words::picture::NOTE_OF_STRING,
        words::picture::OVERTONE_OF_STRING,
    ];
    for (line, text) in traces.into_iter().filter(|_| is_chord_known).enumerate() {
        let at = (area.x, inner.bottom() + (2.2 + 1.2 * line as f32) * em);
        drawing.text(at, Anchor::Left, 0.8 * em, Colour::Grey, text);
    }
    drawing.line(
        vec![(inner.x, inner.bottom()), (inner.right(), inner.bottom())],
        HAIR * em,
        Colour::Grey,
    );
}

fn outline(drawing: &mut Drawing, bar: &Area, em: f32) {
    if bar.height < 1.0 {
        return;
    }
    let points = vec![
        (bar.x, bar.bottom()),
        (bar.x, bar.y),
        (bar.right(), bar.y),
        (bar.right(), bar.bottom()),
    ];
    drawing.line(points, 0.12 * em, Colour::Orange);
}

fn legend(drawing: &mut Drawing, (left, y): (f32, f32), em: f32) {
    let small = 0.9 * em;
    let box_at = |x: f32| Area {
        x,
        y: y - 0.35 * em,
        width: 0.7 * em,
        height: 0.7 * em,
    };
    outline(drawing, &box_at(left), em);
    drawing.text(
        (left + 1.2 * em, y),
        Anchor::Left,
        small,
        Colour::Ink,
        words::picture::BOX_EXPECTED,
    );
    let second = left + 1.2 * em + text_width(words::picture::BOX_EXPECTED, small) + 1.4 * em;
    drawing.fill(box_at(second), Colour::Blue);
    drawing.text(
        (second + 1.2 * em, y),
        Anchor::Left,
        small,
        Colour::Ink,
        words::picture::BOX_HEARD,
    );
}
