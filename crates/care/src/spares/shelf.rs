//! Seals that go out of date on the shelf: one-for-one stock, oldest issued first, exact.
//!
//! With Poisson demand and a steady lead time L, look at the orders not yet claimed by a demand: S of
//! them, and each demand, or each seal that goes out of date at age M (lead time plus the time it may
//! lie), takes the oldest and starts a new one. The ages then have a stationary density that depends on
//! the oldest age x alone: e^(−λx) where demands wait, e^(−λ(x − L)⁺) where they go urgent from an empty
//! shelf (both satisfy the balance of the ageing process; the second is Schmidt & Nahmias 1985,
//! Management Science, from memory). So x is a gamma variable cut off at M, and everything follows from
//! incomplete gamma functions.

use sealspan_numeric::special::{chi_square_survival, ln_gamma};

/// What a stock that goes out of date gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept {
    /// Share of demands met at once.
    pub fill_rate: f64,
    /// Mean number of demands waiting.
    pub expected_backorders: f64,
    /// Mean number of seals on the shelf.
    pub expected_on_hand: f64,
    /// Seals scrapped per day for age.
    pub scrap_rate: f64,
}

/// A part that keeps for a limited time.
///
/// ```
/// use sealspan_care::spares::shelf::Shelf;
/// // One seal, there as soon as ordered, that keeps for 100 days, and a demand every 100 days on average: it is
/// // replaced after 100 (1 − 1/e) days on average, out of date in 1/e of the cases.
/// let shelf = Shelf { demand_rate: 0.01, lead_time: 0.0, usable: 100.0, urgent: false };
/// let kept = shelf.kept(1);
/// assert!((kept.scrap_rate - 0.01 / (1f64.exp() - 1.0)).abs() < 1e-12 && kept.fill_rate == 1.0);
/// // Where it keeps for ever: Palm's stock, met at once with P(X ≤ 2) of a Poisson number of mean 2.
/// let lasting = Shelf { demand_rate: 0.1, lead_time: 20.0, usable: 1e6, urgent: false };
/// assert!((lasting.kept(3).fill_rate - 5.0 * (-2.0f64).exp()).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shelf {
    /// Demands per day.
    pub demand_rate: f64,
    /// Days from order to arrival, always the same.
    pub lead_time: f64,
    /// Days a seal may lie after it has arrived.
    pub usable: f64,
    /// Whether a demand on an empty shelf goes urgent instead of waiting.
    pub urgent: bool,
}

/// ln of the regularised lower incomplete gamma function P(a, z): the chance of at least `a` events of a
/// Poisson stream by the time `z` are expected. Keeps its digits where P underflows.
fn ln_at_least(a: usize, z: f64) -> f64 {
    if a == 0 {
        return 0.0;
    }
    if z <= 0.0 {
        return f64::NEG_INFINITY;
    }
    let shape = a as f64;
    if z >= shape + 1.0 {
        return (-chi_square_survival(2.0 * z, 2.0 * shape)).ln_1p();
    }
    let (mut term, mut sum, mut k) = (1.0, 1.0, shape);
    while term > 1e-17 * sum {
        k += 1.0;
        term *= z / k;
        sum += term;
    }
    ln_poisson(a, z) + sum.ln()
}

/// ln of the Poisson probability of `k` at mean `z` (above 0).
fn ln_poisson(k: usize, z: f64) -> f64 {
    k as f64 * z.ln() - z - ln_gamma(k as f64 + 1.0)
}

impl Shelf {
    /// What `stock` seals, on the shelf or on order, give when every seal taken or scrapped is re-ordered
    /// at once. All numbers of the part are above zero, lead time 0 allowed.
    #[must_use]
    pub fn kept(&self, stock: usize) -> Kept {
        let rate = self.demand_rate;
        let (due, out) = (rate * self.lead_time, rate * (self.lead_time + self.usable));
        if stock == 0 {
            return Kept {
                fill_rate: 0.0,
                expected_backorders: if self.urgent { 0.0 } else { due },
                expected_on_hand: 0.0,
                scrap_rate: 0.0,
            };
        }
        if self.urgent && due >= stock as f64 {
            return self.scarce(stock, due, out);
        }
        let size = stock as f64;
        // Every figure is a ratio to the mass of the whole density.
        let ends = ln_at_least(stock, out);
        let whole = if self.urgent {
            ends + (-(ln_at_least(stock + 1, due) - ends).exp()).ln_1p()
        } else {
            ends
        };
        let share = |ln: f64| (ln - whole).exp();
        let below = share(ln_at_least(stock, due));
        let arrived = (share(ends) - below).max(0.0);
        let earlier =
            (share(ln_at_least(stock - 1, out)) - share(ln_at_least(stock - 1, due))).max(0.0);
        let (missed, waiting) = if self.urgent {
            (
                if due > 0.0 {
                    share(ln_poisson(stock, due))
                } else {
                    0.0
                },
                0.0,
            )
        } else {
            let later = share(ln_at_least(stock + 1, due));
            (below, (due * below - size * later).max(0.0))
        };
        Kept {
            fill_rate: (1.0 - missed).max(0.0),
            expected_backorders: waiting,
            expected_on_hand: (size * arrived - due * earlier).max(0.0),
            scrap_rate: rate * share(ln_poisson(stock - 1, out)),
        }
    }

    /// Urgent supply where a lead time asks for at least as many seals as are held. All figures are in units of the
    /// Poisson probability p_S(λL): with t_k = p_k(λL) / p_S(λL) their sum over k < S is the mass of the ages beyond the
    /// lead time (Erlang's formula upside down), less that beyond M: positive terms, where the general form loses all
    /// its digits.
    fn scarce(&self, stock: usize, due: f64, out: f64) -> Kept {
        let size = stock as f64;
        // Sums over k < S of the terms and of (S − k λL / mean) times them, at `mean`, in units of the term at S.
        let sums = |mean: f64| {
            let (mut term, mut mass, mut held) = (1.0, 0.0, 0.0);
            for k in (0..stock).rev() {
                term *= (k + 1) as f64 / mean;
                mass += term;
                held += (size - k as f64 * due / mean) * term;
            }
            (mass, held)
        };
        let gone = (size * (out / due).ln() - (out - due)).exp();
        let ((here, held), (later, held_later)) = (sums(due), sums(out));
        let arrived = (here - gone * later).max(0.0);
        let whole = 1.0 + arrived;
        Kept {
            fill_rate: arrived / whole,
            expected_backorders: 0.0,
            expected_on_hand: (held - gone * held_later).max(0.0) / whole,
            scrap_rate: self.demand_rate * gone * size / out / whole,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::Pipeline;

    fn close(got: f64, want: f64, rel: f64) {
        assert!(
            (got - want).abs() <= rel * want.abs().max(1e-12),
            "{got} against {want}"
        );
    }

    /// A very long shelf life is none: Palm's stock, and Erlang's loss formula.
    #[test]
    fn long_shelf_lives_are_none() {
        let mut shelf = Shelf {
            demand_rate: 0.1,
            lead_time: 25.0,
            usable: 5000.0,
            urgent: false,
        };
        let x = Pipeline::new(0.1, 25.0).unwrap_or_else(|e| unreachable!("{e}"));
        for stock in 1..9 {
            let kept = shelf.kept(stock);
            close(kept.fill_rate, x.fill_rate(stock), 1e-12);
            close(kept.expected_backorders, x.backorders(stock), 1e-10);
            close(kept.expected_on_hand, x.on_hand(stock), 1e-10);
            assert!(kept.scrap_rate < 1e-100);
        }
        shelf.urgent = true;
        let mut blocked = 1.0;
        for stock in 1..9 {
            blocked = 2.5 * blocked / (stock as f64 + 2.5 * blocked);
            let kept = shelf.kept(stock);
            close(1.0 - kept.fill_rate, blocked, 1e-10);
            close(
                kept.expected_on_hand,
                stock as f64 - 2.5 * (1.0 - blocked),
                1e-9,
            );
        }
    }

    /// With no lead time and one seal: it is sold or scrapped after min(exponential, M), so the scrap
    /// rate is λ e^(−λM) / (1 − e^(−λM)).
    #[test]
    fn one_seal_without_lead_time() {
        let shelf = Shelf {
            demand_rate: 0.02,
            lead_time: 0.0,
            usable: 60.0,
            urgent: false,
        };
        let kept = shelf.kept(1);
        let e = (-1.2_f64).exp();
        close(kept.scrap_rate, 0.02 * e / (1.0 - e), 1e-12);
        close(kept.expected_on_hand, 1.0, 1e-12);
    }

    /// A few seals against a long lead time: Erlang's formula to its last digits, and far smaller chances than a double
    /// holds beside 1.
    #[test]
    fn scarce_stocks_keep_their_digits() {
        for (rate, lead_time) in [(3.0, 21.0), (40.0, 90.0)] {
            let shelf = Shelf {
                demand_rate: rate,
                lead_time,
                usable: 2555.0,
                urgent: true,
            };
            let due = rate * lead_time;
            let mut blocked = 1.0;
            for stock in 1..60 {
                blocked = due * blocked / (f64::from(stock) + due * blocked);
                let kept = shelf.kept(stock as usize);
                // Erlang's recursion is exact for the blocked share, and Little's law for what is on hand.
                close(kept.fill_rate, 1.0 - blocked, 1e-9 / (1.0 - blocked) * 1e-3);
                assert!(kept.expected_on_hand > 0.0 && kept.expected_on_hand < f64::from(stock));
            }
        }
    }

    /// Where both forms hold they give the same, with a shelf life that is felt.
    #[test]
    fn both_forms_agree() {
        let shelf = Shelf {
            demand_rate: 0.1,
            lead_time: 60.0,
            usable: 20.0,
            urgent: true,
        };
        for stock in [4_usize, 5, 6] {
            let (due, out) = (6.0, 8.0);
            let (a, b) = (shelf.scarce(stock, due, out), general(&shelf, stock));
            close(a.fill_rate, b.fill_rate, 1e-12);
            close(a.expected_on_hand, b.expected_on_hand, 1e-11);
            close(a.scrap_rate, b.scrap_rate, 1e-12);
        }
    }

    /// The sum over the density's own definition by fine steps: mass x^(S−1) up to the lead time, times
    /// e^(−λ(x − L)) beyond, to M.
    fn general(shelf: &Shelf, stock: usize) -> Kept {
        let (l, m, rate) = (
            shelf.lead_time,
            shelf.lead_time + shelf.usable,
            shelf.demand_rate,
        );
        let power = |x: f64, p: usize| x.powi(i32::try_from(p).unwrap_or(0));
        let weight = |x: f64| power(x, stock - 1) * (-rate * (x - l).max(0.0)).exp();
        let over = |from: f64, to: f64, f: &dyn Fn(f64) -> f64| {
            let (n, step) = (4000, (to - from) / 4000.0);
            let inner: f64 = (1..n)
                .map(|i| f64::from(2 + 2 * (i % 2)) * f(from + f64::from(i) * step))
                .sum();
            (f(from) + inner + f(to)) * step / 3.0
        };
        let early = over(0.0, l, &weight);
        let arrived = over(l, m, &weight);
        let whole = early + arrived;
        // Below the oldest, the other ages lie evenly: those beyond L are on the shelf.
        let on_hand = |x: f64| weight(x) * (1.0 + (stock - 1) as f64 * (x - l) / x);
        Kept {
            fill_rate: arrived / whole,
            expected_backorders: 0.0,
            expected_on_hand: over(l, m, &on_hand) / whole,
            scrap_rate: weight(m) / whole,
        }
    }

    /// Each seal that arrives leaves by a demand or by age: on hand = arrivals × mean time lain (Little),
    /// which at most is the usable time.
    #[test]
    fn bounds_and_underflow() {
        let shelf = Shelf {
            demand_rate: 0.001,
            lead_time: 6.0,
            usable: 400.0,
            urgent: true,
        };
        for stock in [1, 5, 60, 300] {
            let kept = shelf.kept(stock);
            let arrivals = 0.001 * kept.fill_rate + kept.scrap_rate;
            assert!(
                kept.expected_on_hand <= 400.0 * arrivals * (1.0 + 1e-9),
                "{stock}: {kept:?}"
            );
            assert!(kept.expected_on_hand > 0.8 * stock as f64);
            assert!(kept.fill_rate <= 1.0 && kept.scrap_rate.is_finite());
        }
    }
}
