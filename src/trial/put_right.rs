//! Corrections of players, as labels.

use super::{Deed, KnownBy, LabelledTake};
use crate::fretboard::STRINGS;
use crate::listening::saved::SavedTake;
use crate::practice::diary::{Correction, Entry};
use crate::words::foreign::visible;

/// Places of rings that a saved take has.
const SAVED_RINGS: f32 = 1000.0;

/// A take of the diary as the player put it right, its sound named `file`: the strings that the player named did as
/// written, and of the others nothing is known. `None` where nothing was said of single strings.
pub fn by_word(entry: &Entry, file: &str) -> Option<LabelledTake> {
    let Some(Correction::Right(strings)) = &entry.said else {
        return None;
    };
    let mut deeds = [Deed::Unknown; STRINGS];
    for &string in strings {
        *deeds.get_mut(STRINGS.checked_sub(string.into())?)? = Deed::Clean;
    }
    let line = |text: &Option<String>| {
        let text = text.as_deref().unwrap_or_default().trim();
        visible(text).into_owned()
    };
    Some(LabelledTake {
        deeds,
        chord: Some(line(&entry.chord)).filter(|chord| !chord.is_empty()),
        guitar: line(&entry.guitar),
        known_by: KnownBy::Word,
        ..LabelledTake::clean(file, entry.frets)
    })
}

/// Tells whether a saved take is the one that the diary has: the same of each string, to the places that are saved.
pub fn is_same(saved: &SavedTake, entry: &Entry) -> bool {
    let rings = |rings: f32| (rings * SAVED_RINGS).round();
    saved.frets == entry.frets
        && (saved.strings.iter().zip(&entry.strings))
            .all(|(a, b)| a.verdict == b.verdict && (rings(a.rings) - rings(b.rings)).abs() <= 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::listening::saved::{Saved, take_object};
    use crate::verdict::Verdict;
    use crate::verdict::examples::{bb, with};
    use jiff::Timestamp;

    fn entry(said: Option<Correction>) -> Entry {
        let take = with(bb(), 3, Verdict::Muted, 0.9);
        Entry {
            said,
            guitar: Some("mine\u{202e}".to_owned()),
            ..Entry::of(&take, Timestamp::UNIX_EPOCH, &Tuning::default())
        }
    }

    #[test]
    fn only_what_the_player_said_is_known() {
        let take = by_word(&entry(Some(Correction::Right(vec![3, 1]))), "a.wav").unwrap();
        let known: Vec<usize> = (0..STRINGS)
            .filter(|&s| take.deeds[s] == Deed::Clean)
            .collect();
        assert_eq!(known, [3, 5]);
        assert!(
            take.deeds
                .iter()
                .filter(|deed| **deed == Deed::Unknown)
                .count()
                == 4
        );
        assert_eq!(
            (take.known_by, take.guitar.as_str()),
            (KnownBy::Word, "mine\\u202e")
        );
        for said in [
            None,
            Some(Correction::AnotherChord),
            Some(Correction::Forget),
        ] {
            assert_eq!(by_word(&entry(said), "a.wav"), None);
        }
    }

    #[test]
    fn a_saved_take_is_known_by_its_verdicts() {
        let saved = |take| {
            let text = serde_json::json!({ "takes": [take_object(&take)] }).to_string();
            Saved::from_json(&text).unwrap().takes.remove(0)
        };
        let mut take = with(bb(), 3, Verdict::Muted, 0.9);
        assert!(is_same(&saved(take.clone()), &entry(None)));
        assert!(!is_same(&saved(bb()), &entry(None)));
        take.strings[2].rings -= 0.01;
        assert!(!is_same(&saved(take), &entry(None)));
    }
}
