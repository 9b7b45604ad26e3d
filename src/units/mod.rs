//! Numbers with a meaning: probabilities that are checked, measured values with their unit, money in pence.
//!
//! Takes text or bare numbers from files and people and gives checked values. Never rounds silently.

mod measure;
mod money;
mod probability;

pub use measure::{Measured, NotAMeasure, Unit};
pub use money::Pence;
pub use probability::{NotAProbability, Probability};
