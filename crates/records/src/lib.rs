//! Seal records: readers, findings, decision log, observations.
//!
//! [`load`] turns a study file or a bare table into [`Records`]; [`ask`] turns records and a
//! [`Question`] into an [`Answer`] of observations by group. What is wrong with single rows is
//! collected as [`Finding`]s, what was assumed as [`Decision`]s; rows read are always rows used
//! plus rows set aside.

mod ages;
mod ask;
mod ask_life;
mod ask_seals;
mod asset;
mod cells;
mod checks;
mod columns;
mod costs;
mod date_column;
mod date_text;
pub mod dates;
mod decision;
mod error;
mod fields;
mod finding;
mod fleet;
pub mod histories;
pub mod history;
mod inspection;
mod keys;
mod life;
mod life_row;
mod load;
mod looks;
mod modes;
mod notes;
pub mod observation;
mod read;
mod seal;
pub mod study;
mod study_check;
mod survey;
mod table;
mod timeline;
pub mod words;
pub mod write;

pub use ask::{Answer, Group, Question, Running, ask};
pub use asset::Asset;
pub use decision::Decision;
pub use error::Error;
pub use finding::{Finding, SetAside, Severity};
pub use inspection::Inspection;
pub use keys::NONE;
pub use life::Life;
pub use load::{Form, LoadOptions, Progress, ProgressHook, Records, load};
pub use modes::modes;
pub use observation::{Clock, Observation, Sample, Seen, Tally};
pub use seal::Seal;
pub use study::Study;
pub use table::Source;
