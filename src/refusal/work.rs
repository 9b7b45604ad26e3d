//! The work that a refusal sheet asks for: signs, likely causes, and one plan in the order in which the vehicle is set up.
//!
//! Takes the entries of a sheet and a case on the vehicle; gives a [`SheetView`] of plain data. All lines count as evidence together, so that
//! one bad earth behind three lines is found as one. An advisory is a remark below the limit: it is watched and is no evidence. Never says that
//! the vehicle will pass; the tester has the last word.

use std::collections::BTreeMap;

use serde::Serialize;

use super::place::Spot;
use super::sheet::{Category, Entry, Role};
use crate::advice::{Gate, Ranked, Step, gate};
use crate::graph::Fitted;
use crate::graph::net::Var;
use crate::knowledge::book::{Book, Node};
use crate::session::view::{CautionView, ItemView};
use crate::session::{Answer, Ear, Target, Trace};

/// Version of the JSON form. Fields are only ever added within a version.
pub const SCHEMA: &str = "splitpin-refused/1";
/// Causes shown of a line, and from which probability on.
const CAUSES: (usize, f64) = (3, 0.02);

/// A cause of a line.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct LineCause {
    pub id: String,
    pub name: String,
    pub probability: f64,
}

/// A line of the sheet.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct LineView {
    /// Number among the defects, from 1; none for other lines.
    pub number: Option<usize>,
    /// Line of the sheet, from 1.
    pub line: usize,
    pub text: String,
    /// `defect`, `heading`, `furniture`, `unread`.
    pub role: String,
    /// `dangerous`, `major`, `minor`, `advisory`: as the sheet says, or else as the manual does.
    pub category: Option<String>,
    /// Whether the sheet itself says the category.
    pub category_said: bool,
    /// The reference found: section and letters.
    pub reference: Option<String>,
    pub item: Option<ItemView>,
    /// Other lines of the manual that may be meant.
    pub others: Vec<ItemView>,
    /// What to bear in mind about the reading of this line.
    pub notes: Vec<String>,
    /// The place named, in words.
    pub place: String,
    /// The signs it is evidence of, with their place.
    pub signs: Vec<String>,
    pub causes: Vec<LineCause>,
    /// Words for `splitpin` that follow this line to its cause.
    pub trace: Option<String>,
}

/// A part to buy.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct PartNeedView {
    pub id: String,
    pub name: String,
    pub designation: String,
    pub quantity: u32,
    /// Pounds, each.
    pub price_from: f64,
    pub price_to: f64,
    pub lead_days: f64,
    /// Not before the check has decided.
    pub after_check: bool,
    /// For which lines.
    pub lines: Vec<usize>,
}

/// A piece of work.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct JobView {
    /// `check`, `repair`, `specialist`, or `see` where the book knows no more than the line says.
    pub kind: String,
    pub id: String,
    pub name: String,
    pub lines: Vec<usize>,
    pub dangerous: bool,
    pub minutes: f64,
    pub kit: Vec<String>,
    pub cautions: Vec<CautionView>,
    /// For a check: what decides; for a repair: what for.
    pub why: String,
    /// For a check: the likely work after it.
    pub then: Vec<String>,
    /// The cautions of that work.
    pub then_cautions: Vec<CautionView>,
    /// Minutes of the likely work after a check.
    pub then_minutes: f64,
    #[serde(skip)]
    set_up: String,
    #[serde(skip)]
    first: usize,
}

/// Work that is done in one set-up.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct StageView {
    pub set_up: String,
    pub set_up_name: String,
    /// Minutes to get there from the set-up before.
    pub change_minutes: f64,
    pub jobs: Vec<JobView>,
}

/// The whole sheet.
#[derive(Clone, Debug, Serialize)]
#[allow(missing_docs)]
pub struct SheetView {
    pub schema: &'static str,
    pub vehicle: String,
    pub vehicle_name: String,
    /// Why it must not be driven.
    pub danger: Vec<String>,
    pub lines: Vec<LineView>,
    /// Numbers of lines that cannot all be true on this vehicle; the last of each was set aside.
    pub clashes: Vec<Vec<usize>>,
    pub stages: Vec<StageView>,
    pub parts: Vec<PartNeedView>,
    /// Minutes of set-up and of work that stands fast.
    pub minutes: f64,
    /// Further minutes of the likely repairs after the checks.
    pub likely_minutes: f64,
    /// Whether all probabilities are exact.
    pub exact: bool,
    pub reminder: &'static str,
}

/// What stands under every sheet.
pub const REMINDER: &str = "Probabilities, not promises: the vehicle's handbook, the official manual and the tester have the last word. \
                            Ask the tester about a line that is not clear.";

/// A sheet on a vehicle, with what is needed to follow a line further.
pub struct Planned {
    /// For the reader.
    pub view: SheetView,
    /// The answers of each defect, by its number less one; none for remarks and lines without a sign.
    answers: Vec<Vec<Answer>>,
    /// The causes that each defect raises.
    raised: Vec<Vec<Var>>,
}

impl Planned {
    /// How many defects there are.
    pub fn defects(&self) -> usize {
        self.answers.len()
    }

    /// The evidence with which a defect is followed: its own, then that of other lines which share a cause with it.
    pub fn evidence_for(&self, number: usize) -> Vec<Answer> {
        let Some(own) = number.checked_sub(1).and_then(|n| self.answers.get(n)) else { return Vec::new() };
        let mut out = own.clone();
        for (other, answers) in self.answers.iter().enumerate().filter(|(o, _)| o + 1 != number && !own.is_empty()) {
            if self.raised[other].iter().any(|v| self.raised[number - 1].contains(v)) {
                out.extend(answers.iter().cloned());
            }
        }
        out
    }
}

/// Lays out the work of a sheet. The trace is a fresh one on the vehicle.
pub fn plan(entries: &[Entry], trace: &mut Trace<'_>, ear: &Ear) -> Planned {
    let mut lines: Vec<LineView> = Vec::new();
    let mut answers: Vec<Vec<Answer>> = Vec::new();
    for entry in entries {
        let number = (entry.role == Role::Defect).then_some(answers.len() + 1);
        let mut line = line_view(entry, number, trace);
        if number.is_some() {
            let own = if line.category.as_deref() == Some("advisory") {
                line.notes.push("A remark: watched, and no evidence of a fault today.".to_owned());
                Vec::new()
            } else {
                implied(entry, &mut line, trace, ear)
            };
            answers.push(own);
        }
        lines.push(line);
    }
    let clashes = set_evidence(trace, &answers);
    for clash in &clashes {
        if let Some(last) = clash.last()
            && let Some(own) = answers.get_mut(last - 1)
        {
            own.clear();
        }
    }
    let mut planned = lay_out(lines, answers, trace);
    planned.view.clashes = clashes;
    planned
}

/// Gives the trace all evidence that holds together; gives the sets of defects that clash.
fn set_evidence(trace: &mut Trace<'_>, answers: &[Vec<Answer>]) -> Vec<Vec<usize>> {
    let mut clashes = Vec::new();
    let mut left: Vec<(usize, &Answer)> =
        answers.iter().enumerate().flat_map(|(i, own)| own.iter().map(move |a| (i + 1, a))).collect();
    loop {
        trace.begin_again();
        left.iter().for_each(|(_, a)| trace.push((*a).clone()));
        let Err(clash) = trace.believe() else { return clashes };
        let mut numbers: Vec<usize> = clash.iter().filter_map(|i| left.get(*i)).map(|(n, _)| *n).collect();
        numbers.dedup();
        let Some(last) = numbers.iter().max().copied() else { return clashes };
        left.retain(|(n, _)| *n != last);
        numbers.sort_unstable();
        clashes.push(numbers);
    }
}

fn line_view(entry: &Entry, number: Option<usize>, trace: &Trace<'_>) -> LineView {
    let matched = &entry.matched;
    let item = matched.candidates.first().map(|c| trace.book.items.at(c.item));
    let category = match (entry.category, item) {
        (Some(said), _) => Some(said.word().to_owned()),
        (None, Some(item)) => Some(item.category.clone()),
        _ => None,
    };
    let mut notes = Vec::new();
    let reference = matched.reference.as_ref().map(|r| format!("{} {}", r.section, r.letters).trim().to_owned());
    if matched.disagree {
        notes.push(
            "The reference and the words speak of different things; the reference is taken. Ask the tester.".to_owned(),
        );
    } else if let Some(r) = reference.as_ref().filter(|_| !matched.reference_known) {
        notes
            .push(format!("The manual's line {r} is not known for this vehicle; the words decide within the section."));
    }
    if matched.not_for_it {
        notes
            .push("By its description this line is not for this vehicle: is a trait wrong? Ask the tester.".to_owned());
    }
    if matched.doubtful {
        notes.push("Not certain: another line of the manual fits almost as well.".to_owned());
    }
    if let (Some(said), Some(item)) = (entry.category, item)
        && said != Category::Advisory
        && said.word() != item.category
    {
        notes.push(format!("The sheet says {}, this line of the manual is {}.", said.word(), item.category));
    }
    LineView {
        number,
        line: entry.line,
        text: entry.text.clone(),
        role: entry.role.word().to_owned(),
        category: category.filter(|_| entry.role == Role::Defect || entry.role == Role::Heading),
        category_said: entry.category.is_some(),
        reference,
        item: item.map(ItemView::of),
        others: matched.candidates.iter().skip(1).take(2).map(|c| ItemView::of(trace.book.items.at(c.item))).collect(),
        notes,
        place: matched.spot.words(),
        signs: Vec::new(),
        causes: Vec::new(),
        trace: None,
    }
}

/// The evidence of a line: the sign tied to its line of the manual that the words fit best, at the place named.
fn implied(entry: &Entry, line: &mut LineView, trace: &Trace<'_>, ear: &Ear) -> Vec<Answer> {
    let (book, fitted) = (trace.book, &trace.fitted);
    let Some(item) = entry.matched.candidates.first().map(|c| book.items.at(c.item)) else { return Vec::new() };
    let tied: Vec<usize> = (0..book.signs.len())
        .filter(|s| book.signs.at(*s).items.iter().any(|r| r.id == item.head.id))
        .filter(|s| !fitted.vars_of(Node::Sign(*s)).is_empty())
        .collect();
    if tied.is_empty() {
        let why = if item.not_tied.is_empty() { "this vehicle shows no sign of it" } else { &item.not_tied };
        line.notes.push(format!("No causes are worked out for this line: {why}."));
        return Vec::new();
    }
    let heard: Vec<(Target, f64)> = if tied.len() > 1 {
        let (hearings, _) = ear.hear(&entry.matched.words, book, fitted);
        hearings.into_iter().flat_map(|h| h.offers).map(|o| (o.0, o.1)).collect()
    } else {
        Vec::new()
    };
    let fit = |s: usize| heard.iter().filter(|h| h.0 == Target::Sign(s)).map(|h| h.1).fold(0.0, f64::max);
    let spot = &entry.matched.spot;
    let place = |v: &Var| fitted.placed(*v).place;
    let at = |spot: &Spot, s: usize| -> Vec<Var> {
        let all = fitted.vars_of(Node::Sign(s)).into_iter();
        all.filter(|v| place(v).is_none_or(|p| spot.fits(fitted.vehicle.places[p].position))).collect()
    };
    // A sign that the place named can show goes before one that it cannot.
    let best = tied.iter().copied().max_by(|a, b| {
        let here = |s: usize| !at(spot, s).is_empty();
        here(*a).cmp(&here(*b)).then(fit(*a).total_cmp(&fit(*b))).then(b.cmp(a))
    });
    let Some(sign) = best else { return Vec::new() };
    // Of a place that the vehicle has not, the end counts before the side: "front nearside" of a three-wheeler is its front.
    let narrower = [*spot, Spot { side: None, ..*spot }, Spot { end: None, axle: None, ..*spot }, Spot::default()];
    let from = narrower.iter().map(|s| at(s, sign)).find(|v| !v.is_empty()).unwrap_or_default();
    let lost = at(spot, sign).is_empty();
    let guessed = from.len() > 1 && !spot.all;
    let taken: Vec<Var> = if guessed { from[..1].to_vec() } else { from.clone() };
    let head = &book.signs.at(sign).head;
    if let Some(name) = taken.first().and_then(|v| fitted.place_name(place(v))) {
        if lost {
            line.notes.push(format!("This vehicle has no {} for it; the {name} is taken.", spot.words()));
        } else if guessed {
            line.notes
                .push(format!("It could be at {} places; the {name} is taken. Look at the others too.", from.len()));
        }
    }
    let mut given: Vec<String> = Vec::new();
    for var in &taken {
        line.signs.push(fitted.name(*var, book));
        let at = fitted.place_id(fitted.placed(*var).place).filter(|p| !p.is_empty());
        given.push(format!("--given {}{}=yes", head.id, at.map_or(String::new(), |p| format!("@{p}"))));
    }
    line.trace = Some(format!("trace {}", given.join(" ")));
    let reported = |var: &Var| Answer::Reported {
        words: entry.text.clone(),
        id: head.id.clone(),
        name: head.name.clone(),
        place: fitted.placed(*var).place,
        readings: vec![(*var, true)],
        score: entry.matched.candidates.first().map_or(0.0, |c| c.score.min(1.0)),
        place_guessed: guessed,
    };
    taken.iter().map(reported).collect()
}

/// Parts by id, and jobs by what they are.
#[derive(Default)]
struct Work {
    jobs: BTreeMap<(String, String), JobView>,
    parts: BTreeMap<String, PartNeedView>,
    counted: Vec<(usize, Option<usize>)>,
}

fn lay_out(mut lines: Vec<LineView>, answers: Vec<Vec<Answer>>, trace: &Trace<'_>) -> Planned {
    let mut danger: Vec<String> = Vec::new();
    for line in lines.iter().filter(|l| l.number.is_some() && l.category.as_deref() == Some("dangerous")) {
        let by = if line.category_said { "the sheet says dangerous" } else { "dangerous by this line of the manual" };
        danger.push(format!("Line {}: {by}.", line.number.unwrap_or(0)));
    }
    let mut raised = vec![Vec::new(); answers.len()];
    let mut work = Work::default();
    let posterior = trace.believe().ok();
    let exact = posterior.as_ref().is_none_or(crate::inference::Posterior::is_exact);
    if let Some(posterior) = &posterior {
        let seen = trace.seen();
        let ranked = crate::advice::rank(trace.book, &trace.fitted, posterior, &seen);
        let own_gate = gate(trace.book, &trace.fitted, posterior, &ranked, &seen);
        let gate = match own_gate {
            Gate::DoNotDrive { ref why, .. } => {
                danger.push(why.clone());
                own_gate
            }
            Gate::Open => match danger.first() {
                Some(why) => Gate::DoNotDrive { why: why.clone(), probability: 1.0 },
                None => Gate::Open,
            },
        };
        for line in lines.iter_mut().filter(|l| l.category.as_deref() != Some("advisory")) {
            let Some(number) = line.number else { continue };
            let signs: Vec<Var> = answers[number - 1].iter().flat_map(signs_of).collect();
            if signs.is_empty() {
                work.see(number, line);
                continue;
            }
            let (ranked, advice) = trace.about(posterior, &signs, &gate);
            let shown = ranked.iter().filter(|r| r.raised && r.probability.value() >= CAUSES.1).take(CAUSES.0);
            line.causes = shown.map(|r| cause(r, &trace.fitted, trace.book)).collect();
            raised[number - 1] =
                ranked.iter().filter(|r| r.raised && r.fault(&trace.fitted).is_some()).map(|r| r.var).collect();
            let dangerous = line.category.as_deref() == Some("dangerous");
            match advice.map(|a| a.step) {
                Some(Step::Check { check, reading }) => work.check(number, dangerous, check, reading, &ranked, trace),
                Some(Step::Repair { cause, remedy, place }) => {
                    work.repair(number, dangerous, cause, remedy, place, trace)
                }
                Some(Step::Specialist) => work.specialist(number, dangerous, line),
                None => work.see(number, line),
            }
        }
    }
    let Work { jobs, parts, .. } = work;
    let mut jobs: Vec<JobView> = jobs.into_values().collect();
    jobs.sort_by(|a, b| b.dangerous.cmp(&a.dangerous).then(a.first.cmp(&b.first)).then(a.id.cmp(&b.id)));
    let stages = stages(jobs, trace);
    let all = || stages.iter().flat_map(|s| &s.jobs);
    let back = stages.last().map_or(0.0, |s| change(trace.book, &s.set_up, "standing"));
    let minutes = stages.iter().map(|s| s.change_minutes).sum::<f64>() + all().map(|j| j.minutes).sum::<f64>() + back;
    let likely_minutes = all().map(|j| j.then_minutes).sum();
    danger.dedup();
    let view = SheetView {
        schema: SCHEMA,
        vehicle: trace.fitted.vehicle.id.clone(),
        vehicle_name: trace.fitted.vehicle.name.clone(),
        danger,
        lines,
        clashes: Vec::new(),
        stages,
        parts: parts.into_values().collect(),
        minutes,
        likely_minutes,
        exact,
        reminder: REMINDER,
    };
    Planned { view, answers, raised }
}

fn signs_of(answer: &Answer) -> Vec<Var> {
    match answer {
        Answer::Reported { readings, .. } => readings.iter().filter(|r| r.1).map(|r| r.0).collect(),
        _ => Vec::new(),
    }
}

fn cause(ranked: &Ranked, fitted: &Fitted, book: &Book) -> LineCause {
    LineCause {
        id: fitted.id(ranked.var, book),
        name: fitted.name(ranked.var, book),
        probability: ranked.probability.value(),
    }
}

/// Minutes from one set-up into another.
fn change(book: &Book, from: &str, to: &str) -> f64 {
    if from == to {
        return 0.0;
    }
    book.set_ups.get(from).map_or(0.0, |s| s.undo_minutes) + book.set_ups.get(to).map_or(0.0, |s| s.minutes)
}

/// Jobs by set-up: set-ups with dangerous work first, then always the one that is nearest; ties by id.
fn stages(jobs: Vec<JobView>, trace: &Trace<'_>) -> Vec<StageView> {
    let mut groups: BTreeMap<String, Vec<JobView>> = BTreeMap::new();
    for job in jobs {
        groups.entry(job.set_up.clone()).or_default().push(job);
    }
    let mut out: Vec<StageView> = Vec::new();
    let mut now = "standing".to_owned();
    while !groups.is_empty() {
        let next = groups.iter().min_by(|a, b| {
            let dangerous = |jobs: &[JobView]| jobs.iter().any(|j| j.dangerous);
            let far = |to: &str| change(trace.book, &now, to);
            dangerous(b.1).cmp(&dangerous(a.1)).then(far(a.0).total_cmp(&far(b.0))).then(a.0.cmp(b.0))
        });
        let Some(set_up) = next.map(|(s, _)| s.clone()) else { break };
        let jobs = groups.remove(&set_up).unwrap_or_default();
        let name = trace.book.set_ups.get(&set_up).map_or(set_up.clone(), |s| s.head.name.clone());
        let change_minutes = change(trace.book, &now, &set_up);
        now.clone_from(&set_up);
        out.push(StageView { set_up, set_up_name: name, change_minutes, jobs });
    }
    out
}

impl Work {
    fn add(&mut self, number: usize, mut job: JobView) -> &mut JobView {
        job.first = number;
        let known = self.jobs.entry((job.kind.clone(), format!("{} {}", job.id, job.name))).or_insert(job.clone());
        if !known.lines.contains(&number) {
            known.lines.push(number);
        }
        known.dangerous |= job.dangerous;
        known.first = known.first.min(number);
        known
    }

    fn see(&mut self, number: usize, line: &LineView) {
        let name = line.item.as_ref().map_or(line.text.clone(), |i| i.name.clone());
        let why = "the book knows no more than the line says: look, and put right what is found".to_owned();
        let dangerous = line.category.as_deref() == Some("dangerous");
        let id = line.item.as_ref().map_or(String::new(), |i| i.id.clone());
        let name = if line.place.is_empty() { name } else { format!("{name} ({})", line.place) };
        self.add(number, JobView { why, ..job("see", &id, name, dangerous, "standing") });
    }

    fn specialist(&mut self, number: usize, dangerous: bool, line: &LineView) {
        let name = format!("hand over to a workshop: {}", line.signs.join(", "));
        let why = "what is left to try costs more than it is likely to bring".to_owned();
        self.add(number, JobView { why, ..job("specialist", "specialist", name, dangerous, "standing") });
    }

    fn check(
        &mut self,
        number: usize,
        dangerous: bool,
        check: usize,
        reading: usize,
        ranked: &[Ranked],
        trace: &Trace<'_>,
    ) {
        let placed = &trace.fitted.checks[check];
        let entry = trace.book.checks.at(placed.check);
        let name = trace.fitted.with_place(&entry.head.name, placed.place);
        let set_up = entry.set_up.id.as_str();
        let question = trace.question(check, reading);
        let job = JobView {
            minutes: entry.minutes,
            kit: trace.kit_names(&entry.kit, set_up),
            cautions: trace.step_cautions(set_up, &entry.cautions),
            why: question,
            ..job("check", &entry.head.id, name, dangerous, set_up)
        };
        self.add(number, job.clone());
        // The work that the leading causes would take.
        let mut then: Vec<(String, f64)> = Vec::new();
        let mut cautions: Vec<CautionView> = Vec::new();
        for cause in ranked.iter().filter(|r| r.raised && r.probability.value() >= 0.1).take(2) {
            let Some((remedy, place)) = trace.first_remedy(cause) else { continue };
            let named = trace.remedy_name(remedy, place);
            if then.iter().all(|t| t.0 != named) {
                let first = then.is_empty();
                let counts = first && !self.counted.contains(&(remedy, place));
                if first {
                    self.counted.push((remedy, place));
                }
                then.push((named, if counts { minutes(remedy, trace) } else { 0.0 }));
                let entry = trace.book.remedies.at(remedy);
                for caution in trace.step_cautions(&entry.set_up.id, &entry.cautions) {
                    if !cautions.contains(&caution) {
                        cautions.push(caution);
                    }
                }
                self.need(number, remedy, true, trace);
            }
        }
        let known = self.add(number, job);
        for caution in cautions {
            if !known.then_cautions.contains(&caution) {
                known.then_cautions.push(caution);
            }
        }
        for (name, minutes) in then {
            if !known.then.contains(&name) {
                known.then.push(name);
            }
            known.then_minutes += minutes;
        }
    }

    fn repair(
        &mut self,
        number: usize,
        dangerous: bool,
        cause: Var,
        remedy: usize,
        place: Option<usize>,
        trace: &Trace<'_>,
    ) {
        let entry = trace.book.remedies.at(remedy);
        let set_up = entry.set_up.id.as_str();
        let job = JobView {
            minutes: minutes(remedy, trace),
            kit: trace.kit_names(&entry.kit, set_up),
            cautions: trace.step_cautions(set_up, &entry.cautions),
            why: format!("for {}", trace.fitted.name(cause, trace.book)),
            ..job("repair", &entry.head.id, trace.remedy_name(remedy, place), dangerous, set_up)
        };
        self.add(number, job);
        self.counted.push((remedy, place));
        self.need(number, remedy, false, trace);
    }

    fn need(&mut self, number: usize, remedy: usize, after_check: bool, trace: &Trace<'_>) {
        for need in &trace.book.remedies.at(remedy).parts {
            let Some(part) = trace.book.parts.get(&need.part.id) else { continue };
            let known = self.parts.entry(part.head.id.clone()).or_insert_with(|| PartNeedView {
                id: part.head.id.clone(),
                name: part.head.name.clone(),
                designation: part.designation.clone(),
                quantity: 0,
                price_from: part.price.0.0 as f64 / 100.0,
                price_to: part.price.1.0 as f64 / 100.0,
                lead_days: part.lead_days,
                after_check,
                lines: Vec::new(),
            });
            known.after_check &= after_check;
            if !known.lines.contains(&number) {
                known.quantity += need.quantity;
                known.lines.push(number);
            }
        }
    }
}

fn job(kind: &str, id: &str, name: String, dangerous: bool, set_up: &str) -> JobView {
    JobView {
        kind: kind.to_owned(),
        id: id.to_owned(),
        name,
        lines: Vec::new(),
        dangerous,
        minutes: 0.0,
        kit: Vec::new(),
        cautions: Vec::new(),
        why: String::new(),
        then: Vec::new(),
        then_cautions: Vec::new(),
        then_minutes: 0.0,
        set_up: set_up.to_owned(),
        first: usize::MAX,
    }
}

/// Minutes of a remedy and of the check that proves it.
fn minutes(remedy: usize, trace: &Trace<'_>) -> f64 {
    let entry = trace.book.remedies.at(remedy);
    entry.minutes + trace.book.checks.get(&entry.proved_by.id).map_or(0.0, |c| c.minutes)
}
