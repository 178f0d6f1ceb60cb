//! What do the numbers of a system or a matrix say about the method?

use smallvec::SmallVec;

use super::calculus;
use super::mask::{Mask, Place};
use crate::expression::{Expression, Operator, Symbol};
use crate::linear::Matrix;
use crate::problem;
use crate::rational::Rational;
use crate::stable_hash::Digest;
use crate::surface;
use crate::univariate::Univariate;

const SYSTEM: u64 = 40;
const VECTORS: u64 = 41;
const MATRIX: u64 = 42;

/// The hash of a linear system or of a list of vectors with plain numbers; none for anything else.
pub(super) fn hash(mask: &Mask<'_>, main: &Expression) -> Option<Digest> {
    match main.operator() {
        Operator::System => system(mask, main),
        Operator::List => vectors(main),
        _ => None,
    }
}

/// A linear system: how many rows and letters, how many solutions, and where a letter is missing.
fn system(mask: &Mask<'_>, main: &Expression) -> Option<Digest> {
    let unknowns = &mask.problem.variables;
    let mut rows = Vec::new();
    let mut counts: SmallVec<[Digest; 4]> = SmallVec::new();
    for row in main.operands() {
        let (left, right) = row.as_equation()?;
        let row = linear_row(left, right, unknowns)?;
        let missing = row[..unknowns.len()].iter().filter(|c| c.is_zero()).count();
        counts.push(Digest::tag(missing as u64));
        rows.push(row);
    }
    let is_homogeneous = rows
        .iter()
        .all(|row| row.last().is_some_and(Rational::is_zero));
    let columns = unknowns.len();
    let coefficients = Matrix::new(rows.iter().map(|row| row[..columns].to_vec()).collect())?;
    let augmented = Matrix::new(rows)?;
    Some(
        Digest::tag(SYSTEM)
            .with(main.operands().len() as u64)
            .with(columns as u64)
            .with(coefficients.rank() as u64)
            .with(augmented.rank() as u64)
            .with(is_homogeneous.into())
            .then(Digest::of_bag(&mut counts)),
    )
}

/// The coefficients of an equation that is linear in the letters, and its right side.
fn linear_row(left: &Expression, right: &Expression, unknowns: &[Symbol]) -> Option<Vec<Rational>> {
    let mut row = vec![Rational::ZERO; unknowns.len() + 1];
    let mut terms = surface::terms(left);
    surface::collect_terms(right, true, &mut terms);
    for term in terms {
        let place = match term.factors.as_slice() {
            [] => unknowns.len(),
            [factor] => {
                let crate::surface::Exponent::Number(exponent) = &factor.exponent else {
                    return None;
                };
                let symbol = factor.base.part()?.as_symbol()?;
                exponent.is_one().then_some(())?;
                unknowns.iter().position(|unknown| unknown == symbol)?
            }
            _ => return None,
        };
        row[place] = match place == unknowns.len() {
            true => &row[place] - &term.coefficient,
            false => &row[place] + &term.coefficient,
        };
    }
    Some(row)
}

/// Vectors: how many, of how many components, and how many of them are independent.
fn vectors(main: &Expression) -> Option<Digest> {
    let vectors = main.operands();
    if !vectors.iter().all(problem::is_vector) {
        return None;
    }
    let rows: Option<Vec<Vec<Rational>>> = vectors
        .iter()
        .map(|vector| vector.operands().iter().map(surface::number).collect())
        .collect();
    let matrix = Matrix::new(rows?)?;
    let has_zero = matrix
        .rows()
        .iter()
        .any(|row| row.iter().all(Rational::is_zero));
    Some(
        Digest::tag(VECTORS)
            .with(vectors.len() as u64)
            .with(matrix.columns() as u64)
            .with(matrix.rank() as u64)
            .with(has_zero.into()),
    )
}

/// The hash of a matrix.
pub(super) fn matrix(mask: &Mask<'_>, expression: &Expression, place: Place) -> Digest {
    let Operator::Matrix(shape) = expression.operator() else {
        return mask.in_order(expression, place);
    };
    let columns = (shape.columns as usize).max(1);
    let entries = expression.operands();
    let hash = mask
        .operator(expression.operator())
        .with(MATRIX)
        .with(entries.len() as u64);
    let numbers: Option<Vec<Rational>> = entries.iter().map(surface::number).collect();
    if let Some(matrix) = numbers
        .and_then(|numbers| Matrix::new(numbers.chunks(columns).map(<[_]>::to_vec).collect()))
    {
        return hash.then(of_numbers(mask, &matrix));
    }
    let zero = Rational::ZERO;
    let hash = entries
        .iter()
        .fold(hash, |hash, entry| match surface::number(entry) {
            Some(number) => hash.with((number != zero).into()),
            None => hash.then(mask.hash(entry, Place::PLAIN)),
        });
    match determinant_in_a_letter(mask, entries, columns) {
        Some(determinant) => hash.then(calculus::kinds(&determinant)),
        None => hash,
    }
}

fn of_numbers(mask: &Mask<'_>, matrix: &Matrix) -> Digest {
    let zeros = matrix
        .rows()
        .iter()
        .flatten()
        .filter(|e| e.is_zero())
        .count();
    let asks = |instruction| mask.problem.instructions.contains(instruction);
    let mut hash = Digest::tag(MATRIX)
        .with(matrix.rank() as u64)
        .with((zeros > 0).into())
        .with(matrix.is_upper_triangular().into())
        .with(matrix.is_lower_triangular().into());
    if (asks("eigenvalues") || asks("eigenvectors") || asks("diagonalise"))
        && let Some(characteristic) = matrix.characteristic_polynomial()
    {
        hash = hash.then(calculus::kinds(&characteristic));
        hash = hash.with(matrix.is_symmetric().into());
        let (roots, _) = characteristic.rational_roots();
        let mut different = roots.clone();
        different.dedup();
        for root in different {
            let times = roots.iter().filter(|other| **other == root).count();
            if times > 1 {
                let eigenvectors = matrix.columns() - matrix.shifted(&root).rank();
                hash = hash.with(u64::from(eigenvectors < times));
            }
        }
    }
    hash
}

/// The determinant of a small matrix whose entries are linear in one letter.
fn determinant_in_a_letter(
    mask: &Mask<'_>,
    entries: &[Expression],
    columns: usize,
) -> Option<Univariate> {
    if columns * columns != entries.len() || columns > 3 {
        return None;
    }
    let mut letter: Option<&Symbol> = None;
    let mut polynomials = Vec::with_capacity(entries.len());
    for entry in entries {
        let mut coefficients = vec![Rational::ZERO, Rational::ZERO];
        for term in surface::terms(entry) {
            match term.factors.as_slice() {
                [] => coefficients[0] = &coefficients[0] + &term.coefficient,
                [factor] => {
                    let symbol = factor.base.part()?.as_symbol()?;
                    let crate::surface::Exponent::Number(exponent) = &factor.exponent else {
                        return None;
                    };
                    if !exponent.is_one() || letter.is_some_and(|letter| letter != symbol) {
                        return None;
                    }
                    letter = Some(symbol);
                    coefficients[1] = &coefficients[1] + &term.coefficient;
                }
                _ => return None,
            }
        }
        polynomials.push(Univariate::new(coefficients));
    }
    let _ = mask;
    letter?;
    let p = &polynomials;
    Some(match columns {
        1 => p[0].clone(),
        2 => p[0].multiply(&p[3]).subtract(&p[1].multiply(&p[2])),
        _ => {
            let minor = |a: usize, b: usize, c: usize, d: usize| {
                p[a].multiply(&p[d]).subtract(&p[b].multiply(&p[c]))
            };
            let first = p[0].multiply(&minor(4, 5, 7, 8));
            let second = p[1].multiply(&minor(3, 5, 6, 8));
            let third = p[2].multiply(&minor(3, 4, 6, 7));
            first.subtract(&second).add(&third)
        }
    })
}
