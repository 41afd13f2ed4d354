//! The lessons that come with the program, and a template for one's own.

use super::lesson::Lesson;
use super::lesson_file::Problem;
use crate::fretboard::Tuning;

/// Template that `--new` writes.
pub const TEMPLATE: &str = include_str!("template.toml");

/// A lesson that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bundled {
    /// Name that it is asked for by.
    pub name: &'static str,
    /// Its text, TOML.
    pub text: &'static str,
}

/// All of them, in the order in which they are meant.
pub const BUNDLED: [Bundled; 3] = [
    Bundled {
        name: "first-barre",
        text: include_str!("../../fixtures/lessons/first-barre.toml"),
    },
    Bundled {
        name: "along-the-neck",
        text: include_str!("../../fixtures/lessons/along-the-neck.toml"),
    },
    Bundled {
        name: "ferry-song",
        text: include_str!("../../fixtures/lessons/ferry-song.toml"),
    },
];

impl Bundled {
    /// The one of that name.
    pub fn named(name: &str) -> Option<Bundled> {
        BUNDLED.into_iter().find(|lesson| lesson.name == name)
    }

    /// Reads it for a guitar in this tuning.
    ///
    /// # Errors
    /// What does not go with the tuning, line by line.
    pub fn read(&self, usual: Tuning) -> Result<Lesson, Vec<Problem>> {
        Lesson::read_for(self.text, usual)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_with_the_program_can_be_practised() {
        for lesson in BUNDLED {
            let read = lesson.read(Tuning::default());
            assert!(read.is_ok(), "{}: {read:?}", lesson.name);
            assert_eq!(Bundled::named(lesson.name), Some(lesson));
        }
        assert_eq!(Bundled::named("none"), None);
        let template = Lesson::read(TEMPLATE).unwrap_or_else(|p| panic!("{p:?}"));
        assert_eq!(template.steps.len(), 5);
    }
}
