//! A recording of somebody playing along, judged: every strum at its beat, string by string.
//!
//! The steps: find the start; take the backing out of the recording; find the strums; drop those that bring much
//! less that is new than the others, and add onsets of the finder that bring as much (`attacks`). Then put each
//! strum's first stroke to the millisecond (`first_stroke`), match strums to beats in order (`timing`), and judge
//! each strum. A strum that was found twice is joined. "New" is what linear prediction foretells neither from the
//! tenth of a second before nor from the whole recording.

use std::collections::HashMap;

use super::attacks::{Sought, joined};
use super::backing::Plan;
use super::bleed::{Bleed, NOTHING_DB, TOO_LOUD_DB, TakenOut, bleed};
#[cfg(feature = "measuring")]
use super::first_stroke::{BEFORE, StrumSounds, hear_each};
use super::first_stroke::{Network, first_strokes, longest_strum_s};
use super::gap::silence_before_next;
use super::hand::HandWeights;
use super::route::{Limits, RouteError, route};
use super::span::Span;
use super::start::{Start, StartSource, best_fit, from_backing};
use super::timing::{Beat, BeatOutcome, Matched, matched};
use crate::audio::Mono;
use crate::fretboard::{Frets, Tuning};
use crate::strings::Learnt;
use crate::verdict::{
    ALL_STRINGS, Analyser, AnalyserSettings, Expected, ExpectedVoicing, History, JudgedTake, clean,
};

/// A strum that comes no more than so many seconds after its beat is late, not missed: as long as a hand takes
/// over the strings twice. A choice.
const LATE_S: f64 = 0.1;
/// Who strikes so many beats before the first one has begun to play.
pub(super) const HALF_A_BEAT: f64 = 0.5;

/// Part that is played: beats at which strums are wanted, and the voicing of each chord of the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The progression in time.
    pub plan: Plan,
    /// The beats at which strums are wanted, in order.
    pub beats: Vec<Beat>,
    /// Frets of each chord of the plan; none where nothing is played.
    pub voicings: Vec<Option<Frets>>,
    /// Tuning and capo that it is played in.
    pub tuning: Tuning,
    /// Offsets learnt of the guitar that it is played on.
    pub learnt: Learnt,
}

impl Part {
    /// Moment of the first strum that is wanted, in seconds from the start of the count-in.
    pub fn first_beat_s(&self) -> f64 {
        self.beats.first().map_or(0.0, |beat| beat.at_s)
    }

    /// The least time from a strum wanted to the next, in seconds; endless where no two are.
    pub fn closest_s(&self) -> f64 {
        let apart = self.beats.windows(2).map(|b| b[1].at_s - b[0].at_s);
        apart.fold(f64::INFINITY, f64::min)
    }

    /// Gives what is played along with a plan: where strums are wanted, in the voicings of the route over one
    /// loop. `closed`: the way back to the beginning counts though there is but one loop.
    ///
    /// # Errors
    /// Where there is no route.
    pub fn new(
        plan: Plan,
        beats: Vec<Beat>,
        limits: &Limits,
        weights: &HandWeights,
        closed: bool,
        tuning: Tuning,
    ) -> Result<Part, RouteError> {
        let once = plan.placed.iter().filter(|p| p.bar < plan.loop_bars);
        let closed = closed || plan.placed.len() > once.clone().count();
        let chords: Vec<_> = once.filter_map(|p| p.chord).collect();
        let way = route(&chords, limits, weights, closed, &tuning)?;
        let mut steps = way.steps.iter().cycle();
        let voicings = (plan.placed.iter())
            .map(|placed| {
                placed.chord?;
                steps.next().map(|step| step.voicing.frets)
            })
            .collect();
        Ok(Part {
            plan,
            beats,
            voicings,
            tuning,
            learnt: Learnt::default(),
        })
    }

    /// A chord of the plan as what takes are held against; `None` where nothing is played.
    pub fn expected(&self, placed: usize) -> Option<Expected> {
        let frets = self.voicings.get(placed).copied().flatten()?;
        let chord = self.plan.placed[placed].chord.map(|c| c.to_string());
        Some(Expected::Named(ExpectedVoicing::usual(
            frets,
            chord,
            &self.tuning,
        )))
    }

    /// The beat nearest to a moment, in seconds from the start of the count-in.
    pub fn nearest(&self, at_s: f64) -> Option<&Beat> {
        let after = self.beats.partition_point(|beat| beat.at_s < at_s);
        let before = after.checked_sub(1).map(|before| &self.beats[before]);
        match (before, self.beats.get(after)) {
            (Some(before), Some(next)) if at_s - before.at_s < next.at_s - at_s => Some(before),
            (before, next) => next.or(before),
        }
    }
}

/// Knowledge of the start beforehand: where the count-in starts, in seconds from the start of the
/// recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beginning {
    /// Here.
    At(f64),
    /// About here, as clocks say: where the backing is heard nearby, that counts.
    Near(f64),
    /// Start between two moments.
    Between(f64, f64),
}

impl Beginning {
    /// Anywhere.
    pub const UNKNOWN: Self = Beginning::Between(f64::NEG_INFINITY, f64::INFINITY);

    /// Describes a backing that this program played from `began_s` on and that is heard so much later, where
    /// that was measured; else the backing decides, or the strums of somebody who may be early throughout.
    pub fn live(began_s: f64, delay_s: Option<f64>) -> Self {
        match delay_s {
            Some(delay_s) => Beginning::Near(began_s + delay_s),
            None => Beginning::Between(began_s - CLOCKS_S, began_s + LONGEST_DELAY_S),
        }
    }

    /// From where to where the start may lie.
    pub(super) fn range(self) -> std::ops::RangeInclusive<f64> {
        match self {
            Beginning::At(at_s) => at_s..=at_s,
            Beginning::Near(at_s) => at_s - CLOCKS_S..=at_s + CLOCKS_S,
            Beginning::Between(from_s, to_s) => from_s..=to_s,
        }
    }
}

/// Longest time from playing to hearing, in seconds (a choice; wireless headphones take
/// a quarter of a second).
pub const LONGEST_DELAY_S: f64 = 0.6;
/// Clocks of loudspeaker and microphone are off by no more than this, in seconds: two blocks of either,
/// and a loudspeaker across a room.
const CLOCKS_S: f64 = 0.15;

/// A recording judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Performance {
    /// Place where the count-in starts in the recording, and what told it.
    pub start: Start,
    /// One for each beat.
    pub outcomes: Vec<BeatOutcome>,
    /// Beats left out because playing was broken off before them.
    pub not_reached: usize,
    /// The take at each beat, where there was one.
    pub takes: Vec<Option<JudgedTake>>,
    /// Strums that belong to no beat, in seconds from the start of the recording; what is struck during
    /// the count-in or after the end is nobody's business.
    pub extra_s: Vec<f64>,
    /// The backing's level in the recording, in dB against everything, where it could be measured.
    pub bleed_db: Option<f64>,
}

impl Performance {
    /// Tells whether the backing is so loud in the microphone that verdicts cannot be trusted.
    pub fn backing_too_loud(&self) -> bool {
        self.bleed_db.is_some_and(|db| db > TOO_LOUD_DB)
    }

    /// Leaves out the beats behind the end of the recording, in seconds, and those just before it, whose strum
    /// may have been late: nobody missed them.
    pub fn end_at(&mut self, length_s: f64) {
        let latest_s = length_s - self.start.at_s - LATE_S;
        let is_reached = |o: &BeatOutcome| o.beat.at_s < latest_s || o.off_ms.is_some();
        let reached = self
            .outcomes
            .iter()
            .rposition(is_reached)
            .map_or(0, |last| last + 1);
        self.not_reached += self.outcomes.len() - reached;
        self.outcomes.truncate(reached);
        self.takes.truncate(reached);
    }
}

/// Judges a recording. `backing`: at the recording's rate, from the start of its count-in, where it may be heard.
/// Both are read by range, so that no more than a few seconds of a long one are held. `None` where no strum is found.
pub fn judge(
    recording: &dyn Mono,
    rate_hz: u32,
    part: &Part,
    beginning: Beginning,
    backing: Option<&dyn Mono>,
) -> Option<Performance> {
    let network = Network::built_in();
    judge_by(&network, recording, rate_hz, part, beginning, backing)
}

/// The same with a network of one's own for first strokes, as measuring needs.
pub fn judge_by(
    network: &Network,
    recording: &dyn Mono,
    rate_hz: u32,
    part: &Part,
    beginning: Beginning,
    backing: Option<&dyn Mono>,
) -> Option<Performance> {
    let beats_s: Vec<f64> = part.beats.iter().map(|b| b.at_s).collect();
    let told = |at_s: f64| Start {
        at_s,
        found: StartSource::Told,
        sure: 1.0,
    };
    let by_backing = || from_backing(recording, backing?, rate_hz, beginning.range());
    let known = match beginning {
        Beginning::At(at_s) => Some(told(at_s)),
        Beginning::Near(at_s) => Some(by_backing().unwrap_or(told(at_s))),
        Beginning::Between(..) => by_backing(),
    };
    // Where the backing is heard it is taken out first: its strokes come on the very beats.
    let heard =
        (known.zip(backing)).and_then(|(start, b)| bleed(recording, b, start.at_s, rate_hz));
    let bleed_db = heard.as_ref().map(|h| h.level_db);
    let heard = Separated::of(recording, heard.as_ref());
    let longest_s = longest_strum_s(part.closest_s());
    let (strums, strums_s) = heard.strums(network, rate_hz, longest_s);
    if strums.is_empty() {
        return None;
    }
    let mut judge = PartJudge::new(part, heard.sound, rate_hz);
    let mut by_strums = || {
        // Many starts hold the same strum against the same chord.
        let mut fits = HashMap::new();
        best_fit(
            &strums_s,
            &beats_s,
            beginning.range(),
            &mut |strum, beat| {
                let beat = &part.beats[beat];
                *fits
                    .entry((strum, part.voicings[beat.placed], beat.chord))
                    .or_insert_with(|| judge.fit(&strums[strum], beat))
            },
        )
    };
    let start = match known {
        Some(start) if start.sure >= 1.0 => start,
        Some(faint) => {
            let surer = |fit: &Start| fit.sure > faint.sure && !fit.is_near(&faint);
            if by_strums().is_some_and(|fit| surer(&fit)) {
                // What was heard faintly, and taken out, was no backing.
                return judge_by(network, recording, rate_hz, part, beginning, None);
            }
            faint
        }
        None => by_strums()?,
    };
    let from_start: Vec<f64> = strums_s.iter().map(|at| at - start.at_s).collect();
    let found = judge.match_up(&strums, &from_start, &beats_s);
    let (outcomes, takes) = judge.outcomes(&strums, &from_start, &found);
    let grid = &part.plan.grid;
    let played = grid.seconds(-HALF_A_BEAT)..grid.end_s();
    Some(Performance {
        start,
        outcomes,
        takes,
        not_reached: 0,
        extra_s: (found.extra.iter())
            .filter(|i| played.contains(&from_start[**i]))
            .map(|i| strums_s[*i])
            .collect(),
        bleed_db,
    })
}

/// Hearing of a recording.
pub(super) struct Separated<'a> {
    /// The playing alone.
    pub(super) sound: &'a dyn Mono,
    /// The backing, where it was taken out.
    taken_out: Option<TakenOut<'a>>,
}

impl<'a> Separated<'a> {
    pub(super) fn of(recording: &'a dyn Mono, bleed: Option<&'a Bleed>) -> Self {
        let Some(bleed) = bleed.filter(|bleed| bleed.level_db > NOTHING_DB) else {
            return Separated {
                sound: recording,
                taken_out: None,
            };
        };
        let without = &bleed.without;
        let taken_out = Some(TakenOut { recording, without });
        Separated {
            sound: without,
            taken_out,
        }
    }

    /// The backing that was taken out.
    pub(super) fn backing(&self) -> Option<&dyn Mono> {
        self.taken_out.as_ref().map(|taken_out| taken_out as _)
    }

    /// The strums that are sought by their sound alone.
    pub(super) fn sought(&self, rate_hz: u32) -> Vec<Span> {
        Sought::of(self.sound, rate_hz).strums(self.sound, rate_hz, self.backing())
    }

    /// The strums, none of which takes longer than `longest_s`, and when the first stroke of each fell, in
    /// seconds.
    fn strums(&self, network: &Network, rate_hz: u32, longest_s: f64) -> (Vec<Span>, Vec<f64>) {
        let strums = self.sought(rate_hz);
        let found_s = starts_s(&strums, rate_hz);
        let backing = self.backing();
        let strums_s = first_strokes(network, self.sound, rate_hz, &found_s, longest_s, backing);
        joined(strums, strums_s, longest_s)
    }
}

/// When the finder has strums begin, in seconds.
fn starts_s(strums: &[Span], rate_hz: u32) -> Vec<f64> {
    strums.iter().map(|strum| strum.start_s(rate_hz)).collect()
}

/// Gives what the network for first strokes hears of each strum of a recording, and when the finder has it begin, in
/// seconds: to learn from. `backing` starts at so many seconds; strums are wanted so many from each other.
#[cfg(feature = "measuring")]
pub fn heard(
    recording: &dyn Mono,
    rate_hz: u32,
    backing: Option<(&dyn Mono, f64)>,
    closest_s: f64,
) -> Vec<(f64, StrumSounds)> {
    let bleed = backing.and_then(|(b, start_s)| bleed(recording, b, start_s, rate_hz));
    let heard = Separated::of(recording, bleed.as_ref());
    let found_s = starts_s(&heard.sought(rate_hz), rate_hz);
    let mut all = Vec::new();
    let longest_s = longest_strum_s(closest_s);
    hear_each(
        heard.sound,
        rate_hz,
        &found_s,
        longest_s,
        heard.backing(),
        |sounds, _| {
            all.push(sounds.clone());
            BEFORE as f32
        },
    );
    found_s.into_iter().zip(all).collect()
}

/// Holds strums against the chords of a part.
struct PartJudge<'a> {
    part: &'a Part,
    /// In which the strums lie.
    sound: &'a dyn Mono,
    analyser: Analyser,
}

impl<'a> PartJudge<'a> {
    /// Plans an analyser for the part's tuning and strums of `sound`.
    fn new(part: &'a Part, sound: &'a dyn Mono, rate_hz: u32) -> Self {
        let tuning = part.tuning;
        let mut analyser = Analyser::new(AnalyserSettings { tuning, rate_hz });
        analyser.refine(part.learnt);
        PartJudge {
            part,
            sound,
            analyser,
        }
    }

    fn rate_hz(&self) -> u32 {
        self.analyser.settings().rate_hz
    }

    /// The take of a strum held against the chord of a beat; `history`: the takes before it.
    fn take(&mut self, strum: &Span, beat: &Beat, history: &[JudgedTake]) -> Option<JudgedTake> {
        let expected = self.part.expected(beat.placed)?;
        let strum = strum.read(self.sound, self.rate_hz());
        Some(expected.judge(&mut self.analyser, &strum, history))
    }

    /// How well a beat's chord fits a strum, 0 to 1: the share of its strings that ring.
    fn fit(&mut self, strum: &Span, beat: &Beat) -> f64 {
        let Some(take) = self.take(strum, beat, &[]) else {
            return 0.5;
        };
        if take.is_another_chord() {
            return 0.0;
        }
        if !take.judged() {
            return 0.5;
        }
        let wanted = take.strings.iter().filter(|s| s.expected_fret.is_some());
        let count = wanted.clone().count().max(1) as f64;
        wanted.map(|s| f64::from(s.rings)).sum::<f64>() / count
    }

    /// Which strum belongs to which beat. Where a strum may belong to beats of two chords, what is heard
    /// has a say.
    fn match_up(&mut self, strums: &[Span], strums_s: &[f64], beats_s: &[f64]) -> Matched {
        let mut heard: Vec<Vec<(usize, f64)>> = vec![Vec::new(); strums.len()];
        for (index, at) in strums_s.iter().enumerate() {
            let after = beats_s.partition_point(|beat| beat < at);
            let Some(before) = after.checked_sub(1).filter(|_| after < beats_s.len()) else {
                continue;
            };
            let (one, two) = (&self.part.beats[before], &self.part.beats[after]);
            // Near to one of them there is no question.
            let share = (at - one.at_s) / (two.at_s - one.at_s).max(1e-6);
            if one.chord == two.chord || !(0.2..=0.8).contains(&share) {
                continue;
            }
            let fits = [one, two].map(|beat| self.fit(&strums[index], beat));
            heard[index] = vec![(before, 1.0 - fits[0]), (after, 1.0 - fits[1])];
        }
        matched(beats_s, strums_s, &|strum, beat| {
            let known = heard[strum].iter().find(|(b, _)| *b == beat);
            known.map_or(0.0, |(_, other)| *other)
        })
    }

    fn outcomes(
        &mut self,
        strums: &[Span],
        strums_s: &[f64],
        found: &Matched,
    ) -> (Vec<BeatOutcome>, Vec<Option<JudgedTake>>) {
        let part = self.part;
        let (mut outcomes, mut takes) = (Vec::new(), Vec::new());
        let mut history = History::default();
        for (index, (beat, strum)) in part.beats.iter().zip(&found.strums).enumerate() {
            let before = index.checked_sub(1).and_then(|i| found.strums[i]);
            let take = strum.and_then(|i| self.take(&strums[i], beat, &history));
            if let Some(take) = &take {
                history.remember(take.clone());
            }
            outcomes.push(BeatOutcome {
                beat: *beat,
                off_ms: strum.map(|i| (strums_s[i] - beat.at_s) * 1e3),
                gap_ms: strum
                    .filter(|_| beat.changes_from.is_some() && before.is_some())
                    .and_then(|i| {
                        let before = &strums[i.checked_sub(1)?];
                        silence_before_next(before, self.sound, self.rate_hz())
                    })
                    .map(|s| s * 1e3),
                clean: take.as_ref().and_then(|take| clean(take, &ALL_STRINGS)),
            });
            takes.push(take);
        }
        (outcomes, takes)
    }
}
