//! `demand`: seals asked for month by month, by part and place.

use crate::Answer;
use crate::args::{BatchSpread, Demand, PolicyArg};
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::spark::bars;
use crate::table::table;
use sealspan_care::ahead::fleet::Joining;
use sealspan_care::ahead::months::{Month, Number};
use sealspan_care::costs::Costs;
use sealspan_care::plan::Request;
use sealspan_life::laws;
use sealspan_records::{Clock, Question, Records, ask};
use sealspan_report::analysis::back_test::back_test;
use sealspan_report::analysis::demand::{Demands, MONTH, Outlook, demands};
use sealspan_report::analysis::endings::Aim;
use sealspan_report::analysis::extras::recorded_spread;
use sealspan_report::analysis::futures::{PartFuture, World, futures};
use sealspan_report::analysis::lives::groups;
use sealspan_report::analysis::money_prices::Prices;
use sealspan_report::analysis::planned::plans_of;
use sealspan_report::analysis::prices;
use sealspan_report::number;
use sealspan_report::story::back_test::sentence;
use sealspan_report::wire::demand::{DemandDocument, PlaceDemand};

pub fn run(args: &Demand) -> Answer {
    let records = input::records(&args.input, None)?;
    let by = if args.by.is_empty() {
        parts(&records)
    } else {
        args.by.clone()
    };
    let _progress = Progress::start("forecasting demand");
    let steps = &args.steps;
    let stated = [steps.inspect_every, steps.turn_every, steps.replace_at];
    if args.policy == PolicyArg::Practice && stated.iter().any(Option::is_some) {
        return Err(Failure::argument(
            "--inspect-every, --turn-every and --replace-at state the plan, and --as practice asks for what is done today",
            "leave out one or the other",
        ));
    }
    let world = match args.policy {
        PolicyArg::Plan => World::Plan,
        PolicyArg::Practice => World::Today,
    };
    let request = (world == World::Plan).then(|| args.steps.request());
    let (futures, left_out) = followed(&records, &by, request, args.seed)?;
    let spread = spread_of(&records, args.batch_spread, args.seed)?;
    let outlook = Outlook {
        months: args.months as usize,
        confidence: args.confidence,
        leaving_per_year: args.leaving.unwrap_or(0.0),
        joining: args
            .joining
            .iter()
            .map(|text| joining(text))
            .collect::<Result<_, _>>()?,
        batch_spread: spread.value,
        seed: args.seed,
    };
    let Demands { parts, places, all } = demands(&futures, world, &outlook)?;
    let tested = args.back_test.then(|| {
        let [family, ..] = laws::all();
        back_test(&records, &by, family, args.confidence, args.seed)
    });
    let (spend, spend_reason) = spend(&records, &all);
    let document = DemandDocument {
        schema: "sealspan.demand.v1",
        unit: "days",
        confidence: args.confidence,
        policy: if args.policy == PolicyArg::Plan {
            "plan"
        } else {
            "practice"
        },
        parts,
        places,
        all,
        spend,
        spend_reason,
        back_test_reason: match &tested {
            None => Some("not asked for: add --back-test".to_owned()),
            Some(result) => result.as_ref().err().cloned(),
        },
        back_test: tested.and_then(Result::ok),
        left_out,
        notes: notes(world, &futures)
            .into_iter()
            .chain(spread.note)
            .collect(),
        cautions: sealspan_report::cautions::always(),
    };
    let currency = records.study.currency.clone().unwrap_or_default();
    Ok(Output::new(args.format.format, document, move |d| {
        text(d, &currency)
    }))
}

/// The study's groups, else by material.
pub fn parts(records: &Records) -> Vec<String> {
    let own = &records.study.question.by;
    if own.is_empty() && records.seals.iter().any(|s| s.material.is_some()) {
        return vec!["material".to_owned()];
    }
    own.clone()
}

/// Every part: with a plan asked for by its whole plan where it has one; else by the laws of what is done.
pub fn followed(
    records: &Records,
    by: &[String],
    plan: Option<Request>,
    seed: u64,
) -> Result<(Vec<PartFuture>, Vec<String>), Failure> {
    let [family, ..] = laws::all();
    let costs = Costs::new(prices::replacement(&records.study), Clock::Days);
    let money = costs
        .as_ref()
        .map_or((1.0, 1.0), |c| (c.failure_money(), c.planned_money()));
    let aim = Aim {
        failure: money.0,
        planned: money.1,
        replace: plan.unwrap_or_default().replace,
    };
    let question = Question {
        by: by.to_vec(),
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    let lives = groups(&ask(records, &question)?, family, seed);
    let plans = match (&costs, plan) {
        (Ok(costs), Some(request)) => plans_of(records, &question, &lives, costs, request, seed),
        _ => vec![],
    };
    Ok(futures(
        records,
        &question,
        (&lives, &plans),
        (family, aim),
        seed,
    )?)
}

/// A spread between batches, and where it comes from.
pub struct Spread {
    pub value: f64,
    pub note: Option<String>,
}

/// The spread asked for; read from the recorded batches where that is asked.
pub fn spread_of(records: &Records, asked: BatchSpread, seed: u64) -> Result<Spread, Failure> {
    let cure = "state a number, or leave out --batch-spread";
    match asked {
        BatchSpread::Stated(value) => Ok(Spread { value, note: None }),
        BatchSpread::Records => {
            let [family, ..] = laws::all();
            let (found, without) = recorded_spread(records, family, seed)
                .map_err(|why| Failure::unanswerable(why, cure))?;
            let without = if without.is_empty() {
                String::new()
            } else {
                format!(
                    "; without {}, which differ by more than that: a batch as bad as them is not in the intervals",
                    without.join(", ")
                )
            };
            Ok(Spread {
                value: found.estimate,
                note: Some(format!(
                    "Batches lie apart by a standard deviation of ln life of {}{}, as the recorded ones show{without}.",
                    number::significant(found.estimate, 3),
                    found.upper.map_or_else(String::new, |upper| format!(
                        " ({} to {})",
                        number::significant(found.lower, 3),
                        number::significant(upper, 3)
                    ))
                )),
            })
        }
    }
}

fn joining(text: &str) -> Result<Joining, Failure> {
    let wrong = || {
        Failure::argument(
            format!("--joining {text} is not a number of positions and a day"),
            "write it as 12@90: twelve positions in 90 days",
        )
    };
    let (n, at) = text.split_once('@').ok_or_else(wrong)?;
    let number = |s: &str| {
        s.trim()
            .parse::<f64>()
            .ok()
            .filter(|x| x.is_finite() && *x >= 0.0)
    };
    match (number(n), number(at)) {
        (Some(positions), Some(at)) if positions > 0.0 => Ok(Joining { at, positions }),
        _ => Err(wrong()),
    }
}

fn spend(records: &Records, all: &PlaceDemand) -> (Option<Vec<f64>>, Option<String>) {
    if let Err(why) = Costs::new(prices::replacement(&records.study), Clock::Days) {
        return (None, Some(why.to_string()));
    }
    let prices = Prices::of(&records.study.costs);
    (
        Some(all.months.iter().map(|m| prices.of_month(m)).collect()),
        None,
    )
}

fn notes(world: World, futures: &[PartFuture]) -> Vec<String> {
    let mut out = vec![];
    let whole = world == World::Plan && futures.iter().any(|p| p.plan.whole);
    if whole {
        out.push("Parts with a whole plan are looked at, turned and replaced by it; seals past their age are replaced at once, in the first month. Seals in service count as looked at so far as often as their site does.");
    }
    if world == World::Plan && futures.iter().any(|p| !p.plan.whole) {
        out.push("Parts without a whole plan are replaced at one age; seals past it are replaced at once, in the first month. Looks, findings and damage go on as the records show them.");
    }
    if world == World::Today {
        out.push("Scheduled changes, findings, damage and changes while open go on as the records show them; each is a law of its own, independent of the failures.");
    }
    out.push("Planned means not by failure: scheduled changes can be ordered ahead, what a look finds cannot.");
    out.push(if whole {
        "Places differ: the rate at which seals go at a place is that of all places times a factor of its own, shrunk by as much as places are alike."
    } else {
        "Places differ: the rates of failure and of each other removal at a place are those of all places times a factor of its own, shrunk by as much as places are alike; a place with five scheduled changes of a part or more has its own law of them."
    });
    out.push("Intervals hold the chance of the seals, the error of the estimated lives and that of the places' factors; the lives of parts are taken as independent.");
    out.into_iter().map(str::to_owned).collect()
}

fn interval(n: &Number) -> String {
    format!("{} to {}", n.lower, n.upper)
}

fn months(months: &[Month], spend: Option<&[f64]>, currency: &str) -> String {
    let rows: Vec<Vec<String>> = months
        .iter()
        .enumerate()
        .map(|(i, m)| {
            let mut row = vec![
                (i + 1).to_string(),
                number::significant(m.unplanned.expected, 3),
                interval(&m.unplanned),
                number::significant(m.planned.expected, 3),
                interval(&m.planned),
                interval(&m.all),
            ];
            if let Some(money) = spend.and_then(|s| s.get(i)) {
                row.push(number::money(*money, currency));
            }
            row
        })
        .collect();
    let mut head = vec![
        "month",
        "failures",
        "interval",
        "planned",
        "interval",
        "all together",
    ];
    if spend.is_some() {
        let looked_at = months.iter().any(|m| m.work.openings > 0.0);
        head.push(if looked_at {
            "money"
        } else {
            "money of failures and changes"
        });
    }
    table(&head, &rows)
}

/// All seals asked for month by month, each row against its own dearest month.
fn small(months: &[Month]) -> String {
    let all = || {
        months
            .iter()
            .map(|m| m.unplanned.expected + m.planned.expected)
    };
    bars(all().map(Some), all().fold(0.0, f64::max))
}

fn text(d: &DemandDocument, currency: &str) -> String {
    let level = number::level(d.confidence);
    let care = if d.policy == "plan" {
        "under the plan"
    } else {
        "as practice goes on"
    };
    let mut out = format!(
        "seals asked for in {} months, {care}; {level} prediction intervals\n",
        d.all.months.len()
    );
    let rows: Vec<Vec<String>> = d
        .places
        .iter()
        .chain(&d.parts)
        .chain([&d.all])
        .map(|p| {
            vec![
                format!("{}, {}", p.place, p.part),
                number::fixed(p.running, 0),
                number::significant(p.total.unplanned.expected, 3),
                interval(&p.total.unplanned),
                number::significant(p.total.planned.expected, 3),
                interval(&p.total.planned),
                small(&p.months),
            ]
        })
        .collect();
    out.push_str(&table(
        &[
            "place and part",
            "running",
            "failures",
            "interval",
            "planned",
            "interval",
            "by month",
        ],
        &rows,
    ));
    for part in &d.parts {
        if let Some(plan) = &part.plan {
            out.push_str(&format!("\n  plan for {}: {plan}", part.part));
        }
    }
    out.push_str(&format!(
        "\n  by month: failures and planned changes, each row against its own largest month\n\nall parts, month by month ({} days each)\n",
        number::significant(MONTH, 4)
    ));
    out.push_str(&months(&d.all.months, d.spend.as_deref(), currency));
    out.push('\n');
    if let Some(test) = &d.back_test {
        out.push_str(&format!("\nback-test: {}\n", sentence(test, d.confidence)));
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
    out
}
