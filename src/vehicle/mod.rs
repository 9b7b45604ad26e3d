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

    /// By how much a fault that rises with `rise` is likelier on this vehicle than on the typical one.
    ///
    /// Age: in proportion to years of use, twelve years being the typical vehicle, held between a half and two and a half. In the official
    /// British test results a fourteen-year-old fails 47.3 % and a seven-year-old 28.4 % of first tests (open test data): as hazards,
    /// −ln(1 − share), 0.64 and 0.33, so twice the age makes 1.9 times the hazard. The other factors are common practice.
    pub fn factor(&self, rise: Rise, today: Date) -> f64 {
        let pick = |name: &str, table: &[(&str, f64)]| {
            self.value(name).and_then(|v| table.iter().find(|(w, _)| *w == v)).map_or(1.0, |(_, f)| *f)
        };
        match rise {
            Rise::Age => (self.age_years(today) / TYPICAL_AGE).clamp(0.5, 2.5),
            Rise::Damp => pick("kept", &[("garage", 0.6), ("outdoors", 1.0), ("coast", 1.8)]),
            Rise::Miles => pick("use", &[("daily", 1.0), ("weekly", 0.7), ("laid-up", 0.5)]),
            Rise::Standing => pick("use", &[("daily", 0.8), ("weekly", 1.2), ("laid-up", 2.0)]),
            Rise::Work => pick("recent-work", &[("yes", 3.0), ("no", 1.0)]),
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

/// Age in years of the vehicle that the book's priors speak of.
const TYPICAL_AGE: f64 = 12.0;
