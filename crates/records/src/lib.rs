//! Seal records: readers, findings, decision log, observations.
//!
//! [`load`] turns a study file or a bare table into [`Records`]; [`ask`] turns records and a
//! [`Question`] into an [`Answer`] of observations by group. What is wrong with single rows is
//! collected as [`Finding`]s, what was assumed as [`Decision`]s; rows read are always rows used
//! plus rows set aside.
//!
//! # Units
//!
//! Unless an item says otherwise, ages and times are in the unit of the clock that the question asks for (days on the
//! calendar, else the records' own unit of usage), days of the calendar are dates, money is in the study's currency,
//! temperatures are in °C, counts are of seals, and shares and confidence lie between 0 and 1.
//!
//! ```
//! use sealspan_records::{LoadOptions, Question, ask, load, modes};
//! let path = std::env::temp_dir().join(format!("sealspan-doc-lib-{}.csv", std::process::id()));
//! let text = "time,status,site,mode\n120,failed,north,Leak\n300,running,south,\n310,running,north,\n";
//! std::fs::write(&path, text)?;
//! let records = load(&path, &LoadOptions::default())?;
//! assert_eq!((records.rows_read, records.rows_used()), (3, 3));
//! assert_eq!(records.columns(), ["status", "site", "mode"]); // to group by
//! assert_eq!(modes(&records), ["leak"]);
//!
//! let by = Question { by: vec!["site".to_owned()], ..Question::default() };
//! let answer = ask(&records, &by)?;
//! let running = answer.groups[0].running(); // of the north
//! assert_eq!((running.len(), running[0].age), (1, 310.0));
//!
//! let north = [("site".to_owned(), Some("north".to_owned()))];
//! let rows = records.rows_holding(&north).unwrap();
//! assert!(rows.words().starts_with("rows 2 and 4 of "), "{}", rows.words());
//! assert_eq!(records.place_of("site", "south").map(|p| p.row), Some(3));
//!
//! assert!(records.asset_columns().is_empty()); // plain lives name no assets
//! let none = records.seals_on("kettle 1").unwrap_err();
//! assert_eq!((none.kind(), none.is_bad_input()), ("nothing_left", false));
//! # std::fs::remove_file(&path)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![warn(clippy::indexing_slicing, clippy::string_slice)]

mod ages;
mod ask;
mod ask_life;
mod ask_seals;
mod asset;
mod cell_place;
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
pub mod lab;
mod life;
mod life_row;
mod load;
mod looks;
pub mod material_words;
pub mod materials;
mod measured;
mod measured_sheet;
mod missing;
mod modes;
mod notes;
pub mod observation;
mod own_prices;
pub mod positions;
pub mod practice;
mod read;
pub mod reduction;
mod seal;
mod sheet;
mod stream;
pub mod study;
mod study_check;
mod survey;
mod table;
mod timeline;
pub mod words;
pub mod write;

pub use ask::{Answer, Group, Question, Running, ask};
pub use asset::Asset;
pub use cell_place::{Cell, Place, RowsHeld};
pub use decision::Decision;
pub use error::Error;
pub use finding::{Finding, SetAside, Severity};
pub use inspection::Inspection;
pub use keys::NONE;
pub use life::Life;
pub use load::{Form, LoadOptions, Needs, Progress, ProgressHook, Records, load};
pub use measured::{Measured, MeasuredSeal, measured};
pub use measured_sheet::{is_measured_sheet, measured_sheet};
pub use modes::modes;
pub use observation::{Clock, Observation, Sample, Seen, Tally};
pub use seal::{Seal, UNKNOWN_MATERIAL};
pub use sheet::Sheet;
pub use study::Study;
pub use table::Source;
