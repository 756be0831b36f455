//! Hazard ratios of stresses for a step that a reader can picture, instead of one unit of 1/(kT) or of a
//! logarithm.

use super::asked::Asked;
use super::stress::range;
use super::term::{BOLTZMANN_EV, Kind, ZERO_CELSIUS};
use crate::number;
use crate::wire::hazards::{HazardCoefficient, ProportionalHazards};

/// Step of temperature, °C.
const STEP: f64 = 10.0;

/// Restates the ratios of temperatures and power laws.
pub fn restate(found: &mut ProportionalHazards, asked: &Asked) {
    for term in &asked.plan.terms {
        let Some((name, _)) = term.coefficients.first() else {
            continue;
        };
        let Some(c) = found.coefficients.iter_mut().find(|c| c.name == *name) else {
            continue;
        };
        if term.is_number() {
            let words = &mut found.agreement.words;
            *words = words.replace(name.as_str(), &term.column);
        }
        match term.kind {
            Kind::Reciprocal => {
                let (low, high) = range(&asked.design, term.first);
                let celsius = |x: f64| 1.0 / (BOLTZMANN_EV * x) - ZERO_CELSIUS;
                let from = (0.5 * (celsius(low) + celsius(high)) - 0.5 * STEP).round();
                let reciprocal = |t: f64| 1.0 / (BOLTZMANN_EV * (t + ZERO_CELSIUS));
                let step = reciprocal(from + STEP) - reciprocal(from);
                let words = format!(
                    "{} from {} to {} °C",
                    term.column,
                    number::fixed(from, 0),
                    number::fixed(from + STEP, 0)
                );
                of_step(c, step, words);
            }
            Kind::Power => of_step(c, -2.0_f64.ln(), format!("{} doubled", term.column)),
            _ => {}
        }
    }
}

fn of_step(c: &mut HazardCoefficient, step: f64, words: String) {
    let ends = [(c.lower * step).exp(), (c.upper * step).exp()];
    c.hazard_ratio = (c.estimate * step).exp();
    c.hazard_ratio_lower = ends[0].min(ends[1]);
    c.hazard_ratio_upper = ends[0].max(ends[1]);
    c.hazard_ratio_of = Some(words);
}
