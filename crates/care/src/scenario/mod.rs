//! Made-up fleets: a scenario file and a seed give the records of some years.
//!
//! A scenario says which tanks there are, what they are exposed to, how each site cares for its ring
//! seals, and how well it keeps its books. [`simulate`] lives through it event by event and hands
//! back what the sites wrote down. The true laws stand in the scenario, so the records can be used
//! to see whether an analysis finds them again. The same scenario and seed give the same bytes, for
//! any number of threads; adding a site or a tank changes no other tank.
//!
//! The wear of one seal follows two stages (Christer & Waller 1984): a defect appears, then function
//! is lost after a delay. The defect appears on the arc of the ring that is first to reach its own
//! Weibull limit (weakest link), and all wear is accelerated by cleaning duty, temperature
//! (Arrhenius), attack by a medium, and an uneven door.
//!
//! ```
//! use sealspan_care::scenario::{Format, Scenario, simulate, write};
//! # let alike = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/coverage/alike.toml"))?;
//! // `alike`: one site, every tank alike, in TOML.
//! let scenario = Scenario::from_toml(&alike)?;
//! let fleet = simulate(&scenario, 7);
//! assert_eq!((fleet.assets.len(), scenario.title().is_empty()), (scenario.tanks(), false));
//! assert_eq!(simulate(&scenario, 7), fleet); // the same seed, the same records
//! let seals = fleet.frames()?.seals;
//! assert_eq!(seals.height(), fleet.seals.len());
//! // As files.
//! let folder = std::env::temp_dir().join(format!("sealspan-example-{}", std::process::id()));
//! let files = write(&fleet, &folder, Format::Csv)?;
//! assert_eq!(std::fs::read_to_string(&files[0])?.lines().count(), seals.height() + 1);
//! # std::fs::remove_dir_all(&folder)?;
//! // What breaks a rule is named.
//! let error = Scenario::from_toml(&alike.replace("detection = 0.7", "detection = 1.5")).unwrap_err();
//! assert!(error.is_bad_input() && error.key().unwrap().ends_with("detection"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod calendar;
mod check;
mod check_site;
mod clerk;
mod draw;
mod error;
mod exposure;
mod file;
mod position;
mod ring;
mod rows;
mod rules;
mod table;
mod tank;
mod write;

use std::collections::BTreeSet;

use rayon::prelude::*;

pub use calendar::{Precision, Written};
pub use error::ScenarioError;
pub use rows::{AssetRow, Fleet, InspectionRow, SealRow};
pub use table::Frames;
pub use write::{Format, write};

/// A scenario that has passed its checks.
#[derive(Debug, Clone)]
pub struct Scenario(file::Plan);

impl Scenario {
    /// Reads a scenario from TOML.
    ///
    /// # Errors
    /// When the text is no TOML, has an unknown key, or a value breaks a rule; the message names the
    /// key and what is allowed.
    pub fn from_toml(text: &str) -> Result<Self, ScenarioError> {
        let plan = toml::from_str(text).map_err(ScenarioError::syntax)?;
        check::check(&plan)?;
        Ok(Self(plan))
    }

    /// The scenario's title.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.0.title
    }

    /// Number of tanks.
    #[must_use]
    pub fn tanks(&self) -> usize {
        tank::roll(&self.0).len()
    }
}

/// Lives through the scenario and returns the records. Tanks run in parallel and are put together in
/// the order of the file.
#[must_use]
pub fn simulate(scenario: &Scenario, seed: u64) -> Fleet {
    let plan = &scenario.0;
    let groups = plan.sites.iter().flat_map(|site| &site.groups);
    let names: BTreeSet<&String> = groups.flat_map(|group| group.conditions.keys()).collect();
    let conditions: Vec<String> = names.into_iter().cloned().collect();
    let logs: Vec<_> = tank::roll(plan)
        .into_par_iter()
        .map(|place| tank::run(plan, place, &conditions, seed))
        .collect();
    let renamed = plan.columns.iter().flat_map(|(table, columns)| {
        columns
            .iter()
            .map(|(ours, written)| (table.clone(), ours.clone(), written.clone()))
    });
    let mut fleet = Fleet {
        seals: Vec::new(),
        inspections: Vec::new(),
        assets: Vec::new(),
        renamed: renamed.collect(),
        conditions,
    };
    for (log, asset) in logs {
        fleet.seals.extend(log.seals);
        fleet.inspections.extend(log.inspections);
        fleet.assets.push(asset);
    }
    fleet
}
