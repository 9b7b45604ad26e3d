//! Exact inference on the net: from findings to posteriors.
//!
//! Takes a [`Net`](crate::graph::net::Net) and [`Evidence`], gives the posterior of every variable,
//! the probability of the evidence, and look-ahead figures for the advice. It knows no names, asks
//! no questions and never assumes that only one fault is present.
//!
//! # Method, and why
//!
//! 1. **Relevance.** Only what is answered, asked about, or above one of these takes part
//!    (`relevance`). A workshop net of 1,300 variables shrinks to what bears on the case.
//! 2. **Gates as hidden bits.** A noisy-OR over many parents is never written as a table. Each gate
//!    is a sum of two products, and a hidden bit says which one is meant (`gates`; Díez and Galán
//!    2003, Takikawa and D'Ambrosio 1999). Certain "no" answers cost nothing (Jaakkola and Jordan
//!    1999).
//! 3. **Elimination.** Least degree, then least fill (`order`); one forward pass, and one reverse
//!    sweep that gives all marginals at once (`eliminate`). Quickscore (Heckerman 1989) would be
//!    shorter, but its alternating sum is lost to rounding from about ten positive findings on.
//! 4. **Arithmetic.** What is shown is computed in double-double and compared with a plain `f64` run;
//!    if the two part company, or a number is extreme, the case is redone without hidden bits, as
//!    chains of noisy steps with nothing to cancel and exponents that cannot run out (`number`).
//!    Look-ahead uses `f64`.
//! 5. **Yes and no.** Whether findings can be true together at all is decided by logic, not by a
//!    small number (`logic`), and the smallest clashing set is named (`clash`).
//! 6. **Too tangled.** The work is known before it starts. Above the limit, the tangled part is split
//!    by cases in best-first order as far as the limit allows, answers that tangle an open case are
//!    replaced by bounds that touch one parent at a time (`relax`), and every variable gets bounds
//!    that hold for certain and close in with effort (`bounds`; in the manner of Henrion, arXiv
//!    1303.5721, Poole 1993, and Jaakkola and Jordan 1999).
//!
//! [`enumerate()`] is the yardstick: brute force over every state of a small net.

mod bounds;
mod clash;
mod eliminate;
mod enumerate;
mod evidence;
mod explanation;
mod gates;
mod logic;
mod number;
mod order;
mod posterior;
mod relax;
mod relevance;
mod sweep;
mod terms;
mod variations;
mod weight;

pub use enumerate::{ENUMERATION_LIMIT, enumerate};
pub use evidence::{Evidence, Finding};
pub use explanation::Explanation;
pub use posterior::{Engine, Limits, Posterior, Spread, Work};
pub use sweep::{Glance, Pairwise, Prepared};
pub use weight::Weight;

/// Why there is no posterior.
#[derive(Clone, PartialEq, Debug, thiserror::Error)]
pub enum Trouble {
    /// The findings at these positions (ascending, counted from 0) cannot be true together.
    #[error("{} of the answers cannot be true together", .findings.len())]
    Clash {
        /// The smallest such set; with very many findings, a set none of which can be spared.
        findings: Vec<usize>,
    },
    /// A finding speaks of a variable that is not in the net.
    #[error("answer {finding} speaks of something that is not in the net")]
    UnknownVariable {
        /// Position of the finding.
        finding: usize,
    },
    /// A question was asked about a variable that is not in the net.
    #[error("there is no variable {} in the net", .var.0)]
    UnknownTarget {
        /// The variable.
        var: crate::graph::net::Var,
    },
    /// A likelihood is negative, infinite or not a number.
    #[error("answer {finding} has the likelihood {value}: it must be finite and not negative")]
    NotALikelihood {
        /// Position of the finding.
        finding: usize,
        /// The likelihood.
        value: f64,
    },
    /// Look-ahead only: an exact figure would need more work than the limit allows.
    #[error("too tangled for an exact look-ahead: {cells} cells needed")]
    TooTangled {
        /// Cells an exact figure would need, as far as they were counted.
        cells: u64,
    },
    /// Brute force only: more free variables than can be enumerated.
    #[error("{free} free variables are too many to enumerate")]
    TooMany {
        /// How many are free.
        free: usize,
    },
}
