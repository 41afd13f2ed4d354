//! What the whole-screen view shows, on terminals of several sizes.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ringtrue::fretboard::Tuning;
use ringtrue::listening::Message;
use ringtrue::report::live::{Board, view};
use ringtrue::take::Manner;
use ringtrue::verdict::{Expected, ExpectedVoicing, JudgedTake, StringVerdict, Verdict, Warning};

fn expected() -> Expected {
    let tuning = Tuning::default();
    let frets = "x13331".parse().unwrap();
    Expected::Named(ExpectedVoicing::usual(
        frets,
        Some("Bb".to_owned()),
        &tuning,
    ))
}

/// A take of the chord with these verdicts, string 6 first.
fn take(verdicts: [Verdict; 6]) -> JudgedTake {
    let Expected::Named(voicing) = expected() else {
        unreachable!()
    };
    let mut take = JudgedTake {
        start_s: 1.0,
        manner: Manner::Strummed,
        chord: voicing.chord,
        frets: voicing.frets,
        tuning_cents: 0.0,
        warnings: Vec::new(),
        strings: std::array::from_fn(|i| StringVerdict {
            string: 6 - i as u8,
            expected_fret: voicing.frets.0[i],
            verdict: verdicts[i],
            heard_fret: (verdicts[i] == Verdict::WrongFret).then_some(1),
            rings: 0.5,
            confidence: 0.95,
            cents: None,
            level_db: None,
            reason: None,
        }),
        advice: Vec::new(),
    };
    take.explain(&voicing.hand, &[]);
    take
}

fn all_kinds() -> JudgedTake {
    use Verdict::*;
    take([Ringing, Clean, Muted, WrongFret, Choked, Unsure])
}

fn screen(board: &Board, width: u16, height: u16) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| view::draw(frame, board)).unwrap();
    let buffer = terminal.backend().buffer();
    let lines: Vec<String> = (0..height)
        .map(|y| (0..width).map(|x| buffer[(x, y)].symbol()).collect())
        .map(|line: String| line.trim_end().to_owned())
        .collect();
    lines.join("\n").trim_end().to_owned()
}

fn board() -> Board {
    let mut board = Board::new(&expected(), &Tuning::default(), false);
    board.keys = "h hear it clean   q quit".to_owned();
    board.level_dbfs = Some(-20.0);
    board
}

fn settled(number: u64, take: JudgedTake) -> Message {
    Message::Settled { number, take }
}

#[test]
fn a_small_terminal_has_a_line_for_each_string_with_word_symbol_and_history() {
    let mut board = board();
    use Verdict::*;
    board.hear(&settled(
        1,
        take([Silent, Clean, Clean, Clean, Muted, Clean]),
    ));
    board.hear(&settled(2, all_kinds()));
    insta::assert_snapshot!(screen(&board, 40, 15));
}

#[test]
fn a_usual_terminal_has_letters_that_read_from_a_metre() {
    let mut board = board();
    board.hear(&settled(1, all_kinds()));
    insta::assert_snapshot!(screen(&board, 80, 24));
}

#[test]
fn a_large_terminal_has_larger_ones() {
    let mut board = board();
    board.hear(&settled(1, all_kinds()));
    insta::assert_snapshot!(screen(&board, 120, 40));
}

#[test]
fn before_the_first_strum_and_after_trouble_the_screen_says_what_to_do() {
    let mut board = board();
    let empty = screen(&board, 80, 24);
    assert!(empty.contains("Strum the chord once"), "{empty}");
    board.trouble = Some("The microphone is gone.".to_owned());
    board.level_dbfs = None;
    let trouble = screen(&board, 80, 24);
    assert!(trouble.contains("The microphone is gone."));
    assert!(trouble.contains("no microphone"));
}

#[test]
fn a_take_that_is_not_judged_says_why_and_leaves_the_history_alone() {
    let mut board = board();
    board.hear(&settled(1, all_kinds()));
    let mut quiet = take([Verdict::Unsure; 6]);
    quiet.warnings = vec![Warning::TooQuiet { peak_dbfs: -60.0 }];
    for string in &mut quiet.strings {
        string.reason = Some(ringtrue::verdict::Reason::NotJudged);
    }
    quiet.advice.clear();
    board.hear(&settled(2, quiet));
    let text = screen(&board, 80, 24);
    assert!(text.contains("very quiet"), "{text}");
    assert_eq!(board.history(0).count(), 1);
}

#[test]
fn a_string_that_is_dead_or_dies_early_is_said_to_be_either() {
    let mut board = board();
    let mut either = take([Verdict::Clean; 6]);
    for (string, verdict) in [(2, Verdict::Muted), (4, Verdict::Choked)] {
        either.strings[string].verdict = verdict;
        either.strings[string].reason = Some(ringtrue::verdict::Reason::MutedOrChoked);
    }
    board.hear(&settled(1, either));
    let small = screen(&board, 40, 15);
    assert!(small.contains("muted or choked"), "{small}");
    assert!(small.contains("choked or muted"), "{small}");
    let usual = screen(&board, 80, 24);
    assert!(
        usual.contains("or choked") && usual.contains("or muted"),
        "{usual}"
    );
}

#[test]
fn a_first_picture_gives_way_to_the_verdict_and_a_withdrawn_take_disappears() {
    let mut board = board();
    let first = take([Verdict::Silent; 6]);
    board.hear(&Message::First {
        number: 1,
        take: first,
    });
    assert!(screen(&board, 80, 24).contains("first guess"));
    assert_eq!(board.history(0).count(), 0);
    board.hear(&settled(1, all_kinds()));
    assert!(!screen(&board, 80, 24).contains("first guess"));
    assert_eq!(board.history(0).collect::<Vec<_>>(), [Verdict::Ringing]);
    board.hear(&Message::Withdrawn { number: 1 });
    assert_eq!(board.history(0).count(), 0);
    assert!(board.take().is_none());
}

#[test]
fn ten_takes_are_remembered_and_no_size_of_terminal_breaks_the_screen() {
    let mut board = board();
    for number in 1..=25 {
        board.hear(&settled(number, all_kinds()));
    }
    assert_eq!(board.history(3).count(), 10);
    for (width, height) in [(1, 1), (10, 3), (20, 60), (73, 23), (200, 7), (300, 100)] {
        screen(&board, width, height);
    }
}
