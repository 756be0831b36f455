//! The curve without a family.

use super::{Empirical, Point};
use sealspan_life::bands::{Band, Kind, Question, Scale, band};
use sealspan_life::nelson_aalen::cumulative_hazard;
use sealspan_life::{product_limit, turnbull};
use sealspan_records::Sample;

/// The curve without a family: product-limit ([`product_limit::curve`]) where every age is known, else Turnbull's
/// ([`turnbull::curve`]), its interval narrowed so that the ends fall with age as survival does. The cumulative hazard and
/// the simultaneous band are left out of curves with more than 20,000 points.
#[must_use]
pub fn empirical(sample: &Sample, confidence: f64) -> Empirical {
    if let Some(curve) = product_limit::curve(sample, confidence) {
        let point = |s: &product_limit::Step| Point {
            time: s.time,
            from: None,
            survival: s.survival,
            std_error: s.std_error,
            lower: s.lower,
            upper: s.upper,
            band_lower: None,
            band_upper: None,
            hazard: None,
            hazard_std_error: None,
            reason: s.std_error.is_none().then_some("the curve has reached 0"),
        };
        let mut points: Vec<Point> = curve.steps.iter().map(point).collect();
        let banded = points.len() <= MOST_POINTS && enrich(&mut points, sample, confidence);
        return Empirical {
            method: "kaplan_meier",
            ends_early: ends_early(sample, &points),
            points,
            std_error_reason: None,
            std_error_note: None,
            band: if banded { EQUAL_PRECISION } else { NO_BAND },
        };
    }
    let curve = turnbull::curve(sample, confidence);
    let std_error_reason = curve
        .as_ref()
        .and_then(|c| c.no_errors)
        .map(|why| why.to_string());
    let std_error_note = curve.as_ref().and_then(|c| c.windows).map(|windows| {
        format!(
            "the standard errors are worked out in {windows} windows, stretches far from each taken together in runs, which makes them a little too small where looks overlap"
        )
    });
    let masses = curve.map(|c| c.masses).unwrap_or_default();
    let point = |m: &turnbull::Mass| Point {
        time: m.upper,
        from: Some(m.lower),
        survival: m.survival,
        std_error: m.std_error,
        lower: m.lower_bound,
        upper: m.upper_bound,
        band_lower: None,
        band_upper: None,
        hazard: None,
        hazard_std_error: None,
        reason: m.std_error.is_none().then_some(NO_ERROR),
    };
    let finite = masses.iter().filter(|m| m.upper.is_finite());
    let mut points: Vec<Point> = finite.map(point).collect();
    monotone(&mut points);
    Empirical {
        method: "turnbull",
        ends_early: ends_early(sample, &points),
        points,
        std_error_reason,
        std_error_note,
        band: "no simultaneous band is known for interval data",
    }
}

/// All seals under watch at an early age failed, and others came under watch later: the curve says nothing of those.
fn ends_early(sample: &Sample, points: &[Point]) -> Option<String> {
    let zero = points.iter().find(|p| p.survival <= 0.0)?.time;
    let later = sample.rows().iter().filter(|row| row.entry() >= zero);
    let later: f64 = later.map(|row| row.count()).sum();
    (later > 0.0).then(|| {
        format!(
            "the curve is at 0 from {} on, for all seals under watch at that age had failed; {} came under watch later, of which it tells nothing: read it for seals from a later age on, or by a law",
            crate::number::tidy(zero),
            crate::number::counted(later, "seal")
        )
    })
}

const NO_ERROR: &str =
    "the curve has reached 0 here, or no point has a standard error (see std_error_reason)";
/// Survival only falls, so a limit at a later age holds at every earlier one, and the other way about.
fn monotone(points: &mut [Point]) {
    let mut highest: Option<f64> = None;
    for point in points.iter_mut().rev() {
        if let Some(lower) = point.lower {
            let raised = highest.map_or(lower, |h| h.max(lower));
            highest = Some(raised);
            point.lower = Some(raised);
        }
    }
    let mut lowest: Option<f64> = None;
    for point in points {
        if let Some(upper) = point.upper {
            let lowered = lowest.map_or(upper, |l| l.min(upper));
            lowest = Some(lowered);
            point.upper = Some(lowered);
        }
    }
}

/// More points than this stay without band and cumulative hazard.
const MOST_POINTS: usize = 20_000;
const EQUAL_PRECISION: &str = "equal precision, log-log scale, from the first failure age to the last but one (Nair 1984): holds at all those ages at once";
const NO_BAND: &str = "too few failures, or too many points, for a simultaneous band";

/// Adds the cumulative hazard and, where there is one, the band.
fn enrich(points: &mut [Point], sample: &Sample, confidence: f64) -> bool {
    if let Some(hazard) = cumulative_hazard(sample, confidence) {
        for (point, step) in points.iter_mut().zip(&hazard.steps) {
            point.hazard = Some(step.hazard);
            point.hazard_std_error = Some(step.std_error);
        }
    }
    let inner = points
        .iter()
        .filter(|p| p.survival > 0.0 && p.survival < 1.0);
    let (Some(first), Some(last)) = (inner.clone().next(), inner.clone().next_back()) else {
        return false;
    };
    let question = Question {
        kind: Kind::EqualPrecision,
        scale: Scale::LogLog,
        from: first.time,
        to: last.time,
        level: confidence,
    };
    let Ok(found): Result<Band, _> = band(sample, question) else {
        return false;
    };
    let mut rest = points.iter_mut();
    for step in &found.steps {
        if let Some(point) = rest.find(|p| p.time == step.time) {
            point.band_lower = Some(step.lower);
            point.band_upper = Some(step.upper);
        }
    }
    true
}
