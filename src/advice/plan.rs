//! The base plan: remedies in falling order of probability over cost, each proved, and a specialist where that is cheaper.
//!
//! The posteriors allow several faults at once, and a common fault that has nothing to do with the complaint keeps its prior whatever is
//! found. What counts here is the *blame* of a cause: how far the findings raise it. With posterior p and prior b, p = blame +
//! (1 − blame) · b, so blame = (p − b) / (1 − b), not below nought. Blames brought to a sum of one are the weights: the base plan takes one
//! cause to be behind what was reported.

use std::collections::BTreeMap;

use super::Costs;
use crate::graph::net::{Gate, Var};
use crate::graph::{Fitted, What};
use crate::knowledge::book::Node;

/// A remedy's place on the shelf, and its place on the vehicle.
pub(super) type PlacedRemedy = (usize, Option<usize>);

/// A remedy at a place, and the causes it puts right.
#[derive(Clone, Debug)]
pub(super) struct RepairAction {
    /// The remedy's place on the shelf.
    pub remedy: usize,
    /// Its place on the vehicle.
    pub place: Option<usize>,
    /// Indices of causes and the chance of curing each.
    pub cures: Vec<(usize, f64)>,
}

/// The causes that matter and what can be done about them.
pub(super) struct Plan<'a> {
    /// Prices.
    pub costs: Costs<'a>,
    /// Root variables that may be behind what was reported.
    pub causes: Vec<Var>,
    /// Prior of each cause.
    background: Vec<f64>,
    /// Remedies; every cause is cured by at most one.
    pub actions: Vec<RepairAction>,
    /// Cost of each action from each set-up met so far.
    priced: BTreeMap<String, Vec<f64>>,
    /// What a workshop takes for putting each cause right, once found.
    mended: Vec<f64>,
}

/// What the base plan comes to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Value {
    /// Expected cost in pence.
    pub cost: f64,
    /// The action it begins with; `None` for the specialist.
    pub first: Option<usize>,
}

impl<'a> Plan<'a> {
    /// Lists for each cause its cheapest remedy that this vehicle takes and that was not tried without success.
    pub(super) fn new(fitted: &Fitted, costs: Costs<'a>, causes: Vec<Var>, from: &str, tried: &[PlacedRemedy]) -> Self {
        let mut by_remedy: BTreeMap<PlacedRemedy, Vec<(usize, f64)>> = BTreeMap::new();
        for (i, var) in causes.iter().enumerate() {
            let placed = fitted.placed(*var);
            let What::Entry(Node::Fault(f)) = placed.what else { continue };
            let best = cheapest_remedy(fitted, costs, f, placed.place, from, tried);
            if let Some(action) = best {
                let cures = costs.book.remedies.at(action.0).cures.get();
                by_remedy.entry(action).or_default().push((i, cures));
            }
        }
        let actions =
            by_remedy.into_iter().map(|((remedy, place), cures)| RepairAction { remedy, place, cures }).collect();
        let background = causes.iter().map(|v| prior(fitted, *v)).collect();
        let mended = causes.iter().map(|v| mended(fitted, costs, *v)).collect();
        Plan { costs, causes, background, actions, priced: BTreeMap::new(), mended }
    }

    /// Prices every action from a set-up, once.
    pub(super) fn price_from(&mut self, set_up: &str) {
        if !self.priced.contains_key(set_up) {
            let prices = self
                .actions
                .iter()
                .map(|a| self.costs.remedy(self.costs.book.remedies.at(a.remedy), set_up).max(1.0))
                .collect();
            self.priced.insert(set_up.to_owned(), prices);
        }
    }

    /// How far each cause is behind what was reported, brought to a sum of one; all nought if none is.
    pub(super) fn weights(&self, posteriors: &[f64]) -> Vec<f64> {
        let mut weights: Vec<f64> = posteriors.iter().zip(&self.background).map(|(p, b)| blame(*p, *b)).collect();
        let total: f64 = weights.iter().sum();
        if total > 0.0 {
            weights.iter_mut().for_each(|w| *w /= total);
        }
        weights
    }

    /// Expected cost of the base plan for weights of the causes that sum to one, from a set-up that was priced.
    pub(super) fn value_of(&self, weights: &[f64], set_up: &str) -> Value {
        let finding = self.costs.person.specialist.0 as f64;
        let none = Vec::new();
        let prices = self.priced.get(set_up).unwrap_or(&none);
        let mut order: Vec<(f64, f64, usize)> = Vec::with_capacity(prices.len());
        for (i, (action, price)) in self.actions.iter().zip(prices).enumerate() {
            let gain: f64 = action.cures.iter().map(|(c, q)| weights[*c] * q).sum();
            if gain > 1e-9 {
                order.push((gain, *price, i));
            }
        }
        order.sort_unstable_by(|a, b| (b.0 * a.1).total_cmp(&(a.0 * b.1)).then(a.2.cmp(&b.2)));
        let mut best = Value { cost: self.handed_over(weights), first: None };
        let (mut spent, mut left) = (0.0, 1.0);
        // What a workshop would take for mending what is left.
        let mut mending = best.cost - finding;
        let first = order.first().map(|o| o.2);
        for (gain, price, action) in order {
            spent += price * left;
            left = f64::max(left - gain, 0.0);
            let cured = self.actions[action].cures.iter().map(|(c, q)| weights[*c] * q * self.mended[*c]);
            mending = f64::max(mending - cured.sum::<f64>(), 0.0);
            let stop_here = spent + left * finding + mending;
            if stop_here < best.cost {
                best = Value { cost: stop_here, first };
            }
        }
        best
    }
}

impl Plan<'_> {
    /// What a workshop takes for putting a cause right, once found, in pence.
    pub(super) fn mended(&self, cause: usize) -> f64 {
        self.mended[cause]
    }

    /// Expected cost in pence of handing over now: finding the fault, and mending it by what is likely.
    fn handed_over(&self, weights: &[f64]) -> f64 {
        let mending: f64 = weights.iter().zip(&self.mended).map(|(w, m)| w * m).sum();
        let known: f64 = weights.iter().sum();
        self.costs.person.specialist.0 as f64 + mending + (1.0 - known).max(0.0) * UNKNOWN_MENDED
    }

    /// Expected cost from here on with good checks still to come, for weights that sum to one: the cost of the remedies if the cause were
    /// known, and [`PENCE_A_BIT`] for each bit of doubt about which remedy it is. Never more than the base plan, which asks nothing.
    pub(super) fn estimate(&self, weights: &[f64], set_up: &str) -> f64 {
        let finding = self.costs.person.specialist.0 as f64;
        let none = Vec::new();
        let prices = self.priced.get(set_up).unwrap_or(&none);
        let (mut known, mut bits, mut rest) = (0.0, 0.0, 1.0);
        let mut mending = self.handed_over(weights) - finding;
        for (action, price) in self.actions.iter().zip(prices) {
            let share: f64 = action.cures.iter().map(|(c, _)| weights[*c]).sum();
            if share > 0.0 {
                let mended: f64 = action.cures.iter().map(|(c, _)| weights[*c] * self.mended[*c]).sum();
                known += (share * price).min(share * finding + mended);
                bits -= share * share.log2();
                rest -= share;
                mending -= mended;
            }
        }
        if rest > 1e-12 {
            known += rest * finding + mending.max(0.0);
            bits -= rest * rest.log2();
        }
        (known + PENCE_A_BIT * bits).min(self.value_of(weights, set_up).cost)
    }
}

/// What a workshop takes in pence for putting right a cause that this book cannot mend or does not know. Common practice.
pub(super) const UNKNOWN_MENDED: f64 = 9_000.0;

/// What a workshop takes for putting a cause right, once found: the cheapest of its remedies.
pub fn mended(fitted: &Fitted, costs: Costs<'_>, var: Var) -> f64 {
    let placed = fitted.placed(var);
    let What::Entry(Node::Fault(f)) = placed.what else { return UNKNOWN_MENDED };
    let prices = remedies_of(fitted, costs, f, placed.place).into_iter();
    let prices = prices.map(|r| costs.workshop(costs.book.remedies.at(r.0)));
    prices.min_by(f64::total_cmp).unwrap_or(UNKNOWN_MENDED)
}

/// What a bit of doubt costs to settle, in pence: a usual check costs about eighty and settles about half a bit. Common practice.
const PENCE_A_BIT: f64 = 150.0;

/// How far the findings raise a cause of prior `background` to the posterior `p`; see the module page.
pub(super) fn blame(p: f64, background: f64) -> f64 {
    if background >= 1.0 { 0.0 } else { ((p - background) / (1.0 - background)).max(0.0) }
}

/// Prior of a root variable; nought for the others.
pub(super) fn prior(fitted: &Fitted, var: Var) -> f64 {
    match fitted.net.gate(var) {
        Gate::Root { prior } => prior,
        _ => 0.0,
    }
}

/// The remedy of a fault at its place that is cheapest for what it cures, from a set-up, but for those tried without success.
pub(super) fn cheapest_remedy(
    fitted: &Fitted,
    costs: Costs<'_>,
    fault: usize,
    place: Option<usize>,
    from: &str,
    tried: &[PlacedRemedy],
) -> Option<PlacedRemedy> {
    let price = |r: &PlacedRemedy| {
        let remedy = costs.book.remedies.at(r.0);
        costs.remedy(remedy, from) / remedy.cures.get().max(1e-6)
    };
    let open = remedies_of(fitted, costs, fault, place).into_iter().filter(|r| !tried.contains(r));
    open.min_by(|a, b| price(a).total_cmp(&price(b)))
}

/// The remedies of a fault at its place that this vehicle takes: place on the shelf, and place on the vehicle.
fn remedies_of(fitted: &Fitted, costs: Costs<'_>, fault: usize, place: Option<usize>) -> Vec<PlacedRemedy> {
    let book = costs.book;
    let mut out = Vec::new();
    for reference in &book.faults.at(fault).remedies {
        let Some(index) = book.remedies.index(&reference.id) else { continue };
        let remedy = book.remedies.at(index);
        if !fitted.vehicle.meets(&remedy.when) {
            continue;
        }
        let at = match (&remedy.each, place) {
            (Some(each), Some(from)) => {
                let here = fitted.vehicle.places[from].position;
                let fits = |p: &usize| {
                    crate::knowledge::Relation::Same.joins(Some(here), Some(fitted.vehicle.places[*p].position))
                };
                match fitted.vehicle.places_of(each).into_iter().find(fits) {
                    Some(p) => Some(p),
                    None => continue,
                }
            }
            _ => None,
        };
        out.push((index, at));
    }
    out
}
