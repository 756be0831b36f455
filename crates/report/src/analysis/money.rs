//! Today's practice against the plan in money: month by month, present value, payback, chance of loss, what moves it.

use super::demand::{MONTH, Outlook};
use super::endings::running;
use super::extra_spares::extra_spares;
use super::futures::{PartFuture, World};
use super::money_places::places;
use super::money_prices::{Prices, build_up, counted};
use super::money_risk::{scenarios, swings};
use super::money_stock::{lines, urgent_hours};
use super::prices;
use crate::wire::GroupKey;
use crate::wire::money::{Handled, MoneyDocument, MoneyMonth, PartMoney, Year};
use crate::wire::stock::PlaceStock;
use jiff::ToSpan;
use jiff::civil::Date;
use sealspan_care::ahead::months::{Cases, Spread, Spreads};
use sealspan_care::error::Result;
use sealspan_care::money::worth::{Terms, chance_of_loss, quantile};
use sealspan_records::Study;
use sealspan_records::practice::GroupPractice;
use sealspan_records::study::Costs;
use sealspan_records::words::Outcome;

/// Months of a year.
const YEAR: usize = 12;
/// Why a figure has no interval.
pub(super) const NO_DRAWS: &str = "a fit gives no draws, so its error is not known";

/// How the saving is worked out, on the clock of days.
#[derive(Debug, Clone)]
pub struct Question {
    /// Months, level and seed; fleet changes too.
    pub outlook: Outlook,
    /// Items of cost left out, by their keys in the study.
    pub left_out: Vec<String>,
    /// Last day of the records: the months begin there.
    pub starts: Option<Date>,
}

/// Both worlds of one part.
pub(super) struct Worlds {
    pub(super) key: GroupKey,
    today: Cases,
    plan: Cases,
    /// The same place by place.
    pub(super) places: Vec<PlaceWorlds>,
}

/// Both worlds of one part at one place.
pub(super) struct PlaceWorlds {
    pub(super) place: String,
    /// Seals running there.
    pub(super) positions: f64,
    pub(super) today: Cases,
    pub(super) plan: Cases,
}

impl Worlds {
    /// Prices of the part's events.
    pub(super) fn prices(&self, costs: &Costs) -> Prices {
        Prices::of(costs).dearer(prices::dearer(costs, &self.key))
    }
}

/// Both worlds of every part, with all lives `stretch` times as long.
pub(super) fn worlds(
    parts: &[PartFuture],
    question: &Question,
    stretch: f64,
) -> Result<Vec<Worlds>> {
    let whole: f64 = parts.iter().map(PartFuture::running).sum();
    let outlook = &question.outlook;
    let of = |part: &PartFuture| {
        let each = part.places.iter().map(|here| {
            let positions = running(&here.running);
            let fleet = outlook.fleet(&here.running, positions / whole);
            let cases = |world: World| here.cases(world, outlook, &fleet, stretch);
            Ok(PlaceWorlds {
                place: here.place.clone(),
                positions,
                today: cases(World::Today)?,
                plan: cases(World::Plan)?,
            })
        });
        let places = each.collect::<Result<Vec<_>>>()?;
        let sum = |of: fn(&PlaceWorlds) -> &Cases| Cases::sum(places.iter().map(of));
        Ok(Worlds {
            key: part.key.clone(),
            today: sum(|p| &p.today),
            plan: sum(|p| &p.plan),
            places,
        })
    };
    parts.iter().map(of).collect()
}

pub(super) fn at(spreads: &Spreads, i: usize) -> Spread {
    spreads.get(i).copied().unwrap_or_default()
}

/// Mean and variance of the discounted saving of a part, both worlds playing by themselves.
fn saving(
    today: &Spreads,
    plan: &Spreads,
    terms: &Terms,
    months: usize,
    prices: &Prices,
) -> (f64, f64) {
    (0..months).fold((0.0, 0.0), |(mean, variance), i| {
        let (a, b, factor) = (
            prices.money(&at(today, i)),
            prices.money(&at(plan, i)),
            terms.factor(i),
        );
        (
            mean + factor * (a.0 - b.0),
            variance + factor * factor * (a.1 + b.1),
        )
    })
}

/// The saving over all months at its worth now.
pub(super) fn present_value(worlds: &[Worlds], terms: &Terms, months: usize, costs: &Costs) -> f64 {
    let of = |w: &Worlds| saving(&w.today.best, &w.plan.best, terms, months, &w.prices(costs)).0;
    worlds.iter().map(of).sum()
}

/// The sum over parts at each draw: draw i of every part together.
fn drawn(
    worlds: &[Worlds],
    costs: &Costs,
    f: impl Fn(&Prices, &Spreads, &Spreads) -> (f64, f64),
) -> Vec<(f64, f64)> {
    let prices: Vec<Prices> = worlds.iter().map(|w| w.prices(costs)).collect();
    let count = worlds
        .iter()
        .map(|w| w.today.drawn.len().min(w.plan.drawn.len()))
        .min()
        .unwrap_or(0);
    (0..count)
        .map(|i| {
            let each = worlds
                .iter()
                .zip(&prices)
                .filter_map(|(w, p)| Some(f(p, w.today.drawn.get(i)?, w.plan.drawn.get(i)?)));
            each.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
        })
        .collect()
}

/// Works the saving out. `left_out` are parts that cannot be followed, with the reason; `stock` what to hold under the
/// plan, or why that is not known.
///
/// # Errors
/// In words, when a price is out of range or no part can be followed.
pub(crate) fn document(
    study: &Study,
    futures: &[PartFuture],
    left_out: Vec<String>,
    practice: &[GroupPractice],
    stock: std::result::Result<&[PlaceStock], String>,
    question: &Question,
) -> Result<MoneyDocument> {
    if futures.is_empty() {
        return Err(sealspan_care::error::Error::unanswerable(
            "Nothing to budget: no seal with a life of its own is running.",
        ));
    }
    let stated = &study.costs;
    let costs = counted(stated, &question.left_out);
    let prices = Prices::of(&costs);
    let months = question.outlook.months;
    let terms = Terms {
        period_days: MONTH,
        discount_rate: costs.discount_rate_per_year.unwrap_or(0.0),
        at_start: 0.0,
    }
    .checked()?;
    let both = worlds(futures, question, 1.0)?;
    let by_month = by_month(&both, &terms, question, &costs);
    let savings: Vec<f64> = by_month.iter().map(|m| m.saving).collect();
    let worth = terms.worth(&savings);
    let cases = drawn(&both, &costs, |prices, today, plan| {
        saving(today, plan, &terms, months, prices)
    });
    let side = 0.5 * (1.0 - question.outlook.confidence);
    let whole = drawn(&both, &costs, |prices, _, plan| {
        prices.money(&at(plan, months))
    });
    let first = drawn(&both, &costs, |prices, _, plan| {
        let year = (0..YEAR.min(months)).map(|i| prices.money(&at(plan, i)));
        year.fold((0.0, 0.0), |sum, m| (sum.0 + m.0, sum.1 + m.1))
    });
    let held = stock.as_ref().map_or(&[][..], |s| *s);
    Ok(MoneyDocument {
        schema: "sealspan.money.v1",
        currency: study.currency.clone().unwrap_or_default(),
        confidence: question.outlook.confidence,
        month_days: MONTH,
        discount_rate: terms.discount_rate,
        build_up: build_up(stated, &question.left_out)?,
        handled: Handled {
            opening: prices.opening,
            look: prices.look,
            turn: prices.turn,
        },
        parts: parts(futures, &both, practice, months, &costs),
        places: places(&both, practice, (months, side), &costs),
        last_year: None,
        last_year_reason: None,
        first_year_lower: quantile(&first, side).map(|x| x.max(0.0)),
        first_year_upper: quantile(&first, 1.0 - side),
        plan_cost: by_month.iter().map(|m| m.plan.cost).sum(),
        plan_cost_lower: quantile(&whole, side).map(|x| x.max(0.0)),
        plan_cost_upper: quantile(&whole, 1.0 - side),
        by_month,
        present_value: worth.present_value,
        present_value_lower: quantile(&cases, side),
        present_value_upper: quantile(&cases, 1.0 - side),
        chance_of_loss: chance_of_loss(&cases),
        draws: cases.len(),
        interval_reason: cases.is_empty().then_some(NO_DRAWS),
        payback_months: worth.payback_days.map(|d| d / MONTH),
        payback_reason: worth
            .payback_days
            .is_none()
            .then_some("the savings have not made up for dearer months by the end"),
        swings: swings(futures, &both, &costs, &terms, question)?,
        scenarios: scenarios(futures, &both, &costs, &terms, question)?,
        extra_spares: extra_spares(held, urgent_hours(study)),
        stock: lines(held),
        stock_reason: stock.err(),
        looks: vec![],
        own_ages: None,
        own_ages_reason: None,
        own_ages_by_duty: None,
        own_ages_by_duty_reason: None,
        left_out,
        notes: notes(futures),
        cautions: crate::cautions::always(),
    })
}

/// Expected events of a month, or of a year's share of all of them, with their money.
pub(super) fn year(part: &Worlds, spread: &Spread, share: f64, costs: &Costs) -> Year {
    let [failures, planned, all] = spread.counts.map(|m| m.mean * share);
    let work = [spread.work.openings, spread.work.looks, spread.work.turns].map(|n| n * share);
    priced([failures, planned], work, all, &part.key, costs)
}

/// Events of a part with their money.
fn priced(
    [failures, planned]: [f64; 2],
    [openings, looks, turns]: [f64; 3],
    seals: f64,
    part: &GroupKey,
    costs: &Costs,
) -> Year {
    let more = prices::dearer(costs, part);
    let prices = Prices::of(costs).dearer(more);
    let own = more != 0.0;
    let handled_money = prices.opening * openings + prices.look * looks + prices.turn * turns;
    let (failures_money, planned_money) = (prices.failure * failures, prices.planned * planned);
    Year {
        failures,
        planned,
        openings,
        looks,
        turns,
        failures_money,
        planned_money,
        handled_money,
        own_price_seals: if own { seals } else { 0.0 },
        own_price_money: if own {
            seals * (costs.seal_price.unwrap_or(0.0) + more)
        } else {
            0.0
        },
        cost: failures_money + planned_money + handled_money,
    }
}

fn by_month(both: &[Worlds], terms: &Terms, question: &Question, costs: &Costs) -> Vec<MoneyMonth> {
    let side = 0.5 * (1.0 - question.outlook.confidence);
    let mut cumulative = 0.0;
    let sum = |of: fn(&Worlds) -> &Cases, i: usize| -> Year {
        let each = both
            .iter()
            .map(|w| year(w, &at(&of(w).best, i), 1.0, costs));
        each.sum()
    };
    (0..question.outlook.months)
        .map(|i| {
            let (today, plan) = (sum(|w| &w.today, i), sum(|w| &w.plan, i));
            let cases = drawn(both, costs, |prices, _, plan| prices.money(&at(plan, i)));
            let saving = today.cost - plan.cost;
            let discounted = saving * terms.factor(i);
            cumulative += discounted;
            let begins = question.starts.and_then(|day| begins(day, i));
            MoneyMonth {
                month: i + 1,
                begins_reason: begins
                    .is_none()
                    .then_some("the records have no last day to begin from"),
                begins,
                today,
                plan,
                plan_lower: quantile(&cases, side).map(|x| x.max(0.0)),
                plan_upper: quantile(&cases, 1.0 - side),
                saving,
                discounted,
                cumulative,
            }
        })
        .collect()
}

/// The day at which a month of account begins, or in which it does.
fn begins(start: Date, month: usize) -> Option<String> {
    let days = (month as f64 * MONTH).floor() as i64;
    let day = start.checked_add(days.days()).ok()?;
    Some(day.to_string())
}

fn parts(
    futures: &[PartFuture],
    both: &[Worlds],
    practice: &[GroupPractice],
    months: usize,
    costs: &Costs,
) -> Vec<PartMoney> {
    let share = 12.0 / months as f64;
    let of = |(part, worlds): (&PartFuture, &Worlds)| {
        let positions = part.running();
        let mine = practice.iter().find(|g| g.key == part.key.0);
        let recorded = mine.and_then(|g| recorded(g, positions, &part.key, costs));
        let a_year = |spreads: &Spreads| year(worlds, &at(spreads, months), share, costs);
        let policy = part.plan.policy;
        let none = |step: Option<f64>| {
            let why = if part.plan.whole {
                "none are planned"
            } else {
                "they stay as they are today"
            };
            step.is_none().then_some(why)
        };
        PartMoney {
            part: part.key.words(),
            positions,
            seal_price: costs
                .seal_price
                .map(|usual| usual + prices::dearer(costs, &part.key)),
            seal_price_reason: costs
                .seal_price
                .is_none()
                .then_some("the study gives no `costs.seal_price`"),
            failure: worlds.prices(costs).failure,
            planned_change: worlds.prices(costs).planned,
            plan_words: part.plan.words.clone(),
            whole_plan: part.plan.whole,
            inspect_every: policy.inspect_every,
            inspect_every_reason: none(policy.inspect_every),
            turn_every: policy.turn_every,
            turn_every_reason: none(policy.turn_every),
            replace_at: policy.replace_at,
            replace_at_reason: policy
                .replace_at
                .is_none()
                .then_some("no replacement age saves anything worth naming"),
            recorded_reason: recorded
                .is_none()
                .then_some("no time in service under watch"),
            recorded,
            today: a_year(&worlds.today.best),
            plan: a_year(&worlds.plan.best),
        }
    };
    futures.iter().zip(both).map(of).collect()
}

/// What a year of the records counted in all, at these prices.
pub(super) fn counted_in_all(practice: &[GroupPractice], costs: &Costs) -> Year {
    let of = |group: &GroupPractice| {
        let count = |of: &dyn Fn(&sealspan_records::practice::Practice) -> u64| {
            group.sites.iter().map(of).sum::<u64>() as f64
        };
        let failures = count(&|s| s.ended_so(Outcome::Failed));
        let ended = count(&sealspan_records::practice::Practice::removed);
        let work = [
            count(&|s| s.openings),
            count(&|s| s.looks),
            count(&|s| s.turns),
        ];
        let key = GroupKey(group.key.clone());
        priced([failures, ended - failures], work, ended, &key, costs)
    };
    practice.iter().map(of).sum()
}

/// What the records counted, per position and year, for the positions of today.
fn recorded(group: &GroupPractice, positions: f64, part: &GroupKey, costs: &Costs) -> Option<Year> {
    let sites = &group.sites;
    let time: f64 = sites.iter().map(|s| s.time).sum();
    let a_year = positions * 365.25 / time;
    let count = |of: &dyn Fn(&sealspan_records::practice::Practice) -> u64| {
        sites.iter().map(of).sum::<u64>() as f64 * a_year
    };
    let failures = count(&|s| s.ended_so(Outcome::Failed));
    let planned = count(&sealspan_records::practice::Practice::removed) - failures;
    let (openings, looks, turns) = (
        count(&|s| s.openings),
        count(&|s| s.looks),
        count(&|s| s.turns),
    );
    let (ends, work) = ([failures, planned], [openings, looks, turns]);
    (time > 0.0).then(|| priced(ends, work, failures + planned, part, costs))
}

fn notes(futures: &[PartFuture]) -> Vec<String> {
    let mut out = vec![];
    if futures.iter().any(|p| p.plan.whole) {
        out.push("Today and the plan follow the same laws of defects, looks, turns and failures as the whole plan, which is about the long run; the months begin with the seals now in service, at their ages.");
        out.push("Seals past the plan's age are changed at once, in the first month: it is dearer than the others. Seals past the age at which a site usually changes them run on there until they fail or are found worn.");
        out.push("Places differ: the rate at which seals go at a place is that of all places times a factor of its own, from its failures and findings against those expected, shrunk by as much as places are alike.");
        out.push("Seals in service count as looked at so far as often as their site does, and never found worn.");
    }
    if futures.iter().any(|p| !p.plan.whole) {
        out.push("Parts without a whole plan: today is what the records show done, scheduled changes, findings, damage and changes while open, each a law of its own; the plan puts one replacement age in the place of the scheduled changes. Looks and what they find stay as they are, so their own cost falls out of the difference.");
    }
    out.push("Interval and chance of loss hold the error of the estimated lives and the chance of the seals in both worlds; parts are taken as independent, money within a draw as nearly normal; looks and turns at their expected number.");
    out.push("Stock costs stand apart: they are not in the monthly money.");
    out.into_iter().map(str::to_owned).collect()
}
