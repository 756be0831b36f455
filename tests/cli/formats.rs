//! Answers as CSV and Markdown, completions and man pages.

use super::{file, sealspan};

const NIST: &str = "datasets/published/nist-weibull/life.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

/// An answer as rows, and the same as JSON.
fn both(args: &[&str]) -> (Vec<Vec<String>>, serde_json::Value) {
    let with = |format| {
        let run = sealspan(&[args, &["--format", format]].concat());
        assert_eq!(run.status, 0, "{args:?}: {}", run.err);
        run
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(std::io::Cursor::new(with("csv").out));
    let rows = reader
        .records()
        .map(|r| r.unwrap().iter().map(str::to_owned).collect());
    (rows.collect(), with("json").json())
}

fn column(rows: &[Vec<String>], name: &str) -> Vec<String> {
    let at = rows[0].iter().position(|c| c == name);
    let at = at.unwrap_or_else(|| panic!("no column {name} in {:?}", rows[0]));
    rows[1..].iter().map(|r| r[at].clone()).collect()
}

#[test]
fn rows_hold_the_numbers_of_the_json() {
    let (rows, json) = both(&["fit", NIST, "--family", "weibull,lognormal"]);
    let fits = json["groups"][0]["fits"].as_array().unwrap();
    assert_eq!(rows.len(), 1 + fits.len());
    assert_eq!(column(&rows, "family"), ["weibull", "lognormal"]);
    let given = column(&rows, "parameters.1.estimate");
    for (cell, fit) in given.iter().zip(fits) {
        let want = fit["parameters"][0]["estimate"].as_f64().unwrap();
        assert_eq!(cell.parse::<f64>().unwrap().to_bits(), want.to_bits());
    }
    let (rows, json) = both(&["check", DEMO]);
    assert_eq!(rows.len(), 1 + json["findings"].as_array().unwrap().len());
    let (rows, json) = both(&["stock", DEMO]);
    assert_eq!(rows.len(), 1 + json["places"].as_array().unwrap().len());
}

#[test]
fn a_document_without_a_list_is_one_row() {
    let trial =
        "trial --show-life 365 --reliability 0.9 --shape 2.5 --confidence 0.9 --duration 730";
    let (rows, json) = both(&trial.split(' ').collect::<Vec<_>>());
    assert_eq!(rows.len(), 2);
    assert_eq!(column(&rows, "seals"), [json["seals"].to_string()]);
}

#[test]
fn markdown_has_the_same_tables_between_pipes() {
    let text = sealspan(&["check", DEMO]).out;
    let markdown = sealspan(&["check", DEMO, "--format", "markdown"]).out;
    let number = |line: &&str| line.trim_start().starts_with("failed ");
    let failed = text
        .lines()
        .find(number)
        .unwrap()
        .split_whitespace()
        .last()
        .unwrap();
    assert!(
        markdown.contains("| outcome | seals |\n| :--- | ---: |\n"),
        "{markdown:.600}"
    );
    assert!(
        markdown.contains(&format!("| failed | {failed} |")),
        "{markdown:.900}"
    );
}

#[test]
fn refusals_go_to_standard_error_in_words() {
    for format in ["text", "csv", "markdown"] {
        let run = sealspan(&["fit", "no-such-file.csv", "--format", format]);
        assert_eq!((run.status, run.out.as_str()), (2, ""), "{format}");
        assert!(run.err.starts_with("error: "), "{format}: {}", run.err);
    }
}

#[test]
fn every_shell_gets_every_command() {
    let help = sealspan(&["--help"]).out;
    let listed = help.lines().skip_while(|l| *l != "Commands:").skip(1);
    let commands: Vec<&str> = listed
        .take_while(|l| !l.is_empty())
        .filter_map(|l| l.strip_prefix("  ").filter(|l| !l.starts_with(' ')))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .collect();
    assert!(
        commands.len() > 20 && commands.contains(&"last-buy"),
        "{commands:?}"
    );
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let run = sealspan(&["completions", shell]);
        assert_eq!(run.status, 0, "{shell}: {}", run.err);
        for command in &commands {
            assert!(run.out.contains(command), "{shell}: {command}");
        }
    }
    let folder = file("manual/none", b"").with_file_name("man1");
    let run = sealspan(&[
        "manual",
        "--out",
        folder.to_str().unwrap(),
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    for command in &commands {
        let page = std::fs::read_to_string(folder.join(format!("sealspan-{command}.1"))).unwrap();
        assert!(
            page.contains(".TH sealspan-") && page.contains(".SH OPTIONS"),
            "{command}: {page:.300}"
        );
        let head = page.lines().find(|l| l.starts_with(".TH")).unwrap();
        assert!(
            !head.contains("20"),
            "{head}: a date would change the bytes from day to day"
        );
    }
    assert_eq!(
        run.json()["files"].as_array().unwrap().len(),
        commands.len() + 1
    );
}

#[test]
fn nothing_is_coloured() {
    for args in [
        &["--help"][..],
        &["fit", "--help"],
        &["fit", "--nonsense"],
        &["fit", NIST],
    ] {
        let run = sealspan(args);
        assert!(
            !run.out.contains('\u{1b}') && !run.err.contains('\u{1b}'),
            "{args:?}"
        );
    }
}
