//! Help of `ringtrue plot`.

pub const ABOUT: &str = "Draw what happened to each string of a take, as PNG or SVG";
pub const LONG_ABOUT: &str = "\
Draw what happened to each string of a take, as PNG or SVG

Name the chord as for check. Without a name the file that listen saved beside
the recording says it; without that file it is the chord that fits best.";
pub const AFTER: &str = "\
Exit status:
  0  the picture was written
  2  it was not: an argument is wrong, the recording holds no take, or a file
     cannot be read or written";
pub const FILE: &str = "Recording: WAV, FLAC, MP3, M4A, Vorbis or Opus in OGG or WebM";
pub const OUT: &str = "Picture to write; its ending, .png or .svg, says what kind of file";
pub const KIND: &str = "What to draw, several with commas between";
pub const TAKE: &str = "Which take of the recording, counted from 1";
pub const AGAINST: &str = "Another recording to set beside this one, or this one again";
pub const AGAINST_TAKE: &str = "Which take of the other recording, counted from 1";
pub const WIDTH: &str = "Width of the picture in pixels, 600 to 3000";
pub const RINGDOWN: &str = "How long each string rings";
pub const SPECTRUM: &str = "Spectrum: what sounds at which pitch, and each string's overtones";
pub const SPECTROGRAM: &str =
    "Spectrogram: all pitches over time, and when the strings were struck";
pub const CHROMA: &str = "Chroma: which notes sound, in whatever octave, and from which string";
pub const ALL: &str = "All four";
