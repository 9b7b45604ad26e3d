//! How long the inference and the advice take, and how much work that is. `cargo bench`; a word behind `--` picks.
//!
//! Before the timings a table of work is printed that does not depend on the machine: table cells of all eliminations, bits of the widest
//! table, variables summed out. Times are medians of criterion's samples.

use std::hint::black_box;

use criterion::{Criterion, criterion_group};
use splitpin::advice::{Person, Step};
use splitpin::graph::fit;
use splitpin::graph::net::Var;
use splitpin::inference::{Engine, Limits};
use splitpin::knowledge::book::{Book, Node};
use splitpin::knowledge::load::load;
use splitpin::session::{Answer, Said, Trace};
use splitpin::{embed, vehicle};

mod classic;
mod nets;
mod outside;
mod templates;

use nets::{Seeded, case, two_layers, workshop};
use splitpin::simulate::{Draw, state};

const TODAY: jiff::civil::Date = jiff::civil::date(2026, 11, 25);

/// A case on a demo vehicle with so many answers, found by following the advice with a hidden fault that keeps the advice asking.
fn answered<'b>(book: &'b Book, name: &str, answers: usize) -> Trace<'b> {
    let van = vehicle::demo(name, book).expect("a demo vehicle").vehicle;
    let mut draw = Draw(0xBE7C_0001);
    loop {
        let mut trace = Trace::new(book, &van, Person::default(), TODAY).expect("it fits");
        let causes: Vec<Var> = trace.fitted.causes().collect();
        let fault = causes[(draw.unit() * causes.len() as f64) as usize];
        let truth = state(&trace.fitted.net, Some(fault), &mut draw);
        let reportable = |v: &Var| match trace.fitted.placed(*v).what {
            splitpin::graph::What::Entry(Node::Sign(s)) => book.signs.at(s).not_in_book.is_some() && truth[v.index()],
            _ => false,
        };
        let mut shown = trace.fitted.net.vars().filter(reportable);
        let Some(symptom) = shown.next() else { continue };
        drop(shown);
        trace.push(Answer::Stated { var: symptom, present: true });
        while trace.answers().len() < answers {
            let Ok(assessment) = trace.assess() else { break };
            match assessment.advice.map(|a| a.step) {
                Some(Step::Check { check, reading }) => {
                    let var = trace.fitted.checks[check].readings[reading].var;
                    let said = if truth[var.index()] { Said::Present } else { Said::Absent };
                    trace.push(Answer::Reading { check, reading, said });
                }
                Some(Step::Repair { cause, remedy, place, .. }) => {
                    trace.push(Answer::Tried { cause, remedy, place, cured: false });
                }
                _ => break,
            }
        }
        if trace.answers().len() == answers {
            return trace;
        }
    }
}

fn knowledge(c: &mut Criterion) {
    let book = embed::book();
    c.bench_function("knowledge/unpack", |b| b.iter(|| black_box(embed::book())));
    for name in vehicle::demo_names() {
        let van = vehicle::demo(name, &book).expect("a demo vehicle").vehicle;
        c.bench_function(&format!("knowledge/{name}/fit"), |b| {
            b.iter(|| black_box(fit(&book, &van, TODAY).expect("it fits")));
        });
        for answers in [1, 5, 10, 20] {
            let trace = answered(&book, name, answers);
            let causes: Vec<Var> = trace.fitted.causes().collect();
            let (evidence, _) = trace.evidence(trace.answers());
            let engine = Engine::new(&trace.fitted.net);
            let work = engine.posterior_of(&evidence, &causes, &trace.limits).expect("no clash").work;
            println!("work knowledge/{name}/{answers}: {work:?}");
            c.bench_function(&format!("knowledge/{name}/{answers}-answers/posteriors"), |b| {
                b.iter(|| black_box(engine.posterior_of(&evidence, &causes, &trace.limits)));
            });
            let checks: Vec<Var> = trace.fitted.checks.iter().flat_map(|c| &c.readings).map(|r| r.var).collect();
            let near = engine.posterior_of(&evidence, &causes, &trace.limits).expect("no clash");
            let mut likely: Vec<(f64, Var)> =
                near.present.iter().map(|p| p.value()).zip(causes.iter().copied()).collect();
            likely.sort_by(|a, b| b.0.total_cmp(&a.0));
            let targets: Vec<Var> = likely.iter().take(12).map(|l| l.1).collect();
            c.bench_function(&format!("knowledge/{name}/{answers}-answers/every-check"), |b| {
                b.iter(|| {
                    let prepared = engine.prepare(&evidence, &trace.limits).expect("no clash");
                    black_box(prepared.sweep(&checks, &targets))
                });
            });
            c.bench_function(&format!("knowledge/{name}/{answers}-answers/advice"), |b| {
                b.iter(|| black_box(trace.assess()));
            });
        }
    }
}

fn net(c: &mut Criterion, name: &str, seeded: &Seeded, positives: &[usize]) {
    let engine = Engine::new(&seeded.net);
    let roots: Vec<Var> = (0..seeded.roots as u32).map(Var).collect();
    for k in positives {
        let case = case(seeded, 7000 + *k as u64, *k);
        let posterior = engine.posterior_of(&case.evidence, &roots, &Limits::default()).expect("no clash");
        println!("work {name}/{k}: {:?}, exact: {}", posterior.work, posterior.is_exact());
        c.bench_function(&format!("{name}/{k}-positive/posteriors"), |b| {
            b.iter(|| black_box(engine.posterior_of(&case.evidence, &roots, &Limits::default())));
        });
        c.bench_function(&format!("{name}/{k}-positive/30-checks"), |b| {
            b.iter(|| {
                let prepared = engine.prepare(&case.evidence, &Limits::default()).expect("no clash");
                black_box(prepared.sweep(&case.open, &[]))
            });
        });
    }
}

fn two(c: &mut Criterion) {
    net(c, "two-layers-40x60", &two_layers(101, 40, 60, 4.0, 12), &[2, 5, 10, 15]);
    net(c, "two-layers-600x4000", &two_layers(102, 600, 4000, 10.0, 60), &[2, 5, 10, 15]);
    net(c, "two-layers-2000x8000", &two_layers(103, 2000, 8000, 6.0, 40), &[2, 5, 10, 15]);
}

fn three(c: &mut Criterion) {
    for roots in [500, 5_000, 50_000] {
        c.bench_function(&format!("workshop-{roots}/build"), |b| b.iter(|| black_box(workshop(104, roots))));
        net(c, &format!("workshop-{roots}"), &workshop(104, roots), &[2, 5, 10, 15]);
    }
}

/// Text files of many faults: read and checked, then fitted to a vehicle.
fn templates(c: &mut Criterion) {
    const VEHICLE: &str = "[traits]\nwheels = 3\n[places]\nlamp = [\"nearside\", \"offside\"]\n";
    for roots in [500, 10_000, 50_000] {
        let files = templates::texts(&workshop(104, roots));
        let book = load(&files).book;
        let van = vehicle::read("bench", "bench", VEHICLE, &book).vehicle;
        c.bench_function(&format!("templates-{roots}/load"), |b| b.iter_with_large_drop(|| load(&files)));
        c.bench_function(&format!("templates-{roots}/fit"), |b| {
            b.iter_with_large_drop(|| fit(&book, &van, TODAY).expect("it fits"));
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).warm_up_time(std::time::Duration::from_millis(300)).measurement_time(std::time::Duration::from_secs(1));
    targets = knowledge, two, three, templates
}

/// With `COMPARE_INTO=folder` nothing is measured for its own sake: nets, cases, posteriors and times are written for `compare.py`.
fn main() {
    if let Some(folder) = std::env::var_os("COMPARE_INTO") {
        outside::write(std::path::Path::new(&folder));
        return;
    }
    benches();
    Criterion::default().configure_from_args().final_summary();
}
