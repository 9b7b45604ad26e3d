//! Refusal sheets: the lines a tester wrote, turned into signs, likely causes and one work plan.
//!
//! [`sheet`] cuts a pasted text into lines and says what each one is; [`Matcher`] finds the line of the manual that a line of the sheet
//! means, and its place; [`work::plan`] sets the signs that follow as evidence, all together, and lays the work out. Takes a book, a vehicle
//! and text; gives plain data. Never drops a line: what cannot be read is listed. Never prints, reads a file or says that a vehicle will pass.

mod matching;
mod place;
mod sheet;
mod tokens;
pub mod work;

pub use matching::{Candidate, Matched, Matcher};
pub use place::{Spot, spot};
pub use sheet::{Category, Entry, Role, sheet};
