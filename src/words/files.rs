//! What is said of files and folders.

pub const MAKE_ITS_FOLDER: &str = "make its folder, or name another place";
pub const NAME_A_FILE: &str = "name a file in that folder";
pub const CHANGE_PERMISSIONS: &str =
    "change the permissions of the file and its folder, or name another place";
pub const MAKE_ROOM: &str = "make room, or name another place";
pub const CHECK_THE_DISK: &str = "check the disk, or name another place";
pub const LINKS_IN_A_CIRCLE: &str = "its links lead round in a circle";
