//! What to do next for an exam: the ladder from relearning to keeping warm, always worked out from
//! the notes and never typed.
//!
//! Relearn what was not learned → a first paper with notes open → a closed-notes paper → fill the
//! holes it showed → again with a fresh paper → ready, keep warm. The order and the numbers of
//! days are common practice, no published source.

use crate::readiness::Label;
use crate::{Day, Minutes, PaperId, PatternId, TopicId};

/// Below this mastery a pattern is a hole even when the last paper did not ask it.
const HOLE: f64 = 0.5;
/// Whole papers on the ladder: notes open, notes closed, and a fresh one.
const PAPERS: u32 = 3;
/// Days before an exam that leave time for everything.
const COMFORTABLE_DAYS: i64 = 7;
/// Days before an exam that the whole ladder needs at the least: a paper with notes open, one
/// without, a day for the holes, and a fresh paper.
pub const LADDER_DAYS: i64 = 4;

/// What is known of the preparation for one exam.
#[derive(Clone, Debug, PartialEq)]
pub struct Situation {
    /// Today.
    pub today: Day,
    /// The day of the exam.
    pub exam: Day,
    /// The first day of the preparation.
    pub start: Day,
    /// The covered topics that were not, or only partly, learned, in the order to learn them.
    pub unlearned: Vec<TopicId>,
    /// A paper by the instructor that was not taken yet: it comes before any drawn one, whole.
    pub instructor_paper: Option<PaperId>,
    /// The days of papers taken with notes open.
    pub open_papers: Vec<Day>,
    /// The days of papers taken with notes closed.
    pub closed_papers: Vec<Day>,
    /// The readiness, where it can be estimated.
    pub readiness: Option<Label>,
    /// The patterns that the exam covers.
    pub patterns: Vec<CoveredPattern>,
}

/// A pattern that the exam covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoveredPattern {
    /// Which one.
    pub pattern: PatternId,
    /// Its mastery today, from 0 to 1.
    pub mastery: f64,
    /// Whether the last closed-notes paper asked it without getting a right answer.
    pub missed: bool,
    /// Whether it had a closed-notes success since that paper.
    pub recovered: bool,
    /// Whether there is a problem to practise it with.
    pub has_problems: bool,
}

/// The next step for an exam.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    /// What to do.
    pub rung: Rung,
    /// Set when the days left are fewer than the rest of the ladder needs.
    pub alarm: Option<Alarm>,
}

/// A rung of the ladder.
#[derive(Clone, Debug, PartialEq)]
pub enum Rung {
    /// The exam is over: record its result, and take its holes along.
    Over,
    /// The exam is today.
    Today,
    /// The preparation has not begun.
    NotYet {
        /// The day on which it begins.
        start: Day,
    },
    /// Learn what was not learned.
    Relearn {
        /// The topics, in order.
        topics: Vec<TopicId>,
    },
    /// Take a first paper with notes open.
    FirstPaper {
        /// The instructor's paper to take; `None` to draw one.
        instructor: Option<PaperId>,
    },
    /// Take a paper with notes closed, timed.
    ClosedPaper {
        /// The instructor's paper to take; `None` to draw one.
        instructor: Option<PaperId>,
    },
    /// Practise the patterns that the last paper, or a low mastery, shows to be holes.
    FillHoles {
        /// The patterns to practise, missed ones first, then the weakest.
        patterns: Vec<PatternId>,
        /// Holes for which there is no problem.
        without_problems: Vec<PatternId>,
    },
    /// Take a fresh closed-notes paper.
    FreshPaper {
        /// The instructor's paper to take; `None` to draw one.
        instructor: Option<PaperId>,
        /// The first day for it: papers on different days show more.
        not_before: Day,
        /// Holes that stay open because there is no problem to fill them with.
        without_problems: Vec<PatternId>,
    },
    /// Ready: a little practice, so that it stays so.
    KeepWarm,
}

/// Too few days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alarm {
    /// Days left, today included, the exam's not.
    pub left: i64,
    /// Days that the rest of the ladder needs.
    pub needed: i64,
}

/// The next step for an exam.
///
/// Topics that were not learned come first. The first paper may have the notes open, and is left
/// out when the readiness is *close* already; then comes a closed-notes paper. After one, *ready*
/// ends the ladder; else the holes are filled (patterns missed in it, and those below a mastery of
/// .5, until each has had a closed-notes success), and a fresh paper is taken on another day.
#[must_use]
pub fn next_step(situation: &Situation) -> NextStep {
    let left = situation.exam.since(situation.today);
    let calm = |rung| NextStep { rung, alarm: None };
    if left < 0 {
        return calm(Rung::Over);
    }
    if left == 0 {
        return calm(Rung::Today);
    }
    if situation.today < situation.start {
        return calm(Rung::NotYet {
            start: situation.start,
        });
    }
    let rung = rung(situation);
    let needed = days_needed(&rung, situation.today);
    NextStep {
        rung,
        alarm: (left < needed).then_some(Alarm { left, needed }),
    }
}

fn rung(situation: &Situation) -> Rung {
    let taken = |days: &[Day]| {
        days.iter()
            .copied()
            .filter(|&day| day <= situation.today)
            .max()
    };
    let instructor = situation.instructor_paper;
    if !situation.unlearned.is_empty() {
        return Rung::Relearn {
            topics: situation.unlearned.clone(),
        };
    }
    let Some(last_closed) = taken(&situation.closed_papers) else {
        let far = matches!(situation.readiness, None | Some(Label::NotReady));
        return if far && taken(&situation.open_papers).is_none() {
            Rung::FirstPaper { instructor }
        } else {
            Rung::ClosedPaper { instructor }
        };
    };
    if situation.readiness == Some(Label::Ready) {
        return Rung::KeepWarm;
    }
    let (patterns, without_problems) = holes(&situation.patterns);
    if patterns.is_empty() {
        let not_before = last_closed.plus(1).max(situation.today);
        Rung::FreshPaper {
            instructor,
            not_before,
            without_problems,
        }
    } else {
        Rung::FillHoles {
            patterns,
            without_problems,
        }
    }
}

/// The holes that can be filled, and those for which there is no problem.
fn holes(patterns: &[CoveredPattern]) -> (Vec<PatternId>, Vec<PatternId>) {
    let mut holes: Vec<&CoveredPattern> = patterns
        .iter()
        .filter(|p| !p.recovered && (p.missed || p.mastery < HOLE))
        .collect();
    holes.sort_by(|a, b| {
        let missed_first = b.missed.cmp(&a.missed);
        missed_first
            .then(a.mastery.total_cmp(&b.mastery))
            .then(a.pattern.cmp(&b.pattern))
    });
    let (with, without): (Vec<_>, Vec<_>) = holes.into_iter().partition(|p| p.has_problems);
    let ids = |patterns: Vec<&CoveredPattern>| patterns.into_iter().map(|p| p.pattern).collect();
    (ids(with), ids(without))
}

/// The different days, today included, that the ladder still takes from this rung on.
fn days_needed(rung: &Rung, today: Day) -> i64 {
    match rung {
        Rung::Over | Rung::Today | Rung::NotYet { .. } | Rung::KeepWarm => 0,
        // The first paper may follow on the day of the relearning.
        Rung::Relearn { .. } | Rung::FirstPaper { .. } => LADDER_DAYS,
        Rung::ClosedPaper { .. } => LADDER_DAYS - 1,
        Rung::FillHoles { .. } => LADDER_DAYS - 2,
        Rung::FreshPaper { not_before, .. } => not_before.since(today) + 1,
    }
}

/// How much time a number of days leaves for preparation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lead {
    /// Three days or fewer: the ladder does not fit.
    Alarm,
    /// Four to six days: it fits, with nothing to spare.
    Tolerable,
    /// Seven days or more.
    Comfortable,
}

/// What `days` of preparation before an exam are worth.
#[must_use]
pub fn lead(days: i64) -> Lead {
    if days >= COMFORTABLE_DAYS {
        Lead::Comfortable
    } else if days >= LADDER_DAYS {
        Lead::Tolerable
    } else {
        Lead::Alarm
    }
}

/// The study time of the whole ladder: relearning, three papers of the exam's length, and as much
/// practice between them as is planned for the holes.
#[must_use]
pub fn minutes_of_the_ladder(paper: Minutes, relearning: Minutes, practice: Minutes) -> Minutes {
    let papers = paper.0.saturating_mul(PAPERS);
    Minutes(
        papers
            .saturating_add(relearning.0)
            .saturating_add(practice.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Ten days before an exam whose preparation began four days ago; nothing done yet.
    fn situation() -> Situation {
        Situation {
            today: Day(100),
            exam: Day(110),
            start: Day(96),
            unlearned: Vec::new(),
            instructor_paper: None,
            open_papers: Vec::new(),
            closed_papers: Vec::new(),
            readiness: Some(Label::NotReady),
            patterns: [(1, 0.3), (2, 0.7), (3, 0.2)].map(covered).to_vec(),
        }
    }

    fn covered((pattern, mastery): (u32, f64)) -> CoveredPattern {
        CoveredPattern {
            pattern: PatternId(pattern),
            mastery,
            missed: false,
            recovered: false,
            has_problems: true,
        }
    }

    fn check(situation: &Situation, rung: Rung, alarm: Option<(i64, i64)>) {
        let alarm = alarm.map(|(left, needed)| Alarm { left, needed });
        assert_eq!(next_step(situation), NextStep { rung, alarm });
    }

    #[test]
    fn the_ladder_from_the_bottom_to_the_top() {
        let mut s = Situation {
            today: Day(95),
            ..situation()
        };
        check(&s, Rung::NotYet { start: Day(96) }, None);
        s.today = Day(96);
        s.unlearned = vec![TopicId(4), TopicId(2)];
        check(
            &s,
            Rung::Relearn {
                topics: vec![TopicId(4), TopicId(2)],
            },
            None,
        );
        s.unlearned.clear();
        s.instructor_paper = Some(PaperId(7));
        check(
            &s,
            Rung::FirstPaper {
                instructor: Some(PaperId(7)),
            },
            None,
        );
        s.open_papers.push(Day(96));
        s.instructor_paper = None;
        check(&s, Rung::ClosedPaper { instructor: None }, None);
        s.closed_papers.push(Day(98));
        s.today = Day(98);
        s.patterns[1].missed = true;
        let patterns = vec![PatternId(2), PatternId(3), PatternId(1)];
        check(
            &s,
            Rung::FillHoles {
                patterns,
                without_problems: Vec::new(),
            },
            None,
        );
        s.patterns.iter_mut().for_each(|p| p.recovered = true);
        let fresh = |day| Rung::FreshPaper {
            instructor: None,
            not_before: Day(day),
            without_problems: Vec::new(),
        };
        check(&s, fresh(99), None);
        s.today = Day(102);
        check(&s, fresh(102), None);
        s.readiness = Some(Label::Ready);
        check(&s, Rung::KeepWarm, None);
        s.today = Day(110);
        check(&s, Rung::Today, None);
        s.today = Day(111);
        check(&s, Rung::Over, None);
    }

    #[test]
    fn who_is_close_already_begins_with_closed_notes() {
        let close = Situation {
            readiness: Some(Label::Close),
            ..situation()
        };
        check(&close, Rung::ClosedPaper { instructor: None }, None);
        let unknown = Situation {
            readiness: None,
            ..situation()
        };
        check(&unknown, Rung::FirstPaper { instructor: None }, None);
    }

    #[test]
    fn papers_of_the_future_are_not_taken_yet() {
        let planned = Situation {
            open_papers: vec![Day(101)],
            ..situation()
        };
        check(&planned, Rung::FirstPaper { instructor: None }, None);
    }

    #[test]
    fn holes_without_a_problem_do_not_hold_the_ladder_up() {
        let mut s = Situation {
            closed_papers: vec![Day(99)],
            ..situation()
        };
        s.patterns[0].has_problems = false;
        let (one, three) = (vec![PatternId(1)], vec![PatternId(3)]);
        check(
            &s,
            Rung::FillHoles {
                patterns: three,
                without_problems: one.clone(),
            },
            None,
        );
        s.patterns[2].recovered = true;
        let fresh = Rung::FreshPaper {
            instructor: None,
            not_before: Day(100),
            without_problems: one,
        };
        check(&s, fresh, None);
    }

    #[test]
    fn the_alarm_is_about_the_rest_of_the_ladder() {
        let first = |today| Situation {
            today: Day(today),
            ..situation()
        };
        check(&first(106), Rung::FirstPaper { instructor: None }, None);
        check(
            &first(107),
            Rung::FirstPaper { instructor: None },
            Some((3, 4)),
        );
        let closed = |today| Situation {
            open_papers: vec![Day(100)],
            ..first(today)
        };
        check(&closed(107), Rung::ClosedPaper { instructor: None }, None);
        check(
            &closed(108),
            Rung::ClosedPaper { instructor: None },
            Some((2, 3)),
        );
        // A paper today leaves no other day for a fresh one.
        let mut fresh = Situation {
            closed_papers: vec![Day(109)],
            ..first(109)
        };
        fresh.patterns.clear();
        let rung = Rung::FreshPaper {
            instructor: None,
            not_before: Day(110),
            without_problems: Vec::new(),
        };
        check(&fresh, rung, Some((1, 2)));
    }

    #[test]
    fn lead_days() {
        let check = |days, expected| assert_eq!(lead(days), expected, "{days} days");
        check(30, Lead::Comfortable);
        check(7, Lead::Comfortable);
        check(6, Lead::Tolerable);
        check(4, Lead::Tolerable);
        check(3, Lead::Alarm);
        check(-1, Lead::Alarm);
    }

    #[test]
    fn the_time_of_the_ladder() {
        let time = minutes_of_the_ladder(Minutes(75), Minutes(60), Minutes(90));
        assert_eq!(time, Minutes(375));
        let most = Minutes(u32::MAX);
        assert_eq!(minutes_of_the_ladder(most, most, most), most);
    }

    proptest! {
        #[test]
        fn any_situation_has_a_next_step(
            days in [any::<i32>(), any::<i32>(), any::<i32>()], papers in prop::collection::vec(any::<i32>(), 0..4),
            mastery in prop::collection::vec(prop_oneof![0.0f64..=1.0, Just(f64::NAN)], 0..4), missed: bool,
        ) {
            let s = Situation {
                today: Day(days[0]),
                exam: Day(days[1]),
                start: Day(days[2]),
                closed_papers: papers.iter().map(|&d| Day(d)).collect(),
                patterns: mastery.iter().map(|&m| CoveredPattern { missed, ..covered((0, m)) }).collect(),
                ..situation()
            };
            let step = next_step(&s);
            if let Some(alarm) = step.alarm {
                prop_assert!(0 < alarm.left && alarm.left < alarm.needed);
            }
        }
    }
}
