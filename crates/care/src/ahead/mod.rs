//! What the seals now running, and those that follow them, will ask for period by period: failures and planned
//! replacements under a care policy or today's practice, with prediction intervals.

pub mod cared;
mod course;
pub mod ending;
pub mod first;
pub mod fleet;
mod flow;
mod grid;
pub(crate) mod matched;
pub mod months;
pub mod places;
pub mod play;

pub use course::Work;

const TOO_FAST: &str = "Most seals end within one step of the forecast: ask for shorter periods.";
