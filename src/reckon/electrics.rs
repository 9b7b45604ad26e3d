//! Lamp currents, fuses, voltage drop and battery charge.

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

/// Blade fuse ratings in amperes (ISO 8820-3).
pub const BLADE_FUSES: [f64; 12] = [1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0];

/// The smallest blade fuse of at least one and a half times the load current (rule of cable and fuse guides); `None` above the largest.
/// The rating must also be below what the cable carries.
pub fn fuse_for(amps: f64) -> Option<f64> {
    BLADE_FUSES.into_iter().find(|f| *f >= 1.5 * amps)
}

/// Resistivity of copper at 20 °C in ohm mm²/m (NBS Handbook 100, 1966: IACS volume resistivity).
pub const COPPER: f64 = 0.017_241;

/// Resistance of a copper cable in ohms: metres of conductor (there and back) and square millimetres, at 20 °C.
pub fn cable_resistance(metres: f64, area_mm2: f64) -> f64 {
    COPPER * metres / area_mm2
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

/// Open-circuit volts of a rested 12 V lead-acid battery and its charge in per cent (state-of-charge tables credited to BCI, 26.7 °C).
pub const BATTERY: [(f64, f64); 5] = [(11.89, 0.0), (12.06, 25.0), (12.24, 50.0), (12.45, 75.0), (12.65, 100.0)];

/// State of charge in per cent from open-circuit volts, straight between the rows of [`BATTERY`], held at its ends.
pub fn state_of_charge(volts: f64) -> f64 {
    if volts <= BATTERY[0].0 {
        return 0.0;
    }
    for pair in BATTERY.windows(2) {
        let ((v0, c0), (v1, c1)) = (pair[0], pair[1]);
        if volts <= v1 {
            return c0 + (c1 - c0) * (volts - v0) / (v1 - v0);
        }
    }
    100.0
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
    fn charge_follows_the_rows_of_the_table() {
        for (volts, charge) in BATTERY {
            assert!((state_of_charge(volts) - charge).abs() < 1e-9);
        }
        assert_eq!(state_of_charge(14.0), 100.0);
        assert_eq!(state_of_charge(3.0), 0.0);
    }
}
