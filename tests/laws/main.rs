//! Laws that every life family must obey; the tests run over the list, and no family is excused.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod derivatives;
mod drawn_ages;
mod edges;
mod every_bound;
mod functions;
mod intervals;
mod methods;
mod peaks;
mod posterior;
mod probabilities;
mod recurrence;
mod regression;
mod samples;
mod sectors;
mod support;
mod tails;
mod tolerances;
mod units;
