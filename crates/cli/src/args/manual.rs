//! Arguments of `manual`.

use super::FormatArgs;
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(after_help = "Example:\n  sealspan manual --out man/man1 && man -M man sealspan-fit")]
pub struct Manual {
    /// Folder to write the pages to, one a command; files of the same names are replaced
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    #[command(flatten)]
    pub format: FormatArgs,
}
