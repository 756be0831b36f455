//! Does a batch, or a cure month, live shorter or longer than its material, and since when was it to be seen?

mod chart;
mod lives;
mod place;
mod ratios;

pub use chart::picture;
pub use chart::{Alarm, ChartResult, Watched};
pub use ratios::{LevelResult, SpreadResult};

use crate::analysis::alike;
use crate::column::spoken;
use lives::{Lives, Placed, lives};
use sealspan_life::batches::Cell;
use sealspan_life::family::Family;
use sealspan_records::{Clock, Question, Records, Sample};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Failures a stratum needs for a law of its own (a rule of ours).
const FAILURES: f64 = 5.0;

/// Expected share of false discoveries among the levels listed, when none is asked for (a rule of ours).
pub const FALSE_DISCOVERIES: f64 = 0.1;
/// False alarms a year over all charts of a column, when none is asked for (a rule of ours).
pub const FALSE_ALARMS_PER_YEAR: f64 = 0.1;

/// What is asked.
#[derive(Clone)]
pub struct BatchesOptions {
    /// Columns held constant; the material when not stated.
    pub given: Option<Vec<String>>,
    /// Whether to allow for the places where seals sit.
    pub adjust: bool,
    /// The law of each stratum.
    pub family: &'static dyn Family,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Share of false discoveries among the levels listed.
    pub false_discoveries: f64,
    /// False alarms a year over all charts of a column.
    pub false_alarms_per_year: f64,
    /// The rise of the failure rate that the chart is quickest to see, as a ratio above 1.
    pub tuned_to: f64,
    /// Simulated runs for the limit.
    pub runs: usize,
    /// Seed.
    pub seed: u64,
}

#[cfg(test)]
impl BatchesOptions {
    /// Options that tests of the parts begin from.
    fn few(family: &'static dyn Family) -> Self {
        Self {
            given: None,
            adjust: false,
            family,
            confidence: 0.9,
            false_discoveries: 0.1,
            false_alarms_per_year: 0.1,
            tuned_to: 2.0,
            runs: 50,
            seed: 1,
        }
    }
}

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct BatchesDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// What comes before any of this is acted on.
    pub cautions: Vec<String>,
    /// Unit of ages.
    pub unit: &'static str,
    /// Two-sided confidence.
    pub confidence: f64,
    /// The law fitted.
    pub family: &'static str,
    /// Columns held constant: a level is compared only within them.
    pub given: Vec<String>,
    /// Columns of the places where seals sit, allowed for by a shift of ln life within each stratum.
    pub adjusted_for: Vec<String>,
    /// Column by column.
    pub columns: Vec<ColumnResult>,
    /// The strata as a whole over the calendar.
    pub strata: Watched,
    /// Levels that differ, left out of the strata as a whole.
    pub strata_without: Vec<String>,
    /// What was left out, and doubts.
    pub warnings: Vec<String>,
}

/// One column.
#[derive(Debug, Clone, Serialize)]
pub struct ColumnResult {
    /// `batch` or `cure_month`.
    pub column: String,
    /// Levels of the first column whose seals are left out here, since they differ by themselves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<String>,
    /// Spread between levels.
    pub spread: Option<SpreadResult>,
    /// Levels that are no part of it, since they are listed as different.
    pub spread_without: Vec<String>,
    /// Why there is nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Every level.
    pub levels: Vec<LevelResult>,
    /// Levels that differ, the share of false discoveries among them held.
    pub differing: Vec<String>,
    /// That share.
    pub false_discoveries: f64,
    /// Running charts.
    pub watch: Watched,
}

impl ColumnResult {
    /// The column in words: cure dates that are all quarters are called so.
    #[must_use]
    pub fn named(&self) -> String {
        let quarters = self.levels.iter().all(|l| l.level.contains("-Q"));
        if self.column == lives::CURE_MONTH && quarters && !self.levels.is_empty() {
            return "cure quarter".to_owned();
        }
        spoken(&self.column)
    }
}

/// Lives of one column, told apart.
struct Told<'a> {
    names: Vec<&'a str>,
    strata: Vec<&'a str>,
    cells: Vec<Cell>,
    /// Stratum and level numbers of each life used.
    used: Vec<(&'a Placed, usize, usize)>,
}

/// Why batches cannot be weighed.
#[derive(Debug, Clone, thiserror::Error)]
pub enum NoBatches {
    /// The records do not take the question.
    #[error("{}", .0.message())]
    Question(#[from] sealspan_records::Error),
    /// They take it, but hold no answer.
    #[error("{0}")]
    Lives(String),
}

/// Answers for every column: `batch`, then `cure_month` without the batches that differ. A level is judged within its strata
/// (as a rule materials) and, where asked, within the places where its seals sat.
///
/// # Errors
/// In words, when the records do not hold what the question needs, or no stratum has failures enough.
///
/// ```
/// use sealspan_life::laws;
/// use sealspan_records::{LoadOptions, Question, load};
/// use sealspan_report::chart::Layer;
/// use sealspan_report::wire::batches::{BatchesOptions, batches, picture};
/// # use std::fmt::Write as _;
/// // Invented: seals of three batches, and each of the third lives a third as long as one of the others.
/// let mut rows = "seal,asset,position,material,batch,fitted,removed,outcome\n".to_owned();
/// for (batch, times) in [("A", 3), ("B", 3), ("C", 1)] {
///     for age in [60, 90, 110, 130, 150, 180, 200, 240] {
///         let (seal, fitted) = (format!("{batch}{age}"), jiff::civil::date(2020, 1, 1));
///         let off = fitted + jiff::Span::new().days(age * times);
///         writeln!(rows, "{seal},tank {seal},door,EPDM,{batch},{fitted},{off},failed")?;
///     }
/// }
/// # let folder = std::env::temp_dir().join(format!("sealspan-doc-batches-{}", std::process::id()));
/// # std::fs::create_dir_all(&folder)?;
/// # let study = "title = \"Batches (invented)\"\ninvented = true\nrecords_from = \"2020-01-01\"\n\
/// #     cut_off = \"2022-12-31\"\n[files]\nseals = \"seals.csv\"\n";
/// # std::fs::write(folder.join("study.toml"), study)?;
/// # std::fs::write(folder.join("seals.csv"), rows)?;
/// let records = load(&folder.join("study.toml"), &LoadOptions::default())?;
/// let [family, ..] = laws::all();
/// let options = BatchesOptions {
///     given: None,
///     adjust: false,
///     family,
///     confidence: 0.9,
///     false_discoveries: 0.1,
///     false_alarms_per_year: 0.1,
///     tuned_to: 2.0,
///     runs: 50,
///     seed: 1,
/// };
/// let answer = batches(&records, &Question::default(), &options)?;
/// let column = &answer.columns[0];
/// assert_eq!((column.named().as_str(), column.levels.len()), ("batch", 3));
/// assert_eq!(column.differing, ["C"]);
/// let third = column.levels.iter().find(|l| l.level == "C").unwrap();
/// assert!((third.life_ratio_alone.unwrap() - 1.0 / 3.0).abs() < 1e-3);
/// // The chart: the limit, then the level that came farthest, which is the one that differs.
/// let chart = picture(column).unwrap();
/// let limit = column.watch.limit.unwrap();
/// assert!(matches!(&chart.layers[0], Layer::HLine { at, .. } if *at == limit));
/// assert!(matches!(&chart.layers[1], Layer::Line { name, .. } if name == "C"));
/// # std::fs::remove_dir_all(&folder)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn batches(
    records: &Records,
    question: &Question,
    options: &BatchesOptions,
) -> Result<BatchesDocument, NoBatches> {
    let Lives {
        columns,
        given,
        places,
        duty,
        mut placed,
        remarks,
    } = lives(records, question, options.given.as_deref())?;
    let mut warnings = remarks;
    let (strata, few) = strata(&placed);
    if !few.is_empty() {
        warnings.push(format!(
            "left out, for fewer than {FAILURES:.0} failures: {}",
            few.join(", ")
        ));
    }
    if strata.is_empty() {
        return Err(NoBatches::Lives(format!(
            "no {} has {FAILURES:.0} failures, so there is no life to hold batches against",
            if given.is_empty() {
                "group".to_owned()
            } else {
                given.join(" and ")
            }
        )));
    }
    let strata: Vec<String> = strata.into_iter().map(str::to_owned).collect();
    let judged = judge(&placed, &strata, 0, options);
    let mut adjusted_for = vec![];
    if let Some(first) = &judged {
        if first.adjusted {
            adjusted_for = alike::words(records, &places, duty);
        }
        for (p, shift) in placed.iter_mut().zip(&first.shifts) {
            p.shift = *shift;
        }
    }
    let days = question.clock == Clock::Days;
    let mut laws = vec![];
    let mut results: Vec<ColumnResult> = vec![];
    let mut without: Vec<String> = vec![];
    let mut own = strata.clone();
    let mut judged = judged;
    for (at, column) in columns.iter().enumerate() {
        if at > 0 {
            judged = judge(&placed, &own, at, options);
        }
        let names: Vec<&str> = own.iter().map(String::as_str).collect();
        let told = told(&placed, &names, at);
        let unnamed = placed
            .iter()
            .filter(|p| p.levels.get(at).is_none_or(Option::is_none));
        let unnamed: f64 = unnamed.map(|p| p.observation.count()).sum();
        if unnamed > 0.0 && !told.names.is_empty() {
            warnings.push(format!(
                "{unnamed:.0} seals have no {column} and are left out of it"
            ));
        }
        let apart = judged.as_ref().map_or(&[][..], |j| &j.levels);
        let (mut result, fitted) = ratios::column(column, &told, apart, days, options);
        result.without.clone_from(&without);
        if laws.is_empty() {
            laws = fitted;
        }
        if at == 0 {
            without.clone_from(&result.differing);
            // A batch that differs by itself would make its cure month differ too, and every other batch of it.
            placed.retain(|p| {
                let own = p.levels.first().and_then(Option::as_ref);
                own.is_none_or(|level| !without.contains(level))
            });
            let (enough, _) = self::strata(&placed);
            own = enough.into_iter().map(str::to_owned).collect();
        }
        results.push(result);
    }
    let strata: Vec<&str> = strata.iter().map(String::as_str).collect();
    Ok(BatchesDocument {
        schema: "sealspan.batches.v1",
        cautions: crate::cautions::always(),
        unit: question.clock.unit(),
        confidence: options.confidence,
        family: options.family.name(),
        given,
        adjusted_for,
        columns: results,
        strata: chart::strata(&placed, &strata, &laws, days, options),
        strata_without: without,
        warnings,
    })
}

/// Judges the levels of a column.
fn judge(
    placed: &[Placed],
    strata: &[String],
    column: usize,
    options: &BatchesOptions,
) -> Option<place::Judged> {
    let numbers: BTreeMap<&str, usize> = strata.iter().map(String::as_str).zip(0..).collect();
    let stratum = |p: &Placed| numbers.get(p.stratum.as_str()).copied();
    let own = |p: &Placed| p.levels.get(column).cloned().flatten();
    let names: BTreeSet<String> = placed
        .iter()
        .filter(|p| stratum(p).is_some())
        .filter_map(own)
        .collect();
    let names: Vec<String> = names.into_iter().collect();
    let level = |p: &Placed| names.binary_search(&own(p)?).ok();
    let sizes = (strata.len(), names.len());
    let judge = |adjust| place::judge(placed, &stratum, &level, sizes, adjust, options.family);
    judge(options.adjust).or_else(|| judge(false))
}

/// Strata with enough failures, and those without.
fn strata(placed: &[Placed]) -> (Vec<&str>, Vec<&str>) {
    let mut failures: BTreeMap<&str, f64> = BTreeMap::new();
    for p in placed {
        let failed = if p.observation.ended() {
            p.observation.count()
        } else {
            0.0
        };
        *failures.entry(&p.stratum).or_default() += failed;
    }
    let (enough, few): (Vec<_>, Vec<_>) = failures.into_iter().partition(|f| f.1 >= FAILURES);
    let names = |list: Vec<(_, f64)>| list.into_iter().map(|f| f.0).collect();
    (names(enough), names(few))
}

fn told<'a>(placed: &'a [Placed], strata: &[&'a str], column: usize) -> Told<'a> {
    let level = |p: &'a Placed| p.levels.get(column).and_then(|l| l.as_deref());
    let names: BTreeSet<&str> = placed
        .iter()
        .filter(|p| strata.contains(&p.stratum.as_str()))
        .filter_map(level)
        .collect();
    let names: Vec<&str> = names.into_iter().collect();
    let mut used = vec![];
    let mut rows: BTreeMap<(usize, usize), Vec<_>> = BTreeMap::new();
    for p in placed {
        let stratum = strata.iter().position(|s| *s == p.stratum);
        let at = level(p).and_then(|l| names.binary_search(&l).ok());
        if let (Some(stratum), Some(at)) = (stratum, at) {
            // A shift is finite, so a moved life is as sound as the life.
            let Ok(moved) = place::moved(p) else { continue };
            used.push((p, stratum, at));
            rows.entry((stratum, at)).or_default().push(moved);
        }
    }
    let cell = |((stratum, level), rows)| Cell {
        stratum,
        level,
        sample: Sample::new(rows),
    };
    Told {
        names,
        strata: strata.to_vec(),
        cells: rows.into_iter().map(cell).collect(),
        used,
    }
}
