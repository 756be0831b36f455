//! Bad input gets a clear message with its place and its mend, and the right exit status.

use super::{file, sealspan};

const NIST: &str = "datasets/published/nist-weibull/life.csv";

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
    let (whole, folder) = (file("whole/x", b""), "datasets/harrow-lane/scenario.toml");
    let records = whole.parent().unwrap().join("records");
    let out = records.to_str().unwrap();
    let made = sealspan(&[
        "simulate", folder, "--seed", "1", "--table", "parquet", "--out", out,
    ]);
    assert_eq!(made.status, 0, "{}", made.err);
    let bytes = std::fs::read(records.join("seals.parquet")).unwrap();
    refused("half.parquet", &bytes[..bytes.len() / 2], 2);
    refused("cut.xlsx", b"PK\x03\x04\x00\x01", 2);
    for path in ["datasets", "no-such-file.csv"] {
        let run = sealspan(&["fit", path]);
        assert_eq!(run.status, 2);
        assert!(run.err.contains("mend: "), "{}", run.err);
    }
}

/// A footer and a page, a byte changed in each, on which the decoder stops; the second on a thread of its own.
#[test]
fn where_a_decoder_stops_only_the_damage_is_told() {
    for part in ["footer", "page"] {
        let damaged = format!("tests/fuzz/corpus/parquet/{part}-on-which-the-decoder-panics");
        let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        let bytes = std::fs::read(top.join(damaged)).unwrap();
        let path = file(&format!("{part}.parquet"), &bytes);
        let run = sealspan(&["fit", path.to_str().unwrap()]);
        assert_eq!(run.status, 2);
        assert!(
            run.err.starts_with("error: the Parquet file is damaged"),
            "{}",
            run.err
        );
        assert_eq!(run.err.trim_end().lines().count(), 3, "{}", run.err);
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
        &["fit", NIST, "--confidence", "1.5"][..],
        &["fit", NIST, "--family", "uniform"],
        &["fit", NIST, "--by", "colour"],
        &[
            "care",
            "--life",
            "weibull:shape=-1,scale=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
        ],
        &[
            "care",
            "--defect",
            "exponential:mean=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
        ],
        &[
            "care",
            "--life",
            "exponential:mean=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
            "--detection",
            "1.2",
        ],
        &[
            "care",
            "--life",
            "exponential:mean=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
            "--inspect-every",
            "0",
        ],
        &[
            "care",
            "--life",
            "exponential:mean=3",
            "--planned-cost",
            "1",
            "--failure-cost",
            "2",
            "--sector-severity",
            "1",
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
    let theirs = file("theirs/keep.txt", b"kept");
    let folder = theirs.parent().unwrap();
    let run = sealspan(&["report", NIST, "--out", folder.to_str().unwrap()]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert!(run.err.contains("mend: "), "{}", run.err);
    let left: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(left, ["keep.txt"]);
    assert_eq!(std::fs::read(&theirs).unwrap(), b"kept");
    let beside = std::fs::read_dir(folder.parent().unwrap()).unwrap();
    let names = beside.map(|e| e.unwrap().file_name().into_string().unwrap());
    assert!(
        names.into_iter().all(|n| !n.contains("theirs.")),
        "a half-written folder was left"
    );
}

#[test]
fn a_line_too_long_to_be_a_table_is_refused() {
    let mut line = b"time,status\n".to_vec();
    line.resize(200_000_000, b'1');
    let path = file("long.csv", &line);
    let run = sealspan(&["fit", path.to_str().unwrap(), "--format", "json"]);
    std::fs::remove_file(path).unwrap();
    assert_eq!(run.status, 2);
    let error = &run.json()["error"];
    assert_eq!(error["kind"], "line_too_long");
    assert_eq!(error["row"], 2);
}

#[test]
fn seals_that_contradict_each_other_are_set_aside_with_their_rows() {
    let content = b"seal,asset,position,material,fitted,removed,outcome\n\
        A,T1,door,EPDM,2023-05-01,2023-04-01,failed\n\
        B,T2,door,EPDM,2023-01-01,2023-06-01,failed\n\
        B,T2,door,EPDM,2023-01-01,2023-06-01,failed\n\
        C,T3,door,EPDM,2023-01-01,2023-06-01,failed\n\
        D,T3,door,EPDM,2023-03-01,2023-09-01,failed\n\
        E,T4,door,EPDM,2023-01-01,2023-06-01,exploded\n\
        F,T5,door,EPDM,2023-01-01,,in_service\n\
        G,T6,door,EPDM,2023-01-01,2023-08-01,failed\n";
    let path = file("contradict.csv", content);
    let check = sealspan(&["check", path.to_str().unwrap(), "--format", "json"]).json();
    let at = |kind: &str| -> Vec<u64> {
        let findings = check["findings"].as_array().unwrap().iter();
        findings
            .filter(|f| f["kind"] == kind)
            .filter_map(|f| f["row"].as_u64())
            .collect()
    };
    assert_eq!(at("removal_before_fitting"), [2]);
    assert_eq!(at("duplicate_seal"), [4]);
    assert_eq!(at("overlapping_seals"), [5, 6]);
    assert_eq!(at("unknown_outcome_word"), [7]);
    assert_eq!(check["rows_read"], 8);
    assert_eq!(check["seals"], 3);
}

#[test]
fn few_and_only_failures_are_answered_in_words() {
    let one = file(
        "one.csv",
        b"time,status\n100,failed\n150,running\n150,running\n",
    );
    let json = sealspan(&["fit", one.to_str().unwrap(), "--format", "json"]).json();
    let group = &json["groups"][0];
    assert!(
        group["fits"][0]["warnings"][0]
            .as_str()
            .unwrap()
            .contains("only 1 failure")
    );
    assert!(!group["assumed_shapes"].as_array().unwrap().is_empty());
    let all = file(
        "all.csv",
        b"time,status\n10,failed\n20,failed\n40,failed\n70,failed\n90,failed\n",
    );
    let run = sealspan(&["fit", all.to_str().unwrap()]);
    assert_eq!(run.status, 0);
    assert!(run.out.contains("left out?"), "{}", run.out);
    let tied = file("tied.csv", b"time,status\n10,failed\n10,failed\n");
    let run = sealspan(&["fit", tied.to_str().unwrap(), "--format", "json"]);
    let fit = &run.json()["groups"][0]["fits"][0];
    assert_eq!(fit["converged"], false);
    assert!(
        fit["reason"]
            .as_str()
            .unwrap()
            .contains("shape has no finite estimate")
    );
}

#[test]
fn a_report_without_costs_says_what_is_missing() {
    let out = file("no-costs/x", b"").parent().unwrap().join("report");
    let run = sealspan(&["report", NIST, "--out", out.to_str().unwrap()]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.out.contains("costs.seal_price"), "{}", run.out);
    let html = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert!(html.contains("Costs are not worked out"));
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_sealspan-under-test"))
        .args([
            "check",
            "datasets/harrow-lane/study.toml",
            "--format",
            "json",
        ])
        .current_dir(top)
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn a_regression_without_an_answer_names_the_column_in_its_way() {
    let heat = "datasets/published/motor-insulation/life.csv";
    let run = sealspan(&["compare", heat, "--by", "temperature_c", "--format", "json"]);
    let reason = run.json()["regression_reason"].as_str().unwrap().to_owned();
    assert!(reason.contains("temperature_c = `150`"), "{reason}");
    let run = sealspan(&["compare", "datasets/harrow-lane/study.toml", "--by", "seal"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("coarser columns"), "{}", run.err);
}
