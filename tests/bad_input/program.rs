//! The built program itself: arguments that are no text, readers that go away, output that cannot be written.

use super::*;

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_splitpin"));
    command.env_remove("RUST_BACKTRACE").env("HOME", env!("CARGO_TARGET_TMPDIR"));
    command
}

#[cfg(unix)]
#[test]
fn an_argument_that_is_no_text_is_refused_without_panic() {
    use std::os::unix::ffi::OsStringExt as _;
    for before in [&["trace", "--no-input"][..], &["lookup"], &["--vehicle"], &["--log"], &[]] {
        let bad = OsString::from_vec(b"horn \xff dead".to_vec());
        let ran = program().args(before).arg(bad).stdin(Stdio::null()).output().expect("the program runs");
        let err = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!(ran.status.code(), Some(2), "{before:?}: {err}");
        assert!(!err.contains("panicked"), "{err}");
    }
}

#[test]
fn a_reader_that_has_seen_enough_ends_the_program_quietly() {
    let mut child = program()
        .args(["knowledge", "export"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut first = String::new();
    BufReader::new(child.stdout.take().expect("a pipe")).read_line(&mut first).expect("a first line");
    assert_has(&first, &["cause\teffect"]);
    // The pipe is closed here, long before the program has written all.
    let mut err = String::new();
    child.stderr.take().expect("a pipe").read_to_string(&mut err).expect("text");
    let status = child.wait().expect("an end");
    assert_eq!((status.code(), err.as_str()), (Some(0), ""));
}

#[test]
fn a_conversation_whose_reader_goes_away_ends_quietly_too() {
    let mut child = program()
        .args(["--knowledge", OWN])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut first = String::new();
    BufReader::new(child.stdout.take().expect("a pipe")).read_line(&mut first).expect("a first line");
    let mut input = child.stdin.take().expect("a pipe");
    for _ in 0..50 {
        // The program may be gone already: then there is nobody to write to.
        if input.write_all(b"kazoo mumbles\nu\n").is_err() {
            break;
        }
    }
    drop(input);
    let mut err = String::new();
    child.stderr.take().expect("a pipe").read_to_string(&mut err).expect("text");
    assert_eq!((child.wait().expect("an end").code(), err.as_str()), (Some(0), ""));
}

#[test]
fn output_that_cannot_be_written_is_told_with_74() {
    let Ok(full) = fs::OpenOptions::new().write(true).open("/dev/full") else { return };
    let ran =
        program().args(["reckon", "fuse", "21"]).stdin(Stdio::null()).stdout(full).output().expect("the program runs");
    assert_eq!(ran.status.code(), Some(74));
    assert_has(&String::from_utf8_lossy(&ran.stderr), &["the output cannot be written"]);
}

#[test]
fn a_piped_conversation_reads_the_same_through_the_built_program() {
    let lines = b"\xff\nkazoo mumbles\n12 A\n11\nanswers\n";
    let mut child = program()
        .args(["--knowledge", OWN, "--today", "2026-03-02"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program runs");
    child.stdin.take().expect("a pipe").write_all(lines).expect("it reads");
    let ran = child.wait_with_output().expect("an end");
    assert_eq!(ran.status.code(), Some(0));
    let in_memory = splitpin(&["--knowledge", OWN], lines);
    assert_eq!(String::from_utf8_lossy(&ran.stdout), in_memory.out);
}

#[cfg(unix)]
#[test]
fn a_file_without_end_is_not_read_to_its_end() {
    if !Path::new("/dev/zero").exists() {
        return;
    }
    // Within a gigabyte of memory, so that a mistake here costs nobody else anything.
    let limited = "ulimit -v 1000000; exec \"$0\" --vehicle /dev/zero";
    let ran = Command::new("sh")
        .args(["-c", limited, env!("CARGO_BIN_EXE_splitpin")])
        .stdin(Stdio::null())
        .output()
        .expect("the program runs");
    let err = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert_eq!(ran.status.code(), Some(66), "{err}");
    assert_has(&err, &["/dev/zero", "split it"]);
}
