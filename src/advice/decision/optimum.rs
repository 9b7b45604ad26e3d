//! The best plan there is, by exhaustive search over what can be known; and what any way of choosing is worth on the same problem.
//!
//! Dynamic programming over information states: a state is settled by the weights of its worlds up to their sum, by what was tried and asked,
//! the set-up and the open check. Used to measure plans, and to choose where a case is small. Exact but for rounding; gives nothing where
//! more states would have to be looked at than allowed.

use std::collections::HashMap;

use super::{Action, Problem, State};

/// The best plan: its expected cost and its first action.
#[derive(Copy, Clone, Debug, PartialEq)]
pub struct Best {
    /// Expected cost until everything is right, in pence.
    pub cost: f64,
    /// What it begins with.
    pub first: Action,
    /// States looked at.
    pub states: usize,
}

/// A state as a key: weights to twelve figures, so that ways which lead to the same knowledge share their value.
type Key = (Vec<(u64, i64)>, u64, u64, usize, Option<usize>);

fn key(problem: &Problem, state: &State) -> Key {
    let total = state.weight();
    let share = |(world, weight): &(u64, f64)| (*world, (weight / total * 1e12).round() as i64);
    // A reading that tells nothing any more is as good as asked.
    let spent =
        (0..problem.checks.len()).filter(|c| !problem.tells(*c, state)).fold(state.asked, |asked, c| asked | 1 << c);
    (state.worlds.iter().map(share).collect(), state.tried, spent, state.set_up, state.open)
}

/// Finds the best plan, or nothing if that would take more than `most` states.
pub fn optimum(problem: &Problem, most: usize) -> Option<Best> {
    from(problem, &problem.start(), most)
}

/// Finds the best way on from a state, or nothing if that would take more than `most` states.
pub fn from(problem: &Problem, state: &State, most: usize) -> Option<Best> {
    let mut search = Search { problem, most, known: HashMap::new() };
    let (cost, first) = search.value(state)?;
    Some(Best { cost, first, states: search.known.len() })
}

struct Search<'p> {
    problem: &'p Problem,
    most: usize,
    known: HashMap<Key, (f64, Action)>,
}

/// What is dearer by less than this is no better choice, so that rounding does not choose.
const TIE: f64 = 1e-9;

impl Search<'_> {
    fn value(&mut self, state: &State) -> Option<(f64, Action)> {
        let key = key(self.problem, state);
        if let Some(known) = self.known.get(&key) {
            return Some(*known);
        }
        if self.known.len() >= self.most {
            return None;
        }
        let total = state.weight();
        let mut best = (self.problem.cost(state, Action::HandOver), Action::HandOver);
        let actions: Vec<Action> = self.problem.actions(state).collect();
        for action in actions.into_iter().rev().filter(|a| *a != Action::HandOver) {
            let mut cost = self.problem.cost(state, action);
            for next in self.problem.after(state, action) {
                if cost >= best.0 {
                    break;
                }
                cost += next.weight() / total * self.value(&next)?.0;
            }
            if cost < best.0 - TIE {
                best = (cost, action);
            }
        }
        self.known.insert(key, best);
        Some(best)
    }
}

/// Expected cost of a way of choosing, followed from the start to the end; or nothing if that would take more than `most` states. The way must
/// depend on the state alone.
pub fn worth(problem: &Problem, choose: &mut dyn FnMut(&State) -> Action, most: usize) -> Option<f64> {
    let mut known = HashMap::new();
    follow(problem, &problem.start(), choose, most, &mut known)
}

fn follow(
    problem: &Problem,
    state: &State,
    choose: &mut dyn FnMut(&State) -> Action,
    most: usize,
    known: &mut HashMap<Key, f64>,
) -> Option<f64> {
    let key = key(problem, state);
    if let Some(known) = known.get(&key) {
        return Some(*known);
    }
    if known.len() >= most {
        return None;
    }
    let action = choose(state);
    let total = state.weight();
    let mut cost = problem.cost(state, action);
    for next in problem.after(state, action) {
        cost += next.weight() / total * follow(problem, &next, choose, most, known)?;
    }
    known.insert(key, cost);
    Some(cost)
}
