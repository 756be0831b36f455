//! The checks live in the folders beside this one; this crate has no code of its own.
