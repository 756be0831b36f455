//! The tail of the log-gamma law outward from w by Gauss–Legendre panels, for q near 0: the integrand is smooth
//! in q there, so the limit needs no special case.

use super::parts::{excess_value, growth, in_q, ln_constant, slope};
use super::tail::Tail;
use crate::quadrature::LEGENDRE;

/// Beyond this fall of ln density nothing is left to add.
const DEEP: f64 = 38.0;
/// Largest fall and length of a panel (14 nodes are exact to the last digits there).
const PANEL_FALL: f64 = 8.0;
const PANEL_LENGTH: f64 = 3.0;

/// The side whose tail holds at most about a half (+1 upper).
fn near_side(w: f64) -> f64 {
    if w >= 0.0 { 1.0 } else { -1.0 }
}

/// Visits the nodes of the tail beyond w in direction `side`: offset from w and weight times density over the
/// density at w. Offsets carry the digits; w + offset would lose them where the law falls steeply.
fn nodes(w: f64, q: f64, side: f64, mut visit: impl FnMut(f64, f64)) {
    let (steep, grown) = (slope(w, q), (q * w).exp());
    // φ(w + δ) − φ(w), free of cancellation.
    let fallen = |off: f64| off * steep + grown * off * off * excess_value(q * off);
    let mut reached = 0.0;
    loop {
        let length = PANEL_LENGTH.min(PANEL_FALL / slope(w + reached, q).abs());
        let half = 0.5 * length;
        let centre = reached + side * half;
        for (x, weight) in LEGENDRE.iter() {
            let off = centre + half * x;
            visit(off, weight * half * (-fallen(off)).exp());
        }
        reached += side * length;
        let fallen = fallen(reached);
        // Beyond all range the fall is no number, or the panel has no length: stop as well.
        if fallen > DEEP || !fallen.is_finite() || length < f64::MIN_POSITIVE {
            return;
        }
    }
}

/// Side and share of the nearer tail.
pub(super) fn share(w: f64, q: f64) -> (f64, f64) {
    let side = near_side(w);
    let mut share = 0.0;
    nodes(w, q, side, |_, density| share += density);
    (side, share)
}

/// The nearer tail with derivatives: those of ln share in q are means over the tail of the derivatives of
/// ln density, less their values at w.
pub(super) fn tail(w: f64, q: f64) -> Tail {
    let side = near_side(w);
    let grown = (q * w).exp();
    let c = ln_constant(q);
    let (at_w, bend_at_w) = in_q(w, q, c);
    let (mut share, mut steeper, mut first, mut second) = (0.0, 0.0, 0.0, 0.0);
    nodes(w, q, side, |off, density| {
        let (g1, g2) = in_q(w + off, q, c);
        share += density;
        // ∫ ±(φ′(u) − φ′(w)) is 1 ∓ φ′(w) share.
        steeper += density * side * grown * off * growth(q * off);
        first += density * (g1 - at_w);
        second += density * ((g1 - at_w).powi(2) + g2 - bend_at_w);
    });
    let mean = first / share;
    Tail {
        side,
        share,
        first: mean,
        second: second / share - mean * mean,
        steeper,
    }
}
