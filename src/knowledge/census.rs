//! Counts the book: entries of each kind, by system and in all, and how far the manual is covered.

use std::collections::{BTreeMap, BTreeSet};

use super::Book;

/// How many entries of each kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Counts {
    pub faults: usize,
    pub conditions: usize,
    pub signs: usize,
    /// Wordings that people type, over signs and phrases.
    pub phrases: usize,
    /// Entries of the kind `phrase`.
    pub phrase_entries: usize,
    pub checks: usize,
    pub remedies: usize,
    pub parts: usize,
    pub cautions: usize,
    pub terms: usize,
    pub sources: usize,
    pub links: usize,
    pub items: usize,
}

/// Coverage of one section of the manual.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Coverage {
    /// Lines of the manual in the section.
    pub items: usize,
    /// Those tied to a sign.
    pub tied: usize,
    /// Those not tied, with the reason.
    pub not_tied: Vec<(String, String)>,
}

/// The whole count.
#[derive(Clone, Debug, Default)]
pub struct Census {
    /// Over the whole book.
    pub all: Counts,
    /// By system (folder); what stands at the top is under `general`.
    pub systems: BTreeMap<String, Counts>,
    /// By section of the manual ("4.6").
    pub sections: BTreeMap<String, Coverage>,
}

/// Counts a book.
pub fn count(book: &Book) -> Census {
    let mut census = Census::default();
    let mut add = |system: &str, f: &dyn Fn(&mut Counts)| {
        let system = if system.is_empty() { "general" } else { system };
        f(census.systems.entry(system.to_owned()).or_default());
        f(&mut census.all);
    };
    book.faults.iter().for_each(|x| add(&x.head.system, &|c| c.faults += 1));
    book.conditions.iter().for_each(|x| add(&x.head.system, &|c| c.conditions += 1));
    for x in book.signs.iter() {
        add(&x.head.system, &|c| {
            c.signs += 1;
            c.phrases += x.said.len();
        });
    }
    for x in book.phrases.iter() {
        add(&x.head.system, &|c| {
            c.phrase_entries += 1;
            c.phrases += x.said.len();
        });
    }
    book.checks.iter().for_each(|x| add(&x.head.system, &|c| c.checks += 1));
    book.remedies.iter().for_each(|x| add(&x.head.system, &|c| c.remedies += 1));
    book.parts.iter().for_each(|x| add(&x.head.system, &|c| c.parts += 1));
    book.cautions.iter().for_each(|x| add(&x.head.system, &|c| c.cautions += 1));
    book.terms.iter().for_each(|x| add(&x.head.system, &|c| c.terms += 1));
    book.sources.iter().for_each(|x| add(&x.head.system, &|c| c.sources += 1));
    book.items.iter().for_each(|x| add(&x.head.system, &|c| c.items += 1));
    book.links.iter().for_each(|l| add(&book.head(l.from).system, &|c| c.links += 1));
    let tied: BTreeSet<&str> = book.signs.iter().flat_map(|s| &s.items).map(|r| r.id.as_str()).collect();
    for item in book.items.iter() {
        let section: Vec<&str> = item.section.split('.').take(2).collect();
        let coverage = census.sections.entry(section.join(".")).or_default();
        coverage.items += 1;
        if tied.contains(item.head.id.as_str()) {
            coverage.tied += 1;
        } else {
            coverage.not_tied.push((item.head.id.clone(), item.not_tied.clone()));
        }
    }
    census
}
