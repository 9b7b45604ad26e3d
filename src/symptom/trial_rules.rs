//! What the reading of a text must keep apart, rule by rule, on the small vocabulary of the trial.
//!
//! Only for tests. The texts are this project's own.

use super::trial::{entries, groups, index};
use super::{Alike, End, Index, Side, Thesaurus, Verdict, Wordings};

fn first(index: &Index, text: &str) -> usize {
    index.read(text).clauses.first().and_then(|c| c.offers.first()).map_or(0, |o| o.key)
}

fn small(wordings: &[&str], groups: &[(&str, &[&str])]) -> Index {
    let entries = wordings.iter().enumerate().map(|(key, name)| Wordings {
        key: key + 1,
        name: (*name).to_owned(),
        said: Vec::new(),
        weight: 1.0,
    });
    let groups = groups.iter().map(|(word, words)| Alike {
        word: (*word).to_owned(),
        words: words.iter().map(|w| (*w).to_owned()).collect(),
    });
    Index::new(entries.collect(), Thesaurus::new(groups))
}

#[test]
fn a_part_is_not_its_whole() {
    let groups: &[(&str, &[&str])] = &[("speedometer", &["clock"]), ("instrument panel", &["clocks", "dash"])];
    let index = small(&["dash dead", "speedometer dead"], groups);
    let heard = index.read("speedometer dead please");
    assert_eq!(heard.clauses[0].offers[0].key, 2);
    assert!(heard.clauses[0].offers.iter().all(|o| o.key == 2 || o.score < 0.4), "{heard:?}");
}

#[test]
fn several_without_a_side_are_all_and_a_side_is_one() {
    let index = index();
    for (text, key) in [
        ("brake lights not working", 25),
        ("brake light not working", 24),
        ("tail lights out", 22),
        ("nearside tail light out", 21),
    ] {
        assert_eq!(first(&index, text), key, "{text}");
    }
}

#[test]
fn circumstances_do_not_wreck_a_match_nor_make_one() {
    let index = index();
    for text in [
        "horn not working after the van stood in heavy rain",
        "failed mot on horn not working",
        "horn not working, test is in a fortnight",
        "horn on my old van not working",
    ] {
        let heard = index.read(text);
        assert_eq!(heard.clauses.len(), 1, "{text}: {heard:?}");
        assert_eq!(heard.clauses[0].offers[0].key, 1, "{text}: {heard:?}");
        assert!(heard.clauses[0].offers[0].score > 0.5, "{text}: {heard:?}");
    }
    let with = small(&["pump dead", "pump dead since new loom"], &[]);
    assert_eq!(first(&with, "pump is dead since a new loom"), 2);
    assert_eq!(first(&with, "the pump is dead"), 1);
}

#[test]
fn what_the_knowledge_does_not_hold_is_unknown() {
    let mut groups = groups();
    groups.push(Alike { word: "gearbox".into(), words: vec!["transmission".into()] });
    let index = Index::new(entries(), Thesaurus::new(groups));
    for text in ["gearbox dead", "transmission noisy", "horn gearbox dead", "crunchy gearbox, stiff"] {
        let heard = index.read(text);
        let offers = heard.clauses.iter().flat_map(|c| &c.offers);
        assert!(heard.clauses.iter().all(|c| c.verdict == Verdict::Unknown), "{text}: {heard:?}");
        assert!(offers.into_iter().all(|o| o.score < 0.35), "{text}: {heard:?}");
    }
}

#[test]
fn what_works_reaches_the_plain_sign_of_that_item_at_that_place() {
    let index = index();
    let heard = index.read("left indicator dead, other side fine");
    assert_eq!(heard.clauses.len(), 2, "{heard:?}");
    let praise = &heard.clauses[1];
    assert!(praise.good && praise.place.side == Some(Side::Offside), "{heard:?}");
    assert_eq!(praise.offers[0].key, 40, "{heard:?}");
    let lit = index.read("tail lights fine");
    assert!(lit.clauses[0].good && lit.clauses[0].offers[0].key == 20, "{lit:?}");
}

#[test]
fn no_before_a_noun_is_not_the_not_of_a_verb() {
    assert_eq!(first(&index(), "no stop lights at all"), 25);
}

#[test]
fn names_that_hold_a_place_give_it() {
    let index = index();
    assert_eq!(index.read("tail light flickers").clauses[0].place.end, Some(End::Rear));
    let place = index.read("back left light out").clauses[0].place;
    assert_eq!((place.side, place.end), (Some(Side::Nearside), Some(End::Rear)));
    assert!(!index.read("horn dead every couple of weeks").clauses[0].place.all);
    assert!(!index.read("headlamp beam all over the place").clauses[0].place.all);
    let both = index.read("left indicators both dead").clauses[0].place;
    assert_eq!(both.side, Some(Side::Nearside));
}

#[test]
fn saying_the_contrary_of_a_part_costs_much() {
    let index = index();
    for (text, right, wrong) in [
        ("stop lamp stays on", 26, 24),
        ("headlamps dim", 13, 10),
        ("indicators too fast", 41, 42),
        ("horn sounds by itself", 3, 1),
        ("wipers slow", 51, 50),
    ] {
        let heard = index.read(text);
        let offers = &heard.clauses[0].offers;
        assert_eq!(offers[0].key, right, "{text}: {offers:?}");
        assert!(offers.iter().all(|o| o.key != wrong || o.score < 0.6), "{text}: {offers:?}");
    }
}
