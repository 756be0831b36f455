//! Accelerated life regression on drawn designs of a factor and a number.

use super::drawn;
use super::samples::{Kind, Row, Watched, rows};
use proptest::prelude::*;
use sealspan_life::laws;
use sealspan_life::regression::{Cell, Regression, regress};
use sealspan_life::terms::Terms;
use sealspan_records::{Observation, Sample};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Share of its standard error by which a coefficient may be off.
const OFF: f64 = 1e-6;
/// Log-likelihood a seal by which two ways to one maximum may differ.
const LIKELY: f64 = 1e-9;

/// A row with its level of a factor and its number.
#[derive(Debug, Clone, Copy)]
struct Seals {
    row: Row,
    level: usize,
    number: i32,
}

#[derive(Debug, Clone)]
struct Fleet {
    levels: usize,
    seals: Vec<Seals>,
}

fn fleet(watched: Watched) -> impl Strategy<Value = Fleet> {
    let places = prop::collection::vec((any::<usize>(), -3..=3_i32), 60);
    (2..5_usize, rows(60, watched), places).prop_map(|(levels, rows, places)| Fleet {
        levels,
        seals: rows
            .into_iter()
            .zip(places)
            .map(|(row, (place, number))| Seals {
                row,
                level: place % levels,
                number,
            })
            .collect(),
    })
}

/// Laws whose likelihood has one maximum.
fn law() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec!["exponential", "weibull", "lognormal", "loglogistic"])
}

/// The intercept, the levels but for the base, and the number.
fn written(seals: &Seals, levels: usize, base: usize) -> Vec<f64> {
    let others = (0..levels).filter(|level| *level != base);
    std::iter::once(1.0)
        .chain(others.map(|level| f64::from(u8::from(level == seals.level))))
        .chain([f64::from(seals.number)])
        .collect()
}

/// One cell for all seals of a level and number.
fn cells(fleet: &Fleet, unit: f64, row: impl Fn(&Seals) -> Vec<f64>) -> Vec<Cell> {
    let mut alike: BTreeMap<(usize, i32), (Vec<f64>, Vec<Observation>)> = BTreeMap::new();
    for seals in &fleet.seals {
        let own = alike.entry((seals.level, seals.number));
        let (_, list) = own.or_insert_with(|| (row(seals), vec![]));
        list.extend(seals.row.seen(unit, f64::from(seals.row.count)));
    }
    let cell = |(row, list)| Cell {
        row,
        terms: Arc::new(Terms::new(&Sample::new(list))),
    };
    alike.into_values().map(cell).collect()
}

/// A fit of finite numbers, or a refusal in words.
fn fitted(law: &str, cells: &[Cell]) -> Result<Option<Regression>, TestCaseError> {
    let columns = cells.first().map_or(0, |c| c.row.len());
    let names: Vec<String> = (0..columns).map(|at| format!("column {at}")).collect();
    match regress(laws::by_name(law).unwrap(), &names, cells) {
        Ok(found) => {
            let finite = |x: &f64| x.is_finite();
            prop_assert!(found.x.iter().all(finite), "{:?}", found.x);
            prop_assert!(found.covariance.iter().all(finite));
            prop_assert!(found.covariance.diagonal().iter().all(|v| *v > 0.0));
            prop_assert!(found.log_likelihood.is_finite());
            Ok(Some(found))
        }
        Err(why) => {
            prop_assert!(!why.to_string().is_empty());
            Ok(None)
        }
    }
}

/// Both refused, or both fitted.
fn both(
    a: Option<Regression>,
    b: Option<Regression>,
) -> Result<Option<[Regression; 2]>, TestCaseError> {
    prop_assert_eq!(a.is_some(), b.is_some());
    Ok(a.zip(b).map(|(a, b)| [a, b]))
}

/// Combinations of two fits' parameters, each pair the same in its standard error.
fn alike(a: (f64, f64), b: (f64, f64)) -> Result<(), TestCaseError> {
    prop_assert!((a.0 - b.0).abs() <= OFF * a.1, "{a:?} {b:?}");
    prop_assert!((a.1 / b.1 - 1.0).abs() <= 1e-4, "{a:?} {b:?}");
    Ok(())
}

fn seals(fleet: &Fleet) -> f64 {
    fleet.seals.iter().map(|s| f64::from(s.row.count)).sum()
}

proptest! {
    #![proptest_config(drawn(80))]

    #[test]
    fn hours_and_days_differ_in_the_intercept_alone(law in law(), fleet in fleet(Watched::ALL)) {
        let of = |unit: f64| fitted(law, &cells(&fleet, unit, |s| written(s, fleet.levels, 0)));
        if let Some([days, hours]) = both(of(1.0)?, of(24.0)?)? {
            for at in 0..days.x.len() {
                let (estimate, error) = days.combination(&days.unit(at));
                let moved = if at == 0 { 24f64.ln() } else { 0.0 };
                alike((estimate + moved, error), hours.combination(&hours.unit(at)))?;
            }
            let exact = fleet.seals.iter().filter(|s| s.row.kind == Kind::Failed);
            let exact: f64 = exact.map(|s| f64::from(s.row.count)).sum();
            let off = hours.log_likelihood + exact * 24f64.ln() - days.log_likelihood;
            prop_assert!(off.abs() <= LIKELY * seals(&fleet) * 10.0, "{off}");
        }
    }

    #[test]
    fn neither_order_nor_grouping_matters(law in law(), fleet in fleet(Watched::ALL), turn in 0..60_usize) {
        let row = |s: &Seals| written(s, fleet.levels, 0);
        let together = fitted(law, &cells(&fleet, 1.0, row))?;
        let single = |s: &Seals, seen| Cell { row: row(s), terms: Arc::new(Terms::new(&Sample::new(vec![seen]))) };
        let mut apart: Vec<Cell> = fleet.seals.iter().flat_map(|s| s.row.apart(1.0).map(|seen| single(s, seen))).collect();
        let count = apart.len();
        apart.rotate_left(turn % count);
        apart.reverse();
        if let Some([together, apart]) = both(together, fitted(law, &apart)?)? {
            for at in 0..together.x.len() {
                alike(together.combination(&together.unit(at)), apart.combination(&apart.unit(at)))?;
            }
            let off = together.log_likelihood - apart.log_likelihood;
            prop_assert!(off.abs() <= LIKELY * seals(&fleet), "{off}");
        }
    }

    #[test]
    fn any_level_may_be_the_base(law in law(), fleet in fleet(Watched::ALL), base in 1..4_usize) {
        let base = base % fleet.levels;
        let of = |base| fitted(law, &cells(&fleet, 1.0, |s| written(s, fleet.levels, base)));
        if let Some([first, other]) = both(of(0)?, of(base)?)? {
            let off = first.log_likelihood - other.log_likelihood;
            prop_assert!(off.abs() <= LIKELY * seals(&fleet), "{off}");
            let pair = |from, to| [from, to].map(|level| Seals { level, number: 0, ..fleet.seals[0] });
            let contrast = |fit: &Regression, base, levels: [Seals; 2]| {
                let [from, to] = levels.map(|s| written(&s, fleet.levels, base));
                let found = fit.contrast("contrast", &to, &from, 0.9);
                (found.estimate, found.std_error)
            };
            for level in 1..fleet.levels {
                alike(contrast(&first, 0, pair(0, level)), contrast(&other, base, pair(0, level)))?;
                let (estimate, error) = contrast(&other, base, pair(level, 0));
                alike(contrast(&first, 0, pair(0, level)), (-estimate, error))?;
            }
        }
    }

    #[test]
    fn a_number_may_be_counted_from_anywhere_in_any_unit(
        law in law(),
        fleet in fleet(Watched::ALL),
        from in prop::sample::select(vec![-2.0, 273.15, 2024.0]),
        step in prop::sample::select(vec![1e-3, 1.0, 1e3]),
    ) {
        let moved = |s: &Seals| {
            let mut row = written(s, fleet.levels, 0);
            row.last_mut().into_iter().for_each(|x| *x = step * (*x + from));
            row
        };
        let plain = fitted(law, &cells(&fleet, 1.0, |s| written(s, fleet.levels, 0)))?;
        if let Some([plain, moved]) = both(plain, fitted(law, &cells(&fleet, 1.0, moved))?)? {
            let number = fleet.levels;
            for at in 0..plain.x.len() {
                let mut weights = moved.unit(at);
                // What was at 0 is now at `from` steps.
                if at == 0 {
                    weights[number] = step * from;
                } else if at == number {
                    weights[number] = step;
                }
                alike(plain.combination(&plain.unit(at)), moved.combination(&weights))?;
            }
        }
    }

    #[test]
    fn a_column_more_never_loses_likelihood(law in law(), fleet in fleet(Watched::FROM_NEW)) {
        let all = |s: &Seals| written(s, fleet.levels, 0);
        let less = |s: &Seals| all(s)[..fleet.levels].to_vec();
        let least = |s: &Seals| all(s)[..1].to_vec();
        if let Some(all) = fitted(law, &cells(&fleet, 1.0, all))? {
            // A maximum of all is one of less too.
            let less = fitted(law, &cells(&fleet, 1.0, less))?.unwrap();
            let least = fitted(law, &cells(&fleet, 1.0, least))?.unwrap();
            let rounding = LIKELY * seals(&fleet);
            prop_assert!(all.log_likelihood >= less.log_likelihood - rounding);
            prop_assert!(less.log_likelihood >= least.log_likelihood - rounding);
        }
    }

    #[test]
    fn what_the_seals_do_not_tell_is_refused(law in law(), fleet in fleet(Watched::ALL), which in 0..5_usize) {
        let mut fleet = fleet;
        let levels = fleet.levels;
        // Of the last level nothing failed, or all before the first look.
        if let Some(kind) = [Kind::Running, Kind::Before].get(which.wrapping_sub(3)) {
            let last = fleet.seals.iter_mut().filter(|s| s.level == levels - 1);
            last.for_each(|s| s.row.kind = *kind);
        }
        let untold = |s: &Seals| {
            let mut row = written(s, levels, 0);
            match which {
                // A column again, a constant, a level that the others tell.
                0 => row.push(2.0 * f64::from(s.number)),
                1 => row.push(7.3),
                2 => row.push(f64::from(u8::from(s.level == 0))),
                _ => {}
            }
            row
        };
        prop_assert!(fitted(law, &cells(&fleet, 1.0, untold))?.is_none());
    }
}
