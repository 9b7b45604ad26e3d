//! Measured values: a number with a unit, as people type it ("11.9", "12,4 V", "900 mV"), brought to the unit a check asks for.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The units that checks ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Unit {
    /// Volt.
    Volt,
    /// Ampere.
    Ampere,
    /// Ohm.
    Ohm,
    /// Watt.
    Watt,
    /// Millimetre.
    Millimetre,
    /// Metre.
    Metre,
    /// Bar.
    Bar,
    /// Degree Celsius.
    Celsius,
    /// Second.
    Second,
    /// Per minute (flashes, strokes).
    PerMinute,
    /// Per cent.
    Percent,
    /// Specific gravity.
    SpecificGravity,
    /// Turns.
    Turns,
}

/// What is being measured, so that only like is turned into like.
#[derive(PartialEq, Eq, Clone, Copy)]
enum Quantity {
    Voltage,
    Current,
    Resistance,
    Power,
    Length,
    Pressure,
    Temperature,
    Time,
    Rate,
    Share,
    Gravity,
    Turning,
}

/// How units may be written: spelling, quantity, factor to the base unit of the quantity, and the [`Unit`] if checks may ask for it.
/// Factors are exact by definition (BIPM, The International System of Units, 9th edition 2019, for the SI ones; 1 in = 25.4 mm by
/// the international yard and pound agreement of 1959; 1 psi = 6894.757293 Pa, NIST SP 811, 2008, Appendix B).
const SPELLINGS: &[(&str, Quantity, f64, Option<Unit>)] = &[
    ("V", Quantity::Voltage, 1.0, Some(Unit::Volt)),
    ("volt", Quantity::Voltage, 1.0, None),
    ("volts", Quantity::Voltage, 1.0, None),
    ("mV", Quantity::Voltage, 0.001, None),
    ("A", Quantity::Current, 1.0, Some(Unit::Ampere)),
    ("amp", Quantity::Current, 1.0, None),
    ("amps", Quantity::Current, 1.0, None),
    ("mA", Quantity::Current, 0.001, None),
    ("ohm", Quantity::Resistance, 1.0, Some(Unit::Ohm)),
    ("ohms", Quantity::Resistance, 1.0, None),
    ("Ω", Quantity::Resistance, 1.0, None),
    ("kohm", Quantity::Resistance, 1000.0, None),
    ("W", Quantity::Power, 1.0, Some(Unit::Watt)),
    ("watt", Quantity::Power, 1.0, None),
    ("watts", Quantity::Power, 1.0, None),
    ("mm", Quantity::Length, 1.0, Some(Unit::Millimetre)),
    ("cm", Quantity::Length, 10.0, None),
    ("m", Quantity::Length, 1000.0, Some(Unit::Metre)),
    ("in", Quantity::Length, 25.4, None),
    ("inch", Quantity::Length, 25.4, None),
    ("inches", Quantity::Length, 25.4, None),
    ("bar", Quantity::Pressure, 1.0, Some(Unit::Bar)),
    ("psi", Quantity::Pressure, 0.068_947_572_93, None),
    ("kPa", Quantity::Pressure, 0.01, None),
    ("C", Quantity::Temperature, 1.0, Some(Unit::Celsius)),
    ("°C", Quantity::Temperature, 1.0, None),
    ("s", Quantity::Time, 1.0, Some(Unit::Second)),
    ("sec", Quantity::Time, 1.0, None),
    ("seconds", Quantity::Time, 1.0, None),
    ("min", Quantity::Time, 60.0, None),
    ("h", Quantity::Time, 3600.0, None),
    ("per-minute", Quantity::Rate, 1.0, Some(Unit::PerMinute)),
    ("/min", Quantity::Rate, 1.0, None),
    ("per minute", Quantity::Rate, 1.0, None),
    ("percent", Quantity::Share, 1.0, Some(Unit::Percent)),
    ("%", Quantity::Share, 1.0, None),
    ("sg", Quantity::Gravity, 1.0, Some(Unit::SpecificGravity)),
    ("turns", Quantity::Turning, 1.0, Some(Unit::Turns)),
    ("turn", Quantity::Turning, 1.0, None),
];

impl Unit {
    /// The unit of that spelling, if checks may ask for it (`"V"`, `"mm"`, `"per-minute"` …).
    pub fn named(name: &str) -> Option<Unit> {
        SPELLINGS.iter().find(|(s, ..)| *s == name).and_then(|(.., u)| *u)
    }

    /// Every unit that checks may ask for, by spelling.
    pub fn names() -> impl Iterator<Item = &'static str> {
        SPELLINGS.iter().filter(|(.., u)| u.is_some()).map(|(s, ..)| *s)
    }

    /// The spelling that [`Unit::named`] reads.
    pub fn spelling(self) -> &'static str {
        self.row().map_or("", |r| r.0)
    }

    fn row(self) -> Option<&'static (&'static str, Quantity, f64, Option<Unit>)> {
        SPELLINGS.iter().find(|(.., u)| *u == Some(self))
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Unit::PerMinute => "a minute",
            Unit::Percent => "%",
            Unit::Celsius => "°C",
            other => other.row().map_or("", |r| r.0),
        })
    }
}

/// A measured value in the unit asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// Whether the person wrote the unit.
    pub unit_given: bool,
}

/// Why a text is not a measured value.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAMeasure {
    /// No number at its beginning.
    #[error("“{0}” is not a number; type one such as 11.8, with or without the unit")]
    NotANumber(String),
    /// The unit is not known.
    #[error("“{got}” is not a unit known here; the answer wanted is in {want}")]
    UnknownUnit {
        /// The unit as typed.
        got: String,
        /// The unit asked for.
        want: String,
    },
    /// A unit of another quantity.
    #[error("“{got}” does not measure this; the answer wanted is in {want}")]
    WrongUnit {
        /// The unit as typed.
        got: String,
        /// The unit asked for.
        want: String,
    },
}

impl Measured {
    /// Reads what a person typed, in the unit asked for. A decimal comma is taken for a point. Without a unit the number is taken to be in
    /// the unit asked for.
    ///
    /// # Errors
    /// If there is no number, or its unit is unknown or of another quantity.
    pub fn parse(text: &str, want: Unit) -> Result<Measured, NotAMeasure> {
        let text = text.trim();
        let end = text
            .char_indices()
            .find(|(i, c)| !(c.is_ascii_digit() || matches!(c, '.' | ',') || (*i == 0 && matches!(c, '-' | '+'))))
            .map_or(text.len(), |(i, _)| i);
        let (number, unit) = text.split_at(end);
        let value: f64 = number
            .replace(',', ".")
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| NotAMeasure::NotANumber(crate::report::visible(text)))?;
        let unit = unit.trim();
        if unit.is_empty() {
            return Ok(Measured { value, unit: want, unit_given: false });
        }
        let found = SPELLINGS
            .iter()
            .find(|(s, ..)| *s == unit)
            .or_else(|| SPELLINGS.iter().find(|(s, ..)| s.eq_ignore_ascii_case(unit) && !matches!(*s, "mA" | "mV")))
            .ok_or_else(|| NotAMeasure::UnknownUnit { got: crate::report::visible(unit), want: want.to_string() })?;
        match want.row() {
            Some(row) if row.1 == found.1 => {
                Ok(Measured { value: value * found.2 / row.2, unit: want, unit_given: true })
            }
            _ => Err(NotAMeasure::WrongUnit { got: crate::report::visible(unit), want: want.to_string() }),
        }
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_with_and_without_their_unit() {
        for (text, want, value) in [
            ("11.9", Unit::Volt, 11.9),
            (" 12,4 v ", Unit::Volt, 12.4),
            ("900mV", Unit::Volt, 0.9),
            ("1 in", Unit::Millimetre, 25.4),
            ("4 cm", Unit::Millimetre, 40.0),
            ("90 per minute", Unit::PerMinute, 90.0),
            ("1.5 min", Unit::Second, 90.0),
        ] {
            let got = Measured::parse(text, want).map(|m| m.value);
            assert!(got.is_ok_and(|v| (v - value).abs() < 1e-12), "{text}");
        }
    }

    #[test]
    fn a_wrong_or_unknown_unit_is_told_apart_from_no_number() {
        assert!(matches!(Measured::parse("12 A", Unit::Volt), Err(NotAMeasure::WrongUnit { .. })));
        assert!(matches!(Measured::parse("12 furlongs", Unit::Volt), Err(NotAMeasure::UnknownUnit { .. })));
        assert!(matches!(Measured::parse("1e400", Unit::Volt), Err(NotAMeasure::UnknownUnit { .. })));
        for text in ["", "lots", "--3", "1.2.3"] {
            assert!(matches!(Measured::parse(text, Unit::Volt), Err(NotAMeasure::NotANumber(_))), "{text}");
        }
    }
}
