//! Summing variables out along an order, forward and back.
//!
//! A [`Plan`] lays the factors of a [`Model`] into one bucket per variable (bucket elimination:
//! Dechter 1999); a [`Tape`] carries the tables of one pass in one kind of number and, after the
//! reverse sweep, the derivative of the logarithm of the total by every table, from which all
//! marginals are read at once. Tables are indexed by bits: the variable summed out is the top bit,
//! below it the others, the one summed out last lowest, so that a table fits into the next one
//! without being turned round. It never allocates by the number of states of a whole gate.

use super::Trouble;
use super::gates::{Model, NONE, Table};
use super::number::{By, Number, Wide};
use super::order::Part;

/// How a smaller table runs along a larger one whose bits include its own.
#[derive(Copy, Clone, Debug)]
pub(super) struct Walk {
    /// This many low bits are shared: so long are the blocks that run side by side.
    pub run: u32,
    /// Where the jumps between blocks begin in the plan's list.
    jumps: u32,
}

#[derive(Clone, Debug)]
pub(super) struct Bucket {
    pub var: u32,
    /// Bits of the table it leaves.
    pub bits: u32,
    /// Where that table lies on the tape.
    pub at: usize,
    /// The bucket that takes it, or [`NONE`].
    pub parent: u32,
    pub part: u32,
    pairs: (u32, u32),
    tables: (u32, u32),
    children: (u32, u32),
}

#[derive(Copy, Clone, Debug)]
struct PlanPair {
    bit: u32,
    own: bool,
    other: bool,
    source: u32,
}

#[derive(Clone, Debug)]
struct PlanTable {
    walk: Walk,
    /// Where its cells lie in the tape's list, and how many.
    cells: (u32, u32),
}

#[derive(Copy, Clone, Debug)]
pub(super) struct PlanChild {
    pub bucket: u32,
    pub walk: Walk,
}

/// Where everything goes: independent of the numbers.
#[derive(Clone, Debug, Default)]
pub(crate) struct Plan {
    pub(super) buckets: Vec<Bucket>,
    pairs: Vec<PlanPair>,
    tables: Vec<PlanTable>,
    children: Vec<PlanChild>,
    jumps: Vec<usize>,
    /// For each cell of the laid-out small tables: model table and cell.
    layout: Vec<(u32, u32)>,
    /// Cells of all tables left.
    pub(super) room: usize,
    /// Bucket of a model variable, or [`NONE`].
    pub place: Vec<u32>,
    pub parts: u32,
    /// Cells of all full tables.
    pub cells: u64,
    pub width: u32,
}

/// Who shares a factor with whom.
pub(crate) fn neighbours(model: &Model) -> Vec<Vec<u32>> {
    let mut out: Vec<Vec<u32>> = vec![Vec::new(); model.unary.len()];
    for p in &model.pairs {
        out[p.bit as usize].push(p.var);
        out[p.var as usize].push(p.bit);
    }
    for t in &model.tables {
        for &a in &t.scope {
            out[a as usize].extend(t.scope.iter().copied().filter(|&b| b != a));
        }
    }
    for list in &mut out {
        list.sort_unstable();
        list.dedup();
    }
    out
}

impl Plan {
    /// Lays the factors of the given parts out; factors of other parts are left aside.
    pub(crate) fn new(model: &Model, parts: &[Part]) -> Plan {
        let mut plan = Plan { place: vec![NONE; model.unary.len()], ..Plan::default() };
        let mut scopes: Vec<Vec<u32>> = Vec::new();
        for (number, part) in parts.iter().enumerate() {
            plan.cells += part.cells;
            plan.width = plan.width.max(part.width);
            for turn in &part.turns {
                plan.place[turn.var as usize] = plan.buckets.len() as u32;
                plan.buckets.push(Bucket {
                    var: turn.var,
                    bits: turn.neighbours.len() as u32,
                    at: plan.room,
                    parent: NONE,
                    part: number as u32,
                    pairs: (0, 0),
                    tables: (0, 0),
                    children: (0, 0),
                });
                plan.room += 1 << turn.neighbours.len();
            }
        }
        plan.parts = parts.len() as u32;
        let n = plan.buckets.len();
        let mut pairs: Vec<Vec<PlanPair>> = vec![Vec::new(); n];
        let mut tables: Vec<Vec<u32>> = vec![Vec::new(); n];
        let mut children: Vec<Vec<u32>> = vec![Vec::new(); n];
        for turn in parts.iter().flat_map(|p| &p.turns) {
            let mut scope: Vec<u32> = turn.neighbours.iter().map(|&u| plan.place[u as usize]).collect();
            scope.sort_unstable_by(|a, b| b.cmp(a));
            let here = plan.place[turn.var as usize];
            if let Some(&parent) = scope.last() {
                plan.buckets[here as usize].parent = parent;
                children[parent as usize].push(here);
            }
            scope.push(here);
            scopes.push(scope);
        }
        for (i, p) in model.pairs.iter().enumerate() {
            let (b, x) = (plan.place[p.bit as usize], plan.place[p.var as usize]);
            if b == NONE {
                continue;
            }
            let (here, other) = (b.min(x), b.max(x));
            let (own, far) = if b < x { (true, p.at) } else { (p.at, true) };
            let bit = bit_of(&scopes[here as usize], other);
            pairs[here as usize].push(PlanPair { bit, own, other: far, source: i as u32 });
        }
        for (i, t) in model.tables.iter().enumerate() {
            let here = t.scope.iter().map(|&v| plan.place[v as usize]).min().unwrap_or(NONE);
            if here != NONE {
                tables[here as usize].push(i as u32);
            }
        }
        for k in 0..n {
            let from = plan.pairs.len() as u32;
            pairs[k].sort_by_key(|p| p.bit);
            plan.pairs.append(&mut pairs[k]);
            plan.buckets[k].pairs = (from, plan.pairs.len() as u32);
            let from = plan.tables.len() as u32;
            for &t in &tables[k] {
                plan.lay(&model.tables[t as usize], t, &scopes[k]);
            }
            plan.buckets[k].tables = (from, plan.tables.len() as u32);
            let from = plan.children.len() as u32;
            for &c in &children[k] {
                let scope = &scopes[c as usize];
                let walk = plan.walk(&scope[..scope.len() - 1], &scopes[k]);
                plan.children.push(PlanChild { bucket: c, walk });
            }
            plan.buckets[k].children = (from, plan.children.len() as u32);
        }
        plan
    }

    /// The same, unless it takes more than `limit` cells.
    pub(crate) fn new_within(model: &Model, parts: &[Part], limit: u64) -> Result<Plan, Trouble> {
        let cells = parts.iter().fold(0_u64, |s, p| s.saturating_add(p.cells));
        if cells > limit {
            return Err(Trouble::TooTangled { cells });
        }
        Ok(Plan::new(model, parts))
    }

    fn lay(&mut self, table: &Table, number: u32, scope: &[u32]) {
        let mut own: Vec<(u32, u32)> =
            table.scope.iter().enumerate().map(|(i, &v)| (self.place[v as usize], i as u32)).collect();
        own.sort_unstable_by(|a, b| b.cmp(a));
        let sorted: Vec<u32> = own.iter().map(|o| o.0).collect();
        let walk = self.walk(&sorted, scope);
        let from = self.layout.len() as u32;
        for index in 0..table.cells.len() as u32 {
            let cell = own.iter().enumerate().fold(0, |c, (i, o)| c | (index >> i & 1) << o.1);
            self.layout.push((number, cell));
        }
        self.tables.push(PlanTable { walk, cells: (from, self.layout.len() as u32) });
    }

    /// Both scopes descend; the smaller lies inside the larger.
    fn walk(&mut self, small: &[u32], large: &[u32]) -> Walk {
        let run = small.iter().zip(large).take_while(|(a, b)| a == b).count();
        let jumps = self.jumps.len() as u32;
        let mut next = run;
        let mut below = 0_usize;
        for l in &large[run..] {
            let mut stride = 0_usize;
            if small.get(next) == Some(l) {
                stride = 1 << (next - run);
                next += 1;
            }
            self.jumps.push(stride.wrapping_sub(below));
            below = below.wrapping_add(stride);
        }
        self.jumps.push(0);
        Walk { run: run as u32, jumps }
    }

    /// Calls `f` with the start of each block in the large table and in the small one.
    #[inline(always)]
    pub(super) fn blocks(&self, walk: Walk, bits: u32, mut f: impl FnMut(usize, usize)) {
        let jumps = &self.jumps[walk.jumps as usize..];
        let mut at = 0_usize;
        for block in 0..1_usize << (bits - walk.run) {
            f(block << walk.run, at << walk.run);
            at = at.wrapping_add(jumps[(block + 1).trailing_zeros() as usize]);
        }
    }

    #[inline]
    pub(super) fn multiply<T: By<S>, S: Copy>(&self, walk: Walk, bits: u32, large: &mut [T], small: &[S]) {
        let len = 1 << walk.run;
        self.blocks(walk, bits, |l, s| {
            for (a, b) in large[l..l + len].iter_mut().zip(&small[s..s + len]) {
                *a = a.by(*b);
            }
        });
    }

    #[inline]
    fn gather<T: Number>(&self, walk: Walk, bits: u32, large: &[T], small: &mut [T]) {
        let len = 1 << walk.run;
        self.blocks(walk, bits, |l, s| {
            for (a, b) in small[s..s + len].iter_mut().zip(&large[l..l + len]) {
                *a = a.plus(*b);
            }
        });
    }

    /// Fills the full table of a bucket with its own small factors.
    pub(super) fn fill<T: Number + By<S>, S: Number>(
        &self,
        k: usize,
        unary: [T; 2],
        corners: &[S],
        cells: &[S],
        out: &mut Vec<T>,
    ) {
        let b = &self.buckets[k];
        let half = 1_usize << b.bits;
        out.clear();
        out.resize(2 * half, T::ZERO);
        let pairs = &self.pairs[b.pairs.0 as usize..b.pairs.1 as usize];
        for own in [false, true] {
            let table = if own { &mut out[half..] } else { &mut out[..half] };
            table[0] = unary[usize::from(own)];
            let mut next = pairs.iter().filter(|p| p.own == own).peekable();
            for bit in 0..b.bits {
                let (low, high) = table[..2 << bit].split_at_mut(1 << bit);
                high.copy_from_slice(low);
                while let Some(p) = next.next_if(|p| p.bit == bit) {
                    let c = corners[p.source as usize];
                    let side = if p.other { &mut *high } else { &mut *low };
                    side.iter_mut().for_each(|x| *x = x.by(c));
                }
            }
        }
        for t in &self.tables[b.tables.0 as usize..b.tables.1 as usize] {
            let small = &cells[t.cells.0 as usize..t.cells.1 as usize];
            self.multiply(t.walk, b.bits + 1, out, small);
        }
    }

    pub(super) fn children(&self, k: usize) -> &[PlanChild] {
        let c = self.buckets[k].children;
        &self.children[c.0 as usize..c.1 as usize]
    }

    pub(super) fn table(&self, k: usize) -> std::ops::Range<usize> {
        let b = &self.buckets[k];
        b.at..b.at + (1 << b.bits)
    }
}

fn bit_of(scope: &[u32], place: u32) -> u32 {
    // Descending.
    scope.partition_point(|&s| s > place) as u32
}

/// One pass over a plan.
#[derive(Clone, Debug)]
pub(crate) struct Tape<T: Number> {
    pub(super) unary: Vec<[T; 2]>,
    pub(super) corners: Vec<T>,
    pub(super) cells: Vec<T>,
    pub(super) messages: Vec<T>,
    pub(super) scales: Vec<T::Scale>,
    pub(super) slopes: Vec<T>,
    /// Normalised weight of absent and present, by bucket.
    pub(super) marginals: Vec<[T; 2]>,
}

fn sum_halves<T: Number>(full: &[T], out: &mut [T]) {
    let (low, high) = full.split_at(full.len() / 2);
    for ((o, a), b) in out.iter_mut().zip(low).zip(high) {
        *o = a.plus(*b);
    }
}

fn total<T: Number>(cells: &[T]) -> T {
    cells.iter().fold(T::ZERO, |s, c| s.plus(*c))
}

impl<T: Number> Tape<T> {
    /// The forward pass. Returns the tape and the total, the model's constant included.
    pub(crate) fn forward(plan: &Plan, model: &Model) -> (Tape<T>, Wide) {
        let convert = |w: &[Wide; 2]| [T::from_wide(w[0]), T::from_wide(w[1])];
        let cell = |&(t, c): &(u32, u32)| T::from_wide(model.tables[t as usize].cells[c as usize]);
        let mut tape = Tape {
            unary: model.unary.iter().map(convert).collect(),
            corners: model.pairs.iter().map(|p| T::complement(p.strength)).collect(),
            cells: plan.layout.iter().map(cell).collect(),
            messages: vec![T::ZERO; plan.room],
            scales: Vec::with_capacity(plan.buckets.len()),
            slopes: Vec::new(),
            marginals: Vec::new(),
        };
        let mut whole = model.constant;
        let mut full = Vec::new();
        for (k, b) in plan.buckets.iter().enumerate() {
            plan.fill(k, tape.unary[b.var as usize], &tape.corners, &tape.cells, &mut full);
            let (done, rest) = tape.messages.split_at_mut(b.at);
            for c in plan.children(k) {
                let small = &done[plan.table(c.bucket as usize)];
                plan.multiply(c.walk, b.bits + 1, &mut full, small);
            }
            let out = &mut rest[..1 << b.bits];
            sum_halves(&full, out);
            let scale = T::rescale(out);
            tape.scales.push(scale);
            whole = if b.bits == 0 { whole.times(out[0].widen(scale)) } else { whole.times(T::ONE.widen(scale)) };
        }
        (tape, whole)
    }

    /// The reverse sweep: slopes of the logarithm of the total, and marginals.
    pub(crate) fn reverse(&mut self, plan: &Plan) {
        self.slopes = vec![T::ZERO; plan.room];
        self.marginals = vec![[T::ZERO; 2]; plan.buckets.len()];
        let mut full = Vec::new();
        let mut spare: Vec<Vec<T>> = Vec::new();
        for (k, b) in plan.buckets.iter().enumerate().rev() {
            if b.bits == 0 {
                self.slopes[b.at] = self.messages[b.at].inverse();
            }
            plan.fill(k, self.unary[b.var as usize], &self.corners, &self.cells, &mut full);
            let (lower, own) = self.slopes.split_at_mut(b.at);
            let by = T::unscale(self.scales[k]);
            weigh_by_slope(&mut full, &own[..1 << b.bits], by);
            let messages = &self.messages;
            let message = |c: &PlanChild| &messages[plan.table(c.bucket as usize)];
            back(
                plan,
                k,
                &mut full,
                &mut spare,
                message,
                |_| true,
                |c, large| {
                    plan.gather(c.walk, b.bits + 1, large, &mut lower[plan.table(c.bucket as usize)]);
                },
            );
            let half = full.len() / 2;
            self.marginals[k] = [total(&full[..half]), total(&full[half..])];
        }
    }

    /// Normalised weights of absent and present of a model variable, if the plan covers it.
    pub(crate) fn marginal(&self, plan: &Plan, var: u32) -> Option<[T; 2]> {
        let k = *plan.place.get(var as usize)?;
        self.marginals.get(k as usize).copied()
    }

    /// The expected product of weights on several variables, each given once with its weights when
    /// absent and present. Only tables between the variables and where their paths meet are redone.
    pub(crate) fn expect(&self, plan: &Plan, weights: &[(u32, [T; 2])]) -> T {
        if let [(var, w)] = weights {
            let m = self.marginals[plan.place[*var as usize] as usize];
            return m[0].times(w[0]).plus(m[1].times(w[1]));
        }
        let mut open: std::collections::BTreeMap<u32, Redo<T>> = std::collections::BTreeMap::new();
        let mut pending: std::collections::BTreeMap<u32, u32> = std::collections::BTreeMap::new();
        for (var, w) in weights {
            let k = plan.place[*var as usize];
            open.entry(k).or_default().weight = Some(*w);
            *pending.entry(plan.buckets[k as usize].part).or_default() += 1;
        }
        let mut result = T::ONE;
        let mut full = Vec::new();
        while let Some((k, redo)) = open.pop_first() {
            let b = &plan.buckets[k as usize];
            let mut unary = self.unary[b.var as usize];
            if let Some(w) = redo.weight {
                unary = [unary[0].times(w[0]), unary[1].times(w[1])];
            }
            plan.fill(k as usize, unary, &self.corners, &self.cells, &mut full);
            for c in plan.children(k as usize) {
                let redone = redo.children.iter().find(|r| r.0 == c.bucket);
                let small = match redone {
                    Some(r) => &r.1[..],
                    None => &self.messages[plan.table(c.bucket as usize)],
                };
                plan.multiply(c.walk, b.bits + 1, &mut full, small);
            }
            let by = T::unscale(self.scales[k as usize]);
            let waiting = pending.entry(b.part).or_default();
            if *waiting == 1 {
                weigh_by_slope(&mut full, &self.slopes[plan.table(k as usize)], by);
                result = result.times(total(&full));
                continue;
            }
            let mut out = vec![T::ZERO; 1 << b.bits];
            sum_halves(&full, &mut out);
            out.iter_mut().for_each(|x| *x = x.times(by));
            if open.contains_key(&b.parent) {
                *waiting -= 1;
            }
            open.entry(b.parent).or_default().children.push((k, out));
        }
        result
    }
}

struct Redo<T> {
    weight: Option<[T; 2]>,
    children: Vec<(u32, Vec<T>)>,
}

impl<T> Default for Redo<T> {
    fn default() -> Self {
        Redo { weight: None, children: Vec::new() }
    }
}

fn weigh_by_slope<T: Number>(full: &mut [T], slope: &[T], by: T) {
    let (low, high) = full.split_at_mut(slope.len());
    for ((a, b), s) in low.iter_mut().zip(high).zip(slope) {
        let s = s.times(by);
        *a = a.times(s);
        *b = b.times(s);
    }
}

/// From a bucket's own factors times its slope: hands each wanted child its share, and leaves the
/// full product.
fn back<'m, T: Number + By<S>, S: Copy + 'm>(
    plan: &Plan,
    k: usize,
    full: &mut [T],
    spare: &mut Vec<Vec<T>>,
    message: impl Fn(&PlanChild) -> &'m [S],
    wanted: impl Fn(&PlanChild) -> bool,
    mut give: impl FnMut(&PlanChild, &[T]),
) {
    let bits = plan.buckets[k].bits + 1;
    let children = plan.children(k);
    // Products up to each child, then from the far end back.
    for (depth, c) in children.iter().enumerate() {
        if depth == spare.len() {
            spare.push(Vec::new());
        }
        spare[depth].clear();
        spare[depth].extend_from_slice(full);
        plan.multiply(c.walk, bits, full, message(c));
    }
    if children.len() <= 1 {
        if let Some(c) = children.first().filter(|c| wanted(c)) {
            give(c, &spare[0]);
        }
        return;
    }
    let mut after = vec![T::ONE; full.len()];
    for (i, c) in children.iter().enumerate().rev() {
        if wanted(c) {
            let before = &mut spare[i];
            for (a, b) in before.iter_mut().zip(&after) {
                *a = a.times(*b);
            }
            give(c, before);
        }
        if i > 0 {
            plan.multiply(c.walk, bits, &mut after, message(c));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Case, Finding};
    use super::super::gates::{Shape, build};
    use super::super::number::Dd;
    use super::super::order::parts;
    use super::*;
    use crate::graph::net::{Effect, Gate, Net, NetBuilder, Var};

    /// Four roots, two signs over all of them.
    fn net() -> Net {
        let mut b = NetBuilder::new();
        let roots: Vec<Var> = (1..5).map(|i| b.add(Gate::Root { prior: 0.1 * f64::from(i) }).expect("sound")).collect();
        for s in [0.3, 0.6] {
            let y = b.add(Gate::AnyOf { leak: 0.05 }).expect("sound");
            for (i, r) in roots.iter().enumerate() {
                b.link(*r, y, s + 0.05 * i as f64, Effect::Causes).expect("sound");
            }
        }
        b.build().expect("sound")
    }

    fn solved(net: &Net, shape: Shape) -> (Model, Plan, Tape<Dd>, f64) {
        let case = Case::new(net, &[Finding::seen(Var(4)), Finding::seen(Var(5))]).expect("possible");
        let model = build(net, &case, &[true; 6], &[false; 6], shape);
        let plan = Plan::new(&model, &parts(&neighbours(&model), &model.root, None, u64::MAX));
        let (mut tape, whole) = Tape::<Dd>::forward(&plan, &model);
        tape.reverse(&plan);
        (model, plan, tape, whole.to_f64())
    }

    #[test]
    fn both_shapes_give_the_joint_sum_and_weighted_expectations() {
        let net = net();
        let w = [[0.3, 0.9], [1.0, 0.2], [0.7, 0.7], [0.1, 1.0]];
        let (mut total, mut weighted) = (0.0, 0.0);
        for states in 0..16_u32 {
            let value = |v: Var| states >> v.0 & 1 == 1;
            let mut p = net.present_given(Var(4), value) * net.present_given(Var(5), value);
            let mut by = 1.0;
            for i in 0..4 {
                let prior = 0.1 * f64::from(i + 1);
                p *= if value(Var(i)) { prior } else { 1.0 - prior };
                by *= w[i as usize][usize::from(value(Var(i)))];
            }
            total += p;
            weighted += p * by;
        }
        for shape in [Shape::Rank, Shape::Chain] {
            let (model, plan, tape, whole) = solved(&net, shape);
            assert!((whole - total).abs() < 1e-15);
            let weights: Vec<(u32, [Dd; 2])> = (0..4).map(|i| (model.of[i], w[i].map(Dd::from))).collect();
            let got = tape.expect(&plan, &weights).hi;
            assert!((got - weighted / total).abs() < 1e-15, "{got} {}", weighted / total);
        }
    }

    #[test]
    fn marginals_of_every_variable_add_up_to_one() {
        let (model, plan, tape, _) = solved(&net(), Shape::Rank);
        for v in 0..model.unary.len() as u32 {
            let m = tape.marginal(&plan, v).expect("in the plan");
            assert!((m[0].plus(m[1]).hi - 1.0).abs() < 1e-14);
        }
    }
}
