//! A word or expression of a text, as the rest of this module sees it.
//!
//! Plain data: what it stands for, what it does in a statement, and where it was read. Never interprets anything.

use super::normalise::Joint;
use super::place_words::Mark;

/// A stem, by number.
pub(super) type Term = u32;
/// The term of a word that is not in the vocabulary.
pub(super) const NO_TERM: Term = Term::MAX;

/// What a piece does in a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Names a part or a function: what the statement is about.
    Component,
    /// Says how it is amiss.
    State,
    /// Gives light: amiss or well, as the case may be.
    Lit,
    /// Says only that it is amiss.
    Generic,
    /// Says that it is well.
    Good,
    /// Only of use inside an expression.
    Light,
    /// "Only", "when", "if": no praise is meant.
    Hedge,
    /// Front, rear, nearside, offside.
    Place,
    /// One, all, other.
    Quantity,
    /// When and where it was noticed: the weather, the test, the vehicle itself.
    Circumstance,
    /// A figure.
    Number,
    /// A word nobody here knows.
    Unknown,
}

/// A word or expression that carries meaning.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    /// Its stem.
    pub term: Term,
    /// What it does.
    pub kind: Kind,
    /// What stood before it.
    pub joint: Joint,
    /// First token of the text it was read from.
    pub first: u32,
    /// Last token.
    pub last: u32,
    /// The place it names, if it does.
    pub mark: Option<Mark>,
    /// It stands behind "when", "after", "since" and the like: a circumstance of what was said before.
    pub passing: bool,
    /// A "no" before a noun, not a "not" before a verb.
    pub nominal: bool,
    /// Named as several: "wipers".
    pub plural: bool,
    /// It is the vehicle itself.
    pub vehicle: bool,
}

impl Piece {
    /// A piece of one term read from the token `at`, nothing else known of it.
    pub fn plain(term: Term, kind: Kind, at: u32) -> Piece {
        Piece {
            term,
            kind,
            joint: Joint::Plain,
            first: at,
            last: at,
            mark: None,
            passing: false,
            nominal: false,
            plural: false,
            vehicle: false,
        }
    }
}
