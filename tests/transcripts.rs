//! Plays every conversation of `transcripts-demo/` and of `README.md` and compares the screen, letter by letter.
//!
//! In a block marked `splitpin` the first line is `$ splitpin` with its arguments; lines that begin with `> ` are typed, everything else is
//! exact output. `UPDATE_TRANSCRIPTS=1 cargo test transcripts` rewrites the output and leaves prose and typed lines alone: then read the
//! difference.

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use splitpin::surfaces::{Data, Streams, run};

/// Opens a block.
const OPEN: &str = "```splitpin";
/// Closes it.
const CLOSE: &str = "```";

/// What a run of the program prints, with its typed lines echoed.
fn play(command: &str, typed: &[String]) -> String {
    let words = split(command);
    assert_eq!(words.first().map(String::as_str), Some("splitpin"), "a block begins with `$ splitpin`: {command}");
    let mut input = Cursor::new(typed.iter().map(|l| format!("{l}\n")).collect::<String>());
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut streams = Streams {
        input: &mut input,
        out: &mut out,
        err: &mut err,
        terminal: false,
        colour: false,
        today: jiff::civil::date(2026, 11, 25),
        history: None,
        data: Data::default(),
    };
    run(words.into_iter().map(Into::into), &mut streams);
    let mut text = String::from_utf8(out).expect("the screen is text");
    text.push_str(&String::from_utf8(err).expect("messages are text"));
    text
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
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        if line.trim_end() != OPEN {
            continue;
        }
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
        for line in play(command, &typed).lines() {
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
