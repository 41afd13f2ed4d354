//! Share of what is heard that one note explains.

/// Partials looked at of a note.
const PARTIALS: usize = 16;
/// Low ones that have to be there, or the note is another one's overtone series.
pub const LOW_PARTIALS: usize = 6;
/// Lines count by their power to this exponent: the strongest lead, but do not decide alone.
const WEIGHT: f32 = 0.25;

/// Lines of a spectrum, each with the weight at which it counts.
#[derive(Debug, Clone, Default)]
pub struct WeighedLines {
    /// Frequency in Hz, weight; rising.
    lines: Vec<(f32, f32)>,
    total: f32,
}

impl WeighedLines {
    /// Takes lines given by frequency in Hz and power, in any order.
    pub fn new(lines: impl Iterator<Item = (f32, f32)>) -> Self {
        let mut lines: Vec<(f32, f32)> =
            lines.map(|(hz, power)| (hz, power.powf(WEIGHT))).collect();
        lines.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let total = lines.iter().map(|l| l.1).sum();
        WeighedLines { lines, total }
    }

    /// The share of all weight that a note explains, times how many of its low partials there are, those counting most that a
    /// pluck makes strongest: 0 to 1. `partial_hz` gives its partials' frequencies, the fundamental's at 1; those above
    /// `highest_hz` are not looked at. A line belongs to a partial that is nearer than `near`, in Hz and as a share of its
    /// frequency together.
    pub fn explained(
        &self,
        partial_hz: impl Fn(usize) -> f64,
        highest_hz: f64,
        near: (f64, f64),
    ) -> f32 {
        if self.total <= 0.0 {
            return 0.0;
        }
        let (mut explained, mut present, mut wanted) = (0f32, 0f32, 0f32);
        let partials = (1..=PARTIALS).map(|n| (n, partial_hz(n)));
        for (n, hz) in partials.take_while(|(_, hz)| *hz <= highest_hz) {
            let (hz, near_hz) = (hz as f32, (near.0 + hz * near.1) as f32);
            let first = self.lines.partition_point(|l| l.0 < hz - near_hz);
            let strongest = self.lines[first..]
                .iter()
                .take_while(|l| l.0 <= hz + near_hz)
                .map(|l| l.1)
                .fold(0.0, f32::max);
            explained += strongest;
            if n <= LOW_PARTIALS {
                let weight = 1.0 / (n as f32).sqrt();
                wanted += weight;
                if strongest > 0.0 {
                    present += weight;
                }
            }
        }
        if wanted > 0.0 {
            explained / self.total * present / wanted
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(hz: f64) -> impl Iterator<Item = (f32, f32)> {
        (1..=8).map(move |n| ((hz * f64::from(n)) as f32, 1.0 / n as f32))
    }

    fn explained(lines: &WeighedLines, hz: f64) -> f32 {
        lines.explained(|n| hz * n as f64, 1_000.0, (2.0, 0.005))
    }

    #[test]
    fn a_note_explains_itself_half_of_two_and_nothing_of_another() {
        let one = WeighedLines::new(note(110.0).collect::<Vec<_>>().into_iter().rev());
        assert!((explained(&one, 110.3) - 1.0).abs() < 0.05);
        assert_eq!(explained(&one, 117.0), 0.0);
        let two = WeighedLines::new(note(110.0).chain(note(139.0)));
        assert!((0.4..0.6).contains(&explained(&two, 110.0)));
    }

    #[test]
    fn a_note_is_no_overtone_of_itself_or_an_octave_below() {
        let one = WeighedLines::new(note(110.0));
        assert!(explained(&one, 220.0) < 0.6);
        assert!(explained(&one, 55.0) < 0.6);
    }

    #[test]
    fn without_lines_or_partials_nothing_is_explained() {
        assert_eq!(explained(&WeighedLines::default(), 110.0), 0.0);
        assert_eq!(explained(&WeighedLines::new(note(110.0)), 2_000.0), 0.0);
    }
}
