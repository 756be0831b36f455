//! The degenerate and extreme inputs once more, written to files and read by the records reader: what is
//! sound arrives whole, what is impossible is named by file, row and column.

use crate::support::expected::read;
use sealspan_life::fit::{NoFit, fit};
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::{Error, LoadOptions, Question, Records, Sample, Severity, ask, load};
use serde_json::Value;
use std::path::PathBuf;

/// A case as a file in a folder of its own, which goes with it.
struct CaseFile {
    folder: PathBuf,
    name: String,
}

impl CaseFile {
    fn new(case: &Value) -> Self {
        let word = case["name"].as_str().unwrap().replace(' ', "-");
        let folder =
            std::env::temp_dir().join(format!("sealspan-hard-{word}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let name = format!("{word}.csv");
        std::fs::write(folder.join(&name), table(case)).unwrap();
        Self { folder, name }
    }

    fn load(&self) -> Result<Records, Error> {
        load(&self.folder.join(&self.name), &LoadOptions::default())
    }
}

impl Drop for CaseFile {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.folder).ok();
    }
}

/// The rows as a table: `time,status` where all ages are exact or running, else `lower,upper`.
fn table(case: &Value) -> String {
    let rows = case["rows"].as_array().unwrap();
    let cell = |value: &Value| match value {
        Value::Null => String::new(),
        Value::String(word) => word.clone(),
        number => number.as_f64().unwrap().to_string(),
    };
    let plain = rows.iter().all(|r| r[0] == "E" || r[0] == "R");
    let head = if plain { "time,status" } else { "lower,upper" };
    let mut text = format!("{head},count,entry\n");
    for row in rows {
        let (lower, upper) = (cell(&row[1]), cell(&row[2]));
        let ages = match row[0].as_str().unwrap() {
            "E" if plain => format!("{lower},failed"),
            "R" if plain => format!("{lower},running"),
            "E" => format!("{lower},{lower}"),
            // An empty upper end is the reader's "not yet".
            "R" => format!("{lower},"),
            _ if upper == "Inf" => format!("{lower},"),
            _ => format!("{lower},{upper}"),
        };
        text += &format!("{ages},{},{}\n", cell(&row[3]), cell(&row[4]));
    }
    text
}

fn cases(verdicts: &[&str]) -> Vec<Value> {
    let all = read("hard-cases")["cases"].as_array().unwrap().clone();
    let asked = |case: &Value| verdicts.contains(&case["verdict"].as_str().unwrap());
    all.into_iter().filter(asked).collect()
}

fn sample(records: &Records) -> Sample {
    let mut answer = ask(records, &Question::default()).unwrap();
    assert_eq!(answer.groups.len(), 1);
    answer.groups.remove(0).sample
}

#[test]
fn sound_files_arrive_whole_and_say_the_same() {
    let mut fitted = 0;
    for case in cases(&["exists"]) {
        let name = case["name"].as_str().unwrap();
        let records = CaseFile::new(&case).load().unwrap();
        let fit = fit(by_name("weibull").unwrap(), &sample(&records)).unwrap();
        for (key, ours) in [
            ("weibull_shape", fit.estimate(Quantity::Parameter(0))),
            ("weibull_scale", fit.estimate(Quantity::Parameter(1))),
            ("loglik", fit.log_likelihood),
        ] {
            let wanted = case[key].as_f64().unwrap();
            assert!((ours / wanted - 1.0).abs() < 1e-10, "{name} {key}: {ours}");
        }
        // Only rows that stand for no seal are left out, and said to be.
        let nothing = case["rows"].as_array().unwrap().iter();
        let nothing = nothing.filter(|r| r[3].as_f64() == Some(0.0)).count();
        assert_eq!(records.set_aside.len(), nothing, "{name}");
        fitted += 1;
    }
    assert_eq!(fitted, 6);
}

#[test]
fn files_without_a_maximum_are_read_and_refused_with_the_reason() {
    let reasons: Vec<(String, NoFit)> = cases(&["none", "ridge"])
        .iter()
        .map(|case| {
            let records = CaseFile::new(case).load().unwrap();
            let why = fit(by_name("weibull").unwrap(), &sample(&records)).err();
            (case["name"].as_str().unwrap().to_owned(), why.unwrap())
        })
        .collect();
    let wanted = [
        ("all censored", NoFit::NoFailures { total: 5.0 }),
        ("one failure n1", NoFit::InfiniteShape),
        ("all ties", NoFit::InfiniteShape),
        ("one inspection", NoFit::Ridge),
    ];
    assert_eq!(reasons.len(), wanted.len());
    for ((name, reason), (case, why)) in reasons.iter().zip(&wanted) {
        assert_eq!((name.as_str(), reason), (*case, why));
    }
}

/// The first row of each table is row 2 of its file, after the names.
#[test]
fn impossible_rows_are_named_by_file_row_and_column() {
    let wanted = |name: &str| match name {
        "zero time" => vec![(2, "time", "zero_time")],
        "entry ge exit" => vec![
            (2, "entry", "entry_not_below_exit"),
            (3, "entry", "entry_not_below_exit"),
        ],
        "reversed interval" => vec![(2, "lower", "lower_above_upper")],
        "negative time" => vec![(2, "time", "negative_time")],
        "nan time" => vec![(2, "time", "not_finite")],
        _ => vec![],
    };
    let mut refused = 0;
    for case in cases(&["invalid"]) {
        let name = case["name"].as_str().unwrap();
        let file = CaseFile::new(&case);
        if name == "empty" {
            let Err(error) = file.load() else {
                panic!("{name}: read");
            };
            assert_eq!(error.kind(), "header_only");
            assert!(error.file().unwrap().ends_with(&file.name));
            refused += 1;
            continue;
        }
        let records = file.load().unwrap();
        let found: Vec<_> = records
            .findings
            .iter()
            .filter(|f| f.severity == Severity::Error)
            .map(|f| (f.row.unwrap(), f.column.as_deref().unwrap(), f.kind))
            .collect();
        assert_eq!(found, wanted(name), "{name}");
        for (row, column, _) in found {
            let aside = records.set_aside.iter().find(|s| s.row == row).unwrap();
            assert!(aside.file.ends_with(&file.name), "{name}: {}", aside.file);
            assert_eq!(aside.column.as_deref(), Some(column), "{name}");
            refused += 1;
        }
        let answer = ask(&records, &Question::default()).unwrap();
        let aside = records.set_aside.len() as u64;
        assert_eq!(answer.rows_used + aside, records.rows_read, "{name}");
    }
    assert_eq!(refused, 7);
}
