//! What a log does not tell, and which record would mend it.

use super::fit::DefectFit;
use super::goodness::{Agreement, LookBand, agreement};
use super::model::StageLaw;
use super::moments::DETECTION;
use super::quantity::{DefectQuantity, MEASURED};
use crate::bounds::Bounds;
use crate::quantity::Quantity;

/// A doubt in words, and the record that would mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubt {
    /// A stable word.
    pub kind: &'static str,
    /// What cannot be told, or is taken on trust.
    pub message: String,
    /// Which record would mend it.
    pub cure: &'static str,
}

/// Fewer failures or findings than this and no shape is trusted by itself (a rule of ours).
pub const TRUSTED: f64 = 5.0;
/// Fewer than this and the answer is indicative (a rule of ours).
const INDICATIVE: f64 = 10.0;
/// Widening of intervals from which it is said.
const WIDER_SAID: f64 = 0.05;
/// Correlation of two estimates beyond which one stands for the other (a rule of ours).
const CONFOUNDED: f64 = 0.9;
/// Width of detection's interval that tells next to nothing (a rule of ours).
const WIDE_DETECTION: f64 = 0.5;
/// Ratio of the ends of the mean delay's interval that tells next to nothing (a rule of ours).
const WIDE_DELAY: f64 = 4.0;
/// Mean delays between looks beyond which hardly a defect lives to a second look (a rule of ours).
const RARE: f64 = 2.0;
/// Distinct ages of looks below which they are all alike (a rule of ours).
const FEW_AGES: usize = 3;
/// Probabilities of the comparison by number of look below which the laws are in doubt, and do not suit (rules of ours).
const DOUBTFUL: f64 = 0.05;
const UNLIKELY: f64 = 0.01;

/// The doubts about a fit, given the bounds of detection and of the mean delay, the usual time between looks, and
/// the looks observed against expected.
#[must_use]
pub fn doubts(
    fit: &DefectFit,
    detection: Bounds,
    delay: Bounds,
    spacing: Option<f64>,
    bands: &[LookBand],
) -> Vec<Doubt> {
    let mut out = vec![];
    few(fit, &mut out);
    detection_doubts(fit, detection, &mut out);
    let open = delay.lower.is_none() || delay.upper.is_none();
    let ratio = delay.lower.zip(delay.upper).map_or(1.0, |(l, u)| u / l);
    if open || ratio > WIDE_DELAY {
        out.push(Doubt {
            kind: "delay_unclear",
            message: "the log hardly tells how long a defect takes to leak".to_owned(),
            cure: "look more often for a while; record each failure's date, and defects found and left in place until they leak",
        });
    }
    let mean = fit.estimate(DefectQuantity::Delay(Quantity::Mean));
    if let Some((gap, mean)) = spacing.zip(mean)
        && gap > RARE * mean
    {
        out.push(Doubt {
            kind: "looks_too_rare",
            message: format!(
                "looks are {gap:.0} apart and a defect leaks after about {mean:.0}: hardly a defect lives to a second look, so a missed defect and a short delay look alike"
            ),
            cure: "inspect more often for a while, or look again soon after some sound looks",
        });
    }
    if fit.counts.look_ages <= FEW_AGES {
        out.push(Doubt {
            kind: "looks_at_same_ages",
            message: format!(
                "all looks were at {} age(s): the law between them is taken on trust",
                fit.counts.look_ages
            ),
            cure: "spread the ages of looks",
        });
    }
    misfit(fit, bands, &mut out);
    out
}

fn few(fit: &DefectFit, out: &mut Vec<Doubt>) {
    let c = &fit.counts;
    if fit.model.delay == StageLaw::Exponential {
        out.push(Doubt {
            kind: "delay_shape_stated",
            message: format!(
                "the delay is taken to have a constant rate ({} failures): the intervals take that as known",
                c.failed
            ),
            cure: "go on recording failures; then ask for --delay-law weibull",
        });
    }
    if c.failed < TRUSTED && fit.model.delay != StageLaw::Exponential {
        out.push(Doubt {
            kind: "few_failures",
            message: format!(
                "{} failure(s): the shape of the delay cannot be trusted by itself",
                c.failed
            ),
            cure: "ask for --delay-law exponential, or pool like groups",
        });
    }
    if fit.delay_at_edge {
        out.push(Doubt {
            kind: "delay_spread_at_edge",
            message: "delays all alike fit best, as happens by chance where failures are few: the log does not tell how far delays vary, and the estimates given are medians under weak priors".to_owned(),
            cure: "go on recording failures; pool like groups; or ask for --delay-law exponential",
        });
    }
    let wider = fit.widened() - 1.0;
    if wider > WIDER_SAID {
        out.push(Doubt {
            kind: "thin_log",
            message: format!(
                "{} failures and {} findings are few for this model, whose plain likelihood intervals would then hold the truth too seldom: those given reach about {:.0} % farther. On invented fleets of 90 and 300 seals 90 % intervals so widened held the truth in {MEASURED} (tests/coverage/defects.md)",
                c.failed,
                c.found,
                100.0 * wider,
            ),
            cure: "go on recording; pool like groups",
        });
    }
    if c.failed.min(c.found) < INDICATIVE {
        out.push(Doubt {
            kind: "indicative",
            message: format!("{} failures and {} findings: indicative", c.failed, c.found),
            cure: "go on recording; pool like groups",
        });
    }
}

fn detection_doubts(fit: &DefectFit, detection: Bounds, out: &mut Vec<Doubt>) {
    if fit.detection_at_edge {
        out.push(Doubt {
            kind: "detection_at_edge",
            message: "looks that miss nothing fit best: detection is taken as 1, and the log does not say how far below it may be".to_owned(),
            cure: "test some seals for leaks soon after a sound look",
        });
        return;
    }
    if fit.model.detection.is_some() {
        out.push(Doubt {
            kind: "detection_stated",
            message: format!(
                "detection {} is stated, not estimated: the intervals take it as known",
                (fit.detection() * 1e6).round() / 1e6
            ),
            cure: "ask for --detection estimate to see what the log says of it",
        });
        return;
    }
    let width = detection.upper.unwrap_or(1.0) - detection.lower.unwrap_or(0.0);
    if width > WIDE_DETECTION {
        out.push(Doubt {
            kind: "detection_unclear",
            message: "the log hardly tells how many defects a look misses".to_owned(),
            cure: "look again soon after some sound looks, or test for leaks after them; or state --detection",
        });
    }
    let strongest = (0..DETECTION)
        .map(|i| fit.correlation(i, DETECTION).abs())
        .fold(0.0, f64::max);
    if strongest > CONFOUNDED {
        out.push(Doubt {
            kind: "confounded",
            message: format!(
                "detection and the laws go together in this log (correlation {strongest:.2}): better looks at slower defects would fit as well"
            ),
            cure: "a second look soon after a sound one tells them apart",
        });
    }
}

/// The comparison by number of look, where it puts the laws in doubt.
#[must_use]
pub fn strays(fit: &DefectFit, bands: &[LookBand]) -> Option<Agreement> {
    agreement(fit, bands).filter(|a| a.p_value < DOUBTFUL)
}

fn misfit(fit: &DefectFit, bands: &[LookBand], out: &mut Vec<Doubt>) {
    let Some(a) = strays(fit, bands) else { return };
    let from = format!(
        "what the model expects (chi-square {:.1} on {:.0} degrees of freedom)",
        a.statistic, a.df
    );
    let (kind, message) = if a.p_value < UNLIKELY {
        (
            "misfit",
            format!(
                "findings and failures by number of look stray from {from}: the group mixes seals that differ, or the laws do not suit"
            ),
        )
    } else {
        (
            "doubtful_fit",
            format!(
                "findings and failures by number of look stray somewhat from {from}: chance alone does as much in one group of {:.0}, so the laws are in doubt, not ruled out",
                1.0 / a.p_value
            ),
        )
    };
    out.push(Doubt {
        kind,
        message,
        cure: "group by what differs (--by material, site, batch), or try other laws",
    });
}
