//! One sitting at the guitar, step by step.

use std::io;

use super::{Ear, Message, Sounds, Stream};
use crate::audio::live::{DeviceError, began_at_s};
use crate::fretboard::Frets;
use crate::verdict::Expected;
use crate::words;

/// Event of the sound, in words.
#[derive(Debug, Clone, PartialEq)]
pub enum Notice {
    /// The microphone has gone; it is waited for.
    Gone(DeviceError),
    /// The microphone has come back.
    Back,
    /// Loss of sound, in seconds.
    Lost(f64),
    /// The microphone gives nothing but exact zeros.
    Dead,
    /// Sound that comes after all.
    Alive,
    /// The program plays the clean chord and does not listen for so many seconds.
    NotListening(f64),
    /// A take could not be kept where it was asked for: why, in a sentence without its full stop.
    NotKept(String),
}

impl Notice {
    /// One word for programs.
    pub fn word(&self) -> &'static str {
        match self {
            Notice::Gone(_) => "microphone-gone",
            Notice::Back => "microphone-back",
            Notice::Lost(_) => "sound-lost",
            Notice::Dead => "digital-silence",
            Notice::Alive => "sound-comes",
            Notice::NotListening(_) => "not-listening",
            Notice::NotKept(_) => "take-not-kept",
        }
    }

    /// A sentence for people.
    pub fn sentence(&self) -> String {
        match self {
            Notice::Gone(error) => words::devices::waiting(error),
            Notice::Back => words::devices::THERE_AGAIN.to_owned(),
            Notice::Lost(seconds) => words::devices::sound_lost(seconds),
            Notice::Dead => words::devices::NO_SOUND_AT_ALL.to_owned(),
            Notice::Alive => words::devices::GIVES_SOUND.to_owned(),
            Notice::NotListening(seconds) => words::devices::clean_chord(seconds.ceil()),
            Notice::NotKept(why) => words::devices::later_tries(why),
        }
    }

    /// Tells how long it is true, in seconds, where it says so itself.
    pub fn lasts_s(&self) -> Option<f64> {
        match self {
            Notice::NotListening(seconds) => Some(*seconds),
            _ => None,
        }
    }

    /// Tells whether it lasts until another notice.
    pub fn stays(&self) -> bool {
        matches!(self, Notice::Gone(_) | Notice::Dead)
    }
}

/// Wish of the player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// The end of the session.
    Quit,
    /// The next chord.
    Next,
    /// Sound of the clean chord.
    Reference,
    /// Another key, for the session to make something of.
    Key(char),
}

/// Screen or lines that show a session.
pub trait Face {
    /// Shows what is to be played now.
    ///
    /// # Errors
    /// Where it cannot be shown.
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }
    /// Shows what the listener said of a take.
    ///
    /// # Errors
    /// Where it cannot be shown.
    fn hear(&mut self, _heard: &Message) -> io::Result<()> {
        Ok(())
    }
    /// Shows what happened to the sound.
    ///
    /// # Errors
    /// Where it cannot be shown.
    fn notice(&mut self, notice: &Notice) -> io::Result<()>;
    /// Called about every 20 ms: shows the level, asks for keys.
    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

/// Key and events of the sound since the last look.
#[derive(Debug, Default)]
pub struct Polled {
    /// The key that was pressed, if any.
    pub wish: Option<Wish>,
    /// Events of the sound.
    pub stream: Stream,
}

/// An ear, a voice, and what is to be played.
pub struct Sitting {
    /// The microphone or the recording, and what listens to it.
    pub ear: Ear,
    /// `None` where nothing is to be played back.
    pub sounds: Option<Sounds>,
    /// True where each verdict is told by a tone.
    pub tones: bool,
    dead: bool,
}

impl Sitting {
    /// Joins an ear with what plays sounds; `tones` says whether each verdict is told by a tone.
    pub fn new(ear: Ear, sounds: Option<Sounds>, tones: bool) -> Self {
        Sitting {
            ear,
            sounds,
            tones,
            dead: false,
        }
    }

    /// Moment at which the backing that is played began, in seconds since the sound began; `None` where nobody knows.
    pub fn backing_began_s(&self) -> Option<f64> {
        let sink = self.sounds.as_ref()?.playing()?;
        Some(self.ear.now_s() + began_at_s(self.ear.source()?, sink, 0)?)
    }

    /// Changes what is to be played from now on.
    ///
    /// # Errors
    /// Where the face cannot show it.
    pub fn expect(&mut self, expected: Expected, face: &mut dyn Face) -> io::Result<()> {
        face.expect(&expected)?;
        self.ear.listener().expect(expected);
        let frets = self.frets();
        if let (Some(sounds), Some(frets)) = (&mut self.sounds, frets) {
            sounds.prepare(frets);
        }
        Ok(())
    }

    /// The frets that are meant.
    fn frets(&mut self) -> Option<Frets> {
        let expected = self.ear.listener().expected();
        expected.example().map(|voicing| voicing.frets)
    }

    /// Plays how the clean chord sounds; while it does, nothing is judged.
    pub fn reference(&mut self) {
        let frets = self.frets();
        if let (Some(sounds), Some(frets)) = (&mut self.sounds, frets) {
            sounds.reference(frets);
        }
    }

    /// The sound is over, and the last strum may still have been sounding: replaces `heard` by what is said of it, and gives
    /// the time, in seconds since the sound began.
    pub fn finish(&mut self, heard: &mut Vec<Message>) -> f64 {
        heard.clear();
        self.ear.finish(heard);
        self.ear.now_s()
    }

    /// Listens for some tens of milliseconds, shows what came, plays what is due. Replaces `heard` by what came.
    ///
    /// # Errors
    /// Where the face cannot show it; `heard` is whole all the same.
    pub fn poll(&mut self, face: &mut dyn Face, heard: &mut Vec<Message>) -> io::Result<Polled> {
        let mut polled = Polled::default();
        heard.clear();
        polled.stream = self.ear.hear(heard);
        for heard in heard.iter() {
            face.hear(heard)?;
            if let (Message::Settled { take, .. }, true, Some(sounds)) =
                (heard, self.tones, &mut self.sounds)
            {
                sounds.outcome(take);
            }
        }
        match &polled.stream {
            Stream::Flows | Stream::Ended => {}
            Stream::Lost(seconds) => face.notice(&Notice::Lost(*seconds))?,
            Stream::Gone(error) => face.notice(&Notice::Gone(error.clone()))?,
            Stream::Back => face.notice(&Notice::Back)?,
        }
        let dead = self.ear.has_microphone() && self.ear.meter().is_dead();
        if dead != self.dead && self.ear.has_microphone() {
            self.dead = dead;
            face.notice(if dead { &Notice::Dead } else { &Notice::Alive })?;
        }
        let frets = self.frets();
        if let Some(sounds) = &mut self.sounds
            && let Some(seconds) = sounds.go_on(frets)
        {
            self.ear.listener().ignore(seconds);
            face.notice(&Notice::NotListening(seconds))?;
        }
        polled.wish = face.tick(&self.ear)?;
        if polled.wish == Some(Wish::Reference) {
            self.reference();
        }
        Ok(polled)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::live::{Came, Sink, Source};
    use crate::fretboard::Tuning;
    use crate::verdict::ExpectedVoicing;

    /// A quiet room.
    struct Room;

    impl Source for Room {
        fn rate_hz(&self) -> u32 {
            22_050
        }

        fn read(&mut self, block: &mut Vec<f32>) -> Result<Came, DeviceError> {
            block.extend((0..1024).map(|i| if i % 2 == 0 { 1e-4 } else { -1e-4 }));
            Ok(Came::Sound)
        }
    }

    struct Loudspeaker;

    impl Sink for Loudspeaker {
        fn rate_hz(&self) -> u32 {
            22_050
        }

        fn queue(&mut self, samples: &[f32]) -> usize {
            samples.len()
        }

        fn waiting(&self) -> usize {
            0
        }

        fn stop(&mut self) {}

        fn works(&self) -> bool {
            true
        }
    }

    /// Asks for the clean chord once, and keeps what it is told.
    #[derive(Default)]
    struct ListeningFace {
        told: Vec<Notice>,
        asked: bool,
    }

    impl Face for ListeningFace {
        fn notice(&mut self, notice: &Notice) -> io::Result<()> {
            self.told.push(notice.clone());
            Ok(())
        }

        fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
            let first = !std::mem::replace(&mut self.asked, true);
            Ok(first.then_some(Wish::Reference))
        }
    }

    #[test]
    fn while_the_clean_chord_is_played_it_is_said_that_nothing_is_heard() {
        let tuning = Tuning::default();
        let frets = "133211".parse().unwrap();
        let expected = Expected::Named(ExpectedVoicing::usual(frets, None, &tuning));
        let ear = Ear::new(Box::new(Room), None, tuning, expected);
        let open = || Ok(Box::new(Loudspeaker) as Box<dyn Sink>);
        let mut sitting = Sitting::new(ear, Sounds::new(open, tuning).ok(), false);
        let mut face = ListeningFace::default();
        // The chord is made in a thread of its own.
        while face.told.is_empty() {
            sitting.poll(&mut face, &mut Vec::new()).unwrap();
        }
        let Notice::NotListening(seconds) = face.told[0] else {
            panic!("{:?}", face.told);
        };
        assert!(seconds > 1.0, "{seconds}");
        assert_eq!(face.told[0].lasts_s(), Some(seconds));
    }
}
