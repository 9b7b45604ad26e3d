//! A case as a decision problem: the leading causes as worlds, the most promising readings, the remedies, the set-ups they need.
//!
//! Takes what the posteriors and the first scoring of readings gave; gives a [`Problem`] and what its numbers mean. The case takes one cause
//! to be behind what was reported (the blame of `plan`), with P(sign | cause) from the exact sweep; causes that matter little are one world
//! that only a specialist mends. Never scores a reading itself.

use super::decision::{Check, Problem, Remedy};
use super::plan::{Plan, UNKNOWN_MENDED};
use super::propose::{Option_, Scored, Situation};
use crate::knowledge::book::Difficulty;

/// Causes that are worlds of their own: so many at most, and as many as hold this share.
const WORLDS: (usize, f64) = (14, 0.995);

/// A decision problem and what its readings and remedies stand for.
pub(super) struct Model {
    /// The problem.
    pub problem: Problem,
    /// For each reading of the problem, which scored one it is.
    pub asks: Vec<usize>,
    /// For each remedy of the problem, which action of the plan it is.
    pub tries: Vec<usize>,
}

/// The set-ups met, by number; the last is a workshop's, which nobody here has to bring about.
struct SetUps<'a> {
    ids: Vec<&'a str>,
}

impl<'a> SetUps<'a> {
    fn number(&mut self, id: &'a str) -> usize {
        self.ids.iter().position(|known| *known == id).unwrap_or_else(|| {
            self.ids.push(id);
            self.ids.len() - 1
        })
    }
}

/// Makes the problem of the case from `weights` of the plan's causes (which sum to one) and the readings of `scored` named by `chosen`.
pub(super) fn model<'a>(
    s: &Situation<'a>,
    plan: &Plan<'a>,
    options: &[Option_<'a>],
    scored: &[Scored],
    chosen: &[usize],
    weights: &[f64],
) -> Model {
    let costs = plan.costs;
    let mut order: Vec<usize> = (0..weights.len()).filter(|c| weights[*c] > 0.0).collect();
    order.sort_by(|a, b| weights[*b].total_cmp(&weights[*a]).then(a.cmp(b)));
    let mut held = 0.0;
    let mut lead: Vec<usize> = Vec::new();
    for cause in order {
        if lead.len() == WORLDS.0 || held >= WORLDS.1 {
            break;
        }
        held += weights[cause];
        lead.push(cause);
    }
    let rest = (1.0 - held).max(0.0);
    let other = lead.len();
    let mut worlds: Vec<(u64, f64)> = lead.iter().enumerate().map(|(i, c)| (1 << i, weights[*c])).collect();
    let mut mending: Vec<f64> = lead.iter().map(|c| plan.mended(*c)).collect();
    if rest > 1e-9 {
        worlds.push((1 << other, rest));
        mending.push(UNKNOWN_MENDED);
    }
    let mut set_ups = SetUps { ids: vec![s.set_up] };
    let mut checks = Vec::with_capacity(chosen.len());
    for &i in chosen {
        let (scored, option) = (&scored[i], &options[scored[i].option]);
        let check = s.book.checks.at(s.fitted.checks[option.check].check);
        let mut links: Vec<(usize, f64)> =
            lead.iter().enumerate().map(|(world, c)| (world, scored.likelihood[*c])).collect();
        if rest > 1e-9 {
            let led: f64 = lead.iter().map(|c| weights[*c] * scored.likelihood[*c]).sum();
            let all: f64 = weights.iter().zip(&scored.likelihood).map(|(w, l)| w * l).sum();
            links.push((other, ((all - led) / rest).clamp(0.0, 1.0)));
        }
        let [_, if_present] = option.read.likelihoods(1.0);
        let [if_absent, _] = option.read.likelihoods(0.0);
        checks.push(Check {
            cost: costs.reading(check, &check.set_up.id, false),
            again: costs.reading(check, &check.set_up.id, true),
            procedure: option.check,
            set_up: set_ups.number(option.set_up),
            leak: 0.0,
            links,
            sensitivity: if_present,
            specificity: if_absent,
        });
    }
    let (mut remedies, mut tries, mut elsewhere) = (Vec::new(), Vec::new(), Vec::new());
    for (a, action) in plan.actions.iter().enumerate() {
        let cures: Vec<(usize, f64)> = action
            .cures
            .iter()
            .filter_map(|(c, q)| lead.iter().position(|l| l == c).map(|world| (world, *q)))
            .collect();
        if cures.is_empty() {
            continue;
        }
        let remedy = s.book.remedies.at(action.remedy);
        if remedy.difficulty == Difficulty::Specialist {
            elsewhere.push(remedies.len());
        }
        let set_up = set_ups.number(&remedy.set_up.id);
        remedies.push(Remedy { cost: costs.remedy(remedy, &remedy.set_up.id).max(1.0), set_up, cures });
        tries.push(a);
    }
    let n = set_ups.ids.len();
    let between = |from: usize, to: usize| match (from == n, to == n) {
        (_, true) => 0.0,
        (true, false) => costs.change("standing", set_ups.ids[to]),
        (false, false) => costs.change(set_ups.ids[from], set_ups.ids[to]),
    };
    let change = (0..=n).map(|from| (0..=n).map(|to| between(from, to)).collect()).collect();
    elsewhere.into_iter().for_each(|r| remedies[r].set_up = n);
    let problem =
        Problem { worlds, checks, remedies, change, set_up: 0, finding: s.person.specialist.0 as f64, mending };
    Model { problem, asks: chosen.to_vec(), tries }
}
