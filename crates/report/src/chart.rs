//! A chart as plain data: axes, layers and words, with no colours in points
//! of ink and no file format. The renderers in [`crate::figures`] draw it.

use crate::scale::{LINEAR, LOG, Scale, Tick};
use sealspan_records::dates::text_of_day;

/// A chart: one picture that shows one finding.
#[derive(Debug, Clone)]
pub struct Chart {
    /// Name for files and anchors: letters, digits, `-` and `_`.
    pub id: String,
    /// The finding in a sentence.
    pub title: String,
    /// What the picture shows, for a reader who cannot see it.
    pub alt: String,
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// What is drawn, from back to front.
    pub layers: Vec<Layer>,
    /// Numbers at risk, written under the horizontal axis.
    pub at_risk: Option<AtRisk>,
    /// Remarks written below the picture: what the bands are, the sample.
    pub notes: Vec<String>,
}

/// One axis.
///
/// ```
/// use sealspan_report::chart::Axis;
/// use sealspan_report::scale::{LINEAR, LOG, Scale, Tick};
/// let age = Axis::log("age", "days").over(1.0, 1000.0);
/// assert_eq!(age.range, Some((1.0, 1000.0)));
/// let place = |age: f64, scale: &dyn Scale| scale.place(age).unwrap();
/// let decades = place(1000.0, LOG) / place(10.0, LOG);
/// assert!((decades - 3.0).abs() < 1e-12); // three decades against one
/// let half = Tick { at: 50.0, text: "half".to_owned() };
/// let risk = Axis::new("risk", "%", LINEAR).with_ticks(vec![half.clone()]);
/// assert_eq!(risk.ticks, Some(vec![half])); // in place of the scale's
/// assert_eq!(Axis::linear("risk", "%").scale.name(), risk.scale.name());
/// for scale in [LINEAR, LOG] {
///     assert!((scale.value(place(7.0, scale)) - 7.0).abs() < 1e-12);
/// }
/// ```
#[derive(Debug, Clone)]
pub struct Axis {
    /// What is measured.
    pub label: String,
    /// Its unit; empty when there is none.
    pub unit: String,
    /// How values are laid out.
    pub scale: &'static dyn Scale,
    /// The values at the two ends; chosen from the data when none.
    pub range: Option<(f64, f64)>,
    /// Own ticks instead of the scale's: months, sectors.
    pub ticks: Option<Vec<Tick>>,
    /// Whether the values are days since 1970, which are read out as dates.
    pub dates: bool,
}

impl Axis {
    /// An axis on the given scale, its range chosen from the data.
    #[must_use]
    pub fn new(
        label: impl Into<String>,
        unit: impl Into<String>,
        scale: &'static dyn Scale,
    ) -> Self {
        Self {
            label: label.into(),
            unit: unit.into(),
            scale,
            range: None,
            ticks: None,
            dates: false,
        }
    }

    /// A linear axis.
    #[must_use]
    pub fn linear(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Self::new(label, unit, LINEAR)
    }

    /// A logarithmic axis.
    #[must_use]
    pub fn log(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Self::new(label, unit, LOG)
    }

    /// The same axis from `low` to `high`.
    #[must_use]
    pub fn over(mut self, low: f64, high: f64) -> Self {
        self.range = Some((low, high));
        self
    }

    /// The same axis with its own ticks.
    #[must_use]
    pub fn with_ticks(mut self, ticks: Vec<Tick>) -> Self {
        self.ticks = Some(ticks);
        self
    }

    /// The same axis, whose values are days since 1970.
    #[must_use]
    pub(crate) fn of_dates(mut self) -> Self {
        self.dates = true;
        self
    }

    /// What a tick of its own calls a value, where it is no number, or the date it is.
    #[must_use]
    pub(crate) fn name_of(&self, value: f64) -> Option<String> {
        if self.dates {
            return text_of_day(value);
        }
        let ticks = self.ticks.as_deref().unwrap_or_default();
        let here = ticks.iter().find(|t| t.at == value)?;
        let number = here.text.replace(',', "").parse::<f64>().is_ok();
        (!number && !here.text.is_empty()).then(|| here.text.clone())
    }

    /// Label and unit as written beside the axis: "age (days)".
    #[must_use]
    pub(crate) fn caption(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{} ({})", self.label, self.unit)
        }
    }
}

/// A colour by meaning. Each has a light and a dark form and stays apart from
/// the others in grey by dash and marker.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// The n-th group, counted from 0; the palette repeats after six.
    Group(usize),
    /// The ink of axes and text.
    Ink,
    /// Background matter: references and limits.
    Muted,
}

/// The dash of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Dash {
    /// Unbroken.
    #[default]
    Solid,
    /// Long dashes.
    Dashed,
    /// Short dots.
    Dotted,
    /// Dash and dot.
    DashDot,
}

impl Dash {
    /// A dash for the n-th group, so that groups stay apart in grey.
    #[must_use]
    pub(crate) fn group(n: usize) -> Self {
        [Self::Solid, Self::Dashed, Self::DashDot, Self::Dotted]
            .into_iter()
            .cycle()
            .nth(n % 4)
            .unwrap_or_default()
    }
}

/// The shape of a data mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Marker {
    /// A filled disc.
    #[default]
    Disc,
    /// An open ring.
    Ring,
    /// A filled square.
    Square,
    /// A filled triangle.
    Triangle,
    /// A filled diamond.
    Diamond,
    /// A short upright stroke: seals still running when last seen.
    Tick,
}

impl Marker {
    /// A marker for the n-th group, so that groups stay apart in grey.
    #[must_use]
    pub(crate) fn group(n: usize) -> Self {
        [
            Self::Disc,
            Self::Square,
            Self::Triangle,
            Self::Diamond,
            Self::Ring,
        ]
        .into_iter()
        .nth(n % 5)
        .unwrap_or_default()
    }
}

/// How a line looks.
///
/// ```
/// use sealspan_report::chart::{Dash, Mark, Stroke, Tone};
/// assert_eq!(Stroke::solid(Tone::Group(1)).dash, Dash::Solid);
/// assert_eq!(Stroke::dashed(Tone::Group(1)).dash, Dash::Dashed);
/// assert_eq!(Stroke::group(2).tone, Tone::Group(2));
/// assert_eq!((Mark::at(3.0, 4.0).x, Mark::at(3.0, 4.0).y_interval), (3.0, None));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stroke {
    /// Its colour.
    pub tone: Tone,
    /// Its dash.
    pub dash: Dash,
}

impl Stroke {
    /// Colour and dash of the n-th group.
    #[must_use]
    pub fn group(n: usize) -> Self {
        Self {
            tone: Tone::Group(n),
            dash: Dash::group(n),
        }
    }

    /// An unbroken line in the given colour.
    #[must_use]
    pub fn solid(tone: Tone) -> Self {
        Self {
            tone,
            dash: Dash::Solid,
        }
    }

    /// A dashed line in the given colour.
    #[must_use]
    pub fn dashed(tone: Tone) -> Self {
        Self {
            tone,
            dash: Dash::Dashed,
        }
    }
}

/// One data mark with optional intervals, all in the axes' units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Horizontal value.
    pub x: f64,
    /// Vertical value.
    pub y: f64,
    /// Horizontal interval, low to high.
    pub x_interval: Option<(f64, f64)>,
    /// Vertical interval, low to high.
    pub y_interval: Option<(f64, f64)>,
}

impl Mark {
    /// A mark without intervals.
    #[must_use]
    pub fn at(x: f64, y: f64) -> Self {
        Self {
            x,
            y,
            x_interval: None,
            y_interval: None,
        }
    }
}

/// One bar from its base up to its height above that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// Left edge, in the horizontal axis's unit.
    pub from: f64,
    /// Right edge.
    pub to: f64,
    /// Where it stands: 0, or the top of the bar below it.
    pub base: f64,
    /// Height above that.
    pub height: f64,
    /// Interval of the height above the base, low to high.
    pub interval: Option<(f64, f64)>,
}

/// Counts round a ring, sector 1 clockwise from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct Rose {
    /// Whose ring it is.
    pub title: String,
    /// Count of each sector.
    pub counts: Vec<u32>,
    /// Colour.
    pub tone: Tone,
}

/// Something drawn in a chart, at values in the axes' units. A `label` is written
/// beside what it names, in the same colour; `name` is the series' name in tables.
#[derive(Debug, Clone)]
pub enum Layer {
    /// A curve through points.
    Line {
        /// Series name.
        name: String,
        /// The points, in order.
        points: Vec<(f64, f64)>,
        /// Colour and dash.
        stroke: Stroke,
        /// Text written beside the curve.
        label: Option<String>,
    },
    /// A step curve: each value holds until the next point.
    Steps {
        /// Series name.
        name: String,
        /// The points at which it jumps, in order; each holds to the next.
        points: Vec<(f64, f64)>,
        /// Colour and dash.
        stroke: Stroke,
        /// Text written beside the curve.
        label: Option<String>,
    },
    /// Data marks.
    Points {
        /// Series name.
        name: String,
        /// The marks.
        marks: Vec<Mark>,
        /// Colour.
        tone: Tone,
        /// Shape.
        marker: Marker,
        /// Text written beside the marks.
        label: Option<String>,
    },
    /// A shaded band between two curves, which may differ in x too.
    Band {
        /// Series name.
        name: String,
        /// One edge, in order of x.
        lower: Vec<(f64, f64)>,
        /// The other edge, in order of x.
        upper: Vec<(f64, f64)>,
        /// Colour.
        tone: Tone,
        /// Whether both edges are step curves.
        stepped: bool,
    },
    /// A shaded interval of the horizontal axis.
    ZoneX {
        /// Where it begins.
        from: f64,
        /// Where it ends.
        to: f64,
        /// Colour.
        tone: Tone,
        /// What it means.
        label: String,
    },
    /// An upright line at one horizontal value.
    VLine {
        /// Where.
        at: f64,
        /// Colour and dash.
        stroke: Stroke,
        /// What it means.
        label: Option<String>,
    },
    /// A line across at one vertical value.
    HLine {
        /// Where.
        at: f64,
        /// Colour and dash.
        stroke: Stroke,
        /// What it means.
        label: Option<String>,
    },
    /// Bars from zero.
    Bars {
        /// Series name.
        name: String,
        /// The bars.
        bars: Vec<Bar>,
        /// Colour.
        tone: Tone,
        /// Text written beside the bars.
        label: Option<String>,
    },
    /// Rings side by side, without axes; a chart of roses holds nothing else.
    Roses {
        /// Series name.
        name: String,
        /// The rings, in reading order.
        roses: Vec<Rose>,
    },
}

/// Numbers at risk at some values of the horizontal axis.
#[derive(Debug, Clone)]
pub struct AtRisk {
    /// What is counted: "seals at risk".
    pub heading: String,
    /// Where, in the unit of the horizontal axis.
    pub at: Vec<f64>,
    /// One row a group.
    pub rows: Vec<AtRiskRow>,
}

/// The numbers at risk of one group.
#[derive(Debug, Clone)]
pub struct AtRiskRow {
    /// The group.
    pub name: String,
    /// Its colour.
    pub tone: Tone,
    /// One count for each value of [`AtRisk::at`].
    pub counts: Vec<u64>,
}

impl Layer {
    /// All finite points of the layer that decide the axes' ranges.
    #[must_use]
    pub(crate) fn extent(&self) -> Vec<(f64, f64)> {
        match self {
            Self::Line { points, .. } | Self::Steps { points, .. } => points.clone(),
            Self::Band { lower, upper, .. } => lower.iter().chain(upper).copied().collect(),
            Self::Points { marks, .. } => marks.iter().flat_map(mark_extent).collect(),
            Self::Bars { bars, .. } => bars.iter().flat_map(bar_extent).collect(),
            Self::ZoneX { .. } | Self::VLine { .. } | Self::HLine { .. } | Self::Roses { .. } => {
                Vec::new()
            }
        }
    }
}

impl Chart {
    /// True for a chart of roses, which has no axes.
    #[must_use]
    pub(crate) fn has_no_axes(&self) -> bool {
        self.layers.iter().any(|l| matches!(l, Layer::Roses { .. }))
    }
}

fn mark_extent(mark: &Mark) -> Vec<(f64, f64)> {
    let mut points = vec![(mark.x, mark.y)];
    if let Some((low, high)) = mark.x_interval {
        points.extend([(low, mark.y), (high, mark.y)]);
    }
    if let Some((low, high)) = mark.y_interval {
        points.extend([(mark.x, low), (mark.x, high)]);
    }
    points
}

fn bar_extent(bar: &Bar) -> Vec<(f64, f64)> {
    let mut points = vec![(bar.from, 0.0), (bar.to, bar.height)];
    if let Some((low, high)) = bar.interval {
        points.extend([(bar.from, low), (bar.to, high)]);
    }
    points
}
