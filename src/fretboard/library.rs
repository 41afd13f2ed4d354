//! Voicings of a chord and a shape, and names of frets.

use super::chord::{ChordName, Quality};
use super::pitch::NoteName;
use super::shapes::{Fingering, MOVABLE, Movable, OPEN, OpenChord, Shape, Use};
use super::{Frets, STRINGS, Tuning, TuningError, string_number};
use crate::words;

/// Highest fret at which the library lists a shape: there the neck repeats, an octave up.
pub const HIGHEST_LISTED: u8 = 12;
/// Strings that a shape must keep when its low ones are left out for another bass: with fewer it
/// is no longer a chord to strum (common practice).
const LEAST_OVER_BASS: usize = 4;

/// One way to play a chord.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Voicing {
    /// Named for what the fingers play above the capo.
    pub chord: ChordName,
    /// `None` for open chords that come from none of the five shapes.
    pub shape: Option<Shape>,
    /// Place of the shape: its lowest fret, where the index finger lies; 0 at the nut.
    pub at: u8,
    /// The string (6 to 1) that sounds the lowest root.
    pub root_string: u8,
    /// Frets of strings 6 to 1, counted from the nut or the capo.
    pub frets: Frets,
    /// The finger that holds each string.
    pub fingering: Fingering,
    /// The string (6 to 1) that this fingering lets go quiet without fault.
    pub may_go_quiet: Option<u8>,
    first_choice: bool,
}

/// One finger across several strings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Barre {
    /// 1 index to 4 little finger.
    pub finger: u8,
    /// Fret that the finger lies across, counted from the nut or the capo.
    pub fret: u8,
    /// String numbers, the lower-sounding end first: 6 to 1, or 5 to 1.
    pub from_string: u8,
    /// String number of the higher-sounding end.
    pub to_string: u8,
}

impl Voicing {
    /// The barres of all fingers, the index finger's first.
    pub fn barres(&self) -> Vec<Barre> {
        (1..=4)
            .filter_map(|finger| {
                let strings: Vec<usize> = (0..STRINGS)
                    .filter(|&i| self.fingering.0[i] == Some(finger))
                    .collect();
                let (&first, &last) = (strings.first()?, strings.last()?);
                (first < last).then_some(Barre {
                    finger,
                    fret: self.frets.0[first]?,
                    from_string: string_number(first),
                    to_string: string_number(last),
                })
            })
            .collect()
    }

    /// The index finger's barre.
    pub fn barre(&self) -> Option<Barre> {
        self.barres().into_iter().find(|barre| barre.finger == 1)
    }

    /// Tells whether the string at `index` (0 = string 6) is held by the index finger's barre alone.
    pub fn held_by_barre_alone(&self, index: usize) -> bool {
        self.barre().is_some() && self.fingering.0[index] == Some(1)
    }

    /// The notes that sound: see [`spelled`].
    pub fn notes(&self, tuning: &Tuning) -> [Option<NoteName>; STRINGS] {
        spelled(&self.frets, &self.chord, tuning)
    }

    /// Gives what a guitarist calls it: `A-minor shape at fret 3`, `open chord`.
    pub fn describe(&self) -> String {
        match self.shape {
            Some(shape) => place_name(shape, self.chord.quality, self.at),
            None => words::guitar::OPEN_CHORD.to_owned(),
        }
    }
}

/// The name of a shape as a guitarist says it: `E shape`, `A-minor shape`, `E7 shape`, `power chord`.
pub fn shape_name(shape: Shape, quality: Quality) -> String {
    match quality {
        Quality::Major => words::guitar::shape(shape),
        Quality::Minor => words::guitar::minor_shape(shape),
        Quality::Power => words::guitar::power_chord(shape),
        other => words::guitar::shape(format!("{shape}{}", other.symbol())),
    }
}

/// A shape and where it stands: `A shape at fret 1`, `E shape, open`.
fn place_name(shape: Shape, quality: Quality, at: u8) -> String {
    match at {
        0 => words::guitar::shape_open(shape_name(shape, quality)),
        at => words::guitar::shape_at_fret(shape_name(shape, quality), at),
    }
}

/// Reason why the library has no such voicing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum VoicingError {
    /// Nothing for this chord in this tuning.
    #[error("{}", words::fretboard::no_shape(chord))]
    Unknown {
        /// The chord that was asked for.
        chord: ChordName,
    },
    /// The chord exists, but not in that shape or at that fret.
    #[error("{}", words::fretboard::no_such_voicing(chord, wanted, known))]
    NoSuch {
        /// The chord that was asked for.
        chord: ChordName,
        /// The shape and the fret that were asked for, in words.
        wanted: String,
        /// The voicings of the chord that there are, in words.
        known: String,
    },
    /// Voicing that runs off the neck.
    #[error(transparent)]
    Tuning(#[from] TuningError),
}

/// Pitch class of a string at a fret, as the fingers name it: without the capo.
fn class(tuning: &Tuning, index: usize, fret: u8) -> u8 {
    ((u16::from(tuning.open[index]) + u16::from(fret)) % 12) as u8
}

/// The notes that frets sound from string 6 to string 1, named as the fingers play them above the
/// capo and spelled as `chord` spells them.
pub fn spelled(frets: &Frets, chord: &ChordName, tuning: &Tuning) -> [Option<NoteName>; STRINGS] {
    let mut notes = [None; STRINGS];
    for (i, fret) in frets.sounding() {
        notes[i] = Some(chord.spell(class(tuning, i, fret)));
    }
    notes
}

/// Whether all strings that these frets use stand as far from each other as in standard tuning.
fn has_standard_intervals(frets: &Frets, tuning: &Tuning) -> bool {
    let mut offsets = frets.sounding().map(|(i, _)| tuning.above_standard(i));
    let first = offsets.next();
    offsets.all(|offset| Some(offset) == first)
}

/// Moves every held string of a movable shape up to `at`.
fn moved(frets: &Frets, at: u8) -> Option<Frets> {
    let highest = frets.highest().checked_add(at)?;
    (highest <= Frets::HIGHEST).then(|| Frets(frets.0.map(|fret| fret.map(|f| f + at))))
}

/// Number of the string that sounds the lowest root of `chord`.
fn root_string(chord: &ChordName, frets: &Frets, tuning: &Tuning) -> Option<u8> {
    frets
        .sounding()
        .find(|&(i, fret)| class(tuning, i, fret) == chord.root.pitch_class())
        .map(|(i, _)| string_number(i))
}

impl Movable {
    /// The root's pitch class with the shape at the nut.
    fn root_at_nut(&self, tuning: &Tuning) -> u8 {
        // The lowest string of every row sounds the root.
        self.frets
            .sounding()
            .next()
            .map_or(0, |(i, fret)| class(tuning, i, fret))
    }

    fn voicing(&self, chord: ChordName, at: u8, tuning: &Tuning) -> Option<Voicing> {
        let frets = moved(&self.frets, at)?;
        tuning.reaches(&frets).ok()?;
        let (fingering, usage) = match at {
            0 => (self.open_fingers, self.open),
            _ => (self.fingers, self.barre),
        };
        Some(Voicing {
            chord,
            shape: Some(self.shape),
            at,
            root_string: root_string(&chord, &frets, tuning)?,
            frets,
            fingering,
            may_go_quiet: self.partial_barre.then_some(1),
            first_choice: usage == Use::First,
        })
    }
}

impl OpenChord {
    /// The chord in this tuning, moved with the strings where all of them are tuned alike.
    fn voicing(&self, tuning: &Tuning) -> Option<Voicing> {
        if !has_standard_intervals(&self.frets, tuning) {
            return None;
        }
        let (first, _) = self.frets.sounding().next()?;
        let up = tuning.above_standard(first).rem_euclid(12) as u8;
        let named: ChordName = self.name.parse().ok()?;
        let chord = if up == 0 { named } else { named.transposed(up) };
        Some(Voicing {
            chord,
            shape: None,
            at: 0,
            root_string: root_string(&chord, &self.frets, tuning)?,
            frets: self.frets,
            fingering: self.fingers,
            may_go_quiet: None,
            first_choice: self.usage == Use::First,
        })
    }
}

/// The frets (up to the end of the neck) at which a movable shape gives a root.
fn places(row: &Movable, root: u8, tuning: &Tuning) -> impl Iterator<Item = u8> + use<> {
    let lowest = (root + 12 - row.root_at_nut(tuning)) % 12;
    (lowest..=Frets::HIGHEST).step_by(12)
}

/// Every voicing of a chord up to the end of the neck, the shapes in the order of their table.
fn everywhere(chord: &ChordName, tuning: &Tuning) -> Vec<Voicing> {
    let plain = ChordName {
        bass: None,
        ..*chord
    };
    let open = OPEN
        .iter()
        .filter_map(|row| row.voicing(tuning))
        .filter(|v| v.chord.sounds_like(chord))
        .map(|v| Voicing { chord: *chord, ..v });
    let movable = MOVABLE
        .iter()
        .filter(|row| row.quality == chord.quality && has_standard_intervals(&row.frets, tuning))
        .flat_map(|row| {
            places(row, chord.root.pitch_class(), tuning)
                .filter_map(move |at| row.voicing(plain, at, tuning))
        })
        .filter_map(|v| over_bass(v, chord, tuning));
    open.chain(movable).collect()
}

/// The voicing as it is for a chord over its root; for one over another of its notes, without the
/// low strings that stand in the way.
fn over_bass(voicing: Voicing, chord: &ChordName, tuning: &Tuning) -> Option<Voicing> {
    if chord.bass.is_none() {
        return Some(voicing);
    }
    let (lowest, _) = voicing
        .frets
        .sounding()
        .find(|&(i, fret)| class(tuning, i, fret) == chord.lowest())?;
    let mut slash = voicing;
    for index in 0..lowest {
        slash.frets.0[index] = None;
        slash.fingering.0[index] = None;
    }
    let complete = chord.pitch_classes().iter().all(|wanted| {
        slash
            .frets
            .sounding()
            .any(|(i, fret)| class(tuning, i, fret) == *wanted)
    });
    slash.chord = *chord;
    slash.root_string = root_string(chord, &slash.frets, tuning)?;
    let enough = slash.frets.sounding().count() >= LEAST_OVER_BASS;
    (complete && enough).then_some(slash)
}

/// Every voicing of a chord that stands at fret 12 or lower, in order up the neck, each fingering
/// on its own. Frets and the chord's name count from the capo. Shapes need strings that stand as
/// far from each other as in standard tuning.
pub fn voicings(chord: &ChordName, tuning: &Tuning) -> Vec<Voicing> {
    let mut voicings = everywhere(chord, tuning);
    voicings.retain(|v| v.at <= HIGHEST_LISTED);
    voicings.sort_by_key(|v| v.at);
    voicings
}

/// The voicing that a chord's name means: the open chord where one is usual, else the lowest usual
/// barre chord on the E or A shape, else the lowest shape; `shape` and `at` narrow the choice.
///
/// # Errors
/// [`VoicingError::Unknown`] where the library has nothing for the chord in this tuning,
/// [`VoicingError::NoSuch`] where it has, but not in that shape or at that fret.
pub fn voicing_for(
    chord: &ChordName,
    shape: Option<Shape>,
    at: Option<u8>,
    tuning: &Tuning,
) -> Result<Voicing, VoicingError> {
    let known = everywhere(chord, tuning);
    if known.is_empty() {
        return Err(VoicingError::Unknown { chord: *chord });
    }
    known
        .iter()
        .filter(|v| shape.is_none_or(|shape| v.shape == Some(shape)))
        .filter(|v| at.is_none_or(|at| v.at == at))
        .min_by_key(|v| (!(v.first_choice && v.at == 0), !v.first_choice, v.at))
        .cloned()
        .ok_or_else(|| VoicingError::NoSuch {
            chord: *chord,
            wanted: wanted(shape, at),
            known: listed(&known),
        })
}

/// The frets of all voicings of a chord that this tuning reaches, each once: the usual one first, then up the neck.
///
/// # Errors
/// As [`voicing_for`]; [`VoicingError::Tuning`] where the usual one runs off the neck.
pub fn frets_of(chord: &ChordName, tuning: &Tuning) -> Result<Vec<Frets>, VoicingError> {
    let usual = voicing_for(chord, None, None, tuning)?.frets;
    tuning.reaches(&usual)?;
    let mut all = vec![usual];
    for other in voicings(chord, tuning) {
        if tuning.reaches(&other.frets).is_ok() && !all.contains(&other.frets) {
            all.push(other.frets);
        }
    }
    Ok(all)
}

/// `in the D shape at fret 3`, as far as each was asked for.
fn wanted(shape: Option<Shape>, at: Option<u8>) -> String {
    let shape = shape.map(words::guitar::in_the_shape);
    let at = at.map(words::guitar::at_fret);
    shape.into_iter().chain(at).collect::<Vec<_>>().join(" ")
}

/// `the A shape at fret 1, the E shape at fret 6`, up to where the neck repeats.
fn listed(known: &[Voicing]) -> String {
    let mut places: Vec<(u8, String)> = known
        .iter()
        .filter(|v| v.at <= HIGHEST_LISTED)
        .map(|v| (v.at, words::guitar::the_voicing(v.describe(), v.frets)))
        .collect();
    places.sort();
    places.dedup();
    let texts: Vec<String> = places.into_iter().map(|(_, text)| text).collect();
    texts.join(", ")
}

/// Every voicing of the library: each open chord, and each shape on every root at fret 0 to 12.
/// No two have the same frets; the usual fingering stands for all.
pub fn all(tuning: &Tuning) -> Vec<Voicing> {
    let movable = MOVABLE
        .iter()
        .filter(|row| has_standard_intervals(&row.frets, tuning))
        .flat_map(|row| {
            (0..=HIGHEST_LISTED).filter_map(move |at| {
                let root = (row.root_at_nut(tuning) + at) % 12;
                row.voicing(ChordName::on(root, row.quality), at, tuning)
            })
        });
    let open = OPEN.iter().filter_map(|row| row.voicing(tuning));
    let mut seen = std::collections::HashSet::new();
    movable
        .chain(open)
        .filter(|v| seen.insert(v.frets))
        .collect()
}

/// The name of a voicing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Named {
    /// The chord that the frets sound.
    pub chord: ChordName,
    /// The movable shape that it is, or is a part of.
    pub shape: Option<Shape>,
    /// Place of that shape: its lowest fret, where the index finger lies; 0 at the nut.
    pub at: Option<u8>,
}

impl Named {
    /// The shape and where it stands, as [`Voicing::describe`] says it.
    pub fn describe(&self) -> Option<String> {
        Some(place_name(self.shape?, self.chord.quality, self.at?))
    }
}

/// Frets, and what they are called where they have a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct NamedFrets {
    /// Frets of strings 6 to 1.
    pub frets: Frets,
    /// The chord that they sound, where it has a name.
    pub chord: Option<ChordName>,
    /// The movable shape that it is, or is a part of.
    pub shape: Option<Shape>,
    /// Place of that shape: its lowest fret, where the index finger lies; 0 at the nut.
    pub at: Option<u8>,
}

impl NamedFrets {
    /// The frets with the name that [`name_voicing`] gives them.
    pub fn of(frets: &Frets, tuning: &Tuning) -> Self {
        let named = name_voicing(frets, tuning);
        NamedFrets {
            frets: *frets,
            chord: named.map(|n| n.chord),
            shape: named.and_then(|n| n.shape),
            at: named.and_then(|n| n.at),
        }
    }
}

impl std::fmt::Display for NamedFrets {
    /// As in a sentence: `C as the A shape at fret 3 (x35553)`, `C as an open chord (x32010)`, `x1x34x`.
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Some(chord) = self.chord else {
            return write!(out, "{}", self.frets);
        };
        let open = self.frets.sounding().any(|(_, fret)| fret == 0);
        match (self.shape, self.at) {
            _ if open => write!(
                out,
                "{}",
                words::guitar::as_an_open_chord(chord, self.frets)
            ),
            (Some(shape), Some(at)) => {
                let place = place_name(shape, chord.quality, at);
                write!(
                    out,
                    "{}",
                    words::guitar::chord_as_place(chord, &place, self.frets)
                )
            }
            _ => write!(out, "{chord} ({})", self.frets),
        }
    }
}

/// Names frets: the chord as the fingers play it above the capo, and the shape where it is one or a
/// part of one. `None` where the notes spell no chord that has a name here.
///
/// The lowest note is the root wherever that makes a chord; else the chord is named over its bass,
/// as in C/G. Seventh chords may lack their fifth.
pub fn name_voicing(frets: &Frets, tuning: &Tuning) -> Option<Named> {
    let classes: Vec<u8> = frets
        .sounding()
        .map(|(i, fret)| class(tuning, i, fret))
        .collect();
    // The lowest note is the one that sounds lowest, which in some tunings is not the first string.
    let (_, bass) = frets
        .sounding()
        .map(|(i, fret)| (tuning.midi(i, fret), class(tuning, i, fret)))
        .min()?;
    let chord = name_notes(&classes, bass)?;
    let movable = MOVABLE
        .iter()
        .filter(|row| row.quality == chord.quality && has_standard_intervals(frets, tuning))
        .filter_map(|row| Some((row, place(row, frets)?)))
        .filter(|(row, at)| (row.root_at_nut(tuning) + at % 12) % 12 == chord.root.pitch_class())
        .min_by_key(|(row, _)| row.frets.sounding().count());
    Some(Named {
        chord,
        shape: movable.map(|(row, _)| row.shape),
        at: movable.map(|(_, at)| at),
    })
}

/// The voicing of the library that has exactly these frets, in its usual fingering.
pub fn voicing_of(frets: &Frets, tuning: &Tuning) -> Option<Voicing> {
    fingerings_of(frets, tuning).into_iter().next()
}

/// The voicings of the library that have exactly these frets, one for each way to finger them, the
/// usual one first.
pub fn fingerings_of(frets: &Frets, tuning: &Tuning) -> Vec<Voicing> {
    let Some(named) = name_voicing(frets, tuning) else {
        return Vec::new();
    };
    let mut known = everywhere(&named.chord, tuning);
    known.retain(|voicing| voicing.frets == *frets);
    known
}

/// The fret at which a movable shape holds every string that these frets sound.
fn place(row: &Movable, frets: &Frets) -> Option<u8> {
    let mut offsets = frets
        .sounding()
        .map(|(i, fret)| row.frets.0[i].and_then(|held| fret.checked_sub(held)));
    let at = offsets.next()??;
    offsets.all(|offset| offset == Some(at)).then_some(at)
}

/// A set of pitch classes, one bit each.
fn set(classes: impl IntoIterator<Item = u8>) -> u16 {
    classes.into_iter().fold(0, |set, c| set | 1 << (c % 12))
}

/// Names the pitch classes of the sounding strings, `bass` being the lowest.
fn name_notes(classes: &[u8], bass: u8) -> Option<ChordName> {
    let sounding = set(classes.iter().copied());
    let upper = sounding & !set([bass]);
    let in_bass_alone = classes.iter().filter(|&&class| class == bass).count() == 1;
    let everything: &[Quality] = &Quality::ALL;
    let triads: &[Quality] = &[Quality::Major, Quality::Minor];
    let find = |qualities: &[Quality], roots: &[u8], tones: fn(Quality, u8) -> u16, notes: u16| {
        qualities.iter().find_map(|&quality| {
            let root = roots.iter().find(|&&root| tones(quality, root) == notes)?;
            let chord = ChordName::on(*root, quality);
            Some(ChordName {
                bass: (*root != bass).then(|| chord.spell(bass)),
                ..chord
            })
        })
    };
    find(everything, &[bass], whole, sounding)
        .or_else(|| find(everything, &[bass], fifthless, sounding))
        // C/D rather than Cadd9/D, where the bass alone is foreign to the triad above it.
        .or_else(|| find(triads, classes, whole, upper).filter(|_| in_bass_alone))
        .or_else(|| find(everything, classes, whole, sounding))
        .or_else(|| find(everything, classes, fifthless, sounding))
        // A fifth over a foreign bass is too little to name.
        .or_else(|| find(everything, classes, whole, upper).filter(|c| c.quality != Quality::Power))
}

/// The pitch classes of a chord.
fn whole(quality: Quality, root: u8) -> u16 {
    set(quality.intervals().map(|interval| root + interval))
}

/// The pitch classes of a chord without its fifth, where it can do without.
fn fifthless(quality: Quality, root: u8) -> u16 {
    let fifth = if quality.fifth_may_be_missing() {
        set([root + 7])
    } else {
        0
    };
    whole(quality, root) & !fifth
}
