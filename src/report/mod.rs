//! What a problem is and how it is shown: a code, a message, the place in a file, and what to do.
//!
//! Takes complaints from the readers of knowledge and vehicle files and turns them into text for the person who must act.
//! Never decides whether a problem matters to a command (its severity says so), and never prints.

mod problem;
mod render;
mod suggest;
mod visible;

pub use problem::{At, FileId, Problem, Severity, Sources};
pub use render::{MOST_SHOWN, render_all, render_one};
pub use suggest::nearest;
pub use visible::visible;
