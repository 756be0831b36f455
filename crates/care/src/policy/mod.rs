//! Care policies as values. The evaluator holds formulas for them; the simulators only ask `next`.

mod care;
mod looks;
mod replacement;

pub use care::{CareAction, CarePolicy, OnFinding, Opening, Turn};
pub use looks::Looks;
pub use replacement::{Action, Policy, State};
