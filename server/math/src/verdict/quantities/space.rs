//! Planes and limits in space, and derivatives of vectors: divergence, curl, unit tangents,
//! critical points.

use super::{Asked, tuple, value_of};
use crate::derivative::derivative;
use crate::expression::{Brackets, Expression, Operator, Symbol};
use crate::normal_form::{self, Normal};
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::{Verdict, equations, functions, vectors};
use crate::views;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    match () {
        () if has_limit_at_point(asked) => limit(asked),
        () if says(&["tangent plane"]) => tangent_plane(asked),
        () if says(&["plane"]) && says(&["equation"]) => plane(asked),
        () if says(&["divergence"]) && !says(&["theorem", "test"]) => divergence(asked),
        () if says(&["curl"]) && !says(&["theorem"]) => curl(asked),
        () if says(&["unit tangent vector"]) => unit_tangent(asked),
        () if says(&["speed"]) => speed(asked),
        () if says(&["arc length", "length of the curve"]) => length(asked),
        () if says(&["parametric equations"]) && says(&["line"]) => line(asked),
        () if (says(&["derivative", "differentiate", "velocity"]) || primes(asked).is_some())
            && !says(&["directional", "partial", "gradient"]) =>
        {
            vector_derivative(asked)
        }
        () if says(&["critical point"]) => critical_points(asked),
        () => None,
    }
}

fn has_limit_at_point(asked: &Asked<'_>) -> bool {
    asked.formulas.iter().any(|formula| {
        matches!(formula.operator(), Operator::Limit(_)) && tuple(&formula.operands()[1]).is_some()
    })
}

/// The limit of a function of several letters where it is continuous: its value.
fn limit(asked: &Asked<'_>) -> Option<Verdict> {
    let [formula] = asked.formulas.as_slice() else {
        return None;
    };
    let [body, letters, point] = formula.operands() else {
        return None;
    };
    let (letters, point) = (tuple(letters)?, tuple(point)?);
    let mut here = asked.givens.unfold(body);
    for (letter, value) in letters.iter().zip(point) {
        here = here.substitute(letter.as_symbol()?, value);
    }
    if super::number(&here).is_none() {
        let body = asked.givens.unfold(body);
        return super::fields::limit_along_paths(asked, &body, letters, point);
    }
    match asked.answer.outcome() {
        Some(_) => Some(Verdict::fails_at(
            "there is a limit",
            format!("it is {}", equations::shown(&here)),
        )),
        None => asked.value(&here),
    }
}

fn symbol(name: &str) -> Expression {
    Expression::symbol(name)
}

/// A named point `P(1, 2, 3)` or a tuple in round brackets, of so many numbers.
fn points(asked: &Asked<'_>, count: usize) -> Vec<Vec<Expression>> {
    asked
        .formulas
        .iter()
        .filter_map(|formula| match (formula.operator(), formula.operands()) {
            (Operator::Tuple(Brackets::Round) | Operator::Interval(_), parts) => {
                Some(parts.to_vec())
            }
            (Operator::Apply, [name, parts @ ..]) if name.as_symbol().is_some() => {
                Some(parts.to_vec())
            }
            _ => None,
        })
        .filter(|point| {
            point.len() == count && point.iter().all(|entry| entry.free_symbols().is_empty())
        })
        .collect()
}

/// A vector in angle brackets or along i, j, k, with its entries.
fn vector(formula: &Expression) -> Option<Vec<Expression>> {
    let value = value_of(formula);
    match value.operator() {
        Operator::Tuple(Brackets::Round) | Operator::Interval(_) => None,
        _ => vectors::entries(value),
    }
}

/// a, b, c, d of a plane a x + b y + c z = d.
fn coefficients(equation: &Expression) -> Option<[Normal; 4]> {
    let (left, right) = equation.as_equation()?;
    let mut rest =
        normal_form::normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let mut found = Vec::new();
    for letter in ["x", "y", "z"] {
        let (slope, other) = views::linear_in(&rest, &symbol(letter))?;
        if ["x", "y", "z"]
            .iter()
            .any(|name| views::depends_on(&slope, &Symbol::new(name)))
        {
            return None;
        }
        found.push(slope);
        rest = other;
    }
    found.push(rest.negate());
    <[Normal; 4]>::try_from(found).ok()
}

/// Whether a claimed equation is that of the plane through a point with a normal vector.
fn is_plane(claim: &Expression, normal: &[Expression], point: &[Expression]) -> Option<Verdict> {
    let found = coefficients(claim)?;
    let claimed: Vec<Expression> = found[..3].iter().map(Normal::to_expression).collect();
    let cross = |i: usize, j: usize| {
        Expression::difference(
            Expression::product([claimed[i].clone(), normal[j].clone()]),
            Expression::product([claimed[j].clone(), normal[i].clone()]),
        )
    };
    let zero = Expression::integer(0);
    for entry in [cross(0, 1), cross(1, 2), cross(2, 0)] {
        match equivalence::compare(&entry, &zero) {
            Equivalence::Equal => {}
            Equivalence::Different(_) => {
                let shown: Vec<String> = normal.iter().map(equations::shown).collect();
                return Some(Verdict::fails_at(
                    "the plane has another direction",
                    format!("({}) is normal to it", shown.join(", ")),
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    if claimed
        .iter()
        .all(|e| normal_form::normal(e).is_ok_and(|n| n.is_zero()))
    {
        return None;
    }
    let products = claimed
        .iter()
        .zip(point)
        .map(|(a, p)| Expression::product([a.clone(), p.clone()]));
    let at_point = Expression::sum(products);
    Some(
        match equivalence::compare(&at_point, &found[3].to_expression()) {
            Equivalence::Equal => Verdict::Holds,
            Equivalence::Different(witness) => {
                Verdict::fails_at("the plane does not go through the point", witness)
            }
            Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
        },
    )
}

fn plane(asked: &Asked<'_>) -> Option<Verdict> {
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let points = points(asked, 3);
    let normals: Vec<Vec<Expression>> = asked
        .formulas
        .iter()
        .filter_map(vector)
        .filter(|entries| entries.len() == 3)
        .collect();
    if let ([point], [normal]) = (points.as_slice(), normals.as_slice())
        && asked.says(&["normal", "perpendicular", "orthogonal"])
    {
        return is_plane(claim, normal, point);
    }
    if let ([a, b, c], true) = (points.as_slice(), normals.is_empty()) {
        let minus = |p: &[Expression], place: usize| {
            Expression::difference(p[place].clone(), a[place].clone())
        };
        let entry = |i: usize, j: usize| {
            Expression::difference(
                Expression::product([minus(b, i), minus(c, j)]),
                Expression::product([minus(b, j), minus(c, i)]),
            )
        };
        let normal = [entry(1, 2), entry(2, 0), entry(0, 1)].map(|e| normal_form::collected(&e));
        return is_plane(claim, &normal, a);
    }
    Some(Verdict::cannot_tell(
        "what is known of the plane is not understood",
    ))
}

/// The plane that touches z = f(x, y).
fn tangent_plane(asked: &Asked<'_>) -> Option<Verdict> {
    let unclear = || {
        Some(Verdict::cannot_tell(
            "the surface or its point is not understood",
        ))
    };
    let [claim] = asked.answer.formulas.as_slice() else {
        return unclear();
    };
    let Some(body) = asked.givens.body().filter(|body| {
        body.free_symbols()
            .iter()
            .all(|letter| ["x", "y"].contains(&letter.name()))
    }) else {
        return unclear();
    };
    let point = points(asked, 3).into_iter().chain(points(asked, 2)).next();
    let Some(point) = point else {
        return unclear();
    };
    let letters = [Symbol::new("x"), Symbol::new("y")];
    let here = |e: &Expression| {
        e.substitute(&letters[0], &point[0])
            .substitute(&letters[1], &point[1])
    };
    let (Some(along_x), Some(along_y)) =
        (derivative(body, &letters[0]), derivative(body, &letters[1]))
    else {
        return unclear();
    };
    let normal = [here(&along_x), here(&along_y), Expression::integer(-1)];
    let touched = [point[0].clone(), point[1].clone(), here(body)];
    is_plane(claim, &normal, &touched).or_else(unclear)
}

/// The components of the field or curve that the statement gives.
fn field(asked: &Asked<'_>) -> Option<Vec<Expression>> {
    asked.formulas.iter().find_map(|formula| {
        let (_, right) = formula.as_equation()?;
        let entries = match right.operator() {
            Operator::Tuple(_) => right.operands().to_vec(),
            _ => vectors::entries(right)?,
        };
        (2..=3).contains(&entries.len()).then_some(entries)
    })
}

fn divergence(asked: &Asked<'_>) -> Option<Verdict> {
    let field = field(asked)?;
    let terms: Option<Vec<Expression>> = ["x", "y", "z"]
        .iter()
        .zip(&field)
        .map(|(letter, entry)| derivative(entry, &Symbol::new(letter)))
        .collect();
    asked.value(&normal_form::collected(&Expression::sum(terms?)))
}

fn curl(asked: &Asked<'_>) -> Option<Verdict> {
    let mut field = field(asked)?;
    if field.len() == 2 {
        field.push(Expression::integer(0));
    }
    let letters = ["x", "y", "z"].map(Symbol::new);
    let entry = |i: usize, j: usize| {
        Some(normal_form::collected(&Expression::difference(
            derivative(&field[j], &letters[i])?,
            derivative(&field[i], &letters[j])?,
        )))
    };
    same_vector(asked, &[entry(1, 2)?, entry(2, 0)?, entry(0, 1)?])
}

/// Compares the only vector of the answer.
fn same_vector(asked: &Asked<'_>, exact: &[Expression]) -> Option<Verdict> {
    let claimed = asked.only_value()?;
    let mut claimed = match tuple(claimed) {
        Some(entries) => entries.to_vec(),
        None if claimed.as_i64() == Some(0) => vec![Expression::integer(0); exact.len()],
        None => vectors::entries(claimed)?,
    };
    // i and j stand for vectors in the plane, too.
    if claimed.len() == 3 && exact.len() == 2 && claimed[2].as_i64() == Some(0) {
        claimed.truncate(2);
    }
    if claimed.len() != exact.len() {
        return Some(Verdict::fails_at(
            "it has another size",
            format!("there should be {} entries", exact.len()),
        ));
    }
    let mut all = Verdict::Holds;
    for (place, (exact, claimed)) in exact.iter().zip(&claimed).enumerate() {
        match functions::equal(asked.question, exact, claimed) {
            Verdict::Holds => {}
            Verdict::Fails { witness, .. } => {
                return Some(Verdict::Fails {
                    reason: format!("entry {} is wrong", place + 1),
                    witness,
                });
            }
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// The curve's components with its letter.
fn curve(asked: &Asked<'_>) -> Option<(Vec<Expression>, Symbol)> {
    let entries = field(asked)?;
    let letters: std::collections::BTreeSet<Symbol> =
        entries.iter().flat_map(Expression::free_symbols).collect();
    match letters.len() {
        1 => Some((entries, letters.into_iter().next()?)),
        _ => None,
    }
}

fn at_place(asked: &Asked<'_>, letter: &Symbol, entries: &mut [Expression]) -> bool {
    let place = asked.formulas.iter().find_map(|formula| {
        let (left, right) = formula.as_equation()?;
        (left.as_symbol() == Some(letter)).then(|| right.clone())
    });
    if let Some(place) = &place {
        for entry in entries {
            *entry = entry.substitute(letter, place);
        }
    }
    place.is_some()
}

fn unit_tangent(asked: &Asked<'_>) -> Option<Verdict> {
    let (entries, letter) = curve(asked)?;
    let slopes: Option<Vec<Expression>> = entries
        .iter()
        .map(|entry| derivative(entry, &letter))
        .collect();
    let mut slopes = slopes?;
    at_place(asked, &letter, &mut slopes);
    let square = |e: &Expression| Expression::power(e.clone(), Expression::integer(2));
    let length = Expression::root(Expression::sum(slopes.iter().map(square)));
    let unit: Vec<Expression> = slopes
        .into_iter()
        .map(|slope| Expression::fraction(slope, length.clone()))
        .collect();
    same_vector(asked, &unit)
}

/// The order of a derivative that is asked for by its sign: `\mathbf{r}''(t)`.
fn primes(asked: &Asked<'_>) -> Option<u32> {
    asked.formulas.iter().find_map(|formula| {
        let function = match (formula.operator(), formula.operands()) {
            (Operator::Apply, [function, at]) if at.as_symbol().is_some() => function,
            _ => formula,
        };
        match (function.operator(), function.operands()) {
            (Operator::Prime(order), [name]) if name.as_symbol()?.is_vector() => Some(*order),
            _ => None,
        }
    })
}

fn vector_derivative(asked: &Asked<'_>) -> Option<Verdict> {
    let (entries, letter) = curve(asked)?;
    let order = match () {
        () if matches!(primes(asked), Some(1..=3)) => primes(asked)?,
        () if asked.says(&["second derivative", "acceleration"]) => 2,
        () if asked.says(&["third"]) => return None,
        () => 1,
    };
    let mut slopes = entries;
    for _ in 0..order {
        let next: Option<Vec<Expression>> = slopes
            .iter()
            .map(|entry| derivative(entry, &letter))
            .collect();
        slopes = next?;
    }
    at_place(asked, &letter, &mut slopes);
    same_vector(asked, &slopes)
}

/// The length of the derivative.
fn speed(asked: &Asked<'_>) -> Option<Verdict> {
    let (entries, letter) = curve(asked)?;
    let slopes: Option<Vec<Expression>> = entries
        .iter()
        .map(|entry| derivative(entry, &letter))
        .collect();
    let mut slopes = slopes?;
    at_place(asked, &letter, &mut slopes);
    let square = |e: &Expression| Expression::power(e.clone(), Expression::integer(2));
    asked.value(&Expression::root(Expression::sum(
        slopes.iter().map(square),
    )))
}

/// The length of a curve in space between two values of its letter.
fn length(asked: &Asked<'_>) -> Option<Verdict> {
    let (entries, letter) = curve(asked)?;
    let (low, high) = asked.formulas.iter().find_map(|formula| {
        let bounds = match (formula.operator(), formula.operands()) {
            (Operator::Interval(_), [low, high]) => (low, high),
            (Operator::Relation(_), [low, middle, high]) if middle.as_symbol() == Some(&letter) => {
                (low, high)
            }
            _ => return None,
        };
        Some((super::number(bounds.0)?, super::number(bounds.1)?))
    })?;
    let square = |e: &Expression| {
        let slope = derivative(e, &letter)?;
        Some(Expression::power(slope, Expression::integer(2)))
    };
    let squares: Option<Vec<Expression>> = entries.iter().map(square).collect();
    let speed = Expression::root(Expression::sum(squares?));
    let of = super::function(&speed, &letter)?;
    // Simpson's rule, with half as many steps for a bound of its error.
    let estimate = |steps: u32| -> Option<f64> {
        let width = (high - low) / f64::from(steps);
        let mut total = of(low)? + of(high)?;
        for step in 1..steps {
            let weight = if step % 2 == 1 { 4.0 } else { 2.0 };
            total += weight * of(low + width * f64::from(step))?;
        }
        Some(total * width / 3.0)
    };
    let (rough, exact) = (estimate(600)?, estimate(1_200)?);
    if (rough - exact).abs() > 1e-8 * (1.0 + exact.abs()) {
        return Some(Verdict::cannot_tell(
            "the length could not be computed exactly enough",
        ));
    }
    let claimed = asked.only_value()?;
    Some(match super::agrees(exact, claimed)? {
        true => Verdict::Holds,
        false => Verdict::fails_at(
            "it is not the length",
            format!("the length is {}", equivalence::number(exact)),
        ),
    })
}

/// Parametric equations of the line through a point along a vector, or through two points.
fn line(asked: &Asked<'_>) -> Option<Verdict> {
    let points = points(asked, 3);
    let along = asked
        .formulas
        .iter()
        .filter_map(vector)
        .find(|entries| entries.len() == 3);
    let minus = |a: &[Expression], b: &[Expression]| -> Vec<Expression> {
        a.iter()
            .zip(b)
            .map(|(a, b)| Expression::difference(a.clone(), b.clone()))
            .collect()
    };
    let (point, along) = match (points.as_slice(), along) {
        ([point], Some(along)) => (point.clone(), along),
        ([a, b], None) => (a.clone(), minus(b, a)),
        _ => {
            return Some(Verdict::cannot_tell(
                "what is known of the line is not understood",
            ));
        }
    };
    let mut claimed = Vec::new();
    for (name, claim) in ["x", "y", "z"].iter().zip(&asked.answer.formulas) {
        let (left, right) = claim.as_equation()?;
        if left.as_symbol()?.name() != *name {
            return None;
        }
        claimed.push(right.clone());
    }
    if claimed.len() != 3 || asked.answer.formulas.len() != 3 {
        return None;
    }
    let letters: std::collections::BTreeSet<Symbol> =
        claimed.iter().flat_map(Expression::free_symbols).collect();
    let (letter, 1) = (letters.iter().next()?.clone(), letters.len()) else {
        return None;
    };
    // Two points of the claimed line, as seen from the given one, must lie along it.
    let mut seen = Vec::new();
    for at in [0, 1] {
        let here: Vec<Expression> = claimed
            .iter()
            .map(|entry| entry.substitute(&letter, &Expression::integer(at)))
            .collect();
        let from = minus(&here, &point);
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let product =
                |a: usize, b: usize| Expression::product([from[a].clone(), along[b].clone()]);
            let entry = Expression::difference(product(i, j), product(j, i));
            match equivalence::compare(&entry, &Expression::integer(0)) {
                Equivalence::Equal => {}
                Equivalence::Different(_) => {
                    let shown: Vec<String> = here.iter().map(equations::shown).collect();
                    return Some(Verdict::fails_at(
                        "it is another line",
                        format!("({}) is not on it", shown.join(", ")),
                    ));
                }
                Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
            }
        }
        seen.push(here);
    }
    match seen[0] == seen[1] {
        true => None,
        false => Some(Verdict::Holds),
    }
}

/// Where both partial derivatives of f(x, y) vanish.
fn critical_points(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letters: Vec<Symbol> = body.free_symbols().into_iter().collect();
    if letters.len() != 2 {
        return None;
    }
    let rows: Option<Vec<Expression>> = letters
        .iter()
        .map(|letter| {
            let slope = derivative(body, letter)?;
            Some(Expression::equation(slope, Expression::integer(0)))
        })
        .collect();
    let system = Expression::new(Operator::System, rows?);
    Some(equations::judge_formula(
        asked.question,
        &system,
        asked.answer,
    ))
}
