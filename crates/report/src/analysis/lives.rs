//! One fitted life a group, with what its estimate leaves open.

use super::DRAWS;
use crate::wire::GroupKey;
use crate::wire::fit::TRUSTED_FAILURES;
use sealspan_life::draws::lives;
use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, NoFit, fit};
use sealspan_life::life::Life;
use sealspan_records::{Answer, Running, Sample};

/// A group with its fitted life.
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
    /// Lives drawn from it.
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
    /// In words: without a fit, and where too few failures fix its shape.
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

/// All groups of an answer as one.
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
