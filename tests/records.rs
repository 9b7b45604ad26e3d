//! The records under blows: programs killed while they answer, two at once, a full disk, a clock set back; and a trace that goes on where it was
//! left.
//!
//! `SPLITPIN_KILLS=1000` makes each test of kills do so many.

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use jiff::ToSpan as _;
use jiff::civil::date;
use splitpin::records::exchange::Export;
use splitpin::records::log::{Body, Entry, ResultLine, SittingBody};
use splitpin::records::sitting::{Ending, KeptAnswer, NewAnswer};
use splitpin::records::{self, KeptVehicle, Records, Wanted};

use splitpin::simulate::Draw;

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
    for line in records.lines(&Wanted::default()).expect("it can be listed") {
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
    let deadline = Duration::from_millis((draw.unit() * 700.0) as u64);
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
    let pause = draw.unit() * 40.0;
    let writer = std::thread::spawn(move || {
        for line in lines {
            std::thread::sleep(Duration::from_micros((pause * 1000.0) as u64));
            if input.write_all(line.as_bytes()).is_err() {
                break;
            }
        }
        // Held open, so that the program waits for more.
        std::thread::sleep(Duration::from_millis(800));
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

/// A logbook of so many entries for each of ten vehicles, over ten years: traces with answers, measurements, notes and results.
fn generated(vehicles: usize, each: usize) -> Export {
    let vehicle =
        |v: usize| KeptVehicle { name: format!("cart-{v}"), shown: format!("cart {v}"), ..KeptVehicle::default() };
    let mut entries = Vec::new();
    for i in 0..vehicles * each {
        let number = i as i64 + 1;
        let day = date(2016, 1, 1).saturating_add(((i * 3650 / (vehicles * each)) as i64).days());
        let answer = |n: i64| KeptAnswer {
            id: n,
            answer: NewAnswer {
                kind: "reading".into(),
                subject: format!("sign-{n}"),
                place: Some("rear-offside".into()),
                said: format!("does the lamp of number {n} stay dark? yes"),
                number: None,
                unit: None,
                data: format!("{{\"answer\":\"stated\",\"sign\":{{\"id\":\"sign-{n}\"}},\"present\":true}}"),
            },
            typed: "y".into(),
            day,
            undone: None,
        };
        let body = match i % 4 {
            0 => Body::Trace(SittingBody {
                title: format!("trace {i}"),
                touched: day,
                ended: Some(day),
                ending: Some(Ending::Done),
                knowledge: "k".into(),
                settings: String::new(),
                unsettled: String::new(),
                edits: 30,
                answers: (0..30).map(answer).collect(),
            }),
            1 => Body::Measurement {
                what: "tread".into(),
                place: Some("front".into()),
                value: 3.0,
                unit: "mm".into(),
                odometer: None,
            },
            2 => Body::Note { of: None, text: format!("note {i}") },
            _ => Body::Result {
                outcome: "refused".into(),
                lines: vec![ResultLine { category: "major".into(), text: "dark".into() }],
                text: String::new(),
            },
        };
        entries.push(Entry { number, mark: format!("mark-{i}"), vehicle: format!("cart-{}", i % vehicles), day, body });
    }
    Export { vehicles: (0..vehicles).map(vehicle).collect(), entries, ..Export::default() }
}

/// Kills a program after a random time; `true` if it had not ended by itself.
fn kill_within(mut command: Command, draw: &mut Draw, most: f64) -> bool {
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it starts");
    std::thread::sleep(Duration::from_micros((draw.unit() * most * 1000.0) as u64));
    let ended = child.try_wait().expect("it can be asked").is_some();
    // One that ended cannot be killed, and need not be.
    let _ = child.kill();
    child.wait().expect("it is gone");
    !ended
}

#[test]
fn killed_while_bringing_in_it_is_all_there_or_nothing() {
    let source = Folder::new();
    let export = generated(3, 60);
    let file = source.0.join("in.json");
    fs::write(&file, serde_json::to_string(&export).expect("written")).expect("written");
    let mut draw = Draw(32);
    let mut counts = [0_usize; 2];
    for _ in 0..kills() {
        let folder = Folder::new();
        drop(records::open(&folder.0).expect("made"));
        let words = ["logbook", "import", file.to_str().expect("text")];
        kill_within(program(&folder.0, &words), &mut draw, 260.0);
        let records = records::open(&folder.0).expect("sound after a kill");
        records.look_through().expect("sound");
        let there = records.lines(&Wanted::default()).expect("listed").len();
        assert!(there == 0 || there == export.entries.len(), "{there} of {}", export.entries.len());
        counts[usize::from(there > 0)] += 1;
    }
    println!("brought in: {} not, {} whole", counts[0], counts[1]);
}

#[test]
fn killed_while_an_old_form_is_brought_up_it_is_old_or_new_and_whole() {
    let mut draw = Draw(33);
    let mut counts = [0_usize; 2];
    let old = Folder::new();
    let first = include_str!("../src/records/schema/1.sql");
    let made = rusqlite::Connection::open(old.0.join(records::FILE)).expect("made");
    made.execute_batch("PRAGMA journal_mode = WAL; PRAGMA application_id = 1936747632;").expect("set");
    made.execute_batch(first).expect("an old form");
    made.execute_batch(
        "PRAGMA user_version = 1; BEGIN; INSERT INTO vehicle (name, shown) VALUES ('cart', 'cart');
         WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)
         INSERT INTO entry (vehicle, kind, day) SELECT 1, 'note', '2024-01-01' FROM n;
         INSERT INTO note (entry, text) SELECT id, 'note ' || id FROM entry; COMMIT;",
    )
    .expect("filled");
    made.close().expect("closed");
    for _ in 0..kills() {
        let folder = Folder::new();
        fs::copy(old.0.join(records::FILE), folder.0.join(records::FILE)).expect("copied");
        kill_within(program(&folder.0, &["logbook"]), &mut draw, 90.0);
        let raw = rusqlite::Connection::open(folder.0.join(records::FILE)).expect("opened");
        let version: i64 = raw.pragma_query_value(None, "user_version", |r| r.get(0)).expect("read");
        drop(raw);
        counts[usize::from(version > 1)] += 1;
        let records = records::open(&folder.0).expect("opened after a kill");
        records.look_through().expect("sound");
        assert_eq!(records.lines(&Wanted::default()).expect("listed").len(), 3000);
    }
    println!("brought up: {} not, {} whole", counts[0], counts[1]);
}

#[test]
fn killed_while_copying_the_records_are_sound_and_the_copy_is_whole_or_absent() {
    let folder = Folder::new();
    records::open(&folder.0).expect("made").import(&generated(5, 100)).expect("filled");
    let mut draw = Draw(34);
    let mut counts = [0_usize; 2];
    for _ in 0..kills() {
        let copies = Folder::new();
        let copy = copies.0.join("copy.sqlite");
        let words = ["logbook", "backup", copy.to_str().expect("text")];
        kill_within(program(&folder.0, &words), &mut draw, 160.0);
        records::open(&folder.0).expect("opened").look_through().expect("sound");
        if copy.exists() {
            let other = Folder::new();
            records::restore(&copy, &other.0).expect("whole");
            let there = records::open(&other.0).expect("opened").lines(&Wanted::default()).expect("listed").len();
            assert_eq!(there, 500);
        }
        counts[usize::from(copy.exists())] += 1;
    }
    println!("copied: {} not, {} whole", counts[0], counts[1]);
}

/// Ten years of ten vehicles: some 100,000 rows. The promise is 50 ms and 100 ms; the test allows for a busy machine.
#[test]
fn ten_years_of_ten_vehicles_open_and_list_at_once() {
    let folder = Folder::new();
    records::open(&folder.0).expect("made").import(&generated(10, 960)).expect("filled");
    let median = |work: &dyn Fn()| {
        let mut times: Vec<Duration> = (0..9)
            .map(|_| {
                let from = Instant::now();
                work();
                from.elapsed()
            })
            .collect();
        times.sort();
        times[4]
    };
    let opening = median(&|| drop(records::open(&folder.0).expect("opened")));
    let records = records::open(&folder.0).expect("opened");
    let list = |wanted: Wanted| median(&|| assert!(records.lines(&wanted).expect("listed").len() > 30));
    let page = list(Wanted { last: Some(40), ..Wanted::default() });
    let all = list(Wanted::default());
    let kind = list(Wanted { vehicle: Some("cart-3".into()), kind: Some("result".into()), ..Wanted::default() });
    println!("opening {opening:?}, a page {page:?}, all 9,600 entries {all:?}, one kind of one vehicle {kind:?}");
    assert!(opening < Duration::from_millis(250) && page < Duration::from_millis(250));
    assert!(all < Duration::from_millis(500) && kind < Duration::from_millis(250));
}

#[test]
fn a_proved_repair_raises_its_cause_says_so_and_can_be_reset() {
    let folder = Folder::new();
    let chance = |folder: &Folder| {
        let (text, _) = run(program(&folder.0, &["trace", "--json", "horn", "dead"]), &[]);
        let case: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let causes = case["causes"].as_array().expect("causes");
        let fuse = causes.iter().find(|c| c["id"] == "horn-fuse-blown").expect("the fuse");
        (fuse["probability"].as_f64().expect("a number"), case["learned"].is_object())
    };
    let (before, said) = chance(&folder);
    assert!(!said);
    let cart = KeptVehicle { name: "three-wheeler".into(), shown: "van".into(), ..KeptVehicle::default() };
    let mut records = records::open(&folder.0).expect("made");
    for _ in 0..2 {
        let body = Body::Repair {
            of: None,
            cause: "horn-fuse-blown".into(),
            place: None,
            remedy: "fit-fuse".into(),
            proved: true,
            proved_by: String::new(),
            text: "fuse".into(),
        };
        records.add(&cart, date(2026, 11, 1), &body).expect("added");
    }
    let (after, said) = chance(&folder);
    assert!(said && after > before * 1.3, "{before} then {after}");
    let (text, _) = run(program(&folder.0, &["trace"]), &["q"]);
    assert_eq!(text.matches("logbook learned").count(), 1, "{text}");
    let (text, _) = run(program(&folder.0, &["logbook", "learned"]), &[]);
    assert!(text.contains("horn-fuse-blown") && text.contains("Proved 2 times"), "{text}");
    run(program(&folder.0, &["logbook", "learned", "--reset"]), &[]);
    assert_eq!(chance(&folder), (before, false));
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

/// Where the person may do anything, as in many containers, no folder is read-only and there is nothing to see.
#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_can_still_be_read() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = Folder::new();
    run(program(&folder.0, &["logbook", "note", "seen"]), &[]);
    fs::set_permissions(&folder.0, fs::Permissions::from_mode(0o555)).expect("set");
    let held = fs::write(folder.0.join("probe"), "").is_err();
    let (list, listed) = run(program(&folder.0, &["logbook"]), &[]);
    let (note, kept) = run(program(&folder.0, &["logbook", "note", "more"]), &[]);
    fs::set_permissions(&folder.0, fs::Permissions::from_mode(0o755)).expect("set");
    assert!(list.contains("seen") && listed == 0, "{list}");
    assert_eq!(kept != 0, held, "{note}");
    assert!(!held || note.contains("read but not written"), "{note}");
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
