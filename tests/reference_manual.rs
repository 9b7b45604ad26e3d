//! The knowledge's lines of the inspection manual against a table of them.
//!
//! `reference/manual.tsv` holds every line of the two manuals, and of Directive 2014/45/EU Annex I as far as it was read, with the address each was
//! read at and how sure it is. The table says `read` of a superseded edition too; the knowledge says `older` there.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::{Date, date};
use splitpin::graph::{Fitted, fit};
use splitpin::knowledge::book::{Item, Node};
use splitpin::knowledge::{Range, Test};
use splitpin::vehicle::{Vehicle, demo, demo_names};

use crate::reference_tables::{Row, book, rows};

const MANUAL: &str = include_str!("reference/manual.tsv");

const TODAY: Date = date(2025, 6, 1);

fn lines() -> Vec<Row> {
    rows("manual.tsv", MANUAL)
}

/// Lines of the two manuals; what the Directive says beside them is looked at apart.
fn manual_lines() -> Vec<Row> {
    lines().into_iter().filter(|r| r["manual"] != "directive").collect()
}

fn items() -> Vec<&'static Item> {
    book().items.iter().collect()
}

fn name(row: &Row) -> String {
    format!("{} {} {}", row["manual"], row["section"], row["defect"])
}

fn item_of(row: &Row) -> Option<&'static Item> {
    let mut found = items()
        .into_iter()
        .filter(|i| i.manual == row["manual"] && i.section == row["section"] && i.defect == row["defect"]);
    let first = found.next();
    assert!(found.next().is_none(), "{} stands twice", name(row));
    first
}

/// Which source and certainty a line must carry: those of the current edition, or `older` for a superseded one.
fn expected_source(row: &Row) -> (&'static str, &'static str) {
    let current = "https://www.gov.uk/guidance/mot-inspection-manual-for-";
    match (row["source_url"].starts_with(current), row["manual"]) {
        (true, "cars") => ("inspection-manual-cars", row["certainty"]),
        (true, _) => ("inspection-manual-motorcycles", row["certainty"]),
        (false, _) => ("inspection-manual-older", if row["certainty"] == "read" { "older" } else { row["certainty"] }),
    }
}

#[test]
fn every_line_of_the_manual_stands_in_the_knowledge_word_for_word_where_it_counts() {
    let lines = manual_lines();
    let mut wrong = Vec::new();
    let mut by_section: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &lines {
        *by_section.entry(row["section"]).or_default() += 1;
        let Some(item) = item_of(row) else {
            wrong.push(format!("{}: missing ({})", name(row), row["defect_short"]));
            continue;
        };
        let (source, certainty) = expected_source(row);
        for (what, got, want) in [
            ("category", item.category.as_str(), row["category"]),
            ("limit", item.limit.as_str(), row["limit"]),
            ("certainty", item.certainty.as_str(), certainty),
            ("source", item.head.source.id.as_str(), source),
        ] {
            if got != want {
                wrong.push(format!("{}: {what} is `{got}`, the table has `{want}` ({})", name(row), row["source_url"]));
            }
        }
        if !item.note.starts_with(row["applies"]) || !item.head.name.ends_with(row["defect_short"]) {
            wrong.push(format!("{}: `{}` / `{}` is not `{}`", name(row), item.head.name, item.note, row["applies"]));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!("{} lines of the manual in {} sections, all in the knowledge", lines.len(), by_section.len());
}

#[test]
fn the_knowledge_has_no_line_that_the_table_lacks() {
    let known: BTreeSet<String> = manual_lines().iter().map(name).collect();
    for item in items() {
        let id = format!("{} {} {}", item.manual, item.section, item.defect);
        assert!(known.contains(&id), "{id} ({}) is in no table", item.head.id);
    }
}

// ------------------------------------------------------------------ for which vehicles

/// Lines whose date in the table speaks of a part of the line only.
const DATE_OF_A_PART: [(&str, &str); 1] = [("cars 4.5.1 a(ii)", "the date of March 2018 is for front fog lamps only")];

/// The date behind "first used from" in a text, year-month-day: "1 Apr 1986" or "Aug 1973".
fn first_used_from(text: &str) -> Option<String> {
    let (_, rest) = text.split_once("first used from ")?;
    let mut words = rest.split([' ', ',', ';', ':']).filter(|w| !w.is_empty()).peekable();
    let day = words.next_if(|w| w.parse::<u32>().is_ok()).unwrap_or("1");
    let month = words.next()?;
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = months.iter().position(|m| *m == month)? + 1;
    Some(format!("{}-{month:02}-{day:0>2}", words.next()?))
}

#[test]
fn lines_hold_for_the_test_classes_of_their_manual_and_from_the_date_the_table_gives() {
    let mut dated = 0;
    let mut excepted = BTreeSet::new();
    for row in manual_lines() {
        let Some(item) = item_of(&row) else { continue };
        let of = |name: &str| item.when.traits.iter().find(|(n, _)| n == name).map(|(_, test)| test);
        let classes: &[&str] = match row["manual"] {
            "cars" if row["applies"].contains("not class 3") => &["4", "5", "7"],
            "cars" => &["3", "4", "5", "7"],
            _ => &["1", "2"],
        };
        let want = Test::OneOf(classes.iter().map(|c| (*c).to_owned()).collect());
        assert_eq!(of("test-class"), Some(&want), "{}", name(&row));
        let printed = [row["applies"], row["defect_short"]].into_iter().find_map(first_used_from);
        if let Some((line, _)) = DATE_OF_A_PART.iter().find(|(line, _)| *line == name(&row)) {
            assert!(printed.is_some(), "{line} needs no exception any more");
            excepted.insert(*line);
            assert_ne!(of("first-used"), Some(&Test::Within(Range { from: printed, before: None })), "{line}");
            continue;
        }
        dated += usize::from(printed.is_some());
        let want = printed.map(|from| Test::Within(Range { from: Some(from), before: None }));
        assert_eq!(of("first-used"), want.as_ref(), "{}: {}", name(&row), row["applies"]);
    }
    assert_eq!(excepted.len(), DATE_OF_A_PART.len(), "an excepted line is not in the table");
    println!("{dated} lines hold from a date");
}

/// A rear fog lamp is required of vehicles first used from 1 April 1980 (inspection manual, edition of 2008, quoted in an owners' forum).
#[test]
fn a_dead_rear_fog_lamp_is_a_refusal_from_1980_on() {
    let item = book().items.get("cars-4-5-1-a-ii").expect("the line of the rear fog lamp");
    let wren = demo_vehicle("three-wheeler");
    for (first_used, refused) in [("1980-03-31", false), ("1980-04-01", true), ("2011-03-15", true)] {
        let vehicle = wren.with_trait("first-used", first_used, book()).expect("a date");
        assert_eq!(vehicle.meets(&item.when), refused, "first used {first_used}");
    }
}

// ------------------------------------------------------------------ signs

fn tied_signs(item: &Item) -> Vec<usize> {
    let signs = &book().signs;
    (0..signs.len()).filter(|s| signs.at(*s).items.iter().any(|r| r.id == item.head.id)).collect()
}

#[test]
fn every_line_is_tied_to_a_sign_or_says_why_not() {
    let (mut tied, mut with_reason) = (0, Vec::new());
    for item in items() {
        match (tied_signs(item).is_empty(), item.not_tied.is_empty()) {
            (false, true) => tied += 1,
            (true, false) => with_reason.push(format!("{}: {}", item.head.id, item.not_tied)),
            (true, true) => panic!("{} is tied to no sign and does not say why", item.head.id),
            (false, false) => panic!("{} is tied to signs and says why it is not", item.head.id),
        }
    }
    println!("{tied} lines tied to signs; {} not: {with_reason:?}", with_reason.len());
}

fn demo_vehicle(id: &str) -> Vehicle {
    demo(id, book()).filter(|l| !l.has_errors()).map(|l| l.vehicle).unwrap_or_else(|| panic!("no demo {id}"))
}

/// A demo vehicle altered: demo, traits set, and why no demo vehicle as it is will do.
type Variant = (&'static str, &'static [(&'static str, &'static str)], &'static str);

/// The altered vehicles, each needed for a sign that none of the demo vehicles as they are can show.
const VARIANTS: &[Variant] = &[
    ("three-wheeler", &[("wiper-work", "hand")], "every demo wiper has a motor"),
    ("three-wheeler", &[("wiper-drive", "none"), ("washer", "none")], "every demo cab has wipers and a washer"),
    ("three-wheeler", &[("headlamp-levelling", "manual")], "no demo headlamp can be levelled from the seat"),
    ("three-wheeler", &[("headlamp-washers", "yes")], "no demo headlamp has a washer"),
    (
        "three-wheeler",
        &[("headlamp-washers", "yes"), ("headlamp-bulb", "led"), ("small-lamps", "led")],
        "every demo lamp has filaments",
    ),
    (
        "three-wheeler",
        &[("stop-switch", "pedal-and-lever")],
        "the only demo with a switch at each brake is a motorcycle",
    ),
    ("petrol-van", &[("trailer-socket", "13-pin")], "the demo socket has 7 pins"),
    (
        "combination",
        &[("headlamp-bulb", "led")],
        "every demo lamp has filaments, and a motorcycle has lines of its own",
    ),
    ("combination", &[("small-lamps", "led")], "every demo lamp has filaments, and a motorcycle has lines of its own"),
    ("petrol-van", &[("brake-work", "cable")], "every demo with four wheels has hydraulic brakes"),
    (
        "three-wheeler",
        &[("brake-work", "cable"), ("brake-circuits", "separate")],
        "the demo three-wheeler has one hydraulic pedal",
    ),
    ("petrol-van", &[("anti-lock", "yes"), ("stability-control", "yes")], "no demo has anti-lock brakes"),
    (
        "petrol-van",
        &[("secondary-brake", "yes"), ("brake-vacuum-store", "yes")],
        "no demo has a hand control or a store of its own",
    ),
    ("petrol-van", &[("parking-brake", "electric")], "no demo has an electric parking brake"),
    (
        "petrol-van",
        &[
            ("steering-gear", "box"),
            ("power-steering", "none"),
            ("front-suspension", "beam-axle"),
            ("rear-steering", "yes"),
        ],
        "the demo van has a rack",
    ),
    ("petrol-van", &[("power-steering", "electric")], "the demo van has hydraulic assistance"),
    ("three-wheeler", &[("steering-damper", "yes")], "the demo three-wheeler has no steering damper"),
    (
        "petrol-van",
        &[
            ("springs-front", "torsion-bar"),
            ("springs-rear", "coil"),
            ("gas-suspension", "yes"),
            ("tyre-monitor", "yes"),
        ],
        "no demo has these",
    ),
    (
        "petrol-van",
        &[("driveline", "propshaft"), ("driven", "rear"), ("gas-fuel", "yes"), ("cab-steps", "yes")],
        "no demo has these",
    ),
    ("three-wheeler", &[("driveline", "chain")], "the demo three-wheeler has shafts"),
    ("three-wheeler", &[("driveline", "belt")], "the demo three-wheeler has shafts"),
    (
        "petrol-van",
        &[("fuel", "diesel"), ("particulate-filter", "yes"), ("turbo", "yes"), ("diesel-injection", "common-rail")],
        "the demo van runs on petrol",
    ),
    (
        "petrol-van",
        &[("mixture", "carburettor"), ("ignition", "points"), ("catalyst", "no"), ("doors", "sliding")],
        "the demo van has injection",
    ),
    ("petrol-van", &[("belt-pre-tensioners", "yes"), ("structure", "separate-chassis")], "no demo has these"),
    (
        "combination",
        &[("brake-work", "hydraulic"), ("servo", "yes"), ("brakes-front", "disc"), ("brakes-rear", "disc")],
        "the demo combination has cables and drums",
    ),
    (
        "petrol-van",
        &[("first-used", "2014-03-01"), ("tyre-monitor", "yes"), ("shaft-joints", "universal")],
        "the demo van is older",
    ),
    ("three-wheeler", &[("body", "open"), ("kind", "pickup")], "the demo three-wheeler has a cab"),
    (
        "combination",
        &[("first-used", "2001-05-01"), ("wheel-fixing", "nuts"), ("driveline", "belt")],
        "the demo combination is older, with a spindle and a chain",
    ),
];

#[test]
fn every_tied_sign_can_be_met_on_a_demo_vehicle_or_a_named_variant_of_one() {
    let fitted = |vehicle: Vehicle| fit(book(), &vehicle, TODAY).expect("the knowledge fits the vehicle");
    let demos: Vec<Fitted> = demo_names().into_iter().map(|id| fitted(demo_vehicle(id))).collect();
    let variants: Vec<Fitted> = VARIANTS
        .iter()
        .map(|(id, traits, _)| {
            let alter = |v: Vehicle, (name, value): &(&str, &str)| v.with_trait(name, value, book()).expect("a trait");
            fitted(traits.iter().fold(demo_vehicle(id), alter))
        })
        .collect();
    let shows = |on: &Fitted, item: &Item, sign: usize| {
        on.vehicle.meets(&item.when) && !on.vars_of(Node::Sign(sign)).is_empty()
    };
    let mut needed = vec![false; VARIANTS.len()];
    let (mut ties, mut missing) = (0, Vec::new());
    for item in items() {
        for sign in tied_signs(item) {
            ties += 1;
            if demos.iter().any(|d| shows(d, item, sign)) {
                continue;
            }
            match variants.iter().position(|v| shows(v, item, sign)) {
                Some(i) => needed[i] = true,
                None => missing.push(format!("{} / {}", item.head.id, book().signs.at(sign).head.id)),
            }
        }
    }
    assert!(missing.is_empty(), "on no vehicle:\n{}", missing.join("\n"));
    let idle: Vec<String> = needed
        .iter()
        .zip(VARIANTS)
        .filter(|(needed, _)| !**needed)
        .map(|(_, (id, traits, why))| format!("{id} with {traits:?} ({why})"))
        .collect();
    assert!(
        idle.is_empty(),
        "not needed any more:
{}",
        idle.join(
            "
"
        )
    );
    println!("{ties} ties of signs to lines, all met on {} demo vehicles and {} variants", demos.len(), variants.len());
}

// ------------------------------------------------------------------ the Directive

/// Lines of the Directive that the manual grades otherwise, and what stands in their place.
const GRADED_OTHERWISE: [(&str, &str); 1] =
    [("1.1.15 a dangerous", "the manual has a damaged cable as major; poor braking from it is a line of 1.2")];

/// The knowledge holds the manuals' lines. Those of the Directive need none of their own: the test is done by the manual, which has a line of
/// the same section and category beside every one of them, but for the ones named.
#[test]
fn the_lines_of_the_directive_are_covered_by_the_manuals_own() {
    assert!(
        items().iter().all(|i| i.manual != "directive"),
        "the Directive has lines of its own now: hold them to the table"
    );
    let manual = manual_lines();
    let directive: Vec<Row> = lines().into_iter().filter(|r| r["manual"] == "directive").collect();
    for row in &directive {
        let beside =
            |m: &&Row| m["manual"] == "cars" && m["section"] == row["section"] && m["category"] == row["category"];
        let covered = manual.iter().filter(beside).any(|m| item_of(m).is_some());
        let line = format!("{} {} {}", row["section"], row["defect"], row["category"]);
        let excepted = GRADED_OTHERWISE.iter().any(|(l, _)| *l == line);
        assert_ne!(
            covered, excepted,
            "{line} ({}): a line of the manual beside it, and an exception",
            row["defect_short"]
        );
    }
    println!("{} lines of the Directive, each with a line of the manual beside it", directive.len());
}
