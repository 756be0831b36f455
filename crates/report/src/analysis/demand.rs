//! Seals asked for month by month: every part at every place, and all together.

use super::endings::{Laws, PartLaws, PlaceLaws, running};
use crate::wire::demand::PlaceDemand;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Cases, Months, Periods};
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_care::error::Result;
use sealspan_records::Running;

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

/// Name of every place together.
pub const EVERYWHERE: &str = "all";

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

/// Works out the demand under the laws that `of` picks. Places share the life of a part but for their factors, and parts
/// share the factors of a place: sums are taken draw by draw.
///
/// # Errors
/// As [`Ahead::answer`].
pub fn demands(
    laws: &[PartLaws],
    of: fn(&PlaceLaws) -> &Laws,
    outlook: &Outlook,
) -> Result<Demands> {
    let whole: f64 = laws.iter().map(PartLaws::running).sum();
    let (mut parts, mut places, mut all) = (vec![], vec![], vec![]);
    for part in laws.iter().filter(|p| !p.places.is_empty()) {
        let mut mine = vec![];
        for here in &part.places {
            let fleet = outlook.fleet(&here.running, running(&here.running) / whole);
            let ahead = outlook.ahead(of(here), &fleet);
            let cases = ahead.cases()?;
            let months = ahead.months(&cases);
            let named = Named {
                place: &here.place,
                part: part.key.words(),
                running: running(&here.running),
                replace_at: of(here).centre.replace_at,
                reason: NO_AGE,
            };
            places.push(named.demand(months));
            mine.push(cases);
        }
        let named = Named {
            place: EVERYWHERE,
            part: part.key.words(),
            running: part.running(),
            replace_at: part.places.first().and_then(|p| of(p).centre.replace_at),
            reason: NO_AGE,
        };
        let cases = Cases::sum(&mine);
        parts.push(named.demand(together(&cases, part.running() / whole, outlook)));
        all.push(cases);
    }
    places.sort_by(|a, b| (&a.place, &a.part).cmp(&(&b.place, &b.part)));
    if all.is_empty() {
        return Err(sealspan_care::error::Error::unanswerable(
            "Nothing to forecast: no seal with a life of its own is running.",
        ));
    }
    let named = Named {
        place: EVERYWHERE,
        part: "all parts".to_owned(),
        running: whole,
        replace_at: None,
        reason: "each part has its own",
    };
    let all = named.demand(together(&Cases::sum(&all), 1.0, outlook));
    Ok(Demands { parts, places, all })
}

const NO_AGE: &str = "no age is set: seals run until they fail or are taken off for another reason";

/// Cases summed over places, month by month; `share` of what joins is theirs.
fn together(cases: &Cases, share: f64, outlook: &Outlook) -> Months {
    let fleet = outlook.fleet(&[], share);
    let periods = Periods {
        length: MONTH,
        number: outlook.months,
        confidence: outlook.confidence,
    };
    periods.months(cases, |from, until| fleet.joining(from, until))
}

/// Which seals a demand is of.
struct Named<'a> {
    place: &'a str,
    part: String,
    running: f64,
    replace_at: Option<f64>,
    reason: &'static str,
}

impl Named<'_> {
    fn demand(self, months: Months) -> PlaceDemand {
        PlaceDemand {
            place: self.place.to_owned(),
            part: self.part,
            running: self.running,
            replace_at: self.replace_at,
            replace_at_reason: self.replace_at.is_none().then_some(self.reason),
            months: months.months,
            total: months.total,
        }
    }
}
