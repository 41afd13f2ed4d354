//! Days as they are written.

use jiff::civil::{Date, DateTime};

/// "2 March".
pub fn day(day: Date) -> String {
    day.strftime("%-d %B").to_string()
}

/// "2 March 2026".
pub fn day_and_year(day: Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}

/// "2 March 2026, 18:05".
pub fn minute(when: DateTime) -> String {
    when.strftime("%-d %B %Y, %H:%M").to_string()
}

/// "March 2026".
pub fn month(day: Date) -> String {
    day.strftime("%B %Y").to_string()
}

/// "2 March 2026 to 8 March 2026"; `said` says a day.
pub fn days(first: Date, last: Date, said: fn(Date) -> String) -> String {
    match first == last {
        true => said(first),
        false => format!("{} to {}", said(first), said(last)),
    }
}
