//! sealspan care
