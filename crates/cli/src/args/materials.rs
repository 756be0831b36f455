//! Arguments of `materials`.

use super::{FormatArgs, above_zero, share};
use clap::Args;
use sealspan_records::material_words;
use sealspan_records::words::Material;
use std::path::PathBuf;

/// `MATERIAL=MONEY`.
fn price(text: &str) -> Result<(Material, f64), String> {
    let (name, money) = text
        .split_once('=')
        .ok_or_else(|| format!("`{text}` must be MATERIAL=MONEY, like FKM=61"))?;
    let material = material_words::material(name).filter(|m| *m != Material::Other);
    let material = material.ok_or_else(|| {
        format!(
            "`{name}` is no elastomer family we know; {}there are {}",
            material_words::question(name),
            Material::WORDS.join(", ")
        )
    })?;
    Ok((material, above_zero(money)?))
}

/// A temperature in °C that a seal can meet.
fn celsius(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (-273.15..=1000.0).contains(&value) => Ok(value),
        _ => Err(format!("`{text}` is no temperature in °C for a seal")),
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan materials --temperature 85 --medium \"hot caustic,peracetic acid\"\n  sealspan materials datasets/harrow-lane/study.toml --temperature 70 --price FKM=61\n  sealspan materials datasets/harrow-lane/study.toml --asset HL1-T01\n  sealspan materials --medium alcohols --limits maker.csv\n\nA maker's table has the columns material, quantity (max_temperature_c, min_temperature_c or rating), medium, value and source; grade and note if you like. Screening only: the tables are no handbook."
)]
pub struct Materials {
    #[arg(
        help = "Study file or table of seals, for field lives and costs; without it the tables alone speak"
    )]
    pub input: Option<PathBuf>,
    /// Asset to advise on: temperature and media are those of its records unless stated
    #[arg(long, value_name = "NAME", requires = "input")]
    pub asset: Option<String>,
    /// Temperature the seal meets, °C
    #[arg(long, value_name = "C", value_parser = celsius)]
    pub temperature: Option<f64>,
    /// Media it meets, with commas between
    #[arg(
        long,
        value_name = "WORD[,WORD]",
        value_delimiter = ',',
        required_unless_present_any = ["temperature", "asset"]
    )]
    pub medium: Vec<String>,
    /// A maker's table; its rows take the place of ours that answer the same question
    #[arg(long, value_name = "FILE")]
    pub limits: Option<PathBuf>,
    /// Prices of single materials, in place of the study's one price
    #[arg(long, value_name = "MATERIAL=MONEY", value_delimiter = ',', value_parser = price)]
    pub price: Vec<(Material, f64)>,
    /// Field lives from this many kelvin either side of the temperature
    #[arg(long, value_name = "K", default_value = "10", value_parser = above_zero)]
    pub within: f64,
    /// Column of temperatures in the records [default: temperature_c, where there is one]
    #[arg(long, value_name = "COL")]
    pub temperature_column: Option<String>,
    /// Columns in which the media are looked for [default: medium, media, cleaning, agent, product, duty]
    #[arg(long, value_name = "COL[,COL]", value_delimiter = ',')]
    pub medium_column: Vec<String>,
    /// Columns by which the field lives are split further, beside the whole
    #[arg(
        long,
        value_name = "COL[,COL]",
        value_delimiter = ',',
        requires = "input"
    )]
    pub by: Vec<String>,
    /// Two-sided level of the intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws behind the cost intervals
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
