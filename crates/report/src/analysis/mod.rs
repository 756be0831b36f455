//! The study, worked through: records to lives, decisions and results, as pure functions.
//!
//! ```
//! use sealspan_care::calendar::Calendar;
//! use sealspan_care::plan::Choice;
//! use sealspan_life::{ageing::arrhenius::Stretch, laws};
//! use sealspan_records::histories::{HistoryQuestion, histories};
//! use sealspan_records::{LoadOptions, Question, ask, load};
//! use sealspan_report::analysis::demand::{Outlook, demands};
//! use sealspan_report::analysis::due::{Asked, Known, due, known};
//! use sealspan_report::analysis::endings::Aim;
//! use sealspan_report::analysis::futures::{World, futures};
//! use sealspan_report::analysis::intervals::{SheetQuestion, clocks, sheet, words_of_basis};
//! use sealspan_report::analysis::lives::{groups, together};
//! use sealspan_report::analysis::positions::{PositionsOptions, answer as doors};
//! use sealspan_report::analysis::{ageing, back_test::back_test, extras, outlook};
//! use sealspan_report::story::position_figures;
//! use sealspan_report::wire::{defects, forecast::ForecastQuestion};
//! let mut seals = "seal,asset,position,fitted,removed,outcome\n".to_owned();
//! let (start, end) = (jiff::civil::date(2020, 1, 1), jiff::civil::date(2023, 12, 31));
//! for tank in 0..6_i32 {
//!     let (mut fitted, mut seal) = (start, 0);
//!     loop {
//!         let life = 200 + 60 * ((3 * tank + 5 * seal) % 8); // 200 to 620 days, invented
//!         let off = fitted + jiff::Span::new().days(life);
//!         if off > end {
//!             seals += &format!("{tank}-{seal},tank {tank},door,{fitted},,in_service\n");
//!             break;
//!         }
//!         seals += &format!("{tank}-{seal},tank {tank},door,{fitted},{off},failed\n");
//!         (fitted, seal) = (off, seal + 1);
//!     }
//! }
//! # let folder = std::env::temp_dir().join(format!("sealspan-doc-analysis-{}", std::process::id()));
//! # std::fs::create_dir_all(&folder)?;
//! # let study = "records_from = \"2020-01-01\"\ncut_off = \"2023-12-31\"\n[files]\nseals = \"seals.csv\"\n";
//! # std::fs::write(folder.join("study.toml"), study)?;
//! # std::fs::write(folder.join("seals.csv"), seals)?;
//! let records = load(&folder.join("study.toml"), &LoadOptions::default())?;
//! # std::fs::remove_dir_all(&folder)?;
//! let question = Question::default();
//! let answer = ask(&records, &question)?;
//! let [weibull, ..] = laws::all();
//! let (lives, all) = (groups(&answer, weibull, 1), together(&answer, weibull, 1));
//!
//! let ahead = ForecastQuestion { horizon: 365.0, periods: 12, confidence: 0.9, with_renewals: false };
//! let forecast = outlook::document(&lives, &all, ahead, "days")?.all;
//! assert_eq!(forecast.running, 6); // a seal on each tank
//! assert!(forecast.expected > 0.0 && forecast.expected < 6.0);
//! assert!(back_test(&records, &[], weibull, 0.9, 1)?.promised >= 0.9); // counts: at least the level
//!
//! let (asked, other) = clocks(&records, &question, &answer);
//! assert_eq!((asked.len(), other.is_some()), (1, true)); // no readings
//! let stated = SheetQuestion {
//!     share: 0.1,
//!     confidence: 0.95,
//!     calendar: Calendar::default(),
//!     family: weibull,
//!     prices: None,
//!     seed: 1,
//! };
//! let intervals = sheet(&records, &asked, other, (&[], &stated));
//! assert_eq!(intervals.units, ["days"]);
//! assert_eq!(words_of_basis(&intervals.groups[0].clocks[0]), "sound till then");
//!
//! let aim = Aim { failure: 2500.0, planned: 350.0, replace: Choice::At(300.0) };
//! let (parts, left_out) = futures(&records, &question, (&lives, &[]), (weibull, aim), 1)?;
//! assert_eq!((parts.len(), left_out.len()), (1, 0));
//! let year = Outlook {
//!     months: 12,
//!     confidence: 0.9,
//!     leaving_per_year: 0.0,
//!     joining: vec![],
//!     batch_spread: 0.0,
//!     seed: 1,
//! };
//! assert_eq!(demands(&parts, World::Today, &year)?.all.running, 6.0);
//! let day = Asked { as_of: Some(end), confidence: 0.9, seed: 1 };
//! assert_eq!(due(&parts, left_out, Known::default(), &day)?.seals.len(), 6);
//!
//! let watched = doors(&records, &PositionsOptions::default())?;
//! assert_eq!((watched.positions.len(), watched.watched), (6, 6));
//! assert!(!position_figures(&watched).is_empty());
//! let (condition, positions) = known(&records, &[], 0.9, 1);
//! assert!(condition.is_none()); // nothing was measured
//! assert_eq!(positions.map(|p| p.positions.len()), Some(6));
//! assert!(extras::recorded_spread(&records, weibull, 1).is_err()); // no batches
//! let seen = histories(&records, &HistoryQuestion::default())?;
//! let options = defects::DefectOptions {
//!     defect: None,
//!     delay: None,
//!     detection: None,
//!     confidence: 0.9,
//!     every: vec![],
//!     seed: 1,
//! };
//! assert_eq!(defects::document(&seen, &options).looks.read, 0);
//!
//! let warm = [Stretch { hours: 8.0, celsius: 80.0 }, Stretch { hours: 16.0, celsius: 80.0 }];
//! let duty = ageing::stated_duty(&warm, 90.0, 0.9).and_then(|d| d.duty).unwrap();
//! assert!((duty.equivalent_c.estimate.unwrap() - 80.0).abs() < 1e-9); // one temperature
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod ageing;
mod ageing_results;
pub mod ageing_words;
pub(crate) mod alike;
pub mod back_test;
pub(crate) mod celsius;
mod compared;
pub mod condition;
mod condition_model;
pub mod demand;
pub mod detections;
mod drawn;
pub mod due;
pub mod duties;
pub mod endings;
mod endings_places;
pub(crate) mod extra_spares;
pub mod extras;
pub mod finance;
pub mod futures;
pub(crate) mod habits;
pub mod heat;
pub mod intervals;
mod intervals_defects;
mod intervals_failed;
pub(crate) mod intervals_notes;
pub mod lives;
pub mod material_for;
pub mod materials;
pub mod materials_field;
mod materials_fit;
pub mod materials_here;
mod materials_pairs;
mod materials_words;
pub mod money;
mod money_places;
pub mod money_prices;
mod money_risk;
pub(crate) mod money_split;
mod money_stock;
pub mod outlook;
mod own_ages;
mod place_factors;
mod place_rates;
pub mod planned;
pub mod plans;
pub mod positions;
pub(crate) mod practised;
pub mod prices;
pub mod run;
pub mod screen;
pub mod spares;
pub mod trial;
mod trial_apart;
pub mod what_if;
pub mod without_batches;

/// Lives drawn from each fit ([`sealspan_life::draws::lives`]) to carry its estimation error into decisions (a rule of
/// ours).
pub const DRAWS: usize = 200;
