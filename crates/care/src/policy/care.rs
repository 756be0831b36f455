//! A whole care policy: look, turn, replace, and what to do on a finding.

use super::looks::{Looks, SAME_AGE, multiple_after};
use crate::error::{Error, Result, not_negative, positive};

/// Turning: the seal is taken off cold and refitted `by` sectors further round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Age between turns, units of the clock.
    pub every: f64,
    /// Sectors it moves each time; 1 is a quarter turn on a ring of four.
    pub by: usize,
}

/// What is done with a seal found worn. A failed one is always replaced.
///
/// ```
/// use sealspan_care::{evaluate::evaluate, policy::{CarePolicy, OnFinding}, seal::Seal, terms::{Event, Terms}};
/// use sealspan_life::life::Life;
/// // Findings that are left: all seals run to failure, 300 + 60 days on average at 900 each.
/// let seal = Seal::two_stage(Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
/// let terms = Terms { failed: Event { money: 900.0, down: 0.0 }, ..Terms::default() };
/// let left = CarePolicy { on_finding: OnFinding::Leave, ..CarePolicy::inspect_every(30.0) };
/// assert!((evaluate(&seal, &left, &terms)?.cost_rate - 900.0 / 360.0).abs() < 1e-7);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OnFinding {
    /// Replace it there and then.
    #[default]
    Replace,
    /// Note it and let it run on.
    Leave,
}

/// What a policy says to do about one position, from the fitting of a seal to its removal. Ages are
/// ages in service, in units of the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct CarePolicy {
    /// When the seal is looked at.
    pub looks: Looks,
    /// How often it is turned.
    pub turn: Option<Turn>,
    /// Age at which it is replaced whatever its state.
    pub replace_at: Option<f64>,
    /// What follows a finding.
    pub on_finding: OnFinding,
    /// Where looks measure a property: replaced when it reads at most this far from its functional limit, on the scale
    /// of its paths; the reading has an error, so a negative distance can be asked for too.
    pub replace_within: Option<f64>,
    /// Age from which it is replaced whenever the asset is open anyway.
    pub opportunity_from: Option<f64>,
}

/// The equipment is opened to look at the seal, to turn it, or both at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Opening {
    /// Age of the seal.
    pub age: f64,
    /// It is looked at.
    pub look: bool,
    /// It is turned by this many sectors; 0 is not at all.
    pub turn: usize,
}

/// What is to be done next with a seal in service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CareAction {
    /// Let it run.
    Run,
    /// Open the equipment.
    Open(Opening),
    /// Replace it at this age.
    ReplaceAt(f64),
}

impl CarePolicy {
    /// Replace on failure only.
    #[must_use]
    pub fn run_to_failure() -> Self {
        Self {
            looks: Looks::Never,
            turn: None,
            replace_at: None,
            on_finding: OnFinding::Replace,
            replace_within: None,
            opportunity_from: None,
        }
    }

    /// Replace on failure or at this age.
    #[must_use]
    pub fn replace_at(age: f64) -> Self {
        Self {
            replace_at: Some(age),
            ..Self::run_to_failure()
        }
    }

    /// Look at every multiple of `step`, and replace what is found.
    #[must_use]
    pub fn inspect_every(step: f64) -> Self {
        Self {
            looks: Looks::Every(step),
            ..Self::run_to_failure()
        }
    }

    /// Turn by one sector at every multiple of `step`.
    #[must_use]
    pub fn turn_every(step: f64) -> Self {
        Self {
            turn: Some(Turn { every: step, by: 1 }),
            ..Self::run_to_failure()
        }
    }

    /// Checked ages and steps, given back unchanged.
    ///
    /// # Errors
    /// When a step or age is not a finite number above zero, or a turn moves by no sector.
    ///
    /// ```
    /// use sealspan_care::policy::CarePolicy;
    /// assert!(CarePolicy::replace_at(300.0).checked().is_ok());
    /// assert!(CarePolicy::inspect_every(0.0).checked().is_err());
    /// ```
    pub fn checked(self) -> Result<Self> {
        let looks = self.looks.checked()?;
        if let Some(turn) = self.turn {
            positive("the time between turns", turn.every)?;
            if turn.by == 0 {
                return Err(Error::input(
                    "the sectors turned",
                    0,
                    "turn by one sector or more",
                ));
            }
        }
        if let Some(age) = self.replace_at {
            positive("the replacement age", age)?;
        }
        if let Some(within) = self.replace_within.filter(|w| !w.is_finite()) {
            return Err(Error::input(
                "the measured limit",
                within,
                "give a finite number",
            ));
        }
        if let Some(age) = self.opportunity_from {
            not_negative("the age for opportunities", age)?;
        }
        Ok(Self { looks, ..self })
    }

    /// The next thing to do for a seal that has reached `age` in service and is sound or not known to
    /// be otherwise. A look and a turn due together are one opening; what would be due at the
    /// replacement age itself is left out.
    ///
    /// ```
    /// use sealspan_care::policy::{CareAction, CarePolicy, Opening, Turn};
    /// let policy = CarePolicy {
    ///     turn: Some(Turn { every: 120.0, by: 1 }),
    ///     replace_at: Some(200.0),
    ///     ..CarePolicy::inspect_every(60.0)
    /// };
    /// assert_eq!(policy.next(0.0), CareAction::Open(Opening { age: 60.0, look: true, turn: 0 }));
    /// assert_eq!(policy.next(60.0), CareAction::Open(Opening { age: 120.0, look: true, turn: 1 }));
    /// assert_eq!(policy.next(180.0), CareAction::ReplaceAt(200.0));
    /// assert_eq!(CarePolicy::replace_at(200.0).next(0.0), CareAction::ReplaceAt(200.0));
    /// assert_eq!(CarePolicy::turn_every(120.0).next(0.0), CareAction::Open(Opening { age: 120.0, look: false, turn: 1 }));
    /// ```
    #[must_use]
    pub fn next(&self, age: f64) -> CareAction {
        let look = self.looks.after(age);
        let turn = self.turn.map(|turn| multiple_after(turn.every, age));
        let first = look.into_iter().chain(turn).fold(f64::INFINITY, f64::min);
        if let Some(end) = self.replace_at
            && first * (1.0 + SAME_AGE) >= end
        {
            return CareAction::ReplaceAt(end.max(age));
        }
        let due = |at: Option<f64>| at.is_some_and(|at| at <= first * (1.0 + SAME_AGE));
        if first.is_infinite() {
            return CareAction::Run;
        }
        CareAction::Open(Opening {
            age: first,
            look: due(look),
            turn: self.turn.filter(|_| due(turn)).map_or(0, |turn| turn.by),
        })
    }

    /// Whether a seal of this age is replaced when the asset is open anyway.
    #[must_use]
    pub(crate) fn takes_opportunity(&self, age: f64) -> bool {
        self.opportunity_from.is_some_and(|from| age >= from)
    }
}
