//! A backing as a standard MIDI file.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};

use super::backing::{Hit, Plan, Voice};
use crate::fretboard::Tuning;

/// Ticks of a beat: divisible by the parts that are played, the triplet's among them.
const TICKS: u16 = 480;
/// Tempos of one beat on a ramp: a MIDI tempo is steady, the ramp is not.
const TEMPO_STEPS: u32 = 4;
/// Channels, counted from 0: drums are on the tenth (General MIDI).
const BASS_CHANNEL: u8 = 0;
const DRUM_CHANNEL: u8 = 9;
/// General MIDI program 34, electric bass played with the fingers, counted from 0.
const BASS_PROGRAM: u8 = 33;
/// Loudest velocity used, and how far 1 dB goes (a choice: General MIDI does not fix the curve).
const VELOCITY: f64 = 90.0;
const VELOCITY_PER_DB: f64 = 4.0;

/// The General MIDI drum key of a stroke.
fn drum_key(voice: Voice) -> Option<(u8, f64)> {
    match voice {
        // High and low wood block, bass drum, side stick, closed hi-hat.
        Voice::Count { first: true } => Some((76, 0.0)),
        Voice::Count { first: false } => Some((77, -2.0)),
        Voice::Pulse { first: true } => Some((76, -10.0)),
        Voice::Pulse { first: false } => Some((77, -12.0)),
        Voice::Kick => Some((36, -2.0)),
        Voice::Rim => Some((37, -6.0)),
        Voice::Hat => Some((42, -8.0)),
        Voice::Bass { .. } => None,
    }
}

/// The bytes of a MIDI file of format 1: tempo and chord names, bass, drums. Time 0 is the start of
/// the count-in.
///
/// # Errors
/// Where the file cannot be put together, which its own limits on size alone would cause.
pub fn midi(plan: &Plan, hits: &[Hit], tuning: &Tuning) -> Result<Vec<u8>, String> {
    let names = chord_names(plan, tuning);
    let smf = Smf {
        header: Header::new(Format::Parallel, Timing::Metrical(u15::new(TICKS))),
        tracks: vec![
            conductor(plan, &names),
            notes(plan, hits, b"bass", BASS_CHANNEL, |voice| match voice {
                Voice::Bass { midi, .. } => Some((midi, 0.0)),
                _ => None,
            }),
            notes(plan, hits, b"drums", DRUM_CHANNEL, drum_key),
        ],
    };
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes)
        .map_err(|error| error.to_string())?;
    Ok(bytes)
}

fn chord_names(plan: &Plan, tuning: &Tuning) -> Vec<(f64, String)> {
    let name = |placed: &super::Placed| {
        let chord = placed.chord?;
        let sounding = if tuning.capo == 0 {
            chord
        } else {
            chord.transposed(tuning.capo)
        };
        Some((plan.beat_of(placed), sounding.to_string()))
    };
    plan.placed.iter().filter_map(name).collect()
}

/// Ticks from the start of the count-in.
fn ticks(plan: &Plan, beat: f64) -> u32 {
    ((beat + f64::from(plan.grid.count_in)) * f64::from(TICKS))
        .round()
        .max(0.0) as u32
}

/// Puts events at ticks into a track's order.
fn track(mut events: Vec<(u32, TrackEventKind<'_>)>) -> Track<'_> {
    events.sort_by_key(|(tick, _)| *tick);
    let mut before = 0;
    let mut track: Track = (events.into_iter())
        .map(|(tick, kind)| {
            let delta = u28::new(tick - before);
            before = tick;
            TrackEvent { delta, kind }
        })
        .collect();
    track.push(TrackEvent {
        delta: u28::new(0),
        kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
    });
    track
}

/// Tempo, time signature and the chords' names as markers. On a ramp every part of a beat has its own
/// tempo, chosen so that what was rounded away before is made up for.
fn conductor<'a>(plan: &Plan, names: &'a [(f64, String)]) -> Track<'a> {
    let grid = &plan.grid;
    let mut events = vec![
        (
            0,
            TrackEventKind::Meta(MetaMessage::TrackName(b"tempo and chords")),
        ),
        // Numerator, quarters (2 to the power of 2), clocks a click, 32nds a quarter.
        (
            0,
            TrackEventKind::Meta(MetaMessage::TimeSignature(grid.beats as u8, 2, 24, 8)),
        ),
    ];
    let tempo = |us: f64| TrackEventKind::Meta(MetaMessage::Tempo(u24::new(us.round() as u32)));
    let steps = match grid.is_steady() {
        true => 0,
        false => grid.bars as u32 * grid.beats * TEMPO_STEPS,
    };
    events.push((0, tempo(60e6 / grid.tempo_bpm(0.0))));
    let step = 1.0 / f64::from(TEMPO_STEPS);
    let mut elapsed_us = grid.seconds(0.0) * 1e6;
    for index in 0..steps {
        let beat = f64::from(index) * step;
        let us = (grid.seconds(beat + step) * 1e6 - elapsed_us) / step;
        elapsed_us += us.round() * step;
        events.push((ticks(plan, beat), tempo(us)));
    }
    for (beat, name) in names {
        let marker = MetaMessage::Marker(name.as_bytes());
        events.push((ticks(plan, *beat), TrackEventKind::Meta(marker)));
    }
    track(events)
}

/// The notes of one channel.
fn notes<'a>(
    plan: &Plan,
    hits: &[Hit],
    name: &'a [u8],
    channel: u8,
    key_of: fn(Voice) -> Option<(u8, f64)>,
) -> Track<'a> {
    let message = |message| TrackEventKind::Midi {
        channel: u4::new(channel),
        message,
    };
    let mut events = vec![(0, TrackEventKind::Meta(MetaMessage::TrackName(name)))];
    if channel == BASS_CHANNEL {
        let program = u7::new(BASS_PROGRAM);
        events.push((0, message(MidiMessage::ProgramChange { program })));
    }
    let mut sounding = Vec::new();
    for hit in hits {
        let Some((key, level_db)) = key_of(hit.voice) else {
            continue;
        };
        let velocity = (VELOCITY + VELOCITY_PER_DB * (level_db + hit.level_db)).clamp(1.0, 127.0);
        let (key, vel) = (u7::new(key), u7::new(velocity as u8));
        let on = ticks(plan, hit.beat);
        let off = ticks(plan, hit.beat + hit.beats).max(on + 1);
        sounding.push((on, message(MidiMessage::NoteOn { key, vel })));
        // Ends come before beginnings on the same tick.
        events.push((
            off,
            message(MidiMessage::NoteOff {
                key,
                vel: u7::new(0),
            }),
        ));
    }
    events.extend(sounding);
    track(events)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progression::backing::{EVEN, Feel, Style, Timing as Pace, arrangement};
    use crate::progression::parse::Progression;

    fn made(from_bpm: f64, to_bpm: f64) -> (Plan, Vec<Hit>, Vec<u8>) {
        let pace = Pace {
            from_bpm,
            to_bpm,
            beats: 4,
            bars_each: 1,
            loops: 4,
            count_in_bars: 1,
        };
        let plan = Plan::new(&Progression::read("F Bb C Dm").unwrap(), &pace).unwrap();
        let style = Style {
            feel: Feel::Eighths,
            swing: EVEN,
        };
        let hits = arrangement(&plan, &style, &Tuning::default());
        let bytes = midi(&plan, &hits, &Tuning::default()).unwrap();
        (plan, hits, bytes)
    }

    /// Seconds of every note's beginning, read back with the file's own tempos.
    fn beginnings(bytes: &[u8]) -> Vec<(f64, u8)> {
        let smf = Smf::parse(bytes).unwrap();
        let mut tempos: Vec<(u32, u32)> = Vec::new();
        let mut tick = 0;
        for event in &smf.tracks[0] {
            tick += event.delta.as_int();
            if let TrackEventKind::Meta(MetaMessage::Tempo(us)) = event.kind {
                tempos.push((tick, us.as_int()));
            }
        }
        let seconds = |tick: u32| {
            let mut total = 0.0;
            for (i, &(from, us)) in tempos.iter().enumerate() {
                let to = tempos.get(i + 1).map_or(u32::MAX, |next| next.0).min(tick);
                total +=
                    f64::from(to.saturating_sub(from)) / f64::from(TICKS) * f64::from(us) / 1e6;
            }
            total
        };
        let mut found = Vec::new();
        for track in &smf.tracks[1..] {
            let mut tick = 0;
            for event in track {
                tick += event.delta.as_int();
                if let TrackEventKind::Midi {
                    message: MidiMessage::NoteOn { key, .. },
                    ..
                } = event.kind
                {
                    found.push((seconds(tick), key.as_int()));
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    }

    #[test]
    fn every_note_comes_when_the_grid_says_on_a_ramp_too() {
        for (from, to) in [(72.0, 72.0), (77.0, 77.0), (60.0, 140.0), (200.0, 40.0)] {
            let (plan, hits, bytes) = made(from, to);
            let mut wanted: Vec<f64> = hits.iter().map(|h| plan.grid.seconds(h.beat)).collect();
            wanted.sort_by(f64::total_cmp);
            let found = beginnings(&bytes);
            assert_eq!(found.len(), wanted.len());
            for ((at, _), wanted) in found.iter().zip(&wanted) {
                // What is left of a ramp within a part of a beat, and a tempo's rounding.
                assert!((at - wanted).abs() < 0.5e-3, "{from} {to}: {at} {wanted}");
            }
        }
    }

    #[test]
    fn chords_stand_as_markers() {
        let (.., bytes) = made(72.0, 72.0);
        let smf = Smf::parse(&bytes).unwrap();
        let markers: Vec<&[u8]> = (smf.tracks[0].iter())
            .filter_map(|event| match event.kind {
                TrackEventKind::Meta(MetaMessage::Marker(name)) => Some(name),
                _ => None,
            })
            .take(4)
            .collect();
        assert_eq!(markers, [b"F".as_slice(), b"Bb", b"C", b"Dm"]);
    }
}
