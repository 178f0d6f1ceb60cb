//! Is this the derivative of a function that an equation defines?
//!
//! An answer may be simplified by the equation itself, so that it is right only on the curve. Points
//! of the curve are found by Newton's method, and the function through each is developed into a
//! [`Jet`], one coefficient after the other.

use super::Context;
use super::jet::Jet;
use super::program::{Budget, Leaves, Program, compile, symbol_expression};
use super::quantity::all;
use super::question::{self, Claim, named_derivative};
use super::sample::{self, Comparison, Role};
use crate::expression::{Differentiation, Expression, Operator, Symbol};
use crate::verdict::Verdict;

/// A curve F(x, y) = 0.
pub(super) struct Curve {
    pub(super) x: Symbol,
    pub(super) y: Symbol,
    pub(super) leaves: Leaves,
    zero: Program,
}

impl Curve {
    /// The first equation of the statement, with the letters that vary along it.
    pub(super) fn asked(context: &Context<'_>) -> Option<Self> {
        let question = context.question;
        let equation = question.formulas.iter().find(|formula| {
            formula.as_equation().is_some_and(|(left, right)| {
                named_derivative(left).is_none()
                    && question::variables(&Expression::difference(left.clone(), right.clone()))
                        .len()
                        >= 2
            })
        })?;
        let (left, right) = equation.as_equation()?;
        let zero = Expression::difference(left.clone(), right.clone());
        let named = question.formulas.iter().find_map(named_derivative);
        let letters = question::variables(&zero);
        let (mut x, mut y) = (letters[0].clone(), letters[1].clone());
        // dx/dt = ... in letters of one's own, or dx/dy.
        if let Some(named) = named
            && let (Some(function), Some((Some(by), _))) =
                (named.function.as_symbol(), named.by.first())
        {
            (x, y) = (by.clone(), function.clone());
        } else if let Some((function, by)) = named_in_words(&question.words, &letters) {
            (x, y) = (by, function);
        }
        Self::of(x, y, &zero)
    }

    pub(super) fn of(x: Symbol, y: Symbol, zero: &Expression) -> Option<Self> {
        let mut leaves = Leaves::of_symbols([&x, &y]);
        let zero = compile(zero, &mut leaves).ok()?;
        Some(Self { x, y, leaves, zero })
    }

    /// A curve whose first two leaves are the letters that vary along it.
    pub(super) fn with_leaves(x: Symbol, y: Symbol, leaves: Leaves, zero: Program) -> Self {
        Self { x, y, leaves, zero }
    }

    /// F and its derivative by y where the leaves have these values.
    fn at(&self, leaves: &[f64], budget: &Budget) -> Option<(f64, f64)> {
        let jets: Vec<Jet> = leaves
            .iter()
            .enumerate()
            .map(|(place, value)| match place {
                1 => Jet::variable(*value, 2),
                _ => Jet::constant(*value, 2),
            })
            .collect();
        let jet = self.zero.jet(&jets, 2, budget)?;
        Some((jet.value(), jet.coefficient(1)))
    }

    /// A value of y on the curve for the other leaves, from where y stands now.
    pub(super) fn solve(&self, leaves: &mut [f64], budget: &Budget) -> Option<()> {
        for _ in 0..40 {
            let (value, slope) = self.at(leaves, budget)?;
            if value == 0.0 {
                return Some(());
            }
            if slope == 0.0 {
                return None;
            }
            let step = value / slope;
            leaves[1] -= step;
            if step.abs() <= 1e-15 * leaves[1].abs().max(1e-3) {
                let (value, slope) = self.at(leaves, budget)?;
                let is_near = (value / slope).abs() <= 1e-12 * leaves[1].abs().max(1e-3);
                return is_near.then_some(());
            }
        }
        None
    }

    /// The function y of x through a point of the curve.
    pub(super) fn develop(&self, leaves: &[f64], length: usize, budget: &Budget) -> Option<Jet> {
        let (_, slope) = self.at(leaves, budget)?;
        if slope.abs() < 1e-9 {
            return None;
        }
        let mut jets: Vec<Jet> = leaves
            .iter()
            .map(|value| Jet::constant(*value, length))
            .collect();
        jets[0] = Jet::variable(leaves[0], length);
        for order in 1..length {
            let miss = self.zero.jet(&jets, length, budget)?.coefficient(order);
            let mut correction = Jet::constant(0.0, length);
            correction.set(order, -miss / slope);
            jets[1].add_to(&correction);
        }
        Some(jets.swap_remove(1))
    }
}

/// "dy/dx" among the words, in the letters of the equation.
fn named_in_words(words: &str, letters: &[Symbol]) -> Option<(Symbol, Symbol)> {
    for function in letters {
        for by in letters {
            let named = format!("d{}/d{}", function.name(), by.name());
            if function != by && words.contains(&named.to_lowercase()) {
                return Some((function.clone(), by.clone()));
            }
        }
    }
    None
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(curve) = Curve::asked(context) else {
        return Verdict::cannot_tell("the equation of the curve is not understood");
    };
    let verdicts: Vec<Verdict> = context
        .reply
        .claims
        .iter()
        .map(|claim| hold(context, &curve, claim))
        .collect();
    all(verdicts)
}

fn hold(context: &Context<'_>, curve: &Curve, claim: &Claim) -> Verdict {
    let question = context.question;
    let asked = question.formulas.iter().find_map(named_derivative);
    let named = claim.label.as_ref().and_then(named_derivative);
    if claim.label.is_some() && named.is_none() {
        let is_slope = |label: &Expression| label.as_symbol().is_some_and(|s| s.name() == "m");
        if !claim.label.as_ref().is_some_and(is_slope) {
            return Verdict::cannot_tell("it is not clear which derivative is meant");
        }
    }
    let mut order = match named.as_ref().or(asked.as_ref()) {
        Some(named) => named.order() as usize,
        None if question.says(&["second derivative", "y''", "d^2y/dx^2"]) => 2,
        None => 1,
    };
    if order == 0 || order > 6 {
        order = 1;
    }
    let point = point(context, curve);
    let mut leaves = curve.leaves.clone();
    let known = leaves.len();
    // Lower derivatives may stand in the answer.
    let y = symbol_expression(&curve.y);
    let x = symbol_expression(&curve.x);
    let mut lower = Vec::new();
    for below in 1..order as u32 {
        let by = Differentiation {
            partial: false,
            orders: [below].into_iter().collect(),
        };
        let fraction = Expression::new(Operator::Derivative(Box::new(by)), [y.clone(), x.clone()]);
        let prime = Expression::new(Operator::Prime(below), [y.clone()]);
        lower.push((leaves.place(&fraction), below as usize));
        lower.push((leaves.place(&prime), below as usize));
    }
    let mut verdicts = Vec::new();
    for value in &claim.values {
        let program = match compile(value, &mut leaves) {
            Ok(program) => program,
            Err(reason) => return Verdict::cannot_tell(reason),
        };
        if leaves.len() > known + lower.len() {
            return Verdict::cannot_tell("the answer holds a letter of its own");
        }
        let budget = context.budget;
        let answered = |at: &[f64], jet: &Jet| {
            let mut all = at.to_vec();
            all.resize(leaves.len(), 0.0);
            for (place, below) in &lower {
                all[*place] = jet.derivative(*below);
            }
            program.value(&all, budget)
        };
        if let Some(point) = &point {
            let mut at: Vec<f64> = vec![1.3; known];
            at[..2].copy_from_slice(point);
            let Some(jet) = curve.develop(&at, order + 1, budget) else {
                return Verdict::cannot_tell("the curve has no slope at this point");
            };
            if let Some((value, _)) = curve.at(&at, budget)
                && value.abs() > 1e-6
            {
                return Verdict::cannot_tell("the point is not on the curve");
            }
            let (truth, given) = (jet.derivative(order), answered(&at, &jet));
            let Some(given) = given else {
                return Verdict::cannot_tell("the answer has no value at this point");
            };
            verdicts.push(match sample::agree(truth, given) {
                Some(true) => Verdict::Holds,
                Some(false) => {
                    let (truth, given) = sample::numbers(truth, given);
                    Verdict::fails_at(
                        "it is not the derivative",
                        format!("the derivative there is {truth}, the answer gives {given}"),
                    )
                }
                None => Verdict::cannot_tell("the values are too close to tell"),
            });
            continue;
        }
        let roles: Vec<Role> = sample::roles(&curve.leaves, &[x.clone(), y.clone()]);
        let mut shown: Vec<f64> = Vec::new();
        let comparison = sample::compare(&roles, true, |place| {
            let mut at = place.to_vec();
            curve.solve(&mut at, budget)?;
            let jet = curve.develop(&at, order + 1, budget)?;
            let truth = jet.derivative(order);
            let given = answered(&at, &jet)?;
            if sample::agree(truth, given) == Some(false) {
                shown = at;
            }
            Some((truth, given))
        });
        verdicts.push(match comparison {
            Comparison::Equal => Verdict::Holds,
            Comparison::Different(witness) => {
                let (truth, given) = sample::numbers(witness.left, witness.right);
                let told = sample::told(&curve.leaves, &shown);
                Verdict::fails_at(
                    "it is not the derivative",
                    format!(
                        "at the point {told} of the curve the derivative is {truth}, \
                         the answer gives {given}"
                    ),
                )
            }
            Comparison::Unknown => {
                Verdict::cannot_tell("too few points of the curve could be found")
            }
        });
    }
    all(verdicts)
}

/// The point of the curve that the statement names.
pub(super) fn point(context: &Context<'_>, curve: &Curve) -> Option<[f64; 2]> {
    let question = context.question;
    let number = |value: &Expression| {
        let program = compile(value, &mut Leaves::default()).ok()?;
        program.value(&[], context.budget)
    };
    let (mut x, mut y) = (None, None);
    for formula in &question.formulas {
        match formula.operator() {
            Operator::Tuple(_) | Operator::Interval(_) if formula.operands().len() == 2 => {
                return Some([
                    number(&formula.operands()[0])?,
                    number(&formula.operands()[1])?,
                ]);
            }
            _ => {}
        }
        if let Some((left, right)) = formula.as_equation() {
            match left.as_symbol() {
                Some(letter) if *letter == curve.x => x = number(right),
                Some(letter) if *letter == curve.y => y = number(right),
                _ => {}
            }
        }
        if let Some(named) = named_derivative(formula)
            && let [(_, x), (_, y)] = named.at.as_slice()
        {
            return Some([number(x)?, number(y)?]);
        }
    }
    Some([x?, y?])
}
