//! Today's practice against the plan in money: month by month, present value, payback, chance of loss, what moves it.

use super::demand::{MONTH, Outlook, demands};
use super::endings::{Laws, PartLaws, PlaceLaws, running};
use super::extra_spares::extra_spares;
use super::money_prices::{MOVED, Pair, build_up, counted, pair};
use super::money_stock::{lines, places, urgent_hours};
use crate::wire::money::{MoneyDocument, MoneyMonth, PartMoney, Scenario, Swing, Year};
use sealspan_care::ahead::months::{Cases, Spreads};
use sealspan_care::error::Result;
use sealspan_care::money::worth::{Terms, chance_of_loss, quantile};
use sealspan_records::Study;
use sealspan_records::practice::GroupPractice;
use sealspan_records::study::Costs;
use sealspan_records::words::Outcome;

/// How the saving is worked out.
#[derive(Debug, Clone)]
pub struct Question {
    /// Months, level and seed; fleet changes too.
    pub outlook: Outlook,
    /// Items of cost left out, by their keys in the study.
    pub left_out: Vec<String>,
}

/// Both worlds of one part.
struct Worlds {
    today: Cases,
    plan: Cases,
}

/// Range of each input of money moved by itself, as in the whole plan; and of the lives.
const MONEY_RANGE: f64 = 0.25;
const LIFE_RANGE: (f64, f64) = (0.8, 1.25);

fn worlds(laws: &[PartLaws], question: &Question, stretch: Option<f64>) -> Result<Vec<Worlds>> {
    let whole: f64 = laws.iter().map(PartLaws::running).sum();
    let moved = |laws: &Laws| match stretch {
        None => laws.clone(),
        Some(factor) => Laws {
            centre: laws.centre.stretched(factor),
            draws: vec![],
        },
    };
    let of = |part: &PartLaws| {
        let sum = |of: fn(&PlaceLaws) -> &Laws| -> Result<Cases> {
            let cases = part.places.iter().map(|here| {
                let share = running(&here.running) / whole;
                let fleet = question.outlook.fleet(&here.running, share);
                question.outlook.ahead(&moved(of(here)), &fleet).cases()
            });
            Ok(Cases::sum(&cases.collect::<Result<Vec<_>>>()?))
        };
        Ok(Worlds {
            today: sum(|p| &p.today)?,
            plan: sum(|p| &p.plan)?,
        })
    };
    laws.iter().map(of).collect()
}

fn without_draws(part: &PartLaws) -> PartLaws {
    let mut part = part.clone();
    for here in &mut part.places {
        here.plan.draws.clear();
        here.today.draws.clear();
    }
    part
}

/// Mean and variance of the money of month `i`.
fn money(spreads: &Spreads, i: usize, (failed, planned): Pair) -> (f64, f64) {
    let [f, p, _] = spreads.get(i).copied().unwrap_or_default();
    (
        failed * f.mean + planned * p.mean,
        failed * failed * f.variance + planned * planned * p.variance,
    )
}

/// Mean and variance of the discounted saving of a part, both worlds playing by themselves.
fn saving(
    today: &Spreads,
    plan: &Spreads,
    terms: &Terms,
    months: usize,
    prices: Pair,
) -> (f64, f64) {
    (0..months).fold((0.0, 0.0), |(mean, variance), i| {
        let (a, b, factor) = (
            money(today, i, prices),
            money(plan, i, prices),
            terms.factor(i),
        );
        (
            mean + factor * (a.0 - b.0),
            variance + factor * factor * (a.1 + b.1),
        )
    })
}

fn present_value(worlds: &[Worlds], terms: &Terms, months: usize, prices: Pair) -> f64 {
    let each = worlds
        .iter()
        .map(|w| saving(&w.today.best, &w.plan.best, terms, months, prices).0);
    each.sum()
}

/// The sum over parts at each draw: draw i of every part together.
fn drawn(worlds: &[Worlds], f: impl Fn(&Spreads, &Spreads) -> (f64, f64)) -> Vec<(f64, f64)> {
    let count = worlds
        .iter()
        .map(|w| w.today.drawn.len().min(w.plan.drawn.len()))
        .min()
        .unwrap_or(0);
    (0..count)
        .map(|i| {
            let each = worlds
                .iter()
                .filter_map(|w| Some(f(w.today.drawn.get(i)?, w.plan.drawn.get(i)?)));
            each.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
        })
        .collect()
}

/// Works the saving out.
///
/// # Errors
/// In words, when a price is missing or no part has a life.
pub fn document(
    study: &Study,
    laws: &[PartLaws],
    left_out: Vec<String>,
    practice: &[GroupPractice],
    question: &Question,
) -> Result<MoneyDocument> {
    let stated = &study.costs;
    let costs = counted(stated, &question.left_out);
    let prices = pair(&costs);
    let months = question.outlook.months;
    let terms = Terms {
        period_days: MONTH,
        discount_rate: costs.discount_rate_per_year.unwrap_or(0.0),
        at_start: 0.0,
    }
    .checked()?;
    let both = worlds(laws, question, None)?;
    let by_month = by_month(&both, &terms, question, prices);
    let savings: Vec<f64> = by_month.iter().map(|m| m.saving).collect();
    let worth = terms.worth(&savings);
    let cases = drawn(&both, |today, plan| {
        saving(today, plan, &terms, months, prices)
    });
    let side = 0.5 * (1.0 - question.outlook.confidence);
    // The mean demand alone is asked for: no draws.
    let steady: Vec<PartLaws> = laws.iter().map(without_draws).collect();
    let plan = demands(
        &steady,
        |p| &p.plan,
        &Outlook {
            batch_spread: 0.0,
            ..question.outlook.clone()
        },
    )?;
    let (stock, stock_reason) = match places(study, &costs, &plan.places, months as f64 * MONTH) {
        Ok(places) => (places, None),
        Err(why) => (vec![], Some(why)),
    };
    let whole = drawn(&both, |_, plan| money(plan, months, prices));
    Ok(MoneyDocument {
        schema: "sealspan.money.v1",
        currency: study.currency.clone().unwrap_or_default(),
        confidence: question.outlook.confidence,
        month_days: MONTH,
        discount_rate: terms.discount_rate,
        build_up: build_up(stated, &question.left_out)?,
        parts: parts(laws, &both, practice, months, prices),
        plan_cost: by_month.iter().map(|m| m.plan.cost).sum(),
        plan_cost_lower: quantile(&whole, side).map(|x| x.max(0.0)),
        plan_cost_upper: quantile(&whole, 1.0 - side),
        by_month,
        present_value: worth.present_value,
        present_value_lower: quantile(&cases, side),
        present_value_upper: quantile(&cases, 1.0 - side),
        chance_of_loss: chance_of_loss(&cases),
        interval_reason: cases
            .is_empty()
            .then_some("a fit gives no draws, so its error is not known"),
        payback_months: worth.payback_days.map(|d| d / MONTH),
        payback_reason: worth
            .payback_days
            .is_none()
            .then_some("the savings have not made up for dearer months by the end"),
        swings: swings(laws, &both, &costs, &terms, question)?,
        scenarios: scenarios(laws, &costs, &terms, question)?,
        extra_spares: extra_spares(&stock, urgent_hours(study)),
        stock: lines(&stock),
        stock_reason,
        looks: vec![],
        left_out,
        notes: notes(),
        cautions: crate::cautions::always(),
    })
}

fn by_month(both: &[Worlds], terms: &Terms, question: &Question, prices: Pair) -> Vec<MoneyMonth> {
    let side = 0.5 * (1.0 - question.outlook.confidence);
    let mut cumulative = 0.0;
    (0..question.outlook.months)
        .map(|i| {
            let sum = |of: fn(&Worlds) -> &Spreads| {
                let each = both
                    .iter()
                    .map(|w| of(w).get(i).copied().unwrap_or_default());
                let (failures, planned) =
                    each.fold((0.0, 0.0), |a, m| (a.0 + m[0].mean, a.1 + m[1].mean));
                Year {
                    failures,
                    planned,
                    cost: prices.0 * failures + prices.1 * planned,
                }
            };
            let (today, plan) = (sum(|w| &w.today.best), sum(|w| &w.plan.best));
            let cases = drawn(both, |_, plan| money(plan, i, prices));
            let saving = today.cost - plan.cost;
            let discounted = saving * terms.factor(i);
            cumulative += discounted;
            MoneyMonth {
                month: i + 1,
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

fn parts(
    laws: &[PartLaws],
    both: &[Worlds],
    practice: &[GroupPractice],
    months: usize,
    prices: Pair,
) -> Vec<PartMoney> {
    let year = |spreads: &Spreads| {
        let [f, p, _] = spreads.get(months).copied().unwrap_or_default();
        let share = 12.0 / months as f64;
        Year {
            failures: f.mean * share,
            planned: p.mean * share,
            cost: (prices.0 * f.mean + prices.1 * p.mean) * share,
        }
    };
    laws.iter()
        .zip(both)
        .map(|(part, worlds)| {
            let positions = part.running();
            let mine = practice.iter().find(|g| g.key == part.key.0);
            let recorded = mine.and_then(|g| recorded(g, positions, prices));
            let replace_at = part.replace_at;
            PartMoney {
                part: part.key.words(),
                positions,
                replace_at,
                replace_at_reason: replace_at
                    .is_none()
                    .then_some("no replacement age saves anything worth naming"),
                recorded_reason: recorded
                    .is_none()
                    .then_some("no time in service under watch"),
                recorded,
                today: year(&worlds.today.best),
                plan: year(&worlds.plan.best),
            }
        })
        .collect()
}

/// What the records counted, per position and year, for the positions of today.
fn recorded(group: &GroupPractice, positions: f64, prices: Pair) -> Option<Year> {
    let time: f64 = group.sites.iter().map(|s| s.time).sum();
    let failures: u64 = group
        .sites
        .iter()
        .map(|s| s.ended_so(Outcome::Failed))
        .sum();
    let removed: u64 = group
        .sites
        .iter()
        .map(sealspan_records::practice::Practice::removed)
        .sum();
    (time > 0.0).then(|| {
        let a_year = positions * 365.25 / time;
        let (failures, planned) = (
            failures as f64 * a_year,
            (removed - failures) as f64 * a_year,
        );
        Year {
            failures,
            planned,
            cost: prices.0 * failures + prices.1 * planned,
        }
    })
}

fn swings(
    laws: &[PartLaws],
    both: &[Worlds],
    costs: &Costs,
    terms: &Terms,
    question: &Question,
) -> Result<Vec<Swing>> {
    let months = question.outlook.months;
    let (low, high) = (1.0 - MONEY_RANGE, 1.0 + MONEY_RANGE);
    let mut out: Vec<Swing> = MOVED
        .iter()
        .map(|(input, moved)| Swing {
            input,
            low,
            high,
            at_low: present_value(both, terms, months, pair(&moved(costs, low))),
            at_high: present_value(both, terms, months, pair(&moved(costs, high))),
        })
        .collect();
    let stretched = |factor| -> Result<f64> {
        Ok(present_value(
            &worlds(laws, question, Some(factor))?,
            terms,
            months,
            pair(costs),
        ))
    };
    let (short, long) = LIFE_RANGE;
    out.push(Swing {
        input: "life to failure",
        low: short,
        high: long,
        at_low: stretched(short)?,
        at_high: stretched(long)?,
    });
    let width = |s: &Swing| (s.at_high - s.at_low).abs();
    out.retain(|s| width(s) > 0.0);
    out.sort_by(|a, b| width(b).total_cmp(&width(a)));
    Ok(out)
}

fn scenarios(
    laws: &[PartLaws],
    costs: &Costs,
    terms: &Terms,
    question: &Question,
) -> Result<Vec<Scenario>> {
    let [_, _, (_, downtime), ..] = MOVED;
    let one = |name, assumes, hour: f64, life: f64| -> Result<Scenario> {
        let worlds = worlds(laws, question, Some(life))?;
        let prices = pair(&downtime(costs, hour));
        let months = question.outlook.months;
        Ok(Scenario {
            name,
            assumes,
            present_value: present_value(&worlds, terms, months, prices),
        })
    };
    Ok(vec![
        one(
            "mild",
            "an hour down costs a quarter less, and seals last a tenth longer",
            0.75,
            1.1,
        )?,
        one(
            "as estimated",
            "prices as stated, lives as fitted",
            1.0,
            1.0,
        )?,
        one(
            "hard",
            "an hour down costs a quarter more, and seals last a tenth less",
            1.25,
            0.9,
        )?,
    ])
}

fn notes() -> Vec<String> {
    [
        "Today is what the records show done: scheduled changes, findings, damage and changes while open, each a law of its own. The plan puts one replacement age in the place of the scheduled changes; looks and what they find stay as they are, so their own cost falls out of the difference.",
        "Seals past the plan's age are changed at once, in the first month: it is dearer than the others.",
        "Interval and chance of loss hold the error of the estimated lives and the chance of the seals in both worlds; parts are taken as independent, money within a draw as nearly normal.",
        "Stock costs stand apart: they are not in the monthly money.",
    ]
    .map(str::to_owned)
    .to_vec()
}
