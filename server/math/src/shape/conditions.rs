//! What do a shape's conditions say, and do they hold?

use crate::derivative::derivative;
use crate::evaluate::{Point, real_value};
use crate::expression::{Constant, Expression, Operator, Relation, Symbol};
use crate::normal_form::{Normal, Steps, normal, normal_with_steps};
use crate::rational::Rational;
use crate::views::{self, Basic, Truth};

/// A condition on holes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Condition {
    /// Something is said of each of these.
    Is {
        /// What it is said of.
        subjects: Vec<Subject>,
        /// The opposite is said.
        negated: bool,
        /// What is said.
        predicate: Predicate,
    },
    /// A chain of comparisons.
    Compare {
        /// What is compared, one more than there are relations.
        sides: Vec<Expression>,
        /// The signs between them.
        relations: Vec<Relation>,
    },
    /// No two of these are equal.
    Different(Vec<Expression>),
}

/// What something is said of: an expression, or its value at a point.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Subject {
    pub(super) expression: Expression,
    pub(super) at: Option<Expression>,
}

/// What a condition says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Predicate {
    /// It does not depend on any variable.
    Number,
    /// It is a whole number.
    Integer,
    /// It is a fraction of whole numbers.
    Rational,
    /// It is above 0.
    Positive,
    /// It is below 0.
    Negative,
    /// It is even.
    Even,
    /// It is odd.
    Odd,
    /// It grows without bound.
    Infinite,
    /// It grows without bound near a point between these two.
    InfiniteBetween(Expression, Expression),
    /// It equals this.
    Equals(Expression),
    /// These letters occur in it.
    DependsOn(Vec<Symbol>),
    /// No other variables than these occur in it.
    DependsOnlyOn(Vec<Symbol>),
    /// It is a polynomial of a degree from `low` to `high` in the letter.
    Polynomial {
        /// The letter.
        letter: Symbol,
        /// The least degree.
        low: u32,
        /// The greatest degree.
        high: Option<u32>,
    },
    /// It is a whole power of this.
    PowerOf(Expression),
    /// It is the square of a rational number.
    PerfectSquare,
    /// It is the cube of a rational number.
    PerfectCube,
    /// It is a polynomial in the letter with at least two different factors.
    SeveralFactors(Symbol),
    /// It is a sum of multiples of powers of the letter, and, if `functions` says so, of functions
    /// of the letter that stand in every table.
    SumOfBasic {
        /// The letter.
        letter: Symbol,
        /// Which functions besides powers.
        functions: Basic,
    },
    /// It is a sum of products of powers, exponentials, sines and cosines of the letter.
    ExponentialPolynomial(Symbol),
    /// Any expression.
    Anything,
}

/// The letters of a problem that vary, and those among them at which limits are looked at.
pub(super) struct Scene<'a> {
    /// Letters that vary or are to be found.
    pub(super) variables: &'a [Symbol],
    /// The letter that points are values of, for "f at a".
    pub(super) main: Option<&'a Symbol>,
}

impl Condition {
    /// Every expression in it.
    pub(super) fn expressions(&self) -> Vec<&Expression> {
        match self {
            Condition::Is {
                subjects,
                predicate,
                ..
            } => {
                let mut all: Vec<&Expression> = Vec::new();
                for subject in subjects {
                    all.push(&subject.expression);
                    all.extend(&subject.at);
                }
                match predicate {
                    Predicate::Equals(other) | Predicate::PowerOf(other) => all.push(other),
                    Predicate::InfiniteBetween(low, high) => all.extend([low, high]),
                    _ => {}
                }
                all
            }
            Condition::Compare { sides, .. } | Condition::Different(sides) => {
                sides.iter().collect()
            }
        }
    }

    /// Changes every expression and every letter in it.
    pub(super) fn rename(
        &mut self,
        expression: &impl Fn(&Expression) -> Expression,
        letter: &impl Fn(&Symbol) -> Symbol,
    ) {
        match self {
            Condition::Is {
                subjects,
                predicate,
                ..
            } => {
                for subject in subjects {
                    subject.expression = expression(&subject.expression);
                    subject.at = subject.at.as_ref().map(expression);
                }
                match predicate {
                    Predicate::Equals(other) | Predicate::PowerOf(other) => {
                        *other = expression(other);
                    }
                    Predicate::InfiniteBetween(low, high) => {
                        (*low, *high) = (expression(low), expression(high));
                    }
                    Predicate::DependsOn(letters) | Predicate::DependsOnlyOn(letters) => {
                        letters.iter_mut().for_each(|l| *l = letter(l));
                    }
                    Predicate::Polynomial { letter: l, .. }
                    | Predicate::SumOfBasic { letter: l, .. }
                    | Predicate::SeveralFactors(l)
                    | Predicate::ExponentialPolynomial(l) => *l = letter(l),
                    _ => {}
                }
            }
            Condition::Compare { sides, .. } | Condition::Different(sides) => {
                sides.iter_mut().for_each(|side| *side = expression(side));
            }
        }
    }

    /// How much it narrows a shape down.
    pub(super) fn weight(&self) -> i32 {
        let speaks_of_derivative = self.expressions().into_iter().any(has_derivative);
        match self {
            _ if speaks_of_derivative => 0,
            Condition::Compare { relations, .. } if relations.contains(&Relation::Equal) => 3,
            // Where something has no value decides the method.
            Condition::Is {
                subjects,
                negated: false,
                predicate: Predicate::Infinite,
            } => 20 * subjects.iter().filter(|s| s.at.is_some()).count() as i32,
            Condition::Is {
                negated: false,
                predicate: Predicate::InfiniteBetween(..),
                ..
            } => 20,
            _ => 1,
        }
    }

    /// Whether it holds when the holes are filled by `fill`.
    pub(super) fn holds(
        &self,
        scene: &Scene<'_>,
        fill: &mut dyn FnMut(&Expression) -> Option<Expression>,
    ) -> Truth {
        let mut fill = |expression: &Expression| -> Option<Expression> {
            let filled = fill(expression)?;
            match has_derivative(expression) {
                true => differentiated(&filled),
                false => Some(filled),
            }
        };
        let Some(truth) = self.decide(scene, &mut fill) else {
            return Truth::Unknown;
        };
        truth
    }

    fn decide(
        &self,
        scene: &Scene<'_>,
        fill: &mut dyn FnMut(&Expression) -> Option<Expression>,
    ) -> Option<Truth> {
        match self {
            Condition::Is {
                subjects,
                negated,
                predicate,
            } => {
                let mut all = Truth::Yes;
                for subject in subjects {
                    let expression = fill(&subject.expression)?;
                    let truth = match &subject.at {
                        Some(point) => {
                            at_point(&expression, &fill(point)?, predicate, scene, fill)?
                        }
                        None => said_of(&expression, predicate, scene, fill)?,
                    };
                    all = all.min(if *negated { truth.negate() } else { truth });
                }
                Some(all)
            }
            Condition::Compare { sides, relations } => {
                let mut values = Vec::with_capacity(sides.len());
                for side in sides {
                    values.push(normal(&fill(side)?).ok()?);
                }
                let mut all = Truth::Yes;
                for (pair, relation) in values.windows(2).zip(relations) {
                    all = all.min(compare(&pair[0], *relation, &pair[1])?);
                }
                Some(all)
            }
            Condition::Different(sides) => {
                let mut values = Vec::with_capacity(sides.len());
                for side in sides {
                    values.push(normal(&fill(side)?).ok()?);
                }
                let mut all = Truth::Yes;
                for (place, left) in values.iter().enumerate() {
                    for right in &values[place + 1..] {
                        let difference = left.subtract(right).ok()?;
                        all = all.min(views::is_zero(&difference).negate());
                    }
                }
                Some(all)
            }
        }
    }
}

/// A condition speaks of the derivative of what fills a hole.
pub(super) fn has_derivative(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| matches!(part.operator(), Operator::Derivative(_)))
}

/// The expression with its derivatives worked out; none if there is one that cannot be.
fn differentiated(expression: &Expression) -> Option<Expression> {
    let operands: Option<Vec<Expression>> =
        expression.operands().iter().map(differentiated).collect();
    let operands = operands?;
    let Operator::Derivative(by) = expression.operator() else {
        return Some(match operands.is_empty() {
            true => expression.clone(),
            false => expression.with_operands(operands),
        });
    };
    let mut result = operands.first()?.clone();
    for (letter, order) in operands[1..].iter().zip(&by.orders) {
        for _ in 0..*order {
            result = derivative(&result, letter.as_symbol()?)?;
        }
    }
    Some(result)
}

/// A derivative of a function that is to be found, or a differential.
pub(super) fn is_derivative(part: &Expression) -> bool {
    matches!(
        part.operator(),
        Operator::Prime(_) | Operator::NthPrime | Operator::Derivative(_) | Operator::Differential
    )
}

/// No variable occurs in it.
pub(super) fn is_number(expression: &Expression, scene: &Scene<'_>) -> bool {
    !expression.parts().any(|part| {
        part.as_symbol()
            .is_some_and(|symbol| scene.variables.contains(symbol))
            || part.as_constant() == Some(Constant::Infinity)
    })
}

fn said_of(
    expression: &Expression,
    predicate: &Predicate,
    scene: &Scene<'_>,
    fill: &mut dyn FnMut(&Expression) -> Option<Expression>,
) -> Option<Truth> {
    let number = || normal(expression).ok();
    let rational = || Some(number()?.as_constant());
    let integer = || Some(rational()?.filter(Rational::is_integer));
    Some(match predicate {
        Predicate::Anything => Truth::Yes,
        Predicate::Number => Truth::of(
            is_number(expression, scene)
                || number().is_some_and(|number| is_number(&number.to_expression(), scene)),
        ),
        Predicate::Integer => match rational()? {
            Some(value) => Truth::of(value.is_integer()),
            None => undecided_if_letters(expression, scene),
        },
        Predicate::Rational => match rational()? {
            Some(_) => Truth::Yes,
            None => undecided_if_letters(expression, scene),
        },
        Predicate::Positive => compare(&number()?, Relation::Greater, &zero())?,
        Predicate::Negative => compare(&number()?, Relation::Less, &zero())?,
        Predicate::Even => parity(&integer()?, 0),
        Predicate::Odd => parity(&integer()?, 1),
        Predicate::Infinite => Truth::of(
            expression
                .parts()
                .any(|part| part.as_constant() == Some(Constant::Infinity)),
        ),
        Predicate::InfiniteBetween(low, high) => {
            let (low, high) = (fill(low)?, fill(high)?);
            has_pole_between(&number()?, scene.main?, &low, &high)?
        }
        Predicate::Equals(other) => {
            let other = fill(other)?;
            match (number(), normal(&other).ok()) {
                (Some(left), Some(right)) => views::is_zero(&left.subtract(&right).ok()?),
                _ => Truth::of(*expression == other),
            }
        }
        Predicate::DependsOn(letters) => {
            let number = number();
            Truth::of(letters.iter().all(|letter| match &number {
                Some(number) => views::depends_on(number, letter),
                None => expression.mentions(letter),
            }))
        }
        Predicate::DependsOnlyOn(letters) => {
            let others =
                |symbol: &Symbol| scene.variables.contains(symbol) && !letters.contains(symbol);
            // A derivative of y depends on more than y.
            let others =
                |part: &Expression| is_derivative(part) || part.as_symbol().is_some_and(others);
            Truth::of(match number() {
                Some(number) => {
                    let mut kernels = number.kernels().into_iter();
                    !kernels.any(|kernel| kernel.parts().any(others))
                }
                None => !expression.parts().any(others),
            })
        }
        Predicate::Polynomial { letter, low, high } => {
            let number = number()?;
            let others = |symbol: &Symbol| scene.variables.contains(symbol) && symbol != letter;
            let is_free = !number.kernels().iter().any(|kernel| {
                kernel
                    .parts()
                    .any(|part| part.as_symbol().is_some_and(others))
            });
            let degree = views::degree_in(&number, letter);
            Truth::of(
                is_free
                    && degree.is_some_and(|degree| {
                        degree >= *low && high.is_none_or(|high| degree <= high)
                    }),
            )
        }
        Predicate::PerfectCube => match rational()? {
            Some(value) => Truth::of(value.root(3).is_some()),
            None => undecided_if_letters(expression, scene),
        },
        Predicate::SeveralFactors(letter) => {
            Truth::of(views::has_several_factors(&number()?, letter))
        }
        Predicate::SumOfBasic { letter, functions } => {
            let (number, steps) = normal_with_steps(expression).ok()?;
            // A sum that is still to be multiplied out is none yet.
            let is_sum = !steps.contains(Steps::EXPAND);
            Truth::of(is_sum && views::is_sum_of_basic(&number, letter, *functions))
        }
        Predicate::ExponentialPolynomial(letter) => {
            Truth::of(views::is_exponential_polynomial(&number()?, letter))
        }
        Predicate::PowerOf(base) => {
            let base = normal(&fill(base)?).ok()?.as_constant()?;
            let value = rational()?;
            Truth::of(value.is_some_and(|value| is_power_of(&value, &base)))
        }
        Predicate::PerfectSquare => match rational()? {
            Some(value) => Truth::of(value.is_square()),
            None => undecided_if_letters(expression, scene),
        },
    })
}

/// A number without a rational value is irrational, unless letters stand for its parts.
fn undecided_if_letters(expression: &Expression, scene: &Scene<'_>) -> Truth {
    let has_letters = expression.parts().any(|part| part.as_symbol().is_some());
    match has_letters && is_number(expression, scene) {
        true => Truth::Unknown,
        false => Truth::No,
    }
}

fn parity(value: &Option<Rational>, rest: i64) -> Truth {
    match value.as_ref().and_then(Rational::as_i64) {
        Some(value) => Truth::of(value.rem_euclid(2) == rest),
        None => Truth::No,
    }
}

fn is_power_of(value: &Rational, base: &Rational) -> bool {
    if value.is_one() {
        return true;
    }
    if !base.is_positive() || base.is_one() || !value.is_positive() {
        return false;
    }
    (1..=64).any(|exponent| {
        base.pow(exponent)
            .is_some_and(|power| power == *value || power.reciprocal().as_ref() == Some(value))
    })
}

fn zero() -> Normal {
    Normal::constant(Rational::ZERO)
}

/// Whether a relation holds between two numbers.
pub(super) fn compare(left: &Normal, relation: Relation, right: &Normal) -> Option<Truth> {
    let difference = left.subtract(right).ok()?;
    let is_zero = views::is_zero_at_points(&difference);
    let sign = views::sign(&difference);
    let by_sign = |test: fn(i32) -> bool| sign.map_or(Truth::Unknown, |sign| Truth::of(test(sign)));
    Some(match relation {
        Relation::Equal => is_zero,
        Relation::NotEqual => is_zero.negate(),
        Relation::Less => by_sign(|sign| sign < 0),
        Relation::LessOrEqual => by_sign(|sign| sign <= 0),
        Relation::Greater => by_sign(|sign| sign > 0),
        Relation::GreaterOrEqual => by_sign(|sign| sign >= 0),
        _ => return None,
    })
}

/// What is said of the value at a point: of the limit, where the point is infinite.
fn at_point(
    expression: &Expression,
    point: &Expression,
    predicate: &Predicate,
    scene: &Scene<'_>,
    fill: &mut dyn FnMut(&Expression) -> Option<Expression>,
) -> Option<Truth> {
    let letter = scene.main?;
    let is_infinite = point
        .parts()
        .any(|part| part.as_constant() == Some(Constant::Infinity));
    if !is_infinite {
        if *predicate == Predicate::Infinite {
            let at = real_value(point, &Point::new()).unwrap_or(0.0);
            let step = |step: i32| libm::pow(10.0, -f64::from(step));
            let from_above = grows(expression, letter, |n| at + step(n));
            let from_below = grows(expression, letter, |n| at - step(n));
            return Some(match (from_above, from_below) {
                (Truth::Yes, _) | (_, Truth::Yes) => Truth::Yes,
                // Where it is defined on one side only, that side tells.
                (Truth::Unknown, one) | (one, _) => one,
            });
        }
        return match views::expression_at(expression, letter, point) {
            Some(value) => said_of(&value.to_expression(), predicate, scene, fill),
            // It has no value there, and so not this one.
            None => Some(match predicate {
                Predicate::Equals(_) => Truth::No,
                _ => Truth::Unknown,
            }),
        };
    }
    let negative = matches!(point.operator(), Operator::Negative);
    let far = |step: i32| {
        let distance = libm::pow(10.0, f64::from(step));
        if negative { -distance } else { distance }
    };
    match predicate {
        Predicate::Infinite => Some(grows(expression, letter, far)),
        Predicate::Equals(other) => {
            let other = normal(&fill(other)?).ok()?.as_constant()?.to_f64();
            let distances: Option<Vec<f64>> = (2..=5)
                .map(|step| {
                    let at = Point::new().with(letter.clone(), far(step));
                    Some((real_value(expression, &at).ok()? - other).abs())
                })
                .collect();
            let distances = distances?;
            let shrinks = distances
                .windows(2)
                .all(|pair| pair[1] < 0.7 * pair[0] || pair[1] == 0.0);
            Some(Truth::of(shrinks && distances[3] < 0.1))
        }
        _ => None,
    }
}

/// Whether a fraction of polynomials with nothing to cancel has a zero below between two numbers.
fn has_pole_between(
    number: &Normal,
    letter: &Symbol,
    low: &Expression,
    high: &Expression,
) -> Option<Truth> {
    let below = number.denominator();
    if below.is_one() {
        return Some(Truth::No);
    }
    let bound = |end: &Expression| normal(end).ok()?.as_constant();
    let (low, high) = (bound(low)?, bound(high)?);
    let (kernel, unit, values) = below.as_univariate()?;
    if kernel.as_symbol() != Some(letter) || !unit.is_integer() {
        return None;
    }
    // A power of the letter as the unit has the letter's zero.
    let inside = match unit.is_one() {
        true => values.count_real_roots(Some(&low), Some(&high)),
        false => {
            return Some(Truth::of(
                low.is_negative() && high.is_positive() && values.at(&Rational::ZERO).is_zero(),
            ));
        }
    };
    let at_end = usize::from(values.at(&high).is_zero());
    Some(Truth::of(inside > at_end))
}

/// The size of an expression grows without bound along a sequence of points.
fn grows(expression: &Expression, letter: &Symbol, point: impl Fn(i32) -> f64) -> Truth {
    let sizes: Vec<f64> = (1..=5)
        .map(|step| {
            let at = Point::new().with(letter.clone(), point(step));
            match real_value(expression, &at) {
                Ok(value) => value.abs(),
                Err(crate::evaluate::Undefined::Overflow) => f64::INFINITY,
                Err(_) => f64::NAN,
            }
        })
        .collect();
    if sizes.iter().any(|size| size.is_nan()) {
        return Truth::Unknown;
    }
    // The logarithm gains a constant with each power of ten, a bounded function ever less.
    let grows = sizes
        .windows(3)
        .all(|s| s[2] == f64::INFINITY || (s[2] > s[1] && s[2] - s[1] > 0.5 * (s[1] - s[0])));
    Truth::of(grows)
}
