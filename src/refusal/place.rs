//! Places in refusal lines: "N/S/R", "nsf", "near side rear", "axle 2", "inner".
//!
//! Takes words in lower case; gives the place and the words that are left. "Front" and "rear" stay among the words, because they are part of
//! names too ("rear fog lamp"). Never decides whether a vehicle has such a place.

use crate::knowledge::{End, Position, Side};

/// The place a line names.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Spot {
    /// The side; `None` if none, or both.
    pub side: Option<Side>,
    /// The end.
    pub end: Option<End>,
    /// The axle, counted from the front.
    pub axle: Option<u8>,
    /// Inner or outer, of a pair.
    pub of_pair: Option<&'static str>,
    /// "Both", "all", or both sides named.
    pub all: bool,
}

impl Spot {
    /// Whether no place is named.
    pub fn is_empty(&self) -> bool {
        *self == Spot::default()
    }

    /// Whether a position of a vehicle may be meant; an axle counts as an end: the first is the front.
    pub fn fits(&self, at: Position) -> bool {
        let end = self.end.or(self.axle.map(|a| if a == 1 { End::Front } else { End::Rear }));
        self.side.is_none_or(|s| at.side.is_none_or(|a| a == s)) && end.is_none_or(|e| at.end.is_none_or(|a| a == e))
    }

    /// The place in words; empty if none.
    pub fn words(&self) -> String {
        let mut out: Vec<String> = Vec::new();
        if self.all {
            out.push("both or all".to_owned());
        }
        out.extend(self.end.map(|e| e.word().to_owned()));
        out.extend(self.side.map(|s| s.word().to_owned()));
        out.extend(self.axle.map(|a| format!("axle {a}")));
        out.extend(self.of_pair.map(str::to_owned));
        out.join(" ")
    }

    fn take_side(&mut self, side: Side) {
        match self.side {
            Some(before) if before != side => (self.side, self.all) = (None, true),
            None if self.all => {}
            _ => self.side = Some(side),
        }
    }
}

/// Reads the place off a line; gives it and the words without it.
pub fn spot(words: &[String]) -> (Spot, Vec<String>) {
    let mut spot = Spot::default();
    let mut left = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let word = words[at].as_str();
        let next = words.get(at + 1).map_or("", String::as_str);
        let after = words.get(at + 2).map_or("", String::as_str);
        let mut used = 1;
        match (word, next) {
            ("n" | "o", "s") => {
                spot.take_side(if word == "n" { Side::Nearside } else { Side::Offside });
                used = 2;
                used += usize::from(end_letter(&mut spot, after));
            }
            ("near" | "off", "side") => {
                spot.take_side(if word == "near" { Side::Nearside } else { Side::Offside });
                used = 2;
            }
            ("nearside" | "ns" | "n/s" | "left" | "lh" | "lhs" | "passenger", _) => spot.take_side(Side::Nearside),
            ("offside" | "os" | "o/s" | "right" | "rh" | "rhs", _) => spot.take_side(Side::Offside),
            ("l" | "r", "h") => {
                spot.take_side(if word == "l" { Side::Nearside } else { Side::Offside });
                used = if after == "s" { 3 } else { 2 };
            }
            ("nsr" | "nsf" | "osr" | "osf", _) => {
                spot.take_side(if word.starts_with('n') { Side::Nearside } else { Side::Offside });
                end_letter(&mut spot, &word[2..]);
            }
            ("axle", number) if ordinal(number).is_some() => {
                spot.axle = ordinal(number);
                used = 2;
            }
            (number, "axle") if ordinal(number).is_some() => {
                spot.axle = ordinal(number);
                used = 2;
            }
            ("inner" | "inside", _) => {
                spot.of_pair = Some("inner");
                left.push(word.to_owned());
            }
            ("outer", _) => {
                spot.of_pair = Some("outer");
                left.push(word.to_owned());
            }
            ("both", _) => spot.all = true,
            ("all", _) => {
                spot.all = true;
                left.push(word.to_owned());
            }
            ("front" | "rear" | "fr" | "rr", _) => {
                let end = if word.starts_with('f') { End::Front } else { End::Rear };
                // "Front and rear": no one end.
                spot.end = if spot.end.is_some_and(|e| e != end) { None } else { Some(end) };
                left.push(end.word().to_owned());
            }
            _ => left.push(word.to_owned()),
        }
        at += used;
    }
    (spot, left)
}

fn end_letter(spot: &mut Spot, letter: &str) -> bool {
    spot.end = match letter {
        "f" => Some(End::Front),
        "r" => Some(End::Rear),
        _ => return false,
    };
    true
}

fn ordinal(word: &str) -> Option<u8> {
    Some(match word {
        "1" | "one" | "1st" | "first" => 1,
        "2" | "two" | "2nd" | "second" => 2,
        "3" | "three" | "3rd" | "third" => 3,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::refusal::tokens::words;

    #[test]
    fn the_usual_spellings_of_a_place_come_to_the_same() {
        for text in
            ["N/S/R brake binding", "nsr brake binding", "Nearside Rear brake binding", "rear n/s brake binding"]
        {
            let (spot, left) = spot(&words(text));
            assert_eq!(spot.words(), "rear nearside", "{text}");
            assert!(left.iter().any(|w| w == "brake") && !left.iter().any(|w| w == "nearside"), "{left:?}");
        }
        assert_eq!(spot(&words("off-side front tyre")).0.words(), "front offside");
        assert_eq!(spot(&words("axle 2 offside inner tyre")).0.words(), "offside axle 2 inner");
        assert_eq!(spot(&words("2nd axle n.s. tyre")).0.words(), "nearside axle 2");
        assert!(spot(&words("horn not working")).0.is_empty());
        assert!(spot(&words("nearside and offside headlamp")).0.all);
    }
}
