//! Positions on a vehicle, and how a link joins the place of a cause to the place of its effect.

use std::fmt;

use serde::{Deserialize, Serialize};

/// An end of the vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum End {
    /// Front.
    Front,
    /// Middle.
    Middle,
    /// Rear.
    Rear,
}

/// A side of the vehicle; nearside is the kerb side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Side {
    /// Nearside.
    Nearside,
    /// Centre.
    Centre,
    /// Offside.
    Offside,
}

impl End {
    /// Reads the word.
    pub fn named(word: &str) -> Option<End> {
        match word {
            "front" => Some(End::Front),
            "middle" => Some(End::Middle),
            "rear" => Some(End::Rear),
            _ => None,
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            End::Front => "front",
            End::Middle => "middle",
            End::Rear => "rear",
        }
    }
}

impl Side {
    /// Reads the word.
    pub fn named(word: &str) -> Option<Side> {
        match word {
            "nearside" => Some(Side::Nearside),
            "centre" => Some(Side::Centre),
            "offside" => Some(Side::Offside),
            _ => None,
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Side::Nearside => "nearside",
            Side::Centre => "centre",
            Side::Offside => "offside",
        }
    }

    /// The side across; the centre has none.
    pub fn other(self) -> Option<Side> {
        match self {
            Side::Nearside => Some(Side::Offside),
            Side::Offside => Some(Side::Nearside),
            Side::Centre => None,
        }
    }
}

/// Where a place is: an end and a side, each if it has one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Position {
    /// The end.
    pub end: Option<End>,
    /// The side.
    pub side: Option<Side>,
}

impl Position {
    /// Reads "rear nearside", "rear-nearside", "front", "offside" or "" (no position).
    pub fn parse(text: &str) -> Option<Position> {
        let mut position = Position::default();
        for word in text.split([' ', '-']).filter(|w| !w.is_empty()) {
            if let Some(end) = End::named(word) {
                if position.end.replace(end).is_some() {
                    return None;
                }
            } else if let Some(side) = Side::named(word) {
                if position.side.replace(side).is_some() {
                    return None;
                }
            } else {
                return None;
            }
        }
        Some(position)
    }

    /// The position as an id: `rear-nearside`; empty if it has neither end nor side.
    pub fn id(self) -> String {
        self.to_string().replace(' ', "-")
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.end, self.side) {
            (Some(e), Some(s)) => write!(f, "{} {}", e.word(), s.word()),
            (Some(e), None) => f.write_str(e.word()),
            (None, Some(s)) => f.write_str(s.word()),
            (None, None) => Ok(()),
        }
    }
}

/// The places an entry is laid out over: every place of a kind, or those of one end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Each {
    /// The kind of place.
    pub kind: String,
    /// Only those at this end.
    pub end: Option<End>,
}

impl Each {
    /// Reads `wheel` or `front-wheel`, given which kinds there are; a kind that itself begins with an end comes first.
    pub fn named(text: &str, known: impl Fn(&str) -> bool) -> Option<Each> {
        if known(text) {
            return Some(Each { kind: text.to_owned(), end: None });
        }
        let (end, kind) = text.split_once('-')?;
        let end = End::named(end)?;
        known(kind).then(|| Each { kind: kind.to_owned(), end: Some(end) })
    }
}

/// How the place of an effect follows from the place of its cause.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Relation {
    /// Same end and same side, as far as both have one.
    #[default]
    Same,
    /// Same end, the side across.
    OtherSide,
    /// Same end, any side.
    SameEnd,
    /// Same side, any end.
    SameSide,
    /// Everywhere but there.
    Others,
    /// Everywhere.
    Every,
    /// The place the person named (in phrases only; works as [`Relation::Same`]).
    Named,
}

impl Relation {
    /// The words a link may use.
    pub const WORDS: [&'static str; 7] = ["same", "other-side", "same-end", "same-side", "others", "every", "named"];

    /// Reads the word.
    pub fn named(word: &str) -> Option<Relation> {
        Some(match word {
            "same" => Relation::Same,
            "other-side" => Relation::OtherSide,
            "same-end" => Relation::SameEnd,
            "same-side" => Relation::SameSide,
            "others" => Relation::Others,
            "every" => Relation::Every,
            "named" => Relation::Named,
            _ => return None,
        })
    }

    /// Whether a cause at `from` reaches an effect at `to`. With either place missing, it does.
    pub fn joins(self, from: Option<Position>, to: Option<Position>) -> bool {
        let (Some(from), Some(to)) = (from, to) else { return true };
        let same_end = agree(from.end, to.end);
        let same_side = agree(from.side, to.side);
        match self {
            Relation::Same | Relation::Named => same_end && same_side,
            Relation::OtherSide => same_end && from.side.and_then(Side::other).is_some_and(|s| to.side == Some(s)),
            Relation::SameEnd => same_end,
            Relation::SameSide => same_side,
            Relation::Others => !(same_end && same_side),
            Relation::Every => true,
        }
    }
}

fn agree<T: PartialEq>(a: Option<T>, b: Option<T>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Option<Position> {
        Position::parse(text)
    }

    #[test]
    fn positions_are_read_and_written_back() {
        for text in ["rear-nearside", "front", "offside", ""] {
            assert_eq!(at(text).map(Position::id), Some(text.to_owned()));
        }
        for bad in ["rear rear", "left", "nearside offside"] {
            assert_eq!(at(bad), None);
        }
    }

    #[test]
    fn relations_join_the_places_they_name() {
        let rear_near = at("rear nearside");
        assert!(Relation::Same.joins(rear_near, at("nearside")));
        assert!(!Relation::Same.joins(rear_near, at("front nearside")));
        assert!(Relation::OtherSide.joins(rear_near, at("rear offside")));
        assert!(!Relation::OtherSide.joins(rear_near, at("front offside")));
        assert!(Relation::SameSide.joins(rear_near, at("front nearside")));
        assert!(Relation::Others.joins(rear_near, at("front nearside")));
        assert!(!Relation::Others.joins(rear_near, rear_near));
        assert!(Relation::Same.joins(None, rear_near));
    }
}
