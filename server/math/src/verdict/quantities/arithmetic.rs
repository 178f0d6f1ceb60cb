//! Percentages, ratios, angles that look alike, coefficients, squares that are completed: numbers
//! that a sentence asks for.

use super::{Asked, agrees, number, of_rational, rational, value_of};
use crate::expression::{Constant, Expression, Operator, Relation, Symbol};
use crate::normal_form;
use crate::rational::Rational;
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::{Verdict, equations, functions};

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    match () {
        () if says(&["%", "percent"]) && says(&["what ", "find "]) => percentage(asked),
        () if says(&["ratio"]) && says(&["simplif", "simplest", "lowest"]) => ratio(asked),
        () if says(&["reference angle"]) => reference_angle(asked),
        () if says(&["coterminal"]) => coterminal(asked),
        () if says(&[
            "degree of the polynomial",
            "leading coefficient",
            "degree and",
        ]) && !says(&["write", "find a", "solve"]) =>
        {
            degree(asked)
        }
        () if says(&["polynomial"])
            && says(&[
                "with zeros",
                "has zeros",
                "whose zeros",
                "having zeros",
                "with roots",
            ]) =>
        {
            with_zeros(asked)
        }
        () if says(&["coefficient of"]) && says(&["expansion", "expand"]) => coefficient(asked),
        () if says(&["perfect square trinomial", "perfect-square trinomial"])
            && says(&["added", "add "]) =>
        {
            completing(asked)
        }
        () => None,
    }
}

/// "What percent of 80 is 28?", "18 is 24% of what number?", "Find 15% of 240."
fn percentage(asked: &Asked<'_>) -> Option<Verdict> {
    let words = asked.question.words.trim();
    if !asked.formulas.is_empty() {
        return None;
    }
    // The numbers in order; those with a percent sign as shares.
    let mut numbers: Vec<(Rational, bool)> = Vec::new();
    let mut pattern = String::new();
    for word in words.split_whitespace() {
        let bare = word.trim_matches(|c: char| matches!(c, '?' | '.' | ',' | '$'));
        let digits = bare.trim_end_matches('%').replace(',', "");
        let is_number = digits.starts_with(|c: char| c.is_ascii_digit())
            && digits.chars().all(|c| c.is_ascii_digit() || c == '.');
        match is_number {
            true => {
                let value = rational(&crate::read(&digits, &crate::Declared::new()).expression)?;
                let is_share = bare.ends_with('%');
                let value = match is_share {
                    true => value.checked_div(&Rational::integer(100))?,
                    false => value,
                };
                numbers.push((value, is_share));
                pattern.push_str(if is_share { "share " } else { "number " });
            }
            false => {
                pattern.push_str(bare);
                pattern.push(' ');
            }
        }
    }
    let [(first, _), (second, _)] = numbers.as_slice() else {
        return None;
    };
    let exact = match pattern.trim() {
        "what percent of number is number" | "what percentage of number is number" => {
            second.checked_div(first)?
        }
        "number is what percent of number" | "number is what percentage of number" => {
            first.checked_div(second)?
        }
        "what is share of number" | "find share of number" | "what number is share of number" => {
            first * second
        }
        "share of what number is number" => second.checked_div(first)?,
        "number is share of what number" => first.checked_div(second)?,
        _ => return None,
    };
    let is_share = pattern.contains("percent");
    let claim = asked.only_value()?;
    let found = functions::equal(asked.question, &of_rational(&exact), claim);
    match is_share && found != Verdict::Holds {
        // "35" is 35 percent.
        true => {
            let hundredfold = of_rational(&(&exact * &Rational::integer(100)));
            Some(functions::equal(asked.question, &hundredfold, claim))
        }
        false => Some(found),
    }
}

/// The two numbers of `24 : 36` or `\frac{24}{36}`.
fn sides(formula: &Expression) -> Option<(Rational, Rational)> {
    match (formula.operator(), formula.operands()) {
        (Operator::Relation(relations), [left, right]) if relations[0] == Relation::Colon => {
            Some((rational(left)?, rational(right)?))
        }
        (Operator::Fraction, [above, below]) => Some((rational(above)?, rational(below)?)),
        _ => None,
    }
}

fn ratio(asked: &Asked<'_>) -> Option<Verdict> {
    let [given] = asked.formulas.as_slice() else {
        return None;
    };
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let ((a, b), (c, d)) = (sides(given)?, sides(claim)?);
    if &a * &d != &b * &c {
        return Some(Verdict::fails_at(
            "it is another ratio",
            format!("{a} × {d} is not {b} × {c}"),
        ));
    }
    let (c, d) = (c.as_i64()?, d.as_i64()?);
    let mut common = (c.unsigned_abs(), d.unsigned_abs());
    while common.1 != 0 {
        common = (common.1, common.0 % common.1);
    }
    Some(match common.0 {
        1 => Verdict::Holds,
        divisor => Verdict::fails_at(
            "it is not in lowest terms",
            format!("both numbers are divisible by {divisor}"),
        ),
    })
}

/// The angle that the question is about, in radians, and whether it is written in degrees.
fn angle(asked: &Asked<'_>) -> Option<(f64, bool)> {
    let given = match &asked.question.problem.main {
        Some(main) => main,
        None => asked.formulas.last()?,
    };
    with_unit(value_of(given), None)
}

fn with_unit(angle: &Expression, degrees: Option<bool>) -> Option<(f64, bool)> {
    let in_degrees = angle
        .parts()
        .any(|part| matches!(part.operator(), Operator::Degrees));
    let in_radians = angle
        .parts()
        .any(|part| part.as_constant() == Some(Constant::Pi));
    let value = number(angle)?;
    match (in_degrees, in_radians, degrees) {
        (true, false, _) => Some((value, true)),
        (false, true, _) => Some((value, false)),
        // A bare number is in the unit of the problem.
        (false, false, Some(true)) => Some((value.to_radians(), true)),
        (false, false, Some(false)) => Some((value, false)),
        _ => None,
    }
}

fn reference_angle(asked: &Asked<'_>) -> Option<Verdict> {
    let (given, in_degrees) = angle(asked)?;
    let (claimed, _) = with_unit(asked.only_value()?, Some(in_degrees))?;
    let half = std::f64::consts::PI;
    let turned = given.rem_euclid(half);
    let exact = turned.min(half - turned);
    Some(match (exact - claimed).abs() < 1e-3 {
        true => Verdict::Holds,
        false => Verdict::fails_at("it is not the reference angle", told(exact, in_degrees)),
    })
}

fn told(angle: f64, in_degrees: bool) -> String {
    match in_degrees {
        true => format!("it is {}°", equivalence::number(angle.to_degrees())),
        false => format!("it is about {}", equivalence::number(angle)),
    }
}

/// An angle that differs by whole turns, within the bounds that the words name.
fn coterminal(asked: &Asked<'_>) -> Option<Verdict> {
    let (given, in_degrees) = angle(asked)?;
    let turn = 2.0 * std::f64::consts::PI;
    let between = asked.says(&["between", "smallest positive", "least positive"])
        || asked.formulas.iter().any(|f| f.operands().len() == 3);
    for claim in &asked.answer.formulas {
        let (claimed, _) = with_unit(value_of(claim), Some(in_degrees))?;
        let turns = (claimed - given) / turn;
        if (turns - libm::round(turns)).abs() > 1e-6 {
            return Some(Verdict::fails_at(
                "it is not coterminal",
                format!("it is {} turns away", equivalence::number(turns)),
            ));
        }
        let in_turn = (0.0..turn).contains(&claimed);
        if between && !in_turn {
            let exact = given.rem_euclid(turn);
            return Some(Verdict::fails_at(
                "it is out of bounds",
                told(exact, in_degrees),
            ));
        }
        if !between && libm::round(turns) == 0.0 {
            return Some(Verdict::fails_at(
                "it is the same angle",
                told(given, in_degrees),
            ));
        }
    }
    (!asked.answer.formulas.is_empty()).then_some(Verdict::Holds)
}

/// The letters of a monomial with their exponents.
fn monomial(expression: &Expression) -> Option<Vec<(Symbol, u32)>> {
    match (expression.operator(), expression.operands()) {
        (Operator::Symbol(symbol), _) => Some(vec![(symbol.clone(), 1)]),
        (Operator::Power, [base, exponent]) => {
            let exponent = u32::try_from(exponent.as_i64()?).ok()?;
            Some(vec![(base.as_symbol()?.clone(), exponent)])
        }
        (Operator::Product, factors) => {
            let parts: Option<Vec<_>> = factors.iter().map(monomial).collect();
            Some(parts?.into_iter().flatten().collect())
        }
        _ => None,
    }
}

/// "Find the coefficient of `$x^3$` in the expansion of `$(x + 2)^5$`".
fn coefficient(asked: &Asked<'_>) -> Option<Verdict> {
    let (wanted, body) = match asked.formulas.as_slice() {
        [wanted, body] => (wanted, body),
        _ => return None,
    };
    let letters = monomial(wanted)?;
    let free = body.free_symbols();
    let is_power = body
        .parts()
        .any(|part| matches!(part.operator(), Operator::Power));
    if !is_power || letters.iter().any(|(letter, _)| !free.contains(letter)) {
        return None;
    }
    // The derivative at 0, divided by the factorials.
    let mut rest = normal_form::collected(body);
    for (letter, order) in &letters {
        if *order > 20 {
            return None;
        }
        for _ in 0..*order {
            rest = normal_form::collected(&crate::derivative::derivative(&rest, letter)?);
        }
        let factorial: i64 = (1..=i64::from(*order)).try_fold(1, i64::checked_mul)?;
        rest = Expression::fraction(rest, Expression::integer(factorial));
    }
    for letter in &free {
        rest = rest.substitute(letter, &Expression::integer(0));
    }
    let exact = of_rational(&rational(&rest)?);
    let claim = asked.only_value()?;
    // The whole term is a common way to tell its coefficient.
    let claim = match claim.free_symbols().is_empty() {
        true => claim.clone(),
        false => Expression::fraction(claim.clone(), wanted.clone()),
    };
    match equivalence::compare(&exact, &claim) {
        Equivalence::Equal => Some(Verdict::Holds),
        Equivalence::Different(_) => Some(Verdict::fails_at(
            "it is another coefficient",
            format!("it is {}", equations::shown(&exact)),
        )),
        Equivalence::Unknown(reason) => Some(Verdict::cannot_tell(reason)),
    }
}

/// What is added to `x^2 + b x` to make a square.
fn completing(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let polynomial = crate::views::univariate(&normal_form::normal(body).ok()?, &letter)?;
    let (degree, lead) = (polynomial.degree(), polynomial.coefficient(2));
    if degree != 2 || lead != Rational::ONE || polynomial.coefficient(0) != Rational::ZERO {
        return None;
    }
    let half = polynomial
        .coefficient(1)
        .checked_div(&Rational::integer(2))?;
    let exact = &half * &half;
    let [first, others @ ..] = asked.answer.formulas.as_slice() else {
        return None;
    };
    if first.free_symbols().is_empty() && !agrees(exact.to_f64(), value_of(first))? {
        return Some(Verdict::fails_at(
            "it does not make a square",
            format!("{exact} is to be added"),
        ));
    }
    let rest: Vec<&Expression> = match first.free_symbols().is_empty() {
        true => others.iter().collect(),
        false => asked.answer.formulas.iter().collect(),
    };
    let whole = Expression::sum([body.clone(), of_rational(&exact)]);
    for claim in rest {
        let sides = match claim.operator() {
            Operator::Relation(_) => claim.operands(),
            _ => std::slice::from_ref(claim),
        };
        for side in sides {
            match functions::equal(asked.question, &whole, side) {
                Verdict::Holds => {}
                other => return Some(other),
            }
        }
    }
    Some(Verdict::Holds)
}

/// The degree and the leading coefficient of a polynomial.
fn degree(asked: &Asked<'_>) -> Option<Verdict> {
    let form = normal_form::normal(asked.givens.body()?).ok()?;
    let polynomial = form.as_polynomial()?;
    let mut total = 0;
    for (monomial, _) in polynomial.terms() {
        let mut sum = 0;
        for (kernel, exponent) in monomial.powers() {
            kernel.as_symbol()?;
            sum += exponent.as_i64().filter(|exponent| *exponent > 0)?;
        }
        total = total.max(sum);
    }
    let degree = Expression::integer(total);
    let lead = || {
        let letter = asked.givens.letter()?;
        let polynomial = crate::views::univariate(&form, &letter)?;
        Some(of_rational(&polynomial.leading()))
    };
    let words = &asked.question.words;
    let wanted: Vec<Expression> = match (words.find("degree"), words.find("leading coefficient")) {
        (Some(_), None) => vec![degree],
        (None, Some(_)) => vec![lead()?],
        (Some(first), Some(second)) if first < second => vec![degree, lead()?],
        (Some(_), Some(_)) => vec![lead()?, degree],
        (None, None) => return None,
    };
    let claims = &asked.answer.formulas;
    if claims.len() != wanted.len() {
        return None;
    }
    let names_first = |label: &str| label.contains("degree");
    if wanted.len() == 2
        && asked.answer.labels.len() == 2
        && asked.answer.labels[1].contains("degree")
        && !names_first(&asked.answer.labels[0])
        && words.find("degree") < words.find("leading")
    {
        // The answer names them in the other order.
        return None;
    }
    let mut all = Verdict::Holds;
    for (exact, claim) in wanted.iter().zip(claims) {
        match functions::equal(asked.question, exact, value_of(claim)) {
            Verdict::Holds => {}
            fails @ Verdict::Fails { .. } => return Some(fails),
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// A polynomial with given zeros: each is one, and there are no more than the degree allows.
fn with_zeros(asked: &Asked<'_>) -> Option<Verdict> {
    let mut zeros = Vec::new();
    for formula in &asked.formulas {
        for zero in crate::verdict::answer::with_signs(formula, false) {
            match (zero.operator(), zero.free_symbols().is_empty()) {
                (Operator::Relation(_) | Operator::Set | Operator::Tuple(_), _) => return None,
                (_, true) => zeros.push(zero),
                (_, false) => return None,
            }
        }
    }
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let body = functions::right_of(claim);
    let free = body.free_symbols();
    let letter = free.iter().next().filter(|_| free.len() == 1)?;
    let polynomial = crate::views::univariate(&normal_form::normal(body).ok()?, letter)?;
    for zero in &zeros {
        let value = body.substitute(letter, zero);
        match equivalence::compare(&value, &Expression::integer(0)) {
            Equivalence::Equal => {}
            Equivalence::Different(_) => {
                return Some(Verdict::fails_at(
                    "a given zero is none",
                    format!("it is not 0 at {}", equations::shown(zero)),
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    match !zeros.is_empty() && polynomial.degree() == zeros.len() {
        true => Some(Verdict::Holds),
        false => None,
    }
}
