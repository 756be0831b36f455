//! Lives under several failure modes at once, with intervals by draws.

use super::{Ends, FamilyFit, FitOptions};
use crate::wire::Number;
use sealspan_life::bounds::{Bounds, NoEnd};
use sealspan_life::competing::draws::CompetingDraws;
use sealspan_life::competing::life::CompetingLife;
use sealspan_life::fit::Fit;
use serde::Serialize;

/// An age by which a share has failed, with its interval.
#[derive(Debug, Clone, Serialize)]
pub struct AgeAt {
    /// Share failed.
    pub p: f64,
    /// Age; `null` where so many never fail.
    pub age: Option<f64>,
    /// Lower end of its interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A mean life under several modes.
#[derive(Debug, Clone, Default, Serialize)]
pub struct MeanLife {
    /// Mean and its interval.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
}

/// Share surviving an age under all modes.
#[derive(Debug, Clone, Serialize)]
pub struct SurvivalAt {
    /// Age.
    pub time: f64,
    /// Share.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
}

/// Draws behind the intervals of lives under several modes.
const DRAWS: usize = 1000;
pub(super) const BY_DRAWS: &str =
    "draws of each mode's law from its posterior under weak priors, put together";

pub(super) const MEDIANS: &str =
    "medians of those draws, since a mode has too few failures for a shape of its own";

/// The life under several modes, with draws of it.
pub(super) struct Together<'a> {
    life: CompetingLife,
    pub(super) draws: Option<CompetingDraws>,
    /// Whether a mode has too few failures for its greatest likelihood to be used.
    pub(super) few: bool,
    options: &'a FitOptions,
}

impl<'a> Together<'a> {
    /// `None` where a mode has no life of its own.
    pub(super) fn new(fits: &[FamilyFit], options: &'a FitOptions) -> Option<Self> {
        let own: Vec<&Fit> = fits
            .iter()
            .map(|f| f.fit.as_ref().map(|kept| &kept.0))
            .collect::<Option<_>>()?;
        Some(Self {
            life: CompetingLife::new(own.iter().map(|f| f.life()).collect())?,
            draws: CompetingDraws::new(&own, DRAWS, options.seed),
            few: fits.iter().any(|f| f.withheld),
            options,
        })
    }

    pub(super) fn without(&self, mode: usize) -> Option<Self> {
        Some(Self {
            life: self.life.without(mode)?,
            draws: self.draws.as_ref().and_then(|d| d.without(mode)),
            few: self.few,
            options: self.options,
        })
    }

    fn number(&self, asked: impl Fn(&CompetingLife) -> f64 + Sync + Send) -> (Number, Ends) {
        self.number_by(&asked, &asked)
    }

    /// From the life itself, and from its draws.
    fn number_by(
        &self,
        asked: impl Fn(&CompetingLife) -> f64,
        drawn: impl Fn(&CompetingLife) -> f64 + Sync + Send,
    ) -> (Number, Ends) {
        let value = match &self.draws {
            Some(draws) if self.few => draws.median(&drawn),
            _ => asked(&self.life),
        };
        let estimate = value.is_finite().then_some(value);
        let Some(draws) = &self.draws else {
            let number = Number {
                estimate,
                reason: Some("a mode's posterior could not be drawn from".to_owned()),
                ..Number::default()
            };
            return (number, Ends::of(&Bounds::none(NoEnd::NotFound)));
        };
        let bounds = draws.interval(self.options.confidence, drawn);
        let never = || "not finite: fewer seals ever fail".to_owned();
        let number = Number {
            estimate,
            lower: bounds.lower,
            upper: bounds.upper,
            reason: estimate.map_or_else(|| Some(never()), |_| Ends::of(&bounds).reason()),
        };
        (number, Ends::of(&bounds))
    }

    pub(super) fn ages(&self) -> Vec<AgeAt> {
        let shares = self.options.quantiles.iter();
        shares
            .map(|p| {
                let (n, ends) = self.number(|l| l.quantile(*p));
                AgeAt {
                    p: *p,
                    age: n.estimate,
                    lower: n.lower,
                    upper: n.upper,
                    ends,
                    reason: n.reason,
                }
            })
            .collect()
    }

    pub(super) fn mean(&self) -> MeanLife {
        let (number, ends) = self.number_by(
            |l| l.mean().unwrap_or(f64::INFINITY),
            |l| l.mean_roughly().unwrap_or(f64::INFINITY),
        );
        MeanLife { number, ends }
    }

    pub(super) fn survival(&self) -> Vec<SurvivalAt> {
        let ages = self.options.at.iter();
        ages.map(|t| {
            let (number, ends) = self.number(|l| l.survival(*t));
            SurvivalAt {
                time: *t,
                number,
                ends,
            }
        })
        .collect()
    }
}
