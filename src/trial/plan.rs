//! Plan of a trial: chords and deeds, drawn so that every kind and every string has its turn.
//!
//! A plan is made of blocks of one chord each, so that the hand changes seldom. A block begins clean; its other strums
//! have one deed each, on one string. The same seed and the same choice give the same plan: a trial that was broken off
//! is gone on with by them alone.

use std::collections::HashMap;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};

use super::Deed;
use crate::fretboard::{Frets, STRINGS};
use crate::verdict::cause::HeldBy;
use crate::verdict::{ExpectedVoicing, JudgedTake};

/// Strums asked for in a minute. A choice: 10 s each, to read, to set the fingers, to strum and to let ring.
pub const PER_MINUTE: usize = 6;
/// Lengths of a trial, in minutes.
pub const MINUTES: [u8; 3] = [3, 5, 10];
/// Strums of one chord in a row, the first of them clean. A choice.
const BLOCK: usize = 4;
/// Deeds that are asked for on purpose.
pub const FAULTS: [Deed; 7] = [
    Deed::Touched,
    Deed::Lifted,
    Deed::Slack,
    Deed::Rings,
    Deed::High,
    Deed::Buzzes,
    Deed::Missed,
];

/// Abilities of a player.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The chords, at least one.
    pub chords: Vec<ExpectedVoicing>,
    /// The deeds beside a clean strum; of [`FAULTS`].
    pub deeds: Vec<Deed>,
}

/// One strum that is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedStrum {
    /// The chord and the fingers that hold it.
    pub voicing: ExpectedVoicing,
    /// The deed.
    pub deed: Deed,
    /// The string that it is done to, as an index (0 = string 6); `None` where the strum is clean.
    pub string: Option<usize>,
}

impl PlannedStrum {
    /// Deed that is then true of each string. Beside a string that the barre lets go, others of the barre may do so too:
    /// nobody knows.
    pub fn deeds(&self) -> [Deed; STRINGS] {
        std::array::from_fn(|index| match self.string {
            Some(string) if string == index => self.deed,
            Some(_)
                if self.deed == Deed::Slack && self.voicing.hand.held(index) == HeldBy::Barre =>
            {
                Deed::Unknown
            }
            _ => Deed::Clean,
        })
    }

    /// Tells whether the verdicts on a take tell what was asked, on every string of which that is known.
    pub fn is_told_by(&self, take: &JudgedTake) -> bool {
        let mut strings = self.deeds().into_iter().zip(&take.strings);
        take.judged() && strings.all(|(deed, said)| deed == Deed::Unknown || deed.told_in(said))
    }
}

/// The strums of a trial, in order.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialPlan {
    /// The strums.
    pub steps: Vec<PlannedStrum>,
}

impl TrialPlan {
    /// Draws a plan for so many minutes.
    ///
    /// # Panics
    /// Where no chord was chosen.
    pub fn draw(choice: &Choice, minutes: u8, seed: u64) -> TrialPlan {
        let mut rng = SmallRng::seed_from_u64(seed);
        let mut turns = Turns::default();
        let count = usize::from(minutes) * PER_MINUTE;
        let mut steps = Vec::with_capacity(count);
        let mut before = None;
        while steps.len() < count {
            let chord = turns.chord(choice, before, &mut rng);
            before = Some(chord);
            turns
                .chords
                .entry(chord)
                .and_modify(|n| *n += 1)
                .or_insert(1);
            let voicing = &choice.chords[chord];
            steps.push(PlannedStrum {
                voicing: voicing.clone(),
                deed: Deed::Clean,
                string: None,
            });
            for _ in 1..BLOCK {
                let step = match turns.deed(choice, voicing, &mut rng) {
                    Some((deed, string)) => PlannedStrum {
                        voicing: voicing.clone(),
                        deed,
                        string: Some(string),
                    },
                    None => break,
                };
                steps.push(step);
            }
        }
        steps.truncate(count);
        TrialPlan { steps }
    }
}

/// How often each chord, each deed and each string was asked for so far.
#[derive(Debug, Default)]
struct Turns {
    chords: HashMap<usize, u32>,
    deeds: HashMap<Deed, u32>,
    strings: [u32; STRINGS],
    both: HashMap<(Deed, usize), u32>,
}

impl Turns {
    /// How much a deed on a string has had its turn: what was asked for seldom comes first.
    fn had(&self, deed: Deed, string: usize) -> u32 {
        let of = |count: Option<&u32>| count.copied().unwrap_or(0);
        // A kind that has not come is missed more than a string, which clean strums show too.
        2 * of(self.deeds.get(&deed))
            + self.strings[string]
            + 3 * of(self.both.get(&(deed, string)))
    }

    /// The chord of the next block: another one than before where there is one, that brings what is missing most.
    fn chord(&self, choice: &Choice, before: Option<usize>, rng: &mut SmallRng) -> usize {
        let had = |chord: usize| {
            let mut best: Vec<u32> = possible(choice, &choice.chords[chord])
                .map(|(deed, string)| self.had(deed, string))
                .collect();
            best.sort_unstable();
            let shortage: u32 = best.iter().take(BLOCK - 1).sum();
            let again = self.chords.get(&chord).copied().unwrap_or(0);
            // A chord that offers nothing but a clean strum still has its turn.
            let nothing = if best.is_empty() {
                u32::from(BLOCK as u16)
            } else {
                0
            };
            shortage + again + nothing
        };
        let several = choice.chords.len() > 1;
        (0..choice.chords.len())
            .filter(|chord| !several || Some(*chord) != before)
            .map(|chord| (had(chord), rng.random_range(0..u32::MAX), chord))
            .min()
            .map(|(_, _, chord)| chord)
            .expect("a chord was chosen")
    }

    /// The deed that has had its turn least often among those that the chord offers.
    fn deed(
        &mut self,
        choice: &Choice,
        voicing: &ExpectedVoicing,
        rng: &mut SmallRng,
    ) -> Option<(Deed, usize)> {
        let (_, _, deed, string) = possible(choice, voicing)
            .map(|(deed, string)| {
                let drawn = rng.random_range(0..u32::MAX);
                (self.had(deed, string), drawn, deed, string)
            })
            .min_by_key(|(had, drawn, ..)| (*had, *drawn))?;
        *self.deeds.entry(deed).or_default() += 1;
        *self.both.entry((deed, string)).or_default() += 1;
        self.strings[string] += 1;
        Some((deed, string))
    }
}

/// The deeds of the choice that a chord offers, each with its string.
fn possible<'a>(
    choice: &'a Choice,
    voicing: &'a ExpectedVoicing,
) -> impl Iterator<Item = (Deed, usize)> + 'a {
    let deeds = choice.deeds.iter().copied();
    deeds.flat_map(move |deed| {
        let strings = (0..STRINGS).filter(move |string| can(voicing, deed, *string));
        strings.map(move |string| (deed, string))
    })
}

/// Tells whether a hand that holds a chord can do this to a string, and nothing else with it.
pub fn can(voicing: &ExpectedVoicing, deed: Deed, string: usize) -> bool {
    let (frets, hand) = (&voicing.frets, &voicing.hand);
    let tip = hand.held(string) == HeldBy::Tip;
    match (deed, frets.0[string]) {
        (Deed::Rings, None) => beside_the_strum(frets, string),
        (Deed::Touched, Some(fret)) => {
            // A finger nearer to the nut than the string's own touches a part that does not swing.
            let beside = [
                string.checked_sub(1),
                Some(string + 1).filter(|s| *s < STRINGS),
            ];
            beside.into_iter().flatten().any(|next| {
                hand.held(next) == HeldBy::Tip && frets.0[next].is_some_and(|other| other > fret)
            })
        }
        (Deed::Lifted | Deed::Buzzes, Some(_)) => tip,
        (Deed::High, Some(fret)) => tip && fret < Frets::HIGHEST,
        (Deed::Slack, Some(_)) => hand.held(string) == HeldBy::Barre,
        (Deed::Missed, Some(_)) => {
            let mut sounding = frets.sounding().map(|(index, _)| index);
            let first = sounding.next();
            let last = sounding.last();
            last.is_some() && (first == Some(string) || last == Some(string))
        }
        _ => false,
    }
}

/// Tells whether a string lies next to those that sound: one further off cannot be struck alone.
fn beside_the_strum(frets: &Frets, string: usize) -> bool {
    let sounds = |index: usize| frets.0.get(index).is_some_and(Option::is_some);
    let (first, last) = (
        (0..STRINGS).find(|s| sounds(*s)),
        (0..STRINGS).rev().find(|s| sounds(*s)),
    );
    Some(string + 1) == first || last.is_some_and(|last| last + 1 == string)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::verdict::examples::{bb, not_judged, with};
    use crate::verdict::{Verdict, Warning};
    use proptest::prelude::*;

    fn voicing(frets: &str) -> ExpectedVoicing {
        ExpectedVoicing::usual(frets.parse().unwrap(), None, &Tuning::default())
    }

    const CHORDS: [&str; 6] = ["022100", "x02220", "x32010", "133211", "x13331", "xx0232"];

    fn all() -> Choice {
        Choice {
            chords: CHORDS.map(voicing).to_vec(),
            deeds: FAULTS.to_vec(),
        }
    }

    #[test]
    fn a_hand_can_do_what_its_fingers_allow() {
        let f = voicing("133211");
        let strings = |deed| {
            (0..STRINGS)
                .filter(|s| can(&f, deed, *s))
                .collect::<Vec<_>>()
        };
        // The barre alone holds strings 6, 2 and 1; fingers stand on 5, 4 and 3.
        assert_eq!(strings(Deed::Slack), [0, 4, 5]);
        assert_eq!(strings(Deed::Lifted), [1, 2, 3]);
        assert_eq!(strings(Deed::High), [1, 2, 3]);
        // Beside string 6 a finger at fret 3, beside string 3 one at fret 3, beside string 2 one at fret 2.
        assert_eq!(strings(Deed::Touched), [0, 3, 4]);
        assert_eq!(strings(Deed::Missed), [0, 5]);
        assert_eq!(strings(Deed::Rings), [0usize; 0]);
        let d = voicing("xx0232");
        assert!(can(&d, Deed::Rings, 1) && !can(&d, Deed::Rings, 0));
    }

    #[test]
    fn beside_the_string_that_a_barre_lets_go_nobody_knows() {
        let step = PlannedStrum {
            voicing: voicing("133211"),
            deed: Deed::Slack,
            string: Some(4),
        };
        let [six, five, _, _, two, one] = step.deeds();
        assert_eq!((six, one), (Deed::Unknown, Deed::Unknown));
        assert_eq!((two, five), (Deed::Slack, Deed::Clean));
    }

    #[test]
    fn a_step_is_told_where_every_string_that_is_known_is() {
        let step = PlannedStrum {
            voicing: voicing("x13331"),
            deed: Deed::Touched,
            string: Some(2),
        };
        let clean = PlannedStrum {
            deed: Deed::Clean,
            string: None,
            ..step.clone()
        };
        let dead = with(bb(), 4, Verdict::Muted, 0.9);
        assert!(clean.is_told_by(&bb()) && !clean.is_told_by(&dead));
        assert!(step.is_told_by(&dead) && !step.is_told_by(&bb()));
        assert!(!step.is_told_by(&with(dead.clone(), 1, Verdict::Muted, 0.9)));
        assert!(!clean.is_told_by(&not_judged(Warning::TooShort { seconds: 0.1 })));
        // Beside a string that the barre lets go anything may happen.
        let slack = PlannedStrum {
            voicing: voicing("133211"),
            deed: Deed::Slack,
            string: Some(5),
        };
        let one = with(bb(), 1, Verdict::Choked, 0.9);
        assert!(slack.is_told_by(&one) && !slack.is_told_by(&dead));
        assert!(slack.is_told_by(&with(one, 2, Verdict::Muted, 0.9)));
    }

    proptest! {
        #[test]
        fn every_kind_and_every_string_has_its_turn(seed: u64, which in 0usize..3) {
            let minutes = MINUTES[which];
            let plan = TrialPlan::draw(&all(), minutes, seed);
            prop_assert_eq!(plan.steps.len(), usize::from(minutes) * PER_MINUTE);
            prop_assert_eq!(&plan, &TrialPlan::draw(&all(), minutes, seed));
            for deed in FAULTS {
                let times = plan.steps.iter().filter(|s| s.deed == deed).count();
                prop_assert!(times >= usize::from(minutes) / 3, "{:?} {} times", deed, times);
            }
            for string in 0..STRINGS {
                prop_assert!(plan.steps.iter().any(|s| s.string == Some(string)), "string {}", 6 - string);
            }
            let clean = plan.steps.iter().filter(|s| s.deed == Deed::Clean).count();
            prop_assert!(4 * clean >= plan.steps.len());
            for step in &plan.steps {
                let asked = step.string.is_none_or(|string| can(&step.voicing, step.deed, string));
                prop_assert!(asked, "{:?}", step);
            }
        }

        #[test]
        fn only_what_the_player_can_do_is_asked(seed: u64, chords in 1usize..64, deeds in 0usize..128) {
            let chosen = |i: &usize| chords & (1 << i) != 0;
            let choice = Choice {
                chords: (0..6).filter(chosen).map(|i| voicing(CHORDS[i])).collect(),
                deeds: (0..7).filter(|i| deeds & (1 << i) != 0).map(|i| FAULTS[i]).collect(),
            };
            let plan = TrialPlan::draw(&choice, 3, seed);
            prop_assert_eq!(plan.steps.len(), 18);
            for step in plan.steps {
                prop_assert!(choice.chords.contains(&step.voicing));
                prop_assert!(step.deed == Deed::Clean || choice.deeds.contains(&step.deed));
            }
        }
    }
}
