//! The grammar as its users meet it: trees, units, queries and generated files.

mod corpus;
mod edits;
mod generated;
mod highlight;
mod queries;
mod tree;
mod units;

/// Notes that use every construct, in good and in broken shape.
const SAMPLES: [(&str, &str); 3] = [
    (
        "integrals",
        include_str!("../../test/samples/integrals.porism"),
    ),
    ("series", include_str!("../../test/samples/series.porism")),
    (
        "half-typed",
        include_str!("../../test/samples/half-typed.porism"),
    ),
];
