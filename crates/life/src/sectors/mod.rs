//! Wear position: does a seal fail more at one place of the door frame than at another, how much harder is
//! that place on the seal, and what would turning the seal or mending the door give?

pub mod rayleigh;
pub mod ring;
pub mod severity;
pub mod shares;
pub mod uneven;
