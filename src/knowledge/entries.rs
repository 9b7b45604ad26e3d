//! Reads each kind of entry from its fields. What the keys mean is written for people in `knowledge/README.md`.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::book::*;
use super::fields::{Fields, number, type_word};
use super::{Each, End, Range, Relation, Side, Test, When};
use crate::report::{At, Problem, nearest};
use crate::units::{Pence, Probability, Unit};

/// A link as written: one end is the entry it stands in, the other is named.
pub(super) struct WrittenLink {
    /// The entry it stands in.
    pub here: String,
    /// The other end.
    pub other: Ref,
    /// Whether it stands at the cause.
    pub at_cause: bool,
    pub place: Relation,
    pub end: Option<End>,
    pub side: Option<Side>,
    pub strength: Probability,
    pub inhibits: bool,
    pub when: When,
    pub source: Ref,
}

/// The chance of a reportable sign from a cause not in the book, where its entry is silent: the word `very-rare` of the prior scale.
const NOT_IN_BOOK: &str = "very-rare";
/// The chance of a bench finding with none of its causes, where its entry is silent.
const LEAK: f64 = 0.01;
/// The same for a finding that is a line of the inspection manual: a refusal does not come from nothing.
const LEAK_OF_AN_ITEM: f64 = 0.0002;

pub(super) fn head(f: &mut Fields<'_, '_>, id: &str, system: &str) -> Head {
    let name = f.need_text("name");
    let about = f.text("about").unwrap_or_default();
    let source = f.need_reference("source", "K301", "the id of a source, or \"common-practice\", or \"from-memory\"");
    Head { id: id.to_owned(), name, system: system.to_owned(), source, about, at: f.at() }
}

pub(super) fn each(f: &mut Fields<'_, '_>, book: &Book) -> Option<Each> {
    let Ref { id, at } = f.reference("each")?;
    if let Some(each) = Each::named(&id, |kind| book.places.get(kind).is_some()) {
        return Some(each);
    }
    f.report(no_place(&id, at, nearest(&id, book.places.ids())));
    None
}

/// Complains of a kind of place that does not exist.
fn no_place(id: &str, at: At, near: Option<&str>) -> Problem {
    let mut problem = Problem::error("K101", format!("no kind of place is called `{id}`"), at).label("written here");
    if let Some(near) = near {
        problem = problem.help(format!("did you mean `{near}`?"));
    }
    problem.help("kinds of place stand in places.toml; `front-` or `rear-` may stand before one")
}

/// Reads `when`, checking trait names and their words.
pub(super) fn when(f: &mut Fields<'_, '_>, key: &'static str, book: &Book) -> When {
    let Some(value) = f.raw(key) else { return When::default() };
    match value.get_ref() {
        DeValue::Table(table) => when_table(f, table, "", book),
        other => {
            let at = f.at_span(value.span());
            f.report(
                Problem::error("K005", format!("`{key}` should be a table such as `{{ fuel = \"diesel\" }}`"), at)
                    .label(format!("this is {}", type_word(other))),
            );
            When::default()
        }
    }
}

fn when_table(f: &mut Fields<'_, '_>, table: &DeTable<'_>, prefix: &str, book: &Book) -> When {
    let mut out = When::default();
    for (key, value) in table.iter() {
        let name = format!("{prefix}{}", key.get_ref());
        match (name.as_str(), value.get_ref()) {
            ("not" | "any", inner) => {
                let mut list = Vec::new();
                match inner {
                    DeValue::Table(t) => list.push(when_table(f, t, "", book)),
                    DeValue::Array(items) => {
                        for item in items.iter() {
                            if let DeValue::Table(t) = item.get_ref() {
                                list.push(when_table(f, t, "", book));
                            } else {
                                when_wrong(f, item, "conditions in braces");
                            }
                        }
                    }
                    _ => when_wrong(f, value, "conditions in braces"),
                }
                if name == "not" { out.not = list } else { out.any = list }
            }
            ("has", inner) => {
                let kinds: Vec<&Spanned<DeValue<'_>>> = match inner {
                    DeValue::Array(items) => items.iter().collect(),
                    _ => vec![value],
                };
                for item in kinds {
                    let Some(kind) = item.get_ref().as_str() else {
                        when_wrong(f, item, "a kind of place in quotes");
                        continue;
                    };
                    if book.places.get(kind).is_none() {
                        let at = f.at_span(item.span());
                        let mut problem = Problem::error("K101", format!("no kind of place is called `{kind}`"), at);
                        if let Some(near) = nearest(kind, book.places.ids()) {
                            problem = problem.help(format!("did you mean `{near}`?"));
                        }
                        f.report(problem);
                    }
                    out.has.push(kind.to_owned());
                }
            }
            (_, inner) => {
                let Some(known) = book.traits.get(&name) else {
                    let at = f.at_span(key.span());
                    let mut problem =
                        Problem::error("K101", format!("no trait is called `{name}`"), at).label("written here");
                    if let Some(near) = nearest(&name, book.traits.ids()) {
                        problem = problem.help(format!("did you mean `{near}`?"));
                    }
                    f.report(problem.help("traits stand in traits.toml"));
                    continue;
                };
                if let Some(test) = test(f, value, inner, known) {
                    out.traits.push((name, test));
                }
            }
        }
    }
    out
}

fn when_wrong(f: &mut Fields<'_, '_>, value: &Spanned<DeValue<'_>>, wanted: &str) {
    let at = f.at_span(value.span());
    f.report(
        Problem::error("K005", format!("here should be {wanted}"), at)
            .label(format!("this is {}", type_word(value.get_ref()))),
    );
}

fn test(f: &mut Fields<'_, '_>, value: &Spanned<DeValue<'_>>, inner: &DeValue<'_>, known: &Trait) -> Option<Test> {
    if let DeValue::Table(range) = inner {
        let mut out = Range::default();
        for (key, bound) in range.iter() {
            let text = plain(bound.get_ref());
            match (key.get_ref().as_ref(), text) {
                ("from", Some(t)) => out.from = Some(t),
                ("before", Some(t)) => out.before = Some(t),
                _ => {
                    let at = f.at_span(key.span());
                    f.report(
                        Problem::error("K003", "a range has `from` and `before`", at)
                            .help("for instance `{ from = \"1986-04-01\" }` or `{ before = 4 }`"),
                    );
                }
            }
        }
        if known.kind == TraitKind::Words {
            when_wrong(f, value, "one of the trait's words");
        }
        return Some(Test::Within(out));
    }
    let items: Vec<&Spanned<DeValue<'_>>> = match inner {
        DeValue::Array(items) => items.iter().collect(),
        _ => vec![value],
    };
    let mut words = Vec::new();
    for item in items {
        let Some(word) = plain(item.get_ref()) else {
            when_wrong(f, item, "a word, a number or a list of them");
            continue;
        };
        if known.kind == TraitKind::Words && !known.values.contains(&word) {
            let at = f.at_span(item.span());
            let mut problem = Problem::error("K102", format!("`{}` is never `{word}`", known.head.id), at);
            if let Some(near) = nearest(&word, known.values.iter().map(String::as_str)) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            f.report(problem.help(format!("it is one of: {}", known.values.join(", "))));
        }
        words.push(word);
    }
    Some(Test::OneOf(words))
}

/// A word, number or yes/no as the text traits are compared by.
pub(crate) fn plain(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(s) => Some(s.to_string()),
        DeValue::Boolean(b) => Some(if *b { "yes" } else { "no" }.to_owned()),
        DeValue::Datetime(d) => Some(d.to_string()),
        other => number(other).map(|n| n.to_string()),
    }
}

fn one_of(f: &mut Fields<'_, '_>, key: &'static str, words: &[&str]) -> Option<String> {
    let Ref { id, at } = f.reference(key)?;
    if words.contains(&id.as_str()) {
        return Some(id);
    }
    let mut problem = Problem::error("K006", format!("`{key}` is never `{id}`"), at).label("written here");
    if let Some(near) = nearest(&id, words.iter().copied()) {
        problem = problem.help(format!("did you mean `{near}`?"));
    }
    f.report(problem.help(format!("it is one of: {}", words.join(", "))));
    None
}

fn end_and_side(f: &mut Fields<'_, '_>) -> (Option<End>, Option<Side>) {
    let end = one_of(f, "end", &["front", "middle", "rear"]).and_then(|w| End::named(&w));
    let side = one_of(f, "side", &["nearside", "centre", "offside"]).and_then(|w| Side::named(&w));
    (end, side)
}

fn relation(f: &mut Fields<'_, '_>) -> Relation {
    one_of(f, "place", &Relation::WORDS).and_then(|w| Relation::named(&w)).unwrap_or_default()
}

/// Reads `causes` and `caused-by` of a node.
pub(super) fn links(f: &mut Fields<'_, '_>, head: &Head, book: &Book, out: &mut Vec<WrittenLink>) {
    for (key, other_key, at_cause) in [("causes", "to", true), ("caused-by", "by", false)] {
        f.tables(key, |l| {
            let other = l.need_reference(other_key, "K004", "the id at the other end");
            let place = relation(l);
            let (end, side) = end_and_side(l);
            let strength = l.probability("strength", &book.scale, "strength");
            let inhibits = l.flag("inhibits").unwrap_or(false);
            let when = when(l, "when", book);
            let source = l.reference("source").unwrap_or_else(|| head.source.clone());
            if !l.has("strength") {
                let at = l.at();
                l.report(
                    Problem::error("K004", format!("the link to `{}` has no `strength`", other.id), at)
                        .help("say how often: `strength = \"usually\"`, or a number from 0 to 1"),
                );
            }
            let strength = strength.unwrap_or(Probability::NEVER);
            out.push(WrittenLink {
                here: head.id.clone(),
                other,
                at_cause,
                place,
                end,
                side,
                strength,
                inhibits,
                when,
                source,
            });
        });
    }
}

pub(super) fn fault(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Fault {
    let prior = f.probability("prior", &book.scale, "prior").unwrap_or(Probability::NEVER);
    if !f.has("prior") {
        let at = f.at();
        f.report(
            Problem::error("K004", format!("`{}` has no `prior`", head.id), at)
                .help("say how likely it is on a typical vehicle: `prior = \"uncommon\"`, or a number from 0 to 1"),
        );
    }
    let rises_with = f.list("rises-with").into_iter().filter_map(|Ref { id, at }| {
        Some(match id.as_str() {
            "age" => Rise::Age,
            "damp" => Rise::Damp,
            "miles" => Rise::Miles,
            "standing" => Rise::Standing,
            "work" => Rise::Work,
            _ => {
                f.report(
                    Problem::error("K006", format!("a fault never rises with `{id}`"), at)
                        .help("it is any of: age, damp, miles, standing, work"),
                );
                return None;
            }
        })
    });
    let rises_with: Vec<Rise> = rises_with.collect();
    Fault {
        prior,
        rises_with,
        each: each(f, book),
        when: when(f, "when", book),
        remedies: f.list("remedies"),
        also: f.texts("also"),
        danger: f.text("danger"),
        looks_like: f.list("looks-like"),
        head,
    }
}

pub(super) fn condition(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Condition {
    Condition {
        each: each(f, book),
        when: when(f, "when", book),
        needs_all: one_of(f, "needs", &["any", "all"]).is_some_and(|w| w == "all"),
        leak: f.probability("leak", &book.scale, "prior").unwrap_or(Probability::NEVER),
        head,
    }
}

pub(super) fn sign(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Sign {
    let said = f.texts("said");
    let written = f.probability("not-in-book", &book.scale, "prior");
    let usual = book.scale.prior.get(NOT_IN_BOOK).copied().unwrap_or(0.0005);
    let not_in_book = written.or_else(|| (!said.is_empty()).then_some(Probability::clamped(usual)));
    let leak = f.probability("leak", &book.scale, "prior");
    let items = f.list("items");
    let silent = if items.is_empty() { LEAK } else { LEAK_OF_AN_ITEM };
    Sign {
        leak: leak.unwrap_or(if not_in_book.is_some() { Probability::NEVER } else { Probability::clamped(silent) }),
        not_in_book,
        said,
        each: each(f, book),
        when: when(f, "when", book),
        danger: f.text("danger"),
        items,
        head,
    }
}

pub(super) fn phrase(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Phrase {
    let mut reads = Vec::new();
    f.tables("reads", |r| {
        let sign = r.need_reference("sign", "K004", "the id of a sign");
        let place = relation(r);
        let (end, side) = end_and_side(r);
        let present = one_of(r, "is", &["present", "absent"]).is_none_or(|w| w == "present");
        reads.push(PhraseReading { sign, place, end, side, present });
    });
    if reads.is_empty() {
        let at = f.at();
        f.report(Problem::error("K004", format!("the phrase `{}` reads no sign", head.id), at).help("add `reads`"));
    }
    let said = f.need_list("said", "the ways people say it, in quotes");
    Phrase {
        reads,
        said: said.into_iter().map(|r| r.id).collect(),
        each: each(f, book),
        when: when(f, "when", book),
        head,
    }
}

pub(super) fn check(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Check {
    let measure = f.table("measure", |m| {
        let ask = m.need_text("ask");
        let unit = m.reference("unit");
        let low = m.number_at("low").map_or(f64::NEG_INFINITY, |(n, _)| n);
        let high = m.number_at("high").map_or(f64::INFINITY, |(n, _)| n);
        let at = m.at();
        if low >= high {
            m.report(Problem::error("K202", "`low` must be less than `high`", at.clone()));
        }
        let unit = match unit {
            Some(Ref { id, at }) => Unit::named(&id).or_else(|| {
                let names: Vec<&str> = Unit::names().collect();
                m.report(
                    Problem::error("K006", format!("no unit is called `{id}`"), at)
                        .help(format!("it is one of: {}", names.join(", "))),
                );
                None
            }),
            None => {
                m.report(Problem::error("K004", "a measure has a `unit`", at).help("for instance `unit = \"V\"`"));
                None
            }
        };
        Some(Measure { ask, unit: unit?, low, high })
    });
    let measured = measure.is_some();
    let mut reads = Vec::new();
    f.tables("reads", |r| reads.push(check_reading(r, measured, book)));
    let set_up = f.need_reference("set-up", "K004", "the id of a set-up");
    let minutes = f.need_amount("minutes", "the hands-on minutes");
    let steps = f.need_list("steps", "what to do, step by step").into_iter().map(|r| r.id).collect();
    Check {
        each: each(f, book),
        when: when(f, "when", book),
        set_up,
        minutes,
        kit: f.list("kit"),
        helper: f.text("helper").unwrap_or_default(),
        skill: one_of(f, "skill", &["anyone", "handy", "trade"]).and_then(|w| Skill::named(&w)).unwrap_or_default(),
        cautions: f.list("cautions"),
        consumables: Pence::from_pounds(f.amount("consumables").unwrap_or(0.0)),
        risk: f.text("risk"),
        steps,
        measure: measure.flatten(),
        reads,
        head,
    }
}

fn check_reading(r: &mut Fields<'_, '_>, measured: bool, book: &Book) -> CheckReading {
    let sign = r.need_reference("sign", "K004", "the id of a sign");
    let place = relation(r);
    let (end, side) = end_and_side(r);
    let limits = Limits {
        bad_below: r.number_at("bad-below").map(|(n, _)| n),
        good_above: r.number_at("good-above").map(|(n, _)| n),
        bad_above: r.number_at("bad-above").map(|(n, _)| n),
        good_below: r.number_at("good-below").map(|(n, _)| n),
    };
    let has_limits = limits.bad_below.is_some() || limits.bad_above.is_some();
    let ask = r.text("ask").unwrap_or_default();
    let yes = one_of(r, "yes", &["present", "absent"]);
    let at = r.at();
    if measured && !has_limits {
        r.report(
            Problem::error("K204", format!("the reading of `{}` has no limit", sign.id), at.clone())
                .help("a measured check needs `bad-below` with `good-above`, or `bad-above` with `good-below`"),
        );
    } else if !measured && (ask.is_empty() || yes.is_none()) {
        r.report(
            Problem::error("K004", format!("the reading of `{}` has no question", sign.id), at.clone()).help(
                "add `ask = \"…?\"` and `yes = \"present\"` or `yes = \"absent\"`; or give the check a `measure`",
            ),
        );
    }
    let crossed = limits.bad_below.zip(limits.good_above).is_some_and(|(bad, good)| bad > good)
        || limits.bad_above.zip(limits.good_below).is_some_and(|(bad, good)| bad < good);
    if crossed {
        r.report(
            Problem::error("K202", "the limits are crossed", at)
                .help("`bad-below` must not be above `good-above`, and `bad-above` not below `good-below`"),
        );
    }
    let trust = r.probability("trust", &book.scale, "reliability").unwrap_or(Probability::ALWAYS);
    CheckReading {
        sign,
        place,
        end,
        side,
        ask,
        yes_means_present: yes.is_none_or(|w| w == "present"),
        limits,
        sensitivity: r.probability("sensitivity", &book.scale, "reliability").unwrap_or(trust),
        specificity: r.probability("specificity", &book.scale, "reliability").unwrap_or(trust),
        if_present: String::new(),
        if_absent: String::new(),
    }
    .with_meanings(r)
}

impl CheckReading {
    /// `if-yes` and `if-no` speak of the answer; turned here to speak of the sign. For measured checks "yes" is the sign present.
    fn with_meanings(mut self, r: &mut Fields<'_, '_>) -> Self {
        let yes = r.text("if-yes").unwrap_or_default();
        let no = r.text("if-no").unwrap_or_default();
        (self.if_present, self.if_absent) = if self.yes_means_present { (yes, no) } else { (no, yes) };
        self
    }
}

pub(super) fn remedy(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Remedy {
    let mut parts = Vec::new();
    f.tables("parts", |p| {
        let part = p.need_reference("part", "K004", "the id of a part");
        let quantity = p.amount("quantity").unwrap_or(1.0).clamp(1.0, 1000.0) as u32;
        parts.push(PartNeed { part, quantity });
    });
    let minutes = f.need_amount("minutes", "the hands-on minutes");
    let set_up = f.need_reference("set-up", "K004", "the id of a set-up");
    let difficulty = one_of(f, "difficulty", &Difficulty::WORDS);
    if !f.has("difficulty") {
        let at = f.at();
        f.report(
            Problem::error("K004", format!("`{}` has no `difficulty`", head.id), at)
                .help(format!("one of: {}", Difficulty::WORDS.join(", "))),
        );
    }
    let steps = f.need_list("steps", "what to do, step by step").into_iter().map(|r| r.id).collect();
    Remedy {
        each: each(f, book),
        when: when(f, "when", book),
        minutes,
        set_up,
        difficulty: difficulty.and_then(|w| Difficulty::named(&w)).unwrap_or(Difficulty::Moderate),
        parts,
        kit: f.list("kit"),
        cautions: f.list("cautions"),
        consumables: Pence::from_pounds(f.amount("consumables").unwrap_or(0.0)),
        steps,
        proved_by: f.need_reference("proved-by", "K004", "the id of the check that proves the repair"),
        cures: f.probability("cures", &book.scale, "reliability").unwrap_or(Probability::clamped(0.95)),
        trial: f.flag("trial").unwrap_or(false),
        specialist_price: f.amount("specialist-price").map(Pence::from_pounds),
        head,
    }
}

pub(super) fn part(f: &mut Fields<'_, '_>, head: Head) -> Part {
    let price = f.price("price").unwrap_or((Pence(0), Pence(0)));
    if !f.has("price") {
        let at = f.at();
        f.report(
            Problem::error("K004", format!("`{}` has no `price`", head.id), at)
                .help("the usual price in pounds, from and to: `price = [3, 8]`"),
        );
    }
    Part {
        price,
        lead_days: f.need_amount("lead-days", "the usual wait in days"),
        designation: f.text("designation").unwrap_or_default(),
        sold_as: one_of(f, "sold-as", &["each", "pair", "axle-set", "metre", "kit"]).unwrap_or_else(|| "each".into()),
        head,
    }
}

pub(super) fn set_up(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> SetUp {
    SetUp {
        minutes: f.need_amount("minutes", "the minutes it takes"),
        undo_minutes: f.amount("undo-minutes").unwrap_or(0.0),
        kit: f.list("kit"),
        cautions: f.list("cautions"),
        steps: f.texts("steps"),
        needs: when(f, "needs", book),
        spoilt_by: f.list("spoilt-by"),
        head,
    }
}

pub(super) fn kit(f: &mut Fields<'_, '_>, head: Head) -> Kit {
    Kit { usual: f.flag("usual").unwrap_or(false), price: f.price("price").unwrap_or_default(), head }
}

pub(super) fn source(f: &mut Fields<'_, '_>, id: &str, system: &str) -> Source {
    let at = f.at();
    let head = Head {
        id: id.to_owned(),
        name: f.need_text("name"),
        system: system.to_owned(),
        source: Ref { id: id.to_owned(), at: at.clone() },
        about: f.text("about").unwrap_or_default(),
        at,
    };
    Source {
        kind: one_of(f, "kind", &["published", "common-practice", "from-memory"]).unwrap_or_default(),
        where_: f.text("where").unwrap_or_default(),
        certainty: one_of(f, "certainty", &["read", "older", "memory"]).unwrap_or_default(),
        head,
    }
}

pub(super) fn item(f: &mut Fields<'_, '_>, head: Head, book: &Book) -> Item {
    Item {
        manual: f.need_text("manual"),
        section: f.need_text("section"),
        defect: f.need_text("defect"),
        category: one_of(f, "category", &["minor", "major", "dangerous"]).unwrap_or_default(),
        limit: f.text("limit").unwrap_or_default(),
        note: f.text("note").unwrap_or_default(),
        when: when(f, "when", book),
        certainty: one_of(f, "certainty", &["read", "older", "memory"]).unwrap_or_default(),
        not_tied: f.text("not-tied").unwrap_or_default(),
        head,
    }
}

/// The largest factor a rate may have: beyond it the priors themselves are wrong.
const LARGEST_RATE: f64 = 20.0;

pub(super) fn rate(f: &mut Fields<'_, '_>, head: Head) -> Rate {
    let factor = f.need_amount("factor", "how far the priors of this system are raised or lowered, such as 0.8");
    if factor > LARGEST_RATE {
        let at = f.at();
        f.report(
            Problem::error("K202", format!("a factor of {factor} is more than {LARGEST_RATE}"), at)
                .help("raise the priors themselves"),
        );
    }
    Rate { factor, head }
}

/// Reads a kind of place. `known` says which kinds there are, those not yet read among them.
pub(super) fn place_kind(f: &mut Fields<'_, '_>, head: Head, book: &Book, known: impl Fn(&str) -> bool) -> PlaceKind {
    let mut laid = Vec::new();
    f.tables("laid", |l| {
        let Ref { id, at } = l.need_reference("each", "K004", "the kind of place it stands at");
        let per_end = one_of(l, "per", &["end"]).is_some();
        let when = when(l, "when", book);
        match Each::named(&id, &known) {
            Some(each) => laid.push(Laid { each, per_end, when }),
            None if id.is_empty() => {}
            None => l.report(no_place(&id, at, None)),
        }
    });
    PlaceKind { laid, head }
}

pub(super) fn trait_(f: &mut Fields<'_, '_>, head: Head) -> Trait {
    let values = f.texts("values");
    let kind = match one_of(f, "kind", &["words", "number", "date"]).as_deref() {
        Some("number") => TraitKind::Number,
        Some("date") => TraitKind::Date,
        _ => TraitKind::Words,
    };
    Trait { values, kind, default: f.need_text("default"), keeps: f.text("keeps"), head }
}
