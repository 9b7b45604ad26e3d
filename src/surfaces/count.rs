//! `knowledge count`: how much the book holds, as text and as JSON.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::knowledge::census::{Census, Counts};

/// Version of the JSON form.
const SCHEMA: &str = "splitpin-count/1";

fn numbers(c: &Counts) -> Value {
    json!({
        "faults": c.faults, "conditions": c.conditions, "signs": c.signs, "checks": c.checks, "remedies": c.remedies,
        "parts": c.parts, "cautions": c.cautions, "phrases": c.phrases, "phrase_entries": c.phrase_entries,
        "terms": c.terms, "sources": c.sources, "links": c.links, "items": c.items,
    })
}

/// The count as JSON: totals at the top, `systems` and `sections` below.
pub(super) fn as_json(census: &Census) -> Value {
    let mut out = numbers(&census.all);
    if let Value::Object(map) = &mut out {
        map.insert("schema".into(), json!(SCHEMA));
        let systems = census.systems.iter().map(|(k, v)| (k.clone(), numbers(v))).collect();
        map.insert("systems".into(), Value::Object(systems));
        let sections = census.sections.iter().map(|(k, v)| {
            let not_tied: Vec<Value> = v.not_tied.iter().map(|(id, why)| json!({ "id": id, "why": why })).collect();
            (k.clone(), json!({ "items": v.items, "tied": v.tied, "not_tied": not_tied }))
        });
        map.insert("sections".into(), Value::Object(sections.collect()));
    }
    out
}

/// The count as text.
pub(super) fn as_text(census: &Census) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{:<12} {:>6} {:>6} {:>6} {:>6} {:>8} {:>6} {:>8} {:>9} {:>6}",
        "system", "faults", "condit", "signs", "checks", "remedies", "parts", "cautions", "wordings", "terms"
    );
    let all = ("in all".to_owned(), census.all);
    for (name, c) in census.systems.iter().map(|(n, c)| (n.clone(), *c)).chain([all]) {
        let _ = writeln!(
            out,
            "{name:<12} {:>6} {:>6} {:>6} {:>6} {:>8} {:>6} {:>8} {:>9} {:>6}",
            c.faults, c.conditions, c.signs, c.checks, c.remedies, c.parts, c.cautions, c.phrases, c.terms
        );
    }
    let _ = writeln!(
        out,
        "\n{} links, {} sources\n\nmanual, by section: items tied to a sign",
        census.all.links, census.all.sources
    );
    for (section, coverage) in &census.sections {
        let _ = writeln!(out, "  {section:<6} {} of {}", coverage.tied, coverage.items);
        for (id, why) in &coverage.not_tied {
            let _ = writeln!(out, "         {id}: {}", if why.is_empty() { "no reason given" } else { why });
        }
    }
    out
}
