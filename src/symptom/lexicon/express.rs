//! Expressions of several words, and words whose meaning hangs on their neighbours.
//!
//! Takes the pieces of single words; gives pieces in which "turn signal" is the indicator and "out" is "dead" where it is
//! said of a part. Never looks at the text itself.

use super::Lexicon;
use crate::symptom::normalise::Joint;
use crate::symptom::piece::{Kind, NO_TERM, Piece, Term};
use crate::symptom::place_words::Mark;

impl Lexicon {
    /// The place that the name of a part holds in itself.
    pub(super) fn mark_of(&self, term: Term, next: Option<&str>) -> Option<Mark> {
        if term == self.tail && next != Some("board") {
            Some(Mark::Rear)
        } else if term == self.sidecar && term != NO_TERM {
            Some(Mark::Nearside)
        } else {
            None
        }
    }

    /// Second pass: expressions of several words, longest first.
    pub(super) fn express(&self, pieces: Vec<Piece>) -> Vec<Piece> {
        if !pieces.iter().any(|p| self.expressions.contains_key(&p.term)) {
            return pieces;
        }
        let mut out: Vec<Piece> = Vec::with_capacity(pieces.len());
        let mut at = 0;
        while let Some(&piece) = pieces.get(at) {
            let hit = self
                .expressions
                .get(&piece.term)
                .into_iter()
                .flatten()
                .filter(|e| !(e.verbal && piece.nominal))
                .find_map(|e| self.follow(&pieces[at + 1..], &e.rest).map(|taken| (e, taken)));
            let Some((expression, taken)) = hit else {
                out.push(piece);
                at += 1;
                continue;
            };
            let span = &pieces[at..=at + taken];
            let last = span.iter().map(|p| p.last).max().unwrap_or(piece.last);
            let plural = span.iter().any(|p| p.plural);
            let names_part = span.iter().all(|p| matches!(p.kind, Kind::Component | Kind::Place));
            let all_light = expression.becomes.iter().all(|&t| self.kind(t) == Kind::Light);
            for (i, &term) in expression.becomes.iter().enumerate() {
                // Counts inside an idiom ("pulls to one side") count nothing.
                let mark = span.iter().find(|p| p.term == term).and_then(|p| p.mark).filter(|m| m.is_spot());
                let mark = mark.or_else(|| self.mark_of(term, None));
                // "Rear light" keeps its place whatever its name.
                let mark = mark.or(if i == 0 && names_part { piece.mark } else { None });
                let kind = match self.kind(term) {
                    Kind::Quantity if mark.is_none() => Kind::State,
                    // An idiom of light words only ("come on together") carries its meaning in them.
                    Kind::Light if all_light => Kind::State,
                    kind => kind,
                };
                let joint = if i == 0 { piece.joint } else { Joint::Plain };
                out.push(Piece {
                    term,
                    kind,
                    joint,
                    last,
                    mark,
                    plural: plural && kind == Kind::Component,
                    nominal: false,
                    vehicle: false,
                    ..piece
                });
            }
            // A side between two words of a name ("rear nearside light") stands behind it.
            let between = span.iter().skip(1).filter(|p| p.mark.is_some_and(Mark::is_side) && p.kind == Kind::Place);
            out.extend(
                between.filter(|p| !expression.rest.contains(&p.term)).map(|p| Piece { joint: Joint::Plain, ..*p }),
            );
            at += taken + 1;
        }
        out
    }

    /// Settles what depends on the neighbours: "out", "gone", "only one works".
    pub(super) fn finish(&self, mut pieces: Vec<Piece>) -> Vec<Piece> {
        let names =
            |kind: Kind| matches!(kind, Kind::Component | Kind::Place | Kind::Quantity | Kind::Unknown | Kind::Hedge);
        for i in 0..pieces.len() {
            let piece = pieces[i];
            if piece.term != self.out && piece.term != self.gone {
                continue;
            }
            let before = if i == 0 { None } else { pieces.get(i - 1) };
            let said_of_a_part = before.is_some_and(|p| {
                let verb = p.kind == Kind::Component && !self.is_of_the_trade(p.term);
                names(p.kind) && !verb || self.is_going(p.term)
            });
            let followed_by_state = pieces.get(i + 1).is_some_and(|p| p.kind == Kind::State && p.joint == Joint::Plain);
            if said_of_a_part && (piece.term == self.out || !followed_by_state) {
                pieces[i] = Piece { term: self.dead, kind: Kind::Generic, ..piece };
            }
        }
        let amiss = |kind: Kind| matches!(kind, Kind::State | Kind::Lit | Kind::Generic);
        let only_one = pieces.iter().any(|p| p.term == self.only) && pieces.iter().any(|p| p.mark == Some(Mark::One));
        if only_one && !pieces.iter().any(|p| amiss(p.kind)) {
            // Then the other one does not.
            for piece in pieces.iter_mut().filter(|p| p.term == self.work) {
                *piece = Piece { term: self.dead, kind: Kind::Generic, ..*piece };
            }
        }
        pieces
    }

    /// Whether `pieces` go on with `rest`, light words between allowed: how many pieces that takes.
    fn follow(&self, pieces: &[Piece], rest: &[Term]) -> Option<usize> {
        let mut at = 0;
        let mut skipped = 0;
        for &term in rest {
            loop {
                let piece = pieces.get(at)?;
                if piece.joint > Joint::And {
                    return None;
                }
                at += 1;
                if piece.term == term {
                    break;
                }
                skipped += 1;
                let passable = piece.kind == Kind::Hedge
                    || (piece.kind == Kind::Place && piece.mark.is_some_and(Mark::is_side))
                    || (piece.kind == Kind::Light && !self.particles.contains(&piece.term));
                if !passable || skipped > 2 {
                    return None;
                }
            }
        }
        Some(at)
    }

    /// "Goes out", "went out".
    fn is_going(&self, term: Term) -> bool {
        ["go", "went"].iter().any(|w| self.stems.get(*w) == Some(&term))
    }
}
