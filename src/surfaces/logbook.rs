//! `logbook`: the list, single entries, what is kept by hand, and the ways out, in and back.

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::args::{Args, LogbookArgs, LogbookCommand, LogbookForm, Outcome, Pick};
use super::commands::{Streams, book, folded, print_json, screen, today, vehicle};
use super::exit::{Exit, Failure};
use super::keeping::{folder, kept_vehicle};
use super::wrap::wrap;
use super::{learned, trend};
use crate::reckon;
use crate::records::exchange::{self, Brought};
use crate::records::log::{Body, Distance, Entry, KINDS, PartStep, ResultLine, SittingBody};
use crate::records::sitting::Ending;
use crate::records::{self, Records, Wanted};
use crate::report::{nearest, visible};
use crate::units::{Measured, Unit};
use crate::vehicle::Vehicle;

/// A file to be brought in may be so large, in bytes.
const LARGEST: u64 = 256 << 20;
/// So many entries are listed where nobody says how many.
const LISTED: usize = 40;

/// Runs `logbook`.
pub(super) fn run(args: &Args, logbook: &LogbookArgs, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let (folder, _) = folder(args, streams).ok_or_else(|| {
        Failure::new(Exit::NoInput, "no folder for records is known here; give one with --data or SPLITPIN_DATA")
    })?;
    let Some(command) = &logbook.command else { return list(args, logbook, &folder, streams) };
    match command {
        LogbookCommand::Show { number } => show(args, *number, &folder, streams),
        LogbookCommand::Note { words } => {
            let text = words.join(" ");
            if text.trim().is_empty() {
                return Err(Failure::new(Exit::Usage, "a note has words: splitpin logbook note WORDS"));
            }
            keep(args, &folder, streams, |_, _| Ok((Body::Note { of: None, text }, Vec::new())))
        }
        LogbookCommand::Odometer { reading } => keep(args, &folder, streams, |vehicle, records| {
            let (reading, unit) = distance(reading)?;
            let notes = below_last(records, vehicle, reading, unit)?;
            Ok((Body::Odometer { reading, unit }, notes))
        }),
        LogbookCommand::Measure { what, value, place, odometer } => keep(args, &folder, streams, |vehicle, _| {
            measurement(vehicle, what, value, place.as_deref(), odometer.as_deref())
        }),
        LogbookCommand::Result { outcome, lines, note } => keep(args, &folder, streams, |_, _| {
            let lines: Vec<ResultLine> = lines.iter().map(|l| result_line(l)).collect::<Result<_, _>>()?;
            let outcome = if *outcome == Outcome::Passed { "passed" } else { "refused" }.to_owned();
            if outcome == "passed" && lines.iter().any(|l| matches!(l.category.as_str(), "dangerous" | "major")) {
                let say = "a vehicle with a dangerous or major line is not passed: say refused, or mend the line";
                return Err(Failure::new(Exit::Usage, say));
            }
            Ok((Body::Result { outcome, lines, text: note.clone() }, Vec::new()))
        }),
        LogbookCommand::Trend { what, place, limit, test, svg } => {
            let records = existing(&folder)?;
            let asked = trend::Asked {
                what: what.as_deref(),
                place: place.as_deref(),
                limit: *limit,
                test: test.as_deref().map(|t| date("--test", t)).transpose()?,
                vehicle: named(args),
            };
            trend::run(args, &records, &asked, svg.as_deref(), streams)
        }
        LogbookCommand::Learned { reset, json } => {
            let records = existing(&folder)?;
            learned::run(args, records, *reset, *json, streams)
        }
        LogbookCommand::Export { file, form, pick } => export(args, file.as_deref(), *form, pick, &folder, streams),
        LogbookCommand::Import { file } => import(args, file, &folder, streams),
        LogbookCommand::Backup { file, replace } => {
            existing(&folder)?.backup(file, *replace)?;
            say(args, streams, &format!("Copied to {}, and looked through: sound.", file.display()))
        }
        LogbookCommand::Restore { file } => {
            let aside = records::restore(file, &folder)?;
            let aside = aside.map_or(String::new(), |p| format!(" What was there is now {}.", p.display()));
            say(args, streams, &format!("The records are those of {} again.{aside}", file.display()))
        }
        LogbookCommand::Check => {
            let records = existing(&folder)?;
            records.look_through()?;
            say(args, streams, &format!("{}: sound.", records.path().display()))
        }
    }
}

/// The records of the folder, which must be there.
fn existing(folder: &Path) -> Result<Records, Failure> {
    records::open_if_there(folder)?
        .ok_or_else(|| Failure::new(Exit::No, format!("nothing is kept yet in {}", visible(&folder.to_string_lossy()))))
}

fn say(args: &Args, streams: &mut Streams<'_>, text: &str) -> Result<Exit, Failure> {
    writeln!(streams.out, "{}", screen(args, streams).finish(&folded(&visible(text))))?;
    Ok(Exit::Done)
}

/// The name of the vehicle named on the command line, as the records know it.
fn named(args: &Args) -> Option<String> {
    args.vehicle.as_ref().map(|name| match Path::new(name).extension() {
        Some(_) => Path::new(name).file_stem().map_or_else(|| name.clone(), |s| visible(&s.to_string_lossy())),
        None => name.clone(),
    })
}

/// Reads a date of an option.
fn date(option: &str, text: &str) -> Result<Date, Failure> {
    text.parse().map_err(|_| {
        Failure::new(Exit::Usage, format!("`{option} {}` should be a date, year-month-day", visible(text)))
    })
}

fn wanted(args: &Args, pick: &Pick, last: Option<usize>) -> Result<Wanted, Failure> {
    if let Some(kind) = pick.kind.as_deref().filter(|k| !KINDS.contains(k)) {
        let near = nearest(kind, KINDS).map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
        return Err(Failure::new(
            Exit::Usage,
            format!("there is no kind of entry `{}`.{near} Kinds: {}", visible(kind), KINDS.join(", ")),
        ));
    }
    Ok(Wanted {
        vehicle: named(args),
        kind: pick.kind.clone(),
        since: pick.since.as_deref().map(|s| date("--since", s)).transpose()?,
        last: pick.last.or(last),
    })
}

fn list(args: &Args, logbook: &LogbookArgs, folder: &Path, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let picked = logbook.pick.since.is_some() || logbook.pick.last.is_some();
    let mut wanted = wanted(args, &logbook.pick, (!picked && !logbook.json).then_some(LISTED + 1))?;
    let Some(records) = records::open_if_there(folder)? else {
        if logbook.json {
            print_json(&exchange::Export::default(), streams)?;
            return Ok(Exit::No);
        }
        return say(args, streams, &format!("Nothing is kept yet in {}.", folder.display())).map(|_| Exit::No);
    };
    if logbook.json {
        wanted.last = logbook.pick.last;
        print_json(&records.export(&wanted)?, streams)?;
        return Ok(Exit::Done);
    }
    let mut lines = records.lines(&wanted)?;
    let more = !picked && lines.len() > LISTED;
    if more {
        lines.remove(0);
    }
    let mut text = String::new();
    if lines.is_empty() {
        text.push_str("Nothing of the kind is kept.\n");
    }
    if more {
        text.push_str(&format!("The last {LISTED}; earlier ones with --last COUNT or --since DATE.\n"));
    }
    for line in &lines {
        let head = format!("{:>5}  {}  ", line.number, line.day);
        let open = if line.open { " [open]" } else { "" };
        let body = format!("{}, {}: {}{open}", line.vehicle, line.kind, visible(&line.text));
        text.push_str(&wrap(&body, 80, &head, &" ".repeat(head.len())));
        text.push('\n');
    }
    write!(streams.out, "{}", screen(args, streams).finish(&text))?;
    Ok(if lines.is_empty() { Exit::No } else { Exit::Done })
}

fn show(args: &Args, number: i64, folder: &Path, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let records = existing(folder)?;
    let entry = records.entry(number)?.ok_or(records::Trouble::NoEntry { kind: "entry", number })?;
    let text = whole(&entry);
    write!(streams.out, "{}", screen(args, streams).finish(&text))?;
    Ok(Exit::Done)
}

/// An entry as text.
fn whole(entry: &Entry) -> String {
    let mut text = format!("{}  {}  {}, {}\n", entry.number, entry.day, entry.vehicle, entry.body.kind());
    let mut line = |words: &str| {
        text.push_str(&wrap(&visible(words), 80, "  ", "    "));
        text.push('\n');
    };
    match &entry.body {
        Body::Trace(sitting) | Body::Round(sitting) => sitting_lines(sitting, &mut line),
        Body::Note { text, .. } => line(text),
        Body::Odometer { reading, unit } => line(&format!("{reading} {}", unit.letters())),
        Body::Measurement { what, place, value, unit, odometer } => {
            let place = place.as_ref().map_or(String::new(), |p| format!(", {p}"));
            let odometer = odometer.map_or(String::new(), |o| format!(", at {} {}", o.0, o.1.letters()));
            line(&format!("{what}{place}: {value} {unit}{odometer}"));
        }
        Body::Finding { text, verdict, closed, .. } => {
            line(&format!("{verdict}: {text}"));
            line(&closed.map_or("open".to_owned(), |d| format!("closed {d}")));
        }
        Body::Part { text, quantity, steps, .. } => {
            line(&format!("{text}, {quantity}"));
            for step in steps {
                line(&part_step(step));
            }
        }
        Body::Repair { text, proved, proved_by, .. } => {
            line(text);
            let by = if proved_by.is_empty() { String::new() } else { format!(" by {proved_by}") };
            line(&if *proved { format!("proved{by}") } else { "not proved".to_owned() });
        }
        Body::Result { outcome, lines, text } => {
            line(outcome);
            for l in lines {
                line(&format!("{}: {}", l.category, l.text));
            }
            if !text.is_empty() {
                line(text);
            }
        }
    }
    text
}

fn sitting_lines(sitting: &SittingBody, line: &mut dyn FnMut(&str)) {
    line(&sitting.title);
    let mut number = 0;
    for kept in &sitting.answers {
        match kept.undone {
            Some(day) => line(&format!("   taken back {day}: {}", kept.answer.said)),
            None => {
                number += 1;
                line(&format!("{number}. {}", kept.answer.said));
            }
        }
    }
    line(&match (sitting.ending, sitting.ended) {
        (Some(Ending::Proved), Some(day)) => format!("put right and proved {day}"),
        (Some(Ending::Done), Some(day)) => format!("ended {day}"),
        (Some(Ending::Aside), Some(day)) => format!("put aside {day}"),
        _ => "unfinished".to_owned(),
    });
}

fn part_step(step: &PartStep) -> String {
    let due = step.due.map_or(String::new(), |d| format!(", due {d}"));
    let price = step.price.map_or(String::new(), |p| format!(", {p}"));
    let remark = if step.remark.is_empty() { String::new() } else { format!(", {}", step.remark) };
    format!("{} {}{due}{price}{remark}", step.day, step.state.word())
}

/// Keeps one entry of the vehicle named; says its number.
fn keep(
    args: &Args,
    folder: &Path,
    streams: &mut Streams<'_>,
    make: impl FnOnce(&Vehicle, &Records) -> Result<(Body, Vec<String>), Failure>,
) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let vehicle = vehicle(args, None, &book)?;
    let day = today(args, streams)?;
    let mut records = records::open(folder)?;
    let (body, mut notes) = make(&vehicle, &records)?;
    // A day given by hand is meant.
    if let Some(latest) = records.latest_day()?.filter(|latest| *latest > day && args.today.is_none()) {
        notes.push(format!("Today is {day} by the clock, but the logbook has an entry of {latest}. Check the clock."));
    }
    let number = records.add(&kept_vehicle(&vehicle, args.vehicle.as_deref()), day, &body)?;
    for note in notes {
        say(args, streams, &note)?;
    }
    say(args, streams, &format!("Kept as number {number}, {day}, {}.", vehicle.id))
}

/// Reads "41200", "41,200 mi" or "66300km"; miles where nothing is said.
fn distance(text: &str) -> Result<(f64, Distance), Failure> {
    let bad = || {
        Failure::new(
            Exit::BadData,
            format!("`{}` is no reading of an odometer: type one such as 41200, or 66300km", visible(text)),
        )
    };
    let plain = text.trim().to_lowercase().replace([',', ' '], "");
    let (digits, unit) = match plain.strip_suffix("km") {
        Some(digits) => (digits, Distance::Kilometres),
        None => {
            let digits = plain.strip_suffix("miles").or_else(|| plain.strip_suffix("mi"));
            (digits.unwrap_or(&plain), Distance::Miles)
        }
    };
    let reading: f64 = digits.parse().map_err(|_| bad())?;
    if (0.0..1e7).contains(&reading) { Ok((reading, unit)) } else { Err(bad()) }
}

/// A note where the odometer stands below its last reading.
fn below_last(records: &Records, vehicle: &Vehicle, reading: f64, unit: Distance) -> Result<Vec<String>, Failure> {
    let wanted = Wanted {
        vehicle: Some(vehicle.id.clone()),
        kind: Some("odometer".to_owned()),
        last: Some(1),
        ..Wanted::default()
    };
    let Some(Entry { body: Body::Odometer { reading: last, unit: of }, number, .. }) =
        records.entries(&wanted)?.into_iter().next()
    else {
        return Ok(Vec::new());
    };
    if of.to(last, unit) > reading + 0.5 {
        Ok(vec![format!(
            "That is less than the last reading, {last} {} (number {number}). Kept as typed.",
            of.letters()
        )])
    } else {
        Ok(Vec::new())
    }
}

fn measurement(
    vehicle: &Vehicle,
    what: &str,
    value: &str,
    place: Option<&str>,
    odometer: Option<&str>,
) -> Result<(Body, Vec<String>), Failure> {
    let bad = |say: String| Failure::new(Exit::BadData, say);
    let mut notes = Vec::new();
    let name = what.trim().to_lowercase().replace(' ', "-");
    if name.is_empty() || name.len() > 60 {
        return Err(bad("what was measured? A name such as tread".to_owned()));
    }
    let known = reckon::trend::measure(&name);
    let (value, unit) = match known.map(|m| (m, Unit::named(m.unit))) {
        Some((_, Some(unit))) => {
            let measured = Measured::parse(value, unit).map_err(|e| bad(visible(&e.to_string())))?;
            (measured.value, unit.spelling().to_owned())
        }
        other => {
            let text = value.trim();
            let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
            let number: f64 = text[..end]
                .parse()
                .ok()
                .filter(|n: &f64| n.is_finite())
                .ok_or_else(|| bad(format!("`{}` is not a number; type one such as 4.2mm", visible(value))))?;
            let typed = text[end..].trim();
            let unit = other.map_or(typed, |(m, _)| m.unit);
            if !typed.is_empty() && typed != unit {
                return Err(bad(format!("{name} is kept in {unit}, not in `{}`", visible(typed))));
            }
            (number, visible(unit))
        }
    };
    if known.is_none() {
        let near = nearest(&name, reckon::trend::MEASURES.iter().map(|m| m.what));
        let near = near.map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
        notes.push(format!(
            "No limit is known for `{}`: give one to `logbook trend` with --limit.{near}",
            visible(&name)
        ));
    }
    let place = match place {
        None => None,
        Some(typed) => {
            let id = typed.trim().to_lowercase().replace(' ', "-");
            let mut ids: Vec<String> =
                vehicle.places.iter().map(|p| p.position.id()).filter(|i| !i.is_empty()).collect();
            ids.sort();
            ids.dedup();
            if !ids.contains(&id) {
                return Err(bad(format!(
                    "{} has no place `{}`; its places are: {}",
                    vehicle.name,
                    visible(typed),
                    ids.join(", ")
                )));
            }
            Some(id)
        }
    };
    let odometer = odometer.map(distance).transpose()?;
    Ok((Body::Measurement { what: name, place, value, unit, odometer }, notes))
}

/// Reads "major: text".
fn result_line(text: &str) -> Result<ResultLine, Failure> {
    let (category, rest) = text.split_once(':').unwrap_or(("", text));
    let category = category.trim().to_lowercase();
    if !matches!(category.as_str(), "dangerous" | "major" | "minor" | "remark") || rest.trim().is_empty() {
        return Err(Failure::new(
            Exit::Usage,
            format!("`--line {}` should begin with dangerous:, major:, minor: or remark:", visible(text)),
        ));
    }
    Ok(ResultLine { category, text: rest.trim().to_owned() })
}

fn export(
    args: &Args,
    file: Option<&Path>,
    form: Option<LogbookForm>,
    pick: &Pick,
    folder: &Path,
    streams: &mut Streams<'_>,
) -> Result<Exit, Failure> {
    let records = existing(folder)?;
    let export = records.export(&wanted(args, pick, None)?)?;
    let by_name = file.is_some_and(|f| f.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv")));
    let csv = form.map_or(by_name, |f| f == LogbookForm::Csv);
    let text = if csv {
        exchange::to_csv(&export)?
    } else {
        serde_json::to_string_pretty(&export)
            .map_err(|e| Failure::new(Exit::NoOutput, format!("the logbook cannot be written as JSON: {e}")))?
            + "\n"
    };
    let Some(file) = file else {
        write!(streams.out, "{text}")?;
        return Ok(Exit::Done);
    };
    write_new(file, &text)?;
    say(args, streams, &format!("{} entries written to {}.", export.entries.len(), file.display()))
}

/// Writes a file whole or not at all: beside its name first.
pub(super) fn write_new(file: &Path, text: &str) -> Result<(), Failure> {
    let mut part = file.as_os_str().to_owned();
    part.push(format!(".part-{}", std::process::id()));
    let part = PathBuf::from(part);
    let written = fs::write(&part, text).and_then(|()| fs::rename(&part, file));
    written.map_err(|e| {
        let _ = fs::remove_file(&part);
        Failure::new(Exit::NoOutput, format!("{} cannot be written: {e}", visible(&file.to_string_lossy())))
    })
}

fn import(args: &Args, file: &Path, folder: &Path, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let shown = visible(&file.to_string_lossy());
    let mut text = String::new();
    let read = fs::File::open(file).and_then(|f| f.take(LARGEST + 1).read_to_string(&mut text));
    read.map_err(|e| Failure::new(Exit::NoInput, format!("{shown} cannot be read: {e}")))?;
    if text.len() as u64 > LARGEST {
        return Err(Failure::new(Exit::BadData, format!("{shown} is larger than {} MB", LARGEST >> 20)));
    }
    let export = exchange::read(&text)?;
    let Brought { added, known } = records::open(folder)?.import(&export)?;
    let known = if known == 0 { String::new() } else { format!("; {known} were here already and stay as they are") };
    say(args, streams, &format!("{added} entries brought in{known}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odometers_are_read_in_miles_or_kilometres() {
        assert_eq!(distance("41,200").ok(), Some((41_200.0, Distance::Miles)));
        assert_eq!(distance("66300 km").ok(), Some((66_300.0, Distance::Kilometres)));
        assert_eq!(distance("5mi").ok(), Some((5.0, Distance::Miles)));
        for bad in ["", "-3", "nan", "1e9", "ten"] {
            assert!(distance(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn lines_of_a_result_begin_with_their_category() {
        assert_eq!(result_line("Major: 4.1.1: dark").ok().map(|l| l.text), Some("4.1.1: dark".to_owned()));
        assert!(result_line("4.1.1 dark").is_err() && result_line("minor:").is_err());
    }
}
