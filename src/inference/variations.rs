//! Many variations of one solved case, side by side.
//!
//! Takes a tape in plain `f64` and, lane by lane, weights on some variables; gives the expected
//! product of each lane's weights, alone and with each target present. Only tables on the way from a
//! weighted variable to the last one are redone, only slopes on the way to a target are swept, and
//! whatever is the same in all lanes is computed once.

use super::eliminate::{Plan, Tape};
use super::gates::NONE;
use super::number::{By, Lanes, Number};

/// One tape, varied.
pub(crate) struct Variations<'a, const N: usize> {
    plan: &'a Plan,
    base: &'a Tape<f64>,
    wanted: Vec<bool>,
    /// Buckets whose own variable is a target.
    read: Vec<bool>,
    /// Each bucket's own factors, without its unary weights: where they begin.
    own_at: Vec<usize>,
    own: Vec<f64>,
    messages: Vec<Lanes<N>>,
    slopes: Vec<Lanes<N>>,
    scratch: Scratch<N>,
}

struct Scratch<const N: usize> {
    /// What is common to all lanes: own factors times unchanged tables.
    common: Vec<f64>,
    others: Vec<f64>,
    full: Vec<Lanes<N>>,
    part: Vec<Lanes<N>>,
}

/// Weights on one variable in one lane: which variable, which lane, absent and present.
pub(crate) type LaneWeight = (u32, usize, [f64; 2]);

impl<'a, const N: usize> Variations<'a, N> {
    /// `targets`: model variables whose weights will be read.
    pub(crate) fn new(plan: &'a Plan, base: &'a Tape<f64>, targets: &[u32]) -> Self {
        let n = plan.buckets.len();
        let (mut wanted, mut read) = (vec![false; n], vec![false; n]);
        for &t in targets {
            let mut k = plan.place[t as usize];
            read[k as usize] = true;
            while k != NONE && !std::mem::replace(&mut wanted[k as usize], true) {
                k = plan.buckets[k as usize].parent;
            }
        }
        let mut own = Vec::new();
        let mut own_at = Vec::with_capacity(n);
        let mut full: Vec<f64> = Vec::new();
        for k in 0..n {
            own_at.push(own.len());
            plan.fill(k, [1.0, 1.0], &base.corners, &base.cells, &mut full);
            own.extend_from_slice(&full);
        }
        let scratch = Scratch { common: Vec::new(), others: Vec::new(), full: Vec::new(), part: Vec::new() };
        let messages = vec![Lanes::ZERO; plan.room];
        let slopes = vec![Lanes::ZERO; plan.room];
        Variations { plan, base, wanted, read, own_at, own, messages, slopes, scratch }
    }

    fn own(&self, k: usize) -> &[f64] {
        let at = self.own_at[k];
        &self.own[at..at + (2 << self.plan.buckets[k].bits)]
    }

    /// Gives, by lane, the expected product of its weights, and that product with each target
    /// present.
    pub(crate) fn run(&mut self, weights: &[LaneWeight], targets: &[u32]) -> ([f64; N], Vec<[f64; N]>) {
        let plan = self.plan;
        let n = plan.buckets.len();
        // Lane weights by bucket, and what they change on the way to the last table.
        let mut slot = vec![NONE; n];
        let mut unary: Vec<[Lanes<N>; 2]> = Vec::new();
        let mut changed = vec![false; n];
        let mut parts = vec![false; plan.parts as usize];
        for &(var, lane, w) in weights {
            let mut k = plan.place[var as usize];
            if slot[k as usize] == NONE {
                slot[k as usize] = unary.len() as u32;
                unary.push(self.base.unary[var as usize].map(Lanes::splat));
            }
            let u = &mut unary[slot[k as usize] as usize];
            u[0].0[lane] *= w[0];
            u[1].0[lane] *= w[1];
            parts[plan.buckets[k as usize].part as usize] = true;
            while k != NONE && !std::mem::replace(&mut changed[k as usize], true) {
                k = plan.buckets[k as usize].parent;
            }
        }
        let weight = |k: usize| match slot[k] {
            NONE => self.base.unary[plan.buckets[k].var as usize].map(Lanes::splat),
            s => unary[s as usize],
        };
        let mut each = vec![[1.0; N]; plan.parts as usize];
        let mut scratch = std::mem::replace(
            &mut self.scratch,
            Scratch { common: Vec::new(), others: Vec::new(), full: Vec::new(), part: Vec::new() },
        );
        for k in (0..n).filter(|&k| changed[k]) {
            let w = weight(k);
            self.forward(k, w, &changed, &mut scratch);
            let b = &plan.buckets[k];
            if b.bits == 0 {
                each[b.part as usize] = self.messages[b.at].by(self.base.slopes[b.at]).0;
            }
        }
        let mut joint: Vec<[f64; N]> = vec![[0.0; N]; n];
        for k in (0..n).rev() {
            if self.wanted[k] && parts[plan.buckets[k].part as usize] {
                joint[k] = self.backward(k, weight(k), &changed, &mut scratch);
            }
        }
        self.scratch = scratch;
        let mut all = [1.0; N];
        for e in &each {
            all.iter_mut().zip(e).for_each(|(a, b)| *a *= b);
        }
        let read = |&t: &u32| {
            let k = plan.place[t as usize] as usize;
            let part = plan.buckets[k].part as usize;
            if !parts[part] {
                return all.map(|a| a * self.base.marginals[k][1]);
            }
            let mut lanes = joint[k];
            for (e, _) in each.iter().zip(&parts).enumerate().filter(|(o, (_, p))| *o != part && **p).map(|x| x.1) {
                lanes.iter_mut().zip(e).for_each(|(a, b)| *a *= b);
            }
            lanes
        };
        (all, targets.iter().map(read).collect())
    }

    /// Own factors times the tables of unchanged children, but for one.
    fn common(&self, k: usize, changed: &[bool], but: u32, out: &mut Vec<f64>) {
        let plan = self.plan;
        out.clear();
        out.extend_from_slice(self.own(k));
        for c in plan.children(k).iter().filter(|c| !changed[c.bucket as usize] && c.bucket != but) {
            let small = &self.base.messages[plan.table(c.bucket as usize)];
            plan.multiply(c.walk, plan.buckets[k].bits + 1, out, small);
        }
    }

    fn forward(&mut self, k: usize, w: [Lanes<N>; 2], changed: &[bool], s: &mut Scratch<N>) {
        let plan = self.plan;
        let b = &plan.buckets[k];
        self.common(k, changed, NONE, &mut s.common);
        let half = 1_usize << b.bits;
        let by = f64::unscale(self.base.scales[k]);
        let w = w.map(|x| x.by(by));
        let (done, rest) = self.messages.split_at_mut(b.at);
        let out = &mut rest[..half];
        let mut moved = plan.children(k).iter().filter(|c| changed[c.bucket as usize]);
        let (low, high) = s.common.split_at(half);
        let Some(first) = moved.next() else {
            for ((o, l), h) in out.iter_mut().zip(low).zip(high) {
                *o = w[0].by(*l).plus(w[1].by(*h));
            }
            return;
        };
        s.full.resize(2 * half, Lanes::ZERO);
        let full = &mut s.full[..2 * half];
        let small = &done[plan.table(first.bucket as usize)];
        let len = 1 << first.walk.run;
        plan.blocks(first.walk, b.bits + 1, |l, at| {
            let own = &s.common[l..l + len];
            for ((f, m), o) in full[l..l + len].iter_mut().zip(&small[at..at + len]).zip(own) {
                *f = m.by(*o);
            }
        });
        for c in moved {
            plan.multiply(c.walk, b.bits + 1, full, &done[plan.table(c.bucket as usize)]);
        }
        let (low, high) = full.split_at(half);
        for ((o, l), h) in out.iter_mut().zip(low).zip(high) {
            *o = w[0].by(*l).plus(w[1].by(*h));
        }
    }

    /// Hands slopes to the wanted children; gives the weight with the own variable present if it is
    /// a target.
    fn backward(&mut self, k: usize, w: [Lanes<N>; 2], changed: &[bool], s: &mut Scratch<N>) -> [f64; N] {
        let plan = self.plan;
        let b = &plan.buckets[k];
        let half = 1_usize << b.bits;
        if b.bits == 0 {
            self.slopes[b.at] = Lanes::splat(self.base.slopes[b.at]);
        }
        let by = f64::unscale(self.base.scales[k]);
        let w = w.map(|x| x.by(by));
        // Slope times the unary weights, to be joined with changed tables lane by lane.
        s.part.resize(2 * half, Lanes::ZERO);
        {
            let slope = &self.slopes[b.at..b.at + half];
            let (low, high) = s.part[..2 * half].split_at_mut(half);
            for ((l, h), x) in low.iter_mut().zip(high).zip(slope) {
                *l = x.by(w[0]);
                *h = x.by(w[1]);
            }
        }
        self.common(k, changed, NONE, &mut s.common);
        let children = plan.children(k);
        let moved: Vec<_> = children.iter().filter(|c| changed[c.bucket as usize]).collect();
        // A changed child gets everything but its own table.
        for (i, c) in moved.iter().enumerate().filter(|(_, c)| self.wanted[c.bucket as usize]) {
            let mut source = &s.part[..2 * half];
            if moved.len() > 1 {
                s.full.clear();
                s.full.extend_from_slice(source);
                for (_, d) in moved.iter().enumerate().filter(|(j, _)| *j != i) {
                    let small = &self.messages[plan.table(d.bucket as usize)];
                    plan.multiply(d.walk, b.bits + 1, &mut s.full, small);
                }
                source = &s.full;
            }
            let small = &mut self.slopes[plan.table(c.bucket as usize)];
            small.fill(Lanes::ZERO);
            let len = 1 << c.walk.run;
            plan.blocks(c.walk, b.bits + 1, |l, at| {
                let large = source[l..l + len].iter().zip(&s.common[l..l + len]);
                for (a, (x, o)) in small[at..at + len].iter_mut().zip(large) {
                    *a = a.plus(x.by(*o));
                }
            });
        }
        let still = children.iter().any(|c| !changed[c.bucket as usize] && self.wanted[c.bucket as usize]);
        if !(still || self.read[k]) {
            return [0.0; N];
        }
        for c in &moved {
            let small = &self.messages[plan.table(c.bucket as usize)];
            plan.multiply(c.walk, b.bits + 1, &mut s.part[..2 * half], small);
        }
        let one_still = children.iter().filter(|c| !changed[c.bucket as usize]).count() == 1;
        for c in children {
            if changed[c.bucket as usize] || !self.wanted[c.bucket as usize] {
                continue;
            }
            let others: &[f64] = if one_still {
                self.own(k)
            } else {
                self.common(k, changed, c.bucket, &mut s.others);
                &s.others
            };
            // The slopes being written never belong to this bucket.
            let len = 1 << c.walk.run;
            let mut small = std::mem::take(&mut s.full);
            small.clear();
            small.resize(1 << plan.buckets[c.bucket as usize].bits, Lanes::ZERO);
            plan.blocks(c.walk, b.bits + 1, |l, at| {
                let large = s.part[l..l + len].iter().zip(&others[l..l + len]);
                for (a, (x, o)) in small[at..at + len].iter_mut().zip(large) {
                    *a = a.plus(x.by(*o));
                }
            });
            self.slopes[plan.table(c.bucket as usize)].copy_from_slice(&small);
            s.full = small;
        }
        if !self.read[k] {
            return [0.0; N];
        }
        let upper = s.part[half..2 * half].iter().zip(&s.common[half..]);
        upper.fold(Lanes::ZERO, |t, (x, o)| t.plus(x.by(*o))).0
    }
}
