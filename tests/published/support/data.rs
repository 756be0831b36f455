//! The data sets, read by the same readers as a user's file.

use sealspan_records::{Answer, LoadOptions, Question, Records, Sample, ask, load};
use std::path::PathBuf;

/// Folder of a data set.
pub fn folder(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../datasets/published")
        .join(name)
}

/// The records in one file of a data set.
pub fn records(name: &str, file: &str) -> Records {
    load(&folder(name).join(file), &LoadOptions::default())
        .unwrap_or_else(|e| panic!("{name}/{file}: {e}"))
}

/// The observations, by a column or all together.
pub fn answer(name: &str, by: Option<&str>) -> Answer {
    let question = Question {
        by: by.map(str::to_owned).into_iter().collect(),
        ..Question::default()
    };
    let answer =
        ask(&records(name, "life.csv"), &question).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert!(
        answer.set_aside.is_empty(),
        "{name}: rows set aside: {:?}",
        answer.set_aside
    );
    answer
}

/// All lives of a data set.
pub fn all(name: &str) -> Sample {
    let mut answer = answer(name, None);
    assert_eq!(answer.groups.len(), 1, "{name}");
    answer.groups.remove(0).sample
}

/// Lives by the levels of a column, in the order of the levels' names.
pub fn by(name: &str, column: &str) -> Vec<(String, Sample)> {
    answer(name, Some(column))
        .groups
        .into_iter()
        .map(|g| (g.key[0].1.clone(), g.sample))
        .collect()
}
