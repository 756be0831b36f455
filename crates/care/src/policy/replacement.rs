//! Replacement by age alone: what most fleets do, and what is played quickest.

/// What a replacement policy says to do about a seal that has not failed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// Let it run until it fails.
    Run,
    /// Replace it at this age (units of the clock) if it has not failed before; now if it is older.
    ReplaceAt(f64),
}

/// A running seal, as far as a policy looks at it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Age in units of the clock.
    pub age: f64,
}

/// A policy of replacement by age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Policy {
    /// Replace on failure only.
    RunToFailure,
    /// Replace on failure, or at this age (units of the clock).
    ReplaceAtAge(f64),
}

impl Policy {
    /// The next thing to do for a seal in `state`.
    ///
    /// ```
    /// use sealspan_care::policy::{Action, Policy, State};
    /// let policy = Policy::ReplaceAtAge(300.0);
    /// assert_eq!(policy.next(State { age: 20.0 }), Action::ReplaceAt(300.0));
    /// assert_eq!(policy.next(State { age: 320.0 }), Action::ReplaceAt(320.0));
    /// ```
    #[must_use]
    pub fn next(&self, state: State) -> Action {
        match *self {
            Policy::RunToFailure => Action::Run,
            Policy::ReplaceAtAge(age) => Action::ReplaceAt(age.max(state.age)),
        }
    }
}
