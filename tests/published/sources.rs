//! Every data set says where it comes from, and its row counts are true.

use crate::support::data;

#[test]
fn every_set_states_its_source_and_its_rows() {
    let root = data::folder("");
    let mut sets: Vec<_> = std::fs::read_dir(&root)
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    sets.sort();
    assert!(sets.len() >= 12, "{sets:?}");
    for set in sets {
        let name = set.to_str().unwrap();
        let text = std::fs::read_to_string(root.join(name).join("source.toml"))
            .unwrap_or_else(|e| panic!("{name}/source.toml: {e}"));
        for key in [
            "title", "source", "reading", "licence", "invented", "unit", "censored",
        ] {
            assert!(
                text.lines().any(|l| l.starts_with(&format!("{key} = "))),
                "{name}: no `{key}`"
            );
        }
        assert!(text.contains("invented = false"), "{name}");
        for (file, rows) in files(&text) {
            assert_eq!(data::records(name, &file).rows_read, rows, "{name}/{file}");
        }
    }
}

/// Name and row count of every `[[file]]`.
fn files(text: &str) -> Vec<(String, u64)> {
    let value = |block: &str, key: &str| {
        let line = block
            .lines()
            .find_map(|l| l.strip_prefix(&format!("{key} = ")));
        line.expect(key).trim_matches('"').to_owned()
    };
    let files: Vec<_> = text
        .split("[[file]]")
        .skip(1)
        .map(|block| (value(block, "name"), value(block, "rows").parse().unwrap()))
        .collect();
    assert!(!files.is_empty());
    files
}
