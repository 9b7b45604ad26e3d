//! What the sources must keep to whatever they do: which module may use which, documentation, printing, panics, length, the top level;
//! and that the built-in knowledge has no problem.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use splitpin::embed;
use splitpin::knowledge::files::TextFile;
use splitpin::knowledge::load;
use splitpin::report::render_all;

/// Each module of `src` and the modules it may use, in reading order. A module uses only earlier ones, and of those only the ones named.
const LAYERS: &[(&str, &[&str])] = &[
    ("report", &[]),
    ("units", &["report"]),
    ("knowledge", &["report", "units"]),
    ("embed", &["knowledge"]),
    ("vehicle", &["report", "units", "knowledge"]),
    ("graph", &["report", "units", "knowledge", "vehicle"]),
    ("inference", &["units", "graph"]),
    ("symptom", &["report"]),
    ("advice", &["units", "knowledge", "vehicle", "graph", "inference"]),
    ("session", &["report", "units", "knowledge", "vehicle", "graph", "inference", "symptom", "advice"]),
    ("simulate", &["knowledge", "graph", "advice", "session"]),
    ("refusal", &["report", "units", "knowledge", "vehicle", "graph", "inference", "symptom", "advice", "session"]),
    ("reckon", &["report", "units"]),
    ("records", &["report", "units"]),
    (
        "surfaces",
        &[
            "report",
            "units",
            "knowledge",
            "embed",
            "vehicle",
            "graph",
            "inference",
            "symptom",
            "advice",
            "session",
            "simulate",
            "refusal",
            "reckon",
            "records",
        ],
    ),
];

/// Everything that may stand at the top of the repository; names that begin with a dot may too.
const TOP: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "src",
    "knowledge",
    "tests",
    "transcripts-demo",
];

/// The build script: it stands beside the program and speaks to cargo by printing.
const BUILD: &str = "src/embed/build.rs";

/// No source file is longer, in lines.
const LONGEST_FILE: usize = 900;

/// A source file below `src`.
struct Source {
    /// Path below the package, with forward slashes.
    path: String,
    text: String,
}

impl Source {
    /// The module folder it belongs to: `session` for `src/session/talk.rs`; none for `src/lib.rs` and `src/main.rs`.
    fn module(&self) -> Option<&str> {
        self.path.strip_prefix("src/")?.split_once('/').map(|(module, _)| module)
    }

    /// Numbered lines outside comments and outside what is built for tests alone.
    fn program(&self) -> Vec<(usize, &str)> {
        let mut out = Vec::new();
        let mut lines = self.text.lines().enumerate();
        while let Some((i, line)) = lines.next() {
            if line.trim_start().starts_with("#[cfg(test)]") {
                skip_item(&mut lines);
            } else if !line.trim_start().starts_with("//") {
                out.push((i + 1, line));
            }
        }
        out
    }
}

/// Passes over one item, as rustfmt lays it out: to the `;` or the closing brace at its own indent.
fn skip_item<'t>(lines: &mut impl Iterator<Item = (usize, &'t str)>) {
    let mut indent = None;
    for (_, line) in lines {
        let own = line.len() - line.trim_start().len();
        if indent.is_none() {
            if line.trim_start().starts_with("#[") || line.trim_start().starts_with("//") {
                continue;
            }
            indent = Some(own);
            if line.ends_with(';') || (line.contains('{') && line.ends_with('}')) {
                return;
            }
        } else if indent == Some(own) && (line.trim_start().starts_with('}') || line.ends_with(';')) {
            return;
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every source file of the program, without those that a `#[cfg(test)] mod name;` makes part of the tests.
fn sources() -> Vec<Source> {
    let mut files = Vec::new();
    collect(&root().join("src"), &mut files);
    files.sort();
    let all: Vec<Source> = files
        .into_iter()
        .map(|file| Source {
            path: file.strip_prefix(root()).expect("a file of the package").to_string_lossy().replace('\\', "/"),
            text: fs::read_to_string(&file).expect("a source file"),
        })
        .collect();
    assert!(all.len() > 50, "the sources are found");
    let mut for_tests = Vec::new();
    for source in &all {
        let folder = source.path.rsplit_once('/').map_or("", |(folder, _)| folder);
        let lines: Vec<&str> = source.text.lines().map(str::trim).collect();
        for pair in lines.windows(2).filter(|p| p[0] == "#[cfg(test)]") {
            if let Some(name) = pair[1].strip_prefix("mod ").and_then(|n| n.strip_suffix(';')) {
                for_tests.push(format!("{folder}/{name}.rs"));
            }
        }
    }
    all.into_iter().filter(|s| !for_tests.contains(&s.path)).collect()
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
}

/// The modules named straight after `crate::` in a text: `crate::report::At`, `crate::{graph, units::Pence}`.
fn used(text: &str) -> Vec<String> {
    let mut out = Vec::new();
    for (start, _) in text.match_indices("crate::") {
        let before = text[..start].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let rest = &text[start + "crate::".len()..];
        let name = |text: &str| text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
        if !rest.starts_with('{') {
            out.push(name(rest));
            continue;
        }
        let mut depth = 0;
        let mut fresh = false;
        for (i, c) in rest.char_indices() {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                break;
            }
            if depth == 1 && matches!(c, '{' | ',') {
                fresh = true;
            } else if fresh && c.is_alphabetic() {
                out.push(name(&rest[i..]));
                fresh = false;
            }
        }
    }
    out
}

#[test]
fn names_after_crate_are_read_singly_and_in_braces() {
    let text = "use crate::report::At;\nuse crate::{graph::{net, Fitted}, units,\n  advice::Step};\nlet x = $crate::session::y; my_crate::no";
    assert_eq!(used(text), ["report", "graph", "units", "advice", "session"]);
}

#[test]
fn what_is_built_for_tests_alone_is_passed_over() {
    let text = "//! a\nfn a() {}\n#[cfg(test)]\nmod trial;\nfn b() {}\n#[cfg(test)]\nmod tests {\n    fn c() {}\n}\nfn d() {}\n";
    let source = Source { path: "src/x.rs".into(), text: text.into() };
    let kept: Vec<usize> = source.program().iter().map(|l| l.0).collect();
    assert_eq!(kept, [2, 5, 10]);
}

#[test]
fn the_table_of_layers_lists_every_module_and_points_only_backwards() {
    let declared: Vec<&str> = include_str!("../src/lib.rs")
        .lines()
        .filter_map(|l| l.strip_prefix("pub mod ").or_else(|| l.strip_prefix("mod ")))
        .filter_map(|l| l.strip_suffix(';'))
        .collect();
    assert!(!declared.is_empty(), "the modules of src/lib.rs are read");
    for module in &declared {
        assert!(LAYERS.iter().any(|l| l.0 == *module), "`{module}` is not in the table of layers");
    }
    for (i, (module, may)) in LAYERS.iter().enumerate() {
        assert!(declared.contains(module), "`{module}` of the table is no module");
        for other in *may {
            assert!(LAYERS[..i].iter().any(|l| l.0 == *other), "`{module}` may not use the later `{other}`");
        }
    }
}

#[test]
fn every_module_uses_only_what_it_may() {
    let mut wrong = Vec::new();
    for source in sources() {
        let Some(module) = source.module().filter(|_| source.path != BUILD) else { continue };
        let may = LAYERS.iter().find(|l| l.0 == module).map_or(&[][..], |l| l.1);
        let text: String = source.program().iter().flat_map(|(_, l)| [l, "\n"]).collect();
        for name in used(&text) {
            if name != module && !may.contains(&name.as_str()) {
                wrong.push(format!("{} uses `{name}`", source.path));
            }
        }
        // The way round the table: climbing to the crate with `super`.
        let climbs = if source.path.ends_with("/mod.rs") { "super::" } else { "super::super::" };
        if text.contains(climbs) {
            wrong.push(format!("{} climbs out of its module with `{climbs}`", source.path));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn inference_knows_no_words() {
    for source in sources().iter().filter(|s| s.module() == Some("inference")) {
        for (n, line) in source.program() {
            for (start, _) in line.match_indices("crate::graph") {
                let after = &line[start + "crate::graph".len()..];
                assert!(after.starts_with("::net"), "{}:{n}: of the graph only the net: {line}", source.path);
            }
        }
    }
}

#[test]
fn every_source_file_opens_with_what_it_is_for() {
    for source in sources() {
        assert!(source.text.starts_with("//! "), "{} does not open with `//!`", source.path);
    }
}

#[test]
fn nothing_prints_but_the_program_itself() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|s| s.path != "src/main.rs" && s.path != BUILD) {
        for (n, line) in source.program() {
            if ["println!", "print!", "eprintln!", "eprint!", "dbg!"].iter().any(|m| line.contains(m)) {
                wrong.push(format!("{}:{n}: {}", source.path, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn nothing_is_unwrapped_and_nothing_panics_on_purpose() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (n, line) in source.program() {
            let words = [
                ".unwrap()",
                ".expect(\"",
                ".expect(&format!",
                ".unwrap_err()",
                "panic!(",
                "todo!(",
                "unimplemented!(",
            ];
            if words.iter().any(|w| line.contains(w)) || line.ends_with(".expect(") {
                wrong.push(format!("{}:{n}: {}", source.path, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn no_source_file_is_too_long_to_read() {
    for source in sources() {
        let lines = source.text.lines().count();
        assert!(lines <= LONGEST_FILE, "{} has {lines} lines, the most is {LONGEST_FILE}", source.path);
    }
}

#[test]
fn the_top_level_holds_only_what_belongs_there() {
    // Outside a checkout, as in a packed copy, there is nothing to ask.
    let Ok(listed) = Command::new("git").arg("-C").arg(root()).args(["ls-files", "-z"]).output() else { return };
    if !listed.status.success() {
        return;
    }
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for path in listed.split('\0').filter(|p| !p.is_empty()) {
        *count.entry(path.split('/').next().unwrap_or(path)).or_default() += 1;
    }
    for name in count.keys() {
        assert!(name.starts_with('.') || TOP.contains(name), "`{name}` does not belong at the top level");
    }
}

#[test]
fn the_built_in_knowledge_has_no_problem() {
    let loaded = load(&embed::files());
    assert!(loaded.problems.is_empty(), "{}", render_all(&loaded.problems, &loaded.sources, false));
    assert!(loaded.book.faults.len() > 100 && loaded.book.links.len() > 500, "the book is there");
}

/// The TOML blocks of a Markdown text, each with the number of the line it begins on.
fn toml_blocks(text: &str) -> Vec<(usize, String)> {
    let mut blocks = Vec::new();
    let mut open: Option<(usize, String)> = None;
    for (i, line) in text.lines().enumerate() {
        if line == "```toml" {
            open = Some((i + 2, String::new()));
        } else if line == "```" {
            blocks.extend(open.take());
        } else if let Some((_, block)) = &mut open {
            block.push_str(line);
            block.push('\n');
        }
    }
    blocks
}

#[test]
fn the_worked_example_of_the_knowledge_page_is_sound() {
    let blocks = toml_blocks(include_str!("../knowledge/README.md"));
    assert!(!blocks.is_empty(), "knowledge/README.md shows an example");
    let mut files = embed::files();
    let layer = blocks.into_iter().map(|(line, text)| TextFile {
        name: format!("knowledge/README.md, the block from line {line}"),
        path: format!("lamps/example-{line}.toml"),
        text: Ok(text),
    });
    files.layers.push(layer.collect());
    let loaded = load(&files);
    assert!(!loaded.has_errors(), "{}", render_all(&loaded.problems, &loaded.sources, false));
}
