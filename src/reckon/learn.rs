//! Learning from outcomes by counting.
//!
//! The book's chance of a fault in a year, p, is held as a Beta distribution with the parameters k and k/p − k: its mean is p, and it weighs as
//! much as k proved cases ([`WEIGHT`]). It is conjugate to counting (A. Gelman and others, Bayesian Data Analysis, 3rd edition 2013, 2.1): after s
//! proved repairs in n years at risk the mean is (k + s) / (k/p + n).

/// How many proved cases the book's own figure weighs. Common practice: with 2, one proved repair in the first year makes a rare fault half as
/// likely again, and five make it three and a half times as likely.
pub const WEIGHT: f64 = 2.0;

/// By what a chance changes: (k + s) / (k + n p), where `expected` is n p, the number of cases to be expected by the book.
pub fn factor(proved: usize, expected: f64) -> f64 {
    (WEIGHT + proved as f64) / (WEIGHT + expected.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_factor_is_the_mean_of_the_beta_distribution_after_counting_over_that_before() {
        for (p, proved, years) in [(0.01_f64, 1_usize, 1.0_f64), (0.2, 0, 7.0), (0.03, 4, 10.0)] {
            let (a, b) = (WEIGHT, WEIGHT / p - WEIGHT);
            let after = (a + proved as f64) / (a + b + years);
            assert!((factor(proved, years * p) - after / (a / (a + b))).abs() < 1e-12);
        }
    }

    #[test]
    fn what_was_to_be_expected_changes_nothing_and_more_or_less_does() {
        assert!((factor(3, 3.0) - 1.0).abs() < 1e-12);
        assert!(factor(1, 0.01) > 1.49 && factor(1, 0.01) < 1.5);
        assert!(factor(0, 1.0) < 1.0);
    }
}
