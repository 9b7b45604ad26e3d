//! The logbook as a list: one line for every entry, picked by vehicle, kind and day.

use jiff::civil::Date;
use rusqlite::Row;

use super::sitting::day_at;
use super::{Records, Trouble};

/// Which entries are wanted.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// Of this vehicle.
    pub vehicle: Option<String>,
    /// Of this kind.
    pub kind: Option<String>,
    /// From this day on.
    pub since: Option<Date>,
    /// At most so many, the last ones; all where none is given.
    pub last: Option<usize>,
}

/// One entry in a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its number.
    pub number: i64,
    /// The day.
    pub day: Date,
    /// The vehicle's short name.
    pub vehicle: String,
    /// What kind of entry.
    pub kind: String,
    /// What it says.
    pub text: String,
    /// Whether something is still to be done about it.
    pub open: bool,
}

const LINES: &str = "SELECT e.id, e.day, v.name, e.kind,
    CASE e.kind
        WHEN 'note' THEN (SELECT text FROM note WHERE entry = e.id)
        WHEN 'odometer' THEN (SELECT format('%.10g %s', reading, unit) FROM odometer WHERE entry = e.id)
        WHEN 'measurement' THEN (SELECT what || coalesce(' ' || place, '') || format(' %.10g ', value) || unit
            || coalesce(format(' at %.10g %s', odometer, odometer_unit), '') FROM measurement WHERE entry = e.id)
        WHEN 'finding' THEN (SELECT verdict || ': ' || text || iif(closed IS NULL, '', ' (closed)') FROM finding WHERE entry = e.id)
        WHEN 'part' THEN (SELECT text || format(', %.10g', quantity) || coalesce(': ' || (SELECT state ||
            coalesce(', due ' || due, '') FROM part_state WHERE part = p.entry ORDER BY id DESC LIMIT 1), '') FROM part p WHERE entry = e.id)
        WHEN 'repair' THEN (SELECT text FROM repair WHERE entry = e.id)
        WHEN 'result' THEN (SELECT outcome || coalesce(': ' || (SELECT group_concat(category || ' ' || text, '; ')
            FROM result_line WHERE result = r.entry), '') || iif(text = '', '', '. ' || text) FROM result r WHERE entry = e.id)
        ELSE coalesce(s.title, '')
    END,
    CASE e.kind
        WHEN 'finding' THEN (SELECT closed IS NULL FROM finding WHERE entry = e.id)
        WHEN 'part' THEN coalesce((SELECT state NOT IN ('fitted', 'dropped') FROM part_state WHERE part = e.id ORDER BY id DESC LIMIT 1), 1)
        ELSE s.entry IS NOT NULL AND s.ended IS NULL
    END
    FROM entry e JOIN vehicle v ON v.id = e.vehicle LEFT JOIN sitting s ON s.entry = e.id
    WHERE (?1 IS NULL OR e.vehicle = (SELECT id FROM vehicle WHERE name = ?1)) AND (?2 IS NULL OR e.kind = ?2)
      AND (?3 IS NULL OR e.day >= ?3)
    ORDER BY e.id DESC LIMIT ?4";

impl Records {
    /// The entries wanted, in order of their numbers.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn lines(&self, wanted: &Wanted) -> Result<Vec<Line>, Trouble> {
        let last = wanted.last.map_or(-1, |n| i64::try_from(n).unwrap_or(i64::MAX));
        let read = || -> rusqlite::Result<Vec<Line>> {
            let mut rows = self.connection.prepare_cached(LINES)?;
            let since = wanted.since.map(|d| d.to_string());
            rows.query_map((&wanted.vehicle, &wanted.kind, since, last), read_line)?.collect()
        };
        let mut lines = read().map_err(|e| self.trouble(&e))?;
        lines.reverse();
        Ok(lines)
    }
}

fn read_line(row: &Row<'_>) -> rusqlite::Result<Line> {
    Ok(Line {
        number: row.get(0)?,
        day: day_at(row, 1)?,
        vehicle: row.get(2)?,
        kind: row.get(3)?,
        text: row.get(4)?,
        open: row.get(5)?,
    })
}
