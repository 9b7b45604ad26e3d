//! What steps cost, in pence: minutes at the person's own value, changes of set-up, parts, things used up.

use super::Person;
use crate::knowledge::book::{Book, Check, Difficulty, Remedy, SetUp};

/// Prices steps for one person.
#[derive(Clone, Copy)]
pub struct Costs<'a> {
    /// The knowledge.
    pub book: &'a Book,
    /// The person.
    pub person: &'a Person,
}

/// An hour of a workshop's labour in pence. Common practice.
const WORKSHOP_HOUR: f64 = 5_500.0;
/// Minutes for asking one more thing of a check that is already set up.
const ANOTHER_LOOK: f64 = 0.2;
/// Minutes that every question costs besides: reading it, thinking, answering.
const ASKING: f64 = 0.8;
/// Extra pence set against a check that may do harm, so that it comes last.
const RISK: f64 = 2000.0;

impl Costs<'_> {
    /// Cost in pence of bringing the vehicle from one set-up into another: undo the one, get into the other. Staying costs nothing.
    pub fn change(&self, from: &str, to: &str) -> f64 {
        if from == to {
            return 0.0;
        }
        let undo = self.book.set_ups.get(from).map_or(0.0, |s| s.undo_minutes);
        let into = self.book.set_ups.get(to).map_or(0.0, |s| s.minutes);
        self.person.minutes(undo + into)
    }

    /// Whether the person has what a set-up takes.
    pub fn can_reach(&self, set_up: &SetUp) -> bool {
        set_up.kit.iter().all(|k| self.book.kit.get(&k.id).is_some_and(|k| self.person.has(k)))
    }

    /// Whether the person has the kit, the skill and the set-up for a check.
    pub fn can_check(&self, check: &Check) -> bool {
        check.skill <= self.person.skill
            && check.kit.iter().all(|k| self.book.kit.get(&k.id).is_some_and(|k| self.person.has(k)))
            && self.book.set_ups.get(&check.set_up.id).is_some_and(|s| self.can_reach(s))
    }

    /// Cost in pence of a reading of a check from a set-up; a further reading of the check that is open costs a glance.
    pub fn reading(&self, check: &Check, from: &str, open: bool) -> f64 {
        let risk = if check.risk.is_some() { RISK } else { 0.0 };
        if open {
            return self.person.minutes(ANOTHER_LOOK + ASKING) + risk;
        }
        self.person.minutes(check.minutes + ASKING)
            + check.consumables.0 as f64
            + self.change(from, &check.set_up.id)
            + risk
    }

    /// Cost in pence of a remedy from a set-up, with its parts at the middle of their price and the check that proves it. Tools that are
    /// lacking are bought. Where a workshop's price is lower, or the work is a specialist's, that price counts.
    pub fn remedy(&self, remedy: &Remedy, from: &str) -> f64 {
        let parts: f64 = self.parts(remedy);
        let lacking: f64 = remedy
            .kit
            .iter()
            .filter_map(|k| self.book.kit.get(&k.id))
            .filter(|k| !self.person.has(k))
            .map(|k| (k.price.0.0 + k.price.1.0) as f64 / 2.0)
            .sum();
        let proof = self
            .book
            .checks
            .get(&remedy.proved_by.id)
            .map_or(0.0, |c| self.person.minutes(c.minutes) + self.change(&remedy.set_up.id, &c.set_up.id));
        let own = self.person.minutes(remedy.minutes)
            + self.change(from, &remedy.set_up.id)
            + remedy.consumables.0 as f64
            + lacking
            + parts
            + proof;
        let reach = self.book.set_ups.get(&remedy.set_up.id).is_some_and(|s| self.can_reach(s));
        let workshop = self.workshop(remedy);
        if remedy.difficulty == Difficulty::Specialist || !reach {
            workshop
        } else if remedy.specialist_price.is_some() {
            own.min(workshop)
        } else {
            own
        }
    }

    /// What a workshop takes for a remedy in pence, parts included: the price the book gives, or its minutes at a workshop's hour.
    pub fn workshop(&self, remedy: &Remedy) -> f64 {
        let labour = remedy.specialist_price.map_or(remedy.minutes / 60.0 * WORKSHOP_HOUR, |p| p.0 as f64);
        labour + self.parts(remedy)
    }

    /// Parts of a remedy at the middle of their price, in pence.
    pub fn parts(&self, remedy: &Remedy) -> f64 {
        remedy
            .parts
            .iter()
            .filter_map(|need| {
                let part = self.book.parts.get(&need.part.id)?;
                Some((part.price.0.0 + part.price.1.0) as f64 / 2.0 * f64::from(need.quantity))
            })
            .sum()
    }
}
