//! Arguments of `positions`.

use super::{ClockArg, FormatArgs, INPUT, above_zero, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Replacements that count are failed, worn and damaged unless --count or --mode says otherwise;\npreventive removals do not count as failures. Positions are held against alike seals: of the same kind\n(--like), in the same place (site, columns of the assets), at the same duty.\n\nExamples:\n  sealspan positions datasets/harrow-lane/study.toml\n  sealspan positions datasets/harrow-lane/study.toml --by site --out positions-by-site\n  sealspan positions seals.csv --like material,site --turn-every 90"
)]
pub struct Positions {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Columns that make groups of positions for the curves; two groups are set against each other
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub by: Vec<String>,
    /// Columns whose seals are expected to live alike [default: the study's groups, else material]
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub like: Option<Vec<String>>,
    /// Do not hold constant where the seals sit: site, columns of the assets, duty
    #[arg(long)]
    pub not_adjusted: bool,
    /// Time scale [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Outcomes that count as replacements [default: failed,worn,damaged]
    #[arg(long, value_delimiter = ',', value_name = "WORD[,WORD]")]
    pub count: Vec<String>,
    /// Count one outcome, or replacements by one mechanism, alone
    #[arg(long, value_name = "WORD", conflicts_with = "count")]
    pub mode: Option<String>,
    /// Last day the records cover
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
    /// Sectors of a ring seal and its door frame [default: the study's, else 4]
    #[arg(long, value_name = "K", value_parser = clap::value_parser!(u32).range(2..=360))]
    pub sectors: Option<u32>,
    /// Time between turns to be judged, on the clock [default: the study's inspections, else an eighth
    /// of the characteristic life]
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub turn_every: Option<f64>,
    /// Two-sided confidence of intervals [default: the study's, else 0.9]
    #[arg(long, value_parser = share)]
    pub confidence: Option<f64>,
    /// Expected share of false alarms among what is flagged
    #[arg(long, alias = "false-discoveries", default_value = "0.1", value_parser = share, value_name = "Q")]
    pub false_discovery: f64,
    /// Seed of the drawn tables and draws behind tests and intervals
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Folder to write figures and results to
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub format: FormatArgs,
}
