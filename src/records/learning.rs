//! What learning from outcomes needs: proved repairs since it was last begun anew, and for how long each vehicle has been followed.

use jiff::civil::Date;

use super::sitting::day_at;
use super::{Records, Trouble};

/// A proved repair, for counting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proved {
    /// Its number in the logbook.
    pub number: i64,
    /// The day.
    pub day: Date,
    /// The vehicle's short name.
    pub vehicle: String,
    /// The cause, by its id.
    pub cause: String,
    /// Its place.
    pub place: Option<String>,
}

impl Records {
    /// Proved repairs that count, in order.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn proved(&self) -> Result<Vec<Proved>, Trouble> {
        let read = || -> rusqlite::Result<Vec<Proved>> {
            let mut rows = self.connection.prepare(
                "SELECT e.id, e.day, v.name, r.cause, r.place FROM repair r JOIN entry e ON e.id = r.entry
                 JOIN vehicle v ON v.id = e.vehicle
                 WHERE r.proved = 1 AND e.id > (SELECT coalesce(max(after), 0) FROM learning_reset) ORDER BY e.id",
            )?;
            let proved = |r: &rusqlite::Row<'_>| {
                Ok(Proved {
                    number: r.get(0)?,
                    day: day_at(r, 1)?,
                    vehicle: r.get(2)?,
                    cause: r.get(3)?,
                    place: r.get(4)?,
                })
            };
            rows.query_map([], proved)?.collect()
        };
        read().map_err(|e| self.trouble(&e))
    }

    /// Each vehicle with the first day from which its entries count.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn followed_since(&self) -> Result<Vec<(String, Date)>, Trouble> {
        let read = || -> rusqlite::Result<Vec<(String, Date)>> {
            let mut rows = self.connection.prepare(
                "SELECT v.name, min(e.day) FROM entry e JOIN vehicle v ON v.id = e.vehicle
                 WHERE e.id > (SELECT coalesce(max(after), 0) FROM learning_reset) GROUP BY v.id ORDER BY v.name",
            )?;
            rows.query_map([], |r| Ok((r.get(0)?, day_at(r, 1)?)))?.collect()
        };
        read().map_err(|e| self.trouble(&e))
    }

    /// Begins learning anew: what was proved so far no longer counts, and stays in the logbook.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn reset_learning(&mut self, day: Date) -> Result<(), Trouble> {
        self.change(|t| {
            t.execute(
                "INSERT INTO learning_reset (day, after) SELECT ?1, coalesce(max(id), 0) FROM entry",
                [day.to_string()],
            )?;
            Ok(())
        })
    }
}
