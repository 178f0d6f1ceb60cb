//! What no formula can do: take more than a bounded number of steps, in whatever order its terms
//! stand, or end in anything but an answer.

#![expect(
    clippy::disallowed_methods,
    reason = "the starter patterns are read from their files"
)]

use std::path::Path;
use std::sync::LazyLock;

use porism_math::problem::{self, Problem};
use porism_math::search::{self, Effort};
use porism_math::shape::{self, Match, Shape};
use porism_math::{Expression, Operator};
use proptest::prelude::*;

/// The shapes of the starter patterns.
static SHAPES: LazyLock<Vec<Shape>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/starter");
    let files = std::fs::read_dir(folder).expect("the starter patterns");
    let mut files: Vec<_> = files.map(|entry| entry.expect("a file").path()).collect();
    files.sort();
    let mut shapes = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("a file of starter patterns");
        let lines = text.lines();
        let written = lines.filter_map(|line| line.trim_start().strip_prefix("shape: "));
        shapes.extend(written.map(|written| shape::read(written).0));
    }
    shapes
});

/// The matches and the effort, after checking that it is within the limits.
fn check(problem: &Problem) -> (Vec<Option<Match>>, Effort) {
    let (found, effort) = search::classify(SHAPES.iter(), problem);
    assert_eq!(found.len(), SHAPES.len());
    assert!(effort.forms <= search::MAX_FORMS, "{effort:?}");
    assert!(
        effort.steps <= SHAPES.len() as u64 * u64::from(search::MAX_STEPS),
        "{effort:?}"
    );
    for found in found.iter().flatten() {
        assert!(found.laws.len() <= 3 * search::MAX_LAWS, "{:?}", found.laws);
    }
    (found, effort)
}

/// Formulas that would take for ever, and what a search of all kinds may cost at most.
#[test]
fn giants_are_given_up() {
    let tower = |height: usize| "x^{".repeat(height) + "x" + &"}".repeat(height);
    let numbers = |height: usize| "9^{".repeat(height) + "9" + &"}".repeat(height);
    let many = |count: usize, term: &dyn Fn(usize) -> String, sign: &str| {
        (1..=count).map(term).collect::<Vec<_>>().join(sign)
    };
    let giants = [
        tower(60),
        tower(400),
        numbers(6),
        numbers(300),
        r"\frac{(10^{9})!}{(10^{9} - 1)!} = x".to_owned(),
        r"\binom{10^{12}}{10^{11}} x = 1".to_owned(),
        "x!!!!!!!!!! = 170!".to_owned(),
        r"\sqrt[10000000]{2} x = 10^{10^{10}}".to_owned(),
        format!("x^2 = {}", "9".repeat(20_000)),
        format!("x^2 = 0.{}1", "0".repeat(20_000)),
        format!("x^{{{}}} - 1 = 0", "7".repeat(40)),
        "(x + 1)^{1000000} = 0".to_owned(),
        "(x + y + z + u + v + w)^{60} = 1".to_owned(),
        many(10_000, &|n| format!("{n}x^{{{n}}}"), " + ") + " = 0",
        many(10_000, &|_| "x^2".to_owned(), " + "),
        many(40, &|n| format!(r"\sin({n}x)\cos({n}x)"), " + ") + " = 0",
        many(60, &|n| format!(r"\ln(x + {n})"), " + ") + " = 1",
        many(30, &|n| format!("(x + {n})(x - {n})"), " ") + " = 0",
        many(24, &|n| format!(r"\frac{{{n}}}{{x + {n}}}"), " + ") + " = 0",
        many(24, &|n| format!(r"\sqrt{{x + {n}}}"), " + ") + " = 1",
        many(12, &|n| format!(r"\left(e^{{x}} + {n}\right)^{{{n}}}"), " ") + " = 0",
        many(20, &|n| format!("a_{{{n}}} x_{{{n}}}"), " + ") + " = 0",
        r"\int ".to_owned() + &many(6, &|n| format!(r"\sin^{{{n}}} x \cos {n}x"), " ") + r"\,dx",
        r"\int \frac{x^{50}}{(x^2 + 1)^{50}}\,dx".to_owned(),
        r"\frac{d}{dx} ".to_owned() + &tower(40),
        r"\lim_{x \to 0} \frac{".to_owned()
            + &many(20, &|n| format!(r"\sin^{{{n}}} x"), " ")
            + "}{x^{20}}",
        r"\sum_{n=1}^{\infty} \frac{(n!)^{100}}{(100n)!}".to_owned(),
        r"\sum_{n=1}^{10^{100}} n^{100}".to_owned(),
        "y' = ".to_owned() + &many(40, &|n| format!("x^{n} y^{n}"), " + "),
        "((((".repeat(2_000) + "x" + &"))))".repeat(2_000) + " = 1",
        r"\frac{1}{1 + ".repeat(150) + "x" + &"}".repeat(150) + " = 2",
        r"\begin{bmatrix} ".to_owned()
            + &many(30, &|n| many(30, &|m| (n * m).to_string(), " & "), r" \\ ")
            + r" \end{bmatrix}",
        r"\begin{cases} ".to_owned()
            + &many(25, &|n| format!("x + {n}y - z = {n}"), r" \\ ")
            + r" \end{cases}",
    ];
    let instructions = ["Solve.", "Find the derivative."];
    for giant in &giants {
        for instruction in instructions {
            let problem = problem::read_exercise(instruction, giant);
            let (_, effort) = check(&problem);
            // What was measured, with room for other shapes: nothing comes near the limit.
            assert!(
                effort.steps < 200_000,
                "{instruction} {giant:.80}: {effort:?}"
            );
        }
    }
}

/// A formula that is too large is not searched at all.
#[test]
fn what_is_too_large_is_not_begun() {
    let sum = vec!["x^2"; 1_000].join(" + ") + " = 1";
    let (found, effort) = check(&problem::read_exercise("Solve.", &sum));
    assert!(found.iter().all(Option::is_none));
    assert!(
        effort.is_too_large && effort.steps == 0 && effort.forms == 0,
        "{effort:?}"
    );
    let (_, effort) = check(&problem::read_exercise("Solve.", "x^2 = 4"));
    assert!(
        !effort.is_too_large && effort.steps > 0 && effort.forms > 0,
        "{effort:?}"
    );
}

/// The operands of sums and products in another order, where the order means nothing.
fn shuffled(formula: &Expression, state: &mut u64) -> Expression {
    let inner = formula.map_operands(|operand| shuffled(operand, state));
    let is_ordered = |part: &Expression| {
        matches!(
            part.operator(),
            Operator::Matrix(_) | Operator::Tuple(_) | Operator::Differential
        )
    };
    let commutes = matches!(inner.operator(), Operator::Sum | Operator::Product)
        && !inner.parts().any(is_ordered);
    if !commutes {
        return inner;
    }
    let mut operands = inner.operands().to_vec();
    for last in (1..operands.len()).rev() {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        operands.swap(last, (*state >> 33) as usize % (last + 1));
    }
    inner.with_operands(operands)
}

/// Exercises of every kind, from the tables of classification.
static EXERCISES: LazyLock<Vec<(&str, &str)>> = LazyLock::new(|| {
    let tables = concat!(
        include_str!("classification/algebra-and-equations.txt"),
        include_str!("classification/calculus.txt"),
    );
    let mut instruction = "";
    let mut exercises = Vec::new();
    for line in tables.lines() {
        if let Some(new) = line.strip_prefix("> ") {
            instruction = new;
        } else if let Some((exercise, _)) = line.rsplit_once(" => ") {
            exercises.push((instruction, exercise));
        }
    }
    exercises
});

/// Marks of TeX, among which broken formulas are as likely as whole ones.
fn tokens() -> impl Strategy<Value = String> {
    let token = prop::sample::select(vec![
        "x",
        "y",
        "n",
        "2",
        "-3",
        "0.5",
        "+",
        "-",
        "=",
        "<",
        r"\le",
        "^",
        "^2",
        "^{x}",
        "_",
        "_1",
        "{",
        "}",
        "(",
        ")",
        "|",
        "!",
        "'",
        "''",
        ",",
        "&",
        r"\\",
        r"\frac",
        r"\frac{x}{2}",
        r"\sqrt",
        r"\sin",
        r"\cos^2",
        r"\ln",
        r"\log_2",
        "e^{x}",
        r"\int",
        r"\int_0^1",
        r"\,dx",
        r"\sum_{n=1}^{\infty}",
        r"\lim_{x \to 0}",
        r"\frac{d}{dx}",
        r"\frac{dy}{dx}",
        r"\begin{cases}",
        r"\end{cases}",
        r"\begin{bmatrix}",
        r"\end{bmatrix}",
        r"\left(",
        r"\right)",
        r"\cdot",
        r"\pm",
        r"\text{ for }",
        r"\infty",
        r"\pi",
        r"\dfrac",
        r"\quad",
        "$",
        " and ",
        r"\det",
    ]);
    prop::collection::vec(token, 0..24).prop_map(|tokens| tokens.join(" "))
}

fn instruction() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "",
        "Solve.",
        "Solve for $x$.",
        "Factor.",
        "Simplify.",
        "Find the derivative.",
        "Evaluate.",
        "Find the limit.",
        "Does it converge?",
        "Solve on $[0, 2\\pi)$:",
        "Prove by induction.",
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_text_is_answered(instruction in "\\PC{0,30}", exercise in "\\PC{0,80}") {
        check(&problem::read_exercise(&instruction, &exercise));
    }

    #[test]
    fn any_marks_are_answered(instruction in instruction(), exercise in tokens()) {
        let (_, effort) = check(&problem::read_exercise(instruction, &exercise));
        prop_assert!(effort.steps < 200_000, "{:?}", effort);
    }

    #[test]
    fn the_order_of_terms_changes_nothing(place in 0..EXERCISES.len(), seed in any::<u64>()) {
        let (instruction, exercise) = EXERCISES[place];
        let problem = problem::read_exercise(instruction, exercise);
        let Some(main) = &problem.main else { return Ok(()) };
        let mut other = problem.clone();
        other.main = Some(shuffled(main, &mut { seed }));
        let ((found, _), (others, _)) = (check(&problem), check(&other));
        let laws = |found: &[Option<Match>]| -> Vec<_> {
            found.iter().map(|found| found.as_ref().map(|found| found.laws.clone())).collect()
        };
        prop_assert_eq!(laws(&found), laws(&others), "{} {}", instruction, exercise);
        prop_assert_eq!(shape::best_first(&SHAPES, &found), shape::best_first(&SHAPES, &others));
    }
}
