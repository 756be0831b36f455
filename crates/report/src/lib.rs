//! sealspan report
