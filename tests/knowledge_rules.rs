//! Every rule of the knowledge has a fixture that breaks it, and only it, and a report that says so.
//!
//! A folder `fixtures/bad-knowledge/CODE-what-is-wrong` is laid over `fixtures/sound-knowledge`. A line with the mark `# <- CODE` is
//! where that problem must be found; there must be no other. The report as the person sees it stands beside the fixture in
//! `expected.txt`; run with `UPDATE_EXPECTED=1` to rewrite it, then read the difference. A folder `mixed-…` may hold several codes.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use splitpin::knowledge::load::Loaded;
use splitpin::knowledge::{Files, load};
use splitpin::report::{Problem, Severity, render_all};

// Relative to the package, where cargo runs tests, so that the names shown are the same on every machine.
const SOUND: &str = "tests/fixtures/sound-knowledge";
const BAD: &str = "tests/fixtures/bad-knowledge";

fn fixtures() -> Vec<(String, PathBuf)> {
    let mut all: Vec<(String, PathBuf)> = fs::read_dir(BAD)
        .expect("the fixtures")
        .map(|e| e.expect("a fixture"))
        .map(|e| (e.file_name().to_string_lossy().into_owned(), Path::new(BAD).join(e.file_name())))
        .collect();
    all.sort();
    all
}

fn over_sound(folder: &Path) -> Loaded {
    load(&Files::folder(Path::new(SOUND)).and_then(|f| f.and_folder(folder)).expect("the fixture's folder"))
}

/// The codes of the table in the rules' own documentation.
fn documented() -> BTreeSet<&'static str> {
    include_str!("../src/knowledge/rules.rs")
        .lines()
        .filter_map(|l| l.strip_prefix("//! | K").map(|_| &l["//! | ".len()..][..4]))
        .collect()
}

/// File, line and code of every mark in a folder.
fn marks(folder: &Path) -> Vec<(String, usize, String)> {
    let mut out = Vec::new();
    for entry in fs::read_dir(folder).expect("a fixture's folder") {
        let path = entry.expect("a file").path();
        if path.is_dir() {
            out.extend(marks(&path));
        } else if path.extension().is_some_and(|e| e == "toml") {
            let text = String::from_utf8_lossy(&fs::read(&path).expect("a fixture")).into_owned();
            for (i, line) in text.lines().enumerate() {
                for code in line.split_once("<- ").map_or("", |(_, codes)| codes).split_whitespace() {
                    out.push((path.display().to_string(), i + 1, code.to_owned()));
                }
            }
        }
    }
    out.sort();
    out
}

/// File, line and code of a problem. One without a place in a text names both in its message.
fn place(problem: &Problem, loaded: &Loaded) -> (String, usize, String) {
    let (file, line) = match &problem.at {
        Some(at) => {
            let (name, _) = loaded.sources.get(at.file).expect("a problem points into a known file");
            (name.to_owned(), loaded.sources.line(at).expect("a line"))
        }
        None => {
            let (name, rest) = problem.message.split_once(": line ").expect("file and line are in the message");
            let line = rest.split(' ').next().and_then(|n| n.parse().ok()).expect("a line number");
            (name.to_owned(), line)
        }
    };
    (file, line, problem.code.to_owned())
}

#[test]
fn the_sound_book_that_fixtures_are_laid_over_has_no_problem() {
    let loaded = load(&Files::folder(Path::new(SOUND)).expect("the sound book"));
    assert!(loaded.problems.is_empty(), "{}", render_all(&loaded.problems, &loaded.sources, false));
}

#[test]
fn every_code_has_a_fixture_and_every_fixture_a_code() {
    let documented = documented();
    assert!(documented.len() > 20, "the table of codes is read: {documented:?}");
    let names = fixtures();
    let covered: BTreeSet<&str> = names.iter().map(|(n, _)| n.split('-').next().unwrap_or("")).collect();
    for code in &documented {
        assert!(covered.contains(code), "{code} has no folder {BAD}/{code}-…");
    }
    for (name, _) in &names {
        let code = name.split('-').next().unwrap_or("");
        assert!(code == "mixed" || documented.contains(code), "{name}: no rule has the code {code}");
    }
    let source = fs::read_dir("src/knowledge")
        .expect("the readers")
        .map(|e| fs::read_to_string(e.expect("a reader").path()).expect("a reader's text"))
        .collect::<String>();
    for code in source.split('"').filter(|s| s.len() == 4 && s.starts_with('K') && s[1..].parse::<u16>().is_ok()) {
        assert!(documented.contains(code), "{code} is used and not in the table of src/knowledge/rules.rs");
    }
}

#[test]
fn every_fixture_gives_its_code_at_the_marked_lines_and_nothing_else() {
    let mut wrong = String::new();
    for (name, folder) in fixtures() {
        let loaded = over_sound(&folder);
        let mut found: Vec<_> = loaded.problems.iter().map(|p| place(p, &loaded)).collect();
        found.sort();
        let marked = marks(&folder);
        let code = name.split('-').next().unwrap_or("");
        assert!(!marked.is_empty(), "{name} has no mark");
        assert!(code == "mixed" || marked.iter().all(|m| m.2 == code), "{name} marks another code");
        if found != marked {
            wrong.push_str(&format!("{name}\n  marked {marked:?}\n  found  {found:?}\n"));
        }
        for problem in &loaded.problems {
            let warns = problem.code.starts_with("K5");
            assert_eq!(problem.severity == Severity::Warning, warns, "{name}: {}", problem.code);
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn every_report_reads_as_it_should() {
    let update = std::env::var_os("UPDATE_EXPECTED").is_some();
    let mut wrong = String::new();
    for (name, folder) in fixtures() {
        let loaded = over_sound(&folder);
        let text = render_all(&loaded.problems, &loaded.sources, false);
        let path = folder.join("expected.txt");
        if update {
            fs::write(&path, &text).expect("the report can be written");
        }
        let expected = fs::read_to_string(&path).unwrap_or_default();
        if text != expected {
            wrong.push_str(&format!("--- {name} should be\n{expected}--- and is\n{text}"));
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}UPDATE_EXPECTED=1 rewrites the reports; read the difference");
}

#[test]
fn every_error_says_what_to_do() {
    let mut silent = BTreeSet::new();
    for (name, folder) in fixtures() {
        for problem in over_sound(&folder).problems {
            // What should, must or needs to be says what to do without a further line.
            let says = [" should ", " must ", " needs "].iter().any(|w| problem.message.contains(w));
            if problem.help.is_empty() && !says {
                silent.insert(format!("{name}: {} {}", problem.code, problem.message));
            }
            assert!(!problem.message.ends_with('.'), "{name}: a message has no full stop: {}", problem.message);
        }
    }
    assert!(silent.is_empty(), "no help: {silent:#?}");
}

#[test]
fn a_loop_is_told_in_the_order_it_runs() {
    let loaded = over_sound(&Path::new(BAD).join("K106-loop-of-three"));
    let message = &loaded.problems[0].message;
    assert!(message.ends_with("a-hot → b-swollen → c-rubbing → a-hot"), "{message}");
    assert_eq!(loaded.problems[0].also.len(), 2, "the other two places are shown");
    let loaded = over_sound(&Path::new(BAD).join("K106-causes-itself"));
    assert!(loaded.problems[0].message.ends_with(": horn-feed-dead → horn-feed-dead"));
}

#[test]
fn the_nearest_name_is_suggested_and_a_stranger_gets_none() {
    let help = |name: &str| over_sound(&Path::new(BAD).join(name)).problems[0].help.join("\n");
    for (fixture, near) in [
        ("K002-unknown-kind", "fault"),
        ("K003-unknown-key", "remedies"),
        ("K101-unknown-sign-in-a-link", "horn-silent"),
        ("K101-unknown-remedy", "replace-horn-fuse"),
        ("K101-unknown-source", "common-practice"),
        ("K101-unknown-place", "lamp"),
        ("K101-unknown-trait", "fuel"),
        ("K101-unknown-part", "fuse-10"),
        ("K102-word-a-trait-never-has", "diesel"),
        ("K203-word-no-scale-has", "rare"),
        ("K006-unknown-category", "major"),
    ] {
        let help = help(fixture);
        assert!(help.contains(&format!("did you mean `{near}`?")), "{fixture}: {help}");
    }
    assert!(!help("K101-stranger-has-no-nearest").contains("did you mean"));
}

#[test]
fn several_problems_are_told_in_one_run_errors_first_with_a_count() {
    let loaded = over_sound(&Path::new(BAD).join("mixed-several-at-once"));
    let text = render_all(&loaded.problems, &loaded.sources, false);
    for code in ["K002", "K003", "K101", "K201", "K501"] {
        assert!(text.contains(&format!("[{code}]")), "{code} is missing in\n{text}");
    }
    let last_error = text.rfind("error[").expect("an error");
    let first_warning = text.find("warning[").expect("a warning");
    assert!(last_error < first_warning, "{text}");
    assert!(text.trim_end().lines().last().is_some_and(|l| l.ends_with("errors, 1 warning")), "{text}");
}

#[test]
fn a_broken_file_does_not_hide_what_is_wrong_in_the_others() {
    let folder = tempdir("broken-and-others");
    fs::write(folder.join("a.toml"), "[fault.x\nname = \n").expect("a file");
    fs::write(folder.join("b.toml"), "[sign.hum]\nname = \"hum\"\nsaid = [\"hum\"]\nsource = \"nowhere\"\n")
        .expect("a file");
    let codes: BTreeSet<&str> = over_sound(&folder).problems.iter().map(|p| p.code).collect();
    assert!(codes.contains("K001") && codes.contains("K101"), "{codes:?}");
}

#[test]
fn a_probability_that_is_none_never_gets_into_the_book() {
    for text in
        ["nan", "-nan", "inf", "-inf", "-0.1", "1.5", "1e400", "\"1,5\"", "\"0.5\"", "true", "[0.5]", "1979-05-27"]
    {
        let entry = format!(
            "[sign.lamp-dark]\nname = \"lamp dark\"\neach = \"lamp\"\nsaid = [\"lamp out\"]\nnot-in-book = {text}\nsource = \"common-practice\"\n"
        );
        let folder = tempdir("probabilities");
        fs::write(folder.join("a.toml"), entry).expect("a file");
        let loaded = over_sound(&folder);
        assert!(loaded.has_errors(), "`{text}` is no probability");
        let problem = &loaded.problems[0];
        assert!(matches!(problem.code, "K201" | "K203" | "K005"), "{text}: {}", problem.code);
        let at = problem.at.as_ref().expect("a place");
        assert_eq!(loaded.sources.line(at), Some(5), "{text}");
        let sign = loaded.book.signs.get("lamp-dark").expect("the sign");
        assert!(sign.not_in_book.is_none_or(|p| (0.0..=1.0).contains(&p.get())), "{text}");
    }
    for text in ["0", "1", "0.5", "5e-1", "1e-300", "0.0_5"] {
        let folder = tempdir("probabilities-good");
        let entry = format!(
            "[sign.lamp-dark]\nname = \"lamp dark\"\neach = \"lamp\"\nsaid = [\"lamp out\"]\nnot-in-book = {text}\nsource = \"common-practice\"\n"
        );
        fs::write(folder.join("a.toml"), entry).expect("a file");
        let loaded = over_sound(&folder);
        assert!(loaded.problems.is_empty(), "{text}: {}", render_all(&loaded.problems, &loaded.sources, false));
    }
}

/// An empty folder of this test alone, under the build's own temporary folder.
fn tempdir(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("knowledge-rules").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}
