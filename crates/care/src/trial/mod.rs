//! Trials planned ahead: how many seals for how long show a life, or tell two materials apart.

pub mod apart;
pub mod show;
