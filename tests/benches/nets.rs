//! Seeded nets and cases for the benchmarks, the same on every machine: two layers, and workshop-like ones of three layers in systems.
//!
//! Integer arithmetic and plain doubles only (SplitMix64: Steele, Lea and Flood 2014), so that another language can make the same nets.

use splitpin::graph::net::{Effect, Gate, Net, NetBuilder, Var};
use splitpin::inference::{Evidence, Finding};

/// SplitMix64.
pub struct Rng(u64);

impl Rng {
    /// Starts at a seed.
    pub fn new(seed: u64) -> Rng {
        Rng(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From 0 to `n`, `n` not among them.
    pub fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64).floor() as usize
    }

    fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

fn rounded(x: f64, decimals: i32) -> f64 {
    let s = 10_f64.powi(decimals);
    (x * s + 0.5).floor() / s
}

fn prior(r: &mut Rng) -> f64 {
    let u = r.unit();
    rounded(0.0005 + 0.0295 * u * u * u, 5)
}

fn strength(r: &mut Rng) -> f64 {
    rounded(0.05 + 0.90 * r.unit(), 4)
}

fn leak(r: &mut Rng) -> f64 {
    let u = r.unit();
    rounded(0.0001 + 0.0099 * u * u, 4)
}

/// One parent, and more while luck lasts.
fn how_many(r: &mut Rng, mean: f64, most: usize) -> usize {
    let mut k = 1;
    while k < most && r.unit() < 1.0 - 1.0 / mean {
        k += 1;
    }
    k
}

/// A net, where its findings begin, and how many roots it has.
pub struct Seeded {
    /// The net: roots first, findings last.
    pub net: Net,
    /// Roots.
    pub roots: usize,
    /// The first finding.
    pub first_finding: usize,
}

/// Collects nodes and builds.
struct Draft(NetBuilder, usize);

impl Draft {
    fn new() -> Draft {
        Draft(NetBuilder::new(), 0)
    }

    fn roots(&mut self, n: usize, r: &mut Rng) {
        for _ in 0..n {
            self.0.add(Gate::Root { prior: prior(r) }).expect("a probability");
        }
        self.1 += n;
    }

    fn node(&mut self, parents: &[usize], r: &mut Rng) {
        let y = self.0.add(Gate::AnyOf { leak: leak(r) }).expect("a probability");
        self.1 += 1;
        for p in parents {
            self.0.link(Var(*p as u32), y, strength(r), Effect::Causes).expect("a new link");
        }
    }

    fn done(self, roots: usize, first_finding: usize) -> Seeded {
        Seeded { net: self.0.build().expect("no loop"), roots, first_finding }
    }
}

/// Causes and findings only.
pub fn two_layers(seed: u64, roots: usize, findings: usize, mean: f64, most: usize) -> Seeded {
    let mut r = Rng::new(seed);
    let mut draft = Draft::new();
    draft.roots(roots, &mut r);
    for _ in 0..findings {
        let k = how_many(&mut r, mean, most).min(roots);
        let mut parents: Vec<usize> = Vec::with_capacity(k);
        while parents.len() < k {
            let x = r.below(roots);
            if !parents.contains(&x) {
                parents.push(x);
            }
        }
        draft.node(&parents, &mut r);
    }
    draft.done(roots, roots)
}

/// Causes, two layers of conditions and findings, in systems of about 42 causes with a few links across.
pub fn workshop(seed: u64, roots: usize) -> Seeded {
    const CROSS: f64 = 0.06;
    let mut r = Rng::new(seed);
    let systems = 12 * roots / 500;
    let (a, b, findings) = (180 * roots / 500, 72 * roots / 500, 600 * roots / 500);
    let groups = |base: usize, n: usize| {
        let mut out = vec![Vec::new(); systems];
        (0..n).for_each(|i| out[i * systems / n].push(base + i));
        out
    };
    let (group_r, group_a, group_b) = (groups(0, roots), groups(roots, a), groups(roots + a, b));
    let draw = |r: &mut Rng, mix: &[(f64, &Vec<Vec<usize>>)], own: usize, k: usize| {
        let mut parents: Vec<usize> = Vec::with_capacity(k);
        while parents.len() < k {
            let u = r.unit();
            let mut so_far = 0.0;
            let from = mix.iter().find(|(w, _)| {
                so_far += w;
                u < so_far
            });
            let from = from.or(mix.last()).map(|m| m.1).expect("a mix");
            let system = if r.unit() < CROSS { r.below(systems) } else { own };
            let pool = &from[system];
            let x = pool[r.below(pool.len())];
            if !parents.contains(&x) {
                parents.push(x);
            }
        }
        parents
    };
    let mut draft = Draft::new();
    draft.roots(roots, &mut r);
    for i in 0..a {
        let k = how_many(&mut r, 4.0, 10);
        let parents = draw(&mut r, &[(1.0, &group_r)], i * systems / a, k);
        draft.node(&parents, &mut r);
    }
    for i in 0..b {
        let k = how_many(&mut r, 3.0, 8);
        let parents = draw(&mut r, &[(0.8, &group_a), (0.2, &group_r)], i * systems / b, k);
        draft.node(&parents, &mut r);
    }
    for i in 0..findings {
        let k = how_many(&mut r, 4.0, 10);
        let parents = draw(&mut r, &[(0.35, &group_r), (0.35, &group_a), (0.30, &group_b)], i * systems / findings, k);
        draft.node(&parents, &mut r);
    }
    draft.done(roots, roots + a + b)
}

/// Findings of one case, and findings that could be asked about next.
pub struct Case {
    /// So many positive findings, twenty negative ones.
    pub evidence: Evidence,
    /// Thirty open findings, two thirds of them near.
    pub open: Vec<Var>,
}

/// Draws a case with `positive` findings that descend from a few causes.
pub fn case(s: &Seeded, seed: u64, positive: usize) -> Case {
    const NEGATIVE: usize = 20;
    let mut r = Rng::new(seed);
    let net = &s.net;
    let mut faults = 1 + positive / 5;
    let mut tries = 0;
    let (state, mut seen) = loop {
        let mut forced: Vec<usize> = Vec::new();
        while forced.len() < faults {
            let x = r.below(s.roots);
            if !forced.contains(&x) {
                forced.push(x);
            }
        }
        let mut state = vec![false; net.len()];
        for &v in net.order() {
            let p = net.present_given(v, |v| state[v.index()]);
            state[v.index()] = forced.contains(&v.index()) || r.unit() < p;
        }
        let mut under = vec![false; net.len()];
        forced.iter().for_each(|f| under[*f] = true);
        for &v in net.order() {
            if under[v.index()] {
                net.children(v).for_each(|(c, _)| under[c.index()] = true);
            }
        }
        let seen: Vec<usize> = (s.first_finding..net.len()).filter(|j| state[*j] && under[*j]).collect();
        if seen.len() >= positive {
            break (state, seen);
        }
        tries += 1;
        if tries % 5 == 0 {
            faults += 1;
        }
    };
    r.shuffle(&mut seen);
    seen.truncate(positive);
    let mut near_cause = vec![false; net.len()];
    for j in &seen {
        net.parents(Var(*j as u32)).for_each(|(p, _)| near_cause[p.index()] = true);
    }
    let is_near = |j: usize| net.parents(Var(j as u32)).any(|(p, _)| near_cause[p.index()]);
    let absent: Vec<usize> = (s.first_finding..net.len()).filter(|j| !state[*j]).collect();
    let (mut near, mut far): (Vec<usize>, Vec<usize>) = absent.into_iter().partition(|j| is_near(*j));
    r.shuffle(&mut near);
    r.shuffle(&mut far);
    let not_seen: Vec<usize> = near.iter().take(NEGATIVE / 2).chain(far.iter().take(NEGATIVE / 2)).copied().collect();
    let open = near.iter().skip(NEGATIVE / 2).take(20).chain(far.iter().skip(NEGATIVE / 2).take(10));
    let mut evidence = Evidence::new();
    seen.iter().for_each(|j| evidence.push(Finding::seen(Var(*j as u32))));
    not_seen.iter().for_each(|j| evidence.push(Finding::not_seen(Var(*j as u32))));
    Case { evidence, open: open.map(|j| Var(*j as u32)).collect() }
}
