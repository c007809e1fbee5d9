//! What takes several runs of one test.
