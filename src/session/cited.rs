//! References to the inspection manual in typed text: "(1.2.2 (a) (i))", "1.1.10 b(ii)", "5.3.6(a)".
//!
//! Takes a text and the book's test items; gives where each reference stands and which items it means. A number that is no section of the
//! manual (volts, a price) is no reference. Never reads places or symptoms.

use std::ops::Range;

use crate::knowledge::book::{Book, Item};
use crate::vehicle::Vehicle;

/// A reference found in a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cited {
    /// Where it stands, brackets around it among it.
    pub span: Range<usize>,
    /// The section: "1.2.2".
    pub section: String,
    /// The letters behind it without brackets: "ai"; may be empty.
    pub letters: String,
}

/// Finds every reference in a text.
pub fn cited(text: &str, book: &Book) -> Vec<Cited> {
    let bytes = text.as_bytes();
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let fresh = at == 0 || !(bytes[at - 1].is_ascii_alphanumeric() || bytes[at - 1] == b'.');
        if !(fresh && bytes[at].is_ascii_digit()) {
            at += 1;
            continue;
        }
        let mut end = at;
        while end < bytes.len() && (bytes[end].is_ascii_digit() || bytes[end] == b'.') {
            end += 1;
        }
        let section = text[at..end].trim_end_matches('.');
        if !section.contains('.') || !book.items.iter().any(|i| i.section == section) {
            at = end;
            continue;
        }
        let mut letters = String::new();
        let mut last = at + section.len();
        while let Some((letter, next)) = bracketed(bytes, last, letters.is_empty()) {
            letters.push_str(&letter);
            last = next;
        }
        let mut from = at;
        let before = text[..at].trim_end();
        let after = last + bytes[last..].iter().take_while(|b| **b == b' ').count();
        if before.ends_with(['(', '[']) && bytes.get(after).is_some_and(|b| matches!(b, b')' | b']')) {
            from = before.len() - 1;
            last = after + 1;
        }
        found.push(Cited { span: from..last, section: section.to_owned(), letters });
        at = last;
    }
    found
}

/// A letter, or a small Roman number behind one, in brackets or bare, after any spaces.
fn bracketed(bytes: &[u8], at: usize, first: bool) -> Option<(String, usize)> {
    let mut at = at;
    while bytes.get(at) == Some(&b' ') {
        at += 1;
    }
    let open = bytes.get(at) == Some(&b'(');
    let start = at + usize::from(open);
    let word: Vec<u8> = bytes.get(start..)?.iter().copied().take_while(u8::is_ascii_alphanumeric).collect();
    let roman = !word.is_empty() && word.iter().all(|b| matches!(b, b'i' | b'v' | b'x'));
    // "1.1.14aii" and "1.1.14 aii" join the two.
    let letter = first
        && word.first().is_some_and(u8::is_ascii_lowercase)
        && word[1..].iter().all(|b| matches!(b, b'i' | b'v' | b'x'));
    if !(letter || roman) {
        return None;
    }
    let end = start + word.len();
    let closed = bytes.get(end) == Some(&b')');
    if open != closed {
        return None;
    }
    Some((String::from_utf8_lossy(&word).into_owned(), end + usize::from(closed)))
}

/// The items a reference means on a vehicle: those with its letters; without letters, or where none has them, all of the section.
pub fn meant<'b>(cited: &Cited, book: &'b Book, vehicle: &Vehicle) -> Vec<&'b Item> {
    let plain = |defect: &str| defect.chars().filter(char::is_ascii_alphanumeric).collect::<String>();
    let of_section: Vec<&Item> =
        book.items.iter().filter(|i| i.section == cited.section && vehicle.meets(&i.when)).collect();
    let exact: Vec<&Item> =
        of_section.iter().copied().filter(|i| !cited.letters.is_empty() && plain(&i.defect) == cited.letters).collect();
    if exact.is_empty() { of_section } else { exact }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{embed, vehicle};

    fn found(text: &str) -> Vec<(String, String, String)> {
        let book = embed::book();
        let part = |c: &Cited| text[c.span.clone()].to_owned();
        cited(text, &book).into_iter().map(|c| (part(&c), c.section, c.letters)).collect()
    }

    #[test]
    fn references_are_found_however_they_are_bracketed() {
        for (text, part, section, letters) in [
            ("All stop lamps not working (4.3.1 (a) (iii))", "(4.3.1 (a) (iii))", "4.3.1", "aiii"),
            ("stop lamp 4.3.1 a(iii) dead", "4.3.1 a(iii)", "4.3.1", "aiii"),
            ("4.3.1(a)(iii)", "4.3.1(a)(iii)", "4.3.1", "aiii"),
            ("horn not working [7.7 (a)]", "[7.7 (a)]", "7.7", "a"),
            ("see 4.3.1", "4.3.1", "4.3.1", ""),
        ] {
            assert_eq!(found(text), [(part.to_owned(), section.to_owned(), letters.to_owned())], "{text}");
        }
    }

    #[test]
    fn numbers_that_are_no_section_are_left_alone() {
        for text in ["battery at 12.4 a bit low", "13.2 volts", "costs 4.50", "1986.4.1", ""] {
            assert_eq!(found(text), [], "{text}");
        }
    }

    #[test]
    fn a_reference_means_its_own_line_or_else_the_section() {
        let book = embed::book();
        let van = vehicle::demo("petrol-van", &book).expect("a demo").vehicle;
        let lines = |text: &str| -> Vec<String> {
            let cited = cited(text, &book).remove(0);
            meant(&cited, &book, &van).into_iter().map(|i| i.defect.clone()).collect()
        };
        assert_eq!(lines("4.3.1 (a) (iii)"), ["a(iii)"]);
        assert!(lines("4.3.1").len() > 3);
        assert!(lines("4.3.1 (z)").len() > 3);
    }
}
