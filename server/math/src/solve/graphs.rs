//! What can be said of the graph of a function?

use super::antiderivative::antiderivative;
use super::equations::{self, Solution};
use super::functions::{Definition, point};
use super::tidy::tidy;
use super::{Key, formula, inequalities, integrals, write};
use crate::derivative::derivative;
use crate::evaluate::{Point, real_value};
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::views;

type Keys = Result<Vec<Key>, String>;

/// The keys of a question about a graph; none if it is no such question. Where the words may ask
/// for one of several things, each has a key.
pub(super) fn solve(problem: &Problem, main: &Expression) -> Option<Keys> {
    let asked = |word: &str| problem.instructions.contains(word);
    let about = |answer: fn(&Definition) -> Keys| match Definition::of(main) {
        Some(definition) => answer(&definition),
        None => Err("the function is not understood".into()),
    };
    Some(match () {
        () if asked("tangent line") => line(problem, main, false),
        () if asked("normal line") => line(problem, main, true),
        () if asked("area") => area(problem, main),
        () if asked("average") => average(problem, main),
        () if asked("critical points") => about(critical),
        () if asked("inflection") => about(inflection),
        () if asked("monotonic") => about(|f| signs(f, 1)),
        () if asked("concavity") => about(|f| signs(f, 2)),
        () if asked("vertex") => about(vertex),
        () if asked("intercepts") => intercepts(problem, main),
        () if asked("asymptotes") => asymptotes(problem, main),
        () if asked("slope") => slope(main),
        () => return None,
    })
}

fn symbol(symbol: &Symbol) -> Expression {
    Expression::new(Operator::Symbol(symbol.clone()), [])
}

fn unknown() -> String {
    "it has no value there".into()
}

/// The tangent to a curve, or the line that is perpendicular to it.
fn line(problem: &Problem, main: &Expression, is_normal: bool) -> Keys {
    let (x, y, curve) = curve(main).ok_or("the curve is not understood")?;
    let here = at(problem, &x, main).ok_or("the point is not understood")?;
    let value = |of: &Expression| -> Result<Normal, String> {
        let there = of.substitute(&x, &here.0).substitute(&y, &here.1);
        normal(&there).map_err(|_| unknown())
    };
    if !value(&curve)?.is_zero() {
        return Err("the point does not lie on the curve".into());
    }
    let part = |by: &Symbol| -> Result<Normal, String> {
        value(&derivative(&curve, by).ok_or("a part of it cannot be differentiated")?)
    };
    let (by_x, by_y) = (part(&x)?, part(&y)?);
    let (above, below) = match is_normal {
        false => (by_x.negate(), by_y),
        true => (by_y, by_x),
    };
    if views::is_zero(&below) != views::Truth::No {
        return Err("the line is vertical".into());
    }
    let slope = above.divide(&below).map_err(|_| unknown())?;
    let (a, b) = (
        normal(&here.0).map_err(|_| unknown())?,
        normal(&here.1).map_err(|_| unknown())?,
    );
    let rise = slope.multiply(&a).map_err(|_| unknown())?;
    let height = b.subtract(&rise).map_err(|_| unknown())?;
    let rising = match slope.as_constant() {
        Some(slope) => write::multiple(&slope, symbol(&x)),
        None => write::product([write::normal(&slope), symbol(&x)]),
    };
    formula(Expression::equation(
        symbol(&y),
        write::sum([rising, write::normal(&height)]),
    ))
}

/// The letters of a curve, and what is 0 on it.
fn curve(main: &Expression) -> Option<(Symbol, Symbol, Expression)> {
    if let Some(definition) = Definition::of(main) {
        let y = match definition.name.as_ref().and_then(Expression::as_symbol) {
            Some(name) => name.clone(),
            None => Symbol::new("y"),
        };
        let zero = Expression::difference(symbol(&y), definition.body);
        return Some((definition.variable, y, zero));
    }
    let (left, right) = main.as_equation()?;
    let letters: Vec<Symbol> = main.free_symbols().into_iter().collect();
    match <[Symbol; 2]>::try_from(letters).ok()? {
        [x, y] => Some((x, y, Expression::difference(left.clone(), right.clone()))),
    }
}

/// The point that is given, by both coordinates or by one.
fn at(problem: &Problem, x: &Symbol, main: &Expression) -> Option<(Expression, Expression)> {
    problem.conditions.iter().find_map(|condition| {
        if let (Operator::Tuple(_), [a, b]) = (condition.operator(), condition.operands()) {
            return Some((a.clone(), b.clone()));
        }
        let (left, right) = condition.as_equation()?;
        if left.as_symbol() != Some(x) || !right.free_symbols().is_empty() {
            return None;
        }
        let body = Definition::of(main)?.body.substitute(x, right);
        Some((right.clone(), write::collected(&body)))
    })
}

/// The interval that a condition names.
fn interval(problem: &Problem) -> Option<(Expression, Expression)> {
    problem.conditions.iter().find_map(|condition| {
        let inner = match condition.as_relation() {
            Some((_, Relation::In, right)) => right,
            _ => condition,
        };
        if let Some((low, high, _)) = inner.as_interval() {
            return Some((low.clone(), high.clone()));
        }
        match (condition.operator(), condition.operands()) {
            (Operator::Relation(relations), [low, _, high])
                if relations
                    .iter()
                    .all(|r| matches!(r, Relation::Less | Relation::LessOrEqual)) =>
            {
                Some((low.clone(), high.clone()))
            }
            _ => None,
        }
    })
}

fn integral(
    body: &Expression,
    by: &Symbol,
    low: &Expression,
    high: &Expression,
) -> Result<Normal, String> {
    let found = antiderivative(body, by).ok_or("no method of a first course applies")?;
    let value = integrals::definite(body, &found, by, low, high)?.ok_or("it diverges")?;
    normal(&value).map_err(|_| unknown())
}

fn average(problem: &Problem, main: &Expression) -> Keys {
    let definition = Definition::of(main).ok_or("the function is not understood")?;
    let (low, high) = interval(problem).ok_or("no interval is given")?;
    let whole = integral(&definition.body, &definition.variable, &low, &high)?;
    let width = normal(&Expression::difference(high, low)).map_err(|_| unknown())?;
    let mean = whole.divide(&width).map_err(|_| unknown())?;
    formula(tidy(&write::normal(&mean)))
}

/// Between two curves that meet twice, or below one over an interval.
fn area(problem: &Problem, main: &Expression) -> Keys {
    let (difference, by, bounds) = match (main.operator(), main.operands()) {
        (Operator::System | Operator::List, [first, second]) => {
            let bad = "the curves are not understood";
            let (first, second) = (
                Definition::of(first).ok_or(bad)?,
                Definition::of(second).ok_or(bad)?,
            );
            if first.variable != second.variable {
                return Err(bad.into());
            }
            let difference = Expression::difference(first.body, second.body);
            let (found, _) = equations::zeros(&difference, &first.variable)?;
            let bounds = match found.as_slice() {
                [Solution::Number(a), Solution::Number(b)] => (a.clone(), b.clone()),
                _ => return Err("the curves do not meet twice".into()),
            };
            (difference, first.variable, bounds)
        }
        _ => {
            let definition = Definition::of(main).ok_or("the curve is not understood")?;
            let bounds = interval(problem).ok_or("no interval is given")?;
            let (found, _) = equations::zeros(&definition.body, &definition.variable)?;
            let place = |e: &Expression| real_value(e, &Point::new()).map_err(|_| unknown());
            let (low, high) = (place(&bounds.0)?, place(&bounds.1)?);
            for zero in found {
                match zero {
                    Solution::Number(zero) if !(low < place(&zero)? && place(&zero)? < high) => {}
                    _ => return Err("the curve crosses the axis".into()),
                }
            }
            (definition.body, definition.variable, bounds)
        }
    };
    let value = integral(&difference, &by, &bounds.0, &bounds.1)?;
    let sign = views::sign(&value).ok_or_else(unknown)?;
    let size = match sign < 0 {
        true => value.negate(),
        false => value,
    };
    formula(tidy(&write::normal(&size)))
}

fn slope_of(definition: &Definition, order: u32) -> Result<Expression, String> {
    let mut slope = definition.body.clone();
    for _ in 0..order {
        let next = derivative(&slope, &definition.variable);
        slope = tidy(&next.ok_or("a part of it cannot be differentiated")?);
    }
    Ok(slope)
}

/// The list of the numbers where an expression is 0.
fn zeros(of: &Expression, variable: &Symbol) -> Result<Vec<Expression>, String> {
    let (found, _) = equations::zeros(of, variable)?;
    let mut places = Vec::with_capacity(found.len());
    for solution in found {
        let Solution::Number(number) = solution else {
            return Err("the places are angles".into());
        };
        let place = real_value(&number, &Point::new()).map_err(|_| unknown())?;
        places.push((place, number));
    }
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    places.dedup_by(|a, b| a.1 == b.1);
    Ok(places.into_iter().map(|(_, number)| number).collect())
}

fn listed(variable: &Symbol, places: Vec<Expression>) -> Keys {
    if places.is_empty() {
        return super::words("none");
    }
    let items = places
        .into_iter()
        .map(|place| Expression::equation(symbol(variable), place));
    formula(write::list(items.collect()))
}

fn critical(definition: &Definition) -> Keys {
    let slope = slope_of(definition, 1)?;
    let is_everywhere = slope.parts().all(|part| match part.operator() {
        Operator::Root | Operator::NthRoot | Operator::Fraction => false,
        Operator::Function(f) => !matches!(f, Function::Abs | Function::Ln | Function::Log),
        _ => true,
    });
    if !is_everywhere {
        return Err("the derivative may not exist everywhere".into());
    }
    listed(&definition.variable, zeros(&slope, &definition.variable)?)
}

fn inflection(definition: &Definition) -> Keys {
    let second = slope_of(definition, 2)?;
    let places = zeros(&second, &definition.variable)?;
    listed(&definition.variable, places)
}

/// Where a derivative is positive, and where it is negative.
fn signs(definition: &Definition, order: u32) -> Keys {
    let slope = slope_of(definition, order)?;
    let mut keys = Vec::new();
    for sign in [Relation::Greater, Relation::Less] {
        let statement = Expression::relation(slope.clone(), sign, write::integer(0));
        let found = inequalities::of_statement(&statement, &definition.variable)?;
        keys.extend(found.into_iter().next());
    }
    Ok(keys)
}

/// The highest or lowest point of a parabola.
fn vertex(definition: &Definition) -> Keys {
    let parabola = normal(&definition.body)
        .ok()
        .and_then(|body| views::univariate(&body, &definition.variable))
        .filter(|parabola| parabola.degree() == 2)
        .ok_or("it is no parabola")?;
    let twice = Rational::integer(2) * parabola.leading();
    let place = (-parabola.coefficient(1))
        .checked_div(&twice)
        .ok_or_else(unknown)?;
    let height = parabola.at(&place);
    formula(point(write::number(&place), write::number(&height)))
}

/// Where the graph meets the axes, or one of them.
fn intercepts(problem: &Problem, main: &Expression) -> Keys {
    let definition = Definition::of(main).ok_or("the function is not understood")?;
    let asked = |word: &str| problem.instructions.contains(word);
    let (asks_x, asks_y) = (asked("x-intercepts"), asked("y-intercepts"));
    let wants = |one: bool, other: bool| one || !other;
    let zero = || write::integer(0);
    let mut points: Vec<Expression> = Vec::new();
    if wants(asks_x, asks_y) {
        let across = zeros(&definition.body, &definition.variable)?;
        points.extend(across.into_iter().map(|x| point(x, zero())));
    }
    if wants(asks_y, asks_x) {
        let height = normal(&definition.body.substitute(&definition.variable, &zero()));
        let up = point(zero(), write::normal(&height.map_err(|_| unknown())?));
        if !points.contains(&up) {
            points.push(up);
        }
    }
    match points.is_empty() {
        true => super::words("none"),
        false => formula(write::list(points)),
    }
}

/// The vertical asymptotes of a quotient of polynomials, and the horizontal one.
fn asymptotes(problem: &Problem, main: &Expression) -> Keys {
    let definition = Definition::of(main).ok_or("the function is not understood")?;
    let asked = |word: &str| problem.instructions.contains(word);
    let (vertical, horizontal) = (asked("vertical asymptotes"), asked("horizontal asymptotes"));
    let bad = "it is no quotient of polynomials";
    let number = normal(&definition.body).map_err(|_| bad)?;
    let part = |p: &crate::normal_form::Polynomial| {
        views::univariate(&Normal::whole(p.clone()), &definition.variable)
    };
    let (above, below) = (
        part(number.numerator()).ok_or(bad)?,
        part(number.denominator()).ok_or(bad)?,
    );
    if above.gcd(&below).degree() > 0 {
        return Err("it can be reduced".into());
    }
    let mut lines = Vec::new();
    if vertical || !horizontal {
        let places = zeros(&number.denominator_expression(), &definition.variable)?;
        let line = |place| Expression::equation(symbol(&definition.variable), place);
        lines.extend(places.into_iter().map(line));
    }
    let level = match above.degree().cmp(&below.degree()) {
        std::cmp::Ordering::Less => Some(Rational::ZERO),
        std::cmp::Ordering::Equal => above.leading().checked_div(&below.leading()),
        std::cmp::Ordering::Greater => None,
    };
    if let Some(level) = level.filter(|_| horizontal || !vertical) {
        let y = Expression::symbol("y");
        lines.push(Expression::equation(y, write::number(&level)));
    }
    match lines.is_empty() {
        true => super::words("none"),
        false => formula(write::list(lines)),
    }
}

/// The slope of a line.
fn slope(main: &Expression) -> Keys {
    let (x, y, curve) = curve(main).ok_or("the line is not understood")?;
    let number = normal(&curve).map_err(|_| "it cannot be collected")?;
    let part = |of: &Symbol| views::linear_in(&number, &symbol(of)).map(|(slope, _)| slope);
    let (Some(by_x), Some(by_y)) = (
        part(&x).and_then(|slope| slope.as_constant()),
        part(&y).and_then(|slope| slope.as_constant()),
    ) else {
        return Err("it is no line".into());
    };
    let slope = (-by_x).checked_div(&by_y).ok_or("the line is vertical")?;
    formula(write::number(&slope))
}
