//! One position and at most one spare: when to order it, and at what age to replace.
//!
//! The spare is ordered when the seal reaches age w, or when it fails if that is sooner, and arrives L later. The
//! seal is replaced at age T ≥ w + L, or when it has failed and the spare is there. By renewal reward
//! g(w, T) = [c_p R(T) + c_f F(T) + h ∫_{w+L}^T R + s ∫_w^{w+L} F] / [∫₀ᵀ R + ∫_w^{w+L} F]
//! (model of Armstrong & Atkins 1996, IIE Transactions, from memory).

use crate::costs::{Costs, Prices};
use crate::error::{Result, not_negative, positive};
use crate::ladder::Ladder;
use crate::replacement::{Evaluator, Goal};
use sealspan_life::life::Life;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_records::observation::Clock;
use serde::Serialize;

/// Money and times, in units of the life's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneSpare {
    /// c_p: money of a planned replacement.
    pub planned: f64,
    /// c_f: money of a replacement after a failure, waiting apart.
    pub failed: f64,
    /// h: money to hold the spare for one unit of the clock.
    pub holding: f64,
    /// s: money for one unit of the clock without a seal.
    pub waiting: f64,
    /// L: time from order to arrival.
    pub lead_time: f64,
}

/// When to order and when to replace.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Choice {
    /// Age at which the spare is ordered; `None`: only on failure.
    pub order_at: Option<f64>,
    /// Replacement age; `None`: only on failure.
    pub replace_at: Option<f64>,
    /// Money per unit of the clock.
    pub cost_rate: f64,
}

/// Both together against one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Joint {
    /// The best pair.
    pub together: Choice,
    /// The replacement age without a thought for the spare, then the best order time for it.
    pub apart: Choice,
    /// Share of the cost that choosing together saves.
    pub saving: f64,
    /// True when the seal is best replaced as soon as the spare arrives.
    pub on_arrival: bool,
}

/// Ages looked at before a minimum is closed in on, and the finest tolerance in age.
const LOOKS: usize = 40;
const FINE: f64 = 1e-12;
/// Replacement on arrival: nearer than this share of the mean life.
const ARRIVAL: f64 = 1e-5;
/// Share surviving at the greatest age looked at.
const OLDEST: f64 = 1e-6;

struct Game<'a> {
    ladder: &'a Ladder,
    terms: &'a OneSpare,
}

impl Game<'_> {
    /// g(w, T); T infinite: never replaced before failure.
    fn rate(&self, order_at: f64, replace_at: f64) -> f64 {
        let t = self.terms;
        let arrival = order_at + t.lead_time;
        let up_to = |age: f64| {
            if age.is_finite() {
                self.ladder.at(age).service
            } else {
                self.ladder.mean()
            }
        };
        let down = (t.lead_time - (up_to(arrival) - up_to(order_at))).max(0.0);
        let (survive, fail) = if replace_at.is_finite() {
            let cut = self.ladder.at(replace_at);
            (cut.survival, cut.failed)
        } else {
            (0.0, 1.0)
        };
        let held = (up_to(replace_at) - up_to(arrival)).max(0.0);
        (t.planned * survive + t.failed * fail + t.holding * held + t.waiting * down)
            / (up_to(replace_at) + down)
    }

    /// The best replacement age for an order time: (age, rate); infinite when never is best.
    fn best_age(&self, order_at: f64, oldest: f64) -> (f64, f64) {
        let arrival = order_at + self.terms.lead_time;
        let rate = |extra: f64| self.rate(order_at, arrival + extra);
        let (extra, least) = valley(&rate, (oldest - arrival).max(0.0));
        let never = self.rate(order_at, f64::INFINITY);
        if never <= least {
            (f64::INFINITY, never)
        } else {
            (arrival + extra, least)
        }
    }

    /// Ordering on failure only: there is never a spare before.
    fn on_failure(&self) -> Choice {
        let t = self.terms;
        Choice {
            order_at: None,
            replace_at: None,
            cost_rate: (t.failed + t.waiting * t.lead_time) / (self.ladder.mean() + t.lead_time),
        }
    }
}

/// Least value of `f` on [0, `high`]: looked for on an uneven grid, denser near 0, then closed in on.
fn valley(f: &dyn Fn(f64) -> f64, high: f64) -> (f64, f64) {
    if high <= 0.0 {
        return (0.0, f(0.0));
    }
    let at = |i: usize| high * (i as f64 / LOOKS as f64).powi(2);
    let best = (0..=LOOKS)
        .map(|i| (i, f(at(i))))
        .fold((0, f64::INFINITY), |a, b| if b.1 < a.1 { b } else { a });
    let (from, to) = (at(best.0.saturating_sub(1)), at((best.0 + 1).min(LOOKS)));
    minimise_bracketed(f, from, to, FINE)
}

impl OneSpare {
    fn check(&self) -> Result<()> {
        positive("the planned cost", self.planned)?;
        positive("the failure cost", self.failed)?;
        not_negative("the holding cost", self.holding)?;
        not_negative("the cost of waiting", self.waiting)?;
        not_negative("the lead time", self.lead_time)?;
        Ok(())
    }

    /// The cost rate of a given pair of ages, both in units of the clock: money per unit of the clock.
    ///
    /// # Errors
    /// When a number is out of its range, or the age is below order time plus lead time.
    ///
    /// ```
    /// use sealspan_care::joint::one_seal::OneSpare;
    /// use sealspan_life::life::Life;
    /// // A spare that comes at once and costs nothing to hold: replacing at an age alone, (c_p R + c_f F)/∫R.
    /// let terms = OneSpare { planned: 1.0, failed: 5.0, holding: 0.0, waiting: 10.0, lead_time: 0.0 };
    /// let rate = terms.given(&Life::exponential(100.0).unwrap(), 0.0, 100.0)?;
    /// let (r, f) = ((-1.0f64).exp(), 1.0 - (-1.0f64).exp());
    /// assert!((rate - (r + 5.0 * f) / (100.0 * f)).abs() < 1e-9);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn given(&self, life: &Life, order_at: f64, replace_at: f64) -> Result<f64> {
        self.check()?;
        not_negative("the order time", order_at)?;
        not_negative(
            "the replacement age less order time and lead time",
            replace_at - order_at - self.lead_time,
        )?;
        let ladder = Ladder::new(life)?;
        Ok(Game {
            ladder: &ladder,
            terms: self,
        }
        .rate(order_at, replace_at))
    }

    /// Order time and replacement age with the least cost, together and one after the other.
    ///
    /// # Errors
    /// When a number is out of its range or the mean life is not finite.
    ///
    /// ```
    /// use sealspan_care::joint::one_seal::OneSpare;
    /// use sealspan_life::life::Life;
    /// let terms = OneSpare { planned: 5.0, failed: 20.0, holding: 2.0, waiting: 10.0, lead_time: 2.0 };
    /// let joint = terms.best(&Life::weibull(2.5, 24.0).unwrap())?;
    /// assert!(joint.on_arrival && (joint.saving - 0.0672).abs() < 1e-4);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn best(&self, life: &Life) -> Result<Joint> {
        self.check()?;
        let ladder = Ladder::new(life)?;
        let game = Game {
            ladder: &ladder,
            terms: self,
        };
        let oldest = life.quantile(1.0 - OLDEST);
        let (order_at, _) = valley(&|w: f64| game.best_age(w, oldest).1, oldest);
        let (age, cost_rate) = game.best_age(order_at, oldest);
        let ordered = Choice {
            order_at: Some(order_at),
            replace_at: age.is_finite().then_some(age),
            cost_rate,
        };
        let late = game.on_failure();
        let together = if late.cost_rate < cost_rate {
            late
        } else {
            ordered
        };
        let apart = self.apart(life, &game)?;
        Ok(Joint {
            together,
            apart,
            saving: (1.0 - together.cost_rate / apart.cost_rate).max(0.0),
            on_arrival: together
                .order_at
                .zip(together.replace_at)
                .is_some_and(|(w, age)| age - w - self.lead_time < ARRIVAL * ladder.mean()),
        })
    }

    fn apart(&self, life: &Life, game: &Game) -> Result<Choice> {
        let prices = Prices {
            planned_cost: self.planned,
            failure_cost: self.failed,
            ..Prices::default()
        };
        let alone = Evaluator::new(life, &Costs::new(prices, Clock::Days)?, Goal::Cost)?;
        let age = alone.best_age()?.unwrap_or(f64::INFINITY);
        let latest = if age.is_finite() {
            age - self.lead_time
        } else {
            life.quantile(1.0 - OLDEST)
        };
        // Ordered after age - L the spare would come too late for the planned day; then the day waits for it.
        let rate = |w: f64| game.rate(w, age.max(w + self.lead_time));
        let (order_at, cost_rate) = valley(&rate, latest.max(0.0));
        let late = game.on_failure();
        if !age.is_finite() && late.cost_rate < cost_rate {
            return Ok(late);
        }
        Ok(Choice {
            order_at: Some(order_at),
            replace_at: age.is_finite().then(|| age.max(order_at + self.lead_time)),
            cost_rate,
        })
    }
}
