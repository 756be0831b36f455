//! `money`: what the plan saves against today's practice, month by month, with its risk.

use super::demand::{parts, spread_of};
use crate::Answer;
use crate::args::Money;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_care::costs::Costs;
use sealspan_life::laws;
use sealspan_records::{Clock, Question, Study, ask};
use sealspan_report::analysis::finance::{Found, Options, money};
use sealspan_report::analysis::lives::groups;
use sealspan_report::analysis::planned::plans_of;
use sealspan_report::analysis::run::stocked;
use sealspan_report::analysis::{money_prices, prices};
use sealspan_report::document::Table;
use sealspan_report::number;
use sealspan_report::story::{bought, own_ages, place_money};
use sealspan_report::wire::money::{MoneyDocument, PartMoney, Year};
use sealspan_report::xlsx::workbook;

pub fn run(args: &Money) -> Answer {
    let mut records = input::records(&args.input, None)?;
    if let Some(odd) = args
        .leave_out
        .iter()
        .find(|k| !money_prices::keys().contains(&k.as_str()))
    {
        return Err(Failure::argument(
            format!("--leave-out {odd} is no item of cost"),
            format!("choose from {}", money_prices::keys().join(", ")),
        ));
    }
    let counted = Study {
        costs: money_prices::counted(&records.study.costs, &args.leave_out),
        ..records.study.clone()
    };
    let costs = Costs::new(prices::replacement(&counted), Clock::Days)?;
    let _progress = Progress::start("counting money");
    let question = Question {
        by: parts(&records),
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    records.study.question.by.clone_from(&question.by);
    let [family, ..] = laws::all();
    let lives = groups(&ask(&records, &question)?, family, args.seed);
    let request = args.steps.request();
    let plans = plans_of(&records, &question, &lives, &costs, request, args.seed);
    let stock = stocked(
        (&records, &question),
        &lives,
        (Ok(&costs), &counted),
        &plans,
    );
    let found = Found {
        lives: &lives,
        plans: &plans,
        stock: stock.as_ref().map_err(Clone::clone),
        costs: &costs,
    };
    let spread = spread_of(&records, args.batch_spread, args.seed)?;
    let options = Options {
        months: args.months as usize,
        confidence: args.confidence,
        seed: args.seed,
        replace: request.replace,
        batch_spread: spread.value,
        left_out: args.leave_out.clone(),
    };
    let mut answer = money(&records, &question, family, &found, &options)
        .map_err(|why| Failure::unanswerable(why, "see what the records hold with check"))?
        .money;
    answer.notes.extend(spread.note);
    if let Some(path) = &args.spreadsheet {
        let bytes = workbook(&answer, &counted)
            .map_err(|why| Failure::unanswerable(why, "leave out --spreadsheet"))?;
        sealspan_records::write::write_bytes(&bytes, path)?;
    }
    let written = args.spreadsheet.as_ref().map(|p| p.display().to_string());
    Ok(Output::new(args.format.format, answer, move |d| {
        text(d, written.as_deref())
    }))
}

fn text(d: &MoneyDocument, written: Option<&str>) -> String {
    let money = |x: f64| number::money(x, &d.currency);
    let mut out = headline(d);
    out.push_str("what a failure and a planned change cost\n");
    out.push_str(&build_up(d));
    out.push_str("\n\na year, part by part\n");
    out.push_str(&parts_table(d));
    out.push_str(&places(d));
    out.push_str("\n\nmonth by month\n");
    let rows: Vec<Vec<String>> = d
        .by_month
        .iter()
        .map(|m| {
            let ends = m.plan_lower.zip(m.plan_upper);
            vec![
                m.month.to_string(),
                money(m.today.cost),
                money(m.plan.cost),
                ends.map_or_else(String::new, |(a, b)| {
                    format!("{} to {}", money(a), money(b))
                }),
                money(m.saving),
                money(m.cumulative),
            ]
        })
        .collect();
    out.push_str(&table(
        &[
            "month",
            "today's practice",
            "plan",
            &format!("{} interval", number::level(d.confidence)),
            "saving",
            "sum so far, worth now",
        ],
        &rows,
    ));
    out.push_str("\n\nwhat moves the saving (present value)\n");
    let rows: Vec<Vec<String>> = d
        .swings
        .iter()
        .map(|s| {
            let share = |x: f64| number::percent(x);
            vec![
                s.input.to_owned(),
                format!("{} to {}", share(s.low), share(s.high)),
                money(s.at_low),
                money(s.at_high),
            ]
        })
        .collect();
    out.push_str(&table(
        &[
            "input by itself",
            "of its value",
            "at the low",
            "at the high",
        ],
        &rows,
    ));
    out.push_str("\n\n");
    out.push_str(&extra(d));
    for s in &d.scenarios {
        out.push_str(&format!(
            "  {}: {} ({})\n",
            s.name,
            money(s.present_value),
            s.assumes
        ));
    }
    for line in d
        .left_out
        .iter()
        .map(|l| format!("left out: {l}"))
        .chain(d.notes.clone())
    {
        out.push_str(&format!("  {line}\n"));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    if let Some(path) = written {
        out.push_str(&format!("the workbook is {path}\n"));
    }
    out
}

/// A year of each place, and ages of a place's or a duty's own.
fn places(d: &MoneyDocument) -> String {
    let shown = |t: Table| {
        let heads: Vec<&str> = t.columns.iter().map(|c| c.0.as_str()).collect();
        format!("\n\n{}\n{}", t.caption, table(&heads, &t.rows))
    };
    let ages = [
        (own_ages::duties_sentence(d), own_ages::duties(d)),
        (own_ages::sites_sentence(d), own_ages::sites(d)),
    ];
    let listed = ages.iter().any(|(_, table)| table.is_some());
    let mut out: String = place_money::places(d).map(shown).into_iter().collect();
    out.extend(place_money::contradicted(d).map(|s| format!("\n\n{s}")));
    for (sentence, table) in ages {
        out.extend(sentence.map(|s| format!("\n\n{s}")));
        out.extend(table.map(shown));
    }
    if listed {
        out.push_str(&format!("\n  {}", own_ages::NOTE));
    }
    out
}

/// What each extra spare and each extra look buys.
fn extra(d: &MoneyDocument) -> String {
    let mut out = String::new();
    if let Some(t) = bought::spares(&d.extra_spares, &d.currency) {
        let heads: Vec<&str> = t.columns.iter().map(|c| c.0.as_str()).collect();
        out.push_str(&format!("{}\n{}\n\n", t.caption, table(&heads, &t.rows)));
    }
    if let Some(t) = bought::looks(&d.looks, d.confidence, &d.currency) {
        let heads: Vec<&str> = t.columns.iter().map(|c| c.0.as_str()).collect();
        out.push_str(&format!("{}\n{}\n\n", t.caption, table(&heads, &t.rows)));
    }
    for line in bought::not_judged(&d.looks) {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

fn headline(d: &MoneyDocument) -> String {
    let money = |x: f64| number::money(x, &d.currency);
    let interval = match (
        d.present_value_lower,
        d.present_value_upper,
        d.chance_of_loss,
    ) {
        (Some(low), Some(high), Some(loss)) => format!(
            " ({} interval {} to {}; chance of a loss {})",
            number::level(d.confidence),
            money(low),
            money(high),
            number::chance(loss, d.draws)
        ),
        _ => format!(" ({})", d.interval_reason.unwrap_or_default()),
    };
    let payback = match d.payback_months {
        Some(0.0) => "from the first month".to_owned(),
        Some(months) => format!("after {} months", number::significant(months, 2)),
        None => "not within these months".to_owned(),
    };
    format!(
        "over {} months the plan saves {} at its worth now{interval}; it pays back {payback}\n\n",
        d.by_month.len(),
        money(d.present_value)
    )
}

fn build_up(d: &MoneyDocument) -> String {
    let money = |x: f64| number::money(x, &d.currency);
    let mut rows: Vec<Vec<String>> = d
        .build_up
        .items
        .iter()
        .map(|i| {
            let name = if i.counted {
                i.name.clone()
            } else {
                format!("{} (not counted)", i.name)
            };
            vec![
                name,
                money(i.amount),
                money(i.per_failure),
                money(i.per_planned),
            ]
        })
        .collect();
    rows.push(vec![
        "all".to_owned(),
        String::new(),
        money(d.build_up.failure),
        money(d.build_up.planned),
    ]);
    let own = |p: &&PartMoney| p.failure != d.build_up.failure;
    for part in d.parts.iter().filter(own) {
        rows.push(vec![
            format!("all, for {}", part.part),
            String::new(),
            money(part.failure),
            money(part.planned_change),
        ]);
    }
    table(
        &["item", "each time or hour", "a failure", "a planned change"],
        &rows,
    )
}

fn parts_table(d: &MoneyDocument) -> String {
    let count = |x: f64| number::significant(x, 3);
    let row = |part: &str, name: &str, y: &Year| {
        vec![
            part.to_owned(),
            name.to_owned(),
            count(y.failures),
            count(y.planned),
            count(y.openings),
            number::money(y.cost, &d.currency),
        ]
    };
    let mut rows: Vec<Vec<String>> = vec![];
    for p in &d.parts {
        let name = format!("{} ({} running)", p.part, number::tidy(p.positions));
        match &p.recorded {
            Some(year) => rows.push(row(&name, "as recorded", year)),
            None => rows.push(vec![
                name,
                "no count in the records".to_owned(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ]),
        }
        rows.push(row("", "as practice goes on", &p.today));
        rows.push(row("", "under the plan", &p.plan));
    }
    let counts = table(
        &[
            "part",
            "seals cared for",
            "failures",
            "planned changes",
            "openings",
            "money",
        ],
        &rows,
    );
    let plans = d
        .parts
        .iter()
        .map(|p| format!("  {}: {}", p.part, p.plan_words));
    let plans: Vec<String> = plans.collect();
    format!(
        "{counts}\n  openings are for looks and turns; as recorded: what the records counted, for as many seals as run now\n\nthe plan\n{}",
        plans.join("\n")
    )
}
