//! Relevance: what can bear on a question at all.
//!
//! A variable that is neither asked about, nor answered, nor above one that is, sums to one and is
//! left out (barren nodes: Shachter 1986; Baker and Boult, arXiv 1304.1112). Takes seeds, gives the
//! set of the seeds and everything above them. Parts cut off by certain answers fall out later, as
//! components of their own.

use crate::graph::net::{Net, Var};

/// Membership, by variable index, of the seeds and all their ancestors.
pub(crate) fn ancestors(net: &Net, seeds: impl IntoIterator<Item = Var>) -> Vec<bool> {
    let mut inside = vec![false; net.len()];
    let mut open: Vec<Var> = Vec::new();
    add_ancestors(net, &mut inside, &mut open, seeds);
    inside
}

/// Adds the seeds and all their ancestors to a set that is already closed upwards.
pub(crate) fn add_ancestors(net: &Net, inside: &mut [bool], open: &mut Vec<Var>, seeds: impl IntoIterator<Item = Var>) {
    for seed in seeds {
        if !std::mem::replace(&mut inside[seed.index()], true) {
            open.push(seed);
        }
        while let Some(v) = open.pop() {
            for (p, _) in net.parents(v) {
                if !std::mem::replace(&mut inside[p.index()], true) {
                    open.push(p);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::{Effect, Gate, NetBuilder};

    #[test]
    fn only_what_lies_above_is_inside() {
        let mut b = NetBuilder::new();
        let v: Vec<Var> = (0..5)
            .map(|i| b.add(if i < 2 { Gate::Root { prior: 0.1 } } else { Gate::AnyOf { leak: 0.0 } }).expect("sound"))
            .collect();
        for (a, c) in [(0, 2), (1, 3), (2, 4), (3, 4)] {
            b.link(v[a], v[c], 0.5, Effect::Causes).expect("sound");
        }
        let net = b.build().expect("sound");
        assert_eq!(ancestors(&net, [v[2]]), [true, false, true, false, false]);
        assert_eq!(ancestors(&net, [v[4]]), [true; 5]);
        assert_eq!(ancestors(&net, []), [false; 5]);
    }
}
