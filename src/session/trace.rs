//! One case: the answers in order, and what follows from them.

use std::collections::HashSet;

use jiff::civil::Date;

use crate::advice::decision::policy::Way;
use crate::advice::{Advice, Gate, Person, Ranked, Situation, gate, propose, rank};
use crate::graph::net::Var;
use crate::graph::{FitProblem, Fitted, What, fit};
use crate::inference::{Engine, Evidence, Finding, Limits, Posterior, Spread, Trouble, Weight};
use crate::knowledge::book::{Book, CheckReading, Node};
use crate::units::Measured;
use crate::vehicle::Vehicle;

/// The work limit: beyond it probabilities are shown as ranges.
const WORK: Limits = Limits { cells: 1 << 20, effort: 4 };

/// Chance that a remedy helps though its cause was another one: a connection disturbed, something cleaned in passing. Common practice.
const CURED_BY_CHANCE: f64 = 0.03;

/// How a reading was answered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said {
    /// The sign is there.
    Present,
    /// It is not.
    Absent,
    /// Nobody can tell.
    DontKnow,
}

/// One thing that was said or done.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A symptom reported in words.
    Reported {
        /// The words.
        words: String,
        /// What they were taken for: the id of a sign or phrase.
        id: String,
        /// The name of it.
        name: String,
        /// The place named.
        place: Option<usize>,
        /// Signs and whether they are there.
        readings: Vec<(Var, bool)>,
        /// How well the words fit, 0 to 1.
        score: f64,
        /// Whether the place was guessed.
        place_guessed: bool,
    },
    /// A reading of a check, answered yes or no.
    Reading {
        /// Index into the fitted checks.
        check: usize,
        /// Index into its readings.
        reading: usize,
        /// What was said of the sign.
        said: Said,
    },
    /// A number for a measured check; it settles all its signs.
    Number {
        /// Index into the fitted checks.
        check: usize,
        /// The number.
        value: Measured,
    },
    /// A sign stated without a check being asked.
    Stated {
        /// The sign.
        var: Var,
        /// Whether it is there.
        present: bool,
    },
    /// A check that cannot be done here.
    CannotDo {
        /// The check's place on the shelf.
        check: usize,
    },
    /// A remedy that was carried out.
    Tried {
        /// The cause it was meant for.
        cause: Var,
        /// The remedy's place on the shelf.
        remedy: usize,
        /// Its place on the vehicle.
        place: Option<usize>,
        /// Whether the proving check was passed then.
        cured: bool,
    },
    /// A remedy that was put off.
    NotNow {
        /// The remedy's place on the shelf.
        remedy: usize,
        /// Its place on the vehicle.
        place: Option<usize>,
    },
}

/// A finding given from outside: yes, no or a number.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// The sign is there, or not.
    Present(bool),
    /// A number, as typed.
    Number(String),
}

/// Everything that follows from the answers.
#[derive(Debug)]
pub struct Assessment {
    /// Posteriors of every variable.
    pub posterior: Posterior,
    /// Causes of what was reported, most probable first.
    pub ranked: Vec<Ranked>,
    /// Whether the vehicle may be driven.
    pub gate: Gate,
    /// The next step; `None` where nothing was reported yet, or the case is too tangled to look ahead.
    pub advice: Option<Advice>,
}

/// One case on one vehicle.
#[derive(Debug)]
pub struct Trace<'b> {
    /// The knowledge.
    pub book: &'b Book,
    /// The knowledge on this vehicle.
    pub fitted: Fitted,
    /// The person.
    pub person: Person,
    /// The work limit of the inference.
    pub limits: Limits,
    /// How the next step is chosen; anything but the program's own way is for comparing.
    pub way: Way,
    answers: Vec<Answer>,
    case: usize,
}

impl<'b> Trace<'b> {
    /// Begins a case.
    ///
    /// # Errors
    /// If the knowledge cannot be fitted to the vehicle.
    pub fn new(book: &'b Book, vehicle: &Vehicle, person: Person, today: Date) -> Result<Self, FitProblem> {
        let fitted = fit(book, vehicle, today)?;
        tracing::debug!(variables = fitted.net.len(), checks = fitted.checks.len(), "fitted");
        Ok(Trace { book, fitted, person, limits: WORK, way: Way::default(), answers: Vec::new(), case: 0 })
    }

    /// The answers so far, in order.
    pub fn answers(&self) -> &[Answer] {
        &self.answers
    }

    /// Adds an answer.
    pub fn push(&mut self, answer: Answer) {
        self.answers.push(answer);
    }

    /// Takes the last answer back.
    pub fn undo(&mut self) -> Option<Answer> {
        self.answers.pop()
    }

    /// Takes the answer at an index back.
    pub fn take_back(&mut self, index: usize) -> Option<Answer> {
        (index < self.answers.len()).then(|| self.answers.remove(index))
    }

    /// Forgets every answer: a new case on the same vehicle.
    pub fn begin_again(&mut self) {
        self.answers.clear();
        self.case += 1;
    }

    /// How many cases on this vehicle came before this one.
    pub fn case(&self) -> usize {
        self.case
    }

    /// Whether the last thing said was that the vehicle is put right and proved.
    pub fn is_closed(&self) -> bool {
        matches!(self.answers.last(), Some(Answer::Tried { cured: true, .. }))
    }

    /// Whether anything was reported.
    pub fn has_symptom(&self) -> bool {
        self.answers.iter().any(|a| matches!(a, Answer::Reported { .. } | Answer::Stated { present: true, .. }))
    }

    /// The findings that each answer stands for.
    pub fn findings(&self, answer: &Answer) -> Vec<Finding> {
        let hard = |var: Var, present: bool| if present { Finding::seen(var) } else { Finding::not_seen(var) };
        match answer {
            Answer::Reported { readings, .. } => readings.iter().map(|(var, present)| hard(*var, *present)).collect(),
            Answer::Stated { var, present } => vec![hard(*var, *present)],
            Answer::Reading { check, reading, said } => {
                let placed = self.fitted.checks[*check].readings[*reading];
                let read = self.reading(*check, *reading);
                match said {
                    Said::DontKnow => Vec::new(),
                    _ => vec![reading_finding(placed.var, read, f64::from(u8::from(*said == Said::Present)))],
                }
            }
            Answer::Number { check, value } => {
                let placed = &self.fitted.checks[*check];
                placed
                    .readings
                    .iter()
                    .enumerate()
                    .map(|(i, r)| {
                        let read = self.reading(*check, i);
                        reading_finding(r.var, read, read.limits.share_present(value.value))
                    })
                    .collect()
            }
            Answer::Tried { cause, remedy, cured: false, .. } => {
                let cures = self.book.remedies.at(*remedy).cures.get();
                vec![Finding { var: *cause, if_absent: 1.0, if_present: 1.0 - cures }]
            }
            // The complaint went with the remedy: what it was meant for is all but certain.
            Answer::Tried { cause, .. } => {
                vec![Finding { var: *cause, if_absent: CURED_BY_CHANCE, if_present: 1.0 }]
            }
            Answer::CannotDo { .. } | Answer::NotNow { .. } => Vec::new(),
        }
    }

    /// The reading of a fitted check.
    pub fn reading(&self, check: usize, reading: usize) -> &'b CheckReading {
        let placed = &self.fitted.checks[check];
        &self.book.checks.at(placed.check).reads[placed.readings[reading].reading]
    }

    /// The evidence of all answers, and for each finding the answer it comes from.
    pub fn evidence(&self, answers: &[Answer]) -> (Evidence, Vec<usize>) {
        let mut evidence = Evidence::new();
        let mut from = Vec::new();
        for (i, answer) in answers.iter().enumerate() {
            for finding in self.findings(answer) {
                evidence.push(finding);
                from.push(i);
            }
        }
        (evidence, from)
    }

    /// The set-up the vehicle is in after the answers.
    pub fn set_up(&self) -> &'b str {
        for answer in self.answers.iter().rev() {
            match answer {
                Answer::Reading { check, .. } | Answer::Number { check, .. } => {
                    return &self.book.checks.at(self.fitted.checks[*check].check).set_up.id;
                }
                Answer::Tried { remedy, .. } => return &self.book.remedies.at(*remedy).set_up.id,
                _ => {}
            }
        }
        "standing"
    }

    /// The check of the last answer, if it is still open.
    fn open(&self) -> Option<usize> {
        match self.answers.last() {
            Some(Answer::Reading { check, .. }) => Some(*check),
            _ => None,
        }
    }

    fn is_measured(&self, check: usize) -> bool {
        self.book.checks.at(self.fitted.checks[check].check).measure.is_some()
    }

    /// Whether the check is the one of the last answer, still set up.
    pub fn is_open(&self, check: usize) -> bool {
        self.open() == Some(check)
    }

    /// Signs that were answered or asked, also without an answer.
    fn asked(&self) -> HashSet<Var> {
        let mut asked = HashSet::new();
        for answer in &self.answers {
            match answer {
                Answer::Reported { readings, .. } => asked.extend(readings.iter().map(|(var, _)| *var)),
                Answer::Stated { var, .. } => {
                    asked.insert(*var);
                }
                // Not knowing the number leaves all its signs open.
                Answer::Reading { check, said: Said::DontKnow, .. } if self.is_measured(*check) => {
                    asked.extend(self.fitted.checks[*check].readings.iter().map(|r| r.var));
                }
                Answer::Reading { check, reading, .. } => {
                    asked.insert(self.fitted.checks[*check].readings[*reading].var);
                }
                Answer::Number { check, .. } => {
                    asked.extend(self.fitted.checks[*check].readings.iter().map(|r| r.var));
                }
                _ => {}
            }
        }
        asked
    }

    /// The signs reported or found present.
    pub fn seen(&self) -> Vec<Var> {
        let mut seen = Vec::new();
        for answer in &self.answers {
            match answer {
                Answer::Reported { readings, .. } => seen.extend(readings.iter().filter(|r| r.1).map(|r| r.0)),
                Answer::Stated { var, present: true } => seen.push(*var),
                Answer::Reading { check, reading, said: Said::Present } => {
                    seen.push(self.fitted.checks[*check].readings[*reading].var);
                }
                Answer::Number { check, value } => {
                    let readings = self.fitted.checks[*check].readings.iter().enumerate();
                    let speaks_for = |i: usize| self.reading(*check, i).limits.share_present(value.value) > 0.5;
                    seen.extend(readings.filter(|(i, _)| speaks_for(*i)).map(|(_, r)| r.var));
                }
                _ => {}
            }
        }
        seen
    }

    /// The signs somebody arrived with.
    pub fn reported(&self) -> Vec<Var> {
        let mut reported = Vec::new();
        for answer in &self.answers {
            match answer {
                Answer::Reported { readings, .. } => reported.extend(readings.iter().filter(|r| r.1).map(|r| r.0)),
                Answer::Stated { var, present: true } if self.is_reportable(*var) => reported.push(*var),
                _ => {}
            }
        }
        reported
    }

    /// The signs to be explained: those somebody arrived with, or else those that were found.
    fn complaint(&self) -> Vec<Var> {
        let reported = self.reported();
        if reported.is_empty() { self.seen() } else { reported }
    }

    /// Whether the variable is a sign somebody can report.
    pub fn is_reportable(&self, var: Var) -> bool {
        match self.fitted.placed(var).what {
            What::Entry(Node::Sign(s)) => self.book.signs.at(s).not_in_book.is_some(),
            _ => false,
        }
    }

    /// Works out everything that follows from the answers.
    ///
    /// # Errors
    /// The indices of the answers that cannot be true together.
    pub fn assess(&self) -> Result<Assessment, Vec<usize>> {
        let (evidence, from) = self.evidence(&self.answers);
        let posterior = self.posterior_of(&evidence, &from)?;
        tracing::debug!(findings = evidence.len(), "believed");
        let about = self.complaint();
        let ranked = rank(self.book, &self.fitted, &posterior, &about);
        let gate = gate(self.book, &self.fitted, &posterior, &ranked, &self.seen());
        let advice = if ranked.is_empty() || self.is_closed() { None } else { self.advice(&evidence, &ranked, &gate) };
        tracing::debug!(causes = ranked.len(), "assessed");
        Ok(Assessment { posterior, ranked, gate, advice })
    }

    /// Posteriors after all answers.
    ///
    /// # Errors
    /// The indices of the answers that cannot be true together.
    pub fn believe(&self) -> Result<Posterior, Vec<usize>> {
        let (evidence, from) = self.evidence(&self.answers);
        self.posterior_of(&evidence, &from)
    }

    /// The causes of some signs alone, and the next step for these; the findings of the whole case count.
    pub fn about(&self, posterior: &Posterior, signs: &[Var], gate: &Gate) -> (Vec<Ranked>, Option<Advice>) {
        let (evidence, _) = self.evidence(&self.answers);
        let ranked = rank(self.book, &self.fitted, posterior, signs);
        let advice = if ranked.is_empty() { None } else { self.advice(&evidence, &ranked, gate) };
        (ranked, advice)
    }

    /// Whether the answers can all be true together.
    pub fn holds_together(&self) -> bool {
        self.believe().is_ok()
    }

    /// Posteriors of the causes and of what was seen; variables nobody asks about here stand at nought.
    fn beliefs(&self, evidence: &Evidence) -> Result<Posterior, Trouble> {
        let mut targets: Vec<Var> = self.fitted.causes().chain(self.seen()).collect();
        targets.sort_unstable();
        targets.dedup();
        let mut posterior = Engine::new(&self.fitted.net).posterior_of(evidence, &targets, &self.limits)?;
        let mut present = vec![Spread { low: 0.0, high: 0.0 }; self.fitted.net.len()];
        for (var, spread) in targets.iter().zip(&posterior.present) {
            present[var.index()] = *spread;
        }
        posterior.present = present;
        Ok(posterior)
    }

    fn posterior_of(&self, evidence: &Evidence, from: &[usize]) -> Result<Posterior, Vec<usize>> {
        match self.beliefs(evidence) {
            Ok(posterior) => Ok(posterior),
            Err(Trouble::Clash { findings }) => {
                let mut clash: Vec<usize> = findings.iter().filter_map(|f| from.get(*f).copied()).collect();
                clash.dedup();
                Err(clash)
            }
            Err(other) => {
                // Every finding is made here from checked numbers and variables of this net.
                tracing::error!(%other, "unsound findings");
                Err((0..self.answers.len()).collect())
            }
        }
    }

    fn advice(&self, evidence: &Evidence, ranked: &[Ranked], gate: &Gate) -> Option<Advice> {
        let cannot: HashSet<usize> = self
            .answers
            .iter()
            .filter_map(|a| match a {
                Answer::CannotDo { check } => Some(*check),
                _ => None,
            })
            .collect();
        let tried: Vec<(usize, Option<usize>)> = self
            .answers
            .iter()
            .filter_map(|a| match a {
                Answer::Tried { remedy, place, cured: false, .. } | Answer::NotNow { remedy, place } => {
                    Some((*remedy, *place))
                }
                _ => None,
            })
            .collect();
        let asked = self.asked();
        let seen = self.seen();
        let situation = Situation {
            book: self.book,
            fitted: &self.fitted,
            person: &self.person,
            evidence,
            ranked,
            gate,
            set_up: self.set_up(),
            seen: &seen,
            asked: &asked,
            cannot: &cannot,
            open: self.open(),
            way: self.way,
            tried: &tried,
        };
        match propose(&situation, &self.limits) {
            Ok(advice) => Some(advice),
            Err(trouble) => {
                tracing::warn!(%trouble, "no lookahead");
                None
            }
        }
    }

    /// How each answer moved a variable: the posterior after the answers up to and with each one, from the prior on.
    pub fn history(&self, var: Var) -> Vec<f64> {
        let engine = Engine::new(&self.fitted.net);
        (0..=self.answers.len())
            .map(|n| {
                let (evidence, _) = self.evidence(&self.answers[..n]);
                engine.posterior_of(&evidence, &[var], &self.limits).map_or(f64::NAN, |p| p.present[0].value())
            })
            .collect()
    }

    /// By answer, by cause, how much the answer moved the cause; nothing where that is not known exactly.
    pub fn weights(&self, causes: &[Var]) -> Vec<Vec<Weight>> {
        let (evidence, from) = self.evidence(&self.answers);
        let mut weights =
            Engine::new(&self.fitted.net).weights(&evidence, &from, causes, &self.limits).unwrap_or_default();
        weights.resize(self.answers.len(), vec![Weight::default(); causes.len()]);
        weights
    }

    /// Records a finding given from outside, such as `sign@place=yes`. Without a place, the places already spoken of are meant, or else all.
    ///
    /// # Errors
    /// A sentence that says what is wrong with it.
    pub fn give(&mut self, sign: &str, place: Option<&str>, given: &Given) -> Result<(), String> {
        let Some(index) = self.book.signs.index(sign) else {
            let near = crate::report::nearest(sign, self.book.signs.ids());
            let near = near.map_or(String::new(), |n| format!("; did you mean `{n}`?"));
            return Err(format!("no sign is called `{}`{near}", crate::report::visible(sign)));
        };
        let vars = self.fitted.vars_of(Node::Sign(index));
        let mut wanted: Vec<Var> = match place {
            None => vars.clone(),
            Some(place) => vars
                .iter()
                .copied()
                .filter(|v| self.fitted.place_id(self.fitted.placed(*v).place).as_deref() == Some(place))
                .collect(),
        };
        if wanted.is_empty() {
            let places: Vec<String> =
                vars.iter().filter_map(|v| self.fitted.place_id(self.fitted.placed(*v).place)).collect();
            return Err(if vars.is_empty() {
                format!("this vehicle cannot show `{sign}`")
            } else if places.is_empty() {
                format!("`{sign}` has no place: leave out what stands behind the @")
            } else {
                format!(
                    "`{sign}` has no place `{}`; its places are: {}",
                    crate::report::visible(place.unwrap_or("")),
                    places.join(", ")
                )
            });
        }
        if place.is_none() && wanted.len() > 1 {
            let concerned: HashSet<Option<usize>> =
                self.reported().iter().map(|v| self.fitted.placed(*v).place).collect();
            let position = |p: Option<usize>| p.map(|p| self.fitted.vehicle.places[p].position);
            let here: Vec<Var> = wanted
                .iter()
                .copied()
                .filter(|v| {
                    let at = position(self.fitted.placed(*v).place);
                    concerned.iter().any(|c| c.is_some() && position(*c) == at)
                })
                .collect();
            if !here.is_empty() {
                wanted = here;
            }
        }
        match given {
            Given::Present(present) => {
                for var in wanted {
                    let answer = self.settle(var, *present);
                    self.answers.push(answer);
                }
                Ok(())
            }
            Given::Number(text) => {
                let found = self.fitted.checks.iter().position(|c| {
                    self.book.checks.at(c.check).measure.is_some() && c.readings.iter().any(|r| wanted.contains(&r.var))
                });
                let Some(check) = found else {
                    return Err(format!("`{sign}` is not measured: answer it with yes or no"));
                };
                let value = self.measured(check, text)?;
                self.answers.push(Answer::Number { check, value });
                Ok(())
            }
        }
    }

    /// The answer that settles a sign: through a check that reads it, so that its trust counts, or stated outright.
    fn settle(&self, var: Var, present: bool) -> Answer {
        for (check, placed) in self.fitted.checks.iter().enumerate() {
            if self.is_measured(check) {
                continue;
            }
            if let Some(reading) = placed.readings.iter().position(|r| r.var == var) {
                let said = if present { Said::Present } else { Said::Absent };
                if !(present && self.is_reportable(var)) {
                    return Answer::Reading { check, reading, said };
                }
            }
        }
        Answer::Stated { var, present }
    }

    /// Reads a number for a measured check.
    ///
    /// # Errors
    /// A sentence: not a number, a wrong unit, or out of what is possible.
    pub fn measured(&self, check: usize, text: &str) -> Result<Measured, String> {
        let entry = self.book.checks.at(self.fitted.checks[check].check);
        let Some(measure) = &entry.measure else { return Err("this is answered with yes or no".to_owned()) };
        let value = Measured::parse(text, measure.unit).map_err(|e| e.to_string())?;
        if !(measure.low..=measure.high).contains(&value.value) {
            return Err(format!(
                "{value} cannot be: it lies between {} and {} {}; read the meter again",
                measure.low, measure.high, measure.unit
            ));
        }
        Ok(value)
    }
}

/// The finding of a reading that says "present" to a share between 0 and 1.
fn reading_finding(var: Var, read: &CheckReading, share: f64) -> Finding {
    let [if_absent, if_present] = read.likelihoods(share);
    Finding { var, if_absent, if_present }
}
