//! Counting failures among seals put to a test: exact binomial bounds, and how many seals show a reliability. Tails of
//! the binomial law are the regularised incomplete beta function I (textbook formula, from memory).
//!
//! ```
//! use sealspan_life::demonstration::*;
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-9, "{a} is not {b}");
//! // Two seals that fail with probability 1/2 each: both sound in a quarter of all trials.
//! near(pass_chance(0.5, 2, 0), 0.25);
//! near(more_fail(0.5, 2, 0), 0.75);
//! // Without failures n = ln(1 − C)/ln R: 21.85 seals for 90 % with 90 % confidence, a quarter of that when each is
//! // tested for two lives of shape 2.
//! assert_eq!(seals_for_failing(0.1, 0.9, 0), Some(22));
//! near(failing_shown(22, 0.9, 0).unwrap(), 1.0 - 0.1_f64.powf(1.0 / 22.0));
//! near(seals_for_longer_test(0.9, 0.9, 2.0, 2.0), 0.1_f64.ln() / 0.9_f64.ln() / 4.0);
//! assert!(reaches(0.9 - 1e-15, 0.9) && !reaches(0.899, 0.9));
//! ```

use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::beta_share;

/// Exact two-sided interval for a share from x `failures` among n `seals` at confidence `level` (Clopper &
/// Pearson 1934): the p with I_p(x, n − x + 1) = (1 − level)/2, or 0 without failures, and with I_p(x + 1, n − x) =
/// (1 + level)/2, or 1 when all failed. `None` without seals, with more failures than seals, or for a level that does
/// not lie between 0 and 1.
///
/// ```
/// let (_, upper) = sealspan_life::demonstration::share_interval(0, 22, 0.9).unwrap();
/// assert!((upper - (1.0 - 0.05f64.powf(1.0 / 22.0))).abs() < 1e-12);
/// ```
#[must_use]
pub fn share_interval(failures: u64, seals: u64, level: f64) -> Option<(f64, f64)> {
    if failures > seals || seals == 0 || !(level > 0.0 && level < 1.0) {
        return None;
    }
    let side = 0.5 * (1.0 - level);
    let (x, n) = (failures as f64, seals as f64);
    let at =
        |a: f64, b: f64, share: f64| bracketed(|p| beta_share(a, b, p) - share, 0.0, 1.0, 1e-16);
    let lower = if failures == 0 {
        0.0
    } else {
        at(x, n - x + 1.0, side)?
    };
    let upper = if failures == seals {
        1.0
    } else {
        at(x + 1.0, n - x, 1.0 - side)?
    };
    Some((lower, upper))
}

/// Chance that more than x `failures` of n `seals` fail when each fails with probability p `failing`:
/// I_p(x + 1, n − x), 0 where x is n or more.
#[must_use]
pub fn more_fail(failing: f64, seals: u64, failures: u64) -> f64 {
    if failures >= seals {
        return 0.0;
    }
    beta_share(failures as f64 + 1.0, (seals - failures) as f64, failing)
}

/// Chance that at most x `failures` of n `seals` fail when each fails with probability p `failing`: that a trial
/// allowing so many is passed. I_{1−p}(n − x, x + 1), 1 where x is n or more.
#[must_use]
pub fn pass_chance(failing: f64, seals: u64, failures: u64) -> f64 {
    if failures >= seals {
        return 1.0;
    }
    beta_share(
        (seals - failures) as f64,
        failures as f64 + 1.0,
        1.0 - failing,
    )
}

/// Fewest seals that show `reliability` with `wanted` confidence if at most `failures` fail: the smallest n with P(at
/// most that many fail) ≤ 1 − confidence. `None` unless both lie between 0 and 1, or where more are needed than can be
/// counted. Without failures this is ln(1 − C)/ln R rounded up, guarded against rounding up a whole number (see
/// [`reaches`]).
///
/// ```
/// // 22 seals without failure show 90 % reliability with 90 % confidence.
/// assert_eq!(sealspan_life::demonstration::seals_needed(0.9, 0.9, 0), Some(22));
/// ```
#[must_use]
pub fn seals_needed(reliability: f64, wanted: f64, failures: u64) -> Option<u64> {
    seals_for_failing(1.0 - reliability, wanted, failures)
}

/// The same, from the probability `failing` that a seal fails in the trial: it keeps its digits where hardly
/// any do.
#[must_use]
pub fn seals_for_failing(failing: f64, wanted: f64, failures: u64) -> Option<u64> {
    let inside = |x: f64| x > 0.0 && x < 1.0;
    if !inside(failing) || !inside(wanted) {
        return None;
    }
    let enough = |n: u64| reaches(more_fail(failing, n, failures), wanted);
    let mut high = failures + 1;
    while !enough(high) {
        high = high.checked_mul(2)?;
    }
    let mut low = failures;
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if enough(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}

/// Whether a confidence reaches the one wanted, or falls short by no more than the lesser of 1e-12 and a billionth of
/// 1 − `wanted`: a whole number of seals that rounding has lifted by a hair still counts (a rule of ours).
#[must_use]
pub fn reaches(confidence: f64, wanted: f64) -> bool {
    confidence >= wanted - 1e-12f64.min(1e-9 * (1.0 - wanted))
}

/// Probability of failing in the trial at which at most `failures` of `seals` fail with chance 1 − `wanted`: the
/// upper confidence bound of that probability (Clopper & Pearson 1934). Without failures it is
/// 1 − (1 − C)^(1/n). `None` when all seals may fail or the confidence is not between 0 and 1, or where the bound is
/// below e⁻⁶⁰.
#[must_use]
pub fn failing_shown(seals: u64, wanted: f64, failures: u64) -> Option<f64> {
    if failures >= seals || !(wanted > 0.0 && wanted < 1.0) {
        return None;
    }
    if failures == 0 {
        return Some(-((-wanted).ln_1p() / seals as f64).exp_m1());
    }
    // On ln q, so that a small probability keeps its digits.
    let short = |ln_q: f64| more_fail(ln_q.exp(), seals, failures) - wanted;
    bracketed(short, -60.0, 0.0, 1e-14).map(f64::exp)
}

/// Seals needed without failures when each is tested for `ratio` times the mission and life is Weibull with a
/// known shape: ln(1 − C) / (ratio^shape ln R), not rounded (Meeker & Escobar 1998, section 10.6; from memory). That
/// reliability and confidence lie between 0 and 1, shape and ratio above 0, is not checked.
#[must_use]
pub fn seals_for_longer_test(reliability: f64, wanted: f64, shape: f64, ratio: f64) -> f64 {
    (-wanted).ln_1p() / (ratio.powf(shape) * reliability.ln())
}
