//! Fields and curves: potentials, work along a path, curvature; functions of two variables: limits
//! along paths and extrema; Wronskians; distances from planes.

use super::{Asked, agrees, number, tuple, value_of};
use crate::derivative::derivative;
use crate::expression::{Expression, Function, Operator, Symbol};
use crate::normal_form;
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::substitution;
use crate::verdict::{Verdict, equations, functions, vectors};

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    match () {
        () if says(&["potential function", "such that"]) && is_gradient(asked) => potential(asked),
        () if says(&[
            "find an integrating factor",
            "find the integrating factor",
            "determine an integrating factor",
            "determine the integrating factor",
        ]) && !says(&["solve", "solution"]) =>
        {
            integrating_factor(asked)
        }
        () if says(&["sphere"])
            && says(&["center", "centre", "radius"])
            && !says(&["equation"]) =>
        {
            sphere(asked)
        }
        () if says(&["distance between"]) && says(&["point"]) => between_points(asked),
        () if says(&["initial point", "component form"]) => from_points(asked),
        () if says(&["conservative"]) && says(&["whether", "is the", "determine if"]) => {
            conservative(asked)
        }
        () if says(&["line integral", "work done", "work "]) => work(asked),
        () if says(&["curvature"]) && !says(&["radius of"]) => curvature(asked),
        () if says(&["wronskian"]) => wronskian(asked),
        () if says(&["distance"]) && says(&["plane"]) && says(&["point"]) => distance(asked),
        () if says(&[
            "saddle",
            "local extrem",
            "relative extrem",
            "critical point",
        ]) && says(&["saddle", "local", "relative", "classify"]) =>
        {
            extrema(asked)
        }
        () => None,
    }
}

fn square(e: &Expression) -> Expression {
    Expression::power(e.clone(), Expression::integer(2))
}

/// The statement speaks of a gradient, by its sign or its name.
fn is_gradient(asked: &Asked<'_>) -> bool {
    asked.says(&["potential", "gradient", "conservative"])
        || asked.formulas.iter().any(|formula| {
            formula
                .parts()
                .any(|part| matches!(part.operator(), Operator::Function(Function::Gradient)))
        })
}

/// The field `F = …` or `F(x, y) = …` whose entries hold the letters of space.
fn field(asked: &Asked<'_>) -> Option<Vec<Expression>> {
    asked.formulas.iter().find_map(|formula| {
        let (_, right) = formula.as_equation()?;
        let entries = match tuple(right) {
            Some(entries) => entries.to_vec(),
            None => vectors::entries(right)?,
        };
        let in_space = entries.iter().flat_map(Expression::free_symbols);
        let mut in_space = in_space.peekable();
        in_space.peek()?;
        (in_space.all(|letter| ["x", "y", "z"].contains(&letter.name()))
            && (2..=3).contains(&entries.len()))
        .then_some(entries)
    })
}

/// A function whose gradient is the field.
fn potential(asked: &Asked<'_>) -> Option<Verdict> {
    let field = field(asked)?;
    let claim = asked.only_value()?;
    for (letter, entry) in ["x", "y", "z"].iter().zip(&field) {
        let slope = derivative(claim, &Symbol::new(letter))?;
        match equivalence::compare(&slope, entry) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at(
                    format!("its derivative by {letter} is not that of the field"),
                    witness,
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    Some(Verdict::Holds)
}

/// Whether a field is a gradient: "yes" or "no".
fn conservative(asked: &Asked<'_>) -> Option<Verdict> {
    let field = field(asked)?;
    let words = format!(" {} ", asked.answer.words);
    if !asked.answer.formulas.is_empty() {
        return None;
    }
    let says_no = [" no ", " not ", " no."]
        .iter()
        .any(|no| words.contains(no));
    let says_yes = ["conservative", "yes"]
        .iter()
        .any(|yes| words.contains(yes));
    if !says_no && !says_yes {
        return None;
    }
    let letters = ["x", "y", "z"].map(Symbol::new);
    let mut witness = None;
    for i in 0..field.len() {
        for j in 0..i {
            let (left, right) = (
                derivative(&field[i], &letters[j])?,
                derivative(&field[j], &letters[i])?,
            );
            match equivalence::compare(&left, &right) {
                Equivalence::Equal => {}
                Equivalence::Different(told) => witness = Some(told),
                Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
            }
        }
    }
    Some(match (witness, says_no) {
        (None, false) | (Some(_), true) => Verdict::Holds,
        (None, true) => Verdict::fails_at("it is conservative", "the mixed derivatives agree"),
        (Some(told), false) => Verdict::fails_at("it is not conservative", told),
    })
}

/// A function μ with μ′ = P μ for the equation y′ + P y = Q.
fn integrating_factor(asked: &Asked<'_>) -> Option<Verdict> {
    let unclear = || Some(Verdict::cannot_tell("the equation is not understood"));
    let slope_of = |part: &Expression| match (part.operator(), part.operands()) {
        (Operator::Prime(1), [function]) => function.as_symbol().cloned(),
        (Operator::Derivative(by), [function, _]) if by.orders.as_slice() == [1] => {
            function.as_symbol().cloned()
        }
        _ => None,
    };
    let mut found = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let function = formula.parts().find_map(slope_of)?;
        let zero = Expression::difference(left.clone(), right.clone());
        Some((zero, function))
    });
    let (Some((zero, function)), None) = (found.next(), found.next()) else {
        return unclear();
    };
    fn with_letter(
        e: &Expression,
        is_slope: &impl Fn(&Expression) -> bool,
        by: &Expression,
    ) -> Expression {
        match is_slope(e) {
            true => by.clone(),
            false => e.map_operands(|operand| with_letter(operand, is_slope, by)),
        }
    }
    let slope = Symbol::new("□");
    let kernel = Expression::new(Operator::Symbol(slope.clone()), []);
    let zero = with_letter(&zero, &|part| slope_of(part).is_some(), &kernel);
    let (Some(lead), Some(rest)) = (derivative(&zero, &slope), derivative(&zero, &function)) else {
        return unclear();
    };
    let (lead, rest) = (normal_form::collected(&lead), normal_form::collected(&rest));
    let is_linear = [&lead, &rest]
        .iter()
        .all(|e| !e.mentions(&slope) && !e.mentions(&function));
    let claim = asked.answer.formulas.as_slice();
    let ([claim], true) = (claim, is_linear) else {
        return unclear();
    };
    let claim = value_of(claim);
    let letter = rest
        .free_symbols()
        .into_iter()
        .chain(claim.free_symbols())
        .find(|letter| ["x", "t"].contains(&letter.name()));
    let Some(growth) = letter.and_then(|letter| derivative(claim, &letter)) else {
        return unclear();
    };
    let wanted = Expression::product([Expression::fraction(rest, lead), claim.clone()]);
    Some(match equivalence::compare(&growth, &wanted) {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => {
            Verdict::fails_at("it does not make the left side a derivative", witness)
        }
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    })
}

/// The centre and the radius of a sphere, each where the words ask for it.
fn sphere(asked: &Asked<'_>) -> Option<Verdict> {
    let letters = ["x", "y", "z"].map(Symbol::new);
    let mut equations = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let zero = Expression::difference(left.clone(), right.clone());
        (zero.free_symbols().len() == 3).then_some(zero)
    });
    let (zero, None) = (equations.next()?, equations.next()) else {
        return None;
    };
    let put = |e: &Expression, point: &[Expression]| {
        let mut here = e.clone();
        for (letter, at) in letters.iter().zip(point) {
            here = here.substitute(letter, at);
        }
        normal_form::collected(&here)
    };
    let origin = vec![Expression::integer(0); 3];
    let mut centre = Vec::new();
    let mut twice = None;
    for letter in &letters {
        let slope = normal_form::collected(&derivative(&zero, letter)?);
        let bend = normal_form::collected(&derivative(&slope, letter)?);
        if number(&bend)? == 0.0 || twice.as_ref().is_some_and(|known| *known != bend) {
            return None;
        }
        let at = Expression::fraction(Expression::negative(put(&slope, &origin)), bend.clone());
        centre.push(normal_form::collected(&at));
        twice = Some(bend);
    }
    let square = Expression::fraction(
        Expression::product([Expression::integer(-2), put(&zero, &centre)]),
        twice?,
    );
    let radius = Expression::root(normal_form::collected(&square));
    let mut decided = false;
    for claim in &asked.answer.formulas {
        let claim = value_of(claim);
        let pairs: Vec<(&Expression, &Expression)> = match (claim.operator(), claim.operands()) {
            (Operator::Apply, [_, entries @ ..]) if entries.len() == 3 => {
                centre.iter().zip(entries).collect()
            }
            _ => match tuple(claim) {
                Some(entries) if entries.len() == 3 => centre.iter().zip(entries).collect(),
                Some(_) => return None,
                None => vec![(&radius, claim)],
            },
        };
        for (exact, claimed) in pairs {
            match functions::equal(asked.question, exact, claimed) {
                Verdict::Holds => decided = true,
                other => return Some(other),
            }
        }
    }
    decided.then_some(Verdict::Holds)
}

/// Points in round brackets, with a name or without.
fn given_points<'a>(asked: &'a Asked<'_>) -> Vec<&'a [Expression]> {
    asked
        .formulas
        .iter()
        .filter_map(|formula| match (formula.operator(), formula.operands()) {
            (Operator::Apply, [_, entries @ ..]) => Some(entries),
            _ => tuple(value_of(formula)),
        })
        .filter(|entries| entries.len() >= 2 && entries.iter().all(|e| number(e).is_some()))
        .collect()
}

/// The distance of two points.
fn between_points(asked: &Asked<'_>) -> Option<Verdict> {
    let points = given_points(asked);
    let [from, to] = points.as_slice() else {
        return None;
    };
    if from.len() != to.len() {
        return None;
    }
    let squares = from
        .iter()
        .zip(*to)
        .map(|(from, to)| square(&Expression::difference(to.clone(), from.clone())));
    asked.value(&Expression::root(Expression::sum(squares)))
}

/// The vector from one point to another, and its length.
fn from_points(asked: &Asked<'_>) -> Option<Verdict> {
    let points = given_points(asked);
    let [from, to] = points.as_slice() else {
        return None;
    };
    let along: Vec<Expression> = from
        .iter()
        .zip(*to)
        .map(|(from, to)| normal_form::collected(&Expression::difference(to.clone(), from.clone())))
        .collect();
    let length = Expression::root(Expression::sum(along.iter().map(square)));
    let mut decided = false;
    for claim in &asked.answer.formulas {
        let claim = value_of(claim);
        let entries = match tuple(claim) {
            Some(entries) => Some(entries.to_vec()),
            None => vectors::entries(claim),
        };
        let pairs: Vec<(Expression, Expression)> = match entries {
            Some(mut entries) => {
                if entries.len() == 3 && along.len() == 2 && entries[2].as_i64() == Some(0) {
                    entries.truncate(2);
                }
                if entries.len() != along.len() {
                    return None;
                }
                along.iter().cloned().zip(entries).collect()
            }
            None => vec![(length.clone(), claim.clone())],
        };
        for (exact, claimed) in pairs {
            match functions::equal(asked.question, &exact, &claimed) {
                Verdict::Holds => decided = true,
                other => return Some(other),
            }
        }
    }
    decided.then_some(Verdict::Holds)
}

/// The curve `r(t) = …` with its letter.
fn path(asked: &Asked<'_>) -> Option<(Vec<Expression>, Symbol)> {
    asked.formulas.iter().find_map(|formula| {
        let (_, right) = formula.as_equation()?;
        let entries = match tuple(right) {
            Some(entries) => entries.to_vec(),
            None => vectors::entries(right)?,
        };
        let letters: std::collections::BTreeSet<Symbol> =
            entries.iter().flat_map(Expression::free_symbols).collect();
        let mut letters = letters.into_iter();
        match (letters.next(), letters.next()) {
            (Some(letter), None) if ["t", "s", "u", "θ"].contains(&letter.name()) => {
                Some((entries, letter))
            }
            _ => None,
        }
    })
}

fn between(asked: &Asked<'_>, letter: &Symbol) -> Option<(f64, f64)> {
    asked
        .formulas
        .iter()
        .find_map(|formula| match (formula.operator(), formula.operands()) {
            (Operator::Relation(_), [low, middle, high]) if middle.as_symbol() == Some(letter) => {
                Some((number(low)?, number(high)?))
            }
            _ => None,
        })
}

/// The integral of a field along a path.
fn work(asked: &Asked<'_>) -> Option<Verdict> {
    let field = field(asked)?;
    let (curve, letter) = path(asked)?;
    let (low, high) = between(asked, &letter)?;
    if field.len() != curve.len() {
        return None;
    }
    let names = ["x", "y", "z"].map(Symbol::new);
    let terms: Option<Vec<Expression>> = field
        .iter()
        .zip(&curve)
        .map(|(entry, along)| {
            let here = names
                .iter()
                .zip(&curve)
                .fold(entry.clone(), |entry, (name, at)| {
                    entry.substitute(name, at)
                });
            Some(Expression::product([here, derivative(along, &letter)?]))
        })
        .collect();
    let of = super::function(&Expression::sum(terms?), &letter)?;
    let exact = simpson(&of, low, high)?;
    let claimed = asked.only_value()?;
    Some(match agrees(exact, claimed)? {
        true => Verdict::Holds,
        false => Verdict::fails_at(
            "it is not the integral",
            format!("the integral is {}", equivalence::number(exact)),
        ),
    })
}

/// Simpson's rule, with half as many steps for a bound of its error.
fn simpson(of: &impl Fn(f64) -> Option<f64>, low: f64, high: f64) -> Option<f64> {
    let estimate = |steps: u32| -> Option<f64> {
        let width = (high - low) / f64::from(steps);
        let mut total = of(low)? + of(high)?;
        for step in 1..steps {
            let weight = if step % 2 == 1 { 4.0 } else { 2.0 };
            total += weight * of(low + width * f64::from(step))?;
        }
        Some(total * width / 3.0)
    };
    let (rough, exact) = (estimate(400)?, estimate(800)?);
    ((rough - exact).abs() < 1e-8 * (1.0 + exact.abs())).then_some(exact)
}

/// |r′ × r″| / |r′|³, or |f″| / (1 + f′²)^(3/2).
fn curvature(asked: &Asked<'_>) -> Option<Verdict> {
    let (mut curve, letter) = match path(asked) {
        Some(found) => found,
        None => {
            let letter = asked.givens.letter()?;
            let variable = Expression::new(Operator::Symbol(letter.clone()), []);
            (vec![variable, asked.givens.body()?.clone()], letter)
        }
    };
    curve.resize(3, Expression::integer(0));
    let slopes: Option<Vec<Expression>> = curve.iter().map(|e| derivative(e, &letter)).collect();
    let slopes = slopes?;
    let bends: Option<Vec<Expression>> = slopes.iter().map(|e| derivative(e, &letter)).collect();
    let bends = bends?;
    let entry = |i: usize, j: usize| {
        let product = |a: &Expression, b: &Expression| Expression::product([a.clone(), b.clone()]);
        Expression::difference(
            product(&slopes[i], &bends[j]),
            product(&slopes[j], &bends[i]),
        )
    };
    let length = |parts: &[Expression]| Expression::root(Expression::sum(parts.iter().map(square)));
    let above = length(&[entry(1, 2), entry(2, 0), entry(0, 1)]);
    let below = Expression::power(length(&slopes), Expression::integer(3));
    let mut exact = Expression::fraction(above, below);
    // At a place: `t = 1`, or a point of the graph.
    let place = asked.formulas.iter().find_map(|formula| {
        let (left, right) = formula.as_equation()?;
        (left.as_symbol() == Some(&letter) && number(right).is_some()).then(|| right.clone())
    });
    if let Some(place) = place {
        exact = exact.substitute(&letter, &place);
    } else if asked.says(&["at the point", "at the given point"]) {
        return None;
    }
    asked.value(&exact)
}

/// The determinant of functions and their derivatives.
fn wronskian(asked: &Asked<'_>) -> Option<Verdict> {
    let mut found = Vec::new();
    for formula in &asked.formulas {
        let body = value_of(formula);
        match (body.operator(), body.operands()) {
            (Operator::Set | Operator::Tuple(_), parts) => found.extend(parts.iter().cloned()),
            (Operator::Apply, _) | (Operator::Interval(_), _) => {}
            _ if body
                .as_symbol()
                .is_some_and(|s| !["x", "t"].contains(&s.name())) => {}
            (Operator::Relation(_), _) => return None,
            _ => found.push(body.clone()),
        }
    }
    let letter = found
        .iter()
        .flat_map(Expression::free_symbols)
        .find(|s| ["x", "t"].contains(&s.name()))?;
    let slope = |e: &Expression| derivative(e, &letter);
    let times = |a: &Expression, b: &Expression| Expression::product([a.clone(), b.clone()]);
    let exact = match found.as_slice() {
        [f, g] => Expression::difference(times(f, &slope(g)?), times(g, &slope(f)?)),
        [f, g, h] => {
            let rows: Option<Vec<[Expression; 3]>> = [f, g, h]
                .into_iter()
                .map(|e| {
                    let first = slope(e)?;
                    let second = slope(&first)?;
                    Some([e.clone(), first, second])
                })
                .collect();
            let rows = rows?;
            let minor = |i: usize, j: usize| {
                Expression::difference(
                    times(&rows[i][1], &rows[j][2]),
                    times(&rows[j][1], &rows[i][2]),
                )
            };
            Expression::sum([
                times(&rows[0][0], &minor(1, 2)),
                times(&rows[1][0], &minor(2, 0)),
                times(&rows[2][0], &minor(0, 1)),
            ])
        }
        _ => return None,
    };
    let claim = match asked.answer.formulas.as_slice() {
        [only] => functions::right_of(only),
        _ => return None,
    };
    Some(functions::equal(asked.question, &exact, claim))
}

/// The distance of a point from a plane a x + b y + c z = d.
fn distance(asked: &Asked<'_>) -> Option<Verdict> {
    let letters = ["x", "y", "z"].map(Symbol::new);
    let mut planes = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let zero = Expression::difference(left.clone(), right.clone());
        let free = zero.free_symbols();
        (!free.is_empty() && free.iter().all(|letter| letters.contains(letter))).then_some(zero)
    });
    let (plane, None) = (planes.next()?, planes.next()) else {
        return None;
    };
    let mut points = asked.formulas.iter().filter_map(|formula| {
        let entries = match (formula.operator(), formula.operands()) {
            (Operator::Apply, [_, entries @ ..]) => entries,
            _ => tuple(formula)?,
        };
        (entries.len() == 3 && entries.iter().all(|e| number(e).is_some())).then_some(entries)
    });
    let (point, None) = (points.next()?, points.next()) else {
        return None;
    };
    let slopes: Option<Vec<Expression>> = letters
        .iter()
        .map(|letter| derivative(&plane, letter))
        .collect();
    let slopes: Vec<Expression> = slopes?.iter().map(normal_form::collected).collect();
    if slopes.iter().any(|slope| !slope.free_symbols().is_empty()) {
        return None;
    }
    let there = letters
        .iter()
        .zip(point)
        .fold(plane, |plane, (letter, at)| plane.substitute(letter, at));
    let exact = Expression::fraction(
        Expression::function(Function::Abs, there),
        Expression::root(Expression::sum(slopes.iter().map(square))),
    );
    asked.value(&exact)
}

/// What a point is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Maximum,
    Minimum,
    Saddle,
}

impl Place {
    fn name(self) -> &'static str {
        match self {
            Self::Maximum => "a maximum",
            Self::Minimum => "a minimum",
            Self::Saddle => "a saddle point",
        }
    }

    fn in_words(words: &str) -> Option<Self> {
        let last = [
            (words.rfind("max"), Self::Maximum),
            (words.rfind("min"), Self::Minimum),
            (words.rfind("saddle"), Self::Saddle),
        ];
        let last = last
            .into_iter()
            .filter_map(|(at, place)| Some((at?, place)));
        last.max_by_key(|(at, _)| *at).map(|(_, place)| place)
    }
}

/// The extrema and saddle points of f(x, y), each with its kind, and none left out.
fn extrema(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letters: Vec<Symbol> = body.free_symbols().into_iter().collect();
    let [x, y] = letters.as_slice() else {
        return None;
    };
    let (fx, fy) = (derivative(body, x)?, derivative(body, y)?);
    let (fxx, fxy, fyy) = (
        derivative(&fx, x)?,
        derivative(&fx, y)?,
        derivative(&fy, y)?,
    );
    let mut kind = None;
    let mut points = Vec::new();
    for (formula, words) in asked.answer.formulas.iter().zip(&asked.answer.labels) {
        kind = Place::in_words(words).or(kind);
        let (point, value) = match formula.as_equation() {
            Some((left, right)) => match (left.operator(), left.operands()) {
                (Operator::Apply, [_, entries @ ..]) => (entries.to_vec(), Some(right)),
                _ => (tuple(right)?.to_vec(), None),
            },
            None => match (formula.operator(), formula.operands()) {
                (Operator::Apply, [_, entries @ ..]) => (entries.to_vec(), None),
                _ => (tuple(formula)?.to_vec(), None),
            },
        };
        let (place, value) = match (point.as_slice(), value) {
            ([a, b], value) => ([a.clone(), b.clone()], value.cloned()),
            // A point of the surface.
            ([a, b, c], None) => ([a.clone(), b.clone()], Some(c.clone())),
            _ => return None,
        };
        let at = |e: &Expression| number(&e.substitute(x, &place[0]).substitute(y, &place[1]));
        let shown = || {
            format!(
                "({}, {})",
                equations::shown(&place[0]),
                equations::shown(&place[1])
            )
        };
        let (dx, dy) = (at(&fx)?, at(&fy)?);
        if dx.abs() > 1e-7 || dy.abs() > 1e-7 {
            return Some(Verdict::fails_at(
                "it is no critical point",
                format!("at {} the derivatives are not 0", shown()),
            ));
        }
        let test = at(&fxx)? * at(&fyy)? - at(&fxy)? * at(&fxy)?;
        if test.abs() < 1e-9 {
            return Some(Verdict::cannot_tell("the second derivatives do not decide"));
        }
        let found = match (test < 0.0, at(&fxx)? < 0.0) {
            (true, _) => Place::Saddle,
            (false, true) => Place::Maximum,
            (false, false) => Place::Minimum,
        };
        if kind? != found {
            return Some(Verdict::fails_at(
                "it is of another kind",
                format!("at {} there is {}", shown(), found.name()),
            ));
        }
        if let Some(value) = value {
            let exact = at(body)?;
            if !agrees(exact, &value)? {
                return Some(Verdict::fails_at(
                    "the value is another one",
                    format!("at {} it is {}", shown(), equivalence::number(exact)),
                ));
            }
        }
        points.push(Expression::new(
            Operator::Tuple(crate::expression::Brackets::Round),
            place,
        ));
    }
    if points.is_empty() {
        return None;
    }
    let zero = |slope: Expression| Expression::equation(slope, Expression::integer(0));
    let system = Expression::new(Operator::System, [zero(fx), zero(fy)]);
    let answer = crate::verdict::answer::Answer {
        labels: vec![String::new(); points.len()],
        formulas: points,
        ..Default::default()
    };
    match equations::judge_formula(asked.question, &system, &answer) {
        fails @ Verdict::Fails { .. } if asked.says(&["all", "saddle"]) => Some(fails),
        Verdict::CannotTell { reason } => Some(Verdict::CannotTell { reason }),
        _ => Some(Verdict::Holds),
    }
}

/// The limit of a function of two variables at a point where it has no value, as paths show it:
/// two paths with different limits decide that there is none.
pub(super) fn limit_along_paths(
    asked: &Asked<'_>,
    body: &Expression,
    letters: &[Expression],
    point: &[Expression],
) -> Option<Verdict> {
    let ([x, y], [a, b]) = (letters, point) else {
        return None;
    };
    let (x, y) = (x.as_symbol()?, y.as_symbol()?);
    let letter = Symbol::new("□");
    let t = Expression::new(Operator::Symbol(letter.clone()), []);
    let times = |k: f64, n: i64| {
        Expression::product([
            substitution::exactly(k),
            Expression::power(t.clone(), Expression::integer(n)),
        ])
    };
    let zero = || Expression::integer(0);
    let mut paths = vec![(t.clone(), zero()), (zero(), t.clone())];
    for k in [1.0, -1.0, 2.0, -0.5, 3.0] {
        paths.push((t.clone(), times(k, 1)));
    }
    for k in [1.0, -1.0, 2.0] {
        for n in [2, 3] {
            paths.push((t.clone(), times(k, n)));
            paths.push((times(k, n), t.clone()));
        }
    }
    let mut limits: Vec<f64> = Vec::new();
    for (along_x, along_y) in paths {
        let here = body
            .substitute(x, &Expression::sum([a.clone(), along_x]))
            .substitute(y, &Expression::sum([b.clone(), along_y]));
        let Some(of) = super::function(&here, &letter) else {
            continue;
        };
        let values: Option<Vec<f64>> = [1e-2, 1e-3, 3e-4].into_iter().map(of).collect();
        let Some([far, near, nearer]) = values.as_deref() else {
            continue;
        };
        let step = (near - nearer).abs();
        if step < 2e-2 * (1.0 + nearer.abs()) && step <= (far - near).abs() + 1e-9 {
            limits.push(*nearer);
        }
    }
    let (low, high) = limits
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), limit| {
            (low.min(*limit), high.max(*limit))
        });
    if limits.len() < 2 {
        return None;
    }
    let differs = high - low > 0.1 * (1.0 + low.abs().min(high.abs()));
    let told = || {
        format!(
            "along one path it tends to {}, along another to {}",
            equivalence::number(low),
            equivalence::number(high)
        )
    };
    match (asked.answer.outcome(), differs) {
        (Some(_), true) => Some(Verdict::Holds),
        (None, true) => match asked.answer.formulas.is_empty() {
            true => None,
            false => Some(Verdict::fails_at("there is no limit", told())),
        },
        (Some(_), false) => None,
        (None, false) if limits.len() >= 15 => {
            let claimed = number(asked.only_value()?)?;
            match (claimed - low).abs() < 0.05 * (1.0 + low.abs()) {
                true => Some(Verdict::Holds),
                false => Some(Verdict::fails_at(
                    "it is not the limit",
                    format!("along a path it tends to {}", equivalence::number(low)),
                )),
            }
        }
        (None, false) => None,
    }
}
