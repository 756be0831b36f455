//! Tests live beside this folder; this crate has no code of its own.
