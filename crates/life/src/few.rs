//! in the making
