//! The talk: one typed line in, one reply of plain data out. Knows what was asked last and what a line means then.

use std::collections::VecDeque;

use super::hear::{Ear, Hearing, Target, means_all, named, places, readings, spoken_of};
use super::view::{CaseView, Heard, NextView, Offered};
use super::{Answer, Assessment, Said, Trace};
use super::{explain, tree};
use crate::advice::Step;
use crate::graph::net::Var;
use crate::report::visible;
use crate::symptom::{PlaceWords, Verdict};

/// A typed line longer than this is refused, in bytes.
pub const LONGEST_LINE: usize = 4096;
/// How many choices are offered at most.
const MOST_CHOICES: usize = 5;
/// Readings this much worse than the best are not offered.
const NEAR_ENOUGH: f64 = 0.2;
/// How many places are offered at most.
const MOST_PLACES: usize = 8;
/// How many readings of each statement are kept for the record.
const MOST_OFFERED: usize = 5;
/// How well words must fit to be taken without asking beside a clear statement.
const GOOD_ENOUGH: f64 = 0.55;
/// How well words must fit for a thing said to be well to count as a finding.
const WELL_ENOUGH: f64 = 0.5;

/// What is wanted from the person next.
#[derive(Clone, Debug)]
pub enum Ask {
    /// A symptom in their own words.
    Symptom,
    /// A choice by number.
    Choice {
        /// The question.
        question: String,
        /// The choices, from 1 on.
        options: Vec<String>,
    },
    /// The result of the next step.
    Next(Box<NextView>),
    /// One of the clashing answers to take back, by number.
    Clash,
    /// Nothing: the talk is over.
    Nothing,
}

/// What to show for a line.
#[derive(Debug)]
pub struct Reply {
    /// Short lines to say first.
    pub notes: Vec<String>,
    /// The state of the case, when it changed.
    pub case: Option<Box<CaseView>>,
    /// Whether all causes should be listed, not the short list.
    pub all_causes: bool,
    /// Longer text, line by line.
    pub lines: Vec<String>,
    /// A closing summary.
    pub summary: Option<Box<CaseView>>,
    /// What is wanted next.
    pub ask: Ask,
}

/// Words still to be settled.
#[derive(Clone, Debug)]
struct Pending {
    hearing: Hearing,
    target: Option<(Target, f64)>,
}

enum Stage {
    Symptom,
    ChooseTarget(Vec<(Target, f64)>),
    ChoosePlace(Vec<Vec<Option<usize>>>),
    Asking,
    Clash(Vec<usize>),
}

/// What follows from answers, or which of them clash.
type Assessed = Result<Assessment, Vec<usize>>;

/// A conversation about one case.
pub struct Talk<'b> {
    /// The case.
    pub trace: Trace<'b>,
    ear: &'b Ear,
    stage: Stage,
    pending: VecDeque<Pending>,
    assessed: Option<Assessed>,
    /// The answers of that assessment, and earlier assessments with theirs, for taking answers back.
    assessed_for: Vec<Answer>,
    earlier: VecDeque<(Vec<Answer>, Assessed)>,
    heard: Heard,
}

/// How many steps deep `plan` looks.
const PLAN_DEPTH: usize = 3;

/// Earlier assessments kept: so many answers can be taken back without working anything out again.
const EARLIER: usize = 32;

impl<'b> Talk<'b> {
    /// Begins.
    pub fn new(trace: Trace<'b>, ear: &'b Ear) -> Self {
        Talk {
            trace,
            ear,
            stage: Stage::Symptom,
            pending: VecDeque::new(),
            assessed: None,
            assessed_for: Vec::new(),
            earlier: VecDeque::new(),
            heard: Heard::default(),
        }
    }

    /// The state of the case.
    pub fn view(&mut self) -> CaseView {
        self.assess();
        let assessed = match &self.assessed {
            Some(Ok(a)) => Ok(a),
            Some(Err(clash)) => Err(clash.as_slice()),
            None => Err(&[][..]),
        };
        self.trace.view(assessed, &self.heard)
    }

    fn assess(&mut self) {
        if self.assessed.is_some() {
            return;
        }
        let known = self.earlier.iter().rposition(|(answers, _)| answers == self.trace.answers());
        let known = known.and_then(|at| self.earlier.remove(at));
        self.assessed = Some(match known {
            Some((_, assessed)) => assessed,
            None => self.trace.assess(),
        });
        self.assessed_for = self.trace.answers().to_vec();
    }

    /// The answers are about to change, or have: what followed from them is put aside.
    fn put_aside(&mut self) {
        if let Some(assessed) = self.assessed.take() {
            if self.earlier.len() == EARLIER {
                self.earlier.pop_front();
            }
            self.earlier.push_back((std::mem::take(&mut self.assessed_for), assessed));
        }
    }

    fn push(&mut self, answer: Answer) {
        self.trace.push(answer);
        self.put_aside();
    }

    /// Hears a text and settles everything without asking: the best match, the first place. Gives notes on what was taken for granted.
    pub fn take_for_granted(&mut self, text: &str) -> Vec<String> {
        let mut notes = self.hear(text);
        let any_clear = self.pending.iter().any(|p| p.target.is_some());
        while let Some(pending) = self.pending.pop_front() {
            let first = pending.hearing.offers.first().map(|o| (o.0, o.1));
            // Beside a clear statement a doubtful one is more likely talk than a symptom.
            let doubtful = first.filter(|o| !any_clear || o.1 >= GOOD_ENOUGH);
            let Some((target, score)) = pending.target.or(doubtful) else {
                notes.push(format!("“{}” was left out: not clear enough.", pending.hearing.words));
                continue;
            };
            let all = spoken_of(
                &pending.hearing.place,
                &places(target, self.trace.book, &self.trace.fitted),
                &self.trace.fitted,
            );
            let guessed = all.len() > 1 && !means_all(&pending.hearing.place);
            let chosen: Vec<Option<usize>> = if guessed { all.into_iter().take(1).collect() } else { all };
            if guessed && let Some(place) = chosen.first().and_then(|p| self.trace.fitted.place_name(*p)) {
                notes.push(format!("No place was named: the {place} is taken."));
            }
            self.report(&pending.hearing.words, target, score, &chosen, guessed);
        }
        notes
    }

    /// The first reply: to a text, or asking for one.
    pub fn begin(&mut self, text: Option<&str>) -> Reply {
        match text {
            Some(text) => self.symptom(text),
            None => self.reply(Vec::new()),
        }
    }

    /// Answers one typed line.
    pub fn say(&mut self, line: &str) -> Reply {
        if line.len() > LONGEST_LINE {
            let note = format!(
                "That line is {} letters long; the most is {LONGEST_LINE}. Nothing was taken from it.",
                line.len()
            );
            return self.reply(vec![note]);
        }
        let line = line.trim();
        let word = line.to_lowercase();
        match word.as_str() {
            "" => {
                let hint = self.empty_hint();
                return self.refuse(&hint);
            }
            "q" | "quit" | "exit" | "bye" => return self.leave(),
            "u" | "undo" | "back" | "b" => return self.undo(),
            "?" | "help" | "h" => return self.with_lines(explain::help()),
            "s" | "summary" => {
                let summary = self.view();
                let mut reply = self.reply(Vec::new());
                reply.summary = Some(Box::new(summary));
                reply.case = None;
                return reply;
            }
            "answers" | "a" if !matches!(self.stage, Stage::ChoosePlace(_)) => {
                let lines = explain::answers(&self.trace);
                return self.with_lines(lines);
            }
            _ => {}
        }
        match &self.stage {
            Stage::ChooseTarget(_) | Stage::ChoosePlace(_) => self.choose(&word, line),
            Stage::Clash(clash) => {
                let clash = clash.clone();
                self.settle_clash(&word, &clash)
            }
            Stage::Asking => self.answer(&word, line),
            Stage::Symptom => self.symptom(line),
        }
    }

    /// The closing reply when input ends.
    pub fn leave(&mut self) -> Reply {
        let summary = (!self.trace.answers().is_empty()).then(|| Box::new(self.view()));
        Reply { notes: Vec::new(), case: None, all_causes: false, lines: Vec::new(), summary, ask: Ask::Nothing }
    }

    /// Words typed that are not settled: which thing or place they mean is still to be said.
    pub fn unsettled(&self) -> String {
        self.pending.iter().map(|p| p.hearing.words.as_str()).collect::<Vec<_>>().join(" and ")
    }

    /// The present state once more, worked out anew: the case may have been changed from outside.
    pub fn refresh(&mut self) -> Reply {
        self.assessed = None;
        self.earlier.clear();
        if !self.trace.answers().is_empty() && matches!(self.stage, Stage::Symptom) && self.pending.is_empty() {
            self.stage = Stage::Asking;
        }
        self.reply(Vec::new())
    }

    /// A line of so many letters was not taken.
    pub fn too_long(&mut self, length: usize) -> Reply {
        self.refuse(&format!(
            "That line is {length} letters long; the most is {LONGEST_LINE}. Nothing was taken from it."
        ))
    }

    /// A line that is no text was not taken.
    pub fn not_text(&mut self) -> Reply {
        self.refuse("That line holds bytes that are no text. Nothing was taken from it.")
    }

    /// Says why a line was not taken, and asks again.
    pub fn refuse(&mut self, why: &str) -> Reply {
        let mut reply = self.reply(vec![why.to_owned()]);
        reply.case = None;
        reply
    }

    fn empty_hint(&self) -> String {
        match &self.stage {
            Stage::Symptom => {
                "Type what is wrong in your own words, such as “one reversing lamp out”, or q to stop.".to_owned()
            }
            Stage::Clash(_) => "Type the number of the answer to take back, or u for the last one.".to_owned(),
            Stage::ChooseTarget(_) | Stage::ChoosePlace(_) => "Type the number of your choice.".to_owned(),
            Stage::Asking => "Type an answer: y, n, d for don't know, c for can't do here; ? for help.".to_owned(),
        }
    }

    fn symptom(&mut self, text: &str) -> Reply {
        if self.trace.is_closed() {
            // What was said before the repair speaks of a state that is gone.
            self.trace.begin_again();
            self.put_aside();
        }
        let notes = self.hear(text);
        self.settle(notes)
    }

    /// Hears a text into the queue; gives notes on what was not understood or is not on this vehicle.
    fn hear(&mut self, text: &str) -> Vec<String> {
        let (hearings, not_understood) = self.ear.hear(text, self.trace.book, &self.trace.fitted);
        self.heard = Heard { not_understood: not_understood.iter().map(|w| visible(w)).collect(), ..Heard::default() };
        let mut notes = Vec::new();
        let any_clear = hearings.iter().any(|h| !h.good && h.verdict == Verdict::Clear);
        for mut hearing in hearings {
            hearing.words = visible(&hearing.words);
            if !hearing.good {
                let offers = hearing.offers.iter().take(MOST_OFFERED);
                self.heard.offers.extend(offers.map(|o| Offered {
                    target: o.0,
                    score: o.1,
                    words: hearing.words.clone(),
                }));
            }
            if let Some(target) = hearing.not_on_vehicle {
                let name = named(target, self.trace.book).1;
                notes.push(format!(
                    "“{}” sounds like “{name}”, but {} has nothing of the kind.",
                    hearing.words, self.trace.fitted.vehicle.name
                ));
                self.note_nearest(&hearing);
                continue;
            }
            if hearing.good {
                self.note_good(&hearing, &mut notes);
                continue;
            }
            match hearing.verdict {
                Verdict::Clear => {
                    let target = hearing.offers.first().map(|o| (o.0, o.1));
                    self.pending.push_back(Pending { hearing, target });
                }
                Verdict::Ambiguous => self.pending.push_back(Pending { hearing, target: None }),
                Verdict::Unknown => {
                    self.note_nearest(&hearing);
                    if !any_clear || hearing.offers.first().is_some_and(|o| o.1 > 0.0) {
                        notes.push(self.nothing_matches(&hearing));
                    }
                }
            }
        }
        if notes.is_empty() && self.pending.is_empty() {
            notes.push("Nothing here matches that. Say which part it is and what it does or does not do.".to_owned());
        }
        notes
    }

    fn note_nearest(&mut self, hearing: &Hearing) {
        let targets: Vec<Target> = hearing.offers.iter().take(3).map(|o| o.0).collect();
        for name in self.trace.target_names(&targets) {
            if !self.heard.nearest.contains(&name) {
                self.heard.nearest.push(name);
            }
        }
    }

    fn nothing_matches(&self, hearing: &Hearing) -> String {
        let targets: Vec<Target> = hearing.offers.iter().take(3).map(|o| o.0).collect();
        let names = self.trace.target_names(&targets);
        if names.is_empty() {
            format!("Nothing here matches “{}”.", hearing.words)
        } else {
            format!("Nothing here matches “{}”; nearest are: {}.", hearing.words, names.join("; "))
        }
    }

    /// Something said to be well: a negative finding, if it is plain what is meant and nothing says otherwise.
    fn note_good(&mut self, hearing: &Hearing, notes: &mut Vec<String>) {
        let Some((Target::Sign(sign), score, _)) = hearing.offers.first() else { return };
        if *score < WELL_ENOUGH {
            return;
        }
        let target = Target::Sign(*sign);
        let here = spoken_of(&hearing.place, &places(target, self.trace.book, &self.trace.fitted), &self.trace.fitted);
        let spoken: Vec<_> = self.trace.seen();
        let readings: Vec<_> = here
            .iter()
            .flat_map(|p| readings(target, *p, self.trace.book, &self.trace.fitted))
            .filter(|(var, _)| !spoken.contains(var))
            .map(|(var, _)| (var, false))
            .collect();
        if readings.is_empty() {
            return;
        }
        let (id, name) = named(target, self.trace.book);
        notes.push(format!("Noted as not so: {name}."));
        let answer = Answer::Reported {
            words: hearing.words.clone(),
            id: id.to_owned(),
            name: name.to_owned(),
            place: if here.len() == 1 { here[0] } else { None },
            readings,
            score: *score,
            place_guessed: false,
        };
        self.push(answer);
    }

    /// Settles what is pending as far as it goes without asking.
    fn settle(&mut self, notes: Vec<String>) -> Reply {
        while let Some(pending) = self.pending.front() {
            let Some((target, score)) = pending.target else {
                let all = &pending.hearing.offers;
                let best = all.first().map_or(0.0, |o| o.1);
                let near = all.iter().filter(|o| best - o.1 <= NEAR_ENOUGH);
                let offers: Vec<(Target, f64)> = near.take(MOST_CHOICES).map(|o| (o.0, o.1)).collect();
                self.stage = Stage::ChooseTarget(offers);
                return self.reply(notes);
            };
            let words = pending.hearing.place;
            let all = spoken_of(&words, &places(target, self.trace.book, &self.trace.fitted), &self.trace.fitted);
            if all.len() > 1 && !means_all(&words) {
                let mut choices: Vec<Vec<Option<usize>>> = all.iter().take(MOST_PLACES).map(|p| vec![*p]).collect();
                if matches!(target, Target::Sign(_)) {
                    choices.push(all);
                }
                self.stage = Stage::ChoosePlace(choices);
                return self.reply(notes);
            }
            let words = pending.hearing.words.clone();
            self.pending.pop_front();
            self.report(&words, target, score, &all, false);
        }
        self.stage = if self.trace.answers().is_empty() { Stage::Symptom } else { Stage::Asking };
        self.reply(notes)
    }

    /// Records a symptom at one place, or at several at once.
    fn report(&mut self, words: &str, target: Target, score: f64, at: &[Option<usize>], place_guessed: bool) {
        let mut all: Vec<(Var, bool)> = Vec::new();
        for place in at {
            for reading in readings(target, *place, self.trace.book, &self.trace.fitted) {
                match all.iter_mut().find(|(var, _)| *var == reading.0) {
                    // "Both" of a phrase that says "this one, not the other": being there outweighs.
                    Some(known) => known.1 |= reading.1,
                    None => all.push(reading),
                }
            }
        }
        let (id, name) = named(target, self.trace.book);
        let answer = |readings| Answer::Reported {
            words: visible(words),
            id: id.to_owned(),
            name: name.to_owned(),
            place: if at.len() == 1 { at[0] } else { None },
            readings,
            score,
            place_guessed,
        };
        let seen_only: Vec<(Var, bool)> = all.iter().copied().filter(|r| r.1).collect();
        let says_absent = seen_only.len() < all.len();
        let before = self.trace.answers().len();
        self.push(answer(all));
        if before > 0 && says_absent && !self.trace.holds_together() {
            // "One tail lamp out" beside "both side lamps out": what the phrase says of the others is a way of speaking.
            self.trace.undo();
            self.push(answer(seen_only));
        }
    }

    fn choose(&mut self, word: &str, line: &str) -> Reply {
        let count = match &self.stage {
            Stage::ChooseTarget(offers) => offers.len() + 1,
            Stage::ChoosePlace(choices) => choices.len(),
            _ => 0,
        };
        let number = word.parse::<usize>().ok().filter(|n| (1..=count).contains(n));
        let Some(number) = number else {
            // A place in words, or a fresh description.
            if let Stage::ChoosePlace(choices) = &self.stage
                && let Some(i) = self.place_in_words(line, choices)
            {
                return self.chosen(i);
            }
            if word.parse::<f64>().is_ok() || word.split_whitespace().count() < 2 {
                return self.reply(vec![format!("Type a number from 1 to {count}.")]);
            }
            let (heard, _) = self.ear.hear(line, self.trace.book, &self.trace.fitted);
            if heard.iter().all(|h| h.good || h.verdict == Verdict::Unknown) {
                return self.reply(vec![format!("Type a number from 1 to {count}.")]);
            }
            self.pending.pop_front();
            return self.symptom(line);
        };
        self.chosen(number - 1)
    }

    fn place_in_words(&self, line: &str, choices: &[Vec<Option<usize>>]) -> Option<usize> {
        let (heard, _) = self.ear.hear(line, self.trace.book, &self.trace.fitted);
        let words: PlaceWords = heard.first()?.place;
        if means_all(&words) {
            return choices.iter().position(|c| c.len() > 1);
        }
        if words.side.is_none() && words.end.is_none() {
            return None;
        }
        let singles: Vec<Option<usize>> = choices.iter().filter(|c| c.len() == 1).map(|c| c[0]).collect();
        let found = spoken_of(&words, &singles, &self.trace.fitted);
        (found.len() == 1).then(|| choices.iter().position(|c| *c == found)).flatten()
    }

    fn chosen(&mut self, i: usize) -> Reply {
        match std::mem::replace(&mut self.stage, Stage::Symptom) {
            Stage::ChooseTarget(offers) => match offers.get(i) {
                Some(offer) => {
                    if let Some(pending) = self.pending.front_mut() {
                        pending.target = Some(*offer);
                    }
                    self.settle(Vec::new())
                }
                None => {
                    let words = self.pending.pop_front().map_or(String::new(), |p| p.hearing.words);
                    self.settle(vec![format!(
                        "None of these, then. Say “{words}” in other words: which part, and what it does or does not do."
                    )])
                }
            },
            Stage::ChoosePlace(choices) => {
                if let Some(pending) = self.pending.pop_front()
                    && let Some((target, score)) = pending.target
                    && let Some(at) = choices.get(i)
                {
                    self.report(&pending.hearing.words, target, score, at, false);
                }
                self.settle(Vec::new())
            }
            other => {
                self.stage = other;
                self.reply(Vec::new())
            }
        }
    }

    fn settle_clash(&mut self, word: &str, clash: &[usize]) -> Reply {
        match word.parse::<usize>().ok().and_then(|n| n.checked_sub(1)) {
            Some(index) if clash.contains(&index) => {
                let view = self.trace.answer_view(index);
                self.trace.take_back(index);
                self.put_aside();
                self.reply(vec![format!("Taken back: {} {}.", view.what, view.said)])
            }
            _ => self.reply(vec!["Type one of the numbers shown, or u for the last answer.".to_owned()]),
        }
    }

    fn answer(&mut self, word: &str, line: &str) -> Reply {
        match word {
            "w" | "why" => {
                self.assess();
                let lines = match &self.assessed {
                    Some(Ok(assessment)) => explain::why(&self.trace, assessment),
                    _ => vec!["There is nothing to explain yet.".to_owned()],
                };
                return self.with_lines(lines);
            }
            "plan" => {
                let lines = tree::lines(&tree::plan(&mut self.trace, PLAN_DEPTH));
                return self.with_lines(lines);
            }
            "causes" | "more" | "m" => {
                let mut reply = self.reply(Vec::new());
                reply.all_causes = true;
                return reply;
            }
            _ => {}
        }
        if let Some(rest) = word.strip_prefix("also ") {
            return self.symptom(&line[line.len() - rest.len()..]);
        }
        self.assess();
        let step = match &self.assessed {
            Some(Ok(Assessment { advice: Some(advice), .. })) => advice.step.clone(),
            _ => return self.symptom(line),
        };
        match step {
            Step::Check { check, reading } => self.answer_check(word, line, check, reading),
            Step::Repair { cause, remedy, place } => match word {
                "y" | "yes" => {
                    self.push(Answer::Tried { cause, remedy, place, cured: true });
                    let summary = self.view();
                    self.stage = Stage::Symptom;
                    let mut reply =
                        self.reply(vec!["Put right and proved. A new symptom begins a new case.".to_owned()]);
                    reply.case = None;
                    reply.summary = Some(Box::new(summary));
                    reply
                }
                "n" | "no" => {
                    self.push(Answer::Tried { cause, remedy, place, cured: false });
                    self.reply(vec!["No change: that was not it, or not all of it.".to_owned()])
                }
                "d" | "c" | "don't know" | "dont know" | "can't" | "cant" | "not now" | "skip" => {
                    self.push(Answer::NotNow { remedy, place });
                    self.reply(vec!["Left for now.".to_owned()])
                }
                _ => self.not_an_answer(
                    word,
                    line,
                    "y if it is put right and proved, n if nothing changed, c to leave it for now",
                ),
            },
            Step::Specialist => self.not_an_answer(word, line, "u to go back, s for the summary, q to stop"),
        }
    }

    fn answer_check(&mut self, word: &str, line: &str, check: usize, reading: usize) -> Reply {
        let shelf = self.trace.fitted.checks[check].check;
        let measured = self.trace.book.checks.at(shelf).measure.is_some();
        let yes_means_present = self.trace.reading(check, reading).yes_means_present;
        let said = match word {
            "y" | "yes" | "yep" | "aye" => Some(if yes_means_present { Said::Present } else { Said::Absent }),
            "n" | "no" | "nope" => Some(if yes_means_present { Said::Absent } else { Said::Present }),
            "d" | "don't know" | "dont know" | "unsure" | "not sure" => Some(Said::DontKnow),
            _ => None,
        };
        match (word, said) {
            ("c" | "can't" | "cant" | "can't do" | "skip", _) => {
                self.push(Answer::CannotDo { check: shelf });
                self.reply(vec!["That check is left out.".to_owned()])
            }
            (_, Some(Said::DontKnow)) => {
                self.push(Answer::Reading { check, reading, said: Said::DontKnow });
                self.reply(Vec::new())
            }
            (_, Some(said)) if !measured => {
                let means = {
                    let read = self.trace.reading(check, reading);
                    if said == Said::Present { read.if_present.clone() } else { read.if_absent.clone() }
                };
                self.push(Answer::Reading { check, reading, said });
                self.reply(if means.is_empty() { Vec::new() } else { vec![means] })
            }
            _ if measured => match self.trace.measured(check, line) {
                Ok(value) => {
                    let mut notes = Vec::new();
                    if !value.unit_given {
                        notes.push(format!("Taken as {value}."));
                    }
                    let means = {
                        let read = self.trace.reading(check, reading);
                        let share = read.limits.share_present(value.value);
                        if share > 0.5 {
                            read.if_present.clone()
                        } else if share < 0.5 {
                            read.if_absent.clone()
                        } else {
                            "Between the limits: it settles little.".to_owned()
                        }
                    };
                    if !means.is_empty() {
                        notes.push(means);
                    }
                    self.push(Answer::Number { check, value });
                    self.reply(notes)
                }
                Err(why) if line.split_whitespace().count() < 3 || line.starts_with(|c: char| c.is_ascii_digit()) => {
                    self.refuse(&(crate::session::view::capital(&why) + "."))
                }
                Err(_) => self.symptom(line),
            },
            _ => self.not_an_answer(word, line, "y, n, d for don't know, c for can't do here"),
        }
    }

    /// A line that is no answer: several words are heard as a further symptom, one word is asked again.
    fn not_an_answer(&mut self, word: &str, line: &str, wanted: &str) -> Reply {
        if word.split_whitespace().count() >= 2 && !word.starts_with(|c: char| c.is_ascii_digit()) {
            return self.symptom(line);
        }
        self.refuse(&format!("“{}” is no answer here. Type {wanted}.", visible(line)))
    }

    fn undo(&mut self) -> Reply {
        if self.pending.pop_front().is_some() {
            self.stage = Stage::Symptom;
            return self.settle(vec!["Those words are dropped.".to_owned()]);
        }
        let last = self.trace.answers().len().checked_sub(1);
        let Some(last) = last else { return self.reply(vec!["There is nothing to take back.".to_owned()]) };
        let view = self.trace.answer_view(last);
        self.trace.undo();
        self.put_aside();
        self.stage = if self.trace.answers().is_empty() { Stage::Symptom } else { Stage::Asking };
        self.reply(vec![format!("Taken back: {} {}.", view.what, view.said)])
    }

    /// Builds the reply for the present stage.
    fn reply(&mut self, notes: Vec<String>) -> Reply {
        let mut reply =
            Reply { notes, case: None, all_causes: false, lines: Vec::new(), summary: None, ask: Ask::Symptom };
        if matches!(self.stage, Stage::Asking | Stage::Clash(_)) {
            let case = self.view();
            if let Some(Err(clash)) = &self.assessed {
                self.stage = Stage::Clash(clash.clone());
                reply.ask = Ask::Clash;
            } else {
                self.stage = Stage::Asking;
                reply.ask = case.next.clone().map_or(Ask::Symptom, |n| Ask::Next(Box::new(n)));
            }
            reply.case = Some(Box::new(case));
            return reply;
        }
        match &self.stage {
            Stage::ChooseTarget(offers) => {
                let words = self.pending.front().map_or("", |p| p.hearing.words.as_str());
                let mut options: Vec<String> =
                    offers.iter().map(|(t, _)| named(*t, self.trace.book).1.to_owned()).collect();
                options.push("none of these".to_owned());
                reply.ask =
                    Ask::Choice { question: format!("“{words}” could mean several things. Which is it?"), options };
            }
            Stage::ChoosePlace(choices) => {
                let name = self.pending.front().and_then(|p| p.target).map_or("", |t| named(t.0, self.trace.book).1);
                let options = choices
                    .iter()
                    .map(|c| match c.as_slice() {
                        [one] => self.trace.fitted.place_name(*one).unwrap_or("").to_owned(),
                        [_, _] => "both".to_owned(),
                        _ => "all of them".to_owned(),
                    })
                    .collect();
                reply.ask = Ask::Choice { question: format!("{}: which one?", super::view::capital(name)), options };
            }
            _ => {}
        }
        reply
    }

    fn with_lines(&mut self, lines: Vec<String>) -> Reply {
        let mut reply = self.reply(Vec::new());
        reply.lines = lines;
        reply.case = None;
        reply
    }
}
