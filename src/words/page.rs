//! What the report says, the page for a teacher; its headings stand in `report/page/page.html`.

use std::fmt::Display;

pub fn how_it_was_measured(clean: impl Display) -> String {
    format!(
        "Ringtrue listens through one microphone and is sometimes wrong. It was measured on strums put \
             together from recorded notes of eleven guitars. Each guitar was judged by networks that had \
             never heard it. Of strings that rang, {clean} were told to be at fault."
    )
}

/// Of dead strings, those that die early, those at another fret and those that should be quiet: how many were told to be
/// at fault, and how many were taken for clean.
pub fn faults_told(shares: [[String; 2]; 4]) -> String {
    let [
        [dead, not_dead],
        [choked, not_choked],
        [fret, not_fret],
        [ringing, not_ringing],
    ] = shares;
    format!(
        "Of dead strings {dead} were told to be at fault, and {not_dead} were taken for clean. Of strings that died \
         early, {choked} and {not_choked}. Of strings at another fret, {fret} and {not_fret}. Of strings that sounded though they \
         should not, {ringing} and {not_ringing}. The rest stayed unsure."
    )
}

pub const WHAT_IS_HARD: &str = "Dead and dying early are often taken for each other. A string that doubles another one an octave \
         apart is hardest to hear. How often buzz is heard rightly has not been measured on real \
         recordings. On other guitars, rooms and microphones it may do worse. Where a verdict surprises \
         you, listen to the take.";

pub fn since_the_last(days: impl Display, now: impl Display, before: impl Display) -> String {
    format!(
        "Since the last report{days}: {now:.0} % of the judged takes were clean, {before:.0} % before."
    )
}

pub fn from_to_clean(
    name: impl Display,
    clean: impl Display,
    judged: impl Display,
    clean_now: impl Display,
    judged_now: impl Display,
) -> String {
    format!("{name} (from {clean} of {judged} clean to {clean_now} of {judged_now})")
}

pub const CARE_FOR_HANDS: &str = "Stop when something hurts; never play through pain, and see someone qualified if it stays or comes \
     back.";

pub const CARE_BY_REST: &str = "Rest five minutes every half hour, and lengthen practice by ten minutes a day at most. What does not \
     come today need not be forced by repeating it.";

pub const CARE_FOR_EARS: &str = "On headphones keep the volume low: the louder, the shorter the time that ears stand. The program \
     cannot measure how loud it is at your ear.";

pub fn strings_right(name: impl Display) -> String {
    format!("How often each string of {name} was right; the table says the same")
}

pub fn clean_by_time(name: impl Display) -> String {
    format!("Takes of {name} that were clean, by time")
}

pub const RINGDOWN_IN_SHORT: &str = "How long each string rings";
pub const SPECTRUM_IN_SHORT: &str = "Spectrum and notes";

pub fn takes_of_chords(
    takes: impl Display,
    chords: impl Display,
    judged: impl Display,
    clean: impl Display,
) -> String {
    format!("{takes} of {chords}; {judged} could be judged, and {clean} of these were clean.")
}

pub fn minutes_practised(minutes: impl Display, rest: impl Display) -> String {
    format!("{minutes} practised; pauses of more than {rest} minutes are left out.")
}

pub fn unread(recordings: impl Display) -> String {
    format!("{recordings} could not be read; \"What was not judged\" says why.")
}

pub fn weakest_there(weakest: impl Display) -> String {
    format!(" The weakest there was {weakest}.")
}

pub fn hardest(
    name: impl Display,
    clean: impl Display,
    judged: impl Display,
    string: impl Display,
) -> String {
    format!("Hardest was {name}: {clean} of {judged} judged takes were clean.{string}")
}

pub fn take_up_next(name: impl Display, first: impl Display) -> String {
    format!("Take up next: {name}. {first}")
}

pub fn take_up_next_bare(name: impl Display) -> String {
    format!("Take up next: {name}.")
}

pub fn commonest_cause(takes: impl Display, cause: impl Display, what: impl Display) -> String {
    format!("The commonest cause, named for {takes}: {cause}. {what}")
}

pub fn string_right(string: impl Display, right: impl Display, takes: impl Display) -> String {
    format!("string {string}, right in {right} of {takes} takes")
}

pub fn note_of(by: impl Display, days: impl Display) -> String {
    format!("{by}, on the page of {days}")
}

pub fn note_of_a_page(by: impl Display) -> String {
    format!("{by}, on a page before")
}

pub const NO_REASON: &str = "No reason was noted.";
pub const WORST_TAKE: &str = "Worst take";
pub const BEST_TAKE: &str = "Best take";
pub const NOT_TOLD: &str = "not told";

pub fn takes_from_to(first: impl Display, last: impl Display) -> String {
    format!("takes {first} to {last}")
}

pub fn week_of(monday: impl Display) -> String {
    format!("week of {monday}")
}
