//! messages
