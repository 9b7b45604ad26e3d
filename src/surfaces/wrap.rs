//! Lines of text to a width, with a hanging indent; plain ASCII where wanted.

use unicode_width::UnicodeWidthStr;

/// Breaks text into lines of at most `width` columns; the first begins with `first`, the others with `rest`. A word wider than a line stands alone.
pub(super) fn wrap(text: &str, width: usize, first: &str, rest: &str) -> String {
    let mut out = String::from(first);
    let mut column = first.width();
    let mut fresh = true;
    for word in text.split_whitespace() {
        let wide = word.width();
        if !fresh && column + 1 + wide > width {
            out.push('\n');
            out.push_str(rest);
            column = rest.width();
            fresh = true;
        }
        if !fresh {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += wide;
        fresh = false;
    }
    out
}

/// Text in 7-bit letters: each symbol the program uses has a plain twin; what has none becomes a question mark.
pub(super) fn ascii(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '–' | '—' | '−' => out.push('-'),
            '“' | '”' => out.push('"'),
            '‘' | '’' => out.push('\''),
            '…' => out.push_str("..."),
            '£' => out.push_str("GBP "),
            '→' => out.push_str("->"),
            '×' => out.push('x'),
            '█' => out.push('#'),
            '░' => out.push('.'),
            'Ω' => out.push_str("ohm"),
            '°' => out.push_str("deg "),
            '²' => out.push('2'),
            '½' => out.push_str("1/2"),
            'é' | 'è' | 'ê' => out.push('e'),
            c if c.is_ascii() => out.push(c),
            _ => out.push('?'),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_the_width_and_hang() {
        assert_eq!(wrap("one two three", 9, "1. ", "   "), "1. one\n   two\n   three");
        assert_eq!(wrap("", 9, "x", ""), "x");
        assert_eq!(wrap("unbreakableword a", 5, "", ""), "unbreakableword\na");
    }

    #[test]
    fn plain_text_has_no_byte_above_127() {
        let text = ascii("“£3” – 5 × 2 → … ☃");
        assert!(text.is_ascii());
        assert_eq!(text, "\"GBP 3\" - 5 x 2 -> ... ?");
    }
}
