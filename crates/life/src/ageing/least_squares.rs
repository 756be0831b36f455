//! A straight line by (weighted) least squares, with what its intervals need.
//!
//! slope = Σ w(x − x̄)(y − ȳ) / Σ w(x − x̄)², residual variance s² = Σ w(y − line)²/(n − 2); level and slope have the
//! variances s²/Σ w and s²/Σ w(x − x̄)² and no covariance (textbook formulas, from memory).

/// A line y = level + slope (x − centre), with what the variances of level and slope are made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straight {
    /// Weighted mean of x.
    pub centre: f64,
    /// The line's height at the centre: the weighted mean of y.
    pub level: f64,
    /// Its slope.
    pub slope: f64,
    /// Weighted sum of squares of x about the centre.
    pub spread: f64,
    /// Sum of the weights.
    pub weight: f64,
    /// Residual variance (of a point of weight 1); `None` without a degree of freedom.
    pub variance: Option<f64>,
    /// Degrees of freedom of the residual variance: points less two.
    pub freedom: f64,
}

/// Fits the line to (x, y, weight); `None` for fewer than two different x.
#[must_use]
pub(crate) fn straight(points: &[(f64, f64, f64)]) -> Option<Straight> {
    let weight: f64 = points.iter().map(|p| p.2).sum();
    let centre = points.iter().map(|p| p.2 * p.0).sum::<f64>() / weight;
    let level = points.iter().map(|p| p.2 * p.1).sum::<f64>() / weight;
    let spread: f64 = points.iter().map(|p| p.2 * (p.0 - centre).powi(2)).sum();
    let cross: f64 = points
        .iter()
        .map(|p| p.2 * (p.0 - centre) * (p.1 - level))
        .sum();
    let widest = points
        .iter()
        .map(|p| (p.0 - centre).abs())
        .fold(0.0, f64::max);
    let apart = spread > 0.0 && widest > 1e-12 * centre.abs();
    if !apart || !level.is_finite() {
        return None;
    }
    let slope = cross / spread;
    let freedom = points.len() as f64 - 2.0;
    let left: f64 = points
        .iter()
        .map(|p| p.2 * (p.1 - level - slope * (p.0 - centre)).powi(2))
        .sum();
    Some(Straight {
        centre,
        level,
        slope,
        spread,
        weight,
        variance: (freedom > 0.0).then(|| left / freedom),
        freedom,
    })
}

/// A parabola: a line and a bend that is orthogonal to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parabola {
    line: Straight,
    /// The line of (x − centre)² itself, which is taken off it.
    own: Straight,
    /// Coefficient of x².
    pub bend: f64,
    /// Its standard error.
    pub error: f64,
    /// Degrees of freedom: points less three.
    pub freedom: f64,
}

impl Parabola {
    fn clear(&self, x: f64) -> f64 {
        let own = &self.own;
        (x - self.line.centre).powi(2) - own.level - own.slope * (x - own.centre)
    }

    /// The parabola's height.
    #[must_use]
    pub(crate) fn at(&self, x: f64) -> f64 {
        let line = &self.line;
        line.level + line.slope * (x - line.centre) + self.bend * self.clear(x)
    }
}

/// Fits a parabola by least squares; `None` for fewer than four points, or fewer than three different x.
#[must_use]
pub(crate) fn parabola(points: &[(f64, f64, f64)]) -> Option<Parabola> {
    let line = straight(points)?;
    let freedom = points.len() as f64 - 3.0;
    if freedom < 1.0 {
        return None;
    }
    let squares: Vec<(f64, f64, f64)> = points
        .iter()
        .map(|p| (p.0, (p.0 - line.centre).powi(2), p.2))
        .collect();
    let mut out = Parabola {
        line,
        own: straight(&squares)?,
        bend: 0.0,
        error: 0.0,
        freedom,
    };
    let clear = |p: &(f64, f64, f64)| out.clear(p.0);
    let size: f64 = points.iter().map(|p| p.2 * clear(p).powi(2)).sum();
    let whole: f64 = squares.iter().map(|p| p.2 * p.1 * p.1).sum();
    if size <= 1e-20 * whole {
        return None;
    }
    let cross: f64 = points.iter().map(|p| p.2 * clear(p) * p.1).sum();
    out.bend = cross / size;
    let left: f64 = points
        .iter()
        .map(|p| p.2 * (p.1 - out.at(p.0)).powi(2))
        .sum();
    out.error = (left / freedom / size).sqrt();
    Some(out)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sealspan_numeric::random::Stream;

    #[test]
    fn a_line_and_a_parabola_are_found_again() {
        let at = |x: f64| (x, 3.0 - 2.0 * x + 0.5 * x * x, 1.0);
        let points: Vec<_> = [0.0, 1.0, 3.0, 4.0, 7.0].map(at).to_vec();
        let found = parabola(&points).unwrap();
        assert!((found.bend - 0.5).abs() < 1e-12 && found.error < 1e-10 && found.freedom == 2.0);
        assert!((found.at(10.0) - 33.0).abs() < 1e-10);
        let line = straight(&[(1.0, 5.0, 1.0), (3.0, 9.0, 2.0)]).unwrap();
        assert!((line.slope - 2.0).abs() < 1e-14 && line.variance.is_none());
        assert!(straight(&[(1.0, 5.0, 1.0), (1.0, 9.0, 2.0)]).is_none());
    }

    /// Ovens all at one temperature, however weighed, lie apart by rounding alone; points about 0 do not, near as it is to
    /// their centre.
    #[test]
    fn points_apart_by_rounding_alone_bear_no_line() {
        let mut stream = Stream::new(11, 0);
        for _ in 0..200 {
            let x = 1.0 / (300.0 + 100.0 * stream.uniform());
            let points = [1.0, 2.0, 4.0].map(|y| (x, y, stream.uniform()));
            assert!(straight(&points).is_none(), "{points:?}");
        }
        for off in [0.0, 1e-9] {
            let points = [-1.0, 0.0, 1.0].map(|x| (x + off, 3.0 + 2.0 * x, 1.0));
            let line = straight(&points).unwrap();
            assert!((line.slope - 2.0).abs() < 1e-12 && (line.level - 3.0).abs() < 1e-12);
        }
    }
}
