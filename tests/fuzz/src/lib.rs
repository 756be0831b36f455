//! What arbitrary bytes are put through. Each function panics where a promise is broken, and only then:
//! whatever the bytes, there is an answer or a refusal in words, rows are counted to the last, and no number
//! is NaN.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod archive;
mod fits;
mod sheets;
mod tables;
mod texts;

pub use fits::fit;
pub use tables::{csv, parquet, xlsx};
pub use texts::{scenario, study};
