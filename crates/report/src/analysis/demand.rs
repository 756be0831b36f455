//! Seals asked for month by month: every part at every place, and all together.

use super::endings::{Laws, PartLaws};
use crate::wire::demand::PlaceDemand;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Month, Months, numbers};
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_care::error::Result;
use sealspan_records::Running;
use std::collections::BTreeMap;

/// Days in a month of account.
pub const MONTH: f64 = DAYS_PER_YEAR / 12.0;

/// How far ahead, and how the fleet changes.
#[derive(Debug, Clone)]
pub struct Outlook {
    /// Months ahead.
    pub months: usize,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Share of the positions that leave in a year.
    pub leaving_per_year: f64,
    /// Positions that join, shared among parts and places as the seals running now.
    pub joining: Vec<Joining>,
    /// Standard deviation of ln life between batches; every place's seals now are taken as one batch of each part.
    pub batch_spread: f64,
    /// Seed.
    pub seed: u64,
}

impl Outlook {
    /// The fleet of one part at one place, with its share of what joins.
    #[must_use]
    pub fn fleet(&self, running: &[Running], share: f64) -> Fleet {
        let cohorts = running.iter().map(|r| Cohort {
            age: r.age,
            count: r.count,
        });
        let joining = self.joining.iter().map(|j| Joining {
            at: j.at,
            positions: j.positions * share,
        });
        Fleet {
            batches: vec![cohorts.collect()],
            joining: joining.filter(|j| j.positions > 0.0).collect(),
            leaving: 1.0 - (1.0 - self.leaving_per_year).powf(1.0 / DAYS_PER_YEAR),
        }
    }

    /// The question for one fleet.
    #[must_use]
    pub fn ahead<'a>(&self, laws: &'a Laws, fleet: &'a Fleet) -> Ahead<'a> {
        Ahead {
            ending: &laws.centre,
            draws: &laws.draws,
            fleet,
            period: MONTH,
            periods: self.months,
            confidence: self.confidence,
            batch_spread: self.batch_spread,
            seed: self.seed,
        }
    }
}

/// Name of the place where the records name no site.
const NO_SITE: &str = "all sites";
/// Name of every place together.
pub const EVERYWHERE: &str = "all";

/// The running seals of a part by place.
#[must_use]
pub fn by_place(part: &PartLaws) -> BTreeMap<String, Vec<Running>> {
    let mut places: BTreeMap<String, Vec<Running>> = BTreeMap::new();
    for seal in &part.running {
        let place = seal.site.clone().unwrap_or_else(|| NO_SITE.to_owned());
        places.entry(place).or_default().push(seal.clone());
    }
    places
}

fn running(seals: &[Running]) -> f64 {
    seals.iter().map(|r| r.count).sum()
}

/// Demand by part, by part and place, and of all parts together.
#[derive(Debug)]
pub struct Demands {
    /// Each part, all places together.
    pub parts: Vec<PlaceDemand>,
    /// Each part at each place.
    pub places: Vec<PlaceDemand>,
    /// All parts together.
    pub all: PlaceDemand,
}

/// Works out the demand under the laws that `of` picks. Places of one part share its life, parts do not.
///
/// # Errors
/// As [`Ahead::answer`].
pub fn demands(
    laws: &[PartLaws],
    of: fn(&PartLaws) -> &Laws,
    outlook: &Outlook,
) -> Result<Demands> {
    let whole: f64 = laws.iter().map(|p| running(&p.running)).sum();
    let (mut parts, mut places, mut answers) = (vec![], vec![], vec![]);
    for part in laws.iter().filter(|p| !p.running.is_empty()) {
        let one = |place: &str, seals: &[Running]| -> Result<(PlaceDemand, Months)> {
            let fleet = outlook.fleet(seals, running(seals) / whole);
            let answer = outlook.ahead(of(part), &fleet).answer()?;
            let replace_at = of(part).centre.replace_at;
            let demand = PlaceDemand {
                place: place.to_owned(),
                part: part.key.words(),
                running: running(seals),
                replace_at,
                replace_at_reason: replace_at.is_none().then_some(
                    "no age is set: seals run until they fail or are taken off for another reason",
                ),
                months: answer.months.clone(),
                total: answer.total,
            };
            Ok((demand, answer))
        };
        let (demand, answer) = one(EVERYWHERE, &part.running)?;
        parts.push(demand);
        answers.push(answer);
        for (place, seals) in by_place(part) {
            places.push(one(&place, &seals)?.0);
        }
    }
    places.sort_by(|a, b| (&a.place, &a.part).cmp(&(&b.place, &b.part)));
    let all = together(&answers, whole, outlook)?;
    Ok(Demands { parts, places, all })
}

/// The sum over parts, whose lives are independent.
fn together(answers: &[Months], whole: f64, outlook: &Outlook) -> Result<PlaceDemand> {
    let Some((first, rest)) = answers.split_first() else {
        return Err(sealspan_care::error::Error::unanswerable(
            "Nothing to forecast: no seal with a life of its own is running.",
        ));
    };
    let mut months = first.months.clone();
    let mut total = first.total;
    let mut counts = first.counts.clone();
    for other in rest {
        for (sum, more) in counts.iter_mut().zip(&other.counts) {
            for (a, b) in sum.iter_mut().zip(more) {
                *a = a.plus(b);
            }
        }
        for (sum, more) in months.iter_mut().zip(&other.months) {
            add(sum, more);
        }
        add(&mut total, &other.total);
    }
    for (month, counts) in months.iter_mut().chain([&mut total]).zip(&counts) {
        let expected = [
            month.unplanned.expected,
            month.planned.expected,
            month.all.expected,
        ];
        [month.unplanned, month.planned, month.all] = numbers(expected, counts, outlook.confidence);
    }
    Ok(PlaceDemand {
        place: EVERYWHERE.to_owned(),
        part: "all parts".to_owned(),
        running: whole,
        replace_at: None,
        replace_at_reason: Some("each part has its own"),
        months,
        total,
    })
}

fn add(sum: &mut Month, more: &Month) {
    sum.unplanned.expected += more.unplanned.expected;
    sum.planned.expected += more.planned.expected;
    sum.all.expected += more.all.expected;
    sum.joining += more.joining;
}
