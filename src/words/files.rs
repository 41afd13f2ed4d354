//! Sentences on files and folders.

use std::fmt::Display;

pub const MAKE_ITS_FOLDER: &str = "make its folder, or name another place";
pub const NAME_A_FILE: &str = "name a file in that folder";
pub const CHANGE_PERMISSIONS: &str =
    "change the permissions of the file and its folder, or name another place";
pub const MAKE_ROOM: &str = "make room, or name another place";
pub const CHECK_THE_DISK: &str = "check the disk, or name another place";
pub const LINKS_IN_A_CIRCLE: &str = "its links lead round in a circle";

pub fn missing(path: impl Display) -> String {
    format!("{path}: there is no such file; check the name and the folder")
}

pub fn is_folder(path: impl Display) -> String {
    format!("{path}: this is a folder, a file was expected; name a file in it")
}

pub fn is_device(path: impl Display) -> String {
    format!(
        "{path}: this is a pipe or a device, a file was expected; save it as a file and name that"
    )
}

pub fn too_long(path: impl Display, most_kb: impl Display) -> String {
    format!(
        "{path}: longer than {most_kb} kB, the most that is read of such a file; name another file, or \
         cut it"
    )
}

pub fn no_text(path: impl Display) -> String {
    format!("{path}: this is no text in UTF-8; save it as plain text (UTF-8)")
}

pub fn unreadable(path: impl Display, why: impl Display) -> String {
    format!("{path}: cannot be read ({why}); check permissions and the disk")
}

pub fn unwritable(path: impl Display, why: impl Display, way_out: impl Display) -> String {
    format!("{path}: cannot be written ({why}); {way_out}")
}

pub fn is_read_too(output: impl Display, input: impl Display) -> String {
    format!(
        "{output}: this file is to be read too, as {input}, and would be lost; name another file to write"
    )
}
