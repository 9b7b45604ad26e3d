//! A book fitted to a vehicle: which variable stands for which entry at which place.

use std::collections::HashMap;

use super::net::{Net, Var};
use crate::knowledge::book::{Book, Node};
use crate::vehicle::Vehicle;

/// What a variable stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum What {
    /// A fault, condition or sign of the book.
    Entry(Node),
    /// A cause that is not in this book, behind the reportable sign of that place on the shelf.
    NotInBook(usize),
}

/// A variable's meaning.
#[derive(Clone, Copy, Debug)]
pub struct Placed {
    /// What it stands for.
    pub what: What,
    /// Index of its place on the vehicle, if it has one.
    pub place: Option<usize>,
}

/// A check at one of its places, with the signs it settles on this vehicle.
#[derive(Clone, Debug)]
pub struct PlacedCheck {
    /// The check's place on the shelf.
    pub check: usize,
    /// Index of its place on the vehicle.
    pub place: Option<usize>,
    /// What it settles; never empty.
    pub readings: Vec<PlacedReading>,
}

/// One sign at one place, as a check reads it.
#[derive(Clone, Copy, Debug)]
pub struct PlacedReading {
    /// Which of the check's readings.
    pub reading: usize,
    /// The sign's variable.
    pub var: Var,
}

/// A book fitted to a vehicle on a day.
#[derive(Debug)]
pub struct Fitted {
    /// The net.
    pub net: Net,
    /// The meaning of every variable.
    pub placed: Vec<Placed>,
    /// Every check that can be done on this vehicle, in order of shelf and place.
    pub checks: Vec<PlacedCheck>,
    /// The vehicle.
    pub vehicle: Vehicle,
    pub(super) index: HashMap<(What, Option<usize>), Var>,
    /// The variables of each node, ascending.
    pub(super) by_node: HashMap<Node, Vec<Var>>,
}

impl Fitted {
    /// The variable of an entry at a place.
    pub fn var(&self, what: What, place: Option<usize>) -> Option<Var> {
        self.index.get(&(what, place)).copied()
    }

    /// Every place's variable of a node, in order of layout.
    pub fn vars_of(&self, node: Node) -> Vec<Var> {
        self.by_node.get(&node).cloned().unwrap_or_default()
    }

    /// The variable of a sign at a place, or anywhere if it has none.
    pub fn sign(&self, sign: usize, place: Option<usize>) -> Option<Var> {
        self.var(What::Entry(Node::Sign(sign)), place)
    }

    /// What a variable stands for.
    pub fn placed(&self, var: Var) -> Placed {
        self.placed[var.index()]
    }

    /// The place of a variable as an id: `rear-nearside`, or `None`.
    pub fn place_id(&self, place: Option<usize>) -> Option<String> {
        place.map(|p| self.vehicle.places[p].position.id())
    }

    /// The place of a variable in words, or `None`.
    pub fn place_name(&self, place: Option<usize>) -> Option<&str> {
        place.map(|p| self.vehicle.places[p].name.as_str())
    }

    /// A name with its place behind it, in no more words than needed: where the name says the kind of place already, only what sets the place
    /// apart from others of the kind; nothing for the only one.
    pub fn with_place(&self, name: &str, place: Option<usize>) -> String {
        match self.place_apart(name, place) {
            Some(place) => format!("{name} ({place})"),
            None => name.to_owned(),
        }
    }

    /// What to say of a place behind a name, if anything.
    pub fn place_apart(&self, name: &str, place: Option<usize>) -> Option<&str> {
        let place = &self.vehicle.places[place?];
        let kind = place.name.strip_prefix(place.apart.as_str()).map_or("", str::trim);
        let said = !kind.is_empty() && name.contains(kind);
        let text = if said || place.apart.is_empty() { &place.apart } else { &place.name };
        (!text.is_empty()).then_some(text.as_str())
    }

    /// The id of a variable's entry; a cause not in the book has the id `not-in-book` with its sign's id behind a colon.
    pub fn id(&self, var: Var, book: &Book) -> String {
        match self.placed(var).what {
            What::Entry(node) => book.head(node).id.clone(),
            What::NotInBook(sign) => format!("not-in-book:{}", book.signs.at(sign).head.id),
        }
    }

    /// A variable in words, with its place where it has one: "reversing bulb blown (nearside reversing lamp)".
    pub fn name(&self, var: Var, book: &Book) -> String {
        let placed = self.placed(var);
        let base = match placed.what {
            What::Entry(node) => book.head(node).name.clone(),
            What::NotInBook(_) => "a cause not in this book".to_owned(),
        };
        self.with_place(&base, placed.place)
    }

    /// Root variables: faults, and causes not in the book.
    pub fn causes(&self) -> impl Iterator<Item = Var> + '_ {
        self.placed.iter().enumerate().filter_map(|(i, p)| match p.what {
            What::Entry(Node::Fault(_)) | What::NotInBook(_) => Some(Var(i as u32)),
            What::Entry(_) => None,
        })
    }
}
