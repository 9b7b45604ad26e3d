//! Runs a command over given streams.

use std::ffi::OsString;
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use clap::Parser;
use jiff::civil::Date;

use super::args::{
    Args, Colour, Command, ExportForm, KnowledgeCommand, PersonArgs, PlanArgs, PlanForm, TraceArgs, VehicleCommand,
};
use super::desk::{Desk, Offer, as_begun, offer, taken_up};
use super::exit::{Exit, Failure};
use super::keeping::{self, Data};
use super::prompt::{Lines, Piped, Terminal, Typed};
use super::refusing::refused;
use super::screen::Screen;
use super::wrap::wrap;
use super::{count, learned, plan_tree, reckoning, simulation};
use crate::advice::Person;
use crate::advice::decision::policy::Way;
use crate::embed;
use crate::graph::net::Var;
use crate::graph::{exchange, fit};
use crate::knowledge::book::{Book, Node};
use crate::knowledge::{Files, census, load};
use crate::report::{Severity, nearest, render_all, visible};
use crate::session::{Ask, Ear, Given, Reply, Talk, Trace, tree};
use crate::units::Pence;
use crate::vehicle::{self, Vehicle};

/// The vehicle taken where none is named.
const DEFAULT_VEHICLE: &str = "three-wheeler";

/// The streams and surroundings of a run.
pub struct Streams<'a> {
    /// Typed lines, where there is no terminal.
    pub input: &'a mut dyn BufRead,
    /// Data.
    pub out: &'a mut dyn Write,
    /// Talk about trouble.
    pub err: &'a mut dyn Write,
    /// Whether input and output are a terminal.
    pub terminal: bool,
    /// Whether output is a terminal that may be coloured.
    pub colour: bool,
    /// Today, unless the command line says otherwise.
    pub today: Date,
    /// Where typed lines are remembered at a terminal.
    pub history: Option<PathBuf>,
    /// Where records may stand.
    pub data: Data,
}

/// Runs the program; the words include the program's name.
pub fn run(words: impl IntoIterator<Item = OsString>, streams: &mut Streams<'_>) -> Exit {
    let args = match Args::try_parse_from(words) {
        Ok(args) => args,
        Err(e) => {
            let wanted = !e.use_stderr();
            let text = usage(&e);
            let sink: &mut dyn Write = if wanted { &mut *streams.out } else { &mut *streams.err };
            return match sink.write_all(text.as_bytes()).and_then(|()| sink.flush()) {
                Ok(()) if wanted => Exit::Done,
                Ok(()) => Exit::Usage,
                Err(e) => tell(Failure::from(e), streams),
            };
        }
    };
    let result = dispatch(&args, streams).and_then(|exit| {
        streams.out.flush()?;
        Ok(exit)
    });
    match result {
        Ok(exit) => exit,
        Err(failure) => tell(failure, streams),
    }
}

/// What the command line's reader has to say; it repeats the words typed, so they are made safe to show.
fn usage(error: &clap::Error) -> String {
    error.render().to_string().lines().flat_map(|line| [visible(line), "\n".to_owned()]).collect()
}

fn tell(failure: Failure, streams: &mut Streams<'_>) -> Exit {
    if !failure.say.is_empty() {
        // Nobody can be told if this fails too.
        let _ = writeln!(streams.err, "splitpin: {}", failure.say);
    }
    failure.exit
}

fn dispatch(args: &Args, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    match &args.command {
        None => trace(args, None, streams),
        Some(Command::Trace(trace_args)) => trace(args, Some(trace_args), streams),
        Some(Command::Plan(plan_args)) => plan(args, plan_args, streams),
        Some(Command::Refused(refused_args)) => refused(args, refused_args, streams),
        Some(command) => aside(args, command, streams),
    }
}

/// Commands that ask nothing; they can also be typed at the prompt.
fn aside(args: &Args, command: &Command, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    match command {
        Command::Trace(_) | Command::Plan(_) | Command::Refused(_) => Ok(Exit::Done),
        Command::Knowledge(KnowledgeCommand::Check { folder, alone }) => {
            check(args, folder.as_deref(), *alone, streams)
        }
        Command::Knowledge(KnowledgeCommand::Count { json }) => {
            let book = book(args, streams)?;
            let census = census::count(&book);
            if *json {
                print_json(&count::as_json(&census), streams)?;
            } else {
                write!(streams.out, "{}", count::as_text(&census))?;
            }
            Ok(Exit::Done)
        }
        Command::Knowledge(KnowledgeCommand::Simulate { cases, seed, symptom, own, json }) => {
            let book = &book(args, streams)?;
            let vehicle = vehicle(args, None, book)?;
            let today = today(args, streams)?;
            let trace = Trace::new(book, &vehicle, Person::default(), today);
            let mut trace = trace.map_err(|e| Failure::new(Exit::BadData, e.to_string()))?;
            let symptoms = signs(&trace, symptom)?;
            let ways = if *own { &Way::ALL[..1] } else { &Way::ALL[..] };
            let played = simulation::run(&mut trace, &symptoms, *cases, *seed, ways);
            if *json {
                writeln!(streams.out, "{:#}", simulation::as_json(&played))?;
            } else {
                write!(streams.out, "{}", simulation::as_text(&played))?;
            }
            Ok(Exit::Done)
        }
        Command::Knowledge(KnowledgeCommand::Export { form }) => export(args, *form, streams),
        Command::Vehicle(command) => vehicles(args, command, streams),
        Command::Lookup { words } => lookup(args, words, streams),
        Command::Logbook(logbook) => super::logbook::run(args, logbook, streams),
        Command::Reckon(command) => {
            let text = reckoning::answer(command)?;
            write!(streams.out, "{}", screen(args, streams).finish(&text))?;
            Ok(Exit::Done)
        }
    }
}

pub(super) fn screen(args: &Args, streams: &Streams<'_>) -> Screen {
    let colour = match args.color {
        Colour::Auto => streams.colour,
        Colour::Always => true,
        Colour::Never => false,
    };
    Screen { plain: args.plain, colour: colour && !args.plain }
}

pub(super) fn print_json(value: &impl serde::Serialize, streams: &mut Streams<'_>) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value)
        .map_err(|e| Failure::new(Exit::NoOutput, format!("the answer cannot be written as JSON: {e}")))?;
    writeln!(streams.out, "{text}")?;
    Ok(())
}

fn no_folder(error: crate::knowledge::files::NoFolder) -> Failure {
    Failure::new(Exit::NoInput, visible(&error.to_string()))
}

/// The built-in book, with the folder of `--knowledge` laid over it.
pub(super) fn book(args: &Args, streams: &mut Streams<'_>) -> Result<Book, Failure> {
    let Some(folder) = &args.knowledge else {
        let book = embed::book();
        tracing::debug!("built-in book unpacked");
        return Ok(book);
    };
    let files = embed::files().and_folder(folder).map_err(no_folder)?;
    let loaded = load(&files);
    if loaded.has_errors() {
        let errors: Vec<_> = loaded.problems.iter().filter(|p| p.severity == Severity::Error).cloned().collect();
        let text = render_all(&errors, &loaded.sources, screen(args, streams).colour);
        return Err(Failure::new(
            Exit::BadData,
            format!("the knowledge has errors and is not used:\n{text}mend them, then try again"),
        ));
    }
    Ok(loaded.book)
}

fn check(args: &Args, folder: Option<&Path>, alone: bool, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let folder = folder.or(args.knowledge.as_deref());
    let (files, what) = match folder {
        None => (embed::files(), "the built-in knowledge".to_owned()),
        Some(folder) if alone || Files::holds_whole_book(folder) => {
            (Files::folder(folder).map_err(no_folder)?, format!("{} alone", folder.display()))
        }
        Some(folder) => (
            embed::files().and_folder(folder).map_err(no_folder)?,
            format!("{} laid over the built-in knowledge", folder.display()),
        ),
    };
    let loaded = load(&files);
    let counts = census::count(&loaded.book).all;
    let text = render_all(&loaded.problems, &loaded.sources, screen(args, streams).colour);
    write!(streams.out, "{}", screen(args, streams).finish(&text))?;
    writeln!(
        streams.out,
        "checked {}: {} faults, {} signs, {} checks, {} links in {} files",
        visible(&what),
        counts.faults,
        counts.signs,
        counts.checks,
        counts.links,
        loaded.sources.len()
    )?;
    Ok(if loaded.problems.is_empty() { Exit::Done } else { Exit::No })
}

fn export(args: &Args, form: ExportForm, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = &book(args, streams)?;
    if form == ExportForm::Links {
        return export_links(book, streams);
    }
    let vehicle = vehicle(args, None, book)?;
    let today = today(args, streams)?;
    let fitted = fit(book, &vehicle, today).map_err(|e| Failure::new(Exit::BadData, e.to_string()))?;
    let text = if form == ExportForm::Uai {
        exchange::uai(&fitted.net)
    } else {
        exchange::bif(&fitted.net, |v| match fitted.place_id(fitted.placed(v).place) {
            Some(place) => format!("{}__{place}", fitted.id(v, book)),
            None => fitted.id(v, book),
        })
    };
    write!(streams.out, "{text}")?;
    Ok(Exit::Done)
}

/// The signs of these ids at all their places on the vehicle.
fn signs(trace: &Trace<'_>, ids: &[String]) -> Result<Vec<Var>, Failure> {
    let mut out = Vec::new();
    for id in ids {
        let index = trace.book.signs.index(id);
        let here = index.map(|i| trace.fitted.vars_of(Node::Sign(i))).unwrap_or_default();
        if here.is_empty() {
            let near = nearest(id, trace.book.signs.ids()).map_or(String::new(), |n| format!("; did you mean `{n}`?"));
            return Err(Failure::new(
                Exit::Usage,
                format!("no sign of this vehicle is called `{}`{near}", visible(id)),
            ));
        }
        out.extend(here);
    }
    Ok(out)
}

fn export_links(book: &Book, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    writeln!(streams.out, "cause\teffect\tplace\tstrength\thides\tsource")?;
    for link in &book.links {
        writeln!(
            streams.out,
            "{}\t{}\t{:?}\t{}\t{}\t{}",
            book.head(link.from).id,
            book.head(link.to).id,
            link.place,
            link.strength.get(),
            link.inhibits,
            link.source.id
        )?;
    }
    Ok(Exit::Done)
}

/// The vehicle of a name or file, with traits set as the command line says.
pub(super) fn vehicle(args: &Args, name: Option<&str>, book: &Book) -> Result<Vehicle, Failure> {
    let name = name.or(args.vehicle.as_deref()).unwrap_or(DEFAULT_VEHICLE);
    let loaded = match vehicle::demo(name, book) {
        Some(loaded) => loaded,
        None => {
            let path = Path::new(name);
            if !path.exists() {
                let near =
                    nearest(name, vehicle::demo_names()).map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
                return Err(Failure::new(
                    Exit::NoInput,
                    format!(
                        "there is no vehicle or vehicle file called `{}`.{near} Demo vehicles: {}",
                        visible(name),
                        vehicle::demo_names().join(", ")
                    ),
                ));
            }
            let text = crate::knowledge::files::read_text(path)
                .map_err(|why| Failure::new(Exit::NoInput, format!("{}: {why}", visible(name))))?;
            let id = path.file_stem().map_or_else(|| "vehicle".to_owned(), |s| visible(&s.to_string_lossy()));
            vehicle::read(&id, name, &text, book)
        }
    };
    if loaded.has_errors() {
        let text = render_all(&loaded.problems, &loaded.sources, false);
        return Err(Failure::new(Exit::BadData, format!("the vehicle file cannot be used:\n{text}")));
    }
    let mut vehicle = loaded.vehicle;
    for setting in &args.traits {
        let Some((name, value)) = setting.split_once('=') else {
            return Err(Failure::new(Exit::Usage, format!("`--trait {}` should be TRAIT=VALUE", visible(setting))));
        };
        vehicle = vehicle.with_trait(name.trim(), value.trim(), book).map_err(|e| Failure::new(Exit::BadData, e))?;
    }
    vehicle.name = visible(&vehicle.name);
    vehicle.about = visible(&vehicle.about);
    Ok(vehicle)
}

pub(super) fn today(args: &Args, streams: &Streams<'_>) -> Result<Date, Failure> {
    match &args.today {
        None => Ok(streams.today),
        Some(text) => text.parse().map_err(|_| {
            Failure::new(Exit::Usage, format!("`--today {}` should be a date, year-month-day", visible(text)))
        }),
    }
}

/// The person the arguments of a trace speak of.
fn person_of(book: &Book, args: Option<&TraceArgs>) -> Result<Person, Failure> {
    args.map_or_else(|| Ok(Person::default()), |a| person(book, &a.person))
}

pub(super) fn person(book: &Book, PersonArgs { hourly, have, lack }: &PersonArgs) -> Result<Person, Failure> {
    let mut person = Person::default();
    if let Some(hourly) = *hourly {
        if !(hourly.is_finite() && (0.0..=10_000.0).contains(&hourly)) {
            return Err(Failure::new(Exit::Usage, "`--hourly` should be pounds an hour, from 0 up"));
        }
        person.per_hour = Pence::from_pounds(hourly);
    }
    for id in have.iter().chain(lack) {
        if book.kit.get(id).is_none() {
            let near = nearest(id, book.kit.ids()).map_or(String::new(), |n| format!("; did you mean `{n}`?"));
            return Err(Failure::new(Exit::Usage, format!("no tool is called `{}`{near}", visible(id))));
        }
    }
    person.owns.extend(have.iter().cloned());
    person.lacks.extend(lack.iter().cloned());
    Ok(person)
}

/// Splits `sign@place=value`.
fn given(text: &str) -> Result<(String, Option<String>, Given), Failure> {
    let bad = || {
        Failure::new(
            Exit::Usage,
            format!("`--given {}` should be SIGN=yes, SIGN@PLACE=no or SIGN=11.8V", visible(text)),
        )
    };
    let (name, value) = text.split_once('=').ok_or_else(bad)?;
    let (sign, place) = match name.split_once('@') {
        Some((sign, place)) => (sign, Some(place.trim().to_owned())),
        None => (name, None),
    };
    let value = value.trim();
    let given = match value.to_lowercase().as_str() {
        "yes" | "y" | "true" | "present" => Given::Present(true),
        "no" | "n" | "false" | "absent" => Given::Present(false),
        "" => return Err(bad()),
        _ => Given::Number(value.to_owned()),
    };
    Ok((sign.trim().to_owned(), place, given))
}

/// `plan`: the conditional plan of a case given whole.
fn plan(args: &Args, case: &PlanArgs, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let vehicle = vehicle(args, None, &book)?;
    let today = today(args, streams)?;
    let person = person(&book, &case.person)?;
    let ear = Ear::new(&book);
    let trace = Trace::new(&book, &vehicle, person, today).map_err(|e| Failure::new(Exit::BadData, e.to_string()))?;
    let mut talk = Talk::new(trace, &ear);
    let words = case.words.join(" ");
    if words.len() > crate::session::LONGEST_LINE {
        let most = crate::session::LONGEST_LINE;
        return Err(Failure::new(Exit::BadData, format!("the symptom is too long; the most is {most} letters")));
    }
    let notes = if words.trim().is_empty() { Vec::new() } else { talk.take_for_granted(&words) };
    for text in &case.given {
        let (sign, place, value) = given(text)?;
        talk.trace.give(&sign, place.as_deref(), &value).map_err(|e| Failure::new(Exit::BadData, e))?;
    }
    let screen = screen(args, streams);
    for note in notes {
        writeln!(streams.err, "{}", screen.finish(&wrap(&visible(&note), 80, "", "")))?;
    }
    if !talk.trace.has_symptom() {
        return Err(Failure::new(Exit::No, "there is nothing to plan for: say what is wrong"));
    }
    let tree = tree::plan(&mut talk.trace, usize::from(case.depth));
    match case.form {
        PlanForm::Text => write!(streams.out, "{}", screen.finish(&plan_tree::as_text(&tree)))?,
        PlanForm::Json => print_json(&plan_tree::as_json(&tree), streams)?,
        PlanForm::Dot => write!(streams.out, "{}", plan_tree::as_dot(&tree))?,
        PlanForm::Svg => write!(streams.out, "{}", plan_tree::as_svg(&tree))?,
    }
    Ok(Exit::Done)
}

/// Where typed lines come from: the editor at a terminal, or else the stream.
pub(super) fn open_lines<'s>(
    input: &'s mut dyn BufRead,
    terminal: bool,
    history: Option<PathBuf>,
    ear: &Ear,
    book: &Book,
) -> Box<dyn Lines + 's> {
    if terminal {
        let mut complete: Vec<String> = ear.wordings(book).into_iter().map(str::to_owned).collect();
        complete.extend(
            ["also ", "answers", "causes", "help", "lookup ", "plan", "summary", "undo", "vehicle list", "why"]
                .map(str::to_owned),
        );
        match Terminal::open(complete, history) {
            Ok(terminal) => return Box::new(terminal),
            Err(e) => tracing::warn!(%e, "no line editor; plain lines are read"),
        }
    }
    Box::new(Piped(input))
}

/// `trace`, and the bare prompt.
fn trace(args: &Args, trace_args: Option<&TraceArgs>, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let today = today(args, streams)?;
    let screen = screen(args, streams);
    let ear = Ear::new(&book);
    let words = trace_args.map(|t| t.words.join(" ")).filter(|w| !w.trim().is_empty());
    let given_any = trace_args.is_some_and(|t| !t.given.is_empty());
    let silent = trace_args.is_some_and(|t| t.json || t.no_input);
    let mut desk = Desk::open(args, trace_args, today, streams)?;
    let mut resumed = match trace_args.and_then(|t| t.resume) {
        Some(number) => Some(desk.wanted(args, number, &book)?),
        None => None,
    };
    if silent {
        let (args, trace_args) = as_begun(args, trace_args, resumed.as_ref(), &desk)?;
        let mut vehicle = vehicle(&args, None, &book)?;
        let learned = learned::apply(&mut vehicle, &desk.learned(&args, &book)?);
        let text = trace_args.as_ref().is_some_and(|t| !t.json);
        if let Some(note) = learned.filter(|_| text) {
            writeln!(streams.out, "{}", screen.finish(&folded(&visible(&note))))?;
        }
        let person = person_of(&book, trace_args.as_ref())?;
        let trace = begin(&book, &vehicle, &person, today)?;
        let mut talk = Talk::new(trace, &ear);
        if let Some(sitting) = &resumed {
            let mut keeper = desk.keeper(&args, trace_args.as_ref(), &vehicle, today)?;
            let (_, notes) = keeper.take_up(sitting, &mut talk.trace)?;
            for note in notes {
                writeln!(streams.err, "{}", screen.finish(&folded(&visible(&note))))?;
            }
        }
        return settled(&mut talk, trace_args.as_ref(), words.as_deref(), screen, streams);
    }
    let mut lines = open_lines(&mut *streams.input, streams.terminal, streams.history.clone(), &ear, &book);
    let out = &mut *streams.out;
    for note in &desk.notes {
        writeln!(out, "{}", screen.finish(&folded(&visible(note))))?;
    }
    let mut queued = None;
    if resumed.is_none()
        && words.is_none()
        && !given_any
        && let Some(sitting) = desk.offered(args, &book)?
    {
        match offer(&sitting, &mut desk, lines.as_mut(), screen, out)? {
            Offer::TakeUp => resumed = Some(sitting),
            Offer::BeginAnew => {}
            Offer::Words(line) => queued = Some(line),
            Offer::Stop(exit) => return Ok(exit),
        }
    }
    let (mut args, trace_args) = as_begun(args, trace_args, resumed.as_ref(), &desk)?;
    let learned = desk.learned(&args, &book)?;
    let mut vehicle = vehicle(&args, None, &book)?;
    let taught = learned::apply(&mut vehicle, &learned);
    let person = person_of(&book, trace_args.as_ref())?;
    let mut talk = Talk::new(begin(&book, &vehicle, &person, today)?, &ear);
    let mut keeper = desk.keeper(&args, trace_args.as_ref(), &vehicle, today)?;
    writeln!(out, "{}", screen.finish(&greeting(&vehicle, args.vehicle.is_none())))?;
    if let Some(note) = taught {
        writeln!(out, "{}", screen.finish(&folded(&visible(&note))))?;
    }
    let mut reply = match &resumed {
        None => talk.begin(words.as_deref()),
        Some(sitting) => {
            let (unsettled, notes) = keeper.take_up(sitting, &mut talk.trace)?;
            for note in std::iter::once(taken_up(sitting)).chain(notes) {
                writeln!(out, "{}", screen.finish(&folded(&visible(&note))))?;
            }
            match words.clone().or((!unsettled.is_empty()).then_some(unsettled)) {
                Some(words) => talk.begin(Some(&words)),
                None => talk.refresh(),
            }
        }
    };
    if let Some(trace_args) = trace_args.as_ref().filter(|t| !t.given.is_empty()) {
        for text in &trace_args.given {
            let (sign, place, value) = given(text)?;
            talk.trace.give(&sign, place.as_deref(), &value).map_err(|e| Failure::new(Exit::BadData, e))?;
        }
        reply = talk.refresh();
    }
    reply.notes.extend(keeper.after(words.as_deref().unwrap_or(""), &talk));
    let mut exit = Exit::Done;
    loop {
        if matches!(reply.ask, Ask::Nothing) {
            write!(out, "{}", farewell(screen, &talk, reply))?;
            if let Some(say) = keeper.farewell(&talk) {
                writeln!(out, "{}", screen.finish(&folded(&visible(&say))))?;
            }
            break;
        }
        if queued.is_none() {
            write!(out, "{}", screen.reply(&reply))?;
            if matches!(reply.ask, Ask::Symptom) {
                writeln!(out, "{}", screen.finish("What is wrong? (? for help, q to stop)"))?;
            }
            out.flush()?;
        }
        let typed = match queued.take() {
            Some(line) => Typed::Line(line),
            None => lines.next(&reply.ask, out)?,
        };
        reply = match typed {
            Typed::Line(line) => {
                match at_prompt(&args, &line, &book, out, streams.err, screen, today, &streams.data)? {
                    Some(Aside::Done) => talk.refresh(),
                    Some(Aside::Vehicle(mut vehicle, name)) => {
                        learned::apply(&mut vehicle, &learned);
                        // The case on the vehicle so far is summed up before it is left.
                        let reply = talk.leave();
                        write!(out, "{}", farewell(screen, &talk, reply))?;
                        writeln!(out, "{}", screen.finish(&greeting(&vehicle, false)))?;
                        talk = Talk::new(begin(&book, &vehicle, &person, today)?, &ear);
                        keeper.change_vehicle(keeping::kept_vehicle(&vehicle, Some(&name)));
                        args.vehicle = Some(name);
                        talk.begin(None)
                    }
                    None => {
                        let mut reply = talk.say(&line);
                        reply.notes.extend(keeper.after(&line, &talk));
                        reply
                    }
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
    out.flush()?;
    Ok(exit)
}

fn begin<'b>(book: &'b Book, vehicle: &Vehicle, person: &Person, today: Date) -> Result<Trace<'b>, Failure> {
    Trace::new(book, vehicle, person.clone(), today).map_err(|e| Failure::new(Exit::BadData, e.to_string()))
}

/// The closing reply as text. A closed case was summed up when it was closed, and is not summed up again.
pub(super) fn farewell(screen: Screen, talk: &Talk<'_>, mut reply: Reply) -> String {
    if talk.trace.is_closed() {
        reply.summary = None;
    }
    screen.reply(&reply)
}

/// What a line typed at the prompt did, if it was a command of its own.
pub(super) enum Aside {
    Done,
    Vehicle(Box<Vehicle>, String),
}

#[allow(clippy::too_many_arguments)]
/// Commands that can be typed at the prompt: `lookup`, `reckon`, `knowledge count`, `vehicle list` …, and `vehicle use NAME`.
pub(super) fn at_prompt(
    args: &Args,
    line: &str,
    book: &Book,
    out: &mut dyn Write,
    err: &mut dyn Write,
    screen: Screen,
    today: Date,
    data: &Data,
) -> Result<Option<Aside>, Failure> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let known = match words.as_slice() {
        ["lookup", _, ..] | ["logbook", ..] => true,
        ["reckon", "fuse" | "drop" | "battery", ..] | ["knowledge", "count" | "check" | "export", ..] => true,
        ["vehicle", "list" | "show" | "traits", ..] => true,
        ["vehicle", "use", name] => {
            return match vehicle(args, Some(name), book) {
                Ok(vehicle) => Ok(Some(Aside::Vehicle(Box::new(vehicle), (*name).to_owned()))),
                Err(failure) => {
                    writeln!(out, "{}", screen.finish(&folded(&failure.say)))?;
                    Ok(Some(Aside::Done))
                }
            };
        }
        _ => false,
    };
    if !known {
        return Ok(None);
    }
    match Args::try_parse_from(std::iter::once("splitpin").chain(words)) {
        Ok(parsed) => {
            let inner = Args { command: parsed.command.clone(), ..args.clone() };
            let mut nothing = std::io::empty();
            let mut streams = Streams {
                input: &mut nothing,
                out,
                err,
                terminal: false,
                colour: screen.colour,
                today,
                history: None,
                data: data.clone(),
            };
            if let Some(command) = &inner.command
                && let Err(failure) = aside(&inner, command, &mut streams)
            {
                writeln!(streams.out, "{}", screen.finish(&folded(&failure.say)))?;
            }
        }
        Err(e) => write!(out, "{}", screen.finish(&usage(&e)))?,
    }
    Ok(Some(Aside::Done))
}

/// A sentence to the width; a drawing of several lines as it is.
pub(super) fn folded(text: &str) -> String {
    if text.contains('\n') { text.to_owned() } else { wrap(text, 80, "", "") }
}

pub(super) fn greeting(vehicle: &Vehicle, by_default: bool) -> String {
    let which = if by_default { " Another: --vehicle NAME, or `vehicle use NAME` here." } else { "" };
    wrap(&format!("Vehicle: {}. {}{which}", vehicle.name, vehicle.about), 80, "", "  ")
}

/// Without asking: words and findings are taken, the state is printed.
fn settled(
    talk: &mut Talk<'_>,
    trace_args: Option<&TraceArgs>,
    words: Option<&str>,
    screen: Screen,
    streams: &mut Streams<'_>,
) -> Result<Exit, Failure> {
    if words.is_some_and(|w| w.len() > crate::session::LONGEST_LINE) {
        return Err(Failure::new(
            Exit::BadData,
            format!("the symptom is too long; the most is {} letters", crate::session::LONGEST_LINE),
        ));
    }
    let mut notes = words.map_or(Vec::new(), |w| talk.take_for_granted(w));
    for text in trace_args.map_or(&[][..], |t| &t.given) {
        let (sign, place, value) = given(text)?;
        talk.trace.give(&sign, place.as_deref(), &value).map_err(|e| Failure::new(Exit::BadData, e))?;
    }
    let reply = talk.refresh();
    let view = talk.view();
    let found = !view.causes.is_empty() && view.clash.is_empty();
    if trace_args.is_some_and(|t| t.json) {
        print_json(&view, streams)?;
    } else {
        for note in notes.drain(..) {
            writeln!(streams.out, "{}", screen.finish(&wrap(&visible(&note), 80, "", "")))?;
        }
        write!(streams.out, "{}", screen.reply(&reply))?;
    }
    Ok(if found { Exit::Done } else { Exit::No })
}

fn vehicles(args: &Args, command: &VehicleCommand, streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let screen = screen(args, streams);
    let mut text = String::new();
    match command {
        VehicleCommand::List => {
            for name in vehicle::demo_names() {
                if let Some(loaded) = vehicle::demo(name, &book) {
                    let v = loaded.vehicle;
                    text.push_str(&wrap(
                        &format!("{}. {}", v.name, v.about),
                        80,
                        &format!("{name:<14} "),
                        &" ".repeat(15),
                    ));
                    text.push('\n');
                }
            }
        }
        VehicleCommand::Show { name } => {
            let v = vehicle(args, name.as_deref(), &book)?;
            text.push_str(&wrap(&format!("{}. {}", v.name, v.about), 80, "", ""));
            text.push('\n');
            for (name, value) in &v.traits {
                text.push_str(&format!("  {name:<18} {}\n", visible(value)));
            }
            text.push_str("places\n");
            for place in &v.places {
                text.push_str(&format!("  {:<18} {}\n", place.kind, place.position));
            }
        }
        VehicleCommand::Traits => {
            for t in book.traits.iter() {
                let values = match t.kind {
                    crate::knowledge::book::TraitKind::Words => t.values.join(", "),
                    crate::knowledge::book::TraitKind::Number => "a number".to_owned(),
                    crate::knowledge::book::TraitKind::Date => "a date, year-month-day".to_owned(),
                };
                let line = format!("{}: {values}; otherwise {}. {}", t.head.name, t.default, t.head.about);
                text.push_str(&wrap(&line, 80, &format!("{:<18} ", t.head.id), &" ".repeat(19)));
                text.push('\n');
            }
        }
    }
    write!(streams.out, "{}", screen.finish(&text))?;
    Ok(Exit::Done)
}

/// Reads an entry of the knowledge by id or name.
fn lookup(args: &Args, words: &[String], streams: &mut Streams<'_>) -> Result<Exit, Failure> {
    let book = book(args, streams)?;
    let screen = screen(args, streams);
    let text = super::lookup::entry(&book, &words.join(" "));
    match text {
        Ok(text) => {
            write!(streams.out, "{}", screen.finish(&text))?;
            Ok(Exit::Done)
        }
        Err(say) => {
            writeln!(streams.out, "{}", screen.finish(&folded(&say)))?;
            Ok(Exit::No)
        }
    }
}
