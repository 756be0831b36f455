//! Residuals of a regression, for reading off whether its law holds.

use crate::chart::{Axis, Chart, Layer, Stroke, Tone};
use crate::number;
use sealspan_life::family::Family;
use sealspan_life::product_limit::curve;
use sealspan_life::residuals::residuals_at;
use sealspan_records::{Observation, Sample};

/// Steps drawn at most.
const STEPS: usize = 400;

/// Cox-Snell residuals against the exponential law they follow when the law holds; the law's parameters and
/// the seals they are for, and the columns of the regression in words.
pub fn chart<'a>(
    family: &'static dyn Family,
    seals: impl Iterator<Item = (Vec<f64>, &'a Sample)>,
    confidence: f64,
    conditions: &str,
) -> Option<Chart> {
    let mut rows: Vec<Observation> = vec![];
    for (theta, sample) in seals {
        for r in residuals_at(family, &theta, sample) {
            let count = r.observation.count();
            let made = if r.observation.ended() {
                Observation::exact(r.cox_snell.max(f64::MIN_POSITIVE), 0.0, count)
            } else {
                Observation::right(r.cox_snell, 0.0, count)
            };
            rows.extend(made.ok());
        }
    }
    let steps = curve(&Sample::new(rows), confidence)?.steps;
    let steps: Vec<_> = steps
        .into_iter()
        .filter(|s| s.survival > 0.0 && s.at_risk >= 5.0)
        .collect();
    let end = steps.last()?.time;
    let thin = steps.len().div_ceil(STEPS).max(1);
    let path = |f: &dyn Fn(&sealspan_life::product_limit::Step) -> Option<f64>| -> Vec<(f64, f64)> {
        let points = steps.iter().step_by(thin).chain(steps.last());
        std::iter::once((0.0, 0.0))
            .chain(points.filter_map(|s| Some((s.time, f(s)?))))
            .collect()
    };
    let hazard = |share: f64| -share.ln();
    Some(Chart {
        id: "regression-residuals".into(),
        title: "Does the regression's law hold? Residuals against the exponential law they should follow".into(),
        alt: "Cumulative hazard of the Cox-Snell residuals against the residual, with its interval; the dashed line is where it lies when the law holds.".into(),
        x: Axis::linear("hazard that the regression says a seal lived through", "").over(0.0, end),
        y: Axis::linear("hazard seen", ""),
        layers: vec![
            Layer::Band {
                name: "pointwise interval".into(),
                lower: path(&|s| s.upper.map(hazard)),
                upper: path(&|s| s.lower.map(hazard)),
                tone: Tone::Group(0),
                stepped: true,
            },
            Layer::Line {
                name: "the law holds".into(),
                points: vec![(0.0, 0.0), (end, end)],
                stroke: Stroke::dashed(Tone::Ink),
                label: Some("the law holds".into()),
            },
            Layer::Steps {
                name: "residuals".into(),
                points: path(&|s| Some(hazard(s.survival))),
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("residuals".into()),
            },
        ],
        at_risk: None,
        notes: vec![format!(
            "Cox-Snell residuals of the {} regression with {}; failures between two looks stand where half of that stretch's probability lies. Shaded: pointwise {} confidence interval. Drawn while five seals are under watch.",
            family.title(),
            conditions,
            number::level(confidence)
        )],
    })
}
