//! The study, worked through: records to lives, decisions and results, as pure functions.

pub mod ageing;
mod ageing_results;
pub mod ageing_words;
pub(crate) mod alike;
pub mod back_test;
pub mod celsius;
pub mod condition;
mod condition_model;
pub mod demand;
pub mod endings;
mod endings_places;
pub mod extra_spares;
pub mod extras;
pub mod finance;
pub mod futures;
pub(crate) mod habits;
pub mod heat;
pub mod intervals;
mod intervals_defects;
pub mod lives;
pub mod materials;
pub mod materials_field;
mod materials_fit;
pub mod materials_here;
mod materials_pairs;
mod materials_words;
pub mod money;
pub mod money_prices;
mod money_risk;
mod money_stock;
pub mod outlook;
mod place_factors;
mod place_rates;
pub mod planned;
pub mod plans;
pub mod positions;
pub mod practised;
pub mod prices;
pub mod run;
pub mod screen;
pub mod spares;
pub mod trial;
mod trial_apart;
pub mod what_if;

/// Lives drawn from each fit to carry its estimation error into decisions.
pub const DRAWS: usize = 200;
