//! Forms of strings, frets, pitches and shares within a sentence.

use std::fmt::Display;

/// "1 take", "3 takes".
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// "1 take", "3 takes".
pub fn takes(count: usize) -> String {
    counted(count, "take", "takes")
}

/// "70 to 79".
pub fn from_to(from: impl Display, to: impl Display) -> String {
    format!("{from} to {to}")
}

/// "string 4".
pub fn string(number: impl Display) -> String {
    format!("string {number}")
}

/// "string 4", "strings 6, 4 and 3".
pub fn strings(numbers: &[u8]) -> String {
    let noun = if numbers.len() == 1 {
        "string"
    } else {
        "strings"
    };
    format!("{noun} {}", listed(numbers))
}

/// "6, 4 and 3".
pub fn listed(numbers: &[u8]) -> String {
    let words: Vec<String> = numbers.iter().map(u8::to_string).collect();
    match words.as_slice() {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}

/// The fret as it is said: "open" or its number.
pub fn place(fret: u8) -> String {
    if fret == 0 {
        "open".to_owned()
    } else {
        fret.to_string()
    }
}

/// Word for which way a pitch is off.
pub fn sharp_or_flat(is_sharp: bool) -> &'static str {
    if is_sharp { "sharp" } else { "flat" }
}

/// Word for which way a hand is off along the neck.
pub fn high_or_low(is_high: bool) -> &'static str {
    if is_high { "high" } else { "low" }
}

/// "23 cents sharp".
pub fn off_pitch(cents: f32) -> String {
    format!("{:.0} cents {}", cents.abs(), sharp_or_flat(cents > 0.0))
}

/// The name of a finger, 1 to 4.
pub fn finger(number: u8) -> &'static str {
    match number {
        1 => "index",
        2 => "middle",
        3 => "ring",
        _ => "little",
    }
}

/// "the index finger", "the middle and ring fingers".
pub fn fingers(numbers: &[u8]) -> String {
    let names: Vec<&str> = numbers.iter().map(|&number| finger(number)).collect();
    match names.as_slice() {
        [] => String::new(),
        [name] => format!("the {name} finger"),
        [names @ .., last] => format!("the {} and {last} fingers", names.join(", ")),
    }
}

/// "the finger on string 4", "the fingers on strings 4 and 3".
pub fn fingers_on(strings: &[u8]) -> String {
    match strings {
        [string] => format!("the finger on string {string}"),
        _ => format!("the fingers on strings {}", listed(strings)),
    }
}

/// Text with a small first letter, as after a colon; a chord's name keeps its own.
pub fn uncapital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// Text with a capital letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A share as people say it: whole percents, none and all only where it is exactly that.
pub fn percent(share: f32) -> String {
    let percent = f64::from(share) * 100.0;
    if percent > 0.0 && percent < 1.0 {
        "less than 1 %".to_owned()
    } else if percent > 99.0 && percent < 100.0 {
        "over 99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}
