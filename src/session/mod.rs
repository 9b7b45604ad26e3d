//! The conversation: from typed words to answers kept in order, and from those to what is known and what to do next.
//!
//! [`Trace`] holds the answers of one case and derives everything else from them, so that taking one back is dropping it. [`Talk`] turns
//! typed lines into changes of a trace and says what to ask. [`view`] is the state of a case as plain data, for any surface.
//! Takes a book, a vehicle and a person. Never prints, reads a file or looks at a clock.

mod cited;
mod explain;
mod hear;
pub mod keep;
mod talk;
mod trace;
pub mod tree;
pub mod view;

pub use cited::{Cited, cited, meant};
pub use hear::{Ear, Hearing, Target};
pub use talk::{Ask, LONGEST_LINE, Reply, Talk};
pub use trace::{Answer, Assessment, Given, Said, Trace};
