//! Reads TeX formulas and sees through their numbers.
//!
//! In reading order:
//!
//! * [`expression`]: what a formula is, once it has been read, and how to build and walk one;

pub mod expression;

pub use expression::{Expression, Operator};
