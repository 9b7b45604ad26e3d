//! Yes or no: can these states hold together at all?
//!
//! Whether evidence is impossible is never read off a tiny number, because hidden bits leave 1e-17
//! where nought belongs. Every gate's noughts are turned into clauses and searched: unit propagation
//! with two watched literals, then branching (Davis, Logemann and Loveland 1962). Soft nets, where
//! every leak and strength lies strictly between 0 and 1, give no clauses and cost next to nothing.

use crate::graph::net::{Effect, Gate, Net, Var};

/// The literal "`var` is present" or "`var` is absent".
pub(crate) fn lit(var: Var, present: bool) -> u32 {
    var.0 << 1 | u32::from(present)
}

/// After this many dead ends the question is left open (and arithmetic without signs decides it).
const DEAD_ENDS: u32 = 200_000;

/// The clauses of a part of a net.
#[derive(Clone, Debug)]
pub(crate) struct Logic {
    clauses: Vec<Vec<u32>>,
    vars: usize,
}

impl Logic {
    /// Clauses for the variables inside, a set closed upwards.
    pub(crate) fn new(net: &Net, inside: &[bool]) -> Logic {
        let mut clauses = Vec::new();
        for var in net.vars().filter(|v| inside[v.index()]) {
            add_clauses(net, var, &mut clauses);
        }
        Logic { clauses, vars: net.len() }
    }

    /// Everything unit propagation forces, the literals given included; `None` on a contradiction.
    pub(crate) fn forced(&self, literals: &[u32]) -> Option<Vec<(Var, bool)>> {
        let mut search = Search::new(self);
        search.start(literals).then(|| search.settled())
    }

    /// Whether the literals certainly cannot hold together.
    pub(crate) fn refutes(&self, literals: &[u32]) -> bool {
        if self.clauses.is_empty() {
            return literals.iter().any(|l| literals.contains(&(l ^ 1)));
        }
        let mut search = Search::new(self);
        !search.start(literals) || search.run() == Some(false)
    }
}

fn add_clauses(net: &Net, var: Var, clauses: &mut Vec<Vec<u32>>) {
    let yes = lit(var, true);
    let no = lit(var, false);
    let held = |c: &mut Vec<u32>| {
        for (p, a) in net.parents(var) {
            if a.effect == Effect::Inhibits && a.strength > 0.0 {
                c.push(lit(p, true));
            }
        }
    };
    for (p, a) in net.parents(var) {
        if a.effect == Effect::Inhibits && a.strength == 1.0 {
            clauses.push(vec![no, lit(p, false)]);
        }
    }
    let causes = || net.parents(var).filter(|(_, a)| a.effect == Effect::Causes);
    match net.gate(var) {
        Gate::Root { prior } => {
            if prior == 0.0 {
                clauses.push(vec![no]);
            } else if prior == 1.0 {
                clauses.push(vec![yes]);
            }
        }
        Gate::Table { .. } => {
            let n = net.parents(var).len();
            for (state, p) in net.rows(var).iter().enumerate().filter(|(_, p)| **p == 0.0 || **p == 1.0) {
                let mut c = vec![if *p == 0.0 { no } else { yes }];
                c.extend(net.parents(var).enumerate().map(|(i, (v, _))| lit(v, state >> (n - 1 - i) & 1 == 0)));
                clauses.push(c);
            }
        }
        Gate::AnyOf { leak } => {
            if leak == 0.0 {
                let mut c = vec![no];
                c.extend(causes().filter(|(_, a)| a.strength > 0.0).map(|(p, _)| lit(p, true)));
                clauses.push(c);
            }
            if leak == 1.0 {
                let mut c = vec![yes];
                held(&mut c);
                clauses.push(c);
            } else {
                for (p, _) in causes().filter(|(_, a)| a.strength == 1.0) {
                    let mut c = vec![yes, lit(p, false)];
                    held(&mut c);
                    clauses.push(c);
                }
            }
        }
        Gate::AllOf { leak } => {
            if leak == 0.0 {
                for (p, _) in causes().filter(|(_, a)| a.strength == 1.0) {
                    clauses.push(vec![no, lit(p, true)]);
                }
            }
            let mut c = vec![yes];
            if leak < 1.0 {
                c.extend(causes().filter(|(_, a)| a.strength > 0.0).map(|(p, _)| lit(p, false)));
            }
            held(&mut c);
            clauses.push(c);
        }
    }
}

struct Search {
    clauses: Vec<Vec<u32>>,
    /// Clauses watching a literal, by literal.
    watch: Vec<Vec<u32>>,
    /// 0 open, 1 absent, 2 present.
    value: Vec<u8>,
    trail: Vec<u32>,
    next: usize,
    /// Trail lengths before each decision, and whether its other side is still to be tried.
    decisions: Vec<(usize, bool)>,
    contradiction: bool,
}

impl Search {
    fn new(logic: &Logic) -> Search {
        let mut watch = vec![Vec::new(); if logic.clauses.is_empty() { 0 } else { logic.vars * 2 }];
        for (i, c) in logic.clauses.iter().enumerate() {
            for l in c.iter().take(2) {
                watch[*l as usize].push(i as u32);
            }
        }
        Search {
            clauses: logic.clauses.clone(),
            watch,
            value: vec![0; logic.vars],
            trail: Vec::new(),
            next: 0,
            decisions: Vec::new(),
            contradiction: false,
        }
    }

    fn holds(&self, l: u32) -> Option<bool> {
        match self.value[(l >> 1) as usize] {
            0 => None,
            v => Some(u32::from(v - 1) == l & 1),
        }
    }

    fn set(&mut self, l: u32) -> bool {
        match self.holds(l) {
            Some(ok) => ok,
            None => {
                self.value[(l >> 1) as usize] = (l & 1) as u8 + 1;
                self.trail.push(l);
                true
            }
        }
    }

    fn start(&mut self, literals: &[u32]) -> bool {
        let units: Vec<u32> = self.clauses.iter().filter(|c| c.len() == 1).map(|c| c[0]).collect();
        let ok = units.iter().chain(literals).all(|&l| self.set(l)) && self.propagate();
        self.contradiction = !ok;
        ok
    }

    fn propagate(&mut self) -> bool {
        if self.watch.is_empty() {
            return true;
        }
        while let Some(&l) = self.trail.get(self.next) {
            self.next += 1;
            let lost = l ^ 1;
            let watchers = std::mem::take(&mut self.watch[lost as usize]);
            let mut kept = Vec::with_capacity(watchers.len());
            let mut ok = true;
            for (i, &c) in watchers.iter().enumerate() {
                let mut clause = std::mem::take(&mut self.clauses[c as usize]);
                if clause.len() > 1 && clause[0] == lost {
                    clause.swap(0, 1);
                }
                let first = clause[0];
                let other = if clause.len() < 2 || self.holds(first) == Some(true) {
                    None
                } else {
                    (2..clause.len()).find(|&j| self.holds(clause[j]) != Some(false))
                };
                if let Some(j) = other {
                    clause.swap(1, j);
                    self.watch[clause[1] as usize].push(c);
                } else {
                    kept.push(c);
                    if clause.len() > 1 {
                        ok = self.set(first);
                    }
                }
                self.clauses[c as usize] = clause;
                if !ok {
                    kept.extend_from_slice(&watchers[i + 1..]);
                    break;
                }
            }
            self.watch[lost as usize] = kept;
            if !ok {
                return false;
            }
        }
        true
    }

    fn settled(&self) -> Vec<(Var, bool)> {
        self.trail.iter().map(|l| (Var(l >> 1), l & 1 == 1)).collect()
    }

    /// `Some(true)` when everything can be satisfied, `None` when given up.
    fn run(&mut self) -> Option<bool> {
        if self.contradiction {
            return Some(false);
        }
        let mut dead_ends = 0;
        loop {
            let open = self.clauses.iter().find(|c| !c.iter().any(|&l| self.holds(l) == Some(true)));
            let Some(choice) = open.and_then(|c| c.iter().copied().find(|&l| self.holds(l).is_none())) else {
                return Some(true);
            };
            self.decisions.push((self.trail.len(), true));
            self.set(choice);
            while !self.propagate() {
                dead_ends += 1;
                if dead_ends > DEAD_ENDS {
                    return None;
                }
                loop {
                    let Some((at, other)) = self.decisions.pop() else {
                        return Some(false);
                    };
                    let tried = self.trail[at];
                    for l in self.trail.drain(at..) {
                        self.value[(l >> 1) as usize] = 0;
                    }
                    self.next = at;
                    if other {
                        self.decisions.push((at, false));
                        self.set(tried ^ 1);
                        break;
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::NetBuilder;

    /// Two faults, a sign that needs one of them and a condition that needs both.
    fn net() -> (Net, [Var; 4]) {
        let mut b = NetBuilder::new();
        let x = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let y = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let any = b.add(Gate::AnyOf { leak: 0.0 }).expect("sound");
        let all = b.add(Gate::AllOf { leak: 0.0 }).expect("sound");
        for (to, s) in [(any, 0.5), (all, 1.0)] {
            b.link(x, to, s, Effect::Causes).expect("sound");
            b.link(y, to, s, Effect::Causes).expect("sound");
        }
        (b.build().expect("sound"), [x, y, any, all])
    }

    #[test]
    fn what_must_follow_is_forced() {
        let (net, [x, y, any, all]) = net();
        let logic = Logic::new(&net, &[true; 4]);
        let forced = logic.forced(&[lit(any, true), lit(x, false)]).expect("possible");
        assert!(forced.contains(&(y, true)));
        let forced = logic.forced(&[lit(all, true)]).expect("possible");
        assert!(forced.contains(&(x, true)) && forced.contains(&(y, true)));
    }

    #[test]
    fn only_the_impossible_is_refuted() {
        let (net, [x, y, any, all]) = net();
        let logic = Logic::new(&net, &[true; 4]);
        assert!(logic.refutes(&[lit(all, true), lit(x, false)]));
        assert!(logic.refutes(&[lit(any, true), lit(x, false), lit(y, false)]));
        assert!(logic.refutes(&[lit(x, true), lit(y, true), lit(all, false)]));
        assert!(!logic.refutes(&[lit(x, true), lit(y, true), lit(any, false)]));
        assert!(!logic.refutes(&[lit(any, true), lit(all, false)]));
    }

    #[test]
    fn the_certain_rows_of_a_table_are_clauses() {
        let mut b = NetBuilder::new();
        let x = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let y = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let t = b.add_table(&[x, y], &[0.0, 0.5, 1.0, 0.5]).expect("sound");
        let net = b.build().expect("sound");
        let logic = Logic::new(&net, &[true; 3]);
        assert!(logic.refutes(&[lit(t, true), lit(x, false), lit(y, false)]));
        assert!(logic.refutes(&[lit(t, false), lit(x, true), lit(y, false)]));
        assert!(!logic.refutes(&[lit(t, true), lit(x, false)]));
        let forced = logic.forced(&[lit(t, true), lit(x, false)]).expect("possible");
        assert!(forced.contains(&(y, true)));
    }

    #[test]
    fn soft_gates_give_no_clauses() {
        let mut b = NetBuilder::new();
        let x = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let y = b.add(Gate::AnyOf { leak: 0.01 }).expect("sound");
        b.link(x, y, 0.9, Effect::Causes).expect("sound");
        let net = b.build().expect("sound");
        assert!(Logic::new(&net, &[true; 2]).clauses.is_empty());
    }
}
