//! Trade arithmetic: pure functions with their sources. No words, no files, no knowledge.

pub mod electrics;
pub mod home;
pub mod learn;
pub mod trend;
