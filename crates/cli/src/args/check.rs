//! Arguments of `check`.

use super::{FormatArgs, INPUT, QuestionArgs};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan check datasets/harrow-lane/study.toml"
)]
pub struct Check {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    #[command(flatten)]
    pub format: FormatArgs,
}
