//! Is this the right answer about a function, a formula or a figure that it describes?
//!
//! The words of the problem say what is asked: a domain, an inverse, a vertex, a line through two
//! points. Each has a test of its own, which looks at the function itself.

pub(super) mod figures;
mod forms;
pub(super) mod sets;

use std::collections::BTreeSet;

use super::answer::Answer;
use super::equivalence::{self, Equivalence};
use super::question::Question;
use super::{Verdict, equations, expressions};
use crate::expression::{Constant, Expression, Function, Operator, Relation, Symbol};

/// The verdict for a problem whose formula alone does not say what is asked.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    let givens = Givens::new(question);
    let asks = |phrases: &[&str]| question.says(phrases);
    if asks(&[
        "even, odd",
        "even or odd",
        "is even",
        "is odd",
        "one-to-one",
        "is a function",
    ]) {
        return Verdict::cannot_tell("what is asked is not checked");
    }
    let asks_inverse = givens.expressions.iter().any(|e| {
        matches!(e.operator(), Operator::Apply)
            && matches!(e.operands()[0].operator(), Operator::InverseFunction)
            && e.operands()[1].as_symbol().is_some()
    });
    if (asks(&["inverse"]) || asks_inverse)
        && let Some(verdict) = inverse(&givens, question, answer)
    {
        return verdict;
    }
    if asks(&["domain"])
        && !asks(&["range"])
        && let Some(verdict) = sets::domain(&givens, question, answer)
    {
        return verdict;
    }
    if asks(&["range"])
        && !asks(&["domain", "interquartile"])
        && let Some(verdict) = sets::range(&givens, question, answer)
    {
        return verdict;
    }
    if let Some(verdict) = figures::judge(&givens, question, answer) {
        return verdict;
    }
    if let Some(verdict) = forms::judge(&givens, question, answer) {
        return verdict;
    }
    if asks(&["possible rational", "potential rational"]) {
        return possible_zeros(&givens, answer)
            .unwrap_or_else(|| Verdict::cannot_tell("what is asked is not understood"));
    }
    if asks(&["zero", "root", "solution"])
        && let Some(body) = givens.body()
    {
        let zero = Expression::equation(body.clone(), Expression::integer(0));
        return equations::judge_formula(question, &zero, answer);
    }
    if let Some(verdict) = value_of_function(&givens, question, answer) {
        return verdict;
    }
    let Some(main) = &question.problem.main else {
        // A bare number or letter is no formula to go by, unless it is all there is.
        return match givens.expressions.as_slice() {
            [only] if givens.equations.is_empty() && is_asked_for_a_form(question) => {
                expressions::judge_expression(question, only, answer)
            }
            _ => Verdict::cannot_tell("what is asked is not understood"),
        };
    };
    if main.as_equation().is_some() && is_solved_for_a_letter(question, answer) {
        return equations::judge(question, answer);
    }
    let solves = asks(&["solve", "find x", "solution"]) || question.words.trim().is_empty();
    if matches!(
        main.operator(),
        Operator::Relation(_) | Operator::System | Operator::Logic(_)
    ) && solves
    {
        return equations::judge(question, answer);
    }
    if super::claims::is_number_form(main) && !has_other_task(question) {
        return match expressions::judge_expression(question, main, answer) {
            Verdict::Fails { .. } if !is_asked_for_a_form(question) => {
                Verdict::cannot_tell("what is asked is not understood")
            }
            verdict => verdict,
        };
    }
    Verdict::cannot_tell("what is asked is not understood")
}

/// The verdict for a question about numbers or polynomials that the words name: a common divisor,
/// a remainder, a distance.
pub(super) fn judge_words(question: &Question, answer: &Answer) -> Option<Verdict> {
    let names = [
        "greatest common",
        "gcf",
        "gcd",
        "least common",
        "lcm",
        "remainder when",
        "the remainder",
        "discriminant",
        "distance between",
        "midpoint",
    ];
    let givens = Givens::new(question);
    if !givens.functions.is_empty()
        && let Some(verdict) = value_of_function(&givens, question, answer)
    {
        return Some(verdict);
    }
    if !question.says(&names) {
        return None;
    }
    figures::judge(&givens, question, answer).or_else(|| forms::judge(&givens, question, answer))
}

/// The words ask for another form of the formula, or say nothing.
fn is_asked_for_a_form(question: &Question) -> bool {
    question.words.trim().is_empty()
        || question.says(&[
            "simplif",
            "write",
            "express",
            "rewrite",
            "combine",
            "expand",
            "factor",
            "multiply",
            "divide",
            "add",
            "subtract",
            "perform",
            "evaluate",
            "convert",
            "reduce",
            "find the exact",
            "find the value",
            "calculate",
            "compute",
            "rationalize",
            "condense",
            "term",
            "quotient",
            "product of",
            "sum of",
            "difference",
            "complete the square",
            "decompos",
            "polar form",
            "scientific",
            "use ",
            "propert",
            "theorem",
            "power",
            "modulus",
            "conjugate",
            "reciprocal",
            "opposite",
            "additive inverse",
            "percent",
            "decimal",
            "fraction",
            "lowest terms",
            "prime factor",
            "rectangular form",
            "standard form",
            "approximate",
            "round",
            "find each",
            "find the product",
        ])
}

/// The words ask for something that is not the formula itself.
fn has_other_task(question: &Question) -> bool {
    question.says(&[
        "degree of",
        "leading coefficient",
        "how many",
        "number of",
        "identify",
        "describe",
        "classify",
        "probability",
        "graph",
    ])
}

/// What a problem gives: functions by their formulas, other equations, points, numbers.
#[derive(Clone, Debug)]
pub(super) struct Givens {
    /// `f(x) = …`: the name, the argument letters, the formula.
    pub(super) functions: Vec<(Symbol, Vec<Symbol>, Expression)>,
    /// Equations that define no function by name, such as `y = x^2` or `x^2 + y^2 = 4`.
    pub(super) equations: Vec<(Expression, Expression)>,
    /// Points and vectors.
    pub(super) points: Vec<Vec<Expression>>,
    /// Formulas that are no statements.
    pub(super) expressions: Vec<Expression>,
}

impl Givens {
    pub(super) fn new(question: &Question) -> Self {
        let mut givens = Self {
            functions: Vec::new(),
            equations: Vec::new(),
            points: Vec::new(),
            expressions: Vec::new(),
        };
        let problem = &question.problem;
        for formula in problem.main.iter().chain(&problem.conditions) {
            givens.add(formula);
        }
        givens
    }

    fn add(&mut self, formula: &Expression) {
        match (formula.operator(), formula.operands()) {
            (Operator::List | Operator::System, parts)
            | (Operator::Logic(crate::expression::Connective::And), parts) => {
                parts.iter().for_each(|part| self.add(part));
            }
            (Operator::Tuple(_), parts) => self.points.push(parts.to_vec()),
            (Operator::Relation(relations), [left, right]) if relations[0] == Relation::Equal => {
                match (left.operator(), left.operands()) {
                    (Operator::Apply, [name, arguments @ ..]) => {
                        let letters: Option<Vec<Symbol>> =
                            arguments.iter().map(|a| a.as_symbol().cloned()).collect();
                        match (name.as_symbol(), letters) {
                            (Some(name), Some(letters)) => {
                                self.functions.push((name.clone(), letters, right.clone()));
                            }
                            _ => self.equations.push((left.clone(), right.clone())),
                        }
                    }
                    _ => self.equations.push((left.clone(), right.clone())),
                }
            }
            (Operator::Relation(_) | Operator::Logic(_), _) => {}
            _ => self.expressions.push(formula.clone()),
        }
    }

    /// The formula of the only function: of `f(x) = …`, of `y = …`, or a formula alone.
    pub(super) fn body(&self) -> Option<&Expression> {
        match (self.functions.as_slice(), self.equations.as_slice()) {
            ([(_, _, body)], _) => Some(body),
            ([], [(left, right)])
                if left
                    .as_symbol()
                    .is_some_and(|letter| !right.mentions(letter)) =>
            {
                Some(right)
            }
            ([], []) => match self.expressions.as_slice() {
                [body] if super::claims::is_number_form(body) => Some(body),
                _ => None,
            },
            _ => None,
        }
    }

    /// The letter that the only function varies with.
    pub(super) fn letter(&self) -> Option<Symbol> {
        if let [(_, letters, _)] = self.functions.as_slice() {
            return letters.first().cloned();
        }
        let free = self.body()?.free_symbols();
        match free.len() {
            1 => free.into_iter().next(),
            _ => free.into_iter().find(|letter| letter.name() == "x"),
        }
    }

    /// An expression with every named function replaced by its formula.
    pub(super) fn unfold(&self, expression: &Expression) -> Expression {
        self.unfold_within(expression, 8)
    }

    fn unfold_within(&self, expression: &Expression, depth: u32) -> Expression {
        let changed = expression.map_operands(|operand| self.unfold_within(operand, depth));
        if depth == 0 || changed.size() > 2_000 {
            return changed;
        }
        match (changed.operator(), changed.operands()) {
            (Operator::Apply, [function, arguments @ ..]) => {
                match self.applied(function, arguments) {
                    Some(value) => self.unfold_within(&value, depth - 1),
                    None => changed,
                }
            }
            _ => changed,
        }
    }

    /// The value of a function, or of a combination of functions, at arguments.
    fn applied(&self, function: &Expression, arguments: &[Expression]) -> Option<Expression> {
        let each = |parts: &[Expression]| -> Option<Vec<Expression>> {
            parts
                .iter()
                .map(|part| self.applied(part, arguments))
                .collect()
        };
        match (function.operator(), function.operands()) {
            (Operator::Symbol(name), _) => {
                let (_, letters, body) = self.functions.iter().find(|(known, letters, _)| {
                    known == name && letters.len() == arguments.len()
                })?;
                // Through letters of their own, so that f(y) of x and y is not mixed up.
                let marks: Vec<Symbol> = (0..letters.len())
                    .map(|place| Symbol::new("□").with_subscript(&place.to_string()))
                    .collect();
                let mut value = body.clone();
                for (letter, mark) in letters.iter().zip(&marks) {
                    let mark = Expression::new(Operator::Symbol(mark.clone()), []);
                    value = value.substitute(letter, &mark);
                }
                for (mark, argument) in marks.iter().zip(arguments) {
                    value = value.substitute(mark, argument);
                }
                Some(value)
            }
            (Operator::Composition, [outer @ .., inner]) => {
                let value = self.applied(inner, arguments)?;
                outer
                    .iter()
                    .rev()
                    .try_fold(value, |value, function| self.applied(function, &[value]))
            }
            (Operator::Sum, parts) => Some(Expression::sum(each(parts)?)),
            (Operator::Product, parts) => Some(Expression::product(each(parts)?)),
            (Operator::Negative, [part]) => {
                Some(Expression::negative(self.applied(part, arguments)?))
            }
            (Operator::Fraction, [above, below]) => Some(Expression::fraction(
                self.applied(above, arguments)?,
                self.applied(below, arguments)?,
            )),
            (Operator::Number(_), _) => Some(function.clone()),
            _ => None,
        }
    }
}

/// The right side of an equation, or the formula itself.
pub(super) fn right_of(formula: &Expression) -> &Expression {
    match formula.operator() {
        Operator::Relation(_) => formula.operands().last().unwrap_or(formula),
        _ => formula,
    }
}

/// The verdict for two expressions that should be equal.
pub(super) fn equal(question: &Question, exact: &Expression, claimed: &Expression) -> Verdict {
    if exact.as_symbol().is_some() && claimed.free_symbols().is_empty() {
        // "For which k ...": the letter is what is to be found.
        return Verdict::cannot_tell("the answer gives a letter its value");
    }
    if let Some(stranger) = stranger(question, exact, claimed) {
        return Verdict::cannot_tell(format!(
            "the letter {} in the answer is not in the problem",
            equivalence::name(&stranger)
        ));
    }
    let found = match exact.free_symbols().is_empty() && claimed.free_symbols().is_empty() {
        true => equivalence::compare_rounded(exact, claimed, question.is_rounded()),
        false => equivalence::compare(exact, claimed),
    };
    match found {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => Verdict::fails_at("it is another value", witness),
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    }
}

/// A letter of an answer that neither the value nor any formula of the problem has.
fn stranger(question: &Question, exact: &Expression, claimed: &Expression) -> Option<Symbol> {
    let problem = &question.problem;
    let known = |letter: &Symbol| {
        exact.mentions(letter)
            || problem
                .main
                .iter()
                .chain(&problem.conditions)
                .any(|formula| formula.mentions(letter))
    };
    let free = claimed.free_symbols().into_iter();
    let mut strangers = free.filter(|letter| !known(letter) && letter.name() != "□");
    strangers.next()
}

/// "Find f(2)", "find (f ∘ g)(x)".
fn value_of_function(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    // "The remainder when f(x) is divided by …" names a function, but asks for no value of it.
    if givens.functions.is_empty() || question.says(&["remainder when"]) {
        return None;
    }
    let asked: Vec<&Expression> = givens
        .expressions
        .iter()
        .filter(|e| {
            e.parts()
                .any(|part| matches!(part.operator(), Operator::Apply))
        })
        .collect();
    let from_answer = answer.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        matches!(left.operator(), Operator::Apply).then_some((left, right))
    });
    let pairs: Vec<(Expression, Expression)> = match asked.as_slice() {
        [] => {
            let found: Vec<_> = from_answer.map(|(l, r)| (l.clone(), r.clone())).collect();
            let difference_quotient = question.says(&["difference quotient"]);
            match (
                found.is_empty(),
                difference_quotient,
                answer.formulas.as_slice(),
            ) {
                (true, true, [only]) => vec![(quotient(givens)?, only.clone())],
                (true, false, [only]) => vec![(at_given_place(givens)?, right_of(only).clone())],
                _ => found,
            }
        }
        list if list.len() == answer.formulas.len() => list
            .iter()
            .map(|e| (*e).clone())
            .zip(answer.formulas.iter().map(|f| right_of(f).clone()))
            .collect(),
        [only] => match answer.outcome() {
            Some(super::answer::Outcome::Undefined) => {
                let value = givens.unfold(only);
                return Some(expressions::judge_expression(question, &value, answer));
            }
            _ => return None,
        },
        _ => return None,
    };
    if pairs.is_empty() {
        return None;
    }
    let mut all = Verdict::Holds;
    for (asked, claimed) in pairs {
        let value = givens.unfold(&asked);
        if value
            .parts()
            .any(|part| matches!(part.operator(), Operator::Apply | Operator::InverseFunction))
        {
            return None;
        }
        match equal(question, &value, &claimed) {
            Verdict::Holds => {}
            Verdict::Fails { witness, .. } => {
                return Some(Verdict::Fails {
                    reason: format!("{} is another value", equations::shown(&asked)),
                    witness,
                });
            }
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// "Evaluate f at x = 3": the formula with the given value.
fn at_given_place(givens: &Givens) -> Option<Expression> {
    let [(_, letters, body)] = givens.functions.as_slice() else {
        return None;
    };
    let x = letters.first()?;
    let (_, value) = givens
        .equations
        .iter()
        .find(|(left, right)| left.as_symbol() == Some(x) && right.free_symbols().is_empty())?;
    Some(body.substitute(x, value))
}

/// (f(x + h) - f(x)) / h.
fn quotient(givens: &Givens) -> Option<Expression> {
    let [(_, letters, body)] = givens.functions.as_slice() else {
        return None;
    };
    let x = letters.first()?;
    let h = Expression::symbol("h");
    let here = Expression::new(Operator::Symbol(x.clone()), []);
    let moved = body.substitute(x, &Expression::sum([here, h.clone()]));
    Some(Expression::fraction(
        Expression::difference(moved, body.clone()),
        h,
    ))
}

/// "Find the inverse function".
fn inverse(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let body = givens.body()?;
    let x = givens.letter()?;
    if answer.outcome().is_some() || answer.says(&["not one-to-one", "no inverse"]) {
        return Some(Verdict::cannot_tell(
            "whether there is an inverse is not checked",
        ));
    }
    let claimed = right_of(
        answer
            .formulas
            .iter()
            .find(|f| !matches!(f.as_relation(), Some((_, r, _)) if r != Relation::Equal))?,
    );
    if claimed
        .parts()
        .any(|p| matches!(p.operator(), Operator::Function(Function::Erf)))
    {
        return None;
    }
    let free = claimed.free_symbols();
    let letter = match free.len() {
        1 => free.into_iter().next()?,
        0 => return Some(Verdict::fails_at("it is no inverse", "it is a constant")),
        _ => return Some(Verdict::cannot_tell("the inverse has more than one letter")),
    };
    let same = Expression::new(Operator::Symbol(letter.clone()), []);
    // f(g(x)) = x wherever g is defined; and g(f(x)) = x where a restriction is given.
    let forward = body.substitute(&x, claimed);
    match equivalence::compare(&forward, &same) {
        Equivalence::Equal => {}
        Equivalence::Different(witness) => {
            return Some(Verdict::fails_at("f of the inverse is not x", witness));
        }
        Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
    }
    let variable = Expression::new(Operator::Symbol(x.clone()), []);
    let restrictions: Vec<Expression> = question
        .problem
        .conditions
        .iter()
        .chain(&givens.expressions)
        .filter_map(|c| match (c.operator(), c.operands()) {
            (Operator::Relation(_), _) if c.mentions(&x) => Some(c.clone()),
            // `[4, ∞)` beside the formula says where it holds.
            (Operator::Interval(ends), [low, high]) => {
                let bound = |closed: bool| match closed {
                    true => Relation::LessOrEqual,
                    false => Relation::Less,
                };
                let sides = [
                    (!is_infinite(low)).then(|| {
                        Expression::relation(
                            low.clone(),
                            bound(ends.lower_closed),
                            variable.clone(),
                        )
                    }),
                    (!is_infinite(high)).then(|| {
                        Expression::relation(
                            variable.clone(),
                            bound(ends.upper_closed),
                            high.clone(),
                        )
                    }),
                ];
                let sides: Vec<Expression> = sides.into_iter().flatten().collect();
                match sides.len() {
                    0 => None,
                    1 => sides.into_iter().next(),
                    _ => Some(Expression::new(
                        Operator::Logic(crate::expression::Connective::And),
                        sides,
                    )),
                }
            }
            _ => None,
        })
        .collect();
    let restrictions: Vec<&Expression> = restrictions.iter().collect();
    if restrictions.is_empty() {
        // "x ≥ 0" beside the inverse: it is defined where the function has its values.
        let y = Expression::symbol(if x.name() == "y" { "x" } else { "y" });
        let stated: Vec<Expression> = answer
            .formulas
            .iter()
            .filter(|f| matches!(f.as_relation(), Some((_, r, _)) if r != Relation::Equal))
            .map(|f| f.substitute(&letter, &y))
            .collect();
        if !stated.is_empty() && question.says(&["domain"]) {
            let stated = Answer {
                formulas: stated,
                ..Answer::default()
            };
            if let Some(Verdict::Fails { witness, .. }) = sets::range(givens, question, &stated) {
                return Some(Verdict::Fails {
                    reason: "the inverse has another domain".into(),
                    witness,
                });
            }
        }
        return Some(Verdict::Holds);
    }
    let back = claimed.substitute(&letter, body);
    let same = Expression::new(Operator::Symbol(x), []);
    Some(
        match equivalence::compare_where(&back, &same, &restrictions) {
            Equivalence::Different(witness) => {
                Verdict::fails_at("the inverse of f(x) is not x", witness)
            }
            _ => Verdict::Holds,
        },
    )
}

/// The numbers ± p/q where p divides the constant term and q the leading coefficient.
fn possible_zeros(givens: &Givens, answer: &Answer) -> Option<Verdict> {
    use crate::rational::Rational;
    let letter = givens.letter()?;
    let body = crate::normal_form::normal(givens.body()?).ok()?;
    let polynomial = crate::views::univariate(&body, &letter)?;
    let whole_number = |r: Rational| r.as_i64().map(i64::unsigned_abs).filter(|n| *n <= 100_000);
    let divisors = |n: u64| (1..=n).filter(move |d| n.is_multiple_of(*d));
    let last = whole_number(polynomial.coefficient(0)).filter(|n| *n > 0)?;
    let lead = whole_number(polynomial.leading().clone())?;
    let mut wanted: BTreeSet<Rational> = BTreeSet::new();
    for p in divisors(last) {
        for q in divisors(lead) {
            let value = Rational::fraction(p as i64, q as i64);
            wanted.insert(-value.clone());
            wanted.insert(value);
        }
    }
    let mut claimed: BTreeSet<Rational> = BTreeSet::new();
    for formula in &answer.formulas {
        let value = right_of(formula);
        let members = match value.operator() {
            Operator::Set | Operator::List => value.operands().to_vec(),
            _ => vec![value.clone()],
        };
        for member in members {
            for value in super::answer::with_signs(&member, false) {
                claimed.insert(crate::evaluate::exact(&value, &Default::default())?.into());
            }
        }
    }
    if claimed.is_empty() {
        return None;
    }
    Some(
        match (
            wanted.difference(&claimed).next(),
            claimed.difference(&wanted).next(),
        ) {
            (None, None) => Verdict::Holds,
            (_, Some(value)) => Verdict::fails_at(
                "a number is not possible",
                format!("{value} is no quotient of divisors of {last} and {lead}"),
            ),
            (Some(value), None) => Verdict::fails_at("a number is missing", format!("{value}")),
        },
    )
}

/// The problem is one equation in several letters, and the answer gives one of them by the others.
fn is_solved_for_a_letter(question: &Question, answer: &Answer) -> bool {
    let Some(main) = &question.problem.main else {
        return false;
    };
    let free: BTreeSet<Symbol> = main.free_symbols();
    answer.formulas.iter().any(|formula| {
        formula.as_equation().is_some_and(|(left, right)| {
            left.as_symbol()
                .is_some_and(|letter| free.contains(letter) && !right.mentions(letter))
                && formula != main
        })
    })
}

/// A number as an expression.
pub(super) fn whole(value: i64) -> Expression {
    Expression::integer(value)
}

/// An infinite end is written with this sign.
pub(super) fn is_infinite(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| part.as_constant() == Some(Constant::Infinity))
}
