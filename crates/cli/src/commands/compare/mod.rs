//! `compare`: do groups of seals live equally long, and by what ratio?

mod ask;
mod more;

use super::cross_check;
use crate::Answer;
use crate::args::Compare;
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::Records;
use sealspan_report::number;
use sealspan_report::wire::GroupKey;
use sealspan_report::wire::compare::{CompareDocument, compare};
use std::collections::BTreeSet;

pub fn run(args: &Compare) -> Answer {
    let mut options = ask::options(args)?;
    let columns = options.columns();
    if options.model_columns().is_empty() {
        return Err(Failure::argument(
            "there is nothing to compare",
            "name a column: --by, --number, --arrhenius, --eyring, --inverse-power or --concentration",
        ));
    }
    let Asked {
        records,
        question,
        answer,
    } = input::asked_by(
        &args.input,
        columns,
        args.read.clock,
        args.read.mode.as_deref(),
        args.read.cut_off.as_deref(),
    )?;
    let _progress = Progress::start("comparing");
    let groups: Vec<_> = answer
        .groups
        .into_iter()
        .map(|g| (GroupKey(g.key), g.sample))
        .collect();
    options.more.seals_on_assets = on_assets(&records);
    let document = compare(question.clock.unit(), &groups, &options).map_err(|why| {
        Failure::input(why, "correct the column, or leave it out of the question")
    })?;
    let silent =
        document.regression.is_none() && document.tests.iter().all(|t| t.statistic.is_none());
    Ok(Output::new(args.format.format, document, text).with_status(u8::from(silent)))
}

/// Seals and the assets they sit on.
fn on_assets(records: &Records) -> Option<(u64, u64)> {
    let assets: BTreeSet<&str> = records
        .seals
        .iter()
        .filter_map(|s| s.asset.as_deref())
        .collect();
    let seals = records.seals.iter().filter(|s| s.asset.is_some()).count();
    (!assets.is_empty()).then_some((seals as u64, assets.len() as u64))
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
            out.push_str(&more::coefficients(r, d.unit));
            out.push_str(&more::stresses(r));
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
    out.push_str(&more::predictions(d));
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
        "no_spread_between_levels" => "levels do not lie apart (likelihood ratio)",
        other => other,
    }
}
