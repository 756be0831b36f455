//! `stock`: how many spare seals to hold, from a study or a stated demand.

use crate::Answer;
use crate::args::{ShortageArg, Stock};
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_care::costs::Costs;
use sealspan_care::plan::Request;
use sealspan_care::spares::lots::{self, Fate, Lot};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_life::laws;
use sealspan_records::{Clock, Question, ask};
use sealspan_report::analysis::{lives, planned, prices, spares};
use sealspan_report::number;
use sealspan_report::wire::budget::{Budget, budget};
use sealspan_report::wire::stock::{
    PartJoint, PlaceStock, StockDocument, Thumb, frontier, hold_words,
};
use std::path::Path;

pub fn run(args: &Stock) -> Answer {
    if let Some(life) = &args.life {
        return super::fleet_stock::run(args, life);
    }
    let (document, currency) = match (&args.input, args.demand_rate) {
        (Some(input), None) => from_study(input, args)?,
        (None, Some(rate)) => (stated(args, rate)?, String::new()),
        _ => {
            return Err(Failure::argument(
                "there is no demand to cover",
                "give a study file, or state a demand with --demand-rate",
            ));
        }
    };
    let mut document = document;
    if let Some(money) = args.budget {
        document.budget = Some(budget(&document.places, money, args.target_fill_rate)?);
    }
    Ok(Output::new(args.format.format, document, move |d| {
        text(d, &currency)
    }))
}

fn stated(args: &Stock, demand_rate: f64) -> Result<StockDocument, Failure> {
    let need = |value: Option<f64>, name: &str| {
        value.ok_or_else(|| {
            Failure::argument(format!("--demand-rate needs {name}"), format!("add {name}"))
        })
    };
    let shortage_cost = need(args.shortage_cost, "--shortage-cost")?;
    let terms = StockTerms {
        demand_rate,
        lead_time: need(args.lead_time, "--lead-time")?,
        holding_cost: need(args.holding_cost, "--holding-cost")?,
        shortage: shortage(args.shortage, shortage_cost),
        order_cost: args.order_cost.unwrap_or(0.0),
        unit_price: args.unit_price,
        target_fill_rate: args.target_fill_rate,
        shelf_life: args.shelf_life,
        age_on_arrival: args.age_on_arrival.unwrap_or(0.0),
        lead_time_deviation: args.lead_time_deviation.unwrap_or(0.0),
    };
    let places = vec![PlaceStock {
        place: "stated".to_owned(),
        part: "seal".to_owned(),
        positions: None,
        unplanned_per_day: demand_rate,
        planned_per_day: 0.0,
        unit_price: args.unit_price,
        answer: terms.answer()?,
    }];
    let frontier = frontier(&places);
    Ok(StockDocument {
        schema: "sealspan.stock.v1",
        frontier_reason: frontier
            .is_empty()
            .then(|| "needs --unit-price, and demands that wait (--shortage backorder)".to_owned()),
        frontier,
        rule_of_thumb: vec![],
        budget: None,
        write_off: lots::fates(&named_lots(&args.lots)?, demand_rate)?,
        joint: vec![],
        shelf_life: args.shelf_life,
        shelf_life_source: None,
        places,
        left_out: vec![],
    })
}

/// Lots as named: days left, a colon, seals.
fn named_lots(named: &[String]) -> Result<Vec<Lot>, Failure> {
    let lot = |text: &String| {
        let (days, n) = text.split_once(':')?;
        let days_left = days.trim().parse::<f64>().ok().filter(|d| d.is_finite())?;
        Some(Lot {
            days_left,
            count: n.trim().parse().ok()?,
        })
    };
    let read = |text: &String| {
        lot(text).ok_or_else(|| {
            Failure::argument(
                format!("--lots {text} is not a lot"),
                "write it as 90:3: three seals whose last day is in 90 days",
            )
        })
    };
    named.iter().map(read).collect()
}

fn shortage(kind: ShortageArg, cost: f64) -> Shortage {
    match kind {
        ShortageArg::Backorder => Shortage::Backorder { cost_per_day: cost },
        ShortageArg::Urgent => Shortage::Urgent {
            cost_per_order: cost,
        },
    }
}

/// The study's own demand: the best care policy of each material at each site.
fn from_study(input: &Path, args: &Stock) -> Result<(StockDocument, String), Failure> {
    let records = input::records(input, None)?;
    let study = &records.study;
    let question = Question {
        by: vec!["material".to_owned()],
        clock: Clock::Days,
        mode: study.question.mode.clone(),
    };
    let answer = ask(&records, &question)?;
    let mut terms = prices::stock(study).map_err(|why| {
        Failure::input(
            why,
            "add it to the study file, or state a demand with --demand-rate",
        )
    })?;
    if let Some(cost) = args.shortage_cost {
        terms.shortage = shortage(args.shortage, cost);
    }
    terms.lead_time = args.lead_time.unwrap_or(terms.lead_time);
    terms.holding_cost = args.holding_cost.unwrap_or(terms.holding_cost);
    terms.order_cost = args.order_cost.unwrap_or(terms.order_cost);
    terms.unit_price = args.unit_price.or(terms.unit_price);
    terms.target_fill_rate = args.target_fill_rate;
    terms.shelf_life = args.shelf_life.or(terms.shelf_life);
    terms.age_on_arrival = args.age_on_arrival.unwrap_or(terms.age_on_arrival);
    terms.lead_time_deviation = args
        .lead_time_deviation
        .unwrap_or(terms.lead_time_deviation);
    let costs = Costs::new(prices::replacement(study), Clock::Days)?;
    let _progress = Progress::start("sizing stocks");
    let [family, ..] = laws::all();
    let groups = lives::groups(&answer, family, 1);
    let plans = planned::plans_of(&records, &question, &groups, &costs, Request::default(), 1);
    let mut document = spares::places(
        (&records, &question),
        &groups,
        (&costs, &records.study),
        &terms,
        &plans,
    )?;
    if args.joint {
        document.joint = spares::together(&groups, (&costs, &records.study.costs), &terms)?;
    }
    Ok((document, study.currency.clone().unwrap_or_default()))
}

fn text(d: &StockDocument, currency: &str) -> String {
    let mut out = String::new();
    let rows: Vec<Vec<String>> = d
        .places
        .iter()
        .map(|p| {
            let per_year = number::significant(p.unplanned_per_day * 365.25, 3);
            let name = format!("{}, {}", p.place, p.part);
            match &p.answer.best {
                Some(best) => vec![
                    name,
                    p.positions.map_or_else(String::new, |n| n.to_string()),
                    per_year,
                    hold_words(best),
                    if p.answer.demand.mean > 0.0 {
                        number::percent(best.level.fill_rate)
                    } else {
                        "no demand".to_owned()
                    },
                    format!(
                        "{} per year",
                        number::money(best.level.cost_rate * 365.25, currency)
                    ),
                ],
                None => vec![
                    name,
                    String::new(),
                    per_year,
                    "none".to_owned(),
                    String::new(),
                    p.answer.best_reason.clone().unwrap_or_default(),
                ],
            }
        })
        .collect();
    out.push_str(&table(
        &[
            "place and part",
            "positions",
            "failures a year",
            "hold",
            "met at once",
            "stock costs",
        ],
        &rows,
    ));
    out.push_str("\n\n");
    if let [only] = d.places.as_slice() {
        let rows: Vec<Vec<String>> = only
            .answer
            .levels
            .iter()
            .map(|l| {
                vec![
                    l.stock.to_string(),
                    number::percent(l.fill_rate),
                    l.ready_rate.map_or_else(String::new, number::percent),
                    number::significant(l.expected_backorders, 3),
                    number::significant(l.expected_on_hand, 3),
                    number::money(l.cost_rate * 365.25, currency),
                ]
            })
            .collect();
        let batches = only.answer.best.as_ref().and_then(|b| b.order_quantity) > Some(1);
        if batches {
            out.push_str("if every seal taken were re-ordered by itself:\n");
        }
        out.push_str(&table(
            &[
                "hold",
                "met at once",
                "time without a backorder",
                "mean waiting",
                "mean on the shelf",
                "cost a year",
            ],
            &rows,
        ));
        out.push_str("\n\n");
        for note in &only.answer.notes {
            out.push_str(&format!("  {note}\n"));
        }
        if d.shelf_life.is_some()
            && let Some(best) = &only.answer.best
        {
            out.push_str(&format!("  scrapped for age: {}\n", best.scrap_rate_reason));
        }
    }
    if !d.write_off.is_empty() {
        out.push_str(&write_off_text(&d.write_off));
    }
    if let Some(b) = &d.budget {
        out.push_str(&budget_text(b, currency));
    }
    if !d.joint.is_empty() {
        out.push_str(&joint_text(&d.joint, currency));
    }
    for place in &d.left_out {
        out.push_str(&format!("  left out: {place}\n"));
    }
    if let Some(source) = &d.shelf_life_source {
        out.push_str(&format!("  shelf life as cited by the study: {source}\n"));
    }
    out.push_str(
        "  common practice, no source: one spare for a lone asset, about two for several (each re-ordered as it is taken)\n",
    );
    for thumb in &d.rule_of_thumb {
        out.push_str(&thumb_text(thumb, currency));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}

/// What the rule of thumb costs at a place, where that is something.
fn thumb_text(t: &Thumb, currency: &str) -> String {
    if t.rule == t.advised {
        return String::new();
    }
    let hours = t.extra_hours_per_year.map_or_else(String::new, |h| {
        format!(
            ", {} hours of waiting a year {}",
            number::significant(h.abs(), 2),
            if h > 0.0 { "more" } else { "less" }
        )
    });
    format!(
        "    {}, {}: {} is too {}, {} is best; the difference costs {} a year{hours}\n",
        t.place,
        t.part,
        t.rule,
        if t.rule < t.advised { "few" } else { "many" },
        t.advised,
        number::money(t.extra_cost_per_year, currency)
    )
}

fn write_off_text(fates: &[Fate]) -> String {
    let rows: Vec<Vec<String>> = fates
        .iter()
        .map(|f| {
            vec![
                number::significant(f.days_left, 4),
                f.count.to_string(),
                number::significant(f.expected_written_off, 3),
                number::percent(f.chance),
            ]
        })
        .collect();
    format!(
        "on the shelf now, the seal that goes out of date first issued first\n{}\n\n",
        table(
            &[
                "last day in, days",
                "seals",
                "written off on average",
                "chance of any"
            ],
            &rows
        )
    )
}

/// Rows of the efficient curve in the text.
const CURVE_ROWS: usize = 10;

fn budget_text(b: &Budget, currency: &str) -> String {
    let rows: Vec<Vec<String>> = b
        .stock
        .iter()
        .map(|s| vec![format!("{}, {}", s.place, s.part), s.stock.to_string()])
        .collect();
    let next = b.next.as_ref().map_or_else(
        || "one seal more would take off nothing worth a step".to_owned(),
        |n| {
            format!(
                "one seal more on the efficient curve costs {} and takes off {} hours a year",
                number::money(n.costs, currency),
                number::significant(n.saves_hours_per_year, 3)
            )
        },
    );
    let stride = b.curve.len().div_ceil(CURVE_ROWS).max(1);
    let curve: Vec<Vec<String>> = b
        .curve
        .iter()
        .step_by(stride)
        .map(|p| {
            vec![
                number::money(p.investment, currency),
                p.seals.to_string(),
                number::significant(p.downtime_hours_per_year, 3),
            ]
        })
        .collect();
    format!(
        "stocks for a budget of {}\n{}\n  {} spent; positions wait {} hours a year in all{}, each demand on an empty shelf for the normal order; {next}\n\nmoney against waiting, on the efficient curve\n{}\n\n",
        number::money(b.budget, currency),
        table(&["place and part", "hold"], &rows),
        number::money(b.spent, currency),
        number::significant(b.downtime_hours_per_year, 3),
        if b.exact { " (the best of all)" } else { "" },
        table(&["money tied up", "seals", "waiting, hours a year"], &curve),
    )
}

fn joint_text(joint: &[PartJoint], currency: &str) -> String {
    let age =
        |a: Option<f64>| a.map_or_else(|| "on failure".to_owned(), |a| number::significant(a, 4));
    let rows: Vec<Vec<String>> = joint
        .iter()
        .map(|j| {
            let (both, first) = (&j.joint.together, &j.joint.age_first);
            vec![
                format!("{}, {}", j.place, j.part),
                age(both.replace_at),
                both.stock.to_string(),
                age(first.replace_at),
                first.stock.to_string(),
                number::money(j.joint.saving * 365.25, currency),
            ]
        })
        .collect();
    format!(
        "replacement age and stock chosen together\n{}\n\n",
        table(
            &[
                "place and part",
                "replace at, days",
                "hold",
                "age by itself",
                "then hold",
                "together saves a year"
            ],
            &rows
        )
    )
}
