//! Every integration test, in one binary. A file in `tests/` that is not listed here fails `every_test_file_is_listed`.

/// Classic networks against two general-purpose libraries.
mod inference_classic;
/// Random nets against brute force, and what must not change a posterior.
mod inference_exact;
/// Published and printed examples, and the seeded nets with their exact answers.
mod inference_reference;

/// Trade arithmetic against printed examples; fuses and lamps against published tables.
mod reference_electrics;
/// Limits of measured checks against the published figures they cite.
mod reference_limits;
/// Lines of the inspection manual against the table of them.
mod reference_manual;
mod reference_plans;
/// Tables of `tests/reference/`, and the built-in knowledge.
mod reference_tables;

/// The share of vehicles refused, by section, in all and by age, against official statistics.
mod calibration;
/// Cases with a hidden fault, played to the proved repair.
mod hidden_faults;

/// Every rule of the knowledge is broken by a fixture, and told as it should be.
mod knowledge_rules;

/// The records under blows: kills, two programs at once, a full disk, a clock set back.
mod records;

/// Plans followed to their end, against the best plan there is.
mod near_optimum;

/// Nothing is proposed that is unsafe or cannot be done.
mod safe_advice;

/// Refusal lines made from the table of the manual, and sheets of them.
mod refusal_lines;

/// What people type and write wrongly: nothing is lost, nothing panics, nothing drives the terminal.
mod bad_input;

/// Layers, module docs, printing, panics, the top level, the size of files, the built-in knowledge.
mod tidy;

/// Whole conversations, compared letter by letter.
mod transcripts;

/// A forgotten file is a test that never runs.
#[test]
fn every_test_file_is_listed() {
    let me = include_str!("all.rs");
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    for entry in std::fs::read_dir(folder).expect("the folder of this file") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        if let Some(stem) = name.strip_suffix(".rs").filter(|s| *s != "all") {
            assert!(me.contains(&format!("mod {stem};")), "tests/{name} is not listed in tests/all.rs");
        }
    }
}
