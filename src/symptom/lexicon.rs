//! The vocabulary: every word of the wordings and the thesaurus, and what each comes to.
//!
//! Takes a text cut into words; gives *pieces*, one for each word or expression that carries meaning, in a form in which
//! "turn signals aren't working" and "indicator dead" are the same. The same path serves the wordings of the knowledge and
//! what is typed, so that both always meet. Never ranks and never splits statements.

mod express;

use std::sync::OnceLock;

use rust_stemmers::{Algorithm, Stemmer};

use super::common_words::{
    AND, BUT, CHATTER, CIRCUMSTANCES, EMPTY, GENERIC, GOOD, HEDGE, LIGHT, LIT, NOT, PARTICLES, PASSING, SPELLINGS,
    STATES, VEHICLES,
};
use super::negation::{is_of_the_test, is_particle, is_verbal, is_verbal_not};
use super::normalise::{Joint, Text, Token};
pub(super) use super::piece::{Kind, NO_TERM, Piece, Term};
use super::place_words::{Mark, PLACE_WORDS, place_at};
use super::quick_hash::{Map, Set};
use super::spelling::Speller;
use super::thesaurus::Thesaurus;

/// What a word comes to.
#[derive(Clone, Copy, Debug)]
enum Role {
    Empty,
    And,
    But,
    Not,
    Hedge,
    Term(Term),
}

struct Expression {
    /// Terms after the first.
    rest: Box<[Term]>,
    becomes: Box<[Term]>,
    /// It begins with "not" and so never fits a "no" before a noun: "no stop lamp" is not "will not stop".
    verbal: bool,
}

/// The vocabulary of an index.
pub(super) struct Lexicon {
    stemmer: Stemmer,
    roles: Map<String, Role>,
    stems: Map<String, Term>,
    stem_alias: Map<String, Term>,
    kinds: Vec<Kind>,
    expressions: Map<Term, Vec<Expression>>,
    spellings: Map<&'static str, &'static str>,
    chatter: Set<&'static str>,
    /// Words behind which a circumstance stands.
    passing: Set<&'static str>,
    /// How often each word stands in the wordings.
    counts: Map<String, u32>,
    /// Made when the first unknown word is met, which most sessions never do at the start.
    speller: OnceLock<Speller>,
    particles: Vec<Term>,
    dead: Term,
    work: Term,
    only: Term,
    out: Term,
    gone: Term,
    tail: Term,
    sidecar: Term,
    vehicle: Term,
    /// Terms of the keys of the groups.
    keys: Set<Term>,
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
        let spellings: Map<&str, &str> = pairs(SPELLINGS).collect();
        let mut lexicon = Lexicon {
            stemmer: Stemmer::create(Algorithm::English),
            roles: Map::default(),
            stems: Map::default(),
            stem_alias: Map::default(),
            kinds: Vec::new(),
            expressions: Map::default(),
            spellings,
            chatter: CHATTER.split_whitespace().collect(),
            passing: PASSING.split_whitespace().collect(),
            counts: Map::default(),
            speller: OnceLock::new(),
            particles: Vec::new(),
            dead: 0,
            work: 0,
            only: 0,
            out: 0,
            gone: 0,
            tail: NO_TERM,
            sidecar: NO_TERM,
            vehicle: 0,
            keys: Set::default(),
        };
        lexicon.add_everyday_words();
        lexicon.add_groups(thesaurus);
        lexicon.add_wordings(wordings, thesaurus);
        lexicon.add_expressions(thesaurus);
        lexicon.tail = lexicon.stems.get("tail").copied().unwrap_or(NO_TERM);
        lexicon.sidecar = lexicon.stems.get("sidecar").copied().unwrap_or(NO_TERM);
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

    /// Whether a term belongs to the name that a group goes by: a word of the trade, whether a wording uses it or not.
    pub fn is_of_the_trade(&self, term: Term) -> bool {
        self.keys.contains(&term)
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
                self.roles.insert(word.to_owned(), role);
            }
        }

        self.vehicle = self.term("vehicle".to_owned(), Kind::Circumstance);
        for word in VEHICLES.split_whitespace() {
            self.roles.insert(word.to_owned(), Role::Term(self.vehicle));
        }
        for (list, kind) in [
            (CIRCUMSTANCES, Kind::Circumstance),
            (LIT, Kind::Lit),
            (STATES, Kind::State),
            (GENERIC, Kind::Generic),
            (GOOD, Kind::Good),
        ] {
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
                self.roles.insert(word.to_owned(), Role::Term(term));
            }
        }
        for mark in
            [Mark::Nearside, Mark::Offside, Mark::Front, Mark::Middle, Mark::Rear, Mark::One, Mark::All, Mark::Other]
        {
            let kind = if mark.is_quantity() { Kind::Quantity } else { Kind::Place };
            self.term(mark.word().to_owned(), kind);
        }
        for word in HEDGE.split_whitespace() {
            self.term(word.to_owned(), Kind::Hedge);
        }
        self.only = self.term("only".to_owned(), Kind::Hedge);
        for word in PARTICLES.split_whitespace() {
            let term = self.term(word.to_owned(), Kind::Light);
            self.particles.push(term);
        }
        self.dead = self.term("dead".to_owned(), Kind::Generic);
        self.work = self.term("work".to_owned(), Kind::Good);
        self.out = self.term("out".to_owned(), Kind::Light);
        self.gone = self.term("gone".to_owned(), Kind::Light);
    }

    /// Single words of the groups whose key is a single word: each comes to the term of the key. What comes to several
    /// words is left to the expressions, so that "dip" alone is the dipped beam and "dip switch" is not.
    fn add_groups(&mut self, thesaurus: &Thesaurus) {
        let mut holders: Map<&str, &str> = Map::default();
        let single = || thesaurus.callers_first().filter_map(|g| Some((g.key_word()?, &g.members)));
        for (key, _) in single() {
            holders.entry(key).or_insert(key);
        }
        for (key, members) in single() {
            for member in members {
                if let [word] = member.as_slice() {
                    match holders.get(word.as_str()) {
                        // A key that another group counts among its words hands all its own on.
                        Some(&holder) if holder == word => {
                            holders.insert(word, key);
                        }
                        Some(_) => {}
                        None => {
                            holders.insert(word, key);
                        }
                    }
                }
            }
        }
        let mut words: Vec<(&str, &str)> = holders.iter().map(|(&word, &key)| (word, key)).collect();
        // Keys first, so that no other group takes their stem; the outcome must not depend on hashing.
        words.sort_unstable_by_key(|&(word, key)| (word != key, key, word));
        // "Fogged" must not carry its stem off from the fog lamp.
        let mut taken: Map<String, &str> = Map::default();
        for word in thesaurus.callers_first().filter(|g| g.key.len() > 1).flat_map(|g| &g.key) {
            taken.insert(self.stem(word), word);
        }
        let mut terms: Map<&str, Term> = Map::default();
        for (word, key) in words {
            let mut target = key;
            for _ in 0..3 {
                target = holders.get(target).copied().unwrap_or(target);
            }
            if matches!(self.roles.get(target), Some(Role::Empty | Role::Not | Role::And | Role::But | Role::Hedge)) {
                continue;
            }
            let term = match terms.get(target) {
                Some(&term) => term,
                None => {
                    let stem = self.stem(target);
                    let term = self.term(stem, Kind::Component);
                    terms.insert(target, term);
                    term
                }
            };
            let stem = self.stem(word);
            let foreign = taken.get(&stem).is_some_and(|&other| other != word && holders.get(other) != Some(&key));
            if !foreign {
                self.stem_alias.entry(stem).or_insert(term);
            }
            self.roles.insert(word.to_owned(), Role::Term(term));
        }
    }

    fn add_wordings(&mut self, wordings: &[Text], thesaurus: &Thesaurus) {
        let mut counts: Map<String, u32> = Map::default();
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
            let role = self.settle(word);
            self.roles.insert(word.clone(), role);
        }
        for group in thesaurus.callers_first() {
            for word in group.members.iter().chain([&group.key]).flatten() {
                self.register(word);
            }
        }
        self.counts = counts;
    }

    fn speller(&self) -> &Speller {
        self.speller.get_or_init(|| {
            let mut known: Vec<(&str, u32)> = self
                .roles
                .iter()
                .filter(|(_, role)| matches!(role, Role::Term(_) | Role::Not))
                .map(|(word, _)| (word.as_str(), self.counts.get(word).copied().unwrap_or(0)))
                .chain(PLACE_WORDS.split_whitespace().map(|w| (w, 1)))
                .chain(STATES.split_whitespace().map(|w| (w, 0)))
                .collect();
            known.sort_unstable();
            known.dedup_by_key(|(word, _)| *word);
            Speller::new(known.into_iter())
        })
    }

    /// Expressions of several words, read the way a text is.
    fn add_expressions(&mut self, thesaurus: &Thesaurus) {
        let keys: Set<Term> =
            thesaurus.callers_first().filter_map(|g| self.stems.get(&self.stem(g.key_word()?)).copied()).collect();
        for group in thesaurus.callers_first() {
            let becomes: Box<[Term]> = self.line(&group.key).into();
            self.keys.extend(becomes.iter());
            if becomes.is_empty() {
                continue;
            }
            for member in group.members.iter().chain([&group.key]) {
                let single = member.len() == 1;
                if single && group.key_word().is_some() {
                    continue;
                }
                let line = self.line(member);
                // An expression of which only one word is left would take that word from everything else.
                let Some((&first, rest)) = line.split_first().filter(|(_, rest)| single || !rest.is_empty()) else {
                    continue;
                };
                if single && keys.contains(&first) && !becomes.contains(&first) {
                    // "Clocks" must not carry "clock" off from the speedometer.
                    continue;
                }
                let verbal = first == self.dead && is_verbal(member);
                let slot = self.expressions.entry(first).or_default();
                match slot.iter_mut().find(|e| *e.rest == *rest) {
                    Some(known) => known.verbal &= verbal,
                    None => slot.push(Expression { rest: rest.into(), becomes: becomes.clone(), verbal }),
                }
            }
        }
        for slot in self.expressions.values_mut() {
            slot.sort_by_key(|e| std::cmp::Reverse(e.rest.len()));
        }
    }

    /// The terms of an expression, before expressions are looked for.
    fn line(&self, words: &[String]) -> Vec<Term> {
        let words: Vec<Word> =
            words.iter().map(|w| Word { text: w.as_str().into(), joint: Joint::Plain, first: 0, last: 0 }).collect();
        let words = self.join(words);
        self.single(&words).into_iter().filter(|p| p.term != NO_TERM && p.kind != Kind::Hedge).map(|p| p.term).collect()
    }

    /// Makes a word known that only expressions use. Everyday words stay without weight of their own.
    fn register(&mut self, word: &str) {
        if self.roles.contains_key(word) || self.spellings.contains_key(word) {
            return;
        }
        if self.chatter.contains(word) {
            let stem = self.stem(word);
            self.term(stem, Kind::Light);
        }
        let role = self.settle(word);
        self.roles.insert(word.to_owned(), role);
    }

    /// What a word of the wordings or the thesaurus comes to; a new term if its stem is new.
    fn settle(&mut self, word: &str) -> Role {
        if let Some(british) = self.spellings.get(word).copied() {
            if let Some(role) = self.known(british) {
                return role;
            }
            return self.settle(british);
        }
        let stem = self.stem(word);
        if let Some(&term) = self.stem_alias.get(&stem).or_else(|| self.stems.get(&stem)) {
            return Role::Term(term);
        }
        let kind = if word.bytes().any(|b| b.is_ascii_digit()) {
            Kind::Number
        } else if self.chatter.contains(word) {
            Kind::Circumstance
        } else {
            Kind::Component
        };
        Role::Term(self.term(stem, kind))
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

    /// What a word outside the table comes to by its spelling or stem.
    fn known_by_stem(&self, word: &str) -> Option<Role> {
        if let Some(british) = self.spellings.get(word) {
            return self.known(british);
        }
        let stem = self.stem(word);
        let known = self.stem_alias.get(&stem).or_else(|| self.stems.get(&stem));
        known.map(|&term| Role::Term(term))
    }

    fn known(&self, word: &str) -> Option<Role> {
        self.roles.get(word).copied().or_else(|| self.known_by_stem(word))
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
                && !is_particle(&word.text)
            {
                both.clear();
                both.push_str(&before.text);
                both.push_str(&word.text);
                if both.len() >= 6 && matches!(self.roles.get(both.as_str()), Some(Role::Term(_))) {
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
            } else if let Some(meant) = self.speller().mend(text) {
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
                && (self.spellings.contains_key(part)
                    || place_at(&[part], 0).is_some()
                    || matches!(self.roles.get(part), Some(&Role::Term(term)) if self.kind(term) != Kind::Light))
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
        let (mut named, mut passing) = (false, false);
        while let Some(word) = words.get(at) {
            joint = joint.max(word.joint);
            if joint > Joint::Plain {
                (named, passing) = (false, false);
            }
            if named && self.passing.contains(plain[at]) {
                passing = true;
            }
            let plural = word.text.len() > 3 && word.text.ends_with('s') && !word.text.ends_with("ss");
            let vehicle = self.vehicle;
            let before_names = !named;
            let mut push = |term: Term, kind: Kind, mark: Option<Mark>, last: u32| {
                named |= matches!(kind, Kind::Component | Kind::Unknown);
                pieces.push(Piece {
                    joint,
                    first: word.first,
                    last,
                    mark,
                    passing,
                    plural: plural && kind == Kind::Component,
                    vehicle: term == vehicle,
                    ..Piece::plain(term, kind, word.first)
                });
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
            if is_of_the_test(&plain, at, before_names) {
                at += 1;
                continue;
            }
            if text == "off" && at > 0 && matches!(plain[at - 1], "is" | "are" | "was" | "were") {
                push(self.dead, Kind::Generic, None, word.last);
                at += 1;
                continue;
            }
            if text == "all" && at > 0 && plain[at - 1] == "at" {
                at += 1;
                continue;
            }
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
                    negated = is_verbal_not(text);
                    push(self.dead, Kind::Generic, None, word.last);
                    if let Some(piece) = pieces.last_mut() {
                        piece.nominal = !negated;
                    }
                }
                Some(Role::Hedge) => {
                    push(self.stems.get(text).copied().unwrap_or(NO_TERM), Kind::Hedge, None, word.last)
                }
                Some(Role::Term(term)) => {
                    push(term, self.kind(term), self.mark_of(term, plain.get(at).copied()), word.last)
                }
                None if text.bytes().any(|b| b.is_ascii_digit()) => push(NO_TERM, Kind::Number, None, word.last),
                None if self.chatter.contains(text) => {}
                None => push(NO_TERM, Kind::Unknown, None, word.last),
            }
        }
        pieces
    }
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
