//! Figures of lives: survival curves, probability plot, life ratios.

use super::forest::{Frame, Ratio, forest};
use crate::analysis::lives::GroupLife;
use crate::analysis::run::Results;
use crate::chart::{AtRisk, AtRiskRow, Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::number;
use crate::scale::WEIBULL_PAPER;
use crate::wire::compare::{CompareDocument, LifeRatio};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::product_limit::at_risk;
use sealspan_life::quantity::Quantity;
use sealspan_life::ranks::plotted;

/// Groups shown in one figure; more would not be told apart.
const MOST_GROUPS: usize = 6;
/// With more groups than this, bands would cover each other.
const MOST_BANDS: usize = 4;

/// Steps as drawn: from (0, 1) to the last age watched, thinned when there are very many.
fn steps(points: &[(f64, f64)], last: f64) -> Vec<(f64, f64)> {
    let step = points.len().div_ceil(600).max(1);
    let end = points.last().map(|(_, y)| (last, *y));
    std::iter::once((0.0, 1.0))
        .chain(points.iter().step_by(step).copied())
        .chain(end)
        .collect()
}

/// Survival curves without a family, by group, with numbers at risk.
pub fn survival(results: &Results) -> Option<Chart> {
    let shown: Vec<_> = results
        .fit
        .groups
        .iter()
        .zip(&results.lives)
        .take(MOST_GROUPS)
        .collect();
    let oldest = shown
        .iter()
        .map(|(_, life)| life.sample.oldest())
        .fold(0.0, f64::max);
    if oldest <= 0.0 || shown.iter().all(|(g, _)| g.empirical.points.is_empty()) {
        return None;
    }
    let (mut layers, mut shaded) = (vec![], false);
    for (n, (group, life)) in shown.iter().enumerate() {
        let name = group.group.words();
        let last = life.sample.oldest();
        let points = &group.empirical.points;
        let curve: Vec<_> = points.iter().map(|p| (p.time, p.survival)).collect();
        if shown.len() <= MOST_BANDS {
            let edge = |f: fn(&crate::wire::fit::Point) -> Option<f64>| {
                let known: Vec<_> = points
                    .iter()
                    .filter_map(|p| f(p).map(|y| (p.time, y)))
                    .collect();
                steps(&known, last)
            };
            if points.iter().any(|p| p.lower.is_some()) {
                shaded = true;
                layers.push(Layer::Band {
                    name: format!("{name}, pointwise interval"),
                    lower: edge(|p| p.lower),
                    upper: edge(|p| p.upper),
                    tone: Tone::Group(n),
                    stepped: true,
                });
            }
        }
        layers.push(Layer::Steps {
            name: name.clone(),
            points: steps(&curve, last),
            stroke: Stroke::group(n),
            label: Some(name),
        });
    }
    let axis = Axis::linear("age", results.unit).over(0.0, oldest);
    let at: Vec<f64> = axis
        .scale
        .ticks(0.0, oldest, 8)
        .iter()
        .map(|t| t.at)
        .collect();
    let rows = shown
        .iter()
        .enumerate()
        .map(|(n, (group, life))| AtRiskRow {
            name: group.group.words(),
            tone: Tone::Group(n),
            counts: at_risk(&life.sample, &at)
                .iter()
                .map(|c| c.round() as u64)
                .collect(),
        })
        .collect();
    let level = number::level(results.confidence);
    let shades = if shaded {
        format!("Shaded: pointwise {level} confidence intervals. ")
    } else {
        String::new()
    };
    Some(Chart {
        id: "survival".into(),
        title: "Share of seals still sound at each age, without assuming a law".into(),
        alt: format!(
            "Step curves of the share of seals still sound against age, for {}. Every curve starts at 1 and falls.",
            shown
                .iter()
                .map(|(g, _)| g.group.words())
                .collect::<Vec<_>>()
                .join(", ")
        ),
        x: axis,
        y: Axis::linear("share still sound", "").over(0.0, 1.0),
        layers,
        at_risk: Some(AtRisk {
            heading: "Seals under watch".into(),
            at,
            rows,
        }),
        notes: vec![format!(
            "{shades}Seals running or taken off for another reason count as sound up to that age; where failures are known only between two looks the curve falls at the later look."
        )],
    })
}

/// Ages of the fitted law and its bounds at shares failed, those that the law reaches.
struct Fitted {
    line: Vec<(f64, f64)>,
    lower: Vec<(f64, f64)>,
    upper: Vec<(f64, f64)>,
}

const SHARES: [f64; 29] = [
    0.0002, 0.0005, 0.001, 0.002, 0.003, 0.005, 0.0075, 0.01, 0.015, 0.02, 0.03, 0.05, 0.07, 0.1,
    0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97, 0.99,
];

fn fitted(life: &GroupLife, level: f64) -> Option<Fitted> {
    let fit = &life.fitted.as_ref().ok()?.fit;
    let mut out = Fitted {
        line: vec![],
        lower: vec![],
        upper: vec![],
    };
    for p in SHARES {
        if let Some(age) = fit.finite_estimate(Quantity::Quantile(p)) {
            out.line.push((age, p));
        }
        let b = bounds(fit, Quantity::Quantile(p), Method::Profile, level);
        if let (Some(l), Some(u)) = (b.lower, b.upper) {
            out.lower.push((l, p));
            out.upper.push((u, p));
        }
    }
    Some(out)
}

/// Probability plot of the group with the most failures: points, law and its confidence band.
pub fn probability(results: &Results) -> Option<Chart> {
    let life = results
        .lives
        .iter()
        .filter(|l| l.fitted.is_ok())
        .max_by(|a, b| {
            a.sample
                .tally()
                .failures()
                .total_cmp(&b.sample.tally().failures())
        })?;
    let points = plotted(&life.sample);
    let line = fitted(life, results.confidence)?;
    let name = life.key.words();
    let shares = points
        .iter()
        .map(|p| p.failed)
        .filter(|p| *p > 0.0 && *p < 1.0);
    let lowest = shares.fold(0.05, f64::min);
    let floor = SHARES
        .iter()
        .copied()
        .rev()
        .find(|p| *p <= 0.7 * lowest)
        .unwrap_or(0.0002);
    let ages = || {
        points
            .iter()
            .flat_map(|p| [p.time, p.from])
            .filter(|t| *t > 0.0)
    };
    let start = line
        .line
        .iter()
        .find(|(_, p)| *p >= floor)
        .map_or(1.0, |(t, _)| *t);
    let low = ages().fold(start, f64::min);
    let high = ages().fold(0.0, f64::max).max(life.sample.oldest());
    let marks: Vec<Mark> = points
        .iter()
        .map(|p| Mark {
            x_interval: (p.from < p.time).then_some((p.from.max(low), p.time)),
            ..Mark::at(p.time, p.failed)
        })
        .collect();
    let family = life.fitted.as_ref().ok()?.life.title();
    let bars = if marks.iter().any(|m| m.x_interval.is_some()) {
        "; bars where that step is known only between two ages"
    } else {
        ""
    };
    Some(Chart {
        id: "probability".into(),
        title: format!(
            "{name}: the {family} law against the failures, on paper where it is a straight line"
        ),
        alt: format!(
            "Probability plot of {} failures of {name} with the fitted {family} line and its confidence band.",
            number::fixed(life.sample.tally().failures(), 0)
        ),
        x: Axis::log("age", results.unit).over(low * 0.9, high * 1.25),
        y: Axis::new("share failed", "", WEIBULL_PAPER).over(floor, 0.99),
        layers: vec![
            Layer::Band {
                name: "confidence band of the age".into(),
                lower: line.lower,
                upper: line.upper,
                tone: Tone::Group(0),
                stepped: false,
            },
            Layer::Line {
                name: format!("{family} law"),
                points: line.line,
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some(format!("{family} law")),
            },
            Layer::Points {
                name: "failures".into(),
                marks,
                tone: Tone::Ink,
                marker: Marker::Ring,
                label: Some("failures".into()),
            },
        ],
        at_risk: None,
        notes: vec![format!(
            "Shaded: pointwise {} confidence interval of the age by which a share has failed, from the profile likelihood. Points: middle of each step of the curve without a law{bars}.",
            number::level(results.confidence)
        )],
    })
}

/// The wider of the model's interval and the one that allows for like seals of one asset.
fn wider(r: &LifeRatio) -> (f64, f64) {
    (
        r.robust_lower.map_or(r.lower, |end| end.min(r.lower)),
        r.robust_upper.map_or(r.upper, |end| end.max(r.upper)),
    )
}

/// Life ratios of every pair of groups with their intervals.
pub fn ratios(results: &Results) -> Option<Chart> {
    life_ratios(results.compare.found()?)
}

/// The same of a comparison by itself.
pub fn life_ratios(compare: &CompareDocument) -> Option<Chart> {
    let (shown, base) = forest_pairs(&compare.life_ratios)?;
    let ratio = |r: &LifeRatio| Ratio {
        text: format!("{} over {}", r.of, r.to),
        estimate: r.estimate,
        ends: wider(r),
    };
    let own_shapes = compare
        .regression
        .as_ref()
        .is_some_and(|r| !r.sigmas.is_empty());
    let mut note = format!(
        "Bars: {} confidence intervals from the accelerated life regression with {}; each pair by itself{}.",
        number::level(compare.confidence),
        match own_shapes {
            true => "several shapes",
            false => "one common shape",
        },
        if compare.life_ratios.iter().any(|r| r.robust_lower.is_some()) {
            "; where that is wider, allowing for seals of one asset being alike"
        } else {
            ""
        }
    );
    if let Some(base) = base {
        note.push_str(&format!(
            " {} pairs are too many to draw: each group stands against {base} alone, and --format json holds every pair.",
            compare.life_ratios.len()
        ));
    }
    let frame = Frame {
        id: "ratios",
        title: "How many times as long one group lasts as another",
        axis: "life ratio",
        one: "equally long",
        holds: (1.0, 1.0),
    };
    let alt = "Life ratios of pairs of groups with confidence intervals; 1 means equally long.";
    let list = shown.into_iter().map(ratio).collect();
    Some(forest(&frame, list, alt.to_owned(), note))
}

/// Most pairs drawn.
const MOST_PAIRS: usize = 15;

/// The pairs to draw: all, or where they are too many those against the base, which is then named. `None` without
/// pairs.
fn forest_pairs(all: &[LifeRatio]) -> Option<(Vec<&LifeRatio>, Option<&str>)> {
    // The first pair is that of the second group over the base, the first.
    let base = all.first()?.to.as_str();
    if all.len() <= MOST_PAIRS {
        return Some((all.iter().collect(), None));
    }
    let against = all.iter().filter(|r| r.to == base).collect();
    Some((against, Some(base)))
}

#[cfg(test)]
#[allow(clippy::expect_used)]
mod tests {
    use super::*;

    fn pairs(groups: usize) -> Vec<LifeRatio> {
        let mut out = vec![];
        for to in 0..groups {
            for of in to + 1..groups {
                out.push(LifeRatio {
                    of: of.to_string(),
                    to: to.to_string(),
                    estimate: 1.0,
                    lower: 0.5,
                    upper: 2.0,
                    p_value: 1.0,
                    robust_lower: None,
                    robust_upper: None,
                    robust_p_value: None,
                });
            }
        }
        out
    }

    /// 20 of 50 seals failed, all of them early: the ages by which more fail than ever do are not drawn.
    #[test]
    fn the_line_ends_where_no_more_fail() {
        use sealspan_records::observation::Observation;
        let mut rows: Vec<_> = (1..=20)
            .flat_map(|t| Observation::exact(5.0 * f64::from(t), 0.0, 1.0))
            .collect();
        rows.extend(Observation::right(300.0, 0.0, 30.0));
        let family = sealspan_life::laws::by_name("weak_fraction_weibull").expect("a law");
        let sample = sealspan_records::Sample::new(rows);
        let life = GroupLife::new(crate::wire::GroupKey::default(), sample, vec![], family, 1);
        let line = fitted(&life, 0.9).expect("a fit").line;
        let (least, most) = (line.first().expect("a line"), line.last().expect("a line"));
        assert!(line.iter().all(|(age, _)| age.is_finite()));
        assert!(least.1 < 0.001 && (0.3..0.5).contains(&most.1), "{line:?}");
        // By these shares the fit itself has no age, and would have put not-a-number on the drawing.
        let fit = &life.fitted.as_ref().expect("a fit").fit;
        assert!(fit.estimate(Quantity::Quantile(0.6)).is_nan());
    }

    #[test]
    fn many_groups_stand_against_the_base() {
        let (few, many) = (pairs(6), pairs(9));
        let (shown, base) = forest_pairs(&few).expect("pairs");
        assert_eq!((shown.len(), base), (15, None));
        let (shown, base) = forest_pairs(&many).expect("pairs");
        let of: Vec<&str> = shown.iter().map(|r| r.of.as_str()).collect();
        assert_eq!(base, Some("0"));
        assert_eq!(of, ["1", "2", "3", "4", "5", "6", "7", "8"]);
        assert!(forest_pairs(&[]).is_none());
    }
}
