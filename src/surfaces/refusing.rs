//! `refused`: from the lines of a refusal sheet to a work plan, and on from a line to its cause.
//!
//! Takes a file, lines given or lines typed; prints the plan and, where it can ask, follows a line in a trace that is not kept. Never decides
//! anything about a vehicle.

use std::io::Write;

use jiff::civil::Date;

use super::args::{Args, RefusedArgs};
use super::commands::{
    Aside, Streams, at_prompt, book, farewell, greeting, open_lines, person, screen, today, vehicle,
};
use super::exit::{Exit, Failure};
use super::keeping::Data;
use super::prompt::{Lines, Typed};
use super::screen::Screen;
use super::wrap::wrap;
use crate::knowledge::book::Book;
use crate::refusal::{Matcher, sheet, work};
use crate::report::visible;
use crate::session::{Ask, Ear, Reply, Talk, Trace};

/// What a conversation needs besides its streams.
struct Room<'a> {
    args: &'a Args,
    book: &'a Book,
    screen: Screen,
    today: Date,
    data: &'a Data,
}

impl Room<'_> {
    /// Talks until there is nothing more to ask.
    fn converse(
        &self,
        mut talk: Talk<'_>,
        mut reply: Reply,
        lines: &mut dyn Lines,
        out: &mut dyn Write,
        err: &mut dyn Write,
    ) -> Result<Exit, Failure> {
        let screen = self.screen;
        let mut exit = Exit::Done;
        while !matches!(reply.ask, Ask::Nothing) {
            write!(out, "{}", screen.reply(&reply))?;
            out.flush()?;
            reply = match lines.next(&reply.ask, out)? {
                Typed::Line(line) => {
                    match at_prompt(self.args, &line, self.book, out, err, screen, self.today, self.data)? {
                        Some(Aside::Done) => talk.refresh(),
                        Some(Aside::Vehicle(..)) => {
                            talk.refuse("The sheet belongs to this vehicle: q first, then the other.")
                        }
                        None => talk.say(&line),
                    }
                }
                Typed::TooLong(length) => talk.too_long(length),
                Typed::NotText => talk.not_text(),
                Typed::End => talk.leave(),
                Typed::Interrupted => {
                    exit = Exit::Interrupted;
                    talk.leave()
                }
            };
        }
        write!(out, "{}", farewell(screen, &talk, reply))?;
        out.flush()?;
        Ok(exit)
    }
}

/// Most bytes taken of a typed or piped sheet.
const LONGEST_SHEET: usize = 1 << 20;

/// `refused`: reads a sheet, prints the plan, and follows lines to their cause where it can ask.
pub(super) fn refused(args: &Args, refused_args: &RefusedArgs, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let vehicle = vehicle(args, None, &book)?;
    let today = today(args, streams)?;
    let person = person(&book, &refused_args.person)?;
    let screen = screen(args, streams);
    let ear = Ear::new(&book);
    let silent = refused_args.json || refused_args.no_input;
    let ready = match &refused_args.file {
        Some(file) => Some(
            crate::knowledge::files::read_text(file)
                .map_err(|why| Failure::new(Exit::NoInput, format!("{}: {why}", visible(&file.to_string_lossy()))))?,
        ),
        None if !refused_args.lines.is_empty() => Some(refused_args.lines.join("\n")),
        None => None,
    };
    let Streams { input, out, err, terminal, history, data, .. } = streams;
    let out = &mut **out;
    // JSON stands alone on its stream: what is piped is not echoed then.
    let mut unheard = std::io::sink();
    let mut lines = open_lines(&mut **input, *terminal, history.clone(), &ear, &book);
    if !refused_args.json {
        writeln!(out, "{}", screen.finish(&greeting(&vehicle, args.vehicle.is_none())))?;
    }
    let asked = ready.is_none();
    let text = match ready {
        Some(text) => text,
        None => {
            if !refused_args.json {
                writeln!(out, "{}", screen.finish("Type or paste the lines of the sheet, then `done`."))?;
            }
            let echo: &mut dyn Write = if refused_args.json { &mut unheard } else { &mut *out };
            match typed_sheet(&mut *lines, echo)? {
                Some(text) => text,
                None => return Ok(Exit::Interrupted),
            }
        }
    };
    let matcher = Matcher::new(&book, &vehicle);
    let entries = sheet(&text, &matcher);
    let fresh =
        || Trace::new(&book, &vehicle, person.clone(), today).map_err(|e| Failure::new(Exit::BadData, e.to_string()));
    let mut trace = fresh()?;
    let planned = work::plan(&entries, &mut trace, &ear);
    let exit = if planned.defects() > 0 { Exit::Done } else { Exit::No };
    if refused_args.json {
        let text = serde_json::to_string_pretty(&planned.view)
            .map_err(|e| Failure::new(Exit::NoOutput, format!("the answer cannot be written as JSON: {e}")))?;
        writeln!(out, "{text}")?;
        return Ok(exit);
    }
    write!(out, "{}", super::refused::text(screen, &planned.view))?;
    if silent || planned.defects() == 0 || !(asked || *terminal) {
        return Ok(exit);
    }
    loop {
        writeln!(out, "{}", screen.finish("Follow a line to its cause: its number. q to stop."))?;
        out.flush()?;
        let line = match lines.next(&Ask::Symptom, out)? {
            Typed::Line(line) => line,
            Typed::End => return Ok(exit),
            Typed::Interrupted => return Ok(Exit::Interrupted),
            Typed::TooLong(_) | Typed::NotText => String::new(),
        };
        let word = line.trim().to_lowercase();
        if matches!(word.as_str(), "q" | "quit" | "done" | "exit" | "stop") {
            return Ok(exit);
        }
        let Some(number) = word.parse::<usize>().ok().filter(|n| (1..=planned.defects()).contains(n)) else {
            let say = format!("Type a number from 1 to {}, or q to stop.", planned.defects());
            writeln!(out, "{}", screen.finish(&say))?;
            continue;
        };
        let evidence = planned.evidence_for(number);
        if evidence.is_empty() {
            let say = format!("Line {number} is a remark, or names nothing that can be followed on this vehicle.");
            writeln!(out, "{}", screen.finish(&wrap(&say, 80, "", "")))?;
            continue;
        }
        let mut talk = Talk::new(fresh()?, &ear);
        evidence.into_iter().for_each(|answer| talk.trace.push(answer));
        let reply = talk.refresh();
        let room = Room { args, book: &book, screen, today, data: &*data };
        return room.converse(talk, reply, &mut *lines, out, &mut **err);
    }
}

/// The lines up to `done` or the end of input; none if interrupted. A line that cannot be kept stands as a mark that it was there.
fn typed_sheet(lines: &mut dyn Lines, out: &mut dyn Write) -> Result<Option<String>, Failure> {
    let mut text = String::new();
    loop {
        let line = match lines.next(&Ask::Symptom, out)? {
            Typed::Line(line) if line.trim().eq_ignore_ascii_case("done") => return Ok(Some(text)),
            Typed::Line(line) => line,
            Typed::TooLong(length) => format!("(a line of {length} bytes, too long to read)"),
            Typed::NotText => "(a line with bytes that are no text)".to_owned(),
            Typed::End => return Ok(Some(text)),
            Typed::Interrupted => return Ok(None),
        };
        if text.len() + line.len() > LONGEST_SHEET {
            return Err(Failure::new(
                Exit::BadData,
                format!("the sheet is longer than {LONGEST_SHEET} bytes; split it"),
            ));
        }
        text.push_str(&line);
        text.push('\n');
    }
}
