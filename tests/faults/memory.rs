//! Files that ask for all the memory there is: each is refused in plain words, by a process that may have
//! no more than [`BUDGET`].

use super::hostile_files as made;
use super::support::{Folder, answered, refused, run_after};
use std::process::Output;

/// Address space of the process, KiB: what a small honest file needs too.
const BUDGET: u32 = 2 << 20;

fn fit(name: &str, bytes: &[u8]) -> Output {
    run("fit", name, bytes)
}

fn run(command: &str, name: &str, bytes: &[u8]) -> Output {
    let folder = Folder::new();
    let file = folder.put(name, bytes);
    let args = [command.to_owned(), file.to_str().unwrap().to_owned()];
    run_after(&format!("ulimit -v {BUDGET}"), &args)
}

#[test]
fn a_small_honest_workbook_is_read_within_the_budget() {
    answered(&fit("sound.xlsx", &made::sound_sheet()));
}

#[test]
fn a_workbook_that_unpacks_to_far_more_is_refused() {
    let texts = made::bomb_of_texts(300 << 20);
    assert!(texts.len() < 400_000, "{}", texts.len());
    refused(
        &fit("texts.xlsx", &texts),
        &["unpacks to more than 256 MiB", "texts.xlsx"],
    );
    let lying = made::bomb_of_texts(10);
    refused(
        &fit("lying.xlsx", &lying),
        &["damaged", "larger than its declared"],
    );
    let rows = made::bomb_of_rows();
    assert!(rows.len() < 2_000_000, "{}", rows.len());
    refused(
        &fit("rows.xlsx", &rows),
        &["unpacks to more than 1024 MiB", "rows.xlsx"],
    );
}

#[test]
fn a_cell_far_away_is_named() {
    let parts = ["reaches to column 16384", "row 1048576", "delete the cells"];
    refused(&fit("far.xlsx", &made::far_cell()), &parts);
}

#[test]
fn texts_that_are_claimed_and_not_there_are_refused() {
    let output = fit("many.xlsx", &made::many_texts());
    refused(&output, &["claims more texts than it has room for"]);
}

#[test]
fn a_parquet_file_that_claims_too_much_is_refused() {
    // Read whole; `fit` counts Parquet batch by batch, and has no limit on rows.
    let rows = run("check", "rows.parquet", &made::parquet_claim(1 << 40, 8));
    refused(&rows, &["claims 1099511627776 rows", "too large"]);
    let more = fit("more.parquet", &made::parquet_claim(1 << 50, 8));
    refused(&more, &["claims 1125899906842624 rows", "too large"]);
    let page = fit("page.parquet", &made::parquet_claim(10, 1 << 40));
    refused(&page, &["unpacks to more than 2048 MiB"]);
    let below = fit("below.parquet", &made::parquet_claim(10, -1));
    refused(&below, &["a column lies outside the file"]);
    let empty = run(
        "check",
        "empty.parquet",
        &made::parquet_claim(200_000_000, 8),
    );
    refused(&empty, &["damaged or cut short"]);
    let footer = fit("footer.parquet", &made::parquet_footer(80));
    refused(&footer, &["its footer is larger than 64 MiB"]);
    for (claimed, there) in [(1 << 31, 100), (60 << 20, 60 << 20), (2_000_000, 2_000_000)] {
        let bytes = made::parquet_lists(claimed, there);
        for command in ["fit", "check"] {
            refused(&run(command, "lists.parquet", &bytes), &["lists.parquet"]);
        }
    }
    let beyond = fit("beyond.parquet", b"PAR1\0\0\0\0\xFF\xFF\xFF\x7FPAR1");
    refused(&beyond, &["its end is missing"]);
}

#[test]
fn a_cell_without_end_is_refused() {
    let mut text = "time,status\n120,\"".to_owned();
    text.push_str(&"lost in a cell\n".repeat(100_000));
    text.push_str("\"\n");
    refused(
        &fit("cell.csv", text.as_bytes()),
        &["a cell is 1 MiB long", "row 2"],
    );
}

#[test]
fn a_study_nested_without_end_is_refused() {
    let deep = 100_000;
    let texts = [
        format!("title = {}", "[".repeat(deep)),
        format!("title = {}", "{a=".repeat(deep)),
        format!("[{}a]\n", "a.".repeat(deep)),
        format!("{}a = 1\n", "a.".repeat(deep)),
    ];
    for text in texts {
        let output = fit("study.toml", text.as_bytes());
        refused(&output, &["study.toml"]);
        let said = String::from_utf8_lossy(&output.stderr).len();
        assert!(said < 5_000, "{said} bytes of words");
    }
    let long = format!("title = \"x\"\n{}", "# padding\n".repeat(500_000));
    refused(&fit("long.toml", long.as_bytes()), &["larger than 4 MiB"]);
}
