//! What can be measured at home of what a tester measures on a machine: brakes by a measured stop or by a hill, dipped beam on a wall.
//!
//! Takes plain numbers in the units each function names and gives plain numbers; checks nothing and never rounds. Such a figure is near the
//! tester's, never in its place: a machine loads each wheel alone, a stop the whole vehicle.

/// Standard gravity in m/s² (ISO 80000-3).
pub const GRAVITY: f64 = 9.80665;

/// Metres a second in one mile an hour (the mile of 1609.344 m).
const MPH: f64 = 0.44704;

/// Least service brake efficiency in per cent, one control working every brake, for most vehicles of class 3 and 4 (Driver and Vehicle
/// Standards Agency, Matters of Testing: Where are the Class 3 brake data entry screens?).
pub const ONE_CONTROL: f64 = 50.0;

/// Least parking brake efficiency in per cent: service brake in two circuits, and in one (a tester's page of older limits, second-hand).
pub const PARKING: [f64; 2] = [16.0, 25.0];

/// Height of a lamp's centre in mm above which the dipped beam must be set lower (beam setter's manual quoting the test's limits).
pub const HIGH_LAMP: f64 = 850.0;

/// Brake efficiency in per cent of the weight from a speed in mph and the distance in m from brakes on to standstill: v² / (2 d g)
/// (Commercial Motor, 24 March 1967). Not finite for no distance.
pub fn efficiency_from_stop(mph: f64, metres: f64) -> f64 {
    let speed = mph * MPH;
    100.0 * speed * speed / (2.0 * metres * GRAVITY)
}

/// Longest stop in m from a speed in mph that shows an efficiency in per cent: v² / (2 g e). Not finite for no efficiency.
pub fn stop_for(mph: f64, percent: f64) -> f64 {
    let speed = mph * MPH;
    speed * speed / (2.0 * GRAVITY * percent / 100.0)
}

/// Lowest true speed in mph behind a speedometer that shows so many mph: it may read fast by a tenth of the true speed and 4 km/h, and never
/// slow (UN Regulation 39, from memory). Not below nought.
pub fn least_true_speed(shown_mph: f64) -> f64 {
    let slack = 4.0 / 3.6 / MPH;
    ((shown_mph - slack) / 1.1).max(0.0)
}

/// Brake efficiency in per cent that holds a vehicle on a slope in per cent, rise over level run: sin(atan(slope)) (statics).
pub fn efficiency_to_hold(slope_percent: f64) -> f64 {
    100.0 * (slope_percent / 100.0).atan().sin()
}

/// Slope in per cent on which an efficiency in per cent just holds; the inverse of [`efficiency_to_hold`]. Not finite from 100 % on.
pub fn slope_held_by(percent: f64) -> f64 {
    100.0 * (percent / 100.0).asin().tan()
}

/// How far in per cent the edge of a dipped beam dips below level, from the heights in mm of lamp centre and edge and the distance in m:
/// drop in mm / (10 · distance) (geometry; 1 % is 100 mm at 10 m). Negative for a beam that rises. Not finite for no distance.
pub fn dip(lamp_mm: f64, edge_mm: f64, metres: f64) -> f64 {
    (lamp_mm - edge_mm) / (10.0 * metres)
}

/// Height in mm on a wall of an edge that dips by so many per cent; the inverse of [`dip`].
pub fn edge_at(lamp_mm: f64, dip_percent: f64, metres: f64) -> f64 {
    lamp_mm - 10.0 * dip_percent * metres
}

/// Least and most dip in per cent of a European dipped beam for the height in mm of the lamp's centre (Driver and Vehicle Standards Agency,
/// Matters of Testing: The MOT headlamp aim test is changing, 24 March 2016; the higher lamp: beam setter's manual).
pub fn dip_limits(lamp_mm: f64) -> [f64; 2] {
    if lamp_mm > HIGH_LAMP { [1.25, 2.75] } else { [0.5, 2.75] }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not within {within} of {b}");
    }

    #[test]
    fn a_stop_of_40_feet_from_30_mph_is_the_printed_efficiency() {
        near(efficiency_from_stop(30.0, 40.0 * 0.3048), 75.2, 0.1);
    }

    #[test]
    fn the_longest_stop_shows_just_its_efficiency() {
        for (mph, percent) in [(20.0, 50.0), (30.0, 25.0), (12.5, 58.0)] {
            near(efficiency_from_stop(mph, stop_for(mph, percent)), percent, 1e-9);
        }
    }

    #[test]
    fn a_speedometer_at_its_limit_reads_a_tenth_and_4_km_h_fast() {
        // 80 km/h true may be shown as 92 km/h.
        let kmh = 1.0 / 1.609_344;
        near(least_true_speed(92.0 * kmh), 80.0 * kmh, 1e-9);
        near(least_true_speed(1.0), 0.0, 0.0);
    }

    #[test]
    fn a_hill_of_16_per_cent_takes_a_little_less_than_16() {
        near(efficiency_to_hold(16.0), 15.8, 0.05);
        near(slope_held_by(efficiency_to_hold(16.0)), 16.0, 1e-9);
    }

    #[test]
    fn one_per_cent_is_100_mm_at_10_m_and_angles_agree() {
        near(dip(700.0, 600.0, 10.0), 1.0, 1e-12);
        near(edge_at(700.0, 1.0, 10.0), 600.0, 1e-12);
        // Printed: 0.4 degrees is 53.2 mm at 7.62 m.
        near(dip(700.0, 700.0 - 53.2, 7.62), 100.0 * 0.4_f64.to_radians().tan(), 0.001);
    }

    #[test]
    fn a_lamp_above_850_mm_must_dip_more() {
        assert_eq!(dip_limits(850.0), [0.5, 2.75]);
        assert_eq!(dip_limits(851.0), [1.25, 2.75]);
    }
}
