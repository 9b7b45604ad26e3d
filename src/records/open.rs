//! Opening the file: made whole or not at all, looked at before it is trusted, brought up to the newest form.

use std::fs::{self, File};
use std::io::{ErrorKind, Read as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::{Locked, Records, Trouble, backup, schema};

/// The file's name in its folder.
pub const FILE: &str = "records.sqlite";
/// How long another program's writing is waited for.
const WAIT: Duration = Duration::from_secs(5);
/// Up to this size the whole file is looked through whenever it is opened, in bytes.
const SMALL: u64 = 1 << 20;
/// The first bytes of every SQLite file (SQLite, Database File Format, 1.3).
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// Opens the records of a folder, making both where there is neither.
///
/// # Errors
/// See [`Trouble`]. A file that is damaged, of another kind or newer is never written to and never replaced.
pub fn open(folder: &Path) -> Result<Records, Trouble> {
    // Two tries: another program may make the file between looking and making.
    for _ in 0..2 {
        if let Some(records) = open_if_there(folder)? {
            return Ok(records);
        }
        create(folder)?;
    }
    open_if_there(folder)?.ok_or_else(|| Trouble::NoFolder {
        folder: folder.to_owned(),
        why: "the file that was made is gone again".to_owned(),
    })
}

/// Opens the records of a folder; nothing where nothing was ever kept.
///
/// # Errors
/// As [`open`].
pub fn open_if_there(folder: &Path) -> Result<Option<Records>, Trouble> {
    let path = folder.join(FILE);
    match fs::metadata(&path) {
        Ok(_) => {}
        Err(e) if matches!(e.kind(), ErrorKind::NotFound) => {
            // A file that is not there although its log or a copy is: something took it away.
            let log = with_ending(&path, "-wal");
            let left = if log.exists() { Some(log) } else { backup::newest(&path) };
            return match left {
                Some(left) => Err(Trouble::Gone { backup: backup::newest(&path), path, left }),
                None => Ok(None),
            };
        }
        Err(e) => return Err(Trouble::NoFolder { folder: folder.to_owned(), why: e.to_string() }),
    }
    look_at_header(&path)?;
    let log_left = fs::metadata(with_ending(&path, "-wal")).is_ok_and(|m| m.len() > 0);
    let (mut connection, locked) = connect(&path, log_left)?;
    let of = |e: rusqlite::Error| Trouble::of(&e, &path);
    let found = schema::version(&connection).map_err(of)?;
    let known = schema::newest();
    if found > known {
        return Err(Trouble::Newer { path, found, known });
    }
    // Small files, and files whose last program did not end well, are looked through before anything is written.
    if log_left || fs::metadata(&path).is_ok_and(|m| m.len() <= SMALL) {
        look_through(&connection, &path, "quick_check")?;
    }
    if found < known {
        if let Some(locked) = locked {
            return Err(locked.trouble(&path));
        }
        let kept = backup::before_bringing_up(&connection, &path, found)?;
        tracing::debug!(copy = %kept.display(), "copied before bringing up");
        schema::bring_up(&mut connection, known).map_err(of)?;
    }
    Ok(Some(Records { connection, path, locked }))
}

/// The path with letters behind it, as SQLite names its companions.
pub(super) fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Connects for reading and writing, or where that is not allowed or there is no room for it, for reading.
fn connect(path: &Path, log_left: bool) -> Result<(Connection, Option<Locked>), Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let first = Connection::open_with_flags(path, flags).and_then(|c| settle(&c).map(|()| c));
    let error = match first {
        Ok(connection) => {
            let read_only = connection.is_readonly(rusqlite::MAIN_DB).unwrap_or(false);
            return Ok((connection, read_only.then_some(Locked::Refused)));
        }
        Err(error) => error,
    };
    // Where the log's companion cannot be made, the file alone can still be read; without a log it is the whole.
    let locked = match error.sqlite_error_code() {
        Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied | ErrorCode::ReadOnly) => Locked::Refused,
        Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure) => Locked::Full,
        _ => return Err(Trouble::of(&error, path)),
    };
    if log_left {
        return Err(locked.trouble(path));
    }
    let uri = format!("file:{}?immutable=1", percent(path));
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX | OpenFlags::SQLITE_OPEN_URI;
    let connection = Connection::open_with_flags(uri, flags).map_err(|e| Trouble::of(&e, path))?;
    Ok((connection, Some(locked)))
}

/// A path inside a `file:` address.
fn percent(path: &Path) -> String {
    let mut out = String::new();
    for c in path.to_string_lossy().chars() {
        match c {
            '%' | '?' | '#' => out.push_str(&format!("%{:02X}", u32::from(c))),
            '\\' => out.push('/'),
            c => out.push(c),
        }
    }
    out
}

/// How every connection works: waits for others, keeps references whole, and has each transaction on the disk before it goes on.
fn settle(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(WAIT)?;
    connection.execute_batch(
        "PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;",
    )?;
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))
}

/// Refuses what is no file of ours before the library gets it. An empty file is a damaged one: ours are never empty.
fn look_at_header(path: &Path) -> Result<(), Trouble> {
    let mut header = [0_u8; 100];
    let read = File::open(path).and_then(|mut f| {
        let mut have = 0;
        while have < header.len() {
            match f.read(&mut header[have..])? {
                0 => break,
                n => have += n,
            }
        }
        Ok(have)
    });
    let damaged =
        |why: &str| Err(Trouble::Damaged { path: path.to_owned(), why: why.to_owned(), backup: backup::newest(path) });
    match read {
        Err(e) if e.kind() == ErrorKind::PermissionDenied => {
            Err(Trouble::NoFolder { folder: path.to_owned(), why: e.to_string() })
        }
        Err(e) => Err(Trouble::Other { path: path.to_owned(), why: e.to_string() }),
        Ok(0) => damaged("the file is empty"),
        Ok(have) if have < header.len() => damaged("the file is cut short"),
        Ok(_) if &header[..16] != MAGIC => {
            // With a copy or a log beside it, it was ours once.
            let ours = backup::newest(path).is_some() || with_ending(path, "-wal").exists();
            if ours {
                damaged("its beginning is overwritten")
            } else {
                Err(Trouble::NotRecords { path: path.to_owned() })
            }
        }
        Ok(_) => {
            let application = u32::from_be_bytes([header[68], header[69], header[70], header[71]]);
            if i64::from(application) == schema::APPLICATION {
                Ok(())
            } else {
                Err(Trouble::NotRecords { path: path.to_owned() })
            }
        }
    }
}

/// Has the library look through the whole file.
pub(super) fn look_through(connection: &Connection, path: &Path, how: &str) -> Result<(), Trouble> {
    let first: String =
        connection.pragma_query_value(None, how, |row| row.get(0)).map_err(|e| Trouble::of(&e, path))?;
    if first == "ok" {
        return Ok(());
    }
    let why = first.lines().next().unwrap_or("unsound").to_owned();
    Err(Trouble::Damaged { path: path.to_owned(), why, backup: backup::newest(path) })
}

/// Makes a new file beside its name and then gives it the name, so that a file of that name is always whole.
fn create(folder: &Path) -> Result<(), Trouble> {
    let no_folder = |e: &dyn std::fmt::Display| Trouble::NoFolder { folder: folder.to_owned(), why: e.to_string() };
    fs::create_dir_all(folder).map_err(|e| no_folder(&e))?;
    let path = folder.join(FILE);
    let new = folder.join(format!("{FILE}.new-{}", std::process::id()));
    // A leaving of a killed program that had our number.
    remove(&new);
    let made = make(&new, schema::newest()).map_err(|e| match Trouble::of(&e, &path) {
        Trouble::Full { path } => Trouble::Full { path },
        _ => no_folder(&e),
    });
    let named = made.and_then(|()| match fs::hard_link(&new, &path) {
        Ok(()) => Ok(()),
        // Another program was faster, or cleared up after us: its file counts.
        Err(_) if path.exists() => Ok(()),
        // Where files cannot have two names.
        Err(_) => fs::rename(&new, &path).map_err(|e| no_folder(&e)),
    });
    remove(&new);
    named
}

fn remove(file: &Path) {
    for ending in ["", "-wal", "-shm", "-journal"] {
        // What is not there need not go.
        let _ = fs::remove_file(with_ending(file, ending));
    }
}

/// Makes a file in a version of the form.
pub(super) fn make(path: &Path, version: i64) -> rusqlite::Result<()> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    settle(&connection)?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    schema::bring_up(&mut connection, version)?;
    connection.close().map_err(|(_, e)| e)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::scratch::Scratch;
    use crate::records::sitting::{Begin, Change, Kind, NewAnswer};
    use crate::records::{KeptVehicle, Wanted};
    use jiff::civil::date;

    fn answer(n: i64) -> NewAnswer {
        NewAnswer {
            kind: "reading".into(),
            subject: format!("sign-{n}"),
            place: Some("rear-offside".into()),
            said: "yes".into(),
            number: Some(n as f64),
            unit: Some("V".into()),
            data: format!("{{\"n\":{n}}}"),
        }
    }

    /// Records with one trace of so many answers.
    fn with_answers(folder: &Path, count: i64) -> Records {
        let mut records = open(folder).expect("records are made");
        let vehicle = KeptVehicle { name: "cart".into(), shown: "cart".into(), ..KeptVehicle::default() };
        let begin = Begin { kind: Kind::Trace, vehicle: &vehicle, knowledge: "k", settings: "" };
        let first = [answer(0)];
        let change = Change {
            day: date(2026, 11, 25),
            typed: "y",
            title: "a lamp out",
            unsettled: "",
            undone: &[],
            given: &first,
            ending: None,
            repair: None,
        };
        let (mut hold, _) = records.begin(&begin, &change).expect("begun");
        for n in 1..count {
            let given = [answer(n)];
            hold = records.keep(hold, &Change { given: &given, ..change.clone() }).expect("kept").0;
        }
        records
    }

    /// What opening and reading all of it says: how many answers there are, each of them as it was given.
    fn read_back(folder: &Path) -> Result<usize, Trouble> {
        let records = open(folder)?;
        records.look_through()?;
        let lines = records.lines(&Wanted::default())?;
        let mut count = 0;
        for line in lines {
            for (i, kept) in records.answers(line.number)?.iter().enumerate() {
                assert_eq!(kept.answer.said, "yes");
                assert!(kept.answer == answer(i as i64) || kept.answer == answer(7));
                count += 1;
            }
        }
        Ok(count)
    }

    #[test]
    fn what_was_kept_is_there_when_it_is_opened_again() {
        let folder = Scratch::new();
        drop(with_answers(&folder.0, 5));
        assert_eq!(read_back(&folder.0).ok(), Some(5));
        let records = open(&folder.0).expect("opened");
        let sitting = records.unfinished(Some(Kind::Trace), Some("cart")).expect("read").remove(0);
        assert_eq!((sitting.answers, sitting.edits, sitting.title.as_str()), (5, 5, "a lamp out"));
        assert!(records.unfinished(Some(Kind::Round), None).expect("read").is_empty());
    }

    #[test]
    fn a_folder_where_nothing_was_kept_is_no_trouble_and_gets_no_file_by_looking() {
        let folder = Scratch::new();
        assert!(open_if_there(&folder.0).expect("no trouble").is_none());
        assert_eq!(fs::read_dir(&folder.0).expect("a folder").count(), 0);
    }

    #[test]
    fn two_programs_cannot_write_over_one_another() {
        let folder = Scratch::new();
        let mut one = with_answers(&folder.0, 2);
        let mut two = open(&folder.0).expect("opened twice");
        let sitting = two.unfinished(None, None).expect("read").remove(0);
        let hold = crate::records::sitting::Hold { number: sitting.number, edits: sitting.edits };
        let given = [answer(7)];
        let change = Change {
            day: date(2026, 11, 25),
            typed: "n",
            title: "a lamp out",
            unsettled: "",
            undone: &[],
            given: &given,
            ending: None,
            repair: None,
        };
        two.keep(hold, &change).expect("kept");
        assert!(matches!(one.keep(hold, &change), Err(Trouble::MovedOn { .. })));
        assert_eq!(read_back(&folder.0).ok(), Some(3), "nothing of the refused change is there");
    }

    #[test]
    fn a_program_that_writes_too_long_makes_the_others_wait_and_then_say_so() {
        let folder = Scratch::new();
        let mut records = with_answers(&folder.0, 1);
        records.connection.busy_timeout(Duration::from_millis(50)).expect("set");
        let other = Connection::open(folder.0.join(FILE)).expect("opened");
        other.execute_batch("BEGIN IMMEDIATE").expect("locked");
        let end = |records: &mut Records| records.end(1, crate::records::sitting::Ending::Aside, date(2026, 11, 25));
        let said = end(&mut records).expect_err("locked").to_string();
        assert!(said.contains("another splitpin is writing"), "{said}");
        assert_eq!(records.lines(&Wanted::default()).expect("reading goes on").len(), 1);
        other.execute_batch("COMMIT").expect("let go");
        end(&mut records).expect("free again");
    }

    #[test]
    fn a_newer_form_is_refused_and_left_alone() {
        let folder = Scratch::new();
        drop(with_answers(&folder.0, 1));
        let path = folder.0.join(FILE);
        Connection::open(&path).and_then(|c| c.pragma_update(None, "user_version", 99)).expect("set");
        let before = fs::read(&path).expect("read");
        let said = open(&folder.0).expect_err("newer").to_string();
        assert!(said.contains("newer splitpin") && said.contains("99"), "{said}");
        assert!(fs::read(&path).expect("read") == before);
    }

    #[test]
    fn every_earlier_form_is_brought_up_with_a_copy_of_it_kept() {
        for version in 1..schema::newest() {
            let folder = Scratch::new();
            let path = folder.0.join(FILE);
            make(&path, version).expect("made");
            let old = Connection::open(&path).expect("opened");
            old.execute_batch(
                "INSERT INTO vehicle (name, shown) VALUES ('cart', 'cart');
                 INSERT INTO entry (vehicle, kind, day) VALUES (1, 'trace', '2024-02-29'), (1, 'note', '2024-03-01');
                 INSERT INTO sitting (entry, title, touched, knowledge) VALUES (1, 'old', '2024-02-29', 'k');
                 INSERT INTO answer (sitting, kind, subject, said, typed, day, data, sum)
                 VALUES (1, 'stated', 's', 'yes', 'y', '2024-02-29', '{}', 0);
                 INSERT INTO note (entry, text) VALUES (2, 'a note');",
            )
            .expect("filled");
            drop(old);
            let records = open(&folder.0).expect("brought up");
            assert_eq!(schema::version(&records.connection).expect("read"), schema::newest());
            records.look_through().expect("sound");
            let lines = records.lines(&Wanted::default()).expect("read");
            assert_eq!(lines.iter().map(|l| l.text.as_str()).collect::<Vec<_>>(), ["old", "a note"]);
            let copy = folder.0.join(format!("records-before-form-{}.sqlite", version + 1));
            let copy = Connection::open(copy).expect("the copy");
            assert_eq!(schema::version(&copy).expect("read"), version);
        }
    }

    #[test]
    fn the_newest_form_is_the_same_made_new_and_brought_up() {
        let form = |c: &Connection| -> Vec<String> {
            let mut rows = c.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name").expect("sql");
            rows.query_map([], |r| r.get(0)).expect("rows").collect::<Result<_, _>>().expect("text")
        };
        let folder = Scratch::new();
        make(&folder.0.join("new"), schema::newest()).expect("made");
        make(&folder.0.join("old"), 1).expect("made");
        let mut old = Connection::open(folder.0.join("old")).expect("opened");
        for version in 2..=schema::newest() {
            schema::bring_up(&mut old, version).expect("brought up");
        }
        assert_eq!(form(&old), form(&Connection::open(folder.0.join("new")).expect("opened")));
    }

    #[test]
    fn an_emptied_cut_or_vanished_file_is_told_and_never_begun_afresh() {
        let folder = Scratch::new();
        drop(with_answers(&folder.0, 40));
        let path = folder.0.join(FILE);
        let whole = fs::read(&path).expect("read");
        let copy = folder.0.join("copy.sqlite");
        open(&folder.0).expect("opened").backup(&copy, false).expect("copied");
        for cut in [0, 10, 99, 4096, whole.len() / 2, whole.len() - 4096] {
            fs::write(&path, &whole[..cut]).expect("cut");
            let said = read_back(&folder.0).expect_err("damaged").to_string();
            assert!(said.contains("damaged") && said.contains("copy.sqlite"), "{cut}: {said}");
            assert_eq!(fs::metadata(&path).expect("there").len(), cut as u64, "left as it is");
        }
        fs::remove_file(&path).expect("removed");
        let said = read_back(&folder.0).expect_err("gone").to_string();
        assert!(said.contains("missing") && said.contains("copy.sqlite"), "{said}");
        let aside = crate::records::restore(&copy, &folder.0).expect("restored");
        assert_eq!((aside, read_back(&folder.0).ok()), (None, Some(40)));
    }

    #[test]
    fn a_file_of_another_kind_is_not_touched() {
        let folder = Scratch::new();
        let path = folder.0.join(FILE);
        fs::write(
            &path,
            "not a file of records at all, but long enough to have a whole header in it; and so on and on".repeat(3),
        )
        .expect("written");
        assert!(matches!(open(&folder.0), Err(Trouble::NotRecords { .. })));
        fs::remove_file(&path).expect("removed");
        Connection::open(&path).and_then(|c| c.execute_batch("CREATE TABLE x (y)")).expect("another file");
        assert!(matches!(open(&folder.0), Err(Trouble::NotRecords { .. })));
    }

    #[test]
    fn random_damage_is_told_or_harmless_and_never_ends_in_a_fresh_start() {
        let folder = Scratch::new();
        drop(with_answers(&folder.0, 200));
        let path = folder.0.join(FILE);
        let whole = fs::read(&path).expect("read");
        let mut random: u64 = 7;
        let mut next = move || {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            random as usize
        };
        let mut told = 0;
        for _ in 0..150 {
            let mut bytes = whole.clone();
            let from = next() % bytes.len();
            let length = 1 + next() % 400;
            for byte in bytes.iter_mut().skip(from).take(length) {
                *byte = next() as u8;
            }
            fs::write(&path, &bytes).expect("written");
            match read_back(&folder.0) {
                Ok(count) => assert_eq!(count, 200, "something is lost without a word"),
                Err(Trouble::Damaged { .. } | Trouble::NotRecords { .. } | Trouble::Newer { .. }) => told += 1,
                // A column that is no text or day any more.
                Err(Trouble::Other { .. }) => told += 1,
                Err(other) => panic!("told as something else: {other}"),
            }
            for ending in ["-wal", "-shm"] {
                let _ = fs::remove_file(with_ending(&path, ending));
            }
        }
        // The rest fell into pages that hold nothing.
        assert!(told > 20, "only {told} of 150 were noticed");
    }

    #[test]
    fn a_full_disk_is_told_and_what_was_there_stays() {
        let folder = Scratch::new();
        let mut records = with_answers(&folder.0, 3);
        let pages: i64 = records.connection.pragma_query_value(None, "page_count", |r| r.get(0)).expect("pages");
        records.connection.pragma_update(None, "max_page_count", pages).expect("held");
        let hold = crate::records::sitting::Hold { number: 1, edits: 3 };
        let given: Vec<NewAnswer> = (0..2000).map(answer).collect();
        let change = Change {
            day: date(2026, 11, 25),
            typed: "",
            title: "",
            unsettled: "",
            undone: &[],
            given: &given,
            ending: None,
            repair: None,
        };
        let said = records.keep(hold, &change).expect_err("full").to_string();
        assert!(said.contains("no room"), "{said}");
        drop(records);
        assert_eq!(read_back(&folder.0).ok(), Some(3));
    }
}
