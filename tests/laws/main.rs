//! Laws that every life family must obey; the tests run over the list, and no family is excused.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod derivatives;
mod functions;
mod intervals;
mod probabilities;
mod samples;
mod support;
mod tolerances;
