//! Makes any text safe to put on a screen: control, escape and direction-changing characters become visible marks.

/// Replaces every character that could drive a terminal or reorder text (C0 and C1 controls, bidirectional and zero-width marks)
/// by `�`; tabs and line ends become one space.
pub fn visible(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' | '\r' => ' ',
            c if c.is_control() => '\u{FFFD}',
            '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}' => '\u{FFFD}',
            c => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::visible;

    #[test]
    fn nothing_that_drives_a_terminal_gets_through() {
        assert_eq!(visible("a\u{1b}[31mb\u{202e}c\u{9b}\u{7}\n"), "a�[31mb�c�� ");
        assert_eq!(visible("plain – text"), "plain – text");
    }
}
