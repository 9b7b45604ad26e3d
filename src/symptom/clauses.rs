//! Tells the statements of a text apart.
//!
//! Takes the pieces of a text and something that can weigh them against the wordings; gives one draft for each statement:
//! one thing that is amiss, or one thing said to be well. A text is cut at commas, "and", "but" and the like only where
//! both halves stand by themselves ("horn weak and wipers slow"), not where one wording covers both ("wash and wipe dead").
//! What two statements share is lent ("tail lamp and number-plate lamp dead"). Never drops a piece.

use super::index::Index;
use super::lexicon::{Kind, Piece};
use super::normalise::{Joint, Text};
use super::place_words::Mark;

/// Words of one statement that are looked at.
pub(super) const MOST_WORDS: usize = 60;
/// Statements in one text.
pub(super) const MOST_CLAUSES: usize = 12;
/// Segments weighed against each other; what comes behind them is cut at its punctuation and no more.
const MOST_SEGMENTS: usize = 24;
/// Likeness from which a text with joints is taken as one statement.
const ONE_WORDING: f64 = 0.85;
/// Likeness from which a half stands by itself.
const STANDS: f64 = 0.35;

/// One statement.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    /// Its pieces, lent ones included.
    pub pieces: Vec<Piece>,
    /// It says that this is well.
    pub good: bool,
    /// It is taken to be well only because a "but" sets it against what is amiss: "cranks but …".
    pub by_contrast: bool,
    /// The other one, or the rest, was said to be well.
    pub other_good: bool,
    /// Places lent by the statement before.
    pub inherited: Option<Vec<Mark>>,
    /// Token ranges it was read from.
    spans: Vec<(u32, u32)>,
    joint: Joint,
}

impl Draft {
    fn new(pieces: Vec<Piece>, good: bool) -> Draft {
        let spans = match (pieces.first(), pieces.last()) {
            (Some(first), Some(last)) => vec![(first.first, last.last.max(first.first))],
            _ => Vec::new(),
        };
        let joint = pieces.first().map_or(Joint::Plain, |p| p.joint);
        Draft { pieces, good, by_contrast: false, other_good: false, inherited: None, spans, joint }
    }

    /// The whole text as one statement.
    pub fn whole(pieces: Vec<Piece>) -> Draft {
        let good = is_praise(&pieces);
        Draft::new(pieces, good)
    }

    fn absorb(&mut self, mut pieces: Vec<Piece>) {
        if names(&self.pieces) && amiss(&self.pieces) && !names(&pieces) {
            // The statement is complete: what follows without a name only tells more of it.
            pieces.iter_mut().for_each(|p| p.passing = true);
        }
        let more = Draft::new(pieces, false);
        for (first, last) in more.spans {
            match self.spans.last_mut() {
                Some(span) if first > span.1 && first - span.1 <= 4 => span.1 = last,
                _ => self.spans.push((first, last)),
            }
        }
        self.pieces.extend(more.pieces);
    }

    fn lend(&mut self, pieces: Vec<Piece>, index: &Index) {
        self.spans.extend(pieces.iter().map(|p| (p.first, p.last)));
        self.pieces.extend(pieces);
        self.pieces = index.rejoin(std::mem::take(&mut self.pieces));
    }

    /// The statement in the words typed.
    pub fn text(&self, text: &Text) -> String {
        let mut out = String::new();
        for &(first, last) in &self.spans {
            let (Some(from), Some(to)) = (text.tokens.get(first as usize), text.tokens.get(last as usize)) else {
                continue;
            };
            if !out.is_empty() {
                out.push(' ');
            }
            out.push_str(text.clean.get(from.start..to.end.max(from.start)).unwrap_or(""));
        }
        out
    }

    /// The statement in plain words, single spaces.
    pub fn plain(&self, text: &Text) -> String {
        let tokens = self
            .spans
            .iter()
            .flat_map(|&(first, last)| text.tokens.iter().take(last as usize + 1).skip(first as usize));
        let words: Vec<&str> = tokens.map(|t| t.word.as_str()).collect();
        words.join(" ")
    }
}

fn has(pieces: &[Piece], kind: Kind) -> bool {
    pieces.iter().any(|p| p.kind == kind)
}

fn is_amiss(kind: Kind) -> bool {
    matches!(kind, Kind::State | Kind::Lit | Kind::Generic)
}

/// Says what is amiss.
fn amiss(pieces: &[Piece]) -> bool {
    pieces.iter().any(|p| is_amiss(p.kind))
}

/// Names a component.
fn names(pieces: &[Piece]) -> bool {
    has(pieces, Kind::Component)
}

fn says_other(pieces: &[Piece]) -> bool {
    pieces.iter().any(|p| p.mark == Some(Mark::Other))
}

fn spots(pieces: &[Piece]) -> Vec<Mark> {
    pieces.iter().filter_map(|p| p.mark).filter(|m| m.is_spot()).collect()
}

/// Says that something is well, without reservation.
fn is_praise(pieces: &[Piece]) -> bool {
    let hedged = has(pieces, Kind::Hedge);
    let well = has(pieces, Kind::Good) && !amiss(pieces);
    let other_lit =
        says_other(pieces) && has(pieces, Kind::Lit) && !has(pieces, Kind::State) && !has(pieces, Kind::Generic);
    !hedged && (well || other_lit)
}

/// The run of pieces that says the other one is well, if there is one: "… the other works".
pub(super) fn praise_of_other(pieces: &[Piece]) -> Option<std::ops::Range<usize>> {
    let start = pieces.iter().position(|p| p.mark == Some(Mark::Other))?;
    let next =
        pieces.iter().skip(start + 1).position(|p| p.joint > Joint::Plain).map_or(pieces.len(), |n| start + 1 + n);
    let end =
        pieces[start..next].iter().position(|p| matches!(p.kind, Kind::Good | Kind::Lit)).map(|n| start + n + 1)?;
    let more = pieces[end..next].iter().take_while(|p| matches!(p.kind, Kind::Good | Kind::Light | Kind::Lit)).count();
    is_praise(&pieces[start..end]).then_some(start..end + more)
}

/// The statements of a text.
pub(super) fn split(pieces: Vec<Piece>, index: &Index) -> Vec<Draft> {
    let mut drafts: Vec<Draft> = Vec::new();
    let sides = spots(&pieces).iter().any(|m| spots(&pieces).iter().any(|n| n != m));
    if pieces.len() <= MOST_WORDS && !sides && praise_of_other(&pieces).is_none() && is_one_wording(&pieces, index) {
        return vec![Draft::new(pieces, false)];
    }
    for (number, segment) in segments(pieces).into_iter().enumerate() {
        let parts = if number < MOST_SEGMENTS { refine(segment, index) } else { vec![segment] };
        for part in parts {
            if drafts.len() < 2 * MOST_CLAUSES {
                add(part, &mut drafts, index);
            }
        }
    }
    share(&mut drafts, index);
    // What names nothing of the knowledge and says nothing is amiss is talk.
    let talk = |d: &Draft| !d.good && !amiss(&d.pieces) && !index.knows_a_name(&d.pieces);
    if drafts.iter().any(|d| !talk(d)) {
        drafts.retain(|d| !talk(d));
    }
    for at in 1..drafts.len() {
        // "Turns over but will not catch": the first half is a thing that works.
        let (here, next) = (&drafts[at - 1], &drafts[at]);
        let works = !here.good && !amiss(&here.pieces) && names(&here.pieces) && !has(&here.pieces, Kind::Hedge);
        if works && next.joint == Joint::But && amiss(&next.pieces) && names(&next.pieces) && !next.good {
            drafts[at - 1].good = true;
            drafts[at - 1].by_contrast = true;
        }
        // "Nothing from the starter but I have lights": the second half is.
        let (before, here) = (&drafts[at - 1], &drafts[at]);
        let has_it = here.joint == Joint::But && !amiss(&here.pieces) && names(&here.pieces);
        if has_it && !has(&here.pieces, Kind::Hedge) && amiss(&before.pieces) && !before.good {
            drafts[at].by_contrast = !drafts[at].good;
            drafts[at].good = true;
        }
    }
    drafts.truncate(MOST_CLAUSES);
    drafts
}

/// Whether a wording covers the whole text, joints and all: "tail lamps work but no stop lamps".
fn is_one_wording(pieces: &[Piece], index: &Index) -> bool {
    let joined = pieces.iter().skip(1).any(|p| p.joint > Joint::Plain);
    let Some(best) = index.best(pieces).filter(|b| b.score >= ONE_WORDING) else { return false };
    (joined || is_praise(pieces))
        && pieces
            .iter()
            .filter(|p| matches!(p.kind, Kind::Component | Kind::Good))
            .all(|p| index.holds(best.doc, p.term))
}

fn segments(pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    let mut segments: Vec<Vec<Piece>> = Vec::new();
    for piece in pieces {
        match segments.last_mut() {
            Some(segment) if piece.joint == Joint::Plain && segment.len() < MOST_WORDS => segment.push(piece),
            _ => segments.push(vec![piece]),
        }
    }
    segments
}

/// Cuts a segment where two statements run on without a comma.
fn refine(mut segment: Vec<Piece>, index: &Index) -> Vec<Vec<Piece>> {
    if let Some(range) = praise_of_other(&segment)
        && (range.start > 0 || range.end < segment.len())
    {
        let rest = cut(&mut segment, range.end);
        let praise = cut(&mut segment, range.start);
        let mut parts = Vec::new();
        for part in [segment, praise, rest] {
            if !part.is_empty() {
                parts.push(part);
            }
        }
        return parts;
    }
    if has(&segment, Kind::Hedge) {
        return vec![segment];
    }
    if let Some(at) = praise_boundary(&segment) {
        let rest = cut(&mut segment, at);
        let mut parts = vec![segment];
        parts.extend(refine(rest, index));
        return parts;
    }
    if segment.len() <= 16
        && let Some(at) = run_on(&segment, index)
    {
        let rest = cut(&mut segment, at);
        let mut parts = vec![segment];
        parts.extend(refine(rest, index));
        return parts;
    }
    vec![segment]
}

/// Splits off what starts at `at`, which then reads as set against what stood before.
fn cut(segment: &mut Vec<Piece>, at: usize) -> Vec<Piece> {
    let mut rest = segment.split_off(at.min(segment.len()));
    if at > 0
        && let Some(first) = rest.first_mut()
    {
        first.joint = first.joint.max(Joint::But);
    }
    rest
}

/// "headlamps fine horn dead" and "horn dead headlamps fine".
fn praise_boundary(segment: &[Piece]) -> Option<usize> {
    let good = segment.iter().position(|p| p.kind == Kind::Good)?;
    let (before, after) = (&segment[..good], &segment[good + 1..]);
    if names(before) && !amiss(before) && names(after) {
        return Some(good + 1);
    }
    let bad = before.iter().rposition(|p| is_amiss(p.kind))?;
    let named = before.iter().skip(bad).position(|p| p.kind == Kind::Component)? + bad;
    names(&before[..bad]).then_some(named)
}

/// "horn dead wipers slow": both halves fit far better apart.
fn run_on(segment: &[Piece], index: &Index) -> Option<usize> {
    let boundaries: Vec<usize> = (1..segment.len())
        .filter(|&at| {
            is_amiss(segment[at - 1].kind)
                && !is_amiss(segment[at].kind)
                && names(&segment[..at])
                && names(&segment[at..])
                && amiss(&segment[at..])
        })
        .take(4)
        .collect();
    if boundaries.is_empty() {
        return None;
    }
    let whole = index.best(segment).map_or(0.0, |r| r.score);
    boundaries.into_iter().find(|&at| {
        let halves = index.best(&segment[..at]).zip(index.best(&segment[at..]));
        halves.is_some_and(|(left, right)| {
            left.entry != right.entry && left.score.min(right.score) > whole.max(0.6) + 0.05
        })
    })
}

/// Adds a segment as a statement of its own, or to the one before.
fn add(segment: Vec<Piece>, drafts: &mut Vec<Draft>, index: &Index) {
    let joint = segment.first().map_or(Joint::Plain, |p| p.joint);
    let praise = is_praise(&segment);
    let about = names(&segment);
    let stranger = has(&segment, Kind::Unknown);
    let hedged = segment.first().is_some_and(|p| p.kind == Kind::Hedge);
    let several = drafts.len() > 1;
    let Some(last) = drafts.last_mut() else {
        drafts.push(Draft::new(segment, praise));
        return;
    };
    let last_hedged =
        last.pieces.first().is_some_and(|p| p.kind == Kind::Hedge) && last.spans.len() == 1 && !amiss(&last.pieces);
    if praise {
        let elsewhere = !about && !last.good && amiss(&last.pieces) && {
            let here = spots(&segment);
            !here.is_empty() && here != spots(&last.pieces)
        };
        if says_other(&segment) || elsewhere {
            last.other_good |= !last.good;
            let lent = if about || stranger { Vec::new() } else { at_the_other_side(&last.pieces, &segment) };
            let mut draft = Draft::new(segment, true);
            draft.pieces.extend(lent);
            drafts.push(draft);
        } else if !about && !stranger {
            if !amiss(&last.pieces) {
                last.good = true;
            }
            last.absorb(segment);
        } else {
            // "Horn and wipers fine": the praise covers both.
            for earlier in drafts.iter_mut().rev() {
                if amiss(&earlier.pieces) || !names(&earlier.pieces) || joint > Joint::Comma {
                    break;
                }
                earlier.good = true;
            }
            drafts.push(Draft::new(segment, true));
        }
        return;
    }
    let stands = about || (stranger && amiss(&segment));
    if !stands {
        let (here, there) = (spots(&segment), spots(&last.pieces));
        if amiss(&segment) && names(&last.pieces) && !here.is_empty() && !there.is_empty() && here != there {
            // "… fast on the left, slow on the right": the same thing at another place.
            let subject: Vec<Piece> = last.pieces.iter().copied().filter(|p| p.kind == Kind::Component).collect();
            let mut draft = Draft::new(segment, false);
            draft.spans.splice(0..0, subject.iter().map(|p| (p.first, p.last)));
            draft.pieces.splice(0..0, subject);
            draft.pieces = index.rejoin(std::mem::take(&mut draft.pieces));
            drafts.push(draft);
        } else if last.good && says_other(&last.pieces) && amiss(&segment) && several {
            let at = drafts.len() - 2;
            drafts[at].absorb(segment);
        } else {
            last.good &= !amiss(&segment);
            last.absorb(segment);
        }
        return;
    }
    let only_a_place = !names(&last.pieces) && !has(&last.pieces, Kind::Unknown);
    if hedged || last_hedged || (only_a_place && !last.good && joint < Joint::Full) {
        last.absorb(segment);
        return;
    }
    let both_amiss = amiss(&last.pieces) && amiss(&segment) && !last.good;
    if joint <= Joint::Comma && both_amiss && !part(&last.pieces, &segment, index) {
        last.absorb(segment);
        return;
    }
    drafts.push(Draft::new(segment, false));
}

/// What "the other side is fine" is about: what the statement before named, at its other side. Nothing if it named no side.
fn at_the_other_side(last: &[Piece], praise: &[Piece]) -> Vec<Piece> {
    let sided = |pieces: &[Piece]| pieces.iter().any(|p| p.mark.is_some_and(Mark::is_side));
    let named = sided(praise);
    if !named && !sided(last) {
        return Vec::new();
    }
    let lent = last.iter().filter(|p| matches!(p.kind, Kind::Component | Kind::Place) && !p.passing);
    lent.filter(|p| !(named && p.kind == Kind::Place && p.mark.is_some_and(Mark::is_side)))
        .map(|p| Piece { mark: p.mark.map(Mark::across), plural: false, joint: Joint::Plain, ..*p })
        .collect()
}

/// Whether two statements, each saying what is amiss, are two.
fn part(left: &[Piece], right: &[Piece], index: &Index) -> bool {
    let [first, second] = [left, right].map(|half| index.best(half));
    if first.map(|r| r.entry) == second.map(|r| r.entry) && spots(left) == spots(right) {
        // The same thing said twice: "no poke, gutless".
        return false;
    }
    let [a, b] = [first, second].map(|best| best.map_or(0.0, |r| r.score));
    if a < STANDS && index.is_strange(left) || b < STANDS && index.is_strange(right) {
        // A statement about something outside the knowledge must not drag the other one down.
        return true;
    }
    a >= STANDS && b >= STANDS && !covers_both(left, right, a.min(b), index)
}

/// Whether one wording speaks of what each half names, and fits as well as the halves.
fn covers_both(left: &[Piece], right: &[Piece], apart: f64, index: &Index) -> bool {
    let together: Vec<Piece> = left.iter().chain(right).copied().collect();
    let Some(best) = index.best(&together) else {
        return false;
    };
    let own = |these: &[Piece], those: &[Piece]| {
        these
            .iter()
            .filter(|p| p.kind == Kind::Component && !those.iter().any(|q| q.term == p.term))
            .any(|p| index.holds(best.doc, p.term))
    };
    best.score >= apart - 0.05 && own(left, right) && own(right, left)
}

/// Lends what is amiss, and the place, between statements that share them.
fn share(drafts: &mut Vec<Draft>, index: &Index) {
    let mut at = 0;
    while at < drafts.len() {
        let incomplete = !drafts[at].good && !amiss(&drafts[at].pieces) && names(&drafts[at].pieces);
        let chained = |d: &Draft| matches!(d.joint, Joint::And | Joint::Comma);
        let ahead = (at + 1..drafts.len())
            .take_while(|&j| chained(&drafts[j]))
            .find(|&j| amiss(&drafts[j].pieces) && !drafts[j].good);
        let behind =
            (at > 0 && chained(&drafts[at]) && amiss(&drafts[at - 1].pieces) && !drafts[at - 1].good).then(|| at - 1);
        let lender = if incomplete { ahead.or(behind) } else { None };
        if let Some(from) = lender {
            if lend(drafts, at, from, index) {
                continue;
            }
        } else if incomplete && at > 0 && chained(&drafts[at]) && !drafts[at - 1].good {
            // Two bare names: one thing only if a wording speaks of both.
            let apart = [at - 1, at].map(|i| index.best(&drafts[i].pieces).map_or(0.0, |r| r.score));
            if covers_both(&drafts[at - 1].pieces, &drafts[at].pieces, apart[0].min(apart[1]), index) {
                let gone = drafts.remove(at);
                drafts[at - 1].absorb(gone.pieces);
                continue;
            }
        }
        at += 1;
    }
}

/// Completes the statement `to` from `from`. True if the two became one and `to` must be looked at again.
fn lend(drafts: &mut Vec<Draft>, to: usize, from: usize, index: &Index) -> bool {
    let said: Vec<Piece> = drafts[from].pieces.iter().copied().filter(|p| is_amiss(p.kind)).collect();
    let head: Option<Piece> = drafts[from]
        .pieces
        .iter()
        .copied()
        .rev()
        .find(|p| p.kind == Kind::Component)
        .map(|p| Piece { first: p.last, ..p });
    let score = |pieces: Vec<Piece>| index.best(&index.rejoin(pieces)).map_or(0.0, |r| r.score);
    let with = |head: Option<Piece>| -> Vec<Piece> { head.into_iter().chain(said.iter().copied()).collect() };
    let joined = |more: Vec<Piece>| -> Vec<Piece> { drafts[to].pieces.iter().copied().chain(more).collect() };
    let plain = score(joined(with(None)));
    // "Brake and tail lights out": the last word belongs to both.
    let headed = head.map_or(0.0, |h| score(joined(with(Some(h)))));
    let own = score(drafts[from].pieces.clone());
    let adjacent = from.abs_diff(to) == 1;
    let (first, second) = (from.min(to), from.max(to));
    let one_thing =
        adjacent && covers_both(&drafts[first].pieces, &drafts[second].pieces, plain.max(headed).min(own), index);
    let strange = index.is_strange(&drafts[to].pieces) || index.is_strange(&drafts[from].pieces);
    if adjacent && (one_thing || !strange && (plain.max(headed) < STANDS || own < STANDS)) {
        let gone = drafts.remove(second);
        drafts[first].absorb(gone.pieces);
        return true;
    }
    if strange && plain.max(headed) < STANDS {
        return false;
    }
    let lent = if headed > plain + 0.02 { with(head) } else { with(None) };
    drafts[to].lend(lent, index);
    for later in first + 1..=second {
        let marks = spots(&drafts[first].pieces);
        if !marks.is_empty() && drafts[later].inherited.is_none() {
            drafts[later].inherited = Some(marks);
        }
    }
    false
}
