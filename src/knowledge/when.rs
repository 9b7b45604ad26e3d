//! For which vehicles something holds: a small set of trait conditions, all, any, not. No expression language.

use serde::{Deserialize, Serialize};

/// Conditions that must all hold; an empty one holds for every vehicle.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct When {
    /// Trait name and what it must satisfy.
    pub traits: Vec<(String, Test)>,
    /// Kinds of place the vehicle must have at least one of.
    pub has: Vec<String>,
    /// None of these may hold.
    pub not: Vec<When>,
    /// At least one of these must hold, if there are any.
    pub any: Vec<When>,
}

/// What a trait must satisfy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Test {
    /// One of these words.
    OneOf(Vec<String>),
    /// A number or a date in a range.
    Within(Range),
}

/// A range of numbers, or of dates written year-month-day (which sort as text).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Range {
    /// At least this.
    pub from: Option<String>,
    /// Less than this.
    pub before: Option<String>,
}

impl When {
    /// Whether it holds for every vehicle.
    pub fn is_always(&self) -> bool {
        self.traits.is_empty() && self.has.is_empty() && self.not.is_empty() && self.any.is_empty()
    }

    /// Whether it holds for a vehicle whose traits are given by `value` and whose kinds of place by `has`.
    pub fn holds<'v>(&self, value: &impl Fn(&str) -> Option<&'v str>, has: &impl Fn(&str) -> bool) -> bool {
        self.traits.iter().all(|(name, test)| value(name).is_some_and(|v| test.passes(v)))
            && self.has.iter().all(|kind| has(kind))
            && !self.not.iter().any(|w| w.holds(value, has))
            && (self.any.is_empty() || self.any.iter().any(|w| w.holds(value, has)))
    }
}

impl Test {
    /// Whether a trait's value satisfies it.
    pub fn passes(&self, value: &str) -> bool {
        match self {
            Test::OneOf(words) => words.iter().any(|w| w == value),
            Test::Within(range) => {
                range.from.as_deref().is_none_or(|from| !less(value, from))
                    && range.before.as_deref().is_none_or(|before| less(value, before))
            }
        }
    }
}

/// Compares two numbers, or two dates written year-month-day.
fn less(a: &str, b: &str) -> bool {
    match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(a), Ok(b)) => a < b,
        _ => a < b,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(when: &When) -> bool {
        let value = |name: &str| match name {
            "fuel" => Some("diesel"),
            "wheels" => Some("3"),
            "first-used" => Some("1985-07-01"),
            _ => None,
        };
        when.holds(&value, &|kind: &str| kind == "reversing-lamp")
    }

    fn one(name: &str, test: Test) -> When {
        When { traits: vec![(name.into(), test)], ..When::default() }
    }

    #[test]
    fn all_any_not_and_has_mean_what_they_say() {
        let diesel = one("fuel", Test::OneOf(vec!["diesel".into()]));
        let petrol = one("fuel", Test::OneOf(vec!["petrol".into()]));
        assert!(on(&When::default()) && on(&diesel) && !on(&petrol));
        assert!(on(&When { not: vec![petrol.clone()], ..When::default() }));
        assert!(on(&When { any: vec![petrol, diesel], ..When::default() }));
        assert!(on(&When { has: vec!["reversing-lamp".into()], ..When::default() }));
        assert!(!on(&When { has: vec!["wiper".into()], ..When::default() }));
    }

    #[test]
    fn ranges_compare_numbers_and_dates() {
        let range = |from: Option<&str>, before: Option<&str>| {
            Test::Within(Range { from: from.map(Into::into), before: before.map(Into::into) })
        };
        assert!(on(&one("wheels", range(Some("3"), Some("10")))));
        assert!(!on(&one("wheels", range(Some("4"), None))));
        assert!(on(&one("first-used", range(None, Some("1986-04-01")))));
        assert!(!on(&one("first-used", range(Some("1986-04-01"), None))));
    }
}
