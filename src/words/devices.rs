//! Sentences on microphone, loudspeaker and the sound between them.

#![cfg_attr(not(feature = "mic"), allow(dead_code))]

use std::fmt::{Debug, Display};

pub fn samples_of_form(other: impl Display) -> String {
    format!("samples of the form {other}")
}

pub const NONE_AT_ALL: &str = "none at all";
pub const DOES_NOT_ANSWER: &str = "the sound system does not answer";

pub fn waiting(error: impl Display) -> String {
    format!("Waiting: {error}. Listening starts again by itself.")
}

pub const THERE_AGAIN: &str = "The microphone is there again.";

pub fn sound_lost(seconds: impl Display) -> String {
    format!("The computer lost {seconds:.2} s of sound; a take that it falls into is not judged.")
}

pub const NO_SOUND_AT_ALL: &str = "No sound at all from the microphone: it is switched off, or the system \
                             keeps its sound away. Allow it in the privacy settings.";

pub const GIVES_SOUND: &str = "The microphone gives sound.";

pub fn clean_chord(seconds: impl Display) -> String {
    format!("This is the clean chord: for {seconds:.0} s nothing that you play is heard.")
}

pub fn later_tries(why: impl Display) -> String {
    format!("{why}. Listening goes on, and later takes are tried again.")
}

pub fn samples_a_second(device_hz: impl Display) -> String {
    format!("{device_hz} samples a second")
}

pub const NOT_BUILT: &str = "this ringtrue was built without a microphone; build it with the feature `mic`, or judge a \
     recording with `ringtrue check`";

pub fn none_found(kind: impl Display) -> String {
    format!("no {kind} was found; plug one in or switch it on, and see that sound works at all")
}

pub fn no_such_device(kind: impl Display, wanted: impl Debug, known: impl Display) -> String {
    format!("no {kind} is called {wanted:?}; there is {known}")
}

pub fn refused(kind: impl Display) -> String {
    format!(
        "the system does not let this program use the {kind}; allow it in the privacy settings of the \
         terminal, or join the group that may use sound, and start again"
    )
}

pub fn busy(kind: impl Display) -> String {
    format!("another program is using the {kind}; close it and try again")
}

pub fn gone(kind: impl Display) -> String {
    format!("the {kind} is gone: unplugged, or the sound system has stopped")
}

pub fn unknown_form(kind: impl Display, found: impl Display) -> String {
    format!("the {kind} works with {found}, which is not known here; choose another one")
}

pub fn does_not_work(kind: impl Display, message: impl Display) -> String {
    format!("the {kind} does not work: {message}")
}

pub const MICROPHONE: &str = "microphone";
pub const LOUDSPEAKER: &str = "loudspeaker";

pub fn channels(count: impl Display) -> String {
    format!("{count} channels")
}
