//! Fills the gaps in the rules' sentences.

use super::facts::{Facts, fret_off};
use super::hand::HeldBy;
use crate::fretboard::string_number;
use crate::verdict::wording::{does, doubt_of_all};
use crate::words::{advice, grammar, take};

/// Words that fill the gaps of one rule's sentences.
pub(super) struct Words<'a> {
    pub facts: &'a Facts<'a>,
    pub strings: &'a [usize],
}

impl Words<'_> {
    /// The sentence with each `{gap}` filled and of each `[one|many]` the word that fits.
    pub fn fill(&self, template: &str) -> String {
        let is_one = self.strings.len() == 1;
        advice::fill(template, is_one, &|gap| self.gap(gap))
    }

    fn gap(&self, name: &str) -> String {
        let take = self.facts.take;
        let first = &take.strings[self.strings[0]];
        let high = fret_off(first).is_some_and(|off| off > 0);
        match name {
            "S" => grammar::capital(&grammar::strings(&self.numbers())),
            "s" => grammar::strings(&self.numbers()),
            "first" => first.string.to_string(),
            "does" => self.perhaps() + self.does(self.strings.len()),
            "perhaps" => self.perhaps(),
            "do" => self.does(2).to_owned(),
            "finger" => self.own_fingers(),
            "beside leans" => self.leaning(),
            "barre" => self
                .facts
                .hand
                .barre_fret()
                .map_or_else(String::new, |fret| fret.to_string()),
            "heard" => first
                .heard_fret
                .map_or_else(String::new, |fret| fret.to_string()),
            "way" => grammar::high_or_low(high).to_owned(),
            "back" => (if high {
                take::TOWARDS_NUT
            } else {
                take::TOWARDS_BODY
            })
            .to_owned(),
            "whole" => advice::whole(self.strings.len()).to_owned(),
            "cents" => self.cents(),
            "pitch" => {
                let sharp = first.off_cents().is_some_and(|cents| cents > 0.0);
                grammar::sharp_or_flat(sharp).to_owned()
            }
            "guitar" => grammar::off_pitch(take.tuning_cents),
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

    /// How sure it is what the strings did, before the verb; nothing where that is quite sure.
    fn perhaps(&self) -> String {
        let all = &self.facts.take.strings;
        let doubt = doubt_of_all(self.strings.iter().map(|&s| &all[s]));
        doubt.map_or_else(String::new, |doubt| format!("{doubt} "))
    }

    /// What the strings did, in a verb for so many: "does not ring".
    fn does(&self, how_many: usize) -> &'static str {
        let did = |&s: &usize| does(&self.facts.take.strings[s]);
        let (one, many) = did(&self.strings[0]);
        match self.strings.iter().all(|s| did(s) == (one, many)) {
            true if how_many == 1 => one,
            true => many,
            false => advice::DO_NOT_RING_AS_THEY_SHOULD,
        }
    }

    /// The fingers that hold the strings that the sentence is about.
    fn own_fingers(&self) -> String {
        let across = |&&s: &&usize| self.facts.hand.held(s) == HeldBy::Across;
        match (self.named(self.strings), self.strings.iter().find(across)) {
            (Some(named), _) => named,
            (None, Some(_)) => advice::FINGER_ACROSS_STRINGS.to_owned(),
            (None, None) if self.strings.len() == 1 => advice::ITS_FINGER.to_owned(),
            (None, None) => advice::THEIR_FINGERS.to_owned(),
        }
    }

    /// The fingers on these strings by name, where the player said which they are.
    fn named(&self, strings: &[usize]) -> Option<String> {
        let hand = self.facts.hand;
        let mut names: Vec<u8> = strings.iter().filter_map(|&s| hand.fingers.0[s]).collect();
        names.sort_unstable();
        names.dedup();
        (hand.known && !names.is_empty()).then(|| grammar::fingers(&names))
    }

    /// The fingers on strings beside those that the sentence is about.
    fn fingers(&self, strings: &[usize]) -> String {
        self.named(strings).unwrap_or_else(|| {
            let numbers: Vec<u8> = strings.iter().map(|&s| string_number(s)).collect();
            grammar::fingers_on(&numbers)
        })
    }

    /// "the finger on string 4 leans".
    fn leaning(&self) -> String {
        let mut beside: Vec<usize> = self
            .strings
            .iter()
            .filter_map(|&s| self.facts.leaning_on(s))
            .collect();
        beside.sort_unstable();
        beside.dedup();
        advice::leaning(self.fingers(&beside), beside.len() == 1)
    }

    /// The cents that the strings are off, from the least to the most.
    fn cents(&self) -> String {
        let mut off: Vec<i32> = self
            .strings
            .iter()
            .filter_map(|&s| self.facts.take.strings[s].off_cents())
            .map(|cents| cents.abs().round() as i32)
            .collect();
        off.sort_unstable();
        match (off.first(), off.last()) {
            (Some(least), Some(most)) if least < most => advice::range(least, most),
            (Some(only), _) => only.to_string(),
            _ => String::new(),
        }
    }
}
