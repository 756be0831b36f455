//! The plot: the frame on the page, and where each value lies in it.

use super::shape::{Point, Rect};
use crate::chart::{Axis, Chart, Layer};
use crate::error::{Error, Result};
use crate::scale::{Scale, Tick};

/// One axis with its range settled.
#[derive(Debug, Clone)]
pub(super) struct Span {
    scale: &'static dyn Scale,
    pub low: f64,
    pub high: f64,
    from: f64,
    to: f64,
}

impl Span {
    /// Settle the range of an axis, from the data where the axis leaves it open.
    pub fn settle(chart: &Chart, axis: &Axis, which: impl Fn((f64, f64)) -> f64) -> Result<Self> {
        let scale = axis.scale;
        let (low, high) = match axis.range {
            Some(range) => range,
            None => data_range(chart, axis, which)?,
        };
        match (scale.place(low), scale.place(high)) {
            (Some(from), Some(to)) if from < to => Ok(Self {
                scale,
                low,
                high,
                from,
                to,
            }),
            _ => Err(Error::figure(
                &chart.id,
                format!(
                    "the {} axis \"{}\" cannot run from {low} to {high}",
                    scale.name(),
                    axis.label
                ),
            )),
        }
    }

    /// Where a value lies: 0 at the low end, 1 at the high end. A value
    /// outside the scale's domain lies far beyond the end it is nearer to.
    pub fn share(&self, value: f64) -> Option<f64> {
        if value.is_nan() {
            return None;
        }
        let share = match self.scale.place(value) {
            Some(place) => (place - self.from) / (self.to - self.from),
            None if value <= self.low => -2.0,
            None => 3.0,
        };
        Some(share.clamp(-20.0, 21.0))
    }

    /// The ticks to label, about `wanted`, without any outside the range.
    pub fn ticks(&self, axis: &Axis, wanted: usize) -> Vec<Tick> {
        match &axis.ticks {
            Some(ticks) => ticks
                .iter()
                .filter(|tick| tick.at >= self.low && tick.at <= self.high)
                .cloned()
                .collect(),
            None => self.scale.ticks(self.low, self.high, wanted),
        }
    }

    pub fn minor_ticks(&self, axis: &Axis) -> Vec<f64> {
        match axis.ticks {
            Some(_) => Vec::new(),
            None => self.scale.minor_ticks(self.low, self.high),
        }
    }
}

fn data_range(chart: &Chart, axis: &Axis, which: impl Fn((f64, f64)) -> f64) -> Result<(f64, f64)> {
    let values: Vec<f64> = chart
        .layers
        .iter()
        .flat_map(Layer::extent)
        .map(which)
        .filter(|value| axis.scale.place(*value).is_some())
        .collect();
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if values.is_empty() {
        let reason = format!("nothing to draw along the axis \"{}\"", axis.label);
        return Err(Error::figure(&chart.id, reason));
    }
    Ok(axis.scale.widen(low, high))
}

/// The frame and both axes.
#[derive(Debug, Clone)]
pub(super) struct Plot {
    pub frame: Rect,
    pub x: Span,
    pub y: Span,
}

impl Plot {
    pub fn x_at(&self, share: f64) -> f64 {
        self.frame.left + share * self.frame.width()
    }

    pub fn y_at(&self, share: f64) -> f64 {
        self.frame.bottom - share * self.frame.height()
    }

    /// A data point in figure units; it may lie outside the frame.
    pub fn point(&self, (x, y): (f64, f64)) -> Option<Point> {
        Some((self.x_at(self.x.share(x)?), self.y_at(self.y.share(y)?)))
    }

    /// A curve in figure units, broken where a value is missing.
    pub fn curve(&self, points: &[(f64, f64)]) -> Vec<Vec<Point>> {
        let mut runs = vec![Vec::new()];
        for point in points {
            match (self.point(*point), runs.last_mut()) {
                (Some(place), Some(run)) => run.push(place),
                _ => runs.push(Vec::new()),
            }
        }
        runs.retain(|run| run.len() > 1);
        runs
    }
}

/// The corner points of a step curve: each value holds until the next point.
pub(super) fn steps(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut corners = Vec::with_capacity(points.len() * 2);
    let mut before: Option<f64> = None;
    for (x, y) in points {
        if let Some(level) = before {
            corners.push((*x, level));
        }
        corners.push((*x, *y));
        before = Some(*y);
    }
    corners
}
