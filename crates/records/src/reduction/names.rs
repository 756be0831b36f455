//! Names of tables and columns, written so that they can be nothing else.

use crate::error::{Error, Kind};

/// Words that mean something to one of the three databases (their lists of reserved words, from memory); quoting
/// one too many does no harm.
const RESERVED: &str = "all analyse analyze and any anti any_value array as asc asymmetric authorization between binary \
    both by case cast check collate collation column concurrently constraint create cross current_catalog current_date \
    current_role current_schema current_time current_timestamp current_user default deferrable delete desc describe \
    distinct do drop else end escape except exists explain false fetch filter for foreign freeze from full function \
    generated glob grant group grouping having ilike in initially inner insert intersect interval into is isnull join \
    lambda lateral leading left like limit localtime localtimestamp map minus natural not notnull null of offset on only \
    or order outer over overlaps partition pivot placing primary qualify references returning right row rows select \
    semi session_user show similar some start summarize symmetric table tablesample then to trailing true \
    union unique unpivot update user using values variadic verbose view when where window with within";

/// The name of a column, bare where that is safe, else between double quotes.
pub(super) fn name(text: &str) -> Result<String, Error> {
    let refuse = |what: &str| {
        Err(Error::new(
            Kind::BadHeader,
            format!("\"{}\" {what}", text.escape_debug()),
            "give the name as the database has it",
        ))
    };
    if text.trim().is_empty() {
        return refuse("is no name");
    }
    if text.chars().any(char::is_control) {
        return refuse("holds characters that no name has");
    }
    let bare = text.starts_with(|c: char| c.is_ascii_lowercase())
        && text
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
        && !RESERVED.split_whitespace().any(|word| word == text);
    Ok(if bare {
        text.to_owned()
    } else {
        format!("\"{}\"", text.replace('"', "\"\""))
    })
}

/// The name of a table, with those of its schema and catalogue before it.
pub(super) fn table(text: &str) -> Result<String, Error> {
    let parts: Result<Vec<String>, Error> = text.split('.').map(name).collect();
    Ok(parts?.join("."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_bare_only_where_that_is_safe() {
        for (text, want) in [
            ("site", "site"),
            ("part_no2", "part_no2"),
            ("Site", "\"Site\""),
            ("order", "\"order\""),
            ("time", "time"),
            ("2nd", "\"2nd\""),
            ("a\" FROM x; --", "\"a\"\" FROM x; --\""),
            ("été", "\"été\""),
        ] {
            assert_eq!(name(text).as_deref(), Ok(want));
        }
        assert_eq!(table("plant.Seals").as_deref(), Ok("plant.\"Seals\""));
        for bad in ["", " ", "a\nb", "a\0b"] {
            assert!(name(bad).is_err(), "{bad:?}");
        }
        assert!(table("plant..seals").is_err());
    }
}
