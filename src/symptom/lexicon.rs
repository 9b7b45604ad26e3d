//! The vocabulary: every word of the wordings and the thesaurus, and what each comes to.
//!
//! Takes a text cut into words; gives *pieces*, one for each word or expression that carries meaning, in a form in which
//! "turn signals aren't working" and "indicator dead" are the same. The same path serves the wordings of the knowledge and
//! what is typed, so that both always meet. Never ranks and never splits statements.

use std::collections::{HashMap, HashSet};

use rust_stemmers::{Algorithm, Stemmer};

use super::common_words::{AND, BUT, CHATTER, EMPTY, GENERIC, GOOD, HEDGE, LIGHT, LIT, NOT, SPELLINGS, STATES};
use super::normalise::{Joint, Text, Token};
use super::place_words::{Mark, PLACE_WORDS, place_at};
use super::spelling::Speller;
use super::thesaurus::Thesaurus;

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
}

/// What a word comes to.
#[derive(Clone, Debug)]
enum Role {
    Empty,
    And,
    But,
    Not,
    Hedge,
    Terms(Box<[Term]>),
}

struct Expression {
    /// Terms after the first.
    rest: Box<[Term]>,
    becomes: Box<[Term]>,
}

/// The vocabulary of an index.
pub(super) struct Lexicon {
    stemmer: Stemmer,
    roles: HashMap<String, Role>,
    stems: HashMap<String, Term>,
    stem_alias: HashMap<String, Box<[Term]>>,
    kinds: Vec<Kind>,
    expressions: HashMap<Term, Vec<Expression>>,
    spellings: HashMap<&'static str, &'static str>,
    chatter: HashSet<&'static str>,
    joinable: HashSet<String>,
    speller: Speller,
    dead: Term,
    work: Term,
    out: Term,
    gone: Term,
}

/// A word after joining and mending.
struct Word<'t> {
    text: std::borrow::Cow<'t, str>,
    joint: Joint,
    first: u32,
    last: u32,
}

impl Lexicon {
    /// Gathers the vocabulary of the wordings and the thesaurus.
    pub fn new(wordings: &[Text], thesaurus: &Thesaurus) -> Lexicon {
        let spellings: HashMap<&str, &str> = pairs(SPELLINGS).collect();
        let mut lexicon = Lexicon {
            stemmer: Stemmer::create(Algorithm::English),
            roles: HashMap::new(),
            stems: HashMap::new(),
            stem_alias: HashMap::new(),
            kinds: Vec::new(),
            expressions: HashMap::new(),
            spellings,
            chatter: CHATTER.split_whitespace().collect(),
            joinable: HashSet::new(),
            speller: Speller::new(std::iter::empty()),
            dead: 0,
            work: 0,
            out: 0,
            gone: 0,
        };
        lexicon.add_everyday_words();
        lexicon.add_groups(thesaurus);
        lexicon.add_wordings(wordings);
        lexicon.add_expressions(thesaurus);
        lexicon
    }

    /// Number of terms; every term is below it.
    pub fn terms(&self) -> usize {
        self.kinds.len()
    }

    /// The term that stands for "does not work".
    pub fn dead(&self) -> Term {
        self.dead
    }

    /// The term of a place word such as "one"; none if no wording and no group uses it.
    pub fn mark_term(&self, mark: Mark) -> Option<Term> {
        self.stems.get(mark.word()).copied()
    }

    /// The stem behind a term.
    pub fn kind(&self, term: Term) -> Kind {
        self.kinds.get(term as usize).copied().unwrap_or(Kind::Unknown)
    }

    fn add_everyday_words(&mut self) {
        for (list, role) in
            [(EMPTY, Role::Empty), (AND, Role::And), (BUT, Role::But), (NOT, Role::Not), (HEDGE, Role::Hedge)]
        {
            for word in list.split_whitespace() {
                self.roles.insert(word.to_owned(), role.clone());
            }
        }

        for (list, kind) in [(LIT, Kind::Lit), (STATES, Kind::State), (GENERIC, Kind::Generic), (GOOD, Kind::Good)] {
            for word in list.split_whitespace() {
                let stem = self.stem(word);
                self.term(stem, kind);
            }
        }
        for word in LIGHT.split_whitespace() {
            // Kept whole: the stem of a light verb may be a trade word.
            if !self.roles.contains_key(word) {
                let stem = self.stem(word);
                let term = self.term(stem, Kind::Light);
                self.roles.insert(word.to_owned(), Role::Terms([term].into()));
            }
        }
        for mark in
            [Mark::Nearside, Mark::Offside, Mark::Front, Mark::Middle, Mark::Rear, Mark::One, Mark::All, Mark::Other]
        {
            let kind = if mark.is_quantity() { Kind::Quantity } else { Kind::Place };
            self.term(mark.word().to_owned(), kind);
        }
        self.dead = self.term("dead".to_owned(), Kind::Generic);
        self.work = self.term("work".to_owned(), Kind::Good);
        self.out = self.term("out".to_owned(), Kind::Light);
        self.gone = self.term("gone".to_owned(), Kind::Light);
    }

    /// Single words of the groups: each comes to the terms of its group's key.
    fn add_groups(&mut self, thesaurus: &Thesaurus) {
        let mut holders: HashMap<&str, usize> = HashMap::new();
        // Groups given by the caller stand behind the core and go first.
        let order = || (0..thesaurus.groups.len()).rev();
        for index in order() {
            let group = &thesaurus.groups[index];
            if let [word] = group.key.as_slice() {
                holders.entry(word).or_insert(index);
            }
        }
        let own = thesaurus.own();
        for index in (own..thesaurus.groups.len()).chain(0..own) {
            for member in &thesaurus.groups[index].members {
                if let [word] = member.as_slice() {
                    holders.entry(word).or_insert(index);
                }
            }
        }
        let becomes: Vec<Box<[Term]>> =
            thesaurus.groups.iter().map(|g| self.key_terms(&g.key, thesaurus, &holders, 0)).collect();
        let mut words: Vec<(&str, usize)> = holders.into_iter().collect();
        // A key's own stem comes first, then the order of the groups: the outcome must not depend on hashing.
        words.sort_by_key(|&(word, index)| (thesaurus.groups[index].key.as_slice() != [word], index, word));
        for (word, index) in words {
            let terms = &becomes[index];
            if terms.is_empty() {
                continue;
            }
            let stem = self.stem(word);
            self.stem_alias.entry(stem).or_insert_with(|| terms.clone());
            self.roles.insert(word.to_owned(), Role::Terms(terms.clone()));
        }
    }

    fn key_terms(
        &mut self,
        key: &[String],
        thesaurus: &Thesaurus,
        holders: &HashMap<&str, usize>,
        depth: usize,
    ) -> Box<[Term]> {
        let mut terms = Vec::new();
        let plain: Vec<&str> = key.iter().map(String::as_str).collect();
        let mut at = 0;
        while let Some(&word) = plain.get(at) {
            if let Some((taken, mark, _)) = place_at(&plain, at) {
                terms.push(self.term(mark.word().to_owned(), Kind::Place));
                at += taken;
                continue;
            }
            at += 1;
            let word = self.spellings.get(word).copied().unwrap_or(word);
            match self.roles.get(word) {
                Some(Role::Not) => terms.push(self.dead),
                Some(Role::Empty | Role::And | Role::But | Role::Hedge) => {}
                _ => match holders.get(word) {
                    Some(&index) if depth < 3 && thesaurus.groups[index].key != key => {
                        let deeper = self.key_terms(&thesaurus.groups[index].key, thesaurus, holders, depth + 1);
                        terms.extend(deeper);
                    }
                    _ => {
                        let stem = self.stem(word);
                        terms.push(self.term(stem, Kind::Component));
                    }
                },
            }
        }
        terms.into()
    }

    fn add_wordings(&mut self, wordings: &[Text]) {
        let mut counts: HashMap<String, u32> = HashMap::new();
        for token in wordings.iter().flat_map(|t| &t.tokens) {
            match counts.get_mut(token.word.as_str()) {
                Some(count) => *count += 1,
                None => {
                    counts.insert(token.word.clone(), 1);
                }
            }
        }
        let mut fresh: Vec<&String> = counts.keys().filter(|w| !self.roles.contains_key(*w)).collect();
        fresh.sort();
        for word in fresh {
            let role = self.role_by_stem(word, true).unwrap_or(Role::Empty);
            self.roles.insert(word.clone(), role);
        }
        self.joinable = self
            .roles
            .iter()
            .filter(|(w, r)| w.len() >= 6 && matches!(r, Role::Terms(_)))
            .map(|(w, _)| w.clone())
            .collect();
        let mut known: Vec<(&str, u32)> = self
            .roles
            .iter()
            .filter(|(_, role)| matches!(role, Role::Terms(_) | Role::Not))
            .map(|(word, _)| (word.as_str(), counts.get(word).copied().unwrap_or(0)))
            .chain(PLACE_WORDS.split_whitespace().map(|w| (w, 1)))
            .chain(STATES.split_whitespace().map(|w| (w, 0)))
            .collect();
        known.sort_unstable();
        known.dedup_by_key(|(word, _)| *word);
        self.speller = Speller::new(known.into_iter());
    }

    /// Expressions of several words, read the way a text is.
    fn add_expressions(&mut self, thesaurus: &Thesaurus) {
        let own = thesaurus.own();
        let mut found: Vec<(Vec<Term>, Box<[Term]>)> = Vec::new();
        for index in (own..thesaurus.groups.len()).chain(0..own) {
            let group = &thesaurus.groups[index];
            let becomes: Box<[Term]> = self.line(&group.key).into();
            if becomes.is_empty() {
                continue;
            }
            for member in group.members.iter().chain([&group.key]).filter(|m| m.len() > 1) {
                let line = self.line(member);
                if line.len() > 1 {
                    found.push((line, becomes.clone()));
                }
            }
        }
        for (line, becomes) in found {
            let slot = self.expressions.entry(line[0]).or_default();
            if slot.iter().all(|e| *e.rest != line[1..]) {
                slot.push(Expression { rest: line[1..].into(), becomes });
            }
        }
        for slot in self.expressions.values_mut() {
            slot.sort_by_key(|e| std::cmp::Reverse(e.rest.len()));
        }
    }

    /// The terms of an expression, before expressions are looked for.
    fn line(&mut self, words: &[String]) -> Vec<Term> {
        for word in words {
            if !self.roles.contains_key(word) {
                let role = self.role_by_stem(word, true).unwrap_or(Role::Empty);
                self.roles.insert(word.clone(), role);
            }
        }
        let words: Vec<Word> =
            words.iter().map(|w| Word { text: w.as_str().into(), joint: Joint::Plain, first: 0, last: 0 }).collect();
        self.single(&words).into_iter().map(|p| p.term).collect()
    }

    fn stem(&self, word: &str) -> String {
        self.stemmer.stem(word).into_owned()
    }

    fn term(&mut self, stem: String, kind: Kind) -> Term {
        if let Some(&term) = self.stems.get(&stem) {
            return term;
        }
        let term = self.kinds.len() as Term;
        self.kinds.push(kind);
        self.stems.insert(stem, term);
        term
    }

    /// What a word outside the table comes to by its stem. With `fresh`, an unknown stem becomes a new term.
    fn role_by_stem(&mut self, word: &str, fresh: bool) -> Option<Role> {
        if let Some(role) = self.known_by_stem(word) {
            return Some(role);
        }
        if !fresh {
            return None;
        }
        let kind = if word.bytes().any(|b| b.is_ascii_digit()) { Kind::Number } else { Kind::Component };
        let stem = self.stem(word);
        Some(Role::Terms([self.term(stem, kind)].into()))
    }

    fn known_by_stem(&self, word: &str) -> Option<Role> {
        if let Some(british) = self.spellings.get(word) {
            return self.known(british);
        }
        let stem = self.stem(word);
        if let Some(terms) = self.stem_alias.get(&stem) {
            return Some(Role::Terms(terms.clone()));
        }
        self.stems.get(&stem).map(|&term| Role::Terms([term].into()))
    }

    fn known(&self, word: &str) -> Option<Role> {
        self.roles.get(word).cloned().or_else(|| self.known_by_stem(word))
    }

    fn is_known(&self, word: &str) -> bool {
        self.roles.contains_key(word) || self.spellings.contains_key(word) || self.known_by_stem(word).is_some()
    }

    /// The pieces of a wording of the knowledge: nothing is mended.
    pub fn pieces_as_written(&self, text: &Text) -> Vec<Piece> {
        let words = self.join(as_words(&text.tokens));
        self.finish(self.express(self.single(&words)))
    }

    /// The pieces of a typed text: misspellings mended, run-together words parted.
    pub fn pieces(&self, text: &Text) -> Vec<Piece> {
        let joined = self.join(as_words(&text.tokens));
        let mended = self.mend(joined);
        let words = self.join(mended);
        self.finish(self.express(self.single(&words)))
    }

    /// Runs expressions again over pieces put together from two statements.
    pub fn rejoin(&self, pieces: Vec<Piece>) -> Vec<Piece> {
        self.express(pieces)
    }

    /// Two words that are one in the vocabulary: "head light".
    fn join<'t>(&self, words: Vec<Word<'t>>) -> Vec<Word<'t>> {
        let mut out: Vec<Word> = Vec::with_capacity(words.len());
        let mut both = String::new();
        for word in words {
            if word.joint == Joint::Plain
                && let Some(before) = out.last_mut()
                && before.text.len() >= 2
                && word.text.len() >= 2
            {
                both.clear();
                both.push_str(&before.text);
                both.push_str(&word.text);
                if self.joinable.contains(both.as_str()) {
                    before.text = both.clone().into();
                    before.last = word.last;
                    continue;
                }
            }
            out.push(word);
        }
        out
    }

    /// Mends unknown words, or parts them in two known ones.
    fn mend<'t>(&self, words: Vec<Word<'t>>) -> Vec<Word<'t>> {
        let mut out: Vec<Word> = Vec::with_capacity(words.len());
        for word in words {
            let text = &*word.text;
            let settled = text.contains('/')
                || text.bytes().any(|b| b.is_ascii_digit())
                || self.is_known(text)
                || self.chatter.contains(text)
                || place_at(&[text], 0).is_some();
            if settled {
                out.push(word);
            } else if let Some((left, right)) = self.part(text) {
                out.push(Word { text: left.into(), joint: word.joint, first: word.first, last: word.last });
                out.push(Word { text: right.into(), joint: Joint::Plain, first: word.first, last: word.last });
            } else if let Some(meant) = self.speller.mend(text) {
                out.push(Word { text: meant.to_owned().into(), ..word });
            } else {
                out.push(word);
            }
        }
        out
    }

    fn part(&self, word: &str) -> Option<(String, String)> {
        if word.len() < 7 || !word.is_ascii() {
            return None;
        }
        let fits = |part: &str| {
            part.len() >= 3
                && (matches!(self.roles.get(part), Some(Role::Terms(_)))
                    || self.spellings.contains_key(part)
                    || place_at(&[part], 0).is_some())
        };
        (3..=word.len() - 3)
            .rev()
            .map(|cut| word.split_at(cut))
            .find(|(left, right)| fits(left) && fits(right))
            .map(|(left, right)| (left.to_owned(), right.to_owned()))
    }

    /// First pass: places, then each word by itself.
    fn single(&self, words: &[Word]) -> Vec<Piece> {
        let plain: Vec<&str> = words.iter().map(|w| self.spellings.get(&*w.text).copied().unwrap_or(&w.text)).collect();
        let mut pieces: Vec<Piece> = Vec::with_capacity(words.len());
        let mut joint = Joint::Plain;
        let mut at = 0;
        let mut negated = false;
        while let Some(word) = words.get(at) {
            joint = joint.max(word.joint);
            let mut push = |term: Term, kind: Kind, mark: Option<Mark>, last: u32| {
                pieces.push(Piece { term, kind, joint, first: word.first, last, mark });
                joint = Joint::Plain;
            };
            if let Some((taken, mark, more)) = place_at(&plain, at) {
                let last = words[(at + taken - 1).min(words.len() - 1)].last;
                if mark == Mark::Neither {
                    push(self.dead, Kind::Generic, None, last);
                }
                for mark in [Some(mark), more].into_iter().flatten() {
                    let kind = if mark.is_quantity() { Kind::Quantity } else { Kind::Place };
                    push(self.mark_term(mark).unwrap_or(NO_TERM), kind, Some(mark), last);
                }
                at += taken;
                negated = false;
                continue;
            }
            let text = plain[at];
            let was_negated = std::mem::take(&mut negated);
            at += 1;
            if was_negated && matches!(text, "light" | "lights" | "lit" | "lighting") {
                push(self.work, Kind::Good, None, word.last);
                continue;
            }
            match self.known(text) {
                Some(Role::Empty) => negated = was_negated,
                Some(Role::And) => joint = joint.max(Joint::And),
                Some(Role::But) => joint = joint.max(Joint::But),
                Some(Role::Not) => {
                    negated = !matches!(text, "no" | "none" | "nothing" | "without" | "nowt" | "nae");
                    push(self.dead, Kind::Generic, None, word.last);
                }
                Some(Role::Hedge) => push(NO_TERM, Kind::Hedge, None, word.last),
                Some(Role::Terms(terms)) => {
                    for &term in &terms {
                        push(term, self.kind(term), None, word.last);
                    }
                }
                None if text.bytes().any(|b| b.is_ascii_digit()) => push(NO_TERM, Kind::Number, None, word.last),
                None if self.chatter.contains(text) => {}
                None => push(NO_TERM, Kind::Unknown, None, word.last),
            }
        }
        pieces
    }

    /// Second pass: expressions of several words, longest first.
    fn express(&self, pieces: Vec<Piece>) -> Vec<Piece> {
        let mut out: Vec<Piece> = Vec::with_capacity(pieces.len());
        let mut at = 0;
        while let Some(&piece) = pieces.get(at) {
            let hit = self
                .expressions
                .get(&piece.term)
                .into_iter()
                .flatten()
                .find_map(|e| follow(&pieces[at + 1..], &e.rest).map(|taken| (e, taken)));
            let Some((expression, taken)) = hit else {
                out.push(piece);
                at += 1;
                continue;
            };
            let span = &pieces[at..=at + taken];
            let last = span.iter().map(|p| p.last).max().unwrap_or(piece.last);
            for (i, &term) in expression.becomes.iter().enumerate() {
                let mark = span.iter().find(|p| p.term == term).and_then(|p| p.mark);
                let kind = if mark.is_none() && matches!(self.kind(term), Kind::Quantity) {
                    Kind::State
                } else {
                    self.kind(term)
                };
                let joint = if i == 0 { piece.joint } else { Joint::Plain };
                out.push(Piece { term, kind, joint, first: piece.first, last, mark });
            }
            at += taken + 1;
        }
        out
    }

    /// Settles "out" and "gone", and drops what was only of use in expressions.
    fn finish(&self, pieces: Vec<Piece>) -> Vec<Piece> {
        let mut out: Vec<Piece> = Vec::with_capacity(pieces.len());
        let mut joint = Joint::Plain;
        let names =
            |kind: Kind| matches!(kind, Kind::Component | Kind::Place | Kind::Quantity | Kind::Unknown | Kind::Hedge);
        for (i, &piece) in pieces.iter().enumerate() {
            let mut piece = piece;
            piece.joint = piece.joint.max(joint);
            let before = if i == 0 { None } else { pieces.get(i - 1) };
            let said_of_a_part = before.is_some_and(|p| names(p.kind) || self.is_going(p.term));
            let followed_by_state = pieces.get(i + 1).is_some_and(|p| p.kind == Kind::State && p.joint == Joint::Plain);
            if (piece.term == self.out && said_of_a_part)
                || (piece.term == self.gone && said_of_a_part && !followed_by_state)
            {
                piece.term = self.dead;
                piece.kind = Kind::Generic;
            }
            if piece.kind == Kind::Light {
                joint = piece.joint;
                continue;
            }
            joint = Joint::Plain;
            out.push(piece);
        }
        out
    }

    /// "Goes out", "went out".
    fn is_going(&self, term: Term) -> bool {
        ["go", "went"].iter().any(|w| self.stems.get(*w) == Some(&term))
    }
}

/// Whether `pieces` go on with `rest`, light words between allowed: how many pieces that takes.
fn follow(pieces: &[Piece], rest: &[Term]) -> Option<usize> {
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
            if piece.kind != Kind::Light || skipped > 2 {
                return None;
            }
        }
    }
    Some(at)
}

fn as_words(tokens: &[Token]) -> Vec<Word<'_>> {
    tokens
        .iter()
        .enumerate()
        .map(|(i, t)| Word { text: t.word.as_str().into(), joint: t.joint, first: i as u32, last: i as u32 })
        .collect()
}

fn pairs(list: &'static str) -> impl Iterator<Item = (&'static str, &'static str)> {
    let mut words = list.split_whitespace();
    std::iter::from_fn(move || Some((words.next()?, words.next()?)))
}
