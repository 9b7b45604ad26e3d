//! Plays whole cases with a hidden fault, from the complaint to the proved repair, to see what a way of choosing costs.
//!
//! Takes a book, a vehicle and a person; draws what is wrong from the posterior of a complaint, answers every check as that state would show
//! it (with the check's sensitivity and specificity), and follows the advice to its end. Every way of choosing meets the same draws. Seeds
//! make every run repeatable. Never looks at a clock or prints.

mod draw;
mod play;

pub use draw::{Draw, state};
pub use play::{Case, Ending, Summary, case, play, summary};
