//! The time at which a property reaches its limit in one oven.

use super::curve::Curve;
use super::least_squares::{Straight, straight};
use sealspan_numeric::special::student_quantile;
use thiserror::Error;

/// One look: a value after so many hours in the oven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Hours, zero or more.
    pub hours: f64,
    /// The property, in its own unit.
    pub value: f64,
}

/// The limit of the property.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The limit, in the property's unit.
    pub value: f64,
    /// Whether the property rises to it.
    pub rising: bool,
    /// The value at the start, where a curve needs it.
    pub start: Option<f64>,
    /// The value approached at the end, where a curve needs it.
    pub end: Option<f64>,
}

impl Limit {
    /// +1 for a property that rises to the limit, −1 for one that falls.
    #[must_use]
    pub(crate) fn side(&self) -> f64 {
        if self.rising { 1.0 } else { -1.0 }
    }

    /// Start and end, as far as they are known; not a number where not.
    #[must_use]
    pub fn ends(&self) -> (f64, f64) {
        (self.start.unwrap_or(f64::NAN), self.end.unwrap_or(f64::NAN))
    }
}

/// When the limit is reached in one oven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// At a time within the test.
    At(At),
    /// Not within the test: after its last look that the curve can use (hours).
    After(f64),
    /// Before the first look after time 0 that the curve can use (hours).
    Before(f64),
}

/// A time to the limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct At {
    /// ln of the time in hours.
    pub ln_hours: f64,
    /// Standard error of ln time, from the scatter within this oven; `None` without a degree of freedom.
    pub std_error: Option<f64>,
    /// Degrees of freedom of that error: looks less two for a fitted curve, else looks less different times of them (0
    /// where every time has one).
    pub freedom: f64,
    /// Two-sided confidence interval of ln time at the level asked for; `None` without a degree of freedom, or where
    /// the slope of a fitted curve is not told from 0.
    pub interval: Option<(f64, f64)>,
}

/// What one oven tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Oven {
    /// When the limit is reached.
    pub reach: Reach,
    /// The fitted curve: straightened value against ln t; `None` for curves between two looks.
    pub line: Option<Straight>,
    /// Looks after time 0 that a fitted curve cannot use.
    pub left_out: usize,
    /// True when the means of the looks come back from beyond the limit: the first crossing is taken. Never of a fitted
    /// curve.
    pub crosses_back: bool,
}

/// Why no time can be given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoReach {
    /// For a fitted curve fewer than two different times after the start, for one between two looks none.
    #[error("fewer than two different times after the start")]
    TooFew,
    /// The fitted curve goes the other way.
    #[error("the property does not move towards the limit")]
    WrongWay,
    /// Looks at the last time (hours) are past the limit, yet the fitted curve reaches it only later.
    #[error(
        "the curve does not fit: its looks are past the limit at {0} h, the last, and the curve reaches it only later; take a curve between looks (between-log-time)"
    )]
    Missed(f64),
    /// The limit lies outside the curve's range ([`Curve::straighten`]), or on the wrong side of its start.
    #[error("the limit lies outside what this curve can reach from its start to its end")]
    Outside,
}

/// Finds when the limit is reached, with its interval at two-sided confidence `level`.
///
/// A time beyond the last look is never given: the oven then counts as not reached, whatever a
/// fitted curve would say, for it would be extrapolated in time before it is in temperature.
///
/// Between two looks: x = x₁ + (limit − v₁)/(v₂ − v₁) (x₂ − x₁), x being t or ln t and v the means of the values at
/// each; a mean at the limit has reached it. Its error follows by the delta method from the scatter of values at the
/// same time, pooled over all times, its interval by Student's law (from memory). A fitted curve: where the
/// least-squares line of the straightened values against ln t reaches the limit's, with its interval after Fieller
/// (1940, from memory).
///
/// # Errors
/// [`NoReach`], when the curve cannot be drawn.
///
/// ```
/// use sealspan_life::ageing::{curve::Curve, reach::{Limit, Reach, Reading, reach}};
/// let readings = [(0.0, 100.0), (10.0, 60.0), (1000.0, 20.0)]
///     .map(|(hours, value)| Reading { hours, value });
/// let limit = Limit { value: 50.0, rising: false, start: None, end: None };
/// let oven = reach(&readings, Curve::BetweenTime, &limit, 0.9).unwrap();
/// // A quarter of the way from 10 h to 1000 h.
/// assert!(matches!(oven.reach, Reach::At(at) if (at.ln_hours.exp() - 257.5).abs() < 1e-9));
/// ```
pub fn reach(
    readings: &[Reading],
    curve: Curve,
    limit: &Limit,
    level: f64,
) -> Result<Oven, NoReach> {
    if curve.is_fitted() {
        fitted(readings, curve, limit, level)
    } else {
        between(readings, curve, limit, level)
    }
}

/// The looks of one time together.
struct Step {
    hours: f64,
    mean: f64,
    count: f64,
    scatter: f64,
}

fn steps(readings: &[Reading]) -> Vec<Step> {
    let mut sorted: Vec<&Reading> = readings.iter().collect();
    sorted.sort_by(|a, b| a.hours.total_cmp(&b.hours));
    sorted
        .chunk_by(|a, b| a.hours == b.hours)
        .map(|same| {
            let count = same.len() as f64;
            let mean = same.iter().map(|r| r.value).sum::<f64>() / count;
            Step {
                hours: same.first().map_or(0.0, |r| r.hours),
                mean,
                count,
                scatter: same.iter().map(|r| (r.value - mean).powi(2)).sum(),
            }
        })
        .collect()
}

fn between(readings: &[Reading], curve: Curve, limit: &Limit, level: f64) -> Result<Oven, NoReach> {
    let steps = steps(readings);
    let past = |s: &Step| limit.side() * (s.mean - limit.value) >= 0.0;
    let (Some(first), Some(last)) = (steps.iter().find(|s| s.hours > 0.0), steps.last()) else {
        return Err(NoReach::TooFew);
    };
    let crossing = steps.iter().position(past);
    let crosses_back = crossing.is_some_and(|at| steps.iter().skip(at).any(|s| !past(s)));
    let found = |reach| Oven {
        reach,
        line: None,
        left_out: 0,
        crosses_back,
    };
    let Some(at) = crossing else {
        return Ok(found(Reach::After(last.hours)));
    };
    let (before, after) = match (at.checked_sub(1).and_then(|b| steps.get(b)), steps.get(at)) {
        (Some(b), Some(a)) => (b, a),
        _ => return Ok(found(Reach::Before(first.hours))),
    };
    let in_ln = curve == Curve::BetweenLnTime;
    if in_ln && before.hours <= 0.0 {
        return Ok(found(Reach::Before(after.hours)));
    }
    let place = |hours: f64| if in_ln { hours.ln() } else { hours };
    let (from, to) = (place(before.hours), place(after.hours));
    let rise = after.mean - before.mean;
    let share = (limit.value - before.mean) / rise;
    let x = from + share * (to - from);
    let ln_hours = if in_ln { x } else { x.ln() };
    // Error of the two means, from the scatter of specimens looked at together.
    let freedom: f64 = steps.iter().map(|s| s.count - 1.0).sum();
    let per_ln = if in_ln { 1.0 } else { 1.0 / x };
    let slope = (to - from) / rise * per_ln;
    let std_error = (freedom >= 1.0).then(|| {
        let variance = steps.iter().map(|s| s.scatter).sum::<f64>() / freedom;
        let share_variance = (1.0 - share).powi(2) / before.count + share.powi(2) / after.count;
        slope.abs() * (variance * share_variance).sqrt()
    });
    let interval = std_error.map(|e| {
        let half = student_quantile(0.5 + 0.5 * level, freedom) * e;
        (ln_hours - half, ln_hours + half)
    });
    Ok(found(Reach::At(At {
        ln_hours,
        std_error,
        freedom,
        interval,
    })))
}

fn fitted(readings: &[Reading], curve: Curve, limit: &Limit, level: f64) -> Result<Oven, NoReach> {
    let (points, left_out) = curve.usable(readings, limit);
    let (start, end) = limit.ends();
    let target = curve
        .straighten(limit.value, start, end)
        .filter(|_| !curve.needs_start() || limit.side() * (limit.value - start) > 0.0)
        .ok_or(NoReach::Outside)?;
    let weighted: Vec<(f64, f64, f64)> = points.iter().map(|p| (p.0, p.1, 1.0)).collect();
    let line = straight(&weighted).ok_or(NoReach::TooFew)?;
    // Straightened values rise where the change grows; plain values rise as the property does.
    let side = if curve.needs_start() {
        1.0
    } else {
        limit.side()
    };
    if side * line.slope <= 0.0 {
        return Err(NoReach::WrongWay);
    }
    let ln_hours = line.centre + (target - line.level) / line.slope;
    let times = points.iter().map(|p| p.0);
    let (first, last) = times.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
        (a.min(x), b.max(x))
    });
    if ln_hours > last && passed(readings, limit) {
        // The time as it was read, but for the rounding of its logarithm.
        return Err(NoReach::Missed((last.exp() * 1e6).round() / 1e6));
    }
    let reach = if ln_hours > last {
        Reach::After(last.exp())
    } else if ln_hours < first {
        Reach::Before(first.exp())
    } else {
        Reach::At(At {
            ln_hours,
            std_error: line.variance.map(|v| {
                let off = ln_hours - line.centre;
                (v * (1.0 / line.weight + off * off / line.spread)).sqrt() / line.slope.abs()
            }),
            freedom: line.freedom,
            interval: fieller(&line, target, level),
        })
    };
    Ok(Oven {
        reach,
        line: Some(line),
        left_out,
        crosses_back: false,
    })
}

/// Whether the mean of the looks at the last time is past the limit.
fn passed(readings: &[Reading], limit: &Limit) -> bool {
    let steps = steps(readings);
    let last = steps.last();
    last.is_some_and(|s| limit.side() * (s.mean - limit.value) >= 0.0)
}

/// Interval of x at which the line has the value `target` (Fieller 1940; formula from memory). `None` without a
/// degree of freedom, or where the slope is not told from 0 at this level.
fn fieller(line: &Straight, target: f64, level: f64) -> Option<(f64, f64)> {
    let variance = line.variance?;
    let t = student_quantile(0.5 + 0.5 * level, line.freedom);
    let (d, g) = (target - line.level, t * t * variance);
    let a = line.slope * line.slope - g / line.spread;
    let c = d * d - g / line.weight;
    let under = (line.slope * d).powi(2) - a * c;
    if a <= 0.0 || under < 0.0 {
        return None;
    }
    let (middle, half) = (line.slope * d / a, under.sqrt() / a);
    Some((line.centre + middle - half, line.centre + middle + half))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;

    /// Means just on the limit at the last look, and a line through all looks that crosses it later: refused as past it,
    /// whether the property rises or falls. One a hair short of the limit is not reached yet.
    #[test]
    fn a_last_mean_on_the_limit_is_past_it() {
        for (rising, sign) in [(false, 1.0), (true, -1.0)] {
            let oven = |last: f64| {
                let looks = [
                    (1.0, 18.0),
                    (10.0, 13.0),
                    (100.0, last - 1.0),
                    (100.0, last + 1.0),
                ];
                let readings = looks.map(|(hours, value)| Reading {
                    hours,
                    value: sign * value,
                });
                let limit = Limit {
                    value: sign * -32.0,
                    rising,
                    start: None,
                    end: None,
                };
                reach(&readings, Curve::LnTime, &limit, 0.9)
            };
            assert_eq!(oven(-32.0), Err(NoReach::Missed(100.0)), "{rising}");
            let short = oven(-31.999).map(|oven| oven.reach);
            assert!(
                matches!(short, Ok(Reach::After(hours)) if (hours - 100.0).abs() < 1e-9),
                "{short:?}"
            );
        }
    }

    /// A property that rises from 10 as the root of time is 5 more after 25 h; a limit of 5, which it never comes from 10
    /// to, has no time, and is not taken for the change of the same size the other way.
    #[test]
    fn a_limit_behind_the_start_has_no_time() {
        let looks = [1.0, 9.0, 100.0].map(|hours: f64| Reading {
            hours,
            value: 10.0 + hours.sqrt(),
        });
        let asked = |value| {
            let limit = Limit {
                value,
                rising: true,
                start: Some(10.0),
                end: None,
            };
            reach(&looks, Curve::Power, &limit, 0.9)
        };
        let Reach::At(at) = asked(15.0).unwrap().reach else {
            panic!("not reached");
        };
        assert!((at.ln_hours - 25f64.ln()).abs() < 1e-9);
        assert_eq!(asked(5.0), Err(NoReach::Outside));
    }
}
