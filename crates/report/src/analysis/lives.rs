//! One fitted life a group, with what its estimate leaves open.
//!
//! ```
//! use sealspan_life::laws;
//! use sealspan_records::{LoadOptions, Question, ask, load};
//! use sealspan_report::analysis::lives::{groups, together};
//! use sealspan_report::story::{compare_figures, life_ratio_table};
//! use sealspan_report::wire::compare::{CompareOptions, More, compare, compared, wrong_cell};
//! use sealspan_report::wire::fit::{self, Detail, FitOptions, Refitted, by_mode, empirical};
//! use sealspan_report::wire::{check, mode_tests};
//! // Invented: each life of the second material is twice one of the first.
//! let mut text = "time,status,material,mode\n".to_owned();
//! for (material, times) in [("EPDM", 1), ("FKM", 2)] {
//!     for (age, mode) in [(10, "leak"), (20, "leak"), (30, "leak"), (40, "tear"), (50, "tear"), (60, "tear")] {
//!         text += &format!("{},failed,{material},{mode}\n", age * times);
//!     }
//!     text += &format!("{},running,{material},\n", 35 * times);
//! }
//! # let path = std::env::temp_dir().join(format!("sealspan-doc-lives-{}.csv", std::process::id()));
//! # std::fs::write(&path, text)?;
//! let records = load(&path, &LoadOptions::default())?;
//! let question = Question { by: vec!["material".to_owned()], ..Question::default() };
//! let answer = ask(&records, &question)?;
//! let [weibull, ..] = laws::all();
//! let lives = groups(&answer, weibull, 1);
//! assert_eq!((lives.len(), lives[0].key.words().as_str()), (2, "EPDM"));
//! let scale = |at: usize| lives[at].trusted().map(|f| f.life.quantile(0.5));
//! assert!((scale(1)? / scale(0)? - 2.0).abs() < 1e-4); // all ages doubled
//! assert_eq!(together(&answer, weibull, 1).sample.tally().failures(), 12.0);
//! let curve = empirical(&lives[0].sample, 0.9); // product limit
//! assert!((curve.points[0].survival - 6.0 / 7.0).abs() < 1e-12);
//!
//! let told = check::document(&records, &question, Ok(&answer));
//! assert_eq!((told.rows_read, told.seals), (14, 14));
//! let options = FitOptions {
//!     unit: "days",
//!     families: vec![weibull],
//!     bounds: None,
//!     confidence: 0.9,
//!     quantiles: vec![0.5],
//!     at: vec![],
//!     ages_now: vec![],
//!     shape: None,
//!     residuals: false,
//!     refitted: Refitted::None,
//!     detail: Detail::Shares,
//!     seed: 1,
//! };
//! assert_eq!(fit::document(&records, &answer, &options).groups.len(), 2);
//! assert_eq!(by_mode(&records, &question, weibull, &options)?.len(), 2);
//!
//! let leak = Question { mode: Some("leak".to_owned()), ..question.clone() };
//! let leaks = mode_tests::mode_test(&records, &leak, "material", &[], 1)?.unwrap();
//! assert_eq!((leaks.failures, leaks.doubt().is_some()), (6.0, true)); // 3 of each
//! assert_eq!(mode_tests::mode_tests(&records, &question, 1)?.len(), 2); // leak and tear
//!
//! let keyed: Vec<_> = lives.iter().map(|g| (g.key.clone(), g.sample.clone())).collect();
//! let mut asked = CompareOptions {
//!     by: Some("material".to_owned()),
//!     given: vec![],
//!     number: vec![],
//!     arrhenius: None,
//!     inverse_power: None,
//!     base: vec![],
//!     family: weibull,
//!     confidence: 0.9,
//!     more: More { cluster: Some("asset".to_owned()), ..More::default() },
//! };
//! assert_eq!(asked.columns(), ["material", "asset"]);
//! assert_eq!(asked.model_columns(), ["material"]);
//! asked.more.cluster = None;
//! let found = compared("days", &keyed, &asked)?;
//! let ratio = &found.document.life_ratios[0];
//! assert_eq!((ratio.of.as_str(), ratio.to.as_str()), ("FKM", "EPDM"));
//! assert!((ratio.estimate - 2.0).abs() < 1e-4);
//! assert_eq!(compare("days", &keyed, &asked)?.life_ratios[0].estimate, ratio.estimate);
//! assert_eq!(life_ratio_table(&found.document).map(|t| t.rows.len()), Some(1)); // one pair
//! assert!(!compare_figures(&found).is_empty());
//! asked.number.push("material".to_owned());
//! assert_eq!(wrong_cell(&keyed, &asked).map(|w| w.text), Some("EPDM".to_owned()));
//! # std::fs::remove_file(&path)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use super::DRAWS;
use crate::wire::GroupKey;
use crate::wire::fit::TRUSTED_FAILURES;
use sealspan_life::draws::lives;
use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, NoFit, fit};
use sealspan_life::life::Life;
use sealspan_records::{Answer, Running, Sample};

/// A group with its fitted life, in the unit of the answer's clock.
pub struct GroupLife {
    /// Its name.
    pub key: GroupKey,
    /// Its observations.
    pub sample: Sample,
    /// Its seals in service.
    pub running: Vec<Running>,
    /// The fit, or why there is none.
    pub fitted: Result<Fitted, NoFit>,
}

/// A fit, its life and the lives it leaves possible.
pub struct Fitted {
    /// The fit.
    pub fit: Fit,
    /// Its life.
    pub life: Life,
    /// Lives drawn from it, [`DRAWS`] of them ([`lives`]); empty where the fit gives none.
    pub draws: Vec<Life>,
}

impl GroupLife {
    /// Fits one group.
    #[must_use]
    pub(crate) fn new(
        key: GroupKey,
        sample: Sample,
        running: Vec<Running>,
        family: &'static dyn Family,
        seed: u64,
    ) -> Self {
        let fitted = fit(family, &sample).map(|fit| Fitted {
            life: fit.life(),
            draws: lives(&fit, DRAWS, seed),
            fit,
        });
        Self {
            key,
            sample,
            running,
            fitted,
        }
    }

    /// The fit, where a plan may rest on it.
    ///
    /// # Errors
    /// In words: without a fit, and where fewer than five failures stand behind a law with a shape of its own (a rule of
    /// ours).
    pub fn trusted(&self) -> Result<&Fitted, String> {
        let fitted = self.fitted.as_ref().map_err(ToString::to_string)?;
        let failures = self.sample.tally().failures();
        if fitted.fit.free.len() > 1 && failures < TRUSTED_FAILURES {
            return Err(format!(
                "fewer than 5 failures ({failures:.0}) fix no shape of life by themselves, and a plan hangs on the shape; pool like groups, or go on recording"
            ));
        }
        Ok(fitted)
    }

    /// Ages and counts of the seals in service.
    #[must_use]
    pub(crate) fn ages(&self) -> Vec<(f64, f64)> {
        self.running.iter().map(|r| (r.age, r.count)).collect()
    }
}

/// Every group of an answer, fitted.
#[must_use]
pub fn groups(answer: &Answer, family: &'static dyn Family, seed: u64) -> Vec<GroupLife> {
    answer
        .groups
        .iter()
        .map(|g| {
            GroupLife::new(
                GroupKey(g.key.clone()),
                g.sample.clone(),
                g.running(),
                family,
                seed,
            )
        })
        .collect()
}

/// All groups of an answer as one, fitted with one life.
#[must_use]
pub fn together(answer: &Answer, family: &'static dyn Family, seed: u64) -> GroupLife {
    let rows = answer
        .groups
        .iter()
        .flat_map(|g| g.sample.rows().iter().copied())
        .collect();
    let running = answer.groups.iter().flat_map(|g| g.running()).collect();
    GroupLife::new(
        GroupKey::default(),
        Sample::new(rows),
        running,
        family,
        seed,
    )
}

impl std::fmt::Debug for GroupLife {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "life of {}", self.key.words())
    }
}
