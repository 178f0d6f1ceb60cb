//! Mastery: the probability of a right answer on a fresh problem of a pattern, notes closed, on
//! the day asked about.
//!
//! A beta-binomial estimate for each pattern. Its prior is drawn from the student's other
//! patterns, first of the same topic and then of the whole course, so that three tries of one
//! pattern neither count for nothing nor decide alone; then the odds fade with the days since the
//! last try.

use crate::beta::{logistic, logit, quantile};
use crate::evidence::{Evidence, PatternEvidence, RecentClosed};
use crate::{Day, PatternId, TopicId};
use std::collections::BTreeMap;

/// The chance of a right answer before anything is known about the student.
const FIRST_GUESS: f64 = 0.5;
/// How many tries the first guess counts as, against the student's evidence.
const STUDENT_WEIGHT: f64 = 10.0;
/// How many tries the student's level counts as, against a topic's evidence.
const TOPIC_WEIGHT: f64 = 3.0;
/// How many tries the topic's level counts as, against a pattern's evidence.
pub(crate) const PATTERN_WEIGHT: f64 = 3.0;
/// How far below its topic, in log odds, a pattern is that was never tried.
const UNTRIED_PENALTY: f64 = 0.25;
/// The speed of fading after one day of practice.
pub(crate) const FADING: f64 = 0.15;
/// The shown interval leaves this out on either side.
const TAIL: f64 = 0.05;
/// Tries of the whole course below which an estimate says more about the prior than about the
/// student.
const ENOUGH_TRIES: f64 = 5.0;

/// The evidence of a whole course, pattern by pattern. When the tries of one pattern change, only
/// that pattern's evidence has to be set again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CourseEvidence {
    patterns: BTreeMap<PatternId, (TopicId, PatternEvidence)>,
    marks: BTreeMap<TopicId, PatternEvidence>,
}

impl CourseEvidence {
    /// A course of which nothing is known.
    #[must_use]
    pub fn new() -> CourseEvidence {
        CourseEvidence::default()
    }

    /// Sets the topic and the evidence of a pattern; an untried one has
    /// [`PatternEvidence::default`].
    pub fn set_pattern(&mut self, pattern: PatternId, topic: TopicId, evidence: PatternEvidence) {
        self.patterns.insert(pattern, (topic, evidence));
    }

    /// Forgets a pattern.
    pub fn remove_pattern(&mut self, pattern: PatternId) {
        self.patterns.remove(&pattern);
    }

    /// Sets the marks from outside (quizzes, homework) that a topic was given as a whole: they
    /// count towards the topic, as one more pattern of it would, and towards the student.
    pub fn set_marks(&mut self, topic: TopicId, evidence: PatternEvidence) {
        self.marks.insert(topic, evidence);
    }

    /// The evidence of a pattern, if the course has it.
    #[must_use]
    pub fn pattern(&self, pattern: PatternId) -> Option<&PatternEvidence> {
        self.patterns.get(&pattern).map(|(_, evidence)| evidence)
    }
}

/// Where the student stands in a course on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The day asked about.
    pub day: Day,
    /// The level of the student in the whole course, strictly between 0 and 1.
    pub student: f64,
    /// The level in each topic that has a pattern or a mark, strictly between 0 and 1.
    pub topics: BTreeMap<TopicId, f64>,
    /// The estimate of every pattern.
    pub patterns: BTreeMap<PatternId, Mastery>,
    /// Tries of the course up to the day, marks from outside included.
    pub tries: u32,
    /// Whether there are at least five tries; when not, say "too little evidence yet" beside
    /// every estimate.
    pub enough_evidence: bool,
}

/// The estimate of one pattern on one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mastery {
    /// The topic of the pattern.
    pub topic: TopicId,
    /// The decayed evidence of the pattern's own tries.
    pub evidence: Evidence,
    /// Different days of practice.
    pub days: u32,
    /// The last day of practice; `None` for an untried pattern.
    pub last: Option<Day>,
    /// Days from the last practice to the day asked about, at least 0.
    pub gap: Option<u32>,
    /// What the rest of the course says of the pattern, strictly between 0 and 1.
    pub prior: f64,
    /// The mastery: the probability of a right answer, from 0 to 1.
    pub mean: f64,
    /// The 5% quantile.
    pub low: f64,
    /// The 95% quantile.
    pub high: f64,
    /// How many tries the estimate is worth: α + β of the beta distribution, at least 3.
    pub concentration: f64,
    /// The most recent closed-notes tries.
    pub recent: RecentClosed,
    /// The last closed-notes success.
    pub last_closed_success: Option<Day>,
    /// Whether the pattern may rest: see [`PatternEvidence::rests`].
    pub rests: bool,
}

impl Mastery {
    /// The mastery on the day asked about, from 0 to 1, were `days` more days to pass without
    /// practice (only the odds fade; the evidence's own decay is not repeated).
    #[must_use]
    pub fn after(&self, days: u32) -> f64 {
        match self.gap {
            None => self.mean,
            Some(gap) => {
                let slope = FADING / f64::from(self.days).sqrt();
                let passed =
                    libm::log1p(f64::from(gap) + f64::from(days)) - libm::log1p(f64::from(gap));
                logistic(logit(self.mean) - slope * passed)
            }
        }
    }
}

/// The mastery `mean` (strictly between 0 and 1) after `gap` days without practice, when it was
/// practised on `days` different days (at least 1).
///
/// The odds fall as a power of the time since the last practice (Anderson and Schooler 1991):
/// logit m − (0.15/√days) · ln(1 + gap); practice spread over more days fades more slowly.
#[must_use]
pub fn faded(mean: f64, days: u32, gap: u32) -> f64 {
    let slope = FADING / f64::from(days.max(1)).sqrt();
    logistic(logit(mean) - slope * libm::log1p(f64::from(gap)))
}

/// Estimates every pattern of a course on a day, in time proportional to the number of patterns.
///
/// Tries after `day` do not count. With S and N the success and the whole of the decayed
/// evidence, the level of the student without the pattern's topic is
/// μₛ = (10 · ½ + S)/(10 + N) over the other topics; that of the topic without the pattern
/// μₖ = (3 μₛ + S)/(3 + N) over the topic's other patterns; the pattern's own evidence then gives
/// α = 3 μₖ + S and β = 3 (1 − μₖ) + F. A pattern never tried has logit m = logit μₖ − 0.25 and
/// α + β = 3. The constants were chosen on open sets of student answers.
#[must_use]
pub fn estimate(course: &CourseEvidence, day: Day) -> Standing {
    let mut tries = 0.0;
    let mut topics: BTreeMap<TopicId, Vec<Part>> = BTreeMap::new();
    let patterns = course
        .patterns
        .iter()
        .map(|(id, (topic, e))| (*topic, Some(*id), e));
    let marks = course.marks.iter().map(|(topic, e)| (*topic, None, e));
    for (topic, pattern, evidence) in patterns.chain(marks) {
        let practised = evidence.on(day);
        tries += practised.map_or(0.0, |p| p.tries);
        let evidence_now = practised.map_or(Evidence::default(), |p| p.evidence);
        topics.entry(topic).or_default().push(Part {
            pattern,
            evidence,
            now: evidence_now,
        });
    }

    let sums: Vec<Evidence> = topics
        .values()
        .map(|parts| sum(parts.iter().map(|part| part.now)))
        .collect();
    let others = sums_of_the_others(&sums);
    let mut standing = Standing {
        day,
        student: level(FIRST_GUESS, STUDENT_WEIGHT, sum(sums.iter().copied())),
        topics: BTreeMap::new(),
        patterns: BTreeMap::new(),
        tries: tries.round() as u32,
        enough_evidence: tries > ENOUGH_TRIES - 1e-6,
    };
    for (((topic, parts), own), rest) in topics.into_iter().zip(sums).zip(others) {
        let student = level(FIRST_GUESS, STUDENT_WEIGHT, rest);
        standing
            .topics
            .insert(topic, level(student, TOPIC_WEIGHT, own));
        let evidence: Vec<Evidence> = parts.iter().map(|part| part.now).collect();
        for (part, rest) in parts.iter().zip(sums_of_the_others(&evidence)) {
            if let Some(pattern) = part.pattern {
                let prior = level(student, TOPIC_WEIGHT, rest);
                standing
                    .patterns
                    .insert(pattern, mastery(topic, part.evidence, prior, day));
            }
        }
    }
    standing
}

/// A part of a topic: a pattern, or (without a number) the topic's marks from outside.
struct Part<'a> {
    pattern: Option<PatternId>,
    evidence: &'a PatternEvidence,
    now: Evidence,
}

fn mastery(topic: TopicId, evidence: &PatternEvidence, prior: f64, day: Day) -> Mastery {
    let practised = evidence.on(day);
    let (own, days, gap, mean, concentration) = match practised {
        None => {
            let mean = logistic(logit(prior) - UNTRIED_PENALTY);
            (Evidence::default(), 0, None, mean, PATTERN_WEIGHT)
        }
        Some(practised) => {
            let concentration = PATTERN_WEIGHT + practised.evidence.total();
            let now = (PATTERN_WEIGHT * prior + practised.evidence.success) / concentration;
            let gap = u32::try_from(day.since(practised.last)).unwrap_or(0);
            let mean = faded(now, practised.days, gap);
            (
                practised.evidence,
                practised.days,
                Some(gap),
                mean,
                concentration,
            )
        }
    };
    let (alpha, beta) = (mean * concentration, (1.0 - mean) * concentration);
    Mastery {
        topic,
        evidence: own,
        days,
        last: practised.map(|p| p.last),
        gap,
        prior,
        mean,
        low: quantile(alpha, beta, TAIL),
        high: quantile(alpha, beta, 1.0 - TAIL),
        concentration,
        recent: evidence.recent_closed(day),
        last_closed_success: evidence.last_closed_success(day),
        rests: evidence.rests(day),
    }
}

/// The mean of a beta distribution that starts at `prior`, worth `weight` tries, and sees
/// `evidence`.
fn level(prior: f64, weight: f64, evidence: Evidence) -> f64 {
    (weight * prior + evidence.success) / (weight + evidence.total())
}

fn sum(parts: impl Iterator<Item = Evidence>) -> Evidence {
    parts.fold(Evidence::default(), |a, b| Evidence {
        success: a.success + b.success,
        failure: a.failure + b.failure,
    })
}

/// For each of `parts`, the sum of all but it: sums from the left and from the right, because
/// subtracting from the whole would leave rounding errors where nothing else was tried.
fn sums_of_the_others(parts: &[Evidence]) -> Vec<Evidence> {
    let running = |a: &mut Evidence, b: &Evidence| {
        let before = *a;
        *a = sum([*a, *b].into_iter());
        Some(before)
    };
    let left: Vec<Evidence> = parts.iter().scan(Evidence::default(), running).collect();
    let right: Vec<Evidence> = parts
        .iter()
        .rev()
        .scan(Evidence::default(), running)
        .collect();
    left.into_iter()
        .zip(right.into_iter().rev())
        .map(|(l, r)| sum([l, r].into_iter()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{Attempt, Notes, Outcome, Setting, by_pattern};
    use crate::{Fraction, PatternId};
    use proptest::prelude::*;

    fn course(attempts: &[Attempt], topic_of: impl Fn(PatternId) -> TopicId) -> CourseEvidence {
        let mut course = CourseEvidence::new();
        for (pattern, evidence) in by_pattern(attempts) {
            course.set_pattern(pattern, topic_of(pattern), evidence);
        }
        course
    }

    fn attempt(pattern: u32, day: i32, outcome: Outcome) -> Attempt {
        Attempt {
            patterns: vec![PatternId(pattern)],
            day: Day(day),
            notes: Notes::Closed,
            setting: Setting::Practice,
            outcome,
        }
    }

    #[test]
    fn nothing_known_is_even_odds_and_a_little_less_for_an_untried_pattern() {
        let standing = estimate(&CourseEvidence::new(), Day(0));
        assert_eq!(standing.student, 0.5);
        assert!(standing.patterns.is_empty());
        assert!(!standing.enough_evidence);

        let mut course = CourseEvidence::new();
        course.set_pattern(PatternId(1), TopicId(1), PatternEvidence::default());
        let untried = estimate(&course, Day(0)).patterns[&PatternId(1)];
        assert!((untried.mean - 1.0 / (1.0 + libm::exp(0.25))).abs() < 1e-15);
        assert_eq!((untried.last, untried.gap, untried.days), (None, None, 0));
    }

    #[test]
    fn a_mark_of_the_topic_moves_its_patterns_and_no_other_topic_as_much() {
        let mut course = CourseEvidence::new();
        for (pattern, topic) in [(1, 1), (2, 2)] {
            course.set_pattern(
                PatternId(pattern),
                TopicId(topic),
                PatternEvidence::default(),
            );
        }
        let before = estimate(&course, Day(3));
        let quiz = crate::evidence::Try {
            day: Day(3),
            notes: Notes::Closed,
            setting: Setting::Mock,
            outcome: Outcome::Score(Fraction::ratio(4, 10).expect("4 is less than 10")),
            patterns: 1,
        };
        course.set_marks(TopicId(1), PatternEvidence::new([quiz]));
        let after = estimate(&course, Day(3));
        let fall = |p| before.patterns[&PatternId(p)].mean - after.patterns[&PatternId(p)].mean;
        assert!(fall(1) > fall(2) && fall(2) > 0.0);
        assert_eq!(after.patterns[&PatternId(1)].evidence, Evidence::default());
        assert_eq!(after.tries, 1);
    }

    #[test]
    fn five_tries_are_enough_even_when_they_are_shared() {
        let mut attempts = vec![attempt(1, 0, Outcome::Wrong); 4];
        let topic = |_| TopicId(0);
        assert!(!estimate(&course(&attempts, topic), Day(0)).enough_evidence);
        let mut shared = attempt(1, 0, Outcome::Right);
        shared.patterns = vec![PatternId(1), PatternId(2), PatternId(3)];
        attempts.push(shared);
        let standing = estimate(&course(&attempts, topic), Day(0));
        assert!(standing.enough_evidence);
        assert_eq!(standing.tries, 5);
    }

    #[test]
    fn mastery_after_more_days_is_what_fading_says() {
        let course = course(&[attempt(1, 0, Outcome::Right)], |_| TopicId(0));
        let now = estimate(&course, Day(4)).patterns[&PatternId(1)];
        let unfaded = logistic(logit(now.mean) + 0.15 * libm::log(5.0));
        assert!((now.after(10) - faded(unfaded, 1, 14)).abs() < 1e-14);
        assert_eq!(now.after(0), now.mean);
    }

    fn any_attempt() -> impl Strategy<Value = Attempt> {
        let outcome = prop_oneof![
            Just(Outcome::Right),
            Just(Outcome::Partly),
            Just(Outcome::Wrong),
            Just(Outcome::Skipped),
            (0.0f64..=1.0).prop_map(|s| Outcome::Score(Fraction::new(s).expect("in range"))),
        ];
        // Days a hundred years apart, and often the same one.
        let day = prop_oneof![
            Just(0),
            0..9,
            -40_000..40_000,
            Just(i32::MIN),
            Just(i32::MAX)
        ];
        let patterns = prop::collection::vec((0u32..6).prop_map(PatternId), 0..4);
        (patterns, day, any::<bool>(), any::<bool>(), outcome).prop_map(
            |(patterns, day, open, mock, outcome)| Attempt {
                patterns,
                day: Day(day),
                notes: if open { Notes::Open } else { Notes::Closed },
                setting: if mock {
                    Setting::Mock
                } else {
                    Setting::Practice
                },
                outcome,
            },
        )
    }

    fn check_ranges(standing: &Standing) {
        let inside = |p: f64| p > 0.0 && p < 1.0;
        assert!(inside(standing.student));
        assert!(standing.topics.values().all(|&t| inside(t)));
        for mastery in standing.patterns.values() {
            assert!(inside(mastery.prior) && inside(mastery.mean), "{mastery:?}");
            let ordered = 0.0 <= mastery.low && mastery.low < mastery.high && mastery.high <= 1.0;
            assert!(ordered, "{mastery:?}");
            assert!(mastery.concentration >= 3.0 && mastery.concentration.is_finite());
            assert!(mastery.evidence.success >= 0.0 && mastery.evidence.failure >= 0.0);
            assert!((0.0..=1.0).contains(&mastery.after(10)));
            assert!(mastery.recent.right <= mastery.recent.of && mastery.recent.of <= 8);
        }
    }

    #[test]
    fn thousands_of_tries_on_one_day_stay_in_range() {
        for outcome in [Outcome::Right, Outcome::Wrong] {
            let attempts: Vec<Attempt> = (0..5_000).map(|n| attempt(n % 2, 7, outcome)).collect();
            check_ranges(&estimate(&course(&attempts, |_| TopicId(0)), Day(7)));
            check_ranges(&estimate(&course(&attempts, |_| TopicId(0)), Day(40_000)));
        }
    }

    proptest! {
        #[test]
        fn estimates_stay_in_range_and_do_not_depend_on_the_order_of_the_tries(
            mut attempts in prop::collection::vec(any_attempt(), 0..40),
            day in prop_oneof![-5i32..20, -50_000..50_000, Just(i32::MIN), Just(i32::MAX)],
            seed in any::<u64>(),
        ) {
            let topic = |p: PatternId| TopicId(p.0 / 2);
            let standing = estimate(&course(&attempts, topic), Day(day));
            check_ranges(&standing);

            let mut random = crate::random::SplitMix64::new(seed);
            random.shuffle(&mut attempts);
            let mut shuffled = estimate(&course(&attempts, topic), Day(day));
            for (id, mastery) in &mut shuffled.patterns {
                // Which tries of one day are the most recent is the one thing that order decides.
                mastery.recent = standing.patterns[id].recent;
            }
            prop_assert_eq!(&standing, &shuffled);

            let known: Vec<Attempt> =
                attempts.iter().filter(|a| a.day <= Day(day)).cloned().collect();
            let on_the_day = estimate(&course(&known, topic), Day(day));
            for (id, mastery) in &on_the_day.patterns {
                let mut later = shuffled.patterns[id];
                later.recent = mastery.recent;
                prop_assert_eq!(mastery.evidence, later.evidence);
                prop_assert_eq!(mastery.days, later.days);
            }
        }

        #[test]
        fn a_right_answer_never_lowers_and_a_wrong_one_never_raises(
            outcomes in prop::collection::vec(any::<bool>(), 1..12), pattern in 0u32..3,
        ) {
            let mut attempts: Vec<Attempt> = (0..)
                .zip(&outcomes)
                .map(|(n, &right)| {
                    attempt(n % 3, 0, if right { Outcome::Right } else { Outcome::Wrong })
                })
                .collect();
            let mean = |attempts: &[Attempt]| {
                estimate(&course(attempts, |_| TopicId(0)), Day(0)).patterns.get(&PatternId(pattern))
                    .map(|m| m.mean)
            };
            let before = mean(&attempts);
            attempts.push(attempt(pattern, 0, Outcome::Right));
            let right = mean(&attempts).expect("tried");
            attempts.pop();
            attempts.push(attempt(pattern, 0, Outcome::Wrong));
            let wrong = mean(&attempts).expect("tried");
            prop_assert!(wrong < right);
            if let Some(before) = before {
                prop_assert!(wrong <= before + 1e-12 && before <= right + 1e-12, "{wrong} {before} {right}");
            }
        }
    }
}
