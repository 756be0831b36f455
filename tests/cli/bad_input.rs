//! Bad input gets a clear message with its place and its mend, and the right exit status.

use super::{file, sealspan};

/// Runs `fit` on a file with this content and returns the error document.
fn refused(name: &str, content: &[u8], status: i32) -> serde_json::Value {
    let path = file(name, content);
    let path = path.to_str().unwrap();
    let text = sealspan(&["fit", path]);
    assert_eq!(text.status, status, "{name}: {}", text.err);
    assert!(
        text.out.is_empty() && text.err.contains("mend: "),
        "{name}: {}",
        text.err
    );
    let json = sealspan(&["fit", path, "--format", "json"]);
    assert_eq!(json.status, status, "{name}");
    let document = json.json();
    assert_eq!(document["schema"], "sealspan.error.v1", "{name}");
    assert!(document["error"]["mend"].is_string(), "{name}");
    document["error"].clone()
}

#[test]
fn files_that_are_no_tables() {
    refused("empty.csv", b"", 2);
    refused("header.csv", b"time,status\n", 2);
    refused("other.csv", b"a,b\n1,2\n", 2);
    refused("cut.parquet", b"PAR1\x00\x01", 2);
    refused("cut.xlsx", b"PK\x03\x04\x00\x01", 2);
    for path in ["datasets", "no-such-file.csv"] {
        let run = sealspan(&["fit", path]);
        assert_eq!(run.status, 2);
        assert!(run.err.contains("mend: "), "{}", run.err);
    }
}

#[test]
fn a_table_with_no_usable_row_names_one() {
    let error = refused("negative.csv", b"time,status\n-5,failed\n", 1);
    assert_eq!(error["row"], 2);
}

#[test]
fn rows_at_fault_are_set_aside_and_counted() {
    let content = b"time,status\n10,failed\nabc,failed\n-1,failed\ninf,failed\n0,failed\n20,melted\n30,failed\n50,running\n";
    let path = file("mixed.csv", content);
    let check = sealspan(&["check", path.to_str().unwrap(), "--format", "json"]).json();
    assert_eq!(check["rows_read"], 8);
    assert_eq!(check["observations"]["set_aside"], 5, "{check}");
    let rows: Vec<u64> = check["set_aside"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["row"].as_u64().unwrap())
        .collect();
    assert_eq!(rows, [3, 4, 5, 6, 7]);
}

#[test]
fn two_date_orders_stop_every_question() {
    let content = b"seal,asset,fitted,removed,outcome\nA,T1,25/12/2023,,in_service\nB,T2,12/25/2023,,in_service\n";
    let error = refused("orders.csv", content, 2);
    assert_eq!(error["column"], "fitted");
}

#[test]
fn other_encodings_and_separators_are_read() {
    let utf16: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(
            "time;status\n10,5;failed\n20,5;failed\n30;running\n"
                .encode_utf16()
                .flat_map(u16::to_le_bytes),
        )
        .collect();
    let path = file("utf16.csv", &utf16);
    let run = sealspan(&["fit", path.to_str().unwrap(), "--format", "json"]);
    assert_eq!(run.status, 0, "{}", run.out);
    assert_eq!(
        run.json()["groups"][0]["empirical"]["points"][0]["time"],
        10.5
    );
}

#[test]
fn wrong_arguments() {
    for args in [
        &[
            "fit",
            "datasets/published/nist-weibull/life.csv",
            "--confidence",
            "1.5",
        ][..],
        &[
            "fit",
            "datasets/published/nist-weibull/life.csv",
            "--family",
            "uniform",
        ],
        &[
            "fit",
            "datasets/published/nist-weibull/life.csv",
            "--by",
            "colour",
        ],
        &[
            "care",
            "--life",
            "weibull:shape=-1,scale=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
        ],
        &["stock", "--demand-rate", "-1"],
        &["nonsense"],
    ] {
        let run = sealspan(args);
        assert_eq!(run.status, 2, "{args:?}: {}", run.err);
        let args: Vec<&str> = args.iter().copied().chain(["--format", "json"]).collect();
        assert_eq!(
            sealspan(&args).json()["schema"],
            "sealspan.error.v1",
            "{args:?}"
        );
    }
}

#[test]
fn a_folder_of_somebody_else_is_left_alone() {
    let theirs = file("theirs/keep.txt", b"");
    let folder = theirs.parent().unwrap().to_str().unwrap().to_owned();
    let run = sealspan(&[
        "report",
        "datasets/published/nist-weibull/life.csv",
        "--out",
        &folder,
    ]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert!(theirs.exists());
}
