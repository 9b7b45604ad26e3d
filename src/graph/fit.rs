//! Lays a book over a vehicle: one variable for every entry at every place it has there, links joined by place, priors set for this vehicle.
//!
//! What the vehicle lacks gets no variable, and neither does what nothing on this vehicle could bring about.

use std::collections::HashMap;

use jiff::civil::Date;

use super::fitted::{Fitted, Placed, PlacedCheck, PlacedReading, What};
use super::net::{Effect, Gate, NetBuilder, NetProblem, Var};
use crate::knowledge::book::{Book, Link, Node, Rise};
use crate::knowledge::{End, Relation, Side};
use crate::vehicle::{Chances, Vehicle};

/// The highest prior a fault may reach, however the vehicle is kept.
const HIGHEST_PRIOR: f64 = 0.3;

/// A book that cannot be fitted. The loader's rules refuse such books, so a person meets this only through a broken overlay.
#[derive(Debug, thiserror::Error)]
pub enum FitProblem {
    /// The net is unsound.
    #[error("the knowledge cannot be fitted to this vehicle: {0}; run `splitpin knowledge check`")]
    Net(#[from] NetProblem),
}

/// One entry at one place, before variables are dealt out.
#[derive(Clone, Copy)]
struct Spot {
    node: Node,
    place: Option<usize>,
}

/// Fits a book to a vehicle on a day.
///
/// # Errors
/// If the net would be unsound (a loop, or a strength that is no probability).
pub fn fit(book: &Book, vehicle: &Vehicle, today: Date) -> Result<Fitted, FitProblem> {
    let mut spots: Vec<Spot> = Vec::new();
    let mut at_node: HashMap<Node, Vec<usize>> = HashMap::new();
    let nodes = (0..book.faults.len()).map(Node::Fault);
    let nodes = nodes.chain((0..book.conditions.len()).map(Node::Condition));
    let nodes = nodes.chain((0..book.signs.len()).map(Node::Sign));
    for node in nodes.filter(|n| vehicle.meets(book.when(*n))) {
        let places: Vec<Option<usize>> = match book.each(node) {
            Some(each) => vehicle.places_of(each).into_iter().map(Some).collect(),
            None => vec![None],
        };
        for place in places {
            at_node.entry(node).or_default().push(spots.len());
            spots.push(Spot { node, place });
        }
    }
    let joined = join(book, vehicle, &spots, &at_node);
    let kept = keep(book, &spots, &joined);
    build(book, vehicle, today, &spots, &joined, &kept)
}

/// Cause, effect, strength and whether it hides, between spots.
type Joined = (usize, usize, f64, bool);

/// Joins every link's places; links that meet the same pair twice add up as independent ways.
fn join(book: &Book, vehicle: &Vehicle, spots: &[Spot], at_node: &HashMap<Node, Vec<usize>>) -> Vec<Joined> {
    let none = Vec::new();
    let mut found: HashMap<(usize, usize, bool), usize> = HashMap::new();
    let mut joined: Vec<Joined> = Vec::new();
    for link in book.links.iter().filter(|l| vehicle.meets(&l.when)) {
        for &from in at_node.get(&link.from).unwrap_or(&none) {
            for &to in at_node.get(&link.to).unwrap_or(&none) {
                if !reaches(link, vehicle, spots[from].place, spots[to].place) {
                    continue;
                }
                let strength = link.strength.get();
                match found.get(&(from, to, link.inhibits)) {
                    Some(&i) => joined[i].2 = 1.0 - (1.0 - joined[i].2) * (1.0 - strength),
                    None => {
                        found.insert((from, to, link.inhibits), joined.len());
                        joined.push((from, to, strength, link.inhibits));
                    }
                }
            }
        }
    }
    joined
}

fn reaches(link: &Link, vehicle: &Vehicle, from: Option<usize>, to: Option<usize>) -> bool {
    at(vehicle, link.place, link.end, link.side, from, to)
}

/// Whether an entry at `from` reaches one at `to` by a relation, kept to an end or side.
fn at(
    vehicle: &Vehicle,
    relation: Relation,
    end: Option<End>,
    side: Option<Side>,
    from: Option<usize>,
    to: Option<usize>,
) -> bool {
    let position = |p: Option<usize>| p.map(|p| vehicle.places[p].position);
    let (source, target) = (position(from), position(to));
    // An end or side is the target's; where the target has none, the source's; where neither has one, the link holds.
    let own_end = target.and_then(|t| t.end).or(source.and_then(|s| s.end));
    let own_side = target.and_then(|t| t.side).or(source.and_then(|s| s.side));
    let kept = end.is_none_or(|e| own_end.is_none_or(|own| own == e))
        && side.is_none_or(|s| own_side.is_none_or(|own| own == s));
    kept && relation.joins(source, target)
}

/// Which spots stay: those a cause can reach, and faults that show somewhere.
fn keep(book: &Book, spots: &[Spot], joined: &[Joined]) -> Vec<bool> {
    let mut children = vec![Vec::new(); spots.len()];
    let mut parents = vec![Vec::new(); spots.len()];
    for &(from, to, _, inhibits) in joined {
        parents[to].push(from);
        if !inhibits {
            children[from].push(to);
        }
    }
    let mut caused = vec![false; spots.len()];
    let mut todo: Vec<usize> = Vec::new();
    for (i, spot) in spots.iter().enumerate() {
        let begins = match spot.node {
            Node::Fault(_) => true,
            Node::Condition(c) => book.conditions.at(c).leak.get() > 0.0,
            Node::Sign(s) => book.signs.at(s).not_in_book.is_some(),
        };
        if begins {
            todo.push(i);
        }
    }
    while let Some(i) = todo.pop() {
        if !std::mem::replace(&mut caused[i], true) {
            todo.extend(children[i].iter().copied());
        }
    }
    let mut shows = vec![false; spots.len()];
    let mut todo: Vec<usize> =
        (0..spots.len()).filter(|i| caused[*i] && matches!(spots[*i].node, Node::Sign(_))).collect();
    while let Some(i) = todo.pop() {
        if caused[i] && !std::mem::replace(&mut shows[i], true) {
            todo.extend(parents[i].iter().copied());
        }
    }
    shows
}

fn build(
    book: &Book,
    vehicle: &Vehicle,
    today: Date,
    spots: &[Spot],
    joined: &[Joined],
    kept: &[bool],
) -> Result<Fitted, FitProblem> {
    let chances = vehicle.chances(today);
    let mut net = NetBuilder::new();
    let mut placed = Vec::new();
    let mut index = HashMap::new();
    let mut var_of: Vec<Option<Var>> = vec![None; spots.len()];
    for (i, spot) in spots.iter().enumerate().filter(|(i, _)| kept[*i]) {
        let gate = match spot.node {
            Node::Fault(f) => {
                let fault = book.faults.at(f);
                let learned = vehicle.learned.get(&fault.head.id).copied().unwrap_or(1.0);
                let prior = raised(fault.prior.get(), &fault.rises_with, &fault.head.system, book, &chances);
                Gate::Root { prior: (prior * learned).min(fault.prior.get().max(HIGHEST_PRIOR)) }
            }
            Node::Condition(c) => {
                let c = book.conditions.at(c);
                let leak = c.leak.get();
                if c.needs_all { Gate::AllOf { leak } } else { Gate::AnyOf { leak } }
            }
            Node::Sign(s) => Gate::AnyOf { leak: book.signs.at(s).leak.get() },
        };
        let var = net.add(gate)?;
        var_of[i] = Some(var);
        let what = What::Entry(spot.node);
        placed.push(Placed { what, place: spot.place });
        index.insert((what, spot.place), var);
    }
    for &(from, to, strength, inhibits) in joined {
        if let (Some(from), Some(to)) = (var_of[from], var_of[to]) {
            net.link(from, to, strength, if inhibits { Effect::Inhibits } else { Effect::Causes })?;
        }
    }
    for (i, spot) in spots.iter().enumerate().filter(|(i, _)| kept[*i]) {
        let Node::Sign(s) = spot.node else { continue };
        let (Some(chance), Some(sign)) = (book.signs.at(s).not_in_book, var_of[i]) else { continue };
        let prior = raised(chance.get(), &[], &book.signs.at(s).head.system, book, &chances);
        let var = net.add(Gate::Root { prior })?;
        net.link(var, sign, 1.0, Effect::Causes)?;
        placed.push(Placed { what: What::NotInBook(s), place: spot.place });
        index.insert((What::NotInBook(s), spot.place), var);
    }
    let net = net.build()?;
    let mut by_node: HashMap<Node, Vec<Var>> = HashMap::new();
    for (i, p) in placed.iter().enumerate() {
        if let What::Entry(node) = p.what {
            by_node.entry(node).or_default().push(Var(i as u32));
        }
    }
    let checks = place_checks(book, vehicle, &placed, &by_node);
    Ok(Fitted { net, placed, checks, vehicle: vehicle.clone(), index, by_node })
}

/// A prior of the book, which speaks of the typical vehicle, times the rate of its system and what this vehicle makes of it, held below
/// [`HIGHEST_PRIOR`].
fn raised(base: f64, rises: &[Rise], system: &str, book: &Book, chances: &Chances) -> f64 {
    (base * chances.likelier(rises) * book.rate(system)).min(base.max(HIGHEST_PRIOR))
}

fn place_checks(
    book: &Book,
    vehicle: &Vehicle,
    placed: &[Placed],
    by_node: &HashMap<Node, Vec<Var>>,
) -> Vec<PlacedCheck> {
    let mut out = Vec::new();
    for (i, check) in book.checks.iter().enumerate().filter(|(_, c)| vehicle.meets(&c.when)) {
        let places: Vec<Option<usize>> = match &check.each {
            Some(each) => vehicle.places_of(each).into_iter().map(Some).collect(),
            None => vec![None],
        };
        let reachable = book.set_ups.get(&check.set_up.id).is_some_and(|s| vehicle.meets(&s.needs));
        for place in places.into_iter().filter(|_| reachable) {
            let mut readings = Vec::new();
            for (r, reading) in check.reads.iter().enumerate() {
                let Some(sign) = book.signs.index(&reading.sign.id) else { continue };
                for var in by_node.get(&Node::Sign(sign)).into_iter().flatten() {
                    let sign_place = placed[var.index()].place;
                    if at(vehicle, reading.place, reading.end, reading.side, place, sign_place) {
                        readings.push(PlacedReading { reading: r, var: *var });
                    }
                }
            }
            if !readings.is_empty() {
                out.push(PlacedCheck { check: i, place, readings });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{embed, vehicle};

    #[test]
    fn a_link_kept_to_an_end_holds_by_the_end_of_its_cause_where_its_effect_has_none() {
        let van = vehicle::demo("petrol-van", &embed::book()).expect("a demo").vehicle;
        let place = |kind: &str, id: &str| van.places.iter().position(|p| p.kind == kind && p.position.id() == id);
        let front = |from, to| at(&van, Relation::Same, Some(End::Front), None, from, to);
        let (front_wheel, rear_wheel) = (place("wheel", "front-nearside"), place("wheel", "rear-nearside"));
        let side = place("side", "nearside");
        assert!(front_wheel.is_some() && rear_wheel.is_some() && side.is_some());
        assert!(front(front_wheel, None) && !front(rear_wheel, None));
        assert!(front(front_wheel, side) && !front(rear_wheel, side));
        assert!(front(None, front_wheel) && !front(None, rear_wheel));
        assert!(front(None, None) && front(None, side));
    }
}
