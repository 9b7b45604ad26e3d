//! What proved repairs changed in the chances of causes: counted from the records, shown with the reason, applied to a vehicle.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::args::Args;
use super::commands::{Streams, book, folded, print_json, screen, today, vehicle};
use super::exit::{Exit, Failure};
use super::wrap::wrap;
use crate::graph::net::Gate;
use crate::graph::{What, fit};
use crate::knowledge::Book;
use crate::knowledge::book::Node;
use crate::reckon::learn;
use crate::records::{Proved, Records};
use crate::report::visible;
use crate::vehicle::Vehicle;

/// Version of the JSON form.
const FORM: &str = "splitpin-learned/1";

/// One cause whose chance changed.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Learned {
    /// The fault's id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// How many repairs of it were proved.
    pub proved: usize,
    /// How many were to be expected by the book, over all vehicles and years followed.
    pub expected: f64,
    /// By what its chance is multiplied.
    pub factor: f64,
    /// The numbers of the repairs in the logbook.
    pub entries: Vec<i64>,
}

/// What is learned from the records: for each fault with a proved repair, by what its chance changes.
pub(super) fn from_records(args: &Args, records: &Records, book: &Book, today: Date) -> Result<Vec<Learned>, Failure> {
    let mut by_fault: BTreeMap<String, Vec<Proved>> = BTreeMap::new();
    for proved in records.proved()? {
        if book.faults.index(&proved.cause).is_some() {
            by_fault.entry(proved.cause.clone()).or_default().push(proved);
        }
    }
    if by_fault.is_empty() {
        return Ok(Vec::new());
    }
    let mut expected: BTreeMap<String, f64> = BTreeMap::new();
    let files: BTreeMap<String, String> = records.vehicles()?.into_iter().map(|v| (v.name, v.file)).collect();
    for (name, since) in records.followed_since()? {
        // The first year counts whole: the book's chance is that of a fault between one test and the next.
        let years = (today.duration_since(since).as_hours() as f64 / 24.0 / 365.2425).max(1.0);
        let file = files.get(&name).filter(|f| !f.is_empty()).unwrap_or(&name);
        let plain = Args { traits: Vec::new(), ..args.clone() };
        // A vehicle whose file is gone cannot be laid out; the book's own figure stands in, for one place.
        let chances = vehicle(&plain, Some(file), book).ok().map(|v| chances(book, &v, today, &by_fault));
        for id in by_fault.keys() {
            let book_says = || book.faults.get(id).map_or(0.0, |f| f.prior.get());
            let chance = chances.as_ref().map_or_else(book_says, |c| c.get(id).copied().unwrap_or(0.0));
            *expected.entry(id.clone()).or_default() += years * chance;
        }
    }
    Ok(by_fault
        .into_iter()
        .map(|(id, proved)| {
            let expected = expected.get(&id).copied().unwrap_or(0.0);
            Learned {
                name: book.faults.get(&id).map_or_else(|| id.clone(), |f| f.head.name.clone()),
                proved: proved.len(),
                expected,
                factor: learn::factor(proved.len(), expected),
                entries: proved.iter().map(|p| p.number).collect(),
                id,
            }
        })
        .collect())
}

/// The chance of each fault on a vehicle, over all its places.
fn chances(
    book: &Book,
    vehicle: &Vehicle,
    today: Date,
    faults: &BTreeMap<String, Vec<Proved>>,
) -> BTreeMap<String, f64> {
    let mut sums = BTreeMap::new();
    let Ok(fitted) = fit(book, vehicle, today) else { return sums };
    for var in fitted.causes() {
        if let What::Entry(Node::Fault(_)) = fitted.placed(var).what
            && let Gate::Root { prior } = fitted.net.gate(var)
        {
            let id = fitted.id(var, book);
            if faults.contains_key(&id) {
                *sums.entry(id).or_insert(0.0) += prior;
            }
        }
    }
    sums
}

/// Gives a vehicle the learned factors; gives the sentence that says so, if there is anything.
pub(super) fn apply(vehicle: &mut Vehicle, learned: &[Learned]) -> Option<String> {
    vehicle.learned = learned.iter().map(|l| (l.id.clone(), l.factor)).collect();
    match learned {
        [] => None,
        [one] => Some(format!(
            "Your own proved repairs change the chance of one cause: {}. See splitpin logbook learned.",
            one.name
        )),
        many => Some(format!(
            "Your own proved repairs change the chances of {} causes. See splitpin logbook learned.",
            many.len()
        )),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    form: &'static str,
    weight: f64,
    learned: &'a [Learned],
}

/// Runs `logbook learned`.
pub(super) fn run(
    args: &Args,
    mut records: Records,
    reset: bool,
    json: bool,
    streams: &mut Streams<'_>,
) -> Result<Exit, Failure> {
    let today = today(args, streams)?;
    let screen = screen(args, streams);
    if reset {
        records.reset_learning(today)?;
        let say = "Begun anew: repairs proved so far stay in the logbook and no longer change any chance.";
        writeln!(streams.out, "{}", screen.finish(&folded(say)))?;
        return Ok(Exit::Done);
    }
    let book = book(args, streams)?;
    let learned = from_records(args, &records, &book, today)?;
    if json {
        print_json(&Document { form: FORM, weight: learn::WEIGHT, learned: &learned }, streams)?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    if learned.is_empty() {
        text.push_str("Nothing is learned yet: no repair was proved that counts.\n");
    }
    for l in &learned {
        let times = if l.proved == 1 { "once".to_owned() } else { format!("{} times", l.proved) };
        let entries: Vec<String> = l.entries.iter().map(ToString::to_string).collect();
        let line = format!(
            "{} ({}): chance times {:.2}. Proved {times} (number {}); the book would expect {:.2}.",
            l.name,
            l.id,
            l.factor,
            entries.join(", "),
            l.expected
        );
        text.push_str(&wrap(&visible(&line), 80, "", "  "));
        text.push('\n');
    }
    if !learned.is_empty() {
        let why = format!(
            "The book's figure weighs as much as {} proved cases: chance times ({} + proved) / ({} + expected), over all your vehicles and \
             the time they are followed. Causes without a proved repair keep the book's figure. --reset begins anew.",
            learn::WEIGHT,
            learn::WEIGHT,
            learn::WEIGHT
        );
        text.push_str(&wrap(&why, 80, "", ""));
        text.push('\n');
    }
    write!(streams.out, "{}", screen.finish(&text))?;
    Ok(Exit::Done)
}
