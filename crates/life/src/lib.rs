//! sealspan life
