//! Sounds that a session plays: a short tone for each outcome, and the clean chord.

use std::collections::HashMap;
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use rand::SeedableRng;
use rand::rngs::SmallRng;

use crate::audio::at_rate;
use crate::audio::live::{DeviceError, Sink};
use crate::fretboard::{Frets, Tuning};
use crate::synth::instrument::Instrument;
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::strum::{Behaviour, Gesture, StringPart, strum};
use crate::verdict::JudgedTake;

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
/// delays of sound systems lie between 0.02 and 0.3: from memory; two blocks wait before them).
const ROUND_TRIP_S: f64 = 0.6;

/// The loudspeaker is let go once nothing has waited for it for this long: an open one keeps sound
/// servers busy with silence, and what is still on its way is over by then.
const LINGER: Duration = Duration::from_secs(1);

/// Opens the loudspeaker.
type Open = dyn FnMut() -> Result<Box<dyn Sink>, DeviceError>;
/// The loudspeaker, and since when nothing waits for it.
type Held = Option<(Box<dyn Sink>, Option<Instant>)>;

/// Plays for a session; has the loudspeaker only while it does. Makes each reference once, beside the
/// session.
pub struct Sounds {
    open: Box<Open>,
    sink: Held,
    tuning: Tuning,
    made: HashMap<Frets, Vec<f32>>,
    making: Option<(Frets, mpsc::Receiver<Vec<f32>>)>,
    /// Whether the reference is to be played as soon as it is made.
    wanted: bool,
    /// A backing that is being played, and how much of it is queued.
    backing: Option<(Vec<f32>, usize)>,
    /// Whether the loudspeaker went before the last backing was over.
    broken_off: bool,
}

impl Sounds {
    /// Sounds for a guitar in this tuning, through the loudspeaker that `open` gives.
    ///
    /// # Errors
    /// What `open` says: it is tried at once.
    pub fn new(
        mut open: impl FnMut() -> Result<Box<dyn Sink>, DeviceError> + 'static,
        tuning: Tuning,
    ) -> Result<Self, DeviceError> {
        open()?;
        Ok(Sounds {
            open: Box::new(open),
            sink: None,
            tuning,
            made: HashMap::new(),
            making: None,
            wanted: false,
            backing: None,
            broken_off: false,
        })
    }

    /// Samples a second of the loudspeaker, Hz; `None` where it has gone.
    pub fn rate_hz(&mut self) -> Option<u32> {
        opened(&mut self.sink, &mut self.open).map(|sink| sink.rate_hz())
    }

    /// Plays something to play along with, from now on; until it is over nothing else sounds.
    pub fn backing(&mut self, samples: Vec<f32>) {
        self.wanted = false;
        if let Some(sink) = opened(&mut self.sink, &mut self.open) {
            sink.stop();
        }
        self.backing = Some((samples, 0));
        self.broken_off = false;
        self.queue_backing();
    }

    /// Tells whether the loudspeaker went before the last backing was over.
    pub fn is_broken_off(&self) -> bool {
        self.broken_off
    }

    /// The loudspeaker, while the backing is played.
    pub fn playing(&self) -> Option<&dyn Sink> {
        let (sink, _) = self.sink.as_ref().filter(|_| self.backing.is_some())?;
        Some(&**sink)
    }

    /// Stops it before its end.
    pub fn end_backing(&mut self) {
        if let (Some(_), Some((sink, _))) = (self.backing.take(), &mut self.sink) {
            sink.stop();
        }
    }

    fn queue_backing(&mut self) {
        let Some((samples, queued)) = &mut self.backing else {
            return;
        };
        let over = match &mut self.sink {
            Some((sink, idle)) if sink.works() => {
                *idle = None;
                *queued += sink.queue(&samples[*queued..]);
                *queued == samples.len() && sink.waiting() == 0
            }
            // It has gone. Opened again it would go on late; the count goes on in the terminal.
            _ => {
                self.broken_off = true;
                true
            }
        };
        if over {
            self.backing = None;
        }
    }

    /// A short tone that tells how the take came out.
    pub fn outcome(&mut self, take: &JudgedTake) {
        if self.backing.is_some() {
            return;
        }
        let fault = take.strings.iter().any(|s| s.verdict.is_fault());
        let (hz, times) = match (take.judged(), fault) {
            (false, _) => (OPEN_HZ, 1),
            (true, false) => (GOOD_HZ, 1),
            (true, true) => (FAULT_HZ, 2),
        };
        let Some(sink) = opened(&mut self.sink, &mut self.open) else {
            return;
        };
        let rate = f64::from(sink.rate_hz());
        for _ in 0..times {
            sink.queue(&tone(hz, rate));
            sink.queue(&vec![0.0; (GAP_S * rate) as usize]);
        }
    }

    /// Begins to make the reference of a chord, so that it is there when it is asked for.
    pub fn prepare(&mut self, frets: Frets) {
        let made = self.made.contains_key(&frets);
        if made || self.making.as_ref().is_some_and(|(f, _)| *f == frets) {
            return;
        }
        let (sender, receiver) = mpsc::channel();
        let tuning = self.tuning;
        thread::spawn(move || sender.send(reference(&tuning, &frets)));
        self.making = Some((frets, receiver));
    }

    /// Plays how the clean chord sounds, as soon as that is made.
    pub fn reference(&mut self, frets: Frets) {
        self.prepare(frets);
        self.wanted = self.backing.is_none();
    }

    /// Plays on; to be called again and again. Gives for how many seconds from now the microphone will hear
    /// this program, where a reference begins.
    pub fn go_on(&mut self, frets: Option<Frets>) -> Option<f64> {
        self.queue_backing();
        if let Some((frets, receiver)) = &self.making
            && let Ok(samples) = receiver.try_recv()
        {
            self.made.insert(*frets, samples);
            self.making = None;
        }
        self.rest();
        let made = self.made.get(&frets?).filter(|_| self.wanted)?;
        self.wanted = false;
        let sink = opened(&mut self.sink, &mut self.open)?;
        let rate_hz = sink.rate_hz();
        sink.stop();
        let taken = sink.queue(&at_rate(made, NOTE_RATE_HZ, rate_hz));
        Some(taken as f64 / f64::from(rate_hz) + ROUND_TRIP_S)
    }

    /// Lets the loudspeaker go once it has played everything.
    fn rest(&mut self) {
        if let Some((sink, idle)) = &mut self.sink {
            if sink.waiting() > 0 {
                *idle = None;
            } else if idle.get_or_insert_with(Instant::now).elapsed() > LINGER {
                self.sink = None;
            }
        }
    }
}

/// The loudspeaker, opened where it is not; `None` where it cannot be.
fn opened<'a>(held: &'a mut Held, open: &mut Open) -> Option<&'a mut dyn Sink> {
    if !held.as_ref().is_some_and(|(sink, _)| sink.works()) {
        *held = open()
            .inspect_err(|error| log::warn!("{error}"))
            .ok()
            .map(|sink| (sink, None));
    }
    let (sink, idle) = held.as_mut()?;
    *idle = None;
    Some(&mut **sink)
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

/// The clean chord on the usual physical strings: mono samples at [`NOTE_RATE_HZ`], peak 0.25.
pub fn reference(tuning: &Tuning, frets: &Frets) -> Vec<f32> {
    let parts = frets.0.map(|fret| {
        fret.map(|fret| StringPart {
            fret,
            behaviour: Behaviour::Rings,
        })
    });
    let mut rng = SmallRng::seed_from_u64(1);
    let guitar = Instrument::usual(tuning);
    let mut samples = strum(&guitar, &parts, &Gesture::usual(), REFERENCE_S, &mut rng).samples;
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let length = samples.len();
    let fade = (0.3 * f64::from(NOTE_RATE_HZ)) as usize;
    for (i, s) in samples.iter_mut().enumerate() {
        let left = (length - i) as f32 / fade as f32;
        *s *= PEAK / peak * left.min(1.0);
    }
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Verdict;
    use crate::verdict::examples::{bb, with};
    use std::sync::{Arc, Mutex};

    type Played = Arc<Mutex<Vec<f32>>>;

    /// Keeps what is played.
    struct Tape(Played);

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

    /// Sounds through a loudspeaker that keeps what is played, and how often it was opened.
    fn sounds() -> (Sounds, Played, Arc<Mutex<u32>>) {
        let (tape, opened) = (Played::default(), Arc::new(Mutex::new(0)));
        let (played, times) = (tape.clone(), opened.clone());
        let open = move || {
            *times.lock().unwrap() += 1;
            Ok(Box::new(Tape(played.clone())) as Box<dyn Sink>)
        };
        (Sounds::new(open, Tuning::default()).unwrap(), tape, opened)
    }

    fn played(act: impl FnOnce(&mut Sounds)) -> Vec<f32> {
        let (mut sounds, tape, _) = sounds();
        act(&mut sounds);
        tape.lock().unwrap().clone()
    }

    #[test]
    fn outcomes_sound_different_and_quiet() {
        let good = played(|s| s.outcome(&bb()));
        let fault = played(|s| s.outcome(&with(bb(), 4, Verdict::Muted, 0.9)));
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
        });
        let length_s = samples.len() as f64 / 48_000.0;
        assert!((heard_s.unwrap() - length_s - ROUND_TRIP_S).abs() < 1e-6);
        assert!(length_s > 2.5);
    }

    #[test]
    fn the_loudspeaker_is_let_go_when_nothing_plays_and_opened_again() {
        let (mut sounds, tape, opened) = sounds();
        assert!(sounds.sink.is_none(), "held without need");
        sounds.outcome(&bb());
        sounds.go_on(None);
        sounds.outcome(&bb());
        assert_eq!(*opened.lock().unwrap(), 2, "to try, and to play");
        sounds.go_on(None);
        thread::sleep(LINGER + Duration::from_millis(50));
        sounds.go_on(None);
        assert!(sounds.sink.is_none());
        sounds.outcome(&bb());
        assert_eq!(*opened.lock().unwrap(), 3);
        assert!(!tape.lock().unwrap().is_empty());
    }

    #[test]
    fn where_the_loudspeaker_has_gone_nothing_is_played_and_nothing_breaks() {
        let mut tries = 0;
        let open = move || {
            tries += 1;
            match tries {
                1 => Ok(Box::new(Tape(Arc::default())) as Box<dyn Sink>),
                _ => Err(DeviceError::None(
                    crate::audio::live::Direction::Loudspeaker,
                )),
            }
        };
        let mut sounds = Sounds::new(open, Tuning::default()).unwrap();
        let frets: Frets = "x13331".parse().unwrap();
        sounds.outcome(&bb());
        sounds.reference(frets);
        while sounds.wanted {
            assert_eq!(sounds.go_on(Some(frets)), None);
            thread::sleep(Duration::from_millis(5));
        }
    }
}
