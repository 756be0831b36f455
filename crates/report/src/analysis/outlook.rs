//! First failures of all groups together: each group has its own life, so the totals are sums of
//! independent numbers.

use super::lives::GroupLife;
use crate::wire::forecast::{ForecastQuestion, forecast};
use sealspan_care::error::Result;
use serde::Serialize;

/// Failures from now until the end of a period, all groups together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Total {
    /// End of the period, units of the clock from now.
    pub until: f64,
    /// Expected failures from now to then.
    pub expected: f64,
    /// Lower end of the prediction interval.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
}

/// Totals by the end of each period. Groups that could not be fitted are left out; the caller says so.
///
/// # Errors
/// As [`forecast`].
pub fn totals(groups: &[GroupLife], question: ForecastQuestion) -> Result<Vec<Total>> {
    (1..=question.periods)
        .map(|i| {
            let until = question.horizon * i as f64 / question.periods as f64;
            let one = ForecastQuestion {
                horizon: until,
                periods: 1,
                with_renewals: false,
                ..question
            };
            total(groups, one)
        })
        .collect()
}

fn total(groups: &[GroupLife], question: ForecastQuestion) -> Result<Total> {
    let mut expected = 0.0;
    let mut pmf = vec![1.0];
    for group in groups {
        let (Ok(fitted), false) = (&group.fitted, group.running.is_empty()) else {
            continue;
        };
        let oldest = Some(group.sample.oldest());
        let one = forecast(&group.ages(), &fitted.life, &fitted.draws, oldest, question)?;
        expected += one.expected;
        if let Some(own) = one.predictive.and_then(|p| p.pmf) {
            pmf = convolve(&pmf, &own);
        }
    }
    let side = 0.5 * (1.0 - question.confidence);
    Ok(Total {
        until: question.horizon,
        expected,
        lower: quantile(&pmf, side),
        upper: quantile(&pmf, 1.0 - side),
    })
}

/// Probabilities of a sum of two independent counts.
fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (i, p) in a.iter().enumerate() {
        for (slot, q) in out.iter_mut().skip(i).zip(b) {
            *slot += p * q;
        }
    }
    out
}

/// Smallest count whose cumulative probability reaches `p`.
fn quantile(pmf: &[f64], p: f64) -> usize {
    let mut sum = 0.0;
    for (k, q) in pmf.iter().enumerate() {
        sum += q;
        if sum >= p {
            return k;
        }
    }
    pmf.len().saturating_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_of_coins() {
        let two = convolve(&[0.5, 0.5], &[0.5, 0.5]);
        assert_eq!(two, [0.25, 0.5, 0.25]);
        assert_eq!(
            (
                quantile(&two, 0.25),
                quantile(&two, 0.5),
                quantile(&two, 0.99)
            ),
            (0, 1, 2)
        );
    }
}
