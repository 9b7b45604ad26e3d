//! What can go wrong with the records, each with what it means and what to do.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Why the records could not be opened, read or written. Nothing kept before is lost by any of these.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// The folder cannot be made or read.
    #[error("the records cannot be kept in {}: {why}; give another folder with --data or SPLITPIN_DATA", .folder.display())]
    NoFolder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        why: String,
    },
    /// The file holds something else.
    #[error("{} is not a file of records; it is left as it is. Give another folder with --data", .path.display())]
    NotRecords {
        /// The file.
        path: PathBuf,
    },
    /// The file is damaged.
    #[error("the records in {} are damaged ({why}); the file is left as it is. {}", .path.display(), way_back(.backup.as_deref()))]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        why: String,
        /// The newest copy that is known.
        backup: Option<PathBuf>,
    },
    /// The file is gone, though traces of it are there.
    #[error("the records {} are missing, though {} is there: put the file back. {}", .path.display(), .left.display(), way_back(.backup.as_deref()))]
    Gone {
        /// Where the file should be.
        path: PathBuf,
        /// What is still there.
        left: PathBuf,
        /// The newest copy that is known.
        backup: Option<PathBuf>,
    },
    /// A newer splitpin wrote the file.
    #[error("the records in {} were written by a newer splitpin (form {found}; this one knows up to {known}); nothing was changed. Use the newer program", .path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The newest version known here.
        known: i64,
    },
    /// Another program is writing, and did not finish within the wait.
    #[error("another splitpin is writing to {}; try again when it has finished", .path.display())]
    Busy {
        /// The file.
        path: PathBuf,
    },
    /// No room.
    #[error("there is no room to write to {}: make some, then try again. What was kept before is safe", .path.display())]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// The file or its folder cannot be written.
    #[error("{} can be read but not written: nothing new is kept. Make file and folder writable, or give another folder with --data", .path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// Another program changed the same sitting.
    #[error("another splitpin has gone on with number {sitting}")]
    MovedOn {
        /// The sitting.
        sitting: i64,
    },
    /// There is no such entry.
    #[error("the logbook has no {kind} number {number}; `splitpin logbook` lists what there is")]
    NoEntry {
        /// What was looked for.
        kind: &'static str,
        /// Its number.
        number: i64,
    },
    /// A file that is no export, or one that does not hold together.
    #[error("{0}")]
    BadImport(String),
    /// A file that is to be written is there already, or cannot be written.
    #[error("{} cannot be written: {why}", .path.display())]
    NoCopy {
        /// The file.
        path: PathBuf,
        /// What is in the way.
        why: String,
    },
    /// Anything else.
    #[error("the records in {}: {why}", .path.display())]
    Other {
        /// The file.
        path: PathBuf,
        /// What the library said.
        why: String,
    },
}

fn way_back(backup: Option<&Path>) -> String {
    match backup {
        Some(backup) => format!(
            "The newest copy known is {}: `splitpin logbook restore \"{}\"` puts it in its place and sets the other aside",
            backup.display(),
            backup.display()
        ),
        None => "No copy is known here: bring one back with `splitpin logbook restore FILE`, or give another folder with --data"
            .to_owned(),
    }
}

impl Trouble {
    /// What a failure of the library means for the file.
    pub(super) fn of(error: &rusqlite::Error, path: &Path) -> Trouble {
        let why = error.to_string();
        let path = path.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Trouble::Busy { path },
            Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure) => Trouble::Full { path },
            Some(ErrorCode::ReadOnly) => Trouble::ReadOnly { path },
            Some(ErrorCode::DatabaseCorrupt) => {
                let backup = super::backup::newest(&path);
                Trouble::Damaged { path, why, backup }
            }
            Some(ErrorCode::NotADatabase) => Trouble::NotRecords { path },
            _ => Trouble::Other { path, why },
        }
    }

    /// Whether what was to be kept may be tried again later as it is.
    pub fn may_pass(&self) -> bool {
        matches!(self, Trouble::Busy { .. } | Trouble::Full { .. } | Trouble::ReadOnly { .. } | Trouble::Other { .. })
    }
}
