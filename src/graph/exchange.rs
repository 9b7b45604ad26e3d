//! The net in open interchange formats, so that anybody can check splitpin with a library of their own.
//!
//! Takes a [`Net`] and names; gives text: UAI (the format of the inference competitions of the conference on Uncertainty in Artificial
//! Intelligence: `BAYES`, sizes, scopes, tables) or BIF (the Bayesian Network Interchange Format, 0.15). Both know tables only, so a gate
//! with many parents is written as a chain of small tables over added variables, which changes no probability of the net's own variables.
//! Never computes a posterior.

use std::fmt::Write as _;

use super::net::{Effect, Gate, Net, Var};

/// A gate with at most this many parents is one table; one with more becomes a chain.
const PARENTS_IN_A_TABLE: usize = 4;

/// A variable with its table.
struct Table {
    /// Indices of the parents; the net's own variables come first, added ones after them.
    parents: Vec<usize>,
    /// Probability of being present for each state of the parents, the last parent changing fastest.
    present: Vec<f64>,
}

/// Every variable of a net as a table, added variables at the end; parents may be added ones.
fn tables(net: &Net) -> Vec<Table> {
    let mut own: Vec<Table> = Vec::with_capacity(net.len());
    let mut added: Vec<Table> = Vec::new();
    for var in net.vars() {
        let parents: Vec<(Var, f64, Effect)> = net.parents(var).map(|(p, arc)| (p, arc.strength, arc.effect)).collect();
        let long = parents.len() > PARENTS_IN_A_TABLE;
        let table = match net.gate(var) {
            Gate::AnyOf { leak } if long => chain((leak, 0.0, false), &parents, net.len(), &mut added),
            Gate::AllOf { leak } if long => chain((1.0, leak, true), &parents, net.len(), &mut added),
            _ => whole(net, var, &parents),
        };
        own.push(table);
    }
    own.extend(added);
    own
}

fn whole(net: &Net, var: Var, parents: &[(Var, f64, Effect)]) -> Table {
    let states = 0..1_usize << parents.len();
    let present = states.map(|state| {
        let held = |v: Var| {
            let at = parents.iter().position(|p| p.0 == v).unwrap_or(0);
            state >> (parents.len() - 1 - at) & 1 == 1
        };
        net.present_given(var, held)
    });
    Table { present: present.collect(), parents: parents.iter().map(|p| p.0.index()).collect() }
}

/// One step of a chain: the parent that joins, and the chance of being present for (so far absent, parent absent), (absent, present),
/// (present, absent), (present, present).
type Step = (Option<usize>, [f64; 4]);

/// The steps of a gate, one parent at a time; the last table is the gate's own. The gate: its chance before any parent, what a block leaves
/// of it, whether it needs all its parents.
fn chain(
    (start, leak, all): (f64, f64, bool),
    parents: &[(Var, f64, Effect)],
    own: usize,
    added: &mut Vec<Table>,
) -> Table {
    let causes = parents.iter().filter(|p| p.2 == Effect::Causes);
    let mut steps: Vec<Step> = causes
        .map(|&(p, s, _)| (Some(p.index()), if all { [0.0, 0.0, 1.0 - s, 1.0] } else { [0.0, s, 1.0, 1.0] }))
        .collect();
    if all && !steps.is_empty() {
        steps.push((None, [leak, leak, 1.0, 1.0]));
    }
    let inhibitors = parents.iter().filter(|p| p.2 == Effect::Inhibits);
    steps.extend(inhibitors.map(|&(p, s, _)| (Some(p.index()), [0.0, 0.0, 1.0, 1.0 - s])));
    let mut so_far = Table { parents: Vec::new(), present: vec![start] };
    for (parent, chances) in steps {
        let before = own + added.len();
        added.push(so_far);
        so_far = match parent {
            Some(parent) => Table { parents: vec![before, parent], present: chances.to_vec() },
            None => Table { parents: vec![before], present: vec![chances[0], chances[2]] },
        };
    }
    so_far
}

/// The net in UAI format. Variables stand in the net's order, added ones behind them; value 0 is absent, 1 present.
pub fn uai(net: &Net) -> String {
    let tables = tables(net);
    let mut out = format!("BAYES\n{}\n", tables.len());
    let _ = writeln!(out, "{}", vec!["2"; tables.len()].join(" "));
    let _ = writeln!(out, "{}", tables.len());
    for (var, table) in tables.iter().enumerate() {
        let _ = write!(out, "{}", table.parents.len() + 1);
        for parent in &table.parents {
            let _ = write!(out, " {parent}");
        }
        let _ = writeln!(out, " {var}");
    }
    for table in &tables {
        let _ = writeln!(out, "\n{}", 2 * table.present.len());
        for p in &table.present {
            let _ = writeln!(out, " {} {p}", 1.0 - p);
        }
    }
    out
}

/// The net in BIF 0.15. `name` gives each of the net's own variables a name; what is no letter or figure becomes `_`.
pub fn bif(net: &Net, name: impl Fn(Var) -> String) -> String {
    let tables = tables(net);
    let plain =
        |text: String| -> String { text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect() };
    let names: Vec<String> = (0..tables.len())
        .map(|i| if i < net.len() { plain(name(Var(i as u32))) } else { format!("added_{i}") })
        .collect();
    let mut out = String::from("network splitpin {\n}\n");
    for name in &names {
        let _ = writeln!(out, "variable {name} {{\n  type discrete [ 2 ] {{ absent, present }};\n}}");
    }
    for (table, name) in tables.iter().zip(&names) {
        let parents: Vec<&str> = table.parents.iter().map(|p| names[*p].as_str()).collect();
        if parents.is_empty() {
            let p = table.present[0];
            let _ = writeln!(out, "probability ( {name} ) {{\n  table {}, {p};\n}}", 1.0 - p);
            continue;
        }
        let _ = writeln!(out, "probability ( {name} | {} ) {{", parents.join(", "));
        for (state, p) in table.present.iter().enumerate() {
            let words = (0..parents.len())
                .map(|i| if state >> (parents.len() - 1 - i) & 1 == 1 { "present" } else { "absent" });
            let _ = writeln!(out, "  ({}) {}, {p};", words.collect::<Vec<_>>().join(", "), 1.0 - p);
        }
        out.push_str("}\n");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::NetBuilder;

    /// A gate of each kind with more parents than a table takes, inhibitors among them.
    fn net() -> Net {
        let mut b = NetBuilder::new();
        let roots: Vec<Var> =
            (0..7).map(|i| b.add(Gate::Root { prior: 0.1 + 0.1 * f64::from(i) }).expect("sound")).collect();
        for gate in [Gate::AnyOf { leak: 0.05 }, Gate::AllOf { leak: 0.2 }] {
            let y = b.add(gate).expect("sound");
            for (i, root) in roots.iter().enumerate() {
                let effect = if i < 5 { Effect::Causes } else { Effect::Inhibits };
                b.link(*root, y, 0.3 + 0.08 * i as f64, effect).expect("sound");
            }
        }
        let both = b.add(Gate::AnyOf { leak: 0.0 }).expect("sound");
        b.link(Var(7), both, 0.9, Effect::Causes).expect("sound");
        b.link(Var(8), both, 1.0, Effect::Inhibits).expect("sound");
        b.build().expect("sound")
    }

    /// The joint probability of the net's own variables by the tables, added variables summed out.
    fn by_tables(tables: &[Table], own: usize, state: u32) -> f64 {
        (0..1_u64 << (tables.len() - own))
            .map(|more| {
                let held = |i: usize| {
                    if i < own { state >> i & 1 == 1 } else { more >> (i - own) & 1 == 1 }
                };
                let chance = |(i, t): (usize, &Table)| {
                    let row = t.parents.iter().fold(0, |row, p| 2 * row + usize::from(held(*p)));
                    if held(i) { t.present[row] } else { 1.0 - t.present[row] }
                };
                tables.iter().enumerate().map(chance).product::<f64>()
            })
            .sum()
    }

    #[test]
    fn chains_of_small_tables_leave_every_joint_probability_as_it_was() {
        let net = net();
        let tables = tables(&net);
        assert!(tables.len() > net.len() && tables.iter().all(|t| t.parents.len() <= PARENTS_IN_A_TABLE));
        for state in (0..1_u32 << net.len()).step_by(37) {
            let held = |v: Var| state >> v.0 & 1 == 1;
            let wanted: f64 = net
                .vars()
                .map(|v| {
                    let p = net.present_given(v, held);
                    if held(v) { p } else { 1.0 - p }
                })
                .product();
            let got = by_tables(&tables, net.len(), state);
            assert!((got - wanted).abs() < 1e-15, "state {state}: {got}, wanted {wanted}");
        }
    }

    #[test]
    fn both_formats_hold_every_variable_and_probabilities_that_add_up() {
        let net = net();
        let text = uai(&net);
        let mut words = text.split_whitespace();
        assert_eq!(words.next(), Some("BAYES"));
        let n: usize = words.next().and_then(|w| w.parse().ok()).expect("how many");
        assert_eq!(words.by_ref().take(n).filter(|w| *w == "2").count(), n);
        assert_eq!(words.next(), Some(n.to_string().as_str()));
        for var in 0..n {
            let size: usize = words.next().and_then(|w| w.parse().ok()).expect("a size");
            assert_eq!(words.by_ref().take(size).last(), Some(var.to_string().as_str()));
        }
        for _ in 0..n {
            let size: usize = words.next().and_then(|w| w.parse().ok()).expect("a size");
            let numbers: Vec<f64> = words.by_ref().take(size).map(|w| w.parse().expect("a number")).collect();
            assert!(numbers.chunks(2).all(|row| (row[0] + row[1] - 1.0).abs() < 1e-15));
        }
        assert_eq!(words.next(), None);
        let text = bif(&net, |v| format!("v-{}", v.0));
        assert_eq!(text.matches("variable ").count(), n);
        assert_eq!(text.matches("probability ( ").count(), n);
        assert!(text.contains("probability ( v_9 | v_7, v_8 ) {\n  (absent, absent) 1, 0;"));
    }
}
