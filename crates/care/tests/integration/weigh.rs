//! Weighing policies over draws: what it picks, limits, flips, today's practice, and common practice.

use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::plan::{Choice, Limits, Request};
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::Goal;
use sealspan_care::seal::Seal;
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{
    Counted, Input, Kind, Practice, Rates, Weighed, Weighing, common_practice, weigh,
};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

const PRICES: Prices = Prices {
    planned_cost: 300.0,
    failure_cost: 3000.0,
    planned_hours: 8.0,
    failure_hours: 24.0,
    downtime_cost: 60.0,
    discount_rate: 0.0,
};

const HANDLING: Handling = Handling {
    inspection_cost: 20.0,
    turn_cost: 2.0,
    opening_hours: 1.0,
    undetected_cost: 0.0,
    spare_wait_hours: 0.0,
};

/// An invented door gasket: first thin or cut places at six to twelve months, a leak one to four months on.
fn door(shape: f64, scale: f64, delay: f64) -> Seal {
    let seal = Seal {
        detection: 0.9,
        handling_damage: 0.005,
        ..Seal::two_stage(
            Life::weibull(shape, scale).unwrap(),
            Life::weibull(2.0, delay).unwrap(),
        )
    };
    seal.with_severities(&[1.5, 1.0, 1.0, 1.0]).unwrap()
}

fn draws(spread: f64) -> Vec<Seal> {
    (0..60)
        .map(|i| {
            let mut stream = Stream::new(11, i);
            let mut near = |x: f64| x * (spread * stream.normal()).exp();
            door(near(2.0), near(300.0), near(90.0))
        })
        .collect()
}

fn ask(draws: &[Seal], request: Request, today: &[Practice], shortest: Option<f64>) -> Weighed {
    asked(draws, request, today, shortest).unwrap()
}

fn asked(
    draws: &[Seal],
    request: Request,
    today: &[Practice],
    shortest: Option<f64>,
) -> sealspan_care::error::Result<Weighed> {
    against(draws, request, today, shortest, None)
}

fn against(
    draws: &[Seal],
    request: Request,
    today: &[Practice],
    shortest: Option<f64>,
    counted: Option<Counted>,
) -> sealspan_care::error::Result<Weighed> {
    weigh(&Weighing {
        seal: &door(2.0, 300.0, 90.0),
        draws,
        costs: &Costs::new(PRICES, Clock::Days).unwrap(),
        handling: HANDLING,
        request,
        calendar: Calendar::Months,
        shortest,
        today,
        counted,
        watched: Some(30_000.0),
        confidence: 0.9,
        price_range: 0.25,
    })
}

fn cost(seal: &Seal, policy: &CarePolicy) -> f64 {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &HANDLING).unwrap();
    let model = Prepared::new(seal).unwrap();
    model.evaluate(policy, &terms).unwrap().cost_rate
}

/// The means are those of the exact evaluator, and no policy listed is cheaper on average than the plan;
/// chances and kinds add up.
#[test]
fn the_plan_is_the_least_on_average() {
    let draws = draws(0.15);
    let weighed = ask(&draws, Request::default(), &[], None);
    let exact = |policy: &CarePolicy| {
        draws.iter().map(|seal| cost(seal, policy)).sum::<f64>() / draws.len() as f64
    };
    for option in weighed.options.iter().chain(&weighed.alternatives) {
        let want = exact(&option.policy.policy(1));
        assert!((option.mean / want - 1.0).abs() < 1e-5, "{option:?} {want}");
        assert!(
            option.mean >= weighed.then.mean * (1.0 - 1e-9),
            "{option:?}"
        );
    }
    let chances: f64 = weighed.kinds.values().sum();
    assert!((chances - 1.0).abs() < 1e-9);
    assert!(weighed.then.lower < weighed.then.mean && weighed.then.mean < weighed.then.upper);
    assert!(weighed.regret.mean >= 0.0 && weighed.regret.quantile_90 >= 0.0);
    assert_eq!(weighed.alternatives.len(), 5);
}

/// Steps lie on the calendar, none shorter than the site can do; a month is 365.25/12 days.
#[test]
fn steps_are_those_of_the_calendar() {
    let month = 365.25 / 12.0;
    let weighed = ask(&draws(0.1), Request::default(), &[], Some(2.9 * month));
    let whole = |age: f64| (age / month - (age / month).round()).abs() < 1e-9;
    for option in &weighed.options {
        let steps = [
            option.policy.inspect_every,
            option.policy.turn_every,
            option.policy.replace_at,
        ];
        assert!(steps.into_iter().flatten().all(whole), "{option:?}");
        assert!(option.policy.inspect_every.is_none_or(|s| s > 2.9 * month));
    }
}

/// Without spread there is nothing to regret and nothing more to watch for; with more of it there is more.
#[test]
fn regret_grows_with_the_spread() {
    let sure = ask(
        &vec![door(2.0, 300.0, 90.0); 20],
        Request::default(),
        &[],
        None,
    );
    assert!(sure.regret.mean.abs() < 1e-12);
    assert_eq!(sure.more_watching.unwrap().seal_time, Some(0.0));
    assert_eq!(sure.options.len(), 1);
    let (near, far) = (
        ask(&draws(0.1), Request::default(), &[], None).regret,
        ask(&draws(0.5), Request::default(), &[], None).regret,
    );
    assert!(far.mean > near.mean && near.mean > 0.0, "{near:?} {far:?}");
}

/// Today's practice is the share-weighted cost of its parts, and the saving the difference.
#[test]
fn today_is_priced_by_the_same_evaluator() {
    let draws = draws(0.1);
    let parts = [
        (0.25, CarePolicy::run_to_failure()),
        (0.75, CarePolicy::inspect_every(90.0)),
    ];
    let today = parts
        .clone()
        .map(|(share, policy)| Practice { share, policy });
    let weighed = ask(&draws, Request::default(), &today, None);
    let saved = weighed.today.unwrap();
    let each: Vec<f64> = draws
        .iter()
        .map(|seal| parts.iter().map(|(s, p)| s * cost(seal, p)).sum::<f64>())
        .collect();
    let want = each.iter().sum::<f64>() / each.len() as f64;
    // Of 60 draws three lie beyond each end of a 90 % interval.
    let beyond = |is: &dyn Fn(f64) -> bool| each.iter().filter(|x| is(**x)).count();
    assert!((2..=4).contains(&beyond(&|x| x < saved.now.lower)));
    assert!((2..=4).contains(&beyond(&|x| x > saved.now.upper)));
    assert!((saved.now.mean / want - 1.0).abs() < 1e-5);
    assert!((saved.now.mean - weighed.then.mean - saved.saving.mean).abs() < 1e-9);
    assert_eq!(saved.chance_dearer, 0.0);
}

/// A limit binds and costs money; one out of reach names the nearest policy.
#[test]
fn limits() {
    let draws = draws(0.1);
    let free = ask(&draws, Request::default(), &[], None);
    let limited = |most: f64| {
        let request = Request {
            limits: Limits {
                most_failure_probability: Some(most),
                ..Limits::default()
            },
            ..Request::default()
        };
        asked(&draws, request, &[], None)
    };
    let bound = limited(0.5 * free.failed).unwrap();
    assert!(bound.failed <= 0.5 * free.failed && bound.then.mean > free.then.mean);
    assert!(bound.chance_of_keeping_limits.unwrap() > 0.0);
    let error = limited(1e-9).unwrap_err();
    assert!(error.is_no_answer());
    let text = error.to_string();
    assert!(
        text.contains("nearest") && text.contains("replace at"),
        "{text}"
    );
}

/// Whatever the limit, the plan is the cheapest age of the calendar that keeps it on average over all draws, also where
/// every fourth of them, which are the longest lives here, would let a cheaper one pass.
#[test]
fn the_cheapest_age_within_any_limit() {
    let mut sorted = draws(0.35);
    sorted.sort_by(|a, b| {
        let early = |seal: &Seal| seal.law().unwrap().survival(60.0);
        early(b).total_cmp(&early(a))
    });
    let (long, short) = sorted.split_at(15);
    let fours = long.iter().zip(short.chunks(3));
    let draws: Vec<Seal> = fours
        .flat_map(|(first, rest)| std::iter::once(first).chain(rest))
        .cloned()
        .collect();
    let over = |age: f64| {
        let policy = CarePolicy::replace_at(age);
        let costs = Costs::new(PRICES, Clock::Days).unwrap();
        let terms = Terms::new(&costs, &HANDLING).unwrap();
        let all = draws.iter().map(|seal| {
            let model = Prepared::new(seal).unwrap();
            model.evaluate(&policy, &terms).unwrap()
        });
        let all: Vec<_> = all.collect();
        let n = all.len() as f64;
        let failed = all.iter().map(|o| o.failed).sum::<f64>() / n;
        (failed, all.iter().map(|o| o.cost_rate).sum::<f64>() / n)
    };
    let months: Vec<(f64, f64)> = (1..=6)
        .map(|m| over(f64::from(m) * Calendar::Months.days()))
        .collect();
    let (first, last) = (months[0].0, months[5].0);
    for step in 0..60 {
        let most = 1.001 * first * (last / first).powf(f64::from(step) / 60.0);
        let request = Request {
            inspect: Choice::Never,
            turn: Choice::Never,
            limits: Limits {
                most_failure_probability: Some(most),
                ..Limits::default()
            },
            ..Request::default()
        };
        let weighed = asked(&draws, request, &[], None).unwrap();
        let kept = months.iter().filter(|(failed, _)| *failed <= most);
        let cheapest = kept.map(|(_, cost)| *cost).fold(f64::INFINITY, f64::min);
        assert!((weighed.then.mean / cheapest - 1.0).abs() < 1e-5, "{most}");
    }
}

/// Each flip is one: at the value named the plan is over 2 % above another policy of the calendar, and a
/// sixth of the way back it is not.
#[test]
fn flips_are_where_they_are_said_to_be() {
    let weighed = ask(&draws(0.1), Request::default(), &[], None);
    let plan = weighed.plan.policy(1);
    let swing = weighed
        .swings
        .iter()
        .find(|s| s.input == Input::FailureCost)
        .unwrap();
    // A stated price is taken to lie so far either way.
    assert!((swing.low / swing.value - 0.75).abs() < 1e-12);
    assert!((swing.high / swing.value - 1.25).abs() < 1e-12);
    let flip = swing.flips_below.or(swing.flips_above).expect("a flip");
    let at = |failure_cost: f64, policy: &CarePolicy| {
        let prices = Prices {
            failure_cost,
            ..PRICES
        };
        let terms = Terms::new(&Costs::new(prices, Clock::Days).unwrap(), &HANDLING).unwrap();
        let model = Prepared::new(&door(2.0, 300.0, 90.0)).unwrap();
        model.evaluate(policy, &terms).unwrap().cost_rate
    };
    let to = flip.to.policy(1);
    assert!(at(flip.at, &plan) > 1.02 * at(flip.at, &to) * (1.0 - 1e-5));
    let back = swing.value * flip.factor.powf(5.0 / 6.0);
    assert!(at(back, &plan) < 1.02 * at(back, &to), "{flip:?}");
    // The flip is where the other is cheaper by just a fiftieth.
    let apart = at(flip.at, &plan) / at(flip.at, &to);
    assert!((apart - 1.02).abs() < 2e-4, "{apart}");
    // What is known of the seal is moved as well: the stated laws, and what the plan costs with another scale.
    let stated = [
        (Input::Life, 300.0),
        (Input::LifeShape, 2.0),
        (Input::Delay, 90.0),
        (Input::DelayShape, 2.0),
        (Input::Detection, 0.9),
    ];
    for (input, value) in stated {
        let own = weighed.swings.iter().find(|s| s.input == input);
        let own = own.expect("each input of the seal");
        assert!((own.value / value - 1.0).abs() < 1e-9, "{own:?}");
        let at = |value: f64| match input {
            Input::Life => cost(&door(2.0, value, 90.0), &plan),
            Input::LifeShape => cost(&door(value, 300.0, 90.0), &plan),
            Input::Delay => cost(&door(2.0, 300.0, value), &plan),
            Input::DelayShape => cost(
                &Seal {
                    delay: Some(Life::weibull(value, 90.0).unwrap()),
                    ..door(2.0, 300.0, 90.0)
                },
                &plan,
            ),
            _ => cost(
                &Seal {
                    detection: value,
                    ..door(2.0, 300.0, 90.0)
                },
                &plan,
            ),
        };
        assert!(
            (own.plan_at_low / at(own.low) - 1.0).abs() < 1e-5,
            "{own:?}"
        );
        assert!(
            (own.plan_at_high / at(own.high) - 1.0).abs() < 1e-5,
            "{own:?}"
        );
    }
    // A twentieth of the draws lies beyond either end, to one or two of 60.
    let scales: Vec<f64> = (0..60)
        .map(|i| {
            let mut stream = Stream::new(11, i);
            stream.normal();
            300.0 * (0.1 * stream.normal()).exp()
        })
        .collect();
    let life = weighed.swings.iter().find(|s| s.input == Input::Life);
    let life = life.expect("a swing of the life");
    let below = scales.iter().filter(|x| **x < life.low).count();
    let above = scales.iter().filter(|x| **x > life.high).count();
    assert!(
        (2..=4).contains(&below) && (2..=4).contains(&above),
        "{below} {above}"
    );
    assert!(weighed.swings.windows(2).all(|w| {
        let width = |i: usize| (w[i].plan_at_high - w[i].plan_at_low).abs();
        width(0) >= width(1)
    }));
}

/// Common practice, no source: for this door the plan looks every one to three months and turns, and the
/// practice of two months and a turn each time is within 5 % of it; the tool says what turning adds.
#[test]
fn a_door_gasket_comes_out_near_common_practice() {
    let weighed = ask(&draws(0.1), Request::default(), &[], None);
    let month = 365.25 / 12.0;
    let step = weighed.plan.inspect_every.expect("looks");
    assert!((month..=3.0 * month + 1e-9).contains(&step), "{step}");
    assert_eq!(weighed.plan.kind(), Kind::InspectAndTurn);
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &HANDLING).unwrap();
    let model = Prepared::new(&door(2.0, 300.0, 90.0)).unwrap();
    let goal = Request::default().goal;
    let practice = common_practice(
        &model,
        &terms,
        (goal, &Limits::default()),
        &weighed.plan.policy(1),
    )
    .unwrap();
    assert!(practice.extra_share.abs() < 0.05, "{practice:?}");
    assert!(practice.because[0].starts_with("turning at each of these looks"));
    assert!(practice.because[1].contains("saves"), "{practice:?}");
}

/// A least time between openings holds for replacements too; common practice is judged by the limits.
#[test]
fn openings_and_limits_are_kept() {
    let draws = draws(0.1);
    let least = 250.0;
    let weighed = ask(&draws, Request::default(), &[], Some(least));
    let ages = [
        weighed.plan.inspect_every,
        weighed.plan.turn_every,
        weighed.plan.replace_at,
    ];
    assert!(
        ages.into_iter().flatten().all(|age| age >= least),
        "{ages:?}"
    );
    let all = weighed.options.iter().chain(&weighed.alternatives);
    for option in all {
        assert!(option.policy.replace_at.is_none_or(|age| age >= least));
    }
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &HANDLING).unwrap();
    let model = Prepared::new(&door(2.0, 300.0, 90.0)).unwrap();
    let ask = |most: Option<f64>| {
        let limits = Limits {
            most_failure_probability: most,
            ..Limits::default()
        };
        let goal = Request::default().goal;
        common_practice(&model, &terms, (goal, &limits), &weighed.plan.policy(1)).unwrap()
    };
    assert_eq!(ask(None).keeps_limits, None);
    let free = ask(None).failed;
    let within = ask(Some(0.6 * free));
    assert!(
        within.keeps_limits == Some(true) && within.failed <= 0.6 * free,
        "{within:?}"
    );
    assert_eq!(ask(Some(1e-9)).keeps_limits, Some(false));
}

/// The same bytes whatever the number of threads.
#[test]
fn threads_do_not_matter() {
    let draws = draws(0.2);
    let run = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| ask(&draws, Request::default(), &[], None))
    };
    assert_eq!(run(1), run(3));
}

/// Held against what the records counted, now is their money at these prices, whatever the laws say of today.
#[test]
fn against_counted_events() {
    let draws = draws(0.05);
    let today = [Practice {
        share: 1.0,
        policy: CarePolicy::run_to_failure(),
    }];
    let counted = Counted {
        rates: Rates {
            failed: 0.002,
            found: 0.003,
            looks: 0.01,
            openings: 0.01,
            ..Rates::default()
        },
        time: 9000.0,
    };
    let request = Request::default();
    let by_laws = ask(&draws, request, &today, None);
    let by_counts = against(&draws, request, &today, None, Some(counted)).unwrap();
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let (want, error) = counted.measure(&Terms::new(&costs, &HANDLING).unwrap(), Goal::Cost);
    let saving = by_counts.today.unwrap();
    assert!((saving.now.mean / want - 1.0).abs() < 1e-9);
    let width = saving.now.upper - saving.now.lower;
    assert!(
        (width / (2.0 * 1.645 * error) - 1.0).abs() < 0.1,
        "{width} {error}"
    );
    assert_eq!(by_counts.then, by_laws.then);
    let saved = want - by_counts.then.mean;
    assert!((saving.saving.mean - saved).abs() < 1e-9);
}

/// The range of an input is the interval of its draws where they differ, and a share either way where all are the same.
#[test]
fn ranges_are_those_of_the_draws_where_they_differ() {
    let request = Request {
        turn: Choice::Never,
        replace: Choice::Never,
        ..Request::default()
    };
    let weighed = ask(&draws(0.15), request, &[], Some(60.0));
    let swing = |input: Input| weighed.swings.iter().find(|s| s.input == input).unwrap();
    for input in [Input::Life, Input::LifeShape, Input::Delay] {
        assert_eq!(swing(input).range, "interval");
        assert!(swing(input).low < swing(input).high);
    }
    // A chance ends at 1.
    for (input, low, high) in [
        (Input::Detection, 0.675, 1.0),
        (Input::HandlingDamage, 0.00375, 0.00625),
        (Input::FailureCost, 2250.0, 3750.0),
    ] {
        let found = swing(input);
        assert_eq!(found.range, "taken", "{input:?}");
        assert!((found.low - low).abs() < 1e-9 && (found.high - high).abs() < 1e-9);
    }
}
