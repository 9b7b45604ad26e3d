//! One vehicle: its traits and the places it has.
//!
//! Takes a small text file (or one of the built-in invented demo vehicles) and the book's lists of traits and kinds of place; gives a
//! checked [`Vehicle`] and every problem found. Never holds knowledge of faults.

mod file;

pub use file::{LoadedVehicle, demo, demo_names, read};

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::knowledge::book::{Book, Rise};
use crate::knowledge::{Each, Position, When};

/// A place on a vehicle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Kind of place, such as `stop-lamp`.
    pub kind: String,
    /// Where it is.
    pub position: Position,
    /// How it reads: "rear nearside stop lamp", without what needs no saying on this vehicle.
    pub name: String,
    /// What sets it apart from the others of its kind: "rear nearside"; empty for the only one.
    pub apart: String,
    /// Whether the book laid it out, the vehicle's file being silent about its kind.
    pub laid: bool,
}

impl Place {
    /// A place whose name has still to be found.
    fn new(kind: &str, position: Position, laid: bool) -> Place {
        Place { kind: kind.to_owned(), position, name: String::new(), apart: String::new(), laid }
    }
}

/// A vehicle as splitpin knows it.
#[derive(Clone, Debug)]
pub struct Vehicle {
    /// Short name, as typed after `--vehicle`.
    pub id: String,
    /// Name to show.
    pub name: String,
    /// A sentence about it.
    pub about: String,
    /// Every trait of the book with this vehicle's value or the default.
    pub traits: BTreeMap<String, String>,
    /// Its places: those its file lists, in order, and then those laid out by the book.
    pub places: Vec<Place>,
    /// Kinds of place its file lists, an empty list among them.
    pub listed: Vec<String>,
    /// By what its keeper's own proved repairs change the chance of a fault, by the fault's id; empty where nothing was learned.
    pub learned: BTreeMap<String, f64>,
}

impl Vehicle {
    /// The value of a trait.
    pub fn value(&self, name: &str) -> Option<&str> {
        self.traits.get(name).map(String::as_str)
    }

    /// Whether it has at least one place of a kind.
    pub fn has(&self, kind: &str) -> bool {
        self.places.iter().any(|p| p.kind == kind)
    }

    /// Whether conditions hold for it.
    pub fn meets(&self, when: &When) -> bool {
        when.holds(&|name| self.value(name), &|kind| self.has(kind))
    }

    /// Indices of the places that an entry is laid out over.
    pub fn places_of(&self, each: &Each) -> Vec<usize> {
        let fits = |p: &Place| p.kind == each.kind && each.end.is_none_or(|end| p.position.end == Some(end));
        self.places.iter().enumerate().filter(|(_, p)| fits(p)).map(|(i, _)| i).collect()
    }

    /// Age in years on a day, from the date of first use; 12 if that is not known.
    pub fn age_years(&self, today: Date) -> f64 {
        let first: Option<Date> = self.value("first-used").and_then(|v| v.parse().ok());
        first.map_or(TYPICAL_AGE, |first| {
            let days = today.duration_since(first).as_hours() as f64 / 24.0;
            (days / 365.25).max(0.0)
        })
    }

    /// What this vehicle's age, keeping, use and upkeep on a day make of the chance of a fault; see [`Chances`].
    pub fn chances(&self, today: Date) -> Chances {
        let pick = |name: &str, table: &[(&str, f64)]| {
            self.value(name).and_then(|v| table.iter().find(|(w, _)| *w == v)).map_or(1.0, |(_, f)| *f)
        };
        let age = hazard_at(self.age_years(today)) / hazard_at(TYPICAL_AGE);
        Chances {
            wearing: age.powf(STEEPER),
            other: age.powf(SLOWER),
            damp: pick("kept", &[("garage", 0.6), ("outdoors", 1.0), ("coast", 1.8)]),
            miles: pick("use", &[("daily", 1.0), ("weekly", 0.7), ("laid-up", 0.5)]),
            standing: pick("use", &[("daily", 0.8), ("weekly", 1.2), ("laid-up", 2.0)]),
            work: pick("recent-work", &[("yes", 3.0), ("no", 1.0)]),
            upkeep: pick("upkeep", &[("well", 0.2), ("ordinary", 1.0), ("neglected", 5.0)]),
        }
    }

    /// The same vehicle with one trait set otherwise, places trimmed to match.
    ///
    /// # Errors
    /// A sentence if there is no such trait or it is never that.
    pub fn with_trait(&self, name: &str, value: &str, book: &Book) -> Result<Vehicle, String> {
        let mut vehicle = self.clone();
        file::set_trait(&mut vehicle, name, value, book)?;
        Ok(vehicle)
    }
}

/// By how much faults are likelier on one vehicle on one day than on the typical one.
///
/// Every fault follows the official British test results by age (`FAILED_BY_AGE`): one that rises with age, damp or miles somewhat more steeply
/// than the hazard at this age, any other somewhat less. The other factors are common practice. The spread of upkeep is what makes the share of
/// refused vehicles agree with the official one: were all vehicles alike, the shares by section would give more refused vehicles than there
/// are, since faults gather on neglected ones.
#[derive(Clone, Copy, Debug)]
pub struct Chances {
    wearing: f64,
    other: f64,
    damp: f64,
    miles: f64,
    standing: f64,
    work: f64,
    upkeep: f64,
}

impl Chances {
    /// The factor for a fault, from 0 up, given what it rises with.
    pub fn likelier(&self, rises: &[Rise]) -> f64 {
        let wears = rises.iter().any(|r| matches!(r, Rise::Age | Rise::Damp | Rise::Miles));
        let age = if wears { self.wearing } else { self.other };
        let others = rises.iter().map(|rise| match rise {
            Rise::Age => 1.0,
            Rise::Damp => self.damp,
            Rise::Miles => self.miles,
            Rise::Standing => self.standing,
            Rise::Work => self.work,
        });
        age * others.product::<f64>() * self.upkeep
    }
}

/// Age in years of the vehicle that the book's priors speak of.
const TYPICAL_AGE: f64 = 12.0;

/// How a fault follows the hazard, as its power: one that is said to rise with age, damp or miles, and any other. Together they bring the fleet of
/// the calibration test to the table; neglected vehicles, which are refused at any age, flatten it.
const STEEPER: f64 = 1.3;
const SLOWER: f64 = 0.95;

/// Age in years and share of tests failed, percent: open British test results, class 4, all years together. From fourteen years on the
/// survivors are the better kept ones.
const FAILED_BY_AGE: [(f64, f64); 13] = [
    (3.0, 13.1),
    (5.0, 20.1),
    (7.0, 28.4),
    (10.0, 39.8),
    (12.0, 45.1),
    (14.0, 47.3),
    (15.0, 47.1),
    (18.0, 44.6),
    (20.0, 42.4),
    (25.0, 38.9),
    (30.0, 36.1),
    (35.0, 32.7),
    (40.0, 28.8),
];

/// The hazard of being refused at an age, −ln(1 − share), between the table's ages in a straight line. Before them it falls in proportion, to a fifth
/// of the first at the least; behind them it is the last.
fn hazard_at(age: f64) -> f64 {
    let hazard = |percent: f64| -(1.0 - percent / 100.0).ln();
    let after = FAILED_BY_AGE.iter().position(|(a, _)| *a >= age);
    match after {
        Some(0) => hazard(FAILED_BY_AGE[0].1) * (age / FAILED_BY_AGE[0].0).max(0.2),
        Some(i) => {
            let ((a0, p0), (a1, p1)) = (FAILED_BY_AGE[i - 1], FAILED_BY_AGE[i]);
            hazard(p0) + (hazard(p1) - hazard(p0)) * (age - a0) / (a1 - a0)
        }
        None => hazard(FAILED_BY_AGE[FAILED_BY_AGE.len() - 1].1),
    }
}
