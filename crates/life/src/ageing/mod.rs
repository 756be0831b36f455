//! Laboratory ageing: a property against time in several ovens, the time to a limit in each, and the
//! Arrhenius line that carries it to the temperature of service.
//!
//! The way of ISO 11346 (scope read, text from memory): times to the same limit of the same
//! property, ln t against 1/T. The limit, the curve and every extrapolation are stated, not hidden.
//!
//! Times are in hours, temperatures in °C outside and kelvin inside, activation energies in kJ/mol, slopes of ln time
//! against 1/T in kelvin.

pub mod arrhenius;
pub mod bend;
pub mod curve;
pub mod least_squares;
pub mod line;
pub mod reach;
