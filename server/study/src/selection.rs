//! Choosing problems: the material that papers, drill sheets and spotting rounds share. Groups
//! (sections, or patterns) take turns; within a group the pattern with the most to gain comes
//! first, and of its problems the freshest.

use crate::mastery::Standing;
use crate::random::rank;
use crate::{Day, PatternId, ProblemId};
use std::collections::{BTreeMap, BTreeSet};

/// How much more a pattern counts when one that it is easily confused with is on the sheet
/// already: telling them apart is practised only side by side (the factor is common practice, no
/// published source).
const PARTNER_FACTOR: f64 = 1.5;
/// The most questions of one sheet.
pub const MOST_QUESTIONS: u32 = 100;

/// What two problems share that are the same one with other numbers; numbered by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShapeId(pub u64);

/// A problem or theorem that may be asked.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Candidate {
    /// Which one.
    pub problem: ProblemId,
    /// Its patterns; without one it counts as a pattern of its own, at the student's level.
    pub patterns: Vec<PatternId>,
    /// Its shape, where it has one.
    pub shape: Option<ShapeId>,
    /// How many versions with fresh numbers it can have on one sheet.
    pub variants: u32,
    /// Whether it was on the last paper.
    pub in_last_paper: bool,
    /// Whether it is on the skip list: done right with closed notes, or the same as one that was.
    pub skip: bool,
    /// The day of the last try, if any.
    pub last_tried: Option<Day>,
    /// Whether it is something to state or prove from memory instead of a problem to work.
    pub theorem: bool,
}

/// Two patterns that are easily taken for each other; the order does not matter.
pub type Confusable = (PatternId, PatternId);

/// Where a question comes from, from the freshest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// A problem of the notes that was never tried.
    Untried,
    /// A problem of the notes to be asked with fresh numbers.
    FreshNumbers {
        /// Which of several from the same problem on this sheet, from 0.
        copy: u32,
    },
    /// A problem that was tried before, and nothing fresher is left of its pattern.
    Tried,
    /// A problem of the skip list, and nothing else is left.
    SkipList,
    /// A problem of the last paper: there was no other way to fill the sheet.
    LastPaper,
}

/// Why a question was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reason {
    /// The pattern it was chosen for; `None` for a problem without a pattern.
    pub pattern: Option<PatternId>,
    /// The mastery of that pattern, or the student's level without one; from 0 to 1.
    pub mastery: f64,
    /// Whether the pattern was never tried.
    pub untried_pattern: bool,
    /// The place of the pattern among those of its group by what there is to gain, from 1.
    pub place: u32,
    /// How many patterns the group has.
    pub of: u32,
    /// A pattern on the sheet with which this one is easily confused.
    pub partner: Option<PatternId>,
    /// The last try of the problem.
    pub last_tried: Option<Day>,
}

/// A chosen problem.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Chosen {
    /// The index of the group that it was chosen for.
    pub(crate) group: usize,
    pub(crate) problem: ProblemId,
    pub(crate) patterns: Vec<PatternId>,
    pub(crate) source: Source,
    pub(crate) reason: Reason,
}

/// A group of candidates to choose from.
pub(crate) struct Group<'a> {
    /// How soon it gets another question: larger is sooner.
    pub(crate) priority: f64,
    queues: Vec<Queue<'a>>,
    pub(crate) chosen: u32,
}

/// The candidates of one pattern in one group.
struct Queue<'a> {
    pattern: Option<PatternId>,
    mastery: f64,
    untried: bool,
    /// Its place among `of` patterns by what there is to gain, from 1.
    place: u32,
    of: u32,
    /// The best candidate last.
    entries: Vec<Entry<'a>>,
}

#[derive(Clone, Copy)]
struct Entry<'a> {
    candidate: &'a Candidate,
    source: Source,
    /// Decides between candidates that are equally fresh.
    random: u64,
}

impl Entry<'_> {
    /// 0, or more for what is used only when the notes have run out: other numbers for what is known,
    /// then what is known as it stands.
    fn staleness(&self) -> u32 {
        let is_known = self.candidate.skip || self.candidate.in_last_paper;
        match self.source {
            Source::Untried | Source::Tried => 0,
            Source::FreshNumbers { .. } => u32::from(is_known),
            Source::SkipList => 2,
            Source::LastPaper => 3,
        }
    }

    /// The order in which a pattern's candidates are used, the smallest first. In the end the
    /// whole candidate decides, so that even two entries for one problem come in one order.
    fn compare(&self, other: &Entry) -> std::cmp::Ordering {
        let (a, b) = (self.candidate, other.candidate);
        (self.staleness(), self.source)
            .cmp(&(other.staleness(), other.source))
            .then(a.in_last_paper.cmp(&b.in_last_paper))
            .then(a.skip.cmp(&b.skip))
            // `None`, never tried, comes before every day.
            .then(a.last_tried.cmp(&b.last_tried))
            .then(self.random.cmp(&other.random))
            .then_with(|| a.cmp(b))
    }
}

/// What a choice depends on besides the candidates.
pub(crate) struct Choosing<'a> {
    standing: &'a Standing,
    partners: BTreeMap<PatternId, BTreeSet<PatternId>>,
    seed: u64,
    problems: BTreeSet<ProblemId>,
    shapes: BTreeSet<ShapeId>,
    uses: BTreeMap<PatternId, u32>,
    copies: BTreeMap<ProblemId, u32>,
}

impl<'a> Choosing<'a> {
    /// Same day and seed: same choices.
    pub(crate) fn new(
        standing: &'a Standing,
        confusable: &[Confusable],
        seed: u64,
        day: Day,
    ) -> Choosing<'a> {
        let mut partners: BTreeMap<PatternId, BTreeSet<PatternId>> = BTreeMap::new();
        for &(a, b) in confusable.iter().filter(|(a, b)| a != b) {
            partners.entry(a).or_default().insert(b);
            partners.entry(b).or_default().insert(a);
        }
        Choosing {
            standing,
            partners,
            seed: seed_of_day(seed, day),
            problems: BTreeSet::new(),
            shapes: BTreeSet::new(),
            uses: BTreeMap::new(),
            copies: BTreeMap::new(),
        }
    }

    /// A group of `candidates`, given in any order, of any patterns. Its priority is `weight` times
    /// the mean of what is missing to full mastery over its patterns.
    pub(crate) fn section(&self, candidates: &[&'a Candidate], weight: f64) -> Group<'a> {
        let mut by_pattern: BTreeMap<(Option<PatternId>, u32), Vec<&Candidate>> = BTreeMap::new();
        for &candidate in candidates {
            if candidate.patterns.is_empty() {
                by_pattern
                    .entry((None, candidate.problem.0))
                    .or_default()
                    .push(candidate);
            }
            for pattern in distinct(&candidate.patterns) {
                by_pattern
                    .entry((Some(pattern), 0))
                    .or_default()
                    .push(candidate);
            }
        }
        let mut queues: Vec<Queue> = by_pattern
            .into_iter()
            .map(|((pattern, _), candidates)| self.queue(pattern, candidates))
            .collect();
        queues.sort_by(|a, b| a.mastery.total_cmp(&b.mastery));
        let of = u32::try_from(queues.len()).unwrap_or(u32::MAX);
        for (place, queue) in (1u32..).zip(&mut queues) {
            (queue.place, queue.of) = (place, of);
        }
        let missing: f64 = queues.iter().map(|queue| 1.0 - queue.mastery).sum();
        Group {
            priority: weight * missing / queues.len().max(1) as f64,
            queues,
            chosen: 0,
        }
    }

    /// One group for each pattern that some of `candidates` have and that is `wanted`, the one
    /// with the highest `priority` of its mastery first, with the candidates of each.
    pub(crate) fn patterns(
        &self,
        candidates: impl IntoIterator<Item = &'a Candidate>,
        wanted: impl Fn(PatternId) -> bool,
        priority: impl Fn(PatternId, f64) -> f64,
    ) -> Vec<(PatternId, Group<'a>)> {
        let mut by_pattern: BTreeMap<PatternId, Vec<&Candidate>> = BTreeMap::new();
        for candidate in candidates {
            for pattern in distinct(&candidate.patterns) {
                if wanted(pattern) {
                    by_pattern.entry(pattern).or_default().push(candidate);
                }
            }
        }
        let mut groups: Vec<(PatternId, Group)> = by_pattern
            .into_iter()
            .map(|(pattern, candidates)| {
                let queue = self.queue(Some(pattern), candidates);
                let priority = priority(pattern, queue.mastery);
                (
                    pattern,
                    Group {
                        priority,
                        queues: vec![queue],
                        chosen: 0,
                    },
                )
            })
            .collect();
        groups.sort_by(|(_, a), (_, b)| b.priority.total_cmp(&a.priority));
        let of = u32::try_from(groups.len()).unwrap_or(u32::MAX);
        for (place, (_, group)) in (1u32..).zip(&mut groups) {
            for queue in &mut group.queues {
                (queue.place, queue.of) = (place, of);
            }
        }
        groups
    }

    fn queue(&self, pattern: Option<PatternId>, candidates: Vec<&'a Candidate>) -> Queue<'a> {
        let mut entries: Vec<Entry> = candidates
            .into_iter()
            .map(|candidate| Entry {
                candidate,
                source: source(candidate),
                random: rank(self.seed, u64::from(candidate.problem.0)),
            })
            .collect();
        entries.sort_unstable_by(|a, b| b.compare(a));
        let estimate = pattern.and_then(|p| self.standing.patterns.get(&p));
        Queue {
            pattern,
            mastery: estimate.map_or(self.standing.student, |m| m.mean),
            untried: estimate.is_none_or(|m| m.last.is_none()),
            place: 1,
            of: 1,
            entries,
        }
    }

    /// Chooses one more question for the group, or says that nothing is left that is no staler
    /// than `stalest`.
    pub(crate) fn choose(
        &mut self,
        at: usize,
        group: &mut Group<'a>,
        stalest: Source,
    ) -> Option<Chosen> {
        let best = (0..group.queues.len())
            .filter_map(|queue| Some((self.rank_of(&mut group.queues[queue], stalest)?, queue)))
            .min_by(|(a, _), (b, _)| a.compare(b));
        let (_, best) = best?;
        let queue = &mut group.queues[best];
        let Entry {
            candidate, source, ..
        } = queue.entries.pop()?;
        let reason = self.reason(queue, candidate);
        self.problems.insert(candidate.problem);
        self.shapes.extend(candidate.shape);
        for pattern in distinct(&candidate.patterns) {
            *self.uses.entry(pattern).or_insert(0) += 1;
        }
        group.chosen += 1;
        let source = match source {
            Source::FreshNumbers { .. } => self.next_copy(candidate.problem),
            other => other,
        };
        let patterns = candidate.patterns.clone();
        Some(Chosen {
            group: at,
            problem: candidate.problem,
            patterns,
            source,
            reason,
        })
    }

    fn reason(&self, queue: &Queue, candidate: &Candidate) -> Reason {
        Reason {
            pattern: queue.pattern,
            mastery: queue.mastery,
            untried_pattern: queue.untried,
            place: queue.place,
            of: queue.of,
            partner: queue
                .pattern
                .and_then(|pattern| self.partner_in_use(pattern)),
            last_tried: candidate.last_tried,
        }
    }

    fn next_copy(&mut self, problem: ProblemId) -> Source {
        let copies = self.copies.entry(problem).or_insert(0);
        *copies += 1;
        Source::FreshNumbers { copy: *copies - 1 }
    }

    /// How good the best candidate of a pattern is, after dropping those that may not be used any
    /// more.
    fn rank_of(&self, queue: &mut Queue, stalest: Source) -> Option<Rank> {
        while queue
            .entries
            .last()
            .is_some_and(|entry| self.is_used_up(entry.candidate))
        {
            queue.entries.pop();
        }
        let best = queue
            .entries
            .last()
            .filter(|entry| entry.source <= stalest)?;
        let partner = queue
            .pattern
            .and_then(|pattern| self.partner_in_use(pattern));
        Some(Rank {
            stale: best.staleness(),
            uses: queue
                .pattern
                .map_or(0, |p| self.uses.get(&p).copied().unwrap_or(0)),
            gain: (1.0 - queue.mastery)
                * if partner.is_some() {
                    PARTNER_FACTOR
                } else {
                    1.0
                },
        })
    }

    /// A problem or a shape is used once, and so is each version with fresh numbers.
    fn is_used_up(&self, candidate: &Candidate) -> bool {
        let copies = self.copies.get(&candidate.problem);
        self.problems.contains(&candidate.problem)
            || copies.is_some_and(|copies| *copies >= candidate.variants)
            || candidate
                .shape
                .is_some_and(|shape| self.shapes.contains(&shape))
    }

    fn partner_in_use(&self, pattern: PatternId) -> Option<PatternId> {
        self.partners
            .get(&pattern)?
            .iter()
            .copied()
            .find(|p| self.uses.contains_key(p))
    }

    /// How many of the candidates are left only because their shape is on the sheet already.
    pub(crate) fn same_shape<'c>(
        &self,
        candidates: impl IntoIterator<Item = &'c Candidate>,
    ) -> u32 {
        let left: BTreeSet<ProblemId> = candidates
            .into_iter()
            .filter(|c| !self.problems.contains(&c.problem))
            .filter(|c| c.shape.is_some_and(|shape| self.shapes.contains(&shape)))
            .map(|c| c.problem)
            .collect();
        u32::try_from(left.len()).unwrap_or(u32::MAX)
    }

    /// One more question with fresh numbers from one of `candidates` of which there are more
    /// versions, whatever is on the sheet already; those used the least come first.
    pub(crate) fn choose_copy(
        &mut self,
        at: usize,
        group: &mut Group<'a>,
        candidates: &[&'a Candidate],
    ) -> Option<Chosen> {
        let queue = group.queues.first()?;
        let copies = |c: &Candidate| self.copies.get(&c.problem).copied().unwrap_or(0);
        let candidate = candidates
            .iter()
            .filter(|c| copies(c) < c.variants)
            .min_by_key(|c| (copies(c), rank(self.seed, u64::from(c.problem.0)), **c))?;
        let reason = self.reason(queue, candidate);
        group.chosen += 1;
        let source = self.next_copy(candidate.problem);
        let patterns = candidate.patterns.clone();
        Some(Chosen {
            group: at,
            problem: candidate.problem,
            patterns,
            source,
            reason,
        })
    }
}

/// Each pattern once.
fn distinct(patterns: &[PatternId]) -> impl Iterator<Item = PatternId> {
    let first = |&(at, pattern): &(usize, &PatternId)| !patterns[..at].contains(pattern);
    patterns
        .iter()
        .enumerate()
        .filter(first)
        .map(|(_, &pattern)| pattern)
}

/// A seed for one day: another day draws another sheet.
pub(crate) fn seed_of_day(seed: u64, day: Day) -> u64 {
    rank(seed, u64::from(day.0.cast_unsigned()))
}

/// How fresh a candidate is. Numbers are changed rather than a known problem asked again; but a
/// problem that was never tried is asked as it stands, even when its numbers could vary.
pub(crate) fn source(candidate: &Candidate) -> Source {
    let known = candidate.in_last_paper || candidate.skip || candidate.last_tried.is_some();
    if !known {
        Source::Untried
    } else if candidate.variants > 0 {
        Source::FreshNumbers { copy: 0 }
    } else if candidate.in_last_paper {
        Source::LastPaper
    } else if candidate.skip {
        Source::SkipList
    } else {
        Source::Tried
    }
}

/// How good the next question of a pattern would be.
struct Rank {
    /// 0, or more for what is used only when nothing else is left.
    stale: u32,
    /// How often the pattern is on the sheet already.
    uses: u32,
    /// What the question may gain.
    gain: f64,
}

impl Rank {
    /// The better one is less.
    fn compare(&self, other: &Rank) -> std::cmp::Ordering {
        (self.stale, self.uses)
            .cmp(&(other.stale, other.uses))
            .then(other.gain.total_cmp(&self.gain))
    }
}

/// What the tests of papers and of drill sheets start from.
#[cfg(test)]
pub(crate) mod fixtures {
    use super::Candidate;
    use crate::evidence::PatternEvidence;
    use crate::mastery::{CourseEvidence, Standing, estimate};
    use crate::{Day, PatternId, ProblemId, TopicId};

    /// A standing with this mastery of patterns 0, 1, 2 …
    pub(crate) fn standing(mastery: &[f64]) -> Standing {
        let mut course = CourseEvidence::new();
        for (p, _) in (0..).zip(mastery) {
            course.set_pattern(PatternId(p), TopicId(0), PatternEvidence::default());
        }
        let mut standing = estimate(&course, Day(0));
        for (estimate, &mean) in standing.patterns.values_mut().zip(mastery) {
            estimate.mean = mean;
        }
        standing
    }

    /// A problem of one pattern that was never tried.
    pub(crate) fn problem(id: u32, pattern: u32) -> Candidate {
        Candidate {
            problem: ProblemId(id),
            patterns: vec![PatternId(pattern)],
            shape: None,
            variants: 0,
            in_last_paper: false,
            skip: false,
            last_tried: None,
            theorem: false,
        }
    }
}
