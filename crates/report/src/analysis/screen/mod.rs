//! What else differs: which values of which columns go with a longer or shorter life, each judged within all the
//! others, with the many looks allowed for, and which of them the records cannot tell apart.

mod candidate;
mod damage;
mod frame;
mod ground;
mod search;

pub(crate) use damage::Damage;
pub(super) use damage::add_damage;
pub(crate) use frame::groupings;
pub(crate) use frame::{Column, Frame, duties};
pub(crate) use ground::Ground;

use sealspan_life::family::Family;
use sealspan_life::regression::{Design, Fitting};
use sealspan_records::{Question, Records};
use serde::Serialize;

/// A condition that goes with a longer or shorter life than its like.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screened {
    /// Column.
    pub column: String,
    /// Level.
    pub level: String,
    /// The group to which the effect is confined: column and level; for all groups when none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within: Option<(String, String)>,
    /// Other conditions that (nearly) the same seals have: the records cannot tell which of them it is.
    pub same_seals: Vec<String>,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Its life over that of the same seals without it, everything else in the regression held constant: exp(b), b its
    /// coefficient on ln life.
    pub life_ratio: f64,
    /// Lower end of the interval exp(b ± z s), z the normal quantile and s the wider of the model's error and the one that
    /// allows for like seals of one asset.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Likelihood-ratio p-value of leaving it out: chi-square with one degree of freedom.
    pub p_value: f64,
    /// p-value allowing for all looks (Holm 1979, over [`Screen::looks`]).
    pub p_value_all_looks: f64,
    /// The damage that goes with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub damage: Option<Damage>,
}

/// What was looked at, and what stood out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screen {
    /// Columns looked at.
    pub columns: Vec<String>,
    /// What is held constant throughout.
    pub adjusted_for: Vec<String>,
    /// Looks in all: conditions with enough failures, and enough among the other seals.
    pub looks: usize,
    /// Conditions whose p-value over all looks is below 0.05, largest effect first.
    pub found: Vec<Screened>,
    /// Conditions not judged, since what is held constant already tells which seals have them.
    pub not_told_apart: Vec<String>,
}

/// The regression that the screen ends with, for figures.
pub struct Explained {
    /// The seals.
    pub frame: Frame,
    /// What was held constant.
    pub ground: Ground,
    /// Its design: ground and conditions found.
    pub design: Design,
    /// Its fit.
    pub fitting: Fitting,
    /// Columns of the design that the conditions found have, from 0.
    pub found: Vec<usize>,
}

impl std::fmt::Debug for Explained {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "regression on {}", self.design.names.join(", "))
    }
}

/// Share of false alarms over all looks.
const ALARM: f64 = 0.05;

/// Looks at every column that groups the seals, by forward selection in one regression on ln life: the condition that adds
/// most to the log-likelihood comes in while its p-value times the number of looks is below 0.05, then those no longer
/// needed go (a rule of ours, with Holm 1979). `None` when no column groups the seals or no regression can be fitted.
#[must_use]
pub fn screen(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    confidence: f64,
) -> Option<(Screen, Explained)> {
    let frame = Frame::new(records, question)?;
    let ground = Ground::new(&frame);
    let candidates = candidate::all(&frame, &ground);
    let search = search::Search::run(&frame, &ground, &candidates, family)?;
    let found = search.told(&frame, &ground, &candidates, confidence);
    let screen = Screen {
        columns: frame.looked_at(&ground),
        adjusted_for: ground.words(),
        looks: candidates.len(),
        found,
        not_told_apart: search.not_told_apart(&candidates),
    };
    Some((screen, search.explained(frame, ground)))
}
