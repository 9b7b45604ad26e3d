//! What a sound book must satisfy beyond its entries being readable: names that exist, ids used once, no loops, nothing that dangles.
//!
//! | code | says |
//! |---|---|
//! | K001 | a file or a line of it cannot be read |
//! | K002 | a kind of entry that does not exist |
//! | K003 | a key that does not exist |
//! | K004 | something missing |
//! | K005 | a value of the wrong sort |
//! | K006 | a word that is not one of the allowed ones |
//! | K101 | a name that does not exist |
//! | K102 | a word a trait never has |
//! | K103 | an id used twice |
//! | K104 | a link written twice |
//! | K105 | a link the wrong way round |
//! | K106 | a loop |
//! | K201 | not a probability, or not a number |
//! | K202 | numbers that contradict one another |
//! | K203 | a word no scale has |
//! | K204 | a measured reading without a limit |
//! | K301 | no source |
//! | K501 | a sign that nothing causes |
//! | K502 | a fault that nothing shows |
//! | K503 | a check that settles nothing |
//! | K504 | a part, caution or remedy that nothing needs |
//! | K505 | a condition that leads nowhere, or comes from nowhere |
//! | K506 | a sign nobody can report and no check reads |
//! | K507 | a fault without a remedy |
//! | K508 | a test item without a sign and without a reason |
//! | K509 | the same wording for two things |
//!
//! K5xx are warnings: the book works, and somebody should look.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use petgraph::algo::tarjan_scc;
use petgraph::graph::{DiGraph, NodeIndex};

use super::Book;
use super::book::*;
use crate::report::{Problem, nearest};

/// Checks the whole book and adds what is wrong.
pub(super) fn check(book: &Book, problems: &mut Vec<Problem>) {
    one_id_per_node(book, problems);
    references(book, problems);
    links_once(book, problems);
    laid_by_listed(book, problems);
    loops(book, problems);
    dangling(book, problems);
    needed(book, problems);
    items(book, problems);
    wordings(book, problems);
}

/// A name that does not exist, with the nearest that does.
pub(super) fn unknown<'a>(kind: &str, reference: &Ref, candidates: impl IntoIterator<Item = &'a str>) -> Problem {
    let mut problem = Problem::error("K101", format!("no {kind} is called `{}`", reference.id), reference.at.clone())
        .label("written here");
    if let Some(near) = nearest(&reference.id, candidates) {
        problem = problem.help(format!("did you mean `{near}`?"));
    }
    problem.help(format!("if it is new, write its entry first; {kind} ids stand in the headings"))
}

fn one_id_per_node(book: &Book, problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<&str, (&'static str, &Head)> = BTreeMap::new();
    let faults = book.faults.iter().map(|f| ("fault", &f.head));
    let conditions = book.conditions.iter().map(|c| ("condition", &c.head));
    let signs = book.signs.iter().map(|s| ("sign", &s.head));
    for (kind, head) in faults.chain(conditions).chain(signs) {
        if let Some((other, first)) = seen.insert(&head.id, (kind, head)) {
            problems.push(
                Problem::error("K103", format!("`{}` is both a {other} and a {kind}", head.id), head.at.clone())
                    .label("second")
                    .also(first.at.clone(), "first")
                    .help("faults, conditions and signs share one list of ids: rename one"),
            );
        }
    }
}

fn need<T>(shelf: &Shelf<T>, kind: &str, reference: &Ref, problems: &mut Vec<Problem>) {
    if !reference.id.is_empty() && shelf.get(&reference.id).is_none() {
        problems.push(unknown(kind, reference, shelf.ids()));
    }
}

fn references(book: &Book, problems: &mut Vec<Problem>) {
    let p = problems;
    let source = |r: &Ref, p: &mut Vec<Problem>| need(&book.sources, "source", r, p);
    for f in book.faults.iter() {
        source(&f.head.source, p);
        f.remedies.iter().for_each(|r| need(&book.remedies, "remedy", r, p));
        f.looks_like.iter().for_each(|r| need(&book.faults, "fault", r, p));
    }
    book.conditions.iter().for_each(|c| source(&c.head.source, p));
    for s in book.signs.iter() {
        source(&s.head.source, p);
        s.items.iter().for_each(|r| need(&book.items, "item", r, p));
    }
    for phrase in book.phrases.iter() {
        source(&phrase.head.source, p);
        phrase.reads.iter().for_each(|r| need(&book.signs, "sign", &r.sign, p));
    }
    for check in book.checks.iter() {
        source(&check.head.source, p);
        need(&book.set_ups, "set-up", &check.set_up, p);
        check.reads.iter().for_each(|r| need(&book.signs, "sign", &r.sign, p));
        check.kit.iter().for_each(|r| need(&book.kit, "kit", r, p));
        check.cautions.iter().for_each(|r| need(&book.cautions, "caution", r, p));
    }
    for remedy in book.remedies.iter() {
        source(&remedy.head.source, p);
        need(&book.set_ups, "set-up", &remedy.set_up, p);
        need(&book.checks, "check", &remedy.proved_by, p);
        remedy.parts.iter().for_each(|r| need(&book.parts, "part", &r.part, p));
        remedy.kit.iter().for_each(|r| need(&book.kit, "kit", r, p));
        remedy.cautions.iter().for_each(|r| need(&book.cautions, "caution", r, p));
    }
    for set_up in book.set_ups.iter() {
        source(&set_up.head.source, p);
        set_up.kit.iter().for_each(|r| need(&book.kit, "kit", r, p));
        set_up.cautions.iter().for_each(|r| need(&book.cautions, "caution", r, p));
        set_up.spoilt_by.iter().for_each(|r| need(&book.signs, "sign", r, p));
    }
    let heads = book.parts.iter().map(|x| &x.head);
    let heads = heads.chain(book.cautions.iter().map(|x| &x.head)).chain(book.kit.iter().map(|x| &x.head));
    let heads = heads.chain(book.terms.iter().map(|x| &x.head)).chain(book.items.iter().map(|x| &x.head));
    let heads = heads.chain(book.traits.iter().map(|x| &x.head)).chain(book.places.iter().map(|x| &x.head));
    let heads = heads.chain(book.rates.iter().map(|x| &x.head));
    heads.for_each(|h| source(&h.source, p));
    // A link without a source of its own has that of the entry it stands in, which is looked at there.
    let inherits = |l: &Link| [l.from, l.to].iter().any(|n| book.head(*n).source.at == l.source.at);
    book.links.iter().filter(|l| !inherits(l)).for_each(|l| source(&l.source, p));
    for t in book.traits.iter() {
        if let Some(kind) = &t.keeps
            && book.places.get(kind).is_none()
        {
            p.push(unknown("kind of place", &Ref { id: kind.clone(), at: t.head.at.clone() }, book.places.ids()));
        }
    }
}

/// A kind of place may be laid out by kinds that vehicles list, never by one that is itself laid out.
fn laid_by_listed(book: &Book, problems: &mut Vec<Problem>) {
    for place in book.places.iter() {
        for laid in &place.laid {
            if book.places.get(&laid.each.kind).is_some_and(|base| !base.laid.is_empty()) {
                let said = format!("`{}` is laid out by `{}`, which is laid out itself", place.head.id, laid.each.kind);
                problems.push(
                    Problem::error("K105", said, place.head.at.clone())
                        .help("name a kind that vehicle files list, such as `wheel` or `side`"),
                );
            }
        }
    }
}

fn links_once(book: &Book, problems: &mut Vec<Problem>) {
    let mut by_ends: BTreeMap<(Node, Node), Vec<&Link>> = BTreeMap::new();
    for link in &book.links {
        let same = by_ends.entry((link.from, link.to)).or_default();
        let twin = same
            .iter()
            .find(|l| l.place == link.place && l.end == link.end && l.side == link.side && l.when == link.when);
        if let Some(twin) = twin {
            let (from, to) = (&book.head(link.from).id, &book.head(link.to).id);
            problems.push(
                Problem::error("K104", format!("the link from `{from}` to `{to}` is written twice"), link.at.clone())
                    .label("second")
                    .also(twin.at.clone(), "first")
                    .help("a link is written once, at the cause or at the effect: take one away"),
            );
        }
        same.push(link);
    }
}

fn loops(book: &Book, problems: &mut Vec<Problem>) {
    let mut graph: DiGraph<Node, ()> = DiGraph::new();
    let mut index: BTreeMap<Node, NodeIndex> = BTreeMap::new();
    for link in &book.links {
        let a = *index.entry(link.from).or_insert_with(|| graph.add_node(link.from));
        let b = *index.entry(link.to).or_insert_with(|| graph.add_node(link.to));
        graph.add_edge(a, b, ());
    }
    for component in tarjan_scc(&graph) {
        let members: HashSet<NodeIndex> = component.iter().copied().collect();
        let looped = component.len() > 1 || graph.contains_edge(component[0], component[0]);
        if !looped {
            continue;
        }
        // Walk inside the component until a node comes round again: that is one loop, in order.
        let start = component.iter().copied().min_by_key(|n| &book.head(graph[*n]).id).unwrap_or(component[0]);
        let mut path = vec![start];
        let mut seen = HashSet::from([start]);
        let mut here = start;
        while let Some(next) =
            graph.neighbors(here).filter(|n| members.contains(n)).min_by_key(|n| &book.head(graph[*n]).id)
        {
            path.push(next);
            if !seen.insert(next) {
                break;
            }
            here = next;
        }
        let last = path.last().copied().unwrap_or(start);
        let from = path.iter().position(|n| *n == last).unwrap_or(0);
        let names: Vec<&str> = path[from..].iter().map(|n| book.head(graph[*n]).id.as_str()).collect();
        let mut problem = Problem::error(
            "K106",
            format!("these bring one another about in a loop: {}", names.join(" → ")),
            book.head(graph[last]).at.clone(),
        )
        .help("causes run one way, fault → condition → sign: take one of these links out");
        for n in &path[from + 1..path.len() - 1] {
            problem = problem.also(book.head(graph[*n]).at.clone(), "in the loop");
        }
        problems.push(problem);
    }
}

fn dangling(book: &Book, problems: &mut Vec<Problem>) {
    let caused: HashSet<Node> = book.links.iter().filter(|l| !l.inhibits).map(|l| l.to).collect();
    let read: HashSet<&str> = book.checks.iter().flat_map(|c| &c.reads).map(|r| r.sign.id.as_str()).collect();
    let told: HashSet<&str> = book.phrases.iter().flat_map(|p| &p.reads).map(|r| r.sign.id.as_str()).collect();
    for (i, sign) in book.signs.iter().enumerate() {
        let id = sign.head.id.as_str();
        if !caused.contains(&Node::Sign(i)) {
            problems.push(
                Problem::warning("K501", format!("nothing causes the sign `{id}`"), sign.head.at.clone())
                    .help("name it under `causes` of a fault or condition, or give it `caused-by`"),
            );
        }
        if !read.contains(id) && !told.contains(id) && sign.said.is_empty() {
            problems.push(
                Problem::warning(
                    "K506",
                    format!("nobody can report `{id}` and no check reads it"),
                    sign.head.at.clone(),
                )
                .help("give it `said`, or a check that reads it, or take it out"),
            );
        }
    }
    // What can be seen of each node: walk the links backwards from signs somebody can see.
    let mut shown: HashSet<Node> = HashSet::new();
    let mut todo: Vec<Node> = Vec::new();
    for (i, sign) in book.signs.iter().enumerate() {
        let id = sign.head.id.as_str();
        if read.contains(id) || told.contains(id) || !sign.said.is_empty() {
            todo.push(Node::Sign(i));
        }
    }
    let mut back: BTreeMap<Node, Vec<Node>> = BTreeMap::new();
    for link in &book.links {
        back.entry(link.to).or_default().push(link.from);
    }
    while let Some(node) = todo.pop() {
        if shown.insert(node) {
            todo.extend(back.get(&node).into_iter().flatten().copied());
        }
    }
    for (i, fault) in book.faults.iter().enumerate() {
        if !shown.contains(&Node::Fault(i)) {
            problems.push(
                Problem::warning("K502", format!("nothing shows the fault `{}`", fault.head.id), fault.head.at.clone())
                    .help("say under `causes` what it brings about that can be seen, heard, felt or measured"),
            );
        }
        if fault.remedies.is_empty() {
            problems.push(
                Problem::warning("K507", format!("the fault `{}` has no remedy", fault.head.id), fault.head.at.clone())
                    .help("add `remedies`, if only to hand it to a specialist"),
            );
        }
    }
    for (i, condition) in book.conditions.iter().enumerate() {
        let node = Node::Condition(i);
        let id = &condition.head.id;
        if !shown.contains(&node) {
            problems.push(
                Problem::warning(
                    "K505",
                    format!("the condition `{id}` leads to nothing anybody can see"),
                    condition.head.at.clone(),
                )
                .help("say under `causes` what it brings about"),
            );
        }
        if !caused.contains(&node) && condition.leak.get() == 0.0 {
            problems.push(
                Problem::warning(
                    "K505",
                    format!("nothing brings the condition `{id}` about"),
                    condition.head.at.clone(),
                )
                .help("link a fault to it"),
            );
        }
    }
    for check in book.checks.iter().filter(|c| c.reads.is_empty()) {
        problems.push(
            Problem::warning("K503", format!("the check `{}` settles nothing", check.head.id), check.head.at.clone())
                .help(format!("add `[[check.{}.reads]]` with the sign it settles and the question", check.head.id)),
        );
    }
}

fn needed(book: &Book, problems: &mut Vec<Problem>) {
    let parts: BTreeSet<&str> = book.remedies.iter().flat_map(|r| &r.parts).map(|p| p.part.id.as_str()).collect();
    for part in book.parts.iter().filter(|p| !parts.contains(p.head.id.as_str())) {
        problems.push(
            Problem::warning("K504", format!("nobody needs the part `{}`", part.head.id), part.head.at.clone())
                .help("name it under `parts` of a remedy, or take it out"),
        );
    }
    let uses = book.checks.iter().flat_map(|c| &c.cautions);
    let uses = uses.chain(book.remedies.iter().flat_map(|r| &r.cautions));
    let uses = uses.chain(book.set_ups.iter().flat_map(|s| &s.cautions));
    let cautions: BTreeSet<&str> = uses.map(|r| r.id.as_str()).collect();
    for caution in book.cautions.iter().filter(|c| !cautions.contains(c.head.id.as_str())) {
        problems.push(
            Problem::warning(
                "K504",
                format!("no step needs the caution `{}`", caution.head.id),
                caution.head.at.clone(),
            )
            .help("name it under `cautions` of a check, remedy or set-up, or take it out"),
        );
    }
    let proved: BTreeSet<&str> = book.faults.iter().flat_map(|f| &f.remedies).map(|r| r.id.as_str()).collect();
    for remedy in book.remedies.iter().filter(|r| !proved.contains(r.head.id.as_str())) {
        problems.push(
            Problem::warning("K504", format!("no fault names the remedy `{}`", remedy.head.id), remedy.head.at.clone())
                .help("name it under `remedies` of a fault, or take it out"),
        );
    }
}

fn items(book: &Book, problems: &mut Vec<Problem>) {
    let tied: BTreeSet<&str> = book.signs.iter().flat_map(|s| &s.items).map(|r| r.id.as_str()).collect();
    for item in book.items.iter() {
        let is_tied = tied.contains(item.head.id.as_str());
        if !is_tied && item.not_tied.is_empty() {
            problems.push(
                Problem::warning(
                    "K508",
                    format!("no sign is tied to the test item `{}`", item.head.id),
                    item.head.at.clone(),
                )
                .help("name it under `items` of the sign that is the defect, or say why not in `not-tied`"),
            );
        } else if is_tied && !item.not_tied.is_empty() {
            problems.push(
                Problem::warning(
                    "K508",
                    format!("`{}` is tied to a sign all the same", item.head.id),
                    item.head.at.clone(),
                )
                .help("take `not-tied` out"),
            );
        }
    }
}

fn wordings(book: &Book, problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<String, &Head> = BTreeMap::new();
    let signs = book.signs.iter().map(|s| (&s.head, &s.said));
    let phrases = book.phrases.iter().map(|p| (&p.head, &p.said));
    for (head, said) in signs.chain(phrases) {
        for wording in said {
            if let Some(first) = seen.insert(wording.to_lowercase(), head) {
                problems.push(
                    Problem::warning(
                        "K509",
                        format!("“{wording}” is said of both `{}` and `{}`", first.id, head.id),
                        head.at.clone(),
                    )
                    .also(first.at.clone(), "also here")
                    .help("one wording leads to one thing: take it out of one, or make it more exact"),
                );
            }
        }
    }
}
