//! What can be said of a matrix of exact numbers?

use crate::rational::Rational;
use crate::univariate::Univariate;

/// The greatest number of rows and of columns.
const MAX_SIDE: usize = 16;

/// A matrix of rational numbers, with at least one row and one column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Matrix {
    rows: Vec<Vec<Rational>>,
}

impl Matrix {
    /// The matrix with these rows, if they are of one length, not empty, and at most 16 by 16.
    pub(crate) fn new(rows: Vec<Vec<Rational>>) -> Option<Self> {
        let columns = rows.first()?.len();
        let fits = rows.len() <= MAX_SIDE
            && (1..=MAX_SIDE).contains(&columns)
            && rows.iter().all(|row| row.len() == columns);
        fits.then_some(Self { rows })
    }

    /// Its rows.
    pub(crate) fn rows(&self) -> &[Vec<Rational>] {
        &self.rows
    }

    /// The number of columns.
    pub(crate) fn columns(&self) -> usize {
        self.rows[0].len()
    }

    /// It has as many rows as columns.
    pub(crate) fn is_square(&self) -> bool {
        self.rows.len() == self.columns()
    }

    /// The reduced row echelon form and the columns of its leading ones.
    pub(crate) fn reduced(&self) -> (Self, Vec<usize>) {
        let mut rows = self.rows.clone();
        let mut pivots = Vec::new();
        for column in 0..self.columns() {
            let top = pivots.len();
            let Some(found) = (top..rows.len()).find(|row| !rows[*row][column].is_zero()) else {
                continue;
            };
            rows.swap(top, found);
            let Some(factor) = rows[top][column].reciprocal() else {
                continue;
            };
            for entry in &mut rows[top] {
                *entry = &*entry * &factor;
            }
            let pivot = rows[top].clone();
            for (place, row) in rows.iter_mut().enumerate() {
                let factor = row[column].clone();
                if place != top && !factor.is_zero() {
                    for (entry, above) in row.iter_mut().zip(&pivot) {
                        *entry = &*entry - &(&factor * above);
                    }
                }
            }
            pivots.push(column);
        }
        (Self { rows }, pivots)
    }

    /// The number of independent rows.
    pub(crate) fn rank(&self) -> usize {
        self.reduced().1.len()
    }

    /// All entries below the diagonal are 0.
    pub(crate) fn is_upper_triangular(&self) -> bool {
        let rows = self.rows.iter().enumerate();
        rows.into_iter()
            .all(|(at, row)| row.iter().take(at).all(Rational::is_zero))
    }

    /// All entries above the diagonal are 0.
    pub(crate) fn is_lower_triangular(&self) -> bool {
        let rows = self.rows.iter().enumerate();
        rows.into_iter()
            .all(|(at, row)| row.iter().skip(at + 1).all(Rational::is_zero))
    }

    /// It equals its transpose.
    pub(crate) fn is_symmetric(&self) -> bool {
        self.is_square()
            && (0..self.columns()).all(|i| (0..i).all(|j| self.rows[i][j] == self.rows[j][i]))
    }

    /// The matrix minus a multiple of the identity.
    pub(crate) fn shifted(&self, by: &Rational) -> Self {
        let mut rows = self.rows.clone();
        for (at, row) in rows.iter_mut().enumerate() {
            if let Some(entry) = row.get_mut(at) {
                *entry = &*entry - by;
            }
        }
        Self { rows }
    }

    /// The product, if the sizes fit.
    pub(crate) fn multiply(&self, other: &Self) -> Option<Self> {
        if self.columns() != other.rows.len() {
            return None;
        }
        let entry = |row: &[Rational], column: usize| {
            let products = row.iter().zip(&other.rows).map(|(a, b)| a * &b[column]);
            products.fold(Rational::ZERO, |sum, product| sum + product)
        };
        let rows = self
            .rows
            .iter()
            .map(|row| {
                (0..other.columns())
                    .map(|column| entry(row, column))
                    .collect()
            })
            .collect();
        Some(Self { rows })
    }

    /// det(λ - A) of a square matrix A. (The method of Faddeev and Le Verrier; Gantmacher, The
    /// Theory of Matrices, volume 1, chapter 4, section 5.)
    pub(crate) fn characteristic_polynomial(&self) -> Option<Univariate> {
        if !self.is_square() {
            return None;
        }
        let size = self.columns();
        let mut coefficients = vec![Rational::ONE];
        let mut power = Self {
            rows: vec![vec![Rational::ZERO; size]; size],
        };
        for step in 1..=size {
            let last = -coefficients.last()?;
            power = self.multiply(&power.shifted(&last))?;
            let trace = (0..size).fold(Rational::ZERO, |sum, i| sum + &power.rows[i][i]);
            coefficients.push(-(&trace / &Rational::integer(step as i64)));
        }
        coefficients.reverse();
        Some(Univariate::new(coefficients))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn matrix(rows: &[&[i64]]) -> Matrix {
        let rows = rows
            .iter()
            .map(|row| row.iter().map(|e| (*e).into()).collect());
        Matrix::new(rows.collect()).expect("rows of one length")
    }

    fn square(side: usize) -> impl Strategy<Value = Matrix> {
        prop::collection::vec(-5..6_i64, side * side).prop_map(move |entries| {
            let rows: Vec<&[i64]> = entries.chunks(side).collect();
            matrix(&rows)
        })
    }

    proptest! {
        #[test]
        fn a_matrix_is_a_root_of_its_characteristic_polynomial(a in square(3)) {
            // The theorem of Cayley and Hamilton.
            let polynomial = a.characteristic_polynomial().expect("square");
            let zero = matrix(&[&[0, 0, 0], &[0, 0, 0], &[0, 0, 0]]);
            let mut value = zero.clone();
            for coefficient in polynomial.coefficients().iter().rev() {
                value = a.multiply(&value).expect("sizes fit").shifted(&-coefficient);
            }
            prop_assert_eq!(value, zero);
        }

        #[test]
        fn determinants_multiply(a in square(3), b in square(3)) {
            // The constant of det(λ - A) is det A up to sign.
            let constant = |m: &Matrix| m.characteristic_polynomial().expect("square").coefficient(0);
            let product = a.multiply(&b).expect("sizes fit");
            prop_assert_eq!(constant(&product), -constant(&a) * constant(&b));
            prop_assert_eq!(constant(&a).is_zero(), a.rank() < 3);
        }
    }
}
