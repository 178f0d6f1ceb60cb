//! Are two expressions equal wherever both have a value?

use std::collections::{BTreeMap, BTreeSet};

use super::interval::{Decimals, Interval, Outside, Reading, Tape};
use crate::evaluate::{self, Complex, Point};
use crate::expression::{Expression, Function, Operator, Symbol, Written};
use crate::normal_form::{self, Unfit};
use crate::print;
use crate::rational::Rational;

/// What is known of two expressions.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Equivalence {
    /// They are equal.
    Equal,
    /// They are not: a sentence that names a point and the two values there.
    Different(String),
    /// Neither could be shown; the reason.
    Unknown(String),
}

/// Expressions with more nodes are not compared.
const MAX_SIZE: usize = 20_000;

/// Places where expressions are compared, the same on every run: for each letter its own sequence
/// of numbers that are no special value of any elementary function.
const PLACES: usize = 24;

/// Places that are tried before the others, with every letter positive.
const POSITIVE_PLACES: usize = 12;

/// Compares two expressions by collecting, and where that does not decide, at points.
pub(super) fn compare(left: &Expression, right: &Expression) -> Equivalence {
    compare_where(left, right, &[])
}

/// Compares two expressions at places where the conditions hold, which are statements about their
/// letters; those that have no truth at a place are ignored.
pub(super) fn compare_where(
    left: &Expression,
    right: &Expression,
    conditions: &[&Expression],
) -> Equivalence {
    if left == right {
        return Equivalence::Equal;
    }
    if left.size() > MAX_SIZE || right.size() > MAX_SIZE {
        return Equivalence::Unknown("too large".into());
    }
    let letters: BTreeSet<Symbol> = left
        .free_symbols()
        .union(&right.free_symbols())
        .cloned()
        .collect();
    if letters.is_empty() {
        return same_number(left, right);
    }
    if let (Ok(l), Ok(r)) = (normal_form::normal(left), normal_form::normal(right))
        && let Ok(difference) = l.subtract(&r)
        && difference.is_zero()
    {
        return Equivalence::Equal;
    }
    if places(right) > places(left).max(2) && rounds_everywhere(left, right, &letters) {
        return Equivalence::Equal;
    }
    let base_ten = at_places(left, right, &letters, conditions, false);
    if matches!(base_ten, Equivalence::Equal) || !(has_log(left) || has_log(right)) {
        return base_ten;
    }
    match at_places(left, right, &letters, conditions, true) {
        Equivalence::Equal => Equivalence::Equal,
        _ => base_ten,
    }
}

/// Decimals on the right are roundings of what stands on the left: at every place some numbers that
/// round to them make both sides equal, and they say at least three digits.
fn rounds_everywhere(left: &Expression, right: &Expression, letters: &BTreeSet<Symbol>) -> bool {
    let digits_are_few = right.parts().any(|part| {
        part.as_number()
            .is_some_and(|number| match number.written() {
                Written::Decimal { places } => {
                    let scaled = number.to_f64().abs() * libm::pow(10.0, f64::from(places.min(12)));
                    places < 3 || scaled < 100.0
                }
                _ => false,
            })
    });
    if digits_are_few {
        return false;
    }
    let order: Vec<Symbol> = letters.iter().cloned().collect();
    let rounded = Reading {
        natural_logarithm: false,
        decimals: Decimals::Rounded,
    };
    let (Some(l), Some(r)) = (
        Tape::new(left, &order, Reading::default()),
        Tape::new(right, &order, rounded),
    ) else {
        return false;
    };
    let mut agreed = 0;
    for place in 0..PLACES {
        let at: Vec<Interval> = (0..order.len())
            .map(|rank| Interval::point(coordinate(place, rank)))
            .collect();
        if let (Ok(l), Ok(r)) = (l.over(&at), r.over(&at)) {
            if !l.values.meets(r.values) {
                return false;
            }
            agreed += 1;
        }
    }
    agreed >= 6
}

/// A logarithm without a base occurs, which authors read differently.
pub(super) fn has_log(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| matches!(part.operator(), Operator::Function(Function::Log)))
}

/// Its branches depend on the signs of letters: roots, fractional powers and logarithms.
pub(super) fn has_branches(expression: &Expression) -> bool {
    expression.parts().any(|part| match part.operator() {
        Operator::Root | Operator::NthRoot => !part.operands()[0].free_symbols().is_empty(),
        Operator::Power => {
            let exponent = &part.operands()[1];
            exponent.as_i64().is_none() && !part.operands()[0].free_symbols().is_empty()
        }
        Operator::Function(Function::Ln | Function::Log | Function::LogBase) => true,
        _ => false,
    })
}

fn at_places(
    left: &Expression,
    right: &Expression,
    letters: &BTreeSet<Symbol>,
    conditions: &[&Expression],
    natural_logarithm: bool,
) -> Equivalence {
    let order: Vec<Symbol> = letters.iter().cloned().collect();
    let reading = Reading {
        natural_logarithm,
        decimals: Decimals::Exact,
    };
    let (Some(l), Some(r)) = (
        Tape::new(left, &order, reading),
        Tape::new(right, &order, reading),
    ) else {
        return at_complex_places(left, right, letters, natural_logarithm);
    };
    let whole = whole_letters(left, right);
    // At positive places, and at all.
    let mut agreed = [0, 0];
    let mut against: [Option<String>; 2] = [None, None];
    let mut count_against = [0, 0];
    let mut wide = 0;
    for place in 0..PLACES {
        let is_positive = place < POSITIVE_PLACES;
        let values: Vec<f64> = order
            .iter()
            .enumerate()
            .map(|(rank, letter)| match whole.contains(letter) {
                true => (place % 9 + rank + 1) as f64,
                false => coordinate(place, rank),
            })
            .collect();
        let mut point = Point::new();
        for (letter, value) in order.iter().zip(&values) {
            point.set(letter.clone(), *value);
        }
        if conditions
            .iter()
            .any(|condition| evaluate::truth(condition, &point) == Ok(false))
        {
            continue;
        }
        let at: Vec<Interval> = values.iter().map(|value| Interval::point(*value)).collect();
        let (Ok(a), Ok(b)) = (l.over(&at), r.over(&at)) else {
            continue;
        };
        let slot = usize::from(!is_positive);
        if !a.values.meets(b.values) {
            count_against[slot] += 1;
            if against[slot].is_none() {
                let told: Vec<String> = order
                    .iter()
                    .zip(&values)
                    .map(|(letter, value)| format!("{} = {value}", name(letter)))
                    .collect();
                against[slot] = Some(format!(
                    "at {} the value is {}, and not {}",
                    told.join(", "),
                    number(a.values.middle()),
                    number(b.values.middle()),
                ));
            }
        } else if a.values.is_narrow() && b.values.is_narrow() {
            agreed[slot] += 1;
        } else {
            wide += 1;
        }
    }
    if agreed[0] >= 3 && count_against[0] == 0 {
        // Where the signs of the letters matter, textbooks mean positive ones.
        let is_lenient = has_branches(left) || has_branches(right);
        if count_against[1] == 0 || is_lenient {
            return Equivalence::Equal;
        }
    }
    let total = agreed[0] + agreed[1];
    let total_against = count_against[0] + count_against[1];
    let [first, second] = against;
    match first.or(second) {
        Some(witness) if total_against >= 2 => Equivalence::Different(witness),
        None if total >= 3 => Equivalence::Equal,
        _ if wide > 0 => Equivalence::Unknown("the values are too large to be compared".into()),
        // Nowhere is there a real value of both.
        None if total == 0 => at_complex_places(left, right, letters, natural_logarithm),
        _ => Equivalence::Unknown("too few places where both sides have a value".into()),
    }
}

/// Letters that only make sense as whole numbers: under a factorial, in a binomial coefficient, as
/// the exponent of a negative number.
fn whole_letters(left: &Expression, right: &Expression) -> BTreeSet<Symbol> {
    let mut whole = BTreeSet::new();
    for part in left.parts().chain(right.parts()) {
        match (part.operator(), part.operands()) {
            (
                Operator::Function(
                    Function::Factorial
                    | Function::DoubleFactorial
                    | Function::Binomial
                    | Function::Permutations,
                ),
                _,
            ) => whole.extend(part.free_symbols()),
            (Operator::Power, [base, exponent])
                if matches!(base.operator(), Operator::Negative)
                    && base.free_symbols().is_empty() =>
            {
                whole.extend(exponent.free_symbols());
            }
            _ => {}
        }
    }
    whole
}

/// The coordinate of a place for the letter of this rank: a fraction with few binary digits, so
/// that it is exact.
pub(super) fn coordinate(place: usize, rank: usize) -> f64 {
    let fraction = ((place * 37 + rank * 61 + 17) % 97) as f64 / 128.0;
    match place % 4 {
        _ if place >= POSITIVE_PLACES && place.is_multiple_of(2) => -3.0 * fraction - 0.0703125,
        0 => 0.109375 + 2.0 * fraction,
        1 => 1.0 + 4.0 * fraction,
        2 => 2.0 + 9.0 * fraction,
        _ => 0.25 + fraction,
    }
}

fn at_complex_places(
    left: &Expression,
    right: &Expression,
    letters: &BTreeSet<Symbol>,
    natural_logarithm: bool,
) -> Equivalence {
    let mut agreed = 0;
    let mut count_against = 0;
    let mut against = None;
    for place in 0..PLACES {
        let mut point = Point::new();
        if natural_logarithm {
            point = point.natural_logarithm();
        }
        let mut told = Vec::new();
        for (rank, letter) in letters.iter().enumerate() {
            let value = coordinate(place, rank);
            point.set(letter.clone(), value);
            told.push(format!("{} = {value}", name(letter)));
        }
        let (Ok(a), Ok(b)) = (
            evaluate::value(left, &point),
            evaluate::value(right, &point),
        ) else {
            continue;
        };
        match nearness(a, b) {
            Nearness::Same => agreed += 1,
            Nearness::Apart => {
                count_against += 1;
                against.get_or_insert_with(|| {
                    format!(
                        "at {} the value is {}, and not {}",
                        told.join(", "),
                        complex(a),
                        complex(b)
                    )
                });
            }
            Nearness::Unclear => {}
        }
    }
    match against {
        Some(witness) if count_against >= 3 && agreed == 0 => Equivalence::Different(witness),
        None if agreed >= 6 => Equivalence::Equal,
        _ => Equivalence::Unknown("too few places where both sides have a value".into()),
    }
}

#[derive(PartialEq)]
enum Nearness {
    Same,
    Apart,
    Unclear,
}

fn nearness(a: Complex, b: Complex) -> Nearness {
    let distance = Complex::new(a.re - b.re, a.im - b.im).abs();
    let size = a.abs().max(b.abs());
    match () {
        () if distance <= 1e-10 * size.max(1e-3) => Nearness::Same,
        () if distance > 1e-6 * size.max(1e-3) => Nearness::Apart,
        () => Nearness::Unclear,
    }
}

/// Compares two expressions without letters.
pub(super) fn same_number(left: &Expression, right: &Expression) -> Equivalence {
    let none = BTreeMap::new();
    if let (Some(a), Some(b)) = (evaluate::exact(left, &none), evaluate::exact(right, &none)) {
        return match a == b {
            true => Equivalence::Equal,
            false => Equivalence::Different(format!(
                "the value is {}, and not {}",
                Rational::from(a),
                Rational::from(b)
            )),
        };
    }
    match real_bounds(left, right, false) {
        Equivalence::Different(witness) if has_log(left) || has_log(right) => {
            match real_bounds(left, right, true) {
                Equivalence::Equal => Equivalence::Equal,
                _ => Equivalence::Different(witness),
            }
        }
        verdict => verdict,
    }
}

fn real_bounds(left: &Expression, right: &Expression, natural_logarithm: bool) -> Equivalence {
    let reading = Reading {
        natural_logarithm,
        decimals: Decimals::Exact,
    };
    let bounds = |expression: &Expression| {
        Tape::new(expression, &[], reading).and_then(|tape| tape.over(&[]).ok())
    };
    if let (Some(a), Some(b)) = (bounds(left), bounds(right)) {
        return match () {
            () if !a.values.meets(b.values) => Equivalence::Different(format!(
                "the value is {}, and not {}",
                number(a.values.middle()),
                number(b.values.middle())
            )),
            () if a.values.is_narrow() && b.values.is_narrow() => Equivalence::Equal,
            () => match collect(left, right) {
                Some(true) => Equivalence::Equal,
                _ => Equivalence::Unknown("the values are too large to be compared".into()),
            },
        };
    }
    if collect(left, right) == Some(true) {
        return Equivalence::Equal;
    }
    let mut point = Point::new();
    if natural_logarithm {
        point = point.natural_logarithm();
    }
    match (
        evaluate::value(left, &point),
        evaluate::value(right, &point),
    ) {
        (Ok(a), Ok(b)) => match nearness(a, b) {
            Nearness::Same => Equivalence::Equal,
            Nearness::Apart => Equivalence::Different(format!(
                "the value is {}, and not {}",
                complex(a),
                complex(b)
            )),
            Nearness::Unclear => Equivalence::Unknown("the values are too near".into()),
        },
        _ => Equivalence::Unknown("it has no value that can be computed".into()),
    }
}

/// Whether two expressions are equal by collecting; `Some(false)` is not a proof that they are not.
fn collect(left: &Expression, right: &Expression) -> Option<bool> {
    let (l, r) = (
        normal_form::normal(left).ok()?,
        normal_form::normal(right).ok()?,
    );
    Some(l.subtract(&r).ok()?.is_zero())
}

/// What is known of the value of an expression without letters.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// A real number between bounds.
    Real(Interval),
    /// A number that is not real, about.
    Complex(Complex),
    /// There is none.
    None(Outside),
    /// It cannot be computed here.
    Unknown,
}

/// The value of an expression without letters.
pub(super) fn value(expression: &Expression, reading: Reading) -> Value {
    if let Some(tape) = Tape::new(expression, &[], reading) {
        match tape.over(&[]) {
            Ok(found) if found.values.is_narrow() || reading.decimals != Decimals::Exact => {
                return Value::Real(found.values);
            }
            Ok(_) => {
                // A divisor may be 0 without showing it.
                return match normal_form::normal(expression) {
                    Err(Unfit::Undefined) => Value::None(Outside::DivisionByZero),
                    _ => Value::Unknown,
                };
            }
            Err(Outside::RootOfNegative | Outside::Power | Outside::LogarithmOfNegative) => {}
            Err(outside) => return Value::None(outside),
        }
    }
    let mut point = Point::new();
    if reading.natural_logarithm {
        point = point.natural_logarithm();
    }
    match evaluate::value(expression, &point) {
        Ok(value) if value.im.abs() <= 1e-12 * value.abs() => {
            let slack = 1e-10 * value.re.abs().max(1e-3);
            Value::Real(Interval::new(value.re - slack, value.re + slack))
        }
        Ok(value) => Value::Complex(value),
        Err(evaluate::Undefined::Domain) => Value::None(Outside::Other),
        Err(_) => Value::Unknown,
    }
}

/// The greatest number of digits after a decimal point.
fn places(expression: &Expression) -> u32 {
    let places = expression.parts().filter_map(|part| {
        part.as_number().and_then(|number| match number.written() {
            Written::Decimal { places } => Some(places),
            _ => None,
        })
    });
    places.max().unwrap_or(0)
}

/// A decimal point stands somewhere in it.
pub(super) fn has_decimal(expression: &Expression) -> bool {
    expression.parts().any(|part| {
        part.as_number()
            .is_some_and(|number| matches!(number.written(), Written::Decimal { .. }))
    })
}

/// Compares the true value of an expression without letters with a claimed one that may be
/// rounded. `is_rounded` says that a claim without a decimal point is rounded to a whole number.
pub(super) fn compare_rounded(
    exact: &Expression,
    claimed: &Expression,
    is_rounded: bool,
) -> Equivalence {
    let plainly = same_number(exact, claimed);
    if plainly == Equivalence::Equal || !(is_rounded || has_decimal(claimed)) {
        return plainly;
    }
    let mut reading = Reading::default();
    let mut true_value = match value(exact, reading) {
        Value::Real(found) => found,
        Value::Complex(found) if has_decimal(claimed) => {
            return match value(claimed, reading) {
                Value::Complex(given) if rounds_to(found, given, places(claimed)) => {
                    Equivalence::Equal
                }
                _ => plainly,
            };
        }
        _ => return plainly,
    };
    for natural in [false, true] {
        if natural {
            if !has_log(exact) {
                break;
            }
            reading.natural_logarithm = true;
            match value(exact, reading) {
                Value::Real(found) => true_value = found,
                _ => break,
            }
        }
        for decimals in [Decimals::Rounded, Decimals::Loose] {
            let Some(allowed) = rounded_bounds(claimed, decimals, is_rounded) else {
                return plainly;
            };
            if allowed.meets(true_value) && !ends_before(true_value, claimed) {
                return match decimals {
                    Decimals::Rounded => Equivalence::Equal,
                    _ => Equivalence::Unknown(
                        "the last digit may have been rounded on the way".into(),
                    ),
                };
            }
        }
    }
    plainly
}

/// Both parts of a complex number are as near as so many decimal places say.
fn rounds_to(exact: Complex, given: Complex, places: u32) -> bool {
    let unit = libm::pow(10.0, -f64::from(places.min(12)));
    let near = |a: f64, b: f64| (a - b).abs() <= 0.501 * unit;
    near(exact.re, given.re) && near(exact.im, given.im)
}

/// The bounds of a claim that may be rounded.
pub(super) fn rounded_bounds(
    claimed: &Expression,
    decimals: Decimals,
    whole_too: bool,
) -> Option<Interval> {
    if let (Operator::Degrees, [operand]) = (claimed.operator(), claimed.operands()) {
        let degrees = rounded_bounds(operand, decimals, whole_too)?;
        let factor = std::f64::consts::PI / 180.0;
        return Some(Interval::new(degrees.low * factor, degrees.high * factor));
    }
    let reading = Reading {
        natural_logarithm: false,
        decimals,
    };
    let found = Tape::new(claimed, &[], reading)?.over(&[]).ok()?.values;
    let is_whole = match (claimed.operator(), claimed.operands()) {
        (Operator::Negative, [operand]) => operand.as_i64().is_some(),
        _ => claimed.as_i64().is_some(),
    };
    if whole_too && is_whole {
        let unit = match claimed.as_i64() {
            // 1200 may be rounded to hundreds.
            Some(value) if value.abs() >= 1000 => {
                let mut unit = 1;
                while value % (unit * 10) == 0 {
                    unit *= 10;
                }
                unit as f64
            }
            _ => 1.0,
        };
        let unit = match decimals {
            Decimals::Exact => 0.0,
            Decimals::Rounded => 0.501 * unit,
            Decimals::Loose => 1.2 * unit,
        };
        return Some(Interval::new(found.low - unit, found.high + unit));
    }
    Some(found)
}

/// The true value has so few digits that nobody would round it to the claim, whose digits go
/// further: 2.5 is not printed as 2.6.
pub(super) fn ends_before(true_value: Interval, claimed: &Expression) -> bool {
    let places = claimed
        .parts()
        .filter_map(|part| match part.as_number()?.written() {
            Written::Decimal { places } => Some(places),
            _ => None,
        })
        .max()
        .unwrap_or(0);
    let unit = libm::pow(10.0, f64::from(places.min(12)));
    let scaled = true_value.middle() * unit;
    (scaled - libm::round(scaled)).abs() < 1e-7
}

/// A letter with its subscript, as it is told.
pub(super) fn name(letter: &Symbol) -> String {
    print::plain(&Expression::new(Operator::Symbol(letter.clone()), []))
}

/// A number as it is told: a whole number or short decimal as it is, others to six digits.
pub(super) fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".into();
    }
    let size = value.abs();
    if !(1e-4..1e12).contains(&size) {
        return format!("{value:.4e}").replace('-', "−");
    }
    let digits = (5.0 - libm::floor(libm::log10(size))).clamp(0.0, 9.0) as usize;
    let mut text = format!("{value:.digits$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    text.replace('-', "−")
}

/// A complex number as it is told.
pub(super) fn complex(value: Complex) -> String {
    match (
        value.im.abs() <= 1e-12 * value.abs(),
        value.re.abs() <= 1e-12 * value.abs(),
    ) {
        (true, _) => number(value.re),
        (false, true) => format!("{}i", number(value.im)),
        _ if value.im < 0.0 => format!("{} − {}i", number(value.re), number(-value.im)),
        _ => format!("{} + {}i", number(value.re), number(value.im)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    fn formula(tex: &str) -> Expression {
        read(tex, &Declared::new()).expression
    }

    fn kind(found: &Equivalence) -> &'static str {
        match found {
            Equivalence::Equal => "equal",
            Equivalence::Different(_) => "different",
            Equivalence::Unknown(_) => "unknown",
        }
    }

    fn check(left: &str, right: &str, expected: &str) {
        let found = compare(&formula(left), &formula(right));
        assert_eq!(kind(&found), expected, "{left} and {right}: {found:?}");
    }

    #[test]
    fn equal_expressions_are_equal_in_any_form() {
        check("(x + 1)^2", "x^2 + 2x + 1", "equal");
        check(r"\sin^2 x + \cos^2 x", "1", "equal");
        check(r"\sqrt{x^2}", "x", "equal");
        check(r"\ln(x^2 y)", r"2\ln x + \ln y", "equal");
        check(r"\frac{x^2 - 9}{x - 3}", "x + 3", "equal");
        check(r"\csc^2\theta - \cot^2\theta", "1", "equal");
        check(r"\cos 75^\circ", r"\frac{\sqrt 6 - \sqrt 2}{4}", "equal");
        check(r"\frac{1}{1 + i}", r"\frac{1 - i}{2}", "equal");
        check(r"i^{35}", "-i", "equal");
        check(r"\sqrt{-16}", "4i", "equal");
        check(r"\frac{(n+1)!}{n!}", "n + 1", "equal");
        check("0.5", r"\frac12", "equal");
        check(r"\log 100", "2", "equal");
        check(r"\log e^3", "3", "equal");
    }

    #[test]
    fn different_expressions_have_a_witness() {
        check("(x + 1)^2", "x^2 + 1", "different");
        check(r"\sin 2x", r"2 \sin x", "different");
        check(r"\sqrt{12}", r"3\sqrt 2", "different");
        check("|x|", "x", "different");
        check(r"\ln(x + y)", r"\ln x + \ln y", "different");
        check("2 + 3i", "2 - 3i", "different");
        let found = compare(&formula(r"5\sqrt{12} + 2\sqrt 3"), &formula(r"10\sqrt 3"));
        assert_eq!(
            found,
            Equivalence::Different("the value is 20.7846, and not 17.3205".into())
        );
    }

    #[test]
    fn rounded_numbers_are_right_to_their_last_digit() {
        let check = |exact: &str, claimed: &str, expected: &str| {
            let found = compare_rounded(&formula(exact), &formula(claimed), false);
            assert_eq!(kind(&found), expected, "{exact} and {claimed}: {found:?}");
        };
        check(r"\sqrt 2", "1.41", "equal");
        check(r"\sqrt 2", "1.414", "equal");
        check(r"\sqrt 2", "1.42", "unknown");
        check(r"\sqrt 2", "1.51", "different");
        check(r"\sqrt 3", "1.73", "equal");
        check(r"\frac{2}{3}", "0.66", "equal");
        check(r"\frac{2}{3}", "0.67", "equal");
        check("2.5", "2.6", "different");
        check(r"\ln 2", "0.693", "equal");
    }

    #[test]
    fn numbers_are_told_shortly() {
        assert_eq!(number(-2.5), "−2.5");
        assert_eq!(number(1.0 / 3.0), "0.333333");
        assert_eq!(number(1234567.0), "1234567");
    }
}
