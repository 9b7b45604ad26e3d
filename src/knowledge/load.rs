//! Puts the book together: parses every file, lays layers over one another entry by entry, reads the entries, ties the links.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::book::*;
use super::entries::{self, WrittenLink};
use super::fields::{Fields, number};
use super::{Book, Files, rules};
use crate::report::{At, FileId, Problem, Severity, Sources, nearest, visible};

/// The kinds of entry, in the order they are read: what others refer to comes first.
pub const KINDS: [&str; 18] = [
    "scale",
    "source",
    "rate",
    "trait",
    "place",
    "kit",
    "caution",
    "set-up",
    "part",
    "item",
    "fault",
    "condition",
    "sign",
    "phrase",
    "check",
    "remedy",
    "term",
    "alike",
];

/// A book, everything wrong with it, and the texts the problems point into.
#[derive(Debug, Default)]
pub struct Loaded {
    /// What could be made of the files.
    pub book: Book,
    /// Everything wrong.
    pub problems: Vec<Problem>,
    /// The texts.
    pub sources: Sources,
}

impl Loaded {
    /// Whether any problem makes the book unfit for use.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|p| p.severity == Severity::Error)
    }
}

/// One entry as written.
struct Raw<'t> {
    file: FileId,
    /// The id in its heading.
    span: Range<usize>,
    system: String,
    table: &'t DeTable<'t>,
}

/// By kind and id.
type Raws<'t> = BTreeMap<(&'static str, String), Raw<'t>>;

/// Loads the book and checks all of it.
pub fn load(files: &Files) -> Loaded {
    let mut sources = Sources::default();
    let mut problems = Vec::new();
    let mut parsed = Vec::new();
    let mut texts = Vec::new();
    for (layer, files) in files.layers.iter().enumerate() {
        for file in files {
            let id = sources.add(file.name.clone(), file.text.clone().unwrap_or_default());
            match &file.text {
                Ok(text) => texts.push((layer, id, file.path.as_str(), text.as_str())),
                Err(why) => problems.push(
                    Problem::error("K001", format!("{}: {why}", file.name), None).help("mend or remove the file"),
                ),
            }
        }
    }
    for (layer, file, path, text) in texts {
        let (table, errors) = DeTable::parse_recoverable(text);
        problems.extend(errors.iter().map(|e| syntax_problem(file, e)));
        parsed.push((layer, file, path, table));
    }
    let mut raws: Raws<'_> = BTreeMap::new();
    let mut layer_of: BTreeMap<(&'static str, String), usize> = BTreeMap::new();
    for (layer, file, path, table) in &parsed {
        gather(*layer, *file, path, table.get_ref(), &mut raws, &mut layer_of, &mut problems);
    }
    let mut book = Book::default();
    let mut written = Vec::new();
    for kind in KINDS {
        read_kind(kind, &raws, &mut book, &mut written, &mut problems);
    }
    tie(&mut book, written, &mut problems);
    rules::check(&book, &mut problems);
    Loaded { book, problems, sources }
}

fn syntax_problem(file: FileId, error: &toml::de::Error) -> Problem {
    let at = At { file, span: error.span().unwrap_or(0..0) };
    Problem::error("K001", error.message().to_owned(), at)
        .help("text stands in straight double quotes, lists in [ ], and each `key = value` on its own line")
}

/// Notes where every entry of a file stands; complains of unknown kinds, bad ids and ids used twice.
fn gather<'t>(
    layer: usize,
    file: FileId,
    path: &str,
    table: &'t DeTable<'t>,
    raws: &mut Raws<'t>,
    layer_of: &mut BTreeMap<(&'static str, String), usize>,
    problems: &mut Vec<Problem>,
) {
    let system = visible(path.split_once('/').map_or("", |(folder, _)| folder));
    for (kind_key, entries) in table.iter() {
        let name = kind_key.get_ref().as_ref();
        let at = At { file, span: kind_key.span() };
        let Some(kind) = KINDS.into_iter().find(|k| *k == name) else {
            let mut problem = Problem::error("K002", format!("there is no kind of entry called `{name}`"), at);
            if let Some(near) = nearest(name, KINDS) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            problems.push(problem.help(format!("a heading is `[kind.id]`; kinds are: {}", KINDS.join(", "))));
            continue;
        };
        let DeValue::Table(entries) = entries.get_ref() else {
            problems.push(Problem::error("K002", format!("`{name}` needs a heading `[{name}.id]`"), at));
            continue;
        };
        for (id_key, value) in entries.iter() {
            let id = id_key.get_ref().as_ref();
            let at = At { file, span: id_key.span() };
            let DeValue::Table(table) = value.get_ref() else {
                problems.push(Problem::error("K002", format!("`{id}` needs a heading `[{name}.{id}]`"), at));
                continue;
            };
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
            if id.is_empty() || !id.chars().all(plain) || id.starts_with('-') || id.len() > 80 {
                problems.push(
                    Problem::error("K006", format!("`{id}` is not a good id"), at)
                        .help("small letters, figures and hyphens, at most 80: `horn-push-corroded`"),
                );
                continue;
            }
            let key = (kind, id.to_owned());
            if let Some(first) = raws.get(&key)
                && layer_of.get(&key) == Some(&layer)
            {
                let first_at = At { file: first.file, span: first.span.clone() };
                problems.push(
                    Problem::error("K103", format!("there are two {kind}s called `{id}`"), at)
                        .label("second")
                        .also(first_at, "first")
                        .help("rename one of them, or make one entry of the two"),
                );
                continue;
            }
            layer_of.insert(key.clone(), layer);
            raws.insert(key, Raw { file, span: id_key.span(), system: system.clone(), table });
        }
    }
}

fn read_kind(
    kind: &'static str,
    raws: &Raws<'_>,
    book: &mut Book,
    written: &mut Vec<WrittenLink>,
    problems: &mut Vec<Problem>,
) {
    let range = (kind, String::new())..;
    for ((_, id), raw) in raws.range(range).take_while(|((k, _), _)| *k == kind) {
        let f = &mut Fields::new(raw.file, format!("{kind}.{id}"), raw.span.clone(), raw.table, &mut *problems);
        let system = raw.system.as_str();
        match kind {
            "scale" => scale(f, id, book),
            "source" => {
                let source = entries::source(f, id, system);
                book.sources.push(id, source);
            }
            "alike" => {
                let words = f.need_list("words", "words that mean the same").into_iter().map(|r| r.id).collect();
                book.alike.push(id, Alike { word: id.replace('-', " "), words });
            }
            _ => {
                let head = entries::head(f, id, system);
                match kind {
                    "place" => {
                        let known = |kind: &str| raws.contains_key(&("place", kind.to_owned()));
                        let kind = entries::place_kind(f, head, book, known);
                        book.places.push(id, kind);
                    }
                    "trait" => {
                        let t = entries::trait_(f, head);
                        book.traits.push(id, t);
                    }
                    "rate" => {
                        let rate = entries::rate(f, head);
                        book.rates.push(id, rate);
                    }
                    "kit" => {
                        let kit = entries::kit(f, head);
                        book.kit.push(id, kit);
                    }
                    "caution" => {
                        let what_to_do = f.need_text("do");
                        book.cautions.push(id, Caution { what_to_do, head });
                    }
                    "set-up" => {
                        let set_up = entries::set_up(f, head, book);
                        book.set_ups.push(id, set_up);
                    }
                    "part" => {
                        let part = entries::part(f, head);
                        book.parts.push(id, part);
                    }
                    "item" => {
                        let item = entries::item(f, head, book);
                        book.items.push(id, item);
                    }
                    "fault" => {
                        entries::links(f, &head, book, written);
                        let fault = entries::fault(f, head, book);
                        book.faults.push(id, fault);
                    }
                    "condition" => {
                        entries::links(f, &head, book, written);
                        let condition = entries::condition(f, head, book);
                        book.conditions.push(id, condition);
                    }
                    "sign" => {
                        entries::links(f, &head, book, written);
                        let sign = entries::sign(f, head, book);
                        book.signs.push(id, sign);
                    }
                    "phrase" => {
                        let phrase = entries::phrase(f, head, book);
                        book.phrases.push(id, phrase);
                    }
                    "check" => {
                        let check = entries::check(f, head, book);
                        book.checks.push(id, check);
                    }
                    "remedy" => {
                        let remedy = entries::remedy(f, head, book);
                        book.remedies.push(id, remedy);
                    }
                    _ => {
                        let means = f.need_text("means");
                        let also = f.texts("also");
                        book.terms.push(id, Term { means, also, head });
                    }
                }
            }
        }
        f.finish();
    }
}

fn scale(f: &mut Fields<'_, '_>, id: &str, book: &mut Book) {
    f.text("about");
    f.reference("source");
    let at = f.at();
    let words = f.raw("words");
    let Some(list) = book.scale.list_mut(id) else {
        f.report(
            Problem::error("K006", format!("no scale is called `{id}`"), at)
                .help("the scales are strength, prior and reliability"),
        );
        return;
    };
    let Some(words) = words else { return };
    let DeValue::Table(table) = words.get_ref() else { return };
    for (word, value) in table.iter() {
        match number(value.get_ref()).filter(|n| (0.0..=1.0).contains(n)) {
            Some(n) => {
                list.insert(word.get_ref().to_string(), n);
            }
            None => {
                let at = f.at_span(value.span());
                f.report(
                    Problem::error("K201", format!("`{}` is not a number from 0 to 1", word.get_ref()), at)
                        .help("a scale word stands for a number from 0 (never) to 1 (always), such as 0.85"),
                );
            }
        }
    }
}

/// Turns written links into links between nodes; complains of unknown ends and links written twice.
fn tie(book: &mut Book, written: Vec<WrittenLink>, problems: &mut Vec<Problem>) {
    let mut links = Vec::with_capacity(written.len());
    let nodes = book.nodes_by_id();
    for link in written {
        let (Some(&here), Some(&other)) = (nodes.get(link.here.as_str()), nodes.get(link.other.id.as_str())) else {
            if !link.other.id.is_empty() {
                let all = book.faults.ids().chain(book.conditions.ids()).chain(book.signs.ids());
                problems.push(rules::unknown("fault, condition or sign", &link.other, all));
            }
            continue;
        };
        let (from, to) = if link.at_cause { (here, other) } else { (other, here) };
        if matches!(to, Node::Fault(_)) {
            problems.push(
                Problem::error("K105", "a fault is a root cause: nothing brings it about", link.other.at.clone())
                    .help("make it a condition, or turn the link round"),
            );
            continue;
        }
        if matches!(from, Node::Sign(_)) {
            problems.push(
                Problem::error("K105", "a sign brings nothing about", link.other.at.clone())
                    .help("link from the fault or condition behind the sign"),
            );
            continue;
        }
        links.push(Link {
            from,
            to,
            place: link.place,
            end: link.end,
            side: link.side,
            strength: link.strength,
            inhibits: link.inhibits,
            when: link.when,
            source: link.source,
            at: link.other.at,
        });
    }
    links.sort_by_key(|l| (l.from, l.at.file, l.at.span.start));
    book.links = links;
}
