//! Why a scenario cannot be used, or a fleet not written.

use std::path::{Path, PathBuf};

use polars::prelude::PolarsError;
use thiserror::Error;

/// A scenario that cannot be read, breaks a rule, or whose records cannot be written.
#[derive(Debug, Error)]
#[error(transparent)]
pub struct ScenarioError(#[from] Kind);

#[derive(Debug, Error)]
enum Kind {
    #[error("the scenario is not readable: {}", sealspan_records::words::clipped(&.0.to_string()))]
    Syntax(#[from] toml::de::Error),
    #[error("scenario key `{key}`: {message}")]
    Rule { key: String, message: String },
    #[error("cannot build the table `{table}`: {source}")]
    Table {
        table: &'static str,
        source: PolarsError,
    },
    #[error("{0}")]
    Records(sealspan_records::Error),
    #[error("cannot write {}: {source}", path.display())]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
}

impl ScenarioError {
    pub(super) fn syntax(error: toml::de::Error) -> Self {
        Kind::Syntax(error).into()
    }

    pub(super) fn rule(key: impl Into<String>, message: impl Into<String>) -> Self {
        Kind::Rule {
            key: key.into(),
            message: message.into(),
        }
        .into()
    }

    pub(super) fn table(table: &'static str, source: PolarsError) -> Self {
        Kind::Table { table, source }.into()
    }

    pub(super) fn records(error: sealspan_records::Error) -> Self {
        Kind::Records(error).into()
    }

    pub(super) fn write(path: &Path, source: std::io::Error) -> Self {
        Kind::Write {
            path: path.to_owned(),
            source,
        }
        .into()
    }

    /// The key of the scenario file that breaks a rule, such as `site[HL3].practice.detection`.
    #[must_use]
    pub fn key(&self) -> Option<&str> {
        match &self.0 {
            Kind::Rule { key, .. } => Some(key),
            _ => None,
        }
    }

    /// True when the scenario text is at fault (a column renamed to one that is there already
    /// included), false when the machine or the folder is.
    #[must_use]
    pub fn is_bad_input(&self) -> bool {
        matches!(
            self.0,
            Kind::Syntax(_) | Kind::Rule { .. } | Kind::Table { .. }
        )
    }
}
