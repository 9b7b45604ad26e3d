//! The nearest name to one that does not exist, for "did you mean …".

/// Finds the candidate nearest to `word`, if any is near enough to be a slip of the pen.
///
/// Nearness is Jaro-Winkler similarity (Winkler 1990) of at least 0.84, or one name holding the other; ties go to the earlier name in
/// the alphabet so that a report is repeatable.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let mut best: Option<(f64, &'a str)> = None;
    for candidate in candidates {
        if candidate == word {
            continue;
        }
        let mut score = strsim::jaro_winkler(word, candidate);
        if word.len() >= 4 && (candidate.contains(word) || word.contains(candidate)) {
            score = score.max(0.9);
        }
        if score < 0.84 {
            continue;
        }
        let better = match best {
            None => true,
            Some((s, name)) => score > s || (score == s && candidate < name),
        };
        if better {
            best = Some((score, candidate));
        }
    }
    best.map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_of_the_pen_is_found_and_a_stranger_is_not() {
        let names = ["horn-dead", "wipers-dead", "wipers-slow"];
        assert_eq!(nearest("wiper-dead", names), Some("wipers-dead"));
        assert_eq!(nearest("gearbox", names), None);
    }
}
