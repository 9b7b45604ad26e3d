//! `refused` as text: what each line of the sheet was read as, then one work plan.

use std::fmt::Write as _;

use super::screen::{Screen, doubt};
use super::wrap::wrap;
use crate::refusal::work::{JobView, LineView, SheetView, StageView};
use crate::report::visible;
use crate::session::view::{CautionView, ItemView, capital};
use crate::units::Pence;

/// Draws a sheet.
pub(super) fn text(screen: Screen, sheet: &SheetView) -> String {
    let mut out = String::new();
    let mut page = Page { out: &mut out, screen };
    let defects = sheet.lines.iter().filter(|l| l.number.is_some()).count();
    let unread = sheet.lines.iter().filter(|l| l.role == "unread").count();
    page.para("", "", &format!("Defects and remarks read: {defects}. Lines that could not be read: {unread}."));
    page.danger(sheet);
    for line in sheet.lines.iter().filter(|l| l.number.is_some()) {
        page.line(line);
    }
    page.left_over(sheet);
    for clash in &sheet.clashes {
        let numbers: Vec<String> = clash.iter().map(usize::to_string).collect();
        let last = numbers.last().cloned().unwrap_or_default();
        page.para(
            "",
            "  ",
            &format!("Lines {} cannot all be true on this vehicle; line {last} was set aside.", numbers.join(" and ")),
        );
    }
    page.plan(sheet);
    page.watch(sheet);
    page.blank();
    page.para("", "", sheet.reminder);
    screen.finish(&out)
}

struct Page<'a> {
    out: &'a mut String,
    screen: Screen,
}

impl Page<'_> {
    fn para(&mut self, first: &str, rest: &str, text: &str) {
        let _ = writeln!(self.out, "{}", wrap(&visible(text), self.screen.width(), first, rest));
    }

    fn blank(&mut self) {
        self.out.push('\n');
    }

    fn head(&mut self, text: &str) {
        self.blank();
        let strong = self.screen.strong(text);
        let _ = writeln!(self.out, "{strong}");
    }

    fn danger(&mut self, sheet: &SheetView) {
        if let Some(first) = sheet.danger.first() {
            self.blank();
            let all = sheet.danger.iter().skip(1).fold(first.clone(), |all, more| format!("{all} {more}"));
            let text = wrap(&format!("DO NOT DRIVE IT. {}", visible(&all)), self.screen.width(), "", "  ");
            let _ = writeln!(self.out, "{}", self.screen.warn(&text));
        }
    }

    fn line(&mut self, line: &LineView) {
        self.blank();
        let number = line.number.unwrap_or(0);
        let category = line.category.as_deref().unwrap_or("");
        self.para(&format!("{number}. "), "   ", &format!("“{}”: {category}", line.text));
        if let Some(item) = &line.item {
            self.para("   ", "     ", &format!("At the test, {}", item_words(item, category)));
        }
        for note in &line.notes {
            self.para("   ? ", "     ", note);
        }
        if line.notes.iter().any(|n| n.starts_with("Not certain") || n.starts_with("The reference and")) {
            for other in line.others.iter().take(2) {
                self.para("   or ", "      ", &format!("{} {}, {}", other.section, other.defect, other.name));
            }
        }
        if !line.signs.is_empty() {
            self.para("   Sign: ", "     ", &line.signs.join("; "));
        }
        for cause in &line.causes {
            let share = format!("   {:>3.0} %  ", (100.0 * cause.probability).clamp(1.0, 99.0));
            self.para(&share, "          ", &cause.name);
        }
    }

    /// Every line that is no defect.
    fn left_over(&mut self, sheet: &SheetView) {
        let rest: Vec<&LineView> = sheet.lines.iter().filter(|l| l.number.is_none()).collect();
        if rest.is_empty() {
            return;
        }
        self.head("Lines that were not taken for a defect");
        for line in rest {
            let why = match line.role.as_str() {
                "heading" => "a heading",
                "furniture" => "no defect: date, name, number or the like",
                _ => "not read: no line of the manual fits; ask the tester, or type it in other words",
            };
            self.para(&format!("  line {}: ", line.line), "    ", &format!("“{}”: {why}", line.text));
        }
    }

    fn plan(&mut self, sheet: &SheetView) {
        if sheet.stages.is_empty() {
            return;
        }
        self.head("Work plan");
        let likely = if sheet.likely_minutes > 0.0 {
            format!("; the likely repairs after the checks about {:.0} more", sheet.likely_minutes)
        } else {
            String::new()
        };
        self.para("  ", "  ", &format!("about {:.0} min with set-ups{likely}", sheet.minutes));
        let parts: Vec<&_> = sheet.parts.iter().collect();
        let mut step = 0;
        let mut told: Vec<String> = Vec::new();
        for stage in &sheet.stages {
            self.stage(stage, &mut step, &mut told);
        }
        if parts.is_empty() {
            return;
        }
        self.head("Parts");
        for part in parts {
            let when = if part.after_check { "only after the check" } else { "wanted" };
            let designation =
                if part.designation.is_empty() { String::new() } else { format!(", {}", part.designation) };
            let lines: Vec<String> = part.lines.iter().map(usize::to_string).collect();
            self.para(
                "  ",
                "    ",
                &format!(
                    "{} x {}{designation}: {} to {} each, usually {} day{}; {when}; line {}",
                    part.quantity,
                    part.name,
                    Pence::from_pounds(part.price_from),
                    Pence::from_pounds(part.price_to),
                    part.lead_days,
                    if part.lead_days == 1.0 { "" } else { "s" },
                    lines.join(", ")
                ),
            );
        }
    }

    fn stage(&mut self, stage: &StageView, step: &mut usize, told: &mut Vec<String>) {
        self.blank();
        let change = if stage.change_minutes >= 0.5 {
            format!(", about {:.0} min to get there", stage.change_minutes)
        } else {
            String::new()
        };
        self.para("  ", "    ", &format!("{}{change}", capital(&stage.set_up_name)));
        // A caution is said in full where it first holds, before the work.
        for caution in stage.jobs.iter().flat_map(|j| &j.cautions) {
            if !told.contains(&caution.id) {
                told.push(caution.id.clone());
                self.caution("  ! ", caution);
            }
        }
        for job in &stage.jobs {
            *step += 1;
            self.job(*step, job, told);
        }
    }

    fn caution(&mut self, mark: &str, caution: &CautionView) {
        let rest = " ".repeat(mark.len());
        self.para(mark, &rest, &format!("{}. {}", capital(&caution.name), caution.what_to_do));
    }

    fn job(&mut self, step: usize, job: &JobView, told: &mut Vec<String>) {
        let lines: Vec<String> = job.lines.iter().map(usize::to_string).collect();
        let kind = match job.kind.as_str() {
            "check" => "check: ",
            "repair" => "put right: ",
            "see" => "see to: ",
            _ => "",
        };
        let dangerous = if job.dangerous { "DANGEROUS " } else { "" };
        let minutes = if job.minutes > 0.0 { format!(", about {} min", job.minutes) } else { String::new() };
        let text = format!("{dangerous}{kind}{} (line {}){minutes}", job.name, lines.join(", "));
        self.para(&format!("  {step}. "), "     ", &text);
        match job.kind.as_str() {
            "check" => self.para("     Not decided without it: ", "       ", &job.why),
            _ => self.para("     ", "     ", &job.why),
        }
        if !job.kit.is_empty() {
            self.para("     Kit: ", "          ", &job.kit.join(", "));
        }
        if !job.then.is_empty() {
            // Before that work, too, its cautions stand first.
            for caution in &job.then_cautions {
                if !told.contains(&caution.id) {
                    told.push(caution.id.clone());
                    self.caution("     ! ", caution);
                }
            }
            self.para("     Likely then: ", "       ", &job.then.join("; or "));
        }
    }

    fn watch(&mut self, sheet: &SheetView) {
        let remarks: Vec<&LineView> =
            sheet.lines.iter().filter(|l| l.number.is_some() && l.category.as_deref() == Some("advisory")).collect();
        if remarks.is_empty() {
            return;
        }
        self.head("Remarks to watch");
        for line in remarks {
            let name = line.item.as_ref().map_or(line.text.as_str(), |i| i.name.as_str());
            let place = if line.place.is_empty() { String::new() } else { format!(" ({})", line.place) };
            self.para("  ", "    ", &format!("line {}: {name}{place}", line.number.unwrap_or(0)));
        }
    }
}

fn item_words(item: &ItemView, category: &str) -> String {
    let verdict = match category {
        "dangerous" => "refused as dangerous",
        "major" => "refused (major)",
        "advisory" => "a remark, short of a refusal",
        _ => "recorded as minor",
    };
    let limit = if item.limit.is_empty() { String::new() } else { format!(", limit: {}", item.limit) };
    let doubt = doubt(&item.certainty).map_or(String::new(), |d| format!(" ({d})"));
    format!("{} {}, {}: {verdict}{limit}{doubt}.", item.section, item.defect, item.name)
}
