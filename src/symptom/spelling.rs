//! Mends misspelt words against the words the knowledge uses.
//!
//! Takes the known words with how often each occurs; gives, for a word that is not known, the known word most likely
//! meant, or none. Never touches a known word: the caller asks only about unknown ones. Distances are optimal string
//! alignment (Damerau 1964, restricted): a swap of neighbours counts once.

use super::quick_hash::Map;

/// Known words, ready for mending.
pub(super) struct Speller {
    words: Vec<Known>,
    /// Indices into `words` by length in characters.
    by_length: Vec<Vec<u32>>,
    /// How a word sounds, roughly, to an index.
    by_sound: Map<String, u32>,
}

struct Known {
    word: String,
    letters: u32,
    count: u32,
}

/// Words shorter than this are never mended: too much else is near them.
const SHORTEST: usize = 4;

impl Speller {
    /// Takes known words, each with how often it occurs. Words under four letters and words with digits are left out.
    pub fn new<'a>(known: impl Iterator<Item = (&'a str, u32)>) -> Speller {
        let mut speller = Speller { words: Vec::new(), by_length: Vec::new(), by_sound: Map::default() };
        for (word, count) in known {
            let length = word.len();
            if length < SHORTEST || !word.bytes().all(|b| b.is_ascii_lowercase()) {
                continue;
            }
            let index = speller.words.len() as u32;
            if speller.by_length.len() <= length {
                speller.by_length.resize_with(length + 1, Vec::new);
            }
            speller.by_length[length].push(index);
            speller.words.push(Known { word: word.to_owned(), letters: letters(word), count });
        }
        for (index, known) in speller.words.iter().enumerate() {
            let heard = speller.by_sound.entry(sound(&known.word)).or_insert(index as u32);
            if speller.words[*heard as usize].rank() < known.rank() {
                *heard = index as u32;
            }
        }
        speller
    }

    /// The known word most likely meant by the unknown `word`.
    pub fn mend(&self, word: &str) -> Option<&str> {
        if word.len() < SHORTEST - 1 || !word.bytes().all(|b| b.is_ascii_lowercase()) {
            return None;
        }
        let mut best: Option<(usize, &Known)> = None;
        for (form, toll) in forms(word) {
            self.nearest(form, toll, &mut best);
        }
        best.map(|(_, known)| known.word.as_str())
    }

    fn nearest<'s>(&'s self, form: &str, toll: usize, best: &mut Option<(usize, &'s Known)>) {
        let mut offer = |cost: usize, known: &'s Known| {
            let better = best.is_none_or(|(least, held)| cost < least || (cost == least && held.rank() < known.rank()));
            if better {
                *best = Some((cost, known));
            }
        };
        if form.len() >= SHORTEST
            && let Some(&index) = self.by_sound.get(&sound(form))
            && let Some(known) = self.words.get(index as usize)
        {
            offer(3 + toll, known);
        }
        let mask = letters(form);
        let reach = limit(form.len() + 2);
        for length in form.len().saturating_sub(reach)..=form.len() + reach {
            for &index in self.by_length.get(length).into_iter().flatten() {
                let known = &self.words[index as usize];
                let limit = limit(form.len().max(length));
                if form.len().abs_diff(length) > limit || (mask ^ known.letters).count_ones() as usize > 2 * limit {
                    continue;
                }
                let distance = strsim::osa_distance(form, &known.word);
                if distance > limit || !plausible(form, &known.word, distance) {
                    continue;
                }
                offer(2 * distance + toll, known);
            }
        }
    }
}

impl Known {
    /// Among equals: more frequent, then shorter, then earlier in the alphabet.
    fn rank(&self) -> (u32, std::cmp::Reverse<usize>, std::cmp::Reverse<&str>) {
        (self.count, std::cmp::Reverse(self.word.len()), std::cmp::Reverse(self.word.as_str()))
    }
}

/// Edits allowed in a word of so many letters.
fn limit(length: usize) -> usize {
    match length {
        0..=6 => 1,
        7..=10 => 2,
        _ => 3,
    }
}

/// The word itself, then without its ending, which costs a little more.
fn forms(word: &str) -> impl Iterator<Item = (&str, usize)> {
    let cut = ["s", "ing", "ed", "er"].into_iter().filter_map(move |ending| {
        let stem = word.strip_suffix(ending)?;
        (stem.len() >= SHORTEST).then_some((stem, 1))
    });
    std::iter::once((word, 0)).chain(cut)
}

/// Rules out pairs that are near by the letter but hardly ever meant for each other.
fn plausible(typed: &str, known: &str, distance: usize) -> bool {
    let (a, b) = (typed.as_bytes(), known.as_bytes());
    let same_start = a.first() == b.first();
    if !same_start {
        let swapped = a.len() > 1 && b.len() > 1 && a[0] == b[1] && a[1] == b[0];
        let dropped_h = b.first() == Some(&b'h') && known[1..] == *typed;
        let sounds_alike = matches!(
            (a[0], b[0]),
            (b'k', b'c') | (b'c', b'k') | (b'f', b'p') | (b'w', b'r') | (b'j', b'g') | (b's', b'c')
        );
        let long_and_close = a.len() >= 6 && distance == 1;
        if !(swapped || dropped_h || sounds_alike || long_and_close) {
            return false;
        }
    }
    if typed.len() <= 5 && typed.len() == known.len() {
        // One letter for another in a short word: most such pairs are two words of their own.
        let mut differ = a.iter().zip(b).filter(|(x, y)| x != y);
        if let (Some((x, y)), None) = (differ.next(), differ.next()) {
            return alike_letters(*x, *y);
        }
    }
    if typed.len() <= 4 && known.len() < typed.len() {
        return doubled(a);
    }
    true
}

fn doubled(word: &[u8]) -> bool {
    word.windows(2).any(|w| w[0] == w[1])
}

/// Letters often written for each other: vowels, and consonants made in the same place of the mouth.
fn alike_letters(x: u8, y: u8) -> bool {
    let vowel = |b| matches!(b, b'a' | b'e' | b'i' | b'o' | b'u' | b'y');
    (vowel(x) && vowel(y))
        || matches!(
            (x.min(y), x.max(y)),
            (b'b', b'p')
                | (b'd', b't')
                | (b'c', b'k')
                | (b'c', b's')
                | (b'g', b'j')
                | (b'f', b'v')
                | (b'm', b'n')
                | (b's', b'z')
                | (b'c', b'q')
        )
}

/// Which letters occur, one bit each.
fn letters(word: &str) -> u32 {
    word.bytes().fold(0, |mask, b| mask | 1 << (b.wrapping_sub(b'a') & 31))
}

/// A rough key of how a word sounds: silent letters and doublings gone, letters of one sound made one.
fn sound(word: &str) -> String {
    let mut text = word.to_owned();
    for (from, to) in [
        ("ight", "it"),
        ("ough", "of"),
        ("gh", "g"),
        ("tch", "ch"),
        ("ck", "k"),
        ("ph", "f"),
        ("wh", "w"),
        ("kn", "n"),
        ("wr", "r"),
        ("qu", "kw"),
        ("au", "a"),
        ("ea", "e"),
        ("ee", "e"),
        ("ie", "e"),
        ("ei", "e"),
        ("ai", "a"),
        ("ay", "a"),
        ("oo", "u"),
        ("ou", "u"),
    ] {
        if text.contains(from) {
            text = text.replace(from, to);
        }
    }
    let mut out = String::with_capacity(text.len());
    let bytes = text.as_bytes();
    for (i, &b) in bytes.iter().enumerate() {
        let next = bytes.get(i + 1).copied();
        let b = match b {
            b'c' if matches!(next, Some(b'e' | b'i' | b'y')) => b's',
            b'c' if next != Some(b'h') => b'k',
            b'z' => b's',
            b'y' if i > 0 => b'i',
            b => b,
        };
        if out.as_bytes().last() != Some(&b) {
            out.push(char::from(b));
        }
    }
    if out.len() > 3 && out.ends_with('e') {
        out.pop();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn speller() -> Speller {
        let words = [
            "headlight",
            "headlights",
            "indicator",
            "indicators",
            "wiper",
            "wipers",
            "battery",
            "flicker",
            "brake",
            "bulb",
            "horn",
            "nearside",
            "working",
            "switch",
            "alternator",
            "light",
            "lamp",
            "tyre",
            "dim",
            "hose",
            "motor",
            "wing",
            "reflector",
            "squeal",
            "wheel",
        ];
        Speller::new(words.into_iter().map(|w| (w, 1)))
    }

    #[test]
    fn swaps_doublings_and_lost_letters_are_mended() {
        let cases = [
            ("haedlight", "headlight"),
            ("headlihgts", "headlights"),
            ("indicater", "indicator"),
            ("indecaters", "indicators"),
            ("wippers", "wipers"),
            ("whiper", "wiper"),
            ("batery", "battery"),
            ("batry", "battery"),
            ("flikering", "flicker"),
            ("braek", "brake"),
            ("blub", "bulb"),
            ("hron", "horn"),
            ("nerside", "nearside"),
            ("wokring", "working"),
            ("swich", "switch"),
            ("altenater", "alternator"),
            ("lihgt", "light"),
            ("hedlite", "headlight"),
            ("refelctor", "reflector"),
            ("sqeal", "squeal"),
            ("weel", "wheel"),
        ];
        for (typed, meant) in cases {
            assert_eq!(speller().mend(typed), Some(meant), "{typed}");
        }
    }

    #[test]
    fn words_that_are_other_words_are_left_alone() {
        for typed in ["radio", "sunroof", "wind", "night", "sight", "dam", "din", "him", "mother", "cat", "12v", "born"]
        {
            assert_eq!(speller().mend(typed), None, "{typed}");
        }
    }

    #[test]
    fn among_equals_the_more_frequent_word_wins() {
        let speller = Speller::new([("lamps", 1), ("lames", 9)].into_iter());
        assert_eq!(speller.mend("lams"), Some("lames"));
    }
}
