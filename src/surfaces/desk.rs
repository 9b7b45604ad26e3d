//! What lies on the desk when a trace begins: records that may be there, and a trace that was left unfinished.

use std::io::Write;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::args::{Args, TraceArgs};
use super::commands::{Streams, folded, vehicle};
use super::exit::{Exit, Failure};
use super::keeping::{self, Keeper, Settings, fingerprint, not_kept};
use super::learned::{self, Learned};
use super::prompt::{Lines, Typed};
use super::screen::Screen;
use crate::embed;
use crate::knowledge::Book;
use crate::knowledge::Files;
use crate::records::sitting::{Kind, Sitting};
use crate::records::{self, Records, Trouble};
use crate::report::visible;
use crate::session::Ask;
use crate::vehicle::Vehicle;

/// The records as a trace finds them.
pub(super) struct Desk {
    /// Where the trace is kept; nowhere for a trace that is not.
    folder: Option<PathBuf>,
    records: Option<Records>,
    /// What is to be told first.
    pub(super) notes: Vec<String>,
    /// Why nothing can be kept, as told.
    told: Option<String>,
    today: Date,
}

impl Desk {
    /// Looks for records. A trace is kept where a folder was named for it, or at a terminal; a script that names none leaves no mark.
    pub(super) fn open(
        args: &Args,
        trace: Option<&TraceArgs>,
        today: Date,
        streams: &Streams<'_>,
    ) -> Result<Desk, Failure> {
        let mut desk = Desk { folder: None, records: None, notes: Vec::new(), told: None, today };
        let resume = trace.is_some_and(|t| t.resume.is_some());
        let (Some((folder, named)), false) = (keeping::folder(args, streams), trace.is_some_and(|t| t.unkept)) else {
            return Ok(desk);
        };
        if !(resume || named || streams.terminal) {
            return Ok(desk);
        }
        match records::open_if_there(&folder) {
            Ok(records) => {
                desk.records = records;
                desk.folder = Some(folder);
            }
            // What was asked for must work; what would only be handy must not stop a trace.
            Err(trouble) if named || resume => return Err(trouble.into()),
            Err(trouble) => desk.notes.push(not_kept(&trouble)),
        }
        if let Some(records) = &desk.records {
            if let Some(locked) = records.locked() {
                desk.told = Some(not_kept(&locked));
                desk.notes.extend(desk.told.clone());
            }
            if let Some(latest) = records.latest_day()?.filter(|latest| *latest > today) {
                desk.notes.push(format!(
                    "Today is {today} by the clock, but the logbook has an entry of {latest}. Check the clock; the order of entries goes by \
                     their numbers and stays right."
                ));
            }
        }
        Ok(desk)
    }

    /// What the records teach of the chances of causes.
    pub(super) fn learned(&self, args: &Args, book: &Book) -> Result<Vec<Learned>, Failure> {
        match &self.records {
            Some(records) => learned::from_records(args, records, book, self.today),
            None => Ok(Vec::new()),
        }
    }

    /// The unfinished trace that was asked for: by number, or the last one.
    pub(super) fn wanted(&self, args: &Args, number: i64, book: &Book) -> Result<Sitting, Failure> {
        let none = || Failure::new(Exit::No, "no trace is unfinished; `splitpin logbook` lists what is kept");
        let records = self.records.as_ref().ok_or_else(none)?;
        let of = match &args.vehicle {
            Some(_) => Some(vehicle(args, None, book)?.id),
            None => None,
        };
        if number == 0 {
            return records.unfinished(Some(Kind::Trace), of.as_deref())?.into_iter().next().ok_or_else(none);
        }
        let found = records.sitting(number)?.filter(|s| s.kind == Kind::Trace);
        let sitting = found.ok_or(Trouble::NoEntry { kind: "trace", number })?;
        if of.is_some_and(|of| of != sitting.vehicle) {
            return Err(Failure::new(
                Exit::BadData,
                format!("number {number} is of the vehicle {}: leave --vehicle out", visible(&sitting.vehicle)),
            ));
        }
        if sitting.ending == Some(records::sitting::Ending::Proved) {
            return Err(Failure::new(
                Exit::No,
                format!("number {number} is closed, put right and proved; `splitpin logbook show {number}` shows it"),
            ));
        }
        Ok(sitting)
    }

    /// The unfinished trace to be offered: of the vehicle named, or of any.
    pub(super) fn offered(&self, args: &Args, book: &Book) -> Result<Option<Sitting>, Failure> {
        let Some(records) = &self.records else { return Ok(None) };
        let of = match &args.vehicle {
            Some(_) => Some(vehicle(args, None, book)?.id),
            None => None,
        };
        Ok(records.unfinished(Some(Kind::Trace), of.as_deref())?.into_iter().next())
    }

    /// The file of a vehicle, as it was when last spoken of.
    fn file_of(&self, name: &str) -> Result<String, Failure> {
        let vehicles = match &self.records {
            Some(records) => records.vehicles()?,
            None => Vec::new(),
        };
        Ok(vehicles.into_iter().find(|v| v.name == name).map_or_else(String::new, |v| v.file))
    }

    /// The keeper of the trace.
    pub(super) fn keeper(
        &mut self,
        args: &Args,
        trace: Option<&TraceArgs>,
        vehicle: &Vehicle,
        today: Date,
    ) -> Result<Keeper, Failure> {
        let kept = keeping::kept_vehicle(vehicle, args.vehicle.as_deref());
        let knowledge = knowledge_mark(args.knowledge.as_deref())?;
        let settings = Settings::of(args, trace);
        let records = self.records.take();
        Ok(Keeper::new(self.folder.clone(), records, kept, knowledge, settings, today).having_told(self.told.clone()))
    }
}

/// The fingerprint of the knowledge in use.
fn knowledge_mark(overlay: Option<&Path>) -> Result<String, Failure> {
    let files = match overlay {
        None => Files::default(),
        Some(folder) => Files::folder(folder).map_err(|e| Failure::new(Exit::NoInput, visible(&e.to_string())))?,
    };
    let texts = files.layers.iter().flatten().filter_map(|f| f.text.as_ref().ok()).map(String::as_bytes);
    Ok(fingerprint(std::iter::once(embed::packed()).chain(texts)))
}

/// The command line, with what a resumed trace was begun with wherever the person says nothing else.
pub(super) fn as_begun(
    args: &Args,
    trace: Option<&TraceArgs>,
    resumed: Option<&Sitting>,
    desk: &Desk,
) -> Result<(Args, Option<TraceArgs>), Failure> {
    let (mut args, mut trace) = (args.clone(), trace.cloned());
    let Some(sitting) = resumed else { return Ok((args, trace)) };
    let settings = Settings::read(&sitting.settings);
    if args.vehicle.is_none() {
        let file = desk.file_of(&sitting.vehicle)?;
        args.vehicle = Some(if file.is_empty() { sitting.vehicle.clone() } else { file });
    }
    if args.traits.is_empty() {
        args.traits = settings.traits;
    }
    let mut given = trace.unwrap_or_default();
    given.person.hourly = given.person.hourly.or(settings.hourly);
    if given.person.have.is_empty() && given.person.lack.is_empty() {
        (given.person.have, given.person.lack) = (settings.have, settings.lack);
    }
    trace = Some(given);
    Ok((args, trace))
}

/// What the person said to an unfinished trace.
pub(super) enum Offer {
    TakeUp,
    BeginAnew,
    Words(String),
    Stop(Exit),
}

/// Offers an unfinished trace.
pub(super) fn offer(
    sitting: &Sitting,
    desk: &mut Desk,
    lines: &mut dyn Lines,
    screen: Screen,
    out: &mut dyn Write,
) -> Result<Offer, Failure> {
    let say = format!(
        "Unfinished since {}, {}: {} ({}).",
        sitting.touched,
        sitting.vehicle,
        sitting.title,
        answers(sitting.answers)
    );
    writeln!(out, "{}", screen.finish(&folded(&visible(&say))))?;
    let hint = "Go on with it? y, or n to put it aside; or type what else is wrong.";
    loop {
        writeln!(out, "{}", screen.finish(hint))?;
        out.flush()?;
        let Typed::Line(line) = (match lines.next(&Ask::Symptom, out)? {
            Typed::End => return Ok(Offer::Stop(Exit::Done)),
            Typed::Interrupted => return Ok(Offer::Stop(Exit::Interrupted)),
            typed => typed,
        }) else {
            continue;
        };
        return Ok(match line.trim().to_lowercase().as_str() {
            "" | "?" | "help" => continue,
            "y" | "yes" => Offer::TakeUp,
            "n" | "no" => {
                let say = match desk.put_aside(sitting.number) {
                    Ok(()) => format!(
                        "Put aside as number {}; `splitpin trace --resume={}` takes it up.",
                        sitting.number, sitting.number
                    ),
                    Err(trouble) => format!("It could not be put aside: {trouble}."),
                };
                writeln!(out, "{}", screen.finish(&folded(&visible(&say))))?;
                Offer::BeginAnew
            }
            "q" | "quit" | "exit" => Offer::Stop(Exit::Done),
            _ => Offer::Words(line),
        });
    }
}

impl Desk {
    fn put_aside(&mut self, number: i64) -> Result<(), Trouble> {
        match &mut self.records {
            Some(records) => records.end(number, records::sitting::Ending::Aside, self.today),
            None => Ok(()),
        }
    }
}

/// The sentence above a trace that is taken up again.
pub(super) fn taken_up(sitting: &Sitting) -> String {
    format!(
        "Taken up again: number {}, begun {}, {} ({}).",
        sitting.number,
        sitting.begun,
        sitting.title,
        answers(sitting.answers)
    )
}

fn answers(count: usize) -> String {
    match count {
        0 => "not settled yet".to_owned(),
        1 => "1 answer".to_owned(),
        n => format!("{n} answers"),
    }
}
