//! Sentences of `ringtrue` alone.

use std::fmt::Display;

pub const WHAT_IT_IS: &str =
    "Ringtrue listens to one strum and says, string by string, what happened.";
pub const NO_MICROPHONE: &str =
    "No microphone is there. Plug one in and begin again, or have a recording judged:";

pub fn check_command(first: impl Display) -> String {
    format!("    ringtrue check RECORDING --frets {first}")
}

pub const TUNE_ONCE: &str = "Tune, and let it learn your guitar once (two minutes):";
pub const SOUNDCHECK_COMMAND: &str = "    ringtrue soundcheck --guitar mine";

pub fn last_on(date: impl Display) -> String {
    format!(", the last on {date}")
}

pub fn take_up(chord: impl Display, exercise: impl Display) -> String {
    format!(" To practise next: {chord}, {exercise}.")
}

pub fn diary_holds(takes: impl Display, last: impl Display, next: impl Display) -> String {
    format!("The diary holds {takes} takes{last}.{next}")
}

pub const ONE_CHORD: &str = "One chord, strum by strum:";

pub fn listen_command(frets: impl Display, with: impl Display) -> String {
    format!("    ringtrue listen --frets {frets} --diary{with}")
}

pub const A_LESSON: &str = "A lesson, step by step; practice --list names all:";

pub fn practice_command(with: impl Display) -> String {
    format!("    ringtrue practice first-barre{with}")
}

pub const EVERYTHING_ELSE: &str = "ringtrue --help names everything else.";

pub fn which_chord(frets: impl Display) -> String {
    format!(
        "\nWhich chord do you want to play now? Its frets or its name; Enter for {frets}, q for none: "
    )
}

pub const PROGRESS_COMMAND: &str = "    ringtrue progress";

pub fn microphone(name: impl Display) -> String {
    format!("Microphone: {name}.")
}
