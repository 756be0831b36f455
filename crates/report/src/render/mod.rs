//! One renderer a file format, all over the same document.

pub mod csv;
pub mod html;
pub mod json;
