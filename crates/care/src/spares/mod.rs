//! Spares beyond one part at one place: order sizes, seals that go out of date, a last buy, several parts
//! under one budget, depot and sites, transfers between sites.

pub mod budget;
pub mod depot;
pub mod last_buy;
pub mod lots;
mod mixes;
pub mod order_size;
pub mod play;
pub mod shelf;
pub mod transfer;
