//! The trade arithmetic against printed worked examples, and the fuses and lamps of the knowledge against published tables.
//!
//! Sources stand row by row in `reference/electrics.tsv` (calculations, tolerances as printed) and `reference/fuses-and-lamps.tsv`
//! (ISO 8820-3 colours from a fuse maker's chart; lamp data of Directive 97/24/EC and UN Regulation 37). Rows of certainty `memory` are
//! from memory, and what the knowledge takes from them must say so too.

use std::collections::{BTreeMap, BTreeSet};

use splitpin::knowledge::book::Part;
use splitpin::reckon::electrics as e;

use crate::reference_tables::{Row, book, rows};

const EXAMPLES: &str = include_str!("reference/electrics.tsv");
const FUSES_AND_LAMPS: &str = include_str!("reference/fuses-and-lamps.tsv");

// ------------------------------------------------------------------ worked examples

/// `name=value` pairs, as the table writes inputs, results and tolerances.
fn pairs(text: &'static str) -> BTreeMap<&'static str, &'static str> {
    text.split("; ").map(|p| p.split_once('=').unwrap_or_else(|| panic!("`{p}` is no name=value"))).collect()
}

/// The numbers of one example's inputs, each of which must be used.
struct Inputs {
    given: BTreeMap<&'static str, &'static str>,
    used: BTreeSet<&'static str>,
}

impl Inputs {
    fn list(&mut self, name: &'static str) -> Vec<f64> {
        self.used.insert(name);
        let text = self.given.get(name).unwrap_or_else(|| panic!("no input {name}"));
        text.split('+').map(|n| n.parse().unwrap_or_else(|_| panic!("{name}: `{text}`"))).collect()
    }

    fn get(&mut self, name: &'static str) -> f64 {
        let list = self.list(name);
        assert_eq!(list.len(), 1, "{name} is one number");
        list[0]
    }
}

/// Works an example out: results by name. `None` for a topic this file does not know.
fn work(topic: &str, i: &mut Inputs) -> Option<Vec<(&'static str, f64)>> {
    let one = |name, value| Some(vec![(name, value)]);
    match topic {
        "elec.current_from_power" => one("i_a", e::current(i.get("p_w"), i.get("v"))),
        "elec.power" => one("p_w", e::power(i.get("v"), i.get("i_a"))),
        "elec.resistance" => one("r_ohm", e::resistance(i.get("v"), i.get("i_a"))),
        "elec.current_from_resistance" => one("i_a", e::current_through(i.get("v"), i.get("r_ohm"))),
        "elec.series_current" => one("i_a", e::series_current(i.get("v"), &[i.get("r1"), i.get("r2")])),
        "elec.pct_of_system" => one("pct", e::percent_of(i.get("drop_v"), i.get("v"))),
        "elec.drop_from_ohm_per_m" => {
            one("drop_v", e::drop_per_metre(i.get("length_m"), i.get("ohm_per_m"), i.get("i_a")))
        }
        "elec.ohm_per_m_from_area" => one("ohm_per_m", e::ohm_per_metre(i.get("area_mm2"), i.get("rho"))),
        "elec.drop_from_area" => {
            let ohms = e::ohm_per_metre(i.get("area_mm2"), i.get("rho"));
            one("drop_v", e::drop_per_metre(i.get("length_m"), ohms, i.get("i_a")))
        }
        "elec.min_area" => {
            one("area_mm2", e::least_area(i.get("length_m"), i.get("i_a"), i.get("drop_v"), i.get("rho")))
        }
        "elec.copper_temp_factor" => {
            assert_eq!(i.get("alpha"), e::COPPER_RISE);
            one("kt", e::copper_temperature_factor(i.get("t_c")))
        }
        "elec.strand_area" => one("area_mm2", e::strand_area(i.get("n"), i.get("d_mm"))),
        "elec.fuse_load" => one("i_a", e::total_current(&i.list("watts"), i.get("v"))),
        "elec.fuse_size" => {
            assert_eq!(i.get("factor"), e::FUSE_FACTOR);
            one("min_rating_a", e::least_fuse(i.get("i_a")))
        }
        "battery.soc_from_ocv" => one("soc_pct", e::state_of_charge(i.get("ocv_v"))),
        "battery.soc_from_sg" => one("soc_pct", e::state_of_charge_by_gravity(i.get("sg"))),
        "battery.sg_temp_correction" => {
            let celsius = (i.get("t_f") - 32.0) / 1.8;
            Some(vec![("sg", e::gravity_correction(celsius)), ("volts", e::rest_volts_correction(celsius))])
        }
        "battery.sg_from_cell_ocv" => one("sg", e::gravity_from_cell_volts(i.get("cell_v"))),
        "battery.points_from_ah" => one("points", e::gravity_points(i.get("ah"), i.get("points_per_ah"))),
        "battery.capacity_pct" => one("pct", e::capacity_left(i.get("hours"), i.get("rated_hours"))),
        "reliability.bulb_life_factor" => one("factor", e::bulb_life_factor(i.get("v_ratio"), i.get("exponent"))),
        "reliability.lamp_base_rate" => one("lambda_b_per_1e6h", e::lamp_base_rate(i.get("v_rated"))),
        "reliability.lamp_rate" => {
            one("rate_per_1e6h", e::lamp_rate(i.get("v_rated"), i.get("pi_u"), i.get("pi_a"), i.get("pi_e")))
        }
        "reliability.weibull_beta_from_b3_tc" => one("beta", e::lamp_life_shape(i.get("b3_h"), i.get("tc_h"))),
        _ => None,
    }
}

/// Runs one row; says what is wrong.
fn agrees(row: &Row) -> Result<(), String> {
    let mut inputs = Inputs { given: pairs(row["inputs"]), used: BTreeSet::new() };
    let expected = pairs(row["expected_output"]);
    if row["topic"] == "lookup.fuse_colour" {
        let got = e::fuse_colour(inputs.get("rating_a"));
        return (got == Some(expected["colour"])).then_some(()).ok_or(format!("{got:?}"));
    }
    let results = work(row["topic"], &mut inputs).ok_or("no function for this topic")?;
    let tolerance = pairs(row["tolerance"]);
    if inputs.used.len() != inputs.given.len() || results.len() != expected.len() {
        return Err("an input or a result is left over".to_owned());
    }
    for (name, got) in results {
        let number = |text: &str| text.parse::<f64>().map_err(|e| format!("{name}: {e}"));
        let (want, within) = (number(expected[name])?, number(tolerance[name])?);
        // The sum of two printed decimals may sit on the tolerance itself.
        if got.is_nan() || (got - want).abs() > within * (1.0 + 1e-9) {
            return Err(format!("{name} is {got}, printed {want} within {within}"));
        }
    }
    Ok(())
}

#[test]
fn every_worked_example_of_electrics_comes_out_as_printed() {
    let examples = rows("electrics.tsv", EXAMPLES);
    let wrong: Vec<String> = examples
        .iter()
        .filter_map(|row| {
            agrees(row).err().map(|why| format!("{} {}: {why} ({})", row["id"], row["topic"], row["source"]))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let topics: BTreeSet<&str> = examples.iter().map(|r| r["topic"]).collect();
    let printed = examples.iter().filter(|r| r["certainty"].starts_with("printed")).count();
    println!("{} worked examples over {} topics, {printed} of them printed results", examples.len(), topics.len());
}

/// The fuse row's remark: 8 A times 1.5 is 12 A, and the next standard blade size up is 15 A (tagoverland.co/ts/cables/).
#[test]
fn the_next_blade_size_above_twelve_amperes_is_fifteen() {
    assert_eq!(e::fuse_for(8.0), Some(15.0));
}

// ------------------------------------------------------------------ fuses

fn table(kind: &str, property: &str) -> Vec<Row> {
    let mut found = rows("fuses-and-lamps.tsv", FUSES_AND_LAMPS);
    found.retain(|r| r["kind"] == kind && r["property"] == property);
    assert!(!found.is_empty(), "no {property} of a {kind}");
    found
}

fn amps(text: &str) -> f64 {
    text.strip_suffix(" A").and_then(|n| n.parse().ok()).unwrap_or_else(|| panic!("`{text}` is no rating"))
}

#[test]
fn the_ratings_and_colours_of_blade_fuses_are_those_of_the_chart() {
    let chart: Vec<(f64, &str)> =
        table("fuse", "colour").iter().map(|r| (amps(r["designation"]), r["value"])).collect();
    assert_eq!(chart, e::BLADE_FUSES);
}

#[test]
fn every_blade_fuse_of_the_knowledge_has_the_rating_and_colour_of_the_chart() {
    let chart = table("fuse", "colour");
    let fuses: Vec<&Part> = book().parts.iter().filter(|p| p.head.id.starts_with("blade-fuse-")).collect();
    assert!(fuses.len() >= 7, "only {} blade fuses", fuses.len());
    for part in fuses {
        let rating = part.designation.strip_prefix("ISO 8820-3, ").unwrap_or_else(|| panic!("{}", part.head.id));
        let row = chart.iter().find(|r| r["designation"] == rating);
        let row = row.unwrap_or_else(|| panic!("{}: the chart has no fuse of {rating}", part.head.id));
        assert_eq!(part.head.name, format!("blade fuse, {rating} ({})", row["value"]));
        assert_eq!(part.head.id, format!("blade-fuse-{}-a", amps(rating)).replace('.', "-"));
        assert!(row["certainty"] != "memory" || part.head.source.id != "blade-fuses", "{}: from memory", part.head.id);
    }
}

// ------------------------------------------------------------------ lamps

/// Bulbs the knowledge names that the table has no row for.
const NOT_IN_TABLE: [(&str, &str); 4] = [
    ("R2", "older headlamp bulb; no sheet was read"),
    ("S2", "bayonet headlamp bulb; no sheet was read"),
    ("H7", "single-filament headlamp bulb; no sheet was read"),
    ("WY5W", "amber W5W; only the letter code is in the table"),
];

/// A bulb category, watts ("21/5"), and cap of a part, from "P21/5W, cap BAY15d, 12 V 21/5 W (UN R37)" in any order.
struct Bulb {
    category: &'static str,
    watts: &'static str,
    cap: &'static str,
    part: &'static Part,
}

fn bulbs() -> Vec<Bulb> {
    let of_r37 = book().parts.iter().filter(|p| p.designation.contains("UN R37"));
    of_r37
        .map(|part| {
            let text = part.designation.as_str();
            let wrong = || panic!("{}: cannot read `{text}`", part.head.id);
            let after = |word: &str| text.split_once(word).map(|(_, rest)| rest);
            let upto = |rest: &'static str| rest.split([',', ' ']).next().unwrap_or(rest);
            let cap = ["cap ", "caps ", "base "].into_iter().find_map(after).map_or_else(wrong, upto);
            let watts = after("12 V ").map_or_else(wrong, upto);
            Bulb { category: upto(text), watts, cap, part }
        })
        .collect()
}

#[test]
fn every_bulb_of_the_knowledge_has_the_watts_and_cap_of_its_data_sheet() {
    let (watts, caps) = (table("lamp", "rated W at 12 V"), table("lamp", "cap"));
    let bulbs = bulbs();
    let mut held = 0;
    for bulb in &bulbs {
        let id = &bulb.part.head.id;
        let Some(row) = watts.iter().find(|r| r["designation"] == bulb.category) else {
            assert!(NOT_IN_TABLE.iter().any(|(c, _)| *c == bulb.category), "{id}: no row for {}", bulb.category);
            continue;
        };
        held += 1;
        assert_eq!(bulb.watts, row["value"], "{id}: watts by {}", row["source"]);
        if let Some(row) = caps.iter().find(|r| r["designation"] == bulb.category) {
            assert_eq!(bulb.cap, row["value"], "{id}: cap by {}", row["source"]);
        }
        let source = book().sources.get(&bulb.part.head.source.id).unwrap_or_else(|| panic!("{id}: no source"));
        assert!(row["certainty"] != "memory" || source.kind != "published", "{id}: its watts are from memory");
    }
    for (category, why) in NOT_IN_TABLE {
        let named = bulbs.iter().any(|b| b.category == category);
        let in_table = watts.iter().any(|r| r["designation"] == category);
        assert!(named && !in_table, "{category} ({why}) needs no exception any more");
    }
    for row in &watts {
        assert!(bulbs.iter().any(|b| b.category == row["designation"]), "no part is a {}", row["designation"]);
    }
    println!("{held} bulbs held to their sheets, {} without a row", NOT_IN_TABLE.len());
}

/// Letter code of lamp categories: Y is an amber bulb.
#[test]
fn bulbs_with_a_y_in_their_category_are_said_to_be_amber_and_no_others() {
    let letters = table("letter", "colour");
    for row in &letters {
        for bulb in bulbs() {
            let lettered = bulb.category.contains(row["designation"]);
            assert_eq!(bulb.part.head.name.contains(row["value"]), lettered, "{}", bulb.part.head.id);
        }
    }
}
