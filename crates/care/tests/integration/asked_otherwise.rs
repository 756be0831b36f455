//! Questions put in ways that change an answer: with a wait for spares, under limits, without a sector, on other clocks,
//! and what is told beside a weighed plan.

use crate::gasket::{HANDLING, PRICES};
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::Costs;
use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::plan::{Choice, Limits, Planner, Request, StopGap};
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::trial::show::Claim;
use sealspan_care::weigh::{Weighed, Weighing, weigh};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

fn costs() -> Costs {
    Costs::new(PRICES, Clock::Days).unwrap()
}

fn near(got: f64, want: f64) {
    assert!((got / want - 1.0).abs() < 1e-6, "{got} instead of {want}");
}

/// A failure that waits six hours for its spare is down so much longer: replaced on failure only a seal costs
/// (1500 + 26 × 60) over its mean life and 26 hours; replaced at an age, what the evaluator says.
#[test]
fn the_wait_for_a_spare_is_paid() {
    let life = Life::weibull(2.5, 300.0).unwrap();
    let seal = Seal::one_stage(life.clone());
    let handling = Handling {
        spare_wait_hours: 6.0,
        ..HANDLING
    };
    let planner = Planner::new(&seal, &costs(), &handling, Request::default()).unwrap();
    let run = planner.run_to_failure().unwrap();
    let cycle = life.mean() + 26.0 / 24.0;
    near(run.cost_rate, (1500.0 + 26.0 * 60.0) / cycle);
    near(run.availability.unwrap(), life.mean() / cycle);
    let alone = planner.replace_alone(None).unwrap();
    let rate = |age: f64| {
        planner
            .evaluate(&CarePolicy::replace_at(age))
            .unwrap()
            .cost_rate
    };
    let age = alone.age.unwrap();
    near(alone.cost_rate, rate(age));
    assert!(rate(0.97 * age) > alone.cost_rate && rate(1.03 * age) > alone.cost_rate);
    let given = planner.replace_alone(Some(150.0)).unwrap();
    near(given.cost_rate, rate(150.0));
}

/// Under a limit of failures the best age alone keeps it, and stands on it where it binds.
#[test]
fn an_age_alone_keeps_the_limits() {
    let life = Life::weibull(2.5, 300.0).unwrap();
    let seal = Seal::one_stage(life.clone());
    let request = Request {
        limits: Limits {
            most_failure_probability: Some(0.01),
            least_availability: None,
        },
        ..Request::default()
    };
    let planner = Planner::new(&seal, &costs(), &HANDLING, request).unwrap();
    let age = planner.replace_alone(None).unwrap().age.unwrap();
    let failing = 1.0 - life.survival(age);
    assert!(
        failing <= 0.01 * (1.0 + 1e-6) && failing > 0.0099,
        "{failing}"
    );
}

/// A failure that nobody sees costs its rate for ever: what replacing at an age saves is told against that.
#[test]
fn replacing_saves_what_a_hidden_failure_costs() {
    let seal = Seal {
        failure: FailureSign::Hidden,
        ..Seal::one_stage(Life::weibull(2.5, 300.0).unwrap())
    };
    let handling = Handling {
        undetected_cost: 30.0,
        ..HANDLING
    };
    let planner = Planner::new(&seal, &costs(), &handling, Request::default()).unwrap();
    let alone = planner.replace_alone(Some(150.0)).unwrap();
    let rate = planner
        .evaluate(&CarePolicy::replace_at(150.0))
        .unwrap()
        .cost_rate;
    near(alone.saving, 1.0 - rate / 30.0);
}

/// Of a worn seal whose worn place nobody named, each sector may hold it as likely as a defect begins there, its
/// severity to the power of the onset's shape; a delay without memory lasts exp(−wait/mean) wherever it goes on.
#[test]
fn a_worn_place_that_is_not_known_is_any_by_its_chance() {
    let (shape, mean, wait, rough) = (2.5, 90.0, 20.0, [1.0, 0.4, 2.0, 0.6]);
    let seal = Seal::two_stage(
        Life::weibull(shape, 275.0).unwrap(),
        Life::exponential(mean).unwrap(),
    );
    let seal = seal.with_severities(&rough).unwrap();
    let ask = |sector: Option<usize>| {
        let asked = StopGap {
            age: 240.0,
            wait,
            sound_at: 180.0,
            sector,
        };
        asked.answer(&seal).unwrap()
    };
    let unknown = ask(None);
    assert!((unknown.as_it_lies - (-wait / mean).exp()).abs() < 1e-6);
    let chances = rough.map(|w: f64| w.powf(shape));
    let known: f64 = (1..=4)
        .map(|s| chances[s - 1] * ask(Some(s)).turned_by_one.unwrap())
        .sum();
    let want = known / chances.iter().sum::<f64>();
    let got = unknown.turned_by_one.unwrap();
    assert!((got - want).abs() < 1e-9, "{got} {want}");
}

/// In a trial so long that seals which only meet the claim are sure to fail, one seal more than may fail shows it.
#[test]
fn an_endless_trial_needs_one_seal_more_than_may_fail() {
    let claim = Claim::new(365.0, 0.9, 2.5).unwrap();
    for failures in [0, 3] {
        assert_eq!(claim.seals(1e6, 0.9, failures).unwrap(), failures + 1);
    }
}

fn drawn(stretch: f64) -> Seal {
    Seal::one_stage(Life::weibull(2.5, 300.0 * stretch).unwrap())
}

fn stretches() -> impl Iterator<Item = f64> {
    (0..30).map(|i| (1.6 * (f64::from(i) / 29.0 - 0.5)).exp())
}

fn weighed(clock: Clock, request: Request) -> Weighed {
    of_seals(&drawn, clock, request)
}

fn of_seals(seal: &dyn Fn(f64) -> Seal, clock: Clock, request: Request) -> Weighed {
    let draws: Vec<Seal> = stretches().map(seal).collect();
    weigh(&Weighing {
        seal: &seal(1.0),
        draws: &draws,
        costs: &Costs::new(PRICES, clock).unwrap(),
        handling: HANDLING,
        request,
        calendar: Calendar::Months,
        shortest: None,
        today: &[],
        counted: None,
        watched: None,
        confidence: 0.9,
        price_range: 0.25,
    })
    .unwrap()
}

fn by_age() -> Request {
    Request {
        inspect: Choice::Never,
        turn: Choice::Never,
        ..Request::default()
    }
}

/// Regret, its share and the chance of being wrong, over every age of the calendar in every world.
#[test]
fn the_chance_of_being_wrong_is_counted() {
    let found = weighed(Clock::Days, by_age());
    let terms = Terms::new(&costs(), &HANDLING).unwrap();
    let month = 365.25 / 12.0;
    let months = (1..=12).chain([15, 18, 21, 24, 30, 36]).map(f64::from);
    let ages: Vec<CarePolicy> = months
        .map(|n| n * month)
        .filter(|age| *age <= 3.0 * drawn(1.0).law().unwrap().mean())
        .map(CarePolicy::replace_at)
        .chain([CarePolicy::run_to_failure()])
        .collect();
    let (mut regret, mut mean, mut wrong) = (0.0, 0.0, 0.0);
    for stretch in stretches() {
        let model = Prepared::new(&drawn(stretch)).unwrap();
        let cost = |policy: &CarePolicy| model.evaluate(policy, &terms).unwrap().cost_rate;
        let least = ages.iter().map(cost).fold(f64::INFINITY, f64::min);
        let mine = cost(&found.plan.policy(1));
        regret += (mine - least) / 30.0;
        mean += mine / 30.0;
        wrong += f64::from(u8::from(mine > 1.02 * least)) / 30.0;
    }
    assert!(wrong > 0.1 && wrong < 0.9, "{wrong}");
    assert!((found.regret.chance_of_being_wrong - wrong).abs() < 1e-9);
    assert!((found.regret.mean / regret - 1.0).abs() < 1e-4);
    assert!((found.regret.mean_share / (regret / mean) - 1.0).abs() < 1e-4);
}

/// The best of the plan's own kind is the plan.
#[test]
fn the_plan_is_the_alternative_of_its_own_kind() {
    let found = weighed(Clock::Days, by_age());
    assert!(found.plan.replace_at.is_some());
    let own = found.alternatives.iter().find(|a| a.policy == found.plan);
    let own = own.expect("the plan among the alternatives");
    assert!((own.mean / found.then.mean - 1.0).abs() < 1e-9);
    let option = found
        .options
        .iter()
        .find(|o| o.policy == found.plan)
        .unwrap();
    assert!((own.chance_best - option.chance_best).abs() < 1e-12);
}

/// On a clock of cycles ages are round numbers: the plan is one near the best age of the mean cost.
#[test]
fn a_plan_by_cycles_has_a_round_age() {
    let found = weighed(Clock::Cycles, by_age());
    let terms = Terms::new(&Costs::new(PRICES, Clock::Cycles).unwrap(), &HANDLING).unwrap();
    let mean = |age: f64| {
        let cost = |s| {
            evaluate(&drawn(s), &CarePolicy::replace_at(age), &terms)
                .unwrap()
                .cost_rate
        };
        stretches().map(cost).sum::<f64>() / 30.0
    };
    let round = [
        40.0, 50.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0,
    ];
    let best = round
        .into_iter()
        .min_by(|a, b| mean(*a).total_cmp(&mean(*b)));
    assert_eq!(found.plan.replace_at, best);
    near(found.then.mean, mean(best.unwrap()));
}

/// A stated age beside looks that do not meet it is priced as it stands.
#[test]
fn a_stated_age_between_looks_is_kept() {
    let seal = |stretch: f64| {
        Seal::two_stage(
            Life::weibull(2.5, 300.0 * stretch).unwrap(),
            Life::weibull(2.0, 90.0).unwrap(),
        )
    };
    let request = Request {
        inspect: Choice::At(90.0),
        turn: Choice::Never,
        replace: Choice::At(200.0),
        ..Request::default()
    };
    let found = of_seals(&seal, Clock::Days, request);
    let terms = Terms::new(&costs(), &HANDLING).unwrap();
    let policy = CarePolicy {
        replace_at: Some(200.0),
        ..CarePolicy::inspect_every(90.0)
    };
    let cost = |s: f64| evaluate(&seal(s), &policy, &terms).unwrap().cost_rate;
    near(found.then.mean, stretches().map(cost).sum::<f64>() / 30.0);
}
