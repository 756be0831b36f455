//! The inputs of a plan, and the same seal and prices with one of them moved.

use crate::costs::{Costs, Prices};
use crate::error::Result;
use crate::seal::{Onset, Seal, weibull};
use crate::terms::{Handling, Terms};
use sealspan_life::life::Life;
use serde::Serialize;

/// Something a plan rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Input {
    /// Scale of the life, in two stages of the age at the defect.
    Life,
    /// Its Weibull shape (1/σ of a lognormal law).
    LifeShape,
    /// Scale of the delay from defect to failure.
    Delay,
    /// Its shape.
    DelayShape,
    /// Chance that a look finds a defect that is there.
    Detection,
    /// Chance that an opening spoils the seal.
    HandlingDamage,
    /// Money of a planned replacement.
    PlannedCost,
    /// Hours down for it.
    PlannedHours,
    /// Money of a failure.
    FailureCost,
    /// Hours down for it.
    FailureHours,
    /// Money per hour down.
    DowntimeCost,
    /// Labour of a look.
    InspectionCost,
    /// Labour of a turn.
    TurnCost,
    /// Hours down for an opening.
    OpeningHours,
    /// Hours waiting for a spare.
    SpareWait,
    /// Money per unit of time of a hidden failure.
    UndetectedCost,
}

const ALL: [Input; 16] = [
    Input::Life,
    Input::LifeShape,
    Input::Delay,
    Input::DelayShape,
    Input::Detection,
    Input::HandlingDamage,
    Input::PlannedCost,
    Input::PlannedHours,
    Input::FailureCost,
    Input::FailureHours,
    Input::DowntimeCost,
    Input::InspectionCost,
    Input::TurnCost,
    Input::OpeningHours,
    Input::SpareWait,
    Input::UndetectedCost,
];

impl Input {
    /// Its name in sentences, for a seal that goes defective before it fails (`two_stage`) or one that does not.
    ///
    /// ```
    /// use sealspan_care::weigh::Input;
    /// assert_eq!((Input::Life.words(false), Input::Life.words(true)), ("life", "age at the defect"));
    /// ```
    #[must_use]
    pub fn words(self, two_stage: bool) -> &'static str {
        match self {
            Self::Life if two_stage => "age at the defect",
            Self::Life => "life",
            Self::LifeShape if two_stage => "shape of the age at the defect",
            Self::LifeShape => "shape of the life",
            Self::Delay => "delay from defect to failure",
            Self::DelayShape => "shape of the delay",
            Self::Detection => "chance that a look finds a defect",
            Self::HandlingDamage => "chance that handling spoils the seal",
            Self::PlannedCost => "cost of a planned replacement",
            Self::PlannedHours => "hours down for a planned replacement",
            Self::FailureCost => "cost of a failure",
            Self::FailureHours => "hours down for a failure",
            Self::DowntimeCost => "cost of an hour down",
            Self::InspectionCost => "labour of a look",
            Self::TurnCost => "labour of a turn",
            Self::OpeningHours => "hours down for an opening",
            Self::SpareWait => "hours waiting for a spare",
            Self::UndetectedCost => "cost of a hidden failure",
        }
    }

    /// Whether it changes what happens to the seals, not only what that costs.
    pub(crate) fn of_the_seal(self) -> bool {
        matches!(
            self,
            Self::Life
                | Self::LifeShape
                | Self::Delay
                | Self::DelayShape
                | Self::Detection
                | Self::HandlingDamage
        )
    }

    /// Whether it moves the law of the onset, and that of the delay.
    pub(crate) fn moves(self) -> (bool, bool) {
        (
            matches!(self, Self::Life | Self::LifeShape),
            matches!(self, Self::Delay | Self::DelayShape),
        )
    }

    /// The nearest value that makes sense.
    pub(crate) fn within(self, value: f64) -> f64 {
        match self {
            Self::Detection => value.clamp(1e-3, 1.0),
            Self::HandlingDamage => value.clamp(0.0, 0.99),
            _ => value,
        }
    }

    /// Whether a value this far out cannot be moved further.
    pub(crate) fn at_end(self, value: f64) -> bool {
        self.within(value) != value
    }
}

/// Seal, prices and handling of one world.
#[derive(Debug, Clone)]
pub(crate) struct Situation {
    pub seal: Seal,
    pub costs: Costs,
    pub handling: Handling,
}

/// Scale and shape of a law that has both as single numbers.
fn scale_and_shape(life: &Life) -> Option<(f64, Option<f64>)> {
    if let Some((shape, scale)) = weibull(life) {
        return Some((scale, (life.family() == "weibull").then_some(shape)));
    }
    let parameters = life.parameters();
    let value = |name: &str| parameters.iter().find(|p| p.0 == name).map(|p| p.1);
    match life.family() {
        "lognormal" => Some((value("mu")?.exp(), Some(1.0 / value("sigma")?))),
        _ => None,
    }
}

fn moved_life(life: &Life, scale: Option<f64>, shape: Option<f64>) -> Option<Life> {
    let (old_scale, old_shape) = scale_and_shape(life)?;
    let scale = scale.unwrap_or(old_scale);
    match (life.family(), shape.or(old_shape)) {
        ("exponential", None) => Life::exponential(scale),
        ("weibull", Some(shape)) => Life::weibull(shape, scale),
        ("lognormal", Some(shape)) => Life::lognormal(scale.ln(), 1.0 / shape),
        _ => None,
    }
}

/// The law of the onset, never turned.
fn onset(seal: &Seal) -> Option<Life> {
    seal.law().ok()
}

fn with_onset(seal: &Seal, life: Life) -> Option<Seal> {
    let alone = Seal {
        onset: Onset::Law(life),
        ..seal.clone()
    };
    match &seal.onset {
        Onset::Law(_) => Some(alone),
        Onset::Ring(ring) => alone.with_severities(ring.severities()).ok(),
        Onset::Measured(_) => None,
    }
}

/// Value of an input of the seal; `None` where it has none.
pub(crate) fn of_seal(seal: &Seal, input: Input) -> Option<f64> {
    match input {
        Input::Life => Some(scale_and_shape(&onset(seal)?)?.0),
        Input::LifeShape => scale_and_shape(&onset(seal)?)?.1,
        Input::Delay => Some(scale_and_shape(seal.delay.as_ref()?)?.0),
        Input::DelayShape => scale_and_shape(seal.delay.as_ref()?)?.1,
        Input::Detection if seal.delay.is_some() => Some(seal.detection),
        Input::HandlingDamage => Some(seal.handling_damage),
        _ => None,
    }
}

impl Situation {
    pub fn terms(&self) -> Result<Terms> {
        Terms::new(&self.costs, &self.handling)
    }

    /// The inputs that have a value here.
    pub fn inputs(&self) -> impl Iterator<Item = (Input, f64)> + '_ {
        let known = ALL.into_iter().filter_map(|i| Some((i, self.value(i)?)));
        known.filter(|(_, value)| *value > 0.0)
    }

    fn value(&self, input: Input) -> Option<f64> {
        let (p, h) = (self.costs.prices(), &self.handling);
        Some(match input {
            Input::PlannedCost => p.planned_cost,
            Input::PlannedHours => p.planned_hours,
            Input::FailureCost => p.failure_cost,
            Input::FailureHours => p.failure_hours,
            Input::DowntimeCost => p.downtime_cost,
            Input::InspectionCost => h.inspection_cost,
            Input::TurnCost => h.turn_cost,
            Input::OpeningHours => h.opening_hours,
            Input::SpareWait => h.spare_wait_hours,
            Input::UndetectedCost => h.undetected_cost,
            of_seal_itself => of_seal(&self.seal, of_seal_itself)?,
        })
    }

    /// The same with one input at another value; `None` where that is no seal or no price list.
    pub fn with(&self, input: Input, value: f64) -> Option<Self> {
        let mut out = self.clone();
        let mut prices: Prices = *self.costs.prices();
        match input {
            Input::Life => {
                out.seal = with_onset(
                    &self.seal,
                    moved_life(&onset(&self.seal)?, Some(value), None)?,
                )?
            }
            Input::LifeShape => {
                out.seal = with_onset(
                    &self.seal,
                    moved_life(&onset(&self.seal)?, None, Some(value))?,
                )?;
            }
            Input::Delay => {
                out.seal.delay = Some(moved_life(self.seal.delay.as_ref()?, Some(value), None)?)
            }
            Input::DelayShape => {
                out.seal.delay = Some(moved_life(self.seal.delay.as_ref()?, None, Some(value))?);
            }
            Input::Detection => out.seal.detection = value,
            Input::HandlingDamage => out.seal.handling_damage = value,
            Input::PlannedCost => prices.planned_cost = value,
            Input::PlannedHours => prices.planned_hours = value,
            Input::FailureCost => prices.failure_cost = value,
            Input::FailureHours => prices.failure_hours = value,
            Input::DowntimeCost => prices.downtime_cost = value,
            Input::InspectionCost => out.handling.inspection_cost = value,
            Input::TurnCost => out.handling.turn_cost = value,
            Input::OpeningHours => out.handling.opening_hours = value,
            Input::SpareWait => out.handling.spare_wait_hours = value,
            Input::UndetectedCost => out.handling.undetected_cost = value,
        }
        let costs = Costs::new(prices, self.costs.clock()).ok()?;
        out.costs = match self.costs.hours_per_unit() {
            Some(hours) => costs.with_hours_per_unit(hours).ok()?,
            None => costs,
        };
        Some(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inputs_of_one_stage_and_of_two_have_their_own_names() {
        let names = |two_stage: bool| [Input::Life, Input::LifeShape].map(|i| i.words(two_stage));
        assert_eq!(names(false), ["life", "shape of the life"]);
        assert_eq!(
            names(true),
            ["age at the defect", "shape of the age at the defect"]
        );
    }

    #[test]
    fn only_chances_have_an_end() {
        assert!(Input::Detection.at_end(1.2) && Input::HandlingDamage.at_end(-0.1));
        assert!(!Input::Detection.at_end(0.9) && !Input::HandlingDamage.at_end(0.01));
        assert!(!Input::Life.at_end(5.0) && !Input::FailureCost.at_end(-1.0));
    }
}
