//! The decision limit, by simulation: failures under no change, counted against those expected so far, are
//! a Poisson process of rate 1 whatever the law and the fleet (random change of time, Watanabe 1964), so
//! each chart is played many times over the failures it expects.

use super::watch::allowance;
use sealspan_numeric::random::Stream;

/// Charts played in all, over runs: enough for the rate to be known to a part in a hundred or so, and few enough
/// that ten thousand charts answer in seconds.
const MOST_PLAYED: usize = 2_000_000;
/// Fewest runs whatever the number of charts.
const FEWEST_RUNS: usize = 50;

/// A limit of the statistic of [`watch`](super::watch()), and how often it is reached without cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The limit of the statistic, in failures; above 1, so that one failure alone is never an alarm.
    pub limit: f64,
    /// False alarms a year over all charts, measured on runs of its own.
    pub false_alarms_per_year: f64,
    /// Monte-Carlo standard error of that rate.
    pub std_error: f64,
    /// Runs that the limit was chosen on; it was measured on as many.
    pub runs: usize,
}

/// The highest the statistic gets in one run of one chart.
fn highest(stream: &mut Stream, expected: f64, k: f64) -> f64 {
    let (mut statistic, mut top, mut at) = (0.0_f64, 0.0_f64, 0.0);
    loop {
        let wait = stream.exponential();
        at += wait;
        if at > expected {
            return top;
        }
        statistic = (statistic - k * wait).max(0.0) + 1.0;
        top = top.max(statistic);
    }
}

/// Chooses the limit such that all charts together, each expecting so many failures over the `years` watched (above 0),
/// raise at most `per_year` false alarms a year; `ratio`, above 1, as in [`watch`](super::watch()). A chart alarms
/// once. Many charts are played in fewer runs than asked: what counts is their number in all.
///
/// Failures under no change, counted against those expected so far, are a Poisson process of rate 1 whatever the law
/// and the fleet (random change of time, Watanabe 1964), on which each chart is played.
///
/// ```
/// use sealspan_life::batches::limit;
/// // Twenty charts that expect five failures each in two years, against a rate twice as high.
/// let often = limit(&[5.0; 20], 2.0, 1.0, 2.0, 500, 1);
/// let seldom = limit(&[5.0; 20], 2.0, 0.1, 2.0, 500, 1);
/// assert!(seldom.limit > often.limit && seldom.false_alarms_per_year < 0.5);
/// ```
#[must_use]
pub fn limit(
    expected: &[f64],
    years: f64,
    per_year: f64,
    ratio: f64,
    runs: usize,
    seed: u64,
) -> Limit {
    let runs = runs.min((MOST_PLAYED / expected.len().max(1)).max(FEWEST_RUNS));
    let k = allowance(ratio);
    let allowed = per_year * years;
    let mut stream = Stream::new(seed, 0);
    let mut tops: Vec<f64> = vec![];
    for _ in 0..runs {
        tops.extend(expected.iter().map(|e| highest(&mut stream, *e, k)));
    }
    tops.sort_by(|a, b| b.total_cmp(a));
    let most = (allowed * runs as f64).floor() as usize;
    // Just above the first value that would be one too many; one failure alone is never an alarm.
    let limit = tops
        .get(most)
        .map_or(0.0, |t| t * (1.0 + 1e-9))
        .max(1.0 + 1e-9);
    let mut stream = Stream::new(seed, 1);
    let (mut sum, mut square) = (0.0, 0.0);
    for _ in 0..runs {
        let alarms = expected
            .iter()
            .filter(|e| highest(&mut stream, **e, k) >= limit)
            .count() as f64;
        sum += alarms;
        square += alarms * alarms;
    }
    let n = runs.max(1) as f64;
    let mean = sum / n;
    Limit {
        limit,
        false_alarms_per_year: mean / years,
        std_error: ((square / n - mean * mean).max(0.0) / n).sqrt() / years,
        runs,
    }
}

#[cfg(test)]
mod tests {
    use super::limit;

    /// However many alarms are allowed, one failure alone, whose height is 1, is none; two in quick succession are.
    #[test]
    fn one_failure_alone_is_never_an_alarm() {
        let found = limit(&[1.0], 2.0, 10.0, 2.0, 2000, 1);
        assert!(found.limit > 1.0 && found.limit < 1.0 + 1e-6, "{found:?}");
        // Two failures or more come with the chance 1 − 2/e, within four standard errors at most.
        let most = (1.0 - 2.0 * (-1.0f64).exp()) / 2.0;
        assert!(found.false_alarms_per_year < most + 4.0 * found.std_error);
        assert!(found.false_alarms_per_year > 0.0);
    }
}
