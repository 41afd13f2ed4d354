//! Made-up takes of a diary, as many as are wanted.

use std::io::Write;

use ringtrue::fretboard::{Frets, STRINGS};
use ringtrue::practice::diary::Entry;
use ringtrue::verdict::Verdict;

/// One take as a line of the diary's export.
const LINE: &str = r#"{"at":"2026-01-01T18:00:00Z","guitar":"the old one","lesson":"Evening",
"began":"2026-01-01T17:55:00Z","step":1,"exercise":"play","stage":null,"chord":"F","shape":"E shape","fret":1,
"frets":"133211","clean":true,"from":"x35553","gap_s":0.12,"off_ms":12.5,"tempo_bpm":72.0,"manner":"strummed",
"tuning_cents":-3.5,"warnings":[],"causes":[],"strings":[
{"string":6,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.98,"confidence":0.98,"cents":1.5,"reason":null},
{"string":5,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.97,"confidence":0.97,"cents":0.5,"reason":null},
{"string":4,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.99,"cents":-1.0,"reason":null},
{"string":3,"expected_fret":2,"verdict":"clean","heard_fret":null,"rings":0.98,"confidence":0.98,"cents":2.0,"reason":null},
{"string":2,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.98,"confidence":0.98,"cents":null,"reason":null},
{"string":1,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.98,"confidence":0.98,"cents":null,"reason":null}],
"program":"0.1.0","model":"deadbeef","sound":null}"#;

/// A take that an export could hold.
pub fn one() -> Entry {
    Entry::from_json(LINE).expect("an entry")
}

/// Writes so many takes, ten seconds apart, of four chords, every fifth with a dead string, an eighth played along.
pub fn write(out: &mut dyn Write, count: usize) {
    let first = one();
    let chords: [(&str, Frets); 4] = [
        ("F", "133211"),
        ("Bb", "x13331"),
        ("C", "x35553"),
        ("Dm", "x57765"),
    ]
    .map(|(name, frets)| (name, frets.parse().expect("frets")));
    for index in 0..count {
        let (name, frets) = chords[index % chords.len()];
        let mut take = first.clone();
        take.at = first.at + std::time::Duration::from_secs(10 * index as u64);
        take.began = Some(take.at);
        take.chord = Some(name.to_owned());
        take.frets = frets;
        take.from = Some(chords[(index + 3) % chords.len()].1);
        for string in 0..STRINGS {
            take.strings[string].expected_fret = frets.0[string];
        }
        if index % 5 == 0 {
            take.clean = Some(false);
            take.causes = vec!["barre-slack".to_owned()];
            take.strings[1 + index / 5 % 5].verdict = Verdict::Muted;
        }
        if index % 8 != 0 {
            (take.off_ms, take.tempo_bpm) = (None, None);
        }
        serde_json::to_writer(&mut *out, &take).expect("a line");
        out.write_all(b"\n").expect("a line");
    }
}
