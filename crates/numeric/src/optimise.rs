//! Minimisation through argmin, with our own check that a minimum was reached.

use argmin::core::{CostFunction, Executor, Gradient, State};
use argmin::solver::brent::BrentOpt;
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::neldermead::NelderMead;
use argmin::solver::quasinewton::BFGS;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

struct Line<F>(F);

impl<F: Fn(f64) -> f64> CostFunction for Line<F> {
    type Param = f64;
    type Output = f64;
    fn cost(&self, x: &f64) -> Result<f64, argmin::core::Error> {
        Ok(finite((self.0)(*x)))
    }
}

/// Minimum of `f` in [a, b], by Brent's method: (x, f(x)). The ends are looked at too.
///
/// ```
/// let (x, _) = sealspan_numeric::optimise::minimise_bracketed(|x| (x - 2.0).powi(2), 0.0, 5.0, 1e-10);
/// assert!((x - 2.0).abs() < 1e-6);
/// ```
pub fn minimise_bracketed(f: impl Fn(f64) -> f64, a: f64, b: f64, tol: f64) -> (f64, f64) {
    let mut best = if f(a) <= f(b) { (a, f(a)) } else { (b, f(b)) };
    let run = Executor::new(Line(&f), BrentOpt::new(a, b).set_tolerance(tol, tol))
        .configure(|state| state.max_iters(200))
        .run();
    if let Ok(result) = run
        && let Some(x) = result.state().get_best_param()
        && f(*x) < best.1
    {
        best = (*x, f(*x));
    }
    best
}

/// A smooth function of several variables to be minimised.
///
/// ```
/// use sealspan_numeric::optimise::{Objective, bfgs, nelder_mead};
/// /// The valley of Rosenbrock (1960): least at (1, 1).
/// struct Valley;
/// impl Objective for Valley {
///     fn value(&self, x: &[f64]) -> f64 {
///         (1.0 - x[0]).powi(2) + 100.0 * (x[1] - x[0] * x[0]).powi(2)
///     }
///     fn gradient(&self, x: &[f64]) -> Vec<f64> {
///         let steep = 200.0 * (x[1] - x[0] * x[0]);
///         vec![-2.0 * (1.0 - x[0]) - 2.0 * x[0] * steep, steep]
///     }
/// }
/// assert_eq!(Valley.gradient(&[1.0, 1.0]), [0.0, 0.0]);
/// for found in [bfgs(&Valley, &[-1.2, 1.0], 200), nelder_mead(&Valley, &[-1.2, 1.0], 0.5, 1000)] {
///     assert!(found.unwrap().iter().all(|x| (x - 1.0).abs() < 1e-4));
/// }
/// ```
pub trait Objective: Sync {
    /// Value; anything not finite is taken as very bad.
    fn value(&self, x: &[f64]) -> f64;
    /// First derivatives.
    fn gradient(&self, x: &[f64]) -> Vec<f64>;
}

/// A value that is not a number or infinite would hang a line search: a large finite one does not.
const VERY_BAD: f64 = 1e100;

fn finite(value: f64) -> f64 {
    if value.is_finite() { value } else { VERY_BAD }
}

/// Slopes that BFGS may ask for, an iteration (a rule of ours). Argmin sets a line search no limit, and one on a plateau or along the
/// rounding of a ridge goes on for ever.
const SLOPES: u64 = 50;

/// An objective as argmin takes it: the lowest point seen is kept, and slopes are counted.
struct Smooth<'a, O: ?Sized> {
    objective: &'a O,
    slopes_left: AtomicU64,
    lowest: Mutex<Option<(f64, Vec<f64>)>>,
}

impl<'a, O: Objective + ?Sized> Smooth<'a, O> {
    fn new(objective: &'a O, slopes: u64) -> Self {
        Self {
            objective,
            slopes_left: AtomicU64::new(slopes),
            lowest: Mutex::new(None),
        }
    }

    /// Whether slopes were asked for without end.
    fn stopped(&self) -> bool {
        self.slopes_left.load(Ordering::Relaxed) == 0
    }

    fn lowest(&self) -> Option<Vec<f64>> {
        let lowest = self.lowest.lock().ok()?;
        lowest.as_ref().map(|(_, x)| x.clone())
    }
}

impl<O: Objective + ?Sized> CostFunction for &Smooth<'_, O> {
    type Param = Vec<f64>;
    type Output = f64;
    fn cost(&self, x: &Vec<f64>) -> Result<f64, argmin::core::Error> {
        let value = finite(self.objective.value(x));
        if let Ok(mut lowest) = self.lowest.lock()
            && lowest.as_ref().is_none_or(|(least, _)| value < *least)
        {
            *lowest = Some((value, x.clone()));
        }
        Ok(value)
    }
}

impl<O: Objective + ?Sized> Gradient for &Smooth<'_, O> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;
    fn gradient(&self, x: &Vec<f64>) -> Result<Vec<f64>, argmin::core::Error> {
        let one_less = |left: u64| left.checked_sub(1);
        let order = Ordering::Relaxed;
        if self
            .slopes_left
            .fetch_update(order, order, one_less)
            .is_err()
        {
            return Err(argmin::core::Error::msg("the line search does not end"));
        }
        let mut g = self.objective.gradient(x);
        for v in &mut g {
            if !v.is_finite() {
                *v = 0.0;
            }
        }
        Ok(g)
    }
}

/// Goes downhill by BFGS with a Moré–Thuente line search, until its slopes are below 1e-9 or `iterations` are made. The
/// result is the lowest point met, `None` where `start` has no finite value or a line search fails; whether it is a minimum is for the caller's
/// own gradient to say.
pub fn bfgs(
    objective: &(impl Objective + ?Sized),
    start: &[f64],
    iterations: u64,
) -> Option<Vec<f64>> {
    if !objective.value(start).is_finite() {
        return None;
    }
    let n = start.len();
    let identity: Vec<Vec<f64>> = (0..n)
        .map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect())
        .collect();
    let solver = BFGS::new(MoreThuenteLineSearch::new())
        .with_tolerance_grad(1e-9)
        .ok()?;
    let smooth = Smooth::new(objective, SLOPES * iterations.saturating_add(1));
    let run = Executor::new(&smooth, solver)
        .configure(|state| {
            state
                .param(start.to_vec())
                .inv_hessian(identity)
                .max_iters(iterations)
        })
        .run();
    match run {
        Ok(result) => result.state().get_best_param().cloned(),
        Err(_) => smooth.stopped().then(|| smooth.lowest())?,
    }
}

/// Nelder–Mead from a simplex around `start`: slow and sure, the fallback.
pub fn nelder_mead(
    objective: &(impl Objective + ?Sized),
    start: &[f64],
    step: f64,
    iterations: u64,
) -> Option<Vec<f64>> {
    if start.is_empty() {
        return None;
    }
    let mut simplex = vec![start.to_vec()];
    for i in 0..start.len() {
        let mut corner = start.to_vec();
        if let Some(x) = corner.get_mut(i) {
            *x += step;
        }
        simplex.push(corner);
    }
    let solver = NelderMead::new(simplex).with_sd_tolerance(1e-12).ok()?;
    let smooth = Smooth::new(objective, 0);
    let result = Executor::new(&smooth, solver)
        .configure(|state| state.max_iters(iterations))
        .run()
        .ok()?;
    result.state().get_best_param().cloned()
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Bowl;
    impl Objective for Bowl {
        fn value(&self, x: &[f64]) -> f64 {
            (x[0] - 1.0).powi(2) + 10.0 * (x[1] + 2.0).powi(2)
        }
        fn gradient(&self, x: &[f64]) -> Vec<f64> {
            vec![2.0 * (x[0] - 1.0), 20.0 * (x[1] + 2.0)]
        }
    }

    #[test]
    fn both_find_the_bottom() {
        for found in [
            bfgs(&Bowl, &[0.0, 0.0], 50),
            nelder_mead(&Bowl, &[0.0, 0.0], 0.5, 500),
        ] {
            let x = found.unwrap_or_default();
            assert!(
                (x[0] - 1.0).abs() < 1e-4 && (x[1] + 2.0).abs() < 1e-4,
                "{x:?}"
            );
        }
    }
}
