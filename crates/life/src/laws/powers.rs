//! Laws that are powers of age, with their largest log-likelihoods: the generalised gamma's ends. They are written in
//! x = ln t, where survival or the share failed is an exponential law with rate d from an end u on.

use crate::law::Limit;
use crate::terms::{Stretch, Terms};
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;

/// Looks at an end before the best is searched for more closely.
const LOOKS: usize = 24;
/// Looks at the distance of an end from the ages seen.
const FINE: usize = 96;
/// Farthest end beyond the ages seen, and least distance from them, in ln t.
pub(super) const FARTHEST: f64 = 8.0;
const NEAREST: f64 = 1e-6;
/// Precision of ln d and of the end.
const TOLERANCE: f64 = 1e-9;

/// The Pareto law, no failure before an age and survival a power of age after it, where the generalised gamma's q runs
/// to minus infinity.
pub(super) fn pareto(terms: &Terms) -> Option<Limit> {
    let law = Falling { terms, early: true };
    // Below every exact failure and every upper end.
    let top = terms.extent.exact_range.0.min(terms.extent.smallest_upper);
    let seen = terms.survival.iter().map(|p| p.age.ln);
    let lowers = terms.interval.iter().filter_map(|s| s.lower).map(|a| a.ln);
    let seen: Vec<f64> = seen.chain(lowers).filter(|x| *x < top.ln()).collect();
    let lowest = seen.iter().fold(top.ln(), |a, b| a.min(*b));
    let value = highest(|u| law.best(u), lowest - NEAREST, top.ln(), &seen);
    value.map(|value| Limit {
        value,
        words: "the likelihood is highest where this law ends, as q runs to minus infinity: a Pareto law, with no failure before an age and survival falling as a power of age after it; the failures do not fix q, and a two-parameter law says as much",
    })
}

/// The power law up to an oldest age, where the generalised gamma's q runs to infinity.
pub(super) fn power(terms: &Terms) -> Option<Limit> {
    let law = Rising { terms };
    let sound = terms.survival.iter().filter(|p| p.weight > 0.0);
    let sound = sound.map(|p| p.age.ln);
    let lowers = terms.interval.iter().filter_map(|s| s.lower).map(|a| a.ln);
    let open = sound.chain(lowers).fold(f64::NEG_INFINITY, f64::max);
    let closed = terms.extent.exact_range.1.ln();
    let uppers: Vec<f64> = terms.interval.iter().map(|s| s.upper.ln).collect();
    let bottom = open.max(closed);
    let bottom = if bottom.is_finite() {
        bottom
    } else {
        uppers.iter().copied().fold(f64::INFINITY, f64::min) - FARTHEST
    };
    let value = highest(|u| law.best(u), bottom, bottom + FARTHEST, &uppers);
    value.map(|value| Limit {
        value,
        words: "the likelihood is highest where this law ends, as q runs to infinity: a power law up to an oldest age that no seal outlives; the failures do not fix q, and a two-parameter law says as much",
    })
}

/// The oldest age of a power law, in ln t, at which the log-likelihood is still `cut`: where the generalised gamma's
/// location goes as q runs to infinity. `None` where no power law is that likely.
pub(super) fn oldest_admitted(terms: &Terms, cut: f64) -> Option<f64> {
    let law = Rising { terms };
    let seen = terms
        .extent
        .exact_range
        .1
        .max(terms.extent.oldest_sound)
        .ln();
    let seen = if seen.is_finite() { seen } else { return None };
    last_admitted(|by| law.best(seen + by), cut).map(|by| seen + by)
}

/// The age at which a Pareto law begins, in ln t, at which the log-likelihood is still `cut`: where the location goes as
/// q runs to minus infinity.
pub(super) fn youngest_admitted(terms: &Terms, cut: f64) -> Option<f64> {
    let law = Falling { terms, early: true };
    let top = terms
        .extent
        .exact_range
        .0
        .min(terms.extent.smallest_upper)
        .ln();
    last_admitted(|by| law.best(top - by), cut).map(|by| top - by)
}

/// How far from the ages seen an end may lie with a log-likelihood of at least `cut`; infinite without limit.
fn last_admitted(f: impl Fn(f64) -> Option<f64>, cut: f64) -> Option<f64> {
    let left = |by: f64| f(by).map_or(-f64::MAX, |value| value - cut);
    // Steps that grow with the distance.
    let at = |i: usize| FARTHEST * NEAREST.powf(1.0 - i as f64 / FINE as f64);
    let inside = (0..=FINE).rev().find(|i| left(at(*i)) >= 0.0)?;
    if inside == FINE {
        return Some(f64::INFINITY);
    }
    bracketed(left, at(inside), at(inside + 1), TOLERANCE)
}

/// Largest value over ends from `low` to `high`, where it may bend at `kinks`.
pub(super) fn highest(
    f: impl Fn(f64) -> Option<f64>,
    low: f64,
    high: f64,
    kinks: &[f64],
) -> Option<f64> {
    let f = |u: f64| f(u).unwrap_or(f64::NEG_INFINITY);
    let mut kinks: Vec<f64> = kinks
        .iter()
        .copied()
        .filter(|k| (low..=high).contains(k))
        .collect();
    kinks.sort_by(f64::total_cmp);
    kinks.dedup();
    let every = kinks.len().div_ceil(LOOKS).max(1);
    let mut looks: Vec<f64> = kinks.into_iter().step_by(every).collect();
    let width = high - low;
    // Even steps, and ever shorter ones towards both ends.
    for i in 0..=LOOKS {
        let part = i as f64 / LOOKS as f64;
        looks.push(low + part * width);
        looks.push(low + width * NEAREST.powf(part));
        looks.push(high - width * NEAREST.powf(part));
    }
    looks.sort_by(f64::total_cmp);
    looks.dedup();
    let values: Vec<f64> = looks.iter().map(|u| f(*u)).collect();
    let best = (0..looks.len()).max_by(|a, b| {
        let at = |i: &usize| values.get(*i).copied().unwrap_or(f64::NEG_INFINITY);
        at(a).total_cmp(&at(b))
    })?;
    let at = |i: usize| looks.get(i).copied();
    let here = at(best)?;
    let (a, b) = (at(best.saturating_sub(1))?, at(best + 1).unwrap_or(here));
    let top = values.get(best).copied()?;
    // Whatever is best may lie on either side of a bend.
    let sides = [(a, here), (here, b)].map(|(a, b)| {
        if a < b {
            -minimise_bracketed(|u| -f(u), a, b, TOLERANCE).1
        } else {
            f64::NEG_INFINITY
        }
    });
    let top = sides.into_iter().fold(top, f64::max);
    top.is_finite().then_some(top)
}

/// ln S = −d (x − u) beyond u.
pub(super) struct Falling<'a> {
    pub(super) terms: &'a Terms,
    /// Whether none failed before u; otherwise u lies before every age and failures before a first look are sure.
    pub(super) early: bool,
}

impl Falling<'_> {
    /// A stretch as (distance of its lower end from u, its width), unless failure there is sure.
    fn stretch(&self, s: &Stretch, u: f64) -> Option<(f64, f64)> {
        let lower = s.lower.map(|a| a.ln);
        if lower.is_none() && !self.early {
            return None;
        }
        let from = lower.map_or(u, |a| a.max(u));
        Some((from - u, s.upper.ln - from))
    }

    /// Largest log-likelihood over d; `None` where an age excludes u, or d runs off.
    pub(super) fn best(&self, u: f64) -> Option<f64> {
        let (mut n, mut watched, mut logs) = (0.0, 0.0, 0.0);
        for p in &self.terms.density {
            n += p.weight;
            watched += p.weight * (p.age.ln - u);
            logs += p.weight * p.age.ln;
            if p.age.ln < u {
                return None;
            }
        }
        for p in &self.terms.survival {
            watched += p.weight * (p.age.ln - u).max(0.0);
        }
        let stretches = self.terms.interval.iter();
        let stretches: Vec<(f64, f64)> = stretches
            .filter_map(|s| Some((self.stretch(s, u)?, s.weight)))
            .map(|((from, width), weight)| {
                watched += weight * from;
                (width, weight)
            })
            .collect();
        if stretches.iter().any(|(width, _)| *width <= 0.0) {
            return None;
        }
        let ended = n + stretches.iter().map(|s| s.1).sum::<f64>();
        if watched <= 0.0 || ended <= 0.0 {
            return None;
        }
        // n/d + Σ w Δ/(e^{dΔ} − 1) falls with d, between these two.
        let half: f64 = stretches.iter().map(|(width, w)| 0.5 * width * w).sum();
        let slope = |ln_d: f64| {
            let d: f64 = ln_d.exp();
            let inside = stretches
                .iter()
                .map(|(width, w)| w * width / (d * width).exp_m1());
            n / d + inside.sum::<f64>() - watched
        };
        let (least, most) = ((ended / (watched + half)).ln(), (ended / watched).ln());
        let ln_d = bracketed(slope, least - TOLERANCE, most + TOLERANCE, TOLERANCE).unwrap_or(most);
        let d = ln_d.exp();
        let inside = stretches
            .iter()
            .map(|(width, w)| w * (-(-d * width).exp_m1()).ln());
        Some(n * ln_d - d * watched - logs + inside.sum::<f64>())
    }
}

/// ln F = −d (u − x) before u.
struct Rising<'a> {
    terms: &'a Terms,
}

impl Rising<'_> {
    fn best(&self, u: f64) -> Option<f64> {
        let density = &self.terms.density;
        if density.iter().any(|p| p.age.ln > u) {
            return None;
        }
        let n: f64 = density.iter().map(|p| p.weight).sum();
        let logs: f64 = density.iter().map(|p| p.weight * p.age.ln).sum();
        let before: f64 = density.iter().map(|p| p.weight * (u - p.age.ln)).sum();
        let value = |ln_d: f64| {
            let d: f64 = ln_d.exp();
            let failed = |x: f64| -d * (u - x).max(0.0);
            let alive = |x: f64| (-failed(x).exp_m1()).ln();
            let survival = self
                .terms
                .survival
                .iter()
                .map(|p| p.weight * alive(p.age.ln));
            let between = self.terms.interval.iter().map(|s| {
                let upper = failed(s.upper.ln);
                let lower = s.lower.map_or(f64::NEG_INFINITY, |a| failed(a.ln));
                s.weight * (upper + (-(lower - upper).exp_m1()).ln())
            });
            let sum = survival.sum::<f64>() + between.sum::<f64>();
            n * ln_d - d * before - logs + sum
        };
        let (ln_d, least) = minimise_bracketed(|x| -value(x), -FARTHEST, 2.0 * FARTHEST, 1e-6);
        // At the upper end everything fails at u: that is no law of this kind.
        (least.is_finite() && ln_d < 2.0 * FARTHEST - 1e-3).then_some(-least)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sealspan_records::{Observation, Sample};

    fn terms(rows: &[(f64, f64)], running: (f64, f64)) -> Terms {
        let exact = rows
            .iter()
            .map(|(t, n)| Observation::exact(*t, 0.0, *n).unwrap());
        let right = Observation::right(running.0, 0.0, running.1).unwrap();
        Terms::new(&Sample::new(exact.chain([right]).collect()))
    }

    /// From the first failure on ln t is exponential: d = n / Σ ln(t/s), by hand.
    #[test]
    fn the_pareto_law_begins_at_the_first_failure() {
        let terms = terms(&[(30.0, 2.0), (60.0, 3.0), (120.0, 1.0)], (240.0, 4.0));
        let watched = (3.0 + 2.0 + 4.0 * 3.0) * 2f64.ln();
        let d: f64 = 6.0 / watched;
        let logs = 2.0 * 30f64.ln() + 3.0 * 60f64.ln() + 120f64.ln();
        let want = 6.0 * d.ln() - 6.0 - logs;
        let got = pareto(&terms).unwrap().value;
        assert!((got - want).abs() < 1e-9, "{got} {want}");
    }

    /// With failures between looks too: over a grid of ends and rates, made finer about the best.
    #[test]
    fn the_pareto_law_of_failures_between_looks() {
        let rows = [
            Observation::exact(60.0, 0.0, 1.0),
            Observation::interval(0.0, 50.0, 0.0, 2.0),
            Observation::interval(40.0, 90.0, 0.0, 3.0),
            Observation::right(120.0, 0.0, 2.0),
        ];
        let terms = Terms::new(&Sample::new(rows.map(Result::unwrap).into()));
        let value = |u: f64, d: f64| {
            let alive = |t: f64| (-d * (t.ln() - u).max(0.0)).exp();
            2.0 * (1.0 - alive(50.0)).ln() + 3.0 * (alive(40.0) - alive(90.0)).ln() + d.ln()
                - d * (60f64.ln() - u)
                - 60f64.ln()
                + 2.0 * alive(120.0).ln()
        };
        let (mut u, mut ln_d, mut wide) = (3.0, 0.0, 2.0);
        let mut best = f64::NEG_INFINITY;
        for _ in 0..40 {
            let (from, middle) = (u, ln_d);
            for i in -40..=40 {
                for j in -40..=40 {
                    let at = |k: i32| wide * f64::from(k) / 40.0;
                    let (x, y): (f64, f64) = (from + at(i), middle + at(j));
                    // The exact failure and the first look's lie after the end.
                    if x < 50f64.ln() && value(x, y.exp()) > best {
                        (u, ln_d, best) = (x, y, value(x, y.exp()));
                    }
                }
            }
            wide *= 0.6;
        }
        let got = pareto(&terms).unwrap().value;
        assert!((got - best).abs() < 1e-7, "{got} {best} {u} {ln_d}");
    }

    /// With all failed the power law ends at the last failure: d = n / Σ ln(s/t).
    #[test]
    fn the_power_law_ends_at_the_last_failure() {
        let terms = terms(&[(30.0, 2.0), (60.0, 3.0), (120.0, 1.0)], (0.0, 1.0));
        let d: f64 = 6.0 / (7.0 * 2f64.ln());
        let logs = 2.0 * 30f64.ln() + 3.0 * 60f64.ln() + 120f64.ln();
        let want = 6.0 * d.ln() - 6.0 - logs;
        let got = power(&terms).unwrap().value;
        assert!((got - want).abs() < 1e-7, "{got} {want}");
    }

    /// With all failed at two ages, by hand: n ln d − n d (u − mean of ln t) is greatest for d = 1/(u − mean), and
    /// falls by n ln of the ratio of the distances.
    #[test]
    fn an_oldest_age_is_admitted_while_its_power_law_is_likely() {
        let rows = [(30.0, 2.0), (120.0, 2.0)];
        let exact = rows
            .iter()
            .map(|(t, n)| Observation::exact(*t, 0.0, *n).unwrap());
        let terms = Terms::new(&Sample::new(exact.collect()));
        let top = power(&terms).unwrap().value;
        // At the last failure the distance is ln 2; where it is twice that, the likelihood has fallen by 4 ln 2.
        let got = oldest_admitted(&terms, top - 4.0 * 2f64.ln()).unwrap();
        assert!((got - 240f64.ln()).abs() < 1e-6, "{got}");
        let got =
            youngest_admitted(&terms, pareto(&terms).unwrap().value - 4.0 * 2f64.ln()).unwrap();
        assert!((got - 15f64.ln()).abs() < 1e-6, "{got}");
    }

    /// What was seen between looks only is a chance, so that no law has a log-likelihood above 0, not even where laws
    /// that begin close to the first look have none of their own.
    #[test]
    fn no_beginning_is_admitted_above_certainty() {
        let rows = [
            Observation::interval(0.0, 50.0, 0.0, 3.0),
            Observation::right(40.0, 0.0, 1.0),
        ];
        let terms = Terms::new(&Sample::new(rows.map(Result::unwrap).into()));
        assert!(youngest_admitted(&terms, -2.0).is_some());
        assert_eq!(youngest_admitted(&terms, 0.1), None);
    }

    /// A power law of failures between looks too: F = (t/s)^d up to an oldest age s, over a grid of both, made finer
    /// about the best.
    #[test]
    fn the_power_law_of_failures_between_looks() {
        let rows = [
            Observation::exact(60.0, 0.0, 1.0),
            Observation::interval(0.0, 50.0, 0.0, 2.0),
            Observation::interval(40.0, 90.0, 0.0, 3.0),
            Observation::right(30.0, 0.0, 2.0),
        ];
        let terms = Terms::new(&Sample::new(rows.map(Result::unwrap).into()));
        let value = |u: f64, d: f64| {
            let failed = |t: f64| (-d * (u - t.ln()).max(0.0)).exp();
            2.0 * failed(50.0).ln() + 3.0 * (failed(90.0) - failed(40.0)).ln() + d.ln()
                - d * (u - 60f64.ln())
                - 60f64.ln()
                + 2.0 * (1.0 - failed(30.0)).ln()
        };
        let (mut u, mut ln_d, mut wide) = (5.0, 0.0, 2.0);
        let mut best = f64::NEG_INFINITY;
        for _ in 0..40 {
            let (from, middle) = (u, ln_d);
            for i in -20..=20 {
                for j in -20..=20 {
                    let at = |k: i32| wide * f64::from(k) / 20.0;
                    let (x, y): (f64, f64) = (from + at(i), middle + at(j));
                    // The exact failure lies before the end.
                    if x > 60f64.ln() && value(x, y.exp()) > best {
                        (u, ln_d, best) = (x, y, value(x, y.exp()));
                    }
                }
            }
            wide *= 0.6;
        }
        let got = power(&terms).unwrap().value;
        assert!((got - best).abs() < 1e-6, "{got} {best} {u} {ln_d}");
    }

    /// Of failures between looks more than e-fold apart: at one end, the best over rates by halving an interval.
    #[test]
    fn wide_looks_have_the_best_rate_at_any_end() {
        let rows = [
            Observation::interval(10.0, 90.0, 0.0, 3.0),
            Observation::right(30.0, 0.0, 1.0),
        ];
        let terms = Terms::new(&Sample::new(rows.map(Result::unwrap).into()));
        let law = Falling {
            terms: &terms,
            early: true,
        };
        for u in [10_f64.ln(), 2.0, 1.0] {
            let value = |ln_d: f64| {
                let alive = |t: f64| (-ln_d.exp() * (t.ln() - u)).exp();
                3.0 * (alive(10.0) - alive(90.0)).ln() + alive(30.0).ln()
            };
            // One hill in ln d.
            let (mut low, mut high) = (-8.0, 4.0);
            while high - low > 1e-9 {
                let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                if value(a) < value(b) {
                    low = a;
                } else {
                    high = b;
                }
            }
            let (got, want) = (law.best(u).unwrap(), value(low));
            assert!((got - want).abs() < 1e-9, "{u}: {got} {want}");
        }
    }

    /// Seals looked at once each, at three ages: over a grid of ends and rates, made finer about the best.
    #[test]
    fn the_power_law_of_seals_looked_at_once() {
        let seen = [(50.0, 1.0), (80.0, 4.0), (100.0, 8.0)];
        let rows = seen.iter().flat_map(|(t, failed)| {
            [
                Observation::interval(0.0, *t, 0.0, *failed).unwrap(),
                Observation::right(*t, 0.0, 10.0 - failed).unwrap(),
            ]
        });
        let terms = Terms::new(&Sample::new(rows.collect()));
        let value = |u: f64, d: f64| {
            let each = seen.iter().map(|(t, failed)| {
                let share = (-d * (u - f64::ln(*t))).exp();
                failed * share.ln() + (10.0 - failed) * (1.0 - share).ln()
            });
            each.sum::<f64>()
        };
        let (mut u, mut ln_d, mut wide) = (4.8, 1.0, 0.19);
        let mut best = f64::NEG_INFINITY;
        for _ in 0..40 {
            let (from, middle) = (u, ln_d);
            for i in -20..=20 {
                for j in -20..=20 {
                    let (x, y) = (
                        from + wide * f64::from(i) / 20.0,
                        middle + 5.0 * wide * f64::from(j) / 20.0,
                    );
                    if x > 100_f64.ln() && value(x, f64::exp(y)) > best {
                        (u, ln_d, best) = (x, y, value(x, f64::exp(y)));
                    }
                }
            }
            wide *= 0.6;
        }
        let got = power(&terms).unwrap().value;
        assert!((got - best).abs() < 1e-6, "{got} {best} {u} {ln_d}");
    }
}
