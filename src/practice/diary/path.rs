//! Paths of a diary and of what lies beside it.

use std::path::{Path, PathBuf};

/// A path with more after its name.
pub(super) fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// A path as a URI has it: what means something there is escaped.
pub(super) fn uri_path(path: &Path) -> String {
    path.to_string_lossy()
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23")
}
