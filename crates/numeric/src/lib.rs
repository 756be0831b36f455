//! sealspan numeric
