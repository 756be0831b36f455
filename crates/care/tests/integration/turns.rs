//! Turning alone: the answer against closed forms of a Weibull ring and against the evaluator on a grid of steps.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::plan::{Choice, Planner, Request, TurnAnswer};
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::Seal;
use sealspan_care::terms::Handling;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

const PRICES: Prices = Prices {
    planned_cost: 80.0,
    failure_cost: 1500.0,
    planned_hours: 2.0,
    failure_hours: 30.0,
    downtime_cost: 60.0,
    discount_rate: 0.0,
};

const SHAPE: f64 = 3.0;
const SCALE: f64 = 200.0;

fn planner(severities: &[f64], turn_cost: f64, turn: Choice) -> Planner {
    let seal = Seal {
        handling_damage: 0.001,
        ..Seal::one_stage(Life::weibull(SHAPE, SCALE).unwrap())
    };
    let seal = seal.with_severities(severities).unwrap();
    let handling = Handling {
        turn_cost,
        ..Handling::default()
    };
    let request = Request {
        replace: Choice::Never,
        turn,
        ..Request::default()
    };
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    Planner::new(&seal, &costs, &handling, request).unwrap()
}

const UNEVEN: [f64; 4] = [2.0, 1.0, 1.0, 1.0];

fn cost(planner: &Planner, step: Option<f64>) -> f64 {
    let policy = step.map_or_else(CarePolicy::run_to_failure, CarePolicy::turn_every);
    planner.evaluate(&policy).unwrap().cost_rate
}

#[test]
fn the_best_step_and_its_zone_are_those_of_the_evaluator() {
    let planner = planner(&UNEVEN, 5.0, Choice::Free);
    let answer: TurnAnswer = planner.turn().unwrap();
    let every = answer.every.expect("turning pays");
    let (least, never) = (cost(&planner, Some(every)), cost(&planner, None));
    assert!((answer.cost_rate / least - 1.0).abs() < 1e-6);
    for i in 0..60 {
        let step = 5.0 * 1.08f64.powi(i);
        assert!(cost(&planner, Some(step)) > least * (1.0 - 1e-4), "{step}");
    }
    assert!((answer.saving - (1.0 - least / never)).abs() < 1e-9 && answer.saving > 0.01);
    assert!(answer.reason.is_none() && answer.by_sectors == 1);
    let (low, high) = answer.flat_zone.unwrap();
    for end in [low, high].into_iter().flatten() {
        let over = cost(&planner, Some(end)) / least;
        assert!((over - 1.02).abs() < 2e-3, "{end}: {over}");
    }
    assert!(low.is_some_and(|low| low < every));
    let turns = planner.evaluate(&CarePolicy::turn_every(every)).unwrap();
    assert!((answer.turns_per_cycle / turns.turns_per_cycle - 1.0).abs() < 1e-6);
}

/// Never turned the ring has the law it was given; on a frame of the same wear spread evenly the hazards of the sectors
/// add up to less, Σ w³ = 11 against 4 · 1.25³, which is also what turning ever oftener tends to.
#[test]
fn lives_are_those_of_the_sectors_hazards() {
    let planner = planner(&UNEVEN, 5.0, Choice::Free);
    let answer = planner.turn().unwrap();
    // Γ(4/3) = 0.892980 (tables; from memory).
    let mean = SCALE * 0.892_979_511_569_249;
    let b10 = SCALE * (-(0.9f64.ln())).powf(1.0 / SHAPE);
    let ratio = (11.0f64 / (4.0 * 1.25f64.powi(3))).powf(1.0 / SHAPE);
    let same = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-6, "{got} {want}");
    same(answer.never_turned.mean_life, mean);
    same(answer.never_turned.b10, b10);
    same(answer.never_turned.cost_rate, cost(&planner, None));
    same(answer.alignment_mended.mean_life, mean * ratio);
    same(answer.alignment_mended.b10, b10 * ratio);
    same(answer.limit_ratio, ratio);
    same(answer.life_ratio, answer.mean_life / mean);
    assert!(answer.life_ratio > 1.0 && answer.life_ratio < ratio);
    assert!(answer.b10 > b10 && answer.alignment_mended.cost_rate < answer.never_turned.cost_rate);
}

/// At the labour named turning saves one part in a hundred; dearer, it does not pay; of no use on an even frame.
#[test]
fn turning_pays_up_to_the_labour_named() {
    let answer = planner(&UNEVEN, 5.0, Choice::Free).turn().unwrap();
    let most = answer.pays_up_to_turn_cost.unwrap();
    assert!(most > 5.0, "{most}");
    let there = planner(&UNEVEN, most, Choice::Free).turn().unwrap();
    assert!((there.saving - 0.01).abs() < 1e-3, "{there:?}");
    let dear = planner(&UNEVEN, 5.0 * most, Choice::Free).turn().unwrap();
    assert!((0.0..0.01).contains(&dear.saving), "{dear:?}");
    let dear = planner(&UNEVEN, 1000.0 * most, Choice::Free)
        .turn()
        .unwrap();
    assert!(dear.every.is_none() && dear.saving.abs() < 1e-9, "{dear:?}");
    assert!(dear.reason.unwrap().contains("less than its labour"));
    let given = planner(&UNEVEN, 5.0 * most, Choice::At(30.0))
        .turn()
        .unwrap();
    assert!(given.every == Some(30.0) && given.saving < 0.0);
    assert!(
        given
            .notes
            .iter()
            .any(|n| n.contains("more than never turning"))
    );
    let even = planner(&[1.0; 4], 5.0, Choice::Free).turn().unwrap();
    assert!(even.reason.unwrap().contains("all sectors wear alike"));
}
