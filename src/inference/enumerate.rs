//! Brute force, the yardstick: every state of a small net, one after another.
//!
//! Takes a net and evidence, gives the same [`Posterior`] as the engine by adding up the joint
//! probability of all assignments. It shares no code with the elimination and exists to check it.

use super::evidence::Evidence;
use super::posterior::{Posterior, Spread, Work};
use super::{Trouble, clash, logic, relevance};
use crate::graph::net::Net;

/// More free variables than this are refused.
pub const ENUMERATION_LIMIT: usize = 24;

/// Posterior of every variable by enumeration, for nets of up to [`ENUMERATION_LIMIT`] variables
/// that no finding settles. Plain `f64` without subtraction: relative errors stay near 1e-14 as long
/// as no probability leaves the range of `f64`.
///
/// # Errors
/// [`Trouble::TooMany`], and the same troubles with findings as the engine's.
pub fn enumerate(net: &Net, evidence: &Evidence) -> Result<Posterior, Trouble> {
    let mut likelihood = vec![[1.0_f64; 2]; net.len()];
    for (finding, f) in evidence.iter().enumerate() {
        if !net.contains(f.var) {
            return Err(Trouble::UnknownVariable { finding });
        }
        for (state, value) in [f.if_absent, f.if_present].into_iter().enumerate() {
            if !(value.is_finite() && value >= 0.0) {
                return Err(Trouble::NotALikelihood { finding, value });
            }
            likelihood[f.var.index()][state] *= value;
        }
    }
    let free = likelihood.iter().filter(|l| l[0] > 0.0 && l[1] > 0.0).count();
    if free > ENUMERATION_LIMIT {
        return Err(Trouble::TooMany { free });
    }
    let mut walk = Walk { net, likelihood, state: vec![false; net.len()], present: vec![0.0; net.len()], leaves: 0 };
    let total = walk.from(0, 1.0);
    if total <= 0.0 {
        let inside = relevance::ancestors(net, net.vars());
        let logic = logic::Logic::new(net, &inside);
        return Err(Trouble::Clash { findings: clash::smallest(&logic, evidence.as_slice()) });
    }
    Ok(Posterior {
        present: walk.present.iter().map(|p| Spread::exact(p / total)).collect(),
        ln_evidence: total.ln(),
        ln_evidence_low: total.ln(),
        work: Work { cells: walk.leaves, width: free as u32, variables: net.len() as u32 },
    })
}

struct Walk<'n> {
    net: &'n Net,
    likelihood: Vec<[f64; 2]>,
    state: Vec<bool>,
    present: Vec<f64>,
    leaves: u64,
}

impl Walk<'_> {
    fn from(&mut self, at: usize, weight: f64) -> f64 {
        let Some(&v) = self.net.order().get(at) else {
            self.leaves += 1;
            return weight;
        };
        let p = self.chances(v);
        let mut sum = 0.0;
        for (here, p) in [false, true].into_iter().zip(p) {
            let w = weight * p * self.likelihood[v.index()][usize::from(here)];
            if w > 0.0 {
                self.state[v.index()] = here;
                let s = self.from(at + 1, w);
                if here {
                    self.present[v.index()] += s;
                }
                sum += s;
            }
        }
        sum
    }

    /// Absent and present given the parents' states, each summed without subtraction.
    fn chances(&self, v: crate::graph::net::Var) -> [f64; 2] {
        use crate::graph::net::{Effect, Gate};
        let parents = |wanted: Effect, state: bool| {
            self.net
                .parents(v)
                .filter(move |(p, a)| a.effect == wanted && self.state[p.index()] == state)
                .map(|(_, a)| a.strength)
        };
        // Chance that at least one of several independent things happens, and that none does.
        let some = |chances: &mut dyn Iterator<Item = f64>| {
            chances.fold((0.0, 1.0), |(some, none), s| (some + none * s, none * (1.0 - s)))
        };
        let (yes, no) = match self.net.gate(v) {
            Gate::Root { prior } => (prior, 1.0 - prior),
            Gate::Table { .. } => {
                let p = self.net.present_given(v, |p| self.state[p.index()]);
                return [1.0 - p, p];
            }
            Gate::AnyOf { leak } => {
                let (some, none) = some(&mut parents(Effect::Causes, true));
                (leak + (1.0 - leak) * some, (1.0 - leak) * none)
            }
            Gate::AllOf { leak } => {
                let (blocked, clear) = some(&mut parents(Effect::Causes, false));
                (clear + blocked * leak, blocked * (1.0 - leak))
            }
        };
        let (held, passed) = some(&mut parents(Effect::Inhibits, true));
        [no + yes * held, yes * passed]
    }
}
