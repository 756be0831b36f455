//! Arguments of `reduction`.

use clap::Args;

#[derive(Args)]
#[command(
    after_help = "The SQL runs unchanged on DuckDB, PostgreSQL and Spark. Its result, saved as CSV or Parquet, is a file of lives with counts, and `sealspan fit` gives the same fit of it as of the tables.\n\nExamples:\n  sealspan reduction --lives fleet.lives --by site\n  sealspan reduction --lives lives --columns lower,upper,entry,mode=failure_mode\n  sealspan reduction --seals seals --inspections inspections --by material --cut-off 2025-06-30\n  sealspan reduction --seals seals --columns seal=serial,fitted=installed_on,removed=removed_on,outcome"
)]
pub struct Reduction {
    /// Table of plain lives, with schema and catalogue before it where needed
    #[arg(
        long,
        value_name = "TABLE",
        required_unless_present = "seals",
        conflicts_with = "seals"
    )]
    pub lives: Option<String>,
    /// Table of seals
    #[arg(long, value_name = "TABLE")]
    pub seals: Option<String>,
    /// Table of the inspections that looked at them
    #[arg(long, value_name = "TABLE", requires = "seals")]
    pub inspections: Option<String>,
    /// Which of our columns the table has, each with its own name there where that differs [default: time,status for
    /// lives; seal,asset,position,fitted,removed,outcome for seals; besides entry,count,mode and
    /// mechanism,last_known_good]
    #[arg(long, value_delimiter = ',', value_name = "COL[=THEIRS][,COL]")]
    pub columns: Vec<String>,
    /// The same of the inspections [default: seal,asset,position,date,finding]
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "COL[=THEIRS][,COL]",
        requires = "inspections"
    )]
    pub look_columns: Vec<String>,
    /// Columns that make groups, by the table's own names
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub by: Vec<String>,
    /// Tell failures apart by mechanism, as the column `mode`
    #[arg(long, requires = "seals")]
    pub modes: bool,
    /// Last day the records cover [default: the latest date in the tables]
    #[arg(long, value_name = "YYYY-MM-DD", requires = "seals")]
    pub cut_off: Option<String>,
    /// First day the records cover: seals fitted before it are watched from their age then
    #[arg(long, value_name = "YYYY-MM-DD", requires = "seals")]
    pub records_from: Option<String>,
}
