//! The evidence: what was read and set aside, what was assumed, how the laws compare, and the check of
//! the arithmetic.

use super::{effects, more, words};
use crate::analysis::run::Results;
use crate::document::{Block, Page, Table};
use crate::number;
use std::collections::BTreeMap;

/// The page.
pub fn page(results: &Results) -> Page {
    let mut blocks = vec![];
    quality(results, &mut blocks);
    assumptions(results, &mut blocks);
    laws(results, &mut blocks);
    blocks.extend(effects::residuals(results).map(|c| Block::Figure(Box::new(c))));
    more::ovens(results, &mut blocks);
    arithmetic(results, &mut blocks);
    Page {
        id: "evidence".into(),
        title: "Evidence".into(),
        reader: "What the answers rest on, row by row where it matters.".into(),
        blocks,
    }
}

/// Rows shown one by one; the files hold all.
const SHOWN: usize = 40;

fn quality(results: &Results, blocks: &mut Vec<Block>) {
    let check = &results.check;
    let o = &check.observations;
    blocks.push(Block::Heading("What was read".into()));
    blocks.push(Block::Answer(format!(
        "{} rows read = {} used + {} set aside.",
        number::count(check.rows_read),
        number::count(check.seals),
        number::count(o.set_aside)
    )));
    blocks.push(Block::Text(format!(
        "Of the lives used, {} ended at a known age, {} between two looks, {} before the first look; {} were still running or taken off for another reason. {} were watched only from some age on, which the models allow for.",
        number::count(o.exact),
        number::count(o.interval),
        number::count(o.left),
        number::count(o.right),
        number::count(o.truncated)
    )));
    let outcomes = check
        .outcomes
        .iter()
        .map(|(word, n)| vec![word.replace('_', " "), number::count(*n)])
        .collect();
    blocks.push(Block::Table(Table::new(
        "How the time of the seals used ended",
        &["outcome", "seals"],
        outcomes,
    )));
    blocks.push(Block::Heading("What looked wrong or doubtful".into()));
    blocks.push(Block::Table(finding_table(results)));
    if !check.set_aside.is_empty() {
        blocks.push(Block::Table(aside_table(results)));
    }
    blocks.push(Block::Heading("What was assumed".into()));
    let assumed = check
        .decisions
        .iter()
        .map(|d| {
            let rows: Vec<String> = d.rows.iter().map(ToString::to_string).collect();
            let more = if d.count as usize > d.rows.len() {
                ", ..."
            } else {
                ""
            };
            vec![
                d.assumed.clone(),
                number::count(d.count),
                format!("{}{more}", rows.join(", ")),
            ]
        })
        .collect();
    blocks.push(Block::Table(Table {
        caption: "Decision log: rules applied while reading, in order".into(),
        columns: vec![
            ("assumed".into(), false),
            ("rows".into(), true),
            ("first rows".into(), false),
        ],
        rows: assumed,
    }));
}

fn finding_table(results: &Results) -> Table {
    let mut kinds: BTreeMap<(std::cmp::Reverse<sealspan_records::Severity>, &str), (usize, &str)> =
        BTreeMap::new();
    for f in &results.check.findings {
        let entry = kinds
            .entry((std::cmp::Reverse(f.severity), f.kind))
            .or_insert((0, &f.message));
        entry.0 += 1;
    }
    let rows = kinds
        .into_iter()
        .map(|((severity, kind), (n, example))| {
            vec![
                kind.replace('_', " "),
                severity.0.word().to_owned(),
                n.to_string(),
                example.to_owned(),
            ]
        })
        .collect();
    Table {
        caption: "Findings by kind; each with its row in tables/findings.csv".into(),
        columns: vec![
            ("kind".into(), false),
            ("severity".into(), false),
            ("times".into(), true),
            ("for example".into(), false),
        ],
        rows,
    }
}

fn aside_table(results: &Results) -> Table {
    let rows = results
        .check
        .set_aside
        .iter()
        .take(SHOWN)
        .map(|s| vec![s.row.to_string(), s.reason.clone()])
        .collect();
    let all = results.check.set_aside.len();
    let caption = if all > SHOWN {
        format!(
            "Rows set aside and why: the first {SHOWN} of {all}, the rest in tables/set-aside.csv"
        )
    } else {
        "Rows set aside and why".to_owned()
    };
    Table {
        caption,
        columns: vec![("row".into(), false), ("reason".into(), false)],
        rows,
    }
}

fn assumptions(results: &Results, blocks: &mut Vec<Block>) {
    let list = &results.check.assumptions;
    if list.is_empty() {
        return;
    }
    blocks.push(Block::Heading("How far assumptions move the life".into()));
    let age = |x: Option<f64>| x.map_or_else(String::new, |x| number::significant(x, 3));
    let rows = list
        .iter()
        .map(|a| {
            vec![
                a.assumed.to_owned(),
                number::fixed(a.seals, 0),
                age(a.b10),
                age(a.b10_otherwise),
            ]
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        format!(
            "Age by which 10 % have failed, {}, all seals together under the Weibull law; points without intervals",
            results.unit
        ),
        &["assumed; tried instead", "seals", "as read", "otherwise"],
        rows,
    )));
}

fn laws(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("How much the choice of law matters".into()));
    let mut rows = vec![];
    for group in &results.fit.groups {
        let least = group
            .fits
            .iter()
            .filter_map(|f| f.aicc)
            .fold(f64::INFINITY, f64::min);
        for fit in &group.fits {
            let tenth = fit.quantiles.iter().find(|q| q.p == 0.1);
            rows.push(vec![
                format!("{}, {}", group.group.words(), fit.family),
                tenth.map_or_else(String::new, |q| words::cell(&q.number)),
                words::cell(&fit.mean_life),
                fit.log_likelihood
                    .map_or_else(String::new, |l| number::fixed(l, 1)),
                fit.aicc
                    .map_or_else(String::new, |a| number::fixed(a - least, 1)),
                fit.goodness.map_or_else(String::new, |g| {
                    number::simulated_p_value(g.p_value, g.refits)
                }),
            ]);
        }
    }
    blocks.push(Block::Table(Table::new(
        format!("Laws fitted to each group, lives in {}", results.unit),
        &[
            "group and law",
            "10 % failed by",
            "mean life",
            "log-likelihood",
            "AICc above the least",
            "test of fit",
        ],
        rows,
    )));
    for group in &results.fit.groups {
        if let Some(choice) = &group.choice {
            blocks.push(Block::Text(format!(
                "{}: {}.",
                group.group.words(),
                choice.sentence
            )));
        }
    }
    let method = results
        .fit
        .groups
        .iter()
        .filter_map(|g| g.fits.first())
        .find_map(|f| f.bounds);
    if let Some(method) = method {
        blocks.push(Block::Text(format!(
            "Intervals of the first law: {}; of the others: profile likelihood. Test of fit: Anderson–Darling, its p-value from refits under the observed pattern of watching; a small one says that the seals of the group do not follow one such law.",
            method.words()
        )));
    }
    blocks.push(Block::Text(
        "A law whose AICc is 2 or less above the least explains the data about as well. The report speaks of the first law of the study; compare its B10 life with the others' before leaning on it.".into(),
    ));
}

fn arithmetic(results: &Results, blocks: &mut Vec<Block>) {
    let Some(care) = results.care.found() else {
        return;
    };
    blocks.push(Block::Heading(
        "Formulas against playing it event by event".into(),
    ));
    let (units, per) = words::per_year(results);
    let rows = care
        .groups
        .iter()
        .filter_map(|g| {
            let b = g.block.as_ref()?;
            let s = &b.simulated;
            Some(vec![
                g.group.words(),
                number::fixed(b.recommended.cost_rate * units, 2),
                number::fixed(s.cost_rate * units, 2),
                number::significant(s.std_error * units, 2),
                number::fixed((b.recommended.cost_rate - s.cost_rate) / s.std_error, 1),
            ])
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        format!(
            "Cost of a position per {per} ({}) when doing what is advised",
            results.currency
        ),
        &[
            "group",
            "by formula",
            "played",
            "standard error",
            "difference in standard errors",
        ],
        rows,
    )));
}
