//! Shapes of a first university year against problems: which fit, by which laws, and with what in
//! the holes.

use porism_math::expression::{Expression, Operator};
use porism_math::print;
use porism_math::problem::{self, Part, Problem};
use porism_math::shape::{self, Match};

fn read(statement: &str) -> Problem {
    let pieces = statement.split('$').enumerate();
    let parts: Vec<Part<'_>> = pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect();
    problem::read(&parts)
}

fn check(shape: &str, statement: &str) -> Option<Match> {
    let (shape, diagnostics) = shape::read(shape);
    assert!(diagnostics.is_empty(), "{}: {diagnostics:?}", shape.text());
    shape::matches(&shape, &read(statement))
}

fn shown(found: &Option<Match>) -> String {
    match found {
        None => "no".to_owned(),
        Some(found) => {
            let laws: Vec<String> = found.laws.iter().map(|law| format!("{law:?}")).collect();
            let holes: Vec<String> = found
                .holes
                .iter()
                .map(|(letter, value)| format!("{letter:?} = {}", print::plain(value)))
                .collect();
            let laws = if laws.is_empty() {
                "as written".to_owned()
            } else {
                laws.join(", ")
            };
            format!("{laws}; {}", holes.join(", "))
        }
    }
}

/// Each block is a shape, then problems with what is found: `no`, or the laws and the holes.
#[test]
fn shapes_fit_as_the_table_says() {
    let mut shape = "";
    let mut wrong = Vec::new();
    let mut count = 0;
    for line in include_str!("shape/table.txt").lines() {
        if line.starts_with('%') || line.is_empty() {
            continue;
        }
        let Some(case) = line.strip_prefix("  ") else {
            shape = line;
            continue;
        };
        count += 1;
        let (statement, expected) = case
            .split_once(" => ")
            .expect("a problem and what is found");
        let found = shown(&check(shape, statement));
        if found != expected {
            wrong.push(format!(
                "{shape}\n  {statement}\n    expected {expected}\n    found    {found}"
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {count}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(count >= 100);
}

/// Numbers without a pattern, the same in every run.
struct Random(u64);

impl Random {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % bound
    }
}

/// The same formula with the operands of sums and products in another order.
fn shuffled(formula: &Expression, random: &mut Random) -> Expression {
    let inner = formula.map_operands(|operand| shuffled(operand, random));
    match inner.operator() {
        Operator::Sum | Operator::Product => {
            let mut operands: Vec<Expression> = inner.operands().to_vec();
            let has_matrix = operands.iter().flat_map(Expression::parts).any(|part| {
                matches!(
                    part.operator(),
                    Operator::Matrix(_) | Operator::Differential
                )
            });
            if !has_matrix {
                for last in (1..operands.len()).rev() {
                    let other = random.below(last + 1);
                    operands.swap(last, other);
                }
            }
            inner.with_operands(operands)
        }
        _ => inner,
    }
}

/// The same equation with its sides swapped, a term moved, or both sides multiplied.
fn rearranged(formula: &Expression, random: &mut Random) -> Expression {
    let Some((left, right)) = formula.as_equation() else {
        return formula.clone();
    };
    let has_matrix = formula
        .parts()
        .any(|part| matches!(part.operator(), Operator::Matrix(_)));
    match random.below(4) {
        0 => Expression::equation(right.clone(), left.clone()),
        1 if !has_matrix => {
            let three = || Expression::integer(3);
            Expression::equation(
                Expression::product([three(), left.clone()]),
                Expression::product([three(), right.clone()]),
            )
        }
        2 if *left.operator() == Operator::Sum => {
            let mut terms = left.operands().to_vec();
            let moved = terms.remove(random.below(terms.len()));
            let right = Expression::sum([right.clone(), Expression::negative(moved)]);
            Expression::equation(Expression::sum(terms), right)
        }
        _ => formula.clone(),
    }
}

#[test]
fn shapes_fit_what_is_only_written_otherwise() {
    let mut shape = None;
    let (mut count, mut missed) = (0, Vec::new());
    for line in include_str!("shape/table.txt").lines() {
        if line.starts_with('%') || line.is_empty() {
            continue;
        }
        let Some(case) = line.strip_prefix("  ") else {
            shape = Some(shape::read(line).0);
            continue;
        };
        let (statement, expected) = case
            .split_once(" => ")
            .expect("a problem and what is found");
        let problem = read(statement);
        let (Some(shape), Some(main), false) = (&shape, &problem.main, expected == "no") else {
            continue;
        };
        for seed in 0..12 {
            let mut random = Random(seed);
            let mut formula = main.clone();
            for _ in 0..=random.below(2) {
                formula = rearranged(&shuffled(&formula, &mut random), &mut random);
            }
            let mut scrambled = problem.clone();
            scrambled.main = Some(formula.clone());
            count += 1;
            if shape::matches(shape, &scrambled).is_none() {
                missed.push(format!("{}: {}", shape.text(), print::plain(&formula)));
            }
        }
    }
    assert!(count > 1_000, "{count}");
    assert!(
        missed.is_empty(),
        "{} of {count}:\n{}",
        missed.len(),
        missed.join("\n")
    );
}

#[test]
fn no_problem_is_a_trap() {
    let shapes: Vec<_> = include_str!("shape/table.txt")
        .lines()
        .filter(|line| line.starts_with('$'))
        .map(|line| shape::read(line).0)
        .collect();
    let nested = format!("Solve ${}x{} = 1$.", r"\sin(".repeat(150), ")".repeat(150));
    let long = format!("Solve ${} = 0$.", "x^2 y + ".repeat(300) + "1");
    let power = r"Solve $(a + b + c + d + x)^{40} = \sqrt{(x + y + z)^{30}}$.";
    let tower = r"Solve $x^{x^{x^{x^{x}}}} = 2^{2^{2^{2^{100}}}}$.";
    let zero = r"Solve $\frac{x}{0} = \ln 0 + \tan\frac{\pi}{2}$.";
    for statement in [
        nested.as_str(),
        &long,
        power,
        tower,
        zero,
        "",
        "Solve $$.",
        r"Solve $\frac$.",
    ] {
        let found = shape::classify(&shapes, &read(statement));
        assert_eq!(found.len(), shapes.len(), "{statement}");
    }
}
