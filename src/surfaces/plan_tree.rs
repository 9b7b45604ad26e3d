//! `plan`: the conditional plan as text, as JSON, as DOT and as SVG.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::wrap::wrap;
use crate::session::tree::{self, Branch, label, pounds};

/// Version of the JSON form.
const SCHEMA: &str = "splitpin-plan/1";

/// The plan as JSON; money in pence.
pub(super) fn as_json(plan: &Branch) -> Value {
    json!({ "schema": SCHEMA, "plan": plan })
}

/// The plan as text.
pub(super) fn as_text(plan: &Branch) -> String {
    let mut out = String::new();
    for line in tree::lines(plan) {
        let own = line.len() - line.trim_start().len();
        let _ = writeln!(out, "{}", wrap(line.trim_start(), 80, &" ".repeat(own), &" ".repeat(own + 4)));
    }
    out
}

/// A box of the drawing: its lines, the box it hangs from with the answer, and its depth.
struct Drawn {
    lines: Vec<String>,
    from: Option<(usize, String)>,
    depth: usize,
}

fn boxes(b: &Branch, from: Option<(usize, String)>, depth: usize, out: &mut Vec<Drawn>) {
    let mut lines: Vec<String> = b.danger.iter().map(|d| format!("Do not drive: {d}")).collect();
    lines.push(b.step.clone());
    if b.kind != "none" {
        lines.push(format!("{}; in all {}", pounds(b.cost), pounds(b.expected)));
    }
    let me = out.len();
    out.push(Drawn { lines, from, depth });
    for twig in &b.results {
        match &twig.then {
            Some(then) => boxes(then, Some((me, label(twig))), depth + 1, out),
            None => out.push(Drawn { lines: vec!["done".into()], from: Some((me, label(twig))), depth: depth + 1 }),
        }
    }
}

/// The plan in DOT, the graph language.
pub(super) fn as_dot(plan: &Branch) -> String {
    let quoted = |s: &str| s.replace('\\', "\\\\").replace('"', "\\\"");
    let mut all = Vec::new();
    boxes(plan, None, 0, &mut all);
    let mut out = String::from("digraph plan {\n  rankdir=LR;\n  node [shape=box];\n");
    for (i, b) in all.iter().enumerate() {
        let text: Vec<String> = b.lines.iter().map(|l| quoted(l)).collect();
        let _ = writeln!(out, "  n{i} [label=\"{}\"];", text.join("\\n"));
        if let Some((from, answer)) = &b.from {
            let _ = writeln!(out, "  n{from} -> n{i} [label=\"{}\"];", quoted(answer));
        }
    }
    out.push_str("}\n");
    out
}

/// The plan as one SVG drawing that needs nothing else: a line of boxes from top to bottom, further in for each step.
pub(super) fn as_svg(plan: &Branch) -> String {
    const LINE: usize = 18;
    const STEP: usize = 36;
    const GAP: usize = 14;
    let safe = |s: &str| s.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    let mut all = Vec::new();
    boxes(plan, None, 0, &mut all);
    let width = |b: &Drawn| 20 + 8 * b.lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
    let mut tops = Vec::with_capacity(all.len());
    let (mut y, mut widest) = (10, 0);
    let mut body = String::new();
    for b in &all {
        let x = 10 + STEP * b.depth;
        if let Some((from, answer)) = &b.from {
            let (fx, fy): (usize, usize) = tops[*from];
            y += LINE;
            let _ = writeln!(
                body,
                "<path d=\"M{} {fy}V{}H{x}\" fill=\"none\" stroke=\"#555\"/><text x=\"{}\" y=\"{}\" font-style=\"italic\">{}</text>",
                fx + 12,
                y + LINE / 2,
                x + 2,
                y - 5,
                safe(answer)
            );
        }
        let height = LINE * b.lines.len() + 8;
        let _ = writeln!(
            body,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{}\" height=\"{height}\" fill=\"#fff\" stroke=\"#222\"/>",
            width(b)
        );
        for (i, line) in b.lines.iter().enumerate() {
            let _ = writeln!(body, "<text x=\"{}\" y=\"{}\">{}</text>", x + 8, y + LINE * (i + 1) - 2, safe(line));
        }
        tops.push((x, y + height));
        widest = widest.max(x + width(b));
        y += height + GAP;
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{y}\" font-family=\"sans-serif\" font-size=\"14\">\n<title>Plan</title>\n{body}</svg>\n",
        widest + 10
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::tree::Twig;

    fn sample() -> Branch {
        let leaf = |step: &str, danger: Option<&str>| Branch {
            kind: "repair",
            step: step.into(),
            danger: danger.map(str::to_owned),
            hazards: vec!["live wires".into()],
            cost: 250,
            expected: 400,
            runner_up: None,
            results: Vec::new(),
            cut: true,
        };
        Branch {
            kind: "check",
            cut: false,
            results: vec![
                Twig {
                    answer: "yes",
                    probability: Some(0.25),
                    then: Some(leaf("fit a \"new\" <bulb>", Some("no brakes"))),
                },
                Twig { answer: "no", probability: Some(0.75), then: Some(leaf("clean the earth", None)) },
            ],
            runner_up: Some(("look & see".into(), 500)),
            ..leaf("try the lamp", None)
        }
    }

    #[test]
    fn a_danger_stands_before_its_step() {
        let text = as_text(&sample());
        let at = |s: &str| text.find(s).expect("in the text");
        assert!(at("Do not drive: no brakes") < at("fit a"), "{text}");
        assert!(text.contains("yes (25 %)") && text.contains("next best, 5.00: look & see"), "{text}");
    }

    #[test]
    fn drawings_escape_what_their_language_reads() {
        assert!(as_dot(&sample()).contains("fit a \\\"new\\\" <bulb>"));
        let svg = as_svg(&sample());
        assert!(svg.contains("&lt;bulb&gt;") && !svg.contains("<bulb>"));
        assert_eq!(svg.matches("<rect").count(), 3);
    }
}
