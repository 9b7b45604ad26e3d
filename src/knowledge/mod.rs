//! The knowledge: text files turned into one checked, immutable [`Book`] of templates.
//!
//! Takes the built-in files, or those with a person's own folder laid over them, and gives a [`Book`] together with every problem
//! found. Never stops at the first problem, never knows of any one vehicle, and never changes after loading.
//!
//! Reading order: [`book`] says what entries are; [`files`] where texts come from; [`load`] puts it together; [`rules`] is what a
//! sound book must satisfy; [`census`] counts it.

pub mod book;
pub mod census;
mod entries;
mod fields;
pub mod files;
pub mod load;
mod places;
pub mod rules;
mod scale;
mod when;

pub use book::Book;
pub use files::Files;
pub use load::load;
pub use places::{Each, End, Position, Relation, Side};
pub use scale::Scale;
pub use when::{Range, Test, When};
