//! What the knowledge holds: every kind of entry as plain data, and the links between faults, conditions and signs.

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

use super::{Each, End, Relation, Scale, Side, When};
use crate::report::At;
use crate::units::{Pence, Probability, Unit};

/// Entries of one kind, in order of id, and found by id.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Shelf<T> {
    items: Vec<T>,
    /// Ascending, one for each item.
    ids: Vec<String>,
}

impl<T> Default for Shelf<T> {
    fn default() -> Self {
        Shelf { items: Vec::new(), ids: Vec::new() }
    }
}

impl<T> Shelf<T> {
    /// Puts an entry on the shelf; ids come in ascending order and once each.
    pub(crate) fn push(&mut self, id: &str, item: T) {
        debug_assert!(self.ids.last().is_none_or(|last| last.as_str() < id));
        self.ids.push(id.to_owned());
        self.items.push(item);
    }

    /// The entry of that id.
    pub fn get(&self, id: &str) -> Option<&T> {
        self.index(id).map(|i| &self.items[i])
    }

    /// Where the entry of that id stands.
    pub fn index(&self, id: &str) -> Option<usize> {
        self.ids.binary_search_by(|known| known.as_str().cmp(id)).ok()
    }

    /// The entry at a place on the shelf.
    ///
    /// # Panics
    /// If the place did not come from this shelf.
    pub fn at(&self, index: usize) -> &T {
        &self.items[index]
    }

    /// All entries in order of id.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.items.iter()
    }

    /// All ids, ascending.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        self.ids.iter().map(String::as_str)
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }
}

/// What every entry has.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Head {
    /// The id, as in the heading.
    pub id: String,
    /// The name to show.
    pub name: String,
    /// The folder it stands in (its system), or empty at the top.
    pub system: String,
    /// Its source.
    pub source: Ref,
    /// A sentence or two for the reader.
    pub about: String,
    /// Where it is written.
    pub at: At,
}

/// The id of another entry, and where it is written.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Ref {
    /// The id.
    pub id: String,
    /// Where.
    pub at: At,
}

/// What makes a fault likelier on one vehicle than on another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Rise {
    /// Years since first use.
    Age,
    /// Damp and salt: where it is kept.
    Damp,
    /// Distance: how much it is used.
    Miles,
    /// Standing unused.
    Standing,
    /// Electrical or body work in the last year.
    Work,
}

/// A root cause that can be put right.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Fault {
    /// Id, name, source, place.
    pub head: Head,
    /// One at each of these places.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// Chance on a typical vehicle twelve years old, at each place.
    pub prior: Probability,
    /// What makes it likelier.
    pub rises_with: Vec<Rise>,
    /// What puts it right, best first.
    pub remedies: Vec<Ref>,
    /// Other true names.
    pub also: Vec<String>,
    /// Why the vehicle must not be driven with it, if so.
    pub danger: Option<String>,
    /// Faults it is mistaken for.
    pub looks_like: Vec<Ref>,
}

/// What a fault brings about inside the machine and nobody sees directly.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Condition {
    /// Id, name, source, place.
    pub head: Head,
    /// One at each of these places.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// Whether it takes every one of its causes.
    pub needs_all: bool,
    /// Chance of it with none of its causes.
    pub leak: Probability,
}

/// What a person can see, hear, feel, smell or measure.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Sign {
    /// Id, name, source, place.
    pub head: Head,
    /// One at each of these places.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// What people type for it.
    pub said: Vec<String>,
    /// Chance of it from a cause this book does not hold; only for signs somebody can report.
    pub not_in_book: Option<Probability>,
    /// Chance of it with no cause here, for the other signs.
    pub leak: Probability,
    /// Why the vehicle must not be driven with it, if so.
    pub danger: Option<String>,
    /// The test items it makes a refusal or a remark.
    pub items: Vec<Ref>,
}

/// A way of saying several signs at once.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Phrase {
    /// Id, name, source, place.
    pub head: Head,
    /// The kind of place the person names.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// The sign readings meant.
    pub reads: Vec<PhraseReading>,
    /// What people type for it.
    pub said: Vec<String>,
}

/// One sign reading of a phrase.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PhraseReading {
    /// The sign.
    pub sign: Ref,
    /// Where, from the place named.
    pub place: Relation,
    /// Only at this end.
    pub end: Option<End>,
    /// Only at this side.
    pub side: Option<Side>,
    /// Whether the sign is there.
    pub present: bool,
}

/// Who can do it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Skill {
    /// Anyone.
    #[default]
    Anyone,
    /// Somebody handy with tools.
    Handy,
    /// Somebody of the trade.
    Trade,
}

impl Skill {
    /// Reads the word.
    pub fn named(word: &str) -> Option<Skill> {
        match word {
            "anyone" => Some(Skill::Anyone),
            "handy" => Some(Skill::Handy),
            "trade" => Some(Skill::Trade),
            _ => None,
        }
    }
}

/// A procedure that settles one or more signs.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Check {
    /// Id, name, source, place.
    pub head: Head,
    /// One at each of these places.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// State the vehicle must be in.
    pub set_up: Ref,
    /// Hands-on minutes once in that set-up.
    pub minutes: f64,
    /// Tools.
    pub kit: Vec<Ref>,
    /// How to do it alone, where a second person is usual.
    pub helper: String,
    /// Who can do it.
    pub skill: Skill,
    /// Hazards, shown before the step.
    pub cautions: Vec<Ref>,
    /// Things used up.
    pub consumables: Pence,
    /// What harm the check may do, if any.
    pub risk: Option<String>,
    /// Short orders, in order.
    pub steps: Vec<String>,
    /// The number it takes, if it takes one.
    pub measure: Option<Measure>,
    /// What it settles.
    pub reads: Vec<CheckReading>,
}

/// The number a measured check asks for.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Measure {
    /// The question.
    pub ask: String,
    /// The unit wanted.
    pub unit: Unit,
    /// The least that is possible at all.
    pub low: f64,
    /// The most that is possible at all.
    pub high: f64,
}

/// One sign that a check settles.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct CheckReading {
    /// The sign.
    pub sign: Ref,
    /// Which place's sign, from the check's own place.
    pub place: Relation,
    /// Only at this end.
    pub end: Option<End>,
    /// Only at this side.
    pub side: Option<Side>,
    /// The question, for checks answered yes or no.
    pub ask: String,
    /// Whether a yes means that the sign is present.
    pub yes_means_present: bool,
    /// Limits, for measured checks.
    pub limits: Limits,
    /// P(reading says present | sign present).
    pub sensitivity: Probability,
    /// P(reading says absent | sign absent).
    pub specificity: Probability,
    /// What it means when the sign is found.
    pub if_present: String,
    /// What it means when it is not.
    pub if_absent: String,
}

impl CheckReading {
    /// Likelihoods of a reading that says "present" to a share between 0 and 1, if the sign is absent and if it is present. A yes or no is a share of
    /// 1 or 0; at one half it says nothing.
    pub fn likelihoods(&self, share: f64) -> [f64; 2] {
        let (se, sp) = (self.sensitivity.get(), self.specificity.get());
        [(1.0 - sp) * share + sp * (1.0 - share), se * share + (1.0 - se) * (1.0 - share)]
    }
}

/// From what number on a measured sign counts as present or absent, in the unit of the check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// At or below this the sign is present.
    pub bad_below: Option<f64>,
    /// At or above this it is absent, on the low side.
    pub good_above: Option<f64>,
    /// At or above this the sign is present.
    pub bad_above: Option<f64>,
    /// At or below this it is absent, on the high side.
    pub good_below: Option<f64>,
}

impl Limits {
    /// How far a number speaks for the sign: 1 at a bad limit or past it, 0 at a good limit or past it, straight between the two.
    pub fn share_present(&self, value: f64) -> f64 {
        let low = match (self.bad_below, self.good_above) {
            (Some(bad), Some(good)) if good > bad => ((good - value) / (good - bad)).clamp(0.0, 1.0),
            (Some(bad), _) => f64::from(u8::from(value <= bad)),
            _ => 0.0,
        };
        let high = match (self.bad_above, self.good_below) {
            (Some(bad), Some(good)) if bad > good => ((value - good) / (bad - good)).clamp(0.0, 1.0),
            (Some(bad), _) => f64::from(u8::from(value >= bad)),
            _ => 0.0,
        };
        low.max(high)
    }
}

/// How hard a remedy is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Difficulty {
    /// Easy.
    Easy,
    /// Moderate.
    Moderate,
    /// Hard.
    Hard,
    /// Leave it to a specialist.
    Specialist,
}

impl Difficulty {
    /// The words.
    pub const WORDS: [&'static str; 4] = ["easy", "moderate", "hard", "specialist"];

    /// Reads the word.
    pub fn named(word: &str) -> Option<Difficulty> {
        match word {
            "easy" => Some(Difficulty::Easy),
            "moderate" => Some(Difficulty::Moderate),
            "hard" => Some(Difficulty::Hard),
            "specialist" => Some(Difficulty::Specialist),
            _ => None,
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        Difficulty::WORDS[self as usize]
    }
}

/// What puts a fault right.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Remedy {
    /// Id, name, source, place.
    pub head: Head,
    /// One at each of these places.
    pub each: Option<Each>,
    /// For which vehicles.
    pub when: When,
    /// Hands-on minutes once in the set-up.
    pub minutes: f64,
    /// State the vehicle must be in.
    pub set_up: Ref,
    /// How hard it is.
    pub difficulty: Difficulty,
    /// What to buy.
    pub parts: Vec<PartNeed>,
    /// Tools.
    pub kit: Vec<Ref>,
    /// Hazards.
    pub cautions: Vec<Ref>,
    /// Things used up.
    pub consumables: Pence,
    /// Short orders, in order.
    pub steps: Vec<String>,
    /// The check that proves it.
    pub proved_by: Ref,
    /// Chance that it does put the fault right.
    pub cures: Probability,
    /// Worth trying before being sure.
    pub trial: bool,
    /// What a workshop asks, if one usually does it.
    pub specialist_price: Option<Pence>,
}

/// A part that a remedy needs.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PartNeed {
    /// The part.
    pub part: Ref,
    /// How many.
    pub quantity: u32,
}

/// Something to buy.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Part {
    /// Id, name, source, place.
    pub head: Head,
    /// Standard designation, if there is one.
    pub designation: String,
    /// Each, pair, axle-set, metre, kit.
    pub sold_as: String,
    /// From and to.
    pub price: (Pence, Pence),
    /// Usual wait, in days.
    pub lead_days: f64,
}

/// A hazard and what to do about it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Caution {
    /// Id, name, source, place.
    pub head: Head,
    /// What to do.
    pub what_to_do: String,
}

/// A state the vehicle is put in.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct SetUp {
    /// Id, name, source, place.
    pub head: Head,
    /// Minutes to get into it from standing.
    pub minutes: f64,
    /// Minutes to undo it.
    pub undo_minutes: f64,
    /// Tools it takes.
    pub kit: Vec<Ref>,
    /// Hazards.
    pub cautions: Vec<Ref>,
    /// Short orders.
    pub steps: Vec<String>,
    /// For which vehicles it can be had.
    pub needs: When,
    /// Signs with which it cannot be had.
    pub spoilt_by: Vec<Ref>,
}

/// A tool.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Kit {
    /// Id, name, source, place.
    pub head: Head,
    /// Whether the person is taken to own it.
    pub usual: bool,
    /// From and to.
    pub price: (Pence, Pence),
}

/// Where facts come from.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Source {
    /// Id, name, place; a source is its own source.
    pub head: Head,
    /// published, common-practice, from-memory.
    pub kind: String,
    /// Publisher, year, section, address.
    pub where_: String,
    /// read, older, memory.
    pub certainty: String,
}

/// A trade term.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Term {
    /// Id, name, source, place.
    pub head: Head,
    /// One sentence.
    pub means: String,
    /// Other words for it.
    pub also: Vec<String>,
}

/// Words that mean the same.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Alike {
    /// The word they stand for: the id with spaces.
    pub word: String,
    /// The words.
    pub words: Vec<String>,
}

/// A line of the published inspection manual.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Item {
    /// Id, name, source, place.
    pub head: Head,
    /// Which manual.
    pub manual: String,
    /// Section number.
    pub section: String,
    /// Letter of the defect.
    pub defect: String,
    /// minor, major, dangerous.
    pub category: String,
    /// The limit, if it has one.
    pub limit: String,
    /// To whom it applies, doubts.
    pub note: String,
    /// For which vehicles.
    pub when: When,
    /// read, older, memory.
    pub certainty: String,
    /// Why no sign is tied to it, if none is.
    pub not_tied: String,
}

/// What may be said of a vehicle.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Trait {
    /// Id, name, source, place.
    pub head: Head,
    /// The words allowed; empty for numbers and dates.
    pub values: Vec<String>,
    /// words, number, date.
    pub kind: TraitKind,
    /// Taken when a vehicle file is silent.
    pub default: String,
    /// The kind of place whose layout this trait trims ("both", "nearside", "none" …).
    pub keeps: Option<String>,
}

/// What a trait's value looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TraitKind {
    /// One of its words.
    Words,
    /// A number.
    Number,
    /// A date, year-month-day.
    Date,
}

/// How far the priors of a system's faults are raised or lowered as a whole, so that the share of vehicles with a refusal agrees with
/// official statistics.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Rate {
    /// Id (the system's folder), name, source, place.
    pub head: Head,
    /// The factor, from 0 up.
    pub factor: f64,
}

/// A kind of place.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PlaceKind {
    /// Id, name, source, place.
    pub head: Head,
    /// Where it stands on a vehicle whose file is silent about it.
    pub laid: Vec<Laid>,
}

/// A rule that lays a kind of place out by another kind that the vehicle lists.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Laid {
    /// The other kind, and the end if only one.
    pub each: Each,
    /// One for each end rather than one for each place.
    pub per_end: bool,
    /// For which vehicles.
    pub when: When,
}

/// A fault, condition or sign, by its place on the shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Node {
    /// A fault.
    Fault(usize),
    /// A condition.
    Condition(usize),
    /// A sign.
    Sign(usize),
}

/// A link from a cause to its effect.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Link {
    /// The cause.
    pub from: Node,
    /// The effect.
    pub to: Node,
    /// Which place's effect.
    pub place: Relation,
    /// Only at this end.
    pub end: Option<End>,
    /// Only at this side.
    pub side: Option<Side>,
    /// How often the cause, alone, brings the effect about.
    pub strength: Probability,
    /// Whether the cause hides the effect instead.
    pub inhibits: bool,
    /// For which vehicles.
    pub when: When,
    /// Its source.
    pub source: Ref,
    /// Where it is written.
    pub at: At,
}

/// The whole knowledge.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Book {
    pub faults: Shelf<Fault>,
    pub conditions: Shelf<Condition>,
    pub signs: Shelf<Sign>,
    pub phrases: Shelf<Phrase>,
    pub checks: Shelf<Check>,
    pub remedies: Shelf<Remedy>,
    pub parts: Shelf<Part>,
    pub cautions: Shelf<Caution>,
    pub set_ups: Shelf<SetUp>,
    pub kit: Shelf<Kit>,
    pub sources: Shelf<Source>,
    pub terms: Shelf<Term>,
    pub alike: Shelf<Alike>,
    pub items: Shelf<Item>,
    pub traits: Shelf<Trait>,
    pub places: Shelf<PlaceKind>,
    pub rates: Shelf<Rate>,
    /// Links between faults, conditions and signs, in order of their cause and then of writing.
    pub links: Vec<Link>,
    /// The words that stand for numbers.
    pub scale: Scale,
}

impl Book {
    /// Every node by its id.
    pub fn nodes_by_id(&self) -> HashMap<&str, Node> {
        let signs = self.signs.ids().zip(0..).map(|(id, i)| (id, Node::Sign(i)));
        let conditions = self.conditions.ids().zip(0..).map(|(id, i)| (id, Node::Condition(i)));
        // Where two kinds share an id, which is a problem of its own, the fault is meant.
        signs.chain(conditions).chain(self.faults.ids().zip(0..).map(|(id, i)| (id, Node::Fault(i)))).collect()
    }

    /// By what the priors of a system are multiplied; 1 where no rate speaks of it.
    pub fn rate(&self, system: &str) -> f64 {
        self.rates.get(system).map_or(1.0, |r| r.factor)
    }

    /// Id, name and place of a node.
    pub fn head(&self, node: Node) -> &Head {
        match node {
            Node::Fault(i) => &self.faults.at(i).head,
            Node::Condition(i) => &self.conditions.at(i).head,
            Node::Sign(i) => &self.signs.at(i).head,
        }
    }

    /// The places a node is laid out over.
    pub fn each(&self, node: Node) -> Option<&Each> {
        match node {
            Node::Fault(i) => self.faults.at(i).each.as_ref(),
            Node::Condition(i) => self.conditions.at(i).each.as_ref(),
            Node::Sign(i) => self.signs.at(i).each.as_ref(),
        }
    }

    /// For which vehicles a node holds.
    pub fn when(&self, node: Node) -> &When {
        match node {
            Node::Fault(i) => &self.faults.at(i).when,
            Node::Condition(i) => &self.conditions.at(i).when,
            Node::Sign(i) => &self.signs.at(i).when,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Limits;

    #[test]
    fn a_number_between_the_limits_speaks_in_part() {
        let limits = Limits { bad_below: Some(11.0), good_above: Some(12.0), ..Limits::default() };
        assert_eq!(limits.share_present(10.0), 1.0);
        assert_eq!(limits.share_present(13.0), 0.0);
        assert!((limits.share_present(11.25) - 0.75).abs() < 1e-12);
        let both = Limits { bad_above: Some(15.0), good_below: Some(14.8), ..limits };
        assert_eq!(both.share_present(16.0), 1.0);
        assert_eq!(both.share_present(14.0), 0.0);
    }
}
