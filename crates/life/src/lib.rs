//! Life models for consumable seals: laws, one likelihood for every kind of observation, fits, bounds,
//! curves without a family, and comparison of groups.

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod ageing;
pub mod bands;
pub mod batches;
pub mod bounds;
pub mod calibrate;
pub mod compare;
pub mod competing;
pub mod compress;
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
pub mod likelihood;
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
