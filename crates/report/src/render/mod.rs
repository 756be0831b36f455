//! One renderer a file format, all over the same document.

mod content;
pub mod csv;
pub mod html;
