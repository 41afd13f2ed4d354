//! A stream in, pictures and verdicts out while the hand is still in place. The finder, the analyser
//! and so the verdicts are those of a file: what is heard live and what a recording of it gives are
//! the same.

use crate::strings::Learnt;
use crate::take::{Finder, Manner, Take};
use crate::verdict::{Analyser, AnalyserSettings, Expected, History, JudgedTake, Warning};

/// Lost sound leaves an attack of its own where the sound comes back; one this near to it is no
/// strum, in seconds: two frames of the onset detector.
const AFTER_LOSS_S: f64 = 0.05;
/// Silence stands for lost sound and keeps the time, for this long at most, in seconds: after it
/// nothing sounds on in any case.
const KEPT_LOSS_S: f64 = 10.0;
/// Losses are remembered this long, in seconds: longer than any take.
const REMEMBERED_S: f64 = 30.0;

/// Message of a [`Listener`]. Takes are told apart by number, in the order of their first
/// pictures; a later word on a number replaces the earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub enum Message {
    /// A first guess, about half a second after the strum (of a picked pass: after each stroke
    /// from the third on). What needs more sound is unsure in it.
    First {
        /// Number of the take, from 1.
        number: u64,
        /// Take as far as it can be told.
        take: JudgedTake,
    },
    /// The verdict: what a recording of the same sound gives.
    Settled {
        /// Number of the take, from 1.
        number: u64,
        /// The take judged.
        take: JudgedTake,
    },
    /// The next take has begun: this one's sound is all there, though what it was may still change.
    Cut {
        /// Number of the take, from 1.
        number: u64,
        /// The take judged.
        take: JudgedTake,
        /// Its sound, up to the next take.
        strum: Take,
    },
    /// The take has died away or the next one has begun, and nothing can change it any more; its
    /// sound, for keeping.
    Over {
        /// Number of the take, from 1.
        number: u64,
        /// The take judged.
        take: JudgedTake,
        /// Its sound.
        strum: Take,
    },
    /// Withdrawal of what was shown under this number: it is no take, or part of another.
    Withdrawn {
        /// Number of the take, from 1.
        number: u64,
    },
}

/// Listens to one guitar: planned once, then fed block by block.
pub struct Listener {
    settings: AnalyserSettings,
    told: ListenerSettings,
    finder: Finder,
    analyser: Analyser,
    /// Samples taken so far.
    position: u64,
    /// Begin and end of what was lost.
    losses: Vec<(u64, u64)>,
    /// Takes that were shown and are not over.
    shown: Vec<Shown>,
    /// The state of the sounding take when it was last looked at.
    looked: Option<(u64, Manner, (bool, bool))>,
    next_number: u64,
    strums: Vec<Take>,
    /// Seconds of the streams before this one.
    earlier_s: f64,
    /// Takes struck before this position are not the player's.
    deaf_until: u64,
    /// The last takes that are over.
    history: History,
}

/// What a listener is told of the sound: it outlasts a stream.
#[derive(Clone)]
struct ListenerSettings {
    expected: Expected,
    /// What was learnt of the guitar.
    learnt: Learnt,
    /// Whether music is heard beside the strings.
    beside_music: bool,
}

struct Shown {
    number: u64,
    first: u64,
    /// The verdict and what it rests on, once settled.
    settled: Option<(Basis, JudgedTake)>,
    /// Whether it was said that the next take has begun.
    cut: bool,
}

/// All that a verdict depends on, but the samples themselves: positions in the stream.
#[derive(PartialEq)]
struct Basis {
    onsets: Vec<u64>,
    manner: Manner,
    end: u64,
    /// Where the sound ends that buzz is listened for in, once nothing can be added to it; before, as `end`.
    buzz_end: u64,
    /// When the take before it began, in seconds: advice looks back.
    after_s: Option<f64>,
}

impl Basis {
    /// Of a strum whose sound is all there, where `whole`.
    fn of(strum: &Take, whole: bool, history: &[JudgedTake]) -> Self {
        let most = (Take::BUZZ_S * f64::from(strum.rate_hz)) as usize;
        let buzz_end = match whole || strum.samples.len() >= strum.onsets[0] + most {
            true => strum.buzz_end(),
            false => strum.judged_end(),
        };
        Basis {
            buzz_end: strum.first + buzz_end as u64,
            after_s: history.last().map(|take| take.start_s),
            onsets: strum
                .onsets
                .iter()
                .map(|&o| strum.first + o as u64)
                .collect(),
            manner: strum.manner,
            end: strum.first + strum.judged_end() as u64,
        }
    }
}

impl Listener {
    /// A strum is settled about so long after it was struck, in seconds: what it is judged by, and the
    /// 0.06 that the onset detector needs to be sure that nothing follows.
    pub const SETTLES_S: f64 = Take::JUDGED_S + 0.06;

    /// A listener for one stream; rate and tuning as in `settings`.
    pub fn new(settings: AnalyserSettings, expected: Expected) -> Self {
        Self::of(
            settings,
            ListenerSettings {
                expected,
                learnt: Learnt::default(),
                beside_music: false,
            },
        )
    }

    fn of(settings: AnalyserSettings, told: ListenerSettings) -> Self {
        let mut finder = told.expected.finder(settings.rate_hz, &settings.tuning);
        finder.beside_music(told.beside_music);
        let mut analyser = Analyser::new(settings);
        analyser.refine(told.learnt);
        Listener {
            finder,
            analyser,
            settings,
            told,
            position: 0,
            losses: Vec::new(),
            shown: Vec::new(),
            looked: None,
            next_number: 1,
            strums: Vec::new(),
            earlier_s: 0.0,
            deaf_until: 0,
            history: History::default(),
        }
    }

    /// Judges takes from now on by what was learnt of the guitar too.
    pub fn refine(&mut self, learnt: Learnt) {
        self.told.learnt = learnt;
        self.analyser.refine(learnt);
    }

    /// Expects music beside the strings from now on, or no more.
    pub fn beside_music(&mut self, beside: bool) {
        self.told.beside_music = beside;
        self.finder.beside_music(beside);
    }

    /// Gives what the takes are held against.
    pub fn expected(&self) -> &Expected {
        &self.told.expected
    }

    /// Gives what was planned for.
    pub fn settings(&self) -> AnalyserSettings {
        self.settings
    }

    /// Expects another chord from the next take on.
    pub fn expect(&mut self, expected: Expected) {
        expected.tell(&mut self.finder, &self.settings.tuning);
        self.told.expected = expected;
    }

    /// Takes struck in the next seconds are not the player's: the program itself is heard.
    pub fn ignore(&mut self, seconds: f64) {
        let samples = (seconds * f64::from(self.settings.rate_hz)) as u64;
        self.deaf_until = self.deaf_until.max(self.position + samples);
    }

    /// Samples taken so far, lost ones included (ten seconds of a longer loss).
    pub fn position(&self) -> u64 {
        self.position
    }

    /// Seconds of sound taken so far, those of earlier streams included.
    pub fn now_s(&self) -> f64 {
        self.earlier_s + self.position as f64 / f64::from(self.settings.rate_hz)
    }

    /// Takes the next mono samples, in blocks of any length, and adds what they tell to `heard`.
    pub fn push(&mut self, samples: &[f32], heard: &mut Vec<Message>) {
        // A long block holds more than one moment at which something is to be said.
        let step = (self.settings.rate_hz / 50).max(1) as usize;
        for piece in samples.chunks(step) {
            self.position += piece.len() as u64;
            self.finder.push(piece, &mut self.strums);
            self.give(heard);
            self.look(heard);
        }
    }

    /// Skips samples that are missing between the last block and the next one. A take that they fall
    /// into is not judged.
    pub fn lost(&mut self, samples: u64, heard: &mut Vec<Message>) {
        let span = |seconds: f64| (seconds * f64::from(self.settings.rate_hz)) as u64;
        let begin = self.position;
        let kept = samples.min(span(KEPT_LOSS_S));
        let forgotten = span(REMEMBERED_S);
        self.losses.retain(|l| l.1 + forgotten > begin);
        self.losses.push((begin, begin + kept));
        self.push(&vec![0.0; kept as usize], heard);
    }

    /// The stream is over: gives the takes still sounding.
    pub fn finish(&mut self, heard: &mut Vec<Message>) {
        self.finder.finish(&mut self.strums);
        self.give(heard);
        self.withdraw(u64::MAX, heard);
    }

    /// Goes on with another stream; time and numbers go on as well. To be called after
    /// [`finish`](Listener::finish).
    pub fn go_on(&mut self, rate_hz: u32) {
        let settings = AnalyserSettings {
            rate_hz,
            ..self.settings
        };
        *self = Listener {
            next_number: self.next_number,
            earlier_s: self.now_s(),
            history: std::mem::take(&mut self.history),
            ..Listener::of(settings, self.told.clone())
        };
    }

    /// Hands over the takes that are over.
    fn give(&mut self, heard: &mut Vec<Message>) {
        for strum in std::mem::take(&mut self.strums) {
            let basis = Basis::of(&strum, true, &self.history);
            let first = basis.onsets[0];
            if self.is_not_played(first) {
                continue;
            }
            let known = self
                .shown
                .iter()
                .position(|s| s.settled.as_ref().is_some_and(|(b, _)| *b == basis));
            let (number, take) = match known.map(|i| self.shown.remove(i)) {
                Some(Shown {
                    number,
                    settled: Some((_, take)),
                    ..
                }) => (number, take),
                _ => {
                    let history = self.history.clone();
                    let take = self.judge(&strum, &history);
                    let number = self.number(&basis, heard);
                    let told =
                        |s: &Shown| s.settled.as_ref().is_some_and(|(_, told)| *told == take);
                    let is_told = self.shown.iter().any(|s| s.number == number && told(s));
                    self.shown.retain(|s| s.number != number);
                    if !is_told {
                        heard.push(Message::Settled {
                            number,
                            take: take.clone(),
                        });
                    }
                    (number, take)
                }
            };
            self.withdraw(first, heard);
            self.history.remember(take.clone());
            heard.push(Message::Over {
                number,
                take,
                strum,
            });
        }
    }

    /// Looks at the take that is sounding, where that says anything new.
    fn look(&mut self, heard: &mut Vec<Message>) {
        let Some(open) = self.finder.open() else {
            if self.looked.take().is_some() {
                self.withdraw(u64::MAX, heard);
            }
            return;
        };
        let buzz = (Take::BUZZ_S * f64::from(self.settings.rate_hz)) as u64;
        let long = self.position >= open.last + buzz;
        let state = (open.last, open.manner, (open.complete, long));
        if self.looked == Some(state) {
            return;
        }
        self.looked = Some(state);
        let mut found = Vec::new();
        self.finder.peek(&mut found);
        // Before the one that sounds there may be some that could yet become part of something else.
        let mut history = self.history.clone();
        let before = found.len().saturating_sub(1);
        for (at, strum) in found.iter().enumerate() {
            if self.is_not_played(strum.first + strum.onsets[0] as u64) {
                continue;
            }
            let cut = at < before;
            if let Some(take) = self.show(strum, (cut, open.complete), &history, heard) {
                if cut {
                    self.show_cut(strum, &take, heard);
                }
                history.remember(take);
            }
        }
    }

    /// Tells what is known of a take that is not over, and gives it: of one whose sound is all there since the next one has
    /// begun (`cut`), or enough of it for a verdict (`complete`).
    fn show(
        &mut self,
        strum: &Take,
        (cut, complete): (bool, bool),
        history: &[JudgedTake],
        heard: &mut Vec<Message>,
    ) -> Option<JudgedTake> {
        let complete = complete || cut;
        let basis = Basis::of(strum, cut, history);
        let mut settled = self.shown.iter().filter_map(|s| s.settled.as_ref());
        if let Some((_, take)) = settled.find(|(known, _)| *known == basis) {
            return Some(take.clone());
        }
        let take = self.judge(strum, history);
        let number = self.number(&basis, heard);
        let shown = self.shown.iter_mut().find(|s| s.number == number)?;
        let settled = complete.then(|| (basis, take.clone()));
        let before = std::mem::replace(&mut shown.settled, settled);
        // What goes on sounding without a late buzz changes nothing.
        if before.is_none_or(|(_, before)| before != take) {
            let told = take.clone();
            heard.push(match complete {
                true => Message::Settled { number, take: told },
                false => Message::First { number, take: told },
            });
        }
        Some(take)
    }

    /// Tells once that a take has been followed by the next one.
    fn show_cut(&mut self, strum: &Take, take: &JudgedTake, heard: &mut Vec<Message>) {
        let first = strum.first + strum.onsets[0] as u64;
        let mut untold = self.shown.iter_mut().filter(|s| !s.cut);
        if let Some(shown) = untold.find(|s| s.first == first) {
            shown.cut = true;
            heard.push(Message::Cut {
                number: shown.number,
                take: take.clone(),
                strum: strum.clone(),
            });
        }
    }

    /// The number under which this take is shown. What was shown of parts of it is withdrawn.
    fn number(&mut self, basis: &Basis, heard: &mut Vec<Message>) -> u64 {
        let (first, last) = (basis.onsets[0], basis.onsets[basis.onsets.len() - 1]);
        let mut number = None;
        self.shown.retain_mut(|s| {
            if !(first..=last).contains(&s.first) {
                return true;
            }
            if number.is_none() {
                number = Some(s.number);
                s.cut &= s.first == first;
                s.first = first;
                return true;
            }
            heard.push(Message::Withdrawn { number: s.number });
            false
        });
        number.unwrap_or_else(|| {
            let number = self.next_number;
            self.next_number += 1;
            self.shown.push(Shown {
                number,
                first,
                settled: None,
                cut: false,
            });
            number
        })
    }

    /// Withdraws what was shown of takes before a position that never came.
    fn withdraw(&mut self, before: u64, heard: &mut Vec<Message>) {
        self.shown.retain(|s| {
            if s.first < before {
                heard.push(Message::Withdrawn { number: s.number });
            }
            s.first >= before
        });
    }

    /// What begins here is lost sound that comes back, or the program itself.
    fn is_not_played(&self, onset: u64) -> bool {
        let near = (AFTER_LOSS_S * f64::from(self.settings.rate_hz)) as u64;
        let lost =
            |&(begin, end): &(u64, u64)| (begin.saturating_sub(near)..=end + near).contains(&onset);
        onset < self.deaf_until || self.losses.iter().any(lost)
    }

    fn judge(&mut self, strum: &Take, history: &[JudgedTake]) -> JudgedTake {
        let needed = (Take::JUDGED_S * f64::from(strum.rate_hz)) as u64;
        let end = strum.first + strum.onsets[strum.onsets.len() - 1] as u64 + needed;
        let lost: u64 = self
            .losses
            .iter()
            .map(|&(b, e)| e.min(end).saturating_sub(b.max(strum.first)))
            .sum();
        let mut take = match lost {
            0 => self.told.expected.judge(&mut self.analyser, strum, history),
            _ => {
                let seconds = lost as f32 / strum.rate_hz as f32;
                let why = Warning::SoundLost { seconds };
                self.told.expected.not_judged(strum, why)
            }
        };
        take.start_s += self.earlier_s;
        take
    }
}
