//! The most probable explanations: which sets of root causes, all others of them absent, best account for the evidence.
//!
//! Takes evidence and how many sets are wanted; gives them in order with their exact probabilities. Best first over partly decided sets: the
//! probability of all completions of such a set, which one elimination gives, bounds each of them from above (branch and bound; in the
//! manner of Henrion 1991, arXiv 1303.5721, with the exact sum in place of his estimate). Nothing is maximised inside the tables, whose
//! hidden bits carry signs.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::Trouble;
use super::evidence::{Evidence, Finding};
use super::posterior::{Engine, Limits, Posterior};
use super::relevance::ancestors;
use crate::graph::net::{Gate, Var};

/// Partly decided sets looked into before the search is given up.
const MOST_LOOKED_INTO: usize = 4096;

/// A set of causes and how probable it is that these, and none of the others the evidence bears on, are present.
#[derive(Clone, PartialEq, Debug)]
pub struct Explanation {
    /// The causes present, in order of variable; empty if the evidence came about without any.
    pub present: Vec<Var>,
    /// Probability of exactly this set given the evidence, from 0 to 1.
    pub probability: f64,
}

/// A partly decided set: causes settled one way or the other, and a probability that no completion exceeds.
struct Open {
    at_most: f64,
    decided: Vec<(Var, bool)>,
    whole: bool,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Open {}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        // Whole sets before parts of the same bound; then by what was decided, so that the order never depends on the heap.
        let key = self.at_most.total_cmp(&other.at_most).then(self.whole.cmp(&other.whole));
        key.then_with(|| other.decided.cmp(&self.decided))
    }
}

impl Engine<'_> {
    /// The `most` most probable sets of root causes given the evidence, best first; fewer if there are no more of any probability.
    ///
    /// Only causes the evidence bears on are spoken of: any other is as likely as before, whatever the set.
    ///
    /// # Errors
    /// As [`Engine::posterior`]; [`Trouble::TooTangled`] if an exact answer would need more than the limit.
    pub fn explanations(&self, evidence: &Evidence, most: usize, limits: &Limits) -> Result<Vec<Explanation>, Trouble> {
        let before = self.exactly(evidence, &[], &[], limits)?;
        let inside = ancestors(self.net, evidence.iter().map(|f| f.var));
        let bears = |v: &Var| inside[v.index()] && matches!(self.net.gate(*v), Gate::Root { .. });
        let roots: Vec<Var> = self.net.vars().filter(bears).collect();
        let mut heap = BinaryHeap::from([Open { at_most: 1.0, decided: Vec::new(), whole: false }]);
        let mut found: Vec<Explanation> = Vec::new();
        let mut looked_into = 0;
        while let Some(open) = heap.pop() {
            if found.len() == most || open.at_most <= 0.0 {
                break;
            }
            if open.whole {
                let mut present: Vec<Var> = open.decided.iter().filter(|d| d.1).map(|d| d.0).collect();
                present.sort_unstable();
                found.push(Explanation { present, probability: open.at_most });
                continue;
            }
            looked_into += 1;
            if looked_into > MOST_LOOKED_INTO {
                return Err(Trouble::TooTangled { cells: limits.cells });
            }
            let undecided: Vec<Var> =
                roots.iter().copied().filter(|r| open.decided.iter().all(|d| d.0 != *r)).collect();
            if undecided.is_empty() {
                if let Some(probability) = self.chance_of(evidence, &open.decided, before.ln_evidence, limits)? {
                    heap.push(Open { at_most: probability, decided: open.decided, whole: true });
                }
                continue;
            }
            let Some(now) = possible(self.exactly(evidence, &open.decided, &undecided, limits))? else { continue };
            let sum = (now.ln_evidence - before.ln_evidence).exp().min(1.0);
            let mut order: Vec<(Var, f64)> =
                undecided.iter().copied().zip(now.present.iter().map(|p| p.value())).collect();
            order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            let mut none = open.decided.clone();
            for (cause, chance) in order {
                let mut decided = none.clone();
                decided.push((cause, true));
                if chance > 0.0 {
                    heap.push(Open { at_most: sum * chance, whole: false, decided });
                }
                none.push((cause, false));
            }
            if let Some(probability) = self.chance_of(evidence, &none, before.ln_evidence, limits)? {
                heap.push(Open { at_most: probability, decided: none, whole: true });
            }
        }
        Ok(found)
    }

    /// Probability of decided causes given the evidence; none if they cannot be.
    fn chance_of(
        &self,
        evidence: &Evidence,
        decided: &[(Var, bool)],
        ln_evidence: f64,
        limits: &Limits,
    ) -> Result<Option<f64>, Trouble> {
        let now = possible(self.exactly(evidence, decided, &[], limits))?;
        Ok(now.map(|now| (now.ln_evidence - ln_evidence).exp().min(1.0)))
    }

    /// The posterior of the targets with some variables decided besides, which must be exact.
    fn exactly(
        &self,
        evidence: &Evidence,
        decided: &[(Var, bool)],
        targets: &[Var],
        limits: &Limits,
    ) -> Result<Posterior, Trouble> {
        let settled = |d: &(Var, bool)| if d.1 { Finding::seen(d.0) } else { Finding::not_seen(d.0) };
        let findings: Vec<Finding> = decided.iter().map(settled).collect();
        let posterior = self.posterior_of(&evidence.with(&findings), targets, limits)?;
        if posterior.is_exact() { Ok(posterior) } else { Err(Trouble::TooTangled { cells: limits.cells }) }
    }

    /// Joint probability of two variables given the evidence: `[both absent, only b, only a, both present]`.
    ///
    /// # Errors
    /// As [`Engine::posterior_of`]; [`Trouble::TooTangled`] if an exact answer would need more than the limit.
    pub fn joint(&self, evidence: &Evidence, a: Var, b: Var, limits: &Limits) -> Result<[f64; 4], Trouble> {
        let alone = self.exactly(evidence, &[], &[a, b], limits)?;
        let (p_a, p_b) = (alone.present[0].value(), alone.present[1].value());
        if a == b {
            return Ok([1.0 - p_a, 0.0, 0.0, p_a]);
        }
        if p_a <= 0.0 {
            return Ok([1.0 - p_b, p_b, 0.0, 0.0]);
        }
        let given = self.exactly(evidence, &[(a, true)], &[b], limits)?;
        let both = p_a * given.present[0].value();
        Ok([(1.0 - p_a - p_b + both).max(0.0), (p_b - both).max(0.0), (p_a - both).max(0.0), both])
    }
}

/// Nothing where the evidence rules out what was decided.
fn possible(posterior: Result<Posterior, Trouble>) -> Result<Option<Posterior>, Trouble> {
    match posterior {
        Ok(posterior) => Ok(Some(posterior)),
        Err(Trouble::Clash { .. }) => Ok(None),
        Err(other) => Err(other),
    }
}
