//! Places that a name leads to.

use std::fs::{self, Metadata};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use super::DiskError;
use crate::words;

/// Links that are followed one after another, as many as Linux follows.
const MOST_LINKS: usize = 40;

/// Thing that stands where a name leads.
pub(super) enum Place {
    /// A file with what is known of it, or nothing yet; the path is no link.
    File(PathBuf, Option<Metadata>),
    /// A stream that this program was started with, a pipe or a device.
    Stream(PathBuf),
}

/// Follows links to where a file is or would be.
pub(super) fn place(path: &Path) -> io::Result<Place> {
    let mut here = path.to_owned();
    for _ in 0..MOST_LINKS {
        if is_open_stream(&here) {
            return Ok(Place::Stream(here));
        }
        match fs::symlink_metadata(&here) {
            Ok(about) if about.is_symlink() => {
                let to = fs::read_link(&here)?;
                here = here.parent().unwrap_or(Path::new("")).join(to);
            }
            Ok(about) if about.is_dir() => return Err(ErrorKind::IsADirectory.into()),
            Ok(about) if about.is_file() => return Ok(Place::File(here, Some(about))),
            Ok(_) => return Ok(Place::Stream(here)),
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Ok(Place::File(here, None));
            }
            Err(error) => return Err(error),
        }
    }
    Err(io::Error::other(words::files::LINKS_IN_A_CIRCLE))
}

/// Tells whether a name stands for a stream that is open already, whatever kind of file is behind it.
pub(super) fn is_open_stream(path: &Path) -> bool {
    let streams = ["/dev/fd", "/dev/stdin", "/dev/stdout", "/dev/stderr"];
    path.starts_with("/proc") || streams.iter().any(|stream| path.starts_with(stream))
}

/// What tells whether two names lead to one file.
struct Identity {
    /// Free of links.
    path: PathBuf,
    /// Device and number on it, of a file that is there, where the system has such numbers.
    number: Option<(u64, u64)>,
}

impl Identity {
    /// `None` for what cannot be lost by writing: streams, folders and names that lead nowhere.
    fn of(path: &Path) -> Option<Identity> {
        let Ok(Place::File(path, about)) = place(path) else {
            return None;
        };
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        Some(Identity {
            path: folder.canonicalize().ok()?.join(path.file_name()?),
            number: about.as_ref().and_then(number),
        })
    }

    fn is(&self, other: &Identity) -> bool {
        self.path == other.path || (self.number.is_some() && self.number == other.number)
    }
}

#[cfg(unix)]
fn number(about: &Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    Some((about.dev(), about.ino()))
}

#[cfg(not(unix))]
fn number(_about: &Metadata) -> Option<(u64, u64)> {
    None
}

/// Tells whether two names lead to one file, through links too; they need not exist.
pub fn same_file(one: &Path, other: &Path) -> bool {
    match (Identity::of(one), Identity::of(other)) {
        (Some(one), Some(other)) => one.is(&other),
        _ => false,
    }
}

/// Refuses an output that is one of the inputs, through links too. To be asked before anything is computed.
///
/// # Errors
/// [`DiskError::IsRead`].
pub fn keep_apart<I: AsRef<Path>>(
    output: &Path,
    inputs: impl IntoIterator<Item = I>,
) -> Result<(), DiskError> {
    let Some(written) = Identity::of(output) else {
        return Ok(());
    };
    for input in inputs {
        let input = input.as_ref();
        if Identity::of(input).is_some_and(|read| read.is(&written)) {
            return Err(DiskError::IsRead {
                output: output.to_owned(),
                input: input.to_owned(),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_file_is_known_under_all_its_names() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("deep")).unwrap();
        fs::write(at("a"), "a").unwrap();
        fs::write(at("b"), "a").unwrap();
        assert!(same_file(&at("a"), &at("deep/../a")));
        assert!(!same_file(&at("a"), &at("b")));
        // A name that nothing has yet.
        assert!(same_file(&at("new"), &at("deep/../new")));
        assert!(!same_file(&at("new"), &at("deep/new")));
        assert!(keep_apart(&at("a"), [at("b"), at("new")]).is_ok());
        let said = keep_apart(&at("a"), [at("b"), at("deep/../a")]).unwrap_err();
        assert!(said.to_string().contains("name another file"), "{said}");
    }

    #[cfg(unix)]
    #[test]
    fn links_of_both_kinds_lead_to_their_file() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a"), "a").unwrap();
        fs::hard_link(at("a"), at("hard")).unwrap();
        symlink("a", at("soft")).unwrap();
        symlink(at("soft"), at("softer")).unwrap();
        symlink("new", at("to new")).unwrap();
        symlink("round", at("round")).unwrap();
        for name in ["hard", "soft", "softer"] {
            assert!(same_file(&at("a"), &at(name)), "{name}");
        }
        assert!(same_file(&at("new"), &at("to new")));
        assert!(!same_file(&at("round"), &at("round")));
        // Nothing is lost by writing on a stream that is read.
        assert!(!same_file(
            Path::new("/dev/stdout"),
            Path::new("/dev/stdout")
        ));
    }
}
