//! Every format and encoding gives the same records; every bad file its own clear error.

use crate::common::book::{Cell, book};
use crate::common::{Folder, answer, fires, kinds, options, read};
use polars::prelude::*;
use sealspan_records::{Error, LoadOptions, Seen, load, write};
use std::path::Path;

const CSV: &str = "seal,asset,position,material,fitted,removed,outcome,medium\n\
    S1,HL1-T01,manway,EPDM,2023-01-10,2023-11-02,failed,caustic\n\
    S2,HL1-T02,manway,NBR,2023-02-01,2023-08-01,preventive,beer\n\
    S3,HL1-T03,manway,EPDM,2023-03-01,,,caustic\n";

fn wide(text: &str, little: bool, mark: bool) -> Vec<u8> {
    let mut out = Vec::new();
    let mark = if mark { "\u{feff}" } else { "" };
    for unit in mark.encode_utf16().chain(text.encode_utf16()) {
        out.extend(if little {
            unit.to_le_bytes()
        } else {
            unit.to_be_bytes()
        });
    }
    out
}

#[test]
fn encodings_and_separators_give_the_same_observations() {
    let plain = answer(&read(CSV).unwrap());
    assert_eq!(plain.tally.exact, 1.0);
    assert_eq!(plain.tally.right, 2.0);
    let dresses: Vec<(&str, Vec<u8>)> = vec![
        ("mark", format!("\u{feff}{CSV}").into_bytes()),
        ("utf-16 le", wide(CSV, true, true)),
        ("utf-16 be", wide(CSV, false, true)),
        ("utf-16 le, no mark", wide(CSV, true, false)),
        ("utf-16 be, no mark", wide(CSV, false, false)),
        ("semicolons", CSV.replace(',', ";").into_bytes()),
        ("tabs", CSV.replace(',', "\t").into_bytes()),
        ("carriage returns", CSV.replace('\n', "\r\n").into_bytes()),
        (
            "lone carriage returns",
            CSV.replace('\n', "\r").into_bytes(),
        ),
        ("no last line end", CSV.trim_end().as_bytes().to_vec()),
        ("quotes", CSV.replace("caustic", "\"caustic\"").into_bytes()),
        (
            "quotes in the header",
            CSV.replace("seal,", "\"seal\",").into_bytes(),
        ),
        ("spaces", CSV.replace(',', " , ").into_bytes()),
        (
            "trailing separators",
            CSV.replace('\n', ",,\n").into_bytes(),
        ),
        (
            "other dress of names",
            CSV.replace("fitted", "FITTED")
                .replace("outcome", "Out-Come ")
                .replace("Out-Come ", "Outcome")
                .into_bytes(),
        ),
    ];
    for (what, bytes) in dresses {
        let records = read(bytes).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_eq!(answer(&records).groups, plain.groups, "{what}");
    }
}

#[test]
fn parquet_and_workbooks_give_the_same_observations() {
    let plain = answer(&read(CSV).unwrap());
    let folder = Folder::new();
    let day = |text: Option<&str>| {
        text.map(|t| {
            let date: jiff::civil::Date = t.parse().unwrap();
            sealspan_records::dates::days_between(jiff::civil::date(1970, 1, 1), date) as i32
        })
    };
    let dates = |name: &str, texts: &[Option<&str>]| {
        let days: Vec<Option<i32>> = texts.iter().map(|t| day(*t)).collect();
        Column::new(name.into(), days)
            .cast(&DataType::Date)
            .unwrap()
    };
    let mut frame = DataFrame::new(
        3,
        vec![
            Column::new("seal".into(), ["S1", "S2", "S3"]),
            Column::new("asset".into(), ["HL1-T01", "HL1-T02", "HL1-T03"]),
            Column::new("position".into(), ["manway", "manway", "manway"]),
            Column::new("material".into(), ["EPDM", "NBR", "EPDM"]),
            dates(
                "fitted",
                &[Some("2023-01-10"), Some("2023-02-01"), Some("2023-03-01")],
            ),
            dates("removed", &[Some("2023-11-02"), Some("2023-08-01"), None]),
            Column::new("outcome".into(), [Some("failed"), Some("preventive"), None]),
            Column::new("medium".into(), ["caustic", "beer", "caustic"]),
        ],
    )
    .unwrap();
    let path = folder.path().join("seals.data");
    write::write_parquet(&mut frame, &path).unwrap();
    let records = load(&path, &options()).unwrap();
    assert_eq!(answer(&records).groups, plain.groups);
    assert_eq!(records.sources[0].format, "Parquet");
    assert_eq!(records.seals[0].row, 1);

    write::write_csv(&mut frame, &folder.path().join("again.csv")).unwrap();
    let records = load(&folder.path().join("again.csv"), &options()).unwrap();
    assert_eq!(answer(&records).groups, plain.groups);

    for (from_1904, shift) in [(false, 0.0), (true, 1462.0)] {
        let path = folder.put("seals.bin", book(&workbook(shift), from_1904));
        let records = load(&path, &options()).unwrap();
        assert_eq!(answer(&records).groups, plain.groups, "1904: {from_1904}");
        assert_eq!(records.sources[0].format, "XLSX");
        assert_eq!(records.seals[2].row, 4);
    }
}

/// The table above; 2023-01-10 is day 44936 of the 1900 epoch.
fn workbook(shift: f64) -> Vec<Vec<Cell>> {
    use Cell::{Day, Empty, Text};
    let names = [
        "seal", "asset", "position", "material", "fitted", "removed", "outcome", "medium",
    ];
    let day = |d: f64| Day(d - shift);
    vec![
        names.into_iter().map(Text).collect(),
        vec![
            Text("S1"),
            Text("HL1-T01"),
            Text("manway"),
            Text("EPDM"),
            day(44936.0),
            day(45232.0),
            Text("failed"),
            Text("caustic"),
        ],
        vec![
            Text("S2"),
            Text("HL1-T02"),
            Text("manway"),
            Text("NBR"),
            day(44958.0),
            day(45139.0),
            Text("preventive"),
            Text("beer"),
        ],
        vec![
            Text("S3"),
            Text("HL1-T03"),
            Text("manway"),
            Text("EPDM"),
            day(44986.0),
            Empty,
            Empty,
            Text("caustic"),
        ],
    ]
}

#[test]
fn latin_letters_are_guessed_and_noted() {
    let text = CSV.replace("beer", "m\u{fc}sli");
    let bytes: Vec<u8> = text.chars().map(|c| c as u32 as u8).collect();
    let records = read(bytes).unwrap();
    assert!(kinds(&records).contains(&"encoding_guessed"));
    assert_eq!(
        records.seals[1].conditions,
        vec![("medium".to_owned(), "m\u{fc}sli".to_owned())]
    );
    assert_eq!(records.sources[0].encoding, Some("Windows-1252"));
}

#[test]
fn decimal_commas_are_read_between_semicolons() {
    let answer = answer(&read("time;status\n12,5;failed\n300;running\n").unwrap());
    assert_eq!(answer.groups[0].sample.rows()[0].seen(), Seen::Exact(12.5));
    let records = read("time;status\n12,5;failed\n1.300;running\n").unwrap();
    fires(&records, "not_a_number", 3, "time");
}

#[test]
fn row_numbers_are_the_files_own() {
    let text = "time,status,remark\n\n5,failed,\"two\nlines, one cell\"\n\n,,\n-1,failed,x\n7,failed\n9,running,ok\n";
    let records = read(text).unwrap();
    // Blank lines count as rows; the line end inside the quotes does not.
    fires(&records, "negative_time", 6, "time");
    let ragged = records
        .findings
        .iter()
        .find(|f| f.kind == "wrong_number_of_fields")
        .unwrap();
    assert_eq!(ragged.row, Some(7));
    assert!(ragged.message.contains("2 fields") && ragged.message.contains('3'));
    assert_eq!(records.rows_read, 4);
    assert_eq!(answer(&records).rows_used, 2);

    let plain = "time,status\n\n5,failed\n\n-1,failed\n7\n9,running\n";
    let records = read(plain).unwrap();
    fires(&records, "negative_time", 5, "time");
    let ragged = records
        .findings
        .iter()
        .find(|f| f.kind == "wrong_number_of_fields")
        .unwrap();
    assert_eq!(ragged.row, Some(6));
    assert_eq!(answer(&records).rows_used, 2);
}

#[test]
fn long_texts_split_in_pieces_keep_their_order_and_rows() {
    let mut text = String::from("time,status\n");
    for n in 1..400_000_u32 {
        text.push_str(&format!(
            "{}.{:04},{}\n",
            1 + n % 977,
            n % 10_000,
            if n % 3 == 0 { "failed" } else { "running" }
        ));
    }
    text.push_str("oops,failed\n");
    assert!(text.len() > 4 << 20);
    let records = read(&text).unwrap();
    fires(&records, "not_a_number", 400_001, "time");
    let answer = answer(&records);
    assert_eq!(answer.rows_used, 399_999);
    assert_eq!(
        answer.groups[0].sample.rows()[2].seen(),
        Seen::Exact(4.0003)
    );
    let last = answer.groups[0].sample.rows().last().unwrap();
    assert_eq!(
        last.seen(),
        Seen::Exact(f64::from(1 + 399_999 % 977) + 0.9999)
    );
}

fn refused(result: Result<sealspan_records::Records, Error>, kind: &str) -> Error {
    let error = result
        .err()
        .unwrap_or_else(|| panic!("{kind}: read without complaint"));
    assert_eq!(error.kind(), kind, "{error}");
    assert!(!error.mend().is_empty() && error.is_bad_input());
    assert!(error.file().is_some(), "{error}");
    error
}

/// What is wrong with a header is told at the header's own row, blank lines above it or not.
#[test]
fn faults_of_a_header_are_told_at_its_row() {
    for (above, row) in [("", 1), ("\n\n", 3)] {
        for (text, kind) in [
            ("time\n1\n", "bad_header"),
            ("time,status,time\n1,failed,2\n", "bad_header"),
            ("time,status,\n1,failed,2\n", "bad_header"),
            ("time,status\n", "header_only"),
            ("size,colour\n1,red\n", "missing_column"),
            ("time,colour\n1,red\n", "missing_column"),
        ] {
            let error = refused(read(format!("{above}{text}")), kind);
            assert_eq!(error.row(), Some(row), "{text:?}: {error}");
        }
    }
}

#[test]
fn bad_files_are_refused_in_words() {
    let none = LoadOptions::default();
    let folder = Folder::new();
    refused(
        load(Path::new("/nowhere/at/all.csv"), &none),
        "missing_file",
    );
    refused(load(folder.path(), &none), "directory");
    refused(read(""), "empty_file");
    refused(read("\n\n  \n"), "empty_file");
    refused(read("time,status\n"), "header_only");
    refused(read("time\n1\n"), "bad_header");
    refused(read("time,status,time\n1,failed,2\n"), "bad_header");
    refused(read("time,status,\n1,failed,2\n"), "bad_header");
    refused(read("size,colour\n1,red\n"), "missing_column");
    refused(read("time,colour\n1,red\n"), "missing_column");
    refused(read([1_u8, 0, 2, 0, 0, 0, 9, 9, 9]), "not_text");
    refused(
        read("time,status\nsoon,failed\nlater,failed\n"),
        "unreadable_column",
    );
    refused(read("time,status\n1,ok\n2,ok\n"), "unreadable_column");
    let error = refused(read("time,status\n1,\"failed\n2,running\n"), "damaged_file");
    assert_eq!(error.row(), Some(2));
}

#[test]
fn an_endless_line_is_refused_before_it_is_read() {
    let folder = Folder::new();
    let path = folder.put("line.csv", "time,status\n1,failed\n");
    let file = std::fs::OpenOptions::new()
        .append(true)
        .open(&path)
        .unwrap();
    // A hole of 200 MB reads as zeros and holds no line end.
    file.set_len(200_000_000).unwrap();
    let error = refused(load(&path, &options()), "line_too_long");
    assert_eq!(error.row(), Some(3));
}

#[test]
fn cut_files_are_refused() {
    let folder = Folder::new();
    let mut frame = DataFrame::new(
        2,
        vec![
            Column::new("time".into(), [1.0, 2.0]),
            Column::new("status".into(), [1, 0]),
        ],
    )
    .unwrap();
    let path = folder.path().join("whole.parquet");
    write::write_parquet(&mut frame, &path).unwrap();
    let whole = std::fs::read(&path).unwrap();
    for cut in [4, 11, whole.len() / 2, whole.len() - 1] {
        refused(
            load(&folder.put("cut", &whole[..cut]), &options()),
            "damaged_file",
        );
    }
    // A changed byte must never bring the program down.
    for at in 4..whole.len() {
        let mut bent = whole.clone();
        bent[at] ^= 0xFF;
        let _ = load(&folder.put("bent", &bent), &options());
    }
    let whole = book(&workbook(0.0), false);
    for cut in [4, 100, whole.len() / 2, whole.len() - 1] {
        refused(
            load(&folder.put("cut", &whole[..cut]), &options()),
            "damaged_file",
        );
    }
}

/// Other programs write small whole numbers, decimal numbers and structures: each that is a number is one here, and a
/// structure that nobody asks for is in nobody's way.
#[test]
fn every_kind_of_number_of_a_parquet_file_is_read() {
    let folder = Folder::new();
    let ages = [120.0, 300.0, 90.0];
    let time = Column::new("time".into(), ages);
    let counts = [1_i64, 4, 2];
    let count = Column::new("count".into(), counts);
    let inner = [Column::new("by".into(), ["A", "B", "C"])];
    let small = [
        DataType::Int8,
        DataType::Int16,
        DataType::UInt8,
        DataType::UInt16,
    ];
    let others = [DataType::Int32, DataType::Float32, DataType::Decimal(9, 2)];
    for kind in small.into_iter().chain(others) {
        let time = match kind {
            DataType::Int8 | DataType::UInt8 => time.clone(),
            _ => time.cast(&kind).unwrap(),
        };
        let looked = StructChunked::from_columns("looked".into(), 3, &inner).unwrap();
        let mut frame = DataFrame::new(
            3,
            vec![
                time,
                Column::new("status".into(), ["failed", "running", "failed"]),
                count.cast(&kind).unwrap(),
                looked.into_column(),
            ],
        )
        .unwrap();
        let path = folder.path().join("lives.parquet");
        write::write_parquet(&mut frame, &path).unwrap();
        let records = load(&path, &options()).unwrap_or_else(|e| panic!("{kind}: {e:?}"));
        let found = answer(&records);
        let rows = found.groups[0].sample.rows();
        for (row, (age, count)) in rows.iter().zip(ages.iter().zip(counts)) {
            assert_eq!((row.last(), row.count()), (*age, count as f64), "{kind}");
        }
    }
}
