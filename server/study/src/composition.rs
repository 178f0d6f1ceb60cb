//! What an exam is made of: how many questions on which patterns.

use crate::{PatternId, TopicId};
use std::collections::BTreeMap;

/// The questions of an exam of which the student did not say how many it has.
pub const DEFAULT_QUESTIONS: u32 = 12;
/// The most questions that an exam may have: the exact distribution of its score takes time in
/// proportion to their square.
pub const MOST_QUESTIONS: u32 = 200;

/// Some questions on some patterns, as even as can be: each pattern gets the same number, and
/// what is left over goes to patterns drawn at random.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// How many questions.
    pub questions: u32,
    /// The patterns they are drawn from.
    pub patterns: Vec<PatternId>,
}

/// Topics that together count for so many points of an exam.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Allotment {
    /// The points, in any unit.
    pub points: u32,
    /// The patterns of each of its topics.
    pub topics: BTreeMap<TopicId, Vec<PatternId>>,
}

/// What an exam is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Composition {
    parts: Vec<Part>,
    unknown: Vec<TopicId>,
}

/// Why nothing can be said of an exam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoComposition {
    /// The exam covers no topic.
    NothingCovered,
    /// No topic that the exam covers has a pattern or a problem.
    NoPatterns,
    /// The exam has 0 questions.
    NoQuestions,
    /// The exam has more questions than [`MOST_QUESTIONS`].
    TooManyQuestions(u64),
    /// No topic with a pattern or a problem counts for any points.
    NoPoints,
}

impl Composition {
    /// The exam with exactly these parts (those of an instructor's practice paper, say). Parts
    /// without questions or without patterns are left out.
    ///
    /// # Errors
    /// When no part is left, or there are more than [`MOST_QUESTIONS`].
    pub fn new(parts: impl IntoIterator<Item = Part>) -> Result<Composition, NoComposition> {
        let mut parts: Vec<Part> = parts.into_iter().collect();
        if parts.is_empty() {
            return Err(NoComposition::NothingCovered);
        }
        for part in &mut parts {
            part.patterns.sort_unstable();
            part.patterns.dedup();
        }
        parts.retain(|part| !part.patterns.is_empty());
        if parts.is_empty() {
            return Err(NoComposition::NoPatterns);
        }
        parts.retain(|part| part.questions > 0);
        let total: u64 = parts.iter().map(|part| u64::from(part.questions)).sum();
        match total {
            0 => Err(NoComposition::NoQuestions),
            1..=200 => Ok(Composition {
                parts,
                unknown: Vec::new(),
            }),
            _ => Err(NoComposition::TooManyQuestions(total)),
        }
    }

    /// `questions` spread over the covered topics in proportion to their patterns.
    ///
    /// Each topic gets its whole share; the questions left over go to the largest fractions of a
    /// share (largest remainders, also called Hamilton's method), among equal ones to the topic
    /// with more patterns, then to the lower number. Where there are fewer questions than topics,
    /// all patterns are one pool instead, so that no topic is ruled out.
    ///
    /// # Errors
    /// When nothing is covered, no covered topic has a pattern, or the number of questions is 0 or
    /// above [`MOST_QUESTIONS`].
    pub fn spread(
        questions: u32,
        covered: &BTreeMap<TopicId, Vec<PatternId>>,
    ) -> Result<Composition, NoComposition> {
        let known: Vec<&Vec<PatternId>> = covered.values().filter(|p| !p.is_empty()).collect();
        let parts: Vec<Part> = if questions as usize >= known.len() {
            let sizes: Vec<usize> = known.iter().map(|patterns| patterns.len()).collect();
            let shares = largest_remainders(questions, &sizes);
            let parts = known.iter().zip(shares);
            parts
                .map(|(p, questions)| Part {
                    questions,
                    patterns: p.to_vec(),
                })
                .collect()
        } else {
            vec![Part {
                questions,
                patterns: known.into_iter().flatten().copied().collect(),
            }]
        };
        if !covered.is_empty() && parts.is_empty() {
            return Err(NoComposition::NoPatterns);
        }
        let mut composition = Composition::new(parts)?;
        composition.unknown = covered
            .iter()
            .filter(|(_, p)| p.is_empty())
            .map(|(&topic, _)| topic)
            .collect();
        Ok(composition)
    }

    /// `questions` of equal worth, spread over topics in proportion to the points they count for,
    /// and within one allotment as [`Composition::spread`] does.
    ///
    /// Shares are rounded by largest remainders, and an allotment that would get no question takes
    /// one from the largest: what counts is asked. Where there are fewer questions than allotments,
    /// all their patterns are one pool instead.
    ///
    /// # Errors
    /// When no topic with a pattern counts for any points, or the number of questions is 0 or above
    /// [`MOST_QUESTIONS`].
    pub fn allotted(
        questions: u32,
        allotments: &[Allotment],
    ) -> Result<Composition, NoComposition> {
        match questions {
            0 => return Err(NoComposition::NoQuestions),
            1..=MOST_QUESTIONS => {}
            _ => return Err(NoComposition::TooManyQuestions(questions.into())),
        }
        let counted = allotments.iter().filter(|part| part.points > 0);
        let (known, empty): (Vec<&Allotment>, Vec<&Allotment>) =
            counted.partition(|part| part.topics.values().any(|p| !p.is_empty()));
        if known.is_empty() {
            return Err(NoComposition::NoPoints);
        }
        let mut composition = if questions as usize >= known.len() {
            let sizes: Vec<usize> = known.iter().map(|part| part.points as usize).collect();
            let shares = at_least_one(largest_remainders(questions, &sizes));
            let mut whole = Composition {
                parts: Vec::new(),
                unknown: Vec::new(),
            };
            for (part, share) in known.iter().zip(shares) {
                let part = Composition::spread(share, &part.topics)?;
                whole.parts.extend(part.parts);
                whole.unknown.extend(part.unknown);
            }
            whole
        } else {
            let pool = known.iter().flat_map(|part| part.topics.clone()).collect();
            Composition::spread(questions, &pool)?
        };
        let empty = empty.iter().flat_map(|part| part.topics.keys());
        composition.unknown.extend(empty.copied());
        composition.unknown.sort_unstable();
        Ok(composition)
    }

    /// The parts, each with at least one question and one pattern.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// How many questions there are, from 1 to [`MOST_QUESTIONS`].
    #[must_use]
    pub fn questions(&self) -> u32 {
        self.parts.iter().map(|part| part.questions).sum()
    }

    /// Covered topics without a pattern: the exam may ask of them, and nothing is known.
    #[must_use]
    pub fn unknown_topics(&self) -> &[TopicId] {
        &self.unknown
    }

    /// The expected number of questions on each pattern.
    #[must_use]
    pub fn expected_questions(&self) -> BTreeMap<PatternId, f64> {
        let mut expected = BTreeMap::new();
        for part in &self.parts {
            let each = f64::from(part.questions) / part.patterns.len() as f64;
            for &pattern in &part.patterns {
                *expected.entry(pattern).or_insert(0.0) += each;
            }
        }
        expected
    }
}

/// `total` seats for parties of these sizes.
fn largest_remainders(total: u32, sizes: &[usize]) -> Vec<u32> {
    let all: u128 = sizes.iter().map(|&size| size as u128).sum();
    if all == 0 {
        return vec![0; sizes.len()];
    }
    let share = |size: usize| u128::from(total) * size as u128;
    let whole = |size: usize| u32::try_from(share(size) / all).unwrap_or(total);
    let mut seats: Vec<u32> = sizes.iter().map(|&size| whole(size)).collect();
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|&at| std::cmp::Reverse((share(sizes[at]) % all, sizes[at])));
    let left = total - seats.iter().sum::<u32>();
    for &at in order.iter().take(left as usize) {
        seats[at] += 1;
    }
    seats
}

/// Seats of which each party has one, as far as they go around.
fn at_least_one(mut seats: Vec<u32>) -> Vec<u32> {
    while let Some(none) = seats.iter().position(|&n| n == 0)
        && let Some(largest) = (0..seats.len()).rev().max_by_key(|&at| seats[at])
        && seats[largest] > 1
    {
        seats[largest] -= 1;
        seats[none] += 1;
    }
    seats
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn covered(sizes: &[u32]) -> BTreeMap<TopicId, Vec<PatternId>> {
        (0..)
            .zip(sizes)
            .map(|(t, &n)| {
                (
                    TopicId(t),
                    (0..n).map(|p| PatternId(1000 * t + p)).collect(),
                )
            })
            .collect()
    }

    fn check(questions: u32, sizes: &[u32], expected: &[u32]) {
        let found = Composition::spread(questions, &covered(sizes)).expect("an exam");
        let found: Vec<u32> = found.parts().iter().map(|part| part.questions).collect();
        assert_eq!(found, expected, "{questions} over {sizes:?}");
    }

    fn check_allotted(questions: u32, allotments: &[(u32, &[u32])], expected: &[(u32, usize)]) {
        let sizes: Vec<u32> = allotments.iter().flat_map(|part| part.1).copied().collect();
        let mut topics = covered(&sizes).into_iter();
        let allotments: Vec<Allotment> = allotments
            .iter()
            .map(|(points, sizes)| Allotment {
                points: *points,
                topics: topics.by_ref().take(sizes.len()).collect(),
            })
            .collect();
        let found = Composition::allotted(questions, &allotments).expect("an exam");
        let found: Vec<(u32, usize)> = found
            .parts()
            .iter()
            .map(|part| (part.questions, part.patterns.len()))
            .collect();
        assert_eq!(found, expected, "{questions} over {allotments:?}");
    }

    #[test]
    fn questions_follow_the_points() {
        // Many patterns do not make a topic of few points larger.
        check_allotted(10, &[(70, &[1]), (30, &[9])], &[(7, 1), (3, 9)]);
        // Within an allotment, patterns decide.
        check_allotted(12, &[(50, &[4, 2]), (50, &[3])], &[(4, 4), (2, 2), (6, 3)]);
        // 4 of 100 points are half a question of 12; what counts is asked.
        check_allotted(12, &[(96, &[2]), (4, &[2])], &[(11, 2), (1, 2)]);
        check_allotted(
            4,
            &[(90, &[2]), (4, &[2]), (6, &[1])],
            &[(2, 2), (1, 2), (1, 1)],
        );
        // Fewer questions than allotments: one pool. No points: not asked.
        check_allotted(1, &[(90, &[2]), (10, &[3])], &[(1, 5)]);
        check_allotted(5, &[(0, &[2]), (10, &[3])], &[(5, 3)]);
    }

    #[test]
    fn points_of_topics_without_patterns_are_told() {
        let allotment = |points, sizes: &[u32]| Allotment {
            points,
            topics: covered(sizes),
        };
        let allotted = |questions, parts: &[Allotment]| Composition::allotted(questions, parts);
        assert_eq!(allotted(3, &[]), Err(NoComposition::NoPoints));
        assert_eq!(
            allotted(3, &[allotment(0, &[2]), allotment(5, &[0])]),
            Err(NoComposition::NoPoints)
        );
        assert_eq!(
            allotted(0, &[allotment(1, &[1])]),
            Err(NoComposition::NoQuestions)
        );
        assert_eq!(
            allotted(201, &[allotment(1, &[1])]),
            Err(NoComposition::TooManyQuestions(201))
        );
        let found = allotted(3, &[allotment(5, &[2, 0])]).expect("an exam");
        assert_eq!(found.unknown_topics(), [TopicId(1)]);
    }

    #[test]
    fn questions_follow_the_number_of_patterns() {
        check(12, &[5, 3, 2], &[6, 4, 2]);
        check(12, &[4, 4, 4], &[4, 4, 4]);
        check(10, &[3, 0, 3], &[5, 5]);
        check(5, &[1, 1, 1], &[2, 2, 1]);
        // Fewer questions than topics: one pool.
        check(2, &[1, 1, 1], &[2]);
        // Six seats for 8, 5 and 2 of 15: shares 3.2, 2.0 and 0.8.
        check(6, &[8, 5, 2], &[3, 2, 1]);
    }

    /// The usual small example of the Alabama paradox (figures from memory, recomputed by hand:
    /// shares 4.29, 4.29, 1.43 of 10 seats and 4.71, 4.71, 1.57 of 11): with a seat more the
    /// smallest party loses one.
    #[test]
    fn largest_remainders_by_hand() {
        assert_eq!(largest_remainders(10, &[6, 6, 2]), [4, 4, 2]);
        assert_eq!(largest_remainders(11, &[6, 6, 2]), [5, 5, 1]);
        assert_eq!(largest_remainders(0, &[5, 3, 1]), [0, 0, 0]);
        assert!(largest_remainders(7, &[]).is_empty());
    }

    #[test]
    fn an_empty_exam_says_what_is_missing() {
        let spread = |questions, sizes: &[u32]| Composition::spread(questions, &covered(sizes));
        assert_eq!(spread(12, &[]), Err(NoComposition::NothingCovered));
        assert_eq!(spread(12, &[0, 0]), Err(NoComposition::NoPatterns));
        assert_eq!(spread(0, &[2]), Err(NoComposition::NoQuestions));
        assert_eq!(spread(201, &[2]), Err(NoComposition::TooManyQuestions(201)));
        assert_eq!(
            spread(u32::MAX, &[2]),
            Err(NoComposition::TooManyQuestions(4_294_967_295))
        );
        let part = Part {
            questions: 3,
            patterns: Vec::new(),
        };
        assert_eq!(Composition::new([part]), Err(NoComposition::NoPatterns));
        let found = spread(3, &[2, 0, 1]).expect("an exam");
        assert_eq!(found.unknown_topics(), [TopicId(1)]);
    }

    proptest! {
        #[test]
        fn every_question_is_spread(questions in 1u32..=200, sizes in prop::collection::vec(0u32..30, 1..20)) {
            if let Ok(found) = Composition::spread(questions, &covered(&sizes)) {
                prop_assert_eq!(found.questions(), questions);
                let expected: f64 = found.expected_questions().values().sum();
                prop_assert!((expected - f64::from(questions)).abs() < 1e-9);
            } else {
                prop_assert!(sizes.iter().all(|&s| s == 0));
            }
        }
    }
}
