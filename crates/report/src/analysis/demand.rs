//! Seals asked for month by month: every part at every place, and all together. Times are in days.

use super::endings::{Laws, running};
use super::futures::{PartFuture, PartPlan, World};
use crate::wire::demand::PlaceDemand;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Cases, Months, Periods};
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_care::error::Result;
use sealspan_records::Running;
use std::collections::BTreeMap;

/// Days in a month of account: 365.25 / 12 = 30.4375.
pub const MONTH: f64 = DAYS_PER_YEAR / 12.0;

/// How far ahead, and how the fleet changes.
#[derive(Debug, Clone)]
pub struct Outlook {
    /// Months ahead.
    pub months: usize,
    /// Two-sided level of the prediction intervals, between 0 and 1.
    pub confidence: f64,
    /// Share l of the positions that leave in a year: 1 - (1 - l)^(1/365.25) of them a day.
    pub leaving_per_year: f64,
    /// Positions that join, days from now, shared among parts and places as the seals running now.
    pub joining: Vec<Joining>,
    /// Standard deviation of ln life between batches; 0 for none. Seals of one material and batch share their quality
    /// wherever they run, as do those of one material without a recorded batch.
    pub batch_spread: f64,
    /// Seed of everything drawn.
    pub seed: u64,
}

impl Outlook {
    /// The fleet of one part at one place, with its share of what joins.
    #[must_use]
    pub(crate) fn fleet(&self, running: &[Running], share: f64) -> Fleet {
        // Batches alike need not be told apart.
        let told = self.batch_spread > 0.0;
        let mut batches: BTreeMap<u64, Vec<Cohort>> = BTreeMap::new();
        for r in running {
            let mark = if told { mark(r) } else { 1 };
            batches.entry(mark).or_default().push(Cohort {
                age: r.age,
                count: r.count,
            });
        }
        let (marks, batches) = batches.into_iter().unzip();
        let joining = self.joining.iter().map(|j| Joining {
            at: j.at,
            positions: j.positions * share,
        });
        Fleet {
            batches,
            marks,
            joining: joining.filter(|j| j.positions > 0.0).collect(),
            leaving: 1.0 - (1.0 - self.leaving_per_year).powf(1.0 / DAYS_PER_YEAR),
        }
    }

    /// The question for one fleet.
    #[must_use]
    pub(crate) fn ahead<'a>(&self, laws: &'a Laws, fleet: &'a Fleet) -> Ahead<'a> {
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

/// The mark of a seal's batch, from the names of its material and batch (FNV-1a): seals of a batch share their quality
/// wherever they run, as do those of a material without a recorded batch.
fn mark(seal: &Running) -> u64 {
    let names = [&seal.material, &seal.batch].map(|name| name.as_deref().unwrap_or_default());
    let hash = names
        .join("\n")
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
    hash.max(1)
}

/// Name of every place together.
pub const EVERYWHERE: &str = "all";

/// Demand by part, by part and place, and of all parts together: seals a month, expected and with prediction intervals.
#[derive(Debug)]
pub struct Demands {
    /// Each part, all places together.
    pub parts: Vec<PlaceDemand>,
    /// Each part at each place, by place and then by part.
    pub places: Vec<PlaceDemand>,
    /// All parts together.
    pub all: PlaceDemand,
}

/// Works out the demand in one world, with the life's draws behind the intervals ([`Ahead`],
/// [`Cared`](sealspan_care::ahead::cared::Cared)). Places share the life of a part, and parts the factors of a place:
/// sums are taken draw by draw.
///
/// # Errors
/// When nothing is running, the seals are followed by a measured property, a number of the outlook is out of its range (nothing to look
/// ahead, a level not between 0 and 1), a life has draws but fewer than 50, batches differ but a life has no draws, or
/// seals end faster than the steps of the forecast.
pub fn demands(futures: &[PartFuture], world: World, outlook: &Outlook) -> Result<Demands> {
    let whole: f64 = futures.iter().map(PartFuture::running).sum();
    let (mut parts, mut places, mut all) = (vec![], vec![], vec![]);
    for part in futures.iter().filter(|p| !p.places.is_empty()) {
        let name = part.key.words();
        let planned = (world == World::Plan).then_some(&part.plan);
        let mut mine = vec![];
        for here in &part.places {
            let seals = running(&here.running);
            let share = seals / whole;
            let cases = here.cases(world, outlook, &outlook.fleet(&here.running, share), 1.0)?;
            let months = together(&cases, share, outlook);
            places.push(demand(&here.place, &name, seals, planned, months));
            mine.push(cases);
        }
        let cases = Cases::sum(&mine);
        let seals = part.running();
        let months = together(&cases, seals / whole, outlook);
        parts.push(demand(EVERYWHERE, &name, seals, planned, months));
        all.push(cases);
    }
    places.sort_by(|a, b| (&a.place, &a.part).cmp(&(&b.place, &b.part)));
    if all.is_empty() {
        return Err(sealspan_care::error::Error::unanswerable(
            "Nothing to forecast: no seal with a life of its own is running.",
        ));
    }
    let months = together(&Cases::sum(&all), 1.0, outlook);
    let mut all = demand(EVERYWHERE, "all parts", whole, None, months);
    all.replace_at_reason = Some("each part has its own");
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

fn demand(
    place: &str,
    part: &str,
    running: f64,
    planned: Option<&PartPlan>,
    months: Months,
) -> PlaceDemand {
    let replace_at = planned.and_then(|p| p.policy.replace_at);
    PlaceDemand {
        place: place.to_owned(),
        part: part.to_owned(),
        running,
        plan: planned.map(|p| p.words.clone()),
        replace_at,
        replace_at_reason: replace_at.is_none().then_some(NO_AGE),
        months: months.months,
        total: months.total,
    }
}
