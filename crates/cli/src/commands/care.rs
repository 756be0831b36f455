//! `care`: the age at which to replace a seal, from records or a stated life.

use crate::Answer;
use crate::args::{Care, GoalArg, PriceArgs};
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::replacement::Goal;
use sealspan_life::life::Life;
use sealspan_records::{Clock, Study};
use sealspan_report::analysis::lives::{GroupLife, groups, together};
use sealspan_report::analysis::prices;
use sealspan_report::cautions;
use sealspan_report::number;
use sealspan_report::wire::care::{CareBlock, CareDocument, CareQuestion, GroupCare, block};

pub fn run(args: &Care) -> Answer {
    let (clock, study, asked) = source(args)?;
    let given = with_arguments(prices::replacement(&study), &args.prices);
    if given.failure_cost <= 0.0 && given.failure_hours * given.downtime_cost <= 0.0 {
        return Err(Failure::argument(
            "what a failure costs is not known",
            "give --planned-cost and --failure-cost (or hours down and --downtime-cost), or a study with [costs]",
        ));
    }
    let costs = Costs::new(given, clock)?;
    let question = CareQuestion {
        costs: &costs,
        goal: match args.goal {
            GoalArg::Cost => Goal::Cost,
            GoalArg::Availability => Goal::Availability,
        },
        replace_at: args.replace_at,
        confidence: args.confidence,
        seed: args.seed,
    };
    let _progress = Progress::start("weighing replacement ages");
    let (all, groups) = match asked {
        None => {
            let text = args.life.as_deref().unwrap_or_default();
            let life = Life::parse(text).map_err(|why| {
                Failure::argument(why, "for example --life weibull:shape=2.5,scale=1000")
            })?;
            (block(&life, &[], None, &question)?, vec![])
        }
        Some(asked) => from_records(&asked, args, &question)?,
    };
    let document = CareDocument {
        schema: "sealspan.care.v1",
        unit: clock.unit(),
        goal: question.goal,
        all,
        groups,
        cautions: cautions::always(),
    };
    let currency = study.currency.unwrap_or_default();
    Ok(Output::new(args.format.format, document, move |d| {
        text(d, &currency)
    }))
}

/// The clock, the study's costs, and the records if there are any.
fn source(args: &Care) -> Result<(Clock, Study, Option<Asked>), Failure> {
    match (&args.input, &args.life) {
        (Some(input), None) => {
            let asked = input::asked(input, &args.question)?;
            Ok((
                asked.question.clock,
                asked.records.study.clone(),
                Some(asked),
            ))
        }
        (None, Some(_)) => {
            let clock = args.question.clock.map_or(Clock::Days, Into::into);
            Ok((clock, Study::default(), None))
        }
        _ => Err(Failure::argument(
            "there is no life to decide on",
            "give a study or table of records, or state a life with --life",
        )),
    }
}

fn with_arguments(prices: Prices, args: &PriceArgs) -> Prices {
    Prices {
        planned_cost: args.planned_cost.unwrap_or(prices.planned_cost),
        failure_cost: args.failure_cost.unwrap_or(prices.failure_cost),
        planned_hours: args.planned_hours.unwrap_or(prices.planned_hours),
        failure_hours: args.failure_hours.unwrap_or(prices.failure_hours),
        downtime_cost: args.downtime_cost.unwrap_or(prices.downtime_cost),
        discount_rate: args.discount_rate.unwrap_or(prices.discount_rate),
    }
}

fn from_records(
    asked: &Asked,
    args: &Care,
    question: &CareQuestion,
) -> Result<(CareBlock, Vec<GroupCare>), Failure> {
    let family = input::family(&args.family)?;
    let answer = |group: &GroupLife| -> Result<CareBlock, Failure> {
        let fitted = group.fitted.as_ref().map_err(|why| {
            Failure::unanswerable(
                why.to_string(),
                "wait for more failures, or state a life with --life",
            )
        })?;
        Ok(block(
            &fitted.life,
            &fitted.draws,
            Some(group.sample.oldest()),
            question,
        )?)
    };
    let all = answer(&together(&asked.answer, family, args.seed))?;
    if args.question.by.is_empty() {
        return Ok((all, vec![]));
    }
    let groups = groups(&asked.answer, family, args.seed)
        .iter()
        .map(|group| {
            let result = answer(group);
            GroupCare {
                group: group.key.clone(),
                reason: result.as_ref().err().map(Failure::message),
                block: result.ok(),
            }
        })
        .collect();
    Ok((all, groups))
}

fn text(d: &CareDocument, currency: &str) -> String {
    let mut out = String::new();
    if d.groups.is_empty() {
        out.push_str(&block_text("", &d.all, d, currency));
    } else {
        for g in &d.groups {
            match (&g.block, &g.reason) {
                (Some(block), _) => out.push_str(&block_text(&g.group.words(), block, d, currency)),
                (None, reason) => out.push_str(&format!(
                    "{}: no advice: {}\n",
                    g.group.words(),
                    reason.as_deref().unwrap_or("no reason known")
                )),
            }
            out.push('\n');
        }
        out.push_str(&block_text("all seals", &d.all, d, currency));
    }
    out.push_str("\nmind\n");
    for caution in &d.cautions {
        out.push_str(&format!("  {caution}\n"));
    }
    out
}

/// Share of time up; nothing where no hours down were given.
fn time_up(share: Option<f64>) -> String {
    share
        .filter(|a| *a < 1.0)
        .map_or_else(String::new, number::percent)
}

/// How much worse an age is than the best one, in the goal's own measure.
fn extra(share: f64, goal: Goal) -> String {
    let sign = if share < 0.0 { "\u{2212}" } else { "+" };
    let of = match goal {
        Goal::Cost => "",
        Goal::Availability => " time down",
    };
    format!("{sign}{}{of}", number::percent(share.abs()))
}

fn block_text(name: &str, b: &CareBlock, d: &CareDocument, currency: &str) -> String {
    let unit = d.unit;
    let one = unit.strip_suffix('s').unwrap_or(unit);
    let rate = |x: f64| format!("{} per {one}", number::money(x, currency));
    let mut out = String::new();
    let lead = if name.is_empty() {
        String::new()
    } else {
        format!("{name}: ")
    };
    let r = &b.replace;
    match (r.age, &r.reason) {
        (Some(_), _) if b.far_beyond_records => out.push_str(&format!(
            "{lead}no advice: the best age lies beyond twice the oldest seal seen, where only the law speaks; the figures below show what it would say\n"
        )),
        (Some(age), _) => out.push_str(&format!(
            "{lead}replace at {} {unit}: {}, {} less than on failure only; {} of seals fail before that age\n",
            number::significant(age, 3),
            rate(r.cost_rate),
            number::percent(r.saving),
            number::percent(r.failure_probability),
        )),
        (None, reason) => out.push_str(&format!(
            "{lead}replace on failure only: {}\n  {}\n",
            rate(r.cost_rate),
            reason.as_deref().unwrap_or_default()
        )),
    }
    let mut rows = vec![vec![
        "on failure only".to_owned(),
        String::new(),
        rate(b.run_to_failure.cost_rate),
        time_up(b.run_to_failure.availability),
    ]];
    if let Some(age) = r.age {
        rows.insert(
            0,
            vec![
                "this advice".to_owned(),
                number::significant(age, 3),
                rate(r.cost_rate),
                time_up(r.availability),
            ],
        );
        for (label, off) in [
            ("a quarter early", &r.quarter_early),
            ("a quarter late", &r.quarter_late),
        ] {
            if let Some(off) = off {
                rows.push(vec![
                    label.to_owned(),
                    number::significant(off.age, 3),
                    format!(
                        "{} ({})",
                        rate(off.cost_rate),
                        extra(off.extra_share, d.goal)
                    ),
                    String::new(),
                ]);
            }
        }
    }
    out.push_str(&table(
        &["", &format!("age, {unit}"), "cost", "time up"],
        &rows,
    ));
    out.push('\n');
    if let Some((low, high)) = &r.flat_zone {
        let high = high.map_or_else(|| "never".to_owned(), |h| number::significant(h, 3));
        out.push_str(&format!(
            "  within 2 % of the least {}: from {} to {high} {unit}\n",
            d.goal.measure(),
            number::significant(*low, 3)
        ));
    }
    if let Some(ratio) = r.pays_from_ratio {
        out.push_str(&format!(
            "  replacing by age pays when a failure costs more than {} times a planned replacement\n",
            number::significant(ratio, 3)
        ));
    }
    match &b.uncertainty {
        Some(u) => {
            let level = number::level(u.confidence);
            out.push_str(&format!(
                "  what the estimated life leaves open: cost {} to {} ({level} interval)",
                rate(u.cost_rate.0),
                rate(u.cost_rate.1)
            ));
            if let Some((low, high)) = u.best_age {
                let high = high.map_or_else(|| "never".to_owned(), |h| number::significant(h, 3));
                out.push_str(&format!(
                    "; best age {} to {high} {unit}",
                    number::significant(low, 3)
                ));
            }
            out.push_str(&format!(
                "; dearer than waiting for failures in {:.0} of {} lives drawn\n",
                u.worse_than_failure * u.draws as f64,
                u.draws
            ));
        }
        None => out.push_str(&format!(
            "  no interval: {}\n",
            b.uncertainty_reason.as_deref().unwrap_or("no reason known")
        )),
    }
    out.push_str(&format!(
        "  played event by event over {} seals: {} (standard error {})\n",
        number::count(b.simulated.seals as u64),
        rate(b.simulated.cost_rate),
        number::significant(b.simulated.std_error, 2)
    ));
    for note in r.notes.iter().chain(&b.notes) {
        out.push_str(&format!("  {note}\n"));
    }
    out
}
