//! Safe copies while the file is in use, and the way back from one.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags};

use super::open::{FILE, look_through, with_ending};
use super::{Records, Trouble, open};

/// Beside the records: the path of the copy made last.
const LAST: &str = "last-backup.txt";

/// The newest copy known for a file of records: the one made last, or else one made before the form was brought up.
pub(super) fn newest(path: &Path) -> Option<PathBuf> {
    let folder = path.parent()?;
    let last = fs::read_to_string(folder.join(LAST)).ok().map(|t| PathBuf::from(t.trim_end()));
    if let Some(last) = last.filter(|p| p.is_file()) {
        return Some(last);
    }
    let mut made: Vec<PathBuf> = fs::read_dir(folder)
        .ok()?
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.file_name().is_some_and(|n| n.to_string_lossy().starts_with("records-before-form-")))
        .filter(|p| p.extension().is_some_and(|e| e == "sqlite"))
        .collect();
    made.sort();
    made.pop()
}

/// Copies the file before its form is brought up; gives the copy's path.
pub(super) fn before_bringing_up(connection: &Connection, path: &Path, from: i64) -> Result<PathBuf, Trouble> {
    let name = format!("records-before-form-{}.sqlite", from + 1);
    let copy = path.with_file_name(name);
    if !copy.exists() {
        copy_whole(connection, path, &copy)?;
    }
    Ok(copy)
}

/// Copies to a name of its own first, so that a copy of the wanted name is always whole.
fn copy_whole(connection: &Connection, path: &Path, copy: &Path) -> Result<(), Trouble> {
    let part = with_ending(copy, &format!(".part-{}", std::process::id()));
    let _ = fs::remove_file(&part);
    let no_copy = |why: String| Trouble::NoCopy { path: copy.to_owned(), why };
    let Some(name) = part.to_str() else { return Err(no_copy("its path is no text".to_owned())) };
    // One statement, one snapshot: others may write meanwhile.
    let copied = connection.execute("VACUUM INTO ?1", [name]).map_err(|e| match Trouble::of(&e, path) {
        Trouble::Full { .. } => no_copy("there is no room".to_owned()),
        damaged @ Trouble::Damaged { .. } => damaged,
        busy @ Trouble::Busy { .. } => busy,
        _ => no_copy(e.to_string()),
    });
    let named = copied.and_then(|_| {
        // On the disk before it has its name.
        fs::File::open(&part)
            .and_then(|f| f.sync_all())
            .and_then(|()| fs::rename(&part, copy))
            .map_err(|e| no_copy(e.to_string()))
    });
    if named.is_err() {
        let _ = fs::remove_file(&part);
    }
    named
}

impl Records {
    /// Writes a whole copy of the records to a file, while they are in use; looks it through before calling it a copy.
    ///
    /// # Errors
    /// If the file is there already and `replace` is not set, if it cannot be written, or if the records are damaged.
    pub fn backup(&self, copy: &Path, replace: bool) -> Result<(), Trouble> {
        let no_copy = |why: &str| Trouble::NoCopy { path: copy.to_owned(), why: why.to_owned() };
        let same =
            |a: &Path, b: &Path| fs::canonicalize(a).ok().is_some_and(|a| fs::canonicalize(b).is_ok_and(|b| a == b));
        if same(copy, &self.path) {
            return Err(no_copy("these are the records themselves"));
        }
        if copy.exists() && !replace {
            return Err(no_copy("it is there already; give another name, or --replace"));
        }
        look_through(&self.connection, &self.path, "integrity_check")?;
        copy_whole(&self.connection, &self.path, copy)?;
        let at = fs::canonicalize(copy).unwrap_or_else(|_| copy.to_owned());
        if self.locked.is_none() {
            // Only a help for the day the records are damaged.
            let _ = fs::write(self.path.with_file_name(LAST), at.to_string_lossy().as_bytes());
        }
        Ok(())
    }

    /// Looks through every page, index and reference.
    ///
    /// # Errors
    /// [`Trouble::Damaged`], with the first thing found.
    pub fn look_through(&self) -> Result<(), Trouble> {
        look_through(&self.connection, &self.path, "integrity_check")?;
        let mut check = self.connection.prepare("PRAGMA foreign_key_check").map_err(|e| self.trouble(&e))?;
        let loose: Option<String> = check
            .query_map([], |row| row.get::<_, String>(0))
            .and_then(|mut rows| rows.next().transpose())
            .map_err(|e| self.trouble(&e))?;
        match loose {
            None => Ok(()),
            Some(table) => Err(Trouble::Damaged {
                path: self.path.clone(),
                why: format!("an entry of `{table}` belongs to nothing"),
                backup: newest(&self.path),
            }),
        }
    }
}

/// Puts a copy in the place of the records of a folder; what stood there is set aside. Gives where that is now.
///
/// # Errors
/// If the copy is not sound or newer than this program knows, or the files cannot be moved. Then nothing has changed.
pub fn restore(copy: &Path, folder: &Path) -> Result<Option<PathBuf>, Trouble> {
    let no_copy = |path: &Path, why: String| Trouble::NoCopy { path: path.to_owned(), why };
    let path = folder.join(FILE);
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let source = Connection::open_with_flags(copy, flags).map_err(|e| Trouble::of(&e, copy))?;
    let application: i64 =
        source.pragma_query_value(None, "application_id", |row| row.get(0)).map_err(|e| Trouble::of(&e, copy))?;
    if application != super::schema::APPLICATION {
        return Err(Trouble::NotRecords { path: copy.to_owned() });
    }
    let found = super::schema::version(&source).map_err(|e| Trouble::of(&e, copy))?;
    if found > super::schema::newest() {
        return Err(Trouble::Newer { path: copy.to_owned(), found, known: super::schema::newest() });
    }
    look_through(&source, copy, "integrity_check")?;
    fs::create_dir_all(folder).map_err(|e| Trouble::NoFolder { folder: folder.to_owned(), why: e.to_string() })?;
    let new = folder.join(format!("{FILE}.restored-{}", std::process::id()));
    let _ = fs::remove_file(&new);
    copy_whole(&source, copy, &new)?;
    let in_wal = Connection::open(&new).and_then(|c| {
        c.pragma_update(None, "journal_mode", "WAL")?;
        c.close().map_err(|(_, e)| e)
    });
    in_wal.map_err(|e| Trouble::of(&e, &new))?;
    let aside = set_aside(&path).map_err(|e| no_copy(&path, e.to_string()))?;
    fs::rename(&new, &path).map_err(|e| no_copy(&path, e.to_string()))?;
    // Opened once, so that what cannot be used is told now.
    open(folder)?;
    Ok(aside)
}

/// Gives the file and its companions another name; gives the new name, if there was a file.
fn set_aside(path: &Path) -> std::io::Result<Option<PathBuf>> {
    let free = (1..).map(|n| path.with_file_name(format!("records-aside-{n}.sqlite"))).find(|p| !p.exists());
    let Some(aside) = free else { return Ok(None) };
    let mut moved = None;
    for ending in ["-wal", "-shm", ""] {
        let from = with_ending(path, ending);
        if from.exists() {
            fs::rename(&from, with_ending(&aside, ending))?;
            moved = Some(aside.clone());
        }
    }
    Ok(moved)
}
