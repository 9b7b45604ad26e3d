//! Which answers clash: the smallest set of findings that cannot be true together.
//!
//! Only findings that settle a variable can clash, so the question is one of logic and is put to
//! [`Logic`]. Findings are dropped one at a time as long as the rest still clashes, which gives a
//! minimal set; smaller sets are then tried outright, always when there are at most twelve findings,
//! otherwise as far as a fixed number of trials reaches.

use super::evidence::{Finding, settled};
use super::logic::{Logic, lit};

/// Trials allowed for beating the minimal set when there are more than twelve findings.
const TRIALS: u64 = 20_000;

/// Positions of findings that clash, ascending. The findings together must clash.
pub(crate) fn smallest(logic: &Logic, findings: &[Finding]) -> Vec<usize> {
    let hard: Vec<(usize, u32)> =
        findings.iter().enumerate().filter_map(|(i, f)| settled(f).map(|(v, p)| (i, lit(v, p)))).collect();
    let clash = |set: &[usize]| {
        let literals: Vec<u32> = set.iter().map(|&i| hard[i].1).collect();
        logic.refutes(&literals)
    };
    // Later answers go first, so that the set names the earliest culprits.
    let mut set: Vec<usize> = (0..hard.len()).collect();
    let mut chunk = (set.len() / 2).max(1);
    loop {
        let mut end = set.len();
        while end > 0 {
            let start = end.saturating_sub(chunk);
            let mut fewer = set.clone();
            fewer.drain(start..end);
            if clash(&fewer) {
                set = fewer;
            }
            end = start;
        }
        if chunk == 1 {
            break;
        }
        chunk = chunk.div_ceil(2);
    }
    let mut trials = 0;
    for size in 1..set.len() {
        trials += combinations(hard.len() as u64, size as u64);
        if hard.len() > 12 && trials > TRIALS {
            break;
        }
        let mut pick: Vec<usize> = (0..size).collect();
        loop {
            if clash(&pick) {
                return pick.iter().map(|&i| hard[i].0).collect();
            }
            if !advance(&mut pick, hard.len()) {
                break;
            }
        }
    }
    set.iter().map(|&i| hard[i].0).collect()
}

fn combinations(n: u64, k: u64) -> u64 {
    (0..k).fold(1_u64, |c, i| c.saturating_mul(n - i) / (i + 1))
}

/// The next choice in lexicographic order.
fn advance(pick: &mut [usize], n: usize) -> bool {
    let k = pick.len();
    let Some(i) = (0..k).rev().find(|&i| pick[i] < n - k + i) else {
        return false;
    };
    pick[i] += 1;
    for j in i + 1..k {
        pick[j] = pick[j - 1] + 1;
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_run_through_once_each() {
        let mut pick = vec![0, 1, 2];
        let mut seen = vec![pick.clone()];
        while advance(&mut pick, 6) {
            assert!(pick.windows(2).all(|w| w[0] < w[1]) && pick[2] < 6);
            seen.push(pick.clone());
        }
        assert_eq!(seen.len() as u64, combinations(6, 3));
        seen.dedup();
        assert_eq!(seen.len(), 20);
    }
}
