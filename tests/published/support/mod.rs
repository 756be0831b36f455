//! What every case needs: the data, the expected values, the comparison.

pub mod close;
pub mod curves;
pub mod data;
pub mod expected;
pub mod fits;
pub mod hazards;
pub mod modes;
pub mod moments;
pub mod ranks;
pub mod regression;
pub mod tolerances;
pub mod turnbull;
