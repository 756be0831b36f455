//! Charts to SVG and PNG: one look for every figure of a report.

mod axes;
mod clip;
mod drawn;
mod emit;
mod labels;
mod layers;
mod page;
mod palette;
mod plot;
mod png;
mod read_outs;
mod rose;
mod shape;
mod sketch;
mod text;

pub(crate) use drawn::{Drawing, Drawn};
pub(crate) use palette::dark_rules;
pub use png::png;
pub(crate) use read_outs::{ReadOuts, read_outs};

use crate::chart::Chart;
use crate::error::{Error, Result};

/// Text sizes in figure units; 12 units are 9 point at 160 mm page width.
const TITLE: f64 = 15.0;
const BODY: f64 = 13.0;
const SMALL: f64 = 12.2;

/// How wide a figure is drawn, in figure units: CSS pixels at its natural size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    /// For a page or a laptop's screen: 600 units.
    Wide,
    /// For a phone's screen: 350 units.
    Narrow,
    /// For a sheet that has one page: 720 units, low.
    Sheet,
}

impl Width {
    fn units(self) -> f64 {
        match self {
            Self::Wide => 600.0,
            Self::Narrow => 350.0,
            Self::Sheet => 720.0,
        }
    }

    fn plot_height(self) -> f64 {
        match self {
            Self::Wide => 310.0,
            Self::Narrow => 250.0,
            Self::Sheet => 82.0,
        }
    }

    fn suffix(self) -> &'static str {
        match self {
            Self::Wide => "wide",
            Self::Narrow => "narrow",
            Self::Sheet => "sheet",
        }
    }
}

/// What a drawing carries beside the plot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// How wide it is.
    pub width: Width,
    /// Title above and notes below, for a figure that stands alone.
    pub words: bool,
    /// A white ground behind everything.
    pub ground: bool,
    /// Style rules for dark screens inside the drawing.
    pub dark_rules: bool,
}

impl Look {
    /// A figure in its own file: title, notes, ground, dark rules.
    #[must_use]
    pub fn alone() -> Self {
        Self {
            width: Width::Wide,
            words: true,
            ground: true,
            dark_rules: true,
        }
    }

    /// A figure inside a page that writes title and notes and holds the dark
    /// rules itself.
    #[must_use]
    pub(crate) fn inline(width: Width) -> Self {
        Self {
            width,
            words: false,
            ground: false,
            dark_rules: false,
        }
    }
}

/// Draw a chart as SVG. The same chart gives the same bytes.
///
/// # Errors
/// When the chart's name is not safe as a file name, when there is nothing to
/// draw, or when an axis has no usable range.
pub fn svg(chart: &Chart, look: &Look) -> Result<String> {
    check_name(&chart.id)?;
    let page = page::lay_out(chart, look)?;
    emit::svg(chart, &page, look)
}

/// The chart's shapes with their colours, for other formats than SVG.
///
/// # Errors
/// As for [`svg`].
pub(crate) fn drawn(chart: &Chart, look: &Look) -> Result<Drawing> {
    check_name(&chart.id)?;
    Ok(drawn::drawing(page::lay_out(chart, look)?))
}

/// Refuse names that would not be safe as a file name or an anchor.
pub(crate) fn check_name(name: &str) -> Result<()> {
    let safe = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    let good = !name.is_empty() && name.len() <= 80 && name.chars().all(safe);
    if good { Ok(()) } else { Err(Error::name(name)) }
}

#[cfg(test)]
mod tests;
