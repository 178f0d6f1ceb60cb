//! What tests and benchmarks of several crates share.

pub mod generate;
pub mod program;
pub mod session;
