//! Is this the same expression in another form?
//!
//! Any equal expression is right, unless the words ask for a form that can be told by its looks
//! alone, as a factored one.

use std::collections::BTreeMap;

use super::Verdict;
use super::answer::{self, Answer, Outcome};
use super::equivalence::{self, Equivalence, Value};
use super::interval::{Outside, Reading};
use super::question::Question;
use super::substitution;
use crate::expression::{Constant, Expression, Function, Operator, Relation, SeriesRange, Symbol};
use crate::normal_form::{self, Polynomial, Unfit};
use crate::print;
use crate::rational::Rational;
use crate::univariate::Univariate;

/// The verdict for an expression that is to be brought into another form or computed.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    match &question.problem.main {
        Some(main) => judge_expression(question, main, answer),
        None => Verdict::cannot_tell("there is no formula to go by"),
    }
}

/// The verdict for a finite sum that is to be computed.
pub(super) fn judge_sum(question: &Question, answer: &Answer) -> Verdict {
    let is_finite = |main: &Expression| {
        main.parts().all(|part| match part.operator() {
            Operator::Series(_, range) => *range == SeriesRange::Between,
            Operator::Constant(constant) => *constant != Constant::Infinity,
            Operator::Relation(_) | Operator::Ellipsis | Operator::Limit(_) => false,
            _ => true,
        })
    };
    match &question.problem.main {
        Some(main) if is_finite(main) && !question.says(&["converge", "diverge"]) => {
            judge_expression(question, main, answer)
        }
        _ => Verdict::cannot_tell("what is asked is not understood"),
    }
}

/// The verdict for an answer to "what is this expression?".
pub(super) fn judge_expression(question: &Question, main: &Expression, answer: &Answer) -> Verdict {
    let main = &with_given_values(question, main, answer);
    let main = &match quantity(question, main) {
        Ok(quantity) => quantity,
        Err(()) => return Verdict::cannot_tell("what is asked is not understood"),
    };
    match answer.outcome() {
        Some(Outcome::Undefined | Outcome::Nothing) => return undefined(main),
        Some(Outcome::Prime) => return prime(main),
        Some(Outcome::Everything | Outcome::InfinitelyMany) => {
            return Verdict::cannot_tell("the answer is not an expression");
        }
        None => {}
    }
    if let Operator::List = main.operator() {
        return several(question, main.operands(), answer);
    }
    // Remarks such as `x ≠ 3` restrict the letters and are no answers themselves.
    // `x ≠ −5, 3` is one remark, so that what follows one belongs to it.
    let all = answer.formulas.iter();
    let mut formulas: Vec<&Expression> = match answer.formulas.first() {
        Some(first) if is_restriction(first) => all.filter(|f| !is_restriction(f)).collect(),
        _ => all.take_while(|formula| !is_restriction(formula)).collect(),
    };
    // "where x ≠ 0": a letter in words.
    if formulas.len() > 1 && answer.says(&["where", "for", "when", "if"]) {
        formulas.truncate(1);
    }
    match formulas.as_slice() {
        [] => Verdict::cannot_tell("the answer has no formula"),
        [given] => one(question, main, given),
        [quotient, rest]
            if answer.says(&["remainder", "rem"])
                || is_called(quotient, "q") && is_called(rest, "r") =>
        {
            with_remainder(main, quotient, rest)
        }
        _ => Verdict::cannot_tell("the answer is not one formula"),
    }
}

/// What the words ask of an expression, where that is not the expression itself; an error if it is
/// something that is not computed here.
fn quantity(question: &Question, main: &Expression) -> Result<Expression, ()> {
    let asks = |phrases: &[&str]| question.says(phrases);
    let is_complex = main
        .parts()
        .any(|part| part.as_constant() == Some(Constant::I));
    let not_computed = [
        "argument of",
        "the argument",
        "degree of",
        "leading coefficient",
        "the coefficient",
        "constant term",
        "perimeter",
        "the area",
        "the volume",
        "how many",
        "translate",
        "reference angle",
        "quadrant",
        "coterminal",
    ];
    Ok(match () {
        () if asks(&not_computed) => return Err(()),
        () if asks(&["modulus"]) || is_complex && asks(&["absolute value", "magnitude"]) => {
            Expression::function(Function::Abs, main.clone())
        }
        () if is_complex && asks(&["and its conjugate", "and its complex conjugate"]) => {
            let conjugate = Expression::function(Function::Conjugate, main.clone());
            match (asks(&["product"]), asks(&["sum"])) {
                (true, false) => Expression::product([main.clone(), conjugate]),
                (false, true) => Expression::sum([main.clone(), conjugate]),
                _ => return Err(()),
            }
        }
        () if is_complex
            && asks(&["conjugate of", "complex conjugate", "the conjugate"])
            && matches!(main.operator(), Operator::Sum | Operator::Product) =>
        {
            Expression::function(Function::Conjugate, main.clone())
        }
        () if asks(&["reciprocal of", "the reciprocal", "multiplicative inverse"]) => {
            Expression::fraction(Expression::integer(1), main.clone())
        }
        () if asks(&["the opposite", "additive inverse"]) => Expression::negative(main.clone()),
        () => main.clone(),
    })
}

/// A remark on which values the letters may have.
fn is_restriction(formula: &Expression) -> bool {
    match formula.operator() {
        Operator::Relation(relations) => relations.iter().all(|relation| {
            matches!(
                relation,
                Relation::NotEqual
                    | Relation::Less
                    | Relation::LessOrEqual
                    | Relation::Greater
                    | Relation::GreaterOrEqual
                    | Relation::In
                    | Relation::NotIn
            )
        }),
        _ => false,
    }
}

/// "Evaluate … when x = 3": the expression with the given values.
fn with_given_values(question: &Question, main: &Expression, answer: &Answer) -> Expression {
    let values: Vec<(Symbol, Expression)> = question
        .problem
        .conditions
        .iter()
        .flat_map(|condition| match condition.operator() {
            Operator::List => condition.operands().to_vec(),
            _ => vec![condition.clone()],
        })
        .filter_map(|condition| {
            let (left, right) = condition.as_equation()?;
            let letter = left.as_symbol()?.clone();
            let is_asked = main.mentions(&letter)
                && !right.mentions(&letter)
                && answer
                    .formulas
                    .iter()
                    .all(|f| !f.mentions(&letter) || f.as_equation().is_some());
            is_asked.then(|| (letter, right.clone()))
        })
        .collect();
    substitution::replace(main, &values)
}

/// The verdict for one formula.
fn one(question: &Question, main: &Expression, given: &Expression) -> Verdict {
    let conditions: Vec<&Expression> = question
        .problem
        .conditions
        .iter()
        .filter(|condition| is_restriction(condition))
        .collect();
    // `a = b ≈ c`: every side is claimed to be the value.
    let (sides, signs): (Vec<&Expression>, Vec<Relation>) = match given.operator() {
        Operator::Relation(relations)
            if relations.iter().all(|r| {
                matches!(
                    r,
                    Relation::Equal | Relation::Approximately | Relation::Equivalent
                )
            }) =>
        {
            let mut signs = vec![Relation::Equal];
            signs.extend(relations.iter().copied());
            (given.operands().iter().collect(), signs)
        }
        _ => (vec![given], vec![Relation::Equal]),
    };
    // A name for the value, as in `y = …` or `f(x) = …`, is no claim.
    let is_name = |side: &Expression| {
        sides.len() > 1
            && (side
                .as_symbol()
                .is_some_and(|letter| !main.mentions(letter))
                || matches!(side.operator(), Operator::Apply))
    };
    let claimed: Vec<(&Expression, Relation)> = sides
        .iter()
        .copied()
        .zip(signs)
        .filter(|(side, _)| !is_name(side) && (sides.len() == 1 || *side != main))
        .collect();
    if claimed.is_empty() {
        return Verdict::cannot_tell("the answer says nothing new");
    }
    if let Some(reason) = without_value(main) {
        return match claimed
            .iter()
            .all(|(side, _)| without_value(side).is_some())
        {
            true => Verdict::cannot_tell("neither the problem nor the answer has a value"),
            false => Verdict::fails_at("it has no value", reason),
        };
    }
    let mut doubt = None;
    let in_degrees = question.says(&["to degree", "in degrees", "degree measure"])
        && main
            .parts()
            .any(|part| part.as_constant() == Some(Constant::Pi))
        && !has_degrees(main);
    let claimed: Vec<(Expression, Relation)> = claimed
        .into_iter()
        .map(|(side, sign)| match in_degrees && !has_degrees(side) {
            true => (Expression::new(Operator::Degrees, [side.clone()]), sign),
            false => (side.clone(), sign),
        })
        .collect();
    for (side, sign) in &claimed {
        let is_rounded = *sign == Relation::Approximately
            || question.is_rounded() && side.free_symbols().is_empty();
        match compare(main, side, is_rounded, &conditions) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                if is_one_term(question, main, side) == Some(true) {
                    return Verdict::Holds;
                }
                if names_a_value(question, main, given) {
                    return Verdict::cannot_tell("the answer gives a letter its value");
                }
                return Verdict::fails_at("it is not equal to what is given", witness);
            }
            Equivalence::Unknown(reason) => doubt = Some(reason),
        }
    }
    if let Some(reason) = doubt {
        return Verdict::cannot_tell(reason);
    }
    match claimed.last() {
        Some((side, _)) => form(question, main, side),
        None => Verdict::Holds,
    }
}

/// The answer is a number for a letter of the problem, as where the words ask for which value
/// something holds, and not another form of the formula.
fn names_a_value(question: &Question, main: &Expression, given: &Expression) -> bool {
    let gives_letter = given.as_equation().is_some_and(|(left, right)| {
        left.as_symbol().is_some_and(|letter| main.mentions(letter))
            && right.free_symbols().is_empty()
    });
    let is_number = given.free_symbols().is_empty() && !main.free_symbols().is_empty();
    let reforms = question.words.trim().is_empty()
        || question.says(&[
            "simplif",
            "factor completely",
            "expand",
            "multiply",
            "divide",
            "add ",
            "subtract",
            "perform",
            "combine",
            "reduce",
            "rationaliz",
            "product",
            "quotient",
            "write",
            "rewrite",
            "evaluate",
            "derivative",
        ]);
    gives_letter || is_number && !reforms
}

/// A letter, perhaps with an argument, names the value.
fn is_called(formula: &Expression, name: &str) -> bool {
    formula.as_equation().is_some_and(|(left, _)| {
        let letter = match left.operator() {
            Operator::Apply => left.operands()[0].as_symbol(),
            _ => left.as_symbol(),
        };
        letter.is_some_and(|letter| letter.name().to_lowercase() == name)
    })
}

fn has_degrees(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| matches!(part.operator(), Operator::Degrees))
}

/// Compares an expression with a claimed one, whose signs ± may stand for both.
fn compare(
    main: &Expression,
    claimed: &Expression,
    is_rounded: bool,
    conditions: &[&Expression],
) -> Equivalence {
    let has_signs = |e: &Expression| {
        e.parts()
            .any(|part| matches!(part.operator(), Operator::PlusMinus | Operator::MinusPlus))
    };
    if has_signs(main) || has_signs(claimed) {
        let (left, right) = (
            answer::with_signs(main, true),
            answer::with_signs(claimed, true),
        );
        if left.len() != right.len() {
            return Equivalence::Unknown("which sign is meant is not said".into());
        }
        for values in [&left, &right] {
            let others = if std::ptr::eq(values, &left) {
                &right
            } else {
                &left
            };
            for value in values {
                let found: Vec<Equivalence> = others
                    .iter()
                    .map(|other| equivalence::compare_where(value, other, conditions))
                    .collect();
                if !found.contains(&Equivalence::Equal) {
                    return found
                        .into_iter()
                        .next()
                        .unwrap_or(Equivalence::Unknown("no value".into()));
                }
            }
        }
        return Equivalence::Equal;
    }
    if main.free_symbols().is_empty() && claimed.free_symbols().is_empty() {
        return equivalence::compare_rounded(main, claimed, is_rounded);
    }
    equivalence::compare_where(main, claimed, conditions)
}

/// The verdict for several expressions, each with its own answer.
fn several(question: &Question, asked: &[Expression], answer: &Answer) -> Verdict {
    if asked.len() != answer.formulas.len() {
        return Verdict::cannot_tell("the answer has another number of formulas than the problem");
    }
    let mut all = Verdict::Holds;
    for (main, given) in asked.iter().zip(&answer.formulas) {
        match one(question, main, given) {
            Verdict::Holds => {}
            Verdict::CannotTell { reason } => all = Verdict::CannotTell { reason },
            fails => return fails,
        }
    }
    all
}

/// Why an expression without letters has no value, real or complex.
fn without_value(expression: &Expression) -> Option<String> {
    if !expression.free_symbols().is_empty() {
        return None;
    }
    match (
        equivalence::value(expression, Reading::default()),
        normal_form::normal(expression),
    ) {
        (Value::None(outside), _) if outside != Outside::Other => {
            Some(format!("it {}", outside.told()))
        }
        (Value::Unknown | Value::None(_), Err(Unfit::Undefined)) => {
            Some(format!("it {}", Outside::DivisionByZero.told()))
        }
        (Value::Real(value), Err(Unfit::Undefined)) if value.middle().abs() > 1e9 => {
            Some(format!("it {}", Outside::DivisionByZero.told()))
        }
        _ => None,
    }
}

/// "Undefined", "not a real number".
fn undefined(main: &Expression) -> Verdict {
    let none = BTreeMap::new();
    if let Some(value) = crate::evaluate::exact(main, &none) {
        return Verdict::fails_at("it has a value", format!("it is {}", Rational::from(value)));
    }
    if !main.free_symbols().is_empty() {
        return match normal_form::normal(main) {
            Err(Unfit::Undefined) => Verdict::Holds,
            _ => Verdict::cannot_tell("whether it is undefined depends on the letters"),
        };
    }
    match equivalence::value(main, Reading::default()) {
        Value::None(_) | Value::Complex(_) => Verdict::Holds,
        Value::Real(value) => match normal_form::normal(main) {
            Err(Unfit::Undefined) => Verdict::Holds,
            // A pole of a trigonometric function is only nearly met by floating-point numbers.
            _ if value.middle().abs() > 1e9 => Verdict::cannot_tell("the value is very large"),
            _ => Verdict::fails_at(
                "it has a value",
                format!("it is {}", equivalence::number(value.middle())),
            ),
        },
        Value::Unknown => match normal_form::normal(main) {
            Err(Unfit::Undefined) => Verdict::Holds,
            _ => Verdict::cannot_tell("whether it has a value is not known"),
        },
    }
}

/// A quotient and a remainder for a division.
fn with_remainder(main: &Expression, quotient: &Expression, rest: &Expression) -> Verdict {
    let right_of = |formula: &Expression| match formula.as_equation() {
        Some((_, right)) => right.clone(),
        None => formula.clone(),
    };
    let (Operator::Fraction, [_, divisor]) = (main.operator(), main.operands()) else {
        return Verdict::cannot_tell("the problem is no division");
    };
    let claimed = Expression::sum([
        right_of(quotient),
        Expression::fraction(right_of(rest), divisor.clone()),
    ]);
    match equivalence::compare(main, &claimed) {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => Verdict::fails_at(
            "quotient and remainder do not give what is divided",
            witness,
        ),
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    }
}

/// Whether an equal expression has the form that the words ask for.
fn form(question: &Question, main: &Expression, given: &Expression) -> Verdict {
    let factors = question.says(&["factor"])
        && !question.says(&[
            "rationaliz",
            "cancel",
            "common",
            "gcf",
            "factor out",
            "remainder",
        ]);
    if !factors {
        return match question.says(&["expand", "multiply out"]) && given == main && main.size() > 3
        {
            true => Verdict::fails_at("it is not expanded", "nothing is changed"),
            false => Verdict::Holds,
        };
    }
    // "Factor." asks for all factors; "simplify by factoring" does not.
    let is_complete = question.says(&["completely", "fully"])
        || question.words.trim_start().starts_with("factor")
            && !question.says(&["simplif", "numerator", "if possible using"]);
    match unfactored(given, is_complete) {
        Some(told) => Verdict::fails_at("it is not factored", told),
        None => Verdict::Holds,
    }
}

/// A factor that can be factored further over the rational numbers: a sum that stands alone, and,
/// where the factorisation is to be complete, any factor.
fn unfactored(given: &Expression, is_complete: bool) -> Option<String> {
    let mut factors = Vec::new();
    collect_factors(given, &mut factors);
    if !is_complete && !matches!(given.operator(), Operator::Sum) {
        return None;
    }
    factors.into_iter().find_map(|factor| {
        let polynomial = normal_form::normal(factor).ok()?.as_polynomial()?.clone();
        let is_whole = polynomial
            .kernels()
            .iter()
            .all(|kernel| kernel.as_symbol().is_some());
        let content = polynomial.primitive().1.abs();
        let mut told = match is_complete && content.is_integer() && !content.is_one() {
            true => content.to_string(),
            false => is_whole.then(|| splits(&polynomial)).flatten()?,
        };
        told.insert_str(0, &format!("{} has the factor ", print::plain(factor)));
        Some(told)
    })
}

fn collect_factors<'a>(expression: &'a Expression, factors: &mut Vec<&'a Expression>) {
    match (expression.operator(), expression.operands()) {
        (Operator::Product, parts) => {
            parts.iter().for_each(|part| collect_factors(part, factors));
        }
        (Operator::Negative, [operand]) => collect_factors(operand, factors),
        (Operator::Power, [base, exponent]) if exponent.as_i64().is_some() => {
            collect_factors(base, factors);
            // So that a power counts as more than one factor.
            collect_factors(base, factors);
        }
        (Operator::Number(_) | Operator::Fraction, _) if expression.free_symbols().is_empty() => {}
        _ => factors.push(expression),
    }
}

/// A proper factor of a polynomial in letters, if one can be told.
fn splits(polynomial: &Polynomial) -> Option<String> {
    if polynomial.terms().len() < 2 {
        return None;
    }
    let common = polynomial.common_monomial();
    if !common.is_one() {
        let letter = common.powers().first()?.0.clone();
        return Some(print::plain(&letter));
    }
    let letters: Vec<Symbol> = polynomial
        .kernels()
        .into_iter()
        .filter_map(|kernel| kernel.as_symbol().cloned())
        .collect();
    match root_factor(polynomial, &letters) {
        Split::Linear(root, letter) => {
            let letter = equivalence::name(&letter);
            Some(match root {
                Some(root) if root.is_negative() => format!("{letter} + {}", -root),
                Some(root) => format!("{letter} − {root}"),
                None => format!("that is linear in {letter}"),
            })
        }
        _ => None,
    }
}

enum Split {
    /// It has a factor that is linear in a letter; its root, if that is a number.
    Linear(Option<Rational>, Symbol),
    /// It has no proper factor.
    Irreducible,
    Unknown,
}

/// Looks for factors that are linear in a letter, after numbers are put in for the others.
fn root_factor(polynomial: &Polynomial, letters: &[Symbol]) -> Split {
    if let [only] = letters {
        let Some((_, unit, univariate)) = polynomial.as_univariate() else {
            return Split::Unknown;
        };
        if !unit.is_one() {
            return Split::Unknown;
        }
        if univariate.degree() <= 1 {
            return Split::Irreducible;
        }
        return match univariate.rational_roots().0.first() {
            Some(root) => Split::Linear(Some(root.clone()), only.clone()),
            None if univariate.degree() <= 3 || is_irreducible_modulo(&univariate) => {
                Split::Irreducible
            }
            None => Split::Unknown,
        };
    }
    let mut unknown = false;
    for letter in letters {
        let mut is_linear = true;
        let mut is_irreducible = false;
        let mut degree = 0;
        for trial in 0..4 {
            let values: Vec<(Symbol, Expression)> = letters
                .iter()
                .filter(|other| *other != letter)
                .enumerate()
                .map(|(rank, other)| {
                    let primes = [7, 11, 23, 101, 37, 13, 59, 17];
                    let value = primes[(trial + 2 * rank) % primes.len()];
                    (other.clone(), Expression::integer(value))
                })
                .collect();
            let put = substitution::replace(
                &normal_form::Normal::whole(polynomial.clone()).to_expression(),
                &values,
            );
            let Some((_, unit, univariate)) = normal_form::normal(&put)
                .ok()
                .and_then(|normal| normal.as_polynomial().and_then(Polynomial::as_univariate))
            else {
                return Split::Unknown;
            };
            if !unit.is_one() || univariate.degree() < 2 {
                is_linear = false;
                break;
            }
            degree = degree.max(univariate.degree());
            if univariate.rational_roots().0.is_empty() {
                is_linear = false;
                is_irreducible |= univariate.degree() <= 3 || is_irreducible_modulo(&univariate);
                break;
            }
        }
        if is_linear {
            return Split::Linear(None, letter.clone());
        }
        if is_irreducible {
            return Split::Irreducible;
        }
        unknown |= degree >= 2;
    }
    match unknown {
        true => Split::Unknown,
        false => Split::Irreducible,
    }
}

/// A polynomial that has no proper factor modulo some small prime, and thus none at all.
fn is_irreducible_modulo(polynomial: &Univariate) -> bool {
    let primitive = polynomial.primitive();
    let degree = primitive.degree();
    if degree > 8 {
        return false;
    }
    [3_i64, 5, 7, 11, 13, 17, 19].into_iter().any(|prime| {
        let coefficients: Option<Vec<i64>> = primitive
            .coefficients()
            .iter()
            .map(|c| c.as_i64().map(|c| c.rem_euclid(prime)))
            .collect();
        let Some(coefficients) = coefficients else {
            return false;
        };
        coefficients.last() != Some(&0) && has_no_factor(&coefficients, prime)
    })
}

/// No polynomial of at most half the degree divides this one modulo a prime. (Rabin, Probabilistic
/// algorithms in finite fields, SIAM Journal on Computing 9 (1980), lemma 1: x^(p^k) - x is the
/// product of the irreducible polynomials whose degrees divide k.)
fn has_no_factor(f: &[i64], p: i64) -> bool {
    let degree = f.len() - 1;
    let reduce = |mut a: Vec<i64>| {
        let lead = inverse(f[degree], p);
        while a.len() > degree {
            let top = a.pop().unwrap_or(0) * lead % p;
            let shift = a.len() - degree;
            for (place, c) in f[..degree].iter().enumerate() {
                a[shift + place] = (a[shift + place] - top * c).rem_euclid(p);
            }
        }
        a
    };
    let times = |a: &[i64], b: &[i64]| {
        let mut product = vec![0; (a.len() + b.len()).saturating_sub(1).max(1)];
        for (i, x) in a.iter().enumerate() {
            for (j, y) in b.iter().enumerate() {
                product[i + j] = (product[i + j] + x * y) % p;
            }
        }
        reduce(product)
    };
    // x^(p^k) modulo f, one k after the other.
    let mut power = reduce(vec![0, 1]);
    for _ in 1..=degree / 2 {
        let base = power.clone();
        let mut result = vec![1];
        for _ in 0..p {
            result = times(&result, &base);
        }
        power = result;
        let mut difference = power.clone();
        difference.resize(degree.max(2), 0);
        difference[1] = (difference[1] - 1).rem_euclid(p);
        if common_degree(f.to_vec(), difference, p) > 0 {
            return false;
        }
    }
    true
}

fn inverse(a: i64, p: i64) -> i64 {
    (1..p).find(|b| a * b % p == 1).unwrap_or(0)
}

/// The degree of the greatest common divisor modulo a prime.
fn common_degree(mut a: Vec<i64>, mut b: Vec<i64>, p: i64) -> usize {
    let trim = |v: &mut Vec<i64>| {
        while v.last() == Some(&0) {
            v.pop();
        }
    };
    trim(&mut a);
    trim(&mut b);
    while !b.is_empty() {
        let lead = inverse(b[b.len() - 1], p);
        while a.len() >= b.len() {
            let factor = a[a.len() - 1] * lead % p;
            let shift = a.len() - b.len();
            for (place, c) in b.iter().enumerate() {
                a[shift + place] = (a[shift + place] - factor * c).rem_euclid(p);
            }
            trim(&mut a);
            if a.is_empty() {
                break;
            }
        }
        std::mem::swap(&mut a, &mut b);
    }
    a.len().saturating_sub(1)
}

/// "Prime": the polynomial cannot be factored.
fn prime(main: &Expression) -> Verdict {
    let Some(polynomial) = normal_form::normal(main)
        .ok()
        .and_then(|normal| normal.as_polynomial().cloned())
    else {
        return Verdict::cannot_tell("it is no polynomial");
    };
    if polynomial
        .kernels()
        .iter()
        .any(|kernel| kernel.as_symbol().is_none())
    {
        return Verdict::cannot_tell("it is no polynomial");
    }
    if let Some(told) = splits(&polynomial) {
        return Verdict::fails_at("it can be factored", format!("it has the factor {told}"));
    }
    let letters: Vec<Symbol> = polynomial
        .kernels()
        .into_iter()
        .filter_map(|kernel| kernel.as_symbol().cloned())
        .collect();
    match root_factor(&polynomial, &letters) {
        Split::Irreducible => Verdict::Holds,
        _ => Verdict::cannot_tell("whether it can be factored is not known"),
    }
}

/// An answer that is one term of a power that is multiplied out, where a term is asked for or
/// nothing is said; none if the problem is no such power.
fn is_one_term(question: &Question, main: &Expression, given: &Expression) -> Option<bool> {
    let (Operator::Power, [base, exponent]) = (main.operator(), main.operands()) else {
        return None;
    };
    let (Operator::Sum, [first, second]) = (base.operator(), base.operands()) else {
        return None;
    };
    let n = exponent.as_i64().filter(|n| (2..=60).contains(n))?;
    let asks = question.words.trim().is_empty() || question.says(&["term", "coefficient"]);
    if !asks {
        return None;
    }
    let given = normal_form::normal(given).ok()?;
    let place = ordinal(&question.words);
    for k in 0..=n {
        let binomial = Expression::new(
            Operator::Function(Function::Binomial),
            [Expression::integer(n), Expression::integer(k)],
        );
        let count = crate::evaluate::exact(&binomial, &BTreeMap::new())?;
        let term = Expression::product([
            Expression::rational(&count),
            Expression::power(first.clone(), Expression::integer(n - k)),
            Expression::power(second.clone(), Expression::integer(k)),
        ]);
        if place.is_some_and(|place| place != k + 1) {
            continue;
        }
        if normal_form::normal(&term).ok()? == given {
            return Some(true);
        }
    }
    Some(false)
}

/// The number that an ordinal among the words stands for.
pub(super) fn ordinal(words: &str) -> Option<i64> {
    const NAMES: [&str; 20] = [
        "first",
        "second",
        "third",
        "fourth",
        "fifth",
        "sixth",
        "seventh",
        "eighth",
        "ninth",
        "tenth",
        "eleventh",
        "twelfth",
        "thirteenth",
        "fourteenth",
        "fifteenth",
        "sixteenth",
        "seventeenth",
        "eighteenth",
        "nineteenth",
        "twentieth",
    ];
    words
        .split(|c: char| !c.is_alphanumeric())
        .find_map(|word| {
            if let Some(place) = NAMES.iter().position(|name| *name == word) {
                return Some(place as i64 + 1);
            }
            let digits = word.trim_end_matches(|c: char| c.is_alphabetic());
            let ending = &word[digits.len()..];
            match ending {
                "st" | "nd" | "rd" | "th" => digits.parse().ok(),
                _ => None,
            }
        })
}
