//! The defect model: a defect comes, a failure follows after a delay, and looks find some defects in time
//! (delay-time model, Christer & Waller 1984), fitted to inspection histories.

mod integral;
mod likelihood;
mod model;
mod moments;
mod stage;

pub use model::{Model, StageLaw, Theta};
pub use moments::{DETECTION, PARAMETERS};
