//! Tables of any text: rows read are rows used plus rows set aside.

use super::drawn;
use proptest::prelude::*;
use sealspan_records::{Clock, LoadOptions, Question, Records, ask, load};
use std::sync::atomic::{AtomicU32, Ordering};

/// A cell: what belongs there, what does not, and anything at all.
fn cell() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "",
        "failed",
        "running",
        "in_service",
        "worn",
        "preventive",
        "unknown",
        "2023-01-05",
        "2024-02-30",
        "05/06/2024",
        "31.12.2023",
        "2023-Q4",
        "45292",
        "100",
        "2,5",
        "-3",
        "1e9",
        "nan",
        "EPDM",
        "T1",
    ]);
    prop_oneof![
        6 => word.prop_map(str::to_owned),
        1 => "[ -~]{0,12}",
        1 => any::<String>().prop_map(|s| s.chars().take(12).collect()),
    ]
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

fn table(columns: &'static [&'static str]) -> impl Strategy<Value = String> {
    // A row may be too short or too long, its cells quoted or bare.
    let row = (
        prop::collection::vec(cell(), 1..columns.len() + 2),
        any::<bool>(),
    );
    prop::collection::vec(row, 0..12).prop_map(move |rows| {
        let mut text = columns.join(",");
        for (cells, bare) in rows {
            let plain = |c: &String| c.replace(['"', ',', '\n', '\r'], " ");
            let cells: Vec<String> = cells
                .iter()
                .map(|c| if bare { plain(c) } else { quoted(c) })
                .collect();
            text.push('\n');
            text.push_str(&cells.join(","));
        }
        text
    })
}

static NEXT: AtomicU32 = AtomicU32::new(0);

fn read(text: &str) -> Option<Records> {
    let name = format!(
        "sealspan-drawn-{}-{}",
        std::process::id(),
        NEXT.fetch_add(1, Ordering::Relaxed)
    );
    let path = std::env::temp_dir().join(name);
    std::fs::write(&path, text).unwrap();
    let loaded = load(&path, &LoadOptions::default());
    std::fs::remove_file(&path).unwrap();
    match loaded {
        Ok(records) => Some(records),
        Err(error) => {
            assert!(
                !error.message().is_empty() && !error.mend().is_empty(),
                "{error}"
            );
            None
        }
    }
}

fn balanced(text: &str) -> Result<(), TestCaseError> {
    let Some(records) = read(text) else {
        return Ok(());
    };
    let aside = records.set_aside.len() as u64;
    prop_assert_eq!(records.rows_read, records.rows_used() + aside);
    for clock in [Clock::Days, Clock::Hours] {
        let question = Question {
            by: vec![],
            clock,
            mode: None,
        };
        if let Ok(answer) = ask(&records, &question) {
            prop_assert_eq!(
                records.rows_read,
                answer.rows_used + answer.set_aside.len() as u64
            );
            let groups: u64 = answer.groups.iter().map(|g| g.rows_used).sum();
            prop_assert_eq!(groups, answer.rows_used);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(drawn(250))]

    #[test]
    fn seals_are_counted_to_the_last_row(
        text in table(&["seal", "asset", "position", "material", "fitted", "removed", "outcome", "fitted_reading", "removed_reading"]),
    ) {
        balanced(&text)?;
    }

    #[test]
    fn lives_are_counted_to_the_last_row(text in table(&["lower", "upper", "entry", "count", "mode"])) {
        balanced(&text)?;
    }

    #[test]
    fn times_are_counted_to_the_last_row(text in table(&["time", "status", "group"])) {
        balanced(&text)?;
    }

    #[test]
    fn any_text_is_read_or_refused_in_words(text in any::<String>()) {
        balanced(&text)?;
    }
}
