//! Plays cases with a hidden fault from the first complaint to the proved repair: the advice must find it in few steps.
//!
//! The state of the whole vehicle is drawn from the net with one fault certain, the checks are answered as that state would show them
//! (with their sensitivity and specificity), and the repair that the program settles on is compared with what is really there.

use splitpin::advice::{Person, Step};
use splitpin::graph::What;
use splitpin::graph::net::{Gate, Var};
use splitpin::knowledge::book::Node;
use splitpin::session::{Answer, Said, Trace};
use splitpin::{embed, vehicle};

use crate::sampling::{Draw, state};

/// How a case ended.
struct Ending {
    right: bool,
    steps: usize,
    specialist: bool,
    /// What it all cost, in pence.
    cost: f64,
}

fn play(trace: &mut Trace<'_>, truth: &[bool], draw: &mut Draw) -> Ending {
    let mut cost = 0.0;
    // Finding the fault, and a middling job.
    let handed_over = trace.person.specialist.0 as f64 + 9_000.0;
    for steps in 0..60 {
        let assessment = match trace.assess() {
            Ok(a) => a,
            Err(_) => return Ending { right: false, steps, specialist: true, cost: cost + handed_over },
        };
        let Some(advice) = assessment.advice else {
            return Ending { right: false, steps, specialist: true, cost: cost + handed_over };
        };
        cost += advice.cost.0 as f64;
        match advice.step {
            Step::Check { check, reading } => {
                let var = trace.fitted.checks[check].readings[reading].var;
                let read = trace.reading(check, reading);
                let (se, sp) = (read.sensitivity.get(), read.specificity.get());
                let found = if truth[var.index()] { draw.chance(se) } else { !draw.chance(sp) };
                let said = if found { Said::Present } else { Said::Absent };
                trace.push(Answer::Reading { check, reading, said });
            }
            Step::Repair { remedy, place, .. } => {
                // The remedy helps if it is listed by a fault that is really there, at that place.
                let helps = trace.fitted.causes().any(|var| {
                    let placed = trace.fitted.placed(var);
                    let What::Entry(Node::Fault(f)) = placed.what else { return false };
                    let listed = trace
                        .book
                        .faults
                        .at(f)
                        .remedies
                        .iter()
                        .any(|r| trace.book.remedies.index(&r.id) == Some(remedy));
                    let position = |p: Option<usize>| p.map(|p| trace.fitted.vehicle.places[p].position);
                    let here = place.is_none() || placed.place.is_none() || position(place) == position(placed.place);
                    truth[var.index()] && listed && here
                });
                if helps {
                    return Ending { right: true, steps: steps + 1, specialist: false, cost };
                }
                let cause = match advice.step {
                    Step::Repair { cause, .. } => cause,
                    _ => unreachable!("the step is a repair"),
                };
                trace.push(Answer::Tried { cause, remedy, place, cured: false });
            }
            Step::Specialist => return Ending { right: false, steps, specialist: true, cost },
        }
    }
    Ending { right: false, steps: 60, specialist: false, cost: cost + handed_over }
}

#[test]
fn hidden_faults_are_found_in_few_steps() {
    // Many cases in a release build, a few in a debug build.
    let cases: usize = if cfg!(debug_assertions) { 21 } else { 300 };
    let book = embed::book();
    let today = jiff::civil::date(2026, 11, 25);
    let mut draw = Draw(0x5EED_0001);
    let (mut right, mut specialist, mut played) = (0, 0, 0);
    let mut steps: Vec<usize> = Vec::new();
    let mut cost = 0.0;
    let mut slowest = std::time::Duration::ZERO;
    for name in vehicle::demo_names() {
        let loaded = vehicle::demo(name, &book).expect("a demo vehicle");
        let mut done = 0;
        while done < cases / 3 + 1 {
            let mut trace = Trace::new(&book, &loaded.vehicle, Person::default(), today).expect("it fits");
            let faults: Vec<Var> = trace
                .fitted
                .causes()
                .filter(|v| matches!(trace.fitted.placed(*v).what, What::Entry(Node::Fault(_))))
                .collect();
            // Faults are drawn as often as they occur.
            let total: f64 = faults.iter().map(|v| prior(&trace, *v)).sum();
            let mut at = draw.next() * total;
            let fault = *faults
                .iter()
                .find(|v| {
                    at -= prior(&trace, **v);
                    at <= 0.0
                })
                .unwrap_or(&faults[0]);
            let truth = state(&trace.fitted.net, Some(fault), &mut draw);
            let below = |v: Var| -> bool {
                let mut todo = vec![fault];
                let mut seen = vec![false; trace.fitted.net.len()];
                while let Some(x) = todo.pop() {
                    if x == v {
                        return true;
                    }
                    if !std::mem::replace(&mut seen[x.index()], true) {
                        todo.extend(trace.fitted.net.children(x).filter(|(c, _)| truth[c.index()]).map(|(c, _)| c));
                    }
                }
                false
            };
            let shown: Vec<Var> = (0..trace.fitted.net.len() as u32)
                .map(Var)
                .filter(|v| match trace.fitted.placed(*v).what {
                    What::Entry(Node::Sign(s)) => {
                        truth[v.index()] && book.signs.at(s).not_in_book.is_some() && below(*v)
                    }
                    _ => false,
                })
                .collect();
            if shown.is_empty() {
                continue;
            }
            done += 1;
            played += 1;
            let symptom = shown[(draw.next() * shown.len() as f64) as usize];
            let reported = Answer::Reported {
                words: String::new(),
                id: trace.fitted.id(symptom, &book),
                name: trace.fitted.name(symptom, &book),
                place: trace.fitted.placed(symptom).place,
                readings: vec![(symptom, true)],
                score: 1.0,
                place_guessed: false,
            };
            trace.push(reported);
            let started = std::time::Instant::now();
            let _ = trace.assess();
            slowest = slowest.max(started.elapsed());
            let ending = play(&mut trace, &truth, &mut draw);
            right += usize::from(ending.right);
            specialist += usize::from(ending.specialist);
            steps.push(ending.steps);
            cost += ending.cost;
            if std::env::var_os("SHOW_CASES").is_some() {
                println!(
                    "{name} {} from {}: {} in {} steps",
                    trace.fitted.id(fault, &book),
                    trace.fitted.id(symptom, &book),
                    if ending.right {
                        "right"
                    } else if ending.specialist {
                        "specialist"
                    } else {
                        "WRONG"
                    },
                    ending.steps
                );
            }
        }
    }
    let mean = steps.iter().sum::<usize>() as f64 / played as f64;
    steps.sort_unstable();
    let median = steps[steps.len() / 2];
    println!("{played} cases: {right} put right, {specialist} handed over");
    println!("{mean:.1} steps on average, half within {median}; £{:.2} on average", cost / played as f64 / 100.0);
    println!("slowest first advice {slowest:?}");
    assert!(right as f64 >= 0.8 * played as f64, "{right} of {played} put right");
    assert!(median <= 8, "half of the cases take more than {median} steps");
}

fn prior(trace: &Trace<'_>, var: Var) -> f64 {
    match trace.fitted.net.gate(var) {
        Gate::Root { prior } => prior,
        _ => 0.0,
    }
}
