//! One renderer a file format, all over the same document.
//!
//! ```
//! use sealspan_report::chart::{Axis, Chart, Layer, Stroke};
//! use sealspan_report::document::{Block, DataTable, Document, Page};
//! use sealspan_report::figures::{Look, png, svg};
//! use sealspan_report::render::{html::html, notebook::notebook, parquet::parquet, pdf::one_page};
//! let chart = Chart {
//!     id: "life".into(),
//!     title: "Half are sound at 5 days".into(),
//!     alt: "A falling line.".into(),
//!     x: Axis::linear("age", "days"),
//!     y: Axis::linear("share sound", ""),
//!     layers: vec![Layer::Line {
//!         name: "sound".into(),
//!         points: vec![(0.0, 1.0), (10.0, 0.0)],
//!         stroke: Stroke::group(0),
//!         label: None,
//!     }],
//!     at_risk: None,
//!     notes: vec![],
//! };
//! let drawing = svg(&chart, &Look::alone())?;
//! assert!(drawing.starts_with("<svg") && drawing.contains("Half are sound"));
//! let picture = png(&drawing, 2.0)?;
//! assert_eq!(picture[..8], *b"\x89PNG\r\n\x1a\n"); // the format's signature
//! assert_eq!(picture[16..20], 1200_u32.to_be_bytes()); // its width: 600 units, 2 pixels each
//!
//! let sheet = Document {
//!     title: "Doors <invented>".into(),
//!     lead: vec![],
//!     about: "Two seals.".into(),
//!     invented: true,
//!     pages: vec![Page {
//!         id: "doors".into(),
//!         title: "Doors".into(),
//!         reader: "For anyone.".into(),
//!         blocks: vec![Block::Figure(Box::new(chart))],
//!     }],
//!     stamp: vec![],
//! };
//! let page = html(&sheet)?;
//! assert!(page.contains("Doors &lt;invented&gt;") && !page.contains("<invented>"));
//! assert!(one_page(&sheet)?.starts_with(b"%PDF-"));
//! let cells = notebook(&sheet, &[], |_| Some(picture.clone()))?;
//! let cells: serde_json::Value = serde_json::from_slice(&cells)?;
//! assert_eq!(cells["nbformat"], 4);
//!
//! let table = DataTable {
//!     name: "lives".into(),
//!     columns: vec!["age (days)".into()],
//!     rows: vec![vec![512.5.into()]],
//! };
//! let bytes = parquet(&table)?;
//! assert!(bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod content;
pub mod csv;
pub mod html;
pub mod json;
pub mod markdown;
pub mod notebook;
pub mod parquet;
pub mod pdf;
