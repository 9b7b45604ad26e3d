//! Ways of choosing the next action: lookahead, which the program uses, and simple ones to compare it with.
//!
//! All of them take a [`Problem`] and a [`State`] and give an [`Action`]; none remembers anything. The base plan under the lookahead is the
//! order by probability over cost, chosen anew after every failure with the set-up of the moment: optimal for one fault, independent
//! remedies and constant costs (Kadane and Simon 1977), and known not to be with checks or set-ups.

use super::{Action, Problem, State, optimum};

/// Remedies by probability over cost, chosen anew after each failure; the specialist where that is cheaper. Gives its expected cost and what
/// it begins with.
pub fn by_odds_over_cost(problem: &Problem, state: &State) -> (f64, Action) {
    let hand_over = (problem.cost(state, Action::HandOver), Action::HandOver);
    let Some((_, action)) = best_ratio(problem, state) else { return hand_over };
    let cost = expected(problem, state, action, &mut |next| by_odds_over_cost(problem, next).0);
    if cost < hand_over.0 { (cost, action) } else { hand_over }
}

/// The remedy with the best chance of curing for its cost.
fn best_ratio(problem: &Problem, state: &State) -> Option<(f64, Action)> {
    let ratio = |(r, gain): (usize, f64)| (gain / problem.cost(state, Action::Try(r)).max(1e-9), Action::Try(r));
    problem.tries(state).map(ratio).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
}

/// Cost of an action and of what follows, by the value given for what follows.
fn expected(problem: &Problem, state: &State, action: Action, value: &mut dyn FnMut(&State) -> f64) -> f64 {
    let total = state.weight();
    let after = problem.after(state, action);
    problem.cost(state, action) + after.iter().map(|next| next.weight() / total * value(next)).sum::<f64>()
}

/// A remedy with a smaller chance than this is not tried by [`most_probable`].
const HARDLY: f64 = 0.02;

/// The most probable cause first, whatever it costs; the specialist when nothing likely is left to try.
pub fn most_probable(problem: &Problem, state: &State) -> Action {
    let best = problem.tries(state).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    let best = best.filter(|b| b.1 > HARDLY * state.weight());
    best.map_or(Action::HandOver, |b| Action::Try(b.0))
}

/// Doubt about which single remedy is the right one below which asking for information stops, in bits.
const SURE_ENOUGH: f64 = 0.5;

/// The reading that tells most about the world for its cost until that is fairly sure; then the remedies by probability over cost.
pub fn most_information(problem: &Problem, state: &State) -> Action {
    let doubt = bits(state);
    if doubt > SURE_ENOUGH {
        let total = state.weight();
        let told = |action: Action| {
            let Action::Ask(_) = action else { return None };
            let left: f64 = problem.after(state, action).iter().map(|n| n.weight() / total * bits(n)).sum();
            (doubt - left > 1e-6).then(|| ((doubt - left) / problem.cost(state, action).max(1e-9), action))
        };
        let best = problem.actions(state).filter_map(told).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        if let Some((_, action)) = best {
            return action;
        }
    }
    by_odds_over_cost(problem, state).1
}

/// Entropy of the worlds.
fn bits(state: &State) -> f64 {
    let total = state.weight();
    state.worlds.iter().map(|w| w.1 / total).filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum()
}

/// Readings in the order of the list until that is fairly sure; then the remedies by probability over cost.
pub fn fixed_order(problem: &Problem, state: &State) -> Action {
    let ask = problem.actions(state).find(|a| matches!(a, Action::Ask(_)));
    match ask {
        Some(ask) if bits(state) > SURE_ENOUGH => ask,
        _ => by_odds_over_cost(problem, state).1,
    }
}

/// A way of choosing.
#[derive(Copy, Clone, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// The program's own: lookahead on the exact posteriors.
    #[default]
    Lookahead,
    /// Remedies by probability over cost; no readings.
    OddsOverCost,
    /// Readings by information for their cost until fairly sure, then remedies.
    MostInformation,
    /// Remedies by probability alone.
    MostProbable,
    /// Readings in the order of the book until fairly sure, then remedies.
    FixedOrder,
}

impl Way {
    /// All of them, the program's own first.
    pub const ALL: [Way; 5] =
        [Way::Lookahead, Way::OddsOverCost, Way::MostInformation, Way::MostProbable, Way::FixedOrder];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Way::Lookahead => "lookahead",
            Way::OddsOverCost => "probability over cost",
            Way::MostInformation => "most information for the cost",
            Way::MostProbable => "most probable cause first",
            Way::FixedOrder => "checks in the order of the book",
        }
    }

    /// Rates the actions of a state, the best first; the simple ways rate only the one they choose.
    pub fn rate(self, problem: &Problem, state: &State) -> Vec<Rated> {
        let action = match self {
            Way::Lookahead => return plan(problem, state, &Reach::default()),
            Way::OddsOverCost => by_odds_over_cost(problem, state).1,
            Way::MostInformation => most_information(problem, state),
            Way::MostProbable => most_probable(problem, state),
            Way::FixedOrder => fixed_order(problem, state),
        };
        let cost = expected(problem, state, action, &mut |next| by_odds_over_cost(problem, next).0);
        vec![Rated { action, cost }]
    }
}

/// How far the program's own way looks ahead.
#[derive(Copy, Clone, Debug, PartialEq)]
pub struct Reach {
    /// Actions that get a second step, best first.
    pub second: usize,
    /// States up to which the case is solved outright.
    pub exact: usize,
}

impl Default for Reach {
    fn default() -> Self {
        Reach { second: 8, exact: 300 }
    }
}

/// An action with what it is expected to come to.
#[derive(Copy, Clone, Debug, PartialEq)]
pub struct Rated {
    /// The action.
    pub action: Action,
    /// Expected cost of it and all that follows.
    pub cost: f64,
}

/// Rates every action by lookahead, the best first: each action with the base plan behind its results, the most promising with one more
/// action of any kind between.
pub fn rate(problem: &Problem, state: &State, reach: &Reach) -> Vec<Rated> {
    let one = |action: Action, state: &State| {
        expected(problem, state, action, &mut |next| by_odds_over_cost(problem, next).0)
    };
    let mut rated: Vec<Rated> =
        problem.actions(state).map(|action| Rated { action, cost: one(action, state) }).collect();
    let order = |a: &Rated, b: &Rated| a.cost.total_cmp(&b.cost).then(b.action.cmp(&a.action));
    rated.sort_by(order);
    for r in rated.iter_mut().take(reach.second).filter(|r| r.action != Action::HandOver) {
        let best = &mut |next: &State| {
            let base = by_odds_over_cost(problem, next).0;
            problem.actions(next).map(|a| one(a, next)).fold(base, f64::min)
        };
        r.cost = r.cost.min(expected(problem, state, r.action, best));
    }
    rated.sort_by(order);
    rated
}

/// The program's way: every action rated, the best first; the first one outright where the case is small.
pub fn plan(problem: &Problem, state: &State, reach: &Reach) -> Vec<Rated> {
    let mut rated = rate(problem, state, reach);
    if reach.exact > 0
        && let Some(best) = optimum::from(problem, state, reach.exact)
    {
        // What the optimum takes is worth what it says; the others are no better than it.
        rated.retain(|r| r.action != best.first);
        rated.iter_mut().for_each(|r| r.cost = r.cost.max(best.cost));
        rated.insert(0, Rated { action: best.first, cost: best.cost });
    }
    rated
}

/// What the program's way begins with.
pub fn lookahead(problem: &Problem, state: &State, reach: &Reach) -> Action {
    plan(problem, state, reach).first().map_or(Action::HandOver, |r| r.action)
}
