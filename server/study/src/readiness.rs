//! Readiness for an exam: the probability of reaching the target on a fresh closed-notes paper
//! with the exam's composition, from the exact distribution of its score.

use crate::beta::{logistic, logit};
use crate::composition::{Composition, Part};
use crate::mastery::Standing;
use crate::{Day, Fraction, PatternId};
use std::collections::BTreeSet;

/// How much the questions of one paper rise and fall together, in log odds. Independent questions
/// gave 80% intervals that covered 71% of open sets of student answers.
const TOGETHER: f64 = 0.5;
/// (16√3 / 15π)²: the logistic function averaged over a normal variable of variance σ² is close
/// to the logistic function of the mean divided by √(1 + this · σ²).
const LOGISTIC_NORMAL: f64 = 0.345_842_973_499_179_6;
/// At least this probability of reaching the target is *ready*.
pub const READY: f64 = 0.8;
/// At least this is *close*.
pub const CLOSE: f64 = 0.5;
/// Different days with a closed-notes paper without which nobody is *ready*.
pub const CLOSED_PAPER_DAYS: u32 = 2;

/// Nodes and weights, for the standard normal weight, of the Gauss-Hermite rule with 21 nodes
/// (Golub and Welsch 1969); the ones below 0 mirror these.
const NODES: [(f64, f64); 11] = [
    (0.0, 0.270_260_183_572_877_07),
    (0.678_045_692_440_644, 0.215_333_715_695_059_69),
    (1.359_765_823_211_230_2, 0.108_392_285_626_419_45),
    (2.049_102_468_257_163, 0.033_952_729_786_542_83),
    (2.750_592_981_052_373_3, 0.006_439_697_051_408_777),
    (3.469_846_690_475_376_4, 0.000_708_047_795_481_536_5),
    (4.214_343_981_688_422, 4.219_234_742_551_676e-5),
    (4.994_963_944_782_025, 1.225_354_836_148_253_4e-6),
    (5.829_382_007_304_471_5, 1.450_661_284_493_086_5e-8),
    (6.751_444_718_717_461, 4.975_368_604_121_724e-11),
    (7.849_382_895_113_822, 2.098_991_219_565_676_6e-14),
];

/// How ready the student is, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Label {
    /// The target is less likely than not.
    NotReady,
    /// The target is at least as likely as not, or it is likely but was not yet shown on enough
    /// closed-notes papers.
    Close,
    /// The probability is at least .8, with closed-notes papers on at least two different days.
    Ready,
}

/// An estimate of the score on a fresh closed-notes paper; not a promise.
#[derive(Clone, Debug, PartialEq)]
pub struct Readiness {
    /// The probability of each score: at index k, of exactly k right questions.
    pub distribution: Vec<f64>,
    /// The target.
    pub target: Fraction,
    /// The number of right questions that reaches the target.
    pub needed: u32,
    /// The probability of a score at or above the target, from 0 to 1.
    pub chance: f64,
    /// The expected score, from 0 to 1.
    pub expected: f64,
    /// The score below which at most 5% lie, from 0 to 1.
    pub low: f64,
    /// The score above which at most 5% lie, from 0 to 1.
    pub high: f64,
    /// Different days, up to the day asked about, with a closed-notes paper.
    pub closed_paper_days: u32,
    /// The word for it.
    pub label: Label,
}

impl Readiness {
    /// The chance in tenths, from 0 to 10, as it is to be shown: finer figures would claim more
    /// than is known. Say "less than 5%" for 0 and "more than 95%" for 10.
    #[must_use]
    pub fn tenths(&self) -> u32 {
        (self.chance * 10.0).round() as u32
    }
}

/// A pattern of the composition that the standing does not have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnknownPattern(pub PatternId);

/// The readiness on the day of `standing` for an exam with this composition.
///
/// The score distribution is Σⱼ wⱼ · (convolution over patterns of
/// BetaBinomial(n; qⱼ c, (1 − qⱼ) c)), with qⱼ = σ(logit m · √(1 + 0.345843 σ²) + σ xⱼ), σ = 0.5
/// and the 21 Gauss-Hermite nodes xⱼ. Where a part has more patterns than can have the same number
/// of questions, the ones with a question more are drawn at random, and the distribution is the
/// exact average over the draws.
///
/// `closed_papers` are the days of closed-notes papers; later ones than the day do not count.
///
/// # Errors
/// When the standing lacks a pattern of the composition.
pub fn readiness(
    standing: &Standing,
    composition: &Composition,
    target: Fraction,
    closed_papers: &BTreeSet<Day>,
) -> Result<Readiness, UnknownPattern> {
    let parts = composition
        .parts()
        .iter()
        .map(|part| estimated(standing, part));
    let parts: Vec<EstimatedPart> = parts.collect::<Result<_, _>>()?;
    let distribution = score_distribution(&parts, TOGETHER);

    let questions = f64::from(composition.questions());
    // Without the last term, 0.6 of 5 questions could come out as 3.0000000000000004 and need 4.
    let needed = (target.get() * questions - 1e-9).ceil().max(0.0);
    let chance = distribution[needed as usize..].iter().sum::<f64>().min(1.0);
    let expected: f64 = (0u32..)
        .zip(&distribution)
        .map(|(k, p)| f64::from(k) * p)
        .sum();
    let closed_paper_days = closed_papers.range(..=standing.day).count();
    let closed_paper_days = u32::try_from(closed_paper_days).unwrap_or(u32::MAX);
    Ok(Readiness {
        low: f64::from(quantile(&distribution, 0.05)) / questions,
        high: f64::from(quantile(&distribution, 0.95)) / questions,
        distribution,
        target,
        needed: needed as u32,
        chance,
        expected: (expected / questions).min(1.0),
        closed_paper_days,
        label: label(chance, closed_paper_days),
    })
}

/// *Ready* needs the chance and the papers; the chance alone is *close*.
fn label(chance: f64, closed_paper_days: u32) -> Label {
    if chance < CLOSE {
        Label::NotReady
    } else if chance < READY || closed_paper_days < CLOSED_PAPER_DAYS {
        Label::Close
    } else {
        Label::Ready
    }
}

/// The smallest score that is reached or not reached with at least probability `p`.
fn quantile(distribution: &[f64], p: f64) -> u32 {
    let mut below = 0.0;
    for (score, probability) in (0u32..).zip(distribution) {
        below += probability;
        if below >= p {
            return score;
        }
    }
    // Rounding left the whole a little under p.
    u32::try_from(distribution.len().saturating_sub(1)).unwrap_or(u32::MAX)
}

/// A part of the exam with the estimates of its patterns.
struct EstimatedPart {
    questions: usize,
    patterns: Vec<Estimate>,
}

#[derive(Clone, Copy)]
struct Estimate {
    /// Strictly between 0 and 1.
    mean: f64,
    /// `None` for a probability that is known exactly.
    concentration: Option<f64>,
}

fn estimated(standing: &Standing, part: &Part) -> Result<EstimatedPart, UnknownPattern> {
    let estimate = |&pattern| {
        let mastery = standing
            .patterns
            .get(&pattern)
            .ok_or(UnknownPattern(pattern))?;
        let mean = mastery.mean.clamp(1e-12, 1.0 - 1e-12);
        Ok(Estimate {
            mean,
            concentration: Some(mastery.concentration),
        })
    };
    let patterns = part
        .patterns
        .iter()
        .map(estimate)
        .collect::<Result<_, _>>()?;
    Ok(EstimatedPart {
        questions: part.questions as usize,
        patterns,
    })
}

/// The probabilities of 0, 1, 2 … right questions, when the log odds of all questions of a paper
/// move together with standard deviation `together`.
fn score_distribution(parts: &[EstimatedPart], together: f64) -> Vec<f64> {
    let questions: usize = parts.iter().map(|part| part.questions).sum();
    let mut whole = vec![0.0; questions + 1];
    let steeper = (1.0 + LOGISTIC_NORMAL * together * together).sqrt();
    let mirrored = NODES.iter().skip(1).rev().map(|&(x, w)| (-x, w));
    for (node, weight) in mirrored.chain(NODES) {
        let mut paper = vec![1.0];
        for part in parts {
            let shifted = part.patterns.iter().map(|e| Estimate {
                mean: logistic(logit(e.mean) * steeper + together * node),
                concentration: e.concentration,
            });
            paper = convolution(&paper, &part_distribution(part.questions, shifted));
        }
        for (sum, p) in whole.iter_mut().zip(paper) {
            *sum += weight * p;
        }
    }
    whole
}

/// The distribution of the right ones of `questions` questions, spread evenly over `patterns`
/// with the rest given to patterns drawn at random.
fn part_distribution(
    questions: usize,
    patterns: impl ExactSizeIterator<Item = Estimate>,
) -> Vec<f64> {
    let count = patterns.len();
    let (each, extra) = (questions / count, questions % count);
    // At [j], the distribution of the score jointly with j patterns having got a question more.
    let mut joint = vec![Vec::with_capacity(questions + 2); extra + 1];
    joint[0].push(1.0);
    let mut next = Vec::with_capacity(questions + 2);
    for (done, estimate) in patterns.enumerate() {
        let without = beta_binomial(each, estimate);
        let with = beta_binomial(each + 1, estimate);
        // A draw without replacement: of the patterns still open, each is as likely as any.
        let chance_to_give = |given: usize| (extra - given) as f64 / (count - done) as f64;
        for given in (0..=extra).rev() {
            next.clear();
            add_convolution(
                &mut next,
                &joint[given],
                &without,
                1.0 - chance_to_give(given),
            );
            if given > 0 {
                let chance = chance_to_give(given - 1);
                add_convolution(&mut next, &joint[given - 1], &with, chance);
            }
            std::mem::swap(&mut joint[given], &mut next);
        }
    }
    let mut found = joint.pop().unwrap_or_default();
    found.resize(questions + 1, 0.0);
    found
}

/// The distribution of the right ones of `n` questions on one pattern: after Pólya's urn, where
/// each answer seen moves the chance of the next. All terms are positive, so no digits are lost.
fn beta_binomial(n: usize, estimate: Estimate) -> Vec<f64> {
    let mut found = vec![1.0];
    for seen in 0..n {
        let chance = |right: usize| match estimate.concentration {
            None => estimate.mean,
            Some(c) => (estimate.mean * c + right as f64) / (c + seen as f64),
        };
        let mut next = vec![0.0; seen + 2];
        for (right, p) in found.iter().enumerate() {
            next[right + 1] += p * chance(right);
            next[right] += p * (1.0 - chance(right)).max(0.0);
        }
        found = next;
    }
    found
}

/// The distribution of a sum of independent scores.
fn convolution(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sum = Vec::new();
    add_convolution(&mut sum, a, b, 1.0);
    sum
}

/// Adds the distribution of a sum of independent scores, times `factor`; nothing when either
/// distribution is empty.
fn add_convolution(to: &mut Vec<f64>, a: &[f64], b: &[f64], factor: f64) {
    if a.is_empty() || b.is_empty() {
        return;
    }
    let length = a.len() + b.len() - 1;
    if to.len() < length {
        to.resize(length, 0.0);
    }
    for (i, x) in a.iter().enumerate() {
        let x = x * factor;
        for (total, y) in to[i..].iter_mut().zip(b) {
            *total += x * y;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TopicId;
    use crate::evidence::PatternEvidence;
    use crate::mastery::{CourseEvidence, estimate};
    use proptest::prelude::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        let numbers = value.as_array().expect("numbers");
        numbers
            .iter()
            .map(|n| n.as_f64().expect("a number"))
            .collect()
    }

    fn near(found: &[f64], expected: &[f64]) {
        assert_eq!(found.len(), expected.len());
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-9, "{found:?}, expected {expected:?}");
        }
    }

    /// 40-digit mpmath values, cross-checked with scipy to 1e-10; among them the binomial
    /// distribution for 10 and 0.9 and the beta-binomial one.
    #[test]
    fn score_distributions_agree_with_the_worked_values() {
        let vectors: Value = serde_json::from_str(include_str!("../tests/data/vectors.json"))
            .expect("the vectors are JSON");
        let cases = vectors["exam"].as_array().expect("cases");
        assert_eq!(cases.len(), 4);
        for case in cases {
            let part = |item: &Value| EstimatedPart {
                questions: usize::try_from(item["n"].as_u64().expect("whole")).expect("small"),
                patterns: vec![Estimate {
                    mean: item["mean"].as_f64().expect("a number"),
                    concentration: item["concentration"].as_f64(),
                }],
            };
            let parts: Vec<EstimatedPart> = case["items"]
                .as_array()
                .expect("items")
                .iter()
                .map(part)
                .collect();
            let found = score_distribution(&parts, case["sigma"].as_f64().expect("a number"));
            near(&found, &numbers(&case["pmf"]));
        }
        let (nodes, weights): (Vec<f64>, Vec<f64>) = NODES.into_iter().unzip();
        near(&nodes, &numbers(&vectors["gauss_hermite_21"]["x"])[10..]);
        near(&weights, &numbers(&vectors["gauss_hermite_21"]["w"])[10..]);
    }

    /// The rule is exact for polynomials up to degree 41: the even moments of a standard normal
    /// variable are 1, 1, 3, 15, 105 … (the product of the odd numbers).
    #[test]
    fn the_nodes_give_the_moments_of_a_normal_variable() {
        let mut moment = 1.0;
        for degree in (0..=40).step_by(2) {
            let half: f64 = NODES[1..].iter().map(|&(x, w)| w * x.powi(degree)).sum();
            let found = 2.0 * half + if degree == 0 { NODES[0].1 } else { 0.0 };
            assert!(
                (found / moment - 1.0).abs() < 1e-12,
                "degree {degree}: {found}"
            );
            moment *= f64::from(degree + 1);
        }
    }

    /// The average over all ways to give the questions that are left over, one by one.
    #[test]
    fn leftover_questions_are_averaged_over_all_draws() {
        let patterns = [0.2, 0.55, 0.8, 0.9].map(|mean| Estimate {
            mean,
            concentration: Some(4.0 + mean),
        });
        for questions in 1..=11 {
            let (each, extra) = (questions / 4, questions % 4);
            let mut expected = vec![0.0; questions + 1];
            let draws: Vec<u32> = (0u32..16)
                .filter(|draw| draw.count_ones() as usize == extra)
                .collect();
            for &draw in &draws {
                let mut paper = vec![1.0];
                for (at, &estimate) in patterns.iter().enumerate() {
                    let n = each + usize::from(draw >> at & 1 == 1);
                    paper = convolution(&paper, &beta_binomial(n, estimate));
                }
                add_convolution(&mut expected, &paper, &[1.0], 1.0 / draws.len() as f64);
            }
            near(
                &part_distribution(questions, patterns.into_iter()),
                &expected,
            );
        }
    }

    #[test]
    fn the_word_needs_the_chance_and_the_papers() {
        let check = |chance, days, expected| assert_eq!(label(chance, days), expected);
        check(0.49, 9, Label::NotReady);
        check(0.5, 0, Label::Close);
        check(0.79, 2, Label::Close);
        check(0.8, 1, Label::Close);
        check(0.8, 2, Label::Ready);
    }

    fn untried(patterns: u32) -> Standing {
        let mut course = CourseEvidence::new();
        for p in 0..patterns {
            course.set_pattern(PatternId(p), TopicId(0), PatternEvidence::default());
        }
        estimate(&course, Day(10))
    }

    fn part(questions: u32, patterns: u32) -> Part {
        Part {
            questions,
            patterns: (0..patterns).map(PatternId).collect(),
        }
    }

    #[test]
    fn a_target_that_is_a_whole_number_of_questions_needs_that_many() {
        let standing = untried(1);
        let check = |questions, target, needed| {
            let exam = Composition::new([part(questions, 1)]).expect("an exam");
            let target = Fraction::new(target).expect("a target");
            let found = readiness(&standing, &exam, target, &BTreeSet::new()).expect("known");
            assert_eq!(found.needed, needed);
        };
        check(5, 0.6, 3);
        check(10, 0.7, 7);
        check(15, 0.9, 14);
        check(12, 0.0, 0);
        check(12, 1.0, 12);
        check(3, 1.0 / 3.0, 1);
    }

    #[test]
    fn papers_after_the_day_do_not_count() {
        let exam = Composition::new([part(4, 1)]).expect("an exam");
        let days = BTreeSet::from([Day(3), Day(10), Day(11)]);
        let found = readiness(&untried(1), &exam, Fraction::ZERO, &days).expect("known");
        assert_eq!((found.closed_paper_days, found.label), (2, Label::Ready));
        assert_eq!(found.tenths(), 10);
    }

    #[test]
    fn a_pattern_without_an_estimate_is_named() {
        let exam = Composition::new([part(4, 3)]).expect("an exam");
        let found = readiness(&untried(2), &exam, Fraction::ONE, &BTreeSet::new());
        assert_eq!(found, Err(UnknownPattern(PatternId(2))));
    }

    proptest! {
        #[test]
        fn a_distribution_is_one_whatever_the_exam(
            estimates in prop::collection::vec((0.0f64..=1.0, 3.0f64..400.0), 1..30),
            questions in 1u32..40, target in 0.0f64..=1.0,
        ) {
            let mut standing = untried(u32::try_from(estimates.len()).expect("few"));
            for (mastery, &(mean, c)) in standing.patterns.values_mut().zip(&estimates) {
                (mastery.mean, mastery.concentration) = (mean, c);
            }
            let count = u32::try_from(estimates.len()).expect("few");
            let exam = Composition::new([part(questions, count)]).expect("an exam");
            let target = Fraction::new(target).expect("a target");
            let found = readiness(&standing, &exam, target, &BTreeSet::new()).expect("known");
            let whole: f64 = found.distribution.iter().sum();
            prop_assert!((whole - 1.0).abs() < 1e-9, "{whole}");
            prop_assert!(found.distribution.iter().all(|&p| (0.0..=1.0).contains(&p)));
            prop_assert!((0.0..=1.0).contains(&found.chance));
            prop_assert!((0.0..=1.0).contains(&found.expected));
            prop_assert!(0.0 <= found.low && found.low <= found.high && found.high <= 1.0);
            prop_assert!(found.tenths() <= 10);
        }
    }
}
