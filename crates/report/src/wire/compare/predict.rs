//! Life under stated conditions, and how far they lie from what was seen.

use super::options::CompareOptions;
use super::plan::Plan;
use super::term::{Kind, Term, number};
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Design, Fitting, Place, Prediction, Robust, distance_to_hull};
use sealspan_numeric::special::normal_quantile;
use serde::Serialize;
use std::collections::BTreeMap;

/// Life at one set of conditions.
#[derive(Debug, Clone, Serialize)]
pub struct PredictionResult {
    /// The conditions.
    pub at: BTreeMap<String, String>,
    /// Quantities of life.
    pub life: Vec<PredictedLife>,
    /// Whether the conditions lie outside what was seen.
    pub extrapolated: bool,
    /// In what respect, in words: a number outside its range or the convex hull of those seen, or levels not seen together.
    pub extrapolation: Vec<String>,
}

/// A quantity of life; intervals are confidence intervals of the law's quantity, not of one seal's life.
#[derive(Debug, Clone, Serialize)]
pub struct PredictedLife {
    /// Which: `b10_life`, `median_life`, `mean_life`.
    pub quantity: &'static str,
    /// Share failed by it; `None` for the mean.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p: Option<f64>,
    /// Estimate.
    pub estimate: Option<f64>,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Lower end allowing for like seals within a cluster.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_lower: Option<f64>,
    /// Upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_upper: Option<f64>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

const ASKED: [(&str, Quantity); 3] = [
    ("b10_life", Quantity::Quantile(0.1)),
    ("median_life", Quantity::Quantile(0.5)),
    ("mean_life", Quantity::Mean),
];

/// Answers every set of conditions.
pub fn predictions(
    plan: &Plan,
    design: &Design,
    fitting: &Fitting,
    robust: Option<&Robust>,
    options: &CompareOptions,
) -> Result<Vec<PredictionResult>, String> {
    let known = options.model_columns();
    let mut out = vec![];
    for conditions in &options.more.predict {
        let at: BTreeMap<String, String> = conditions.iter().cloned().collect();
        if let Some(name) = at.keys().find(|k| !known.contains(k)) {
            return Err(format!(
                "--predict: `{name}` is no column of this regression; they are {}",
                known.join(", ")
            ));
        }
        let find = |column: &str| at.get(column).map(String::as_str);
        let place = plan.place(&find).map_err(|why| {
            format!(
                "--predict: {why}; a prediction needs a value for each of {}",
                known.join(", ")
            )
        })?;
        let life = ASKED
            .into_iter()
            .map(|(name, quantity)| predicted(name, quantity, &place, fitting, robust, options))
            .collect();
        let extrapolation = beyond(plan, design, &place, &find);
        out.push(PredictionResult {
            extrapolated: !extrapolation.is_empty(),
            extrapolation,
            life,
            at: at.clone(),
        });
    }
    Ok(out)
}

fn predicted(
    name: &'static str,
    quantity: Quantity,
    place: &Place,
    fitting: &Fitting,
    robust: Option<&Robust>,
    options: &CompareOptions,
) -> PredictedLife {
    let fit = &fitting.regression;
    let level = options.confidence;
    let own: Prediction = if options.more.profile {
        fitting.predict_by_profile(place, quantity, level)
    } else {
        let z = normal_quantile(0.5 + 0.5 * level);
        fit.predict(place, quantity, &fit.covariance, z)
    };
    let robust = robust.map(|r| fit.predict(place, quantity, &r.covariance, r.critical(level)));
    let finite = |x: f64| x.is_finite().then_some(x);
    let estimate = finite(own.estimate);
    let lacking = estimate.is_none() || own.lower.is_none() || own.upper.is_none();
    PredictedLife {
        quantity: name,
        p: match quantity {
            Quantity::Quantile(p) => Some(p),
            _ => None,
        },
        estimate,
        lower: own.lower.and_then(finite),
        upper: own.upper.and_then(finite),
        robust_lower: robust.and_then(|r| r.lower),
        robust_upper: robust.and_then(|r| r.upper),
        reason: lacking.then(|| "the data set no finite value there".to_owned()),
    }
}

/// A point this far outside the hull, in shares of the range seen, is rounding.
const ROUNDING: f64 = 1e-7;

/// In what respect a place lies outside what was seen.
fn beyond<'a>(
    plan: &Plan,
    design: &Design,
    place: &Place,
    find: &'a dyn Fn(&str) -> Option<&'a str>,
) -> Vec<String> {
    let mut out = vec![];
    let entry =
        |row: &[(usize, f64)], at: usize| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1);
    let numbers: Vec<_> = plan.terms.iter().filter(|t| t.is_number()).collect();
    for term in numbers
        .iter()
        .filter(|t| !matches!(t.kind, Kind::PerKelvin(_)))
    {
        let own = entry(&place.row, term.first);
        let (low, high) = super::stress::range(design, term.first);
        let slack = ROUNDING * (high - low);
        if own >= low - slack && own <= high + slack {
            continue;
        }
        let asked = number(&term.column, find).unwrap_or(own);
        let (from, to) = seen(term, low, high);
        out.push(format!(
            "{} {asked} lies outside the range seen, {from} to {to}: the answer rests on the law of that effect holding there",
            term.column
        ));
    }
    let columns: Vec<usize> = numbers.iter().map(|t| t.first).collect();
    if out.is_empty() && columns.len() > 1 {
        let point = |row: &[(usize, f64)]| -> Vec<f64> {
            columns.iter().map(|at| entry(row, *at)).collect()
        };
        let seen: Vec<Vec<f64>> = design.lines.iter().map(|l| point(&l.row)).collect();
        if distance_to_hull(&seen, &point(&place.row)) > ROUNDING {
            let names: Vec<&str> = numbers.iter().map(|t| t.column.as_str()).collect();
            out.push(format!(
                "each number by itself was seen, but not this combination of {}: it lies outside the convex hull of those seen",
                names.join(", ")
            ));
        }
    }
    let factors: Vec<_> = plan.terms.iter().filter(|t| !t.is_number()).collect();
    if out.is_empty() && !columns.is_empty() {
        out.extend(
            factors
                .iter()
                .filter_map(|f| beyond_level(f, &numbers, design, place, find)),
        );
    }
    let own: Vec<f64> = of_factors(&factors, &place.row);
    if !factors.is_empty()
        && design
            .lines
            .iter()
            .all(|l| of_factors(&factors, &l.row) != own)
    {
        let names: Vec<String> = factors
            .iter()
            .map(|t| format!("{} {}", t.column, find(&t.column).unwrap_or("")))
            .collect();
        out.push(format!(
            "no seal was seen with {}: the effects are taken to multiply",
            names.join(", ")
        ));
    }
    out
}

/// Whether the numbers lie outside what was seen at the place's level of one factor.
fn beyond_level<'a>(
    factor: &Term,
    numbers: &[&Term],
    design: &Design,
    place: &Place,
    find: &'a dyn Fn(&str) -> Option<&'a str>,
) -> Option<String> {
    let point = |row: &[(usize, f64)]| -> Vec<f64> {
        let entry = |at: usize| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1);
        numbers.iter().map(|t| entry(t.first)).collect()
    };
    let own = of_factors(&[factor], &place.row);
    let alike = design
        .lines
        .iter()
        .filter(|l| of_factors(&[factor], &l.row) == own);
    let seen: Vec<Vec<f64>> = alike.map(|l| point(&l.row)).collect();
    let outside = !seen.is_empty() && distance_to_hull(&seen, &point(&place.row)) > ROUNDING;
    outside.then(|| {
        let names: Vec<&str> = numbers.iter().map(|t| t.column.as_str()).collect();
        format!(
            "seals with {} {} were not seen at that {}: the effect is taken from the others",
            factor.column,
            find(&factor.column).unwrap_or(""),
            names.join(", ")
        )
    })
}

fn of_factors(factors: &[&Term], row: &[(usize, f64)]) -> Vec<f64> {
    let columns = factors
        .iter()
        .flat_map(|t| t.first..t.first + t.coefficients.len());
    columns
        .map(|at| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1))
        .collect()
}

/// The range of a column in its own unit.
fn seen(term: &Term, low: f64, high: f64) -> (f64, f64) {
    let round = |x: f64| (x * 1e6).round() / 1e6;
    match term.kind {
        Kind::Reciprocal => {
            let celsius =
                |x: f64| 1.0 / (super::term::BOLTZMANN_EV * x) - super::term::ZERO_CELSIUS;
            (round(celsius(high)), round(celsius(low)))
        }
        Kind::Power => (round((-high).exp()), round((-low).exp())),
        _ => (low, high),
    }
}
