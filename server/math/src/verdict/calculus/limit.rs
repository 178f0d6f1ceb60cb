//! Is this the limit of a function or of a sequence?
//!
//! The limit follows from the leading term of an expansion ([`super::germ`]). Where there is none,
//! values close to the place can support an answer, but never refute it.

use super::Context;
use super::germ::{self, Approach, Germ, Tendency, expand};
use super::integral::{Said, said};
use super::program::{Leaves, Program, compile, signed_infinity};
use super::quantity::{Quantity, all};
use super::sample;
use crate::expression::{Expression, Operator, Side, Symbol};
use crate::verdict::Verdict;

/// What a limit comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Limit {
    Finite(f64),
    Infinite(bool),
    /// It does not exist.
    None,
    /// It exists from one side, where alone there is a function.
    OneSided(f64),
    Unknown,
}

struct Asked {
    body: Expression,
    letter: Symbol,
    point: Point,
    sequence: bool,
}

enum Point {
    At(Expression, Option<bool>),
    Whole,
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(asked) = asked(context) else {
        return Verdict::cannot_tell("it is not clear which limit is meant");
    };
    let limit = Known {
        context,
        asked: &asked,
        leaves: parameters(&asked),
    };
    limit.judge()
}

fn asked(context: &Context<'_>) -> Option<Asked> {
    let question = context.question;
    for formula in &question.formulas {
        let sides = match formula.operator() {
            Operator::Relation(_) => formula.operands(),
            _ => std::slice::from_ref(formula),
        };
        for side in sides {
            if let (Operator::Limit(from), [body, letter, point]) =
                (side.operator(), side.operands())
            {
                let letter = letter.as_symbol()?.clone();
                let body = question.expanded(body);
                let sequence = ["n", "k", "m"].contains(&letter.name())
                    && germ::infinity(point) == Some(f64::INFINITY);
                let side = match from {
                    Side::Both => None,
                    Side::Above => Some(true),
                    Side::Below => Some(false),
                };
                return Some(Asked {
                    body,
                    letter,
                    point: match sequence {
                        true => Point::Whole,
                        false => Point::At(point.clone(), side),
                    },
                    sequence,
                });
            }
        }
    }
    if !question.says(&["sequence"]) {
        return None;
    }
    let formula = question.formulas.first()?;
    let body = match formula.as_equation() {
        Some((_, right)) => right,
        None => formula,
    };
    let body = match (body.operator(), body.operands()) {
        (Operator::Set, [only]) => only,
        _ => body,
    };
    if body.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Ellipsis | Operator::Indexed | Operator::Apply
        )
    }) {
        return None;
    }
    let letters = body.free_symbols();
    let letter = ["n", "k", "m"]
        .into_iter()
        .map(Symbol::new)
        .find(|s| letters.contains(s))?;
    Some(Asked {
        body: body.clone(),
        letter,
        point: Point::Whole,
        sequence: true,
    })
}

/// The letters besides the one that moves.
fn parameters(asked: &Asked) -> Leaves {
    let mut letters = asked.body.free_symbols();
    letters.remove(&asked.letter);
    if let Point::At(point, _) = &asked.point {
        letters.extend(point.free_symbols());
    }
    Leaves::of_symbols(&letters)
}

struct Known<'a> {
    context: &'a Context<'a>,
    asked: &'a Asked,
    leaves: Leaves,
}

impl Known<'_> {
    fn others(&self, place: &[f64]) -> Vec<(Expression, f64)> {
        let leaves = self.leaves.as_slice().iter().cloned();
        leaves.zip(place.iter().copied()).collect()
    }

    fn approaches(&self, place: &[f64]) -> Option<Vec<Approach>> {
        match &self.asked.point {
            Point::Whole => Some(vec![Approach::Whole]),
            Point::At(point, side) => {
                let at = match germ::infinity(point) {
                    Some(infinity) => infinity,
                    None => {
                        let program = compile(point, &mut self.leaves.clone()).ok()?;
                        program.value(place, self.context.budget)?
                    }
                };
                Some(germ::approach(at, *side))
            }
        }
    }

    fn limit(&self, place: &[f64]) -> Limit {
        let Some(approaches) = self.approaches(place) else {
            return Limit::Unknown;
        };
        let others = self.others(place);
        let mut found = Vec::new();
        for approach in &approaches {
            let germ = expand(
                &self.asked.body,
                &self.asked.letter,
                *approach,
                &others,
                self.context.budget,
            );
            found.push(match germ.as_ref().map(Germ::tendency) {
                Some(Tendency::Finite(value)) => Some(Limit::Finite(value)),
                Some(Tendency::Infinite(positive)) => Some(Limit::Infinite(positive)),
                Some(Tendency::Alternates) => Some(Limit::None),
                Some(Tendency::Unknown) => match self.oscillates(*approach, place) {
                    true => Some(Limit::None),
                    false => Some(Limit::Unknown),
                },
                None if self.is_undefined(*approach, place) => None,
                None => Some(Limit::Unknown),
            });
        }
        match found.as_slice() {
            [Some(limit)] => *limit,
            [Some(Limit::Unknown), _] | [_, Some(Limit::Unknown)] => Limit::Unknown,
            [Some(Limit::Finite(above)), Some(Limit::Finite(below))] => {
                match (above - below).abs() <= 1e-8 * (1.0 + above.abs()) {
                    true => Limit::Finite(*above),
                    false => Limit::None,
                }
            }
            [Some(above), Some(below)] if above == below => *above,
            [Some(_), Some(_)] => Limit::None,
            [Some(Limit::Finite(only)), None] | [None, Some(Limit::Finite(only))] => {
                Limit::OneSided(*only)
            }
            _ => Limit::Unknown,
        }
    }

    fn program(&self) -> Option<Program> {
        let mut leaves = self.leaves.clone();
        let program = compile(&self.asked.body, &mut leaves).ok()?;
        let has_letter = leaves.as_slice().get(self.leaves.len());
        let is_letter = has_letter.is_none_or(|leaf| leaf.as_symbol() == Some(&self.asked.letter));
        is_letter.then_some(program)
    }

    /// A place this far on the way.
    fn on_the_way(approach: Approach, distance: f64) -> f64 {
        match approach {
            Approach::Number(place, true) => place + distance,
            Approach::Number(place, false) => place - distance,
            Approach::Infinity(true) => 1.0 / distance,
            Approach::Infinity(false) => -1.0 / distance,
            Approach::Whole => libm::round(1.0 / distance),
        }
    }

    fn body(
        &self,
        program: &Program,
        approach: Approach,
        distance: f64,
        place: &[f64],
    ) -> Option<f64> {
        let mut values = place.to_vec();
        values.push(Self::on_the_way(approach, distance));
        program.value(&values, self.context.budget)
    }

    /// The values close to the place stay far apart from each other.
    fn oscillates(&self, approach: Approach, place: &[f64]) -> bool {
        let Some(program) = self.program() else {
            return false;
        };
        [1e-3, 1e-5].iter().all(|scale| {
            let mut seen: Vec<f64> = Vec::new();
            for step in 0..40 {
                let distance = scale * (1.0 + 9.0 * sample::fraction(step, 7));
                seen.extend(self.body(&program, approach, distance, place));
            }
            let high = seen.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let low = seen.iter().copied().fold(f64::INFINITY, f64::min);
            seen.len() >= 20 && high - low > 0.5 * high.abs().max(low.abs()) && high - low > 0.05
        })
    }

    /// There are no values on the way.
    fn is_undefined(&self, approach: Approach, place: &[f64]) -> bool {
        let Some(program) = self.program() else {
            return false;
        };
        [1e-2, 1e-3, 1e-4, 1e-6, 3e-7]
            .iter()
            .all(|distance| self.body(&program, approach, *distance, place).is_none())
    }

    /// Whether values on the way come closer to one number than to another.
    fn supports(&self, limit: f64, other: f64) -> bool {
        let (Some(program), Some(approaches)) = (self.program(), self.approaches(&[])) else {
            return true;
        };
        let mut seen = 0;
        for distance in [1e-1, 1e-2, 1e-3, 1e-4] {
            if let Some(value) = self.body(&program, approaches[0], distance, &[]) {
                seen += 1;
                if (value - limit).abs() < (value - other).abs() {
                    return true;
                }
            }
        }
        seen == 0
    }

    /// An estimate from values on the way, if they settle.
    fn estimate(&self) -> Option<f64> {
        let program = self.program()?;
        let mut estimates = Vec::new();
        for approach in self.approaches(&[])? {
            // Richardson's extrapolation, with distances halved from row to row.
            let mut row: Vec<f64> = Vec::new();
            let mut settled = None;
            for step in 3..14 {
                let distance = libm::pow(2.0, -f64::from(step));
                let mut next = vec![self.body(&program, approach, distance, &[])?];
                for (place, above) in row.iter().enumerate() {
                    let factor = libm::pow(2.0, (place + 1) as f64);
                    next.push((factor * next[place] - above) / (factor - 1.0));
                }
                if let (Some(old), Some(new)) = (row.last(), next.last())
                    && (old - new).abs() <= 1e-7 * (1.0 + new.abs())
                {
                    settled = Some(*new);
                    break;
                }
                row = next;
            }
            estimates.push(settled?);
        }
        let first = *estimates.first()?;
        let same = estimates
            .iter()
            .all(|e| (e - first).abs() <= 1e-5 * (1.0 + first.abs()));
        same.then_some(first)
    }

    fn judge(&self) -> Verdict {
        let reply = self.context.reply;
        let claims: Vec<_> = reply
            .claims
            .iter()
            .filter(|c| !c.values.is_empty())
            .collect();
        let denies = said(&reply.words) == Said::Diverges || reply.words.contains("no limit");
        let count = self.leaves.len();
        let infinite = claims
            .iter()
            .find_map(|claim| signed_infinity(claim.values.last()?));
        let roles = sample::roles(&self.leaves, &[]);
        let place = sample::place(&roles, 0);
        let first = self.limit(&place);
        if self.context.budget.is_spent() {
            return Verdict::cannot_tell(super::program::TOO_LARGE);
        }
        let exists = |told: String| Verdict::fails_at("the limit exists", told);
        match first {
            Limit::Unknown => {
                if let (0, Some(estimate), [claim]) = (count, self.estimate(), claims.as_slice()) {
                    let value = compile(&claim.values[0], &mut Leaves::default())
                        .ok()
                        .and_then(|program| program.value(&[], self.context.budget));
                    if value.is_some_and(|v| (v - estimate).abs() <= 1e-5 * (1.0 + v.abs())) {
                        return Verdict::Holds;
                    }
                }
                Verdict::cannot_tell("the limit could not be found")
            }
            Limit::None => match (denies, infinite, claims.is_empty()) {
                (true, None, _) => Verdict::Holds,
                (_, _, true) if said(&reply.words) != Said::Converges => {
                    Verdict::cannot_tell("the answer holds no formula")
                }
                _ => Verdict::Fails {
                    reason: match self.asked.sequence {
                        true => "the sequence diverges".into(),
                        false => "the limit does not exist".into(),
                    },
                    witness: self.sides(&place),
                },
            },
            Limit::Infinite(sign) => match infinite {
                Some(claimed) if claimed == sign => Verdict::Holds,
                Some(_) => Verdict::Fails {
                    reason: "it tends to infinity with the other sign".into(),
                    witness: None,
                },
                // Infinite limits do not exist, some books say.
                None if denies => Verdict::Holds,
                None if claims.is_empty() && said(&reply.words) != Said::Converges => {
                    Verdict::cannot_tell("the answer holds no formula")
                }
                None if count > 0 => {
                    Verdict::cannot_tell("whether there is a limit may depend on the letters")
                }
                None => Verdict::Fails {
                    reason: format!("it tends to {}infinity", if sign { "" } else { "minus " }),
                    witness: None,
                },
            },
            Limit::OneSided(value) if denies || infinite.is_some() => {
                let _ = value;
                Verdict::cannot_tell("the function is defined on one side only")
            }
            Limit::Finite(value) if denies || infinite.is_some() => match count {
                0 => exists(format!("it is {}", sample::number(value))),
                _ => Verdict::cannot_tell("whether there is a limit may depend on the letters"),
            },
            Limit::Finite(_) | Limit::OneSided(_) => {
                if claims.is_empty() {
                    return match said(&reply.words) == Said::Converges && count == 0 {
                        true => Verdict::Holds,
                        false => Verdict::cannot_tell("the answer holds no formula"),
                    };
                }
                let value = |place: &[f64]| match self.limit(place) {
                    Limit::Finite(value) | Limit::OneSided(value) => Some(value),
                    _ => None,
                };
                let quantity = Quantity {
                    name: "the limit",
                    leaves: self.leaves.clone(),
                    variables: self.leaves.as_slice().to_vec(),
                    smooth: true,
                    tolerance: 1e-8,
                    value: &value,
                };
                let verdicts: Vec<Verdict> = claims
                    .iter()
                    .map(|claim| quantity.judge(self.context, claim))
                    .collect();
                let verdict = all(verdicts);
                if let (0, Verdict::Fails { .. }, Limit::Finite(limit)) = (count, &verdict, first)
                    && let Some(other) = claims
                        .first()
                        .and_then(|claim| compile(&claim.values[0], &mut Leaves::default()).ok())
                        .and_then(|program| program.value(&[], self.context.budget))
                    && !self.supports(limit, other)
                {
                    return Verdict::cannot_tell("the limit could not be confirmed by values");
                }
                verdict
            }
        }
    }

    /// The two sides of a limit that does not exist.
    fn sides(&self, place: &[f64]) -> Option<String> {
        let approaches = self.approaches(place)?;
        let [above, below] = approaches.as_slice() else {
            return None;
        };
        let others = self.others(place);
        let told = |approach: &Approach| {
            let body = &self.asked.body;
            let germ = expand(
                body,
                &self.asked.letter,
                *approach,
                &others,
                self.context.budget,
            )?;
            match germ.tendency() {
                Tendency::Finite(value) => Some(sample::number(value)),
                Tendency::Infinite(true) => Some("∞".to_owned()),
                Tendency::Infinite(false) => Some("−∞".to_owned()),
                Tendency::Alternates | Tendency::Unknown => None,
            }
        };
        Some(format!(
            "from the right it is {}, from the left {}",
            told(above)?,
            told(below)?
        ))
    }
}
