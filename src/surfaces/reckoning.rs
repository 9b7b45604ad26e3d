//! `reckon`: the trade's sums, said in words with their rule.

use super::args::ReckonCommand;
use super::exit::{Exit, Failure};
use crate::reckon::electrics as e;

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
    }
}

fn positive(value: f64, what: &str) -> Result<f64, Failure> {
    if value.is_finite() && value > 0.0 && value < 1e9 {
        Ok(value)
    } else {
        Err(Failure::new(Exit::BadData, format!("{what} must be a number above 0")))
    }
}
