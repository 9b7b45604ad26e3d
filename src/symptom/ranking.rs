//! How well a statement fits each wording.
//!
//! Takes the pieces of every wording once, then the pieces of one statement at a time; gives the entries with their best
//! wording and a likeness from 0 to 1. Three things are compared apart: what is named, what is said of it, and the
//! circumstances. A part that only one of the two names costs much, whichever it is; so does saying two different things
//! of one part. Circumstances cost little where they are missing and help where they are shared. Knows nothing of
//! sentences.
//!
//! Rarity is the inverse document frequency of BM25 (Robertson and Zaragoza 2009), counted over entries.

use super::lexicon::{Kind, Lexicon, NO_TERM, Piece, Term};
use super::normalise::Joint;
use super::place_words::Mark;

/// What is left of a likeness where one side names a part and the other none.
const NAMES_NOTHING: f64 = 0.12;
/// The same where only the wording names a part: "just clicks".
const NAMED_BY_WORDING: f64 = 0.42;
/// What is left where the two say different things of the part.
const CONTRADICTION: f64 = 0.4;
/// What is left where the statement says nothing of the part: which of its ills is meant must be asked.
const BARE: f64 = 0.62;
/// What a part of the trade that no wording names leaves of the likeness.
const FOREIGN: f64 = 0.3;
/// What is left where the wording says nothing in so many words of what the statement complains of.
const SAYS_NOTHING: f64 = 0.58;
/// How far two different words for "amiss" are one.
const NEARLY: f64 = 0.7;
/// Exponents of the share of the names of the statement found in the wording, and the other way about.
const NAMES_SHARED: (f64, f64) = (0.9, 0.75);
/// The same for what is said of them.
const SAID_SHARED: (f64, f64) = (0.45, 0.4);
/// Weight of the entry's other wordings beside the best one.
const BREADTH: f64 = 0.25;
/// Weight of a word nobody here knows, as a share of the rarest part's.
const UNKNOWN: f64 = 0.25;
/// How far a shared circumstance ("… when I brake") makes up for what is said differently.
const ALIKE_IN_PASSING: f64 = 0.5;
/// Weight of what stands in a clause of circumstance, of the statement and of a wording.
const IN_PASSING: (f64, f64) = (0.6, 0.6);

/// Below this best likeness a statement is taken for a story.
const STORY: f64 = 0.5;
/// The most that an entry can be worth by the story alone: below the floor, so that it is offered and not taken.
const STORY_AT_MOST: f64 = 0.395;
/// Exponents of the share of the story found in a wording, and of the wording found in the story.
const STORY_SHARED: (f64, f64) = (0.6, 0.4);

/// What a term does in a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Class {
    /// Names what it is about.
    Name,
    /// Says what is amiss.
    Said,
    /// Anything else that counts.
    Other,
    /// Front, left, one, all.
    Place,
}

fn class(kind: Kind) -> Class {
    match kind {
        Kind::Component | Kind::Unknown => Class::Name,
        Kind::State | Kind::Lit | Kind::Generic => Class::Said,
        Kind::Place | Kind::Quantity => Class::Place,
        Kind::Good | Kind::Light | Kind::Hedge | Kind::Circumstance | Kind::Number => Class::Other,
    }
}

/// How many of a thing are spoken of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Count {
    /// One out of several, or the one at a named place.
    One,
    /// Every one.
    All,
    /// Nothing said.
    Open,
}

/// One wording, ready for comparison.
struct Doc {
    entry: u32,
    /// Distinct terms, in order of number.
    terms: Box<[Term]>,
    /// Weights of its names, of what it says of them, and of the rest.
    named: f32,
    said: f32,
    other: f32,
    pairs: Box<[(Term, Term)]>,
    front: bool,
    rear: bool,
    one: bool,
    all: bool,
    /// All of one side.
    whole_side: bool,
    /// Two parts or more are named and set against each other.
    several: bool,
    /// It says that the other one, or something else, is well.
    contrast: bool,
    generic: bool,
    /// Weight of its words that say only that something is amiss.
    generic_weight: f32,
}

/// A wording that holds a term.
#[derive(Clone, Copy)]
struct Posting {
    doc: u32,
    class: Class,
    /// Weight of the term in this wording.
    weight: f32,
}

/// All wordings of all entries.
pub(super) struct Ranking {
    docs: Vec<Doc>,
    /// Nudge of each entry.
    nudges: Vec<f64>,
    /// How many each entry speaks of, by its name.
    counts: Vec<Count>,
    /// Wordings that hold a term, by term.
    postings: Vec<Vec<Posting>>,
    /// Weight of a term, by term.
    weights: Vec<f64>,
    /// Entries that hold a term in any wording, by term.
    holders: Vec<Vec<u32>>,
    /// Names of the trade that no wording uses, by term.
    foreign: Vec<bool>,
    /// Terms that say only that something is amiss, in order.
    generic: Vec<Term>,
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
    terms: Vec<(Term, f64, Class)>,
    named: f64,
    said: f64,
    other: f64,
    total: f64,
    pairs: Vec<(Term, Term)>,
    front: bool,
    rear: bool,
    sided: bool,
    spot: bool,
    one: bool,
    all: bool,
    whole_side: bool,
    several: bool,
    contrast: bool,
    plural: bool,
    singular: bool,
    generic: bool,
    generic_weight: f64,
    /// It names a part of the trade that no wording names.
    foreign: bool,
}

/// What a statement and a wording share.
#[derive(Clone, Copy, Default)]
struct Shared {
    /// Weights of the statement.
    named: f32,
    said: f32,
    other: f32,
    /// Weights of the wording.
    doc_named: f32,
    doc_said: f32,
    doc_other: f32,
}

impl Ranking {
    /// Takes the pieces of every wording with the number of its entry, the name first, and the nudge of every entry.
    pub fn new(lexicon: &Lexicon, wordings: &[(u32, Vec<Piece>)], nudges: Vec<f64>) -> Ranking {
        let weights = weights(lexicon, wordings, nudges.len());
        let mut postings: Vec<Vec<Posting>> = vec![Vec::new(); lexicon.terms()];
        let mut docs: Vec<Doc> = Vec::with_capacity(wordings.len());
        let mut counts: Vec<Count> = Vec::with_capacity(nudges.len());
        for (number, (entry, pieces)) in wordings.iter().enumerate() {
            let mut terms: Vec<(Term, Class, bool)> = Vec::with_capacity(pieces.len());
            let promoted = promotes(pieces);
            for piece in pieces.iter().filter(|p| p.term != NO_TERM) {
                let class = match class(piece.kind) {
                    _ if promoted && piece.vehicle => Class::Name,
                    Class::Said if piece.passing => Class::Other,
                    class => class,
                };
                match terms.iter_mut().find(|t| t.0 == piece.term) {
                    Some(known) => known.2 &= piece.passing,
                    None => terms.push((piece.term, class, piece.passing)),
                }
            }
            terms.sort_unstable_by_key(|t| t.0);
            let mut sums = [0.0f32; 3];
            for &(term, class, passing) in &terms {
                let mut weight = weights[term as usize];
                if passing && class != Class::Place {
                    weight *= IN_PASSING.1;
                }
                let weight = weight as f32;
                match class {
                    Class::Name => sums[0] += weight,
                    Class::Said => sums[1] += weight,
                    Class::Other => sums[2] += weight,
                    Class::Place => {}
                }
                postings[term as usize].push(Posting { doc: number as u32, class, weight });
            }
            let has = |mark: Mark| pieces.iter().any(|p| p.mark == Some(mark));
            let (one, all) =
                ((has(Mark::One) || has(Mark::OneSide)), has(Mark::All) || has(Mark::BothSides) || has(Mark::Neither));
            if counts.len() == *entry as usize {
                counts.push(if all {
                    Count::All
                } else if one {
                    Count::One
                } else {
                    Count::Open
                });
            }
            docs.push(Doc {
                entry: *entry,
                terms: terms.iter().map(|t| t.0).collect(),
                named: sums[0],
                said: sums[1],
                other: sums[2],
                pairs: pairs(pieces).into(),
                front: has(Mark::Front),
                rear: has(Mark::Rear),
                one: one && !all,
                all,
                whole_side: whole_side(pieces),
                several: several(pieces),
                contrast: contrast(pieces),
                generic: pieces.iter().any(|p| p.kind == Kind::Generic),
                generic_weight: terms
                    .iter()
                    .filter(|t| t.1 == Class::Said && lexicon.kind(t.0) == Kind::Generic)
                    .map(|t| weights[t.0 as usize] as f32)
                    .sum(),
            });
        }
        counts.resize(nudges.len(), Count::Open);
        let holders: Vec<Vec<u32>> = postings
            .iter()
            .map(|posted| {
                let mut entries: Vec<u32> = posted.iter().map(|p| docs[p.doc as usize].entry).collect();
                entries.dedup();
                entries
            })
            .collect();
        let foreign = (0..lexicon.terms() as Term)
            .map(|t| postings[t as usize].is_empty() && lexicon.is_of_the_trade(t))
            .collect();
        let generic = (0..lexicon.terms() as Term).filter(|&t| lexicon.kind(t) == Kind::Generic).collect();
        Ranking { docs, nudges, counts, postings, weights, holders, foreign, generic }
    }

    /// The entries that share anything with the statement, best first; equals in the order given.
    pub fn rank(&self, pieces: &[Piece]) -> Vec<Ranked> {
        let query = self.query(pieces);
        let mut shared = vec![Shared::default(); self.docs.len()];
        let mut seen = vec![false; self.docs.len()];
        let mut touched: Vec<u32> = Vec::new();
        for pass in [Class::Name, Class::Said, Class::Other] {
            // Wordings that name nothing of it are looked at only where there are no others.
            let open = pass != Class::Other && (pass == Class::Name || touched.is_empty()) || touched.is_empty();
            for &(term, weight, _) in query.terms.iter().filter(|t| t.2 == pass) {
                for posting in self.posted(term) {
                    let at = posting.doc as usize;
                    if !seen[at] {
                        if !open {
                            continue;
                        }
                        seen[at] = true;
                        touched.push(posting.doc);
                    }
                    let slot = &mut shared[at];
                    match pass {
                        Class::Name => slot.named += weight as f32,
                        Class::Said => slot.said += weight as f32,
                        Class::Other | Class::Place => slot.other += weight as f32,
                    }
                    match posting.class {
                        Class::Name => slot.doc_named += posting.weight,
                        Class::Said => slot.doc_said += posting.weight,
                        Class::Other | Class::Place => slot.doc_other += posting.weight,
                    }
                }
            }
        }
        let mut whole = vec![0.0f64; self.nudges.len()];
        for &(term, weight, class) in &query.terms {
            if class != Class::Place {
                for &entry in self.holders.get(term as usize).into_iter().flatten() {
                    whole[entry as usize] += weight;
                }
            }
        }
        let mut best: Vec<Option<(f64, u32)>> = vec![None; self.nudges.len()];
        let mut near = vec![0u32; self.nudges.len()];
        for doc in touched {
            let score = self.score(&query, doc, &shared[doc as usize]);
            near[self.docs[doc as usize].entry as usize] += u32::from(score > 0.7);
            let slot = &mut best[self.docs[doc as usize].entry as usize];
            if slot.is_none_or(|(s, d)| score > s || (score == s && doc < d)) {
                *slot = Some((score, doc));
            }
        }
        let mut ranked: Vec<Ranked> = best
            .into_iter()
            .enumerate()
            .filter_map(|(entry, slot)| {
                let (score, doc) = slot?;
                let explained = (whole[entry] / query.total).min(1.0);
                let score = score * (1.0 - BREADTH) + BREADTH * explained * score.sqrt().min(2.0 * score);
                // Among equals, the one that is said so in several ways.
                let score = score * (0.98 + 0.005 * f64::from(near[entry].min(4)));
                let score = score + (1.0 - score) * self.nudges[entry] - self.count_apart(&query, entry);
                Some(Ranked { entry: entry as u32, doc, score: score.clamp(0.0, 1.0) })
            })
            .collect();
        if ranked.iter().all(|r| r.score < STORY) {
            self.by_story(&query, &whole, &mut ranked);
        }
        ranked.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.entry.cmp(&b.entry)));
        ranked
    }

    /// Where no wording fits well, what was typed is a story: more is told than any wording says. Then entries are offered, never taken, by how
    /// much of the story they account for over all their wordings, and how much of one wording the story holds.
    fn by_story(&self, query: &Query, whole: &[f64], ranked: &mut Vec<Ranked>) {
        let mut common: Vec<(f32, f32)> = vec![(0.0, 0.0); self.docs.len()];
        for &(term, weight, _) in query.terms.iter().filter(|t| t.2 != Class::Place) {
            for posting in self.posted(term) {
                let slot = &mut common[posting.doc as usize];
                slot.0 += weight as f32;
                slot.1 += posting.weight;
            }
        }
        let mut best: Vec<Option<(f64, u32)>> = vec![None; self.nudges.len()];
        for (number, (said, of_doc)) in common.iter().enumerate().filter(|(_, c)| c.0 > 0.0) {
            let doc = &self.docs[number];
            let all = f64::from(doc.named + doc.said + doc.other).max(1e-9);
            let of_query = (f64::from(*said) / query.total).min(1.0);
            let fit = of_query.powf(STORY_SHARED.0) * (f64::from(*of_doc) / all).min(1.0).powf(STORY_SHARED.1);
            let explained = (whole[doc.entry as usize] / query.total).min(1.0);
            let score = STORY_AT_MOST * (0.6 * fit + 0.4 * explained);
            let slot = &mut best[doc.entry as usize];
            if slot.is_none_or(|(s, _)| score > s) {
                *slot = Some((score, number as u32));
            }
        }
        for known in ranked.iter_mut() {
            if let Some((score, doc)) = best[known.entry as usize].take()
                && score > known.score
            {
                *known = Ranked { entry: known.entry, doc, score };
            }
        }
        let fresh = best
            .into_iter()
            .enumerate()
            .filter_map(|(entry, slot)| slot.map(|(score, doc)| Ranked { entry: entry as u32, doc, score }));
        ranked.extend(fresh);
    }

    /// What an entry loses because it speaks of one and the statement of all, and the like.
    fn count_apart(&self, query: &Query, entry: usize) -> f64 {
        let about = self.counts[entry];
        let one = query.one || query.sided;
        if query.whole_side {
            return match about {
                Count::All => 0.0,
                Count::One => 0.1,
                Count::Open => 0.06,
            };
        }
        match about {
            Count::One if query.all && !query.sided => 0.2,
            Count::One if one => 0.0,
            Count::One if query.plural => 0.12,
            Count::One => 0.05,
            Count::All if query.all && !query.sided => 0.0,
            Count::All if one => 0.2,
            Count::All if query.plural => 0.0,
            Count::All => 0.06,
            Count::Open if query.all && !query.sided => 0.06,
            Count::Open if query.one => 0.04,
            Count::Open if one => 0.02,
            Count::Open if query.plural && !query.singular => 0.02,
            Count::Open => 0.0,
        }
    }

    /// The terms of a wording.
    pub fn terms_of(&self, doc: u32) -> &[Term] {
        self.docs.get(doc as usize).map_or(&[], |d| &d.terms)
    }

    /// The entry of a wording.
    pub fn entry_of(&self, doc: u32) -> u32 {
        self.docs.get(doc as usize).map_or(0, |d| d.entry)
    }

    /// Whether a wording says that something is dead, in whichever words.
    pub fn says_dead(&self, doc: u32) -> bool {
        self.docs.get(doc as usize).is_some_and(|d| d.generic)
    }

    /// Whether no wording holds the term.
    pub fn is_unused(&self, term: Term) -> bool {
        self.posted(term).is_empty()
    }

    fn posted(&self, term: Term) -> &[Posting] {
        self.postings.get(term as usize).map_or(&[], Vec::as_slice)
    }

    fn query(&self, pieces: &[Piece]) -> Query {
        let mut terms: Vec<(Term, f64, Class)> = Vec::new();
        let mut sums = [0.0f64; 3];
        let mut unknown = 0;
        let mut foreign = false;
        let dead = pieces.iter().any(|p| p.kind == Kind::Generic);
        let promoted = promotes(pieces);
        for piece in pieces {
            let mut class = class(piece.kind);
            if promoted && piece.vehicle {
                class = Class::Name;
            }
            let in_passing = if piece.passing { IN_PASSING.0 } else { 1.0 };
            if self.posted(piece.term).is_empty() {
                if piece.mark.is_some() {
                    // A place that no wording names is a place and no more.
                    continue;
                }
                match class {
                    Class::Name => {
                        // The first stranger may be what it is all about; a crowd of them is a story.
                        let known = self.foreign.get(piece.term as usize).copied().unwrap_or(false);
                        foreign |= known && !piece.passing;
                        let weight = if known { 1.0 } else { UNKNOWN };
                        sums[0] += in_passing * weight * 0.6f64.powi(unknown);
                        unknown += 1;
                    }
                    Class::Said if !piece.passing => sums[1] += 0.5,
                    _ => {}
                }
                continue;
            }
            if terms.iter().any(|t| t.0 == piece.term) {
                continue;
            }
            let weight = self.weights.get(piece.term as usize).copied().unwrap_or(0.0) * in_passing;
            // What is said in passing is a circumstance.
            let class = if piece.passing && class != Class::Place { Class::Other } else { class };
            terms.push((piece.term, weight, class));
            match class {
                Class::Name => sums[0] += weight,
                Class::Said => sums[1] += weight,
                Class::Other => sums[2] += weight,
                Class::Place => {}
            }
        }
        let has = |mark: Mark| pieces.iter().any(|p| p.mark == Some(mark) && !p.passing);
        let all = has(Mark::All) || has(Mark::BothSides) || has(Mark::Neither);
        let named = |plural: bool| pieces.iter().any(|p| p.kind == Kind::Component && p.plural == plural && !p.passing);
        let generic_weight = terms.iter().filter(|t| t.2 == Class::Said && self.is_generic(t.0)).map(|t| t.1).sum();
        Query {
            terms,
            named: sums[0],
            said: sums[1],
            other: sums[2],
            total: (sums[0] + sums[1] + sums[2]).max(1e-9),
            pairs: pairs(pieces),
            front: has(Mark::Front),
            rear: has(Mark::Rear),
            sided: pieces.iter().any(|p| !p.passing && p.mark.is_some_and(Mark::is_side)),
            spot: (has(Mark::Front) || has(Mark::Rear)) && pieces.iter().any(|p| p.kind == Kind::Place),
            one: (has(Mark::One) || has(Mark::OneSide)) && !all,
            all,
            whole_side: whole_side(pieces),
            several: several(pieces),
            contrast: contrast(pieces),
            plural: named(true),
            singular: named(false),
            generic: dead,
            generic_weight,
            foreign,
        }
    }

    fn score(&self, query: &Query, doc: u32, shared: &Shared) -> f64 {
        let doc = &self.docs[doc as usize];
        let share = |part: f32, whole: f64| (f64::from(part) / whole.max(1e-9)).clamp(0.0, 1.0);
        let names = if query.named > 0.0 && doc.named > 0.0 {
            share(shared.named, query.named).powf(NAMES_SHARED.0)
                * share(shared.doc_named, f64::from(doc.named)).powf(NAMES_SHARED.1)
        } else if query.named > 0.0 {
            NAMES_NOTHING
        } else if doc.named > 0.0 {
            NAMED_BY_WORDING
        } else {
            1.0
        };
        let (mut said, mut doc_said) = (f64::from(shared.said), f64::from(shared.doc_said));
        let shares_generic = query.generic
            && doc.generic
            && query
                .terms
                .iter()
                .any(|t| t.2 == Class::Said && self.is_generic(t.0) && doc.terms.binary_search(&t.0).is_ok());
        if query.generic && doc.generic && !shares_generic {
            // "Broken" is nearly "dead".
            said += NEARLY * query.generic_weight;
            doc_said += NEARLY * f64::from(doc.generic_weight);
        }
        let says = if query.said > 0.0 && doc.said > 0.0 {
            if said <= 0.0 && doc_said <= 0.0 {
                CONTRADICTION
            } else {
                let both = (said / query.said).clamp(0.0, 1.0).powf(SAID_SHARED.0)
                    * (doc_said / f64::from(doc.said)).clamp(0.0, 1.0).powf(SAID_SHARED.1);
                both.max(CONTRADICTION)
            }
        } else if query.said > 0.0 {
            SAYS_NOTHING
        } else if doc.said > 0.0 {
            BARE
        } else {
            // Neither says what is amiss in so many words: then the small words decide.
            let small = if doc.other > 0.0 { share(shared.doc_other, f64::from(doc.other)) } else { 1.0 };
            BARE + (1.0 - BARE) * small
        };
        // A circumstance that both name speaks for the wording as much as what is said.
        let says = says + (1.0 - says) * ALIKE_IN_PASSING * share(shared.other, query.other.max(0.5));
        let missing = (query.other - f64::from(shared.other)).max(0.0) / (query.total + 0.5);
        let unsaid =
            f64::from((doc.other - shared.doc_other).max(0.0)) / (f64::from(doc.named + doc.said + doc.other) + 0.5);
        let mut score = names * says * (1.0 - 0.4 * missing) * (1.0 - 0.45 * unsaid);
        if !doc.pairs.is_empty() {
            // Where several things are named, it matters which of them is amiss.
            let weight = if doc.several && query.several { 0.15 } else { 0.03 };
            let kept = doc.pairs.iter().filter(|p| query.pairs.contains(p)).count() as f64 / doc.pairs.len() as f64;
            score *= 1.0 - weight + weight * kept;
        }
        if query.whole_side && doc.whole_side {
            // Meant alike.
        } else if query.whole_side || doc.whole_side && !query.all {
            score *= 0.9;
        } else if (query.one || query.sided) && doc.all && !query.all || query.all && !query.sided && doc.one {
            score *= 0.8;
        } else if doc.all && !query.all && !query.plural || doc.one && !query.one && !query.sided {
            score *= 0.95;
        }
        if query.front && !query.rear && doc.rear && !doc.front || query.rear && !query.front && doc.front && !doc.rear
        {
            score *= 0.6;
        }
        if query.named <= 0.0 {
            // Nothing is named: only a wording that says all of it, of the same place, will do.
            if query.said > said + 0.01 {
                score *= 0.6;
            }
            if query.spot && !(doc.front && query.front || doc.rear && query.rear) {
                score *= 0.6;
            }
        }
        if doc.contrast && !query.contrast {
            score *= 0.93;
        }
        if query.several && !doc.several {
            score *= 0.9;
        }
        if query.foreign {
            score *= FOREIGN;
        }
        score.clamp(0.0, 1.0)
    }

    fn is_generic(&self, term: Term) -> bool {
        self.generic.binary_search(&term).is_ok()
    }
}

/// Whether the vehicle itself is what a statement is about, as nothing else is named.
fn promotes(pieces: &[Piece]) -> bool {
    !pieces.iter().any(|p| matches!(p.kind, Kind::Component | Kind::Unknown) && !p.passing)
}

/// Whether all of one side is meant: "left indicators", "dead on one side front and rear".
fn whole_side(pieces: &[Piece]) -> bool {
    let has = |mark: Mark| pieces.iter().any(|p| p.mark == Some(mark) && !p.passing);
    let sided =
        pieces.iter().any(|p| !p.passing && (p.mark.is_some_and(Mark::is_side) || p.mark == Some(Mark::OneSide)));
    let named = |plural: bool| pieces.iter().any(|p| p.kind == Kind::Component && p.plural == plural && !p.passing);
    sided
        && (has(Mark::All) || has(Mark::Neither) || has(Mark::Front) && has(Mark::Rear) || named(true) && !named(false))
}

/// Whether something is set against what is amiss: "… the other one works".
fn contrast(pieces: &[Piece]) -> bool {
    pieces.iter().any(|p| p.mark == Some(Mark::Other) || p.kind == Kind::Good && !p.passing)
}

/// Whether several parts are named and set against each other.
fn several(pieces: &[Piece]) -> bool {
    pieces
        .iter()
        .any(|p| p.joint == Joint::But || p.kind == Kind::Good && pieces.iter().any(|q| q.kind == Kind::Generic))
        && pieces
            .iter()
            .any(|p| p.kind == Kind::Component && pieces.iter().any(|q| q.kind == Kind::Component && q.term != p.term))
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

/// Weight of every term: its rarity among the entries times what its kind is worth.
fn weights(lexicon: &Lexicon, wordings: &[(u32, Vec<Piece>)], entries: usize) -> Vec<f64> {
    let mut holders = vec![0.0f64; lexicon.terms()];
    let mut last = vec![u32::MAX; lexicon.terms()];
    for (entry, pieces) in wordings {
        for piece in pieces.iter().filter(|p| p.term != NO_TERM) {
            let at = piece.term as usize;
            if last[at] != *entry {
                last[at] = *entry;
                holders[at] += 1.0;
            }
        }
    }
    let rarity = |holders: f64| (1.0 + (entries as f64 - holders + 0.5) / (holders + 0.5)).ln();
    let top = rarity(1.0).max(1e-9);
    holders
        .iter()
        .enumerate()
        .map(|(term, &holders)| {
            let (worth, floor) = match lexicon.kind(term as Term) {
                Kind::Component | Kind::Unknown => (1.0, 0.25),
                Kind::State | Kind::Lit => (0.6, 0.4),
                Kind::Generic => (0.35, 0.2),
                Kind::Quantity | Kind::Number => (0.3, 0.12),
                Kind::Place => (0.25, 0.12),
                Kind::Circumstance => (0.4, 0.3),
                Kind::Good => (0.25, 0.4),
                Kind::Hedge => (0.25, 0.4),
                Kind::Light => (0.12, 0.12),
            };
            worth * (floor + (1.0 - floor) * (rarity(holders) / top).clamp(0.0, 1.0))
        })
        .collect()
}
