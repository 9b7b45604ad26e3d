//! One case from its complaint to its end, and many of them summed up.

use super::draw::{Draw, state};
use crate::advice::{Costs, Step, mended};
use crate::graph::What;
use crate::graph::net::{Gate, Var};
use crate::knowledge::book::Node;
use crate::session::{Answer, Said, Trace};

/// A case to be played: what is wrong, what it shows, and what somebody complains of.
#[derive(Clone, Debug)]
pub struct Case {
    /// The fault behind the complaint.
    pub fault: Var,
    /// The sign that is reported.
    pub symptom: Var,
    /// The state of every variable.
    pub truth: Vec<bool>,
    /// The seed of the answers.
    pub seed: u64,
}

/// How a case ended.
#[derive(Copy, Clone, Debug, Default, PartialEq)]
pub struct Ending {
    /// Everything that had to be paid, in pence, minutes at the person's value included.
    pub cost: f64,
    /// Readings asked and remedies tried.
    pub steps: usize,
    /// Changes of set-up.
    pub changes: usize,
    /// Put right here.
    pub right: bool,
    /// Handed over.
    pub handed_over: bool,
    /// Remedies tried that put nothing right.
    pub unneeded: usize,
    /// What their parts cost, in pence.
    pub unneeded_parts: f64,
}

/// A case is given up after so many steps.
const MOST_STEPS: usize = 40;
/// States drawn for a case before another fault is drawn.
const TRIES: usize = 200;

/// Draws a case: with a symptom, a cause by its posterior and a state that shows the symptom; without one, a fault by its prior and one of
/// the signs it shows. `None` where the symptom could not be drawn.
pub fn case(trace: &mut Trace<'_>, symptom: Option<Var>, draw: &mut Draw) -> Option<Case> {
    let causes: Vec<(Var, f64)> = match symptom {
        Some(symptom) => {
            trace.begin_again();
            trace.push(Answer::Stated { var: symptom, present: true });
            trace.assess().ok()?.ranked.iter().map(|r| (r.var, r.probability.value())).collect()
        }
        None => {
            let fault = |v: &Var| matches!(trace.fitted.placed(*v).what, What::Entry(Node::Fault(_)));
            let prior = |v: Var| match trace.fitted.net.gate(v) {
                Gate::Root { prior } => prior,
                _ => 0.0,
            };
            trace.fitted.causes().filter(fault).map(|v| (v, prior(v))).collect()
        }
    };
    let net = &trace.fitted.net;
    let total: f64 = causes.iter().map(|c| c.1).sum();
    for _ in 0..TRIES {
        let mut at = draw.unit() * total;
        let picked = causes.iter().find(|c| {
            at -= c.1;
            at <= 0.0
        });
        let fault = picked.or(causes.first())?.0;
        for _ in 0..if symptom.is_some() { TRIES } else { 1 } {
            let truth = state(net, Some(fault), draw);
            let below = shown_by(trace, fault, &truth);
            let shows = |v: &Var| below[v.index()] && trace.is_reportable(*v);
            let signs: Vec<Var> = match symptom {
                Some(s) => [s].into_iter().filter(|s| below[s.index()]).collect(),
                None => net.vars().filter(shows).collect(),
            };
            if !signs.is_empty() {
                let symptom = signs[((draw.unit() * signs.len() as f64) as usize).min(signs.len() - 1)];
                let seed = (draw.unit() * f64::from(1 << 30)) as u64 + 1;
                return Some(Case { fault, symptom, truth, seed });
            }
        }
    }
    None
}

/// Which variables a fault reaches through what is present, itself included.
fn shown_by(trace: &Trace<'_>, fault: Var, truth: &[bool]) -> Vec<bool> {
    let mut below = vec![false; truth.len()];
    let mut todo = vec![fault];
    while let Some(v) = todo.pop() {
        if truth[v.index()] && !std::mem::replace(&mut below[v.index()], true) {
            todo.extend(trace.fitted.net.children(v).map(|c| c.0));
        }
    }
    below
}

/// Plays a case by the trace's way of choosing; the trace's answers are forgotten first.
pub fn play(trace: &mut Trace<'_>, case: &Case) -> Ending {
    let mut draw = Draw(case.seed);
    let mut end = Ending::default();
    let costs = Costs { book: trace.book, person: &trace.person };
    // A specialist finds what is there and mends it.
    let specialist = trace.person.specialist.0 as f64 + mended(&trace.fitted, costs, case.fault);
    trace.begin_again();
    trace.push(Answer::Stated { var: case.symptom, present: true });
    while end.steps < MOST_STEPS {
        let advice = trace.assess().ok().and_then(|a| a.advice);
        let Some(advice) = advice else { break };
        let before = trace.set_up();
        match advice.step {
            Step::Check { check, reading } => {
                end.cost += advice.cost.0 as f64;
                let var = trace.fitted.checks[check].readings[reading].var;
                let read = trace.reading(check, reading);
                let (se, sp) = (read.sensitivity.get(), read.specificity.get());
                let found = if case.truth[var.index()] { draw.chance(se) } else { !draw.chance(sp) };
                let said = if found { Said::Present } else { Said::Absent };
                trace.push(Answer::Reading { check, reading, said });
            }
            Step::Repair { cause, remedy, place } => {
                end.cost += advice.cost.0 as f64;
                let helps = cures(trace, case, remedy, place);
                end.steps += 1;
                trace.push(Answer::Tried { cause, remedy, place, cured: helps });
                end.changes += usize::from(trace.set_up() != before);
                if helps {
                    end.right = true;
                    return end;
                }
                end.unneeded += 1;
                let costs = Costs { book: trace.book, person: &trace.person };
                end.unneeded_parts += costs.parts(trace.book.remedies.at(remedy));
                continue;
            }
            Step::Specialist => break,
        }
        end.steps += 1;
        end.changes += usize::from(trace.set_up() != before);
    }
    end.handed_over = true;
    end.cost += specialist;
    end
}

/// Whether a remedy at a place puts a fault right that is behind the complaint.
fn cures(trace: &Trace<'_>, case: &Case, remedy: usize, place: Option<usize>) -> bool {
    let position = |p: Option<usize>| p.map(|p| trace.fitted.vehicle.places[p].position);
    trace.fitted.causes().filter(|v| case.truth[v.index()]).any(|var| {
        let placed = trace.fitted.placed(var);
        let What::Entry(Node::Fault(f)) = placed.what else { return false };
        let mut listed = trace.book.faults.at(f).remedies.iter();
        listed.any(|r| trace.book.remedies.index(&r.id) == Some(remedy))
            && (place.is_none() || placed.place.is_none() || position(place) == position(placed.place))
            && shown_by(trace, var, &case.truth)[case.symptom.index()]
    })
}

/// Many endings in figures.
#[derive(Copy, Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// How many.
    pub cases: usize,
    /// Mean cost in pence.
    pub cost: f64,
    /// Half the width of the 95 % interval of the mean cost.
    pub cost_within: f64,
    /// Mean number of steps.
    pub steps: f64,
    /// Mean number of changes of set-up.
    pub changes: f64,
    /// Share put right here.
    pub right: f64,
    /// Share handed over.
    pub handed_over: f64,
    /// Remedies that put nothing right, a case.
    pub unneeded: f64,
    /// What their parts cost, a case, in pence.
    pub unneeded_parts: f64,
}

/// Sums endings up. The interval is the usual one for a mean, 1.96 standard errors either way.
pub fn summary(endings: &[Ending]) -> Summary {
    let n = endings.len().max(1) as f64;
    let mean = |of: &dyn Fn(&Ending) -> f64| endings.iter().map(of).sum::<f64>() / n;
    let cost = mean(&|e| e.cost);
    let spread = mean(&|e| (e.cost - cost).powi(2)) * n / (n - 1.0).max(1.0);
    Summary {
        cases: endings.len(),
        cost,
        cost_within: 1.96 * (spread / n).sqrt(),
        steps: mean(&|e| e.steps as f64),
        changes: mean(&|e| e.changes as f64),
        right: mean(&|e| f64::from(u8::from(e.right))),
        handed_over: mean(&|e| f64::from(u8::from(e.handed_over))),
        unneeded: mean(&|e| e.unneeded as f64),
        unneeded_parts: mean(&|e| e.unneeded_parts),
    }
}
