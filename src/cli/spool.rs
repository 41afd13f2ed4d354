//! A recording of any length, decoded once into a temporary file without a name and read there by range.

use std::cell::{Cell, RefCell};
use std::env::temp_dir;
use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::Path;

use anyhow::Result;

use crate::audio::{AudioError, Health, Mono, Reader};
use crate::disk::DiskError;
use crate::words;

/// Bytes of a sample.
const BYTES: usize = size_of::<f32>();

/// A recording on the disk. The system takes the file away with it, also where the program is killed.
pub struct Spool {
    /// Samples a second, Hz.
    pub rate_hz: u32,
    /// Findings of the reading about the recording.
    pub health: Health,
    /// The samples, little-endian.
    file: RefCell<File>,
    length: usize,
    /// Why not all could be read again, if so.
    trouble: Cell<Option<io::Error>>,
}

impl Spool {
    /// Decodes a recording of at most `limit_s` seconds.
    ///
    /// # Errors
    /// As [`Reader::open`] and [`Reader::read`]; [`AudioError::TooLong`] as soon as the limit is passed;
    /// [`DiskError::Unwritable`] where there is no space for it.
    pub fn of(path: &Path, limit_s: f64) -> Result<Spool> {
        let mut reader = Reader::open(path)?;
        let most = (limit_s * f64::from(reader.rate_hz())) as usize;
        let mut file = BufWriter::new(tempfile::tempfile().map_err(unwritable)?);
        let (mut block, mut length) = (Vec::new(), 0);
        while reader.read(&mut block)? {
            length += block.len();
            if length > most {
                let path = path.to_owned();
                return Err(AudioError::TooLong { path, limit_s }.into());
            }
            for sample in &block {
                file.write_all(&sample.to_le_bytes()).map_err(unwritable)?;
            }
        }
        let file = file
            .into_inner()
            .map_err(|error| unwritable(error.into_error()))?;
        Ok(Spool {
            rate_hz: reader.rate_hz(),
            health: reader.health(),
            file: RefCell::new(file),
            length,
            trouble: Cell::default(),
        })
    }

    /// Makes sure that all that was read since was there; silence stood for what was not.
    ///
    /// # Errors
    /// [`DiskError::Unreadable`].
    pub fn check(&self) -> Result<(), DiskError> {
        let path = temp_dir();
        let trouble = self.trouble.take();
        trouble.map_or(Ok(()), |why| Err(DiskError::Unreadable { path, why }))
    }

    fn fill(&self, from: usize, into: &mut [f32]) -> io::Result<()> {
        let mut file = self.file.borrow_mut();
        file.seek(SeekFrom::Start((from * BYTES) as u64))?;
        let mut bytes = vec![0; into.len() * BYTES];
        file.read_exact(&mut bytes)?;
        for (sample, bytes) in into.iter_mut().zip(bytes.as_chunks().0) {
            *sample = f32::from_le_bytes(*bytes);
        }
        Ok(())
    }
}

/// The temporary file could not be written: its folder is named.
fn unwritable(why: io::Error) -> anyhow::Error {
    let path = temp_dir();
    let error = anyhow::Error::from(DiskError::Unwritable { path, why });
    error.context(words::commands::TEMPORARY_FILE)
}

impl Mono for Spool {
    fn len(&self) -> usize {
        self.length
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        let there = self.length.saturating_sub(from).min(into.len());
        let (there, behind) = into.split_at_mut(there);
        behind.fill(0.0);
        if let Err(why) = self.fill(from, there) {
            there.fill(0.0);
            self.trouble.set(Some(why));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::{read_all, write_wav};

    #[test]
    fn a_recording_on_the_disk_is_the_recording_in_memory() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let samples: Vec<f32> = (0..10_000).map(|i| (i % 97) as f32 / 100.0).collect();
        write_wav(&path, 8_000, &samples).unwrap();
        let spool = Spool::of(&path, 2.0).unwrap();
        let whole = read_all(&path, 2.0).unwrap();
        assert_eq!((spool.rate_hz, &spool.health), (8_000, &whole.health));
        assert_eq!(spool.part(0..20_000), whole.samples);
        let mut read = [1.0; 300];
        spool.read(9_900, &mut read);
        assert_eq!(read[..100], whole.samples[9_900..]);
        assert_eq!(read[100..], [0.0; 200]);
        assert!(spool.check().is_ok());
        let too_long = Spool::of(&path, 1.0).err().unwrap().to_string();
        assert!(too_long.contains("longer than 1 s"), "{too_long}");
    }

    #[test]
    fn what_cannot_be_read_again_is_silence_and_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        write_wav(&path, 8_000, &[0.5; 100]).unwrap();
        let spool = Spool::of(&path, 2.0).unwrap();
        spool.file.borrow().set_len(40).unwrap();
        assert_eq!(spool.part(0..100), [0.0; 100]);
        let said = spool.check().unwrap_err().to_string();
        assert!(said.contains("cannot be read"), "{said}");
    }
}
