//! What a seal is like apart from any policy: how it goes, what of that can be seen, what handling does.

mod paths;
mod ring;

pub(crate) use paths::above;
pub(crate) use ring::{RingState, weibull};

pub use paths::Paths;
pub use ring::Ring;

use crate::error::{Error, Result, not_negative, positive};
use sealspan_life::life::Life;

/// The first thing that happens to a seal: failure itself, or in two stages the defect before it.
#[derive(Debug, Clone)]
pub enum Onset {
    /// An age with a law.
    Law(Life),
    /// The first sector of a ring to go.
    Ring(Ring),
    /// A measured property at its functional limit.
    Measured(Paths),
}

/// How a lost function shows itself.
///
/// ```
/// use sealspan_care::{evaluate::evaluate, policy::CarePolicy, seal::{FailureSign, Seal}, terms::Terms};
/// use sealspan_life::life::Life;
/// // Looked at every 50: found at the first look after failure, on average at 50/(1 − e^(−50/100)).
/// let life = Life::exponential(100.0).unwrap();
/// let seal = Seal { failure: FailureSign::Hidden, ..Seal::one_stage(life) };
/// let outcome = evaluate(&seal, &CarePolicy::inspect_every(50.0), &Terms::default())?;
/// let cycle = 50.0 / (1.0 - (-0.5f64).exp());
/// assert!((outcome.mean_cycle - cycle).abs() < 1e-6);
/// assert!((outcome.undetected_time - (cycle - 100.0)).abs() < 1e-6);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FailureSign {
    /// At once: it leaks, the vacuum goes.
    #[default]
    Evident,
    /// At an inspection or leak test only.
    Hidden,
}

/// A seal in its place. Plain values: cheap to make for each draw of an estimate.
///
/// In one stage it is sound until it fails. In two stages (delay-time model, Christer & Waller 1984,
/// from memory) a defect appears at the onset and failure follows after a delay; a look can find the
/// defect in between.
///
/// ```
/// use sealspan_care::seal::Seal;
/// use sealspan_life::life::Life;
/// let life = Life::weibull(2.0, 400.0).unwrap();
/// let seal = Seal::one_stage(life.clone()).with_severities(&[2.0, 1.0, 1.0, 1.0])?;
/// assert_eq!(seal.ring().unwrap().sectors(), 4);
/// // The law given is that of the seal never turned.
/// assert!((seal.law()?.survival(100.0) - life.survival(100.0)).abs() < 1e-12);
/// assert!(Seal { detection: 1.5, ..seal }.checked().is_err());
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Seal {
    /// Age at the first event.
    pub onset: Onset,
    /// Delay from a visible defect to failure; `None` when nothing is seen before failure.
    pub delay: Option<Life>,
    /// Chance that a look notices what is there, a defect or a hidden failure.
    pub detection: f64,
    /// Chance that an opening (look, turn or both) spoils the seal, which is noticed at once.
    pub handling_damage: f64,
    /// How failure shows.
    pub failure: FailureSign,
    /// Times per unit of the clock that the asset is opened for other reasons (Poisson).
    pub opportunity_rate: f64,
}

impl Seal {
    /// Fails without warning after `life`; evident, handled without harm.
    #[must_use]
    pub fn one_stage(life: Life) -> Self {
        Self {
            onset: Onset::Law(life),
            delay: None,
            detection: 1.0,
            handling_damage: 0.0,
            failure: FailureSign::Evident,
            opportunity_rate: 0.0,
        }
    }

    /// Goes defective at the age `defect`, and fails after `delay` more.
    #[must_use]
    pub fn two_stage(defect: Life, delay: Life) -> Self {
        Self {
            delay: Some(delay),
            ..Self::one_stage(defect)
        }
    }

    /// Fails when a measured property reaches its functional limit; each look measures it.
    #[must_use]
    pub fn measured(paths: Paths) -> Self {
        Self {
            onset: Onset::Measured(paths),
            delay: None,
            detection: 1.0,
            handling_damage: 0.0,
            failure: FailureSign::Evident,
            opportunity_rate: 0.0,
        }
    }

    /// The same seal on a frame whose sectors wear at these relative rates. The law of the onset is
    /// that of a seal never turned.
    ///
    /// # Errors
    /// When the onset is not Weibull or exponential, or a severity is out of range.
    pub fn with_severities(self, severities: &[f64]) -> Result<Self> {
        let onset = match &self.onset {
            Onset::Law(life) => Onset::Ring(Ring::new(life, severities)?),
            Onset::Ring(ring) => Onset::Ring(Ring::new(&ring.never_turned()?, severities)?),
            Onset::Measured(_) => return Err(Error::no_answer(NO_LAW)),
        };
        Ok(Self { onset, ..self })
    }

    /// The same seal where onsets come `rate` times as fast at every age (proportional hazards, survival S^rate): a
    /// place's own rate.
    ///
    /// # Errors
    /// When the onset is not Weibull or exponential, or the rate is not above zero.
    ///
    /// ```
    /// use sealspan_care::seal::Seal;
    /// use sealspan_life::life::Life;
    /// let seal = Seal::one_stage(Life::weibull(2.0, 400.0).unwrap());
    /// let faster = seal.with_onset_rate(4.0)?;
    /// let left = |seal: &Seal| seal.law().unwrap().survival(100.0);
    /// assert!((left(&faster) - left(&seal).powi(4)).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn with_onset_rate(&self, rate: f64) -> Result<Self> {
        positive("the rate of onsets", rate)?;
        let law = self.law()?;
        let moved = weibull(&law)
            .and_then(|(shape, scale)| Life::weibull(shape, scale * rate.powf(-shape.recip())));
        let life = moved.ok_or_else(|| {
            Error::no_answer(format!(
                "A place's own rate is worked out for Weibull and exponential lives; this one is {}.",
                law.family()
            ))
        })?;
        let onset = match self.ring() {
            Some(ring) => Onset::Ring(Ring::new(&life, ring.severities())?),
            None => Onset::Law(life),
        };
        Ok(Self {
            onset,
            ..self.clone()
        })
    }

    /// Checked chances and rates.
    ///
    /// # Errors
    /// When the detection probability or the handling damage is out of range, or the rate of
    /// opportunities is negative.
    pub fn checked(self) -> Result<Self> {
        if !(0.0..=1.0).contains(&self.detection) {
            return Err(Error::input(
                "the detection probability",
                self.detection,
                "give a chance from 0 to 1",
            ));
        }
        if !(0.0..1.0).contains(&self.handling_damage) {
            return Err(Error::input(
                "the handling damage",
                self.handling_damage,
                "give a chance from 0 to below 1",
            ));
        }
        not_negative("the rate of opportunities", self.opportunity_rate)?;
        Ok(self)
    }

    /// The ring, if the seal is one.
    #[must_use]
    pub fn ring(&self) -> Option<&Ring> {
        match &self.onset {
            Onset::Ring(ring) => Some(ring),
            Onset::Law(_) | Onset::Measured(_) => None,
        }
    }

    /// The law of the age at the onset, never turned.
    ///
    /// # Errors
    /// For a measured property, which is worked out along its paths.
    pub fn law(&self) -> Result<Life> {
        match &self.onset {
            Onset::Law(life) => Ok(life.clone()),
            Onset::Ring(ring) => ring.never_turned(),
            Onset::Measured(_) => Err(Error::no_answer(NO_LAW)),
        }
    }
}

const NO_LAW: &str = "A measured property is worked out along its paths: it has no law of the age at failure with a finite mean.";
