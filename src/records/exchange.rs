//! Out of the logbook and back in: JSON with everything, and CSV that a spreadsheet opens safely and that also holds everything.

use std::collections::HashMap;

use rusqlite::OptionalExtension as _;
use serde::{Deserialize, Serialize};

use super::log::{Body, Entry, put_body};
use super::vehicle::{KeptVehicle, put};
use super::{Records, Trouble, Wanted};

/// The form of an export. Fields are only ever added within a form.
pub const FORM: &str = "splitpin-logbook/1";

/// A logbook, or some of it, as plain data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Export {
    /// [`FORM`].
    pub form: String,
    /// The vehicles.
    pub vehicles: Vec<KeptVehicle>,
    /// The entries, in order.
    pub entries: Vec<Entry>,
}

impl Default for Export {
    /// An empty one.
    fn default() -> Self {
        Export { form: FORM.to_owned(), vehicles: Vec::new(), entries: Vec::new() }
    }
}

/// What bringing in did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Brought {
    /// Entries added.
    pub added: usize,
    /// Entries that were here already and were left as they are.
    pub known: usize,
}

impl Records {
    /// The entries wanted, with their vehicles.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn export(&self, wanted: &Wanted) -> Result<Export, Trouble> {
        let entries = self.entries(wanted)?;
        let mut vehicles = self.vehicles()?;
        vehicles.retain(|v| entries.iter().any(|e| e.vehicle == v.name));
        Ok(Export { form: FORM.to_owned(), vehicles, entries })
    }

    /// Brings an export in, whole or not at all. Entries get new numbers behind those that are here; what is here already stays as it is.
    ///
    /// # Errors
    /// If something in it does not hold together, or it cannot be written. Then nothing is brought in.
    pub fn import(&mut self, export: &Export) -> Result<Brought, Trouble> {
        if export.form != FORM {
            return Err(Trouble::BadImport(format!(
                "this is no export of a logbook that is known here: its form is `{}`, wanted is `{FORM}`",
                crate::report::visible(&export.form)
            )));
        }
        self.change(|t| {
            let mut rows = HashMap::new();
            for vehicle in &export.vehicles {
                let here =
                    t.query_row("SELECT id FROM vehicle WHERE name = ?1", [&vehicle.name], |r| r.get(0)).optional()?;
                rows.insert(vehicle.name.as_str(), here.map_or_else(|| put(t, vehicle), Ok)?);
            }
            let mut numbers: HashMap<i64, i64> = HashMap::new();
            let mut brought = Brought::default();
            let mut known = t.prepare_cached("SELECT id FROM entry WHERE mark = ?1")?;
            let mut add = t.prepare_cached("INSERT INTO entry (mark, vehicle, kind, day) VALUES (?1, ?2, ?3, ?4)")?;
            let mut added = Vec::new();
            for entry in &export.entries {
                if let Some(here) = known.query_row([&entry.mark], |r| r.get(0)).optional()? {
                    numbers.insert(entry.number, here);
                    brought.known += 1;
                    continue;
                }
                let vehicle = rows.get(entry.vehicle.as_str()).ok_or_else(|| {
                    Trouble::BadImport(format!(
                        "entry {} is of the vehicle `{}`, which the file does not list; nothing was brought in",
                        entry.number,
                        crate::report::visible(&entry.vehicle)
                    ))
                })?;
                add.execute((&entry.mark, vehicle, entry.body.kind(), entry.day.to_string()))?;
                numbers.insert(entry.number, t.last_insert_rowid());
                added.push(entry);
            }
            // Only now: an entry may speak of a later one.
            for entry in added {
                let mut body = entry.body.clone();
                body.renumber(&|n| numbers.get(&n).copied());
                let Some(number) = numbers.get(&entry.number) else { continue };
                put_body(t, *number, entry.day, &body)?;
                brought.added += 1;
            }
            Ok(brought)
        })
        .map_err(|trouble| match trouble {
            Trouble::Other { why, .. } => {
                Trouble::BadImport(format!("the file does not hold together ({why}); nothing was brought in"))
            }
            other => other,
        })
    }
}

/// Reads an export from JSON or CSV text.
///
/// # Errors
/// What is wrong, and where.
pub fn read(text: &str) -> Result<Export, Trouble> {
    let text = text.trim_start_matches('\u{feff}');
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text)
            .map_err(|e| Trouble::BadImport(format!("this is no export of a logbook: {e}; nothing was brought in")));
    }
    from_csv(text)
}

const HEADINGS: [&str; 11] =
    ["number", "day", "vehicle", "kind", "subject", "place", "text", "value", "unit", "odometer", "data"];

/// A cell that a spreadsheet would take for a formula gets a `'` in front (CWE-1236: formula elements in CSV).
pub fn guarded(text: &str) -> String {
    let first = text.trim_start_matches([' ', '\u{a0}']).chars().next();
    let dangerous = matches!(
        first,
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '\0' | '＝' | '＋' | '－' | '＠' | '\'' | '|' | '%')
    );
    if dangerous { format!("'{text}") } else { text.to_owned() }
}

/// An export as CSV: a row for each entry and each answer, to be read; the column `data` holds each entry whole, to be brought in again.
///
/// # Errors
/// If it cannot be put into letters.
pub fn to_csv(export: &Export) -> Result<String, Trouble> {
    let bad = |e: &dyn std::fmt::Display| Trouble::BadImport(format!("the export cannot be written: {e}"));
    let mut writer = csv::WriterBuilder::new().quote_style(csv::QuoteStyle::NonNumeric).from_writer(Vec::new());
    writer.write_record(HEADINGS).map_err(|e| bad(&e))?;
    let mut rows: Vec<[String; 11]> = Vec::new();
    for vehicle in &export.vehicles {
        let data = serde_json::to_string(vehicle).map_err(|e| bad(&e))?;
        rows.push(row(&["", "", &vehicle.name, "vehicle", "", "", &vehicle.shown], None, "", None, &data));
    }
    for entry in &export.entries {
        let data = serde_json::to_string(entry).map_err(|e| bad(&e))?;
        let (number, day) = (entry.number.to_string(), entry.day.to_string());
        let mut put = |kind: &str,
                       subject: &str,
                       place: Option<&String>,
                       text: &str,
                       value: Option<(f64, &str)>,
                       odometer,
                       data: &str| {
            let texts = [&*number, &day, &entry.vehicle, kind, subject, place.map_or("", String::as_str), text];
            rows.push(row(&texts, value.map(|v| v.0), value.map_or("", |v| v.1), odometer, data));
        };
        let kind = entry.body.kind();
        match &entry.body {
            Body::Trace(s) | Body::Round(s) => {
                put(kind, "", None, &s.title, None, None, &data);
                for kept in s.answers.iter().filter(|a| a.undone.is_none()) {
                    let a = &kept.answer;
                    let value = a.number.map(|n| (n, a.unit.as_deref().unwrap_or("")));
                    put("answer", &a.subject, a.place.as_ref(), &a.said, value, None, "");
                }
            }
            Body::Note { text, .. } => put(kind, "", None, text, None, None, &data),
            Body::Odometer { reading, unit } => put(kind, "", None, "", None, Some((*reading, *unit)), &data),
            Body::Measurement { what, place, value, unit, odometer } => {
                put(kind, what, place.as_ref(), "", Some((*value, unit)), *odometer, &data);
            }
            Body::Finding { subject, place, verdict, text, .. } => {
                put(kind, subject, place.as_ref(), &format!("{verdict}: {text}"), None, None, &data);
            }
            Body::Part { part, place, quantity, text, steps, .. } => {
                let state = steps.last().map_or("", |s| s.state.word());
                put(kind, part, place.as_ref(), &format!("{text}: {state}"), Some((*quantity, "")), None, &data);
            }
            Body::Repair { cause, place, text, .. } => put(kind, cause, place.as_ref(), text, None, None, &data),
            Body::Result { outcome, lines, text } => {
                put(kind, outcome, None, text, None, None, &data);
                for line in lines {
                    put("line", &line.category, None, &line.text, None, None, "");
                }
            }
        }
    }
    for row in rows {
        writer.write_record(row).map_err(|e| bad(&e))?;
    }
    let bytes = writer.into_inner().map_err(|e| bad(&e))?;
    String::from_utf8(bytes).map_err(|e| bad(&e))
}

fn row(
    texts: &[&str; 7],
    value: Option<f64>,
    unit: &str,
    odometer: Option<(f64, super::log::Distance)>,
    data: &str,
) -> [String; 11] {
    let [number, day, vehicle, kind, subject, place, text] = texts.map(guarded);
    let value = value.map_or_else(String::new, |v| v.to_string());
    let odometer = odometer.map_or_else(String::new, |o| format!("{} {}", o.0, o.1.letters()));
    [number, day, vehicle, kind, subject, place, text, value, guarded(unit), odometer, data.to_owned()]
}

fn from_csv(text: &str) -> Result<Export, Trouble> {
    let bad =
        |why: String| Trouble::BadImport(format!("this is no export of a logbook: {why}; nothing was brought in"));
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
    let headings = reader.headers().map_err(|e| bad(e.to_string()))?.clone();
    let column =
        |name: &str| headings.iter().position(|h| h == name).ok_or_else(|| bad(format!("it has no column `{name}`")));
    let (kind, data) = (column("kind")?, column("data")?);
    let mut export = Export::default();
    for (i, record) in reader.records().enumerate() {
        let record = record.map_err(|e| bad(e.to_string()))?;
        let data = record.get(data).unwrap_or("");
        let wrong = |e: serde_json::Error| bad(format!("row {}: {e}", i + 2));
        match record.get(kind) {
            _ if data.is_empty() => {}
            Some("vehicle") => export.vehicles.push(serde_json::from_str(data).map_err(wrong)?),
            _ => export.entries.push(serde_json::from_str(data).map_err(wrong)?),
        }
    }
    Ok(export)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::log::{Distance, PartState, PartStep, ResultLine};
    use crate::records::scratch::Scratch;
    use crate::records::sitting::{Begin, Change, Ending, Kind, NewAnswer};
    use crate::records::{Repaired, open};
    use crate::units::Pence;
    use jiff::civil::date;

    const NASTY: [&str; 12] = [
        "=1+1",
        "+44 1",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "＝1",
        " =1",
        "'quoted",
        "a\";=1",
        "two\nlines,",
        "=cmd|' /C calc'!A0",
    ];

    /// Records with an entry of every kind.
    fn full(folder: &std::path::Path) -> Records {
        let mut records = open(folder).expect("made");
        let vehicle = KeptVehicle { name: "cart".into(), shown: "=cart".into(), ..KeptVehicle::default() };
        let day = date(2026, 3, 1);
        let answer = NewAnswer {
            kind: "number".into(),
            subject: "s".into(),
            place: None,
            said: "= 11.8".into(),
            number: Some(-11.8),
            unit: Some("V".into()),
            data: "{\"a\":1}".into(),
        };
        let given = [answer.clone(), answer];
        let change = Change {
            day,
            typed: "11.8",
            title: "-dim",
            unsettled: "",
            undone: &[],
            given: &given,
            ending: Some(Ending::Proved),
            repair: Some(Repaired {
                cause: "corroded".into(),
                place: Some("rear".into()),
                remedy: "clean".into(),
                proved_by: "look".into(),
                text: "cleaned".into(),
            }),
        };
        let begin = Begin { kind: Kind::Trace, vehicle: &vehicle, knowledge: "k", settings: "{}" };
        let (hold, ids) = records.begin(&begin, &change).expect("begun");
        let undo = Change { undone: &ids[1..], given: &[], repair: None, ..change.clone() };
        records.keep(hold, &undo).expect("undone");
        let step = |state, due| PartStep { state, day, due, price: Some(Pence(350)), remark: "=x".into() };
        let mut bodies = vec![
            Body::Odometer { reading: 41_200.5, unit: Distance::Miles },
            Body::Measurement {
                what: "tread".into(),
                place: Some("front".into()),
                value: 0.1 + 0.2,
                unit: "mm".into(),
                odometer: Some((66_300.0, Distance::Kilometres)),
            },
            Body::Finding {
                of: Some(1),
                subject: "s".into(),
                place: None,
                verdict: "major".into(),
                text: "@x".into(),
                closed: Some(day),
                closed_by: Some(2),
            },
            Body::Part {
                of: Some(1),
                part: "bulb".into(),
                place: None,
                quantity: 2.0,
                cause: Some("c".into()),
                text: "bulb".into(),
                steps: vec![step(PartState::Wanted, None), step(PartState::BackOrder, Some(date(2026, 4, 1)))],
            },
            Body::Result {
                outcome: "refused".into(),
                lines: vec![ResultLine { category: "major".into(), text: "=1".into() }],
                text: String::new(),
            },
        ];
        bodies.extend(NASTY.map(|n| Body::Note { of: Some(1), text: n.to_owned() }));
        for body in &bodies {
            records.add(&vehicle, day, body).expect("added");
        }
        records
    }

    #[test]
    fn json_and_csv_bring_every_kind_of_entry_back_as_it_was() {
        let (from, to) = (Scratch::new(), Scratch::new());
        let records = full(&from.0);
        let export = records.export(&Wanted::default()).expect("read");
        let kinds: std::collections::BTreeSet<&str> = export.entries.iter().map(|e| e.body.kind()).collect();
        assert_eq!(kinds.len(), crate::records::log::KINDS.len() - 1, "a round is a trace to the records: {kinds:?}");
        let json = serde_json::to_string(&export).expect("written");
        assert_eq!(read(&json).expect("read"), export);
        let csv = to_csv(&export).expect("written");
        assert_eq!(read(&csv).expect("read"), export);
        let mut other = open(&to.0).expect("made");
        let brought = other.import(&read(&csv).expect("read")).expect("brought in");
        assert_eq!(brought, Brought { added: export.entries.len(), known: 0 });
        assert_eq!(other.import(&export).expect("again"), Brought { added: 0, known: export.entries.len() });
        other.look_through().expect("sound");
        // In an empty logbook the numbers come out alike; only those of the answers need not.
        let mut again = other.export(&Wanted::default()).expect("read");
        let mut export = export;
        for entry in again.entries.iter_mut().chain(&mut export.entries) {
            if let Body::Trace(s) = &mut entry.body {
                s.answers.iter_mut().for_each(|a| a.id = 0);
            }
        }
        assert_eq!(again, export);
    }

    #[test]
    fn no_cell_of_the_csv_is_a_formula_and_negative_numbers_stay_numbers() {
        let folder = Scratch::new();
        let csv = to_csv(&full(&folder.0).export(&Wanted::default()).expect("read")).expect("written");
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        let mut numbers = 0;
        for record in reader.records() {
            for (i, cell) in record.expect("a row").iter().enumerate() {
                if i == 7 && cell.parse::<f64>().is_ok() {
                    numbers += usize::from(cell.starts_with('-'));
                    continue;
                }
                let first = cell.trim_start_matches(' ').chars().next();
                assert!(!matches!(first, Some('=' | '+' | '-' | '@' | '\t' | '\r' | '＝')), "{cell:?}");
            }
        }
        assert_eq!(numbers, 1, "the answer that stands is -11.8");
    }

    #[test]
    fn what_does_not_hold_together_is_not_brought_in_at_all() {
        let (from, to) = (Scratch::new(), Scratch::new());
        let export = full(&from.0).export(&Wanted::default()).expect("read");
        let mut records = open(&to.0).expect("made");
        let mut lost = export.clone();
        lost.vehicles.clear();
        assert!(matches!(records.import(&lost), Err(Trouble::BadImport(_))));
        let mut strange = export.clone();
        if let Some(Body::Result { outcome, .. }) =
            strange.entries.iter_mut().map(|e| &mut e.body).find(|b| b.kind() == "result")
        {
            *outcome = "perhaps".into();
        }
        assert!(matches!(records.import(&strange), Err(Trouble::BadImport(_))));
        assert!(matches!(read("number,day\n1,2\n"), Err(Trouble::BadImport(_))));
        assert!(matches!(read("{\"form\":1}"), Err(Trouble::BadImport(_))));
        assert!(records.lines(&Wanted::default()).expect("read").is_empty());
    }
}
