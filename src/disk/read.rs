//! Reading what people and other programs have put there.

use std::fs::{self, File};
use std::io::Read;
use std::path::Path;

use super::DiskError;
use super::place::is_open_stream;

/// Makes sure that `path` is a plain file, or a stream that this program was started with: opening a pipe waits
/// for its writer, and a device may never end.
///
/// # Errors
/// [`DiskError::Missing`], [`DiskError::Folder`], [`DiskError::Device`], [`DiskError::Unreadable`].
pub fn check_plain(path: &Path) -> Result<(), DiskError> {
    if is_open_stream(path) {
        return Ok(());
    }
    let about = fs::metadata(path).map_err(|why| DiskError::reading(path, why))?;
    match about {
        about if about.is_file() => Ok(()),
        about if about.is_dir() => Err(DiskError::Folder { path: path.into() }),
        _ => Err(DiskError::Device { path: path.into() }),
    }
}

/// Reads a text of at most `most` bytes, without the mark that some editors put before it.
///
/// # Errors
/// As [`check_plain`]; [`DiskError::TooLong`], [`DiskError::NoText`].
pub fn read_text(path: &Path, most: u64) -> Result<String, DiskError> {
    check_plain(path)?;
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(|why| DiskError::reading(path, why))?;
    let path = path.to_owned();
    if bytes.len() as u64 > most {
        return Err(DiskError::TooLong { path, most });
    }
    let mut text = String::from_utf8(bytes).map_err(|_| DiskError::NoText { path })?;
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_read_to_its_limit_and_without_its_mark() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("text");
        fs::write(&path, "\u{feff}F Bb").unwrap();
        assert_eq!(read_text(&path, 7).unwrap(), "F Bb");
        assert!(matches!(
            read_text(&path, 6),
            Err(DiskError::TooLong { most: 6, .. })
        ));
        fs::write(&path, [0xff, 0xfe]).unwrap();
        assert!(matches!(read_text(&path, 6), Err(DiskError::NoText { .. })));
    }

    #[test]
    fn what_is_no_file_is_not_opened() {
        let folder = tempfile::tempdir().unwrap();
        let missing = read_text(&folder.path().join("none"), 6);
        assert!(matches!(missing, Err(DiskError::Missing { .. })));
        let as_text = read_text(folder.path(), 6);
        assert!(matches!(as_text, Err(DiskError::Folder { .. })));
        #[cfg(unix)]
        assert!(matches!(
            read_text(Path::new("/dev/zero"), 6),
            Err(DiskError::Device { .. })
        ));
    }
}
