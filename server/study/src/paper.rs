//! Drawing a mock test for an exam, or a round of theorems.
//!
//! Ten to 25 questions with two or three from each covered section, or four or five theorems
//! (common practice, no published source for the numbers). Sections with more weight and less
//! mastery get the third question; within a section weak patterns come first and fresh problems
//! before known ones; no shape comes twice; the order is mixed. Everything that could not be had
//! is named in [`Paper::shortfalls`].

use crate::interleave::interleave;
use crate::mastery::Standing;
use crate::random::SplitMix64;
use crate::selection::{
    Candidate, Choosing, Chosen, Confusable, Group, MOST_QUESTIONS, Reason, Source, seed_of_day,
};
use crate::{Day, PatternId, ProblemId, TopicId};
use std::collections::{BTreeMap, BTreeSet};

/// A section that the exam covers.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Which one. A topic given twice is one section, with the weights added.
    pub topic: TopicId,
    /// Its part of the exam, in any unit; below 0 or not finite counts as 0.
    pub weight: f64,
    /// What there is to ask.
    pub candidates: Vec<Candidate>,
}

/// What kind of paper to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Problems: 10 to 25.
    Problems,
    /// Theorems to state and prove from memory: 4 or 5.
    Theorems,
}

/// How a paper's questions are spread over its sections.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Two or three from each, the third where weight and weakness are.
    WeakFirst,
    /// One from each, then in proportion to the weights: as an exam of which it is known what each
    /// section counts for.
    ByWeight,
}

/// What to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Request {
    /// Problems or theorems.
    pub kind: Kind,
    /// How the questions are spread.
    pub spread: Spread,
    /// How many; `None` for as many as the sections call for.
    pub count: Option<u32>,
    /// Another seed gives another paper.
    pub seed: u64,
    /// Today. Another day gives another paper.
    pub day: Day,
}

/// A drawn paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// In the order in which they are to be asked.
    pub questions: Vec<Question>,
    /// What could not be had, and other things to say of the paper.
    pub shortfalls: Vec<Shortfall>,
}

/// One question of a paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The problem it was drawn from.
    pub problem: ProblemId,
    /// The section it stands for.
    pub topic: TopicId,
    /// How fresh it is, and whether to change its numbers.
    pub source: Source,
    /// Why it was chosen.
    pub reason: Reason,
}

/// Something that a paper lacks, or that is unusual about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shortfall {
    /// No section is covered.
    NothingCovered,
    /// There are fewer questions than asked for.
    FewerThanAsked {
        /// The number asked for.
        asked: u32,
        /// The number drawn.
        drawn: u32,
    },
    /// A section has nothing of the kind to ask.
    NothingToAsk(TopicId),
    /// A section has fewer than two questions because nothing else of it may be asked.
    FewFromSection {
        /// The section.
        topic: TopicId,
        /// How many questions of it are on the paper.
        drawn: u32,
        /// How many of its problems were left out because their shape is on the paper already.
        same_shape: u32,
    },
    /// A section has no question because there are fewer questions than sections.
    LeftOut(TopicId),
    /// The number asked for is not the usual one.
    UnusualCount {
        /// The number asked for.
        asked: u32,
        /// The fewest of a usual paper.
        fewest: u32,
        /// The most of a usual paper.
        most: u32,
    },
    /// The number asked for is more than [`MOST_QUESTIONS`], which are drawn instead.
    TooMany {
        /// The number asked for.
        asked: u32,
    },
    /// Two consecutive questions have this pattern; no order was found without.
    SamePatternInARow(PatternId),
}

impl Kind {
    /// The fewest and the most questions of a usual paper.
    #[must_use]
    pub fn usual(self) -> (u32, u32) {
        match self {
            Kind::Problems => (10, 25),
            Kind::Theorems => (4, 5),
        }
    }

    fn default_count(self, sections: usize) -> u32 {
        let (fewest, most) = self.usual();
        match self {
            // Two and a half for each section.
            Kind::Problems => u32::try_from(5 * sections)
                .unwrap_or(u32::MAX)
                .div_ceil(2)
                .clamp(fewest, most),
            Kind::Theorems => most,
        }
    }
}

/// Questions that each section gets before any gets more.
const FROM_EACH_SECTION: u32 = 2;

/// Draws a paper. The order of the sections, of their candidates and of `confusable` is
/// irrelevant; time is near to proportional to the number of candidates.
///
/// Each section gets one question, then a second, then a third, the sections with the largest
/// weight · (1 − mean mastery) first; beyond that they share by Webster's (Sainte-Laguë's)
/// divisors. Within a section the pattern that is on the paper least comes next, among those the
/// one with the largest 1 − mastery, counted half as much again when a pattern that it is confused
/// with is on the paper. A problem of the last paper is used only when its section would have no
/// question at all, or when nothing else of any section is left; a problem of the skip list only
/// after everything else of its section.
#[must_use]
pub fn draw(
    sections: &[Section],
    standing: &Standing,
    confusable: &[Confusable],
    request: Request,
) -> Paper {
    let mut shortfalls = Vec::new();
    let mut merged: BTreeMap<TopicId, (f64, Vec<&Candidate>)> = BTreeMap::new();
    for section in sections {
        let (weight, candidates) = merged.entry(section.topic).or_default();
        *weight += if section.weight.is_finite() {
            section.weight.max(0.0)
        } else {
            0.0
        };
        let wanted = |c: &&Candidate| c.theorem == (request.kind == Kind::Theorems);
        candidates.extend(section.candidates.iter().filter(wanted));
    }
    if merged.is_empty() {
        shortfalls.push(Shortfall::NothingCovered);
    }
    let nothing = merged
        .iter()
        .filter(|(_, (_, candidates))| candidates.is_empty());
    shortfalls.extend(nothing.map(|(&topic, _)| Shortfall::NothingToAsk(topic)));
    merged.retain(|_, (_, candidates)| !candidates.is_empty());
    let topics: Vec<TopicId> = merged.keys().copied().collect();

    let count = count(request, topics.len(), &mut shortfalls);
    let mut choosing = Choosing::new(standing, confusable, request.seed, request.day);
    let mut groups: Vec<Group> = merged
        .values()
        .map(|(weight, candidates)| {
            let mut section = choosing.section(candidates, *weight);
            if request.spread == Spread::ByWeight {
                section.priority = *weight;
            }
            section
        })
        .collect();
    let before_shares = match request.spread {
        Spread::WeakFirst => FROM_EACH_SECTION + 1,
        Spread::ByWeight => 1,
    };
    let chosen = choose(count, before_shares, &mut choosing, &mut groups);

    let drawn = u32::try_from(chosen.len()).unwrap_or(u32::MAX);
    if drawn < count {
        shortfalls.push(Shortfall::FewerThanAsked {
            asked: count,
            drawn,
        });
    }
    for ((&topic, (_, candidates)), group) in merged.iter().zip(&groups) {
        // Sections take turns, so that each could have had this many.
        let least = match request.spread {
            Spread::WeakFirst => FROM_EACH_SECTION,
            Spread::ByWeight => 1,
        };
        let share = count / u32::try_from(groups.len()).unwrap_or(u32::MAX);
        if share == 0 && group.chosen == 0 {
            shortfalls.push(Shortfall::LeftOut(topic));
        } else if group.chosen < share.min(least) {
            let same_shape = choosing.same_shape(candidates.iter().copied());
            shortfalls.push(Shortfall::FewFromSection {
                topic,
                drawn: group.chosen,
                same_shape,
            });
        }
    }

    let mut random = SplitMix64::new(seed_of_day(request.seed, request.day));
    let chosen = interleave(chosen, |c| &c.patterns, &mut random);
    shortfalls.extend(
        same_in_a_row(&chosen)
            .into_iter()
            .map(Shortfall::SamePatternInARow),
    );
    let questions = chosen
        .into_iter()
        .map(|c| Question {
            problem: c.problem,
            topic: topics[c.group],
            source: c.source,
            reason: c.reason,
        })
        .collect();
    Paper {
        questions,
        shortfalls,
    }
}

/// The patterns that two consecutive questions share.
pub(crate) fn same_in_a_row(chosen: &[Chosen]) -> BTreeSet<PatternId> {
    let pairs = chosen.windows(2);
    pairs
        .flat_map(|pair| {
            pair[0]
                .patterns
                .iter()
                .filter(|p| pair[1].patterns.contains(p))
        })
        .copied()
        .collect()
}

/// How many questions to draw, with a word about an unusual number.
fn count(request: Request, sections: usize, shortfalls: &mut Vec<Shortfall>) -> u32 {
    let Some(asked) = request.count else {
        return request.kind.default_count(sections);
    };
    let (fewest, most) = request.kind.usual();
    if asked > MOST_QUESTIONS {
        shortfalls.push(Shortfall::TooMany { asked });
    } else if !(fewest..=most).contains(&asked) {
        shortfalls.push(Shortfall::UnusualCount {
            asked,
            fewest,
            most,
        });
    }
    asked.min(MOST_QUESTIONS)
}

/// Chooses up to `count` questions, one section after the other: first `before_shares` from each,
/// then by their shares.
fn choose<'a>(
    count: u32,
    before_shares: u32,
    choosing: &mut Choosing<'a>,
    groups: &mut [Group<'a>],
) -> Vec<Chosen> {
    let mut chosen = Vec::new();
    for stalest in [Source::SkipList, Source::LastPaper] {
        let mut open: Vec<usize> = (0..groups.len()).collect();
        while chosen.len() < count as usize && !open.is_empty() {
            let next = (0..open.len())
                .min_by(|&a, &b| compare_turns(before_shares, &groups[open[a]], &groups[open[b]]))
                .unwrap_or(0);
            let at = open[next];
            let group = &mut groups[at];
            let found = match choosing.choose(at, group, stalest) {
                None if group.chosen == 0 => choosing.choose(at, group, Source::LastPaper),
                found => found,
            };
            match found {
                Some(question) => chosen.push(question),
                None => {
                    open.remove(next);
                }
            }
        }
    }
    chosen
}

/// Which section has the next question: that of the lower level, then of the larger quotient.
fn compare_turns(before_shares: u32, a: &Group, b: &Group) -> std::cmp::Ordering {
    let level = |group: &Group| group.chosen.min(before_shares);
    let quotient = |group: &Group| group.priority / f64::from(2 * group.chosen + 1);
    level(a)
        .cmp(&level(b))
        .then(quotient(b).total_cmp(&quotient(a)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::selection::fixtures::{problem, standing};
    use crate::selection::{ShapeId, source};
    use proptest::prelude::*;

    fn section(topic: u32, candidates: Vec<Candidate>) -> Section {
        Section {
            topic: TopicId(topic),
            weight: 1.0,
            candidates,
        }
    }

    fn request(count: u32) -> Request {
        Request {
            kind: Kind::Problems,
            spread: Spread::WeakFirst,
            count: Some(count),
            seed: 7,
            day: Day(100),
        }
    }

    fn problems(paper: &Paper) -> Vec<u32> {
        let mut found: Vec<u32> = paper.questions.iter().map(|q| q.problem.0).collect();
        found.sort_unstable();
        found
    }

    /// Draws `count` questions from `sections` for a student with this mastery of patterns 0, 1 …;
    /// the problems must be these, in any order.
    fn check(sections: &[Section], mastery: &[f64], count: u32, expected: &[u32]) -> Paper {
        let paper = draw(sections, &standing(mastery), &[], request(count));
        assert_eq!(problems(&paper), expected, "{paper:?}");
        paper
    }

    #[test]
    fn two_or_three_from_each_section() {
        let many = |topic: u32| {
            section(
                topic,
                (0..20)
                    .map(|n| problem(100 * topic + n, 10 * topic + n % 4))
                    .collect(),
            )
        };
        for (sections, expected) in [(1, 10), (4, 10), (5, 13), (8, 20), (12, 25)] {
            let sections: Vec<Section> = (0..sections).map(many).collect();
            let any = Request {
                count: None,
                ..request(0)
            };
            let paper = draw(&sections, &standing(&[0.5; 130]), &[], any);
            assert_eq!(paper.questions.len(), expected);
            let mut from: BTreeMap<TopicId, usize> = BTreeMap::new();
            for question in &paper.questions {
                *from.entry(question.topic).or_default() += 1;
            }
            if sections.len() > 1 {
                assert!(from.len() == sections.len() && from.values().all(|n| [2, 3].contains(n)));
            }
            assert_eq!(paper.shortfalls, []);
        }
    }

    #[test]
    fn the_third_question_goes_where_weight_and_weakness_are() {
        let of = |topic: u32, weight| Section {
            weight,
            ..section(
                topic,
                (0..9).map(|n| problem(10 * topic + n, topic)).collect(),
            )
        };
        let count = |sections: &[Section], mastery: &[f64], count, topic| {
            let paper = draw(sections, &standing(mastery), &[], request(count));
            paper
                .questions
                .iter()
                .filter(|q| q.topic == TopicId(topic))
                .count()
        };
        let weak_first = [of(0, 1.0), of(1, 1.0), of(2, 1.0)];
        assert_eq!(count(&weak_first, &[0.9, 0.2, 0.8], 7, 1), 3);
        let heavy_first = [of(0, 1.0), of(1, 1.0), of(2, 3.0)];
        assert_eq!(count(&heavy_first, &[0.5, 0.5, 0.5], 7, 2), 3);
        // Beyond three each, in proportion: 0.75 and 0.25 of twelve.
        let two = [of(0, 3.0), of(1, 1.0)];
        assert_eq!(count(&two, &[0.5, 0.5], 12, 0), 9);
    }

    #[test]
    fn sections_of_known_points_are_asked_in_proportion() {
        let of = |topic: u32, weight| Section {
            weight,
            ..section(
                topic,
                (0..20).map(|n| problem(100 * topic + n, topic)).collect(),
            )
        };
        let sections = [of(0, 60.0), of(1, 30.0), of(2, 10.0), of(3, 0.5)];
        let by_weight = Request {
            spread: Spread::ByWeight,
            ..request(20)
        };
        // Mastery does not count: the exam asks the same of everybody.
        for mastery in [[0.5, 0.5, 0.5, 0.5], [0.95, 0.1, 0.9, 0.2]] {
            let paper = draw(&sections, &standing(&mastery), &[], by_weight);
            let from = |topic| {
                let questions = paper.questions.iter();
                questions.filter(|q| q.topic == TopicId(topic)).count()
            };
            assert_eq!([0, 1, 2, 3].map(from), [11, 6, 2, 1]);
            let usual = |s: &Shortfall| matches!(s, Shortfall::SamePatternInARow(_));
            assert!(paper.shortfalls.iter().all(usual), "{:?}", paper.shortfalls);
        }
    }

    #[test]
    fn weak_patterns_come_first() {
        let candidates = (0..6).map(|n| problem(n, n)).collect();
        let paper = check(
            &[section(0, candidates)],
            &[0.9, 0.3, 0.8, 0.1, 0.7, 0.6],
            3,
            &[1, 3, 5],
        );
        let weakest = paper
            .questions
            .iter()
            .find(|q| q.problem == ProblemId(3))
            .map(|q| q.reason);
        let weakest = weakest.expect("the weakest pattern is asked");
        assert_eq!((weakest.place, weakest.of, weakest.mastery), (1, 6, 0.1));
        assert_eq!(weakest.pattern, Some(PatternId(3)));
    }

    #[test]
    fn a_confusable_partner_comes_along() {
        let candidates: Vec<Candidate> = (0..4).map(|n| problem(n, n)).collect();
        let sections = [section(0, candidates)];
        let mastery = standing(&[0.2, 0.5, 0.6, 0.9]);
        let without = draw(&sections, &mastery, &[], request(2));
        assert_eq!(problems(&without), [0, 1]);
        let with = draw(
            &sections,
            &mastery,
            &[(PatternId(2), PatternId(0))],
            request(2),
        );
        assert_eq!(problems(&with), [0, 2]);
        let partner = with.questions.iter().find(|q| q.problem == ProblemId(2));
        assert_eq!(partner.and_then(|q| q.reason.partner), Some(PatternId(0)));
    }

    #[test]
    fn fresh_problems_come_first() {
        let tried = |id, day| Candidate {
            last_tried: Some(Day(day)),
            ..problem(id, 0)
        };
        let skip = Candidate {
            skip: true,
            last_tried: Some(Day(1)),
            ..problem(5, 0)
        };
        let last = Candidate {
            in_last_paper: true,
            ..problem(6, 0)
        };
        let sibling = Candidate {
            variants: 1,
            ..tried(4, 99)
        };
        let sections = [section(
            0,
            vec![
                tried(1, 90),
                last,
                skip,
                tried(2, 80),
                sibling,
                problem(3, 0),
            ],
        )];
        let check = |count, expected: &[u32]| check(&sections, &[0.5], count, expected);
        check(1, &[3]);
        check(2, &[3, 4]);
        check(3, &[2, 3, 4]);
        check(4, &[1, 2, 3, 4]);
        check(5, &[1, 2, 3, 4, 5]);
        let all = check(6, &[1, 2, 3, 4, 5, 6]);
        let source = |id| {
            let question = all.questions.iter().find(|q| q.problem == ProblemId(id));
            question.expect("all are asked").source
        };
        assert_eq!(source(3), Source::Untried);
        assert_eq!(source(4), Source::FreshNumbers { copy: 0 });
        assert_eq!(source(2), Source::Tried);
        assert_eq!(source(5), Source::SkipList);
        assert_eq!(source(6), Source::LastPaper);
    }

    #[test]
    fn a_weak_pattern_on_the_skip_list_waits_for_a_strong_one() {
        let skip = Candidate {
            skip: true,
            ..problem(0, 0)
        };
        check(
            &[section(0, vec![skip, problem(1, 1)])],
            &[0.1, 0.9],
            1,
            &[1],
        );
    }

    #[test]
    fn the_last_paper_is_used_rather_than_no_question_of_a_section() {
        let last = |id| Candidate {
            in_last_paper: true,
            ..problem(id, 0)
        };
        let sections = [
            section(0, vec![last(1), last(2)]),
            section(1, vec![problem(10, 1), problem(11, 1)]),
        ];
        let paper = check(&sections, &[0.5; 2], 3, &[1, 10, 11]);
        let sources: BTreeSet<Source> = paper.questions.iter().map(|q| q.source).collect();
        assert_eq!(
            sources,
            BTreeSet::from([Source::Untried, Source::LastPaper])
        );
        let few = Shortfall::FewFromSection {
            topic: TopicId(0),
            drawn: 1,
            same_shape: 0,
        };
        assert!(!paper.shortfalls.contains(&few));
    }

    #[test]
    fn no_shape_twice_and_what_is_missing_is_named() {
        let shaped = |id, topic: u32| Candidate {
            shape: Some(ShapeId(9)),
            ..problem(id, topic)
        };
        let sections = [
            section(0, vec![shaped(1, 0), shaped(2, 0), shaped(3, 0)]),
            section(1, vec![problem(10, 1), shaped(11, 1)]),
            section(2, Vec::new()),
            section(
                3,
                vec![Candidate {
                    theorem: true,
                    ..problem(12, 1)
                }],
            ),
        ];
        let paper = draw(&sections, &standing(&[0.5; 2]), &[], request(10));
        assert_eq!(paper.questions.len(), 2);
        let few = |topic, same_shape| Shortfall::FewFromSection {
            topic: TopicId(topic),
            drawn: 1,
            same_shape,
        };
        assert_eq!(
            paper.shortfalls,
            [
                Shortfall::NothingToAsk(TopicId(2)),
                Shortfall::NothingToAsk(TopicId(3)),
                Shortfall::FewerThanAsked {
                    asked: 10,
                    drawn: 2
                },
                few(0, 2),
                few(1, 1),
            ]
        );
    }

    #[test]
    fn sections_without_a_question_and_odd_numbers_are_named() {
        let sections: Vec<Section> = (0..12)
            .map(|t| section(t, vec![problem(t, t), problem(100 + t, t)]))
            .collect();
        let mut mastery = [0.5; 12];
        mastery[4] = 0.9;
        let paper = draw(&sections, &standing(&mastery), &[], request(11));
        assert_eq!(paper.shortfalls, [Shortfall::LeftOut(TopicId(4))]);

        let paper = draw(&sections, &standing(&mastery), &[], request(24));
        assert_eq!((paper.questions.len(), paper.shortfalls.len()), (24, 0));
        let paper = draw(&sections, &standing(&mastery), &[], request(3));
        let unusual = Shortfall::UnusualCount {
            asked: 3,
            fewest: 10,
            most: 25,
        };
        assert_eq!(paper.shortfalls[0], unusual);
        let paper = draw(&sections, &standing(&mastery), &[], request(u32::MAX));
        assert_eq!(paper.shortfalls[0], Shortfall::TooMany { asked: u32::MAX });
        assert_eq!(
            paper.shortfalls[1],
            Shortfall::FewerThanAsked {
                asked: 100,
                drawn: 24
            }
        );
        let paper = draw(
            &[],
            &standing(&mastery),
            &[],
            Request {
                count: None,
                ..request(0)
            },
        );
        assert_eq!(paper.shortfalls[0], Shortfall::NothingCovered);
    }

    #[test]
    fn a_round_of_theorems() {
        let theorem = |id| Candidate {
            theorem: true,
            ..problem(id, id)
        };
        let mut candidates: Vec<Candidate> = (0..9).map(theorem).collect();
        candidates.extend((20..40).map(|id| problem(id, 1)));
        let round = Request {
            kind: Kind::Theorems,
            count: None,
            ..request(0)
        };
        let paper = draw(&[section(0, candidates)], &standing(&[0.5; 9]), &[], round);
        assert_eq!(paper.questions.len(), 5);
        assert!(problems(&paper).iter().all(|&id| id < 9));
        assert_eq!(paper.shortfalls, []);
    }

    #[test]
    fn one_pattern_only_is_said_to_come_twice_in_a_row() {
        let candidates = (0..12).map(|id| problem(id, 0)).collect();
        let paper = draw(
            &[section(0, candidates)],
            &standing(&[0.5]),
            &[],
            request(10),
        );
        assert_eq!(
            paper.shortfalls,
            [Shortfall::SamePatternInARow(PatternId(0))]
        );
    }

    #[test]
    fn another_seed_or_day_draws_another_paper() {
        let sections = [section(0, (0..200).map(|id| problem(id, id % 5)).collect())];
        let base = request(10);
        let drawn = |request| problems(&draw(&sections, &standing(&[0.5; 5]), &[], request));
        assert_eq!(drawn(base), drawn(base));
        assert_ne!(drawn(base), drawn(Request { seed: 8, ..base }));
        assert_ne!(
            drawn(base),
            drawn(Request {
                day: Day(101),
                ..base
            })
        );
    }

    fn any_candidate() -> impl Strategy<Value = Candidate> {
        let patterns = prop::collection::vec((0u32..6).prop_map(PatternId), 0..3);
        let flags = (
            any::<bool>(),
            any::<bool>(),
            any::<bool>(),
            prop::bool::weighted(0.2),
        );
        let shape = prop::option::of((0u64..8).prop_map(ShapeId));
        (
            0u32..40,
            patterns,
            shape,
            flags,
            prop::option::of((0i32..9).prop_map(Day)),
        )
            .prop_map(
                |(id, patterns, shape, (varies, in_last_paper, skip, theorem), last_tried)| {
                    Candidate {
                        problem: ProblemId(id),
                        patterns,
                        shape,
                        variants: 2 * u32::from(varies),
                        in_last_paper,
                        skip,
                        last_tried,
                        theorem,
                    }
                },
            )
    }

    fn any_section() -> impl Strategy<Value = Section> {
        let weight = prop_oneof![0.0f64..3.0, Just(f64::NAN), Just(-1.0), Just(f64::INFINITY)];
        (
            0u32..5,
            weight,
            prop::collection::vec(any_candidate(), 0..14),
        )
            .prop_map(|(topic, weight, candidates)| Section {
                topic: TopicId(topic),
                weight,
                candidates,
            })
    }

    proptest! {
        #[test]
        fn whatever_the_notes(
            mut sections in prop::collection::vec(any_section(), 0..6),
            mastery in prop::collection::vec(0.0f64..=1.0, 0..6),
            mut confusable in prop::collection::vec((0u32..6, 0u32..6), 0..4),
            count in prop::option::of(0u32..30), theorems: bool, seed: u64,
        ) {
            let kind = if theorems { Kind::Theorems } else { Kind::Problems };
            let spread = [Spread::WeakFirst, Spread::ByWeight][(seed % 2) as usize];
            let request = Request { kind, spread, count, seed, day: Day(9) };
            let standing = standing(&mastery);
            let pairs = |pairs: &[(u32, u32)]| -> Vec<Confusable> {
                pairs.iter().map(|&(a, b)| (PatternId(a), PatternId(b))).collect()
            };
            let paper = draw(&sections, &standing, &pairs(&confusable), request);

            // No problem twice, no shape twice, nothing of another kind.
            let candidates: Vec<(TopicId, &Candidate)> = sections
                .iter()
                .flat_map(|s| s.candidates.iter().map(|c| (s.topic, c)))
                .filter(|(_, c)| c.theorem == theorems)
                .collect();
            let used: BTreeSet<ProblemId> = paper.questions.iter().map(|q| q.problem).collect();
            prop_assert_eq!(used.len(), paper.questions.len());
            for question in &paper.questions {
                prop_assert!(
                    candidates.iter().any(|(t, c)| (*t, c.problem) == (question.topic, question.problem))
                );
            }

            // A stale problem is used only when its section has nothing fresher. With one entry for
            // each problem, what it is and its shape are known.
            let once = |id| candidates.iter().filter(|(_, c)| c.problem == id).count() == 1;
            let known = candidates.iter().all(|(_, c)| once(c.problem));
            let shapes: BTreeSet<ShapeId> = candidates.iter()
                .filter(|(_, c)| used.contains(&c.problem)).filter_map(|(_, c)| c.shape).collect();
            let usable = |c: &Candidate| {
                !used.contains(&c.problem) && c.shape.is_none_or(|s| !shapes.contains(&s))
            };
            let stale = paper.questions.iter().filter(|q| q.source >= Source::SkipList);
            for question in stale.filter(|_| known) {
                let fresher = candidates.iter().any(|(topic, c)| {
                    *topic == question.topic && usable(c) && source(c) < question.source
                });
                prop_assert!(!fresher, "{question:?}");
            }

            // Fewer than asked is said, and is so only when nothing usable is left.
            let asked = count.unwrap_or_else(|| {
                let topics: BTreeSet<TopicId> = candidates.iter().map(|(t, _)| *t).collect();
                kind.default_count(topics.len())
            });
            let drawn = u32::try_from(used.len()).expect("few");
            let said = paper.shortfalls.contains(&Shortfall::FewerThanAsked { asked, drawn });
            prop_assert_eq!(drawn < asked, said);
            if said {
                prop_assert!(!known || !candidates.iter().any(|(_, c)| usable(c)));
            }

            // The order of the input is irrelevant.
            let mut random = SplitMix64::new(seed ^ 1);
            random.shuffle(&mut sections);
            random.shuffle(&mut confusable);
            for section in &mut sections {
                random.shuffle(&mut section.candidates);
            }
            let again = draw(&sections, &standing, &pairs(&confusable), request);
            prop_assert_eq!(paper, again);
        }
    }
}
