//! What can be said of a template before any problem is seen?

use std::collections::{BTreeMap, BTreeSet};

use super::conditions::{Condition, Predicate, Subject, has_derivative};
use crate::expression::{Bounds, Constant, Expression, Function, Operator, Relation, Symbol};
use crate::surface;

/// A template with its holes and variables told apart.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Template {
    /// As it was written.
    pub(super) written: Expression,
    /// With names for holes and variables that no problem can use.
    pub(super) body: Expression,
    /// The letters of the holes as written, in the order of their numbers.
    pub(super) holes: Vec<Hole>,
    /// The variables.
    pub(super) variables: Vec<Variable>,
    /// What a problem must be like.
    pub(super) signature: Signature,
}

/// A hole.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Hole {
    /// As written.
    pub(super) letter: Symbol,
    /// In the body.
    pub(super) name: Symbol,
    /// The variables that may occur in what fills it (by their names in the body), if a condition
    /// restricts them.
    pub(super) only: Option<Vec<Symbol>>,
    /// It is the coefficient of the highest power or derivative, and so not 0.
    pub(super) leads: bool,
    /// It is a polynomial of bounded degree.
    pub(super) is_bounded: bool,
    /// The conditions that speak of no other hole.
    pub(super) conditions: Vec<usize>,
}

/// A variable.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variable {
    /// As written.
    pub(super) letter: Symbol,
    /// In the body.
    pub(super) name: Symbol,
    /// What kind of letter of the problem it stands for.
    pub(super) role: Role,
}

/// The kinds of variables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A function that is differentiated.
    Unknown,
    /// The variable of an integral, a limit, a sum or a derivative.
    Bound,
    /// A letter of the template.
    Letter,
    /// A letter that only the conditions name: what something depends on.
    Background,
}

/// What a formula is at the top, and what occurs in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Signature {
    pub(crate) form: Form,
    pub(crate) features: u32,
}

/// What a formula is at the top.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Form {
    Equation,
    DifferentialEquation,
    Order,
    System,
    Integral,
    Limit,
    Series,
    Derivative,
    Matrix,
    Expression,
    Other,
}

impl Form {
    /// A formula that a problem asks to solve.
    pub(crate) fn is_solved(self) -> bool {
        matches!(
            self,
            Form::Equation | Form::DifferentialEquation | Form::Order | Form::System
        )
    }
}

impl Template {
    /// Tells holes and variables apart, and renames both in the template and the conditions.
    pub(super) fn new(
        written: Expression,
        mut conditions: Vec<Condition>,
    ) -> (Self, Vec<Condition>) {
        let (canonical, called) = match written.operator() {
            // What is differentiated in a template is a hole, and no function to be found.
            Operator::Derivative(_) => without_calls(&written),
            _ => without_calls(&without_arguments(&written)),
        };
        let roles = roles(&canonical, &conditions, &called);
        let mut holes = Vec::new();
        let mut variables = Vec::new();
        for (letter, role) in roles {
            match role {
                None => holes.push(Hole {
                    name: private('\u{e000}', &letter),
                    // f(x) depends on nothing but x.
                    only: called.get(&letter).map(|arguments| {
                        arguments.iter().map(|a| private('\u{e001}', a)).collect()
                    }),
                    letter,
                    leads: false,
                    is_bounded: false,
                    conditions: Vec::new(),
                }),
                Some(role) => variables.push(Variable {
                    name: private('\u{e001}', &letter),
                    letter,
                    role,
                }),
            }
        }
        let name = |symbol: &Symbol| -> Symbol {
            let hole = holes.iter().find(|hole| hole.letter == *symbol);
            let variable = variables.iter().find(|variable| variable.letter == *symbol);
            match (hole, variable) {
                (Some(hole), _) => hole.name.clone(),
                (_, Some(variable)) => variable.name.clone(),
                _ => symbol.clone(),
            }
        };
        let rename = |expression: &Expression| renamed(expression, &name);
        let body = rename(&canonical);
        for condition in &mut conditions {
            condition.rename(&rename, &name);
        }
        let mut template = Self {
            written,
            signature: Signature::of(&body),
            body,
            holes,
            variables,
        };
        template.read_conditions(&conditions);
        template.find_leading();
        template.signature.features = template.required(&template.body);
        (template, conditions)
    }

    /// The number of the hole that an expression is.
    pub(super) fn hole(&self, expression: &Expression) -> Option<usize> {
        let symbol = expression.as_symbol()?;
        self.holes.iter().position(|hole| hole.name == *symbol)
    }

    /// The holes in an expression.
    fn holes_in(&self, expression: &Expression) -> BTreeSet<usize> {
        expression
            .parts()
            .filter_map(|part| self.hole(part))
            .collect()
    }

    /// How little the template says: less for each operator, more for each hole, by how much may
    /// fill it.
    pub(super) fn generality(&self) -> i32 {
        let operators = self.body.parts().filter(|part| self.hole(part).is_none());
        let holes = self.holes.iter().map(|hole| match &hole.only {
            Some(only) if only.is_empty() => 1,
            Some(_) if hole.is_bounded => 3,
            Some(_) => 8,
            None => 14,
        });
        // Infinity tells more than an operator does.
        let infinite = self
            .body
            .parts()
            .filter(|part| part.as_constant() == Some(Constant::Infinity));
        // Such a formula is known but for its numbers.
        let numbers = match (0..self.holes.len()).all(|hole| self.is_number_hole(hole)) {
            true => 10,
            false => 0,
        };
        holes.sum::<i32>() - numbers - 2 * operators.count() as i32 - 20 * infinite.count() as i32
    }

    fn read_conditions(&mut self, conditions: &[Condition]) {
        for (place, condition) in conditions.iter().enumerate() {
            let mut inside: BTreeSet<usize> = BTreeSet::new();
            for expression in condition.expressions() {
                inside.extend(self.holes_in(expression));
            }
            if let (Some(hole), 1) = (inside.first(), inside.len()) {
                self.holes[*hole].conditions.push(place);
            }
            match condition {
                Condition::Is {
                    subjects,
                    negated: false,
                    predicate,
                } => {
                    let only = match predicate {
                        Predicate::Number
                        | Predicate::Integer
                        | Predicate::Rational
                        | Predicate::Positive
                        | Predicate::Negative
                        | Predicate::Even
                        | Predicate::Odd
                        | Predicate::PerfectSquare
                        | Predicate::PerfectCube
                        | Predicate::PowerOf(_) => Some(Vec::new()),
                        Predicate::DependsOnlyOn(letters) => Some(letters.clone()),
                        Predicate::Polynomial { letter, .. }
                        | Predicate::SumOfBasic { letter, .. }
                        | Predicate::SeveralFactors(letter)
                        | Predicate::ExponentialPolynomial(letter) => Some(vec![letter.clone()]),
                        _ => None,
                    };
                    let plain = |subject: &&Subject| {
                        subject.at.is_none() && !has_derivative(&subject.expression)
                    };
                    for subject in subjects.iter().filter(plain) {
                        // A perfect square of numbers is made of numbers.
                        for hole in self.holes_in(&subject.expression) {
                            let is_alone = self.hole(&subject.expression).is_some();
                            let is_polynomial = matches!(predicate, Predicate::Polynomial { .. });
                            self.holes[hole].is_bounded |= is_alone && is_polynomial;
                            let is_number = only.as_ref().is_some_and(Vec::is_empty);
                            if (is_alone || is_number) && self.holes[hole].only.is_none() {
                                self.holes[hole].only = only.clone();
                            }
                        }
                    }
                }
                Condition::Compare { sides, .. } => {
                    // What is compared is a number.
                    let inside: BTreeSet<usize> = match sides.iter().any(has_derivative) {
                        true => BTreeSet::new(),
                        false => sides.iter().flat_map(|side| self.holes_in(side)).collect(),
                    };
                    for hole in inside {
                        let hole = &mut self.holes[hole];
                        hole.only = Some(hole.only.take().unwrap_or_default());
                    }
                }
                _ => {}
            }
        }
    }

    /// The coefficient of the highest power, or of the highest derivative, in an equation that is
    /// a polynomial in one kernel.
    fn find_leading(&mut self) {
        let Some((left, right)) = self.body.as_equation() else {
            return;
        };
        let mut terms = surface::terms(left);
        surface::collect_terms(right, true, &mut terms);
        let mut ladder: Vec<(i64, Option<usize>)> = Vec::new();
        let mut kernel: Option<Expression> = None;
        for term in &terms {
            let mut rung = 0;
            let mut coefficient = None;
            for factor in &term.factors {
                let Some(base) = factor.base.part() else {
                    // An exponential belongs to the right side of a differential equation.
                    continue;
                };
                let surface::Exponent::Number(exponent) = &factor.exponent else {
                    return;
                };
                if let Some(hole) = self.hole(base).filter(|hole| self.is_number_hole(*hole)) {
                    coefficient = Some(hole);
                    continue;
                }
                let (base, height) = match (base.operator(), base.operands()) {
                    (Operator::Prime(order), [function]) => (function, i64::from(*order)),
                    _ => match exponent.as_i64() {
                        Some(exponent) => (base, exponent),
                        None => return,
                    },
                };
                let is_derived = self.signature.form == Form::DifferentialEquation;
                let is_unknown = |e: &Expression| {
                    self.variables
                        .iter()
                        .any(|v| v.role == Role::Unknown && e.as_symbol() == Some(&v.name))
                };
                match is_derived {
                    true if is_unknown(base) => {
                        let order = match factor.base.part() == Some(base) {
                            true => 0,
                            false => height,
                        };
                        rung = rung.max(order + 1);
                    }
                    // The power of x in an equation of Cauchy and Euler.
                    true => {}
                    false if kernel.as_ref().is_none_or(|kernel| kernel == base) => {
                        kernel = Some(base.clone());
                        rung = height;
                    }
                    false => return,
                }
            }
            ladder.push((rung, coefficient));
        }
        let Some(top) = ladder
            .iter()
            .map(|(rung, _)| *rung)
            .max()
            .filter(|top| *top > 0)
        else {
            return;
        };
        if let [(_, Some(hole))] = ladder
            .iter()
            .filter(|(rung, _)| *rung == top)
            .collect::<Vec<_>>()
            .as_slice()
        {
            self.holes[*hole].leads = true;
        }
    }

    pub(super) fn is_number_hole(&self, hole: usize) -> bool {
        self.holes[hole].only.as_ref().is_some_and(Vec::is_empty)
    }

    /// What must occur in a problem: what does not stand beside a coefficient that may be 0.
    fn required(&self, expression: &Expression) -> u32 {
        let operands = expression.operands();
        let own = match (expression.operator(), operands) {
            // The exponent may be filled by a number.
            (Operator::Power, [base, exponent])
                if base.as_constant() != Some(Constant::E)
                    && !self.holes_in(exponent).is_empty() =>
            {
                0
            }
            _ => feature(expression),
        };
        match expression.operator() {
            Operator::Sum => {
                let terms = operands.iter().filter(|term| {
                    surface::factors(term).factors.iter().all(|factor| {
                        let hole = factor.base.part().and_then(|base| self.hole(base));
                        hole.is_none_or(|hole| self.holes[hole].leads || !self.is_number_hole(hole))
                    })
                });
                terms.fold(own, |all, term| all | self.required(term))
            }
            _ => operands
                .iter()
                .fold(own, |all, operand| all | self.required(operand)),
        }
    }
}

/// A name that no problem can use.
fn private(mark: char, letter: &Symbol) -> Symbol {
    Symbol::new(&format!("{mark}{}", letter.name()))
        .with_subscript(letter.subscript())
        .with_style(letter.style())
        .with_accent(letter.accent())
}

/// Every occurrence of letters renamed, bound ones too.
pub(super) fn renamed(expression: &Expression, name: &impl Fn(&Symbol) -> Symbol) -> Expression {
    match expression.as_symbol() {
        Some(symbol) => {
            let new = name(symbol);
            match new == *symbol {
                true => expression.clone(),
                false => Expression::new(Operator::Symbol(new), []),
            }
        }
        None => expression.map_operands(|operand| renamed(operand, name)),
    }
}

/// `y(x)` and `\frac{dy}{dx}` as `y` and `y'`, where the function is differentiated somewhere.
pub(crate) fn without_arguments(expression: &Expression) -> Expression {
    let mut unknowns: BTreeSet<Symbol> = BTreeSet::new();
    for part in expression.parts() {
        let function = match (part.operator(), part.operands()) {
            (Operator::Prime(_), [function]) => function,
            (Operator::Derivative(by), [function, _]) if by.orders.len() == 1 => function,
            _ => continue,
        };
        let name = match (function.operator(), function.operands()) {
            (Operator::Apply, [name, arguments @ ..])
                if arguments.iter().all(|a| a.as_symbol().is_some()) =>
            {
                name.as_symbol()
            }
            _ => function.as_symbol(),
        };
        unknowns.extend(name.cloned());
    }
    match unknowns.is_empty() {
        true => expression.clone(),
        false => plain(expression, &unknowns),
    }
}

fn plain(expression: &Expression, unknowns: &BTreeSet<Symbol>) -> Expression {
    let is_unknown = |e: &Expression| e.as_symbol().is_some_and(|s| unknowns.contains(s));
    let expression = expression.map_operands(|operand| plain(operand, unknowns));
    match (expression.operator(), expression.operands()) {
        (Operator::Apply, [function, arguments @ ..])
            if arguments.iter().all(|a| a.as_symbol().is_some()) =>
        {
            match (function.operator(), function.operands()) {
                (Operator::Symbol(_), _) if is_unknown(function) => function.clone(),
                (Operator::Prime(_), [inner]) if is_unknown(inner) => function.clone(),
                _ => expression.clone(),
            }
        }
        (Operator::Derivative(by), [function, _])
            if by.orders.len() == 1 && !by.partial && is_unknown(function) =>
        {
            Expression::new(Operator::Prime(by.orders[0]), [function.clone()])
        }
        _ => expression,
    }
}

/// `f(x)` as f, and what each such function depends on.
fn without_calls(expression: &Expression) -> (Expression, BTreeMap<Symbol, Vec<Symbol>>) {
    let mut called: BTreeMap<Symbol, Vec<Symbol>> = BTreeMap::new();
    for part in expression.parts() {
        if let (Operator::Apply, [function, arguments @ ..]) = (part.operator(), part.operands())
            && let Some(function) = function.as_symbol()
        {
            let letters: Option<Vec<Symbol>> =
                arguments.iter().map(|a| a.as_symbol().cloned()).collect();
            if let Some(letters) = letters {
                called.entry(function.clone()).or_default().extend(letters);
            }
        }
    }
    if called.is_empty() {
        return (expression.clone(), called);
    }
    fn replace(expression: &Expression, called: &BTreeMap<Symbol, Vec<Symbol>>) -> Expression {
        if let (Operator::Apply, [function, arguments @ ..]) =
            (expression.operator(), expression.operands())
            && function.as_symbol().is_some_and(|f| called.contains_key(f))
            && arguments.iter().all(|a| a.as_symbol().is_some())
        {
            return function.clone();
        }
        expression.map_operands(|operand| replace(operand, called))
    }
    (replace(expression, &called), called)
}

/// The letters of a template and conditions, each with its role as a variable, or none for a hole.
fn roles(
    template: &Expression,
    conditions: &[Condition],
    called: &BTreeMap<Symbol, Vec<Symbol>>,
) -> Vec<(Symbol, Option<Role>)> {
    let mut unknowns: BTreeSet<Symbol> = BTreeSet::new();
    let mut bound: BTreeSet<Symbol> = BTreeSet::new();
    let mut letters: Vec<Symbol> = Vec::new();
    let mut anything: BTreeSet<Symbol> = BTreeSet::new();
    for part in template.parts() {
        let operands = part.operands();
        let symbols = |operands: &[Expression]| -> Vec<Symbol> {
            operands
                .iter()
                .filter_map(|o| o.as_symbol().cloned())
                .collect()
        };
        match part.operator() {
            Operator::Symbol(symbol) if !letters.contains(symbol) => letters.push(symbol.clone()),
            Operator::Prime(_) | Operator::NthPrime => unknowns.extend(symbols(&operands[..1])),
            Operator::Derivative(_) => bound.extend(symbols(&operands[1..])),
            Operator::Differential => bound.extend(symbols(operands)),
            Operator::Integral(integration) => {
                let variables = integration.variables as usize;
                bound.extend(symbols(&operands[1..=variables.min(operands.len() - 1)]));
                if integration.bounds == Bounds::Between {
                    anything.extend(symbols(&operands[1 + variables..]));
                }
            }
            Operator::Limit(_) => {
                bound.extend(symbols(&operands[1..2]));
                anything.extend(symbols(&operands[2..]));
            }
            Operator::Series(..) => {
                bound.extend(symbols(part.bound_variables()));
                anything.extend(symbols(operands.get(2..).unwrap_or_default()));
            }
            _ => {}
        }
    }
    let mut subjects: BTreeSet<Symbol> = BTreeSet::new();
    let mut background: Vec<Symbol> = called.values().flatten().cloned().collect();
    subjects.extend(called.keys().cloned());
    for condition in conditions {
        if let Condition::Is { predicate, .. } = condition {
            match predicate {
                Predicate::DependsOn(by) | Predicate::DependsOnlyOn(by) => {
                    background.extend(by.iter().cloned());
                }
                Predicate::Polynomial { letter, .. }
                | Predicate::SumOfBasic { letter, .. }
                | Predicate::SeveralFactors(letter)
                | Predicate::ExponentialPolynomial(letter) => background.push(letter.clone()),
                _ => {}
            }
        }
        for expression in condition.expressions() {
            subjects.extend(expression.free_symbols());
        }
    }
    for letter in &background {
        if !letters.contains(letter) {
            letters.push(letter.clone());
        }
    }
    let occurs = |letter: &Symbol| template.mentions(letter);
    letters
        .into_iter()
        .map(|letter| {
            let role = match () {
                () if unknowns.contains(&letter)
                    && !background_only(&letter, &subjects, &background) =>
                {
                    Some(Role::Unknown)
                }
                () if bound.contains(&letter) => Some(Role::Bound),
                () if background.contains(&letter) => match occurs(&letter) {
                    true => Some(Role::Letter),
                    false => Some(Role::Background),
                },
                () if subjects.contains(&letter) || anything.contains(&letter) => None,
                () => Some(Role::Letter),
            };
            (letter, role)
        })
        .collect()
}

/// A primed letter of which a condition speaks is a hole such as f in f', unless something depends
/// on it.
fn background_only(letter: &Symbol, subjects: &BTreeSet<Symbol>, background: &[Symbol]) -> bool {
    subjects.contains(letter) && !background.contains(letter)
}

impl Signature {
    /// What a formula is, and everything that occurs in it.
    pub(crate) fn of(expression: &Expression) -> Self {
        Self {
            form: form(expression),
            features: expression.parts().fold(0, |all, part| all | feature(part)),
        }
    }

    /// A problem with the other signature has what this one asks for.
    pub(crate) fn fits(self, problem: Self) -> bool {
        self.form == problem.form && self.features & !problem.features == 0
    }
}

fn form(expression: &Expression) -> Form {
    let has = |test: fn(&Operator) -> bool| expression.parts().any(|part| test(part.operator()));
    match expression.operator() {
        Operator::Relation(relations) => match relations.as_slice() {
            [Relation::Equal] => {
                let is_differential = |operator: &Operator| {
                    matches!(operator, Operator::Prime(_) | Operator::Derivative(_))
                };
                let has_differentials =
                    |operator: &Operator| matches!(operator, Operator::Differential);
                match has(is_differential) || has(has_differentials) {
                    true => Form::DifferentialEquation,
                    false => Form::Equation,
                }
            }
            relations
                if relations.iter().all(|relation| {
                    matches!(
                        relation,
                        Relation::Less
                            | Relation::LessOrEqual
                            | Relation::Greater
                            | Relation::GreaterOrEqual
                    )
                }) =>
            {
                Form::Order
            }
            _ => Form::Other,
        },
        Operator::System => Form::System,
        Operator::Integral(_) => Form::Integral,
        Operator::Limit(_) => Form::Limit,
        Operator::Series(..) => Form::Series,
        Operator::Derivative(_) => Form::Derivative,
        _ if has(|operator| matches!(operator, Operator::Matrix(_))) => Form::Matrix,
        Operator::List | Operator::Tuple(_) | Operator::Logic(_) => Form::Other,
        _ => Form::Expression,
    }
}

/// The feature of one part.
fn feature(part: &Expression) -> u32 {
    let operands = part.operands();
    match part.operator() {
        Operator::Prime(1) => 1,
        Operator::Prime(_) => 1 << 1,
        Operator::Differential => 1 << 2,
        Operator::Root | Operator::NthRoot => 1 << 3,
        Operator::Power => match operands {
            [base, exponent] => match surface::number(exponent) {
                Some(exponent) if !exponent.is_integer() => 1 << 3,
                Some(_) => 0,
                None if base.as_constant() == Some(Constant::E) => 1 << 4 | 1 << 5,
                None => 1 << 5,
            },
            _ => 0,
        },
        Operator::Function(function) => match function {
            Function::Exp => 1 << 4 | 1 << 5,
            Function::Sin => 1 << 6,
            Function::Cos => 1 << 7,
            Function::Tan => 1 << 8,
            Function::Cot | Function::Sec | Function::Csc => 1 << 9,
            Function::Ln | Function::Log | Function::LogBase => 1 << 10,
            Function::Abs => 1 << 11,
            Function::Factorial => 1 << 12,
            Function::Determinant => 1 << 13,
            Function::Arcsin | Function::Arccos | Function::Arctan => 1 << 14,
            Function::Sinh | Function::Cosh | Function::Tanh => 1 << 15,
            Function::Rank | Function::Trace | Function::Transpose => 1 << 16,
            _ => 1 << 17,
        },
        Operator::Matrix(_) => 1 << 18,
        Operator::Integral(_) => 1 << 19,
        Operator::Limit(_) => 1 << 20,
        Operator::Series(..) => 1 << 21,
        Operator::Derivative(_) => 1 << 22,
        Operator::Piecewise => 1 << 23,
        _ => 0,
    }
}
