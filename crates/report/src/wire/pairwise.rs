//! All pairs of levels at once, with the many comparisons allowed for.
//!
//! p-values are stepped down by Holm (1979), which holds the chance of any false claim whatever the pairs
//! share. Simultaneous intervals widen every pair alike by Šidák (1967): valid for two-sided intervals of
//! normal estimates whatever their correlation, and a little wider than need be. An interval may hold 1
//! where Holm's p-value is small: stepping down claims more.

use super::compare::{Keyed, value};
use nalgebra::DMatrix;
use sealspan_life::compare::{Test, by_law, factor_names};
use sealspan_life::family::Family;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};
use sealspan_records::observation::Sample;
use serde::Serialize;

/// Levels beyond which pairs are not fitted one by one.
const MOST_LEVELS: usize = 12;

/// Every pair.
#[derive(Debug, Clone, Serialize)]
pub struct Pairwise {
    /// How p-values are adjusted.
    pub p_values: &'static str,
    /// How intervals are widened.
    pub intervals: &'static str,
    /// Chance that every simultaneous interval holds its ratio.
    pub confidence: f64,
    /// The pairs, later level over earlier.
    pub pairs: Vec<Pair>,
}

/// One pair, from the difference d of two levels' coefficients on ln life and its standard error s.
#[derive(Debug, Clone, Serialize)]
pub struct Pair {
    /// This level's life ...
    pub of: String,
    /// ... over this one's.
    pub to: String,
    /// Ratio of lives exp(d), the other columns of the regression held constant.
    pub estimate: f64,
    /// Lower end for this pair alone: exp(d - z s), z the normal quantile.
    pub lower: f64,
    /// Upper end for this pair alone.
    pub upper: f64,
    /// Lower end that holds for all pairs at once: the same at the level confidence^(1/pairs).
    pub simultaneous_lower: f64,
    /// Upper end that holds for all pairs at once.
    pub simultaneous_upper: f64,
    /// p-value of a ratio of 1, for this pair alone: (d/s)² as a chi-square with one degree of freedom.
    pub p_value: f64,
    /// The same allowing for all pairs.
    pub holm_p_value: f64,
    /// Likelihood-ratio test of one life, on these two levels by themselves, other columns left out.
    pub common_life: PairTest,
    /// Likelihood-ratio test of one shape, likewise.
    pub common_shape: PairTest,
}

/// A test of one pair.
#[derive(Debug, Clone, Default, Serialize)]
pub struct PairTest {
    /// Chi-square statistic.
    pub statistic: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<f64>,
    /// p-value for this pair alone.
    pub p_value: Option<f64>,
    /// p-value allowing for all pairs.
    pub holm_p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl PairTest {
    fn none(reason: String) -> Self {
        Self {
            reason: Some(reason),
            ..Self::default()
        }
    }
}

impl From<Test> for PairTest {
    fn from(t: Test) -> Self {
        Self {
            statistic: Some(t.statistic),
            df: Some(t.df),
            p_value: Some(t.p_value),
            ..Self::default()
        }
    }
}

/// Holm's step-down p-values, in the order given.
#[must_use]
pub(crate) fn holm(p_values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    let at = |i: &usize| p_values.get(*i).copied().unwrap_or(1.0);
    order.sort_by(|a, b| at(a).total_cmp(&at(b)).then(a.cmp(b)));
    let mut out = vec![1.0; p_values.len()];
    let mut least = 0.0_f64;
    for (rank, i) in order.iter().enumerate() {
        let left = (p_values.len() - rank) as f64;
        least = least.max((left * at(i)).min(1.0));
        if let Some(slot) = out.get_mut(*i) {
            *slot = least;
        }
    }
    out
}

/// All pairs of `levels` of `by`, from the coefficients on ln life (by `names`) and their covariance.
#[must_use]
pub(crate) fn pairwise(
    names: &[String],
    coefficients: &[f64],
    covariance: &DMatrix<f64>,
    by: &str,
    levels: &[String],
    confidence: f64,
) -> Option<Pairwise> {
    // The base level has no coefficient: its life is the intercept's.
    let place = |level: &String| {
        let name = format!("{by}={level}");
        names.iter().position(|n| *n == name)
    };
    let at: Vec<(&String, Option<usize>)> = levels.iter().map(|l| (l, place(l))).collect();
    let effect = |i: Option<usize>| i.and_then(|i| coefficients.get(i)).copied().unwrap_or(0.0);
    let shared = |i: Option<usize>, j: Option<usize>| match (i, j) {
        (Some(i), Some(j)) => covariance.get((i, j)).copied().unwrap_or(0.0),
        _ => 0.0,
    };
    let count = (levels.len() * levels.len().saturating_sub(1) / 2) as f64;
    let alone = normal_quantile(0.5 + 0.5 * confidence);
    let each = confidence.powf(1.0 / count.max(1.0));
    let together = normal_quantile(0.5 + 0.5 * each);
    let mut pairs = vec![];
    for (i, (to, a)) in at.iter().enumerate() {
        for (of, b) in at.iter().skip(i + 1) {
            let d = effect(*b) - effect(*a);
            let variance = shared(*b, *b) + shared(*a, *a) - 2.0 * shared(*a, *b);
            let error = variance.max(0.0).sqrt();
            pairs.push(Pair {
                of: (*of).clone(),
                to: (*to).clone(),
                estimate: d.exp(),
                lower: (d - alone * error).exp(),
                upper: (d + alone * error).exp(),
                simultaneous_lower: (d - together * error).exp(),
                simultaneous_upper: (d + together * error).exp(),
                p_value: chi_square_survival((d / error).powi(2), 1.0),
                holm_p_value: 1.0,
                common_life: PairTest::default(),
                common_shape: PairTest::default(),
            });
        }
    }
    let p: Vec<f64> = pairs.iter().map(|x| x.p_value).collect();
    for (pair, adjusted) in pairs.iter_mut().zip(holm(&p)) {
        pair.holm_p_value = adjusted;
    }
    (!pairs.is_empty()).then_some(Pairwise {
        p_values: "Holm",
        intervals: "Šidák",
        confidence,
        pairs,
    })
}

impl Pairwise {
    /// Adds the likelihood-ratio tests of each pair by itself.
    pub(crate) fn test_pairs(&mut self, groups: &[Keyed], by: &str, family: &'static dyn Family) {
        let levels = 1 + self
            .pairs
            .iter()
            .take_while(|p| Some(&p.to) == self.pairs.first().map(|f| &f.to))
            .count();
        for pair in &mut self.pairs {
            if levels > MOST_LEVELS {
                let why = format!("{levels} levels are too many to fit every pair by itself");
                pair.common_life = PairTest::none(why.clone());
                pair.common_shape = PairTest::none(why);
                continue;
            }
            let sample = |level: &str| {
                let own = groups.iter().filter(|(key, _)| value(key, by) == level);
                Sample::new(own.flat_map(|(_, s)| s.rows().iter().copied()).collect())
            };
            let names = factor_names(by, &[pair.to.clone(), pair.of.clone()]);
            match by_law(family, &names, &[sample(&pair.to), sample(&pair.of)]) {
                Ok(law) => {
                    pair.common_life = law.common_life.into();
                    pair.common_shape = law.common_shape.map_or_else(
                        || PairTest::none("a level has too few failures for a shape of its own, or the law has no shape".to_owned()),
                        Into::into,
                    );
                }
                Err(why) => {
                    let none = |level: &str| sample(level).tally().failures() <= 0.0;
                    let why = match [&pair.to, &pair.of].into_iter().find(|l| none(l)) {
                        Some(level) => format!("no seal of {level} failed"),
                        None => why.to_string(),
                    };
                    pair.common_life = PairTest::none(why.clone());
                    pair.common_shape = PairTest::none(why);
                }
            }
        }
        self.adjust(|p| &mut p.common_life);
        self.adjust(|p| &mut p.common_shape);
    }

    fn adjust(&mut self, of: fn(&mut Pair) -> &mut PairTest) {
        let known: Vec<f64> = self
            .pairs
            .iter_mut()
            .filter_map(|p| of(p).p_value)
            .collect();
        let mut adjusted = holm(&known).into_iter();
        for test in self.pairs.iter_mut().map(of) {
            test.holm_p_value = test.p_value.and_then(|_| adjusted.next());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::holm;

    #[test]
    fn holm_steps_down_and_never_back() {
        assert_eq!(holm(&[0.01, 0.04, 0.03]), vec![0.03, 0.06, 0.06]);
        assert_eq!(holm(&[0.5, 0.9]), vec![1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }
}
