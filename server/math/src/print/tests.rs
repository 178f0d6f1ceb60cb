//! Formulas in, text out.
