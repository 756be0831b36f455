//! `depot`: how to split spares between one depot and its sites.

use super::demand::parts;
use crate::Answer;
use crate::args::Depot;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::table::table;
use sealspan_care::costs::Costs;
use sealspan_care::plan::Request;
use sealspan_care::spares::depot::{Chain, Method, Site, Split};
use sealspan_care::spares::play::Seen;
use sealspan_care::spares::transfer::{Member, Together, play_together};
use sealspan_life::laws;
use sealspan_records::{Clock, Question, ask};
use sealspan_report::analysis::{lives, planned, prices, spares};
use sealspan_report::number;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    sites: Vec<String>,
    method: Method,
    /// The best split of every number of spares up to that asked for.
    splits: Vec<Split>,
    /// All spares of the last split at the sites alone, as near in proportion as whole seals go.
    without_depot: Option<Split>,
    transfer: Option<Transfer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    transfer_reason: Option<&'static str>,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct Transfer {
    waiting_alone: f64,
    waiting_alone_error: f64,
    waiting_helped: f64,
    waiting_helped_error: f64,
    transfers_per_year: f64,
    transferred_share: f64,
}

const HOURS_PER_YEAR: f64 = 24.0 * 365.25;

pub fn run(args: &Depot) -> Answer {
    let (names, rates, lead) = match &args.input {
        Some(input) => from_study(input, args.depot_lead_time)?,
        None => stated(args)?,
    };
    let transit: Vec<f64> = match args.transit.as_slice() {
        [one] => vec![*one; rates.len()],
        many if many.len() == rates.len() => many.to_vec(),
        many => {
            return Err(Failure::argument(
                format!(
                    "{} transit times are given for {} sites",
                    many.len(),
                    rates.len()
                ),
                "give one for each site, or one for all",
            ));
        }
    };
    let sites = rates.iter().zip(&transit);
    let chain = Chain {
        sites: sites
            .map(|(r, t)| Site {
                demand_rate: *r,
                transit: *t,
                weight: 1.0,
            })
            .collect(),
        depot_lead: lead,
    }
    .checked()?;
    let method = chain.finest();
    let splits = chain.best_splits(args.spares as usize, method)?;
    let last = splits.last();
    let without_depot = last.map(|s| near(&chain, s.total, method)).transpose()?;
    let transfer = match (args.transfer_time, &without_depot) {
        (Some(days), Some(split)) => Some(helped(args, &chain, split, lead, days)?),
        _ => None,
    };
    let document = Document {
        schema: "sealspan.depot.v1",
        sites: names,
        method,
        without_depot,
        transfer_reason: transfer.is_none().then_some("not asked for: add --transfer-time"),
        transfer,
        splits,
        notes: vec![
            "Demands come as a Poisson stream at each site; every seal taken is re-ordered at the depot, first come first served, and the depot re-orders from outside.".to_owned(),
            "Best splits of neighbouring totals may be far apart: move stock by the whole row, not a seal at a time.".to_owned(),
        ],
    };
    Ok(Output::new(args.format.format, document, text))
}

fn stated(args: &Depot) -> Result<(Vec<String>, Vec<f64>, f64), Failure> {
    if args.demand_rates.is_empty() {
        return Err(Failure::argument(
            "there is no demand to cover",
            "give a study file, or state --demand-rates",
        ));
    }
    let lead = args.depot_lead_time.ok_or_else(|| {
        Failure::argument(
            "the depot's lead time is not known",
            "add --depot-lead-time",
        )
    })?;
    let names = (1..=args.demand_rates.len())
        .map(|i| format!("site {i}"))
        .collect();
    Ok((names, args.demand_rates.clone(), lead))
}

/// Failures a day at each site of the study, all parts together.
fn from_study(input: &Path, lead: Option<f64>) -> Result<(Vec<String>, Vec<f64>, f64), Failure> {
    let records = input::records(input, None)?;
    let question = Question {
        by: parts(&records),
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    let answer = ask(&records, &question)?;
    let terms = prices::stock(&records.study)
        .map_err(|why| Failure::input(why, "add it to the study file, or state --demand-rates"))?;
    let costs = Costs::new(prices::replacement(&records.study), Clock::Days)?;
    let [family, ..] = laws::all();
    let groups = lives::groups(&answer, family, 1);
    let mut sites: BTreeMap<String, f64> = BTreeMap::new();
    let plans = planned::plans_of(&records, &question, &groups, &costs, Request::default(), 1);
    for place in spares::places(
        (&records, &question),
        &groups,
        (&costs, &records.study),
        &terms,
        &plans,
    )?
    .places
    {
        *sites.entry(place.place).or_insert(0.0) += place.unplanned_per_day;
    }
    let (names, rates) = sites.into_iter().unzip();
    Ok((names, rates, lead.unwrap_or(terms.lead_time)))
}

/// Every spare at a site, given out in proportion to the demand, largest shortfall first.
fn near(chain: &Chain, total: usize, method: Method) -> Result<Split, Failure> {
    let demand: f64 = chain.sites.iter().map(|s| s.demand_rate).sum();
    let mut held = vec![0usize; chain.sites.len()];
    for n in 1..=total {
        let short =
            |(site, held): (&Site, &usize)| site.demand_rate / demand * n as f64 - *held as f64;
        let gaps = chain.sites.iter().zip(&held).map(short);
        let next = gaps
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        if let Some(slot) = next.and_then(|(i, _)| held.get_mut(i)) {
            *slot += 1;
        }
    }
    Ok(chain.given(0, &held, method)?)
}

/// The sites by themselves with the depot's lead time and their transit, with and without help.
fn helped(
    args: &Depot,
    chain: &Chain,
    split: &Split,
    lead: f64,
    days: f64,
) -> Result<Transfer, Failure> {
    let members: Vec<Member> = chain
        .sites
        .iter()
        .zip(&split.sites)
        .map(|(s, a)| Member {
            demand_rate: s.demand_rate,
            stock: a.stock,
        })
        .collect();
    let transit: f64 =
        chain.sites.iter().map(|s| s.transit).sum::<f64>() / chain.sites.len() as f64;
    let alone = Together {
        lead_time: lead + transit,
        transfer_time: None,
        urgent: false,
    };
    let play = |rules| play_together(&members, rules, args.demands as usize, args.seed);
    let (before, after) = (
        play(alone)?,
        play(Together {
            transfer_time: Some(days),
            ..alone
        })?,
    );
    let Seen { value, error } = after.waiting;
    Ok(Transfer {
        waiting_alone: before.waiting.value,
        waiting_alone_error: before.waiting.error,
        waiting_helped: value,
        waiting_helped_error: error,
        transfers_per_year: after.transfers.value * 365.25,
        transferred_share: after.transferred.value,
    })
}

fn text(d: &Document) -> String {
    let mut head = vec!["spares".to_owned(), "depot".to_owned()];
    head.extend(d.sites.clone());
    head.extend(["waiting, hours a year".to_owned(), "met at once".to_owned()]);
    let rows: Vec<Vec<String>> = d
        .splits
        .iter()
        .map(|s| row(&s.total.to_string(), s))
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let mut out = format!(
        "best split between depot and sites ({})\n{}\n\n",
        words(d.method),
        table(&head, &rows)
    );
    if let Some(split) = &d.without_depot {
        out.push_str(&format!(
            "  with all {} at the sites in proportion, positions wait {} hours a year\n",
            split.total,
            number::significant(split.backorders * HOURS_PER_YEAR, 3)
        ));
    }
    if let Some(t) = &d.transfer {
        out.push_str(&format!(
            "  sites that help each other out: {} hours of waiting a year instead of {} (played, ± {}), {} transfers a year\n",
            number::significant(t.waiting_helped * HOURS_PER_YEAR, 3),
            number::significant(t.waiting_alone * HOURS_PER_YEAR, 3),
            number::significant(t.waiting_helped_error * HOURS_PER_YEAR, 1),
            number::significant(t.transfers_per_year, 3)
        ));
    }
    for note in &d.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}

fn words(method: Method) -> &'static str {
    match method {
        Method::Mean => "by the depot's mean delay",
        Method::TwoMoments => "by mean and variance of the depot's backorders",
        Method::Exact => "exact",
    }
}

fn row(name: &str, split: &Split) -> Vec<String> {
    let demand: f64 = split.sites.iter().map(|s| s.on_order).sum();
    let met: f64 = split.sites.iter().map(|s| s.on_order * s.fill_rate).sum();
    let mut row = vec![name.to_owned(), split.depot.stock.to_string()];
    row.extend(split.sites.iter().map(|s| s.stock.to_string()));
    row.push(number::significant(split.backorders * HOURS_PER_YEAR, 3));
    row.push(number::percent(if demand > 0.0 {
        met / demand
    } else {
        1.0
    }));
    row
}
