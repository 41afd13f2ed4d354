//! Cautions that are said once a day, not after every take: [`wording::CARE`](crate::verdict::wording::CARE).

use std::fs;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use jiff::ZonedDateTime;
use jiff::civil::Date;

use crate::disk;

/// The file in the folder of the program's data that holds the day on which it was said last.
const FILE: &str = "care-said";
/// A date's longest text, with some to spare, in bytes.
const MOST_BYTES: u64 = 64;

/// Tells whether it is to be said now, and notes that it was said today. Where no day can be noted it is said.
pub fn is_due() -> bool {
    let Ok(base) = etcetera::choose_base_strategy() else {
        return true;
    };
    let file: PathBuf = base.data_dir().join("ringtrue").join(FILE);
    is_due_on(ZonedDateTime::now().date(), &file)
}

fn is_due_on(today: Date, file: &Path) -> bool {
    let said = disk::read_text(file, MOST_BYTES).ok();
    if said.is_some_and(|said| said.trim() == today.to_string()) {
        return false;
    }
    // What cannot be noted is said again: nobody is told of the file.
    if let Some(folder) = file.parent()
        && fs::create_dir_all(folder).is_ok()
    {
        let _ = disk::write_bytes(file, today.to_string().as_bytes());
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_said_once_a_day_and_again_where_no_day_can_be_noted() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("data").join(FILE);
        let day: Date = "2026-11-29".parse().unwrap();
        assert!(is_due_on(day, &file));
        assert!(!is_due_on(day, &file));
        assert!(is_due_on(day.tomorrow().unwrap(), &file));
        let taken = folder.path().join("taken");
        fs::write(&taken, "no folder").unwrap();
        assert!(is_due_on(day, &taken.join(FILE)));
        assert!(is_due_on(day, &taken.join(FILE)));
    }
}
