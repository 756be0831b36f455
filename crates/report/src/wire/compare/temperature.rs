//! Doubts about a temperature column and the activation energy fitted to it.

use super::asked::Asked;
use super::options::CompareOptions;
use super::plan::Plan;
use super::stress::range;
use super::term::{ACTIVATION, BOLTZMANN_EV, ZERO_CELSIUS};
use crate::analysis::celsius;
use crate::number;
use sealspan_life::regression::Regression;

/// Temperatures that are hardly °C.
pub fn implausible(asked: &Asked, options: &CompareOptions) -> Option<String> {
    let (column, _) = options.temperature()?;
    let at = asked.plan.at(ACTIVATION)?;
    let (low, high) = range(&asked.design, at);
    let of = |x: f64| 1.0 / (BOLTZMANN_EV * x) - ZERO_CELSIUS;
    celsius::doubt(&format!("column `{column}`"), of(high), of(low))
}

/// An activation energy below 0, by which heat lengthens life.
pub fn backwards(plan: &Plan, fit: &Regression, options: &CompareOptions) -> Option<String> {
    let (column, _) = options.temperature()?;
    let at = plan.at(ACTIVATION)?;
    let c = fit.coefficients(options.confidence).into_iter().nth(at)?;
    (c.estimate < 0.0).then(|| {
        let width = c.upper - c.lower;
        let sure = if c.upper < 0.0 {
            "the whole interval lies below 0"
        } else {
            "the interval holds 0, so the records may just not show the effect"
        };
        format!(
            "the fitted activation energy is below 0 ({} eV, {} to {}): by it seals last longer the hotter they are, which no ageing does; {sure}. `{column}` may stand for something else that differs (site, duty, load): hold that constant with --given, check the column's unit, and predict nothing from this line",
            number::to_width(c.estimate, width),
            number::to_width(c.lower, width),
            number::to_width(c.upper, width)
        )
    })
}
