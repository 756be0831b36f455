//! Proportional hazards (Cox 1972): λ(t | x) = λ₀(t) e^{x·β}, with the baseline rate left open. Tied
//! failures by Efron (1977) or Breslow (1974); right-censored lives, delayed entry, counts and strata.
//!
//! A cross-check beside the accelerated life regression: it makes no claim about the law of the lives, only
//! that a column multiplies the failure rate by the same factor at every age, which
//! [`HazardsFit::proportionality`] tests. Signs are opposite to those on ln life: what raises the rate
//! shortens the life; for Weibull lives β = −b/σ.
//!
//! ```
//! use sealspan_life::hazards::{Prepared, Ties, WatchedLife, WithLooks, fit};
//! use sealspan_records::Observation;
//! let life = |age: f64, design| WatchedLife {
//!     observation: Observation::exact(age, 0.0, 1.0).unwrap(),
//!     design,
//!     stratum: 0,
//!     cluster: design,
//! };
//! let lives = [life(1.0, 0), life(2.0, 1), life(3.0, 0)];
//! let data = Prepared::new(&["group".to_owned()], &[vec![0.0], vec![1.0]], &lives).unwrap();
//! let looks = WithLooks::from(data.clone());
//! assert_eq!((data.clusters(), data.delayed()), (2, false));
//! assert_eq!((looks.clusters(), looks.delayed()), (2, false));
//! // e^β = √2 is likeliest; the information there is 2h/(2 + h)² + h/(1 + h)² with h = √2.
//! let found = fit(data, Ties::Efron).unwrap();
//! let h = 2.0_f64.sqrt();
//! let information = 2.0 * h / (2.0 + h).powi(2) + h / (1.0 + h).powi(2);
//! assert!((found.covariance()[(0, 0)] * information - 1.0).abs() < 1e-8);
//! assert_eq!(found.data().clusters(), 2);
//! // Two clusters are too few for errors by cluster.
//! assert!(found.cluster_covariance().is_err());
//! ```

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
