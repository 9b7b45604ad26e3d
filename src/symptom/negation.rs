//! Small words that change what stands beside them: the two kinds of "no", particles, and "failed" as a test result.
//!
//! Takes plain words; gives yes or no. Knows no vocabulary but the everyday one.

use super::common_words::NOT;

/// A small word that changes a verb ("stays on"): it is never joined to the word before it.
pub(super) fn is_particle(word: &str) -> bool {
    matches!(word, "on" | "off" | "out" | "up" | "down" | "over" | "under" | "in" | "away" | "back")
}

/// Whether an expression begins with the negation of a verb.
pub(super) fn is_verbal(words: &[String]) -> bool {
    words.first().is_some_and(|w| is_verbal_not(w)) || words.get(1).is_some_and(|w| is_verbal_not(w))
}

/// "Failed" that is said of the vehicle at its test and not of a part: "failed on", "mot fail", "failed it for".
pub(super) fn is_of_the_test(words: &[&str], at: usize, first: bool) -> bool {
    let is = |at: Option<usize>, list: &[&str]| at.and_then(|i| words.get(i)).is_some_and(|w| list.contains(w));
    let before = at.checked_sub(1);
    matches!(words[at], "fail" | "fails" | "failed" | "failing" | "failure")
        && (is(before, &["mot", "test", "tester", "inspection"])
            || is(Some(at + 1), &["mot", "test", "inspection", "it", "its", "the", "my"])
            || first && is(Some(at + 1), &["on", "for", "because", "as", "due"]))
}

pub(super) fn is_verbal_not(word: &str) -> bool {
    !matches!(word, "no" | "none" | "nothing" | "without" | "nowt" | "nae") && NOT.split_whitespace().any(|w| w == word)
}
