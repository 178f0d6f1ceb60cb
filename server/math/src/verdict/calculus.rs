//! Is this the right answer about derivatives, integrals, limits, sums and differential equations?
//!
//! [`question`] tells what exactly is asked. The answer is then held against the problem by
//! computing: [`program`] and [`jet`] give values and derivatives of any formula, [`sample`]
//! compares two quantities in many places, [`quadrature`] integrates.

mod antiderivative;
mod definite;
mod derivative;
mod differential_equation;
mod geometry;
mod germ;
mod gradient;
mod graph;
mod implicit;
mod integral;
mod jet;
mod limit;
mod power_series;
mod program;
mod quadrature;
mod quantity;
mod question;
mod sample;
mod series;
mod summation;
mod tangent;
mod taylor;
mod transform;
mod zeros;

use super::Verdict;
use crate::expression::{Expression, Function, Operator, SeriesOperator};
use crate::problem::{Part, Problem, Task};
use program::Budget;
use question::{Question, Reply};

/// What all judges of one problem share.
struct Context<'a> {
    question: &'a Question<'a>,
    reply: &'a Reply,
    budget: &'a Budget,
}

impl Context<'_> {
    /// The same number is written in the problem.
    fn is_given(&self, number: &Expression) -> bool {
        let mut parts = self.question.formulas.iter().flat_map(Expression::parts);
        parts.any(|part| part == number)
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Derivative,
    Gradient,
    Implicit,
    Tangent,
    Integral,
    DifferentialEquation,
    Limit,
    Series,
    PowerSeries,
    Taylor,
    Transform,
    Geometry,
    Graph,
}

/// The verdict for a problem of calculus; none if it is not one.
pub(super) fn judge(
    problem: &Problem,
    statement: &[Part<'_>],
    answer: &[Part<'_>],
) -> Option<Verdict> {
    if problem.task == Task::Matrix {
        return None;
    }
    let question = Question::read(statement, problem).ok()?;
    // "Evaluate, or state that it diverges" is no proof.
    let proves = [
        "prove ",
        "show that",
        "derive ",
        "justify ",
        "verify ",
        "define ",
    ];
    let computes = [
        "then, evaluate",
        "then evaluate",
        "then find",
        "and evaluate",
        "and find",
    ];
    if problem.task == Task::Statement && question.says(&proves) && !question.says(&computes) {
        return None;
    }
    let kind = kind(&question)?;
    let reply = match question.reply(answer) {
        Ok(reply) => reply,
        Err(reason) => return Some(Verdict::cannot_tell(reason)),
    };
    let claimed = reply.claims.iter().map(|claim| &claim.whole);
    let has_logarithm = question
        .formulas
        .iter()
        .chain(claimed)
        .flat_map(Expression::parts)
        .any(|part| matches!(part.operator(), Operator::Function(Function::Log)));
    let judge = |natural_logarithm| {
        let budget = Budget::new(natural_logarithm);
        let context = Context {
            question: &question,
            reply: &reply,
            budget: &budget,
        };
        match kind {
            Kind::Derivative => derivative::judge(&context),
            Kind::Gradient => gradient::judge(&context),
            Kind::Implicit => implicit::judge(&context),
            Kind::Tangent => tangent::judge(&context),
            Kind::Integral => integral::judge(&context),
            Kind::DifferentialEquation => differential_equation::judge(&context),
            Kind::Limit => limit::judge(&context),
            Kind::Series => series::judge(&context),
            Kind::PowerSeries => power_series::judge(&context),
            Kind::Taylor => taylor::judge(&context),
            Kind::Transform => transform::judge(&context),
            Kind::Geometry => geometry::judge(&context),
            Kind::Graph => graph::judge(&context),
        }
    };
    if !has_logarithm {
        return Some(judge(true));
    }
    // Books differ about the base of `\log`: an answer that is right for either base is right.
    match (judge(true), judge(false)) {
        (Verdict::Holds, _) | (_, Verdict::Holds) => Some(Verdict::Holds),
        (Verdict::Fails { .. }, Verdict::CannotTell { reason }) => {
            Some(Verdict::CannotTell { reason })
        }
        (natural, _) => Some(natural),
    }
}

fn kind(question: &Question<'_>) -> Option<Kind> {
    let task = question.problem.task;
    let asks = |phrases: &[&str]| question.says(phrases);
    let named = || {
        question
            .formulas
            .iter()
            .find_map(question::named_derivative)
    };
    let is_equation = |formula: &Expression| {
        formula.as_equation().is_some_and(|(left, right)| {
            let zero = Expression::difference(left.clone(), right.clone());
            question::variables(&zero).len() >= 2
        })
    };
    let has_curve = || {
        question.formulas.iter().any(|formula| {
            is_equation(formula)
                && !question.definitions.iter().any(|known| {
                    formula
                        .as_equation()
                        .is_some_and(|(_, right)| known.body == *right)
                })
        })
    };
    let is_transform = |formula: &Expression| match formula.as_equation() {
        Some((left, _)) => transform::named(left).is_some(),
        None => transform::named(formula).is_some(),
    };
    let differential = question
        .formulas
        .iter()
        .any(differential_equation::is_differential);
    if (asks(&["laplace transform", "inverse laplace"]) && !differential)
        || question.formulas.iter().any(is_transform)
            && asks(&["transform", "find", "compute"])
            && !asks(&["approximation", "linearization", "tangent"])
    {
        return Some(Kind::Transform);
    }
    if asks(&["radius of convergence", "interval of convergence"]) {
        return Some(Kind::PowerSeries);
    }
    let taylor = [
        "taylor",
        "maclaurin",
        "power series",
        "linear approximation",
        "linearization",
        "quadratic approximation",
    ];
    if asks(&taylor)
        && !question
            .formulas
            .iter()
            .any(differential_equation::is_differential)
    {
        return Some(Kind::Taylor);
    }
    if asks(&["implicit"]) && !(differential && asks(&["solution", "solve"])) {
        return Some(Kind::Implicit);
    }
    if asks(&["tangent line", "normal line", "line tangent", "line normal"])
        && !asks(&["slope of", "horizontal"])
    {
        return Some(Kind::Tangent);
    }
    if question
        .formulas
        .iter()
        .any(differential_equation::is_differential)
        && !asks(&["equilibri", "verify", "show that", "classify"])
    {
        return Some(Kind::DifferentialEquation);
    }
    if asks(&[
        "critical number",
        "critical point",
        "critical value",
        "stationary point",
        "inflection",
        "is increasing",
        "is decreasing",
        "concave",
        "concavity",
        "intervals of increase",
        "increasing or decreasing",
        "increasing and decreasing",
        "$ increasing",
        "$ decreasing",
    ]) && task != Task::Equation
        && question
            .definitions
            .iter()
            .all(|known| known.variables.len() <= 1)
    {
        return Some(Kind::Graph);
    }
    let measured = [
        "area of the region",
        "area under",
        "area between",
        "area bounded",
        "area enclosed",
        "average value",
        "arc length",
        "length of the curve",
        "length of the graph",
        "volume of the solid",
        "volume generated",
        "find the area",
        "surface area",
        "area of the surface",
        "find the volume",
        "exact length",
    ];
    let has_integral = question.has(|operator| matches!(operator, Operator::Integral(_)));
    let is_of_vectors = asks(&[
        "parallelogram",
        "parallelepiped",
        "determined by the vectors",
    ]);
    if asks(&measured) && !has_integral && !is_of_vectors && !question.definitions.is_empty() {
        return Some(Kind::Geometry);
    }
    let top = |wanted: fn(&Operator) -> bool| {
        question.formulas.iter().any(|formula| {
            wanted(formula.operator())
                || matches!(formula.operator(), Operator::Relation(_))
                    && formula
                        .operands()
                        .iter()
                        .any(|side| wanted(side.operator()))
        })
    };
    if top(|operator| matches!(operator, Operator::Limit(_))) {
        return Some(Kind::Limit);
    }
    if asks(&["sequence"]) && asks(&["converge", "diverge", "limit"]) && !asks(&["partial sum"]) {
        return Some(Kind::Limit);
    }
    let has_series =
        question.has(|operator| matches!(operator, Operator::Series(SeriesOperator::Sum, _)));
    let calculates = asks(&[
        "converge",
        "diverge",
        "sum",
        "evaluate",
        "find",
        "compute",
        "calculate",
        "ratio test",
        "root test",
        "integral test",
        "comparison test",
        "series test",
    ]) || question.words.trim().trim_matches('$').trim().is_empty();
    if has_series && calculates && !asks(&["derivative", "differentiate"]) {
        return Some(Kind::Series);
    }
    if question.has(|operator| matches!(operator, Operator::Integral(_)))
        && !asks(&["derivative", "differentiate"])
        && named().is_none()
    {
        return Some(Kind::Integral);
    }
    if asks(&[
        "gradient",
        "directional derivative",
        "maximum rate of change",
        "derivative of the function in the direction",
    ]) {
        return Some(Kind::Gradient);
    }
    if asks(&[
        "antiderivative",
        "integrate ",
        "indefinite integral",
        "anti-derivative",
    ]) {
        return Some(Kind::Integral);
    }
    let differentiates = task == Task::Differentiate
        || asks(&[
            "derivative",
            "differentiate",
            "dy/dx",
            "rate of change",
            "find the velocity",
            "velocity function",
            "acceleration function",
            "find the acceleration",
            "f'(",
            "y'",
        ])
        || asks(&["slope of"]) && (asks(&["tangent", "normal", "curve"]) || !asks(&["line"]))
        || named().is_some();
    if differentiates {
        return Some(match question.definitions.is_empty() && has_curve() {
            true => Kind::Implicit,
            false => Kind::Derivative,
        });
    }
    None
}
