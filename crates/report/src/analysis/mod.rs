//! The study, worked through: records to lives, decisions and results, as pure functions.

pub mod heat;
pub mod lives;
pub mod outlook;
pub mod prices;
pub mod run;
pub mod screen;
pub mod spares;

/// Lives drawn from each fit to carry its estimation error into decisions.
pub const DRAWS: usize = 200;
