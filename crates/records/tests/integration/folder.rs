//! A folder of Parquet files reads as one table: the same answers as its rows in one CSV, to the last bit.

use crate::common::{Folder, TODAY, balanced};
use polars::prelude::*;
use sealspan_numeric::random::Stream;
use sealspan_records::{
    Answer, Error, LoadOptions, Needs, Question, Records, ask, load, modes, write,
};
use std::path::Path;

const SITES: [&str; 3] = ["Beck", "Dene/East", "Alder"];

/// Rows of one site: lower, upper, entry, mode, batch.
type Row = (
    Option<f64>,
    Option<f64>,
    f64,
    Option<&'static str>,
    &'static str,
);

/// Invented lives, many of them alike.
fn rows(site: u64) -> Vec<Row> {
    let mut stream = Stream::new(7, site);
    let mut row = || {
        let age = (40.0 * stream.exponential()).ceil();
        let entry = if stream.uniform() < 0.2 { 3.5 } else { 0.0 };
        let mode = if stream.uniform() < 0.5 {
            "leak"
        } else {
            " Cut"
        };
        let batch = if stream.uniform() < 0.3 { "7" } else { "12" };
        let last = age + 4.0;
        match (stream.uniform() * 4.0) as u32 {
            0 => (Some(last), None, entry, None, batch),
            1 => (None, Some(last), entry, Some(mode), batch),
            2 => (Some(last), Some(last), entry, Some(mode), batch),
            _ => (Some(last), Some(last + 7.0), entry, Some(mode), batch),
        }
    };
    (0..500).map(|_| row()).collect()
}

fn frame(rows: &[Row]) -> DataFrame {
    let columns = vec![
        Column::new("lower".into(), rows.iter().map(|r| r.0).collect::<Vec<_>>()),
        Column::new("upper".into(), rows.iter().map(|r| r.1).collect::<Vec<_>>()),
        Column::new("entry".into(), rows.iter().map(|r| r.2).collect::<Vec<_>>()),
        Column::new("mode".into(), rows.iter().map(|r| r.3).collect::<Vec<_>>()),
        Column::new("batch".into(), rows.iter().map(|r| r.4).collect::<Vec<_>>()),
    ];
    DataFrame::new(rows.len(), columns).unwrap()
}

/// The lives as partitions by site of two files each, and as one CSV.
fn both(folder: &Folder) -> (std::path::PathBuf, std::path::PathBuf) {
    let top = folder.path().join("lives");
    let mut csv = "lower,upper,entry,mode,batch,site\n".to_owned();
    for (n, site) in SITES.iter().enumerate() {
        let below = top.join(format!("site={}", site.replace('/', "%2F")));
        std::fs::create_dir_all(&below).unwrap();
        let rows = rows(n as u64);
        for (part, rows) in rows.chunks(300).enumerate() {
            put(&below.join(format!("part-{part}.parquet")), frame(rows));
        }
        for (lower, upper, entry, mode, batch) in rows {
            let text = |v: Option<f64>| v.map_or(String::new(), |v| v.to_string());
            let (lower, upper, mode) = (text(lower), text(upper), mode.unwrap_or_default());
            csv.push_str(&format!("{lower},{upper},{entry},{mode},{batch},{site}\n"));
        }
    }
    std::fs::write(top.join("_SUCCESS"), "").unwrap();
    (top, folder.put("lives.csv", csv))
}

fn put(path: &Path, mut frame: DataFrame) {
    write::write_parquet(&mut frame, path).unwrap();
}

fn counted(path: &Path, question: &Question) -> Result<Records, Error> {
    let needs = Needs {
        by: question.by.clone(),
        mode: question.mode.is_some(),
    };
    load(
        path,
        &LoadOptions {
            today: Some(TODAY),
            needs: Some(needs),
            ..LoadOptions::default()
        },
    )
}

fn asked(records: &Records, question: &Question) -> Answer {
    let answer = ask(records, question).unwrap();
    balanced(records, &answer);
    answer
}

fn question(by: &[&str], mode: Option<&str>) -> Question {
    Question {
        by: by.iter().map(|b| (*b).to_owned()).collect(),
        mode: mode.map(str::to_owned),
        ..Question::default()
    }
}

#[test]
fn a_folder_gives_what_one_csv_gives() {
    let folder = Folder::new();
    let (top, csv) = both(&folder);
    let questions = [
        question(&[], None),
        question(&["site"], None),
        question(&["batch", "site"], Some("cut")),
        question(&["Mode"], None),
    ];
    for question in questions {
        let plain = load(&csv, &LoadOptions::default()).unwrap();
        let whole = counted(&top, &question).unwrap();
        assert_eq!((plain.rows_read, plain.rows_used()), (1500, 1500));
        assert_eq!((whole.rows_read, whole.rows_used()), (1500, 1500));
        let (plain, whole) = (asked(&plain, &question), asked(&whole, &question));
        assert_eq!(whole.tally, plain.tally);
        assert_eq!(whole.groups.len(), plain.groups.len());
        for (a, b) in whole.groups.iter().zip(&plain.groups) {
            assert_eq!((&a.key, a.rows_used), (&b.key, b.rows_used));
            assert_eq!(a.sample.reduce(), b.sample.reduce());
            assert!(
                a.sample.rows().len() < b.sample.rows().len(),
                "nothing was counted"
            );
        }
    }
    let modes_of = |path| modes(&counted(path, &question(&[], Some("cut"))).unwrap());
    assert_eq!(modes_of(&top), ["cut", "leak"]);
}

#[test]
fn the_counts_are_the_same_for_any_number_of_threads() {
    let folder = Folder::new();
    let (top, _) = both(&folder);
    let question = question(&["site"], None);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let records = pool.install(|| counted(&top, &question)).unwrap();
        asked(&records, &question).groups
    };
    let one = with(1);
    assert_eq!(with(2), one);
    assert_eq!(with(5), one);
}

#[test]
fn one_parquet_file_is_counted_too() {
    let folder = Folder::new();
    let path = folder.path().join("lives.parquet");
    put(&path, frame(&rows(1)));
    let question = question(&["batch"], None);
    let rows = load(&path, &LoadOptions::default()).unwrap();
    let counts = counted(&path, &question).unwrap();
    let reduced = |records| {
        asked(records, &question)
            .groups
            .iter()
            .map(|g| g.sample.reduce())
            .collect::<Vec<_>>()
    };
    assert_eq!(reduced(&counts), reduced(&rows));
}

/// Two files of time and status, one after the other.
fn two(folder: &Folder, second: Vec<Column>) -> std::path::PathBuf {
    let top = folder.path().join("two");
    std::fs::create_dir_all(&top).unwrap();
    let first = vec![
        Column::new("time".into(), [5.0, 6.0]),
        Column::new("status".into(), ["failed", "running"]),
    ];
    put(&top.join("a.parquet"), DataFrame::new(2, first).unwrap());
    put(
        &top.join("b.parquet"),
        DataFrame::new(second[0].len(), second).unwrap(),
    );
    top
}

#[test]
fn a_bad_cell_names_file_row_and_column() {
    let folder = Folder::new();
    let top = two(
        &folder,
        vec![
            Column::new("time".into(), [Some(9.0), Some(-1.0), Some(-1.0), None]),
            Column::new("status".into(), ["failed", "running", "running", "n/a"]),
        ],
    );
    let question = Question::default();
    let records = counted(&top, &question).unwrap();
    let answer = asked(&records, &question);
    assert_eq!((records.rows_read, answer.rows_used), (6, 3));
    let aside: Vec<_> = answer
        .set_aside
        .iter()
        .map(|s| (s.row, s.column.as_deref()))
        .collect();
    assert_eq!(
        aside,
        [(2, Some("time")), (3, Some("time")), (4, Some("time"))]
    );
    assert!(
        answer
            .set_aside
            .iter()
            .all(|s| s.file.ends_with("b.parquet"))
    );
    let finding = |kind| records.findings.iter().find(|f| f.kind == kind).unwrap();
    assert!(finding("negative_time").mend.contains("correct the age"));
    assert_eq!(finding("missing_word").row, Some(4));
}

#[test]
fn files_of_unlike_columns_are_refused() {
    let status = || Column::new("status".into(), ["failed"]);
    let cases = [
        (
            vec![Column::new("time".into(), ["5"]), status()],
            "time",
            "holds text here, but numbers",
        ),
        (
            vec![status(), Column::new("hours".into(), [5.0])],
            "time",
            "is not in this file",
        ),
        (
            vec![
                Column::new("time".into(), [5.0]),
                status(),
                Column::new("site".into(), ["x"]),
            ],
            "site",
            "is not in",
        ),
    ];
    for (columns, column, words) in cases {
        let folder = Folder::new();
        let error = counted(&two(&folder, columns), &Question::default()).unwrap_err();
        assert!(
            error.file().is_some_and(|f| f.ends_with("b.parquet")),
            "{error:?}"
        );
        assert_eq!(error.column(), Some(column), "{error:?}");
        assert!(error.message().contains(words), "{error:?}");
    }
}

#[test]
fn folders_that_are_no_table_are_refused() {
    let folder = Folder::new();
    let message = |path: &Path| {
        counted(path, &Question::default())
            .unwrap_err()
            .message()
            .to_owned()
    };
    let empty = folder.path().join("empty");
    std::fs::create_dir_all(&empty).unwrap();
    assert!(message(&empty).contains("no Parquet file"));
    let top = two(
        &folder,
        vec![
            Column::new("time".into(), [1.0]),
            Column::new("status".into(), ["running"]),
        ],
    );
    std::fs::write(top.join("more.csv"), "time,status\n1,failed\n").unwrap();
    assert!(message(&top).contains("not called .parquet"));
    std::fs::remove_file(top.join("more.csv")).unwrap();
    std::fs::write(top.join("cut.parquet"), b"PAR1 and no more").unwrap();
    assert!(message(&top).contains("damaged"));
    std::fs::remove_file(top.join("cut.parquet")).unwrap();
    let below = top.join("site=x");
    std::fs::create_dir_all(&below).unwrap();
    std::fs::rename(top.join("b.parquet"), below.join("b.parquet")).unwrap();
    assert!(message(&top).contains("the folders give site here, but no key"));
    let unasked = load(&top, &LoadOptions::default()).unwrap_err();
    assert!(unasked.message().contains("this is a folder"));
}

#[test]
fn a_table_in_which_no_row_can_be_read_is_refused() {
    let folder = Folder::new();
    let path = folder.path().join("lives.parquet");
    let columns = vec![
        Column::new("time".into(), ["long", "short"]),
        Column::new("status".into(), ["failed"; 2]),
    ];
    put(&path, DataFrame::new(2, columns).unwrap());
    let error = counted(&path, &Question::default()).unwrap_err();
    assert!(
        error
            .message()
            .contains("no row can be read; the first says: \"long\""),
        "{error:?}"
    );
    assert_eq!((error.row(), error.column()), (Some(1), Some("time")));
}
