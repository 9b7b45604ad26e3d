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
//! result, from the exact posteriors. The most promising go into a [`decision`] problem: worlds, readings, remedies, set-ups and the cost of
//! changing them, the specialist. There every action is rated with the base plan behind it, the best few with one more action of any kind
//! between, so that a check which makes the next one at the same place cheap is worth it; a case of few states is solved outright.
//! `tests/near_optimum.rs` holds the plan, followed to its end, against the optimum; `simulate` plays it beside simple ways on hidden faults.
//!
//! **Stop rule.** Asking stops when no check saves enough over doing something now; trying stops when a specialist is cheaper than going on;
//! all stops when a remedy is proved. The posteriors allow several faults at once, while the plan takes one cause to be behind the complaint.
//! After a failed remedy its cause is less likely by its chance of curing, and what was read before stays evidence (persistence: Heckerman,
//! Breese and Rommelse, CACM 1995). Lead time, hire of kit, weather and the time there is today are not in the costs.
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
