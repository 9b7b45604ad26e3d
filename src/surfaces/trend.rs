//! `logbook trend`: each run of readings with its line, its limit, a drawing for the screen and one for paper.

use std::fmt::Write as _;
use std::path::Path;

use jiff::ToSpan as _;
use jiff::civil::Date;

use super::args::Args;
use super::commands::{Streams, screen, today};
use super::exit::{Exit, Failure};
use super::logbook::write_new;
use super::wrap::wrap;
use crate::reckon::trend::{self as sums, Line};
use crate::records::log::{Body, Distance};
use crate::records::{Records, Wanted};
use crate::report::visible;

/// The probability of the ranges given.
const SURE: f64 = 0.9;
/// Size of the drawing on the screen, in letters.
const PLOT: (usize, usize) = (56, 12);
/// A month, in days: the mean of the Gregorian calendar.
const MONTH: f64 = 30.436_875;

/// What was asked for.
pub(super) struct Asked<'a> {
    pub what: Option<&'a str>,
    pub place: Option<&'a str>,
    pub limit: Option<f64>,
    pub test: Option<Date>,
    pub vehicle: Option<String>,
}

/// A run of readings of one thing at one place of one vehicle.
struct Run {
    vehicle: String,
    what: String,
    place: Option<String>,
    unit: String,
    readings: Vec<Reading>,
}

#[derive(Clone, Copy)]
struct Reading {
    day: Date,
    value: f64,
    odometer: Option<(f64, Distance)>,
}

/// A run with its line, ready to be shown.
struct Drawn {
    title: String,
    unit: String,
    first: Date,
    points: Vec<(f64, f64)>,
    line: Option<Line>,
    limit: Option<f64>,
    until: f64,
}

/// Runs `logbook trend`.
pub(super) fn run(
    args: &Args,
    records: &Records,
    asked: &Asked<'_>,
    svg: Option<&Path>,
    streams: &mut Streams<'_>,
) -> Result<Exit, Failure> {
    let runs = runs(records, asked)?;
    if runs.is_empty() {
        writeln!(streams.out, "Nothing of the kind was measured yet: splitpin logbook measure tread 4.2mm")?;
        return Ok(Exit::No);
    }
    let now = today(args, streams)?;
    let screen = screen(args, streams);
    let mut text = String::new();
    let mut drawn = Vec::new();
    for run in runs {
        let test = match asked.test {
            Some(test) => Some(test),
            None => next_test(records, &run.vehicle)?,
        };
        let (said, picture) = tell(&run, asked.limit, test, now);
        for line in said {
            let (first, rest) = if line.starts_with(' ') { ("  ", "    ") } else { ("", "  ") };
            text.push_str(&wrap(&visible(line.trim_start()), 80, first, rest));
            text.push('\n');
        }
        if picture.points.len() > 1 {
            text.push_str(&plot(&picture, screen.plain));
        }
        text.push('\n');
        drawn.push(picture);
    }
    write!(streams.out, "{}", screen.finish(&text))?;
    if let Some(file) = svg {
        write_new(file, &as_svg(&drawn))?;
    }
    Ok(Exit::Done)
}

fn runs(records: &Records, asked: &Asked<'_>) -> Result<Vec<Run>, Failure> {
    let wanted = Wanted { vehicle: asked.vehicle.clone(), kind: Some("measurement".to_owned()), ..Wanted::default() };
    let what = asked.what.map(|w| w.trim().to_lowercase().replace(' ', "-"));
    let place = asked.place.map(|p| p.trim().to_lowercase().replace(' ', "-"));
    let mut runs: Vec<Run> = Vec::new();
    for entry in records.entries(&wanted)? {
        let Body::Measurement { what: of, place: at, value, unit, odometer } = entry.body else { continue };
        if what.as_ref().is_some_and(|w| *w != of) || (place.is_some() && place != at) {
            continue;
        }
        let reading = Reading { day: entry.day, value, odometer };
        let same = |r: &&mut Run| r.vehicle == entry.vehicle && r.what == of && r.place == at && r.unit == unit;
        match runs.iter_mut().find(same) {
            Some(run) => run.readings.push(reading),
            None => runs.push(Run { vehicle: entry.vehicle, what: of, place: at, unit, readings: vec![reading] }),
        }
    }
    runs.sort_by(|a, b| (&a.vehicle, &a.what, &a.place).cmp(&(&b.vehicle, &b.what, &b.place)));
    Ok(runs)
}

/// A year after the last test that was passed.
fn next_test(records: &Records, vehicle: &str) -> Result<Option<Date>, Failure> {
    let wanted = Wanted { vehicle: Some(vehicle.to_owned()), kind: Some("result".to_owned()), ..Wanted::default() };
    let results = records.entries(&wanted)?;
    let passed = results.iter().rev().find(|e| matches!(&e.body, Body::Result { outcome, .. } if outcome == "passed"));
    Ok(passed.and_then(|e| e.day.checked_add(1.year()).ok()))
}

fn days(from: Date, to: Date) -> f64 {
    to.duration_since(from).as_hours() as f64 / 24.0
}

/// The day so many days on; nothing beyond any calendar.
fn day_after(from: Date, days: f64) -> Option<Date> {
    if !days.is_finite() || days.abs() > 40_000.0 {
        return None;
    }
    from.checked_add((days.floor() as i64).days()).ok()
}

/// What there is to say of a run, and its drawing.
fn tell(run: &Run, limit: Option<f64>, test: Option<Date>, now: Date) -> (Vec<String>, Drawn) {
    let known = sums::measure(&run.what).filter(|m| m.unit == run.unit);
    let limit = limit.or(known.and_then(|m| m.limit));
    let place = run.place.as_ref().map_or(String::new(), |p| format!(", {}", p.replace('-', " ")));
    let title = format!("{}: {}{place}", run.vehicle, run.what.replace('-', " "));
    let values: Vec<f64> = run.readings.iter().map(|r| r.value).collect();
    let falls = known.map_or_else(|| limit.is_none_or(|l| values.first().is_none_or(|v| *v >= l)), |m| m.falls);
    let from = sums::since_renewal(&values, falls);
    let readings = &run.readings[from..];
    let first = readings.iter().map(|r| r.day).min().unwrap_or(now);
    let points: Vec<(f64, f64)> = readings.iter().map(|r| (days(first, r.day), r.value)).collect();
    let line = match (run.what.as_str(), points.as_slice()) {
        // An age grows by itself.
        ("fluid-age", [.., last]) => Some(Line::through(*last, 1.0 / MONTH)),
        _ => sums::fit(&points),
    };
    let mut said = vec![title.clone()];
    if from > 0 {
        said.push(format!("  {from} earlier readings are of what was renewed and do not count."));
    }
    let last = readings.last().map_or(0.0, |r| r.value);
    said.push(format!("  {} readings since {first}; last {} {}.", readings.len(), tidy(last), run.unit));
    let mut until = days(first, now).max(points.iter().fold(0.0, |m: f64, p| m.max(p.0)));
    match (line, limit) {
        (None, _) => said.push("  One day's reading has no direction: measure again on another day.".to_owned()),
        (Some(line), None) => {
            said.push(format!("  {}. No limit is known: give one with --limit.", pace(&line, &run.unit)));
        }
        (Some(line), Some(limit)) => {
            said.push(format!("  {}; the limit is {} {}.", pace(&line, &run.unit), tidy(limit), run.unit));
            until = until.max(against_limit(&mut said, readings, &line, limit, falls, first, test));
            if let Some(known) = known {
                said.push(format!("  Limit: {}.", known.source));
            }
        }
    }
    (said, Drawn { title, unit: run.unit.clone(), first, points, line, limit, until })
}

fn pace(line: &Line, unit: &str) -> String {
    let year = line.slope * 365.2425;
    let error = line.error_of_slope().map_or(String::new(), |e| format!(" (give or take {})", tidy(e * 365.2425)));
    let how = if year < 0.0 { "Falls" } else { "Rises" };
    format!("{how} by {} {unit} a year{error}", tidy(year.abs()))
}

/// Says when the limit is reached, and whether it lasts to the test; gives how far the drawing should reach, in days.
fn against_limit(
    said: &mut Vec<String>,
    readings: &[Reading],
    line: &Line,
    limit: f64,
    falls: bool,
    first: Date,
    test: Option<Date>,
) -> f64 {
    let mut until: f64 = 0.0;
    let last = readings.last().map_or(limit, |r| r.value);
    let beyond = if falls { last < limit } else { last > limit };
    if beyond {
        said.push("  It is beyond the limit now.".to_owned());
    } else if (line.slope < 0.0) != falls || line.slope == 0.0 {
        said.push("  It is not heading for the limit.".to_owned());
    } else if let Some(reaches) = line.reaches(limit, SURE) {
        let on = |x: f64| day_after(first, x).map_or("later than anyone plans".to_owned(), |d| d.to_string());
        let between = match reaches.between {
            None => String::new(),
            Some((early, Some(late))) => {
                format!(", between {} and {} in nine cases of ten", early.map_or("now".to_owned(), on), on(late))
            }
            Some((Some(early), None)) => {
                format!(", not before {} in nine cases of ten; how late, they do not say", on(early))
            }
            Some((None, None)) => {
                ", but the readings are too few or too scattered to say so with any certainty".to_owned()
            }
        };
        said.push(format!("  Reaches it about {}{between}.", on(reaches.at)));
        if let Some(distance) = odometer_at(readings, limit, falls) {
            said.push(format!("  {distance}"));
        }
        if reaches.at.is_finite() && reaches.at < 4000.0 {
            until = reaches.at;
        }
    }
    if readings.len() == 2 && line.count == 2 {
        said.push("  Two readings give a line, but not how sure it is: a third tells.".to_owned());
    }
    if let Some(test) = test.filter(|_| !beyond) {
        let x = days(first, test);
        let p = line.holds_at(x, limit, falls);
        let there = match line.at(x) {
            gone if gone <= 0.0 && limit >= 0.0 => "nothing left by the line".to_owned(),
            left => format!("about {} by the line", tidy(left)),
        };
        said.push(match line.error_at(x).filter(|e| *e > 0.0) {
            Some(_) => format!("  Lasts to the test on {test}: {:.0} % likely, {there}.", (p * 100.0).clamp(1.0, 99.0)),
            None if p > 0.5 => format!("  Lasts to the test on {test}, {there}."),
            None => format!("  Does not last to the test on {test}: {there}."),
        });
        until = until.max(x.min(4000.0));
    }
    until
}

/// The odometer's reading at which the limit is reached, where readings came with it.
fn odometer_at(readings: &[Reading], limit: f64, falls: bool) -> Option<String> {
    let unit = readings.iter().rev().find_map(|r| r.odometer)?.1;
    let points: Vec<(f64, f64)> =
        readings.iter().filter_map(|r| r.odometer.map(|(o, of)| (of.to(o, unit), r.value))).collect();
    let line = sums::fit(&points)?;
    if (line.slope < 0.0) != falls {
        return None;
    }
    let reaches = line.reaches(limit, SURE)?;
    let between = match reaches.between {
        Some((Some(early), Some(late))) => format!(" (between {early:.0} and {late:.0})"),
        _ => String::new(),
    };
    Some(format!("By the odometer: about {:.0} {}{between}.", reaches.at, unit.letters()))
}

/// A number in as few digits as tell.
fn tidy(value: f64) -> String {
    let digits = if value.abs() >= 100.0 {
        0
    } else if value.abs() >= 10.0 {
        1
    } else {
        2
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// What a drawing spans: days and values.
fn spans(drawn: &Drawn) -> (f64, f64, f64) {
    let wide = drawn.until.max(1.0);
    let line = drawn.line.map(|l| [l.at(0.0), l.at(wide)]);
    let values = drawn.points.iter().map(|p| p.1).chain(drawn.limit).chain(line.into_iter().flatten());
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let room = ((high - low) * 0.05).max(1e-6);
    (wide, low - room, high + room)
}

/// The drawing in letters: readings over the line over the limit.
fn plot(drawn: &Drawn, plain: bool) -> String {
    let (wide, low, high) = spans(drawn);
    let (columns, rows) = PLOT;
    let column = |x: f64| ((x / wide) * (columns - 1) as f64).round().clamp(0.0, (columns - 1) as f64) as usize;
    let row = |y: f64| ((high - y) / (high - low) * (rows - 1) as f64).round().clamp(0.0, (rows - 1) as f64) as usize;
    let (dot, trace, bar) = if plain { ('*', '.', '-') } else { ('●', '·', '─') };
    let mut cells = vec![vec![' '; columns]; rows];
    if let Some(limit) = drawn.limit {
        cells[row(limit)].fill(bar);
    }
    if let Some(line) = drawn.line {
        let on_line = |c: usize| line.at(c as f64 / (columns - 1) as f64 * wide);
        for (c, y) in (0..columns).map(|c| (c, on_line(c))).filter(|(_, y)| (low..=high).contains(y)) {
            cells[row(y)][c] = trace;
        }
    }
    for (x, y) in &drawn.points {
        cells[row(*y)][column(*x)] = dot;
    }
    let mut text = String::new();
    for (r, cells) in cells.iter().enumerate() {
        let y = high - (high - low) * r as f64 / (rows - 1) as f64;
        let mark = if r == 0 || r == rows - 1 || r == rows / 2 { tidy(y) } else { String::new() };
        let cells: String = cells.iter().collect();
        text.push_str(format!("  {mark:>7} |{cells}").trim_end());
        text.push('\n');
    }
    let last = day_after(drawn.first, wide).map_or(String::new(), |d| d.to_string());
    let first = drawn.first.to_string();
    text.push_str(&format!("          {first}{last:>width$}\n", width = columns + 1 - first.len()));
    text.push_str(&format!("          {dot} reading  {trace} line  {bar} limit\n"));
    text
}

/// The drawings as one picture, each below the other. Nothing in it but numbers and escaped words.
fn as_svg(all: &[Drawn]) -> String {
    const W: f64 = 640.0;
    const H: f64 = 260.0;
    let escape = |text: &str| {
        visible(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
    };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {W} {}\" font-family=\"sans-serif\" font-size=\"13\" role=\"img\">\n",
        H * all.len() as f64
    );
    let _ = writeln!(out, "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>");
    for (i, drawn) in all.iter().enumerate() {
        let (wide, low, high) = spans(drawn);
        let top = H * i as f64;
        let x = |d: f64| 60.0 + (W - 80.0) * (d / wide).clamp(0.0, 1.0);
        let y = |v: f64| top + 35.0 + (H - 75.0) * ((high - v) / (high - low)).clamp(0.0, 1.0);
        let (left, right, bottom) = (x(0.0), x(wide), y(low));
        let _ = writeln!(
            out,
            "<text x=\"{left:.1}\" y=\"{:.1}\" font-weight=\"bold\">{}, {}</text>",
            top + 22.0,
            escape(&drawn.title),
            escape(&drawn.unit)
        );
        let _ = writeln!(
            out,
            "<path d=\"M{left:.1} {:.1}V{bottom:.1}H{right:.1}\" fill=\"none\" stroke=\"#333\"/>",
            y(high)
        );
        for v in [low, f64::midpoint(low, high), high] {
            let _ = writeln!(
                out,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
                left - 6.0,
                y(v) + 4.0,
                tidy(v)
            );
        }
        let last = day_after(drawn.first, wide).map_or(String::new(), |d| d.to_string());
        let _ = writeln!(out, "<text x=\"{left:.1}\" y=\"{:.1}\">{}</text>", bottom + 18.0, drawn.first);
        let _ = writeln!(out, "<text x=\"{right:.1}\" y=\"{:.1}\" text-anchor=\"end\">{last}</text>", bottom + 18.0);
        if let Some(limit) = drawn.limit {
            let at = y(limit);
            let _ =
                writeln!(out, "<path d=\"M{left:.1} {at:.1}H{right:.1}\" stroke=\"#b00\" stroke-dasharray=\"6 4\"/>");
            let _ = writeln!(
                out,
                "<text x=\"{right:.1}\" y=\"{:.1}\" text-anchor=\"end\" fill=\"#b00\">limit {}</text>",
                at - 5.0,
                tidy(limit)
            );
        }
        if let Some(line) = drawn.line {
            let _ = writeln!(
                out,
                "<path d=\"M{left:.1} {:.1}L{right:.1} {:.1}\" stroke=\"#06c\" stroke-width=\"2\"/>",
                y(line.at(0.0)),
                y(line.at(wide))
            );
            if line.error_of_reading(0.0).is_some() {
                let steps = 40;
                let ends: Vec<(f64, (f64, f64))> = (0..=steps)
                    .map(|k| wide * f64::from(k) / f64::from(steps))
                    .filter_map(|d| Some((d, line.reading_between(d, SURE)?)))
                    .collect();
                let there = ends.iter().map(|(d, r)| format!("{:.1},{:.1}", x(*d), y(r.1)));
                let back = ends.iter().rev().map(|(d, r)| format!("{:.1},{:.1}", x(*d), y(r.0)));
                let points: Vec<String> = there.chain(back).collect();
                let _ = writeln!(out, "<polygon points=\"{}\" fill=\"#06c\" fill-opacity=\"0.12\"/>", points.join(" "));
            }
        }
        for (d, v) in &drawn.points {
            let _ = writeln!(out, "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"4\"/>", x(*d), y(*v));
        }
    }
    out.push_str("</svg>\n");
    out
}
