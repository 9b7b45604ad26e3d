//! The command line.

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// At a terminal, unless NO_COLOR is set.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// From a failed roadworthiness item to its cause, the next cheapest safe check, the parts and the cautions.
#[derive(Clone, Debug, Parser)]
#[command(name = "splitpin", version, about, max_term_width = 100)]
#[command(
    after_help = "Without a command the prompt opens.\nExit codes: 0 done, 1 done and the answer is no, 2 usage, 65 bad data, 66 input missing, 74 output failed, 130 interrupted."
)]
pub struct Args {
    /// Lay the entries of this folder over the built-in knowledge
    #[arg(long, global = true, value_name = "FOLDER")]
    pub knowledge: Option<PathBuf>,
    /// Vehicle: a demo vehicle's name, or a vehicle file
    #[arg(long, global = true, value_name = "NAME|FILE")]
    pub vehicle: Option<String>,
    /// Set a trait of the vehicle otherwise, such as reversing-lamps=offside
    #[arg(long = "trait", global = true, value_name = "TRAIT=VALUE")]
    pub traits: Vec<String>,
    /// Plain ASCII output, no bars, one thing a line
    #[arg(long, global = true)]
    pub plain: bool,
    /// Colour
    #[arg(long, global = true, value_enum, default_value_t)]
    pub color: Colour,
    /// Today's date, year-month-day (for the vehicle's age)
    #[arg(long, global = true, value_name = "DATE")]
    pub today: Option<String>,
    /// Say what happens inside: error, warn, info, debug, trace
    #[arg(long, global = true, value_name = "LEVEL")]
    pub log: Option<String>,
    /// What to do
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What to do.
#[derive(Clone, Debug, Subcommand)]
pub enum Command {
    /// Follow a symptom to its cause
    Trace(TraceArgs),
    /// Check, count and export the knowledge
    #[command(subcommand)]
    Knowledge(KnowledgeCommand),
    /// Look at vehicles and what can be said of them
    #[command(subcommand)]
    Vehicle(VehicleCommand),
    /// Read an entry of the knowledge
    Lookup {
        /// Its id or name
        words: Vec<String>,
    },
    /// Trade arithmetic
    #[command(subcommand)]
    Reckon(ReckonCommand),
}

/// How to trace.
#[derive(Clone, Debug, clap::Args)]
pub struct TraceArgs {
    /// What is wrong, in your own words
    pub words: Vec<String>,
    /// A finding: SIGN=yes, SIGN@PLACE=no, SIGN=11.8V
    #[arg(long, value_name = "SIGN[@PLACE]=yes|no|NUMBER")]
    pub given: Vec<String>,
    /// Print the state of the case as JSON and do not ask
    #[arg(long)]
    pub json: bool,
    /// Print the state of the case and do not ask
    #[arg(long)]
    pub no_input: bool,
    /// What an hour of your own is worth, in pounds
    #[arg(long, value_name = "POUNDS", default_value_t = 15.0)]
    pub hourly: f64,
    /// A tool you own beyond the usual ones
    #[arg(long, value_name = "KIT")]
    pub have: Vec<String>,
    /// A usual tool you do not have
    #[arg(long, value_name = "KIT")]
    pub lack: Vec<String>,
}

/// What to do with the knowledge.
#[derive(Clone, Debug, Subcommand)]
pub enum KnowledgeCommand {
    /// Check the built-in knowledge, or a folder laid over it
    Check {
        /// The folder
        folder: Option<PathBuf>,
        /// Check the folder alone, without the built-in knowledge
        #[arg(long)]
        alone: bool,
    },
    /// Count entries by system, and how far the manual is covered
    Count {
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Write the links of the book, or the net of the vehicle in an open format that other libraries read
    Export {
        /// What to write
        #[arg(long, value_enum, default_value_t = ExportForm::Links)]
        form: ExportForm,
    },
}

/// What `knowledge export` writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportForm {
    /// Every link as one tab-separated line: cause, effect, place, strength, source
    Links,
    /// The vehicle's net in UAI format; its variables stand in the order of `bif`, which names them
    Uai,
    /// The vehicle's net in BIF, the Bayesian Network Interchange Format, with names
    Bif,
}

/// What to do with vehicles.
#[derive(Clone, Debug, Subcommand)]
pub enum VehicleCommand {
    /// List the demo vehicles
    List,
    /// Show a vehicle's traits and places
    Show {
        /// Name or file; otherwise the one of --vehicle
        name: Option<String>,
    },
    /// List every trait and its values
    Traits,
}

/// Sums of the trade.
#[derive(Clone, Debug, Subcommand)]
pub enum ReckonCommand {
    /// Current of lamps on one wire, and the fuse for it
    Fuse {
        /// Watts of each lamp
        #[arg(required = true)]
        watts: Vec<f64>,
        /// System voltage
        #[arg(long, default_value_t = 12.0)]
        volts: f64,
    },
    /// Voltage lost in a copper cable
    Drop {
        /// Length there and back, metres
        #[arg(long)]
        metres: f64,
        /// Cross-section, square millimetres
        #[arg(long)]
        area: f64,
        /// Current, amperes
        #[arg(long)]
        amps: f64,
        /// System voltage
        #[arg(long, default_value_t = 12.0)]
        volts: f64,
    },
    /// State of charge of a rested 12 V battery
    Battery {
        /// Open-circuit volts
        volts: f64,
    },
    /// Brake efficiency from a measured stop
    Stop {
        /// Speed shown when the brakes went on, mph
        #[arg(long)]
        mph: f64,
        /// From brakes on to standstill, metres
        #[arg(long)]
        metres: f64,
        /// The speed was taken otherwise than off a speedometer, and is true
        #[arg(long)]
        true_speed: bool,
    },
    /// Brake efficiency that holds the vehicle on a hill
    Hill {
        /// Slope in per cent (1 in 8 is 12.5)
        slope: f64,
    },
    /// Aim of a dipped headlamp (European beam) on a wall
    Aim {
        /// Lamp centre above the ground, mm
        #[arg(long)]
        lamp: f64,
        /// Level edge of the beam on the wall above the ground, mm
        #[arg(long)]
        edge: f64,
        /// Lamp to wall, metres
        #[arg(long)]
        metres: f64,
    },
}
