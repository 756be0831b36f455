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
//!
//! Three seals of one invented door, and the two looks at them:
//!
//! ```
//! use sealspan_records::histories::{HistoryQuestion, histories};
//! use sealspan_records::positions::{PositionsQuestion, not_more_than_numbered, positions};
//! use sealspan_records::practice::{practice, practice_since};
//! use sealspan_records::words::Outcome;
//! use sealspan_records::{Clock, LoadOptions, load, measured};
//! # let folder = std::env::temp_dir().join(format!("sealspan-doc-door-{}", std::process::id()));
//! # std::fs::create_dir_all(&folder)?;
//! # let study = "records_from = \"2023-01-01\"\ncut_off = \"2023-12-31\"\n[files]\nseals = \"seals.csv\"\ninspections = \"looks.csv\"\n[question]\nsectors = 4\n";
//! # std::fs::write(folder.join("study.toml"), study)?;
//! let seals = "seal,asset,position,fitted,removed,outcome\n\
//!              a,tank,door,2023-01-01,2023-04-11,failed\n\
//!              b,tank,door,2023-04-11,2023-10-28,preventive\n\
//!              c,tank,door,2023-10-28,,in_service\n";
//! let looks = "seal,date,finding,thickness_mm\n\
//!              a,2023-02-20,sound,7.5\n\
//!              b,2023-07-20,sound,7.0\n";
//! # std::fs::write(folder.join("seals.csv"), seals)?;
//! # std::fs::write(folder.join("looks.csv"), looks)?;
//! let records = load(&folder.join("study.toml"), &LoadOptions::default())?;
//! assert_eq!(Clock::Days.unit(), "days");
//!
//! let watched = histories(&records, &HistoryQuestion::default())?;
//! assert_eq!((watched.groups[0].histories.len(), watched.looks.sound), (3, 2));
//! assert_eq!(watched.groups[0].histories[1].looks(), [100.0]); // 11 April to 20 July
//!
//! let question = PositionsQuestion {
//!     clock: Clock::Days,
//!     counted: vec![Outcome::Failed],
//!     mechanism: None,
//!     by: vec![],
//!     like: vec![],
//!     sectors: 4,
//! };
//! let doors = positions(&records, &question)?;
//! assert_eq!((doors.list.len(), doors.list[0].removals[0].time), (1, 100.0));
//! assert_eq!(doors.list[0].uncounted[&Outcome::Preventive], 1);
//! assert!(not_more_than_numbered(&records, 4).is_ok());
//! assert!(not_more_than_numbered(&records, 5).is_err()); // the study states 4
//!
//! let whole = &practice(&records, &[], Clock::Days)?[0].sites[0];
//! assert_eq!((whole.seals, whole.looks, whole.ended_so(Outcome::Failed)), (3, 2, 1));
//! let since = Some(jiff::civil::date(2023, 7, 1));
//! let later = &practice_since(&records, &[], Clock::Days, since)?[0].sites[0];
//! assert_eq!((later.looks, later.ended_so(Outcome::Failed)), (1, 0));
//!
//! let thickness = measured(&records, "thickness_mm", Clock::Days, &[])?;
//! assert_eq!(thickness.seals[0].points, [(50.0, 7.5)]); // 1 January to 20 February
//! # std::fs::remove_dir_all(&folder)?;
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
pub use read::decoding;
pub use seal::{Seal, UNKNOWN_MATERIAL};
pub use sheet::Sheet;
pub use study::Study;
pub use table::Source;
