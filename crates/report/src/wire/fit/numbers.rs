//! The estimates and intervals of one fit, with what there is to say of how they were made.

use super::ends::{Ends, number};
use super::{FitOptions, Peak};
use crate::wire::Number;
use sealspan_life::bounds::{Bounds, Method, NoEnd};
use sealspan_life::fit::Fit;
use sealspan_life::intervals::{Instead, Intervals};
use sealspan_life::quantity::Quantity;
use sealspan_records::Sample;
use std::collections::BTreeSet;

const BELOW_ZERO: &str = "below age 0: the normal law does not suit";
const NEVER: &str = "never reached under this law: fewer seals ever fail";
const INFINITE: &str = "infinite under this law: a share of the seals never fails, or too many live very long; ask for ages and shares instead";

/// Numbers of one fit, with the largest simulation error met and what had to be made otherwise.
pub(super) struct Numbers<'a> {
    fit: &'a Fit,
    pub(super) intervals: Intervals<'a>,
    pub(super) simulation_error: f64,
    pub(super) beyond_draws: bool,
    pub(super) instead: BTreeSet<Instead>,
    /// Where the likelihood peaks, where other estimates are shown.
    pub(super) peaks: Vec<Peak>,
    /// Whether an interval leaves such a peak out.
    pub(super) left_out: bool,
}

impl<'a> Numbers<'a> {
    pub(super) fn new(fit: &'a Fit, sample: &Sample, method: Method, options: &FitOptions) -> Self {
        Self {
            intervals: Intervals::new(fit, sample, method, options.confidence, options.seed),
            fit,
            simulation_error: 0.0,
            beyond_draws: false,
            instead: BTreeSet::new(),
            peaks: vec![],
            left_out: false,
        }
    }

    pub(super) fn number(&mut self, quantity: Quantity, name: &str) -> (Number, Ends) {
        let interval = self.intervals.of(quantity);
        let b = interval.bounds;
        self.simulation_error = self
            .simulation_error
            .max(interval.simulation_error.unwrap_or(0.0));
        self.beyond_draws |= interval.beyond_draws;
        self.instead.extend(interval.instead);
        let peak = self.fit.estimate(quantity);
        let estimate = match self.intervals.method {
            Method::Posterior if b.no_lower != Some(NoEnd::Stated) => {
                self.beside_median(peak, &b, name);
                self.intervals.median(quantity).unwrap_or(f64::INFINITY)
            }
            _ => peak,
        };
        if estimate.is_finite() {
            return number(estimate, &b);
        }
        let why = match quantity {
            Quantity::Mean => INFINITE,
            _ if self.fit.family.name() == "normal" => BELOW_ZERO,
            _ => NEVER,
        };
        let beyond = Number {
            lower: b.lower,
            upper: b.upper,
            reason: Some(why.to_owned()),
            ..Number::default()
        };
        (beyond, Ends::of(&b))
    }

    /// Keeps the peak of the likelihood for what a median of the posterior stands for.
    fn beside_median(&mut self, peak: f64, b: &Bounds, name: &str) {
        if peak.is_finite() {
            self.left_out |= b.lower.is_some_and(|l| peak < l) || b.upper.is_some_and(|u| peak > u);
            self.peaks.push(Peak {
                of: name.to_owned(),
                estimate: peak,
            });
        }
    }
}
