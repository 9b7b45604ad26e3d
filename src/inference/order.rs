//! In which order to sum variables out.
//!
//! Takes the graph of who shares a factor with whom, gives an order with the neighbours each
//! variable has when its turn comes. Variables with at most one neighbour go first (they never
//! hurt). The rest go least degree first, ties by least fill among a dozen, on bit sets. When that
//! promises large tables, "causes first" (which on two layers gives tables over the positive answers
//! only) and seeded shuffles are tried too and the fewest cells win. Every order is the same on
//! every machine.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// One variable's turn: it and the neighbours it has then.
#[derive(Clone, Debug)]
pub(crate) struct Turn {
    pub var: u32,
    pub neighbours: Vec<u32>,
}

/// A connected part with its order.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub turns: Vec<Turn>,
    /// Table cells the order needs.
    pub cells: u64,
    /// Bits of the widest table.
    pub width: u32,
}

/// Above this many cells of a part, other orders are tried.
const CONTENT: u64 = 1 << 13;
/// Above this many cells of a part, shuffled orders are tried.
const LARGE: u64 = 1 << 16;
/// How many shuffled orders.
const SHUFFLES: u64 = 20;

/// Orders every connected part that holds a variable of `wanted` (all, when `None`). Shuffled orders are
/// tried for parts that are large or exceed `budget`; none are when it is nought.
pub(crate) fn parts(neighbours: &[Vec<u32>], root: &[bool], wanted: Option<&[bool]>, budget: u64) -> Vec<Part> {
    let n = neighbours.len();
    let mut local = vec![u32::MAX; n];
    let mut seen = vec![false; n];
    let mut out = Vec::new();
    for start in 0..n {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        let mut members = vec![start as u32];
        let mut at = 0;
        while at < members.len() {
            for &u in &neighbours[members[at] as usize] {
                if !std::mem::replace(&mut seen[u as usize], true) {
                    members.push(u);
                }
            }
            at += 1;
        }
        if wanted.is_none_or(|w| members.iter().any(|&m| w[m as usize])) {
            out.push(part(neighbours, root, &members, &mut local, budget));
        }
    }
    out
}

fn part(neighbours: &[Vec<u32>], root: &[bool], members: &[u32], local: &mut [u32], budget: u64) -> Part {
    let mut turns = Vec::with_capacity(members.len());
    let mut cells = 0_u64;
    let mut width = 0_u32;
    let mut gone = vec![false; members.len()];
    for (i, &m) in members.iter().enumerate() {
        local[m as usize] = i as u32;
    }
    let mut degree: Vec<u32> = members.iter().map(|&m| neighbours[m as usize].len() as u32).collect();
    // Peel what hangs by one thread.
    let mut open: Vec<u32> = (0..members.len() as u32).filter(|&i| degree[i as usize] <= 1).collect();
    while let Some(i) = open.pop() {
        if std::mem::replace(&mut gone[i as usize], true) {
            continue;
        }
        let var = members[i as usize];
        let left: Vec<u32> =
            neighbours[var as usize].iter().copied().filter(|&u| !gone[local[u as usize] as usize]).collect();
        cells += 2 << left.len();
        width = width.max(left.len() as u32 + 1);
        for &u in &left {
            let d = &mut degree[local[u as usize] as usize];
            *d -= 1;
            if *d == 1 {
                open.push(local[u as usize]);
            }
        }
        turns.push(Turn { var, neighbours: left });
    }
    let core: Vec<u32> = members.iter().copied().filter(|&m| !gone[local[m as usize] as usize]).collect();
    if !core.is_empty() {
        for (i, &m) in core.iter().enumerate() {
            local[m as usize] = i as u32;
        }
        let graph = Bits::new(neighbours, &core, local);
        let mut best = graph.order(None, None, u64::MAX).unwrap_or_default();
        if best.cells > CONTENT {
            let causes: Vec<bool> = core.iter().map(|&m| root[m as usize]).collect();
            if let Some(o) = graph.order(Some(&causes), None, best.cells) {
                best = o;
            }
        }
        if budget > 0 && best.cells > LARGE.min(budget) {
            for seed in 1..=SHUFFLES {
                if let Some(o) = graph.order(None, Some(seed), best.cells) {
                    best = o;
                }
            }
        }
        cells = cells.saturating_add(best.cells);
        width = width.max(best.width);
        turns.extend(best.turns.into_iter().map(|(v, s)| Turn {
            var: core[v as usize],
            neighbours: s.into_iter().map(|u| core[u as usize]).collect(),
        }));
    }
    for &m in members {
        local[m as usize] = u32::MAX;
    }
    Part { turns, cells, width }
}

#[derive(Default)]
struct Order {
    turns: Vec<(u32, Vec<u32>)>,
    cells: u64,
    width: u32,
}

/// A graph as rows of bits.
struct Bits {
    n: usize,
    words: usize,
    rows: Vec<u64>,
}

fn ones(row: &[u64]) -> impl Iterator<Item = u32> + '_ {
    row.iter().enumerate().flat_map(|(i, &w)| {
        let mut w = w;
        std::iter::from_fn(move || {
            (w != 0).then(|| {
                let b = w.trailing_zeros();
                w &= w - 1;
                i as u32 * 64 + b
            })
        })
    })
}

fn count(row: &[u64]) -> u32 {
    row.iter().map(|w| w.count_ones()).sum()
}

impl Bits {
    fn new(neighbours: &[Vec<u32>], core: &[u32], local: &[u32]) -> Bits {
        let n = core.len();
        let words = n.div_ceil(64);
        let mut rows = vec![0; n * words];
        let inside = |u: u32| {
            let l = local[u as usize];
            (core.get(l as usize) == Some(&u)).then_some(l as usize)
        };
        for (i, &m) in core.iter().enumerate() {
            for l in neighbours[m as usize].iter().filter_map(|&u| inside(u)) {
                rows[i * words + l / 64] |= 1 << (l % 64);
            }
        }
        Bits { n, words, rows }
    }

    /// An order with fewer cells than `beat`, or nothing. `first` marks variables that must precede
    /// all others; `seed` shuffles ties.
    fn order(&self, first: Option<&[bool]>, seed: Option<u64>, beat: u64) -> Option<Order> {
        const WINDOW: usize = 12;
        let w = self.words;
        let mut rows = self.rows.clone();
        let mut degree: Vec<u32> = (0..self.n).map(|i| count(&rows[i * w..(i + 1) * w])).collect();
        let mut gone = vec![false; self.n];
        let mut chance = seed.unwrap_or(0);
        let late = |v: u32| u32::from(first.is_some_and(|f| !f[v as usize])) << 24;
        let mut heap: BinaryHeap<Reverse<(u32, u32)>> =
            (0..self.n as u32).map(|v| Reverse((degree[v as usize] + late(v), v))).collect();
        let mut order = Order { turns: Vec::with_capacity(self.n), cells: 0, width: 0 };
        let mut window: Vec<u32> = Vec::with_capacity(WINDOW);
        let mut own = vec![0_u64; w];
        while let Some(Reverse((key, v))) = heap.pop() {
            if gone[v as usize] || key != degree[v as usize] + late(v) {
                continue;
            }
            window.clear();
            window.push(v);
            let slack = u32::from(seed.is_some_and(|s| s % 2 == 0));
            while window.len() < WINDOW {
                match heap.peek() {
                    Some(&Reverse((k, u))) if k <= key + slack => {
                        heap.pop();
                        if !gone[u as usize] && k == degree[u as usize] + late(u) && !window.contains(&u) {
                            window.push(u);
                        }
                    }
                    _ => break,
                }
            }
            let mut best = (u64::MAX, v);
            if window.len() > 1 && degree[v as usize] > 1 {
                for &u in &window {
                    let row = &rows[u as usize * w..(u as usize + 1) * w];
                    let d = u64::from(degree[u as usize]);
                    let mut joined = 0;
                    for x in ones(row) {
                        let other = &rows[x as usize * w..(x as usize + 1) * w];
                        joined += row.iter().zip(other).map(|(a, b)| u64::from((a & b).count_ones())).sum::<u64>();
                    }
                    let mut fill = d * d.saturating_sub(1) - joined.min(d * d.saturating_sub(1));
                    if seed.is_some() {
                        chance = chance.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                        fill = fill * 4 + (chance >> 33) % (8 + d);
                    }
                    if (fill, u) < best {
                        best = (fill, u);
                    }
                }
            }
            let v = best.1;
            for &u in &window {
                if u != v {
                    heap.push(Reverse((degree[u as usize] + late(u), u)));
                }
            }
            gone[v as usize] = true;
            own.copy_from_slice(&rows[v as usize * w..(v as usize + 1) * w]);
            let neighbours: Vec<u32> = ones(&own).collect();
            let bits = neighbours.len() as u32 + 1;
            order.width = order.width.max(bits);
            order.cells = order.cells.saturating_add(1_u64.checked_shl(bits).unwrap_or(u64::MAX));
            if order.cells >= beat && beat != u64::MAX {
                return None;
            }
            for &u in &neighbours {
                let row = &mut rows[u as usize * w..(u as usize + 1) * w];
                let mut d = 0;
                for (a, b) in row.iter_mut().zip(&own) {
                    *a |= b;
                    d += a.count_ones();
                }
                // Itself and the one just gone.
                row[u as usize / 64] &= !(1 << (u % 64));
                row[v as usize / 64] &= !(1 << (v % 64));
                d -= 2;
                if d != degree[u as usize] {
                    degree[u as usize] = d;
                    heap.push(Reverse((d + late(u), u)));
                }
            }
            order.turns.push((v, neighbours));
        }
        Some(order)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph(n: usize, edges: &[(u32, u32)]) -> Vec<Vec<u32>> {
        let mut g = vec![Vec::new(); n];
        for &(a, b) in edges {
            g[a as usize].push(b);
            g[b as usize].push(a);
        }
        g
    }

    #[test]
    fn a_tree_needs_two_bits() {
        let g = graph(7, &[(0, 1), (0, 2), (1, 3), (1, 4), (2, 5), (2, 6)]);
        let p = parts(&g, &[false; 7], None, 1 << 20);
        assert_eq!((p.len(), p[0].width, p[0].turns.len()), (1, 2, 7));
    }

    #[test]
    fn a_ring_needs_three_bits_and_every_turn_lists_who_is_left() {
        let edges: Vec<(u32, u32)> = (0..9).map(|i| (i, (i + 1) % 9)).collect();
        let p = parts(&graph(9, &edges), &[false; 9], None, 1 << 20);
        assert_eq!((p.len(), p[0].width), (1, 3));
        assert_eq!(p[0].cells, p[0].turns.iter().map(|t| 2 << t.neighbours.len()).sum::<u64>());
        for (i, t) in p[0].turns.iter().enumerate() {
            assert!(t.neighbours.iter().all(|n| p[0].turns[i + 1..].iter().any(|l| l.var == *n)));
        }
    }

    #[test]
    fn parts_fall_apart_and_only_wanted_ones_are_ordered() {
        let g = graph(5, &[(0, 1), (2, 3)]);
        assert_eq!(parts(&g, &[false; 5], None, 1 << 20).len(), 3);
        let wanted = [false, false, false, true, false];
        let p = parts(&g, &[false; 5], Some(&wanted), 1 << 20);
        assert_eq!(p.len(), 1);
        assert!(p[0].turns.iter().all(|t| t.var == 2 || t.var == 3));
    }

    #[test]
    fn two_layers_never_need_more_than_the_bits_and_one() {
        // Forty causes, each joined to all of six hidden bits.
        let edges: Vec<(u32, u32)> = (6..46).flat_map(|c| (0..6).map(move |b| (c, b))).collect();
        let root: Vec<bool> = (0..46).map(|i| i >= 6).collect();
        let p = parts(&graph(46, &edges), &root, None, 1 << 20);
        assert_eq!(p[0].width, 7);
    }
}
