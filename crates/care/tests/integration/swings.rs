//! Inputs of a weighed plan moved one by one, against the exact cost of every age of the menu in the moved situation.

use crate::gasket::{HANDLING, PRICES};
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::plan::{Choice, Request};
use sealspan_care::seal::Seal;
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{Candidate, Input, Swing, Weighing, weigh};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

const MONTH: f64 = 365.25 / 12.0;

/// One seal, its prices and its handling, invented.
#[derive(Clone)]
struct Case {
    onset: (f64, f64),
    delay: Option<(f64, f64)>,
    detection: f64,
    damage: f64,
    prices: Prices,
    handling: Handling,
}

impl Case {
    fn one_stage() -> Self {
        Self {
            onset: (2.5, 300.0),
            delay: None,
            detection: 1.0,
            damage: 0.0,
            prices: PRICES,
            handling: Handling {
                opening_hours: 1.0,
                spare_wait_hours: 6.0,
                ..HANDLING
            },
        }
    }

    fn two_stage() -> Self {
        Self {
            delay: Some((2.0, 90.0)),
            detection: 0.8,
            damage: 0.01,
            ..Self::one_stage()
        }
    }

    fn seal(&self) -> Seal {
        let law = |(shape, scale): (f64, f64)| Life::weibull(shape, scale).unwrap();
        let seal = match self.delay {
            Some(delay) => Seal::two_stage(law(self.onset), law(delay)),
            None => Seal::one_stage(law(self.onset)),
        };
        Seal {
            detection: self.detection,
            handling_damage: self.damage,
            ..seal
        }
    }

    fn costs(&self) -> Costs {
        Costs::new(self.prices, Clock::Days).unwrap()
    }

    /// The same with an input at another value.
    fn with(&self, input: Input, value: f64) -> Self {
        let mut out = self.clone();
        let delay = out.delay.as_mut();
        *match input {
            Input::Life => &mut out.onset.1,
            Input::LifeShape => &mut out.onset.0,
            Input::Delay => &mut delay.unwrap().1,
            Input::DelayShape => &mut delay.unwrap().0,
            Input::Detection => &mut out.detection,
            Input::HandlingDamage => &mut out.damage,
            Input::PlannedCost => &mut out.prices.planned_cost,
            Input::PlannedHours => &mut out.prices.planned_hours,
            Input::FailureCost => &mut out.prices.failure_cost,
            Input::FailureHours => &mut out.prices.failure_hours,
            Input::DowntimeCost => &mut out.prices.downtime_cost,
            Input::InspectionCost => &mut out.handling.inspection_cost,
            Input::TurnCost => &mut out.handling.turn_cost,
            Input::OpeningHours => &mut out.handling.opening_hours,
            Input::SpareWait => &mut out.handling.spare_wait_hours,
            Input::UndetectedCost => &mut out.handling.undetected_cost,
        } = value;
        out
    }

    fn cost(&self, plan: &Candidate) -> f64 {
        let terms = Terms::new(&self.costs(), &self.handling).unwrap();
        let model = Prepared::new(&self.seal()).unwrap();
        model.evaluate(&plan.policy(1), &terms).unwrap().cost_rate
    }

    /// The cheapest of the replacement ages of the menu up to three mean lives, and of none: those of the calendar, or
    /// second and later looks.
    fn best(&self, look: Option<f64>, mean: f64) -> f64 {
        let mut ages: Vec<f64> = match look {
            None => (1..=12)
                .chain([15, 18, 21, 24, 30, 36])
                .map(|n| f64::from(n) * MONTH)
                .collect(),
            Some(look) => (2..=20).map(|n| f64::from(n) * look).collect(),
        };
        ages.retain(|age| *age <= 3.0 * mean);
        let ages = ages.into_iter().map(Some);
        ages.chain([None])
            .map(|replace_at| Candidate {
                inspect_every: look,
                turn_every: None,
                replace_at,
            })
            .map(|plan| self.cost(&plan))
            .fold(f64::INFINITY, f64::min)
    }

    /// Forty lives drawn evenly about the estimate; each stretch by its own share.
    fn weighed(&self, look: Option<f64>) -> (Candidate, Vec<Swing>) {
        let draws: Vec<Seal> = (0..40)
            .map(|i| {
                let u = f64::from(i) / 39.0 - 0.5;
                let mut drawn = self.clone();
                drawn.onset.1 *= (0.4 * u).exp();
                drawn.onset.0 *= (0.3 * u).exp();
                drawn.seal()
            })
            .collect();
        let found = weigh(&Weighing {
            seal: &self.seal(),
            draws: &draws,
            costs: &self.costs(),
            handling: self.handling,
            request: Request {
                inspect: look.map_or(Choice::Never, Choice::At),
                turn: Choice::Never,
                ..Request::default()
            },
            calendar: Calendar::Months,
            shortest: None,
            today: &[],
            counted: None,
            watched: None,
            confidence: 0.9,
            price_range: 0.25,
        })
        .unwrap();
        (found.plan, found.swings)
    }
}

fn near(got: f64, want: f64, what: &str) {
    assert!(
        (got / want - 1.0).abs() < 1e-4,
        "{what}: {got} instead of {want}"
    );
}

fn hold(case: &Case, look: Option<f64>) -> usize {
    let (plan, swings) = case.weighed(look);
    let mean = case.seal().law().unwrap().mean() + case.delay.map_or(0.0, |d| 0.886_227 * d.1);
    let mut flips = 0;
    for s in &swings {
        let what = format!("{:?}", s.input);
        let (low, high) = (case.with(s.input, s.low), case.with(s.input, s.high));
        near(s.plan_at_low, low.cost(&plan), &what);
        near(s.plan_at_high, high.cost(&plan), &what);
        near(s.best_at_low, low.best(look, mean), &what);
        near(s.best_at_high, high.best(look, mean), &what);
        near(low.cost(&s.policy_at_low), s.best_at_low, &what);
        near(high.cost(&s.policy_at_high), s.best_at_high, &what);
        // Drawn inputs go over the middle 90 % of the draws, the others a quarter either way.
        let drawn = |spread: f64| [-0.45, 0.45].map(|u: f64| s.value * (spread * u).exp());
        let ends = match s.input {
            Input::Life => drawn(0.4),
            Input::LifeShape => drawn(0.3),
            Input::Detection => [0.75 * s.value, (1.25 * s.value).min(1.0)],
            _ => [0.75 * s.value, 1.25 * s.value],
        };
        let of_draws = matches!(s.input, Input::Life | Input::LifeShape);
        assert_eq!(s.range, if of_draws { "interval" } else { "taken" });
        // Forty draws: an end lies within a draw of where it would be among very many.
        let close = if of_draws { 0.4 / 39.0 + 1e-3 } else { 1e-9 };
        for (got, want) in [s.low, s.high].into_iter().zip(ends) {
            assert!(
                (got / want - 1.0).abs() < close,
                "{what}: {got} instead of {want}"
            );
        }
        for (flip, outwards) in [(&s.flips_below, 1.0), (&s.flips_above, -1.0)] {
            let Some(flip) = flip else { continue };
            flips += 1;
            near(flip.factor, flip.at / s.value, &what);
            assert!((flip.factor < 1.0) == (outwards > 0.0), "{what}: {flip:?}");
            let there = case.with(s.input, flip.at);
            let gain = there.cost(&plan) / there.cost(&flip.to);
            assert!(gain > 1.02 * (1.0 - 1e-4), "{what}: {gain} at {flip:?}");
            // Five halvings of at most a step of 1.67 place it: so much nearer the plan nothing is clearly better.
            let inside = flip.at * 1.67_f64.powf(outwards / 32.0);
            let before = case.with(s.input, inside);
            let gain = before.cost(&plan) / before.best(look, mean);
            assert!(gain < 1.02 * (1.0 + 1e-4), "{what}: {gain} before {flip:?}");
        }
    }
    let widths: Vec<f64> = swings
        .iter()
        .map(|s| (s.plan_at_high - s.plan_at_low).abs())
        .collect();
    assert!(widths.windows(2).all(|w| w[0] >= w[1]), "{widths:?}");
    flips
}

/// Without looks: six prices, the wait, the life and its shape.
#[test]
fn a_one_stage_life_moved_input_by_input() {
    let case = Case::one_stage();
    let inputs: Vec<Input> = case.weighed(None).1.iter().map(|s| s.input).collect();
    assert!(inputs.contains(&Input::Life) && inputs.contains(&Input::SpareWait));
    assert!(!inputs.contains(&Input::Delay) && !inputs.contains(&Input::Detection));
    assert!(hold(&case, None) >= 4);
}

/// Looked at every two months: the delay, its shape, detection and damage besides.
#[test]
fn a_two_stage_life_moved_input_by_input() {
    let case = Case::two_stage();
    let look = Some(2.0 * MONTH);
    let inputs: Vec<Input> = case.weighed(look).1.iter().map(|s| s.input).collect();
    for input in [
        Input::Delay,
        Input::DelayShape,
        Input::Detection,
        Input::HandlingDamage,
    ] {
        assert!(inputs.contains(&input), "{input:?}");
    }
    assert!(hold(&case, look) >= 3);
}
