//! Is this the right answer about matrices and vectors?
//!
//! Matrices are computed with as they stand, entry by entry, so that entries may hold letters;
//! what needs elimination (rank, row reduction, null space) asks for rational numbers.

use super::answer::{Answer, Outcome};
use super::equivalence::{self, Equivalence};
use super::interval::Reading;
use super::question::Question;
use super::substitution::{self, Holds};
use super::{Verdict, equations};
use crate::expression::{Expression, Function, Operator, Relation, Style, Symbol};
use crate::linear::Matrix as Rows;
use crate::normal_form;
use crate::rational::Rational;

/// The greatest number of rows and of columns.
const MAX_SIDE: usize = 8;

/// A number, or numbers in rows and columns. A vector is one column.
#[derive(Clone, Debug, PartialEq)]
enum Value {
    Number(Expression),
    Grid(Grid),
}

/// Entries in rows of one length.
#[derive(Clone, Debug, PartialEq)]
struct Grid {
    rows: usize,
    columns: usize,
    entries: Vec<Expression>,
}

/// Why a value cannot be computed.
#[derive(Clone, Debug, PartialEq)]
enum Fault {
    /// The sizes do not fit, or a matrix has no inverse.
    Undefined,
    /// It is not understood.
    Unknown,
}

/// The problem is about vectors or matrices, whatever its formula looks like.
pub(super) fn is_asked(question: &Question) -> bool {
    let problem = &question.problem;
    let mut formulas = problem.main.iter().chain(&problem.conditions);
    formulas.any(|formula| {
        formula.parts().any(|part| match part.operator() {
            Operator::Matrix(_) => true,
            Operator::Tuple(crate::expression::Brackets::Angle) => true,
            Operator::Dot | Operator::Cross => true,
            Operator::Symbol(symbol) => symbol.is_vector(),
            Operator::Tuple(_) => question.says(&[
                "dot product",
                "cross product",
                "magnitude",
                "norm",
                "unit vector",
                "projection",
                "proj",
                "orthogonal",
                "linearly",
                "vector",
                "scalar product",
                "inner product",
            ]),
            Operator::Indexed => part
                .operands()
                .first()
                .and_then(Expression::as_symbol)
                .is_some_and(|s| s.name() == "proj"),
            _ => false,
        })
    })
}

/// The formulas give names to vectors, as `u = i + 2j` does.
pub(super) fn names_vectors(question: &Question) -> bool {
    let problem = &question.problem;
    problem
        .main
        .iter()
        .chain(&problem.conditions)
        .any(|formula| {
            let rows = match formula.operator() {
                Operator::List | Operator::System => formula.operands(),
                _ => std::slice::from_ref(formula),
            };
            rows.iter().any(|row| {
                row.as_equation()
                    .and_then(|(left, _)| left.as_symbol())
                    .is_some_and(Symbol::is_vector)
            })
        })
}

/// What is given and what is asked.
struct Task {
    /// Names with their values.
    named: Vec<(Symbol, Value)>,
    /// Matrices and vectors in the order of the text, named or not.
    grids: Vec<Grid>,
    /// Formulas to be computed.
    asked: Vec<Expression>,
}

impl Task {
    fn new(question: &Question) -> Self {
        let mut task = Self {
            named: Vec::new(),
            grids: Vec::new(),
            asked: Vec::new(),
        };
        let problem = &question.problem;
        let formulas: Vec<Expression> = match question.formulas.is_empty() {
            true => problem
                .main
                .iter()
                .chain(&problem.conditions)
                .cloned()
                .collect(),
            false => question.formulas.clone(),
        };
        // Definitions first, whatever the order of the text.
        for formula in &formulas {
            task.define(formula);
        }
        for formula in &formulas {
            task.ask(formula);
        }
        if let Some(asked) = task.asked_in_words(&question.words) {
            let is_named = |letter: &Symbol| task.named.iter().any(|(name, _)| name == letter);
            let is_known = asked.free_symbols().iter().all(is_named);
            task.asked = match is_known {
                true => vec![asked],
                // Nothing is told of what has no value.
                false => Vec::new(),
            };
        }
        task
    }

    /// "Find AB": a formula of named matrices among the words, without dollar signs.
    fn asked_in_words(&self, words: &str) -> Option<Expression> {
        let asks = ["find ", "compute ", "evaluate ", "calculate ", "determine "];
        let start = asks
            .iter()
            .filter_map(|word| Some(words.find(word)? + word.len()))
            .min()?;
        let rest = words[start..].trim_start_matches("the product ");
        let end = rest.find(['.', ',', ':', ';', '?']).unwrap_or(rest.len());
        let phrase = rest[..end].trim();
        // Longer words, and articles, are no names.
        let is_name = |word: &str| word.len() <= 2 && !["a", "an", "it"].contains(&word);
        if phrase.is_empty() || !phrase.split(char::is_whitespace).all(is_name) {
            return None;
        }
        let reading = crate::read(&phrase.to_uppercase(), &crate::Declared::new());
        let is_bare = reading.expression.as_symbol().is_some();
        (!is_bare && !reading.expression.free_symbols().is_empty()).then_some(reading.expression)
    }

    fn define(&mut self, formula: &Expression) {
        match (formula.operator(), formula.operands()) {
            (Operator::List | Operator::System | Operator::Logic(_), parts) => {
                parts.iter().for_each(|part| self.define(part));
            }
            _ => {
                if let Some((left, right)) = formula.as_equation()
                    && let Some(name) = left.as_symbol()
                    && let Ok(value) = self.value(right)
                {
                    if let Value::Grid(grid) = &value {
                        self.grids.push(grid.clone());
                    }
                    self.named.push((name.clone(), value));
                }
            }
        }
    }

    fn ask(&mut self, formula: &Expression) {
        match (formula.operator(), formula.operands()) {
            (Operator::List | Operator::System | Operator::Logic(_) | Operator::Set, parts) => {
                parts.iter().for_each(|part| self.ask(part));
            }
            (Operator::Relation(_), [left, _])
                if left
                    .as_symbol()
                    .is_some_and(|name| self.named.iter().any(|(n, _)| n == name)) => {}
            _ => {
                if let Ok(Value::Grid(grid)) = self.value(formula)
                    && matches!(
                        formula.operator(),
                        Operator::Matrix(_) | Operator::Tuple(_) | Operator::Sum
                    )
                    && !formula.parts().any(|part| {
                        part.as_symbol()
                            .is_some_and(|s| self.named.iter().any(|(n, _)| n == s))
                    })
                {
                    self.grids.push(grid);
                }
                if formula.as_symbol().is_none() {
                    self.asked.push(formula.clone());
                }
            }
        }
    }

    fn value(&self, expression: &Expression) -> Result<Value, Fault> {
        value(expression, &self.named, 0)
    }
}

fn number(expression: &Expression) -> Value {
    Value::Number(expression.clone())
}

fn collected(expression: &Expression) -> Expression {
    normal_form::collected(expression)
}

/// The value of an expression with matrices and vectors.
fn value(expression: &Expression, named: &[(Symbol, Value)], depth: usize) -> Result<Value, Fault> {
    if depth > 60 {
        return Err(Fault::Unknown);
    }
    let of = |e: &Expression| value(e, named, depth + 1);
    let operands = expression.operands();
    match (expression.operator(), operands) {
        (Operator::Symbol(symbol), _) => {
            if let Some((_, found)) = named.iter().find(|(name, _)| name == symbol) {
                return Ok(found.clone());
            }
            if let Some(place) = unit_vector(symbol) {
                let entries = (0..3)
                    .map(|row| Expression::integer((row == place).into()))
                    .collect();
                return Ok(Value::Grid(Grid {
                    rows: 3,
                    columns: 1,
                    entries,
                }));
            }
            match symbol.is_vector() {
                true => Err(Fault::Unknown),
                false => Ok(number(expression)),
            }
        }
        (Operator::Matrix(shape), entries) => {
            let columns = shape.columns as usize;
            if columns == 0 || columns > MAX_SIDE || entries.len() / columns > MAX_SIDE {
                return Err(Fault::Unknown);
            }
            Ok(Value::Grid(Grid {
                rows: entries.len() / columns,
                columns,
                entries: entries.to_vec(),
            }))
        }
        (Operator::Tuple(_), parts) | (Operator::Interval(_), parts) => match parts.len() {
            1..=MAX_SIDE => Ok(Value::Grid(Grid {
                rows: parts.len(),
                columns: 1,
                entries: parts.to_vec(),
            })),
            _ => Err(Fault::Unknown),
        },
        (Operator::Sum, terms) => {
            let mut total: Option<Value> = None;
            for term in terms {
                let term = of(term)?;
                total = Some(match total {
                    None => term,
                    Some(total) => add(&total, &term)?,
                });
            }
            total.ok_or(Fault::Unknown)
        }
        (Operator::Negative, [operand]) => scale(&Expression::integer(-1), of(operand)?),
        (Operator::Product, factors) => {
            let mut total: Option<Value> = None;
            for factor in factors {
                let factor = of(factor)?;
                total = Some(match total {
                    None => factor,
                    Some(total) => multiply(&total, &factor)?,
                });
            }
            total.ok_or(Fault::Unknown)
        }
        (Operator::Fraction, [above, below]) => match (of(above)?, of(below)?) {
            (above, Value::Number(below)) => {
                scale(&Expression::fraction(Expression::integer(1), below), above)
            }
            _ => Err(Fault::Unknown),
        },
        (Operator::Power, [base, exponent]) => match of(base)? {
            Value::Number(base) => Ok(Value::Number(Expression::power(base, exponent.clone()))),
            Value::Grid(grid) => {
                let exponent = exponent.as_i64().ok_or(Fault::Unknown)?;
                grid.power(exponent).map(Value::Grid)
            }
        },
        (Operator::InverseFunction, [base]) => match of(base)? {
            Value::Grid(grid) => grid.power(-1).map(Value::Grid),
            Value::Number(_) => Err(Fault::Unknown),
        },
        (Operator::Dot, [left, right]) => match (of(left)?, of(right)?) {
            (Value::Grid(a), Value::Grid(b)) => a.dot(&b).map(Value::Number),
            (a, b) => multiply(&a, &b),
        },
        (Operator::Cross, [left, right]) => match (of(left)?, of(right)?) {
            (Value::Grid(a), Value::Grid(b)) => a.cross(&b).map(Value::Grid),
            (a, b) => multiply(&a, &b),
        },
        (Operator::Function(Function::Norm | Function::Abs), [operand]) => match of(operand)? {
            Value::Grid(grid) if grid.columns == 1 || grid.rows == 1 => {
                grid.length().map(Value::Number)
            }
            // Bars around a matrix are its determinant.
            Value::Grid(grid) => grid.determinant().map(Value::Number),
            Value::Number(inner) => Ok(Value::Number(Expression::function(Function::Abs, inner))),
        },
        (Operator::Function(function), [operand]) => match (function, of(operand)?) {
            (Function::Determinant, Value::Grid(grid)) => grid.determinant().map(Value::Number),
            (Function::Transpose, Value::Grid(grid)) => Ok(Value::Grid(grid.transposed())),
            (Function::Trace, Value::Grid(grid)) => grid.trace().map(Value::Number),
            (Function::Rank, Value::Grid(grid)) => {
                let rank = grid.exact().ok_or(Fault::Unknown)?.rank();
                Ok(Value::Number(Expression::integer(rank as i64)))
            }
            (_, Value::Number(inner)) => Ok(Value::Number(Expression::new(
                expression.operator().clone(),
                [inner],
            ))),
            _ => Err(Fault::Unknown),
        },
        // `proj_b a`, `proj_b(3, 2, 1)`.
        (Operator::Apply, [name, arguments @ ..]) => {
            let (Operator::Indexed, [proj, onto]) = (name.operator(), name.operands()) else {
                return Err(Fault::Unknown);
            };
            if proj
                .as_symbol()
                .is_none_or(|symbol| symbol.name() != "proj")
            {
                return Err(Fault::Unknown);
            }
            let argument = match arguments {
                [one] => of(one)?,
                several => Value::Grid(Grid {
                    rows: several.len(),
                    columns: 1,
                    entries: several.to_vec(),
                }),
            };
            match (argument, of(onto)?) {
                (Value::Grid(a), Value::Grid(b)) => a.projected_onto(&b).map(Value::Grid),
                _ => Err(Fault::Unknown),
            }
        }
        _ if expression.parts().all(|part| {
            !matches!(
                part.operator(),
                Operator::Matrix(_) | Operator::Tuple(_) | Operator::Opaque(_)
            )
        }) =>
        {
            Ok(number(expression))
        }
        _ => Err(Fault::Unknown),
    }
}

/// The place of the entry 1 in a unit vector that is written i, j or k.
fn unit_vector(symbol: &Symbol) -> Option<usize> {
    let is_set_apart =
        symbol.style() == Style::Bold || symbol.accent() != crate::expression::Accent::None;
    match symbol.name() {
        "i" if is_set_apart => Some(0),
        "j" if is_set_apart => Some(1),
        "k" if is_set_apart => Some(2),
        _ => None,
    }
}

fn add(left: &Value, right: &Value) -> Result<Value, Fault> {
    match (left, right) {
        (Value::Number(a), Value::Number(b)) => Ok(Value::Number(collected(&Expression::sum([
            a.clone(),
            b.clone(),
        ])))),
        (Value::Grid(a), Value::Grid(b)) if (a.rows, a.columns) == (b.rows, b.columns) => {
            let entries = a
                .entries
                .iter()
                .zip(&b.entries)
                .map(|(a, b)| collected(&Expression::sum([a.clone(), b.clone()])))
                .collect();
            Ok(Value::Grid(Grid { entries, ..*a }))
        }
        (Value::Grid(_), Value::Grid(_)) => Err(Fault::Undefined),
        _ => Err(Fault::Unknown),
    }
}

fn scale(by: &Expression, value: Value) -> Result<Value, Fault> {
    let times = |e: &Expression| collected(&Expression::product([by.clone(), e.clone()]));
    Ok(match value {
        Value::Number(number) => Value::Number(times(&number)),
        Value::Grid(grid) => Value::Grid(Grid {
            entries: grid.entries.iter().map(times).collect(),
            ..grid
        }),
    })
}

fn multiply(left: &Value, right: &Value) -> Result<Value, Fault> {
    match (left, right) {
        (Value::Number(number), other) | (other, Value::Number(number)) => {
            scale(number, other.clone())
        }
        (Value::Grid(a), Value::Grid(b)) => a.times(b).map(Value::Grid),
    }
}

impl Grid {
    fn at(&self, row: usize, column: usize) -> &Expression {
        &self.entries[row * self.columns + column]
    }

    fn times(&self, other: &Self) -> Result<Self, Fault> {
        if self.columns != other.rows {
            return Err(Fault::Undefined);
        }
        let mut entries = Vec::with_capacity(self.rows * other.columns);
        for row in 0..self.rows {
            for column in 0..other.columns {
                let products = (0..self.columns).map(|place| {
                    Expression::product([
                        self.at(row, place).clone(),
                        other.at(place, column).clone(),
                    ])
                });
                entries.push(collected(&Expression::sum(products)));
            }
        }
        Ok(Self {
            rows: self.rows,
            columns: other.columns,
            entries,
        })
    }

    fn identity(size: usize) -> Self {
        let entries = (0..size * size)
            .map(|place| Expression::integer((place / size == place % size).into()))
            .collect();
        Self {
            rows: size,
            columns: size,
            entries,
        }
    }

    fn power(&self, exponent: i64) -> Result<Self, Fault> {
        if self.rows != self.columns {
            return Err(Fault::Undefined);
        }
        if exponent.abs() > 12 {
            return Err(Fault::Unknown);
        }
        let base = match exponent < 0 {
            true => self.inverse()?,
            false => self.clone(),
        };
        (0..exponent.abs()).try_fold(Self::identity(self.rows), |power, _| power.times(&base))
    }

    fn transposed(&self) -> Self {
        let entries = (0..self.columns)
            .flat_map(|column| (0..self.rows).map(move |row| (row, column)))
            .map(|(row, column)| self.at(row, column).clone())
            .collect();
        Self {
            rows: self.columns,
            columns: self.rows,
            entries,
        }
    }

    fn trace(&self) -> Result<Expression, Fault> {
        if self.rows != self.columns {
            return Err(Fault::Undefined);
        }
        let diagonal = (0..self.rows).map(|place| self.at(place, place).clone());
        Ok(collected(&Expression::sum(diagonal)))
    }

    /// By expansion along the first row; of at most 5 rows, or of rational numbers.
    fn determinant(&self) -> Result<Expression, Fault> {
        if self.rows != self.columns {
            return Err(Fault::Undefined);
        }
        if let Some(exact) = self.exact() {
            let polynomial = exact.characteristic_polynomial().ok_or(Fault::Unknown)?;
            let constant = polynomial.coefficient(0);
            let value = match self.rows.is_multiple_of(2) {
                true => constant,
                false => -constant,
            };
            return Ok(Expression::rational(&value.to_big()));
        }
        match self.rows {
            1..=5 => Ok(collected(&self.expanded())),
            _ => Err(Fault::Unknown),
        }
    }

    fn expanded(&self) -> Expression {
        if self.rows == 1 {
            return self.at(0, 0).clone();
        }
        let terms = (0..self.columns).map(|column| {
            let minor = self.without(0, column).expanded();
            let term = Expression::product([self.at(0, column).clone(), minor]);
            match column.is_multiple_of(2) {
                true => term,
                false => Expression::negative(term),
            }
        });
        collected(&Expression::sum(terms))
    }

    fn without(&self, row: usize, column: usize) -> Self {
        let entries = (0..self.rows)
            .filter(|r| *r != row)
            .flat_map(|r| {
                (0..self.columns)
                    .filter(|c| *c != column)
                    .map(move |c| (r, c))
            })
            .map(|(r, c)| self.at(r, c).clone())
            .collect();
        Self {
            rows: self.rows - 1,
            columns: self.columns - 1,
            entries,
        }
    }

    /// The inverse by cofactors.
    fn inverse(&self) -> Result<Self, Fault> {
        let determinant = self.determinant()?;
        if normal_form::normal(&determinant).is_ok_and(|d| d.is_zero()) {
            return Err(Fault::Undefined);
        }
        if self.rows == 1 {
            let entry = Expression::fraction(Expression::integer(1), self.at(0, 0).clone());
            return Ok(Self {
                entries: vec![entry],
                ..*self
            });
        }
        if self.rows > 5 {
            return Err(Fault::Unknown);
        }
        let mut entries = Vec::with_capacity(self.entries.len());
        for row in 0..self.rows {
            for column in 0..self.columns {
                let minor = self.without(column, row).determinant()?;
                let signed = match (row + column).is_multiple_of(2) {
                    true => minor,
                    false => Expression::negative(minor),
                };
                entries.push(collected(&Expression::fraction(
                    signed,
                    determinant.clone(),
                )));
            }
        }
        Ok(Self { entries, ..*self })
    }

    /// Its entries one after the other, if it is a single row or column.
    fn as_vector(&self) -> Option<&[Expression]> {
        (self.rows == 1 || self.columns == 1).then_some(&self.entries)
    }

    fn dot(&self, other: &Self) -> Result<Expression, Fault> {
        let (a, b) = self.pair(other)?;
        let products = a
            .iter()
            .zip(b)
            .map(|(a, b)| Expression::product([a.clone(), b.clone()]));
        Ok(collected(&Expression::sum(products)))
    }

    /// Two vectors of one length; one in the plane is also one in space.
    fn pair<'a>(&'a self, other: &'a Self) -> Result<(&'a [Expression], &'a [Expression]), Fault> {
        let (a, b) = (
            self.as_vector().ok_or(Fault::Unknown)?,
            other.as_vector().ok_or(Fault::Unknown)?,
        );
        match a.len() == b.len() {
            true => Ok((a, b)),
            false => Err(Fault::Undefined),
        }
    }

    fn cross(&self, other: &Self) -> Result<Self, Fault> {
        let (a, b) = self.pair(other)?;
        if a.len() != 3 {
            return Err(Fault::Undefined);
        }
        let entry = |i: usize, j: usize| {
            collected(&Expression::difference(
                Expression::product([a[i].clone(), b[j].clone()]),
                Expression::product([a[j].clone(), b[i].clone()]),
            ))
        };
        Ok(Self {
            rows: 3,
            columns: 1,
            entries: vec![entry(1, 2), entry(2, 0), entry(0, 1)],
        })
    }

    fn length(&self) -> Result<Expression, Fault> {
        Ok(Expression::root(self.dot(self)?))
    }

    fn projected_onto(&self, other: &Self) -> Result<Self, Fault> {
        let factor = Expression::fraction(self.dot(other)?, other.dot(other)?);
        match scale(&factor, Value::Grid(other.clone()))? {
            Value::Grid(grid) => Ok(grid),
            Value::Number(_) => Err(Fault::Unknown),
        }
    }

    /// With rational numbers for entries.
    fn exact(&self) -> Option<Rows> {
        let none = Default::default();
        let rows: Option<Vec<Vec<Rational>>> = self
            .entries
            .chunks(self.columns)
            .map(|row| {
                row.iter()
                    .map(|entry| crate::evaluate::exact(entry, &none).map(Rational::from))
                    .collect()
            })
            .collect();
        Rows::new(rows?)
    }
}

/// The verdict for a problem about matrices and vectors.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    if let Some(main) = &question.problem.main
        && main
            .as_relation()
            .is_some_and(|(left, _, _)| left.as_symbol().is_none())
        && main
            .parts()
            .any(|part| matches!(part.operator(), Operator::Matrix(_)))
        && main
            .parts()
            .any(|part| matches!(part.operator(), Operator::Function(Function::Determinant)))
    {
        // An equation for a letter in a determinant.
        let written_out = without_determinants(main);
        if !written_out
            .parts()
            .any(|part| matches!(part.operator(), Operator::Matrix(_)))
        {
            return equations::judge_formula(question, &written_out, answer);
        }
    }
    let task = Task::new(question);
    let asks = |phrases: &[&str]| question.says(phrases);
    let unknown = || Verdict::cannot_tell("what is asked is not understood");
    let claim = || answer.formulas.first().map(right_side);
    let first = task.grids.first();
    let found = match () {
        () if asks(&[
            "for which",
            "for what",
            "value of",
            "values of",
            "such that",
            "find all",
        ]) && !asks(&["eigen"])
            && task
                .grids
                .iter()
                .any(|g| g.entries.iter().any(|e| !e.free_symbols().is_empty())) =>
        {
            match parameter(&task, question, answer) {
                Some(verdict) => Some(verdict),
                None => Some(unknown()),
            }
        }
        () if asks(&["eigenvector", "eigenspace"]) => {
            first.and_then(|g| match given_eigenvalue(question) {
                Some(value) => eigenspace(g, &value, answer),
                None => eigenvectors(g, question, answer),
            })
        }
        () if asks(&["eigenvalue", "characteristic"]) => {
            first.and_then(|g| eigenvalues(g, question, answer))
        }
        () if asks(&["diagonaliz", "diagonalis"]) => first.and_then(|g| diagonalised(g, answer)),
        () if asks(&["factorization", "decomposition", "factorisation"]) => Some(unknown()),
        () if asks(&["independent", "linearly dependent", "independence"]) => {
            independent(&task, answer)
        }
        () if asks(&["row reduc", "reduced row", "echelon", "rref", "row-reduc"]) => {
            first.and_then(|g| row_reduced(g, question, answer))
        }
        () if asks(&["null space", "nullspace", "kernel"]) && !asks(&["dimension", "nullity"]) => {
            first.and_then(|g| null_space(g, answer))
        }
        () if asks(&["is in the span", "in the span of"]) => in_span(&task, answer),
        () if asks(&["column space"]) && !asks(&["dimension"]) => {
            first.and_then(|g| basis(&g.transposed(), answer))
        }
        () if asks(&["row space"]) && !asks(&["dimension"]) => first.and_then(|g| basis(g, answer)),
        () if asks(&["basis", "span"]) => None,
        () if asks(&["parallelepiped"]) && task.grids.len() == 3 => {
            let volume = || {
                let cross = task.grids[1].cross(&task.grids[2]).ok()?;
                let product = task.grids[0].dot(&cross).ok()?;
                Some(Expression::function(Function::Abs, product))
            };
            volume().map(|volume| one_number(question, answer, &volume))
        }
        () if asks(&["least-squares", "least squares"]) => least_squares(&task, answer),
        () if asks(&["adjoint", "adjugate", "cofactor", "minor"]) => None,
        () if asks(&["parallelogram", "area of the triangle"]) && task.grids.len() == 2 => {
            let pad = |g: &Grid| {
                let mut entries = g.entries.clone();
                entries.resize(3, Expression::integer(0));
                Grid {
                    rows: 3,
                    columns: 1,
                    entries,
                }
            };
            let product = pad(&task.grids[0]).cross(&pad(&task.grids[1])).ok();
            product
                .and_then(|product| product.length().ok())
                .map(|area| {
                    let area = match asks(&["triangle"]) {
                        true => Expression::fraction(area, Expression::integer(2)),
                        false => area,
                    };
                    one_number(question, answer, &area)
                })
        }
        () if asks(&["solve", "solution"])
            && task.asked.iter().any(|e| e.as_equation().is_some()) =>
        {
            solved(&task, answer).or_else(|| general_solution(&task, answer))
        }
        () if asks(&["solve"]) => solved(&task, answer),
        () if asks(&["nullity", "dimension of the null"]) => first.and_then(|g| {
            let nullity = g.columns.checked_sub(g.exact()?.rank())?;
            Some(one_number(
                question,
                answer,
                &Expression::integer(nullity as i64),
            ))
        }),
        () if asks(&["rank"]) => first.and_then(|g| {
            let rank = g.exact()?.rank();
            Some(one_number(
                question,
                answer,
                &Expression::integer(rank as i64),
            ))
        }),
        () if asks(&["determinant"]) => first
            .and_then(|g| g.determinant().ok())
            .or_else(|| match task.asked.first().map(|e| task.value(e)) {
                Some(Ok(Value::Number(number))) => Some(number),
                _ => None,
            })
            .map(|exact| one_number(question, answer, &exact)),
        () if asks(&["inverse", "invertible"]) => first.map(|g| inverse(g, question, answer)),
        () if asks(&["transpose"]) && task.asked.len() <= 1 => first.and_then(|g| {
            Some(compare(
                question,
                &Value::Grid(g.transposed()),
                claim()?,
                &task,
            ))
        }),
        () if asks(&["trace"]) => first
            .and_then(|g| g.trace().ok())
            .map(|exact| one_number(question, answer, &exact)),
        () if asks(&["angle between"]) => angle(&task, question, answer),
        () if asks(&["dot product", "inner product", "scalar product"])
            && task.grids.len() == 2 =>
        {
            let exact = task.grids[0].dot(&task.grids[1]).ok();
            exact.map(|exact| one_number(question, answer, &exact))
        }
        () if asks(&["cross product", "vector product"]) && task.grids.len() == 2 => {
            let exact = task.grids[0].cross(&task.grids[1]).ok();
            exact.and_then(|exact| Some(compare(question, &Value::Grid(exact), claim()?, &task)))
        }
        () if asks(&["projection", "component of"]) && task.grids.len() == 2 => {
            projection(&task, question, answer)
        }
        () if asks(&["unit vector"]) => first.and_then(|g| {
            let length = g.length().ok()?;
            let by = Expression::fraction(Expression::integer(1), length);
            Some(compare(
                question,
                &scale(&by, Value::Grid(g.clone())).ok()?,
                claim()?,
                &task,
            ))
        }),
        () if asks(&["magnitude", "length", "norm"])
            && task.grids.len() == 1
            && task.asked.len() <= 1 =>
        {
            first
                .and_then(|g| g.length().ok())
                .map(|exact| one_number(question, answer, &exact))
        }
        () if asks(&["parallel"])
            && asks(&["orthogonal", "perpendicular"])
            && task.grids.len() == 2 =>
        {
            direction(&task.grids[0], &task.grids[1], answer)
        }
        () if asks(&["orthogonal", "perpendicular"]) && task.grids.len() == 2 => {
            let product = task.grids[0].dot(&task.grids[1]).ok();
            product.and_then(|product| {
                let is_zero = normal_form::normal(&product).ok()?.is_zero();
                yes_or_no(
                    answer,
                    is_zero,
                    &format!("the dot product is {}", equations::shown(&product)),
                )
            })
        }
        () => None,
    };
    if let Some(verdict) = found {
        return verdict;
    }
    if asks(&[
        "adjoint",
        "adjugate",
        "cofactor",
        "minor",
        "least squares",
        "least-squares",
        "eigen",
        "diagonal",
        "basis",
        "span",
        "independent",
        "echelon",
        "null",
        "column space",
        "row space",
        "orthonormal",
        "gram",
    ]) {
        return unknown();
    }
    computed(&task, question, answer).unwrap_or_else(unknown)
}

/// "Orthogonal", "parallel" or "neither", for two vectors.
fn direction(a: &Grid, b: &Grid, answer: &Answer) -> Option<Verdict> {
    let is_zero = |e: &Expression| Some(normal_form::normal(e).ok()?.is_zero());
    let (x, y) = (a.as_vector()?, b.as_vector()?);
    if x.len() != y.len() {
        return None;
    }
    let product = a.dot(b).ok()?;
    let is_orthogonal = is_zero(&product)?;
    let mut is_parallel = true;
    for i in 0..x.len() {
        for j in 0..i {
            let cross = Expression::difference(
                Expression::product([x[i].clone(), y[j].clone()]),
                Expression::product([x[j].clone(), y[i].clone()]),
            );
            is_parallel &= is_zero(&cross)?;
        }
    }
    let claimed = match () {
        () if answer.says(&["neither"]) => (false, false),
        () if answer.says(&["orthogonal", "perpendicular"]) => (true, false),
        () if answer.says(&["parallel"]) => (false, true),
        () => return None,
    };
    Some(match claimed == (is_orthogonal, is_parallel) {
        true => Verdict::Holds,
        false => Verdict::fails_at(
            "they lie otherwise",
            format!("the dot product is {}", equations::shown(&product)),
        ),
    })
}

/// `λ = 5` in the statement.
fn given_eigenvalue(question: &Question) -> Option<Expression> {
    let mut values = question.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let is_lambda = left.as_symbol().is_some_and(|s| s.name() == "λ");
        (is_lambda && right.free_symbols().is_empty()).then(|| right.clone())
    });
    match (values.next(), values.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    }
}

/// Vectors that belong to one eigenvalue: they are the null space of A - λ I.
fn eigenspace(grid: &Grid, value: &Expression, answer: &Answer) -> Option<Verdict> {
    let mut shifted = grid.clone();
    for row in 0..grid.rows {
        let entry = &mut shifted.entries[row * grid.columns + row];
        *entry = collected(&Expression::difference(entry.clone(), value.clone()));
    }
    if grid.rows != grid.columns {
        return None;
    }
    // The value may be repeated in front of its vectors.
    let mut vectors = answer.clone();
    vectors
        .formulas
        .retain(|formula| formula != value && right_side(formula) != value);
    vectors.labels.clear();
    null_space(&shifted, &vectors)
}

/// The solution of AᵀA x = Aᵀ b.
fn least_squares(task: &Task, answer: &Answer) -> Option<Verdict> {
    let [claim] = answer.formulas.as_slice() else {
        return None;
    };
    let Ok(Value::Grid(claimed)) = task.value(right_side(claim)) else {
        return None;
    };
    let matrix = task.grids.iter().find(|g| g.columns > 1)?;
    let right = task
        .grids
        .iter()
        .find(|g| g.columns == 1 && g.rows == matrix.rows)?;
    let column = Grid {
        rows: claimed.entries.len(),
        columns: 1,
        entries: claimed.entries,
    };
    let across = matrix.transposed();
    let image = across.times(&matrix.times(&column).ok()?).ok()?;
    let wanted = across.times(right).ok()?;
    for (found, wanted) in image.entries.iter().zip(&wanted.entries) {
        match equivalence::compare(found, wanted) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at(
                    "it does not solve the normal equations",
                    witness,
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    Some(Verdict::Holds)
}

/// The projection of one vector onto another: the vector, the number, or both.
fn projection(task: &Task, question: &Question, answer: &Answer) -> Option<Verdict> {
    let [first, second] = task.grids.as_slice() else {
        return None;
    };
    let named = |name: &str| {
        let mut known = task.named.iter();
        known.find_map(|(symbol, value)| match value {
            Value::Grid(grid) if symbol.name() == name => Some(grid),
            _ => None,
        })
    };
    // "of `$b$` onto `$a$`", as formulas or as words.
    let letters: Vec<&Symbol> = question
        .formulas
        .iter()
        .filter_map(Expression::as_symbol)
        .collect();
    let word_after = |lead: &str| {
        let (_, rest) = question.words.rsplit_once(lead)?;
        let word = rest.split_whitespace().next()?;
        Some(word.trim_matches(|c: char| !c.is_alphanumeric()))
    };
    let (of, onto) = match letters.as_slice() {
        [of, onto] => (named(of.name())?, named(onto.name())?),
        [] => {
            let lead = match question.says(&[" onto "]) {
                true => " onto ",
                false => " on ",
            };
            let words = word_after(" of ").zip(word_after(lead));
            match words.and_then(|(of, onto)| Some((named(of)?, named(onto)?))) {
                Some(pair) => pair,
                None if task.named.is_empty() => (first, second),
                None => return None,
            }
        }
        _ => return None,
    };
    let vector = Value::Grid(of.projected_onto(onto).ok()?);
    let number = Expression::fraction(of.dot(onto).ok()?, onto.length().ok()?);
    let number = Value::Number(number);
    let (scalar, both) = (
        question.says(&["scalar", "component"]),
        question.says(&["scalar and vector", "vector and scalar"]),
    );
    let exact: Vec<&Value> = match (both, scalar, answer.formulas.len()) {
        (true, _, 2) => {
            let is_number =
                |claim: &Expression| matches!(task.value(right_side(claim)), Ok(Value::Number(_)));
            match is_number(&answer.formulas[0]) {
                true => vec![&number, &vector],
                false => vec![&vector, &number],
            }
        }
        (false, true, 1) => vec![&number],
        (false, false, 1) => vec![&vector],
        _ => return None,
    };
    let mut all = Verdict::Holds;
    for (exact, claim) in exact.into_iter().zip(&answer.formulas) {
        match compare(question, exact, right_side(claim), task) {
            Verdict::Holds => {}
            fails @ Verdict::Fails { .. } => return Some(fails),
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// The general solution of A x = b, with letters for what is free: it must be a solution whatever
/// the letters are, and have as many of them as the null space has dimensions.
fn general_solution(task: &Task, answer: &Answer) -> Option<Verdict> {
    let [claim] = answer.formulas.as_slice() else {
        return None;
    };
    let [matrix] = task
        .named
        .iter()
        .filter_map(|(name, value)| match value {
            Value::Grid(grid) if grid.columns > 1 || grid.rows == 1 => Some((name, grid)),
            _ => None,
        })
        .collect::<Vec<_>>()[..]
    else {
        return None;
    };
    let (_, matrix) = matrix;
    let Ok(Value::Grid(claimed)) = task.value(right_side(claim)) else {
        return None;
    };
    if claimed.as_vector()?.len() != matrix.columns {
        return Some(Verdict::fails_at(
            "it has another size",
            format!("there should be {} entries", matrix.columns),
        ));
    }
    let right = match task.asked.iter().find_map(Expression::as_equation) {
        Some((_, right)) if right.as_i64() == Some(0) => None,
        Some((_, right)) if is_zero_symbol(right) => None,
        Some((_, right)) => match task.value(right).ok()? {
            Value::Grid(grid) => Some(grid),
            Value::Number(_) => return None,
        },
        None => return None,
    };
    let column = Grid {
        rows: matrix.columns,
        columns: 1,
        entries: claimed.entries,
    };
    let image = matrix.times(&column).ok()?;
    for (row, found) in image.entries.iter().enumerate() {
        let wanted = match &right {
            Some(right) => right.entries.get(row)?.clone(),
            None => Expression::integer(0),
        };
        match equivalence::compare(found, &wanted) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at(
                    "the matrix takes it to another vector",
                    witness,
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    let letters: Vec<Symbol> = {
        let mut found = std::collections::BTreeSet::new();
        for entry in &column.entries {
            found.extend(entry.free_symbols());
        }
        found.into_iter().collect()
    };
    let free = matrix.columns.checked_sub(matrix.exact()?.rank())?;
    // The directions that belong to the letters, as rows.
    let mut directions = Vec::new();
    for letter in &letters {
        for entry in &column.entries {
            directions.push(crate::derivative::derivative(entry, letter)?);
        }
    }
    let rank = match letters.is_empty() {
        true => 0,
        false => {
            let grid = Grid {
                rows: letters.len(),
                columns: matrix.columns,
                entries: directions,
            };
            grid.exact()?.rank()
        }
    };
    Some(match rank == free {
        true => Verdict::Holds,
        false => Verdict::fails_at(
            "it is not all solutions",
            format!("{free} numbers may be chosen freely, the answer has {rank}"),
        ),
    })
}

/// A bold zero, which is read as a letter or a number.
fn is_zero_symbol(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Symbol(symbol), _) => symbol.name() == "0",
        (_, [only]) => only.as_i64() == Some(0),
        _ => false,
    }
}

/// A x = b with named A and b: the vector of the answer is put in.
fn solved(task: &Task, answer: &Answer) -> Option<Verdict> {
    let [claim] = answer.formulas.as_slice() else {
        return None;
    };
    let value = right_side(claim);
    let Ok(Value::Grid(claimed)) = task.value(value) else {
        return None;
    };
    let matrix = task.grids.iter().find(|g| g.columns > 1)?;
    let right = task
        .grids
        .iter()
        .find(|g| g.columns == 1 && g.rows == matrix.rows)?;
    let column = Grid {
        rows: claimed.entries.len(),
        columns: 1,
        entries: claimed.entries.clone(),
    };
    if column.entries.iter().any(|e| !e.free_symbols().is_empty()) {
        return None;
    }
    let image = matrix.times(&column).ok()?;
    for (found, wanted) in image.entries.iter().zip(&right.entries) {
        match equivalence::compare(found, wanted) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at(
                    "the matrix takes it to another vector",
                    witness,
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    match matrix.exact()?.rank() == matrix.columns {
        true => Some(Verdict::Holds),
        false => Some(Verdict::fails_at(
            "there are more solutions",
            "the rank is less than the number of letters",
        )),
    }
}

/// The vectors of an answer.
fn claimed_vectors(answer: &Answer) -> Option<Vec<Grid>> {
    let task = Task {
        named: Vec::new(),
        grids: Vec::new(),
        asked: Vec::new(),
    };
    let mut vectors = Vec::new();
    for formula in &answer.formulas {
        let value = right_side(formula);
        let members = match value.operator() {
            Operator::Set | Operator::List => value.operands().to_vec(),
            _ => vec![value.clone()],
        };
        for member in members {
            match task.value(&member).ok()? {
                Value::Grid(vector) if vector.as_vector().is_some() => vectors.push(vector),
                _ => return None,
            }
        }
    }
    (!vectors.is_empty()).then_some(vectors)
}

/// Whether the vectors of the answer are a basis of what the rows span.
fn basis(rows: &Grid, answer: &Answer) -> Option<Verdict> {
    let vectors = claimed_vectors(answer)?;
    let exact = rows.exact()?;
    let wanted = exact.rank();
    if vectors.iter().any(|v| v.entries.len() != rows.columns) {
        return Some(Verdict::fails_at(
            "a vector has another size",
            format!("there should be {} entries", rows.columns),
        ));
    }
    let mut entries = rows.entries.clone();
    for vector in &vectors {
        entries.extend(vector.entries.iter().cloned());
    }
    let both = Grid {
        rows: rows.rows + vectors.len(),
        columns: rows.columns,
        entries,
    };
    if both.exact()?.rank() > wanted {
        return Some(Verdict::fails_at(
            "a vector is not in the space",
            format!("the dimension is {wanted}, and larger with the vectors of the answer"),
        ));
    }
    let rank = beside(&vectors)?.exact()?.rank();
    Some(match (rank == vectors.len(), rank == wanted) {
        (false, _) => {
            Verdict::fails_at("the vectors are dependent", format!("their rank is {rank}"))
        }
        (true, false) => Verdict::fails_at(
            "it is not all of the space",
            format!("its dimension is {wanted}"),
        ),
        (true, true) => Verdict::Holds,
    })
}

/// Whether a vector, the first or the last of the text, is a combination of the others.
fn in_span(task: &Task, answer: &Answer) -> Option<Verdict> {
    let (_, without_last) = task.grids.split_last()?;
    let (_, without_first) = task.grids.split_first()?;
    if without_last.len() < 2 {
        return None;
    }
    let all = beside(&task.grids)?.exact()?.rank();
    let rank = beside(without_last)?.exact()?.rank();
    if beside(without_first)?.exact()?.rank() != rank {
        // Which vector is asked about makes a difference.
        return None;
    }
    let is_in = all == rank;
    yes_or_no(answer, is_in, &format!("the rank without it is {rank}"))
}

/// `A = P D P^{-1}`: two matrices, the diagonal one holding the eigenvalues.
fn diagonalised(grid: &Grid, answer: &Answer) -> Option<Verdict> {
    let task = Task {
        named: Vec::new(),
        grids: Vec::new(),
        asked: Vec::new(),
    };
    let is_diagonal = |g: &Grid| {
        (0..g.entries.len()).all(|place| {
            place / g.columns == place % g.columns
                || normal_form::normal(&g.entries[place]).is_ok_and(|entry| entry.is_zero())
        })
    };
    let mut named: Vec<(Option<String>, Grid)> = Vec::new();
    for formula in &answer.formulas {
        let name = formula
            .as_equation()
            .and_then(|(left, _)| left.as_symbol())
            .map(|letter| letter.name().to_uppercase());
        if let Ok(Value::Grid(found)) = task.value(right_side(formula))
            && (found.rows, found.columns) == (grid.rows, grid.columns)
        {
            named.push((name, found));
        }
    }
    let [first, second] = named.as_slice() else {
        return None;
    };
    let (diagonal, base) = match (first, second) {
        (d, p) if d.0.as_deref() == Some("D") => (d, p),
        (p, d) if d.0.as_deref() == Some("D") || !is_diagonal(&p.1) => (d, p),
        (d, p) => (d, p),
    };
    let (diagonal, base) = (&diagonal.1, &base.1);
    if !is_diagonal(diagonal) {
        return Some(Verdict::fails_at(
            "it is no diagonal matrix",
            "an entry beside the diagonal is not 0",
        ));
    }
    let determinant = base.determinant().ok()?;
    if normal_form::normal(&determinant).is_ok_and(|d| d.is_zero()) {
        return Some(Verdict::fails_at(
            "the matrix has no inverse",
            "its determinant is 0",
        ));
    }
    let (left, right) = (grid.times(base).ok()?, base.times(diagonal).ok()?);
    for (place, (x, y)) in left.entries.iter().zip(&right.entries).enumerate() {
        match equivalence::compare(x, y) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at(
                    "the eigenvectors and eigenvalues do not belong together",
                    format!(
                        "in row {}, column {} of A P and P D {witness}",
                        place / grid.columns + 1,
                        place % grid.columns + 1
                    ),
                ));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    Some(Verdict::Holds)
}

/// "For which k is it singular?": where the determinant is 0, or is not.
fn parameter(task: &Task, question: &Question, answer: &Answer) -> Option<Verdict> {
    let square = match task.grids.as_slice() {
        [only] if only.rows == only.columns && only.rows > 1 => only.clone(),
        several => beside(several).filter(|g| g.rows == g.columns)?,
    };
    let letters: std::collections::BTreeSet<Symbol> = square
        .entries
        .iter()
        .flat_map(Expression::free_symbols)
        .collect();
    if letters.len() != 1 {
        return None;
    }
    let zero = Expression::equation(square.determinant().ok()?, Expression::integer(0));
    let vanishes = question.says(&[
        "singular",
        "linearly dependent",
        "are dependent",
        "not invertible",
        "no inverse",
        "not have an inverse",
        "determinant is zero",
        "determinant zero",
        "determinant equal to zero",
        "determinant is 0",
    ]) && !question.says(&["nonsingular", "non-singular"])
        || question
            .problem
            .main
            .iter()
            .chain(&question.problem.conditions)
            .any(|formula| {
                formula.as_equation().is_some_and(|(left, right)| {
                    matches!(left.operator(), Operator::Function(Function::Determinant))
                        && right.as_i64() == Some(0)
                })
            });
    let stays = question.says(&[
        "invertible",
        "nonsingular",
        "non-singular",
        "have an inverse",
        "has an inverse",
        "linearly independent",
        "are independent",
    ]) && !question.says(&["not invertible", "not have an inverse"]);
    let claims_except = answer.says(&["except", "other than"])
        || answer.formulas.iter().any(|formula| {
            matches!(
                formula.as_relation(),
                Some((_, Relation::NotEqual | Relation::NotIn, _))
            )
        });
    match (vanishes, stays) {
        (true, false) => Some(equations::judge_formula(question, &zero, answer)),
        (false, true) if claims_except => {
            let values = answer
                .formulas
                .iter()
                .filter(|formula| formula.as_symbol().is_none())
                .map(|formula| match formula.as_relation() {
                    Some((_, Relation::NotEqual, right)) => right.clone(),
                    _ => formula.clone(),
                })
                .collect();
            let values = Answer {
                formulas: values,
                ..Answer::default()
            };
            Some(equations::judge_formula(question, &zero, &values))
        }
        _ => None,
    }
}

/// The entries of a vector in which a letter stands for the vector of the named components.
pub(super) fn entries_with(
    expression: &Expression,
    unknown: &Symbol,
    names: &[&str],
) -> Option<Vec<Expression>> {
    let components = Grid {
        rows: names.len(),
        columns: 1,
        entries: names.iter().map(|name| Expression::symbol(name)).collect(),
    };
    let called = without_argument(expression, unknown);
    match value(&called, &[(unknown.clone(), Value::Grid(components))], 0).ok()? {
        Value::Grid(grid) => grid.as_vector().map(<[Expression]>::to_vec),
        Value::Number(_) => None,
    }
}

/// `x(t)` as `x`.
fn without_argument(expression: &Expression, letter: &Symbol) -> Expression {
    match (expression.operator(), expression.operands()) {
        (Operator::Apply, [function, at])
            if function.as_symbol() == Some(letter) && at.as_symbol().is_some() =>
        {
            function.clone()
        }
        _ => expression.map_operands(|operand| without_argument(operand, letter)),
    }
}

/// The entries of a vector, in whatever way it is written; along i, j, k there are three.
pub(super) fn entries(expression: &Expression) -> Option<Vec<Expression>> {
    match value(expression, &[], 0).ok()? {
        Value::Grid(grid) => grid.as_vector().map(<[Expression]>::to_vec),
        Value::Number(_) => None,
    }
}

/// The same formula with every determinant of a matrix written out.
fn without_determinants(expression: &Expression) -> Expression {
    let changed = expression.map_operands(without_determinants);
    match (changed.operator(), changed.operands()) {
        (Operator::Function(Function::Determinant), [matrix]) => {
            match value(matrix, &[], 0).map(|value| match value {
                Value::Grid(grid) => grid.determinant(),
                Value::Number(number) => Ok(number),
            }) {
                Ok(Ok(determinant)) => determinant,
                _ => changed,
            }
        }
        _ => changed,
    }
}

/// Whatever formula is asked about is computed and compared.
fn computed(task: &Task, question: &Question, answer: &Answer) -> Option<Verdict> {
    let asked: Vec<&Expression> = task.asked.iter().collect();
    if let [only] = asked.as_slice()
        && let Some(Outcome::Undefined | Outcome::Nothing) = answer.outcome()
    {
        return Some(match task.value(only) {
            Err(Fault::Undefined) => Verdict::Holds,
            Ok(_) => Verdict::fails_at("it has a value", "the sizes fit"),
            Err(Fault::Unknown) => return None,
        });
    }
    // The formulas may be named in the answer: `AB = …`.
    let pairs: Vec<(Expression, &Expression)> = match asked.len() == answer.formulas.len() {
        true => asked
            .iter()
            .map(|e| (*e).clone())
            .zip(answer.formulas.iter().map(right_side))
            .collect(),
        false => answer
            .formulas
            .iter()
            .filter_map(|formula| {
                let (left, right) = formula.as_equation()?;
                Some((left.clone(), right))
            })
            .collect(),
    };
    if pairs.is_empty() || pairs.len() != answer.formulas.len() {
        return None;
    }
    let mut all = Verdict::Holds;
    for (asked, claimed) in pairs {
        let found = match task.value(&asked) {
            Ok(exact) => compare(question, &exact, claimed, task),
            Err(Fault::Undefined) => Verdict::fails_at(
                "it is undefined",
                "the sizes do not fit, or there is no inverse",
            ),
            Err(Fault::Unknown) => Verdict::cannot_tell("what is asked is not understood"),
        };
        match found {
            Verdict::Holds => {}
            fails @ Verdict::Fails { .. } => return Some(fails),
            doubt => all = doubt,
        }
    }
    Some(all)
}

fn right_side(formula: &Expression) -> &Expression {
    match formula.operator() {
        Operator::Relation(relations)
            if relations
                .iter()
                .all(|r| matches!(r, Relation::Equal | Relation::Approximately)) =>
        {
            // The first form after the name: `x = √2 ≈ 1.41`.
            formula.operands().get(1).unwrap_or(formula)
        }
        _ => formula,
    }
}

/// Compares a value with a claimed one, entry by entry.
fn compare(question: &Question, exact: &Value, claimed: &Expression, task: &Task) -> Verdict {
    let claimed = match task.value(claimed) {
        Ok(value) => value,
        Err(_) => return Verdict::cannot_tell("the answer is not understood"),
    };
    match (exact, &claimed) {
        (Value::Number(a), Value::Number(b)) => super::functions::equal(question, a, b),
        (Value::Grid(a), Value::Grid(b)) => {
            let mut claimed = b.clone();
            // A vector may be written as a row, a column, or in the plane and in space.
            if let (Some(x), Some(y)) = (a.as_vector(), b.as_vector()) {
                let is_flat = y.len() == 3 && x.len() == 2 && y[2].as_i64() == Some(0);
                claimed.entries.truncate(if is_flat { 2 } else { y.len() });
                if x.len() == 3 && y.len() == 2 && x[2].as_i64() == Some(0) {
                    // i and j stand for vectors in the plane, too.
                    claimed.entries.push(Expression::integer(0));
                }
                if x.len() != claimed.entries.len() {
                    return Verdict::fails_at(
                        "it has another size",
                        format!("there should be {} entries", x.len()),
                    );
                }
            } else if (a.rows, a.columns) != (b.rows, b.columns) {
                return Verdict::fails_at(
                    "it has another size",
                    format!("it should have {} rows and {} columns", a.rows, a.columns),
                );
            }
            let mut all = Verdict::Holds;
            for (place, (x, y)) in a.entries.iter().zip(&claimed.entries).enumerate() {
                match super::functions::equal(question, x, y) {
                    Verdict::Holds => {}
                    Verdict::Fails { .. } => {
                        return Verdict::fails_at(
                            "an entry is wrong",
                            format!(
                                "the entry in row {}, column {} is {}, and not {}",
                                place / a.columns + 1,
                                place % a.columns + 1,
                                equations::shown(x),
                                equations::shown(y)
                            ),
                        );
                    }
                    doubt => all = doubt,
                }
            }
            all
        }
        (Value::Number(_), _) => Verdict::fails_at("it is no matrix", "it should be a number"),
        (Value::Grid(_), Value::Number(_)) => {
            Verdict::fails_at("it is no number", "it should be a matrix or a vector")
        }
    }
}

fn one_number(question: &Question, answer: &Answer, exact: &Expression) -> Verdict {
    match answer.formulas.as_slice() {
        [only] => {
            let sides: Vec<&Expression> = match only.operator() {
                Operator::Relation(_) => only.operands()[1..].iter().collect(),
                _ => vec![only],
            };
            for side in sides {
                match super::functions::equal(question, exact, side) {
                    Verdict::Holds => {}
                    other => return other,
                }
            }
            Verdict::Holds
        }
        _ => Verdict::cannot_tell("the answer is not one number"),
    }
}

/// "Yes", "independent" and the like.
fn yes_or_no(answer: &Answer, is_so: bool, told: &str) -> Option<Verdict> {
    let words = &answer.words;
    let word = |wanted: &str| {
        words
            .split(|c: char| !c.is_alphabetic())
            .any(|word| word == wanted)
    };
    let says_no =
        word("no") || word("not") || word("dependent") || word("false") || word("neither");
    let says_yes = word("yes")
        || word("independent")
        || word("orthogonal")
        || word("perpendicular")
        || word("true");
    if !says_no && !says_yes {
        return None;
    }
    let claimed = !says_no;
    Some(match claimed == is_so {
        true => Verdict::Holds,
        false => Verdict::fails_at("it is the other way round", told),
    })
}

/// The vectors as columns beside one another.
fn beside(vectors: &[Grid]) -> Option<Grid> {
    let length = vectors.first()?.as_vector()?.len();
    let columns: Option<Vec<&[Expression]>> = vectors
        .iter()
        .map(|v| v.as_vector().filter(|v| v.len() == length))
        .collect();
    let columns = columns?;
    let entries = (0..length)
        .flat_map(|row| columns.iter().map(move |column| column[row].clone()))
        .collect();
    Some(Grid {
        rows: length,
        columns: columns.len(),
        entries,
    })
}

fn independent(task: &Task, answer: &Answer) -> Option<Verdict> {
    let grid = match task.grids.as_slice() {
        [only] if only.columns > 1 => only.clone(),
        several => beside(several)?,
    };
    let rank = grid.exact()?.rank();
    let told = format!("the rank is {rank}, and there are {} vectors", grid.columns);
    yes_or_no(answer, rank == grid.columns, &told)
}

fn inverse(grid: &Grid, question: &Question, answer: &Answer) -> Verdict {
    let says_none = answer.formulas.is_empty()
        || answer.says(&[
            "not invertible",
            "no inverse",
            "singular",
            "does not exist",
            "not exist",
            "dne",
        ]);
    match (grid.inverse(), says_none) {
        (Err(Fault::Undefined), true) => Verdict::Holds,
        (Err(Fault::Undefined), false) => {
            Verdict::fails_at("there is no inverse", "the determinant is 0")
        }
        (Ok(_), true) => Verdict::fails_at("there is an inverse", "the determinant is not 0"),
        (Ok(inverse), false) => {
            let task = Task {
                named: Vec::new(),
                grids: Vec::new(),
                asked: Vec::new(),
            };
            match answer.formulas.as_slice() {
                [only] => compare(question, &Value::Grid(inverse), right_side(only), &task),
                _ => Verdict::cannot_tell("the answer is not one matrix"),
            }
        }
        (Err(Fault::Unknown), _) => Verdict::cannot_tell("the matrix is too large"),
    }
}

/// det(λ - A) for a letter λ.
fn characteristic(grid: &Grid, letter: &Symbol) -> Option<Expression> {
    if grid.rows != grid.columns {
        return None;
    }
    let letter = Expression::new(Operator::Symbol(letter.clone()), []);
    let mut shifted = grid.clone();
    for (place, entry) in shifted.entries.iter_mut().enumerate() {
        *entry = match place / grid.columns == place % grid.columns {
            true => Expression::difference(letter.clone(), entry.clone()),
            false => Expression::negative(entry.clone()),
        };
    }
    shifted.determinant().ok()
}

fn eigenvalues(grid: &Grid, question: &Question, answer: &Answer) -> Option<Verdict> {
    let lambda = Symbol::new("λ");
    if question.says(&["characteristic polynomial", "characteristic equation"])
        && let [only] = answer.formulas.as_slice()
        && !only.free_symbols().is_empty()
    {
        let claimed = match only.as_equation() {
            Some((left, right)) if right.as_i64() == Some(0) => left.clone(),
            _ => right_side(only).clone(),
        };
        let letter = claimed.free_symbols().into_iter().next()?;
        let exact = characteristic(grid, &letter)?;
        let plainly = super::functions::equal(question, &exact, &claimed);
        return Some(match plainly {
            // det(A - λ) has the other sign for odd sizes.
            Verdict::Fails { .. } => {
                match super::functions::equal(question, &Expression::negative(exact), &claimed) {
                    Verdict::Holds => Verdict::Holds,
                    _ => plainly,
                }
            }
            other => other,
        });
    }
    let polynomial = characteristic(grid, &lambda)?;
    let equation = Expression::equation(polynomial, Expression::integer(0));
    let only_numbers = Answer {
        formulas: answer
            .formulas
            .iter()
            .map(|formula| match formula.as_equation() {
                Some((left, right)) if left.as_symbol().is_some() => right.clone(),
                _ => formula.clone(),
            })
            .collect(),
        words: answer.words.clone(),
        ..Answer::default()
    };
    Some(equations::judge_formula(question, &equation, &only_numbers))
}

fn eigenvectors(grid: &Grid, question: &Question, answer: &Answer) -> Option<Verdict> {
    let task = Task {
        named: Vec::new(),
        grids: Vec::new(),
        asked: Vec::new(),
    };
    let mut numbers: Vec<Expression> = Vec::new();
    let mut vectors: Vec<(Option<Expression>, Grid)> = Vec::new();
    let mut last: Option<Expression> = None;
    for formula in &answer.formulas {
        // `λ = 2: (1, 1)` is read as a ratio.
        let sides = match right_side(formula) {
            side if matches!(side.operator(), Operator::Ratio) => side.operands().to_vec(),
            side => vec![side.clone()],
        };
        for side in sides {
            match (task.value(&side).ok()?, side.operator()) {
                (Value::Number(number), _) => {
                    numbers.push(number.clone());
                    last = Some(number);
                }
                (Value::Grid(vector), _) => vectors.push((last.clone(), vector)),
            }
        }
    }
    if vectors.is_empty() {
        return None;
    }
    // Values and vectors in turn belong together; else the order says nothing.
    let are_paired =
        numbers.len() == vectors.len() && vectors.first().is_some_and(|(of, _)| of.is_some()) && {
            let mut seen: Vec<&Expression> = Vec::new();
            vectors.iter().all(|(of, _)| match of {
                Some(of) if !seen.contains(&of) => {
                    seen.push(of);
                    true
                }
                _ => false,
            })
        };
    for (of, vector) in &vectors {
        let vector = Grid {
            rows: vector.entries.len(),
            columns: 1,
            entries: vector.entries.clone(),
        };
        let is_zero = vector
            .entries
            .iter()
            .all(|e| normal_form::normal(e).is_ok_and(|n| n.is_zero()));
        if is_zero {
            return Some(Verdict::fails_at(
                "it is no eigenvector",
                "the zero vector never is",
            ));
        }
        let image = grid.times(&vector).ok()?;
        let of = of.as_ref().filter(|_| are_paired);
        let told = |why: &str| {
            let entries: Vec<String> = vector.entries.iter().map(equations::shown).collect();
            let images: Vec<String> = image.entries.iter().map(equations::shown).collect();
            Verdict::fails_at(
                why,
                format!(
                    "the matrix takes ({}) to ({})",
                    entries.join(", "),
                    images.join(", ")
                ),
            )
        };
        let place = vector
            .entries
            .iter()
            .position(|e| !normal_form::normal(e).is_ok_and(|n| n.is_zero()))?;
        let ratio =
            Expression::fraction(image.entries[place].clone(), vector.entries[place].clone());
        for (x, y) in vector.entries.iter().zip(&image.entries) {
            let wanted = Expression::product([ratio.clone(), x.clone()]);
            if let Equivalence::Different(_) = equivalence::compare(&wanted, y) {
                return Some(told("it is no eigenvector"));
            }
        }
        if let Some(of) = of
            && let Equivalence::Different(_) = equivalence::compare(of, &ratio)
        {
            return Some(told("it belongs to another eigenvalue"));
        }
    }
    if !numbers.is_empty() {
        let values = Answer {
            formulas: numbers,
            words: String::new(),
            ..Answer::default()
        };
        match eigenvalues(grid, question, &values)? {
            Verdict::Holds => {}
            other => return Some(other),
        }
    }
    // As many independent ones as the eigenspaces have dimensions.
    let exact = grid.exact()?;
    let (roots, rest) = exact.characteristic_polynomial()?.rational_roots();
    if rest.degree() == 0 {
        let mut different = roots;
        different.dedup();
        let wanted: usize = different
            .iter()
            .map(|root| grid.columns - exact.shifted(root).rank())
            .sum();
        let claimed: Vec<Grid> = vectors.iter().map(|(_, v)| v.clone()).collect();
        let rank = beside(&claimed)?
            .exact()
            .map_or(claimed.len(), |rows| rows.rank());
        let wants_all = !question.says(&[
            "an eigenvector",
            "corresponding to",
            "associated with",
            "for the eigenvalue",
        ]);
        if rank < wanted && wants_all {
            return Some(Verdict::fails_at(
                "eigenvectors are missing",
                format!("there are {wanted} independent ones"),
            ));
        }
    }
    Some(Verdict::Holds)
}

fn row_reduced(grid: &Grid, question: &Question, answer: &Answer) -> Option<Verdict> {
    let [only] = answer.formulas.as_slice() else {
        return None;
    };
    let task = Task {
        named: Vec::new(),
        grids: Vec::new(),
        asked: Vec::new(),
    };
    let Ok(Value::Grid(claimed)) = task.value(right_side(only)) else {
        return None;
    };
    if (claimed.rows, claimed.columns) != (grid.rows, grid.columns) {
        return Some(Verdict::fails_at(
            "it has another size",
            "row operations keep the size",
        ));
    }
    let (exact, other) = (grid.exact()?, claimed.exact()?);
    if exact.reduced().0 != other.reduced().0 {
        return Some(Verdict::fails_at(
            "it does not come from the matrix by row operations",
            "the reduced forms differ",
        ));
    }
    let is_reduced = question.says(&["reduced", "rref", "row reduce", "row-reduce"])
        && !question.says(&["row echelon form"])
        || question.says(&["reduced row"]);
    let lead = |row: &[Rational]| row.iter().position(|entry| !entry.is_zero());
    let mut before: Option<usize> = None;
    let mut ended = false;
    for row in other.rows() {
        match (lead(row), before) {
            (None, _) => ended = true,
            (Some(_), _) if ended => {
                return Some(Verdict::fails_at(
                    "it is no echelon form",
                    "a row of zeros stands above another row",
                ));
            }
            (Some(at), Some(last)) if at <= last => {
                return Some(Verdict::fails_at(
                    "it is no echelon form",
                    "a leading entry is not to the right of the one above",
                ));
            }
            (Some(at), _) => before = Some(at),
        }
    }
    if is_reduced && exact.reduced().0 != other {
        return Some(Verdict::fails_at(
            "it is not reduced",
            "leading entries must be 1, with zeros above and below",
        ));
    }
    Some(Verdict::Holds)
}

fn null_space(grid: &Grid, answer: &Answer) -> Option<Verdict> {
    let exact = grid.exact()?;
    let wanted = grid.columns - exact.rank();
    let task = Task {
        named: Vec::new(),
        grids: Vec::new(),
        asked: Vec::new(),
    };
    let mut vectors = Vec::new();
    for formula in &answer.formulas {
        let members = match formula.operator() {
            Operator::Set => formula.operands().to_vec(),
            _ => vec![right_side(formula).clone()],
        };
        for member in members {
            match task.value(&member).ok()? {
                Value::Grid(vector) => vectors.push(vector),
                Value::Number(_) => return None,
            }
        }
    }
    for vector in &vectors {
        if vector.entries.iter().any(|e| !e.free_symbols().is_empty()) {
            return None;
        }
        let column = Grid {
            rows: vector.entries.len(),
            columns: 1,
            entries: vector.entries.clone(),
        };
        let image = grid.times(&column).ok()?;
        for entry in &image.entries {
            let zero = Expression::equation(entry.clone(), Expression::integer(0));
            if let Holds::No(_) = substitution::holds(&zero, Reading::default()) {
                return Some(Verdict::fails_at(
                    "a vector is not in the null space",
                    format!("its image has the entry {}", equations::shown(entry)),
                ));
            }
        }
    }
    let rank = match vectors.is_empty() {
        true => return None,
        false => beside(&vectors)?.exact()?.rank(),
    };
    Some(match rank.cmp(&wanted) {
        std::cmp::Ordering::Equal => Verdict::Holds,
        _ => Verdict::fails_at(
            "it is not all of the null space",
            format!("its dimension is {wanted}"),
        ),
    })
}

fn angle(task: &Task, question: &Question, answer: &Answer) -> Option<Verdict> {
    let [a, b] = task.grids.as_slice() else {
        return None;
    };
    let cosine = Expression::fraction(
        a.dot(b).ok()?,
        Expression::product([a.length().ok()?, b.length().ok()?]),
    );
    let exact = Expression::function(Function::Arccos, cosine);
    let [only] = answer.formulas.as_slice() else {
        return None;
    };
    let claims: Vec<&Expression> = match only.operator() {
        Operator::Relation(_) => {
            let sides = only.operands();
            sides[usize::from(sides[0].as_symbol().is_some())..]
                .iter()
                .collect()
        }
        _ => vec![only],
    };
    for claimed in claims {
        let in_degrees = question.says(&["degree"])
            && !claimed
                .parts()
                .any(|part| matches!(part.operator(), Operator::Degrees));
        let claimed = match in_degrees {
            true => Expression::new(Operator::Degrees, [claimed.clone()]),
            false => claimed.clone(),
        };
        match equivalence::compare_rounded(&exact, &claimed, true) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Some(Verdict::fails_at("it is another angle", witness));
            }
            Equivalence::Unknown(reason) => return Some(Verdict::cannot_tell(reason)),
        }
    }
    Some(Verdict::Holds)
}
