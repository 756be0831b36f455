//! Answers in cases where they can be written down: lives without memory, seals all alike, other units, numbers of nothing.

use crate::lots::LOTS;
use crate::prices::costs;
use crate::terms::terms;
use sealspan_care::age_spread::age_spread;
use sealspan_care::ahead::cared::{Cared, Overdue};
use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::fleet::Fleet;
use sealspan_care::ahead::places::{Seen, factors};
use sealspan_care::block::best_block;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::demand::{cover, fleet_demand};
use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::fleet_stock::fleet_stock;
use sealspan_care::forecast::Running;
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::plan::{Choice, Limits, Planner, Request, StopGap};
use sealspan_care::policy::{CarePolicy, Looks, Policy, Turn};
use sealspan_care::renewals::replacements;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::seal::{FailureSign, Paths, Seal};
use sealspan_care::simulate::{play, play_present_value};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::successes::Effort;
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_care::trial::show::Claim;
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::normal_survival;
use sealspan_records::observation::Clock;

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn exponential(mean: f64) -> Life {
    Life::exponential(mean).unwrap()
}

fn over(f: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    integrate(f, from, to, 1e-13).value
}

/// Lives without memory: replaced at T they cost (c_p R + c_f F)/(μ F), on failure c_f/μ, so that each regrets c_p R/(μ F).
#[test]
fn the_regret_of_an_age_is_averaged_over_the_draws() {
    let draws: Vec<Life> = (0..60)
        .map(|i| exponential(300.0 + 5.0 * f64::from(i)))
        .collect();
    let spread = age_spread(&draws, &costs(2.0, 9.0), Some(250.0), 0.9).unwrap();
    let regret = |mean: f64| 2.0 * (-250.0 / mean).exp() / (mean * -(-250.0 / mean).exp_m1());
    let all = (0..60).map(|i| regret(300.0 + 5.0 * f64::from(i)));
    let want = all.sum::<f64>() / 60.0;
    assert!((spread.mean_regret / want - 1.0).abs() < 1e-8, "{spread:?}");
}

/// A seal that has just come to its replacement age counts as past it, where such seals run on.
#[test]
fn a_seal_at_its_age_is_past_it() {
    let seal = Seal::one_stage(weibull(3.0, 900.0));
    let at_age = CarePolicy::replace_at(210.0);
    let fleet = Fleet::of(&[Running {
        age: 210.0,
        count: 1,
    }]);
    let cared = Cared {
        seal: &seal,
        draws: &[],
        so_far: &at_age,
        from_now: &at_age,
        overdue: Overdue::RunsOn,
        stretch: 1.0,
        rate: 1.0,
        rates: &[],
        fleet: &fleet,
        period: 30.0,
        periods: 2,
        batch_spread: 0.0,
        seed: 1,
    };
    assert_eq!(cared.cases().unwrap().best[0].counts[1].mean, 0.0);
}

/// With removals for other reasons G beside failures S, the rate [c_p + (c_f − c_p) ∫ f G] / ∫ S G is least where
/// (c_f − c_p) h(T) ∫ S G is its numerator, h the hazard of failure.
#[test]
fn the_best_age_where_seals_are_removed_for_other_reasons_too() {
    let (failure, other) = (weibull(2.5, 800.0), weibull(2.0, 700.0));
    let mut ending = Ending::new(&failure, None).unwrap();
    ending.others.push(other.clone().into());
    let (failed, planned) = (7.0, 1.0);
    let both = |t: f64| failure.survival(t) * other.survival(t);
    let fails = |t: f64| failure.density(t) * other.survival(t);
    let slope = |age: f64| {
        let hazard = failure.density(age) / failure.survival(age);
        (failed - planned) * (hazard * over(both, 0.0, age) - over(fails, 0.0, age)) - planned
    };
    let want = bracketed(slope, 50.0, 1500.0, 1e-9).unwrap();
    let got = ending.best_age(1.0, failed, planned).unwrap();
    assert!((got - want).abs() < 1.0, "{got} {want}");
}

/// Draws of a place's factor have the mean that is stated: places that are alike, and one of which little is known.
#[test]
fn drawn_factors_have_the_stated_mean() {
    let of = |happened, expected| Seen { happened, expected };
    let places = [of(40.0, 40.0), of(42.0, 41.0), of(38.0, 40.0), of(0.0, 3.0)];
    let found = factors(&places, 2000, 5);
    for (j, centre) in found.centre.iter().enumerate() {
        let mean = found.drawn.iter().map(|d| d[j]).sum::<f64>() / 2000.0;
        let squares = found.drawn.iter().map(|d| (d[j] - mean).powi(2));
        let error = (squares.sum::<f64>() / 1999.0 / 2000.0).sqrt();
        assert!((mean - centre).abs() < 4.0 * error, "{j} {mean} {centre}");
    }
}

/// Blocks in another unit of time: the same number of lives, and the same share saved against a failure every mean life.
#[test]
fn blocks_are_the_same_in_every_unit() {
    let days = best_block(&weibull(3.0, 250.0), &costs(100.0, 900.0)).unwrap();
    let run = 900.0 / weibull(3.0, 250.0).mean();
    assert!((days.saving - (1.0 - days.cost_rate / run)).abs() < 1e-9);
    assert!(days.saving > 0.1);
    for unit in [1e-3, 1e-6, 1e-10] {
        let other = best_block(&weibull(3.0, 250.0 * unit), &costs(100.0, 900.0)).unwrap();
        let ratio = other.every.unwrap() / (days.every.unwrap() * unit);
        assert!((ratio - 1.0).abs() < 1e-9, "{unit} {ratio}");
        assert!((other.saving / days.saving - 1.0).abs() < 1e-9, "{unit}");
    }
}

/// On failure only a position takes a seal every mean life and the days down; a lead time is long from a quarter of that.
#[test]
fn demand_on_failure_only_and_long_lead_times() {
    let prices = Prices {
        planned_cost: 100.0,
        failure_cost: 500.0,
        failure_hours: 72.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let evaluator = Evaluator::new(&exponential(97.0), &costs, Goal::Cost).unwrap();
    let demand = fleet_demand(&evaluator, Policy::RunToFailure, 10, 1.0).unwrap();
    assert!((demand.mean_cycle_days - 100.0).abs() < 1e-9, "{demand:?}");
    assert!((demand.unplanned_per_day - 0.1).abs() < 1e-12);
    for (lead_time, long) in [(24.0, false), (26.0, true)] {
        let terms = StockTerms {
            demand_rate: 0.0,
            lead_time,
            holding_cost: 0.05,
            shortage: Shortage::Backorder { cost_per_day: 20.0 },
            order_cost: 0.0,
            unit_price: None,
            ..LOTS
        };
        let notes = cover(demand.clone(), &terms).unwrap().stock.notes;
        assert_eq!(notes.iter().any(|n| n.contains("rough")), long);
    }
}

/// A seal without memory, looked at and turned every τ, all openings d down: money now by geometric sums, of the evaluator
/// and as played. With q = e^(−(λ + δ) τ) and r = e^(−δ d), φ = λ/(λ + δ) (1 − q)/(1 − q r) is the worth of a failure, and
/// (m q/(1 − q r) + φ c_f)/(1 − φ e^(−δ d_f)) that of all.
#[test]
fn money_now_for_looks_and_turns_of_a_seal_without_memory() {
    let (rate, every, delta) = (1.0 / 300.0f64, 40.0, 2e-3f64);
    let t = Terms {
        opening: Event {
            money: 6.0,
            down: 25.0,
        },
        turn: 30.0,
        ..terms()
    };
    let q = (-(rate + delta) * every).exp();
    let r = (-delta * t.opening.down).exp();
    let fails = rate / (rate + delta) * (1.0 - q) / (1.0 - q * r);
    let opened = (t.opening.money + t.look + t.turn) * q / (1.0 - q * r);
    let want = (opened + fails * t.failed.money) / (1.0 - fails * (-delta * t.failed.down).exp());
    let seal = Seal::one_stage(exponential(300.0));
    let policy = CarePolicy {
        turn: Some(Turn { every, by: 1 }),
        ..CarePolicy::inspect_every(every)
    };
    let model = Prepared::new(&seal).unwrap();
    let got = model.present_value(&policy, &t, delta).unwrap();
    assert!((got / want - 1.0).abs() < 1e-7, "{got} {want}");
    let (played, error) = play_present_value(&seal, &policy, &t, delta, 20_000, 3).unwrap();
    assert!(error < 0.02 * want);
    assert!(
        (played - want).abs() < 4.0 * error,
        "{played} {error} {want}"
    );
}

/// Money now where an onset's law has a long tail, looks sure and many, delays without memory, δ small: each gap between two
/// looks by an integral over the share of onsets, none of them left out.
#[test]
fn money_now_of_a_long_tail_leaves_nothing_out() {
    let (shape, scale, every, delay, delta) = (0.7, 100.0, 4.0, 30.0, 1e-5);
    let onset = weibull(shape, scale);
    let seal = Seal::two_stage(onset.clone(), exponential(delay));
    let event = |money: f64| Event { money, down: 0.0 };
    let terms = Terms {
        failed: event(900.0),
        found: event(100.0),
        look: 5.0,
        ..Terms::default()
    };
    let (mut money, mut end) = (0.0, 0.0);
    let mut k = 0.0;
    while onset.survival(k * every) > 1e-17 {
        let (from, to) = (k * every, (k + 1.0) * every);
        let (held, left) = (onset.survival(from), onset.survival(to));
        // Of those that come defective in the gap, by the share sound: found at its end, or failed before.
        let at = |s: f64| scale * (-s.ln()).powf(1.0 / shape);
        let found = over(|s| (-(to - at(s)) / delay).exp(), left, held) * (-delta * to).exp();
        let ends = 1.0 / delay + delta;
        let fails = |s: f64| {
            let rest = -(-(to - at(s)) * ends).exp_m1() / (delay * ends);
            (-delta * at(s)).exp() * rest
        };
        let failed = over(fails, left, held);
        let looked = left * (-delta * to).exp() + found;
        money += 900.0 * failed + 100.0 * found + 5.0 * looked;
        end += failed + found;
        k += 1.0;
    }
    let want = money / (1.0 - end);
    let model = Prepared::new(&seal).unwrap();
    let policy = CarePolicy::inspect_every(every);
    let got = model.present_value(&policy, &terms, delta).unwrap();
    assert!((got / want - 1.0).abs() < 1e-7, "{got} {want}");
}

/// The mean life without care is that to the defect and from there on; of one hidden as well, and handled with harm.
#[test]
fn mean_lives_add_up() {
    let (onset, delay) = (weibull(2.0, 300.0), weibull(1.5, 90.0));
    let seal = Seal {
        failure: FailureSign::Hidden,
        handling_damage: 0.1,
        ..Seal::two_stage(onset.clone(), delay.clone())
    };
    let mean = Prepared::new(&seal).unwrap().mean_life().unwrap();
    assert!((mean / (onset.mean() + delay.mean()) - 1.0).abs() < 1e-7);
}

/// Hidden failures that nobody looks for: only turns end such a seal, by harm, each with one chance in ten.
#[test]
fn a_hidden_seal_is_ended_by_harm_alone() {
    let hidden = |handling_damage: f64| Seal {
        failure: FailureSign::Hidden,
        handling_damage,
        ..Seal::one_stage(weibull(2.0, 300.0))
    };
    let policy = CarePolicy::turn_every(50.0);
    let got = evaluate(&hidden(0.1), &policy, &Terms::default()).unwrap();
    assert!((got.mean_service / 500.0 - 1.0).abs() < 1e-7, "{got:?}");
    assert!((got.turns_per_cycle - 10.0).abs() < 1e-6, "{got:?}");
    let why = evaluate(&hidden(0.0), &policy, &Terms::default()).unwrap_err();
    assert!(why.to_string().contains("never come to light"), "{why}");
}

/// Levels go on until the horizon is lasted with 99.9 %, whatever the target; what is asked beyond that is found as well.
#[test]
fn levels_of_a_fleet_go_on_until_next_to_nothing_is_short() {
    let new = [Running { age: 0.0, count: 6 }];
    for target in [0.5, 0.9999] {
        let answer = fleet_stock(&weibull(2.5, 1000.0), &new, 500.0, target).unwrap();
        assert!(answer.levels.last().unwrap().enough > 0.999);
        assert!(answer.best.enough >= target);
        let below = answer.best.stock.checked_sub(1).map(|s| answer.levels[s]);
        assert!(below.is_none_or(|level| level.enough < target));
    }
}

/// One position and its spare in other units of time: the same choice in lives, on arrival or not. A spare that comes later
/// than the best age for the seal alone: it is replaced as soon as it comes.
#[test]
fn one_spare_in_every_unit_and_one_that_comes_late() {
    for (holding, on_arrival) in [(2.0, true), (0.01, false)] {
        for unit in [1.0, 1e-5] {
            let terms = OneSpare {
                planned: 5.0,
                failed: 20.0,
                holding: holding / unit,
                waiting: 10.0 / unit,
                lead_time: 2.0 * unit,
            };
            let joint = terms.best(&weibull(2.5, 24.0 * unit)).unwrap();
            assert_eq!(joint.on_arrival, on_arrival, "{holding} {unit} {joint:?}");
            let want = 1.0 - joint.together.cost_rate / joint.apart.cost_rate;
            assert!((joint.saving - want).abs() < 1e-12, "{joint:?}");
        }
    }
    let late = OneSpare {
        planned: 1.0,
        failed: 20.0,
        holding: 0.1,
        waiting: 0.5,
        lead_time: 30.0,
    };
    let life = weibull(3.0, 24.0);
    let apart = late.best(&life).unwrap().apart;
    let (order, age) = (apart.order_at.unwrap(), apart.replace_at.unwrap());
    assert!((age - order - 30.0).abs() < 1e-9, "{apart:?}");
    let cost = late.given(&life, order, age).unwrap();
    assert!((cost / apart.cost_rate - 1.0).abs() < 1e-9);
}

fn planner(seal: &Seal, planned: f64, request: Request) -> Planner {
    let prices = Prices {
        planned_cost: planned,
        failure_cost: 900.0,
        planned_hours: 2.0,
        failure_hours: 10.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    Planner::new(seal, &costs, &Handling::default(), request).unwrap()
}

/// A limit that every policy keeps changes nothing; an age that is given stays, though hardly a seal gets there.
#[test]
fn loose_limits_and_given_ages() {
    let seal = Seal::one_stage(weibull(2.0, 300.0));
    let ask = |replace: Choice, least_availability: Option<f64>| {
        let request = Request {
            replace,
            limits: Limits {
                least_availability,
                ..Limits::default()
            },
            ..Request::default()
        };
        planner(&seal, 100.0, request).best().unwrap()
    };
    assert_eq!(ask(Choice::Free, Some(0.5)), ask(Choice::Free, None));
    let old = ask(Choice::At(2000.0), None);
    assert_eq!(old.policy.replace_at, Some(2000.0));
}

/// From which ratio of costs an age pays is not asked where a planned replacement is free.
#[test]
fn a_free_replacement_has_no_ratio_of_costs() {
    let seal = Seal::two_stage(weibull(2.0, 300.0), weibull(2.0, 60.0));
    let ratio = |planned: f64| {
        let planner = planner(&seal, planned, Request::default());
        planner.replace_alone(Some(200.0)).unwrap().pays_from_ratio
    };
    assert!(ratio(100.0).is_some_and(|r| r > 1.0));
    assert_eq!(ratio(0.0), None);
}

/// Worn or sound seals that have to last some days more, in closed form.
#[test]
fn chances_to_last_in_closed_form() {
    let gap = |sector| StopGap {
        age: 200.0,
        wait: 12.0,
        sound_at: 0.0,
        sector,
    };
    // Without memory.
    let lasting = gap(None)
        .answer(&Seal::one_stage(exponential(90.0)))
        .unwrap();
    assert!((lasting.as_it_lies - (-12.0f64 / 90.0).exp()).abs() < 1e-12);
    assert_eq!((lasting.turned, lasting.turned_by_one), (None, None));
    // A ring's cumulative hazard, sector by sector: Σ (wear so far + wear to come)^β, over what it is never turned.
    let (shape, scale, wear) = (2.5, 260.0, [2.0, 1.0, 1.4, 0.6]);
    let ring = Seal::one_stage(weibull(shape, scale));
    let ring = ring.with_severities(&wear).unwrap();
    let sum = |f: &dyn Fn(usize) -> f64| (0..4).map(|i| f(i).powf(shape)).sum::<f64>();
    let chance = |turn: usize| {
        let then = sum(&|i| 200.0 * wear[i] + 12.0 * wear[(i + turn) % 4]);
        let now = sum(&|i| 200.0 * wear[i]);
        ((now - then) / sum(&|i| scale * wear[i])).exp()
    };
    let got = gap(None).answer(&ring).unwrap();
    let best = (1..4).max_by(|a, b| chance(*a).total_cmp(&chance(*b)));
    assert!((got.as_it_lies - chance(0)).abs() < 1e-12, "{got:?}");
    assert!((got.turned_by_one.unwrap() - chance(1)).abs() < 1e-12);
    assert_eq!(got.turn_by, best);
    assert!((got.turned.unwrap() - chance(best.unwrap())).abs() < 1e-12);
    // A defect on its worst place, delays without memory: turned to the mildest, days count for 0.6/2 of a day.
    let worn = Seal::two_stage(weibull(shape, scale), exponential(60.0));
    let worn = worn.with_severities(&wear).unwrap();
    let got = gap(Some(1)).answer(&worn).unwrap();
    assert!((got.as_it_lies - (-12.0f64 / 60.0).exp()).abs() < 1e-6);
    let turned = got.turned.unwrap();
    assert!(
        (turned - (-0.3f64 * 12.0 / 60.0).exp()).abs() < 1e-6,
        "{got:?}"
    );
    // No seal that old is worn and holds.
    let short = Seal::two_stage(weibull(2.0, 10.0), weibull(3.0, 1.0));
    let old = StopGap {
        age: 1e5,
        ..gap(None)
    };
    assert!(old.answer(&short).unwrap_err().is_no_answer());
}

/// Positions do not know of each other: replacements at several are the sum of those at each, ages near each other or not.
#[test]
fn replacements_at_several_positions_are_a_sum() {
    let life = weibull(0.5, 100.0);
    let mean = |ages: &[f64]| {
        let running = ages.iter().map(|age| Running {
            age: *age,
            count: 1,
        });
        let running: Vec<Running> = running.collect();
        let counts = replacements(&life, &running, 60.0, 100, Effort::CAREFUL);
        counts.unwrap().mean()
    };
    let ages = [0.0, 4.9, 1000.0];
    let each: f64 = ages.iter().map(|age| mean(&[*age])).sum();
    assert!((mean(&ages) / each - 1.0).abs() < 1e-9);
}

/// Played as what it is: unseen failures wait for the age, looks are counted, and the error is that of as many seals as were
/// asked for.
#[test]
fn seals_are_played_as_they_are() {
    let seal = Seal::one_stage(exponential(200.0));
    let hidden = Seal {
        failure: FailureSign::Hidden,
        ..seal.clone()
    };
    let at_age = CarePolicy::replace_at(150.0);
    let unseen = play(&hidden, &at_age, &Terms::default(), 2000, 1).unwrap();
    assert!((unseen.mean_cycle - 150.0).abs() < 1e-9, "{unseen:?}");
    // Each look is met by e^(−50/200) of those before.
    let q = (-0.25f64).exp();
    let looked = play(
        &seal,
        &CarePolicy::inspect_every(50.0),
        &Terms::default(),
        20_000,
        1,
    );
    let looks = looked.unwrap().inspections_per_cycle;
    let error = q.sqrt() / (1.0 - q) / 20_000f64.sqrt();
    assert!((looks - q / (1.0 - q)).abs() < 4.0 * error, "{looks}");
    let run = CarePolicy::run_to_failure();
    let error = |seals| {
        play_present_value(&seal, &run, &terms(), 1e-3, seals, 2)
            .unwrap()
            .1
    };
    let ratio: f64 = error(5000) / error(20_000);
    assert!((ratio - 2.0).abs() < 0.15, "{ratio}");
}

/// To show on one seal that one in a million fails, with a hazard that falls, takes more than a million lives: no duration.
#[test]
fn a_trial_of_millions_of_lives_is_no_trial() {
    let claim = Claim::new(365.0, 1.0 - 1e-6, 0.3).unwrap();
    assert!(claim.duration(1, 0.9, 0).unwrap_err().is_no_answer());
    // A thousand times as many seals at shape 1: (ln 0.1/ln R)/n lives.
    let claim = Claim::new(365.0, 1.0 - 1e-6, 1.0).unwrap();
    let want = 365.0 * 0.1f64.ln() / (1000.0 * (-1e-6f64).ln_1p());
    assert!((claim.duration(1000, 0.9, 0).unwrap() / want - 1.0).abs() < 1e-9);
}

const THIN: Limit = Limit {
    value: 4.5,
    rising: false,
};

/// A measured property in another unit of time: rates and ages turn with it, costs per unit as well.
#[test]
fn measured_seals_are_the_same_in_every_unit() {
    let event = |money: f64| Event { money, down: 0.0 };
    let terms = Terms {
        planned: event(90.0),
        failed: event(2500.0),
        found: event(90.0),
        look: 6.0,
        ..Terms::default()
    };
    let cost = |unit: f64| {
        let among = (0.015, 2e-5 / unit, 9e-6 / unit / unit);
        let paths = Paths::new(THIN, Scale::Plain, (8.0, -0.0095 / unit), among, 0.2);
        let policy = CarePolicy {
            looks: Looks::Every(100.0 * unit),
            replace_within: Some(0.5),
            ..CarePolicy::replace_at(450.0 * unit)
        };
        let found = evaluate(&Seal::measured(paths.unwrap()), &policy, &terms);
        found.unwrap().cost_rate * unit
    };
    let days = cost(1.0);
    for unit in [1e-4, 30.0] {
        let ratio = cost(unit) / days;
        assert!((ratio - 1.0).abs() < 1e-7, "{unit} {ratio}");
    }
}

/// Seals that all fail unseen at the age of 1000, looked at and turned every 300: the look at 1200 finds half of them, the others
/// stay until 1500, and only they are turned then.
#[test]
fn measured_seals_all_alike_are_counted_by_hand() {
    let paths = Paths::new(THIN, Scale::Plain, (14.5, -0.01), (0.0, 0.0, 0.0), 0.2).unwrap();
    let seal = Seal {
        failure: FailureSign::Hidden,
        detection: 0.5,
        ..Seal::measured(paths)
    };
    let policy = CarePolicy {
        looks: Looks::Every(300.0),
        turn: Some(Turn {
            every: 300.0,
            by: 1,
        }),
        ..CarePolicy::replace_at(1500.0)
    };
    let got = evaluate(&seal, &policy, &Terms::default()).unwrap();
    let near = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-6, "{got} {want}");
    near(got.openings_per_cycle, 4.0);
    near(got.inspections_per_cycle, 4.0);
    near(got.turns_per_cycle, 3.5);
    near(got.mean_service, 0.5 * 1200.0 + 0.5 * 1500.0);
    near(got.failed, 1.0);
}

/// Variances and a covariance that can be: a correlation of 1 is, more is not, nor is less than nothing or a rate without end.
#[test]
fn spreads_of_paths_that_can_be() {
    let of = |rate: f64, among| Paths::new(THIN, Scale::Plain, (8.0, rate), among, 0.2);
    for among in [(0.04, 0.002, 1e-4), (0.04, -0.002, 1e-4), (0.0, 0.0, 0.0)] {
        assert!(of(-0.01, among).is_ok(), "{among:?}");
    }
    for among in [
        (1.0, 2.0, 1.0),
        (0.0, 0.0, -1.0),
        (-1.0, 0.0, -1.0),
        (-1.0, 0.0, 0.0),
        (0.04, 0.002_001, 1e-4),
        (0.04, f64::NAN, 1e-4),
    ] {
        assert!(of(-0.01, among).unwrap_err().is_input(), "{among:?}");
    }
    assert!(
        of(f64::NEG_INFINITY, (0.04, 0.0, 1e-4))
            .unwrap_err()
            .is_input()
    );
}

/// Seals that go the faster the farther they start, all in step: their distances meet at the age of 1500, past the limit. Until
/// then D is normal with the standard deviation 1.5 − t/1000, but for the last part in ten thousand of the correlation.
#[test]
fn paths_all_in_step_meet() {
    let among = (2.25, -1.5e-3, 1e-6);
    let paths = Paths::new(THIN, Scale::Plain, (14.5, -0.01), among, 0.2).unwrap();
    let failed = |age: f64| {
        let policy = CarePolicy::replace_at(age);
        let got = evaluate(&Seal::measured(paths), &policy, &Terms::default());
        got.unwrap().failed
    };
    for age in [900.0, 1000.0, 1100.0, 1500.0] {
        let sd: f64 = 1.5 - age / 1000.0;
        let want = normal_survival((10.0 - 0.01 * age) / sd.max(1e-3));
        assert!((failed(age) - want).abs() < 1e-3, "{age} {want}");
    }
}
