//! Present value of a policy for ever, discounted continuously; the first fitting is not counted.
//!
//! With A = e^(−δT) R(T) and B = ∫₀ᵀ e^(−δt) f(t) dt, money is paid when the seal comes off and the
//! next cycle starts when the equipment is up again:
//! PV = (c_p A + c_f B) / (1 − A e^(−δ d_p) − B e^(−δ d_f)).
//! Fox 1966 gives the form without downtime (from memory); the downtime terms are our own.

use crate::ladder::Ladder;
use crate::rate::Weights;

/// Present value at the discount rate `delta` per unit of the clock (above 0) of replacing at `age`;
/// for replacing on failure only, pass the ladder's oldest rung.
///
/// Written with positive terms only: B = e^(−δT) F(T) + δ ∫ e^(−δt) F, and the denominator is
/// δ ∫ e^(−δt) R + A (1 − e^(−δ d_p)) + B (1 − e^(−δ d_f)).
pub(crate) fn value(ladder: &Ladder, weights: &Weights, delta: f64, age: f64) -> f64 {
    let life = ladder.life();
    let now = |t: f64| (-delta * t).exp();
    let cut = ladder.at(age);
    let planned = now(age) * cut.survival;
    let failed = now(age) * cut.failed + delta * ladder.integral(|t| now(t) * life.failed(t), age);
    let service = ladder.integral(|t| now(t) * life.survival(t), age);
    let down = |time: f64| -(-delta * time).exp_m1();
    (weights.planned * planned + weights.failed * failed)
        / (delta * service
            + planned * down(weights.planned_time)
            + failed * down(weights.failed_time))
}
