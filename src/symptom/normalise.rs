//! From raw typed text to clean words.
//!
//! Takes anything: mixed case, punctuation, curly quotes, escape sequences, direction marks, very long lines. Gives the
//! text without control characters, and its words in small plain letters with their place in that text and the
//! punctuation that stood before them. Never interprets a word, never fails, and never looks at more than
//! [`MOST_CHARS`] characters.

use super::text_fold::{fold, is_invisible};

/// Characters looked at; the rest of a longer text is left alone.
const MOST_CHARS: usize = 16_000;
/// Words longer than this are cut, so that no message is flooded by one of them.
const LONGEST_WORD: usize = 40;

/// What stands between a word and the one before it, weakest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Joint {
    /// Nothing but space.
    Plain,
    /// "and", "also", an ampersand or a plus.
    And,
    /// A comma, colon, dash or bracket.
    Comma,
    /// "but", "although", "whereas".
    But,
    /// A full stop, semicolon, question mark or new line.
    Full,
}

/// One word of the text.
#[derive(Clone, Debug)]
pub(super) struct Token {
    /// Small letters, accents and apostrophes gone.
    pub word: String,
    /// Byte range in [`Text::clean`].
    pub start: usize,
    /// End of that range.
    pub end: usize,
    /// What stood before it.
    pub joint: Joint,
}

/// A text made clean, with its words.
#[derive(Clone, Debug)]
pub(super) struct Text {
    /// The text as typed, without control characters.
    pub clean: String,
    /// Its words, in order.
    pub tokens: Vec<Token>,
}

impl Text {
    /// Cleans `text` and cuts it into at most `most_words` words.
    pub fn new(text: &str, most_words: usize) -> Text {
        if text.len() <= 200 && text.bytes().all(|b| b == b' ' || b.is_ascii_lowercase()) {
            return plain_text(text, most_words);
        }
        let clean = clean(text);
        let tokens = words(&clean, most_words);
        Text { clean: clean.replace('\n', " "), tokens }
    }

    /// The words in plain form with single spaces: two texts that differ only in case and punctuation give the same.
    pub fn plain(&self) -> String {
        let mut out = String::new();
        for token in &self.tokens {
            if !out.is_empty() {
                out.push(' ');
            }
            out.push_str(&token.word);
        }
        out
    }
}

/// Most wordings are small letters and spaces: nothing to fold and nothing to drop.
fn plain_text(text: &str, most: usize) -> Text {
    let mut tokens = Vec::with_capacity(8);
    let mut start = 0;
    for word in text.split(' ') {
        let end = start + word.len();
        if !word.is_empty() && tokens.len() < most {
            let cut = word.get(..LONGEST_WORD).unwrap_or(word);
            tokens.push(Token { word: cut.to_owned(), start, end, joint: Joint::Plain });
        }
        start = end + 1;
    }
    Text { clean: text.to_owned(), tokens }
}

/// Drops what cannot be seen; keeps line breaks as `\n`.
fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len().min(4 * MOST_CHARS));
    let mut chars = text.chars().take(MOST_CHARS).peekable();
    while let Some(c) = chars.next() {
        match c {
            '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => out.push('\n'),
            '\u{1b}' | '\u{9b}' => {
                // A terminal escape: its parameters would otherwise be read as words.
                let opener = if c == '\u{9b}' { Some('[') } else { chars.next_if(|&n| n == '[' || n == ']') };
                match opener {
                    Some('[') => {
                        while chars.next_if(|n| (' '..='?').contains(n)).is_some() {}
                        let _ = chars.next_if(|n| ('@'..='~').contains(n));
                    }
                    Some(_) => while chars.next_if(|n| !n.is_control()).is_some() {},
                    None => {}
                }
            }
            '\u{2018}' | '\u{2019}' | '\u{201b}' | '\u{2bc}' | '\u{2032}' | '\u{b4}' | '`' => out.push('\''),
            '\u{2010}' | '\u{2011}' => out.push('-'),
            '\u{2012}'..='\u{2015}' | '\u{2212}' => out.push('\u{2013}'),
            c if c.is_whitespace() => out.push(' '),
            c if c.is_control() || is_invisible(c) => {}
            c => out.push(c),
        }
    }
    out
}

fn words(clean: &str, most: usize) -> Vec<Token> {
    let chars: Vec<(usize, char)> = clean.char_indices().collect();
    let at = |i: usize| chars.get(i).map(|&(_, c)| c);
    let byte = |i: usize| chars.get(i).map_or(clean.len(), |&(b, _)| b);
    let mut tokens = Vec::new();
    let mut joint = Joint::Plain;
    let mut i = 0;
    while let Some(c) = at(i) {
        if tokens.len() >= most {
            break;
        }
        if !c.is_alphanumeric() {
            let spaced = i == 0 || at(i - 1).is_none_or(|p| !p.is_alphanumeric());
            joint = joint.max(match c {
                '\n' | ';' | '.' | '!' | '?' | '|' => Joint::Full,
                '\u{2026}' | ',' | ':' | '(' | ')' | '[' | ']' | '{' | '}' | '\u{2013}' | '"' => Joint::Comma,
                '-' if spaced => Joint::Comma,
                '&' | '+' => Joint::And,
                _ => Joint::Plain,
            });
            i += 1;
            continue;
        }
        let first = i;
        let mut word = String::new();
        while let Some(c) = at(i) {
            let next_joins = at(i + 1).is_some_and(char::is_alphanumeric);
            if c.is_alphanumeric() {
                if word.len() < LONGEST_WORD {
                    fold(c, &mut word);
                }
            } else if ('\u{300}'..='\u{36f}').contains(&c) {
                // An accent written apart from its letter.
            } else if c == '\'' && next_joins {
                // "won't", "driver's": one word.
            } else if matches!(c, '.' | ',') && next_joins && is_digit(at(i.wrapping_sub(1))) && is_digit(at(i + 1)) {
                word.push('.');
            } else if matches!(c, '/' | '.') && next_joins && lone_letter(&chars, i - 1) && lone_letter(&chars, i + 1) {
                // "n/s/r", "o.s.": letters that stand for words. The stroke is kept, so that "u/s" is not "us".
                word.push('/');
            } else {
                break;
            }
            i += 1;
        }
        if !word.is_empty() {
            tokens.push(Token { word, start: byte(first), end: byte(i), joint });
            joint = Joint::Plain;
        }
    }
    tokens
}

fn is_digit(c: Option<char>) -> bool {
    c.is_some_and(|c| c.is_ascii_digit())
}

/// Whether the character at `i` is a letter with no letter or digit beside it.
fn lone_letter(chars: &[(usize, char)], i: usize) -> bool {
    let alnum = |i: Option<usize>| i.and_then(|i| chars.get(i)).is_some_and(|&(_, c)| c.is_alphanumeric());
    chars.get(i).is_some_and(|&(_, c)| c.is_alphabetic()) && !alnum(i.checked_sub(1)) && !alnum(i.checked_add(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: &str) -> String {
        Text::new(text, 100).plain()
    }

    #[test]
    fn case_punctuation_and_apostrophes_go() {
        assert_eq!(plain("  The HORN won't sound!! "), "the horn wont sound");
        assert_eq!(plain("driver\u{2019}s door"), "drivers door");
        assert_eq!(plain("number-plate lamp"), "number plate lamp");
    }

    #[test]
    fn accents_wide_letters_and_ligatures_fold() {
        assert_eq!(plain("Café ﬁne Ｌamp"), "cafe fine lamp");
        assert_eq!(plain("e\u{301}tat"), "etat");
    }

    #[test]
    fn numbers_and_their_decimals_stay() {
        assert_eq!(plain("12V at 11.8, 21W"), "12v at 11.8 21w");
    }

    #[test]
    fn stroke_letters_are_one_word_and_other_strokes_part_words() {
        assert_eq!(plain("N/S/R lamp u/s"), "n/s/r lamp u/s");
        assert_eq!(plain("stop/tail lamp"), "stop tail lamp");
        assert_eq!(plain("o.s. mirror"), "o/s mirror");
    }

    #[test]
    fn controls_escapes_and_direction_marks_vanish() {
        let text = Text::new("\u{1b}[31mhorn\u{1b}[0m \u{202e}dead\u{0}\u{7}\u{200b}\u{feff}", 100);
        assert_eq!(text.plain(), "horn dead");
        assert!(!text.clean.chars().any(|c| c.is_control() || is_invisible(c)));
        let title = Text::new("\u{1b}]0;rename\u{7}horn", 100);
        assert_eq!(title.plain(), "horn");
    }

    #[test]
    fn joints_are_told_apart() {
        let text = Text::new("a, b; c\nd e - f", 100);
        let joints: Vec<Joint> = text.tokens.iter().map(|t| t.joint).collect();
        use Joint::*;
        assert_eq!(joints, [Plain, Comma, Full, Full, Plain, Comma]);
    }

    #[test]
    fn token_ranges_point_into_the_clean_text() {
        let text = Text::new("\u{0}Horn\u{200b} won't", 100);
        let cut: Vec<&str> = text.tokens.iter().map(|t| &text.clean[t.start..t.end]).collect();
        assert_eq!(cut, ["Horn", "won't"]);
    }

    #[test]
    fn plain_texts_take_the_short_way_to_the_same_end() {
        for text in ["horn dead", "  tail   lamp out ", "", "a"] {
            let (short, long) = (plain_text(text, 9), words(text, 9));
            let range = |t: &Token| (t.word.clone(), t.start, t.end, t.joint);
            assert_eq!(
                short.tokens.iter().map(range).collect::<Vec<_>>(),
                long.iter().map(range).collect::<Vec<_>>(),
                "{text:?}"
            );
        }
    }

    #[test]
    fn long_words_are_cut_and_long_texts_stop() {
        let text = Text::new(&"x".repeat(1_000_000), 100);
        assert!(text.tokens.iter().all(|t| t.word.len() <= LONGEST_WORD + 4));
        assert_eq!(Text::new(&"horn ".repeat(1000), 60).tokens.len(), 60);
    }
}
