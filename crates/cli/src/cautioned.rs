//! The cautions under an answer, with one heading everywhere.

/// The heading and a line each.
pub fn before_acting(cautions: &[String]) -> String {
    let lines = cautions.iter().map(|c| format!("  {c}\n"));
    std::iter::once("\nbefore acting\n".to_owned())
        .chain(lines)
        .collect()
}

/// The same in one line, where a page has no room for all.
pub const IN_SHORT: &str =
    "\nbefore acting\n  isolate, depressurise, cool; the maker's limits and local codes decide\n";
