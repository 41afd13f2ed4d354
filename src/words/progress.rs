//! Sentences on the diary: progress from day to day.

use std::fmt::Display;

pub const NOTHING_TO_COUNT: &str =
    "None of them could be judged, so there is nothing to count yet.";
pub const TAKE_UP_NEXT_HEAD: &str = "\nWhat to practise next";

pub fn how_to_read(few: impl Display, lately_days: impl Display) -> String {
    format!(
        "Clean: the share of takes without a fault. Sure: how sure that share is, lowest to highest in % \
             (95 % confidence; under {few} takes it says little). Week: the last {lately_days} days. A change: from the end of the old chord to the new one, clean; half take less time, two in three lie within ±."
    )
}

pub fn on_days(days: impl Display, first: impl Display, last: impl Display) -> String {
    format!(" on {days} days, from {first} to {last}")
}

pub fn not_told(n: impl Display) -> String {
    format!(" {n} of them could not be judged.")
}

pub const ONE_PUT_RIGHT: &str = " 1 was corrected by you.";

pub fn put_right(n: impl Display) -> String {
    format!(" {n} were corrected by you.")
}

pub fn clean_of_one(part: impl Display) -> String {
    format!("{part} of 1 take clean")
}

pub fn clean_of_last(part: impl Display, n: impl Display) -> String {
    format!("{part} of the last {n} takes clean")
}

pub const NOT_SINCE_YESTERDAY: &str = ", not played since yesterday";

pub fn not_for_days(n: impl Display) -> String {
    format!(", not played for {n} days")
}

pub fn days_before(first: impl Display) -> String {
    format!("and {first} days before")
}

pub fn chords_head(what: impl Display) -> String {
    format!("\n{what:<18} takes  clean       sure   week  worst")
}

pub const BY_FRET_HEAD: &str = "\nHow often each string was as it should be, in %, by the";
pub const BY_FRET_HEAD_MORE: &str = "fret at which the shape stood";
pub const CHANGES_HEAD: &str = "\nfrom, to                     changes  clean  a change";

pub fn played_along(in_time_ms: impl Display) -> String {
    format!(
        "Played along. In time: within {in_time_ms:.0} ms of the beat. Steady: two strums in three are \
             this near to the usual."
    )
}

pub fn along_head(what: impl Display) -> String {
    format!("\n{what:<20} strums  in time  usually       steady")
}

pub const PICTURE_OF_DAYS: &str = "Clean takes, day by day. The upright line shows how sure the share is, the number how many takes there \
     were";
pub const PICTURE_OF_FRETS: &str = "How often each string was right, in %, by the fret of the shape; below, how many takes there \
     were";

/// `bar`: width of the bars' column.
pub fn days_head(bar: usize) -> String {
    format!(
        "\nday         takes  clean {:bar$}       sure  a change",
        ""
    )
}

/// `diary`: the file named, after a space; nothing of the usual one.
pub fn to_begin_with(frets: impl Display, diary: &str) -> String {
    format!("To practise it: ringtrue listen --frets \"{frets}\" --diary{diary}")
}

pub fn and_more(more: impl Display) -> String {
    format!("and {more} more")
}

pub const FROM_TO: &str = "from, to";

pub const CHORD: &str = "chord";
pub const SHAPE: &str = "shape";
pub const STRING: &str = "string";
pub const DAY: &str = "day";
pub const TEMPO: &str = "beats/min";

pub fn on_day(day: impl Display) -> String {
    format!(" on {day}")
}

pub fn worst_string(string: impl Display, most_often: impl Display) -> String {
    format!("; string {string} {most_often}")
}

/// Range of a share, in percent.
pub fn sure(low: impl Display, high: impl Display) -> String {
    format!("{low:.0} to {high:.0}")
}
