//! Doubts about a result, as values that say what to do.

use crate::fit::Fit;
use crate::law::Law;
use crate::laws::weibull_mixture::WeibullMixture;
use crate::quantity::Quantity;

/// A doubt about a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Warning {
    /// Fewer than five failures, of a law with two parameters or more and none stated: the shape should not be trusted
    /// by itself.
    VeryFewFailures {
        /// How many.
        failures: f64,
    },
    /// Five failures or more, but fewer than ten.
    Indicative {
        /// How many.
        failures: f64,
    },
    /// No censored seals at all.
    NothingRunning,
    /// Shape below one, and no parameter stated.
    EarlyFailures {
        /// Its estimate.
        shape: f64,
    },
    /// The likelihood can be higher where the law closes in on a few failures: the greatest of the other maxima is
    /// reported.
    GreatestInside {
        /// Whether the law has two parts, each of which can close in.
        mixture: bool,
        /// By how much the log-likelihood is higher at the highest maximum met there; `None` where none was met.
        higher: Option<f64>,
    },
    /// A parameter was stated, not estimated.
    Stated {
        /// Its name.
        name: &'static str,
        /// Its value, in its own unit.
        value: f64,
    },
}

impl Warning {
    /// The doubts a fit raises by itself. Limits: under 5 and 10 failures are rules of ours; the
    /// second leans on Jeng & Meeker, preprint 97-39 (coverage of likelihood-ratio intervals).
    #[must_use]
    pub(crate) fn of_fit(fit: &Fit) -> Vec<Self> {
        let e = &fit.terms.extent;
        let failures = e.failures;
        let mut out = vec![];
        let reported = fit.family.reported();
        if fit.free.len() < fit.theta.len() {
            for (i, p) in reported.iter().enumerate() {
                let gradient = fit
                    .family
                    .quantity(&fit.theta, Quantity::Parameter(i))
                    .gradient;
                if fit
                    .free
                    .iter()
                    .all(|f| gradient.get(*f).is_none_or(|g| *g == 0.0))
                {
                    out.push(Self::Stated {
                        name: p.name,
                        value: fit.estimate(Quantity::Parameter(i)),
                    });
                }
            }
        } else if failures < 5.0 && fit.free.len() > 1 {
            out.push(Self::VeryFewFailures { failures });
        }
        if (5.0..10.0).contains(&failures) {
            out.push(Self::Indicative { failures });
        }
        if fit.family.unbounded(&fit.terms) {
            let mixture = fit.family.name() == WeibullMixture::NAME;
            out.push(Self::GreatestInside {
                mixture,
                higher: fit.set_aside,
            });
        }
        if e.failures == e.total {
            out.push(Self::NothingRunning);
        }
        let shape = reported
            .iter()
            .position(|p| p.name == "shape")
            .map(Quantity::Parameter);
        if let Some(shape) = shape.map(|q| fit.estimate(q)).filter(|s| *s < 1.0)
            && fit.free.len() == fit.theta.len()
        {
            out.push(Self::EarlyFailures { shape });
        }
        out
    }

    /// The doubt in words, with what to do.
    ///
    /// ```
    /// use sealspan_life::warning::Warning;
    /// assert_eq!(Warning::Indicative { failures: 7.0 }.message(), "only 7 failures: indicative");
    /// ```
    #[must_use]
    pub fn message(&self) -> String {
        match self {
            Self::VeryFewFailures { failures } => format!(
                "only {failures:.0} failure{}: the shape cannot be trusted by itself; use a stated Weibull shape (--shape), a prior on it (--bounds posterior), or pool with a like fleet",
                if *failures > 1.0 { "s" } else { "" }
            ),
            Self::Indicative { failures } => {
                format!("only {failures:.0} failures: indicative")
            }
            Self::GreatestInside { mixture: false, .. } => {
                "the likelihood of this law can be higher where it closes in on single failures, without limit where their ages are exact: the greatest maximum inside the law's range is reported".into()
            }
            Self::GreatestInside {
                mixture: true,
                higher,
            } => {
                let met = higher.map_or(String::new(), |gain| {
                    format!(
                        "; the highest met has a log-likelihood higher by {gain:.2}: if the few failures it closes in on (see the curve without a family: fit --curve) are known to be a group of their own, fit them by themselves (--by, --modes)"
                    )
                });
                format!(
                    "the likelihood of this law can be higher where one part closes in on a few failures, without limit where their ages are exact; such maxima are set aside and the greatest of the others is reported: no part is more than ten times as narrow as the other, and each holds three distinct ages, or nearly, and five where it is much narrower (rules of ours, since fewer that close together come by chance in most samples){met}"
                )
            }
            Self::NothingRunning => {
                "every seal has failed: were seals still in service or replaced by schedule left out?".into()
            }
            Self::EarlyFailures { shape } => format!(
                "shape {shape:.2} is below 1: early failures, perhaps a mixture of batches or sites; if it is truly below 1, replacing by age does not help"
            ),
            Self::Stated { name, value } => {
                format!("{name} {value} is assumed, not estimated: the intervals take it as known")
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::{Model, fit_terms};
    use crate::laws::by_name;
    use crate::terms::Terms;
    use sealspan_records::{Observation, Sample};
    use std::sync::Arc;

    /// Of a Weibull law with its shape stated the shape is named as stated, the scale is not.
    #[test]
    fn what_was_stated_is_named_and_nothing_else() {
        let mut rows: Vec<Observation> = (1..=12)
            .map(|i| Observation::exact(20.0 * f64::from(i), 0.0, 1.0).unwrap())
            .collect();
        rows.push(Observation::right(260.0, 0.0, 3.0).unwrap());
        let terms = Arc::new(Terms::new(&Sample::new(rows)));
        let mut model = Model::free(by_name("weibull").unwrap());
        assert!(fit_terms(model, &terms).unwrap().warnings.is_empty());
        model.stated = Some(("shape", 2.0));
        let [
            Warning::Stated {
                name: "shape",
                value,
            },
        ] = fit_terms(model, &terms).unwrap().warnings[..]
        else {
            unreachable!("one warning of the stated shape");
        };
        assert!((value - 2.0).abs() < 1e-12, "{value}");
    }

    /// Of a law of two parts it is said that either can close in, of a failure-free time that the law does, and nothing of
    /// the sort of a law whose likelihood has a limit.
    #[test]
    fn what_closes_in_is_named() {
        let inside = |law: &str, ages: &[f64]| {
            let rows = ages
                .iter()
                .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap());
            let terms = Arc::new(Terms::new(&Sample::new(rows.collect())));
            let fit = fit_terms(Model::free(by_name(law).unwrap()), &terms).unwrap();
            fit.warnings.iter().find_map(|warning| match warning {
                Warning::GreatestInside { mixture, .. } => Some(*mixture),
                _ => None,
            })
        };
        let two = [
            60.0, 75.0, 90.0, 95.0, 110.0, 120.0, 400.0, 430.0, 460.0, 500.0, 520.0, 580.0,
        ];
        // A free time of 100 and a Weibull of shape 2 and scale 60 beyond it, by its quantiles.
        let late: Vec<f64> = (0..20)
            .map(|i| 100.0 + 60.0 * (-(1.0 - (f64::from(i) + 0.5) / 20.0).ln()).sqrt())
            .collect();
        assert_eq!(inside("weibull_mixture", &two), Some(true));
        assert_eq!(inside("three_parameter_weibull", &late), Some(false));
        assert_eq!(inside("weibull", &late), None);
    }
}
