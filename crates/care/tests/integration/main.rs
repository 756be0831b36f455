//! What the care library gives, tried from outside.
//!
//! One program for all files: each further one would link the whole library once more.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod age_spread;
mod agreement;
mod ahead;
mod asked_otherwise;
mod brute_force;
mod by_formula;
mod calibration;
mod cared;
mod demand;
mod evaluator;
mod extremes;
mod fleet;
mod gasket;
mod goals;
mod horizon;
mod joint;
mod keys;
mod limiting_cases;
mod lots;
mod measured;
mod menus;
mod places;
mod plans;
mod played;
mod present_values;
mod prices;
mod published_forecast;
mod published_replacement;
mod published_stock;
mod random_policies;
mod rare_cases;
mod renewals;
mod returns;
mod scaled;
mod scenario;
mod screening;
mod spares;
mod stock_edges;
mod stops;
mod swings;
mod table;
mod tails;
mod terms;
mod trial;
mod turns;
mod weigh;
mod written_out;
