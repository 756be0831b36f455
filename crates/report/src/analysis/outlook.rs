//! First failures of all groups together: each group has its own life, so the totals are sums of
//! independent numbers.

use super::lives::GroupLife;
use crate::wire::forecast::{ForecastDocument, ForecastQuestion, GroupForecast, forecast};
use sealspan_care::error::Result;
use sealspan_care::forecast::{Bounds, Forecast, Period};
use serde::Serialize;

/// The forecast of every group and of all together. With several groups the whole is their sum, each with
/// its own life, so that the parts add up to it.
///
/// # Errors
/// In words, when nothing can be forecast.
pub fn document(
    groups: &[GroupLife],
    pooled: &GroupLife,
    question: ForecastQuestion,
    unit: &'static str,
) -> std::result::Result<ForecastDocument, String> {
    let look = |group: &GroupLife| {
        let fitted = group.fitted.as_ref().map_err(ToString::to_string)?;
        let oldest = Some(group.sample.oldest());
        forecast(&group.ages(), &fitted.life, &fitted.draws, oldest, question)
            .map_err(|e| e.to_string())
    };
    let own: Vec<GroupForecast> = groups
        .iter()
        .map(|group| {
            let result = look(group);
            GroupForecast {
                group: group.key.clone(),
                reason: result.as_ref().err().cloned(),
                forecast: result.ok(),
            }
        })
        .collect();
    let mut all = look(pooled)?;
    if own.len() > 1 {
        add_up(&mut all, groups, &own, question).map_err(|e| e.to_string())?;
    }
    Ok(ForecastDocument {
        schema: "sealspan.forecast.v1",
        unit,
        horizon: question.horizon,
        all,
        groups: if own.len() > 1 { own } else { vec![] },
    })
}

/// Puts the sums over the groups in the place of the forecast of one pooled life.
fn add_up(
    all: &mut Forecast,
    groups: &[GroupLife],
    own: &[GroupForecast],
    question: ForecastQuestion,
) -> Result<()> {
    let fitted: Vec<&Forecast> = own.iter().filter_map(|g| g.forecast.as_ref()).collect();
    let totals = totals(groups, question)?;
    let Some(last) = totals.last() else {
        return Ok(());
    };
    all.running = fitted.iter().map(|f| f.running).sum();
    (all.expected, all.lower, all.upper) = (last.expected, last.lower, last.upper);
    let pmf = fitted
        .iter()
        .map(|f| f.pmf.as_deref())
        .try_fold(vec![1.0], |sum, pmf| pmf.map(|pmf| convolve(&sum, pmf)));
    if let Some(pmf) = &pmf {
        let side = 0.5 * (1.0 - question.confidence);
        all.plug_in = Bounds {
            lower: quantile(pmf, side),
            upper: quantile(pmf, 1.0 - side),
        };
    }
    all.pmf_reason = pmf
        .is_none()
        .then(|| "a group has too many seals for a list of probabilities".to_owned());
    all.pmf = pmf;
    all.predictive = None;
    all.by_period = totals
        .iter()
        .map(|t| Period {
            until: t.until,
            expected: t.expected,
            lower: t.lower,
            upper: t.upper,
        })
        .collect();
    all.method = "sum over the groups, each with its own life".to_owned();
    if question.with_renewals {
        all.renewals = None;
        all.renewals_reason =
            Some("counted group by group: an interval of the sum is not worked out".to_owned());
    }
    let left_out: Vec<String> = own
        .iter()
        .filter(|g| g.forecast.is_none())
        .map(|g| g.group.words())
        .collect();
    if !left_out.is_empty() {
        all.notes.push(format!(
            "Left out of the sum, having no life of their own: {}.",
            left_out.join("; ")
        ));
    }
    Ok(())
}

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
pub(crate) fn totals(groups: &[GroupLife], question: ForecastQuestion) -> Result<Vec<Total>> {
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
