//! Strums against beats: which belongs to which, how early or late, how the hand changed, and what to
//! drill. Knows no sound.

use serde::Serialize;

use super::backing::{Plan, Style};
use crate::fretboard::ChordName;

/// A strum may be this late, as a share of the time from beat to beat, and this early: a hand that is
/// not ready is late, but who strikes half a beat early has struck the chord before again.
const LATE_SHARE: f64 = 0.75;
const EARLY_SHARE: f64 = 0.45;
/// ... and no further from its beat than this, in seconds.
const REACH_S: f64 = 2.0;
/// What leaving out a beat, or a strum, costs against a strum that is late by a whole gap. Both
/// together cost more than the farthest match, so that a late strum is late and not missed.
const LEFT_OUT: f64 = 0.45;
/// What it costs when another beat's chord is heard and this one's is not, 0 to 1.
const OTHER_CHORD: f64 = 0.5;
/// Strums within this of their beat count as in time, in ms: the tolerance within which onsets are
/// held to be the same in the evaluation of note transcription (mir_eval's default).
pub const IN_TIME_MS: f64 = 50.0;

/// Places where strums are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrumPlaces {
    /// Once for each chord.
    Chord,
    /// Strum on every beat.
    Beat,
    /// Twice a beat.
    Eighth,
}

impl StrumPlaces {
    /// All of them.
    pub const ALL: [StrumPlaces; 3] = [StrumPlaces::Chord, StrumPlaces::Beat, StrumPlaces::Eighth];

    /// Its name in options and lessons.
    pub fn word(self) -> &'static str {
        match self {
            StrumPlaces::Chord => "chord",
            StrumPlaces::Beat => "beat",
            StrumPlaces::Eighth => "eighth",
        }
    }
}

/// A moment at which a strum is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// Moment in seconds from the start of the count-in.
    pub at_s: f64,
    /// Bar, counted from 0 over all loops.
    pub bar: usize,
    /// Place in the bar in beats, from 0.
    pub beat: f64,
    /// The chord that is wanted.
    pub chord: ChordName,
    /// Number of the plan's chord.
    pub placed: usize,
    /// The chord before, where it is another.
    pub changes_from: Option<ChordName>,
}

/// All moments of a plan at which a strum is wanted.
pub fn beats(plan: &Plan, style: &Style, strums: StrumPlaces) -> Vec<Beat> {
    let mut found: Vec<Beat> = Vec::new();
    for (index, placed) in plan.placed.iter().enumerate() {
        let Some(chord) = placed.chord else { continue };
        let offsets: Vec<f64> = match strums {
            StrumPlaces::Chord => vec![0.0],
            StrumPlaces::Beat => (0..placed.beats).map(f64::from).collect(),
            StrumPlaces::Eighth => (0..placed.beats)
                .flat_map(|b| [f64::from(b), f64::from(b) + style.swing / 100.0])
                .collect(),
        };
        for offset in offsets {
            let before = found.last().map(|last| last.chord).filter(|c| *c != chord);
            found.push(Beat {
                at_s: plan.grid.seconds(plan.beat_of(placed) + offset),
                bar: placed.bar,
                beat: f64::from(placed.beat) + offset,
                chord,
                placed: index,
                changes_from: before.filter(|_| offset == 0.0),
            });
        }
    }
    found
}

/// Strums matched with beats.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Matched {
    /// Strum of each beat; `None` where it was missed.
    pub strums: Vec<Option<usize>>,
    /// Strums that belong to no beat.
    pub extra: Vec<usize>,
}

/// Matches strums (seconds, ascending) to beats (seconds, ascending): in order, with the least sum of
/// distances, of beats missed and of strums left over. `other(strum, beat)` says from 0 to 1 how much
/// another chord than the beat's is heard; where nothing is known give 0. It tells whose a strum is, not which of two
/// strums sounds better: of a strum and its repetition at one beat the nearer is matched.
pub fn matched(beats_s: &[f64], strums_s: &[f64], other: &dyn Fn(usize, usize) -> f64) -> Matched {
    // What fits neither neighbour's chord, a strum cut short by its repetition say, speaks against neither.
    let least: Vec<f64> = (strums_s.iter().enumerate())
        .map(|(strum, at)| {
            let after = beats_s.partition_point(|beat| beat < at);
            let neighbours = after.saturating_sub(1)..(after + 1).min(beats_s.len());
            let others = neighbours.map(|beat| other(strum, beat));
            others.fold(f64::INFINITY, f64::min)
        })
        .collect();
    // A beat and a strum left out cost twice LEFT_OUT; what matching them saves is to be most.
    let mut pairs: Vec<Pair> = Vec::new();
    // For the first so many strums: the most that they save with the beats so far, and the last pair.
    let mut best: Vec<(f64, Option<usize>)> = vec![(0.0, None); strums_s.len() + 1];
    for (beat, at) in beats_s.iter().enumerate() {
        let gap = gap(beats_s, beat);
        let reach = |share: f64| (share * gap).min(REACH_S);
        let from = strums_s.partition_point(|strum| *strum < at - reach(EARLY_SHARE));
        let to = strums_s.partition_point(|strum| *strum <= at + reach(LATE_SHARE));
        // From the last to the first, so that no beat takes two strums.
        for strum in (from..to).rev() {
            let chord = OTHER_CHORD * (other(strum, beat) - least[strum]);
            let cost = (strums_s[strum] - at).abs() / gap + chord;
            let (saved_before, before) = best[strum];
            let saved = saved_before + 2.0 * LEFT_OUT - cost;
            let pair = Some(pairs.len());
            // With more strums no less is saved, so what is better than this lies behind the rest.
            let worse = best[strum + 1..].iter_mut().take_while(|b| b.0 < saved);
            if worse.map(|b| *b = (saved, pair)).count() > 0 {
                pairs.push(Pair {
                    beat,
                    strum,
                    before,
                });
            }
        }
    }
    let mut found = Matched {
        strums: vec![None; beats_s.len()],
        extra: Vec::new(),
    };
    let mut last = best[strums_s.len()].1;
    while let Some(index) = last {
        let pair = &pairs[index];
        found.strums[pair.beat] = Some(pair.strum);
        last = pair.before;
    }
    let used: Vec<usize> = found.strums.iter().flatten().copied().collect();
    found.extra = (0..strums_s.len())
        .filter(|strum| used.binary_search(strum).is_err())
        .collect();
    found
}

/// A strum matched to a beat, and the pair before it.
struct Pair {
    beat: usize,
    strum: usize,
    before: Option<usize>,
}

/// Time from a beat to its nearer neighbour; a second where it stands alone.
fn gap(beats_s: &[f64], index: usize) -> f64 {
    let before = index.checked_sub(1).map(|i| beats_s[index] - beats_s[i]);
    let after = beats_s.get(index + 1).map(|next| next - beats_s[index]);
    let least = before
        .unwrap_or(f64::INFINITY)
        .min(after.unwrap_or(f64::INFINITY));
    if least.is_finite() {
        least.max(1e-3)
    } else {
        1.0
    }
}

/// Distances of strums from their beats.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Number of strums.
    pub count: usize,
    /// Late by so many ms, early where negative: the middle one of all.
    pub middle_ms: f64,
    /// Mean of all.
    pub mean_ms: f64,
    /// Steadiness: the middle two thirds lie within this about the middle, in ms. What a standard
    /// deviation is for even spread, but one slip does not make it large.
    pub spread_ms: f64,
}

/// Tells how many of offsets in ms are in time.
pub fn in_time(offsets_ms: &[f64]) -> usize {
    offsets_ms.iter().filter(|o| o.abs() <= IN_TIME_MS).count()
}

/// Share of the strums within one standard deviation of an even spread.
const WITHIN: f64 = 0.6827;

impl Spread {
    /// Sums up offsets in ms; `None` of none.
    pub fn of(offsets_ms: &[f64]) -> Option<Spread> {
        let middle_ms = quantile(offsets_ms.to_vec(), 0.5)?;
        let away = offsets_ms.iter().map(|o| (o - middle_ms).abs()).collect();
        Some(Spread {
            count: offsets_ms.len(),
            middle_ms,
            mean_ms: offsets_ms.iter().sum::<f64>() / offsets_ms.len() as f64,
            spread_ms: quantile(away, WITHIN)?,
        })
    }
}

/// A quantile, between neighbours by a straight line.
pub fn quantile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let at = share * (values.len().checked_sub(1)? as f64);
    let (low, high) = (values[at.floor() as usize], values[at.ceil() as usize]);
    Some(low + (high - low) * at.fract())
}

/// Outcome of one beat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeatOutcome {
    /// The beat.
    pub beat: Beat,
    /// Late by so many ms, early where negative; `None`: missed.
    pub off_ms: Option<f64>,
    /// Time before its strum in which the chord before was silent, in ms, where that could be heard.
    pub gap_ms: Option<f64>,
    /// True where every judged string was as it should be; `None` where the take was not judged.
    pub clean: Option<bool>,
}

/// One change of chord over all its times.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChangeSummary {
    /// The chord before.
    pub from: ChordName,
    /// The chord after.
    pub to: ChordName,
    /// Number of times that it was wanted.
    pub times: usize,
    /// Number of times that no strum came.
    pub missed: usize,
    /// Distances of the strums on the new chord from their beats; `None` where none came.
    pub off: Option<Spread>,
    /// Silence between the two chords, in ms: the middle one.
    pub gap_ms: Option<f64>,
    /// Takes judged, and those of them with all strings as they should be.
    pub judged: usize,
    /// Takes with all strings as they should be.
    pub clean: usize,
}

/// What an untidy change is weighed by, in ms of lateness: choices. A miss weighs as much as being
/// late by a second, a fault in the chord as a fifth of one; silence between the chords counts
/// by a quarter, since letting go early is how the hand gets there in time.
const MISS_MS: f64 = 1000.0;
const FAULT_MS: f64 = 200.0;
const GAP_SHARE: f64 = 0.25;
/// Below this a change needs no drill of its own, in the same measure.
const GOOD_ENOUGH_MS: f64 = 2.0 * IN_TIME_MS;

impl ChangeSummary {
    /// Tells how untidy it is: lateness or earliness, spread, misses, faults and silence together, in ms.
    pub fn untidy_ms(&self) -> f64 {
        let off = self.off.map_or(0.0, |s| s.middle_ms.abs() + s.spread_ms);
        let faults = (self.judged - self.clean) as f64 / self.judged.max(1) as f64;
        off + MISS_MS * self.missed as f64 / self.times.max(1) as f64
            + FAULT_MS * faults
            + GAP_SHARE * self.gap_ms.unwrap_or(0.0)
    }
}

/// All changes, in the order of their first time.
pub fn changes(outcomes: &[BeatOutcome]) -> Vec<ChangeSummary> {
    let mut pairs: Vec<(ChordName, ChordName)> = Vec::new();
    for outcome in outcomes {
        if let Some(from) = outcome.beat.changes_from {
            let pair = (from, outcome.beat.chord);
            if !pairs.contains(&pair) {
                pairs.push(pair);
            }
        }
    }
    let of = |(from, to): (ChordName, ChordName)| {
        let those: Vec<&BeatOutcome> = (outcomes.iter())
            .filter(|o| o.beat.changes_from == Some(from) && o.beat.chord == to)
            .collect();
        let offsets: Vec<f64> = those.iter().filter_map(|o| o.off_ms).collect();
        ChangeSummary {
            from,
            to,
            times: those.len(),
            missed: those.len() - offsets.len(),
            off: Spread::of(&offsets),
            gap_ms: quantile(those.iter().filter_map(|o| o.gap_ms).collect(), 0.5),
            judged: those.iter().filter(|o| o.clean.is_some()).count(),
            clean: those.iter().filter(|o| o.clean == Some(true)).count(),
        }
    };
    pairs.into_iter().map(of).collect()
}

/// The change to drill by itself: the most untidy one, where any is untidy enough.
pub fn to_drill(changes: &[ChangeSummary]) -> Option<&ChangeSummary> {
    (changes.iter())
        .max_by(|a, b| a.untidy_ms().total_cmp(&b.untidy_ms()))
        .filter(|worst| worst.untidy_ms() > GOOD_ENOUGH_MS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progression::{Feel, Progression, Timing};
    use proptest::prelude::*;
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};

    fn alike(_: usize, _: usize) -> f64 {
        0.0
    }

    fn pairs(beats: &[f64], strums: &[f64]) -> (Vec<Option<usize>>, Vec<usize>) {
        let found = matched(beats, strums, &alike);
        (found.strums, found.extra)
    }

    #[test]
    fn a_late_a_missed_and_a_doubled_strum_are_told_apart() {
        let beats = [0.0, 1.0, 2.0, 3.0, 4.0];
        let all = |n: usize| (0..n).map(Some).collect::<Vec<_>>();
        assert_eq!(
            pairs(&beats, &[0.0, 1.05, 1.98, 3.3, 4.0]),
            (all(5), vec![])
        );
        // Late by more than half a beat, the others in time.
        assert_eq!(pairs(&beats, &[0.0, 1.6, 2.0, 3.0, 4.0]), (all(5), vec![]));
        let missed = vec![Some(0), Some(1), None, Some(2), Some(3)];
        assert_eq!(pairs(&beats, &[0.02, 1.0, 3.0, 4.01]), (missed, vec![]));
        let doubled = vec![Some(0), Some(1), Some(3), Some(4), Some(5)];
        assert_eq!(
            pairs(&beats, &[0.0, 1.0, 1.25, 2.0, 3.0, 4.0]),
            (doubled, vec![2])
        );
        // The second of two strums is half a beat early for a chord that was missed: it is none.
        let again = vec![Some(0), Some(1), None, Some(3), Some(4)];
        assert_eq!(pairs(&beats, &[0.0, 1.0, 1.45, 3.0, 4.0]), (again, vec![2]));
        assert_eq!(pairs(&beats, &[]), (vec![None; 5], vec![]));
        assert_eq!(pairs(&[], &[1.0]), (vec![], vec![0]));
    }

    #[test]
    fn the_chord_heard_tells_whose_strum_it_is() {
        // Beat 1 was missed and beat 2 struck twice, the first time early; or beat 1 came very late.
        let (beats, strums) = ([0.0, 1.0, 2.0], [0.0, 1.6, 2.0]);
        let late = matched(&beats, &strums, &|strum, beat| {
            f64::from(u8::from(strum == 1 && beat != 1))
        });
        assert_eq!(late.strums, [Some(0), Some(1), Some(2)]);
        let early = matched(&beats, &strums, &|strum, beat| {
            f64::from(u8::from(strum == 1 && beat == 1))
        });
        assert_eq!(
            (early.strums, early.extra),
            (vec![Some(0), None, Some(2)], vec![1])
        );
    }

    /// A chord struck twice: the beats, the strums, the beat struck twice, and its two strums.
    struct Doubled {
        beats: Vec<f64>,
        strums: Vec<f64>,
        beat: usize,
        pair: [usize; 2],
        /// For each strum its beat, how much another chord than that one's is heard, and how much other beats' chords
        /// are missing; `None` where that is not known.
        heard: Vec<(usize, Option<(f64, f64)>)>,
    }

    /// Three to eleven beats, evenly or unevenly apart. All but the one struck twice are struck within a fifth of the
    /// time to the next, or missed. The first of the two comes up to a fifth early or three tenths late, the second
    /// before three quarters: who is later than that plays the next beat.
    fn doubled(rng: &mut SmallRng) -> Doubled {
        let count = rng.random_range(3..=11);
        let (even, step) = (rng.random_bool(0.5), rng.random_range(0.3..2.0));
        let steps = (0..count).map(|_| match even {
            true => step,
            false => step * rng.random_range(0.5..2.0),
        });
        let beats = sum(steps.collect());
        let beat = rng.random_range(0..count);
        let mut made = Doubled {
            strums: Vec::new(),
            beat,
            pair: [0; 2],
            heard: Vec::new(),
            beats,
        };
        for at in 0..count {
            let gap = gap(&made.beats, at);
            let mut offs = vec![rng.random_range(-0.2..0.2)];
            if at == beat {
                let first = rng.random_range(-0.2..0.3);
                offs = vec![first, rng.random_range(first + 0.1..0.74)];
                made.pair = [made.strums.len(), made.strums.len() + 1];
            } else if rng.random_bool(0.15) {
                offs.clear();
            }
            for off in offs {
                made.strums.push(made.beats[at] + off * gap);
                let own = rng.random_range(0.0..=1.0);
                let known = rng.random_bool(0.5);
                let heard = known.then(|| (own, rng.random_range(own..=1.0)));
                made.heard.push((at, heard));
            }
        }
        made
    }

    #[test]
    fn of_two_strums_at_a_beat_the_nearer_is_matched() {
        let mut rng = SmallRng::seed_from_u64(11);
        for case in 0..1_000 {
            let made = doubled(&mut rng);
            let found = matched(&made.beats, &made.strums, &|strum, beat| {
                let (at, heard) = made.heard[strum];
                heard.map_or(0.0, |(own, others)| if at == beat { own } else { others })
            });
            let off = |strum: usize| (made.strums[strum] - made.beats[made.beat]).abs();
            let [first, second] = made.pair;
            let nearer = if off(second) < off(first) {
                second
            } else {
                first
            };
            assert_eq!(
                found.strums[made.beat],
                Some(nearer),
                "case {case}: beats {:?}, strums {:?}",
                made.beats,
                made.strums
            );
        }
    }

    #[test]
    fn spread_is_not_moved_by_one_slip() {
        let even: Vec<f64> = (0..100).map(|i| f64::from(i) - 49.5).collect();
        let found = Spread::of(&even).unwrap();
        assert_eq!(found.middle_ms, 0.0);
        assert!((found.spread_ms - 34.0).abs() < 1.0, "{found:?}");
        let mut slipped = even;
        slipped.push(900.0);
        assert!((Spread::of(&slipped).unwrap().spread_ms - found.spread_ms).abs() < 1.0);
        assert_eq!(Spread::of(&[]), None);
    }

    fn plan(text: &str) -> (Plan, Style) {
        let timing = Timing {
            from_bpm: 60.0,
            to_bpm: 60.0,
            beats: 4,
            bars_each: 1,
            loops: 2,
            count_in_bars: 1,
        };
        let style = Style {
            feel: Feel::Quarters,
            swing: 50.0,
        };
        (
            Plan::new(&Progression::read(text).unwrap(), &timing).unwrap(),
            style,
        )
    }

    #[test]
    fn strums_are_wanted_where_the_chords_are() {
        let (plan, style) = plan("| F . Bb . | N.C. | Bb |");
        let chords = beats(&plan, &style, StrumPlaces::Chord);
        let at: Vec<f64> = chords.iter().map(|b| b.at_s).collect();
        assert_eq!(at, [4.0, 6.0, 12.0, 16.0, 18.0, 24.0]);
        let changes: Vec<bool> = chords.iter().map(|b| b.changes_from.is_some()).collect();
        assert_eq!(changes, [false, true, false, true, true, false]);
        assert_eq!(beats(&plan, &style, StrumPlaces::Beat).len(), 16);
        assert_eq!(beats(&plan, &style, StrumPlaces::Eighth)[1].at_s, 4.5);
    }

    #[test]
    fn the_untidy_change_is_the_one_to_drill() {
        let (plan, style) = plan("F Bb C");
        let mut outcomes: Vec<BeatOutcome> = (beats(&plan, &style, StrumPlaces::Chord).into_iter())
            .map(|beat| BeatOutcome {
                beat,
                off_ms: Some(10.0),
                gap_ms: Some(40.0),
                clean: Some(true),
            })
            .collect();
        assert_eq!(to_drill(&changes(&outcomes)), None, "all is well");
        outcomes[4].off_ms = Some(260.0);
        outcomes[1].off_ms = None;
        let found = changes(&outcomes);
        assert_eq!(found.len(), 3, "F-Bb, Bb-C, C-F");
        let worst = to_drill(&found).unwrap();
        assert_eq!(
            (worst.from.to_string(), worst.to.to_string()),
            ("F".into(), "Bb".into())
        );
        assert_eq!((worst.times, worst.missed), (2, 1));
    }

    fn cost_of(beats: &[f64], strums: &[f64], beat: usize, strum: usize) -> f64 {
        let off = strums[strum] - beats[beat];
        let share = off / gap(beats, beat);
        if (-EARLY_SHARE..=LATE_SHARE).contains(&share) && off.abs() <= REACH_S {
            share.abs()
        } else {
            f64::INFINITY
        }
    }

    /// The least cost of the beats and strums from these on: every way tried.
    fn least(beats: &[f64], strums: &[f64], beat: usize, strum: usize) -> f64 {
        let missed = (beat < beats.len()).then(|| LEFT_OUT + least(beats, strums, beat + 1, strum));
        let extra =
            (strum < strums.len()).then(|| LEFT_OUT + least(beats, strums, beat, strum + 1));
        let both = (beat < beats.len() && strum < strums.len()).then(|| {
            cost_of(beats, strums, beat, strum) + least(beats, strums, beat + 1, strum + 1)
        });
        let ways = [missed, extra, both].into_iter().flatten();
        ways.reduce(f64::min).unwrap_or(0.0)
    }

    /// Moments from the steps between them.
    fn sum(steps: Vec<f64>) -> Vec<f64> {
        let step = |at: &mut f64, step: f64| {
            *at += step;
            Some(*at)
        };
        steps.into_iter().scan(0.0, step).collect()
    }

    proptest! {
        #[test]
        fn each_strum_is_matched_once_and_in_order(
            beats in prop::collection::vec(0.3f64..2.0, 0..12),
            strums in prop::collection::vec(0.05f64..1.5, 0..16),
        ) {
            let (beats, strums) = (sum(beats), sum(strums));
            let found = matched(&beats, &strums, &alike);
            prop_assert_eq!(found.strums.len(), beats.len());
            let used: Vec<usize> = found.strums.iter().flatten().copied().collect();
            prop_assert!(used.windows(2).all(|w| w[0] < w[1]));
            let mut all: Vec<usize> = used.into_iter().chain(found.extra).collect();
            all.sort_unstable();
            prop_assert_eq!(all, (0..strums.len()).collect::<Vec<_>>());
        }

        #[test]
        fn no_other_match_costs_less(
            beats in prop::collection::vec(0.3f64..2.0, 0..6),
            strums in prop::collection::vec(0.05f64..1.5, 0..7),
        ) {
            let (beats, strums) = (sum(beats), sum(strums));
            let found = matched(&beats, &strums, &alike);
            let mut cost = LEFT_OUT * found.extra.len() as f64;
            for (beat, strum) in found.strums.iter().enumerate() {
                cost += strum.map_or(LEFT_OUT, |strum| cost_of(&beats, &strums, beat, strum));
            }
            prop_assert!((cost - least(&beats, &strums, 0, 0)).abs() < 1e-9);
        }
    }
}
