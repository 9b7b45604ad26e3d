//! Plans of repair against worked examples: expected costs, best orders, and small plans solved exhaustively elsewhere.
//!
//! `tests/reference/plans.json` holds eight seeded problems with their optimum, found by an exhaustive search in another language with another
//! state representation; each example below names its published source.

#![allow(clippy::unwrap_used)]

use serde_json::Value;
use splitpin::advice::decision::policy::{self, Reach};
use splitpin::advice::decision::{Action, Check, Problem, Remedy, optimum, worth};

const MANY: usize = 2_000_000;

/// Single faults with weights, each cured for certain by a remedy of its own at a cost; nobody to hand over to.
fn orders(weights: &[f64], costs: &[f64]) -> Problem {
    let total: f64 = weights.iter().sum();
    Problem {
        worlds: weights.iter().enumerate().map(|(i, w)| (1 << i, w / total)).collect(),
        checks: Vec::new(),
        remedies: costs
            .iter()
            .enumerate()
            .map(|(i, c)| Remedy { cost: *c, set_up: 0, cures: vec![(i, 1.0)] })
            .collect(),
        change: vec![vec![0.0]],
        set_up: 0,
        finding: 1e9,
        mending: vec![0.0; weights.len()],
    }
}

/// The remedies in this order.
fn in_order(order: &'static [usize]) -> impl FnMut(&splitpin::advice::decision::State) -> Action {
    move |state| order.iter().find(|r| state.tried >> **r & 1 == 0).map_or(Action::HandOver, |r| Action::Try(*r))
}

fn by_ratio(problem: &Problem) -> f64 {
    worth(problem, &mut |s| policy::by_odds_over_cost(problem, s).1, MANY).unwrap()
}

fn close(got: f64, wanted: f64) {
    assert!((got - wanted).abs() <= 1e-9 * wanted.abs().max(1.0), "{got}, wanted {wanted}");
}

/// Ottosen and Jensen, "A* wars": an action of cost 1 that cures with .9, then one of cost 1: 1.1.
#[test]
fn e20_two_remedies_for_one_fault() {
    let mut p = orders(&[1.0], &[1.0]);
    p.remedies = [0.9, 1.0].map(|q| Remedy { cost: 1.0, set_up: 0, cures: vec![(0, q)] }).to_vec();
    close(worth(&p, &mut in_order(&[0, 1]), MANY).unwrap(), 1.1);
}

/// Weights 10 and 2, times 1 and 3: sums of weighted completion times 18 and 46 (Kleinberg and Tardos, exercise on weighted completion).
#[test]
fn e21_two_jobs() {
    let p = orders(&[10.0, 2.0], &[1.0, 3.0]);
    close(12.0 * worth(&p, &mut in_order(&[0, 1]), MANY).unwrap(), 18.0);
    close(12.0 * worth(&p, &mut in_order(&[1, 0]), MANY).unwrap(), 46.0);
    close(optimum(&p, MANY).unwrap().cost, 1.5);
}

/// Five jobs of weights 3 6 1 6 2 and times 20 60 15 18 8 (published exercise): 1555 in the order given. The order by weight over time,
/// 4 5 1 2 3, gives 1055, and is optimal (Smith's rule; Kadane and Simon 1977).
#[test]
fn e22_the_simple_order_is_optimal_without_checks() {
    let p = orders(&[3.0, 6.0, 1.0, 6.0, 2.0], &[20.0, 60.0, 15.0, 18.0, 8.0]);
    close(18.0 * worth(&p, &mut in_order(&[0, 1, 2, 3, 4]), MANY).unwrap(), 1555.0);
    close(18.0 * by_ratio(&p), 1055.0);
    close(optimum(&p, MANY).unwrap().cost, 58.6111111111111);
    close(18.0 * worth(&p, &mut in_order(&[3, 4, 0, 1, 2]), MANY).unwrap(), 1055.0);
}

/// Weights 2 5 1, times 3 1 2: order 2 1 3, value 19 (published lecture notes on scheduling).
#[test]
fn e23_three_jobs() {
    let p = orders(&[2.0, 5.0, 1.0], &[3.0, 1.0, 2.0]);
    close(8.0 * optimum(&p, MANY).unwrap().cost, 19.0);
    close(8.0 * worth(&p, &mut in_order(&[1, 0, 2]), MANY).unwrap(), 19.0);
}

/// Questions until the cause is known, each remedy so dear that none is tried on a guess.
fn questions(weights: &[f64], sets: &[u64]) -> f64 {
    const DEAR: f64 = 1_000.0;
    let mut p = orders(weights, &vec![DEAR; weights.len()]);
    let links = |set: u64| (0..weights.len()).filter(|f| set >> f & 1 == 1).map(|f| (f, 1.0)).collect();
    let check = |(i, set): (usize, &u64)| Check {
        cost: 1.0,
        again: 1.0,
        procedure: i,
        set_up: 0,
        leak: 0.0,
        links: links(*set),
        sensitivity: 1.0,
        specificity: 1.0,
    };
    p.checks = sets.iter().enumerate().map(check).collect();
    optimum(&p, MANY).unwrap().cost - DEAR
}

/// Huffman's problem, weights 45 13 12 16 9 5 and every question allowed: 2.24 questions on average (Cormen, Leiserson, Rivest and Stein).
#[test]
fn e26_questions_of_every_kind() {
    // A question and its opposite are one: those without the first symbol will do.
    let sets: Vec<u64> = (1..64_u64).filter(|s| s & 1 == 0).collect();
    close(questions(&[45.0, 13.0, 12.0, 16.0, 9.0, 5.0], &sets), 2.24);
}

/// Half-split along a line of eight equally likely sections: 3 questions; five sections of .35 .10 .05 .20 .30: 2.15 (computed).
#[test]
fn e27_half_split_along_a_line() {
    let cuts = |n: usize| -> Vec<u64> { (1..n).map(|k| (1 << k) - 1).collect() };
    close(questions(&[1.0; 8], &cuts(8)), 3.0);
    close(questions(&[0.35, 0.10, 0.05, 0.20, 0.30], &cuts(5)), 2.15);
}

/// Light print (after Vomlel 2007; costs and priors as published, cures completed): with the question 20.14, without it 21.24 at a call-out of
/// 60; 41.7 and 42.8 at 200.
#[test]
fn e29_light_print() {
    let remedy = |cost: f64, cures: &[(usize, f64)]| Remedy { cost, set_up: 0, cures: cures.to_vec() };
    for (call_out, with, without) in [(60.0, 20.14, 21.24), (200.0, 41.7, 42.8)] {
        let mut p = orders(&[0.4, 0.3, 0.2, 0.1], &[]);
        p.remedies = vec![remedy(5.0, &[(0, 0.9)]), remedy(15.0, &[(0, 0.9), (1, 0.9)]), remedy(1.0, &[(2, 0.9)])];
        p.finding = call_out;
        close(optimum(&p, MANY).unwrap().cost, without);
        p.checks = vec![Check {
            cost: 2.0,
            again: 2.0,
            procedure: 0,
            set_up: 0,
            leak: 0.0,
            links: vec![(0, 1.0), (1, 1.0)],
            sensitivity: 1.0,
            specificity: 1.0,
        }];
        let best = optimum(&p, MANY).unwrap();
        close(best.cost, with);
        assert_eq!(best.first, Action::Ask(0));
    }
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap()
}

/// A stored problem as one of ours.
fn stored(v: &Value) -> Problem {
    let n = v["faults"].as_u64().unwrap() as usize;
    let list = |key: &str| -> Vec<f64> { v[key].as_array().unwrap().iter().map(number).collect() };
    let prior = list("prior");
    let most = v["at_most"].as_u64().unwrap() as u32;
    let chance = |set: u64| (0..n).map(|i| if set >> i & 1 == 1 { prior[i] } else { 1.0 - prior[i] }).product::<f64>();
    let sets: Vec<u64> = (1..1_u64 << n).filter(|s| s.count_ones() <= most).collect();
    let total: f64 = sets.iter().map(|s| chance(*s)).sum();
    let (cost, cfg) = (list("remedy_cost"), list("remedy_cfg"));
    let (asking, at) = (list("check_cost"), list("check_cfg"));
    let check = |(i, c): (usize, &Value)| Check {
        cost: asking[i],
        again: asking[i],
        procedure: i,
        set_up: at[i] as usize,
        leak: number(&c["leak"]),
        links: c["links"].as_array().unwrap().iter().map(|l| (number(&l[0]) as usize, number(&l[1]))).collect(),
        sensitivity: number(&c["se"]),
        specificity: number(&c["sp"]),
    };
    let change = number(&v["setup"]);
    Problem {
        worlds: sets.iter().map(|s| (*s, chance(*s) / total)).collect(),
        checks: v["check"].as_array().unwrap().iter().enumerate().map(check).collect(),
        remedies: (0..n).map(|i| Remedy { cost: cost[i], set_up: cfg[i] as usize, cures: vec![(i, 1.0)] }).collect(),
        change: (0..3).map(|a| (0..3).map(|b| if a == b { 0.0 } else { change }).collect()).collect(),
        set_up: 0,
        finding: number(&v["specialist"]),
        mending: vec![0.0; n],
    }
}

fn problems() -> Vec<(Value, Problem)> {
    let path = format!("{}/tests/reference/plans.json", env!("CARGO_MANIFEST_DIR"));
    let all: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    all.as_array().unwrap().iter().map(|v| (v.clone(), stored(v))).collect()
}

/// To the printed digits: the optimum and its first action, the order by probability over cost, and one step of lookahead. On these the simple
/// order is up to 64 % dearer than the best plan.
#[test]
fn p1_to_p8_have_the_stored_optimum() {
    let mut worst: f64 = 0.0;
    for (v, p) in problems() {
        let printed = |got: f64, wanted: &Value| {
            let wanted = number(wanted);
            assert!((got - wanted).abs() <= 1e-9 * wanted, "seed {}: {got}, wanted {wanted}", v["seed"]);
        };
        let best = optimum(&p, MANY).unwrap();
        printed(best.cost, &v["optimum"]);
        let (kind, which) = v["first"].as_str().unwrap().split_once(' ').unwrap_or(("specialist", "0"));
        let which: usize = which.parse().unwrap();
        let first = match kind {
            "check" => Action::Ask(which),
            "remedy" => Action::Try(which),
            _ => Action::HandOver,
        };
        assert_eq!(best.first, first, "seed {}", v["seed"]);
        printed(by_ratio(&p), &v["pc_only"]);
        let one = Reach { second: 0, exact: 0 };
        printed(worth(&p, &mut |s| policy::lookahead(&p, s, &one), MANY).unwrap(), &v["one_step_lookahead"]);
        worst = worst.max(by_ratio(&p) / best.cost);
    }
    assert!(worst > 1.1, "the simple order should fail somewhere: {worst}");
}

/// With a second step the plan followed to its end stays within 3 % of the optimum on average, and is never worse than the simple order.
#[test]
fn two_steps_of_lookahead_stay_near_the_optimum() {
    let reach = Reach { exact: 0, ..Reach::default() };
    let mut sum = 0.0;
    for (v, p) in problems() {
        let best = optimum(&p, MANY).unwrap().cost;
        let got = worth(&p, &mut |s| policy::lookahead(&p, s, &reach), MANY).unwrap();
        println!("seed {}: {got:.4}, optimum {best:.4}, simple order {:.4}", v["seed"], by_ratio(&p));
        assert!(got >= best - 1e-9 && got <= 1.06 * best && got <= by_ratio(&p) + 1e-9, "seed {}", v["seed"]);
        sum += got / best - 1.0;
    }
    assert!(sum / 8.0 < 0.03, "{sum}");
}
