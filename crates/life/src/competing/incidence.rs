//! Cumulative incidence by mode (Aalen & Johansen 1978): the share that has failed by each mode by an age,
//! with all modes at work.

use super::rows::ByMode;
use crate::product_limit;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Seen;
use std::collections::BTreeMap;

/// A mode's incidence just after one of its failure ages.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Failure age.
    pub time: f64,
    /// Seals under watch just before it.
    pub at_risk: f64,
    /// Failures at it by this mode.
    pub failed: f64,
    /// Share failed by it by this mode.
    pub incidence: f64,
    /// Standard error of that share, of Greenwood's type.
    pub std_error: f64,
    /// The same by Gray's variance, larger in small samples.
    pub gray_std_error: f64,
    /// Lower end of the pointwise interval on the log(−log) scale; `None` where the share is 1.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

/// Cumulative incidence of every mode.
#[derive(Debug, Clone, PartialEq)]
pub struct Incidence {
    /// Steps of each mode in order of age.
    pub modes: Vec<Vec<Step>>,
    /// Product-limit curve of all modes together; 1 less its survival is the sum of the incidences.
    pub overall: product_limit::Curve,
}

impl Incidence {
    /// Share failed by `mode` by age `t`; 0 for a mode out of range.
    #[must_use]
    pub fn share(&self, mode: usize, t: f64) -> f64 {
        let steps = self.modes.get(mode).map_or(&[][..], Vec::as_slice);
        let at = steps.partition_point(|s| s.time <= t);
        at.checked_sub(1)
            .and_then(|i| steps.get(i))
            .map_or(0.0, |s| s.incidence)
    }
}

/// Cumulative incidence of every mode with pointwise intervals at two-sided confidence `level`, between 0
/// and 1; delayed entry and counts as in the product-limit curve. It needs no independence of the modes.
/// `None` when the lives hold intervals.
///
/// F(t) = Σ S(s−) d(s)/n(s). The variance carries the multinomial variance of the failures at each age
/// through the product of transitions, as Greenwood's formula does for the survival (Andersen, Borgan, Gill
/// & Keiding 1993, section IV.4, from memory). Gray's (Gray 1988, Annals of Statistics 16:1141, from memory) is that of
/// the failures as counts that come at a rate: larger in small samples, and the one of his test
/// ([`super::gray`]). Failures at the same age leave (n − d)/(n − 1) of it.
///
/// ```
/// use sealspan_life::competing::incidence::cumulative_incidence;
/// use sealspan_life::competing::rows::{ByMode, ModeRow};
/// use sealspan_records::observation::Observation;
/// let row = |observation, mode| ModeRow { observation, mode };
/// let lives = ByMode::new(
///     vec![
///         row(Observation::exact(2.0, 0.0, 1.0)?, Some(0)),
///         row(Observation::exact(3.0, 0.0, 1.0)?, Some(1)),
///         row(Observation::right(4.0, 0.0, 1.0)?, None),
///         row(Observation::exact(5.0, 0.0, 1.0)?, Some(0)),
///     ],
///     2,
/// )?;
/// let found = cumulative_incidence(&lives, 0.9).unwrap();
/// assert_eq!((found.share(0, 4.0), found.share(0, 5.0), found.share(1, 5.0)), (0.25, 0.75, 0.25));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn cumulative_incidence(lives: &ByMode, level: f64) -> Option<Incidence> {
    let overall = product_limit::curve(&lives.all(), level)?;
    let mut failures: Vec<BTreeMap<u64, f64>> = vec![BTreeMap::new(); lives.modes()];
    for row in lives.rows() {
        if let (Seen::Exact(t), Some(mode)) = (row.observation.seen(), row.mode)
            && let Some(ages) = failures.get_mut(mode)
        {
            // The bits of positive numbers are in their order.
            *ages.entry(t.to_bits()).or_insert(0.0) += row.observation.count();
        }
    }
    let z = normal_quantile(0.5 + 0.5 * level);
    let modes = failures.iter().map(|f| steps(&overall.steps, f, z));
    Some(Incidence {
        modes: modes.collect(),
        overall,
    })
}

/// Survival and one mode's incidence with their variances and covariance.
struct State {
    survival: f64,
    incidence: f64,
    survival_variance: f64,
    covariance: f64,
    variance: f64,
}

impl State {
    /// At one age: `own` of `all` failures among `n` are by the mode.
    fn pass(&mut self, n: f64, all: f64, own: f64) {
        let (kept, gained) = ((n - all).max(0.0) / n, own / n);
        let noise = self.survival * self.survival / (n * n * n);
        self.variance += gained * (2.0 * self.covariance + gained * self.survival_variance)
            + noise * own * (n - own).max(0.0);
        self.covariance = kept * (self.covariance + gained * self.survival_variance)
            - noise * own * (n - all).max(0.0);
        self.survival_variance =
            kept * kept * self.survival_variance + noise * all * (n - all).max(0.0);
        self.incidence += gained * self.survival;
        self.survival *= kept;
    }
}

/// Gray's variance: each failure at an age s moves the share by the mode at t by x = 1 − (F(t) − F(s))/S(s) where it
/// is by the mode, and by x = −(F(t) − F(s))/S(s) else, in units of S(s−)/n.
#[derive(Default)]
struct Gray {
    /// Σ x² over the failures so far, in those units.
    variance: f64,
    /// Σ x/S(s).
    cross: f64,
    /// Σ 1/S(s)².
    square: f64,
}

impl Gray {
    /// At one age, with the survival just before and after it: `own` of `all` failures among `n` are by the mode.
    fn pass(&mut self, n: f64, all: f64, own: f64, survival: (f64, f64)) {
        let (before, after) = survival;
        let gained = before * own / n;
        self.variance += gained * (gained * self.square - 2.0 * self.cross);
        self.cross -= gained * self.square;
        let unit = |d: f64| {
            let alike = if d > 1.0 { (n - d) / (n - 1.0) } else { 1.0 };
            before * before * d * alike / (n * n)
        };
        let (own, others) = (unit(own), unit(all - own));
        self.variance += own;
        // Where none survives nothing is to come.
        if after > 0.0 {
            self.cross += own / after;
            self.square += (own + others) / (after * after);
        }
    }
}

fn steps(overall: &[product_limit::Step], own: &BTreeMap<u64, f64>, z: f64) -> Vec<Step> {
    let mut state = State {
        survival: 1.0,
        incidence: 0.0,
        survival_variance: 0.0,
        covariance: 0.0,
        variance: 0.0,
    };
    let mut gray = Gray::default();
    let mut steps = Vec::with_capacity(own.len());
    for at in overall {
        let failed = own.get(&at.time.to_bits()).copied().unwrap_or(0.0);
        let before = state.survival;
        state.pass(at.at_risk, at.failed, failed);
        gray.pass(at.at_risk, at.failed, failed, (before, state.survival));
        // A failure by another mode moves neither the incidence nor its variance.
        if failed > 0.0 {
            let std_error = state.variance.max(0.0).sqrt();
            let bounds = log_log(state.incidence, std_error, z);
            steps.push(Step {
                time: at.time,
                at_risk: at.at_risk,
                failed,
                incidence: state.incidence,
                std_error,
                gray_std_error: gray.variance.max(0.0).sqrt(),
                lower: bounds.map(|b| b.0),
                upper: bounds.map(|b| b.1),
            });
        }
    }
    steps
}

fn log_log(share: f64, error: f64, z: f64) -> Option<(f64, f64)> {
    let ln = share.ln();
    let half = z * error / (share * -ln);
    (ln < 0.0 && half.is_finite()).then(|| ((ln * half.exp()).exp(), (ln * (-half).exp()).exp()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::rows::ModeRow;
    use super::*;
    use sealspan_records::observation::Observation;

    /// Two modes, delayed entries, counts and ties; invented.
    fn lives() -> ByMode {
        let mut rows = vec![];
        for i in 0..12_u32 {
            let t = f64::from(3 + (7 * i) % 11);
            let entry = if i % 3 == 0 { 2.0 } else { 0.0 };
            let count = f64::from(1 + i % 2);
            let mode = [Some(0), Some(1), None][(i % 3) as usize];
            let seen = match mode {
                Some(_) => Observation::exact(t, entry, count),
                None => Observation::right(t + 5.0, entry, count),
            };
            rows.push(ModeRow {
                observation: seen.unwrap(),
                mode,
            });
        }
        ByMode::new(rows, 2).unwrap()
    }

    #[test]
    fn incidences_and_survival_add_up_to_one() {
        let found = cumulative_incidence(&lives(), 0.9).unwrap();
        assert!(found.modes.iter().all(|m| m.len() > 2));
        for s in &found.overall.steps {
            let sum = found.share(0, s.time) + found.share(1, s.time) + s.survival;
            assert!((sum - 1.0).abs() < 1e-14, "{}", s.time);
        }
        assert_eq!((found.share(0, 0.1), found.share(7, 9.0)), (0.0, 0.0));
    }

    #[test]
    fn a_single_mode_is_the_product_limit_curve_turned_over() {
        let one: Vec<ModeRow> = lives()
            .rows()
            .iter()
            .map(|r| ModeRow {
                mode: r.mode.map(|_| 0),
                ..*r
            })
            .collect();
        let found = cumulative_incidence(&ByMode::new(one, 1).unwrap(), 0.9).unwrap();
        assert_eq!(found.modes[0].len(), found.overall.steps.len());
        for (mode, overall) in found.modes[0].iter().zip(&found.overall.steps) {
            assert!((mode.incidence + overall.survival - 1.0).abs() < 1e-14);
            if let Some(error) = overall.std_error {
                assert!((mode.std_error / error - 1.0).abs() < 1e-12);
            }
            let (lower, upper) = (mode.lower.unwrap(), mode.upper.unwrap());
            assert!(lower < mode.incidence && mode.incidence < upper);
        }
    }

    /// The variance as the sum that textbooks print (Marubini & Valsecchi 1995, section 10.4, from memory).
    #[test]
    fn the_variance_agrees_with_its_sum() {
        let found = cumulative_incidence(&lives(), 0.9).unwrap();
        for (mode, steps) in found.modes.iter().enumerate() {
            for at in steps {
                let mut before = 1.0;
                let mut variance = 0.0;
                for s in found.overall.steps.iter().filter(|s| s.time <= at.time) {
                    let (n, d) = (s.at_risk, s.failed);
                    let own = steps
                        .iter()
                        .find(|o| o.time == s.time)
                        .map_or(0.0, |o| o.failed);
                    let to_come = at.incidence - found.share(mode, s.time);
                    variance += before * before * (n - own) * own / n.powi(3)
                        - 2.0 * to_come * before * own / (n * n);
                    // Where all that are left fail, nothing is to come.
                    if n > d {
                        variance += to_come.powi(2) * d / (n * (n - d));
                    }
                    before = s.survival;
                }
                let ours = at.std_error.powi(2);
                assert!((ours / variance - 1.0).abs() < 1e-11, "{ours} {variance}");
            }
        }
    }

    #[test]
    fn a_last_failure_of_all_keeps_its_variance() {
        let rows = vec![
            ModeRow {
                observation: Observation::exact(2.0, 0.0, 1.0).unwrap(),
                mode: Some(0),
            },
            ModeRow {
                observation: Observation::exact(5.0, 0.0, 3.0).unwrap(),
                mode: Some(1),
            },
        ];
        let found = cumulative_incidence(&ByMode::new(rows, 2).unwrap(), 0.9).unwrap();
        let last = found.modes[1][0];
        assert_eq!(last.incidence, 0.75);
        // Nobody is censored: the variance is the binomial's.
        assert!((last.std_error - (0.75_f64 * 0.25 / 4.0).sqrt()).abs() < 1e-15);
    }

    #[test]
    fn intervals_have_no_incidence() {
        let row = ModeRow {
            observation: Observation::interval(2.0, 3.0, 0.0, 1.0).unwrap(),
            mode: Some(0),
        };
        assert!(cumulative_incidence(&ByMode::new(vec![row], 1).unwrap(), 0.9).is_none());
    }
}
