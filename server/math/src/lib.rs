//! Reads TeX formulas and sees through their numbers.
//!
//! In reading order:
//!
//! * [`expression`]: what a formula is, once it has been read, and how to build and walk one;
//! * [`read`](mod@read): what a TeX formula says, and which marks in it are wrong;
//! * [`evaluate`]: its value at a point, exact or numeric;
//! * [`print`](mod@print): an expression as plain text and as TeX;
//! * [`problem`]: what a statement asks;
//! * [`fingerprint`]: whether two problems are the same one with other numbers and letters;
//! * [`normal_form`]: whether two expressions are equal by collecting alone;
//! * [`views`]: what can be seen of a collected expression; [`derivative`]: its derivative;
//! * [`shape`]: whether a problem is of a given kind, [`search`]: in which of its forms,
//!   [`laws`]: and by which laws;
//! * [`verdict`]: whether an answer is right; [`solve`](mod@solve): what the answer is;
//! * [`sibling`]: other problems of the same kind;
//! * [`rational`] and [`univariate`]: exact numbers, and polynomials in one variable.

pub mod derivative;
pub mod evaluate;
pub mod expression;
pub mod fingerprint;
pub mod laws;
mod linear;
mod modular;
pub mod normal_form;
pub mod print;
pub mod problem;
pub mod rational;
pub mod read;
pub mod search;
pub mod shape;
pub mod sibling;
pub mod solve;
mod stable_hash;
mod surface;
pub mod univariate;
pub mod verdict;
pub mod views;

pub use expression::{Expression, Operator};
pub use print::readable;
pub use read::{Class, Declared, Diagnostic, Reading, read};
