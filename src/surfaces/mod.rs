//! The surfaces: arguments, the prompt, screens, JSON and exit codes. The only part that meets a terminal, a file named by the person,
//! the clock or the environment.
//!
//! [`run`] is the whole program over given streams, so that tests hold whole conversations in process.

mod args;
mod commands;
mod count;
mod desk;
mod exit;
mod keeping;
mod learned;
mod logbook;
mod lookup;
mod plan_tree;
mod prompt;
mod reckoning;
mod refused;
mod refusing;
mod screen;
mod simulation;
mod trend;
mod wrap;

pub use args::Args;
pub use commands::{Streams, run};
pub use exit::Exit;
pub use keeping::Data;
