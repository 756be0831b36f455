//! What can be said with few or no failures.

use super::{FitOptions, RankLineResult};
use sealspan_life::bounds::Method;
use sealspan_life::family::Family;
use sealspan_life::few::{LowerBounds, lower_bounds};
use sealspan_life::laws;
use sealspan_life::rank_regression::{MedianRank, Paper, rank_regression};
use sealspan_life::ranks::Regress;
use sealspan_life::regression::{Cell, Design, Line, random_factor, regress};
use sealspan_life::terms::Terms;
use sealspan_records::{Answer, Sample};
use serde::Serialize;
use std::sync::Arc;

/// Lower bounds when the Weibull shape is taken as known.
#[derive(Debug, Clone, Serialize)]
pub struct AssumedShape {
    /// Shape taken as known; 1 is the exponential law.
    pub shape: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// Confidence of each bound by itself (one-sided).
    pub one_sided_confidence: f64,
    /// Lower bound of the characteristic life.
    pub scale_lower: f64,
    /// Lower bound of the mean life.
    pub mean_lower: f64,
    /// Lower bounds of the ages by which shares have failed.
    pub quantiles: Vec<ShareBound>,
    /// Lower bounds of the shares surviving the ages asked about.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub survival: Vec<SurvivalBound>,
    /// Lower bounds of the time left to seals of the ages asked about.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub remaining: Vec<RemainingBound>,
}

/// Lower bound of the share surviving an age.
#[derive(Debug, Clone, Serialize)]
pub struct SurvivalBound {
    /// Age.
    pub time: f64,
    /// Lower bound of the share.
    pub lower: f64,
}

/// Lower bound of the time within which the share `p` of seals now aged `age` fails.
#[derive(Debug, Clone, Serialize)]
pub struct RemainingBound {
    /// Age now.
    pub age: f64,
    /// Share failed.
    pub p: f64,
    /// Lower bound of the time.
    pub lower: f64,
}

/// Lower bound of the age by which the share `p` has failed.
#[derive(Debug, Clone, Serialize)]
pub struct ShareBound {
    /// Share failed.
    pub p: f64,
    /// Lower bound of the age.
    pub lower: f64,
}

/// Below this many failures no shape is trusted by itself (a rule of ours).
pub(crate) const TRUSTED_FAILURES: f64 = 5.0;
/// Shapes shown when none can be estimated: no ageing, mild and clear wear-out (a rule of ours).
const ASSUMED: [f64; 3] = [1.0, 2.0, 3.0];

/// More seals than this have no need of a line through their ranks.
const RANKED: f64 = 20_000.0;
/// From more groups than this the shape that they share is told with their lives as draws (a rule of ours).
const MANY_GROUPS: usize = 200;

/// Fewest failures from which a free shape is shown.
const SHAPED: f64 = 5.0;

/// The straight line through the median ranks, or why there is none.
pub(super) fn rank_line(sample: &Sample) -> Result<RankLineResult, String> {
    if sample.tally().total() > RANKED {
        return Err("too many seals for a line through their ranks".to_owned());
    }
    if sample.tally().failures() < SHAPED {
        return Err("fewer than 5 failures: a shape from so few is not shown".to_owned());
    }
    let line = rank_regression(
        sample,
        Paper::Weibull,
        MedianRank::Benard,
        Regress::AgeOnRank,
    )
    .map_err(|why| why.to_string())?;
    Ok(RankLineResult {
        shape: 1.0 / line.slope,
        scale: line.intercept.exp(),
        failures: line.failures,
        note: "secondary: it has no interval and weighs failures alike; use the maximum-likelihood fit",
    })
}

/// What this many failures allow to say, in words.
pub(super) fn ladder(failures: f64, options: &FitOptions) -> String {
    let posterior = options.bounds == Some(Method::Posterior);
    let words = match (failures as u64, options.shape.is_some(), posterior) {
        (0, true, _) => "no failure: lower bounds of life only, for the shape stated",
        (1..=4, true, _) => {
            "fewer than 5 failures: the life rests on the shape stated; see how it moves with another"
        }
        (0, _, true) => {
            "no failure: the posterior rests on its priors and on how long seals have lasted; beside it lower bounds of life for shapes taken as known"
        }
        (1..=4, _, true) => {
            "fewer than 5 failures: the posterior leans on the prior of the shape, as far as is stated below; beside it lower bounds of life for shapes taken as known"
        }
        (0, ..) => {
            "no failure: lower bounds of life only, each for a shape taken as known; --bounds posterior weighs all shapes by a prior"
        }
        (1, ..) => {
            "one failure: lower bounds of life for shapes taken as known; no shape can be told; --bounds posterior weighs all shapes by a prior"
        }
        (2..=4, ..) => {
            "fewer than 5 failures: lower bounds of life for shapes taken as known, or the shape of like groups; a free shape is not trusted; --bounds posterior weighs all shapes by a prior"
        }
        (5..=9, ..) => {
            "fewer than 10 failures: indicative; the interval matters more than the estimate"
        }
        (10..=49, ..) => {
            "10 to 49 failures: shape and life are estimated together; of the kinds of interval the calibrated one holds best here, and one end by itself is the weaker for any other"
        }
        _ => {
            "50 failures or more: shape and life are estimated together, and the kinds of interval differ little; what is still open is whether the law suits, and ages beyond the oldest seal seen"
        }
    };
    words.to_owned()
}

/// The Weibull shape that groups share, fitted together (each with its own scale), for those with too few
/// failures of their own. `None` for one group, or too few failures in all.
pub(super) fn pooled_shape(answer: &Answer, options: &FitOptions) -> Option<f64> {
    let few = |s: &Sample| s.tally().failures() < TRUSTED_FAILURES;
    let with: Vec<&Sample> = answer
        .groups
        .iter()
        .map(|g| &g.sample)
        .filter(|s| s.tally().failures() > 0.0)
        .collect();
    let failures: f64 = with.iter().map(|s| s.tally().failures()).sum();
    let wanted = options.shape.is_none() && answer.groups.iter().any(|g| few(&g.sample));
    if !wanted || with.len() < 2 || failures < 2.0 * TRUSTED_FAILURES {
        return None;
    }
    let family = laws::by_name("weibull")?;
    if with.len() > MANY_GROUPS {
        return shape_of_many(family, &with);
    }
    let cells: Vec<Cell> = with
        .iter()
        .enumerate()
        .map(|(i, sample)| Cell {
            row: (0..with.len())
                .map(|j| f64::from(u8::from(j == 0 || i == j)))
                .collect(),
            terms: Arc::new(Terms::new(sample)),
        })
        .collect();
    let names: Vec<String> = (0..with.len()).map(|i| format!("group {i}")).collect();
    let fit = regress(family, &names, &cells).ok()?;
    fit.x.get(with.len()).map(|ln_sigma| (-ln_sigma).exp())
}

/// The shape that very many groups share, each group's life a draw from one normal: with a scale of its own for each,
/// a shape fitted to a failure or two a group would be far too large (Neyman & Scott 1948, from memory).
fn shape_of_many(family: &'static dyn Family, with: &[&Sample]) -> Option<f64> {
    let line = |sample: &&Sample| Line {
        row: vec![(0, 1.0)],
        offset: 0.0,
        stratum: 0,
        terms: Arc::new(Terms::new(sample)),
    };
    let design = Design {
        names: vec!["intercept".to_owned()],
        lines: with.iter().map(line).collect(),
        strata: 1,
        penalties: vec![],
    };
    let levels: Vec<usize> = (0..with.len()).collect();
    // The level is that of an interval which is not used.
    let found = random_factor(family, &design, &levels, with.len(), 0.9, None).ok()?;
    let ln_sigma = found.regression.x.get(1)?;
    Some((-ln_sigma).exp())
}

/// Lower bounds under shapes taken as known, for a group with too few failures.
pub(super) fn assumed_shapes(
    sample: &Sample,
    options: &FitOptions,
    pooled: Option<f64>,
) -> Vec<AssumedShape> {
    if sample.tally().failures() >= TRUSTED_FAILURES {
        return vec![];
    }
    let shapes: Vec<(f64, &'static str)> = match options.shape {
        Some(shape) => vec![(shape, "stated")],
        None => ASSUMED
            .iter()
            .map(|s| (*s, "assumed"))
            .chain(pooled.map(|s| (s, "shared by the groups")))
            .collect(),
    };
    let one_sided = 0.5 + 0.5 * options.confidence;
    shapes
        .into_iter()
        .filter_map(|(shape, source)| {
            let bound = lower_bounds(sample, shape, one_sided)?;
            Some(assumed(&bound, source, options))
        })
        .collect()
}

fn assumed(bound: &LowerBounds, source: &'static str, options: &FitOptions) -> AssumedShape {
    let shares = &options.quantiles;
    // Under a known shape everything of the life rises with its scale, so its lower bound gives theirs.
    let lived = |age: f64| (age / bound.scale).powf(bound.shape);
    let left = |age: f64, p: f64| {
        let until = (lived(age) - (-p).ln_1p()).powf(bound.shape.recip());
        (bound.scale * until - age).max(0.0)
    };
    let of_age = |age: f64| {
        shares.iter().map(move |p| RemainingBound {
            age,
            p: *p,
            lower: left(age, *p),
        })
    };
    AssumedShape {
        survival: options
            .at
            .iter()
            .map(|time| SurvivalBound {
                time: *time,
                lower: (-lived(*time)).exp(),
            })
            .collect(),
        remaining: options.ages_now.iter().flat_map(|a| of_age(*a)).collect(),
        shape: bound.shape,
        source,
        one_sided_confidence: bound.confidence,
        scale_lower: bound.scale,
        mean_lower: bound.mean(),
        quantiles: shares
            .iter()
            .map(|p| ShareBound {
                p: *p,
                lower: bound.quantile(*p),
            })
            .collect(),
    }
}
