//! Reads the fields of one entry and keeps every complaint: unknown keys, missing keys, wrong types, numbers that are none.
//!
//! Takes a parsed table with its byte positions; gives plain values, texts without anything that could drive a screen. A field that cannot be read counts as absent, and is reported.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Scale;
use super::book::Ref;
use crate::report::{At, FileId, Problem, nearest, visible};
use crate::units::{Pence, Probability};

/// The fields of one entry, or of a table inside one.
pub(super) struct Fields<'t, 'p> {
    file: FileId,
    /// What to call it in messages: `fault.horn-dead`.
    heading: String,
    /// Where its heading or opening bracket is.
    span: Range<usize>,
    table: &'t DeTable<'t>,
    asked: Vec<&'static str>,
    problems: &'p mut Vec<Problem>,
}

impl<'t, 'p> Fields<'t, 'p> {
    pub(super) fn new(
        file: FileId,
        heading: String,
        span: Range<usize>,
        table: &'t DeTable<'t>,
        problems: &'p mut Vec<Problem>,
    ) -> Self {
        Fields { file, heading, span, table, asked: Vec::new(), problems }
    }

    /// Where the entry is written.
    pub(super) fn at(&self) -> At {
        At { file: self.file, span: self.span.clone() }
    }

    pub(super) fn at_span(&self, span: Range<usize>) -> At {
        At { file: self.file, span }
    }

    pub(super) fn report(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    fn value(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.asked.push(key);
        self.table.get(key)
    }

    fn wrong_type(&mut self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        let at = self.at_span(value.span());
        self.problems.push(
            Problem::error("K005", format!("`{key}` of `{}` should be {wanted}", self.heading), at)
                .label(format!("this is {}", type_word(value.get_ref()))),
        );
    }

    fn missing(&mut self, key: &str, wanted: &str) {
        let at = self.at();
        self.problems.push(
            Problem::error("K004", format!("`{}` has no `{key}`", self.heading), at)
                .help(format!("add a line `{key} = …` with {wanted}")),
        );
    }

    /// Whether the key is there at all, readable or not: what is there and wrong is reported once, as wrong, and not as missing too.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// A text, and where it is.
    pub(super) fn text_at(&mut self, key: &'static str) -> Option<(String, At)> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::String(s) if !s.trim().is_empty() => Some((visible(s), self.at_span(value.span()))),
            DeValue::String(_) => {
                let at = self.at_span(value.span());
                self.problems.push(
                    Problem::error("K005", format!("`{key}` of `{}` is empty", self.heading), at)
                        .help("write the text, or take the line out"),
                );
                None
            }
            _ => {
                self.wrong_type(key, value, "text in double quotes");
                None
            }
        }
    }

    /// A text.
    pub(super) fn text(&mut self, key: &'static str) -> Option<String> {
        self.text_at(key).map(|(t, _)| t)
    }

    /// A text that must be there; reported and empty if it is not.
    pub(super) fn need_text(&mut self, key: &'static str) -> String {
        if !self.table.contains_key(key) {
            self.asked.push(key);
            self.missing(key, "text in double quotes");
            return String::new();
        }
        self.text(key).unwrap_or_default()
    }

    /// The id of another entry.
    pub(super) fn reference(&mut self, key: &'static str) -> Option<Ref> {
        self.text_at(key).map(|(id, at)| Ref { id, at })
    }

    /// The id of another entry that must be there; `code` is used when it is missing.
    pub(super) fn need_reference(&mut self, key: &'static str, code: &'static str, what: &str) -> Ref {
        let at = self.at();
        if !self.table.contains_key(key) {
            self.asked.push(key);
            self.problems.push(
                Problem::error(code, format!("`{}` has no `{key}`", self.heading), at.clone())
                    .help(format!("add a line `{key} = \"…\"` with {what}")),
            );
            return Ref { id: String::new(), at };
        }
        self.reference(key).unwrap_or(Ref { id: String::new(), at })
    }

    /// A list of texts with their places; absent counts as empty.
    pub(super) fn list(&mut self, key: &'static str) -> Vec<Ref> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(key, value, "a list in square brackets, such as [\"one\", \"two\"]");
            return Vec::new();
        };
        let mut out = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::String(s) if !s.trim().is_empty() => {
                    out.push(Ref { id: visible(s), at: self.at_span(item.span()) });
                }
                _ => self.wrong_type(key, item, "a list of texts in double quotes"),
            }
        }
        out
    }

    /// A list of texts.
    pub(super) fn texts(&mut self, key: &'static str) -> Vec<String> {
        self.list(key).into_iter().map(|r| r.id).collect()
    }

    /// A list that must be there and not be empty.
    pub(super) fn need_list(&mut self, key: &'static str, wanted: &str) -> Vec<Ref> {
        let empty = self.table.get(key).is_none_or(|v| v.get_ref().as_array().is_some_and(|a| a.is_empty()));
        let list = self.list(key);
        if empty {
            self.missing(key, wanted);
        }
        list
    }

    /// A finite number and where it is.
    pub(super) fn number_at(&mut self, key: &'static str) -> Option<(f64, At)> {
        let value = self.value(key)?;
        match number(value.get_ref()) {
            Some(n) if n.is_finite() => Some((n, self.at_span(value.span()))),
            Some(_) => {
                let at = self.at_span(value.span());
                self.problems.push(
                    Problem::error("K201", format!("`{key}` of `{}` is not a number", self.heading), at)
                        .help("write it in figures, such as 5 or 0.5"),
                );
                None
            }
            None => {
                self.wrong_type(key, value, "a number without quotes");
                None
            }
        }
    }

    /// A number of at least nought.
    pub(super) fn amount(&mut self, key: &'static str) -> Option<f64> {
        let (n, at) = self.number_at(key)?;
        if !(0.0..=1e7).contains(&n) {
            self.problems.push(Problem::error(
                "K202",
                format!("`{key}` of `{}` must be a number from 0 up", self.heading),
                at,
            ));
            return None;
        }
        Some(n)
    }

    /// An amount that must be there.
    pub(super) fn need_amount(&mut self, key: &'static str, wanted: &str) -> f64 {
        if !self.table.contains_key(key) {
            self.asked.push(key);
            self.missing(key, wanted);
            return 0.0;
        }
        self.amount(key).unwrap_or(0.0)
    }

    /// Yes or no.
    pub(super) fn flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => {
                self.wrong_type(key, value, "true or false, without quotes");
                None
            }
        }
    }

    /// A probability: a number from 0 to 1, or a word of a scale.
    pub(super) fn probability(&mut self, key: &'static str, scale: &Scale, list: &str) -> Option<Probability> {
        let value = self.value(key)?;
        let at = self.at_span(value.span());
        if let DeValue::String(word) = value.get_ref() {
            let words = scale.list(list)?;
            if let Some(p) = words.get(word.as_ref()) {
                return Some(Probability::clamped(*p));
            }
            let mut problem =
                Problem::error("K203", format!("`{word}` is not a word of the {list} scale"), at).label("written here");
            if let Some(near) = nearest(word, words.keys().map(String::as_str)) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            let all: Vec<&str> = words.keys().map(String::as_str).collect();
            self.problems.push(problem.help(format!("use a number from 0 to 1, or one of: {}", all.join(", "))));
            return None;
        }
        let Some(n) = number(value.get_ref()) else {
            self.wrong_type(key, value, "a number from 0 to 1 or a word of the scale");
            return None;
        };
        match Probability::new(n) {
            Ok(p) => Some(p),
            Err(e) => {
                self.problems.push(
                    Problem::error("K201", format!("`{key}` of `{}`: {e}", self.heading), at)
                        .help("a probability is a number from 0 (never) to 1 (always), such as 0.85"),
                );
                None
            }
        }
    }

    /// `[from, to]` in pounds.
    pub(super) fn price(&mut self, key: &'static str) -> Option<(Pence, Pence)> {
        let value = self.value(key)?;
        if let DeValue::Array(pair) = value.get_ref()
            && pair.len() == 2
            && let (Some(from), Some(to)) = (number(pair[0].get_ref()), number(pair[1].get_ref()))
            && from >= 0.0
            && to >= from
            && to < 1e7
        {
            return Some((Pence::from_pounds(from), Pence::from_pounds(to)));
        }
        self.wrong_type(key, value, "two amounts in pounds, the lower first, such as [3, 8]");
        None
    }

    /// Tables in a list (inline or under `[[…]]`), each as fields of its own, handled by `each`.
    pub(super) fn tables(&mut self, key: &'static str, mut each: impl FnMut(&mut Fields<'t, '_>)) -> usize {
        let Some(value) = self.value(key) else { return 0 };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(key, value, "a list of `{ … }`");
            return 0;
        };
        let mut n = 0;
        for item in items.iter() {
            if let DeValue::Table(table) = item.get_ref() {
                let mut inner = Fields::new(
                    self.file,
                    format!("{}` → `{key}", self.heading),
                    item.span(),
                    table,
                    &mut *self.problems,
                );
                each(&mut inner);
                inner.finish();
                n += 1;
            } else {
                self.wrong_type(key, item, "a list of `{ … }`");
            }
        }
        n
    }

    /// A table inside, as fields of its own.
    pub(super) fn table<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Fields<'t, '_>) -> T) -> Option<T> {
        let value = self.value(key)?;
        if let DeValue::Table(table) = value.get_ref() {
            let mut inner =
                Fields::new(self.file, format!("{}` → `{key}", self.heading), value.span(), table, &mut *self.problems);
            let out = read(&mut inner);
            inner.finish();
            return Some(out);
        }
        self.wrong_type(key, value, "a table `{ … }`");
        None
    }

    /// The raw value of a key, for readers of their own.
    pub(super) fn raw(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.value(key)
    }

    /// Reports every key nobody asked for.
    pub(super) fn finish(&mut self) {
        for (key, _) in self.table.iter() {
            let name = key.get_ref().as_ref();
            if self.asked.contains(&name) {
                continue;
            }
            let at = self.at_span(key.span());
            let mut problem = Problem::error("K003", format!("`{}` has no key called `{name}`", self.heading), at)
                .label("unknown key");
            if let Some(near) = nearest(name, self.asked.iter().copied()) {
                problem = problem.help(format!("did you mean `{near}`?"));
            }
            let mut keys = self.asked.clone();
            keys.sort_unstable();
            keys.dedup();
            self.problems.push(problem.help(format!("keys known here: {}", keys.join(", "))));
        }
    }
}

/// A number from an integer or a float, whatever its notation.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(&i.as_str().replace('_', ""), i.radix()).ok().map(|n| n as f64),
        DeValue::Float(f) => f.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
}

/// What a value is, in plain words.
pub(super) fn type_word(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
