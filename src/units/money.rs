//! Money, in whole pence, so that sums are exact.

use std::fmt;

use serde::{Deserialize, Serialize};

/// An amount of money in pence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Pence(pub i64);

impl Pence {
    /// From pounds; an amount that is not finite, or beyond a thousand million pounds, is brought to the nearest that is.
    pub fn from_pounds(pounds: f64) -> Self {
        let pence = (pounds * 100.0).round();
        Pence(if pence.is_nan() { 0 } else { pence.clamp(-1e11, 1e11) as i64 })
    }

    /// In pounds.
    pub fn pounds(self) -> f64 {
        self.0 as f64 / 100.0
    }

    /// The sum, held at the largest amount there is.
    #[must_use]
    pub fn plus(self, other: Pence) -> Pence {
        Pence(self.0.saturating_add(other.0))
    }
}

impl fmt::Display for Pence {
    /// `£3.50`; whole pounds without pence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (pounds, pence) = (self.0.unsigned_abs() / 100, self.0.unsigned_abs() % 100);
        if pence == 0 { write!(f, "{sign}£{pounds}") } else { write!(f, "{sign}£{pounds}.{pence:02}") }
    }
}

#[cfg(test)]
mod tests {
    use super::Pence;

    #[test]
    fn pounds_and_pence_read_as_money() {
        assert_eq!(Pence::from_pounds(3.5).to_string(), "£3.50");
        assert_eq!(Pence::from_pounds(12.0).to_string(), "£12");
        assert_eq!(Pence(-5).to_string(), "-£0.05");
        assert_eq!(Pence::from_pounds(f64::NAN), Pence(0));
    }
}
