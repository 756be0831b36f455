//! The files of a table that lies in one Parquet file or in a folder of them.
//!
//! Folders called `site=North` are partitions: the key is a column, the value its cell in every row below. A
//! name may hold `%2F` and the like for characters that no folder can have, and the word that data-lake
//! writers use for an empty cell (conventions of the Hive table layout, from memory).

use crate::error::{Error, Kind};
use crate::read::cannot;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// One file, and the cells its folders give to all of its rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Part {
    pub(crate) path: PathBuf,
    pub(crate) cells: BTreeMap<String, Option<String>>,
}

/// Folders inside folders beyond this are no partitions, but a loop.
const DEEPEST: usize = 32;
/// What writers put for an empty cell.
const EMPTY: &str = "__HIVE_DEFAULT_PARTITION__";

/// Every Parquet file in or below a folder, by path; the file itself where `path` is one.
pub(crate) fn parts(path: &Path) -> Result<Vec<Part>, Error> {
    let mut found = Vec::new();
    if path.is_dir() {
        gather(path, &BTreeMap::new(), 0, &mut found)?;
    } else {
        found.push(Part {
            path: path.to_path_buf(),
            cells: BTreeMap::new(),
        });
    }
    if found.is_empty() {
        return Err(Error::new(
            Kind::Directory,
            "the folder holds no Parquet file",
            "name a folder of Parquet files, or one table (CSV, Parquet, XLSX)",
        )
        .in_file(path));
    }
    Ok(found)
}

fn gather(
    folder: &Path,
    cells: &BTreeMap<String, Option<String>>,
    depth: usize,
    found: &mut Vec<Part>,
) -> Result<(), Error> {
    let listed = std::fs::read_dir(folder).map_err(|e| cannot(folder, &e))?;
    let mut paths = listed
        .map(|entry| entry.map(|e| e.path()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| cannot(folder, &e))?;
    paths.sort();
    for path in paths {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        // Marks of writers: `_SUCCESS`, `.part-0.crc`.
        if name.starts_with(['_', '.']) {
            continue;
        }
        if path.is_dir() {
            if depth >= DEEPEST {
                return Err(Error::new(
                    Kind::Directory,
                    format!("there are more than {DEEPEST} folders inside each other"),
                    "check for a link that leads back",
                )
                .in_file(&path));
            }
            gather(&path, &with(&name, cells, &path)?, depth + 1, found)?;
        } else if path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("parquet"))
        {
            found.push(Part {
                path,
                cells: cells.clone(),
            });
        } else {
            return Err(Error::new(
                Kind::Directory,
                "a file in the folder is not called .parquet",
                "a folder is read whole, as one table of Parquet files: move the others out of it",
            )
            .in_file(&path));
        }
    }
    Ok(())
}

/// The cells of a folder, with its own when it is called `key=value`.
fn with(
    name: &str,
    cells: &BTreeMap<String, Option<String>>,
    path: &Path,
) -> Result<BTreeMap<String, Option<String>>, Error> {
    let mut cells = cells.clone();
    if let Some((key, value)) = name.split_once('=') {
        let value = Some(unescaped(value)).filter(|v| v != EMPTY);
        if cells.insert(unescaped(key), value).is_some() {
            return Err(Error::new(
                Kind::BadHeader,
                format!("the key {key} is given by two folders, one inside the other"),
                "give each level of folders a key of its own",
            )
            .in_file(path)
            .in_column(key));
        }
    }
    Ok(cells)
}

/// `%2F` and its like as the characters they stand for.
fn unescaped(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, after @ ..] = rest {
        let code = (*first == b'%')
            .then(|| after.get(..2))
            .flatten()
            .filter(|two| two.iter().all(u8::is_ascii_hexdigit))
            .and_then(|two| std::str::from_utf8(two).ok())
            .and_then(|two| u8::from_str_radix(two, 16).ok());
        bytes.push(code.unwrap_or(*first));
        rest = if code.is_some() {
            after.get(2..).unwrap_or_default()
        } else {
            after
        };
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folder_names_are_unescaped() {
        assert_eq!(unescaped("North%2FEast 5%"), "North/East 5%");
        assert_eq!(unescaped("%C3%A9t%C3%A9%"), "été%");
        let below = with("site=North", &BTreeMap::new(), Path::new("f")).unwrap_or_default();
        let below =
            with("line=__HIVE_DEFAULT_PARTITION__", &below, Path::new("f")).unwrap_or_default();
        let want = [
            ("line".to_owned(), None),
            ("site".to_owned(), Some("North".to_owned())),
        ];
        assert_eq!(below, BTreeMap::from(want));
        assert!(with("site=South", &below, Path::new("f")).is_err());
        assert_eq!(
            with("2024", &below, Path::new("f")).unwrap_or_default(),
            below
        );
    }
}
