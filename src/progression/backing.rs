//! Notes and strokes of the band, each with its beat.

use std::ops::RangeInclusive;

use super::grid::{Grid, GridError};
use super::parse::{Placed, Progression, ProgressionError};
use crate::fretboard::{ChordName, Tuning};
use crate::words;

/// The bass plays from E1 to D#2 (MIDI), an octave below the guitar's lowest notes and out of its way.
const LOWEST_BASS_MIDI: u8 = 28;
/// How much of its place a bass note fills: the rest parts it from the next.
const BASS_FILLS: f64 = 0.92;
/// Place of the second of two even eighths, in percent of the beat, and the second of a shuffle's:
/// two thirds, as of a triplet (common practice).
pub const EVEN: f64 = 50.0;
/// Place of the second eighth of a shuffle, in percent of the beat.
pub const SHUFFLE: f64 = 200.0 / 3.0;
/// Swing that is played, in percent of the beat (common practice: even to hard).
pub const SWINGS: RangeInclusive<f64> = 50.0..=75.0;
/// Bars that each chord of a list may take, and bars of count-in: bounds that a slip of the pen would pass
/// (choices).
pub const BARS_EACH: RangeInclusive<u32> = 1..=16;
/// Bars of count-in that may be asked for.
pub const COUNT_IN_BARS: RangeInclusive<u32> = 1..=4;
/// Most loops.
pub const MOST_LOOPS: usize = 200;

/// Division of the bar by the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Feel {
    /// The bass holds each chord.
    Whole,
    /// A bass note on every beat.
    Quarters,
    /// Two to a beat.
    Eighths,
    /// Two to a beat, long and short.
    Shuffle,
}

impl Feel {
    /// All of them.
    pub const ALL: [Feel; 4] = [Feel::Whole, Feel::Quarters, Feel::Eighths, Feel::Shuffle];

    /// Its name in options and lessons.
    pub fn word(self) -> &'static str {
        match self {
            Feel::Whole => "whole",
            Feel::Quarters => "quarters",
            Feel::Eighths => "eighths",
            Feel::Shuffle => "shuffle",
        }
    }

    /// Tells where the second eighth of a beat usually comes, in percent of the beat.
    pub fn usual_swing(self) -> f64 {
        match self {
            Feel::Shuffle => SHUFFLE,
            _ => EVEN,
        }
    }
}

/// Manner of playing it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Division of the bar by the band.
    pub feel: Feel,
    /// Place of the second eighth of a beat, in percent of the beat.
    pub swing: f64,
}

/// Tempo, bars and repeats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timing {
    /// Tempo at the beginning, in beats a minute.
    pub from_bpm: f64,
    /// The tempo at the end, reached evenly over all loops.
    pub to_bpm: f64,
    /// Beats of a bar.
    pub beats: u32,
    /// Bars that each chord of a list takes.
    pub bars_each: u32,
    /// Times that the whole progression is played.
    pub loops: usize,
    /// Bars of count-in.
    pub count_in_bars: u32,
}

/// A progression in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Every chord of every loop in its place; bars are counted on from loop to loop.
    pub placed: Vec<Placed>,
    /// Moment of each beat, count-in included.
    pub grid: Grid,
    /// Bars of one loop.
    pub loop_bars: usize,
}

/// Reason why a progression cannot be put in time.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Tempo, beats or length are out of range.
    #[error(transparent)]
    Grid(#[from] GridError),
    /// The chords do not fit into their bars.
    #[error(transparent)]
    Progression(#[from] ProgressionError),
    /// Number of bars for each chord outside [`BARS_EACH`].
    #[error("{}", words::progression::bars_each(BARS_EACH.start(), BARS_EACH.end(), .0))]
    BarsEach(u32),
    /// Bars for each chord were asked for, but the text has bar lines of its own.
    #[error("{}", words::progression::BARS_OF_ITS_OWN)]
    Barred,
    /// No loops, or more than [`MOST_LOOPS`].
    #[error("{}", words::progression::times_played(MOST_LOOPS, .0))]
    Loops(usize),
    /// Number of bars of count-in outside [`COUNT_IN_BARS`].
    #[error("{}", words::progression::count_in(COUNT_IN_BARS.start(), COUNT_IN_BARS.end(), .0))]
    CountIn(u32),
}

impl Plan {
    /// Puts a progression in time.
    ///
    /// # Errors
    /// [`PlanError`] where a number is out of range or a bar has more chords than beats.
    pub fn new(song: &Progression, timing: &Timing) -> Result<Plan, PlanError> {
        match timing {
            t if !BARS_EACH.contains(&t.bars_each) => return Err(PlanError::BarsEach(t.bars_each)),
            t if t.bars_each > 1 && song.barred => return Err(PlanError::Barred),
            t if !(1..=MOST_LOOPS).contains(&t.loops) => return Err(PlanError::Loops(t.loops)),
            t if !COUNT_IN_BARS.contains(&t.count_in_bars) => {
                return Err(PlanError::CountIn(t.count_in_bars));
            }
            _ => {}
        }
        let song = song.each_bar(timing.bars_each);
        let loop_bars = song.bars.len();
        let grid = Grid::new(
            timing.beats,
            loop_bars * timing.loops,
            timing.count_in_bars,
            timing.from_bpm,
            timing.to_bpm,
        )?;
        let once = song.placed(timing.beats)?;
        let placed = (0..timing.loops).flat_map(|round| {
            let bars_before = round * loop_bars;
            once.iter().map(move |p| Placed {
                bar: p.bar + bars_before,
                ..*p
            })
        });
        Ok(Plan {
            placed: placed.collect(),
            grid,
            loop_bars,
        })
    }

    /// The beat at which a chord begins.
    pub fn beat_of(&self, placed: &Placed) -> f64 {
        placed.bar as f64 * f64::from(self.grid.beats) + f64::from(placed.beat)
    }
}

/// Instrument that sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Voice {
    /// A click of the count-in, higher on the first beat of a bar.
    Count {
        /// True on the first beat of a bar.
        first: bool,
    },
    /// A bass note.
    Bass {
        /// MIDI note.
        midi: u8,
        /// Frequency of A4 that the guitar is tuned to, in Hz.
        a4_hz: f64,
    },
    /// The soft tick that marks each beat, a little clearer on the first of a bar.
    Pulse {
        /// True on the first beat of a bar.
        first: bool,
    },
    /// The bass drum.
    Kick,
    /// A light stroke on the rim of the snare.
    Rim,
    /// A closed hi-hat.
    Hat,
}

/// One note or stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Moment in beats; below 0 in the count-in.
    pub beat: f64,
    /// Length in beats.
    pub beats: f64,
    /// The instrument, and the note where it has one.
    pub voice: Voice,
    /// Against the voice's usual level.
    pub level_db: f64,
}

/// Everything that the band plays, in order of time.
pub fn arrangement(plan: &Plan, style: &Style, tuning: &Tuning) -> Vec<Hit> {
    let grid = &plan.grid;
    let mut hits = Vec::new();
    let stroke = |beat: f64, voice: Voice, level_db: f64| Hit {
        beat,
        beats: 0.25,
        voice,
        level_db,
    };
    for beat in 0..grid.count_in {
        let first = beat % grid.beats == 0;
        let at = f64::from(beat) - f64::from(grid.count_in);
        hits.push(stroke(at, Voice::Count { first }, 0.0));
    }
    for bar in 0..grid.bars {
        for beat in 0..grid.beats {
            let at = bar as f64 * f64::from(grid.beats) + f64::from(beat);
            drums(beat, grid.beats, style, |offset, voice, level_db| {
                hits.push(stroke(at + offset, voice, level_db));
            });
        }
    }
    for placed in &plan.placed {
        if let Some(chord) = placed.chord {
            let midi = bass_midi(&chord, tuning);
            bass(
                plan.beat_of(placed),
                placed.beats,
                style,
                |beat, beats, level_db| {
                    hits.push(Hit {
                        beat,
                        beats,
                        voice: Voice::Bass {
                            midi,
                            a4_hz: tuning.a4_hz,
                        },
                        level_db,
                    });
                },
            );
        }
    }
    hits.sort_by(|a, b| a.beat.total_cmp(&b.beat));
    hits
}

/// The strokes that belong to one beat of a bar: kick on the first and in the middle, rim between
/// (the backbeat), hats as the feel divides the beat (common practice, kept light).
fn drums(beat: u32, beats: u32, style: &Style, mut play: impl FnMut(f64, Voice, f64)) {
    play(0.0, Voice::Pulse { first: beat == 0 }, 0.0);
    let even = beats.is_multiple_of(2);
    if beat == 0 {
        play(0.0, Voice::Kick, 0.0);
    } else if style.feel != Feel::Whole && even && beats > 2 && beat == beats / 2 {
        play(0.0, Voice::Kick, -2.0);
    }
    if style.feel == Feel::Whole {
        return;
    }
    let backbeat = if even { beat % 2 == 1 } else { beat > 0 };
    if backbeat {
        play(0.0, Voice::Rim, if even { 0.0 } else { -3.0 });
    }
    play(0.0, Voice::Hat, 0.0);
    if matches!(style.feel, Feel::Eighths | Feel::Shuffle) {
        play(style.swing / 100.0, Voice::Hat, -3.0);
    }
}

/// The bass notes of one chord.
fn bass(from: f64, beats: u32, style: &Style, mut play: impl FnMut(f64, f64, f64)) {
    if style.feel == Feel::Whole {
        return play(from, f64::from(beats) * BASS_FILLS, 0.0);
    }
    for beat in 0..beats {
        let at = from + f64::from(beat);
        let softer = if beat == 0 { 0.0 } else { -1.5 };
        if style.feel == Feel::Quarters {
            play(at, BASS_FILLS, softer);
        } else {
            let second = style.swing / 100.0;
            play(at, second * BASS_FILLS, softer);
            play(at + second, (1.0 - second) * BASS_FILLS, -3.0);
        }
    }
}

/// The chord's lowest note as the bass plays it, the capo included.
fn bass_midi(chord: &ChordName, tuning: &Tuning) -> u8 {
    let class = (chord.lowest() + tuning.capo) % 12;
    LOWEST_BASS_MIDI + (class + 12 - LOWEST_BASS_MIDI % 12) % 12
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timing() -> Timing {
        Timing {
            from_bpm: 72.0,
            to_bpm: 72.0,
            beats: 4,
            bars_each: 1,
            loops: 1,
            count_in_bars: 1,
        }
    }

    fn plan(text: &str, timing: &Timing) -> Plan {
        Plan::new(&Progression::read(text).unwrap(), timing).unwrap()
    }

    fn basses(hits: &[Hit]) -> Vec<(f64, u8)> {
        let bass = |hit: &Hit| match hit.voice {
            Voice::Bass { midi, .. } => Some((hit.beat, midi)),
            _ => None,
        };
        hits.iter().filter_map(bass).collect()
    }

    #[test]
    fn the_bass_plays_the_root_under_the_guitar() {
        let style = Style {
            feel: Feel::Whole,
            swing: EVEN,
        };
        let hits = arrangement(
            &plan("E Eb C/G N.C. F", &timing()),
            &style,
            &Tuning::default(),
        );
        assert_eq!(
            basses(&hits),
            [(0.0, 28), (4.0, 39), (8.0, 31), (16.0, 29)],
            "E1, Eb2, the G under C, nothing, F1"
        );
        let capo = Tuning::default().with_capo(2).unwrap();
        assert_eq!(
            basses(&arrangement(&plan("E", &timing()), &style, &capo)),
            [(0.0, 30)]
        );
    }

    #[test]
    fn a_shuffle_plays_the_second_eighth_on_the_last_third() {
        let style = Style {
            feel: Feel::Shuffle,
            swing: SHUFFLE,
        };
        let hits = arrangement(&plan("F", &timing()), &style, &Tuning::default());
        let bass = basses(&hits);
        assert_eq!(bass.len(), 8);
        assert!((bass[1].0 - 2.0 / 3.0).abs() < 1e-12);
        let hats = hits.iter().filter(|h| h.voice == Voice::Hat).count();
        assert_eq!(hats, 8);
    }

    #[test]
    fn every_beat_has_its_pulse_and_the_count_in_its_clicks() {
        let style = Style {
            feel: Feel::Quarters,
            swing: EVEN,
        };
        for beats in 1..=7 {
            let timing = Timing {
                beats,
                loops: 2,
                count_in_bars: 2,
                ..timing()
            };
            let hits = arrangement(&plan("F C", &timing), &style, &Tuning::default());
            let at = |wanted: fn(&Voice) -> bool| -> Vec<f64> {
                let of = hits.iter().filter(|h| wanted(&h.voice));
                of.map(|h| h.beat).collect()
            };
            let pulses: Vec<f64> = (0..4 * beats).map(f64::from).collect();
            assert_eq!(at(|v| matches!(v, Voice::Pulse { .. })), pulses);
            let clicks: Vec<f64> = (0..2 * beats)
                .map(|b| f64::from(b) - 2.0 * f64::from(beats))
                .collect();
            assert_eq!(at(|v| matches!(v, Voice::Count { .. })), clicks);
        }
    }

    #[test]
    fn chords_take_their_bars_and_loops_come_round() {
        let timing = Timing {
            bars_each: 2,
            loops: 3,
            ..timing()
        };
        let plan = plan("F Bb", &timing);
        assert_eq!((plan.loop_bars, plan.grid.bars), (4, 12));
        assert_eq!(plan.placed.len(), 12, "one for each bar");
        assert_eq!(plan.placed[4].bar, 4);
    }

    #[test]
    fn what_cannot_be_played_is_said() {
        let said = |text: &str, timing: Timing| {
            Plan::new(&Progression::read(text).unwrap(), &timing)
                .unwrap_err()
                .to_string()
        };
        let with = |change: fn(&mut Timing)| {
            let mut timing = timing();
            change(&mut timing);
            timing
        };
        assert!(said("F", with(|t| t.bars_each = 0)).contains("from 1 to 16 bars"));
        assert!(said("| F |", with(|t| t.bars_each = 2)).contains("bar lines of its own"));
        assert!(said("F", with(|t| t.loops = 0)).contains("from 1 to 200 times"));
        assert!(said("F", with(|t| t.count_in_bars = 9)).contains("from 1 to 4 bars"));
        assert!(said("F", with(|t| t.from_bpm = 201.0)).contains("201 is not"));
        assert!(said("| F C D |", with(|t| t.beats = 2)).contains("3 chords but 2 beats"));
    }
}
