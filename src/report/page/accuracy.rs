//! Accuracy of the program, as its measurements say (`fixtures/measured/composed-strums.md`, "What was taken for what").

use crate::words;

/// Strings measured of one kind: how many there were, how many of them were told to be at fault, and how
/// many to be as they should.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measured {
    pub strings: u32,
    pub faulty: u32,
    pub fine: u32,
}

/// Strings that rang.
pub const CLEAN: Measured = Measured {
    strings: 29_217,
    faulty: 69,
    fine: 29_124,
};
/// Strings struck dead.
pub const MUTED: Measured = Measured {
    strings: 2_118,
    faulty: 1_975,
    fine: 116,
};
/// Strings that died early.
pub const CHOKED: Measured = Measured {
    strings: 1_635,
    faulty: 1_550,
    fine: 73,
};
/// Strings at another fret.
pub const WRONG_FRET: Measured = Measured {
    strings: 1_699,
    faulty: 1_687,
    fine: 4,
};
/// Strings that sounded though they should not.
pub const RINGING: Measured = Measured {
    strings: 750,
    faulty: 748,
    fine: 1,
};

/// Gives what a reader of a report should know about it, a sentence or two each.
pub fn statements() -> Vec<String> {
    let faulty = faulty_in_words;
    let missed = |m: Measured| share(m.fine, m.strings);
    vec![
        words::page::how_it_was_measured(faulty(CLEAN)),
        words::page::faults_told(
            [MUTED, CHOKED, WRONG_FRET, RINGING].map(|m| [faulty(m), missed(m)]),
        ),
        words::page::WHAT_IS_HARD.to_owned(),
    ]
}

/// Gives the share that was told to be at fault: "93 %".
pub fn faulty_in_words(measured: Measured) -> String {
    share(measured.faulty, measured.strings)
}

fn share(part: u32, of: u32) -> String {
    let percent = 100.0 * f64::from(part) / f64::from(of);
    // Nearly all is not all, nor nearly none none.
    match (10.0..99.0).contains(&percent) {
        true => format!("{percent:.0} %"),
        false => format!("{percent:.1} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEASURED: &str = include_str!("../../../fixtures/measured/composed-strums.md");

    /// Reads a row of the measured table: what was, and how often it was called each of the eight.
    fn published(was: &str) -> Measured {
        let table = MEASURED
            .split("| was \\ said |")
            .nth(1)
            .expect("the table is there");
        let row = table
            .lines()
            .find(|line| line.starts_with(&format!("| {was} |")))
            .expect("the table has the row");
        let numbers: Vec<u32> = row
            .split('|')
            .filter_map(|cell| cell.trim().parse().ok())
            .collect();
        let [
            clean,
            silent,
            muted,
            choked,
            buzzing,
            wrong,
            ringing,
            unsure,
        ] = numbers[..]
        else {
            panic!("eight numbers were expected: {row}");
        };
        let faulty = muted + choked + buzzing + wrong + ringing;
        Measured {
            strings: clean + silent + faulty + unsure,
            faulty,
            fine: clean + silent,
        }
    }

    #[test]
    fn nearly_all_is_not_said_to_be_all() {
        assert_eq!(share(748, 750), "99.7 %");
        assert_eq!(share(9, 10), "90 %");
        assert_eq!(share(2, 1_000), "0.2 %");
    }

    #[test]
    fn the_page_says_what_was_published() {
        for (was, said) in [
            ("clean", CLEAN),
            ("muted", MUTED),
            ("choked", CHOKED),
            ("wrong-fret", WRONG_FRET),
            ("ringing", RINGING),
        ] {
            assert_eq!(said, published(was), "{was}");
        }
    }

    #[test]
    fn the_manuals_table_says_the_same() {
        let faulty = |m: Measured| share(m.faulty, m.strings);
        let readme = include_str!("../../../README.md");
        let rang = format!("strings that rang, called faulty | {} |", faulty(CLEAN));
        let others = [MUTED, CHOKED, WRONG_FRET].map(faulty).join(" / ");
        let others = format!("dead / dying early / wrong fret, called faulty | {others} |");
        assert!(readme.contains(&rang), "{rang}");
        assert!(readme.contains(&others), "{others}");
    }
}
