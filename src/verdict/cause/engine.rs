//! Choice of the rules that hold for a take, and of the two that are told.

use super::facts::Facts;
use super::hand::Hand;
use super::rules::{RULES, Rule};
use super::words::Words;
use super::{Advice, Cause};
use crate::fretboard::{STRINGS, string_number};
use crate::verdict::JudgedTake;
use crate::words::advice;

/// More than two things at once nobody changes in a hand.
const MOST: usize = 2;

/// Finds what to say about a judged take.
pub(super) fn advise(take: &JudgedTake, hand: &Hand, history: &[JudgedTake]) -> Vec<Advice> {
    let facts = Facts::of(take, hand, history);
    let holding: Vec<(&Rule, Vec<usize>)> = RULES
        .iter()
        .map(|rule| (rule, facts.strings_of(rule)))
        .filter(|(_, strings)| !strings.is_empty())
        .collect();
    let mut explained = [false; STRINGS];
    let mut advice: Vec<Advice> = Vec::new();
    for (i, (rule, strings)) in holding.iter().enumerate() {
        let new = strings.iter().any(|&s| !explained[s]);
        if rule.says.what.is_empty() || !new || advice.len() == MOST {
            continue;
        }
        let also = holding[i + 1..]
            .iter()
            .find(|(other, _)| !other.says.otherwise.is_empty() && other.cause != rule.cause)
            .filter(|(_, theirs)| theirs.iter().all(|s| strings.contains(s)));
        for &s in strings {
            explained[s] = true;
        }
        advice.push(said(&facts, rule, strings, also));
    }
    advice
}

/// The advice of a rule about these strings, and the other rule that may hold for some of them.
fn said(
    facts: &Facts<'_>,
    rule: &Rule,
    strings: &[usize],
    also: Option<&(&Rule, Vec<usize>)>,
) -> Advice {
    let words = Words { facts, strings };
    let numbers: Vec<u8> = strings.iter().map(|&s| string_number(s)).collect();
    let mut what = words.fill(rule.says.what);
    if let Some((other, theirs)) = also {
        let words = Words {
            facts,
            strings: theirs,
        };
        what += &advice::or_else(words.fill(other.says.otherwise));
    }
    let last = facts.last_alike().unwrap_or_default();
    let said_before = |take: &&JudgedTake| {
        take.advice
            .iter()
            .any(|a| a.cause == rule.cause && a.strings.iter().any(|s| numbers.contains(s)))
    };
    let fine_before = |take: &&JudgedTake| {
        let fine = |&s: &usize| !take.strings[s].verdict.is_fault();
        strings.iter().all(fine)
    };
    let fault = |&s: &usize| facts.take.strings[s].verdict.is_fault();
    let try_first = if last.is_empty() {
        words.fill(rule.says.try_first)
    } else if !rule.says.then.is_empty() && last.iter().all(said_before) {
        words.fill(rule.says.then)
    } else if rule.cause != Cause::FretOfGuitar
        && strings.iter().all(fault)
        && last.iter().all(fine_before)
    {
        words.fill(advice::STRUM_ONCE_MORE)
    } else {
        words.fill(rule.says.try_first)
    };
    Advice {
        cause: rule.cause,
        strings: numbers,
        what,
        try_first,
    }
}
