//! A probability: a number from 0 to 1, checked when it is made.

use serde::{Deserialize, Serialize};

/// A number from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Probability(f64);

/// The number is not one from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{0} is not a number from 0 to 1")]
pub struct NotAProbability(pub f64);

impl TryFrom<f64> for Probability {
    type Error = NotAProbability;

    fn try_from(value: f64) -> Result<Self, NotAProbability> {
        Probability::new(value)
    }
}

impl From<Probability> for f64 {
    fn from(p: Probability) -> f64 {
        p.0
    }
}

impl Probability {
    /// Never.
    pub const NEVER: Probability = Probability(0.0);
    /// Always.
    pub const ALWAYS: Probability = Probability(1.0);

    /// Checks a number.
    ///
    /// # Errors
    /// If it is not a number, or outside 0..=1.
    pub fn new(value: f64) -> Result<Self, NotAProbability> {
        if (0.0..=1.0).contains(&value) { Ok(Probability(value)) } else { Err(NotAProbability(value)) }
    }

    /// Forces a finite computed value that strays past an end by rounding back into 0..=1; what is not a number becomes 0.
    pub fn clamped(value: f64) -> Self {
        if value.is_nan() { Probability::NEVER } else { Probability(value.clamp(0.0, 1.0)) }
    }

    /// The number, from 0 to 1.
    pub fn get(self) -> f64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::Probability;

    #[test]
    fn only_numbers_from_nought_to_one_are_probabilities() {
        for bad in [-0.1, 1.000001, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(Probability::new(bad).is_err(), "{bad}");
        }
        for good in [0.0, 1.0, 1e-320, 0.5] {
            assert_eq!(Probability::new(good).map(Probability::get), Ok(good));
        }
    }
}
