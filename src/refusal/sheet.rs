//! A pasted sheet as entries: defects, headings, page furniture, and lines that cannot be read.
//!
//! Takes a text of any kind; gives one entry or more for every line that is not blank. A heading such as "Major defects" gives its category to
//! the lines below it. Never drops a line.

use super::matching::{Matched, Matcher};
use super::tokens::words;

/// What the tester put a line down as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Must not be driven.
    Dangerous,
    /// Refused.
    Major,
    /// Recorded.
    Minor,
    /// To watch.
    Advisory,
}

impl Category {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Category::Dangerous => "dangerous",
            Category::Major => "major",
            Category::Minor => "minor",
            Category::Advisory => "advisory",
        }
    }

    /// Reads the word of the manual.
    pub fn named(word: &str) -> Option<Category> {
        Some(match word {
            "dangerous" => Category::Dangerous,
            "major" => Category::Major,
            "minor" => Category::Minor,
            "advisory" => Category::Advisory,
            _ => return None,
        })
    }
}

/// What a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A defect or a remark.
    Defect,
    /// A heading over the lines below.
    Heading,
    /// A date, a mileage, an address, a name.
    Furniture,
    /// Nothing in the manual fits.
    Unread,
}

impl Role {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Role::Defect => "defect",
            Role::Heading => "heading",
            Role::Furniture => "furniture",
            Role::Unread => "unread",
        }
    }
}

/// A line of the sheet, or one of several defects of a line.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The line, counted from 1.
    pub line: usize,
    /// The words as typed.
    pub text: String,
    /// What it is.
    pub role: Role,
    /// The category said in the line, or by the heading above.
    pub category: Option<Category>,
    /// What it means in the manual.
    pub matched: Matched,
}

/// Most lines taken of a sheet; further ones are listed as unread.
const MOST_LINES: usize = 400;
/// What stands before a line of a list.
const BULLETS: &[char] = &['-', '*', '•', '>', '#', ' ', '–'];
/// Longest line that is looked at, in letters.
const LONGEST: usize = 600;
/// Words of headings and of categories; a line of nothing else is a heading.
const HEADING: &[&str] = &[
    "advisories",
    "advisory",
    "and",
    "any",
    "be",
    "before",
    "dangerous",
    "defect",
    "defects",
    "do",
    "drive",
    "driven",
    "driving",
    "fail",
    "failed",
    "failure",
    "failures",
    "following",
    "for",
    "if",
    "immediately",
    "item",
    "items",
    "list",
    "major",
    "minor",
    "monitor",
    "must",
    "necessary",
    "needed",
    "not",
    "notes",
    "notice",
    "of",
    "possible",
    "reason",
    "reasons",
    "refusal",
    "refused",
    "repair",
    "repaired",
    "soon",
    "test",
    "the",
    "to",
    "until",
    "vehicle",
    "with",
    "as",
    "remark",
    "remarks",
    "result",
    "pass",
];
/// Words at the head of a line that is no defect.
const FURNITURE: &[&str] = &[
    "address",
    "authorised",
    "certificate",
    "colour",
    "contact",
    "country",
    "customer",
    "date",
    "duration",
    "engine number",
    "expiry",
    "inspection manual",
    "inspector",
    "issued",
    "issuing",
    "keep this",
    "location",
    "make",
    "mileage",
    "model",
    "odometer",
    "page",
    "phone",
    "postcode",
    "printed",
    "reg no",
    "registration mark",
    "registration number",
    "signature",
    "signed",
    "station",
    "tel",
    "telephone",
    "test class",
    "test date",
    "test location",
    "test number",
    "tested by",
    "tester",
    "this document",
    "time",
    "to check",
    "vehicle category",
    "vehicle identification number (vin):",
    "vehicle make",
    "vehicle test",
    "vin",
    "vts",
    "website",
    "www",
    "http",
];

/// Reads a sheet.
pub fn sheet(text: &str, matcher: &Matcher<'_>) -> Vec<Entry> {
    let mut out = Vec::new();
    let mut above = None;
    for (number, raw) in text.lines().enumerate() {
        let line = raw.trim();
        if line.is_empty() {
            continue;
        }
        let plain = |role: Role| Entry {
            line: number + 1,
            text: line.to_owned(),
            role,
            category: None,
            matched: Matched::default(),
        };
        if out.len() >= MOST_LINES || line.len() > LONGEST {
            out.push(plain(Role::Unread));
            continue;
        }
        if is_heading(line) {
            above = category(line).or(if is_neutral(line) { above } else { None });
            out.push(Entry { category: category(line), ..plain(Role::Heading) });
            continue;
        }
        if is_furniture(line) {
            out.push(plain(Role::Furniture));
            continue;
        }
        for part in parts(line) {
            let (own, rest) = own_category(&part);
            let said = own.or(above);
            let matched = matcher.read(rest, said);
            let role = if matched.candidates.is_empty() { Role::Unread } else { Role::Defect };
            let shown = part.trim_start_matches(BULLETS).to_owned();
            out.push(Entry {
                line: number + 1,
                text: if shown.is_empty() { part } else { shown },
                role,
                category: said,
                matched,
            });
        }
    }
    out
}

/// The defects of a line: parted by semicolons, bullets or a reference followed by more words.
fn parts(line: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for piece in line.split([';', '•', '|']) {
        let piece = piece.trim();
        // Behind a closing double bracket, or one with a comma after it, the next defect begins.
        let mut from = 0;
        let bytes = piece.as_bytes();
        for i in 1..bytes.len() {
            let closes = bytes[i - 1] == b')' && bytes[i] != b')';
            let rest = piece.get(i..).unwrap_or("").trim_start_matches([' ', ',', '.', '-', '/', '&']);
            let begins =
                rest.split(' ').next().is_some_and(|w| w.chars().count() > 1 && w.chars().all(char::is_alphabetic));
            let reference = piece.get(from..i).is_some_and(ends_with_reference);
            if closes && begins && reference && own_category(rest).1.split(' ').count() > 1 {
                out.push(piece.get(from..i).unwrap_or("").trim().to_owned());
                from = piece.len() - rest.len();
            }
        }
        let last = piece.get(from..).unwrap_or("").trim();
        if last.chars().any(char::is_alphanumeric) {
            out.push(last.to_owned());
        }
    }
    if out.is_empty() { vec![line.to_owned()] } else { out }
}

/// Whether brackets with a section number close a text.
fn ends_with_reference(text: &str) -> bool {
    let tail: String = text.chars().rev().take(24).collect::<Vec<_>>().into_iter().rev().collect();
    let number = tail.char_indices().any(|(i, c)| {
        c == '.'
            && tail[..i].ends_with(|c: char| c.is_ascii_digit())
            && tail[i + 1..].starts_with(|c: char| c.is_ascii_digit())
    });
    number && tail.matches('(').count() <= tail.matches(')').count()
}

/// The category that the words of a line say, if they say one.
fn category(line: &str) -> Option<Category> {
    let words = words(line);
    let has = |w: &str| words.iter().any(|x| x == w);
    let not_driven = words.windows(3).any(|w| w[0] == "do" && w[1] == "not" && w[2] == "drive")
        || words.windows(4).any(|w| w[0] == "must" && w[1] == "not" && w[2] == "be" && w[3] == "driven");
    if has("dangerous") || not_driven {
        Some(Category::Dangerous)
    } else if has("major") || (has("fail") || has("failure") || has("failures") || has("refusal") || has("refused")) {
        Some(Category::Major)
    } else if has("minor") {
        Some(Category::Minor)
    } else if has("advisory") || has("advisories") || has("monitor") || has("remark") || has("remarks") {
        Some(Category::Advisory)
    } else {
        None
    }
}

fn is_heading(line: &str) -> bool {
    let words = words(line);
    words.iter().all(|w| HEADING.contains(&w.as_str())) && words.iter().any(|w| w.len() > 2)
}

/// A heading that changes nothing: "the following items".
fn is_neutral(line: &str) -> bool {
    category(line).is_none()
}

/// The category at the head or foot of a line, and the line without it: "Major - brake pipe corroded", "brake pipe corroded [advisory]".
fn own_category(line: &str) -> (Option<Category>, &str) {
    const MARKS: &[char] = &[' ', '-', ':', '*', '(', ')', '[', ']', '.', ',', '–', '—', '!', '#', '>'];
    let line = line.trim_start_matches(BULLETS);
    let line = numbered(line);
    let lower = line.to_ascii_lowercase();
    for (said, meant) in [
        ("do not drive", Category::Dangerous),
        ("dangerous", Category::Dangerous),
        ("advisory note", Category::Advisory),
        ("advisory", Category::Advisory),
        ("advise", Category::Advisory),
        ("monitor", Category::Advisory),
        ("major", Category::Major),
        ("minor", Category::Minor),
        ("fail", Category::Major),
        ("adv", Category::Advisory),
    ] {
        let bare = lower.trim_matches(MARKS);
        let opens = lower.len() - lower.trim_start_matches(MARKS).len();
        if bare.starts_with(said) {
            let rest = &line[opens + said.len()..];
            if rest.starts_with(MARKS) && rest.chars().any(char::is_alphanumeric) {
                return (
                    Some(meant),
                    rest.trim_start_matches([' ', '-', ':', ')', ']', '.', ',', '–', '—', '!']).trim(),
                );
            }
        }
        if bare.ends_with(said) {
            let closes = lower.trim_end_matches(MARKS).len() - said.len();
            let rest = &line[..closes];
            if rest.ends_with(MARKS) && rest.chars().any(char::is_alphanumeric) {
                return (Some(meant), rest.trim_end_matches([' ', '-', ':', '(', '[', '.', ',', '–', '—', '*']).trim());
            }
        }
    }
    (None, line)
}

/// A line without its number: "3) …", "3. …".
fn numbered(line: &str) -> &str {
    let rest = line.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = line.len() - rest.len();
    let cut = rest.strip_prefix([')', '.', ':']).filter(|r| r.starts_with(' '));
    if (1..=2).contains(&digits) { cut.map_or(line, str::trim) } else { line }
}

fn is_furniture(line: &str) -> bool {
    let lower = line.to_lowercase();
    let labelled = FURNITURE.iter().any(|f| {
        lower.strip_prefix(f).is_some_and(|rest| {
            let rest = rest.trim_start();
            rest.is_empty()
                || rest.starts_with([':', '=', '.', '-', '/', '#'])
                || rest.starts_with(|c: char| c.is_ascii_digit())
        })
    });
    let letters = lower.chars().filter(|c| c.is_alphabetic()).count();
    let words = words(line);
    let month = |w: &String| {
        [
            "january",
            "february",
            "march",
            "april",
            "may",
            "june",
            "july",
            "august",
            "september",
            "october",
            "november",
            "december",
        ]
        .iter()
        .any(|m| m == w || (w.len() == 3 && m.starts_with(w.as_str())))
    };
    let number = |w: &String| w.chars().all(|c| c.is_ascii_digit());
    let dated = words.len() <= 5 && words.iter().any(month) && words.iter().any(number);
    let distance = words.len() <= 4
        && words.first().is_some_and(number)
        && words.last().is_some_and(|w| matches!(w.as_str(), "miles" | "km" | "kilometres"));
    labelled || dated || distance || letters == 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{embed, vehicle};

    fn roles(text: &str) -> Vec<(usize, Role, Option<Category>)> {
        let book = embed::book();
        let van = vehicle::demo("three-wheeler", &book).expect("a demo").vehicle;
        sheet(text, &Matcher::new(&book, &van)).iter().map(|e| (e.line, e.role, e.category)).collect()
    }

    #[test]
    fn headings_give_their_category_and_furniture_is_kept_apart() {
        let text = "Test date: 3 Nov 2026\nOdometer: 41,200 miles\n\nDo not drive until repaired (dangerous defects):\n\
                    - N/S/R tyre cords exposed\nMonitor and repair if necessary (advisories)\nhorn dead\n12 Acacia Row";
        let got = roles(text);
        assert_eq!(got[0].1, Role::Furniture);
        assert_eq!(got[1].1, Role::Furniture);
        assert_eq!(got[2], (4, Role::Heading, Some(Category::Dangerous)));
        assert_eq!(got[3], (5, Role::Defect, Some(Category::Dangerous)));
        assert_eq!(got[5], (7, Role::Defect, Some(Category::Advisory)));
        assert_eq!(got[6].1, Role::Unread);
    }

    #[test]
    fn several_defects_of_a_line_are_told_apart() {
        let two = "Offside stop lamp not working (4.3.1 (a) (ii)) Horn not working (7.7 (a))";
        assert_eq!(roles(two).len(), 2);
        assert_eq!(roles("horn not working; nsr tyre cords exposed").len(), 2);
        assert_eq!(roles("Major: horn not working"), [(1, Role::Defect, Some(Category::Major))]);
        assert_eq!(roles("1) horn not working (advisory)"), [(1, Role::Defect, Some(Category::Advisory))]);
    }
}
