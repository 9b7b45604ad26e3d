//! Draws problems: message, file and line, the text underlined, and what to do.
//!
//! The drawing itself is annotate-snippets' work; here spans are forced inside the text and onto character boundaries first,
//! because that library does not forgive a span outside.

use std::ops::Range;

use annotate_snippets::{AnnotationKind, Level, Message, Renderer, Snippet};

use super::visible::visible_in_place;
use super::{At, Problem, Severity, Sources, visible};

/// At most this many problems are drawn; the rest are counted.
pub const MOST_SHOWN: usize = 40;

/// Draws every problem (up to [`MOST_SHOWN`]), errors first, in order of file and line, and a closing count.
pub fn render_all(problems: &[Problem], sources: &Sources, colour: bool) -> String {
    let mut order: Vec<&Problem> = problems.iter().collect();
    order.sort_by_key(|p| (p.severity, p.at.as_ref().map(|a| (a.file, a.span.start))));
    let mut out = String::new();
    for problem in order.iter().take(MOST_SHOWN) {
        out.push_str(&render_one(problem, sources, colour));
        out.push_str("\n\n");
    }
    if order.len() > MOST_SHOWN {
        out.push_str(&format!("… and {} more; mend these first\n\n", order.len() - MOST_SHOWN));
    }
    let errors = problems.iter().filter(|p| p.severity == Severity::Error).count();
    let warnings = problems.len() - errors;
    out.push_str(&format!("{}, {}\n", counted(errors, "error"), counted(warnings, "warning")));
    out
}

fn counted(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

/// Draws one problem.
pub fn render_one(problem: &Problem, sources: &Sources, colour: bool) -> String {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let message = visible(&problem.message);
    let label = visible(&problem.label);
    let help: Vec<String> = problem.help.iter().map(|h| visible(h)).collect();
    let also: Vec<(&At, String)> = problem.also.iter().map(|(at, l)| (at, visible(l))).collect();
    let mut group = level.primary_title(message.as_str()).id(problem.code).elements(std::iter::empty::<Message<'_>>());
    if let Some(at) = &problem.at
        && let Some((name, text)) = sources.get(at.file)
    {
        let mut snippet = Snippet::source(visible_in_place(text))
            .path(visible(name))
            .line_start(1)
            .annotation(AnnotationKind::Primary.span(clamp_span(text, &at.span)).label(label.as_str()));
        for (other, l) in also.iter().filter(|(o, _)| o.file == at.file) {
            snippet = snippet.annotation(AnnotationKind::Context.span(clamp_span(text, &other.span)).label(l.as_str()));
        }
        group = group.element(snippet);
        for (other, l) in also.iter().filter(|(o, _)| o.file != at.file) {
            if let Some((name, text)) = sources.get(other.file) {
                group = group.element(
                    Snippet::source(visible_in_place(text))
                        .path(visible(name))
                        .line_start(1)
                        .annotation(AnnotationKind::Context.span(clamp_span(text, &other.span)).label(l.as_str())),
                );
            }
        }
    }
    for line in &help {
        group = group.element(Level::HELP.message(line.as_str()));
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    renderer.render(&[group]).to_string()
}

/// Forces a span inside the text and onto character boundaries.
pub(crate) fn clamp_span(text: &str, span: &Range<usize>) -> Range<usize> {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_past_the_end_or_inside_a_letter_is_drawn_without_fuss() {
        let mut sources = Sources::default();
        let file = sources.add("é.toml", "é = 1\n");
        for span in [0..1, 1..2, 4..900, 900..901] {
            let text = render_one(&Problem::error("K001", "odd", At { file, span }).help("mend it"), &sources, false);
            assert!(text.contains("K001") && text.contains("mend it"), "{text}");
        }
    }

    #[test]
    fn the_closing_count_names_errors_and_warnings() {
        let sources = Sources::default();
        let text =
            render_all(&[Problem::error("K001", "a", None), Problem::warning("K501", "b", None)], &sources, false);
        assert!(text.ends_with("1 error, 1 warning\n"), "{text}");
    }
}
