//! The index: all wordings of all entries, ready to read typed text.
//!
//! Takes the wordings and the thesaurus once; gives [`Heard`] for every text. Built in a few milliseconds, then never
//! changed, so one index serves every question of a session.

use std::hash::Hasher;

use super::clauses::{Draft, MOST_WORDS, split};
use super::lexicon::{Kind, Lexicon, Piece, Term};
use super::normalise::{Joint, Text};
use super::place_words::{Handed, Mark, PlaceWords};
use super::quick_hash::QuickHasher;
use super::ranking::{Ranked, Ranking};
use super::thesaurus::Thesaurus;
use super::{Clause, Heard, Offer, Verdict, Wordings};

/// From here on a match may be taken without asking, if the next one is far enough behind.
pub const CLEAR: f64 = 0.55;
/// Below this nothing was recognised.
pub const FLOOR: f64 = 0.4;
/// How far ahead of the second the first must be.
const AHEAD: f64 = 0.12;
/// Below this likeness no wording fits a statement as a whole.
const UNFIT: f64 = 0.45;
/// What is left of the likeness of a part where the whole fits nothing, and where it fits something doubtfully.
const PART_OF_UNFIT: f64 = 0.85;
const PART_OF_DOUBTFUL: f64 = 0.6;
/// Offers given for a clause.
const MOST_OFFERS: usize = 9;
/// Words listed as not understood.
const MOST_NOT_UNDERSTOOD: usize = 24;

/// All wordings, ready to read text.
pub struct Index {
    lexicon: Lexicon,
    ranking: Ranking,
    keys: Vec<usize>,
    wordings: Vec<String>,
    /// Wordings by the hash of their plain form, in order.
    exact: Vec<(u64, u32)>,
}

impl Index {
    /// Builds the index. Entries keep their order for breaking ties only through their keys: lower keys first.
    pub fn new(mut entries: Vec<Wordings>, thesaurus: Thesaurus) -> Index {
        entries.sort_by_key(|e| e.key);
        let keys: Vec<usize> = entries.iter().map(|e| e.key).collect();
        let nudges = entries
            .iter()
            .map(|e| if e.weight.is_finite() { (0.04 * (e.weight - 1.0)).clamp(-0.04, 0.04) } else { 0.0 })
            .collect();
        let mut wordings: Vec<String> = Vec::new();
        let mut owners: Vec<u32> = Vec::new();
        for (number, entry) in entries.into_iter().enumerate() {
            for wording in std::iter::once(entry.name).chain(entry.said) {
                wordings.push(wording);
                owners.push(number as u32);
            }
        }
        let texts: Vec<Text> = wordings.iter().map(|w| Text::new(w, MOST_WORDS)).collect();
        let lexicon = Lexicon::new(&texts, &thesaurus);
        let mut exact: Vec<(u64, u32)> = Vec::with_capacity(texts.len());
        let mut pieces: Vec<(u32, Vec<Piece>)> = Vec::with_capacity(texts.len());
        for (number, (text, &owner)) in texts.iter().zip(&owners).enumerate() {
            exact.push((plain_hash(text.tokens.iter().map(|t| t.word.as_str())), number as u32));
            pieces.push((owner, without_praise(lexicon.pieces_as_written(text))));
        }
        exact.sort_unstable();
        let ranking = Ranking::new(&lexicon, &pieces, nudges);
        Index { lexicon, ranking, keys, wordings, exact }
    }

    /// Reads a text; sides as in Britain.
    pub fn read(&self, text: &str) -> Heard {
        self.read_as(text, Handed::UK)
    }

    /// Reads a text; `handed` says which side left and the driver's side are.
    pub fn read_as(&self, text: &str, handed: Handed) -> Heard {
        let text = Text::new(text, MOST_WORDS * super::clauses::MOST_CLAUSES);
        let pieces = self.lexicon.pieces(&text);
        let whole = self.word_for_word(&text.plain());
        let drafts = if !whole.is_empty() { vec![Draft::whole(pieces.clone())] } else { split(pieces.clone(), self) };
        let mut helped: Vec<Term> = Vec::new();
        let clauses: Vec<Clause> = drafts.iter().map(|d| self.clause(d, &text, &whole, handed, &mut helped)).collect();
        Heard { clauses, not_understood: not_understood(&pieces, &text, &helped) }
    }

    fn clause(&self, draft: &Draft, text: &Text, whole: &[u32], handed: Handed, helped: &mut Vec<Term>) -> Clause {
        let mut ranked = self.rank_draft(draft);
        if draft.by_contrast {
            // "Cranks but …": it is well as far as that goes, which is no word on any sign.
            ranked.clear();
        } else if draft.good {
            // What works is not dead; no more than that is said.
            ranked.retain(|r| self.ranking.says_dead(r.doc));
        }
        let mut offers: Vec<(Ranked, f64)> = ranked.iter().take(MOST_OFFERS).map(|&r| (r, r.score)).collect();
        let exact = if whole.is_empty() { self.word_for_word(&draft.plain(text)) } else { whole.to_vec() };
        for &doc in &exact {
            let entry = self.ranking.entry_of(doc);
            offers.retain(|(r, _)| r.entry != entry);
            offers.push((Ranked { entry, doc, score: 1.0 }, 1.0));
        }
        // Nothing but the very words counts as the very words.
        for (ranked, score) in &mut offers {
            if !exact.contains(&ranked.doc) {
                *score = (0.98 * *score).min(0.98);
            }
        }
        offers.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.entry.cmp(&b.0.entry)));
        offers.truncate(MOST_OFFERS);
        for (ranked, score) in &offers {
            if *score >= FLOOR {
                helped.extend_from_slice(self.ranking.terms_of(ranked.doc));
            }
        }
        let verdict = verdict(&offers);
        let mut place = PlaceWords::collect(draft.pieces.iter().filter_map(|p| p.mark), handed);
        if let Some(marks) = &draft.inherited {
            place.inherit(PlaceWords::collect(marks.iter().copied(), handed));
        }
        place.other_good = draft.other_good;
        let offers = offers
            .into_iter()
            .map(|(ranked, score)| Offer {
                key: self.keys[ranked.entry as usize],
                score,
                because: visible(&self.wordings[ranked.doc as usize]),
            })
            .collect();
        Clause { text: draft.text(text), offers, place, verdict, good: draft.good }
    }

    /// The wordings that read just so, case and punctuation apart.
    fn word_for_word(&self, plain: &str) -> Vec<u32> {
        let hash = plain_hash(plain.split(' '));
        let from = self.exact.partition_point(|&(h, _)| h < hash);
        let alike = self.exact.iter().skip(from).take_while(|&&(h, _)| h == hash).map(|&(_, doc)| doc);
        alike
            .filter(|&doc| !plain.is_empty() && Text::new(&self.wordings[doc as usize], MOST_WORDS).plain() == plain)
            .collect()
    }

    /// Ranks what a draft is about; a statement that something is well is ranked as its opposite.
    fn rank_draft(&self, draft: &Draft) -> Vec<Ranked> {
        let mut pieces = draft.pieces.clone();
        if draft.good {
            let end = |p: &Piece| p.kind == Kind::Place && !p.mark.is_some_and(Mark::is_side);
            pieces.retain(|p| matches!(p.kind, Kind::Component | Kind::Unknown) || end(p));
            // What is well is well at each place: the plain sign is meant.
            pieces.iter_mut().for_each(|p| p.plural = false);
            if pieces.iter().any(|p| p.kind != Kind::Place)
                && let Some(&last) = pieces.last()
            {
                pieces.push(Piece::plain(self.lexicon.dead(), Kind::Generic, last.last));
            } else {
                return Vec::new();
            }
        }
        if draft.other_good
            && !draft.good
            && !pieces.iter().any(|p| p.mark == Some(Mark::One))
            && let (Some(term), Some(&last)) = (self.lexicon.mark_term(Mark::One), pieces.last())
        {
            pieces.push(Piece { mark: Some(Mark::One), ..Piece::plain(term, Kind::Quantity, last.last) });
        }
        let whole = self.ranking.rank(&pieces);
        self.by_parts(&pieces, whole)
    }

    /// Where no wording fits the whole of a statement, its parts are read alone, as far as commas, "and" and words such as "since" part them:
    /// "brakes weak, have to plan my stops" is about weak brakes. What a part says counts for somewhat less than the same said outright.
    fn by_parts(&self, pieces: &[Piece], mut whole: Vec<Ranked>) -> Vec<Ranked> {
        let best = whole.first().map_or(0.0, |r| r.score);
        if best >= CLEAR {
            return whole;
        }
        let worth = if best < UNFIT { PART_OF_UNFIT } else { PART_OF_DOUBTFUL };
        let mut bounds: Vec<usize> = vec![0];
        bounds.extend(
            (1..pieces.len())
                .filter(|&i| pieces[i].joint != Joint::Plain || pieces[i].passing != pieces[i - 1].passing),
        );
        bounds.push(pieces.len());
        for (number, part) in bounds.windows(2).map(|w| &pieces[w[0]..w[1]]).enumerate() {
            // What names nothing is a complaint of its own only at the beginning: "thud when I get on the throttle".
            let has = |kind: Kind| part.iter().any(|p| p.kind == kind);
            if part.len() == pieces.len() || !(has(Kind::Component) || number == 0 && has(Kind::State)) {
                continue;
            }
            let mut part = part.to_vec();
            part.iter_mut().for_each(|p| p.passing = false);
            for ranked in self.ranking.rank(&part).into_iter().take(MOST_OFFERS).filter(|r| r.score >= CLEAR) {
                let score = worth * ranked.score;
                match whole.iter_mut().find(|w| w.entry == ranked.entry) {
                    Some(known) if known.score < score => *known = Ranked { score, ..ranked },
                    Some(_) => {}
                    None => whole.push(Ranked { score, ..ranked }),
                }
            }
        }
        whole.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.entry.cmp(&b.entry)));
        whole
    }

    /// The best wording for some pieces.
    pub(super) fn best(&self, pieces: &[Piece]) -> Option<Ranked> {
        self.ranking.rank(pieces).into_iter().next()
    }

    /// Whether a wording holds a term.
    pub(super) fn holds(&self, doc: u32, term: Term) -> bool {
        self.ranking.terms_of(doc).binary_search(&term).is_ok()
    }

    /// Whether something is named that no wording knows.
    pub(super) fn is_strange(&self, pieces: &[Piece]) -> bool {
        pieces.iter().any(|p| matches!(p.kind, Kind::Component | Kind::Unknown) && self.ranking.is_unused(p.term))
    }

    /// Whether a part is named that some wording knows.
    pub(super) fn knows_a_name(&self, pieces: &[Piece]) -> bool {
        pieces.iter().any(|p| p.kind == Kind::Component && !self.ranking.is_unused(p.term))
    }

    /// Reads expressions that arise where two statements share words.
    pub(super) fn rejoin(&self, pieces: Vec<Piece>) -> Vec<Piece> {
        self.lexicon.rejoin(pieces)
    }
}

fn plain_hash<'w>(words: impl Iterator<Item = &'w str>) -> u64 {
    let mut hasher = QuickHasher::default();
    for word in words {
        hasher.write(word.as_bytes());
        hasher.write_u8(b' ');
    }
    hasher.finish()
}

fn verdict(offers: &[(Ranked, f64)]) -> Verdict {
    let first = offers.first().map_or(0.0, |o| o.1);
    let second = offers.get(1).map_or(0.0, |o| o.1);
    if first < FLOOR {
        Verdict::Unknown
    } else if first >= CLEAR && (first - second >= AHEAD || (first >= 1.0 && second < 1.0)) {
        Verdict::Clear
    } else {
        Verdict::Ambiguous
    }
}

/// A wording whose second half praises the other side ("one out, other lit") is matched by its first half, as one.
fn without_praise(pieces: Vec<Piece>) -> Vec<Piece> {
    match super::clauses::praise_of_other(&pieces) {
        Some(range) if range.start > 0 && range.end == pieces.len() => pieces[..range.start].to_vec(),
        _ => pieces,
    }
}

fn visible(wording: &str) -> String {
    Text::new(wording, 0).clean
}

fn not_understood(pieces: &[Piece], text: &Text, helped: &[Term]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for piece in pieces {
        let counts = match piece.kind {
            Kind::Unknown => true,
            Kind::Component | Kind::State | Kind::Lit => !helped.contains(&piece.term),
            _ => false,
        };
        if !counts {
            continue;
        }
        for token in text.tokens.iter().take(piece.last as usize + 1).skip(piece.first as usize) {
            let word = text.clean.get(token.start..token.end).unwrap_or(&token.word);
            let word: String = word.chars().take(40).collect();
            if out.len() < MOST_NOT_UNDERSTOOD && !out.contains(&word) {
                out.push(word);
            }
        }
    }
    out
}
