//! What is the answer about matrices and vectors?

use super::{Key, formula, words, write};
use crate::expression::{Brackets, Expression, Function, Operator, Shape};
use crate::linear::Matrix;
use crate::problem::{self, Problem};
use crate::rational::Rational;
use crate::surface;

use super::polynomials;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let asked = |word: &str| problem.instructions.contains(word);
    if main.as_equation().is_some() {
        return super::equations::solve(problem, main);
    }
    if asked("independent") {
        if asked("for which") {
            return dependent_for(problem, main);
        }
        let vectors = vectors(main).ok_or("the vectors are not numeric")?;
        let count = vectors.len();
        let matrix = Matrix::new(vectors).ok_or("the vectors are of different lengths")?;
        return words(match matrix.rank() == count {
            true => "independent",
            false => "dependent",
        });
    }
    if asked("rank") {
        let matrix = matrix(main).ok_or("the matrix is not numeric")?;
        return formula(write::integer(matrix.rank() as i64));
    }
    if asked("eigenvectors") {
        return match problem.conditions.iter().any(|c| c.as_equation().is_some()) {
            true => eigenvector(problem, main),
            false => eigenvectors(main),
        };
    }
    if asked("null space") && !asked("dimension") {
        let matrix = matrix(main).ok_or("the matrix is not numeric")?;
        let basis: Vec<Expression> = kernel(&matrix)
            .iter()
            .map(|vector| {
                // The entry that is free is positive.
                match vector.iter().rfind(|entry| !entry.is_zero()) {
                    Some(last) if last.is_negative() => {
                        tuple(&vector.iter().map(|entry| -entry).collect::<Vec<_>>())
                    }
                    _ => tuple(vector),
                }
            })
            .collect();
        return match basis.is_empty() {
            true => Err("only the zero vector is in it".into()),
            false => formula(write::list(basis)),
        };
    }
    if let Some(keys) = about_vectors(problem, main) {
        return keys;
    }
    if asked("eigenvalues") {
        return eigenvalues(main);
    }
    if asked("diagonalise") {
        let matrix = matrix(main).ok_or("the matrix is not numeric")?;
        return words(match is_diagonalisable(&matrix)? {
            true => "yes",
            false => "no",
        });
    }
    let expression = match main.operator() {
        Operator::Matrix(_) if asked("determinant") => {
            Expression::function(Function::Determinant, main.clone())
        }
        Operator::Matrix(_) if asked("inverse") => {
            Expression::power(main.clone(), write::integer(-1))
        }
        Operator::Matrix(_) if asked("row reduce") => {
            let matrix = matrix(main).ok_or("the matrix is not numeric")?;
            return formula(to_expression(&matrix.reduced().0));
        }
        Operator::Matrix(_) if asked("trace") => {
            Expression::function(Function::Trace, main.clone())
        }
        _ => main.clone(),
    };
    match value(&expression).ok_or("it cannot be calculated exactly")? {
        Value::Number(number) => formula(write::number(&number)),
        Value::Matrix(matrix) => formula(to_expression(&matrix)),
        Value::Vector(vector) => formula(tuple(&vector)),
    }
}

/// For which values of a letter two vectors in the plane are dependent.
fn dependent_for(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let items = main.operands();
    let entries: Vec<Expression> = items.iter().flat_map(|v| v.operands().to_vec()).collect();
    let count = items.len();
    if !(2..=3).contains(&count) || items.iter().any(|v| v.operands().len() != count) {
        return Err("the vectors are not as many as their components".into());
    }
    let shape = Shape {
        columns: count as u32,
        rule: None,
    };
    let matrix = Expression::new(Operator::Matrix(shape), entries);
    let determinant = Expression::function(Function::Determinant, matrix);
    super::equations::solve(
        problem,
        &Expression::equation(determinant, write::integer(0)),
    )
}

/// The expression with every determinant written out.
pub(super) fn expanded(expression: &Expression) -> Expression {
    let inner = expression.map_operands(expanded);
    let (Operator::Function(Function::Determinant), [matrix]) =
        (inner.operator(), inner.operands())
    else {
        return inner;
    };
    let Some((rows, _)) = rows(matrix) else {
        return inner;
    };
    match rows.len() <= 4 && rows.iter().all(|row| row.len() == rows.len()) {
        true => cofactors(&rows.iter().map(|row| row.to_vec()).collect::<Vec<_>>()),
        false => inner,
    }
}

/// The determinant by expansion along the first row.
fn cofactors(rows: &[Vec<Expression>]) -> Expression {
    let [first, below @ ..] = rows else {
        return write::integer(1);
    };
    let terms = first.iter().enumerate().filter_map(|(column, entry)| {
        if entry.as_i64() == Some(0) {
            return None;
        }
        let minor: Vec<Vec<Expression>> = below
            .iter()
            .map(|row| {
                let kept = row.iter().enumerate().filter(|(at, _)| *at != column);
                kept.map(|(_, entry)| entry.clone()).collect()
            })
            .collect();
        let term = Expression::product([entry.clone(), cofactors(&minor)]);
        Some(match column % 2 {
            0 => term,
            _ => Expression::negative(term),
        })
    });
    Expression::sum(terms.collect::<Vec<_>>())
}

enum Value {
    Number(Rational),
    Matrix(Matrix),
    Vector(Vec<Rational>),
}

fn rows(expression: &Expression) -> Option<(Vec<&[Expression]>, Shape)> {
    match expression.operator() {
        Operator::Matrix(shape) if shape.columns > 0 => Some((
            expression
                .operands()
                .chunks(shape.columns as usize)
                .collect(),
            *shape,
        )),
        _ => None,
    }
}

/// A matrix of numbers.
fn matrix(expression: &Expression) -> Option<Matrix> {
    let (rows, _) = rows(expression)?;
    let rows: Option<Vec<Vec<Rational>>> = rows
        .into_iter()
        .map(|row| row.iter().map(number).collect())
        .collect();
    Matrix::new(rows?)
}

fn number(expression: &Expression) -> Option<Rational> {
    surface::number(expression)
        .or_else(|| crate::normal_form::normal(expression).ok()?.as_constant())
}

fn vectors(main: &Expression) -> Option<Vec<Vec<Rational>>> {
    let items = match main.operator() {
        Operator::List | Operator::Set => main.operands(),
        _ => std::slice::from_ref(main),
    };
    items
        .iter()
        .map(|item| match item.operator() {
            Operator::Tuple(_) => item.operands().iter().map(number).collect(),
            Operator::Matrix(_) if problem::is_vector(item) => {
                item.operands().iter().map(number).collect()
            }
            _ => None,
        })
        .collect()
}

pub(super) fn to_expression(matrix: &Matrix) -> Expression {
    let shape = Shape {
        columns: matrix.columns() as u32,
        rule: None,
    };
    let entries = matrix.rows().iter().flatten().map(write::number);
    Expression::new(Operator::Matrix(shape), entries)
}

fn tuple(vector: &[Rational]) -> Expression {
    Expression::new(
        Operator::Tuple(Brackets::Round),
        vector.iter().map(write::number),
    )
}

fn combine(
    left: &Matrix,
    right: &Matrix,
    add: impl Fn(&Rational, &Rational) -> Rational,
) -> Option<Matrix> {
    if left.columns() != right.columns() || left.rows().len() != right.rows().len() {
        return None;
    }
    let rows = left.rows().iter().zip(right.rows());
    Matrix::new(
        rows.map(|(a, b)| a.iter().zip(b).map(|(a, b)| add(a, b)).collect())
            .collect(),
    )
}

fn scale(matrix: &Matrix, by: &Rational) -> Option<Matrix> {
    let rows = matrix.rows().iter();
    Matrix::new(
        rows.map(|row| row.iter().map(|e| e * by).collect())
            .collect(),
    )
}

/// The determinant of a square matrix of numbers.
fn determinant(matrix: &Matrix) -> Option<Rational> {
    let constant = matrix.characteristic_polynomial()?.coefficient(0);
    Some(match matrix.columns() % 2 {
        0 => constant,
        _ => -constant,
    })
}

/// The inverse, if there is one.
pub(super) fn inverse(matrix: &Matrix) -> Option<Matrix> {
    if !matrix.is_square() {
        return None;
    }
    let size = matrix.columns();
    let rows = matrix.rows().iter().enumerate().map(|(at, row)| {
        let unit = (0..size).map(|column| Rational::integer(i64::from(column == at)));
        row.iter().cloned().chain(unit).collect()
    });
    let (reduced, pivots) = Matrix::new(rows.collect())?.reduced();
    if pivots != (0..size).collect::<Vec<_>>() {
        return None;
    }
    Matrix::new(
        reduced
            .rows()
            .iter()
            .map(|row| row[size..].to_vec())
            .collect(),
    )
}

/// The value of a calculation with matrices and vectors of numbers.
fn value(expression: &Expression) -> Option<Value> {
    let operands = expression.operands();
    Some(match (expression.operator(), operands) {
        (Operator::Matrix(_), _) => Value::Matrix(matrix(expression)?),
        (Operator::Tuple(_), _) => {
            Value::Vector(operands.iter().map(number).collect::<Option<_>>()?)
        }
        (Operator::Sum, [first, rest @ ..]) => {
            let mut total = value(first)?;
            for operand in rest {
                total = match (total, value(operand)?) {
                    (Value::Number(a), Value::Number(b)) => Value::Number(a + b),
                    (Value::Matrix(a), Value::Matrix(b)) => {
                        Value::Matrix(combine(&a, &b, |a, b| a + b)?)
                    }
                    (Value::Vector(a), Value::Vector(b)) if a.len() == b.len() => {
                        Value::Vector(a.iter().zip(&b).map(|(a, b)| a + b).collect())
                    }
                    _ => return None,
                };
            }
            total
        }
        (Operator::Negative, [operand]) => {
            times(Value::Number(Rational::integer(-1)), value(operand)?)?
        }
        (Operator::Product, [first, rest @ ..]) => {
            let mut total = value(first)?;
            for operand in rest {
                total = times(total, value(operand)?)?;
            }
            total
        }
        (Operator::Dot, [left, right]) => match (value(left)?, value(right)?) {
            (Value::Vector(a), Value::Vector(b)) if a.len() == b.len() => {
                let products = a.iter().zip(&b).map(|(a, b)| a * b);
                Value::Number(products.fold(Rational::ZERO, |sum, product| sum + product))
            }
            _ => return None,
        },
        (Operator::Cross, [left, right]) => match (value(left)?, value(right)?) {
            (Value::Vector(a), Value::Vector(b)) => match (a.as_slice(), b.as_slice()) {
                ([a, b, c], [d, e, f]) => {
                    Value::Vector(vec![b * f - c * e, c * d - a * f, a * e - b * d])
                }
                _ => return None,
            },
            _ => return None,
        },
        (Operator::Power, [base, exponent]) => {
            // The transpose is written as a power.
            let is_transpose = exponent.as_symbol().is_some_and(|s| s.name() == "T");
            match (value(base)?, exponent.as_i64()) {
                (Value::Matrix(base), _) if is_transpose => Value::Matrix(transpose(&base)?),
                (Value::Matrix(base), Some(-1)) => Value::Matrix(inverse(&base)?),
                (Value::Matrix(base), Some(exponent @ 1..=6)) => {
                    let mut power = base.clone();
                    for _ in 1..exponent {
                        power = power.multiply(&base)?;
                    }
                    Value::Matrix(power)
                }
                (Value::Number(base), Some(exponent)) => Value::Number(base.pow(exponent)?),
                _ => return None,
            }
        }
        (Operator::Function(Function::Determinant), [operand]) => match value(operand)? {
            Value::Matrix(matrix) => Value::Number(determinant(&matrix)?),
            _ => return None,
        },
        (Operator::Function(Function::Transpose), [operand]) => match value(operand)? {
            Value::Matrix(matrix) => Value::Matrix(transpose(&matrix)?),
            _ => return None,
        },
        (Operator::Function(Function::Trace), [operand]) => match value(operand)? {
            Value::Matrix(matrix) if matrix.is_square() => {
                let entries = (0..matrix.columns()).map(|at| matrix.rows()[at][at].clone());
                Value::Number(entries.fold(Rational::ZERO, |sum, entry| sum + entry))
            }
            _ => return None,
        },
        (Operator::Function(Function::Rank), [operand]) => match value(operand)? {
            Value::Matrix(matrix) => Value::Number(Rational::integer(matrix.rank() as i64)),
            _ => return None,
        },
        _ => Value::Number(number(expression)?),
    })
}

fn transpose(matrix: &Matrix) -> Option<Matrix> {
    let columns = 0..matrix.columns();
    Matrix::new(
        columns
            .map(|column| {
                matrix
                    .rows()
                    .iter()
                    .map(|row| row[column].clone())
                    .collect()
            })
            .collect(),
    )
}

fn times(left: Value, right: Value) -> Option<Value> {
    Some(match (left, right) {
        (Value::Number(a), Value::Number(b)) => Value::Number(a * b),
        (Value::Number(by), Value::Matrix(matrix)) | (Value::Matrix(matrix), Value::Number(by)) => {
            Value::Matrix(scale(&matrix, &by)?)
        }
        (Value::Number(by), Value::Vector(vector)) | (Value::Vector(vector), Value::Number(by)) => {
            Value::Vector(vector.iter().map(|e| e * &by).collect())
        }
        (Value::Matrix(a), Value::Matrix(b)) => Value::Matrix(a.multiply(&b)?),
        (Value::Matrix(a), Value::Vector(b)) => {
            let column = Matrix::new(b.into_iter().map(|e| vec![e]).collect())?;
            let product = a.multiply(&column)?;
            Value::Vector(product.rows().iter().map(|row| row[0].clone()).collect())
        }
        _ => return None,
    })
}

fn eigenvalues(main: &Expression) -> Result<Vec<Key>, String> {
    let matrix = matrix(main).ok_or("the matrix is not numeric")?;
    let polynomial = matrix
        .characteristic_polynomial()
        .ok_or("the matrix is not square")?;
    let roots =
        polynomials::roots(&polynomial).ok_or("the eigenvalues cannot be written exactly")?;
    let lambda = Expression::symbol("λ");
    let items = roots
        .iter()
        .map(|root| Expression::equation(lambda.clone(), root.to_expression()));
    formula(write::list(items.collect()))
}

/// Each eigenvalue with its eigenvectors: `\lambda = 2: (1, 1)`.
fn eigenvectors(main: &Expression) -> Result<Vec<Key>, String> {
    let matrix = matrix(main).ok_or("the matrix is not numeric")?;
    let polynomial = matrix
        .characteristic_polynomial()
        .ok_or("the matrix is not square")?;
    let roots =
        polynomials::roots(&polynomial).ok_or("the eigenvalues cannot be written exactly")?;
    let lambda = Expression::symbol("λ");
    let mut items = Vec::new();
    for root in &roots {
        let value = root
            .as_rational()
            .ok_or("some eigenvalues are not rational")?;
        let equation = |with: Expression| Expression::equation(lambda.clone(), with);
        for vector in kernel(&matrix.shifted(value)) {
            let pair = Expression::new(Operator::Ratio, [write::number(value), tuple(&vector)]);
            items.push(equation(pair));
        }
    }
    formula(write::list(items))
}

/// Lengths, angles, projections; none if nothing of this kind is asked.
fn about_vectors(problem: &Problem, main: &Expression) -> Option<Result<Vec<Key>, String>> {
    let asked = |word: &str| problem.instructions.contains(word);
    let wanted = [
        "dot product",
        "cross product",
        "magnitude",
        "unit vector",
        "angle",
        "projection",
    ];
    let wanted = wanted.into_iter().find(|word| asked(word))?;
    let bad = || Err("the vectors are not numeric".to_owned());
    let Some(vectors) = vectors(main) else {
        return Some(bad());
    };
    let dot = |a: &[Rational], b: &[Rational]| {
        let products = a.iter().zip(b).map(|(a, b)| a * b);
        products.fold(Rational::ZERO, |sum, product| sum + product)
    };
    let length = |of: &[Rational]| polynomials::square_root(&dot(of, of));
    let root = |(outside, radicand): &(Rational, i64)| match radicand {
        1 => write::number(outside),
        _ => write::surd(&Rational::ZERO, outside, *radicand),
    };
    Some(match (wanted, vectors.as_slice()) {
        ("dot product", [a, b]) if a.len() == b.len() => formula(write::number(&dot(a, b))),
        ("cross product", [a, b]) => match (a.as_slice(), b.as_slice()) {
            ([a, b, c], [d, e, f]) => {
                formula(tuple(&[b * f - c * e, c * d - a * f, a * e - b * d]))
            }
            _ => bad(),
        },
        ("magnitude", [a]) => match length(a) {
            Some(length) => formula(root(&length)),
            None => bad(),
        },
        ("unit vector", [a]) => match length(a) {
            Some(length) if !length.0.is_zero() => {
                let entries = a.iter().map(|entry| {
                    let whole = Expression::fraction(write::number(entry), root(&length));
                    super::tidy::tidy(&whole)
                });
                formula(Expression::new(
                    Operator::Tuple(Brackets::Round),
                    entries.collect::<Vec<_>>(),
                ))
            }
            _ => bad(),
        },
        ("projection", [a, b]) if a.len() == b.len() => match dot(a, b).checked_div(&dot(b, b)) {
            Some(factor) => formula(tuple(&b.iter().map(|e| e * &factor).collect::<Vec<_>>())),
            None => bad(),
        },
        ("angle", [a, b]) if a.len() == b.len() => {
            let square = &dot(a, a) * &dot(b, b);
            match polynomials::square_root(&square) {
                Some(size) if !square.is_zero() => {
                    let cosine = Expression::fraction(write::number(&dot(a, b)), root(&size));
                    let cosine = write::collected(&cosine);
                    let known = super::trigonometry::angle_of_cosine(&cosine);
                    formula(known.unwrap_or_else(|| {
                        Expression::function(Function::Arccos, super::tidy::tidy(&cosine))
                    }))
                }
                _ => bad(),
            }
        }
        _ => return None,
    })
}

/// An eigenvector for a given eigenvalue.
fn eigenvector(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let matrix = matrix(main).ok_or("the matrix is not numeric")?;
    let given = problem
        .conditions
        .iter()
        .find_map(|condition| number(condition.as_equation()?.1))
        .ok_or("no eigenvalue is given")?;
    let kernel = kernel(&matrix.shifted(&given));
    match kernel.as_slice() {
        [vector] => formula(tuple(vector)),
        [] => Err("what is given is no eigenvalue".into()),
        _ => Err("there is more than one direction".into()),
    }
}

/// A basis of the solutions of A x = 0, in integers without a common divisor.
pub(super) fn kernel(matrix: &Matrix) -> Vec<Vec<Rational>> {
    let (reduced, pivots) = matrix.reduced();
    let count = matrix.columns();
    let free = (0..count).filter(|column| !pivots.contains(column));
    free.map(|column| {
        let mut vector = vec![Rational::ZERO; count];
        vector[column] = Rational::ONE;
        for (row, pivot) in pivots.iter().enumerate() {
            vector[*pivot] = -&reduced.rows()[row][column];
        }
        let unit = vector.iter().fold(Rational::ZERO, |unit, entry| {
            crate::rational::content(&unit, entry)
        });
        let first = vector.iter().find(|entry| !entry.is_zero());
        let unit = match first.is_some_and(Rational::is_negative) {
            true => -unit,
            false => unit,
        };
        vector
            .iter()
            .map(|entry| entry.checked_div(&unit).unwrap_or(Rational::ZERO))
            .collect()
    })
    .collect()
}

fn is_diagonalisable(matrix: &Matrix) -> Result<bool, String> {
    let polynomial = matrix
        .characteristic_polynomial()
        .ok_or("the matrix is not square")?;
    if polynomial.is_square_free() {
        // Different eigenvalues; over the reals all of them must be real.
        return match polynomial.count_real_roots(None, None) == matrix.columns() {
            true => Ok(true),
            false => Err("some eigenvalues are not real".into()),
        };
    }
    let roots =
        polynomials::roots(&polynomial).ok_or("the eigenvalues cannot be written exactly")?;
    for root in &roots {
        let Some(value) = root.as_rational() else {
            return Err("some eigenvalues are not rational".into());
        };
        if kernel(&matrix.shifted(value)).len() < root.multiplicity as usize {
            return Ok(false);
        }
    }
    Ok(true)
}
