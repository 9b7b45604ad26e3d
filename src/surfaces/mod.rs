//! The surfaces: arguments, the prompt, screens, JSON and exit codes. The only part that meets a terminal, a file named by the person,
//! the clock or the environment.
//!
//! [`run`] is the whole program over given streams, so that tests hold whole conversations in process.

mod args;
mod commands;
mod count;
mod exit;
mod lookup;
mod prompt;
mod reckoning;
mod refused;
mod screen;
mod wrap;

pub use args::Args;
pub use commands::{Streams, run};
pub use exit::Exit;
