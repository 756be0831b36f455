//! Ends of what the fitted law itself has no number for, an age that a share never reaches or a mean without limit, over
//! the laws that the likelihood admits.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the covariance at hand, never over what was read"
)]

use crate::bounds::{End, FAR, NoEnd, profile_end};
use crate::contour::{Broken, Contour};
use crate::edge;
use crate::family::Family;
use crate::fit::Fit;
use crate::held::{self, Region};
use crate::quantity::Quantity;
use nalgebra::DVector;
use sealspan_numeric::roots::{bracket_from, bracketed};

/// An age by which a share fails that is no number, as the infinity it stands for: below 0 where more have failed by
/// age 0 already, else never reached.
pub(crate) fn beyond(family: &dyn Family, theta: &[f64], quantity: Quantity) -> f64 {
    match quantity {
        Quantity::Quantile(p) if family.ln_survival(theta, f64::MIN_POSITIVE) < (-p).ln_1p() => {
            f64::NEG_INFINITY
        }
        _ => f64::INFINITY,
    }
}

/// The lower end of a quantity that is infinite for the fitted law; [`NoEnd::Infinite`] where every law admitted has none
/// either.
pub(crate) fn lower_end(fit: &Fit, quantity: Quantity, depth: f64) -> End {
    match quantity {
        Quantity::Quantile(p) => reached(fit, p, depth, 1.0),
        _ => least(fit, quantity, depth).map(|end| fit.family.unscale(quantity, end)),
    }
}

/// The upper end of an age by which a share fails that lies below 0 for the fitted law.
pub(crate) fn upper_end(fit: &Fit, quantity: Quantity, depth: f64) -> End {
    match quantity {
        Quantity::Quantile(p) => reached(fit, p, depth, -1.0),
        _ => Err(NoEnd::NotFound),
    }
}

/// The lower (`side` 1) or upper end of the age by which the share `p` fails: the age whose survival has its own end
/// there.
fn reached(fit: &Fit, p: f64, depth: f64, side: f64) -> End {
    let off = |ln_age: f64| {
        let survival = Quantity::Survival(ln_age.exp());
        let index = profile_end(fit, survival, depth, side);
        index.map_or(f64::NAN, |i| 1.0 - p - fit.family.unscale(survival, i))
    };
    let start = fit.terms.extent.oldest.ln();
    let later = off(start) < 0.0;
    let step = if later { 0.2 } else { -0.2 };
    let Some((low, high)) = bracket_from(off, start, step, 12) else {
        // So far out survival no longer falls, nor does the least that is admitted.
        let never = later && side > 0.0 && off(start + FAR) < 0.0;
        return Err(if never {
            NoEnd::Infinite
        } else {
            NoEnd::NotFound
        });
    };
    bracketed(off, low, high, 1e-9)
        .map(f64::exp)
        .ok_or(NoEnd::NotFound)
}

/// Shares of the depth at which laws on the way out are tried.
const SHARES: [f64; 8] = [0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0];

/// The least value, on its scale, over the laws that the likelihood admits and the simpler laws at the family's edges: from
/// an admitted law that has a number outwards.
fn least(fit: &Fit, quantity: Quantity, depth: f64) -> End {
    let problem = fit.problem(&fit.terms);
    let asked = |x: &[f64]| problem.picked(&fit.family.quantity(&problem.place(x), quantity));
    let cut = fit.log_likelihood - 0.5 * depth * depth;
    let covariance = fit.free_covariance();
    let centre = DVector::from_vec(problem.pick(&fit.theta));
    let admitted = |x: &DVector<f64>| {
        let theta = problem.place(x.as_slice());
        let value = asked(x.as_slice()).value;
        let likely = fit.family.log_likelihood(&theta, &fit.terms) >= cut;
        (likely && value.is_finite()).then_some(value)
    };
    // Along the lines on which one parameter moves and the others follow.
    let mut inside: Option<(f64, DVector<f64>)> = None;
    for (j, side, share) in (0..centre.len())
        .flat_map(|j| [-1.0, 1.0].map(|side| (j, side)))
        .flat_map(|(j, side)| SHARES.map(|share| (j, side, share)))
    {
        let line = covariance.column(j) / covariance[(j, j)].sqrt();
        let x = &centre + line * (side * share * depth);
        if let Some(value) = admitted(&x)
            && inside.as_ref().is_none_or(|(least, _)| value < *least)
        {
            inside = Some((value, x));
        }
    }
    let edge = edge::profile_end(fit, quantity, depth, -1.0, None).filter(|e| e.is_finite());
    let Some((value, x)) = inside else {
        return edge.ok_or(NoEnd::Infinite);
    };
    let contour = Contour {
        likelihood: &problem,
        quantity: &asked,
        top: fit.log_likelihood,
        centre: x.clone(),
        covariance,
        side: -1.0,
    };
    let region = Region {
        far: &|further: f64| (further - value).abs() > FAR,
        closes_in: &|x: &[f64]| fit.family.closes_in(&problem.place(x), &fit.terms),
        changed_places: &|_: &[f64]| false,
    };
    let broken = Broken {
        value,
        x: x.iter().copied().collect(),
    };
    let end = held::walk(&problem, &asked, &contour, &broken, depth, &region)?;
    Ok(edge.map_or(end, |edge| edge.min(end)))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use sealspan_records::{Observation, Sample};
    use std::f64::consts::PI;

    fn fitted(name: &str, rows: impl Iterator<Item = (f64, f64, bool)>) -> Fit {
        let rows = rows.map(|(age, count, failed)| match failed {
            true => Observation::exact(age, 0.0, count).unwrap(),
            false => Observation::right(age, 0.0, count).unwrap(),
        });
        fit(by_name(name).unwrap(), &Sample::new(rows.collect())).unwrap()
    }

    /// The least finite mean (scale · πσ/sin πσ) of the log-logistic laws admitted, σ by σ at the least scale admitted, over
    /// a hundred steps to either side of a first σ and ever closer about the least.
    fn least_mean(fit: &Fit, depth: f64, (first, mut step): (f64, f64)) -> f64 {
        let value = |mu: f64, sigma: f64| fit.family.log_likelihood(&[mu, sigma.ln()], &fit.terms);
        let cut = fit.log_likelihood - 0.5 * depth * depth;
        // The likeliest location of a σ, by thirds.
        let best = |sigma: f64| {
            let (mut low, mut high) = (fit.theta[0] - 9.0, fit.theta[0] + 3.0);
            for _ in 0..60 {
                let third = (high - low) / 3.0;
                if value(low + third, sigma) < value(high - third, sigma) {
                    low += third;
                } else {
                    high -= third;
                }
            }
            0.5 * (low + high)
        };
        let mean = |sigma: f64| {
            let mut inside = best(sigma);
            let mut outside = inside - 3.0;
            if value(inside, sigma) < cut {
                return f64::INFINITY;
            }
            for _ in 0..50 {
                let middle = 0.5 * (inside + outside);
                if value(middle, sigma) >= cut {
                    inside = middle;
                } else {
                    outside = middle;
                }
            }
            inside.exp() * PI * sigma / (PI * sigma).sin()
        };
        let (mut least, mut at) = (f64::INFINITY, first);
        for _ in 0..3 {
            let middle = at;
            for i in -100..100 {
                let sigma = middle + step * f64::from(i);
                if sigma < 1.0 && mean(sigma) < least {
                    (least, at) = (mean(sigma), sigma);
                }
            }
            step *= 0.02;
        }
        least
    }

    /// Log-logistic lives whose mean is just infinite, and finite only from a depth between 1 and 1.645 on: the least of
    /// the finite ones.
    #[test]
    fn an_infinite_mean_ends_at_the_least_finite_one_admitted() {
        for (n, sigma) in [(20, 1.1), (12, 1.13)] {
            let each = 200.0 / f64::from(n);
            let ages = (0..n).map(|i| {
                let share = (f64::from(i) + 0.5) / f64::from(n);
                (100.0 * (share / (1.0 - share)).powf(sigma), each, true)
            });
            let fit = fitted("loglogistic", ages);
            assert!(fit.estimate(Quantity::Mean).is_infinite());
            let depth = 1.645;
            assert!(least_mean(&fit, 1.05, (0.9, 1e-3)).is_infinite());
            let least = least_mean(&fit, depth, (0.9, 1e-3));
            let found = lower_end(&fit, Quantity::Mean, depth).unwrap();
            // An end is followed to 1e-4 standard errors.
            assert!((found / least - 1.0).abs() < 1e-3, "{found} {least}");
        }
    }

    /// Five failures among five thousand: the mean of a shape just below 1 has no limit, and the least finite one admitted
    /// lies far beyond the oldest age.
    #[test]
    fn a_least_mean_far_beyond_all_ages_is_told() {
        let ages = [8.0, 22.0, 48.0, 68.0, 94.0];
        let failed = ages.iter().map(|t| (*t, 1.0, true));
        let fit = fitted("loglogistic", failed.chain([(100.0, 4995.0, false)]));
        assert!(fit.estimate(Quantity::Mean).is_infinite());
        let least = least_mean(&fit, 1.645, (0.6, 4e-3));
        let found = lower_end(&fit, Quantity::Mean, 1.645).unwrap();
        assert!(found > 2000.0);
        assert!((found / least - 1.0).abs() < 1e-3, "{found} {least}");
    }

    /// With a weak share the mean has no limit, and its lower end is that of the Weibull law where that is admitted.
    #[test]
    fn a_weak_shares_mean_ends_where_all_are_weak() {
        let ages = [20.0, 33.0, 41.0, 52.0, 60.0, 66.0, 75.0, 81.0, 92.0, 99.0];
        let rows = || {
            let failed = ages.iter().map(|t| (*t, 1.0, true));
            failed.chain([(120.0, 3.0, false)])
        };
        let weak = fitted("weak_fraction_weibull", rows());
        let all = fitted("weibull", rows());
        assert!(weak.estimate(Quantity::Mean).is_infinite());
        let depth: f64 = 1.645;
        let gain = 2.0 * (weak.log_likelihood - all.log_likelihood);
        assert!(gain > 0.0 && gain < depth * depth, "{gain}");
        let left = (depth * depth - gain).sqrt();
        let want = profile_end(&all, Quantity::Mean, left, -1.0).unwrap().exp();
        let found = lower_end(&weak, Quantity::Mean, depth).unwrap();
        assert!(want < all.estimate(Quantity::Mean));
        assert!((found / want - 1.0).abs() < 1e-9, "{found} {want}");
    }
}
