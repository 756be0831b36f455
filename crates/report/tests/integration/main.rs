//! What is written, tried from outside.
//!
//! One program for all files: each further one would link the whole library once more.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod cost_by_age;
mod folder;
mod html;
mod pdf;
mod units;
mod xlsx;
