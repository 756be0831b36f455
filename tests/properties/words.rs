//! Text from records in what is written: it is shown and does not act.

use super::drawn;
use proptest::prelude::*;
use sealspan_report::document::{Block, DataTable, Document, Lead, Page, Table};
use sealspan_report::render::csv::csv;
use sealspan_report::render::html::html;
use sealspan_report::visible::{acts, visible};

/// Text that is out to act, and any other.
fn hostile() -> impl Strategy<Value = String> {
    let parts = prop::sample::select(vec![
        "<script>",
        "</script>",
        "<!--",
        "-->",
        "&lt;",
        "&",
        "\"",
        "'",
        "><img src=x onerror=a>",
        "{{",
        "}}",
        "{%",
        "=1+1",
        "+",
        "-",
        "@",
        "\t",
        "\r\n",
        "\u{202e}",
        "\u{1b}[31m",
        "`",
        "|",
        "]]>",
        "javascript:",
        "\0",
    ]);
    let mixed = prop_oneof![3 => parts.prop_map(str::to_owned), 1 => any::<String>()];
    prop::collection::vec(mixed, 1..6).prop_map(|p| p.concat())
}

fn page(text: &str) -> Document {
    let words = || text.to_owned();
    let table = Table::new(words(), &["a", "b"], vec![vec![words(), words()]]);
    Document {
        title: words(),
        lead: vec![Lead::new(&words(), words())],
        about: words(),
        invented: true,
        pages: vec![Page {
            id: "one".into(),
            title: words(),
            reader: words(),
            blocks: vec![
                Block::Heading(words()),
                Block::Answer(words()),
                Block::Text(words()),
                Block::List(vec![words()]),
                Block::Table(table),
            ],
        }],
        stamp: vec![(words(), words())],
    }
}

/// Marks that open something on a page.
fn marks(page: &str) -> [usize; 3] {
    ["<", ">", "<script"].map(|mark| page.matches(mark).count())
}

proptest! {
    #![proptest_config(drawn(150))]

    #[test]
    fn on_a_page_it_opens_nothing(text in hostile()) {
        let made = html(&page(&text)).unwrap();
        // Characters that steer are marked as such on a page, here as there.
        let harmless = text.replace(|c: char| c.is_ascii() && !c.is_control(), "x");
        prop_assert_eq!(marks(&made), marks(&html(&page(&harmless)).unwrap()));
        let acting = made.contains(['\u{1b}', '\0']);
        prop_assert!(!acting);
    }

    #[test]
    fn in_a_table_it_is_whole_and_no_formula(text in hostile()) {
        let table = DataTable {
            name: "t".into(),
            columns: vec!["a".into(), "b".into()],
            rows: vec![vec![text.as_str().into(), 1.5.into()]],
        };
        let bytes = csv(&table).unwrap();
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let row = reader.records().next().unwrap().unwrap();
        let cell = row.get(0).unwrap();
        let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
        prop_assert!(!formula);
        prop_assert!(cell == text || cell.strip_prefix('\'') == Some(text.as_str()), "{cell:?}");
        prop_assert_eq!(row.get(1), Some("1.5"));
    }

    #[test]
    fn shown_text_acts_in_no_terminal(text in hostile()) {
        prop_assert!(!visible(&text).chars().any(acts));
        let plain: String = text.chars().filter(|c| !acts(*c)).collect();
        prop_assert_eq!(visible(&plain), plain);
    }
}
