//! A large book of templates for the benchmarks: the text files of a workshop-like net, one folder of them a system.

use std::fmt::Write as _;

use splitpin::graph::net::{Gate, Var};
use splitpin::knowledge::files::{Files, TextFile};

use crate::nets::Seeded;

/// Scales, kit and set-up that the entries refer to.
const BASE: &str = include_str!("../fixtures/sound-knowledge/base.toml");

/// Entries of this many of the net's variables stand in one file.
const A_FILE: usize = 400;

/// The texts of a net's faults, conditions and signs, with a remedy and a check for each file.
pub fn texts(seeded: &Seeded) -> Files {
    let net = &seeded.net;
    let mut files = vec![("base.toml".to_owned(), BASE.to_owned())];
    let all: Vec<Var> = net.vars().collect();
    for (number, group) in all.chunks(A_FILE).enumerate() {
        let mut text = String::new();
        let mut reads = String::new();
        for &v in group {
            let kind = kind_of(seeded, v);
            let _ = writeln!(text, "[{kind}.{kind}-{0}]\nname = \"{kind} {0}\"\nsource = \"common-practice\"", v.0);
            match net.gate(v) {
                Gate::Root { prior } => {
                    let _ = writeln!(text, "prior = {prior}\nremedies = [\"mend-{number}\"]");
                }
                Gate::AnyOf { leak } | Gate::AllOf { leak } => {
                    let _ = writeln!(text, "leak = {leak}");
                }
                Gate::Table { .. } => {}
            }
            if kind == "sign" {
                let _ = write!(
                    reads,
                    "\n[[check.look-{number}.reads]]\nsign = \"sign-{0}\"\nask = \"Sign {0}?\"\nyes = \"present\"\n",
                    v.0
                );
            }
            let links: Vec<String> = net
                .children(v)
                .map(|(to, arc)| {
                    let to = format!("{}-{}", kind_of(seeded, to), to.0);
                    format!("{{ to = \"{to}\", strength = {} }}", arc.strength)
                })
                .collect();
            if !links.is_empty() {
                let _ = writeln!(text, "causes = [{}]", links.join(", "));
            }
        }
        if !reads.is_empty() {
            let _ = writeln!(
                text,
                "[check.look-{number}]\nname = \"look {number}\"\nset-up = \"standing\"\nminutes = 1\nsteps = [\"Look.\"]\n\
                 source = \"common-practice\"\n{reads}"
            );
        }
        let _ = writeln!(
            text,
            "[remedy.mend-{number}]\nname = \"mend {number}\"\nminutes = 5\nset-up = \"standing\"\ndifficulty = \"easy\"\n\
             steps = [\"Mend it.\"]\nproved-by = \"press-horn\"\nsource = \"common-practice\""
        );
        files.push((format!("system-{number}/entries.toml"), text));
    }
    let file = |(path, text): (String, String)| TextFile { name: format!("knowledge/{path}"), path, text: Ok(text) };
    Files { layers: vec![files.into_iter().map(file).collect()] }
}

/// The kind of entry a variable is.
fn kind_of(seeded: &Seeded, v: Var) -> &'static str {
    match seeded.net.gate(v) {
        Gate::Root { .. } => "fault",
        _ if v.index() < seeded.first_finding => "condition",
        _ => "sign",
    }
}
