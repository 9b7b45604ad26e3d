//! The causes of what was reported, most probable first.

use super::plan::{blame, prior};
use crate::graph::net::Var;
use crate::graph::{Fitted, What};
use crate::inference::{Posterior, Spread};
use crate::knowledge::book::{Book, Node};

/// A possible cause with its probability.
#[derive(Clone, Copy, Debug)]
pub struct Ranked {
    /// The fault's variable, or that of a cause not in the book.
    pub var: Var,
    /// Its posterior; a range where the case was too tangled.
    pub probability: Spread,
    /// Whether the complaint raised it: it is more than its prior.
    pub raised: bool,
}

/// A cause counts as raised by the complaint from this blame on.
const RAISED: f64 = 0.001;

/// Ranks every cause from which a reported sign can be reached, most probable first; ties by id and place.
///
/// A common fault keeps its prior whatever is complained of; such causes, which the complaint did not raise, come after all
/// those that it did.
pub fn rank(book: &Book, fitted: &Fitted, posterior: &Posterior, reported: &[Var]) -> Vec<Ranked> {
    let mut behind = vec![false; fitted.net.len()];
    let mut todo: Vec<Var> = reported.to_vec();
    while let Some(var) = todo.pop() {
        if !std::mem::replace(&mut behind[var.index()], true) {
            todo.extend(fitted.net.parents(var).map(|(parent, _)| parent));
        }
    }
    let mut ranked: Vec<Ranked> = fitted
        .causes()
        .filter(|v| behind[v.index()])
        .map(|var| {
            let probability = posterior.present[var.index()];
            let raised = blame(probability.value(), prior(fitted, var)) >= RAISED;
            Ranked { var, probability, raised }
        })
        .collect();
    ranked.sort_by(|a, b| {
        b.raised
            .cmp(&a.raised)
            .then_with(|| b.probability.value().total_cmp(&a.probability.value()))
            .then_with(|| fitted.id(a.var, book).cmp(&fitted.id(b.var, book)))
            .then_with(|| a.var.cmp(&b.var))
    });
    ranked
}

impl Ranked {
    /// The fault's place on the shelf, unless the cause is not in the book.
    pub fn fault(&self, fitted: &Fitted) -> Option<usize> {
        match fitted.placed(self.var).what {
            What::Entry(Node::Fault(f)) => Some(f),
            _ => None,
        }
    }
}
