//! Proportional hazards (Cox 1972): λ(t | x) = λ₀(t) e^{x·β}, with the baseline rate left open. Tied
//! failures by Efron (1977) or Breslow (1974); right-censored lives, delayed entry, counts and strata.
//!
//! A cross-check beside the accelerated life regression: it makes no claim about the law of the lives, only
//! that a column multiplies the failure rate by the same factor at every age, which
//! [`HazardsFit::proportionality`] tests. Signs are opposite to those on ln life: what raises the rate
//! shortens the life; for Weibull lives β = −b/σ.

mod between_looks;
mod cluster;
mod data;
mod drawn;
mod fit;
mod frailty;
mod partial;
mod penalised;
mod penalised_best;
mod proportion;
mod weibull_frailty;
mod weibull_terms;

pub use cluster::TooFewClusters;
pub use data::{NoHazards, Prepared, WatchedLife, WithLooks};
pub use drawn::{DrawnHazards, Source, fit_drawn};
pub use fit::{Effect, HazardsFit, fit};
pub use frailty::{Frailty, frailty};
pub use partial::Ties;
pub use proportion::{ColumnTest, Proportionality, TimeScale};
pub use weibull_frailty::{Shared, WeibullFrailty, weibull_frailty};

#[cfg(test)]
mod tests;
