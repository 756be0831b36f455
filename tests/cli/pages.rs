//! What people read in the terminal, compared with the committed pages in `tests/cli/pages/`.
//! After a wanted change, `SEALSPAN_REWRITE_PAGES=1 cargo test --workspace pages` writes them anew.

use super::sealspan;
use std::path::Path;

fn same(name: &str, args: &[&str]) {
    let run = sealspan(args);
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("cli/pages")
        .join(name);
    if std::env::var_os("SEALSPAN_REWRITE_PAGES").is_some() {
        std::fs::write(&path, &run.out).unwrap();
    }
    let want = std::fs::read_to_string(&path).unwrap();
    assert_eq!(
        run.out,
        want,
        "{} differs from what {args:?} says",
        path.display()
    );
}

#[test]
fn help() {
    same("help.txt", &["--help"]);
    for command in [
        "check",
        "fit",
        "compare",
        "care",
        "stock",
        "forecast",
        "positions",
        "intervals",
        "trial",
        "report",
        "simulate",
        "report",
        "simulate",
        "ageing",
        "condition",
        "materials",
        "check",
        "fit",
        "compare",
        "batches",
        "care",
        "stock",
        "forecast",
        "report",
        "simulate",
        "check",
        "fit",
        "compare",
        "defects",
        "care",
        "stock",
        "depot",
        "last-buy",
        "returns",
        "demand",
        "due",
        "money",
        "forecast",
        "report",
        "simulate",
        "reduction",
        "completions",
        "manual",
    ] {
        same(&format!("help-{command}.txt"), &[command, "--help"]);
    }
}

#[test]
fn answers() {
    let demo = "datasets/harrow-lane/study.toml";
    let nist = "datasets/published/nist-weibull/life.csv";
    same("check.txt", &["check", demo]);
    same("check.csv", &["check", demo, "--format", "csv"]);
    same("fit.txt", &["fit", nist, "--family", "all", "--at", "200"]);
    same("fit-by-material.txt", &["fit", demo, "--by", "material"]);
    same(
        "compare.txt",
        &["compare", demo, "--by", "material", "--given", "site"],
    );
    same("positions.txt", &["positions", demo]);
    same(
        "reduction-lives.sql",
        &["reduction", "--lives", "fleet.lives", "--by", "site"],
    );
    let seals = "reduction --seals seals --inspections looks --columns seal=Serial,asset,position,fitted,removed,outcome,mechanism --by material --modes --cut-off 2025-06-30 --records-from 2018-06-01";
    same("reduction-seals.sql", &seals.split(' ').collect::<Vec<_>>());
    same("batches.txt", &["batches", demo]);
    same(
        "compare-cluster.txt",
        &[
            "compare",
            "datasets/published/rats-by-litter/life.csv",
            "--by",
            "rx",
            "--cluster",
            "litter",
            "--frailty",
            "litter",
        ],
    );
    same("defects.txt", &["defects", demo, "--every", "30,60,90"]);
    same("care.txt", &["care", demo, "--by", "material"]);
    let door = "care --defect weibull:shape=2,scale=300 --delay weibull:shape=2,scale=90 --sector-severity 1.5,1,1,1 --planned-cost 300 --failure-cost 3000 --planned-hours 8 --failure-hours 24 --inspection-cost 20 --turn-cost 2 --inspection-hours 1 --downtime-cost 60 --detection 0.9 --stop-gap-days 5 --age 240 --sound-at 180 --worn-sector 1";
    same("care-door.txt", &door.split(' ').collect::<Vec<_>>());
    same("stock.txt", &["stock", demo]);
    same("intervals.txt", &["intervals", demo]);
    same("intervals.md", &["intervals", demo, "--format", "markdown"]);
    let by = ["--by", "material,cleaning", "--calendar", "quarters"];
    same(
        "intervals-by-cleaning.txt",
        &[&["intervals", demo], &by[..]].concat(),
    );
    let trial = |name: &str, rest: &str| {
        same(name, &rest.split(' ').collect::<Vec<_>>());
    };
    trial(
        "trial.txt",
        "trial --show-life 365 --reliability 0.9 --shape 2.5 --confidence 0.9 --duration 730",
    );
    trial(
        "trial-failures.txt",
        "trial --show-life 365 --reliability 0.9 --shape 2.5 --confidence 0.9 --seals 60 --duration 365",
    );
    trial(
        "trial-apart.txt",
        "trial --ratio 1.5 --shape 2.5 --power 0.8 --confidence 0.9 --life 300 --duration 400",
    );
    same("forecast.txt", &["forecast", demo, "--horizon", "365"]);
    same("demand.txt", &["demand", demo, "--back-test"]);
    same(
        "due.txt",
        &["due", demo, "--place", "Tern Quay", "--within", "30"],
    );
    same("money.txt", &["money", demo, "--months", "12"]);
    let stated = |name: &str, rest: &str| same(name, &rest.split(' ').collect::<Vec<_>>());
    stated(
        "depot.txt",
        "depot --demand-rates 0.1,0.1 --transit 2 --depot-lead-time 14 --spares 5 --transfer-time 0.5",
    );
    stated(
        "last-buy.txt",
        "last-buy --demand-rate 0.011 --horizon 1826 --rate-cv 0.4 --short-cost 900 --unit-price 40 --holding-cost 0.02",
    );
    let lab = "datasets/lab-ageing/compression-set.csv";
    let service = [
        "--limit",
        "50",
        "--at-temperature",
        "60,85",
        "--duty",
        "22@25,2@121",
    ];
    same("ageing.txt", &[&["ageing", lab], &service[..]].concat());
    let thickness = ["--measure", "thickness_mm", "--limit", "4.5"];
    same(
        "condition.txt",
        &[&["condition", demo], &thickness[..]].concat(),
    );
    let duty = ["--temperature", "70", "--medium", "hot caustic"];
    same("materials.txt", &[&["materials", demo], &duty[..]].concat());
}
