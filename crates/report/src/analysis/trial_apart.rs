//! A trial that tells two materials apart.

use super::trial::{SHAPES_OFF, USUAL_CONFIDENCE};
use crate::cautions;
use crate::number;
use crate::wire::trial::{OtherRatio, OtherShape, TellApart, TrialDocument};
use sealspan_care::error::{Error, Result};
use sealspan_care::trial::apart::Materials;
use sealspan_numeric::special::normal_quantile;

const USUAL_POWER: f64 = 0.8;
/// Fewer failures of a material than this, and the asymptotic variance is too hopeful (a rule of ours, from the
/// simulation in the tests).
const FEW_FAILURES: f64 = 10.0;
/// Parts of the ln ratio at which the chance is given beside.
const OTHER_RATIOS: [f64; 3] = [0.5, 1.5, 2.0];

/// What is asked. Times are in `unit`.
#[derive(Debug, Clone, Copy)]
pub struct ApartQuestion {
    /// Life of the second material over that of the first.
    pub ratio: f64,
    /// Weibull shape of both.
    pub shape: f64,
    /// Chance wanted that the interval of the ratio leaves 1 out; 0.8 when not stated.
    pub power: Option<f64>,
    /// Level of that two-sided interval; 0.9 when not stated.
    pub confidence: Option<f64>,
    /// Seals of each, when the chance is asked for.
    pub seals: Option<u64>,
    /// Time each is run; to failure, when none.
    pub duration: Option<f64>,
    /// Characteristic life of the first material: the age by which 1 - 1/e, or 63 %, have failed.
    pub life: Option<f64>,
    /// Unit of times.
    pub unit: &'static str,
}

/// Plans a trial that tells two materials apart, or says what one with so many seals can do ([`Materials`]): the ln ratio
/// of n seals each is taken as normal with the large-sample variance v/n.
///
/// # Errors
/// When a number is out of its range, a duration comes without a life, or hardly a seal fails.
pub fn apart(question: ApartQuestion) -> Result<TrialDocument> {
    let time = match (question.duration, question.life) {
        (Some(duration), Some(life)) => Some(duration / life),
        (Some(_), None) => {
            return Err(Error::unanswerable(
                "A duration says nothing without a life to compare it with: give --life, the age by which 63 % of the first material have failed, or leave out --duration to run each seal to failure.",
            ));
        }
        (None, _) => None,
    };
    let here = Materials::new(question.ratio, question.shape, time)?;
    let confidence = question.confidence.unwrap_or(USUAL_CONFIDENCE);
    let wanted = question.power.unwrap_or(USUAL_POWER);
    let seals = match question.seals {
        Some(seals) => seals,
        None => here.seals(wanted, confidence)?,
    };
    let error = (here.variance() / seals as f64).sqrt();
    let reach = normal_quantile(0.5 + 0.5 * confidence) * error;
    let failures = here.failing().map(|q| q * seals as f64);
    Ok(TrialDocument {
        schema: "sealspan.trial.v1",
        purpose: "tell_apart",
        solved_for: if question.seals.is_some() {
            "power"
        } else {
            "seals"
        },
        unit: question.unit,
        seals,
        duration: question.duration,
        duration_reason: question
            .duration
            .is_none()
            .then_some("each seal is run until it fails"),
        failures_allowed: None,
        failures_allowed_reason: Some("failures are what this trial counts on"),
        confidence,
        shape: question.shape,
        taken: taken(&question),
        show: None,
        apart: Some(TellApart {
            ratio: question.ratio,
            power: question.seals.is_none().then_some(wanted),
            power_reason: question.seals.is_some().then_some("the seals were given"),
            power_reached: here.power(seals, confidence)?,
            failures_expected: failures,
            typical_interval: [-reach, reach].map(|r| question.ratio * r.exp()),
            other_shapes: other_shapes(&question, time, seals, confidence)?,
            other_ratios: other_ratios(&question, time, seals, confidence)?,
        }),
        assumptions: assumptions(),
        warnings: warnings(failures, seals),
        cautions: cautions::always(),
    })
}

fn other_shapes(
    question: &ApartQuestion,
    time: Option<f64>,
    seals: u64,
    confidence: f64,
) -> Result<Vec<OtherShape>> {
    let at = |off: &f64| {
        let shape = question.shape * off;
        Ok(OtherShape {
            shape,
            power_reached: Materials::new(question.ratio, shape, time)?.power(seals, confidence)?,
        })
    };
    SHAPES_OFF.iter().map(at).collect()
}

fn other_ratios(
    question: &ApartQuestion,
    time: Option<f64>,
    seals: u64,
    confidence: f64,
) -> Result<Vec<OtherRatio>> {
    let at = |part: &f64| {
        let ratio = question.ratio.powf(*part);
        Ok(OtherRatio {
            ratio,
            power_reached: Materials::new(ratio, question.shape, time)?.power(seals, confidence)?,
        })
    };
    OTHER_RATIOS.iter().map(at).collect()
}

fn taken(question: &ApartQuestion) -> Vec<String> {
    let mut out = vec![];
    if question.confidence.is_none() {
        out.push(format!(
            "the two-sided confidence is {}: --confidence was not given",
            number::level(USUAL_CONFIDENCE)
        ));
    }
    if question.power.is_none() && question.seals.is_none() {
        out.push(format!(
            "the chance to tell them apart is {}: --power was not given",
            number::level(USUAL_POWER)
        ));
    }
    if question.duration.is_none() {
        out.push("each seal is run until it fails: --duration was not given".to_owned());
    }
    out
}

fn assumptions() -> Vec<String> {
    [
        "Both lives are Weibull with the same shape, which the trial estimates; only their scales differ.",
        "As many seals of each material, fitted to the positions at random, run side by side under the same conditions and failing independently.",
        "Failures are seen when they happen; with looks now and then, more seals are needed.",
        "The number rests on the large-sample variance of the ln ratio of lives, which played trials bear out within five points of chance.",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn warnings(failures: [f64; 2], seals: u64) -> Vec<String> {
    let fewest = failures[0].min(failures[1]);
    let mut out = vec![];
    if fewest < FEW_FAILURES {
        out.push(format!(
            "Only about {} failures of one material are to be expected: the large-sample variance is too hopeful there; take some seals more.",
            number::significant(fewest, 2)
        ));
    }
    if seals < 3 {
        out.push(
            "So few seals cannot show that the shape is the same, nor that the law suits."
                .to_owned(),
        );
    }
    out
}
