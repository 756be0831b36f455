//! What the life library gives, tried from outside.
//!
//! One program for all files: each further one would link the whole library once more.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod brute_force;
mod by_chance;
mod close_cases;
mod closed_forms;
mod defects;
mod defects_doubted;
mod defects_limits;
mod ends_and_edges;
mod far_cases;
mod first_principles;
mod hazards;
mod limiting_cases;
mod narrow_cases;
mod paths;
mod written_out;
