//! The defect model: a defect comes, a failure follows after a delay, and looks find some defects in time
//! (delay-time model, Christer & Waller 1984), fitted to inspection histories.
//!
//! [`fit()`] gives a [`DefectFit`]; [`DefectFit::bounds`] gives intervals, [`doubts::doubts`] says what the log does not
//! tell, [`DefectDraws`] carries the uncertainty on, and [`DefectFit::lives`] hands the two laws to decisions.
//!
//! ```
//! use sealspan_life::defects::simulate::{LookPlan, simulate};
//! use sealspan_life::defects::{DefectDraws, DefectQuantity, Model, StageLaw, doubts, fit, goodness};
//! use sealspan_life::{life::Life, quantity::Quantity};
//! use sealspan_numeric::random::Stream;
//! // Invented seals: defects after 500 days or so, failures 150 days later, looks every 60 days that miss nothing.
//! let (defect, delay) = (Life::weibull(1.0, 500.0).unwrap(), Life::weibull(1.0, 150.0).unwrap());
//! let plan = LookPlan {
//!     every: 60.0, jitter: 20.0, skipped: 0.0, until: (600.0, 1200.0), entry: 0.0, detection: 1.0,
//! };
//! let mut stream = Stream::new(1, 0);
//! let seals = (0..400).map(|_| simulate(&defect, &delay, &plan, &mut stream).unwrap()).collect();
//! let model = Model { defect: StageLaw::Exponential, delay: StageLaw::Exponential, detection: Some(1.0) };
//! let found = fit(model, seals).unwrap();
//! assert!(!found.at_edge() && (found.correlation(0, 0) - 1.0).abs() < 1e-12);
//! let mean = DefectQuantity::Defect(Quantity::Mean);
//! let estimate = found.estimate(mean).unwrap();
//! assert!((estimate / 500.0 - 1.0).abs() < 0.2);
//! // Ends lie deeper than the normal quantile by √(1 + 10/the fewer of failures and findings).
//! let fewer = found.counts.failed.min(found.counts.found);
//! assert!((found.depth(0.9) - 1.644_853_627 * (1.0 + 10.0 / fewer).sqrt()).abs() < 1e-6);
//! let bounds = found.bounds(mean, 0.9);
//! assert!(bounds.lower.unwrap() < estimate && estimate < bounds.upper.unwrap());
//! assert!(found.scaled_error(mean).unwrap() > 1.0 / found.counts.seals.sqrt());
//! // The same laws again are as likely, to the 0.01 that is looked for.
//! let again = found.under(StageLaw::Exponential, StageLaw::Exponential).unwrap();
//! assert!((again.log_likelihood - found.log_likelihood).abs() < 0.02);
//! assert!((again.detection() - 1.0).abs() < 1e-12 && again.lives().is_some());
//! // At the maximum as many fail, and as many are found, as the model expects, within the noise of counts.
//! let bands = goodness::by_look(&found);
//! let seen: f64 = bands.iter().map(|b| b.found + b.failed).sum();
//! let expected: f64 = bands.iter().map(|b| b.found_expected + b.failed_expected).sum();
//! assert!((seen - expected).abs() < 3.0 * expected.sqrt());
//! let agreement = goodness::agreement(&found, &bands).unwrap();
//! assert_eq!(doubts::strays(&found, &bands).is_some(), agreement.p_value < 0.05);
//! let kinds = doubts::doubts(&found, bounds, bounds, Some(60.0), &bands);
//! assert!(kinds.iter().any(|doubt| doubt.kind == "detection_stated"));
//! // Draws lie about the estimate, and carry the stated detection.
//! let draws = DefectDraws::few(&found, 200, 1).unwrap();
//! let middle = draws.quantiles(mean, &[0.5])[0].unwrap();
//! assert!(bounds.lower.unwrap() < middle && middle < bounds.upper.unwrap());
//! assert!(draws.draws(10).iter().all(|d| (d.detection - 1.0).abs() < 1e-12));
//! // More of them: quantiles as deep as the normal law of the fit has them, but for what the priors and its tails add.
//! let many = DefectDraws::new(&found, 1).unwrap();
//! let ends = many.quantiles(mean, &[0.05, 0.95]);
//! let reach = 0.5 * (ends[1].unwrap() / ends[0].unwrap()).ln();
//! assert!((reach / (1.644_853_627 * found.scaled_error(mean).unwrap()) - 1.0).abs() < 0.15);
//! ```

mod caught;
mod counts;
pub mod doubts;
mod draws;
mod fit;
pub mod goodness;
mod integral;
mod likelihood;
mod model;
mod moments;
mod quantity;
pub mod simulate;
mod stage;
mod starts;

pub use counts::{Counts, NoDefectFit};
pub use draws::{DefectDraw, DefectDraws, PRIORS};
pub use fit::{DefectFit, OtherFit, SHARPEST, fit};
pub use model::{Model, StageLaw, Theta};
pub use moments::{DELAY_SPREAD, DETECTION, PARAMETERS};
pub use quantity::{DefectQuantity, scaled, unscale};
