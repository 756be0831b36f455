//! Replacements that recur: how many a position has had by a time, whether they come faster, and which
//! positions have too many.

pub mod hungry;
pub mod log_linear;
pub mod many;
pub mod mean_cumulative;
pub mod ordinary;
pub mod power_law;
pub mod ratios;
pub mod system;
pub mod trend;
