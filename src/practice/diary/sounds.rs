//! The folder of sounds beside a diary.
//!
//! Sounds lie beside `x.sqlite` in `x.sqlite-sounds`; those in `x-sounds`, as it was, are still found. A take's
//! sound is a regular file in that folder, never a link.

use std::ffi::OsStr;
use std::fs::{self, Metadata};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags};

use super::entry::is_bare_name;
use super::path::{uri_path, with_ending};
use super::schema;

const ENDING: &str = "-sounds";

/// The folder that sounds are kept in: by the diary's whole name, so that each diary has its own.
pub(super) fn folder(diary: &Path) -> PathBuf {
    with_ending(diary, ENDING)
}

/// The folder by the name without its ending, which `x.sqlite` and `x.db` once shared.
fn shared_folder(diary: &Path) -> PathBuf {
    let mut name = diary.file_stem().unwrap_or_default().to_owned();
    name.push(ENDING);
    diary.with_file_name(name)
}

/// Finds a sound of the diary. Only names, no links, only plain files: nothing outside the folders is ever
/// touched.
pub(super) fn find(diary: &Path, file: &str) -> Option<PathBuf> {
    let (own, shared) = (folder(diary), shared_folder(diary));
    let is_elsewhere = shared.join(file).exists() && !own.join(file).exists();
    let folder = if is_elsewhere { shared } else { own };
    let path = folder.join(file);
    let is_link = |about: Metadata| about.file_type().is_symlink();
    let own = is_bare_name(file)
        && !folder.symlink_metadata().is_ok_and(is_link)
        && path
            .symlink_metadata()
            .map_or(true, |about| about.is_file());
    own.then_some(path)
}

/// Removes a sound that the diary has forgotten, unless another diary has it.
pub(super) fn remove(diary: &Path, file: &str) {
    let Some(sound) = find(diary, file) else {
        return;
    };
    if !others(diary, sound.parent()).any(|other| may_have(&other, file)) {
        let _ = fs::remove_file(sound);
    }
}

/// The files beside a diary that keep their sounds in the same folder, if they are diaries.
fn others(diary: &Path, sounds: Option<&Path>) -> impl Iterator<Item = PathBuf> {
    let beside = match diary.parent() {
        Some(beside) if !beside.as_os_str().is_empty() => beside,
        _ => Path::new("."),
    };
    let own_name = diary.file_name().map(OsStr::to_owned);
    let sounds = sounds.and_then(Path::file_name).map(OsStr::to_owned);
    let files = fs::read_dir(beside).into_iter().flatten().flatten();
    files.map(|file| file.path()).filter(move |path| {
        let uses = [folder(path), shared_folder(path)];
        path.file_name() != own_name.as_deref()
            && path.is_file()
            && uses
                .iter()
                .any(|used| used.file_name() == sounds.as_deref())
    })
}

/// Whether a file is a diary that has this sound; a diary that cannot be read may have it.
fn may_have(other: &Path, file: &str) -> bool {
    let ask = |uri: &str| -> rusqlite::Result<bool> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
        let diary = Connection::open_with_flags(uri, flags)?;
        // Empty ones have no form: the journals of diaries are among them.
        if schema::is_foreign(&diary)? || schema::form(&diary)? == 0 {
            return Ok(false);
        }
        diary.query_row(
            "SELECT count(*) > 0 FROM take WHERE sound = ?",
            [file],
            |row| row.get(0),
        )
    };
    let path = uri_path(other);
    // As where a diary is opened that can only be read.
    let answer = ask(&format!("file:{path}")).or_else(|_| ask(&format!("file:{path}?immutable=1")));
    match answer {
        Ok(has) => has,
        Err(error) => error.sqlite_error_code() != Some(rusqlite::ErrorCode::NotADatabase),
    }
}
