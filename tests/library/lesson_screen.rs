//! What a lesson shows on the whole screen, on terminals of several sizes.

use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::listening::Message;
use ringtrue::practice::{Circumstances, Event, Lesson, Practice};
use ringtrue::report::live::{Board, Guide, view};
use ringtrue::take::Manner;
use ringtrue::verdict::{Expected, ExpectedVoicing, Hand, JudgedTake, StringVerdict, Verdict};

const LESSON: &str = r#"
title = "First barre"
about = "Short is fine; stop when the hand is tired."
[[step]]
kind = "build"
chord = "F"
stages = ["barre", "shape"]
clean = 1
minutes = 8
say = "Lay the index finger close to the fret, a little on its side."
[[step]]
kind = "hold"
chords = ["x13331"]
minutes = 3
say = "No hurry here."
"#;

/// A lesson under way before a screen.
struct ScreenedLesson {
    practice: Practice,
    board: Board,
    guide: Guide,
    number: u64,
}

impl ScreenedLesson {
    fn new() -> ScreenedLesson {
        let lesson = Lesson::read(LESSON).unwrap_or_else(|p| panic!("{p:?}"));
        let circumstances = Circumstances {
            began: Timestamp::UNIX_EPOCH,
            guitar: None,
            sounds: false,
            recorded: false,
        };
        let mut practice = Practice::new(lesson, 1, None, circumstances);
        practice.begin(&mut Vec::new());
        let tuning = Tuning::default();
        let frets = "111111".parse().unwrap();
        let expected = Expected::Named(ExpectedVoicing::usual(frets, None, &tuning));
        let mut board = Board::new(&expected, &tuning, false);
        let mut guide = Guide::default();
        guide.open(&mut board, &practice);
        ScreenedLesson {
            practice,
            board,
            guide,
            number: 0,
        }
    }

    fn begun() -> ScreenedLesson {
        let mut lesson = ScreenedLesson::new();
        lesson.guide.begin(&mut lesson.board, &lesson.practice);
        lesson
    }

    /// A take of what is asked, with these verdicts.
    fn play(&mut self, faults: &[(u8, Verdict)]) {
        self.number += 1;
        let asked = self.practice.session().ask().unwrap();
        let tuning = Tuning::default();
        let expected = asked.expected(&tuning);
        let voicing = expected.named().unwrap();
        let start_s = 5.0 * self.number as f64;
        let take = take(&voicing.frets, &voicing.hand, faults, start_s);
        self.hear(take, start_s);
    }

    fn hear(&mut self, take: JudgedTake, start_s: f64) {
        let heard = Message::Settled {
            number: self.number,
            take,
        };
        self.board.hear(&heard);
        let mut events: Vec<Event> = Vec::new();
        self.practice.hear(&heard, start_s + 1.2, &mut events);
        for event in &events {
            self.guide.event(&mut self.board, &self.practice, event);
        }
    }

    /// A clean take of other frets than those asked.
    fn play_another(&mut self, frets: &str) {
        self.number += 1;
        let frets: Frets = frets.parse().unwrap();
        let hand = Hand::usual(&frets, &Tuning::default());
        let start_s = 5.0 * self.number as f64;
        self.hear(take(&frets, &hand, &[], start_s), start_s);
    }

    fn screen(&mut self, width: u16, height: u16) -> String {
        self.board.level_dbfs = Some(-20.0);
        self.board.keys = "q quit".to_owned();
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let board = &self.board;
        terminal.draw(|frame| view::draw(frame, board)).unwrap();
        let buffer = terminal.backend().buffer();
        let lines: Vec<String> = (0..height)
            .map(|y| (0..width).map(|x| buffer[(x, y)].symbol()).collect())
            .map(|line: String| line.trim_end().to_owned())
            .collect();
        lines.join("\n")
    }

    fn now(&mut self, now_s: f64) {
        self.guide.clock(&mut self.board, &self.practice, now_s);
    }
}

fn take(frets: &Frets, hand: &Hand, faults: &[(u8, Verdict)], start_s: f64) -> JudgedTake {
    let strings: [StringVerdict; STRINGS] = std::array::from_fn(|i| {
        let string = 6 - i as u8;
        let fault = faults.iter().find(|(s, _)| *s == string);
        let usual = match frets.0[i] {
            Some(_) => Verdict::Clean,
            None => Verdict::Silent,
        };
        StringVerdict {
            string,
            expected_fret: frets.0[i],
            verdict: fault.map_or(usual, |(_, verdict)| *verdict),
            heard_fret: None,
            rings: 0.5,
            confidence: 0.95,
            cents: None,
            level_db: None,
            reason: None,
        }
    });
    let mut take = JudgedTake {
        start_s,
        manner: Manner::Strummed,
        chord: None,
        frets: *frets,
        tuning_cents: 0.0,
        warnings: Vec::new(),
        strings,
        advice: Vec::new(),
    };
    take.explain(hand, &[]);
    take
}

/// A sentence as it stands on a screen, however its lines are broken.
fn shows(screen: &str, words: &str) -> bool {
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    flat(screen).contains(&flat(words))
}

#[test]
fn before_it_begins_the_teachers_words_and_the_steps_are_read() {
    let mut lesson = ScreenedLesson::new();
    for (width, height) in [(80, 24), (120, 40), (50, 18)] {
        let screen = lesson.screen(width, height);
        for words in [
            "Short is fine; stop when the hand is tired.",
            "1. a chord from its parts: F (133211)",
            "2. chords at your own pace: Bb",
            "Strum once, or press a key, to begin.",
        ] {
            // The title and the prompt may stand in larger letters on a large screen.
            let large = width == 120 && words.starts_with("Strum");
            assert!(large || shows(&screen, words), "{words}\n{screen}");
        }
        assert!(!screen.contains("···"), "{screen}");
    }
}

#[test]
fn the_task_the_teachers_words_the_picture_and_how_far_along_are_all_there() {
    let mut lesson = ScreenedLesson::begun();
    lesson.now(70.0);
    let usual = lesson.screen(80, 24);
    for words in [
        "Step 1 of 2, a chord from its parts",
        "0 of 2   6:50 left",
        "The barre alone: 111111, every string at its fret.",
        "Lay the index finger close to the fret, a little on its side.",
        // The picture, with the index finger across.
        "1: 1━━━1━━━1━━━1━━━1━━━1",
    ] {
        assert!(usual.contains(words), "{words}\n{usual}");
    }
    lesson.play(&[(2, Verdict::Muted)]);
    insta::assert_snapshot!("a_lesson_at_80_by_24", lesson.screen(80, 24));
    insta::assert_snapshot!("a_lesson_at_120_by_40", lesson.screen(120, 40));
    insta::assert_snapshot!("a_lesson_in_a_small_window", lesson.screen(44, 16));
}

#[test]
fn when_the_step_changes_nothing_of_the_old_one_stays_under_the_new_one() {
    let mut lesson = ScreenedLesson::begun();
    lesson.play(&[]);
    assert!(lesson.screen(80, 24).contains("clean"));
    lesson.play(&[(6, Verdict::WrongFret)]);
    lesson.now(12.0);
    let screen = lesson.screen(80, 24);
    assert!(screen.contains("Step 2 of 2"), "{screen}");
    assert!(screen.contains("No hurry here."), "{screen}");
    assert!(screen.contains("step 1: done"), "{screen}");
    for old in ["clean", "wrong fret", "Lay the index", "Every string"] {
        assert!(!screen.contains(old), "{old}\n{screen}");
    }
}

#[test]
fn where_another_part_was_played_the_screen_says_what_to_do_and_not_that_all_is_well() {
    let mut lesson = ScreenedLesson::begun();
    lesson.play_another("133211");
    let usual = lesson.screen(80, 24);
    let to_do = "That was the whole F: lay only the index finger. It does not count.";
    assert!(
        shows(
            &usual,
            "That was the whole F: lay only the index finger. It"
        ),
        "{usual}"
    );
    assert_eq!(lesson.board.advice(), to_do);
    assert!(!usual.contains("Every string"), "{usual}");
    // It goes with the next strum.
    lesson.play(&[(2, Verdict::Muted)]);
    assert!(!lesson.screen(80, 24).contains("the whole F"));
}

#[test]
fn before_it_begins_nothing_that_is_to_be_read_is_cut_off() {
    let mut lesson = ScreenedLesson::begun();
    lesson.board.begun = false;
    lesson.board.prompt = "Strum once, or press a key, to begin.".to_owned();
    let words: Vec<String> = (0..80).map(|n| format!("word{n}")).collect();
    lesson.board.say = words.join(" ");
    let screen = lesson.screen(80, 24);
    for words in [
        "word79",
        "Strum once, or press a key, to begin.",
        "1: 1━━━1━━━1",
    ] {
        assert!(screen.contains(words), "{words}\n{screen}");
    }
}

#[test]
fn while_it_is_paused_the_screen_says_so_and_shows_nothing_that_is_played() {
    let mut lesson = ScreenedLesson::begun();
    lesson.practice.pause(3.0);
    lesson.board.paused = true;
    lesson.now(4.0);
    lesson.board.hear(&Message::First {
        number: 9,
        take: take(
            &"111111".parse().unwrap(),
            &Hand::usual(&"111111".parse().unwrap(), &Tuning::default()),
            &[(3, Verdict::Muted)],
            5.0,
        ),
    });
    let screen = lesson.screen(80, 24);
    assert!(
        screen.contains("Paused: nothing that you play counts."),
        "{screen}"
    );
    assert!(!screen.contains("muted"), "{screen}");
}

#[test]
fn no_size_of_terminal_breaks_the_screen_of_a_lesson() {
    let mut lesson = ScreenedLesson::begun();
    lesson.play(&[(5, Verdict::Buzzing), (2, Verdict::Muted)]);
    for (width, height) in [(1, 1), (10, 3), (20, 60), (73, 23), (200, 7), (300, 100)] {
        lesson.screen(width, height);
    }
}
