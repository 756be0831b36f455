//! Every tolerance of these tests, in one place. All are relative to the larger of 1 and the value
//! unless said.

/// Derivatives against Richardson's extrapolated differences.
pub const DERIVATIVE: f64 = 1e-8;
/// The same value along two ways of plain arithmetic.
pub const ARITHMETIC: f64 = 1e-12;
/// Estimates of the same data written differently.
pub const ESTIMATE: f64 = 1e-11;
/// ln of a tail probability after a quantile and back: an error of one unit in the last place of the
/// age is multiplied by the slope of ln of the tail in ln age, up to a few hundred here.
pub const TAIL: f64 = 1e-12;
/// Adaptive quadrature asked for [`QUADRATURE_ASKED`].
pub const QUADRATURE: f64 = 1e-10;
/// Relative error asked of the quadrature.
pub const QUADRATURE_ASKED: f64 = 1e-12;
/// An interval of relative width [`NARROW`] against the density: the remainder is of second order in
/// the width times the slope of ln density, and the rounding of the two ends divided by it.
pub const LIMIT: f64 = 1e-7;
/// Relative width of an interval taken as a point.
pub const NARROW: f64 = 1e-6;
/// Profile bounds of the same data in another unit.
pub const PROFILE: f64 = 1e-9;
