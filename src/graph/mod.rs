//! The graph: binary variables joined by strengths, and how a book of templates is laid over one vehicle.
//!
//! [`net`] is the graph itself, without words. [`fit`](fit()) takes a book, a vehicle and a day and gives a [`Fitted`]: the net, and for every
//! variable the entry and place it stands for. Never computes a posterior.

pub mod exchange;
mod fit;
mod fitted;
pub mod net;

pub use fit::{FitProblem, fit};
pub use fitted::{Fitted, Placed, PlacedCheck, PlacedReading, What};
