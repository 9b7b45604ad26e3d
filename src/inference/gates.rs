//! From gates and evidence to small factors.
//!
//! Every gate can be written `P(present | x) = Π inhibitors · (alpha + beta · Π causes)`, each
//! product running over weights that touch one parent (rank-one decomposition: Díez and Galán 2003;
//! Savický and Vomlel 2007; multiplicative factorisation: Takikawa and D'Ambrosio, arXiv
//! 1301.6742). One hidden bit per gate tells which term of the sum is meant (two bits when
//! inhibitors meet a sum), so a gate with a thousand parents costs a thousand two-by-two factors and
//! no table. A certain answer that leaves a single product costs no bit at all (Jaakkola and Jordan
//! 1999: negative findings are free). Hidden bits carry signs; [`Shape::Chain`] writes the same gate
//! as a chain of noisy steps without signs, wider but free of cancellation. A plain table is taken as it is.

use super::evidence::Case;
use super::number::{Number, Wide};
use crate::graph::net::{Effect, Gate, Net, Var};

/// How a gate of more than two open parents is written.
#[derive(Copy, Clone, Eq, PartialEq, Debug)]
pub(crate) enum Shape {
    /// Hidden bits, signed.
    Rank,
    /// A chain of noisy steps, never signed.
    Chain,
}

/// "No model variable".
pub(crate) const NONE: u32 = u32::MAX;

/// A two-by-two factor that is one except in a corner: `bit` set and `var` equal to `at`.
#[derive(Copy, Clone, Debug)]
pub(crate) struct Pair {
    pub bit: u32,
    pub var: u32,
    pub at: bool,
    /// The corner holds `1 - strength`.
    pub strength: f64,
}

/// A small table; bit `i` of a cell's index is the state of `scope[i]`.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    pub scope: Vec<u32>,
    pub cells: Vec<Wide>,
}

/// The factors of one question.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    /// Weights of absent and present, by model variable; the larger lies near one.
    pub unary: Vec<[Wide; 2]>,
    /// Whether a model variable is a root of the net.
    pub root: Vec<bool>,
    pub pairs: Vec<Pair>,
    pub tables: Vec<Table>,
    /// Factor taken out of everything.
    pub constant: Wide,
    /// Model variable of a net variable, or [`NONE`].
    pub of: Vec<u32>,
    /// Some number is so small that signed arithmetic cannot be trusted with it.
    pub extreme: bool,
}

/// One step of the noisy chain behind a gate: from one state to the other with a strength, when the
/// parent is in the state `at` (always, without a parent).
#[derive(Copy, Clone, Debug)]
struct Step {
    parent: Option<Var>,
    at: bool,
    strength: f64,
    from: bool,
}

/// A gate with its settled parents folded in.
struct Steps {
    start: [Wide; 2],
    steps: Vec<Step>,
    open: usize,
}

impl Steps {
    fn new(net: &Net, var: Var, known: &[Option<bool>]) -> Steps {
        let mut steps = Vec::with_capacity(net.parents(var).len() + 1);
        let gate = net.gate(var);
        let any = !matches!(gate, Gate::AllOf { .. });
        let add = |steps: &mut Vec<Step>, wanted: Effect| {
            for (p, a) in net.parents(var).filter(|(_, a)| a.effect == wanted && a.strength > 0.0) {
                let (at, from) = match wanted {
                    Effect::Causes => (any, !any),
                    Effect::Inhibits => (true, true),
                };
                let parent = match known[p.index()] {
                    Some(v) if v == at => None,
                    Some(_) => continue,
                    None => Some(p),
                };
                steps.push(Step { parent, at, strength: a.strength, from });
            }
        };
        add(&mut steps, Effect::Causes);
        let start = match gate {
            Gate::Root { prior: p } | Gate::AnyOf { leak: p } => [Wide::complement(p), Wide::from_f64(p)],
            // Never asked: a table is no chain of steps.
            Gate::Table { .. } => [Wide::ONE, Wide::ZERO],
            Gate::AllOf { leak } => {
                if leak > 0.0 {
                    steps.push(Step { parent: None, at: true, strength: leak, from: false });
                }
                [Wide::ZERO, Wide::ONE]
            }
        };
        add(&mut steps, Effect::Inhibits);
        let open = steps.iter().filter(|s| s.parent.is_some()).count();
        Steps { start, steps, open }
    }

    /// Absent and present, given the open parents' states in order.
    fn run(&self, mut states: impl Iterator<Item = bool>) -> [Wide; 2] {
        let mut v = self.start;
        for s in &self.steps {
            if s.parent.is_none() || states.next() == Some(s.at) {
                v = take(v, s);
            }
        }
        v
    }
}

fn take(v: [Wide; 2], s: &Step) -> [Wide; 2] {
    let from = usize::from(s.from);
    let moved = v[from].times(Wide::from_f64(s.strength));
    let stays = v[from].times(Wide::complement(s.strength));
    let there = v[1 - from].plus(moved);
    if s.from { [there, stays] } else { [stays, there] }
}

/// A weight `1 - strength` on one open parent when it is in the state `at`.
#[derive(Copy, Clone, Debug)]
pub(crate) struct Weight {
    pub var: Var,
    pub at: bool,
    pub strength: f64,
}

/// `P(present) = Π inhibitors · (alpha + beta · Π causes)` over the open parents. Inhibitors are
/// empty whenever `alpha` is nought or there is no cause. Not for tables.
#[derive(Clone, Debug)]
pub(crate) struct Form {
    pub alpha: Wide,
    pub beta: Wide,
    pub causes: Vec<Weight>,
    pub inhibitors: Vec<Weight>,
}

impl Form {
    pub(crate) fn new(net: &Net, var: Var, known: &[Option<bool>]) -> Form {
        let gate = net.gate(var);
        let any = !matches!(gate, Gate::AllOf { .. });
        let (mut alpha, mut beta) = match gate {
            Gate::Root { prior: p } | Gate::AnyOf { leak: p } => (Wide::ONE, Wide::complement(p).negated()),
            Gate::Table { .. } => (Wide::ZERO, Wide::ZERO),
            Gate::AllOf { leak } => (Wide::from_f64(leak), Wide::complement(leak)),
        };
        let mut causes = Vec::with_capacity(net.parents(var).len());
        let mut inhibitors = Vec::new();
        let mut held = Wide::ONE;
        for (p, a) in net.parents(var).filter(|(_, a)| a.strength > 0.0) {
            let inhibits = a.effect == Effect::Inhibits;
            let at = inhibits || any;
            match (known[p.index()], inhibits) {
                (Some(v), _) if v != at => {}
                (Some(_), true) => held = held.times(Wide::complement(a.strength)),
                (Some(_), false) => beta = beta.times(Wide::complement(a.strength)),
                (None, _) => {
                    let list = if inhibits { &mut inhibitors } else { &mut causes };
                    list.push(Weight { var: p, at, strength: a.strength });
                }
            }
        }
        if causes.is_empty() {
            // Summed without signs, so that a tiny leak survives.
            let mut steps = Steps::new(net, var, known);
            steps.steps.retain(|s| s.parent.is_none());
            (alpha, beta) = (Wide::ZERO, steps.run(std::iter::empty())[1]);
            causes = std::mem::take(&mut inhibitors);
        } else {
            (alpha, beta) = (alpha.times(held), beta.times(held));
            if alpha.is_zero() {
                causes.append(&mut inhibitors);
            }
        }
        Form { alpha, beta, causes, inhibitors }
    }
}

/// Weights on the open parents of a table whose product is one in the given state and nought in any other.
pub(crate) fn indicators(net: &Net, case: &Case, table: Var, state: usize) -> Vec<Weight> {
    let n = net.parents(table).len();
    let weight = |(i, var): (usize, Var)| Weight { var, at: state >> (n - 1 - i) & 1 == 0, strength: 1.0 };
    let open = |(_, var): &(usize, Var)| case.known[var.index()].is_none();
    net.parents(table).map(|(p, _)| p).enumerate().filter(open).map(weight).collect()
}

struct Builder<'a> {
    net: &'a Net,
    case: &'a Case,
    shape: Shape,
    model: Model,
}

/// Builds the factors for the variables inside (a set closed upwards). `keep` lists variables that
/// must be variables of the model even when nothing below them is inside.
pub(crate) fn build(net: &Net, case: &Case, inside: &[bool], keep: &[bool], shape: Shape) -> Model {
    let n = net.len();
    let mut b = Builder {
        net,
        case,
        shape,
        model: Model {
            unary: Vec::new(),
            root: Vec::new(),
            pairs: Vec::new(),
            tables: Vec::new(),
            constant: Wide::ONE,
            of: vec![NONE; n],
            extreme: false,
        },
    };
    let mut used = vec![false; n];
    let mut active = Vec::new();
    for &v in net.order().iter().rev() {
        let i = v.index();
        let known = case.known[i].is_some();
        if inside[i] && (known || used[i] || keep[i] || case.weight[i].is_some()) {
            active.push(v);
            for (p, _) in net.parents(v) {
                used[p.index()] = true;
            }
            if !known {
                b.model.of[i] = b.model.unary.len() as u32;
                b.model.root.push(matches!(net.gate(v), Gate::Root { .. }));
                b.model.unary.push([case.likelihood(v, false), case.likelihood(v, true)]);
            }
        }
    }
    for &v in &active {
        b.add(v);
    }
    b.finish()
}

impl Builder<'_> {
    fn fresh(&mut self) -> u32 {
        self.model.unary.push([Wide::ONE, Wide::ONE]);
        self.model.root.push(false);
        self.model.unary.len() as u32 - 1
    }

    fn of(&self, var: Var) -> u32 {
        self.model.of[var.index()]
    }

    fn weigh(&mut self, var: u32, w: [Wide; 2]) {
        let u = &mut self.model.unary[var as usize];
        *u = [u[0].times(w[0]), u[1].times(w[1])];
    }

    fn fold(&mut self, weights: &[Weight]) {
        for w in weights {
            let at = self.of(w.var) as usize;
            let cell = &mut self.model.unary[at][usize::from(w.at)];
            *cell = cell.times(Wide::complement(w.strength));
        }
    }

    fn pairs(&mut self, bit: u32, weights: &[Weight]) {
        for w in weights {
            let var = self.of(w.var);
            self.model.pairs.push(Pair { bit, var, at: w.at, strength: w.strength });
        }
    }

    fn scale(&mut self, by: Wide) {
        self.model.constant = self.model.constant.times(by);
    }

    fn add(&mut self, v: Var) {
        const TINY: f64 = 1e-15;
        let tiny = |x: f64| x > 0.0 && x < TINY;
        let gate = self.net.gate(v);
        self.model.extreme |= match gate {
            Gate::Root { .. } | Gate::Table { .. } => false,
            Gate::AnyOf { leak } | Gate::AllOf { leak } => tiny(leak),
        } || self.net.parents(v).any(|(_, a)| tiny(a.strength));
        let known = self.case.known[v.index()];
        if let Some(value) = known {
            self.scale(self.case.likelihood(v, value));
        }
        if let Gate::Table { .. } = gate {
            return self.plain(v, known);
        }
        let steps = Steps::new(self.net, v, &self.case.known);
        if self.folds(v, known) {
            // Few parents or many: a product joins nothing.
            self.rank(v, known);
        } else if steps.open <= 2 {
            self.direct(v, known, &steps);
        } else if self.shape == Shape::Chain {
            self.chain(v, known, &steps);
        } else {
            self.rank(v, known);
        }
    }

    /// Whether a certain answer leaves a single product.
    fn folds(&self, v: Var, known: Option<bool>) -> bool {
        let Some(value) = known else { return false };
        let f = Form::new(self.net, v, &self.case.known);
        let lone = if value { f.alpha } else { Wide::ONE.minus(f.alpha) };
        lone.is_zero()
    }

    fn direct(&mut self, v: Var, known: Option<bool>, steps: &Steps) {
        let mut scope: Vec<u32> = steps.steps.iter().filter_map(|s| s.parent).map(|p| self.of(p)).collect();
        let open = scope.len();
        let mut rows: Vec<[Wide; 2]> = Vec::with_capacity(1 << open);
        for states in 0..1_usize << open {
            rows.push(steps.run((0..open).map(|i| states >> i & 1 == 1)));
        }
        let cells: Vec<Wide> = match known {
            Some(value) => rows.iter().map(|r| r[usize::from(value)]).collect(),
            None => {
                scope.push(self.of(v));
                rows.iter().map(|r| r[0]).chain(rows.iter().map(|r| r[1])).collect()
            }
        };
        self.table(scope, cells);
    }

    /// A plain table, the rows that what is known rules out left out.
    fn plain(&mut self, v: Var, known: Option<bool>) {
        let open = |p: &Var| self.case.known[p.index()].is_none();
        // The last parent changes fastest in a table of the net, the first of a scope in one of the model.
        let parents: Vec<Var> = self.net.parents(v).map(|(p, _)| p).filter(open).collect();
        let mut scope: Vec<u32> = parents.iter().rev().map(|p| self.of(*p)).collect();
        let rows: Vec<f64> = self.net.open_rows(v, &self.case.known).map(|(_, p)| p).collect();
        let present = rows.iter().map(|p| Wide::from_f64(*p));
        let absent = rows.iter().map(|p| Wide::complement(*p));
        let cells: Vec<Wide> = match known {
            Some(true) => present.collect(),
            Some(false) => absent.collect(),
            None => {
                scope.push(self.of(v));
                absent.chain(present).collect()
            }
        };
        self.table(scope, cells);
    }

    fn table(&mut self, scope: Vec<u32>, cells: Vec<Wide>) {
        match scope.as_slice() {
            [] => self.scale(cells[0]),
            [x] => self.weigh(*x, [cells[0], cells[1]]),
            _ => self.model.tables.push(Table { scope, cells }),
        }
    }

    fn rank(&mut self, v: Var, known: Option<bool>) {
        let f = Form::new(self.net, v, &self.case.known);
        let (a, b) = (f.alpha, f.beta);
        let rest = Wide::ONE.minus(a);
        if f.inhibitors.is_empty() {
            let [c0, c1] = match known {
                Some(true) => [a, b],
                Some(false) => [rest, b.negated()],
                None => [Wide::ONE, Wide::ONE],
            };
            if c0.is_zero() {
                self.scale(c1);
                self.fold(&f.causes);
                return;
            }
            let bit = self.fresh();
            self.pairs(bit, &f.causes);
            match known {
                Some(_) => self.weigh(bit, [c0, c1]),
                None => {
                    let y = self.of(v);
                    self.table(vec![y, bit], vec![rest, a, b.negated(), b]);
                }
            }
            return;
        }
        if known == Some(true) {
            self.fold(&f.inhibitors);
            let bit = self.fresh();
            self.weigh(bit, [a, b]);
            self.pairs(bit, &f.causes);
            return;
        }
        let (held, core) = (self.fresh(), self.fresh());
        self.pairs(held, &f.inhibitors);
        self.pairs(core, &f.causes);
        let (na, nb) = (a.negated(), b.negated());
        if known == Some(false) {
            self.table(vec![held, core], vec![Wide::ONE, na, Wide::ZERO, nb]);
        } else {
            let y = self.of(v);
            let z = Wide::ZERO;
            self.table(vec![y, held, core], vec![Wide::ONE, z, na, a, z, z, nb, b]);
        }
    }

    fn chain(&mut self, v: Var, known: Option<bool>, steps: &Steps) {
        let first = steps.steps.iter().position(|s| s.parent.is_some()).unwrap_or(0);
        let start = steps.steps[..first].iter().fold(steps.start, take);
        let mut previous: Option<u32> = None;
        let mut at = first;
        while at < steps.steps.len() {
            let next = (at + 1..steps.steps.len()).find(|&i| steps.steps[i].parent.is_some());
            let group = &steps.steps[at..next.unwrap_or(steps.steps.len())];
            let x = group[0].parent.map_or(NONE, |p| self.of(p));
            let mut rows = Vec::new();
            let sources: &[[Wide; 2]] =
                if previous.is_some() { &[[Wide::ONE, Wide::ZERO], [Wide::ZERO, Wide::ONE]] } else { &[start] };
            for state in [false, true] {
                for &from in sources {
                    let mut r = from;
                    for (i, s) in group.iter().enumerate() {
                        if i > 0 || s.at == state {
                            r = take(r, s);
                        }
                    }
                    rows.push(r);
                }
            }
            let mut scope: Vec<u32> = previous.into_iter().collect();
            scope.push(x);
            let cells = match (next, known) {
                (None, Some(value)) => rows.iter().map(|r| r[usize::from(value)]).collect(),
                _ => {
                    let z = if next.is_none() { self.of(v) } else { self.fresh() };
                    scope.push(z);
                    previous = Some(z);
                    rows.iter().map(|r| r[0]).chain(rows.iter().map(|r| r[1])).collect()
                }
            };
            self.table(scope, cells);
            at = next.unwrap_or(steps.steps.len());
        }
    }

    fn finish(mut self) -> Model {
        const FAR: i64 = 200;
        for u in &mut self.model.unary {
            let (m0, m1) = (u[0].magnitude(), u[1].magnitude());
            if let Some(m) = m0.max(m1) {
                *u = [u[0].lowered(m), u[1].lowered(m)];
                self.model.constant = self.model.constant.times(Wide::ONE.lowered(-m));
            }
            if let (Some(a), Some(b)) = (m0, m1) {
                self.model.extreme |= (a - b).abs() > FAR;
            }
        }
        for t in &self.model.tables {
            let all: Vec<i64> = t.cells.iter().filter_map(|c| c.magnitude()).collect();
            let (low, high) = (all.iter().min(), all.iter().max());
            self.model.extreme |= matches!((low, high), (Some(l), Some(h)) if h - l > FAR || *h < -FAR);
        }
        self.model
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::NetBuilder;

    /// Three causing and two inhibiting parents.
    fn gate(gate: Gate) -> (Net, Var) {
        let mut b = NetBuilder::new();
        let parents: Vec<Var> = (0..5).map(|_| b.add(Gate::Root { prior: 0.5 }).expect("sound")).collect();
        let y = b.add(gate).expect("sound");
        for (i, p) in parents.iter().enumerate() {
            let effect = if i < 3 { Effect::Causes } else { Effect::Inhibits };
            b.link(*p, y, 0.15 * (i + 1) as f64, effect).expect("sound");
        }
        (b.build().expect("sound"), y)
    }

    #[test]
    fn every_gate_is_the_sum_of_two_products() {
        for kind in [Gate::AnyOf { leak: 0.07 }, Gate::AllOf { leak: 0.07 }, Gate::AllOf { leak: 0.0 }] {
            let (net, y) = gate(kind);
            // Any parent may be settled beforehand.
            for settled in 0..243_u32 {
                let known: Vec<Option<bool>> = (0..6)
                    .map(|i| match settled / 3_u32.pow(i) % 3 {
                        _ if i == 5 => None,
                        0 => Some(false),
                        1 => Some(true),
                        _ => None,
                    })
                    .collect();
                let f = Form::new(&net, y, &known);
                for states in 0..32_u32 {
                    let value = |v: Var| known[v.index()].unwrap_or(states >> v.0 & 1 == 1);
                    let product = |list: &[Weight]| {
                        list.iter().filter(|w| value(w.var) == w.at).map(|w| 1.0 - w.strength).product::<f64>()
                    };
                    let got = product(&f.inhibitors) * (f.alpha.to_f64() + f.beta.to_f64() * product(&f.causes));
                    assert!((got - net.present_given(y, value)).abs() < 1e-14);
                }
            }
        }
    }

    #[test]
    fn steps_without_signs_give_the_same_chances() {
        for kind in [Gate::AnyOf { leak: 0.07 }, Gate::AllOf { leak: 0.07 }] {
            let (net, y) = gate(kind);
            let steps = Steps::new(&net, y, &[None; 6]);
            for states in 0..32_u32 {
                let value = |i: u32| states >> i & 1 == 1;
                let [absent, present] = steps.run((0..5).map(value));
                let wanted = net.present_given(y, |v| value(v.0));
                assert!((present.to_f64() - wanted).abs() < 1e-14);
                assert!((absent.plus(present).to_f64() - 1.0).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn a_certain_no_costs_no_variable() {
        let mut b = NetBuilder::new();
        let y = b.add(Gate::AnyOf { leak: 0.1 }).expect("sound");
        for _ in 0..9 {
            let p = b.add(Gate::Root { prior: 0.1 }).expect("sound");
            b.link(p, y, 0.5, Effect::Causes).expect("sound");
        }
        let net = b.build().expect("sound");
        for (finding, hidden) in [(crate::inference::Finding::not_seen(y), 0), (crate::inference::Finding::seen(y), 1)]
        {
            let case = Case::new(&net, &[finding]).expect("possible");
            let model = build(&net, &case, &[true; 10], &[false; 10], Shape::Rank);
            assert_eq!(model.unary.len(), 9 + hidden);
            assert!(model.tables.is_empty());
        }
    }
}
