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
    /// Keep records in this folder, instead of the one of SPLITPIN_DATA or your own data folder
    #[arg(long, global = true, value_name = "FOLDER")]
    pub data: Option<PathBuf>,
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
    /// Turn the lines of a refusal sheet into causes, parts and one work plan
    Refused(RefusedArgs),
    /// Check, count and export the knowledge
    #[command(subcommand)]
    Knowledge(KnowledgeCommand),
    /// Look at vehicles and what can be said of them
    #[command(subcommand)]
    Vehicle(VehicleCommand),
    /// Print the whole plan for a symptom: each step, and what follows from each of its results
    Plan(PlanArgs),
    /// Read an entry of the knowledge
    Lookup {
        /// Its id or name
        words: Vec<String>,
    },
    /// Trade arithmetic
    #[command(subcommand)]
    Reckon(ReckonCommand),
    /// What was seen, measured, bought and done
    Logbook(LogbookArgs),
}

/// The logbook: a list of it, or something done with it.
#[derive(Clone, Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct LogbookArgs {
    /// Which entries to list
    #[command(flatten)]
    pub pick: Pick,
    /// As JSON, whole
    #[arg(long)]
    pub json: bool,
    /// What to do instead of listing
    #[command(subcommand)]
    pub command: Option<LogbookCommand>,
}

/// Which entries of the logbook; --vehicle picks too.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct Pick {
    /// Only this kind: trace, round, note, odometer, measurement, finding, part, repair, result
    #[arg(long, value_name = "KIND")]
    pub kind: Option<String>,
    /// Only from this day on, year-month-day
    #[arg(long, value_name = "DATE")]
    pub since: Option<String>,
    /// Only the last so many
    #[arg(long, value_name = "COUNT")]
    pub last: Option<usize>,
}

/// What to do with the logbook.
#[derive(Clone, Debug, Subcommand)]
pub enum LogbookCommand {
    /// Show one entry whole
    Show {
        /// Its number
        number: i64,
    },
    /// Keep a note
    Note {
        /// The words
        #[arg(required = true)]
        words: Vec<String>,
    },
    /// Keep the odometer's reading, in miles unless km stands behind it
    Odometer {
        /// Such as 41200 or 66300km
        reading: String,
    },
    /// Keep a measurement, to see where it is heading
    Measure {
        /// Such as tread, lining, pad, cable-travel, battery-voltage, fluid-age
        what: String,
        /// The number, with its unit: 4.2mm
        value: String,
        /// Where: rear-nearside
        #[arg(long, value_name = "PLACE")]
        place: Option<String>,
        /// The odometer's reading then
        #[arg(long, value_name = "READING")]
        odometer: Option<String>,
    },
    /// Keep a test result with its lines
    Result {
        /// How it ended
        #[arg(value_enum)]
        outcome: Outcome,
        /// A line of the sheet: "major: 4.1.1 headlamp not working"; also dangerous, minor, remark
        #[arg(long = "line", value_name = "CATEGORY: TEXT")]
        lines: Vec<String>,
        /// Anything else
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Where measurements are heading, and when they reach their limit
    Trend {
        /// What was measured; all of it otherwise
        what: Option<String>,
        /// Only there
        #[arg(long, value_name = "PLACE")]
        place: Option<String>,
        /// The limit, in the unit of the readings
        #[arg(long, value_name = "NUMBER", allow_negative_numbers = true)]
        limit: Option<f64>,
        /// The day of the next test; otherwise a year after the last result kept
        #[arg(long, value_name = "DATE")]
        test: Option<String>,
        /// Write the picture here
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
    },
    /// What proved repairs changed in the chances of causes, and why
    Learned {
        /// Begin anew: what was proved so far no longer counts
        #[arg(long, conflicts_with = "json")]
        reset: bool,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Write it out whole
    Export {
        /// Where to; otherwise to the screen
        file: Option<PathBuf>,
        /// In which form; otherwise by the file's ending, or JSON
        #[arg(long, value_enum)]
        form: Option<LogbookForm>,
        /// Which entries
        #[command(flatten)]
        pick: Pick,
    },
    /// Bring in what `export` wrote
    Import {
        /// The file
        file: PathBuf,
    },
    /// Make a safe copy, also while it is in use
    Backup {
        /// The copy
        file: PathBuf,
        /// Write over an older copy
        #[arg(long)]
        replace: bool,
    },
    /// Put a copy in the place of the records; what was there is set aside
    Restore {
        /// The copy
        file: PathBuf,
    },
    /// Look through the whole file for damage
    Check,
}

/// How a test ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Outcome {
    /// Passed, with or without remarks
    Passed,
    /// Refused
    Refused,
}

/// The form of an export.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum LogbookForm {
    /// Everything
    Json,
    /// Everything, for a spreadsheet
    Csv,
}

/// Who is at work.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct PersonArgs {
    /// What an hour of your own is worth, in pounds [default: 15]
    #[arg(long, value_name = "POUNDS")]
    pub hourly: Option<f64>,
    /// A tool you own beyond the usual ones
    #[arg(long, value_name = "KIT")]
    pub have: Vec<String>,
    /// A usual tool you do not have
    #[arg(long, value_name = "KIT")]
    pub lack: Vec<String>,
}

/// How to trace.
#[derive(Clone, Debug, Default, clap::Args)]
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
    /// Who is at work
    #[command(flatten)]
    pub person: PersonArgs,
    /// Go on with the unfinished trace, or with that of a number of the logbook
    #[arg(long, value_name = "NUMBER", num_args = 0..=1, require_equals = true, default_missing_value = "0")]
    pub resume: Option<i64>,
    /// Keep nothing of this trace
    #[arg(long, conflicts_with = "resume")]
    pub unkept: bool,
}

/// How to read a refusal sheet.
#[derive(Clone, Debug, clap::Args)]
pub struct RefusedArgs {
    /// A file with the lines; otherwise they are typed or piped, and `done` ends them
    pub file: Option<PathBuf>,
    /// A line of the sheet; may be given several times
    #[arg(long = "line", value_name = "WORDS", conflicts_with = "file")]
    pub lines: Vec<String>,
    /// Print the plan as JSON and do not ask
    #[arg(long)]
    pub json: bool,
    /// Print the plan and do not ask
    #[arg(long)]
    pub no_input: bool,
    /// Who is at work
    #[command(flatten)]
    pub person: PersonArgs,
}

/// What to plan for.
#[derive(Clone, Debug, clap::Args)]
pub struct PlanArgs {
    /// What is wrong, in your own words
    #[arg(required = true)]
    pub words: Vec<String>,
    /// How many steps deep
    #[arg(long, value_name = "STEPS", default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=8))]
    pub depth: u8,
    /// What to write
    #[arg(long, value_enum, default_value_t = PlanForm::Text)]
    pub form: PlanForm,
    /// A finding: SIGN=yes, SIGN@PLACE=no, SIGN=11.8V
    #[arg(long, value_name = "SIGN[@PLACE]=yes|no|NUMBER")]
    pub given: Vec<String>,
    /// Who is at work
    #[command(flatten)]
    pub person: PersonArgs,
}

/// What `plan` writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PlanForm {
    /// An indented tree
    Text,
    /// JSON, money in pence
    Json,
    /// The graph language DOT
    Dot,
    /// A drawing in SVG
    Svg,
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
    /// Play hidden faults from complaint to repair, and compare what ways of choosing cost
    Simulate {
        /// How many cases
        #[arg(long, default_value_t = 100)]
        cases: usize,
        /// Seed of the draws; the same seed gives the same cases
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// A complaint to draw from, by the id of its sign; several take turns. Otherwise faults are drawn as often as they occur
        #[arg(long, value_name = "SIGN")]
        symptom: Vec<String>,
        /// The program's own way alone, without the ways to compare it with
        #[arg(long)]
        own: bool,
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
