//! How much the choice of family matters: weights, averaged lives, and a sentence.

use super::{FamilyFit, Kept};
use crate::number;
use crate::wire::Number;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::ln_normal_survival;
use serde::Serialize;

/// The families against each other.
#[derive(Debug, Clone, Serialize)]
pub struct Choice {
    /// Weights of the families that fit, best first.
    pub weights: Vec<Weight>,
    /// Lives averaged over the families by their AICc weights.
    pub averaged_quantiles: Vec<Averaged>,
    /// What it means, in words.
    pub sentence: String,
}

/// A family's weights.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Weight {
    /// Family.
    pub family: &'static str,
    /// AICc weight: relative likelihood corrected for few seals (Burnham & Anderson 2002).
    pub aicc: Option<f64>,
    /// BIC weight.
    pub bic: f64,
}

/// An age by which a share has failed under the mixture of families.
#[derive(Debug, Clone, Serialize)]
pub struct Averaged {
    /// Share failed.
    pub p: f64,
    /// Age and its interval: where the families' normal approximations in ln age, mixed by their weights, leave equal
    /// shares outside (Turek & Fletcher 2012, "Model-averaged Wald confidence intervals", Computational Statistics &
    /// Data Analysis 56; from memory).
    #[serde(flatten)]
    pub number: Number,
}

/// Families this close to the best by AICc are as good (Burnham & Anderson 2002: a difference of 2).
const AS_GOOD: f64 = 2.0;

/// Weighs the families that fit; `None` for fewer than two.
pub(super) fn choice(fits: &[FamilyFit], shares: &[f64], confidence: f64) -> Option<Choice> {
    let mut kept: Vec<(&FamilyFit, &Kept)> = fits
        .iter()
        .filter_map(|f| f.fit.as_ref().map(|kept| (f, kept)))
        .filter(|(f, _)| f.aicc.is_some())
        .collect();
    if kept.len() < 2 {
        return None;
    }
    let aicc = |f: &FamilyFit| f.aicc.unwrap_or(f64::INFINITY);
    kept.sort_by(|a, b| aicc(a.0).total_cmp(&aicc(b.0)));
    let least =
        |f: &dyn Fn(&FamilyFit) -> f64| kept.iter().map(|k| f(k.0)).fold(f64::INFINITY, f64::min);
    let bic = |f: &FamilyFit| f.bic.unwrap_or(f64::INFINITY);
    let (best_aicc, best_bic) = (least(&aicc), least(&bic));
    let relative = |x: f64, best: f64| (-0.5 * (x - best)).exp();
    let sum = |f: &dyn Fn(&FamilyFit) -> f64| kept.iter().map(|k| f(k.0)).sum::<f64>();
    let (all_aicc, all_bic) = (
        sum(&|f| relative(aicc(f), best_aicc)),
        sum(&|f| relative(bic(f), best_bic)),
    );
    let weights: Vec<Weight> = kept
        .iter()
        .map(|(f, _)| Weight {
            family: f.family,
            aicc: Some(relative(aicc(f), best_aicc) / all_aicc),
            bic: relative(bic(f), best_bic) / all_bic,
        })
        .collect();
    let averaged_quantiles = shares
        .iter()
        .map(|p| Averaged {
            p: *p,
            number: averaged_number(&kept, &weights, *p, confidence),
        })
        .collect();
    Some(Choice {
        sentence: sentence(&kept, best_aicc),
        weights,
        averaged_quantiles,
    })
}

/// A family of less weight than this has no say in an averaged interval.
const NO_SAY: f64 = 1e-4;

fn averaged_number(
    kept: &[(&FamilyFit, &Kept)],
    weights: &[Weight],
    p: f64,
    confidence: f64,
) -> Number {
    let estimate = averaged(kept, weights, p);
    let interval = averaged_interval(kept, weights, p, confidence);
    let reason = match (&estimate, &interval) {
        (None, _) => Some(
            "so many never fail under a family with weight, or its life is not finite".to_owned(),
        ),
        (_, Err(title)) => Some(format!(
            "no interval: under the {title} law the age has no standard error"
        )),
        _ => None,
    };
    let (lower, upper) = interval.ok().filter(|_| estimate.is_some()).unzip();
    Number {
        estimate,
        lower,
        upper,
        reason,
    }
}

/// Ages below and above which the families' normal laws of ln age, mixed by their weights, leave equal shares. The
/// name of a family without a standard error else.
fn averaged_interval(
    kept: &[(&FamilyFit, &Kept)],
    weights: &[Weight],
    p: f64,
    confidence: f64,
) -> Result<(f64, f64), &'static str> {
    let quantity = Quantity::Quantile(p);
    let mut parts = vec![];
    for ((_, kept), weight) in kept.iter().zip(weights) {
        let weight = weight.aicc.unwrap_or(0.0);
        let fit = &kept.0;
        let centre = fit.family.quantity(&fit.theta, quantity).value;
        let error = fit.scaled_error(quantity);
        if weight < NO_SAY {
            continue;
        }
        if !(centre.is_finite() && error.is_finite() && error > 0.0) {
            return Err(fit.family.title());
        }
        parts.push((weight, centre, error));
    }
    let whole: f64 = parts.iter().map(|part| part.0).sum();
    let at = |share: f64| {
        let below = |x: f64| {
            let part =
                |(w, c, e): &(f64, f64, f64)| w / whole * ln_normal_survival((c - x) / e).exp();
            parts.iter().map(part).sum::<f64>() - share
        };
        let (start, step) = parts.first().map_or((0.0, 1.0), |part| (part.1, part.2));
        let side = if below(start) > 0.0 { -step } else { step };
        let (low, high) = bracket_from(below, start, side, 60)?;
        bracketed(below, low, high, 1e-10).map(f64::exp)
    };
    let side = 0.5 - 0.5 * confidence;
    at(side).zip(at(1.0 - side)).ok_or("averaged")
}

/// The age at which the weighted mean of the survivals is 1 − p.
fn averaged(kept: &[(&FamilyFit, &Kept)], weights: &[Weight], p: f64) -> Option<f64> {
    let lives: Vec<_> = kept.iter().map(|(_, k)| k.0.life()).collect();
    let failed = |ln_age: f64| {
        let share = |(life, weight): (&sealspan_life::life::Life, &Weight)| {
            weight.aicc.unwrap_or(0.0) * life.failed(ln_age.exp())
        };
        lives.iter().zip(weights).map(share).sum::<f64>() - p
    };
    let start = lives.first()?.quantile(p).ln();
    let side = if failed(start) > 0.0 { -0.1 } else { 0.1 };
    let (low, high) = bracket_from(failed, start, side, 60)?;
    bracketed(failed, low, high, 1e-10).map(f64::exp)
}

fn sentence(kept: &[(&FamilyFit, &Kept)], best: f64) -> String {
    let b10 = |k: &Kept| k.0.estimate(Quantity::Quantile(0.1));
    let near: Vec<_> = kept
        .iter()
        .filter(|(f, k)| f.aicc.is_some_and(|a| a - best <= AS_GOOD) && b10(k).is_finite())
        .collect();
    let lives: Vec<f64> = near.iter().map(|(_, k)| b10(k)).collect();
    let (low, high) = lives
        .iter()
        .fold((f64::INFINITY, 0.0f64), |(l, h), x| (l.min(*x), h.max(*x)));
    let Some((first, rest)) = near.split_first() else {
        return "no family stands out".to_owned();
    };
    let title = |f: &FamilyFit| f.fit.as_ref().map_or(f.family, |k| k.0.family.title());
    if rest.is_empty() {
        return format!(
            "by AICc the {} family stands alone; its age by which 10 % have failed is {}",
            title(first.0),
            number::significant(low, 3)
        );
    }
    let others: Vec<&str> = rest.iter().map(|(f, _)| title(f)).collect();
    format!(
        "the {} family has the best AICc and these are as good (within 2): {}; the age by which 10 % have failed runs from {} to {} among them",
        title(first.0),
        others.join(", "),
        number::significant(low, 3),
        number::significant(high, 3)
    )
}
