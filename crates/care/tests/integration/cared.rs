//! Seals under a care policy month by month: against the evaluator's long run, a fleet played seal by seal, and the
//! months of a life without looks.

use sealspan_care::ahead::cared::{Cared, Overdue, expected_to_go};
use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Cases, Spread};
use sealspan_care::evaluate::evaluate;
use sealspan_care::policy::{CarePolicy, Looks, Turn};
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::terms::Terms;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

const MONTH: f64 = 30.4375;

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn two_stage() -> Seal {
    Seal {
        detection: 0.7,
        handling_damage: 0.01,
        ..Seal::two_stage(weibull(2.5, 320.0), weibull(1.5, 90.0))
    }
}

fn policy(looks: f64, turn: Option<f64>, replace_at: Option<f64>) -> CarePolicy {
    CarePolicy {
        looks: if looks > 0.0 {
            Looks::Every(looks)
        } else {
            Looks::Never
        },
        turn: turn.map(|every| Turn { every, by: 1 }),
        replace_at,
        ..CarePolicy::run_to_failure()
    }
}

fn fleet(ages: &[f64]) -> Fleet {
    let cohorts = ages.iter().map(|age| Cohort {
        age: *age,
        count: 1.0,
    });
    Fleet {
        batches: vec![cohorts.collect()],
        ..Fleet::default()
    }
}

fn question<'a>(
    seal: &'a Seal,
    so_far: &'a CarePolicy,
    from_now: &'a CarePolicy,
    fleet: &'a Fleet,
    periods: usize,
) -> Cared<'a> {
    Cared {
        seal,
        draws: &[],
        so_far,
        from_now,
        overdue: Overdue::AtOnce,
        stretch: 1.0,
        rate: 1.0,
        rates: &[],
        fleet,
        period: MONTH,
        periods,
        batch_spread: 0.0,
        seed: 3,
    }
}

fn last_years(cases: &Cases, months: usize) -> Spread {
    let all = &cases.best[..cases.best.len() - 1];
    let mut sum = Spread::default();
    for month in &all[all.len() - months..] {
        sum.work.openings += month.work.openings;
        sum.work.looks += month.work.looks;
        sum.work.turns += month.work.turns;
        for (sum, one) in sum.counts.iter_mut().zip(&month.counts) {
            sum.mean += one.mean;
        }
    }
    sum
}

/// Far ahead the months come to the evaluator's rates, whatever the seal and the policy.
#[test]
fn months_far_ahead_are_the_long_run() {
    let ring = two_stage().with_severities(&[2.0, 1.0, 1.0, 0.6]).unwrap();
    let hidden = Seal {
        failure: FailureSign::Hidden,
        detection: 0.9,
        ..Seal::one_stage(weibull(1.8, 400.0))
    };
    let cases = [
        (two_stage(), policy(2.0 * MONTH, None, None)),
        (two_stage(), policy(2.0 * MONTH, None, Some(11.0 * MONTH))),
        (two_stage(), policy(47.0, None, Some(361.0))),
        (
            ring,
            policy(2.0 * MONTH, Some(2.0 * MONTH), Some(14.0 * MONTH)),
        ),
        (hidden, policy(3.0 * MONTH, None, None)),
        (
            Seal::one_stage(weibull(1.6, 350.0)),
            policy(0.0, None, Some(8.0 * MONTH)),
        ),
    ];
    for (i, (seal, policy)) in cases.iter().enumerate() {
        let fleet = fleet(&[0.0, 40.0, 170.0, 171.0]);
        let cases = question(seal, policy, policy, &fleet, 240).cases().unwrap();
        let got = last_years(&cases, 60);
        let want = evaluate(seal, policy, &Terms::default()).unwrap();
        let positions = 4.0 * 60.0 * MONTH / want.mean_cycle;
        let near = |got: f64, want: f64, what: &str| {
            let want = want * positions;
            assert!(
                (got - want).abs() < 4e-3 * want + 1e-9,
                "case {i}, {what}: {got} for {want}"
            );
        };
        near(got.counts[0].mean, want.failed, "failures");
        near(
            got.counts[1].mean,
            want.found + want.preventive + want.damaged,
            "planned changes",
        );
        near(got.counts[2].mean, 1.0, "all endings");
        near(got.work.openings, want.openings_per_cycle, "openings");
        near(got.work.looks, want.inspections_per_cycle, "looks");
        near(got.work.turns, want.turns_per_cycle, "turns");
    }
}

/// One seal from `age` on; `None` when it did not live to it unfound. The ages of its looks are `so_far`'s, then
/// `from_now`'s.
fn life_of(
    seal: &Seal,
    (age, so_far, from_now): (f64, &CarePolicy, &CarePolicy),
    stream: &mut Stream,
    log: &mut dyn FnMut(f64, &'static str),
) -> Option<f64> {
    let defect = seal.law().unwrap().sample(stream.uniform());
    let fails = defect + seal.delay.as_ref().unwrap().sample(stream.uniform());
    let mut at = 0.0;
    loop {
        let limit = from_now.replace_at.unwrap_or(f64::INFINITY);
        let looks = if at < age { so_far } else { from_now };
        let mut next = looks.looks.after(at).unwrap_or(f64::INFINITY);
        if at < age && next > age {
            // From now on the other policy's ages count.
            next = from_now.looks.after(age).unwrap_or(f64::INFINITY);
        }
        let due = limit.max(age);
        if fails <= next.min(due) {
            log(fails, "failed");
            return (fails > age).then_some(fails);
        }
        if due <= next {
            log(due, "planned");
            return Some(due);
        }
        log(next, "look");
        if defect <= next && stream.uniform() < seal.detection {
            log(next, "planned");
            return (next > age).then_some(next);
        }
        if stream.uniform() < seal.handling_damage {
            log(next, "planned");
            return (next > age).then_some(next);
        }
        at = next;
    }
}

/// Seals of several ages, looked at rarely so far and often from now on, one of them overdue.
#[test]
fn against_seals_played_one_by_one() {
    let seal = two_stage();
    let (so_far, from_now) = (
        policy(120.0, None, None),
        policy(2.0 * MONTH, None, Some(12.0 * MONTH)),
    );
    let ages = [15.0, 150.0, 260.0, 400.0];
    let fleet = fleet(&ages);
    let months = 18;
    let cases = question(&seal, &so_far, &from_now, &fleet, months)
        .cases()
        .unwrap();
    let runs = 60_000;
    let mut stream = Stream::new(20_261_126, 1);
    let mut sums = vec![[0.0; 3]; months];
    let mut squares = vec![[0.0; 2]; months + 1];
    for _ in 0..runs {
        let mut mine = vec![[0.0; 2]; months];
        for age in ages {
            let (mut begun, mut age) = (-age, age);
            while begun + age < months as f64 * MONTH {
                let mut seen: Vec<(f64, &str)> = vec![];
                let end = loop {
                    seen.clear();
                    let mut log = |at: f64, what: &'static str| seen.push((at, what));
                    let way = (age, &so_far, &from_now);
                    if let Some(end) = life_of(&seal, way, &mut stream, &mut log) {
                        break end;
                    }
                };
                for (at, what) in seen.iter().filter(|s| s.0 >= age) {
                    let month = ((begun + at) / MONTH * (1.0 + 1e-12)) as usize;
                    let kind = match *what {
                        "failed" => 0,
                        "planned" => 1,
                        _ => 2,
                    };
                    if let Some(slot) = sums.get_mut(month) {
                        slot[kind] += 1.0;
                        if kind < 2 {
                            mine[month][kind] += 1.0;
                        }
                    }
                }
                begun += end;
                age = 0.0;
            }
        }
        let whole = [0, 1].map(|k| mine.iter().map(|m| m[k]).sum::<f64>());
        for (square, one) in squares.iter_mut().zip(mine.iter().chain([&whole])) {
            for k in [0, 1] {
                square[k] += one[k] * one[k];
            }
        }
    }
    let n = f64::from(runs);
    let total = [0, 1, 2].map(|k| sums.iter().map(|s| s[k]).sum::<f64>() / n);
    // An event at the very end of a month may fall on either side: two months are taken together.
    for i in (0..months).step_by(2) {
        let got = |k: usize| cases.best[i].counts[k].mean + cases.best[i + 1].counts[k].mean;
        for k in [0, 1] {
            let want = (sums[i][k] + sums[i + 1][k]) / n;
            let error = (want / n).sqrt();
            assert!(
                (got(k) - want).abs() < 4.0 * error + 0.02 * want,
                "months {i} and after, kind {k}: {} for {want}, error {error}",
                got(k)
            );
        }
        let looks = cases.best[i].work.looks + cases.best[i + 1].work.looks;
        let want = (sums[i][2] + sums[i + 1][2]) / n;
        assert!((looks / want - 1.0).abs() < 0.03, "{looks} for {want}");
    }
    let all = cases.best.last().unwrap();
    for k in [0, 1] {
        let (mean, variance) = (all.counts[k].mean, all.counts[k].variance);
        assert!(
            (mean / total[k] - 1.0).abs() < 0.01,
            "{mean} for {}",
            total[k]
        );
        let want = squares[months][k] / n - total[k] * total[k];
        assert!(
            (variance / want - 1.0).abs() < 0.1,
            "variance of kind {k}: {variance} for {want}"
        );
    }
}

/// Draws that are the estimate itself come to its own months, looks at odd ages included.
#[test]
fn draws_lie_on_the_grid_of_the_estimate() {
    let seal = two_stage();
    let draws = vec![seal.clone(); 50];
    let (so_far, from_now) = (policy(75.0, None, None), policy(60.0, None, Some(240.0)));
    let fleet = fleet(&[10.0, 100.0, 200.0, 300.0]);
    let asked = Cared {
        draws: &draws,
        ..question(&seal, &so_far, &from_now, &fleet, 24)
    };
    let cases = asked.cases().unwrap();
    assert!(cases.drawn.iter().all(|drawn| *drawn == cases.best));
}

/// A seal so old that none is left of its kind is replaced at once, and its count is a number.
#[test]
fn a_seal_older_than_any_gets_is_replaced_at_once() {
    let seal = Seal::one_stage(weibull(10.0, 100.0));
    let never = policy(0.0, None, None);
    let fleet = fleet(&[300.0]);
    let got = question(&seal, &never, &never, &fleet, 1).cases().unwrap();
    let planned = got.best[0].counts[1].mean;
    assert!((planned - 1.0).abs() < 1e-3, "{planned}");
}

/// Without looks the months are those of the life itself.
#[test]
fn without_looks_as_the_life_alone() {
    let life = weibull(2.2, 260.0);
    let seal = Seal::one_stage(life.clone());
    let never = policy(0.0, None, Some(7.0 * MONTH));
    let join = |at: f64, positions: f64| Joining { at, positions };
    let fleet = Fleet {
        joining: vec![join(0.0, 1.5), join(37.0 / 16.0 * MONTH, 4.0)],
        ..fleet(&[0.0, 3.0 * MONTH, 5.5 * MONTH, 9.0 * MONTH])
    };
    let got = question(&seal, &never, &never, &fleet, 24).cases().unwrap();
    let ending = Ending::new(&life, never.replace_at).unwrap();
    let want = Ahead {
        ending: &ending,
        draws: &[],
        fleet: &fleet,
        period: MONTH,
        periods: 24,
        confidence: 0.9,
        batch_spread: 0.0,
        seed: 3,
    }
    .cases()
    .unwrap();
    for (got, want) in got.best.iter().zip(&want.best) {
        for (got, want) in got.counts.iter().zip(&want.counts) {
            assert!((got.mean - want.mean).abs() < 1e-9, "{got:?} {want:?}");
            assert!((got.variance - want.variance).abs() < 1e-9);
        }
    }
}

/// A seal past its age is changed at once, or runs on where its age was no bar so far.
#[test]
fn overdue_seals() {
    let seal = Seal::one_stage(weibull(3.0, 900.0));
    let at_age = policy(0.0, None, Some(200.0));
    let fleet = fleet(&[300.0]);
    let at_once = question(&seal, &at_age, &at_age, &fleet, 3);
    let runs_on = Cared {
        overdue: Overdue::RunsOn,
        ..at_once.clone()
    };
    let planned = |q: &Cared| q.cases().unwrap().best[0].counts[1].mean;
    assert!((planned(&at_once) - 1.0).abs() < 1e-6);
    assert_eq!(planned(&runs_on), 0.0);
}

/// What seals are expected to come to is the law's own cumulative rate without looks, and more with them.
#[test]
fn expected_to_go_by_age() {
    let life = weibull(2.2, 260.0);
    let seal = Seal::one_stage(life.clone());
    let alone = expected_to_go(&seal, &policy(0.0, None, Some(100.0)), 2.0, 200).unwrap();
    for (k, got) in alone.iter().enumerate() {
        let want = -life.survival(2.0 * k as f64).ln();
        assert!(
            (got - want).abs() < 1e-9 * want + 1e-12,
            "{k}: {got} {want}"
        );
    }
    let never = expected_to_go(&two_stage(), &policy(0.0, None, None), 2.0, 200).unwrap();
    let looked_at = expected_to_go(&two_stage(), &policy(60.0, None, None), 2.0, 200).unwrap();
    assert!(looked_at.windows(2).all(|w| w[0] <= w[1]));
    assert!(never[150] < 0.9 * looked_at[150] && looked_at[20] - never[20] < 1e-9);
}

/// A place where seals go twice as fast has a life of its own: that of the doubled rate.
#[test]
fn a_place_of_its_own_rate() {
    let (fast, slow) = (weibull(2.0, 300.0), weibull(2.0, 300.0 * 2f64.sqrt()));
    let never = policy(0.0, None, None);
    let fleet = fleet(&[0.0, 100.0]);
    let slow = Seal::one_stage(slow);
    let doubled = Cared {
        rate: 2.0,
        ..question(&slow, &never, &never, &fleet, 12)
    };
    let fast = Seal::one_stage(fast);
    let own = question(&fast, &never, &never, &fleet, 12).cases().unwrap();
    let doubled = doubled.cases().unwrap();
    for (a, b) in own.best.iter().zip(&doubled.best) {
        assert!((a.counts[0].mean - b.counts[0].mean).abs() < 1e-9);
    }
}

/// Positions that leave take their seals with them at random: a count of k is thinned, and its second factorial moment
/// falls as the square of the share that stays.
#[test]
fn positions_that_leave_take_their_share_of_the_work() {
    let (seal, care) = (two_stage(), policy(60.0, None, Some(300.0)));
    let staying = fleet(&[20.0, 110.0, 230.0, 250.0, 280.0]);
    let leaving = Fleet {
        leaving: 0.002,
        ..staying.clone()
    };
    let months = |fleet: &Fleet| {
        question(&seal, &care, &care, fleet, 10)
            .cases()
            .unwrap()
            .best
    };
    for (i, (all, kept)) in months(&staying)
        .iter()
        .zip(months(&leaving))
        .take(10)
        .enumerate()
    {
        let share = 0.998_f64.powf((i as f64 + 0.5) * MONTH);
        assert!((kept.work.looks / all.work.looks / share - 1.0).abs() < 5e-3);
        for (all, kept) in all.counts.iter().zip(&kept.counts) {
            if all.mean < 1e-6 {
                continue;
            }
            let own = kept.mean / all.mean;
            assert!((own / share - 1.0).abs() < 5e-3, "{i}: {own} {share}");
            let factorial = |mean: f64, variance: f64| variance - mean + mean * mean;
            let (before, after) = (
                factorial(all.mean, all.variance),
                factorial(kept.mean, kept.variance),
            );
            assert!((after - own * own * before).abs() < 1e-9 * all.mean);
        }
    }
}

/// Seals that hardly ever go, looked at every 45 days and turned every 90: those that join have their looks and turns at
/// these ages, counted from the day they join.
#[test]
fn positions_that_join_are_looked_at_from_then_on() {
    let lasting = Seal::two_stage(weibull(3.0, 1e7), weibull(1.5, 90.0));
    let seal = lasting.with_severities(&[1.0, 1.0, 1.0]).unwrap();
    let care = policy(45.0, Some(90.0), None);
    let fleet = Fleet {
        joining: [(0.0, 2.0), (100.0, 3.0), (1e4, 7.0)]
            .map(|(at, positions)| Joining { at, positions })
            .into(),
        ..fleet(&[10.0])
    };
    let cases = question(&seal, &care, &care, &fleet, 12).cases().unwrap();
    // The one that runs now is 10 days old; no look or turn comes within a step of the year's end.
    let begun = [(-10.0, 1.0), (0.0, 2.0), (100.0, 3.0)];
    let events = |every: f64| -> f64 {
        let year = 12.0 * MONTH;
        let of = |(at, count): &(f64, f64)| count * ((year - at) / every).floor();
        begun.iter().map(of).sum()
    };
    let work = cases.best.last().unwrap().work;
    let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-6, "{got} {want}");
    near(work.looks, events(45.0));
    near(work.openings, events(45.0));
    near(work.turns, events(90.0));
}
