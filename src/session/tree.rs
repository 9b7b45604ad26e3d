//! The whole conditional plan as a tree: the next step, and after each of its results the next one, to a stated depth.
//!
//! Takes a [`Trace`] and gives [`Branch`]es of plain data in the words a person would use. The trace is left as it was.

use serde::Serialize;

use super::{Answer, Said, Trace};
use crate::advice::{Gate, Step};

/// A step of the plan and what follows from each of its results.
#[derive(Clone, Debug, Serialize)]
pub struct Branch {
    /// `check`, `repair`, `specialist`, or `none` where nothing can be advised.
    pub kind: &'static str,
    /// The step in words.
    pub step: String,
    /// Why the vehicle must not be driven at this point, if so: said before the step.
    pub danger: Option<String>,
    /// Hazards of the step, by name; their cautions stand before the step when it is taken.
    pub hazards: Vec<String>,
    /// What the step alone costs, in pence.
    pub cost: i64,
    /// What it and all that follows is expected to cost, in pence.
    pub expected: i64,
    /// The best other step in words, and what it was expected to cost in pence.
    pub runner_up: Option<(String, i64)>,
    /// Results: the answer, its chance, and what follows. Empty at the stated depth, and after a specialist.
    pub results: Vec<Twig>,
    /// Whether more follows that the depth leaves out.
    pub cut: bool,
}

/// One result of a step.
#[derive(Clone, Debug, Serialize)]
pub struct Twig {
    /// The answer: `yes`, `no`, `cured`, `not cured`.
    pub answer: &'static str,
    /// Its chance, where it is known.
    pub probability: Option<f64>,
    /// What follows; nothing where the vehicle is proved right.
    pub then: Option<Branch>,
}

/// Works the plan out to a depth of steps; one is the next step alone.
pub fn plan(trace: &mut Trace<'_>, depth: usize) -> Branch {
    let nothing = |why: &str| Branch {
        kind: "none",
        step: why.to_owned(),
        danger: None,
        hazards: Vec::new(),
        cost: 0,
        expected: 0,
        runner_up: None,
        results: Vec::new(),
        cut: false,
    };
    let assessment = match trace.assess() {
        Ok(assessment) => assessment,
        Err(_) => return nothing("these answers cannot be true together"),
    };
    let Some(advice) = assessment.advice else { return nothing("nothing more can be advised") };
    let danger = match assessment.gate {
        Gate::DoNotDrive { why, .. } => Some(why),
        Gate::Open => None,
    };
    let mut branch = Branch {
        kind: match advice.step {
            Step::Check { .. } => "check",
            Step::Repair { .. } => "repair",
            Step::Specialist => "specialist",
        },
        step: words(trace, &advice.step),
        danger,
        hazards: hazards(trace, &advice.step),
        cost: advice.cost.0,
        expected: advice.expected.0,
        runner_up: advice.runner_up.as_ref().map(|r| (words(trace, &r.step), r.expected.0)),
        results: Vec::new(),
        cut: depth <= 1 && advice.step != Step::Specialist,
    };
    if branch.cut {
        return branch;
    }
    match advice.step {
        Step::Check { check, reading } => {
            for outcome in &advice.outcomes {
                let said = if outcome.present { Said::Present } else { Said::Absent };
                trace.push(Answer::Reading { check, reading, said });
                let then = plan(trace, depth - 1);
                trace.undo();
                let answer = if outcome.present { "yes" } else { "no" };
                branch.results.push(Twig { answer, probability: Some(outcome.probability), then: Some(then) });
            }
        }
        Step::Repair { cause, remedy, place } => {
            branch.results.push(Twig { answer: "cured", probability: None, then: None });
            trace.push(Answer::Tried { cause, remedy, place, cured: false });
            let then = plan(trace, depth - 1);
            trace.undo();
            branch.results.push(Twig { answer: "not cured", probability: None, then: Some(then) });
        }
        Step::Specialist => {}
    }
    branch
}

/// A step in words.
fn words(trace: &Trace<'_>, step: &Step) -> String {
    match *step {
        Step::Check { check, reading } => {
            let placed = &trace.fitted.checks[check];
            let name = &trace.book.checks.at(placed.check).head.name;
            let sign = trace.fitted.name(placed.readings[reading].var, trace.book);
            format!("{}: {sign}?", trace.fitted.with_place(name, placed.place))
        }
        Step::Repair { remedy, place, .. } => trace.fitted.with_place(&trace.book.remedies.at(remedy).head.name, place),
        Step::Specialist => "hand over to a specialist".to_owned(),
    }
}

/// The names of a step's cautions.
fn hazards(trace: &Trace<'_>, step: &Step) -> Vec<String> {
    let book = trace.book;
    let (own, set_up) = match *step {
        Step::Check { check, .. } => {
            let check = book.checks.at(trace.fitted.checks[check].check);
            (&check.cautions, &check.set_up)
        }
        Step::Repair { remedy, .. } => (&book.remedies.at(remedy).cautions, &book.remedies.at(remedy).set_up),
        Step::Specialist => return Vec::new(),
    };
    let of_set_up = book.set_ups.get(&set_up.id).map(|s| s.cautions.as_slice()).unwrap_or_default();
    let mut names: Vec<String> = Vec::new();
    for caution in of_set_up.iter().chain(own).filter_map(|c| book.cautions.get(&c.id)) {
        if !names.contains(&caution.head.name) {
            names.push(caution.head.name.clone());
        }
    }
    names
}

/// Money in pounds and pence.
pub fn pounds(pence: i64) -> String {
    format!("{:.2}", pence as f64 / 100.0)
}

/// A result in words, with its chance where it is known.
pub fn label(twig: &Twig) -> String {
    match twig.probability {
        Some(p) => format!("{} ({:.0} %)", twig.answer, 100.0 * p),
        None => twig.answer.to_owned(),
    }
}

/// The plan line by line, two spaces further in for each step.
pub fn lines(plan: &Branch) -> Vec<String> {
    let mut out = vec!["The plan. Money in pounds.".to_owned()];
    branch(plan, 0, None, &mut out);
    out
}

fn branch(b: &Branch, depth: usize, before: Option<&str>, out: &mut Vec<String>) {
    let indent = "  ".repeat(depth);
    // A danger is said where it begins, before the step.
    if let Some(danger) = b.danger.as_deref().filter(|d| Some(*d) != before) {
        out.push(format!("{indent}Do not drive: {danger}"));
    }
    if !b.hazards.is_empty() {
        out.push(format!("{indent}! {}", b.hazards.join("; ")));
    }
    out.push(format!("{indent}{}", b.step));
    if b.kind != "none" {
        out.push(format!("{indent}  costs {}; with all that follows {}", pounds(b.cost), pounds(b.expected)));
    }
    if let Some((other, cost)) = &b.runner_up {
        out.push(format!("{indent}  next best, {}: {other}", pounds(*cost)));
    }
    for twig in &b.results {
        match &twig.then {
            None => out.push(format!("{indent}{}: done", label(twig))),
            Some(then) => {
                out.push(format!("{indent}{}:", label(twig)));
                branch(then, depth + 1, b.danger.as_deref(), out);
            }
        }
    }
    if b.cut {
        out.push(format!("{indent}  ..."));
    }
}
