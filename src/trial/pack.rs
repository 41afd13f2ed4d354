//! A labelled set as one file to send, with nothing in it that names a person but what its table says in words: sounds
//! are written anew under numbers, without tags, and the archive has neither owners nor dates.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Component, Path, PathBuf};

use tar::{Archive, Builder, EntryType, Header};
use thiserror::Error;

use super::begun::About;
use super::set::{LONGEST_S, MOST_BYTES, TABLE, table_of};
use super::{LabelledTake, Set};
use crate::audio::{AudioError, read_all};
use crate::disk::{self, DiskError};
use crate::fretboard::{ChordName, quoted};
use crate::words;
use crate::words::foreign::shown;

/// Folder within the archive.
const FOLDER: &str = "labelled-set";
/// What sounds are written with: 16 bit, whose noise lies below that of any room.
const BITS: u16 = 16;
const FULL_SCALE: f32 = 32_768.0;
/// No archive is longer, in bytes: five hours of sound, a choice.
const MOST_ARCHIVE_BYTES: u64 = 2_000_000_000;
/// No archive holds more files. A choice.
const MOST_FILES: usize = 10_000;

impl About {
    fn of(take: &LabelledTake) -> About {
        About {
            guitar: take.guitar.clone(),
            microphone: take.microphone.clone(),
            licence: take.licence.clone(),
        }
    }
}

/// The words of all takes, each once.
pub fn words_of(rows: &[LabelledTake]) -> Vec<About> {
    let words: BTreeSet<About> = rows.iter().map(About::of).collect();
    words.into_iter().collect()
}

/// Reason why a set was not packed, or a packed one cannot be read.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PackError {
    /// The file cannot be read or written.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// A sound cannot be read any more.
    #[error(transparent)]
    Sound(#[from] AudioError),
    /// The file is no packed set.
    #[error("{}", words::labelled::no_pack(path, why))]
    NoPack {
        /// The file, as it is shown.
        path: String,
        /// Fault of it, in words.
        why: String,
    },
}

/// Writes a set into the file `out`, its takes in their order with `rows` for its table: the set's own rows, with
/// other words where the player wishes. Gives the number of bytes.
///
/// # Errors
/// A sound that cannot be read, or a file that cannot be written; an old file is then as it was.
pub fn pack(set: &Set, rows: &[LabelledTake], out: &Path) -> Result<u64, PackError> {
    let mut trouble = None;
    let written = disk::write(out, |sink| {
        fill(set, rows, sink).map_err(|error| match error {
            PackError::Disk(DiskError::Unwritable { why, .. }) => why,
            error => {
                let said = io::Error::other(error.to_string());
                trouble = Some(error);
                said
            }
        })
    });
    match trouble {
        Some(error) => Err(error),
        None => {
            written?;
            Ok(out.metadata().map_or(0, |about| about.len()))
        }
    }
}

fn fill(set: &Set, rows: &[LabelledTake], sink: &mut dyn Write) -> Result<(), PackError> {
    let unwritable = |why: io::Error| {
        PackError::Disk(DiskError::Unwritable {
            path: PathBuf::new(),
            why,
        })
    };
    let mut archive = Builder::new(sink);
    let mut names: BTreeMap<&str, (String, u32)> = BTreeMap::new();
    let mut packed = Vec::new();
    for row in rows {
        if !names.contains_key(row.file.as_str()) {
            let name = format!("{:03}.wav", names.len() + 1);
            let sound = read_all(&set.folder().join(&row.file), LONGEST_S)?;
            let bytes = wav(sound.rate_hz, &sound.samples);
            append(&mut archive, &name, &bytes).map_err(unwritable)?;
            names.insert(&row.file, (name, sound.rate_hz));
        }
        let (name, rate_hz) = &names[row.file.as_str()];
        packed.push(LabelledTake {
            file: name.clone(),
            rate_hz: Some(*rate_hz),
            // Words of another kind were not shown to the player.
            chord: (row.chord.clone()).filter(|chord| chord.parse::<ChordName>().is_ok()),
            ..row.clone()
        });
    }
    let table = table_of(&packed).map_err(unwritable)?;
    append(&mut archive, TABLE, &table).map_err(unwritable)?;
    archive.finish().map_err(unwritable)
}

/// Adds a file that belongs to nobody and is of no day.
fn append(archive: &mut Builder<&mut dyn Write>, name: &str, bytes: &[u8]) -> io::Result<()> {
    let mut header = Header::new_ustar();
    header.set_entry_type(EntryType::Regular);
    header.set_mode(0o644);
    header.set_uid(0);
    header.set_gid(0);
    header.set_mtime(0);
    header.set_size(bytes.len() as u64);
    archive.append_data(&mut header, format!("{FOLDER}/{name}"), bytes)
}

/// Mono samples as a WAV file of 16 bit, rounded: what was 16 bit before stays as it is.
fn wav(rate_hz: u32, samples: &[f32]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: BITS,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = io::Cursor::new(Vec::new());
    let written = hound::WavWriter::new(&mut file, spec).and_then(|mut wav| {
        for &sample in samples {
            // Beyond full scale `as` gives the nearest number that there is.
            wav.write_sample((sample * FULL_SCALE).round() as i16)?;
        }
        wav.finalize()
    });
    written.expect("a WAV file of at most ten minutes, into memory");
    file.into_inner()
}

/// Unpacks a packed set into `folder`.
///
/// # Errors
/// What [`pack`] would not have written: links, names that lead elsewhere, too many files or too long ones.
pub fn unpack(path: &Path, folder: &Path) -> Result<(), PackError> {
    let no_pack = |why: String| PackError::NoPack {
        path: shown(path),
        why,
    };
    disk::check_plain(path)?;
    let unreadable = |why: io::Error| no_pack(why.to_string());
    let file = File::open(path).map_err(unreadable)?;
    let bytes = file.metadata().map_err(unreadable)?.len();
    if bytes > MOST_ARCHIVE_BYTES {
        return Err(no_pack(words::labelled::too_many_bytes(
            bytes,
            MOST_ARCHIVE_BYTES,
        )));
    }
    let mut archive = Archive::new(file);
    let mut files = 0;
    // Raw: what gives the next entry another name or length is refused as an entry of its own.
    for entry in archive.entries().map_err(unreadable)?.raw(true) {
        let mut entry = entry.map_err(unreadable)?;
        let bytes = entry.path_bytes();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let refused = |why: String| no_pack(words::labelled::in_archive(quoted(&text), why));
        if entry.header().entry_type() != EntryType::Regular {
            return Err(refused(words::labelled::NO_PLAIN_FILE.to_owned()));
        }
        let name =
            bare_name(&text).ok_or_else(|| refused(words::labelled::LEADS_ELSEWHERE.to_owned()))?;
        let size = entry.header().entry_size().map_err(unreadable)?;
        if size > MOST_BYTES {
            return Err(refused(words::labelled::too_many_bytes(size, MOST_BYTES)));
        }
        files += 1;
        if files > MOST_FILES {
            return Err(no_pack(words::labelled::too_many_files(MOST_FILES)));
        }
        let to = folder.join(name);
        if to.exists() {
            return Err(refused(words::labelled::THERE_TWICE.to_owned()));
        }
        let mut content = Vec::new();
        entry
            .by_ref()
            .take(MOST_BYTES)
            .read_to_end(&mut content)
            .map_err(unreadable)?;
        if content.len() as u64 != size {
            return Err(refused(words::labelled::IS_CUT.to_owned()));
        }
        disk::write_bytes(&to, &content)?;
    }
    match files {
        0 => Err(no_pack(words::labelled::NO_FILE_IN_IT.to_owned())),
        _ => Ok(()),
    }
}

/// The name of a file in the archive's one folder; `None` where the path is another one.
fn bare_name(path: &str) -> Option<&str> {
    let mut parts = Path::new(path).components();
    let (Some(Component::Normal(folder)), Some(Component::Normal(name)), None) =
        (parts.next(), parts.next(), parts.next())
    else {
        return None;
    };
    let name = name.to_str()?;
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "._-".contains(c);
    let fits = folder == FOLDER && name.chars().all(is_plain) && !name.starts_with('.');
    fits.then_some(name)
}
