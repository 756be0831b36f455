//! Curves without a law: the interval curve, and the shares failed by mode.

use super::drawn;
use super::samples::{Kind, Row, Watched, near, rows, sample};
use proptest::prelude::*;
use sealspan_life::competing::between_looks::looks_incidence;
use sealspan_life::competing::incidence::cumulative_incidence;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::product_limit;
use sealspan_life::turnbull::{IntervalCurve, curve};
use sealspan_records::{Sample, Seen};

/// The conditions of the interval curve's maximum are met to this by the seal.
const MET: f64 = 1e-10;
/// Relative, of powers of shares.
const ROUNDING: f64 = 1e-12;
const MODES: usize = 3;

/// Shares at ages; a stretch's stands at its end, which lies wherever the stretch does.
fn points(curve: &IntervalCurve) -> Vec<(f64, f64)> {
    curve.masses.iter().map(|m| (m.upper, m.share)).collect()
}

/// Log-likelihood of shares at ages as it is written: of what a seal can be, over what it was watched for.
fn log_likelihood(sample: &Sample, points: &[(f64, f64)]) -> f64 {
    let share = |from: f64, to: f64| -> f64 {
        let within = points.iter().filter(|p| p.0 > from && p.0 <= to);
        within.map(|p| p.1).sum()
    };
    let one = |t: f64| points.iter().filter(|p| p.0 == t).map(|p| p.1).sum();
    let rows = sample.rows().iter();
    rows.map(|o| {
        let inside: f64 = match o.seen() {
            Seen::Exact(t) => one(t),
            Seen::Right(t) => share(t, f64::INFINITY),
            Seen::Interval(a, b) => share(a, b),
        };
        o.count() * (inside / share(o.entry(), f64::INFINITY)).ln()
    })
    .sum()
}

/// Whether the curve is above 0 as long as a seal is seen: where all under watch had failed before others came, the
/// likeliest shares are a limit that nothing reaches.
fn follows_all(curve: &product_limit::Curve, sample: &Sample) -> bool {
    let mut steps = curve.steps.iter();
    steps.all(|s| s.survival > 0.0 || s.time >= sample.oldest())
}

/// Each row ended by a mode of its own.
fn by_mode(rows: &[Row], modes: &[usize], unit: f64) -> ByMode {
    let row = |(row, mode): (&Row, &usize)| {
        let observation = row.seen(unit, f64::from(row.count))?;
        let mode = observation.ended().then_some(*mode);
        Some(ModeRow { observation, mode })
    };
    let list = rows.iter().zip(modes).filter_map(row);
    ByMode::new(list.collect(), MODES).unwrap()
}

fn modes() -> impl Strategy<Value = Vec<usize>> {
    prop::collection::vec(0..MODES, 60)
}

proptest! {
    #![proptest_config(drawn(200))]

    #[test]
    fn shares_of_the_interval_curve_sum_to_one(rows in rows(60, Watched::ALL)) {
        let found = curve(&sample(&rows, 1.0), 0.9).unwrap();
        prop_assert!(found.masses.iter().all(|m| m.share > 0.0 && m.lower <= m.upper));
        let all: f64 = found.masses.iter().map(|m| m.share).sum();
        prop_assert!((all - 1.0).abs() < 1e-9, "{all}");
        let mut before = (0.0, 1.0);
        for m in &found.masses {
            prop_assert!(m.lower >= before.0 && m.survival <= before.1, "{m:?}");
            before = (m.upper, m.survival);
        }
        // Nothing is left when the last stretch is past.
        prop_assert_eq!(before.1, 0.0);
    }

    #[test]
    fn no_other_shares_are_likelier(
        rows in rows(60, Watched::FROM_NEW),
        others in prop::collection::vec(0.0..1.0_f64, 200),
        part in prop::sample::select(vec![1e-3, 0.1, 1.0]),
        age in 0..3600_u32,
    ) {
        let sample = sample(&rows, 1.0);
        let found = curve(&sample, 0.9).unwrap();
        let own = points(&found);
        let best = log_likelihood(&sample, &own);
        prop_assert!((best - found.log_likelihood).abs() <= 1e-9 * (1.0 + best.abs()), "{best} {found:?}");
        let rounding = sample.tally().total() * MET + 1e-12 * best.abs();
        let sum: f64 = others.iter().take(own.len()).sum();
        let mixed = own.iter().zip(&others).map(|((t, share), other)| (*t, (1.0 - part) * share + part * other / sum));
        let mixed = log_likelihood(&sample, &mixed.collect::<Vec<_>>());
        prop_assert!(mixed <= best + rounding, "{mixed} {best}");
        // A part of all at an age of its own, on the curve's stretches or off them.
        let mut moved: Vec<(f64, f64)> = own.iter().map(|(t, share)| (*t, (1.0 - part) * share)).collect();
        moved.push((0.5 * f64::from(age), part));
        let moved = log_likelihood(&sample, &moved);
        prop_assert!(moved <= best + rounding, "{moved} {best}");
    }

    #[test]
    fn exact_ages_give_the_product_limit_curve(rows in rows(60, Watched::EXACT)) {
        let sample = sample(&rows, 1.0);
        let plain = product_limit::curve(&sample, 0.9).unwrap();
        prop_assume!(follows_all(&plain, &sample));
        let ours = curve(&sample, 0.9).unwrap();
        for step in &plain.steps {
            let mass = ours.masses.iter().find(|m| m.upper == step.time);
            prop_assert!(mass.is_some_and(|m| (m.survival - step.survival).abs() < 1e-9), "{mass:?} {step:?}");
        }
        let finite = ours.masses.iter().filter(|m| m.upper.is_finite()).count();
        prop_assert_eq!(finite, plain.steps.len());
    }

    #[test]
    fn nothing_fails_at_ages_at_which_nothing_was_under_watch(rows in rows(30, Watched::EXACT)) {
        let early = rows.iter().copied();
        // The same seals again, of ages after a gap from 900 to 950 days.
        let again = early.clone().map(|r| Row { age: r.age + 2000, entry: 950, ..r });
        let sample = sample(&early.chain(again).collect::<Vec<_>>(), 1.0);
        let plain = product_limit::curve(&sample, 0.9).unwrap();
        prop_assume!(follows_all(&plain, &sample));
        let ours = curve(&sample, 0.9).unwrap();
        let ages: Vec<f64> = ours.masses.iter().map(|m| m.upper).filter(|t| t.is_finite()).collect();
        prop_assert_eq!(ages, plain.steps.iter().map(|s| s.time).collect::<Vec<_>>());
    }

    #[test]
    fn neither_order_nor_grouping_nor_unit_moves_a_bit(rows in rows(60, Watched::ALL), turn in 0..60_usize) {
        let of = |sample: &Sample, unit: f64| {
            let found = curve(sample, 0.9).unwrap();
            let masses = found.masses.into_iter().map(|m| (m.lower / unit, m.upper / unit, m.share, m.std_error));
            (masses.collect::<Vec<_>>(), found.no_errors)
        };
        let plain = of(&sample(&rows, 1.0), 1.0);
        let single = Sample::new(rows.iter().flat_map(|r| r.apart(1.0)).collect());
        let mut turned = rows.clone();
        turned.rotate_left(turn % rows.len());
        turned.reverse();
        prop_assert_eq!(&of(&single, 1.0), &plain);
        prop_assert_eq!(&of(&sample(&turned, 1.0), 1.0), &plain);
        prop_assert_eq!(&of(&sample(&rows, 24.0), 24.0), &plain);
    }

    #[test]
    fn bounds_hold_the_curve_and_widen_with_the_level(rows in rows(60, Watched::ALL)) {
        let sample = sample(&rows, 1.0);
        let [narrow, wide] = [0.5, 0.9].map(|level| curve(&sample, level).unwrap());
        for (n, w) in narrow.masses.iter().zip(&wide.masses) {
            let ends = [n.lower_bound.zip(n.upper_bound), w.lower_bound.zip(w.upper_bound)];
            prop_assert_eq!(ends[0].is_some(), ends[1].is_some());
            prop_assert_eq!(ends[0].is_some(), n.std_error.is_some());
            if let [Some(n_ends), Some(w_ends)] = ends {
                let inward = [w_ends.0, n_ends.0, n.survival, n_ends.1, w_ends.1];
                prop_assert!(inward.is_sorted_by(|a, b| *a <= b * (1.0 + ROUNDING)), "{inward:?}");
                prop_assert!(w_ends.0 >= 0.0 && w_ends.1 <= 1.0, "{inward:?}");
            }
        }
    }

    #[test]
    fn intervals_about_one_another_leave_all_in_the_innermost(widths in prop::collection::vec((1..50_u32, 1..50_u32), 1..20)) {
        let (mut lower, mut upper, mut list) = (1000, 1001, vec![]);
        for (down, up) in widths {
            list.push(Row { age: lower, kind: Kind::Between, width: upper - lower, entry: 0, count: 1 });
            (lower, upper) = (lower - down, upper + up);
        }
        let found = curve(&sample(&list, 1.0), 0.9).unwrap();
        let masses: Vec<_> = found.masses.iter().map(|m| (m.lower, m.upper, m.share)).collect();
        prop_assert_eq!(masses, [(1000.0, 1001.0, 1.0)]);
    }

    #[test]
    fn shares_by_mode_and_of_survivors_sum_to_one(rows in rows(60, Watched::EXACT), modes in modes()) {
        let lives = by_mode(&rows, &modes, 1.0);
        let found = cumulative_incidence(&lives, 0.9).unwrap();
        prop_assert_eq!(&found.overall, &product_limit::curve(&lives.all(), 0.9).unwrap());
        let mut before = [0.0; MODES];
        for step in &found.overall.steps {
            let shares = [0, 1, 2].map(|mode| found.share(mode, step.time));
            let all = shares.iter().sum::<f64>() + step.survival;
            prop_assert!((all - 1.0).abs() < 1e-12, "{shares:?} {step:?}");
            prop_assert!(shares.iter().zip(&before).all(|(now, before)| now >= before));
            before = shares;
        }
        for step in found.modes.iter().flatten() {
            prop_assert!(step.std_error >= 0.0 && step.std_error.is_finite(), "{step:?}");
            prop_assert!(step.gray_std_error >= 0.0 && step.gray_std_error.is_finite(), "{step:?}");
            if let (Some(lower), Some(upper)) = (step.lower, step.upper) {
                prop_assert!(lower <= step.incidence && step.incidence <= upper, "{step:?}");
            }
        }
    }

    #[test]
    fn shares_by_mode_hang_on_neither_names_nor_order_nor_unit(rows in rows(60, Watched::EXACT), modes in modes(), turn in 0..60_usize) {
        let of = |lives: &ByMode, unit: f64| {
            let found = cumulative_incidence(lives, 0.9).unwrap();
            let step = |s: &sealspan_life::competing::incidence::Step| (s.time / unit, s.incidence, s.std_error, s.gray_std_error);
            found.modes.iter().map(|steps| steps.iter().map(step).collect()).collect::<Vec<Vec<_>>>()
        };
        let plain = of(&by_mode(&rows, &modes, 1.0), 1.0);
        let renamed: Vec<usize> = modes.iter().map(|m| (m + 1) % MODES).collect();
        let mut expected = plain.clone();
        expected.rotate_right(1);
        prop_assert_eq!(of(&by_mode(&rows, &renamed, 1.0), 1.0), expected);
        prop_assert_eq!(&of(&by_mode(&rows, &modes, 24.0), 24.0), &plain);
        let (mut rows, mut modes) = (rows, modes);
        modes.truncate(rows.len());
        let turn = turn % rows.len();
        rows.rotate_left(turn);
        modes.rotate_left(turn);
        prop_assert_eq!(&of(&by_mode(&rows, &modes, 1.0), 1.0), &plain);
    }
}

proptest! {
    #![proptest_config(drawn(24))]

    #[test]
    fn shares_by_mode_between_looks_sum_to_one(rows in rows(24, Watched::ALL), modes in modes()) {
        let lives = by_mode(&rows, &modes, 1.0);
        match looks_incidence(&lives, 0.9, 1) {
            Ok(found) => {
                let steps = || found.modes.iter().flatten();
                let all = found.beyond + steps().map(|s| s.share).sum::<f64>();
                prop_assert!((all - 1.0).abs() < 1e-9, "{all}");
                prop_assert!(found.beyond >= 0.0 && steps().all(|s| s.share > 0.0));
                for own in &found.modes {
                    prop_assert!(own.is_sorted_by(|a, b| a.incidence <= b.incidence && a.upper <= b.lower), "{own:?}");
                }
                prop_assert!(steps().all(|s| s.std_error.is_none_or(|e| e >= 0.0 && e.is_finite())));
            }
            Err(why) => prop_assert!(!why.to_string().is_empty()),
        }
    }

    #[test]
    fn one_mode_between_looks_is_as_likely_as_the_interval_curve(rows in rows(24, Watched::FROM_NEW)) {
        let lives = by_mode(&rows, &vec![0; rows.len()], 1.0);
        let whole = curve(&lives.all(), 0.9).unwrap().log_likelihood;
        if let Ok(found) = looks_incidence(&lives, 0.9, 1) {
            let rounding = lives.all().tally().total() * 1e-7;
            prop_assert!((found.log_likelihood - whole).abs() <= rounding, "{} {whole}", found.log_likelihood);
        }
    }

    #[test]
    fn exact_ages_by_mode_are_the_same_with_looks_and_without(rows in rows(24, Watched::EXACT), modes in modes()) {
        let lives = by_mode(&rows, &modes, 1.0);
        let plain = cumulative_incidence(&lives, 0.9).unwrap();
        prop_assume!(follows_all(&plain.overall, &lives.all()));
        if let Ok(found) = looks_incidence(&lives, 0.9, 1) {
            for (mode, own) in found.modes.iter().enumerate() {
                for step in own {
                    let want = plain.share(mode, step.upper);
                    prop_assert!(near(step.incidence, want, 1e-6), "{step:?} {want}");
                }
            }
        }
    }
}
