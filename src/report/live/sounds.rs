//! What a session plays: a short tone for each outcome, and how the clean chord sounds.

use std::collections::HashMap;
use std::sync::mpsc;
use std::thread;

use rand::SeedableRng;
use rand::rngs::SmallRng;

use crate::audio::at_rate;
use crate::audio::live::Sink;
use crate::fretboard::{Frets, Tuning};
use crate::synth::instrument::Instrument;
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::strum::{Deed, Part, Stroke, strum};
use crate::verdict::Take;

/// Level of tones and reference, as a peak: a quarter of full scale, so that nobody is startled.
const PEAK: f32 = 0.25;
/// Length of a tone and of the gap between two, in seconds.
const TONE_S: f64 = 0.12;
const GAP_S: f64 = 0.05;
/// Every string as it should be: one high tone. Pure tones: the listener takes no pure tone for a
/// string.
const GOOD_HZ: f64 = 1_320.0;
/// Something to look at: two low ones.
const FAULT_HZ: f64 = 330.0;
/// Not judged: one in between.
const OPEN_HZ: f64 = 660.0;
/// Length of the reference after its last string, in seconds.
const REFERENCE_S: f64 = 2.5;
/// Sound takes this long through loudspeaker, room and microphone at most, in seconds (measured
/// delays of sound systems lie between 0.02 and 0.3: from memory).
const ROUND_TRIP_S: f64 = 0.4;

/// Plays for a session. Makes each reference once, beside the session.
pub struct Sounds {
    sink: Box<dyn Sink>,
    tuning: Tuning,
    made: HashMap<Frets, Vec<f32>>,
    making: Option<(Frets, mpsc::Receiver<Vec<f32>>)>,
    /// Whether the reference is to be played as soon as it is made.
    wanted: bool,
    /// A backing that is being played, and how much of it is queued.
    backing: Option<(Vec<f32>, usize)>,
}

impl Sounds {
    pub fn new(sink: Box<dyn Sink>, tuning: Tuning) -> Self {
        Sounds {
            sink,
            tuning,
            made: HashMap::new(),
            making: None,
            wanted: false,
            backing: None,
        }
    }

    /// Samples a second of the loudspeaker, Hz.
    pub fn rate_hz(&self) -> u32 {
        self.sink.rate_hz()
    }

    /// Plays something to play along with, from now on; until it is over nothing else sounds.
    pub fn backing(&mut self, samples: Vec<f32>) {
        self.sink.stop();
        self.wanted = false;
        self.backing = Some((samples, 0));
        self.queue_backing();
    }

    /// Stops it before its end.
    pub fn end_backing(&mut self) {
        if self.backing.take().is_some() {
            self.sink.stop();
        }
    }

    fn queue_backing(&mut self) {
        if let Some((samples, queued)) = &mut self.backing {
            *queued += self.sink.queue(&samples[*queued..]);
            if *queued == samples.len() && self.sink.waiting() == 0 {
                self.backing = None;
            }
        }
    }

    /// A short tone that tells how the take came out.
    pub fn outcome(&mut self, take: &Take) {
        if self.backing.is_some() {
            return;
        }
        let fault = take.strings.iter().any(|s| s.verdict.is_fault());
        let (hz, times) = match (take.judged(), fault) {
            (false, _) => (OPEN_HZ, 1),
            (true, false) => (GOOD_HZ, 1),
            (true, true) => (FAULT_HZ, 2),
        };
        let rate = f64::from(self.sink.rate_hz());
        for _ in 0..times {
            self.sink.queue(&tone(hz, rate));
            self.sink.queue(&vec![0.0; (GAP_S * rate) as usize]);
        }
    }

    /// Begins to make the reference of a chord, so that it is there when it is asked for.
    pub fn prepare(&mut self, frets: Frets) {
        let made = self.made.contains_key(&frets);
        if made || self.making.as_ref().is_some_and(|(f, _)| *f == frets) {
            return;
        }
        let (sender, receiver) = mpsc::channel();
        let (tuning, rate_hz) = (self.tuning, self.sink.rate_hz());
        thread::spawn(move || sender.send(reference(&tuning, &frets, rate_hz)));
        self.making = Some((frets, receiver));
    }

    /// Plays how the clean chord sounds, as soon as that is made.
    pub fn reference(&mut self, frets: Frets) {
        self.prepare(frets);
        self.wanted = self.backing.is_none();
    }

    /// To be called again and again. Gives for how many seconds from now the microphone will hear
    /// this program, where a reference begins.
    pub fn go_on(&mut self, frets: Option<Frets>) -> Option<f64> {
        self.queue_backing();
        if let Some((frets, receiver)) = &self.making
            && let Ok(samples) = receiver.try_recv()
        {
            self.made.insert(*frets, samples);
            self.making = None;
        }
        let samples = self.made.get(&frets?).filter(|_| self.wanted)?;
        self.wanted = false;
        self.sink.stop();
        let taken = self.sink.queue(samples);
        Some(taken as f64 / f64::from(self.sink.rate_hz()) + ROUND_TRIP_S)
    }
}

/// A sine that swells and fades, so that nothing clicks.
fn tone(hz: f64, rate_hz: f64) -> Vec<f32> {
    let length = (TONE_S * rate_hz) as usize;
    (0..length)
        .map(|i| {
            let swell = (std::f64::consts::PI * i as f64 / length as f64).sin();
            let wave = (std::f64::consts::TAU * hz * i as f64 / rate_hz).sin();
            (f64::from(PEAK) * swell * wave) as f32
        })
        .collect()
}

/// The clean chord on the usual physical strings, at the loudspeaker's rate.
pub fn reference(tuning: &Tuning, frets: &Frets, rate_hz: u32) -> Vec<f32> {
    let parts = frets.0.map(|fret| {
        fret.map(|fret| Part {
            fret,
            deed: Deed::Rings,
        })
    });
    let mut rng = SmallRng::seed_from_u64(1);
    let guitar = Instrument::usual(tuning);
    let struck = strum(&guitar, &parts, &Stroke::usual(), REFERENCE_S, &mut rng);
    let mut samples = at_rate(&struck.samples, NOTE_RATE_HZ, rate_hz);
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let length = samples.len();
    let fade = (0.3 * f64::from(rate_hz)) as usize;
    for (i, s) in samples.iter_mut().enumerate() {
        let left = (length - i) as f32 / fade as f32;
        *s *= PEAK / peak * left.min(1.0);
    }
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::live::DeviceError;
    use crate::verdict::Verdict;
    use crate::verdict::examples::{bb, with};
    use std::sync::{Arc, Mutex};

    /// Keeps what is played.
    struct Tape(Arc<Mutex<Vec<f32>>>);

    impl Sink for Tape {
        fn rate_hz(&self) -> u32 {
            48_000
        }
        fn queue(&mut self, samples: &[f32]) -> usize {
            self.0.lock().unwrap().extend_from_slice(samples);
            samples.len()
        }
        fn waiting(&self) -> usize {
            0
        }
        fn stop(&mut self) {
            self.0.lock().unwrap().clear();
        }
        fn works(&self) -> bool {
            true
        }
    }

    fn played(act: impl FnOnce(&mut Sounds)) -> Result<Vec<f32>, DeviceError> {
        let tape = Arc::new(Mutex::new(Vec::new()));
        let mut sounds = Sounds::new(Box::new(Tape(tape.clone())), Tuning::default());
        act(&mut sounds);
        let samples = tape.lock().unwrap().clone();
        Ok(samples)
    }

    #[test]
    fn outcomes_sound_different_and_quiet() {
        let good = played(|s| s.outcome(&bb())).unwrap();
        let fault = played(|s| s.outcome(&with(bb(), 4, Verdict::Muted, 0.9))).unwrap();
        assert!(fault.len() > good.len());
        for tone in [good, fault] {
            let peak = tone.iter().fold(0f32, |p, s| p.max(s.abs()));
            assert!((0.2..=PEAK).contains(&peak));
        }
    }

    #[test]
    fn a_reference_is_played_once_it_is_made_and_says_how_long_it_is_heard() {
        let frets: Frets = "x13331".parse().unwrap();
        let mut heard_s = None;
        let samples = played(|sounds| {
            assert_eq!(sounds.go_on(Some(frets)), None);
            sounds.reference(frets);
            while heard_s.is_none() {
                heard_s = sounds.go_on(Some(frets));
                thread::sleep(std::time::Duration::from_millis(5));
            }
            assert_eq!(sounds.go_on(Some(frets)), None);
        })
        .unwrap();
        let length_s = samples.len() as f64 / 48_000.0;
        assert!((heard_s.unwrap() - length_s - ROUND_TRIP_S).abs() < 1e-6);
        assert!(length_s > 2.5);
    }
}
