//! A straight line by (weighted) least squares, with what its intervals need.

/// A line y = level + slope (x − centre) with the covariance of level and slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straight {
    /// Weighted mean of x.
    pub centre: f64,
    /// The line's height at the centre.
    pub level: f64,
    /// Its slope.
    pub slope: f64,
    /// Weighted sum of squares of x about the centre.
    pub spread: f64,
    /// Sum of the weights.
    pub weight: f64,
    /// Residual variance (of a point of weight 1); `None` without a degree of freedom.
    pub variance: Option<f64>,
    /// Degrees of freedom of the residual variance.
    pub freedom: f64,
}

/// Fits the line to (x, y, weight); `None` for fewer than two different x.
#[must_use]
pub fn straight(points: &[(f64, f64, f64)]) -> Option<Straight> {
    let weight: f64 = points.iter().map(|p| p.2).sum();
    let centre = points.iter().map(|p| p.2 * p.0).sum::<f64>() / weight;
    let level = points.iter().map(|p| p.2 * p.1).sum::<f64>() / weight;
    let spread: f64 = points.iter().map(|p| p.2 * (p.0 - centre).powi(2)).sum();
    let cross: f64 = points
        .iter()
        .map(|p| p.2 * (p.0 - centre) * (p.1 - level))
        .sum();
    let widest = points.iter().map(|p| (p.0 - centre).abs()).fold(0.0, f64::max);
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

/// Coefficient of x² with its standard error and degrees of freedom, from a parabola by least squares:
/// (coefficient, error, degrees of freedom). `None` for fewer than four points, or fewer than three different x.
#[must_use]
pub fn bend(points: &[(f64, f64, f64)]) -> Option<(f64, f64, f64)> {
    let line = straight(points)?;
    let freedom = points.len() as f64 - 3.0;
    if freedom < 1.0 {
        return None;
    }
    // x² cleared of its own line: what is left is orthogonal to level and slope.
    let squares: Vec<(f64, f64, f64)> = points
        .iter()
        .map(|p| (p.0, (p.0 - line.centre).powi(2), p.2))
        .collect();
    let own = straight(&squares)?;
    let clear: Vec<f64> = squares
        .iter()
        .map(|p| p.1 - own.level - own.slope * (p.0 - own.centre))
        .collect();
    let size: f64 = clear.iter().zip(points).map(|(z, p)| p.2 * z * z).sum();
    let whole: f64 = squares.iter().map(|p| p.2 * p.1 * p.1).sum();
    if size <= 1e-20 * whole {
        return None;
    }
    let cross: f64 = clear.iter().zip(points).map(|(z, p)| p.2 * z * p.1).sum();
    let bend = cross / size;
    let left: f64 = clear
        .iter()
        .zip(points)
        .map(|(z, p)| {
            let line = line.level + line.slope * (p.0 - line.centre);
            p.2 * (p.1 - line - bend * z).powi(2)
        })
        .sum();
    Some((bend, (left / freedom / size).sqrt(), freedom))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_line_and_a_parabola_are_found_again() {
        let at = |x: f64| (x, 3.0 - 2.0 * x + 0.5 * x * x, 1.0);
        let points: Vec<_> = [0.0, 1.0, 3.0, 4.0, 7.0].map(at).to_vec();
        let (bend, error, freedom) = bend(&points).unwrap();
        assert!((bend - 0.5).abs() < 1e-12 && error < 1e-10 && freedom == 2.0);
        let line = straight(&[(1.0, 5.0, 1.0), (3.0, 9.0, 2.0)]).unwrap();
        assert!((line.slope - 2.0).abs() < 1e-14 && line.variance.is_none());
        assert!(straight(&[(1.0, 5.0, 1.0), (1.0, 9.0, 2.0)]).is_none());
    }
}
