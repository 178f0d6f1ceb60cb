//! How does a template fit a formula?
//!
//! The matcher walks template and formula together and fills holes as it goes; where there is more
//! than one way, it tries them in turn, within a limit of steps. Each function is given what is to
//! be done next, and says whether that, too, succeeded.
//!
//! A *product* is matched factor by factor: first the factors without holes, then those with a
//! structure of their own, and what is left is shared out among the plain holes by the letters
//! that each may contain. A *sum* is matched as a polynomial: once every part of the template
//! besides its coefficients is known, the coefficients are read off.

use std::cell::{OnceCell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;

use smallvec::SmallVec;

use super::conditions::{Condition, Scene, is_derivative, is_number};
use super::template::{Form, Role, Template, renamed};
use crate::expression::{
    Bounds, Constant, Expression, Operator, Relation, SeriesRange, Side, Symbol,
};
use crate::laws::Law;
use crate::linear::Matrix;
use crate::normal_form::{Monomial, Normal, Polynomial, Steps, Unfit, normal_with_steps};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent, Factor, Term};
use crate::views::{self, Truth};

/// Normal forms that were worked out before. One search asks for the same ones again and again.
#[derive(Default)]
pub(crate) struct Known(RefCell<HashMap<Expression, Collected>>);

type Collected = Rc<Result<(Normal, Steps), Unfit>>;

/// At most so many normal forms are kept.
const MAX_KNOWN: usize = 4_096;

impl Known {
    /// The normal form of an expression, and what had to be done to reach it.
    pub(crate) fn collected(&self, expression: &Expression) -> Collected {
        if let Some(known) = self.0.borrow().get(expression) {
            return Rc::clone(known);
        }
        let new = Rc::new(normal_with_steps(expression));
        let mut known = self.0.borrow_mut();
        if known.len() < MAX_KNOWN {
            known.insert(expression.clone(), Rc::clone(&new));
        }
        new
    }

    fn normal(&self, expression: &Expression) -> Option<Normal> {
        match &*self.collected(expression) {
            Ok((normal, _)) => Some(normal.clone()),
            Err(_) => None,
        }
    }
}

/// A formula to be matched, with what is computed of it once for all templates.
pub(crate) struct Subject<'p> {
    pub(crate) formula: Expression,
    pub(crate) problem: &'p Problem,
    known: &'p Known,
    zero: OnceCell<Option<(Normal, Steps)>>,
}

impl<'p> Subject<'p> {
    pub(crate) fn new(formula: Expression, problem: &'p Problem, known: &'p Known) -> Self {
        Self {
            formula,
            problem,
            known,
            zero: OnceCell::new(),
        }
    }

    /// The left side minus the right side, collected.
    fn zero_form(&self) -> Option<&(Normal, Steps)> {
        let zero = self.zero.get_or_init(|| {
            let (left, _, right) = self.formula.as_relation()?;
            let right = Expression::negative(right.clone());
            normal_with_steps(&Expression::sum([left.clone(), right])).ok()
        });
        zero.as_ref()
    }
}

/// What a match found.
pub(super) struct Found {
    /// What had to be done beyond the laws that led to the formula.
    pub(super) laws: Vec<Law>,
    /// What fills each hole, by the number of the hole.
    pub(super) holes: Vec<Expression>,
    /// Terms had to be moved to another side.
    pub(super) is_rearranged: bool,
}

/// How the template fits the formula, if it does. Takes steps from the budget.
pub(super) fn find(
    template: &Template,
    conditions: &[Condition],
    subject: &Subject<'_>,
    budget: &mut u32,
) -> Option<Found> {
    for letters in assignments(template, subject) {
        let name = |symbol: &Symbol| -> Symbol {
            let found = letters.iter().find(|(variable, _)| variable == symbol);
            found.map_or_else(|| symbol.clone(), |(_, letter)| letter.clone())
        };
        let body = renamed(&template.body, &name);
        let mut variables: Vec<Symbol> = letters.iter().map(|(_, letter)| letter.clone()).collect();
        for symbol in subject
            .problem
            .variables
            .iter()
            .chain(&subject.problem.unknowns)
        {
            if !variables.contains(symbol) {
                variables.push(symbol.clone());
            }
        }
        let main = template
            .variables
            .iter()
            .position(|v| v.role == Role::Bound);
        let main = main.or(template
            .variables
            .iter()
            .position(|v| v.role == Role::Letter));
        let mut matcher = Matcher {
            known: subject.known,
            template,
            conditions,
            renamed: OnceCell::new(),
            letters: &letters,
            variables: &variables,
            main: main.map(|place| &letters[place].1),
            holes: vec![None; template.holes.len()],
            steps: Steps::default(),
            laws: Vec::new(),
            is_rearranged: false,
            budget,
        };
        let mut result = None;
        matcher.formula(&body, subject, &mut |matcher| {
            result = matcher.finish();
            result.is_some()
        });
        if result.is_some() {
            return result;
        }
    }
    None
}

/// The letters of the problem for the variables of the template, in every way that fits.
fn assignments(template: &Template, subject: &Subject<'_>) -> Vec<Vec<(Symbol, Symbol)>> {
    let problem = subject.problem;
    let bound = pair_bound(&template.body, &subject.formula);
    let mut ways: Vec<Vec<(Symbol, Symbol)>> = vec![Vec::new()];
    for (number, variable) in template.variables.iter().enumerate() {
        let phantom = || Symbol::new(&format!("\u{e002}{number}"));
        let candidates: Vec<Symbol> = match variable.role {
            Role::Unknown => problem.unknowns.clone(),
            Role::Bound => match bound.iter().find(|(name, _)| *name == variable.name) {
                Some((_, letter)) => vec![letter.clone()],
                // dx outside an integral.
                None => {
                    let both = problem.variables.iter().chain(&problem.unknowns);
                    both.cloned().collect()
                }
            },
            Role::Letter => {
                let both = problem.variables.iter().chain(&problem.unknowns);
                both.filter(|s| subject.formula.mentions(s))
                    .cloned()
                    .collect()
            }
            Role::Background => {
                // What a solution of the problem depends on need not be written.
                match problem.variables.is_empty() {
                    true => vec![phantom()],
                    false => problem.variables.clone(),
                }
            }
        };
        let mut longer = Vec::new();
        for way in &ways {
            for candidate in &candidates {
                if !way.iter().any(|(_, letter)| letter == candidate) {
                    let mut way = way.clone();
                    way.push((variable.name.clone(), candidate.clone()));
                    longer.push(way);
                }
            }
            if variable.role == Role::Background && longer.is_empty() {
                let mut way = way.clone();
                way.push((variable.name.clone(), phantom()));
                longer.push(way);
            }
        }
        longer.truncate(MAX_ASSIGNMENTS);
        ways = longer;
    }
    ways
}

/// At most so many ways to name the variables are tried: all orders of four letters.
const MAX_ASSIGNMENTS: usize = 24;

/// The bound letters of the operators that both have, in the order of the text.
fn pair_bound(template: &Expression, formula: &Expression) -> Vec<(Symbol, Symbol)> {
    let binders = |expression: &Expression| -> Vec<(u8, Vec<Symbol>)> {
        let mut binders = Vec::new();
        for part in expression.parts() {
            let operands = part.operands();
            let (kind, letters) = match part.operator() {
                Operator::Integral(integration) => (
                    0,
                    operands.iter().skip(1).take(integration.variables as usize),
                ),
                Operator::Limit(_) => (1, operands.iter().skip(1).take(1)),
                Operator::Series(..) => (2, operands.iter().skip(1).take(1)),
                Operator::Derivative(by) => (3, operands.iter().skip(1).take(by.orders.len())),
                _ => continue,
            };
            binders.push((
                kind,
                letters.filter_map(|l| l.as_symbol().cloned()).collect(),
            ));
        }
        binders
    };
    let mut pairs = Vec::new();
    for ((kind, names), (other, letters)) in binders(template).iter().zip(&binders(formula)) {
        if kind == other && names.len() == letters.len() {
            pairs.extend(names.iter().cloned().zip(letters.iter().cloned()));
        }
    }
    pairs
}

/// What fills a hole.
#[derive(Clone)]
struct Value {
    expression: Expression,
    normal: Option<Normal>,
}

impl Value {
    fn of_expression(expression: &Expression, known: &Known) -> Self {
        Self {
            expression: expression.clone(),
            normal: known.normal(expression),
        }
    }

    fn of_normal(normal: Normal) -> Self {
        Self {
            expression: normal.to_expression(),
            normal: Some(normal),
        }
    }
}

/// A coefficient and powers of bases, which may be sums.
#[derive(Clone, Debug)]
struct Product {
    coefficient: Rational,
    powers: Monomial,
    /// Sums among the bases that were written otherwise.
    written: SmallVec<[(Expression, Expression); 1]>,
}

impl Product {
    fn new(coefficient: Rational, powers: Monomial) -> Self {
        Self {
            coefficient,
            powers,
            written: SmallVec::new(),
        }
    }

    fn one() -> Self {
        Self::new(Rational::ONE, Monomial::one())
    }

    /// The same bases as written, with other powers.
    fn with_powers(&self, powers: Monomial) -> Self {
        Self {
            powers,
            ..self.clone()
        }
    }

    fn is_one(&self) -> bool {
        self.coefficient.is_one() && self.powers.is_one()
    }

    fn without(&self, kernel: &Expression) -> Self {
        self.with_powers(self.powers.split(|k| k == kernel).1)
    }

    /// As an expression, with its factors as they are.
    fn to_expression(&self) -> Expression {
        let powers = self.powers.powers().iter().map(|(kernel, exponent)| {
            let written = self.written.iter().find(|(known, _)| known == kernel);
            let base = written.map_or(kernel, |(_, written)| written);
            power_of(base.clone(), Expression::rational(&exponent.to_big()))
        });
        let coefficient = Expression::rational(&self.coefficient.to_big());
        let factors: Vec<Expression> = match self.coefficient.is_one() && !self.powers.is_one() {
            true => powers.collect(),
            false => std::iter::once(coefficient).chain(powers).collect(),
        };
        Expression::product(factors)
    }

    /// About how many terms it has when it is multiplied out.
    fn size(&self) -> usize {
        let powers = self.powers.powers().iter();
        let sizes = powers.map(|(kernel, exponent)| {
            let terms = match kernel.operator() {
                Operator::Sum => kernel.operands().len() - 1,
                _ => 0,
            };
            let times = exponent
                .abs()
                .as_i64()
                .and_then(|times| usize::try_from(times).ok());
            terms * times.unwrap_or(1)
        });
        1 + sizes.sum::<usize>()
    }

    /// As a number; sums are multiplied out.
    fn normal(&self, known: &Known) -> Option<Normal> {
        let mut product = Normal::constant(self.coefficient.clone());
        for (kernel, exponent) in self.powers.powers() {
            let power = known.normal(kernel)?.pow(exponent).ok()?;
            product = product.multiply(&power).ok()?;
        }
        Some(product)
    }
}

type Next<'n, 'm> = &'n mut dyn FnMut(&mut Matcher<'m>) -> bool;

struct Matcher<'m> {
    known: &'m Known,
    template: &'m Template,
    conditions: &'m [Condition],
    renamed: OnceCell<Vec<Condition>>,
    letters: &'m [(Symbol, Symbol)],
    variables: &'m [Symbol],
    main: Option<&'m Symbol>,
    holes: Vec<Option<Value>>,
    steps: Steps,
    laws: Vec<Law>,
    is_rearranged: bool,
    budget: &'m mut u32,
}

/// How a template's sum may differ from the formula's by a factor.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Scale {
    /// Not at all.
    Fixed,
    /// By a number, which the caller accounts for.
    Number,
    /// By anything that is not 0: both are compared with 0.
    Any,
}

/// A factor of a template with holes in it.
enum Pattern<'t> {
    /// e^{...}, 2^{...}, y^{...}: a base without holes and an exponent with some.
    Exponent {
        base: Expression,
        exponent: &'t Expression,
        negated: bool,
    },
    /// A function, or anything else with operands, to a power.
    Kernel {
        template: &'t Expression,
        exponent: Rational,
    },
    /// A sum to a power.
    Sum {
        template: &'t Expression,
        exponent: Rational,
    },
    /// Holes both in the base and in the exponent.
    Both {
        base: &'t Expression,
        exponent: &'t Expression,
        negated: bool,
    },
    /// A hole to the power of a letter: r^n.
    Letter { hole: usize, exponent: Normal },
    /// A hole to a power other than 1 and -1.
    Power { hole: usize, exponent: Rational },
    /// A hole by itself, above or below.
    Plain { hole: usize, below: bool },
}

impl<'m> Matcher<'m> {
    fn step(&mut self) -> bool {
        match self.budget.checked_sub(1) {
            Some(left) => {
                *self.budget = left;
                true
            }
            None => false,
        }
    }

    /// Pays for arithmetic with something of this many terms: to reduce a fraction takes the cube.
    fn pay(&mut self, size: usize) -> bool {
        let cost = size.saturating_pow(3) / 64;
        let cost = u32::try_from(cost).unwrap_or(u32::MAX);
        let is_paid = cost <= *self.budget;
        *self.budget = self.budget.saturating_sub(cost);
        is_paid
    }

    fn scene(&self) -> Scene<'m> {
        Scene {
            variables: self.variables,
            main: self.main,
        }
    }

    /// The number of the hole that an expression is, if nothing fills it yet.
    fn open_hole(&self, expression: &Expression) -> Option<usize> {
        let hole = self.template.hole(expression)?;
        self.holes[hole].is_none().then_some(hole)
    }

    /// Some hole in it is not filled.
    fn is_open(&self, expression: &Expression) -> bool {
        expression
            .parts()
            .any(|part| self.open_hole(part).is_some())
    }

    /// The expression with its holes filled; none if one is open.
    fn filled(&self, expression: &Expression) -> Option<Expression> {
        if self.is_open(expression) {
            return None;
        }
        Some(self.fill(expression))
    }

    fn fill(&self, expression: &Expression) -> Expression {
        if let Some(hole) = self.template.hole(expression) {
            return match &self.holes[hole] {
                Some(value) => value.expression.clone(),
                None => expression.clone(),
            };
        }
        if let Some(symbol) = expression.as_symbol() {
            // Conditions are not renamed for each problem.
            let found = self.letters.iter().find(|(variable, _)| variable == symbol);
            return match found {
                Some((_, letter)) => Expression::new(Operator::Symbol(letter.clone()), []),
                None => expression.clone(),
            };
        }
        expression.map_operands(|operand| self.fill(operand))
    }

    fn filled_normal(&self, expression: &Expression) -> Option<Normal> {
        self.known.normal(&self.filled(expression)?)
    }

    /// Fills a hole, if that is allowed, and goes on; empties it again if that fails.
    fn bind(&mut self, hole: usize, value: Value, next: Next<'_, 'm>) -> bool {
        if let Some(known) = &self.holes[hole] {
            return self.are_equal(known, &value) && next(self);
        }
        if !self.admits(hole, &value) {
            return false;
        }
        self.holes[hole] = Some(value);
        if !self.conditions_hold(hole) {
            self.holes[hole] = None;
            return false;
        }
        let done = next(self);
        if !done {
            self.holes[hole] = None;
        }
        done
    }

    fn are_equal(&self, left: &Value, right: &Value) -> bool {
        match (&left.normal, &right.normal) {
            (Some(a), Some(b)) => a == b,
            _ => left.expression == right.expression,
        }
    }

    fn admits(&self, hole: usize, value: &Value) -> bool {
        if self.template.holes[hole].leads && value.normal.as_ref().is_some_and(Normal::is_zero) {
            return false;
        }
        match &value.normal {
            Some(normal) => {
                let mut kernels = normal.kernels().into_iter();
                kernels.all(|kernel| self.may_contain(hole, kernel))
            }
            None => self.may_contain(hole, &value.expression),
        }
    }

    /// The letters in a part are among those that may occur in the hole.
    fn may_contain(&self, hole: usize, part: &Expression) -> bool {
        let Some(only) = &self.template.holes[hole].only else {
            return true;
        };
        !part.parts().any(|part| {
            // A derivative of y depends on more than y.
            is_derivative(part)
                || part.as_symbol().is_some_and(|symbol| {
                    self.variables.contains(symbol)
                        && !only.iter().any(|name| self.letter(name) == Some(symbol))
                })
        })
    }

    fn letter(&self, name: &Symbol) -> Option<&'m Symbol> {
        let found = self.letters.iter().find(|(variable, _)| variable == name);
        found.map(|(_, letter)| letter)
    }

    /// The conditions that speak of this hole alone.
    fn conditions_hold(&self, hole: usize) -> bool {
        let scene = self.scene();
        self.template.holes[hole].conditions.iter().all(|place| {
            let condition = &self.renamed_conditions()[*place];
            let mut fill = |expression: &Expression| self.filled(expression);
            condition.holds(&scene, &mut fill) == Truth::Yes
        })
    }

    /// The conditions with the letters of the problem for the variables.
    fn renamed_conditions(&self) -> &[Condition] {
        self.renamed.get_or_init(|| {
            let name = |symbol: &Symbol| self.letter(symbol).unwrap_or(symbol).clone();
            let mut conditions = self.conditions.to_vec();
            for condition in &mut conditions {
                condition.rename(&|expression| renamed(expression, &name), &name);
            }
            conditions
        })
    }

    /// All conditions hold: the match is complete.
    fn finish(&self) -> Option<Found> {
        let scene = self.scene();
        let all = self.renamed_conditions().iter().all(|condition| {
            let mut fill = |expression: &Expression| self.filled(expression);
            condition.holds(&scene, &mut fill) == Truth::Yes
        });
        if !all {
            return None;
        }
        let holes: Option<Vec<Expression>> = self
            .holes
            .iter()
            .map(|value| value.as_ref().map(|value| value.expression.clone()))
            .collect();
        let mut laws = self.laws.clone();
        laws.extend(Law::of_steps(self.steps));
        Some(Found {
            laws,
            holes: holes?,
            is_rearranged: self.is_rearranged,
        })
    }

    // ---------------------------------------------------------------------------------------
    // Whole formulas.

    fn formula(
        &mut self,
        template: &Expression,
        subject: &Subject<'_>,
        next: Next<'_, 'm>,
    ) -> bool {
        match (template.as_relation(), subject.formula.as_relation()) {
            (Some((tl, t_relation, tr)), Some((sl, s_relation, sr))) => {
                let is_order = |relation| {
                    matches!(
                        relation,
                        Relation::Less
                            | Relation::LessOrEqual
                            | Relation::Greater
                            | Relation::GreaterOrEqual
                    )
                };
                match (t_relation, s_relation) {
                    (Relation::Equal, Relation::Equal) => {
                        self.equation((tl, tr), (sl, sr), subject, next)
                    }
                    (t, s) if is_order(t) && is_order(s) => {
                        let is_less = |r| matches!(r, Relation::Less | Relation::LessOrEqual);
                        let (sl, sr) = match is_less(t) == is_less(s) {
                            true => (sl, sr),
                            false => (sr, sl),
                        };
                        self.order((tl, tr), (sl, sr), next)
                    }
                    (t, s) if t == s => self.node(tl, sl, &mut |m| m.node(tr, sr, next)),
                    _ => false,
                }
            }
            _ => self.node(template, &subject.formula, next),
        }
    }

    fn equation(
        &mut self,
        (tl, tr): (&Expression, &Expression),
        (sl, sr): (&Expression, &Expression),
        subject: &Subject<'_>,
        next: Next<'_, 'm>,
    ) -> bool {
        // As written, from either side.
        for (sl, sr) in [(sl, sr), (sr, sl)] {
            // The side with more to it decides sooner.
            let done = match tl.size() >= tr.size() {
                true => self.node(tl, sl, &mut |m| m.node(tr, sr, next)),
                false => self.node(tr, sr, &mut |m| m.node(tl, sl, next)),
            };
            if done {
                return true;
            }
        }
        let Some((zero, steps)) = subject.zero_form() else {
            return false;
        };
        // Fractions are brought to one denominator only for the comparison.
        let steps = &steps.without(Steps::COMMON_DENOMINATOR);
        let before = (self.steps, self.laws.len());
        self.is_rearranged = true;
        // Solved for a kernel that the template has alone on one side.
        for (alone, other) in [(tl, tr), (tr, tl)] {
            if self.is_open(alone) || surface::number(alone).is_some() {
                continue;
            }
            let Some(kernel) = self
                .filled_normal(alone)
                .and_then(|normal| only_kernel(&normal))
            else {
                continue;
            };
            let Some((slope, rest)) = views::linear_in(zero, &kernel) else {
                continue;
            };
            if slope.is_zero() {
                continue;
            }
            let Ok(value) = rest.negate().divide(&slope) else {
                continue;
            };
            if slope.as_constant().is_none() {
                self.laws.push(Law::DivideByCoefficient);
            }
            // Where the kernel has one side to itself, the other is matched as written.
            for (sl, sr) in [(sl, sr), (sr, sl)] {
                if let Some(coefficient) = coefficient_of(sl, &kernel)
                    && self.node(other, &Expression::fraction(sr.clone(), coefficient), next)
                {
                    return true;
                }
            }
            self.steps = self.steps | *steps;
            if self.node(other, &value.to_expression(), next) {
                return true;
            }
            self.steps = before.0;
            self.laws.truncate(before.1);
        }
        // A template that is one fraction or product, and equal to 0.
        for (alone, other) in [(tl, tr), (tr, tl)] {
            let is_single = surface::terms(alone).len() == 1 && self.open_hole(alone).is_none();
            if !is_single || surface::number(other).is_none_or(|number| !number.is_zero()) {
                continue;
            }
            self.steps = self.steps | *steps;
            if self.node(alone, &zero.to_expression(), next) {
                return true;
            }
            self.steps = before.0;
        }
        // Everything on one side.
        let mut terms = surface::terms(tl);
        surface::collect_terms(tr, true, &mut terms);
        terms.retain(|term| !term.coefficient.is_zero());
        let mut written = surface::terms(sl);
        surface::collect_terms(sr, true, &mut written);
        self.steps = self.steps | *steps;
        let done = self.sum(&terms, zero, Some(&written), Scale::Any, &mut |m, _| {
            next(m)
        });
        if !done {
            self.steps = before.0;
            self.laws.truncate(before.1);
            self.is_rearranged = false;
        }
        done
    }

    fn order(
        &mut self,
        (tl, tr): (&Expression, &Expression),
        (sl, sr): (&Expression, &Expression),
        next: Next<'_, 'm>,
    ) -> bool {
        if self.node(tl, sl, &mut |m| m.node(tr, sr, next)) {
            return true;
        }
        let difference = Expression::difference(sl.clone(), sr.clone());
        let collected = self.known.collected(&difference);
        let Ok((zero, steps)) = &*collected else {
            return false;
        };
        let mut terms = surface::terms(tl);
        surface::collect_terms(tr, true, &mut terms);
        terms.retain(|term| !term.coefficient.is_zero());
        let before = self.steps;
        self.is_rearranged = true;
        self.steps = self.steps | steps.without(Steps::COMMON_DENOMINATOR);
        let is_against_zero = surface::number(tr).is_some_and(|number| number.is_zero());
        if is_against_zero
            && surface::terms(tl).len() == 1
            && self.open_hole(tl).is_none()
            && self.node(tl, &zero.to_expression(), next)
        {
            return true;
        }
        let done = self.sum(&terms, zero, None, Scale::Number, &mut |m, scale| {
            // Only a positive factor keeps the direction.
            scale.as_constant().is_some_and(|scale| scale.is_positive()) && next(m)
        });
        if !done {
            self.is_rearranged = false;
            self.steps = before;
        }
        done
    }

    // ---------------------------------------------------------------------------------------
    // Parts.

    fn node(&mut self, template: &Expression, subject: &Expression, next: Next<'_, 'm>) -> bool {
        if !self.step() {
            return false;
        }
        if let Some(hole) = self.open_hole(template) {
            return self.bind(hole, Value::of_expression(subject, self.known), next);
        }
        if !self.is_open(template) {
            let template = self.fill(template);
            return same(&template, subject, self.known) && next(self);
        }
        match template.operator() {
            Operator::Sum
            | Operator::Negative
            | Operator::Product
            | Operator::Fraction
            | Operator::Power
            | Operator::Root
            | Operator::NthRoot
            | Operator::Function(_)
            | Operator::Number(_) => {
                let terms = surface::terms(template);
                match terms.as_slice() {
                    [term] => self.product(term, template, subject, next),
                    _ => {
                        let collected = self.known.collected(subject);
                        let Ok((normal, steps)) = &*collected else {
                            return self.structure(template, subject, next);
                        };
                        let before = self.steps;
                        self.steps = self.steps | *steps;
                        let written = surface::terms(subject);
                        let done =
                            self.sum(&terms, normal, Some(&written), Scale::Fixed, &mut |m, _| {
                                next(m)
                            });
                        if !done {
                            self.steps = before;
                        }
                        done
                    }
                }
            }
            _ => self.structure(template, subject, next),
        }
    }

    /// The same operator over operands that match in order.
    fn structure(
        &mut self,
        template: &Expression,
        subject: &Expression,
        next: Next<'_, 'm>,
    ) -> bool {
        let (t, s) = (template.operands(), subject.operands());
        match (template.operator(), subject.operator()) {
            (Operator::Integral(a), Operator::Integral(b)) => {
                if a.signs != b.signs || a.closed != b.closed || a.variables != b.variables {
                    return false;
                }
                let variables = a.variables as usize;
                let (Some(t_bounds), Some(s_bounds)) =
                    (t.get(1 + variables..), s.get(1 + variables..))
                else {
                    return false;
                };
                // A template without bounds is about the integrand.
                let (t_bounds, s_bounds) = match a.bounds {
                    Bounds::None => (&t[..0], &s[..0]),
                    _ if a.bounds == b.bounds => (t_bounds, s_bounds),
                    _ => return false,
                };
                let (t_body, s_body) = (&t[0], &s[0]);
                if self.node(t_body, s_body, &mut |m| {
                    m.in_order(t_bounds, s_bounds, next)
                }) {
                    return true;
                }
                self.without_factor(t_body, s_body, &mut |m| {
                    m.in_order(t_bounds, s_bounds, next)
                })
            }
            (Operator::Derivative(a), Operator::Derivative(b)) => {
                if a != b || t.len() != s.len() {
                    return false;
                }
                let (t_rest, s_rest) = (&t[1..], &s[1..]);
                self.in_order(t_rest, s_rest, &mut |m| m.node(&t[0], &s[0], next))
                    || self.in_order(t_rest, s_rest, &mut |m| {
                        m.without_factor(&t[0], &s[0], next)
                    })
            }
            (Operator::Limit(a), Operator::Limit(b)) => {
                let ([t_body, _, t_point], [s_body, _, s_point]) = (t, s) else {
                    return false;
                };
                // A template without a side is about either.
                (a == b || *a == Side::Both)
                    && self.node(t_point, s_point, &mut |m| m.node(t_body, s_body, next))
            }
            (Operator::Series(a, t_range), Operator::Series(b, s_range)) => {
                if a != b || t_range != s_range || t.len() != s.len() {
                    return false;
                }
                let places: SmallVec<[usize; 4]> = match t_range {
                    // Where a series starts changes its sum, not its kind.
                    SeriesRange::From | SeriesRange::Between
                        if surface::number(&t[2]).is_some() && surface::number(&s[2]).is_some() =>
                    {
                        (3..t.len()).collect()
                    }
                    SeriesRange::Condition => (1..t.len()).collect(),
                    _ => (2..t.len()).collect(),
                };
                let t_rest: Vec<Expression> = places.iter().map(|p| t[*p].clone()).collect();
                let s_rest: Vec<Expression> = places.iter().map(|p| s[*p].clone()).collect();
                self.in_order(&t_rest, &s_rest, &mut |m| m.node(&t[0], &s[0], next))
            }
            (Operator::System, Operator::System) => t.len() == s.len() && self.rows(t, s, next),
            (Operator::Relation(a), Operator::Relation(b)) if a == b => {
                self.row(template, subject, next)
            }
            (a, b) if a == b && t.len() == s.len() => self.in_order(t, s, next),
            _ => false,
        }
    }

    /// A relation that is part of a formula, such as a row of a system.
    fn row(&mut self, template: &Expression, subject: &Expression, next: Next<'_, 'm>) -> bool {
        let (Some((tl, relation, tr)), Some((sl, _, sr))) =
            (template.as_relation(), subject.as_relation())
        else {
            return self.in_order(template.operands(), subject.operands(), next);
        };
        if relation != Relation::Equal {
            return self.node(tl, sl, &mut |m| m.node(tr, sr, next));
        }
        let difference = Expression::difference(sl.clone(), sr.clone());
        let collected = self.known.collected(&difference);
        let Ok((zero, steps)) = &*collected else {
            return self.node(tl, sl, &mut |m| m.node(tr, sr, next));
        };
        let before = self.steps;
        self.steps = self.steps | *steps;
        let mut terms = surface::terms(tl);
        surface::collect_terms(tr, true, &mut terms);
        terms.retain(|term| !term.coefficient.is_zero());
        let done = self.sum(&terms, zero, None, Scale::Any, &mut |m, _| next(m));
        if !done {
            self.steps = before;
        }
        done
    }

    fn in_order(&mut self, t: &[Expression], s: &[Expression], next: Next<'_, 'm>) -> bool {
        match (t, s) {
            ([], []) => next(self),
            ([t, t_rest @ ..], [s, s_rest @ ..]) => {
                self.node(t, s, &mut |m| m.in_order(t_rest, s_rest, next))
            }
            _ => false,
        }
    }

    /// The rows of a system in any order.
    fn rows(&mut self, t: &[Expression], s: &[Expression], next: Next<'_, 'm>) -> bool {
        let [first, rest @ ..] = t else {
            return s.is_empty() && next(self);
        };
        for place in 0..s.len() {
            let row = s[place].clone();
            let mut others = s.to_vec();
            others.remove(place);
            if self.structure(first, &row, &mut |m| m.rows(rest, &others, next)) {
                return true;
            }
        }
        false
    }

    /// Matches what is left when a numeric factor is taken out.
    fn without_factor(
        &mut self,
        template: &Expression,
        subject: &Expression,
        next: Next<'_, 'm>,
    ) -> bool {
        let Some(product) = product_of(subject, self.known) else {
            return false;
        };
        if product.coefficient.is_one() {
            return false;
        }
        let one = Product::new(Rational::ONE, product.powers);
        self.laws.push(Law::ConstantFactor);
        let done = self.node(template, &one.to_expression(), next);
        if !done {
            self.laws.pop();
        }
        done
    }

    // ---------------------------------------------------------------------------------------
    // Products.

    fn product(
        &mut self,
        term: &Term<'_>,
        template: &Expression,
        subject: &Expression,
        next: Next<'_, 'm>,
    ) -> bool {
        if let (Operator::Power, Operator::Power) = (template.operator(), subject.operator())
            && template
                .operands()
                .iter()
                .all(|operand| self.is_open(operand))
            && self.structure(template, subject, next)
        {
            return true;
        }
        // What the limit of a fraction is about is what stands above and below, before anything is
        // cancelled.
        if self.template.signature.form == Form::Limit
            && let (Operator::Fraction, Operator::Fraction) =
                (template.operator(), subject.operator())
            && template
                .operands()
                .iter()
                .all(|operand| self.open_hole(operand).is_some())
            && self.structure(template, subject, next)
        {
            return true;
        }
        let Some((ground, patterns)) = self.patterns(term) else {
            return false;
        };
        if !self.is_written_like(&patterns, subject) {
            return false;
        }
        let is_free = !self.keeps_form();
        let Some(written) = product_of(subject, self.known) else {
            // Matrices and the like: factors in order.
            return self.structure(template, subject, next);
        };
        let before = self.steps;
        if *subject.operator() == Operator::Sum
            && let Ok((_, steps)) = &*self.known.collected(subject)
            && steps.contains(Steps::COMMON_DENOMINATOR)
        {
            self.steps = self.steps | *steps;
        }
        if self.factors(&ground, &patterns, written, next) {
            return true;
        }
        self.steps = before;
        // A sum may still be a product.
        let collected = self.known.collected(subject);
        let Ok((whole, steps)) = &*collected else {
            return false;
        };
        if let Some(found) = self
            .separated(&ground, &patterns, whole)
            .filter(|_| is_free)
        {
            let (first, f, second, g) = found;
            self.laws.push(Law::FactorOut);
            let done = self.bind(first, Value::of_normal(f), &mut |m| {
                m.bind(second, Value::of_normal(g.clone()), next)
            });
            if done {
                return true;
            }
            self.laws.pop();
        }
        if is_free && (surface::terms(subject).len() > 1 || steps.contains(Steps::EXPAND)) {
            let common = common_factor(whole, self.known);
            if let Some(common) = common {
                self.laws.push(Law::FactorOut);
                if self.factors(&ground, &patterns, common, next) {
                    return true;
                }
                self.laws.pop();
            }
        }
        // Numerator and denominator as they are when everything is collected.
        if is_free && !steps.is_empty() {
            let before = self.steps;
            self.steps = self.steps | *steps;
            if let Some(product) = product_of(&whole.to_expression(), self.known)
                && self.factors(&ground, &patterns, product, next)
            {
                return true;
            }
            self.steps = before;
        }
        false
    }

    /// What is differentiated or integrated is seen as it is written: the method goes by that.
    fn keeps_form(&self) -> bool {
        matches!(
            self.template.signature.form,
            Form::Derivative | Form::Integral
        )
    }

    /// Where the method goes by how a formula is written, a fraction is no product, and a sum is
    /// neither.
    fn is_written_like(&self, patterns: &[Pattern<'_>], subject: &Expression) -> bool {
        let form = self.template.signature.form;
        if !matches!(form, Form::Derivative | Form::Limit) {
            return true;
        }
        let varying = patterns.iter().filter_map(|pattern| match pattern {
            Pattern::Plain { hole, below } if !self.template.is_number_hole(*hole) => Some(*below),
            _ => None,
        });
        let sides: SmallVec<[bool; 3]> = varying.collect();
        if sides.len() < 2 {
            return true;
        }
        let scene = self.scene();
        let subject = match (subject.operator(), subject.operands()) {
            (Operator::Negative, [inner]) => inner,
            _ => subject,
        };
        let is_fraction = |part: &Expression| match (part.operator(), part.operands()) {
            (Operator::Fraction, [_, below]) => !is_number(below, &scene),
            _ => false,
        };
        let has_fraction = match subject.operator() {
            Operator::Product => subject.operands().iter().any(is_fraction),
            _ => is_fraction(subject),
        };
        match sides.contains(&true) {
            true => has_fraction || form == Form::Limit,
            false if form == Form::Derivative => {
                !is_fraction(subject)
                    && matches!(subject.operator(), Operator::Product | Operator::Fraction)
            }
            false => !is_fraction(subject),
        }
    }

    /// Two holes, each for other letters, and a number that is such a product.
    fn separated(
        &self,
        ground: &Product,
        patterns: &[Pattern<'_>],
        whole: &Normal,
    ) -> Option<(usize, Normal, usize, Normal)> {
        let [
            Pattern::Plain {
                hole: first,
                below: first_below,
            },
            Pattern::Plain {
                hole: second,
                below: second_below,
            },
        ] = patterns
        else {
            return None;
        };
        if !ground.powers.is_one() {
            return None;
        }
        let of = |hole: usize, kernel: &Expression| self.may_contain(hole, kernel);
        // What both may contain, such as a letter that stands for a number, goes to the first.
        let (f, g) = views::separate(
            whole,
            |kernel| of(*first, kernel),
            |kernel| of(*second, kernel) && !of(*first, kernel),
        )?;
        let f = f.scale(&ground.coefficient.reciprocal()?);
        let one = Normal::constant(Rational::ONE);
        let upright = |value: Normal, below: bool| match below {
            true => one.divide(&value).ok(),
            false => Some(value),
        };
        Some((
            *first,
            upright(f, *first_below)?,
            *second,
            upright(g, *second_below)?,
        ))
    }

    /// The factors of a template without holes as one product, and the others, those that decide
    /// most first.
    fn patterns<'t>(&self, term: &Term<'t>) -> Option<(Product, Vec<Pattern<'t>>)> {
        let mut ground = Product::new(term.coefficient.clone(), Monomial::one());
        let mut patterns: Vec<(u8, Pattern<'t>)> = Vec::new();
        for factor in &term.factors {
            let base_part = factor.base.part();
            let base_is_open = base_part.is_some_and(|part| self.is_open(part));
            let base = || {
                base_part.map_or_else(|| Expression::constant(Constant::E), |part| self.fill(part))
            };
            match &factor.exponent {
                Exponent::Number(exponent) if !base_is_open => {
                    let part = power_of(base(), Expression::rational(&exponent.to_big()));
                    ground = multiply(&ground, &product_of(&part, self.known)?);
                }
                Exponent::Number(exponent) => {
                    let part = base_part?;
                    let exponent = exponent.clone();
                    patterns.push(match self.open_hole(part) {
                        Some(hole) if exponent.is_one() => {
                            (7, Pattern::Plain { hole, below: false })
                        }
                        Some(hole) if exponent == Rational::integer(-1) => {
                            (7, Pattern::Plain { hole, below: true })
                        }
                        Some(hole) => (6, Pattern::Power { hole, exponent }),
                        None => match part.operator() {
                            Operator::Sum | Operator::Negative => (
                                3,
                                Pattern::Sum {
                                    template: part,
                                    exponent,
                                },
                            ),
                            _ => (
                                2,
                                Pattern::Kernel {
                                    template: part,
                                    exponent,
                                },
                            ),
                        },
                    });
                }
                Exponent::Symbolic { exponent, negated } => {
                    let exponent_is_open = self.is_open(exponent);
                    match (base_is_open, exponent_is_open) {
                        (false, false) => {
                            let exponent = match negated {
                                true => Expression::negative(self.fill(exponent)),
                                false => self.fill(exponent),
                            };
                            ground = multiply(
                                &ground,
                                &product_of(&power_of(base(), exponent), self.known)?,
                            );
                        }
                        (false, true) => patterns.push((
                            1,
                            Pattern::Exponent {
                                base: base(),
                                exponent,
                                negated: *negated,
                            },
                        )),
                        (true, false) if base_part.and_then(|p| self.open_hole(p)).is_some() => {
                            let hole = base_part.and_then(|part| self.open_hole(part))?;
                            let exponent = self.filled_normal(exponent)?;
                            let exponent = if *negated {
                                exponent.negate()
                            } else {
                                exponent
                            };
                            patterns.push((5, Pattern::Letter { hole, exponent }));
                        }
                        _ => patterns.push((
                            4,
                            Pattern::Both {
                                base: base_part?,
                                exponent,
                                negated: *negated,
                            },
                        )),
                    }
                }
            }
        }
        patterns.sort_by_key(|(rank, _)| *rank);
        Some((
            ground,
            patterns.into_iter().map(|(_, pattern)| pattern).collect(),
        ))
    }

    fn factors(
        &mut self,
        ground: &Product,
        patterns: &[Pattern<'_>],
        subject: Product,
        next: Next<'_, 'm>,
    ) -> bool {
        let Some(left) = divide(&subject, ground) else {
            return false;
        };
        self.remaining(patterns, left, next)
    }

    fn remaining(
        &mut self,
        patterns: &[Pattern<'_>],
        subject: Product,
        next: Next<'_, 'm>,
    ) -> bool {
        if !self.step() {
            return false;
        }
        let [pattern, rest @ ..] = patterns else {
            return subject.is_one() && next(self);
        };
        match pattern {
            Pattern::Exponent {
                base,
                exponent,
                negated,
            } => {
                let Some((total, left)) = take_exponent(&subject, base, *negated, self.known)
                else {
                    return false;
                };
                self.node(exponent, &total, &mut |m| {
                    m.remaining(rest, left.clone(), next)
                })
            }
            Pattern::Kernel { template, exponent } => {
                for (kernel, found) in subject.powers.powers() {
                    if found == exponent {
                        let left = subject.without(kernel);
                        let done = self.structure(template, kernel, &mut |m| {
                            m.remaining(rest, left.clone(), next)
                        });
                        if done {
                            return true;
                        }
                    }
                }
                false
            }
            Pattern::Sum { template, exponent } => {
                self.sum_factor(template, exponent, rest, &subject, next)
            }
            Pattern::Both {
                base,
                exponent,
                negated,
            } => {
                for (kernel, found) in subject.powers.powers() {
                    let left = subject.without(kernel);
                    let found = if *negated { -found } else { found.clone() };
                    let (inner, power) = match (kernel.operator(), kernel.operands()) {
                        (Operator::Power, [inner, power]) => (
                            inner.clone(),
                            Expression::product([
                                Expression::rational(&found.to_big()),
                                power.clone(),
                            ]),
                        ),
                        (Operator::Root, [inner]) => (
                            inner.clone(),
                            Expression::rational(&(found * Rational::fraction(1, 2)).to_big()),
                        ),
                        _ => (kernel.clone(), Expression::rational(&found.to_big())),
                    };
                    let done = self.node(base, &inner, &mut |m| {
                        m.node(exponent, &power, &mut |m| {
                            m.remaining(rest, left.clone(), next)
                        })
                    });
                    if done {
                        return true;
                    }
                }
                // The base may be made of several: 1.06 to a power is powers of 53, 2 and 5.
                let Some((merged, power, left)) = take_number_power(&subject, self.known) else {
                    return false;
                };
                let power = match negated {
                    true => Expression::negative(power),
                    false => power,
                };
                self.node(base, &merged, &mut |m| {
                    m.node(exponent, &power, &mut |m| {
                        m.remaining(rest, left.clone(), next)
                    })
                })
            }
            Pattern::Letter { hole, exponent } => {
                let Some((base, left)) = take_letter_power(&subject, exponent, self.known) else {
                    return false;
                };
                self.bind(*hole, Value::of_normal(base), &mut |m| {
                    m.remaining(rest, left.clone(), next)
                })
            }
            Pattern::Power { hole, exponent } => {
                let Some((base, left)) = take_root(&subject, exponent, self.known, |kernel| {
                    self.may_contain(*hole, kernel)
                }) else {
                    return false;
                };
                self.bind(*hole, Value::of_normal(base), &mut |m| {
                    m.remaining(rest, left.clone(), next)
                })
            }
            Pattern::Plain { .. } => {
                let holes: Vec<(usize, bool)> = patterns
                    .iter()
                    .filter_map(|pattern| match pattern {
                        Pattern::Plain { hole, below } => Some((*hole, *below)),
                        _ => None,
                    })
                    .collect();
                self.share(&holes, subject, next)
            }
        }
    }

    /// A template's sum to a power, against one base of the subject or all that stand on the same
    /// side of the fraction bar.
    fn sum_factor(
        &mut self,
        template: &Expression,
        exponent: &Rational,
        rest: &[Pattern<'_>],
        subject: &Product,
        next: Next<'_, 'm>,
    ) -> bool {
        let terms = surface::terms(template);
        // The base, how it was written, what is left, and whether brackets had to be expanded.
        let mut units: Vec<(Normal, Option<Expression>, Product, bool)> = Vec::new();
        for (kernel, found) in subject.powers.powers() {
            if found == exponent
                && let Some(base) = self.known.normal(kernel)
            {
                let written = subject.written.iter().find(|(known, _)| known == kernel);
                let written = written.map(|(_, written)| written.clone());
                units.push((base, written, subject.without(kernel), false));
            }
        }
        if exponent.abs().is_one() {
            let is_below = exponent.is_negative();
            let mut side = Product::one();
            let mut other = Product::new(subject.coefficient.clone(), Monomial::one());
            for (kernel, found) in subject.powers.powers() {
                let target = match found.is_negative() == is_below {
                    true => &mut side,
                    false => &mut other,
                };
                let power = Monomial::power(kernel.clone(), found.clone());
                target.powers = target.powers.multiply(&power);
            }
            if is_below {
                side.powers = side.powers.raise(&Rational::integer(-1));
            }
            let is_unit_already = units.len() == 1 && side.powers.powers().len() == 1;
            if !is_unit_already && !self.pay(side.size()) {
                return false;
            }
            if !is_unit_already && let Some(base) = side.normal(self.known) {
                let is_expanded = side.powers.powers().len() > 1
                    && side
                        .powers
                        .powers()
                        .iter()
                        .any(|(k, _)| *k.operator() == Operator::Sum);
                units.push((base, None, other, is_expanded));
            }
        }
        let before = self.steps;
        for (base, written, left, is_expanded) in units {
            let written = written.as_ref().map(surface::terms);
            self.steps = match is_expanded {
                true => before | Steps::EXPAND,
                false => before,
            };
            let written = written.as_deref();
            let done = self.sum(&terms, &base, written, Scale::Number, &mut |m, scale| {
                // The base is the template's sum times a number.
                let power = scale
                    .as_constant()
                    .and_then(|scale| scale.pow(exponent.as_i64()?));
                let Some(power) = power.or_else(|| scale.as_constant().filter(Rational::is_one))
                else {
                    return false;
                };
                let mut left = left.clone();
                left.coefficient = &left.coefficient * &power;
                m.remaining(rest, left, next)
            });
            if done {
                return true;
            }
        }
        self.steps = before;
        false
    }

    /// Shares out what is left among plain holes.
    fn share(&mut self, holes: &[(usize, bool)], subject: Product, next: Next<'_, 'm>) -> bool {
        // The number goes to a hole for numbers, else to the first above, else below.
        let number_at = holes
            .iter()
            .position(|(hole, below)| !below && self.template.is_number_hole(*hole))
            .or_else(|| holes.iter().position(|(_, below)| !below))
            .unwrap_or(0);
        let mut parts: Vec<Product> = holes.iter().map(|_| Product::one()).collect();
        let coefficient = match holes[number_at].1 {
            true => subject.coefficient.reciprocal(),
            false => Some(subject.coefficient.clone()),
        };
        let Some(coefficient) = coefficient else {
            return false;
        };
        parts[number_at].coefficient = coefficient;
        let powers: Vec<(Expression, Rational)> = subject.powers.powers().to_vec();
        self.share_powers(holes, &powers, &mut parts, next)
    }

    fn share_powers(
        &mut self,
        holes: &[(usize, bool)],
        powers: &[(Expression, Rational)],
        parts: &mut Vec<Product>,
        next: Next<'_, 'm>,
    ) -> bool {
        if !self.step() {
            return false;
        }
        let [(kernel, exponent), rest @ ..] = powers else {
            let mut values = Vec::with_capacity(parts.len());
            for part in parts.iter() {
                if !self.pay(part.size()) {
                    return false;
                }
                match part.normal(self.known) {
                    Some(normal) => values.push(Value::of_normal(normal)),
                    None => return false,
                }
            }
            return self.bind_all(holes, &values, next);
        };
        // What stands below goes below, and above only if no hole below may contain it.
        let has_place = holes.iter().any(|(hole, below)| {
            *below == exponent.is_negative() && self.may_contain(*hole, kernel)
        });
        for same_side in if has_place { &[true][..] } else { &[false][..] } {
            for (place, (hole, below)) in holes.iter().enumerate() {
                if (exponent.is_negative() == *below) != *same_side {
                    continue;
                }
                if !*same_side && *below {
                    // x above is not 1 over 1/x below.
                    continue;
                }
                if !self.may_contain(*hole, kernel) {
                    continue;
                }
                let exponent = if *below { -exponent } else { exponent.clone() };
                let before = parts[place].powers.clone();
                parts[place].powers = before.multiply(&Monomial::power(kernel.clone(), exponent));
                if self.share_powers(holes, rest, parts, next) {
                    return true;
                }
                parts[place].powers = before;
            }
        }
        false
    }

    fn bind_all(&mut self, holes: &[(usize, bool)], values: &[Value], next: Next<'_, 'm>) -> bool {
        match (holes, values) {
            ([(hole, _), holes @ ..], [value, values @ ..]) => {
                self.bind(*hole, value.clone(), &mut |m| {
                    m.bind_all(holes, values, next)
                })
            }
            _ => next(self),
        }
    }

    // ---------------------------------------------------------------------------------------
    // Sums.

    /// Matches a sum; `next` is told by what factor the subject is a multiple of the template.
    fn sum(
        &mut self,
        terms: &[Term<'_>],
        subject: &Normal,
        written: Option<&[Term<'_>]>,
        scale: Scale,
        next: &mut dyn FnMut(&mut Matcher<'m>, &Normal) -> bool,
    ) -> bool {
        if !self.step() {
            return false;
        }
        let one = Normal::constant(Rational::ONE);
        // A term with a fixed coefficient tells by what factor both differ.
        if scale != Scale::Fixed
            && let Some(pivot) = self.pivot(terms)
        {
            let Some(factor) = self.factor_of(&pivot, subject) else {
                return false;
            };
            if factor.is_constant_one() {
                return self.sum(terms, subject, written, Scale::Fixed, next);
            }
            let is_number = factor.as_constant().is_some();
            if factor.is_zero() || (scale == Scale::Number && !is_number) {
                return false;
            }
            let Ok(rest) = subject.divide(&factor) else {
                return false;
            };
            let laws = self.laws.len();
            if !is_number {
                self.laws.push(Law::DivideByCoefficient);
            }
            let done = self.sum(terms, &rest, None, Scale::Fixed, &mut |m, _| {
                next(m, &factor)
            });
            if !done {
                self.laws.truncate(laws);
            }
            return done;
        }
        // A hole that powers or functions are taken of: each kernel of the subject is tried.
        if let Some((hole, highest)) = self.kernel_hole(terms) {
            let occurs = |term: &&Term<'_>| {
                let mut bases = term.factors.iter().filter_map(|factor| factor.base.part());
                bases.any(|base| self.open_hole(base) == Some(hole))
            };
            let is_repeated = terms.iter().filter(occurs).count() > 1;
            for candidate in self.candidates(hole, &highest, subject, written, is_repeated) {
                let done = self.bind(hole, Value::of_normal(candidate), &mut |m| {
                    m.sum(terms, subject, written, scale, next)
                });
                if done {
                    return true;
                }
            }
            return false;
        }
        let parts: Vec<Part<'_>> = terms.iter().map(|term| self.part(term)).collect();
        if let Some(open) = parts.iter().position(|part| part.is_open) {
            return self.open_term(terms, open, subject, written, scale, next);
        }
        // Everything but the coefficients is known.
        if !self.pay(subject.size()) {
            return false;
        }
        let mut rest = subject.clone();
        let mut known: Vec<(Normal, Option<usize>)> = Vec::with_capacity(parts.len());
        for part in &parts {
            let Some(value) = self.known(part) else {
                return false;
            };
            if part.hole.is_none() {
                match rest.subtract(&value) {
                    Ok(difference) => rest = difference,
                    Err(_) => return false,
                }
            }
            known.push((value, part.hole));
        }
        self.coefficients(&known, &rest, &mut |m| next(m, &one))
    }

    /// The first term without holes that is a single one and no number.
    fn pivot(&self, terms: &[Term<'_>]) -> Option<Normal> {
        terms.iter().find_map(|term| {
            let part = self.part(term);
            if part.hole.is_some() || part.is_open || part.rest.is_empty() {
                return None;
            }
            self.known(&part).filter(|value| {
                let is_term = value.laurent_terms().is_some_and(|terms| terms.len() == 1);
                is_term && value.as_constant().is_none()
            })
        })
    }

    /// The coefficients of known kernels: what is left of the subject must be made of them.
    fn coefficients(
        &mut self,
        known: &[(Normal, Option<usize>)],
        rest: &Normal,
        next: Next<'_, 'm>,
    ) -> bool {
        let mut wanted: Vec<(usize, Monomial, Rational)> = Vec::new();
        let mut plain: Vec<(usize, Rational)> = Vec::new();
        for (value, hole) in known {
            let Some(hole) = hole else { continue };
            if let Some(number) = value.as_constant() {
                plain.push((*hole, number));
                continue;
            }
            match value.laurent_terms().as_deref() {
                Some([(monomial, coefficient)]) => {
                    wanted.push((*hole, monomial.clone(), coefficient.clone()));
                }
                // The coefficient of a sum: only if it is the only one.
                _ if wanted.is_empty()
                    && known.iter().filter(|(_, h)| h.is_some()).count() == 1 =>
                {
                    let Ok(quotient) = rest.divide(value) else {
                        return false;
                    };
                    return self.bind(*hole, Value::of_normal(quotient), next);
                }
                _ => return self.combination(known, rest, next),
            }
        }
        let kernels: Vec<Expression> = wanted
            .iter()
            .flat_map(|(_, monomial, _)| monomial.powers())
            .map(|(kernel, _)| kernel.clone())
            .collect();
        let Some(mut groups) = views::coefficients(rest, |kernel| kernels.contains(kernel)) else {
            return false;
        };
        let mut values: Vec<(usize, Value)> = Vec::new();
        for (hole, monomial, coefficient) in wanted {
            let found = groups.iter().position(|(found, _)| *found == monomial);
            let value = match (found, coefficient.reciprocal()) {
                (Some(place), Some(factor)) => groups.remove(place).1.scale(&factor),
                (None, _) => Normal::constant(Rational::ZERO),
                _ => return false,
            };
            values.push((hole, Value::of_normal(value)));
        }
        // What is left must be free of the kernels, and goes to the holes that stand alone.
        let mut left = Normal::constant(Rational::ZERO);
        for (monomial, coefficient) in groups {
            if !monomial.is_one() {
                return false;
            }
            left = coefficient;
        }
        match plain.as_slice() {
            [] if !left.is_zero() => return false,
            [] => {}
            [(hole, factor)] => {
                let Some(factor) = factor.reciprocal() else {
                    return false;
                };
                values.push((*hole, Value::of_normal(left.scale(&factor))));
            }
            several => {
                let Some(shared) = self.share_terms(several, &left) else {
                    return false;
                };
                values.extend(shared);
            }
        }
        self.bind_values(&values, next)
    }

    /// Numbers for the holes of a sum of known polynomials that make up what is left of the
    /// subject, as for a (x + 1)^2 + b (x + 1) + c.
    fn combination(
        &mut self,
        known: &[(Normal, Option<usize>)],
        rest: &Normal,
        next: Next<'_, 'm>,
    ) -> bool {
        let open: SmallVec<[(&Normal, usize); 4]> = known
            .iter()
            .filter_map(|(value, hole)| Some((value, (*hole)?)))
            .collect();
        if open
            .iter()
            .any(|(_, hole)| !self.template.is_number_hole(*hole))
        {
            return false;
        }
        // The base may be a fraction: the greatest denominator is that of its highest power.
        let values = || open.iter().map(|(value, _)| *value).chain([rest]);
        let below = values()
            .map(Normal::denominator)
            .max_by_key(|below| below.terms().len());
        let Some(below) = below.map(|below| Normal::whole(below.clone())) else {
            return false;
        };
        let columns = values().map(|value| value.multiply(&below).ok()?.laurent_terms());
        let Some(columns) = columns.collect::<Option<Vec<_>>>() else {
            return false;
        };
        let mut monomials: Vec<&Monomial> = Vec::new();
        for (monomial, _) in columns.iter().flatten() {
            if !monomials.contains(&monomial) {
                monomials.push(monomial);
            }
        }
        let rows = monomials.iter().map(|monomial| {
            let entry = |column: &Vec<(Monomial, Rational)>| {
                let found = column.iter().find(|(known, _)| known == *monomial);
                found.map_or(Rational::ZERO, |(_, value)| value.clone())
            };
            columns.iter().map(entry).collect()
        });
        let Some(matrix) = Matrix::new(rows.collect()) else {
            return false;
        };
        let (reduced, pivots) = matrix.reduced();
        let has_one_solution = pivots.iter().copied().eq(0..open.len());
        if !has_one_solution {
            return false;
        }
        let last = open.len();
        let values: Vec<(usize, Value)> = open
            .iter()
            .zip(reduced.rows())
            .map(|((_, hole), row)| (*hole, Value::of_normal(Normal::constant(row[last].clone()))))
            .collect();
        // Nothing had to be multiplied out, as the base stands there as written.
        let before = self.steps;
        self.steps = before.without(Steps::EXPAND);
        let done = self.bind_values(&values, next);
        if !done {
            self.steps = before;
        }
        done
    }

    /// Terms for several holes that stand alone, by the letters that each may contain.
    fn share_terms(
        &self,
        holes: &[(usize, Rational)],
        left: &Normal,
    ) -> Option<Vec<(usize, Value)>> {
        let terms = left.laurent_terms()?;
        let mut sums: Vec<Normal> = vec![Normal::constant(Rational::ZERO); holes.len()];
        for (monomial, coefficient) in terms {
            let place = holes.iter().position(|(hole, _)| {
                monomial
                    .powers()
                    .iter()
                    .all(|(kernel, _)| self.may_contain(*hole, kernel))
            })?;
            let term = Product::new(coefficient, monomial).normal(self.known)?;
            sums[place] = sums[place].add(&term).ok()?;
        }
        holes
            .iter()
            .zip(sums)
            .map(|((hole, factor), sum)| {
                Some((*hole, Value::of_normal(sum.scale(&factor.reciprocal()?))))
            })
            .collect()
    }

    fn bind_values(&mut self, values: &[(usize, Value)], next: Next<'_, 'm>) -> bool {
        match values {
            [] => next(self),
            [(hole, value), rest @ ..] => {
                self.bind(*hole, value.clone(), &mut |m| m.bind_values(rest, next))
            }
        }
    }

    /// The coefficient of a term's kernels in the subject.
    fn factor_of(&self, value: &Normal, subject: &Normal) -> Option<Normal> {
        let terms = value.laurent_terms()?;
        let [(monomial, coefficient)] = terms.as_slice() else {
            return None;
        };
        let kernels = |kernel: &Expression| monomial.powers().iter().any(|(k, _)| k == kernel);
        let groups = views::coefficients(subject, kernels)?;
        let found = groups.into_iter().find(|(found, _)| found == monomial)?;
        Some(found.1.scale(&coefficient.reciprocal()?))
    }

    /// The product of what is known in a part.
    fn known(&self, part: &Part<'_>) -> Option<Normal> {
        let mut product = Normal::constant(part.coefficient.clone());
        for factor in &part.rest {
            let base = match factor.base {
                Base::E => Expression::constant(Constant::E),
                Base::Part(part) => self.filled(part)?,
            };
            let power = match &factor.exponent {
                Exponent::Number(exponent) => self.known.normal(&base)?.pow(exponent).ok()?,
                Exponent::Symbolic { exponent, negated } => {
                    let exponent = self.filled(exponent)?;
                    let exponent = match negated {
                        true => Expression::negative(exponent),
                        false => exponent,
                    };
                    self.known.normal(&Expression::power(base, exponent))?
                }
            };
            product = product.multiply(&power).ok()?;
        }
        Some(product)
    }

    /// A term of a template: its coefficient hole and the rest.
    fn part<'t>(&self, term: &Term<'t>) -> Part<'t> {
        let plain: Vec<usize> = term
            .factors
            .iter()
            .filter_map(|factor| self.plain_hole(factor))
            .collect();
        // Of several holes, one for numbers is the coefficient.
        let hole = match plain.as_slice() {
            [] => None,
            [hole] => Some(*hole),
            several => several
                .iter()
                .copied()
                .find(|hole| self.template.is_number_hole(*hole)),
        };
        let mut taken = false;
        let mut rest: SmallVec<[Factor<'t>; 3]> = SmallVec::new();
        for factor in &term.factors {
            if !taken && hole.is_some() && self.plain_hole(factor) == hole {
                taken = true;
                continue;
            }
            rest.push(factor.clone());
        }
        let is_open = rest.iter().any(|factor| {
            let in_base = factor.base.part().is_some_and(|part| self.is_open(part));
            let in_exponent = match &factor.exponent {
                Exponent::Number(_) => false,
                Exponent::Symbolic { exponent, .. } => self.is_open(exponent),
            };
            in_base || in_exponent
        });
        Part {
            coefficient: term.coefficient.clone(),
            hole,
            rest,
            is_open,
        }
    }

    fn plain_hole(&self, factor: &Factor<'_>) -> Option<usize> {
        match &factor.exponent {
            Exponent::Number(exponent) if exponent.is_one() => self.open_hole(factor.base.part()?),
            _ => None,
        }
    }

    /// An open hole that occurs to a power, or beside a coefficient, and the highest exponent.
    fn kernel_hole(&self, terms: &[Term<'_>]) -> Option<(usize, Rational)> {
        let mut best: Option<(usize, Rational)> = None;
        for term in terms {
            let part = self.part(term);
            for factor in &part.rest {
                let Some(hole) = factor.base.part().and_then(|base| self.open_hole(base)) else {
                    continue;
                };
                let Exponent::Number(exponent) = &factor.exponent else {
                    continue;
                };
                // A root of a hole is found as a factor.
                if !exponent.is_integer() || self.template.is_number_hole(hole) {
                    continue;
                }
                match &mut best {
                    Some((known, highest)) if *known == hole => {
                        *highest = highest.clone().max(exponent.clone());
                    }
                    Some(_) => {}
                    None => best = Some((hole, exponent.clone())),
                }
            }
        }
        let (hole, highest) = best?;
        // It is one only if another term depends on it too, or it stands beside a coefficient.
        let occurs = |term: &&Term<'_>| {
            term.factors.iter().any(|factor| {
                factor.base.part().and_then(|base| self.open_hole(base)) == Some(hole)
            })
        };
        let several = terms.iter().filter(occurs).count() > 1;
        let has_power = !highest.is_one();
        (several || has_power).then_some((hole, highest))
    }

    /// What a hole may be whose powers make up the subject: each kernel that occurs, to the power
    /// that makes its highest exponent the template's.
    fn candidates(
        &self,
        hole: usize,
        highest: &Rational,
        subject: &Normal,
        written: Option<&[Term<'_>]>,
        is_repeated: bool,
    ) -> Vec<Normal> {
        let mut candidates: Vec<Normal> = Vec::new();
        for kernel in subject.numerator().kernels() {
            if !self.may_contain(hole, kernel) || is_number(kernel, &self.scene()) {
                continue;
            }
            let parts = subject.numerator().in_kernel(kernel);
            let Some(top) = parts.iter().map(|(exponent, _)| exponent).max() else {
                continue;
            };
            let Some(power) = top.checked_div(highest) else {
                continue;
            };
            // A square root of what occurs only squared would be an invention.
            let exists = parts.iter().all(|(exponent, _)| {
                exponent
                    .checked_div(&power)
                    .is_some_and(|times| times.is_integer())
            });
            if !exists {
                continue;
            }
            let is_real =
                power.is_integer() || parts.iter().any(|(exponent, _)| !exponent.is_integer());
            if !is_real {
                continue;
            }
            let monomial = Monomial::power(kernel.clone(), power);
            candidates.push(Normal::whole(Polynomial::term(monomial, Rational::ONE)));
        }
        let of_kernels = candidates.len();
        // A sum that was written as a base, as in (x + 1)^2 + 4.
        for factor in written
            .unwrap_or_default()
            .iter()
            .flat_map(|term| &term.factors)
        {
            if let (Base::Part(part), Exponent::Number(exponent)) = (factor.base, &factor.exponent)
                && matches!(
                    part.operator(),
                    Operator::Sum | Operator::Fraction | Operator::Product
                )
                && exponent == highest
                && (!is_repeated || occurrences(written, part) > 1)
                && self.may_contain(hole, part)
                && let Some(base) = self.known.normal(part)
            {
                candidates.push(base);
            }
        }
        // What was written more than once was meant to be seen.
        if is_repeated {
            candidates.rotate_left(of_kernels);
        }
        candidates
    }

    /// Matches one term that has holes besides its coefficient with each term of the subject.
    fn open_term(
        &mut self,
        terms: &[Term<'_>],
        open: usize,
        subject: &Normal,
        written: Option<&[Term<'_>]>,
        scale: Scale,
        next: &mut dyn FnMut(&mut Matcher<'m>, &Normal) -> bool,
    ) -> bool {
        let Some((ground, patterns)) = self.patterns(&terms[open]) else {
            return false;
        };
        let mut others: Vec<Term<'_>> = terms.to_vec();
        others.remove(open);
        // Each with its place among the terms as written.
        let mut choices: Vec<(Product, Option<usize>)> = match subject.laurent_terms() {
            Some(terms) => terms
                .into_iter()
                .map(|(powers, coefficient)| (Product::new(coefficient, powers), None))
                .collect(),
            None => Vec::new(),
        };
        if choices.is_empty() {
            let terms = written.unwrap_or_default().iter().enumerate();
            choices.extend(terms.filter_map(|(place, term)| {
                Some((product_of_term(term, self.known)?, Some(place)))
            }));
        }
        // Without a hole for it, the coefficient tells by what number both differ.
        let is_fixed = !patterns
            .iter()
            .any(|pattern| matches!(pattern, Pattern::Plain { .. }));
        // A number such as √2, which is not 0, may stand beside the term, too.
        let is_plain = |kernel: &Expression| kernel.parts().all(|part| part.as_symbol().is_none());
        let numbers = |choice: &Product| choice.powers.split(is_plain);
        let has_numbers = scale == Scale::Any && is_fixed && numbers(&ground).0.is_one();
        let beside: Vec<(Product, Option<usize>)> = match has_numbers {
            true => (choices.iter())
                .filter(|(choice, _)| !numbers(choice).0.is_one())
                .cloned()
                .collect(),
            false => Vec::new(),
        };
        let as_they_are = choices.len();
        for (number, (mut choice, place)) in choices.into_iter().chain(beside).enumerate() {
            let written_rest: Option<Vec<Term<'_>>> = place.and_then(|place| {
                let mut rest = written?.to_vec();
                rest.remove(place);
                Some(rest)
            });
            if !self.pay(choice.size() + subject.size()) {
                return false;
            }
            let Some(value) = choice.normal(self.known) else {
                continue;
            };
            let Ok(mut rest) = subject.subtract(&value) else {
                continue;
            };
            let mut factor = Normal::constant(Rational::ONE);
            if scale != Scale::Fixed && is_fixed {
                let ratio = choice.coefficient.checked_div(&ground.coefficient);
                let Some(ratio) = ratio.filter(|ratio| !ratio.is_zero()) else {
                    continue;
                };
                if let Some(inverse) = ratio.reciprocal() {
                    rest = rest.scale(&inverse);
                    choice.coefficient = &choice.coefficient * &inverse;
                }
                factor = Normal::constant(ratio);
                if number >= as_they_are {
                    let (numbers, others) = numbers(&choice);
                    let numbers = Product::new(Rational::ONE, numbers).normal(self.known);
                    let divided = numbers.as_ref().and_then(|n| rest.divide(n).ok());
                    let product = numbers.and_then(|n| factor.multiply(&n).ok());
                    let (Some(product), Some(divided)) = (product, divided) else {
                        continue;
                    };
                    (factor, rest, choice.powers) = (product, divided, others);
                }
            }
            let done = self.factors(&ground, &patterns, choice, &mut |m| {
                let written = written_rest.as_deref();
                m.sum(&others, &rest, written, Scale::Fixed, &mut |m, _| {
                    next(m, &factor)
                })
            });
            if done {
                return true;
            }
        }
        false
    }
}

/// A term of a template.
struct Part<'t> {
    coefficient: Rational,
    hole: Option<usize>,
    rest: SmallVec<[Factor<'t>; 3]>,
    is_open: bool,
}

/// How often a base stands in terms as they are written. A fraction or a product is not one factor
/// of a term but several.
fn occurrences(written: Option<&[Term<'_>]>, base: &Expression) -> usize {
    let whole = surface::factors(base);
    let occurs = |term: &&Term<'_>| {
        let mut factors = term.factors.iter();
        let is_base = |factor: &Factor<'_>| factor.base.part() == Some(base);
        factors.any(is_base)
            || (whole.factors.len() > 1
                && whole.factors.iter().all(|wanted| {
                    term.factors.iter().any(|factor| {
                        factor.base.part() == wanted.base.part() && is_same_number(factor, wanted)
                    })
                }))
    };
    written.unwrap_or_default().iter().filter(occurs).count()
}

/// The exponents of both are the same number.
fn is_same_number(left: &Factor<'_>, right: &Factor<'_>) -> bool {
    match (&left.exponent, &right.exponent) {
        (Exponent::Number(left), Exponent::Number(right)) => left == right,
        _ => false,
    }
}

/// The kernel, if the number is one.
fn only_kernel(normal: &Normal) -> Option<Expression> {
    let (monomial, coefficient) = normal.as_polynomial()?.as_term()?;
    match monomial.powers() {
        [(kernel, exponent)] if exponent.is_one() && coefficient.is_one() => Some(kernel.clone()),
        _ => None,
    }
}

/// What the kernel is multiplied by, if the side is such a product and no other.
fn coefficient_of(side: &Expression, kernel: &Expression) -> Option<Expression> {
    let mut term = surface::factors(side);
    let place = term.factors.iter().position(|factor| {
        matches!(&factor.exponent, Exponent::Number(exponent) if exponent.is_one())
            && factor.base.part() == Some(kernel)
    })?;
    term.factors.remove(place);
    let rest = term.factors.iter().all(|factor| {
        let parts = factor.base.part().into_iter().flat_map(Expression::parts);
        parts.into_iter().all(|part| part != kernel)
    });
    let is_alone = term.factors.is_empty() && term.coefficient.is_one();
    (rest && !is_alone).then(|| term.to_expression())
}

/// Both are equal, as written or collected.
fn same(template: &Expression, subject: &Expression, known: &Known) -> bool {
    if template == subject {
        return true;
    }
    match (&*known.collected(template), &*known.collected(subject)) {
        (Ok((a, _)), Ok((b, _))) => a == b,
        _ => {
            template.operator() == subject.operator()
                && template.operands().len() == subject.operands().len()
                && !template.operands().is_empty()
                && (template.operands().iter())
                    .zip(subject.operands())
                    .all(|(t, s)| same(t, s, known))
        }
    }
}

fn power_of(base: Expression, exponent: Expression) -> Expression {
    match exponent.as_i64() {
        Some(1) => base,
        _ => Expression::power(base, exponent),
    }
}

/// The factors of an expression, as written: sums stay together. None if it is no number.
fn product_of(expression: &Expression, known: &Known) -> Option<Product> {
    product_of_term(&surface::factors(expression), known)
}

fn product_of_term(term: &Term<'_>, known: &Known) -> Option<Product> {
    let mut product = Product::new(term.coefficient.clone(), Monomial::one());
    for factor in &term.factors {
        let one = match (&factor.exponent, factor.base) {
            (Exponent::Number(exponent), Base::Part(part)) => match part.operator() {
                Operator::Sum => sum_power(part, exponent, known)?,
                Operator::Product | Operator::Fraction | Operator::Negative
                    if exponent.is_integer() =>
                {
                    raise(&product_of(part, known)?, exponent)?
                }
                Operator::Symbol(_) => Product::new(
                    Rational::ONE,
                    Monomial::power(part.clone(), exponent.clone()),
                ),
                _ => single(&known.normal(part)?.pow(exponent).ok()?)?,
            },
            (Exponent::Number(exponent), Base::E) => Product::new(
                Rational::ONE,
                Monomial::power(Expression::constant(Constant::E), exponent.clone()),
            ),
            (Exponent::Symbolic { exponent, negated }, base) => {
                let base = match base {
                    Base::E => Expression::constant(Constant::E),
                    Base::Part(part) => part.clone(),
                };
                let exponent = match negated {
                    true => Expression::negative((*exponent).clone()),
                    false => (*exponent).clone(),
                };
                single(&known.normal(&Expression::power(base, exponent))?)?
            }
        };
        product = multiply(&product, &one);
    }
    Some(product)
}

/// A sum to a power, as one base without a numeric factor.
fn sum_power(sum: &Expression, exponent: &Rational, known: &Known) -> Option<Product> {
    let normal = known.normal(sum)?;
    if normal.is_zero() {
        return None;
    }
    if let Some(product) = single(&normal) {
        return match exponent.is_integer() {
            true => raise(&product, exponent),
            false => single(&normal.pow(exponent).ok()?),
        };
    }
    let (above, content) = normal.numerator().primitive();
    let coefficient = match exponent.as_i64() {
        Some(exponent) => content.pow(exponent),
        None if content.is_one() => Some(Rational::ONE),
        None => None,
    };
    let Some(coefficient) = coefficient else {
        // The root of a sum with a numeric factor: the factor stays inside.
        if !normal.denominator().is_one() {
            return single(&normal.pow(exponent).ok()?);
        }
        let base = Normal::whole(normal.numerator().clone()).to_expression();
        return Some(Product::new(
            Rational::ONE,
            Monomial::power(base, exponent.clone()),
        ));
    };
    let mut powers = Monomial::power(Normal::whole(above).to_expression(), exponent.clone());
    if !normal.denominator().is_one() {
        let below = Normal::whole(normal.denominator().clone());
        let below = match single(&below) {
            Some(product) => raise(&product, &-exponent)?,
            None => Product::new(
                Rational::ONE,
                Monomial::power(below.to_expression(), -exponent),
            ),
        };
        powers = powers.multiply(&below.powers);
        return Some(Product::new(coefficient * below.coefficient, powers));
    }
    let mut product = Product::new(coefficient, powers);
    let has_base = surface::terms(sum).iter().any(|term| {
        let bases = term.factors.iter().filter_map(|factor| factor.base.part());
        bases
            .into_iter()
            .any(|base| *base.operator() == Operator::Sum)
    });
    if has_base
        && content.is_one()
        && let Some((kernel, _)) = product.powers.powers().first()
    {
        product.written.push((kernel.clone(), sum.clone()));
    }
    Some(product)
}

/// A number that is a single term, above and below.
fn single(normal: &Normal) -> Option<Product> {
    match normal.laurent_terms()?.as_slice() {
        [] => Some(Product::new(Rational::ZERO, Monomial::one())),
        [(monomial, coefficient)] => Some(Product::new(coefficient.clone(), monomial.clone())),
        _ => None,
    }
}

fn multiply(left: &Product, right: &Product) -> Product {
    let mut written = left.written.clone();
    written.extend(right.written.iter().cloned());
    Product {
        coefficient: &left.coefficient * &right.coefficient,
        powers: left.powers.multiply(&right.powers),
        written,
    }
}

fn raise(product: &Product, exponent: &Rational) -> Option<Product> {
    Some(Product {
        coefficient: product.coefficient.pow(exponent.as_i64()?)?,
        powers: product.powers.raise(exponent),
        written: product.written.clone(),
    })
}

/// The quotient, if every factor of the divisor is one of the product.
fn divide(product: &Product, divisor: &Product) -> Option<Product> {
    for (kernel, exponent) in divisor.powers.powers() {
        let found = product.powers.exponent(kernel);
        let has = match exponent.is_negative() {
            true => found <= *exponent,
            false => found >= *exponent,
        };
        if !has {
            return None;
        }
    }
    Some(Product {
        coefficient: product.coefficient.checked_div(&divisor.coefficient)?,
        powers: product.powers.divide(&divisor.powers),
        written: product.written.clone(),
    })
}

/// What all terms of a sum have in common, times the rest.
fn common_factor(whole: &Normal, known: &Known) -> Option<Product> {
    let common = whole.numerator().common_monomial();
    let rest = whole
        .numerator()
        .divide_exactly(&Polynomial::term(common.clone(), Rational::ONE))?;
    let (primitive, content) = rest.primitive();
    let mut product = Product::new(content, common);
    if !primitive.is_one() {
        let rest = Monomial::power(Normal::whole(primitive).to_expression(), Rational::ONE);
        product.powers = product.powers.multiply(&rest);
    }
    if !whole.denominator().is_one() {
        let below = product_of(&whole.denominator_expression(), known)?;
        product = multiply(&product, &raise(&below, &Rational::integer(-1))?);
    }
    Some(product)
}

/// The exponent of a base in a product, all its powers together, and what is left.
fn take_exponent(
    subject: &Product,
    base: &Expression,
    negated: bool,
    known: &Known,
) -> Option<(Expression, Product)> {
    let mut terms = Vec::new();
    let mut left = Product::new(subject.coefficient.clone(), Monomial::one());
    let sign = Rational::integer(if negated { -1 } else { 1 });
    for (kernel, exponent) in subject.powers.powers() {
        let times = exponent * &sign;
        let number = Expression::rational(&times.to_big());
        match (kernel.operator(), kernel.operands()) {
            _ if kernel == base => terms.push(number),
            (Operator::Power, [inner, power]) if inner == base => {
                terms.push(Expression::product([number, power.clone()]));
            }
            _ => {
                let power = Monomial::power(kernel.clone(), exponent.clone());
                left.powers = left.powers.multiply(&power);
            }
        }
    }
    if terms.is_empty() {
        return None;
    }
    let total = known.normal(&Expression::sum(terms))?.to_expression();
    Some((total, left))
}

/// r and what is left, where all powers with a letter in the exponent make up r to the exponent.
fn take_letter_power(
    subject: &Product,
    exponent: &Normal,
    known: &Known,
) -> Option<(Normal, Product)> {
    // The exponent is c m + d, with a monomial m.
    let mut unit = None;
    let mut shift = Rational::ZERO;
    for (monomial, coefficient) in exponent.laurent_terms()? {
        match monomial.is_one() {
            true => shift = coefficient,
            false if unit.is_none() => unit = Some((monomial, coefficient)),
            false => return None,
        }
    }
    let (unit, by) = unit?;
    let unit = Product::new(Rational::ONE, unit).normal(known)?;
    let mut base = Normal::constant(Rational::ONE);
    let mut left = Product::new(subject.coefficient.clone(), Monomial::one());
    let mut found = false;
    for (kernel, times) in subject.powers.powers() {
        let inner = match (kernel.operator(), kernel.operands()) {
            (Operator::Power, [inner, power]) if known.normal(power)? == unit => Some(inner),
            _ => None,
        };
        match inner {
            Some(inner) => {
                found = true;
                let power = known.normal(inner)?.pow(&times.checked_div(&by)?).ok()?;
                base = base.multiply(&power).ok()?;
            }
            None => {
                let power = Monomial::power(kernel.clone(), times.clone());
                left.powers = left.powers.multiply(&power);
            }
        }
    }
    if !found {
        return None;
    }
    if !shift.is_zero() {
        let start = base.as_constant()?.pow(shift.as_i64()?)?;
        left.coefficient = left.coefficient.checked_div(&start)?;
    }
    Some((base, left))
}

/// A number, the power to which it stands, and what is left, where several numbers stand to
/// multiples of one power.
fn take_number_power(
    subject: &Product,
    known: &Known,
) -> Option<(Expression, Expression, Product)> {
    let is_power = |kernel: &Expression| match (kernel.operator(), kernel.operands()) {
        (Operator::Power, [base, power]) => {
            surface::number(base).is_some() && surface::number(power).is_none()
        }
        _ => false,
    };
    let mut powers = subject.powers.powers().iter().map(|(kernel, _)| kernel);
    let first = powers.find(|kernel| is_power(kernel))?;
    powers.find(|kernel| is_power(kernel))?;
    let power = known.normal(&first.operands()[1])?;
    let terms = power.laurent_terms()?;
    let [(monomial, _)] = terms.as_slice() else {
        return None;
    };
    let unit = Product::new(Rational::ONE, monomial.clone()).normal(known)?;
    let (base, left) = take_letter_power(subject, &unit, known)?;
    base.as_constant()?;
    Some((base.to_expression(), unit.to_expression(), left))
}

/// u and what is left, where the bases whose exponents are multiples of the given one make up u to
/// it.
fn take_root(
    subject: &Product,
    exponent: &Rational,
    known: &Known,
    allowed: impl Fn(&Expression) -> bool,
) -> Option<(Normal, Product)> {
    let mut base = Normal::constant(Rational::ONE);
    let mut left = Product::new(subject.coefficient.clone(), Monomial::one());
    let mut found = false;
    for (kernel, times) in subject.powers.powers() {
        let power = times.checked_div(exponent)?;
        // √x has the root of x in it, x has not.
        let fits = power.is_integer()
            && !power.is_negative()
            && (exponent.is_integer() || !times.is_integer())
            && allowed(kernel);
        match fits {
            true => {
                found = true;
                let power = known.normal(kernel)?.pow(&power).ok()?;
                base = base.multiply(&power).ok()?;
            }
            false => {
                let power = Monomial::power(kernel.clone(), times.clone());
                left.powers = left.powers.multiply(&power);
            }
        }
    }
    found.then_some((base, left))
}
