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
