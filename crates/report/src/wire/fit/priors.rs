//! The weak priors of a law in words, and how much of what is known of each parameter they supply.

use super::PriorOf;
use super::values::parameter_unit;
use crate::number;
use sealspan_life::family::Family;
use sealspan_life::law::Link;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::normal_quantile;

/// The share of a prior that the stated range holds.
const HELD: f64 = 0.9;

/// Priors of the reported parameters: normal on the scale of each, since a reported parameter is linear in θ there.
/// `oldest` is the oldest age seen, about which the location lies.
pub(super) fn of(
    family: &dyn Family,
    oldest: f64,
    unit: &str,
    posterior: Option<&Posterior>,
) -> Vec<PriorOf> {
    let zero = vec![0.0; family.dimension()];
    let reported = family.reported().iter().enumerate();
    reported
        .map(|(i, parameter)| {
            let quantity = Quantity::Parameter(i);
            let at_zero = family.quantity(&zero, quantity);
            let (mut mean, mut variance) = (at_zero.value, 0.0);
            for (j, (slope, prior)) in at_zero.gradient.iter().zip(family.priors()).enumerate() {
                let own = prior.mean + if j == 0 { oldest.ln() } else { 0.0 };
                mean += slope * own;
                variance += (slope * prior.sd).powi(2);
            }
            let sd = variance.sqrt();
            let z = normal_quantile(0.5 + 0.5 * HELD);
            PriorOf {
                name: parameter.name,
                scale: match parameter.link {
                    Link::Identity => "itself",
                    Link::Log => "logarithm",
                    Link::Logit => "log odds",
                },
                unit: parameter_unit(parameter.dimension, unit),
                mean,
                standard_deviation: sd,
                median: parameter.link.undo(mean),
                from: parameter.link.undo(mean - z * sd),
                to: parameter.link.undo(mean + z * sd),
                supplies: posterior
                    .and_then(|p| p.standard_deviation(quantity))
                    .map(|own| (own * own / variance).min(1.0)),
            }
        })
        .collect()
}

/// The same in a sentence.
pub(super) fn sentence(priors: &[PriorOf]) -> String {
    let one = |p: &PriorOf| {
        let number = |x: f64| number::significant(x, 2);
        let unit = if p.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", p.unit)
        };
        let scale = if p.scale == "itself" {
            String::new()
        } else {
            format!("{} of ", p.scale)
        };
        format!(
            "{scale}{} normal with mean {} and standard deviation {} (half of it below {}{unit}, nine tenths between {} and {}{unit})",
            words(p.name),
            number(p.mean),
            number(p.standard_deviation),
            number(p.median),
            number(p.from),
            number(p.to),
        )
    };
    let all: Vec<String> = priors.iter().map(one).collect();
    format!(
        "{}; the oldest age seen is all that they take from the data",
        all.join("; ")
    )
}

/// How strongly the priors decide, in a sentence; `None` where that is not known.
pub(super) fn strength(priors: &[PriorOf]) -> Option<String> {
    let parts: Vec<String> = priors
        .iter()
        .filter_map(|p| {
            let share = number::percent(p.supplies?);
            Some(format!("{share} of that on {}", words(p.name)))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "of the information behind these intervals the prior supplies {} (variance of the posterior over that of the prior), the data the rest",
            parts.join(", ")
        )
    })
}

fn words(name: &str) -> String {
    match name {
        "mu" => "the mean of ln life".to_owned(),
        "sigma" => "the standard deviation of ln life".to_owned(),
        other => other.replace('_', " "),
    }
}
