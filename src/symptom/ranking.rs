//! How well a statement fits each wording.
//!
//! Takes the pieces of every wording once, then the pieces of one statement at a time; gives the entries with their best
//! wording and a likeness from 0 to 1. Rare words count more than common ones, names of components more than words for
//! what is amiss; both how much of the statement is explained and how much of the wording was said count. A statement
//! that names a known component never rests on a wording that names another. Knows nothing of sentences.
//!
//! Rarity and the length term are those of BM25 (Robertson and Zaragoza 2009), with every word counted once.

use super::lexicon::{Kind, Lexicon, NO_TERM, Piece, Term};
use super::place_words::Mark;

/// Where a score is no likeness any more: nothing of what was named is in the wording.
const NOTHING_IN_COMMON: f64 = 0.2;
/// BM25's length weight.
const B: f64 = 0.5;
/// BM25's saturation.
const K1: f64 = 1.2;
/// Weight of the explained share of the statement against the said share of the wording.
const EXPLAINED: f64 = 0.58;
/// Share of the score that rests on all wordings of an entry together, not on the best one alone.
const BREADTH: f64 = 0.5;
/// Weight of the first word of a statement that nobody here knows, as a share of the rarest component's.
const UNKNOWN: f64 = 0.9;

/// One wording, ready for comparison.
struct Doc {
    entry: u32,
    /// Distinct terms, in order of number.
    terms: Box<[Term]>,
    /// Their weights together.
    total: f64,
    /// BM25's factor for its length.
    length: f64,
    pairs: Box<[(Term, Term)]>,
    front: bool,
    rear: bool,
    one: bool,
    all: bool,
    states: bool,
    generic: bool,
}

/// All wordings of all entries.
pub(super) struct Ranking {
    docs: Vec<Doc>,
    entries: usize,
    /// Nudge of each entry.
    nudges: Vec<f64>,
    /// Wordings that hold a term, by term.
    postings: Vec<Vec<u32>>,
    /// Weight of a term, by term.
    weights: Vec<f64>,
    /// Entries that hold a term in any wording, by term.
    holders: Vec<Vec<u32>>,
    /// What two different words for "amiss" have in common.
    nearly_dead: f64,
    /// Mean number of terms in a wording.
    mean: f64,
}

/// An entry with its best wording for a statement.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ranked {
    /// Number of the entry, in the order given.
    pub entry: u32,
    /// Number of the wording.
    pub doc: u32,
    /// Likeness, 0 to 1.
    pub score: f64,
}

/// A statement, ready for comparison.
struct Query {
    terms: Vec<(Term, f64, Kind)>,
    total: f64,
    pairs: Vec<(Term, Term)>,
    components: f64,
    front: bool,
    rear: bool,
    sided: bool,
    one: bool,
    all: bool,
    states: bool,
    generic: bool,
    /// A short statement with a word that nobody here knows.
    strange: bool,
}

impl Ranking {
    /// Takes the pieces of every wording with the number of its entry, and the nudge of every entry.
    pub fn new(lexicon: &Lexicon, wordings: &[(u32, Vec<Piece>)], nudges: Vec<f64>) -> Ranking {
        let entries = nudges.len();
        let mut postings: Vec<Vec<u32>> = vec![Vec::new(); lexicon.terms()];
        let mut docs: Vec<Doc> = Vec::with_capacity(wordings.len());
        for (number, (entry, pieces)) in wordings.iter().enumerate() {
            let mut terms: Vec<Term> = pieces.iter().map(|p| p.term).filter(|&t| t != NO_TERM).collect();
            terms.sort_unstable();
            terms.dedup();
            for &term in &terms {
                postings[term as usize].push(number as u32);
            }
            let has = |mark: Mark| pieces.iter().any(|p| p.mark == Some(mark));
            docs.push(Doc {
                entry: *entry,
                terms: terms.into(),
                total: 0.0,
                length: 0.0,
                pairs: pairs(pieces).into(),
                front: has(Mark::Front),
                rear: has(Mark::Rear),
                one: has(Mark::One),
                all: has(Mark::All) || has(Mark::BothSides) || has(Mark::Neither),
                states: pieces.iter().any(|p| matches!(p.kind, Kind::State | Kind::Lit)),
                generic: pieces.iter().any(|p| p.kind == Kind::Generic),
            });
        }
        let holders: Vec<Vec<u32>> = postings
            .iter()
            .map(|posted| {
                let mut entries: Vec<u32> = posted.iter().map(|&d| docs[d as usize].entry).collect();
                entries.dedup();
                entries
            })
            .collect();
        let mean = docs.iter().map(|d| d.terms.len()).sum::<usize>() as f64 / docs.len().max(1) as f64;
        let weights = weights(lexicon, &docs, &postings, entries);
        for doc in &mut docs {
            doc.total = doc.terms.iter().map(|&t| weights[t as usize]).sum::<f64>().max(1e-9);
            doc.length = length_factor(doc.terms.len(), mean);
        }
        let nearly_dead = 0.6 * weights.get(lexicon.dead() as usize).copied().unwrap_or(0.0);
        Ranking { docs, entries, nudges, postings, holders, weights, nearly_dead, mean }
    }

    /// The entries that share anything with the statement, best first; equals in the order given.
    pub fn rank(&self, pieces: &[Piece]) -> Vec<Ranked> {
        let query = self.query(pieces);
        let mut common = vec![0.0f64; self.docs.len()];
        let mut common_components = vec![0.0f64; self.docs.len()];
        let mut touched: Vec<u32> = Vec::new();
        for &(term, weight, _) in query.terms.iter().filter(|t| t.2 == Kind::Component) {
            for &doc in self.posted(term) {
                let at = doc as usize;
                if common[at] == 0.0 {
                    touched.push(doc);
                }
                common[at] += weight;
                common_components[at] += weight;
            }
        }
        // Wordings that name nothing of it are looked at only where there are no others.
        let open = touched.is_empty();
        for &(term, weight, _) in query.terms.iter().filter(|t| t.2 != Kind::Component) {
            for &doc in self.posted(term) {
                let at = doc as usize;
                if common[at] > 0.0 {
                    common[at] += weight;
                } else if open {
                    touched.push(doc);
                    common[at] += weight;
                }
            }
        }
        let mut whole = vec![0.0f64; self.entries];
        for &(term, weight, kind) in &query.terms {
            if !matches!(kind, Kind::Place | Kind::Quantity) {
                for &entry in self.holders.get(term as usize).into_iter().flatten() {
                    whole[entry as usize] += weight;
                }
            }
        }
        let mut best: Vec<Option<(f64, u32)>> = vec![None; self.entries];
        let mut near: Vec<u32> = vec![0; self.entries];
        let mut scored: Vec<(u32, f64)> = Vec::with_capacity(touched.len());
        for doc in touched {
            let score = self.score(&query, doc, common[doc as usize], common_components[doc as usize]);
            scored.push((doc, score));
            let slot = &mut best[self.docs[doc as usize].entry as usize];
            if slot.is_none_or(|(s, d)| score > s || (score == s && doc < d)) {
                *slot = Some((score, doc));
            }
        }
        for (doc, score) in scored {
            let entry = self.docs[doc as usize].entry as usize;
            if best[entry].is_some_and(|(s, d)| d != doc && score > 0.8 * s) {
                near[entry] += 1;
            }
        }
        let mut ranked: Vec<Ranked> = best
            .into_iter()
            .enumerate()
            .filter_map(|(entry, slot)| {
                let (score, doc) = slot?;
                let explained = (whole[entry] / query.total).min(1.0);
                let score = score * (1.0 - BREADTH) + BREADTH * explained * score.sqrt();
                let several = 0.008 * f64::from(near[entry].min(3));
                let nudged = score + (1.0 - score) * (several + self.nudges[entry]);
                Some(Ranked { entry: entry as u32, doc, score: nudged.clamp(0.0, 1.0) })
            })
            .collect();
        ranked.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.entry.cmp(&b.entry)));
        ranked
    }

    /// The terms of a wording.
    pub fn terms_of(&self, doc: u32) -> &[Term] {
        self.docs.get(doc as usize).map_or(&[], |d| &d.terms)
    }

    /// The entry of a wording.
    pub fn entry_of(&self, doc: u32) -> u32 {
        self.docs.get(doc as usize).map_or(0, |d| d.entry)
    }

    /// Whether no wording holds the term.
    pub fn is_unused(&self, term: Term) -> bool {
        self.posted(term).is_empty()
    }

    fn posted(&self, term: Term) -> &[u32] {
        self.postings.get(term as usize).map_or(&[], Vec::as_slice)
    }

    fn query(&self, pieces: &[Piece]) -> Query {
        let mut terms: Vec<(Term, f64, Kind)> = Vec::new();
        let mut total = 0.0;
        let mut components = 0.0;
        let mut unknown = 0;
        let dead = pieces.iter().any(|p| p.kind == Kind::Generic);
        for piece in pieces {
            match piece.kind {
                Kind::Component | Kind::Unknown if self.posted(piece.term).is_empty() => {
                    // A word that no wording uses. The first stranger may be what it is all about; a crowd of them is a story.
                    total += UNKNOWN * 0.45f64.powi(unknown);
                    unknown += 1;
                }
                // Small words count for a wording that has them, and never against one that has not.
                Kind::Hedge | Kind::Light if self.posted(piece.term).is_empty() => {}
                Kind::Number if piece.term == NO_TERM => {}
                Kind::Good if dead => {}
                // A place that no wording names is a place and no more.
                Kind::Place | Kind::Quantity if piece.term == NO_TERM => {}
                kind => {
                    if terms.iter().any(|t| t.0 == piece.term) {
                        continue;
                    }
                    let weight = self.weights.get(piece.term as usize).copied().unwrap_or(0.0);
                    terms.push((piece.term, weight, kind));
                    if matches!(kind, Kind::Place | Kind::Quantity) {
                        continue;
                    }
                    total += weight;
                    if kind == Kind::Component {
                        components += weight;
                    }
                }
            }
        }
        let has = |mark: Mark| pieces.iter().any(|p| p.mark == Some(mark));
        let all = has(Mark::All) || has(Mark::BothSides) || has(Mark::Neither);
        Query {
            terms,
            total: total.max(1e-9),
            pairs: pairs(pieces),
            components,
            front: has(Mark::Front),
            rear: has(Mark::Rear),
            sided: pieces.iter().any(|p| p.kind == Kind::Place && p.mark.is_some_and(Mark::is_spot)),
            one: has(Mark::One) && !all,
            all,
            states: pieces.iter().any(|p| matches!(p.kind, Kind::State | Kind::Lit)),
            generic: dead,
            strange: unknown > 0 && pieces.len() <= 5,
        }
    }

    fn score(&self, query: &Query, doc: u32, common: f64, components: f64) -> f64 {
        let doc = &self.docs[doc as usize];
        let shared = |term: Term| doc.terms.binary_search(&term).is_ok();
        // Places weigh on the wording's side only: a place that the wording does not name takes nothing from it.
        let placed: f64 = query
            .terms
            .iter()
            .filter(|t| matches!(t.2, Kind::Place | Kind::Quantity) && shared(t.0))
            .map(|t| t.1)
            .sum();
        let shares_generic = query.terms.iter().any(|t| t.2 == Kind::Generic && shared(t.0));
        // "Broken" is nearly "dead".
        let common = if query.generic && doc.generic && !shares_generic { common + self.nearly_dead } else { common };
        let explained = ((common - placed) / query.total).clamp(0.0, 1.0);
        let said = (common / doc.total).clamp(0.0, 1.0);
        let bm25 = (explained * doc.length / length_factor(query.terms.len(), self.mean)).min(1.0);
        let mut score = 0.85 * explained.powf(EXPLAINED) * said.powf(1.0 - EXPLAINED) + 0.15 * bm25;
        if !doc.pairs.is_empty() {
            let kept = doc.pairs.iter().filter(|p| query.pairs.contains(p)).count() as f64 / doc.pairs.len() as f64;
            score += 0.05 * kept * (1.0 - score);
            if kept < 1.0 {
                score -= 0.01 * (1.0 - kept);
            }
        }
        if query.states
            && (doc.states || doc.generic)
            && !(query.generic && doc.generic)
            && !query.terms.iter().any(|t| matches!(t.2, Kind::State | Kind::Lit) && shared(t.0))
        {
            score *= 0.8;
        }
        if (query.one || query.sided) && doc.all && !query.all || query.all && doc.one {
            score *= 0.8;
        } else if query.one != doc.one && !query.sided || query.all != doc.all {
            score *= 0.92;
        }
        if query.front && !query.rear && doc.rear && !doc.front || query.rear && !query.front && doc.front && !doc.rear
        {
            score *= 0.75;
        }
        let bare = query.terms.len() <= 2 && said < 0.98;
        if !query.states && !query.generic && (doc.states || doc.generic || bare) {
            // A bare name asks which of its ills is meant.
            score *= 0.65;
        }
        if query.strange {
            score *= 0.78;
        }
        if components == 0.0 && (query.components > 0.0 || query.strange) {
            score = (score * 0.0).max(score.min(NOTHING_IN_COMMON));
        }
        score.clamp(0.0, 1.0)
    }
}

/// Neighbouring terms, places and counts left out.
fn pairs(pieces: &[Piece]) -> Vec<(Term, Term)> {
    let terms: Vec<Term> = pieces
        .iter()
        .filter(|p| p.term != NO_TERM && !matches!(p.kind, Kind::Place | Kind::Quantity | Kind::Light | Kind::Hedge))
        .map(|p| p.term)
        .collect();
    terms.windows(2).filter(|w| w[0] != w[1]).map(|w| (w[0], w[1])).collect()
}

fn length_factor(terms: usize, mean: f64) -> f64 {
    (K1 + 1.0) / (1.0 + K1 * (1.0 - B + B * terms as f64 / mean.max(1.0)))
}

/// Weight of every term: its rarity among the entries, from 0 to 1, times what its kind is worth.
fn weights(lexicon: &Lexicon, docs: &[Doc], postings: &[Vec<u32>], entries: usize) -> Vec<f64> {
    let rarity = |holders: f64| (1.0 + (entries as f64 - holders + 0.5) / (holders + 0.5)).ln();
    let top = rarity(1.0).max(1e-9);
    postings
        .iter()
        .enumerate()
        .map(|(term, posted)| {
            let mut holders = 0.0;
            let mut last = u32::MAX;
            // Wordings stand entry by entry, so equal entries are neighbours.
            for &doc in posted {
                let entry = docs[doc as usize].entry;
                if entry != last {
                    holders += 1.0;
                    last = entry;
                }
            }
            let worth = match lexicon.kind(term as Term) {
                Kind::Component | Kind::Unknown => 1.0,
                Kind::State | Kind::Lit => 0.6,
                Kind::Generic => 0.35,
                Kind::Quantity => 0.3,
                Kind::Number => 0.3,
                Kind::Place => 0.25,
                Kind::Good => 0.15,
                Kind::Light | Kind::Hedge => 0.2,
            };
            worth * (rarity(holders) / top).clamp(0.12, 1.0)
        })
        .collect()
}
