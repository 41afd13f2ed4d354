//! Help of `ringtrue backing`.

pub const TEMPO: &str = "Beats a minute, from 40 to 200";
pub const TO_TEMPO: &str = "Tempo at the end, reached evenly";
pub const BEATS: &str = "Beats of a bar";
pub const BARS_EACH: &str = "Bars that each chord of a list takes";
pub const LOOPS: &str = "Times that the whole progression is played";
pub const COUNT_IN: &str = "Bars of count-in";
pub const FEEL: &str = "What the band plays: whole (notes), quarters, eighths or shuffle";
pub const SWING: &str =
    "Where the second eighth of a beat comes, in percent of the beat: 50 even, 67 a shuffle";
pub const ABOUT: &str = "Make a backing to play along with: bass, pulse and light drums, no guitar";
pub const LONG_ABOUT: &str = "\
Make a backing to play along with: bass, pulse and light drums, no guitar

It is written to a sound file (--out) or a MIDI file (--midi). Without both it is played aloud.";
pub const AFTER: &str = "\
Exit status:
  0  it was made, or played
  2  it was not: an argument is wrong, a file cannot be written, or there is no
     loudspeaker";
pub const OUT: &str = "Sound file to write, WAV";
pub const MIDI: &str = "MIDI file to write";
pub const VOLUME: &str = "Volume of the backing aloud in dB, 0 as loud as a file";
