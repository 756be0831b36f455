//! Care and stock chosen together: the order time with the replacement age of one seal, and the replacement age
//! with the stock of a fleet, each against choosing one after the other.

pub mod fleet;
pub mod one_seal;
