//! A sign nobody has looked at, as a sum over what the evidence bears on.
//!
//! Takes a variable below the model, gives products of weights on single variables of the model whose
//! expectations add up to its probability. A condition between the two is no new variable: it is summed
//! out by its own two products, each time doubling the number of terms; a plain table by a product for each of its rows.

use super::evidence::Case;
use super::gates::{Form, Model, NONE, Weight, indicators};
use crate::graph::net::{Gate, Net, Var};

/// Place of each variable in the net's order.
pub(crate) fn ranks(net: &Net) -> Vec<u32> {
    let mut rank = vec![0_u32; net.len()];
    net.order().iter().zip(0..).for_each(|(v, r)| rank[v.index()] = r);
    rank
}

/// A coefficient times weights on single variables: absent, present.
pub(crate) struct Term {
    coefficient: f64,
    weights: Vec<(Var, [f64; 2])>,
}

impl Term {
    /// Writes "the sign is present" as a sum of at most `most` terms over variables of the model and
    /// roots outside it. A gate that is neither is summed out by its two products.
    pub(crate) fn expand(
        net: &Net,
        case: &Case,
        model: &Model,
        rank: &[u32],
        sign: Var,
        most: usize,
    ) -> Option<Vec<Term>> {
        let mut open = vec![Term { coefficient: 1.0, weights: vec![(sign, [0.0, 1.0])] }];
        let mut done = Vec::new();
        let between = |v: Var| model.of[v.index()] == NONE && !matches!(net.gate(v), Gate::Root { .. });
        while let Some(mut term) = open.pop() {
            let last = (0..term.weights.len())
                .filter(|&i| between(term.weights[i].0))
                .max_by_key(|&i| rank[term.weights[i].0.index()]);
            let Some(last) = last else {
                done.push(term);
                continue;
            };
            let (var, v) = term.weights.swap_remove(last);
            let step = v[1] - v[0];
            if let Gate::Table { .. } = net.gate(var) {
                for (state, present) in net.open_rows(var, &case.known) {
                    open.extend(term.times(v[0] + step * present, &indicators(net, case, var, state), &[]));
                    if open.len() + done.len() > most {
                        return None;
                    }
                }
                continue;
            }
            let f = Form::new(net, var, &case.known);
            let (alpha, beta) = (step * f.alpha.to_f64(), step * f.beta.to_f64());
            let lone = v[0] + if f.inhibitors.is_empty() { alpha } else { 0.0 };
            if !f.inhibitors.is_empty() && alpha != 0.0 {
                open.extend(term.times(alpha, &f.inhibitors, &[]));
            }
            if beta != 0.0 {
                open.extend(term.times(beta, &f.inhibitors, &f.causes));
            }
            if lone != 0.0 {
                open.extend(term.times(lone, &[], &[]));
            }
            if open.len() + done.len() > most {
                return None;
            }
        }
        Some(done)
    }

    fn times(&self, by: f64, a: &[Weight], b: &[Weight]) -> Option<Term> {
        let mut weights = self.weights.clone();
        for w in a.iter().chain(b) {
            let at = weights.iter().position(|x| x.0 == w.var).unwrap_or_else(|| {
                weights.push((w.var, [1.0, 1.0]));
                weights.len() - 1
            });
            weights[at].1[usize::from(w.at)] *= 1.0 - w.strength;
        }
        let coefficient = self.coefficient * by;
        (coefficient != 0.0).then_some(Term { coefficient, weights })
    }

    /// Averages over roots outside the model; what is left lies in the model.
    pub(crate) fn on(&self, net: &Net, model: &Model) -> (f64, Vec<(u32, [f64; 2])>) {
        let mut coefficient = self.coefficient;
        let mut weights = Vec::with_capacity(self.weights.len());
        for (v, w) in &self.weights {
            match (model.of[v.index()], net.gate(*v)) {
                (NONE, Gate::Root { prior }) => coefficient *= (1.0 - prior) * w[0] + prior * w[1],
                (m, _) => weights.push((m, *w)),
            }
        }
        (coefficient, weights)
    }
}
