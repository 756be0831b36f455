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
        "check", "fit", "compare", "defects", "care", "stock", "forecast", "report", "simulate",
    ] {
        same(&format!("help-{command}.txt"), &[command, "--help"]);
    }
}

#[test]
fn answers() {
    let demo = "datasets/harrow-lane/study.toml";
    let nist = "datasets/published/nist-weibull/life.csv";
    same("check.txt", &["check", demo]);
    same("fit.txt", &["fit", nist, "--family", "all", "--at", "200"]);
    same("fit-by-material.txt", &["fit", demo, "--by", "material"]);
    same(
        "compare.txt",
        &["compare", demo, "--by", "material", "--given", "site"],
    );
    same("defects.txt", &["defects", demo, "--every", "30,60,90"]);
    same("care.txt", &["care", demo, "--by", "material"]);
    same("stock.txt", &["stock", demo]);
    same("forecast.txt", &["forecast", demo, "--horizon", "365"]);
}
