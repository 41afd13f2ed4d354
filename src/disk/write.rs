//! Writing a file beside the old one and putting it in its place. `tempfile` does that on every system, and takes
//! away what is half written.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, BufWriter, Cursor, Seek, Write};
use std::path::Path;

use super::DiskError;
use super::place::{Place, place};

/// Channel that a file is written through.
pub trait WriteSeek: Write + Seek {}

impl<T: Write + Seek> WriteSeek for T {}

/// Writes what `fill` gives. Until the whole new file is on the disk the old one stays; an old file keeps its
/// permissions, and a link to it stays a link. A pipe, a device and this program's own streams are written straight.
///
/// # Errors
/// [`DiskError::Unwritable`]; the old file is then as it was, and nothing lies beside it.
pub fn write(
    path: &Path,
    fill: impl FnOnce(&mut dyn WriteSeek) -> io::Result<()>,
) -> Result<(), DiskError> {
    let written = place(path).and_then(|place| match place {
        Place::File(path, old) => replace(&path, old, fill),
        Place::Stream(path) => straight(&path, fill),
    });
    written.map_err(|why| DiskError::Unwritable {
        path: path.to_owned(),
        why,
    })
}

/// Writes as [`write`] does, with all the bytes at hand.
///
/// # Errors
/// As [`write`].
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), DiskError> {
    write(path, |out| out.write_all(bytes))
}

fn replace(
    path: &Path,
    old: Option<Metadata>,
    fill: impl FnOnce(&mut dyn WriteSeek) -> io::Result<()>,
) -> io::Result<()> {
    if old.is_some() {
        // What may not be changed may not be replaced either.
        OpenOptions::new().write(true).open(path)?;
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let new = tempfile::Builder::new()
        .prefix(".ringtrue-")
        // No ending by which a folder of takes or of guitars is read.
        .suffix(".part")
        .make_in(folder, |path| {
            // With the permissions that any new file gets here.
            OpenOptions::new().write(true).create_new(true).open(path)
        })?;
    let mut out = BufWriter::new(new.as_file());
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    if let Some(old) = old {
        keep_owner(new.as_file(), &old);
        new.as_file().set_permissions(old.permissions())?;
    }
    // Else a power cut might leave the new name with nothing behind it.
    new.as_file().sync_all()?;
    new.persist(path).map_err(|error| error.error)?;
    Ok(())
}

/// Gives the new file to whom the old one belongs, where that is allowed.
#[cfg(unix)]
fn keep_owner(new: &File, old: &Metadata) {
    use std::os::unix::fs::{MetadataExt, fchown};
    let _ = fchown(new, Some(old.uid()), Some(old.gid()));
}

#[cfg(not(unix))]
fn keep_owner(_new: &File, _old: &Metadata) {}

/// Nothing can be taken back from a stream, so all is made first.
fn straight(
    path: &Path,
    fill: impl FnOnce(&mut dyn WriteSeek) -> io::Result<()>,
) -> io::Result<()> {
    let mut made = Cursor::new(Vec::new());
    fill(&mut made)?;
    let is_own = ["/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"].map(Path::new);
    if is_own.contains(&path) {
        // Opened anew, a file behind it would be written from its beginning.
        let mut out = io::stdout().lock();
        out.write_all(made.get_ref())?;
        return out.flush();
    }
    let mut out = OpenOptions::new().append(true).open(path)?;
    out.write_all(made.get_ref())
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::io::SeekFrom;

    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_is_made_and_replaced_and_nothing_lies_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page");
        write_bytes(&path, b"old").unwrap();
        write(&path, |out| {
            assert_eq!(fs::read(&path)?, b"old");
            out.write_all(b"_ew")?;
            out.seek(SeekFrom::Start(0))?;
            out.write_all(b"n")
        })
        .unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert_eq!(names(folder.path()), ["page"]);
    }

    #[test]
    fn where_writing_fails_the_old_file_stays_and_nothing_lies_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page");
        fs::write(&path, "old").unwrap();
        let failed = write(&path, |out| {
            out.write_all(b"half")?;
            Err(io::ErrorKind::StorageFull.into())
        });
        let said = failed.unwrap_err().to_string();
        assert!(said.contains("page: cannot be written"), "{said}");
        assert!(said.contains("make room"), "{said}");
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["page"]);
        let nowhere = write_bytes(&folder.path().join("no/page"), b"new").unwrap_err();
        assert!(nowhere.to_string().contains("make its folder"), "{nowhere}");
        let as_file = write_bytes(folder.path(), b"new").unwrap_err();
        assert!(as_file.to_string().contains("name a file in"), "{as_file}");
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("deep")).unwrap();
        fs::write(at("deep/page"), "old").unwrap();
        fs::set_permissions(at("deep/page"), fs::Permissions::from_mode(0o640)).unwrap();
        symlink("deep/page", at("link")).unwrap();
        symlink("deep/other", at("to new")).unwrap();
        write_bytes(&at("link"), b"new").unwrap();
        write_bytes(&at("to new"), b"new").unwrap();
        assert_eq!(fs::read_link(at("link")).unwrap(), Path::new("deep/page"));
        assert!(at("to new").is_symlink());
        for name in ["deep/page", "deep/other"] {
            assert_eq!(fs::read(at(name)).unwrap(), b"new");
        }
        let mode = |name: &str| at(name).metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode("deep/page"), 0o640);
        // As any new file.
        fs::write(at("plain"), "").unwrap();
        assert_eq!(mode("deep/other"), mode("plain"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_straight() {
        write_bytes(Path::new("/dev/null"), b"gone").unwrap();
        let about = fs::metadata("/dev/null").unwrap();
        assert!(!about.is_file());
        #[cfg(target_os = "linux")]
        {
            let full = write_bytes(Path::new("/dev/full"), b"gone").unwrap_err();
            assert!(full.to_string().contains("make room"), "{full}");
        }
    }
}
