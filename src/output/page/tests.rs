//! The page as a whole.
