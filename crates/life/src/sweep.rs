//! Ends of intervals of the three-parameter Weibull law by sweeping its failure-free time γ: with γ held the law is
//! the plain Weibull of age less γ, whose own ends are easily found; the farthest of them over all γ that the
//! likelihood admits is the end.
//!
//! As γ nears the first exact failure age the likelihood grows without limit once the best shape at that γ has
//! fallen below 1, because a recorded age is taken as exact to all digits. That part is no evidence: from there on
//! the shape is held at 1, where the likelihood stays finite up to the first failure itself, which is then the upper
//! end of γ (a rule of ours; Smith 1985, "Maximum likelihood estimation in a class of nonregular cases", Biometrika
//! 72, from memory, on why shapes below 1 have no estimate).

use crate::bounds::{self, End, NoEnd};
use crate::fit::{Fit, Model, fit_terms};
use crate::law::Age;
use crate::laws::by_name;
use crate::quantity::Quantity;
use crate::terms::{Point, Stretch, Terms};
use rayon::prelude::*;
use sealspan_numeric::roots::bracketed;
use std::sync::Arc;

const LAW: &str = "three_parameter_weibull";
/// γ never comes nearer to the first failure than this share of it.
const NEAREST: f64 = 1e-9;
/// Held values of γ on each side of the estimate to begin with.
const GRID: usize = 16;
/// Halvings of the stretch around the best of them.
const REFINED: usize = 24;

/// The law with γ held.
struct Held {
    time: f64,
    fit: Fit,
}

/// The end of a quantity on its scale; `None` where the law is another or not all its parameters are free.
pub(crate) fn profile_end(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> Option<End> {
    if fit.family.name() != LAW || fit.free.len() < fit.theta.len() {
        return None;
    }
    let sweep = Sweep {
        fit,
        cut: fit.log_likelihood - 0.5 * z * z,
        centre: fit.estimate(Quantity::Parameter(2)),
    };
    Some(sweep.end(quantity, side))
}

/// The first age at which a failure can have happened, which a failure-free time cannot pass; `None` for other
/// quantities and laws.
pub(crate) fn greatest(fit: &Fit, quantity: Quantity) -> Option<f64> {
    let own = fit.family.name() == LAW && quantity == Quantity::Parameter(2);
    own.then(|| first(fit))
}

fn first(fit: &Fit) -> f64 {
    let e = &fit.terms.extent;
    e.exact_range.0.min(e.smallest_upper)
}

struct Sweep<'a> {
    fit: &'a Fit,
    cut: f64,
    /// Estimate of γ.
    centre: f64,
}

impl Sweep<'_> {
    fn end(&self, quantity: Quantity, side: f64) -> End {
        let (low, high) = self.admitted();
        if quantity == Quantity::Parameter(2) {
            return Ok(if side < 0.0 { low } else { high }.ln());
        }
        let farthest = |ends: &[(f64, f64)]| {
            let better =
                |a: (f64, f64), b: (f64, f64)| if (b.1 - a.1) * side > 0.0 { b } else { a };
            ends.iter().copied().reduce(better)
        };
        let times = self.times(low, high);
        let ends: Vec<(f64, End)> = times
            .par_iter()
            .map(|t| (*t, self.end_at(quantity, *t, side)))
            .collect();
        if ends.iter().any(|(_, end)| *end == Err(NoEnd::NoLimit)) {
            return Err(NoEnd::NoLimit);
        }
        let found: Vec<(f64, f64)> = ends
            .iter()
            .filter_map(|(t, e)| Some((*t, e.ok()?)))
            .collect();
        let best = farthest(&found).ok_or(NoEnd::NotFound)?;
        if best.1.is_infinite() {
            return Ok(best.1);
        }
        let at = times.iter().position(|t| *t == best.0).unwrap_or(0);
        let near = |i: usize| times.get(i).copied().unwrap_or(best.0);
        self.refine(
            quantity,
            side,
            [near(at.saturating_sub(1)), near(at + 1)],
            best.1,
        )
    }

    /// The farthest end between two held values of γ, by golden sections.
    fn refine(&self, quantity: Quantity, side: f64, [mut a, mut b]: [f64; 2], best: f64) -> End {
        let golden = 0.5 * (5f64.sqrt() - 1.0);
        let score = |t: f64| {
            let end = self.end_at(quantity, t, side);
            end.map_or(f64::NEG_INFINITY, |e| e * side)
        };
        let (mut c, mut d) = (b - golden * (b - a), a + golden * (b - a));
        let (mut at_c, mut at_d) = (score(c), score(d));
        let mut top = best * side;
        for _ in 0..REFINED {
            top = top.max(at_c).max(at_d);
            if at_c > at_d {
                (b, d, at_d) = (d, c, at_c);
                c = b - golden * (b - a);
                at_c = score(c);
            } else {
                (a, c, at_c) = (c, d, at_d);
                d = a + golden * (b - a);
                at_d = score(d);
            }
        }
        Ok(top * side)
    }

    /// The law with γ held at `time`, its shape held at 1 where it would fall below on the way to the first failure.
    fn held(&self, time: f64) -> Option<Held> {
        let terms = Arc::new(shifted(&self.fit.terms, time)?);
        let of = |law: &str| fit_terms(Model::free(by_name(law)?), &terms).ok();
        let towards = time > self.centre && terms.extent.exact > 0.0;
        let fit = of("weibull")
            .filter(|f| !towards || f.estimate(Quantity::Parameter(0)) >= 1.0)
            .or_else(|| of("exponential"))?;
        Some(Held { time, fit })
    }

    /// What the likelihood with γ held has left above the cut.
    fn left(&self, time: f64) -> f64 {
        self.held(time)
            .map_or(f64::NEG_INFINITY, |h| h.fit.log_likelihood - self.cut)
    }

    /// Held values from `from` to the first failure, closer and closer to it.
    fn towards_first(&self, from: f64) -> Vec<f64> {
        let end = first(self.fit);
        let gap = (end - from) / end;
        let step = (NEAREST / gap).ln() / GRID as f64;
        let at = |k: usize| end * (1.0 - gap * (step * k as f64).exp());
        (1..=GRID).map(at).collect()
    }

    /// The stretch of γ around the estimate that the likelihood admits; the first failure where it goes so far.
    fn admitted(&self) -> (f64, f64) {
        let low = if self.left(0.0) >= 0.0 {
            0.0
        } else {
            bracketed(|t| self.left(t), 0.0, self.centre, 1e-9 * self.centre).unwrap_or(self.centre)
        };
        let mut inside = self.centre;
        for next in self.towards_first(self.centre) {
            if self.left(next) < 0.0 {
                let tolerance = 1e-9 * self.centre;
                let end = bracketed(|t| self.left(t), inside, next, tolerance);
                return (low, end.unwrap_or(inside));
            }
            inside = next;
        }
        (low, first(self.fit))
    }

    /// Held values over a stretch.
    fn times(&self, low: f64, high: f64) -> Vec<f64> {
        let below = (0..=GRID).map(|k| low + (self.centre - low) * k as f64 / GRID as f64);
        let above: Vec<f64> = if high < first(self.fit) {
            let step = (high - self.centre) / GRID as f64;
            (1..=GRID).map(|k| self.centre + step * k as f64).collect()
        } else {
            self.towards_first(self.centre)
        };
        below.chain(above).collect()
    }

    /// The quantity's end with γ held at `time`, on the scale of the whole law's quantity.
    fn end_at(&self, quantity: Quantity, time: f64, side: f64) -> End {
        let held = self.held(time).ok_or(NoEnd::NotFound)?;
        let left = 2.0 * (held.fit.log_likelihood - self.cut).max(0.0);
        let own = |asked: Quantity| bounds::profile_end(&held.fit, asked, left.sqrt(), side);
        let later = |end: f64, by: f64| (end.exp() + by).max(0.0).ln();
        match quantity {
            Quantity::Survival(age) if age <= held.time => Ok(f64::NEG_INFINITY),
            Quantity::Survival(age) => own(Quantity::Survival(age - held.time)),
            Quantity::Quantile(_) | Quantity::Mean => Ok(later(own(quantity)?, held.time)),
            Quantity::Remaining { age, p } if age <= held.time => {
                Ok(later(own(Quantity::Quantile(p))?, held.time - age))
            }
            Quantity::Remaining { age, p } => own(Quantity::Remaining {
                age: age - held.time,
                p,
            }),
            Quantity::Parameter(0) if held.fit.family.dimension() == 1 => Ok(0.0),
            Quantity::Parameter(0) => own(quantity),
            // The scale: e⁻¹ of the seals live longer than γ and it, under every shape.
            Quantity::Parameter(_) => own(Quantity::Quantile(-(-1f64).exp_m1())),
        }
    }
}

/// The terms with all ages less `time`; `None` where a failure would come before age 0.
fn shifted(terms: &Terms, time: f64) -> Option<Terms> {
    let later = |age: Age| Some(age.t - time).filter(|t| *t > 0.0).map(Age::new);
    let density = terms
        .density
        .iter()
        .map(|p| {
            Some(Point {
                age: later(p.age)?,
                weight: p.weight,
            })
        })
        .collect::<Option<Vec<_>>>()?;
    let survival = terms
        .survival
        .iter()
        .filter_map(|p| {
            Some(Point {
                age: later(p.age)?,
                weight: p.weight,
            })
        })
        .collect();
    let interval = terms
        .interval
        .iter()
        .map(|s| {
            Some(Stretch {
                lower: s.lower.and_then(later),
                upper: later(s.upper)?,
                weight: s.weight,
            })
        })
        .collect::<Option<Vec<_>>>()?;
    let mut extent = terms.extent;
    for age in [
        &mut extent.exact_range.0,
        &mut extent.exact_range.1,
        &mut extent.oldest_sound,
        &mut extent.smallest_upper,
        &mut extent.oldest,
        &mut extent.youngest,
    ] {
        *age = (*age - time).max(0.0);
    }
    Some(Terms {
        density,
        survival,
        interval,
        extent,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use sealspan_records::{Observation, Sample};

    fn fitted(rows: Vec<Observation>) -> Fit {
        fit(by_name(LAW).unwrap(), &Sample::new(rows)).unwrap()
    }

    /// Ages that plainly start late: quantiles of 300 and a Weibull law of shape 1.6 and scale 100.
    fn late(n: i32) -> Fit {
        let ages = (0..n).map(|i| {
            let share = (f64::from(i) + 0.5) / f64::from(n);
            300.0 + 100.0 * (-(-share).ln_1p()).powf(1.0 / 1.6)
        });
        fitted(
            ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap())
                .collect(),
        )
    }

    /// At 90 %.
    fn of_ninety(fit: &Fit) -> Sweep<'_> {
        Sweep {
            fit,
            cut: fit.log_likelihood - 0.5 * 1.645 * 1.645,
            centre: fit.estimate(Quantity::Parameter(2)),
        }
    }

    /// An end is the farthest over all failure-free times admitted, looked at one by one.
    #[test]
    fn an_end_is_the_farthest_over_the_times_admitted() {
        let fit = late(30);
        let sweep = of_ninety(&fit);
        let (low, high) = sweep.admitted();
        assert!(low > 100.0 && low < sweep.centre && sweep.centre < high && high < first(&fit));
        let asked = [
            Quantity::Parameter(0),
            Quantity::Parameter(1),
            Quantity::Quantile(0.01),
            Quantity::Quantile(0.5),
            Quantity::Survival(320.0),
        ];
        for (quantity, side) in asked.into_iter().flat_map(|q| [(q, -1.0), (q, 1.0)]) {
            let found = sweep.end(quantity, side).unwrap();
            let times = (0..=80).map(|k| low + (high - low) * f64::from(k) / 80.0);
            let ends = times.filter_map(|t| sweep.end_at(quantity, t, side).ok());
            let farthest = ends.map(|e| e * side).fold(f64::NEG_INFINITY, f64::max);
            let off = found * side - farthest;
            assert!(off > -1e-6 && off < 2e-3, "{quantity:?} {side}: {off}");
        }
    }

    /// Failures known between looks have a likelihood with a limit, whatever the shape: none is held at 1.
    #[test]
    fn between_looks_no_shape_is_held() {
        let looks = [
            (100.0, 110.0, 20.0),
            (110.0, 120.0, 9.0),
            (120.0, 150.0, 10.0),
            (150.0, 250.0, 8.0),
            (250.0, 600.0, 5.0),
        ];
        let rows = looks.map(|(a, b, n)| Observation::interval(a, b, 0.0, n).unwrap());
        let fit = fitted(rows.into());
        let sweep = of_ninety(&fit);
        let time = 0.5 * (sweep.centre + 110.0);
        let held = sweep.held(time).unwrap();
        let shape = held.fit.estimate(Quantity::Parameter(0));
        assert!(
            held.fit.family.name() == "weibull" && shape < 1.0,
            "{shape}"
        );
    }

    /// With the failure-free time held, ends are those of a plain Weibull law of ages less that time, fitted to them
    /// by itself at the same height: of what is left at an age too, before that time and after it.
    #[test]
    fn ends_with_a_time_held_are_those_of_the_ages_beyond_it() {
        let fit = late(30);
        let sweep = of_ninety(&fit);
        let time = sweep.centre - 5.0;
        let ages = fit.terms.density.iter().map(|p| p.age.t - time);
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let sample = Sample::new(rows.collect());
        let plain = crate::fit::fit(by_name("weibull").unwrap(), &sample).unwrap();
        let left = (2.0 * (plain.log_likelihood - sweep.cut)).sqrt();
        let p = 0.2;
        for side in [-1.0, 1.0] {
            let own = |quantity| bounds::profile_end(&plain, quantity, left, side).unwrap();
            let end = |quantity| sweep.end_at(quantity, time, side).unwrap();
            let near = |got: f64, want: f64, what: &str| {
                assert!((got - want).abs() < 1e-6, "{what} {side}: {got} {want}");
            };
            near(
                end(Quantity::Parameter(0)),
                own(Quantity::Parameter(0)),
                "shape",
            );
            let share = own(Quantity::Quantile(p)).exp();
            near(end(Quantity::Quantile(p)).exp(), time + share, "share");
            let early = Quantity::Remaining { age: 100.0, p };
            near(end(early).exp(), time + share - 100.0, "left early");
            let remaining = |age: f64| Quantity::Remaining { age, p };
            let late = end(remaining(time + 60.0));
            near(late, own(remaining(60.0)), "left late");
        }
        // Where the shape is held at 1 it has that for both ends, and a seal forgets its age.
        let near_first = first(&fit) * (1.0 - 1e-9);
        let sweep = Sweep {
            cut: fit.log_likelihood - 20.0,
            ..sweep
        };
        assert_eq!(sweep.held(near_first).unwrap().fit.family.dimension(), 1);
        for side in [-1.0, 1.0] {
            let end = |quantity| sweep.end_at(quantity, near_first, side).unwrap();
            assert_eq!(end(Quantity::Parameter(0)), 0.0);
            let share = end(Quantity::Quantile(p)).exp() - near_first;
            let left = end(Quantity::Remaining { age: 420.0, p }).exp();
            assert!((left / share - 1.0).abs() < 1e-6, "{side}: {left} {share}");
        }
    }
}
