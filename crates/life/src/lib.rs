//! Life models for consumable seals: laws, one likelihood for every kind of observation, fits, bounds,
//! curves without a family, and comparison of groups.

pub mod bands;
pub mod bounds;
pub mod calibrate;
pub mod compare;
pub mod competing;
pub mod compress;
mod contour;
pub mod defects;
pub mod demonstration;
pub mod draws;
pub mod family;
pub mod few;
pub mod fit;
pub mod goodness;
pub mod intervals;
pub mod law;
pub mod laws;
pub mod life;
pub mod likelihood;
pub mod maximise;
pub mod nelson_aalen;
pub mod posterior;
pub mod product_limit;
pub mod quantity;
pub mod rank_regression;
pub mod ranks;
pub mod refits;
pub mod regression;
pub mod resample;
pub mod residuals;
pub mod suprema;
pub mod terms;
pub mod turnbull;
pub mod warning;
