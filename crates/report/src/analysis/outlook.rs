//! First failures of all groups together: each group has its own life, so the totals are sums of
//! independent numbers.

use super::lives::GroupLife;
use crate::wire::forecast::{ForecastDocument, ForecastQuestion, GroupForecast, forecast};
use sealspan_care::counts::Counts;
use sealspan_care::error::Result;
use sealspan_care::forecast::{Bounds, Forecast, Period};
use serde::Serialize;

/// The forecast of every group and of all together ([`Outlook::forecast`](sealspan_care::forecast::Outlook::forecast)).
/// With several groups the whole is their sum, each with its own life, so that the parts add up to it: expected numbers are
/// added, distributions convolved, the groups being independent. A distribution of more
/// than 10,000 values is gathered in 2,000 blocks first, so that an end may be off by half a block. Groups without a life
/// are left out of the sum and named.
///
/// # Errors
/// In words, when all groups together have no life, nothing runs, or a number of the question is out of its range.
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
    let side = 0.5 * (1.0 - question.confidence);
    let known = fitted
        .iter()
        .fold(NONE.to_vec(), |sum, f| convolve(&sum, &values(&f.known)));
    all.plug_in = Bounds {
        lower: quantile(&known, side),
        upper: quantile(&known, 1.0 - side),
    };
    let pmf = listed(&known);
    all.pmf_reason = pmf
        .is_none()
        .then(|| "too many seals for a list of probabilities".to_owned());
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
    let mut counts = NONE.to_vec();
    for group in groups {
        let (Ok(fitted), false) = (&group.fitted, group.running.is_empty()) else {
            continue;
        };
        let oldest = Some(group.sample.oldest());
        let one = forecast(&group.ages(), &fitted.life, &fitted.draws, oldest, question)?;
        expected += one.expected;
        counts = convolve(&counts, &values(&one.counts));
    }
    let side = 0.5 * (1.0 - question.confidence);
    Ok(Total {
        until: question.horizon,
        expected,
        lower: quantile(&counts, side),
        upper: quantile(&counts, 1.0 - side),
    })
}

/// No failure for certain.
const NONE: [(usize, f64); 1] = [(0, 1.0)];
/// Most values of a count that are kept one by one, and the blocks that more are gathered in (rules of ours).
const KEPT: usize = 10_000;
const BLOCKS: usize = 2_000;

/// The values of a count with their probabilities; those of a very wide one in blocks.
fn values(counts: &Counts) -> Vec<(usize, f64)> {
    let own = (counts.first()..).zip(counts.window().iter().copied());
    gathered(own.collect())
}

/// The probabilities of 0, 1, 2 and so on, where they are few enough for a list and not in blocks.
fn listed(values: &[(usize, f64)]) -> Option<Vec<f64>> {
    let (first, last) = (values.first()?.0, values.last()?.0);
    let one_by_one = last - first + 1 == values.len();
    let mut out = vec![0.0; first.min(KEPT)];
    out.extend(values.iter().map(|(_, p)| *p));
    (one_by_one && last < KEPT).then_some(out)
}

/// The same values, or where they are too many the probability of each block at its middle.
fn gathered(values: Vec<(usize, f64)>) -> Vec<(usize, f64)> {
    let seen = || values.iter().filter(|v| v.1 > 0.0).map(|v| v.0);
    let (first, last) = (seen().min().unwrap_or(0), seen().max().unwrap_or(0));
    if last - first < KEPT {
        return values;
    }
    let width = (last - first) / BLOCKS + 1;
    let inside = values.iter().filter(|v| (first..=last).contains(&v.0));
    let mut out: Vec<(usize, f64)> = vec![];
    for (k, p) in inside {
        let middle = first + (k - first) / width * width + width / 2;
        match out.last_mut().filter(|o| o.0 == middle) {
            Some(block) => block.1 += p,
            None => out.push((middle, *p)),
        }
    }
    out
}

/// The values of a sum of two independent counts, in order.
fn convolve(a: &[(usize, f64)], b: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let end = |v: Option<&(usize, f64)>| v.map_or(0, |v| v.0);
    let first = end(a.first()) + end(b.first());
    let mut out = vec![0.0; end(a.last()) + end(b.last()) + 1 - first];
    let may_be = |list: &&(usize, f64)| list.1 > 0.0;
    for (i, p) in a.iter().filter(may_be) {
        for (j, q) in b.iter().filter(may_be) {
            if let Some(slot) = out.get_mut(i + j - first) {
                *slot += p * q;
            }
        }
    }
    gathered((first..).zip(out).collect())
}

/// Smallest value whose cumulative probability reaches `p`.
fn quantile(values: &[(usize, f64)], p: f64) -> usize {
    let mut sum = 0.0;
    for (k, q) in values {
        sum += q;
        if sum >= p {
            return *k;
        }
    }
    values.last().map_or(0, |v| v.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::wire::GroupKey;
    use sealspan_life::laws;
    use sealspan_records::{Observation, Running, Sample};

    #[test]
    fn sums_of_coins() {
        let coin = [(0, 0.5), (1, 0.5)];
        let two = convolve(&coin, &coin);
        assert_eq!(two, [(0, 0.25), (1, 0.5), (2, 0.25)]);
        assert_eq!(
            (
                quantile(&two, 0.25),
                quantile(&two, 0.5),
                quantile(&two, 0.99)
            ),
            (0, 1, 2)
        );
    }

    /// An even count to 40,000: its quantiles lie within a block of the true ones, and so do those of two together.
    #[test]
    fn wide_counts_in_blocks() {
        let wide: Vec<(usize, f64)> = (0..40_000).map(|k| (k, 1.0 / 40_000.0)).collect();
        let one = gathered(wide);
        assert!(one.len() <= BLOCKS);
        assert!(quantile(&one, 0.05).abs_diff(2_000) <= 21);
        // The sum of two even numbers below c = 40,000 is at most x with chance x²/(2 c²) up to x = c.
        let two = convolve(&one, &one);
        assert!(quantile(&two, 0.05).abs_diff(12_649) <= 60);
    }

    /// Exponential lives of 1000 units on average, `running` of them aged 0.
    fn group(name: &str, running: f64, draws: bool) -> GroupLife {
        let lives = (0..400).map(|i| -1000.0 * (1.0 - (f64::from(i) + 0.5) / 400.0).ln());
        let seen = lives.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let seal = Running {
            seal: None,
            asset: None,
            position: None,
            material: None,
            site: None,
            batch: None,
            age: 0.0,
            count: running,
        };
        let family = laws::by_name("exponential").unwrap();
        let key = GroupKey(vec![("part".to_owned(), name.to_owned())]);
        let mut group = GroupLife::new(key, Sample::new(seen.collect()), vec![seal], family, 1);
        if !draws {
            group.fitted.as_mut().unwrap().draws.clear();
        }
        group
    }

    fn told(groups: &[GroupLife]) -> Forecast {
        let question = ForecastQuestion {
            horizon: 1000.0,
            periods: 2,
            confidence: 0.9,
            with_renewals: false,
        };
        let pooled = groups.first().unwrap();
        document(groups, pooled, question, "days").unwrap().all
    }

    /// A group too large for a list of probabilities, or without draws, is in the sum's interval as in its expected number.
    #[test]
    fn every_group_is_in_the_interval() {
        let alone = told(&[group("a", 30_000.0, true)]);
        let both = told(&[group("a", 30_000.0, true), group("b", 10.0, true)]);
        assert!(both.pmf.is_none() && both.pmf_reason.is_some());
        assert!((both.expected - alone.expected * 30_010.0 / 30_000.0).abs() < 1e-6);
        // Ten seals more move the ends by ten at most, blocks by a few.
        assert!(both.lower.abs_diff(alone.lower) <= 20 && both.upper.abs_diff(alone.upper) <= 20);
        for period in &both.by_period {
            let within = (period.lower as f64)..(period.upper as f64);
            assert!(within.contains(&period.expected), "{period:?}");
        }
        let middle = both.plug_in.lower as f64..both.plug_in.upper as f64;
        assert!(middle.contains(&both.expected));

        let known = told(&[group("a", 300.0, false)]);
        let two = told(&[group("a", 300.0, false), group("b", 10.0, false)]);
        assert!(two.lower >= known.lower && two.upper <= known.upper + 10);
        assert!((two.lower as f64) < two.expected && two.expected < two.upper as f64);
    }
}
