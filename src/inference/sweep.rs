//! Look-ahead: what would an answer say, and how likely is it?
//!
//! Takes a fixed state of the evidence ([`Prepared`]) and gives, in plain `f64` and quickly, the
//! chance of further findings and the targets' posteriors after them. A sweep over many candidate
//! signs puts eight of them side by side through one reverse sweep; a sign nobody has looked at yet
//! is then no new variable but a weight on each of its parents. What is shown to a person comes from
//! [`Engine::posterior`], never from here. Where plain `f64` did not agree with double-double at the
//! present state to 1e-8, gates are written as chains without signs; where that does not agree either,
//! every question here is answered the slow and sure way. Joint chances are good to about 1e-8; a
//! posterior after an unlikely finding is as good as that divided by the finding's chance.

use super::Trouble;
use super::eliminate::{Plan, Tape};
use super::evidence::{Case, Evidence, Finding};
use super::gates::{Model, NONE, Shape, build};
use super::posterior::{Engine, GOOD, Limits, Pass, Posterior, Solved, WIDE_COST, order_parts};
use super::relevance::ancestors;
use super::terms::{Term, ranks};
use super::variations::Variations;
use crate::graph::net::{Gate, Net, Var};

/// What further findings would do.
#[derive(Clone, PartialEq, Debug)]
pub struct Glance {
    /// Probability (product of likelihoods, averaged) of the further findings given the base. Nought
    /// when they are impossible.
    pub probability: f64,
    /// Posterior of each target given both; the base posterior when the findings are impossible.
    pub present: Vec<f64>,
}

/// One candidate sign of a sweep.
#[derive(Clone, PartialEq, Debug)]
pub struct Pairwise {
    /// The sign.
    pub check: Var,
    /// P(sign present | base).
    pub present: f64,
    /// P(target present | base, sign present), in the order of the targets; the base posterior when
    /// the sign cannot be present.
    pub given_present: Vec<f64>,
    /// P(target present | base, sign absent), likewise.
    pub given_absent: Vec<f64>,
}

impl Pairwise {
    /// Chance of a reading, and the targets' posteriors after it, by mixing: `likelihoods` are those
    /// of the reading if the sign is absent and if it is present.
    pub fn reading(&self, likelihoods: [f64; 2]) -> Glance {
        let absent = (1.0 - self.present) * likelihoods[0];
        let present = self.present * likelihoods[1];
        let sum = absent + present;
        let mix = |(a, p): (&f64, &f64)| {
            if sum > 0.0 { (a * absent + p * present) / sum } else { a * (1.0 - self.present) + p * self.present }
        };
        Glance { probability: sum, present: self.given_absent.iter().zip(&self.given_present).map(mix).collect() }
    }
}

/// The engine with a fixed state of the evidence.
#[derive(Clone, Debug)]
pub struct Prepared<'n> {
    engine: Engine<'n>,
    evidence: Evidence,
    limits: Limits,
    case: Case,
    ln_evidence: f64,
    cells: u64,
    /// How gates are written so that plain arithmetic can be trusted; none: it cannot.
    plain: Option<Shape>,
}

/// Signs side by side in one sweep.
const LANES: usize = 8;
/// Signs that share one elimination cost at most this many cells, or a multiple of the base.
const GROUP: u64 = 1 << 12;
/// A sign that takes more products of weights than this is never read off the base tables.
const TERMS: usize = 128;
/// What a sweep costs, in nanoseconds on a current machine; only ratios matter: one product of
/// weights per cell, setting tables up per cell, a batch of signs per cell, finding an order.
const COST: [u64; 4] = [4, 60, 28, 300_000];
/// Signs tried together at first where conditions have to be taken in.
const TOGETHER: usize = 12;

impl<'n> Engine<'n> {
    /// Chance of `extra` given the base evidence, and the targets' posteriors given both, in `f64`.
    /// For many questions on one base, [`prepare`](Self::prepare) it first.
    ///
    /// # Errors
    /// As [`prepare`](Self::prepare).
    pub fn lookahead(
        &self,
        base: &Evidence,
        extra: &[Finding],
        targets: &[Var],
        limits: &Limits,
    ) -> Result<Glance, Trouble> {
        self.prepare(base, limits)?.glance(extra, targets)
    }

    /// Fixes the evidence for look-ahead.
    ///
    /// # Errors
    /// The troubles of [`posterior`](Self::posterior), and [`Trouble::TooTangled`] when the evidence
    /// cannot be solved exactly within the limit.
    pub fn prepare(&self, evidence: &Evidence, limits: &Limits) -> Result<Prepared<'n>, Trouble> {
        let case = Case::new(self.net, evidence.as_slice())?;
        let inside = ancestors(self.net, case.touched.iter().copied());
        let keep = vec![false; self.net.len()];
        let solved = self.solve(&case, &inside, &keep, None, limits);
        if !solved.tangled.is_empty() {
            return Err(Trouble::TooTangled { cells: limits.cells.saturating_add(1) });
        }
        if !solved.whole.is_positive() {
            return Err(Trouble::Clash { findings: (0..evidence.len()).collect() });
        }
        let plain = match &solved.pass {
            Pass::Double(_) if solved.plain_agrees => Some(Shape::Rank),
            _ => self.unsigned_agrees(&case, &inside, &solved, limits).then_some(Shape::Chain),
        };
        Ok(Prepared {
            engine: *self,
            evidence: evidence.clone(),
            limits: *limits,
            case,
            ln_evidence: solved.whole.ln(),
            cells: solved.plan.cells,
            plain,
        })
    }
}

impl Engine<'_> {
    /// Whether plain arithmetic without hidden bits, and so without anything to cancel, gives what was solved.
    fn unsigned_agrees(&self, case: &Case, inside: &[bool], solved: &Solved, limits: &Limits) -> bool {
        let model = build(self.net, case, inside, &vec![false; self.net.len()], Shape::Chain);
        let list = order_parts(&model, None, limits);
        let Ok(plan) = Plan::new_within(&model, &list, limits.cells / WIDE_COST) else { return false };
        let (mut tape, whole) = Tape::<f64>::forward(&plan, &model);
        if !whole.is_positive() {
            return false;
        }
        tape.reverse(&plan);
        let agree = |v: Var| {
            let (here, there) = (model.of[v.index()], solved.model.of[v.index()]);
            let own = (here != NONE).then(|| tape.marginal(&plan, here)).flatten().map(share);
            let wanted = (there != NONE).then(|| solved.marginal(there)).flatten();
            own.zip(wanted).is_none_or(|(own, wanted)| (own - wanted).abs() <= GOOD)
        };
        (whole.ln() - solved.whole.ln()).abs() <= GOOD && self.net.vars().all(agree)
    }
}

/// Chance of a variable in the state a pass left it.
fn share(m: [f64; 2]) -> f64 {
    (m[1] / (m[0] + m[1])).clamp(0.0, 1.0)
}

impl<'n> Prepared<'n> {
    /// The evidence it was prepared for.
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// Natural logarithm of the probability of that evidence.
    pub fn ln_evidence(&self) -> f64 {
        self.ln_evidence
    }

    fn net(&self) -> &'n Net {
        self.engine.net
    }

    fn check(&self, vars: &[Var]) -> Result<(), Trouble> {
        match vars.iter().find(|v| !self.net().contains(**v)) {
            Some(&var) => Err(Trouble::UnknownTarget { var }),
            None => Ok(()),
        }
    }

    /// Chance of `extra` given the base, and the targets' posteriors given both. A finding of
    /// `extra` that is unsound is reported by its position after the base findings.
    ///
    /// # Errors
    /// [`Trouble::TooTangled`], [`Trouble::UnknownTarget`], and troubles with unsound findings.
    /// Impossible findings are no error: their probability is nought.
    pub fn glance(&self, extra: &[Finding], targets: &[Var]) -> Result<Glance, Trouble> {
        self.check(targets)?;
        let both = self.evidence.with(extra);
        let (case, possible) = match Case::possible(self.net(), both.as_slice())? {
            Some(case) => (case, true),
            None => (self.case.clone(), false),
        };
        if let Some(g) = self.quick(&case, targets)? {
            let probability = if possible { (g.0 - self.ln_evidence).exp() } else { 0.0 };
            return Ok(Glance { probability, present: g.1 });
        }
        let evidence = if possible { &both } else { &self.evidence };
        let p = self.sure(evidence, targets)?;
        let probability = if possible { (p.ln_evidence - self.ln_evidence).exp() } else { 0.0 };
        Ok(Glance { probability, present: p.present.iter().map(|s| s.value()).collect() })
    }

    fn sure(&self, evidence: &Evidence, targets: &[Var]) -> Result<Posterior, Trouble> {
        let p = self.engine.posterior_of(evidence, targets, &self.limits)?;
        if p.is_exact() { Ok(p) } else { Err(Trouble::TooTangled { cells: self.limits.cells.saturating_add(1) }) }
    }

    /// Logarithm of the total and posteriors of the targets in one plain pass; nothing when plain
    /// arithmetic cannot be trusted.
    fn quick(&self, case: &Case, targets: &[Var]) -> Result<Option<(f64, Vec<f64>)>, Trouble> {
        let Some(shape) = self.plain else { return Ok(None) };
        let net = self.net();
        let inside = ancestors(net, case.touched.iter().chain(targets).copied());
        let keep = keep(net, targets);
        let model = build(net, case, &inside, &keep, shape);
        if model.extreme && shape == Shape::Rank {
            return Ok(None);
        }
        let list = order_parts(&model, None, &self.limits);
        let plan = Plan::new_within(&model, &list, self.limits.cells)?;
        let (mut tape, whole) = Tape::<f64>::forward(&plan, &model);
        if !whole.is_positive() {
            return Ok(None);
        }
        tape.reverse(&plan);
        let mut present = Vec::with_capacity(targets.len());
        for &t in targets {
            let Some(p) = read(net, case, &model, &plan, &tape, t) else {
                return Ok(None);
            };
            present.push(p);
        }
        Ok(Some((whole.ln(), present)))
    }

    /// For every candidate sign: its chance, and every target's posterior with it present and with
    /// it absent. From these the effect of any reading follows by mixing.
    ///
    /// # Errors
    /// [`Trouble::TooTangled`] and [`Trouble::UnknownTarget`].
    pub fn sweep(&self, candidates: &[Var], targets: &[Var]) -> Result<Vec<Pairwise>, Trouble> {
        self.check(targets)?;
        self.check(candidates)?;
        let base = match self.quick(&self.case, targets)? {
            Some((_, base)) => base,
            None => self.sure(&self.evidence, targets)?.present.iter().map(|s| s.value()).collect(),
        };
        let mut out: Vec<Option<Pairwise>> = vec![None; candidates.len()];
        let mut open = Vec::new();
        for (i, &check) in candidates.iter().enumerate() {
            match self.case.known[check.index()] {
                Some(side) => {
                    out[i] = Some(Pairwise {
                        check,
                        present: f64::from(u8::from(side)),
                        given_present: base.clone(),
                        given_absent: base.clone(),
                    });
                }
                None => open.push(i),
            }
        }
        // Most signs are read off the tables of the base itself. The few with many conditions
        // between them and what the evidence bears on take these conditions in.
        let rank = ranks(self.net());
        let own = self.model(&[], targets);
        // Neighbours in the net tend to share what they need.
        let above = |v: Var| self.net().parents(v).map(|(p, _)| rank[p.index()]).max();
        open.sort_by_key(|&i| (above(candidates[i]), rank[candidates[i].index()]));
        let mut near = Vec::new();
        let mut far: Vec<(usize, Option<u64>)> = Vec::new();
        for i in open {
            let terms = Term::expand(self.net(), &self.case, &own, &rank, candidates[i], TERMS);
            let terms = terms.map(|t| t.len() as u64);
            // Cheaper than any group could be?
            let least = (COST[3] + (COST[1] + COST[2]) * self.cells) / TOGETHER as u64;
            match terms {
                Some(t) if t * COST[0] * self.cells <= least => near.push(i),
                _ => far.push((i, terms.map(|t| t * COST[0] * self.cells))),
            }
        }
        let mut groups: Vec<(Vec<usize>, Option<u64>, bool)> = Vec::new();
        for chunk in far.chunks(TOGETHER) {
            let apart = chunk.iter().try_fold(0_u64, |sum, f| f.1.map(|c| sum + c));
            groups.push((chunk.iter().map(|f| f.0).collect(), apart, true));
        }
        loop {
            let (group, apart, extend) = match groups.pop() {
                Some(next) => next,
                None if near.is_empty() => break,
                None => (std::mem::take(&mut near), None, false),
            };
            if group.is_empty() {
                continue;
            }
            let signs: Vec<Var> = group.iter().map(|&i| candidates[i]).collect();
            match self.group(&signs, targets, &base, &rank, (extend, apart))? {
                Swept::Done(done) => {
                    for (i, p) in group.into_iter().zip(done) {
                        out[i] = Some(p);
                    }
                }
                Swept::TooMuch => {
                    let (a, b) = group.split_at(group.len() / 2);
                    groups.push((b.to_vec(), None, extend));
                    groups.push((a.to_vec(), None, extend));
                }
                Swept::Near => near.extend(group),
                Swept::Unsure => {
                    for i in group {
                        out[i] = Some(self.one(candidates[i], targets, &base)?);
                    }
                }
            }
        }
        Ok(out.into_iter().flatten().collect())
    }

    /// The model of the base with the targets, and the signs' parents where given.
    fn model(&self, signs: &[Var], targets: &[Var]) -> Model {
        let net = self.net();
        let seeds = self.case.touched.iter().chain(signs).chain(targets).copied();
        let within = ancestors(net, seeds);
        let mut keep = keep(net, targets);
        for &s in signs {
            net.parents(s).for_each(|(p, _)| keep[p.index()] = true);
        }
        build(net, &self.case, &within, &keep, self.plain.unwrap_or(Shape::Rank))
    }

    /// One sign by full posteriors.
    fn one(&self, check: Var, targets: &[Var], base: &[f64]) -> Result<Pairwise, Trouble> {
        let mut sides = Vec::with_capacity(2);
        for finding in [Finding::not_seen(check), Finding::seen(check)] {
            let both = self.evidence.with(&[finding]);
            sides.push(match self.sure(&both, targets) {
                Ok(p) => {
                    let present: Vec<f64> = p.present.iter().map(|s| s.value()).collect();
                    ((p.ln_evidence - self.ln_evidence).exp(), present)
                }
                Err(Trouble::Clash { .. }) => (0.0, base.to_vec()),
                Err(other) => return Err(other),
            });
        }
        let sum = sides[0].0 + sides[1].0;
        let present = if sum > 0.0 { sides[1].0 / sum } else { 0.0 };
        let given_present = sides.pop().map(|s| s.1).unwrap_or_default();
        let given_absent = sides.pop().map(|s| s.1).unwrap_or_default();
        Ok(Pairwise { check, present, given_present, given_absent })
    }

    fn group(
        &self,
        signs: &[Var],
        targets: &[Var],
        base: &[f64],
        rank: &[u32],
        (extend, apart): (bool, Option<u64>),
    ) -> Result<Swept, Trouble> {
        if self.plain.is_none() {
            return Ok(Swept::Unsure);
        }
        let net = self.net();
        let case = &self.case;
        let model = self.model(if extend { signs } else { &[] }, targets);
        if model.extreme && self.plain == Some(Shape::Rank) {
            return Ok(Swept::Unsure);
        }
        let mut wanted: Vec<Var> = signs.to_vec();
        wanted.extend(signs.iter().flat_map(|s| net.parents(*s).map(|p| p.0)));
        let list = order_parts(&model, extend.then_some(&wanted[..]), &self.limits);
        let cells = list.iter().fold(0_u64, |s, p| s.saturating_add(p.cells));
        let batches = signs.len().div_ceil(LANES) as u64;
        if apart.is_some_and(|a| a < cells.saturating_mul(COST[1] + COST[2] * batches)) {
            return Ok(Swept::Near);
        }
        // Eight signs cost about as much as setting their tables up: keeping them together pays as
        // long as the tables grow more slowly than the number of signs.
        let fair = self.cells.saturating_mul(4 + signs.len() as u64) / 4;
        if extend && signs.len() > 1 && cells > fair.max(GROUP) {
            return Ok(Swept::TooMuch);
        }
        let plan = Plan::new_within(&model, &list, self.limits.cells)?;
        let (mut tape, whole) = Tape::<f64>::forward(&plan, &model);
        if !whole.is_positive() {
            return Ok(Swept::Unsure);
        }
        tape.reverse(&plan);
        let place = |t: &Var| {
            let m = model.of[t.index()];
            (m != NONE && plan.place[m as usize] != NONE).then_some(m)
        };
        let reached: Vec<Option<u32>> = targets.iter().map(place).collect();
        let read: Vec<u32> = reached.iter().copied().flatten().collect();
        let now: Vec<f64> = targets
            .iter()
            .zip(&reached)
            .zip(base)
            .map(|((_, r), b)| match r {
                Some(m) => tape.marginal(&plan, *m).map_or(*b, share),
                None => *b,
            })
            .collect();
        let mut sums: Vec<(f64, Vec<f64>)> = vec![(0.0, vec![0.0; targets.len()]); signs.len()];
        let mut jobs: Vec<Job> = Vec::new();
        // One job "this variable is present" serves every sign that needs nothing else.
        let mut lone: Vec<u32> = vec![NONE; model.unary.len()];
        for (i, &s) in signs.iter().enumerate() {
            let Some(terms) = Term::expand(net, case, &model, rank, s, usize::MAX) else { continue };
            for term in terms {
                let (coefficient, weights) = term.on(net, &model);
                let mut constant = 0.0;
                match weights.as_slice() {
                    [] => constant = coefficient,
                    [(v, w)] => {
                        constant = coefficient * w[0];
                        let at = &mut lone[*v as usize];
                        if *at == NONE {
                            *at = jobs.len() as u32;
                            jobs.push(Job { gives: Vec::new(), weights: vec![(*v, [0.0, 1.0])] });
                        }
                        jobs[*at as usize].gives.push((i, coefficient * (w[1] - w[0])));
                    }
                    _ => jobs.push(Job { gives: vec![(i, coefficient)], weights }),
                }
                sums[i].0 += constant;
                sums[i].1.iter_mut().zip(&now).for_each(|(s, b)| *s += constant * b);
            }
        }
        // Signs whose parents lie together share paths.
        let paths = |j: &Job| j.weights.iter().map(|w| plan.place[w.0 as usize]).max();
        jobs.sort_by_key(paths);
        let mut lanes: Variations<'_, LANES> = Variations::new(&plan, &tape, &read);
        let mut weights = Vec::new();
        for batch in jobs.chunks(LANES) {
            weights.clear();
            for (lane, job) in batch.iter().enumerate() {
                weights.extend(job.weights.iter().map(|(v, w)| (*v, lane, *w)));
            }
            let (all, joint) = lanes.run(&weights, &read);
            for (lane, job) in batch.iter().enumerate() {
                for &(sign, coefficient) in &job.gives {
                    let sum = &mut sums[sign];
                    sum.0 += coefficient * all[lane];
                    let mut next = joint.iter();
                    for (i, r) in reached.iter().enumerate() {
                        let own = match r {
                            Some(_) => next.next().map_or(0.0, |j| j[lane]),
                            None => base[i] * all[lane],
                        };
                        sum.1[i] += coefficient * own;
                    }
                }
            }
        }
        let mut done = Vec::with_capacity(signs.len());
        for (&check, (p, joint)) in signs.iter().zip(sums) {
            if !p.is_finite() || joint.iter().any(|j| !j.is_finite()) {
                return Ok(Swept::Unsure);
            }
            // What rounding leaves of a sum of terms of size one is no probability.
            const NOISE: f64 = 1e-7;
            if !(NOISE..=1.0 - NOISE).contains(&p) {
                done.push(self.one(check, targets, base)?);
                continue;
            }
            let ratio = |x: f64, by: f64| (x / by).clamp(0.0, 1.0);
            done.push(Pairwise {
                check,
                present: p,
                given_present: joint.iter().map(|j| ratio(*j, p)).collect(),
                given_absent: joint.iter().zip(&now).map(|(j, b)| ratio(b - j, 1.0 - p)).collect(),
            });
        }
        Ok(Swept::Done(done))
    }
}

enum Swept {
    Done(Vec<Pairwise>),
    TooMuch,
    /// Better read off the base tables after all.
    Near,
    Unsure,
}

/// One product of weights, and the signs its expectation enters with a coefficient.
struct Job {
    gives: Vec<(usize, f64)>,
    weights: Vec<(u32, [f64; 2])>,
}

/// Targets stay variables even when nothing below them is inside.
fn keep(net: &Net, targets: &[Var]) -> Vec<bool> {
    let mut keep = vec![false; net.len()];
    targets.iter().for_each(|t| keep[t.index()] = true);
    keep
}

fn read(net: &Net, case: &Case, model: &Model, plan: &Plan, tape: &Tape<f64>, t: Var) -> Option<f64> {
    if let Some(side) = case.known[t.index()] {
        return Some(f64::from(u8::from(side)));
    }
    let m = model.of[t.index()];
    if m == NONE {
        let Gate::Root { prior } = net.gate(t) else {
            return None;
        };
        return Some(prior);
    }
    tape.marginal(plan, m).map(share).filter(|p| p.is_finite())
}
