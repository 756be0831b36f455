//! Arguments of `fit`.

use super::{FormatArgs, INPUT, QuestionArgs, above_zero, share};
use clap::{Args, ValueEnum};
use sealspan_life::bounds::Method;
use std::path::PathBuf;

#[derive(Clone, Copy, ValueEnum)]
pub enum BoundsArg {
    /// Profile likelihood
    Profile,
    /// Normal approximation, on the logarithm for lives
    Wald,
    /// Likelihood ratio with cut-offs calibrated by refits under the observed pattern of watching
    Calibrated,
    /// Studentised parametric bootstrap
    Bootstrap,
    /// Posterior under weak priors, which the answer states
    Posterior,
}

impl From<BoundsArg> for Method {
    fn from(bounds: BoundsArg) -> Self {
        match bounds {
            BoundsArg::Profile => Self::Profile,
            BoundsArg::Wald => Self::Wald,
            BoundsArg::Calibrated => Self::Calibrated,
            BoundsArg::Bootstrap => Self::Bootstrap,
            BoundsArg::Posterior => Self::Posterior,
        }
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan fit datasets/published/nist-weibull/life.csv --family all\n  sealspan fit seals.csv --by material --quantile 0.1,0.5 --at 180,365"
)]
pub struct Fit {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// Families, with commas between: weibull, exponential, lognormal, loglogistic, gamma, normal,
    /// generalised_gamma; for questions of their own three_parameter_weibull, weak_fraction_weibull,
    /// weibull_mixture; `all` fits the first seven
    #[arg(long, value_delimiter = ',', default_value = "weibull")]
    pub family: Vec<String>,
    /// How bounds are made [default: calibrated while failures are few, else profile]
    #[arg(long, value_enum)]
    pub bounds: Option<BoundsArg>,
    /// Two-sided confidence; how far each end by itself is a one-sided bound at (1 + confidence) / 2 is said with
    /// the intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Shares failed at which to give the life (0.1 is the B10 life)
    #[arg(long, value_delimiter = ',', default_value = "0.1,0.5", value_parser = share, value_name = "P[,P]")]
    pub quantile: Vec<f64>,
    /// Ages at which to give the share surviving
    #[arg(long, value_delimiter = ',', value_parser = above_zero, value_name = "T[,T]")]
    pub at: Vec<f64>,
    /// Ages of seals now, at which to give the time they have left
    #[arg(long, value_delimiter = ',', value_parser = above_zero, value_name = "A[,A]")]
    pub age: Vec<f64>,
    /// Weibull shape taken as known, for few failures
    #[arg(long, value_parser = above_zero, value_name = "X")]
    pub shape: Option<f64>,
    /// Set the failure modes against each other, and show how far removals on condition bend the life
    #[arg(long, conflicts_with = "mode")]
    pub modes: bool,
    /// Show the curve without a family, shortened to so many rows [default: 10 with the option given]; JSON has all
    #[arg(long, num_args = 0..=1, require_equals = true, default_missing_value = "10", value_name = "ROWS")]
    pub curve: Option<usize>,
    /// Give each seal's residuals (JSON)
    #[arg(long)]
    pub residuals: bool,
    /// Seed of the refits and draws behind intervals and tests of fit
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
