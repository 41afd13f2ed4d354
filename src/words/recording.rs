//! Sentences on recordings: what cannot be read, and what was not found in them.

use std::fmt::Display;

pub const PIPE_OR_DEVICE: &str = "a pipe or device";
pub const ENDS_BEFORE_FIRST_SAMPLE: &str = "it ends before the first sample";
pub const NO_TRACK: &str = "a file without a track of sound";
pub const NOTHING_DECODED: &str = "no sound in it can be decoded";
pub const GAVE_UP: &str = "the decoder gave it up";
pub const AC3: &str = "AC-3 or AC-4 sound";
pub const MPEG_LAYERS: &str = "MPEG sound of layer 1 or 2";
pub const UNKNOWN_SOUND: &str = "sound of an unknown kind";

pub fn this_form(what: impl Display) -> String {
    format!("this form of sound ({what})")
}

pub const BREAKS_OFF_EARLY: &str = "it breaks off before the first sound";

pub fn parts_missing(what: impl Display) -> String {
    format!("parts of it are missing or wrong ({what})")
}

pub const AIFF: &str = "an AIFF file";
pub const AMR: &str = "AMR sound (a voice memo)";
pub const WMA: &str = "a WMA or ASF file";
pub const MONKEYS_AUDIO: &str = "Monkey's Audio sound";
pub const MIDI: &str = "notes without sound (MIDI)";
pub const ZIP: &str = "an archive (ZIP)";
pub const GZIP: &str = "an archive (gzip)";
pub const RIFF: &str = "an unknown kind of RIFF data";
pub const HEIC: &str = "a picture (HEIC or AVIF)";
pub const OPUS_CHANNELS: &str = "Opus with more than two channels";
pub const OPUS_PACKET: &str = "opus: a damaged packet";
pub const SAMPLES_BEFORE_FORM: &str = "its samples come before the description of their format";

pub fn form_too_short(bytes: impl Display) -> String {
    format!("the description of its format has {bytes} bytes, expected 16 or more")
}

pub const NO_CHANNELS: &str = "its header says 0 channels";

pub fn too_many_channels(channels: impl Display, max_channels: impl Display) -> String {
    format!("a WAV file with {channels} channels (1 to {max_channels} are)")
}

pub fn no_bits(bits: impl Display) -> String {
    format!("its header says {bits} bits a sample")
}

pub fn compressed(code: u16) -> String {
    format!("a WAV file with compressed samples (format {code:#06x})")
}

pub fn folder_not_made(folder: impl Display) -> String {
    format!("{folder}: the folder for takes cannot be made; name another one")
}

pub const NO_NAME_LEFT: &str = "no name is left for a take";

pub fn one_strum(name: impl Display, number: impl Display) -> String {
    format!("{name}: there is one strum, so take {number} was not found; leave --take out")
}

pub fn takes_found(name: impl Display, count: impl Display, number: impl Display) -> String {
    format!("{name}: takes 1 to {count} were found, take {number} was not; name one of them")
}

pub fn nothing_in_what_is_there(damage: impl Display) -> String {
    format!("{damage}; in what is there no strum was found")
}

pub fn breaks_off(name: impl Display) -> String {
    format!(
        "{name}: the file breaks off before its end; what is there was used; for the rest, copy or \
             export it again"
    )
}

pub fn damaged(name: impl Display, lost_s: impl Display) -> String {
    format!(
        "{name}: {lost_s:.1} s of the file are damaged and were left out; copy or export it again"
    )
}

pub fn not_numbers(name: impl Display, samples: impl Display) -> String {
    format!(
        "{name}: {samples} samples are not numbers and were taken as silence; export the file again"
    )
}

pub fn complete_silence(name: impl Display) -> String {
    format!(
        "{name}: complete silence, as from a microphone that is muted or not allowed; \
             switch it on and record again"
    )
}

pub fn hardly_any_sound(name: impl Display) -> String {
    format!(
        "{name}: no strum was found, there is hardly any sound; move the microphone nearer \
             or turn its level up, and record again"
    )
}

pub fn no_strum(name: impl Display) -> String {
    format!(
        "{name}: no strum was found; strum the chord once, let it ring for two seconds, \
             and record again"
    )
}

pub const STRINGS_IN_ORDER: &str = "strings are told from 6 to 1; the next number was";
pub const STRINGS_AT_THEIR_FRETS: &str =
    "each string is told at the fret that frets has for it; those were";

pub fn another_fret(string: impl Display, frets: impl Display) -> String {
    format!("another expected_fret of string {string} than in {frets}")
}

pub const GUITARS_NAME: &str = "the guitar's name";
pub const CHORDS_NAME: &str = "the chord's name";
pub const PIECES_OF_ADVICE: &str = "pieces of advice";
pub const STRINGS_OF_ADVICE: &str = "the strings of advice";

pub fn no_saved_take(name: impl Display) -> String {
    format!(
        "{name}: what check --json prints for one recording was expected; move this file away, \
             or name the chord"
    )
}

pub const SPEEX: &str = "Speex sound";
pub const DTS: &str = "DTS sound";
pub const CAF: &str = "a CAF file";
pub const WAVPACK: &str = "WavPack sound";
pub const PNG: &str = "a picture (PNG)";
pub const JPEG: &str = "a picture (JPEG)";
pub const GIF: &str = "a picture (GIF)";
pub const PDF: &str = "a document (PDF)";
pub const AVI: &str = "a film (AVI)";
pub const UNKNOWN_DATA: &str = "unknown data";
pub const THEORA: &str = "a film (Theora)";
pub const WARNINGS_KIND: &str = "a warning's kind";
pub const STRINGS_NUMBER: &str = "a string's number";

pub fn missing(path: impl Display) -> String {
    format!("{path}: there is no such file; check the name and the folder")
}

pub fn is_folder(path: impl Display) -> String {
    format!("{path}: this is a folder, a recording was expected; name the files in it")
}

pub fn cannot_be_read(path: impl Display, why: impl Display) -> String {
    format!("{path}: cannot be read ({why}); check permissions and the disk")
}

pub fn empty(path: impl Display) -> String {
    format!("{path}: the file is empty (0 bytes); record it or copy it again")
}

pub fn no_recording(path: impl Display, found: impl Display) -> String {
    format!(
        "{path}: expected a recording (WAV, FLAC, MP3, M4A, Vorbis or Opus), but the file holds \
         {found}; name a recording, or save it as WAV"
    )
}

pub fn not_read_here(path: impl Display, found: impl Display) -> String {
    format!(
        "{path}: {found} is not read here; save it as WAV or M4A with a sound editor or converter and \
         try again"
    )
}

pub fn file_damaged(path: impl Display, what: impl Display) -> String {
    format!("{path}: the file is damaged: {what}; export it or copy it again")
}

pub fn no_sound_in_file(path: impl Display) -> String {
    format!("{path}: the file holds no sound (0 samples); record it again")
}

pub fn rate_out_of_range(
    path: impl Display,
    min_rate_hz: impl Display,
    max_rate_hz: impl Display,
    rate_hz: impl Display,
) -> String {
    format!(
        "{path}: expected {min_rate_hz} to {max_rate_hz} samples a second, but the file says {rate_hz}; \
         save it at 44100 or 48000"
    )
}

pub fn too_long(path: impl Display, limit_s: impl Display) -> String {
    format!(
        "{path}: longer than {limit_s:.0} s, the most that is read in one piece; cut it into parts"
    )
}

pub const TEXT: &str = "text";
