//! The regression of a comparison, from its question to what is told of it.

use super::collinear::collinearity;
use super::many::MOST_EFFECTS;
use super::options::CompareOptions;
use super::plan::Plan;
use super::result::{self, RegressionResult, RobustNote};
use super::typical::Typical;
use super::{Keyed, LifeRatio, prior, seals, stress};
use crate::wire::separated;
use sealspan_life::regression::{Design, Fitting, Penalty, Place, Regression, Robust, fit_design};

/// Failures per fitted effect under which the answer is doubted (Peduzzi et al. 1995).
const FAILURES_PER_EFFECT: f64 = 10.0;
/// Clusters under which robust intervals are doubted (a rule of ours).
const CLUSTERS: usize = 20;
/// Standard deviation in ln life to which effects are held where the plain regression has no answer.
const HELD: f64 = 1.0;

/// A regression as asked for.
pub struct Asked {
    /// How a key becomes a design row.
    pub plan: Plan,
    /// The groups' design rows.
    pub places: Vec<Place>,
    /// The seals by design row.
    pub design: Design,
    /// Where columns stand that others hang on.
    pub typical: Typical,
    prior: Option<Penalty>,
}

impl Asked {
    /// Lays it out.
    pub fn new(unit: &str, groups: &[Keyed], options: &CompareOptions) -> Result<Self, String> {
        let plan = Plan::new(unit, groups, options)?;
        let effects = plan.names.len() as f64 - 1.0;
        if effects > MOST_EFFECTS {
            return Err(separated::too_many(&plan, effects, MOST_EFFECTS));
        }
        let places = seals::places(groups, &plan)?;
        let prior = prior::penalty(&plan, options)?;
        let mut penalties: Vec<_> = options.more.penalty.map_or(vec![], |sd| plan.ridge(sd));
        penalties.extend(prior);
        let design = Design {
            names: plan.names.clone(),
            lines: seals::lines(groups, &places),
            strata: plan.shapes(),
            penalties,
        };
        let typical = Typical::new(&plan, groups, &places);
        Ok(Self {
            plan,
            places,
            design,
            typical,
            prior,
        })
    }

    /// The groups' design rows, written out.
    pub fn rows(&self) -> Vec<Vec<f64>> {
        let dense = |place: &Place| {
            let mut row = vec![0.0; self.plan.names.len()];
            for (at, value) in &place.row {
                if let Some(slot) = row.get_mut(*at) {
                    *slot = *value;
                }
            }
            row
        };
        self.places.iter().map(dense).collect()
    }

    /// The same with products taken about the typical conditions: there a column's coefficient is its effect.
    pub fn centred_rows(&self) -> Vec<Vec<f64>> {
        let rows = self.rows().into_iter();
        rows.map(|row| self.typical.centred(row)).collect()
    }

    /// The same regression with every effect of a factor held near 0, which has an answer where the plain one has
    /// none: ages between two looks are drawn from it then.
    pub fn held(&self, options: &CompareOptions) -> Option<Regression> {
        let mut design = self.design.clone();
        design.penalties = self.plan.ridge(HELD);
        let fitting = fit_design(options.family, &design).ok()?;
        Some(fitting.regression)
    }

    /// What to doubt before anything is fitted.
    pub fn doubts(&self, groups: &[Keyed], options: &CompareOptions) -> Vec<String> {
        let mut out = vec![];
        let effects = self.plan.names.len() as f64 - 1.0;
        let failures: f64 = groups.iter().map(|(_, s)| s.tally().failures()).sum();
        if effects > 0.0 && failures > 0.0 && failures < FAILURES_PER_EFFECT * effects {
            out.push(format!(
                "{failures:.0} failures for {effects:.0} effect(s): fewer than 10 each, so the effects are indicative (Peduzzi et al. 1995)"
            ));
        }
        if options.compared_within_others() {
            out.push("with an interaction there is no one life ratio, for it hangs on the other column: ask for lives at stated conditions with --predict".to_owned());
        }
        if options.by.is_some() && options.more.shape_by == options.by {
            let age = match options.family.name() {
                "weibull" => "by which 63.2 % have failed",
                "lognormal" | "log_logistic" => "by which half have failed",
                _ => "that the law's location stands for",
            };
            out.push(format!(
                "each level has a shape of its own, so a life ratio holds for the age {age} only: earlier and later ages stand in other ratios, which --predict gives"
            ));
        }
        out
    }

    /// The covariance that allows for like seals of a cluster, if asked for.
    pub fn robust(
        &self,
        fit: &Regression,
        groups: &[Keyed],
        options: &CompareOptions,
    ) -> Option<Robust> {
        let column = options.more.cluster.as_ref()?;
        let robust = fit.robust(&seals::clustered(groups, &self.places, column))?;
        (robust.clusters > self.plan.names.len()).then_some(robust)
    }

    /// The fitted regression as told.
    pub fn result(
        &self,
        fitting: &Fitting,
        robust: Option<&Robust>,
        options: &CompareOptions,
    ) -> RegressionResult {
        let fit = &fitting.regression;
        let level = options.confidence;
        let coefficients = result::effects(&self.plan, fitting, robust, options);
        let (sigma, sigma_reason, sigmas) = result::sigmas(&self.plan, fit, level);
        let mut held = vec![];
        if let Some(sd) = options.more.penalty {
            held.push(format!(
                "penalised: every effect of a factor is held near 0 by a normal prior with standard deviation {sd} in ln life, so effects are drawn towards their base level, the more the fewer failures they have"
            ));
        }
        if let Some((mean, sd)) = options.more.prior {
            held.push(format!(
                "penalised: the activation energy is held near the stated {mean} eV by a normal prior with standard deviation {sd} eV"
            ));
        }
        RegressionResult {
            family: fit.family.name(),
            stresses: stress::stresses(self, fit, &coefficients, options),
            prior: self.prior.map(|p| {
                prior::told(&p, &self.design, fit.family, &coefficients, level)
            }),
            at_typical: self.typical.effects(&self.plan, fit, level),
            coefficients,
            collinearity: collinearity(&self.plan, fit, options),
            sigma,
            sigma_reason,
            sigmas,
            log_likelihood: fit.log_likelihood,
            bounds: if options.more.profile { "profile" } else { "wald" },
            random: None,
            penalised: (!held.is_empty()).then(|| held.join("; ")),
            robust: robust.zip(options.more.cluster.as_ref()).map(|(r, column)| RobustNote {
                cluster: column.clone(),
                clusters: r.clusters,
                small_sample: "G/(G - 1) on the covariance and Student's t with G - 1 degrees of freedom, G the number of clusters",
            }),
        }
    }
}

/// What there is to say of like seals on one asset.
pub fn clusters(
    robust: Option<&Robust>,
    coefficients: usize,
    options: &CompareOptions,
) -> Option<String> {
    if let Some(column) = &options.more.cluster {
        return match robust {
            None => Some(format!(
                "`{column}` makes too few clusters for robust intervals, so there are none: errors of {coefficients} coefficients need more clusters than that"
            )),
            Some(r) if r.clusters < CLUSTERS => Some(format!(
                "only {} clusters by `{column}`: under {CLUSTERS} robust intervals tend to be too short",
                r.clusters
            )),
            Some(_) => None,
        };
    }
    let (seals, assets) = options.more.seals_on_assets?;
    (seals > assets && assets > 0).then(|| {
        format!(
            "{seals} seals sit on {assets} assets, and seals of one asset may be alike, which makes these intervals too short: add --cluster asset"
        )
    })
}

/// Life ratios of every pair of levels, later over earlier.
pub fn ratios(
    fitting: &Fitting,
    robust: Option<&Robust>,
    by: &str,
    levels: &[String],
    options: &CompareOptions,
) -> Vec<LifeRatio> {
    let fit = &fitting.regression;
    let row = |level: &str| -> Vec<f64> {
        let name = format!("{by}={level}");
        fit.names
            .iter()
            .map(|n| f64::from(u8::from(*n == name)))
            .collect()
    };
    let mut out = vec![];
    for (i, to) in levels.iter().enumerate() {
        for of in levels.iter().skip(i + 1) {
            let (a, b) = (row(of), row(to));
            let c = fit.contrast("", &a, &b, options.confidence);
            let weights: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a - b).collect();
            let [lower, upper] = if options.more.profile {
                fitting.profile(&weights, options.confidence)
            } else {
                [None; 2]
            };
            let allowed = robust
                .map(|r| result::robust_interval(r, &weights, c.estimate, options.confidence));
            out.push(LifeRatio {
                of: of.clone(),
                to: to.clone(),
                estimate: c.estimate.exp(),
                lower: lower.unwrap_or(c.lower).exp(),
                upper: upper.unwrap_or(c.upper).exp(),
                p_value: c.p_value,
                robust_lower: allowed.map(|r| r.lower.exp()),
                robust_upper: allowed.map(|r| r.upper.exp()),
                robust_p_value: allowed.map(|r| r.p_value),
            });
        }
    }
    out
}
