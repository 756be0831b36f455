//! How each site cares for its seals: does it take sound ones off too early, does it look at them at all?
//!
//! The life of a site's seals is that of failures, from one regression in which the group has a law of its own and
//! the place (site, heat, cleaning, product) and duty shift it. A site that replaces early shows few failures, so
//! the law's shape comes from all sites and its place on the age axis from the site's own.

mod cycle;
mod early;
mod law;
mod looks;
mod sentences;

use crate::analysis::alike::{ln_duty, place_columns, words};
use crate::analysis::run::CONFIDENCE;
use crate::wire::habits::Habits;
use law::Laws;
use sealspan_care::costs::Costs;
use sealspan_records::{Answer, Clock, Form, Question, Records, ask};

/// Draws of the laws.
const DRAWS: usize = 400;

/// What is asked.
pub(crate) struct Asked<'a> {
    /// Columns whose seals share a law.
    pub like: &'a [String],
    /// The time scale.
    pub clock: Clock,
    /// Two-sided confidence.
    pub confidence: Option<f64>,
    /// Expected share of false claims.
    pub false_discovery: f64,
    /// Seed of the draws.
    pub seed: u64,
}

/// The seals of the records, by group, place, site, asset and outcome.
struct Seals {
    answer: Answer,
    /// Columns of the group, then of the place.
    like: usize,
    places: usize,
    site: bool,
}

/// Judges every site. Without failures enough, or in plain life data, only the reason is given.
pub(crate) fn habits(records: &Records, asked: &Asked<'_>) -> Habits {
    let none = |reason: &str| Habits {
        false_discovery: asked.false_discovery,
        reason: Some(reason.to_owned()),
        ..Habits::default()
    };
    if records.form == Form::Life {
        return none("plain lives do not say why a seal was taken off");
    }
    let places = place_columns(records, asked.like);
    let Some(seals) = seals(records, asked, &places) else {
        return none("the seals cannot be told apart by asset and outcome");
    };
    let duty = ln_duty(records, asked.clock);
    let costs = costs(records, asked.clock);
    let confidence = asked.confidence.unwrap_or(CONFIDENCE);
    let laws = Laws::new(&seals, duty.as_ref(), asked.seed);
    let mut out = Habits {
        limit: if costs.is_some() {
            "least_cost"
        } else {
            "one_in_ten_failed"
        },
        held_constant: words(records, &places, duty.is_some()),
        false_discovery: asked.false_discovery,
        draws: DRAWS,
        looks: looks::looks(records, &seals, asked),
        ..Habits::default()
    };
    match &laws {
        Some(laws) => {
            out.replaced = early::replaced(&seals, laws, costs.as_ref(), confidence, asked);
        }
        None => out.reason = Some("too few failures for a life to hold ages against".to_owned()),
    }
    out.sentences = sentences::sentences(&out, records, confidence, asked.clock);
    out
}

/// Asks for the seals; `None` where they name no asset or no outcome.
fn seals(records: &Records, asked: &Asked<'_>, places: &[String]) -> Option<Seals> {
    let by = |site: bool| -> Vec<String> {
        let own = ["asset".to_owned(), "outcome".to_owned()];
        let site = site.then(|| "site".to_owned());
        let columns = asked.like.iter().chain(places);
        columns.cloned().chain(site).chain(own).collect()
    };
    [true, false].into_iter().find_map(|site| {
        let question = Question {
            by: by(site),
            clock: asked.clock,
            mode: None,
        };
        Some(Seals {
            answer: ask(records, &question).ok()?,
            like: asked.like.len(),
            places: places.len(),
            site,
        })
    })
}

fn costs(records: &Records, clock: Clock) -> Option<Costs> {
    records.study.costs.planned_cost()?;
    let prices = crate::analysis::prices::replacement(&records.study);
    Costs::new(prices, clock)
        .ok()
        .filter(|c| c.planned_money() > 0.0)
}

impl Seals {
    /// Group, place, site, asset and outcome of a key.
    fn parts<'k>(&self, key: &'k [(String, String)]) -> Parts<'k> {
        let (like, rest) = key.split_at(self.like.min(key.len()));
        let (place, rest) = rest.split_at(self.places.min(rest.len()));
        let (site, rest) = rest.split_at(usize::from(self.site).min(rest.len()));
        let value = |at: usize| rest.get(at).map_or("", |(_, v)| v.as_str());
        Parts {
            like,
            place,
            site: site.first().map(|(_, v)| v.as_str()),
            asset: value(0),
            outcome: value(1),
        }
    }
}

/// A key taken apart.
struct Parts<'k> {
    like: &'k [(String, String)],
    place: &'k [(String, String)],
    site: Option<&'k str>,
    asset: &'k str,
    outcome: &'k str,
}
