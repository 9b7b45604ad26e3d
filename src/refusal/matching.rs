//! Which line of the manual a line of the sheet means.
//!
//! The manual's own texts, and the wordings of the signs tied to them, are held as bags of weighted terms; a term weighs the more the fewer
//! lines of the manual have it (Spärck Jones 1972). A line fits a text by the share of its weight found there and by the share of the text's
//! weight that it finds. Order of words does not count, so that a tester's shorthand and a typed-out line come to the same. A reference
//! outweighs the words, and is held against them. Never takes a doubtful line for granted: it gives the nearest lines and says so.

use std::collections::HashMap;

use super::place::{Spot, spot};
use super::sheet::Category;
use super::tokens::{Vocabulary, words};
use crate::knowledge::book::{Book, Item};
use crate::session::{Cited, cited};
use crate::vehicle::Vehicle;

/// Below this fit of the words alone, a line is not read as a defect.
const FLOOR: f64 = 0.36;
/// A reference whose line fits the words less than this, while another fits well, disagrees with them.
const DISAGREES: f64 = 0.20;
/// The other line fits at least so well.
const FITS_WELL: f64 = 0.55;
/// What an exact reference adds to the fit of the words, and what a section alone adds.
const EXACT: f64 = 1.0;
const SECTION: f64 = 0.5;
/// What the category of the sheet adds to a line of the manual of that category.
const CATEGORY: f64 = 0.04;
/// What a line that refuses has over a minor one where nothing else tells them apart: sheets are written of refusals. Common practice.
const USUAL: f64 = 0.02;
/// What a line of the manual that is not for this vehicle, as it is described, stands behind.
const NOT_FOR_IT: f64 = 0.12;
/// What the wording of a tied sign counts for, against the manual's own.
const OF_A_SIGN: f64 = 0.85;
/// How much of the weight of words nothing knows is held against a fit.
const STRANGER: f64 = 0.6;
/// Most candidates given.
const MOST: usize = 5;

/// A line of the manual that may be meant.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The item's place on the shelf.
    pub item: usize,
    /// Fit of words, reference and category together; 0 to about 2.
    pub score: f64,
    /// Fit of the words alone, 0 to 1.
    pub words: f64,
}

/// What a line of the sheet was read as.
#[derive(Clone, Debug, Default)]
pub struct Matched {
    /// The lines of the manual that may be meant, best first; empty if none fits.
    pub candidates: Vec<Candidate>,
    /// The reference found.
    pub reference: Option<Cited>,
    /// Whether the manual has that very reference, for this vehicle.
    pub reference_known: bool,
    /// The reference and the words speak of different things.
    pub disagree: bool,
    /// The line of the manual is not for this vehicle as it is described.
    pub not_for_it: bool,
    /// The first two are close together.
    pub doubtful: bool,
    /// The place named.
    pub spot: Spot,
    /// The defect words, without place and reference.
    pub words: String,
}

struct Document {
    item: usize,
    terms: Vec<u32>,
    /// Weight of its terms.
    whole: f64,
    share: f64,
}

/// The lines of the manual that a vehicle is tested by, ready to be matched.
pub struct Matcher<'b> {
    book: &'b Book,
    vocabulary: Vocabulary,
    documents: Vec<Document>,
    postings: HashMap<u32, Vec<usize>>,
    weights: Vec<f64>,
    /// Whether a line belongs to a manual that the vehicle is tested by.
    listed: Vec<bool>,
    /// Whether it holds for the vehicle.
    applies: Vec<bool>,
}

impl<'b> Matcher<'b> {
    /// Lays out the lines of the manual that a vehicle is tested by. Those that are not for it are kept: the tester saw the vehicle, and its
    /// description may be wrong.
    pub fn new(book: &'b Book, vehicle: &Vehicle) -> Matcher<'b> {
        let mut vocabulary = Vocabulary::new(book);
        let applies: Vec<bool> = book.items.iter().map(|i| vehicle.meets(&i.when)).collect();
        let manuals: Vec<&str> =
            book.items.iter().zip(&applies).filter(|(_, a)| **a).map(|(i, _)| i.manual.as_str()).collect();
        let listed: Vec<bool> = book.items.iter().map(|i| manuals.contains(&i.manual.as_str())).collect();
        let mut texts: Vec<(usize, Vec<u32>, f64)> = Vec::new();
        let mut add = |vocabulary: &mut Vocabulary, item: usize, text: &str, share: f64| {
            // A place in the manual's or the book's own words names a thing: "rear fog lamp".
            let stems = vocabulary.stems(&words(text));
            let mut terms: Vec<u32> = stems.iter().map(|s| vocabulary.learn(s)).collect();
            terms.sort_unstable();
            terms.dedup();
            texts.push((item, terms, share));
        };
        for (i, item) in book.items.iter().enumerate().filter(|(i, _)| listed[*i]) {
            add(&mut vocabulary, i, &item.head.name, 1.0);
        }
        for sign in book.signs.iter() {
            for item in sign.items.iter().filter_map(|r| book.items.index(&r.id)).filter(|i| listed[*i]) {
                let title = book.items.at(item).head.name.split(':').next().unwrap_or("");
                for said in std::iter::once(&sign.head.name).chain(&sign.said) {
                    add(&mut vocabulary, item, &format!("{title} {said}"), OF_A_SIGN);
                }
            }
        }
        // How many items have a term in the manual's own words.
        let mut holders = vec![0_u32; vocabulary.len()];
        let mut items = 0_u32;
        for (_, terms, share) in &texts {
            if *share == 1.0 {
                items += 1;
                terms.iter().for_each(|t| holders[*t as usize] += 1);
            }
        }
        let weight = |n: u32| (f64::from(items + 1) / f64::from(n.max(1))).ln();
        // A word of our own wordings alone is no trade word of the manual's and weighs in the middle.
        let middle = weight(10);
        let weights: Vec<f64> = holders.iter().map(|n| if *n == 0 { middle } else { weight(*n) }).collect();
        let mut postings: HashMap<u32, Vec<usize>> = HashMap::new();
        let mut documents = Vec::new();
        for (item, terms, share) in texts {
            let whole = terms.iter().map(|t| weights[*t as usize]).sum();
            terms.iter().for_each(|t| postings.entry(*t).or_default().push(documents.len()));
            documents.push(Document { item, terms, whole, share });
        }
        Matcher { book, vocabulary, documents, postings, weights, listed, applies }
    }

    /// Fit of words to every item that shares any, by the item's place on the shelf.
    fn fits(&self, line: &[String]) -> HashMap<usize, f64> {
        let stems = self.vocabulary.stems(line);
        let mut terms: Vec<u32> = Vec::new();
        let mut strangers = 0.0;
        for stem in &stems {
            match self.vocabulary.known(stem) {
                Some(term) if terms.contains(&term) => {}
                Some(term) => terms.push(term),
                None => strangers += 1.0,
            }
        }
        // Chance likenesses of words that are none of the trade's.
        let known = stems.iter().filter(|s| self.vocabulary.knows(s)).count();
        let doubtful = strangers > 0.0 && terms.len() as f64 <= strangers || known == 0 && terms.len() < 3;
        let own: f64 = terms.iter().map(|t| self.weights[*t as usize]).sum();
        let middle = 3.5;
        let asked = own + STRANGER * middle * strangers;
        let mut shared: HashMap<usize, f64> = HashMap::new();
        for term in &terms {
            for document in self.postings.get(term).map_or(&[][..], Vec::as_slice) {
                *shared.entry(*document).or_default() += self.weights[*term as usize];
            }
        }
        let mut best: HashMap<usize, f64> = HashMap::new();
        for (document, weight) in shared {
            let document = &self.documents[document];
            let (found, covered) = (weight / asked.max(1e-9), weight / document.whole.max(1e-9));
            let lone = if document.terms.len() < 2 { 0.8 } else { 1.0 };
            let strange = if doubtful { 0.5 } else { 1.0 };
            let fit = strange * document.share * lone * (0.62 * found + 0.38 * covered);
            let known = best.entry(document.item).or_default();
            *known = known.max(fit);
        }
        best
    }

    /// Reads one defect.
    pub fn read(&self, text: &str, category: Option<Category>) -> Matched {
        let plain = plain_reference(text);
        let references = cited(&plain, self.book);
        let reference = references.into_iter().next();
        let without = match &reference {
            Some(r) => format!("{} {}", &text[..r.span.start], &text[r.span.end..]),
            None => text.to_owned(),
        };
        let (spot, line) = spot(&words(&without));
        let fits = self.fits(&line);
        let mut candidates: Vec<Candidate> = Vec::new();
        let mut reference_known = false;
        let letters = |item: &Item| item.defect.chars().filter(char::is_ascii_alphanumeric).collect::<String>();
        for (i, item) in self.book.items.iter().enumerate().filter(|(i, _)| self.listed[*i]) {
            let words = fits.get(&i).copied().unwrap_or(0.0);
            let of_reference = match &reference {
                Some(r) if r.section == item.section && !r.letters.is_empty() && letters(item) == r.letters => {
                    reference_known = true;
                    EXACT
                }
                Some(r) if r.section == item.section => {
                    reference_known |= r.letters.is_empty();
                    SECTION
                }
                _ => 0.0,
            };
            let of_category =
                if category.is_some_and(|c| c.word() == item.category) && words > 0.0 { CATEGORY } else { 0.0 };
            // A superseded line stands behind the current one that says the same.
            let age = if item.certainty == "older" { 0.015 } else { 0.0 };
            let usual =
                if category.is_none_or(|c| c == Category::Advisory) && item.category != "minor" { USUAL } else { 0.0 };
            let foreign = if self.applies[i] { 0.0 } else { NOT_FOR_IT };
            let score = words + of_reference + of_category + usual - age - foreign;
            if words >= FLOOR * 0.6 || of_reference > 0.0 {
                candidates.push(Candidate { item: i, score, words });
            }
        }
        let order = |a: &Candidate, b: &Candidate| b.score.total_cmp(&a.score).then(a.item.cmp(&b.item));
        candidates.sort_by(order);
        let best_words = fits.values().copied().fold(0.0, f64::max);
        let disagree = reference.is_some()
            && candidates.first().is_some_and(|c| c.words < DISAGREES && best_words >= FITS_WELL.max(c.words + 0.3));
        if reference.is_none() && best_words < FLOOR {
            candidates.clear();
        }
        if disagree && let Some(other) = candidates.iter().position(|c| c.words == best_words && c.score < SECTION) {
            // The line that the words mean stands next, to choose from.
            let other = candidates.remove(other);
            candidates.insert(1.min(candidates.len()), other);
        }
        candidates.truncate(MOST);
        let doubtful = reference.as_ref().is_none_or(|_| !reference_known)
            && candidates.len() > 1
            && candidates[0].score - candidates[1].score < 0.03;
        let not_for_it = candidates.first().is_some_and(|c| !self.applies[c.item]);
        Matched { candidates, reference, reference_known, not_for_it, disagree, doubtful, spot, words: line.join(" ") }
    }
}

/// The text with references in the plain form that is searched for, byte for byte as long: small letters, "1.1.14.a" as "1.1.14 a".
fn plain_reference(text: &str) -> String {
    let lower = text.to_ascii_lowercase();
    let bytes = lower.as_bytes();
    let mut out = lower.clone().into_bytes();
    for i in 1..bytes.len().saturating_sub(1) {
        let parts = matches!(bytes[i], b'.' | b'-' | b'/');
        let letter_before = bytes[i - 1].is_ascii_alphabetic() && i >= 2 && matches!(bytes[i - 2], b'.' | b' ' | b'-');
        if parts && (bytes[i - 1].is_ascii_digit() || letter_before) && bytes[i + 1].is_ascii_alphabetic() {
            out[i] = b' ';
        }
        if matches!(bytes[i], b'[' | b'{') {
            out[i] = b'(';
        }
        if matches!(bytes[i], b']' | b'}') {
            out[i] = b')';
        }
    }
    String::from_utf8(out).unwrap_or(lower)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{embed, vehicle};

    fn read(text: &str) -> (Option<String>, Matched) {
        let book = embed::book();
        let van = vehicle::demo("three-wheeler", &book).expect("a demo").vehicle;
        let matched = Matcher::new(&book, &van).read(text, None);
        let first = matched.candidates.first().map(|c| book.items.at(c.item));
        (first.map(|i| format!("{} {}", i.section, i.defect)), matched)
    }

    #[test]
    fn a_reference_is_read_in_its_usual_spellings() {
        for reference in
            ["(4.3.1 (a) (iii))", "4.3.1a(iii)", "[4.3.1 A III]", "4.3.1.a.iii", "4.3.1 aiii", "(4.3.1(A)(III))"]
        {
            let (first, matched) = read(&format!("stop lamps {reference}"));
            assert_eq!(first.as_deref(), Some("4.3.1 a(iii)"), "{reference}");
            assert!(matched.reference_known && !matched.disagree, "{reference}");
        }
    }

    #[test]
    fn a_reference_that_speaks_of_something_else_than_the_words_is_told() {
        let (first, matched) = read("horn does not work (5.2.3 (e))");
        assert_eq!(first.as_deref(), Some("5.2.3 e"));
        assert!(matched.disagree);
        assert!(!read("horn does not work (7.7 (a))").1.disagree);
    }

    #[test]
    fn words_that_mean_nothing_here_are_not_read() {
        for text in ["Qv7 ?? smudge", "thank you for your custom", "", "12 Acacia Row"] {
            assert_eq!(read(text).0, None, "{text}");
        }
    }
}
