//! Laws that must hold whatever the input, tried on drawn inputs: the same ones in every run, and the smallest
//! that breaks a law is shown.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod ahead;
mod care;
mod comparison;
mod curves;
mod defects;
mod lives;
mod records;
mod regression;
mod samples;
mod spares;
mod words;

use proptest::test_runner::{Config, RngSeed};

/// `cases` drawn inputs from a seed of their own; nothing is kept between runs.
fn drawn(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(20_240_229),
        failure_persistence: None,
        max_shrink_iters: 500,
        ..Config::default()
    }
}
