//! The records under blows: programs killed while they answer, two at once, a full disk, a clock set back; and a trace that goes on where it was
//! left.
//!
//! `SPLITPIN_KILLS=1000` makes each test of kills do so many.

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use splitpin::records::{self, Records};

use crate::sampling::Draw;

/// Kills by each test where the environment says nothing.
const KILLS: u32 = 12;

fn kills() -> u32 {
    std::env::var("SPLITPIN_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS)
}

static COUNT: AtomicU32 = AtomicU32::new(0);

/// A folder of a test's own, gone afterwards.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        let name = format!("splitpin-blows-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let path = std::env::temp_dir().join(name);
        fs::create_dir_all(&path).expect("a folder for the test");
        Folder(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn program(folder: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_splitpin"));
    command.args(words).arg("--data").arg(folder).env_remove("SPLITPIN_DATA").env_remove("NO_COLOR");
    command
}

/// Runs the program to its end on some typed lines; gives what it printed, talk of trouble behind it, and its exit code.
fn run(mut command: Command, typed: &[&str]) -> (String, i32) {
    let child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let mut child = child.expect("the program starts");
    let mut input = child.stdin.take().expect("its input");
    for line in typed {
        // A program that has ended reads no more.
        let _ = writeln!(input, "{line}");
    }
    drop(input);
    let output = child.wait_with_output().expect("it ends");
    let text = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    (text, output.status.code().unwrap_or(-1))
}

/// The live answers of every trace, in order, as they were typed.
fn typed_lines(records: &Records) -> Vec<String> {
    let mut lines = Vec::new();
    for line in records.lines(&records::Wanted::default()).expect("it can be listed") {
        let answers = records.answers(line.number).expect("it can be read");
        lines.extend(answers.into_iter().filter(|a| a.undone.is_none()).map(|a| a.typed));
    }
    lines
}

/// Lines each of which gives just one answer.
const LINES: [&str; 9] = ["horn dead", "d", "d", "n", "d", "d", "d", "d", "d"];

/// Types line after line with random pauses and kills the program at a random moment. Gives how many lines it had gone beyond.
fn type_and_kill(child: &mut Child, draw: &mut Draw, lines: &[&str]) -> usize {
    let mut input = child.stdin.take().expect("its input");
    let output = BufReader::new(child.stdout.take().expect("its output"));
    let deadline = Duration::from_millis((draw.next() * 1500.0) as u64);
    let reader = std::thread::spawn(move || {
        let (mut echoed, mut beyond) = (0, 0);
        for line in output.lines().map_while(Result::ok) {
            if line.starts_with("> ") {
                echoed += 1;
            } else if !line.is_empty() {
                beyond = echoed;
            }
        }
        beyond
    });
    let lines: Vec<String> = lines.iter().map(|l| format!("{l}\n")).collect();
    let pause = draw.next() * 80.0;
    let writer = std::thread::spawn(move || {
        for line in lines {
            std::thread::sleep(Duration::from_micros((pause * 1000.0) as u64));
            if input.write_all(line.as_bytes()).is_err() {
                break;
            }
        }
        // Held open, so that the program waits for more.
        std::thread::sleep(Duration::from_millis(1500));
    });
    std::thread::sleep(deadline);
    child.kill().expect("it can be killed");
    child.wait().expect("it is gone");
    drop(writer);
    reader.join().expect("its output is read")
}

#[test]
fn killed_while_answering_at_most_the_answer_being_typed_is_lost() {
    let mut draw = Draw(31);
    let mut some = 0;
    for _ in 0..kills() {
        let folder = Folder::new();
        let mut child = program(&folder.0, &["trace"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let beyond = type_and_kill(&mut child, &mut draw, &LINES);
        let records = records::open_if_there(&folder.0).expect("sound after a kill");
        let kept = match &records {
            Some(records) => {
                records.look_through().expect("every page and reference is sound");
                typed_lines(records)
            }
            None => Vec::new(),
        };
        assert!(kept.len() >= beyond, "the program had gone beyond {beyond} lines, kept are {kept:?}");
        assert_eq!(kept, LINES[..kept.len()], "a line is missing from the middle");
        some += usize::from(!kept.is_empty());
    }
    assert!(some > 0, "no program got as far as an answer");
}

#[test]
fn a_trace_taken_up_again_stands_where_it_was_left() {
    let (left, straight) = (Folder::new(), Folder::new());
    run(program(&left.0, &["trace"]), &LINES[..4]);
    let (text, _) = run(program(&left.0, &["trace"]), &[&["y"], &LINES[4..6]].concat());
    assert!(text.contains("Unfinished since") && text.contains("Taken up again"), "{text}");
    run(program(&straight.0, &["trace"]), &LINES[..6]);
    let state = |folder: &Folder| run(program(&folder.0, &["trace", "--resume", "--json"]), &[]);
    let (a, b) = (state(&left), state(&straight));
    assert_eq!(a, b);
    assert!(a.0.contains("\"expected_cost\""), "{}", a.0);
}

#[test]
fn what_is_taken_back_is_marked_and_a_proved_repair_ends_the_trace() {
    let folder = Folder::new();
    run(program(&folder.0, &["trace"]), &["horn dead", "d", "u", "n"]);
    let records = records::open(&folder.0).expect("opened");
    let sitting = records.unfinished(None, None).expect("read").remove(0);
    let answers = records.answers(sitting.number).expect("read");
    assert_eq!(answers.iter().map(|a| a.undone.is_some()).collect::<Vec<_>>(), [false, true, false]);
    assert_eq!(sitting.answers, 2);
}

#[test]
fn a_script_that_names_no_folder_leaves_no_mark() {
    let home = Folder::new();
    let mut command = Command::new(env!("CARGO_BIN_EXE_splitpin"));
    command.arg("trace").env("HOME", &home.0).env_remove("XDG_DATA_HOME").env_remove("SPLITPIN_DATA");
    let (text, code) = run(command, &LINES[..2]);
    assert_eq!(code, 0);
    assert!(!text.contains("Kept as"), "{text}");
    assert!(!home.0.join(".local/share/splitpin").exists());
}

#[test]
fn a_clock_set_back_is_told_and_the_order_stays() {
    let folder = Folder::new();
    run(program(&folder.0, &["trace", "--today", "2026-11-25"]), &LINES[..2]);
    let (text, code) = run(program(&folder.0, &["trace", "--resume", "--today", "2020-01-01"]), &LINES[2..4]);
    assert!(code == 0 && text.contains("Check the clock"), "{text}");
    let records = records::open(&folder.0).expect("opened");
    assert_eq!(typed_lines(&records), LINES[..4]);
}

#[test]
fn two_programs_in_one_trace_lose_nothing() {
    let folder = Folder::new();
    run(program(&folder.0, &["trace"]), &LINES[..2]);
    // The first holds the trace open while the second goes on with it.
    let mut first = program(&folder.0, &["trace", "--resume"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut input = first.stdin.take().expect("its input");
    let mut output = BufReader::new(first.stdout.take().expect("its output"));
    let mut line = String::new();
    while !line.contains("y yes") {
        line.clear();
        assert!(output.read_line(&mut line).expect("text") > 0, "it asks");
    }
    run(program(&folder.0, &["trace", "--resume"]), &["d"]);
    input.write_all(b"n\n").expect("typed");
    drop(input);
    first.wait().expect("it ends");
    let records = records::open(&folder.0).expect("opened");
    records.look_through().expect("sound");
    let sittings = records.unfinished(None, None).expect("read");
    assert_eq!(sittings.iter().map(|s| s.answers).collect::<Vec<_>>(), [3, 3], "each has its own trace");
}

/// A limit on the size of files stands in for a full disk; the signal that comes with it is ignored, as on a disk that is full.
#[cfg(unix)]
#[test]
fn a_full_disk_is_told_while_the_trace_goes_on() {
    let folder = Folder::new();
    run(program(&folder.0, &["trace"]), &LINES[..2]);
    let words = format!(
        "trap '' XFSZ; ulimit -f 8; exec \"{}\" trace --resume --data \"{}\"",
        env!("CARGO_BIN_EXE_splitpin"),
        folder.0.display()
    );
    let mut command = Command::new("sh");
    command.arg("-c").arg(words);
    let (text, code) = run(command, &["d", "n", "d", "d", "d", "d"]);
    assert!(code == 0 && text.contains("no room"), "{text}");
    let records = records::open(&folder.0).expect("opened");
    records.look_through().expect("sound");
    let kept = typed_lines(&records);
    assert!(kept.len() >= 2 && kept[..2] == LINES[..2], "{kept:?}");
}
