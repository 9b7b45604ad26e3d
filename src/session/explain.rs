//! Longer answers of the talk, line by line: what was said, why the next step, help.

use super::view::{Heard, capital};
use super::{Assessment, Trace};
use crate::inference::Weight;

/// Every answer so far, one a line.
pub(super) fn answers(trace: &Trace<'_>) -> Vec<String> {
    let lines: Vec<String> = (0..trace.answers().len())
        .map(|i| {
            let view = trace.answer_view(i);
            format!("{}. {} {}", view.number, view.what, view.said)
        })
        .collect();
    if lines.is_empty() { vec!["Nothing has been answered yet.".to_owned()] } else { lines }
}

/// Why this step, and how the answers moved the leading causes.
pub(super) fn why(trace: &Trace<'_>, assessment: &Assessment) -> Vec<String> {
    let mut lines = Vec::new();
    let view = trace.view(Ok(assessment), &Heard::default());
    if let Some(next) = &view.next {
        lines.push(format!("Why {}?", next.name));
        lines.extend(next.why.iter().map(|w| format!("  {w}")));
        for outcome in &next.outcomes {
            let leads = match (&outcome.leads_to, outcome.leads_to_probability) {
                (Some(cause), Some(p)) => format!(": then most likely {cause}, {}", percent(p)),
                _ => String::new(),
            };
            lines.push(format!("  {} ({} likely){leads}.", capital(&outcome.answer), percent(outcome.probability)));
        }
    }
    let leading = &assessment.ranked[..assessment.ranked.len().min(3)];
    let weights = trace.weights(&leading.iter().map(|r| r.var).collect::<Vec<_>>());
    for (cause, ranked) in leading.iter().enumerate() {
        let history = trace.history(ranked.var);
        lines.push(format!("{}:", capital(&trace.fitted.name(ranked.var, trace.book))));
        lines.push(format!("  {} before anything was said", percent(history[0])));
        for (i, pair) in history.windows(2).enumerate() {
            if (pair[1] - pair[0]).abs() >= 0.005 {
                let answer = trace.answer_view(i);
                let odds = odds(weights[i][cause]);
                let after = percent(pair[1]);
                lines.push(format!("  {after} after {}. {} {}{odds}", answer.number, answer.what, answer.said));
            }
        }
        if let Some(cause) = view.causes.iter().find(|c| c.id == trace.fitted.id(ranked.var, trace.book)) {
            if !cause.about.is_empty() {
                lines.push(format!("  {}", cause.about));
            }
            if !cause.source.is_empty() {
                lines.push(format!("  Source: {}.", cause.source));
            }
        }
    }
    lines
}

/// How much an answer moved the odds of a cause, in two figures; nothing where it moved them by less than a tenth or all the way.
fn odds(weight: Weight) -> String {
    let times = weight.times();
    let figure = |x: f64| {
        if x < 9.95 {
            return format!("{x:.1}");
        }
        let unit = 10_f64.powi(x.log10().floor() as i32 - 1);
        format!("{:.0}", (x / unit).round() * unit)
    };
    match times {
        t if !t.is_finite() || t == 0.0 => String::new(),
        t if t >= 1.1 => format!(": odds times {}", figure(t)),
        t if t <= 1.0 / 1.1 => format!(": odds divided by {}", figure(1.0 / t)),
        _ => String::new(),
    }
}

/// A probability in whole per cent; small and great ones are not rounded to nought or a hundred.
fn percent(p: f64) -> String {
    if p > 0.0 && p < 0.005 {
        "under 1 %".to_owned()
    } else if (0.995..1.0).contains(&p) {
        "over 99 %".to_owned()
    } else {
        format!("{:.0} %", p * 100.0)
    }
}

/// What can be typed.
pub(super) fn help() -> Vec<String> {
    [
        "y: yes; n: no; d: don't know; c: can't do that here; or a number where one is asked for.",
        "w: why this step, and what moved the causes; causes: the whole list of causes.",
        "plan: the next three steps, and what follows from each answer.",
        "u: take the last answer back; a: all answers so far; s: summary with parts list.",
        "also WORDS: another symptom; q: stop (Ctrl-D does the same).",
        "A new symptom in your own words can be typed at any time.",
    ]
    .map(str::to_owned)
    .to_vec()
}
