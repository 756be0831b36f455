//! Published data sets and worked examples: what the life models say of them, against values from the
//! sources and from 50-digit arithmetic. One file a case; sources stand in `expected/*.json` and beside
//! the data.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

mod airseal_rivets;
mod arrhenius;
mod arrhenius_three_temperatures;
mod ball_bearings;
mod bayes_age_replacement;
mod bearing_cages;
mod bone_marrow_transplant;
mod breast_cosmesis;
mod care_policies;
mod channing_house;
mod defect_likelihood;
mod degradation_paths;
mod demonstration;
mod diesel_fans;
mod exact_intervals;
mod exponential_bounds;
mod exponential_type_two;
mod glass_capacitors;
mod goodness;
mod hard_case_files;
mod hard_cases;
mod leukaemia_maintenance;
mod leukaemia_remission;
mod lognormal_fatigue;
mod monoclonal_gammopathy;
mod motor_insulation;
mod nist_weibull;
mod rats_by_litter;
mod recurrence;
mod six_tied_lives;
mod sources;
mod spares;
mod ten_late_entries;
mod ten_seals_two_modes;
mod trial_plans;
mod turbine_wheels;
mod wear_position;
