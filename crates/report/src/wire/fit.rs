//! Life of seals by group: the curve without a family, and every family asked for.

use super::{GroupKey, Number};
use rayon::prelude::*;
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::family::Family;
use sealspan_life::few::{LowerBounds, lower_bounds};
use sealspan_life::fit::{Fit, Model, NoFit, fit_terms};
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::Terms;
use sealspan_life::{product_limit, turnbull};
use sealspan_records::{Answer, Records, Sample};
use serde::Serialize;
use std::sync::Arc;

/// What is asked of each group.
#[derive(Clone)]
pub struct FitOptions {
    /// Unit of ages.
    pub unit: &'static str,
    /// Families, in the order wanted.
    pub families: Vec<&'static dyn Family>,
    /// How bounds are made.
    pub bounds: Method,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Shares failed at which to give the life.
    pub quantiles: Vec<f64>,
    /// Ages at which to give the survival.
    pub at: Vec<f64>,
    /// A stated Weibull shape.
    pub shape: Option<f64>,
}

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct FitDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages.
    pub unit: &'static str,
    /// Two-sided confidence.
    pub confidence: f64,
    /// How bounds are made.
    pub bounds: Method,
    /// Rows read from the file, and those that could not be used.
    pub rows_read: u64,
    /// Rows set aside.
    pub set_aside: u64,
    /// Groups in order of their names.
    pub groups: Vec<GroupFit>,
}

/// One group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupFit {
    /// Its name.
    pub group: GroupKey,
    /// Its seals by kind.
    pub counts: Counts,
    /// The curve without a family.
    pub empirical: Empirical,
    /// One entry a family.
    pub fits: Vec<FamilyFit>,
    /// With fewer than five failures: lower bounds for shapes taken as known.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub assumed_shapes: Vec<AssumedShape>,
}

/// Seals by kind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Counts {
    /// Failed at a known age.
    pub exact: f64,
    /// Running, or taken off for another reason.
    pub right: f64,
    /// Failed before the first look.
    pub left: f64,
    /// Failed between two looks.
    pub interval: f64,
    /// All.
    pub total: f64,
}

/// The curve without a family.
#[derive(Debug, Clone, Serialize)]
pub struct Empirical {
    /// `kaplan_meier` or `turnbull`.
    pub method: &'static str,
    /// Points at failure ages.
    pub points: Vec<Point>,
}

/// A point of the curve.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Point {
    /// Age.
    pub time: f64,
    /// Lower end of the stretch in which these failures lie (interval data only).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// Share surviving it.
    pub survival: f64,
    /// Standard error.
    pub std_error: Option<f64>,
    /// Lower end of the pointwise interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// A family's fit, or why there is none.
#[derive(Debug, Clone, Serialize)]
pub struct FamilyFit {
    /// Family.
    pub family: &'static str,
    /// Whether there is an estimate.
    pub converged: bool,
    /// Whether a shape was estimated along with the life.
    pub free_shape: bool,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Reported parameters.
    pub parameters: Vec<ParameterFit>,
    /// Covariance of the parameters as listed.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: Option<f64>,
    /// Akaike's criterion.
    pub aic: Option<f64>,
    /// The same, corrected for few seals.
    pub aicc: Option<f64>,
    /// Schwarz's criterion.
    pub bic: Option<f64>,
    /// Mean life.
    pub mean_life: Number,
    /// Ages by which shares have failed.
    pub quantiles: Vec<AtShare>,
    /// Shares surviving ages.
    pub survival: Vec<AtTime>,
    /// Tests of fit; none yet.
    pub goodness: Option<()>,
    /// Why there are none.
    pub goodness_reason: &'static str,
    /// Doubts, with what to do.
    pub warnings: Vec<String>,
    /// The fit itself, for figures and decisions.
    #[serde(skip)]
    pub fit: Option<Kept>,
}

/// A fit kept beside its wire form.
#[derive(Clone)]
pub struct Kept(pub Fit);

impl std::fmt::Debug for Kept {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} fit", self.0.family.name())
    }
}

/// A reported parameter.
#[derive(Debug, Clone, Serialize)]
pub struct ParameterFit {
    /// Name.
    pub name: &'static str,
    /// Standard error on the parameter's own scale.
    pub std_error: Option<f64>,
    /// Estimate and interval.
    #[serde(flatten)]
    pub number: Number,
}

/// Age by which the share `p` has failed.
#[derive(Debug, Clone, Serialize)]
pub struct AtShare {
    /// Share failed.
    pub p: f64,
    /// Age.
    #[serde(flatten)]
    pub number: Number,
}

/// Share surviving an age.
#[derive(Debug, Clone, Serialize)]
pub struct AtTime {
    /// Age.
    pub time: f64,
    /// Share.
    #[serde(flatten)]
    pub number: Number,
}

/// Lower bounds when the Weibull shape is taken as known.
#[derive(Debug, Clone, Serialize)]
pub struct AssumedShape {
    /// Shape taken as known; 1 is the exponential law.
    pub shape: f64,
    /// Confidence of each bound by itself (one-sided).
    pub one_sided_confidence: f64,
    /// Lower bound of the characteristic life.
    pub scale_lower: f64,
    /// Lower bound of the mean life.
    pub mean_lower: f64,
    /// Lower bounds of the ages by which shares have failed.
    pub quantiles: Vec<ShareBound>,
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
pub const TRUSTED_FAILURES: f64 = 5.0;
/// Shapes shown when none can be estimated: no ageing, mild and clear wear-out (a rule of ours).
const ASSUMED: [f64; 3] = [1.0, 2.0, 3.0];
const NO_GOODNESS: &str = "no test of fit is computed; compare the fitted line with the points of the curve without a family";
const OPEN: &str = "open on this side: the data set no limit, or the likelihood runs to the edge of the family first";

/// Answers every group of an answer, in parallel and in order.
#[must_use]
pub fn document(records: &Records, answer: &Answer, options: &FitOptions) -> FitDocument {
    FitDocument {
        schema: "sealspan.fit.v1",
        unit: options.unit,
        confidence: options.confidence,
        bounds: options.bounds,
        rows_read: records.rows_read,
        set_aside: answer.set_aside.len() as u64,
        groups: answer
            .groups
            .par_iter()
            .map(|g| group(GroupKey(g.key.clone()), &g.sample, options))
            .collect(),
    }
}

/// Answers one group.
#[must_use]
pub fn group(key: GroupKey, sample: &Sample, options: &FitOptions) -> GroupFit {
    let tally = sample.tally();
    let terms = Arc::new(Terms::new(sample));
    let fits = options
        .families
        .iter()
        .map(|f| family(*f, sample, &terms, options))
        .collect();
    let few = tally.failures() < TRUSTED_FAILURES;
    let shapes: Vec<f64> = match options.shape {
        Some(shape) if few => vec![shape],
        None if few => ASSUMED.to_vec(),
        _ => vec![],
    };
    let one_sided = 0.5 + 0.5 * options.confidence;
    let assumed_shapes = shapes
        .iter()
        .filter_map(|shape| lower_bounds(sample, *shape, one_sided))
        .map(|bound| assumed(&bound, &options.quantiles))
        .collect();
    GroupFit {
        group: key,
        counts: Counts {
            exact: tally.exact,
            right: tally.right,
            left: tally.left,
            interval: tally.interval,
            total: tally.total(),
        },
        empirical: empirical(sample, options.confidence),
        fits,
        assumed_shapes,
    }
}

fn assumed(bound: &LowerBounds, shares: &[f64]) -> AssumedShape {
    AssumedShape {
        shape: bound.shape,
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

/// The curve without a family: product-limit where it applies, else Turnbull's.
#[must_use]
pub fn empirical(sample: &Sample, confidence: f64) -> Empirical {
    if let Some(curve) = product_limit::curve(sample, confidence) {
        let point = |s: &product_limit::Step| Point {
            time: s.time,
            from: None,
            survival: s.survival,
            std_error: s.std_error,
            lower: s.lower,
            upper: s.upper,
            reason: s.std_error.is_none().then_some("the curve has reached 0"),
        };
        return Empirical {
            method: "kaplan_meier",
            points: curve.steps.iter().map(point).collect(),
        };
    }
    let masses = turnbull::curve(sample, confidence)
        .map(|c| c.masses)
        .unwrap_or_default();
    let point = |m: &turnbull::Mass| {
        Point {
        time: m.upper,
        from: Some(m.lower),
        survival: m.survival,
        std_error: m.std_error,
        lower: m.lower_bound,
        upper: m.upper_bound,
        reason: m.std_error.is_none().then_some(
            "no standard error: the curve has reached 0, or the information is singular, or there are very many steps",
        ),
    }
    };
    let finite = masses.iter().filter(|m| m.upper.is_finite());
    Empirical {
        method: "turnbull",
        points: finite.map(point).collect(),
    }
}

fn family(
    family: &'static dyn Family,
    sample: &Sample,
    terms: &Arc<Terms>,
    options: &FitOptions,
) -> FamilyFit {
    let stated = options
        .shape
        .filter(|_| family.name() == "weibull")
        .map(|s| ("shape", s));
    match fit_terms(Model { family, stated }, terms) {
        Ok(fit) => fitted(fit, options),
        Err(why) => unfitted(family, &why, stated.map(|s| s.1), sample, options),
    }
}

fn number(fit: &Fit, quantity: Quantity, options: &FitOptions) -> Number {
    let b = bounds(fit, quantity, options.bounds, options.confidence);
    let known = fit.scaled_error(quantity) <= 0.0;
    let reason = match (b.lower, b.upper) {
        (Some(_), Some(_)) => None,
        _ if known => Some("stated, not estimated: no interval".to_owned()),
        _ => Some(OPEN.to_owned()),
    };
    Number {
        estimate: Some(fit.estimate(quantity)),
        lower: b.lower,
        upper: b.upper,
        reason,
    }
}

fn fitted(fit: Fit, options: &FitOptions) -> FamilyFit {
    let covariance = fit.reported_covariance();
    let parameters = fit
        .family
        .reported()
        .iter()
        .enumerate()
        .map(|(i, p)| ParameterFit {
            name: p.name,
            std_error: Some(covariance[(i, i)].max(0.0).sqrt()),
            number: number(&fit, Quantity::Parameter(i), options),
        });
    let share = |p: &f64| AtShare {
        p: *p,
        number: number(&fit, Quantity::Quantile(*p), options),
    };
    let time = |t: &f64| AtTime {
        time: *t,
        number: number(&fit, Quantity::Survival(*t), options),
    };
    FamilyFit {
        family: fit.family.name(),
        converged: true,
        free_shape: fit.free.len() > 1,
        reason: None,
        parameters: parameters.collect(),
        covariance: Some(
            covariance
                .row_iter()
                .map(|r| r.iter().copied().collect())
                .collect(),
        ),
        log_likelihood: Some(fit.log_likelihood),
        aic: Some(fit.aic()),
        aicc: fit.aicc(),
        bic: Some(fit.bic()),
        mean_life: number(&fit, Quantity::Mean, options),
        quantiles: options.quantiles.iter().map(share).collect(),
        survival: options.at.iter().map(time).collect(),
        goodness: None,
        goodness_reason: NO_GOODNESS,
        warnings: fit
            .warnings
            .iter()
            .map(sealspan_life::warning::Warning::message)
            .collect(),
        fit: Some(Kept(fit)),
    }
}

/// No estimate: bounds where they exist (no failures, shape known), and the reason.
fn unfitted(
    family: &'static dyn Family,
    why: &NoFit,
    shape: Option<f64>,
    sample: &Sample,
    options: &FitOptions,
) -> FamilyFit {
    let shape = shape.or((family.name() == "exponential").then_some(1.0));
    let bound = matches!(why, NoFit::NoFailures { .. })
        .then(|| lower_bounds(sample, shape?, 0.5 + 0.5 * options.confidence))
        .flatten();
    let reason = why.to_string();
    let only = |lower: Option<f64>, upper: Option<f64>| Number {
        estimate: None,
        lower,
        upper,
        reason: Some(reason.clone()),
    };
    let parameter = |name: &'static str| {
        let number = match (name, &bound) {
            ("shape", _) if shape.is_some() => Number {
                estimate: shape,
                reason: Some("stated, not estimated: no interval".to_owned()),
                ..Number::default()
            },
            ("scale" | "mean", Some(b)) => only(Some(b.scale), None),
            ("rate", Some(b)) => only(None, Some(1.0 / b.scale)),
            _ => only(None, None),
        };
        ParameterFit {
            name,
            std_error: None,
            number,
        }
    };
    let share = |p: &f64| AtShare {
        p: *p,
        number: only(bound.map(|b| b.quantile(*p)), None),
    };
    let time = |t: &f64| AtTime {
        time: *t,
        number: only(bound.map(|b| b.survival(*t)), None),
    };
    FamilyFit {
        family: family.name(),
        converged: false,
        free_shape: false,
        reason: Some(reason.clone()),
        parameters: family
            .reported()
            .iter()
            .map(|p| parameter(p.name))
            .collect(),
        covariance: None,
        log_likelihood: None,
        aic: None,
        aicc: None,
        bic: None,
        mean_life: only(bound.map(|b| b.mean()), None),
        quantiles: options.quantiles.iter().map(share).collect(),
        survival: options.at.iter().map(time).collect(),
        goodness: None,
        goodness_reason: NO_GOODNESS,
        warnings: vec![],
        fit: None,
    }
}
