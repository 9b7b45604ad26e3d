//! Answers as they are kept: in ids and words that outlast the program, and back into answers on the knowledge and vehicle of the day.

use serde::{Deserialize, Serialize};

use super::{Answer, Said, Trace};
use crate::graph::What;
use crate::graph::net::Var;
use crate::knowledge::book::Node;
use crate::units::{Measured, Unit};

/// An id, with the place where it is meant.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct At {
    /// The entry's id; a cause not in the book has `not-in-book:` and the id of its sign.
    pub id: String,
    /// The id of the place: `rear-offside`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
}

/// An [`Answer`] in ids. What it leads to is worked out again from the knowledge, so nothing of that is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Kept {
    Reported {
        words: String,
        #[serde(flatten)]
        at: At,
        name: String,
        readings: Vec<(At, bool)>,
        score: f64,
        place_guessed: bool,
    },
    Reading {
        check: At,
        sign: At,
        /// `None` where nobody can tell.
        present: Option<bool>,
    },
    Number {
        check: At,
        value: f64,
        unit: String,
        #[serde(default)]
        unit_given: bool,
    },
    Stated {
        sign: At,
        present: bool,
    },
    CannotDo {
        check: String,
    },
    Tried {
        cause: At,
        remedy: At,
        cured: bool,
    },
    NotNow {
        remedy: At,
    },
}

impl Kept {
    /// The kind of answer, in a word.
    pub fn kind(&self) -> &'static str {
        match self {
            Kept::Reported { .. } => "reported",
            Kept::Reading { .. } => "reading",
            Kept::Number { .. } => "number",
            Kept::Stated { .. } => "stated",
            Kept::CannotDo { .. } => "cannot-do",
            Kept::Tried { .. } => "tried",
            Kept::NotNow { .. } => "not-now",
        }
    }

    /// What it is about: the sign or phrase, else the check, cause or remedy.
    pub fn subject(&self) -> (&str, Option<&str>) {
        match self {
            Kept::Reported { at, .. }
            | Kept::Reading { sign: at, .. }
            | Kept::Number { check: at, .. }
            | Kept::Stated { sign: at, .. }
            | Kept::Tried { cause: at, .. }
            | Kept::NotNow { remedy: at } => (&at.id, at.place.as_deref()),
            Kept::CannotDo { check } => (check, None),
        }
    }

    /// The number given, and its unit.
    pub fn number(&self) -> Option<(f64, &str)> {
        match self {
            Kept::Number { value, unit, .. } => Some((*value, unit)),
            _ => None,
        }
    }
}

impl Trace<'_> {
    fn at(&self, var: Var) -> At {
        At { id: self.fitted.id(var, self.book), place: self.fitted.place_id(self.fitted.placed(var).place) }
    }

    /// The form in which an answer of this trace is kept.
    pub fn kept(&self, answer: &Answer) -> Kept {
        let check_at = |check: usize| {
            let placed = &self.fitted.checks[check];
            let id = self.book.checks.at(placed.check).head.id.clone();
            At { id, place: self.fitted.place_id(placed.place) }
        };
        let remedy_at = |remedy: usize, place: Option<usize>| At {
            id: self.book.remedies.at(remedy).head.id.clone(),
            place: self.fitted.place_id(place),
        };
        match answer {
            Answer::Reported { words, id, name, place, readings, score, place_guessed } => Kept::Reported {
                words: words.clone(),
                at: At { id: id.clone(), place: self.fitted.place_id(*place) },
                name: name.clone(),
                readings: readings.iter().map(|(var, present)| (self.at(*var), *present)).collect(),
                score: *score,
                place_guessed: *place_guessed,
            },
            Answer::Reading { check, reading, said } => Kept::Reading {
                check: check_at(*check),
                sign: self.at(self.fitted.checks[*check].readings[*reading].var),
                present: match said {
                    Said::Present => Some(true),
                    Said::Absent => Some(false),
                    Said::DontKnow => None,
                },
            },
            Answer::Number { check, value } => Kept::Number {
                check: check_at(*check),
                value: value.value,
                unit: value.unit.spelling().to_owned(),
                unit_given: value.unit_given,
            },
            Answer::Stated { var, present } => Kept::Stated { sign: self.at(*var), present: *present },
            Answer::CannotDo { check } => Kept::CannotDo { check: self.book.checks.at(*check).head.id.clone() },
            Answer::Tried { cause, remedy, place, cured } => {
                Kept::Tried { cause: self.at(*cause), remedy: remedy_at(*remedy, *place), cured: *cured }
            }
            Answer::NotNow { remedy, place } => Kept::NotNow { remedy: remedy_at(*remedy, *place) },
        }
    }

    /// Brings a kept answer back.
    ///
    /// # Errors
    /// A few words for what is missing, where the knowledge or the vehicle has no such thing any more.
    pub fn restored(&self, kept: &Kept) -> Result<Answer, String> {
        Ok(match kept {
            Kept::Reported { words, at, name, readings, score, place_guessed } => {
                let found: Vec<(Var, bool)> =
                    readings.iter().filter_map(|(at, present)| Some((self.var_at(at)?, *present))).collect();
                if found.is_empty() {
                    return Err(missing("sign or phrase", at));
                }
                Answer::Reported {
                    words: words.clone(),
                    id: at.id.clone(),
                    name: name.clone(),
                    place: at.place.as_deref().and_then(|id| self.place_of(id, &found)),
                    readings: found,
                    score: *score,
                    place_guessed: *place_guessed,
                }
            }
            Kept::Reading { check, sign, present } => {
                let (check, var) = (self.check_at(check)?, self.var_at(sign).ok_or_else(|| missing("sign", sign))?);
                let reading = self.fitted.checks[check].readings.iter().position(|r| r.var == var);
                let said = present.map_or(Said::DontKnow, |p| if p { Said::Present } else { Said::Absent });
                Answer::Reading { check, reading: reading.ok_or_else(|| missing("sign of the check", sign))?, said }
            }
            Kept::Number { check, value, unit, unit_given } => {
                let (index, unit) = (self.check_at(check)?, Unit::named(unit));
                let measure = self.book.checks.at(self.fitted.checks[index].check).measure.as_ref();
                let fits = measure.filter(|m| Some(m.unit) == unit && (m.low..=m.high).contains(value));
                let unit = fits.map(|m| m.unit).ok_or_else(|| missing("measured check", check))?;
                Answer::Number { check: index, value: Measured { value: *value, unit, unit_given: *unit_given } }
            }
            Kept::Stated { sign, present } => {
                Answer::Stated { var: self.var_at(sign).ok_or_else(|| missing("sign", sign))?, present: *present }
            }
            Kept::CannotDo { check } => {
                let at = || At { id: check.clone(), place: None };
                Answer::CannotDo { check: self.book.checks.index(check).ok_or_else(|| missing("check", &at()))? }
            }
            Kept::Tried { cause, remedy, cured } => {
                let var = self.var_at(cause).ok_or_else(|| missing("cause", cause))?;
                let (index, place) = self.remedy_at(remedy)?;
                // A remedy is done where its cause sits, as a rule.
                let place = if remedy.place == cause.place { self.fitted.placed(var).place } else { place };
                Answer::Tried { cause: var, remedy: index, place, cured: *cured }
            }
            Kept::NotNow { remedy } => {
                let (remedy, place) = self.remedy_at(remedy)?;
                Answer::NotNow { remedy, place }
            }
        })
    }

    fn var_at(&self, at: &At) -> Option<Var> {
        let here = |var: &Var| self.fitted.place_id(self.fitted.placed(*var).place) == at.place;
        if let Some(sign) = at.id.strip_prefix("not-in-book:") {
            let what = What::NotInBook(self.book.signs.index(sign)?);
            return self.fitted.causes().filter(|v| self.fitted.placed(*v).what == what).find(here);
        }
        let nodes = [
            self.book.signs.index(&at.id).map(Node::Sign),
            self.book.faults.index(&at.id).map(Node::Fault),
            self.book.conditions.index(&at.id).map(Node::Condition),
        ];
        nodes.into_iter().flatten().flat_map(|node| self.fitted.vars_of(node)).find(here)
    }

    fn check_at(&self, at: &At) -> Result<usize, String> {
        let shelf = self.book.checks.index(&at.id);
        let found =
            self.fitted.checks.iter().position(|c| Some(c.check) == shelf && self.fitted.place_id(c.place) == at.place);
        found.ok_or_else(|| missing("check", at))
    }

    fn remedy_at(&self, at: &At) -> Result<(usize, Option<usize>), String> {
        let remedy = self.book.remedies.index(&at.id).ok_or_else(|| missing("remedy", at))?;
        let place = match &at.place {
            None => None,
            Some(id) => {
                // A position may hold several kinds of thing; those that a cause sits at are meant, first of all one that it puts right.
                let of_causes = || {
                    let places = self.fitted.causes().filter_map(|v| self.fitted.placed(v).place);
                    places.filter(|p| self.fitted.place_id(Some(*p)).as_deref() == Some(id))
                };
                let cured = of_causes().find(|p| self.cures_at(remedy, *p));
                Some(cured.or_else(|| of_causes().next()).ok_or_else(|| missing("remedy", at))?)
            }
        };
        Ok((remedy, place))
    }

    /// Whether some fault at a place is put right by a remedy.
    fn cures_at(&self, remedy: usize, place: usize) -> bool {
        let id = &self.book.remedies.at(remedy).head.id;
        self.fitted.causes().any(|v| match self.fitted.placed(v).what {
            What::Entry(Node::Fault(f)) => {
                self.fitted.placed(v).place == Some(place)
                    && self.book.faults.at(f).remedies.iter().any(|r| r.id == *id)
            }
            _ => false,
        })
    }

    /// The place of an id among those of some signs, or else any of that id.
    fn place_of(&self, id: &str, readings: &[(Var, bool)]) -> Option<usize> {
        let of_signs = readings.iter().filter_map(|(v, _)| self.fitted.placed(*v).place);
        let mut all = of_signs.chain(0..self.fitted.vehicle.places.len());
        all.find(|p| self.fitted.place_id(Some(*p)).as_deref() == Some(id))
    }
}

fn missing(what: &str, at: &At) -> String {
    match &at.place {
        Some(place) => format!("no {what} `{}` at {place} any more", at.id),
        None => format!("no {what} `{}` any more", at.id),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::Person;
    use crate::session::{Ear, Talk};
    use crate::{embed, vehicle};

    #[test]
    fn every_answer_of_many_traces_comes_back_as_it_was() {
        let book = embed::book();
        let ear = Ear::new(&book);
        let (mut answers, mut kinds) = (0, std::collections::BTreeSet::new());
        let mut random: u64 = 11;
        for name in vehicle::demo_names() {
            let van = vehicle::demo(name, &book).expect("a demo").vehicle;
            let today = jiff::civil::date(2026, 11, 25);
            for words in [
                "horn dead",
                "one stop lamp out",
                "brake pedal sinks",
                "battery flat",
                "both indicators dead",
                "wipers do not park",
                "bars wobble",
            ] {
                let trace = Trace::new(&book, &van, Person::default(), today).expect("it fits");
                let mut talk = Talk::new(trace, &ear);
                talk.begin(Some(words));
                for _ in 0..9 {
                    random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    talk.say(["n", "d", "c", "1", "12", "n"][(random >> 33) as usize % 6]);
                }
                for (i, answer) in talk.trace.answers().iter().enumerate() {
                    let text = serde_json::to_string(&talk.trace.kept(answer)).expect("written");
                    let kept: Kept = serde_json::from_str(&text).expect("read");
                    assert_eq!(talk.trace.restored(&kept).as_ref(), Ok(answer), "{name}, {words}, answer {i}: {text}");
                    kinds.insert(kept.kind());
                    answers += 1;
                }
            }
        }
        assert!(answers > 80 && kinds.len() >= 4, "{answers} of {kinds:?}");
    }

    #[test]
    fn what_the_vehicle_or_the_book_lacks_is_told_in_words() {
        let book = embed::book();
        let van = vehicle::demo("petrol-van", &book).expect("a demo").vehicle;
        let trace = Trace::new(&book, &van, Person::default(), jiff::civil::date(2026, 11, 25)).expect("it fits");
        let at = |id: &str| At { id: id.to_owned(), place: Some("nowhere".to_owned()) };
        for kept in [
            Kept::Stated { sign: at("no-such-sign"), present: true },
            Kept::Number { check: at("no-such-check"), value: 1.0, unit: "V".to_owned(), unit_given: true },
            Kept::Tried { cause: at("horn-fuse-blown"), remedy: at("x"), cured: true },
            Kept::CannotDo { check: "no-such-check".to_owned() },
        ] {
            assert!(trace.restored(&kept).is_err_and(|why| why.contains("any more")), "{kept:?}");
        }
    }
}
