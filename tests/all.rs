//! Every integration test, in one binary. A file in `tests/` that is not listed here fails `every_test_file_is_listed`.

/// Random nets against brute force, and what must not change a posterior.
mod inference_exact;
/// Published and printed examples, and the seeded nets with their exact answers.
mod inference_reference;

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
