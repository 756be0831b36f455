//! What the seals now running, and those that follow them, will ask for period by period: failures and planned
//! replacements under a care policy or today's practice, with prediction intervals.

pub mod ending;
pub mod first;
pub mod fleet;
mod flow;
pub mod matched;
pub mod months;
pub mod places;
pub mod play;
