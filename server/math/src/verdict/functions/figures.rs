//! Lines, parabolas, circles, and what can be read off them.

use super::{Givens, equal, right_of, whole};
use crate::expression::{Expression, Operator, Relation, Symbol};
use crate::normal_form::{self, Normal};
use crate::rational::Rational;
use crate::univariate::Univariate;
use crate::verdict::Verdict;
use crate::verdict::answer::{Answer, Outcome};
use crate::verdict::equations;
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::question::Question;
use crate::verdict::substitution;

/// The verdict for a question about a figure, if it is one.
pub(super) fn judge(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let asks = |phrases: &[&str]| question.says(phrases);
    let is_line = asks(&[
        "equation of the line",
        "equation of a line",
        "the line",
        "a line",
        "an equation of",
        "vertical line",
        "horizontal line",
        "equation in slope",
        "equation for the line",
    ]) && !asks(&["tangent", "normal line", "number line"]);
    match () {
        () if asks(&["tangent"]) => None,
        () if is_line && answer_is_equation(answer) => line(givens, question, answer),
        () if asks(&["slope"]) && !answer_is_line(answer) => slope(givens, question, answer),
        () if asks(&["intercept"]) && !asks(&["slope-intercept", "slope intercept"]) => {
            intercepts(givens, question, answer)
        }
        () if asks(&["vertex"]) && !asks(&["vertex form"]) => vertex(givens, question, answer),
        () if asks(&["axis of symmetry"]) => axis(givens, question, answer),
        () if asks(&["distance between", "the distance"]) => {
            let [a, b] = givens.points.as_slice() else {
                return None;
            };
            let squares = a.iter().zip(b).map(|(p, q)| {
                Expression::power(Expression::difference(q.clone(), p.clone()), whole(2))
            });
            let length = Expression::root(Expression::sum(squares));
            value(question, answer, &length)
        }
        () if asks(&["midpoint"]) => {
            let [a, b] = givens.points.as_slice() else {
                return None;
            };
            let middle: Vec<Expression> = a
                .iter()
                .zip(b)
                .map(|(p, q)| {
                    Expression::fraction(Expression::sum([p.clone(), q.clone()]), whole(2))
                })
                .collect();
            point(question, answer, &middle)
        }
        () if asks(&["center", "centre", "radius"]) && !asks(&["convergence"]) => {
            circle(givens, question, answer)
        }
        () if asks(&["asymptote"]) => asymptotes(givens, question, answer),
        () => None,
    }
}

fn answer_is_equation(answer: &Answer) -> bool {
    matches!(answer.formulas.as_slice(), [only] if only.as_equation().is_some()
        && only.free_symbols().iter().any(|letter| ["x", "y"].contains(&letter.name())))
}

fn answer_is_line(answer: &Answer) -> bool {
    matches!(answer.formulas.as_slice(), [only]
    if only.as_equation().is_some_and(|(left, right)| {
        left.free_symbols().len() + right.free_symbols().len() >= 2
    }))
}

/// The verdict for one number.
fn value(question: &Question, answer: &Answer, exact: &Expression) -> Option<Verdict> {
    match answer.formulas.as_slice() {
        [only] => {
            let claims: Vec<&Expression> = match only.operator() {
                Operator::Relation(_) => {
                    let sides = only.operands();
                    let skip = usize::from(
                        sides[0].as_symbol().is_some()
                            || matches!(sides[0].operator(), Operator::Apply),
                    );
                    sides.iter().skip(skip).collect()
                }
                _ => vec![only],
            };
            let mut all = Verdict::Holds;
            for claim in claims {
                match equal(question, exact, claim) {
                    Verdict::Holds => {}
                    fails @ Verdict::Fails { .. } => return Some(fails),
                    doubt => all = doubt,
                }
            }
            Some(all)
        }
        _ => None,
    }
}

/// The verdict for one point.
fn point(question: &Question, answer: &Answer, exact: &[Expression]) -> Option<Verdict> {
    let claimed: Vec<Expression> = match answer.formulas.as_slice() {
        [only] => right_of(only).operands().to_vec(),
        list if list.len() == exact.len() => list.iter().map(|f| right_of(f).clone()).collect(),
        _ => return None,
    };
    if claimed.len() != exact.len() {
        return None;
    }
    let mut all = Verdict::Holds;
    for (exact, claimed) in exact.iter().zip(&claimed) {
        match equal(question, exact, claimed) {
            Verdict::Holds => {}
            fails @ Verdict::Fails { .. } => return Some(fails),
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// a, b, c of a line a x + b y = c.
fn line_coefficients(left: &Expression, right: &Expression) -> Option<[Rational; 3]> {
    let form = normal_form::normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let letters = [Symbol::new("x"), Symbol::new("y")];
    let row = crate::verdict::systems::linear_row(&form, &letters)?;
    <[Rational; 3]>::try_from(row).ok()
}

/// The slope of a line; none if it is vertical.
fn slope_of(line: &[Rational; 3]) -> Option<Rational> {
    (-&line[0]).checked_div(&line[1])
}

fn number(expression: &Expression) -> Option<Rational> {
    crate::evaluate::exact(expression, &Default::default()).map(Rational::from)
}

fn slope(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let found: Option<Rational> = match (givens.points.as_slice(), givens.equations.as_slice()) {
        ([a, b], _) if a.len() == 2 && b.len() == 2 => {
            let rise = number(&b[1])? - number(&a[1])?;
            let run = number(&b[0])? - number(&a[0])?;
            rise.checked_div(&run)
        }
        ([], [(left, right)]) => {
            let of_line = slope_of(&line_coefficients(left, right)?);
            match question.says(&["perpendicular"]) {
                true => of_line
                    .and_then(|slope| slope.reciprocal())
                    .map(|slope| -slope),
                false => of_line,
            }
        }
        _ => match (givens.functions.as_slice(), givens.points.is_empty()) {
            ([(_, letters, body)], true) => {
                let x = letters.first()?;
                let polynomial = univariate(body, x)?;
                (polynomial.degree() <= 1).then(|| Some(polynomial.coefficient(1)))?
            }
            _ => return None,
        },
    };
    match (found, answer.outcome()) {
        (None, Some(Outcome::Undefined)) => Some(Verdict::Holds),
        (Some(slope), Some(Outcome::Undefined)) => Some(Verdict::fails_at(
            "there is a slope",
            format!("it is {slope}"),
        )),
        (None, None) => Some(Verdict::fails_at("the line has no slope", "it is vertical")),
        (Some(slope), None) => {
            // The slope and the intercept together.
            if answer.formulas.len() > 1 || question.says(&["intercept"]) {
                return slope_and_intercept(givens, question, answer, &slope);
            }
            value(question, answer, &Expression::rational(&slope.to_big()))
        }
        _ => None,
    }
}

fn slope_and_intercept(
    givens: &Givens,
    question: &Question,
    answer: &Answer,
    slope: &Rational,
) -> Option<Verdict> {
    let [(left, right)] = givens.equations.as_slice() else {
        return None;
    };
    let line = line_coefficients(left, right)?;
    let height = line[2].checked_div(&line[1])?;
    let [first, second] = answer.formulas.as_slice() else {
        return None;
    };
    let slope = equal(
        question,
        &Expression::rational(&slope.to_big()),
        right_of(first),
    );
    if slope != Verdict::Holds {
        return Some(slope);
    }
    let claimed = match right_of(second).operands() {
        [zero, height] if matches!(right_of(second).operator(), Operator::Tuple(_)) => {
            if number(zero)? != Rational::ZERO {
                return Some(Verdict::fails_at("it is not on the y-axis", "x is not 0"));
            }
            height.clone()
        }
        _ => right_of(second).clone(),
    };
    Some(equal(
        question,
        &Expression::rational(&height.to_big()),
        &claimed,
    ))
}

/// The equation of a line.
fn line(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let (left, right) = answer.formulas.first()?.as_equation()?;
    let (left, right) = match left.operator() {
        // `f(x) = 2x + 1`.
        Operator::Apply => (Expression::symbol("y"), right.clone()),
        _ => (left.clone(), right.clone()),
    };
    let claimed = line_coefficients(&left, &right)?;
    let mut facts = 0;
    let mut points = givens.points.clone();
    let mut equations = givens.equations.clone();
    // `f(2) = 5`: a point; `g(x) = 3x - 1`: a line.
    equations.retain(|(left, right)| match (left.operator(), left.operands()) {
        (Operator::Apply, [_, at]) if number(at).is_some() && number(right).is_some() => {
            points.push(vec![at.clone(), right.clone()]);
            false
        }
        _ => true,
    });
    for (_, letters, body) in &givens.functions {
        let body = body.substitute(letters.first()?, &Expression::symbol("x"));
        equations.push((Expression::symbol("y"), body));
    }
    for given in &points {
        let [x, y] = given.as_slice() else {
            return None;
        };
        let (x, y) = (number(x)?, number(y)?);
        facts += 1;
        if &(&claimed[0] * &x) + &(&claimed[1] * &y) != claimed[2] {
            return Some(Verdict::fails_at(
                "the line does not go through a given point",
                format!("({x}, {y}) is not on it"),
            ));
        }
    }
    let asks = |phrases: &[&str]| question.says(phrases);
    let wanted: Option<Option<Rational>> = match equations.as_slice() {
        [(l, r)] if asks(&["parallel", "perpendicular"]) => {
            let other = line_coefficients(l, r)?;
            Some(match asks(&["perpendicular"]) {
                true => other[1].checked_div(&other[0]),
                false => slope_of(&other),
            })
        }
        [(l, r)] if l.as_symbol().is_some_and(|m| m.name() == "m") => Some(Some(number(r)?)),
        [(l, r), (k, s)] if points.is_empty() => {
            // `m = 2`, `b = -3`.
            let named = |name: &str| {
                [(l, r), (k, s)]
                    .into_iter()
                    .find(|(left, _)| left.as_symbol().is_some_and(|letter| letter.name() == name))
                    .and_then(|(_, right)| number(right))
            };
            let height = named("b")?;
            facts += 1;
            if claimed[2].checked_div(&claimed[1]) != Some(height.clone()) {
                return Some(Verdict::fails_at(
                    "the line has another intercept",
                    format!("it should go through (0, {height})"),
                ));
            }
            Some(Some(named("m")?))
        }
        [] => match givens
            .expressions
            .iter()
            .filter_map(number)
            .collect::<Vec<_>>()
            .as_slice()
        {
            [slope] if asks(&["slope"]) => Some(Some(slope.clone())),
            [slope, height] if asks(&["slope"]) && asks(&["intercept"]) => {
                facts += 1;
                if claimed[2].checked_div(&claimed[1]) != Some(height.clone()) {
                    return Some(Verdict::fails_at(
                        "the line has another intercept",
                        format!("it should go through (0, {height})"),
                    ));
                }
                Some(Some(slope.clone()))
            }
            _ => None,
        },
        _ => None,
    };
    let wanted = match wanted {
        None if asks(&[
            "vertical",
            "parallel to the y-axis",
            "perpendicular to the x-axis",
        ]) =>
        {
            Some(None)
        }
        None if asks(&[
            "horizontal",
            "parallel to the x-axis",
            "perpendicular to the y-axis",
        ]) =>
        {
            Some(Some(Rational::ZERO))
        }
        wanted => wanted,
    };
    if let Some(wanted) = wanted {
        facts += 1;
        if slope_of(&claimed) != wanted {
            let told = match wanted {
                Some(slope) => format!("its slope should be {slope}"),
                None => "it should be vertical".into(),
            };
            return Some(Verdict::fails_at("the line has another slope", told));
        }
    }
    if facts == 0
        && let [(l, r)] = equations.as_slice()
    {
        // One line in another form.
        let given = Expression::equation(l.clone(), r.clone());
        let claimed = Expression::equation(left, right);
        return Some(same_figure(&given, &claimed));
    }
    Some(match facts {
        2.. => Verdict::Holds,
        _ => Verdict::cannot_tell("what is known of the line is not understood"),
    })
}

/// The equation of the figure, in x and y.
fn figure(givens: &Givens) -> Option<Expression> {
    match (givens.functions.as_slice(), givens.equations.as_slice()) {
        ([(_, letters, body)], []) => {
            let x = letters.first()?;
            let body = body.substitute(x, &Expression::symbol("x"));
            Some(Expression::equation(Expression::symbol("y"), body))
        }
        ([], [(left, right)]) => Some(Expression::equation(left.clone(), right.clone())),
        _ => None,
    }
}

fn intercepts(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let figure = figure(givens)?;
    let (asks_x, asks_y) = (
        question.says(&[
            "x-intercept",
            "x -intercept",
            "x- and y-intercepts",
            "x and y",
        ]),
        question.says(&["y-intercept", "y -intercept", "x and y"]),
    );
    let along = |axis: &str| {
        let (zero, kept) = match axis {
            "x" => ("y", "x"),
            _ => ("x", "y"),
        };
        let equation = figure.substitute(&Symbol::new(zero), &whole(0));
        let mut formulas = Vec::new();
        for formula in &answer.formulas {
            match (formula.operator(), formula.operands()) {
                (Operator::Tuple(_), [x, y]) => {
                    let (on, off) = if axis == "x" { (x, y) } else { (y, x) };
                    if number(off) == Some(Rational::ZERO) {
                        formulas.push(on.clone());
                    } else if asks_x != asks_y {
                        return Some(Verdict::fails_at(
                            "a point is not on the axis",
                            format!("{} is not", equations::shown(formula)),
                        ));
                    }
                }
                (Operator::Relation(_), [left, right])
                    if left.as_symbol().is_some_and(|l| l.name() == kept) =>
                {
                    formulas.push(right.clone());
                }
                (Operator::Relation(_), _) => {}
                _ if asks_x != asks_y => formulas.push(formula.clone()),
                _ => return None,
            }
        }
        let words = match formulas.is_empty() {
            true => answer.words.replace("none", "no solution") + " no solution",
            false => String::new(),
        };
        let answer = Answer {
            formulas,
            words,
            ..Answer::default()
        };
        Some(equations::judge_formula(question, &equation, &answer))
    };
    match (asks_x, asks_y) {
        (true, false) => along("x"),
        (false, true) => along("y"),
        _ => match (along("x")?, along("y")?) {
            (Verdict::Holds, other) | (other @ Verdict::Fails { .. }, _) => Some(other),
            (_, other) => Some(other),
        },
    }
}

fn univariate(body: &Expression, x: &Symbol) -> Option<Univariate> {
    crate::views::univariate(&normal_form::normal(body).ok()?, x)
}

/// The vertex of a parabola y = f(x) or x = f(y).
fn vertex_of(givens: &Givens) -> Option<(Rational, Rational, bool)> {
    let figure = figure(givens)?;
    let (left, right) = figure.as_equation()?;
    let form = normal_form::normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    for (axis, other) in [("x", "y"), ("y", "x")] {
        let (slope, rest) = crate::views::linear_in(&form, &Expression::symbol(other))?;
        let (Some(slope), Some(curve)) = (
            slope.as_constant(),
            crate::views::univariate(&rest, &Symbol::new(axis)),
        ) else {
            continue;
        };
        if curve.degree() != 2 || slope.is_zero() {
            continue;
        }
        let twice = Rational::integer(2) * curve.coefficient(2);
        let at = (-curve.coefficient(1)).checked_div(&twice)?;
        let height = (-curve.at(&at)).checked_div(&slope)?;
        return Some(match axis {
            "x" => (at, height, true),
            _ => (height, at, false),
        });
    }
    None
}

fn vertex(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let (x, y, is_upright) = match vertex_of(givens) {
        Some(found) => found,
        None => return absolute_vertex(givens, question, answer),
    };
    let exact = [
        Expression::rational(&x.to_big()),
        Expression::rational(&y.to_big()),
    ];
    let mut rest = answer.formulas.iter();
    let mut first = rest.next()?;
    if let ([equation, point], Some(given)) = (answer.formulas.as_slice(), figure(givens))
        && matches!(point.operator(), Operator::Tuple(_) | Operator::Interval(_))
        && equation
            .as_equation()
            .is_some_and(|(_, right)| !right.free_symbols().is_empty())
    {
        // The equation in another form, and the vertex after it.
        let written = match equation.as_equation() {
            Some((left, right)) if matches!(left.operator(), Operator::Apply) => {
                Expression::equation(Expression::symbol("y"), right.clone())
            }
            _ => equation.clone(),
        };
        match same_figure(&given, &written) {
            Verdict::Holds => first = rest.next()?,
            other => return Some(other),
        }
    }
    let only = Answer {
        formulas: vec![first.clone()],
        words: String::new(),
        ..Answer::default()
    };
    match right_of(first).operator() {
        Operator::Tuple(_) => {}
        _ => return point(question, answer, &exact),
    }
    let mut verdict = point(question, &only, &exact)?;
    for other in rest {
        // The axis of symmetry beside the vertex.
        let (left, right) = other.as_equation()?;
        let wanted = match (left.as_symbol()?.name(), is_upright) {
            ("x", true) => &exact[0],
            ("y", false) => &exact[1],
            _ => {
                return Some(Verdict::cannot_tell(
                    "the answer says more than is understood",
                ));
            }
        };
        if verdict == Verdict::Holds {
            verdict = equal(question, wanted, right);
        }
    }
    Some(verdict)
}

/// The vertex of y = a |x - h| + k.
fn absolute_vertex(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let body = givens.body()?;
    let x = givens.letter()?;
    let inner = body.parts().find_map(|part| match part.operator() {
        Operator::Function(crate::expression::Function::Abs) => part.operands().first(),
        _ => None,
    })?;
    let inner = univariate(inner, &x)?;
    if inner.degree() != 1 {
        return None;
    }
    let at = (-inner.coefficient(0)).checked_div(&inner.coefficient(1))?;
    let at = Expression::rational(&at.to_big());
    let height = body.substitute(&x, &at);
    point(question, answer, &[at, height])
}

fn axis(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let (x, y, is_upright) = vertex_of(givens)?;
    let [only] = answer.formulas.as_slice() else {
        return None;
    };
    let (name, at) = if is_upright { ("x", x) } else { ("y", y) };
    if let Some((left, _)) = only.as_equation()
        && left.as_symbol().is_some_and(|letter| letter.name() != name)
    {
        return Some(Verdict::fails_at(
            "it is another direction",
            format!("the axis is the line {name} = {at}"),
        ));
    }
    Some(equal(
        question,
        &Expression::rational(&at.to_big()),
        right_of(only),
    ))
}

/// The centre and the square of the radius of a circle.
pub(in crate::verdict) fn circle_of(
    left: &Expression,
    right: &Expression,
) -> Option<(Rational, Rational, Rational)> {
    let form = normal_form::normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let polynomial = form.as_polynomial()?;
    let mut coefficients = [const { Rational::ZERO }; 5];
    for (monomial, coefficient) in polynomial.terms() {
        let place = match monomial.powers() {
            [] => 4,
            [(kernel, exponent)] => match (kernel.as_symbol()?.name(), exponent.as_i64()?) {
                ("x", 2) => 0,
                ("y", 2) => 1,
                ("x", 1) => 2,
                ("y", 1) => 3,
                _ => return None,
            },
            _ => return None,
        };
        coefficients[place] = coefficient.clone();
    }
    let [a, b, d, e, f] = coefficients;
    if a != b || a.is_zero() {
        return None;
    }
    let half = Rational::fraction(-1, 2);
    let x = d.checked_div(&a)? * &half;
    let y = e.checked_div(&a)? * &half;
    let square = &(&x * &x) + &(&y * &y) - f.checked_div(&a)?;
    Some((x, y, square))
}

fn circle(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let as_expression = |r: &Rational| Expression::rational(&r.to_big());
    if answer_is_line(answer)
        && let [centre] = givens.points.as_slice()
    {
        // "Write the equation of the circle with centre … and radius …".
        let (left, right) = answer.formulas.first()?.as_equation()?;
        let (x, y, square) = circle_of(left, right)?;
        let radius = givens
            .equations
            .iter()
            .map(|(_, right)| right)
            .chain(&givens.expressions)
            .next()?;
        let [h, k] = centre.as_slice() else {
            return None;
        };
        for (exact, claimed) in [
            (h.clone(), x),
            (k.clone(), y),
            (Expression::power(radius.clone(), whole(2)), square),
        ] {
            let found = equal(question, &exact, &as_expression(&claimed));
            if found != Verdict::Holds {
                return Some(found);
            }
        }
        return Some(Verdict::Holds);
    }
    let figure = figure(givens)?;
    let (left, right) = figure.as_equation()?;
    let (x, y, square) = circle_of(left, right)?;
    let radius = Expression::root(as_expression(&square));
    let mut verdict = Verdict::Holds;
    for formula in &answer.formulas {
        let claimed = right_of(formula);
        let found = match (claimed.operator(), claimed.operands()) {
            (Operator::Tuple(_), [h, k]) => match equal(question, &as_expression(&x), h) {
                Verdict::Holds => equal(question, &as_expression(&y), k),
                other => other,
            },
            _ => equal(question, &radius, claimed),
        };
        match found {
            Verdict::Holds => {}
            fails @ Verdict::Fails { .. } => return Some(fails),
            doubt => verdict = doubt,
        }
    }
    (!answer.formulas.is_empty()).then_some(verdict)
}

/// Vertical and horizontal asymptotes of a rational function.
fn asymptotes(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let body = givens.body()?;
    let x = givens.letter()?;
    let normal = normal_form::normal(body).ok()?;
    let above = crate::views::univariate(&Normal::whole(normal.numerator().clone()), &x)?;
    let below = crate::views::univariate(&Normal::whole(normal.denominator().clone()), &x)?;
    let asks_vertical = question.says(&["vertical"]);
    let asks_horizontal = question.says(&["horizontal", "slant", "oblique"]);
    let (mut vertical, mut level) = (Vec::new(), Vec::new());
    for formula in &answer.formulas {
        let (left, relation, right) = match formula.as_relation() {
            Some(found) => found,
            None if asks_vertical != asks_horizontal => {
                match asks_vertical {
                    true => vertical.push(formula.clone()),
                    false => level.push(formula.clone()),
                }
                continue;
            }
            None => return None,
        };
        if relation != Relation::Equal {
            return None;
        }
        match left.as_symbol() {
            Some(letter) if *letter == x => vertical.push(right.clone()),
            Some(_) => level.push(right.clone()),
            None => return None,
        }
    }
    let every = !asks_vertical && !asks_horizontal;
    if every || asks_vertical {
        let zero = Expression::equation(normal.denominator_expression(), whole(0));
        let words = if vertical.is_empty() {
            "no solution"
        } else {
            ""
        };
        let claim = Answer {
            formulas: vertical,
            words: words.into(),
            ..Answer::default()
        };
        let found = match below.degree() {
            0 if claim.formulas.is_empty() => Verdict::Holds,
            0 => Verdict::fails_at(
                "there is no vertical asymptote",
                "the denominator is never 0",
            ),
            _ => equations::judge_formula(question, &zero, &claim),
        };
        if found != Verdict::Holds {
            return Some(found);
        }
    }
    if every || asks_horizontal {
        let height = match above.degree().cmp(&below.degree()) {
            std::cmp::Ordering::Less => Some(Expression::integer(0)),
            std::cmp::Ordering::Equal => {
                let height = above.leading().checked_div(&below.leading())?;
                Some(Expression::rational(&height.to_big()))
            }
            std::cmp::Ordering::Greater => None,
        };
        let found = match (height, level.as_slice()) {
            (None, []) => Verdict::Holds,
            (Some(height), [claimed]) => equal(question, &height, claimed),
            (None, [claimed]) if claimed.mentions(&x) => {
                // A slant asymptote: the difference shrinks.
                let (quotient, _) = above.divide(&below)?;
                let claimed = univariate(claimed, &x)?;
                match quotient == claimed {
                    true => Verdict::Holds,
                    false => Verdict::fails_at(
                        "it is another line",
                        "the quotient of the division is not this",
                    ),
                }
            }
            (None, _) => Verdict::fails_at(
                "there is no horizontal asymptote",
                "the numerator has the higher degree",
            ),
            (Some(height), _) => Verdict::fails_at(
                "the horizontal asymptote is missing",
                format!("it is y = {}", equations::shown(&height)),
            ),
        };
        if found != Verdict::Holds {
            return Some(found);
        }
    }
    Some(Verdict::Holds)
}

/// Two equations have the same solutions, as far as can be told from points on each.
pub(in crate::verdict) fn same_figure(one: &Expression, other: &Expression) -> Verdict {
    let (Some((l, r)), Some((m, s))) = (one.as_equation(), other.as_equation()) else {
        return Verdict::cannot_tell("the answer is no equation");
    };
    let first = Expression::difference(l.clone(), r.clone());
    let second = Expression::difference(m.clone(), s.clone());
    if first.free_symbols() != second.free_symbols() {
        return Verdict::cannot_tell("the answer has other letters than the problem");
    }
    // Multiples of each other.
    if let (Ok(a), Ok(b)) = (normal_form::normal(&first), normal_form::normal(&second))
        && !a.is_zero()
        && !b.is_zero()
        && let Ok(ratio) = a.divide(&b)
        && ratio.as_constant().is_some()
    {
        return Verdict::Holds;
    }
    let letters: Vec<Symbol> = first.free_symbols().into_iter().collect();
    let mut agreed = 0;
    let mut against: Option<String> = None;
    for solved in &letters {
        for trial in 0..6 {
            let values: Vec<(Symbol, Expression)> = letters
                .iter()
                .filter(|letter| *letter != solved)
                .enumerate()
                .map(|(rank, letter)| {
                    let value = equivalence::coordinate(trial, rank);
                    (letter.clone(), substitution::exactly(value))
                })
                .collect();
            for (from, to) in [(&first, &second), (&second, &first)] {
                let from = substitution::replace(from, &values);
                let to = substitution::replace(to, &values);
                let Some(curve) = crate::verdict::completeness::curve_of(
                    &from,
                    solved,
                    crate::verdict::interval::Reading::default(),
                ) else {
                    continue;
                };
                let mut budget = 40_000;
                let window = crate::verdict::interval::Interval::new(-12.3, 52.3);
                let zeros = crate::verdict::roots::zeros(&curve, window, &mut budget);
                for zero in zeros.found.iter().filter(|zero| zero.is_certain).take(4) {
                    let at = substitution::exactly(zero.within.middle());
                    let left = to.substitute(solved, &at);
                    let Some(bounds) = crate::verdict::claims::bounds(&left) else {
                        continue;
                    };
                    let near = bounds.low.abs().min(bounds.high.abs());
                    if near < 1e-6 {
                        agreed += 1;
                    } else if near > 1e-3 {
                        let mut told: Vec<String> = values
                            .iter()
                            .map(|(letter, value)| substitution::assignment(letter, value))
                            .collect();
                        told.push(format!(
                            "{} ≈ {}",
                            equivalence::name(solved),
                            equivalence::number(zero.within.middle())
                        ));
                        against.get_or_insert(format!(
                            "only one of them holds at {}",
                            told.join(", ")
                        ));
                    }
                }
            }
        }
    }
    match (against, agreed) {
        (Some(witness), 0) => Verdict::fails_at("the equations are not the same", witness),
        (None, 4..) => Verdict::Holds,
        _ => match equivalence::compare(&first, &second) {
            Equivalence::Equal => Verdict::Holds,
            _ => Verdict::cannot_tell("whether the equations are the same is not known"),
        },
    }
}
