//! Roots in a bracket.

use argmin::core::{CostFunction, Executor, State};
use argmin::solver::brent::BrentRoot;

struct Function<F>(F);

impl<F: Fn(f64) -> f64> CostFunction for Function<F> {
    type Param = f64;
    type Output = f64;
    fn cost(&self, x: &f64) -> Result<f64, argmin::core::Error> {
        Ok((self.0)(*x))
    }
}

/// Root of `f` in [a, b] by Brent's method, to an absolute tolerance `tol` in x.
/// `None` when `f(a)` and `f(b)` have the same sign or a value is not a number.
///
/// ```
/// let root = sealspan_numeric::roots::bracketed(|x| x * x - 2.0, 1.0, 2.0, 1e-14);
/// assert!((root.unwrap() - 2f64.sqrt()).abs() < 1e-13);
/// ```
pub fn bracketed(f: impl Fn(f64) -> f64, a: f64, b: f64, tol: f64) -> Option<f64> {
    let (fa, fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    // The first comparison is false for NaN, so a value that is no number gives no root.
    if !(fa * fb < 0.0 || fa.signum() * fb.signum() < 0.0) || fa.is_nan() || fb.is_nan() {
        return None;
    }
    let solver = BrentRoot::new(a, b, tol);
    let result = Executor::new(Function(f), solver)
        .configure(|state| state.param(a).max_iters(200))
        .run()
        .ok()?;
    result.state().get_best_param().copied()
}

/// Widens (a, b) upwards or downwards by doubling the step from `start` until `f` changes sign.
/// Returns the bracket (the start alone where it is a root), or `None` when `limit` steps do not reach a change.
///
/// ```
/// let bracket = sealspan_numeric::roots::bracket_from(|x| x - 10.0, 0.0, 1.0, 20);
/// assert!(bracket.is_some_and(|(low, high)| low < 10.0 && 10.0 <= high));
/// assert!(sealspan_numeric::roots::bracket_from(|_| 1.0, 0.0, 1.0, 20).is_none());
/// ```
pub fn bracket_from(
    f: impl Fn(f64) -> f64,
    start: f64,
    step: f64,
    limit: usize,
) -> Option<(f64, f64)> {
    let at_start = f(start);
    if at_start == 0.0 {
        return Some((start, start));
    }
    let sign = at_start.signum();
    let mut here = start;
    let mut stride = step;
    for _ in 0..limit {
        let next = here + stride;
        let value = f(next);
        if value.is_nan() {
            return None;
        }
        if value.signum() != sign || value == 0.0 {
            return Some((here.min(next), here.max(next)));
        }
        here = next;
        stride *= 2.0;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_and_refuses() {
        let root = bracketed(|x: f64| x.exp() - 5.0, -10.0, 10.0, 1e-14).unwrap_or(f64::NAN);
        assert!((root - 5f64.ln()).abs() < 1e-12);
        assert!(bracketed(|x| x * x + 1.0, -1.0, 1.0, 1e-9).is_none());
        assert!(bracketed(|_| f64::NAN, -1.0, 1.0, 1e-9).is_none());
        assert_eq!(bracket_from(|x| x - 6.0, 0.0, 1.0, 50), Some((3.0, 7.0)));
        // A root at the start is found, whichever way the step goes.
        assert_eq!(bracket_from(|x| -x, 0.0, -1.0, 50), Some((0.0, 0.0)));
    }
}
