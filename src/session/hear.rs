//! Typed words to sign readings on one vehicle: which sign or phrase, at which place.

use std::sync::{Mutex, OnceLock, PoisonError};
use std::thread::JoinHandle;

use super::cited::{Cited, cited, meant};
use crate::graph::net::Var;
use crate::graph::{Fitted, What};
use crate::knowledge::book::{Book, Node, Sign};
use crate::knowledge::{End, Position, Relation, Side};
use crate::symptom::{self, Alike, Handed, Index, PlaceWords, Thesaurus, Verdict, Wordings};

/// A sign or phrase that words may mean, by its place on the shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Target {
    /// A sign.
    Sign(usize),
    /// A phrase.
    Phrase(usize),
}

/// The ear: the book's wordings, indexed once. The index is made beside the main thread, so that the prompt opens without waiting for it.
pub struct Ear {
    index: OnceLock<Index>,
    making: Mutex<Option<JoinHandle<Index>>>,
    targets: Vec<Target>,
}

/// One statement, with what it may mean on this vehicle.
#[derive(Clone, Debug)]
pub struct Hearing {
    /// The words.
    pub words: String,
    /// What they may mean here, best first, with score and the wording matched.
    pub offers: Vec<(Target, f64, String)>,
    /// Whether the first may be taken, must be asked about, or nothing fits.
    pub verdict: Verdict,
    /// The place named.
    pub place: PlaceWords,
    /// It was said to be well: no symptom.
    pub good: bool,
    /// A better match that this vehicle has no place or part for.
    pub not_on_vehicle: Option<Target>,
}

/// How well a sign tied to the reference of a line fits, whatever its words.
const OF_THE_LINE: f64 = 0.7;

/// How much better something this vehicle lacks must fit before it is spoken of.
const CLEARLY_BETTER: f64 = 0.12;

impl Ear {
    /// Indexes every sign that can be reported and every phrase; the word groups make the thesaurus.
    pub fn new(book: &Book) -> Ear {
        let mut entries = Vec::new();
        let mut targets = Vec::new();
        let mut add = |target: Target, name: &str, said: &[String]| {
            entries.push(Wordings { key: targets.len(), name: name.to_owned(), said: said.to_vec(), weight: 1.0 });
            targets.push(target);
        };
        for (i, sign) in book.signs.iter().enumerate().filter(|(_, s)| s.not_in_book.is_some()) {
            add(Target::Sign(i), &sign.head.name, &sign.said);
        }
        for (i, phrase) in book.phrases.iter().enumerate() {
            add(Target::Phrase(i), &phrase.head.name, &phrase.said);
        }
        let alike = |word: &str, words: &[String]| Alike { word: word.to_owned(), words: words.to_vec() };
        let words: Vec<Alike> = book.alike.iter().map(|a| alike(&a.word, &a.words)).collect();
        let named_otherwise = book.terms.iter().filter(|t| !t.also.is_empty());
        let terms: Vec<Alike> = named_otherwise.map(|t| alike(&t.head.name, &t.also)).collect();
        let make = move || Index::new(entries, Thesaurus::new(words).and_glossary(terms));
        let making = std::thread::spawn(make);
        Ear { index: OnceLock::new(), making: Mutex::new(Some(making)), targets }
    }

    /// The index, waited for if it is still being made.
    fn index(&self) -> &Index {
        self.index.get_or_init(|| {
            let making = self.making.lock().unwrap_or_else(PoisonError::into_inner).take();
            match making.map(JoinHandle::join) {
                Some(Ok(index)) => index,
                Some(Err(panic)) => std::panic::resume_unwind(panic),
                // Taken once, and then the index is there.
                None => unreachable!("the index is made once"),
            }
        })
    }

    /// Hears a text on a vehicle; also gives the words that helped nothing. A reference to the manual ("1.2.1 (f)") says which signs are meant.
    pub fn hear(&self, text: &str, book: &Book, fitted: &Fitted) -> (Vec<Hearing>, Vec<String>) {
        let references = cited(text, book);
        let Some(last) = references.last() else { return self.hear_words(text, book, fitted) };
        let (mut hearings, mut not_understood) = (Vec::new(), Vec::new());
        let mut from = 0;
        for (i, reference) in references.iter().enumerate() {
            // A refusal line ends with its reference, as a rule; one that stands first is followed by its words.
            let before = text[from..reference.span.start].trim();
            let next = references.get(i + 1).map_or(text.len(), |r| r.span.start);
            let words = if before.is_empty() { text[reference.span.end..next].trim() } else { before };
            from = if before.is_empty() { next } else { reference.span.end };
            let (said, strange) = self.hear_words(words, book, fitted);
            hearings.extend(self.line_of_the_manual(reference, words, said, book, fitted));
            not_understood.extend(strange);
        }
        if from == last.span.end && !text[from..].trim().is_empty() {
            let (said, strange) = self.hear_words(&text[from..], book, fitted);
            hearings.extend(said);
            not_understood.extend(strange);
        }
        (hearings, not_understood)
    }

    /// What a line with a reference may mean: the signs tied to the reference, in the order in which the words fit them, then what the words
    /// alone may mean. Without a tied sign on this vehicle the words alone count.
    fn line_of_the_manual(
        &self,
        reference: &Cited,
        words: &str,
        said: Vec<Hearing>,
        book: &Book,
        fitted: &Fitted,
    ) -> Vec<Hearing> {
        let items = meant(reference, book, &fitted.vehicle);
        let tied = |sign: &Sign| sign.items.iter().any(|r| items.iter().any(|i| i.head.id == r.id));
        let spoken = |target: Target| {
            let offers = said.iter().flat_map(|h| &h.offers);
            offers.filter(|o| o.0 == target).map(|o| o.1).fold(0.0, f64::max)
        };
        let mut offers: Vec<(Target, f64, String)> = book
            .signs
            .iter()
            .enumerate()
            .filter(|(_, sign)| tied(sign))
            .map(|(i, sign)| (Target::Sign(i), sign))
            .filter(|(target, _)| !places(*target, book, fitted).is_empty())
            .map(|(target, sign)| (target, OF_THE_LINE + (1.0 - OF_THE_LINE) * spoken(target), sign.head.name.clone()))
            .collect();
        if offers.is_empty() {
            return said;
        }
        offers.sort_by(|a, b| b.1.total_cmp(&a.1));
        let ahead = offers.get(1).is_none_or(|second| offers[0].1 - second.1 > CLEARLY_BETTER * (1.0 - OF_THE_LINE));
        let others = said.iter().flat_map(|h| h.offers.iter().cloned());
        let others: Vec<_> = others.filter(|o| offers.iter().all(|t| t.0 != o.0)).collect();
        offers.extend(others.into_iter().map(|(target, score, because)| (target, OF_THE_LINE * score, because)));
        let place = said.iter().map(|h| h.place).find(|p| *p != PlaceWords::default()).unwrap_or_default();
        let verdict = if ahead { Verdict::Clear } else { Verdict::Ambiguous };
        let words = if words.is_empty() { reference.section.clone() } else { words.to_owned() };
        vec![Hearing { words, offers, verdict, place, good: false, not_on_vehicle: None }]
    }

    fn hear_words(&self, text: &str, book: &Book, fitted: &Fitted) -> (Vec<Hearing>, Vec<String>) {
        let handed = if fitted.vehicle.value("steering") == Some("handlebar") { Handed::UK_CENTRE } else { Handed::UK };
        let heard = self.index().read_as(text, handed);
        let hearings = heard.clauses.into_iter().map(|clause| {
            let all: Vec<(Target, f64, String)> = clause
                .offers
                .into_iter()
                .filter_map(|o| Some((*self.targets.get(o.key)?, o.score, o.because)))
                .collect();
            let shown: Vec<bool> = all.iter().map(|(t, ..)| !places(*t, book, fitted).is_empty()).collect();
            let here: Vec<(Target, f64, String)> =
                all.iter().zip(&shown).filter(|(_, shown)| **shown).map(|(o, _)| o.clone()).collect();
            let best_here = here.first().map_or(0.0, |o| o.1);
            let not_on_vehicle = all
                .first()
                .filter(|o| o.1 > best_here + CLEARLY_BETTER && !shown[0])
                .map(|o| o.0)
                .filter(|_| clause.verdict != Verdict::Unknown);
            let dropped_rival = here.len() != all.len() && clause.verdict == Verdict::Ambiguous;
            let alone = here.first().is_some_and(|first| {
                here.get(1).is_none_or(|second| first.1 - second.1 > CLEARLY_BETTER) && first.1 >= 0.5
            });
            let verdict = match clause.verdict {
                _ if here.is_empty() || best_here < symptom::FLOOR => Verdict::Unknown,
                Verdict::Ambiguous if dropped_rival && alone => Verdict::Clear,
                Verdict::Clear if best_here < symptom::CLEAR => Verdict::Ambiguous,
                other => other,
            };
            Hearing {
                words: clause.text,
                offers: here,
                verdict,
                place: clause.place,
                good: clause.good,
                not_on_vehicle,
            }
        });
        let mut hearings: Vec<Hearing> = hearings.collect();
        // "Started this morning and will not start now": what is amiss now counts.
        let amiss: Vec<Target> =
            hearings.iter().filter(|h| !h.good).filter_map(|h| h.offers.first()).map(|o| o.0).collect();
        hearings.retain(|h| !(h.good && h.offers.first().is_some_and(|o| amiss.contains(&o.0))));
        // The same complaint in other words is said once.
        let mut said: Vec<(Target, PlaceWords)> = Vec::new();
        hearings.retain(|h| {
            let Some(first) = h.offers.first().filter(|_| !h.good && h.verdict == Verdict::Clear) else { return true };
            let new = !said.contains(&(first.0, h.place));
            said.push((first.0, h.place));
            new
        });
        (hearings, heard.not_understood)
    }

    /// Every wording, for completion.
    pub fn wordings<'b>(&self, book: &'b Book) -> Vec<&'b str> {
        let signs = book.signs.iter().flat_map(|s| s.said.iter());
        let phrases = book.phrases.iter().flat_map(|p| p.said.iter());
        let mut all: Vec<&str> = signs.chain(phrases).map(String::as_str).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// Id and name of a target.
pub fn named(target: Target, book: &Book) -> (&str, &str) {
    let head = match target {
        Target::Sign(i) => &book.signs.at(i).head,
        Target::Phrase(i) => &book.phrases.at(i).head,
    };
    (&head.id, &head.name)
}

/// The places at which a target can be meant on this vehicle: `None` for one without place; empty where the vehicle cannot show it.
pub fn places(target: Target, book: &Book, fitted: &Fitted) -> Vec<Option<usize>> {
    match target {
        Target::Sign(i) => fitted.vars_of(Node::Sign(i)).into_iter().map(|v| fitted.placed(v).place).collect(),
        Target::Phrase(i) => {
            let phrase = book.phrases.at(i);
            if !fitted.vehicle.meets(&phrase.when) {
                return Vec::new();
            }
            let all: Vec<Option<usize>> = match &phrase.each {
                Some(each) => fitted.vehicle.places_of(each).into_iter().map(Some).collect(),
                None => vec![None],
            };
            let meant: Vec<(Option<usize>, Readings)> = all
                .into_iter()
                .map(|p| (p, readings(target, p, book, fitted)))
                .filter(|(_, readings)| readings.iter().any(|r| r.1))
                .collect();
            // A phrase that says the same wherever it is said has no place to ask for.
            match meant.as_slice() {
                [(_, first), rest @ ..] if !rest.is_empty() && rest.iter().all(|(_, r)| r == first) => vec![None],
                _ => meant.into_iter().map(|(p, _)| p).collect(),
            }
        }
    }
}

/// Signs and whether they are there.
type Readings = Vec<(Var, bool)>;

/// The sign readings of a target at a place.
pub fn readings(target: Target, place: Option<usize>, book: &Book, fitted: &Fitted) -> Readings {
    match target {
        Target::Sign(i) => fitted.var(What::Entry(Node::Sign(i)), place).map(|v| (v, true)).into_iter().collect(),
        Target::Phrase(i) => {
            let position = |p: Option<usize>| p.map(|p| fitted.vehicle.places[p].position);
            let mut out: Vec<(Var, bool)> = Vec::new();
            for read in &book.phrases.at(i).reads {
                let Some(sign) = book.signs.index(&read.sign.id) else { continue };
                for var in fitted.vars_of(Node::Sign(sign)) {
                    let at = position(fitted.placed(var).place);
                    let kept = at.is_none_or(|a| {
                        read.end.is_none_or(|e| a.end == Some(e)) && read.side.is_none_or(|s| a.side == Some(s))
                    });
                    // "Every" in a phrase that names a place still means every place of the vehicle.
                    let joins = read.place == Relation::Every || read.place.joins(position(place), at);
                    if kept && joins && !out.iter().any(|(v, _)| *v == var) {
                        out.push((var, read.present));
                    }
                }
            }
            out
        }
    }
}

/// Of some places, those that the words speak of; all of them if the words name none, or none of these.
pub fn spoken_of(words: &PlaceWords, places: &[Option<usize>], fitted: &Fitted) -> Vec<Option<usize>> {
    let side = words.side.and_then(|s| match s {
        symptom::Side::Nearside => Some(Side::Nearside),
        symptom::Side::Offside => Some(Side::Offside),
        symptom::Side::Both => None,
    });
    let end = words.end.map(|e| match e {
        symptom::End::Front => End::Front,
        symptom::End::Middle => End::Middle,
        symptom::End::Rear => End::Rear,
    });
    let position = |p: &Option<usize>| p.map_or(Position::default(), |p| fitted.vehicle.places[p].position);
    let fits = |p: &&Option<usize>| {
        let at = position(p);
        side.is_none_or(|s| at.side.is_none_or(|a| a == s)) && end.is_none_or(|e| at.end.is_none_or(|a| a == e))
    };
    let found: Vec<Option<usize>> = places.iter().filter(fits).copied().collect();
    if found.is_empty() { places.to_vec() } else { found }
}

/// Whether the words mean all the places they speak of at once.
pub fn means_all(words: &PlaceWords) -> bool {
    words.all || words.side == Some(symptom::Side::Both)
}
