//! What the program sees and hears of takes, and what it would hear with a cue hidden.

use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::strings::buzz::treble::{BAND_WIDTH, SeenTreble, Treble};
use ringtrue::strings::{self, CandidateNotes, Moments, Networks, Spectra, buzz};
use ringtrue::synth::compose::Composed;
use ringtrue::synth::notes;
use ringtrue::take::Take;

/// Sees the treble of composed takes.
pub struct Eyes {
    pub spectra: Spectra,
    pub treble: Treble,
}

impl Eyes {
    pub fn new() -> Self {
        Eyes::at(notes::NOTE_RATE_HZ)
    }

    pub fn at(rate_hz: u32) -> Self {
        Eyes {
            spectra: Spectra::new(rate_hz),
            treble: Treble::new(rate_hz),
        }
    }

    /// What is seen of a composed take, whose strings are known to be struck at `moments`.
    pub fn see(&mut self, made: &Composed, frets: &Frets, moments: Moments) -> Option<SeenTreble> {
        self.spectra.fill(&made.samples, moments);
        let notes = CandidateNotes::fit(&self.spectra, &Tuning::default(), frets);
        self.treble.see(&made.samples, moments, &notes)
    }
}

/// What the network goes by, one of which is hidden from it in turn.
pub const CUES: [&str; 3] = ["lines", "pulses", "bands"];

/// What is seen without a cue.
pub fn without(seen: &SeenTreble, cue: usize) -> SeenTreble {
    let mut seen = seen.clone();
    for string in seen.strings.iter_mut().flatten() {
        match CUES[cue] {
            "lines" => (string.hz, string.rows) = (Vec::new(), Vec::new()),
            "pulses" => string.pulses = Vec::new(),
            _ => {}
        }
    }
    if CUES[cue] == "bands" {
        // Without any the take could not be judged at all: they stay, with nothing in them.
        for band in seen.bands.chunks_exact_mut(BAND_WIDTH) {
            band[..BAND_WIDTH - 1].fill(0.0);
        }
    }
    seen
}

/// What is said of a take; and were one of the cues hidden.
pub type Said = (
    buzz::BuzzProbabilities,
    [buzz::BuzzProbabilities; CUES.len()],
);

/// What the program itself goes through, from a recording to what is said of buzz.
pub struct Ears<'a> {
    pub eyes: Eyes,
    pub networks: &'a Networks,
    pub room: strings::Scratch,
    pub buzz_room: buzz::Scratch,
}

impl<'a> Ears<'a> {
    pub fn new(networks: &'a Networks) -> Self {
        Ears::at(networks, notes::NOTE_RATE_HZ)
    }

    pub fn at(networks: &'a Networks, rate_hz: u32) -> Self {
        Ears {
            eyes: Eyes::at(rate_hz),
            networks,
            room: strings::Scratch::default(),
            buzz_room: buzz::Scratch::default(),
        }
    }

    /// What is said of the take as it is found; nothing where it is not.
    pub fn hear(&mut self, made: &Composed, frets: &Frets) -> Option<Said> {
        let strum = made.found(&Tuning::default(), frets)?;
        Some(self.hear_strum(&strum, frets))
    }

    /// What is said of a strum at the rate of these ears.
    pub fn hear_strum(&mut self, strum: &Take, frets: &Frets) -> Said {
        let found = Moments::of(strum);
        let Eyes { spectra, treble } = &mut self.eyes;
        spectra.fill(&strum.samples, found);
        let heard = strings::hear(
            &self.networks.strums,
            spectra,
            &Tuning::default(),
            frets,
            &mut self.room,
        );
        let moments = heard.moments(found, f64::from(strum.rate_hz));
        let Some(seen) = treble.see(&strum.samples, moments, &heard.notes) else {
            return Said::default();
        };
        let mut hear = |seen: &SeenTreble| self.networks.buzz.hear(seen, &mut self.buzz_room);
        let hidden = std::array::from_fn(|cue| hear(&without(&seen, cue)));
        (hear(&seen), hidden)
    }
}
