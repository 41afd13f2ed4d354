use super::*;
use crate::practice::exercise::tests::take;
use crate::verdict::Verdict;

/// A lesson played by a hand that needs `every_s` from strum to strum.
struct SteadyPlayer {
    session: Session,
    now_s: f64,
    number: u64,
    events: Vec<Event>,
}

impl SteadyPlayer {
    fn new(steps: &str) -> SteadyPlayer {
        let lesson =
            Lesson::read(&format!("title = \"t\"\n{steps}")).unwrap_or_else(|p| panic!("{p:?}"));
        let mut player = SteadyPlayer {
            session: Session::new(&lesson, 1),
            now_s: 0.0,
            number: 0,
            events: Vec::new(),
        };
        player.session.begin(0.0, &mut player.events);
        player
    }

    fn asked(&self) -> String {
        self.session
            .ask()
            .expect("the lesson is on")
            .target
            .frets
            .to_string()
    }

    /// Plays what is asked, `after_s` later.
    fn play(&mut self, after_s: f64, faults: &[(u8, Verdict)]) -> &TakeEvent {
        let frets = self.asked();
        self.play_frets(&frets, after_s, faults)
    }

    fn play_frets(&mut self, frets: &str, after_s: f64, faults: &[(u8, Verdict)]) -> &TakeEvent {
        let struck_s = self.now_s + after_s;
        self.session.tick(struck_s, &mut self.events);
        self.now_s = struck_s + 1.2;
        self.number += 1;
        let take = take(frets, faults, struck_s);
        self.session
            .hear(self.number, &take, self.now_s, &mut self.events);
        let number = self.number;
        self.events
            .iter()
            .rev()
            .find_map(|event| match event {
                Event::Take(take) if take.number == number => Some(take),
                _ => None,
            })
            .expect("every take is told")
    }

    fn outcomes(&self) -> Vec<(usize, StepOutcome)> {
        self.events
            .iter()
            .filter_map(|event| match event {
                Event::Over { step, outcome } => Some((*step, *outcome)),
                _ => None,
            })
            .collect()
    }
}

const TWO: &str = "[[step]]\nkind = \"place\"\nchord = \"F\"\nclean = 2\nminutes = 1\n\
                   [[step]]\nkind = \"place\"\nchord = \"C\"\nclean = 1\nminutes = 1\n";

#[test]
fn steps_come_in_the_teachers_order_and_are_passed() {
    let mut player = SteadyPlayer::new(TWO);
    assert_eq!(player.asked(), "133211");
    player.play(1.0, &[]);
    assert_eq!(player.asked(), "133211");
    player.play(1.0, &[]);
    assert_eq!(player.asked(), "x32010");
    player.play(1.0, &[]);
    assert_eq!(
        player.outcomes(),
        [(0, StepOutcome::Passed), (1, StepOutcome::Passed)]
    );
    assert_eq!(player.events.last(), Some(&Event::End));
    assert!(player.session.ask().is_none() && player.session.step().is_none());
}

#[test]
fn after_its_time_a_step_is_over() {
    let mut player = SteadyPlayer::new(TWO);
    player.play(1.0, &[(1, Verdict::Muted)]);
    let mut events = Vec::new();
    player.session.tick(61.0, &mut events);
    assert!(
        events.is_empty(),
        "a take that began in time may still come"
    );
    player.session.tick(62.0, &mut events);
    assert_eq!(
        events[..2],
        [
            Event::Over {
                step: 0,
                outcome: StepOutcome::TimeUp
            },
            Event::Step { step: 1 }
        ]
    );
}

#[test]
fn a_take_struck_in_time_counts_one_struck_later_does_not() {
    let mut player = SteadyPlayer::new(TWO);
    let take = player.play(59.5, &[]);
    assert_eq!((take.step, take.reply.clean), (0, Some(true)));
    assert!(player.outcomes().is_empty());
    // Struck after the limit, but before anyone said so.
    let take = player.play_frets("133211", 0.0, &[]).clone();
    assert_eq!(take.reply.note, crate::practice::exercise::Remark::Late);
    assert_eq!(player.outcomes(), [(0, StepOutcome::TimeUp)]);
}

#[test]
fn the_minute_of_changes_runs_from_the_first_strum_and_is_used_up() {
    let mut player = SteadyPlayer::new(
        "[[step]]\nkind = \"switch\"\nchords = [\"F\", \"C\"]\nclean = 3\nminutes = 1\n",
    );
    assert_eq!(player.session.left_s(0.0), None);
    player.play(120.0, &[]);
    assert_eq!(player.session.left_s(130.0), Some(50.0));
    for _ in 0..8 {
        player.play(1.0, &[]);
    }
    assert!(player.outcomes().is_empty());
    player.session.tick(182.0, &mut player.events);
    assert_eq!(player.outcomes(), [(0, StepOutcome::Passed)]);
}

#[test]
fn a_take_that_was_none_is_taken_back() {
    let mut player = SteadyPlayer::new(TWO);
    player.play(1.0, &[]);
    let mut events = Vec::new();
    player.session.withdraw(player.number, &mut events);
    assert!(events.contains(&Event::Withdrawn { number: 1 }));
    player.play(1.0, &[]);
    assert!(player.outcomes().is_empty(), "one clean take, not two");
    player.play(1.0, &[]);
    assert_eq!(player.outcomes(), [(0, StepOutcome::Passed)]);
}

#[test]
fn a_later_word_on_a_take_replaces_the_earlier_one() {
    let mut player = SteadyPlayer::new(TWO);
    player.play(1.0, &[]);
    let again = take("133211", &[(2, Verdict::Muted)], 1.0);
    player.session.hear(1, &again, 3.0, &mut player.events);
    player.play(1.0, &[]);
    assert!(player.outcomes().is_empty());
}

#[test]
fn a_later_word_on_a_take_changes_nothing_once_something_else_is_asked() {
    let mut player = SteadyPlayer::new(TWO);
    player.play(1.0, &[]);
    let start_s = player.play(1.0, &[]).take.start_s;
    assert_eq!(player.outcomes(), [(0, StepOutcome::Passed)]);
    let last = player.number;
    let again = take("133211", &[(2, Verdict::Buzzing)], start_s);
    let mut events = Vec::new();
    player
        .session
        .hear(last, &again, start_s + 1.0, &mut events);
    assert_eq!(events, []);
}

#[test]
fn steps_take_turns_on_request() {
    let mut player = SteadyPlayer::new(&format!(
        "alternate = true\n{}",
        TWO.replace("clean = 2", "clean = 6")
            .replace("clean = 1", "clean = 5")
    ));
    let mut asked = Vec::new();
    while player.session.ask().is_some() {
        asked.push(player.asked().starts_with('1'));
        player.play(0.5, &[]);
    }
    let turns: Vec<usize> = asked.chunk_by(|a, b| a == b).map(<[bool]>::len).collect();
    assert_eq!(turns, [4, 4, 2, 1]);
    assert_eq!(
        player.outcomes(),
        [(0, StepOutcome::Passed), (1, StepOutcome::Passed)]
    );
}

#[test]
fn the_clock_of_a_step_stands_while_another_one_has_its_turn() {
    let mut player = SteadyPlayer::new(&format!(
        "alternate = true\n{}",
        TWO.replace("clean = 1", "clean = 9")
    ));
    for _ in 0..4 {
        player.play(1.0, &[(1, Verdict::Muted)]);
    }
    assert_eq!(player.asked(), "x32010");
    let used_s = player.now_s;
    for _ in 0..4 {
        player.play(10.0, &[(1, Verdict::Muted)]);
    }
    assert_eq!(player.asked(), "133211");
    let left_s = player.session.left_s(player.now_s).unwrap();
    assert!((left_s - (60.0 - used_s)).abs() < 1e-9, "{left_s}");
}

#[test]
fn leaving_a_step_goes_on_to_the_next() {
    let mut player = SteadyPlayer::new(TWO);
    player.session.leave(5.0, &mut player.events);
    assert_eq!(player.outcomes(), [(0, StepOutcome::Left)]);
    assert_eq!(player.asked(), "x32010");
    let results = player.session.results();
    assert_eq!(
        (results[1].step, results[1].outcome),
        (1, StepOutcome::Stopped)
    );
}

#[test]
fn nothing_is_told_of_steps_that_were_not_begun() {
    let mut player = SteadyPlayer::new(TWO);
    player.play(1.0, &[]);
    let steps: Vec<usize> = player.session.results().iter().map(|r| r.step).collect();
    assert_eq!(steps, [0]);
}

#[test]
fn a_pause_takes_no_time_from_the_step() {
    let mut player = SteadyPlayer::new(TWO);
    player.session.pause(20.0);
    assert_eq!(player.session.left_s(50.0), None);
    player.session.tick(500.0, &mut player.events);
    assert_eq!(player.outcomes(), []);
    player.session.go_on(500.0);
    assert_eq!(player.session.left_s(510.0), Some(30.0));
    // Paused before its first step, a lesson waits as well.
    let lesson = Lesson::read(&format!("title = \"t\"\n{TWO}")).unwrap();
    let mut session = Session::new(&lesson, 1);
    session.begin(0.0, &mut Vec::new());
    session.pause(0.0);
    session.go_on(30.0);
    assert_eq!(session.left_s(30.0), Some(60.0));
}

fn breaks(pause_s: f64, takes: usize) -> usize {
    let mut player = SteadyPlayer::new(
        "[[step]]\nkind = \"place\"\nchord = \"F\"\nclean = 100\nminutes = 60\n\
         [[step]]\nkind = \"place\"\nchord = \"F\"\nclean = 100\nminutes = 60\n",
    );
    for _ in 0..takes {
        player.play(pause_s, &[(1, Verdict::Muted)]);
    }
    player.events.iter().filter(|e| **e == Event::Break).count()
}

#[test]
fn after_half_an_hour_of_playing_a_break_is_named_once() {
    assert_eq!(breaks(8.8, 175), 0);
    assert_eq!(breaks(8.8, 185), 1);
    assert_eq!(breaks(8.8, 400), 1);
}

#[test]
fn who_pauses_for_two_minutes_now_and_then_is_practising() {
    assert_eq!(breaks(118.0, 14), 0);
    assert_eq!(breaks(118.0, 17), 1);
}

#[test]
fn who_pauses_long_enough_has_had_the_break() {
    assert_eq!(breaks(301.0, 15), 0);
}

#[test]
fn no_course_of_playing_ends_a_lesson_wrongly() {
    // Random hands, random pauses: every take is told, each step ends at most once, and what is asked
    // is always told before it is judged.
    use rand::Rng;
    let text = std::fs::read_to_string("fixtures/lessons/along-the-neck.toml").unwrap()
        + "[[step]]\nkind = \"switch\"\nchords = [\"F\", \"C\"]\n";
    let text = text.replace("title =", "alternate = true\ntitle =");
    let lesson = Lesson::read(&text).unwrap();
    for seed in 0..200 {
        let mut rng = SmallRng::seed_from_u64(seed);
        let mut session = Session::new(&lesson, seed);
        let mut events = Vec::new();
        session.begin(0.0, &mut events);
        let mut now_s = 0.0;
        for number in 0..400 {
            now_s += rng.random_range(1.3..20.0);
            session.tick(now_s, &mut events);
            let Some(ask) = session.ask() else { break };
            let which = rng.random_range(0..=ask.others.len());
            let target = if which == 0 || rng.random_bool(0.7) {
                ask.target.clone()
            } else {
                ask.others[which - 1].clone()
            };
            let faults: &[(u8, Verdict)] = match rng.random_bool(0.5) {
                true => &[(2, Verdict::Choked)],
                false => &[],
            };
            let take = take(&target.frets.to_string(), faults, now_s);
            session.hear(number, &take, now_s + 1.2, &mut events);
            if rng.random_bool(0.1) {
                session.withdraw(number, &mut events);
            }
            session.ended(number, now_s + 1.25);
        }
        let over: Vec<usize> = events
            .iter()
            .filter_map(|e| match e {
                Event::Over { step, .. } => Some(*step),
                _ => None,
            })
            .collect();
        let mut once = over.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(over.len(), once.len(), "seed {seed}");
        assert_eq!(session.ask().is_none(), over.len() == lesson.steps.len());
    }
}
