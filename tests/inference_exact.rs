//! The engine against brute force, on random nets of every kind of gate and link.

#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use splitpin::graph::net::{Arc, Effect, Gate, Net, NetBuilder, Var};
use splitpin::inference::{Engine, Evidence, Finding, Limits, Posterior, Trouble, enumerate};

const EXACT: f64 = 1e-9;

#[derive(Clone, Debug)]
struct NodeSpec {
    kind: u8,
    number: f64,
    parents: Vec<(u16, f64, bool)>,
    /// For a plain table of up to three parents.
    rows: Vec<f64>,
}

/// Probabilities of every sort: ordinary, rare, and the two ends.
fn probability() -> impl Strategy<Value = f64> + Clone {
    prop_oneof![
        8 => 0.0..1.0_f64,
        3 => (1.0..7.0_f64).prop_map(|e| 10.0_f64.powf(-e)),
        1 => Just(0.0),
        1 => Just(1.0),
        1 => (1.0..7.0_f64).prop_map(|e| 1.0 - 10.0_f64.powf(-e)),
    ]
}

/// As above, without the two ends.
fn open_probability() -> impl Strategy<Value = f64> + Clone {
    prop_oneof![3 => 0.01..0.99_f64, 2 => (1.0..7.0_f64).prop_map(|e| 10.0_f64.powf(-e))]
}

fn nodes(most: usize, number: impl Strategy<Value = f64> + Clone + 'static) -> impl Strategy<Value = Vec<NodeSpec>> {
    let parent = (any::<u16>(), number.clone(), prop::bool::weighted(0.2));
    let rows = prop::collection::vec(number.clone(), 8);
    let node = (0..12_u8, number, prop::collection::vec(parent, 0..6), rows)
        .prop_map(|(kind, number, parents, rows)| NodeSpec { kind, number, parents, rows });
    prop::collection::vec(node, 1..=most)
}

fn net_of(specs: &[NodeSpec]) -> Net {
    let mut b = NetBuilder::new();
    for (i, n) in specs.iter().enumerate() {
        let gate = match n.kind {
            _ if i < 2 => Gate::Root { prior: n.number },
            0..=2 => Gate::Root { prior: n.number },
            3..=6 => Gate::AnyOf { leak: n.number * 0.3 },
            10..=11 => {
                let mut parents: Vec<Var> = n.parents.iter().map(|p| Var(u32::from(p.0) % i as u32)).collect();
                parents.sort_unstable();
                parents.dedup();
                parents.truncate(3);
                b.add_table(&parents, &n.rows[..1 << parents.len()]).unwrap();
                continue;
            }
            _ => Gate::AllOf { leak: n.number * 0.3 },
        };
        let v = b.add(gate).unwrap();
        if matches!(gate, Gate::Root { .. }) {
            continue;
        }
        let mut seen = Vec::new();
        for (at, strength, inhibits) in &n.parents {
            let p = Var(u32::from(*at) % i as u32);
            if !seen.contains(&p) {
                seen.push(p);
                let effect = if *inhibits { Effect::Inhibits } else { Effect::Causes };
                b.link(p, v, *strength, effect).unwrap();
            }
        }
    }
    b.build().unwrap()
}

/// Adds a variable of a net whose parents were added, their links in the other order, and notes its new name.
fn add_copy(b: &mut NetBuilder, net: &Net, old: Var, name: &mut [Option<Var>]) {
    let mut parents: Vec<(Var, Arc)> = net.parents(old).map(|(p, a)| (name[p.index()].unwrap(), a)).collect();
    name[old.index()] = Some(if let Gate::Table { .. } = net.gate(old) {
        let parents: Vec<Var> = parents.iter().map(|p| p.0).collect();
        b.add_table(&parents, net.rows(old)).unwrap()
    } else {
        let new = b.add(net.gate(old)).unwrap();
        parents.reverse();
        for (p, a) in parents {
            b.link(p, new, a.strength, a.effect).unwrap();
        }
        new
    });
}

fn findings(most: usize) -> impl Strategy<Value = Vec<(u16, u8, f64, f64)>> {
    prop::collection::vec((any::<u16>(), 0..8_u8, 0.001..1.0_f64, 0.001..1.0_f64), 0..=most)
}

fn evidence_of(net: &Net, raw: &[(u16, u8, f64, f64)]) -> Evidence {
    raw.iter()
        .map(|(at, kind, a, b)| {
            let var = Var(u32::from(*at) % net.len() as u32);
            match kind {
                0..=2 => Finding::seen(var),
                3..=4 => Finding::not_seen(var),
                5 => Finding::reading(var, true, *a, *b),
                6 => Finding::reading(var, false, *a, *b),
                _ => Finding { var, if_absent: *a * 3.0, if_present: *b },
            }
        })
        .collect()
}

fn agree(got: &Posterior, wanted: &Posterior, tolerance: f64) -> Result<(), TestCaseError> {
    prop_assert!((got.ln_evidence - wanted.ln_evidence).abs() < tolerance.max(1e-9), "{got:?} {wanted:?}");
    for (i, (g, w)) in got.present.iter().zip(&wanted.present).enumerate() {
        prop_assert!(g.is_exact(), "variable {i} is not exact");
        prop_assert!((g.value() - w.value()).abs() <= tolerance, "variable {i}: {g:?}, wanted {w:?}");
    }
    Ok(())
}

fn clashes(net: &Net, evidence: &Evidence, set: &[usize]) -> bool {
    let part: Evidence = set.iter().map(|&i| evidence.as_slice()[i]).collect();
    matches!(enumerate(net, &part), Err(Trouble::Clash { .. }))
}

fn check_clash(net: &Net, evidence: &Evidence, set: &[usize]) -> Result<(), TestCaseError> {
    prop_assert!(set.windows(2).all(|w| w[0] < w[1]));
    prop_assert!(clashes(net, evidence, set), "{set:?} does not clash");
    // No smaller set clashes: by enumeration of all of them.
    let n = evidence.len();
    for bits in 0..1_u32 << n {
        if (bits.count_ones() as usize) < set.len() {
            let smaller: Vec<usize> = (0..n).filter(|i| bits >> i & 1 == 1).collect();
            prop_assert!(!clashes(net, evidence, &smaller), "{smaller:?} is smaller than {set:?}");
        }
    }
    Ok(())
}

fn settings(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= EXACT
}

proptest! {
    #![proptest_config(settings(200))]

    #[test]
    fn posteriors_equal_enumeration(specs in nodes(13, probability()), raw in findings(7)) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        match (Engine::new(&net).posterior(&evidence, &Limits::default()), enumerate(&net, &evidence)) {
            (Ok(got), Ok(wanted)) => agree(&got, &wanted, EXACT)?,
            (Err(Trouble::Clash { findings }), Err(Trouble::Clash { .. })) => {
                check_clash(&net, &evidence, &findings)?;
            }
            (got, wanted) => prop_assert!(false, "{got:?} but {wanted:?}"),
        }
    }

    #[test]
    fn posteriors_of_gates_between_nought_and_one_equal_enumeration(
        specs in nodes(14, open_probability()), raw in findings(9)
    ) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        match (Engine::new(&net).posterior(&evidence, &Limits::default()), enumerate(&net, &evidence)) {
            (Ok(got), Ok(wanted)) => agree(&got, &wanted, EXACT)?,
            (Err(Trouble::Clash { .. }), Err(Trouble::Clash { .. })) => {}
            (got, wanted) => prop_assert!(false, "{got:?} but {wanted:?}"),
        }
    }

    #[test]
    fn explanations_are_the_most_probable_sets_of_causes(specs in nodes(10, probability()), raw in findings(4)) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let engine = Engine::new(&net);
        let Ok(whole) = enumerate(&net, &evidence) else { return Ok(()) };
        let mut above = vec![false; net.len()];
        evidence.iter().for_each(|f| above[f.var.index()] = true);
        for v in net.order().iter().rev() {
            if above[v.index()] {
                net.parents(*v).for_each(|(p, _)| above[p.index()] = true);
            }
        }
        let roots: Vec<Var> = net.vars().filter(|v| above[v.index()] && matches!(net.gate(*v), Gate::Root { .. })).collect();
        let mut all: Vec<(f64, Vec<Var>)> = (0..1_u32 << roots.len())
            .filter_map(|bits| {
                let held = |i: usize| bits >> i & 1 == 1;
                let settled: Vec<Finding> = roots
                    .iter()
                    .enumerate()
                    .map(|(i, r)| if held(i) { Finding::seen(*r) } else { Finding::not_seen(*r) })
                    .collect();
                let set = roots.iter().enumerate().filter(|(i, _)| held(*i)).map(|(_, r)| *r).collect();
                let with = enumerate(&net, &evidence.with(&settled)).ok()?;
                Some(((with.ln_evidence - whole.ln_evidence).exp(), set))
            })
            .collect();
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let best = engine.explanations(&evidence, 4, &Limits::default()).unwrap();
        prop_assert!(best.len() == all.len().min(4), "{} of {}", best.len(), all.len());
        for (got, wanted) in best.iter().zip(&all) {
            prop_assert!(close(got.probability, wanted.0), "{got:?} but {wanted:?}");
            let own = all.iter().find(|a| a.1 == got.present).map_or(0.0, |a| a.0);
            prop_assert!(close(got.probability, own), "{got:?} but {own}");
        }
    }

    #[test]
    fn joint_probabilities_of_two_equal_enumeration(
        specs in nodes(11, probability()), raw in findings(5), pick in any::<(u8, u8)>()
    ) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let at = |n: u8| Var(u32::from(n) % net.len() as u32);
        let (a, b) = (at(pick.0), at(pick.1));
        let Ok(whole) = enumerate(&net, &evidence) else { return Ok(()) };
        let joint = Engine::new(&net).joint(&evidence, a, b, &Limits::default()).unwrap();
        for (i, got) in joint.into_iter().enumerate() {
            let state = |v: Var, present: bool| if present { Finding::seen(v) } else { Finding::not_seen(v) };
            let with = evidence.with(&[state(a, i & 2 != 0), state(b, i & 1 != 0)]);
            let wanted = enumerate(&net, &with).map_or(0.0, |w| (w.ln_evidence - whole.ln_evidence).exp());
            prop_assert!(close(got, wanted), "{joint:?}: {i} is {wanted}");
        }
    }

    #[test]
    fn weights_of_evidence_are_ratios_of_enumerated_odds(specs in nodes(11, open_probability()), raw in findings(5), pick in any::<u16>()) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let var = Var(u32::from(pick) % net.len() as u32);
        // Two findings an answer.
        let answer_of: Vec<usize> = (0..evidence.len()).map(|i| i / 2).collect();
        let odds = |wanted: &dyn Fn(usize) -> bool| {
            let part: Evidence =
                evidence.iter().zip(&answer_of).filter(|(_, a)| wanted(**a)).map(|(f, _)| *f).collect();
            enumerate(&net, &part).map(|p| p.present[var.index()].value()).map(|p| p / (1.0 - p))
        };
        let Ok(weights) = Engine::new(&net).weights(&evidence, &answer_of, &[var], &Limits::default()) else {
            prop_assert!(odds(&|_| true).is_err());
            return Ok(());
        };
        prop_assert_eq!(weights.len(), evidence.len().div_ceil(2));
        for (i, w) in weights.iter().enumerate() {
            let pairs = [(odds(&|a| a < i), odds(&|a| a <= i)), (odds(&|a| a != i), odds(&|_| true))];
            for (got, (before, after)) in [w[0].in_turn, w[0].besides].into_iter().zip(pairs) {
                let (before, after) = (before.unwrap(), after.unwrap());
                // One less a probability near one has few digits left by enumeration.
                if [before, after].iter().all(|odds| (1e-9..1e5).contains(odds)) {
                    let wanted = 10.0 * (after / before).log10();
                    prop_assert!((got - wanted).abs() < 1e-6, "answer {i}: {got}, wanted {wanted}");
                }
            }
        }
    }

    #[test]
    fn targets_alone_get_the_same_as_everything(specs in nodes(12, probability()), raw in findings(5), pick in any::<u16>()) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let engine = Engine::new(&net);
        let targets: Vec<Var> = net.vars().filter(|v| pick >> (v.0 % 16) & 1 == 1).collect();
        if let Ok(all) = engine.posterior(&evidence, &Limits::default()) {
            let some = engine.posterior_of(&evidence, &targets, &Limits::default()).unwrap();
            for (t, s) in targets.iter().zip(&some.present) {
                prop_assert!(close(s.value(), all.present[t.index()].value()));
            }
        }
    }

    #[test]
    fn the_order_of_answers_does_not_matter(specs in nodes(12, probability()), raw in findings(6), turn in 0..6_usize) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let mut turned: Vec<Finding> = evidence.iter().copied().collect();
        turned.reverse();
        let by = turn % turned.len().max(1);
        turned.rotate_left(by);
        let engine = Engine::new(&net);
        let (a, b) = (
            engine.posterior(&evidence, &Limits::default()),
            engine.posterior(&Evidence::from(turned), &Limits::default()),
        );
        match (a, b) {
            (Ok(a), Ok(b)) => agree(&a, &b, 1e-12)?,
            (Err(Trouble::Clash { findings: a }), Err(Trouble::Clash { findings: b })) => {
                prop_assert_eq!(a.len(), b.len());
            }
            (a, b) => prop_assert!(false, "{a:?} but {b:?}"),
        }
    }

    #[test]
    fn the_names_of_variables_do_not_matter(
        specs in nodes(12, probability()), raw in findings(6), shuffle in prop::collection::vec(any::<u32>(), 12)
    ) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        // New names by a shuffle; a table must come after its parents, so they are drawn among those that may come next.
        let mut waiting: Vec<Var> = net.vars().collect();
        let mut name: Vec<Option<Var>> = vec![None; net.len()];
        let mut b = NetBuilder::new();
        for at in shuffle.iter().cycle().take(net.len()) {
            let ready: Vec<Var> =
                waiting.iter().copied().filter(|v| net.parents(*v).all(|(p, _)| name[p.index()].is_some())).collect();
            let old = ready[*at as usize % ready.len()];
            waiting.retain(|v| *v != old);
            add_copy(&mut b, &net, old, &mut name);
        }
        let named = |v: Var| name[v.index()].unwrap();
        let renamed = b.build().unwrap();
        let other: Evidence = evidence.iter().map(|f| Finding { var: named(f.var), ..*f }).collect();
        let limits = Limits::default();
        match (Engine::new(&net).posterior(&evidence, &limits), Engine::new(&renamed).posterior(&other, &limits)) {
            (Ok(a), Ok(b)) => {
                prop_assert!((a.ln_evidence - b.ln_evidence).abs() < EXACT);
                for v in net.vars() {
                    prop_assert!(close(a.present[v.index()].value(), b.present[named(v).index()].value()), "{v:?}");
                }
            }
            (Err(a), Err(b)) => prop_assert_eq!(a, b),
            (a, b) => prop_assert!(false, "{a:?} but {b:?}"),
        }
    }

    #[test]
    fn parts_without_a_connection_change_nothing(
        specs in nodes(9, probability()), other in nodes(6, probability()), raw in findings(5)
    ) {
        let net = net_of(&specs);
        let more = net_of(&other);
        let mut b = NetBuilder::new();
        for net in [&net, &more] {
            let mut name = vec![None; net.len()];
            net.vars().for_each(|v| add_copy(&mut b, net, v, &mut name));
        }
        let both = b.build().unwrap();
        let evidence = evidence_of(&net, &raw);
        let alone = Engine::new(&net).posterior(&evidence, &Limits::default());
        let joined = Engine::new(&both).posterior(&evidence, &Limits::default());
        match (alone, joined) {
            (Ok(a), Ok(b)) => {
                prop_assert!(close(a.ln_evidence, b.ln_evidence));
                for (x, y) in a.present.iter().zip(&b.present) {
                    prop_assert!(close(x.value(), y.value()));
                }
            }
            (a, b) => prop_assert_eq!(a.err(), b.err()),
        }
    }

    #[test]
    fn taking_an_answer_back_restores_the_posteriors(specs in nodes(10, probability()), raw in findings(5), extra in findings(2)) {
        let net = net_of(&specs);
        let mut evidence = evidence_of(&net, &raw);
        let engine = Engine::new(&net);
        let before = engine.posterior(&evidence, &Limits::default());
        let len = evidence.len();
        evidence.extend(evidence_of(&net, &extra).iter().copied());
        let _ = engine.posterior(&evidence, &Limits::default());
        evidence.truncate(len);
        prop_assert_eq!(engine.posterior(&evidence, &Limits::default()), before);
    }

    #[test]
    fn certain_answers_may_be_repeated(specs in nodes(10, open_probability()), raw in findings(5)) {
        let net = net_of(&specs);
        let once: Evidence =
            evidence_of(&net, &raw).iter().copied().filter(|f| f.if_absent == 0.0 || f.if_present == 0.0).collect();
        let twice = once.with(once.as_slice());
        let engine = Engine::new(&net);
        match (engine.posterior(&once, &Limits::default()), engine.posterior(&twice, &Limits::default())) {
            (Ok(a), Ok(b)) => agree(&b, &a, 1e-12)?,
            (Err(Trouble::Clash { findings: a }), Err(Trouble::Clash { findings: b })) => {
                prop_assert_eq!(a.len(), b.len());
            }
            (a, b) => prop_assert!(false, "{a:?} but {b:?}"),
        }
    }

    #[test]
    fn a_reading_taken_twice_is_the_square_of_its_likelihoods(specs in nodes(10, probability()), at in any::<u16>(), a in 0.01..1.0_f64, b in 0.01..1.0_f64) {
        let net = net_of(&specs);
        let var = Var(u32::from(at) % net.len() as u32);
        let f = Finding { var, if_absent: a, if_present: b };
        let square = Finding { var, if_absent: a * a, if_present: b * b };
        let engine = Engine::new(&net);
        let twice = engine.posterior(&vec![f, f].into(), &Limits::default()).unwrap();
        let once = engine.posterior(&vec![square].into(), &Limits::default()).unwrap();
        agree(&twice, &once, 1e-12)?;
    }

    #[test]
    fn sweep_and_glance_agree_with_enumeration(specs in nodes(12, probability()), raw in findings(4), extra in findings(2), pick in any::<u16>()) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let engine = Engine::new(&net);
        let all: Vec<Var> = net.vars().collect();
        // With few targets most signs are read off their parents, with many they are variables.
        let targets: Vec<Var> = all
            .iter()
            .copied()
            .filter(|v| pick >> (v.0 % 16) & 1 == 1 && (pick % 3 == 0 || matches!(net.gate(*v), Gate::Root { .. })))
            .collect();
        let Ok(base) = enumerate(&net, &evidence) else { return Ok(()) };
        let prepared = engine.prepare(&evidence, &Limits::default()).unwrap();
        // Plain numbers: a little less exact where the chance divided by is small.
        let check = |got: &[f64], wanted: &Posterior, chance: f64| -> Result<(), TestCaseError> {
            for (t, g) in targets.iter().zip(got) {
                let w = wanted.present[t.index()].value();
                let tolerance = 1e-9 * (1.0 + 1.0 / chance);
                prop_assert!((g - w).abs() < tolerance, "{t:?}: {g}, wanted {w}, chance {chance}");
            }
            Ok(())
        };
        for p in prepared.sweep(&all, &targets).unwrap() {
            prop_assert!(close(p.present, base.present[p.check.index()].value()), "{p:?} {base:?}");
            for (finding, chance, got) in [
                (Finding::seen(p.check), p.present, &p.given_present),
                (Finding::not_seen(p.check), 1.0 - p.present, &p.given_absent),
            ] {
                match enumerate(&net, &evidence.with(&[finding])) {
                    Ok(wanted) => check(got, &wanted, chance)?,
                    Err(_) => check(got, &base, 1.0)?,
                }
            }
            if let Ok(wanted) = enumerate(&net, &evidence.with(&[Finding::reading(p.check, true, 0.9, 0.8)])) {
                let g = p.reading([1.0 - 0.8, 0.9]);
                prop_assert!(close(g.probability, (wanted.ln_evidence - base.ln_evidence).exp()));
                check(&g.present, &wanted, g.probability)?;
            }
        }
        let extra = evidence_of(&net, &extra);
        let glance = prepared.glance(extra.as_slice(), &targets).unwrap();
        match enumerate(&net, &evidence.with(extra.as_slice())) {
            Ok(wanted) => {
                let chance = (wanted.ln_evidence - base.ln_evidence).exp();
                prop_assert!((glance.probability - chance).abs() <= 1e-9 * (1.0 + chance));
                check(&glance.present, &wanted, chance.min(1.0))?;
            }
            Err(_) => {
                prop_assert_eq!(glance.probability, 0.0);
                check(&glance.present, &base, 1.0)?;
            }
        }
    }

    #[test]
    fn bounds_contain_the_truth(specs in nodes(13, probability()), raw in findings(7), cells in 0..200_u64, effort in 0..200_u32) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        let Ok(truth) = enumerate(&net, &evidence) else { return Ok(()) };
        let got = Engine::new(&net).posterior(&evidence, &Limits { cells, effort }).unwrap();
        for (i, (g, t)) in got.present.iter().zip(&truth.present).enumerate() {
            let t = t.value();
            prop_assert!(g.low.is_finite() && g.high.is_finite() && 0.0 <= g.low && g.high <= 1.0 && g.low <= g.high);
            prop_assert!(g.low - EXACT <= t && t <= g.high + EXACT, "variable {i}: {g:?}, truth {t}");
        }
        prop_assert!(got.ln_evidence_low - EXACT <= truth.ln_evidence);
        prop_assert!(truth.ln_evidence <= got.ln_evidence + EXACT);
    }
}

proptest! {
    #![proptest_config(settings(60))]

    #[test]
    fn sixteen_variables_equal_enumeration(specs in nodes(16, open_probability()), raw in findings(9)) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        match (Engine::new(&net).posterior(&evidence, &Limits::default()), enumerate(&net, &evidence)) {
            (Ok(got), Ok(wanted)) => agree(&got, &wanted, EXACT)?,
            (Err(Trouble::Clash { .. }), Err(Trouble::Clash { .. })) => {}
            (got, wanted) => prop_assert!(false, "{got:?} but {wanted:?}"),
        }
    }
}

/// Numbers far below what one minus itself can hold, and yet far above nought.
fn extreme() -> impl Strategy<Value = f64> + Clone {
    prop_oneof![
        3 => (1.0..40.0_f64).prop_map(|e| 10.0_f64.powf(-e)),
        1 => 0.1..0.9_f64,
        1 => Just(1.0 - f64::EPSILON / 2.0),
    ]
}

proptest! {
    #![proptest_config(settings(200))]

    #[test]
    fn extreme_numbers_equal_enumeration(specs in nodes(10, extreme()), raw in findings(4)) {
        let net = net_of(&specs);
        let evidence = evidence_of(&net, &raw);
        match (Engine::new(&net).posterior(&evidence, &Limits::default()), enumerate(&net, &evidence)) {
            (Ok(got), Ok(wanted)) => agree(&got, &wanted, EXACT)?,
            // Enumeration runs out of range where the engine does not.
            (Ok(got), Err(Trouble::Clash { .. })) => prop_assert!(got.ln_evidence < -600.0),
            (Err(Trouble::Clash { .. }), Err(Trouble::Clash { .. })) => {}
            (got, wanted) => prop_assert!(false, "{got:?} but {wanted:?}"),
        }
    }
}

fn root(b: &mut NetBuilder, prior: f64) -> Var {
    b.add(Gate::Root { prior }).unwrap()
}

fn any_of(b: &mut NetBuilder, leak: f64, causes: &[(Var, f64)]) -> Var {
    let v = b.add(Gate::AnyOf { leak }).unwrap();
    for (p, s) in causes {
        b.link(*p, v, *s, Effect::Causes).unwrap();
    }
    v
}

/// Two unlikely explanations, each beyond the range of ordinary numbers: their ratio is exact.
#[test]
fn denormal_priors_keep_their_ratio() {
    let mut b = NetBuilder::new();
    let (x, y) = (root(&mut b, 5e-324), root(&mut b, 1.5e-323));
    let filler: Vec<(Var, f64)> = (0..3).map(|_| (root(&mut b, 1e-320), 1e-300)).collect();
    let mut causes = vec![(x, 0.5), (y, 0.5)];
    causes.extend(filler);
    let sign = any_of(&mut b, 0.0, &causes);
    let net = b.build().unwrap();
    let got = Engine::new(&net).posterior(&vec![Finding::seen(sign)].into(), &Limits::default()).unwrap();
    assert!((got.present[x.index()].value() - 0.25).abs() < EXACT, "{got:?}");
    assert!((got.present[y.index()].value() - 0.75).abs() < EXACT);
    assert!((got.ln_evidence - (1e-323_f64).ln()).abs() < 1e-9);
}

/// Explanations so unlikely that one minus them is one, in double-double as well: both kinds of signed
/// arithmetic would agree on the wrong answer.
#[test]
fn explanations_below_any_rounding_are_weighed() {
    let mut b = NetBuilder::new();
    let causes: Vec<(Var, f64)> = (0..3).map(|_| (root(&mut b, 1e-40), 0.5)).collect();
    let sign = any_of(&mut b, 1e-40, &causes);
    let net = b.build().unwrap();
    let got = Engine::new(&net).posterior(&vec![Finding::seen(sign)].into(), &Limits::default()).unwrap();
    for (v, _) in causes {
        assert!((got.present[v.index()].value() - 0.2).abs() < EXACT, "{got:?}");
    }
}

#[test]
fn thousands_of_parents_cost_no_table() {
    let mut b = NetBuilder::new();
    let n = 5000;
    let causes: Vec<(Var, f64)> = (0..n).map(|_| (root(&mut b, 1e-4), 0.5)).collect();
    let sign = any_of(&mut b, 0.0, &causes);
    let net = b.build().unwrap();
    let engine = Engine::new(&net);
    let got = engine.posterior(&vec![Finding::seen(sign)].into(), &Limits::default()).unwrap();
    // P(sign) = 1 - (1 - 5e-5)^n, and one cause given the sign by symmetry.
    let quiet = (f64::from(n) * (-0.5e-4_f64).ln_1p()).exp_m1();
    let rest = (f64::from(n - 1) * (-0.5e-4_f64).ln_1p()).exp();
    let wanted = 1e-4 * (1.0 - 0.5 * rest) / -quiet;
    assert!(got.is_exact());
    assert!((got.ln_evidence - (-quiet).ln()).abs() < EXACT);
    for (v, _) in &causes {
        assert!((got.present[v.index()].value() - wanted).abs() < 1e-12);
    }
    let swept = engine.prepare(&Evidence::new(), &Limits::default()).unwrap().sweep(&[sign], &[causes[7].0]).unwrap();
    assert!((swept[0].given_present[0] - wanted).abs() < EXACT);
}

#[test]
fn a_thousand_unlikely_findings_do_not_run_out_of_range() {
    let mut b = NetBuilder::new();
    let common = root(&mut b, 1e-9);
    let signs: Vec<Var> = (0..1000)
        .map(|_| {
            let own = root(&mut b, 1e-5);
            any_of(&mut b, 1e-6, &[(common, 0.004), (own, 0.9)])
        })
        .collect();
    let net = b.build().unwrap();
    let evidence: Evidence = signs.iter().map(|s| Finding::seen(*s)).collect();
    let got = Engine::new(&net).posterior(&evidence, &Limits::default()).unwrap();
    let without: f64 = 1.0 - (1.0 - 1e-6) * (1.0 - 0.9e-5);
    let with: f64 = 1.0 - (1.0 - 1e-6) * (1.0 - 0.9e-5) * (1.0 - 0.004);
    let log = [(1.0_f64 - 1e-9).ln() + 1000.0 * without.ln(), 1e-9_f64.ln() + 1000.0 * with.ln()];
    let most = log[0].max(log[1]);
    let wanted = most + ((log[0] - most).exp() + (log[1] - most).exp()).ln();
    assert!(wanted < -1000.0);
    assert!((got.ln_evidence - wanted).abs() < 1e-6, "{} {wanted}", got.ln_evidence);
    assert!((got.present[common.index()].value() - (log[1] - wanted).exp()).abs() < EXACT);
}

/// A grid of causes and signs that no order can untangle within a small limit.
fn tangle(n: u32) -> (Net, Evidence) {
    let mut b = NetBuilder::new();
    let causes: Vec<Var> = (0..n).map(|i| root(&mut b, 0.01 + 0.001 * f64::from(i))).collect();
    let mut evidence = Evidence::new();
    for i in 0..n {
        let links: Vec<(Var, f64)> =
            (0..4).map(|k| (causes[((i * 7 + k * k * 3 + k) % n) as usize], 0.3 + 0.15 * f64::from(k))).collect();
        let mut distinct: Vec<(Var, f64)> = Vec::new();
        for l in links {
            if distinct.iter().all(|d| d.0 != l.0) {
                distinct.push(l);
            }
        }
        let sign = any_of(&mut b, 0.01, &distinct);
        evidence.push(if i % 3 == 0 { Finding::reading(sign, true, 0.9, 0.95) } else { Finding::seen(sign) });
    }
    (b.build().unwrap(), evidence)
}

#[test]
fn bounds_are_honest_and_tighten_with_the_limit() {
    let (net, evidence) = tangle(14);
    let engine = Engine::new(&net);
    let truth = engine.posterior(&evidence, &Limits::default()).unwrap();
    assert!(truth.is_exact());
    let needed = truth.work.cells;
    for share in [64, 8, 2] {
        // With more effort the same bounds close in, down to what rounding leaves.
        let mut last = f64::INFINITY;
        let mut steps = 0;
        let limits = Limits { cells: needed / share, effort: 1 };
        let got = engine.tighten(&evidence, &all(&net), &limits, |now| {
            let width = contains(now, &truth);
            assert!(width <= last, "{width} after {last}");
            (last, steps) = (width, steps + 1);
            width > 1e-6 && steps < 16
        });
        assert!(contains(&got.unwrap(), &truth) < 1e-6, "{last}");
    }
}

/// Checks that bounds contain the truth; gives the widest.
fn contains(got: &Posterior, truth: &Posterior) -> f64 {
    assert!(got.ln_evidence_low <= truth.ln_evidence + EXACT && truth.ln_evidence <= got.ln_evidence + EXACT);
    let mut width: f64 = 0.0;
    for (g, t) in got.present.iter().zip(&truth.present) {
        assert!(g.low <= t.value() + EXACT && t.value() <= g.high + EXACT, "{g:?} {t:?}");
        width = width.max(g.high - g.low);
    }
    width
}

fn all(net: &Net) -> Vec<Var> {
    net.vars().collect()
}

/// A certain no joins nothing, also when settling one of three causes leaves it with two: else what lies beyond the tangle would count twice.
#[test]
fn what_a_no_leaves_out_is_not_counted_twice() {
    let (tangled, mut evidence) = tangle(14);
    let mut b = NetBuilder::new();
    let mut name = vec![None; tangled.len()];
    tangled.vars().for_each(|v| add_copy(&mut b, &tangled, v, &mut name));
    for i in 0..7 {
        let (p, q) = (root(&mut b, 0.3), root(&mut b, 0.4));
        let no = any_of(&mut b, 0.01, &[(Var(2 * i), 0.5), (p, 0.8), (q, 0.7)]);
        evidence.push(Finding::not_seen(no));
    }
    let net = b.build().unwrap();
    let engine = Engine::new(&net);
    let truth = engine.posterior(&evidence, &Limits::default()).unwrap();
    assert!(truth.is_exact());
    for effort in [1, 16, 256, 4096] {
        let got = engine.posterior(&evidence, &Limits { cells: truth.work.cells / 4, effort }).unwrap();
        contains(&got, &truth);
    }
}

#[test]
fn look_ahead_says_when_it_is_too_tangled() {
    let (net, evidence) = tangle(14);
    let engine = Engine::new(&net);
    let got = engine.prepare(&evidence, &Limits::cells(8));
    assert!(matches!(got, Err(Trouble::TooTangled { cells }) if cells > 8));
}

/// A probability that rests on bounds would be a silent guess.
#[test]
fn explanations_and_joint_probabilities_say_when_the_evidence_is_too_tangled() {
    let (net, evidence) = tangle(40);
    let engine = Engine::new(&net);
    let limits = Limits::cells(1 << 8);
    assert!(!engine.posterior_of(&evidence, &[], &limits).unwrap().is_exact());
    let tangled = |e: Trouble| matches!(e, Trouble::TooTangled { .. });
    assert!(engine.explanations(&evidence, 1, &limits).is_err_and(tangled));
    assert!(engine.joint(&evidence, Var(0), Var(1), &limits).is_err_and(tangled));
}

#[test]
fn unsound_findings_are_named() {
    let mut b = NetBuilder::new();
    let x = root(&mut b, 0.5);
    let net = b.build().unwrap();
    let engine = Engine::new(&net);
    let ask = |f: Finding| engine.posterior(&vec![Finding::seen(x), f].into(), &Limits::default());
    assert_eq!(ask(Finding::seen(Var(9))).err(), Some(Trouble::UnknownVariable { finding: 1 }));
    for bad in [f64::NAN, f64::INFINITY, -0.5] {
        let got = ask(Finding { var: x, if_absent: bad, if_present: 1.0 });
        assert!(matches!(got, Err(Trouble::NotALikelihood { finding: 1, .. })));
    }
    let nothing = ask(Finding { var: x, if_absent: 0.0, if_present: 0.0 });
    assert_eq!(nothing.err(), Some(Trouble::Clash { findings: vec![1] }));
    assert_eq!(ask(Finding::not_seen(x)).err(), Some(Trouble::Clash { findings: vec![0, 1] }));
    let asked = engine.posterior_of(&Evidence::new(), &[Var(3)], &Limits::default());
    assert_eq!(asked.err(), Some(Trouble::UnknownTarget { var: Var(3) }));
}

#[test]
fn a_clash_among_many_answers_is_the_smallest() {
    let mut b = NetBuilder::new();
    let fault = root(&mut b, 0.1);
    let other = root(&mut b, 0.1);
    let dark = any_of(&mut b, 0.0, &[(fault, 1.0)]);
    let quiet = any_of(&mut b, 0.0, &[(fault, 0.5), (other, 0.5)]);
    let loose: Vec<Var> = (0..30).map(|_| any_of(&mut b, 0.1, &[(other, 0.5)])).collect();
    let net = b.build().unwrap();
    let mut evidence: Evidence = loose.iter().map(|v| Finding::seen(*v)).collect();
    evidence.push(Finding::seen(quiet));
    evidence.push(Finding::not_seen(other));
    evidence.push(Finding::not_seen(dark));
    let got = Engine::new(&net).posterior(&evidence, &Limits::default());
    assert_eq!(got.err(), Some(Trouble::Clash { findings: vec![30, 31, 32] }));
}
