//! Is this the area, the volume, the length or the mean value?

use super::Context;
use super::integral;
use super::program::{Leaves, compile, symbol_expression};
use super::question;
use crate::expression::{
    Bounds, Constant, Expression, Function, Integration, Operator, Relation, Symbol,
};
use crate::verdict::Verdict;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Measure {
    Area,
    Length,
    Mean,
    /// Of the solid that the region makes when it turns about the axis of x (`true`) or of y.
    Volume(bool),
    /// Of what the curve sweeps when it turns about the axis of x (`true`) or of y.
    Surface(bool),
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let question = context.question;
    let measure = match () {
        () if question.says(&["average value", "mean value of"]) => Measure::Mean,
        () if question.says(&[
            "arc length",
            "length of the curve",
            "length of the function",
            "length of the arc",
            "length of the graph",
        ]) =>
        {
            Measure::Length
        }
        () if question.says(&["volume"]) => {
            match (turns_about(context, "x"), turns_about(context, "y")) {
                (true, false) => Measure::Volume(true),
                (false, true) => Measure::Volume(false),
                _ => return Verdict::cannot_tell("the solid is not understood"),
            }
        }
        () if question.says(&["surface"]) => {
            match (turns_about(context, "x"), turns_about(context, "y")) {
                (true, false) => Measure::Surface(true),
                (false, true) => Measure::Surface(false),
                _ => return Verdict::cannot_tell("the surface is not understood"),
            }
        }
        () => Measure::Area,
    };
    if let Some((speed, from, to)) = parametric(context) {
        let whole = match measure {
            Measure::Length => definite(speed.0, &speed.1, from, to),
            _ => return Verdict::cannot_tell("what a parametric curve bounds is not checked"),
        };
        return integral::value(context, &whole, "the length");
    }
    if measure == Measure::Area
        && let Some((body, letter, from, to)) = polar(context)
    {
        let whole = definite(body, &letter, from, to);
        return integral::value(context, &whole, "the area");
    }
    let Some((curves, letter)) = curves(context) else {
        return Verdict::cannot_tell("the curves are not understood");
    };
    let bounds = bounds(context, &letter);
    let (upper, lower) = match curves.as_slice() {
        [only] => (only.clone(), Expression::integer(0)),
        [first, second] => (first.clone(), second.clone()),
        _ => return Verdict::cannot_tell("the curves are not understood"),
    };
    let difference = Expression::difference(upper.clone(), lower.clone());
    let Some((from, to)) = bounds
        .or_else(|| from_one_side(context, &difference, &letter))
        .or_else(|| crossings(context, &difference, &letter))
    else {
        return Verdict::cannot_tell("the bounds are not understood");
    };
    let square = |e: Expression| Expression::power(e, Expression::integer(2));
    let abs = |e: Expression| Expression::function(Function::Abs, e);
    let pi = || Expression::constant(Constant::Pi);
    let x = symbol_expression(&letter);
    let single = curves.len() == 1;
    let (factor, body, name) = match measure {
        Measure::Area => (None, abs(difference), "the area"),
        Measure::Mean if single => {
            let span = Expression::difference(to.clone(), from.clone());
            let factor = Expression::fraction(Expression::integer(1), span);
            (Some(factor), upper, "the mean value")
        }
        Measure::Length if single => {
            let Some(slope) = crate::derivative::derivative(&upper, &letter) else {
                return Verdict::cannot_tell("the derivative could not be taken");
            };
            let inner = Expression::sum([Expression::integer(1), square(slope)]);
            (None, Expression::root(inner), "the length")
        }
        Measure::Volume(true) => (
            Some(pi()),
            abs(Expression::difference(square(upper), square(lower))),
            "the volume",
        ),
        Measure::Volume(false) => (
            Some(Expression::product([Expression::integer(2), pi()])),
            Expression::product([x.clone(), abs(difference)]),
            "the volume",
        ),
        Measure::Surface(about_x) if single => {
            let Some(slope) = crate::derivative::derivative(&upper, &letter) else {
                return Verdict::cannot_tell("the derivative could not be taken");
            };
            let inner = Expression::sum([Expression::integer(1), square(slope)]);
            // How far the curve is from the axis: y = f(x), or x = f(y).
            let is_across = about_x == (letter.name() != "y");
            let radius = if is_across { upper } else { x.clone() };
            (
                Some(Expression::product([Expression::integer(2), pi()])),
                Expression::product([abs(radius), Expression::root(inner)]),
                "the area",
            )
        }
        _ => return Verdict::cannot_tell("the curves are not understood"),
    };
    let body = match factor {
        Some(factor) => Expression::product([factor, body]),
        None => body,
    };
    let kind = Integration {
        signs: 1,
        closed: false,
        variables: 1,
        bounds: Bounds::Between,
    };
    let whole = Expression::new(Operator::Integral(kind), [body, x, from, to]);
    integral::value(context, &whole, name)
}

fn definite(body: Expression, letter: &Symbol, from: Expression, to: Expression) -> Expression {
    let kind = Integration {
        signs: 1,
        closed: false,
        variables: 1,
        bounds: Bounds::Between,
    };
    let letter = symbol_expression(letter);
    Expression::new(Operator::Integral(kind), [body, letter, from, to])
}

/// The speed along a curve that is given by x and y as functions of another letter, with that
/// letter and its bounds.
fn parametric(context: &Context<'_>) -> Option<((Expression, Symbol), Expression, Expression)> {
    let question = context.question;
    let x = question.definition(&Symbol::new("x"))?;
    let y = question.definition(&Symbol::new("y"))?;
    let mut letters = x.body.free_symbols();
    letters.extend(y.body.free_symbols());
    let letter = letters.iter().next()?.clone();
    if letters.len() != 1 || !["t", "θ", "u", "s"].contains(&letter.name()) {
        return None;
    }
    let (from, to) = bounds(context, &letter)?;
    let square = |body: &Expression| {
        let slope = crate::derivative::derivative(body, &letter)?;
        Some(Expression::power(slope, Expression::integer(2)))
    };
    let speed = Expression::root(Expression::sum([square(&x.body)?, square(&y.body)?]));
    Some(((speed, letter), from, to))
}

/// Half the square of r, and the angles between which a curve r = f(θ) goes round once.
fn polar(context: &Context<'_>) -> Option<(Expression, Symbol, Expression, Expression)> {
    let question = context.question;
    let r = question.definition(&Symbol::new("r"))?;
    let letter = r.body.free_symbols().into_iter().next()?;
    let is_one = question.definitions.len() == 1 && r.body.free_symbols().len() == 1;
    if !is_one || letter.name() != "θ" || question.says(&["outside", "surface", "common"]) {
        return None;
    }
    let half = Expression::fraction(Expression::integer(1), Expression::integer(2));
    let square = Expression::power(r.body.clone(), Expression::integer(2));
    let body = Expression::product([half, square]);
    if let Some((from, to)) = bounds(context, &letter) {
        return Some((body, letter, from, to));
    }
    let mut leaves = Leaves::of([symbol_expression(&letter)]);
    let program = compile(&r.body, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let of = |angle: f64| program.value(&[angle], context.budget);
    let turn = 2.0 * std::f64::consts::PI;
    let zeros = super::zeros::zeros(0.0, turn, 720, of);
    let pi = || Expression::constant(Constant::Pi);
    let twice_pi = || Expression::product([Expression::integer(2), pi()]);
    if question.says(&["loop", "petal", "leaf"]) {
        // Between two zeros that follow each other; all petals must be alike.
        let [first, second, ..] = zeros.as_slice() else {
            return None;
        };
        let exact = |angle: f64| {
            let share = angle / std::f64::consts::PI * 24.0;
            let whole = libm::round(share);
            ((share - whole).abs() < 1e-6).then(|| {
                Expression::product([
                    Expression::fraction(
                        Expression::integer(whole as i64),
                        Expression::integer(24),
                    ),
                    pi(),
                ])
            })
        };
        let gap = second - first;
        let alike = zeros
            .windows(2)
            .all(|pair| ((pair[1] - pair[0]) - gap).abs() < 1e-6);
        return alike
            .then(|| Some((body, letter, exact(*first)?, exact(*second)?)))
            .flatten();
    }
    // Without a change of sign it goes round once in a full turn; where r(θ + π) = -r(θ) it goes
    // round twice.
    let samples: Option<Vec<(f64, f64)>> = (0..24)
        .map(|step| {
            let angle = turn * (f64::from(step) + 0.37) / 24.0;
            Some((of(angle)?, of(angle + turn / 2.0)?))
        })
        .collect();
    let samples = samples?;
    let close = |a: f64, b: f64| (a - b).abs() < 1e-9 * (1.0 + a.abs());
    if samples.iter().all(|(here, there)| close(*here, -there)) {
        return Some((body, letter, Expression::integer(0), pi()));
    }
    let is_positive = samples
        .iter()
        .all(|(here, there)| *here >= 0.0 && *there >= 0.0);
    let is_rose = samples.iter().all(|(here, there)| close(*here, *there));
    (is_positive || is_rose).then(|| (body, letter, Expression::integer(0), twice_pi()))
}

/// "about the x-axis", "around the `$x$`-axis"
fn turns_about(context: &Context<'_>, name: &str) -> bool {
    let words = &context.question.words;
    if words.contains(&format!("{name}-axis")) || words.contains(&format!("{name} axis")) {
        return true;
    }
    words
        .match_indices("$ -axis")
        .chain(words.match_indices("$ axis"))
        .any(|(at, _)| {
            let place = words[..at].matches('$').count();
            let formula = context.question.formulas.get(place);
            formula
                .and_then(Expression::as_symbol)
                .is_some_and(|s| s.name() == name)
        })
}

/// The functions whose graphs bound the region, and their letter.
fn curves(context: &Context<'_>) -> Option<(Vec<Expression>, Symbol)> {
    let question = context.question;
    if let Some(found) = sideways(context) {
        return Some(found);
    }
    let mut found = Vec::new();
    let mut letter: Option<Symbol> = None;
    for formula in &question.formulas {
        let (body, of) = match formula.as_equation() {
            Some((left, right)) => match (left.operator(), left.operands()) {
                (Operator::Symbol(name), _) if name.name() == "y" => (right.clone(), None),
                (Operator::Apply, [_, argument]) => (right.clone(), argument.as_symbol().cloned()),
                (Operator::Symbol(name), _) if name.name() == "x" => {
                    if right.mentions(&Symbol::new("y")) {
                        return None;
                    }
                    continue;
                }
                _ => return None,
            },
            None if matches!(
                formula.operator(),
                Operator::Relation(_)
                    | Operator::Interval(_)
                    | Operator::Tuple(_)
                    | Operator::Symbol(_)
            ) || crate::surface::number(formula).is_some() =>
            {
                continue;
            }
            None => (formula.clone(), None),
        };
        let own = of.or_else(|| question::variables(&body).into_iter().next());
        if let Some(own) = own
            && body.mentions(&own)
        {
            match &letter {
                Some(letter) if *letter != own => return None,
                _ => letter = Some(own),
            }
        }
        found.push(body);
    }
    let letter = letter?;
    let only = |body: &Expression| body.free_symbols().iter().all(|s| *s == letter);
    found.iter().all(only).then_some((found, letter))
}

/// Curves x = g(y), if all are.
fn sideways(context: &Context<'_>) -> Option<(Vec<Expression>, Symbol)> {
    let y = Symbol::new("y");
    let mut found = Vec::new();
    for formula in &context.question.formulas {
        let Some((left, right)) = formula.as_equation() else {
            continue;
        };
        match left.as_symbol()?.name() {
            "x" => found.push(right.clone()),
            "y" if right.free_symbols().is_empty() => {}
            _ => return None,
        }
    }
    let only = |body: &Expression| body.free_symbols().iter().all(|letter| *letter == y);
    let is_area = context.question.says(&["area"]) && !context.question.says(&["volume"]);
    let is_sideways = found.iter().any(|body| body.mentions(&y)) && found.iter().all(only);
    (is_area && is_sideways).then_some((found, y))
}

/// Bounds that the statement gives: an interval, a chain of relations, or two values of the letter.
fn bounds(context: &Context<'_>, letter: &Symbol) -> Option<(Expression, Expression)> {
    let mut values = Vec::new();
    let points: Vec<&[Expression]> = context
        .question
        .formulas
        .iter()
        .filter(|formula| matches!(formula.operator(), Operator::Tuple(_)))
        .map(Expression::operands)
        .collect();
    if let [[from, _], [to, _]] = points.as_slice() {
        // "from (0, 0) to (1, 1)"
        return Some((from.clone(), to.clone()));
    }
    for formula in &context.question.formulas {
        if let Some((low, high, _)) = formula.as_interval() {
            return Some((low.clone(), high.clone()));
        }
        match (formula.operator(), formula.operands()) {
            (Operator::Relation(relations), [low, middle, high])
                if middle.as_symbol() == Some(letter)
                    && relations
                        .iter()
                        .all(|r| matches!(r, Relation::Less | Relation::LessOrEqual)) =>
            {
                return Some((low.clone(), high.clone()));
            }
            (Operator::Relation(relations), [left, right])
                if relations[0] == Relation::Equal && left.as_symbol() == Some(letter) =>
            {
                values.push(right.clone());
            }
            _ => {}
        }
    }
    let number = |value: &Expression| {
        let program = compile(value, &mut Leaves::default()).ok()?;
        program.value(&[], context.budget)
    };
    match values.as_slice() {
        [one, other] => Some(match number(one)? <= number(other)? {
            true => (one.clone(), other.clone()),
            false => (other.clone(), one.clone()),
        }),
        _ => None,
    }
}

/// An upright line on one side, and the only place where the curves meet on the other.
fn from_one_side(
    context: &Context<'_>,
    difference: &Expression,
    letter: &Symbol,
) -> Option<(Expression, Expression)> {
    let mut lines = context.question.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        (left.as_symbol() == Some(letter) && right.free_symbols().is_empty()).then_some(right)
    });
    let (line, None) = (lines.next()?, lines.next()) else {
        return None;
    };
    let at = compile(line, &mut Leaves::default())
        .ok()?
        .value(&[], context.budget)?;
    let mut leaves = Leaves::of([symbol_expression(letter)]);
    let program = compile(difference, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let zeros = super::zeros::zeros(-20.0, 20.0, 1_600, |x| program.value(&[x], context.budget));
    let mut others = zeros.iter().filter(|zero| (**zero - at).abs() > 1e-6);
    let (other, None) = (others.next()?, others.next()) else {
        return None;
    };
    let rounded = libm::round(other * 12.0) / 12.0;
    let other = if (rounded - other).abs() < 1e-7 {
        rounded
    } else {
        *other
    };
    let other_side = Expression::rational(&num_rational::BigRational::from_float(other)?);
    Some(match other < at {
        true => (other_side, line.clone()),
        false => (line.clone(), other_side),
    })
}

/// The first and the last place where two curves meet.
fn crossings(
    context: &Context<'_>,
    difference: &Expression,
    letter: &Symbol,
) -> Option<(Expression, Expression)> {
    let mut leaves = Leaves::of([symbol_expression(letter)]);
    let program = compile(difference, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let zeros = super::zeros::zeros(-20.0, 20.0, 1_600, |x| program.value(&[x], context.budget));
    let (first, last) = (zeros.first()?, zeros.last()?);
    if zeros.len() > 5 || first == last {
        return None;
    }
    let number = |value: f64| {
        let value = num_rational::BigRational::from_float(value)?;
        Some(Expression::rational(&value))
    };
    Some((number(*first)?, number(*last)?))
}
