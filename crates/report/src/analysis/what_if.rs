//! What a reader may ask at the page: other prices, other intervals, other stocks. Costs, failures and stocks follow
//! from the run's own table of events under every policy of the calendar.

use super::place_factors::PlaceFactors;
use super::place_rates::place_rates;
use super::plans::Pen;
use super::prices;
use super::run::Results;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, DAYS_PER_YEAR};
use sealspan_care::plan::{Choice, Request};
use sealspan_care::replacement::Goal;
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{Candidate, PolicyRates, Rates, RatesQuestion, menu_rates};
use sealspan_records::{Clock, Question, Records, Study};
use serde::{Serialize, Serializer};

/// Everything the page needs. Times are in the unit of the clock, rates of one position per that unit.
#[derive(Debug, Clone, Serialize)]
pub struct WhatIf {
    /// Currency of amounts; may be empty.
    pub currency: String,
    /// One unit of the clock, such as "day".
    pub unit: String,
    /// Units in the period of account: 365.25 on the clock of days, else 1.
    pub units: f64,
    /// Name of that period.
    pub per: &'static str,
    /// Money of each event, as the study gives it.
    pub prices: WhatIfPrices,
    /// Parts with a whole plan.
    pub parts: Vec<WhatIfPart>,
    /// Stock at a place, in days; `None` off the clock of days, without terms of stock or a price, and where lead times
    /// vary from spell to spell.
    pub stock: Option<WhatIfStock>,
}

/// Prices that the rates of events are multiplied by.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct WhatIfPrices {
    /// Money of a planned replacement, downtime apart.
    pub planned_cost: f64,
    /// Hours down of one.
    pub planned_hours: f64,
    /// Money of a failure, downtime apart.
    pub failure_cost: f64,
    /// Hours down of one.
    pub failure_hours: f64,
    /// Money of an hour down.
    pub downtime_cost: f64,
    /// Hours down of one opening.
    pub opening_hours: f64,
    /// Labour of a look.
    pub look_cost: f64,
    /// Labour of a turn.
    pub turn_cost: f64,
}

/// One part under every policy of the calendar.
#[derive(Debug, Clone, Serialize)]
pub struct WhatIfPart {
    /// Which seal.
    pub name: String,
    /// Seals running now.
    pub positions: f64,
    /// How much more its seal costs than the usual one.
    pub dearer: f64,
    /// Lives drawn that rates are averaged over.
    pub worlds: usize,
    /// How often it is turned, in words; `None` when not.
    pub turned: Option<String>,
    /// Time between turns for the command line.
    pub turn_every: Option<f64>,
    /// Places of the plan in `looks` and in its ages, from 0.
    pub plan: (usize, usize),
    /// Events under today's practice, averaged over the lives drawn or as the records counted them; `None` where that is
    /// not known.
    pub today: Option<Events>,
    /// Policies by time between looks ([`menu_rates`]).
    pub looks: Vec<LooksRow>,
    /// Sites with the positions they hold.
    pub places: Vec<(String, usize)>,
}

/// Policies with the same looks.
#[derive(Debug, Clone, Serialize)]
pub struct LooksRow {
    /// Time between looks; `None`: no looks.
    pub every: Option<f64>,
    /// The same in words.
    pub words: String,
    /// Replacement ages that go with it.
    pub ages: Vec<AgeRow>,
}

/// One policy.
#[derive(Debug, Clone, Serialize)]
pub struct AgeRow {
    /// Replacement age; `None`: on failure only.
    pub at: Option<f64>,
    /// The same in words.
    pub words: String,
    /// Events on average over the lives drawn.
    pub mean: Events,
    /// Seals taken without warning (failed, found or damaged) per position and unit of the clock at the estimate, in the
    /// order of [`WhatIfPart::places`]: what stocks are sized by.
    pub unplanned: Vec<f64>,
}

/// Events per position and unit of the clock: planned, failed, found, damaged, openings, looks, turns, opportunity. Written
/// to ten digits.
#[derive(Debug, Clone, Copy)]
pub struct Events(pub [f64; 8]);

impl Serialize for Events {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.map(rounded).serialize(serializer)
    }
}

/// Ten digits are more than any page shows and half the room of all.
fn rounded(x: f64) -> f64 {
    format!("{x:.9e}").parse().unwrap_or(x)
}

impl From<Rates> for Events {
    fn from(r: Rates) -> Self {
        Self([
            r.planned,
            r.failed,
            r.found,
            r.damaged,
            r.openings,
            r.looks,
            r.turns,
            r.opportunity,
        ])
    }
}

/// What stocks are worked out from.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct WhatIfStock {
    /// Days from order to arrival.
    pub lead_time: f64,
    /// Money to hold one seal for a day.
    pub holding_per_day: f64,
    /// Money per order.
    pub order_cost: f64,
    /// Price of a seal.
    pub unit_price: f64,
    /// Days a seal may lie after it has arrived; `None` for ever.
    pub usable: Option<f64>,
    /// An empty shelf means an urgent order; else the position waits for the normal one.
    pub urgent: Option<Urgent>,
}

/// An urgent order.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Urgent {
    /// Money above the usual price, the wait not counted.
    pub extra: f64,
    /// Days until it comes.
    pub days: f64,
}

/// The table of every part that has a whole plan; `None` without any, or without prices.
#[must_use]
pub(crate) fn what_if(
    results: &Results,
    (records, asked): (&Records, &Question),
    terms: Option<&StockTerms>,
) -> Option<WhatIf> {
    let study = &records.study;
    let handling = &prices::handling(study);
    let costs = results.costs.as_ref()?;
    let groups = results.plans.found()?;
    let rates = place_rates(records, asked, groups, 1);
    let parts = groups.iter().filter_map(|group| {
        let plan = group.block.as_ref()?.plan.as_ref()?;
        let more = prices::dearer(&study.costs, &group.group);
        part(results, group, plan, (costs, more), (handling, &rates))
    });
    let parts: Vec<WhatIfPart> = parts.collect();
    let prices = costs.prices();
    let days = costs.clock() == Clock::Days;
    let one = results.unit.strip_suffix('s').unwrap_or(results.unit);
    (!parts.is_empty()).then(|| WhatIf {
        currency: results.currency.clone(),
        unit: one.to_owned(),
        units: if days { DAYS_PER_YEAR } else { 1.0 },
        per: if days { "year" } else { one },
        prices: WhatIfPrices {
            planned_cost: prices.planned_cost,
            planned_hours: prices.planned_hours,
            failure_cost: prices.failure_cost,
            failure_hours: prices.failure_hours,
            downtime_cost: prices.downtime_cost,
            opening_hours: handling.opening_hours,
            look_cost: handling.inspection_cost,
            turn_cost: handling.turn_cost,
        },
        parts,
        stock: terms.filter(|_| days).and_then(|t| stock(study, t)),
    })
}

/// Lead times that vary from spell to spell are left to the command line.
fn stock(study: &Study, terms: &StockTerms) -> Option<WhatIfStock> {
    let steady = terms.lead_time_deviation == 0.0 || terms.shelf_life.is_some();
    let price = terms.unit_price.filter(|_| steady)?;
    let days = study.stock.urgent_lead_time_days;
    Some(WhatIfStock {
        lead_time: terms.lead_time,
        holding_per_day: terms.holding_cost,
        order_cost: terms.order_cost,
        unit_price: price,
        usable: terms.shelf_life.map(|days| days - terms.age_on_arrival),
        urgent: match terms.shortage {
            Shortage::Urgent { .. } => Some(Urgent {
                extra: study.stock.urgent_price.unwrap_or(price) - price,
                days: days?,
            }),
            Shortage::Backorder { .. } => None,
        },
    })
}

fn part(
    results: &Results,
    group: &GroupCare,
    plan: &WholePlan,
    (costs, dearer): (&Costs, f64),
    (handling, rates): (&Handling, &PlaceFactors),
) -> Option<WhatIfPart> {
    let chosen = plan.weighed.plan;
    let name = group.group.words();
    let stocks = results.stock.found().map_or(&[][..], |s| &s.places);
    let places: Vec<(String, usize)> = stocks
        .iter()
        .filter(|p| p.part == name)
        .filter_map(|p| Some((p.place.clone(), p.positions?)))
        .collect();
    let seal = &plan.worlds.centre;
    // A law that cannot follow a place's own rate keeps that of all places.
    let here = |(place, _): &(String, usize)| {
        let rate = rates.of(&group.group, place).0;
        seal.with_onset_rate(rate).unwrap_or_else(|_| seal.clone())
    };
    let terms = Terms::new(&costs.dearer(dearer), handling).ok()?;
    let menu = menu_rates(&RatesQuestion {
        seal,
        draws: &plan.worlds.draws,
        places: &places.iter().map(here).collect::<Vec<_>>(),
        terms: &terms,
        request: Request {
            turn: chosen.turn_every.map_or(Choice::Never, Choice::At),
            ..Request::default()
        },
        clock: costs.clock(),
        calendar: Calendar::default(),
        today: &plan.worlds.practice,
        counted: plan.counted(),
    })
    .ok()?;
    let pen = Pen {
        unit: results.unit,
        currency: &results.currency,
        goal: Goal::Cost,
        calendar: menu.calendar,
    };
    let looks = rows(&menu.policies, &pen);
    let running = results.lives.iter().find(|l| l.key == group.group);
    Some(WhatIfPart {
        plan: place(&looks, &chosen)?,
        positions: running.map_or(0.0, |l| l.running.iter().map(|r| r.count).sum()),
        dearer,
        worlds: menu.worlds,
        turned: chosen.turn_every.map(|every| pen.age(every)),
        turn_every: chosen.turn_every,
        today: menu.today.map(Events::from),
        looks,
        places,
        name,
    })
}

fn rows(policies: &[PolicyRates], pen: &Pen) -> Vec<LooksRow> {
    let same = |a: &PolicyRates, b: &PolicyRates| a.policy.inspect_every == b.policy.inspect_every;
    let row = |list: &[PolicyRates]| {
        let every = list.first()?.policy.inspect_every;
        Some(LooksRow {
            every,
            words: every.map_or_else(
                || "no looks".to_owned(),
                |e| format!("every {}", pen.age(e)),
            ),
            ages: list.iter().map(|p| age(p, pen)).collect(),
        })
    };
    policies.chunk_by(same).filter_map(row).collect()
}

fn age(p: &PolicyRates, pen: &Pen) -> AgeRow {
    let at = p.policy.replace_at;
    AgeRow {
        at,
        words: at.map_or_else(
            || "on failure only".to_owned(),
            |at| format!("at {}", pen.age(at)),
        ),
        mean: p.mean.into(),
        unplanned: p
            .places
            .iter()
            .map(|here| rounded(here.failed + here.found + here.damaged))
            .collect(),
    }
}

fn place(looks: &[LooksRow], plan: &Candidate) -> Option<(usize, usize)> {
    let row = looks.iter().position(|r| r.every == plan.inspect_every)?;
    let ages = &looks.get(row)?.ages;
    Some((row, ages.iter().position(|a| a.at == plan.replace_at)?))
}
