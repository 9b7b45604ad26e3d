//! The words that may stand in place of a number.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// The three word scales, each word with its number.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Scale {
    /// How often a cause, alone, brings its effect about.
    pub strength: BTreeMap<String, f64>,
    /// Chance that a fault is there on a typical vehicle twelve years old.
    pub prior: BTreeMap<String, f64>,
    /// How far a reading can be trusted.
    pub reliability: BTreeMap<String, f64>,
}

impl Scale {
    /// The list of that name.
    pub fn list(&self, name: &str) -> Option<&BTreeMap<String, f64>> {
        match name {
            "strength" => Some(&self.strength),
            "prior" => Some(&self.prior),
            "reliability" => Some(&self.reliability),
            _ => None,
        }
    }

    /// The list of that name, to fill.
    pub(crate) fn list_mut(&mut self, name: &str) -> Option<&mut BTreeMap<String, f64>> {
        match name {
            "strength" => Some(&mut self.strength),
            "prior" => Some(&mut self.prior),
            "reliability" => Some(&mut self.reliability),
            _ => None,
        }
    }
}
