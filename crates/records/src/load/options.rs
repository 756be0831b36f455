//! What a reading is told, and how it says how far it has come.

use jiff::civil::Date;
use std::fmt;
use std::sync::Arc;

/// How far a reading has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// What is being done.
    pub stage: &'static str,
    /// Done so far: bytes of a file that is read whole, rows of a Parquet file once it is decoded.
    pub done: u64,
    /// In all, in the same unit; 0 where it is not known (a pipe).
    pub total: u64,
}

/// Told now and then how far the reading has come; several threads may call it at once.
pub type ProgressHook = Arc<dyn Fn(Progress) + Send + Sync>;

/// What a reading needs besides the path. The clock of the machine is never read.
#[derive(Clone, Default)]
pub struct LoadOptions {
    /// Today; seals and inspections dated after it are set aside. Seals dated after the cut-off are at any rate.
    pub today: Option<Date>,
    /// Last day the records cover (form `Seals`); goes before the study's own. Without either it is the latest date of
    /// the tables that is not after `today`.
    pub cut_off: Option<Date>,
    /// Told how far the reading has come.
    pub progress: Option<ProgressHook>,
    /// What a question needs. When given, plain lives in Parquet are counted while they are read, and a folder of
    /// Parquet files is read as one table.
    pub needs: Option<Needs>,
}

/// What a question needs of plain lives besides ages and endings; of lives counted while they are read nothing else is
/// kept.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Needs {
    /// Columns to group by; the study's own when there are none.
    pub by: Vec<String>,
    /// Whether modes are told apart, which a study may ask for too.
    pub mode: bool,
}

impl fmt::Debug for LoadOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LoadOptions")
            .field("today", &self.today)
            .field("cut_off", &self.cut_off)
            .field("needs", &self.needs)
            .finish_non_exhaustive()
    }
}
