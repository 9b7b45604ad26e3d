//! Makes any text safe to put on a screen: control, escape and direction-changing characters become visible marks.

/// Whether a character could drive a terminal or reorder text: C0 and C1 controls, bidirectional and zero-width marks, line separators.
fn drives(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}')
}

/// Replaces every character that could drive a terminal or reorder text (C0 and C1 controls, bidirectional and zero-width marks)
/// by `�`; tabs and line ends become one space.
pub fn visible(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' | '\r' => ' ',
            c if drives(c) => '\u{FFFD}',
            c => c,
        })
        .collect()
}

/// As [`visible`], with every byte offset and line kept, for a text that spans point into. Single-byte controls stay: the drawing of
/// problems has a picture for each.
pub(super) fn visible_in_place(text: &str) -> String {
    text.chars()
        .map(|c| match (drives(c), c.len_utf8()) {
            (true, 2) => '·',
            (true, 3) => '\u{FFFD}',
            _ => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{visible, visible_in_place};

    #[test]
    fn in_place_nothing_moves() {
        let text = "a\u{9b}b\u{61c}\nc\u{202e}d\u{feff}é";
        let shown = visible_in_place(text);
        assert_eq!(shown, "a·b·\nc�d�é");
        assert_eq!(shown.len(), text.len());
    }

    #[test]
    fn nothing_that_drives_a_terminal_gets_through() {
        assert_eq!(visible("a\u{1b}[31mb\u{202e}c\u{9b}\u{7}\n"), "a�[31mb�c�� ");
        assert_eq!(visible("plain – text"), "plain – text");
    }
}
