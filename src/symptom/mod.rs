//! What somebody types about a vehicle, turned into the signs and phrases of the knowledge.
//!
//! Takes the wordings of every sign and phrase and a thesaurus of words that mean the same; gives, for a typed text, its
//! clauses, and for each clause the entries it most likely means, the place it names and whether the match is safe.
//! Knows nothing of vehicles, graphs or files, and never decides for the person: an uncertain match says so.
//!
//! The way of a text: cleaned and cut into words (`normalise`), misspellings mended (`spelling`), places read off
//! (`place_words`), words and expressions that mean the same made one (`lexicon`), statements told apart (`clauses`) and
//! each weighed against every wording (`ranking`).

mod clauses;
mod common_words;
mod index;
mod lexicon;
mod negation;
mod normalise;
mod piece;
mod place_words;
mod quick_hash;
mod ranking;
mod spelling;
mod text_fold;
mod thesaurus;

#[cfg(test)]
mod trial;
#[cfg(test)]
mod trial_rules;

pub use index::{CLEAR, FLOOR, Index};
pub use place_words::{End, Handed, PlaceWords, Side};
pub use thesaurus::{Alike, Clash, Thesaurus};

/// How one sign or phrase may be said.
#[derive(Clone, Debug, PartialEq)]
pub struct Wordings {
    /// The caller's own number for it, given back in [`Offer::key`].
    pub key: usize,
    /// Its name, itself a wording.
    pub name: String,
    /// Other ways of saying it.
    pub said: Vec<String>,
    /// A small nudge among near equals: 1 is normal, 2 much likelier, 0 much less likely.
    pub weight: f64,
}

/// What was understood of a text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// The statements found, in the order they were made; at most 12.
    pub clauses: Vec<Clause>,
    /// Words that helped nothing, as typed, each once; at most 24.
    pub not_understood: Vec<String>,
}

/// One statement of a text.
#[derive(Clone, Debug, PartialEq)]
pub struct Clause {
    /// The words of it, as typed; words it shares with a neighbour are added.
    pub text: String,
    /// The entries it may mean, best first, at most 9.
    pub offers: Vec<Offer>,
    /// The place it names.
    pub place: PlaceWords,
    /// Whether the first offer may be taken.
    pub verdict: Verdict,
    /// The statement says that this is *well* ("headlamps fine"): a negative finding of what it offers, no symptom.
    /// The offers may then be empty ("everything else fine").
    pub good: bool,
}

/// How far the first offer of a clause may be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The first offer stands well above the floor and above the second.
    Clear,
    /// The first two are too close, or the first is middling: ask.
    Ambiguous,
    /// Nothing above the floor of 0.4; the offers are only the nearest there are.
    Unknown,
}

/// An entry that a clause may mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// [`Wordings::key`] of the entry.
    pub key: usize,
    /// Likeness from 0 to 1: 0.55 and more is good, below 0.4 is nothing.
    pub score: f64,
    /// The wording of the entry that matched best.
    pub because: String,
}
