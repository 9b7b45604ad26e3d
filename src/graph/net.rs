//! The net: binary variables joined by leaky gates, without words.
//!
//! Takes gates and links through [`NetBuilder`], gives an immutable [`Net`]: a `petgraph` directed
//! acyclic graph of [`Gate`]s and [`Arc`]s with a topological order. Names, places and sources live
//! elsewhere; a variable is an index here and nothing more. The net is never changed once built,
//! and it never computes a posterior.
//!
//! # What a gate means
//!
//! Let `leak` be the gate's own number and `s` the strength of a link.
//!
//! - [`Gate::AnyOf`], the leaky noisy-OR (Pearl, *Probabilistic Reasoning in Intelligent Systems*,
//!   1988; leak as in Henrion 1989). Any present cause can bring the effect about by itself:
//!   `P(absent | x) = (1 - leak) · Π over present causing parents (1 - s)`.
//! - [`Gate::AllOf`], its dual. The effect needs every causing parent, and one that is absent blocks
//!   it with its strength:
//!   `P(present | x) = leak + (1 - leak) · Π over absent causing parents (1 - s)`.
//!   Without any causing parent nothing is lacking, and the effect is present.
//! - An inhibiting parent that is present multiplies `P(present)` by `(1 - s)`, for either gate and
//!   after the leak.
//! - [`Gate::Table`] says `P(present)` outright for every state of its parents. Nothing in the
//!   knowledge needs it; nets of other people do, and with it they can be put to the same engine.
//!
//! Strengths are *net*: the leak is not part of them.

use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;

/// A variable of the net, present or absent: an index from 0, in the order of adding.
#[derive(Copy, Clone, Eq, PartialEq, Ord, PartialOrd, Hash, Debug)]
pub struct Var(pub u32);

impl Var {
    /// The index as a `usize`, for tables kept beside the net.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// How a variable comes about.
#[derive(Copy, Clone, PartialEq, Debug)]
pub enum Gate {
    /// A variable without parents.
    Root {
        /// Probability of being present, 0 to 1.
        prior: f64,
    },
    /// Leaky noisy-OR: any present cause suffices.
    AnyOf {
        /// Probability of being present when no cause is, 0 to 1.
        leak: f64,
    },
    /// Leaky noisy-AND: an absent causing parent blocks with its strength.
    AllOf {
        /// Probability of being present in spite of a block, 0 to 1.
        leak: f64,
    },
    /// A plain table: [`Net::rows`] has a probability for every state of the parents.
    Table {
        /// Which table of the net.
        table: u32,
    },
}

/// What a link does to its effect.
#[derive(Copy, Clone, Eq, PartialEq, Hash, Debug)]
pub enum Effect {
    /// Brings it about (for [`Gate::AllOf`]: is needed for it).
    Causes,
    /// Holds it back when present.
    Inhibits,
}

/// A link of the net.
#[derive(Copy, Clone, PartialEq, Debug)]
pub struct Arc {
    /// Strength, 0 to 1; see the [module page](self) for what it multiplies.
    pub strength: f64,
    /// Whether it causes or inhibits.
    pub effect: Effect,
}

/// Why a net cannot be built.
#[derive(Clone, PartialEq, Debug, thiserror::Error)]
pub enum NetProblem {
    /// A prior, leak or strength lies outside 0 to 1, or is not a number.
    #[error("{value} is not a probability: it must lie between 0 and 1")]
    NotAProbability {
        /// The number given.
        value: f64,
    },
    /// A link names a variable that was never added.
    #[error("variable {} is not in the net", .0.0)]
    UnknownVariable(Var),
    /// The links run in a circle: these variables, in order, the last linking back to the first.
    #[error("links run in a circle through {} variable(s)", .0.len())]
    Cycle(Vec<Var>),
    /// A link leads into a variable that has a prior.
    #[error("variable {} has a prior and cannot have parents", .0.0)]
    RootWithParents(Var),
    /// Two links join the same variables in the same direction.
    #[error("two links lead from variable {} to variable {}", .from.0, .to.0)]
    DuplicateLink {
        /// The parent.
        from: Var,
        /// The child.
        to: Var,
    },
    /// A table has not one probability for each state of its parents, or more than [`TABLE_PARENTS`] of them.
    #[error(
        "{rows} probabilities for {parents} parents: there must be one for each state, and at most {TABLE_PARENTS} parents"
    )]
    TableSize {
        /// Parents named.
        parents: usize,
        /// Probabilities given.
        rows: usize,
    },
    /// A link leads into a table, which names its parents itself.
    #[error("variable {} is a table and cannot have further parents", .0.0)]
    TableWithLinks(Var),
    /// More variables than an index can count.
    #[error("too many variables")]
    TooMany,
}

/// Parents a table may have.
pub const TABLE_PARENTS: usize = 16;

/// Collects gates and links, and checks them.
#[derive(Clone, Debug, Default)]
pub struct NetBuilder {
    graph: DiGraph<Gate, Arc>,
    tables: Vec<Box<[f64]>>,
}

fn probability(value: f64) -> Result<f64, NetProblem> {
    if (0.0..=1.0).contains(&value) {
        // Negative zero passes the range and would print oddly.
        Ok(value.abs())
    } else {
        Err(NetProblem::NotAProbability { value })
    }
}

impl NetBuilder {
    /// An empty builder.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a variable. Parents may be added before or after it.
    ///
    /// # Errors
    /// [`NetProblem::NotAProbability`] for a prior or leak outside 0 to 1, [`NetProblem::TableSize`]
    /// for a table, which [`add_table`](Self::add_table) adds.
    pub fn add(&mut self, gate: Gate) -> Result<Var, NetProblem> {
        let gate = match gate {
            Gate::Root { prior } => Gate::Root { prior: probability(prior)? },
            Gate::AnyOf { leak } => Gate::AnyOf { leak: probability(leak)? },
            Gate::AllOf { leak } => Gate::AllOf { leak: probability(leak)? },
            Gate::Table { .. } => return Err(NetProblem::TableSize { parents: 0, rows: 0 }),
        };
        self.node(gate)
    }

    /// Adds a variable with a probability of being present (0 to 1) for each state of its parents,
    /// which are there already; the last parent changes fastest, absent before present.
    ///
    /// # Errors
    /// [`NetProblem::NotAProbability`], [`NetProblem::UnknownVariable`], [`NetProblem::TableSize`].
    pub fn add_table(&mut self, parents: &[Var], present: &[f64]) -> Result<Var, NetProblem> {
        if parents.len() > TABLE_PARENTS || present.len() != 1 << parents.len() {
            return Err(NetProblem::TableSize { parents: parents.len(), rows: present.len() });
        }
        let rows = present.iter().map(|p| probability(*p)).collect::<Result<Box<[f64]>, _>>()?;
        if let Some(unknown) = parents.iter().find(|p| p.index() >= self.graph.node_count()) {
            return Err(NetProblem::UnknownVariable(*unknown));
        }
        let Ok(table) = u32::try_from(self.tables.len()) else { return Err(NetProblem::TooMany) };
        let var = self.node(Gate::Table { table })?;
        self.tables.push(rows);
        for parent in parents {
            let arc = Arc { strength: 1.0, effect: Effect::Causes };
            self.graph.add_edge(NodeIndex::new(parent.index()), NodeIndex::new(var.index()), arc);
        }
        Ok(var)
    }

    fn node(&mut self, gate: Gate) -> Result<Var, NetProblem> {
        if self.graph.node_count() >= (u32::MAX / 4) as usize {
            return Err(NetProblem::TooMany);
        }
        Ok(Var(self.graph.add_node(gate).index() as u32))
    }

    /// Adds a link of the given strength (0 to 1) from a parent to a child.
    ///
    /// # Errors
    /// [`NetProblem::NotAProbability`], [`NetProblem::UnknownVariable`],
    /// [`NetProblem::RootWithParents`], [`NetProblem::TableWithLinks`]. Circles and doubled links are
    /// found by [`build`](Self::build).
    pub fn link(&mut self, from: Var, to: Var, strength: f64, effect: Effect) -> Result<(), NetProblem> {
        let strength = probability(strength)?;
        for end in [from, to] {
            if end.index() >= self.graph.node_count() {
                return Err(NetProblem::UnknownVariable(end));
            }
        }
        let (a, b) = (NodeIndex::new(from.index()), NodeIndex::new(to.index()));
        match self.graph[b] {
            Gate::Root { .. } => return Err(NetProblem::RootWithParents(to)),
            Gate::Table { .. } => return Err(NetProblem::TableWithLinks(to)),
            Gate::AnyOf { .. } | Gate::AllOf { .. } => {}
        }
        self.graph.add_edge(a, b, Arc { strength, effect });
        Ok(())
    }

    /// Checks the whole and gives the net.
    ///
    /// # Errors
    /// [`NetProblem::DuplicateLink`] and [`NetProblem::Cycle`].
    pub fn build(self) -> Result<Net, NetProblem> {
        let graph = self.graph;
        let count = graph.node_count();
        let mut parents = Lists::with_room(count, graph.edge_count());
        let mut children = Lists::with_room(count, graph.edge_count());
        for node in graph.node_indices() {
            // petgraph hands edges back newest first; keep the order of adding.
            let mut edges: Vec<_> = graph
                .edges_directed(node, petgraph::Direction::Incoming)
                .map(|e| (e.id(), e.source(), *e.weight()))
                .collect();
            edges.sort_by_key(|e| e.0);
            parents.push(edges.iter().map(|e| (Var(e.1.index() as u32), e.2)));
            let mut edges: Vec<_> = graph
                .edges_directed(node, petgraph::Direction::Outgoing)
                .map(|e| (e.id(), e.target(), *e.weight()))
                .collect();
            edges.sort_by_key(|e| e.0);
            children.push(edges.iter().map(|e| (Var(e.1.index() as u32), e.2)));
        }
        let mut seen = vec![u32::MAX; count];
        for child in 0..count {
            for (parent, _) in parents.of(child) {
                if seen[parent.index()] == child as u32 {
                    return Err(NetProblem::DuplicateLink { from: *parent, to: Var(child as u32) });
                }
                seen[parent.index()] = child as u32;
            }
        }
        let order = topological(&parents, &children, count)?;
        Ok(Net { graph, order, parents, children, tables: self.tables })
    }
}

/// Lists of neighbours laid end to end.
#[derive(Clone, Debug)]
struct Lists {
    start: Vec<u32>,
    items: Vec<(Var, Arc)>,
}

impl Lists {
    fn with_room(lists: usize, items: usize) -> Self {
        let mut start = Vec::with_capacity(lists + 1);
        start.push(0);
        Lists { start, items: Vec::with_capacity(items) }
    }
    fn push(&mut self, list: impl Iterator<Item = (Var, Arc)>) {
        self.items.extend(list);
        self.start.push(self.items.len() as u32);
    }
    fn of(&self, at: usize) -> &[(Var, Arc)] {
        match (self.start.get(at), self.start.get(at + 1)) {
            (Some(&a), Some(&b)) => &self.items[a as usize..b as usize],
            _ => &[],
        }
    }
}

/// Smallest index first among the variables whose parents are all placed (Kahn 1962).
fn topological(parents: &Lists, children: &Lists, count: usize) -> Result<Vec<Var>, NetProblem> {
    let mut waiting: Vec<usize> = (0..count).map(|v| parents.of(v).len()).collect();
    let mut ready: std::collections::BinaryHeap<std::cmp::Reverse<u32>> =
        (0..count).filter(|&v| waiting[v] == 0).map(|v| std::cmp::Reverse(v as u32)).collect();
    let mut order = Vec::with_capacity(count);
    while let Some(std::cmp::Reverse(v)) = ready.pop() {
        order.push(Var(v));
        for (child, _) in children.of(v as usize) {
            waiting[child.index()] -= 1;
            if waiting[child.index()] == 0 {
                ready.push(std::cmp::Reverse(child.0));
            }
        }
    }
    if order.len() == count {
        return Ok(order);
    }
    // Every variable left has a parent that is left: walking up must come round.
    let Some(start) = waiting.iter().position(|&w| w > 0) else {
        return Ok(order);
    };
    let mut walk = vec![Var(start as u32)];
    let mut place = vec![usize::MAX; count];
    place[start] = 0;
    loop {
        let here = walk[walk.len() - 1];
        let Some((up, _)) = parents.of(here.index()).iter().find(|(p, _)| waiting[p.index()] > 0) else {
            return Err(NetProblem::Cycle(walk));
        };
        if place[up.index()] != usize::MAX {
            let mut circle = walk.split_off(place[up.index()]);
            circle.reverse();
            // Begin at the smallest index, so that the message does not depend on the walk.
            let first = circle.iter().enumerate().min_by_key(|(_, v)| **v).map_or(0, |(i, _)| i);
            circle.rotate_left(first);
            return Err(NetProblem::Cycle(circle));
        }
        place[up.index()] = walk.len();
        walk.push(*up);
    }
}

/// A directed acyclic net of binary variables.
#[derive(Clone, Debug)]
pub struct Net {
    graph: DiGraph<Gate, Arc>,
    order: Vec<Var>,
    parents: Lists,
    children: Lists,
    tables: Vec<Box<[f64]>>,
}

impl Net {
    /// How many variables there are.
    pub fn len(&self) -> usize {
        self.order.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.order.is_empty()
    }

    /// Whether the variable belongs to this net.
    pub fn contains(&self, var: Var) -> bool {
        var.index() < self.len()
    }

    /// The gate of a variable. A variable of another net reads as a root that is never present.
    pub fn gate(&self, var: Var) -> Gate {
        self.graph.node_weight(NodeIndex::new(var.index())).copied().unwrap_or(Gate::Root { prior: 0.0 })
    }

    /// Parents with their links, in the order the links were added.
    pub fn parents(&self, var: Var) -> impl ExactSizeIterator<Item = (Var, Arc)> + '_ {
        self.parents.of(var.index()).iter().copied()
    }

    /// Children with their links, in the order the links were added.
    pub fn children(&self, var: Var) -> impl ExactSizeIterator<Item = (Var, Arc)> + '_ {
        self.children.of(var.index()).iter().copied()
    }

    /// The probabilities of a [`Gate::Table`], one for each state of the parents, the last parent changing
    /// fastest; empty for any other gate.
    pub fn rows(&self, var: Var) -> &[f64] {
        match self.gate(var) {
            Gate::Table { table } => self.tables.get(table as usize).map_or(&[], |rows| rows),
            _ => &[],
        }
    }

    /// The states of a table's parents that agree with what is known of them, each with its probability:
    /// the state of parent `i` of `n` is bit `n - 1 - i`.
    pub(crate) fn open_rows(&self, var: Var, known: &[Option<bool>]) -> impl Iterator<Item = (usize, f64)> + '_ {
        let n = self.parents(var).len();
        let (mut mask, mut fixed) = (0, 0);
        for (i, (p, _)) in self.parents(var).enumerate() {
            if let Some(side) = known[p.index()] {
                mask |= 1 << (n - 1 - i);
                fixed |= usize::from(side) << (n - 1 - i);
            }
        }
        self.rows(var).iter().copied().enumerate().filter(move |(state, _)| state & mask == fixed)
    }

    /// Every variable, parents before children.
    pub fn order(&self) -> &[Var] {
        &self.order
    }

    /// Every variable by index.
    pub fn vars(&self) -> impl ExactSizeIterator<Item = Var> + use<> {
        (0..self.len() as u32).map(Var)
    }

    /// The underlying graph; node indices equal [`Var`] indices.
    pub fn graph(&self) -> &DiGraph<Gate, Arc> {
        &self.graph
    }

    /// `P(present | parents)`, with `value` telling whether each parent is present.
    pub fn present_given(&self, var: Var, value: impl Fn(Var) -> bool) -> f64 {
        if let Gate::Table { .. } = self.gate(var) {
            let state = self.parents(var).fold(0, |state, (p, _)| state << 1 | usize::from(value(p)));
            return self.rows(var).get(state).copied().unwrap_or(0.0);
        }
        let mut held = 1.0;
        let mut q = 1.0;
        let any = matches!(self.gate(var), Gate::AnyOf { .. });
        for (parent, arc) in self.parents(var) {
            let here = value(parent);
            match arc.effect {
                Effect::Inhibits if here => held *= 1.0 - arc.strength,
                Effect::Causes if here == any => q *= 1.0 - arc.strength,
                _ => {}
            }
        }
        match self.gate(var) {
            Gate::Root { prior } => prior,
            Gate::Table { .. } => 0.0,
            Gate::AnyOf { leak } => (1.0 - (1.0 - leak) * q) * held,
            Gate::AllOf { leak } => (leak + (1.0 - leak) * q) * held,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn root(b: &mut NetBuilder, prior: f64) -> Var {
        b.add(Gate::Root { prior }).expect("a probability")
    }

    #[test]
    fn a_circle_is_named_in_order() {
        let mut b = NetBuilder::new();
        let r = root(&mut b, 0.5);
        let v: Vec<Var> = (0..3).map(|_| b.add(Gate::AnyOf { leak: 0.0 }).expect("ok")).collect();
        b.link(r, v[0], 0.5, Effect::Causes).expect("ok");
        b.link(v[0], v[1], 0.5, Effect::Causes).expect("ok");
        b.link(v[1], v[2], 0.5, Effect::Causes).expect("ok");
        b.link(v[2], v[0], 0.5, Effect::Causes).expect("ok");
        assert_eq!(b.build().err(), Some(NetProblem::Cycle(v)));
    }

    #[test]
    fn a_self_link_is_a_circle_of_one() {
        let mut b = NetBuilder::new();
        let v = b.add(Gate::AllOf { leak: 0.0 }).expect("ok");
        b.link(v, v, 0.5, Effect::Causes).expect("ok");
        assert_eq!(b.build().err(), Some(NetProblem::Cycle(vec![v])));
    }

    #[test]
    fn parents_come_before_children_and_keep_their_order() {
        let mut b = NetBuilder::new();
        let y = b.add(Gate::AnyOf { leak: 0.1 }).expect("ok");
        let (a, c) = (root(&mut b, 0.2), root(&mut b, 0.3));
        b.link(c, y, 0.5, Effect::Causes).expect("ok");
        b.link(a, y, 0.25, Effect::Inhibits).expect("ok");
        let net = b.build().expect("sound");
        assert_eq!(net.order(), &[a, c, y]);
        assert_eq!(net.parents(y).map(|p| p.0).collect::<Vec<_>>(), vec![c, a]);
        let p = net.present_given(y, |_| true);
        assert!((p - (1.0 - 0.9 * 0.5) * 0.75).abs() < 1e-15);
    }

    #[test]
    fn a_table_has_a_row_for_every_state_of_its_parents_and_takes_no_more_links() {
        let mut b = NetBuilder::new();
        let (x, y) = (root(&mut b, 0.2), root(&mut b, 0.3));
        assert_eq!(b.add_table(&[x, y], &[0.1; 3]), Err(NetProblem::TableSize { parents: 2, rows: 3 }));
        assert_eq!(b.add_table(&[x], &[0.1, 1.5]), Err(NetProblem::NotAProbability { value: 1.5 }));
        assert_eq!(b.add_table(&[Var(9)], &[0.1, 0.2]), Err(NetProblem::UnknownVariable(Var(9))));
        let t = b.add_table(&[x, y], &[0.0, 0.1, 0.2, 0.3]).expect("sound");
        assert_eq!(b.link(y, t, 0.5, Effect::Causes), Err(NetProblem::TableWithLinks(t)));
        let net = b.build().expect("sound");
        assert_eq!(net.present_given(t, |v| v == x), 0.2);
        assert_eq!(net.open_rows(t, &[None, Some(true), None]).collect::<Vec<_>>(), [(1, 0.1), (3, 0.3)]);
        assert_eq!(net.rows(x), [0.0; 0]);
    }

    #[test]
    fn bad_numbers_and_links_are_refused() {
        let mut b = NetBuilder::new();
        for bad in [-0.1, 1.1, f64::NAN, f64::INFINITY] {
            assert!(matches!(b.add(Gate::Root { prior: bad }), Err(NetProblem::NotAProbability { .. })));
        }
        let (a, c) = (root(&mut b, 0.2), root(&mut b, 0.3));
        assert_eq!(b.link(a, c, 0.5, Effect::Causes), Err(NetProblem::RootWithParents(c)));
        assert_eq!(b.link(a, Var(9), 0.5, Effect::Causes), Err(NetProblem::UnknownVariable(Var(9))));
        let y = b.add(Gate::AnyOf { leak: 0.0 }).expect("ok");
        b.link(a, y, 0.5, Effect::Causes).expect("ok");
        b.link(a, y, 0.5, Effect::Inhibits).expect("ok");
        assert_eq!(b.build().err(), Some(NetProblem::DuplicateLink { from: a, to: y }));
    }
}
