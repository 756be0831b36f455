//! Life models for consumable seals: laws, one likelihood for every kind of observation, fits, bounds,
//! curves without a family, and comparison of groups.
//!
//! # Units
//!
//! Unless an item says otherwise: ages, times and lives are in the unit of the observations, whichever it is, and so
//! are their ends and errors; rates and hazards are per that unit; a quantity's interval has the quantity's unit;
//! errors and covariances of θ are on its unbounded scale ([`law::Link`]), where ln of a time has no unit.
//! Probabilities, shares and confidence lie between 0 and 1 (`level` 0.9 is a two-sided 90 %). Counts are of seals,
//! and may be fractions. Log-likelihoods are natural logarithms, with densities per unit of age. Temperatures are in
//! °C, and a measured property is in its own unit.
//!
//! Formulas stand at the items, with the publication they come from, or with the words "from memory" or "a rule of
//! ours".

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod ageing;
pub mod bands;
pub mod batches;
pub mod bounds;
pub mod calibrate;
pub mod compare;
pub mod competing;
mod compress;
mod constrained;
mod contour;
pub mod defects;
pub mod degradation;
pub mod demonstration;
mod drawable;
pub mod draws;
pub mod edge;
pub mod family;
pub mod few;
pub mod fit;
pub mod goodness;
pub mod hazards;
mod held;
mod importance;
pub mod imputation;
pub mod intervals;
pub mod law;
pub mod laws;
pub mod life;
mod likelihood;
pub mod log_rank;
pub mod maximise;
mod modes;
pub mod nelson_aalen;
pub mod posterior;
pub mod product_limit;
pub mod quantity;
pub mod rank_regression;
pub mod ranks;
pub mod recurrence;
pub mod refits;
pub mod regression;
pub mod resample;
pub mod residuals;
mod search;
pub mod sectors;
mod spread;
pub mod suprema;
mod sweep;
pub mod terms;
pub mod turnbull;
mod unit;
mod unreached;
pub mod warning;
