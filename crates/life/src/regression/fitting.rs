//! Fitting a design by maximum (penalised) likelihood.

use super::line::Design;
use super::problem::Problem;
use super::standard::Standard;
use super::{Regression, start};
use crate::family::Family;
use crate::fit::NoFit;
use crate::maximise::{Maximum, climb, maximise};
use nalgebra::{DMatrix, DVector};

/// A fitted regression with what further questions to its likelihood need.
pub struct Fitting {
    /// The fit.
    pub regression: Regression,
    pub(super) problem: Problem,
    pub(super) standard: Standard,
    pub(super) maximum: Maximum,
}

/// Fits a design.
///
/// # Errors
/// [`NoFit`] as for a single fit; a level without failures has no finite coefficient unless it is penalised, and
/// gives [`NoFit::NotReached`] or [`NoFit::Ridge`].
///
/// ```
/// use sealspan_life::regression::{Cell, Design, Place, fit_design};
/// use sealspan_life::{laws::by_name, quantity::Quantity, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-4, "{a} is not {b}");
/// let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// let cell = Cell { row: vec![1.0], terms: Terms::new(&Sample::new(ages.into())).into() };
/// let design = Design::of_cells(&["intercept".to_owned()], &[cell]);
/// let found = fit_design(by_name("exponential").unwrap(), &design).unwrap();
/// // ℓ falls from its maximum at the mean 100 to ln m = ln 100 + d by 4(d + e^(−d) − 1): half of 2.705543, the
/// // chi-square of one degree of freedom at 90 %.
/// let ends = found.profile(&[1.0], 0.9).map(Option::unwrap);
/// for d in ends.map(|end| end - 100.0_f64.ln()) {
///     near(8.0 * (d + (-d).exp() - 1.0), 2.705_543);
/// }
/// let place = Place { row: vec![(0, 1.0)], offset: 0.0, stratum: 0 };
/// let mean = found.predict_by_profile(&place, Quantity::Mean, 0.9);
/// near(mean.estimate, 100.0);
/// near(mean.lower.unwrap().ln(), ends[0]);
/// near(mean.upper.unwrap().ln(), ends[1]);
/// ```
pub fn fit_design(family: &'static dyn Family, design: &Design) -> Result<Fitting, NoFit> {
    let total: f64 = design.lines.iter().map(|l| l.terms.extent.total).sum();
    let failures: f64 = design.lines.iter().map(|l| l.terms.extent.failures).sum();
    if total <= 0.0 {
        return Err(NoFit::Empty);
    }
    if failures <= 0.0 {
        return Err(NoFit::NoFailures { total });
    }
    let columns = design.names.len();
    let standard = Standard::of(columns, &design.lines);
    let problem = Problem {
        family,
        lines: design.lines.iter().map(|l| standard.line(l)).collect(),
        columns,
        shared: family.dimension().saturating_sub(1),
        strata: design.strata.max(1),
        penalties: design
            .penalties
            .iter()
            .map(|p| p.scaled(standard.spread(p.at)))
            .collect(),
    };
    let maximum = best(&problem)?;
    if !all_told(&problem, &maximum) {
        return Err(NoFit::NotReached { slope: f64::NAN });
    }
    let back: DMatrix<f64> = standard.back(problem.size());
    let x = &back * DVector::from_column_slice(&maximum.x);
    let regression = Regression {
        family,
        names: design.names.clone(),
        x: x.iter().copied().collect(),
        covariance: &back * &maximum.covariance * back.transpose(),
        log_likelihood: maximum.value - problem.penalty(&maximum.x),
        strata: problem.strata,
    };
    Ok(Fitting {
        regression,
        problem,
        standard,
        maximum,
    })
}

/// Standard error of a standardised column, in σ, from which nothing is known of it (a rule of ours).
const UNTOLD: f64 = 1e3;

/// Whether every column has an end. Where all of a level failed before their first look, or the like, its coefficient
/// runs off until rounding leaves neither slope nor bend, which passes for a maximum.
fn all_told(problem: &Problem, maximum: &Maximum) -> bool {
    let own = maximum.x.iter().skip(problem.columns);
    let ln_sigma = own.step_by(problem.shared.max(1));
    let widest = ln_sigma.copied().fold(f64::NEG_INFINITY, f64::max);
    let sigma = if problem.family.has_ln_scale() {
        widest.exp()
    } else {
        1.0
    };
    let variances = maximum.covariance.diagonal();
    let most = (UNTOLD * sigma).powi(2);
    variances.iter().take(problem.columns).all(|v| *v < most)
}

/// The highest maximum that Newton's method reaches; a slower search where it reaches none. One whose parts differ more
/// in width than its law's maxima are admitted to is taken only where there is no other. Of a law that has one maximum
/// only, the first will do.
fn best(problem: &Problem) -> Result<Maximum, NoFit> {
    let one = problem.family.has_one_maximum();
    let starts = start::starts(problem, !one);
    let mut best: Option<(bool, Maximum)> = None;
    for start in &starts {
        if let Ok(found) = climb(problem, start) {
            let alike = !problem.unlike(&found.x);
            let better = |(like, b): &(bool, Maximum)| match alike == *like {
                true => found.value > b.value,
                false => alike,
            };
            if best.as_ref().is_none_or(better) {
                best = Some((alike, found));
            }
            if one {
                break;
            }
        }
    }
    if let Some((_, best)) = best {
        return Ok(best);
    }
    let last = starts.last().cloned().unwrap_or_default();
    maximise(problem, &last).map_err(|lost| lost.why)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use crate::regression::line::Cell;
    use crate::terms::Terms;
    use sealspan_numeric::random::Stream;
    use sealspan_records::{Observation, Sample};

    /// Lives of two kinds, and a mixture fitted to them by a regression without effects.
    fn two_kinds(seed: u64, lives: usize) -> (Sample, Result<Fitting, NoFit>) {
        let mut stream = Stream::new(seed, 0);
        let ages = (0..lives).map(|i| {
            let scale = if i % 3 == 0 { 20.0 } else { 200.0 };
            scale * stream.exponential().powf(0.3)
        });
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let sample = Sample::new(rows.collect());
        let cell = Cell {
            row: vec![1.0],
            terms: Terms::new(&sample).into(),
        };
        let design = Design::of_cells(&["intercept".to_owned()], &[cell]);
        (
            sample,
            fit_design(by_name("weibull_mixture").unwrap(), &design),
        )
    }

    /// The log-likelihoods that climbs from all starts end at.
    fn reached(problem: &Problem) -> Vec<f64> {
        let starts = start::starts(problem, true);
        let climbs = starts.iter().filter_map(|x| climb(problem, x).ok());
        climbs.map(|m| m.value).collect()
    }

    fn highest(values: &[f64]) -> f64 {
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// A coefficient's standard error is held against the widest σ of the strata, a shape beside it left alone, and
    /// against 1 where the law has no σ; errors of what is no coefficient count for nothing.
    #[test]
    fn a_coefficient_of_a_thousand_sigma_has_no_end() {
        let told = |law: &str, shared: usize, own: &[f64], sigmas: f64| {
            let problem = Problem {
                family: by_name(law).unwrap(),
                lines: vec![],
                columns: 2,
                shared,
                strata: own.len() / shared.max(1),
                penalties: vec![],
            };
            let x: Vec<f64> = [5.0, 1.0].iter().chain(own).copied().collect();
            let mut variances = vec![1e12; x.len()];
            (variances[0], variances[1]) = (0.1, sigmas * sigmas);
            let maximum = Maximum {
                covariance: DMatrix::from_diagonal(&DVector::from_vec(variances)),
                value: -50.0,
                x,
            };
            all_told(&problem, &maximum)
        };
        let (half, two) = (0.5_f64.ln(), 2.0_f64.ln());
        for (law, shared, own, most) in [
            ("weibull", 1, &[half][..], 500.0),
            ("weibull", 1, &[half, two], 2_000.0),
            ("generalised_gamma", 2, &[half, 3.0], 500.0),
            ("exponential", 0, &[], 1_000.0),
        ] {
            assert!(told(law, shared, own, 0.99 * most), "{law} {own:?}");
            assert!(!told(law, shared, own, 1.01 * most), "{law} {own:?}");
        }
    }

    /// Eight lives: the likeliest climb ends at a part a tenth as wide as the other, which a fit does not admit; a
    /// regression without effects ends where the fit does.
    #[test]
    fn parts_of_widths_too_unlike_are_passed_over() {
        let family = by_name("weibull_mixture").unwrap();
        let mut passed = 0;
        for seed in 0..12 {
            let (sample, found) = two_kinds(seed, 8);
            let (Ok(found), Ok(alone)) = (found, fit(family, &sample)) else {
                continue;
            };
            let (got, alone) = (found.regression.log_likelihood, alone.log_likelihood);
            assert!((got - alone).abs() < 1e-6, "{seed}: {got} {alone}");
            passed += usize::from(highest(&reached(&found.problem)) > got + 0.1);
        }
        assert!(passed > 0, "no climb ends higher than a fit admits");
    }

    /// A mixture has several maxima: without effects a regression ends at the highest of them, as a fit does.
    #[test]
    fn of_several_maxima_the_highest_is_taken() {
        let (sample, found) = two_kinds(8, 20);
        let found = found.unwrap();
        let reached = reached(&found.problem);
        let highest = highest(&reached);
        assert!(reached.iter().any(|v| *v < highest - 1.0), "{reached:?}");
        let got = found.regression.log_likelihood;
        let alone = fit(found.regression.family, &sample)
            .unwrap()
            .log_likelihood;
        assert!((got - highest).abs() < 1e-6, "{got} {reached:?}");
        assert!((got - alone).abs() < 1e-6, "{got} {alone}");
    }

    /// Lives of one design row, by the scale and the σ of each; one in four is still running.
    fn row_of_two_kinds(
        x: f64,
        lives: usize,
        stream: &mut Stream,
        kind: impl Fn(usize) -> (f64, f64),
    ) -> Cell {
        let rows = (0..lives).map(|i| {
            let (scale, sigma) = kind(i);
            let age = (0.5 * x).exp() * scale * stream.exponential().powf(sigma);
            if i % 4 == 3 {
                Observation::right(age, 0.0, 1.0).unwrap()
            } else {
                Observation::exact(age, 0.0, 1.0).unwrap()
            }
        });
        let sample = Sample::new(rows.collect());
        Cell {
            row: vec![1.0, x],
            terms: Terms::new(&sample).into(),
        }
    }

    /// Lives of two kinds in two rows: a regression ends at the highest of the admitted maxima that climbs from the law's
    /// own starts reach, which are not all as high.
    #[test]
    fn no_start_leads_higher_than_the_regression() {
        let names = ["intercept".to_owned(), "x".to_owned()];
        let family = by_name("weibull_mixture").unwrap();
        let mut some_are_lower = false;
        for seed in 0..10 {
            let mut stream = Stream::new(seed, 0);
            let cells = [0.0, 1.0].map(|x| {
                row_of_two_kinds(x, 12, &mut stream, |i| {
                    (if i % 4 == 0 { 20.0 } else { 200.0 }, 0.3)
                })
            });
            let found = fit_design(family, &Design::of_cells(&names, &cells)).unwrap();
            let problem = &found.problem;
            let starts = start::starts(problem, true);
            let reached = starts.iter().filter_map(|x| climb(problem, x).ok());
            let admitted = reached.filter(|m| !problem.unlike(&m.x));
            let admitted: Vec<f64> = admitted.map(|m| m.value).collect();
            let highest = highest(&admitted);
            let got = found.regression.log_likelihood;
            assert!((got - highest).abs() < 1e-6, "{seed}: {got} {highest}");
            some_are_lower |= admitted.iter().any(|value| *value < highest - 1.0);
        }
        assert!(some_are_lower);
    }

    /// Two samples, kinds and numbers drawn, on which neither the climb from the first start nor the slower search from the
    /// last comes to the regression's answer: both end lower.
    #[test]
    fn neither_the_first_start_nor_the_last_will_do() {
        let names = ["intercept".to_owned(), "x".to_owned()];
        let family = by_name("weibull_mixture").unwrap();
        for seed in [12, 36] {
            let mut stream = Stream::new(seed, 0);
            let lives = 6 + (20.0 * stream.uniform()) as usize;
            let cells = [0.0, 1.0].map(|x| {
                let kind = stream.uniform();
                row_of_two_kinds(x, lives, &mut stream, |i| {
                    let scale = if i % 3 == 0 {
                        20.0 + 100.0 * kind
                    } else {
                        200.0
                    };
                    (scale, 0.2 + 0.8 * kind)
                })
            });
            let found = fit_design(family, &Design::of_cells(&names, &cells)).unwrap();
            let got = found.regression.log_likelihood;
            let starts = start::starts(&found.problem, true);
            let first = climb(&found.problem, &starts[0]).unwrap().value;
            let last = maximise(&found.problem, starts.last().unwrap())
                .unwrap()
                .value;
            assert!(
                first < got - 0.1 && last < got - 0.1,
                "{seed}: {first} {last} {got}"
            );
            assert!(!found.problem.unlike(&found.maximum.x));
        }
    }
}
