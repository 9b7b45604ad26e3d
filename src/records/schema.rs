//! The versions of the file's form, and how an older file is brought to the newest.
//!
//! Each version has its own SQL below `schema/`, which is never changed once it has gone out; a new form is a new file. All steps of one
//! bringing-up are one transaction: a program that is killed in the middle leaves the old form whole.

use rusqlite::{Connection, TransactionBehavior};

/// What the file says of itself in its header: "splp".
pub(super) const APPLICATION: i64 = 0x7370_6c70;

/// The SQL that leads from each version to the next, from an empty file on.
pub(super) const STEPS: &[&str] =
    &[include_str!("schema/1.sql"), include_str!("schema/2.sql"), include_str!("schema/3.sql")];

/// The newest version.
pub(super) fn newest() -> i64 {
    STEPS.len() as i64
}

/// The version a file is in.
pub(super) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Brings a file up to a version, all at once or not at all. A file that is there already is left alone.
pub(super) fn bring_up(connection: &mut Connection, to: i64) -> rusqlite::Result<()> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Asked again under the lock: another program may have been faster.
    let from = version(&transaction)?;
    if from < to {
        if from == 0 {
            transaction.pragma_update(None, "application_id", APPLICATION)?;
        }
        let first = usize::try_from(from).unwrap_or(0);
        for step in STEPS.iter().take(usize::try_from(to).unwrap_or(0)).skip(first) {
            transaction.execute_batch(step)?;
        }
        transaction.pragma_update(None, "user_version", to)?;
    }
    transaction.commit()
}
