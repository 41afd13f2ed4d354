//! Fills the gaps in the rules' sentences.

use super::engine::{Scene, fret_off, off_cents};
use super::hand::Held;
use crate::fretboard::string_number;
use crate::verdict::wording::{
    TOWARDS_BODY, TOWARDS_NUT, capital, does, listed, off_pitch, strings,
};

/// What the gaps of one rule's sentences are filled from.
pub(super) struct Words<'a> {
    pub scene: &'a Scene<'a>,
    pub strings: &'a [usize],
}

impl Words<'_> {
    /// The sentence with each `{gap}` filled and of each `[one|many]` the word that fits.
    pub fn fill(&self, template: &str) -> String {
        let mut text = String::new();
        let mut rest = template;
        while let Some(at) = rest.find(['{', '[']) {
            text += &rest[..at];
            let close = if rest[at..].starts_with('{') {
                '}'
            } else {
                ']'
            };
            let Some(end) = rest[at..].find(close).map(|end| at + end) else {
                break;
            };
            let inner = &rest[at + 1..end];
            match inner.split_once('|') {
                Some((one, _)) if self.strings.len() == 1 => text += one,
                Some((_, many)) => text += many,
                None => text += &self.gap(inner),
            }
            rest = &rest[end + 1..];
        }
        text + rest
    }

    fn gap(&self, name: &str) -> String {
        let take = self.scene.take;
        let first = &take.strings[self.strings[0]];
        let high = fret_off(first).is_some_and(|off| off > 0);
        match name {
            "S" => capital(&strings(&self.numbers())),
            "s" => strings(&self.numbers()),
            "first" => first.string.to_string(),
            "does" => self.does(self.strings.len()).to_owned(),
            "do" => self.does(2).to_owned(),
            "finger" => self.own_fingers(),
            "beside leans" => self.leaning(),
            "barre" => self
                .scene
                .hand
                .barre_fret()
                .map_or_else(String::new, |fret| fret.to_string()),
            "heard" => first
                .heard_fret
                .map_or_else(String::new, |fret| fret.to_string()),
            "way" => (if high { "high" } else { "low" }).to_owned(),
            "back" => (if high { TOWARDS_NUT } else { TOWARDS_BODY }).to_owned(),
            "whole" => (if self.strings.len() > 1 {
                "hand"
            } else {
                "finger"
            })
            .to_owned(),
            "cents" => self.cents(),
            "pitch" => {
                let sharp = off_cents(first).is_some_and(|cents| cents > 0.0);
                (if sharp { "sharp" } else { "flat" }).to_owned()
            }
            "guitar" => off_pitch(take.tuning_cents),
            "root" => take
                .frets
                .sounding()
                .next()
                .map_or_else(String::new, |(s, _)| string_number(s).to_string()),
            other => unreachable!("no rule has a gap {other}: a test fills them all"),
        }
    }

    fn numbers(&self) -> Vec<u8> {
        self.strings.iter().map(|&s| string_number(s)).collect()
    }

    /// What the strings did, in a verb for so many: "does not ring".
    fn does(&self, how_many: usize) -> &'static str {
        let did = |&s: &usize| does(&self.scene.take.strings[s]);
        let (one, many) = did(&self.strings[0]);
        match self.strings.iter().all(|s| did(s) == (one, many)) {
            true if how_many == 1 => one,
            true => many,
            false => "do not ring as they should",
        }
    }

    /// The fingers that hold the strings that the sentence is about.
    fn own_fingers(&self) -> String {
        let across = |&&s: &&usize| self.scene.hand.held(s) == Held::Across;
        match (self.named(self.strings), self.strings.iter().find(across)) {
            (Some(named), _) => named,
            (None, Some(_)) => "the finger across the strings".to_owned(),
            (None, None) if self.strings.len() == 1 => "its finger".to_owned(),
            (None, None) => "their fingers".to_owned(),
        }
    }

    /// The fingers on these strings by name, where the player said which they are.
    fn named(&self, strings: &[usize]) -> Option<String> {
        let hand = self.scene.hand;
        let mut names: Vec<u8> = strings.iter().filter_map(|&s| hand.fingers.0[s]).collect();
        names.sort_unstable();
        names.dedup();
        let names: Vec<&str> = names.into_iter().map(finger_name).collect();
        match names.as_slice() {
            [] => None,
            _ if !hand.known => None,
            [name] => Some(format!("the {name} finger")),
            [names @ .., last] => Some(format!("the {} and {last} fingers", names.join(", "))),
        }
    }

    /// The fingers on strings beside those that the sentence is about.
    fn fingers(&self, strings: &[usize]) -> String {
        match (self.named(strings), strings) {
            (Some(named), _) => named,
            (None, [string]) => format!("the finger on string {}", string_number(*string)),
            (None, _) => {
                let numbers: Vec<u8> = strings.iter().map(|&s| string_number(s)).collect();
                format!("the fingers on strings {}", listed(&numbers))
            }
        }
    }

    /// "the finger on string 4 leans".
    fn leaning(&self) -> String {
        let mut beside: Vec<usize> = self
            .strings
            .iter()
            .filter_map(|&s| self.scene.leaning_on(s))
            .collect();
        beside.sort_unstable();
        beside.dedup();
        let lean = if beside.len() == 1 { "leans" } else { "lean" };
        format!("{} {lean}", self.fingers(&beside))
    }

    /// The cents that the strings are off, from the least to the most.
    fn cents(&self) -> String {
        let mut off: Vec<i32> = self
            .strings
            .iter()
            .filter_map(|&s| off_cents(&self.scene.take.strings[s]))
            .map(|cents| cents.abs().round() as i32)
            .collect();
        off.sort_unstable();
        match (off.first(), off.last()) {
            (Some(least), Some(most)) if least < most => format!("{least} to {most}"),
            (Some(only), _) => only.to_string(),
            _ => String::new(),
        }
    }
}

fn finger_name(finger: u8) -> &'static str {
    match finger {
        1 => "index",
        2 => "middle",
        3 => "ring",
        _ => "little",
    }
}
