//! Chooses the next step: every check that can be done is scored with lookahead against repairing now and against the specialist.

use std::collections::{BTreeMap, HashSet};

use super::decision::policy::{Rated, Way};
use super::decision::{Action, Problem};
use super::model::{Model, model};
use super::plan::{Plan, Value, blame, cheapest_remedy, prior};
use super::{Costs, Gate, Person, Ranked};
use crate::graph::Fitted;
use crate::graph::net::Var;
use crate::inference::{Engine, Evidence, Limits, Pairwise, Prepared, Trouble};
use crate::knowledge::book::{Book, CheckReading};
use crate::units::Pence;

/// Causes below this share of the whole are left out of the lookahead (never of the posteriors).
const SMALL_CAUSE: f64 = 0.002;
/// At most this many causes are looked at ahead.
const MOST_CAUSES: usize = 40;
/// How many readings are scored with the exact posteriors; the others are left out on a rough estimate.
const SCORED: usize = 48;
/// How many of these go into the plan: by total, and again by what they hope for and by what they save for their cost.
const PLANNED: [usize; 3] = [8, 4, 4];
/// A check must save at least this share of the cost of repairing now, and this many pence, to be worth the asking.
const WORTH_ASKING: (f64, f64) = (0.04, 10.0);

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
    /// Signs found present.
    pub seen: &'a [Var],
    /// Signs already answered or asked, including "don't know".
    pub asked: &'a HashSet<Var>,
    /// Checks that cannot be done here.
    pub cannot: &'a HashSet<usize>,
    /// The check that is open now: a further reading of it costs a glance.
    pub open: Option<usize>,
    /// How to choose.
    pub way: Way,
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
    /// What it was chosen from, for measuring.
    pub problem: Problem,
}

/// A check that could be asked.
pub(super) struct Option_<'a> {
    pub check: usize,
    reading: usize,
    var: Var,
    cost: f64,
    pub set_up: &'a str,
    pub read: &'a CheckReading,
}

/// What a scored check comes to.
pub(super) struct Scored {
    pub option: usize,
    /// Cost with the base plan behind each result.
    total: f64,
    /// Cost with the estimate behind each result.
    hoped: f64,
    outcomes: Vec<Outcome>,
    /// P(sign present | cause), for each cause.
    pub likelihood: Vec<f64>,
}

/// Chooses the next step.
///
/// # Errors
/// [`Trouble`] if the evidence is contradictory or too tangled to look ahead.
pub fn propose(situation: &Situation<'_>, limits: &Limits) -> Result<Advice, Trouble> {
    let s = situation;
    let costs = Costs { book: s.book, person: s.person };
    let leading = leading(s);
    let now: Vec<f64> = leading.iter().map(|c| c.1).collect();
    let causes: Vec<Var> = leading.into_iter().map(|c| c.0).collect();
    let mut plan = Plan::new(s.fitted, costs, causes, s.set_up, s.tried);
    plan.price_from(s.set_up);
    let reach = Reach::new(s.fitted, &plan.causes);
    let mut options = options(s, costs, &reach);
    for option in &options {
        plan.price_from(option.set_up);
    }
    let weights = plan.weights(&now);
    let base = plan.value_of(&weights, s.set_up);
    keep_likely(&plan, &reach, &mut options, &now);
    let engine = Engine::new(&s.fitted.net);
    let prepared = engine.prepare(s.evidence, limits)?;
    let scored = score(&plan, &prepared, &options, &now)?;
    let chosen = promising(&options, &scored, base.cost);
    let model = model(s, &plan, &options, &scored, &chosen, &weights);
    Ok(choose(s, costs, &plan, &options, &scored, model, &base, &now))
}

/// The readings that go into the plan, in the order of the options.
fn promising(options: &[Option_<'_>], scored: &[Scored], base: f64) -> Vec<usize> {
    let saved = |x: &Scored| {
        let cost = options[x.option].cost.max(1.0);
        (x.total - cost - base) / cost
    };
    let keys: [&dyn Fn(&Scored) -> f64; 3] = [&|x| x.total, &|x| x.hoped, &saved];
    let mut chosen: Vec<usize> = Vec::new();
    for (key, most) in keys.into_iter().zip(PLANNED) {
        let mut order: Vec<usize> = (0..scored.len()).collect();
        order.sort_by(|a, b| key(&scored[*a]).total_cmp(&key(&scored[*b])).then(a.cmp(b)));
        chosen.extend(order.into_iter().take(most));
    }
    chosen.sort_unstable();
    chosen.dedup();
    chosen
}

/// The causes worth looking ahead for, most to blame first, with their posteriors.
fn leading(s: &Situation<'_>) -> Vec<(Var, f64)> {
    let to_blame = |r: &Ranked| blame(r.probability.value(), prior(s.fitted, r.var));
    let total: f64 = s.ranked.iter().map(to_blame).sum();
    let mut causes: Vec<&Ranked> = s.ranked.iter().filter(|r| to_blame(r) > SMALL_CAUSE * total).collect();
    causes.sort_by(|a, b| to_blame(b).total_cmp(&to_blame(a)).then(a.var.cmp(&b.var)));
    causes.into_iter().take(MOST_CAUSES).map(|r| (r.var, r.probability.value())).collect()
}

/// How strongly each cause reaches each variable: the strongest product of strengths along any way, 0 where there is none. A rough stand-in
/// for P(variable | cause), good enough to leave out checks that cannot matter.
struct Reach {
    causes: usize,
    strength: Vec<f64>,
}

impl Reach {
    fn new(fitted: &Fitted, causes: &[Var]) -> Reach {
        let n = causes.len();
        let mut strength = vec![0.0; fitted.net.len() * n];
        for (c, var) in causes.iter().enumerate() {
            strength[var.index() * n + c] = 1.0;
        }
        for var in fitted.net.order() {
            for (parent, arc) in fitted.net.parents(*var) {
                for c in 0..n {
                    let through = strength[parent.index() * n + c] * arc.strength;
                    let here = &mut strength[var.index() * n + c];
                    *here = f64::max(*here, through);
                }
            }
        }
        Reach { causes: n, strength }
    }

    fn of(&self, var: Var) -> &[f64] {
        &self.strength[var.index() * self.causes..(var.index() + 1) * self.causes]
    }

    fn any(&self, var: Var) -> bool {
        self.of(var).iter().any(|s| *s > 0.0)
    }
}

/// Cost of a reading with the base plan behind each result, for weights of the causes and P(sign | cause).
fn one_step(
    plan: &Plan<'_>,
    read: &CheckReading,
    cost: f64,
    set_up: &str,
    weights: &[f64],
    likelihood: impl Fn(usize) -> f64,
) -> f64 {
    let mut total = cost;
    let mut then = vec![0.0; weights.len()];
    for share in [1.0, 0.0] {
        let [if_absent, if_present] = read.likelihoods(share);
        let mut probability = 0.0;
        for (c, weight) in weights.iter().enumerate() {
            let p = likelihood(c);
            then[c] = weight * (if_present * p + if_absent * (1.0 - p));
            probability += then[c];
        }
        if probability > 1e-12 {
            then.iter_mut().for_each(|w| *w /= probability);
            total += probability * plan.value_of(&then, set_up).cost;
        }
    }
    total
}

/// Keeps the readings that look best on the rough estimate.
fn keep_likely(plan: &Plan<'_>, reach: &Reach, options: &mut Vec<Option_<'_>>, now: &[f64]) {
    if options.len() <= SCORED {
        return;
    }
    let weights = plan.weights(now);
    let mut rough: Vec<(f64, usize)> = options
        .iter()
        .enumerate()
        .map(|(i, o)| {
            let strength = reach.of(o.var);
            (one_step(plan, o.read, o.cost, o.set_up, &weights, |c| strength[c].max(0.01)), i)
        })
        .collect();
    rough.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut keep = vec![false; options.len()];
    rough.iter().take(SCORED).for_each(|(_, i)| keep[*i] = true);
    let mut i = 0;
    options.retain(|_| {
        i += 1;
        keep[i - 1]
    });
}

/// Every reading that can be asked here and now.
fn options<'a>(s: &Situation<'a>, costs: Costs<'a>, reach: &Reach) -> Vec<Option_<'a>> {
    let unsafe_to_drive = matches!(s.gate, Gate::DoNotDrive { .. });
    let seen: HashSet<String> = s.seen.iter().map(|v| s.fitted.id(*v, s.book)).collect();
    let spoilt = |set_up: &str| {
        s.book.set_ups.get(set_up).is_some_and(|u| u.spoilt_by.iter().any(|sign| seen.contains(&sign.id)))
    };
    let mut out = Vec::new();
    for (i, placed) in s.fitted.checks.iter().enumerate() {
        let check = s.book.checks.at(placed.check);
        let open = s.open == Some(i);
        let on_road = check.set_up.id == "on-the-road";
        if s.cannot.contains(&placed.check)
            || (on_road && unsafe_to_drive)
            || !(open || costs.can_check(check))
            || spoilt(&check.set_up.id)
        {
            continue;
        }
        for (r, reading) in placed.readings.iter().enumerate() {
            if reach.any(reading.var) && !s.asked.contains(&reading.var) {
                out.push(Option_ {
                    check: i,
                    reading: r,
                    var: reading.var,
                    cost: costs.reading(check, s.set_up, open),
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
        let (mut total, mut hoped) = (option.cost, option.cost);
        let mut outcomes = Vec::new();
        for present in [true, false] {
            let then = pair.reading(option.read.likelihoods(f64::from(u8::from(present))));
            if then.probability > 1e-12 {
                let weights = plan.weights(&then.present);
                total += then.probability * plan.value_of(&weights, option.set_up).cost;
                hoped += then.probability * plan.estimate(&weights, option.set_up);
                let lead = then.present.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
                let leads_to = lead.map(|(c, p)| (plan.causes[c], *p));
                outcomes.push(Outcome { present, probability: then.probability, leads_to });
            }
        }
        let given = pair.given_present.iter().zip(now);
        let likelihood = given.map(|(with, p)| if *p > 0.0 { (with * pair.present / p).clamp(0.0, 1.0) } else { 0.0 });
        scored.push(Scored { option: i, total, hoped, outcomes, likelihood: likelihood.collect() });
    }
    Ok(scored)
}

/// The best of the rated actions. A reading must save enough over doing something now to be worth the asking; before handing over, any
/// saving will do.
#[allow(clippy::too_many_arguments)]
fn choose(
    s: &Situation<'_>,
    costs: Costs<'_>,
    plan: &Plan<'_>,
    options: &[Option_<'_>],
    scored: &[Scored],
    model: Model,
    base: &Value,
    now: &[f64],
) -> Advice {
    let pence = |x: f64| Pence(x.round() as i64);
    let rated = s.way.rate(&model.problem, &model.problem.start());
    let asks = |r: &&Rated| matches!(r.action, Action::Ask(_));
    let doing = rated.iter().find(|r| !asks(r)).copied();
    let asking = rated.iter().find(asks).copied();
    let step = |action: Action| match action {
        Action::Ask(a) => {
            let option = &options[scored[model.asks[a]].option];
            Step::Check { check: option.check, reading: option.reading }
        }
        Action::Try(t) => {
            let action = &plan.actions[model.tries[t]];
            let lead = action.cures.iter().max_by(|a, b| now[a.0].total_cmp(&now[b.0])).map_or(0, |c| c.0);
            Step::Repair { cause: plan.causes[lead], remedy: action.remedy, place: action.place }
        }
        Action::HandOver => Step::Specialist,
    };
    // With nothing to weigh there is only the specialist.
    let doing = doing.unwrap_or(Rated { action: Action::HandOver, cost: base.cost });
    let margin = match doing.action {
        Action::HandOver => 0.0,
        _ => (WORTH_ASKING.0 * doing.cost).max(WORTH_ASKING.1),
    };
    let worth_asking = |a: &Rated| s.way != Way::Lookahead || a.cost + margin < doing.cost;
    let best = asking.filter(worth_asking).unwrap_or(doing);
    let same_check = |action: Action| match (action, best.action) {
        (Action::Ask(a), Action::Ask(b)) => model.problem.checks[a].procedure == model.problem.checks[b].procedure,
        (a, b) => a == b,
    };
    let runner_up = rated.iter().find(|r| !same_check(r.action));
    let (cost, outcomes) = match best.action {
        Action::Ask(a) => {
            let scored = &scored[model.asks[a]];
            (options[scored.option].cost, scored.outcomes.clone())
        }
        Action::Try(t) => (costs.remedy(s.book.remedies.at(plan.actions[model.tries[t]].remedy), s.set_up), Vec::new()),
        Action::HandOver => (best.cost, Vec::new()),
    };
    Advice {
        step: step(best.action),
        cost: pence(cost),
        expected: pence(best.cost),
        outcomes,
        repair_now: pence(doing.cost),
        runner_up: runner_up.map(|r| Alternative { step: step(r.action), expected: pence(r.cost) }),
        problem: model.problem,
    }
}

/// The remedy to take for a cause from a set-up: the cheapest for what it cures that this vehicle takes, as place on the shelf and place on the
/// vehicle.
pub fn remedy_for(
    book: &Book,
    person: &Person,
    fitted: &Fitted,
    cause: &Ranked,
    set_up: &str,
) -> Option<(usize, Option<usize>)> {
    let place = fitted.placed(cause.var).place;
    cheapest_remedy(fitted, Costs { book, person }, cause.fault(fitted)?, place, set_up, &[])
}
