//! Entries as plain data, each kind with its own fields; written and read whole.

use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension as _, Transaction};
use serde::{Deserialize, Serialize};

use super::sitting::{Ending, KeptAnswer, put_answer, read_answers};
use super::vehicle::{KeptVehicle, put};
use super::{Inner, Records, Trouble, Wanted, add_entry};
use crate::units::Pence;

/// Miles or kilometres.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Distance {
    /// Miles.
    #[serde(rename = "mi")]
    Miles,
    /// Kilometres.
    #[serde(rename = "km")]
    Kilometres,
}

impl Distance {
    /// The letters for it.
    pub fn letters(self) -> &'static str {
        match self {
            Distance::Miles => "mi",
            Distance::Kilometres => "km",
        }
    }

    fn read(letters: &str) -> Distance {
        if letters == "km" { Distance::Kilometres } else { Distance::Miles }
    }

    /// A reading in this unit brought to another; a mile is 1.609344 km (international yard and pound agreement, 1959).
    pub fn to(self, reading: f64, other: Distance) -> f64 {
        match (self, other) {
            (Distance::Miles, Distance::Kilometres) => reading * 1.609_344,
            (Distance::Kilometres, Distance::Miles) => reading / 1.609_344,
            _ => reading,
        }
    }
}

/// How a part stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum PartState {
    Wanted,
    Ordered,
    BackOrder,
    Arrived,
    Fitted,
    /// No longer wanted.
    Dropped,
}

impl PartState {
    const WORDS: [(PartState, &'static str); 6] = [
        (PartState::Wanted, "wanted"),
        (PartState::Ordered, "ordered"),
        (PartState::BackOrder, "back-order"),
        (PartState::Arrived, "arrived"),
        (PartState::Fitted, "fitted"),
        (PartState::Dropped, "dropped"),
    ];

    /// The word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|w| w.0 == self).map_or("", |w| w.1)
    }

    /// The state of a word.
    pub fn read(word: &str) -> Option<PartState> {
        Self::WORDS.iter().find(|w| w.1 == word).map(|w| w.0)
    }
}

/// A step in the life of a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartStep {
    /// How it stands from then on.
    pub state: PartState,
    /// The day.
    pub day: Date,
    /// When it is to come, for one ordered or on back order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Date>,
    /// What was paid for the whole quantity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<Pence>,
    /// Anything else.
    #[serde(default)]
    pub remark: String,
}

/// One line of a test result: a refusal of category dangerous or major, a minor defect, or a remark.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ResultLine {
    /// `dangerous`, `major`, `minor` or `remark`.
    pub category: String,
    /// As written on the sheet.
    pub text: String,
}

/// A trace or walk-round with its answers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct SittingBody {
    pub title: String,
    pub touched: Date,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ending: Option<Ending>,
    pub knowledge: String,
    #[serde(default)]
    pub settings: String,
    #[serde(default)]
    pub unsettled: String,
    pub edits: i64,
    pub answers: Vec<KeptAnswer>,
}

/// What an entry says. `of` is the number of the trace or round it came from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Body {
    Trace(SittingBody),
    Round(SittingBody),
    Note {
        of: Option<i64>,
        text: String,
    },
    Odometer {
        reading: f64,
        unit: Distance,
    },
    /// A number in its own unit, with the odometer where it was read.
    Measurement {
        what: String,
        place: Option<String>,
        value: f64,
        unit: String,
        odometer: Option<(f64, Distance)>,
    },
    /// Something found wrong; `verdict` is what it means at the test. Open until it is closed.
    Finding {
        of: Option<i64>,
        subject: String,
        place: Option<String>,
        verdict: String,
        text: String,
        closed: Option<Date>,
        closed_by: Option<i64>,
    },
    Part {
        of: Option<i64>,
        part: String,
        place: Option<String>,
        quantity: f64,
        cause: Option<String>,
        text: String,
        steps: Vec<PartStep>,
    },
    /// A remedy carried out for a cause; `proved_by` is the check that proved it.
    Repair {
        of: Option<i64>,
        cause: String,
        place: Option<String>,
        remedy: String,
        proved: bool,
        proved_by: String,
        text: String,
    },
    /// `outcome` is `passed` or `refused`.
    Result {
        outcome: String,
        lines: Vec<ResultLine>,
        text: String,
    },
}

impl Body {
    /// The word for its kind.
    pub fn kind(&self) -> &'static str {
        match self {
            Body::Trace(_) => "trace",
            Body::Round(_) => "round",
            Body::Note { .. } => "note",
            Body::Odometer { .. } => "odometer",
            Body::Measurement { .. } => "measurement",
            Body::Finding { .. } => "finding",
            Body::Part { .. } => "part",
            Body::Repair { .. } => "repair",
            Body::Result { .. } => "result",
        }
    }

    /// Brings the numbers of other entries in it to what they are elsewhere; one that is not there is left out.
    pub(super) fn renumber(&mut self, to: &dyn Fn(i64) -> Option<i64>) {
        match self {
            Body::Note { of, .. } | Body::Part { of, .. } | Body::Repair { of, .. } => *of = of.and_then(to),
            Body::Finding { of, closed_by, .. } => {
                *of = of.and_then(to);
                *closed_by = closed_by.and_then(to);
            }
            Body::Trace(_)
            | Body::Round(_)
            | Body::Odometer { .. }
            | Body::Measurement { .. }
            | Body::Result { .. } => {}
        }
    }
}

/// Every kind of entry.
pub const KINDS: [&str; 9] =
    ["trace", "round", "note", "odometer", "measurement", "finding", "part", "repair", "result"];

/// An entry of the logbook, whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its number in this logbook.
    pub number: i64,
    /// Its mark, the same in every logbook it is brought into.
    pub mark: String,
    /// The vehicle's short name.
    pub vehicle: String,
    /// The day.
    pub day: Date,
    /// What it says.
    #[serde(flatten)]
    pub body: Body,
}

impl Records {
    /// Adds an entry; gives its number.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn add(&mut self, vehicle: &KeptVehicle, day: Date, body: &Body) -> Result<i64, Trouble> {
        self.change(|t| {
            let vehicle = put(t, vehicle)?;
            let number = add_entry(t, vehicle, body.kind(), day)?;
            put_body(t, number, day, body)?;
            Ok(number)
        })
    }

    /// The entry of a number.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn entry(&self, number: i64) -> Result<Option<Entry>, Trouble> {
        read_entry(&self.connection, number).map_err(|e| self.trouble(&e))
    }

    /// The entries wanted, whole, in order of their numbers.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn entries(&self, wanted: &Wanted) -> Result<Vec<Entry>, Trouble> {
        let mut entries = Vec::new();
        for line in self.lines(wanted)? {
            entries.extend(self.entry(line.number)?);
        }
        Ok(entries)
    }

    /// Notes a further step in the life of a part.
    ///
    /// # Errors
    /// If there is no such part, or it cannot be written.
    pub fn part_step(&mut self, part: i64, step: &PartStep) -> Result<(), Trouble> {
        self.change(|t| {
            let known = t.query_row("SELECT 1 FROM part WHERE entry = ?1", [part], |_| Ok(())).optional()?;
            known.ok_or(Trouble::NoEntry { kind: "part", number: part })?;
            Ok(put_step(t, part, step)?)
        })
    }

    /// Closes a finding, by a repair where there was one; `None` opens it again.
    ///
    /// # Errors
    /// If there is no such finding, or it cannot be written.
    pub fn close_finding(&mut self, number: i64, closed: Option<Date>, by: Option<i64>) -> Result<(), Trouble> {
        self.change(|t| {
            let closed = closed.map(|d| d.to_string());
            let changed =
                t.execute("UPDATE finding SET closed = ?2, closed_by = ?3 WHERE entry = ?1", (number, closed, by))?;
            if changed == 0 { Err(Trouble::NoEntry { kind: "finding", number }.into()) } else { Ok(()) }
        })
    }
}

fn put_step(t: &Transaction<'_>, part: i64, step: &PartStep) -> rusqlite::Result<()> {
    t.prepare_cached("INSERT INTO part_state (part, state, day, due, price, remark) VALUES (?1, ?2, ?3, ?4, ?5, ?6)")?
        .execute((
            part,
            step.state.word(),
            step.day.to_string(),
            step.due.map(|d| d.to_string()),
            step.price.map(|p| p.0),
            &step.remark,
        ))
        .map(|_| ())
}

/// Writes what an entry says below its number.
pub(super) fn put_body(t: &Transaction<'_>, number: i64, day: Date, body: &Body) -> Result<(), Inner> {
    match body {
        Body::Trace(s) | Body::Round(s) => {
            t.prepare_cached(
                "INSERT INTO sitting (entry, title, touched, ended, ending, knowledge, settings, unsettled, edits)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute((
                number,
                &s.title,
                s.touched.to_string(),
                s.ending.map(|_| s.ended.unwrap_or(day).to_string()),
                s.ending.map(Ending::word),
                &s.knowledge,
                &s.settings,
                &s.unsettled,
                s.edits,
            ))?;
            for kept in &s.answers {
                let undone = kept.undone.map(|d| d.to_string());
                put_answer(t, number, &kept.answer, &kept.typed, &kept.day.to_string(), undone.as_deref())?;
            }
        }
        Body::Note { of, text } => {
            t.prepare_cached("INSERT INTO note (entry, of, text) VALUES (?1, ?2, ?3)")?.execute((number, of, text))?;
        }
        Body::Odometer { reading, unit } => {
            t.prepare_cached("INSERT INTO odometer (entry, reading, unit) VALUES (?1, ?2, ?3)")?.execute((
                number,
                reading,
                unit.letters(),
            ))?;
        }
        Body::Measurement { what, place, value, unit, odometer } => {
            t.prepare_cached(
                "INSERT INTO measurement (entry, what, place, value, unit, odometer, odometer_unit)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?
            .execute((
                number,
                what,
                place,
                value,
                unit,
                odometer.map(|o| o.0),
                odometer.map(|o| o.1.letters()),
            ))?;
        }
        Body::Finding { of, subject, place, verdict, text, closed, closed_by } => {
            t.prepare_cached(
                "INSERT INTO finding (entry, of, subject, place, verdict, text, closed, closed_by)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute((
                number,
                of,
                subject,
                place,
                verdict,
                text,
                closed.map(|d| d.to_string()),
                closed_by,
            ))?;
        }
        Body::Part { of, part, place, quantity, cause, text, steps } => {
            t.prepare_cached(
                "INSERT INTO part (entry, of, part, place, quantity, cause, text) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?
            .execute((number, of, part, place, quantity, cause, text))?;
            for step in steps {
                put_step(t, number, step)?;
            }
        }
        Body::Repair { of, cause, place, remedy, proved, proved_by, text } => {
            t.prepare_cached(
                "INSERT INTO repair (entry, of, cause, place, remedy, proved, proved_by, text)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute((number, of, cause, place, remedy, proved, proved_by, text))?;
        }
        Body::Result { outcome, lines, text } => {
            t.prepare_cached("INSERT INTO result (entry, outcome, text) VALUES (?1, ?2, ?3)")?
                .execute((number, outcome, text))?;
            let mut put = t.prepare_cached("INSERT INTO result_line (result, category, text) VALUES (?1, ?2, ?3)")?;
            for line in lines {
                put.execute((number, &line.category, &line.text))?;
            }
        }
    }
    Ok(())
}

fn read_entry(c: &Connection, number: i64) -> rusqlite::Result<Option<Entry>> {
    let head: Option<(String, String, String, String)> = c
        .prepare_cached(
            "SELECT e.mark, v.name, e.day, e.kind FROM entry e JOIN vehicle v ON v.id = e.vehicle WHERE e.id = ?1",
        )?
        .query_row([number], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))
        .optional()?;
    let Some((mark, vehicle, day, kind)) = head else { return Ok(None) };
    let Some(body) = read_body(c, number, &kind)? else { return Ok(None) };
    Ok(Some(Entry { number, mark, vehicle, day: day_of(&day)?, body }))
}

fn day_of(text: &str) -> rusqlite::Result<Date> {
    text.parse().map_err(|e| rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(e)))
}

fn some_day(text: Option<String>) -> rusqlite::Result<Option<Date>> {
    text.map(|t| day_of(&t)).transpose()
}

fn read_body(c: &Connection, number: i64, kind: &str) -> rusqlite::Result<Option<Body>> {
    let one = |sql: &str, read: &dyn Fn(&rusqlite::Row<'_>) -> rusqlite::Result<Body>| {
        c.prepare_cached(sql)?.query_row([number], |row| read(row)).optional()
    };
    match kind {
        "trace" | "round" => {
            let answers = read_answers(c, number)?;
            one(
                "SELECT title, touched, ended, ending, knowledge, settings, unsettled, edits FROM sitting WHERE entry = ?1",
                &|r| {
                    let ending: Option<String> = r.get(3)?;
                    let body = SittingBody {
                        title: r.get(0)?,
                        touched: day_of(&r.get::<_, String>(1)?)?,
                        ended: some_day(r.get(2)?)?,
                        ending: ending.as_deref().and_then(Ending::read),
                        knowledge: r.get(4)?,
                        settings: r.get(5)?,
                        unsettled: r.get(6)?,
                        edits: r.get(7)?,
                        answers: answers.clone(),
                    };
                    Ok(if kind == "round" { Body::Round(body) } else { Body::Trace(body) })
                },
            )
        }
        "note" => {
            one("SELECT of, text FROM note WHERE entry = ?1", &|r| Ok(Body::Note { of: r.get(0)?, text: r.get(1)? }))
        }
        "odometer" => one("SELECT reading, unit FROM odometer WHERE entry = ?1", &|r| {
            Ok(Body::Odometer { reading: r.get(0)?, unit: Distance::read(&r.get::<_, String>(1)?) })
        }),
        "measurement" => {
            one("SELECT what, place, value, unit, odometer, odometer_unit FROM measurement WHERE entry = ?1", &|r| {
                let (odometer, unit): (Option<f64>, Option<String>) = (r.get(4)?, r.get(5)?);
                Ok(Body::Measurement {
                    what: r.get(0)?,
                    place: r.get(1)?,
                    value: r.get(2)?,
                    unit: r.get(3)?,
                    odometer: odometer.zip(unit.map(|u| Distance::read(&u))),
                })
            })
        }
        "finding" => {
            one("SELECT of, subject, place, verdict, text, closed, closed_by FROM finding WHERE entry = ?1", &|r| {
                Ok(Body::Finding {
                    of: r.get(0)?,
                    subject: r.get(1)?,
                    place: r.get(2)?,
                    verdict: r.get(3)?,
                    text: r.get(4)?,
                    closed: some_day(r.get(5)?)?,
                    closed_by: r.get(6)?,
                })
            })
        }
        "part" => {
            let mut rows =
                c.prepare_cached("SELECT state, day, due, price, remark FROM part_state WHERE part = ?1 ORDER BY id")?;
            let steps: Vec<PartStep> = rows
                .query_map([number], |r| {
                    Ok(PartStep {
                        state: PartState::read(&r.get::<_, String>(0)?).unwrap_or(PartState::Wanted),
                        day: day_of(&r.get::<_, String>(1)?)?,
                        due: some_day(r.get(2)?)?,
                        price: r.get::<_, Option<i64>>(3)?.map(Pence),
                        remark: r.get(4)?,
                    })
                })?
                .collect::<Result<_, _>>()?;
            one("SELECT of, part, place, quantity, cause, text FROM part WHERE entry = ?1", &|r| {
                Ok(Body::Part {
                    of: r.get(0)?,
                    part: r.get(1)?,
                    place: r.get(2)?,
                    quantity: r.get(3)?,
                    cause: r.get(4)?,
                    text: r.get(5)?,
                    steps: steps.clone(),
                })
            })
        }
        "repair" => {
            one("SELECT of, cause, place, remedy, proved, proved_by, text FROM repair WHERE entry = ?1", &|r| {
                Ok(Body::Repair {
                    of: r.get(0)?,
                    cause: r.get(1)?,
                    place: r.get(2)?,
                    remedy: r.get(3)?,
                    proved: r.get(4)?,
                    proved_by: r.get(5)?,
                    text: r.get(6)?,
                })
            })
        }
        "result" => {
            let mut rows = c.prepare_cached("SELECT category, text FROM result_line WHERE result = ?1 ORDER BY id")?;
            let lines: Vec<ResultLine> = rows
                .query_map([number], |r| Ok(ResultLine { category: r.get(0)?, text: r.get(1)? }))?
                .collect::<Result<_, _>>()?;
            one("SELECT outcome, text FROM result WHERE entry = ?1", &|r| {
                Ok(Body::Result { outcome: r.get(0)?, text: r.get(1)?, lines: lines.clone() })
            })
        }
        _ => Ok(None),
    }
}
