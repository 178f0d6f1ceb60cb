//! Centres, vertices, foci, directrices and asymptotes of conic sections, and equations of circles.

use super::{Asked, number, tuple, value_of};
use crate::expression::{Expression, Symbol};
use crate::normal_form;
use crate::rational::Rational;
use crate::verdict::answer;
use crate::verdict::functions::figures::circle_of;
use crate::verdict::{Verdict, functions};

/// The two lines that a hyperbola with upright axes nears.
fn asymptotes(asked: &Asked<'_>) -> Option<Verdict> {
    let mut equations = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        Some(Expression::difference(left.clone(), right.clone()))
    });
    let (zero, None) = (equations.next()?, equations.next()) else {
        return None;
    };
    let letters = ["x", "y"].map(Symbol::new);
    if !zero.free_symbols().iter().all(|s| letters.contains(s)) {
        return None;
    }
    let slope = |e: &Expression, letter: &Symbol| {
        let slope = crate::derivative::derivative(e, letter)?;
        Some(normal_form::collected(&slope))
    };
    let origin = |e: &Expression| {
        let zero = Expression::integer(0);
        number(
            &e.substitute(&letters[0], &zero)
                .substitute(&letters[1], &zero),
        )
    };
    let (by_x, by_y) = (slope(&zero, &letters[0])?, slope(&zero, &letters[1])?);
    let (a, c) = (
        number(&slope(&by_x, &letters[0])?)?,
        number(&slope(&by_y, &letters[1])?)?,
    );
    if a * c >= 0.0 || number(&slope(&by_x, &letters[1])?)? != 0.0 {
        return None;
    }
    let (h, k) = (-origin(&by_x)? / a, -origin(&by_y)? / c);
    let steep = libm::sqrt(-a / c);
    let mut found = [false; 2];
    for claim in &asked.answer.formulas {
        for line in answer::with_signs(claim, true) {
            let (left, right) = line.as_equation()?;
            let rest = Expression::difference(left.clone(), right.clone());
            let at = |x: f64, y: f64| {
                let put = |e: &Expression, letter: &Symbol, value: f64| {
                    e.substitute(letter, &crate::verdict::substitution::exactly(value))
                };
                number(&put(&put(&rest, &letters[0], x), &letters[1], y))
            };
            let size = at(h, k + 1.0)?.abs().max(1e-9);
            let is_zero = |value: f64| value.abs() < 1e-6 * size;
            let centre = is_zero(at(h, k)?);
            let rising = centre && is_zero(at(h + 1.0, k + steep)?);
            let falling = centre && is_zero(at(h + 1.0, k - steep)?);
            if !rising && !falling {
                return Some(Verdict::fails_at(
                    "it is no asymptote",
                    format!(
                        "they go through the centre with the slopes ±{}",
                        crate::verdict::equivalence::number(steep)
                    ),
                ));
            }
            found[usize::from(falling)] = true;
        }
    }
    Some(match found {
        [true, true] => Verdict::Holds,
        _ => Verdict::fails_at("an asymptote is missing", "there are two"),
    })
}

/// A x² + C y² + D x + E y + F = 0, in two pieces: along each axis.
struct Conic {
    a: f64,
    c: f64,
    d: f64,
    e: f64,
    f: f64,
}

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    if says(&["circle"]) && says(&["equation"]) && says(&["center", "centre", "diameter"]) {
        return circle(asked);
    }
    if says(&["asymptote"]) && says(&["hyperbola"]) {
        return asymptotes(asked);
    }
    let names = [
        "foci",
        "focus",
        "directrix",
        "vertices",
        "center",
        "centre",
        "vertex",
    ];
    let wanted: Vec<&str> = names.into_iter().filter(|name| says(&[name])).collect();
    let [wanted] = wanted.as_slice() else {
        return None;
    };
    if says(&[
        "write an equation",
        "write the equation",
        "equation of the",
        "find an equation",
    ]) {
        return None;
    }
    let conic = conic(asked)?;
    match (*wanted, conic.a == 0.0 || conic.c == 0.0) {
        ("directrix", true) => directrix(asked, &conic),
        ("focus" | "foci", true) => points(asked, &[conic.parabola()?.1]),
        ("vertex", true) => points(asked, &[conic.parabola()?.0]),
        ("center" | "centre", false) if conic.a != conic.c => points(asked, &[conic.center()]),
        ("foci" | "focus", false) => points(asked, &conic.central()?.1),
        ("vertices", false) => points(asked, &conic.central()?.0),
        _ => None,
    }
}

fn conic(asked: &Asked<'_>) -> Option<Conic> {
    let mut equations = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let letters = formula.free_symbols();
        let named = |name: &str| letters.iter().any(|letter| letter.name() == name);
        (named("x") && named("y") && letters.len() == 2)
            .then(|| Expression::difference(left.clone(), right.clone()))
    });
    let (zero, None) = (equations.next()?, equations.next()) else {
        return None;
    };
    let form = normal_form::normal(&zero).ok()?;
    let mut conic = Conic {
        a: 0.0,
        c: 0.0,
        d: 0.0,
        e: 0.0,
        f: 0.0,
    };
    for (monomial, coefficient) in form.as_polynomial()?.terms() {
        let value = coefficient.to_f64();
        match monomial.powers() {
            [] => conic.f = value,
            [(kernel, exponent)] => match (kernel.as_symbol()?.name(), exponent.as_i64()?) {
                ("x", 2) => conic.a = value,
                ("y", 2) => conic.c = value,
                ("x", 1) => conic.d = value,
                ("y", 1) => conic.e = value,
                _ => return None,
            },
            _ => return None,
        }
    }
    (conic.a != 0.0 || conic.c != 0.0).then_some(conic)
}

/// Two points on opposite sides of a centre.
type Pair = [[f64; 2]; 2];

impl Conic {
    /// The vertex and the focus of a parabola.
    fn parabola(&self) -> Option<([f64; 2], [f64; 2])> {
        let Self { a, c, d, e, f } = *self;
        match (a == 0.0, c == 0.0) {
            // a (x - h)² = -e (y - k)
            (false, true) if e != 0.0 => {
                let h = -d / (2.0 * a);
                let k = -(a * h * h + d * h + f) / e;
                let p = -e / (4.0 * a);
                Some(([h, k], [h, k + p]))
            }
            (true, false) if d != 0.0 => {
                let k = -e / (2.0 * c);
                let h = -(c * k * k + e * k + f) / d;
                let p = -d / (4.0 * c);
                Some(([h, k], [h + p, k]))
            }
            _ => None,
        }
    }

    fn center(&self) -> [f64; 2] {
        [-self.d / (2.0 * self.a), -self.e / (2.0 * self.c)]
    }

    /// The vertices and the foci of an ellipse or a hyperbola.
    fn central(&self) -> Option<(Pair, Pair)> {
        let [h, k] = self.center();
        // (x - h)² / p + (y - k)² / q = 1
        let right = self.a * h * h + self.c * k * k - self.f;
        let (p, q) = (right / self.a, right / self.c);
        let is_along_x = match (p > 0.0, q > 0.0) {
            (true, true) if p == q => return None,
            (true, true) => p > q,
            (true, false) => true,
            (false, true) => false,
            (false, false) => return None,
        };
        let (long, other) = if is_along_x { (p, q) } else { (q, p) };
        let at = |distance: f64| match is_along_x {
            true => [[h - distance, k], [h + distance, k]],
            false => [[h, k - distance], [h, k + distance]],
        };
        // For a hyperbola the other one is negative.
        Some((at(libm::sqrt(long)), at(libm::sqrt(long - other))))
    }
}

/// The verdict for points in any order, which may be written with ±.
fn points(asked: &Asked<'_>, exact: &[[f64; 2]]) -> Option<Verdict> {
    let mut claimed: Vec<[f64; 2]> = Vec::new();
    for formula in &asked.answer.formulas {
        for signed in answer::with_signs(value_of(formula), false) {
            let (x, y) = match tuple(&signed)? {
                [x, y] => (number(x)?, number(y)?),
                _ => return None,
            };
            claimed.push([x, y]);
        }
    }
    if claimed.is_empty() {
        return None;
    }
    let near = |a: &[f64; 2], b: &[f64; 2]| {
        a.iter()
            .zip(b)
            .all(|(a, b)| (a - b).abs() <= 6e-3 * (1.0 + b.abs()))
    };
    let exactly = |a: &[f64; 2], b: &[f64; 2]| {
        a.iter()
            .zip(b)
            .all(|(a, b)| (a - b).abs() <= 1e-9 * (1.0 + b.abs()))
    };
    let shown = |p: &[f64; 2]| {
        let number = crate::verdict::equivalence::number;
        format!("({}, {})", number(p[0]), number(p[1]))
    };
    let has_decimal = asked
        .answer
        .formulas
        .iter()
        .any(crate::verdict::equivalence::has_decimal);
    let same = |a: &[f64; 2], b: &[f64; 2]| match has_decimal {
        true => near(a, b),
        false => exactly(a, b),
    };
    if let Some(wrong) = claimed.iter().find(|p| exact.iter().all(|e| !same(p, e))) {
        let right: Vec<String> = exact.iter().map(shown).collect();
        return Some(Verdict::fails_at(
            format!("{} is no such point", shown(wrong)),
            right.join(", "),
        ));
    }
    match exact.iter().find(|e| claimed.iter().all(|p| !same(p, e))) {
        Some(missing) => Some(Verdict::fails_at("a point is missing", shown(missing))),
        None => Some(Verdict::Holds),
    }
}

fn directrix(asked: &Asked<'_>, conic: &Conic) -> Option<Verdict> {
    let (vertex, focus) = conic.parabola()?;
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let (left, right) = claim.as_equation()?;
    let is_upright = conic.c == 0.0;
    let (name, at) = match is_upright {
        true => ("y", 2.0 * vertex[1] - focus[1]),
        false => ("x", 2.0 * vertex[0] - focus[0]),
    };
    let told = format!(
        "it is the line {name} = {}",
        crate::verdict::equivalence::number(at)
    );
    if left.as_symbol()?.name() != name {
        return Some(Verdict::fails_at("it is another line", told));
    }
    Some(match super::agrees(at, right)? {
        true => Verdict::Holds,
        false => Verdict::fails_at("it is another line", told),
    })
}

/// "Write the equation of the circle with centre … and radius …", or through a point, or with a
/// diameter between two points.
fn circle(asked: &Asked<'_>) -> Option<Verdict> {
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let (left, right) = claim.as_equation()?;
    let (x, y, square) = circle_of(left, right)?;
    let points: Vec<&[Expression]> = asked
        .formulas
        .iter()
        .map(value_of)
        .filter_map(tuple)
        .filter(|point| point.len() == 2)
        .collect();
    let squares = |a: &[Expression], b: &[Expression]| {
        let square = |place: usize| {
            Expression::power(
                Expression::difference(a[place].clone(), b[place].clone()),
                Expression::integer(2),
            )
        };
        Expression::sum([square(0), square(1)])
    };
    let half = |a: &Expression, b: &Expression| {
        Expression::fraction(
            Expression::sum([a.clone(), b.clone()]),
            Expression::integer(2),
        )
    };
    let (center, radius_squared) = match points.as_slice() {
        [a, b] if asked.says(&["diameter"]) => (
            [half(&a[0], &b[0]), half(&a[1], &b[1])],
            Expression::fraction(squares(a, b), Expression::integer(4)),
        ),
        [center, through] if !asked.says(&["diameter"]) => (
            [center[0].clone(), center[1].clone()],
            squares(center, through),
        ),
        [center] if asked.says(&["radius", "diameter"]) => {
            let length = asked.formulas.iter().find_map(|formula| {
                let value = value_of(formula);
                let is_length = tuple(value).is_none() && number(value).is_some();
                is_length.then(|| value.clone())
            })?;
            let length = match asked.says(&["diameter"]) {
                true => Expression::fraction(length, Expression::integer(2)),
                false => length,
            };
            (
                [center[0].clone(), center[1].clone()],
                Expression::power(length, Expression::integer(2)),
            )
        }
        _ => return None,
    };
    let whole = |value: &Rational| Expression::rational(&value.to_big());
    for (exact, claimed) in [(&center[0], x), (&center[1], y), (&radius_squared, square)] {
        let found = functions::equal(asked.question, exact, &whole(&claimed));
        if found != Verdict::Holds {
            return Some(found);
        }
    }
    Some(Verdict::Holds)
}
