//! `lookup`: an entry of the knowledge with its neighbours and source, as text.

use std::fmt::Write as _;

use super::screen::doubt;
use super::wrap::wrap;
use crate::knowledge::book::{Book, Head, Item, Node};
use crate::report::{nearest, visible};

/// The entry of an id or name, as text.
///
/// # Errors
/// A sentence with the nearest names, if there is none.
pub(super) fn entry(book: &Book, words: &str) -> Result<String, String> {
    let words = words.trim();
    if words.is_empty() {
        return Err(
            "Say what to look up: an id or a name, such as `reversing switch stuck open` or `splice`.".to_owned()
        );
    }
    let wanted = words.to_lowercase();
    let id = wanted.replace(' ', "-");
    let hit = |head: &Head| head.id == id || head.name.to_lowercase() == wanted;
    let mut out = String::new();
    for term in book.terms.iter().filter(|t| hit(&t.head) || t.also.iter().any(|a| a.to_lowercase() == wanted)) {
        say(&mut out, "term", &term.head);
        para(&mut out, &term.means);
        if !term.also.is_empty() {
            para(&mut out, &format!("Also: {}.", term.also.join(", ")));
        }
        source(&mut out, book, &term.head);
    }
    let nodes = (0..book.faults.len()).map(Node::Fault);
    let nodes =
        nodes.chain((0..book.conditions.len()).map(Node::Condition)).chain((0..book.signs.len()).map(Node::Sign));
    for node in nodes.filter(|n| hit(book.head(*n))) {
        let head = book.head(node);
        let kind = match node {
            Node::Fault(_) => "fault",
            Node::Condition(_) => "condition",
            Node::Sign(_) => "sign",
        };
        say(&mut out, kind, head);
        neighbours(&mut out, book, node);
        source(&mut out, book, head);
    }
    for check in book.checks.iter().filter(|c| hit(&c.head)) {
        say(&mut out, "check", &check.head);
        for (i, step) in check.steps.iter().enumerate() {
            let _ = writeln!(out, "{}", wrap(step, 80, &format!("  {}. ", i + 1), "     "));
        }
        for read in &check.reads {
            let sign = book.signs.get(&read.sign.id).map_or(read.sign.id.as_str(), |s| s.head.name.as_str());
            para(&mut out, &format!("Settles: {sign}."));
        }
        source(&mut out, book, &check.head);
    }
    for remedy in book.remedies.iter().filter(|r| hit(&r.head)) {
        say(&mut out, "remedy", &remedy.head);
        for (i, step) in remedy.steps.iter().enumerate() {
            let _ = writeln!(out, "{}", wrap(step, 80, &format!("  {}. ", i + 1), "     "));
        }
        source(&mut out, book, &remedy.head);
    }
    for part in book.parts.iter().filter(|p| hit(&p.head)) {
        say(&mut out, "part", &part.head);
        if !part.designation.is_empty() {
            para(&mut out, &part.designation);
        }
        para(&mut out, &format!("{} to {}, usually {} days.", part.price.0, part.price.1, part.lead_days));
        source(&mut out, book, &part.head);
    }
    for caution in book.cautions.iter().filter(|c| hit(&c.head)) {
        say(&mut out, "caution", &caution.head);
        para(&mut out, &caution.what_to_do);
        source(&mut out, book, &caution.head);
    }
    let of_section = |item: &Item| item.section == wanted || format!("{} {}", item.section, item.defect) == wanted;
    for item in book.items.iter().filter(|i| hit(&i.head) || of_section(i)) {
        say(&mut out, "test item", &item.head);
        para(&mut out, &item_line(item));
        for sign in book.signs.iter().filter(|s| s.items.iter().any(|r| r.id == item.head.id)) {
            para(&mut out, &format!("seen as: {} (`{}`)", sign.head.name, sign.head.id));
        }
        if !item.not_tied.is_empty() {
            para(&mut out, &format!("No sign stands for it: {}", item.not_tied));
        }
        source(&mut out, book, &item.head);
    }
    if out.is_empty() { Err(nothing(book, &id, words)) } else { Ok(out) }
}

fn nothing(book: &Book, id: &str, words: &str) -> String {
    let ids = book.faults.ids().chain(book.conditions.ids()).chain(book.signs.ids()).chain(book.checks.ids());
    let ids = ids.chain(book.parts.ids()).chain(book.terms.ids()).chain(book.remedies.ids()).chain(book.cautions.ids());
    let near = nearest(id, ids).map_or(String::new(), |n| format!("; nearest is `{n}`"));
    format!("Nothing here is called “{}”{near}.", visible(words))
}

fn say(out: &mut String, kind: &str, head: &Head) {
    let _ = writeln!(
        out,
        "{}",
        wrap(&format!("{} ({kind} `{}`)", crate::session::view::capital(&head.name), head.id), 80, "", "  ")
    );
    if !head.about.is_empty() {
        para(out, &head.about);
    }
}

fn para(out: &mut String, text: &str) {
    let _ = writeln!(out, "{}", wrap(text, 80, "  ", "  "));
}

fn source(out: &mut String, book: &Book, head: &Head) {
    if let Some(s) = book.sources.get(&head.source.id) {
        let where_ = if s.where_.is_empty() { String::new() } else { format!("; {}", s.where_) };
        para(out, &format!("Source: {}{where_}.", s.head.name));
    }
}

/// A line of the manual in a sentence: where, how grave, limit, for whom, and how sure the text is.
fn item_line(item: &Item) -> String {
    let mut text = format!("{} manual, {} {}: {}", item.manual, item.section, item.defect, item.category);
    if !item.limit.is_empty() {
        let _ = write!(text, ", limit: {}", item.limit);
    }
    if !item.note.is_empty() {
        let _ = write!(text, " ({})", item.note);
    }
    if let Some(doubt) = doubt(&item.certainty) {
        let _ = write!(text, " ({doubt})");
    }
    text.push('.');
    text
}

fn neighbours(out: &mut String, book: &Book, node: Node) {
    for link in book.links.iter().filter(|l| l.to == node) {
        let verb = if link.inhibits { "hidden by" } else { "from" };
        para(out, &format!("{verb} {} ({:.2})", book.head(link.from).name, link.strength.get()));
    }
    for link in book.links.iter().filter(|l| l.from == node) {
        let verb = if link.inhibits { "hides" } else { "brings about" };
        para(out, &format!("{verb} {} ({:.2})", book.head(link.to).name, link.strength.get()));
    }
    if let Node::Sign(s) = node {
        for item in book.signs.at(s).items.iter().filter_map(|r| book.items.get(&r.id)) {
            para(out, &format!("at the test: {}", item_line(item)));
        }
    }
    if let Node::Fault(f) = node {
        for remedy in &book.faults.at(f).remedies {
            if let Some(r) = book.remedies.get(&remedy.id) {
                para(out, &format!("put right by: {}", r.head.name));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::embed;

    #[test]
    fn a_section_of_the_manual_is_found_by_its_number_and_its_signs_name_it_with_doubts() {
        let book = &embed::book();
        let section = entry(book, "4.8.2").expect("a section of the manual");
        assert!(section.contains("rear-reflector-missing") && section.contains("cars manual, 4.8.2 a(ii): major"));
        let sign = entry(book, "rear-reflector-missing").expect("a sign");
        assert!(sign.contains("older edition: ask"), "{sign}");
        assert!(entry(book, "4.8.22").is_err());
    }
}
