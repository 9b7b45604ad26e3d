//! Reads a vehicle file: a name, traits, and a layout of places; complains of everything that is unknown or impossible.

use toml::de::{DeTable, DeValue};

use super::{Place, Vehicle};
use crate::knowledge::Position;
use crate::knowledge::book::{Book, Trait, TraitKind};
use crate::report::{At, FileId, Problem, Severity, Sources, nearest};

include!(concat!(env!("OUT_DIR"), "/vehicles.rs"));

/// At most this many places of one kind.
const MOST_PLACES: usize = 12;

/// A vehicle, what is wrong with its file, and the text the problems point into.
#[derive(Debug)]
pub struct LoadedVehicle {
    /// The vehicle, as far as it could be read.
    pub vehicle: Vehicle,
    /// Everything wrong.
    pub problems: Vec<Problem>,
    /// The text.
    pub sources: Sources,
}

impl LoadedVehicle {
    /// Whether the vehicle cannot be used.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|p| p.severity == Severity::Error)
    }
}

/// Names of the built-in demo vehicles, in order.
pub fn demo_names() -> Vec<&'static str> {
    DEMO_VEHICLES.iter().map(|(file, _)| file.trim_end_matches(".toml")).collect()
}

/// A built-in demo vehicle by name.
pub fn demo(name: &str, book: &Book) -> Option<LoadedVehicle> {
    let (file, text) = DEMO_VEHICLES.iter().find(|(file, _)| file.trim_end_matches(".toml") == name)?;
    Some(read(name, &format!("demo vehicle {file}"), text, book))
}

/// Reads a vehicle file's text. `id` is the short name, `shown` the file name for messages.
pub fn read(id: &str, shown: &str, text: &str, book: &Book) -> LoadedVehicle {
    let mut sources = Sources::default();
    let file = sources.add(shown, text);
    let mut problems = Vec::new();
    let mut vehicle = Vehicle {
        id: id.to_owned(),
        name: id.to_owned(),
        about: String::new(),
        traits: book.traits.iter().map(|t| (t.head.id.clone(), t.default.clone())).collect(),
        places: Vec::new(),
        listed: Vec::new(),
        learned: std::collections::BTreeMap::new(),
    };
    let (table, errors) = DeTable::parse_recoverable(text);
    for e in &errors {
        let at = At { file, span: e.span().unwrap_or(0..0) };
        problems.push(Problem::error("V001", e.message().to_owned(), at).help("text stands in straight double quotes"));
    }
    let mut given = Vec::new();
    for (key, value) in table.get_ref().iter() {
        let at = At { file, span: key.span() };
        match (key.get_ref().as_ref(), value.get_ref()) {
            ("name", DeValue::String(s)) => vehicle.name = s.to_string(),
            ("about", DeValue::String(s)) => vehicle.about = s.to_string(),
            ("traits", DeValue::Table(t)) => read_traits(file, t, "", book, &mut vehicle, &mut given, &mut problems),
            ("places", DeValue::Table(t)) => read_places(file, t, book, &mut vehicle, &mut problems),
            ("name" | "about", _) => problems.push(Problem::error("V003", "this should be text in double quotes", at)),
            ("traits" | "places", _) => {
                problems.push(Problem::error("V003", format!("write `[{}]` on a line of its own", key.get_ref()), at));
            }
            (other, _) => {
                let mut problem = Problem::error("V002", format!("a vehicle file has no `{other}`"), at);
                if let Some(near) = nearest(other, ["name", "about", "traits", "places"]) {
                    problem = problem.help(format!("did you mean `{near}`?"));
                }
                problems.push(problem.help("it has `name`, `about`, `[traits]` and `[places]`"));
            }
        }
    }
    if vehicle.places.is_empty() && problems.is_empty() {
        problems.push(
            Problem::error("V004", "the vehicle has no places", At { file, span: 0..0 })
                .help("add `[places]` with lines such as `stop-lamp = [\"rear nearside\", \"rear offside\"]`"),
        );
    }
    check_layout(file, book, &vehicle, &given, &mut problems);
    let kept: Vec<(String, String)> = vehicle.traits.clone().into_iter().collect();
    for (name, value) in kept {
        if let Some(t) = book.traits.get(&name) {
            trim(&mut vehicle, t, &value);
        }
    }
    lay_out(&mut vehicle, book);
    name_places(&mut vehicle, book);
    LoadedVehicle { vehicle, problems, sources }
}

fn read_traits(
    file: FileId,
    table: &DeTable<'_>,
    prefix: &str,
    book: &Book,
    vehicle: &mut Vehicle,
    given: &mut Vec<(String, At)>,
    problems: &mut Vec<Problem>,
) {
    for (key, value) in table.iter() {
        let name = format!("{prefix}{}", key.get_ref());
        let at = At { file, span: key.span() };
        let Some(known) = book.traits.get(&name) else {
            let mut problem = Problem::error("V101", format!("no trait is called `{name}`"), at).label("written here");
            if let Some(near) = nearest(&name, book.traits.ids()) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            problems.push(problem.help("`splitpin vehicle traits` lists them all"));
            continue;
        };
        let at = At { file, span: value.span() };
        let text = match value.get_ref() {
            DeValue::String(s) => s.to_string(),
            DeValue::Boolean(b) => if *b { "yes" } else { "no" }.to_owned(),
            DeValue::Integer(i) => i.as_str().replace('_', ""),
            DeValue::Float(f) => f.as_str().replace('_', ""),
            DeValue::Datetime(d) => d.to_string(),
            _ => {
                problems.push(Problem::error("V003", format!("`{name}` should be one word, number or date"), at));
                continue;
            }
        };
        match check_value(known, &text) {
            Ok(()) => {
                vehicle.traits.insert(name.clone(), text);
                given.push((name, at));
            }
            Err(why) => {
                let mut problem = Problem::error("V102", why, at).label("written here");
                if let Some(near) = nearest(&text, known.values.iter().map(String::as_str)) {
                    problem = problem.help(format!("did you mean `{near}`?"));
                }
                problems.push(problem);
            }
        }
    }
}

/// Checks a trait's value; the error is a sentence.
fn check_value(known: &Trait, text: &str) -> Result<(), String> {
    let id = &known.head.id;
    match known.kind {
        TraitKind::Words if known.values.iter().any(|v| v == text) => Ok(()),
        TraitKind::Words => Err(format!("`{id}` is never `{text}`; it is one of: {}", known.values.join(", "))),
        TraitKind::Number => match text.parse::<f64>() {
            Ok(n) if n.is_finite() && (0.0..1e6).contains(&n) => Ok(()),
            _ => Err(format!("`{id}` should be a number from 0 up")),
        },
        TraitKind::Date => match text.parse::<jiff::civil::Date>() {
            Ok(_) => Ok(()),
            Err(_) => Err(format!("`{id}` should be a date, year-month-day, such as \"2008-06-01\"")),
        },
    }
}

fn read_places(file: FileId, table: &DeTable<'_>, book: &Book, vehicle: &mut Vehicle, problems: &mut Vec<Problem>) {
    for (key, value) in table.iter() {
        let kind = key.get_ref().as_ref();
        let at = At { file, span: key.span() };
        if book.places.get(kind).is_none() {
            let mut problem = Problem::error("V101", format!("no kind of place is called `{kind}`"), at);
            if let Some(near) = nearest(kind, book.places.ids()) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            problems.push(problem);
            continue;
        }
        let at = At { file, span: value.span() };
        let DeValue::Array(items) = value.get_ref() else {
            problems.push(
                Problem::error("V003", format!("`{kind}` should be a list of positions"), at)
                    .help("for instance `[\"rear nearside\", \"rear offside\"]`"),
            );
            continue;
        };
        if items.len() > MOST_PLACES {
            problems.push(Problem::error(
                "V103",
                format!("{} places of `{kind}` are more than {MOST_PLACES}", items.len()),
                at,
            ));
            continue;
        }
        vehicle.listed.push(kind.to_owned());
        for item in items.iter() {
            let at = At { file, span: item.span() };
            let Some(position) = item.get_ref().as_str().and_then(Position::parse) else {
                problems
                    .push(Problem::error("V103", format!("this is not a position for `{kind}`"), at).help(
                        "an end (front, middle, rear) and a side (nearside, centre, offside): \"rear nearside\"",
                    ));
                continue;
            };
            if vehicle.places.iter().any(|p| p.kind == kind && p.position == position) {
                problems.push(Problem::error("V103", format!("`{kind}` is there twice at `{position}`"), at));
                continue;
            }
            vehicle.places.push(Place::new(kind, position, false));
        }
    }
}

/// What traits and layout say must agree.
fn check_layout(file: FileId, book: &Book, vehicle: &Vehicle, given: &[(String, At)], problems: &mut Vec<Problem>) {
    let wheels = vehicle.places.iter().filter(|p| p.kind == "wheel").count();
    if let Some((_, at)) = given.iter().find(|(n, _)| n == "wheels")
        && wheels > 0
        && vehicle.value("wheels").and_then(|v| v.parse::<f64>().ok()) != Some(wheels as f64)
    {
        problems.push(
            Problem::error(
                "V103",
                format!("`wheels` says {}, the layout has {wheels}", vehicle.value("wheels").unwrap_or("")),
                at.clone(),
            )
            .help("make the two agree"),
        );
    }
    for t in book.traits.iter() {
        let Some(kind) = &t.keeps else { continue };
        let Some((_, at)) = given.iter().find(|(n, _)| *n == t.head.id) else { continue };
        let value = vehicle.value(&t.head.id).unwrap_or("");
        let sides = |side: &str| {
            vehicle.places.iter().any(|p| p.kind == *kind && p.position.side.is_none_or(|s| s.word() == side))
        };
        let fits = match value {
            "none" => true,
            "both" => sides("nearside") && sides("offside"),
            side => sides(side),
        };
        if !fits {
            problems.push(
                Problem::error(
                    "V103",
                    format!("`{}` says {value}, the layout has no such {kind}", t.head.id),
                    at.clone(),
                )
                .help(format!("give `{kind}` that place under `[places]`, or change the trait")),
            );
        }
    }
    let _ = file;
}

/// Drops the places that a layout trait says are not there.
fn trim(vehicle: &mut Vehicle, known: &Trait, value: &str) {
    let Some(kind) = &known.keeps else { return };
    vehicle.places.retain(|p| {
        p.kind != *kind
            || match value {
                "none" => false,
                "both" => true,
                side => p.position.side.is_none_or(|s| s.word() == side),
            }
    });
}

/// Sets one trait, checked, and trims the layout.
pub(super) fn set_trait(vehicle: &mut Vehicle, name: &str, value: &str, book: &Book) -> Result<(), String> {
    let Some(known) = book.traits.get(name) else {
        let near = nearest(name, book.traits.ids()).map_or(String::new(), |n| format!("; did you mean `{n}`?"));
        return Err(format!("no trait is called `{}`{near}", crate::report::visible(name)));
    };
    check_value(known, value).map_err(|e| crate::report::visible(&e))?;
    vehicle.traits.insert(name.to_owned(), value.to_owned());
    trim(vehicle, known, value);
    lay_out(vehicle, book);
    name_places(vehicle, book);
    Ok(())
}

/// Lays out the kinds of place the file is silent about by the book's rules for them, afresh each time the traits change.
fn lay_out(vehicle: &mut Vehicle, book: &Book) {
    vehicle.places.retain(|p| !p.laid);
    let mut laid_out = Vec::new();
    for kind in book.places.iter().filter(|k| !vehicle.listed.contains(&k.head.id)) {
        let mut positions: Vec<Position> = Vec::new();
        for laid in kind.laid.iter().filter(|l| vehicle.meets(&l.when)) {
            for i in vehicle.places_of(&laid.each) {
                let at = vehicle.places[i].position;
                let at = if laid.per_end { Position { end: at.end, side: None } } else { at };
                if !positions.contains(&at) {
                    positions.push(at);
                }
            }
        }
        laid_out.extend(positions.into_iter().map(|at| Place::new(&kind.head.id, at, true)));
    }
    vehicle.places.extend(laid_out);
}

/// Names each place by kind, with end and side only where the vehicle has others of the kind that differ in it.
fn name_places(vehicle: &mut Vehicle, book: &Book) {
    let all = vehicle.places.clone();
    for place in &mut vehicle.places {
        let kin: Vec<&Place> = all.iter().filter(|p| p.kind == place.kind).collect();
        let ends_differ = kin.iter().any(|p| p.position.end != place.position.end);
        let sides_differ = kin.iter().any(|p| p.position.side != place.position.side);
        let said = Position {
            end: place.position.end.filter(|_| ends_differ),
            side: place.position.side.filter(|_| sides_differ),
        };
        let kind = book.places.get(&place.kind).map_or(place.kind.as_str(), |k| k.head.name.as_str());
        place.apart = said.to_string();
        place.name = match (place.kind.as_str(), place.apart.as_str()) {
            ("side", position) => position.to_owned(),
            (_, "") => kind.to_owned(),
            (_, position) => format!("{position} {kind}"),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::embed;

    fn positions(vehicle: &Vehicle, kind: &str) -> Vec<String> {
        vehicle.places.iter().filter(|p| p.kind == kind).map(|p| p.position.to_string()).collect()
    }

    #[test]
    fn kinds_the_file_is_silent_about_follow_from_the_wheels_and_the_traits() {
        let book = &embed::book();
        let wren = demo("three-wheeler", book).expect("a demo").vehicle;
        assert_eq!(positions(&wren, "axle"), ["front", "rear"]);
        assert_eq!(positions(&wren, "drum-brake"), ["front centre", "rear nearside", "rear offside"]);
        assert_eq!(positions(&wren, "disc-brake"), Vec::<String>::new());
        let discs = wren.with_trait("brakes-front", "disc", book).expect("a trait");
        assert_eq!(positions(&discs, "disc-brake"), ["front centre"]);
        assert_eq!(positions(&discs, "drum-brake"), ["rear nearside", "rear offside"]);
    }

    #[test]
    fn a_kind_the_file_lists_stays_as_listed_even_if_the_list_is_empty() {
        let book = &embed::book();
        let text = "[places]\nwheel = [\"front centre\", \"rear nearside\"]\nside = [\"nearside\"]\ndoor = []\nmudguard = [\"front\"]\n";
        let loaded = read("own", "own.toml", text, book);
        assert!(!loaded.has_errors(), "{:?}", loaded.problems);
        assert_eq!(positions(&loaded.vehicle, "door"), Vec::<String>::new());
        assert_eq!(positions(&loaded.vehicle, "mudguard"), ["front"]);
        assert_eq!(positions(&loaded.vehicle, "brake"), ["front centre", "rear nearside"]);
    }
}
