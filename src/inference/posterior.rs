//! Posteriors of everything, exact where the work allows.
//!
//! Takes a net and evidence, gives a [`Posterior`]. Variables the evidence bears on come from one
//! elimination; those below it (signs not looked at yet) are read off the same tables by redoing
//! only the paths from their parents to where these meet, or, when conditions lie between, from an
//! elimination that takes these conditions in.

use super::Trouble;
use super::bounds;
use super::eliminate::{Plan, Tape, neighbours};
use super::evidence::{Case, Evidence};
use super::gates::{Form, Model, NONE, Shape, Weight, build, indicators};
use super::number::{Dd, Number, Wide};
use super::order::{Part, parts};
use super::relevance::{add_ancestors, ancestors};
use super::terms::{Term, ranks};
use crate::graph::net::{Gate, Net, Var};

/// How much work one elimination may take.
#[derive(Copy, Clone, Eq, PartialEq, Debug)]
pub struct Limits {
    /// Table cells of one elimination, counted before it starts. A cell costs a few dozen
    /// floating-point operations and up to 16 bytes.
    pub cells: u64,
    /// Where an exact answer would take more, bounds may take this many times as many cells in all.
    pub effort: u32,
}

impl Default for Limits {
    /// 2²² cells: under a second and under 150 MB on anything current; bounds may take as long as two such answers.
    fn default() -> Self {
        Limits { cells: 1 << 22, effort: 2 }
    }
}

impl Limits {
    /// So many cells, and the usual effort for bounds.
    pub fn cells(cells: u64) -> Limits {
        Limits { cells, ..Limits::default() }
    }
}

/// A probability, or guaranteed bounds on it.
#[derive(Copy, Clone, PartialEq, Debug)]
pub struct Spread {
    /// Not less than this.
    pub low: f64,
    /// Not more than this.
    pub high: f64,
}

impl Spread {
    /// An exact probability; rounding beyond 0 and 1 is cut off.
    pub(crate) fn exact(p: f64) -> Spread {
        let p = if p.is_nan() {
            return Spread { low: 0.0, high: 1.0 };
        } else {
            p.clamp(0.0, 1.0)
        };
        // The clamp keeps a negative nought; the sum drops it.
        Spread { low: p + 0.0, high: p + 0.0 }
    }

    /// The probability, or the middle of the bounds.
    pub fn value(&self) -> f64 {
        if self.is_exact() { self.low } else { 0.5 * (self.low + self.high) }
    }

    /// Whether this is a probability and not a pair of bounds.
    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }
}

/// What the computation took, in counts that do not depend on the machine.
#[derive(Copy, Clone, Eq, PartialEq, Debug, Default)]
pub struct Work {
    /// Table cells of all eliminations.
    pub cells: u64,
    /// Bits of the widest table.
    pub width: u32,
    /// Variables summed out for what the evidence bears on, hidden bits included.
    pub variables: u32,
}

impl Work {
    pub(crate) fn add(&mut self, cells: u64, width: u32) {
        self.cells = self.cells.saturating_add(cells);
        self.width = self.width.max(width);
    }
}

/// What the evidence says.
#[derive(Clone, PartialEq, Debug)]
pub struct Posterior {
    /// Probability of being present: by variable for [`Engine::posterior`], in the order of the
    /// targets for [`Engine::posterior_of`].
    pub present: Vec<Spread>,
    /// Natural logarithm of the probability of the evidence; an upper bound when not exact.
    pub ln_evidence: f64,
    /// Lower bound on the same; equal to it when exact, possibly minus infinity when not.
    pub ln_evidence_low: f64,
    /// What it took.
    pub work: Work,
}

impl Posterior {
    /// Whether every probability is exact.
    pub fn is_exact(&self) -> bool {
        self.ln_evidence_low == self.ln_evidence && self.present.iter().all(Spread::is_exact)
    }
}

impl Posterior {
    /// What two posteriors of the same question know together: both bounds hold, so the narrower does.
    fn met(mut self, other: &Posterior) -> Posterior {
        for (own, other) in self.present.iter_mut().zip(&other.present) {
            *own = Spread { low: own.low.max(other.low), high: own.high.min(other.high) };
        }
        self.ln_evidence = self.ln_evidence.min(other.ln_evidence);
        self.ln_evidence_low = self.ln_evidence_low.max(other.ln_evidence_low);
        self.work.add(other.work.cells, other.work.width);
        self
    }
}

/// Answers questions about one net.
#[derive(Copy, Clone, Debug)]
pub struct Engine<'n> {
    pub(crate) net: &'n Net,
}

/// A pass in the arithmetic it needed.
pub(crate) enum Pass {
    Double(Tape<Dd>),
    Wide(Tape<Wide>),
}

/// A solved question.
pub(crate) struct Solved {
    pub model: Model,
    pub plan: Plan,
    pub pass: Pass,
    /// Probability of the evidence, tangled parts left out.
    pub whole: Wide,
    /// Net variables of each part that was too tangled.
    pub tangled: Vec<Vec<Var>>,
    /// The plain `f64` pass agreed.
    pub plain_agrees: bool,
}

/// Difference between plain and double-double posteriors above which signed arithmetic is dropped.
/// A difference d in `f64` means errors of about d · 1e-16 in double-double.
const PART_COMPANY: f64 = 1e-5;

/// Difference between plain and double-double posteriors up to which plain `f64` is good enough for look-ahead.
pub(crate) const GOOD: f64 = 1e-8;

/// A cell of wide numbers costs as much as this many in double-double.
pub(crate) const WIDE_COST: u64 = 8;

/// Runs the parts in double-double with the check against plain `f64`. `None`: not to be trusted.
/// The flag tells whether plain `f64` is good enough for look-ahead.
pub(crate) fn run(plan: &Plan, model: &Model) -> Option<(Tape<Dd>, Wide, bool)> {
    if model.extreme {
        return None;
    }
    let (mut tape, whole) = Tape::<Dd>::forward(plan, model);
    let (mut plain, plain_whole) = Tape::<f64>::forward(plan, model);
    if !(whole.is_positive() && plain_whole.is_positive()) {
        return None;
    }
    tape.reverse(plan);
    plain.reverse(plan);
    let mut apart = (whole.ln() - plain_whole.ln()).abs();
    for v in 0..model.unary.len() as u32 {
        let (Some(m), Some(p)) = (tape.marginal(plan, v), plain.marginal(plan, v)) else {
            continue;
        };
        if !(m[0].is_finite() && m[1].is_finite() && p[0].is_finite() && p[1].is_finite()) {
            return None;
        }
        apart = apart.max((m[1].hi - p[1]).abs()).max((m[0].hi - p[0]).abs());
    }
    (apart <= PART_COMPANY).then_some((tape, whole, apart <= GOOD))
}

impl Solved {
    /// Marginal of a variable of the model, when its part was solved.
    pub(crate) fn marginal(&self, model_var: u32) -> Option<f64> {
        let share = |m: [Wide; 2]| m[1].times(m[0].plus(m[1]).inverse()).to_f64();
        match &self.pass {
            Pass::Double(t) => t.marginal(&self.plan, model_var).map(|m| share(m.map(|x| x.widen(0)))),
            Pass::Wide(t) => t.marginal(&self.plan, model_var).map(share),
        }
    }

    /// Expected product of the weights, when all their variables were solved or lie outside.
    fn expect(&self, net: &Net, weights: &[Weight]) -> Option<Wide> {
        let mut outside = Wide::ONE;
        let mut inside = Vec::with_capacity(weights.len());
        for w in weights {
            let mut own = [Wide::ONE; 2];
            own[usize::from(w.at)] = Wide::complement(w.strength);
            let m = self.model.of[w.var.index()];
            if m == NONE {
                let Gate::Root { prior } = net.gate(w.var) else {
                    return None;
                };
                let absent = Wide::complement(prior).times(own[0]);
                outside = outside.times(absent.plus(Wide::from_f64(prior).times(own[1])));
            } else if self.plan.place[m as usize] == NONE {
                return None;
            } else {
                inside.push((m, own));
            }
        }
        if inside.is_empty() {
            return Some(outside);
        }
        Some(outside.times(match &self.pass {
            Pass::Wide(t) => t.expect(&self.plan, &inside),
            Pass::Double(t) => {
                let plain: Vec<_> = inside.iter().map(|(v, w)| (*v, w.map(Dd::from_wide))).collect();
                t.expect(&self.plan, &plain).widen(0)
            }
        }))
    }

    /// Probability of a gate below others that take no part either, when that takes few terms.
    fn far_below(&self, net: &Net, case: &Case, rank: &[u32], var: Var) -> Option<f64> {
        const TERMS: usize = 16;
        let mut p = Dd::ZERO;
        for term in Term::expand(net, case, &self.model, rank, var, TERMS)? {
            let (coefficient, weights) = term.on(net, &self.model);
            if weights.iter().any(|w| self.plan.place[w.0 as usize] == NONE) {
                return None;
            }
            let e = match (&self.pass, weights.as_slice()) {
                (_, []) => Dd::ONE,
                (Pass::Wide(_), _) => return None,
                (Pass::Double(t), _) => {
                    let weights: Vec<_> = weights.iter().map(|(v, w)| (*v, w.map(Dd::from))).collect();
                    t.expect(&self.plan, &weights)
                }
            };
            p = p.plus(e.times(Dd::from(coefficient)));
        }
        Some(p.hi)
    }

    /// Probability of a gate that takes no part itself.
    fn below(&self, net: &Net, case: &Case, var: Var) -> Option<f64> {
        if let Gate::Table { .. } = net.gate(var) {
            let mut p = Wide::ZERO;
            for (state, present) in net.open_rows(var, &case.known).filter(|r| r.1 > 0.0) {
                p = p.plus(Wide::from_f64(present).times(self.expect(net, &indicators(net, case, var, state))?));
            }
            return Some(p.to_f64());
        }
        let f = Form::new(net, var, &case.known);
        let mut p = Wide::ZERO;
        if !f.alpha.is_zero() {
            p = f.alpha.times(self.expect(net, &f.inhibitors)?);
        }
        let mut all = f.inhibitors;
        all.extend(f.causes);
        p = p.plus(f.beta.times(self.expect(net, &all)?));
        Some(p.to_f64())
    }
}

/// Leaves out the largest parts until the rest fits.
fn split(mut list: Vec<Part>, limit: u64) -> (Vec<Part>, Vec<Part>) {
    let mut sum: u64 = list.iter().fold(0, |s, p| s.saturating_add(p.cells));
    let mut out = Vec::new();
    while sum > limit {
        let Some(i) = (0..list.len()).max_by_key(|&i| list[i].cells) else {
            break;
        };
        out.push(list.swap_remove(i));
        sum = list.iter().fold(0, |s, p| s.saturating_add(p.cells));
    }
    (list, out)
}

impl<'n> Engine<'n> {
    /// An engine for the net.
    pub fn new(net: &'n Net) -> Engine<'n> {
        Engine { net }
    }

    /// The net it answers for.
    pub fn net(&self) -> &'n Net {
        self.net
    }

    /// Posterior of every variable of the net, in double-double.
    ///
    /// # Errors
    /// [`Trouble::Clash`] for impossible evidence; [`Trouble::UnknownVariable`] and
    /// [`Trouble::NotALikelihood`] for unsound findings. Too much work is no error: it gives bounds.
    pub fn posterior(&self, evidence: &Evidence, limits: &Limits) -> Result<Posterior, Trouble> {
        let all: Vec<Var> = self.net.vars().collect();
        self.posterior_of(evidence, &all, limits)
    }

    /// Posteriors of the targets only, in their order. Targets that are roots (faults) or above the
    /// evidence cost nothing extra; signs not answered yet do.
    ///
    /// # Errors
    /// As [`posterior`](Self::posterior), and [`Trouble::UnknownTarget`].
    pub fn posterior_of(&self, evidence: &Evidence, targets: &[Var], limits: &Limits) -> Result<Posterior, Trouble> {
        let net = self.net;
        if let Some(&var) = targets.iter().find(|t| !net.contains(**t)) {
            return Err(Trouble::UnknownTarget { var });
        }
        let case = Case::new(net, evidence.as_slice())?;
        let inside = ancestors(net, case.touched.iter().copied());
        let keep = vec![false; net.len()];
        let solved = self.solve(&case, &inside, &keep, None, limits);
        if !solved.whole.is_positive() {
            // Only when logic gave up: sums without signs are nought exactly when impossible.
            return Err(Trouble::Clash { findings: (0..evidence.len()).collect() });
        }
        let mut work = Work { variables: solved.model.unary.len() as u32, ..Work::default() };
        work.add(solved.plan.cells, solved.plan.width);
        let mut present: Vec<Option<Spread>> = vec![None; net.len()];
        for v in net.vars() {
            let i = v.index();
            if let Some(known) = case.known[i] {
                present[i] = Some(Spread::exact(f64::from(u8::from(known))));
            } else if solved.model.of[i] != NONE {
                present[i] = solved.marginal(solved.model.of[i]).map(Spread::exact);
            } else if let Gate::Root { prior } = net.gate(v) {
                present[i] = Some(Spread::exact(prior));
            }
        }
        let mut high = Some(solved.whole);
        let mut low = solved.whole;
        for part in &solved.tangled {
            let b = bounds::bound(net, &case, &inside, part, solved.model.constant, limits);
            high = high.zip(b.high).map(|(a, b)| a.times(b));
            low = low.times(b.low);
            work.add(b.cells, b.width);
            for (v, s) in part.iter().zip(b.present) {
                present[v.index()] = Some(s);
            }
        }
        self.lower(&case, &inside, &solved, targets, limits, &mut present, &mut work);
        let whole = Spread { low: 0.0, high: 1.0 };
        Ok(Posterior {
            present: targets.iter().map(|t| present[t.index()].unwrap_or(whole)).collect(),
            ln_evidence: match high {
                Some(h) if solved.tangled.is_empty() => h.ln(),
                Some(h) => h.ln().min(case.ln_most()),
                None => case.ln_most(),
            },
            ln_evidence_low: low.ln(),
            work,
        })
    }

    /// As [`posterior_of`](Self::posterior_of), with twice the effort each time for as long as the answer is not exact and `go_on` says so:
    /// bounds that tighten with time, for whoever has a clock.
    ///
    /// # Errors
    /// As [`posterior_of`](Self::posterior_of).
    pub fn tighten(
        &self,
        evidence: &Evidence,
        targets: &[Var],
        limits: &Limits,
        mut go_on: impl FnMut(&Posterior) -> bool,
    ) -> Result<Posterior, Trouble> {
        let mut limits = *limits;
        let mut best = self.posterior_of(evidence, targets, &limits)?;
        while !best.is_exact() && limits.effort < u32::MAX && go_on(&best) {
            limits.effort = limits.effort.max(1).saturating_mul(2);
            best = best.met(&self.posterior_of(evidence, targets, &limits)?);
        }
        Ok(best)
    }

    /// Solves the model over the variables inside, leaving out parts that would exceed the limit.
    /// Only parts with one of `wanted` are solved, when given.
    pub(crate) fn solve(
        &self,
        case: &Case,
        inside: &[bool],
        keep: &[bool],
        wanted: Option<&[Var]>,
        limits: &Limits,
    ) -> Solved {
        let mut shape = Shape::Rank;
        loop {
            let model = build(self.net, case, inside, keep, shape);
            let cost = if shape == Shape::Rank { 1 } else { WIDE_COST };
            let (list, out) = split(order_parts(&model, wanted, limits), limits.cells / cost);
            let plan = Plan::new(&model, &list);
            let (pass, whole, plain_agrees) = if shape == Shape::Rank {
                match run(&plan, &model) {
                    Some((tape, whole, plain)) => (Pass::Double(tape), whole, plain),
                    None => {
                        shape = Shape::Chain;
                        continue;
                    }
                }
            } else {
                let (mut tape, whole) = Tape::<Wide>::forward(&plan, &model);
                tape.reverse(&plan);
                (Pass::Wide(tape), whole, false)
            };
            let mut net_var = vec![None; model.unary.len()];
            for v in self.net.vars() {
                if model.of[v.index()] != NONE {
                    net_var[model.of[v.index()] as usize] = Some(v);
                }
            }
            let names = |p: &Part| p.turns.iter().filter_map(|t| net_var[t.var as usize]).collect::<Vec<_>>();
            let tangled = out.iter().map(names).collect();
            return Solved { model, plan, pass, whole, tangled, plain_agrees };
        }
    }

    /// Fills in targets below the evidence.
    #[allow(clippy::too_many_arguments)]
    fn lower(
        &self,
        case: &Case,
        inside: &[bool],
        solved: &Solved,
        targets: &[Var],
        limits: &Limits,
        present: &mut [Option<Spread>],
        work: &mut Work,
    ) {
        let net = self.net;
        let mut asked = vec![false; net.len()];
        targets.iter().for_each(|t| asked[t.index()] = true);
        // In topological order, so that members of a group tend to share what lies above them.
        let mut later = Vec::new();
        let rank = ranks(net);
        for &v in net.order() {
            let i = v.index();
            if !asked[i] || present[i].is_some() {
                continue;
            }
            let through = |p: Var| {
                case.known[p.index()].is_none() && !inside[p.index()] && !matches!(net.gate(p), Gate::Root { .. })
            };
            if net.parents(v).any(|(p, _)| through(p)) {
                match solved.far_below(net, case, &rank, v) {
                    Some(p) => present[i] = Some(Spread::exact(p)),
                    None => later.push(v),
                }
            } else {
                let p = solved.below(net, case, v).map(Spread::exact);
                present[i] = Some(p.unwrap_or_else(|| bounds::widest(net, case, v)));
            }
        }
        let budget = limits.cells.min((solved.plan.cells * 4).max(1 << 14));
        let mut groups = vec![later];
        while let Some(group) = groups.pop() {
            if group.is_empty() {
                continue;
            }
            let (within, keep) = self.group(case, inside, &group);
            let model = build(net, case, &within, &keep, Shape::Rank);
            let wanted = wanted(net, &group);
            let list = order_parts(&model, Some(&wanted), limits);
            let cells = list.iter().fold(0_u64, |s, p| s.saturating_add(p.cells));
            if group.len() > 1 && cells > budget {
                let (a, b) = group.split_at(group.len() / 2);
                groups.push(b.to_vec());
                groups.push(a.to_vec());
                continue;
            }
            let solved = self.solve(case, &within, &keep, Some(&wanted), limits);
            work.add(solved.plan.cells, solved.plan.width);
            for v in group {
                let m = solved.model.of[v.index()];
                let p = if m == NONE { solved.below(net, case, v) } else { solved.marginal(m) };
                present[v.index()] = Some(p.map_or_else(|| bounds::widest(net, case, v), Spread::exact));
            }
        }
    }

    /// What must take part so that the gates of a group can be read: the set, and the gates to keep.
    fn group(&self, case: &Case, inside: &[bool], group: &[Var]) -> (Vec<bool>, Vec<bool>) {
        let net = self.net;
        let mut within = inside.to_vec();
        let mut open = Vec::new();
        let mut keep = vec![false; net.len()];
        add_ancestors(net, &mut within, &mut open, group.iter().copied());
        for &v in group {
            for (p, _) in net.parents(v) {
                let gate = !matches!(net.gate(p), Gate::Root { .. });
                keep[p.index()] |= gate && case.known[p.index()].is_none();
            }
        }
        (within, keep)
    }
}

/// A group's gates and their parents.
fn wanted(net: &Net, group: &[Var]) -> Vec<Var> {
    let parents = group.iter().flat_map(|v| net.parents(*v).map(|p| p.0));
    group.iter().copied().chain(parents).collect()
}

/// Orders the parts of a model that hold one of the wanted net variables.
pub(crate) fn order_parts(model: &Model, wanted: Option<&[Var]>, limits: &Limits) -> Vec<Part> {
    let flags = wanted.map(|w| {
        let mut flags = vec![false; model.unary.len()];
        for v in w {
            if model.of[v.index()] != NONE {
                flags[model.of[v.index()] as usize] = true;
            }
        }
        flags
    });
    parts(&neighbours(model), &model.root, flags.as_deref(), limits.cells)
}
