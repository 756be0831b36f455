//! The ratios of one column's levels.

use super::chart::{self, Watched};
use super::{BatchesOptions, ColumnResult, Told};
use sealspan_life::batches::{Cell, Differing, LevelRatio, RandomLevels, expected, levels};
use sealspan_life::fit::NoFit;
use sealspan_numeric::special::normal_quantile;
use serde::Serialize;
use std::collections::BTreeSet;

/// How far levels lie apart.
#[derive(Debug, Clone, Serialize)]
pub struct SpreadResult {
    /// Standard deviation of ln life between levels ([`levels`]).
    pub estimate: f64,
    /// Lower end of its profile-likelihood interval.
    pub lower: f64,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why there is no upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Likelihood-ratio statistic of no spread.
    pub statistic: f64,
    /// Its p-value: even mixture of chi-squares with 0 and 1 degree of freedom (Self & Liang 1987).
    pub p_value: f64,
}

/// A level.
#[derive(Debug, Clone, Serialize)]
pub struct LevelResult {
    /// Its name.
    pub level: String,
    /// Its strata.
    pub strata: Vec<String>,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Failures expected were it like its strata.
    pub expected: f64,
    /// Life over that of its strata: drawn towards 1, except where the level is listed as different.
    pub life_ratio: f64,
    /// `drawn_to_1`, or `by_itself` of a level listed as different, which is no draw from the spread of the others.
    pub life_ratio_is: &'static str,
    /// Lower end of the interval of `life_ratio`; spread and law, or the law of the rest, taken as known.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Life over that of the rest, not drawn towards 1; `None` where none of its seals failed or it cannot be told apart.
    pub life_ratio_alone: Option<f64>,
    /// p-value of no difference from the rest, for this level alone.
    pub p_value: Option<f64>,
    /// Share of false discoveries among levels that differ as plainly (Benjamini & Hochberg 1995).
    pub false_discovery: Option<f64>,
    /// Why some of these are missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// Answers for one column; also the laws of the strata.
pub(super) fn column(
    column: &str,
    told: &Told<'_>,
    apart: &[Differing],
    days: bool,
    options: &BatchesOptions,
) -> (ColumnResult, Vec<Vec<f64>>) {
    let mut out = ColumnResult {
        column: column.to_owned(),
        without: vec![],
        spread: None,
        spread_without: vec![],
        reason: None,
        levels: vec![],
        differing: vec![],
        false_discoveries: options.false_discoveries,
        watch: Watched::none("there are no lives to hold the failures against"),
    };
    let count = told.names.len();
    if count < 2 {
        out.reason = Some(format!("fewer than two levels of {column} are recorded"));
        return (out, vec![]);
    }
    let listed = listed(apart, count, options.false_discoveries);
    let random = match random(told, &listed, options) {
        Ok(random) => random,
        Err(why) => {
            out.reason = Some(why.to_string());
            return (out, vec![]);
        }
    };
    let s = &random.fit.spread;
    out.spread = Some(SpreadResult {
        estimate: s.tau,
        lower: s.lower,
        upper: s.upper,
        reason: s.why_no_upper(),
        statistic: s.test.statistic,
        p_value: s.test.p_value,
    });
    let z = normal_quantile(0.5 + 0.5 * options.confidence);
    let untold = Differing {
        ratio: None,
        std_error: None,
        p_value: None,
        false_discovery: None,
    };
    let mut strata: Vec<Vec<String>> = vec![vec![]; count];
    for cell in &told.cells {
        let name = told.strata.get(cell.stratum);
        if let (Some(own), Some(name)) = (strata.get_mut(cell.level), name) {
            own.push((*name).to_owned());
        }
    }
    let drawn = (0..count).map(|level| random.of(level, told, options));
    let each = told
        .names
        .iter()
        .zip(drawn)
        .zip(apart.iter().chain(std::iter::repeat(&untold)))
        .zip(strata);
    for (at, (((name, ratio), apart), strata)) in each.enumerate() {
        let reason = match (apart.p_value, apart.ratio) {
            (None, _) => Some(
                "what is held constant already tells which seals are of this level, or no common law could be fitted",
            ),
            (_, None) => Some("none of its seals failed"),
            _ => None,
        };
        if apart
            .false_discovery
            .is_some_and(|q| q <= options.false_discoveries)
        {
            out.differing.push((*name).to_owned());
        }
        let own = random.without.contains(&at).then(|| by_itself(apart, z));
        let drawn = (ratio.ratio, ratio.lower, ratio.upper);
        let (life_ratio, lower, upper) = own.flatten().unwrap_or(drawn);
        out.levels.push(LevelResult {
            level: (*name).to_owned(),
            strata,
            seals: ratio.seals,
            failures: ratio.failures,
            expected: ratio.expected,
            life_ratio,
            life_ratio_is: if random.without.contains(&at) {
                "by_itself"
            } else {
                "drawn_to_1"
            },
            lower,
            upper,
            life_ratio_alone: apart.ratio,
            p_value: apart.p_value,
            false_discovery: apart.false_discovery,
            reason,
        });
    }
    out.spread_without = random.names(told);
    out.watch = chart::column(told, &random.fit.laws, days, options);
    (out, random.fit.laws)
}

/// Levels listed as different whose own ratio is known with its error.
fn listed(apart: &[Differing], count: usize, share: f64) -> BTreeSet<usize> {
    let all = apart.iter().take(count).enumerate();
    all.filter(|(_, d)| d.false_discovery.is_some_and(|q| q <= share))
        .filter(|(_, d)| d.ratio.is_some() && d.std_error.is_some())
        .map(|(at, _)| at)
        .collect()
}

/// The ratio of a level by its own lives, with its interval.
fn by_itself(apart: &Differing, z: f64) -> Option<(f64, f64, f64)> {
    let (ratio, half) = (apart.ratio?, z * apart.std_error?);
    Some((ratio, ratio * (-half).exp(), ratio * half.exp()))
}

/// The levels as draws from one spread, those listed as different left out.
struct Random {
    fit: RandomLevels,
    without: BTreeSet<usize>,
}

/// An outlier is no draw from the spread of the others: within it, it would widen the spread and yet be drawn
/// towards them. Where too little is left without the listed levels, all are in.
fn random(
    told: &Told<'_>,
    listed: &BTreeSet<usize>,
    options: &BatchesOptions,
) -> Result<Random, NoFit> {
    let fitted = |without: &BTreeSet<usize>| {
        let kept: Vec<usize> = (0..told.names.len())
            .filter(|at| !without.contains(at))
            .collect();
        let cell = |c: &Cell| {
            let level = kept.binary_search(&c.level).ok()?;
            Some(Cell { level, ..c.clone() })
        };
        let cells: Vec<Cell> = told.cells.iter().filter_map(cell).collect();
        let (family, strata) = (options.family, told.strata.len());
        levels(family, strata, kept.len(), &cells, options.confidence)
    };
    let none = BTreeSet::new();
    if !listed.is_empty()
        && told.names.len() >= listed.len() + 2
        && let Ok(fit) = fitted(listed)
    {
        let without = listed.clone();
        return Ok(Random { fit, without });
    }
    Ok(Random {
        fit: fitted(&none)?,
        without: none,
    })
}

impl Random {
    /// What is left out of the spread.
    fn names(&self, told: &Told<'_>) -> Vec<String> {
        let name = |at: &usize| told.names.get(*at).map(|n| (*n).to_owned());
        self.without.iter().filter_map(name).collect()
    }

    /// A level: as fitted, or counted against the laws of the others where it is left out.
    fn of(&self, level: usize, told: &Told<'_>, options: &BatchesOptions) -> LevelRatio {
        if !self.without.contains(&level) {
            let before = self.without.range(..level).count();
            if let Some(own) = self.fit.levels.get(level - before) {
                return own.clone();
            }
        }
        let mut out = LevelRatio {
            seals: 0.0,
            failures: 0.0,
            expected: 0.0,
            ratio: 1.0,
            lower: 1.0,
            upper: 1.0,
        };
        for cell in told.cells.iter().filter(|c| c.level == level) {
            let tally = cell.sample.tally();
            out.seals += tally.total();
            out.failures += tally.failures();
            if let Some(law) = self.fit.laws.get(cell.stratum) {
                let rows = cell.sample.rows().iter();
                let each = rows.map(|o| expected(options.family, law, o));
                out.expected += each.sum::<f64>();
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use sealspan_life::laws::by_name;
    use sealspan_life::life::Life;
    use sealspan_numeric::random::Stream;
    use sealspan_records::observation::{Observation, Sample};

    /// Eight levels of one life (Weibull, shape 2), the first lasting a fifth as long.
    fn cells() -> Vec<Cell> {
        let life = Life::weibull(2.0, 500.0).unwrap();
        let mut stream = Stream::new(11, 0);
        let cell = |level| {
            let times = if level == 0 { 0.2 } else { 1.0 };
            let rows = (0..40).map(|_| {
                let age = times * life.sample(stream.uniform());
                Observation::exact(age, 0.0, 1.0).unwrap()
            });
            Cell {
                stratum: 0,
                level,
                sample: Sample::new(rows.collect()),
            }
        };
        (0..8).map(cell).collect()
    }

    #[test]
    fn a_listed_level_keeps_its_own_ratio_and_leaves_the_spread() {
        let told = Told {
            names: vec!["a", "b", "c", "d", "e", "f", "g", "h"],
            strata: vec!["EPDM"],
            cells: cells(),
            used: vec![],
        };
        let options = BatchesOptions::few(by_name("weibull").unwrap());
        let level = |own: bool| Differing {
            ratio: Some(if own { 0.2 } else { 1.0 }),
            std_error: Some(0.08),
            p_value: Some(if own { 1e-9 } else { 0.5 }),
            false_discovery: Some(if own { 1e-8 } else { 0.5 }),
        };
        let apart: Vec<Differing> = (0..8).map(|at| level(at == 0)).collect();
        let (found, _) = column("batch", &told, &apart, true, &options);
        let (first, second) = (&found.levels[0], &found.levels[1]);
        assert_eq!((first.life_ratio, first.life_ratio_is), (0.2, "by_itself"));
        assert!((first.upper / 0.2 - (1.644_854 * 0.08_f64).exp()).abs() < 1e-5);
        // A fifth of the life: the others' laws expect few failures of it so early.
        assert!(first.failures == 40.0 && first.expected < 10.0);
        assert_eq!(second.life_ratio_is, "drawn_to_1");
        assert_eq!(found.spread_without, ["a"]);
        // ln 5 away, it would make a spread of about 0.5 by itself; the others have none but chance's.
        assert!(found.spread.unwrap().estimate < 0.2);
        let all: Vec<Differing> = (0..8).map(|_| level(false)).collect();
        let (with, _) = column("batch", &told, &all, true, &options);
        assert!(with.spread.unwrap().estimate > 0.3 && with.spread_without.is_empty());
    }
}
