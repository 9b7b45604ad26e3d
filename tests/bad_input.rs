//! What people type and write wrongly, through the whole program over streams in memory, and in part through the built program itself.
//!
//! The claims: a wrong line costs nothing that was answered; the program says what is wrong and what to do; it ends with the documented
//! code; nothing typed or written in a file can drive the terminal; nothing panics. Conversations are about an invented system, laid over
//! the built-in knowledge from `fixtures/own-knowledge`, so that they change with nothing else.

/// Characters that drive a terminal or turn the direction of writing, typed, given as arguments and written in files.
mod characters;
/// Vehicle files, knowledge folders, traits and findings that are wrong, missing or cannot be.
mod files;
/// The built program itself: arguments that are no text, readers that go away, output that cannot be written.
mod program;
/// What is typed at the prompt: wrong lines, choices, numbers, clashes, the end of input at every stage.
mod prompt;
/// Arbitrary lines: nothing panics, everything can be taken back, every conversation ends with 0.
mod scripts;

use std::ffi::OsString;
use std::fs;
use std::io::{BufRead as _, BufReader, Cursor, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use proptest::prelude::*;
use splitpin::advice::Person;
use splitpin::knowledge::{Book, Files, load};
use splitpin::report::render_all;
use splitpin::session::{Ask, Ear, Given, Talk, Trace};
use splitpin::surfaces::{Data, Exit, Streams, run};
use splitpin::vehicle::{self, LoadedVehicle, Vehicle};
use unicode_width::UnicodeWidthStr as _;

const OWN: &str = "tests/fixtures/own-knowledge";
const SOUND: &str = "tests/fixtures/sound-knowledge";
/// An escape sequence, a C1 control, a change of direction, a bell, a mark without width: none may reach a screen.
const NASTY: &str = "\u{1b}[31m\u{9b}2J\u{202e}\u{7}\u{200f}\u{feff}";

/// The day of every conversation.
const TODAY: jiff::civil::Date = jiff::civil::date(2026, 3, 2);

struct Ran {
    out: String,
    err: String,
    exit: Exit,
}

fn splitpin<A: Into<OsString> + Clone>(args: &[A], input: &[u8]) -> Ran {
    let words = std::iter::once(OsString::from("splitpin")).chain(args.iter().cloned().map(Into::into));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut streams = Streams {
        input: &mut Cursor::new(input),
        out: &mut out,
        err: &mut err,
        terminal: false,
        colour: false,
        today: TODAY,
        history: None,
        data: Data::default(),
    };
    let exit = run(words, &mut streams);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("output is UTF-8");
    Ran { out: text(out), err: text(err), exit }
}

/// A conversation with the invented system laid over the built-in knowledge.
fn prompt(lines: &[&[u8]]) -> Ran {
    prompt_with(&[], lines)
}

fn prompt_with(args: &[&str], lines: &[&[u8]]) -> Ran {
    let mut input = lines.join(&b'\n');
    input.push(b'\n');
    let mut all = vec!["--knowledge", OWN];
    all.extend(args);
    let ran = splitpin(&all, &input);
    assert_eq!(ran.err, "", "nothing goes to standard error in a conversation");
    assert_calm(&ran.out);
    assert_narrow(&ran.out);
    ran
}

/// What follows the echo of the n-th typed line (from 0), up to the next echo.
fn after(out: &str, n: usize) -> &str {
    let rest = out.split("\n> ").nth(n + 1).unwrap_or_else(|| panic!("fewer than {} echoes in\n{out}", n + 1));
    rest.split_once('\n').map_or("", |(_, after)| after)
}

/// No character of the text can drive a terminal or change the direction of writing.
fn assert_calm(text: &str) {
    for c in text.chars() {
        let control = c.is_control() && !matches!(c, '\n' | '\t');
        let turns = matches!(c, '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}');
        assert!(!control && !turns, "{c:?} reached the output:\n{}", text.escape_debug());
    }
}

/// No line of prose is wider than 80 columns; what was typed is echoed as it is.
fn assert_narrow(text: &str) {
    for line in text.lines().filter(|l| !l.starts_with("> ")) {
        assert!(line.width() <= 80, "{} columns: {line}", line.width());
    }
}

fn assert_has(text: &str, wanted: &[&str]) {
    for part in wanted {
        assert!(text.contains(part), "“{part}” is not in\n{text}");
    }
}

/// An empty folder for one test, under the build's own temporary folder.
fn tempdir(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("bad-input").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}

fn written(folder: &str, file: &str, text: impl AsRef<[u8]>) -> String {
    let path = tempdir(folder).join(file);
    fs::write(&path, text).expect("a file for the test");
    path.display().to_string()
}

/// The small book of the fixtures, with the invented system, loaded once.
fn small_book() -> &'static Book {
    static BOOK: OnceLock<Book> = OnceLock::new();
    BOOK.get_or_init(|| {
        let files = Files::folder(Path::new(SOUND)).and_then(|f| f.and_folder(Path::new(OWN))).expect("the folders");
        let loaded = load(&files);
        assert!(loaded.problems.is_empty(), "{}", render_all(&loaded.problems, &loaded.sources, false));
        loaded.book
    })
}

const SMALL_VEHICLE: &str =
    "name = \"cart\"\n[places]\nlamp = [\"nearside\", \"offside\"]\nside = [\"nearside\", \"offside\"]\n";

fn small_vehicle(text: &str) -> LoadedVehicle {
    vehicle::read("cart", "cart.toml", text, small_book())
}

fn a_megabyte() -> Vec<u8> {
    vec![b'a'; 1 << 20]
}

/// A vehicle for the small book.
fn small_cart() -> &'static Vehicle {
    static CART: OnceLock<Vehicle> = OnceLock::new();
    CART.get_or_init(|| {
        let loaded = small_vehicle(SMALL_VEHICLE);
        assert!(!loaded.has_errors(), "{}", render_all(&loaded.problems, &loaded.sources, false));
        loaded.vehicle
    })
}
