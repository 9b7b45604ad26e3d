//! Whether the vehicle may be driven, as far as the findings tell. Said before anything else.

use super::Ranked;
use crate::graph::net::Var;
use crate::graph::{Fitted, What};
use crate::inference::Posterior;
use crate::knowledge::book::{Book, Node};

/// From this probability on a dangerous cause or sign is named before any step. Common practice: one chance in six is too many.
const LIKELY: f64 = 1.0 / 6.0;

/// Whether the vehicle may be driven.
#[derive(Clone, Debug, PartialEq)]
pub enum Gate {
    /// Nothing found or likely says otherwise. Not a promise.
    Open,
    /// It must not be driven, and why: the sentence of the knowledge, and how probable the cause is (1 for a sign that was seen).
    DoNotDrive {
        /// What is dangerous, in the words of the entry.
        why: String,
        /// The probability of it.
        probability: f64,
    },
}

/// Looks for the most probable danger among the ranked causes and the signs reported present.
pub fn gate(book: &Book, fitted: &Fitted, posterior: &Posterior, ranked: &[Ranked], seen: &[Var]) -> Gate {
    let mut dangers: Vec<(f64, &String)> = Vec::new();
    for var in seen {
        if let What::Entry(Node::Sign(s)) = fitted.placed(*var).what
            && let Some(why) = &book.signs.at(s).danger
        {
            dangers.push((posterior.present[var.index()].value(), why));
        }
    }
    for r in ranked {
        if let Some(f) = r.fault(fitted)
            && let Some(why) = &book.faults.at(f).danger
        {
            dangers.push((r.probability.value(), why));
        }
    }
    dangers.retain(|(p, _)| *p >= LIKELY);
    dangers.sort_by(|a, b| b.0.total_cmp(&a.0));
    match dangers.first() {
        Some((probability, why)) => Gate::DoNotDrive { why: (*why).clone(), probability: *probability },
        None => Gate::Open,
    }
}
