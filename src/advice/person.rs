//! The person doing the work: what an hour is worth to them, what kit they have, what they can do.

use std::collections::BTreeSet;

use crate::knowledge::book::{Kit, Skill};
use crate::units::Pence;

/// Who is at work.
#[derive(Clone, Debug)]
pub struct Person {
    /// What an hour of their own is worth.
    pub per_hour: Pence,
    /// What a specialist takes for finding a fault nobody here found: call-out and an hour; mending it and its parts come on top.
    pub specialist: Pence,
    /// Tools they own beyond the usual ones, by id.
    pub owns: BTreeSet<String>,
    /// Usual tools they lack, by id.
    pub lacks: BTreeSet<String>,
    /// What they can do.
    pub skill: Skill,
}

impl Default for Person {
    /// Fifteen pounds an hour, the usual tools, handy; a specialist at £60 for finding the fault. Common practice.
    fn default() -> Self {
        Person {
            per_hour: Pence(1500),
            specialist: Pence(6_000),
            owns: BTreeSet::new(),
            lacks: BTreeSet::new(),
            skill: Skill::Handy,
        }
    }
}

impl Person {
    /// Whether they have a tool.
    pub fn has(&self, kit: &Kit) -> bool {
        let id = &kit.head.id;
        !self.lacks.contains(id) && (kit.usual || self.owns.contains(id))
    }

    /// What minutes cost, in pence.
    pub fn minutes(&self, minutes: f64) -> f64 {
        minutes * self.per_hour.0 as f64 / 60.0
    }
}
