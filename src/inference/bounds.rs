//! Guaranteed bounds where an exact answer would take too much work.
//!
//! Takes a part of the net that is too tangled and splits it by cases: an uncertain cause present, and
//! absent. A case that has become simple is solved exactly; of any other an upper bound is known,
//! because the answers that tangle it are replaced by bounds that touch one parent at a time (`relax`).
//! The case with the largest bound is split next, best first (compare Henrion 1991, arXiv 1303.5721;
//! Poole 1993), until the work limit is used up or nothing is left open. What was solved bounds every
//! posterior from below, what is still open bounds how much it can be moved. The bounds always hold;
//! they are wide when little could be solved, and never pretend otherwise.

use std::collections::BTreeMap;

use super::eliminate::{Plan, Tape};
use super::evidence::Case;
use super::gates::{Form, NONE, Shape, build};
use super::number::{Dd, Number, Wide};
use super::posterior::{Limits, Spread, WIDE_COST, order_parts, run};
use super::relax;
use crate::graph::net::{Gate, Net, Var};

/// One elimination takes at most this share of the limit.
const SHARE: u64 = 8;
/// Looking at a case costs at least as much as this many cells for each variable of its model.
const OVERHEAD: u64 = 4;
/// Times the tangents of a case are laid anew where the bound before says.
const ROUNDS: usize = 2;
/// What is open no longer counts beside what is solved.
const NOTHING: f64 = 1e-14;
/// No shuffled orders here: a case is looked at too often.
const QUICK_ORDER: Limits = Limits { cells: 0, effort: 0 };
/// Rounding allowed for, relative.
const SLACK: f64 = 1e-12;

/// What is known of a tangled part.
pub(crate) struct Bound {
    /// Upper bound on the part's factor in the probability of the evidence, when there is one.
    pub high: Option<Wide>,
    /// Lower bound on the same.
    pub low: Wide,
    /// By variable of the part.
    pub present: Vec<Spread>,
    pub cells: u64,
    pub width: u32,
}

/// A case that is still open.
struct Open {
    fixed: Vec<(Var, bool)>,
    /// Bounds on its probability jointly with each variable absent and present.
    above: Vec<[Wide; 2]>,
    whole: Wide,
    branch: Option<Var>,
    /// Where the tangents of its answers were laid.
    touches: BTreeMap<Var, f64>,
}

enum Outcome {
    Solved { whole: Wide, present: Vec<f64> },
    Bounded { whole: Wide, above: Vec<[Wide; 2]>, branch: Option<Var>, touches: BTreeMap<Var, f64> },
    Nothing,
}

struct Splitter<'a> {
    net: &'a Net,
    case: &'a Case,
    inside: &'a [bool],
    part: &'a [Var],
    /// The constant of the unsplit model, which is counted elsewhere.
    unit: Wide,
    cap: u64,
    cells: u64,
    width: u32,
}

/// Bounds the variables of one tangled part. `unit` is the constant of the unsplit model.
pub(crate) fn bound(net: &Net, case: &Case, inside: &[bool], part: &[Var], unit: Wide, limits: &Limits) -> Bound {
    let cap = (limits.cells / SHARE).max(OVERHEAD * part.len() as u64);
    let mut s = Splitter { net, case, inside, part, unit: unit.inverse(), cap, cells: 0, width: 0 };
    let mut solved = vec![[Wide::ZERO; 2]; part.len()];
    let mut total = Wide::ZERO;
    let mut open: Vec<Open> = Vec::new();
    let start = s.look(&[], BTreeMap::new());
    match start {
        Outcome::Nothing => {
            return Bound {
                high: None,
                low: Wide::ZERO,
                present: vec![Spread { low: 0.0, high: 1.0 }; part.len()],
                cells: s.cells,
                width: s.width,
            };
        }
        other => s.enter(other, Vec::new(), None, &mut solved, &mut total, &mut open),
    }
    let budget = limits.cells.saturating_mul(u64::from(limits.effort));
    while s.cells < budget {
        let rest = open.iter().fold(Wide::ZERO, |t, o| t.plus(o.whole));
        if rest.times(total.inverse()).to_f64() < NOTHING && total.is_positive() {
            break;
        }
        // Until something is solved, go deep; then best first.
        let depth = |o: &Open| if total.is_zero() { o.fixed.len() } else { 0 };
        let next = (0..open.len())
            .filter(|&i| open[i].branch.is_some())
            .max_by(|&a, &b| depth(&open[a]).cmp(&depth(&open[b])).then(less(open[a].whole, open[b].whole)));
        let Some(parent) = next.map(|i| open.swap_remove(i)) else {
            break;
        };
        let Some(branch) = parent.branch else { break };
        for side in [false, true] {
            let mut fixed = parent.fixed.clone();
            fixed.push((branch, side));
            let outcome = s.look(&fixed, parent.touches.clone());
            let most = part.iter().position(|&v| v == branch).map(|i| parent.above[i]);
            let most = most.map_or(parent.whole, |m| m[usize::from(side)]);
            s.enter(outcome, fixed, Some((&parent, most)), &mut solved, &mut total, &mut open);
        }
    }
    let rest = open.iter().fold(Wide::ZERO, |t, o| t.plus(o.whole));
    let present = (0..part.len())
        .map(|i| {
            let free = open.iter().fold([Wide::ZERO; 2], |t, o| [t[0].plus(o.above[i][0]), t[1].plus(o.above[i][1])]);
            let share = |a: Wide, b: Wide| {
                let sum = a.plus(b);
                sum.is_positive().then(|| a.times(sum.inverse()).to_f64())
            };
            let low = share(solved[i][1], solved[i][0].plus(free[0])).unwrap_or(0.0);
            let high = share(solved[i][1].plus(free[1]), solved[i][0]).unwrap_or(1.0);
            Spread { low: (low - SLACK).clamp(0.0, 1.0), high: (high + SLACK).clamp(0.0, 1.0) }
        })
        .collect();
    Bound { high: Some(total.plus(rest)), low: total, present, cells: s.cells, width: s.width }
}

/// Whether another round is left.
fn found_again(rounds: &mut usize) -> bool {
    let left = *rounds > 0;
    *rounds = rounds.saturating_sub(1);
    left
}

fn less(a: Wide, b: Wide) -> std::cmp::Ordering {
    a.ln().total_cmp(&b.ln())
}

fn lesser(a: Wide, b: Wide) -> Wide {
    if less(a, b).is_gt() { b } else { a }
}

/// Rounding can leave a sum a trace below nought.
fn cut(x: Wide) -> Wide {
    if x.is_positive() { x } else { Wide::ZERO }
}

impl Splitter<'_> {
    fn fixed_case(&self, fixed: &[(Var, bool)]) -> Case {
        let mut case = self.case.clone();
        for (v, side) in fixed {
            case.known[v.index()] = Some(*side);
        }
        case
    }

    /// Solves the case, or bounds it by relaxing answers.
    fn look(&mut self, fixed: &[(Var, bool)], mut touches: BTreeMap<Var, f64>) -> Outcome {
        let case = self.fixed_case(fixed);
        let mut relaxed: Vec<Var> = Vec::new();
        let mut best: Option<(Wide, Vec<[Wide; 2]>, Vec<f64>)> = None;
        let mut rounds = ROUNDS;
        loop {
            let mut eased = case.clone();
            let raised = self.ease(&mut eased, &relaxed, &touches);
            let (cells, found) = self.solve(&eased);
            if let Some((whole, present)) = found {
                let whole = cut(whole).times(self.unit).times(raised);
                if relaxed.is_empty() {
                    return Outcome::Solved { whole, present };
                }
                let above: Vec<[Wide; 2]> = present
                    .iter()
                    .map(|&p| {
                        if p.is_nan() {
                            [whole, whole]
                        } else {
                            [whole.times(Wide::complement(p)), whole.times(Wide::from_f64(p))]
                        }
                    })
                    .collect();
                // Every round's bound holds, so the least of them does.
                let (least, low) = match best.take() {
                    None => (whole, above),
                    Some((w, before, _)) => {
                        let low = before.iter().zip(&above).map(|(a, b)| [lesser(a[0], b[0]), lesser(a[1], b[1])]);
                        (lesser(w, whole), low.collect())
                    }
                };
                best = Some((least, low, present));
            }
            match &best {
                Some((_, _, present)) if found_again(&mut rounds) => {
                    let chance = |v: Var| self.chance(&case, present, v);
                    touches = relaxed.iter().map(|&v| (v, relax::touch(self.net, &case, v, chance))).collect();
                }
                Some(_) => break,
                None => {
                    // An answer relaxed takes about a bit off the width: several at once when far off.
                    let far = (cells / self.cap).max(1).ilog2();
                    for more in 0..1 + far / 3 {
                        match self.largest(&eased, &relaxed) {
                            Some(next) => relaxed.push(next),
                            None if more == 0 => return Outcome::Nothing,
                            None => break,
                        }
                    }
                }
            }
        }
        let Some((whole, above, present)) = best else { return Outcome::Nothing };
        let branch = self.branch(&case, &present, &relaxed);
        Outcome::Bounded { whole, above, branch, touches }
    }

    /// Puts bounds in the place of the relaxed answers; gives the constant they carry.
    fn ease(&self, case: &mut Case, relaxed: &[Var], touches: &BTreeMap<Var, f64>) -> Wide {
        let mut raised = Wide::ONE;
        let bounds: Vec<_> = relaxed
            .iter()
            .map(|&v| {
                let touch = touches.get(&v).copied().unwrap_or(std::f64::consts::LN_2);
                relax::relax(self.net, case, v, touch)
            })
            .collect();
        for (&v, bound) in relaxed.iter().zip(bounds) {
            let at = v.index();
            let most = case.weight[at].map_or(Wide::ONE, |w| if less(w[0], w[1]).is_gt() { w[0] } else { w[1] });
            match bound {
                Some(bound) => {
                    let certain = case.known[at].map_or(Wide::ONE, |side| case.likelihood(v, side));
                    raised = raised.times(certain).times(bound.constant);
                    for (parent, w) in bound.weights {
                        let own = case.weight[parent.index()].get_or_insert([Wide::ONE; 2]);
                        *own = [own[0].times(w[0]), own[1].times(w[1])];
                    }
                }
                None => raised = raised.times(most),
            }
            case.known[at] = None;
            case.weight[at] = None;
        }
        raised
    }

    /// Cells the case needs; and its total and the chance of each variable of the part, if that is not too much.
    fn solve(&mut self, case: &Case) -> (u64, Option<(Wide, Vec<f64>)>) {
        let keep = vec![false; self.net.len()];
        let model = build(self.net, case, self.inside, &keep, Shape::Rank);
        let list = order_parts(&model, Some(self.part), &QUICK_ORDER);
        let cells = list.iter().fold(0_u64, |s, p| s.saturating_add(p.cells));
        self.cells = self.cells.saturating_add(OVERHEAD * model.unary.len() as u64);
        if cells > self.cap {
            return (cells, None);
        }
        self.cells = self.cells.saturating_add(cells);
        let plan = Plan::new(&model, &list);
        self.width = self.width.max(plan.width);
        let found = match run(&plan, &model) {
            Some((tape, whole, _)) => {
                let read = |v: &Var| self.read(case, &plan, &model.of, &tape, *v);
                Some((whole, self.part.iter().map(read).collect()))
            }
            None => self.unsigned(case),
        };
        (cells, found)
    }

    /// Chance of a variable being present by the last bound; of one that dropped out, its prior or an even chance.
    fn chance(&self, case: &Case, present: &[f64], v: Var) -> f64 {
        if let Some(side) = case.known[v.index()] {
            return f64::from(u8::from(side));
        }
        let p = self.part.iter().position(|x| *x == v).map_or(f64::NAN, |i| present[i]);
        match self.net.gate(v) {
            _ if !p.is_nan() => p,
            Gate::Root { prior } => prior,
            _ => 0.5,
        }
    }

    /// What to split by: the cause whose side matters most to relaxed answers and is least certain.
    fn branch(&self, case: &Case, present: &[f64], relaxed: &[Var]) -> Option<Var> {
        let mut touching: BTreeMap<Var, usize> = BTreeMap::new();
        for v in relaxed {
            self.net.parents(*v).for_each(|(p, _)| *touching.entry(p).or_default() += 1);
        }
        let score = |(v, p): (&Var, &f64)| {
            let p = if p.is_nan() { self.chance(case, present, *v) } else { *p };
            let root = matches!(self.net.gate(*v), Gate::Root { .. });
            let joins = 1 + touching.get(v).copied().unwrap_or(0);
            (p.min(1.0 - p) * joins as f64, root, *v)
        };
        let open = self.part.iter().zip(present).filter(|(v, _)| case.known[v.index()].is_none());
        let best =
            |a: &(f64, bool, Var), b: &(f64, bool, Var)| a.1.cmp(&b.1).then(a.0.total_cmp(&b.0)).then(b.2.cmp(&a.2));
        open.map(score).max_by(best).map(|s| s.2)
    }

    /// The case without hidden bits, if that is not too much.
    fn unsigned(&mut self, case: &Case) -> Option<(Wide, Vec<f64>)> {
        let keep = vec![false; self.net.len()];
        let model = build(self.net, case, self.inside, &keep, Shape::Chain);
        let list = order_parts(&model, Some(self.part), &QUICK_ORDER);
        let cells = list.iter().fold(0_u64, |s, p| s.saturating_add(p.cells));
        let cells = cells.saturating_mul(WIDE_COST);
        if cells > self.cap {
            return None;
        }
        self.cells = self.cells.saturating_add(cells);
        let plan = Plan::new(&model, &list);
        let (mut tape, whole) = Tape::<Wide>::forward(&plan, &model);
        tape.reverse(&plan);
        let read = |v: &Var| self.read(case, &plan, &model.of, &tape, *v);
        Some((whole, self.part.iter().map(read).collect()))
    }

    fn read<T: Number<Scale: Default>>(&self, case: &Case, plan: &Plan, of: &[u32], tape: &Tape<T>, v: Var) -> f64 {
        if let Some(side) = case.known[v.index()] {
            return f64::from(u8::from(side));
        }
        let m = (of[v.index()] != NONE).then(|| tape.marginal(plan, of[v.index()])).flatten();
        // A variable that dropped out with an answer: nothing is known of it, and either side of
        // the bound takes the whole.
        m.map_or(f64::NAN, |m| {
            let m = m.map(|x| x.widen(Default::default()));
            m[1].times(m[0].plus(m[1]).inverse()).to_f64().clamp(0.0, 1.0)
        })
    }

    /// The answered variable with the most open parents in the part and nothing below it, not relaxed yet.
    fn largest(&self, case: &Case, relaxed: &[Var]) -> Option<Var> {
        let in_part = |v: Var| case.known[v.index()].is_none() && self.part.contains(&v);
        case.touched
            .iter()
            .copied()
            .filter(|v| case.weight[v.index()].is_some() && !relaxed.contains(v))
            .filter(|v| !self.net.children(*v).any(|(c, _)| self.inside[c.index()]))
            .map(|v| (self.net.parents(v).filter(|(p, _)| in_part(*p)).count(), v))
            .filter(|(n, v)| *n > 1 && relax::joins(self.net, case, *v))
            .max_by_key(|(n, v)| (*n, std::cmp::Reverse(*v)))
            .map(|(_, v)| v)
    }

    fn enter(
        &self,
        outcome: Outcome,
        fixed: Vec<(Var, bool)>,
        parent: Option<(&Open, Wide)>,
        solved: &mut [[Wide; 2]],
        total: &mut Wide,
        open: &mut Vec<Open>,
    ) {
        let limit = |i: usize, side: usize, x: Wide| match parent {
            Some((p, most)) => lesser(lesser(x, most), p.above[i][side]),
            None => x,
        };
        match outcome {
            Outcome::Solved { whole, present } => {
                *total = total.plus(whole);
                for (s, p) in solved.iter_mut().zip(present) {
                    if p.is_nan() {
                        continue;
                    }
                    s[0] = s[0].plus(whole.times(Wide::complement(p)));
                    s[1] = s[1].plus(whole.times(Wide::from_f64(p)));
                }
            }
            Outcome::Bounded { whole, above, branch, touches } => {
                let above = above.iter().enumerate().map(|(i, a)| [limit(i, 0, a[0]), limit(i, 1, a[1])]).collect();
                let whole = parent.map_or(whole, |(_, most)| lesser(whole, most));
                open.push(Open { fixed, above, whole, branch, touches });
            }
            Outcome::Nothing => {
                let Some((p, most)) = parent else { return };
                let above =
                    (0..p.above.len()).map(|i| [lesser(p.above[i][0], most), lesser(p.above[i][1], most)]).collect();
                open.push(Open { fixed, above, whole: most, branch: None, touches: BTreeMap::new() });
            }
        }
    }
}

/// The least and the most a gate's probability can be, whatever its open parents do.
pub(crate) fn widest(net: &Net, case: &Case, var: Var) -> Spread {
    if let Gate::Table { .. } = net.gate(var) {
        let rows = net.open_rows(var, &case.known).map(|(_, p)| p);
        let (low, high) = rows.fold((1.0, 0.0), |(low, high), p| (f64::min(low, p), f64::max(high, p)));
        return Spread { low, high };
    }
    let f = Form::new(net, var, &case.known);
    let least = |list: &[super::gates::Weight]| list.iter().fold(Dd::ONE, |q, w| q.times(Dd::complement(w.strength)));
    let (held, q) = (least(&f.inhibitors), least(&f.causes));
    let (alpha, beta) = (Dd::from_wide(f.alpha), Dd::from_wide(f.beta));
    let ends = [alpha.plus(beta).hi, alpha.plus(beta.times(q)).hi];
    let low = ends[0].min(ends[1]) * held.hi;
    let high = ends[0].max(ends[1]);
    let s = Spread { low: (low - SLACK).clamp(0.0, 1.0), high: (high + SLACK).clamp(0.0, 1.0) };
    if f.causes.is_empty() { Spread::exact(f.beta.to_f64()) } else { s }
}
