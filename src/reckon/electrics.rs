//! Lamp currents and lives, fuses, voltage drop and battery charge.
//!
//! Takes and gives plain numbers in the units each function names; checks nothing, and never rounds. Resistivities are in ohm mm²/m.

/// Current in amperes of a load of `watts` at `volts`: I = P / V. Not finite for no volts.
pub fn current(watts: f64, volts: f64) -> f64 {
    watts / volts
}

/// Power in watts: P = V · I.
pub fn power(volts: f64, amps: f64) -> f64 {
    volts * amps
}

/// Resistance in ohms: R = V / I.
pub fn resistance(volts: f64, amps: f64) -> f64 {
    volts / amps
}

/// Current in amperes through a resistance of `ohms` across `volts`: I = V / R (Ohm's law).
pub fn current_through(volts: f64, ohms: f64) -> f64 {
    volts / ohms
}

/// Current in amperes through resistances in ohms one after another across `volts`: I = V / ΣR (Ohm's law).
pub fn series_current(volts: f64, ohms: &[f64]) -> f64 {
    current_through(volts, ohms.iter().sum())
}

/// Current in amperes of loads of so many watts side by side at `volts`: I = ΣP / V (rule of cable tables for sizing a fuse).
pub fn total_current(watts: &[f64], volts: f64) -> f64 {
    current(watts.iter().sum(), volts)
}

/// Blade fuses: rating in amperes and colour (ISO 8820-3 as printed in fuse makers' charts; 35 A and 40 A from memory).
pub const BLADE_FUSES: [(f64, &str); 14] = [
    (0.5, "dark blue"),
    (1.0, "black"),
    (2.0, "grey"),
    (3.0, "violet"),
    (4.0, "pink"),
    (5.0, "tan"),
    (7.5, "brown"),
    (10.0, "red"),
    (15.0, "blue"),
    (20.0, "yellow"),
    (25.0, "clear"),
    (30.0, "green"),
    (35.0, "blue-green"),
    (40.0, "orange"),
];

/// A fuse is rated at least this many times the largest load current (cable and fuse guides).
pub const FUSE_FACTOR: f64 = 1.5;

/// The least rating in amperes of a fuse for a load current in amperes: [`FUSE_FACTOR`] times it.
pub fn least_fuse(amps: f64) -> f64 {
    FUSE_FACTOR * amps
}

/// The smallest blade fuse of at least [`least_fuse`]; `None` above the largest. The rating must also be below what the cable carries.
pub fn fuse_for(amps: f64) -> Option<f64> {
    BLADE_FUSES.into_iter().map(|(rating, _)| rating).find(|rating| *rating >= least_fuse(amps))
}

/// The colour of a blade fuse of that rating in amperes; `None` if there is no such rating.
pub fn fuse_colour(rating: f64) -> Option<&'static str> {
    BLADE_FUSES.into_iter().find(|(amps, _)| (amps - rating).abs() < 1e-9).map(|(_, colour)| colour)
}

/// Resistivity of copper at 20 °C in ohm mm²/m (NBS Handbook 100, 1966: IACS volume resistivity).
pub const COPPER: f64 = 0.017_241;

/// Rise of copper's resistance for each kelvin above 20 °C, as a share of that at 20 °C (IEC 60028, from memory).
pub const COPPER_RISE: f64 = 0.003_93;

/// Ohms to the metre of a conductor of `area_mm2` square millimetres: R/l = ρ / A, with [`COPPER`] or another resistivity.
pub fn ohm_per_metre(area_mm2: f64, resistivity: f64) -> f64 {
    resistivity / area_mm2
}

/// Resistance of a copper cable in ohms: metres of conductor (there and back) and square millimetres, at 20 °C.
pub fn cable_resistance(metres: f64, area_mm2: f64) -> f64 {
    metres * ohm_per_metre(area_mm2, COPPER)
}

/// The least area in square millimetres that loses no more than `drop` volts over `metres` of conductor (there and back) at `amps`:
/// A = ρ · l · I / U, from R = ρ · l / A and U = I · R.
pub fn least_area(metres: f64, amps: f64, drop: f64, resistivity: f64) -> f64 {
    resistivity * metres * amps / drop
}

/// Area in square millimetres of `strands` round strands of `diameter_mm`: n · π · d² / 4.
pub fn strand_area(strands: f64, diameter_mm: f64) -> f64 {
    strands * std::f64::consts::PI * diameter_mm * diameter_mm / 4.0
}

/// Factor that a copper cable's resistance at `celsius` is divided by to give that at 20 °C: 1 / (1 + α · (t − 20)), the temperature
/// factor of IEC 60228 with α = [`COPPER_RISE`].
pub fn copper_temperature_factor(celsius: f64) -> f64 {
    1.0 / (1.0 + COPPER_RISE * (celsius - 20.0))
}

/// Volts lost in a cable of so many ohms to the metre: drop = I · R.
pub fn drop_per_metre(metres: f64, ohm_per_metre: f64, amps: f64) -> f64 {
    metres * ohm_per_metre * amps
}

/// Volts as a share of the system's, in per cent.
pub fn percent_of(volts: f64, system: f64) -> f64 {
    100.0 * volts / system
}

/// Factor on bulb life at a voltage `ratio` times the rated one: ratio to the power of minus `exponent` (12 to 14 in lamp makers' notes).
pub fn bulb_life_factor(ratio: f64, exponent: f64) -> f64 {
    ratio.powf(-exponent)
}

/// Base failure rate of a filament lamp in failures per million hours: 0.074 · V^1.29, `rated_volts` being the rated voltage
/// (MIL-HDBK-217F, 1991, section 20.1).
pub fn lamp_base_rate(rated_volts: f64) -> f64 {
    0.074 * rated_volts.powf(1.29)
}

/// Failure rate of a filament lamp in failures per million hours: [`lamp_base_rate`] times the factors for how much of the time it is lit,
/// for alternating (1) or direct current (3.3), and for the surroundings (MIL-HDBK-217F, 1991, section 20.1).
pub fn lamp_rate(rated_volts: f64, lit: f64, current_kind: f64, surroundings: f64) -> f64 {
    lamp_base_rate(rated_volts) * lit * current_kind * surroundings
}

/// Shape of the Weibull law of lamp lives from two figures of lamp makers' notes: the hours by which 3 % have failed (B3) and those by
/// which 63.2 % have (Tc): β = ln(−ln 0.97) / ln(B3 / Tc), since 1 − F = exp(−(t/Tc)^β).
pub fn lamp_life_shape(b3_hours: f64, tc_hours: f64) -> f64 {
    (-(0.97_f64.ln())).ln() / (b3_hours / tc_hours).ln()
}

/// Open-circuit volts of a rested 12 V lead-acid battery and its charge in per cent (state-of-charge tables credited to BCI, 26.7 °C).
pub const BATTERY: [(f64, f64); 5] = [(11.89, 0.0), (12.06, 25.0), (12.24, 50.0), (12.45, 75.0), (12.65, 100.0)];

/// Specific gravity of the acid and charge in per cent, from the same tables as [`BATTERY`].
pub const GRAVITY: [(f64, f64); 5] = [(1.120, 0.0), (1.155, 25.0), (1.190, 50.0), (1.225, 75.0), (1.265, 100.0)];

/// State of charge in per cent from open-circuit volts, straight between the rows of [`BATTERY`], held at its ends.
pub fn state_of_charge(volts: f64) -> f64 {
    between_rows(&BATTERY, volts)
}

/// State of charge in per cent from specific gravity at 26.7 °C, straight between the rows of [`GRAVITY`], held at its ends.
pub fn state_of_charge_by_gravity(gravity: f64) -> f64 {
    between_rows(&GRAVITY, gravity)
}

/// Straight between rows in ascending order, held at the ends.
fn between_rows(rows: &[(f64, f64)], at: f64) -> f64 {
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    if at <= first.0 {
        return first.1;
    }
    for pair in rows.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        if at <= x1 {
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0);
        }
    }
    last.1
}

/// What to add to a specific gravity read at `celsius` to bring it to 80 °F (26.7 °C): 0.004 for every 10 °F above
/// (hydrometer compensation table of battery makers).
pub fn gravity_correction(celsius: f64) -> f64 {
    0.004 * (1.8 * celsius + 32.0 - 80.0) / 10.0
}

/// What to add to the open-circuit volts of a 12 V battery read at `celsius` to bring them to 26.7 °C: [`gravity_correction`] in each of
/// six cells, since a cell's volts go with its gravity (the same table: 0.024 V for every 10 °F).
pub fn rest_volts_correction(celsius: f64) -> f64 {
    6.0 * gravity_correction(celsius)
}

/// Specific gravity of a rested cell from its open-circuit volts: volts − 0.845 (DOE-HDBK-1084-95; the form of the equation from memory).
pub fn gravity_from_cell_volts(cell_volts: f64) -> f64 {
    cell_volts - 0.845
}

/// Points (thousandths) by which the gravity falls for `amp_hours` taken out, at so many points for each ampere-hour of that battery
/// (US Navy training course 14113: gravity falls in proportion to what is taken).
pub fn gravity_points(amp_hours: f64, points_per_amp_hour: f64) -> f64 {
    amp_hours * points_per_amp_hour
}

/// Capacity left in per cent of the rated one, from a discharge at the rated current: hours delivered over rated hours
/// (US Navy training course 14113).
pub fn capacity_left(hours: f64, rated_hours: f64) -> f64 {
    percent_of(hours, rated_hours)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fuse_is_the_next_rating_above_one_and_a_half_times_the_load() {
        assert_eq!(fuse_for(current(4.0 * 21.0, 12.0)), Some(15.0));
        assert_eq!(fuse_for(current(21.0, 12.0)), Some(3.0));
        assert_eq!(fuse_for(100.0), None);
    }

    #[test]
    fn every_rating_has_its_colour_and_no_other_rating_has_one() {
        assert!(BLADE_FUSES.windows(2).all(|p| p[0].0 < p[1].0));
        assert_eq!(fuse_colour(7.5), Some("brown"));
        assert_eq!(fuse_colour(12.0), None);
    }

    #[test]
    fn a_cable_of_the_least_area_loses_just_the_drop() {
        let area = least_area(8.0, 12.0, 0.36, COPPER);
        assert!((cable_resistance(8.0, area) * 12.0 - 0.36).abs() < 1e-12);
    }

    #[test]
    fn charge_follows_the_rows_of_the_table() {
        for (volts, charge) in BATTERY {
            assert!((state_of_charge(volts) - charge).abs() < 1e-9);
        }
        for (gravity, charge) in GRAVITY {
            assert!((state_of_charge_by_gravity(gravity) - charge).abs() < 1e-9);
        }
        assert_eq!(state_of_charge(14.0), 100.0);
        assert_eq!(state_of_charge(3.0), 0.0);
    }
}
