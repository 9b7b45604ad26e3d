//! The decision problem of putting a vehicle right, without words: what may be wrong, what can be asked, what can be done, what it costs.
//!
//! A [`Problem`] holds the possible *worlds* (sets of faults, each with its probability), checks that read the present world with errors of
//! both kinds, remedies that cure faults with a chance, set-ups and the cost of changing them, and what a specialist takes. A [`State`] is
//! what is known: the weight of each world, what was tried and asked, the set-up, the check still open. An [`Action`] leads from a state to
//! one or two others. Everything that chooses ([`policy`]) and everything that measures ([`optimum()`]) works on these alone, so that a plan
//! can be compared with the best there is.
//!
//! After a repair the world is another one: a cured fault is gone from it, and what was read before stays evidence about the world as it was
//! (Heckerman, Breese and Rommelse, CACM 1995, on persistence). A remedy's cost includes the check that proves it; the work ends when a
//! remedy was proved to have left nothing wrong, or with the specialist. Each check and each remedy is used once: asking or trying the
//! same again tells nothing new about the same world.
//!
//! Never knows a book, a vehicle or a graph; costs are in pence, chances from 0 to 1.

mod optimum;
pub mod policy;

pub use optimum::{Best, optimum, worth};

/// Faults a problem can hold: worlds are sets in 64 bits.
pub const MOST_FAULTS: usize = 64;

/// A reading of a check: yes or no, and how each fault makes it likelier.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// What it costs when it has to be begun, without the change of set-up.
    pub cost: f64,
    /// What a further reading costs while the same check is open.
    pub again: f64,
    /// Which check it belongs to: readings of one check share a number.
    pub procedure: usize,
    /// The set-up it needs.
    pub set_up: usize,
    /// Chance of the sign without any fault.
    pub leak: f64,
    /// Chance that a fault brings the sign about by itself.
    pub links: Vec<(usize, f64)>,
    /// Chance of "yes" when the sign is there.
    pub sensitivity: f64,
    /// Chance of "no" when it is not.
    pub specificity: f64,
}

impl Check {
    /// Chance of "yes" in a world.
    pub fn yes(&self, world: u64) -> f64 {
        let quiet =
            self.links.iter().filter(|(f, _)| world >> f & 1 == 1).fold(1.0 - self.leak, |q, (_, s)| q * (1.0 - s));
        self.sensitivity * (1.0 - quiet) + (1.0 - self.specificity) * quiet
    }
}

/// A remedy with its proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// What it costs with its parts and its proof, without the change of set-up.
    pub cost: f64,
    /// The set-up it needs, and leaves.
    pub set_up: usize,
    /// Faults it cures, and the chance of each.
    pub cures: Vec<(usize, f64)>,
}

/// What may be wrong and what can be done about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Possible sets of faults with their probabilities, which sum to one. No set is empty.
    pub worlds: Vec<(u64, f64)>,
    /// Readings that can be asked.
    pub checks: Vec<Check>,
    /// Remedies that can be tried.
    pub remedies: Vec<Remedy>,
    /// Cost of going from one set-up (row) to another.
    pub change: Vec<Vec<f64>>,
    /// The set-up at the start.
    pub set_up: usize,
    /// What a specialist takes for finding what is wrong.
    pub finding: f64,
    /// What a specialist takes besides for mending each fault.
    pub mending: Vec<f64>,
}

/// One thing to do.
#[derive(Copy, Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Action {
    /// Ask a reading.
    Ask(usize),
    /// Try a remedy.
    Try(usize),
    /// Hand over to a specialist, which ends it.
    HandOver,
}

/// What is known.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Worlds that are still possible, by their faults; weights sum to the probability of having come here.
    pub worlds: Vec<(u64, f64)>,
    /// Remedies tried.
    pub tried: u64,
    /// Readings asked.
    pub asked: u64,
    /// The set-up now.
    pub set_up: usize,
    /// The check still open.
    pub open: Option<usize>,
}

impl State {
    /// Sum of the weights.
    pub fn weight(&self) -> f64 {
        self.worlds.iter().map(|w| w.1).sum()
    }

    /// Weight of the worlds with a fault.
    pub fn with(&self, fault: usize) -> f64 {
        self.worlds.iter().filter(|w| w.0 >> fault & 1 == 1).map(|w| w.1).sum()
    }
}

/// Weights below this share of the whole are dropped.
const NOTHING: f64 = 1e-15;

impl Problem {
    /// The state at the start.
    pub fn start(&self) -> State {
        State { worlds: self.worlds.clone(), tried: 0, asked: 0, set_up: self.set_up, open: None }
    }

    /// What an action costs in a state.
    pub fn cost(&self, state: &State, action: Action) -> f64 {
        match action {
            Action::Ask(c) => {
                let check = &self.checks[c];
                if state.open == Some(check.procedure) {
                    check.again
                } else {
                    check.cost + self.change[state.set_up][check.set_up]
                }
            }
            Action::Try(r) => self.remedies[r].cost + self.change[state.set_up][self.remedies[r].set_up],
            Action::HandOver => {
                let total = state.weight();
                let mending = |(world, weight): &(u64, f64)| {
                    let each = self.mending.iter().enumerate().filter(|(f, _)| world >> f & 1 == 1);
                    weight * each.map(|(_, m)| m).sum::<f64>()
                };
                self.finding + if total > 0.0 { state.worlds.iter().map(mending).sum::<f64>() / total } else { 0.0 }
            }
        }
    }

    /// Whether a reading tells the worlds that are still possible apart.
    pub fn tells(&self, check: usize, state: &State) -> bool {
        let mut yes = state.worlds.iter().map(|w| self.checks[check].yes(w.0));
        let Some(first) = yes.next() else { return false };
        yes.any(|p| (p - first).abs() > 1e-12)
    }

    /// Everything that can be done in a state and could matter: in order, readings, remedies, the specialist.
    pub fn actions<'a>(&'a self, state: &'a State) -> impl Iterator<Item = Action> + 'a {
        let asks = (0..self.checks.len()).filter(move |c| state.asked >> c & 1 == 0 && self.tells(*c, state));
        asks.map(Action::Ask).chain(self.tries(state).map(|t| Action::Try(t.0))).chain([Action::HandOver])
    }

    /// The remedies that may still help, each with the chance that it cures, as a weight.
    pub fn tries<'a>(&'a self, state: &'a State) -> impl Iterator<Item = (usize, f64)> + 'a {
        let gain = move |r: usize| {
            let chance = |world: u64| -> f64 {
                let spared: f64 =
                    self.remedies[r].cures.iter().filter(|(f, _)| world >> f & 1 == 1).map(|(_, q)| 1.0 - q).product();
                1.0 - spared
            };
            (r, state.worlds.iter().map(|(world, weight)| weight * chance(*world)).sum())
        };
        (0..self.remedies.len()).filter(move |r| state.tried >> r & 1 == 0).map(gain).filter(|(_, gain)| *gain > 0.0)
    }

    /// The states an action can lead to, with their weights; a state in which all is proved right is left out. For a reading "yes" comes
    /// first; a result that cannot be is left out.
    pub fn after(&self, state: &State, action: Action) -> Vec<State> {
        let total = state.weight();
        let keep = |worlds: Vec<(u64, f64)>| -> Vec<(u64, f64)> {
            worlds.into_iter().filter(|w| w.1 > NOTHING * total).collect()
        };
        match action {
            Action::HandOver => Vec::new(),
            Action::Ask(c) => {
                let check = &self.checks[c];
                let yes: Vec<(u64, f64)> = state.worlds.iter().map(|(w, p)| (*w, p * check.yes(*w))).collect();
                let no = state.worlds.iter().zip(&yes).map(|(all, yes)| (all.0, all.1 - yes.1)).collect();
                let next = |worlds| State {
                    worlds: keep(worlds),
                    asked: state.asked | 1 << c,
                    set_up: check.set_up,
                    open: Some(check.procedure),
                    ..*state
                };
                [yes, no].into_iter().map(next).filter(|s| !s.worlds.is_empty()).collect()
            }
            Action::Try(r) => {
                let remedy = &self.remedies[r];
                let mut worlds: Vec<(u64, f64)> = state.worlds.clone();
                for (fault, chance) in &remedy.cures {
                    let mut next = Vec::with_capacity(worlds.len());
                    for (world, weight) in worlds {
                        if world >> fault & 1 == 0 {
                            next.push((world, weight));
                            continue;
                        }
                        next.push((world, weight * (1.0 - chance)));
                        next.push((world & !(1 << fault), weight * chance));
                    }
                    worlds = next;
                }
                // Nothing left wrong: proved, and done.
                worlds.retain(|w| w.0 != 0);
                worlds.sort_unstable_by_key(|w| w.0);
                worlds.dedup_by(|b, a| {
                    a.0 == b.0 && {
                        a.1 += b.1;
                        true
                    }
                });
                let worlds = keep(worlds);
                if worlds.is_empty() {
                    return Vec::new();
                }
                let tried = state.tried | 1 << r;
                vec![State { worlds, tried, set_up: remedy.set_up, open: None, ..*state }]
            }
        }
    }
}
