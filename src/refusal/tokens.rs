//! Words of a refusal line or of the manual in comparable form: lower case, British spelling of the trade's groups, stems.
//!
//! Takes text; gives words, and terms of a [`Vocabulary`]. Never judges what a word means for a vehicle.

use std::collections::HashMap;

use rust_stemmers::{Algorithm, Stemmer};

use crate::knowledge::book::Book;

/// Most words read of one line.
const MOST_WORDS: usize = 60;
/// Words that say nothing of a defect.
const EMPTY: &[&str] = &[
    "a", "an", "you", "your", "for", "and", "any", "are", "as", "at", "be", "been", "by", "e", "g", "has", "have", "i",
    "in", "is", "it", "its", "of", "on", "or", "so", "such", "that", "the", "to", "was", "which", "with",
];
/// How testers write and how the book writes: single words. Common practice.
const SAME: &[(&str, &str)] = &[
    ("adjustment", "adjust"),
    ("below", "under"),
    ("broken", "damaged"),
    ("calliper", "caliper"),
    ("chafing", "chafed"),
    ("corrosion", "corroded"),
    ("corrosive", "corroded"),
    ("damage", "damaged"),
    ("deteriorated", "damaged"),
    ("detached", "adrift"),
    ("excessive", "badly"),
    ("excessively", "badly"),
    ("exhausted", "worn"),
    ("fractured", "cracked"),
    ("headlight", "headlamp"),
    ("illegible", "unreadable"),
    ("inoperative", "dead"),
    ("insecure", "loose"),
    ("kingpin", "king"),
    ("leaks", "leak"),
    ("leaking", "leak"),
    ("leakage", "leak"),
    ("light", "lamp"),
    ("lights", "lamps"),
    ("plates", "plate"),
    ("requirements", "minimum"),
    ("required", "minimum"),
    ("rusted", "corroded"),
    ("rusty", "corroded"),
    ("rust", "corroded"),
    ("seriously", "badly"),
    ("severely", "badly"),
    ("significantly", "badly"),
    ("unserviceable", "dead"),
    ("unlit", "dead"),
    ("wear", "worn"),
];
/// The same in several words.
const PHRASES: &[(&str, &str)] = &[
    ("does not work", "dead"),
    ("does not sound", "dead"),
    ("does not light", "dead"),
    ("does not illuminate", "dead"),
    ("does not function", "dead"),
    ("does not operate", "dead"),
    ("failed to work", "dead"),
    ("is out", "dead"),
    ("not functioning", "dead"),
    ("not illuminating", "dead"),
    ("not lighting", "dead"),
    ("not operating", "dead"),
    ("not working", "dead"),
    ("number plate", "registration plate"),
    ("hand brake", "parking brake"),
    ("foot brake", "service brake"),
    ("side lamp", "position lamp"),
    ("tail lamp", "rear position lamp"),
    ("brake lamp", "stop lamp"),
    ("fails to work", "dead"),
    ("free play", "play"),
    ("main beam", "main-beam"),
    ("dipped beam", "dipped-beam"),
    ("shock absorber", "damper"),
    ("structural strength", "structure weak"),
    ("strength reduced", "structure weak"),
    ("prescribed area", "structure near"),
    ("load bearing", "structure"),
    ("wind screen", "windscreen"),
    ("less than", "under"),
];

/// The words of a text in lower case; a mark such as the stroke of "n/s" parts words.
pub fn words(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    let cut = lower.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    cut.map(|w| w.trim_matches('\'').to_owned()).filter(|w| !w.is_empty()).take(MOST_WORDS).collect()
}

/// Every term known, and how words come to them.
pub(super) struct Vocabulary {
    stemmer: Stemmer,
    /// Words and short expressions that stand for others.
    same: HashMap<String, Vec<String>>,
    ids: HashMap<String, u32>,
    names: Vec<String>,
}

impl Vocabulary {
    /// Takes the book's groups of words with the same meaning.
    pub(super) fn new(book: &Book) -> Vocabulary {
        let mut same: HashMap<String, Vec<String>> = HashMap::new();
        let key = |text: &str| words(text).join(" ");
        for group in book.alike.iter() {
            // A group goes by the word that stands for its own word, so that no two words stand for each other.
            let stands = SAME.iter().find(|(from, _)| *from == group.word).map_or(group.word.as_str(), |(_, to)| to);
            for word in &group.words {
                // Longer sayings are what people type of a symptom, not what a tester writes.
                let cut = words(word);
                if (1..=2).contains(&cut.len()) && cut.join(" ") != stands {
                    same.entry(cut.join(" ")).or_insert_with(|| words(stands));
                }
            }
        }
        for (from, to) in SAME.iter().chain(PHRASES) {
            same.insert(key(from), words(to));
        }
        Vocabulary { stemmer: Stemmer::create(Algorithm::English), same, ids: HashMap::new(), names: Vec::new() }
    }

    /// Words brought to those they stand for, then to stems.
    pub(super) fn stems(&self, words: &[String]) -> Vec<String> {
        let first = self.replaced(words, 3);
        // What a word stands for may be part of an expression: "brake light" is "brake lamp" is "stop lamp".
        let second = self.replaced(&first, 3);
        let kept = second.iter().filter(|w| !EMPTY.contains(&w.as_str()));
        kept.map(|w| self.stemmer.stem(w).into_owned()).collect()
    }

    fn replaced(&self, words: &[String], longest: usize) -> Vec<String> {
        let mut out = Vec::new();
        let mut at = 0;
        'words: while at < words.len() {
            for n in (1..=longest.min(words.len() - at)).rev() {
                if let Some(to) = self.same.get(&words[at..at + n].join(" ")) {
                    out.extend(to.iter().cloned());
                    at += n;
                    continue 'words;
                }
            }
            out.push(words[at].clone());
            at += 1;
        }
        out
    }

    /// Learns a stem.
    pub(super) fn learn(&mut self, stem: &str) -> u32 {
        if let Some(id) = self.ids.get(stem) {
            return *id;
        }
        let id = self.names.len() as u32;
        self.ids.insert(stem.to_owned(), id);
        self.names.push(stem.to_owned());
        id
    }

    /// Whether a stem is known as it stands.
    pub(super) fn knows(&self, stem: &str) -> bool {
        self.ids.contains_key(stem)
    }

    /// The term of a stem, misspellings mended; `None` for a stranger.
    pub(super) fn known(&self, stem: &str) -> Option<u32> {
        self.ids.get(stem).copied().or_else(|| self.mended(stem))
    }

    fn mended(&self, stem: &str) -> Option<u32> {
        let length = stem.chars().count();
        if !(4..=24).contains(&length) || stem.bytes().any(|b| b.is_ascii_digit()) {
            return None;
        }
        let most = if length < 7 { 1 } else { 2 };
        let near = self.names.iter().enumerate().filter(|(_, n)| n.len() >= 3 && n.len().abs_diff(stem.len()) <= most);
        let scored = near.map(|(i, n)| (strsim::osa_distance(stem, n), first_differs(stem, n), i as u32));
        scored.filter(|s| s.0 <= most).min().map(|s| s.2)
    }

    /// How many.
    pub(super) fn len(&self) -> usize {
        self.names.len()
    }
}

/// People seldom miss the first letter.
fn first_differs(a: &str, b: &str) -> bool {
    a.chars().next() != b.chars().next()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::embed;

    #[test]
    fn a_misspelt_word_is_mended_and_a_stranger_is_not() {
        let mut vocabulary = Vocabulary::new(&embed::book());
        let of = |v: &Vocabulary, text: &str| v.stems(&words(text));
        for stem in of(&vocabulary, "headlamp corroded efficiency") {
            vocabulary.learn(&stem);
        }
        for (typed, meant) in [("efficency", "efficiency"), ("headlight", "headlamp"), ("rusty", "corroded")] {
            let term = |text: &str| vocabulary.known(&of(&vocabulary, text)[0]);
            assert!(term(typed).is_some() && term(typed) == term(meant), "{typed}");
        }
        assert_eq!(vocabulary.known("zebra"), None);
    }
}
