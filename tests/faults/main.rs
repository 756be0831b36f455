//! What goes wrong around the program, not in the records: a full disk, a folder that may not be written, a
//! process killed half-way, two runs at once, files that ask for all memory. Nothing is lost, nothing is
//! half-written, and the words are clear.
//!
//! No test here depends on how fast anything is: what must hold, holds at every moment.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod disk;
mod hostile_files;
mod killed;
mod memory;
mod places;
mod support;
mod together;
