//! `reckon`: the trade's sums, said in words with their rule.

use super::args::ReckonCommand;
use super::exit::{Exit, Failure};
use crate::reckon::electrics as e;
use crate::reckon::home;

/// The answer to a sum, ready to print.
pub(super) fn answer(command: &ReckonCommand) -> Result<String, Failure> {
    match command {
        ReckonCommand::Fuse { watts, volts } => {
            let volts = positive(*volts, "volts")?;
            let mut total = 0.0;
            for w in watts {
                total += positive(*w, "watts")?;
            }
            let amps = e::current(total, volts);
            let fuse = match e::fuse_for(amps) {
                Some(f) => format!(
                    "fuse {f} A, the next rating above one and a half times that; the cable must carry more than the fuse"
                ),
                None => "more than one blade fuse serves: split the circuit".to_owned(),
            };
            Ok(format!("{total} W at {volts} V: {amps:.2} A; {fuse}.\nThe handbook's rating comes first.\n"))
        }
        ReckonCommand::Drop { metres, area, amps, volts } => {
            let ohms = e::cable_resistance(positive(*metres, "metres")?, positive(*area, "area")?);
            let drop = ohms * positive(*amps, "amps")?;
            let share = e::percent_of(drop, positive(*volts, "volts")?);
            Ok(format!(
                "{ohms:.4} ohm; {drop:.2} V lost, {share:.1} % of {volts} V (copper at 20 C; hot cable loses more).\n"
            ))
        }
        ReckonCommand::Battery { volts } => {
            let charge = e::state_of_charge(positive(*volts, "volts")?);
            Ok(format!(
                "{volts} V after a night's rest: about {charge:.0} % charged (a 12 V lead-acid battery near 27 C).\n"
            ))
        }
        ReckonCommand::Stop { mph, metres, true_speed } => {
            Ok(stop(positive(*mph, "mph")?, positive(*metres, "metres")?, *true_speed))
        }
        ReckonCommand::Hill { slope } => Ok(hill(positive(*slope, "slope")?)),
        ReckonCommand::Aim { lamp, edge, metres } => {
            Ok(aim(positive(*lamp, "lamp")?, positive(*edge, "edge")?, positive(*metres, "metres")?))
        }
    }
}

/// A measured stop: the caution first, then the figure, or the range that a speedometer's slack leaves.
fn stop(mph: f64, metres: f64, true_speed: bool) -> String {
    let shown = home::efficiency_from_stop(mph, metres);
    let slow = if true_speed { mph } else { home::least_true_speed(mph) };
    let least = home::efficiency_from_stop(slow, metres);
    let limit = home::ONE_CONTROL;
    let figure = if true_speed {
        format!("{shown:.0} %.\n")
    } else {
        format!("{shown:.0} % by the speedometer; {least:.0} % if it reads as fast as it may\n({slow:.1} mph true).\n")
    };
    let told = if shown > 100.0 {
        "More than 100 % is hardly possible on a road: measure again.\n".to_owned()
    } else if shown < limit {
        format!("Below {limit} %: have the brakes seen to before driving on the road.\n")
    } else if least < limit {
        format!("Too near {limit} % to tell: take the speed by other means (--true-speed).\n")
    } else {
        format!("Not below {limit} %.\n")
    };
    format!(
        "Only off the public road, dry and level, nobody near, the load tied down; not\nwith a pedal that sinks, a leak or a \
         pull. Low speed; stop if a wheel locks.\n\n{figure}{told}Least for most of class 3 and 4, one control: {limit} %, in {:.1} m from \
         {mph} mph. Other\nclasses and two separate controls differ. It says nothing of one wheel against\nanother: the tester's machine \
         decides.\n",
        home::stop_for(mph, limit)
    )
}

/// A hill on which the parking brake held.
fn hill(slope: f64) -> String {
    let needed = home::efficiency_to_hold(slope);
    let [two, one] = home::PARKING;
    format!(
        "Chocks a hand's breadth below the wheels first, your foot over the brake, nobody\nbelow.\n\nHolding on {slope} % takes a brake \
         of {needed:.1} %, at the weight it has now.\nLeast for the parking brake: {two} % (hill of {:.1} %) with the service brake in\ntwo \
         circuits, {one} % (hill of {:.1} %) with one. The tester decides.\n",
        home::slope_held_by(two),
        home::slope_held_by(one)
    )
}

/// A dipped beam on a wall.
fn aim(lamp: f64, edge: f64, metres: f64) -> String {
    let dip = home::dip(lamp, edge, metres);
    let [least, most] = home::dip_limits(lamp);
    let said = if dip < 0.0 {
        format!("The edge rises by {:.2} %: too high, it dazzles.\n", -dip)
    } else if dip < least {
        format!("The edge dips by {dip:.2} %: too high, it dazzles.\n")
    } else if dip > most {
        format!("The edge dips by {dip:.2} %: too low.\n")
    } else {
        format!("The edge dips by {dip:.2} %: between the limits.\n")
    };
    format!(
        "{said}Limits {least} to {most} %, lamp centre at {lamp} mm: edge on the wall between\n{:.0} and {:.0} mm. Level ground, tyres at \
         their pressures, driver aboard. Look also\nthat nothing but the kick-up to the nearside stands above the edge. The tester's\naim \
         gauge decides.\n",
        home::edge_at(lamp, most, metres).max(0.0),
        home::edge_at(lamp, least, metres).max(0.0)
    )
}

fn positive(value: f64, what: &str) -> Result<f64, Failure> {
    if value.is_finite() && value > 0.0 && value < 1e9 {
        Ok(value)
    } else {
        Err(Failure::new(Exit::BadData, format!("{what} must be a number above 0")))
    }
}
