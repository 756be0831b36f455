//! `compare`: do groups of seals live equally long, and by what ratio?

mod ask;
mod more;

use super::cross_check;
use super::pairs;
use super::report::{command, drawn, inputs, write};
use crate::Answer;
use crate::args::Compare;
use crate::cautioned::before_acting;
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::Records;
use sealspan_report::folder::{self, Stamp};
use sealspan_report::number;
use sealspan_report::render::csv::csv;
use sealspan_report::story::{compare_figures, life_ratio_table};
use sealspan_report::wire::GroupKey;
use sealspan_report::wire::compare::{
    CompareDocument, CompareOptions, Keyed, compared, wrong_cell,
};
use sealspan_report::wire::mode_tests::{ASKS, mode_test};
use std::collections::BTreeSet;
use std::ffi::OsString;

pub fn run(raw: &[OsString], args: &Compare) -> Answer {
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
    )
    .map_err(|why| two_factors(why, args))?;
    let progress = Progress::start("comparing");
    let groups: Vec<_> = answer
        .groups
        .into_iter()
        .map(|g| (GroupKey(g.key), g.sample))
        .collect();
    options.more.seals_on_assets = on_assets(&records);
    let mut compared = compared(question.clock.unit(), &groups, &options)
        .map_err(|why| wrong(why, &records, &groups, &options))?;
    if let Some(by) = &args.by {
        compared.document.mode_test = mode_test(&records, &question, by, &args.given, args.seed)?;
    }
    compared.document.regression_rows = records.rows_holding(&compared.in_the_way);
    if let Some(out) = &args.out {
        progress.now("drawing the figures");
        let mut entries = vec![("results.json".to_owned(), folder::json(&compared.document)?)];
        if let Some(table) = life_ratio_table(&compared.document) {
            entries.push((format!("tables/{}.csv", table.name), csv(&table)?));
        }
        for chart in compare_figures(&compared) {
            entries.extend(drawn(&chart)?);
        }
        let stamp = Stamp::new(command(raw), args.seed, inputs(&records));
        write(out, &stamp, &entries)?;
    }
    drop(progress);
    let document = compared.document;
    let silent =
        document.regression.is_none() && document.tests.iter().all(|t| t.statistic.is_none());
    let output = Output::with_folder(args.format.format, document, text, args.out.as_deref());
    Ok(output.with_status(u8::from(silent)))
}

/// Several factors under `--by`, where one at a time is compared, say so.
fn two_factors(why: Failure, args: &Compare) -> Failure {
    let by = args.by.as_deref().unwrap_or_default();
    match by.split_once(',') {
        Some((first, rest)) if why.message().contains(by) => Failure::argument(
            format!("--by {by}: one factor at a time is compared, and no column has that name"),
            format!(
                "hold the others constant (--by {first} --given {rest}); for the lives of every combination: sealspan fit --by {by}"
            ),
        ),
        _ => why,
    }
}

/// Why a question cannot be put: with the place of the cell at fault, where one is.
fn wrong(why: String, records: &Records, groups: &[Keyed], options: &CompareOptions) -> Failure {
    // An option at fault names itself first.
    let cell = wrong_cell(groups, options).filter(|_| !why.starts_with("--"));
    let Some(cell) = cell else {
        let mend = mend(&why);
        return Failure::input(why, mend);
    };
    let failure = Failure::input(why, cell.mend);
    match records.place_of(&cell.column, &cell.text) {
        Some(place) => failure.at(place),
        None => failure,
    }
}

/// What to do about a question that cannot be put: by the option at fault.
fn mend(why: &str) -> &'static str {
    if why.starts_with("--predict") {
        "give each of those columns a value, and no other; --given COL, --number COL or --arrhenius COL puts a column into the regression"
    } else if why.starts_with("--base") {
        "name a factor and a level of it as they stand in the records, or leave --base out"
    } else if why.starts_with("--interaction") {
        "name two columns of the regression, A:B"
    } else if why.starts_with("--prior-activation-energy") {
        "name the column of temperatures too, or leave the stated energy out"
    } else {
        "correct the column, or leave it out of the question"
    }
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
        out.push_str(&tests(d));
    }
    out.push_str(&pairs::pairs(d));
    match &d.regression {
        Some(r) => {
            out.push_str(&more::coefficients(r, d.unit));
            out.push_str(&more::stresses(r));
        }
        None => {
            let why = d.regression_reason.as_deref().unwrap_or("no reason known");
            out.push_str(&format!("no regression: {why}\n"));
            if let Some(rows) = &d.regression_rows {
                out.push_str(&format!("  these seals: {}\n", rows.words()));
            }
        }
    }
    out.push_str(&cross_check::hazards(d));
    for warning in &d.warnings {
        out.push_str(&format!("  {warning}\n"));
    }
    out.push_str(&more::predictions(d));
    out.push_str(&before_acting(&d.cautions));
    out
}

/// The tests with an answer, how drawn ages came in, and a line for each reason why others have none.
fn tests(d: &CompareDocument) -> String {
    let mut out = String::new();
    let of_mode = d.mode_test.iter().flat_map(|m| &m.tests);
    let all = || d.tests.iter().chain(of_mode.clone());
    let rows: Vec<Vec<String>> = all()
        .filter_map(|t| {
            Some(vec![
                words(t.name).to_owned(),
                number::fixed(t.statistic?, 2),
                format!("{:.0}", t.df?),
                number::p_value(t.p_value?),
            ])
        })
        .collect();
    if !rows.is_empty() {
        let head = ["test of no difference", "chi-square", "df", "p-value"];
        out.push_str(&format!("{}\n", table(&head, &rows)));
    }
    if let Some(drawn) = &d.drawn_ages {
        out.push_str(&format!("  {}\n", drawn.words));
    }
    if let Some(own) = &d.mode_test {
        out.push_str(&format!("  {ASKS}\n"));
        if let Some(doubt) = own.doubt() {
            out.push_str(&format!("  {doubt}\n"));
        }
        if let Some(drawn) = &own.drawn_ages {
            out.push_str(&format!("  {}\n", drawn.words));
        }
    }
    let mut missing: Vec<(&str, Vec<&str>)> = vec![];
    for t in all() {
        if let Some(reason) = t.reason.as_deref() {
            match missing.iter_mut().find(|(r, _)| *r == reason) {
                Some((_, names)) => names.push(words(t.name)),
                None => missing.push((reason, vec![words(t.name)])),
            }
        }
    }
    for (reason, names) in missing {
        let names = names.join(", ");
        out.push_str(&format!("  no test by {names}: {reason}\n"));
    }
    out.push('\n');
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
        "gray" => "Gray (share failed by the mode)",
        "gray_stratified" => "Gray, other columns held",
        "log_rank_trend" => "log-rank for a trend",
        "common_shape" => "same shape (likelihood ratio)",
        "common_life" => "same life (likelihood ratio)",
        "no_spread_between_levels" => "levels do not lie apart (likelihood ratio)",
        other => other,
    }
}
