//! What is typed at the prompt: wrong lines, choices, numbers, clashes, the end of input at every stage.

use super::*;

#[test]
fn wrong_lines_before_and_after_the_first_answer_cost_nothing() {
    let long = a_megabyte();
    let longish = "kazoo mumbles ".repeat(400);
    let ran = prompt(&[
        b"",
        b"   ",
        b"\t",
        b"undo",
        b"flux capacitor",
        &long,
        longish.as_bytes(),
        b"kazoo \xff\xfe mumbles",
        b"kazoo mumbles",
        b"",
        &long,
        b"\xc3\x28",
        b"?",
        b"answers",
        b"11.9",
        b"answers",
        b"q",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    for n in 0..3 {
        assert_has(after(&ran.out, n), &["Type what is wrong in your own words", "What is wrong?"]);
    }
    assert_has(after(&ran.out, 3), &["There is nothing to take back.", "What is wrong?"]);
    assert_has(after(&ran.out, 4), &["Nothing here matches “flux capacitor”", "What is wrong?"]);
    assert_has(after(&ran.out, 5), &["1048576 letters long", "Nothing was taken from it."]);
    assert_has(after(&ran.out, 6), &["5600 letters long; the most is 4096", "Nothing was taken from it."]);
    assert_has(after(&ran.out, 7), &["bytes that are no text", "What is wrong?"]);
    assert_has(after(&ran.out, 8), &["Taken as: kazoo mumbles", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 9), &["Type an answer", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 10), &["1048576 letters long", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 11), &["bytes that are no text", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 12), &["y: yes", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 13), &["1. you said “kazoo mumbles”: kazoo mumbles"]);
    assert_has(after(&ran.out, 15), &["1. you said “kazoo mumbles”", "2. Volts at the kazoo? 11.9 V"]);
    assert_has(after(&ran.out, 16), &["Summary:", "you said “kazoo mumbles”", "11.9 V"]);
    assert!(!ran.out.contains("aaaa"), "a line too long is not echoed");
}

#[test]
fn a_choice_is_asked_until_it_is_made() {
    let ran = prompt(&[
        b"kazoo wobbles",
        b"",
        b"0",
        b"9",
        b"-1",
        b"99999999999999999999999",
        b"1.5",
        b"x",
        b"\xff",
        b"2",
        b"answers",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    assert_has(after(&ran.out, 0), &["Kazoo wobbles: which one?", "1  nearside", "2  offside", "3  both"]);
    for n in 1..9 {
        assert_has(after(&ran.out, n), &["which one?", "2  offside"]);
    }
    for n in 2..8 {
        assert_has(after(&ran.out, n), &["Type a number from 1 to 3."]);
    }
    assert_has(after(&ran.out, 9), &["Taken as: kazoo wobbles (offside)"]);
    assert_has(after(&ran.out, 10), &["1. you said “kazoo wobbles”"]);
}

#[test]
fn a_choice_can_be_dropped_and_the_answers_before_it_stay() {
    let ran = prompt(&[b"kazoo mumbles", b"also kazoo wobbles", b"u", b"answers"]);
    assert_has(after(&ran.out, 1), &["which one?"]);
    assert_has(after(&ran.out, 2), &["Those words are dropped.", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 3), &["1. you said “kazoo mumbles”"]);
    assert!(!after(&ran.out, 3).contains("2."), "only the one answer is there");
}

#[test]
fn a_number_must_have_the_right_unit_and_be_possible() {
    let ran = prompt(&[
        b"kazoo mumbles",
        b"lots",
        b"y",
        b"12 A",
        b"12 furlongs",
        b"99",
        b"-0.1",
        b"11.9.1",
        b"nan",
        b"inf V",
        b"1e400",
        b"99999999999999999999999999999999999999999999999999",
        b"11000 mV",
        b"answers",
        b"u",
        b"11,5",
        b"answers",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    assert_has(after(&ran.out, 1), &["“lots” is not a number; type one such as 11.8"]);
    assert_has(after(&ran.out, 2), &["“y” is not a number"]);
    assert_has(after(&ran.out, 3), &["“A” does not measure this; the answer wanted is in V."]);
    assert_has(after(&ran.out, 4), &["“furlongs” is not a unit known here; the answer wanted is in V."]);
    assert_has(after(&ran.out, 5), &["99 V cannot be: it lies between 0 and 16 V; read the meter again."]);
    assert_has(after(&ran.out, 6), &["-0.1 V cannot be"]);
    assert_has(after(&ran.out, 7), &["“11.9.1” is not a number"]);
    assert_has(after(&ran.out, 8), &["“nan” is not a number"]);
    assert_has(after(&ran.out, 9), &["“inf V” is not a number"]);
    assert_has(after(&ran.out, 10), &["“e400” is not a unit"]);
    assert_has(after(&ran.out, 11), &["cannot be"]);
    for n in 1..12 {
        assert_has(after(&ran.out, n), &["Volts at the kazoo?"]);
    }
    assert!(!after(&ran.out, 12).contains("Taken as 11 V"), "with its unit there is nothing to say");
    assert_has(after(&ran.out, 13), &["2. Volts at the kazoo? 11 V"]);
    assert_has(after(&ran.out, 15), &["Taken as 11.5 V."]);
    assert_has(after(&ran.out, 16), &["1. you said “kazoo mumbles”", "2. Volts at the kazoo? 11.5 V"]);
}

#[test]
fn answers_that_clash_are_named_and_taking_one_back_goes_on() {
    let ran = prompt(&[
        b"kazoo squeaks",
        b"n",
        b"",
        b"y",
        b"0",
        b"3",
        b"many words of no use",
        b"\xff",
        b"answers",
        b"2",
        b"n",
        b"u",
        b"n",
        b"1",
        b"answers",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    let clash = [
        "These answers cannot all be true:",
        "1  you said “kazoo squeaks”",
        "2  fit a new kazoo reed: done, no change",
    ];
    assert_has(after(&ran.out, 1), &clash);
    assert_has(after(&ran.out, 1), &["Nothing is lost."]);
    assert_has(after(&ran.out, 2), &["Type the number of the answer to take back"]);
    for n in 3..7 {
        assert_has(after(&ran.out, n), &["Type one of the numbers shown"]);
        assert_has(after(&ran.out, n), &clash);
    }
    assert_has(after(&ran.out, 7), &["bytes that are no text"]);
    assert_has(after(&ran.out, 8), &["1. you said “kazoo squeaks”", "2. fit a new kazoo reed: done, no change"]);
    assert_has(after(&ran.out, 9), &["Taken back: fit a new kazoo reed: done, no change.", "kazoo reed split"]);
    assert_has(after(&ran.out, 9), &["Put it right: fit a new kazoo reed"]);
    assert_has(after(&ran.out, 10), &clash);
    assert_has(after(&ran.out, 11), &["Taken back: fit a new kazoo reed: done", "Put it right"]);
    assert_has(after(&ran.out, 13), &["Taken back: you said “kazoo squeaks”"]);
    assert_has(after(&ran.out, 14), &["1. fit a new kazoo reed: done, no change"]);
}

#[test]
fn a_sign_given_as_there_and_not_there_clashes_by_name() {
    let given =
        ["--given", "kazoo-reed-cracked=yes", "--given", "kazoo-squeaks=yes", "--given", "kazoo-reed-cracked=no"];
    let base = ["--knowledge", OWN, "trace", "--no-input"];
    let ran = splitpin(&[&base[..], &given[..]].concat(), b"");
    assert_eq!(ran.exit, Exit::No);
    assert_has(&ran.out, &["These answers cannot all be true:", "Does a crack show? yes", "Does a crack show? no"]);
    assert!(!ran.out.contains("squeaks"), "the smallest set that clashes has two members:\n{}", ran.out);
    assert_narrow(&ran.out);

    let ran = prompt_with(&[&["trace"][..], &given[..]].concat(), &[b"3", b"answers"]);
    assert_eq!(ran.exit, Exit::Done);
    assert_has(&ran.out, &["These answers cannot all be true:"]);
    assert_has(after(&ran.out, 0), &["Taken back: Does a crack show? no.", "kazoo reed split"]);
    assert_has(after(&ran.out, 1), &["1. Does a crack show? yes", "2. "]);
}

#[test]
fn a_clash_is_in_the_json_too_and_the_exit_says_no() {
    let ran = splitpin(
        &[
            "--knowledge",
            OWN,
            "trace",
            "--json",
            "--given",
            "kazoo-reed-cracked=yes",
            "--given",
            "kazoo-reed-cracked=no",
        ],
        b"",
    );
    assert_eq!(ran.exit.code(), 1);
    let json: serde_json::Value = serde_json::from_str(&ran.out).expect("JSON");
    assert_eq!(json["clash"].as_array().map(Vec::len), Some(2), "{json:#}");
}

#[test]
fn input_may_end_at_every_stage_and_the_answers_are_summed_up() {
    for (lines, kept) in [
        (&b""[..], &[][..]),
        (b"kazoo wobbles\n", &[]),
        (b"kazoo mumbles\nalso kazoo wobbles\n", &["Summary:", "you said “kazoo mumbles”"]),
        (b"kazoo mumbles\n", &["Summary:", "you said “kazoo mumbles”", "Next: measure at the kazoo"]),
        (b"kazoo mumbles\n11.8", &["Summary:", "you said “kazoo mumbles”", "2. Volts at the kazoo? 11.8 V"]),
        (
            b"kazoo squeaks\nn\n",
            &["Summary:", "1. you said “kazoo squeaks”", "2. fit a new kazoo reed: done, no change"],
        ),
        (b"kazoo squeaks\ny\n", &["Put right and proved.", "Summary:", "2. fit a new kazoo reed"]),
    ] {
        let ran = splitpin(&["--knowledge", OWN], lines);
        assert_eq!(ran.exit, Exit::Done);
        assert_eq!(ran.err, "");
        assert_has(&ran.out, kept);
        assert_narrow(&ran.out);
        assert_eq!(ran.out.contains("Summary:"), !kept.is_empty(), "{}", ran.out);
    }
}

#[test]
fn a_command_that_fails_at_the_prompt_leaves_the_case_as_it_was() {
    let ran = prompt(&[
        b"kazoo mumbles",
        b"vehicle use no-such-vehicle",
        b"reckon fuse",
        b"reckon fuse -- -1",
        b"lookup no such thing",
        b"knowledge check /no/such/folder",
        b"answers",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    assert_has(after(&ran.out, 1), &["no vehicle or vehicle file called", "three-wheeler", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 2), &["required arguments", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 3), &["watts must be a number above 0", "Volts at the kazoo?"]);
    assert_has(after(&ran.out, 4), &["Nothing here is called “no such thing”"]);
    assert_has(after(&ran.out, 5), &["there is no folder /no/such/folder"]);
    assert_has(after(&ran.out, 6), &["1. you said “kazoo mumbles”"]);
}
