//! Draws replies as text: 80 columns, bars beside numbers, cautions before steps. Colour adds, never carries, a meaning.

use std::fmt::Write as _;

use super::wrap::{ascii, wrap};
use crate::report::visible;
use crate::session::view::{
    CaseView, CauseView, CautionView, ItemView, NextView, PartView, REMINDER, SHORT_LIST_FLOOR, capital,
};
use crate::session::{Ask, Reply};
use crate::units::Pence;

/// Columns; fewer where plain text makes signs longer (`GBP 3` for a pound sign).
const WIDTH: (usize, usize) = (80, 68);
/// How many causes the short list shows.
const SHORT_LIST: usize = 5;
/// Cells of a probability bar.
const BAR: usize = 20;

/// What to say of a line of the manual that is not read from the current edition.
pub(super) fn doubt(certainty: &str) -> Option<&'static str> {
    match certainty {
        "older" => Some("older edition: ask the tester"),
        "memory" => Some("from memory: ask the tester"),
        _ => None,
    }
}

/// How to draw.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Screen {
    /// 7-bit, without bars, one thing a line.
    pub plain: bool,
    /// With colour.
    pub colour: bool,
}

impl Screen {
    pub(super) fn width(self) -> usize {
        if self.plain { WIDTH.1 } else { WIDTH.0 }
    }

    /// Text as it goes out.
    pub(super) fn finish(self, text: &str) -> String {
        if self.plain { ascii(text) } else { text.to_owned() }
    }

    pub(super) fn strong(self, text: &str) -> String {
        if self.colour { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    pub(super) fn warn(self, text: &str) -> String {
        if self.colour { format!("\u{1b}[1;33m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    /// A whole reply, ready to print; ends with what is wanted next.
    pub(super) fn reply(self, reply: &Reply) -> String {
        let mut out = String::new();
        for note in &reply.notes {
            line(&mut out, &wrap(&visible(note), self.width(), "", ""));
        }
        for text in &reply.lines {
            let indent = " ".repeat(text.len() - text.trim_start().len() + if text.starts_with(' ') { 2 } else { 0 });
            let first = &text[..text.len() - text.trim_start().len()];
            line(&mut out, &wrap(&visible(text.trim_start()), self.width(), first, &indent));
        }
        if let Some(summary) = &reply.summary {
            self.summary(&mut out, summary);
        }
        match (&reply.case, &reply.ask) {
            (Some(case), Ask::Clash) => self.clash(&mut out, case),
            (Some(case), ask) => {
                self.case(&mut out, case, reply.all_causes);
                if let Ask::Next(next) = ask {
                    self.next(&mut out, next);
                }
            }
            (None, Ask::Choice { question, options }) => self.choice(&mut out, question, options),
            (None, Ask::Next(next)) if reply.summary.is_none() => {
                line(&mut out, "");
                self.question(&mut out, next);
            }
            _ => {}
        }
        self.finish(&out)
    }

    fn choice(self, out: &mut String, question: &str, options: &[String]) {
        line(out, &wrap(question, self.width(), "", ""));
        for (i, option) in options.iter().enumerate() {
            line(out, &wrap(option, self.width(), &format!("  {}  ", i + 1), "     "));
        }
    }

    fn clash(self, out: &mut String, case: &CaseView) {
        line(out, &self.warn("These answers cannot all be true:"));
        for answer in &case.clash {
            line(
                out,
                &wrap(
                    &format!("{} {}", answer.what, answer.said),
                    self.width(),
                    &format!("  {}  ", answer.number),
                    "     ",
                ),
            );
        }
        line(out, "Nothing is lost. Type the number of the one to take back, or u for the last.");
    }

    fn symptoms(self, out: &mut String, case: &CaseView) {
        for symptom in case.symptoms.iter().filter(|s| s.taken) {
            let place = symptom.signs.iter().find(|s| s.reading == "present").and_then(|s| s.place.clone());
            let place = symptom.place.clone().or(place.filter(|_| symptom.signs.len() == 1));
            let place = place.map_or(String::new(), |p| format!(" ({})", p.replace('-', " ")));
            let not = if symptom.reading == "absent" { ": not so" } else { "" };
            line(out, &wrap(&format!("{}{place}{not}", symptom.name), self.width(), "Taken as: ", "          "));
        }
    }

    fn case(self, out: &mut String, case: &CaseView, all: bool) {
        if case.answers.len() == case.symptoms.iter().filter(|s| s.taken).count() {
            self.symptoms(out, case);
        }
        self.danger(out, case);
        if case.causes.is_empty() {
            line(out, "Nothing reported yet that points to a cause.");
            return;
        }
        line(out, "");
        line(out, &self.strong("Likely causes"));
        if !case.exact {
            line(out, "  too tangled to be exact: the ranges hold for certain");
        }
        let raised: Vec<&CauseView> =
            case.causes.iter().filter(|c| c.raised && c.probability >= SHORT_LIST_FLOOR).collect();
        let shown = if all { raised.len() } else { raised.len().min(SHORT_LIST) };
        for (i, cause) in raised.iter().take(shown).enumerate() {
            self.cause(out, i + 1, cause);
        }
        if raised.is_empty() {
            line(out, "  none that what was said would raise");
        }
        if raised.len() > shown {
            line(out, &format!("     and {} more (type causes)", raised.len() - shown));
        }
    }

    fn cause(self, out: &mut String, number: usize, cause: &CauseView) {
        let name = cause.place_name.as_ref().map_or(cause.name.clone(), |p| format!("{} ({p})", cause.name));
        let share = match cause.range {
            Some((low, high)) => format!("{:.0}-{:.0} %", low * 100.0, high * 100.0),
            None => percent(cause.probability),
        };
        if self.plain {
            line(out, &wrap(&format!("{number}. {share}: {name}"), self.width(), "", "   "));
            return;
        }
        let full = (cause.probability * BAR as f64).round() as usize;
        let bar: String = (0..BAR).map(|i| if i < full { '█' } else { '░' }).collect();
        line(out, &wrap(&name, self.width(), &format!("{number:>3}  {share:>6}  {bar}  "), &" ".repeat(35)));
    }

    fn danger(self, out: &mut String, case: &CaseView) {
        if let (Some(why), Some(p)) = (&case.danger, case.danger_probability) {
            line(out, "");
            let how = if p > 0.98 { String::new() } else { format!(" ({} likely)", percent(p)) };
            line(out, &self.warn(&wrap(&format!("DO NOT DRIVE IT. {}{how}", capital(why)), self.width(), "", "  ")));
        }
    }

    fn next(self, out: &mut String, next: &NextView) {
        line(out, "");
        match next.kind.as_str() {
            "specialist" => {
                line(out, &self.strong("Next: hand it over to a specialist"));
                for why in &next.why {
                    line(out, &wrap(why, self.width(), "  ", "  "));
                }
                line(out, "  Type s for the summary to take along, u to go back, or another symptom.");
                return;
            }
            "repair" => line(out, &self.strong(&wrap(&format!("Put it right: {}", next.name), self.width(), "", "  "))),
            _ if next.again => {
                line(out, "Same check, next question:");
                self.question(out, next);
                return;
            }
            _ => line(out, &self.strong(&wrap(&format!("Next: {}", next.name), self.width(), "", "  "))),
        }
        if let (Some(cause), Some(p)) = (&next.cause, next.cause_probability) {
            line(out, &wrap(&format!("for {cause}, {}", percent(p)), self.width(), "  ", "  "));
        }
        let reckoned = if next.kind == "repair" { "with parts and proof" } else { "reckoned at" };
        let mut facts = match next.kind.as_str() {
            "repair" => vec![format!("about {} min; {} {reckoned}", tidy(next.minutes), money(next.cost))],
            _ => vec![format!("about {} min, {reckoned} {}", tidy(next.minutes), money(next.cost))],
        };
        if !next.difficulty.is_empty() {
            facts.push(next.difficulty.clone());
        }
        if next.trial && next.cause_probability.is_none_or(|p| p < 0.9) {
            facts.push("worth trying before you are sure".to_owned());
        }
        facts.push(if next.change_set_up {
            format!("set-up: {}", next.set_up)
        } else {
            format!("set-up as now: {}", next.set_up)
        });
        line(out, &wrap(&facts.join("; "), self.width(), "  ", "  "));
        if !next.kit.is_empty() {
            line(out, &wrap(&next.kit.join(", "), self.width(), "  Kit: ", "       "));
        }
        self.caution_lines(out, &next.cautions);
        if !next.risk.is_empty() {
            line(out, &self.warn(&wrap(&format!("! May do harm: {}", next.risk), self.width(), "  ", "    ")));
        }
        for (i, step) in next.steps.iter().enumerate() {
            line(out, &wrap(step, self.width(), &format!("  {}. ", i + 1), "     "));
        }
        if !next.helper.is_empty() {
            line(out, &wrap(&next.helper, self.width(), "  ", "  "));
        }
        self.question(out, next);
    }

    fn question(self, out: &mut String, next: &NextView) {
        match next.kind.as_str() {
            "repair" => {
                if let Some(proof) = &next.proved_by {
                    line(
                        out,
                        &wrap(&format!("Prove it: {proof}. {}", next.proof_steps.join(" ")), self.width(), "  ", "  "),
                    );
                }
                line(out, "Done and proved?   y put right   n no change   c not now   w why");
            }
            "check" => {
                line(out, &self.strong(&wrap(&next.question, self.width(), "", "")));
                let keys = match &next.unit {
                    Some(unit) if unit.starts_with("a ") => {
                        format!("a number {unit}   d don't know   c can't do that here   w why   u undo")
                    }
                    Some(unit) => format!("a number in {unit}   d don't know   c can't do that here   w why   u undo"),
                    None => "y yes   n no   d don't know   c can't do that here   w why   u undo".to_owned(),
                };
                line(out, &keys);
            }
            _ => {}
        }
    }

    fn caution_lines(self, out: &mut String, cautions: &[CautionView]) {
        for caution in cautions {
            let text = format!("! {}. {}", capital(&caution.name), caution.what_to_do);
            line(out, &self.warn(&wrap(&text, self.width(), "  ", "    ")));
        }
    }

    /// The closing summary: what was said, what is likely, what to buy, what to mind.
    pub(super) fn summary(self, out: &mut String, case: &CaseView) {
        line(out, "");
        line(out, &self.strong(&format!("Summary: {}", case.vehicle_name)));
        for answer in &case.answers {
            line(
                out,
                &wrap(
                    &format!("{} {}", answer.what, answer.said),
                    self.width(),
                    &format!("  {}. ", answer.number),
                    "     ",
                ),
            );
        }
        self.danger(out, case);
        if let Some(put_right) = &case.put_right {
            line(out, &wrap(put_right, self.width(), "  Put right: ", "             "));
        }
        let likely: Vec<&CauseView> =
            case.causes.iter().filter(|c| c.raised && c.probability >= SHORT_LIST_FLOOR).take(3).collect();
        if !likely.is_empty() && case.put_right.is_none() {
            line(out, "  Likely causes:");
            for (i, cause) in likely.iter().enumerate() {
                self.cause(out, i + 1, cause);
            }
        }
        self.items(out, case);
        if let Some(next) = &case.next {
            line(out, &wrap(&next.name, self.width(), "  Next: ", "        "));
        }
        if !case.parts.is_empty() {
            line(
                out,
                if case.put_right.is_some() {
                    "  Parts:"
                } else {
                    "  Parts that may be needed; buy once the cause is sure:"
                },
            );
            for part in &case.parts {
                self.part(out, part);
            }
        }
        if !case.cautions.is_empty() {
            line(out, "  Cautions:");
            self.caution_lines(out, &case.cautions);
        }
        line(out, &wrap(REMINDER, self.width(), "  ", "  "));
    }

    /// The manual's lines for what was reported.
    fn items(self, out: &mut String, case: &CaseView) {
        let mut told: Vec<&str> = Vec::new();
        for sign in case.symptoms.iter().flat_map(|s| &s.signs).filter(|s| s.reading == "present") {
            for item in &sign.items {
                let newer = |other: &&ItemView| {
                    other.section == item.section && other.category == item.category && other.certainty == "read"
                };
                if told.contains(&item.id.as_str())
                    || (item.certainty != "read" && sign.items.iter().any(|o| newer(&o)))
                {
                    continue;
                }
                told.push(&item.id);
                let done = case.put_right.is_some();
                let verdict = match (item.category.as_str(), done) {
                    ("dangerous", false) => "would be refused as dangerous",
                    ("dangerous", true) => "would have been refused as dangerous",
                    ("major", false) => "would be refused (major)",
                    ("major", true) => "would have been refused (major)",
                    (_, false) => "would be recorded as minor",
                    (_, true) => "would have been recorded as minor",
                };
                let limit = if item.limit.is_empty() { String::new() } else { format!(", limit: {}", item.limit) };
                let doubt = doubt(&item.certainty).map_or(String::new(), |d| format!(" ({d})"));
                let text =
                    format!("At the test, {} {}, {}: {verdict}{limit}{doubt}.", item.section, item.defect, item.name);
                line(out, &wrap(&text, self.width(), "  ", "    "));
            }
        }
    }

    fn part(self, out: &mut String, part: &PartView) {
        let designation = if part.designation.is_empty() { String::new() } else { format!(", {}", part.designation) };
        let sold = match part.sold_as.as_str() {
            "each" => String::new(),
            "metre" => " m".to_owned(),
            other => format!(" ({other})"),
        };
        let text = format!(
            "{}{sold} {}{designation}; {} to {}, {} day{}; for {}, {}",
            part.quantity,
            part.name,
            money(part.price_from),
            money(part.price_to),
            tidy(part.lead_days),
            if part.lead_days == 1.0 { "" } else { "s" },
            part.for_cause,
            percent(part.probability),
        );
        line(out, &wrap(&text, self.width(), "    ", "      "));
    }
}

fn line(out: &mut String, text: &str) {
    let _ = writeln!(out, "{}", text.trim_end());
}

/// A probability in a column: short, where sentences say "under 1 %".
fn percent(p: f64) -> String {
    if p > 0.0 && p < 0.005 {
        "<1 %".to_owned()
    } else if (0.995..1.0).contains(&p) {
        ">99 %".to_owned()
    } else {
        format!("{:.0} %", p * 100.0)
    }
}

fn money(pounds: f64) -> String {
    crate::session::view::rounded(Pence::from_pounds(pounds))
}

/// A number without needless decimals.
fn tidy(n: f64) -> String {
    if (n - n.round()).abs() < 0.05 { format!("{n:.0}") } else { format!("{n:.1}") }
}
