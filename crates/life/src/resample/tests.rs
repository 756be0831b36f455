//! Samples drawn anew against the law and the pattern that they are drawn from.
use super::*;
use crate::laws::by_name;
use sealspan_records::observation::Observation;

fn sample(rows: Vec<Observation>) -> Sample {
    Sample::new(rows)
}

fn weibull() -> &'static dyn Family {
    by_name("weibull").unwrap_or(crate::laws::all()[0])
}

const THETA: [f64; 2] = [4.605_170_185_988_092, -std::f64::consts::LN_2];

#[test]
fn the_pattern_is_kept() -> Result<(), sealspan_records::observation::NotAnObservation> {
    // All watched to 80 at most: every drawn life ends there or before.
    let rows = vec![
        Observation::exact(50.0, 0.0, 3.0)?,
        Observation::right(80.0, 0.0, 5.0)?,
        Observation::exact(70.0, 20.0, 1.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    assert_eq!(pattern.seals(), 9);
    let mut failed = 0.0;
    for i in 0..2000 {
        let terms = source.draw(&mut Stream::new(3, i));
        assert!(terms.density.iter().all(|p| p.age.t <= 80.0));
        assert_eq!(terms.extent.total, 9.0);
        assert_eq!(terms.survival.iter().filter(|p| p.weight < 0.0).count(), 1);
        failed += terms.extent.failures;
    }
    // Eight watched from new, one from 20; all to 80.
    let share = |from: f64| 1.0 - (-(0.64 - from)).exp();
    let want = 8.0 * share(0.0) + share(0.04);
    assert!((failed / 2000.0 - want).abs() < 0.15, "{failed}");
    Ok(())
}

#[test]
fn failures_between_looks_stay_between_looks()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(40.0, 60.0, 0.0, 2.0)?,
        Observation::interval(0.0, 20.0, 0.0, 1.0)?,
        Observation::right(120.0, 0.0, 4.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    for i in 0..500 {
        let terms = source.draw(&mut Stream::new(5, i));
        assert!(terms.density.is_empty());
        // Looks every 20 up to 120: no more than six places for a failure.
        assert!(terms.interval.len() <= 6);
        let failed: f64 = terms.interval.iter().map(|s| s.weight).sum();
        assert_eq!(failed, terms.extent.failures);
        for s in &terms.interval {
            let lower = s.lower.map_or(0.0, |a| a.t);
            assert!((s.upper.t - lower - 20.0).abs() < 1e-9 && s.upper.t <= 120.0 + 1e-9);
        }
    }
    Ok(())
}

/// Running seals of many ages, some watched late: each fails as often as it should, and the likelihood of what is
/// drawn is that of all seals one by one.
#[test]
fn of_many_running_seals_only_the_failures_are_drawn()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let mut rows = vec![Observation::exact(3.0, 0.0, 1.0)?];
    for i in 0..3000 {
        let entry = if i % 3 == 0 { 0.5 } else { 0.0 };
        rows.push(Observation::right(1.0 + 0.002 * f64::from(i), entry, 2.0)?);
    }
    let hazard = |t: f64| (t / 100.0).powi(2);
    let want: f64 = rows
        .iter()
        .skip(1)
        .map(|o| 2.0 * -(hazard(o.entry()) - hazard(o.last())).exp_m1())
        .sum();
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let mut failed = 0.0;
    for i in 0..2000 {
        let terms = source.draw(&mut Stream::new(9, i));
        assert!(terms.survival.len() < 500);
        assert_eq!(terms.extent.total, 6001.0);
        failed += terms.extent.failures;
        let weight: f64 = terms.survival.iter().map(|p| p.weight).sum();
        let late = 2000.0;
        assert!((weight + late + terms.extent.failures - 6001.0).abs() < 1e-6);
    }
    // One more seal failed at 3: it ends with chance of 1 at most.
    let mean = failed / 2000.0;
    assert!((mean - want).abs() < 0.2 && want > 5.0, "{mean} {want}");
    Ok(())
}

/// Looks every 20 from the failure at (40, 60) on, watched to 115: a life that ends between the last look and the
/// end of watching was seen sound at that look, 100; a longer one at 115.
#[test]
fn a_failure_after_the_last_look_was_sound_at_it()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(40.0, 60.0, 0.0, 50.0)?,
        Observation::right(115.0, 0.0, 1.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let (mut at_look, draws) = (0.0, 400);
    for i in 0..draws {
        let terms = source.draw(&mut Stream::new(6, i));
        for p in &terms.survival {
            let look = (p.age.t - 100.0).abs() < 1e-9;
            assert!(look || (p.age.t - 115.0).abs() < 1e-9, "{}", p.age.t);
            at_look += if look { p.weight } else { 0.0 };
        }
    }
    // Survival exp(−(t/100)²).
    let chance = (-1.0f64).exp() - (-1.15f64 * 1.15).exp();
    let n = 50.0 * draws as f64;
    let error = (n * chance * (1.0 - chance)).sqrt();
    assert!((at_look - n * chance).abs() < 4.0 * error, "{at_look}");
    Ok(())
}

/// The spacing of looks is told by failures between two of them, not by those found at a first look.
#[test]
fn spacings_are_those_between_two_looks()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(0.0, 35.0, 0.0, 4.0)?,
        Observation::interval(30.0, 45.0, 30.0, 1.0)?,
        Observation::interval(60.0, 70.0, 0.0, 2.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    assert_eq!(pattern.spacings, [10.0, 10.0]);
    Ok(())
}

/// Ages at which watching ends beyond an age: the product-limit shares, over that still watched at the age.
#[test]
fn ends_of_watching_are_drawn_among_those_still_ahead()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = [(50.0, 2.0), (80.0, 4.0), (120.0, 2.0)];
    let rows = rows.map(|(t, n)| Observation::right(t, 0.0, n));
    let failed = [Observation::exact(130.0, 0.0, 2.0)];
    let rows: Result<_, _> = rows.into_iter().chain(failed).collect();
    let pattern = Pattern::of(&sample(rows?)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let share = |age: f64, end: f64| {
        let all = (0..1000).map(|i| pattern.end_beyond(age, (f64::from(i) + 0.5) / 1000.0));
        all.filter(|e| *e == end).count() as f64 / 1000.0
    };
    // Beyond 60 eight of ten are left, of which four end at 80, two at 120 and two later.
    let want = [(80.0, 0.5), (120.0, 0.25), (f64::INFINITY, 0.25)];
    for (end, part) in want {
        assert!((share(60.0, end) - part).abs() < 2e-3, "{end}");
    }
    assert!((share(100.0, 120.0) - 0.5).abs() < 2e-3);
    assert!((share(10.0, 50.0) - 0.2).abs() < 2e-3);
    Ok(())
}

/// Running seals fail by the law given that they fail before their end: the share failed at their ages is even.
#[test]
fn running_seals_fail_at_ages_of_the_law()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::exact(60.0, 0.0, 1.0)?,
        Observation::right(100.0, 20.0, 40.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let survival = |t: f64| (-(t / 100.0).powi(2)).exp();
    let (mut count, mut sum, mut square) = (0.0, 0.0, 0.0);
    for i in 0..500 {
        let terms = source.draw(&mut Stream::new(8, i));
        let old = terms.density.iter().filter(|p| p.age.t > 20.0);
        for p in old {
            let u = (survival(20.0) - survival(p.age.t)) / (survival(20.0) - survival(100.0));
            count += p.weight;
            sum += p.weight * u;
            square += p.weight * u * u;
        }
    }
    // Even between 0 and 1: spreads √(1/12) and √(4/45).
    let error = 4.0 / f64::sqrt(count);
    assert!(count > 5000.0, "{count}");
    assert!((sum / count - 0.5).abs() < error * (1.0f64 / 12.0).sqrt());
    assert!((square / count - 1.0 / 3.0).abs() < error * (4.0f64 / 45.0).sqrt());
    Ok(())
}

/// A seal seen at two looks is looked at again at its own spacing, in step with its own looks.
#[test]
fn looks_keep_their_own_spacing() -> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(40.0, 60.0, 0.0, 20.0)?,
        Observation::interval(31.0, 34.0, 0.0, 20.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let near = |x: f64, y: f64| (x - y).abs() < 1e-6;
    for i in 0..50 {
        let terms = source.draw(&mut Stream::new(12, i));
        for s in &terms.interval {
            let lower = s.lower.map_or(0.0, |a| a.t);
            let (upper, width) = (s.upper.t, s.upper.t - lower);
            let wide = near(width, 20.0) && near((upper / 20.0).round() * 20.0, upper);
            let close = near(width, 3.0) || (lower == 0.0 && near(upper, 1.0));
            let close = close && near(((upper - 1.0) / 3.0).round() * 3.0 + 1.0, upper);
            assert!(wide || close, "{lower} {upper}");
        }
    }
    Ok(())
}

#[test]
fn nothing_and_too_much_have_no_pattern() {
    assert!(Pattern::of(&sample(vec![])).is_none());
    let many = Observation::exact(5.0, 0.0, MOST_FAILURES + 1.0);
    let few = Observation::exact(5.0, 0.0, 10.0);
    let of = |o: Observation| Pattern::of(&sample(vec![o]));
    assert!(many.is_ok_and(|o| of(o).is_none()));
    assert!(few.is_ok_and(|o| of(o).is_some()));
}

/// Of several kinds of running seals each fails by the law up to its own end: the failures of each kind, beyond the end
/// of the one before, are as many as the law has there.
#[test]
fn running_seals_of_each_kind_fail_up_to_their_own_end()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::right(40.0, 0.0, 30.0)?,
        Observation::right(80.0, 0.0, 20.0)?,
        Observation::right(120.0, 0.0, 10.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let survival = |t: f64| (-(t / 100.0).powi(2)).exp();
    let draws = 500;
    let mut failed = [0.0; 3];
    for i in 0..draws {
        for p in &source.draw(&mut Stream::new(8, i)).density {
            failed[(p.age.t / 40.0).floor().min(2.0) as usize] += p.weight;
        }
    }
    for (at, (found, seals)) in failed.into_iter().zip([60.0, 30.0, 10.0]).enumerate() {
        let from = 40.0 * at as f64;
        let want = draws as f64 * seals * (survival(from) - survival(from + 40.0));
        // A Poisson count at most.
        assert!(
            (found - want).abs() < 4.0 * f64::sqrt(want),
            "{at} {found} {want}"
        );
    }
    Ok(())
}

/// Half of the failures are known to the age, half lie between looks: so are those drawn among running seals.
#[test]
fn running_seals_fail_at_known_ages_as_often_as_the_others()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::exact(50.0, 0.0, 1.0)?,
        Observation::interval(40.0, 60.0, 0.0, 1.0)?,
        Observation::right(120.0, 0.0, 40.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let (mut exact, mut between) = (0.0, 0.0);
    let draws = 200;
    for i in 0..draws {
        let terms = source.draw(&mut Stream::new(15, i));
        exact += terms.density.iter().map(|p| p.weight).sum::<f64>();
        between += terms.interval.iter().map(|s| s.weight).sum::<f64>();
    }
    // Each kind: its own seal and half of the forty, which fail with chance 1 − exp(−1.44) by 120.
    let want = draws as f64 * 21.0 * -(-1.44f64).exp_m1();
    for found in [exact, between] {
        // A Poisson count at most.
        assert!((found - want).abs() < 4.0 * want.sqrt(), "{found} {want}");
    }
    Ok(())
}

/// One look a seal, and no other spacing known: a life is found ended at that look with the chance that it ends before.
#[test]
fn one_look_finds_the_lives_that_ended_before_it()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(0.0, 50.0, 0.0, 30.0)?,
        Observation::right(50.0, 0.0, 10.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let (mut ended, mut sound, draws) = (0.0, 0.0, 200);
    for i in 0..draws {
        let terms = source.draw(&mut Stream::new(16, i));
        assert!(terms.density.is_empty());
        for s in &terms.interval {
            assert!(s.lower.is_none() && (s.upper.t - 50.0).abs() < 1e-9);
            ended += s.weight;
        }
        for p in &terms.survival {
            assert!((p.age.t - 50.0).abs() < 1e-9);
            sound += p.weight;
        }
    }
    let n = 40.0 * draws as f64;
    assert!((ended + sound - n).abs() < 1e-6);
    let chance = -(-0.25f64).exp_m1();
    let error = (n * chance * (1.0 - chance)).sqrt();
    assert!((ended - n * chance).abs() < 4.0 * error, "{ended}");
    Ok(())
}

/// A seal watched from an age on has no look before it: the first stretch drawn begins at its entry.
#[test]
fn no_stretch_begins_before_its_entry()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![Observation::interval(50.0, 70.0, 45.0, 40.0)?];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let mut first = 0.0;
    for i in 0..20 {
        for s in &source.draw(&mut Stream::new(17, i)).interval {
            let lower = s.lower.map_or(0.0, |a| a.t);
            if (s.upper.t - 50.0).abs() < 1e-6 {
                assert!((lower - 45.0).abs() < 1e-9, "{lower}");
                first += s.weight;
            } else {
                assert!((s.upper.t - lower - 20.0).abs() < 1e-6, "{lower}");
            }
        }
    }
    assert!(first > 0.0);
    Ok(())
}

/// Common looks every 12 up to the end of watching at 120: a life that ends in the last stretch is found there.
#[test]
fn a_failure_in_the_last_stretch_is_found_at_the_last_look()
-> Result<(), sealspan_records::observation::NotAnObservation> {
    let rows = vec![
        Observation::interval(36.0, 48.0, 0.0, 40.0)?,
        Observation::right(120.0, 0.0, 1.0)?,
    ];
    let pattern = Pattern::of(&sample(rows)).ok_or(
        sealspan_records::observation::NotAnObservation::BadCount(0.0),
    )?;
    let source = Source::new(&pattern, weibull(), &THETA);
    let (mut found, draws) = (0.0, 100);
    for i in 0..draws {
        for s in &source.draw(&mut Stream::new(18, i)).interval {
            if (s.upper.t - 120.0).abs() < 1e-6 {
                assert!(s.lower.is_some_and(|a| (a.t - 108.0).abs() < 1e-6));
                found += s.weight;
            }
        }
    }
    // Survival exp(−(t/100)²).
    let chance = (-1.08f64 * 1.08).exp() - (-1.2f64 * 1.2).exp();
    let n = 41.0 * draws as f64;
    let error = (n * chance * (1.0 - chance)).sqrt();
    assert!((found - n * chance).abs() < 4.0 * error, "{found}");
    Ok(())
}
