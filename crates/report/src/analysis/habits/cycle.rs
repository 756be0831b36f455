//! A life on a grid of ages: time in service and cost rate of a replacement at each, quick enough for many draws.

use sealspan_care::costs::Costs;
use sealspan_care::replacement::FLAT;
use sealspan_life::life::Life;

/// Steps of the grid; trapezoids, good to a few parts in a hundred thousand.
const STEPS: usize = 500;
/// Share that has failed by the grid's end.
const END: f64 = 0.9999;

/// A saving on waiting for failures below this share is none: the grid ends while a few seals still live.
const GAIN: f64 = 1e-3;

/// The grid.
pub(super) struct Cycle {
    step: f64,
    survival: Vec<f64>,
    service: Vec<f64>,
}

/// What a life calls for.
pub(super) struct Called {
    /// The age; none where waiting for failures is best.
    pub(super) age: Option<f64>,
    /// Least age that costs no more than 2 % above the least; that age itself where no costs are known.
    pub(super) from: f64,
    /// Money per unit of the clock there, where costs are known.
    pub(super) rate: Option<f64>,
}

impl Cycle {
    pub(super) fn new(life: &Life) -> Option<Self> {
        let end = life.quantile(END);
        if !(end.is_finite() && end > 0.0) {
            return None;
        }
        let step = end / STEPS as f64;
        let survival: Vec<f64> = (0..=STEPS)
            .map(|i| life.survival(i as f64 * step))
            .collect();
        let mut service = vec![0.0; STEPS + 1];
        for (i, pair) in survival.windows(2).enumerate() {
            let before = service.get(i).copied().unwrap_or(0.0);
            let mean = 0.5 * pair.iter().sum::<f64>();
            if let Some(slot) = service.get_mut(i + 1) {
                *slot = before + mean * step;
            }
        }
        Some(Self {
            step,
            survival,
            service,
        })
    }

    /// Between two points of the grid.
    fn at(&self, of: &[f64], age: f64) -> f64 {
        let place = (age / self.step).clamp(0.0, STEPS as f64);
        let below = (place.floor() as usize).min(STEPS - 1);
        let value = |i: usize| of.get(i).copied().unwrap_or(0.0);
        let part = place - below as f64;
        value(below) * (1.0 - part) + value(below + 1) * part
    }

    pub(super) fn survival(&self, age: f64) -> f64 {
        self.at(&self.survival, age)
    }

    /// Mean time in service up to an age; the mean life where there is no age.
    pub(super) fn service(&self, age: Option<f64>) -> f64 {
        match age {
            Some(age) => self.at(&self.service, age),
            None => self.service.last().copied().unwrap_or(0.0),
        }
    }

    /// Money per unit of the clock of a replacement at an age, or on failure only.
    pub(super) fn rate(&self, costs: &Costs, age: Option<f64>) -> f64 {
        let kept = age.map_or(0.0, |age| self.survival(age));
        let spent = costs.planned_money() * kept + costs.failure_money() * (1.0 - kept);
        let down = costs.planned_time() * kept + costs.failure_time() * (1.0 - kept);
        spent / (self.service(age) + down)
    }

    /// The cost-best age with the ages close to it, or that by which one in ten has failed.
    pub(super) fn called(&self, life: &Life, costs: Option<&Costs>) -> Called {
        let Some(costs) = costs else {
            let tenth = life.quantile(0.1);
            return Called {
                age: Some(tenth),
                from: tenth,
                rate: None,
            };
        };
        let ages = (1..=STEPS).map(|i| i as f64 * self.step);
        let rates: Vec<(f64, f64)> = ages.map(|a| (a, self.rate(costs, Some(a)))).collect();
        let never = self.rate(costs, None);
        let best = rates.iter().min_by(|a, b| a.1.total_cmp(&b.1)).copied();
        let (age, rate) = match best {
            Some((age, rate))
                if rate < never * (1.0 - GAIN) && costs.failure_money() > costs.planned_money() =>
            {
                (Some(age), rate)
            }
            _ => (None, never),
        };
        let near = rates.iter().find(|r| r.1 <= rate * (1.0 + FLAT));
        Called {
            age,
            from: near.map_or(f64::INFINITY, |r| r.0),
            rate: Some(rate),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use sealspan_care::costs::Prices;
    use sealspan_care::replacement::{Evaluator, Goal};
    use sealspan_records::Clock;

    /// The grid against the exact evaluator: best age to its step, cost rates and the near zone's lower end.
    #[test]
    fn agrees_with_the_evaluator() {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 2200.0,
            planned_hours: 1.5,
            failure_hours: 9.0,
            downtime_cost: 270.0,
            discount_rate: 0.0,
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        for (shape, scale) in [(1.4, 900.0), (2.6, 480.0), (4.0, 300.0)] {
            let life = Life::weibull(shape, scale).unwrap();
            let exact = Evaluator::new(&life, &costs, Goal::Cost).unwrap();
            let best = exact.best().unwrap();
            let cycle = Cycle::new(&life).unwrap();
            let called = cycle.called(&life, Some(&costs));
            let (age, rate) = (called.age.unwrap(), called.rate.unwrap());
            assert!(
                (age - best.age.unwrap()).abs() <= 2.0 * cycle.step,
                "{shape}"
            );
            assert!((rate / best.cost_rate - 1.0).abs() < 1e-3, "{shape}");
            let from = best.flat_zone.unwrap().0;
            assert!((called.from - from).abs() <= 2.0 * cycle.step, "{shape}");
            let at = cycle.rate(&costs, Some(120.0));
            assert!((at / exact.cost_rate(120.0) - 1.0).abs() < 1e-3, "{shape}");
        }
    }

    /// A hazard that falls: waiting for failures is best.
    #[test]
    fn no_age_where_the_hazard_falls() {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 2200.0,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let life = Life::weibull(0.8, 400.0).unwrap();
        let called = Cycle::new(&life).unwrap().called(&life, Some(&costs));
        assert_eq!(called.age, None);
        let tenth = Cycle::new(&life).unwrap().called(&life, None);
        assert!((life.failed(tenth.from) - 0.1).abs() < 1e-9);
    }
}
