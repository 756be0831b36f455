//! sealspan cli
