//! Chooses the next step: every check that can be done is scored with lookahead against repairing now and against the specialist.

use std::collections::{BTreeMap, HashSet};

use super::plan::{Plan, Value, remedies_of};
use super::{Costs, Gate, Person, Ranked};
use crate::graph::Fitted;
use crate::graph::net::Var;
use crate::inference::{Engine, Evidence, Finding, Limits, Pairwise, Prepared, Trouble};
use crate::knowledge::book::{Book, CheckReading};
use crate::units::Pence;

/// Causes below this share of the whole are left out of the lookahead (never of the posteriors).
const SMALL_CAUSE: f64 = 0.002;
/// At most this many causes are looked at ahead.
const MOST_CAUSES: usize = 40;
/// How many checks get the second step.
const SECOND_STEP: usize = 6;
/// How many checks are tried behind each of those.
const BEHIND: usize = 24;
/// Results less likely than this get no second step.
const RARE_RESULT: f64 = 0.03;
/// A check must save at least this many pence over repairing now to be worth the asking.
const WORTH_ASKING: f64 = 2.0;
/// Extra pence set against a check that may do harm, so that it comes last.
const RISK: f64 = 2000.0;

/// Everything the choice depends on.
pub struct Situation<'a> {
    /// The knowledge.
    pub book: &'a Book,
    /// The knowledge on this vehicle.
    pub fitted: &'a Fitted,
    /// The person.
    pub person: &'a Person,
    /// What has been answered.
    pub evidence: &'a Evidence,
    /// The causes, ranked.
    pub ranked: &'a [Ranked],
    /// Whether the vehicle may be driven.
    pub gate: &'a Gate,
    /// The present set-up.
    pub set_up: &'a str,
    /// Signs already answered or asked, including "don't know".
    pub asked: &'a HashSet<Var>,
    /// Checks that cannot be done here.
    pub cannot: &'a HashSet<usize>,
    /// The check that is open now: a further reading of it costs a glance.
    pub open: Option<usize>,
    /// Remedies tried without success, with their place.
    pub tried: &'a [(usize, Option<usize>)],
}

/// The next step.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// Ask a reading of a check.
    Check {
        /// Index into the fitted checks.
        check: usize,
        /// Index into its readings.
        reading: usize,
    },
    /// Put a fault right and prove it.
    Repair {
        /// The most probable cause that it cures.
        cause: Var,
        /// The remedy's place on the shelf.
        remedy: usize,
        /// The remedy's place on the vehicle.
        place: Option<usize>,
    },
    /// Hand over: everything left costs more than it is likely to bring.
    Specialist,
}

/// One result of a check and what it would lead to.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Whether the sign is found.
    pub present: bool,
    /// Its probability.
    pub probability: f64,
    /// The most probable cause then, with its probability.
    pub leads_to: Option<(Var, f64)>,
}

/// A step that was not chosen, with its expected total cost.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// The step.
    pub step: Step,
    /// Expected cost of it and all that follows.
    pub expected: Pence,
}

/// What to do next and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// The step.
    pub step: Step,
    /// What this step alone costs.
    pub cost: Pence,
    /// Expected cost of it and all that follows, until the vehicle is put right.
    pub expected: Pence,
    /// Its results, for a check.
    pub outcomes: Vec<Outcome>,
    /// Expected cost of repairing now, without a further check.
    pub repair_now: Pence,
    /// The best other step.
    pub runner_up: Option<Alternative>,
}

/// A check that could be asked.
struct Option_<'a> {
    check: usize,
    reading: usize,
    var: Var,
    cost: f64,
    set_up: &'a str,
    read: &'a CheckReading,
}

/// What a scored check comes to.
struct Scored {
    option: usize,
    total: f64,
    outcomes: Vec<Outcome>,
}

/// Chooses the next step.
///
/// # Errors
/// [`Trouble`] if the evidence is contradictory or too tangled to look ahead.
pub fn propose(situation: &Situation<'_>, limits: &Limits) -> Result<Advice, Trouble> {
    let s = situation;
    let costs = Costs { book: s.book, person: s.person };
    let causes = leading(s.ranked);
    let now: Vec<f64> = causes.iter().map(|c| c.1).collect();
    let causes: Vec<Var> = causes.into_iter().map(|c| c.0).collect();
    let mut plan = Plan::new(s.fitted, costs, causes, s.set_up, s.tried);
    plan.price_from(s.set_up);
    let options = options(s, costs);
    for option in &options {
        plan.price_from(option.set_up);
    }
    let base = plan.value(&now, s.set_up);
    let engine = Engine::new(&s.fitted.net);
    let prepared = engine.prepare(s.evidence, limits)?;
    let mut scored = score(&plan, &prepared, &options, &now)?;
    scored.sort_by(|a, b| a.total.total_cmp(&b.total).then(a.option.cmp(&b.option)));
    deepen(s, &plan, &engine, &options, &mut scored, limits)?;
    scored.sort_by(|a, b| a.total.total_cmp(&b.total).then(a.option.cmp(&b.option)));
    Ok(choose(s, costs, &plan, &options, scored, base, &now))
}

/// The causes worth looking ahead for, with their posteriors.
fn leading(ranked: &[Ranked]) -> Vec<(Var, f64)> {
    let total: f64 = ranked.iter().map(|r| r.probability.value()).sum();
    ranked
        .iter()
        .map(|r| (r.var, r.probability.value()))
        .take(MOST_CAUSES)
        .filter(|(_, p)| *p > SMALL_CAUSE * total)
        .collect()
}

/// Every reading that can be asked here and now.
fn options<'a>(s: &Situation<'a>, costs: Costs<'a>) -> Vec<Option_<'a>> {
    let unsafe_to_drive = matches!(s.gate, Gate::DoNotDrive { .. });
    let mut out = Vec::new();
    for (i, placed) in s.fitted.checks.iter().enumerate() {
        let check = s.book.checks.at(placed.check);
        let open = s.open == Some(i);
        let on_road = check.set_up.id == "on-the-road";
        if s.cannot.contains(&placed.check) || (on_road && unsafe_to_drive) || !(open || costs.can_check(check)) {
            continue;
        }
        let risk = if check.risk.is_some() { RISK } else { 0.0 };
        for (r, reading) in placed.readings.iter().enumerate() {
            if !s.asked.contains(&reading.var) {
                out.push(Option_ {
                    check: i,
                    reading: r,
                    var: reading.var,
                    cost: costs.reading(check, s.set_up, open) + risk,
                    set_up: &check.set_up.id,
                    read: &check.reads[reading.reading],
                });
            }
        }
    }
    out
}

/// One-step scores of every option whose sign bears on the causes.
fn score(
    plan: &Plan<'_>,
    prepared: &Prepared<'_>,
    options: &[Option_<'_>],
    now: &[f64],
) -> Result<Vec<Scored>, Trouble> {
    let mut vars: Vec<Var> = options.iter().map(|o| o.var).collect();
    vars.sort_unstable();
    vars.dedup();
    let swept = prepared.sweep(&vars, &plan.causes)?;
    let by_var: BTreeMap<Var, &Pairwise> = vars.iter().copied().zip(swept.iter()).collect();
    let mut scored = Vec::new();
    for (i, option) in options.iter().enumerate() {
        let Some(pair) = by_var.get(&option.var) else { continue };
        let moved = pair.given_present.iter().zip(now).any(|(with, without)| (with - without).abs() > 1e-6);
        if !moved {
            continue;
        }
        let mut total = option.cost;
        let mut outcomes = Vec::new();
        for present in [true, false] {
            let (se, sp) = (option.read.sensitivity.get(), option.read.specificity.get());
            let likelihoods = if present { [1.0 - sp, se] } else { [sp, 1.0 - se] };
            let then = pair.reading(likelihoods);
            if then.probability > 1e-12 {
                total += then.probability * plan.value(&then.present, option.set_up).cost;
                let lead = then.present.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
                let leads_to = lead.map(|(c, p)| (plan.causes[c], *p));
                outcomes.push(Outcome { present, probability: then.probability, leads_to });
            }
        }
        scored.push(Scored { option: i, total, outcomes });
    }
    Ok(scored)
}

/// Looks a second step ahead behind the best few checks: after each result, the best of the base plan and one more check.
fn deepen(
    s: &Situation<'_>,
    plan: &Plan<'_>,
    engine: &Engine<'_>,
    options: &[Option_<'_>],
    scored: &mut [Scored],
    limits: &Limits,
) -> Result<(), Trouble> {
    let behind: Vec<usize> = scored.iter().take(BEHIND).map(|x| x.option).collect();
    for first in scored.iter_mut().take(SECOND_STEP) {
        let option = &options[first.option];
        let mut total = option.cost;
        for outcome in &first.outcomes {
            let (se, sp) = (option.read.sensitivity.get(), option.read.specificity.get());
            let finding = Finding::reading(option.var, outcome.present, se, sp);
            let evidence = s.evidence.with(&[finding]);
            let prepared = match engine.prepare(&evidence, limits) {
                Ok(prepared) => prepared,
                Err(Trouble::Clash { .. }) => continue,
                Err(e) => return Err(e),
            };
            let next = prepared.glance(&[], &plan.causes)?.present;
            let mut best = plan.value(&next, option.set_up).cost;
            if outcome.probability > RARE_RESULT {
                let costs = plan.costs;
                let following: Vec<Option_<'_>> = behind
                    .iter()
                    .map(|i| &options[*i])
                    .filter(|o| o.var != option.var)
                    .map(|o| {
                        let check = s.book.checks.at(s.fitted.checks[o.check].check);
                        let risk = if check.risk.is_some() { RISK } else { 0.0 };
                        let cost = costs.reading(check, option.set_up, o.check == option.check) + risk;
                        Option_ { cost, ..*o }
                    })
                    .collect();
                for then in score(plan, &prepared, &following, &next)? {
                    best = best.min(then.total);
                }
            }
            total += outcome.probability * best;
        }
        first.total = total;
    }
    Ok(())
}

fn choose(
    s: &Situation<'_>,
    costs: Costs<'_>,
    plan: &Plan<'_>,
    options: &[Option_<'_>],
    scored: Vec<Scored>,
    base: Value,
    now: &[f64],
) -> Advice {
    let pence = |x: f64| Pence(x.round() as i64);
    let repair = || match base.first {
        None => Step::Specialist,
        Some(action) => {
            let action = &plan.actions[action];
            let lead = action.cures.iter().max_by(|a, b| now[a.0].total_cmp(&now[b.0])).map_or(0, |c| c.0);
            Step::Repair { cause: plan.causes[lead], remedy: action.remedy, place: action.place }
        }
    };
    let check_step = |x: &Scored| Step::Check { check: options[x.option].check, reading: options[x.option].reading };
    let best = scored.first().filter(|x| x.total + WORTH_ASKING < base.cost);
    match best {
        Some(best) => {
            let other = scored.iter().skip(1).find(|x| options[x.option].check != options[best.option].check);
            let runner_up = match other {
                Some(o) if o.total < base.cost => Alternative { step: check_step(o), expected: pence(o.total) },
                _ => Alternative { step: repair(), expected: pence(base.cost) },
            };
            Advice {
                step: check_step(best),
                cost: pence(options[best.option].cost),
                expected: pence(best.total),
                outcomes: best.outcomes.clone(),
                repair_now: pence(base.cost),
                runner_up: Some(runner_up),
            }
        }
        None => {
            let cost = match base.first {
                Some(a) => costs.remedy(s.book.remedies.at(plan.actions[a].remedy), s.set_up),
                None => s.person.specialist.0 as f64,
            };
            let runner_up = scored.first().map(|x| Alternative { step: check_step(x), expected: pence(x.total) });
            Advice {
                step: repair(),
                cost: pence(cost),
                expected: pence(base.cost),
                outcomes: Vec::new(),
                repair_now: pence(base.cost),
                runner_up,
            }
        }
    }
}

/// The remedies of a cause that this vehicle takes, best first: place on the shelf, and place on the vehicle.
pub fn remedies(book: &Book, person: &Person, fitted: &Fitted, cause: &Ranked) -> Vec<(usize, Option<usize>)> {
    match cause.fault(fitted) {
        Some(f) => remedies_of(fitted, Costs { book, person }, f, fitted.placed(cause.var).place),
        None => Vec::new(),
    }
}
