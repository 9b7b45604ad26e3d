//! Plays every conversation of `transcripts-demo/` and of `README.md` and compares the screen, letter by letter.
//!
//! In a block marked `splitpin` the first line is `$ splitpin` with its arguments; lines that begin with `> ` are typed, everything else is
//! exact output. A block marked `splitpin data` keeps records: all such blocks of a page share one folder, empty at its beginning, and each is
//! a run of its own. With `splitpin data killed` the run ends without warning after its last typed line, as when the power goes: what it would
//! have said of its end is not there. `UPDATE_TRANSCRIPTS=1 cargo test transcripts` rewrites the output and leaves prose and typed lines alone: then read the
//! difference.

use std::fs;
use std::io::{self, BufRead, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use splitpin::surfaces::{Data, Streams, run};

/// Opens a block; behind it may stand `data`, for a run that keeps records, and `killed`, for one that does not come to its end.
const OPEN: &str = "```splitpin";
/// Closes it.
const CLOSE: &str = "```";

/// What a run of the program prints, with its typed lines echoed.
fn play(command: &str, typed: &[String], data: Option<&Path>, killed: bool) -> String {
    let words = split(command);
    assert_eq!(words.first().map(String::as_str), Some("splitpin"), "a block begins with `$ splitpin`: {command}");
    let text: String = typed.iter().map(|l| format!("{l}\n")).collect();
    let (mut whole, mut cut) = (Cursor::new(text.clone()), Cut(Cursor::new(text)));
    let input: &mut dyn BufRead = if killed { &mut cut } else { &mut whole };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut streams = Streams {
        input,
        out: &mut out,
        err: &mut err,
        terminal: false,
        colour: false,
        today: jiff::civil::date(2026, 11, 25),
        history: None,
        data: Data { named: data.map(Path::to_owned), home: None },
    };
    run(words.into_iter().map(Into::into), &mut streams);
    let mut text = String::from_utf8(out).expect("the screen is text");
    let said = String::from_utf8(err).expect("messages are text");
    // How the cut came about is no part of the conversation.
    text.push_str(if killed { "" } else { &said });
    match data {
        Some(folder) => text.replace(&folder.display().to_string(), "RECORDS"),
        None => text,
    }
}

/// Typed lines behind which nothing comes, not even an end.
struct Cut(Cursor<String>);

impl Read for Cut {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self.0.read(buffer)? {
            0 => Err(io::Error::other("cut")),
            n => Ok(n),
        }
    }
}

impl BufRead for Cut {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.0.position() >= self.0.get_ref().len() as u64 {
            return Err(io::Error::other("cut"));
        }
        self.0.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.0.consume(amount);
    }
}

/// A folder for the records of one page.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let name = format!("splitpin-page-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        Folder(std::env::temp_dir().join(name))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Splits a command line at spaces outside double quotes.
fn split(command: &str) -> Vec<String> {
    let mut words = vec![];
    let mut word = String::new();
    let (mut quoted, mut begun) = (false, false);
    for c in command.chars() {
        match c {
            '"' => {
                quoted = !quoted;
                begun = true;
            }
            ' ' if !quoted => {
                if begun {
                    words.push(std::mem::take(&mut word));
                    begun = false;
                }
            }
            c => {
                word.push(c);
                begun = true;
            }
        }
    }
    if begun {
        words.push(word);
    }
    words
}

/// The text with every block's output as the program prints it now.
fn replayed(text: &str) -> (String, usize) {
    let mut out = String::new();
    let mut lines = text.lines();
    let mut blocks = 0;
    let folder = Folder::new();
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        let Some(how) = line.trim_end().strip_prefix(OPEN) else { continue };
        let (data, killed) = match how {
            "" => (None, false),
            " data" => (Some(folder.0.as_path()), false),
            " data killed" => (Some(folder.0.as_path()), true),
            other => panic!("a block is marked `splitpin`, `splitpin data` or `splitpin data killed`, not `{other}`"),
        };
        blocks += 1;
        let first = lines.next().unwrap_or_default();
        let command = first.strip_prefix("$ ").unwrap_or_else(|| panic!("a block begins with `$ splitpin`: {first}"));
        let block: Vec<&str> = lines.by_ref().take_while(|l| l.trim_end() != CLOSE).collect();
        let typed: Vec<String> = block
            .iter()
            .filter_map(|l| l.strip_prefix("> ").or((*l == ">").then_some("")))
            .map(str::to_owned)
            .collect();
        out.push_str(first);
        out.push('\n');
        for line in play(command, &typed, data, killed).lines() {
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out.push_str(CLOSE);
        out.push('\n');
    }
    (out, blocks)
}

fn check(path: &Path) -> usize {
    let text = fs::read_to_string(path).expect("a conversation can be read");
    let (now, blocks) = replayed(&text);
    if now != text && std::env::var_os("UPDATE_TRANSCRIPTS").is_some() {
        fs::write(path, &now).expect("a conversation can be rewritten");
    } else if now != text {
        let differs = text
            .lines()
            .zip(now.lines())
            .position(|(a, b)| a != b)
            .unwrap_or(text.lines().count().min(now.lines().count()));
        let around = |t: &str| t.lines().skip(differs.saturating_sub(3)).take(9).collect::<Vec<_>>().join("\n");
        panic!(
            "{} differs from line {} on\n--- written\n{}\n--- now\n{}\n---",
            path.display(),
            differs + 1,
            around(&text),
            around(&now)
        );
    }
    blocks
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn every_conversation_replays_exactly() {
    let mut files: Vec<PathBuf> = fs::read_dir(root().join("transcripts-demo"))
        .expect("the folder of conversations")
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "md") && p.file_name().is_some_and(|n| n != "README.md"))
        .collect();
    files.sort();
    assert!(files.len() >= 8, "there are at least eight conversations");
    for (i, file) in files.iter().enumerate() {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        assert!(name.starts_with(&format!("{:02}-", i + 1)), "{name}: conversations are numbered without a gap");
        assert!(check(file) > 0, "{name} holds no conversation");
    }
}

#[test]
fn the_conversation_in_the_readme_replays_exactly() {
    assert!(check(&root().join("README.md")) > 0);
}
