//! The cross-check by proportional hazards.

use super::compare::{Keyed, TestResult, value};
use super::drawn_ages::DrawnAges;
use sealspan_life::compare::Test;
use sealspan_life::hazards::{
    DrawnHazards, Effect, HazardsFit, Prepared, Proportionality, Source, Ties, TimeScale,
    WatchedLife, WithLooks, fit, fit_drawn,
};
use sealspan_life::imputation::between_looks;
use sealspan_numeric::special::{student_quantile, student_two_sided};
use sealspan_records::{NONE, Observation, Seen};
use serde::Serialize;
use std::collections::BTreeMap;

/// A drift with age less likely than this is spoken of.
const DRIFT: f64 = 0.05;

/// The fit ([`fit`]; [`fit_drawn`] where ages are drawn).
#[derive(Debug, Clone, Serialize)]
pub struct ProportionalHazards {
    /// How tied failures are ordered.
    pub ties: &'static str,
    /// What the errors rest on: `information`, or `cluster`.
    pub errors: &'static str,
    /// Clusters, where errors are by cluster.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clusters: Option<usize>,
    /// Why errors are not by cluster though asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clusters_reason: Option<String>,
    /// How ages known only as intervals came in; absent where every age is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_ages: Option<DrawnAges>,
    /// Coefficients on the log failure rate; intervals by the normal approximation, or where errors are by cluster by
    /// Student's t.
    pub coefficients: Vec<HazardCoefficient>,
    /// Log partial likelihood.
    pub log_likelihood: f64,
    /// The same without any effect.
    pub log_likelihood_null: f64,
    /// Tests of no effect at all.
    pub tests: Vec<TestResult>,
    /// Do the ratios drift with age? All columns at once.
    pub proportionality: TestResult,
    /// Does it agree with the regression on ln life?
    pub agreement: Agreement,
}

/// A coefficient.
#[derive(Debug, Clone, Serialize)]
pub struct HazardCoefficient {
    /// Name, as in the regression.
    pub name: String,
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of no effect.
    pub p_value: f64,
    /// Failure rate over that of the base, or for one unit more: exp(estimate).
    pub hazard_ratio: f64,
    /// Lower end.
    pub hazard_ratio_lower: f64,
    /// Upper end.
    pub hazard_ratio_upper: f64,
    /// What the ratio is of, where that is neither a level against its base nor one unit more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hazard_ratio_of: Option<String>,
    /// p-value of a ratio that does not drift with age (Grambsch & Therneau 1994).
    pub proportionality_p_value: Option<f64>,
    /// Share of its variance that comes from ages known only as intervals.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_share: Option<f64>,
}

/// Whether the two models say the same.
#[derive(Debug, Clone, Serialize)]
pub struct Agreement {
    /// True or false; `null` where there is no regression to agree with.
    pub agrees: Option<bool>,
    /// In words.
    pub words: String,
}

/// The regression on ln life, as far as the cross-check looks at it.
#[derive(Debug, Clone)]
pub struct LnLife {
    /// The law.
    pub family: &'static str,
    /// Spread of ln life, where it is one number.
    pub sigma: Option<f64>,
    /// Name, estimate, lower and upper end of each coefficient.
    pub effects: Vec<(String, [f64; 3])>,
}

/// The model's columns and lives, and where ages between two looks come from.
pub struct HazardsQuestion<'a> {
    /// Groups.
    pub groups: &'a [Keyed],
    /// Names of the design's columns, intercept first.
    pub names: &'a [String],
    /// Its rows.
    pub rows: &'a [Vec<f64>],
    /// Column whose values are the clusters.
    pub cluster: Option<&'a str>,
    /// Two-sided confidence.
    pub confidence: f64,
    /// The regression on ln life, as far as it is looked at.
    pub regression: Option<&'a LnLife>,
    /// Whether that to draw ages from has its effects held near 0, for want of an answer without.
    pub held: bool,
    /// The same, to draw ages from.
    pub source: Option<Source<'a>>,
}

/// Lives of all groups by design row and cluster.
fn lives(groups: &[Keyed], cluster: Option<&str>) -> Vec<WatchedLife> {
    let mut lives: Vec<WatchedLife> = vec![];
    let mut clusters: BTreeMap<&str, usize> = BTreeMap::new();
    let mut unnamed = usize::MAX;
    // Rows alike are one where nothing tells them apart: neither a cluster nor the ages drawn for each.
    let drawn = |o: &Observation| matches!(o.seen(), Seen::Interval(..));
    let alike = cluster.is_none() && !groups.iter().any(|(_, s)| s.rows().iter().any(drawn));
    for (design, (key, sample)) in groups.iter().enumerate() {
        let reduced = alike.then(|| sample.reduce());
        for observation in reduced.as_ref().unwrap_or(sample).rows() {
            let cluster = match cluster.map(|c| value(key, c)) {
                // Seals of no known cluster are no cluster together.
                Some(NONE) => {
                    unnamed -= 1;
                    unnamed
                }
                Some(word) => {
                    let next = clusters.len();
                    *clusters.entry(word).or_insert(next)
                }
                None => 0,
            };
            lives.push(WatchedLife {
                observation: *observation,
                design,
                stratum: 0,
                cluster,
            });
        }
    }
    lives
}

/// Names and design rows without the intercept.
fn columns<'a>(names: &'a [String], rows: &[Vec<f64>]) -> (&'a [String], Vec<Vec<f64>>) {
    let design = rows.iter().map(|r| r.iter().skip(1).copied().collect());
    (names.get(1..).unwrap_or_default(), design.collect())
}

/// Lives of all groups with their design rows, the intercept left out.
pub(super) fn prepared(
    groups: &[Keyed],
    names: &[String],
    rows: &[Vec<f64>],
    cluster: Option<&str>,
) -> Result<Prepared, String> {
    let (names, design) = columns(names, rows);
    Prepared::new(names, &design, &lives(groups, cluster)).map_err(|why| why.to_string())
}

/// The same for laws, which take failures between two looks as they are.
pub(super) fn with_looks(
    groups: &[Keyed],
    names: &[String],
    rows: &[Vec<f64>],
    cluster: &str,
) -> Result<WithLooks, String> {
    let (names, design) = columns(names, rows);
    let lives = lives(groups, Some(cluster));
    WithLooks::new(names, &design, &lives).map_err(|why| why.to_string())
}

/// Fits proportional hazards with the columns of the regression.
///
/// # Errors
/// In words, where there is no fit.
pub(crate) fn proportional_hazards(
    asked: &HazardsQuestion<'_>,
) -> Result<ProportionalHazards, String> {
    let all = asked.groups.iter().flat_map(|(_, sample)| sample.rows());
    let between = between_looks(all);
    match asked.source.filter(|_| between > 0.0) {
        Some(source) => drawn(asked, source, between),
        None => exact(asked),
    }
}

fn exact(asked: &HazardsQuestion<'_>) -> Result<ProportionalHazards, String> {
    let data = prepared(asked.groups, asked.names, asked.rows, asked.cluster)?;
    let fit = fit(data, Ties::Efron).map_err(|why| why.to_string())?;
    let mut covariance = fit.covariance();
    let mut by_cluster = None;
    if asked.cluster.is_some() {
        by_cluster = Some(match fit.cluster_covariance() {
            Ok(robust) => {
                covariance = robust;
                Ok(fit.data().clusters())
            }
            Err(why) => Err(why.to_string()),
        });
    }
    let found = Found {
        drift: fit.proportionality(TimeScale::ShareFailed),
        effects: fit.effects(&covariance, asked.confidence),
        by_cluster,
        tests: tests(&fit),
        log_likelihood: [fit.log_likelihood, fit.log_likelihood_null],
    };
    Ok(found.told(asked.regression, asked.confidence))
}

/// Ages drawn from the regression, and the fits of all drawings put together.
fn drawn(
    asked: &HazardsQuestion<'_>,
    source: Source<'_>,
    between: f64,
) -> Result<ProportionalHazards, String> {
    let (names, design) = columns(asked.names, asked.rows);
    let lives = lives(asked.groups, asked.cluster);
    let clustered = asked.cluster.is_some();
    let fit = fit_drawn(names, &design, &lives, source, clustered, asked.confidence)
        .map_err(|why| why.to_string())?;
    let DrawnHazards { shares, .. } = &fit;
    let shares = shares.clone();
    let found = Found {
        drift: fit.proportionality,
        effects: fit.effects,
        by_cluster: fit.clusters,
        tests: fit.wald_test.as_ref().map(result).into_iter().collect(),
        log_likelihood: [fit.log_likelihood, fit.log_likelihood_null],
    };
    let mut told = found.told(asked.regression, asked.confidence);
    let largest = shares.iter().copied().fold(0.0, f64::max);
    for (coefficient, share) in told.coefficients.iter_mut().zip(shares) {
        coefficient.drawn_share = Some(share);
    }
    told.drawn_ages = Some(DrawnAges::from_regression(
        between, source, asked.held, largest,
    ));
    Ok(told)
}

/// A fit before it is told.
struct Found {
    effects: Vec<Effect>,
    drift: Option<Proportionality>,
    by_cluster: Option<Result<usize, String>>,
    tests: Vec<TestResult>,
    log_likelihood: [f64; 2],
}

impl Found {
    fn told(self, regression: Option<&LnLife>, confidence: f64) -> ProportionalHazards {
        let mut effects = self.effects;
        if let Some(Ok(clusters)) = self.by_cluster {
            by_student(&mut effects, clusters, confidence);
        }
        let agreement = agreement(&effects, regression, self.drift.as_ref());
        let [log_likelihood, log_likelihood_null] = self.log_likelihood;
        let errors = match self.by_cluster {
            Some(Ok(_)) => "cluster",
            _ => "information",
        };
        let (clusters, clusters_reason) = match self.by_cluster {
            Some(Ok(n)) => (Some(n), None),
            Some(Err(why)) => (None, Some(why)),
            None => (None, None),
        };
        ProportionalHazards {
            ties: "efron",
            errors,
            clusters,
            clusters_reason,
            drawn_ages: None,
            coefficients: coefficients(effects, self.drift.as_ref()),
            log_likelihood,
            log_likelihood_null,
            tests: self.tests,
            proportionality: match &self.drift {
                Some(d) => result(&d.global),
                None => TestResult {
                    name: "proportionality",
                    statistic: None,
                    df: None,
                    p_value: None,
                    reason: Some(
                        "the failures are too few, or at too few ages, to see a drift".to_owned(),
                    ),
                },
            },
            agreement,
        }
    }
}

/// Intervals and p-values of errors by cluster: Student's t with a degree of freedom less than clusters, as in the
/// regression on ln life.
fn by_student(effects: &mut [Effect], clusters: usize, confidence: f64) {
    let df = clusters as f64 - 1.0;
    let critical = student_quantile(0.5 + 0.5 * confidence, df);
    for e in effects {
        e.lower = e.estimate - critical * e.std_error;
        e.upper = e.estimate + critical * e.std_error;
        e.p_value = student_two_sided(e.estimate / e.std_error, df);
    }
}

fn result(t: &Test) -> TestResult {
    TestResult {
        name: t.name,
        statistic: Some(t.statistic),
        df: Some(t.df),
        p_value: Some(t.p_value),
        reason: None,
    }
}

fn tests(fit: &HazardsFit) -> Vec<TestResult> {
    [&fit.ratio_test, &fit.score_test, &fit.wald_test]
        .map(result)
        .into()
}

pub(super) fn coefficients(
    effects: Vec<Effect>,
    drift: Option<&Proportionality>,
) -> Vec<HazardCoefficient> {
    let column = |name: &str| {
        let all = drift.iter().flat_map(|d| &d.columns);
        all.into_iter()
            .find(|c| c.name == name)
            .map(|c| c.test.p_value)
    };
    effects
        .into_iter()
        .map(|e| HazardCoefficient {
            proportionality_p_value: column(&e.name),
            hazard_ratio: e.estimate.exp(),
            hazard_ratio_lower: e.lower.exp(),
            hazard_ratio_upper: e.upper.exp(),
            name: e.name,
            estimate: e.estimate,
            std_error: e.std_error,
            lower: e.lower,
            upper: e.upper,
            p_value: e.p_value,
            hazard_ratio_of: None,
            drawn_share: None,
        })
        .collect()
}

/// A column agrees when the two models do not contradict each other: for Weibull lives, when −b/σ lies in
/// the interval of the hazard coefficient; for other laws, unless both intervals leave 0 out and both
/// effects point the same way (what raises the failure rate must shorten the life). A rule of ours.
fn agreement(
    effects: &[Effect],
    regression: Option<&LnLife>,
    drift: Option<&Proportionality>,
) -> Agreement {
    let Some(regression) = regression else {
        return Agreement {
            agrees: None,
            words: "stands alone: the regression on ln life has no answer".to_owned(),
        };
    };
    let sigma = match regression.family {
        "weibull" => regression.sigma,
        "exponential" => Some(1.0),
        _ => None,
    };
    let mut apart: Vec<&str> = vec![];
    for effect in effects {
        let other = regression.effects.iter().find(|c| c.0 == effect.name);
        let Some((_, [estimate, lower, upper])) = other else {
            continue;
        };
        let fits = match sigma {
            Some(sigma) => {
                let implied = -estimate / sigma;
                effect.lower <= implied && implied <= effect.upper
            }
            None => {
                let clear = effect.lower * effect.upper > 0.0 && lower * upper > 0.0;
                !clear || effect.estimate * estimate < 0.0
            }
        };
        if !fits {
            apart.push(&effect.name);
        }
    }
    let mut words = if apart.is_empty() {
        "agrees: every failure rate moves as the lives do".to_owned()
    } else {
        format!(
            "doesn't agree on {}: plot the lives of these groups before relying on either",
            apart.join(", ")
        )
    };
    if let Some(d) = drift.filter(|d| d.global.p_value < DRIFT) {
        let least = d
            .columns
            .iter()
            .min_by(|a, b| a.test.p_value.total_cmp(&b.test.p_value));
        let (name, way) = least.map_or(("", ""), |c| {
            (
                c.name.as_str(),
                if c.direction > 0.0 { "up" } else { "down" },
            )
        });
        words.push_str(&format!(
            "; but failure-rate ratios drift with age, that of {name} most ({way}), so each is an average over the ages seen"
        ));
    }
    Agreement {
        agrees: Some(apart.is_empty()),
        words,
    }
}
