//! The defect model: a defect comes, a failure follows after a delay, and looks find some defects in time
//! (delay-time model, Christer & Waller 1984), fitted to inspection histories.
//!
//! [`fit()`] gives a [`DefectFit`]; [`DefectFit::bounds`] gives intervals, [`doubts::doubts`] says what the log does not
//! tell, [`DefectDraws`] carries the uncertainty on, and [`DefectFit::lives`] hands the two laws to decisions.

mod caught;
mod counts;
pub mod doubts;
mod draws;
mod fit;
pub mod goodness;
mod integral;
mod likelihood;
mod model;
mod moments;
mod quantity;
pub mod simulate;
mod stage;
mod starts;

pub use counts::{Counts, NoDefectFit};
pub use draws::{DefectDraw, DefectDraws, PRIORS};
pub use fit::{DefectFit, OtherFit, SHARPEST, fit};
pub use model::{Model, StageLaw, Theta};
pub use moments::{DELAY_SPREAD, DETECTION, PARAMETERS};
pub use quantity::{DefectQuantity, scaled, unscale};
