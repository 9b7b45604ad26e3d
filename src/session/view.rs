//! The state of a case as plain data: public fields, no inner types, in the words a person would use. Surfaces draw it.

use std::collections::BTreeMap;

use serde::Serialize;

use super::hear::Target;
use super::{Answer, Assessment, Said, Trace};
use crate::advice::{Advice, Gate, Ranked, Step, remedy_for};
use crate::graph::What;
use crate::graph::net::Var;
use crate::knowledge::book::{Caution, Item, Node, Ref, Remedy};
use crate::units::Pence;

/// Version of the JSON form of a case. Fields are only ever added within a version.
pub const SCHEMA: &str = "splitpin-trace/1";
/// Causes below this are left out of the short list.
pub const SHORT_LIST_FLOOR: f64 = 0.005;
/// From this probability on a cause's parts are listed.
const PARTS_FLOOR: f64 = 0.1;

/// A reported symptom.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct SymptomView {
    pub id: String,
    pub name: String,
    pub place: Option<String>,
    /// `present` or `absent`; `offered` for one that the words might have meant and were not taken for.
    pub reading: String,
    pub score: f64,
    /// Whether the words were taken for this; otherwise it was only offered.
    pub taken: bool,
    pub words: String,
    /// Whether the place was guessed because the words named none.
    pub place_guessed: bool,
    /// The signs it stands for.
    pub signs: Vec<SignView>,
}

/// A sign and whether it is there.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct SignView {
    pub id: String,
    pub name: String,
    pub place: Option<String>,
    pub reading: String,
    /// Test items it makes a refusal or a remark on this vehicle.
    pub items: Vec<ItemView>,
}

/// A line of the manual.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct ItemView {
    pub id: String,
    pub name: String,
    pub section: String,
    pub defect: String,
    pub category: String,
    pub limit: String,
    pub note: String,
    pub certainty: String,
}

impl ItemView {
    /// A line of the manual for the reader.
    pub fn of(item: &Item) -> Self {
        ItemView {
            id: item.head.id.clone(),
            name: item.head.name.clone(),
            section: item.section.clone(),
            defect: item.defect.clone(),
            category: item.category.clone(),
            limit: item.limit.clone(),
            note: item.note.clone(),
            certainty: item.certainty.clone(),
        }
    }
}

/// A possible cause.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct CauseView {
    pub id: String,
    pub name: String,
    pub place: Option<String>,
    pub place_name: Option<String>,
    pub probability: f64,
    /// Whether the complaint raised it; a common fault keeps its background probability whatever is complained of.
    pub raised: bool,
    /// Lower and upper bound, only where the case is too tangled to be exact.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<(f64, f64)>,
    pub about: String,
    pub source: String,
}

/// A part to buy.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct PartView {
    pub id: String,
    pub name: String,
    pub designation: String,
    pub quantity: u32,
    pub sold_as: String,
    /// Pounds.
    pub price_from: f64,
    /// Pounds.
    pub price_to: f64,
    pub lead_days: f64,
    pub about: String,
    /// The cause it is for.
    pub for_cause: String,
    pub probability: f64,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct CautionView {
    pub id: String,
    pub name: String,
    #[serde(rename = "do")]
    pub what_to_do: String,
    pub source: String,
}

/// One result of the next check.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct OutcomeView {
    /// The answer as typed: `yes`, `no`, or the finding for a measured check.
    pub answer: String,
    pub probability: f64,
    pub leads_to: Option<String>,
    pub leads_to_probability: Option<f64>,
    pub means: String,
}

/// The next step.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct NextView {
    /// `check`, `repair` or `specialist`.
    pub kind: String,
    pub id: String,
    pub name: String,
    pub place: Option<String>,
    pub set_up: String,
    pub change_set_up: bool,
    pub minutes: f64,
    /// Pounds: what this step alone costs.
    pub cost: f64,
    /// Pounds: expected cost of it and all that follows.
    pub expected_cost: f64,
    pub kit: Vec<String>,
    pub cautions: Vec<CautionView>,
    pub steps: Vec<String>,
    pub helper: String,
    pub risk: String,
    pub question: String,
    /// The sign that the question settles.
    pub sign: Option<String>,
    pub unit: Option<String>,
    pub why: Vec<String>,
    pub outcomes: Vec<OutcomeView>,
    pub runner_up: Option<String>,
    /// For a repair: what it puts right and the check that proves it.
    pub cause: Option<String>,
    pub cause_probability: Option<f64>,
    /// The check is set up already: only the question is new.
    pub again: bool,
    pub proved_by: Option<String>,
    pub difficulty: String,
    /// Worth trying before being sure.
    pub trial: bool,
    /// Further steps of the proving check, for a repair.
    pub proof_steps: Vec<String>,
}

/// An answer, for the list of what was said.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct AnswerView {
    pub number: usize,
    pub what: String,
    pub said: String,
}

/// The whole state of a case.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct CaseView {
    pub schema: &'static str,
    pub vehicle: String,
    pub vehicle_name: String,
    pub symptoms: Vec<SymptomView>,
    pub answers: Vec<AnswerView>,
    /// The warning, if the vehicle must not be driven.
    pub danger: Option<String>,
    pub danger_probability: Option<f64>,
    pub causes: Vec<CauseView>,
    /// Whether all probabilities are exact.
    pub exact: bool,
    pub next: Option<NextView>,
    /// What put it right, once it is proved.
    pub put_right: Option<String>,
    pub parts: Vec<PartView>,
    pub cautions: Vec<CautionView>,
    /// Answers that cannot be true together.
    pub clash: Vec<AnswerView>,
    pub not_understood: Vec<String>,
    /// The nearest things known, where words were not understood.
    pub nearest: Vec<String>,
    /// By what the keeper's own proved repairs change the chance of a fault, by its id.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub learned: BTreeMap<String, f64>,
    /// What to bear in mind.
    pub reminder: &'static str,
}

/// What came of the words heard last.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    /// Words that helped nothing.
    pub not_understood: Vec<String>,
    /// The nearest things known, where nothing fitted.
    pub nearest: Vec<String>,
    /// Everything the words might have meant, best first for each statement.
    pub offers: Vec<Offered>,
}

/// Something that words might have meant.
#[derive(Clone, Debug)]
pub struct Offered {
    /// What it is.
    pub target: Target,
    /// How well the words fit, 0 to 1.
    pub score: f64,
    /// The words.
    pub words: String,
}

/// The sentence under every result.
pub const REMINDER: &str =
    "Probabilities, not promises: the vehicle's handbook, the official manual and the tester have the last word.";

impl Trace<'_> {
    /// The state of the case; with a clash, without causes and advice.
    pub fn view(&self, assessed: Result<&Assessment, &[usize]>, heard: &Heard) -> CaseView {
        let mut view = CaseView {
            schema: SCHEMA,
            vehicle: self.fitted.vehicle.id.clone(),
            vehicle_name: self.fitted.vehicle.name.clone(),
            symptoms: self.symptoms(heard),
            answers: (0..self.answers().len()).map(|i| self.answer_view(i)).collect(),
            danger: None,
            danger_probability: None,
            causes: Vec::new(),
            exact: true,
            next: None,
            put_right: self.put_right(),
            parts: Vec::new(),
            cautions: Vec::new(),
            clash: Vec::new(),
            not_understood: heard.not_understood.clone(),
            nearest: heard.nearest.clone(),
            learned: self.fitted.vehicle.learned.clone(),
            reminder: REMINDER,
        };
        match assessed {
            Err(clash) => view.clash = clash.iter().map(|i| self.answer_view(*i)).collect(),
            Ok(assessment) => {
                if let Gate::DoNotDrive { why, probability } = &assessment.gate
                    && !self.is_closed()
                {
                    view.danger = Some(why.clone());
                    view.danger_probability = Some(*probability);
                }
                view.exact = assessment.posterior.is_exact();
                view.causes = assessment.ranked.iter().map(|r| self.cause_view(r)).collect();
                view.next = assessment.advice.as_ref().map(|a| self.next_view(a, &assessment.ranked));
                view.parts = self.parts(assessment);
                view.cautions = self.cautions(assessment, view.next.as_ref());
            }
        }
        view
    }

    /// What put the vehicle right, in words, once that is proved.
    pub fn put_right(&self) -> Option<String> {
        match self.answers().last() {
            Some(Answer::Tried { cause, remedy, place, cured: true }) => {
                Some(format!("{}: {}", self.fitted.name(*cause, self.book), self.remedy_name(*remedy, *place)))
            }
            _ => None,
        }
    }

    fn symptoms(&self, heard: &Heard) -> Vec<SymptomView> {
        let sign = |(var, present): &(Var, bool)| self.sign_view(*var, *present);
        let mut out: Vec<SymptomView> = self
            .answers()
            .iter()
            .filter_map(|a| match a {
                Answer::Reported { words, id, name, place, readings, score, place_guessed } => Some(SymptomView {
                    id: id.clone(),
                    name: name.clone(),
                    place: self.fitted.place_id(*place),
                    reading: if readings.iter().any(|r| r.1) { "present" } else { "absent" }.to_owned(),
                    score: *score,
                    taken: true,
                    words: words.clone(),
                    place_guessed: *place_guessed,
                    signs: readings.iter().map(sign).collect(),
                }),
                _ => None,
            })
            .collect();
        for offer in &heard.offers {
            let (id, name) = super::hear::named(offer.target, self.book);
            if !out.iter().any(|s| s.id == id) {
                out.push(SymptomView {
                    id: id.to_owned(),
                    name: name.to_owned(),
                    place: None,
                    reading: "offered".to_owned(),
                    score: offer.score,
                    taken: false,
                    words: offer.words.clone(),
                    place_guessed: false,
                    signs: Vec::new(),
                });
            }
        }
        out
    }

    fn sign_view(&self, var: Var, present: bool) -> SignView {
        let placed = self.fitted.placed(var);
        let mut items = Vec::new();
        if let What::Entry(Node::Sign(s)) = placed.what {
            for reference in &self.book.signs.at(s).items {
                if let Some(item) = self.book.items.get(&reference.id)
                    && self.fitted.vehicle.meets(&item.when)
                {
                    items.push(ItemView::of(item));
                }
            }
        }
        SignView {
            id: self.fitted.id(var, self.book),
            name: self.fitted.name(var, self.book),
            place: self.fitted.place_id(placed.place),
            reading: if present { "present" } else { "absent" }.to_owned(),
            items,
        }
    }

    /// One answer as a line.
    pub fn answer_view(&self, index: usize) -> AnswerView {
        let (what, said) = match &self.answers()[index] {
            Answer::Reported { words, name, place, readings, .. } => {
                let good = !readings.iter().any(|r| r.1);
                let taken = self.fitted.with_place(name, *place);
                (format!("you said “{words}”:"), format!("{taken}{}", if good { ": not so" } else { "" }))
            }
            Answer::Reading { check, reading, said } => {
                let read = self.reading(*check, *reading);
                let word = match (said, read.yes_means_present) {
                    (Said::DontKnow, _) => "don't know",
                    (Said::Present, true) | (Said::Absent, false) => "yes",
                    _ => "no",
                };
                (self.question(*check, *reading), word.to_owned())
            }
            Answer::Number { check, value } => (self.question(*check, 0), value.to_string()),
            Answer::Stated { var, present } => {
                (self.fitted.name(*var, self.book), if *present { "yes" } else { "no" }.to_owned())
            }
            Answer::CannotDo { check } => {
                (format!("{}:", self.book.checks.at(*check).head.name), "can't be done here".to_owned())
            }
            Answer::Tried { remedy, place, cured, .. } => (
                format!("{}:", self.remedy_name(*remedy, *place)),
                if *cured { "done, and proved" } else { "done, no change" }.to_owned(),
            ),
            Answer::NotNow { remedy, place } => {
                (format!("{}:", self.remedy_name(*remedy, *place)), "not now".to_owned())
            }
        };
        AnswerView { number: index + 1, what, said }
    }

    /// The question of a reading, with its place put in.
    pub fn question(&self, check: usize, reading: usize) -> String {
        let placed = &self.fitted.checks[check];
        let entry = self.book.checks.at(placed.check);
        let (text, place) = match &entry.measure {
            Some(measure) => {
                (&measure.ask, placed.place.or_else(|| self.fitted.placed(placed.readings[reading].var).place))
            }
            None => (
                &self.reading(check, reading).ask,
                self.fitted.placed(placed.readings[reading].var).place.or(placed.place),
            ),
        };
        text.replace("{place}", self.fitted.place_name(place).unwrap_or("lamp"))
    }

    /// A remedy's name with its place.
    pub fn remedy_name(&self, remedy: usize, place: Option<usize>) -> String {
        let name = &self.book.remedies.at(remedy).head.name;
        self.fitted.with_place(name, place)
    }

    fn cause_view(&self, ranked: &Ranked) -> CauseView {
        let placed = self.fitted.placed(ranked.var);
        let (about, source) = match placed.what {
            What::Entry(node) => {
                let head = self.book.head(node);
                (head.about.clone(), self.source_name(&head.source))
            }
            What::NotInBook(s) => (
                format!("Something this book does not hold is behind “{}”.", self.book.signs.at(s).head.name),
                String::new(),
            ),
        };
        let spread = ranked.probability;
        let name = match placed.what {
            What::Entry(node) => self.book.head(node).name.clone(),
            What::NotInBook(_) => "a cause not in this book".to_owned(),
        };
        CauseView {
            id: self.fitted.id(ranked.var, self.book),
            place: self.fitted.place_id(placed.place),
            place_name: self.fitted.place_apart(&name, placed.place).map(str::to_owned),
            name,
            probability: spread.value(),
            raised: ranked.raised,
            range: (!spread.is_exact()).then_some((spread.low, spread.high)),
            about,
            source,
        }
    }

    fn source_name(&self, reference: &Ref) -> String {
        self.book.sources.get(&reference.id).map_or(reference.id.clone(), |s| s.head.name.clone())
    }

    fn caution_views(&self, references: &[&Ref]) -> Vec<CautionView> {
        let mut out: Vec<CautionView> = Vec::new();
        for reference in references {
            if let Some(c) = self.book.cautions.get(&reference.id)
                && !out.iter().any(|o| o.id == c.head.id)
            {
                out.push(self.caution_view(c));
            }
        }
        out
    }

    fn caution_view(&self, caution: &Caution) -> CautionView {
        CautionView {
            id: caution.head.id.clone(),
            name: caution.head.name.clone(),
            what_to_do: caution.what_to_do.clone(),
            source: self.source_name(&caution.head.source),
        }
    }

    /// Cautions of a step together with those of the set-up it takes, set-up first.
    pub fn step_cautions(&self, set_up: &str, own: &[Ref]) -> Vec<CautionView> {
        let mut all: Vec<&Ref> = self.book.set_ups.get(set_up).map_or(Vec::new(), |s| s.cautions.iter().collect());
        all.extend(own);
        self.caution_views(&all)
    }

    /// Names of the tools of a step and of its set-up, each once.
    pub fn kit_names(&self, kit: &[Ref], set_up: &str) -> Vec<String> {
        let set_up_kit = self.book.set_ups.get(set_up).map_or(&[][..], |s| &s.kit);
        let mut names: Vec<String> = Vec::new();
        for k in set_up_kit.iter().chain(kit) {
            if let Some(kit) = self.book.kit.get(&k.id)
                && !names.contains(&kit.head.name)
            {
                names.push(kit.head.name.clone());
            }
        }
        names
    }

    /// A step in short words.
    pub fn step_name(&self, step: &Step) -> String {
        match step {
            Step::Check { check, .. } => {
                let placed = &self.fitted.checks[*check];
                let name = &self.book.checks.at(placed.check).head.name;
                self.fitted.with_place(name, placed.place)
            }
            Step::Repair { remedy, place, .. } => self.remedy_name(*remedy, *place),
            Step::Specialist => "hand over to a specialist".to_owned(),
        }
    }

    fn next_view(&self, advice: &Advice, ranked: &[Ranked]) -> NextView {
        let mut next = NextView {
            kind: String::new(),
            id: String::new(),
            name: self.step_name(&advice.step),
            place: None,
            set_up: String::new(),
            change_set_up: false,
            minutes: 0.0,
            cost: advice.cost.pounds(),
            expected_cost: advice.expected.pounds(),
            kit: Vec::new(),
            cautions: Vec::new(),
            steps: Vec::new(),
            helper: String::new(),
            risk: String::new(),
            question: String::new(),
            sign: None,
            unit: None,
            why: self.why(advice),
            outcomes: Vec::new(),
            runner_up: advice
                .runner_up
                .as_ref()
                .map(|r| format!("{}: {} expected in all", self.step_name(&r.step), rounded(r.expected))),
            cause: None,
            cause_probability: None,
            again: false,
            proved_by: None,
            difficulty: String::new(),
            trial: false,
            proof_steps: Vec::new(),
        };
        match &advice.step {
            Step::Check { check, reading } => {
                let placed = &self.fitted.checks[*check];
                let entry = self.book.checks.at(placed.check);
                let read = self.reading(*check, *reading);
                next.kind = "check".to_owned();
                next.id = entry.head.id.clone();
                next.place = self.fitted.place_id(placed.place);
                next.set_up = self.set_up_name(&entry.set_up.id);
                next.again = self.is_open(*check);
                next.change_set_up = entry.set_up.id != self.set_up();
                next.minutes = entry.minutes;
                next.kit = self.kit_names(&entry.kit, &entry.set_up.id);
                next.cautions = self.step_cautions(&entry.set_up.id, &entry.cautions);
                next.steps = entry.steps.clone();
                next.helper = entry.helper.clone();
                next.risk = entry.risk.clone().unwrap_or_default();
                next.question = self.question(*check, *reading);
                next.sign = Some(self.fitted.id(placed.readings[*reading].var, self.book));
                next.unit = entry.measure.as_ref().map(|m| m.unit.to_string());
                next.outcomes = advice
                    .outcomes
                    .iter()
                    .map(|o| OutcomeView {
                        answer: match (entry.measure.is_some(), o.present == read.yes_means_present) {
                            (true, _) => if o.present { "out of limits" } else { "within limits" }.to_owned(),
                            (false, true) => "yes".to_owned(),
                            (false, false) => "no".to_owned(),
                        },
                        probability: o.probability,
                        leads_to: o.leads_to.map(|(v, _)| self.fitted.name(v, self.book)),
                        leads_to_probability: o.leads_to.map(|(_, p)| p),
                        means: if o.present { read.if_present.clone() } else { read.if_absent.clone() },
                    })
                    .collect();
            }
            Step::Repair { cause, remedy, place } => {
                let entry: &Remedy = self.book.remedies.at(*remedy);
                next.kind = "repair".to_owned();
                next.id = entry.head.id.clone();
                next.place = self.fitted.place_id(*place);
                next.set_up = self.set_up_name(&entry.set_up.id);
                next.change_set_up = entry.set_up.id != self.set_up();
                next.minutes = entry.minutes;
                next.kit = self.kit_names(&entry.kit, &entry.set_up.id);
                next.cautions = self.step_cautions(&entry.set_up.id, &entry.cautions);
                next.steps = entry.steps.clone();
                next.cause = Some(self.fitted.name(*cause, self.book));
                next.cause_probability = ranked.iter().find(|r| r.var == *cause).map(|r| r.probability.value());
                next.difficulty = entry.difficulty.word().to_owned();
                next.trial = entry.trial;
                if let Some(proof) = self.book.checks.get(&entry.proved_by.id) {
                    next.proved_by = Some(proof.head.name.clone());
                    next.proof_steps = proof.steps.clone();
                    for caution in self.step_cautions(&proof.set_up.id, &proof.cautions) {
                        if !next.cautions.contains(&caution) {
                            next.cautions.push(caution);
                        }
                    }
                }
            }
            Step::Specialist => {
                next.kind = "specialist".to_owned();
                next.id = "specialist".to_owned();
            }
        }
        next
    }

    fn set_up_name(&self, id: &str) -> String {
        self.book.set_ups.get(id).map_or(id.to_owned(), |s| s.head.name.clone())
    }

    /// The reasons for a step, one sentence each.
    fn why(&self, advice: &Advice) -> Vec<String> {
        let mut why = Vec::new();
        match &advice.step {
            Step::Check { .. } => {
                why.push(format!(
                    "It costs about {} and brings the expected total down to {}; repairing now would come to {}.",
                    rounded(advice.cost),
                    rounded(advice.expected),
                    rounded(advice.repair_now)
                ));
            }
            Step::Repair { cause, .. } => why.push(format!(
                "{} is likely enough: no further check would save what it costs. Expected total {}.",
                capital(&self.fitted.name(*cause, self.book)),
                rounded(advice.expected)
            )),
            Step::Specialist => why.push(format!(
                "Nothing left to check or try here is worth its cost; a specialist is reckoned at {} for finding it and mending what it is likely to be.",
                rounded(advice.expected)
            )),
        }
        if let Some(other) = &advice.runner_up {
            why.push(format!("Next best: {}, {} in all.", self.step_name(&other.step), rounded(other.expected)));
        }
        why
    }

    /// Parts of the remedies of every cause that is likely enough, the likeliest first.
    fn parts(&self, assessment: &Assessment) -> Vec<PartView> {
        let mut out: Vec<PartView> = Vec::new();
        for ranked in assessment.ranked.iter().filter(|r| r.probability.value() >= PARTS_FLOOR) {
            let remedy = match self.answers().last() {
                Some(Answer::Tried { cause, remedy, cured: true, .. }) if *cause == ranked.var => *remedy,
                Some(Answer::Tried { cured: true, .. }) => continue,
                _ => match self.first_remedy(ranked) {
                    Some((remedy, _)) => remedy,
                    None => continue,
                },
            };
            for need in &self.book.remedies.at(remedy).parts {
                let Some(part) = self.book.parts.get(&need.part.id) else { continue };
                if let Some(known) = out.iter_mut().find(|p| p.id == part.head.id) {
                    // One line for each part, for the likeliest cause.
                    known.quantity = known.quantity.max(need.quantity);
                    continue;
                }
                out.push(PartView {
                    id: part.head.id.clone(),
                    name: part.head.name.clone(),
                    designation: part.designation.clone(),
                    quantity: need.quantity,
                    sold_as: part.sold_as.clone(),
                    price_from: part.price.0.pounds(),
                    price_to: part.price.1.pounds(),
                    lead_days: part.lead_days,
                    about: part.head.about.clone(),
                    for_cause: self.fitted.name(ranked.var, self.book),
                    probability: ranked.probability.value(),
                });
            }
        }
        out
    }

    /// The remedy to take for a cause: the cheapest this vehicle takes.
    pub fn first_remedy(&self, ranked: &Ranked) -> Option<(usize, Option<usize>)> {
        remedy_for(self.book, &self.person, &self.fitted, ranked, self.set_up())
    }

    /// Cautions of the next step and of the leading cause's remedy.
    fn cautions(&self, assessment: &Assessment, next: Option<&NextView>) -> Vec<CautionView> {
        let mut out = next.map_or(Vec::new(), |n| n.cautions.clone());
        if let Some((remedy, _)) = assessment.ranked.first().and_then(|r| self.first_remedy(r)) {
            let remedy = self.book.remedies.at(remedy);
            for caution in self.step_cautions(&remedy.set_up.id, &remedy.cautions) {
                if !out.contains(&caution) {
                    out.push(caution);
                }
            }
        }
        out
    }

    /// Names of targets, for "nearest are".
    pub fn target_names(&self, targets: &[Target]) -> Vec<String> {
        targets.iter().map(|t| super::hear::named(*t, self.book).1.to_owned()).collect()
    }
}

/// Money to whole pounds where there are some, so that a guess does not look like a bill.
pub fn rounded(pence: Pence) -> String {
    if pence.0 >= 1000 {
        Pence((pence.0 + 50) / 100 * 100).to_string()
    } else {
        Pence((pence.0 + 5) / 10 * 10).to_string()
    }
}

/// The first letter in capitals.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().collect::<String>() + chars.as_str())
}
