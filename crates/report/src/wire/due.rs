//! When each seal in service is due under the plan, and how likely it is to fail before long.

use serde::Serialize;

/// The whole answer.
///
/// ```
/// use sealspan_report::story::due::{by_place, seals};
/// use sealspan_report::wire::due::{DueDocument, DuePlace};
/// let place = |name: &str, past_due| DuePlace {
///     place: name.to_owned(),
///     seals: 4.0,
///     past_due,
///     by_month: vec![1.0, 0.0],
///     failures: 0.5,
///     failures_past_due: 0.25,
/// };
/// let mut due = DueDocument {
///     schema: "sealspan.due.v1",
///     unit: "days",
///     as_of: None,
///     confidence: 0.9,
///     horizon: 30.4375,
///     places: vec![place("north", 1.0), place("south", 0.0)],
///     seals: vec![],
///     left_out: vec![],
///     notes: vec![],
///     cautions: vec![],
/// };
/// assert!(by_place(&due).is_some_and(|t| t.rows[0][0] == "north"));
/// assert!(seals(&due, 5, true).is_none()); // none in it
/// due.only_at("south");
/// due.only_within(10.0); // the numbers of places stay
/// assert_eq!(due.places, [place("south", 0.0)]);
/// ```
#[derive(Debug, Clone, Serialize)]
pub struct DueDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages and times.
    pub unit: &'static str,
    /// Last day of the records, from which times are counted; `null` where they have none.
    pub as_of: Option<String>,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Time over which the chance of failing is told: a month of account, 30.4375 days.
    pub horizon: f64,
    /// Every place with what is due there, most past due first.
    pub places: Vec<DuePlace>,
    /// Every seal in service of a part with a plan: those that something urgent is known of; then those past due, the
    /// likeliest to fail ahead and the older of like ones; then the others as they fall due; then those without an age.
    pub seals: Vec<DueSeal>,
    /// Parts that are not in it, and why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// What was assumed.
    pub notes: Vec<&'static str>,
    /// What to mind before acting.
    pub cautions: Vec<String>,
}

impl DueDocument {
    /// Leaves what is at one place.
    pub fn only_at(&mut self, place: &str) {
        self.places.retain(|p| p.place == place);
        self.seals.retain(|s| s.place == place);
    }

    /// Leaves the seals that are due within so many days, past due included, and those with something urgent; the numbers
    /// of places stay whole.
    pub fn only_within(&mut self, days: f64) {
        self.seals
            .retain(|s| s.act.is_some() || s.due_in.is_some_and(|left| left <= days));
    }
}

/// Numbers of seals due at one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuePlace {
    /// Where.
    pub place: String,
    /// Seals in service there, of parts with a plan.
    pub seals: f64,
    /// Those at the plan's age or past it on the last day.
    pub past_due: f64,
    /// Those that come due after the last day in each of the next three months of account, the first first; a month holds
    /// its last moment.
    pub by_month: Vec<f64>,
    /// Failures expected in the next month as practice goes on.
    pub failures: f64,
    /// Those of them among the seals past due.
    pub failures_past_due: f64,
}

/// When to act.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// At once.
    Now,
    /// Before the next look.
    BeforeNextLook,
}

impl Act {
    /// In words.
    #[must_use]
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Now => "now",
            Self::BeforeNextLook => "before the next look",
        }
    }
}

/// One seal in service.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DueSeal {
    /// Its name; `null` where the records have none.
    pub seal: Option<String>,
    /// The asset; `null` where the records have none.
    pub asset: Option<String>,
    /// The position on it; `null` where the records have none.
    pub position: Option<String>,
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Seals that the row of the records stands for.
    pub count: f64,
    /// Age on the last day.
    pub age: f64,
    /// The plan's age of replacement; `null`: on failure only.
    pub planned_age: Option<f64>,
    /// Time from the last day until it is due, `planned_age` less `age`: 0 or below when past due; `null` without an age.
    pub due_in: Option<f64>,
    /// The day it is due, the last day plus `due_in` rounded up to whole days; `null` without an age or a last day.
    pub due_on: Option<String>,
    /// What is known of it beyond its age, whatever the plan: a measured property past its limit now or by the next look
    /// with a chance of a half or more (a rule of ours), a door out of line.
    pub urgent: Vec<String>,
    /// When to act on what is urgent, which comes before the day it is due: `now` or `before_next_look`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub act: Option<Act>,
    /// Failures expected at its position within the horizon as practice goes on: nearly the chance that it fails. Of a
    /// seal with something urgent that is by its age alone, and too low.
    pub fails: f64,
    /// Lower end of the interval of that expected number, from the laws and rates drawn; `null` without draws.
    pub fails_lower: Option<f64>,
    /// Upper end.
    pub fails_upper: Option<f64>,
    /// Why there is no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval_reason: Option<&'static str>,
}
