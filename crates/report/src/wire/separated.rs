//! Why a regression has no finite answer: the column and level that stand in its way.

use super::GroupKey;
use nalgebra::DVector;
use sealspan_records::observation::Sample;
use std::collections::BTreeMap;

/// A column that explains itself by earlier ones to this share of its length is taken as explained.
const EXPLAINED: f64 = 1e-8;

/// The first level of a factor none of whose seals failed, in words.
#[must_use]
pub fn level_without_failures(
    groups: &[(GroupKey, Sample)],
    factors: &[&String],
) -> Option<String> {
    for factor in factors {
        let mut levels: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        for (key, sample) in groups {
            let level = super::compare::value(key, factor);
            let tally = sample.tally();
            let slot = levels.entry(level).or_default();
            slot.0 += tally.failures();
            slot.1 += tally.total();
        }
        if let Some((level, (_, seals))) = levels.iter().find(|(_, (failed, _))| *failed <= 0.0) {
            return Some(format!(
                "none of the {seals:.0} seals with {factor} = `{level}` failed, so how much longer they last has no upper limit; leave that level out, or merge it with another"
            ));
        }
    }
    None
}

/// The first column that earlier columns determine, in words.
#[must_use]
pub fn determined_column(names: &[String], rows: &[Vec<f64>]) -> Option<String> {
    let mut basis: Vec<(usize, DVector<f64>)> = vec![];
    for (j, name) in names.iter().enumerate() {
        let column: DVector<f64> = DVector::from_iterator(
            rows.len(),
            rows.iter().map(|r| r.get(j).copied().unwrap_or(0.0)),
        );
        let length = column.norm();
        let mut rest = column.clone();
        let mut by = vec![];
        for (k, direction) in &basis {
            let along = direction.dot(&rest);
            if along.abs() > 1e-6 * length && *k > 0 {
                by.push(names.get(*k).map_or("", String::as_str));
            }
            rest -= direction * along;
        }
        if rest.norm() <= EXPLAINED * length.max(f64::MIN_POSITIVE) {
            let by = if by.is_empty() {
                "is the same for every seal".to_owned()
            } else {
                format!("is determined by {}", by.join(", "))
            };
            return Some(format!(
                "the column `{name}` {by}: their effects cannot be told apart; leave one of them out"
            ));
        }
        basis.push((j, rest.normalize()));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_the_column_that_says_nothing_new() {
        let names = ["intercept", "site=B", "heat"].map(str::to_owned);
        let rows = [[1.0, 0.0, 20.0], [1.0, 1.0, 35.0], [1.0, 1.0, 35.0]].map(|r| r.to_vec());
        let why = determined_column(&names, &rows).unwrap_or_default();
        assert!(why.contains("`heat` is determined by site=B"), "{why}");
        let rows = [[1.0, 0.0, 20.0], [1.0, 1.0, 35.0], [1.0, 1.0, 40.0]].map(|r| r.to_vec());
        assert_eq!(determined_column(&names, &rows), None);
    }
}
