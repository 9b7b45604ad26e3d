//! Traces and walk-rounds: begun, answered one transaction at a time, left and taken up again.

use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension as _, Row, Transaction};
use serde::{Deserialize, Serialize};

use super::log::{Body, put_body};
use super::vehicle::{KeptVehicle, put};
use super::{Inner, Records, Trouble, add_entry};

/// What kind of sitting it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A symptom followed to its cause.
    Trace,
    /// A walk-round before the test.
    Round,
}

impl Kind {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Trace => "trace",
            Kind::Round => "round",
        }
    }
}

/// How a sitting ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Ending {
    /// The vehicle was put right and proved.
    Proved,
    /// Everything was answered.
    Done,
    /// The person put it aside.
    Aside,
}

impl Ending {
    pub(super) fn word(self) -> &'static str {
        match self {
            Ending::Proved => "proved",
            Ending::Done => "done",
            Ending::Aside => "aside",
        }
    }

    pub(super) fn read(word: &str) -> Option<Ending> {
        [Ending::Proved, Ending::Done, Ending::Aside].into_iter().find(|e| e.word() == word)
    }
}

/// An answer to be kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NewAnswer {
    /// What kind of answer, as the session names it.
    pub kind: String,
    /// The id it is about.
    pub subject: String,
    /// The place it is about.
    pub place: Option<String>,
    /// What was said, in words.
    pub said: String,
    /// The number, where one was given, in `unit`.
    pub number: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// The answer as the session writes it, in JSON.
    pub data: String,
}

/// An answer as kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptAnswer {
    /// Its number; it gives the order.
    pub id: i64,
    /// The answer.
    #[serde(flatten)]
    pub answer: NewAnswer,
    /// The line typed.
    pub typed: String,
    /// The day.
    pub day: Date,
    /// When it was taken back, if it was.
    pub undone: Option<Date>,
}

/// A sitting without its answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Sitting {
    /// Its number in the logbook.
    pub number: i64,
    /// What kind.
    pub kind: Kind,
    /// The vehicle's short name.
    pub vehicle: String,
    /// What it is about, in words.
    pub title: String,
    /// The day it was begun.
    pub begun: Date,
    /// The day of the last change.
    pub touched: Date,
    /// How it ended; nothing while it is unfinished.
    pub ending: Option<Ending>,
    /// The fingerprint of the knowledge it was begun with.
    pub knowledge: String,
    /// What else it was begun with.
    pub settings: String,
    /// Words typed that are not settled yet.
    pub unsettled: String,
    /// How often it was changed.
    pub edits: i64,
    /// How many answers stand.
    pub answers: usize,
}

/// What is begun.
#[derive(Clone, Debug)]
pub struct Begin<'a> {
    /// What kind.
    pub kind: Kind,
    /// The vehicle.
    pub vehicle: &'a KeptVehicle,
    /// The fingerprint of the knowledge.
    pub knowledge: &'a str,
    /// What else it was begun with, as the caller writes it.
    pub settings: &'a str,
}

/// One change of a sitting: what one typed line did.
#[derive(Clone, Debug)]
pub struct Change<'a> {
    /// Today.
    pub day: Date,
    /// The line typed.
    pub typed: &'a str,
    /// What the sitting is about now, in words.
    pub title: &'a str,
    /// Words not settled yet.
    pub unsettled: &'a str,
    /// Answers taken back, by number.
    pub undone: &'a [i64],
    /// Answers given, in order.
    pub given: &'a [NewAnswer],
    /// How it ended with this, if it did. Without it, a sitting that had ended is open again, and the repair that ended it is withdrawn.
    pub ending: Option<Ending>,
    /// The repair that put the vehicle right.
    pub repair: Option<Repaired>,
}

/// A proved repair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repaired {
    /// The cause, by its id.
    pub cause: String,
    /// Its place.
    pub place: Option<String>,
    /// The remedy, by its id.
    pub remedy: String,
    /// The check that proved it, by its id; empty where none is named.
    pub proved_by: String,
    /// In words.
    pub text: String,
}

/// Where a program stands in a sitting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// The sitting.
    pub number: i64,
    /// Its changes so far; a different count in the file means that another program went on with it.
    pub edits: i64,
}

const COLUMNS: &str =
    "s.entry, e.kind, v.name, s.title, e.day, s.touched, s.ending, s.knowledge, s.settings, s.unsettled, s.edits,
    (SELECT count(*) FROM answer a WHERE a.sitting = s.entry AND a.undone IS NULL)
    FROM sitting s JOIN entry e ON e.id = s.entry JOIN vehicle v ON v.id = e.vehicle";

impl Records {
    /// Begins a sitting together with its first change. Gives where it stands, and the numbers of the answers.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn begin(&mut self, begin: &Begin<'_>, change: &Change<'_>) -> Result<(Hold, Vec<i64>), Trouble> {
        self.change(|t| {
            let vehicle = put(t, begin.vehicle)?;
            let number = add_entry(t, vehicle, begin.kind.word(), change.day)?;
            t.execute(
                "INSERT INTO sitting (entry, title, touched, knowledge, settings) VALUES (?1, ?2, ?3, ?4, ?5)",
                (number, change.title, change.day.to_string(), begin.knowledge, begin.settings),
            )?;
            let hold = Hold { number, edits: 0 };
            apply(t, hold, change)
        })
    }

    /// Keeps one change of a sitting, whole or not at all. Gives where it stands now, and the numbers of the answers given.
    ///
    /// # Errors
    /// [`Trouble::MovedOn`] if another program changed the sitting since; otherwise if it cannot be written.
    pub fn keep(&mut self, hold: Hold, change: &Change<'_>) -> Result<(Hold, Vec<i64>), Trouble> {
        self.change(|t| apply(t, hold, change))
    }

    /// Ends an unfinished sitting without changing its answers.
    ///
    /// # Errors
    /// If there is no such sitting, or it cannot be written.
    pub fn end(&mut self, number: i64, ending: Ending, day: Date) -> Result<(), Trouble> {
        self.change(|t| {
            let changed = t.execute(
                "UPDATE sitting SET ended = ?2, ending = ?3, touched = ?2, edits = edits + 1 WHERE entry = ?1",
                (number, day.to_string(), ending.word()),
            )?;
            if changed == 0 { Err(Trouble::NoEntry { kind: "sitting", number }.into()) } else { Ok(()) }
        })
    }

    /// The sitting of a number.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn sitting(&self, number: i64) -> Result<Option<Sitting>, Trouble> {
        self.connection
            .query_row(&format!("SELECT {COLUMNS} WHERE s.entry = ?1"), [number], read_sitting)
            .optional()
            .map_err(|e| self.trouble(&e))
    }

    /// Unfinished sittings, last begun first; of one kind and one vehicle where these are given.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn unfinished(&self, kind: Option<Kind>, vehicle: Option<&str>) -> Result<Vec<Sitting>, Trouble> {
        let sql = format!(
            "SELECT {COLUMNS} WHERE s.ended IS NULL AND (?1 IS NULL OR e.kind = ?1) AND (?2 IS NULL OR v.name = ?2)
             AND (s.unsettled <> '' OR EXISTS (SELECT 1 FROM answer a WHERE a.sitting = s.entry AND a.undone IS NULL))
             ORDER BY s.entry DESC"
        );
        let read = || {
            let mut rows = self.connection.prepare(&sql)?;
            rows.query_map((kind.map(Kind::word), vehicle), read_sitting)?.collect::<Result<Vec<_>, _>>()
        };
        read().map_err(|e: rusqlite::Error| self.trouble(&e))
    }

    /// The answers of a sitting in order, those taken back among them.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn answers(&self, sitting: i64) -> Result<Vec<KeptAnswer>, Trouble> {
        read_answers(&self.connection, sitting).map_err(|e| self.trouble(&e))
    }
}

/// The answers of a sitting in order.
pub(super) fn read_answers(connection: &Connection, sitting: i64) -> rusqlite::Result<Vec<KeptAnswer>> {
    let mut rows = connection.prepare_cached(
        "SELECT id, kind, subject, place, said, number, unit, typed, day, data, undone, sum
         FROM answer WHERE sitting = ?1 ORDER BY id",
    )?;
    rows.query_map([sitting], read_answer)?.collect()
}

fn apply(t: &Transaction<'_>, hold: Hold, change: &Change<'_>) -> Result<(Hold, Vec<i64>), Inner> {
    let day = change.day.to_string();
    let changed = t
        .prepare_cached(
            "UPDATE sitting SET title = ?3, touched = ?4, ended = iif(?5 IS NULL, NULL, ?4), ending = ?5, unsettled = ?6,
             edits = edits + 1 WHERE entry = ?1 AND edits = ?2",
        )?
        .execute((
            hold.number,
            hold.edits,
            change.title,
            &day,
            change.ending.map(Ending::word),
            change.unsettled,
        ))?;
    if changed == 0 {
        return Err(Trouble::MovedOn { sitting: hold.number }.into());
    }
    if change.repair.is_some() || change.ending.is_none() {
        // A repair whose proof was taken back is none.
        t.prepare_cached("DELETE FROM entry WHERE id IN (SELECT entry FROM repair WHERE of = ?1 AND proved = 1)")?
            .execute([hold.number])?;
    }
    if let Some(repaired) = &change.repair {
        let vehicle: i64 = t.query_row("SELECT vehicle FROM entry WHERE id = ?1", [hold.number], |row| row.get(0))?;
        let entry = add_entry(t, vehicle, "repair", change.day)?;
        let body = Body::Repair {
            of: Some(hold.number),
            cause: repaired.cause.clone(),
            place: repaired.place.clone(),
            remedy: repaired.remedy.clone(),
            proved: true,
            proved_by: repaired.proved_by.clone(),
            text: repaired.text.clone(),
        };
        put_body(t, entry, change.day, &body)?;
    }
    let mut undo =
        t.prepare_cached("UPDATE answer SET undone = ?3 WHERE id = ?2 AND sitting = ?1 AND undone IS NULL")?;
    for id in change.undone {
        undo.execute((hold.number, id, &day))?;
    }
    let mut given = Vec::with_capacity(change.given.len());
    for answer in change.given {
        put_answer(t, hold.number, answer, change.typed, &day, None)?;
        given.push(t.last_insert_rowid());
    }
    Ok((Hold { number: hold.number, edits: hold.edits + 1 }, given))
}

/// Adds one answer's row.
pub(super) fn put_answer(
    t: &Transaction<'_>,
    sitting: i64,
    answer: &NewAnswer,
    typed: &str,
    day: &str,
    undone: Option<&str>,
) -> rusqlite::Result<()> {
    t.prepare_cached(
        "INSERT INTO answer (sitting, kind, subject, place, said, number, unit, typed, day, data, sum, undone)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?
    .execute((
        sitting,
        &answer.kind,
        &answer.subject,
        &answer.place,
        &answer.said,
        number(answer),
        &answer.unit,
        typed,
        day,
        &answer.data,
        sum(answer, typed),
        undone,
    ))
    .map(|_| ())
}

/// Reads a day; one that is none is a damaged column.
pub(super) fn day_at(row: &Row<'_>, column: usize) -> rusqlite::Result<Date> {
    let text: String = row.get(column)?;
    read_day(&text, column)
}

fn read_day(text: &str, column: usize) -> rusqlite::Result<Date> {
    text.parse()
        .map_err(|e| rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(e)))
}

fn read_sitting(row: &Row<'_>) -> rusqlite::Result<Sitting> {
    let kind: String = row.get(1)?;
    let ending: Option<String> = row.get(6)?;
    Ok(Sitting {
        number: row.get(0)?,
        kind: if kind == Kind::Round.word() { Kind::Round } else { Kind::Trace },
        vehicle: row.get(2)?,
        title: row.get(3)?,
        begun: day_at(row, 4)?,
        touched: day_at(row, 5)?,
        ending: ending.as_deref().and_then(Ending::read),
        knowledge: row.get(7)?,
        settings: row.get(8)?,
        unsettled: row.get(9)?,
        edits: row.get(10)?,
        answers: row.get::<_, i64>(11)?.try_into().unwrap_or(0),
    })
}

fn read_answer(row: &Row<'_>) -> rusqlite::Result<KeptAnswer> {
    let undone: Option<String> = row.get(10)?;
    let kept = KeptAnswer {
        id: row.get(0)?,
        answer: NewAnswer {
            kind: row.get(1)?,
            subject: row.get(2)?,
            place: row.get(3)?,
            said: row.get(4)?,
            number: row.get(5)?,
            unit: row.get(6)?,
            data: row.get(9)?,
        },
        typed: row.get(7)?,
        day: day_at(row, 8)?,
        undone: undone.map(|d| read_day(&d, 10)).transpose()?,
    };
    if row.get::<_, i64>(11)? != sum(&kept.answer, &kept.typed) {
        let why = format!("answer {} is not as it was written", kept.id);
        let code = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CORRUPT);
        return Err(rusqlite::Error::SqliteFailure(code, Some(why)));
    }
    Ok(kept)
}

/// The number of an answer; one that is none would be read back as nothing.
fn number(answer: &NewAnswer) -> Option<f64> {
    answer.number.filter(|n| n.is_finite())
}

/// A number made of all that was given: FNV-1a, 64 bits (Fowler, Noll and Vo, 1991).
fn sum(answer: &NewAnswer, typed: &str) -> i64 {
    let number = number(answer).map_or_else(String::new, |n| n.to_bits().to_string());
    let none = "\u{0}".to_owned();
    let texts = [
        &answer.kind,
        &answer.subject,
        answer.place.as_ref().unwrap_or(&none),
        &answer.said,
        &number,
        answer.unit.as_ref().unwrap_or(&none),
        &answer.data,
    ];
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for text in texts.into_iter().map(String::as_str).chain([typed]) {
        for byte in text.bytes().chain([0xff]) {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    hash.cast_signed()
}
