//! One renderer a file format, all over the same document.

mod content;
pub mod csv;
pub mod html;
pub mod json;
pub mod markdown;
pub mod notebook;
pub mod parquet;
pub mod pdf;
