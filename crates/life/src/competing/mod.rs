//! Competing failure modes: each life ends by one mode, and the others are then never seen.

pub mod between_looks;
pub mod draws;
pub mod gray;
pub mod incidence;
pub mod life;
pub mod removals;
pub mod rows;

/// The caution that goes with every answer that treats modes as independent (Tsiatis 1975, Proc. Natl.
/// Acad. Sci. USA 72:20-22, from memory).
pub const INDEPENDENCE: &str = "The failure modes are taken as independent: a seal that ended by one mode would have gone on towards the others like any other seal of its age. No life data can show whether that is so (Tsiatis 1975); where one mode hastens or spares another, the life with a mode removed is wrong.";
