//! `demand`: seals asked for month by month, by part and place.

use crate::Answer;
use crate::args::{Demand, PolicyArg};
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::spark::bars;
use crate::table::table;
use sealspan_care::ahead::fleet::Joining;
use sealspan_care::ahead::months::{Month, Number};
use sealspan_care::costs::Costs;
use sealspan_life::laws;
use sealspan_records::{Clock, Records};
use sealspan_report::analysis::back_test::back_test;
use sealspan_report::analysis::demand::{Demands, MONTH, Outlook, demands};
use sealspan_report::analysis::endings::{Aim, Laws, PartLaws, part_laws};
use sealspan_report::analysis::prices;
use sealspan_report::number;
use sealspan_report::wire::demand::{BackTest, DemandDocument, PlaceDemand};
use std::collections::{BTreeMap, BTreeSet};

pub fn run(args: &Demand) -> Answer {
    let records = input::records(&args.input, None)?;
    let by = if args.by.is_empty() {
        parts(&records)
    } else {
        args.by.clone()
    };
    let [family, ..] = laws::all();
    let _progress = Progress::start("forecasting demand");
    let aim = aim(&records, args.replace_at)?;
    let (laws, left_out) = part_laws(&records, &by, family, aim, args.seed)?;
    let of: fn(&PartLaws) -> &Laws = match args.policy {
        PolicyArg::Plan => |p| &p.plan,
        PolicyArg::Practice => |p| &p.today,
    };
    let outlook = Outlook {
        months: args.months as usize,
        confidence: args.confidence,
        leaving_per_year: args.leaving.unwrap_or(0.0),
        joining: args
            .joining
            .iter()
            .map(|text| joining(text))
            .collect::<Result<_, _>>()?,
        batch_spread: args.batch_spread,
        seed: args.seed,
    };
    let Demands { parts, places, all } = demands(&laws, of, &outlook)?;
    let tested = args
        .back_test
        .then(|| back_test(&records, &by, family, args.confidence, args.seed));
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
        notes: notes(args.policy),
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

/// Money of a failure and of a planned replacement; without prices only a stated age can be planned for.
pub fn aim(records: &Records, stated_age: Option<f64>) -> Result<Aim, Failure> {
    match Costs::new(prices::replacement(&records.study), Clock::Days) {
        Ok(costs) => Ok(Aim {
            failure: costs.failure_money(),
            planned: costs.planned_money(),
            stated_age,
        }),
        Err(_) => Ok(Aim {
            failure: 1.0,
            planned: 1.0,
            stated_age,
        }),
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
    match Costs::new(prices::replacement(&records.study), Clock::Days) {
        Ok(costs) => {
            let month = |m: &Month| {
                m.unplanned.expected * costs.failure_money()
                    + m.planned.expected * costs.planned_money()
            };
            (Some(all.months.iter().map(month).collect()), None)
        }
        Err(why) => (None, Some(why.to_string())),
    }
}

fn notes(policy: PolicyArg) -> Vec<String> {
    let care = match policy {
        PolicyArg::Plan => {
            "Each part is replaced at its age; seals past it are replaced at once, in the first month. Looks, findings and damage go on as the records show them."
        }
        PolicyArg::Practice => {
            "Scheduled changes, findings, damage and changes while open go on as the records show them; each is a law of its own, independent of the failures."
        }
    };
    vec![
        care.to_owned(),
        "Planned means not by failure: scheduled changes can be ordered ahead, what a look finds cannot.".to_owned(),
        "Intervals hold the chance of the seals and the error of the estimated lives; parts are taken as independent.".to_owned(),
    ]
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
        head.push("money");
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
                p.replace_at.map_or_else(|| "none".to_owned(), number::tidy),
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
            "replaced at, days",
            "failures",
            "interval",
            "planned",
            "interval",
            "by month",
        ],
        &rows,
    ));
    out.push_str(&format!(
        "\n  by month: failures and planned changes, each row against its own largest month\n\nall parts, month by month ({} days each)\n",
        number::significant(MONTH, 4)
    ));
    out.push_str(&months(&d.all.months, d.spend.as_deref(), currency));
    out.push('\n');
    if let Some(test) = &d.back_test {
        out.push_str(&tested(test));
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

fn tested(test: &BackTest) -> String {
    let days: BTreeSet<&String> = test.rows.iter().map(|r| &r.as_of).collect();
    let mut missed: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for row in &test.rows {
        let held = (row.lower as u64..=row.upper as u64).contains(&row.happened);
        let place = missed.entry(&row.place).or_default();
        place.0 += usize::from(!held);
        place.1 += 1;
    }
    let worst = missed
        .iter()
        .max_by(|a, b| a.1.0.cmp(&b.1.0).then(b.0.cmp(a.0)))
        .filter(|(_, m)| m.0 >= 2)
        .map_or_else(String::new, |(place, (missed, all))| {
            format!("; most misses at {place} ({missed} of {all}): seals there may not live as elsewhere, see --by")
        });
    format!(
        "\nback-test: {} forecasts of {} days made as of {} earlier days; {} of the intervals held what came ({} promised); {} failures forecast, {} came{worst}\n",
        test.rows.len(),
        number::significant(test.horizon, 4),
        days.len(),
        number::percent(test.hit_rate),
        number::percent(test.promised),
        number::significant(test.expected, 3),
        test.happened
    )
}
