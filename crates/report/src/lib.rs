//! Figures, words and self-contained reports.
//!
//! A report is plain data first: a [`document::Document`] holds sections,
//! sentences, tables and [`chart::Chart`]s, and knows no file format. Each
//! renderer turns the same document into one format; [`folder`] writes the
//! whole result at once or not at all.
//!
//! # Units
//!
//! Unless an item says otherwise, numbers of documents ([`wire`]), of the analyses behind them ([`analysis`]) and of the
//! figures and tables drawn from them ([`story`]) are in these units:
//!
//! - Ages, lives, times between looks, turns and openings are in the clock's unit, which stands in the document as `unit`
//!   (days where no unit stands there); rates are per that unit, money `_per_year` per 365.25 days.
//! - Money is in the currency of the study; time down is in hours where the name says so.
//! - Shares, chances, levels of confidence, p-values and availabilities lie between 0 and 1. Ratios are pure numbers.
//! - Temperatures are in °C and differences of them in kelvin; activation energies in eV or kJ/mol, as the name says.
//! - Numbers of seals, failures, looks and positions are counts, which need not be whole where they are expected or rows
//!   stand for several seals.
//! - `lower` and `upper` are the ends of the two-sided interval at the document's `confidence`, in the estimate's unit.
//! - `None`, written as `null`, is a number that there is not; why stands in the `reason` beside it.
//!
//! [`number`] alone rounds and words them. Estimates, intervals and decisions come from `sealspan_life` and
//! `sealspan_care`: their formulas and sources stand there, those of what is worked out here at the item.
//!
//! ```
//! use sealspan_care::{calendar::Calendar, costs::Costs, plan::Request};
//! use sealspan_life::laws;
//! use sealspan_records::{Clock, LoadOptions, Question, ask, load};
//! use sealspan_report::analysis::planned::plans_of;
//! use sealspan_report::analysis::plans::{Evidence, Facts, whole};
//! use sealspan_report::analysis::run::{RunOptions, run, stocked};
//! use sealspan_report::analysis::{lives::groups, prices, screen::screen};
//! use sealspan_report::story::due::seals;
//! use sealspan_report::story::{decision, interval_sheet, lead, own_ages, place_money, story, tables};
//! use sealspan_report::wire::{budget::budget, care::PlanQuestion, stock::{PlaceStock, frontier, hold_words}};
//! use sealspan_report::xlsx::workbook;
//! use std::fmt::Write as _;
//! # let folder = std::env::temp_dir().join(format!("sealspan-doc-study-{}", std::process::id()));
//! # std::fs::create_dir_all(&folder)?;
//! # let study = r#"
//! # title = "Doors (invented)"
//! # invented = true
//! # currency = "EUR"
//! # records_from = "2020-01-01"
//! # cut_off = "2023-12-31"
//! # [files]
//! # seals = "seals.csv"
//! # assets = "assets.csv"
//! # [costs]
//! # seal_price = 40.0
//! # fitting_labour = 60.0
//! # planned_hours = 1.0
//! # failure_hours = 9.0
//! # downtime_cost_per_hour = 250.0
//! # [stock]
//! # lead_time_days = 30.0
//! # carrying_rate_per_year = 0.25
//! # [forecast]
//! # horizon_days = 365.0
//! # "#;
//! # std::fs::write(folder.join("study.toml"), study)?;
//! let mut rows = "seal,asset,position,material,fitted,removed,outcome\n".to_owned();
//! let mut assets = "asset,site\n".to_owned();
//! let (start, end) = (jiff::civil::date(2020, 1, 1), jiff::civil::date(2023, 12, 31));
//! for tank in 0..6_i32 {
//!     writeln!(assets, "tank {tank},{}", if tank < 3 { "north" } else { "south" })?;
//!     let (mut fitted, mut seal) = (start, 0);
//!     loop {
//!         let life = 200 + 60 * ((3 * tank + 5 * seal) % 8); // 200 to 620 days, invented
//!         let off = fitted + jiff::Span::new().days(life);
//!         let name = format!("{tank}-{seal}");
//!         if off > end {
//!             writeln!(rows, "{name},tank {tank},door,EPDM,{fitted},,in_service")?;
//!             break;
//!         }
//!         writeln!(rows, "{name},tank {tank},door,EPDM,{fitted},{off},failed")?;
//!         (fitted, seal) = (off, seal + 1);
//!     }
//! }
//! # std::fs::write(folder.join("seals.csv"), rows)?;
//! # std::fs::write(folder.join("assets.csv"), assets)?;
//! let records = load(&folder.join("study.toml"), &LoadOptions::default())?;
//! let results = run(&records, RunOptions { confidence: None, seed: 1 })?;
//! assert_eq!((results.title.as_str(), results.unit), ("Doors (invented)", "days"));
//! let report = story(&results, vec![]);
//! assert_eq!((report.pages.len(), report.invented), (4, true));
//! assert_eq!(lead(&results), report.lead);
//! assert!(tables(&results).iter().all(|t| t.rows.iter().all(|r| r.len() == t.columns.len())));
//! for sheet in [decision(&results, &[]), interval_sheet(&results, &[])] {
//!     assert_eq!(sheet.pages.len(), 1);
//! }
//!
//! let due = results.due.found().unwrap();
//! let first = seals(due, 4, true).unwrap();
//! assert_eq!((first.rows.len(), due.seals.len()), (4, 6)); // a seal on each tank
//! let money = results.money.found().unwrap();
//! assert_eq!(place_money::places(money).unwrap().rows.len(), 2); // north and south
//! assert_eq!(place_money::contradicted(money), None); // ten failures at each
//! assert!(own_ages::duties(money).is_none()); // no duty is recorded
//! assert_eq!(own_ages::duties_sentence(money), None);
//! assert!(workbook(money, &records.study)?.starts_with(b"PK")); // a ZIP archive
//!
//! let shelves = &results.stock.found().unwrap().places;
//! let curve = frontier(shelves);
//! assert_eq!((curve[0].investment, curve[1].investment), (0.0, 40.0)); // one seal more
//! assert_eq!(budget(shelves, 100.0, None)?.spent, 80.0); // two seals, and 20 left over
//! let best = shelves[0].answer.best.as_ref().unwrap();
//! assert_eq!(hold_words(best), best.level.stock.to_string()); // re-ordered one by one
//!
//! // The same answers one by one, as the commands ask for them.
//! let question = Question { clock: Clock::Days, ..Question::default() };
//! let [weibull, ..] = laws::all();
//! let lives = groups(&ask(&records, &question)?, weibull, 1);
//! let costs = Costs::new(prices::replacement(&records.study), Clock::Days)?;
//! let plans = plans_of(&records, &question, &lives, &costs, Request::default(), 1);
//! let plan = plans[0].block.as_ref().unwrap().plan.as_ref().unwrap();
//! assert_eq!(plan.stages, "one_stage"); // no look is recorded
//! let facts = Facts {
//!     detection: None,
//!     handling_damage: 0.0,
//!     hidden: false,
//!     severities: vec![],
//!     one_stage: None,
//!     measured: None,
//!     calendar: Calendar::Months,
//!     shortest: None,
//!     price_range: 0.3,
//! };
//! let evidence = Evidence::read(&records, &[], Clock::Days, &facts);
//! let asked = PlanQuestion {
//!     costs: &costs,
//!     handling: prices::handling(&records.study),
//!     request: Request::default(),
//!     confidence: 0.9,
//!     seed: 1,
//!     block: false,
//!     opportunity_every: None,
//!     horizon: None,
//!     stop_gap: None,
//!     currency: "EUR".to_owned(),
//! };
//! let one = whole(&lives[0], &evidence, &facts, &asked)?;
//! // Seven months of 365.25/12 days: the step next to the best age off the calendar.
//! let (month, age) = (365.25 / 12.0, one.recommended.replace_at.unwrap());
//! assert_eq!(age, 7.0 * month);
//! assert!((age - one.replace.age.unwrap()).abs() < 0.5 * month);
//! assert_eq!(plans[0].block.as_ref().unwrap().recommended.replace_at, Some(age));
//! let stock = stocked((&records, &question), &lives, (Ok(&costs), &records.study), &plans)?;
//! let held = |place: &PlaceStock| place.answer.best.as_ref().map(|b| b.level.stock);
//! let both: Vec<_> = stock.places.iter().map(held).collect();
//! assert_eq!(both, shelves.iter().map(held).collect::<Vec<_>>()); // as in the report
//! let (found, _) = screen(&records, &question, weibull, 0.9).unwrap();
//! assert_eq!((found.adjusted_for, found.looks), (vec!["site".to_owned()], 0)); // nothing else is recorded
//! // Lives are of one range at both sites.
//! assert!(own_ages::sites(money).is_none());
//! assert!(own_ages::sites_sentence(money).unwrap().contains("at none would an age of its own surely cost less"));
//! # std::fs::remove_dir_all(&folder)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod analysis;
pub mod cautions;
pub mod chart;
pub mod column;
pub mod document;
pub mod error;
pub mod figures;
pub mod folder;
pub mod number;
pub mod render;
pub mod scale;
pub mod story;
pub mod visible;
pub mod wire;
pub mod xlsx;

pub use error::{Error, Result};
