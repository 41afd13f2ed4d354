//! A stream in, pictures and verdicts out while the hand is still in place. The finder, the analyser
//! and so the verdicts are those of a file: what is heard live and what a recording of it gives are
//! the same.

use super::{Analyser, Expected, Settings, Take, Warning};
use crate::take::{Finder, Manner, Strum};

/// Lost sound leaves an attack of its own where the sound comes back; one this near to it is no
/// strum, in seconds: two frames of the onset detector.
const AFTER_LOSS_S: f64 = 0.05;
/// Losses are remembered this long, in seconds: longer than any take.
const REMEMBERED_S: f64 = 30.0;

/// What a [`Listener`] has to say. Takes are told apart by number, in the order of their first
/// pictures; a later word on a number replaces the earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub enum Heard {
    /// A first picture, about half a second after the strum (of a picked pass: after each stroke
    /// from the third on). What needs more sound is unsure in it.
    First { number: u64, take: Take },
    /// The verdict: what a recording of the same sound gives.
    Settled { number: u64, take: Take },
    /// The take has died away or the next one has begun; its sound, for keeping.
    Over {
        number: u64,
        take: Take,
        strum: Strum,
    },
    /// What was shown under this number has turned out to be no take, or part of another.
    Withdrawn { number: u64 },
}

/// Listens to one guitar: planned once, then fed block by block.
pub struct Listener {
    settings: Settings,
    expected: Expected,
    finder: Finder,
    analyser: Analyser,
    /// Samples taken so far.
    position: u64,
    /// Begin and end of what was lost.
    losses: Vec<(u64, u64)>,
    /// Takes that were shown and are not over.
    shown: Vec<Shown>,
    /// The state of the sounding take when it was last looked at.
    looked: Option<(u64, Manner, bool)>,
    next_number: u64,
    strums: Vec<Strum>,
}

struct Shown {
    number: u64,
    first: u64,
    /// The verdict and what it rests on, once settled.
    settled: Option<(Basis, Take)>,
}

/// All that a verdict depends on, but the samples themselves: positions in the stream.
#[derive(PartialEq)]
struct Basis {
    onsets: Vec<u64>,
    manner: Manner,
    end: u64,
}

impl Basis {
    fn of(strum: &Strum) -> Self {
        Basis {
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
    /// A listener for one stream; rate and tuning as in `settings`.
    pub fn new(settings: Settings, expected: Expected) -> Self {
        Listener {
            finder: Finder::new(settings.rate_hz),
            analyser: Analyser::new(settings),
            settings,
            expected,
            position: 0,
            losses: Vec::new(),
            shown: Vec::new(),
            looked: None,
            next_number: 0,
            strums: Vec::new(),
        }
    }

    /// What the takes are held against.
    pub fn expected(&self) -> &Expected {
        &self.expected
    }

    /// What was planned for.
    pub fn settings(&self) -> Settings {
        self.settings
    }

    /// From the next take on another chord is meant.
    pub fn expect(&mut self, expected: Expected) {
        self.expected = expected;
    }

    /// Samples taken so far, lost ones included.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// Takes the next mono samples, in blocks of any length, and adds what they tell to `heard`.
    pub fn push(&mut self, samples: &[f32], heard: &mut Vec<Heard>) {
        // A long block holds more than one moment at which something is to be said.
        let step = (self.settings.rate_hz / 50).max(1) as usize;
        for piece in samples.chunks(step) {
            self.position += piece.len() as u64;
            self.finder.push(piece, &mut self.strums);
            self.give(heard);
            self.look(heard);
        }
    }

    /// So many samples are missing between the last block and the next one. A take that they fall
    /// into is not judged.
    pub fn lost(&mut self, samples: u64, heard: &mut Vec<Heard>) {
        let begin = self.position;
        self.losses.push((begin, begin + samples));
        let forgotten = (REMEMBERED_S * f64::from(self.settings.rate_hz)) as u64;
        self.losses.retain(|l| l.1 + forgotten > begin);
        // Silence keeps the time; after this long nothing sounds on in any case.
        let kept = samples.min(10 * u64::from(self.settings.rate_hz));
        self.push(&vec![0.0; kept as usize], heard);
        self.position = begin + kept;
    }

    /// The stream is over: gives the takes still sounding. The listener then starts over.
    pub fn finish(&mut self, heard: &mut Vec<Heard>) {
        self.finder.finish(&mut self.strums);
        self.give(heard);
        self.withdraw(u64::MAX, heard);
        self.looked = None;
        self.position = 0;
        self.losses.clear();
    }

    /// Hands over the takes that are over.
    fn give(&mut self, heard: &mut Vec<Heard>) {
        for strum in std::mem::take(&mut self.strums) {
            let basis = Basis::of(&strum);
            let first = basis.onsets[0];
            if self.is_loss(first) {
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
                    let take = self.judge(&strum);
                    let number = self.number(&basis, heard);
                    self.shown.retain(|s| s.number != number);
                    heard.push(Heard::Settled {
                        number,
                        take: take.clone(),
                    });
                    (number, take)
                }
            };
            self.withdraw(first, heard);
            heard.push(Heard::Over {
                number,
                take,
                strum,
            });
        }
    }

    /// Looks at the take that is sounding, where that says anything new.
    fn look(&mut self, heard: &mut Vec<Heard>) {
        let Some(open) = self.finder.open() else {
            if self.looked.take().is_some() {
                self.withdraw(u64::MAX, heard);
            }
            return;
        };
        let state = (open.last, open.manner, open.complete);
        if self.looked == Some(state) || self.is_loss(open.first) {
            return;
        }
        self.looked = Some(state);
        let mut found = Vec::new();
        self.finder.peek(&mut found);
        let Some(strum) = found.pop() else { return };
        let take = self.judge(&strum);
        let basis = Basis::of(&strum);
        let number = self.number(&basis, heard);
        let Some(shown) = self.shown.iter_mut().find(|s| s.number == number) else {
            return;
        };
        heard.push(if open.complete {
            shown.settled = Some((basis, take.clone()));
            Heard::Settled { number, take }
        } else {
            shown.settled = None;
            Heard::First { number, take }
        });
    }

    /// The number under which this take is shown. What was shown of parts of it is withdrawn.
    fn number(&mut self, basis: &Basis, heard: &mut Vec<Heard>) -> u64 {
        let (first, last) = (basis.onsets[0], basis.onsets[basis.onsets.len() - 1]);
        let mut number = None;
        self.shown.retain_mut(|s| {
            if !(first..=last).contains(&s.first) {
                return true;
            }
            if number.is_none() {
                number = Some(s.number);
                s.first = first;
                return true;
            }
            heard.push(Heard::Withdrawn { number: s.number });
            false
        });
        number.unwrap_or_else(|| {
            let number = self.next_number;
            self.next_number += 1;
            self.shown.push(Shown {
                number,
                first,
                settled: None,
            });
            number
        })
    }

    /// Withdraws what was shown of takes before a position that never came.
    fn withdraw(&mut self, before: u64, heard: &mut Vec<Heard>) {
        self.shown.retain(|s| {
            if s.first < before {
                heard.push(Heard::Withdrawn { number: s.number });
            }
            s.first >= before
        });
    }

    fn is_loss(&self, onset: u64) -> bool {
        let near = (AFTER_LOSS_S * f64::from(self.settings.rate_hz)) as u64;
        self.losses
            .iter()
            .any(|&(begin, end)| (begin.saturating_sub(near)..=end + near).contains(&onset))
    }

    fn judge(&mut self, strum: &Strum) -> Take {
        let needed = (Strum::JUDGED_S * f64::from(strum.rate_hz)) as u64;
        let end = strum.first + strum.onsets[strum.onsets.len() - 1] as u64 + needed;
        let lost: u64 = self
            .losses
            .iter()
            .map(|&(b, e)| e.min(end).saturating_sub(b.max(strum.first)))
            .sum();
        if lost == 0 {
            return self.expected.judge(&mut self.analyser, strum);
        }
        let seconds = lost as f32 / strum.rate_hz as f32;
        self.expected
            .not_judged(strum, Warning::SoundLost { seconds })
    }
}
