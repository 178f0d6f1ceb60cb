//! Drill sheets, on patterns of the student's choice, and spotting rounds, where only the pattern
//! of each problem is asked for.

use crate::interleave::interleave;
use crate::mastery::Standing;
use crate::paper::same_in_a_row;
use crate::random::SplitMix64;
use crate::selection::{
    Candidate, Choosing, Chosen, Confusable, Group, MOST_QUESTIONS, Reason, Source, seed_of_day,
};
use crate::{Day, PatternId, ProblemId};
use std::collections::{BTreeMap, BTreeSet};

/// In which order a drill sheet asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrangement {
    /// All questions of one pattern, then all of the next: for a first acquaintance.
    Blocked,
    /// Mixed, so that the approach must be chosen each time: better for the exam (Rohrer, Dedrick
    /// and Stershic 2015).
    Mixed,
}

/// What to choose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Request {
    /// How many questions; more than [`MOST_QUESTIONS`] are not chosen.
    pub count: u32,
    /// Another seed gives another sheet.
    pub seed: u64,
    /// Today. Another day gives another sheet.
    pub day: Day,
}

/// A sheet of questions.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// In the order in which they are to be asked.
    pub questions: Vec<Question>,
    /// What could not be had.
    pub shortfalls: Vec<Shortfall>,
}

/// One question of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The problem it was drawn from.
    pub problem: ProblemId,
    /// How fresh it is, and whether to change its numbers.
    pub source: Source,
    /// Why it was chosen.
    pub reason: Reason,
}

/// Something that a sheet lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shortfall {
    /// There are fewer questions than asked for.
    FewerThanAsked {
        /// The number asked for.
        asked: u32,
        /// The number chosen.
        chosen: u32,
        /// How many problems were left out because their shape is on the sheet already.
        same_shape: u32,
    },
    /// A wanted pattern has no problem.
    NothingToAsk(PatternId),
    /// Two consecutive questions of a mixed sheet have this pattern.
    SamePatternInARow(PatternId),
}

/// A drill sheet on `patterns`.
///
/// The patterns take turns, the weakest first; within one, fresh problems come first, as on a
/// paper. When they run out, problems whose numbers can vary are asked again with fresh numbers.
/// `candidates` may hold problems of other patterns; they are not used.
#[must_use]
pub fn drill(
    candidates: &[Candidate],
    patterns: &BTreeSet<PatternId>,
    arrangement: Arrangement,
    standing: &Standing,
    confusable: &[Confusable],
    request: Request,
) -> Sheet {
    let mut choosing = Choosing::new(standing, confusable, request.seed, request.day);
    let wanted = |pattern| patterns.contains(&pattern);
    let mut groups = choosing.patterns(candidates, wanted, |_, mastery| 1.0 - mastery);
    let found: BTreeSet<PatternId> = groups.iter().map(|(pattern, _)| *pattern).collect();
    let mut shortfalls: Vec<Shortfall> = patterns
        .difference(&found)
        .map(|&pattern| Shortfall::NothingToAsk(pattern))
        .collect();

    let mut variable: BTreeMap<PatternId, Vec<&Candidate>> = BTreeMap::new();
    for candidate in candidates.iter().filter(|candidate| candidate.variants > 0) {
        for &pattern in candidate
            .patterns
            .iter()
            .filter(|pattern| found.contains(pattern))
        {
            variable.entry(pattern).or_default().push(candidate);
        }
    }
    let chosen = take_turns(
        request,
        &mut choosing,
        &mut groups,
        |choosing, at, pattern, group| choosing.choose_copy(at, group, variable.get(&pattern)?),
    );
    let of_wanted = candidates
        .iter()
        .filter(|c| c.patterns.iter().any(|p| found.contains(p)));
    shortfalls.extend(shortage(request, &chosen, &choosing, of_wanted));

    let chosen = match arrangement {
        Arrangement::Blocked => in_blocks(chosen),
        Arrangement::Mixed => mixed(chosen, request, &mut shortfalls),
    };
    sheet(chosen, shortfalls)
}

/// A spotting round: problems of which the student says only what pattern they are.
///
/// All patterns of the candidates take turns, first those that are easily confused with another,
/// then the weakest; always mixed, and no shape twice. Problems without a pattern, and theorems,
/// are not used: there is nothing to spot.
#[must_use]
pub fn spotting_round(
    candidates: &[Candidate],
    standing: &Standing,
    confusable: &[Confusable],
    request: Request,
) -> Sheet {
    let mut choosing = Choosing::new(standing, confusable, request.seed, request.day);
    let problems = || candidates.iter().filter(|candidate| !candidate.theorem);
    let confused: BTreeSet<PatternId> = confusable
        .iter()
        .filter(|(a, b)| a != b)
        .flat_map(|&(a, b)| [a, b])
        .collect();
    let mut groups = choosing.patterns(
        problems(),
        |_| true,
        |pattern, mastery| 1.0 - mastery + f64::from(u8::from(confused.contains(&pattern))),
    );
    let chosen = take_turns(request, &mut choosing, &mut groups, |_, _, _, _| None);
    let spottable = problems().filter(|candidate| !candidate.patterns.is_empty());
    let mut shortfalls: Vec<Shortfall> = shortage(request, &chosen, &choosing, spottable)
        .into_iter()
        .collect();
    let chosen = mixed(chosen, request, &mut shortfalls);
    sheet(chosen, shortfalls)
}

/// One question for each group in turn, again and again; a group whose problems are all known may
/// still have `more`.
fn take_turns<'a>(
    request: Request,
    choosing: &mut Choosing<'a>,
    groups: &mut [(PatternId, Group<'a>)],
    more: impl Fn(&mut Choosing<'a>, usize, PatternId, &mut Group<'a>) -> Option<Chosen>,
) -> Vec<Chosen> {
    let count = request.count.min(MOST_QUESTIONS) as usize;
    let mut open: Vec<usize> = (0..groups.len()).collect();
    let mut chosen = Vec::new();
    while chosen.len() < count && !open.is_empty() {
        open.retain(|&at| {
            if chosen.len() == count {
                return true;
            }
            let (pattern, group) = &mut groups[at];
            let found = choosing
                .choose(at, group, Source::Tried)
                .or_else(|| more(choosing, at, *pattern, group))
                .or_else(|| choosing.choose(at, group, Source::LastPaper));
            let found_one = found.is_some();
            chosen.extend(found);
            found_one
        });
    }
    chosen
}

fn shortage<'a>(
    request: Request,
    chosen: &[Chosen],
    choosing: &Choosing,
    candidates: impl Iterator<Item = &'a Candidate>,
) -> Option<Shortfall> {
    let count = u32::try_from(chosen.len()).unwrap_or(u32::MAX);
    (count < request.count).then(|| Shortfall::FewerThanAsked {
        asked: request.count,
        chosen: count,
        same_shape: choosing.same_shape(candidates),
    })
}

/// Pattern after pattern, the one with the most to gain first; within one, as chosen.
fn in_blocks(mut chosen: Vec<Chosen>) -> Vec<Chosen> {
    chosen.sort_by_key(|c| c.group);
    chosen
}

fn mixed(chosen: Vec<Chosen>, request: Request, shortfalls: &mut Vec<Shortfall>) -> Vec<Chosen> {
    let mut random = SplitMix64::new(seed_of_day(request.seed, request.day));
    let chosen = interleave(chosen, |c| &c.patterns, &mut random);
    shortfalls.extend(
        same_in_a_row(&chosen)
            .into_iter()
            .map(Shortfall::SamePatternInARow),
    );
    chosen
}

fn sheet(chosen: Vec<Chosen>, shortfalls: Vec<Shortfall>) -> Sheet {
    let question = |c: Chosen| Question {
        problem: c.problem,
        source: c.source,
        reason: c.reason,
    };
    Sheet {
        questions: chosen.into_iter().map(question).collect(),
        shortfalls,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::selection::ShapeId;
    use crate::selection::fixtures::{problem, standing};

    /// Problems 0, 1, 2 … of patterns 0, 1, 2, 0, 1, 2 …
    fn three_patterns(problems: u32) -> Vec<Candidate> {
        (0..problems).map(|id| problem(id, id % 3)).collect()
    }

    fn check(
        candidates: &[Candidate],
        patterns: &[u32],
        arrangement: Arrangement,
        count: u32,
    ) -> (Vec<u32>, Sheet) {
        let patterns = patterns.iter().map(|&p| PatternId(p)).collect();
        let mastery = standing(&[0.6, 0.2, 0.4]);
        let request = Request {
            count,
            seed: 3,
            day: Day(50),
        };
        let sheet = drill(candidates, &patterns, arrangement, &mastery, &[], request);
        let order = sheet
            .questions
            .iter()
            .filter_map(|q| q.reason.pattern)
            .map(|p| p.0)
            .collect();
        (order, sheet)
    }

    #[test]
    fn blocked_asks_the_weakest_pattern_first_and_mixed_alternates() {
        let candidates = three_patterns(30);
        let (blocked, sheet) = check(&candidates, &[0, 1, 2], Arrangement::Blocked, 8);
        assert_eq!(blocked, [1, 1, 1, 2, 2, 2, 0, 0]);
        assert_eq!(sheet.shortfalls, []);
        assert_eq!(
            (
                sheet.questions[0].reason.place,
                sheet.questions[0].reason.of
            ),
            (1, 3)
        );
        let (mixed, sheet) = check(&candidates, &[0, 1, 2], Arrangement::Mixed, 8);
        assert!(mixed.windows(2).all(|pair| pair[0] != pair[1]), "{mixed:?}");
        assert_eq!(sheet.shortfalls, []);
    }

    #[test]
    fn only_the_wanted_patterns() {
        let (order, _) = check(&three_patterns(30), &[2], Arrangement::Blocked, 4);
        assert_eq!(order, [2, 2, 2, 2]);
    }

    #[test]
    fn fresh_numbers_when_the_problems_run_out() {
        let mut candidates = three_patterns(6);
        candidates[1].variants = 9;
        candidates[1].shape = Some(ShapeId(4));
        let (_, sheet) = check(&candidates, &[1], Arrangement::Blocked, 5);
        let drawn: Vec<(u32, Source)> = sheet
            .questions
            .iter()
            .map(|q| (q.problem.0, q.source))
            .collect();
        assert_eq!(
            drawn[2..],
            [0, 1, 2].map(|copy| (1, Source::FreshNumbers { copy }))
        );
        assert!(
            drawn[..2]
                .iter()
                .all(|(_, source)| *source == Source::Untried)
        );
        assert_eq!(sheet.shortfalls, []);

        candidates[1].variants = 2;
        let (_, sheet) = check(&candidates, &[1], Arrangement::Blocked, 5);
        let fewer = Shortfall::FewerThanAsked {
            asked: 5,
            chosen: 4,
            same_shape: 0,
        };
        assert_eq!((sheet.questions.len(), sheet.shortfalls), (4, vec![fewer]));
    }

    #[test]
    fn what_is_missing_is_named() {
        let mut candidates = three_patterns(6);
        candidates[1].shape = Some(ShapeId(4));
        candidates[4].shape = Some(ShapeId(4));
        let (order, sheet) = check(&candidates, &[1, 8], Arrangement::Mixed, 5);
        assert_eq!(order, [1]);
        assert_eq!(
            sheet.shortfalls,
            [
                Shortfall::NothingToAsk(PatternId(8)),
                Shortfall::FewerThanAsked {
                    asked: 5,
                    chosen: 1,
                    same_shape: 1
                },
            ]
        );
    }

    #[test]
    fn a_spotting_round_has_every_pattern_and_the_confusable_ones_first() {
        let mut candidates = three_patterns(12);
        candidates.push(Candidate {
            patterns: Vec::new(),
            ..problem(90, 0)
        });
        candidates.push(Candidate {
            theorem: true,
            ..problem(91, 0)
        });
        let round = |confusable: &[Confusable], count| {
            let request = Request {
                count,
                seed: 3,
                day: Day(50),
            };
            spotting_round(
                &candidates,
                &standing(&[0.6, 0.2, 0.4]),
                confusable,
                request,
            )
        };
        let patterns = |sheet: &Sheet| -> BTreeSet<u32> {
            sheet
                .questions
                .iter()
                .filter_map(|q| q.reason.pattern)
                .map(|p| p.0)
                .collect()
        };
        assert_eq!(patterns(&round(&[], 3)), BTreeSet::from([0, 1, 2]));
        assert_eq!(patterns(&round(&[], 2)), BTreeSet::from([1, 2]));
        let confused = [(PatternId(0), PatternId(2))];
        assert_eq!(patterns(&round(&confused, 2)), BTreeSet::from([0, 2]));
        let all = round(&confused, 100);
        assert_eq!(all.questions.len(), 12);
        let short = Shortfall::FewerThanAsked {
            asked: 100,
            chosen: 12,
            same_shape: 0,
        };
        assert_eq!(all.shortfalls, [short]);
    }
}
