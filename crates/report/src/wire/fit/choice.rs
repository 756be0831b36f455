//! How much the choice of family matters: weights, averaged lives, and a sentence.

use super::{FamilyFit, Kept};
use crate::number;
use crate::wire::Number;
use sealspan_life::bounds::NoEnd;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::{ln_normal_survival, normal_quantile};
use serde::Serialize;

/// The families against each other.
#[derive(Debug, Clone, Serialize)]
pub struct Choice {
    /// Weights of the families that fit, best first.
    pub weights: Vec<Weight>,
    /// Ages by which shares have failed under the mixture of the families by their AICc weights.
    pub averaged_quantiles: Vec<Averaged>,
    /// What it means, in words.
    pub sentence: String,
}

/// A family's weights.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Weight {
    /// Family.
    pub family: &'static str,
    /// AICc weight: exp(-(AICc - least AICc)/2) over the sum of these (Burnham & Anderson 2002).
    pub aicc: Option<f64>,
    /// BIC weight: the same of BIC.
    pub bic: f64,
}

/// An age by which a share has failed under the mixture of families.
#[derive(Debug, Clone, Serialize)]
pub struct Averaged {
    /// Share failed.
    pub p: f64,
    /// Age and its interval: where the families' chances of a miss, mixed by their weights, leave equal shares outside.
    /// A family's chance of a miss at an age is read off its own interval as shown, on the normal law's scale in ln age
    /// (after Turek & Fletcher 2012, "Model-averaged Wald confidence intervals", Computational Statistics & Data Analysis
    /// 56, whose chances are those of normal approximations; from memory).
    #[serde(flatten)]
    pub number: Number,
}

/// Families this close to the best by AICc are as good (Burnham & Anderson 2002: a difference of 2).
const AS_GOOD: f64 = 2.0;

/// Weighs the families that fit; `None` for fewer than two.
pub(super) fn choice(
    fits: &[FamilyFit],
    shares: &[f64],
    confidence: f64,
    unit: &str,
) -> Option<Choice> {
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
        sentence: sentence(&kept, &weights, best_aicc, unit),
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
    let Some(estimate) = averaged(kept, weights, p) else {
        return Number {
            reason: Some(
                "so many never fail under a family with weight, or its life is not finite".into(),
            ),
            ..Number::default()
        };
    };
    let said = kept
        .iter()
        .zip(weights)
        .filter(|(_, w)| w.aicc.unwrap_or(0.0) >= NO_SAY);
    let parts: Result<Vec<(f64, Misses)>, String> = said
        .map(|((fit, kept), w)| Ok((w.aicc.unwrap_or(0.0), Misses::of(fit, kept, p, confidence)?)))
        .collect();
    let parts = match parts {
        Ok(parts) => parts,
        Err(reason) => {
            return Number {
                estimate: Some(estimate),
                reason: Some(reason),
                ..Number::default()
            };
        }
    };
    let whole: f64 = parts.iter().map(|part| part.0).sum();
    let at = |share: f64| {
        let below = |x: f64| {
            let mixed = parts.iter().map(|(w, misses)| w / whole * misses.below(x));
            mixed.sum::<f64>() - share
        };
        let side = if below(estimate.ln()) > 0.0 {
            -0.1
        } else {
            0.1
        };
        let (low, high) = bracket_from(below, estimate.ln(), side, 60)?;
        bracketed(below, low, high, 1e-10).map(f64::exp)
    };
    let side = 0.5 - 0.5 * confidence;
    let (lower, upper) = (at(side), at(1.0 - side));
    let open = match (lower, upper) {
        (Some(_), Some(_)) => None,
        (None, Some(_)) => Some("lower"),
        (Some(_), None) => Some("upper"),
        (None, None) => Some("lower and no upper"),
    };
    Number {
        estimate: Some(estimate),
        lower,
        upper,
        reason: open
            .map(|name| format!("no {name} limit: under a family with weight there is none")),
    }
}

/// A family's chances of a miss: ln ages with the standard normal values that they stand for, straight lines between.
struct Misses {
    /// Lower end, estimate, upper end; infinite where there is no limit.
    ages: [f64; 3],
    z: f64,
}

impl Misses {
    /// Read off the interval shown; the reason why not else.
    fn of(fit: &FamilyFit, kept: &Kept, p: f64, confidence: f64) -> Result<Self, String> {
        let title = kept.0.family.title();
        let own = fit.quantiles.iter().find(|q| q.p == p);
        let Some(own) = own.filter(|own| own.number.estimate.is_some()) else {
            return Err(format!("no interval: the {title} law gives none"));
        };
        let end = |value: Option<f64>, why: Option<NoEnd>, none: f64| match (value, why) {
            (Some(value), _) => Ok(value.ln()),
            (None, Some(NoEnd::NoLimit)) => Ok(none),
            (None, _) => Err(format!("no interval: the {title} law's own lacks an end")),
        };
        let lower = end(own.number.lower, own.ends.no_lower, f64::NEG_INFINITY)?;
        let upper = end(own.number.upper, own.ends.no_upper, f64::INFINITY)?;
        let estimate = own.number.estimate.unwrap_or(f64::NAN).ln();
        // Calibrated ends may leave the estimate out: then the middle of the two stands for it.
        let inside = lower < estimate && estimate < upper;
        let centre = if inside {
            estimate
        } else {
            0.5 * (lower + upper)
        };
        Ok(Self {
            ages: [lower, centre, upper],
            z: normal_quantile(0.5 + 0.5 * confidence),
        })
    }

    /// Chance that the age lies below e^x.
    fn below(&self, x: f64) -> f64 {
        let [lower, centre, upper] = self.ages;
        let spread = if x < centre {
            centre - lower
        } else {
            upper - centre
        };
        let z = if spread.is_finite() {
            self.z * (x - centre) / spread.max(1e-12)
        } else {
            0.0
        };
        ln_normal_survival(-z).exp()
    }
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

/// A family of at least this AICc weight is not ruled out (a rule of ours).
const NOT_RULED_OUT: f64 = 0.01;

/// Ages by which 10 % have failed, least and greatest, under the families that are not ruled out; `None` for one.
fn spread(kept: &[(&FamilyFit, &Kept)], weights: &[Weight]) -> Option<(f64, f64)> {
    let lives: Vec<f64> = kept
        .iter()
        .zip(weights)
        .filter(|(_, w)| w.aicc.is_some_and(|w| w >= NOT_RULED_OUT))
        .filter_map(|((_, k), _)| k.0.finite_estimate(Quantity::Quantile(0.1)))
        .collect();
    (lives.len() > 1).then(|| {
        let least = lives.iter().copied().fold(f64::INFINITY, f64::min);
        (least, lives.iter().copied().fold(0.0, f64::max))
    })
}

fn sentence(kept: &[(&FamilyFit, &Kept)], weights: &[Weight], best: f64, unit: &str) -> String {
    let near: Vec<_> = kept
        .iter()
        .filter(|(f, _)| f.aicc.is_some_and(|a| a - best <= AS_GOOD))
        .filter_map(|(f, k)| Some((f, k.0.finite_estimate(Quantity::Quantile(0.1))?)))
        .collect();
    let (low, high) = near.iter().fold((f64::INFINITY, 0.0f64), |(l, h), (_, x)| {
        (l.min(*x), h.max(*x))
    });
    let Some((first, rest)) = near.split_first() else {
        return "no family stands out".to_owned();
    };
    let title = |f: &FamilyFit| f.fit.as_ref().map_or(f.family, |k| k.0.family.title());
    if rest.is_empty() {
        let own = number::significant(low, 3);
        let others = spread(kept, weights).map_or_else(
            || "the other families have less than 1 % of the weight".to_owned(),
            |(least, greatest)| {
                format!(
                    "among the families with 1 % of the weight or more it runs from {} to {} {unit}",
                    number::significant(least, 3),
                    number::significant(greatest, 3)
                )
            },
        );
        return format!(
            "the {} family has the best AICc, by more than 2; its age by which 10 % have failed is {own} {unit}; {others}",
            title(first.0),
        );
    }
    let others: Vec<&str> = rest.iter().map(|(f, _)| title(f)).collect();
    format!(
        "the {} family has the best AICc and these are as good (within 2): {}; the age by which 10 % have failed runs from {} to {} {unit} among them",
        title(first.0),
        others.join(", "),
        number::significant(low, 3),
        number::significant(high, 3)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At a family's own ends the chances are those of the ends, half at its estimate; without a limit they stay half.
    #[test]
    fn chances_of_a_miss_are_those_of_the_ends() {
        let misses = Misses {
            ages: [1.0, 2.0, f64::INFINITY],
            z: normal_quantile(0.95),
        };
        assert!((misses.below(1.0) - 0.05).abs() < 1e-12);
        assert!((misses.below(2.0) - 0.5).abs() < 1e-12);
        assert!(misses.below(0.0) < 0.05);
        assert!((misses.below(90.0) - 0.5).abs() < 1e-12);
    }
}
