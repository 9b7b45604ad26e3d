//! The logbook: what was seen, answered, measured, bought and done, in an SQLite file of its own.
//!
//! Takes and gives plain data; entries of the knowledge are ids in text here, and days come from the caller. Every change is one transaction,
//! on the disk before the call returns. Order is by number, never by day, so that a clock set back mixes nothing up. Never prints, asks, looks
//! at the clock or knows what an id means. Begin with [`open`], [`Records`] and [`sitting`].

mod backup;
mod entry;
pub mod exchange;
mod learning;
pub mod log;
mod open;
mod schema;
#[cfg(test)]
mod scratch;
pub mod sitting;
mod trouble;
mod vehicle;

use std::path::{Path, PathBuf};

use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension as _, Transaction, TransactionBehavior};

pub use backup::restore;
pub use entry::{Line, Wanted};
pub use learning::Proved;
pub use open::{FILE, open, open_if_there};
pub use sitting::Repaired;
pub use trouble::Trouble;
pub use vehicle::KeptVehicle;

/// The records of one folder, open.
#[derive(Debug)]
pub struct Records {
    connection: Connection,
    path: PathBuf,
    locked: Option<Locked>,
}

/// Why nothing can be written.
#[derive(Clone, Copy, Debug)]
enum Locked {
    /// File or folder do not allow it.
    Refused,
    /// There is no room.
    Full,
}

impl Locked {
    fn trouble(self, path: &Path) -> Trouble {
        let path = path.to_owned();
        match self {
            Locked::Refused => Trouble::ReadOnly { path },
            Locked::Full => Trouble::Full { path },
        }
    }
}

impl Records {
    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Why nothing can be written, where that is so; everything can still be read.
    pub fn locked(&self) -> Option<Trouble> {
        self.locked.map(|l| l.trouble(&self.path))
    }

    fn trouble(&self, error: &rusqlite::Error) -> Trouble {
        Trouble::of(error, &self.path)
    }

    /// One change, whole or not at all.
    fn change<T>(&mut self, work: impl FnOnce(&Transaction<'_>) -> Result<T, Inner>) -> Result<T, Trouble> {
        if let Some(locked) = self.locked() {
            return Err(locked);
        }
        let path = &self.path;
        let of = |e: Inner| match e {
            Inner::Library(e) => Trouble::of(&e, path),
            Inner::Told(trouble) => trouble,
        };
        // The lock is taken before anything is read, so that two programs take turns instead of clashing.
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| Trouble::of(&e, path))?;
        let done = work(&transaction).map_err(of)?;
        transaction.commit().map_err(|e| Trouble::of(&e, path))?;
        Ok(done)
    }

    /// The latest day of any entry or answer: one behind today means that the clock was set back.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn latest_day(&self) -> Result<Option<Date>, Trouble> {
        let latest: Option<String> = self
            .connection
            .query_row("SELECT max(day) FROM entry", [], |row| row.get(0))
            .optional()
            .map_err(|e| self.trouble(&e))?
            .flatten();
        Ok(latest.and_then(|d| d.parse().ok()))
    }
}

/// What goes wrong inside a change.
enum Inner {
    /// The library's words for it.
    Library(rusqlite::Error),
    /// Ours.
    Told(Trouble),
}

impl From<rusqlite::Error> for Inner {
    fn from(error: rusqlite::Error) -> Self {
        Inner::Library(error)
    }
}

impl From<Trouble> for Inner {
    fn from(trouble: Trouble) -> Self {
        Inner::Told(trouble)
    }
}

/// Adds the numbered line that every kind of entry has; gives its number.
fn add_entry(transaction: &Transaction<'_>, vehicle: i64, kind: &str, day: Date) -> rusqlite::Result<i64> {
    transaction.prepare_cached("INSERT INTO entry (vehicle, kind, day) VALUES (?1, ?2, ?3)")?.execute((
        vehicle,
        kind,
        day.to_string(),
    ))?;
    Ok(transaction.last_insert_rowid())
}
