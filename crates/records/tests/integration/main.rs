//! What the readers give, tried from outside.
//!
//! One program for all files: each further one would link the whole library once more.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod changing;
mod common;
mod findings;
mod folder;
mod formats;
mod histories;
mod invariant;
mod life_form;
mod seals_form;
