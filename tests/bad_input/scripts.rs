//! Arbitrary lines: nothing panics, everything can be taken back, every conversation ends with 0.

use super::*;

/// A line as somebody might type it, sensible or not. Nothing in it ends the conversation.
fn any_line() -> impl Strategy<Value = String> {
    let sensible = prop::sample::select(vec![
        "y",
        "n",
        "d",
        "c",
        "u",
        "w",
        "s",
        "a",
        "?",
        "",
        " ",
        "0",
        "1",
        "2",
        "3",
        "9",
        "-1",
        "11",
        "11.5 V",
        "12,4",
        "900 mV",
        "12 A",
        "99",
        "causes",
        "undo",
        "why",
        "summary",
        "also",
        "also kazoo wobbles",
        "kazoo squeaks",
        "kazoo mumbles",
        "kazoo wobbles",
        "offside kazoo wobbles",
        "both kazoos wobble",
        "kazoo squeaks and mumbles",
        "kazoo does not squeak",
        "lamp out",
        "nearside",
        "both",
        "can't",
        "don't know",
        "skip",
        "more",
    ]);
    prop_oneof![
        10 => sensible.prop_map(str::to_owned),
        2 => "[a-z]{1,9}( [a-z]{1,9}){0,4}",
        1 => "[0-9.,+-]{1,12} ?[a-zA-Z%°]{0,4}",
        1 => any::<String>().prop_map(|s| s.replace(['\n', '\r'], " ")),
        1 => "(kazoo|lamp|horn|not|no|and|both|rear|nearside|\\PC){1,12}",
    ]
    .prop_filter("a line that stops the talk ends the script", |line| {
        !matches!(line.trim().to_lowercase().as_str(), "q" | "quit" | "exit" | "bye")
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// Each line is answered, at most one statement's findings come or go with it, undo leads back to the beginning, and then the
    /// same lines give the same answers.
    #[test]
    fn any_lines_are_answered_and_can_all_be_taken_back(lines in prop::collection::vec(any_line(), 1..14)) {
        static EAR: OnceLock<Ear> = OnceLock::new();
        let book = small_book();
        let ear = EAR.get_or_init(|| Ear::new(book));
        let trace = Trace::new(book, small_cart(), Person::default(), TODAY).expect("the cart fits");
        let mut talk = Talk::new(trace, ear);
        let play = |talk: &mut Talk<'_>| {
            for line in &lines {
                let reply = talk.say(line);
                assert!(!matches!(reply.ask, Ask::Nothing), "only q ends the talk: {line:?}");
            }
            format!("{:?}", talk.trace.answers())
        };
        talk.begin(None);
        let first = play(&mut talk);
        for _ in 0..1000 {
            talk.say("u");
        }
        prop_assert!(talk.trace.answers().is_empty(), "undo leads back to the beginning");
        let again = play(&mut talk);
        prop_assert_eq!(first, again);
        let kept = talk.trace.answers().len();
        let last = talk.leave();
        prop_assert!(matches!(last.ask, Ask::Nothing));
        prop_assert_eq!(last.summary.is_some(), kept > 0);
        prop_assert!(last.summary.is_none_or(|s| s.answers.len() == kept), "every answer is in the summary");
    }
}

proptest! {
    // The whole knowledge is read for each case: a few long scripts.
    #![proptest_config(ProptestConfig { cases: 4, failure_persistence: None, max_shrink_iters: 20, ..ProptestConfig::default() })]

    #[test]
    fn any_script_ends_with_0_and_drives_no_terminal(lines in prop::collection::vec(any_line(), 12..30)) {
        // Every line has its end, so that an empty one at the close is a line too.
        let script: String = lines.iter().map(|l| format!("{l}\n")).collect();
        let ran = splitpin(&["--knowledge", OWN], script.as_bytes());
        prop_assert_eq!(ran.exit, Exit::Done);
        prop_assert_eq!(ran.err.as_str(), "");
        assert_calm(&ran.out);
        prop_assert_eq!(ran.out.matches("\n> ").count(), lines.len(), "every line is echoed once");
    }
}
