//! What to do next: the cheapest safe check or the repair, judged by expected total cost until the vehicle is put right.
//!
//! **The decision problem.** The state is what has been answered, the set-up the vehicle is in, and what has been tried. Actions are a
//! reading of a check, a remedy (with the check that proves it), and handing over to a specialist. A check costs minutes at the person's
//! hourly value, things used up, and the change of set-up from the present one; a remedy costs the same and its parts. The value of a
//! state is the expected cost of all that follows.
//!
//! **The base plan** tries remedies in falling order of probability over cost, each proved, and hands over to a specialist where that is
//! cheaper than going on. For one fault and independent remedies that order is optimal (Kadane and Simon 1977; Smith's rule for one
//! machine is the same sum). **Lookahead** scores every check that can be done here and now by its cost plus the base plan's cost under each
//! result, from the exact posteriors, and looks a second step ahead behind the best few. (One step alone is known to stay within a few
//! per cent of the optimum on small cases, and the order by probability over cost alone is not.)
//!
//! **Safety** outranks cost: what must not be driven is said first, road tests are withheld then, risky checks come last, and nothing is
//! proposed that needs kit or skill the person lacks.
//!
//! Takes a [`Fitted`](crate::graph::Fitted) graph, evidence and a [`Person`]; gives an [`Advice`] of plain data. Never asks, never prints.

mod cost;
pub mod decision;
mod model;
mod person;
mod plan;
mod propose;
mod rank;
mod safety;

pub use cost::Costs;
pub use person::Person;
pub use plan::mended;
pub use propose::{Advice, Alternative, Outcome, Situation, Step, propose, remedy_for};
pub use rank::{Ranked, rank};
pub use safety::{Gate, gate};
