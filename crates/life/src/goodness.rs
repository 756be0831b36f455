//! Tests of fit under censoring: Anderson–Darling and Cramér–von Mises, with p-values from refits.
//!
//! n ∫ (Fₙ(u) − u)² w(u) du over the transformed ages u = F̂(t), Fₙ the product-limit curve, up to the largest
//! age seen; w = 1 (Cramér–von Mises) or 1/(u(1 − u)) (Anderson–Darling). Without censoring these are the
//! classical statistics (D'Agostino & Stephens 1986, "Goodness-of-fit techniques", chapter 4; from memory).
//! A failure known only between two ages is put where half of that stretch's probability lies. The refits
//! are treated alike, so the p-values hold whatever the censoring.

use crate::family::Family;
use crate::fit::Fit;
use crate::refits::Refits;
use crate::terms::Terms;
use rayon::prelude::*;

/// The two statistics, pure numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistics {
    /// Anderson–Darling: looks hard at the tails.
    pub anderson_darling: f64,
    /// Cramér–von Mises: looks at the middle.
    pub cramer_von_mises: f64,
}

/// Statistics with their p-values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goodness {
    /// The statistics of the sample.
    pub statistics: Statistics,
    /// Share of refits of samples from the fitted law with an Anderson–Darling statistic as large.
    pub p_value: f64,
    /// The same for Cramér–von Mises.
    pub p_value_cramer_von_mises: f64,
    /// Monte-Carlo standard error of `p_value`.
    pub p_value_error: f64,
    /// Refits used.
    pub refits: usize,
}

/// Statistics of a sample against a law. `None` without failures.
///
/// ```
/// use sealspan_life::{goodness::statistics, laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// // Two lives where the law has a quarter and three quarters failed: W² = 1/(12 n) = 1/24.
/// let ages = [0.25_f64, 0.75].map(|u| Observation::exact(-(-u).ln_1p(), 0.0, 1.0).unwrap());
/// let exponential = by_name("exponential").unwrap();
/// let found = statistics(exponential, &[0.0], &Terms::new(&Sample::new(ages.into()))).unwrap();
/// assert!((found.cramer_von_mises - 1.0 / 24.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn statistics(family: &dyn Family, theta: &[f64], terms: &Terms) -> Option<Statistics> {
    // (u, weight of failures, weight leaving in all, weight entering).
    let share = |t: f64| -family.ln_survival(theta, t).exp_m1();
    let mut exits: Vec<(f64, f64, f64)> = vec![];
    let mut entries: Vec<(f64, f64)> = vec![];
    for p in &terms.density {
        exits.push((share(p.age.t), p.weight, p.weight));
    }
    for p in &terms.survival {
        if p.weight < 0.0 {
            entries.push((share(p.age.t), -p.weight));
        } else {
            exits.push((share(p.age.t), 0.0, p.weight));
        }
    }
    for s in &terms.interval {
        let lower = s.lower.map_or(0.0, |a| share(a.t));
        exits.push((0.5 * (lower + share(s.upper.t)), s.weight, s.weight));
    }
    let total = terms.extent.total;
    let late: f64 = entries.iter().map(|e| e.1).sum();
    let all: f64 = exits.iter().map(|e| e.2).sum();
    // Failures before those that are censored at the same age.
    exits.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)));
    entries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut entering = entries.into_iter().peekable();
    let mut at_risk = all - late;
    let mut survival = 1.0;
    let mut from = 0.0;
    let mut sums = Sums::default();
    let mut failed = false;
    for (u, failures, leaving) in exits {
        while let Some((_, weight)) = entering.next_if(|e| e.0 < u) {
            at_risk += weight;
        }
        if failures > 0.0 && at_risk > 0.0 {
            sums.add(from, u, 1.0 - survival);
            survival *= (1.0 - failures / at_risk).max(0.0);
            from = u;
            failed = true;
        }
        at_risk -= leaving;
        if at_risk <= 0.0 && survival > 0.0 {
            // The last seal seen was sound: the curve ends there.
            sums.add(from, u, 1.0 - survival);
            from = u;
        }
    }
    if survival <= 1e-12 {
        sums.add(from, 1.0, 1.0);
    }
    failed.then_some(Statistics {
        anderson_darling: total * sums.tails,
        cramer_von_mises: total * sums.middle,
    })
}

/// ∫ (c − u)² and ∫ (c − u)²/(u(1 − u)) piece by piece.
#[derive(Default)]
struct Sums {
    middle: f64,
    tails: f64,
}

impl Sums {
    fn add(&mut self, from: f64, to: f64, c: f64) {
        // The transformed ages stay inside (0, 1).
        let (from, to) = (from.clamp(0.0, 1.0), to.clamp(0.0, 1.0));
        if to <= from {
            return;
        }
        self.middle += ((to - c).powi(3) - (from - c).powi(3)) / 3.0;
        let tail = |weight: f64, x: f64| {
            if weight > 0.0 {
                weight * x.max(1e-300).ln()
            } else {
                0.0
            }
        };
        let at = |u: f64| tail(c * c, u) - tail((1.0 - c).powi(2), 1.0 - u) - u;
        self.tails += at(to) - at(from);
    }
}

/// Tests the fit by its refits: p = (1 + refits with a statistic as large)/(1 + refits), with the standard error
/// √(p(1 − p)/refits). `None` without failures.
///
/// ```
/// use sealspan_life::{fit::fit, goodness::goodness, laws::by_name, refits::Refits};
/// use sealspan_records::{Observation, Sample};
/// // Twenty lives more alike than an exponential law has them, so that A²(1 + 0.6/n) = 1.321: the 5 % point where the
/// // mean is estimated (D'Agostino & Stephens 1986, table 4.14; from memory).
/// let age = |i: i32| (-(1.0 - (f64::from(i) + 0.5) / 20.0).ln()).powf(0.6001);
/// let sample = Sample::new((0..20).map(|i| Observation::exact(age(i), 0.0, 1.0).unwrap()).collect());
/// let fit = fit(by_name("exponential").unwrap(), &sample).unwrap();
/// let test = goodness(&fit, &Refits::new(&fit, &sample, 2000, 1).unwrap()).unwrap();
/// assert!((test.statistics.anderson_darling * 1.03 - 1.321).abs() < 1e-3);
/// assert!((test.p_value - 0.05).abs() < 3.0 * test.p_value_error && test.p_value_error < 0.006);
/// ```
#[must_use]
pub fn goodness(fit: &Fit, refits: &Refits) -> Option<Goodness> {
    let own = statistics(fit.family, &fit.theta, &fit.terms)?;
    let drawn: Vec<Statistics> = refits
        .list
        .par_iter()
        .filter_map(|refit| {
            let theta = refits.fit.problem(&refit.terms).place(&refit.x);
            statistics(fit.family, &theta, &refit.terms)
        })
        .collect();
    let n = drawn.len() as f64;
    let share = |f: fn(&Statistics) -> f64| {
        let beyond = drawn.iter().filter(|d| f(d) >= f(&own)).count() as f64;
        (1.0 + beyond) / (1.0 + n)
    };
    let p_value = share(|s| s.anderson_darling);
    Some(Goodness {
        statistics: own,
        p_value,
        p_value_cramer_von_mises: share(|s| s.cramer_von_mises),
        p_value_error: (p_value * (1.0 - p_value) / n).sqrt(),
        refits: drawn.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use sealspan_records::observation::{NotAnObservation, Observation, Sample};

    /// Against the classical formula for complete samples, A² = −n − Σ (2i − 1)/n (ln uᵢ + ln(1 − u₍ₙ₊₁₋ᵢ₎)) and
    /// W² = 1/(12n) + Σ (uᵢ − (2i − 1)/(2n))².
    #[test]
    fn complete_samples_give_the_classical_statistics() -> Result<(), NotAnObservation> {
        let ages = [12.0, 40.0, 55.0, 61.0, 90.0, 130.0f64];
        let rows: Result<Vec<_>, _> = ages
            .iter()
            .map(|t| Observation::exact(*t, 0.0, 1.0))
            .collect();
        let terms = Terms::new(&Sample::new(rows?));
        let exponential = by_name("exponential").unwrap_or(crate::laws::all()[0]);
        let mean = 70.0f64;
        let u: Vec<f64> = ages.iter().map(|t| 1.0 - (-t / mean).exp()).collect();
        let n = u.len() as f64;
        let (mut a, mut w) = (-n, 1.0 / (12.0 * n));
        for (i, x) in u.iter().enumerate() {
            let odd = 2.0 * i as f64 + 1.0;
            let other = u.get(u.len() - 1 - i).copied().unwrap_or(0.5);
            a -= odd / n * (x.ln() + (1.0 - other).ln());
            w += (x - odd / (2.0 * n)).powi(2);
        }
        let got = statistics(exponential, &[mean.ln()], &terms);
        let got = got.ok_or(NotAnObservation::BadCount(0.0))?;
        assert!((got.anderson_darling - a).abs() < 1e-12, "{got:?} {a}");
        assert!((got.cramer_von_mises - w).abs() < 1e-12, "{got:?} {w}");
        Ok(())
    }
}
