//! Chooses the next step: every check that can be done is scored with lookahead against repairing now and against the specialist.

use std::collections::{BTreeMap, HashSet};

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
/// How many of these get a second step, by total and again by what they save for their cost.
const SECOND_STEP: (usize, usize) = (10, 6);
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
    /// Cost with the base plan behind each result, or with a second check where one was looked at.
    total: f64,
    /// Cost with the estimate behind each result.
    hoped: f64,
    outcomes: Vec<Outcome>,
    /// Weights of the causes after each outcome.
    then: Vec<Vec<f64>>,
    /// P(sign present | cause), for each cause.
    likelihood: Vec<f64>,
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
    let base = plan.value_of(&plan.weights(&now), s.set_up);
    keep_likely(&plan, &reach, &mut options, &now);
    let engine = Engine::new(&s.fitted.net);
    let prepared = engine.prepare(s.evidence, limits)?;
    let mut scored = score(&plan, &prepared, &options, &now)?;
    deepen(s, &plan, &options, &mut scored, base.cost);
    // Whether to ask at all is decided on the base plan, which is what the person could do; what to ask also on what further checks may bring.
    let worth = |x: &Scored| worth_asking(x, &base);
    let key = |x: &Scored| 2.0 * x.total + x.hoped;
    scored.sort_by(|a, b| worth(b).cmp(&worth(a)).then(key(a).total_cmp(&key(b))).then(a.option.cmp(&b.option)));
    for x in scored.iter().take(8) {
        let option = &options[x.option];
        let check = &s.book.checks.at(s.fitted.checks[option.check].check).head.id;
        tracing::trace!(check, total = x.total, cost = option.cost, repair_now = base.cost, "scored");
    }
    Ok(choose(s, costs, &plan, &options, scored, base, &now))
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
        let (mut outcomes, mut afterwards) = (Vec::new(), Vec::new());
        for present in [true, false] {
            let then = pair.reading(option.read.likelihoods(f64::from(u8::from(present))));
            if then.probability > 1e-12 {
                let weights = plan.weights(&then.present);
                total += then.probability * plan.value_of(&weights, option.set_up).cost;
                hoped += then.probability * plan.estimate(&weights, option.set_up);
                afterwards.push(weights);
                let lead = then.present.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
                let leads_to = lead.map(|(c, p)| (plan.causes[c], *p));
                outcomes.push(Outcome { present, probability: then.probability, leads_to });
            }
        }
        let given = pair.given_present.iter().zip(now);
        let likelihood = given.map(|(with, p)| if *p > 0.0 { (with * pair.present / p).clamp(0.0, 1.0) } else { 0.0 });
        scored.push(Scored { option: i, total, hoped, outcomes, then: afterwards, likelihood: likelihood.collect() });
    }
    Ok(scored)
}

/// Looks a second step ahead behind the most promising checks: after each result, the better of the base plan and one more check. For the
/// second check P(sign | cause) is taken as it is now; the result of the first moves the causes, not what they show.
fn deepen(s: &Situation<'_>, plan: &Plan<'_>, options: &[Option_<'_>], scored: &mut [Scored], base: f64) {
    let costs = plan.costs;
    scored.sort_by(|a, b| a.total.total_cmp(&b.total).then(a.option.cmp(&b.option)));
    let mut firsts: Vec<usize> = (0..scored.len().min(SECOND_STEP.0)).collect();
    let saving = |x: &Scored| {
        let cost = options[x.option].cost.max(1.0);
        (base - (x.total - cost)) / cost
    };
    let mut by_saving: Vec<usize> = (0..scored.len()).collect();
    by_saving.sort_by(|a, b| saving(&scored[*b]).total_cmp(&saving(&scored[*a])).then(a.cmp(b)));
    firsts.extend(by_saving.into_iter().take(SECOND_STEP.1).filter(|i| *i >= SECOND_STEP.0));
    let mut deeper = Vec::with_capacity(firsts.len());
    for first in firsts {
        let option = &options[scored[first].option];
        let mut total = option.cost;
        for (outcome, weights) in scored[first].outcomes.iter().zip(&scored[first].then) {
            let mut best = plan.value_of(weights, option.set_up).cost;
            for second in scored.iter() {
                let next = &options[second.option];
                if next.var == option.var {
                    continue;
                }
                let check = s.book.checks.at(s.fitted.checks[next.check].check);
                let cost = costs.reading(check, option.set_up, next.check == option.check);
                if cost < best {
                    best = best.min(one_step(plan, next.read, cost, next.set_up, weights, |c| second.likelihood[c]));
                }
            }
            total += outcome.probability * best;
        }
        deeper.push((first, total));
    }
    for (first, total) in deeper {
        scored[first].total = scored[first].total.min(total);
    }
}

/// Whether a check saves enough over the base plan to be asked. Before handing over, any saving will do.
fn worth_asking(x: &Scored, base: &Value) -> bool {
    if base.first.is_none() {
        return x.total < base.cost;
    }
    x.total + (WORTH_ASKING.0 * base.cost).max(WORTH_ASKING.1) < base.cost
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
    let best = scored.first().filter(|x| worth_asking(x, &base));
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
                None => base.cost,
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
