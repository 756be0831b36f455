//! Seal records: readers, findings, decision log, observations.

pub mod observation;
