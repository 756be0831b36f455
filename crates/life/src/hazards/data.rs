//! Lives sorted into risk sets, with their columns standardised.

use sealspan_records::observation::{Observation, Seen};
use std::collections::BTreeMap;
use thiserror::Error;

/// One watched life (or several alike, by its count), and where it belongs.
#[derive(Debug, Clone, Copy)]
pub struct WatchedLife {
    /// What was seen.
    pub observation: Observation,
    /// Number of its design row.
    pub design: usize,
    /// Its stratum: each has a baseline rate of its own.
    pub stratum: usize,
    /// Its cluster: lives of one asset are alike in what was not recorded.
    pub cluster: usize,
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoHazards {
    /// Nothing was watched.
    #[error("there are no lives to compare")]
    Empty,
    /// There is no column.
    #[error("there is no column to act on the failure rate")]
    NoColumns,
    /// Some failures have no exact age.
    #[error(
        "{rows:.0} failures are known only to lie between two looks, and risk sets need exact ages"
    )]
    Interval {
        /// How many lives.
        rows: f64,
    },
    /// Nothing failed.
    #[error("no seal failed: no failure rate can be compared")]
    NoFailures,
    /// A count is not whole.
    #[error("a count of {count} seals is not whole; tied failures are ordered seal by seal")]
    PartSeals {
        /// The count.
        count: f64,
    },
    /// A column never differs among lives at risk together when one of them failed.
    #[error(
        "column `{column}` is the same for all lives at risk at each failure: nothing to compare"
    )]
    NoContrast {
        /// The column.
        column: String,
    },
    /// A column is a combination of those before it.
    #[error(
        "column `{column}` is determined by the columns before it in every risk set; leave one of them out"
    )]
    Determined {
        /// The column.
        column: String,
    },
    /// The likelihood rises for ever along a column.
    #[error(
        "column `{column}` separates the failures: at each failure the seal that failed had the {side} value among those at risk, so the hazard ratio has no finite estimate"
    )]
    Separated {
        /// The column that runs off fastest.
        column: String,
        /// "highest" or "lowest".
        side: &'static str,
    },
    /// Newton's method did not end.
    #[error(
        "the likelihood has no maximum that could be reached: an effect has no end in these data"
    )]
    NotReached {
        /// Slope left.
        slope: f64,
    },
    /// The clusters do not allow the question.
    #[error("{0}")]
    Clusters(String),
}

/// A life in its risk sets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub exit: f64,
    /// The last look before `exit` that found it sound, where the failure is known to lie between the two.
    pub after: Option<f64>,
    pub entry: f64,
    pub failed: bool,
    pub count: f64,
    pub design: usize,
    pub cluster: usize,
}

/// Lives that share a baseline rate.
#[derive(Debug, Clone)]
pub(super) struct Stratum {
    /// Oldest exit first.
    pub lines: Vec<Line>,
    /// Latest entry first: places in `lines` with delayed entry.
    pub entries: Vec<usize>,
}

/// Lives ready for any number of fits: sorted once, columns shifted to mean 0 and scaled to standard
/// deviation 1.
#[derive(Debug, Clone)]
pub struct Prepared {
    pub(super) names: Vec<String>,
    /// Standardised design rows, one after another.
    pub(super) design: Vec<f64>,
    pub(super) mean: Vec<f64>,
    pub(super) spread: Vec<f64>,
    pub(super) strata: Vec<Stratum>,
    pub(super) clusters: usize,
    pub(super) failures: f64,
}

impl Prepared {
    /// Sorts lives. `design` holds one row of `names.len()` numbers for each kind of life, without an
    /// intercept.
    ///
    /// # Errors
    /// [`NoHazards`] without lives, for interval data, counts that are not whole, no failures, or a constant column.
    pub fn new(
        names: &[String],
        design: &[Vec<f64>],
        lives: &[WatchedLife],
    ) -> Result<Self, NoHazards> {
        let between: f64 = lives
            .iter()
            .filter(|l| matches!(l.observation.seen(), Seen::Interval(..)))
            .map(|l| l.observation.count())
            .sum();
        if between > 0.0 {
            return Err(NoHazards::Interval { rows: between });
        }
        Self::sorted(names, design, lives)
    }

    fn sorted(
        names: &[String],
        design: &[Vec<f64>],
        lives: &[WatchedLife],
    ) -> Result<Self, NoHazards> {
        if lives.is_empty() {
            return Err(NoHazards::Empty);
        }
        let mut clusters: BTreeMap<usize, usize> = BTreeMap::new();
        let mut strata: BTreeMap<usize, Vec<Line>> = BTreeMap::new();
        let mut failures = 0.0;
        for life in lives {
            let o = life.observation;
            if o.count() != o.count().round() {
                return Err(NoHazards::PartSeals { count: o.count() });
            }
            let next = clusters.len();
            let line = Line {
                exit: o.last(),
                after: match o.seen() {
                    Seen::Interval(after, _) => Some(after),
                    _ => None,
                },
                entry: o.entry(),
                failed: o.ended(),
                count: o.count(),
                design: life.design,
                cluster: *clusters.entry(life.cluster).or_insert(next),
            };
            failures += if line.failed { line.count } else { 0.0 };
            strata.entry(life.stratum).or_default().push(line);
        }
        if failures <= 0.0 {
            return Err(NoHazards::NoFailures);
        }
        let (mean, spread) = moments(names, design, lives)?;
        let standard = design.iter().flat_map(|row| {
            let cells = row.iter().chain(std::iter::repeat(&0.0)).zip(&mean);
            cells.zip(&spread).map(|((x, m), s)| (x - m) / s)
        });
        Ok(Self {
            names: names.to_vec(),
            design: standard.collect(),
            mean: mean.clone(),
            spread: spread.clone(),
            strata: strata.into_values().map(Stratum::new).collect(),
            clusters: clusters.len(),
            failures,
        })
    }

    /// Number of columns.
    #[must_use]
    pub(crate) fn columns(&self) -> usize {
        self.names.len()
    }

    /// Number of clusters.
    #[must_use]
    pub fn clusters(&self) -> usize {
        self.clusters
    }

    /// True when some lives were watched only from an age above zero.
    #[must_use]
    pub fn delayed(&self) -> bool {
        self.strata.iter().any(|s| !s.entries.is_empty())
    }

    /// A life's standardised row.
    pub(super) fn row(&self, line: &Line) -> &[f64] {
        let p = self.columns();
        self.design
            .get(line.design * p..(line.design + 1) * p)
            .unwrap_or_default()
    }
}

/// Lives of which failures may lie between two looks: for laws, which need no exact ages.
#[derive(Debug, Clone)]
pub struct WithLooks(pub(super) Prepared);

impl WithLooks {
    /// As [`Prepared::new`], failures between two looks included.
    ///
    /// # Errors
    /// As there, but for those.
    ///
    /// ```
    /// use sealspan_life::hazards::{NoHazards, Prepared, WatchedLife, WithLooks};
    /// use sealspan_records::Observation;
    /// let life = |observation, design| WatchedLife { observation, design, stratum: 0, cluster: design };
    /// let lives = [
    ///     life(Observation::interval(30.0, 60.0, 0.0, 2.0).unwrap(), 0),
    ///     life(Observation::right(90.0, 10.0, 1.0).unwrap(), 1),
    /// ];
    /// let (names, design) = (["group".to_owned()], [vec![0.0], vec![1.0]]);
    /// // Two seals failed between looks: no risk sets, but a law can be fitted.
    /// let refused = Prepared::new(&names, &design, &lives).unwrap_err();
    /// assert_eq!(refused, NoHazards::Interval { rows: 2.0 });
    /// let data = WithLooks::new(&names, &design, &lives).unwrap();
    /// assert_eq!((data.clusters(), data.delayed()), (2, true));
    /// ```
    pub fn new(
        names: &[String],
        design: &[Vec<f64>],
        lives: &[WatchedLife],
    ) -> Result<Self, NoHazards> {
        Prepared::sorted(names, design, lives).map(Self)
    }

    /// Number of clusters.
    #[must_use]
    pub fn clusters(&self) -> usize {
        self.0.clusters
    }

    /// True when some lives were watched only from an age above zero.
    #[must_use]
    pub fn delayed(&self) -> bool {
        self.0.delayed()
    }
}

impl From<Prepared> for WithLooks {
    fn from(data: Prepared) -> Self {
        Self(data)
    }
}

impl Stratum {
    fn new(mut lines: Vec<Line>) -> Self {
        lines.sort_by(|a, b| b.exit.total_cmp(&a.exit).then(a.failed.cmp(&b.failed)));
        let mut entries: Vec<(usize, f64)> = lines
            .iter()
            .enumerate()
            .filter(|(_, l)| l.entry > 0.0)
            .map(|(i, l)| (i, l.entry))
            .collect();
        entries.sort_by(|a, b| b.1.total_cmp(&a.1));
        Self {
            lines,
            entries: entries.into_iter().map(|e| e.0).collect(),
        }
    }
}

/// Mean and standard deviation of each column over the lives.
fn moments(
    names: &[String],
    design: &[Vec<f64>],
    lives: &[WatchedLife],
) -> Result<(Vec<f64>, Vec<f64>), NoHazards> {
    let mut weights = vec![0.0; design.len()];
    for life in lives {
        if let Some(w) = weights.get_mut(life.design) {
            *w += life.observation.count();
        }
    }
    let total: f64 = weights.iter().sum();
    let (mut mean, mut spread) = (vec![], vec![]);
    for (j, name) in names.iter().enumerate() {
        let cell = |row: &Vec<f64>| row.get(j).copied().unwrap_or(0.0);
        let sum = |f: &dyn Fn(f64) -> f64| {
            let each = design.iter().zip(&weights).map(|(row, w)| w * f(cell(row)));
            each.sum::<f64>() / total
        };
        let centre = sum(&|x| x);
        let root = sum(&|x| (x - centre).powi(2)).sqrt();
        if root.is_nan() || root <= 1e-12 * centre.abs() {
            return Err(NoHazards::NoContrast {
                column: name.clone(),
            });
        }
        mean.push(centre);
        spread.push(root);
    }
    Ok((mean, spread))
}
