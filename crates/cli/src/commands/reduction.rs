//! `reduction`: the SQL that reduces a database's tables to counts that `fit` reads.

use crate::Answer;
use crate::args::Reduction;
use crate::failure::Failure;
use crate::output::Output;
use jiff::civil::Date;
use sealspan_records::reduction::{LivesTable, SealTables, of_lives, of_seals};

pub fn run(args: &Reduction) -> Answer {
    let sql = match (&args.lives, &args.seals) {
        (Some(table), _) => of_lives(&LivesTable {
            table: table.clone(),
            columns: or(&args.columns, &["time", "status"]),
            by: args.by.clone(),
        })?,
        (None, Some(table)) => of_seals(&SealTables {
            seals: table.clone(),
            columns: or(
                &args.columns,
                &["seal", "asset", "position", "fitted", "removed", "outcome"],
            ),
            inspections: args.inspections.clone(),
            look_columns: or(
                &args.look_columns,
                &["seal", "asset", "position", "date", "finding"],
            ),
            by: args.by.clone(),
            modes: args.modes,
            cut_off: date("--cut-off", args.cut_off.as_deref())?,
            records_from: date("--records-from", args.records_from.as_deref())?,
        })?,
        (None, None) => {
            return Err(Failure::argument(
                "there is no table",
                "name one: --lives TABLE, or --seals TABLE",
            ));
        }
    };
    Ok(Output::bytes(sql.into_bytes()))
}

fn or(given: &[String], usual: &[&str]) -> Vec<String> {
    match given {
        [] => usual.iter().map(|c| (*c).to_owned()).collect(),
        given => given.to_vec(),
    }
}

fn date(option: &str, text: Option<&str>) -> Result<Option<Date>, Failure> {
    let read = |text: &str| {
        text.parse().map_err(|_| {
            Failure::argument(
                format!("{option} {text} is not a date"),
                "write it as YYYY-MM-DD",
            )
        })
    };
    text.map(read).transpose()
}
