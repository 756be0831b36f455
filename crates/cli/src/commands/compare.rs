//! `compare`: do groups of seals live equally long, and by what ratio?

use super::cross_check;
use crate::Answer;
use crate::args::Compare;
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::GroupKey;
use sealspan_report::wire::compare::{CompareDocument, CompareOptions, compare};

pub fn run(args: &Compare) -> Answer {
    let base = args
        .base
        .iter()
        .map(|text| {
            text.split_once('=')
                .map(|(c, l)| (c.to_owned(), l.to_owned()))
                .ok_or_else(|| {
                    Failure::argument(
                        format!("--base {text} names no level"),
                        "write --base COL=LEVEL",
                    )
                })
        })
        .collect::<Result<Vec<_>, _>>()?;
    let options = CompareOptions {
        by: args.by.clone(),
        given: args.given.clone(),
        number: args.number.clone(),
        arrhenius: args.arrhenius.clone(),
        inverse_power: args.inverse_power.clone(),
        base,
        family: input::family(&args.family)?,
        confidence: args.confidence,
        cluster: args.cluster.clone(),
        frailty: args.frailty.clone(),
    };
    let columns = options.columns();
    let alike = options.cluster.iter().chain(&options.frailty);
    if columns.iter().all(|c| alike.clone().any(|a| a == c)) {
        return Err(Failure::argument(
            "there is nothing to compare",
            "name a column: --by, --number, --arrhenius or --inverse-power",
        ));
    }
    let Asked {
        question, answer, ..
    } = input::asked_by(
        &args.input,
        columns,
        args.clock,
        args.mode.as_deref(),
        args.cut_off.as_deref(),
    )?;
    let _progress = Progress::start("comparing");
    let groups: Vec<_> = answer
        .groups
        .into_iter()
        .map(|g| (GroupKey(g.key), g.sample))
        .collect();
    let document = compare(question.clock.unit(), &groups, &options).map_err(|why| {
        Failure::input(why, "correct the column, or leave it out of the question")
    })?;
    let silent =
        document.regression.is_none() && document.tests.iter().all(|t| t.statistic.is_none());
    Ok(Output::new(args.format.format, document, text).with_status(u8::from(silent)))
}

fn text(d: &CompareDocument) -> String {
    let mut out = String::new();
    if !d.tests.is_empty() {
        let rows: Vec<Vec<String>> = d
            .tests
            .iter()
            .map(|t| match (t.statistic, t.df, t.p_value) {
                (Some(s), Some(df), Some(p)) => {
                    vec![
                        words(t.name).to_owned(),
                        number::fixed(s, 2),
                        format!("{df:.0}"),
                        number::p_value(p),
                    ]
                }
                _ => vec![
                    words(t.name).to_owned(),
                    "none".to_owned(),
                    String::new(),
                    "see below".to_owned(),
                ],
            })
            .collect();
        out.push_str(&table(
            &["test of no difference", "chi-square", "df", "p-value"],
            &rows,
        ));
        out.push('\n');
        let mut said: Vec<&str> = vec![];
        for reason in d.tests.iter().filter_map(|t| t.reason.as_deref()) {
            if !said.contains(&reason) {
                out.push_str(&format!("  none: {reason}\n"));
                said.push(reason);
            }
        }
        out.push('\n');
    }
    out.push_str(&cross_check::pairs(d));
    match &d.regression {
        Some(r) => {
            let rows: Vec<Vec<String>> = r
                .coefficients
                .iter()
                .map(|c| {
                    let width = c.upper - c.lower;
                    vec![
                        c.name.clone(),
                        number::to_width(c.estimate, width),
                        number::to_width(c.std_error, width),
                        format!(
                            "{} to {}",
                            number::to_width(c.lower, width),
                            number::to_width(c.upper, width)
                        ),
                        number::p_value(c.p_value),
                    ]
                })
                .collect();
            out.push_str(&format!(
                "{} regression of ln life in {}\n",
                r.family, d.unit
            ));
            out.push_str(&table(
                &[
                    "coefficient",
                    "estimate",
                    "std. error",
                    "interval",
                    "p-value",
                ],
                &rows,
            ));
            out.push('\n');
            if let Some(s) = &r.sigma {
                let width = s.upper - s.lower;
                out.push_str(&format!(
                    "  spread of ln life {} ({} to {}); log-likelihood {}\n",
                    number::to_width(s.estimate, width),
                    number::to_width(s.lower, width),
                    number::to_width(s.upper, width),
                    number::fixed(r.log_likelihood, 2)
                ));
            }
        }
        None => out.push_str(&format!(
            "no regression: {}\n",
            d.regression_reason.as_deref().unwrap_or("no reason known")
        )),
    }
    out.push_str(&cross_check::hazards(d));
    for warning in &d.warnings {
        out.push_str(&format!("  {warning}\n"));
    }
    out
}

/// A test's name in words.
fn words(name: &str) -> &str {
    match name {
        "log_rank" => "log-rank (every failure alike)",
        "peto" => "Peto (early failures count more)",
        "gehan" => "Gehan (early failures count most)",
        "tarone_ware" => "Tarone-Ware (early failures count a little more)",
        "fleming_harrington" => "Fleming-Harrington (by the product-limit curve)",
        "peto_modified" => "Peto, modified",
        "log_rank_stratified" => "log-rank, other columns held",
        "log_rank_trend" => "log-rank for a trend",
        "common_shape" => "same shape (likelihood ratio)",
        "common_life" => "same life (likelihood ratio)",
        other => other,
    }
}
