//! Letters with accents, wide letters and ligatures to plain small letters, and which characters cannot be seen.
//!
//! Covers Latin letters up to U+017F, full-width forms, combining marks and the common ligatures. Letters of other
//! scripts stay as they are in small form: they then count as words not understood.

/// Plain letters for U+00C0 to U+017F, in order; `.` keeps the character's own small form.
const LATIN: &str = "aaaaaa.ceeeeiiiidnooooo.ouuuuy..aaaaaa.ceeeeiiiidnooooo.ouuuuy.yaaaaaaccccccccddddeeeeeeeeeegggggggg\
hhhhiiiiiiiiii..jjkkkllllllllllnnnnnnnnnoooooo..rrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";

/// Appends the plain small form of `c` to `out`; nothing for a combining mark.
pub(super) fn fold(c: char, out: &mut String) {
    if c.is_ascii() {
        out.push(c.to_ascii_lowercase());
        return;
    }
    match c {
        '\u{c6}' | '\u{e6}' => out.push_str("ae"),
        '\u{df}' | '\u{1e9e}' => out.push_str("ss"),
        '\u{de}' | '\u{fe}' => out.push_str("th"),
        '\u{152}' | '\u{153}' => out.push_str("oe"),
        '\u{132}' | '\u{133}' => out.push_str("ij"),
        '\u{fb00}' => out.push_str("ff"),
        '\u{fb01}' => out.push_str("fi"),
        '\u{fb02}' => out.push_str("fl"),
        '\u{fb03}' => out.push_str("ffi"),
        '\u{fb04}' => out.push_str("ffl"),
        '\u{300}'..='\u{36f}' => {}
        '\u{ff01}'..='\u{ff5e}' => {
            let plain = char::from_u32(u32::from(c) - 0xfee0).unwrap_or(c);
            out.push(plain.to_ascii_lowercase());
        }
        '\u{c0}'..='\u{17f}' => {
            let at = (u32::from(c) - 0xc0) as usize;
            match LATIN.as_bytes().get(at) {
                Some(&b) if b != b'.' => out.push(char::from(b)),
                _ => out.extend(c.to_lowercase()),
            }
        }
        c => out.extend(c.to_lowercase().filter(|c| !('\u{300}'..='\u{36f}').contains(c))),
    }
}

/// Whether `c` shows nothing, or turns the direction of writing, and so has no business in a message.
pub(super) fn is_invisible(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{34f}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
        | '\u{3164}' | '\u{e000}'..='\u{f8ff}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}'
        | '\u{fff0}'..='\u{ffff}' | '\u{e0000}'..='\u{10ffff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folded(text: &str) -> String {
        let mut out = String::new();
        text.chars().for_each(|c| fold(c, &mut out));
        out
    }

    #[test]
    fn every_latin_letter_of_the_table_lands_on_its_plain_form() {
        assert_eq!(LATIN.len(), 0x17f - 0xc0 + 1);
        let cases = [
            ("ÀÁÅàáå", "aaaaaa"),
            ("Çç", "cc"),
            ("ÈËêé", "eeee"),
            ("Ññ", "nn"),
            ("Öøõ", "ooo"),
            ("Ýÿ", "yy"),
            ("Ąą", "aa"),
            ("Čč", "cc"),
            ("Ďđ", "dd"),
            ("Ęě", "ee"),
            ("Ğģ", "gg"),
            ("Ħħ", "hh"),
            ("Įİı", "iii"),
            ("Ķĸ", "kk"),
            ("Łł", "ll"),
            ("Ńň", "nn"),
            ("Őő", "oo"),
            ("Řŕ", "rr"),
            ("Şš", "ss"),
            ("Ťţ", "tt"),
            ("Ůų", "uu"),
            ("Ŵŵ", "ww"),
            ("Ŷŷ", "yy"),
            ("Žżź", "zzz"),
            ("ſ", "s"),
        ];
        for (from, to) in cases {
            assert_eq!(folded(from), to, "{from}");
        }
    }

    #[test]
    fn other_scripts_keep_their_letters() {
        assert_eq!(folded("Фара"), "фара");
    }
}
