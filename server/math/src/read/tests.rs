//! Formulas in, structure out.
