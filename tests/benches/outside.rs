//! Nets, cases, our posteriors and our median times in files, for `tests/reference/inference/compare.py` to put to other libraries.
//!
//! For each net a text in UAI format and a JSON file: `roots`, and `cases` with `evidence` (variable, likelihood if absent, if present),
//! `present` (posteriors of the roots), `ln_evidence`, `seconds` (median of one call from evidence to posteriors, the net being there),
//! `exact` and `cells`.

use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use serde_json::{Value, json};
use splitpin::graph::exchange::uai;
use splitpin::graph::net::{Effect, Gate, Net, NetBuilder, Var};
use splitpin::inference::{Engine, Evidence, Finding, Limits};
use splitpin::{embed, vehicle};

use crate::nets::{Seeded, case, two_layers, workshop};
use crate::{answered, classic};

/// Nets stored with their exact answers.
const STORED: [&str; 5] = ["tiny12x20", "small40x60", "flat3_300", "qmr600x4000", "workshop500"];
const POSITIVES: [usize; 4] = [2, 5, 10, 15];
/// Calls are repeated for so long, and so often at least and at most.
const SECONDS: f64 = 0.5;
const CALLS: (usize, usize) = (5, 1000);

fn median_seconds(mut call: impl FnMut()) -> f64 {
    call();
    let start = Instant::now();
    let mut times = Vec::new();
    while times.len() < CALLS.0 || (times.len() < CALLS.1 && start.elapsed().as_secs_f64() < SECONDS) {
        let one = Instant::now();
        call();
        times.push(one.elapsed().as_secs_f64());
    }
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn put(folder: &Path, name: &str, net: &Net, cases: &[(String, Evidence)], roots: &[Var]) {
    let engine = Engine::new(net);
    let limits = Limits::default();
    let answer = |(label, evidence): &(String, Evidence)| {
        let found = engine.posterior_of(evidence, roots, &limits).expect("no clash");
        let seconds = median_seconds(|| {
            black_box(engine.posterior_of(black_box(evidence), roots, &limits)).ok();
        });
        println!("{name} {label}: {:.3} ms, exact {}, {} cells", 1e3 * seconds, found.is_exact(), found.work.cells);
        json!({
            "case": label,
            "evidence": evidence.iter().map(|f| json!([f.var.0, f.if_absent, f.if_present])).collect::<Vec<_>>(),
            "present": found.present.iter().map(|p| p.value()).collect::<Vec<_>>(),
            "ln_evidence": found.ln_evidence,
            "seconds": seconds,
            "exact": found.is_exact(),
            "cells": found.work.cells,
        })
    };
    let cases: Vec<Value> = cases.iter().map(answer).collect();
    let roots: Vec<u32> = roots.iter().map(|r| r.0).collect();
    let text = json!({ "net": name, "roots": roots, "cases": cases }).to_string();
    std::fs::write(folder.join(format!("{name}.json")), text).expect("a folder to write to");
    std::fs::write(folder.join(format!("{name}.uai")), uai(net)).expect("a folder to write to");
}

fn without_parents(net: &Net) -> Vec<Var> {
    net.vars().filter(|v| net.parents(*v).len() == 0).collect()
}

fn stored(name: &str) -> (Net, Vec<(String, Evidence)>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/reference/inference/nets/{name}.json"));
    let file: Value = serde_json::from_str(&std::fs::read_to_string(path).expect("a stored net")).expect("sound JSON");
    let number = |v: &Value| v.as_f64().expect("a number");
    let mut builder = NetBuilder::new();
    for prior in classic::list(&file["prior"]) {
        builder.add(Gate::Root { prior: number(prior) }).expect("a probability");
    }
    for node in classic::list(&file["node"]) {
        let y = builder.add(Gate::AnyOf { leak: number(&node[0]) }).expect("a probability");
        for (p, s) in classic::vars(&node[1]).into_iter().zip(classic::list(&node[2])) {
            builder.link(p, y, number(s), Effect::Causes).expect("a new link");
        }
    }
    let case = |c: &Value| {
        let seen = classic::vars(&c["pos"]).into_iter().map(Finding::seen);
        let evidence = seen.chain(classic::vars(&c["neg"]).into_iter().map(Finding::not_seen)).collect();
        (format!("{} positive, seed {}", c["k"], c["seed"]), evidence)
    };
    let cases = classic::list(&file["cases"]).iter().map(case).collect();
    (builder.build().expect("no loop"), cases)
}

fn seeded(folder: &Path, name: &str, s: &Seeded) {
    let cases: Vec<(String, Evidence)> =
        POSITIVES.map(|k| (format!("{k} positive"), case(s, 7000 + k as u64, k).evidence)).into();
    put(folder, name, &s.net, &cases, &without_parents(&s.net));
}

/// Writes everything into a folder that is there.
pub fn write(folder: &Path) {
    for name in classic::NETS {
        let file = classic::file(name);
        let net = classic::net(&file);
        let case = |c: &Value| (c["says"].to_string(), classic::evidence(c));
        let cases: Vec<_> = classic::list(&file["cases"]).iter().map(case).collect();
        put(folder, &format!("classic-{name}"), &net, &cases, &without_parents(&net));
    }
    let book = embed::book();
    for name in vehicle::demo_names() {
        let traces = [1, 5, 10, 20].map(|answers| answered(&book, name, answers));
        let cases: Vec<_> =
            traces.iter().map(|t| (format!("{} answers", t.answers().len()), t.evidence(t.answers()).0)).collect();
        let causes: Vec<Var> = traces[0].fitted.causes().collect();
        put(folder, &format!("knowledge-{name}"), &traces[0].fitted.net, &cases, &causes);
    }
    for name in STORED {
        let (net, cases) = stored(name);
        put(folder, &format!("stored-{name}"), &net, &cases, &without_parents(&net));
    }
    seeded(folder, "two-layers-40x60", &two_layers(101, 40, 60, 4.0, 12));
    seeded(folder, "two-layers-600x4000", &two_layers(102, 600, 4000, 10.0, 60));
    seeded(folder, "two-layers-2000x8000", &two_layers(103, 2000, 8000, 6.0, 40));
    seeded(folder, "workshop-500", &workshop(104, 500));
}
