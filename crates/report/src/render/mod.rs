//! One renderer a file format, all over the same document.

pub mod csv;
mod direction;
pub mod html;
