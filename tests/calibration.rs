//! The priors of the knowledge against official statistics: over a fleet of typical vehicles drawn from the model, the share refused at the
//! first test, by section of the manual, in all, and by age.
//!
//! Sections and the whole: Driver and Vehicle Standards Agency, data set DVSA-MOT-03, class 3 and 4, second quarter 2019-20. Age: open
//! British test results, class 4 (data.gov.uk), aggregated. Both stand in `reference/refusals.tsv`.

use std::collections::BTreeMap;

use jiff::civil::{Date, date};
use splitpin::embed;
use splitpin::graph::fit;
use splitpin::graph::net::Var;
use splitpin::knowledge::book::{Book, Item, Node};
use splitpin::knowledge::load;
use splitpin::vehicle::demo;

use crate::reference_tables::{Row, book, number, rows};
use splitpin::simulate::{Draw, state};

const REFUSALS: &str = include_str!("reference/refusals.tsv");
const TODAY: Date = date(2026, 11, 25);

/// A typical vehicle of the fleet: share, demo vehicle it is made from, and traits set otherwise.
type Typical = (f64, &'static str, &'static [(&'static str, &'static str)]);

/// Mostly four-wheeled light vans and cars, petrol and diesel, some older with drum brakes all round and carburettors, and three-wheelers: as
/// classes 3 and 4 are, counted together in the statistics. Invented.
const FLEET: [Typical; 5] = [
    (0.40, "petrol-van", &[("tows", "none"), ("trailer-socket", "none"), ("towbar", "none")]),
    (0.10, "petrol-van", &[]),
    (
        0.35,
        "petrol-van",
        &[
            ("fuel", "diesel"),
            ("glow-plugs", "yes"),
            ("turbo", "yes"),
            ("brakes-rear", "disc"),
            ("springs-rear", "coil"),
            ("tows", "none"),
            ("trailer-socket", "none"),
            ("towbar", "none"),
        ],
    ),
    (
        0.10,
        "petrol-van",
        &[
            ("mixture", "carburettor"),
            ("ignition", "points"),
            ("brakes-front", "drum"),
            ("power-steering", "none"),
            ("airbags", "no"),
            ("catalyst", "no"),
            ("engine-warning-lamp", "no"),
        ],
    ),
    (0.05, "three-wheeler", &[]),
];

/// Share of the fleet by upkeep. Common practice; see `Vehicle::upkeep`.
const UPKEEP: [(&str, f64); 3] = [("well", 0.60), ("ordinary", 0.25), ("neglected", 0.15)];

/// Vehicles drawn for each typical vehicle, age and upkeep.
const DRAWN: usize = if cfg!(debug_assertions) { 40 } else { 200 };

/// The category of the statistics that a section of the manual is counted in; none for what they do not list.
fn category(section: &str) -> Option<&'static str> {
    let under = |prefix: &str| section == prefix || section.starts_with(&format!("{prefix}."));
    Some(match section {
        s if s.starts_with("0.") => "identification",
        s if s.starts_with("1.") => "brakes",
        s if s.starts_with("2.") => "steering",
        s if s.starts_with("3.") => "visibility",
        s if s.starts_with("4.") => "lamps",
        _ if under("5.2.3") => "tyres",
        _ if under("5.2") => "road wheels",
        s if s.starts_with("5.") => "suspension",
        s if s.starts_with("6.") => "body",
        _ if under("7.1") => "seat belts",
        s if s.starts_with("8.") => "nuisance",
        _ => return None,
    })
}

/// What the fleet showed.
#[derive(Default)]
struct Shown {
    weight: f64,
    refused: f64,
    sections: BTreeMap<&'static str, f64>,
}

impl Shown {
    fn add(&mut self, weight: f64, sections: &[&'static str], refused: bool) {
        self.weight += weight;
        if refused {
            self.refused += weight;
        }
        for section in sections {
            *self.sections.entry(section).or_default() += weight;
        }
    }

    fn share(&self, section: &str) -> f64 {
        100.0 * self.sections.get(section).copied().unwrap_or(0.0) / self.weight
    }

    fn overall(&self) -> f64 {
        100.0 * self.refused / self.weight
    }
}

/// Draws the fleet: in all, and at each age of the table.
fn drawn(book: &Book) -> (Shown, BTreeMap<u32, Shown>) {
    let refuses = |i: &&Item| i.category == "major" || i.category == "dangerous";
    let ages: Vec<(f64, f64)> = rows("refusals.tsv", REFUSALS)
        .iter()
        .filter(|r| r["what"] == "age")
        .map(|r| (number(r["name"]), number(r["tests"])))
        .collect();
    let mut draw = Draw(0xF1EE_7001);
    let (mut all, mut by_age) = (Shown::default(), BTreeMap::<u32, Shown>::new());
    for (share, base, traits) in FLEET {
        for (age, tests) in &ages {
            for (upkeep, part) in UPKEEP {
                let first =
                    TODAY.checked_sub(jiff::Span::new().days((age * 365.25) as i64)).expect("a date").to_string();
                let own = [("first-used", first.as_str()), ("upkeep", upkeep)];
                let vehicle = traits
                    .iter()
                    .chain(&own)
                    .fold(demo(base, book).expect("a demo vehicle").vehicle, |v, (name, value)| {
                        v.with_trait(name, value, book).expect("a trait")
                    });
                let fitted = fit(book, &vehicle, TODAY).expect("it fits");
                let mut signs: Vec<(Var, Option<&'static str>)> = Vec::new();
                for (i, sign) in book.signs.iter().enumerate() {
                    let items = sign.items.iter().filter_map(|r| book.items.get(&r.id));
                    for item in items.filter(refuses).filter(|i| vehicle.meets(&i.when)) {
                        let vars = fitted.vars_of(Node::Sign(i));
                        signs.extend(vars.into_iter().map(|v| (v, category(&item.section))));
                    }
                }
                signs.sort();
                signs.dedup();
                for _ in 0..DRAWN {
                    let present = state(&fitted.net, None, &mut draw);
                    let mut found: Vec<&str> = Vec::new();
                    let mut refused = false;
                    for (_, section) in signs.iter().filter(|(v, _)| present[v.index()]) {
                        refused = true;
                        found.extend(section.filter(|s| !found.contains(s)));
                    }
                    all.add(share * part * tests, &found, refused);
                    by_age.entry(*age as u32).or_default().add(share * part, &found, refused);
                }
            }
        }
    }
    (all, by_age)
}

/// The official share of a row of the table, in per cent.
fn percent(table: &[Row], what: &str, name: &str) -> f64 {
    let row = table.iter().find(|r| r["what"] == what && r["name"] == name);
    number(row.unwrap_or_else(|| panic!("no {what} {name}"))["percent"])
}

#[test]
fn the_share_refused_by_section_in_all_and_by_age_agrees_with_official_statistics() {
    let (all, by_age) = drawn(book());
    let table = rows("refusals.tsv", REFUSALS);
    let mut wrong = Vec::new();
    println!("{:<16} {:>9} {:>9}   ratio", "section", "official", "model");
    for row in table.iter().filter(|r| r["what"] == "section") {
        let (official, model) = (number(row["percent"]), all.share(row["name"]));
        let ratio = model / official;
        println!("{:<16} {official:>8.1}% {model:>8.1}%   {ratio:.2}", row["name"]);
        let within = if official > 3.0 { 1.3 } else { 2.0 };
        if !(1.0 / within..=within).contains(&ratio) {
            wrong.push(format!("{}: {model:.1} %, official {official:.1} % ({})", row["name"], row["source"]));
        }
    }
    let (official, model) = (percent(&table, "overall", "initial failure"), all.overall());
    println!("{:<16} {official:>8.1}% {model:>8.1}%", "in all");
    if (model - official).abs() > 3.0 {
        wrong.push(format!("in all: {model:.1} %, official {official:.1} %"));
    }
    // The level of the results by age is that of other years and of the last word, so the hazards are compared by their ratio to age 12.
    let hazard = |percent: f64| -(1.0 - percent / 100.0).ln();
    let at = |age: u32| hazard(by_age[&age].overall());
    println!("{:<16} {:>9} {:>9}", "age", "official", "model");
    for row in table.iter().filter(|r| r["what"] == "age") {
        let (official, model) = (
            hazard(number(row["percent"])) / hazard(percent(&table, "age", "12")),
            at(number(row["name"]) as u32) / at(12),
        );
        println!("{:<16} {official:>9.2} {model:>9.2}", row["name"]);
        if !(official / 1.5..=official * 1.5).contains(&model) {
            wrong.push(format!("age {}: {model:.2} times the hazard at 12 years, official {official:.2}", row["name"]));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The systems whose rates are found together, by the category that they make up for the most part.
const TOGETHER: [(&str, &[&str]); 10] = [
    ("lamps", &["battery", "charging", "headlamps", "horn", "indicators", "lamps", "stop-lamps", "trailer", "wiring"]),
    ("suspension", &["suspension", "wheels"]),
    ("brakes", &["brakes"]),
    ("tyres", &["tyres"]),
    ("visibility", &["view", "washers", "wipers"]),
    ("body", &["body", "driveline", "exhaust", "towing"]),
    ("nuisance", &["engine", "leaks", "starting"]),
    ("steering", &["steering"]),
    ("seat belts", &["seat-belts"]),
    ("identification", &["identification"]),
];

/// Finds the rates anew, after the knowledge has grown, and prints them as they stand in `knowledge/rates.toml`:
/// `cargo test --release rates -- --ignored --nocapture`.
#[test]
#[ignore = "a tool: it prints the rates and asserts nothing of them but that they can be found"]
fn rates_that_bring_every_section_to_its_official_share() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("rates");
    std::fs::create_dir_all(&folder).expect("a folder");
    let table = rows("refusals.tsv", REFUSALS);
    let mut factors: Vec<f64> = TOGETHER.iter().map(|(_, systems)| book().rate(systems[0])).collect();
    let mut text = String::new();
    for _ in 0..5 {
        text = String::from(
            "# By what the priors of each system are multiplied, so that the share of vehicles refused agrees with the official statistics of\n\
             # classes 3 and 4, over the fleet of tests/calibration.rs, which prints the comparison and can find these figures anew.\n",
        );
        for ((_, systems), factor) in TOGETHER.iter().zip(&factors) {
            for system in *systems {
                text.push_str(&format!(
                    "\n[rate.{system}]\nname = \"{}\"\nfactor = {factor:.3}\nsource = \"test-statistics-2019\"\n",
                    system.replace('-', " ")
                ));
            }
        }
        std::fs::write(folder.join("rates.toml"), &text).expect("a file");
        let loaded = load(&embed::files().and_folder(&folder).expect("the folder"));
        assert!(!loaded.has_errors());
        let (all, _) = drawn(&loaded.book);
        for ((category, _), factor) in TOGETHER.iter().zip(&mut factors) {
            let hazard = |percent: f64| -(1.0 - percent.clamp(0.02, 99.0) / 100.0).ln();
            *factor *= (hazard(percent(&table, "section", category)) / hazard(all.share(category))).clamp(0.2, 5.0);
            *factor = factor.clamp(0.01, 15.0);
        }
        println!("in all {:.1} %", all.overall());
    }
    println!("{text}");
    assert!(factors.iter().all(|f| f.is_finite() && *f > 0.0));
}
