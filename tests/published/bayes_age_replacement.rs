//! Replacing at an age when the law's parameters are uncertain: cost averaged over what the records leave open. Model,
//! source and generator stand in the expected file.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{POLICY, POLICY_STEP};
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::seal::Seal;
use sealspan_care::terms::Terms;
use sealspan_life::life::Life;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::special::ln_gamma;
use sealspan_records::observation::Clock;
use serde_json::Value;

/// A possible life with its weight: the trapezoid rule in the logarithm of the gamma-distributed rate, which a
/// quarter apart is exact to rounding.
fn lives(case: &Value, block: &Value) -> Vec<(Life, f64)> {
    const STEP: f64 = 0.25;
    let a = number(block, "gamma_shape");
    let rates = numbers(block, "gamma_rate");
    let mut out = vec![];
    for ((shape, weight), rate) in numbers(case, "shapes")
        .into_iter()
        .zip(numbers(block, "weights"))
        .zip(rates)
    {
        for i in 0..=88 {
            let y = -16.0 + STEP * f64::from(i);
            let density = (a * y - y.exp() - ln_gamma(a)).exp();
            let scale = (y.exp() / rate).powf(-1.0 / shape);
            let share = weight * density * STEP;
            if share > 1e-18 {
                out.push((Life::weibull(shape, scale).unwrap(), share));
            }
        }
    }
    out
}

#[test]
fn cost_averaged_over_uncertain_parameters() {
    let case = read("bayes-age-replacement");
    let mut checks = Check::new("replacement age under uncertain parameters");
    let (planned, failure) = (number(&case, "planned_cost"), number(&case, "failure_cost"));
    let prices = Prices {
        planned_cost: planned,
        failure_cost: failure,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &Default::default()).unwrap();
    for name in ["prior", "posterior"] {
        let block = &case[name];
        let lives = lives(&case, block);
        let asked: Vec<(Evaluator, f64)> = lives
            .iter()
            .map(|(life, w)| (Evaluator::new(life, &costs, Goal::Cost).unwrap(), *w))
            .collect();
        let mean_rate = |age: f64| asked.iter().map(|(e, w)| w * e.cost_rate(age)).sum::<f64>();
        let (age, rate) = minimise_bracketed(mean_rate, 8.0, 14.0, 1e-10);
        checks.value(name, age, number(block, "best_age"), POLICY_STEP);
        checks.value(name, rate, number(block, "expected_cost_rate"), POLICY);
        let known = asked.iter().map(|(e, w)| {
            let best = e.best_age().unwrap();
            w * best.map_or(e.run_to_failure_rate(), |age| e.cost_rate(age))
        });
        let known: f64 = known.sum();
        checks.value(
            name,
            known,
            number(block, "expected_cost_rate_if_known"),
            POLICY,
        );
        // The other reading, mean money over mean time, through the evaluator of whole policies.
        let policy = CarePolicy::replace_at(number(block, "best_age_by_ratio_of_means"));
        let (mut money, mut time) = (0.0, 0.0);
        for (life, w) in &lives {
            let model = Prepared::new(&Seal::one_stage(life.clone())).unwrap();
            let figures = model.evaluate(&policy, &terms).unwrap();
            money += w * figures.cost_rate * figures.mean_cycle;
            time += w * figures.mean_cycle;
        }
        checks.value(name, money / time, number(block, "ratio_of_means"), POLICY);
    }
    checks.finish(8);
}
