//! Care and stock decisions: policy values, costs, the evaluator and the simulator of a policy,
//! spare stock, and the forecast of the seals now running.
//!
//! Everything is a pure function over values: no files, no clock, no terminal.
//!
//! # Units
//!
//! Unless an item says otherwise: ages, times between looks, turns and openings are in the unit of the life's clock;
//! money is in the currency of the prices, cost rates are money per unit of that clock, and time down is in its units
//! where the name does not say hours; stocks go by days ([`stock`], [`spares`]). Shares, chances and availabilities lie
//! between 0 and 1; demands and stocks count seals. Intervals have the unit of what they are about.
//!
//! Formulas stand at the items, with the publication they come from, or with the words "from memory", "a rule of
//! ours" or "common practice, no source".

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod age_spread;
pub mod ahead;
pub mod answer;
pub(crate) mod batch;
pub(crate) mod batch_urgent;
pub mod block;
pub mod calendar;
pub mod costs;
pub mod counts;
pub mod demand;
pub mod error;
pub mod evaluate;
pub mod fleet_stock;
pub mod forecast;
pub mod horizon;
pub mod joint;
pub mod ladder;
pub mod minimal_repair;
pub mod money;
pub mod pipeline;
pub mod plan;
pub mod policy;
mod present;
pub mod rate;
pub mod renewals;
pub mod replacement;
pub mod returns;
pub mod scenario;
pub mod screening;
pub mod seal;
mod search;
pub mod simulate;
pub mod spares;
pub mod stock;
pub mod successes;
pub mod terms;
pub mod trial;
pub mod weigh;
