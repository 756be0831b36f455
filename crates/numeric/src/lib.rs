//! Numerical tools without domain words: second derivatives carried along with values, special
//! functions, adaptive quadrature, bracketed roots, minimisation, seeded random streams and sums in a fixed order.
//!
//! All numbers are without units; angles are in radians, logarithms natural.

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod double_exponential;
pub mod jet;
mod log_gamma;
pub mod optimise;
pub mod quadrature;
pub mod random;
pub mod renewal;
pub mod roots;
pub mod special;
pub mod sum;
